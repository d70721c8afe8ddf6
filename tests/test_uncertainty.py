"""The uncertainty budget against the uncertainties library, the GUM's own arithmetic, and the figures."""

from math import sqrt

import pytest
from uncertainties import ufloat, umath

from fillmark.uncertainty import uncertainty_budget

STEPS = [
    ("MCW-VIS-014", "viscosity_20"),
    ("BBM-VIS-007", "viscosity_50"),
    ("TGF-VIS-003", "viscosity_10"),
    ("QAP-VIS-002", "viscosity_5"),
    ("LMT-VIS-021", "consistency_5"),
]
PAINT = STEPS[0]
LIMITS = "lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s, decision_rule: simple}"


def of(compiled, method, step, *changes):
    c = compiled(method, *changes)
    return uncertainty_budget(c.method, c.figures, c.method.step(step))


@pytest.mark.parametrize(("method", "step"), STEPS)
def test_it_adds_up_as_the_uncertainties_library_has_it(compiled, method, step):
    # The model of the measurement, η = (f · t) · exp(-s · δT) · (1 + δ), propagated by uncertainties 3.2.
    b = of(compiled, method, step)
    c = compiled(method)
    m, figures = c.method, c.figures
    factor = figures[f"run.{step}.factor"].value
    torque = ufloat(b.viscosity / factor, figures["accuracy"].value / sqrt(3))
    off = ufloat(0, m.temperature.target.tolerance.value / sqrt(3))
    scatter = ufloat(0, m.replicates.repeatability.value / 100 / sqrt(m.replicates.count))
    result = factor * torque * umath.exp(-m.product.temperature_sensitivity.value / 100 * off) * (1 + scatter)
    assert result.std_dev == pytest.approx(b.combined, rel=1e-9)
    parts = result.error_components()
    assert [parts[v] for v in (torque, off, scatter)] == pytest.approx(
        [x.uncertainty for x in b.contributions]
    )


@pytest.mark.parametrize(("method", "step"), STEPS)
def test_it_says_what_the_figures_say(compiled, method, step):
    b, figures = of(compiled, method, step), compiled(method).figures
    key = f"run.{step}."
    names = ("u_instrument", "u_temperature", "u_repeatability")
    assert [figures[key + n].value for n in names] == [c.uncertainty for c in b.contributions]
    assert figures[key + "uncertainty"].value == b.expanded
    assert figures[key + "uncertainty_ratio"].value == pytest.approx(b.ratio)


@pytest.mark.parametrize(("method", "step"), STEPS)
def test_each_row_can_be_redone_by_hand(compiled, method, step):
    b = of(compiled, method, step)
    for c in b.contributions:
        assert c.amount / c.divisor * c.sensitivity == pytest.approx(c.uncertainty)
    assert 100 == pytest.approx(sum(c.share for c in b.contributions))
    assert b.combined * b.factor == pytest.approx(b.expanded)


def test_the_paint_by_hand(compiled):
    # 1 %/√3 · 0.2 Pa·s/%, 0.5 K/√3 · 0.2 Pa·s/K, 1.5 %/√2 · 0.1 Pa·s/%
    b = of(compiled, *PAINT)
    assert [0.115470, 0.057735, 0.106066] == pytest.approx([c.uncertainty for c in b.contributions], abs=1e-6)
    assert [47.76, 11.94, 40.30] == pytest.approx([c.share for c in b.contributions], abs=0.01)
    assert (10.0, "middle of the limits", 2.0) == (b.viscosity, b.at, b.factor)
    assert 5.985 == pytest.approx(b.ratio, abs=1e-3)
    assert ["B", "B", "A"] == [c.evaluation for c in b.contributions]


def test_what_two_covers(compiled):
    # A rectangular error alone lies wholly within 2/√3 of its half width; a normal one 95.45 % within two.
    small = ("repeatability: 1.5 %", "repeatability: 0.001 %"), ("23.0 °C ± 0.5 °C", "23.0 °C ± 0.001 °C")
    assert 100 == pytest.approx(of(compiled, *PAINT, *small).coverage)
    large = ("repeatability: 1.5 %", "repeatability: 60 %")
    assert 95.45 == pytest.approx(of(compiled, *PAINT, large).coverage, abs=0.01)


@pytest.mark.parametrize(
    ("rule", "accepted", "said"),
    [
        ("simple", (None, None), "50 times in 100"),
        # 8 + 0.334166 and 12 - 0.334166
        ("guarded", (8.334166, 11.665834), "passes at 8.334 Pa·s to 11.67 Pa·s"),
        ("indecision-band", (8.334166, 11.665834), "nothing is decided"),
    ],
)
def test_the_decision_rule(compiled, rule, accepted, said):
    b = of(compiled, *PAINT, (LIMITS, LIMITS.replace("simple", rule)))
    assert accepted == tuple(a if a is None else pytest.approx(a, abs=1e-6) for a in b.accepted)
    assert said in b.verdict
    assert rule == b.rule


def test_limits_that_leave_nothing(compiled):
    narrow = "lower: 9.8 Pa·s, target: 10.0 Pa·s, upper: 10.2 Pa·s, decision_rule: guarded}"
    b = of(compiled, *PAINT, (LIMITS, narrow))
    assert (None, None) == b.accepted
    assert "no result can pass" in b.verdict


@pytest.mark.parametrize(
    ("limits", "at", "accepted"),
    [
        # at 12 Pa·s: √(0.11547² + 0.069282² + 0.127279²) = 0.185293
        ("upper: 12.0 Pa·s, one_sided: true, decision_rule: guarded}", "upper limit", (None, 12 - 0.370585)),
        # at 8 Pa·s: √(0.11547² + 0.046188² + 0.084853²) = 0.150555
        ("lower: 8.0 Pa·s, one_sided: true, decision_rule: guarded}", "lower limit", (8 + 0.301109, None)),
    ],
)
def test_one_limit_has_its_budget_there(compiled, limits, at, accepted):
    b = of(compiled, *PAINT, (LIMITS, limits))
    assert (at, None) == (b.at, b.ratio)
    assert accepted == tuple(a if a is None else pytest.approx(a, abs=2e-6) for a in b.accepted)


def test_what_is_left_out_is_said_with_its_size(compiled):
    left = dict(of(compiled, *PAINT).left_out)
    # thermometer: 10 · 0.02 · 0.1/2 = 0.01 Pa·s; 2·√(0.0279167 + 0.0001) = 0.33477
    assert "taken as k = 2; with it the expanded uncertainty would be 0.335 Pa·s" in left["thermometer"]
    assert "R5" in left["coefficient"]
    assert {"thermometer", "immersion", "coefficient", "sampling", "mistakes"} == set(left)


@pytest.mark.parametrize(
    ("changes", "step", "said"),
    [
        ([("  temperature_sensitivity: 2.0 %/K\n", "")], "viscosity_20", "product.temperature_sensitivity"),
        ([("  repeatability: 1.5 %\n", "")], "viscosity_20", "replicates.repeatability"),
        ([], "viscosity_2", "no limits of its own"),
        ([], "viscosity_2", "index, which it goes into, is uncertain by ±"),
    ],
)
def test_without_a_number_there_is_a_reason(compiled, changes, step, said):
    assert said in of(compiled, "MCW-VIS-014", step, *changes)
