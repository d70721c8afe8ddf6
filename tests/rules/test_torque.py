"""Each torque rule just inside and just outside its limit, and what its message says."""

import pytest

from fillmark.diagnostics import Severity
from fillmark.rules.torque import _down

CREAM, SAUCE, PAINT, STARCH, GEL = "LMT-VIS-021", "TGF-VIS-003", "MCW-VIS-014", "BBM-VIS-007", "QAP-VIS-002"
LOWER, UPPER = "lower: 70 Pa·s", "upper: 130 Pa·s"
WHOLE = "lower: 70 Pa·s, target: 100 Pa·s, upper: 130 Pa·s"


# The cream reads on 200 Pa·s full scale (1000 Pa·s·rpm at 5 rpm), with 2 %/K, ± 0.5 K, ± 1 % of full scale.
# Torque by hand: t = 100 · limit / 200; at worst t · (1 ± 0.01) ± 1.
@pytest.mark.parametrize(
    ("right", "wrong", "expected"),
    [
        (UPPER, "upper: 166 Pa·s", []),  # 83.0 %, and a fifth above it 99.6 %
        (UPPER, "upper: 167 Pa·s", ["TRQ05"]),  # 83.5 %, and a fifth above it 100.2 %
        (UPPER, "upper: 196 Pa·s", ["TRQ05"]),  # 98.0 %, at worst 99.98 %
        (UPPER, "upper: 197 Pa·s", ["TRQ02"]),  # 98.5 %, at worst 100.485 %
        (UPPER, "upper: 200 Pa·s", ["TRQ02"]),  # 100.0 %
        (UPPER, "upper: 201 Pa·s", ["TRQ01"]),  # 100.5 %
        (LOWER, "lower: 40 Pa·s", []),  # 20.0 %
        (LOWER, "lower: 39 Pa·s", ["TRQ04"]),  # 19.5 %
        (LOWER, "lower: 23 Pa·s", ["TRQ04"]),  # 11.5 %, at worst 10.385 %
        (LOWER, "lower: 22 Pa·s", ["TRQ03"]),  # 11 %, at worst 9.89 %
        (WHOLE, "lower: 44 Pa·s, target: 60 Pa·s, upper: 76 Pa·s", []),  # target 30.0 %
        (WHOLE, "lower: 44 Pa·s, target: 59.9 Pa·s, upper: 76 Pa·s", ["TRQ06"]),
        (WHOLE, "lower: 100 Pa·s, target: 160 Pa·s, upper: 166 Pa·s", []),  # target 80.0 %
        (WHOLE, "lower: 100 Pa·s, target: 160.1 Pa·s, upper: 166 Pa·s", ["TRQ06"]),
    ],
)
def test_the_window(right, wrong, expected, codes, lines):
    line = lines(CREAM, (right, wrong), at="speed: 5 rpm")
    assert [(code, line) for code in expected] == codes(CREAM, (right, wrong))


def test_both_ends_of_a_specification_too_wide_are_two_findings(codes, lines):
    change = (WHOLE, "lower: 10 Pa·s, target: 100 Pa·s, upper: 230 Pa·s")
    line = lines(CREAM, change, at="speed: 5 rpm")
    assert [("TRQ01", line), ("TRQ03", line)] == codes(CREAM, change)


def test_the_message_says_from_where_good_batches_cannot_be_read(only):
    found = only(CREAM, (UPPER, "upper: 250 Pa·s"))
    assert "takes 125.0 % of the spring, 25.0 % over the scale" in found.message
    assert "Good batches above 200 Pa·s cannot be read" in found.message
    assert "too low" in found.message
    assert ["the upper limit of 250 Pa·s"] == [r.note for r in found.related]


def test_the_worst_case_says_from_where_batches_may_be_lost(only):
    # (100 - 1) / 1.01 = 98.02 % of 200 Pa·s is 196 Pa·s.
    assert "Good batches above 196 Pa·s may" in only(CREAM, (UPPER, "upper: 198 Pa·s")).message


