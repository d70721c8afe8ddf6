"""Bands, ranges, ratios and borders against values worked out by hand."""

import math

import pytest
from scipy.stats import studentized_range

PAINT, GEL, CREAM = "MCW-VIS-014", "QAP-VIS-002", "LMT-VIS-021"


def figures(compiled, method, *changes):
    return compiled(method, *changes).figures


def test_the_band_of_the_paint(compiled):
    # 10 Pa·s ± (1 % of 20 Pa·s + 0.1 Pa·s)
    f = figures(compiled, PAINT)
    assert (9.7, 10.3) == (
        pytest.approx(f["verification.lower"].value),
        pytest.approx(f["verification.upper"].value),
    )
    assert 50.0 == pytest.approx(f["verification.torque"].value)


def test_the_band_of_the_gel_counts_the_chamber(compiled):
    # 30 Pa·s ± (2 % of 50 Pa·s + 0.3 Pa·s)
    f = figures(compiled, GEL)
    assert 28.7 == pytest.approx(f["verification.lower"].value)
    assert 31.3 == pytest.approx(f["verification.upper"].value)


def test_a_fluid_that_any_instrument_passes(compiled):
    # 1 Pa·s at 2 % torque: 1 ± (1 + 0.01) Pa·s, so that a seized instrument passes
    f = figures(compiled, GEL, ("fluid: REF-30000", "fluid: REF-1000"))
    assert 2.0 == pytest.approx(f["verification.torque"].value)
    assert -0.01 == pytest.approx(f["verification.lower"].value)
    assert 2.01 == pytest.approx(f["verification.upper"].value)


def test_the_band_by_root_sum_square_if_the_policy_says_so(compiled, reference, edited):
    from dataclasses import replace

    from fillmark.pipeline import compile_method

    policy = replace(
        reference.policy, choices={**reference.policy.choices, "verification_band": "root-sum-square"}
    )
    c = compile_method(edited(PAINT), "x", replace(reference, policy=policy))
    # √(0.2² + 0.1²) = 0.223607
    assert 10.223607 == pytest.approx(c.figures["verification.upper"].value, abs=1e-6)


def test_the_critical_range_of_three(compiled):
    # ISO 5725-6 prints f(3) = 3.3; 3.31 by the studentized range; times 4 %
    assert 3.31 * 4 == pytest.approx(figures(compiled, CREAM)["replicates.critical_range"].value, rel=2e-3)


def test_the_ratio_counts_both_torques(compiled):
    # a = 1 %, t = 35 and 50: √((1/35)² + (1/50)²) = 3.488 %
    assert 3.488 == pytest.approx(figures(compiled, PAINT)["report.index.uncertainty"].value, abs=1e-3)


def test_borders_by_the_rounding_method(compiled):
    f = figures(compiled, PAINT)
    assert f["report.viscosity_20.border_lower"].text.startswith("7.95 Pa·s is reported 8.0: in")
    assert f["report.viscosity_20.border_upper"].text.startswith("12.05 Pa·s is reported 12.0: in")


def test_borders_with_ties_going_up(compiled):
    f = figures(compiled, PAINT, ("rounding: half-even, comparison", "rounding: half-up, comparison"))
    assert f["report.viscosity_20.border_upper"].text.startswith("12.05 Pa·s is reported 12.1: out")


def test_borders_by_the_absolute_method(compiled):
    f = figures(compiled, PAINT, ("comparison: rounding, ", ""))
    assert "out by the absolute method" in f["report.viscosity_20.border_upper"].text


def test_limits_and_increment_in_different_units(compiled):
    f = figures(compiled, PAINT, ("increment: 0.1 Pa·s", "increment: 100 mPa·s"))
    assert f["report.viscosity_20.border_upper"].text.startswith("12050 mPa·s is reported 12000: in")


STARCH, SAUCE = "BBM-VIS-007", "TGF-VIS-003"
ALONE = ("lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s", "lower: 8.0 Pa·s, one_sided: true")


@pytest.mark.parametrize(
    ("method", "key", "expected", "text"),
    [
        # 2.77 · 1.5 %, 3.31 · 2 %, 2.77 · 2 % (ISO 5725-6)
        (PAINT, "pair_range", 4.155, "4.16 % of the mean"),
        (PAINT, "critical_range", 4.155, "4.16 % of the mean"),
        (GEL, "critical_range", 6.62, "6.62 % of the mean"),
        (GEL, "pair_range", 5.54, "5.54 % of the mean"),
        # 0.5 of 10 Pa·s, 1.8 of 25 Pa·s; 15 % of 100 Pa·s
        (PAINT, "agree_percent", 5.0, "5.00 %"),
        (PAINT, "agree", 0.5, "0.5 Pa·s"),
        (GEL, "agree_percent", 7.2, "7.20 %"),
        (CREAM, "agree_percent", 15.0, "15.0 %"),
        (CREAM, "agree", 15.0, "15 % of the mean"),
    ],
)
def test_when_replicates_agree(method, key, expected, text, compiled):
    figure = figures(compiled, method)[f"replicates.{key}"]
    assert (pytest.approx(expected), text) == (figure.value, figure.text)


def test_one_replicate_has_nothing_to_agree_with(compiled):
    f = figures(compiled, STARCH)
    assert "replicates.pair_range" in f
    for key in ("critical_range", "agree_percent", "good_sets_failing"):
        assert f"replicates.{key}" not in f


