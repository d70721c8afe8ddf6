"""Whether a record keeps to its method: who, what with, when, and how warm; results are worked out elsewhere."""

import re
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import pairwise

from fillmark.documents import terms
from fillmark.model import Step
from fillmark.names import alike, letters
from fillmark.physics import flow
from fillmark.quantities import QuantityError, Toleranced, brief, counted, parse, sig
from fillmark.records.sheet import Sheet
from fillmark.records.typed import Refused, day, moment, plain

REASONS = {"1": "copied wrongly", "2": "misread", "3": "arithmetic", "4": "wrong field", "5": "other"}
"""Reason codes of a correction, as the sheet prints them."""

DATED = ("instrument", "spindle", "adapter", "guard", "container", "thermometer", "bath", "balance", "timer")
"""What may bear a due date."""


def judge(sheet: Sheet) -> None:
    """Judge everything but the readings themselves."""
    for part in (_people, _equipment, _dates, _order, _age, _loadings, _zero, _verification, _corrections):
        part(sheet)


# --- people and equipment ---------------------------------------------------------------------------------------


def _people(s: Sheet) -> None:
    analyst = s.text("people.analyst")
    for key, word in (("people.checker", "checked"), ("people.accepted_by", "accepted")):
        other = s.text(key)
        if analyst and other and alike(analyst, other) and s.method.purpose in ("release", "stability"):
            s.find(
                "EVA17",
                f"{analyst} measured and {word}; the sheet asks for a second person.",
                "Have another person go through entries, arithmetic and limits, and sign.",
                "If the name was put into a wrong field, correct it.",
                field=key,
            )


def _equipment(s: Sheet) -> None:
    m = s.method
    _spring(s)
    _instrument(s)
    kind = s.text("spindle.kind")
    if kind and not _same(kind, m.spindle.key):
        other = next((x for x in m.reference.spindles.values() if _same(kind, x.key)), None)
        effect = "The factor of the method does not hold for it, and no result can be worked out."
        if other is not None:
            there = flow.coefficient_on_spring(
                coefficient=other.coefficient.value,
                reference_torque=m.reference.springs[other.coefficient_spring].full_scale.value,
                torque=m.instrument.spring.full_scale.value,
            )
            ratio = s.figures["coefficient"].value / there
            effect = f"With the factor of {m.spindle.key} the result is {_times(ratio)}."
        _wrong(
            s,
            "spindle.kind",
            f"Spindle {kind} was mounted, {m.spindle.key} is asked for.",
            effect,
            f"with {m.spindle.key}",
        )
    state = s.choice("guard.state")
    if m.guard == "required" and state == "not fitted":
        most = m.reference.policy.texts["guard_effect"]
        _wrong(
            s,
            "guard.state",
            "The guard was not fitted, and the coefficient holds with it.",
            f"The result reads low, with large spindles by up to {most}.",
            "with the guard",
        )
    elif m.guard == "not-used" and state == "fitted":
        _wrong(
            s,
            "guard.state",
            "The guard was fitted, and the method runs without it.",
            "The result reads high, and is not comparable with the limits.",
            "without the guard",
        )
    used = s.text("container.kind")
    if used and not (_same(used, m.container.key) or _same(used, m.container.label)):
        _wrong(
            s,
            "container.kind",
            f"The container was {used}, {m.container.key} is asked for.",
            "A narrower container reads high, a wider one low.",
            f"in {m.container.label}",
        )
    fluid = s.text("fluid.kind")
    if m.verification is not None and fluid and not _same(fluid, m.verification.fluid.key):
        _wrong(
            s,
            "fluid.kind",
            f"The check was made with {fluid}, {m.verification.fluid.key} is asked for.",
            "The band of the sheet does not hold for it, so the check shows nothing.",
            f"with {m.verification.fluid.key}",
        )


def _same(written: str, wanted: str) -> bool:
    """Whether a name is the one wanted, alone or followed by a description: `R5, disc Ø 21.14 mm`."""
    return letters(written) == letters(wanted) or letters(re.split(r"[,;(]", written)[0]) == letters(wanted)


def _wrong(s: Sheet, key: str, what: str, effect: str, right: str) -> None:
    s.find(
        "EVA14",
        f"{what} {effect}",
        f"Measure again {right}.",
        "If the right one was used and only written wrongly, correct the entry with initials, day and reason.",
        field=key,
    )


