"""Instrument and spring: each rule just inside and just outside, and the traps."""

from dataclasses import replace

import pytest

from fillmark.diagnostics import Severity
from fillmark.pipeline import compile_method

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


# A laboratory of its own, and what the ways out say


@pytest.fixture
def in_a_laboratory(reference, edited):
    """Give what is found where each instrument of the laboratory has its own list of speeds."""

    def found(method, speeds, *changes):
        named = reference.instruments["bench-8"]
        own = {f"own-{i}": replace(named, label=f"Own {i}", speeds=rpm) for i, rpm in enumerate(speeds, 1)}
        compiled = compile_method(edited(method, *changes), "x", replace(reference, instruments=own))
        return [d for d in compiled.diagnostics if d.code.startswith(TOPIC)]

    return found


TWO_SPEEDS = ("speed: 50 rpm, read", "speed: 50 rpm, preshear: {speed: 20 rpm, time: 10 s}, read")


@pytest.mark.parametrize(
    ("speeds", "expected"),
    [
        (((20.0, 50.0), (20.0, 50.0)), []),
        (((20.0, 50.0), (50.0,)), ["INS05"]),
        (((20.0,), (50.0,)), ["INS03"]),
        (((20.0,), (30.0,)), ["INS03"]),
    ],
)
def test_one_instrument_has_every_speed(in_a_laboratory, speeds, expected):
    assert expected == [d.code for d in in_a_laboratory(STARCH, speeds, TWO_SPEEDS)]


def test_speeds_that_no_one_instrument_has_together_are_listed(in_a_laboratory):
    (one,) = in_a_laboratory(STARCH, ((20.0,), (50.0,)), TWO_SPEEDS)
    assert "none of the 2 has them all: 50 rpm, 20 rpm" in one.message
    assert ("run", 0) == one.path


def test_the_instrument_that_has_the_speed_is_of_the_spring_and_coupling(said):
    # Spring R and 60 rpm: benches 2, 3, 4, 11 to 13 and 15; the first with the threaded coupling is bench 2.
    one = said("INS03", STARCH, ("speed: 50 rpm", "speed: 60 rpm"))
    assert "Run it on Bench 2 (digital readout, threaded coupling), which has 60 rpm." == one.ways_out[1]


def test_how_much_an_accuracy_shrinks_the_tolerances(said):
    one = said("INS06", PAINT, (STAND, "stand: fine-height, accuracy: 0.4 % of full scale}"))
    assert "shrinks to 40 % of the usual one" in one.message


@pytest.mark.parametrize(
    ("method", "angle", "told", "way"),
    [
        (PAINT, 320, "320 deg is 4.6 times that (a dial one turns about 320°)", "Write readout: dial"),
        (STARCH, 80, "80 deg is 0.25 times that (a digital one turns about 70°)", "Write readout: digital"),
    ],
)
def test_the_angle_is_set_beside_the_usual_ones(said, method, angle, told, way):
    one = said("INS07", method, (STAND, f"stand: fine-height, full_scale_angle: {angle} deg}}"))
    assert told in one.message
    assert ("too long" in one.message) == (angle == 320)
    assert one.ways_out[1].startswith(way)