def test_agreement_is_judged_by_the_first_viscosity_with_two_limits(compiled):
    lines = (
        "  - {result: viscosity_20, lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s, decision_rule: simple}\n",
        "  - {result: index, lower: 5.5, upper: 8.0, decision_rule: simple}\n",
    )
    f = figures(compiled, PAINT, ("".join(lines), "".join(reversed(lines))))
    assert 5.0 == pytest.approx(f["replicates.agree_percent"].value)
    assert "replicates.agree_percent" not in figures(compiled, PAINT, ALONE)


@pytest.mark.parametrize(
    ("method", "count", "deviations"), [(PAINT, 2, 5.0 / 1.5), (GEL, 3, 7.2 / 2), (CREAM, 3, 15 / 4)]
)
def test_how_many_good_sets_exceed_the_range(method, count, deviations, compiled):
    # scipy: studentized range, degrees of freedom without end
    expected = 100 * studentized_range.sf(deviations, count, math.inf)
    f = figures(compiled, method)
    assert expected == pytest.approx(f["replicates.good_sets_failing"].value, rel=1e-4)


def test_without_a_repeatability_nobody_knows_how_many_fail(compiled):
    f = figures(compiled, PAINT, ("  repeatability: 1.5 %\n", ""))
    assert "replicates.good_sets_failing" not in f
    assert "replicates.pair_range" not in f


@pytest.mark.parametrize(
    ("temperature", "share", "place"),
    [
        # 2 %/K of 10 Pa·s and 0.1 K are 0.02 Pa·s of ± 0.3 Pa·s
        ("", 6.667, "customary: 0.1 K"),
        ("\n  temperature: 25.0 °C ± 0.3 °C", 20.0, ("verification", "temperature")),
    ],
)
def test_what_the_temperature_of_the_fluid_takes_of_the_band(temperature, share, place, compiled):
    fluid = "fluid: REF-10000"
    f = figures(compiled, PAINT, (fluid, fluid + temperature))
    figure = f["verification.temperature_share"]
    assert share == pytest.approx(figure.value, abs=1e-3)
    assert place in [where for _, where in figure.inputs]


def test_a_band_is_shown_with_the_formula_it_was_made_by(compiled):
    assert "η - (a · FSR / 100 + U)" == figures(compiled, PAINT)["verification.lower"].formula


@pytest.mark.parametrize(
    ("method", "which", "text"),
    [
        (PAINT, "viscosity_20.border_lower",
         "7.95 Pa·s is reported 8.0: in by the rounding method used here (out by the absolute method)"),
        (SAUCE, "viscosity_10.border_upper",
         "11.05 Pa·s is reported 11.0: out by the absolute method used here (in by the rounding method)"),
        (GEL, "viscosity_5.border_upper", "30.05 Pa·s is reported 30.1: out by the absolute method"),
    ],
)  # fmt: skip
def test_what_becomes_of_a_result_beside_a_limit(method, which, text, compiled):
    assert text == figures(compiled, method)[f"report.{which}"].text


def test_limits_in_a_smaller_unit_than_the_increment(compiled):
    limits = ("lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s", "lower: 8000 mPa·s, upper: 12000 mPa·s")
    figure = figures(compiled, PAINT, limits)["report.viscosity_20.border_upper"]
    assert 12.05 == pytest.approx(figure.value)
    assert "Pa·s is reported 12.0: in by the rounding method" in figure.text


def test_no_border_without_limits_in_order_or_a_rounding_rule(compiled):
    upside_down = (
        "lower: 20.0 Pa·s, target: 25.0 Pa·s, upper: 30.0 Pa·s",
        "lower: 30.0 Pa·s, upper: 20.0 Pa·s",
    )
    f = figures(compiled, GEL, upside_down)
    assert "the lower limit is above the upper one" == f.open["report.viscosity_5.border"]
    f = figures(compiled, GEL, ("rounding: half-up, ", ""))
    assert "report.viscosity_5.border_upper" not in f
    # One limit alone has its border.
    f = figures(compiled, PAINT, ALONE)
    assert "report.viscosity_20.border_lower" in f
    assert "report.viscosity_20.border_upper" not in f


def test_the_limits_of_a_ratio_over_its_uncertainty(compiled):
    # 100 · 2.5 / 13.5 = 18.519 %, over 3.488 %
    assert 5.310 == pytest.approx(figures(compiled, PAINT)["report.index.ratio"].value, abs=1e-3)
    f = figures(compiled, PAINT, ("lower: 5.5, upper: 8.0,", "lower: 5.5, one_sided: true,"))
    assert "report.index.ratio" not in f
    assert "the torque at one of the two speeds is not known" == f.open["report.index.uncertainty"]


def test_a_ratio_reported_without_limits_has_an_uncertainty_only_where_its_torques_are_known(compiled):
    line = "  - {result: index, lower: 5.5, upper: 8.0, decision_rule: simple}"
    slow = "  - {result: viscosity_2, lower: 45.0 Pa·s, target: 70.0 Pa·s, upper: 95.0 Pa·s, decision_rule: simple}"
    f = figures(compiled, PAINT, (line, slow))
    # 35 % and 50 % in the middle: √((1/35)² + (1/50)²)
    assert 3.488 == pytest.approx(f["report.index.uncertainty"].value, abs=1e-3)
    assert "report.index.ratio" not in f