def _times(ratio: float) -> str:
    if abs(ratio - 1) < 1e-9:
        return "the same, but the flow is another"
    how = "high" if ratio > 1 else "low"
    return f"{how} by a factor of {brief(ratio if ratio > 1 else 1 / ratio, 3)}"


def _spring(s: Sheet) -> None:
    m, written = s.method, s.text("instrument.spring")
    wanted = m.instrument.spring
    if not written or _same(written, wanted.key):
        return
    torque = None
    for part in re.split(r"[,;()]", written):
        try:
            torque = parse(part.strip(), "torque").value
        except QuantityError:
            known = next((x for x in m.reference.springs.values() if _same(part, x.key)), None)
            torque = known.full_scale.value if known is not None else torque
    if torque is not None and abs(torque / wanted.full_scale.value - 1) < 0.001:
        return
    effect = "Torque times factor is then no viscosity of this sample."
    if torque is not None:
        effect = f"With the factor of {wanted.key} the result is {_times(wanted.full_scale.value / torque)}."
    _wrong(
        s,
        "instrument.spring",
        f"Spring {written} was fitted, {wanted.key} ({wanted.full_scale.text}) is asked for.",
        effect,
        f"on an instrument with spring {wanted.key}",
    )


def _instrument(s: Sheet) -> None:
    m, written = s.method, s.text("instrument.id")
    if not written:
        return
    one = next(
        (
            i
            for i in m.reference.instruments.values()
            if letters(written) in (letters(i.key), letters(i.label))
        ),
        None,
    )
    if one is None:
        s.find(
            "EVA16",
            f"{written[:40]} is not in the laboratory's list of instruments, so its spring, coupling and "
            "readout were not "
            "compared.",
            "Add it to shared/instruments.yaml.",
            "If the number is wrong, correct the entry.",
            field="instrument.id",
        )
        return
    asked = (
        ("spring", one.spring, m.instrument.spring.key),
        ("readout", one.readout, m.instrument.readout),
        ("coupling", one.coupling, m.instrument.coupling.key),
    )
    off = [f"{what} {has}, asked for is {wants}" for what, has, wants in asked if has != wants]
    off += [f"it cannot be set to {step.speed.text}" for step in m.run if not one.has_speed(step.speed.value)]
    if off:
        spring = m.reference.springs.get(one.spring)
        effect = "The result is not that of the method."
        if spring is not None and one.spring != m.instrument.spring.key:
            ratio = m.instrument.spring.full_scale.value / spring.full_scale.value
            effect = f"With the factor of the sheet the result is {_times(ratio)}."
        _wrong(
            s,
            "instrument.id",
            f"{one.label}: {'; '.join(off)}.",
            effect,
            "on an instrument that the method names",
        )


def _dates(s: Sheet) -> None:
    measured = s.moment("sample.measured")
    if measured is None:
        return
    on = measured.date()
    for key in (*DATED, "fluid"):
        due = s.day(f"{key}.due")
        if due is None or due >= on:
            continue
        days = (on - due).days
        name = s.text(f"{key}.id") or s.text(f"{key}.lot") or s.text(f"{key}.kind")
        what = f"{key.capitalize()} {name}".strip()
        if key == "fluid":
            s.find(
                "EVA15",
                f"{what} was in date to {due}, {counted(days, 'day')} before it was used ({on}). What it should read "
                "is not known any "
                "more; an old fluid has often thickened, and the instrument then seems to read high.",
                "Repeat the check with a fluid in date, on the instrument as it stands.",
                "If the date is written wrongly, correct it from the label.",
                field="fluid.due",
            )
            continue
        s.find(
            "EVA15",
            f"{what} was due on {due}, {counted(days, 'day')} before the measurement ({on}). By how much it was off, "
            "and "
            "which way, is not known.",
            "Calibrate it as found: if it passes, record that as a deviation with an assessment.",
            "Or measure again with one in date; if the date is written wrongly, correct it from the "
            "certificate.",
            field=f"{key}.due",
        )


# --- times ------------------------------------------------------------------------------------------------------


def duration(seconds: float) -> str:
    """Write a time as people say it, to the second where it is short."""
    seconds = abs(seconds)
    if seconds < 120:
        return f"{brief(seconds, 3)} s"
    if seconds < 7200:
        return f"{brief(seconds / 60, 3)} min"
    if seconds < 172_800:
        return f"{brief(seconds / 3600, 4)} h"
    return f"{brief(seconds / 86_400, 3)} d"


