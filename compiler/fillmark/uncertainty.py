"""Uncertainty budget of a result, laid out as the GUM has it: from each input to its share of the whole.

The standard uncertainties are those of the figures; here stands how each came about, how far the coverage
factor reaches, what the budget leaves out, and what the decision rule makes of it. A step with one limit has
no figures of this kind, so its budget is worked out at that limit.
"""

from dataclasses import dataclass
from math import sqrt

from fillmark.derive.figuring import in_unit, viscosity_unit
from fillmark.figures import Figures
from fillmark.model import Limit, Method, Step
from fillmark.physics import statistics
from fillmark.quantities import sig


@dataclass(frozen=True, slots=True)
class Contribution:
    """One input of the budget."""

    key: str
    """instrument, temperature or repeatability"""
    what: str
    amount: float
    """Half width, or standard deviation of one determination, in `amount_unit`."""
    amount_unit: str
    evaluation: str
    """A from repeated observations, B otherwise; as the GUM calls them."""
    distribution: str
    """rectangular or normal"""
    divisor: float
    """What the amount is divided by to give the standard uncertainty of the input."""
    sensitivity: float
    """How far the result moves (Pa·s) for each `amount_unit`."""
    uncertainty: float
    """Standard uncertainty of the result from this input (Pa·s)."""
    share: float
    """Part of the combined variance (%)."""


@dataclass(frozen=True, slots=True)
class UncertaintyBudget:
    """The budget of one result, the mean of the replicates. Viscosities in Pa·s."""

    step: str
    unit: str
    """Unit the report uses."""
    viscosity: float
    """Where the budget is worked out."""
    at: str
    """The same in words: middle of the limits, upper limit, lower limit."""
    contributions: tuple[Contribution, ...]
    combined: float
    factor: float
    """Coverage factor."""
    coverage: float
    """What the factor covers here, the distributions added up (%)."""
    why_factor: str
    expanded: float
    ratio: float | None
    """Half width of the specification over the expanded uncertainty; None with one limit."""
    rule: str | None
    """Decision rule of the specification."""
    accepted: tuple[float | None, float | None]
    """Limits drawn in by the expanded uncertainty, where the rule asks for that; else None."""
    verdict: str
    """What the rule makes of the budget."""
    left_out: tuple[tuple[str, str], ...]
    """What is not in it, and how much that would be or why it is not known."""


def uncertainty_budget(method: Method, figures: Figures, step: Step) -> UncertaintyBudget | str:
    """Lay out the budget of a step; a text says why where there is none."""
    m, key = method, f"run.{step.name}."
    limit = m.limit(step.name)
    if limit is None or (limit.lower is None and limit.upper is None):
        why = f"{step.name} has no limits of its own, so there is no viscosity to work it out at."
        return why + _through(m, figures, step)
    if limit.lower is not None and limit.upper is not None and limit.lower.value >= limit.upper.value:
        return f"The lower limit of {step.name} is not below the upper one."
    sensitivity, repeatability = m.product.temperature_sensitivity, m.replicates.repeatability
    if sensitivity is None or repeatability is None:
        missing = [
            name
            for name, there in (
                ("product.temperature_sensitivity", sensitivity),
                ("replicates.repeatability", repeatability),
            )
            if there is None
        ]
        return f"The method does not give {' and '.join(missing)}; without it a budget would be a guess."
    viscosity, at = _where(limit)
    worked = statistics.budget(
        viscosity=viscosity,
        full_scale=figures[key + "full_scale"].value,
        accuracy_percent=figures["accuracy"].value,
        sensitivity_percent_per_k=sensitivity.value,
        temperature_tolerance=m.temperature.target.tolerance.value,
        repeatability_percent=repeatability.value,
        replicates=m.replicates.count,
    )
    variance = worked.combined**2
    tolerance = m.temperature.target.tolerance.value

    def share(part: float) -> float:
        return 100 * part**2 / variance if variance else 0.0

    count = m.replicates.count
    mean = "Repeatability" if count == 1 else f"Repeatability, mean of {count}"
    contributions = (
        Contribution(
            "instrument", "Instrument accuracy", figures["accuracy"].value, "% of scale", "B",
            "rectangular", sqrt(3), figures[key + "factor"].value, worked.instrument, share(worked.instrument),
        ),
        Contribution(
            "temperature", "Temperature tolerance", tolerance, "K", "B", "rectangular", sqrt(3),
            viscosity * sensitivity.value / 100, worked.temperature, share(worked.temperature),
        ),
        Contribution(
            "repeatability", mean, repeatability.value, "% of result",
            "A", "normal", sqrt(m.replicates.count), viscosity / 100, worked.repeatability,
            share(worked.repeatability),
        ),
    )  # fmt: skip
    factor = statistics.COVERAGE_FACTOR
    covered = 100 * statistics.coverage(
        half_widths=(worked.instrument * sqrt(3), worked.temperature * sqrt(3)),
        standard_deviation=worked.repeatability,
        reach=worked.expanded,
    )
    ratio = None
    if limit.lower is not None and limit.upper is not None:
        half = (limit.upper.value - limit.lower.value) / 2
        ratio = statistics.tolerance_ratio(half_width=half, expanded=worked.expanded)
    unit = viscosity_unit(m, step.name)
    accepted, verdict = _decision(limit, worked.expanded, unit)
    why = (
        f"Two rectangular contributions and a normal one, added up, lie within it {sig(covered, 3)} % of the "
        "time. The repeatability counts as well known: the method does not say from how many results it comes."
    )
    return UncertaintyBudget(
        step.name, unit, viscosity, at, contributions, worked.combined, factor, covered, why, worked.expanded, ratio,
        limit.decision_rule, accepted, verdict, _left_out(m, figures, worked, viscosity, unit),
    )  # fmt: skip


