"""Conditioning, drift and shares against values worked out apart from the program."""

import math
from pathlib import Path

import numpy as np
import pytest
from scipy.special import j0, j1, jn_zeros

from fillmark.pipeline import compile_method

PAINT, SAUCE, STARCH = "MCW-VIS-014", "TGF-VIS-003", "BBM-VIS-007"


def residual_by_scipy(time, radius, height, alpha):
    """Axis and insulated top of a finite cylinder in a bath, 400 terms each way."""
    roots = jn_zeros(0, 400)
    rod = (2 / (roots * j1(roots)) * j0(0) * np.exp(-(roots**2) * alpha * time / radius**2)).sum()
    n = np.arange(400)
    zeta = (n + 0.5) * np.pi
    slab = (2 * (-1) ** n / zeta * np.exp(-(zeta**2) * alpha * time / height**2)).sum()
    return rod * slab


@pytest.mark.parametrize("minutes", [30, 60, 180])
def test_what_is_still_missing_after_conditioning(compiled, minutes):
    figures = compiled(SAUCE, ("time: 180 min", f"time: {minutes} min")).figures
    level = figures["container.level"].value
    expected = 15 * residual_by_scipy(minutes * 60, 0.08255 / 2, level, 1.4e-7)
    assert expected == pytest.approx(figures["conditioning.residual"].value, rel=1e-6)


def test_the_time_needed_leaves_a_quarter_of_the_tolerance(compiled):
    figures = compiled(SAUCE).figures
    level, need = figures["container.level"].value, figures["conditioning.needed"].value
    assert 0.125 == pytest.approx(15 * residual_by_scipy(need, 0.08255 / 2, level, 1.4e-7), rel=1e-6)


def test_the_share_of_temperature(compiled):
    # 2 %/K times 0.5 K of a half width of 20 %
    assert 5.0 == pytest.approx(compiled(PAINT).figures["temperature.share.viscosity_20"].value)


def test_the_drift_of_an_open_beaker(compiled):
    # h A ΔT/(m c): 10·(π·0.08255·0.09432 + π·0.08255²/4)·16/(0.525·3900) K/s
    area = np.pi * 0.08255 * 0.09432 + np.pi * 0.08255**2 / 4
    expected = 10 * area * 16 / (0.525 * 3900) * 60
    assert expected == pytest.approx(compiled(STARCH).figures["temperature.drift"].value, rel=1e-3)


def test_a_stirred_sample_is_not_judged_by_conduction(compiled):
    figures = compiled(
        SAUCE, ("covered: true, parts: true", "covered: true, stirred: true, parts: true")
    ).figures
    assert "conditioning.residual" not in figures
    assert "stirred" in figures.open["conditioning.residual"]


def test_in_a_narrow_cup_heat_crosses_only_the_gap(reference):
    # Layer of d = (27.6 - 25.1) / 2 = 1.25 mm, spindle side insulated: θ = 4/π exp(-(π/2)² α t / d²), the first
    # term of the slab series (Incropera, chapter 5, from memory). α 0.14 mm²/s and 10 s: Fo = 0.896, 5 K off.
    text = (Path(__file__).parents[1] / "bad_methods" / "KRD-VIS-005.yaml").read_text(encoding="utf-8")
    text = text.replace("time: 10 min, covered", "time: 10 s, covered")
    figures = compile_method(text.encode(), "mud.yaml", reference).figures
    expected = 5 * 4 / math.pi * math.exp(-((math.pi / 2) ** 2) * 0.14 * 10 / 1.25**2)
    assert expected == pytest.approx(figures["conditioning.residual"].value, rel=1e-3)


GEL = "QAP-VIS-002"


@pytest.mark.parametrize(
    ("method", "key", "expected", "text"),
    [
        # s · ΔT, and that over the half width: 3 %/K · 1 K of 25 %, 3 %/K · 0.5 K of 22.2 %
        (PAINT, "temperature.swing", 1.0, "± 1.0 %"),
        (STARCH, "temperature.share.viscosity_50", 12.0, "12.0 %"),
        (SAUCE, "temperature.share.viscosity_10", 6.75, "6.75 %"),
        (STARCH, "temperature.lower", 37.0, "37.0 °C"),
        # 60 · 718.7e-6 · 2π·50/60 / (1050 · 3900 · 500e-6)
        (STARCH, "temperature.heating", 1.10274e-4, "0.00011 K/min"),
    ],
)
def test_what_temperature_is_worth(method, key, expected, text, compiled):
    figure = compiled(method).figures[key]
    assert (pytest.approx(expected, rel=1e-5), text) == (figure.value, figure.text)


def test_what_is_too_little_to_tell_is_a_bound(compiled):
    residual = compiled(SAUCE, ("time: 180 min", "time: 24 h")).figures["conditioning.residual"]
    assert "under 0.001 K" == residual.text
    # 0.12 K by the series above
    assert "0.12 K" == compiled(SAUCE).figures["conditioning.residual"].text


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ((("time: 180 min, ", ""),), "no conditioning time is given"),
        ((("  start: 35 °C\n", ""),), "the temperature the sample comes in at is not given"),
        ((("  volume: 500 mL ± 10 mL\n", ""),), "the level in the container is not known"),
    ],
)
def test_why_the_core_cannot_be_judged(changes, reason, compiled):
    assert reason == compiled(SAUCE, *changes).figures.open["conditioning.residual"]


def test_a_sample_that_is_not_conditioned_has_no_core_to_wait_for(compiled):
    for changes in ((), (("  conditioning: {where: none, parts: true}\n", ""),)):
        figures = compiled(STARCH, *changes).figures
        assert "conditioning.residual" not in figures
        assert "conditioning.residual" not in figures.open


@pytest.mark.parametrize(("start", "expected"), [("20.12 °C", False), ("20.13 °C", True)])
def test_a_sample_within_a_quarter_of_the_tolerance_need_not_wait(start, expected, compiled):
    # a quarter of 0.5 K is 0.125 K
    figures = compiled(SAUCE, ("start: 35 °C", f"start: {start}")).figures
    assert expected == ("conditioning.needed" in figures)


@pytest.mark.parametrize(
    ("method", "changes", "expected"),
    [
        (STARCH, (), True),
        (STARCH, (("  density: 1.05 g/mL\n", ""),), False),
        (STARCH, (("  volume: 500 mL ± 10 mL\n", ""),), False),
        (STARCH, (("target: 38.0 °C ± 1.0 °C", "target: 23.0 °C ± 1.0 °C"),), True),
        (STARCH, (("target: 38.0 °C ± 1.0 °C", "target: 22.9 °C ± 1.0 °C"),), False),
        # in a jacket the sample keeps its temperature
        (GEL, (("target: 25.0 °C", "target: 60.0 °C"),), False),
        (STARCH, (("{where: none, parts: true}", "{where: jacket, time: 30 min, parts: true}"),), False),
    ],
)
def test_a_sample_off_room_temperature_drifts_in_the_open(method, changes, expected, compiled):
    assert expected == ("temperature.drift" in compiled(method, *changes).figures)


def test_heating_needs_an_amount_and_a_density(compiled):
    assert "temperature.heating" in compiled(STARCH).figures
    for missing in ("  density: 1.05 g/mL\n", "  volume: 500 mL ± 10 mL\n"):
        assert "temperature.heating" not in compiled(STARCH, (missing, "")).figures


def test_a_pack_filled_to_a_depth_has_no_mass_to_cool(compiled):
    assert (
        "temperature.drift" not in compiled("LMT-VIS-021", ("25.0 °C ± 0.5 °C", "40.0 °C ± 0.5 °C")).figures
    )