def nearest(measured: datetime | None, clock: time | None) -> datetime | None:
    """Give the moment of a clock time that lies nearest to the time of the measurement: runs may pass midnight."""
    if measured is None or clock is None:
        return None
    found = datetime.combine(measured.date(), clock)
    if found - measured > timedelta(hours=12):
        return found - timedelta(days=1)
    if measured - found > timedelta(hours=12):
        return found + timedelta(days=1)
    return found


def between(first: time, second: time) -> float:
    """Give the seconds from one clock time to another, at most half a day either way."""
    seconds = (
        (second.hour - first.hour) * 3600 + (second.minute - first.minute) * 60 + second.second - first.second
    )
    return (seconds + 43_200) % 86_400 - 43_200


def _order(s: Sheet) -> None:
    chain = (
        "sample.sampled",
        "sample.prepared",
        "sample.measured",
        "people.performed",
        "people.checked",
        "people.accepted",
    )
    words = ("sampled", "prepared", "measured", "signed for", "checked", "accepted")
    known = [(word, key, s.moment(key)) for word, key in zip(words, chain, strict=True)]
    there = [(word, key, at) for word, key, at in known if at is not None]
    for (word, _, at), (next_word, key, then) in pairwise(there):
        if then < at:
            s.find(
                "EVA18",
                f"It was {next_word} at {then:%Y-%m-%d %H:%M}, {duration((at - then).total_seconds())} "
                f"before it was {word} "
                f"({at:%Y-%m-%d %H:%M}).",
                "Correct the entry that is wrong, with initials, day and reason.",
                "Where neither can be shown to be right, measure again.",
                field=key,
            )
    _clocks(s)


def _clocks(s: Sheet) -> None:
    """Follow the runs by the clock: one instrument does one thing at a time, in the order of the sheet."""
    tolerance = s.policy("record_time")
    before: tuple[str, time] | None = None
    for n in numbers(s, "reading"):
        for step in s.method.run:
            key = f"reading.{n}.{step.name}."
            start, read = s.clock(key + "start"), s.clock(key + "read")
            if start is not None and before is not None and between(before[1], start) < -tolerance:
                s.find(
                    "EVA18",
                    f"The motor started at {start}, {duration(between(start, before[1]))} before "
                    f"{before[0]} was read "
                    f"({before[1]}).",
                    "Correct the time that is wrong, with initials, day and reason.",
                    "Where the order was another than the sheet's, the replicate does not count: run it again.",
                    field=key + "start",
                )
            if start is not None and read is not None and between(start, read) <= 0:
                s.find(
                    "EVA18",
                    f"It was read at {read}, not after the motor started ({start}).",
                    "Correct the time that is wrong, with initials, day and reason.",
                    "Or run it again.",
                    field=key + "read",
                )
            latest = read or start
            before = before if latest is None else (f"no. {n}, {step.speed.text}", latest)


def numbers(s: Sheet, what: str) -> list[int]:
    """List the numbers of replicates or loadings in which anything is filled in."""
    there = {k.split(".")[1] for k in s.record.entries if k.startswith(f"{what}.") and s.text(k)}
    return sorted(int(n) for n in there if n.isascii() and n.isdigit() and 1 <= len(n) <= 3 and n[0] != "0")


def _age(s: Sheet) -> None:
    asked, prepared, measured = s.method.sample.age, s.moment("sample.prepared"), s.moment("sample.measured")
    if asked is None or prepared is None or measured is None or measured < prepared:
        return
    age = (measured - prepared).total_seconds()
    low, high = asked.value.value - asked.tolerance.value, asked.value.value + asked.tolerance.value
    if low <= age <= high:
        return
    which, off = ("younger", low - age) if age < low else ("older", age - high)
    effect = "A product that builds up reads low while it is young, high when it has stood."
    s.find(
        "EVA19",
        f"The sample was {duration(age)} old; {asked.text} is asked for, so it was {duration(off)} {which} "
        f"than allowed. {effect}",
        "Measure a sample of the right age." if which == "older" else "Measure again once it is old enough.",
        "If a time is written wrongly, correct it with initials, day and reason.",
        field="sample.measured",
    )


# --- loadings ---------------------------------------------------------------------------------------------------


def _loadings(s: Sheet) -> None:
    for n in numbers(s, "loading"):
        _conditioned(s, n)
        _rested(s, n)
        _filled(s, n)


