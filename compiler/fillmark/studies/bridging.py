"""Bridging and transfer: the same lots measured both ways, and whether they agree within a margin set beforehand."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

from fillmark.derive.transfer import LOTS, order
from fillmark.diagnostics import Severity
from fillmark.model import Method, Policy
from fillmark.physics import equivalence, regression
from fillmark.quantities import Quantity, QuantityError, brief, counted, parse, sig, signed
from fillmark.studies import Finding, Grid, Outcome, Plot, Series, chance
from fillmark.studies.precision import step_of, viscosity_of
from fillmark.studies.table import Column, Row, Table

KIND = "bridging"

CHANGES: dict[str, tuple[str, bool]] = {
    "laboratory": ("another laboratory or operator, the method as it is", False),
    "instrument": ("another instrument of the same spring", False),
    "spring": ("another spring, spindle and speed as they were", False),
    "readout": ("a dial replaced by a digital readout, or the other way round", False),
    "spindle-piece": ("another piece of the same spindle", False),
    "spindle": ("another spindle", True),
    "speed": ("another speed", True),
    "guard": ("the guard fitted where it was not, or left off", True),
    "container": ("another container", True),
    "temperature": ("another test temperature", True),
    "time": ("another moment of reading", True),
}
"""What changes between the two ways: in words, and whether another property is measured by it."""

_ADVICE: dict[str, tuple[str, ...]] = {
    "readout": (
        (
            "Fix what a reading is: a dial is read after so many turns with the pointer held, a display "
            "at a moment or as a mean over at least one whole turn."
        ),
        (
            "A dial is read to half a division or so, a display to a tenth of a percent; factors printed "
            "in old tables are rounded, up to about 1 % (from memory)."
        ),
        (
            "The spring of a digital readout turns through a smaller angle, so slow speeds settle "
            "sooner: keep the moment of reading as the method has it."
        ),
        "Keep to the speeds that the dial had: another speed is another property.",
    ),
    "spring": (
        (
            "The accuracy is a share of the new full scale: at the same viscosity a stiffer spring reads "
            "a lower torque and is less sure."
        ),
        "The time to settle goes with the torque: it gets shorter on a stiffer spring.",
    ),
    "spindle-piece": (
        "Verify the new piece with a reference fluid at two torques or more, and note its diameter and run-out.",
    ),
}

DOUBTS = {
    "STU05": "results beyond the scale are missing",
    "STU12": "the lots are too few",
    "STU13": "rounding hides the scatter",
    "STU30": "the order was not mixed",
    "STU31": "the reference fluid does not agree",
    "STU34": "the difference changes with the level",
}
"""What stands in the way of a change that the two tests alone would allow."""

ORDERS = ("old-first", "new-first")
_SEED = re.compile(r"\bseed\s*[:=]?\s*(\d{1,18})\b", re.IGNORECASE)


def columns() -> tuple[Column, ...]:
    """List the columns of paired data."""
    return (
        Column("lot", about="name of the lot, or of the reference fluid"),
        Column(
            "kind",
            optional=True,
            sparse=True,
            words=("product", "fluid"),
            about="product, or fluid for a reference fluid",
        ),
        Column(
            "old",
            number=True,
            also=("before",),
            about="result of the way in use; its unit stands in the heading",
        ),
        Column("new", number=True, also=("after",), about="result of the new way, in the same unit"),
        Column(
            "order",
            optional=True,
            sparse=True,
            words=ORDERS,
            about="which of the two was measured first: old-first or new-first",
        ),
    )


@dataclass(frozen=True, slots=True)
class Margin:
    """How far the two ways may lie apart: in percent, or in the unit of the data."""

    quantity: Quantity
    relative: bool
    low: float
    """On the scale that is compared: logarithms where relative, else the unit of the data."""
    high: float


@dataclass(frozen=True, slots=True)
class Pairs:
    """Results of both ways, pair by pair, the new ones in the unit of the old."""

    rows: tuple[Row, ...]
    old: tuple[float, ...]
    new: tuple[float, ...]


def study(
    table: Table,
    policy: Policy,
    method: Method | None,
    day: str,
    *,
    change: str,
    margin: str | None = None,
    fluid_margin: str | None = None,
    power: float | None = None,
    seed: int | None = None,
    sheet: tuple[str | None, str | None] = (None, None),
) -> Outcome:
    """Compare two ways of measuring by pairs; NoStudyError where the data do not allow it.

    ValueError, with what to write, for a margin that is none. `power` in percent; `sheet` are the margins of
    product and fluid that the transfer sheet bears, for those that are not given.
    """
    finding = Finding(KIND, table, policy, method, day)
    words, alters = CHANGES[change]
    finding.settings.append(("change", f"{change}: {words}"))
    scale = _same_unit(finding)
    product = _pairs(table, "product", scale)
    fluid = _pairs(table, "fluid", scale)
    if len(product.rows) < 2:
        raise finding.stop(
            f"There {'is' if len(product.rows) == 1 else 'are'} {counted(len(product.rows), 'pair')} of "
            "the product: no scatter follows, and nothing can be compared.",
            f"Measure {brief(policy['study_pairs'])} lots or more both ways.",
            "Or mend the rows that are told above.",
        )
    _positive(finding, (*product.rows, *fluid.rows))
    unit = table.units.get("old", "")
    if viscosity_of(table.units, "old") is None:
        sheet = (None, None)
    said = margin or (f"{sheet[0]}, of the transfer sheet" if sheet[0] else "none")
    margin, fluid_margin = margin or sheet[0], fluid_margin or sheet[1]
    within = None if margin is None else read_margin(margin, unit)
    _settings(finding, said, seed, policy)
    relative = within is None or within.relative
    found = _differences(product, relative=relative)
    shown_in = "%" if relative else unit
    _pair_numbers(finding, product, found, relative=relative, unit=shown_in)
    verdict = _tests(finding, found, within, shown_in, power or policy["study_power"])
    _rounding(finding, product, found, relative=relative)
    _order(finding, product, relative=relative)
    _level(finding, product, relative=relative)
    _span(finding, product)
    _lots(finding, product)
    agrees = _fluid(finding, fluid, fluid_margin, within)
    doubts = sorted(
        {
            d.code
            for d in (*table.diagnostics, *finding.diagnostics)
            if d.code in DOUBTS and d.severity > Severity.ADVICE
        }
    )
    if verdict == "equivalent" and doubts:
        verdict = "doubtful"
    if alters:
        verdict = _broken(finding, change, verdict)
    _tree(finding, verdict, agrees, alters=alters)
    finding.points.extend(_ADVICE.get(change, ()))
    _draw(finding, product, fluid, within, relative=relative)
    return finding.outcome(
        "Two ways of measuring, by pairs",
        verdict,
        _said(verdict, found, within, doubts),
        len(product.rows) + len(fluid.rows),
    )


# --- reading


def read_margin(text: str, unit: str) -> Margin:
    """Read a margin: a share in percent, or an amount in the unit of the data; ValueError for what is neither."""
    try:
        share = parse(text, "percent")
    except QuantityError:
        share = None
    if share is not None:
        if not 0 < share.value < 100:
            raise ValueError(f"A margin of {text} is none. Write one above 0 % and below 100 %, such as 4 %.")
        return Margin(share, relative=True, low=log(1 - share.value / 100), high=log(1 + share.value / 100))
    try:
        amount, one = parse(text, "viscosity"), parse(f"1 {unit}", "viscosity")
    except QuantityError as error:
        raise ValueError(
            f"{text!r} is no margin. Write a share such as 4 %, or an amount such as 0.4 Pa·s; then the "
            "heading of the data must name a unit of viscosity too."
        ) from error
    if amount.value <= 0:
        raise ValueError(f"A margin of {text} is none. Write one above 0.")
    size = amount.value / one.value
    return Margin(amount, relative=False, low=-size, high=size)


def _same_unit(finding: Finding) -> float:
    """Give by what results of the new way are multiplied to be in the unit of the old."""
    old, new = (finding.table.units.get(c) for c in ("old", "new"))
    if old is None or new is None or old == new:
        return 1.0
    try:
        return parse(f"1 {new}", "viscosity").value / parse(f"1 {old}", "viscosity").value
    except QuantityError as error:
        raise finding.stop(
            f"The old results are in {old}, the new ones in {new}, and the two cannot be compared.",
            "Write both in one unit.",
            "Or write units of viscosity, such as [Pa·s] and [mPa·s].",
        ) from error


def _pairs(table: Table, kind: str, scale: float) -> Pairs:
    rows = tuple(r for r in table.rows if (r.texts.get("kind", "").casefold() or "product") == kind)
    return Pairs(rows, tuple(r.numbers["old"] for r in rows), tuple(r.numbers["new"] * scale for r in rows))


def _positive(finding: Finding, rows: Sequence[Row]) -> None:
    for row in rows:
        for column in ("old", "new"):
            if row.numbers[column] <= 0:
                raise finding.stop(
                    f"Line {row.line} has a result of {row.texts[column]}, which is no viscosity.",
                    "Look at the record.",
                    "Or leave the pair out, and say so in a remark (# at the top).",
                )


def _settings(finding: Finding, margin: str, seed: int | None, policy: Policy) -> None:
    drawn = next((m[1] for r in finding.table.remarks if (m := _SEED.search(r))), None)
    finding.settings.append(("margin", margin))
    finding.settings.append(("risk of each test", f"{brief(policy['study_alpha'])} %"))
    finding.settings.append(("seed of the order", str(seed) if seed is not None else drawn or "not recorded"))


# --- numbers


def _differences(pairs: Pairs, *, relative: bool) -> equivalence.Differences:
    if relative:
        return equivalence.differences(first=[log(v) for v in pairs.old], second=[log(v) for v in pairs.new])
    return equivalence.differences(first=pairs.old, second=pairs.new)


def _shown(value: float, *, relative: bool) -> float:
    """Give a difference as it is shown: logarithms as percent."""
    return 100 * (exp(value) - 1) if relative else value


def _pair_numbers(
    finding: Finding, pairs: Pairs, found: equivalence.Differences, *, relative: bool, unit: str
) -> None:
    rows = [
        (r.texts["lot"], a, b, b - a, 100 * (b / a - 1), r.texts.get("order", ""))
        for r, a, b in zip(pairs.rows[:500], pairs.old, pairs.new, strict=False)
    ]
    of = f" [{finding.table.units['old']}]" if "old" in finding.table.units else ""
    notes = (f"The first 500 of {len(pairs.rows)}.",) if len(pairs.rows) > 500 else ()
    finding.grids.append(
        Grid(
            "pairs",
            "Pairs",
            ("lot", f"old{of}", f"new{of}", f"new − old{of}", "new − old [%]", "order"),
            tuple(rows),
            notes,
        )
    )
    finding.figure(
        "mean_difference",
        "Mean difference, new less old",
        _shown(found.mean, relative=relative),
        unit,
        "100·(exp(mean ln(new/old)) − 1)" if relative else "mean(new − old)",
        "definition",
        digits=3,
    )
    finding.figure(
        "sd_of_differences",
        "Standard deviation of the differences",
        100 * found.sd if relative else found.sd,
        unit,
        "s of 100·ln(new/old)" if relative else "s of (new − old)",
        "definition",
        digits=3,
    )
    ratio = equivalence.differences(first=[log(v) for v in pairs.old], second=[log(v) for v in pairs.new])
    half = regression.half_width(sd=ratio.sd_of_mean, degrees=ratio.n - 1)
    finding.figure(
        "ratio", "Ratio new over old", exp(ratio.mean), "", "exp(mean ln(new/old))", "definition", digits=4
    )
    finding.figure(
        "ratio_low",
        "Lower end of its 95 % interval",
        exp(ratio.mean - half),
        "",
        "exp(mean − t·s/√n)",
        "definition",
    )
    finding.figure(
        "ratio_high",
        "Upper end of its 95 % interval",
        exp(ratio.mean + half),
        "",
        "exp(mean + t·s/√n)",
        "definition",
    )


def _tests(
    finding: Finding, found: equivalence.Differences, margin: Margin | None, unit: str, power: float
) -> str:
    """Make the two one-sided tests; gives the verdict."""
    alpha = finding.policy["study_alpha"] / 100
    if found.sd == 0:
        finding.say(
            "STU13",
            Severity.ERROR,
            "All differences are the same to the last digit: results of two ways scatter, so these were "
            "copied, rounded or computed from each other.",
            "Enter both results as they were read, with all their digits.",
            "Or measure the new way anew.",
        )
    if margin is None:
        finding.say(
            "STU29",
            Severity.WARNING,
            "No margin is given, so nothing says how far apart is too far; a difference that is not "
            "significant is no proof of agreement.",
            'Set the margin from what the product can bear, before looking at the data: --margin "4 %".',
            "Or take the ratio with its interval, and decide nothing from it.",
        )
        return "no-margin"
    relative = margin.relative
    tests = equivalence.two_one_sided(found=found, lower=margin.low, upper=margin.high, alpha=alpha)
    level = brief(100 * (1 - 2 * alpha))
    finding.figure(
        "interval_low",
        f"Lower end of the {level} % interval of the mean difference",
        _shown(tests.low, relative=relative),
        unit,
        "mean − t·s/√n",
        "two-one-sided",
        digits=3,
    )
    finding.figure(
        "interval_high",
        f"Upper end of the {level} % interval of the mean difference",
        _shown(tests.high, relative=relative),
        unit,
        "mean + t·s/√n",
        "two-one-sided",
        digits=3,
    )
    finding.figure(
        "probability_low",
        "Chance of such data if the true difference were at the lower margin",
        100 * tests.above_lower,
        "%",
        "P(t > (mean − low)/(s/√n))",
        "two-one-sided",
        text=chance(tests.above_lower),
    )
    finding.figure(
        "probability_high",
        "Chance of such data if the true difference were at the upper margin",
        100 * tests.below_upper,
        "%",
        "P(t > (high − mean)/(s/√n))",
        "two-one-sided",
        text=chance(tests.below_upper),
    )
    needed = None
    if found.sd:
        needed = equivalence.pairs_needed(
            sd=found.sd, lower=margin.low, upper=margin.high, power=power / 100, alpha=alpha
        )
        reached = equivalence.equivalence_power(
            sd=found.sd, pairs=found.n, lower=margin.low, upper=margin.high, alpha=alpha
        )
        finding.figure(
            "power",
            f"Chance that {found.n} pairs show agreement where there is no difference",
            100 * reached,
            "%",
            "∫ over s of both tests passing",
            "two-one-sided",
            digits=3,
        )
        if needed is not None:
            finding.figure(
                "pairs_needed",
                f"Pairs that show it with {brief(power)} %",
                float(needed),
                "pairs",
                "least n with that power",
                "two-one-sided",
            )
    else:
        return "not-shown"
    if tests.equivalent:
        if abs(found.mean) > regression.half_width(sd=found.sd_of_mean, degrees=found.n - 1):
            off = _shown(found.mean, relative=relative)
            finding.points.append(
                f"The new way does read {'higher' if off > 0 else 'lower'}, by {brief(abs(off), 2)} {unit}".rstrip()
                + ". That is within the margin and no reason to correct a result."
            )
        return "equivalent"
    ends = [signed(_shown(v, relative=relative)) for v in (tests.low, tests.high)]
    shown = f"{ends[0]} to {ends[1]} {unit}".rstrip()
    if tests.low > margin.high or tests.high < margin.low:
        finding.say(
            "STU27",
            Severity.WARNING,
            f"The new way reads {'higher' if found.mean > 0 else 'lower'}: the mean difference runs from "
            f"{shown} ({level} %), all of it beyond the margin of {margin.quantity.text}.",
            "Find the cause by the points below before anything is changed.",
            "Or set new limits for the new way, from data of its own.",
        )
        return "not-equivalent"
    enough = (
        f"{needed} pairs with this scatter would show agreement {brief(power)} times in a hundred, if "
        "there is no difference."
        if needed is not None
        else f"With this scatter not even {equivalence.MOST_PAIRS} pairs would show it."
    )
    finding.say(
        "STU28",
        Severity.WARNING,
        f"The mean difference runs from {shown} ({level} %), which is partly beyond the margin of "
        f"{margin.quantity.text}: the data show neither agreement nor its opposite. {enough}",
        "Measure more pairs, and count all of them: no set of pairs may be chosen by its outcome.",
        "Or make the scatter smaller: temperature, loading, moment of reading.",
    )
    return "not-shown"


def _rounding(finding: Finding, pairs: Pairs, found: equivalence.Differences, *, relative: bool) -> None:
    """Say where the differences scatter by less than rounding alone makes them."""
    scale = pairs.new[0] / pairs.rows[0].numbers["new"]
    step = max(
        step_of(r.texts["old"] for r in pairs.rows), scale * step_of(r.texts["new"] for r in pairs.rows)
    )
    sd = found.sd * (sum(pairs.old) / len(pairs.old) if relative else 1.0)
    if 0 < sd < step / 2:
        unit = finding.table.units.get("old", "")
        finding.say(
            "STU13",
            Severity.WARNING,
            f"The differences scatter by {brief(sd, 2)} {unit}".rstrip()
            + f", less than half of the step of {brief(step, 2)} that the results are written to: rounding hides "
            "their scatter, or one result of each pair was computed from the other.",
            "Enter both results as they were read, with all their digits.",
            "Or measure the new way anew.",
        )


def _lots(finding: Finding, pairs: Pairs) -> None:
    """Say where there are too few lots, or one lot stands for several."""
    count, wanted = len(pairs.rows), finding.policy["study_pairs"]
    lots = len({r.texts["lot"].casefold() for r in pairs.rows})
    if lots < count:
        finding.say(
            "STU12",
            Severity.WARNING,
            f"{count} pairs come from {counted(lots, 'lot')}: pairs of one lot share what is particular to it, and "
            "counted as lots of their own they make the outcome look surer than it is.",
            "Put the mean of a lot's results in one row.",
            "Or measure other lots.",
        )
    if lots < wanted:
        finding.say(
            "STU12",
            Severity.WARNING,
            f"There {'is' if lots == 1 else 'are'} {counted(lots, 'lot')}; the site asks for {brief(wanted)} that "
            "span the specification.",
            "Measure more lots both ways.",
            "Or state that the outcome holds for these lots alone.",
        )


def _order(finding: Finding, pairs: Pairs, *, relative: bool) -> None:
    words = [r.texts.get("order", "").casefold() for r in pairs.rows]
    counts = [words.count(o) for o in ORDERS]
    if sum(counts) < len(words):
        finding.say(
            "STU30",
            Severity.WARNING if sum(counts) == 0 else Severity.ADVICE,
            f"The order of {len(words) - sum(counts)} of {len(words)} pairs is not recorded, so an effect "
            "of time cannot be told from one of the change.",
            "Draw the order and print it: fillmark study bridging --template --lots 12 --seed 7.",
            "Or fill in the column order from the raw records.",
        )
        return
    if min(counts) * 4 < len(words):
        first = ORDERS[0] if counts[0] > counts[1] else ORDERS[1]
        finding.say(
            "STU30",
            Severity.WARNING,
            f"{max(counts)} of {len(words)} pairs were measured {first}: whatever the sample does with "
            "time counts as a difference between the two ways.",
            "Repeat with an order drawn by lot, half of each.",
            "Or measure a few pairs the other way round, and compare.",
        )
        return
    d = [(log(b / a) if relative else b - a, w) for a, b, w in zip(pairs.old, pairs.new, words, strict=True)]
    means = [sum(v for v, w in d if w == o) / c for o, c in zip(ORDERS, counts, strict=True)]
    finding.figure(
        "order_effect",
        "Mean difference of pairs measured old-first less that of the others",
        _shown(means[0], relative=relative) - _shown(means[1], relative=relative),
        "%" if relative else finding.table.units.get("old", ""),
        "mean(old-first) − mean(new-first)",
        "definition",
        digits=3,
    )
    rest = len(d) - 2
    squares = sum((v - m) ** 2 for o, m in zip(ORDERS, means, strict=True) for v, w in d if w == o)
    if rest < 1 or not squares:
        return
    sd = sqrt(squares / rest * sum(1 / c for c in counts))
    if abs(means[0] - means[1]) > regression.half_width(sd=sd, degrees=rest):
        # Half of it, for it stands in the pairs of one order with its sign and in those of the other against it.
        second = _shown((means[0] - means[1]) / 2, relative=relative)
        unit = "%" if relative else finding.table.units.get("old", "")
        finding.say(
            "STU36",
            Severity.ADVICE,
            f"What is measured second reads {'higher' if second > 0 else 'lower'}, by "
            f"{brief(abs(second), 2)} {unit}".rstrip()
            + " in the mean: the sample changes between the two. The mixed order takes it out of the mean "
            "difference and leaves it in the scatter.",
            "Measure each way on its own fresh portion, with the same rest before it.",
            "Or make the time between the two shorter.",
        )


def _level(finding: Finding, pairs: Pairs, *, relative: bool) -> None:
    if len(pairs.rows) < 4 or len({(a + b) / 2 for a, b in zip(pairs.old, pairs.new, strict=True)}) < 2:
        return
    x = [log(a * b) / 2 if relative else (a + b) / 2 for a, b in zip(pairs.old, pairs.new, strict=True)]
    y = [log(b / a) if relative else b - a for a, b in zip(pairs.old, pairs.new, strict=True)]
    line = regression.line(x=x, y=y)
    half = regression.half_width(sd=line.slope_sd, degrees=line.degrees)
    if abs(line.slope) > half > 0:
        finding.say(
            "STU34",
            Severity.WARNING,
            "The difference changes with the level: "
            + (
                f"by {signed(100 * line.slope * log(2))} % for each doubling of the viscosity."
                if relative
                else f"by {signed(line.slope)} for each unit of viscosity."
            )
            + " One mean difference does not describe it.",
            "Give the margin in percent."
            if not relative
            else "Compare at the limits of the specification, one by one.",
            "Or look for a zero offset: it shows as a difference that fades as the torque rises.",
        )


def _span(finding: Finding, pairs: Pairs) -> None:
    method = finding.method
    unit = finding.table.units.get("old")
    if method is None or unit is None:
        return
    limit = next(
        (s for s in method.specification if s.lower and s.upper and s.lower.kind == "viscosity"), None
    )
    if limit is None or limit.lower is None or limit.upper is None:
        return
    try:
        scale = parse(f"1 {unit}", "viscosity").value
    except QuantityError:
        return
    low, high = min(pairs.old) * scale, max(pairs.old) * scale
    wide = limit.upper.value - limit.lower.value
    share = 100 * max(0.0, min(high, limit.upper.value) - max(low, limit.lower.value)) / wide
    if share < finding.policy["study_span"]:
        finding.say(
            "STU35",
            Severity.ADVICE,
            f"The lots span {brief(share, 2)} % of {limit.lower.text} to {limit.upper.text}; the site "
            f"asks for {brief(finding.policy['study_span'])} %. Nothing is known of the rest.",
            "Add lots near both limits.",
            "Or adjust samples for the study, and say so.",
        )


# --- what follows


def _fluid(finding: Finding, fluid: Pairs, margin: str | None, within: Margin | None) -> bool | None:
    """Tell whether the reference fluid agrees; None where that is not known."""
    if not fluid.rows:
        finding.say(
            "STU32",
            Severity.WARNING,
            "There is no reference fluid in the data, so a difference of instrument, spindle or guard "
            "cannot be told from one of the sample's history.",
            "Measure a reference fluid both ways, at the start and at the end.",
            "Or rule the instruments out otherwise, and say how.",
        )
        return None
    allowed = read_margin(margin, finding.table.units.get("old", "")) if margin is not None else within
    if allowed is None:
        return None
    worst = max(
        (log(b / a) if allowed.relative else b - a for a, b in zip(fluid.old, fluid.new, strict=True)),
        key=abs,
    )
    finding.settings.append(("margin of the fluid", allowed.quantity.text))
    unit = "%" if allowed.relative else finding.table.units.get("old", "")
    finding.figure(
        "fluid_difference",
        "Largest difference of the reference fluid, new less old",
        _shown(worst, relative=allowed.relative),
        unit,
        "new − old",
        "definition",
        digits=3,
    )
    agrees = allowed.low <= worst <= allowed.high
    if not agrees:
        finding.say(
            "STU31",
            Severity.WARNING,
            f"The reference fluid differs by {signed(_shown(worst, relative=allowed.relative))} {unit}, "
            f"beyond {allowed.quantity.text}.",
            "Verify both instruments against the certificate, at the temperature it holds for.",
            "Then measure the product anew: with this difference its own cannot be judged.",
        )
    return agrees


def _broken(finding: Finding, change: str, verdict: str) -> str:
    words = CHANGES[change][0]
    ratio, low, high = (
        next(f.value for f in finding.figures if f.key == k) for k in ("ratio", "ratio_low", "ratio_high")
    )
    method = finding.method
    what = (
        "this product"
        if method is None
        else (f"{method.product.name}, spindle {method.spindle.key}, {method.container.label}")
    )
    agreed = (
        " They agree within the margin for this product, which says nothing of any other."
        if verdict == "equivalent"
        else ""
    )
    finding.say(
        "STU33",
        Severity.WARNING,
        f"What changes is {words}: results before and after are two properties.{agreed} New over old is "
        f"{sig(ratio, 4)}, between {sig(low, 4)} and {sig(high, 4)} (95 %), for {what} alone.",
        "Set the limits anew from results of the new way, and start a new chart with a line where it begins.",
        "Or stay with the old way, as a declared continuity.",
    )
    finding.points.append(
        f"The ratio {sig(ratio, 4)} holds for {what} and these conditions. No other result is multiplied "
        "by it, old results least of all; on a chart draw a line between before and after."
    )
    return "history-broken"


def _tree(finding: Finding, verdict: str, agrees: bool | None, *, alters: bool) -> None:
    """Say where to look, from what the fluid and the product do."""
    differs = verdict == "not-equivalent"
    if alters:
        return
    if agrees is None:
        if differs:
            finding.points.append("First measure a reference fluid both ways: it says on which side to look.")
    elif agrees and differs:
        finding.points += [
            (
                "The fluid agrees and the product does not: look at the sample. Time since stirring, who "
                "stirred and how, rest, container, temperature in the sample, time at temperature, skin, "
                "bubbles, moment of reading."
            ),
            "Have one person prepare both halves of a lot, side by side; then let each way prepare its own.",
        ]
    elif not agrees and differs:
        finding.points += [
            (
                "Fluid and product both differ: look at the instrument. Spindle and its serial number, "
                "guard, coupling, level, zero, pivot, the spring and spindle entered in the instrument, "
                "thermometer."
            ),
            "Swap spindle and guard between the two instruments: the difference goes with the part that makes it.",
        ]
    elif not agrees:
        finding.points.append(
            "The fluid differs and the product does not: two errors may cancel. Do not accept the change "
            "until the fluid agrees; look at its temperature, age and certificate first."
        )
    elif verdict == "doubtful":
        finding.points.append("Settle the findings before the change is made.")
    elif verdict == "equivalent":
        finding.points.append(
            "Fluid and product agree within the margin: the change can be made, limits as they are."
        )


def _said(verdict: str, found: equivalence.Differences, margin: Margin | None, doubts: Sequence[str]) -> str:
    pairs = counted(found.n, "pair")
    if verdict == "history-broken":
        return f"The change breaks the history; {pairs} give a ratio for this product."
    if margin is None:
        return f"{pairs} give a ratio; without a margin nothing is judged."
    return {
        "doubtful": (
            f"Over {pairs} the two ways agree within {margin.quantity.text}, and the change is not borne out yet: "
            f"{', '.join(DOUBTS[c] for c in doubts)}."
        ),
        "equivalent": f"Over {pairs} the two ways agree within {margin.quantity.text}.",
        "not-equivalent": f"Over {pairs} the two ways differ by more than {margin.quantity.text}.",
        "not-shown": f"{pairs} do not show that the two ways agree within {margin.quantity.text}.",
    }[verdict]


def _draw(finding: Finding, product: Pairs, fluid: Pairs, margin: Margin | None, *, relative: bool) -> None:
    unit = finding.table.units.get("old", "")
    of = f" [{unit}]" if unit else ""

    def points(pairs: Pairs) -> tuple[tuple[float, float], ...]:
        step = max(1, len(pairs.rows) // 400)
        found = [
            ((a + b) / 2, 100 * (b / a - 1) if relative else b - a)
            for a, b in zip(pairs.old, pairs.new, strict=True)
        ]
        return tuple(found[::step])

    levels = (
        ()
        if margin is None
        else tuple(
            (name, _shown(v, relative=relative))
            for name, v in (("margin", margin.high), ("margin", margin.low))
        )
    )
    mean = next(f.value for f in finding.figures if f.key == "mean_difference")
    series = [Series("product", "points", points(product))]
    if fluid.rows:
        series.append(Series("fluid", "points", points(fluid)))
    finding.plots.append(
        Plot(
            "differences",
            "Difference of each pair against its level",
            f"mean of the pair{of}",
            "new − old [%]" if relative else f"new − old{of}",
            tuple(series),
            (*levels, ("mean", mean)),
        )
    )


# --- a sheet to fill in


def paired_sheet(lots: int, seed: int) -> list[str]:
    """Write a data file to fill in: fluid at both ends, lots and sides in the order of the transfer sheet.

    The way in use is A of that sheet, the new one B; the same seed gives the same order on both.
    """
    runs = [run for run in order(seed, max(lots, LOTS)) if run[0] <= lots]
    head = [
        f"# order drawn with seed {seed}",
        "# fill in the unit behind old and new; one row for each lot; the reference fluid first and last",
        "lot,kind,old [Pa·s],new [Pa·s],order",
    ]
    fluid = [f"fluid {place},fluid,,,{first}" for place, first in zip(("start", "end"), ORDERS, strict=True)]
    pairs = [f"lot {lot},product,,,{ORDERS[side == 'B']}" for lot, side in runs]
    return [*head, fluid[0], *pairs, fluid[1]]
