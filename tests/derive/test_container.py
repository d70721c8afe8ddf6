"""Levels, clearances and travel against values worked out by hand."""

from math import pi

import pytest

PAINT, CREAM, GEL, SAUCE = "MCW-VIS-014", "LMT-VIS-021", "QAP-VIS-002", "TGF-VIS-003"


def value(compiled, method, key, *changes):
    return compiled(method, *changes).figures[key].value


def test_the_level_of_500_ml_in_the_reference_beaker(compiled):
    # 500 mL over π·8.255²/4 cm² = 9.342 cm; the disc, 47.55 mm of shaft and two guard legs displace 2.63 mL
    area = pi * 0.08255**2 / 4
    assert 500e-6 / area == pytest.approx(value(compiled, PAINT, "container.fill"), rel=1e-12)
    body = pi / 4 * 0.02114**2 * 0.00165
    shaft = pi / 4 * 0.0032**2 * (0.0492 - 0.00165)
    legs = 2 * 0.0095 * 0.0016 * (0.0492 + 0.006)
    assert (500e-6 + body + shaft + legs) / area == pytest.approx(
        value(compiled, PAINT, "container.level"), rel=1e-12
    )


def test_the_level_needed_counts_the_guard(compiled):
    # 20 mm clearance + 6 mm of guard + 49.2 mm to the mark; without a guard 69.2 mm
    assert 0.0752 == pytest.approx(value(compiled, PAINT, "container.level_needed"))
    assert 0.0692 == pytest.approx(value(compiled, SAUCE, "container.level_needed"))


def test_clearances_of_spindle_and_guard(compiled):
    assert (0.08255 - 0.02114) / 2 == pytest.approx(value(compiled, PAINT, "container.side_clearance"))
    assert (0.08255 - 0.070) / 2 == pytest.approx(value(compiled, PAINT, "container.guard_clearance"))


def test_the_chamber_sets_the_height_and_the_level_the_cover(compiled):
    # (8 + 3.609 + 0.032) mL over π·1.9²/4 = 2.8353 cm²: 41.06 mm, less 4 and 33
    assert 0.04106 == pytest.approx(value(compiled, GEL, "container.level"), abs=1e-5)
    assert 0.00406 == pytest.approx(value(compiled, GEL, "container.cover"), abs=1e-5)
    assert 0.004 == value(compiled, GEL, "container.bottom_clearance")


def test_the_bar_travels_to_27_mm(compiled):
    # 5 mm + 22 mm/min for 60 s; 55 mm of cream leave 28 mm
    assert 0.027 == pytest.approx(value(compiled, CREAM, "helical.end_depth"))
    assert 0.028 == pytest.approx(value(compiled, CREAM, "container.bottom_clearance"))
    # 22 mm/min at 5 rpm is 4.4 mm a turn
    assert 0.0022 == pytest.approx(value(compiled, CREAM, "helical.half_pitch"))


def test_the_wall_of_a_narrow_jar(compiled):
    # cube law, order of magnitude: (1 - (27.30/82.55)³)/(1 - (27.30/63)³) - 1
    expected = 100 * ((1 - (27.30 / 82.55) ** 3) / (1 - (27.30 / 63) ** 3) - 1)
    changes = ("container: beaker-600-low-form", "container: jar-63")
    assert expected == pytest.approx(value(compiled, SAUCE, "container.wall_shift", changes))


def test_unknown_dimensions_leave_figures_open(compiled):
    c = compiled(PAINT, ("spindle: R5", "spindle: U2"), ("spring: R,", "spring: 2R,"))
    assert "container.level" not in c.figures
    assert "U2" in c.figures.open["container.level"]
