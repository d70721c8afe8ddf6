"""The readings of a record: each torque becomes a viscosity, a bound, or is refused with the reason."""

from decimal import Decimal

from fillmark.documents import terms
from fillmark.documents.wording import on_paper
from fillmark.model import Step
from fillmark.physics import spring
from fillmark.quantities import brief, parse, sig
from fillmark.records.factors import Shown, explained, fits
from fillmark.records.judging import between, duration, nearest, numbers
from fillmark.records.result import Reading, Working
from fillmark.records.sheet import Sheet
from fillmark.records.typed import Number, plain

DIGITS = 12


def exact(value: float) -> Decimal:
    """Give a figure as a decimal, without the noise of binary fractions."""
    return Decimal(f"{value:.{DIGITS}g}")


def unit_size(unit: str) -> Decimal:
    """Give how many Pa·s one of a unit is; 1 for a plain number."""
    return exact(parse(f"1 {unit}", "viscosity").value) if unit else Decimal(1)


def factor_of(s: Sheet, step: Step) -> Decimal:
    """Give the factor of a step in its own unit per %."""
    return exact(s.figures[f"run.{step.name}.factor"].value) / unit_size(terms.unit_of(s.figures, step))


def take(s: Sheet) -> tuple[list[Reading], list[Working]]:
    """Judge and work out every reading of the record, in the order of the sheet."""
    made: list[Reading] = []
    workings: list[Working] = []
    for n in numbers(s, "reading"):
        for step in s.method.run:
            if any(
                s.text(f"reading.{n}.{step.name}.{name}") for name in ("start", "torque", "display", "before")
            ):
                reading = _one(s, n, step)
                made.append(reading)
                if reading.viscosity is not None and reading.torque is not None:
                    workings.append(_worked(s, reading, step))
    for step in s.method.run:
        _displays(s, step, made)
    return made, workings


def _worked(s: Sheet, r: Reading, step: Step) -> Working:
    factor = factor_of(s, step)
    return Working(
        f"No. {r.no}, {r.step}: viscosity",
        "η = t · f",
        f"{plain(r.torque or Decimal(0))} % · {plain(factor)} {r.unit}/%",
        f"{plain(r.viscosity or Decimal(0))} {r.unit}",
        "definition",
    )


def _one(s: Sheet, n: int, step: Step) -> Reading:
    key = f"reading.{n}.{step.name}."
    unit = terms.unit_of(s.figures, step)
    torque, shown = s.decimal(key + "torque"), s.number(key + "torque")
    start, read = s.clock(key + "start"), s.clock(key + "read")
    after = None if start is None or read is None else between(start, read)
    before, end = s.decimal(key + "before"), s.decimal(key + "after")
    _temperatures(s, key, n, step, before, end)
    if after is not None and after > 0:
        _moment(s, key, n, step, after, torque)
    viscosity, bound, bound_value, text = (
        (None, "", None, "") if shown is None else _viscosity(s, key, n, step, shown)
    )
    display = s.number(key + "display")
    _bound_written(s, key, n, step, bound)
    if viscosity is not None or bound:
        _product(s, key, n, torque, factor_of(s, step), unit)
    displayed = None if display is None or display.bound else display.value
    return Reading(
        n,
        step.name,
        on_paper(step.speed.text).replace("\u00a0", " "),
        nearest(s.moment("sample.measured"), start),
        after,
        before,
        end,
        torque,
        displayed,
        viscosity,
        bound,
        bound_value,
        text,
        unit,
    )


