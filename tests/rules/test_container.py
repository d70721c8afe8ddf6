"""Container, filling and immersion: each rule just inside and just outside, the traps, and the twins."""

import pytest

from fillmark.diagnostics import Severity

PAINT, CREAM, GEL, SAUCE, STARCH = "MCW-VIS-014", "LMT-VIS-021", "QAP-VIS-002", "TGF-VIS-003", "BBM-VIS-007"

BEAKER = "container: beaker-600-low-form"
IN_THE_JAR = (
    (
        f"{BEAKER}\n\nsample:\n  volume: 500 mL ± 10 mL\n  age: 24 h ± 4 h\n  preparation: |\n"
        "    Pour slowly down the wall, 500 mL in 60 s; do not stir and do not shake."
    ),
    (
        "container: jar-63\n\nsample:\n  volume: 280 mL ± 5 mL\n  age: 24 h ± 4 h\n  preparation: |\n"
        "    Pour slowly down the wall, in 60 s; do not stir and do not shake."
    ),
)
TOPIC = "CON"


def beaker(inside, height="200 mm", kind="beaker"):
    return f"container: {{label: the vessel, kind: {kind}, inside_diameter: {inside}, height: {height}}}"


# Guard and wall


@pytest.mark.parametrize(("inside", "expected"), [("74 mm", []), ("73.9 mm", ["CON01"])])
def test_the_guard_goes_in_with_2_mm_to_spare(spoken, inside, expected):
    # 70 mm of guard and 2 mm on each side; the nearer wall is then looked at for itself
    assert expected == [code for code in spoken(PAINT, (BEAKER, beaker(inside))) if code != "CON02"]


def test_a_container_too_narrow_for_the_guard_is_one_finding(spoken):
    assert ["CON01"] == spoken(STARCH, (BEAKER, beaker("63 mm")))


# The wall of a narrower container


@pytest.mark.parametrize(
    ("inside", "severity"),
    [
        # (1 - (27.30/82.55)³)/(1 - (27.30/d)³) - 1 is 0.5 % at d = 79.19 mm and 2 % at 71.76 mm
        ("79.3 mm", None),
        ("79.1 mm", Severity.WARNING),
        ("71.9 mm", Severity.WARNING),
        ("71.6 mm", Severity.ERROR),
    ],
)
def test_the_wall_of_a_narrower_beaker(compiled, inside, severity):
    found = [d.severity for d in compiled(SAUCE, (BEAKER, beaker(inside))).diagnostics if d.code == "CON02"]
    assert ([] if severity is None else [severity]) == found


@pytest.mark.parametrize("container", ["container: beaker-600-wide", beaker("150 mm")])
def test_a_wider_container_is_silent(spoken, container):
    changes = [(BEAKER, container)]
    if "150" in container:
        changes += [("volume: 500 mL ± 10 mL", "volume: 2000 mL ± 10 mL"), ("supplied: 2 L", "supplied: 8 L")]
    assert [] == spoken(SAUCE, *changes)


def test_a_coefficient_found_in_the_jar_is_silent(spoken):
    own = "coefficient: {full_scale: 191 Pa·s·rpm, guard: not-used, container: jar-63, evidence: S-1}"
    right, wrong = IN_THE_JAR
    assert [] == spoken(SAUCE, (right, wrong.replace("jar-63", f"jar-63\n{own}")))


@pytest.mark.parametrize("result_type", ["relative", "pack-specific"])
def test_a_result_of_the_jar_alone_is_silent(spoken, result_type):
    assert [] == spoken(
        SAUCE, IN_THE_JAR, ("demonstration: true", f"result_type: {result_type}\ndemonstration: true")
    )


def test_the_sauce_in_its_63_mm_jar_is_one_finding(only, lines):
    one = only(SAUCE, IN_THE_JAR)
    assert ("CON02", lines(SAUCE, IN_THE_JAR, at="container: jar-63")) == (one.code, one.span.line)
    # (1 - (27.30/82.55)³)/(1 - (27.30/63)³) - 1 = 4.9 %
    assert "about 4.9 % high" in one.message
    assert "Write container: beaker-600-low-form." == one.ways_out[0]


