"""Critical ranges: how far n results of one group may lie apart, and how near a mean may come to a limit."""

from collections.abc import Sequence
from math import ceil, inf, log10, sqrt

from fillmark.diagnostics import Severity
from fillmark.model import Method, Policy
from fillmark.physics.distributions import normal_point, studentized_range_point, studentized_range_tail
from fillmark.quantities import brief, counted, express, sig
from fillmark.studies import Finding, Grid, Outcome, Plot, Series
from fillmark.studies.precision import (
    Scatter,
    columns,
    degrees_of_freedom,
    materials,
    outside_the_limits,
    propose_repeatability,
    scatter,
    viscosity_of,
)
from fillmark.studies.table import Table

KIND = "ranges"
NUMBERS = (2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 15, 20)
"""Numbers of results that the table is made for."""
CHANCE = 0.05
"""How often a good set may exceed its range: the 95 % of ISO 5725-6, from memory."""

__all__ = ["KIND", "columns", "study"]


def study(
    table: Table,
    policy: Policy,
    method: Method | None,
    day: str,
    *,
    by: Sequence[str],
    material: str | None = None,
) -> Outcome:
    """Work out critical ranges from the scatter of one material; NoStudyError where the data do not allow it."""
    finding = Finding(KIND, table, policy, method, day)
    finding.settings.append(("group", " and ".join(by)))
    found = materials(finding, by, material)
    if len(found) > 1:
        raise finding.stop(
            f"The data hold {len(found)} materials, and each has ranges of its own.",
            f"Name one with --material: {', '.join(list(found)[:8])}.",
            "Or make one file for each.",
        )
    [(name, groups)] = found.items()
    one = scatter(finding, name, groups)
    s_r, degrees = one.repeatability_sd, one.degrees
    if s_r == 0:
        raise finding.stop(
            "Nothing scatters, so no range follows.",
            "Enter readings with all their digits.",
            "Or repeat the work from a new loading each time.",
        )
    s_R = None if one.whole is None else one.whole.reproducibility_sd
    unit = table.units.get("value", "")
    finding.figure(
        "repeatability_sd",
        "Repeatability standard deviation",
        s_r,
        unit,
        "s_r = √(Σ(n_i − 1)·s_i² / Σ(n_i − 1))",
        "iso-5725-2",
    )
    if one.percent is not None:
        finding.figure(
            "repeatability_percent", "The same, of the mean", one.percent, "%", "100·s_r/mean", "definition"
        )
    rows = []
    z = normal_point(upper=CHANCE)
    for n in NUMBERS:
        known = studentized_range_point(upper=CHANCE, n=n, degrees=inf)
        poorly = studentized_range_point(upper=CHANCE, n=n, degrees=degrees)
        near = z * s_r / sqrt(n)
        across = None if s_R is None else z * sqrt(s_R**2 - s_r**2 * (1 - 1 / n))
        rows.append(
            (
                float(n),
                known,
                known * s_r,
                None if one.percent is None else known * one.percent,
                poorly,
                poorly * s_r,
                s_r / sqrt(n),
                near,
                across,
            )
        )
    of = f" [{unit}]" if unit else ""
    finding.grids.append(
        Grid(
            "ranges",
            "Range that n results exceed one time in twenty, and how near their mean may come to a limit",
            (
                "n",
                "f(n)",
                f"f(n)·s_r{of}",
                "of the mean [%]",
                f"f with {degrees} degrees",
                f"range with it{of}",
                f"s of the mean{of}",
                f"nearest to a limit{of}",
                f"the same across groups{of}",
            ),
            tuple(rows),
            (
                "f(n): 95 % point of the range of n normal values over their standard deviation (studentized range).",
                f"f with {degrees} degrees of freedom allows for s_r being found from so few results.",
                (
                    "Nearest to a limit: 1.645·s of the mean; nearer than that, the mean of all such "
                    "results may lie beyond it (one side, 95 %, scatter alone)."
                ),
            ),
        )
    )
    finding.plots.append(
        Plot(
            "ranges",
            "Critical range by number of results",
            "n",
            f"range{of}",
            (
                Series("s_r known", "line", tuple((r[0] or 0.0, r[2] or 0.0) for r in rows)),
                Series(
                    f"s_r from {degrees} degrees", "line", tuple((r[0] or 0.0, r[5] or 0.0) for r in rows)
                ),
            ),
        )
    )
    if method is not None:
        _against_method(finding, method, one)
    rows_used = sum(len(g.rows) for g in groups)
    said = (
        f"Two results of one group differ by more than {sig(2.8 * s_r, 3)} {unit}".rstrip()
        + " one time in twenty (r = 2.8·s_r)."
    )
    return finding.outcome("Critical ranges", "", said, rows_used)


def _against_method(finding: Finding, method: Method, one: Scatter) -> None:
    s_r, mean, degrees = one.repeatability_sd, one.mean, one.degrees
    n, agree = method.replicates.count, method.replicates.agree_within
    scale = viscosity_of(finding.table.units)
    if scale is None:
        finding.points.append(
            "The heading of the values names no unit of viscosity, so nothing of them goes into the "
            "method: write value [Pa·s] or value [mPa·s]."
        )
        return
    if n < 2:
        finding.points.append("The method takes one result, which has no range.")
        return
    outside_the_limits(finding, method, mean * scale)
    factor = studentized_range_point(upper=CHANCE, n=n)
    if agree is not None:
        allowed = agree.value / scale if agree.kind == "viscosity" else agree.value / 100 * mean
        share = 100 * studentized_range_tail(q=allowed / s_r, n=n, degrees=degrees)
        finding.figure(
            "good_sets_failing",
            f"Good sets of {n} that exceed the {agree.text} of the method",
            share,
            "%",
            "P(range of n > range allowed), s_r from so many degrees",
            "iso-5725-6",
            digits=2,
        )
        loose = allowed > finding.policy["agreement_loose"] * factor * s_r
        if share > 100 * CHANCE * 2 or loose:
            finding.say(
                "STU19",
                Severity.WARNING,
                f"The method lets {n} results agree within {agree.text}; {sig(factor, 3)} times s_r is "
                f"{_text(factor * s_r, mean, agree.kind, agree.unit, scale)}. "
                + (
                    f"With its limit {brief(share, 2)} % of good sets fail."
                    if not loose
                    else "With its limit sets pass that do not agree."
                ),
                "Put the range of the study into the method: --write.",
                "Or find out what was different in the study: operators, days, loadings.",
                path=("replicates", "agree_within"),
            )
    # From the repeatability as it is written, and rounded up: else the two contradict each other in the method.
    percent = propose_repeatability(finding, one)
    if percent is None:
        return
    kind, unit = ("percent", "%") if agree is None else (agree.kind, agree.unit)
    finding.propose(
        ("replicates", "agree_within"),
        _text(factor * percent / 100 * mean, mean, kind, unit, scale, up=True),
        f"f({n})·s_r with f = {sig(factor, 3)}, rounded up: if s_r is as found, a good set exceeds it one time in "
        "twenty at most",
        f"{degrees_of_freedom(degrees)}, {counted(n, 'result')}",
    )


def _text(value: float, mean: float, kind: str, unit: str, scale: float, *, up: bool = False) -> str:
    amount = 100 * value / mean if kind == "percent" else express(value * scale, unit)
    if up:
        step = 10.0 ** (ceil(log10(amount)) - 2)
        amount = ceil(amount / step * (1 - 1e-12)) * step
    return f"{sig(amount, 2)} {unit}"