def _viscosity(
    s: Sheet, key: str, n: int, step: Step, shown: Number
) -> tuple[Decimal | None, str, Decimal | None, str]:
    """Give the viscosity, or the bound in its place, and how it is written.

    A torque may itself be a bound: a readout that shows no number beyond its range leaves nothing else to write.
    """
    torque, typed = shown.value, f"{shown.bound} {plain(shown.value)} %".strip()
    unit, f = terms.unit_of(s.figures, step), s.figures
    floor, ceiling, most = (exact(s.policy(k)) for k in ("torque_floor", "torque_ceiling", "record_torque"))
    if shown.bound and not (torque >= ceiling if shown.bound == ">" else 0 < torque <= floor):
        s.find(
            "EVA33",
            f"No. {n} at {step.speed.text}: a torque of {typed} does not say on which side of {plain(floor)} % and "
            f"{plain(ceiling)} % it was: between them it is a number, beyond them a bound.",
            "Write the number that was read.",
            f"Where the readout showed none for being out of range, write > {plain(ceiling)} or < {plain(floor)}.",
            field=key + "torque",
        )
        return None, "", None, ""
    if not shown.bound and (torque < 0 or torque > most):
        why = f"full scale is {plain(ceiling)} %"
        if torque < 0:
            why = "it cannot be below zero while the spindle turns the right way"
        s.find(
            "EVA31",
            f"No. {n} at {step.speed.text}: a torque of {typed} is none that an instrument shows ({why}).",
            "Look at the sheet: a point in a wrong place, or digits of another field; correct it with "
            "initials, day and reason.",
            "Where the right one cannot be shown, the replicate does not count: run it again.",
            field=key + "torque",
        )
        return None, "", None, ""
    line = next((r for r in s.method.report if r.result == step.name), None)
    below, above = (None, None) if line is None else (line.below_range, line.above_range)
    low, high = torque < floor or shown.bound == "<", torque > ceiling or shown.bound == ">"
    for code, mark, off, name, edge, rule in (
        ("EVA29", "<", low, "below_bound", floor, below),
        ("EVA30", ">", high, "above_bound", ceiling, above),
    ):
        if not off:
            continue
        figure = f[f"run.{step.name}.{name}"]
        written = "VOID" if rule == "void" else figure.text
        side = "below the floor of" if mark == "<" else "above full scale,"
        by = "" if shown.bound else f"{plain(abs(torque - edge))} % "
        s.find(
            code,
            f"No. {n} at {step.speed.text}: torque {typed}, {by}{side} {plain(edge)} %. "
            f"It is no number but {'void' if rule == 'void' else 'a bound'}, written {written}, and is "
            "never averaged.",
            "Keep speed and spindle; keep the sample, and tell the supervisor.",
            "Where batches often read so, have the method changed: fillmark choose shows what suits.",
            field=key + "torque",
        )
        value = None if rule == "void" else exact(figure.value) / unit_size(unit)
        return None, "" if rule == "void" else mark, value, written
    viscosity = torque * factor_of(s, step)
    return viscosity, "", None, f"{plain(viscosity)} {unit}"


def _temperatures(
    s: Sheet, key: str, n: int, step: Step, before: Decimal | None, end: Decimal | None
) -> None:
    target = s.method.temperature.target
    # As written, not as binary fractions: 22.5 is inside 23.0 ± 0.5.
    middle, tolerance = Decimal(target.value.number.replace("\u2212", "-")), Decimal(target.tolerance.number)
    sensitivity = s.method.product.temperature_sensitivity
    for name, value, word in (("before", before, "before"), ("after", end, "after")):
        if value is None or abs(value - middle) <= tolerance:
            continue
        off = value - middle
        way = "low" if off > 0 else "high"
        effect = f"it reads {way}"
        if sensitivity is not None:
            effect = (
                f"{sensitivity.text} make about {sig(abs(float(off)) * sensitivity.value, 2)} %: it "
                f"reads {way} by that much"
            )
        s.find(
            "EVA23",
            f"No. {n} at {step.speed.text}: {plain(value)} °C {word} the run; {target.text} is allowed, so "
            "it is "
            f"{plain(abs(off) - tolerance, 3)} K too {'warm' if off > 0 else 'cold'}; {effect}.",
            "Bring a new loading to temperature and run it.",
            "If it is written wrongly, correct it with initials, day and reason. "
            "Do not convert the result to the target.",
            field=key + name,
        )
    if before is None or end is None:
        return
    moved = abs(end - before)
    allowed = tolerance * exact(s.policy("drift_share")) / 100
    # Two readings of a thermometer may differ by a step of it without anything having moved.
    steps = s.method.temperature.thermometer_resolution
    if moved > max(allowed, exact(steps.value) if steps is not None else Decimal(0)):
        worth = (
            ""
            if sensitivity is None
            else f", about {sig(float(moved) * sensitivity.value, 2)} % of the result"
        )
        s.find(
            "EVA24",
            f"No. {n} at {step.speed.text}: the temperature {'rose' if end > before else 'fell'} by "
            f"{plain(moved)} K during the run"
            f"{worth}; {plain(allowed)} K ({s.method.reference.policy.texts['drift_share']} of ± "
            f"{target.tolerance.text}) is the site's limit. The reading "
            f"{'fell' if end > before else 'rose'} with it.",
            "Condition longer, covered, and run a new loading.",
            "See that the bath holds its temperature and the sample does not stand in the open.",
            field=key + "after",
        )


