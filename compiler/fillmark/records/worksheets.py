"""Worksheets of an XLSX file as rows of text; what a cell has in place of a text is said beside it.

Formulas are never worked out, macros never looked at, links never followed. An archive that would grow beyond all
measure when unpacked, or that holds definitions of its own letters, is refused before it is opened.
"""

import re
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from datetime import date, datetime, time, timedelta
from io import BytesIO
from typing import Any

from fillmark.records.record import Place

LARGEST_PART = 20_000_000
"""Bytes all parts of a workbook may unpack to."""
MOST_PARTS = 2000
MOST_ROWS, MOST_COLUMNS = 20_000, 40

Row = list[tuple[str, Place, str]]


class WorkbookError(ValueError):
    """A file that is no workbook, or one that is not opened."""

    def __init__(self, problem: str, *ways: str) -> None:
        super().__init__(problem)
        self.problem = problem
        self.ways = ways or ("Save it as XLSX again, or as CSV UTF-8.", "See that it is the right file.")


def sheets(data: bytes) -> list[tuple[str, Iterable[Row]]]:
    """Give the worksheets with their rows; WorkbookError where the file cannot be opened safely."""
    _refuse_unsafe(data)
    try:
        import openpyxl  # noqa: PLC0415 - an extra
        from openpyxl.utils.exceptions import InvalidFileException  # noqa: PLC0415
    except ImportError as error:
        raise WorkbookError(
            "Reading XLSX needs openpyxl, which is not installed.",
            "Install it: pip install 'fillmark[xlsx]'.",
            "Or save as CSV UTF-8.",
        ) from error
    import warnings  # noqa: PLC0415 - only the workbook library warns

    # Damage shows in many ways inside that library; all of them mean that the file is no workbook.
    faults = (
        InvalidFileException,
        zipfile.BadZipFile,
        KeyError,
        ValueError,
        TypeError,
        AttributeError,
        IndexError,
        OSError,
        SyntaxError,
        EOFError,
        zlib.error,
        OverflowError,
        RecursionError,
    )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            formulas = openpyxl.load_workbook(BytesIO(data), keep_links=False)
            values = openpyxl.load_workbook(BytesIO(data), keep_links=False, data_only=True)
    except faults as error:
        raise WorkbookError(
            f"It is no workbook that can be opened: {str(error)[:120] or type(error).__name__}."
        ) from error
    found: list[tuple[str, Iterable[Row]]] = []
    for sheet in formulas.worksheets:
        if sheet.max_row > MOST_ROWS or sheet.max_column > MOST_COLUMNS:
            raise WorkbookError(
                f"Worksheet {sheet.title} reaches to row {sheet.max_row}, column {sheet.max_column}; a "
                "record has fewer.",
                "Delete the cells beyond the record, and save again.",
                "Or save the record alone as CSV UTF-8.",
            )
        found.append((sheet.title, list(_rows(sheet, values[sheet.title]))))
    return found


def _refuse_unsafe(data: bytes) -> None:
    faults = (
        zipfile.BadZipFile, zipfile.LargeZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, OSError,
    )  # fmt: skip
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            parts = archive.infolist()
            large = len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > LARGEST_PART
            # What unpacks to more than it says stops at the size it says: the archive is then damaged.
            # UTF-16 has zeros between the letters.
            texts = [
                archive.read(part).replace(b"\0", b"")
                for part in ([] if large else parts)
                if part.filename.lower().endswith((".xml", ".rels"))
            ]
    except faults as error:
        raise WorkbookError(
            "The archive is damaged or locked.", "Save it again, without a password.", "Or save as CSV UTF-8."
        ) from error
    if large:
        raise WorkbookError(
            "It unpacks to more than any record.",
            "See that it is a record.",
            "Save the record alone as CSV UTF-8.",
        )
    if any(b"<!DOCTYPE" in text or b"<!ENTITY" in text for text in texts):
        raise WorkbookError("It defines letters of its own, which no spreadsheet does.")


def _rows(sheet: Any, values: Any) -> Iterator[Row]:
    merged: dict[tuple[int, int], str] = {}
    for area in sheet.merged_cells.ranges:
        for down in range(area.min_row, area.max_row + 1):
            for across in range(area.min_col, area.max_col + 1):
                merged[down, across] = str(area)
    for cells in sheet.iter_rows():
        row: Row = []
        for cell in cells:
            place = Place(cell.row, cell.column, f"{sheet.title}!{cell.coordinate}")
            shown = values[cell.coordinate].value
            text, how = _said(cell, shown)
            area = merged.get((cell.row, cell.column))
            if area is not None and cell.row > 1:
                how = (
                    f"!merged: part of the merged cells {area}, so that it cannot be told which rows the "
                    "value is for"
                )
            row.append((text, place, how))
        # Empty cells to the right are no cells of a row.
        while row and not row[-1][0].strip() and not row[-1][2]:
            row.pop()
        yield row


def _said(cell: Any, shown: Any) -> tuple[str, str]:
    """Give the text of a cell and how it came to be that text."""
    value = cell.value
    if cell.data_type == "f" or (isinstance(value, str) and value.startswith("=") and cell.data_type != "s"):
        formula = str(getattr(value, "text", value))[:80]
        if shown is None:
            return "", f"!formula: the formula {formula}, which no program has worked out"
        text, how = _of_value(shown, cell)
        return text, how if how.startswith("!") else f"!calculated: {formula}"
    if cell.data_type == "e":
        return "", f"!error: the error {value}"
    return _of_value(value, cell)


def _of_value(value: Any, cell: Any) -> tuple[str, str]:
    if value is None:
        return "", ""
    if isinstance(value, bool):
        return "", f"!boolean: {'yes' if value else 'no'} (a truth value) where a value belongs"
    if isinstance(value, str):
        if value.startswith("#") and value.endswith(("!", "?", "/A", "0!")):
            return "", f"!error: the error {value}"
        return re.sub(r"_x000D_", "", value), ""
    if isinstance(value, datetime):
        timed = any(sign in str(cell.number_format).lower() for sign in ("h", "s")) or value.time() != time()
        return (value.strftime("%Y-%m-%d %H:%M:%S" if timed else "%Y-%m-%d"), "date cell")
    if isinstance(value, date):
        return value.isoformat(), "date cell"
    if isinstance(value, time):
        return value.strftime("%H:%M:%S"), "time cell"
    if isinstance(value, timedelta):
        seconds = round(value.total_seconds())
        hours, rest = divmod(seconds, 3600)
        return f"{hours:02d}:{rest // 60:02d}:{rest % 60:02d}", "time cell"
    if isinstance(value, (int, float)):
        # A worksheet keeps binary fractions; 15 digits are what a spreadsheet shows at most.
        return f"{value:.15g}", "number cell"
    return "", f"!other: something that is no value ({type(value).__name__})"
