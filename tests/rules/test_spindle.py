"""Spindle, guard and coefficient: each rule just inside and just outside, the traps, the twins."""

import pytest

from fillmark.diagnostics import Severity

PAINT, CREAM, GEL, SAUCE, STARCH = "MCW-VIS-014", "LMT-VIS-021", "QAP-VIS-002", "TGF-VIS-003", "BBM-VIS-007"

DIGITAL = "instrument: {spring: R, readout: digital, coupling: threaded, "
THREADED = DIGITAL + "suspension: pivot-and-jewel, stand: fine-height}"
DIAL = THREADED.replace("digital", "dial")
BEAKER = "container: beaker-600-low-form"
TOPIC = "SPN"


def own(full_scale, guard="required", container="beaker-600-low-form", more=", expires: 2028-01-31"):
    """Put a coefficient of the laboratory's own under the container of a method."""
    known = f"guard: {guard}, container: {container}, evidence: STUDY-12"
    return f"\ncoefficient: {{full_scale: {full_scale}, {known}{more}}}"


# Look-alike forms of spindles 1 and 2


@pytest.mark.parametrize("spring", ["2R", "8R"])
@pytest.mark.parametrize("spindle", ["R1", "R2"])
@pytest.mark.parametrize("guard", ["required", "not-used", "not-applicable"])
def test_the_guarded_form_on_a_strong_spring_is_one_finding(spoken, spring, spindle, guard):
    changes = ((DIAL, DIAL.replace("spring: R", f"spring: {spring}")), ("spindle: R2", f"spindle: {spindle}"))
    assert ["SPN01"] == spoken(STARCH, *changes, ("guard: required", f"guard: {guard}"))


@pytest.mark.parametrize("spindle", ["U1", "U2"])
@pytest.mark.parametrize("guard", ["required", "not-used", "not-applicable"])
def test_the_form_without_guard_on_a_weak_spring_is_one_finding(spoken, spindle, guard):
    assert ["SPN01"] == spoken(
        STARCH, ("spindle: R2", f"spindle: {spindle}"), ("guard: required", f"guard: {guard}")
    )


def test_the_finding_names_the_other_form_and_the_other_spring_with_their_torque(said):
    # U1 is 20 Pa·s·rpm on 2R: 300 and 500 mPa·s at 50 rpm are 75 and 125 %; R1 is 10 on R: 150 and 250 %
    one = said(
        "SPN01", STARCH, (DIAL, DIAL.replace("spring: R", "spring: 2R")), ("spindle: R2", "spindle: R1")
    )
    assert "U1" in one.message
    assert "low" in one.message
    assert "Use U1 without a guard (75.0 to 125.0 % torque at viscosity_50)." == one.ways_out[0]
    assert one.ways_out[1].startswith("Use spring R (718.7 µN·m) with R1 with the guard (150.0 to 250.0 %")


@pytest.mark.parametrize(("spring", "spindle"), [("2R", "U2"), ("8R", "U1"), ("R", "R1")])
def test_the_right_form_is_silent(spoken, spring, spindle):
    guard = "required" if spring == "R" else "not-used"
    changes = ((DIAL, DIAL.replace("spring: R", f"spring: {spring}")), ("spindle: R2", f"spindle: {spindle}"))
    assert [] == spoken(STARCH, *changes, ("guard: required", f"guard: {guard}"))


# Spindles of another set


@pytest.mark.parametrize("spindle", ["L1", "L2", "L3", "L4"])
def test_a_spindle_of_the_weakest_range_on_another_spring(spoken, spindle):
    assert ["SPN02"] == spoken(PAINT, ("spindle: R5", f"spindle: {spindle}"))


def test_the_ratio_of_the_two_weakest_springs_is_said(said):
    # 718.7 / 67.37 = 10.668
    assert "10.67" in said("SPN02", PAINT, ("spindle: R5", "spindle: L2")).message


