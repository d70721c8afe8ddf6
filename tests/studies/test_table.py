"""Data files as laboratories hand them over: signs, separators, gaps, bounds, and what is no data at all."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.diagnostics import Span
from fillmark.studies.precision import columns
from fillmark.studies.table import LARGEST, read_table, twice

COLUMNS = columns(["laboratory"])


def values(table):
    return [r.numbers["value"] for r in table.rows]


def found(table):
    return [d.code for d in table.diagnostics]


@pytest.mark.parametrize(
    "text",
    [
        "laboratory,value\nA,10.5\nB,11.25\n",
        "laboratory;value\nA;10,5\nB;11,25\n",
        "laboratory\tvalue\r\nA\t10,5\r\nB\t11,25\r\n",
        'laboratory,value\nA,"10,5"\nB,"11,25"\n',
        "\ufeffLaboratory ; Value [Pa·s]\nA; 10,5 \n\nB;11,25",
        "# a remark\n\nvalue (Pa·s),laboratory,analyst\n10.5,A,x\n11.25,B,y\n",
        "laboratory;value\rA;10,5\rB;11,25",
    ],
)
def test_one_and_the_same_data(text):
    table = read_table(text.encode(), "x.csv", COLUMNS)
    assert [10.5, 11.25] == values(table)
    assert ["A", "B"] == [r.texts["laboratory"] for r in table.rows]
    assert [] == found(table)


def test_utf_16_as_spreadsheets_save_it():
    assert [10.5] == values(read_table("laboratory\tvalue\nA\t10,5\n".encode("utf-16"), "x.csv", COLUMNS))


def test_signs_of_numbers():
    table = read_table(
        "laboratory,value\nA,\u22125.5\nA,+2\nA,1e3\nA,.5\nA,\u00a07\n".encode(), "x.csv", COLUMNS
    )
    assert [-5.5, 2, 1000, 0.5, 7] == values(table)


def test_remarks_units_and_unused_headings_are_kept():
    table = read_table("# seed 7\n# lot 3\nlaboratory,value [Pa·s],room\nA,1,x\n".encode(), "x.csv", COLUMNS)
    assert ("seed 7", "lot 3") == table.remarks
    assert {"value": "Pa·s"} == table.units
    assert ("room",) == table.ignored
    assert 3 == table.heading_line
    assert 4 == table.rows[0].line


@pytest.mark.parametrize("written", [">20", "> 20", "<5", "≥ 20,5", "< 0.5 Pa·s"])
def test_a_bound_is_no_number_and_is_told_why(written):
    table = read_table(f"laboratory;value\nA;10\nA;{written}\n".encode(), "x.csv", COLUMNS)
    assert [10] == values(table)
    [d] = table.diagnostics
    assert ("STU05", Span(3, 3, 3, 3 + len(written))) == (d.code, d.span)
    way = "highest" if written[0] in ">≥" else "lowest"
    assert f"{way} results are missing" in d.message
    assert (1, 1) == (table.bounds, table.left_out)


@pytest.mark.parametrize("written", ["", "n/a", "-", "NaN", "missing"])
def test_a_missing_cell_is_left_out_and_told(written):
    table = read_table(f"laboratory,value\nA,10\nB,{written}\n".encode(), "x.csv", COLUMNS)
    assert [10] == values(table)
    assert ["STU07"] == found(table)


def test_a_short_row_lacks_its_cells():
    table = read_table(b"laboratory,value\nA\nB,2\n", "x.csv", COLUMNS)
    assert [2] == values(table)
    assert ["STU07"] == found(table)


@pytest.mark.parametrize("written", ["ten", "10.5 Pa·s", "1e999", "=1+1", "10..5", "0x10", "inf", "١٠"])
def test_what_is_no_number_is_told_and_left_out(written):
    table = read_table(f"laboratory,value\nA,{written}\nA,1\n".encode(), "x.csv", COLUMNS)
    assert [1] == values(table)
    assert ["STU03"] == found(table)


def test_a_comma_with_three_digits_says_nothing_alone():
    table = read_table(b"laboratory;value\nA;1,234\nB;1,250\n", "x.csv", COLUMNS)
    assert ([], ["STU04"], True) == (values(table), found(table), table.spoilt)


def test_another_number_tells_what_the_comma_is():
    table = read_table(b"laboratory;value\nA;1,234\nB;1,25\n", "x.csv", COLUMNS)
    assert [1.234, 1.25] == values(table)


def test_point_and_comma_in_one_file_contradict_each_other():
    table = read_table(b"laboratory;value\nA;1,5\nB;1.5\n", "x.csv", COLUMNS)
    [d] = table.diagnostics
    assert "STU04" == d.code
    assert "Line 2 has a decimal comma, line 3 a decimal point" in d.message


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "holds no data"),
        (b"\n\n# nothing\n", "holds no data"),
        (b"\xff\xfe\x00", "not UTF-8"),
        (b"PK\x03\x04\x14\x00\xff\xd8", "not UTF-8"),
        (b"a,b\x00c\n", "NUL"),
        (b'laboratory,value\n"A,1\n', "taken apart"),
        ("laboratory,value\nA\u200b,1\n".encode(), "U+200B"),
        (b"x" * (LARGEST + 1), "larger than"),
        (b"laboratory,value\n" + b"A," * 200 + b"1\n", "more than 100 cells"),
        (b"laboratory,value\n" + b"A" * 600 + b",1\n", "more than 500 characters"),
    ],
)
def test_what_is_no_data_file_is_refused(data, said):
    table = read_table(data, "x.csv", COLUMNS)
    assert table.spoilt
    [d] = table.diagnostics
    assert "STU01" == d.code
    assert said in d.message
    assert 2 == len(d.ways_out)


def test_headings_that_lack_a_column_or_have_it_twice():
    table = read_table(b"laboratori,value,viscosity\nA,1,2\n", "x.csv", COLUMNS)
    assert table.spoilt
    assert ["STU02", "STU02"] == found(table)
    assert "Did you mean laboratori for it?" in table.diagnostics[0].message
    assert "2 times" in table.diagnostics[1].message


def test_many_faults_of_one_kind_are_counted():
    table = read_table(b"laboratory,value\n" + b"A,x\n" * 50, "x.csv", COLUMNS)
    assert 9 == len(table.diagnostics)
    assert table.diagnostics[-1].message.startswith("42 more of the same kind")
    assert 50 == table.left_out


def test_one_result_twice():
    table = read_table(b"laboratory,replicate,value\nA,1,1\nA,2,2\na,1,3\n", "x.csv", COLUMNS)
    said: list = []
    assert {4} == twice(table, ["laboratory", "replicate"], said)
    [d] = said
    assert "STU06" == d.code
    assert "on line 2 already" in d.message


@given(st.binary(max_size=300))
def test_nothing_that_comes_in_stops_the_reader(data):
    table = read_table(data, "x.csv", COLUMNS)
    assert table.spoilt or all(r.numbers for r in table.rows)


@given(st.text(alphabet='A1.,;\t"#<>-\n\u2212 e', max_size=80))
def test_nothing_written_behind_right_headings_stops_the_reader(text):
    table = read_table(f"laboratory;value\n{text}".encode(), "x.csv", COLUMNS)
    assert len(table.rows) + table.left_out == len({*range(len(table.rows) + table.left_out)})
    for row in table.rows:
        assert table.cell(row, "value").line == row.line


def test_a_cell_behind_a_quoted_one_has_its_own_place():
    table = read_table(b'laboratory,value\n"A, B", x\n', "x.csv", COLUMNS)
    assert Span(2, 9, 2, 10) == table.diagnostics[0].span


def test_a_point_with_three_digits_among_decimal_commas_says_how_it_may_be_read():
    table = read_table(b"laboratory;value\nA;1.234\nB;1,25\n", "x.csv", COLUMNS)
    [d] = table.diagnostics
    assert ("STU04", 2) == (d.code, d.span.line)
    assert "1.234 can be read as 1.234 or as 1234; the others have decimal commas." == d.message
    point = read_table(b"laboratory;value\nA;1,234\nB;1.25\n", "x.csv", COLUMNS)
    assert (
        "1,234 can be read as 1.234 or as 1234; the others have decimal points."
        == point.diagnostics[0].message
    )


def test_a_quotation_mark_never_closed_is_told_at_its_line():
    table = read_table(b'# remark\nlaboratory,value\nA,1\n"B,2\nC,3\n', "x.csv", COLUMNS)
    assert [("STU01", Span(4, 1, 4, 5))] == [(d.code, d.span) for d in table.diagnostics]
