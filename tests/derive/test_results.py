"""Bands, ranges, ratios and borders against values worked out by hand."""

import pytest

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
