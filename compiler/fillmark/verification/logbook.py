"""A verification log as it was kept: CSV or JSON becomes checks and events, each knowing its place.

CSV has one entry a row under the names of `schemas/verification-log.schema.json`; comma, semicolon or tab
between the cells, and a unit in brackets behind a heading for cells that bear none: `torque [%]`. An entry that
cannot be read is named with its place and counted; the others are judged all the same.
"""

import json
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Any

from fillmark.csv_text import MOST_CELLS, Cell, NoCsvError, decoded, delimiter_of, parted
from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.quantities import Quantity, QuantityError, parse
from fillmark.read import LARGEST, Source, read, unseen_in
from fillmark.validate import nearest, validate

CODES: dict[str, tuple[str, str]] = {
    "LOG01": (
        "log-unreadable",
        "A log, a row or a cell that cannot be read; the entry is left out and counted.",
    ),
    "LOG02": ("not-a-moment", "A day and time that cannot be read, or one at which nobody measured."),
    "LOG03": ("entry-twice", "Two entries of one instrument and set-up at one moment."),
}

SCHEMA = "verification-log.schema.json"
LARGEST_LOG = 16 * LARGEST
"""Bytes of the largest CSV that is read; JSON is read up to that of a method."""
MOST_ENTRIES = 20_000
NAMED = 100
"""Faults that are each named; those beyond are counted."""
EVENTS = ("service", "adjustment", "moved")
EARLIEST, LATEST = datetime(1970, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)

COLUMNS = (
    "kind", "at", "instrument", "spindle", "piece", "guard", "container", "speed", "fluid", "lot", "expires",
    "certificate", "certificate_uncertainty", "certificate_temperature", "temperature", "torque", "reading", "by",
    "remarks", "corrections",
)  # fmt: skip
_CORRECTION = ("field", "was", "reason", "by", "on")
_HEADING = re.compile(r"\s*([^\[\]]*?)\s*(?:\[\s*([^\[\]]+?)\s*\])?\s*")
_BARE = re.compile(r"[<>]?\s*[+\-\u2212]?\s*\d[\d.,eE+\-]*")


@dataclass(frozen=True, slots=True)
class Reading:
    """A number read on the instrument, in the unit of its kind, or a bound."""

    value: float
    text: str
    bound: str
    """`<`, `>` or nothing."""
    half_step: float
    """Half of the last decimal written."""


@dataclass(frozen=True, slots=True)
class Correction:
    """A correction of an entry."""

    field: str
    was: str
    reason: str
    by: str
    on: str


@dataclass(frozen=True, slots=True)
class Entry:
    """What every entry has."""

    number: int
    """From 1, in the order of the file."""
    span: Span
    at: float
    """Seconds since 1970 in UTC; a time without an offset is taken as UTC."""
    written: str
    zoned: bool
    instrument: str
    by: str
    remarks: str
    corrections: tuple[Correction, ...]


@dataclass(frozen=True, slots=True)
class Check:
    """A check with a reference fluid; viscosities in Pa·s."""

    entry: Entry
    spindle: str
    piece: str
    guard: str
    container: str
    rpm: float
    speed: str
    fluid: str
    lot: str
    expires: date | None
    certificate: Quantity
    uncertainty: Quantity
    certified_at: Quantity
    temperature: Quantity
    torque: Reading
    reading: Reading


@dataclass(frozen=True, slots=True)
class Event:
    """Something done to an instrument."""

    entry: Entry
    kind: str


@dataclass(frozen=True, slots=True)
class Log:
    """A log as far as it could be read."""

    name: str
    laboratory: str
    demonstration: bool
    checks: tuple[Check, ...]
    """In the order of time."""
    events: tuple[Event, ...]
    entries: int
    """How many were written."""
    left_out: int
    diagnostics: tuple[Diagnostic, ...]
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Raw:
    """One entry as plain data, with the places of its values."""

    data: Mapping[str, Any]
    number: int
    span: Span
    places: Mapping[str, Span]
    why: str = ""
    """Why there is no data."""


