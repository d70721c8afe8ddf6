"""Data of a study: a CSV file becomes rows of texts and numbers, each knowing its line.

Comma, semicolon or tab between the cells; decimal point or decimal comma, the same throughout a file; UTF-8
with or without a byte order mark, or UTF-16 with one. Lines that begin with # before the headings are remarks
and are kept. A unit stands behind a heading in brackets: `viscosity [Pa·s]`. What cannot be read is told with
its line and left out; a bound such as `> 20` is no number and is told as such. Nothing is guessed.
"""

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import get_close_matches

from fillmark.csv_text import MOST_CELLS, Cell, NoCsvError, decoded, delimiter_of, parted
from fillmark.decimals import bare, decimal_sign, doubtful, shown_by
from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.read import unseen_in

CODES: dict[str, tuple[str, str]] = {
    "STU01": ("data-unreadable", "A data file that is no CSV text, is empty or is larger than what is read."),
    "STU02": ("column-missing", "The headings lack a column that the study needs, or name one twice."),
    "STU03": ("cell-no-number", "A cell that should hold a number and does not; its row is left out."),
    "STU04": (
        "decimal-sign-unclear",
        "Numbers that can be read in two ways, or a file that uses both a decimal point and a decimal comma.",
    ),
    "STU05": (
        "bound-in-data",
        (
            "A bound, such as > 20, in place of a result. It is no number: left out it hides the highest "
            "or lowest results, put in as it stands it makes the scatter look smaller."
        ),
    ),
    "STU06": ("row-twice", "Two rows for one and the same result."),
    "STU07": ("cell-missing", "An empty cell where a number or a name should stand; its row is left out."),
}

LARGEST = 16 * 1024 * 1024
"""Bytes of the largest data file that is read."""
MOST_ROWS = 250_000
"""Rows of the longest data file that is read."""
_MOST_CELLS, _LONGEST_CELL = 100, 500
_NAMED = 8
"""How many cells of one kind of fault are told one by one."""
_MISSING = frozenset({"", "-", "–", "—", "n/a", "na", "n.a.", "nan", "none", "missing"})
_NUMBER = re.compile(r"[+\-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+\-]?\d{1,3})?")
_HEADING = re.compile(r"\s*(.*?)\s*(?:[\[(]\s*([^\])]*?)\s*[\])])?\s*")
_UNREAD = {
    "wide": (
        f"The line has more than {MOST_CELLS} cells: that is no table of results.",
        "Look for a line end that is missing.",
        "Or save the sheet as CSV anew.",
    ),
    "large": (
        f"The file is larger than {LARGEST // 1024 // 1024} MB.",
        "Leave out columns that the study does not use.",
        "Or make one file for each product.",
    ),
    "half": (
        "Every other byte is zero: it looks like UTF-16 without the mark at its beginning.",
        "Save the sheet as CSV in UTF-8.",
        "Or as Unicode text with its mark.",
    ),
    "letters": (
        "The file is not UTF-8 text.",
        "Save the sheet as CSV in UTF-8.",
        "A workbook (.xlsx) is no CSV: save the one sheet with the data.",
    ),
    "nul": (
        "The file is no text: it holds NUL bytes.",
        "Save the sheet as CSV in UTF-8.",
        "Or name another file.",
    ),
    "open": (
        "The line cannot be taken apart into cells: a quotation mark is opened and never closed.",
        "Close it, or take it out.",
        "Or save the sheet as CSV anew.",
    ),
    "behind": (
        "The line cannot be taken apart into cells: something stands behind a closing quotation mark.",
        "Put a quotation mark within a text twice.",
        "Or save the sheet as CSV anew.",
    ),
}


@dataclass(frozen=True, slots=True)
class Row:
    """A row: its line (from 1), its cells as written and its numbers, by column."""

    line: int
    texts: Mapping[str, str]
    numbers: Mapping[str, float]
    cells: Mapping[str, Cell] = field(default_factory=dict)
    """Where they stand."""


@dataclass(frozen=True, slots=True)
class Table:
    """What was read of a data file."""

    name: str
    digest: str
    """SHA-256 of its bytes."""
    lines: tuple[str, ...]
    remarks: tuple[str, ...]
    rows: tuple[Row, ...]
    """Those with all that the study needs."""
    units: Mapping[str, str]
    columns: tuple[str, ...]
    ignored: tuple[str, ...]
    """Headings that the study does not use."""
    heading_line: int
    left_out: int
    """Rows that could not be used."""
    bounds: int
    diagnostics: tuple[Diagnostic, ...]

    @property
    def spoilt(self) -> bool:
        """Whether it cannot be used at all."""
        return any(d.code in ("STU01", "STU02", "STU04") for d in self.diagnostics)

    def cell(self, row: Row, column: str | None) -> Span:
        """Give the stretch of a cell, or the start of its line."""
        return _cell(row, column)

    def heading(self, column: str | None) -> Span:
        """Give the stretch of a heading, or of the line with all of them."""
        line = self.heading_line
        text = self.lines[line - 1] if 0 < line <= len(self.lines) else ""
        if column is not None:
            found = re.search(rf"(?<!\w){re.escape(column)}(?!\w)", text, re.IGNORECASE)
            if found is not None:
                return Span(line, found.start() + 1, line, found.end() + 1)
        return Span(line, 1, line, len(text) + 1 if text else 1)


