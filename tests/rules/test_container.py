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


# What the messages and their ways out say, worked out by hand


@pytest.mark.parametrize(("inside", "room"), [("72 mm", "1.0 mm are left"), ("63 mm", "3.5 mm too much")])
def test_how_much_room_the_guard_has(said, inside, room):
    # (d - 70) / 2; 70 mm and twice 2 mm make 74 mm, which two listed beakers have
    one = said("CON01", PAINT, (BEAKER, beaker(inside)))
    assert f"{room} on each side, where 2.0 mm are needed" in one.message
    assert (
        "Use a container at least 74.0 mm wide: beaker-600-low-form (82.55 mm inside) "
        "or beaker-600-wide (91 mm inside)."
    ) == one.ways_out[0]


def test_a_container_that_is_in_use_is_not_named_as_a_wider_one(said):
    # In the 66 mm beaker the guard of 70 mm does not go in; the bar in a jar of 46 mm needs 27 mm and twice 10.
    assert "beaker-250" not in said("CON01", PAINT, (BEAKER, "container: beaker-250")).ways_out[0]
    jar = "container: {label: jar, kind: pack, inside_diameter: 46 mm, height: 62 mm, fill_depth: 55 mm}"
    way = said("CON03", CREAM, ("container: jar-60", jar)).ways_out[0]
    assert (
        "Use a container at least 47.0 mm wide inside: beaker-250 (66 mm inside) "
        "or beaker-600-low-form (82.55 mm inside)."
    ) == way


def test_the_spindles_that_would_have_room(said):
    relative = ("demonstration: true", "result_type: relative\ndemonstration: true")
    # 46 mm less twice 10 mm; of the discs for the spring, 21.14 and 14.62 mm are no wider than that
    one = said("CON03", SAUCE, (BEAKER, beaker("46 mm")), relative)
    assert "leaves 9.3 mm on each side" in one.message
    assert "at least 47.3 mm wide inside: beaker-250 (66 mm inside) or" in one.ways_out[0]
    assert "Use a spindle no wider than 26.0 mm: R5, R6." == one.ways_out[1]
    # 27 mm less twice 10 mm
    one = said("CON03", SAUCE, (BEAKER, beaker("27 mm")))
    assert (
        "Use a spindle no wider than 7.0 mm; none of this kind is listed for the spring." == one.ways_out[1]
    )


def test_a_little_sample_where_the_spindle_does_not_go_in_is_one_finding(spoken):
    little = ("volume: 500 mL ± 10 mL", "volume: 10 mL ± 1 mL")
    assert ["CON03"] == spoken(SAUCE, (BEAKER, beaker("27 mm")), little)


@pytest.mark.parametrize(
    ("volume", "mm"),
    [
        # (340 + 2.6) mL of 53.52 cm² are 64.0 mm, (333 + 2.6) mL 62.7 mm; less 49.2 and 6 mm
        ("350 mL", "8 mm"),
        ("343 mL", "7 mm"),
        # 58.4 mm: 3.2 mm under the guard are 9.2 mm under the spindle, less than the 10 mm it needs
        ("320 mL", None),
    ],
)
def test_what_a_low_filling_leaves_may_be_declared_while_it_is_enough(said, volume, mm):
    one = said("CON04", PAINT, ("volume: 500 mL ± 10 mL", f"volume: {volume} ± 10 mL"))
    second = one.ways_out[1]
    assert (f"Write bottom_clearance: {mm}," in second) if mm else ("narrower container" in second)


@pytest.mark.parametrize(
    ("volume", "rim", "height"),
    [
        # (610 + 2.6) mL of 53.52 cm² are 114.5 mm of 118 mm, (650 + 2.6) mL 121.9 mm; 5 mm stay free
        ("600 mL", "3.5 mm below the rim", "119.5 mm"),
        ("640 mL", "3.9 mm above the rim", "126.9 mm"),
    ],
)
def test_how_near_the_rim(said, volume, rim, height):
    one = said("CON05", PAINT, ("volume: 500 mL ± 10 mL", f"volume: {volume} ± 10 mL"))
    assert rim in one.message
    assert "Fill at most 590 mL." == one.ways_out[0]
    assert f"Use a container at least {height} high: beaker-600-wide." == one.ways_out[1]