def test_the_instrument_share_of_a_low_reading_is_given(only):
    # 1 % of full scale at 11 % torque is 9.1 % of the reading.
    found = only(CREAM, (LOWER, "lower: 22 Pa·s"))
    assert "11.0 % of the spring, and 9.9 % at worst: 0.1 % under the floor of 10 %" in found.message
    assert "± 9.1 % of the reading, high or low" in found.message


def test_a_failing_batch_too_low_for_a_number_is_told(only):
    # 23 / 200 = 11.5 %; a fifth below it 9.58 %.
    assert "reads 9.6 %, too low to be a number" in only(CREAM, (LOWER, "lower: 23 Pa·s")).message


def test_a_one_sided_limit_is_judged_on_its_side_and_the_other_left_open(codes, not_judged, lines):
    change = ("target: 100 Pa·s, upper: 130 Pa·s", "one_sided: true")
    assert [] == [c for c, _ in codes(CREAM, change) if c.startswith("TRQ")]
    assert ["step consistency_5 has no upper limit"] == not_judged("TRQ01", CREAM, change)
    assert [] == not_judged("TRQ03", CREAM, change)


# Every step of a run passes by itself. The index of 5.5 to 8.0 times 8 and 12 Pa·s gives 44 to 96 Pa·s at the
# slow step; on 400 Pa·s·rpm that is 11.0 % at 1 rpm and 8.8 % at 0.8 rpm.
def test_each_step_is_judged_by_itself(codes, lines, only):
    change = ("speed: 2 rpm, read: {after: 150 s}", "speed: 0.8 rpm, read: {after: 375 s}")
    assert [("TRQ03", lines(PAINT, change, at="viscosity_2, speed"))] == codes(PAINT, change)
    found = only(PAINT, change)
    assert "The ratio index rests on this reading." in found.message
    assert "the 44.0 Pa·s at the lower limit of the ratio" in found.message
    assert "index is built on it" in [r.note for r in found.related]


# The sauce reads on 20 Pa·s and its limits leave ± 2 Pa·s: the ratio is 10 over the accuracy in percent.
@pytest.mark.parametrize(
    ("accuracy", "expected"),
    [
        ("2.4", []),  # 4.17
        ("2.6", [("TRQ07", Severity.WARNING)]),  # 3.85
        ("3.3", [("TRQ07", Severity.WARNING)]),  # 3.03
        ("3.4", [("TRQ07", Severity.ERROR)]),  # 2.94
    ],
)
def test_the_instruments_share_of_the_specification(accuracy, expected, compiled):
    change = ("stand: fine-height}", f"stand: fine-height, accuracy: {accuracy} % of full scale}}")
    assert expected == [(d.code, d.severity) for d in compiled(SAUCE, change).diagnostics]


# Catalogue: full scale 10 Pa·s, limits 0.9 to 1.1 Pa·s, ± 1 %: the tolerance equals the half width.
def test_limits_as_wide_as_the_tolerance_are_an_error(compiled):
    found = compiled(
        SAUCE,
        ("speed: 10 rpm, read: {after: 30 s", "speed: 20 rpm, read: {after: 15 s"),
        (
            "lower: 7.0 Pa·s, target: 9.0 Pa·s, upper: 11.0 Pa·s",
            "lower: 0.9 Pa·s, target: 1.0 Pa·s, upper: 1.1 Pa·s",
        ),
    )
    assert 1.0 == pytest.approx(found.figures["run.viscosity_10.instrument_ratio"].value)
    assert Severity.ERROR in [d.severity for d in found.diagnostics if d.code == "TRQ07"]


