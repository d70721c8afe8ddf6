"""Temperature sensitivity: the logarithm of the viscosity against temperature, near the test temperature."""

from math import exp, log

from fillmark.diagnostics import Severity
from fillmark.model import Method, Policy
from fillmark.physics import regression
from fillmark.quantities import brief, counted, sig
from fillmark.studies import Finding, Grid, Outcome, Plot, Series, chance
from fillmark.studies.table import Column, Table

KIND = "temperature"
_DRAWN = 40
COLDEST, HOTTEST = -273.15, 1000.0
"""Temperatures (°C) that a sample can have: absolute zero, by definition, and where no such viscometer works."""


def columns() -> tuple[Column, ...]:
    """List the columns of a temperature study."""
    return (
        Column("temperature", number=True, about="of the sample at the reading, °C"),
        Column(
            "value",
            number=True,
            also=("viscosity", "result"),
            about="viscosity; its unit stands in the heading",
        ),
        Column("loading", optional=True, sparse=True, about="which loading or day: any name"),
    )


def study(
    table: Table, policy: Policy, method: Method | None, day: str, *, target: float | None = None
) -> Outcome:
    """Fit ln η against T; NoStudyError where the data do not allow it. `target` in °C."""
    finding = Finding(KIND, table, policy, method, day)
    unit = table.units.get("temperature", "°C").replace("degC", "°C").replace("C", "°C").replace("°°", "°")
    if unit != "°C":
        raise finding.stop(
            f"The temperatures are in {unit}.",
            "Write them in °C: the method speaks of °C.",
            "Head the column with temperature [°C].",
        )
    far = next((r for r in table.rows if not COLDEST <= r.numbers["temperature"] <= HOTTEST), None)
    if far is not None:
        raise finding.stop(
            f"Line {far.line} has a temperature of {far.texts['temperature']} °C, which no sample has.",
            "Look at the record: a digit too many, or another unit.",
            "Or leave the row out.",
        )
    low = next((r for r in table.rows if r.numbers["value"] <= 0), None)
    if low is not None:
        raise finding.stop(
            f"Line {low.line} has a viscosity of {low.texts['value']}, which has no logarithm.",
            "Look at the record: a reading of nothing is none.",
            "Or leave the row out.",
        )
    t = [r.numbers["temperature"] for r in table.rows]
    eta = [r.numbers["value"] for r in table.rows]
    places = sorted(set(t))
    if len(t) < 3 or len(places) < 2:
        raise finding.stop(
            f"There {'is' if len(t) == 1 else 'are'} {counted(len(t), 'result')} at "
            f"{counted(len(places), 'temperature')}: no slope with a known scatter follows.",
            "Measure at the test temperature, 2 K below and 2 K above, three times each.",
            "Or add the results that are missing.",
        )
    if target is None:
        target = sum(t) / len(t) if method is None else method.temperature.target.value.value
    y = [log(v) for v in eta]
    line = regression.line(x=t, y=y, at=target)
    if abs(line.value) > 300:
        raise finding.stop(
            f"The line through the data gives no viscosity at {brief(target, 4)} °C: it is far too steep.",
            "Look at the temperatures: they differ by next to nothing, or the viscosities by powers of ten.",
            "Or measure 2 K below, at and above the test temperature.",
        )
    half = regression.half_width(sd=line.slope_sd, degrees=line.degrees)
    _figures(finding, line, half, target, table.units.get("value", ""))
    _doubts(finding, t, y, places, line, half, target)
    _draw(finding, t, eta, line)
    fall = -100 * line.slope
    said = (
        f"The viscosity {'falls' if fall >= 0 else 'rises'} by {sig(abs(fall), 3)} % for each kelvin at "
        f"{brief(target, 4)} °C, give or take {sig(100 * half, 2)} % (95 %)."
    )
    if method is not None:
        _against_method(finding, method, fall, 100 * half, len(t), places)
    return finding.outcome("Temperature sensitivity", "", said, len(t))


def _figures(finding: Finding, line: regression.Line, half: float, target: float, unit: str) -> None:
    inputs = (("T_0", f"{brief(target, 4)} °C"),)
    finding.figure(
        "sensitivity",
        f"Fall of the viscosity at {brief(target, 4)} °C",
        -100 * line.slope,
        "%/K",
        "s_T = −100·b, ln η = a + b·(T − T_0), least squares",
        "regression-text",
        digits=3,
        inputs=inputs,
    )
    finding.figure(
        "sensitivity_half_width",
        "By how much it may be off (95 %)",
        100 * half,
        "%/K",
        "100·t·s_b",
        "regression-text",
        digits=2,
    )
    finding.figure(
        "viscosity", f"Viscosity at {brief(target, 4)} °C", exp(line.value), unit, "exp(a)", "regression-text"
    )
    finding.figure(
        "residual",
        "Scatter about the line",
        100 * line.residual_sd,
        "%",
        "100·√(Σ(ln η − line)²/(n − 2))",
        "regression-text",
        digits=3,
    )


