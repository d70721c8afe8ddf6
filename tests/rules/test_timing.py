"""Each timing rule just inside and just outside its limit, and what its message says.

Wind-up by hand: τ = (t/100)·θ/(6·N), and ln(200)·τ until half a percent is missing; θ is 320° on a dial
and 70° on a digital readout (common practice).
"""

from math import exp, log

import pytest

from fillmark.diagnostics import Severity
from fillmark.rules.timing import _up

CREAM, SAUCE, PAINT, STARCH, GEL = "LMT-VIS-021", "TGF-VIS-003", "MCW-VIS-014", "BBM-VIS-007", "QAP-VIS-002"
SLOW = "speed: 2 rpm, read: {after: 150 s}"
READ = "read: {after: 30 s, revolutions: 5 rev}"
LOCKED = "read: {after: 30 s, lock: true}"
MEAN = "read: {after: 36 s, average: 24 s}"


def found_codes(compiled, method, *changes):
    return [d.code for d in compiled(method, *changes).diagnostics if d.waived_by is None]


@pytest.mark.parametrize("read", ["{lock: true}", "{average: 6 s, lock: true}"])
def test_a_step_needs_a_moment_of_reading(read, codes, lines):
    change = (LOCKED, f"read: {read}")
    assert [("TIM01", lines(STARCH, change, at="speed: 50 rpm"))] == codes(STARCH, change)


# 5 revolutions at 10 rpm take 30 s; five per cent of that are 1.5 s.
@pytest.mark.parametrize(
    ("read", "expected"),
    [
        ("{after: 31.5 s, revolutions: 5 rev}", []),
        ("{after: 31.6 s, revolutions: 5 rev}", ["TIM02"]),
        ("{after: 28.5 s, revolutions: 5 rev}", []),
        ("{after: 28.4 s, revolutions: 5 rev}", ["TIM02"]),
        ("{after: 60 s, steady: {change: 0.2 %, over: 6 s, at_most: 60 s}}", ["TIM02"]),
        ("{steady: {change: 0.2 %, over: 6 s, at_most: 60 s}}", []),
    ],
)
def test_time_and_turns_must_agree(read, expected, compiled):
    assert expected == found_codes(compiled, SAUCE, (READ, f"read: {read}"))


# Catalogue: 60 s at 2 rpm are 2 revolutions, 5 take 150 s.
def test_a_contradiction_names_both_readings(only):
    found = only(PAINT, (SLOW, "speed: 2 rpm, read: {after: 60 s, revolutions: 5 rev}"))
    assert "TIM02" == found.code
    assert "60 s at 2 rpm is 2 revolutions, while 5 rev is 150 s" in found.message


def test_a_contradiction_before_wind_up_reads_low(only):
    found = only(PAINT, (SLOW, "speed: 2 rpm, read: {after: 5 s, revolutions: 5 rev}"))
    assert "has not wound up by 5 s" in found.message
    assert "The earlier reading is low." in found.message


# The slow step of the paint at its upper limit takes 48 % (96 Pa·s of 200 Pa·s): τ = 0.48·70/12 = 2.8 s.
def test_the_wind_up_is_where_the_hand_finds_it(compiled):
    need = compiled(PAINT).figures["run.viscosity_2.wind_up"].value
    assert log(200) * 2.8 == pytest.approx(need)


@pytest.mark.parametrize(
    ("after", "expected"), [("14 s", ["TIM03"]), ("15 s", ["TIM04"]), ("149 s", ["TIM04"]), ("150 s", [])]
)
def test_spring_and_custom(after, expected, compiled):
    assert expected == found_codes(compiled, PAINT, (SLOW, f"speed: 2 rpm, read: {{after: {after}}}"))


# By hand, for the angle of either readout: 0.5 rpm, 50 % torque, read at 30 s. Full scale is 800 Pa·s, so
# that an index of up to 33.3333 on 12 Pa·s takes 50 %.
HALF = (SLOW, "speed: 0.5 rpm, read: {after: 30 s}")
AT_50 = ("lower: 5.5, upper: 8.0", "lower: 27.5, upper: 33.3333")
AT_12 = ("lower: 5.5, upper: 8.0", "lower: 7.0, upper: 8.3333")
DIAL = ("readout: digital", "readout: dial")
NO_SUCH_BENCH = (
    "coupling: threaded, suspension: pivot-and-jewel",
    "coupling: twist-lock, suspension: ball-bearing",
)
AT_300_DEGREES = ("stand: fine-height}", "stand: fine-height, full_scale_angle: 300 deg}")