def test_a_coefficient_of_ones_own_makes_it_right(spoken):
    assert [] == spoken(PAINT, ("spindle: R5", "spindle: L2"), (BEAKER, BEAKER + own("320 Pa·s·rpm")))


# Guard left off and guard added


@pytest.mark.parametrize("spindle", ["R1", "R2"])
def test_a_guard_left_off_where_the_coefficient_assumes_it(spoken, said, spindle):
    changes = (("spindle: R2", f"spindle: {spindle}"), ("guard: required", "guard: not-used"))
    assert ["SPN03"] == spoken(STARCH, *changes)
    one = said("SPN03", STARCH, *changes)
    assert "reads low" in one.message
    assert "R1 and R2" in one.message
    assert Severity.ERROR == one.severity


def test_a_guard_dependent_spindle_without_a_guard_is_one_finding(codes, lines):
    changes = (("guard: required", "guard: not-used"),)
    assert [("SPN03", lines(STARCH, *changes, at="guard: not-used"))] == codes(STARCH, *changes)


@pytest.mark.parametrize("spindle", ["R3", "R4", "R5", "R6", "R7"])
@pytest.mark.parametrize("guard", ["required", "not-used"])
def test_a_spindle_that_holds_either_way_is_silent(spoken, spindle, guard):
    assert [] == spoken(PAINT, ("spindle: R5", f"spindle: {spindle}"), ("guard: required", f"guard: {guard}"))


def test_declared_continuity_is_accepted(codes):
    declared = "guard: not-used\nguard_continuity: Always run without since the first release; study BBM-7."
    assert [] == codes(STARCH, ("guard: required", declared))


def test_a_coefficient_found_without_the_guard_is_accepted(spoken):
    changes = (
        ("guard: required", "guard: not-used"),
        (BEAKER, BEAKER + own("42 Pa·s·rpm", guard="not-used")),
    )
    assert [] == spoken(STARCH, *changes)


def test_a_coefficient_found_with_the_guard_does_not_excuse_leaving_it_off(spoken):
    changes = (("guard: required", "guard: not-used"), (BEAKER, BEAKER + own("41 Pa·s·rpm")))
    assert ["SPN03"] == spoken(STARCH, *changes)


def test_a_guard_fitted_where_the_coefficient_was_found_without_reads_high(said, spoken):
    changes = ((BEAKER, BEAKER + own("405 Pa·s·rpm", guard="not-used")),)
    assert ["SPN04"] == spoken(PAINT, *changes)
    assert "reads high" in said("SPN04", PAINT, *changes).message
    assert [] == spoken(PAINT, (BEAKER, BEAKER + own("405 Pa·s·rpm")))


# A guard where none can be


def test_a_guard_on_a_spring_that_takes_none(spoken):
    strong = THREADED.replace("spring: R", "spring: 2R").replace("threaded", "quick-connect")
    changes = ((THREADED, strong), ("spindle: R5", "spindle: R4"))
    assert ["SPN05"] == spoken(PAINT, *changes)
    assert [] == spoken(PAINT, *changes, ("guard: required", "guard: not-used"))
    assert [] == spoken(PAINT, *changes, ("guard: required", "guard: not-applicable"))


@pytest.mark.parametrize(
    ("method", "right"), [(CREAM, "guard: not-applicable"), (GEL, "guard: not-applicable")]
)
def test_a_guard_that_the_geometry_cannot_carry_is_one_finding(codes, method, right):
    assert ["SPN06"] == [code for code, _ in codes(method, (right, "guard: required"))]


@pytest.mark.parametrize("method", [PAINT, STARCH])
def test_a_guard_state_left_open_on_a_range_with_a_guard(spoken, method):
    assert ["SPN07"] == spoken(method, ("guard: required", "guard: not-applicable"))


# The guard goes with the coupling

TWIST = THREADED.replace("threaded", "twist-lock")
EXTENDED = THREADED.replace("stand: fine-height}", "stand: fine-height, adapter: quick-connect}")