def _conditioned(s: Sheet, n: int) -> None:
    conditioning, target = s.method.temperature.conditioning, s.method.temperature.target
    key = f"loading.{n}."
    put_in, out = s.clock(key + "in"), s.clock(key + "out")
    if conditioning is None or conditioning.time is None or put_in is None or out is None:
        return
    # Conditioning may take longer than half a day, so the time out is always after the time in.
    took = between(put_in, out) % 86_400
    lacking = conditioning.time.value - took
    if lacking <= s.policy("record_time"):
        return
    start = s.method.temperature.start
    way = "off its temperature"
    if start is not None:
        way = "still warm and reads low" if start.value > target.value.value else "still cold and reads high"
    s.find(
        "EVA20",
        f"Loading {n} was conditioned for {duration(took)}; {conditioning.time.text} are asked for, "
        f"{duration(lacking)} more. "
        f"Its middle may be {way}.",
        "Condition a new loading for the whole time and run it.",
        "If a time is written wrongly, correct it with initials, day and reason.",
        field=key + "out",
    )


def _rested(s: Sheet, n: int) -> None:
    rest = s.method.sample.rest
    first = s.method.run[0]
    start = s.clock(f"reading.{n}.{first.name}.start")
    if rest is None or start is None:
        return
    begun, out = s.clock(f"loading.{n}.rest"), s.clock(f"loading.{n}.out")
    since = begun if begun is not None else out
    if since is None:
        return
    rested = between(since, start)
    what = "rested" if begun is not None else "left the bath only"
    memory = (
        "A product with a memory has not built up again: it reads low."
        if s.method.product.has_history
        else "The flow of filling has not died down."
    )
    field = f"loading.{n}.rest" if begun is not None else f"loading.{n}.out"
    if rested < rest.value - s.policy("record_time"):
        said = (
            f"{what} {duration(rested)} before the motor started"
            if rested >= 0
            else "began its rest after the motor started"
        )
        s.find(
            "EVA21",
            f"Loading {n} {said}; {rest.text} of rest are asked for. {memory}",
            "Run a new loading with the whole rest.",
            "If a time is written wrongly, correct it with initials, day and reason.",
            field=field,
        )
    elif begun is not None and rested > rest.value * s.policy("record_rest"):
        s.find(
            "EVA21",
            f"Loading {n} rested {duration(rested)}; {rest.text} are asked for. A product that builds up on "
            "standing reads high, "
            "and a skin may have grown.",
            "Run a new loading with the rest asked for.",
            "If a time is written wrongly, correct it with initials, day and reason.",
            field=field,
        )


def _limits(asked: Toleranced) -> tuple[Decimal, Decimal]:
    """Give the limits of a value with its tolerance in the unit of the value, as written."""
    low = Decimal(str(asked.value.value - asked.tolerance.value))
    high = Decimal(str(asked.value.value + asked.tolerance.value))
    return low, high


def _filled(s: Sheet, n: int) -> None:
    m = s.method
    key = f"loading.{n}."
    fill = s.decimal(key + "fill")
    asked: tuple[str, str] | Toleranced | None = ("container.fill_lower", "container.fill_upper")
    if m.container.kind in ("chamber", "adapter", "plate"):
        asked = m.sample.mass or m.sample.volume
    if fill is not None and asked is not None:
        unit = s.fields["loading.1.fill"].unit
        _within(
            s,
            key + "fill",
            fill,
            asked,
            unit,
            f"Loading {n} was filled to",
            "too much covers the shaft and reads high, too little reads low",
        )
    hung = s.decimal(key + "level")
    if hung is None:
        return
    if m.immersion.to == "shaft-mark":
        window: tuple[str, str] | None = ("container.level_lower", "container.level_upper")
        _within(
            s,
            key + "level",
            hung,
            window,
            "mm",
            f"With the spindle in, loading {n} stood at",
            "too deep reads high, too shallow low",
        )
    elif m.immersion.depth is not None and m.immersion.tolerance is not None:
        depth, tolerance = m.immersion.depth, m.immersion.tolerance
        both = Toleranced(depth, tolerance, f"{depth.text} ± {tolerance.text}")
        _within(
            s,
            key + "level",
            hung,
            both,
            "mm",
            f"In loading {n} the spindle hung at",
            "too deep reads high, too shallow low",
        )