# Catalogue: 100 Pa·s·rpm at 60 rpm, 1.2 to 1.6 Pa·s, 3 %/K, ± 1 K, ± 1 %: 72 to 96 %, at worst 99.9 %.
R3_AT_60 = (
    ("spindle: R4", "spindle: R3"),
    ("20.0 °C ± 0.5 °C", "20.0 °C ± 1.0 °C"),
    (
        "lower: 7.0 Pa·s, target: 9.0 Pa·s, upper: 11.0 Pa·s",
        "lower: 1.2 Pa·s, target: 1.4 Pa·s, upper: 1.6 Pa·s",
    ),
)


def test_a_worst_case_just_on_the_scale_only_lacks_room_above(compiled):
    changes = (*R3_AT_60, ("speed: 10 rpm, read: {after: 30 s", "speed: 60 rpm, read: {after: 5 s"))
    found = compiled(SAUCE, *changes)
    figures = [found.figures[f"run.viscosity_10.torque_{k}"].value for k in ("lower", "upper", "upper_worst")]
    assert [72.0, 96.0, 99.88] == pytest.approx(figures)
    assert ["TRQ05"] == [d.code for d in found.diagnostics if d.code.startswith("TRQ")]


# Catalogue: a factor of 20 typed where 100 Pa·s·rpm and 60 rpm give 16.67 mPa·s for each percent.
def test_a_factor_typed_for_another_speed_reads_a_fifth_high(compiled):
    read = ("speed: 10 rpm, read: {after: 30 s", "speed: 60 rpm, factor: 20 mPa·s/%, read: {after: 5 s")
    found = [d for d in compiled(SAUCE, *R3_AT_60, read).diagnostics if d.code == "TRQ08"]
    assert 1 == len(found)
    assert "give 16.67 mPa·s/%" in found[0].message
    assert "20 % high" in found[0].message


@pytest.mark.parametrize(
    ("stated", "expected"),
    [
        ("factor: 200.9 mPa·s/%", []),
        ("factor: 201.1 mPa·s/%", ["TRQ08"]),
        ("full_scale: 20.0 Pa·s", []),
        ("full_scale: 19.8 Pa·s", ["TRQ08"]),
        ("factor: 240 mPa·s/%, full_scale: 24 Pa·s", ["TRQ08"]),  # one cause, one finding
    ],
)
def test_a_stated_figure_may_be_half_a_percent_off(stated, expected, compiled):
    found = compiled(SAUCE, ("speed: 10 rpm, read", f"speed: 10 rpm, {stated}, read")).diagnostics
    assert expected == [d.code for d in found]


def test_a_low_figure_reads_low(only):
    assert "1.0 % low" in only(SAUCE, ("10 rpm, read", "10 rpm, full_scale: 19.8 Pa·s, read")).message


# Re = ρ·ω·R²/η = 1050 · 5.236 · 0.023465² / 0.3 = 10.09, by hand.
OTHER_FLUID = ("fluid: REF-300", "fluid: REF-400")


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ((OTHER_FLUID,), [("TRQ09", Severity.WARNING)]),
        ((OTHER_FLUID, ("density: 1.05 g/mL", "density: 1.04 g/mL")), []),  # 9.99
        ((("density: 1.05 g/mL", "density: 4.1 g/mL"),), []),  # 39.4, and the check covers it
        ((("density: 1.05 g/mL", "density: 4.2 g/mL"),), [("TRQ09", Severity.ERROR)]),  # 40.4
    ],
)
def test_the_flow_round_a_disc(changes, expected, compiled):
    found = compiled(STARCH, *changes).diagnostics
    assert expected == [(d.code, d.severity) for d in found if d.code.startswith("TRQ")]


def test_without_a_density_the_flow_is_not_judged(not_judged):
    reasons = not_judged("TRQ09", STARCH, ("  density: 1.05 g/mL\n", ""))
    assert ["the flow of step viscosity_50: the density is not given"] == reasons


