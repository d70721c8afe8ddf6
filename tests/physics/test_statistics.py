import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats
from uncertainties import ufloat

from fillmark.physics import statistics
from fillmark.physics.statistics import Component

# Bands ----------------------------------------------------------------------------------------------------


# By hand: η ± (a·FSR/100 + U); the third case shows a band that nothing could fail.
@pytest.mark.parametrize(
    ("full_scale", "accuracy", "uncertainty", "lower", "upper"),
    [(2000, 1, 10, 970, 1030), (2000, 2, 10, 950, 1050), (50_000, 1, 10, 490, 1510)],
)
def test_additive_band(full_scale, accuracy, uncertainty, lower, upper):
    actual = statistics.verification_band(
        reference=1000,
        accuracy_percent=accuracy,
        full_scale=full_scale,
        reference_uncertainty=uncertainty,
    )
    assert (lower, upper) == pytest.approx(actual)


def test_root_sum_square_band_is_narrower():
    given_ = {"reference": 1000, "accuracy_percent": 1.5, "full_scale": 2000, "reference_uncertainty": 40}
    # 30 and 40 make 50.
    assert (950, 1050) == pytest.approx(statistics.verification_band(combine="root-sum-square", **given_))
    assert (930, 1070) == pytest.approx(statistics.verification_band(combine="additive", **given_))


@given(half=st.floats(min_value=0, max_value=20), uncertainty=st.floats(min_value=0, max_value=100))
def test_band_is_symmetric_and_never_narrower_than_its_parts(half, uncertainty):
    for combine in ("additive", "root-sum-square"):
        low, high = statistics.verification_band(
            reference=1000,
            accuracy_percent=half,
            full_scale=1000,
            reference_uncertainty=uncertainty,
            combine=combine,
        )
        assert 2000 == pytest.approx(low + high)
        assert high - 1000 >= max(10 * half, uncertainty) - 1e-9


def test_unknown_combination_is_refused():
    with pytest.raises(ValueError, match="no such combination"):
        statistics.verification_band(
            reference=1, accuracy_percent=1, full_scale=1, reference_uncertainty=0, combine="sum"
        )


def test_guarded_limits():
    assert (8334, 11666) == statistics.guarded_limits(lower=8000, upper=12000, guard_band=334)
    low, high = statistics.guarded_limits(lower=900, upper=1100, guard_band=150)
    assert low > high
    with pytest.raises(ValueError, match="above upper limit"):
        statistics.guarded_limits(lower=2, upper=1, guard_band=0)
    assert (1, 1) == statistics.guarded_limits(lower=1, upper=1, guard_band=0)


# JCGM 106 and ILAC-G8, from memory: with a guard band of U a result on the acceptance limit is wrongly
# accepted with a probability below 2.5 %; U = 2u, normal.
def test_guard_band_of_u_keeps_false_acceptance_below_2_5_percent():
    expanded = statistics.uncertainty(components=[Component("all", 1.0)]).expanded
    _, accept = statistics.guarded_limits(lower=-100, upper=0, guard_band=expanded)
    assert 0.0228 == pytest.approx(stats.norm.sf(-accept), abs=1e-4)


# Agreement of determinations ------------------------------------------------------------------------------


@pytest.mark.parametrize("n", range(2, 11))
def test_critical_range_factor_is_the_studentized_range(n):
    # scipy 1.17: 95 % point of the studentized range, degrees of freedom without end.
    expected = float(stats.studentized_range.ppf(0.95, n, math.inf))
    assert expected == pytest.approx(statistics.critical_range_factor(n), abs=0.0051)


@pytest.mark.parametrize(
    ("n", "printed"),
    [(2, 2.8), (3, 3.3), (4, 3.6), (5, 3.9), (6, 4.0), (7, 4.2), (8, 4.3), (9, 4.4), (10, 4.5)],
)
def test_critical_range_factor_rounds_to_the_printed_one(n, printed):
    # ISO 5725-6, from memory.
    assert printed == pytest.approx(statistics.critical_range_factor(n), abs=0.0501)


