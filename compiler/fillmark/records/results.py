"""From readings to what is reported: agreement, mean, rounding, decision.

Bounds are never averaged. The mean is taken of unrounded values and rounded once, by the rule of the method; what
is compared with the limits, and how, is the method's choice. Numbers are decimal throughout, so that a value that
lies on a limit lies on it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal, localcontext
from statistics import median

from fillmark.diagnostics import Severity
from fillmark.documents import terms
from fillmark.model import Limit, ReportLine
from fillmark.physics.rounding import Rule, decide, round_to_increment
from fillmark.physics.statistics import CRITICAL_RANGE_FACTORS, critical_range
from fillmark.quantities import Quantity
from fillmark.records.codes import found
from fillmark.records.judging import numbers
from fillmark.records.readings import exact, unit_size
from fillmark.records.result import Reading, Reported, Verdict, Working
from fillmark.records.sheet import Sheet
from fillmark.records.typed import Number, plain
from fillmark.uncertainty import uncertainty_budget

PRECISION = 50
"""Digits of intermediate values."""

RULES: Mapping[str, Rule] = {"half-even": "half-even", "half-up": "half-up"}
DECIDED: Mapping[str, Verdict] = {"in": "in", "low": "out", "high": "out"}
SAID = {
    "in": "within the limits whatever it is",
    "low": "below the lower limit whatever it is",
    "high": "above the upper limit whatever it is",
}
TIES = {"half-even": "a tie goes to the even step", "half-up": "a tie goes up"}


def report(
    s: Sheet, readings: Sequence[Reading]
) -> tuple[list[Reported], list[Working], set[tuple[int, str]]]:
    """Work out every line of the report; gives also which readings went in, by replicate and step."""
    made: list[Reported] = []
    workings: list[Working] = []
    used: set[tuple[int, str]] = set()
    complete = _complete(s, readings)
    wanted = _counting(s, readings, complete)
    for line in s.method.report:
        with localcontext(prec=PRECISION):
            one, steps, into = _line(s, line, readings, wanted)
        made.append(one)
        workings += steps
        used |= into
        _written(s, line, one)
    _more_than_asked(s, readings, wanted, made)
    return made, workings, used


def _complete(s: Sheet, readings: Sequence[Reading]) -> list[int]:
    """Say which replicates have all their speeds; those asked for and lacking bring a finding."""
    count = s.method.replicates.count
    there = {(r.no, r.step) for r in readings}
    lacking = [
        (n, step.name)
        for n in sorted({*range(1, count + 1), *numbers(s, "reading")})
        for step in s.method.run
        if (n, step.name) not in there
    ]
    if lacking:
        said = ", ".join(f"no. {n} {name}" for n, name in lacking[:6])
        s.find(
            "EVA34",
            f"There is no reading of {said}; {count} replicate{'' if count == 1 else 's'} of "
            f"{len(s.method.run)} speed"
            f"{'' if len(s.method.run) == 1 else 's'} are asked for.",
            "Run what is missing on a new loading, and record it.",
            "If it was run and not entered, enter it from the sheet as a late entry.",
            field=f"reading.{lacking[0][0]}.{lacking[0][1]}.torque",
        )
    return [n for n in numbers(s, "reading") if all((n, step.name) in there for step in s.method.run)]


def decimal_of(bound: Quantity | None, unit: str) -> Decimal | None:
    """Give a limit as written, as a decimal in the unit of the result."""
    if bound is None:
        return None
    number = Decimal(bound.number)
    return (
        number
        if bound.unit == unit or bound.kind != "viscosity"
        else number * unit_size(bound.unit) / unit_size(unit)
    )


def _counting(s: Sheet, readings: Sequence[Reading], complete: Sequence[int]) -> list[int]:
    """Say which replicates count: those asked for, or all of a set that was repeated because it did not agree."""
    m = s.method
    count = m.replicates.count
    first = [n for n in complete if n <= count]
    if m.replicates.otherwise is None or count < 2 or list(complete) != list(range(1, 2 * count + 1)):
        return first
    for line in m.report:
        values = [v for v in _values(s, line, readings, first) if v is not None]
        if _disagree(s, line, values, _unit(s, line)):
            s.findings.append(
                found(
                    "EVA36",
                    f"{line.result}: the first {count} did not agree, so all {2 * count} count together.",
                    "Report every value, as the method says.",
                    "Look for what went wrong the first time, and note it.",
                    field=f"reading.1.{(line.ratio or (line.result,))[0]}.torque",
                    severity=Severity.WARNING,
                )
            )
            return list(complete)
    return first


def _unit(s: Sheet, line: ReportLine) -> str:
    """Give the unit a line is reported in; none for a ratio."""
    if line.unit or line.increment is not None or line.ratio is not None:
        return line.unit or (line.increment.unit if line.increment is not None else "")
    step = s.method.step(line.result)
    return "" if step is None else terms.unit_of(s.figures, step)


def _expanded(s: Sheet, line: ReportLine, unit: str) -> Decimal | None:
    """Give the expanded uncertainty of a line in its unit; None for a ratio and where there is no budget."""
    step = s.method.step(line.result)
    budget = None if step is None else uncertainty_budget(s.method, s.figures, step)
    return None if budget is None or isinstance(budget, str) else exact(budget.expanded) / unit_size(unit)


def _scale(s: Sheet, line: ReportLine) -> Decimal:
    """Give what a viscosity of a step is multiplied by to be in the unit of its line."""
    step = s.method.step(line.result)
    if line.ratio is not None or step is None:
        return Decimal(1)
    return unit_size(terms.unit_of(s.figures, step)) / unit_size(_unit(s, line))


def _values(
    s: Sheet, line: ReportLine, readings: Sequence[Reading], numbers_: Sequence[int]
) -> list[Decimal | None]:
    """Give the value of a line for each of these replicates; None for a bound and what cannot be used."""
    by = {(r.no, r.step): r.viscosity for r in readings}
    if line.ratio is None:
        scale = _scale(s, line)
        return [None if (v := by[n, line.result]) is None else v * scale for n in numbers_]
    pairs = [(by[n, line.ratio[0]], by[n, line.ratio[1]]) for n in numbers_]
    return [None if top is None or not bottom else top / bottom for top, bottom in pairs]


def _line(
    s: Sheet, line: ReportLine, readings: Sequence[Reading], wanted: Sequence[int]
) -> tuple[Reported, list[Working], set[tuple[int, str]]]:
    m = s.method
    unit, scale = _unit(s, line), _scale(s, line)
    limit = m.limit(line.result)
    base = Reported(
        line.result,
        unit,
        "none",
        lower=decimal_of(limit.lower, unit) if limit else None,
        upper=decimal_of(limit.upper, unit) if limit else None,
        target=decimal_of(limit.target, unit) if limit else None,
        decision_rule=limit.decision_rule if limit else None,
        comparison=terms.comparison(m, line) if line.increment is not None else None,
        increment=Decimal(line.increment.number) if line.increment is not None else None,
        rounding=line.rounding,
        statistic=line.statistic,
        uncertainty=_expanded(s, line, unit),
    )
    steps: list[Working] = []
    by = {(r.no, r.step): r for r in readings}
    names = line.ratio or (line.result,)
    sources = [by[n, name] for n in wanted for name in names if (n, name) in by]
    values = _values(s, line, readings, wanted)
    for n, value in zip(wanted, values, strict=True):
        if line.ratio is not None and value is not None:
            top, bottom = (by[n, name] for name in line.ratio)
            steps.append(
                Working(
                    f"No. {n}: {line.result}",
                    " / ".join(line.ratio),
                    f"{top.text} / {bottom.text}",
                    plain(value),
                    "definition",
                )
            )
    torques = tuple(r.torque for r in sources if r.torque is not None)
    temperatures = tuple(t for r in sources for t in (r.before, r.end) if t is not None)
    base = replace(base, values=tuple(values), torques=torques, temperatures=temperatures)
    into = {(r.no, r.step) for r in sources}
    if not wanted:
        return replace(base, why="There is no complete replicate."), steps, set()
    if any(v is None for v in values):
        return _censored(s, line, limit, base, sources, scale), steps, into
    numbers_ = [v for v in values if v is not None]
    one, more = _averaged(s, line, base, numbers_)
    if one.value is None and not one.reported:
        return one, steps + more, into
    one, last = _decided(s, line, one)
    return one, steps + more + last, into


# --- bounds -----------------------------------------------------------------------------------------------------


def _side(value: Decimal, mark: str, lower: Decimal | None, upper: Decimal | None) -> str:
    """Say where a value or a bound certainly lies: in, out, or nothing where it does not say.

    What is below a bound is less than it, so a bound on a limit decides.
    """
    if mark == "<":
        if lower is not None and value <= lower:
            return "low"
        return "in" if lower is None and upper is not None and value <= upper else ""
    if mark == ">":
        if upper is not None and value >= upper:
            return "high"
        return "in" if upper is None and lower is not None and value >= lower else ""
    if lower is not None and value < lower:
        return "low"
    if upper is not None and value > upper:
        return "high"
    return "in"


def _censored(
    s: Sheet,
    line: ReportLine,
    limit: Limit | None,
    base: Reported,
    sources: Sequence[Reading],
    scale: Decimal,
) -> Reported:
    """Report bounds as bounds; a mix of bounds and numbers decides only where all lie on one side."""
    open_: Verdict = "undecided" if limit is not None else "none"
    if line.ratio is not None:
        why = f"{line.result} has no value, for a reading it is made of is a bound or cannot be used."
        if limit is not None and all(r.text for r in sources):
            bounds = " and ".join(dict.fromkeys(r.text for r in sources if r.viscosity is None))
            s.find(
                "EVA41",
                f"{line.result} has no value, for {bounds} went into it; nothing is decided.",
                "Keep the sample and tell the supervisor.",
                "Have it measured by a method whose range holds it; another spindle or speed is another method.",
                field=f"reading.{sources[0].no}.{sources[0].step}.torque",
            )
        return replace(base, why=why, verdict=open_)
    known = [
        (value * scale, r.bound, r)
        for r in sources
        for value in (r.bound_value if r.bound else r.viscosity,)
        if value is not None
    ]
    if len(known) < len(sources) or not known:
        return replace(
            base, why=f"{line.result} has no value, for a reading cannot be used or is void.", verdict=open_
        )
    texts = (r.text if mark else f"{plain(value)} {base.unit}" for value, mark, r in known)
    text = "; ".join(dict.fromkeys(texts))
    sides = {_side(value, mark, base.lower, base.upper) for value, mark, _ in known}
    only = next(iter(sides)) if len(sides) == 1 else ""
    verdict: Verdict = open_ if base.lower is None and base.upper is None else DECIDED.get(only, "undecided")
    value, mark, first = known[0]
    if len({mark for _, mark, _ in known}) > 1:
        all_the_same = f"All of them lie on one side of the limits, so it is {verdict} all the same."
        decided = all_the_same if verdict in ("in", "out") else "Nothing is decided."
        s.find(
            "EVA37",
            f"{line.result}: {text} have no mean, and none is made. {decided}",
            "Keep the sample, tell the supervisor, and report every reading.",
            "Run a new set on new loadings only if the method says so.",
            field=f"reading.{first.no}.{line.result}.torque",
        )
        return replace(base, reported=text, verdict=verdict, why=f"Bounds among values: {text}. {decided}")
    said = SAID.get(only, "on no certain side of the limits")
    one = replace(
        base,
        kind="bound",
        bound=mark,
        bound_value=value,
        reported=text,
        verdict=verdict,
        why=f"{text} is {said}.",
    )
    if verdict == "out":
        _outside(s, line, one)
    elif verdict == "undecided":
        s.find(
            "EVA41",
            f"{line.result}: {text} is {said}; nothing is decided.",
            "Keep the sample and tell the supervisor.",
            "Have it measured by a method whose range holds it; another spindle or speed is another method.",
            field=f"reading.{first.no}.{line.result}.torque",
        )
    return one


# --- agreement and mean -----------------------------------------------------------------------------------------


def _allowed(s: Sheet, line: ReportLine, n: int, unit: str) -> tuple[Decimal | None, str, Working | None]:
    """Give the largest range of n replicates, its unit (that of the result, or %), and how it comes about.

    The method states it for the number of replicates it asks for; for a repeated set that counts together it is the
    critical range of as many as there are.
    """
    m = s.method
    agree, asked, repeatability = m.replicates.agree_within, m.replicates.count, m.replicates.repeatability
    viscosity = line.ratio is None
    stated = bool(terms.range_allowed(m, line))
    if n == asked and agree is not None:
        if not stated:
            return None, "", None
        if agree.kind == "percent":
            return (
                Decimal(agree.number),
                "%",
                Working("Largest range allowed", "given", f"{agree.text} of the mean", agree.text, "method"),
            )
        value = decimal_of(agree, unit) or Decimal(0)
        return value, unit, Working("Largest range allowed", "given", agree.text, agree.text, "method")
    if not viscosity or (agree is not None and not stated):
        return None, "", None
    if repeatability is not None and n in CRITICAL_RANGE_FACTORS:
        factor = exact(critical_range(n=n, repeatability_sd=1.0))
        value = factor * Decimal(repeatability.number)
        text = f"{plain(value)} % of the mean"
        digits = f"{plain(factor)} · {repeatability.text}"
        return value, "%", Working(f"Critical range of {n}", "f(n) · s_r", digits, text, "iso-5725-6")
    if agree is not None and n in CRITICAL_RANGE_FACTORS and asked in CRITICAL_RANGE_FACTORS:
        ratio = exact(critical_range(n=n, repeatability_sd=1.0)) / exact(
            critical_range(n=asked, repeatability_sd=1.0)
        )
        given = Decimal(agree.number) if agree.kind == "percent" else decimal_of(agree, unit) or Decimal(0)
        value = given * ratio
        kind = "%" if agree.kind == "percent" else unit
        return (
            value,
            kind,
            Working(
                f"Range allowed for {n}",
                "range · f(n) / f(asked)",
                f"{agree.text} · {plain(ratio, 5)}",
                f"{plain(value, 5)} {kind}",
                "iso-5725-6",
            ),
        )
    return None, "", None


def _range(values: Sequence[Decimal], kind: str) -> Decimal:
    """Give largest less smallest, in % of the mean where the limit is in %."""
    spread = max(values) - min(values)
    mean = sum(values, Decimal(0)) / len(values)
    return 100 * spread / mean if kind == "%" and mean else spread


def _disagree(s: Sheet, line: ReportLine, values: Sequence[Decimal], unit: str) -> bool:
    """Whether the replicates asked for are further apart than is allowed."""
    count = s.method.replicates.count
    if count < 2 or len(values) < count:
        return False
    allowed, kind, _ = _allowed(s, line, count, unit)
    return allowed is not None and _range(values[:count], kind) > allowed


def _averaged(
    s: Sheet, line: ReportLine, base: Reported, taken: Sequence[Decimal]
) -> tuple[Reported, list[Working]]:
    """Judge whether the replicates agree, and give the value that is reported."""
    m = s.method
    count = m.replicates.count
    steps: list[Working] = []
    if len(taken) < count:
        return replace(
            base,
            why=f"{len(taken)} of {count} replicates are complete: {line.result} has no value.",
            verdict="undecided" if m.limit(line.result) else "none",
        ), []
    n = len(taken)
    mean = sum(taken, Decimal(0)) / n
    if n > 1:
        base, more, agree = _agreement(s, line, base, taken, mean)
        steps += more
        if not agree:
            return base, steps
    word = line.statistic or ("single" if n == 1 else "mean")
    listed = " + ".join(plain(v) for v in taken)
    if word == "each":
        return _each(base, taken), steps
    value = Decimal(median(taken)) if word == "median" else mean
    if n > 1:
        digits = (
            f"({listed}) / {n}"
            if word == "mean"
            else f"middle of {', '.join(plain(v) for v in sorted(taken))}"
        )
        formula = "(x_1 + … + x_n) / n, of unrounded values" if word == "mean" else "median"
        steps.append(
            Working(
                f"{line.result}: {word}", formula, digits, f"{plain(value)} {base.unit}".strip(), "definition"
            )
        )
    return replace(base, kind="value", value=value), steps


def _agreement(
    s: Sheet, line: ReportLine, base: Reported, taken: Sequence[Decimal], mean: Decimal
) -> tuple[Reported, list[Working], bool]:
    allowed, kind, how = _allowed(s, line, len(taken), base.unit)
    kind = kind or base.unit
    spread = _range(taken, kind)
    digits = f"{plain(max(taken))} - {plain(min(taken))}"
    if kind == "%" and line.increment is not None:
        digits = f"100 · ({digits}) / {plain(mean)}"
    steps = [] if how is None else [how]
    said = f"{plain(spread, 6)} {kind}".strip()
    steps.append(
        Working(
            f"{line.result}: range",
            "largest - smallest" + (", % of the mean" if kind == "%" else ""),
            digits,
            said,
            "definition",
        )
    )
    agree = None if allowed is None else spread <= allowed
    base = replace(base, range=spread, range_allowed=allowed, range_unit=kind, agree=agree)
    if agree is not False:
        return base, steps, True
    over = plain(spread - (allowed or Decimal(0)), 3)
    action = s.method.replicates.otherwise or "Run a new set; keep every value; tell the supervisor."
    again = len(taken) > s.method.replicates.count
    s.find(
        "EVA36",
        f"{line.result}: the replicates {', '.join(plain(v, 6) for v in taken)} {base.unit}".rstrip()
        + f" are {said} apart, {over} {kind}".rstrip()
        + f" more than the {plain(allowed or Decimal(0), 6)} {kind}".rstrip()
        + f" allowed for {len(taken)}. No mean is made: one of them, or the "
        "sample, is wrong, and which way is not known.",
        "Tell the supervisor: no further set is foreseen." if again else action,
        "Look for a cause (loading, bubble, temperature) and note it; drop no value without one.",
        field=f"reading.{1}.{(line.ratio or (line.result,))[0]}.torque",
    )
    why = (
        f"The replicates do not agree: {said} apart, {plain(allowed or Decimal(0), 6)} {kind}".rstrip()
        + " allowed."
    )
    return (
        replace(base, verdict="undecided" if s.method.limit(line.result) else "none", why=why),
        steps,
        False,
    )


def _rounded(base: Reported, value: Decimal) -> Decimal:
    if base.increment is None or base.rounding is None:
        return value
    return round_to_increment(value, base.increment, RULES[base.rounding])


def _shown(base: Reported, value: Decimal) -> str:
    rounded = _rounded(base, value)
    text = f"{rounded:f}" if base.increment is not None and base.rounding is not None else plain(rounded)
    return f"{text} {base.unit}".strip()


def _each(base: Reported, taken: Sequence[Decimal]) -> Reported:
    """Report each value by itself: there is no one value."""
    return replace(base, reported="; ".join(_shown(base, v) for v in taken))


# --- rounding and decision --------------------------------------------------------------------------------------


def _decided(s: Sheet, line: ReportLine, base: Reported) -> tuple[Reported, list[Working]]:
    """Round once, and compare with the limits by the rule of the method."""
    steps: list[Working] = []
    if base.value is None:
        return _decided_each(s, line, base), steps
    reported = _shown(base, base.value)
    if base.increment is not None and base.rounding is not None:
        steps.append(
            Working(
                f"{line.result}: rounded once",
                f"nearest multiple of {plain(base.increment)} {base.unit}".strip()
                + f"; {TIES[base.rounding or '']}",
                plain(base.value),
                reported,
                "iso-80000-1",
            )
        )
    one = replace(base, reported=reported)
    if base.lower is None and base.upper is None:
        return replace(one, why="No limits are set."), steps
    verdict, why, accepted = _verdict(base, base.value)
    one = replace(one, verdict=verdict, why=why, accepted_lower=accepted[0], accepted_upper=accepted[1])
    source = "jcgm-106" if base.decision_rule in ("guarded", "indecision-band") else "astm-e29"
    steps.append(
        Working(
            f"{line.result}: verdict",
            f"{base.decision_rule or 'simple'} decision, {base.comparison or 'absolute'} method",
            why,
            verdict,
            source,
        )
    )
    if verdict == "out" or (verdict == "undecided" and base.decision_rule is not None):
        _outside(s, line, one)
    return one, steps


def _decided_each(s: Sheet, line: ReportLine, base: Reported) -> Reported:
    if base.lower is None and base.upper is None:
        return replace(base, why="No limits are set.")
    verdicts = [_verdict(base, v)[0] for v in base.values if v is not None]
    whole: Verdict = "out" if "out" in verdicts else "undecided" if "undecided" in verdicts else "in"
    one = replace(base, verdict=whole, why=f"Each by itself: {', '.join(verdicts)}.")
    if whole != "in":
        _outside(s, line, one)
    return one


def _verdict(base: Reported, value: Decimal) -> tuple[Verdict, str, tuple[Decimal | None, Decimal | None]]:
    low, high = base.lower, base.upper
    if base.decision_rule in ("guarded", "indecision-band"):
        return _with_uncertainty(base, value)
    compared = value
    if base.comparison == "rounding":
        compared = _rounded(base, value)
    passes = (
        decide(
            value=value,
            lower=low,
            upper=high,
            method="rounding" if base.comparison == "rounding" else "absolute",
            increment=base.increment,
            rule=RULES[base.rounding],
        )
        if base.increment is not None and base.rounding is not None
        else (low is None or value >= low) and (high is None or value <= high)
    )
    said = f"{plain(compared)} {base.unit}".strip()
    what = "rounded" if base.comparison == "rounding" else "unrounded"
    whole = (low is None or value >= low) and (high is None or value <= high)
    also = "" if whole == passes else f"; unrounded ({plain(value)}) it would be {'in' if whole else 'out'}"
    return "in" if passes else "out", f"{said} ({what}) against {_bounds(base)}{also}", (low, high)


def _bounds(base: Reported) -> str:
    parts = []
    if base.lower is not None:
        parts.append(f"at least {base.lower:f}")
    if base.upper is not None:
        parts.append(f"at most {base.upper:f}")
    return f"{' and '.join(parts)} {base.unit}".strip()


def _with_uncertainty(
    base: Reported, value: Decimal
) -> tuple[Verdict, str, tuple[Decimal | None, Decimal | None]]:
    reach = base.uncertainty
    if reach is None:
        why = f"The rule is {base.decision_rule}, and there is no uncertainty to decide by."
        return "undecided", why, (None, None)
    low = None if base.lower is None else base.lower + reach
    high = None if base.upper is None else base.upper - reach
    within = (low is None or value >= low) and (high is None or value <= high)
    inside = (base.lower is None or value >= base.lower) and (base.upper is None or value <= base.upper)
    drawn = " and ".join(
        part
        for part in (
            f"at least {plain(low, 5)}" if low is not None else "",
            f"at most {plain(high, 5)}" if high is not None else "",
        )
        if part
    )
    said = (
        f"{plain(value)} {base.unit} (unrounded) against {drawn} {base.unit}, the limits drawn in by ± "
        f"{plain(reach, 3)} {base.unit}"
    )
    if within:
        return "in", said, (low, high)
    if base.decision_rule == "guarded":
        more = (
            f"{said}; inside the limits themselves ({_bounds(base)}), but not by the uncertainty"
            if inside
            else said
        )
        return "out", more, (low, high)
    beyond = (base.lower is not None and value < base.lower - reach) or (
        base.upper is not None and value > base.upper + reach
    )
    return ("out" if beyond else "undecided"), said, (low, high)


def _outside(s: Sheet, line: ReportLine, one: Reported) -> None:
    """Say that a result is outside, by how much, and what is done then."""
    m = s.method
    value = one.value if one.kind == "value" else one.bound_value
    inside = (
        value is not None
        and one.kind == "value"
        and (one.lower is None or value >= one.lower)
        and (one.upper is None or value <= one.upper)
    )
    again = (
        "Draw a new sample, run once more, and report both."
        if m.replicates.confirm_outside
        else ("Do not retest on your own; hold the sample and fill the out-of-specification form.")
    )
    field = f"reading.1.{(line.ratio or (line.result,))[0]}.torque"
    look = (
        "fillmark misuse with --shift shows which slips explain it; look for a cause before anything is "
        "repeated."
    )
    if one.verdict == "undecided" or (inside and one.comparison != "rounding"):
        s.find(
            "EVA41",
            f"{line.result}: {one.why}. "
            f"{'Nothing is decided.' if one.verdict == 'undecided' else 'By the guarded rule it does not pass.'}",
            again,
            look,
            field=field,
        )
        return
    off = ""
    if value is not None:
        for edge, word in ((one.lower, "below"), (one.upper, "above")):
            beyond = edge is not None and (value < edge if word == "below" else value > edge)
            if edge is not None and beyond:
                share = f" ({plain(100 * abs(value - edge) / edge, 3)} %)" if edge else ""
                least = "at least " if one.kind == "bound" else ""
                off = (
                    f", {least}{plain(abs(value - edge), 4)} {one.unit}".rstrip()
                    + f"{share} {word} the limit"
                )
    s.find("EVA40", f"{line.result} is {one.reported}{off}: {one.why.rstrip('.')}.", again, look, field=field)


# --- what was worked out by hand --------------------------------------------------------------------------------


def _written(s: Sheet, line: ReportLine, one: Reported) -> None:
    """Compare what the sheet says with what was worked out."""
    key = f"outcome.{line.result}."
    found_range, unrounded = s.number(key + "range"), s.number(key + "unrounded")
    checks: tuple[tuple[str, Number | None, Decimal | None, str], ...] = (
        ("range", found_range, one.range, "largest less smallest"),
        ("unrounded", unrounded, one.value, "the unrounded value"),
    )
    for name, written, right, word in checks:
        if written is None or written.bound or right is None:
            continue
        if abs(written.value - right) > written.half:
            s.find(
                "EVA38",
                f"{line.result}: {word} is {plain(right, 8)}, and {plain(written.value)} is written. What "
                "is judged is what "
                "follows from the torques.",
                "Correct it, reason code 3, with initials and day.",
                "See that every reading was entered.",
                field=key + name,
            )
    reported = s.number(key + "reported")
    if reported is not None and one.reported:
        if one.kind == "bound":
            same = reported.bound == one.bound and reported.value == one.bound_value
        else:
            same = one.value is None or (not reported.bound and reported.value == _rounded(one, one.value))
        if not same:
            s.find(
                "EVA39",
                f"{line.result}: {s.text(key + 'reported')} is reported; by the rule of the method it is "
                f"{one.reported}"
                + (
                    f" ({plain(one.value)} rounded once to {plain(one.increment)}, "
                    f"{TIES.get(one.rounding or '', '')})."
                    if one.value is not None and one.increment is not None
                    else "."
                ),
                "Correct what is reported, with initials, day and reason.",
                "If it has gone out already, tell who received it.",
                field=key + "reported",
            )
    verdict = s.choice(key + "verdict")
    if verdict and one.verdict not in ("none", verdict) and one.reported:
        s.find(
            "EVA39",
            f"{line.result}: the sheet says {verdict}; by the rule of the method it is {one.verdict}: "
            f"{one.why}.",
            "Correct the verdict, with initials, day and reason.",
            "If the batch was released on it, tell the person who released it.",
            field=key + "verdict",
        )


def _more_than_asked(
    s: Sheet, readings: Sequence[Reading], wanted: Sequence[int], made: list[Reported]
) -> None:
    """Say what becomes of replicates beyond those that count."""
    m = s.method
    count = m.replicates.count
    more = sorted({r.no for r in readings} - set(range(1, count + 1)) - set(wanted))
    if not more:
        return
    if m.replicates.confirm_outside and len(more) == 1 and any(one.verdict == "out" for one in made):
        for index, (line, one) in enumerate(zip(m.report, made, strict=True)):
            if all(
                (more[0], name) in {(r.no, r.step) for r in readings} for name in line.ratio or (line.result,)
            ):
                value = _values(s, line, readings, more)[0]
                text = "no number" if value is None else _shown(one, value)
                made[index] = replace(
                    one, why=f"{one.why}. The confirmation on a new sample is {text}; both are reported"
                )
        return
    s.find(
        "EVA35",
        f"There are more replicates (no. {', '.join(map(str, more))}) than the {count} asked for, and "
        "nothing in the record "
        f"asks for them. The result is that of no. {', '.join(map(str, wanted)) or 'none'}; which way a "
        "choice among them "
        "would move it cannot be known.",
        "Note the reason and who asked for them; every value stays reported.",
        "Cross out what was not asked for, with a reason, initials and day.",
        field=f"reading.{more[0]}.{m.run[0].name}.torque",
    )
