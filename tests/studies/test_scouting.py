"""Scouting data made to show one thing each."""

import pytest

from fillmark.studies import NoStudyError
from fillmark.studies.scouting import columns, study

SPEEDS = (2, 4, 10, 20, 50)


@pytest.fixture
def made(table_of, reference, compiled):
    def make(rows, *, claim=None, changes=None, head="part,speed,direction,time,torque"):
        method = None if changes is None else compiled("MCW-VIS-014", *changes).method
        text = head + "\n" + "\n".join(rows)
        return study(table_of(text, columns()), reference.policy, method, "2026-11-25", claim=claim)

    return make


def ramp(law, direction="up"):
    order = SPEEDS if direction == "up" else SPEEDS[::-1]
    return [f"ramp,{n},{direction},,{law(n):.2f}" for n in order]


def power(n):
    return 15 * (n / 2) ** 0.5


def test_a_power_law_gives_its_index(made, number, codes):
    outcome = made(ramp(power))
    # By hand: torque ∝ N^0.5, so η ∝ N^−0.5; index between 2 and 50 rpm √25 = 5.
    assert -0.5 == pytest.approx(number(outcome, "slope"), abs=1e-3)
    assert 0.5 == pytest.approx(number(outcome, "flow_index"), abs=1e-3)
    assert 5.0 == pytest.approx(number(outcome, "index"), abs=5e-3)
    assert "shear-thinning" == outcome.verdict
    assert [] == codes(outcome)


def test_a_fluid_said_to_be_newtonian_that_is_not(made, codes):
    assert ["STU19"] == codes(made(ramp(power), claim="newtonian"))
    assert [] == codes(made(ramp(power), claim="shear-thinning"))


def newtonian(n):
    return 1.9 * n


def test_a_newtonian_fluid_stays_one(made, codes):
    rows = [f"ramp,{n},up,,{1.9 * n:.2f}" for n in (20, 30, 40, 50)]
    outcome = made(rows, claim="newtonian")
    assert "newtonian" == outcome.verdict
    assert [] == codes(outcome)


def test_a_zero_offset_explains_what_looks_like_thinning(made, number, codes):
    # 0.5 % of full scale on every reading of a Newtonian fluid.
    rows = [f"ramp,{n},up,,{1.5 * n + 0.5:.2f}" for n in (10, 20, 30, 40, 60)]
    outcome = made(rows, claim="newtonian")
    assert 0.5 == pytest.approx(number(outcome, "zero_offset"), abs=1e-6)
    # 2.8 % is beyond what readings repeat within and within the accuracy: it may be the fluid or the zero.
    assert "unknown" == outcome.verdict
    assert "reads 2.8 % more than at 60 rpm, which the fluid or the instrument may do" in outcome.said
    assert ["STU23"] == codes(outcome)
    # By hand: 1 % FS at 15.5 % and 90.5 %: 1.55/15.5 + 1.5083/90.5 = 0.1167 of torque over speed.
    assert 0.11667 == pytest.approx(number(outcome, "allowed"), abs=1e-5)
    assert 1.55 - 1.50833 == pytest.approx(number(outcome, "difference"), abs=1e-4)


def test_a_fluid_that_thins_within_the_accuracy_is_not_called_newtonian(made, codes):
    # n 0.97 from 12 % torque at 2.4 rpm: by hand 1.065 over a factor of 8.3, and 1 % at 12 % is 8.3 %.
    rows = [f"ramp,{n},up,,{12 * (n / 2.4) ** 0.97:.1f}" for n in (2.4, 5, 10, 20)]
    outcome = made(rows, claim="newtonian")
    assert ("unknown", ["STU23"]) == (outcome.verdict, codes(outcome))
    change = ("behaviour: thixotropic", "behaviour: unknown")
    assert () == made(rows, changes=[change]).proposals


def test_how_far_a_newtonian_fluid_may_still_be_from_one_is_said(made):
    rows = [f"ramp,{n},up,,{5 * n:.1f}" for n in (2.4, 5, 10, 20)]
    outcome = made(rows, claim="newtonian")
    # By hand: 1/12 + 1/100 = 9.3 %.
    assert ("newtonian", True) == (outcome.verdict, "could hide a change of up to 9.3 %" in outcome.said)


