"""Control charts of single values: limits by hand and by the tables' factor, and rules on planted stretches."""

import random
from itertools import pairwise
from math import pi, sqrt

import pytest
from scipy import integrate, stats

from fillmark.physics.control import MOVING_RANGE_FACTOR, RULES, control_limits, signals


def rules(values, centre=0.0, s=1.0):
    return [(f.rule, f.first, f.last, f.side) for f in signals(values=values, centre=centre, s=s)]


def test_the_factor_is_the_mean_range_of_two_normal_values():
    # E|X1 - X2| of two standard normal values, by integration: 2/sqrt(pi), d2 of n = 2 in every table: 1.128.
    mean, _ = integrate.quad(lambda x: 2 * x * stats.norm.pdf(x, scale=sqrt(2)), 0, 40)
    assert mean == pytest.approx(2 / sqrt(pi), abs=1e-9)
    assert MOVING_RANGE_FACTOR == pytest.approx(mean, abs=5e-4)


def test_limits_by_hand():
    # 10, 12, 11, 13: moves 2, 1, 2, mean 5/3; s = 1.6667/1.128 = 1.47754; centre 11.5; 3 s = 4.43262.
    limits = control_limits(values=[10, 12, 11, 13])
    assert (11.5, 1.47754, 7.06738, 15.93262) == pytest.approx(limits, abs=1e-5)


def test_a_step_does_not_swell_s_as_it_swells_the_standard_deviation():
    r = random.Random(4)
    noise = [r.gauss(0, 1) for _ in range(400)]
    stepped = [v + (8 if i >= 200 else 0) for i, v in enumerate(noise)]
    assert control_limits(values=noise).s == pytest.approx(1, rel=0.1)
    assert control_limits(values=stepped).s == pytest.approx(1, rel=0.12)
    assert stats.tstd(stepped) > 4


def test_limits_need_two_values():
    with pytest.raises(ValueError, match="2 values"):
        control_limits(values=[1.0])


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([0, 0, 3.01, 0], [("beyond-3s", 2, 2, 1)]),
        ([0, 0, 3.0, 0], []),
        ([0, -3.5, -3.5, 0], [("beyond-3s", 1, 2, -1), ("2-of-3-beyond-2s", 1, 2, -1)]),
        ([-0.5, *[0.5] * 8, -0.5], [("8-one-side", 1, 8, 1)]),
        ([-0.5, *[0.5] * 7, -0.5], []),
        ([*[0.4, 0.5] * 3, 0.4, 0.0, 0.4], []),  # a value on the centre is on neither side
        ([0, 2.1, 0, 2.1, 0], [("2-of-3-beyond-2s", 1, 3, 1)]),
        ([0, 2.1, 0, 0, 2.1, 0], []),
        ([0, 2.1, 0, -2.1, 0], []),
        ([0, -1.1, -1.2, 0, -1.1, -1.3, 0], [("4-of-5-beyond-1s", 1, 5, -1)]),
        ([0, -1.1, -1.2, 0, 0, -1.1, -1.3, 0], []),
        ([-0.9, -0.5, -0.1, 0.3, 0.6, 0.9, 0.2], [("6-one-way", 0, 5, 1)]),
        ([0.9, 0.6, 0.3, 0.3, 0.0, -0.3, -0.6], []),
        ([0.9, 0.6, 0.3, 0.1, -0.2, -0.5, -0.6, 0.0], [("6-one-way", 0, 6, -1)]),
    ],
)
def test_each_rule_just_met_and_just_not(values, expected):
    assert expected == rules(values)


def test_a_long_run_is_told_once():
    assert [("8-one-side", 0, 49, 1)] == rules([0.5, 0.6] * 25)


def test_without_scatter_there_is_no_signal():
    assert [] == rules([5.0] * 20, centre=5.0, s=0.0)


def test_the_rules_agree_with_a_plain_count_over_random_walks():
    """Every rule against a slow search that takes each window by itself."""
    r = random.Random(11)
    for _ in range(40):
        values = [r.gauss(0, 1.4) for _ in range(60)]
        for rule, beyond, window, least in (
            ("beyond-3s", 3, 1, 1),
            ("8-one-side", 0, 8, 8),
            ("2-of-3-beyond-2s", 2, 3, 2),
            ("4-of-5-beyond-1s", 1, 5, 4),
        ):
            for side in (1, -1):
                hit = [side * v > beyond for v in values]
                ends = {
                    end
                    for end in range(60)
                    if hit[end] and sum(hit[max(0, end - window + 1) : end + 1]) >= least
                }
                found = [f for f in signals(values=values, centre=0, s=1) if (f.rule, f.side) == (rule, side)]
                covered = {i for f in found for i in range(f.first, f.last + 1)}
                assert ends <= covered
                assert all(hit[f.first] and f.last in ends for f in found)
                assert all(a.last < b.first for a, b in pairwise(found))


def test_chance_breaks_the_first_rule_about_as_often_as_the_normal_curve_says():
    r = random.Random(2)
    values = [r.gauss(0, 1) for _ in range(40_000)]
    found = signals(values=values, centre=0, s=1)
    beyond = sum(f.last - f.first + 1 for f in found if f.rule == "beyond-3s")
    assert beyond == pytest.approx(40_000 * 2 * stats.norm.sf(3), rel=0.3)  # 0.0027: three in a thousand


def test_every_rule_has_words():
    assert {"beyond-3s", "8-one-side", "2-of-3-beyond-2s", "4-of-5-beyond-1s", "6-one-way"} == set(RULES)
