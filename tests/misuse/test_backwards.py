"""From a shift back to the slips."""

import pytest

from fillmark.misuse import expected_within, explaining

PAINT = ("MCW-VIS-014", "viscosity_20")
STARCH = ("BBM-VIS-007", "viscosity_50")


def keys(pairs):
    return [slip.key for slip, _ in pairs]


def why_not(explanation, key):
    return next(why for slip, why in explanation.excluded if slip.key == key)


def test_9_percent_low_has_no_computed_cause_in_the_paint(budget):
    found = explaining(budget(*PAINT), -9, within=3.34)
    assert () == found.alone
    assert ["structure.late", "structure.stirred", "bubble"] == keys(found.possible)
    # 9 % over 2 %/K; 5 mm · 9/0.937
    assert "-2.0 %; it would take 4.5 K." == why_not(found, "temperature.warm")
    assert "-0.9 %; it would take 48 mm." == why_not(found, "immersion.shallow")
    # 9 % of 40 to 60 % torque
    assert "-2.5 to -1.7 %; it would take 3.6 to 5.4 % of scale." == why_not(found, "zero.low")
    assert "Reads high: +2.0 %." == why_not(found, "temperature.cold")
    assert "No effect here." == why_not(found, "read.early")
    assert "-50.0 %, too large." == why_not(found, "spring-mounted.2R")
    assert "Near nil" in why_not(found, "guard.off")
    assert "off the scale" in why_not(found, "spring-mounted.L")


def test_9_percent_low_in_the_starch_may_be_the_guard(budget):
    found = explaining(budget(*STARCH), -9, within=5.13)
    # the wide beaker's estimate, -5.4 %, comes within 5.1 %
    assert ["container.wider"] == [s.key for s in found.alone]
    # sizes first, then what has none
    assert ["guard.off", "speed.slower", "spindle-twin", "bubble"] == keys(found.possible)


def test_the_closest_computed_slip_comes_first(budget):
    found = explaining(budget(*PAINT), -2, within=1)
    assert ["temperature.warm", "zero.low"] == [s.key for s in found.alone][:2]
    assert {"computed", "bounds"} >= {s.known for s in found.alone[:2]}


def test_twice_too_high_is_a_spring_or_the_spindle_below(budget):
    found = explaining(budget(*PAINT), 100, within=3.34)
    assert ["spring-keyed.2R", "spindle-hung.R4"] == [s.key for s in found.alone]


def test_every_slip_is_told_of_once(budget):
    rows = budget(*PAINT)
    found = explaining(rows, -9, within=3.34)
    told = [s.key for s in found.alone] + keys(found.possible) + keys(found.excluded)
    assert sorted(s.key for s in rows) == sorted(told)


def test_what_reads_the_other_way_does_not_explain_a_small_shift(budget):
    # 1 K too cold is +2 %; within 3.34 % of -1 %, and still the wrong way
    found = explaining(budget(*PAINT), -1, within=3.34)
    assert "temperature.cold" not in [s.key for s in found.alone]
    assert "Reads high: +2.0 %." == why_not(found, "temperature.cold")


def test_two_slips_can_hide_part_of_each_other(budget):
    # 0.5 · 1.02: the spring halves, the cold adds 2 %: -49 %
    found = explaining(budget(*PAINT), -49, within=0.2)
    assert () == found.alone
    pairs = {(a.key, b.key): both for a, b, both in found.cancelling}
    assert -49.0 == pytest.approx(pairs["temperature.cold", "spring-mounted.2R"])
    for a, b, both in found.cancelling:
        assert {"high", "low"} == {a.direction, b.direction}
        assert -49 == pytest.approx(both, abs=0.2)


def test_how_closely_a_shift_can_be_held_against_a_slip(compiled):
    c = compiled(PAINT[0])
    # U = 0.334166 of 10 Pa·s
    within, by = expected_within(c.figures, c.method.step("viscosity_20"))
    assert (3.34166, "the expanded uncertainty of a result") == (pytest.approx(within, rel=1e-5), by)
    # 1 % of full scale at 35 % torque
    within, by = expected_within(c.figures, c.method.step("viscosity_2"))
    assert (100 / 35, "the accuracy of the instrument") == (pytest.approx(within), by)
