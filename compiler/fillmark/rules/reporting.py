"""From reading to reported value: units, digits, rounding, limits, and what is compared with what."""

import re
from collections.abc import Iterator
from functools import lru_cache
from math import isclose

from fillmark.diagnostics import Related
from fillmark.figures import Figures
from fillmark.model import Limit, Method, ReportLine
from fillmark.quantities import Quantity, brief, express, fixed
from fillmark.rules import ADVICE, ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule

_SLIP = 1e-9
"""Relative: what floats may add to a number that was written with digits."""


def _size(unit: str) -> float:
    """Give how many Pa·s one of this unit is: 0.001 for mPa·s and for cP; 1 for a plain number."""
    return 1 / express(1.0, unit) if unit else 1.0


def _written(value: float, unit: str) -> str:
    """Write a value (Pa·s, or plain) in a unit with as many digits as it has, up to six decimals."""
    number = f"{value / _size(unit):.6f}".rstrip("0").rstrip(".")
    return f"{number} {unit}" if unit else number


def _whole(ratio: float) -> bool:
    """Whether a ratio is a whole number, but for what floats add."""
    return isclose(ratio, round(ratio), rel_tol=_SLIP)


def _bounds(limit: Limit) -> list[tuple[str, Quantity]]:
    return [(k, q) for k, q in (("lower", limit.lower), ("upper", limit.upper)) if q is not None]


def _reversed(limit: Limit) -> bool:
    return limit.lower is not None and limit.upper is not None and limit.lower.value >= limit.upper.value


def _judged(m: Method) -> Iterator[tuple[ReportLine, Limit]]:
    """Go through the reported results that have limits in good order."""
    for line in m.report:
        limit = m.limit(line.result)
        if limit is not None and _bounds(limit) and not _reversed(limit):
            yield line, limit


