"""Instruments over their checks with reference fluids: which passed, what drifts, and which results to look at again.

The error of a check is told in percent of full scale, for that is what the instrument promises; in percent of
the value a low reading looks bad and a high one good. A check outside its band has failed, whatever else was
wrong with it. One inside the band proves nothing where the fluid was out of date, off its temperature, or in
another set-up than the coefficient's: it does not count as a pass when one looks back.
"""

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Literal

from fillmark.derive.figuring import in_unit
from fillmark.diagnostics import Diagnostic, Severity
from fillmark.figures import Figures
from fillmark.model import Method, Reference, Spindle, Spring, Step
from fillmark.names import letters
from fillmark.physics import flow, statistics
from fillmark.physics.control import RULES, ControlLimits, Signal, control_limits, signals
from fillmark.physics.regression import half_width, line
from fillmark.quantities import brief, counted, fixed
from fillmark.trending.measured import Measured
from fillmark.verification.logbook import Check, Event, Log

CODES: dict[str, tuple[str, str]] = {
    "LOG04": (
        "check-failed",
        "A reading of the reference fluid outside its band: the instrument is out of service.",
    ),
    "LOG05": ("torque-and-reading-differ", "Torque and viscosity of one check that do not belong together."),
    "LOG06": (
        "fluid-out-of-date",
        "A check with a lot past its last day: the certified value holds no more.",
    ),
    "LOG07": (
        "fluid-off-temperature",
        "A check off the temperature of the certificate: the fluid has another value.",
    ),
    "LOG08": (
        "check-in-another-set-up",
        "A check with a guard, container or speed the coefficient does not hold for.",
    ),
    "LOG09": ("check-at-poor-torque", "A check where the band takes in nearly anything, or off the scale."),
    "LOG10": ("one-lot-two-certificates", "One lot of a fluid with two certified values at one temperature."),
    "LOG11": ("instrument-drifts", "An error that grows or falls steadily: the band will be left, and when."),
    "LOG12": ("checks-run-astray", "Errors of one set-up that break a run rule of control charts."),
    "LOG13": (
        "results-to-look-at-again",
        "Results measured between the last pass of an instrument and a failed check.",
    ),
    "LOG14": (
        "measured-after-a-fail",
        "Results measured with an instrument after a failed check, before it passed.",
    ),
    "LOG15": ("entry-in-the-future", "A check dated after the day on which the log is read."),
    "LOG16": (
        "certificate-not-of-the-method",
        "A certified value that differs from that of the reference data.",
    ),
    "LOG17": ("results-of-an-unknown-instrument", "Results of an instrument that the log does not name."),
    "LOG18": (
        "clocks-differ",
        "Some times bear an offset from UTC and some do not; what came first may be unsure.",
    ),
}

MONTH = 365.25 / 12 * 86_400
"""Seconds of a month, on average."""

Verdict = Literal["pass", "fail", "no proof"]


@dataclass(frozen=True, slots=True)
class Band:
    """What a check is held against; viscosities in Pa·s."""

    full_scale: float
    accuracy: float
    """% of full scale."""
    lower: float
    upper: float
    origin: str
    """A method with its revision, or the reference data."""
    temperature_tolerance: float
    """K"""
    by_method: bool = True


@dataclass(frozen=True, slots=True)
class Judged:
    """A check and what is to be said of it."""

    check: Check
    band: Band
    error: float
    """% of full scale, above 0 where it reads high; of a bound, at least or at most so much."""
    lower: float
    upper: float
    """The band, as error in % of full scale."""
    by_torque: float
    """Viscosity by the torque alone, Pa·s."""
    fits: bool
    """Whether torque and reading belong together."""
    verdict: Verdict
    why: tuple[tuple[str, str], ...]
    """(code, in a few words) of all that speaks against it."""


@dataclass(frozen=True, slots=True)
class Drift:
    """How the error of a segment moves."""

    slope: float
    """% of full scale a month."""
    low: float
    high: float
    """Ends of its interval, 95 %."""
    months_left: float | None
    """Until the line leaves the band, from the last check on; None where it does not move towards an edge for sure."""

    @property
    def certain(self) -> bool:
        """Whether the interval leaves out 0."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Checks of one set-up between two breaks."""

    number: int
    first: int
    last: int
    """Places in `Group.checks`."""
    count: int
    """Errors that are averaged: bounds are not."""
    mean: float | None
    limits: ControlLimits | None
    no_limits: str
    signals: tuple[Signal, ...]
    """Places in `Group.checks`."""
    drift: Drift | None
    no_drift: str