def _within(
    s: Sheet,
    key: str,
    value: Decimal,
    asked: tuple[str, str] | Toleranced | None,
    unit: str,
    lead: str,
    effect: str,
) -> None:
    if asked is None:
        return
    scale = Decimal({"mm": "0.001", "g": "0.001", "mL": "0.000001", "kg": "1", "L": "0.001"}.get(unit, "1"))
    if isinstance(asked, Toleranced):
        low, high = (edge / scale for edge in _limits(asked))
        said = asked.text
    else:
        if asked[0] not in s.figures or asked[1] not in s.figures:
            return
        # The sheet prints the window rounded: what meets the print meets the window.
        edges = [Decimal(str(s.figures[k].value)) / scale for k in asked]
        printed = [Decimal(s.figures[k].text.split(" ")[0]) for k in asked]
        low, high = min(edges[0], printed[0]), max(edges[1], printed[1])
        said = terms.window(s.figures, *asked).replace("\u00a0", " ")
    slack = Decimal("1e-9") * abs(high)
    if low - slack <= value <= high + slack:
        return
    off = low - value if value < low else value - high
    s.find(
        "EVA22",
        f"{lead} {plain(value)} {unit}; allowed is {said}, so it is {plain(off, 3)} {unit} too "
        f"{'low' if value < low else 'high'}: "
        f"{effect}.",
        "Run a new loading, filled as the sheet says.",
        "If it is written wrongly, correct it with initials, day and reason.",
        field=key,
    )


# --- zero, verification, corrections ----------------------------------------------------------------------------


def _zero(s: Sheet) -> None:
    zero = s.decimal("zero")
    limit = Decimal(str(s.policy("zero_limit")))
    if zero is None or abs(zero) <= limit:
        return
    by = ", ".join(
        f"{step.name} {brief(float(zero) * s.figures[f'run.{step.name}.factor'].value / _in(s, step), 3)} "
        f"{terms.unit_of(s.figures, step)}"
        for step in s.method.run
    )
    s.find(
        "EVA25",
        f"The zero is {plain(zero)} % of full scale; 0 ± {plain(limit)} % is allowed. Every reading is "
        f"{'high' if zero > 0 else 'low'} "
        f"by that much: {by}.",
        "Zero the instrument with no spindle on, and measure again.",
        "If the zero will not stay, tag the instrument: level, pivot and coupling first. Do not subtract it "
        "from the readings.",
        field="zero",
    )


def _in(s: Sheet, step: Step) -> float:
    """Give how many Pa·s one of the unit of a step is."""
    return parse(f"1 {terms.unit_of(s.figures, step)}", "viscosity").value


def _verification(s: Sheet) -> None:
    check = s.method.verification
    if check is None:
        return
    f = s.figures
    unit = f["verification.lower"].unit
    one = Decimal(str(parse(f"1 {unit}", "viscosity").value))
    low, high = (Decimal(f"{f[k].value:.12g}") / one for k in ("verification.lower", "verification.upper"))
    if check.lower is not None:
        low = Decimal(str(check.lower.value)) / one
    if check.upper is not None:
        high = Decimal(str(check.upper.value)) / one
    reading, torque = s.decimal("verification.reading"), s.decimal("verification.torque")
    band = terms.verification_band(check, f).replace("\u00a0", " ")
    passes = None if reading is None else low <= reading <= high
    if reading is not None and not passes:
        off = 100 * (reading * one / Decimal(str(check.fluid.viscosity.value)) - 1)
        action = check.on_failure or "Stop, tag the instrument, do not adjust it."
        s.find(
            "EVA26",
            f"{check.fluid.key} read {plain(reading)} {unit}; {band} passes. The instrument reads "
            f"{sig(abs(float(off)), 2)} % "
            f"{'high' if off > 0 else 'low'}, and so does every result of it.",
            action,
            "Look back to the last check that passed: what was measured since does not stand by itself.",
            field="verification.reading",
        )
    verdict = s.choice("verification.verdict")
    if passes is not None and verdict and (verdict == "pass") != passes:
        s.find(
            "EVA27",
            f"The verdict says {verdict}, and the reading of {plain(reading or Decimal(0))} {unit} "
            f"{'passes' if passes else 'fails'} "
            f"({band}).",
            "Correct what is written wrongly, with initials, day and reason.",
            "Where it cannot be told which is wrong, repeat the check.",
            field="verification.verdict",
        )
    elif verdict == "fail" and passes is None:
        s.find(
            "EVA26",
            "The check is marked as failed.",
            check.on_failure or "Stop, tag the instrument, do not adjust it.",
            "Look back to the last check that passed.",
            field="verification.verdict",
        )
    if reading is not None and torque is not None:
        step = Decimal(f"{f['verification.full_scale'].value:.12g}") / one / 100
        resolution = Decimal(f"{f['resolution'].value:.12g}")
        written = s.number("verification.reading")
        allowed = step * resolution + (written.half if written is not None else 0)
        if abs(reading - torque * step) > allowed:
            s.find(
                "EVA27",
                f"Torque {plain(torque)} % times {plain(step, 6)} {unit} per % is {plain(torque * step, 6)} "
                f"{unit}, and "
                f"{plain(reading)} {unit} is written: {plain(abs(reading - torque * step), 3)} {unit} "
                f"apart, {plain(allowed, 3)} {unit} come "
                "from the steps of the readout.",
                "See which spindle, speed and spring the instrument had entered.",
                "Correct what was copied wrongly; else repeat the check.",
                field="verification.reading",
            )
    _fluid_temperature(s)
    at, measured = s.moment("verification.time"), s.moment("sample.measured")
    if at is not None and measured is not None and (at.date() != measured.date() or at > measured):
        said = "after the measurement" if at > measured else "on another day than the measurement"
        s.find(
            "EVA27",
            f"The check was made at {at:%Y-%m-%d %H:%M}, {said} ({measured:%Y-%m-%d %H:%M}); it is made "
            f"{check.frequency or 'before it'}.",
            "Give the check of that day, before the sample.",
            "If a time is written wrongly, correct it.",
            field="verification.time",
        )


