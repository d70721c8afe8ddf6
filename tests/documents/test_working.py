"""Figures in digits: each line, typed into a calculator with the units crossed out, gives the figure."""

import re
from math import exp, log, pi, radians, sqrt, tan

import pytest

from fillmark.documents.working import DIGITS, given, worked
from fillmark.figures import Figure, Figures
from fillmark.quantities import parse_any

# What is no plain arithmetic: given values, series, integrals, stability, rules of rounding.
NOT_IN_DIGITS = re.compile(
    r"conditioning\..*|.*\.border_(lower|upper)|.*\.good_sets_failing|.*\.vortex_viscosity"
)

NAMES = {
    "ln": log,
    "exp": exp,
    "sqrt": sqrt,
    "pi": pi,
    "tan": lambda degrees: tan(radians(degrees)),
    "abs": abs,
}


def typed_in(line: str) -> tuple[float, str]:
    """Work a printed line out anew, by Python's own arithmetic; gives the number and the printed result."""
    *_, expression, result = line.partition(" → ")[0].split(" = ")
    crossed_out = re.sub("\u00a0(?:J/\\(kg·K\\)|[^\\s()|]+)", "", expression.replace("\u202f", ""))
    python = re.sub(r"\|([^|]+)\|", r"abs(\1)", crossed_out)
    python = re.sub(r"√(\d+)", r"sqrt(\1)", python).replace("√(", "sqrt(")
    for sign, meaning in (("·", "*"), ("²", "**2"), ("³", "**3"), ("π", "pi")):
        python = python.replace(sign, meaning)
    return eval(python, {"__builtins__": {}}, NAMES), result  # noqa: S307 - our own line, and no names but ours


def number(result: str) -> float:
    """Give a printed result in the unit of its kind."""
    if result.startswith("-"):
        return -number(result[1:])
    try:
        return parse_any(result).value
    except ValueError:
        return float(result.partition(" ")[0])


UPSIDE_DOWN = (
    ("[viscosity_2, viscosity_20]", "[viscosity_20, viscosity_2]"),
    ("lower: 5.5, upper: 8.0", "lower: 0.1, upper: 0.2"),
)
OWN = """\
container: beaker-600-low-form
coefficient: {full_scale: 44 Pa·s·rpm, guard: required, container: beaker-600-low-form, evidence: STUDY-1}
"""


def every_figure_adds_up(one) -> int:
    count = 0
    for figure in one.figures.values():
        line = worked(figure, one.method, one.figures)
        if figure.formula in ("given", "found by the laboratory") or NOT_IN_DIGITS.fullmatch(figure.key):
            assert "" == line, figure.key
            continue
        assert line, f"{figure.key}: {figure.formula} {figure.inputs}"
        count += 1
        if " = " not in line.partition(" → ")[0]:
            continue  # taken over as it is
        value, result = typed_in(line) if figure.formula != "FSR" else (number(line.split(" → ")[0]), line)
        shown = float(result.partition(" ")[0])
        assert shown == pytest.approx(value, rel=5e-4, abs=5e-4 if "." in result else 0.5), line
        if "→" in line or figure.unit == "":
            assert figure.value == pytest.approx(number(result), rel=1e-4, abs=1e-9), line
        assert figure.text.split(" ")[-1] in line, line
    return count


def test_every_figure_of_a_demonstration_method_adds_up(compiled, demo):
    assert every_figure_adds_up(compiled(demo)) > 40


@pytest.mark.parametrize(
    ("method", "changes"),
    [
        ("TGF-VIS-003", (("container: beaker-600-low-form", "container: jar-63"),)),
        ("TGF-VIS-003", (("{after: 30 s, revolutions: 5 rev}", "{revolutions: 5 rev}"),)),
        ("TGF-VIS-003", (("agree_within: 0.65 Pa·s", "agree_within: 7 %"),)),
        ("MCW-VIS-014", (("12.0 Pa·s, decision_rule: simple", "12.0 Pa·s, decision_rule: guarded"),)),
        ("MCW-VIS-014", (("  temperature_sensitivity: 2.0 %/K\n", ""),)),
        ("MCW-VIS-014", UPSIDE_DOWN),
        ("MCW-VIS-014", (("spring: R", "spring: 2R"),)),
        ("MCW-VIS-014", (("spindle: R5", "spindle: R1"),)),
        ("LMT-VIS-021", (("direction: down", "direction: up"), ("depth: 5 mm", "depth: 40 mm"))),
        ("LMT-VIS-021", (("{after: 36 s, average: 24 s}", "{steady: {change: 1 %, over: 10 s, at_most: 90 s}}"),)),
        ("QAP-VIS-002", (("volume: 8.0 mL ± 0.2 mL", "volume: 8.0 mL ± 2.5 %"),)),
        ("QAP-VIS-002", (("  behaviour: yield-stress", "  behaviour: yield-stress\n  pot_life: 2 h"),)),
        ("BBM-VIS-007", (("fluid: REF-300", "fluid: REF-300\n  temperature: 25.0 °C ± 0.2 °C"),)),
        ("BBM-VIS-007", (("container: beaker-600-low-form\n", OWN),)),
    ],
)  # fmt: skip
def test_figures_of_changed_methods_add_up_too(compiled, method, changes):
    one = compiled(method, *changes)
    assert one.figures is not None, one.diagnostics
    assert every_figure_adds_up(one) > 30


