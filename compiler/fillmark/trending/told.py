"""Trends as text for a terminal, as JSON in the shape of `schemas/trend.schema.json`, and as CSV."""

import json
import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime
from typing import Any

from fillmark import __version__
from fillmark.diagnostics import Diagnostic
from fillmark.physics.control import RULES
from fillmark.quantities import brief, counted
from fillmark.spreadsheet import csv_bytes
from fillmark.trending.measured import Collection, Measured
from fillmark.trending.trends import MEASURES, PARTS, Controlled, Segment, Series, Trend

WIDTH = 100
SHOWN = 12
"""Segments, findings and corrections that the text lists at most; JSON has them all."""

REASONS = {"1": "copied wrongly", "2": "misread", "3": "arithmetic", "4": "wrong field", "5": "other"}
"""Reason codes of corrections, as the data sheet prints them."""

HEADINGS = (
    "method", "revision", "digest", "result", "unit", "measured", "measured UTC", "segment", "instrument", "spring",
    "spindle", "guard", "container", "lot", "sample", "analyst", "value", "bound", "reported", "verdict",
    "lower limit", "upper limit", "torque (%)", "temperature (°C)", "stands", "file", "line",
)  # fmt: skip


def moment(seconds: float) -> str:
    """Write a time in UTC."""
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def what_changed(changes: Iterable[tuple[str, str, str]]) -> str:
    """Say the changes of a break in words."""
    return "; ".join(
        f"{PARTS[part]}: {_short(part, was)} before, {_short(part, now)} after" for part, was, now in changes
    )


def _short(part: str, text: str) -> str:
    return (text[:8] if part == "digest" else text) or "not written"


def reason_in_words(code: str) -> str:
    """Say a reason code of a correction."""
    return f"{code} {REASONS[code]}" if code in REASONS else code or "no reason written"


# --- text


def text(trends: Sequence[Trend], collection: Collection) -> str:
    """Write trends for a terminal."""
    lines: list[str] = [in_all(collection)]
    for trend in trends:
        lines += ["", f"{trend.method}  {trend.title}"]
        if trend.demonstration:
            lines.append("DEMONSTRATION: invented data")
        for series in trend.series:
            lines += _series(series)
        lines += _tallies(trend)
    return "\n".join(
        part
        for row in lines
        for part in (textwrap.wrap(row, WIDTH, subsequent_indent="    ", drop_whitespace=True) or [""])
    )


def in_all(collection: Collection) -> str:
    """Say what was read, and what was not."""
    parts = [f"{counted(collection.results, 'result')} taken in from {counted(collection.files, 'file')}"]
    if collection.broken:
        parts.append(f"{collection.broken} left out because they cannot be used")
    if collection.twice:
        parts.append(f"{collection.twice} left out because they come twice")
    if collection.hollow:
        parts.append(f"{collection.hollow} of them without a line of results")
    if collection.other:
        parts.append(f"{collection.other} of other methods")
    return "; ".join(parts) + "."


def _series(series: Series) -> Iterator[str]:
    on = f" on {series.instrument}" if series.instrument else ""
    unit = f" {series.unit}" if series.unit else ""
    yield f"  {series.name}{on}: {counted(len(series.points), 'result')}, {counted(len(series.breaks), 'break')}"
    for segment in series.segments[-SHOWN:]:
        first, last = series.points[segment.first], series.points[segment.last]
        yield f"    {segment.number}. {first.written} to {last.written}, {setup_in_words(segment)}"
        yield f"       {_in_numbers(segment.measures['result'], unit)}{_apart(segment)}"
        for measure in MEASURES:
            for signal, n in Counter(s.rule for s in segment.measures[measure].signals).items():
                yield f"       {measure}: {RULES[signal]}{f', {n} times' if n > 1 else ''}"
    if len(series.segments) > SHOWN:
        yield f"    {len(series.segments) - SHOWN} earlier segments: --format json"


def setup_in_words(segment: Segment) -> str:
    """Say what a segment was measured with."""
    s = segment.setup
    words = [f"revision {s.revision or 'not written'}"]
    words += [f"{PARTS[k]} {v}" for k, v in s._asdict().items() if k not in ("revision", "digest") and v]
    return ", ".join(words)


def _in_numbers(one: Controlled, unit: str) -> str:
    if one.mean is None:
        return "no value to average"
    numbers = f"{counted(one.count, 'value')}, mean {brief(one.mean, 4)}{unit}"
    if one.limits is None:
        return f"{numbers}; no limits: {one.why}"
    low, high = (brief(v, 4) for v in (one.limits.lower, one.limits.upper))
    return f"{numbers}, s {brief(one.limits.s, 3)}, 3 s from {low} to {high}"


def _apart(segment: Segment) -> str:
    told = (
        (segment.bounds, "bound, not averaged" if segment.bounds == 1 else "bounds, not averaged"),
        (segment.void, "that does not stand" if segment.void == 1 else "that do not stand"),
        (segment.empty, "without a number"),
        (segment.outside, "outside the limits"),
    )
    words = ", ".join(f"{n} {what}" for n, what in told if n)
    return f"; {words}" if words else ""


