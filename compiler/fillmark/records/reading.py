"""Take a file of filled records apart: JSON, CSV or XLSX into entries as they were typed.

Nothing is understood here, and nothing repaired: what cannot be told apart for certain is refused with its place.
A file comes from other people, so its size, its depth and the number of its records are bounded.
"""

import hashlib
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from fillmark.csv_text import MOST_CELLS as WIDEST
from fillmark.csv_text import NoCsvError, decoded, delimiter_of, encoding_of, parted
from fillmark.records.codes import found
from fillmark.records.record import NOWHERE, Correction, Entry, Finding, Place, Record

LARGEST = 5_000_000
"""Bytes of the largest file that is read: some hundred records."""
MOST_RECORDS = 500
MOST_ROWS = 100_000
LONGEST = 2000
"""Letters of the longest entry."""
DEEPEST = 12
"""Brackets within brackets of a JSON record; the schema has six."""

COLUMNS = ("record", "field", "what", "allowed", "value", "unit", "was", "by", "when", "reason")
"""Columns of a CSV or worksheet; `what` and `allowed` are for people and are not read."""
NEEDED = ("field", "value")
FOR_PEOPLE = ("what", "allowed")
REMARK = "#"
"""A row whose field begins so is a remark."""

_NAME = re.compile(r"[a-z][a-z0-9_]*(?:\.[a-z0-9_]+){0,3}")

Cells = Sequence[tuple[str, Place, str]]
"""Text of each cell of a row, its place, and how it came to be that text."""


@dataclass(frozen=True, slots=True)
class Digits:
    """A number of a JSON text, as its digits stand there."""

    text: str


class _UnreadableError(ValueError):
    """A whole file that cannot be read."""

    def __init__(self, message: str, *ways: str, place: Place = NOWHERE) -> None:
        super().__init__(message)
        self.finding = found("EVA01", message, *ways, place=place)


def read_records(data: bytes, name: str) -> list[Record]:
    """Read all records of a file; one that cannot be read at all gives one record with the reason.

    The form is told by the content (a worksheet is an archive, JSON begins with a bracket), not by the name.
    """
    sha256 = hashlib.sha256(data).hexdigest()
    form = "xlsx" if data[:4] == b"PK\x03\x04" else "csv"
    try:
        _refuse_large(data)
        if form == "xlsx":
            return _of_rows(_sheets(data), name, sha256, form)
        text = _decoded(data)
        if text.lstrip()[:1] in ("{", "["):
            form = "json"
            return _of_json(text, name, sha256)
        return _of_rows([("", _csv_rows(text))], name, sha256, form)
    except _UnreadableError as error:
        return [Record(name, "1", form, sha256, findings=(error.finding,))]


def _decoded(data: bytes) -> str:
    """Decode by the mark at the beginning, else as UTF-8; nothing is guessed."""
    if not data.strip():
        raise _UnreadableError(
            "The file is empty.", "Save the filled record again.", "See that it is the right file."
        )
    try:
        return decoded(data, largest=LARGEST)
    except NoCsvError as error:
        place = NOWHERE if error.why == "half" else Place(error.line)
        raise _UnreadableError(*_undecoded(error, data), place=place) from error


def _refuse_large(data: bytes) -> None:
    if len(data) > LARGEST:
        raise _UnreadableError(
            f"The file is larger than {LARGEST // 1_000_000} MB, and no record is.",
            "Split it into files of fewer records.",
            "See that it is a record and not something else.",
        )


def _undecoded(error: NoCsvError, data: bytes) -> tuple[str, str, str]:
    if error.why == "half":
        return (
            "Every other byte is zero: it looks like UTF-16 without the mark at its beginning.",
            "Save it as UTF-8 (CSV UTF-8).",
            "Or as Unicode text with its mark.",
        )
    if error.why == "nul":
        return (
            "There is a NUL sign in it: the file is damaged or no text.",
            "Save the record again.",
            "See that it is the right file.",
        )
    return (
        (
            f"Byte {error.at} (0x{data[error.at]:02X}) is not {encoding_of(data)}; what letter it "
            "was meant to be depends on who wrote it."
        ),
        "Save it as UTF-8 (CSV UTF-8).",
        "Or as JSON or XLSX.",
    )


# --- rows: CSV and worksheets -----------------------------------------------------------------------------------


def _csv_rows(text: str) -> Iterator[Cells]:
    delimiter = delimiter_of(next((line for line in text.split("\n") if line.strip()), ""))
    try:
        for cells in parted(text, delimiter):
            yield [(cell.text, Place(cell.line, column), "") for column, cell in enumerate(cells, 1)]
    except NoCsvError as error:
        said = {
            "open": "a quotation mark is opened and never closed",
            "wide": f"it has more than {WIDEST} cells",
        }.get(error.why, "something stands behind a closing quotation mark")
        raise _UnreadableError(
            f"The row that begins in line {error.line} cannot be taken apart: {said}.",
            "Put a mark within a text twice, and close every text with one.",
            "Save the sheet as CSV again.",
            place=Place(error.line),
        ) from error


