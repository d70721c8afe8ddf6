"""Temperature: each rule just inside and just outside, the traps, and the twins of the demonstrations."""

from math import ceil, floor

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j1, jn_zeros

from fillmark.diagnostics import Severity
from fillmark.rules.temperature import spindle_heats_the_sample

PAINT, CREAM, GEL, SAUCE, STARCH = "MCW-VIS-014", "LMT-VIS-021", "QAP-VIS-002", "TGF-VIS-003", "BBM-VIS-007"

TARGET = "target: 23.0 °C ± 0.5 °C"
BATH = "conditioning: {where: water-bath, time: 210 min, covered: true}"
TOPIC = "TEM"


# Share of the specification


@pytest.mark.parametrize(
    ("sensitivity", "severity"),
    [("8.0", None), ("8.1", Severity.WARNING), ("10.0", Severity.WARNING), ("10.1", Severity.ERROR)],
)
def test_temperature_takes_a_fifth_of_the_specification_at_most(compiled, sensitivity, severity):
    # s times 0.5 K of a half width of 20 %: 8 %/K takes 20 %, 10 %/K takes 25 %
    change = ("temperature_sensitivity: 2.0 %/K", f"temperature_sensitivity: {sensitivity} %/K")
    found = [d.severity for d in compiled(PAINT, change).diagnostics if d.code == "TEM01"]
    assert ([] if severity is None else [severity]) == found


def test_the_tolerance_offered_is_silent(said, spoken):
    change = ("temperature_sensitivity: 2.0 %/K", "temperature_sensitivity: 10.1 %/K")
    # 20 % of a half width of 20 % over 10.1 %/K is 0.396 K
    # and 20 % of 0.35 K is what a thermometer may step by, finer than the 0.1 K of the method
    told = "Hold ± 0.35 K, with a thermometer that steps by 0.070 K or less."
    assert told == said("TEM01", PAINT, change).ways_out[0]
    tighter = (TARGET, "target: 23.00 °C ± 0.35 °C")
    finer = (
        "thermometer: {resolution: 0.1 K, uncertainty: 0.1 K}",
        "thermometer: {resolution: 0.05 K, uncertainty: 0.1 K}",
    )
    assert [] == spoken(PAINT, change, tighter, finer, ("time: 210 min", "time: 240 min"))


def test_the_sensitivity_is_wanted(said):
    one = said("TEM02", PAINT, ("  temperature_sensitivity: 2.0 %/K\n", ""))
    assert "21 °C and 25 °C" in one.ways_out[0]


# Where it is measured


@pytest.mark.parametrize(
    ("method", "written", "measured", "expected"),
    [
        (PAINT, "in-sample", "bath", ["TEM03"]),
        (PAINT, "in-sample", "second-container", []),
        (PAINT, "in-sample", "chamber-sensor", ["TEM04"]),
        (CREAM, "second-container", "second-container", []),  # a probe in the jar would break the structure
        (CREAM, "second-container", "bath", ["TEM03"]),
        (CREAM, "second-container", "chamber-sensor", ["TEM04"]),
        (GEL, "chamber-sensor", "bath", []),  # jacketed: the bath is round the sample
        (GEL, "chamber-sensor", "chamber-sensor", []),
    ],
)
def test_where_the_temperature_is_measured(spoken, method, written, measured, expected):
    assert expected == spoken(method, (f"measured: {written}", f"measured: {measured}"))


@pytest.mark.parametrize(("resolution", "expected"), [("0.1", []), ("0.11", ["TEM05"])])
def test_the_thermometer_steps_by_a_fifth_of_the_tolerance_at_most(spoken, resolution, expected):
    assert expected == spoken(PAINT, ("resolution: 0.1 K", f"resolution: {resolution} K"))


@pytest.mark.parametrize(("uncertainty", "expected"), [("0.166", []), ("0.168", ["TEM06"])])
def test_the_thermometer_is_known_to_a_third_of_the_tolerance(spoken, uncertainty, expected):
    assert expected == spoken(PAINT, ("uncertainty: 0.1 K", f"uncertainty: {uncertainty} K"))


@pytest.mark.parametrize("code", ["TEM05", "TEM06"])
def test_a_thermometer_that_is_not_described_is_not_judged(not_judged, spoken, code):
    change = ("  thermometer: {resolution: 0.1 K, uncertainty: 0.1 K}\n", "")
    assert [] == spoken(PAINT, change)
    assert 1 == len(not_judged(code, PAINT, change))


# Conditioning