@pytest.mark.parametrize(
    ("instrument", "form", "expected"),
    [
        (THREADED, "standard", []),
        (THREADED, "long", ["SPN08"]),
        (TWIST, "standard", ["SPN08"]),
        (TWIST, "long", []),
        (EXTENDED, "standard", ["SPN08"]),
        (EXTENDED, "long", []),
    ],
)
def test_the_guard_goes_with_the_coupling(codes, instrument, form, expected):
    changes = ((THREADED, instrument), ("guard: required", f"guard: required\nguard_form: {form}"))
    assert expected == [code for code, _ in codes(PAINT, *changes)]


def test_a_standard_guard_on_a_twist_lock_reads_low(said):
    changes = ((THREADED, TWIST), ("guard: required", "guard: required\nguard_form: standard"))
    one = said("SPN08", PAINT, *changes)
    assert "reads low" in one.message
    assert "Write guard_form: long." == one.ways_out[0]
    assert "threaded or magnetic" in one.ways_out[1]


def test_a_guard_form_without_a_guard_is_not_looked_at(spoken):
    assert [] == spoken(PAINT, ("guard: required", "guard: not-used\nguard_form: long"))


# Coefficients of the laboratory's own


@pytest.mark.parametrize(
    ("container", "expected", "way"),
    [("beaker-600-low-form", [], ""), ("jar-63", ["SPN09"], "low"), ("beaker-600-wide", ["SPN09"], "high")],
)
def test_a_coefficient_found_in_another_container(spoken, said, container, expected, way):
    change = (BEAKER, BEAKER + own("405 Pa·s·rpm", container=container))
    assert expected == spoken(PAINT, change)
    if expected:
        assert f"reads {way}" in said("SPN09", PAINT, change).message


@pytest.mark.parametrize(("inside", "expected"), [("60.4 mm", []), ("60.6 mm", ["SPN09"])])
def test_a_container_of_the_same_width_is_the_same(spoken, inside, expected):
    depth = "height: 62 mm, fill_depth: 55 mm"
    jar = f"container: {{label: the jar, kind: pack, inside_diameter: {inside}, {depth}}}"
    block = own("1000 Pa·s·rpm", guard="not-applicable", container="jar-60")
    assert expected == spoken(CREAM, ("container: jar-60", jar + block))


@pytest.mark.parametrize(
    ("inside", "expected"), [("19.0 mm", []), ("19.4 mm", []), ("19.6 mm", ["SPN10"]), ("11 mm", [])]
)
def test_a_chamber_cylinder_in_another_cup(spoken, inside, expected):
    # In 11 mm it does not go in at all; the container says so.
    height = "height: 60 mm, jacketed: true"
    cup = f"container: {{label: the cup, kind: chamber, inside_diameter: {inside}, {height}}}"
    assert expected == spoken(GEL, ("container: chamber-19", cup))


def test_a_wider_cup_reads_low_by_the_coaxial_formula(said):
    # (1 - (11.8/19)²)/(1 - (11.8/20)²) - 1 = -5.77 %
    cup = "container: {label: the cup, kind: chamber, inside_diameter: 20 mm, height: 60 mm, jacketed: true}"
    assert "reads low, by about 5.8 %" in said("SPN10", GEL, ("container: chamber-19", cup)).message


@pytest.mark.parametrize(
    ("expires", "expected"), [("2026-12-01", []), ("2026-11-30", ["SPN11"]), ("2028-01-31", [])]
)
def test_a_coefficient_that_lapses_before_the_method_is_in_force(spoken, expires, expected):
    assert expected == spoken(PAINT, (BEAKER, BEAKER + own("405 Pa·s·rpm", more=f", expires: {expires}")))


def test_without_an_effective_date_the_lapse_is_not_judged(not_judged):
    block = own("41 Pa·s·rpm", more=", expires: 2026-01-31")
    (reason,) = not_judged("SPN11", STARCH, (BEAKER, BEAKER + block))
    assert "2026-01-31" in reason


