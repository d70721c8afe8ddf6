"""An empty record of a method to fill in: CSV, a worksheet, or JSON.

One entry a row, in the order of the sheet: fill the column value from top to bottom, as on paper. A correction
stands in its row: the old value under was, with initials, day and reason code.
"""

import json
from collections.abc import Iterator
from io import BytesIO
from typing import Any

from fillmark.documents.wording import Phrases
from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.records.fields import Field, fields_of
from fillmark.records.reading import COLUMNS, REMARK
from fillmark.spreadsheet import csv_bytes, inert

HEADINGS = tuple(column for column in COLUMNS if column != "record")
WIDTHS = (34, 44, 30, 18, 8, 12, 9, 18, 8)
"""Widths of the columns of a worksheet, in letters."""


def rows(method: Method, figures: Figures, digest: str) -> list[tuple[str, ...]]:
    """Give the rows of the template, headings first."""
    phrases = Phrases(method.reference.phrases)
    return [
        HEADINGS,
        *((REMARK, text) for text in _remarks(method, phrases)),
        *(_row(field) for field in fields_of(method, figures, digest)),
    ]


def _remarks(method: Method, phrases: Phrases) -> Iterator[str]:
    if method.demonstration:
        yield phrases.word("demonstration")
    yield phrases.word("record-how")
    yield phrases.word("corrections")


def _row(field: Field) -> tuple[str, ...]:
    return (field.key, field.title, _thin(field.allowed), field.given, field.unit)


def _thin(text: str) -> str:
    """Put plain spaces in the place of those of paper."""
    return text.replace("\u00a0", " ").replace("\u202f", "")


def as_csv(method: Method, figures: Figures, digest: str) -> bytes:
    """Write the template as CSV."""
    return csv_bytes(row + ("",) * (len(HEADINGS) - len(row)) for row in rows(method, figures, digest))


def as_xlsx(method: Method, figures: Figures, digest: str) -> bytes:
    """Write the template as a workbook of one worksheet, every cell a text; ImportError where openpyxl is missing.

    The same method gives the same bytes: the day in the file is that of the method.
    """
    from datetime import UTC, datetime  # noqa: PLC0415 - only a workbook needs it

    from openpyxl import Workbook  # noqa: PLC0415 - an extra
    from openpyxl.styles import Alignment, Font, PatternFill  # noqa: PLC0415

    book = Workbook()
    sheet = book.active
    sheet.title = "record"
    for number, row in enumerate(rows(method, figures, digest), 1):
        for column, text in enumerate((*row, *[""] * (len(HEADINGS) - len(row))), 1):
            cell = sheet.cell(number, column)
            cell.number_format = "@"
            if text:
                cell.value = inert(text)
                cell.data_type = "s"
            cell.alignment = Alignment(
                vertical="top", wrap_text=column in (2, 3) and not row[0].startswith(REMARK)
            )
            if number == 1:
                cell.font = Font(bold=True)
            elif HEADINGS[column - 1] == "value" and not row[0].startswith(REMARK):
                cell.fill = PatternFill("solid", fgColor="EEEEEE")
    for column, width in enumerate(WIDTHS, 1):
        sheet.column_dimensions[chr(ord("A") + column - 1)].width = width
    sheet.freeze_panes = "A2"
    day = method.effective
    stamp = (
        datetime(2000, 1, 1, tzinfo=UTC)
        if day is None
        else datetime(day.year, day.month, day.day, tzinfo=UTC)
    )
    book.properties.created = book.properties.modified = stamp.replace(tzinfo=None)
    book.properties.creator = "Fillmark"
    out = BytesIO()
    book.save(out)
    return _dated(out.getvalue())


def _dated(archive: bytes) -> bytes:
    """Give an archive whose parts bear no time of the clock."""
    import re  # noqa: PLC0415 - only a workbook needs it
    from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo  # noqa: PLC0415 - idem

    out = BytesIO()
    with ZipFile(BytesIO(archive)) as old, ZipFile(out, "w", ZIP_DEFLATED) as new:
        created = re.search(rb"<dcterms:created[^>]*>([^<]*)<", old.read("docProps/core.xml"))
        for part in old.infolist():
            content = old.read(part)
            if part.filename == "docProps/core.xml" and created is not None:
                content = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*<", rb"\g<1>" + created[1] + b"<", content)
            info = ZipInfo(part.filename, (1980, 1, 1, 0, 0, 0))
            info.compress_type = ZIP_DEFLATED
            new.writestr(info, content)
    return out.getvalue()


def as_json(method: Method, figures: Figures, digest: str) -> bytes:
    """Write the template as JSON in the shape of record.schema.json."""
    fields = fields_of(method, figures, digest)
    whole: dict[str, Any] = {"record": 1}
    if method.demonstration:
        whole["note"] = Phrases(method.reference.phrases).word("demonstration")
    for field in fields:
        parts = field.key.split(".")
        if parts[0] == "loading":
            _one(whole, "loadings", {"no": parts[1]})[parts[2]] = field.given
        elif parts[0] == "reading":
            _one(whole, "readings", {"no": parts[1], "step": parts[2]})[parts[3]] = field.given
        elif parts[0] == "outcome":
            _one(whole, "outcome", {"result": parts[1]})[parts[2]] = field.given
        elif len(parts) == 2:
            whole.setdefault(parts[0], {})[parts[1]] = field.given
        else:
            whole[field.key] = field.given
    return (json.dumps(whole, ensure_ascii=False, indent=2) + "\n").encode()


def _one(whole: dict[str, Any], name: str, by: dict[str, str]) -> dict[str, Any]:
    items: list[dict[str, Any]] = whole.setdefault(name, [])
    for item in items:
        if all(item.get(k) == v for k, v in by.items()):
            return item
    items.append(dict(by))
    return items[-1]
