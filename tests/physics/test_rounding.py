from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.physics import rounding

D = Decimal

# ISO 80000-1:2009, Annex B, from memory: value, increment, by rule A (even), by rule B (higher).
EXAMPLES = [
    ("12.223", "0.1", "12.2", "12.2"),
    ("12.251", "0.1", "12.3", "12.3"),
    ("12.275", "0.1", "12.3", "12.3"),
    ("1222.3", "10", "1220", "1220"),
    ("1225.1", "10", "1230", "1230"),
    ("1227.5", "10", "1230", "1230"),
    ("12.25", "0.1", "12.2", "12.3"),
    ("12.35", "0.1", "12.4", "12.4"),
    ("1225.0", "10", "1220", "1230"),
    ("1235.0", "10", "1240", "1240"),
]


@pytest.mark.parametrize(("value", "increment", "even", "up"), EXAMPLES)
def test_examples_of_the_standard(value, increment, even, up):
    assert D(even) == rounding.round_to_increment(D(value), D(increment), "half-even")
    assert D(up) == rounding.round_to_increment(D(value), D(increment), "half-up")


def test_rounding_twice_is_not_rounding_once():
    # ISO 80000-1:2009, Annex B, from memory: 12.251 gives 12.3, but 12.2 by way of 12.25.
    by_way = rounding.round_to_increment(D("12.251"), D("0.01"), "half-even")
    assert D("12.2") == rounding.round_to_increment(by_way, D("0.1"), "half-even")
    assert D("12.3") == rounding.round_to_increment(D("12.251"), D("0.1"), "half-even")


# By hand: value, increment, even, up.
@pytest.mark.parametrize(
    ("value", "increment", "even", "up"),
    [
        ("2.25", "0.5", "2.0", "2.5"),
        ("2.75", "0.5", "3.0", "3.0"),
        ("6", "4", "8", "8"),
        ("10", "4", "8", "12"),
        ("2.675", "0.05", "2.70", "2.70"),
        ("2.625", "0.05", "2.60", "2.65"),
        ("1250", "100", "1200", "1300"),
        ("1250", "1E+2", "1200", "1300"),
        ("2.675", "0.01", "2.68", "2.68"),
        ("2.665", "0.01", "2.66", "2.67"),
        ("-12.25", "0.1", "-12.2", "-12.3"),
        ("-0.5", "1", "0", "-1"),
        ("-0.04", "0.1", "0.0", "0.0"),
        ("0.15", "0.3", "0.0", "0.3"),
        ("0.45", "0.3", "0.6", "0.6"),
        ("10.5", "7", "14", "14"),
        ("17.5", "7", "14", "21"),
    ],
)
def test_ties_by_hand(value, increment, even, up):
    for rule, expected in (("half-even", even), ("half-up", up)):
        actual = rounding.round_to_increment(D(value), D(increment), rule)
        assert D(expected) == actual
        assert expected == str(actual)


decimals = st.decimals(min_value=-(10**6), max_value=10**6, allow_nan=False, places=4)
increments = st.sampled_from(
    [D(i) for i in ("0.001", "0.05", "0.3", "0.5", "1", "4", "7", "25", "100", "1E+3")]
)
rules = st.sampled_from(["half-even", "half-up"])


@given(value=decimals, increment=increments, rule=rules)
def test_nearest_multiple_by_exact_fractions(value, increment, rule):
    actual = Fraction(rounding.round_to_increment(value, increment, rule))
    quotient = Fraction(value) / Fraction(increment)
    if rule == "half-even":
        multiple = round(quotient)
    else:
        size = (abs(quotient) + Fraction(1, 2)).__floor__()
        multiple = size if quotient >= 0 else -size
    assert multiple * Fraction(increment) == actual


@given(value=decimals, increment=increments, rule=rules)
def test_rounding_again_changes_nothing(value, increment, rule):
    once = rounding.round_to_increment(value, increment, rule)
    assert once == rounding.round_to_increment(once, increment, rule)


