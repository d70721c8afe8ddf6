"""A method over many results: segments between breaks, limits of each, run rules, and what keeps going wrong.

A result is charted with those before it only as far as nothing was changed that moves the number: revision,
instrument, spring, spindle, guard, container. At a break the limits begin anew. Bounds and results that do not
stand are drawn and counted, and never averaged.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.physics.control import RULES, ControlLimits, Signal, control_limits, signals
from fillmark.quantities import QuantityError, brief, express, parse
from fillmark.trending.measured import Collection, Limits, Measured, Setup, by_method

CODES: dict[str, tuple[str, str]] = {
    "TRD05": (
        "results-run-astray",
        "Results of one segment break a run rule: the product moved, or something changed that nobody wrote down.",
    ),
    "TRD06": (
        "one-revision-two-contents",
        "Results of one revision with two digests: the method or its data were changed without a new revision.",
    ),
}

MEASURES = ("result", "torque", "temperature")
"""What is followed over time, in the order it is drawn."""

PARTS: Mapping[str, str] = {
    "revision": "revision",
    "digest": "content of the method",
    "instrument": "instrument",
    "spring": "spring",
    "spindle": "spindle",
    "guard": "guard",
    "container": "container",
}
"""Parts of a `Setup` of which a change is a break, with their names."""

RETURNS = 2
"""How often an instrument may come back before each instrument gets charts of its own: a project decision."""


@dataclass(frozen=True, slots=True)
class Controlled:
    """One measure of one segment."""

    count: int
    """Values averaged."""
    mean: float | None
    least: float | None
    most: float | None
    limits: ControlLimits | None
    why: str
    """Why there are no limits; nothing where there are."""
    signals: tuple[Signal, ...]
    """First and last are places in `Series.points`."""


@dataclass(frozen=True, slots=True)
class Segment:
    """Results between two breaks."""

    number: int
    setup: Setup
    first: int
    last: int
    """Places in `Series.points`, both inside."""
    specification: Limits
    """That of its last result."""
    bounds: int
    void: int
    """Results that do not stand."""
    empty: int
    """Results without a number."""
    outside: int
    """Results outside their limits, by their verdict."""
    measures: Mapping[str, Controlled]


@dataclass(frozen=True, slots=True)
class Break:
    """A change between two results that follow each other."""

    number: int
    at: int
    """Place in `Series.points` of the first result after it."""
    changes: tuple[tuple[str, str, str], ...]
    """(part, before, after)"""


@dataclass(frozen=True, slots=True)
class Series:
    """One result of a method over time; of one instrument where several are in use side by side."""

    name: str
    unit: str
    instrument: str
    """Nothing where all instruments are in it."""
    points: tuple[Measured, ...]
    segments: tuple[Segment, ...]
    breaks: tuple[Break, ...]


@dataclass(frozen=True, slots=True)
class Trend:
    """A method over all results that were read."""

    method: str
    title: str
    product: str
    demonstration: bool
    records: int
    series: tuple[Series, ...]
    findings: tuple[tuple[str, str, str, int], ...]
    """(code, slug, severity, in how many results), the most frequent first."""
    corrections: tuple[tuple[str, str, int], ...]
    """(entry, reason code, how many), the most frequent first."""


def trends(collection: Collection, *, least: int) -> tuple[tuple[Trend, ...], list[Diagnostic]]:
    """Follow each method over its results; `least` is the number of values from which there are limits.

    Gives the trends by method, and what is to be said of them beside what reading has found.
    """
    made: list[Trend] = []
    found: list[Diagnostic] = []
    for method, measured in by_method(collection.measured).items():
        title, product, demonstration = collection.titles[method]
        series = tuple(_series(measured, least))
        tally = _most_frequent(collection.findings, method)
        corrections = _most_frequent(collection.corrections, method)
        records = len({(m.file, m.line) for m in measured})
        made.append(
            Trend(
                method, title, product, demonstration, records, series,
                tuple((code, slug, severity, n) for (_, code, slug, severity), n in tally),
                tuple((entry, reason, n) for (_, entry, reason), n in corrections),
            )
        )  # fmt: skip
        found += _two_contents(method, measured)
        found += [d for one in series for d in _astray(method, one)]
    return tuple(made), found


def _most_frequent(counter: Counter[Any], method: str) -> list[tuple[Any, int]]:
    mine = [(key, n) for key, n in counter.items() if key[0] == method]
    return sorted(mine, key=lambda entry: (-entry[1], entry[0]))


@cache
def _kind(unit: str) -> str:
    """Tell viscosities, whatever their unit, from all else, which only compares within one unit."""
    try:
        parse(f"1 {unit}", "viscosity")
    except QuantityError:
        return unit
    return "viscosity"


def _series(measured: Sequence[Measured], least: int) -> Iterator[Series]:
    groups: dict[tuple[str, str], list[Measured]] = {}
    for one in measured:
        groups.setdefault((one.name, _kind(one.unit)), []).append(one)
    for (name, kind), points in groups.items():
        unit = points[-1].unit
        alike = points if kind == unit or all(p.unit == unit for p in points) else _in_unit(points, unit)
        for instrument, part in _side_by_side(alike):
            yield _one_series(name, unit, instrument, part, least)


def _in_unit(points: Sequence[Measured], unit: str) -> list[Measured]:
    """Give viscosities in one unit."""
    ratios = {u: express(1.0, unit) / express(1.0, u) for u in {p.unit for p in points}}

    def scaled(p: Measured) -> Measured:
        if p.unit == unit:
            return p
        by = ratios[p.unit]
        value, edge = (None if v is None else v * by for v in (p.value, p.edge))
        limits = Limits(*(None if v is None else v * by for v in p.limits))
        return p._replace(value=value, edge=edge, limits=limits, unit=unit)

    return [scaled(p) for p in points]


def _side_by_side(points: Sequence[Measured]) -> list[tuple[str, list[Measured]]]:
    """Part results by instrument where instruments take turns; else every change of the two would be a break."""
    changes = sum(a.setup.instrument != b.setup.instrument for a, b in pairwise(points))
    kinds = dict.fromkeys(p.setup.instrument for p in points)
    if changes <= len(kinds) - 1 + RETURNS:
        return [("", list(points))]
    return [(k or "not written", [p for p in points if p.setup.instrument == k]) for k in sorted(kinds)]


def _one_series(name: str, unit: str, instrument: str, points: Sequence[Measured], least: int) -> Series:
    starts = [0] + [
        i
        for i in range(1, len(points))
        if points[i].setup is not points[i - 1].setup and points[i].setup != points[i - 1].setup
    ]
    breaks = tuple(
        Break(number, at, _changes(points[at - 1].setup, points[at].setup))
        for number, at in enumerate(starts[1:], 1)
    )
    segments = tuple(
        _segment(number, points, first, (*starts[1:], len(points))[number - 1] - 1, least)
        for number, first in enumerate(starts, 1)
    )
    return Series(name, unit, instrument, tuple(points), segments, breaks)


def _changes(before: Setup, after: Setup) -> tuple[tuple[str, str, str], ...]:
    found = [
        (part, was, now)
        for part, was, now in zip(Setup._fields, before, after, strict=True)
        if was != now and not (part == "digest" and before.revision != after.revision)
    ]
    return tuple(found)


def averaged(point: Measured, measure: str) -> float | None:
    """Give the value of a result that counts towards centre and limits; None where it does not."""
    if not point.stands or point.value is None:
        return None
    return point.value if measure == "result" else point.torque if measure == "torque" else point.temperature


def _segment(number: int, points: Sequence[Measured], first: int, last: int, least: int) -> Segment:
    part = points[first : last + 1]
    return Segment(
        number,
        part[-1].setup,
        first,
        last,
        part[-1].limits,
        bounds=sum(bool(p.bound) for p in part),
        void=sum(not p.stands for p in part),
        empty=sum(p.value is None and not p.bound for p in part),
        outside=sum(p.verdict == "out" for p in part),
        measures={m: _controlled(part, m, first, least) for m in MEASURES},
    )


def _controlled(part: Sequence[Measured], measure: str, first: int, least: int) -> Controlled:
    placed = [(first + i, v) for i, p in enumerate(part) if (v := averaged(p, measure)) is not None]
    values = [v for _, v in placed]
    if not values:
        return Controlled(0, None, None, None, None, "no value to average", ())
    mean = sum(values) / len(values)
    ends = (len(values), mean, min(values), max(values))
    if len(values) < least:
        return Controlled(*ends, None, f"{len(values)} of the {least} values that limits need", ())
    limits = control_limits(values=values)
    if limits.s <= 1e-9 * abs(limits.centre):
        return Controlled(*ends, None, "no scatter between neighbours", ())
    found = signals(values=values, centre=limits.centre, s=limits.s)
    moved = tuple(f._replace(first=placed[f.first][0], last=placed[f.last][0]) for f in found)
    return Controlled(*ends, limits, "", moved)


def _say(code: str, severity: Severity, point: Measured, message: str, *ways: str) -> Diagnostic:
    span = Span(point.line, 1, point.line, 1)
    return Diagnostic(code, CODES[code][0], severity, message, point.file, span, (), ways)


def _astray(method: str, series: Series) -> Iterator[Diagnostic]:
    """Say for each segment what its run rules found, the result itself first; one finding a segment."""
    for segment in series.segments:
        found = [(m, s) for m in MEASURES for s in segment.measures[m].signals]
        if not found:
            continue
        measure, first = found[0]
        point = series.points[first.first]
        side = "above" if first.side > 0 else "below"
        way = ("rising" if first.side > 0 else "falling") if first.rule == "6-one-way" else side
        limits = segment.measures[measure].limits
        where = "" if limits is None else f"; centre {brief(limits.centre, 4)}, s {brief(limits.s, 3)}"
        unit = f" {series.unit}" if measure == "result" and series.unit else {"torque": " %"}.get(measure, "")
        counts = Counter(m for m, _ in found)
        told = ", ".join(f"{n} by {m}" for m, n in counts.items())
        what = "the results" if measure == "result" else f"the {measure} of the results"
        severity = Severity.WARNING if measure == "result" else Severity.ADVICE
        yield _say(
            "TRD05", severity, point,
            f"{method}, {series.name}{f' on {series.instrument}' if series.instrument else ''}, segment "
            f"{segment.number}: {what} break the rule of {RULES[first.rule]} from {point.written} "
            f"({way}{where}{unit}). {len(found)} stretches in the segment in all: {told}.",
            "Look at that day in the record: temperature, spindle and guard, zero, verification, lot.",
            "Or, where the product itself has moved, keep a note of the day and the cause with the method.",
        )  # fmt: skip


def _two_contents(method: str, measured: Sequence[Measured]) -> Iterator[Diagnostic]:
    digests: dict[str, dict[str, Measured]] = {}
    for one in measured:
        if one.setup.digest:
            digests.setdefault(one.setup.revision, {}).setdefault(one.setup.digest, one)
    for revision, firsts in digests.items():
        if len(firsts) > 1:
            later = list(firsts.values())[1]
            yield _say(
                "TRD06", Severity.WARNING, later,
                f"Results of {method} revision {revision or 'not written'} bear {len(firsts)} digests: "
                f"{', '.join(d[:8] for d in list(firsts)[:6])}. What the method says, or the data it rests on, was "
                f"changed without a new revision, from {later.written} on; a break is drawn there.",
                "Raise the revision whenever the method or its reference data change.",
                "Or find which of the two was released, and evaluate the other results again.",
            )  # fmt: skip