def test_two_determinations_use_the_repeatability_limit():
    # r = 1.96·√2·s_r; ASTM D3236 prints 2.8 times the standard deviation (seen).
    assert 1.96 * math.sqrt(2) * 50 == pytest.approx(
        statistics.critical_range(n=2, repeatability_sd=50), rel=2e-3
    )


@pytest.mark.parametrize("n", [-1, 0, 1, 11, 100])
def test_factors_are_not_guessed(n):
    with pytest.raises(ValueError, match="2 to 10"):
        statistics.critical_range_factor(n)


@pytest.mark.parametrize("n", [2, 3, 5, 10])
@pytest.mark.parametrize("range_over_sd", [0, 0.5, 2, 3.31, 6])
def test_share_of_ranges_beyond_a_limit_is_the_studentized_range(n, range_over_sd):
    # scipy 1.17: degrees of freedom without end.
    expected = float(stats.studentized_range.sf(range_over_sd, n, math.inf))
    actual = statistics.range_exceeded(n=n, range_over_sd=range_over_sd)
    assert expected == pytest.approx(actual, abs=1e-6)


@pytest.mark.parametrize("n", [-1, 0, 1])
def test_one_determination_has_no_range(n):
    with pytest.raises(ValueError, match="2 determinations"):
        statistics.range_exceeded(n=n, range_over_sd=1)


# Uncertainty ----------------------------------------------------------------------------------------------


def test_end_gauge_of_the_gum():
    # JCGM 100:2008, H.1, end gauge: contributions in nm, 32 nm combined; from memory.
    result = statistics.uncertainty(components=[Component(str(u), u) for u in (25, 9.7, 2.9, 16.6)])
    assert 32 == round(result.combined)


def test_divisors_are_those_of_the_distributions():
    # Standard deviations of the distributions of half width 3, from scipy.
    for distribution, expected in (
        ("rectangular", stats.uniform(-3, 6).std()),
        ("triangular", stats.triang(0.5, -3, 6).std()),
        ("normal", 3.0),
    ):
        result = statistics.uncertainty(components=[Component("one", 3, distribution)])
        assert expected == pytest.approx(result.combined)


def test_certificate_is_divided_by_its_coverage_factor():
    result = statistics.uncertainty(components=[Component("reference", 5, coverage=2)])
    assert (("reference", 2.5),) == result.contributions
    assert (2.5, 5) == (result.combined, result.expanded)


@given(amounts=st.lists(st.floats(min_value=1e-6, max_value=1e6), min_size=1, max_size=6))
def test_combination_agrees_with_uncertainties(amounts):
    total = sum(ufloat(0, amount) for amount in amounts)
    actual = statistics.uncertainty(components=[Component("", amount) for amount in amounts])
    assert total.std_dev == pytest.approx(actual.combined)
    assert 2 * total.std_dev == pytest.approx(actual.expanded)


@pytest.mark.parametrize(
    "component", [Component("x", -1), Component("x", 1, coverage=0), Component("x", 1, "uniform")]
)
def test_components_that_cannot_be(component):
    with pytest.raises(ValueError, match=r"amount|coverage|distribution"):
        statistics.uncertainty(components=[component])


def test_budget_by_hand():
    # Full scale 20 000, a 1 %: 200/√3 = 115; 10 000·2 %/K·0.5 K/√3 = 58; 1.5 % of 10 000 over √2 = 106;
    # U = 2·√(115² + 58² + 106²) = 334; half width 2000 over it: 6.0.
    result = statistics.budget(
        viscosity=10_000,
        accuracy_percent=1,
        full_scale=20_000,
        sensitivity_percent_per_k=2,
        temperature_tolerance=0.5,
        repeatability_percent=1.5,
        replicates=2,
    )
    assert (115, 58, 106) == (
        round(result.instrument),
        round(result.temperature),
        round(result.repeatability),
    )
    assert 334 == round(result.expanded)
    assert 6.0 == pytest.approx(
        statistics.tolerance_ratio(half_width=2000, expanded=result.expanded), abs=0.05
    )