def _tallies(trend: Trend) -> Iterator[str]:
    if trend.findings:
        yield "  What the evaluation found most often:"
        for code, slug, severity, n in trend.findings[:SHOWN]:
            yield f"    {n} times {code} {slug} ({severity})"
    if trend.corrections:
        yield "  What was corrected most often (a caution or a clearer step belongs there):"
        for entry, reason, n in trend.corrections[:SHOWN]:
            yield f"    {n} times {entry or 'an entry'}: {reason_in_words(reason)}"


# --- JSON


def as_json(trends: Sequence[Trend], collection: Collection, said: Sequence[Diagnostic]) -> str:
    """Write trends, counts and what is to be said as one JSON text; the single results are in the CSV."""
    whole = {
        "fillmark": __version__,
        "read": {
            "files": collection.files,
            "results": collection.results,
            "broken": collection.broken,
            "twice": collection.twice,
            "without_line": collection.hollow,
            "other_methods": collection.other,
            "times_with_offset": collection.zoned,
            "times_without_offset": collection.unzoned,
        },
        "methods": [_trend(t) for t in trends],
        "findings": [finding_as_data(d) for d in said],
    }
    return json.dumps(whole, ensure_ascii=False, indent=1)


def finding_as_data(d: Diagnostic) -> dict[str, Any]:
    """Give a finding as plain data, in the shape the schemas of trend and verification have for it."""
    return {
        "code": d.code,
        "slug": d.slug,
        "severity": d.severity.word,
        "message": d.message,
        "file": d.file,
        "line": d.span.line,
        "column": d.span.column,
        "ways_out": list(d.ways_out),
    }


def _trend(t: Trend) -> dict[str, Any]:
    return {
        "id": t.method,
        "title": t.title,
        "product": t.product,
        "demonstration": t.demonstration,
        "records": t.records,
        "series": [_one_series(s) for s in t.series],
        "findings": [
            {"code": code, "slug": slug, "severity": severity, "results": n}
            for code, slug, severity, n in t.findings
        ],
        "corrections": [{"entry": entry, "reason": reason, "count": n} for entry, reason, n in t.corrections],
    }


def _one_series(s: Series) -> dict[str, Any]:
    return {
        "result": s.name,
        "unit": s.unit,
        "instrument": s.instrument or None,
        "results": len(s.points),
        "segments": [_segment(x, s.points) for x in s.segments],
        "breaks": [
            {
                "number": b.number,
                "from": moment(s.points[b.at].at),
                "changes": [{"part": part, "before": was, "after": now} for part, was, now in b.changes],
            }
            for b in s.breaks
        ],
    }


def _segment(segment: Segment, points: Sequence[Measured]) -> dict[str, Any]:
    return {
        "number": segment.number,
        "from": moment(points[segment.first].at),
        "to": moment(points[segment.last].at),
        "setup": segment.setup._asdict(),
        "specification": segment.specification._asdict(),
        "results": segment.last - segment.first + 1,
        "bounds": segment.bounds,
        "do_not_stand": segment.void,
        "without_number": segment.empty,
        "outside": segment.outside,
        "measures": {m: _controlled(segment.measures[m], points) for m in MEASURES},
    }


def _controlled(one: Controlled, points: Sequence[Measured]) -> dict[str, Any]:
    return {
        "values": one.count,
        "mean": one.mean,
        "least": one.least,
        "most": one.most,
        "limits": None if one.limits is None else one.limits._asdict(),
        "no_limits_because": one.why or None,
        "signals": [
            {
                "rule": s.rule,
                "side": "high" if s.side > 0 else "low",
                "from": moment(points[s.first].at),
                "to": moment(points[s.last].at),
                "first": {"file": points[s.first].file, "line": points[s.first].line},
            }
            for s in one.signals
        ],
    }


# --- CSV


def as_csv(trends: Iterable[Trend]) -> bytes:
    """Write every result that was taken in, one a row, as a table that a spreadsheet opens as what it says."""
    return csv_bytes(_rows(trends))


def _rows(trends: Iterable[Trend]) -> Iterator[Sequence[object]]:
    yield HEADINGS
    for trend in trends:
        for series in trend.series:
            for segment in series.segments:
                for p in series.points[segment.first : segment.last + 1]:
                    s = p.setup
                    yield (
                        p.method, s.revision, s.digest[:12], p.name, p.unit, p.written, moment(p.at), segment.number,
                        s.instrument, s.spring, s.spindle, s.guard, s.container, p.lot, p.sample, p.analyst,
                        p.edge if p.bound else p.value, p.bound, p.reported, p.verdict, p.limits.lower,
                        p.limits.upper, p.torque, p.temperature, "yes" if p.stands else "no", p.file, p.line,
                    )  # fmt: skip