@pytest.mark.parametrize(
    ("changes", "tau", "need"),
    [((), 11.667, 62), ((DIAL,), 53.33, 283)],
)
def test_half_scale_at_half_a_turn_a_minute(changes, tau, need, compiled):
    figures = compiled(PAINT, HALF, AT_50, *changes).figures
    assert need == pytest.approx(figures["run.viscosity_2.wind_up"].value, abs=0.5)
    reached = 100 * (1 - exp(-30 / tau))
    assert reached == pytest.approx(figures["run.viscosity_2.fraction"].value, abs=0.01)


def test_too_early_tells_this_readout_and_the_other(compiled):
    # 100·exp(-30/11.667) = 7.6 % low on the digital readout, 100·exp(-30/53.33) = 57 % low on the dial.
    digital = next(d for d in compiled(PAINT, HALF, AT_50).diagnostics if d.code == "TIM03")
    assert "reads 7.6 % low on this digital readout (70°)" in digital.message
    assert "a dial (320°) would read 57 % low" in digital.message
    dial = next(d for d in compiled(PAINT, HALF, AT_50, DIAL).diagnostics if d.code == "TIM03")
    assert "reads 57 % low on this dial (320°)" in dial.message
    assert "a digital readout (70°) would read 7.6 % low" in dial.message


@pytest.mark.parametrize(
    ("changes", "need", "expected"),
    [((), 15.5, False), ((DIAL,), 70.6, True), ((DIAL, AT_300_DEGREES), 66.2, True)],
)
def test_an_eighth_of_the_scale_at_half_a_turn_a_minute(changes, need, expected, compiled):
    result = compiled(PAINT, HALF, AT_12, *changes)
    assert need == pytest.approx(result.figures["run.viscosity_2.wind_up"].value, abs=0.1)
    assert expected == ("TIM03" in [d.code for d in result.diagnostics])


def test_too_early_is_answered_with_a_later_reading_or_a_stiffer_spring(compiled):
    # 14.835 s needed and 14 s given: a spring 1.06 times as stiff, 762 µN·m, turns 1.06 times less. For 5 s
    # it would have to be 2.97 times as stiff, and the lower limit of 22 % would fall to 7.4 %.
    def ways(after):
        change = (SLOW, f"speed: 2 rpm, read: {{after: {after}}}")
        return compiled(PAINT, ("guard: required", "guard: not-used"), change, NO_SUCH_BENCH).diagnostics

    for after, second in (
        ("14 s", "Use a spring of 762 µN·m or more"),
        ("5 s", "Keep 5 s as a relative result"),
    ):
        found = next(d for d in ways(after) if d.code == "TIM03")
        assert found.ways_out[0].startswith("Read after 150 s, 5 revolutions")
        assert found.ways_out[1].startswith(second)


def test_a_dial_that_would_be_there_is_told_so(compiled):
    # The other readout needs less: at 40 s the dial (67.8 s) is early, the digital readout (14.8 s) is not.
    change = (SLOW, "speed: 2 rpm, read: {after: 40 s}")
    found = next(d for d in compiled(PAINT, DIAL, change).diagnostics if d.code == "TIM03")
    assert "a digital readout (70°) would be there after 14.8 s" in found.message


def test_without_an_upper_limit_the_wind_up_is_not_judged(not_judged):
    step = "run:\n  - {name: slow, speed: 2 rpm, read: {after: 2 s}}\n"
    assert ["step slow has no upper limit to wind up to"] == not_judged("TIM03", SAUCE, ("run:\n", step))


def test_a_newtonian_product_on_a_digital_readout_needs_no_five_turns(compiled):
    early = (READ, "read: {after: 20 s}")
    newtonian = ("behaviour: yield-stress", "behaviour: newtonian")
    assert ["TIM04"] == found_codes(compiled, SAUCE, early)
    assert "TIM04" not in found_codes(compiled, SAUCE, early, newtonian)
    assert "TIM04" in found_codes(compiled, SAUCE, early, newtonian, DIAL)


# The cream turns at 5 rpm: 12 s a turn, and a twentieth of a turn may stay over.
@pytest.mark.parametrize(
    ("average", "expected"),
    [("24 s", []), ("24.6 s", []), ("24.7 s", ["TIM05"]), ("23.5 s", ["TIM04"]), ("30 s", ["TIM05"])],
)
def test_whole_turns_are_averaged(average, expected, compiled):
    assert expected == found_codes(compiled, CREAM, ("average: 24 s", f"average: {average}"))


def test_less_than_a_turn_is_never_enough(only):
    found = only(CREAM, (MEAN, "read: {after: 60 s, average: 1 s}"))
    assert "TIM05" == found.code
    assert "1 s at 5 rpm is 0.0833 revolutions" in found.message
    assert "Average over 12 s, which is 1 revolution." in found.ways_out


