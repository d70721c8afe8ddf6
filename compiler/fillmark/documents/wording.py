"""From the phrases of `shared/phrases.yaml` and the texts of figures to the lines that are printed.

Numbers arrive as text, from the author or from a figure; here they are only set for paper: the digits of long
numbers in groups, number and unit kept on one line.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from fillmark.documents import Caution, Span, Text
from fillmark.quantities import Quantity, Toleranced, grouped

_NAME = re.compile(r"\{(\w+)\}")
_LONG = re.compile(r"(?<![\w.\-])\d{5,}(?:\.\d+)?(?![\w.])")
_BEFORE_UNIT = re.compile(r"(?<=[\d±<>≤≥÷=]) (?=\S)|(?<=\d) (?=±)")


class PhraseError(ValueError):
    """A phrase that is not there or asks for a value that nothing gives; it names the phrase."""


def on_paper(number: str) -> str:
    """Set the text of a quantity or a figure for paper."""
    return _BEFORE_UNIT.sub("\u00a0", _LONG.sub(lambda match: grouped(match[0]), number))


def written(quantity: Quantity | Toleranced | None) -> str:
    """Give a quantity as the author wrote it, set for paper; nothing where there is none."""
    return "" if quantity is None else on_paper(quantity.text)


def between(lower: str, upper: str) -> str:
    """Write a range of two texts with their unit once: 22.5–23.5 °C."""
    lower, upper = lower.replace("\u00a0", " "), upper.replace("\u00a0", " ")
    number, _, unit = lower.partition(" ")
    if unit == upper.partition(" ")[2] and not number.startswith(("-", "\u2212")):
        return on_paper(f"{number}–{upper}")
    return on_paper(f"{lower} to {upper}")


def narrow(text: str) -> str:
    """Let a text of a narrow column break before its unit, never after its sign or within a range."""
    return re.sub(r"(?<=[±×<>≤≥]) ", "\u00a0", text.replace("\u00a0", " ")).replace("–", "\u2060–\u2060")


def strong(text: str) -> Text:
    """Make one bold piece of a text; none of an empty one."""
    return (Span(text, strong=True),) if text else ()


def light(text: str) -> Text:
    """Make one plain piece of a text; none of an empty one."""
    return (Span(text),) if text else ()


@dataclass(frozen=True, slots=True)
class Phrases:
    """The phrases of a laboratory."""

    entries: Mapping[str, Any]

    def __contains__(self, key: str) -> bool:
        """Whether there is a phrase of this key."""
        return key in self.entries

    def _text(self, key: str) -> str:
        entry = self.entries.get(key)
        text = entry.get("text") if isinstance(entry, Mapping) else entry
        if not isinstance(text, str):
            raise PhraseError(
                f"shared/phrases.yaml has no text under {key!r}. Write one there, or take the file's "
                "`replace: true` out so that the shipped text counts again."
            )
        return text

    def _fill(self, key: str, piece: str, values: Mapping[str, str]) -> str:
        def value(match: re.Match[str]) -> str:
            if match[1] not in values:
                known = ", ".join(sorted(values)) or "none"
                raise PhraseError(
                    f"The phrase {key!r} of shared/phrases.yaml asks for {{{match[1]}}}, which is not given "
                    f"there (given: {known}). Take it out, or name one that is given."
                )
            return values[match[1]]

        return _NAME.sub(value, piece)

    def line(self, key: str, **values: str) -> Text:
        """Give a phrase with its values, bold where it says so; values are text and never markup."""
        pieces = self._text(key).split("**")
        return tuple(
            Span(self._fill(key, piece, values), strong=bool(index % 2))
            for index, piece in enumerate(pieces)
            if piece
        )

    def word(self, key: str, **values: str) -> str:
        """Give a phrase as one string."""
        return self._fill(key, self._text(key).replace("**", ""), values)

    def words(self, key: str) -> tuple[str, ...]:
        """Give a list of phrases."""
        entry = self.entries.get(key)
        if not isinstance(entry, list):
            raise PhraseError(f"shared/phrases.yaml has no list under {key!r}.")
        return tuple(str(word) for word in entry)

    def caution(self, key: str, **values: str) -> Caution:
        """Give a caution with its signal word."""
        entry = self.entries.get(key)
        signal = entry.get("signal") if isinstance(entry, Mapping) else None
        if signal not in ("CAUTION", "WARNING", "NOTICE"):
            raise PhraseError(
                f"The caution {key!r} of shared/phrases.yaml has no signal word. "
                "Write `signal: CAUTION`, `WARNING` or `NOTICE` beside its text."
            )
        return Caution(signal, self.line(key, **values))