def test_a_coefficient_without_a_day_is_advice(said):
    one = said("SPN12", PAINT, (BEAKER, BEAKER + own("405 Pa·s·rpm", more="")))
    assert Severity.ADVICE == one.severity


@pytest.mark.parametrize(
    ("full_scale", "expected"), [(600, []), (601, ["SPN13"]), (267, []), (266, ["SPN13"]), (400, [])]
)
def test_a_coefficient_far_from_the_catalogue(spoken, full_scale, expected):
    # 400 Pa·s·rpm times and over 1.5
    assert expected == spoken(PAINT, (BEAKER, BEAKER + own(f"{full_scale} Pa·s·rpm")))


@pytest.mark.parametrize(
    ("full_scale", "looks"),
    [
        ("800 Pa·s·rpm", "spring 2R"),
        ("3200 Pa·s·rpm", "spring 8R"),
        ("37.5 Pa·s·rpm", "spring L"),  # 400 / 10.668
        ("4000 Pa·s·rpm", "a slip by a factor of 10"),
        ("0.4 Pa·s·rpm", "a slip by a factor of 1000"),
    ],
)
def test_what_a_coefficient_looks_like(said, full_scale, looks):
    one = said("SPN13", PAINT, (BEAKER, BEAKER + own(full_scale)))
    assert looks in one.message
    assert "Write 400.0 Pa·s·rpm" in one.ways_out[0]


# Crossbar and helical stand


def test_a_bar_that_turns_in_one_place(spoken, said):
    changes = (("stand: helical,", "stand: fine-height,"),)
    assert ["SPN14"] == spoken(CREAM, *changes)
    # 36 s at 5 rpm are 3 turns, and each arm passes once a turn
    assert "6 times" in said("SPN14", CREAM, *changes).message


def test_a_disc_on_a_helical_drive(spoken):
    wrong = THREADED.replace("pivot-and-jewel", "ball-bearing").replace("fine-height", "helical")
    assert ["SPN15"] == spoken(SAUCE, (THREADED, wrong))


@pytest.mark.parametrize(("average", "expected"), [("72 s", []), ("73 s", []), ("74 s", ["SPN16"])])
def test_the_bar_keeps_its_distance_from_the_bottom(spoken, average, expected):
    # 55 - 10 - 5 = 40 mm at 22 mm/min are 109.1 s: 36 + 73 fits, 36 + 74 does not
    assert expected == spoken(CREAM, ("average: 24 s", f"average: {average}"))


def test_averaging_from_30_to_180_s_runs_into_the_bottom(said, spoken, lines):
    change = ("read: {after: 36 s, average: 24 s}", "read: {after: 30 s, average: 150 s}")
    assert ["SPN16"] == spoken(CREAM, change)
    one = said("SPN16", CREAM, change)
    assert lines(CREAM, change, at="average: 150 s") == one.span.line
    # 5 + 22·3 = 71 mm of path in 55 mm of cream
    assert "71.0 mm deep" in one.message
    assert "End the reading 109 s after motor start at the latest." == one.ways_out[0]
    assert "high" in one.message


def test_a_bar_that_rises_starts_above_the_clearance(spoken):
    up = "to: depth, depth: {}, tolerance: 1 mm, direction: up"
    right = "to: depth, depth: 5 mm, tolerance: 1 mm, direction: down"
    assert [] == spoken(CREAM, (right, up.format("45 mm")))
    assert ["SPN16"] == spoken(CREAM, (right, up.format("46 mm")))
    # 22 mm up from 24.9 mm leave 2.9 mm, and 3 mm are to stay above the bar
    assert [] == spoken(CREAM, (right, up.format("25 mm")))
    assert ["SPN17"] == spoken(CREAM, (right, up.format("24.9 mm")))


@pytest.mark.parametrize(("depth", "expected"), [("3 mm", []), ("2.9 mm", ["SPN17"])])
def test_the_bar_starts_below_the_surface(spoken, depth, expected):
    assert expected == spoken(CREAM, ("depth: 5 mm", f"depth: {depth}"))