def _of_rows(
    sheets: Iterable[tuple[str, Iterable[Cells]]], name: str, sha256: str, form: str
) -> list[Record]:
    made: dict[str, _Rows] = {}
    unread: list[str] = []
    whole: list[Finding] = []
    for sheet, rows in sheets:
        heads: Mapping[str, int] | None = None
        width = 0
        for number, cells in enumerate(rows, 1):
            if number > MOST_ROWS:
                raise _UnreadableError(
                    f"There are more than {MOST_ROWS} rows.", "Split the file.", "See that it is a record."
                )
            if not any(text.strip() for text, _, _ in cells):
                continue
            if heads is None:
                width = len(cells)
                if sheet and not {t.strip().casefold() for t, _, _ in cells} & set(NEEDED):
                    unread.append(f"worksheet {sheet}: its first row names no columns of a record")
                    break
                heads, wrong = _heads(cells, unread)
                whole += wrong
                if heads is None:
                    break
                continue
            key = _cell(cells, heads, "record")[0].strip() or (sheet or "1")
            if key not in made and len(made) >= MOST_RECORDS:
                raise _UnreadableError(
                    f"There are more than {MOST_RECORDS} records.",
                    "Split the file.",
                    "See that it is a record.",
                )
            made.setdefault(key, _Rows({}, [], [])).take(cells, heads, width)
    if not made:
        why = whole or [
            found(
                "EVA01",
                "There is no row under a heading that names the columns field and value.",
                "Begin with the template: fillmark build --document record.",
                "See that it is the right file.",
            )
        ]
        return [Record(name, "1", form, sha256, unread=tuple(unread), findings=tuple(why))]
    return [
        Record(name, key, form, sha256, rows.entries, (*unread, *rows.unread), (*whole, *rows.findings))
        for key, rows in made.items()
    ]


def _heads(cells: Cells, unread: list[str]) -> tuple[Mapping[str, int] | None, list[Finding]]:
    """Find which column is which; None where they cannot be told apart."""
    heads: dict[str, int] = {}
    wrong: list[Finding] = []
    fatal = False
    for index, (text, place, _) in enumerate(cells):
        word = text.strip().casefold()
        if word in heads:
            fatal = True
            wrong.append(
                found(
                    "EVA02",
                    f"The column {word} comes twice: which of the two counts cannot be told.",
                    "Take one of them out.",
                    "Begin again with the template.",
                    place=place,
                )
            )
        elif word in COLUMNS:
            heads[word] = index
        elif word:
            unread.append(f"column {text.strip()[:40]}: it is none of a record")
            wrong.append(
                found(
                    "EVA02",
                    f"The column {text.strip()[:40]} is not known, and nothing in it was read.",
                    f"Known columns: {', '.join(COLUMNS)}.",
                    "Put what it says under remarks.",
                    place=place,
                )
            )
    for word in NEEDED:
        if word not in heads:
            fatal = True
            wrong.append(
                found(
                    "EVA02",
                    f"There is no column {word}.",
                    f"Write the headings {', '.join(COLUMNS[1:])} into the first row.",
                    "Begin again with the template.",
                    place=cells[0][1] if cells else NOWHERE,
                )
            )
    return (None if fatal else heads), wrong


def _cell(cells: Cells, heads: Mapping[str, int], word: str) -> tuple[str, Place, str]:
    index = heads.get(word)
    if index is None or index >= len(cells):
        return "", cells[0][1] if cells else NOWHERE, ""
    return cells[index]