@dataclass(frozen=True, slots=True)
class Group:
    """All checks of one instrument with one spindle at one speed."""

    instrument: str
    spindle: str
    rpm: float
    checks: tuple[Judged, ...]
    stretches: tuple[Stretch, ...]
    breaks: tuple[tuple[int, float, str], ...]
    """(place of the first check after it, time, what happened)"""


@dataclass(frozen=True, slots=True)
class Doubted:
    """A result that has to be looked at again."""

    result: Measured
    after: bool
    """Whether it was measured after the fail, when the instrument should have stood still."""
    if_offset: float | None
    """What it would be if the error is the same at any torque, in its own unit; None where that cannot be told."""
    if_proportional: float | None
    """What it would be if the error goes with the torque."""
    could_change: bool | None
    """Whether one of the two changes the verdict; None where that cannot be told."""
    why: str


@dataclass(frozen=True, slots=True)
class LookBack:
    """One failed check and what was measured on its instrument since it last passed."""

    failed: Judged
    last_pass: Judged | None
    next_pass: Judged | None
    failed_before: Judged | None
    """The fail in this set-up before it since the last pass, from which on its list goes; that one has the rest."""
    passed_otherwise: tuple[Judged, ...]
    """Passes of the same instrument in other set-ups between the last pass and the fail."""
    results: tuple[Doubted, ...]


@dataclass(frozen=True, slots=True)
class Judgement:
    """A whole log, judged."""

    log: Log
    checks: tuple[Judged, ...]
    groups: tuple[Group, ...]
    look_back: tuple[LookBack, ...]
    diagnostics: tuple[Diagnostic, ...]
    corrections: tuple[tuple[str, str, int], ...]
    """(entry, reason code, how many), the most frequent first."""


def judge(
    log: Log,
    reference: Reference,
    *,
    methods: Sequence[tuple[Method, Figures]] = (),
    results: Sequence[Measured] = (),
    today: date | None = None,
) -> Judgement:
    """Judge a log by the reference data, and by the methods whose check an entry is.

    `results` are looked through for what was measured on an instrument that then failed; `today` finds entries of
    the future.
    """
    judged = [_judged(c, reference, methods) for c in log.checks]
    groups = tuple(_groups(judged, log.events, reference))
    look_back = tuple(_look_back(judged, results, reference))
    found = [d for one in judged for d in _told(one, log)]
    found += _lots(log)
    found += _certificates(log, reference)
    found += _future(log, today)
    found += [d for g in groups for d in _of_group(g, log)]
    found += [d for one in look_back for d in _to_look_at(one, log)]
    found += _strangers(log, results, reference) if log.checks else []
    found += _clocks(log, results)
    entries = [c.entry for c in log.checks] + [e.entry for e in log.events]
    tally = Counter((c.field, c.reason) for e in entries for c in e.corrections)
    return Judgement(
        log, tuple(judged), groups, look_back, (*log.diagnostics, *found),
        tuple((f, r, n) for (f, r), n in sorted(tally.items(), key=lambda t: (-t[1], t[0]))),
    )  # fmt: skip


# --- one check


def _judged(c: Check, reference: Reference, methods: Sequence[tuple[Method, Figures]]) -> Judged:
    spindle, instrument = reference.spindles[c.spindle], reference.instruments[c.entry.instrument]
    spring = reference.springs[instrument.spring]
    band = _band(c, spindle, spring, reference, methods)
    full = band.full_scale
    error = 100 * (c.reading.value - c.certificate.value) / full
    lower, upper = (100 * (v - c.certificate.value) / full for v in (band.lower, band.upper))
    by_torque = c.torque.value / 100 * full
    why = list(_against(c, band, spindle, spring, reference, by_torque))
    fits = all(code != "LOG05" for code, _ in why)
    value, bound = c.reading.value, c.reading.bound
    # A value on the edge is inside; float noise must not fail it.
    slack = 1e-9 * full
    above, below = value > band.upper + slack, value < band.lower - slack
    fails = (above and bound != "<") or (below and bound != ">")
    sure = not bound or fails
    if not sure and not why:
        why.append(("LOG09", "the reading is a bound"))
    verdict: Verdict = "fail" if fails else "no proof" if why else "pass"
    return Judged(c, band, error, lower, upper, by_torque, fits, verdict, tuple(why))