def residual_by_scipy(time, radius, height, alpha):
    """Axis and insulated top of a finite cylinder in a bath, 200 terms each way (Carslaw and Jaeger)."""
    roots = jn_zeros(0, 200)
    rod = (2 / (roots * j1(roots)) * np.exp(-(roots**2) * alpha * time / radius**2)).sum()
    n = np.arange(200)
    zeta = (n + 0.5) * np.pi
    return rod * (2 * (-1) ** n / zeta * np.exp(-(zeta**2) * alpha * time / height**2)).sum()


@pytest.mark.parametrize(
    ("left", "within", "beyond"), [(0.125, None, Severity.WARNING), (0.5, Severity.WARNING, Severity.ERROR)]
)
def test_the_core_of_the_sauce_comes_to_temperature(compiled, left, within, beyond):
    # 15 K in 500 mL (and what disc and shaft displace) of 82.55 mm at 0.14 mm²/s, until so much is left
    radius = 0.08255 / 2
    body = np.pi / 4 * (0.02730**2 * 0.00165 + 0.0032**2 * (0.0492 - 0.00165))
    height = (500e-6 + body) / (np.pi * radius**2)
    minutes = brentq(lambda t: 15 * residual_by_scipy(60 * t, radius, height, 1.4e-7) - left, 60, 300)

    def severity(time):
        found = compiled(SAUCE, ("time: 180 min", f"time: {time} min")).diagnostics
        return next((d.severity for d in found if d.code == "TEM07"), None)

    assert within == severity(ceil(minutes))
    assert beyond == severity(floor(minutes))


def test_60_min_leave_the_sauce_warm_and_low(only, lines):
    change = ("time: 180 min", "time: 60 min")
    one = only(SAUCE, change)
    assert ("TEM07", lines(SAUCE, change, at="time: 60 min"), Severity.ERROR) == (
        one.code,
        one.span.line,
        one.severity,
    )
    # 15 K leave 4.3 K by the full series; at 3 %/K that is 13 %
    assert "4.3 K too warm" in one.message
    assert "reads low by up to 13 %" in one.message
    assert "Condition for 180 min." == one.ways_out[0]
    # a quarter of 0.5 K over the share of 4.3/15 that is left
    assert "store at 20.0 °C ± 0.43 K" in one.ways_out[1]


def test_the_ways_out_of_a_cold_core_are_silent(spoken):
    assert [] == spoken(SAUCE, ("time: 180 min", "time: 60 min"), ("start: 35 °C", "start: 20.4 °C"))


def test_a_cold_start_reads_high(said):
    one = said("TEM07", CREAM, ("time: 90 min", "time: 30 min"))
    assert "too cold" in one.message
    assert "reads high" in one.message


@pytest.mark.parametrize(
    ("method", "time"), [(SAUCE, "180 min"), (PAINT, "210 min"), (CREAM, "90 min"), (GEL, "15 min")]
)
def test_a_longer_time_is_no_fault(codes, method, time):
    assert [] == codes(method, (f"time: {time}", "time: 24 h"))


def test_what_the_series_cannot_say_is_not_judged(not_judged, spoken):
    stirred = ("covered: true, parts: true", "covered: true, stirred: true, parts: true")
    assert [] == spoken(SAUCE, stirred)
    assert ["the sample is stirred, so conduction alone says nothing"] == not_judged("TEM07", SAUCE, stirred)
    assert 1 == len(not_judged("TEM07", SAUCE, ("  start: 35 °C\n", "")))


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        (((BATH, "conditioning: {where: water-bath, covered: true}"),), ["TEM08"]),
        (((f"  {BATH}\n", ""),), ["TEM08"]),
        (((BATH, "conditioning: {where: none}"),), ["TEM08"]),  # it may come in 5 K too warm
        (((BATH, "conditioning: {where: none}"), ("start: 28 °C", "start: 23.5 °C")), []),
        (((BATH, "conditioning: {where: none}"), ("  start: 28 °C\n", "")), []),
    ],
)
def test_how_the_sample_comes_to_temperature_is_said(spoken, changes, expected):
    assert expected == spoken(PAINT, *changes)


@pytest.mark.parametrize(("open_time", "expected"), [("3.5 min", []), ("3.6 min", ["TEM09"])])
def test_a_sample_in_the_open_drifts_by_half_the_tolerance_at_most(spoken, open_time, expected):
    # h·A·16 K/(m·c) with 10 W/(m²·K), 298 cm², 0.525 kg and 3.9 kJ/(kg·K) is 0.140 K/min: 0.5 K in 3.57 min
    assert expected == spoken(STARCH, ("open_time: 3 min", f"open_time: {open_time}"))


def test_a_sample_colder_than_the_room_warms_and_reads_low(said):
    one = said("TEM09", STARCH, ("room: 22 °C", "room: 60 °C"))
    assert "warms" in one.message
    assert "reads low" in one.message