@pytest.mark.parametrize(
    ("key", "line"),
    [
        # By hand: 100 · 8 · 20 / 400 = 40; 1.2 · 400 / 718.7 is no part of it.
        ("run.viscosity_20.torque_lower", "t = 100 · 8 Pa·s · 20 rpm / 400 Pa·s·rpm = 40.0 %"),
        # The ratio times the limit of the other speed: 5.5 · 8 = 44 Pa·s; 44 · 2 / 4 = 22.
        ("run.viscosity_2.torque_lower", "t = 100 · (5.5 · 8 Pa·s) · 2 rpm / 400 Pa·s·rpm = 22.0 %"),
        ("run.viscosity_20.torque_upper_worst", "60 % · (1 + 2 %/K · 0.5 K / 100) + 1 % = 61.6 %"),
        ("temperature.lower", "23 °C - 0.5 K = 22.5 °C"),
        ("container.side_clearance", "(82.55 mm - 21.14 mm) / 2 = 30.705 mm → 30.7 mm"),
        ("container.fill_lower", "(500 cm³ - 10 cm³) / (π · (8.255 cm)² / 4) = 9.1553 cm → 91.6 mm"),
        ("sample.mass", "m = 1.42 g/mL · 500 mL = 710 g"),
        ("run.viscosity_20.customary_wait", "60 · 5 / 20 rpm = 15 s"),
        ("bench_time", "2 · (300 s + 210 s) = 1020 s → 17 min"),
        ("run.viscosity_20.above_bound", "20 Pa·s → > 20 Pa·s"),
    ],
)  # fmt: skip
def test_lines_are_those_of_a_hand_calculation(compiled, key, line):
    one = compiled("MCW-VIS-014")
    assert line == worked(one.figures[key], one.method, one.figures).replace("\u00a0", " ")


def of(formula, value, *inputs, unit="%"):
    return Figure("key", "Title", value, unit, f"{value} {unit}", formula, inputs, ("definition",))


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ("2 · x", 7.0),  # it is 6
        ("2 · y", 6.0),  # y is nowhere
        ("2 · x_ref", 6.0),  # x is no part of x_ref
        ("(2 · x", 6.0),
        ("2 · x)", 6.0),
        ("2 · ", 6.0),
        ("x / (x - x)", 6.0),
        ("ln(x - x)", 6.0),
        ("twice x", 6.0),
    ],
)
def test_a_line_that_does_not_come_to_the_figure_is_not_shown(compiled, formula, value):
    one = compiled("MCW-VIS-014")
    assert "" == worked(of(formula, value, ("x", "3 %")), one.method, Figures({}, {}))


def test_the_digits_printed_are_those_worked_with(compiled):
    one = compiled("MCW-VIS-014")
    figure = of("3 · x", 1.0, ("x", "third"))
    third = of("given", 1 / 3, unit="")
    line = worked(figure, one.method, Figures({"third": third}, {}))
    assert f"3 · 0.{'3' * DIGITS} = 1.0 %" == line


@pytest.mark.parametrize(
    ("symbol", "where", "value", "halved"),
    [
        ("V", ("sample", "volume"), 500e-6, False),
        ("ΔV", ("sample", "volume"), 10e-6, False),
        ("ΔT", ("temperature", "target"), 0.5, False),
        ("n", ("replicates", "count"), 2.0, False),
        ("r", ("specification", 1, "lower"), 5.5, False),
        ("R", "R5: half of 21.14 mm", 0.02114, True),
        ("θ", "320°", 320.0, False),
        ("rest", "none, taken as 0 s", 0.0, False),
        ("floor", "policy.torque_floor", 10.0, False),
        ("C", "coefficient", 400.0, False),
    ],
)
def test_the_number_behind_an_input(compiled, symbol, where, value, halved):
    one = compiled("MCW-VIS-014")
    found = given(symbol, where, one.method, one.figures)
    assert (value, halved) == (pytest.approx(found.value), found.halved)


@pytest.mark.parametrize(
    "where", [("sample", "mass"), ("product", "volatile"), ("product", "name"), "policy.none", "in words"]
)
def test_an_input_without_a_number_is_none(compiled, where):
    one = compiled("MCW-VIS-014")
    assert given("x", where, one.method, one.figures) is None