def read_log(data: bytes, name: str, names: Mapping[str, Collection[str]]) -> Log:
    """Read a log; `names` are the known names of each kind of reference data.

    JSON (or YAML) where it begins with a bracket, a key or a comment of those; CSV otherwise.
    """
    raw: list[_Raw] = []
    head: Mapping[str, Any]
    if _is_csv(data, name):
        text, head = "", {}
        found: list[Diagnostic] = []
        try:
            text = decoded(data, largest=LARGEST_LOG, nul=True)
            raw, head, found = _of_csv(text, name)
        except NoCsvError as error:
            found = [_fault(name, "LOG01", Span(error.line, 1, error.line, 1), *_NO_CSV[error.why])]
        lines = tuple(text.split("\n"))
    else:
        reading = read(data, name)
        found, head = list(reading.diagnostics), {}
        lines = reading.lines
        if reading.source is not None and not found:
            raw, head, found = _of_source(reading.source)
    checks: list[Check] = []
    events: list[Event] = []
    left_out = 0
    for one in raw:
        made = _made(one, name, names)
        if isinstance(made, list):
            left_out += 1
            found += made
        elif isinstance(made, Check):
            checks.append(made)
        else:
            events.append(made)
    checks.sort(key=lambda c: (c.entry.at, c.entry.number))
    events.sort(key=lambda e: (e.entry.at, e.entry.number))
    found += _twice(checks, name)
    if len(found) > NAMED:
        more = len(found) - NAMED
        rest = found[NAMED]
        found = [*found[:NAMED], _fault(name, "LOG01", rest.span, f"{more} more faults of this log are not named.",
                                        "Mend those named first.", "Split the log by instrument.")]  # fmt: skip
    return Log(
        name, str(head.get("laboratory", "")), head.get("demonstration") is True, tuple(checks), tuple(events),
        len(raw), left_out, tuple(found), lines,
    )  # fmt: skip


def _fault(
    name: str, code: str, span: Span, message: str, *ways: str, severity: Severity = Severity.ERROR
) -> Diagnostic:
    return Diagnostic(code, CODES[code][0], severity, message, name, span, (), ways)


# --- CSV


def _is_csv(data: bytes, name: str) -> bool:
    if name.lower().endswith((".json", ".yaml", ".yml")):
        return False
    if name.lower().endswith((".csv", ".tsv", ".txt")):
        return True
    return not data.lstrip(b"\xef\xbb\xbf \t\r\n").startswith((b"{", b"["))


_NO_CSV = {
    "wide": (
        f"The line has more than {MOST_CELLS} cells: that is no line of a log.",
        "Look for a line end that is missing.", "Or save the sheet as CSV anew.",
    ),
    "large": (
        f"The log is larger than {LARGEST_LOG // LARGEST} MiB.", "Keep a log for each year.",
        "Or one for each instrument.",
    ),
    "half": (
        "Every other byte is zero: it looks like UTF-16 without the mark at its beginning.",
        "Save it from the spreadsheet as CSV UTF-8.", "Or keep the log as JSON.",
    ),
    "letters": (
        "The log is not UTF-8 text from this line on.", "Save it from the spreadsheet as CSV UTF-8.",
        "Or keep the log as JSON.",
    ),
    "open": (
        "The row that begins here has a quotation mark that is opened and never closed.",
        "Close it, or take it out.", "Or save the log from the spreadsheet anew.",
    ),
    "behind": (
        "In the row that begins here something stands behind a closing quotation mark.",
        "Put a quotation mark within a text twice.", "Or save the log from the spreadsheet anew.",
    ),
}  # fmt: skip


def _of_csv(text: str, name: str) -> tuple[list[_Raw], Mapping[str, Any], list[Diagnostic]]:
    lines = text.split("\n")
    remarks = [row for row in lines if row.startswith("#")]
    head = {"demonstration": any("DEMONSTRATION" in row for row in remarks)}
    first = next((row for row in lines if row.strip() and not row.startswith("#")), "")
    rows = [
        r
        for r in parted(text, delimiter_of(first))
        if any(c.text.strip() for c in r) and not r[0].text.startswith("#")
    ]
    if not rows:
        return [], head, [
            _fault(name, "LOG01", Span(1, 1, 1, 1), "The log is empty.", "Begin it with the names of the columns.",
                   "See schemas/verification-log.schema.json for them.")
        ]  # fmt: skip
    columns, units, found = _headings(rows[0], name)
    if found:
        return [], head, found
    raw = []
    for number, row in enumerate(rows[1:], 1):
        span = row[0].span
        if number > MOST_ENTRIES:
            found.append(_fault(name, "LOG01", span, f"Only {MOST_ENTRIES} entries of a log are read; the rest is not.",
                                "Keep a log for each year.", "Or one for each instrument."))  # fmt: skip
            break
        if len(row) > len(columns) and any(c.text.strip() for c in row[len(columns) :]):
            why = f"{len(row)} cells under {len(columns)} headings"
            raw.append(_Raw({}, number, row[len(columns)].span, {}, why))
            continue
        cells = {c: cell for c, cell in zip(columns, row, strict=False) if cell.text.strip()}
        data: dict[str, Any] = {
            c: _with_unit(cell.text.strip(), units.get(c, "")) for c, cell in cells.items()
        }
        if "corrections" in data:
            data["corrections"] = _corrections(data["corrections"])
        raw.append(_Raw(data, number, span, {c: cell.span for c, cell in cells.items()}))
    return raw, head, found


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if unit and _BARE.fullmatch(text) else text


