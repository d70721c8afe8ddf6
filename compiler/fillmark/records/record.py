"""A record as it was read: entries by their names, as typed, each with its place in the file."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from fillmark.diagnostics import Diagnostic, Severity, Span


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands: line or row and column from 1, or a cell of a worksheet; None where not known."""

    line: int | None = None
    column: int | None = None
    cell: str | None = None

    @property
    def said(self) -> str:
        """The place in words: `cell record!C7`, `row 7, column 3`; nothing where it is not known."""
        if self.cell is not None:
            return f"cell {self.cell}"
        if self.line is None:
            return ""
        return f"row {self.line}" + ("" if self.column is None else f", column {self.column}")


NOWHERE = Place()


@dataclass(frozen=True, slots=True)
class Correction:
    """One correction, as written."""

    was: str
    now: str
    by: str
    when: str
    reason: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as typed."""

    field: str
    text: str
    place: Place = NOWHERE
    unit: str = ""
    corrections: tuple[Correction, ...] = ()
    how: str = ""
    """How the text came from the cell, where it is no text there: a date, a number, a formula."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found in a record."""

    code: str
    slug: str
    severity: Severity
    message: str
    ways_out: tuple[str, ...]
    field: str = ""
    place: Place = NOWHERE

    def diagnostic(self, file: str) -> Diagnostic:
        """Give it as a diagnostic of a file, for the terminal; a place that is not known is its beginning."""
        line, column = self.place.line or 1, self.place.column or 1
        said = self.place.said if self.place.cell is not None else ""
        where = ", ".join(part for part in (said, self.field) if part)
        message = f"{where}: {self.message}" if where else self.message
        span = Span(line, column, line, column)
        path = (self.field,) if self.field else ()
        return Diagnostic(self.code, self.slug, self.severity, message, file, span, path, self.ways_out)


@dataclass(frozen=True, slots=True)
class Record:
    """One filled sheet."""

    file: str
    name: str
    format: str
    """json, csv or xlsx"""
    sha256: str
    entries: Mapping[str, Entry] = field(default_factory=dict)
    unread: tuple[str, ...] = ()
    """What of the file was not read, and why."""
    findings: tuple[Finding, ...] = ()
    """What was wrong with it as a file: columns, cells, entries that come twice."""

    def text(self, key: str) -> str:
        """Give the text of an entry; nothing where there is none."""
        entry = self.entries.get(key)
        return "" if entry is None else entry.text.strip()

    def place(self, key: str) -> Place:
        """Give the place of an entry."""
        entry = self.entries.get(key)
        return NOWHERE if entry is None else entry.place
