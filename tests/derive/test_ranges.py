"""Ranges of a spindle at each speed, without a method."""

from dataclasses import replace

import pytest

from fillmark.derive.ranges import (
    around,
    card_figures,
    coefficient_for,
    hangs_on,
    range_figures,
    speeds_of,
    unit_for,
)


def test_the_numbers_are_those_of_the_checklist(compiled, reference):
    """What is worked out without a method is, to the letter, what derive works out with one."""
    one = compiled("MCW-VIS-014")
    speeds = (2.0, 20.0)
    found = range_figures(
        key="",
        spindle=one.method.spindle,
        on=one.method.instrument.spring,
        reference=reference,
        speeds=speeds,
    )
    assert one.figures.text("coefficient") == found.text("coefficient")
    for rpm, step in ((2, "viscosity_2"), (20, "viscosity_20")):
        for here, there in (("full_scale", "full_scale"), ("factor", "factor"), ("wait", "customary_wait")):
            assert one.figures.text(f"run.{step}.{there}") == found.text(f"{rpm}.{here}")
        assert one.figures.text(f"run.{step}.below_bound") == f"< {found.text(f'{rpm}.lowest')}"
        assert one.figures.text(f"run.{step}.above_bound") == f"> {found.text(f'{rpm}.highest')}"


def test_worked_out_by_hand(reference):
    # R4 has 200 Pa·s·rpm on R; on 2R twice the torque, 400. At 5 rpm 80 Pa·s full scale, 0.8 Pa·s for each
    # percent, 8 Pa·s at 10 %; five turns take a minute.
    r4, two_r = reference.spindles["R4"], reference.springs["2R"]
    assert 400.0 == pytest.approx(coefficient_for(r4, two_r, reference))
    found = range_figures(key="x.", spindle=r4, on=two_r, reference=reference, speeds=(5.0,))
    assert ("80 Pa·s", "0.8 Pa·s per %", "8 Pa·s", "60 s") == tuple(
        found.text(f"x.5.{name}") for name in ("full_scale", "factor", "lowest", "wait")
    )


def test_a_coefficient_of_the_laboratory_goes_before_that_of_the_catalogue(reference):
    found = range_figures(
        key="", spindle=reference.spindles["R4"], on=reference.springs["R"], reference=reference, speeds=(10.0,),
        coefficient=150.0, unit="mPa·s",
    )  # fmt: skip
    assert ("150 Pa·s·rpm", "15000 mPa·s") == (found.text("coefficient"), found.text("10.full_scale"))


def test_small_ranges_are_written_in_millipascal_seconds():
    assert "mPa·s" == unit_for(0.8, (1.0, 10.0, 60.0))
    assert "Pa·s" == unit_for(100.0, (1.0, 10.0, 60.0))
    assert "mPa·s" == unit_for(10.0, (5.0, 10.0, 20.0, 50.0))  # two of four under 1 Pa·s


def test_speeds_around_the_wanted_ones_can_be_set_and_hold_them(reference):
    digital, dial = reference.instruments["bench-2"], reference.instruments["bench-7"]
    assert (1.0, 2.0, 5.0, 10.0, 20.0) == around((2.0, 20.0), [digital])
    assert (6.0, 12.0, 30.0, 60.0) == around((30.0,), [dial], count=4)
    assert (5.0, 6.0, 10.0, 20.0, 50.0) == around((6.0, 20.0), [digital])  # 6 is no round speed, and is kept
    found = around((7.0,), [dial])
    assert 5 == len(found)
    assert all(dial.has_speed(s) for s in found)
    assert 5 == len(around((), []))


def test_a_card_shows_the_speeds_of_a_dial_and_round_ones_of_the_rest(reference):
    assert (0.3, 0.6, 1.5, 3.0, 6.0, 12.0, 30.0, 60.0) == speeds_of(reference.instruments["bench-7"])
    many = replace(reference.instruments["bench-8"], speeds=tuple(float(s) for s in range(1, 15)))
    assert (10, 14.0) == (len(speeds_of(many)), speeds_of(many)[-1])
    assert all(
        reference.instruments["bench-2"].has_speed(s) for s in speeds_of(reference.instruments["bench-2"])
    )


def test_a_card_holds_what_goes_on_the_instrument_and_nothing_else(reference):
    with_stand, without = reference.instruments["bench-4"], reference.instruments["bench-2"]
    assert hangs_on(reference.spindles["bar-27"], with_stand)
    assert not hangs_on(reference.spindles["bar-27"], without)
    assert not hangs_on(reference.spindles["L1"], without)
    figures = card_figures(reference, without)
    assert {"R1", "R2", "R3", "R4", "R5", "R6", "R7", "chamber-11.8", "coaxial-25.1", "cone-0.8"} == {
        key.removesuffix(".coefficient") for key in figures if key.endswith(".coefficient")
    }
