"""Two one-sided tests and their power against scipy and simulation."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fillmark.physics import equivalence as e

PAIRS = st.lists(st.tuples(st.floats(5, 15), st.floats(5, 15)), min_size=3, max_size=20).filter(
    lambda pairs: np.std([b - a for a, b in pairs]) > 1e-3
)


# scipy.stats.ttest_1samp, one side at a time.
@given(pairs=PAIRS, margin=st.floats(0.05, 5))
def test_both_tests_against_scipy(pairs, margin):
    first, second = zip(*pairs, strict=True)
    d = np.subtract(second, first)
    found = e.differences(first=first, second=second)
    tests = e.two_one_sided(found=found, lower=-margin, upper=margin)
    low = stats.ttest_1samp(d, -margin, alternative="greater").pvalue
    high = stats.ttest_1samp(d, margin, alternative="less").pvalue
    assert (low, high) == pytest.approx((tests.above_lower, tests.below_upper), rel=1e-6, abs=1e-9)
    interval = stats.t.interval(0.9, len(d) - 1, d.mean(), d.std(ddof=1) / math.sqrt(len(d)))
    assert interval == pytest.approx((tests.low, tests.high), rel=1e-7, abs=1e-9)
    assert tests.equivalent == (-margin < tests.low and tests.high < margin)


# Simulation with numpy, 200 000 sets, within five standard deviations of the share.
@pytest.mark.parametrize(
    ("n", "sd", "margin", "true"), [(11, 1, 1, 0), (5, 1, 1.5, 0.3), (3, 0.5, 1, 0), (20, 1, 0.6, 0.1)]
)
def test_power_against_simulation(n, sd, margin, true):
    x = np.random.default_rng(5).normal(true, sd, (200_000, n))
    mean, half = x.mean(1), stats.t.isf(0.05, n - 1) * x.std(1, ddof=1) / math.sqrt(n)
    share = ((mean - half > -margin) & (mean + half < margin)).mean()
    power = e.equivalence_power(sd=sd, pairs=n, lower=-margin, upper=margin, difference=true)
    assert share == pytest.approx(power, abs=5 * math.sqrt(share * (1 - share) / 200_000))


def test_at_the_margin_the_risk_is_that_of_the_test():
    assert 0.05 == pytest.approx(
        e.equivalence_power(sd=0.1, pairs=30, lower=-1, upper=1, difference=1), abs=1e-4
    )


@pytest.mark.parametrize("margin", [0.4, 1.0, 3.0])
def test_fewest_pairs_are_just_enough(margin):
    n = e.pairs_needed(sd=1, lower=-margin, upper=margin, power=0.9)
    assert e.equivalence_power(sd=1, pairs=n, lower=-margin, upper=margin) >= 0.9
    assert n == 2 or e.equivalence_power(sd=1, pairs=n - 1, lower=-margin, upper=margin) < 0.9


def test_where_no_number_of_pairs_is_enough():
    assert None is e.pairs_needed(sd=100, lower=-0.1, upper=0.1)
    assert None is e.pairs_needed(sd=1, lower=-1, upper=1, difference=1)
    assert 2 == e.pairs_needed(sd=0, lower=-1, upper=1)


def test_differences_without_scatter_are_inside_or_outside():
    found = e.differences(first=[1, 2, 3], second=[2, 3, 4])
    assert e.two_one_sided(found=found, lower=-2, upper=2).equivalent
    assert not e.two_one_sided(found=found, lower=-0.5, upper=0.5).equivalent


@pytest.mark.parametrize(
    "refused",
    [
        lambda: e.differences(first=[1], second=[2]),
        lambda: e.differences(first=[1, 2], second=[2, math.inf]),
        lambda: e.two_one_sided(found=e.Differences(3, 0, 1, 1), lower=1, upper=-1),
        lambda: e.equivalence_power(sd=1, pairs=1, lower=-1, upper=1),
        lambda: e.equivalence_power(sd=0, pairs=3, lower=-1, upper=1),
    ],
)
def test_what_cannot_be_is_refused(refused):
    with pytest.raises(ValueError, match=r"pairs|margin|above 0"):
        refused()