def _doubts(
    finding: Finding,
    t: list[float],
    y: list[float],
    places: list[float],
    line: regression.Line,
    half: float,
    target: float,
) -> None:
    level = finding.policy["study_fit"] / 100
    if len(places) == 2:
        finding.say(
            "STU12",
            Severity.WARNING,
            "There are two temperatures: whatever lies between them, a straight line goes through both.",
            "Add results at a third, the test temperature itself.",
            "Or state the slope as that between the two.",
        )
    if not places[0] <= target <= places[-1]:
        finding.say(
            "STU20",
            Severity.WARNING,
            f"{brief(target, 4)} °C lies outside the data, {brief(places[0], 4)} °C to "
            f"{brief(places[-1], 4)} °C: the slope there is not measured.",
            "Measure on both sides of the test temperature.",
            f"Or state the slope for {brief((places[0] + places[-1]) / 2, 3)} °C, with --target.",
        )
    name, departure = "lack of fit", regression.lack_of_fit(x=t, y=y)
    if departure is None:
        name, departure = "curvature", regression.curvature(x=t, y=y)
    if departure is None:
        finding.points.append(
            "Whether the points lie on a straight line cannot be told: no repeats, and too few points."
        )
    else:
        finding.figure(
            "line_probability",
            f"Chance of so much {name} where the line holds",
            100 * departure.probability,
            "%",
            f"P(F_{departure.above},{departure.below} > F), F = {_f(departure.f)}",
            "regression-text",
            text=chance(departure.probability),
        )
        if departure.probability < level:
            finding.say(
                "STU21",
                Severity.WARNING,
                f"ln η against temperature is no straight line here ({name}: F = {_f(departure.f)}, "
                f"chance {chance(departure.probability)}). The slope is a mean over {brief(places[0], 4)} "
                f"°C to {brief(places[-1], 4)} °C, and may be another at {brief(target, 4)} °C.",
                "Keep to 2 K on each side of the test temperature.",
                "Or look for what changed on the way: drying, melting, a gel, or time under shear.",
            )
    if abs(line.slope) < 2 * half:
        finding.say(
            "STU22",
            Severity.WARNING,
            f"The slope, {sig(100 * abs(line.slope), 2)} %/K, is known to {sig(100 * half, 2)} %/K only (95 %).",
            "Add repeats at the outermost temperatures: they weigh most.",
            f"Or use {sig(100 * (abs(line.slope) + half), 2)} %/K, the steepest it may be, where safety asks for it.",
        )


def _f(f: float) -> str:
    return brief(f, 3) if f < 1e6 else "over a million"


def _draw(finding: Finding, t: list[float], eta: list[float], line: regression.Line) -> None:
    unit = finding.table.units.get("value", "")
    low, high = min(t), max(t)
    steps = [low + (high - low) * i / _DRAWN for i in range(_DRAWN + 1)]
    drawn = tuple((x, exp(line.value + line.slope * (x - line.at))) for x in steps)
    step = max(1, len(t) // 400)
    points = tuple(zip(t, eta, strict=True))[::step]
    finding.plots.append(
        Plot(
            "temperature",
            "Viscosity against temperature",
            "temperature [°C]",
            f"viscosity [{unit}]" if unit else "viscosity",
            (Series("results", "points", points), Series("line", "line", drawn)),
        )
    )
    means = []
    for place in sorted(set(t))[:200]:
        here = [v for x, v in zip(t, eta, strict=True) if x == place]
        fitted = exp(line.value + line.slope * (place - line.at))
        mean = sum(here) / len(here)
        means.append((place, float(len(here)), mean, fitted, 100 * (mean / fitted - 1)))
    finding.grids.append(
        Grid(
            "temperatures",
            "Mean at each temperature, and how far it lies off the line",
            ("temperature [°C]", "n", f"mean{f' [{unit}]' if unit else ''}", "line", "off [%]"),
            tuple(means),
        )
    )


def _against_method(
    finding: Finding, method: Method, fall: float, half: float, results: int, places: list[float]
) -> None:
    declared = method.product.temperature_sensitivity
    path = ("product", "temperature_sensitivity")
    if declared is not None and fall < -half:
        finding.say(
            "STU19",
            Severity.WARNING,
            f"The method states that the viscosity falls by {declared.text}; by the data it rises, by "
            f"{sig(-fall, 3)} %/K, give or take {sig(half, 2)} %/K (95 %). Too warm would read high, not low.",
            "Look for what changed on the way: drying, a gel, settling, a reaction.",
            "Or repeat the study with fresh sample at each temperature.",
            path=path,
        )
    elif declared is not None and abs(abs(fall) - declared.value) > half:
        finding.say(
            "STU19",
            Severity.WARNING,
            f"The method states {declared.text}; the data say {sig(abs(fall), 3)} %/K, between "
            f"{sig(max(0.0, abs(fall) - half), 3)} and {sig(abs(fall) + half, 3)} (95 %). At the edge of "
            "the tolerance the result moves by "
            f"{sig(abs(fall) * method.temperature.target.tolerance.value, 2)} %, not "
            f"{sig(declared.value * method.temperature.target.tolerance.value, 2)} %.",
            "Put the value of the study into the method: --write.",
            "Or repeat the study with fresh sample at each temperature, if it dried or aged on the way.",
            path=path,
        )
    if fall <= 0:
        finding.points.append(
            "The viscosity does not fall when it gets warmer, so nothing is proposed: the method asks "
            "for the size of a fall."
        )
    elif fall > half:
        finding.propose(
            path,
            f"{sig(fall, 2)} %/K",
            "slope of ln η at the test temperature",
            f"{counted(results, 'result')} from {brief(places[0], 4)} °C to {brief(places[-1], 4)} °C, ± "
            f"{sig(half, 2)} %/K",
        )