def test_the_guard_is_counted_in_the_clearance_to_write(said):
    three = ("bottom_clearance: 20 mm", "bottom_clearance: 3 mm")
    with_guard, without = said("CON06", PAINT, three), said("CON06", SAUCE, three)
    assert "under the guard and the guard keeps 6.0 mm more" in with_guard.message
    assert "Write bottom_clearance: 4.0 mm or more." == with_guard.ways_out[0]
    assert "under the spindle; 10.0 mm are needed" in without.message
    assert "Write bottom_clearance: 10 mm or more." == without.ways_out[0]


def test_the_mark_without_a_tolerance_is_described(said):
    one = said("CON07", PAINT, ("tolerance: 1 mm, bottom", "bottom"))
    assert "R5 of 21.14 mm, 49.2 mm above its underside" in one.message


@pytest.mark.parametrize(("tolerance", "effect"), [("3 mm", "0.56 %"), ("4 mm", "0.75 %")])
def test_the_immersion_tolerance_that_would_do(said, tolerance, effect):
    # 0.1875 % a millimetre: 0.5 % are 2.67 mm, down to a tenth
    one = said("CON08", PAINT, ("tolerance: 1 mm, bottom", f"tolerance: {tolerance}, bottom"))
    assert effect in one.message
    assert one.ways_out[0].startswith("Write tolerance: 2.6 mm, ")


def test_a_wider_spindle_may_bear_less_than_the_tolerance(said):
    # R6 (1000 Pa·s·rpm): 0.469 % a millimetre, 1.4 % for 3 mm. R5 (400): 0.1875 %, so that it bears 2.6 mm.
    three = ("tolerance: 1 mm, bottom", "tolerance: 3 mm, bottom")
    one = said("CON08", PAINT, ("spindle: R5", "spindle: R6"), three)
    assert "by ± 1.4 %" in one.message
    assert one.ways_out[1].startswith("Use spindle R5: 22.0 % at the lower limit and 48.0 % at the upper")
    assert one.ways_out[1].endswith("; and write tolerance: 2.6 mm.")
    # R4 (200): 0.094 % a millimetre, 5.3 mm; R3 (100): 0.047 %, so that it bears the 9 mm as they are.
    one = said("CON08", SAUCE, ("tolerance: 2 mm, bottom", "tolerance: 9 mm, bottom"))
    assert "Write tolerance: 5.3 mm, set on a stand with fine height adjustment." == one.ways_out[0]
    assert "spindle R3: " in one.ways_out[1]
    assert "tolerance" not in one.ways_out[1]


@pytest.mark.parametrize(
    ("right", "wrong", "expected"),
    [
        ("demonstration: true", "demonstration: true", ["CON09"]),
        ("demonstration: true", "result_type: relative\ndemonstration: true", []),
        (
            BEAKER,
            (
                f"{BEAKER}\ncoefficient: {{full_scale: 191 Pa·s·rpm, guard: not-used, "
                "container: beaker-600-low-form, evidence: S-1}"
            ),
            [],
        ),
    ],
)
def test_a_disc_hung_by_depth_needs_a_coefficient_of_its_own(spoken, right, wrong, expected):
    by_depth = ("to: shaft-mark,", "to: depth, depth: 50 mm,")
    assert expected == spoken(SAUCE, by_depth, (right, wrong))


def test_what_hangs_how_is_said_with_its_size(said):
    assert "chamber-11.8 (11.8 mm) is a chamber-cylinder and hangs by above-top" in (
        said("CON09", GEL, ("to: above-top", "to: depth")).message
    )