@dataclass(slots=True)
class _Rows:
    """The rows of one record as they come."""

    entries: dict[str, Entry]
    findings: list[Finding]
    unread: list[str]

    def take(self, cells: Cells, heads: Mapping[str, int], width: int) -> None:
        key, place, _ = _cell(cells, heads, "field")
        key = key.strip()
        if key.startswith(REMARK):
            return
        surplus = [text.strip() for text, _, _ in cells[width:] if text.strip()]
        if surplus:
            self.findings.append(
                found(
                    "EVA02",
                    f"The row has {len(cells)} cells under {width} headings, so that a value may stand "
                    "under a wrong one. "
                    "A decimal comma outside quotation marks splits a number in two.",
                    "Write a decimal point, or put the number in quotation marks.",
                    "Or save with semicolons between the cells.",
                    place=place,
                )
            )
            return
        value, at, how = _cell(cells, heads, "value")
        if len(value) > LONGEST:
            self.findings.append(_too_long(key, at))
            return
        if not key:
            if value.strip():
                self.findings.append(
                    found(
                        "EVA03",
                        f"{value.strip()[:40]!r} stands in a row that names no field.",
                        "Name the field it belongs to.",
                        "Take it out if it belongs to none.",
                        place=at,
                    )
                )
            return
        if _NAME.fullmatch(key) is None:
            self.findings.append(_strange(key, place))
            return
        was, by, when, reason = (_cell(cells, heads, w)[0].strip() for w in ("was", "by", "when", "reason"))
        corrections = (
            (Correction(was, value.strip(), by, when, reason),) if any((was, by, when, reason)) else ()
        )
        entry = Entry(key, value, at, _cell(cells, heads, "unit")[0].strip(), corrections, how)
        if key in self.entries:
            self.findings.append(_twice(key, self.entries[key], at))
            return
        self.entries[key] = entry
        self.findings += [replace(_of_cell(how, at), field=key)] if how.startswith("!") else []


def _too_long(key: str, place: Place) -> Finding:
    return found(
        "EVA03",
        f"The entry is longer than {LONGEST} letters.",
        "Shorten it.",
        "Attach it, and name the attachment.",
        field=key[:60],
        place=place,
    )


def _strange(key: str, place: Place) -> Finding:
    return found(
        "EVA03",
        f"{key[:60]!r} is no name of an entry; what stands there was not read.",
        "Leave the names of the template as they are.",
        f"Begin a row with {REMARK} where it is only a remark.",
        place=place,
    )


def _twice(key: str, first: Entry, place: Place) -> Finding:
    return found(
        "EVA03",
        f"It comes twice: {first.text.strip()[:40]!r} at {first.place.said or 'the first place'}, and "
        "again; the first is "
        "used.",
        "Take one of them out.",
        "If one corrects the other, write it as a correction.",
        field=key,
        place=place,
    )


def _of_cell(how: str, place: Place) -> Finding:
    """Make the finding of a cell that has no value of its own, or a calculated one."""
    word, _, rest = how.removeprefix("!").partition(": ")
    if word == "calculated":
        return found(
            "EVA08",
            f"The cell holds the formula {rest}.",
            "Write the value that was read, as a number.",
            "If it was worked out, say so under remarks and keep the readings it came from.",
            place=place,
        )
    return found(
        "EVA07",
        f"The cell holds {rest}.",
        "Write the value that was read, as a number or a text.",
        "Write n/a where there is none, with initials.",
        place=place,
    )


def _sheets(data: bytes) -> Sequence[tuple[str, Iterable[Cells]]]:
    from fillmark.records.worksheets import WorkbookError, sheets  # noqa: PLC0415 - only XLSX needs the library

    try:
        return sheets(data)
    except WorkbookError as error:
        raise _UnreadableError(error.problem, *error.ways) from error


# --- JSON -------------------------------------------------------------------------------------------------------


def _of_json(text: str, name: str, sha256: str) -> list[Record]:
    _not_too_deep(text)
    repeated: list[str] = []

    def pairs(items: list[tuple[str, Any]]) -> dict[str, Any]:
        whole = dict(items)
        if len(whole) < len(items):
            keys = [key for key, _ in items]
            repeated.extend(sorted({key for key in keys if keys.count(key) > 1}))
        return whole

    def refuse(word: str) -> Any:
        raise _UnreadableError(
            f"{word} is no number of JSON.",
            "Write the number that was read.",
            "Write null where there is none.",
        )

    try:
        data = json.loads(
            text, parse_float=Digits, parse_int=Digits, parse_constant=refuse, object_pairs_hook=pairs
        )
    except json.JSONDecodeError as error:
        raise _UnreadableError(
            f"It is no JSON: {error.msg}.",
            "Mend it there.",
            "Or begin again with the template.",
            place=Place(error.lineno, error.colno),
        ) from error
    if repeated:
        raise _UnreadableError(
            f"The key {repeated[0][:60]} comes twice in one object; which of the two counts cannot be told.",
            "Take one of them out.",
            "If one corrects the other, write it as a correction.",
        )
    records = data if isinstance(data, list) else [data]
    if not records or len(records) > MOST_RECORDS:
        raise _UnreadableError(
            f"There are {len(records)} records; 1 to {MOST_RECORDS} are read.",
            "Split the file.",
            "See that it is the right one.",
        )
    return [_json_record(one, number, name, sha256) for number, one in enumerate(records, 1)]


