"""Stage 6: what is printed, as data.

A plan is made from the method, its figures and the phrases alone: no physics, no rules, no HTML. Every number
in it is already text. The templates decide where each part stands on the page and nothing else.
"""

from dataclasses import dataclass
from typing import ClassVar, Literal


@dataclass(frozen=True, slots=True)
class Span:
    """A piece of text; what is strong is a number or a word the eye must find."""

    text: str
    strong: bool = False


Text = tuple[Span, ...]
"""A line of text in pieces. Nothing in it is markup."""


@dataclass(frozen=True, slots=True)
class Caution:
    """What can go wrong in the step below it."""

    signal: str
    """CAUTION, WARNING or NOTICE"""
    text: Text


@dataclass(frozen=True, slots=True)
class Field:
    """A place to write in."""

    kind: str = "write"
    """write, tick, time (hours and minutes), clock (with seconds), yes-no, pass-fail, in-out"""
    unit: str = ""
    label: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One action. It is ticked where it has no field; a value is the better tick."""

    number: int
    text: Text
    limit: Text = ()
    remark: Text = ()
    """Smaller, under the limit."""
    fields: tuple[Field, ...] = ()
    cautions: tuple[Caution, ...] = ()
    """They stand above the step and never part from it."""
    author: str = ""
    """The author's own words, in Markdown."""
    key: str = ""
    """Which action it is, whatever its words: the key of its phrase, or `preparation` or `bubbles`."""
    why: Text = ()
    """What goes wrong without it; it stands below the step and never parts from it."""


@dataclass(frozen=True, slots=True)
class Steps:
    """Steps with the headings of their value columns."""

    kind: ClassVar[str] = "steps"
    columns: tuple[str, ...]
    steps: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """A labelled place to write in, with the limit beside it."""

    label: Text
    limit: Text = ()
    field: Field = Field()


@dataclass(frozen=True, slots=True)
class Entries:
    """Labelled places to write in, so many in a row."""

    kind: ClassVar[str] = "entries"
    across: int
    entries: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Hold:
    """A point at which work stops until someone has signed."""

    kind: ClassVar[str] = "hold"
    number: int
    title: str
    lines: tuple[Text, ...]
    across: int
    entries: tuple[Entry, ...]
    failing: Text = ()
    """What to do when it does not pass."""


@dataclass(frozen=True, slots=True)
class Box:
    """A framed note: a title, lines of text and points."""

    kind: ClassVar[str] = "box"
    title: str
    lines: tuple[Text, ...] = ()
    points: tuple[Text, ...] = ()
    room: bool = False
    """Whether it is a place to write remarks in."""


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines of text one under the other in a cell."""

    kind: ClassVar[str] = "lines"
    lines: tuple[Text, ...]


Point = tuple[float, float]
"""A place in a picture: millimetres from its upper left corner, y downwards."""

SMALL = 2.6
"""Height of the letters in a picture (mm): about 7.5 point."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One or more runs of straight lines in one style."""

    kind: str
    """What it shows; the template knows its width, dash and tone."""
    runs: tuple[tuple[Point, ...], ...]
    closed: bool = False

    @property
    def d(self) -> str:
        """Give the runs as SVG writes a path."""
        end = "Z" if self.closed else ""
        return "".join(
            "M" + "L".join(f"{round(x, 2) + 0:g} {round(y, 2) + 0:g}" for x, y in run) + end
            for run in self.runs
        )


@dataclass(frozen=True, slots=True)
class Label:
    """A line of text in a picture; x is the side or middle that `anchor` names, y the foot of the letters."""

    text: str
    x: float
    y: float
    anchor: Literal["start", "middle", "end"] = "middle"
    kind: str = "plain"
    """plain or strong"""
    size: float = SMALL


@dataclass(frozen=True, slots=True)
class Strip:
    """A picture that fills a cell of a table; the cells beside it say the same in words or numbers."""

    width: float
    height: float
    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...] = ()


Cell = Text | Field | Lines | Strip
"""What stands in a cell of a table."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table: headings, and rows of texts and places to write in."""

    kind: ClassVar[str] = "table"
    name: str
    """What it is, for the style sheet: helps, equipment, readings, results, signatures"""
    headings: tuple[str, ...]
    """Repeated on every page the table runs to; none at all for a table that explains itself."""
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[Text, ...] = ()
    """Lines under it."""
    points: tuple[Text, ...] = ()
    """Short remarks under those, one after the other."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as data, in millimetres, with its words and the table that says the same in numbers."""

    kind: ClassVar[str] = "picture"
    name: str
    """What it is, for ids and the style sheet: torque, set-up, conditioning, temperature"""
    title: str
    description: str
    width: float
    height: float
    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...]
    table: Table | None = None


Block = Steps | Entries | Hold | Box | Table | Picture


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a page under one letter."""

    letter: str
    title: str
    blocks: tuple[Block, ...]
    note: Text = ()
    beside: bool = False
    """Whether the last block, a picture, stands to the right of the steps before it."""


@dataclass(frozen=True, slots=True)
class Side:
    """One page."""

    number: int
    sections: tuple[Section, ...]


@dataclass(frozen=True, slots=True)
class Head:
    """What stands at the top of every page."""

    id: str
    title: str
    product: str
    paper: str
    """What paper this is: Bench checklist, Data sheet"""
    revision: str
    effective: str
    digest: str
    """The short digest, in two groups."""
    printed: str
    """The day it was printed, or nothing where it is to be written in."""
    valid: str
    mark: str
    """What the square code holds: id, revision and the whole digest."""
    draft: str = ""
    """The word across a page of a method that is not released."""
    demonstration: str = ""
    across: tuple[str, ...] = ()
    """More words across every page, one under the other."""
    instead: tuple[str, ...] = ()
    """What stands in place of digest and effective date where the paper is made from no method."""
    copy: str = ""
    """Which controlled copy this is, such as 3 of 5; nothing where it is to be written in."""
    holder: str = ""
    """Whom the copy is for."""
    until: str = ""
    """Last day the copy may be used, in place of `valid`."""

    @property
    def more_lines(self) -> int:
        """Lines it takes beyond three, at most: of 50 letters of the title, and of 61 of the product."""
        product = len(self.product) + (33 if self.demonstration else 0)
        return bool(self.across) + (max(len(self.title), 1) - 1) // 50 + (max(product, 1) - 1) // 61


@dataclass(frozen=True, slots=True)
class Document:
    """A whole paper."""

    kind: str
    """checklist, training, data-sheet, competency, dossier; or a form: scouting, verification-log-form, transfer,
    investigation, wall-card"""
    language: str
    head: Head
    sides: tuple[Side, ...]
    foot: tuple[Text, ...]


def plain(text: Text) -> str:
    """Give a text as one string."""
    return "".join(span.text for span in text)
