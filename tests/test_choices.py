"""Ways out are something the laboratory has, and pass when they are taken."""

from dataclasses import replace

import pytest

from fillmark.choices import alternatives, eligible, ways_out
from fillmark.diagnostics import Severity
from fillmark.pipeline import compile_method

CREAM, SAUCE, PAINT, STARCH, GEL = "LMT-VIS-021", "TGF-VIS-003", "MCW-VIS-014", "BBM-VIS-007", "QAP-VIS-002"

# A disc that suits three springs, without a guard, on the dials of the laboratory (which has all four).
OPEN_DISC = (
    ("spindle: R2", "spindle: R3"),
    ("guard: required", "guard: not-used"),
    (
        "lower: 300 mPa·s, target: 400 mPa·s, upper: 500 mPa·s",
        "lower: 1000 mPa·s, target: 1300 mPa·s, upper: 1600 mPa·s",
    ),
    ("speed: 50 rpm", "speed: 100 rpm"),
)  # fmt: skip

FAULTY = [
    (STARCH, OPEN_DISC),
    (STARCH, (("speed: 50 rpm", "speed: 100 rpm"),)),
    (STARCH, (("speed: 50 rpm", "speed: 10 rpm"),)),
    (SAUCE, (("upper: 11.0 Pa·s", "upper: 24.0 Pa·s"),)),
    (SAUCE, (("lower: 7.0 Pa·s", "lower: 2.0 Pa·s"),)),
    (PAINT, (("speed: 2 rpm, read: {after: 150 s}", "speed: 0.5 rpm, read: {after: 600 s}"),)),
    (CREAM, (("upper: 130 Pa·s", "upper: 250 Pa·s"),)),
    (GEL, (("upper: 30.0 Pa·s", "upper: 60.0 Pa·s"), (", shear_rate: 1.70 1/s", ""))),
]


def taken(text, method, step, choice):
    """Write a choice into the text of a method; a reading that moves with the speed is moved."""
    line = next(line for line in text.splitlines() if f"name: {step.name}," in line)
    new = line.replace(f"speed: {step.speed.text}", f"speed: {choice.rpm:g} rpm")
    if "speed" in choice.changes and step.read.revolutions is not None and step.read.after is not None:
        new = new.replace(
            f"after: {step.read.after.text}", f"after: {60 * step.read.revolutions.value / choice.rpm:g} s"
        )
    text = text.replace(line, new)
    text = text.replace(f"\nspindle: {method.spindle.key}\n", f"\nspindle: {choice.spindle.key}\n")
    return text.replace(f"{{spring: {method.instrument.spring.key},", f"{{spring: {choice.spring.key},")


@pytest.mark.parametrize(("name", "changes"), FAULTY)
def test_every_choice_passes_when_it_is_taken(name, changes, edited, compiled, reference):
    method = compiled(name, *changes).method
    text = edited(name, *changes).decode()
    tried = 0
    for step in method.run:
        for choice in alternatives(method, step)[:12]:
            again = compile_method(taken(text, method, step, choice).encode(), name, reference)
            assert again.method is not None, again.diagnostics
            said = {d.code for d in again.diagnostics if d.code.startswith("TRQ") and d.blocks} | {
                d.code for d in again.diagnostics if d.blocks and d.code in ("TIM02", "TIM03", "HIS07")
            }
            other_steps = set() if choice.changes != ("speed",) else {"TRQ01", "TRQ02", "TRQ03"}
            assert set() == said - (other_steps if len(method.run) > 1 else set()), choice
            tried += 1
    assert tried, "nothing was offered at all"


@pytest.mark.parametrize(("name", "changes"), [f for f in FAULTY if f[0] != PAINT])
def test_what_is_still_said_of_a_choice_is_known_beforehand(name, changes, edited, compiled, reference):
    method = compiled(name, *changes).method
    text = edited(name, *changes).decode()
    step = method.run[0]
    for choice in alternatives(method, step)[:30]:
        again = compile_method(taken(text, method, step, choice).encode(), name, reference)
        heaviest = max((d.severity for d in again.diagnostics if d.code.startswith("TRQ")), default=None)
        # A check with a thin reference fluid may still take a warning on the flow away.
        allowed = {2: [None], 1: [Severity.ADVICE], 0: [Severity.WARNING, Severity.ADVICE, None]}[
            choice.comfort
        ]
        assert heaviest in allowed, choice


@pytest.mark.parametrize(("name", "changes"), FAULTY)
def test_every_choice_can_be_set_on_an_instrument_of_the_laboratory(name, changes, compiled):
    method = compiled(name, *changes).method
    for step in method.run:
        for choice in alternatives(method, step):
            assert choice.instruments
            for instrument in choice.instruments:
                assert choice.spring.key == instrument.spring
                assert instrument.has_speed(choice.rpm)
                assert method.instrument.readout == instrument.readout
                assert method.instrument.coupling.key == instrument.coupling
            assert choice.spring.key in choice.spindle.springs
            assert choice.changes


