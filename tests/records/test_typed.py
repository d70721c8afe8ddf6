"""What people type: numbers, days and times, understood or refused, never guessed."""

from datetime import date, datetime, time
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.decimals import decimal_sign
from fillmark.records.typed import Refused, absent, clock, day, moment, number, plain


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("48.6", "48.6"), ("48,6", "48.6"), (" 9,72 ", "9.72"), ("0", "0"), ("-0.1", "-0.1"), ("\u22120.1", "-0.1"),
        ("+0.1", "0.1"), ("1e2", "100"), ("9.72E+00", "9.72"), ("0,500", "0.5"), ("0.500", "0.5"), ("12345", "12345"),
        ("1.234", "1.234"), ("1234,5", "1234.5"), ("48.6\u00a0%", "48.6"), ("48.6 %", "48.6"), ("50.10", "50.1"),
    ],
)  # fmt: skip
def test_a_number_is_read(text, value):
    assert Decimal(value) == number(text, unit="%").value


@pytest.mark.parametrize(
    "text",
    [
        "1,234", "12,345", "999,999", "1.234,5", "1,234.5", "1 234", "1'234", "1_234", ".5", "5.", ",5",
        "1.2.3", "1,2,3",
        "abc", "n/a", "nan", "inf", "∞", "٤٨", "４８", "0x1f", "1e999", "48.6 48.7", "48.6/2", "=48.6", "'48.6", "--1",
        "<", "<<2", "≤2", "1" * 200, "48,6.1", "12..5", "#DIV/0!", "TRUE", "½",
    ],
)  # fmt: skip
def test_what_is_no_number_for_certain_is_refused_with_two_ways_out(text):
    with pytest.raises(Refused) as refused:
        number(text, unit="%", bounds=True)
    assert 2 == len(refused.value.ways)
    assert refused.value.problem.endswith(".")


@pytest.mark.parametrize(
    ("text", "unit", "said", "way"),
    [
        ("48.6 / 48.8", "%", "more than one number", "no mean is made"), ("48.6/48.8", "%", "more than one number", ""),
        ("48.6-48.8", "%", "more than one number", ""), ("48.6 \u00b1 0.2", "%", "more than one number", ""),
        ("48. 6", "%", "gap at its decimal sign", "48.6"), ("48 ,6", "%", "gap at its decimal sign", "48.6"),
        ("~48", "%", "an estimate", ""), ("ca. 48", "%", "an estimate", ""),
        ("\u20130.2", "%", "no minus sign", "Write -0.2"), ("-.2", "%", "begins with its decimal", "Write -0.2"),
        ("48\u200b.6", "%", r"cannot be seen \(U\+200B\): 48\.6", "anew by hand"),
        ("9800 mPas", "Pa\u00b7s", "mPas is no unit", "9800 mPa\u00b7s"), ("23.0 C", "\u00b0C", "C is no unit", "23.0"),
        ("48.6 \u00b0F", "%", "\u00b0F is no unit", "in %"), ("48.6 ok", "", "ok is no unit", "alone"),
        ("48.6*", "%", r"\* behind a number", "alone"), ("48..6", "%", "no number that is read", "48.6"),
        ("1e400", "%", "no number that is read", ""), ("4o.6", "%", "no number that is read", ""),
        (">", "%", "no number behind it", "the sheet prints"), (">20*", "%", r">20\*", ""),
        ("OL", "%", "OL is no number", "the bound as the sheet prints it"),
        ("12 000", "%", "in groups", "without gaps"),
    ],
)  # fmt: skip
def test_a_refusal_says_what_is_wrong_with_the_entry(text, unit, said, way):
    with pytest.raises(Refused, match=said) as refused:
        number(text, unit=unit, bounds=True)
    assert way in " ".join(refused.value.ways)


def test_the_decimal_comma_is_told():
    assert "decimal comma" == number("48,6", unit="%").how
    assert not number("48.6", unit="%").how


def test_three_digits_after_a_comma_are_decimals_only_where_the_record_shows_it():
    assert "," == decimal_sign(["48,6", "9,720"])
    assert Decimal("9.720") == number("9,720", unit="Pa·s", comma=",").value
    with pytest.raises(Refused, match=r"9\.720 or as 9720"):
        number("9,720", unit="Pa·s", comma="")
    # One who writes decimal commas may mean a group of digits by a point.
    with pytest.raises(Refused, match="decimal commas"):
        number("9.720", unit="Pa·s", comma=",")
    assert "both" == decimal_sign(["48,6", "9.7"])
    for text in ("9,720", "9.720"):
        with pytest.raises(Refused, match="both signs"):
            number(text, unit="Pa·s", comma="both")
    assert "" == decimal_sign(["1,234", "1.234", "48", "abc", ""])