@dataclass(frozen=True, slots=True)
class Column:
    """A column that a study reads."""

    name: str
    number: bool = False
    optional: bool = False
    """The column may be missing."""
    sparse: bool = False
    """A cell of it may be empty."""
    about: str = ""
    """For the template: what stands in it."""
    words: tuple[str, ...] = ()
    """The only words that may stand in it, where it is so."""
    also: tuple[str, ...] = ()
    """Other headings that mean the same."""


def _cell(row: Row, column: str | None) -> Span:
    cell = row.cells.get(column or "")
    return Span(row.line, 1, row.line, 1) if cell is None else _tight(cell)


def _tight(cell: Cell) -> Span:
    """Give the place of a cell without the spaces round it; quotation marks belong to it."""
    if cell.end_line > cell.line or cell.end_column - cell.column != len(cell.text):
        return cell.span
    before = len(cell.text) - len(cell.text.lstrip())
    start = cell.column + before
    return Span(cell.line, start, cell.line, start + len(cell.text.strip()))


@dataclass(slots=True)
class _Reading:
    name: str
    digest: str
    lines: tuple[str, ...] = ()
    found: list[Diagnostic] = field(default_factory=list)
    more: dict[str, int] = field(default_factory=dict)

    def say(self, code: str, severity: Severity, span: Span, message: str, *ways: str) -> None:
        count = self.more[code] = self.more.get(code, 0) + 1
        if count <= _NAMED:
            self.found.append(
                Diagnostic(code, CODES[code][0], severity, message, self.name, span, ways_out=ways)
            )

    def cell(self, row: Row, column: str) -> Span:
        return _cell(row, column)

    def finish(self) -> tuple[Diagnostic, ...]:
        for code, count in self.more.items():
            if count > _NAMED:
                last = next(d for d in reversed(self.found) if d.code == code)
                text = f"{count - _NAMED} more of the same kind follow; they are counted and not told one by one."
                self.found.append(Diagnostic(code, last.slug, last.severity, text, self.name, last.span))
        return tuple(self.found)

    def spoilt(self, code: str, span: Span, message: str, *ways: str) -> Table:
        self.say(code, Severity.ERROR, span, message, *ways)
        return Table(self.name, self.digest, self.lines, (), (), {}, (), (), span.line, 0, 0, self.finish())


def read_table(data: bytes, name: str, columns: Sequence[Column]) -> Table:
    """Read a CSV file for a study; whatever is wrong stands in its diagnostics, nothing is raised."""
    reading = _Reading(name, hashlib.sha256(data).hexdigest())
    start = Span(1, 1, 1, 1)
    try:
        text = decoded(data, largest=LARGEST)
    except NoCsvError as error:
        return reading.spoilt("STU01", start, *_UNREAD[error.why])
    lines = text.split("\n")
    reading.lines = tuple(lines)
    unseen = next(((i, found) for i, line in enumerate(lines, 1) if (found := unseen_in(line))), None)
    if unseen is not None:
        at, signs = unseen
        column = 1 + min(lines[at - 1].index(sign) for sign in signs)
        shown = ", ".join(sorted(f"U+{ord(sign):04X}" for sign in signs))
        return reading.spoilt(
            "STU01",
            Span(at, column, at, column + 1),
            f"The line holds {shown}, a sign that cannot be seen.",
            "Take it out: two names that look alike would count as two.",
            "Or save the sheet as CSV anew.",
        )
    first = next(
        (i for i, line in enumerate(lines) if line.strip() and not line.lstrip().startswith("#")), None
    )
    if first is None:
        return reading.spoilt(
            "STU01",
            start,
            "The file holds no data.",
            "Write headings and rows; --template prints them.",
            "Or name another file.",
        )
    remarks = tuple(line.lstrip().lstrip("#").strip() for line in lines[:first] if line.strip())
    try:
        records = list(_records("\n".join(lines[first:]), delimiter_of(lines[first]), first))
    except NoCsvError as error:
        at = first + error.line
        return reading.spoilt("STU01", Span(at, 1, at, len(lines[at - 1]) + 1), *_UNREAD[error.why])
    wide = next((cells for cells in records if len(cells) > _MOST_CELLS), None)
    long = next((c for cells in records for c in cells if len(c.text) > _LONGEST_CELL), None)
    if wide is not None or long is not None:
        what = (
            f"The line has more than {_MOST_CELLS} cells"
            if wide is not None
            else f"A cell of the line has more than {_LONGEST_CELL} characters"
        )
        return reading.spoilt(
            "STU01",
            (wide[0] if wide is not None else long or records[0][0]).span,
            f"{what}: that is no table of results.",
            "Look for a quotation mark or a line end that is missing.",
            "Or save the sheet as CSV anew.",
        )
    if len(records) > MOST_ROWS + 1:
        return reading.spoilt(
            "STU01",
            start,
            f"The file has more than {MOST_ROWS} rows.",
            "Make one file for each product.",
            "Or leave out rows that the study is not about, and say so.",
        )
    places, units = _headings(reading, [c.text for c in records[0]], columns, first + 1)
    if places is None:
        return Table(
            name, reading.digest, reading.lines, remarks, (), {}, (), (), first + 1, 0, 0, reading.finish()
        )
    known = set(places.values())
    ignored = tuple(
        h.strip() for i, h in enumerate(c.text for c in records[0]) if i not in known and h.strip()
    )
    body = [cells for cells in records[1:] if any(c.text.strip() for c in cells)]
    return _rows(reading, body, places, units, columns, remarks, ignored, first + 1)


