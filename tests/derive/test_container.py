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


BEAKER = "container: beaker-600-low-form"
AREA = pi * 0.08255**2 / 4
DIPPED = (
    pi / 4 * 0.02114**2 * 0.00165 + pi / 4 * 0.0032**2 * (0.0492 - 0.00165) + 2 * 0.0095 * 0.0016 * 0.0552
)


def test_what_stays_free_below_the_rim_and_under_the_guard(compiled):
    # 510 mL and what dips in, from 118 mm; 490 mL and what dips in, less 49.2 mm and 6 mm of guard
    highest, lowest = (510e-6 + DIPPED) / AREA, (490e-6 + DIPPED) / AREA
    assert 0.118 - highest == pytest.approx(value(compiled, PAINT, "container.free_board"), rel=1e-9)
    assert lowest - 0.0552 == pytest.approx(value(compiled, PAINT, "container.bottom_clearance"), rel=1e-9)


def test_what_dips_in_is_in_the_level_and_not_in_the_filling(compiled):
    figures = compiled(PAINT).figures
    assert "V_displaced" in figures["container.level"].formula
    assert "V_displaced" not in figures["container.fill"].formula


def test_the_clearance_of_a_chamber_is_the_one_declared(compiled):
    place = ("immersion", "bottom_clearance")
    assert place == compiled(GEL).figures["container.bottom_clearance"].inputs[0][1]
    without = compiled(GEL, (", bottom_clearance: 4 mm", "")).figures
    assert "policy.bottom_clearance" == without["container.bottom_clearance"].inputs[0][1]


@pytest.mark.parametrize(
    ("key", "grams", "text"),
    # 490, 500 and 510 mL of 1.12 g/mL
    [("mass_lower", 548.8, "548.8 g"), ("mass", 560, "560 g"), ("mass_upper", 571.2, "571.2 g")],
)
def test_the_mass_that_stands_for_the_volume(key, grams, text, compiled):
    figure = compiled(SAUCE).figures[f"sample.{key}"]
    assert (grams / 1000, text) == (pytest.approx(figure.value), figure.text)
    assert f"sample.{key}" not in compiled(SAUCE, ("  density: 1.12 g/mL\n", "")).figures


# C · 4π · r² · δ · (2π/60) / T, r 1.6 mm, C/T of the spindle: R5 400 Pa·s·rpm, R4 200, on 718.7 µN·m.
@pytest.mark.parametrize(("method", "coefficient", "millimetres"), [(PAINT, 400, 1), (SAUCE, 200, 2)])
def test_what_the_edge_of_the_immersion_tolerance_is_worth(method, coefficient, millimetres, compiled):
    share = coefficient * 4 * pi * 0.0016**2 * millimetres / 1000 * (2 * pi / 60) / 718.7e-6
    figure = compiled(method).figures["immersion.effect"]
    assert 100 * share == pytest.approx(figure.value, rel=1e-9)
    assert "± 0.19 %" == figure.text


def test_only_a_mark_with_a_tolerance_has_an_edge(compiled):
    assert "immersion.effect" not in compiled(PAINT, ("tolerance: 1 mm, bottom", "bottom")).figures
    assert "immersion.effect" not in compiled(GEL).figures


@pytest.mark.parametrize(
    ("method", "changes", "key", "reason"),
    [
        (SAUCE, (("  volume: 500 mL ± 10 mL\n", ""),), "container.level", "no sample volume is given"),
        (
            CREAM,
            (
                (
                    "container: jar-60",
                    "container: {label: 60 mm jar, kind: pack, inside_diameter: 60 mm, height: 62 mm}",
                ),
            ),
            "container.level",
            "neither a volume nor the fill depth of the pack is given",
        ),
        (
            SAUCE,
            ((BEAKER, "container: {label: the tube, kind: beaker, inside_diameter: 27 mm, height: 200 mm}"),),
            "container.wall_shift",
            "the spindle does not fit the container",
        ),
    ],
)
def test_what_cannot_be_known_of_the_container_is_said(method, changes, key, reason, compiled):
    assert reason == compiled(method, *changes).figures.open[key]


def test_the_level_of_a_beaker_on_a_helical_stand_follows_from_its_volume(compiled):
    # 150 mL of 28.27 cm²
    jar = "container: {label: 60 mm jar, kind: beaker, inside_diameter: 60 mm, height: 100 mm}"
    changes = (("container: jar-60", jar), ("sample:\n", "sample:\n  volume: 150 mL ± 1 mL\n"))
    assert 150e-6 / (pi * 0.06**2 / 4) == pytest.approx(value(compiled, CREAM, "container.level", *changes))


def test_the_fastest_step_has_the_flattest_helix(compiled):
    # 22 mm/min at 5 rpm, 2.2 mm in half a turn; at 2.5 rpm it would be 4.4 mm
    slow = ("run:\n", "run:\n  - {name: slow, speed: 2.5 rpm, read: {after: 12 s}}\n")
    assert 0.0022 == pytest.approx(value(compiled, CREAM, "helical.half_pitch", slow))