def test_two_errors_that_partly_cancel_are_both_found(codes):
    # 60 min leave the sauce warm (low), the jar's wall makes it read high: agreement is not correctness.
    changes = (IN_THE_JAR, ("time: 180 min", "time: 60 min"))
    assert ["CON02", "TEM07"] == [code for code, _ in codes(SAUCE, *changes)]


# Side clearance


@pytest.mark.parametrize(("inside", "expected"), [("47 mm", []), ("46.9 mm", ["CON03"])])
def test_a_bar_keeps_10_mm_from_the_wall(spoken, inside, expected):
    jar = (
        f"container: {{label: jar, kind: pack, inside_diameter: {inside}, height: 62 mm, fill_depth: 55 mm}}"
    )
    assert expected == spoken(CREAM, ("container: jar-60", jar))


def test_a_disc_near_the_wall_is_not_excused_by_a_relative_result(spoken):
    changes = (
        ("demonstration: true", "result_type: relative\ndemonstration: true"),
        ("volume: 500 mL", "volume: 150 mL"),
    )
    assert ["CON03"] == spoken(SAUCE, (BEAKER, beaker("47 mm")), *changes)
    assert [] == spoken(SAUCE, (BEAKER, beaker("47.4 mm")), *changes)


def test_a_chamber_has_a_gap_of_its_own(spoken):
    # 3.6 mm between cylinder and bore, by design
    assert [] == spoken(GEL)


@pytest.mark.parametrize("container", [beaker("27 mm"), "container: chamber-19"])
def test_a_spindle_that_does_not_go_in_is_one_finding_of_the_wall(spoken, container):
    found = [c for c in spoken(SAUCE, (BEAKER, container)) if c in ("CON01", "CON02", "CON03")]
    assert ["CON03"] == found


# Level and clearance


@pytest.mark.parametrize(("volume", "expected"), [("410 mL", []), ("409 mL", ["CON04"])])
def test_the_level_covers_mark_guard_and_clearance(spoken, volume, expected):
    # 20 + 6 + 49.2 = 75.2 mm of 53.52 cm² are 402.5 mL, less 2.6 mL displaced: 399.9 mL at the least
    assert expected == spoken(PAINT, ("volume: 500 mL ± 10 mL", f"volume: {volume} ± 10 mL"))


def test_the_guard_takes_6_mm_of_level(spoken):
    # Without it 69.2 mm are enough: 370.4 mL, less 0.5 mL displaced by the disc and its shaft
    short = ("volume: 500 mL ± 10 mL", "volume: 385 mL ± 10 mL")
    assert [] == spoken(PAINT, short, ("guard: required", "guard: not-used"))
    assert ["CON04"] == spoken(PAINT, short)


def test_a_filling_that_leaves_enough_may_be_declared(said):
    one = said("CON04", PAINT, ("volume: 500 mL ± 10 mL", "volume: 400 mL ± 10 mL"))
    assert "Fill at least 410 mL." == one.ways_out[0]
    assert "Write bottom_clearance: 18 mm" in one.ways_out[1]


def test_the_ways_out_of_a_low_level_are_silent(spoken):
    assert [] == spoken(PAINT, ("volume: 500 mL ± 10 mL", "volume: 410 mL ± 10 mL"))
    declared = ("bottom_clearance: 20 mm", "bottom_clearance: 18 mm")
    assert [] == spoken(PAINT, ("volume: 500 mL ± 10 mL", "volume: 400 mL ± 10 mL"), declared)


def test_far_too_little_sample_reads_low(said):
    one = said("CON04", PAINT, ("volume: 500 mL ± 10 mL", "volume: 250 mL ± 10 mL"))
    assert "stand on the bottom" in one.message
    assert "reads low" in one.message