@rule(
    "CAL01",
    ERROR,
    sources=("record-practice",),
    example=Example(
        "MCW-VIS-014",
        right="  - {result: viscosity_20, statistic: mean, unit: Pa·s, increment: 0.1 Pa·s, "
        "rounding: half-even, "
        "comparison: rounding, below_range: stated, above_range: stated}\n",
        wrong="",
        at="{result: viscosity_20, lower:",
    ),
)
def specified_but_not_reported(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A result has limits and no line in the report.

    It is measured and then lost, or every sheet reports it in its own unit and digits.

    Where the limit only steers the run and its record is kept elsewhere.
    """
    reported = {line.result for line in m.report}
    for limit in m.specification:
        if limit.result not in reported:
            between = " to ".join(q.text for _, q in _bounds(limit))
            yield Finding(
                (*limit.path, "result"),
                f"{limit.result} has limits ({between or 'none written'}) and is reported nowhere.",
                (
                    (
                        f"Add a line to report: result: {limit.result}, with statistic, unit, increment and "
                        "rounding."
                    ),
                    f"Or take the limits of {limit.result} out of the specification.",
                ),
            )


@rule(
    "CAL02",
    WARNING,
    sources=("record-practice", "definition"),
    example=Example(
        "MCW-VIS-014",
        right="statistic: mean, unit: Pa·s, increment: 0.1 Pa·s",
        wrong="statistic: mean, unit: mPa·s, increment: 100 mPa·s",
    ),
)
def report_unit_differs(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A result is reported in a unit of another size than that of its limits, or of its increment.

    Somebody then compares by shifting the decimal point in their head; a slip is a factor of ten or a
    thousand. cP beside mPa·s is the same size and is left alone.

    Where customer and plant each want their own unit and both stand on the report.
    """
    for line in m.report:
        limit = m.limit(line.result)
        of_limit = next((q for _, q in _bounds(limit)), None) if limit is not None else None
        if line.ratio is not None:
            continue
        unit = line.unit or (line.increment.unit if line.increment is not None else None)
        where = "unit" if line.unit else "increment"
        if unit is None:
            continue
        pairs = [(of_limit, "limits", where, None if limit is None else limit.path)]
        if line.unit:
            pairs.append((line.increment, "increment", "increment", None))
        for other, word, key, path in pairs:
            if other is None or _size(other.unit) == _size(unit):
                continue
            factor = max(_size(unit) / _size(other.unit), _size(other.unit) / _size(unit))
            yield Finding(
                (*line.path, key),
                f"{line.result} is reported in {unit} and its {word} stand in {other.unit}: the numbers "
                "differ "
                f"by a factor of {factor:.0f}."
                if word == "limits"
                else f"{line.result} is reported in {unit} and its increment is {other.text}: the numbers "
                f"differ by a factor of {factor:.0f}.",
                (
                    f"Report in {other.unit}." if word == "limits" else f"Write the increment in {unit}.",
                    f"Or write the {word} in {unit}." if word == "limits" else f"Or report in {other.unit}.",
                ),
                () if path is None else (Related(f"limits in {other.unit}", path),),
            )
            break


@rule(
    "CAL03",
    WARNING,
    sources=("record-practice", "definition"),
    example=Example("MCW-VIS-014", right="upper: 12.0 Pa·s", wrong="upper: 12000 mPa·s"),
)
def limits_in_two_units(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The limits of one result are written in units of different size.

    Read side by side the numbers lie: 8.0 and 12000 look like no range at all, and one of them will be
    copied with the wrong unit.

    Where a contract prints them so and they are quoted.
    """
    for limit in m.specification:
        all_three = (("lower", limit.lower), ("target", limit.target), ("upper", limit.upper))
        written = [(k, q) for k, q in all_three if q is not None and q.unit]
        if not written:
            continue
        first = written[0][1]
        odd = next(((k, q) for k, q in written if _size(q.unit) != _size(first.unit)), None)
        if odd is not None:
            key, q = odd
            yield Finding(
                (*limit.path, key),
                f"The {key} limit of {limit.result} is {q.text}, the {written[0][0]} one {first.text}: "
                "the numbers "
                "differ by a factor of "
                f"{max(_size(first.unit) / _size(q.unit), _size(q.unit) / _size(first.unit)):.0f} "
                "in size of unit.",
                (
                    f"Write {_written(q.value, first.unit)}.",
                    f"Or write all of them in {q.unit}.",
                ),
                (Related(first.text, (*limit.path, written[0][0])),),
            )


@lru_cache(maxsize=64)
def _places(limit: Limit) -> tuple[float, float] | None:
    """Give the last place the limits are written to, read finely and read coarsely (Pa·s, or plain).

    The zeros at the end of a whole number may count or not: 300 is written to 1, to 10 or to 100.
    """
    fine, coarse = [], []
    for _, q in _bounds(limit):
        if q.value == 0:
            continue
        place = 10.0**-q.decimals
        fine.append(place * _size(q.unit))
        if q.decimals == 0:
            number = round(float(q.number))
            while number % 10 == 0:
                number //= 10
                place *= 10
        coarse.append(place * _size(q.unit))
    return (min(fine), min(coarse)) if fine else None


def _coarsest(m: Method, limit: Limit) -> tuple[float, str] | None:
    """Give the coarsest increment that suits the limits, and what bounds it: their digits or their width."""
    places = _places(limit)
    if places is None:
        return None
    if limit.lower is not None and limit.upper is not None:
        part = (limit.upper.value - limit.lower.value) / m.reference.policy["increment_steps"]
        if part < places[1] * (1 - _SLIP):
            return part, "width"
    return places[1], "digits"


def _finest(figures: Figures, line: ReportLine, limit: Limit) -> tuple[float, str] | None:
    """Give the finest increment that means something, and what bounds it: digits of the limits or readout."""
    places = _places(limit)
    if places is None:
        return None
    resolution = figures.value(f"run.{line.result}.resolution")
    if resolution is not None and resolution > places[0] * (1 + _SLIP):
        return resolution, "readout"
    return places[0], "digits"


def _why(m: Method, figures: Figures, line: ReportLine, limit: Limit, bound: tuple[float, str]) -> str:
    """Say what bounds an increment."""
    value = _written(bound[0], _bounds(limit)[0][1].unit)
    if bound[1] == "readout":
        return f"one step of the readout is {figures.text(f'run.{line.result}.resolution')}"
    if bound[1] == "width":
        return f"1/{brief(m.reference.policy['increment_steps'], 3)} of the width of the limits is {value}"
    return f"the limits are written to {value}"


def _too_coarse(m: Method, line: ReportLine, limit: Limit) -> tuple[float, str] | None:
    bound = _coarsest(m, limit)
    if line.increment is None or bound is None:
        return None
    return bound if line.increment.value > bound[0] * (1 + _SLIP) else None


def _fitting_increment(m: Method, figures: Figures, line: ReportLine, limit: Limit) -> str | None:
    """Find the smallest increment that suits readout and limits alike, in the unit of the line."""
    low, high = _finest(figures, line, limit), _coarsest(m, limit)
    if low is None or high is None:
        return None
    unit = line.unit or (line.increment.unit if line.increment is not None else _bounds(limit)[0][1].unit)
    unit = "" if line.ratio is not None else unit
    limits = [q.value for _, q in _bounds(limit)]
    steps = sorted(
        [*(n * 10.0**k for k in range(-9, 7) for n in (1, 2, 5)), *(low[0] * n for n in (1, 2, 5))]
    )
    for step in steps:
        if low[0] * (1 - _SLIP) <= step <= high[0] * (1 + _SLIP) and all(_whole(b / step) for b in limits):
            return _written(step, unit)
    return None


def _increment_way(m: Method, figures: Figures, line: ReportLine, limit: Limit) -> str:
    fits = _fitting_increment(m, figures, line, limit)
    if fits is not None:
        return f"Write increment: {fits}."
    resolution, coarsest = figures.value(f"run.{line.result}.resolution"), _coarsest(m, limit)
    if resolution is not None and coarsest is not None and resolution > coarsest[0] * (1 + _SLIP):
        return (
            "No increment suits both readout and limits: take a speed or spindle with a smaller full scale."
        )
    bound = _bounds(limit)[0][1]
    number = express(bound.value, bound.unit) if bound.unit else bound.value
    finer = f"{fixed(number, bound.decimals + 1)} {bound.unit}".strip()
    return f"Write the limits with one decimal more, {finer} for {bound.text}, if they are meant so finely."


@rule(
    "CAL04",
    ERROR,
    sources=("astm-e29", "project-decision"),
    example=Example(
        "MCW-VIS-014", right="unit: Pa·s, increment: 0.1 Pa·s", wrong="unit: Pa·s, increment: 1 Pa·s"
    ),
)
def increment_too_coarse(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The reported value is rounded to coarser steps than its limits can bear.

    A result that fails by almost half a step is reported as the limit itself and looks as if it passed;
    small drifts cannot be seen at all.

    Where the product is graded in such steps and the limits were set with them in mind.
    """
    for line, limit in _judged(m):
        bound = _too_coarse(m, line, limit)
        if bound is None or line.increment is None:
            continue
        times = line.increment.value / bound[0]
        half = line.increment.value / 2
        yield Finding(
            (*line.path, "increment"),
            f"{line.result} is reported in steps of {line.increment.text}, {brief(times, 3)} times too "
            "coarse: "
            f"{_why(m, figures, line, limit, bound)}. A result up to "
            f"{_written(half, line.increment.unit)} outside a limit can be reported "
            "as the limit.",
            (
                _increment_way(m, figures, line, limit),
                (
                    f"Or write the limits in whole steps of {line.increment.text}, if they are meant so "
                    "coarsely."
                ),
            ),
            (Related("the limits", limit.path),),
        )


def _or_else(m: Method, figures: Figures, line: ReportLine, limit: Limit, bound: tuple[float, str]) -> str:
    """Give the second way out where an increment is finer than its bound."""
    steps = m.reference.policy["increment_steps"]
    unit = line.increment.unit if line.increment is not None else ""
    fits = _fitting_increment(m, figures, line, limit) is not None
    if not fits:
        return f"Or set limits {_written(steps * bound[0], unit)} apart or more, if the product allows."
    step = line.increment.text if line.increment is not None else ""
    if bound[1] == "readout":
        return f"Or choose a speed or spindle that makes one step of the readout {step} or less."
    return f"Or write the limits in as many digits as {step}, if they are meant so."


@rule(
    "CAL05",
    WARNING,
    sources=("astm-e29", "project-decision"),
    example=Example(
        "MCW-VIS-014", right="unit: Pa·s, increment: 0.1 Pa·s", wrong="unit: Pa·s, increment: 0.01 Pa·s"
    ),
)
def increment_too_fine(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The reported value carries digits that the readout cannot show or the limits do not have.

    The last digit is invented: two operators with the same reading report different numbers, and a trend is
    seen where there is none.

    For a mean of many readings whose finer digit has been shown to hold.
    """
    for line, limit in _judged(m):
        bound = _finest(figures, line, limit)
        if line.increment is None or bound is None:
            continue
        step = line.increment.value
        if step < bound[0] * (1 - _SLIP):
            yield Finding(
                (*line.path, "increment"),
                f"{line.result} is reported in steps of {line.increment.text}, {brief(bound[0] / step, 3)} "
                f"times too fine: {_why(m, figures, line, limit, bound)}.",
                (
                    _increment_way(m, figures, line, limit),
                    _or_else(m, figures, line, limit, bound),
                ),
                (Related("the limits", limit.path),),
            )


@rule(
    "CAL06",
    ERROR,
    sources=("astm-e29", "iso-80000-1"),
    example=Example("BBM-VIS-007", right="increment: 4 mPa·s", wrong="increment: 8 mPa·s"),
)
def limit_between_two_steps(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A limit is no whole number of reported steps.

    The limit itself cannot be reported: a result just inside it is rounded to a value outside, or one just
    outside to a value inside, always the same way.

    Where the value is compared unrounded and the report says so.
    """
    for line, limit in _judged(m):
        if line.increment is None:
            continue
        step = line.increment.value
        for key, q in _bounds(limit):
            count = q.value / step
            if not _whole(count) and _too_coarse(m, line, limit) is None:
                unit = line.increment.unit
                below, above = (_written(step * n, unit) for n in (int(count), int(count) + 1))
                yield Finding(
                    (*line.path, "increment"),
                    f"The {key} limit {q.text} is {brief(count, 4)} steps of {line.increment.text}: it lies "
                    f"between {below} and {above}, which can be reported, and cannot be reported itself.",
                    (
                        _increment_way(m, figures, line, limit),
                        f"Or set the {key} limit to {below} or {above}.",
                    ),
                    (Related(f"{key} limit", (*limit.path, key)),),
                )
                break


@rule(
    "CAL07",
    ERROR,
    sources=("astm-e29",),
    example=Example(
        "MCW-VIS-014",
        right="unit: Pa·s, increment: 0.1 Pa·s, rounding: half-even, comparison: rounding",
        wrong="unit: Pa·s",
        at="statistic: mean, unit: Pa·s",
    ),
)
def increment_missing(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A result that is judged by limits is reported to no stated number of digits.

    Each operator rounds as the display or habit says, and a result near a limit passes or fails by it.

    Where a computer reports the value and its digits are fixed there.
    """
    for line, limit in _judged(m):
        if line.increment is None:
            between = " to ".join(q.text for _, q in _bounds(limit))
            fits = _fitting_increment(m, figures, line, limit)
            yield Finding(
                (*line.path, "result"),
                f"{line.result} is judged by {between} and no step is given to which it is rounded.",
                (
                    f"Add increment: {fits or 'the last place of the limits'}, and the rounding.",
                    "Or, where a computer rounds, write here the step it rounds to.",
                ),
                (Related("the limits", limit.path),),
            )


@rule(
    "CAL08",
    ERROR,
    sources=("iso-80000-1", "astm-e29"),
    example=Example(
        "MCW-VIS-014",
        right="increment: 0.1 Pa·s, rounding: half-even",
        wrong="increment: 0.1 Pa·s",
    ),
)
def rounding_missing(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A result is rounded and nothing says where a tie goes.

    Half way between two steps one operator goes up and another to the even digit; at a limit that is the
    difference between two reported numbers.

    Where the comparison is made with unrounded values only and nothing else hangs on the digit.
    """
    for line in m.report:
        if line.increment is None or line.rounding is not None:
            continue
        unit = line.increment.unit
        step = line.increment.value
        limit = m.limit(line.result)
        base = limit.upper if limit is not None else None
        count = round(base.value / step) if base is not None else 2
        # An even multiple, so that the two rules part ways.
        low = step * (count - count % 2)
        tie = _written(low + step / 2, unit)
        yield Finding(
            (*line.path, "increment"),
            f"{line.result} is rounded to {line.increment.text} and no rule is given for a tie: {tie} "
            "becomes "
            f"{_written(low, unit)} by half-even and {_written(low + step, unit)} by half-up.",
            (
                "Write rounding: half-even.",
                "Or write rounding: half-up.",
            ),
        )


@rule(
    "CAL09",
    ERROR,
    sources=("record-practice",),
    example=Example("MCW-VIS-014", right="statistic: mean, unit: Pa·s", wrong="unit: Pa·s"),
)
def statistic_missing(m: Method, figures: Figures) -> Iterator[Outcome]:
    """Several replicates are made and nothing says which number of them is reported.

    Mean, median, first or each: with a choice left open the one that passes is reported.

    Where a computer reports them all and says how.
    """
    count = m.replicates.count
    for line in m.report:
        if line.statistic is None and count > 1:
            yield Finding(
                (*line.path, "result"),
                f"{count} replicates are made and nothing says what of them is reported as {line.result}.",
                (
                    "Write statistic: mean.",
                    "Or write statistic: each, where every value is judged by itself.",
                ),
                (Related(f"{count} replicates", ("replicates", "count")),),
            )


@rule(
    "CAL10",
    ERROR,
    sources=("record-practice",),
    example=Example(
        "MCW-VIS-014", right="statistic: mean, unit: Pa·s", wrong="statistic: single, unit: Pa·s"
    ),
)
def statistic_does_not_suit_the_count(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The reported statistic and the number of replicates do not go together.

    A single value out of several is a choice, and the friendly one is chosen; a mean of one is a single
    reading that claims a steadiness it does not have.

    Where a computer reports the rest beside it.
    """
    count = m.replicates.count
    for line in m.report:
        single = line.statistic == "single" and count > 1
        averaged = line.statistic in ("mean", "median") and count == 1
        if single or averaged:
            yield Finding(
                (*line.path, "statistic"),
                f"{line.result} is reported as {line.statistic} and {count} "
                f"{'replicate is' if count == 1 else 'replicates are'} made: "
                + (f"which of the {count} is left open." if single else "there is nothing to average."),
                (
                    "Write statistic: mean, or each." if single else "Write statistic: single.",
                    "Or set the count of replicates to 1." if single else "Or make 2 or more replicates.",
                ),
                (Related(f"count: {count}", ("replicates", "count")),),
                severity=None if single else WARNING,
            )


@rule(
    "CAL11",
    ERROR,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014",
        right="below_range: stated, above_range: stated",
        wrong="below_range: stated",
        at="statistic: mean, unit: Pa·s",
    ),
)
def outside_the_range_left_open(m: Method, figures: Figures) -> Iterator[Outcome]:
    """Nothing says what is reported when the reading leaves the range of the instrument.

    Then a blank, a made-up number or whatever the display shows goes into the record; a batch that cannot be
    read is a result too.

    Where the run is part of a longer method that says so.
    """
    for line in m.report:
        missing = [
            k for k, v in (("below_range", line.below_range), ("above_range", line.above_range)) if v is None
        ]
        if line.ratio is not None or not missing:
            continue
        bounds = {
            "below_range": f"run.{line.result}.below_bound",
            "above_range": f"run.{line.result}.above_bound",
        }
        texts = [figures.text(bounds[k]) for k in missing if bounds[k] in figures]
        yield Finding(
            (*line.path, "result"),
            f"Nothing says what is reported for {line.result} "
            f"{' or '.join(k.replace('_', ' the ') for k in missing)}"
            f" of the instrument ({', '.join(texts)}).",
            (
                (
                    f"Write {', '.join(f'{k}: stated' for k in missing)}: then {' and '.join(texts)} is "
                    "reported."
                ),
                f"Or write {', '.join(f'{k}: void' for k in missing)}: then the run does not count.",
            ),
        )


@rule(
    "CAL12",
    ERROR,
    waivable=False,
    sources=("definition",),
    example=Example(
        "QAP-VIS-002",
        right="lower: 20.0 Pa·s, target: 25.0 Pa·s, upper: 30.0 Pa·s",
        wrong="lower: 30.0 Pa·s, target: 25.0 Pa·s, upper: 20.0 Pa·s",
    ),
)
def limits_upside_down(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The lower limit is not below the upper one.

    No result at all can pass, or only one exact value.

    Never: one of the two is a slip.
    """
    for limit in m.specification:
        if limit.lower is not None and limit.upper is not None and _reversed(limit):
            off = limit.lower.value - limit.upper.value
            yield Finding(
                (*limit.path, "lower"),
                f"The lower limit of {limit.result} is {limit.lower.text}, the upper {limit.upper.text}: "
                + (
                    f"{_written(off, limit.lower.unit)} the wrong way round; nothing can pass."
                    if off
                    else "nothing but that one value can pass."
                ),
                (
                    f"Write lower: {limit.upper.text}, upper: {limit.lower.text}, if they were swapped."
                    if off
                    else "Set them apart, by at least twice the uncertainty of the result.",
                    "Or mend the one that is wrong, its unit included.",
                ),
                (Related(f"upper: {limit.upper.text}", (*limit.path, "upper")),),
            )


@rule(
    "CAL13",
    ERROR,
    waivable=False,
    sources=("definition",),
    example=Example("MCW-VIS-014", right="target: 10.0 Pa·s", wrong="target: 14.0 Pa·s"),
)
def target_outside_the_limits(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The target does not lie between the limits.

    Production that hits its aim makes batches that fail.

    Never: target and limits contradict each other.
    """
    for limit in m.specification:
        target = limit.target
        if target is None or _reversed(limit):
            continue
        for key, q in _bounds(limit):
            off = q.value - target.value if key == "lower" else target.value - q.value
            if off > 0 or (off == 0 and len(_bounds(limit)) == 2):
                side = "below" if key == "lower" else "above"
                middle = (
                    ""
                    if limit.lower is None or limit.upper is None
                    else f", such as {_written((limit.lower.value + limit.upper.value) / 2, target.unit)}"
                )
                yield Finding(
                    (*limit.path, "target"),
                    f"The target of {limit.result} is {target.text}, {_written(off, target.unit)} "
                    f"{side} its {key} "
                    f"limit {q.text}."
                    if off
                    else f"The target of {limit.result} is {target.text}, its {key} limit: half of what "
                    "is aimed at it fails.",
                    (
                        f"Write a target between the limits{middle}.",
                        f"Or mend the {key} limit.",
                    ),
                    (Related(f"{key} limit", (*limit.path, key)),),
                )


@rule(
    "CAL14",
    ERROR,
    sources=("record-practice",),
    example=Example(
        "BBM-VIS-007",
        right="lower: 300 mPa·s, target: 400 mPa·s, upper: 500 mPa·s",
        wrong="lower: 300 mPa·s, target: 400 mPa·s",
    ),
)
def limits_incomplete(m: Method, figures: Figures) -> Iterator[Outcome]:
    """One limit or both are missing without a word, or two stand there although one is meant.

    A forgotten limit looks just like one that was never meant, and batches far off pass on that side.

    Not needed: one_sided: true says that a single limit is meant.
    """
    for limit in m.specification:
        bounds = _bounds(limit)
        if len(bounds) == 2 and limit.one_sided:
            lower, upper = (q.text for _, q in bounds)
            yield Finding(
                (*limit.path, "one_sided"),
                f"{limit.result} is said to have 1 limit and has 2: {lower} and {upper}.",
                ("Take one_sided out.", "Or take out the limit that is not meant."),
            )
        elif len(bounds) == 1 and not limit.one_sided:
            key, q = bounds[0]
            other = "upper" if key == "lower" else "lower"
            yield Finding(
                (*limit.path, key),
                f"{limit.result} has 1 limit, {key}: {q.text}; no {other} one is given and nothing says "
                "that none "
                f"is meant. Every value {'above' if key == 'lower' else 'below'} it would pass.",
                (f"Add the {other} limit.", "Or write one_sided: true, if only this one is meant."),
            )
        elif not bounds:
            yield Finding(
                (*limit.path, "result"),
                f"{limit.result} stands in the specification with 0 limits.",
                ("Add lower and upper.", "Or take it out of the specification, if it is only reported."),
            )


@rule(
    "CAL15",
    ERROR,
    sources=("jcgm-106", "iso-17025"),
    example=Example(
        "MCW-VIS-014",
        right="decision_rule: simple}\n\ninstrument",
        wrong="decision_rule: guarded}\n\ninstrument",
        at="{result: index, lower:",
    ),
)
def decision_rule_without_its_band(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The decision rule draws on an uncertainty that is not known, or leaves no result that passes.

    The sheet then has no guarded limits to compare with, and each operator decides alone.

    Where the guarded limits are written in the specification themselves; then the rule is simple.
    """
    for limit in m.specification:
        if (
            limit.decision_rule not in ("guarded", "indecision-band")
            or not _bounds(limit)
            or _reversed(limit)
        ):
            continue
        key = f"run.{limit.result}.uncertainty"
        known = figures.value(key)
        if known is None:
            why = figures.open.get(key, "it is computed only for a viscosity with two limits")
            yield Finding(
                (*limit.path, "decision_rule"),
                f"The decision rule of {limit.result} is {limit.decision_rule}, and the uncertainty it "
                "draws the "
                f"{len(_bounds(limit))} limits in by is not known: {why}.",
                (
                    "Write decision_rule: simple.",
                    (
                        "Or give what the uncertainty needs: temperature_sensitivity, repeatability and two "
                        "limits."
                    ),
                ),
            )
            continue
        if limit.lower is None or limit.upper is None:
            continue
        half = (limit.upper.value - limit.lower.value) / 2
        if known >= half:
            yield Finding(
                (*limit.path, "decision_rule"),
                f"The decision rule of {limit.result} is {limit.decision_rule}, and its uncertainty "
                f"{figures.text(key)} is {brief(100 * known / half, 3)} % of half the width of the "
                "limits: no result "
                "can pass.",
                (
                    "Write decision_rule: simple.",
                    (
                        "Or bring the uncertainty down: more replicates, a tighter temperature, a smaller "
                        "full scale."
                    ),
                ),
            )


@rule(
    "CAL16",
    WARNING,
    sources=("astm-e29", "jcgm-106"),
    example=Example(
        "MCW-VIS-014",
        right="upper: 12.0 Pa·s, decision_rule: simple",
        wrong="upper: 12.0 Pa·s, decision_rule: guarded",
        at="comparison: rounding",
    ),
)
def rounding_lets_failures_pass(m: Method, figures: Figures) -> Iterator[Outcome]:
    """Values are rounded before they are compared, without a word in the method or against its decision rule.

    A result that fails by less than half a step is then rounded to the limit and passes. That is one of two
    accepted ways, and is said in the report line; beside a guard band it gives back what the band took.

    Where the specification was agreed with the customer in just this way.
    """
    house = m.reference.policy.choices["comparison"]
    for line, limit in _judged(m):
        if (line.comparison or house) != "rounding" or line.increment is None:
            continue
        guarded = limit.decision_rule in ("guarded", "indecision-band")
        if line.comparison is not None and not guarded:
            continue
        key, q = _bounds(limit)[-1]
        unit, step = line.increment.unit, line.increment.value
        # Two fifths of a step outside: it rounds to the limit by either rule of ties.
        example = _written(q.value + (0.4 if key == "upper" else -0.4) * step, unit)
        message = (
            f"{line.result} is rounded to {line.increment.text} before it is compared: {example} fails "
            f"the {key} "
            f"limit {q.text} as it is and passes as reported, as does all up to "
            f"{_written(step / 2, unit)} outside. "
        )
        if guarded:
            band = figures.get(f"run.{line.result}.uncertainty")
            message += f"The {limit.decision_rule} rule draws the limits in" + (
                f" by {band.text.removeprefix('± ')}; rounding gives {_written(step / 2, unit)} of it back."
                if band is not None
                else "."
            )
        else:
            message += "Only the site policy says so."
        yield Finding(
            (*line.path, "comparison" if line.comparison is not None else "result"),
            message,
            (
                "Write comparison: absolute: then the unrounded value is compared.",
                "Or write decision_rule: simple, if no guard band is meant."
                if guarded
                else "Or write comparison: rounding in the report line, so that the sheet says so.",
            ),
            (Related("the limits", limit.path),),
        )


@rule(
    "CAL17",
    WARNING,
    sources=("gum", "common-practice"),
    example=Example(
        "MCW-VIS-014",
        right="  - {result: viscosity_20, lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s, "
        "decision_rule: simple}\n",
        wrong="",
        at="{result: index, ratio:",
    ),
)
def ratio_of_unjudged_steps(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A ratio is reported of steps whose torque nobody has judged.

    Without limits for one of the two steps it is not known where on the scale they read; at a few percent of
    torque a ratio is mostly the instrument's own error.

    Where earlier results show both steps well inside the window.
    """
    for line in m.report:
        if line.ratio is None:
            continue
        unknown = [
            n for n in line.ratio
            if f"run.{n}.torque_lower" not in figures and f"run.{n}.torque_upper" not in figures
        ]  # fmt: skip
        if len(unknown) < 2:
            continue
        limit = m.limit(line.result)
        floor = m.reference.policy["torque_floor"]
        accuracy = figures["accuracy"].value
        yield Finding(
            (*line.path, "ratio"),
            f"{line.result} is the ratio of {' and '.join(line.ratio)}, and neither has limits: their "
            "torque is not "
            f"known. At {brief(floor, 3)} % torque each would add ± {brief(100 * accuracy / floor, 2)} "
            "% to the ratio.",
            (
                f"Give limits for {line.ratio[1]}; those of the other step then follow from the ratio.",
                "Or report the two viscosities by themselves and no ratio.",
            ),
            () if limit is None else (Related("limits of the ratio", limit.path),),
        )


_VISCOSITY = re.compile(r"\bviscosit", re.IGNORECASE)
_QUALIFIED = re.compile(
    r"\b(?:apparent|relative|consistency|at a shear rate|at \S+ (?:rpm|1/s|s⁻¹))\b", re.IGNORECASE
)


@rule(
    "CAL18",
    ADVICE,
    sources=("usp-912", "ph-eur-2-2-10"),
    example=Example(
        "MCW-VIS-014",
        right="title: Apparent viscosity of matt wall paint",
        wrong="title: Viscosity of matt wall paint",
    ),
)
def viscosity_not_called_apparent(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The title promises the viscosity of a product that has no single one.

    The number holds for this spindle, speed, time and container; without a word that says so it is compared
    with one made otherwise, and the two differ by any amount.

    Where everybody who reads the title knows the product.
    """
    if m.product.newtonian or _QUALIFIED.search(m.title) or not _VISCOSITY.search(m.title):
        return
    if m.product.behaviour == "unknown":
        yield NotJudged("it is not known how the product flows")
        return
    word = "Relative" if m.result_type != "apparent" else "Apparent"
    better = _VISCOSITY.sub(lambda found: f"{word.lower()} {found[0].lower()}", m.title, count=1)
    better = better[:1].upper() + better[1:]
    speeds = [s.speed.text for s in m.run]
    yield Finding(
        ("title",),
        f"{m.product.name} is {m.product.behaviour}: what is read at {' and '.join(speeds)} is "
        "not its viscosity but one of many.",
        (f"Write title: {better}.", f"Or call it the consistency of {m.product.name}."),
        (Related(f"behaviour: {m.product.behaviour}", ("product", "behaviour")),),
    )