def test_the_travel_of_a_helical_stand_is_wanted(spoken):
    assert ["SPN18"] == spoken(CREAM, ("rise_rate: 22 mm/min, ", ""))


@pytest.mark.parametrize(("rate", "expected"), [("16 mm/min", []), ("15.9 mm/min", ["SPN19"])])
def test_half_a_turn_lifts_the_bar_by_its_wire(spoken, rate, expected):
    # 1.6 mm in half a turn at 5 rpm: 1.6·2·5 = 16 mm/min
    assert expected == spoken(CREAM, ("rise_rate: 22 mm/min", f"rise_rate: {rate}"))


# Particles in a gap


@pytest.mark.parametrize(("particle", "expected"), [("360 µm", []), ("361 µm", ["SPN20"])])
def test_particles_in_a_chamber(spoken, particle, expected):
    # a tenth of (19.0 - 11.8)/2 = 3.6 mm
    assert expected == spoken(GEL, ("largest_particle: 100 µm", f"largest_particle: {particle}"))


def test_seeds_pass_a_disc_in_an_open_beaker_and_not_a_chamber(spoken, said):
    assert [] == spoken(SAUCE)
    change = ("largest_particle: 100 µm", "largest_particle: 3 mm")
    assert ["SPN20"] == spoken(GEL, change)
    assert "83 % of it" in said("SPN20", GEL, change).message


@pytest.mark.parametrize(
    ("particle", "severity"),
    [
        ("1.3 µm", None),
        ("1.4 µm", Severity.WARNING),
        ("2.6 µm", Severity.WARNING),
        ("2.7 µm", Severity.ERROR),
    ],
)
def test_particles_under_a_cone(compiled, particle, severity):
    # a tenth and a fifth of the 13 µm at the tip
    changes = (
        ("spindle: chamber-11.8", "spindle: cone-0.8"),
        ("container: chamber-19", "container: plate-cup"),
        ("to: above-top, depth: 4 mm, tolerance: 1 mm, bottom_clearance: 4 mm", "to: gap"),
        ("largest_particle: 100 µm", f"largest_particle: {particle}"),
    )
    found = [d.severity for d in compiled(GEL, *changes).diagnostics if d.code == "SPN20"]
    assert ([] if severity is None else [severity]) == found


def test_unknown_particles_in_a_gap_are_not_judged(not_judged):
    reasons = not_judged("SPN20", GEL, ("  largest_particle: 100 µm\n", ""))
    assert ["the largest particle is not known"] == reasons


# What the messages and their ways out say, worked out by hand

DRIVEN = THREADED.replace("pivot-and-jewel", "ball-bearing").replace("fine-height", "helical")


def test_a_spindle_of_the_right_set_is_offered(said):
    # R5 of 400 Pa·s·rpm: 44 to 96 Pa·s at 2 rpm are 22 to 48 %
    one = said("SPN02", PAINT, ("spindle: R5", "spindle: L2"))
    assert one.ways_out[0].startswith(
        "Use spindle R5: 22.0 % at the lower limit and 48.0 % at the upper limit"
    )


@pytest.mark.parametrize(
    ("inside", "room"),
    [
        # (d - 70) / 2, and 2 mm are needed
        (
            "82.55 mm",
            "Write guard: required; the standard guard leaves 6.3 mm to the wall of this container.",
        ),
        ("74.2 mm", "Write guard: required; the standard guard leaves 2.1 mm to the wall of this container."),
        ("73.8 mm", "Write guard: required and take a wider container: the standard guard is 70 mm wide."),
    ],
)
def test_whether_the_guard_has_room(said, inside, room):
    vessel = f"container: {{label: the vessel, kind: beaker, inside_diameter: {inside}, height: 200 mm}}"
    one = said("SPN03", STARCH, ("guard: required", "guard: not-used"), (BEAKER, vessel))
    assert room == one.ways_out[0]