# Digital readout, 0.1 % steps: two make 0.2 %. One turn at 10 rpm takes 6 s. The spring takes
# ln(200)·0.55·70/60 = 3.4 s.
@pytest.mark.parametrize(
    ("steady", "expected"),
    [
        ("change: 0.2 %, over: 6 s, at_most: 60 s", []),
        ("change: 0.19 %, over: 6 s, at_most: 60 s", ["TIM06"]),
        ("change: 0.2 %, over: 5.9 s, at_most: 60 s", ["TIM06"]),
        ("change: 0.2 %, over: 6 s, at_most: 9.5 s", []),
        ("change: 0.2 %, over: 6 s, at_most: 9.3 s", ["TIM06"]),
    ],
)
def test_a_drift_limit_can_be_seen(steady, expected, compiled):
    assert expected == found_codes(compiled, SAUCE, (READ, f"read: {{steady: {{{steady}}}}}"))


def test_all_that_is_wrong_with_a_drift_limit_is_one_finding(only):
    found = only(SAUCE, (READ, "read: {steady: {change: 0.1 %, over: 3 s, at_most: 4 s}}"))
    assert "1 step of the readout" in found.message
    assert "0.5 of a turn" in found.message
    assert "is low" in found.message


@pytest.mark.parametrize(("speed", "expected"), [("12 rpm", True), ("11 rpm", False)])
def test_a_moving_pointer(speed, expected, compiled):
    changes = (("speed: 50 rpm", f"speed: {speed}"), (LOCKED, "read: {after: 30 s}"))
    assert expected == ("TIM07" in found_codes(compiled, STARCH, *changes))


def test_a_digital_readout_needs_no_lock(compiled):
    changes = (("readout: dial", "readout: digital"), (LOCKED, "read: {after: 30 s}"))
    assert "TIM07" not in found_codes(compiled, STARCH, *changes)


def test_only_a_thixotropic_product_never_settles(codes, lines):
    steady = (SLOW, "speed: 2 rpm, read: {steady: {change: 0.2 %, over: 60 s, at_most: 300 s}}")
    assert [("TIM08", lines(PAINT, steady, at="steady"))] == codes(PAINT, steady)
    other = ("behaviour: thixotropic", "behaviour: yield-stress")
    assert [] == codes(PAINT, steady, other)


# Three loadings of rest and 60 s each: 3·(9 + 1) = 30 min, 3·(9.5 + 1) = 31.5 min.
@pytest.mark.parametrize(("rest", "expected"), [("9 min", []), ("9.5 min", ["TIM09"])])
def test_time_at_the_bench(rest, expected, compiled):
    assert expected == found_codes(compiled, GEL, ("rest: 5 min", f"rest: {rest}"))


def test_the_time_at_the_bench_counts_every_loading(compiled):
    # Two loadings of 5 min rest, 150 s and 60 s.
    assert 2 * (300 + 150 + 60) == pytest.approx(compiled(PAINT).figures["bench_time"].value)


def test_a_product_without_memory_needs_no_rest_and_no_age(codes):
    plain = ("behaviour: yield-stress", "behaviour: shear-thinning")
    assert [] == codes(SAUCE, plain, ("  rest: 5 min\n", ""))
    assert [] == codes(SAUCE, plain, ("  age: 24 h ± 4 h\n", ""))


def test_a_preshear_stands_in_for_the_rest(codes):
    sheared = (READ, f"preshear: {{speed: 10 rpm, time: 60 s}}, {READ}")
    assert [] == codes(SAUCE, ("  rest: 5 min\n", ""), sheared)


# Age up to 4 min and half a minute of run: 4.5 min are 20 % of 22.5 min.
@pytest.mark.parametrize(("pot_life", "expected"), [("22.5 min", []), ("22.4 min", ["TIM12"])])
def test_a_fifth_of_the_pot_life(pot_life, expected, compiled):
    change = ("heat_capacity: 3.9 kJ/(kg·K)", f"heat_capacity: 3.9 kJ/(kg·K)\n  pot_life: {pot_life}")
    assert expected == found_codes(compiled, STARCH, change)


def test_severities(compiled):
    steady = (READ, "read: {steady: {change: 0.1 %, over: 6 s, at_most: 60 s}}")
    assert [Severity.WARNING] == [d.severity for d in compiled(SAUCE, steady).diagnostics]
    assert [Severity.ADVICE] == [
        d.severity for d in compiled(GEL, ("rest: 5 min", "rest: 12 min")).diagnostics
    ]


# What the messages and their ways out say, worked out by hand


@pytest.mark.parametrize(
    ("seconds", "written"),
    [(14.8, "15 s"), (20, "20 s"), (20.1, "25 s"), (123, "125 s"), (3600, "3600 s"), (3601, "61 min")],
)
def test_a_time_is_rounded_up_to_what_a_clock_is_set_to(seconds, written):
    assert written == _up(seconds)