def _not_too_deep(text: str) -> None:
    depth, quoted, escaped = 0, False, False
    for sign in text:
        if quoted:
            quoted, escaped = escaped or sign != '"', not escaped and sign == "\\"
        elif sign == '"':
            quoted, escaped = True, False
        elif sign in "[{":
            depth += 1
            if depth > DEEPEST:
                raise _UnreadableError(
                    f"Brackets stand more than {DEEPEST} deep; a record has six.",
                    "See that it is a record.",
                    "Begin with the template.",
                )
        elif sign in "]}":
            depth -= 1


def _json_record(data: Any, number: int, name: str, sha256: str) -> Record:
    if not isinstance(data, dict):
        wrong = found(
            "EVA01",
            f"Record {number} is no object with named entries.",
            "See record.schema.json.",
            "Use the template.",
        )
        return Record(name, str(number), "json", sha256, findings=(wrong,))
    version = data.get("record")
    if not isinstance(version, Digits) or version.text != "1":
        wrong = found(
            "EVA01",
            'It does not say "record": 1, so its format is not known.',
            'Write "record": 1 at the top.',
            "See record.schema.json.",
        )
        return Record(name, str(number), "json", sha256, findings=(wrong,))
    entries: dict[str, Entry] = {}
    findings: list[Finding] = []
    unread: list[str] = []
    for key, value in _flat(data):
        if key in ("record", "name", "note"):
            if key == "note" and value is not None:
                unread.append(f"note: {str(value)[:200]}")
            continue
        if _NAME.fullmatch(key) is None:
            findings.append(_strange(key, NOWHERE))
            continue
        entry = _json_entry(key, value)
        if isinstance(entry, Finding):
            findings.append(entry)
        elif key in entries:
            findings.append(_twice(key, entries[key], NOWHERE))
        elif entry is not None:
            entries[key] = entry
    title = data.get("name")
    called = title[:80] if isinstance(title, str) and title.strip() else str(number)
    if any(_surrogate(e.text) for e in entries.values()) or _surrogate(called):
        wrong = found(
            "EVA01",
            "There is half of a letter in it (a lone surrogate).",
            "Write the letter.",
            "Take it out.",
        )
        return Record(name, str(number), "json", sha256, findings=(wrong,))
    return Record(name, called, "json", sha256, entries, tuple(unread), tuple(findings))


def _surrogate(text: str) -> bool:
    return any("\ud800" <= sign <= "\udfff" for sign in text)


_LISTS = {
    "loadings": ("loading", ("no",)),
    "readings": ("reading", ("no", "step")),
    "outcome": ("outcome", ("result",)),
}
"""List of a JSON record -> name of its entries, and the keys that tell them apart."""


def _flat(data: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """Name the entries of a JSON record as the rows of the others are named."""
    for key, value in data.items():
        if key in _LISTS and isinstance(value, list):
            word, names = _LISTS[key]
            for one in value:
                if not isinstance(one, dict):
                    yield f"{word}[]", one
                    continue
                by = [_word(one[n]) for n in names if n in one]
                for inner, entry in one.items():
                    if inner not in names:
                        yield ".".join((word, *by, inner)), entry
        elif isinstance(value, dict) and not (
            "value" in value and set(value) <= {"value", "unit", "corrections"}
        ):
            for inner, entry in value.items():
                yield f"{key}.{inner}", entry
        else:
            yield key, value


def _word(value: Any) -> str:
    return value.text if isinstance(value, Digits) else str(value).strip()


def _json_entry(key: str, value: Any) -> Entry | Finding | None:
    unit = ""
    corrections: tuple[Correction, ...] = ()
    if isinstance(value, dict):
        if "value" not in value or not set(value) <= {"value", "unit", "corrections"}:
            return _no_text(key)
        unit = _word(value.get("unit", ""))
        written = value.get("corrections", [])
        if not isinstance(written, list) or not all(isinstance(c, dict) for c in written):
            return _no_text(key)
        value = value["value"]
        corrections = tuple(
            Correction(
                *(
                    _word(c.get(k, "") if c.get(k) is not None else "")
                    for k in ("was", "now", "by", "when", "reason")
                )
            )
            for c in written
        )
    if value is None:
        return Entry(key, "", unit=unit, corrections=corrections) if corrections else None
    if isinstance(value, bool) or not isinstance(value, (str, Digits)):
        return _no_text(key)
    text = _word(value) if isinstance(value, Digits) else value
    if len(text) > LONGEST:
        return _too_long(key, NOWHERE)
    return Entry(key, text, unit=unit, corrections=corrections)


def _no_text(key: str) -> Finding:
    return found(
        "EVA03",
        "It is neither a text nor a number, so it was not read.",
        "Write the entry as it stands on the sheet.",
        "See record.schema.json for entries with units and corrections.",
        field=key,
    )