def test_continuity_does_not_excuse_a_coefficient_found_with_the_guard(spoken, said):
    declared = "guard: not-used\nguard_continuity: Always run without since the first release; study BBM-7."
    changes = (("guard: required", declared), (BEAKER, BEAKER + own("42 Pa·s·rpm")))
    assert ["SPN03"] == spoken(STARCH, *changes)
    assert "Find the coefficient again without the guard." == said("SPN03", STARCH, *changes).ways_out[1]


def test_a_coefficient_found_without_the_guard_is_found_again_with_it(said):
    one = said("SPN04", PAINT, (BEAKER, BEAKER + own("405 Pa·s·rpm", guard="not-used")))
    assert "Find the coefficient again with the guard." == one.ways_out[1]
    assert [("coefficient", "guard")] == [r.path for r in one.related]


def test_a_spring_that_carries_the_guard_is_offered_with_its_torque(said):
    strong = THREADED.replace("spring: R", "spring: 2R").replace("threaded", "quick-connect")
    one = said("SPN05", PAINT, (THREADED, strong), ("spindle: R5", "spindle: R4"))
    # R4 of 200 Pa·s·rpm on R: 44 to 96 Pa·s at 2 rpm, 8 to 12 Pa·s at 20 rpm
    assert one.ways_out[1].startswith(
        "Use spring R (718.7 µN·m) (44.0 to 96.0 % torque at viscosity_2; 80.0 to"
    )


def test_a_chamber_on_a_strong_spring_is_one_finding_of_the_guard(spoken):
    changes = (("spring: R,", "spring: 2R,"), ("guard: not-applicable", "guard: required"))
    assert ["SPN06"] == [code for code in spoken(GEL, *changes) if code in ("SPN05", "SPN06")]


def test_how_wide_the_guard_is_that_does_not_go_in(said):
    one = said("SPN06", GEL, ("guard: not-applicable", "guard: required"))
    assert "The standard guard is 70 mm wide; chamber-11.8 is a chamber-cylinder" in one.message


@pytest.mark.parametrize(
    ("instrument", "form", "effect", "place"),
    [
        (THREADED, "long", "it meets the bottom before the mark", "coupling"),
        (TWIST, "standard", "partly outside it", "coupling"),
        (EXTENDED, "standard", "partly outside it", "adapter"),
    ],
)
def test_why_a_guard_does_not_go_with_a_coupling(said, instrument, form, effect, place):
    form_of = ("guard: required", f"guard: required\nguard_form: {form}")
    one = said("SPN08", PAINT, *([(THREADED, instrument)] if instrument != THREADED else []), form_of)
    assert effect in one.message
    assert [("instrument", place)] == [r.path for r in one.related]


@pytest.mark.parametrize(
    ("full_scale", "looks"),
    [
        ("40000 Pa·s·rpm", "a slip by a factor of 100."),
        ("4 Pa·s·rpm", "a slip by a factor of 100."),
        ("1000 Pa·s·rpm", None),  # 2.5 times: neither a spring nor a slip
        ("4180 Pa·s·rpm", "a slip by a factor of 10."),  # within 5 %
        ("4220 Pa·s·rpm", None),
    ],
)
def test_a_coefficient_need_not_look_like_anything(said, full_scale, looks):
    message = said("SPN13", PAINT, (BEAKER, BEAKER + own(full_scale))).message
    assert ("It looks like" in message) == (looks is not None)
    assert looks is None or f"It looks like {looks}" in message


def test_how_far_a_helical_drive_carries_a_disc(said):
    # 30 s at 22 mm/min
    assert "for the 30.0 s of the run it travels on" in said("SPN15", SAUCE, (THREADED, DRIVEN)).message
    driven = DRIVEN.replace("helical", "helical, rise_rate: 22 mm/min")
    assert "in 30.0 s it travels 11.0 mm" in said("SPN15", SAUCE, (THREADED, driven)).message