def _band(
    c: Check,
    spindle: Spindle,
    spring: Spring,
    reference: Reference,
    methods: Sequence[tuple[Method, Figures]],
) -> Band:
    """Take the band of the narrowest method whose check this is; else work it out of the reference data."""
    tolerance = reference.policy["fluid_tolerance"]
    found = []
    for m, figures in methods:
        step = _step_of(m, c, spring)
        full = figures.value("verification.full_scale")
        if step is None or full is None or m.verification is None:
            continue
        fluid, own = m.verification.fluid, m.verification.temperature
        accuracy = _accuracy(m, figures, c.spindle)
        lower, upper = figures.value("verification.lower"), figures.value("verification.upper")
        certified = (c.certificate.value, c.uncertainty.value)
        if fluid.key != c.fluid or lower is None or upper is None or certified != (
            fluid.viscosity.value, fluid.uncertainty.value
        ):  # fmt: skip
            lower, upper = _worked_out(c, full, accuracy, reference)
        found.append(
            Band(
                full, accuracy, lower, upper, f"{m.id} revision {m.revision}",
                tolerance if own is None else own.tolerance.value,
            )
        )  # fmt: skip
    if found:
        return min(found, key=lambda b: b.upper - b.lower)
    coefficient = flow.coefficient_on_spring(
        coefficient=spindle.coefficient.value,
        reference_torque=reference.springs[spindle.coefficient_spring].full_scale.value,
        torque=spring.full_scale.value,
    )
    full = flow.full_scale_viscosity(coefficient=coefficient, rpm=c.rpm)
    accuracy = reference.policy["instrument_accuracy"]
    accuracy += spindle.accessory_accuracy.value if spindle.accessory_accuracy is not None else 0.0
    return Band(
        full,
        accuracy,
        *_worked_out(c, full, accuracy, reference),
        "the reference data",
        tolerance,
        by_method=False,
    )


def _worked_out(c: Check, full: float, accuracy: float, reference: Reference) -> tuple[float, float]:
    band = statistics.verification_band(
        reference=c.certificate.value,
        accuracy_percent=accuracy,
        full_scale=full,
        reference_uncertainty=c.uncertainty.value,
        combine="additive"
        if reference.policy.choices["verification_band"] == "additive"
        else "root-sum-square",
    )
    return band.lower, band.upper


def _accuracy(m: Method, figures: Figures, spindle: str) -> float:
    if spindle == m.spindle.key:
        return figures["accuracy"].value
    own = m.instrument.accuracy
    other = m.reference.spindles[spindle].accessory_accuracy
    base = own.value if own is not None else m.reference.policy["instrument_accuracy"]
    return base + (other.value if other is not None else 0.0)


def _step_of(m: Method, c: Check, spring: Spring) -> Step | None:
    """Give the step at which a method checks in this set-up; None where it does not."""
    v = m.verification
    step = None if v is None else m.step(v.at)
    if v is None or step is None or abs(step.speed.value - c.rpm) > 1e-9 * c.rpm:
        return None
    spindle = v.spindle or m.spindle
    guard = {"required": "with", "not-used": "without"}.get(v.guard or m.guard, "not-applicable")
    same = spindle.key == c.spindle and m.instrument.spring.key == spring.key and guard == c.guard
    return step if same else None


def _against(
    c: Check, band: Band, spindle: Spindle, spring: Spring, reference: Reference, by_torque: float
) -> Iterator[tuple[str, str]]:
    """Say what keeps a check from proving anything."""
    instrument = reference.instruments[c.entry.instrument]
    off = c.temperature.value - c.certified_at.value
    if abs(off) > band.temperature_tolerance + 1e-9:
        shift = abs(off) * reference.fluids[c.fluid].sensitivity.value
        way = "low" if off > 0 else "high"
        told = (
            f"the fluid was {_signed(off, 2)} K off the {c.certified_at.text} of its certificate, more than "
            f"{brief(band.temperature_tolerance, 2)} K: it reads about {brief(shift, 2)} % {way} for that alone"
        )
        yield "LOG07", told
    day = datetime.fromtimestamp(c.entry.at, UTC).date()
    if c.expires is not None and day > c.expires:
        late = (day - c.expires).days
        yield "LOG06", f"lot {c.lot} of {c.fluid} was {late} day{'' if late == 1 else 's'} past {c.expires}"
    yield from _misfits(c, band, spindle, spring, reference)
    if not instrument.has_speed(c.rpm):
        yield "LOG08", f"{instrument.label} cannot be set to {c.speed}"
    policy = reference.policy
    torque = c.torque.value
    floor, ceiling = policy["verification_torque_error"], policy["verification_torque_ceiling"]
    if band.lower <= 0:
        yield "LOG09", "the band goes down to 0, so that an instrument that stands still would pass"
    elif torque < floor or torque > ceiling or c.torque.bound:
        yield "LOG09", f"the torque was {c.torque.text}, outside {brief(floor)} % to {brief(ceiling)} %"
    allowed = _agreement(c, band, reference)
    if not c.reading.bound and not c.torque.bound and abs(c.reading.value - by_torque) > allowed:
        factor = c.reading.value / by_torque if by_torque else float("inf")
        yield (
            "LOG05",
            f"{c.torque.text} is {_viscosity(by_torque, c)}, the reading {c.reading.text}"
            + (
                f": a factor of {brief(factor, 4)}{_meaning(factor, spindle, spring, reference)}"
                if by_torque
                else ""
            ),
        )


