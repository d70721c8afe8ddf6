"""The eight stages on one screen: bytes in, diagnostics and documents out.

1 read   2 validate   3 resolve   4 derive   5 check   6 plan   7 render   8 print
Only this file and the command line know them all; each stage is pure and gets frozen values.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from fillmark.check import Checked, check, diagnose
from fillmark.derive import derive
from fillmark.diagnostics import Diagnostic, Severity, in_reading_order
from fillmark.figures import Figures
from fillmark.model import Method, Reference
from fillmark.read import Reading, Source, read
from fillmark.resolve import resolve
from fillmark.validate import validate

CODES: dict[str, tuple[str, str]] = {
    "LIB01": ("id-used-twice", "Two files with one id: their papers could not be told apart."),
}


@dataclass(frozen=True, slots=True)
class Compiled:
    """What became of one file: what is known of it, up to the stage that stopped it."""

    file: str
    diagnostics: tuple[Diagnostic, ...]
    reading: Reading | None = None
    method: Method | None = None
    figures: Figures | None = None
    checked: Checked | None = None

    @property
    def source(self) -> Source | None:
        """The source, where the file could be read."""
        return None if self.reading is None else self.reading.source

    @property
    def clean(self) -> bool:
        """Whether the method may be compiled into documents."""
        return self.method is not None and not any(d.blocks for d in self.diagnostics)


def names(reference: Reference) -> Mapping[str, Mapping[str, object]]:
    """Give the known names of each kind of reference data, for stage 2."""
    return reference.raw


def compile_method(data: bytes, name: str, reference: Reference, *, today: date | None = None) -> Compiled:
    """Take one file through stages 1 to 5.

    `today` judges what depends on the day (waivers that expire); None leaves it unjudged, so that the same
    bytes give the same answer.
    """
    reading = read(data, name)
    if reading.source is None or reading.diagnostics:
        return Compiled(name, tuple(in_reading_order(reading.diagnostics)), reading)
    source = reading.source
    found = validate(source, "method.schema.json", names=names(reference))
    if found:
        return Compiled(name, tuple(in_reading_order(found)), reading)
    method, found = resolve(source, reference)
    if method is None:
        return Compiled(name, tuple(in_reading_order(found)), reading)
    figures = derive(method)
    checked = check(method, figures, today=today)
    found = diagnose(source, checked)
    return Compiled(name, tuple(in_reading_order(found)), reading, method, figures, checked)


def used_twice(compiled: Sequence[Compiled]) -> list[Compiled]:
    """Stop methods that share an id and a revision, or an id in two files: their papers could not be told apart."""
    first: dict[str, Compiled] = {}
    clashes: dict[str, Compiled] = {}
    for one in compiled:
        if one.method is None:
            continue
        # Where folders know no capitals, the papers of abc-1 would take the place of those of ABC-1.
        folder = one.method.id.casefold()
        if folder in first:
            clashes[one.file] = first[folder]
            clashes.setdefault(first[folder].file, one)
        else:
            first[folder] = one
    return [_clashing(one, clashes[one.file]) if one.file in clashes else one for one in compiled]


def _clashing(one: Compiled, other: Compiled) -> Compiled:
    if one.source is None or one.method is None or other.method is None:
        return one
    same = one.method.id == other.method.id
    what = "is also the id" if same else f"differs in capitals only from {other.method.id}, the id"
    clash = Diagnostic(
        "LIB01",
        CODES["LIB01"][0],
        Severity.ERROR,
        f"{one.method.id} {what} of {other.file}; their sheets could not be told apart.",
        one.file,
        one.source.span(("id",)),
        ("id",),
        ("Give one of the two a number of its own.", "Or move the superseded file out of the folder."),
    )
    return replace(one, diagnostics=tuple(in_reading_order((*one.diagnostics, clash))))
