"""Which decimal sign texts show, and which numbers stay doubtful. By hand."""

import pytest

from fillmark.decimals import bare, decimal_sign, doubtful, shown_by


@pytest.mark.parametrize(
    ("texts", "sign"),
    [
        ([], ""),
        (["12", "n/a", "", "1e3"], ""),
        (["1,234", "-12.345"], ""),
        (["1,5"], ","),
        (["0,234"], ","),
        (["1,2345", "9,720"], ","),
        (["> 20.5", "1,234"], "."),
        (["48,6", "9.7"], "both"),
    ],
)
def test_the_sign_that_is_shown_beyond_doubt(texts, sign):
    assert sign == decimal_sign(texts)


@pytest.mark.parametrize(
    ("number", "sign", "expected"),
    [
        ("1,234", "", True),
        ("1,234", ".", True),
        ("1,234", "both", True),
        ("1,234", ",", False),
        ("1.234", "", False),
        ("1.234", ".", False),
        ("1.234", ",", True),
        ("1.234", "both", True),
        ("0,234", "", False),
        ("1,2345", "", False),
        ("1234", "", False),
    ],
)
def test_numbers_that_can_be_read_in_two_ways(number, sign, expected):
    assert expected == doubtful(number, sign)


def test_signs_are_written_plainly():
    assert "-1 5" == bare("\u22121\u00a05 ")
    assert "," == shown_by("\u22651,5")