def test_a_disc_on_a_helical_drive_is_not_taken_for_a_bar(spoken):
    # 180 s at 22 mm/min are 66 mm, further than the bottom; that it is no bar is said once
    driven = (THREADED, DRIVEN.replace("helical", "helical, rise_rate: 22 mm/min"))
    deep = ("to: shaft-mark,", "to: depth, depth: 50 mm,")
    late = ("read: {after: 30 s, revolutions: 5 rev}", "read: {after: 180 s}")
    assert ["SPN15"] == spoken(SAUCE, driven, deep, late)


@pytest.mark.parametrize(
    ("read", "key"), [("{after: 120 s}", "after"), ("{revolutions: 10 rev}", "revolutions")]
)
def test_where_a_bar_reaches_the_bottom_is_found_at_the_end_of_its_reading(said, read, key):
    # 120 s at 22 mm/min and 5 mm are 49 mm of 55 mm
    one = said("SPN16", CREAM, ("read: {after: 36 s, average: 24 s}", f"read: {read}"))
    assert ("run", 0, "read", key) == one.path
    assert "49.0 mm deep, 6.0 mm above the bottom" in one.message
    assert "Use a container with at least 59.0 mm of product." == one.ways_out[1]


@pytest.mark.parametrize(
    ("depth", "direction", "message", "ways"),
    [
        ("2 mm", "down", "At the start the bar is 2.0 mm below", ("Start 3.0 mm below", "Fill 1.0 mm more")),
        # 22 mm up in 60 s
        (
            "24 mm",
            "up",
            "At the end of the reading the bar is 2.0 mm below",
            ("Start 25.0 mm", "Write direction: down"),
        ),
    ],
)
def test_how_much_stands_above_the_bar(said, depth, direction, message, ways):
    right = "to: depth, depth: 5 mm, tolerance: 1 mm, direction: down"
    wrong = f"to: depth, depth: {depth}, tolerance: 1 mm, direction: {direction}"
    one = said("SPN17", CREAM, (right, wrong))
    assert one.message.startswith(message)
    assert all(way.startswith(start) for way, start in zip(one.ways_out, ways, strict=True))


def test_how_slow_the_bar_would_have_to_turn(said):
    # 15 mm/min at 5 rpm are 1.5 mm in half a turn; 5 · 1.5 / 1.6 = 4.69 rpm, down to a tenth
    one = said("SPN19", CREAM, ("rise_rate: 22 mm/min", "rise_rate: 15 mm/min"))
    assert ("Turn at 4.6 rpm or slower.", "Use a stand that travels at least 16.0 mm/min.") == one.ways_out


def test_a_disc_of_the_spring_passes_particles_and_a_wider_gap_does(said):
    # ten times 0.5 mm; L3 is a disc too, but for another spring
    one = said("SPN20", GEL, ("largest_particle: 100 µm", "largest_particle: 500 µm"))
    assert "Use a disc in the reference beaker, which has no gap: R2, R3, R4, R5, R6." == one.ways_out[0]
    assert "Use a geometry with a gap of at least 5.00 mm." == one.ways_out[1]


def test_the_guard_that_just_fits_needs_no_wider_container(said):
    # The guard is 70 mm wide and 2 mm are to stay free on each side: 74 mm just do.
    own = "container: {label: the vessel, kind: beaker, inside_diameter: %s, height: 118 mm}"
    for inside, wider in (("74 mm", False), ("73.9 mm", True)):
        d = said("SPN03", "BBM-VIS-007", ("guard: required", "guard: not-used"), (BEAKER, own % inside))
        assert wider == ("take a wider container" in d.ways_out[0])


def test_a_spring_without_a_guard_is_offered_no_spindle_for_one(said):
    changes = ("guard: not-applicable", "guard: required"), ("spring: R,", "spring: 2R,")
    d = said("SPN06", "LMT-VIS-021", *changes)
    assert "another spring" in d.ways_out[1]