def _through(m: Method, figures: Figures, step: Step) -> str:
    """Say what is known of the ratios a step goes into."""
    known = [
        f" {line.result}, which it goes into, is uncertain by {text} from the instrument alone."
        for line in m.report
        if line.ratio is not None and step.name in line.ratio
        for key in (f"report.{line.result}.uncertainty",)
        for text in ([figures.text(key)] if key in figures else [])
    ]
    return "".join(known)


def _where(limit: Limit) -> tuple[float, str]:
    if limit.lower is not None and limit.upper is not None:
        return (limit.lower.value + limit.upper.value) / 2, "middle of the limits"
    one, word = (limit.upper, "upper limit") if limit.upper is not None else (limit.lower, "lower limit")
    if one is None:
        raise ValueError("a limit without a bound")
    return one.value, word


def _decision(limit: Limit, expanded: float, unit: str) -> tuple[tuple[float | None, float | None], str]:
    """Give the limits that the decision rule draws in, and what the rule means in words."""
    drawn = (
        None if limit.lower is None else limit.lower.value + expanded,
        None if limit.upper is None else limit.upper.value - expanded,
    )
    reach = in_unit(expanded, unit, 3)
    if limit.decision_rule is None:
        return (None, None), "The method names no decision rule."
    if limit.decision_rule == "simple":
        return (None, None), (
            "Simple acceptance: the limits as they stand. A batch that lies exactly on a limit is judged wrongly "
            f"50 times in 100; within {reach} of a limit the risk is more than 2 in 100."
        )
    if drawn[0] is not None and drawn[1] is not None and drawn[0] >= drawn[1]:
        return (None, None), (
            f"Drawn in by {reach}, the limits leave nothing between them: no result can pass. Accept simply, or "
            "bring the uncertainty down."
        )
    words = " to ".join(in_unit(value, unit) for value in drawn if value is not None)
    side = "" if None not in drawn else "from " if drawn[1] is None else "up to "
    if limit.decision_rule == "guarded":
        return drawn, (
            f"Guarded acceptance: a result passes at {side}{words}, each limit drawn in by {reach}. A batch outside "
            "the limits then passes 2.3 times in 100 at most."
        )
    return drawn, (
        f"Indecision band: a result passes at {side}{words}; within {reach} of a limit, on either side, nothing is "
        "decided."
    )


def _left_out(
    m: Method, figures: Figures, worked: statistics.Budget, viscosity: float, unit: str
) -> tuple[tuple[str, str], ...]:
    """Say what the budget leaves out, with what it would add where that can be worked out."""

    def with_it(amount: float, distribution: str, coverage: float = 1.0) -> str:
        more = statistics.uncertainty(
            components=(
                statistics.Component("budget", worked.combined),
                statistics.Component(
                    "more", amount, "rectangular" if distribution == "rectangular" else "normal", coverage
                ),
            )
        )
        return f"with it the expanded uncertainty would be {in_unit(more.expanded, unit, 3)}"

    left: list[tuple[str, str]] = []
    sensitivity, thermometer = m.product.temperature_sensitivity, m.temperature.thermometer_uncertainty
    if thermometer is not None and sensitivity is not None:
        amount = viscosity * sensitivity.value / 100 * thermometer.value
        left.append(
            (
                "thermometer",
                f"calibrated within {thermometer.text}, taken as k = 2; {with_it(amount, 'normal', 2.0)}",
            )
        )
    else:
        left.append(("thermometer", "its calibration uncertainty is not in the method"))
    effect = figures.value("immersion.effect")
    if effect is not None:
        amount = viscosity * effect / 100
        left.append(("immersion", f"{figures.text('immersion.effect')}; {with_it(amount, 'rectangular')}"))
    left.append(
        (
            "coefficient",
            "found by the laboratory; its uncertainty is not in the method"
            if m.coefficient is not None
            else f"no uncertainty is given for that of {m.spindle.key} ({m.spindle.known.replace('-', ' ')})",
        )
    )
    left.append(("sampling", "the repeatability is that within one sample and one day"))
    left.append(("mistakes", "no budget holds them: see fillmark misuse"))
    return tuple(left)