def _misfits(
    c: Check, band: Band, spindle: Spindle, spring: Spring, reference: Reference
) -> Iterator[tuple[str, str]]:
    if spring.key not in spindle.springs:
        yield "LOG08", f"{spindle.key} is not made for spring {spring.key} of {c.entry.instrument}"
    if spindle.relative:
        yield (
            "LOG08",
            f"{spindle.key} gives no viscosity of its own, so no certified value can be met with it",
        )
    if band.by_method:
        return  # guard and container of a method are judged by its own rules
    if spindle.guard in ("with", "without", "not-applicable") and c.guard != spindle.guard:
        way = {"with": "without it the reading is low", "without": "with it the reading is high"}
        told = f": {way[spindle.guard]}" if spindle.guard in way and c.guard in way else ""
        yield "LOG08", f"guard {c.guard}, where the coefficient of {spindle.key} holds {spindle.guard}{told}"
    if c.container and spindle.container and c.container != spindle.container:
        own, used = reference.containers[spindle.container], reference.containers[c.container]
        narrow = used.inside_diameter.value < own.inside_diameter.value
        yield (
            "LOG08",
            f"in {used.label}, where the coefficient of {spindle.key} holds in {own.label}"
            + (": a narrower one reads high" if narrow else ""),
        )


def _agreement(c: Check, band: Band, reference: Reference) -> float:
    """Give how far torque and reading may lie apart (Pa·s): the steps of both, and the site's share of the reading."""
    readout = reference.instruments[c.entry.instrument].readout
    step = max(c.torque.half_step, reference.policy[f"resolution_{readout}"] / 2)
    share = reference.policy["reading_match"] / 100 * c.reading.value
    return step / 100 * band.full_scale + c.reading.half_step + share


def _meaning(factor: float, spindle: Spindle, spring: Spring, reference: Reference) -> str:
    """Say what a factor between reading and torque is known for: another spindle or spring in the instrument."""

    def on(one: Spindle, at: Spring) -> float:
        return flow.coefficient_on_spring(
            coefficient=one.coefficient.value,
            reference_torque=reference.springs[one.coefficient_spring].full_scale.value,
            torque=at.full_scale.value,
        )

    own = on(spindle, spring)

    def near(value: float) -> bool:
        return abs(value / own / factor - 1) < 0.01

    names = [
        f"spindle {s.key}" for s in reference.spindles.values()
        if s.key != spindle.key and spring.key in s.springs and near(on(s, spring))
    ]  # fmt: skip
    names += [
        f"spring {s.key}" for s in reference.springs.values() if s.key != spring.key and near(on(spindle, s))
    ]
    return f", that of {' or '.join(names[:3])} keyed in" if names else ""


def _signed(value: float, decimals: int) -> str:
    text = fixed(abs(value), decimals)
    return text if not text.strip("0.") else f"{'+' if value > 0 else chr(0x2212)}{text}"


def _viscosity(value: float, c: Check) -> str:
    """Write a viscosity in the unit of the certificate."""
    return in_unit(value, c.certificate.unit)


def error_text(j: Judged) -> str:
    """Write the error of a check with its sign."""
    return f"{j.check.reading.bound}{_signed(j.error, 2)} % of full scale"


# --- checks of one set-up over time


def _groups(judged: Sequence[Judged], events: Sequence[Event], reference: Reference) -> Iterator[Group]:
    by_setup: dict[tuple[str, str, float], list[Judged]] = {}
    for one in judged:
        c = one.check
        by_setup.setdefault((c.entry.instrument, c.spindle, c.rpm), []).append(one)
    for (instrument, spindle, rpm), checks in sorted(by_setup.items()):
        done = [e for e in events if e.entry.instrument == instrument]
        breaks = tuple(_breaks(checks, done))
        starts = [0, *(at for at, _, _ in breaks)]
        stretches = tuple(
            _stretch(number, checks, first, (*starts[1:], len(checks))[number - 1] - 1, reference)
            for number, first in enumerate(starts, 1)
        )
        yield Group(instrument, spindle, rpm, tuple(checks), stretches, breaks)


