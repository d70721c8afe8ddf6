"""Instrument and spring: each rule just inside and just outside, and the traps."""

import pytest

from fillmark.diagnostics import Severity

PAINT, CREAM, GEL, SAUCE, STARCH = "MCW-VIS-014", "LMT-VIS-021", "QAP-VIS-002", "TGF-VIS-003", "BBM-VIS-007"

STAND = "stand: fine-height}"
TOPIC = "INS"


# Suspension


@pytest.mark.parametrize("suspension", ["pivot-and-jewel", "ball-bearing"])
@pytest.mark.parametrize("spring", ["L", "R", "2R", "8R"])
def test_only_the_weakest_range_has_no_ball_bearing(spoken, spring, suspension):
    changes = (
        ("spring: R,", f"spring: {spring},"),
        ("suspension: pivot-and-jewel", f"suspension: {suspension}"),
    )
    assert (spring == "L" and suspension == "ball-bearing") == ("INS01" in spoken(SAUCE, *changes))


def test_the_weakest_range_on_a_ball_bearing_is_one_finding(only):
    right = (
        f"instrument: {{spring: R, readout: dial, coupling: threaded, suspension: pivot-and-jewel, {STAND}"
    )
    wrong = right.replace("spring: R", "spring: L").replace("pivot-and-jewel", "ball-bearing")
    one = only(STARCH, (f"{right}\nspindle: R2", f"{wrong}\nspindle: L2"))
    assert "INS01" == one.code
    assert "67.37 µN·m" in one.message
    assert "Write suspension: pivot-and-jewel." == one.ways_out[0]


# What the laboratory has


@pytest.mark.parametrize(
    ("method", "changes", "expected"),
    [
        (GEL, (("coupling: magnetic", "coupling: quick-connect"),), ["INS02"]),
        (
            GEL,
            (("coupling: magnetic", "coupling: threaded"),),
            ["INS05"],
        ),  # bench 4 alone, on its helical stand
        (
            CREAM,
            (("coupling: threaded", "coupling: magnetic"),),
            ["INS02"],
        ),  # none of them has a helical stand
        (CREAM, (("suspension: ball-bearing", "suspension: pivot-and-jewel"),), ["INS02"]),
        (STARCH, (("coupling: threaded", "coupling: magnetic"),), ["INS02"]),
    ],
)
def test_an_instrument_of_the_laboratory_is_as_the_method_asks(spoken, method, changes, expected):
    assert expected == spoken(method, *changes)


def test_the_nearest_instrument_is_named(said):
    one = said("INS02", STARCH, ("coupling: threaded", "coupling: magnetic"))
    assert "Write coupling: threaded, to run it on Bench 8." == one.ways_out[0]


@pytest.mark.parametrize(
    ("method", "rpm", "expected"),
    [
        (STARCH, "50", []),
        (STARCH, "100", []),
        (STARCH, "60", ["INS03"]),  # the list of the dial goes from 50 to 100
        (PAINT, "60", []),
        (PAINT, "20.1", []),
        (PAINT, "20.05", ["INS03"]),  # steps of 0.1 rpm
        (PAINT, "200", []),
        (PAINT, "201", ["INS03"]),
    ],
)
def test_a_speed_is_one_of_the_instruments(spoken, method, rpm, expected):
    own = {STARCH: "speed: 50 rpm", PAINT: "speed: 20 rpm"}[method]
    assert expected == spoken(method, (own, f"speed: {rpm} rpm"))


def test_the_nearest_speeds_are_named(said):
    one = said("INS03", STARCH, ("speed: 50 rpm", "speed: 60 rpm"))
    assert "the nearest are 50 rpm and 100 rpm" in one.message
    # 300 and 500 mPa·s of 800 mPa·s at 50 rpm
    assert one.ways_out[0].startswith("Use 50 rpm: 37.5 % at the lower limit and 62.5 % at the upper limit")
    assert "which has 60 rpm" in one.ways_out[1]


def test_a_preshear_is_set_on_the_same_instrument(spoken):
    preshear = "speed: 50 rpm, preshear: {speed: 60 rpm, time: 10 s}"
    assert ["INS03"] == spoken(STARCH, ("speed: 50 rpm", preshear))
    assert [] == spoken(STARCH, ("speed: 50 rpm", preshear.replace("60 rpm", "20 rpm")))


def test_one_instrument_alone_is_advice_unless_it_is_said(said, spoken):
    change = ("only_this: true}", "only_this: false}")
    assert ["INS05"] == spoken(CREAM, change)
    assert Severity.ADVICE == said("INS05", CREAM, change).severity
    assert [] == spoken(CREAM)


# The readout


@pytest.mark.parametrize(("resolution", "expected"), [("2 %", []), ("2.1 %", ["INS04"])])
def test_the_step_is_a_tenth_of_the_specification_at_most(spoken, resolution, expected):
    # 2 % of 50 Pa·s is 1 Pa·s, a tenth of 20 to 30 Pa·s
    assert expected == spoken(GEL, (STAND, f"stand: fine-height, resolution: {resolution}}}"))


@pytest.mark.parametrize(("accuracy", "expected"), [("1.0", []), ("2.0", []), ("0.9", ["INS06"])])
def test_an_accuracy_finer_than_the_sites(spoken, accuracy, expected):
    change = (STAND, f"stand: fine-height, accuracy: {accuracy} % of full scale}}")
    assert expected == spoken(PAINT, change)


@pytest.mark.parametrize(
    ("method", "angle", "expected"),
    [
        (PAINT, 70, []),
        (PAINT, 140, []),
        (PAINT, 141, ["INS07"]),
        (PAINT, 35, []),
        (PAINT, 34, ["INS07"]),
        (STARCH, 300, []),
        (STARCH, 160, []),
        (STARCH, 70, ["INS07"]),
    ],
)
def test_an_angle_that_belongs_to_the_other_readout(spoken, method, angle, expected):
    assert expected == spoken(method, (STAND, f"stand: fine-height, full_scale_angle: {angle} deg}}"))


def test_too_small_an_angle_lets_a_reading_be_low(said):
    one = said("INS07", STARCH, (STAND, "stand: fine-height, full_scale_angle: 70 deg}"))
    assert "low" in one.message
    assert "320°" in one.message


@pytest.mark.parametrize(("method", "expected"), [(SAUCE, ["INS08"]), (STARCH, ["INS08"]), (GEL, [])])
def test_a_mark_wants_a_fine_stand_and_a_chamber_does_not(spoken, method, expected):
    assert expected == spoken(method, (STAND, "stand: quick-travel}"))