def _fluid_temperature(s: Sheet) -> None:
    check, value = s.method.verification, s.decimal("verification.temperature")
    if check is None or value is None:
        return
    target, tolerance = Decimal(str(check.fluid.temperature.value)), Decimal("0.1")
    if check.temperature is not None:
        target, tolerance = (
            Decimal(str(check.temperature.value.value)),
            Decimal(str(check.temperature.tolerance.value)),
        )
    off = value - target
    if abs(off) <= tolerance:
        return
    shift = float(abs(off)) * check.fluid.sensitivity.value
    s.find(
        "EVA26",
        f"The fluid was at {plain(value)} °C; {terms.fluid_temperature(check)} is asked for. It reads about "
        f"{sig(shift, 2)} % "
        f"{'low' if off > 0 else 'high'} for that, which may hide or feign a fault.".replace("\u00a0", " "),
        "Bring the fluid to its temperature and repeat the check.",
        "If it is written wrongly, correct it with initials, day and reason.",
        field="verification.temperature",
    )


def _corrections(s: Sheet) -> None:
    measured = s.moment("sample.measured")
    for entry in s.record.entries.values():
        present = entry.text.strip()
        for index, one in enumerate(entry.corrections):
            last = index == len(entry.corrections) - 1
            faults = []
            if not one.was:
                faults.append("the old value is not kept")
            if not one.by:
                faults.append("no initials")
            if one.reason.strip().split(" ")[0].rstrip(".:") not in REASONS:
                faults.append(
                    f"no reason code 1 to 5 ({one.reason[:20]!r} is written)"
                    if one.reason
                    else "no reason code"
                )
            faults += _when(one.when, measured)
            if one.was and last and one.was == present:
                faults.append("old and new value are the same")
            if last and one.now and present and one.now.strip() != present:
                faults.append(
                    f"its new value ({one.now[:20]}) is not the value of the entry ({present[:20]})"
                )
            if faults:
                s.find(
                    "EVA42",
                    f"A correction ({one.was[:20] or 'nothing'} to {present[:20] or 'nothing'}) has faults: "
                    f"{', '.join(faults)}.",
                    "Have the person who made it complete it, marked late, with today's date.",
                    "Where nobody can say what stood there, the entry does not count: measure again.",
                    field=entry.field,
                )


def _when(text: str, measured: datetime | None) -> Iterable[str]:
    if not text.strip():
        return ("no day",)
    try:
        on: date = day(text)
    except Refused:
        try:
            on = moment(text).date()
        except Refused:
            return (f"{text[:20]!r} is no day",)
    if measured is not None and on < measured.date():
        return (f"made on {on}, before the measurement",)
    return ()
