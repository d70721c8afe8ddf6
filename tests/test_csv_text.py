"""Bytes to text to cells: against the csv module, and by hand where that gives no places."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.csv_text import MOST_CELLS, NoCsvError, decoded, delimiter_of, encoding_of, parted
from fillmark.diagnostics import Span

MANY = 1000


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_marks_and_line_ends_of_all_spreadsheets(encoding, end):
    assert "a;µ\nb" == decoded(f"a;µ{end}b".encode(encoding), largest=MANY)


@pytest.mark.parametrize(
    ("data", "why", "line", "at"),
    [
        (b"x" * (MANY + 1), "large", 1, 0),
        ("a,b".encode("utf-16-le"), "half", 1, 0),
        ("a,b".encode("utf-16-be"), "half", 1, 0),
        (b"a\nb\nM\xfcller\n", "letters", 3, 5),
        ("a".encode("utf-16") + b"b", "letters", 1, 4),
        (b"abc\r\nd\x00e", "nul", 2, 0),
    ],
)
def test_bytes_that_are_no_text(data, why, line, at):
    with pytest.raises(NoCsvError) as error:
        decoded(data, largest=MANY)
    assert (why, line, at) == (error.value.why, error.value.line, error.value.at)


def test_a_nul_sign_may_be_left_to_the_reader():
    assert "ab\0c" == decoded(b"ab\x00c", largest=MANY, nul=True)


def test_the_encoding_has_a_name():
    assert ("UTF-16", "UTF-8") == (encoding_of("a".encode("utf-16")), encoding_of(b"a"))


@pytest.mark.parametrize(
    ("line", "delimiter"),
    [
        ("a,b", ","),
        ("a;b", ";"),
        ("a\tb", "\t"),
        ("a", ","),
        ('"a;b;c",d', ","),
        ("a,b;c", ","),
        ("a;b,c;d", ";"),
    ],
)
def test_what_stands_between_the_cells(line, delimiter):
    assert delimiter == delimiter_of(line)


def test_cells_know_their_places():
    found = [[(c.text, c.span) for c in r] for r in parted('a,"b ""x"", y"\nc,"two\nlines",d\n', ",")]
    assert [
        [("a", Span(1, 1, 1, 2)), ('b "x", y', Span(1, 3, 1, 15))],
        [("c", Span(2, 1, 2, 2)), ("two\nlines", Span(2, 3, 3, 7)), ("d", Span(3, 8, 3, 9))],
    ] == found


@given(st.lists(st.lists(st.text(st.characters(codec="utf-8", exclude_characters="\r"), max_size=8), min_size=2,
                         max_size=4), min_size=1, max_size=5), st.sampled_from(",;\t"))  # fmt: skip
def test_cells_are_those_that_the_csv_module_wrote(rows, delimiter):
    out = io.StringIO()
    csv.writer(out, lineterminator="\n", delimiter=delimiter, quoting=csv.QUOTE_ALL).writerows(rows)
    assert rows == [[c.text for c in r] for r in parted(out.getvalue(), delimiter)]


@given(st.text(alphabet='ab",\n', max_size=12))
def test_cells_are_those_that_the_csv_module_reads(text):
    try:
        expected = [row or [""] for row in csv.reader(io.StringIO(text, newline=""), strict=True)]
    except csv.Error:
        expected = None
    try:
        actual = [[c.text for c in r] for r in parted(text, ",")]
    except NoCsvError:
        actual = None
    assert expected == actual


@pytest.mark.parametrize(
    ("text", "why", "line"),
    [('a,b\nc,"d\ne,f\n', "open", 2), ('a,b\n"x\ny"z,1\n', "behind", 3), ('a "b",c\n"d"e', "behind", 2)],
)
def test_quotation_marks_out_of_place(text, why, line):
    with pytest.raises(NoCsvError) as error:
        list(parted(text, ","))
    assert (why, line) == (error.value.why, error.value.line)


def test_spaces_round_a_quoted_cell_do_not_count():
    assert [["a", "b;c", "d"]] == [[c.text for c in r] for r in parted('a; "b;c" ;d', ";")]


def test_a_row_wider_than_any_table_is_refused_at_its_line():
    widest = ",".join(["1"] * MOST_CELLS)
    assert MOST_CELLS == len(next(parted(widest, ",")))
    with pytest.raises(NoCsvError) as error:
        list(parted(f"a,b\n{widest},1", ","))
    assert ("wide", 2) == (error.value.why, error.value.line)