# The gap of 25.1 in 27.6 mm at 200 rpm and 1010 kg/m³: ρ·ω·Ri·d = 0.3318 Pa·s. Over the narrow-gap number
# 41.2 · √(Ri/d) = 130.5 (Taylor, from memory) vortices begin below 2.54 mPa·s; curvature raises the number to
# 137 to 139, between 131.6 at Ri/Ro = 0.900 and 148.5 at 0.922 (linear stability): below 2.4 mPa·s.
@pytest.mark.parametrize(
    ("lower", "expected"),
    [("2.3", [Severity.ERROR]), ("2.5", [Severity.WARNING]), ("2.9", [Severity.WARNING]), ("3.1", [])],
)
def test_the_flow_in_a_narrow_gap(lower, expected, compiled):
    found = compiled(
        GEL,
        ("spring: R, readout: digital, coupling: magnetic, suspension: ball-bearing",
         "spring: L, readout: digital, coupling: threaded, suspension: pivot-and-jewel"),
        ("spindle: chamber-11.8", "spindle: coaxial-25.1"),
        ("container: chamber-19", "container: adapter-27.6"),
        ("lower: 20.0 Pa·s, target: 25.0 Pa·s, upper: 30.0 Pa·s", f"lower: {lower} mPa·s, upper: 3.5 mPa·s"),
        ("speed: 5 rpm", "speed: 200 rpm"),
    )  # fmt: skip
    assert expected == [d.severity for d in found.diagnostics if d.code == "TRQ09"]


# 2 · 0.5236 · 9.5² / (9.5² - 5.9²) = 1.7046 1/s, by hand.
@pytest.mark.parametrize(
    ("stated", "expected"), [("1.73", []), ("1.68", []), ("1.75", ["TRQ11"]), ("1.66", ["TRQ11"])]
)
def test_a_stated_shear_rate_may_be_two_percent_off(stated, expected, compiled):
    found = compiled(GEL, ("shear_rate: 1.70 1/s", f"shear_rate: {stated} 1/s")).diagnostics
    assert expected == [d.code for d in found]


def test_a_disc_has_no_shear_rate(codes, lines):
    change = ("speed: 10 rpm, read", "speed: 10 rpm, shear_rate: 2.1 1/s, read")
    assert [("TRQ10", lines(SAUCE, change, at="shear_rate"))] == codes(SAUCE, change)


@pytest.mark.parametrize(
    ("speed", "expected"),
    [("1.0", [("TRQ12", 46)]), ("0.9", [("TRQ12", 46), ("TRQ13", 46)])],
)
def test_slip_below_one_turn_a_minute(speed, expected, codes, lines):
    step = f"run:\n  - {{name: slow, speed: {speed} rpm, read: {{revolutions: 5 rev}}}}\n"
    line = lines(SAUCE, ("run:\n", step), at="name: slow")
    assert [(code, line) for code, _ in expected] == codes(SAUCE, ("run:\n", step))


def test_a_bar_does_not_slip(codes):
    step = "run:\n  - {name: slow, speed: 0.8 rpm, read: {after: 60 s}}\n"
    assert "TRQ13" not in [code for code, _ in codes(CREAM, ("run:\n", step))]


def test_a_step_without_limits_tells_what_it_can_read(compiled, lines):
    step = "lock: true}}\n  - {name: slow, speed: 20 rpm, read: {after: 30 s, lock: true}}"
    found = [d for d in compiled(STARCH, ("lock: true}}", step)).diagnostics if d.code == "TRQ12"]
    assert [lines(STARCH, ("lock: true}}", step), at="name: slow")] == [d.span.line for d in found]
    # 40 Pa·s·rpm at 20 rpm is 2 Pa·s full scale, a tenth of it 0.2 Pa·s.
    assert "200 mPa·s to 2000 mPa·s" in found[0].message


# What the messages and their ways out say, worked out by hand. The spring of 718.7 µN·m goes with its torque.


def found_of(compiled, code, method, *changes):
    (one,) = [d for d in compiled(method, *changes).diagnostics if d.code == code]
    return one


