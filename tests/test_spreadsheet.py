"""CSV for spreadsheets."""

import csv
from io import StringIO

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.spreadsheet import csv_bytes, inert


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+SUM(A1)", "-2+3", "@cmd", "\t=1", "\r=1", "\n=1", "=", '=HYPERLINK("x")', "-", "+49 30 1"],
)
def test_a_text_that_would_be_a_formula_is_made_a_text(text):
    assert f"'{text}" == inert(text)


@pytest.mark.parametrize(("cell", "written"), [
    (-5, "-5"), ("-0.5", "-0.5"), ("+1,5", "+1,5"), (None, ""),
    ("12 mPa·s", "12 mPa·s"), ("a=b", "a=b"), ("a\0b", "ab"),
])  # fmt: skip
def test_numbers_and_plain_texts_stay_as_they_are(cell, written):
    assert written == inert(cell)


def test_the_file_is_rfc_4180_with_the_mark_of_utf_8():
    assert b'\xef\xbb\xbfa,"b ""c"""\r\n1,"x,\ny"\r\n' == csv_bytes([["a", 'b "c"'], [1, "x,\ny"]])


@given(st.lists(st.lists(st.text(st.characters(exclude_categories=["Cs"])), min_size=1), min_size=1))
def test_what_is_written_reads_back_and_no_cell_is_a_formula(rows):
    text = csv_bytes(rows).decode("utf-8-sig")
    back = list(csv.reader(StringIO(text, newline="")))
    kept = [[inert(cell) for cell in row] for row in rows]
    # A row of one empty cell reads back as an empty row or one empty cell.
    assert [r or [""] for r in kept] == [r or [""] for r in back]
    # What a spreadsheet runs begins with one of these (OWASP, CSV injection; from memory).
    assert not any(cell[:1] in tuple("=@\t\r\n") for row in back for cell in row if cell)