def _records(text: str, delimiter: str, before: int) -> Iterator[list[Cell]]:
    """Take a text apart into cells; `before` lines stand before it in the file. Stops beyond the most rows."""
    for number, cells in enumerate(parted(text, delimiter)):
        if number > MOST_ROWS + 1:
            return
        yield (
            [c._replace(line=c.line + before, end_line=c.end_line + before) for c in cells]
            if before
            else cells
        )


def _headings(
    reading: _Reading, cells: Sequence[str], columns: Sequence[Column], line: int
) -> tuple[dict[str, int] | None, dict[str, str]]:
    """Find the column of each name; None, with what is wrong told, where one is missing or named twice."""
    span = Span(line, 1, line, len(reading.lines[line - 1]) + 1)
    parts = [_HEADING.fullmatch(c) for c in cells]
    words = [p[1].casefold().replace(" ", "_") if p is not None else "" for p in parts]
    places: dict[str, int] = {}
    units: dict[str, str] = {}
    wrong = False
    for column in columns:
        at = [i for i, w in enumerate(words) if w in (column.name, *column.also)]
        if len(at) > 1:
            wrong = True
            reading.say(
                "STU02",
                Severity.ERROR,
                span,
                f"The headings name {column.name} {len(at)} times.",
                "Keep one of them.",
                "Or give the other a name that the study does not know: it is then not used.",
            )
        elif at:
            places[column.name] = at[0]
            part = parts[at[0]]
            if part is not None and part[2]:
                units[column.name] = part[2]
        elif not column.optional:
            wrong = True
            close = get_close_matches(column.name, words, n=1, cutoff=0.6)
            there = f"Did you mean {close[0]} for it? " if close else ""
            reading.say(
                "STU02",
                Severity.ERROR,
                span,
                f"The column {column.name} is missing. {there}There are: {', '.join(w for w in words if w)}.",
                f"Head the column with {column.name}: {column.about or 'see --template'}.",
                "fillmark study ... --template prints a file to fill in.",
            )
    return (None if wrong else places), units


def _rows(
    reading: _Reading,
    body: Sequence[Sequence[Cell]],
    places: Mapping[str, int],
    units: Mapping[str, str],
    columns: Sequence[Column],
    remarks: tuple[str, ...],
    ignored: tuple[str, ...],
    heading_line: int,
) -> Table:
    wanted = [c for c in columns if c.name in places]
    raw = []
    for cells in body:
        here = {c.name: cells[places[c.name]] for c in wanted if places[c.name] < len(cells)}
        raw.append(
            (
                cells[0].line,
                {c.name: here[c.name].text.strip() if c.name in here else "" for c in wanted},
                here,
            )
        )
    numbers = [(line, _tidy(texts[c.name])) for line, texts, _ in raw for c in wanted if c.number]
    sign = decimal_sign(text for _, text in numbers)
    unclear = next(((line, t) for line, text in numbers if doubtful(t := text.lstrip("<>≤≥ "), sign)), None)
    if sign == "both" or unclear is not None:
        if sign == "both":
            comma, point = (next(line for line, text in numbers if shown_by(text) == s) for s in (",", "."))
            one = min(comma, point)
            reading.say(
                "STU04",
                Severity.ERROR,
                Span(one, 1, one, len(reading.lines[one - 1]) + 1),
                f"Line {comma} has a decimal comma, line {point} a decimal point: one of them means something else.",
                "Use one decimal sign throughout.",
                "Or leave out marks that group digits.",
            )
        elif unclear is not None:
            one, number = unclear
            shown = {",": "the others have decimal commas", ".": "the others have decimal points"}
            reading.say(
                "STU04",
                Severity.ERROR,
                Span(one, 1, one, len(reading.lines[one - 1]) + 1),
                f"{number} can be read as {number.replace(',', '.')} or as {re.sub('[.,]', '', number)}; "
                f"{shown.get(sign, 'no other number of the file tells which is meant')}.",
                "Write a decimal point where a decimal sign is meant.",
                "Or leave the mark out if it groups digits.",
            )
        return Table(
            reading.name,
            reading.digest,
            reading.lines,
            remarks,
            (),
            dict(units),
            tuple(places),
            ignored,
            heading_line,
            len(raw),
            0,
            reading.finish(),
        )
    kept: list[Row] = []
    bounds = 0
    for line, texts, here in raw:
        row = Row(line, texts, {}, here)
        found, bound = _numbers(reading, row, wanted, comma=sign == ",")
        bounds += bound
        if found is not None:
            kept.append(replace(row, numbers=found))
    return Table(
        reading.name,
        reading.digest,
        reading.lines,
        remarks,
        tuple(kept),
        dict(units),
        tuple(places),
        ignored,
        heading_line,
        len(raw) - len(kept),
        bounds,
        reading.finish(),
    )