@pytest.mark.parametrize(
    ("target", "where", "expected"),
    [
        ("90.0", "water-bath", []),
        ("90.1", "water-bath", ["TEM10"]),
        ("5.0", "water-bath", []),
        ("4.9", "water-bath", ["TEM10"]),
        ("150.0", "oil-bath", []),
        ("150.0", "water-bath", ["TEM10"]),
        ("22.5", "room", []),  # the policy's room is 22 °C
        ("22.6", "room", ["TEM10"]),
    ],
)
def test_the_place_of_conditioning_reaches_the_target(spoken, target, where, expected):
    changes = ((TARGET, f"target: {target} °C ± 0.5 °C"), ("where: water-bath", f"where: {where}"))
    assert expected == [code for code in spoken(PAINT, *changes) if code == "TEM10"]


def test_the_temperature_is_looked_at_again(spoken):
    measured = "measured: in-sample"
    assert ["TEM11"] == spoken(PAINT, (measured, f"{measured}\n  recheck: false"))
    assert [] == spoken(PAINT, (measured, f"{measured}\n  recheck: true"))


@pytest.mark.parametrize(("room", "expected"), [("28.1 °C", []), ("28 °C", ["TEM12"]), ("22 °C", ["TEM12"])])
def test_parts_come_to_temperature_where_it_is_10_k_from_the_room(spoken, room, expected):
    changes = (("room: 22 °C", f"room: {room}"), ("{where: none, parts: true}", "{where: none}"))
    assert expected == spoken(STARCH, *changes)
    assert [] == spoken(STARCH, changes[0])


# Heating


def test_an_ordinary_run_is_not_heated(compiled):
    for method in (PAINT, CREAM, GEL, SAUCE, STARCH):
        c = compiled(method)
        assert [] == list(spindle_heats_the_sample(c.method, c.figures))


@pytest.mark.parametrize(("time", "expected"), [("108 s", []), ("110 s", ["TEM13"])])
def test_a_strong_spring_heats_a_small_sample(spoken, time, expected):
    # 5749.6 µN·m · 4.189 rad/s over 1010 · 3900 · 8e-6 J/K is 0.0459 K/min; at 60 % that is 0.05 K in 109 s
    changes = (
        ("spring: R,", "spring: 8R,"),
        ("read: {after: 60 s, revolutions: 5 rev}, shear_rate: 1.70 1/s", f"read: {{after: {time}}}"),
        ("speed: 5 rpm", "speed: 40 rpm"),
    )
    assert expected == spoken(GEL, *changes)


# The target itself


@pytest.mark.parametrize(
    ("change", "expected"),
    [("25.0", []), ("24.9", ["TEM14"]), ("21.0", []), ("21.1", ["TEM14"]), ("23.0", ["TEM14"])],
)
def test_the_target_keeps_2_k_from_a_phase_change(spoken, change, expected):
    assert expected == spoken(
        PAINT, ("density: 1.42 g/mL", f"density: 1.42 g/mL\n  phase_change: {change} °C")
    )


@pytest.mark.parametrize(
    ("target", "expected"),
    [
        ("23.0 °C ± 0.5 °C", []),
        ("23 °C ± 1 °C", []),
        ("23 °C ± 0.5 °C", ["TEM15"]),
        ("23.0 °C ± 1 °C", ["TEM15"]),
    ],
)
def test_target_and_tolerance_have_the_same_decimals(spoken, target, expected):
    assert expected == spoken(PAINT, (TARGET, f"target: {target}"))


def test_the_writing_offered_is_the_same_window(said):
    one = said("TEM15", PAINT, (TARGET, "target: 23 °C ± 0.5 °C"))
    assert Severity.ADVICE == one.severity
    assert "Write 23.0 °C ± 0.5 °C." == one.ways_out[0]


# What the messages and their ways out say, worked out by hand


def test_the_narrowest_of_several_specifications_is_named(said):
    # 6 %/K times 0.5 K of half widths of 20 % (viscosity_20) and 10 % (viscosity_2)
    one = said(
        "TEM01",
        PAINT,
        ("temperature_sensitivity: 2.0 %/K", "temperature_sensitivity: 6.0 %/K"),
        (
            "{result: index, lower: 5.5, upper: 8.0,",
            "{result: viscosity_2, lower: 45.0 Pa·s, target: 50.0 Pa·s, upper: 55.0 Pa·s,",
        ),
    )
    assert "that is 30 % of the half width of viscosity_2" in one.message.replace("30.0 %", "30 %")
    assert Severity.ERROR == one.severity