def _breaks(checks: Sequence[Judged], events: Sequence[Event]) -> Iterator[tuple[int, float, str]]:
    for at in range(1, len(checks)):
        before, after = checks[at - 1].check, checks[at].check
        between = [e for e in events if before.entry.at < e.entry.at <= after.entry.at]
        what = [f"{e.kind}{f': {e.entry.remarks[:60]}' if e.entry.remarks else ''}" for e in between]
        what += [
            f"{name} {was or 'not named'} before, {now or 'not named'} after"
            for name, was, now in (
                ("piece", before.piece, after.piece), ("guard", before.guard, after.guard),
                ("container", before.container, after.container),
            )
            if was != now
        ]  # fmt: skip
        if what:
            yield at, between[0].entry.at if between else after.entry.at, "; ".join(what)


def _stretch(number: int, checks: Sequence[Judged], first: int, last: int, reference: Reference) -> Stretch:
    """Work out limits, run rules and drift; checks that prove nothing for another reason than a bound stay in."""
    placed = [(first + i, j) for i, j in enumerate(checks[first : last + 1]) if not j.check.reading.bound]
    errors = [j.error for _, j in placed]
    mean = sum(errors) / len(errors) if errors else None
    least = max(2, int(reference.policy["chart_values"]))
    limits, why, found = None, "", []
    if len(errors) < least:
        why = f"{len(errors)} of the {least} checks that limits need"
    else:
        limits = control_limits(values=errors)
        if limits.s <= 1e-9:
            limits, why = None, "no scatter between neighbours"
        else:
            found = signals(values=errors, centre=limits.centre, s=limits.s)
    moved = tuple(s._replace(first=placed[s.first][0], last=placed[s.last][0]) for s in found)
    drift, no_drift = _drift([j for _, j in placed], reference)
    return Stretch(number, first, last, len(errors), mean, limits, why, moved, drift, no_drift)


def _drift(checks: Sequence[Judged], reference: Reference) -> tuple[Drift | None, str]:
    least = max(3, int(reference.policy["drift_values"]))
    if len(checks) < least:
        return None, f"{len(checks)} of the {least} checks that a drift needs"
    start = checks[0].check.entry.at
    months = [(j.check.entry.at - start) / MONTH for j in checks]
    if months[-1] - months[0] < 1:
        return None, "less than a month from the first check to the last"
    fit = line(x=months, y=[j.error for j in checks], at=months[-1])
    half = half_width(sd=fit.slope_sd, degrees=fit.degrees)
    low, high = fit.slope - half, fit.slope + half
    last = checks[-1]
    left = None
    if low > 0 or high < 0:
        edge = last.upper if fit.slope > 0 else last.lower
        left = max(0.0, (edge - fit.value) / fit.slope)
    return Drift(fit.slope, low, high, left), ""


# --- looking back


def _instrument_of(results: Sequence[Measured], reference: Reference) -> dict[str, list[Measured]]:
    """Sort results by instrument; what is written on a sheet may be its name or its label."""
    names = {letters(w): key for key, i in reference.instruments.items() for w in (key, i.label)}
    found: dict[str, list[Measured]] = {}
    for one in results:
        found.setdefault(names.get(letters(one.setup.instrument), one.setup.instrument), []).append(one)
    return found


def _look_back(
    judged: Sequence[Judged], results: Sequence[Measured], reference: Reference
) -> Iterator[LookBack]:
    """For each failed check: what was measured from the last pass of that set-up to the next."""
    measured = {k: sorted(g, key=lambda r: r.at) for k, g in _instrument_of(results, reference).items()}
    times = {k: [r.at for r in group] for k, group in measured.items()}
    passes: dict[str, list[Judged]] = {}
    set_ups: dict[tuple[str, str, str, float], list[Judged]] = {}
    for j in judged:
        c = j.check
        set_ups.setdefault((c.entry.instrument, c.spindle, c.guard, c.rpm), []).append(j)
        if j.verdict == "pass":
            passes.setdefault(c.entry.instrument, []).append(j)
    found = [
        (fail, last, following, again)
        for group in set_ups.values()
        for fail, last, following, again in _fails([j for j in group if j.verdict != "no proof"])
    ]
    for fail, last, following, again in sorted(
        found, key=lambda f: (f[0].check.entry.at, f[0].check.entry.number)
    ):
        at, instrument = fail.check.entry.at, fail.check.entry.instrument
        since = last.check.entry.at if last is not None else float("-inf")
        # Another fail in a row has a list of its own for what follows it.
        start = since if again is None else at
        until = following.check.entry.at if following is not None else float("inf")
        on = measured.get(instrument, [])
        # A sheet knows minutes: what bears the minute of the last pass is taken as measured after it.
        first, end = (bisect_left(times.get(instrument, []), edge) for edge in (start, until))
        others = passes.get(instrument, [])
        between = others[
            bisect_right(others, start, key=lambda j: j.check.entry.at) :
            bisect_left(others, at, key=lambda j: j.check.entry.at)
        ]  # fmt: skip
        passed = following if following is not None and following.verdict == "pass" else None
        doubted = tuple(_doubted(r, fail) for r in on[first:end])
        yield LookBack(fail, last, passed, again, tuple(between), doubted)


