"""CSV as other people's spreadsheets save it: bytes become text, and text cells that know their places.

UTF-8 with or without a mark, or UTF-16 with one; comma, semicolon or tab between the cells; RFC 4180 for
quotation marks. Nothing is guessed and nothing repaired. What a fault means for a record, a log, a study or a
list of names, each of them says in its own words.
"""

import re
from collections.abc import Iterator
from functools import cache
from typing import Literal, NamedTuple

from fillmark.diagnostics import Span

DELIMITERS = (",", ";", "\t")
_WIDE = (b"\xff\xfe", b"\xfe\xff")

MOST_CELLS = 1000
"""Cells of the widest row that is read; a hostile one could make a million findings of its headings."""

Why = Literal["large", "half", "letters", "nul", "open", "behind", "wide"]
"""large: more bytes than allowed; half: UTF-16 without a mark; letters: bytes of another encoding; nul: a NUL sign;
open: a quotation mark never closed; behind: something stands behind a closing one; wide: too many cells in a row."""


class NoCsvError(ValueError):
    """Why bytes or a text are no CSV; `line` from 1, `at` the byte that is no letter."""

    def __init__(self, why: Why, line: int = 1, at: int = 0) -> None:
        super().__init__(f"{why} in line {line}")
        self.why = why
        self.line = line
        self.at = at


class Cell(NamedTuple):
    """Text of a cell, without its quotation marks, and its place, with them; lines and columns from 1."""

    text: str
    line: int
    column: int
    end_line: int
    end_column: int

    @property
    def span(self) -> Span:
        """Give its place."""
        return Span(self.line, self.column, self.end_line, self.end_column)


def decoded(data: bytes, *, largest: int, nul: bool = False) -> str:
    r"""Make bytes a text whose lines end in `\n`; NoCsvError where it is none, or larger than `largest` bytes.

    `nul` tells whether NUL signs may stand in it, for a reader that judges each cell by itself.
    """
    if len(data) > largest:
        raise NoCsvError("large")
    wide = data[:2] in _WIDE
    if not wide and b"\0" in data[:2]:
        raise NoCsvError("half")
    try:
        text = data.decode("utf-16" if wide else "utf-8-sig")
    except UnicodeDecodeError as error:
        raise NoCsvError("letters", data.count(b"\n", 0, error.start) + 1, error.start) from error
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if not nul and "\0" in text:
        raise NoCsvError("nul", text.count("\n", 0, text.index("\0")) + 1)
    return text


def encoding_of(data: bytes) -> str:
    """Name the encoding that bytes are read by."""
    return "UTF-16" if data[:2] in _WIDE else "UTF-8"


def delimiter_of(headings: str) -> str:
    """Find what stands between the cells of the line with the headings: the sign it has most of, outside quotes."""
    bare = re.sub(r'"[^"]*"', "", headings)
    return max(DELIMITERS, key=bare.count)


def parted(text: str, delimiter: str) -> Iterator[list[Cell]]:
    r"""Part a text whose lines end in `\n` into rows of cells.

    NoCsvError at a quotation mark out of place and at a row of more than MOST_CELLS cells.
    Spaces round a quoted cell do not count; an empty line is a row of one empty cell.
    """
    plain, quoted = _patterns(delimiter)
    at, line, start = 0, 1, 0
    row: list[Cell] = []
    while at < len(text) or row:
        column = at - start + 1
        opened = quoted.match(text, at)
        if opened is None:
            found = plain.match(text, at)
            end = at if found is None else found.end()
            row.append(Cell(text[at:end], line, column, line, end - start + 1))
        else:
            if opened[2] is None:
                raise NoCsvError("open", line)
            inside, first, end = opened[1], line, opened.end()
            if "\n" in inside:
                line += inside.count("\n")
                start = opened.start(1) + inside.rindex("\n") + 1
            if text[end : end + 1] not in ("", delimiter, "\n"):
                raise NoCsvError("behind", line)
            row.append(Cell(inside.replace('""', '"'), first, column, line, end - start + 1))
        if len(row) > MOST_CELLS:
            raise NoCsvError("wide", line)
        if text[end : end + 1] == delimiter:
            at = end + 1
            continue
        yield row
        row = []
        at, line, start = end + 1, line + 1, end + 1


@cache
def _patterns(delimiter: str) -> tuple[re.Pattern[str], re.Pattern[str]]:
    return re.compile(rf"[^{re.escape(delimiter)}\n]*"), re.compile(r' *"([^"]*(?:""[^"]*)*)(?:(") *)?')