@pytest.mark.parametrize("increment", ["0", "-1", "NaN", "Infinity"])
def test_increments_that_cannot_be(increment):
    with pytest.raises(ValueError, match="increment"):
        rounding.round_to_increment(D(1), D(increment), "half-even")


@pytest.mark.parametrize("value", ["NaN", "Infinity", "1E+40"])
def test_values_that_cannot_be_rounded(value):
    with pytest.raises(ValueError, match="cannot be rounded"):
        rounding.round_to_increment(D(value), D("0.1"), "half-even")


def test_unknown_rule_and_method_are_refused():
    with pytest.raises(ValueError, match="rounding rule"):
        rounding.round_to_increment(D(1), D(1), "half-down")
    with pytest.raises(ValueError, match="method"):
        rounding.decide(value=D(1), lower=None, upper=None, method="exact", increment=D(1), rule="half-even")


# Decisions ------------------------------------------------------------------------------------------------


def decide(value, method, *, lower=None, upper=None):
    limits = [None if limit is None else D(limit) for limit in (lower, upper)]
    return rounding.decide(
        value=D(value), lower=limits[0], upper=limits[1], method=method, increment=D(1), rule="half-even"
    )


def test_absolute_and_rounding_method_part_ways():
    # ASTM E29, from memory: at a limit of 500, 500.4 fails by the absolute, passes by the rounding method.
    assert decide("500.4", "absolute", upper="500") is False
    assert decide("500.4", "rounding", upper="500") is True
    assert decide("499.6", "absolute", lower="500") is False
    assert decide("499.6", "rounding", lower="500") is True


@pytest.mark.parametrize("method", ["absolute", "rounding"])
def test_a_value_on_a_limit_passes(method):
    assert decide("500", method, lower="500", upper="500") is True
    assert decide("501", method, lower="400", upper="500") is False
    assert decide("399", method, lower="400", upper="500") is False


def test_no_limit_no_failure():
    assert decide("-1000", "absolute", upper="500") is True
    assert decide("1000", "absolute", lower="500") is True


def test_limits_the_wrong_way_round_cannot_be():
    with pytest.raises(ValueError, match="above upper limit"):
        decide("1", "absolute", lower="2", upper="1")


@given(value=decimals, lower=decimals, increment=increments, rule=rules)
def test_rounding_method_moves_a_limit_by_half_an_increment_at_most(value, lower, increment, rule):
    limit = rounding.round_to_increment(lower, increment, rule)
    passes = rounding.decide(
        value=value, lower=limit, upper=None, method="rounding", increment=increment, rule=rule
    )
    if value >= limit:
        assert passes
    elif value < limit - increment / 2:
        assert not passes


def test_border_examples_of_an_even_and_an_odd_limit():
    # By hand. 800 and 1201 in steps of 1: below 800 lies 799.5, even 800; above 1201 lies 1201.5, even 1202.
    examples = rounding.border_examples(lower=D(800), upper=D(1201), increment=D(1))
    expected = [
        (D("799.5"), "half-even", D(800), False, True),
        (D("799.5"), "half-up", D(800), False, True),
        (D("1201.5"), "half-even", D(1202), False, False),
        (D("1201.5"), "half-up", D(1202), False, False),
    ]
    assert expected == [tuple(example) for example in examples]


def test_border_examples_where_the_rules_differ():
    # By hand: 801 and 1200 in steps of 1; the even neighbour of 800.5 is 800, that of 1200.5 is 1200.
    examples = rounding.border_examples(lower=D(801), upper=D(1200), increment=D(1))
    expected = [
        (D("800.5"), "half-even", D(800), False, False),
        (D("800.5"), "half-up", D(801), False, True),
        (D("1200.5"), "half-even", D(1200), False, True),
        (D("1200.5"), "half-up", D(1201), False, False),
    ]
    assert expected == [tuple(example) for example in examples]


def test_border_examples_of_one_sided_limits():
    assert [D(795), D(795)] == [
        e.value for e in rounding.border_examples(lower=D(800), upper=None, increment=D(10))
    ]
    assert () == rounding.border_examples(lower=None, upper=None, increment=D(10))