def _fails(
    checks: Sequence[Judged],
) -> Iterator[tuple[Judged, Judged | None, Judged | None, Judged | None]]:
    """Give each fail of one set-up with the last pass before it, the check after it, and the fail before it since."""
    last: Judged | None = None
    again: Judged | None = None
    for j, following in zip(checks, (*checks[1:], None), strict=False):
        if j.verdict == "pass":
            last, again = j, None
            continue
        yield j, last, following, again
        again = j


def _doubted(r: Measured, fail: Judged) -> Doubted:
    """Work out what a result would be without the error found, and whether its verdict would hold."""
    after = r.at >= fail.check.entry.at
    lower, upper = r.limits.lower, r.limits.upper
    if fail.check.reading.bound:
        return Doubted(r, after, None, None, None, "the check gave a bound, so the error has no size")
    if r.value is None:
        return Doubted(r, after, None, None, None, "it is a bound or has no number")
    if not r.torque or r.torque <= 0:
        return Doubted(r, after, None, None, None, "its torque is not known")
    if r.unit == "":
        return Doubted(
            r, after, None, None, None, "it is a ratio: an error in proportion cancels, an offset does not"
        )
    full = r.value / (r.torque / 100)
    offset = r.value - fail.error / 100 * full
    proportional = (
        r.value * fail.check.certificate.value / fail.check.reading.value
        if fail.check.reading.value
        else None
    )
    if lower is None and upper is None:
        return Doubted(r, after, offset, proportional, None, "it has no limits")
    # A rounded value may be in and a guarded one out where the unrounded value says otherwise.
    inside = r.verdict == "in" if r.verdict in ("in", "out") else _inside(r.value, lower, upper)
    changed = [v for v in (offset, proportional) if v is not None and _inside(v, lower, upper) != inside]
    why = "the verdict would be another" if changed else "the verdict would hold"
    return Doubted(r, after, offset, proportional, bool(changed), why)


def _inside(value: float, lower: float | None, upper: float | None) -> bool:
    return (lower is None or value >= lower) and (upper is None or value <= upper)


# --- what is said


def _say(
    log: Log, j: Judged, code: str, message: str, *ways: str, severity: Severity = Severity.ERROR
) -> Diagnostic:
    return Diagnostic(code, CODES[code][0], severity, message, log.name, j.check.entry.span, (), ways)


def named(c: Check) -> str:
    """Name a check: instrument, spindle, speed and moment."""
    return f"{c.entry.instrument}, {c.spindle}, {c.speed}, {c.entry.written}"


_WAYS = {
    "LOG05": ("Read torque and viscosity again, and look which spindle and speed the instrument is set to.",
              "Or correct the entry with its reason, where it was miscopied."),
    "LOG06": ("Repeat the check with a lot in date.", "Or have the lot certified anew."),
    "LOG07": ("Repeat the check when fluid, spindle and bath have come to the temperature of the certificate.",
              "Or use the certified value for the temperature of the check, where the certificate gives one."),
    "LOG08": ("Repeat the check in the set-up to which the coefficient belongs.",
              "Or establish a coefficient for the set-up that is used, with its evidence."),
    "LOG09": ("Repeat the check at a speed, or with a fluid, that turns the spring to half its scale or more.",
              "Or with a spindle that does."),
}  # fmt: skip