def _headings(row: Sequence[Cell], name: str) -> tuple[list[str], dict[str, str], list[Diagnostic]]:
    columns: list[str] = []
    units: dict[str, str] = {}
    found: list[Diagnostic] = []
    while row and not row[-1].text.strip():
        row = row[:-1]
    for cell in row:
        match = _HEADING.fullmatch(cell.text)
        written = cell.text.strip() if match is None else match[1]
        column = "_".join(written.casefold().split())
        if column not in COLUMNS:
            close = nearest(column, [c for c in COLUMNS if c not in columns])
            ways = (f"Did you mean {close}?",) if close else (f"Columns: {', '.join(COLUMNS)}.",)
            found.append(
                _fault(name, "LOG01", cell.span, f"There is no column {written or 'without a name'}.", *ways,
                       "Or take the column out; remarks have a column of their own.")
            )  # fmt: skip
        elif column in columns:
            message = f"The column {column} stands there twice, and which of the two counts nobody can know."
            found.append(
                _fault(name, "LOG01", cell.span, message, "Take one of the two out.", "Or rename it.")
            )
        columns.append(column)
        if match is not None and match[2]:
            units[column] = match[2]
    missing = [c for c in ("at", "instrument", "by") if c not in columns]
    if missing and not found:
        found.append(
            _fault(name, "LOG01", row[0].span, f"The headings lack {', '.join(missing)}.", "Add the column.",
                   "See that the first row holds the names of the columns.")
        )  # fmt: skip
    return columns, units, found


def _corrections(text: str) -> list[Any]:
    found: list[Any] = []
    for one in text.split(";"):
        parts = [p.strip() for p in one.split("|")]
        found.append(dict(zip(_CORRECTION, parts, strict=False)) if len(parts) == len(_CORRECTION) else one)
    return found


# --- JSON


def _of_source(source: Source) -> tuple[list[_Raw], Mapping[str, Any], list[Diagnostic]]:
    data = source.data
    if not isinstance(data, dict) or not isinstance(data.get("entries", []), list):
        found = validate(source, SCHEMA, "head")
        return [], {}, found
    head = {**data, "entries": []} if "entries" in data else data
    found = validate(Source(source.name, source.text, head), SCHEMA, "head")
    raw = []
    for index, entry in enumerate(data.get("entries", ())):
        span = source.span(("entries", index))
        if not isinstance(entry, dict):
            raw.append(_Raw({}, index + 1, span, {}, "it is no block of keys"))
            continue
        places = {str(k): source.span(("entries", index, k)) for k in entry}
        raw.append(_Raw(entry, index + 1, span, places))
    return raw, data, found


# --- one entry