@pytest.mark.parametrize(
    ("code", "upper", "spring"),
    [
        (
            "TRQ01",
            "250 Pa·s",
            "1080 µN·m",
        ),  # 125 % and a fifth above it: 1.5 · 718.7 = 1078, up to three digits
        ("TRQ02", "198 Pa·s", "854 µN·m"),  # 0.99 · 1.2 · 718.7 = 853.8
        ("TRQ05", "167 Pa·s", "721 µN·m"),  # 1.002 · 718.7 = 720.1
    ],
)
def test_the_spring_that_is_strong_enough(code, upper, spring, compiled):
    found = found_of(compiled, code, CREAM, (UPPER, f"upper: {upper}"))
    assert f"Use a spring of {spring} or more: the flow stays as it is." == found.ways_out[1]


def test_the_spring_that_is_weak_enough(compiled):
    # 9 % on 8R ask for 9 / 20 of it: 5749.6 · 0.45 = 2587, down to three digits; 1437.4 is weaker still
    strong = ("spring: R, readout: digital, coupling: threaded, suspension: pivot-and-jewel",
              "spring: 8R, readout: digital, coupling: twist-lock, suspension: ball-bearing")  # fmt: skip
    limits = ("lower: 7.0 Pa·s, target: 9.0 Pa·s, upper: 11.0 Pa·s", "lower: 14.4 Pa·s, upper: 140 Pa·s")
    found = found_of(compiled, "TRQ03", SAUCE, strong, limits)
    assert "takes 9.0 % of the spring, and 7.9 % at worst" in found.message
    assert "Use a spring of 2580 µN·m or less: the flow stays as it is." in found.ways_out


def test_a_spring_that_carries_no_guard_is_not_offered_with_one(compiled):
    # 26 Pa·s are 130 % at 20 rpm; 2R would do, without the guard. No bench has this coupling and suspension.
    bench = (
        "coupling: threaded, suspension: pivot-and-jewel",
        "coupling: twist-lock, suspension: ball-bearing",
    )
    limits = (
        "lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s",
        "lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 26.0 Pa·s",
    )

    def first(*changes):
        found = compiled(PAINT, bench, limits, *changes).diagnostics
        return next(d.ways_out[0] for d in found if d.code == "TRQ01" and "At 20 rpm" in d.message)

    assert first().startswith("Use a smaller spindle, or turn slower: no spring for R5")
    # 1.3 · 1.2 · 718.7 = 1121, up to three digits
    assert first(("guard: required", "guard: not-used")).startswith("Use a spring of 1130 µN·m or more")


@pytest.mark.parametrize(
    ("code", "whole", "way"),
    [
        # 20 % of the spring are 40 Pa·s, below an upper limit of 130 and above one of 38
        ("TRQ04", "lower: 23 Pa·s, target: 100 Pa·s, upper: 130 Pa·s", "Raise the lower limit to 40.0 Pa·s"),
        ("TRQ04", "lower: 23 Pa·s, target: 30 Pa·s, upper: 38 Pa·s", None),
        # 198 / 1.188 = 167 Pa·s leave room above, and that is below a lower limit of 170
        ("TRQ02", "lower: 170 Pa·s, target: 190 Pa·s, upper: 198 Pa·s", None),
    ],
)
def test_a_limit_is_only_moved_where_the_other_leaves_room(code, whole, way, compiled):
    found = found_of(compiled, code, CREAM, (WHOLE, whole))
    moved = [w for w in found.ways_out if w.startswith(("Raise", "Lower"))]
    assert ([] if way is None else [way]) == [w[: len(way or "")] for w in moved]