def test_more_replicates_help_only_the_repeatability():
    one, four = (
        statistics.budget(
            viscosity=10,
            accuracy_percent=1,
            full_scale=20,
            sensitivity_percent_per_k=2,
            temperature_tolerance=0.5,
            repeatability_percent=2,
            replicates=replicates,
        )
        for replicates in (1, 4)
    )
    assert one.repeatability == pytest.approx(2 * four.repeatability)
    assert (one.instrument, one.temperature) == (four.instrument, four.temperature)


# Relative size of ±1 % of full scale at a torque, by hand.
@pytest.mark.parametrize(("torque", "percent"), [(10, 10), (20, 5), (45, 2.2), (50, 2), (90, 1.1)])
def test_accuracy_weighs_more_at_low_torque(torque, percent):
    both = statistics.ratio_index_uncertainty(accuracy_percent=1, torque_low=torque, torque_high=torque)
    assert percent == pytest.approx(100 * both / math.sqrt(2), abs=0.03)


def test_ratio_of_two_speeds():
    # √((1/13)² + (1/30)²) = 0.0838, by hand; against the error propagation of the uncertainties package.
    actual = statistics.ratio_index_uncertainty(accuracy_percent=1, torque_low=13, torque_high=30)
    ratio = ufloat(13, 1) / ufloat(30, 1)
    assert 0.084 == pytest.approx(actual, abs=5e-4)
    assert ratio.std_dev / ratio.nominal_value == pytest.approx(actual)


def test_tolerance_ratio_without_uncertainty():
    assert math.inf == statistics.tolerance_ratio(half_width=1, expanded=0)


# Coverage of what is added up -----------------------------------------------------------------------------


@pytest.mark.parametrize(("reach", "share"), [(0, 0), (0.5, 0.25), (1.5, 0.75), (2, 1), (3, 1)])
def test_coverage_of_one_rectangular_error(reach, share):
    # By hand: U/a, over ± 2.
    actual = statistics.coverage(half_widths=(2,), standard_deviation=0, reach=reach)
    assert share == pytest.approx(actual, abs=0.010001)


@pytest.mark.parametrize("reach", [0.3, 1, 1.9])
def test_coverage_of_two_rectangular_errors_is_that_of_a_triangle(reach):
    # scipy: two even ones of ± 1 add up to a triangle of ± 2.
    expected = 1 - 2 * stats.triang(0.5, -2, 4).sf(reach)
    actual = statistics.coverage(half_widths=(1, 0, 1), standard_deviation=0, reach=reach)
    assert expected == pytest.approx(actual, abs=0.01)


@pytest.mark.parametrize("standard_deviation", [0.1, 0.5, 2])
@pytest.mark.parametrize("reach", [0.4, 1, 2.5])
def test_coverage_of_a_rectangular_and_a_normal_error(standard_deviation, reach):
    # By quadrature: the normal share within the reach, averaged over the even error of ± 1.
    normal = stats.norm(scale=standard_deviation)
    expected, _ = integrate.quad(lambda x: (normal.cdf(reach - x) - normal.cdf(-reach - x)) / 2, -1, 1)
    actual = statistics.coverage(half_widths=(1,), standard_deviation=standard_deviation, reach=reach)
    assert expected == pytest.approx(actual, abs=5e-4)


@pytest.mark.parametrize("half_width", [-1, math.nan, math.inf])
def test_half_widths_that_cannot_be(half_width):
    with pytest.raises(ValueError, match="half width"):
        statistics.coverage(half_widths=(1, half_width), standard_deviation=1, reach=1)