@pytest.mark.parametrize("tolerance", ["0.4 mL", "5 %"])
def test_the_filling_that_keeps_the_cover(said, tolerance):
    # 0.4 mL of 2.835 cm² are 1.41 mm; 1 mm is 0.28 mL, down to one digit
    one = said("CON10", GEL, ("volume: 8.0 mL ± 0.2 mL", f"volume: 8.0 mL ± {tolerance}"))
    assert "move the level by ± 1.4 mm in a bore of 19.0 mm" in one.message
    assert "Fill to ± 0.20 mL, by mass if it is thick." == one.ways_out[0]
    assert "Write tolerance: 1.5 mm, if a study bears it." == one.ways_out[1]


@pytest.mark.parametrize(("upper", "expected"), [("5.0 Pa·s", []), ("5.1 Pa·s", ["CON12"])])
def test_from_where_a_product_is_thick(spoken, upper, expected):
    limits = "lower: 20.0 Pa·s, target: 25.0 Pa·s, upper: 30.0 Pa·s"
    changes = (
        ("  mass: 8.1 g ± 0.2 g\n", ""),
        (limits, f"lower: 3.0 Pa·s, target: 4.0 Pa·s, upper: {upper}"),
    )
    assert expected == spoken(GEL, *changes)


def test_the_mass_that_stands_for_the_volume(said):
    # 8.0 mL at 1.01 g/mL; 9.1 g are 9.01 mL
    weighed = said("CON12", GEL, ("  mass: 8.1 g ± 0.2 g\n", ""))
    assert "of up to 30.0 Pa·s, in a chamber" in weighed.message
    assert "Weigh it in: mass 8.08 g stands for 8.0 mL." == weighed.ways_out[0]
    both = said("CON14", GEL, ("mass: 8.1 g", "mass: 9.1 g"))
    assert "1.0 g more" in both.message
    assert "Write mass: 8.08 g ± 0.2 g." == both.ways_out[0]
    assert both.ways_out[1].startswith("Write volume: 9.01 mL ± 0.2 mL")
    assert "reads low" in said("CON14", GEL, ("mass: 8.1 g", "mass: 7.1 g")).message


def test_a_pack_whose_wall_is_judged_is_not_spoken_of_twice(spoken):
    # A guard that does not go in, and a coefficient found elsewhere, each have a rule of their own.
    in_the_jar = ("volume: 500 mL ± 10 mL", "volume: 280 mL ± 5 mL")
    assert ["CON01"] == spoken(PAINT, (BEAKER, "container: jar-63"), in_the_jar)
    own = "coefficient: {full_scale: 191 Pa·s·rpm, guard: not-used, container: beaker-600-low-form, evidence: S-1}"
    assert [] == spoken(SAUCE, (BEAKER, f"container: jar-63\n{own}"), in_the_jar)


def test_how_much_the_supply_fills(said):
    # 1.5 L over two loadings and as many again is 375 mL, down to tens; 30 mL fill nothing
    one = said("CON16", PAINT, ("supplied: 2.5 L", "supplied: 1.5 L"))
    assert (
        "Have at least 2.00 L supplied.",
        "Fill at most 370 mL each, if the level allows it.",
    ) == one.ways_out
    assert "smaller container" in said("CON16", PAINT, ("supplied: 2.5 L", "supplied: 30 mL")).ways_out[1]


def test_a_missing_cover_is_found_where_it_should_stand(said):
    unsaid, refused = (
        said("CON17", PAINT, (", covered: true", "")),
        said("CON17", PAINT, ("covered: true", "covered: false")),
    )
    assert ("temperature", "conditioning") == unsaid.path
    assert ("temperature", "conditioning", "covered") == refused.path
    assert "for 210 min; 10 min are allowed" in refused.message


def test_the_clearance_as_filled_now(said):
    # (490 + 1.4) mL of 53.52 cm² are 91.8 mm at the least; less 49.2 mm
    assert "42.6 mm stay free" in said("CON18", SAUCE, (", bottom_clearance: 20 mm", "")).message
