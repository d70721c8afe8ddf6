"""Repeatability and reproducibility from results in groups: laboratories, or operators and days of one."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

from fillmark.diagnostics import Severity
from fillmark.model import Limit, Method, Policy
from fillmark.physics import precision as physics
from fillmark.quantities import QuantityError, brief, counted, parse, sig
from fillmark.studies import Finding, Grid, Outcome, Plot, Series, Value, chance, listed
from fillmark.studies.table import Column, Row, Table, twice

KIND = "precision"
MOST_DRAWN = 120
_SOURCES = ("iso-5725-2", "astm-e691")


def columns(by: Sequence[str]) -> tuple[Column, ...]:
    """List the columns of a precision study; `by` names those that make a group together."""
    groups = tuple(Column(b, about=f"which {b}: any name") for b in by)
    return (
        Column(
            "material", optional=True, about="material or lot, where there are several; each is judged alone"
        ),
        *groups,
        Column("replicate", optional=True, sparse=True, about="number of the result in its group"),
        Column(
            "value",
            number=True,
            also=("viscosity", "result"),
            about="one result, not rounded beyond the reading; its unit stands in the heading",
        ),
    )


@dataclass(frozen=True, slots=True)
class Group:
    """The results of one group."""

    name: str
    rows: tuple[Row, ...]
    cell: physics.Cell

    @property
    def values(self) -> list[float]:
        """Give its results."""
        return [r.numbers["value"] for r in self.rows]


@dataclass(frozen=True, slots=True)
class Scatter:
    """What was found of one material, in the unit of its results."""

    material: str
    groups: tuple[Group, ...]
    mean: float
    repeatability_sd: float
    degrees: int
    whole: physics.Precision | None
    """None for one group."""

    @property
    def percent(self) -> float | None:
        """Give the repeatability standard deviation in percent of the mean, where that means something."""
        return 100 * self.repeatability_sd / self.mean if self.mean > 0 else None


def study(
    table: Table,
    policy: Policy,
    method: Method | None,
    day: str,
    *,
    by: Sequence[str],
    material: str | None = None,
) -> Outcome:
    """Make a precision study; NoStudyError where the data do not allow it."""
    finding = Finding(KIND, table, policy, method, day)
    finding.settings.append(("group", " and ".join(by)))
    found = [scatter(finding, name, groups) for name, groups in materials(finding, by, material).items()]
    between = "reproducibility" if by == ["laboratory"] else "intermediate precision"
    for one in found:
        _numbers(finding, one, between)
    finding.grids.append(_summary(table, found, by))
    finding.grids.append(_cells(finding, found, by))
    finding.grids.append(
        Grid(
            "outliers",
            "Chance that the most extreme of groups alike is as extreme (Cochran, Grubbs)",
            ("material", "widest scatter", "chance [%]", "furthest mean", "chance of it [%]"),
            tuple(_outlier_tests(finding, one) for one in found),
            (
                "Below 5 % a group is worth a look, below 1 % it is called an outlier (ISO 5725-2, from memory).",
            ),
        )
    )
    finding.plots.extend(_plots(finding, found))
    if method is not None:
        _against_method(finding, method, found)
    elif len(found) == 1 and found[0].percent is not None:
        finding.points.append("Name a method file behind the data to compare with it, or to --write into it.")
    rows = sum(len(g.rows) for one in found for g in one.groups)
    apart = [d for d in finding.diagnostics if d.code in ("STU14", "STU15")]
    groups = counted(sum(len(one.groups) for one in found), "group")
    said = f"{counted(rows, 'result')} in {groups} of {counted(len(found), 'material')}"
    said += (
        f"; {len(apart)} {'group stands' if len(apart) == 1 else 'groups stand'} apart and still "
        f"{'counts' if len(apart) == 1 else 'count'}."
        if apart
        else "; no group stands apart."
        if any(one.repeatability_sd for one in found)
        else "; nothing scatters within a group, so nothing is judged."
    )
    verdict = "apart" if apart else "consistent" if any(one.repeatability_sd for one in found) else "unknown"
    return finding.outcome(f"Repeatability and {between}", verdict, said, rows)


def materials(finding: Finding, by: Sequence[str], material: str | None) -> dict[str, list[Group]]:
    """Sort the rows into materials and groups, in the order of the file."""
    table = finding.table
    key = [c for c in ("material", *by, "replicate") if c in table.columns]
    again = twice(table, key, finding.diagnostics) if "replicate" in table.columns else set()
    sorted_: dict[str, dict[str, list[Row]]] = defaultdict(lambda: defaultdict(list))
    for row in table.rows:
        if row.line not in again:
            sorted_[row.texts.get("material", "")][" ".join(row.texts[b] for b in by)].append(row)
    if material is not None:
        if material not in sorted_:
            raise finding.stop(
                f"There is no material {material} in the data.",
                f"There are: {listed(list(sorted_))}.",
                "Leave --material out to see all of them.",
            )
        sorted_ = defaultdict(lambda: defaultdict(list), {material: sorted_[material]})
    if not sorted_:
        raise finding.stop(
            "Not one row can be used.",
            "Mend the rows that are told above.",
            "Or see --template for the shape.",
        )
    return {
        name: [
            Group(g, tuple(rows), physics.cell(values=[r.numbers["value"] for r in rows]))
            for g, rows in groups.items()
        ]
        for name, groups in sorted_.items()
    }


def scatter(finding: Finding, material: str, groups: Sequence[Group]) -> Scatter:
    """Work out the scatter of one material, and say where the data are thin."""
    of = f" of {material}" if material else ""
    results = sum(len(g.rows) for g in groups)
    degrees = results - len(groups)
    if degrees < 1:
        raise finding.stop(
            f"No group{of} has two results, so nothing tells how far results scatter within one.",
            "Measure each group twice or more.",
            "Or group otherwise with --by, if rows that belong together stand under several names.",
        )
    least = finding.policy["study_degrees"]
    if degrees < least:
        low, high = physics.sd_interval(sd=1.0, degrees=degrees)
        finding.say(
            "STU12",
            Severity.WARNING,
            f"The repeatability{of} rests on {degrees_of_freedom(degrees)}: the "
            f"true standard deviation may be {brief(low, 2)} to {brief(high, 2)} times the one found (95 "
            f"%). The site asks for {brief(least)}.",
            f"Measure {counted(int(least) - degrees, 'result')} more beyond the first of a group.",
            "Or use the upper end of the interval wherever a small scatter would be to your advantage.",
        )
    if len(groups) == 1:
        finding.say(
            "STU12",
            Severity.WARNING,
            f"There is one group{of} only: the data tell how results repeat, and nothing of how groups differ.",
            "Have other groups measure the same material.",
            "Or state the repeatability alone.",
        )
        cell = groups[0].cell
        found = Scatter(material, tuple(groups), cell.mean, cell.sd or 0.0, degrees, None)
    else:
        whole = physics.precision(groups=[g.values for g in groups])
        found = Scatter(material, tuple(groups), whole.mean, whole.repeatability_sd, degrees, whole)
        _thin(finding, found, of)
    _rounded(finding, found, of)
    return found


def _thin(finding: Finding, found: Scatter, of: str) -> None:
    whole = found.whole
    if whole is None:
        return
    wanted = finding.policy["study_groups"]
    if whole.groups < wanted:
        finding.say(
            "STU12",
            Severity.WARNING,
            f"There are {whole.groups} groups{of}; what lies between groups is known poorly below {brief(wanted)}.",
            "Bring in more groups.",
            "Or call the outcome a first estimate, and say so where it is used.",
        )
    if not whole.balanced:
        sizes = sorted({len(g.rows) for g in found.groups})
        finding.say(
            "STU17",
            Severity.ADVICE,
            f"The groups{of} have {sizes[0]} to {sizes[-1]} results. Each mean and variance is weighted "
            "by its number; the limit of h holds for means of one size, and here only nearly.",
            "Complete the groups if the missing results exist.",
            "Or leave it so: nothing has to be dropped.",
        )
    if whole.floored and whole.repeatability_sd:
        finding.say(
            "STU18",
            Severity.ADVICE,
            f"The means of the groups{of} differ by less than the scatter within them explains (F = "
            f"{brief(whole.f, 3)}), so nothing is added for differences between groups.",
            "Take it as it is: with so few groups this happens by chance.",
            "Or look whether the groups saw each other's results.",
        )


def _rounded(finding: Finding, found: Scatter, of: str) -> None:
    """Say where results are rounded so far that the rounding hides the scatter."""
    texts = [r.texts["value"] for g in found.groups for r in g.rows]
    step = step_of(texts)
    if found.repeatability_sd == 0:
        finding.say(
            "STU13",
            Severity.ERROR,
            f"All results{of} of a group are the same to the last digit. That is no scatter of nothing: "
            "the results were rounded, copied or read once.",
            "Enter readings as they were taken, with all their digits.",
            "Or repeat the work from a new loading each time.",
        )
    elif step > found.repeatability_sd / 2:
        finding.say(
            "STU13",
            Severity.WARNING,
            f"The results{of} are written to {brief(step)}, which is more than half of their scatter "
            f"({sig(found.repeatability_sd, 2)}): the rounding adds to it or hides it.",
            "Enter readings as they were taken, with all their digits.",
            "Or state the scatter as no smaller than the step of rounding.",
        )


def step_of(texts: Iterable[str]) -> float:
    """Give the step that results are written to: that of the one with the most decimals."""
    return 10.0 ** -max(len(t.replace(",", ".").lower().partition("e")[0].partition(".")[2]) for t in texts)


def _numbers(finding: Finding, one: Scatter, between: str) -> None:
    key = f"{one.material or 'all'}."
    unit = finding.table.units.get("value", "")
    of = f" of {one.material}" if one.material else ""
    if not one.repeatability_sd:
        return  # of scatter that is not known nothing is worked out
    s_r = finding.figure(
        f"{key}repeatability_sd",
        f"Repeatability standard deviation{of}",
        one.repeatability_sd,
        unit,
        "s_r = √(Σ(n_i − 1)·s_i² / Σ(n_i − 1))",
        *_SOURCES,
    )
    low, high = physics.sd_interval(sd=s_r, degrees=one.degrees)
    finding.figure(
        f"{key}repeatability_sd_low",
        f"Lower end of its 95 % interval{of}",
        low,
        unit,
        "s_r·√(ν/χ²)",
        "regression-text",
    )
    finding.figure(
        f"{key}repeatability_sd_high",
        f"Upper end of its 95 % interval{of}",
        high,
        unit,
        "s_r·√(ν/χ²)",
        "regression-text",
    )
    finding.figure(
        f"{key}repeatability_limit",
        f"Repeatability limit r{of}: two results of one group differ by more one time in twenty",
        physics.limit_of_two(sd=s_r),
        unit,
        "r = 2.8·s_r",
        "astm-d3236",
    )
    if one.percent is not None:
        finding.figure(
            f"{key}repeatability_percent",
            f"Repeatability standard deviation{of}, of the mean",
            one.percent,
            "%",
            "100·s_r/mean",
            "definition",
        )
    if one.whole is not None:
        finding.figure(
            f"{key}reproducibility_sd",
            f"Standard deviation across groups ({between}){of}",
            one.whole.reproducibility_sd,
            unit,
            "s_R = √(s_r² + s_L²)",
            *_SOURCES,
        )
        finding.figure(
            f"{key}reproducibility_limit",
            f"Limit R{of}: two results of different groups differ by more one time in twenty",
            physics.limit_of_two(sd=one.whole.reproducibility_sd),
            unit,
            "R = 2.8·s_R",
            "astm-d3236",
        )


def _summary(table: Table, found: Sequence[Scatter], by: Sequence[str]) -> Grid:
    unit = f" [{table.units['value']}]" if "value" in table.units else ""
    rows = []
    for one in found:
        whole = one.whole
        s_r = one.repeatability_sd or None
        s_R = None if whole is None or s_r is None else whole.reproducibility_sd
        rows.append(
            (
                one.material or "all",
                float(len(one.groups)),
                float(sum(len(g.rows) for g in one.groups)),
                one.mean,
                None if whole is None else whole.sd_of_means,
                s_r,
                s_R,
                None if s_r is None else physics.limit_of_two(sd=s_r),
                None if s_R is None else physics.limit_of_two(sd=s_R),
                None if s_r is None else one.percent,
                None if s_R is None or one.mean <= 0 else 100 * s_R / one.mean,
            )
        )
    heads = (
        "material",
        "groups",
        "results",
        f"mean{unit}",
        "s_x",
        "s_r",
        "s_R",
        "r",
        "R",
        "s_r [%]",
        "s_R [%]",
    )
    where = "laboratories" if by == ["laboratory"] else f"groups of {' and '.join(by)}"
    return Grid(
        "materials",
        f"Scatter within and between {where}",
        heads,
        tuple(rows),
        ("s_x standard deviation of the group means; r = 2.8·s_r, R = 2.8·s_R (95 %).",),
    )


def _cells(finding: Finding, found: Sequence[Scatter], by: Sequence[str]) -> Grid:
    """Lay out each group with its consistency statistics, and say which stand apart."""
    rows: list[tuple[str | float | None, ...]] = []
    notes: dict[str, None] = {}
    level = finding.policy["study_consistency"] / 100
    for one in found:
        cells = [g.cell for g in one.groups]
        h: Sequence[float | None] = [None] * len(cells)
        h_limit = None
        if len(cells) >= 3:
            h, h_limit = (
                physics.between_statistics(means=[c.mean for c in cells]),
                physics.between_limit(groups=len(cells), upper=level),
            )
            notes[
                f"h beyond ±{sig(h_limit, 3)} happens {brief(100 * level)} times in a hundred among "
                f"{len(cells)} groups alike."
            ] = None
        k: Sequence[float | None] = (
            physics.within_statistics(cells=cells) if one.repeatability_sd else [None] * len(cells)
        )
        for group, h_i, k_i in zip(one.groups, h, k, strict=True):
            k_limit = None
            degrees = group.cell.n - 1
            if k_i is not None and 0 < degrees < one.degrees:
                k_limit = physics.within_limit(degrees=degrees, all_degrees=one.degrees, upper=level)
                notes[
                    f"k beyond {sig(k_limit, 3)} happens {brief(100 * level)} times in a hundred for a "
                    f"group of {group.cell.n} results."
                ] = None
            if h_i is not None and h_limit is not None and abs(h_i) > h_limit:
                _mean_apart(finding, one, group, h_i, h_limit)
            if k_i is not None and k_limit is not None and k_i > k_limit:
                _scatter_apart(finding, one, group, k_i, k_limit)
            rows.append(
                (
                    one.material or "all",
                    group.name,
                    float(group.cell.n),
                    group.cell.mean,
                    group.cell.sd,
                    h_i,
                    k_i,
                )
            )
    by_chance = 2 * level * len(rows)
    if by_chance >= 1:
        notes[f"Of {len(rows)} groups alike about {brief(by_chance, 2)} stand out by chance."] = None
    heads = ("material", " ".join(by), "n", "mean", "s", "h", "k")
    return Grid(
        "groups",
        "Each group, and how far it stands out",
        heads,
        tuple(rows),
        tuple(list(notes)[:8]),
        (("h", 2), ("k", 2)),
    )


_KEEP = (
    (
        "Look into its records: temperature, spindle, guard, copied digits, another sample. A reason "
        "found there, and only that, may take it out; say so in a remark (# at the top)."
    ),
    "Or keep it: it is part of how the method does in use.",
)


def _name(one: Scatter, group: Group) -> str:
    return f"{group.name} ({one.material})" if one.material else group.name


def _mean_apart(finding: Finding, one: Scatter, group: Group, h: float, limit: float) -> None:
    finding.say(
        "STU14",
        Severity.WARNING,
        f"The mean of {_name(one, group)}, {brief(group.cell.mean, 5)}, lies {sig(abs(h), 3)} standard "
        f"deviations {'above' if h > 0 else 'below'} that of all (h; limit {sig(limit, 3)}). It counts, "
        "and makes s_R larger.",
        *_KEEP,
        row=group.rows[0],
    )


def _scatter_apart(finding: Finding, one: Scatter, group: Group, k: float, limit: float) -> None:
    rest = [g.cell for g in one.groups if g is not group and g.cell.sd is not None]
    degrees = sum(c.n - 1 for c in rest)
    without = sqrt(sum((c.n - 1) * (c.sd or 0.0) ** 2 for c in rest) / degrees)
    finding.say(
        "STU15",
        Severity.WARNING,
        f"The results of {_name(one, group)} scatter {sig(k, 3)} times as far as all do (k; limit "
        f"{sig(limit, 3)}). They count, and make s_r {sig(one.repeatability_sd, 3)}; the others alone "
        f"have {sig(without, 3)}.",
        *_KEEP,
        row=group.rows[0],
    )
    slip = likely_slip(group, without)
    if slip is not None:
        row, other = slip
        finding.say(
            "STU16",
            Severity.WARNING,
            f"{row.texts['value']} of {_name(one, group)} would fit its group if it were {other}.",
            "Compare it with the raw record, and mend it only if that says otherwise.",
            "Or keep it as it is.",
            row=row,
            column="value",
        )


def _outlier_tests(finding: Finding, one: Scatter) -> tuple[Value, ...]:
    """Make Cochran's and Grubbs' tests; gives their row, and figures of the probabilities."""
    key = f"{one.material or 'all'}."
    row: list[Value] = [one.material or "all"]
    worst = physics.largest_variance_probability(cells=[g.cell for g in one.groups])
    if worst is None:
        row += ["", None]
    else:
        at, p = worst
        row += [one.groups[at].name, 100 * p]
        finding.figure(
            f"{key}largest_scatter",
            f"Chance that the widest of groups alike scatters as {_name(one, one.groups[at])} does",
            100 * p,
            "%",
            "Cochran: p·P(B > share of the squares)",
            "iso-5725-2",
            text=chance(p),
        )
    furthest = physics.extreme_mean_probability(means=[g.cell.mean for g in one.groups])
    if furthest is None:
        row += ["", None]
    else:
        at, p = furthest
        row += [one.groups[at].name, 100 * p]
        finding.figure(
            f"{key}furthest_mean",
            f"Chance that the furthest of means alike lies as far out as {_name(one, one.groups[at])}",
            100 * p,
            "%",
            "Grubbs, either side: 2p·P(t > t(G))",
            "iso-5725-2",
            text=chance(p),
        )
    return tuple(row)


def likely_slip(group: Group, sd: float) -> tuple[Row, str] | None:
    """Find a result that would fit its group with one digit, two neighbours, or the point moved.

    `sd` is the scatter of the other groups: a fit lies within 2 of it of the others' mean, what is to be
    mended beyond 4.
    """
    if len(group.rows) < 3 or not sd:
        return None
    values = group.values

    def others(i: int) -> float:
        return (sum(values) - values[i]) / (len(values) - 1)

    at = max(range(len(values)), key=lambda i: abs(values[i] - others(i)))
    middle, text = others(at), group.rows[at].texts["value"]
    if abs(values[at] - middle) < 4 * sd:
        return None
    point = text.replace(",", ".")
    fitting = [(abs(v - middle), t) for t, v in _nearly(point) if abs(v - middle) < 2 * sd]
    return (group.rows[at], min(fitting)[1]) if fitting else None


def _nearly(text: str) -> Iterator[tuple[str, float]]:
    """Give the numbers that one slip of the pen turns into this one, as written and as a number."""
    forms = []
    for i, sign in enumerate(text):
        if not sign.isdigit():
            continue
        forms += [text[:i] + d + text[i + 1 :] for d in "0123456789" if d != sign]
        if i + 1 < len(text) and text[i + 1].isdigit() and text[i + 1] != sign:
            forms.append(text[:i] + text[i + 1] + sign + text[i + 2 :])
    try:
        value = float(text)
        yield from ((f, float(f)) for f in forms)
    except ValueError:
        return
    yield from ((brief(value * factor, 6), value * factor) for factor in (10, 0.1, 100, 0.01, 1000, 0.001))


def _plots(finding: Finding, found: Sequence[Scatter]) -> Iterator[Plot]:
    level = finding.policy["study_consistency"] / 100
    for one in found:
        cells = [g.cell for g in one.groups]
        if not 3 <= len(cells) <= MOST_DRAWN or not one.repeatability_sd:
            continue
        ticks = tuple((float(i), g.name) for i, g in enumerate(one.groups, 1))
        limit = physics.between_limit(groups=len(cells), upper=level)
        h = physics.between_statistics(means=[c.mean for c in cells])
        of = f" of {one.material}" if one.material else ""
        yield Plot(
            f"h-{one.material or 'all'}",
            f"Mean of each group against all{of} (h)",
            "group",
            "h",
            (Series("h", "points", tuple((float(i), v) for i, v in enumerate(h, 1))),),
            (("limit", limit), ("limit", -limit)),
            ticks,
        )
        k = physics.within_statistics(cells=cells)
        sizes = {c.n for c in cells}
        levels = (
            (
                (
                    "limit",
                    physics.within_limit(degrees=cells[0].n - 1, all_degrees=one.degrees, upper=level),
                ),
            )
            if len(sizes) == 1
            else ()
        )
        yield Plot(
            f"k-{one.material or 'all'}",
            f"Scatter of each group against all{of} (k)",
            "group",
            "k",
            (Series("k", "points", tuple((float(i), v) for i, v in enumerate(k, 1) if v is not None)),),
            levels,
            ticks,
        )


def viscosity_of(units: Mapping[str, str], column: str = "value") -> float | None:
    """Give one unit of a column in Pa·s; None where it is no viscosity or none is named."""
    try:
        return parse(f"1 {units[column]}", "viscosity").value if column in units else None
    except QuantityError:
        return None


def _against_method(finding: Finding, method: Method, found: Sequence[Scatter]) -> None:
    if len(found) != 1:
        finding.points.append(
            f"The data hold {len(found)} materials: name the one of this method with --material to "
            "compare or --write."
        )
        return
    one = found[0]
    if one.percent is None or not one.repeatability_sd:
        return
    scale = viscosity_of(finding.table.units)
    if scale is None:
        finding.points.append(
            "The heading of the values names no unit of viscosity, so nothing of them goes into the "
            "method: write value [Pa·s] or value [mPa·s]."
        )
        return
    outside_the_limits(finding, method, one.mean * scale)
    declared = method.replicates.repeatability
    low, high = physics.sd_interval(sd=one.percent, degrees=one.degrees)
    if declared is not None and not low <= declared.value <= high:
        finding.say(
            "STU19",
            Severity.WARNING,
            f"The method states a repeatability of {declared.text}; the data say {sig(one.percent, 2)} %, "
            f"between {sig(low, 2)} % and {sig(high, 2)} % (95 %). "
            + (
                "Good sets would fail its limit more often than it says."
                if declared.value < low
                else "Its limit lets sets pass that do not agree."
            ),
            "Put the value of the study into the method: --write.",
            "Or find out what was different in the study: operators, days, loadings.",
            path=("replicates", "repeatability"),
        )
    propose_repeatability(finding, one)


def propose_repeatability(finding: Finding, one: Scatter) -> float | None:
    """Propose the repeatability for the method; gives it in percent, as it is written there."""
    if one.percent is None:
        return None
    text = sig(one.percent, 2)
    finding.propose(
        ("replicates", "repeatability"),
        f"{text} %",
        "repeatability standard deviation of the study",
        f"{counted(len(one.groups), 'group')}, {counted(sum(len(g.rows) for g in one.groups), 'result')}, "
        f"{degrees_of_freedom(one.degrees)}",
    )
    return float(text)


def degrees_of_freedom(degrees: int) -> str:
    """Write how many degrees of freedom there are."""
    return f"{degrees} degree{'' if degrees == 1 else 's'} of freedom"


def outside_the_limits(finding: Finding, method: Method, mean: float) -> None:
    """Say where the mean of the data (Pa·s) lies outside the specification of the method."""
    limit = next((s for s in method.specification if "viscosity" in _kinds(s)), None)
    if limit is None:
        return
    low = limit.lower.value if limit.lower is not None else None
    high = limit.upper.value if limit.upper is not None else None
    if (low is not None and mean < low) or (high is not None and mean > high):
        finding.say(
            "STU35",
            Severity.WARNING,
            f"The mean of the data, {brief(mean, 3)} Pa·s, lies outside the specification of "
            f"{limit.result}; scatter often goes with the level.",
            "Repeat the study with material inside the limits.",
            "Or state the scatter in percent of the mean, if you know that it goes with the level.",
        )


def _kinds(limit: Limit) -> set[str]:
    return {end.kind for end in (limit.lower, limit.upper) if end is not None}