def _moment(s: Sheet, key: str, n: int, step: Step, after: float, torque: Decimal | None) -> None:
    """Judge the moment of reading."""
    f, tolerance = s.figures, s.policy("record_time")
    at = f.value(f"run.{step.name}.read_at")
    end = f[f"run.{step.name}.read_end"].value
    if at is None:
        if step.read.steady_at_most is None or after <= end + tolerance:
            return
        at = end
    if at - tolerance <= after <= end + tolerance:
        return
    early = after < at
    asked = duration(at) if end == at else f"{duration(at)} to {duration(end)}"
    missing = ""
    if early and torque is not None and torque > 0:
        angle = f["full_scale_angle"].value
        share = spring.fraction_reached(
            time=after, torque_percent=float(torque), full_scale_angle_deg=angle, rpm=step.speed.value
        )
        lost = 100 * (1 - share)
        missing = (
            f" The spring had {sig(lost, 2)} % of its turn still to go: low by that much."
            if lost >= 0.05
            else ""
        )
    history = ""
    if s.method.product.has_history:
        history = (
            f" A {s.method.product.behaviour} product still breaking down reads high."
            if early
            else " A product broken down further reads low."
        )
    s.find(
        "EVA28",
        f"No. {n} at {step.speed.text}: read {duration(after)} after motor start, "
        f"{duration(at - after if early else after - end)} too "
        f"{'early' if early else 'late'} ({asked}, ± {brief(tolerance, 2)} s by site "
        f"policy).{missing}{history}",
        "Run a new loading and read at the time asked for.",
        "If a time is written wrongly, correct it with initials, day and reason.",
        field=key + "read",
    )


def _bound_written(s: Sheet, key: str, n: int, step: Step, bound: str) -> None:
    """Judge a bound written in the place of a display."""
    display = s.number(key + "display")
    if display is None or not display.bound:
        return
    f, unit = s.figures, terms.unit_of(s.figures, step)
    name = "below_bound" if display.bound == "<" else "above_bound"
    figure = f[f"run.{step.name}.{name}"]
    wanted = exact(figure.value) / unit_size(unit)
    torque = s.text(key + "torque")
    if bound != display.bound:
        s.find(
            "EVA33",
            f"No. {n} at {step.speed.text}: {s.text(key + 'display')} is written, and a torque of "
            f"{torque or 'nothing'} % gives "
            f"{'no bound' if not bound else 'a bound on the other side'}.",
            "Write the number that was on the display.",
            "Correct what is wrong, with initials, day and reason.",
            field=key + "display",
        )
    elif display.value != wanted:
        s.find(
            "EVA33",
            f"No. {n} at {step.speed.text}: {s.text(key + 'display')} is written; the sheet prints "
            f"{figure.text} for this speed. "
            "Another bound says more, or less, than was seen.",
            f"Write exactly {figure.text}, as a correction.",
            "See that the sheet is that of this method.",
            field=key + "display",
        )


def _product(s: Sheet, key: str, n: int, torque: Decimal | None, factor: Decimal, unit: str) -> None:
    written = s.number(key + "product")
    if written is None or written.bound or torque is None:
        return
    if abs(written.value - torque * factor) > written.half:
        s.find(
            "EVA38",
            f"No. {n}: {plain(torque)} % times {plain(factor)} {unit}/% is {plain(torque * factor)} {unit}, "
            "and "
            f"{plain(written.value)} {unit} is written. The result is worked out from the torque.",
            "Correct the product, reason code 3.",
            "If it is the torque that was copied wrongly, correct that.",
            field=key + "product",
        )


def _displays(s: Sheet, step: Step, made: list[Reading]) -> None:
    """Compare every display of a step with torque times factor; what explains all that disagree is named once."""
    unit = terms.unit_of(s.figures, step)
    size, factor = unit_size(unit), exact(s.figures[f"run.{step.name}.factor"].value)
    resolution = exact(s.figures["resolution"].value)
    off: dict[int, Shown] = {}
    for r in made:
        display = s.number(f"reading.{r.no}.{step.name}.display")
        if r.step != step.name or r.torque is None or not r.text or display is None or display.bound:
            continue
        one = Shown(r.torque, display.value * size, display.half * size)
        if not fits(one, factor, resolution):
            off[r.no] = one
    if not off:
        return
    first, one = next(iter(off.items()))
    should, shows = one.torque * factor / size, one.display / size
    why = explained(s.method, step, list(off.values()), factor, resolution)
    which = ", ".join(str(n) for n in off)
    allowed = (factor * resolution + one.half) / size
    off_by = ""
    if should:
        off_by = (
            f", {sig(abs(float(100 * (shows / should - 1))), 2)} % {'more' if shows > should else 'less'}"
        )
    s.find(
        "EVA32",
        f"No. {which} at {step.speed.text}: {plain(one.torque)} % times {plain(factor / size)} {unit}/% is "
        f"{plain(should)} {unit}, and the "
        f"display says {plain(shows)} {unit}{off_by} ({plain(allowed, 3)} {unit} come from the steps of the "
        "readout)."
        + (
            f" What fits: {'; '.join(why)}."
            if why
            else " No spindle, speed or spring of the reference data explains it."
        ),
        "See what the instrument had entered as spindle and speed; the torque is what was measured.",
        "If one of the two was copied wrongly, correct it with initials, day and reason.",
        field=f"reading.{first}.{step.name}.display",
    )
