"""Tails and percentage points against scipy, an independent library."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special, stats

from fillmark.physics import distributions as d

SHARES = (0.4, 0.05, 0.005, 1e-6)
DEGREES = (1, 2, 3, 7.5, 30, 1000, 100_000)


@given(a=st.floats(0.1, 1e4), b=st.floats(0.1, 1e4), x=st.floats(0, 1))
def test_beta_share(a, b, x):
    assert special.betainc(a, b, x) == pytest.approx(d.beta_share(x=x, a=a, b=b), rel=1e-9, abs=1e-14)


@given(a=st.floats(0.5, 500), b=st.floats(0.5, 500), upper=st.sampled_from(SHARES))
def test_beta_point(a, b, upper):
    assert stats.beta.isf(upper, a, b) == pytest.approx(d.beta_point(upper=upper, a=a, b=b), rel=1e-8)


@pytest.mark.parametrize("degrees", DEGREES)
@pytest.mark.parametrize("upper", SHARES)
def test_t_and_chi_square(degrees, upper):
    t, x = stats.t.isf(upper, degrees), stats.chi2.isf(upper, degrees)
    assert t == pytest.approx(d.t_point(upper=upper, degrees=degrees), rel=1e-8)
    assert -t == pytest.approx(d.t_point(upper=1 - upper, degrees=degrees), rel=1e-8)
    assert upper == pytest.approx(d.t_tail(t=t, degrees=degrees), rel=1e-8)
    assert x == pytest.approx(d.chi_square_point(upper=upper, degrees=degrees), rel=1e-8)
    low = stats.chi2.ppf(upper, degrees)
    assert low == pytest.approx(d.chi_square_point(upper=1 - upper, degrees=degrees), rel=1e-6)


@pytest.mark.parametrize("above", DEGREES)
@pytest.mark.parametrize("below", [1, 4, 20, 10_000])
@pytest.mark.parametrize("upper", SHARES)
def test_f(above, below, upper):
    f = stats.f.isf(upper, above, below)
    assert f == pytest.approx(d.f_point(upper=upper, above=above, below=below), rel=1e-7)
    assert upper == pytest.approx(d.f_tail(f=f, above=above, below=below), rel=1e-7)


# scipy.stats.studentized_range, which integrates otherwise.
@pytest.mark.parametrize("n", [2, 3, 10, 20, 100])
@pytest.mark.parametrize(("degrees", "within"), [(1, 1e-5), (2, 1e-5), (12, 1e-5), (math.inf, 1e-5)])
def test_studentized_range(n, degrees, within):
    expected = stats.studentized_range.ppf(0.95, n, degrees)
    assert expected == pytest.approx(d.studentized_range_point(upper=0.05, n=n, degrees=degrees), rel=within)
    assert 0.05 == pytest.approx(d.studentized_range_tail(q=expected, n=n, degrees=degrees), abs=5e-4)


# ISO 5725-6 prints 2.8 3.3 3.6 3.9 4.0 4.2 4.3 4.4 4.5 for n = 2 to 10 (from memory, high confidence).
def test_the_factors_of_critical_ranges():
    printed = (2.8, 3.3, 3.6, 3.9, 4.0, 4.2, 4.3, 4.4, 4.5)
    assert printed == tuple(round(d.studentized_range_point(upper=0.05, n=n), 1) for n in range(2, 11))


def test_ends_of_the_scales():
    assert (0.0, 1.0) == (d.beta_share(x=0, a=2, b=3), d.beta_share(x=1, a=2, b=3))
    assert 0.0 == d.t_tail(t=math.inf, degrees=3)
    assert 1.0 == d.t_tail(t=-math.inf, degrees=3)
    assert 0.0 == d.f_tail(f=math.inf, above=2, below=3)
    assert (1.0, 0.0) == (d.chi_square_tail(x=0, degrees=3), d.chi_square_tail(x=math.inf, degrees=3))


@pytest.mark.parametrize(
    "refused",
    [
        lambda: d.beta_share(x=1.1, a=1, b=1),
        lambda: d.beta_share(x=0.5, a=0, b=1),
        lambda: d.t_point(upper=0, degrees=3),
        lambda: d.t_tail(t=1, degrees=0),
        lambda: d.f_tail(f=-1, above=1, below=1),
        lambda: d.chi_square_tail(x=-1, degrees=1),
        lambda: d.normal_point(upper=1),
        lambda: d.studentized_range_point(upper=0.05, n=1),
        lambda: d.studentized_range_point(upper=0.9, n=2),
    ],
)
def test_what_cannot_be_is_refused(refused):
    with pytest.raises(ValueError, match=r"must|needs"):
        refused()


def test_the_weights_of_an_estimated_scatter_have_its_mean():
    # Mean of s/σ is c4; for 5 values 0.9400 (any table of control chart constants).
    assert 0.9400 == pytest.approx(sum(s * w for s, w in d.scatter_weights(degrees=4)), abs=5e-5)