def test_a_unit_written_with_the_number_is_heeded():
    # 1 Pa·s = 1000 mPa·s, SI Brochure
    read = number("9720 mPa·s", unit="Pa·s")
    assert Decimal("9.72") == read.value
    assert "9720 mPa·s is 9.72 Pa·s" == read.how
    assert Decimal("0.005") == number("9.72", unit="Pa·s").half
    assert Decimal("0.0005") == read.half
    with pytest.raises(Refused, match="in rpm"):
        number("20 rpm", unit="Pa·s")
    with pytest.raises(Refused, match="stands beside it"):
        number("9720 mPa·s", unit="Pa·s", written_unit="P")
    assert Decimal("9.72") == number("9720 mPa·s", unit="Pa·s", written_unit="Pa·s").value
    assert Decimal("9.72") == number("9720", unit="Pa·s", written_unit="mPa·s").value
    with pytest.raises(Refused, match="no unit"):
        number("9720", unit="Pa·s", written_unit="furlongs")


def test_a_bound_is_read_only_where_one_may_stand():
    assert "<" == number("<2000", unit="mPa·s", bounds=True).bound
    assert Decimal(2) == number("> 2 Pa·s", unit="Pa·s", bounds=True).value
    with pytest.raises(Refused, match="is a bound"):
        number("< 10", unit="%")


@given(st.decimals(allow_nan=False, allow_infinity=False, places=2, min_value=-10000, max_value=10000))
def test_every_plain_decimal_is_read_as_itself_with_point_and_comma(value):
    text = f"{value:f}"
    assert value == number(text, unit="").value
    assert value == number(text.replace(".", ","), unit="").value


@given(st.integers(1, 999), st.integers(0, 999))
def test_a_comma_with_three_digits_is_always_refused_without_a_hint(whole, part):
    with pytest.raises(Refused):
        number(f"{whole},{part:03d}", unit="")


@given(st.text(max_size=80))
def test_whatever_is_typed_is_a_finite_number_or_refused(text):
    for comma in ("", ",", ".", "both"):
        try:
            read = number(text, unit="Pa·s", comma=comma, bounds=True)
        except Refused:
            continue
        else:
            assert read.value.is_finite()
            assert any(c.isdigit() for c in text)


@given(st.text(alphabet="0123456789,.-+<>eE %", max_size=12))
def test_no_digit_is_dropped_or_made_up(text):
    try:
        read = number(text, unit="")
    except Refused:
        return
    mantissa = text.lower().partition("e")[0]
    digits = "".join(c for c in mantissa if c.isdigit()).lstrip("0")
    assert digits.rstrip("0") == "".join(map(str, read.value.as_tuple().digits)).strip("0")


@given(st.text(max_size=40))
def test_whatever_is_typed_as_a_time_is_one_or_refused(text):
    for reader, kind in ((day, date), (clock, time), (moment, datetime)):
        try:
            read = reader(text)
        except Refused:
            continue
        else:
            assert isinstance(read, kind)


def test_days_and_times():
    assert date(2026, 12, 2) == day("2026-12-02")
    assert date(2026, 12, 2) == day("2026-12-02 00:00:00")
    assert time(14, 5) == clock("14:05")
    assert time(9, 5, 7) == clock("9:05:07")
    assert "2026-12-02T14:05:00" == moment("2026-12-02 14:05").isoformat()
    assert "2026-12-02T14:05:01" == moment("2026-12-02T14:05:01").isoformat()


@pytest.mark.parametrize(
    ("reader", "text", "said"),
    [
        (day, "03/04/2026", "day first or the month first"), (day, "2.12.2026", "day first or the month first"),
        (day, "2 Dec 2026", "not written"), (day, "2026-02-30", "There is no day"), (day, "2026-12", "not written"),
        (day, "46358", "2026-12-02"), (moment, "2026-12-02", "no time of day"), (moment, "2026-12-02 14:05Z",
        "time zone"),
        (moment, "2026-12-02T14:05+01:00", "time zone"), (clock, "2:05 pm", "not written"), (clock, "24:00",
        "There is no time"),
        (clock, "14.05", "not written"), (clock, "14:65", "There is no time"), (moment, "46358.5868", "spreadsheet"),
        (day, "0026-12-02", "no year"), (day, "9999-12-31", "no year"),
        (day, "2026-12-02 08:00", "not written"), (clock, "", "not written"), (day, "２０２６-12-02", "not written"),
    ],
)  # fmt: skip
def test_other_spellings_are_refused_with_what_they_might_mean(reader, text, said):
    # Day 46358 of a spreadsheet is 2026-12-02: 1899-12-30 and 46358 days, counted with Python's calendar.
    with pytest.raises(Refused, match=said):
        reader(text)


def test_absent_and_plain():
    assert [True, True, True, False, False] == [absent(t) for t in ("n/a", " N/A ", "–", "", "none")]
    # The sheet asks for n/a and initials.
    assert [True] * 4 == [absent(t) for t in ("n/a AO", "n/a, A. Osei", "n.a.", "N/A\u00a0pm")]
    assert [False] * 4 == [absent(t) for t in ("n/a 48.6", "n/aAO", "nano", "48.6 n/a")]
    assert ["9.8", "0", "100", "0.0000001", "12.3456789012"] == [
        plain(Decimal(t)) for t in ("9.80", "0.00", "1E+2", "1E-7", "12.34567890123456")
    ]