@pytest.mark.parametrize(
    ("volume", "mass", "expected"), [("7.75 mL", "7.8 g", []), ("7.6 mL", "7.7 g", ["CON04"])]
)
def test_the_cover_of_a_chamber_may_be_short_by_its_tolerance(spoken, volume, mass, expected):
    # 4 + 33 + 4 mm less 1 mm of tolerance: 40 mm of 2.835 cm² less 3.64 mL displaced are 7.70 mL
    changes = (("volume: 8.0 mL ± 0.2 mL", f"volume: {volume} ± 0.2 mL"), ("mass: 8.1 g", f"mass: {mass}"))
    assert expected == spoken(GEL, *changes)


@pytest.mark.parametrize(("volume", "expected"), [("591 mL", []), ("593 mL", ["CON05"])])
def test_5_mm_stay_free_below_the_rim(spoken, volume, expected):
    # 113 mm of 53.52 cm² are 604.8 mL, less 2.6 mL displaced and 10 mL of tolerance: 592.2 mL
    assert expected == spoken(PAINT, ("volume: 500 mL ± 10 mL", f"volume: {volume} ± 10 mL"))


@pytest.mark.parametrize(("clearance", "expected"), [("10 mm", []), ("9 mm", ["CON06"])])
def test_a_spindle_without_guard_keeps_10_mm_from_the_bottom(spoken, clearance, expected):
    assert expected == spoken(SAUCE, ("bottom_clearance: 20 mm", f"bottom_clearance: {clearance}"))


@pytest.mark.parametrize(("clearance", "expected"), [("4 mm", []), ("3.9 mm", ["CON06"])])
def test_the_guard_keeps_6_mm_of_the_10(spoken, clearance, expected):
    assert expected == spoken(PAINT, ("bottom_clearance: 20 mm", f"bottom_clearance: {clearance}"))


def test_a_chamber_cylinder_has_a_clearance_of_its_own(spoken):
    assert [] == spoken(GEL, ("bottom_clearance: 4 mm", "bottom_clearance: 3.5 mm"))


# Immersion


@pytest.mark.parametrize(
    ("method", "right"),
    [(PAINT, "tolerance: 1 mm, "), (CREAM, "tolerance: 1 mm, "), (GEL, "tolerance: 1 mm, ")],
)
def test_every_depth_has_a_tolerance(spoken, method, right):
    assert ["CON07"] == spoken(method, (right, ""))


@pytest.mark.parametrize(("tolerance", "expected"), [("2.6 mm", []), ("2.7 mm", ["CON08"])])
def test_the_shaft_shifts_the_result_by_half_a_percent_at_most(spoken, tolerance, expected):
    # 400 Pa·s·rpm · 4π · (1.6 mm)² · (2π/60) / 718.7 µN·m = 0.1875 % a millimetre
    assert expected == spoken(PAINT, ("tolerance: 1 mm, bottom", f"tolerance: {tolerance}, bottom"))


def test_a_pin_is_all_shaft(spoken, said):
    # 4000 Pa·s·rpm: ten times R5's, 1.9 % a millimetre
    assert ["CON08"] == spoken(PAINT, ("spindle: R5", "spindle: R7"))
    assert "± 1.9 %" in said("CON08", PAINT, ("spindle: R5", "spindle: R7")).message


@pytest.mark.parametrize("to", ["shaft-mark", "depth", "gap"])
def test_a_chamber_cylinder_is_covered_above_its_top(spoken, to):
    assert ["CON09"] == spoken(GEL, ("to: above-top", f"to: {to}"))


@pytest.mark.parametrize(
    ("method", "right", "to"), [(PAINT, "to: shaft-mark", "gap"), (CREAM, "to: depth", "shaft-mark")]
)
def test_an_immersion_that_the_spindle_does_not_have(spoken, method, right, to):
    assert "CON09" in spoken(method, (right, f"to: {to}"))


@pytest.mark.parametrize(("tolerance", "expected"), [("0.28 mL", []), ("0.29 mL", ["CON10"])])
def test_the_filling_moves_the_level_no_more_than_the_cover_may_be_off(spoken, tolerance, expected):
    # 1 mm of 2.835 cm² is 0.2835 mL
    assert expected == spoken(GEL, ("volume: 8.0 mL ± 0.2 mL", f"volume: 8.0 mL ± {tolerance}"))


