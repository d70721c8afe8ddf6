"""What several topics share about words: reading free text, and writing numbers into a message.

Free text is read with word lists, not understood. What is read here is made to miss rather than to accuse: a
clause that denies is left alone.
"""

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from fillmark.placeholders import PATTERN
from fillmark.quantities import show

# A full stop after these is no end of a sentence.
_SHORT = r"(?<!\bno)(?<!\bNo)(?<!\bca)(?<!approx)(?<!e\.g)(?<!i\.e)(?<!\bmax)"
_END = re.compile(rf"(?:{_SHORT}\.|[!?;:])(?=\s|$)|\n\s*\n|\n\s*(?:[-*]|\d+\.)\s")
_DENIAL = re.compile(
    r"\b(?:not|never|no|nor|neither|cannot|don't|mustn't|without|avoid|instead of|rather than|omit)\b",
    re.IGNORECASE,
)
_TURN = re.compile(r",|\b(?:but|then|and then)\b")


class Clause(NamedTuple):
    """A stretch of text between full stops, semicolons and colons; placeholders in it are blanked."""

    text: str

    def before(self, position: int) -> str:
        """Give what stands before a position, back to the last comma or turn."""
        head = self.text[:position]
        turns = [m.end() for m in _TURN.finditer(head)]
        return head[turns[-1] :] if turns else head

    def denied(self, position: int) -> bool:
        """Whether what stands at a position is denied by what stands before it."""
        return _DENIAL.search(self.before(position)) is not None


@lru_cache(maxsize=4096)
def clauses(text: str) -> tuple[Clause, ...]:
    """Split a text into clauses.

    >>> [c.text for c in clauses("Stir 2.5 min; rest. Do not shake.")]
    ['Stir 2.5 min', ' rest', ' Do not shake']
    """
    blanked = PATTERN.sub("…", text)
    return tuple(Clause(part) for part in _END.split(blanked) if part and part.strip())


def listed(words: str) -> tuple[str, ...]:
    """Split a word list of the site policy.

    >>> listed("about, a few")
    ('about', 'a few')
    """
    return tuple(w for w in (part.strip() for part in words.split(",")) if w)


@lru_cache(maxsize=64)
def any_of(words: str) -> re.Pattern[str]:
    """Make the pattern that finds any word of a list of the site policy as a whole word, longest first."""
    longest_first = sorted(listed(words), key=len, reverse=True)
    spelled = "|".join(re.escape(w).replace(r"\ ", r"\s+") for w in longest_first)
    return re.compile(rf"(?<![\w-])(?:{spelled or '(?!)'})(?![\w-])", re.IGNORECASE)


def may_hold(text: str, words: str) -> bool:
    """Whether any word of a list may stand in a text; quick, and sometimes yes where it does not."""
    folded = _on_one_line(text)
    return any(w in folded for w in _folded(words))


@lru_cache(maxsize=256)
def _on_one_line(text: str) -> str:
    return " ".join(text.casefold().split())


@lru_cache(maxsize=64)
def _folded(words: str) -> tuple[str, ...]:
    return tuple(w.casefold() for w in listed(words))


def found_in(text: str, words: str) -> Iterator[str]:
    """Go through the words of a list that stand in a text, each once, as written there."""
    if not may_hold(text, words):
        return
    seen = set()
    for match in any_of(words).finditer(PATTERN.sub("…", text)):
        word = " ".join(match[0].split())
        if word.casefold() not in seen:
            seen.add(word.casefold())
            yield word


def millimetres(metres: float) -> str:
    """Write a length in millimetres with one decimal."""
    return show(metres, "length", "mm", decimals=1)