# By hand: 100 Pa·s·rpm on 718.7 µN·m is 200 on 1437.4 and 800 on 5749.6; 1.0 to 1.6 Pa·s at 100 rpm take
# 50 to 80 % of the second, as they do at 50 rpm on the first.
def test_a_spring_comes_before_a_speed(compiled):
    method = compiled(STARCH, *OPEN_DISC).method
    first, second = ways_out(method, method.run[0], "one.", "two.")
    assert first.startswith(
        "Use spring 2R (Bench 9): 50.0 % at the lower limit and 80.0 % at the upper limit"
    )
    assert "the flow stays as it is" in first
    assert second.startswith("Use 50 rpm: 50.0 % at the lower limit and 80.0 % at the upper limit")
    assert "the limits are set anew" in second


def test_round_speeds_come_first(compiled):
    method = compiled(SAUCE, ("upper: 11.0 Pa·s", "upper: 24.0 Pa·s")).method
    # 200 Pa·s·rpm and 7 to 24 Pa·s: 21 to 72 % at 6 rpm; 17.5 to 60 % at 5 rpm, the lower limit under a
    # fifth.
    choices = [c for c in alternatives(method, method.run[0]) if c.changes == ("speed",)]
    assert (6, 1) == (choices[0].rpm, choices[0].comfort)
    rest = [c.rpm for c in choices if c.comfort == 0]
    assert 5 == rest[0]
    assert 8 in rest


def test_a_reading_counted_in_turns_moves_with_the_speed(compiled):
    method = compiled(SAUCE, ("upper: 11.0 Pa·s", "upper: 24.0 Pa·s")).method
    first, _ = ways_out(method, method.run[0], "one.", "two.")
    assert first.startswith("Use 6 rpm")
    assert "read after 50 s, which is 5 rev" in first


def test_a_speed_the_dial_lacks_is_not_offered(compiled):
    method = compiled(STARCH, ("speed: 50 rpm", "speed: 100 rpm")).method
    speeds = {c.rpm for c in alternatives(method, method.run[0]) if c.spring.key == "R"}
    assert speeds
    assert speeds <= {0.5, 1, 2, 2.5, 4, 5, 10, 20, 50, 100}


def test_a_spring_that_takes_no_guard_is_not_offered_where_one_is_required(compiled):
    method = compiled(STARCH, ("speed: 50 rpm", "speed: 100 rpm")).method
    assert {"L", "R"} >= {c.spring.key for c in alternatives(method, method.run[0])}


def test_a_laboratory_without_another_instrument_offers_none(compiled):
    method = compiled(SAUCE, ("upper: 11.0 Pa·s", "upper: 24.0 Pa·s")).method
    bare = replace(method, reference=replace(method.reference, instruments={}))
    assert [] == alternatives(bare, bare.run[0])
    assert ("one.", "two.") == ways_out(bare, bare.run[0], "one.", "two.")


def test_a_step_without_limits_offers_none(compiled):
    step = "run:\n  - {name: slow, speed: 2 rpm, read: {revolutions: 5 rev}}\n"
    method = compiled(SAUCE, ("run:\n", step)).method
    assert [] == alternatives(method, method.run[0])


def test_what_is_eligible_is_as_the_method_asks(compiled):
    starch, cream = compiled(STARCH).method, compiled(CREAM).method
    assert {"dial"} == {i.readout for i in eligible(starch)}
    assert {"R"} == {i.spring for i in eligible(starch)}
    assert {"2R"} == {i.spring for i in eligible(starch, "2R")}
    assert {"helical"} == {i.stand for i in eligible(cream)}
    assert "bench-8" in [i.key for i in eligible(starch)]
    assert "bench-4" in [i.key for i in eligible(cream)]


def test_a_choice_names_the_fluid_its_check_then_needs_and_a_window_of_whole_turns(compiled):
    # 10 rpm: R6 on R reads 100 Pa·s full scale, so 100 Pa·s is 100 % and 60 Pa·s is 60 %.
    limits = "lower: 70 Pa·s, target: 100 Pa·s, upper: 130 Pa·s"
    changes = ((limits, "lower: 42 Pa·s, target: 55 Pa·s, upper: 68 Pa·s"),)
    (low,) = [d for d in compiled("LMT-VIS-021", *changes).diagnostics if d.code == "TRQ06"]
    assert "checked with REF-60000" in low.ways_out[0]
    # 3 rpm: five turns are 100 s; 24 s are 1.2 turns, so one whole turn of 20 s from 80 s on.
    (over,) = [
        d
        for d in compiled("LMT-VIS-021", ("upper: 130 Pa·s", "upper: 210 Pa·s")).diagnostics
        if d.code == "TRQ01"
    ]
    assert "read after 80 s and averaged over 20 s" in over.ways_out[0]