def test_in_a_beaker_the_stand_sets_the_depth(spoken):
    assert [] == spoken(SAUCE, ("volume: 500 mL ± 10 mL", "volume: 500 mL ± 60 mL"))


# Sample


@pytest.mark.parametrize("method", [SAUCE, STARCH])
def test_something_says_how_much_is_filled(spoken, method):
    assert ["CON11"] == spoken(method, ("  volume: 500 mL ± 10 mL\n", ""))


def test_a_mass_alone_says_how_much_is_filled(spoken):
    assert [] == spoken(GEL, ("  volume: 8.0 mL ± 0.2 mL\n", ""))


def test_a_thick_product_in_a_chamber_is_weighed(spoken):
    assert ["CON12"] == spoken(GEL, ("  mass: 8.1 g ± 0.2 g\n", ""))


def test_a_thick_product_in_a_beaker_may_be_measured_by_volume(spoken):
    assert [] == spoken(SAUCE)


@pytest.mark.parametrize(("method", "expected"), [(PAINT, ["CON12"]), (SAUCE, ["CON13"]), (GEL, [])])
def test_air_is_dealt_with_and_not_measured(spoken, method, expected):
    # The paint says how one sees that no bubble is left, the gel is weighed as well, the sauce does neither.
    changes = {PAINT: "density: 1.42 g/mL", SAUCE: "density: 1.12 g/mL", GEL: "density: 1.01 g/mL"}[method]
    assert expected == spoken(method, (changes, f"{changes}\n  aerated: true"))


@pytest.mark.parametrize(("mass", "expected"), [("8.28 g", []), ("8.29 g", ["CON14"]), ("7.87 g", ["CON14"])])
def test_mass_and_volume_are_one_amount(spoken, mass, expected):
    # 8.0 mL at 1.01 g/mL are 8.08 g; 0.2 mL are 0.202 g
    assert expected == spoken(GEL, ("mass: 8.1 g ± 0.2 g", f"mass: {mass} ± 0.2 g"))


def test_without_a_density_mass_and_volume_are_not_compared(not_judged):
    assert 1 == len(not_judged("CON14", GEL, ("  density: 1.01 g/mL\n", "")))


def test_a_pack_result_is_no_apparent_viscosity(spoken):
    change = ("result_type: pack-specific", "result_type: apparent")
    assert ["CON15"] == spoken(CREAM, change)
    own = (
        "container: jar-60\ncoefficient: {full_scale: 1000 Pa·s·rpm, guard: not-applicable, "
        "container: jar-60, evidence: S-1}"
    )
    assert [] == spoken(CREAM, change, ("container: jar-60", own))
    assert [] == spoken(CREAM, ("result_type: pack-specific", "result_type: relative"))


@pytest.mark.parametrize(("supplied", "expected"), [("2 L", []), ("1.99 L", ["CON16"])])
def test_the_sample_lasts_for_a_repeat(spoken, supplied, expected):
    # 2 loadings of 500 mL, and as much again
    assert expected == spoken(PAINT, ("supplied: 2.5 L", f"supplied: {supplied}"))


def test_what_is_supplied_is_not_judged_unsaid(not_judged):
    assert 1 == len(not_judged("CON16", PAINT, ("  supplied: 2.5 L\n", "")))


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ((), []),
        ((("rest: 5 min", "rest: 5 min\n  open_time: 10 min"),), []),
        ((("rest: 5 min", "rest: 5 min\n  open_time: 11 min"),), ["CON17"]),
        ((("covered: true", "covered: false"),), ["CON17"]),
        (
            (
                ("covered: true", "covered: false"),
                ("  volatile: true                 # grows a skin in the open\n", ""),
            ),
            [],
        ),
    ],
)
def test_a_product_that_skins_over_is_covered(spoken, changes, expected):
    assert expected == spoken(PAINT, *changes)


def test_a_clearance_is_given(said):
    assert Severity.ADVICE == said("CON18", PAINT, (", bottom_clearance: 20 mm", "")).severity


def test_where_the_spindle_does_not_go_in_no_level_is_spoken_of(spoken):
    assert ["CON03"] == spoken(SAUCE, (BEAKER, beaker("27 mm")))