def test_torques_too_low_to_tell(made, codes):
    rows = [f"ramp,{n},up,,{0.6 * n:.2f}" for n in (5, 10, 20, 30)]
    outcome = made(rows, claim="newtonian")
    assert "unknown" == outcome.verdict
    assert "STU23" in codes(outcome)
    assert 2 == codes(outcome).count("STU24")


def test_without_torques_nothing_is_said_of_the_instrument(made):
    rows = [f"ramp,{n},up,,{10 / n**0.5:.3f}" for n in SPEEDS]
    outcome = made(rows, head="part,speed,direction,time,value")
    assert any("Without the torques" in point for point in outcome.points)
    assert "shear-thinning" == outcome.verdict


def test_readings_beyond_full_scale_are_bounds(made, codes):
    outcome = made([*ramp(power), "ramp,100,up,,100.5"])
    assert ["STU24"] == codes(outcome)
    assert 5 == outcome.used


def test_hysteresis_has_its_sign_and_size(made, number, codes):
    down = ramp(lambda n: 0.9 * power(n), "down")
    outcome = made([*ramp(power), *down], claim="shear-thinning")
    # By hand: 200·(1 − 0.9)/(1 + 0.9) = 10.53 %, up over down 1/0.9.
    assert 10.53 == pytest.approx(number(outcome, "hysteresis"), abs=0.02)
    assert 1.111 == pytest.approx(number(outcome, "thixotropy"), abs=2e-3)
    assert "history" == outcome.verdict
    assert ["STU26", "STU19"] == codes(outcome)
    other = made([*ramp(lambda n: 0.9 * power(n)), *ramp(power, "down")], claim="thixotropic")
    assert -10.53 == pytest.approx(number(other, "hysteresis"), abs=0.02)
    assert "shear-thinning" == other.verdict
    assert "It builds up under shear" in other.diagnostics[0].message


def test_hysteresis_within_the_repeatability_is_none(made, codes):
    outcome = made([*ramp(power), *ramp(lambda n: power(n) - 0.2, "down")])
    assert [] == codes(outcome)


HOLD = [
    f"hold,20,,{t},{v}"
    for t, v in ((10, 55.0), (20, 54.0), (30, 53.2), (60, 51.5), (120, 50.2), (300, 49.4), (600, 49.2))
]


def test_the_time_from_which_it_is_steady(made, number):
    outcome = made(HOLD)
    # By hand: 60 to 120 s falls by 2.5 % a minute, 120 to 300 s by 0.53 %.
    assert 120 == number(outcome, "steady_after")
    assert "history" == outcome.verdict


def test_the_method_that_reads_too_soon(made, codes):
    outcome = made(HOLD, changes=())
    [d] = [d for d in outcome.diagnostics if d.code == "STU25"]
    assert "reads viscosity_20 at 60 s" in d.message
    later = made(
        HOLD, changes=[("speed: 20 rpm, read: {after: 60 s}", "speed: 20 rpm, read: {after: 120 s}")]
    )
    assert "STU25" not in codes(later)


def test_a_hold_that_never_settles(made, codes):
    outcome = made([f"hold,20,,{t},{60 - t / 20}" for t in (10, 60, 120, 300)])
    assert ["STU25"] == codes(outcome)


@pytest.mark.parametrize(
    ("rows", "code"),
    [
        (["hold,20,,10,50", "hold,20,,20,50"], "STU12"),
        (["hold,20,,10,50", "hold,20,,20,50", "hold,30,,30,50"], "STU12"),
        (["hold,20,,10,50", "hold,20,,10,50", "hold,20,,30,50"], "STU06"),
        (["ramp,20,up,,50"], "STU12"),
        (["ramp,20,sideways,,50", *ramp(power)], "STU03"),
        (["ramp,0,up,,50", *ramp(power)], "STU07"),
    ],
)
def test_data_that_cannot_be_looked_at(made, codes, rows, code):
    assert code in codes(made(rows))


@pytest.mark.parametrize("head", ["part,speed,direction,time,torque", "part,speed"])
def test_nothing_to_look_at(made, head):
    with pytest.raises(NoStudyError):
        made(["ramp,20,down,,50"] if "torque" in head else ["ramp,20"], head=head)


def test_an_unknown_behaviour_gets_a_proposal(made):
    change = ("behaviour: thixotropic", "behaviour: unknown")
    outcome = made(ramp(power), changes=[change])
    [proposal] = outcome.proposals
    assert (("product", "behaviour"), "shear-thinning") == (proposal.path, proposal.text)
    assert () == made(ramp(power), changes=()).proposals