@pytest.mark.parametrize(
    ("behaviour", "reads"),
    [
        ("thixotropic", "the product is still breaking down, so it reads high"),
        ("shear-thinning", "a reading that is not steady yet may be high or low"),
    ],
)
def test_how_far_short_of_custom_a_reading_is(behaviour, reads, compiled):
    # 10 s at 20 rpm; five turns take 15 s
    changes = [("read: {after: 60 s}", "read: {after: 10 s}")]
    if behaviour != "thixotropic":
        changes.append(("behaviour: thixotropic", f"behaviour: {behaviour}"))
    (found,) = [d for d in compiled(PAINT, *changes).diagnostics if d.code == "TIM04"]
    assert "10 s at 20 rpm is 3.33 revolutions, 1.7 short of the 5 of custom (15 s)" in found.message
    assert reads in found.message
    assert "Read after 15 s, which is 5 revolutions." == found.ways_out[0]


def test_the_pointer_is_stopped_within_a_turn(only):
    found = only(STARCH, (LOCKED, "read: {after: 30 s}"))
    assert "At 50 rpm the dial turns once in 1.2 s" in found.message
    assert "stop within one 1.2 s turn" in found.ways_out[0]


@pytest.mark.parametrize(
    ("steady", "wanted"),
    [
        # two steps of 0.1 %, and one turn of 6 s
        ("change: 0.1 %, over: 6 s, at_most: 60 s", "change: 0.2 %, over: 6 s, at_most: 60 s"),
        ("change: 0.3 %, over: 2 s, at_most: 60 s", "change: 0.3 %, over: 6 s, at_most: 60 s"),
    ],
)
def test_the_drift_limit_that_can_be_seen(steady, wanted, only):
    found = only(SAUCE, (READ, f"read: {{steady: {{{steady}}}}}"))
    assert f"Write steady: {{{wanted}}}." == found.ways_out[0]
    assert "Or read at a fixed moment, after 30 s." == found.ways_out[1]


def test_loadings_that_rest_side_by_side(only):
    # 3 · (12 min + 60 s)
    found = only(GEL, ("rest: 5 min", "rest: 12 min"))
    assert (
        "39 min at the instrument (3 times a rest of 12 min, and 60 s for step viscosity_5), 9 min over"
        in found.message
    )
    assert found.ways_out[0].startswith("Let the 3 loadings rest side by side")
    assert found.ways_out[1].startswith("Or raise bench_time in the site policy above 39 min")


def test_a_preshear_is_offered_before_the_first_step(only):
    found = only(PAINT, ("  rest: 5 min\n", ""))
    assert "Or begin with a preshear before viscosity_2, at 2 rpm or faster." == found.ways_out[1]


def test_how_much_of_the_pot_life_is_gone(compiled):
    # age up to 4 min and 30 s of run are 4.5 min of 10 min; 20 % are 2 min
    curing = ("density: 1.05 g/mL", "density: 1.05 g/mL\n  pot_life: 10 min")
    (found,) = [d for d in compiled(STARCH, curing).diagnostics if d.code == "TIM12"]
    assert "4.5 min of the 10 min pot life are gone, 45 %, where 20 % (2 min) are allowed" in found.message
    assert "within 2 min of mixing: shorten age, rest or conditioning by 2.5 min." in found.ways_out[0]
    # in its pack it does not cure: 1 min of rest and 60 s of reading
    curing = ("density: 0.98 g/mL", "density: 0.98 g/mL\n  pot_life: 5 min")
    (found,) = [d for d in compiled(CREAM, curing).diagnostics if d.code == "TIM12"]
    assert "of opening the pack: shorten the rest by 60 s." in found.ways_out[0]
    assert found.ways_out[1].startswith("Or open a fresh pack for each result")


def test_the_drift_limit_it_advises_passes(compiled):
    # 10 rpm: a turn takes 6 s and the spring 3.4 s at the upper limit; 3 s and 7 s are too short.
    steady = (READ, "read: {steady: {change: 0.2 %, over: 3 s, at_most: 7 s}}")
    [d] = [d for d in compiled(SAUCE, steady).diagnostics if d.code == "TIM06"]
    advised = d.ways_out[0].removeprefix("Write ").removesuffix(".")
    assert "steady: {change: 0.2 %, over: 6 s, at_most: 12 s}" == advised
    mended = compiled(SAUCE, (READ, f"read: {{{advised}}}"))
    assert "TIM06" not in [d.code for d in mended.diagnostics]


def test_one_long_rest_is_not_laid_on_the_speed(compiled):
    # One loading with 40 min of rest and a reading of half a minute: it is the rest that takes the time.
    found = compiled(STARCH, ("  open_time: 3 min\n", "  rest: 40 min\n  open_time: 3 min\n")).diagnostics
    [d] = [d for d in found if d.code == "TIM09"]
    assert d.ways_out[0].startswith("Shorten the rest of 40 min")