def _told(j: Judged, log: Log) -> Iterator[Diagnostic]:
    c = j.check
    if j.verdict == "fail":
        side = "high" if j.error > 0 else "low"
        edge, limit = ("above", j.band.upper) if j.error > 0 else ("below", j.band.lower)
        beyond = abs(c.reading.value - limit)
        also = f" Besides, {'; '.join(text for _, text in j.why)}." if j.why else ""
        yield _say(
            log, j, "LOG04",
            f"{named(c)}: {c.reading.text} is {_viscosity(beyond, c)} {edge} the band {_viscosity(j.band.lower, c)} to "
            f"{_viscosity(j.band.upper, c)} (error {error_text(j)}; band by {j.band.origin}). The instrument reads "
            f"{side}, and so do results measured with it.{also}",
            "Stop, tag the instrument, and repeat the check once with everything looked at: fluid, temperature, guard, "
            "spindle, speed, zero.",
            "Where it fails again, have it serviced, never adjusted by a factor, and look at the results since the "
            "last pass.",
        )  # fmt: skip
    for code, text in j.why:
        against = "" if j.verdict == "fail" else " Although it is inside its band, the check proves nothing."
        yield _say(log, j, code, f"{named(c)}: {text}.{against}", *_WAYS[code])


def _lots(log: Log) -> Iterator[Diagnostic]:
    first: dict[tuple[str, str, float], Check] = {}
    told: set[tuple[str, str, float, float]] = set()
    for c in log.checks:
        key = (c.fluid, c.lot, c.certified_at.value)
        other = first.setdefault(key, c)
        if abs(other.certificate.value - c.certificate.value) <= 1e-9 * c.certificate.value:
            continue
        if (*key, c.certificate.value) in told:
            continue
        told.add((*key, c.certificate.value))
        off = 100 * (c.certificate.value / other.certificate.value - 1)
        yield Diagnostic(
            "LOG10", CODES["LOG10"][0], Severity.ERROR,
            f"Lot {c.lot} of {c.fluid} is {c.certificate.text} at {c.certified_at.text} here and "
            f"{other.certificate.text} in entry {other.entry.number}, {_signed(off, 1)} % apart. The errors of the "
            "checks with one of the two are off by as much.",
            log.name, c.entry.span, (),
            ("Copy the value anew from the certificate, in every entry of the lot.",
             "Or give the lot its own number where there are two certificates."),
        )  # fmt: skip


def _certificates(log: Log, reference: Reference) -> Iterator[Diagnostic]:
    seen: set[tuple[str, str]] = set()
    for c in log.checks:
        fluid = reference.fluids[c.fluid]
        off = 100 * (c.certificate.value / fluid.viscosity.value - 1)
        same_temperature = abs(fluid.temperature.value - c.certified_at.value) < 1e-9
        if (
            (c.fluid, c.lot) in seen
            or not same_temperature
            or abs(off) <= reference.policy["certificate_match"]
        ):
            continue
        seen.add((c.fluid, c.lot))
        yield Diagnostic(
            "LOG16", CODES["LOG16"][0], Severity.ADVICE,
            f"Lot {c.lot} of {c.fluid} is certified as {c.certificate.text}, {_signed(off, 1)} % off the "
            f"{fluid.viscosity.text} of the reference data that the sheets print. The check is judged by the lot.",
            log.name, c.entry.span, (),
            ("Bring shared/fluids.yaml to the lot in use, and print the sheets anew.",
             "Or see whether the value of another temperature was copied."),
        )  # fmt: skip


def _future(log: Log, today: date | None) -> Iterator[Diagnostic]:
    if today is None:
        return
    latest = datetime(today.year, today.month, today.day, tzinfo=UTC) + timedelta(
        days=2
    )  # whatever the clock's zone
    for e in sorted([*(c.entry for c in log.checks), *(v.entry for v in log.events)], key=lambda e: e.number):
        if e.at >= latest.timestamp():
            yield Diagnostic(
                "LOG15", CODES["LOG15"][0], Severity.ERROR,
                f"Entry {e.number} is dated {e.written}, after {today}: it cannot have been made yet.",
                log.name, e.span, (), ("Correct the date, with its reason.", "Or set the clock of this machine."),
            )  # fmt: skip