def _tidy(text: str) -> str:
    return bare(text.replace("\u00a0", "").replace("\u202f", ""))


def _numbers(
    reading: _Reading, row: Row, wanted: Sequence[Column], *, comma: bool
) -> tuple[dict[str, float] | None, int]:
    """Read the numbers of a row; None where it cannot be used, and whether a bound is the reason."""
    found: dict[str, float] = {}
    usable, bound = True, 0
    for column in wanted:
        text = row.texts[column.name]
        if text.casefold() in _MISSING:
            if not column.sparse:
                usable = False
                reading.say(
                    "STU07",
                    Severity.WARNING,
                    reading.cell(row, column.name),
                    f"{column.name} is missing: the row is left out.",
                    "Fill in what the record says.",
                    "Or leave the row out, and say in a remark (# at the top) why it has none.",
                )
            continue
        if column.words and text.casefold() not in column.words:
            usable = False
            reading.say(
                "STU03",
                Severity.ERROR,
                reading.cell(row, column.name),
                f"{column.name} is {text}: the row is left out. It may be {', '.join(column.words)}.",
                "Write one of these words.",
                "Or leave the row out.",
            )
        if not column.number:
            continue
        value = _value(_tidy(text), comma=comma)
        if value is not None:
            found[column.name] = value
            continue
        usable = False
        if text[0] in "<>≤≥":
            bound = 1
            way = "highest" if text[0] in ">≥" else "lowest"
            less = "low" if way == "highest" else "high"
            reading.say(
                "STU05",
                Severity.ERROR,
                reading.cell(row, column.name),
                f"{text} is a bound, not a result: it goes into no mean and no scatter. Without it the "
                f"{way} results are missing, the mean is too {less} and the scatter too small.",
                "Measure the sample where it reads on the scale, under a condition that holds for the whole study.",
                "Or leave its whole group out, and say so in a remark (# at the top).",
            )
        else:
            reading.say(
                "STU03",
                Severity.ERROR,
                reading.cell(row, column.name),
                f"{text} is no number: the row is left out.",
                "Write the number alone; its unit stands in the heading, in brackets.",
                "Or leave the row out.",
            )
    return (found if usable else None), bound


def _value(text: str, *, comma: bool) -> float | None:
    if comma:
        if "." in text:
            return None
        text = text.replace(",", ".", 1)
    if not _NUMBER.fullmatch(text) or not text.isascii():
        return None
    value = float(text)
    return value if value == 0 or 1e-30 < abs(value) < 1e30 else None


def twice(table: Table, key: Sequence[str], diagnostics: list[Diagnostic]) -> set[int]:
    """Find rows that stand for one and the same result; gives the lines of the later ones."""
    seen: dict[tuple[str, ...], Row] = {}
    again: set[int] = set()
    for row in table.rows:
        mark = tuple(row.texts.get(k, "").casefold() for k in key)
        if mark not in seen:
            seen[mark] = row
            continue
        again.add(row.line)
        if len(again) <= _NAMED:
            same = ", ".join(f"{k} {row.texts.get(k, '')}" for k in key)
            diagnostics.append(
                Diagnostic(
                    "STU06",
                    CODES["STU06"][0],
                    Severity.ERROR,
                    f"{same} stands on line {seen[mark].line} already: the second row is left out.",
                    table.name,
                    table.cell(row, key[-1]),
                    ways_out=("Give it its own number if it is another result.", "Or take it out."),
                )
            )
    return again
