"""The sums of a scouting sheet."""

from math import log10

import pytest

from fillmark.derive.scouting import TIMES, scouting_figures


@pytest.fixture(scope="module")
def figures(reference):
    return scouting_figures(
        spindle=reference.spindles["R5"], on=reference.springs["R"], reference=reference,
        speeds=(1.0, 2.0, 5.0, 10.0, 20.0), temperature=(23.0, 1),
    )  # fmt: skip


def test_a_change_becomes_a_drift_in_percent_a_minute(figures):
    # From 10 to 20 s a fall of 1 % is 6 % a minute; from 300 to 600 s it is 0.2 %.
    assert (10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0) == TIMES
    assert ("600", "600", "200", "100", "33.3", "20") == tuple(
        figures.text(f"drift.{t:g}") for t in TIMES[:-1]
    )
    assert "drift.600" not in figures


def test_the_slope_of_a_power_law_comes_back(figures):
    # η = 8 · N^(0.4 - 1): from the first and the last reading the sheet's formula gives 0.4 again.
    first, last = 8 * 1.0**-0.6, 8 * 20.0**-0.6
    assert 0.4 == pytest.approx(1 + log10(last / first) / figures["slope.span"].value)


def test_the_bracket_lies_two_kelvin_either_side(figures):
    assert ["21.0 °C", "23.0 °C", "25.0 °C"] == [
        figures.text(f"temperature.{which}") for which in ("below", "target", "above")
    ]


def test_without_a_temperature_the_bracket_stays_open(reference):
    found = scouting_figures(
        spindle=reference.spindles["R5"], on=reference.springs["R"], reference=reference, speeds=(5.0,)
    )
    assert "temperature.target" not in found
    assert "slope.span" not in found  # one speed has no slope