def _made(raw: _Raw, name: str, names: Mapping[str, Collection[str]]) -> Check | Event | list[Diagnostic]:
    """Make an entry, or say what is wrong with it."""
    if raw.why:
        return [
            _fault(name, "LOG01", raw.span, f"Entry {raw.number} is left out: {raw.why}.",
                   "Put texts with commas in double quotes.", "Or keep the log as JSON.")
        ]  # fmt: skip
    kind = raw.data.get("kind", "check")
    definition = "event" if kind in EVENTS else "check"
    if kind not in (*EVENTS, "check"):
        return [
            _fault(name, "LOG01", raw.places.get("kind", raw.span), f"{_short(kind)} is no kind of entry.",
                   f"Kinds: check, {', '.join(EVENTS)}.", "Or leave it out for a check.")
        ]  # fmt: skip
    text = json.dumps(raw.data, ensure_ascii=False)
    found = validate(Source(name, text, raw.data), SCHEMA, definition, names)
    found = [replace(d, span=_placed(raw, d), path=("entries", raw.number - 1, *d.path)) for d in found]
    for key, value in raw.data.items():
        if isinstance(value, str) and (unseen := unseen_in(value)):
            signs = ", ".join(sorted(f"U+{ord(c):04X}" for c in unseen))
            message = f"{key} holds {signs}, which nobody can see."
            place = raw.places.get(key, raw.span)
            found.append(_fault(name, "LOG01", place, message, "Type it anew.", "Or delete the sign."))
    at, zoned = None, False
    if isinstance(raw.data.get("at"), str):
        at, zoned = _moment(raw.data["at"])
        if at is None:
            found.append(
                _fault(name, "LOG02", raw.places.get("at", raw.span),
                       f"{_short(raw.data['at'])} is no day and time between {EARLIEST.year} and {LATEST.year}.",
                       "Write YYYY-MM-DDTHH:MM, such as 2026-11-02T07:40.", "Put the offset behind it where there is "
                       "one: 2026-11-02T07:40+01:00.")
            )  # fmt: skip
    readings: dict[str, Reading] = {}
    if definition == "check":
        for key, quantity in (("torque", "percent"), ("reading", "viscosity")):
            value = raw.data.get(key)
            if isinstance(value, str):
                made = _reading(value, quantity)
                if isinstance(made, Reading):
                    readings[key] = made
                else:
                    found.append(_fault(name, "LOG01", raw.places.get(key, raw.span), *made))
    if found or at is None:
        return found
    d = raw.data
    entry = Entry(
        raw.number, raw.span, at, d["at"], zoned, d["instrument"], d["by"], d.get("remarks", ""),
        tuple(Correction(*(c[k] for k in _CORRECTION)) for c in d.get("corrections", ())),
    )  # fmt: skip
    if definition == "event":
        return Event(entry, kind)
    speed = parse(d["speed"], "speed")
    return Check(
        entry, d["spindle"], d.get("piece", ""), d["guard"], d.get("container", ""), speed.value, d["speed"],
        d["fluid"], d["lot"], date.fromisoformat(d["expires"]) if "expires" in d else None,
        parse(d["certificate"], "viscosity"), parse(d["certificate_uncertainty"], "viscosity"),
        parse(d["certificate_temperature"], "temperature"), parse(d["temperature"], "temperature"),
        readings["torque"], readings["reading"],
    )  # fmt: skip


def _placed(raw: _Raw, d: Diagnostic) -> Span:
    key = d.path[0] if d.path else None
    return raw.places.get(str(key), raw.span) if key is not None else raw.span


def _short(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 60 else f"{text[:59]}…"


def _moment(text: str) -> tuple[float | None, bool]:
    try:
        at = datetime.fromisoformat(text.strip())
    except ValueError:
        return None, False
    if len(text.strip()) <= len("YYYY-MM-DD"):
        return None, False
    zoned = at.tzinfo is not None
    at = at if zoned else at.replace(tzinfo=UTC)
    return (at.timestamp(), zoned) if EARLIEST <= at <= LATEST else (None, False)


def _reading(text: str, kind: str) -> Reading | tuple[str, ...]:
    """Read a number or a bound; else give the message and the ways out."""
    bound = text.strip()[:1]
    bound = bound if bound in ("<", ">") else ""
    plain = text.strip()[len(bound) :].strip()
    try:
        quantity = parse(plain, kind)
    except QuantityError as error:
        if plain.startswith(("-", "\u2212")):
            return (
                f"{_short(text)} is below nothing: the zero or the sign is wrong.",
                "Set the zero and read again.", "Correct the sign where it was a slip of the pen.",
            )  # fmt: skip
        ways = tuple(w for w in (error.suggestion and f"Write {error.suggestion}.", error.expected) if w)
        return (error.problem, *ways)
    one = quantity.value / float(quantity.number) if float(quantity.number) else 1.0
    if quantity.value > 1e9:
        return (f"{_short(text)} is more than any bench has.", "Look at the unit and the powers of ten.",
                "Copy the reading anew from the sheet.")  # fmt: skip
    return Reading(quantity.value, text, bound, 0.5 * 10.0**-quantity.decimals * one)


def _twice(checks: Sequence[Check], name: str) -> list[Diagnostic]:
    first: dict[tuple[Any, ...], Check] = {}
    found = []
    for one in checks:
        e = one.entry
        key = (e.instrument, one.spindle, one.piece, one.guard, one.rpm, e.at)
        other = first.setdefault(key, one)
        if other is not one:
            found.append(
                _fault(name, "LOG03", e.span, f"Entry {e.number} is of the same moment and set-up as entry "
                       f"{other.entry.number}; both count, and one check may stand here twice.",
                       "Take one of the two out where they are one.", "Or write the time to the second.",
                       severity=Severity.WARNING)
            )  # fmt: skip
    return found
