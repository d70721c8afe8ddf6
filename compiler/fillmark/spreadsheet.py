"""CSV that a spreadsheet opens as what it says: the right letters, the right columns, and no formulas."""

import csv
import re
from collections.abc import Iterable, Sequence
from io import StringIO

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")
_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")


def csv_bytes(rows: Iterable[Sequence[object]]) -> bytes:
    """Write rows as CSV (RFC 4180: commas, CRLF), in UTF-8 with the mark by which spreadsheets know it.

    None becomes an empty cell. See `inert` for what becomes of a text that would be a formula.
    """
    out = StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerows([inert(cell) for cell in row] for row in rows)
    return b"\xef\xbb\xbf" + out.getvalue().encode("utf-8", "replace")


def inert(cell: object) -> str:
    """Write a cell; a text that a spreadsheet would run as a formula gets an apostrophe before it.

    A plain number keeps its sign.
    """
    text = "" if cell is None else str(cell).replace("\0", "")
    if text.startswith(_FORMULA) and _NUMBER.fullmatch(text) is None:
        return "'" + text
    return text
