"""Temperature sensitivity from data with a slope that is known."""

import math

import numpy as np
import pytest
from scipy import stats

from fillmark.studies import NoStudyError
from fillmark.studies.temperature import columns, study


@pytest.fixture
def made(table_of, reference, compiled):
    def make(text, *, method=None, target=None):
        m = None if method is None else compiled(method).method
        return study(table_of(text, columns()), reference.policy, m, "2026-11-25", target=target)

    return make


def data(slope=0.03, places=(21, 23, 25), repeats=3, noise=0.004, bend=0.0, seed=1):
    draw = np.random.default_rng(seed)
    rows = [
        f"{t},{10 * math.exp(-slope * (t - 23) + bend * (t - 23) ** 2 + draw.normal(0, noise)):.5f}"
        for t in places
        for _ in range(repeats)
    ]
    return "temperature [°C],viscosity [Pa·s]\n" + "\n".join(rows)


def test_slope_and_interval_against_scipy(made, number, codes):
    text = data()
    outcome = made(text, target=23)
    rows = [tuple(map(float, line.split(","))) for line in text.splitlines()[1:]]
    expected = stats.linregress([t for t, _ in rows], [math.log(v) for _, v in rows])
    assert -100 * expected.slope == pytest.approx(number(outcome, "sensitivity"))
    assert 100 * expected.stderr * stats.t.ppf(0.975, 7) == pytest.approx(
        number(outcome, "sensitivity_half_width")
    )
    assert abs(3 - number(outcome, "sensitivity")) < 2 * number(outcome, "sensitivity_half_width")
    assert [] == codes(outcome)


def test_a_method_is_told_what_its_tolerance_does(made):
    outcome = made(data(), method="MCW-VIS-014")
    [d] = outcome.diagnostics
    assert "STU19" == d.code
    assert "states 2.0 %/K" in d.message
    assert "moves by 1.5 %, not 1.0 %" in d.message
    [proposal] = outcome.proposals
    assert (("product", "temperature_sensitivity"), "3.0 %/K") == (proposal.path, proposal.text)


def test_a_method_that_is_right_stays_alone(made, codes):
    assert [] == codes(made(data(slope=0.02), method="MCW-VIS-014"))


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"places": (21, 25)}, "STU12"),
        ({"places": (24, 26, 28)}, "STU20"),
        ({"bend": 0.01}, "STU21"),
        ({"bend": 0.01, "repeats": 1, "places": (19, 20, 21, 22, 23, 24, 25, 26, 27)}, "STU21"),
        ({"noise": 0.1}, "STU22"),
    ],
)
def test_doubts_are_told(made, codes, more, code):
    assert code in codes(made(data(**more), target=23))


def test_a_fluid_that_thickens_when_warm_is_proposed_nothing(made):
    outcome = made(data(slope=-0.03), method="MCW-VIS-014")
    assert "rises by" in outcome.said
    assert () == outcome.proposals
    assert any("nothing is proposed" in point for point in outcome.points)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("temperature,value\n23,10\n23,10.1\n23,9.9\n", "3 results at 1 temperature"),
        ("temperature,value\n21,10\n23,9\n", "2 results at 2 temperatures"),
        ("temperature,value\n21,10\n23,0\n25,8\n", "no logarithm"),
        ("temperature,value\n21,10\n230000,9\n25,8\n", "which no sample has"),
        ("temperature [K],value\n294,10\n296,9\n298,8\n", "are in K"),
    ],
)
def test_too_little_for_a_slope(made, text, said):
    with pytest.raises(NoStudyError, match=said):
        made(text)


def test_a_line_too_steep_to_be_one(made):
    text = "temperature,value\n21,1e20\n21.0000001,1e-20\n20.9999999,1e21\n"
    with pytest.raises(NoStudyError, match="far too steep"):
        made(text, target=25)


def test_results_without_scatter_are_a_line(made, number):
    text = "temperature,value\n" + "\n".join(f"{t},{10 * math.exp(-0.02 * t)!r}" for t in (20, 22, 24, 26))
    outcome = made(text)
    assert 2.0 == pytest.approx(number(outcome, "sensitivity"))


def test_a_viscosity_that_rises_contradicts_a_method_that_says_it_falls(made, codes):
    # As steep as the method states, the other way round.
    outcome = made(data(slope=-0.02, noise=0.001), method="MCW-VIS-014")
    [d] = [d for d in outcome.diagnostics if d.code == "STU19"]
    assert "by the data it rises, by 1.99 %/K" in d.message
    assert ("product", "temperature_sensitivity") == d.path
    assert () == outcome.proposals