@pytest.mark.parametrize(
    ("time", "told"), [("60 min", "its core is still "), ("24 h", "its core has come near")]
)
def test_what_the_bath_does_not_tell_of_the_core(said, time, told):
    one = said("TEM03", PAINT, ("measured: in-sample", "measured: bath"), ("time: 210 min", f"time: {time}"))
    assert told in one.message


def test_what_a_coarse_thermometer_hides(said):
    # half of 0.4 K at 2 %/K; a fifth of 0.5 K, and five times 0.4 K
    one = said("TEM05", PAINT, ("resolution: 0.1 K", "resolution: 0.4 K"))
    assert "80 % of it, against a limit of 20 %. Half a step warm reads low by up to 0.40 %" in one.message
    assert one.ways_out == (
        "Use a thermometer that steps by 0.10 K or less.",
        "Write a tolerance of ± 2.0 K, if the specification bears it.",
    )


def test_what_an_unsure_thermometer_may_do(said):
    # 0.3 K of 0.5 K, at 2 %/K
    one = said("TEM06", PAINT, ("uncertainty: 0.1 K", "uncertainty: 0.3 K"))
    assert "60 % of it" in one.message
    assert "off either way by up to 0.60 %" in one.message
    assert "Write a tolerance of ± 0.90 K, if the limits allow." == one.ways_out[1]


@pytest.mark.parametrize(
    ("tolerance", "time"),
    [
        # 10 · 0.02981 · 16 / (0.525 · 3900) = 0.00233 K/s; half of 1 K takes 215 s, half of 0.2 K 42.9 s
        ("1.0", "3 min"),
        ("0.2", "42 s"),
    ],
)
def test_how_soon_a_sample_in_the_open_is_read(said, tolerance, time):
    changes = [("open_time: 3 min", "open_time: 15 min")]
    if tolerance != "1.0":
        changes.append(("target: 38.0 °C ± 1.0 °C", f"target: 38.0 °C ± {tolerance} °C"))
    one = said("TEM09", STARCH, *changes)
    assert "cools by 2.1 K" in one.message
    assert f"Read within {time} of filling." == one.ways_out[0]


def test_a_sample_that_is_not_conditioned_drifts_while_it_is_read(said, spoken):
    # 30 s at 0.140 K/min are 0.07 K, more than half of 0.1 K
    open_time, tight = ("  open_time: 3 min\n", ""), ("± 1.0 °C", "± 0.1 °C")
    one = said("TEM09", STARCH, open_time, tight)
    assert ("temperature", "conditioning") == one.path
    bath = (
        "conditioning: {where: none, parts: true}",
        "conditioning: {where: water-bath, time: 8 h, parts: true}",
    )
    assert "TEM09" not in spoken(STARCH, open_time, tight, bath)


@pytest.mark.parametrize(
    ("room", "told"),
    [
        (
            "22 °C",
            "16 K, against a limit of 10 K. They cool the layer that is measured, and the result reads high",
        ),
        (
            "60 °C",
            "22 K, against a limit of 10 K. They warm the layer that is measured, and the result reads low",
        ),
    ],
)
def test_which_way_parts_from_the_room_move_the_result(said, room, told):
    changes = [("{where: none, parts: true}", "{where: none}")]
    if room != "22 °C":
        changes.append(("room: 22 °C", f"room: {room}"))
    assert told in said("TEM12", STARCH, *changes).message


def test_how_far_from_the_phase_change_is_far_enough(said):
    one = said("TEM14", PAINT, ("density: 1.42 g/mL", "density: 1.42 g/mL\n  phase_change: 24 °C"))
    assert "is 1.0 K from the phase change at 24 °C; 2.0 K are to lie between" in one.message
    assert one.ways_out[0].startswith("Test at 26.0 °C or above")
    assert one.ways_out[1].startswith("Test at 22.0 °C or below")


def test_the_writing_with_fewer_decimals_is_no_narrower(said):
    one = said("TEM15", PAINT, (TARGET, "target: 23 °C ± 0.5 °C"))
    assert one.ways_out[1].startswith("Write 23 °C ± 1 °C, if")


def test_the_thermometer_it_advises_is_good_enough(compiled):
    # A third of 0.5 K is 0.167 K: 0.2 K is too much and must not be what is advised.
    right = (
        "thermometer: {resolution: 0.1 K, uncertainty: 0.1 K}",
        "thermometer: {resolution: 0.1 K, uncertainty: 0.2 K}",
    )
    [d] = [d for d in compiled(PAINT, right).diagnostics if d.code == "TEM06"]
    assert "Use a thermometer known to ± 0.16 K." == d.ways_out[0]