def _of_group(g: Group, log: Log) -> Iterator[Diagnostic]:
    where = f"{g.instrument}, {g.spindle}, {brief(g.rpm)} rpm"
    for s in g.stretches:
        last = g.checks[s.last]
        d = s.drift
        if d is not None and d.certain:
            way = "up" if d.slope > 0 else "down"
            left = d.months_left or 0.0
            until = (
                "the line is at the edge of the band already" if left == 0 else
                f"at that pace the band is left in {brief(left, 2)} months" if left < 120 else
                "at that pace the band lasts for ten years"
            )  # fmt: skip
            yield _say(
                log, last, "LOG11",
                f"{where}: over {s.count} checks since {g.checks[s.first].check.entry.written} the error goes {way} by "
                f"{_signed(d.slope, 3)} % of full scale a month (95 %: {_signed(d.low, 3)} to {_signed(d.high, 3)}); "
                f"{until}. Results drift with it.",
                "Look for wear of the pivot, a bent spindle, or a fluid that ages, before the band is left.",
                "Or have the instrument serviced at the next date, and enter it in the log.",
                severity=Severity.WARNING if left < 12 else Severity.ADVICE,
            )  # fmt: skip
        if s.signals and s.limits is not None:
            first = s.signals[0]
            j = g.checks[first.first]
            count = len(s.signals)
            more = f" {count} such stretches in all since the last break." if count > 1 else ""
            yield _say(
                log, j, "LOG12",
                f"{where}: {RULES[first.rule]}, from {j.check.entry.written} (centre {_signed(s.limits.centre, 2)}, "
                f"s {fixed(s.limits.s, 2)} % of full scale).{more} Inside the band or not, something changed that day.",
                "Look at what was new: lot of fluid, bath, operator, spindle.",
                "Or enter what was done to the instrument, so that the chart breaks there.",
                severity=Severity.WARNING,
            )  # fmt: skip


def _to_look_at(one: LookBack, log: Log) -> Iterator[Diagnostic]:
    c = one.failed.check
    before = [d for d in one.results if not d.after]
    after = [d for d in one.results if d.after]
    since = (
        f"since its last pass, {one.last_pass.check.entry.written}" if one.last_pass is not None
        else "in all the time before, for it never passed in this log"
    )  # fmt: skip
    if before:
        changed = sum(d.could_change is True for d in before)
        open_ = sum(d.could_change is None for d in before)
        more = f", and of {open_} that cannot be told" if open_ else ""
        yield _say(
            log, one.failed, "LOG13",
            f"{named(c)} failed: {counted(len(before), 'result')} measured on {c.entry.instrument} {since}. "
            f"The error found could have changed the verdict of {changed}{more}.",
            "Look at each of the list again, measure kept samples anew, and tell who decided on them.",
            "Or show by another check in between that the instrument was sound until then.",
        )  # fmt: skip
    if after:
        yield _say(
            log, one.failed, "LOG14",
            f"{counted(len(after), 'result')} measured on {c.entry.instrument} after it failed on "
            f"{c.entry.written} and before it passed again. They rest on an instrument known to be wrong.",
            "Measure them again on an instrument that has passed.",
            "Or enter the check that shows the instrument was sound again, if one was made.",
        )  # fmt: skip


def _strangers(log: Log, results: Sequence[Measured], reference: Reference) -> Iterator[Diagnostic]:
    """Say which results name an instrument that the log has no check of: nothing vouches for them."""
    checked = {c.entry.instrument for c in log.checks}
    counts: Mapping[str, int] = {
        name: len(group) for name, group in _instrument_of(results, reference).items() if name not in checked
    }
    if counts:
        told = ", ".join(f"{name or 'not written'} ({n})" for name, n in sorted(counts.items())[:10])
        more = f" and {len(counts) - 10} more" if len(counts) > 10 else ""
        yield Diagnostic(
            "LOG17", CODES["LOG17"][0], Severity.ADVICE,
            f"{sum(counts.values())} results are of instruments without a check in this log: {told}{more}. They are "
            "not looked through.",
            log.name, log.checks[0].entry.span, (),
            ("Read the log of those instruments too.",
             "Or write the instrument on the sheet as it is named in shared/instruments.yaml."),
        )  # fmt: skip


def _clocks(log: Log, results: Sequence[Measured]) -> Iterator[Diagnostic]:
    zoned = [c.entry.zoned for c in log.checks] + [e.entry.zoned for e in log.events]
    zoned += [datetime.fromisoformat(r.written).tzinfo is not None for r in results]
    if log.checks and any(zoned) and not all(zoned):
        yield Diagnostic(
            "LOG18", CODES["LOG18"][0], Severity.WARNING,
            f"{sum(zoned)} times of log and results bear an offset from UTC, {len(zoned) - sum(zoned)} do not; those "
            "without are taken as UTC. What was measured within a day of a check may be on the wrong side of it.",
            log.name, log.checks[0].entry.span, (),
            ("Write times with their offset everywhere (2026-12-01T07:40+01:00).",
             "Or nowhere, where there is one clock."),
        )  # fmt: skip
