"""What a slip at the bench does, in words, for those who learn a method and those who examine them.

The numbers come as text from the misuse budget; nothing is computed here.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from fillmark.documents import Text
from fillmark.documents.wording import Phrases, on_paper

COMPUTED, FROM_MEMORY, RULED_OUT = "computed", "from memory", "ruled out"


@dataclass(frozen=True, slots=True)
class Slip:
    """A slip of the misuse budget as texts."""

    key: str
    """Family and kind: zero.high"""
    what: str
    direction: str
    """Of the result: high, low, either, none."""
    known: str
    """How far the size can be trusted: computed, estimate, from memory, ..."""
    shifts: tuple[str, ...]
    """At the lower limit, between the limits and at the upper one; empty where no number is known."""
    batches: str
    """Which good batches fail and which bad ones pass; nothing where none does."""
    rests_on: str
    """What the size rests on, or why there is none."""
    shown_by: str
    """What on the sheet shows it at once, where anything does."""
    range: tuple[float, float] | None = None
    """Least and most shift between the limits (%); None where no number is known."""
    span: str = ""
    """The same in words: `+1.7 to +2.5 %`."""
    grows: bool = False
    """Whether more of it shifts the result by more, in proportion."""


Slips = Mapping[str, Slip]
"""The slips of a method by key."""


def first(slips: Slips, *families: str) -> Slip | None:
    """Find the first slip of these keys, or of a family such as `spindle-hung.`, in the order asked for.

    One that gives a number goes before those that are ruled out.
    """
    found = [s for f in families for k, s in slips.items() if k == f or (f.endswith(".") and k.startswith(f))]
    return next((s for s in found if s.known != RULED_OUT), found[0] if found else None)


def size(slip: Slip, phrases: Phrases) -> str:
    """Write by how much a slip shifts a result, once where it is the same everywhere; nothing where not known."""
    known = [shift for shift in slip.shifts if shift]
    if not known:
        return ""
    if len(set(known)) == 1:
        return on_paper(known[0])
    lower, _, upper = slip.shifts
    if not lower or not upper:
        return on_paper(" / ".join(known))
    return phrases.word("slip-both", lower=on_paper(lower), upper=on_paper(upper))


def direction(slip: Slip, phrases: Phrases) -> str:
    """Write which way the result moves."""
    words = {
        "high": "slip-high",
        "low": "slip-low",
        "either": "slip-either",
    }
    return phrases.word(words.get(slip.direction, "slip-none"))


def told(slip: Slip, phrases: Phrases, *, whole: bool = False) -> Text:
    """Tell what a slip does: what, which way, by how much and how that is known.

    `whole` adds what the size rests on, which batches change sides and what on the sheet shows it.
    """
    what = on_paper(slip.what)
    if slip.known == RULED_OUT:
        return phrases.line("slip-ruled-out", what=what, why=on_paper(slip.rests_on))
    way, by = direction(slip, phrases), size(slip, phrases)
    if not by:
        line = phrases.line("slip-unsized", what=what, direction=way, why=on_paper(slip.rests_on))
    else:
        known = "" if slip.known == COMPUTED else phrases.word("slip-known", known=slip.known)
        line = phrases.line("slip-sized", what=what, direction=way, size=by, known=known)
        if whole:
            line += phrases.line("slip-more", more=on_paper(slip.rests_on))
    if not whole:
        return line
    if slip.batches:
        line += phrases.line("slip-more", more=on_paper(slip.batches))
    if slip.shown_by:
        line += phrases.line("slip-shown", by=slip.shown_by)
    return line