def test_a_reading_that_is_all_tolerance_is_told(compiled):
    # 2 / 200 = 1 %, as much as the instrument takes; 1 · 0.99 - 1 is below nothing
    found = found_of(compiled, "TRQ03", CREAM, (LOWER, "lower: 2 Pa·s"))
    assert "takes 1.0 % of the spring, and at worst nothing is left of it; the floor is 10 %" in found.message
    assert "The instrument's ± 1 % of full scale is all of the reading there" in found.message
    assert "Raise the lower limit to 40.0 Pa·s, 20 % of this spring." in found.ways_out
    tiny = found_of(compiled, "TRQ03", CREAM, (LOWER, "lower: 0.05 Pa·s"))
    assert "takes less than 0.1 % of the spring" in tiny.message


def test_a_torque_far_off_the_scale_has_no_decimals(compiled):
    # 1990 / 200 = 995 %, 2100 / 200 = 1050 %
    assert "takes 995.0 % of" in found_of(compiled, "TRQ01", CREAM, (UPPER, "upper: 1990 Pa·s")).message
    assert "takes 1050 % of" in found_of(compiled, "TRQ01", CREAM, (UPPER, "upper: 2100 Pa·s")).message


@pytest.mark.parametrize("method", [CREAM])
@pytest.mark.parametrize("limits", ["lower: 50 Pa·s, one_sided: true", "upper: 50 Pa·s, one_sided: true"])
def test_limits_with_one_side_and_no_target_have_no_middle(method, limits, codes):
    assert "TRQ06" not in [code for code, _ in codes(method, (WHOLE, limits))]


@pytest.mark.parametrize(
    ("stated", "told", "looks"),
    [
        # 1.7046 1/s: 1.6 is 6.1 % low and 4.69 rpm; 1.8 is 5.6 % high and 5.28 rpm
        ("1.60", "6.1 % low", ("thinner", "4.69 rpm")),
        ("1.80", "5.6 % high", ("thicker", "5.28 rpm")),
    ],
)
def test_how_a_product_looks_beside_a_wrong_shear_rate(stated, told, looks, only):
    found = only(GEL, ("shear_rate: 1.70 1/s", f"shear_rate: {stated} 1/s"))
    assert told in found.message
    assert f"looks {looks[0]} than it is" in found.message
    assert f"set the speed nearest to {looks[1]}" in found.ways_out[1]


def test_what_a_stated_figure_should_be(only):
    found = only(SAUCE, ("speed: 10 rpm, read", "speed: 10 rpm, factor: 240 mPa·s/%, read"))
    assert "read 20 % high" in found.message
    assert "Write factor: 200 mPa·s/%." == found.ways_out[0]


@pytest.mark.parametrize(("value", "written"), [(49.6, "49"), (4.96, "4.9"), (0.0496, "0.049"), (50, "50")])
def test_a_number_is_rounded_down_to_two_digits(value, written):
    assert written == _down(value)


def test_a_swirling_flow_is_proved_or_slowed_down(compiled):
    # Re 10.09 at 50 rpm: 49.5 rpm give 10; 300 mPa·s at 49.5 rpm take 37.1 %, and 20 % on 1.86 times the spring
    found = found_of(compiled, "TRQ09", STARCH, OTHER_FLUID)
    assert "Reynolds number is 10.1; from 10 on the liquid may swirl" in found.message
    assert "Check at this step with a reference fluid of 300 mPa·s or less" in found.ways_out[1]
    # past the outer bound no check proves it: 4.2 g/mL give 40.4, and 4.04 times as thick a liquid 10
    found = found_of(compiled, "TRQ09", STARCH, ("density: 1.05 g/mL", "density: 4.2 g/mL"))
    assert "past 40 it does" in found.message
    assert not found.ways_out[1].startswith("Check at this step")


def test_the_check_of_another_spindle_proves_no_flow(compiled):
    same = ("at: viscosity_50", "at: viscosity_50\n  spindle: R2")
    other = ("at: viscosity_50", "at: viscosity_50\n  spindle: R3")
    dense = ("density: 1.05 g/mL", "density: 1.10 g/mL")
    codes = [[d.code for d in compiled(STARCH, dense, check).diagnostics] for check in (same, other)]
    assert [False, True] == ["TRQ09" in found for found in codes]
