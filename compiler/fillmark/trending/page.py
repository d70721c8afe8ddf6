"""The page of a method's trend: charts with the tables that say the same, alone in one file, without a script."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

from fillmark import __version__
from fillmark.diagnostics import Diagnostic
from fillmark.documents import Picture
from fillmark.documents.control_chart import Level, Mark, Stretch, control_chart
from fillmark.physics.control import RULES, Signal
from fillmark.quantities import brief, counted
from fillmark.render import templates
from fillmark.trending.measured import Measured
from fillmark.trending.told import reason_in_words, setup_in_words, what_changed
from fillmark.trending.trends import MEASURES, Series, Trend, averaged

ROWS = 40
"""Rows of a table on the page; what is more is told and stands in JSON and CSV."""
DRAWN = 12
"""Series that are drawn on one page."""
FEW = 40
"""Results up to which each has a row of its own; beyond, a row is a day, a week, a month or more."""

HEIGHTS = {"result": 66.0, "torque": 44.0, "temperature": 44.0}
"""Heights of the charts (mm)."""

Row = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """A table on the page: headings, rows, and how many rows are not there."""

    headings: Row
    rows: tuple[Row, ...]
    more: int = 0


@dataclass(frozen=True, slots=True)
class Panel:
    """One series: its charts and tables."""

    number: int
    title: str
    facts: str
    pictures: tuple[tuple[Picture, str], ...]
    """With what there is to say of it."""
    points: Shown
    segments: Shown
    breaks: Shown
    signals: Shown


def page(trend: Trend, said: Sequence[Diagnostic], read: str, *, today: date) -> bytes:
    """Make the page; `said` is what there is to say of the results, `read` what was read and what was not."""
    return (
        templates()
        .get_template("trend.html")
        .render(
            trend=trend,
            panels=[_panel(number, series) for number, series in enumerate(trend.series[:DRAWN], 1)],
            left_out=trend.series[DRAWN:],
            said=said[:ROWS],
            unsaid=max(0, len(said) - ROWS),
            read=read,
            rules=RULES,
            findings=Shown(
                ("results", "code", "what", "weight"),
                tuple((str(n), code, slug, weight) for code, slug, weight, n in trend.findings[:ROWS]),
                max(0, len(trend.findings) - ROWS),
            ),
            corrections=Shown(
                ("times", "entry", "reason"),
                tuple((str(n), entry or "not named", reason_in_words(code)) for entry, code, n in
                      trend.corrections[:ROWS]),
                max(0, len(trend.corrections) - ROWS),
            ),
            today=today.isoformat(),
            version=__version__,
        )
        .encode()
    )  # fmt: skip


def _panel(number: int, series: Series) -> Panel:
    on = f" on {series.instrument}" if series.instrument else ""
    first, last = series.points[0], series.points[-1]
    facts = f"{counted(len(series.points), 'result')}, {in_short(first)} to {in_short(last)}"
    if series.breaks:
        facts += f"; {counted(len(series.breaks), 'break')}"
    pictures = tuple(_pictures(number, series))
    return Panel(
        number, f"{series.name}{on}", facts, pictures, _points(series), _segments(series), _broken(series),
        _signals(series),
    )  # fmt: skip


def _pictures(number: int, series: Series) -> Iterator[tuple[Picture, str]]:
    on = f" on {series.instrument}" if series.instrument else ""
    breaks = [(series.points[b.at].at, str(b.number)) for b in series.breaks]
    axes = {
        "result": f"{series.name}{f' ({series.unit})' if series.unit else ''}",
        "torque": "torque (%)",
        "temperature": "temperature in the sample (°C)",
    }
    for measure in MEASURES:
        stretches = _stretches(series, measure)
        levels = _levels(series.points) if measure == "result" else []
        picture = control_chart(
            name=f"series-{number}-{measure}",
            title=f"{series.name}{on}: {measure} over time",
            about=_about(series, measure),
            axis=axes[measure],
            height=HEIGHTS[measure],
            stretches=stretches,
            marks=_marks(series, measure),
            levels=levels,
            breaks=breaks,
            words={} if measure == "result" else {"void": "not averaged: a bound, or does not stand"},
        )
        if picture is not None:
            yield picture, _caption(series, measure, stretches)


def _stretches(series: Series, measure: str) -> list[Stretch]:
    found = []
    for segment in series.segments:
        part = series.points[segment.first : segment.last + 1]
        limits = segment.measures[measure].limits
        centre, lower, upper = (
            (None, None, None) if limits is None else (limits.centre, limits.lower, limits.upper)
        )
        points = tuple((p.at, v) for p in part if (v := averaged(p, measure)) is not None)
        found.append(Stretch(points, part[0].at, part[-1].at, centre, lower, upper))
    return found


def _marks(series: Series, measure: str) -> list[Mark]:
    """Mark bounds, what does not stand, what is outside its limits, and single values beyond 3 s."""
    marks: list[Mark] = []
    for p in series.points:
        if measure == "result":
            if p.bound and p.edge is not None:
                marks.append(Mark("above" if p.bound == ">" else "below", p.at, p.edge))
            elif p.value is not None and not p.stands:
                marks.append(Mark("void", p.at, p.value))
            if p.value is not None and p.verdict == "out":
                marks.append(Mark("outside", p.at, p.value))
            continue
        value = p.torque if measure == "torque" else p.temperature
        if value is not None and averaged(p, measure) is None:
            marks.append(Mark("void", p.at, value))
    for segment in series.segments:
        for signal in segment.measures[measure].signals:
            if signal.rule == "beyond-3s":
                for p in series.points[signal.first : signal.last + 1]:
                    value = averaged(p, measure)
                    if value is not None:
                        marks.append(Mark("signal", p.at, value))
    return marks


def _levels(points: Sequence[Measured]) -> list[Level]:
    """Give the limits of the specification for as long as each held."""
    found: list[Level] = []
    for which, name in (("lower", "lower limit"), ("upper", "upper limit")):
        held: list[tuple[float, float, float]] = []
        before: float | None = None
        for p in points:
            now: float | None = getattr(p.limits, which)
            if now is not None and now == before:
                held[-1] = (now, held[-1][1], p.at)
            elif now is not None:
                held.append((now, p.at, p.at))
            before = now
        found += [Level(name, y, start, end) for y, start, end in held[-ROWS:]]
    return found


def _about(series: Series, measure: str) -> str:
    count = sum(s.measures[measure].count for s in series.segments)
    bounds, void = sum(s.bounds for s in series.segments), sum(s.void for s in series.segments)
    words = [f"{counted(count, 'value')} in {counted(len(series.segments), 'segment')}"]
    if bounds:
        words.append(f"{counted(bounds, 'bound')}, drawn as such and not averaged")
    if void:
        words.append(f"{void} that do not stand, not averaged")
    return "; ".join(words) + ". The table of the segments says the same in numbers."


def _caption(series: Series, measure: str, stretches: Sequence[Stretch]) -> str:
    parts = []
    if any(s.centre is not None for s in stretches):
        parts.append("Centre (dash and dot) and 3 s (dashed) are those of each segment alone.")
    without = sum(s.measures[measure].limits is None for s in series.segments)
    if without == len(series.segments) == 1:
        parts.append(f"No centre and no 3 s: {series.segments[0].measures[measure].why}.")
    elif without:
        parts.append(
            f"{without} of {len(series.segments)} segments have no centre and no 3 s: see the table of segments."
        )
    return " ".join(parts)


def _points(series: Series) -> Shown:
    """Give a row for each result where they are few; else one for each span of time, without a mean."""
    points = series.points
    if len(points) <= FEW:
        numbers = {i: str(s.number) for s in series.segments for i in range(s.first, s.last + 1)}
        return Shown(
            ("measured", "lot", "reported", "verdict", "torque (%)", "temperature (°C)", "segment", "stands"),
            tuple(
                (
                    in_short(p), p.lot, (p.reported or "none").replace(" ", "\u00a0"), p.verdict, _number(p.torque, 3),
                    _number(p.temperature, 4), numbers[i], "yes" if p.stands else "NO",
                )
                for i, p in enumerate(points)
            ),
        )  # fmt: skip
    spans = _spans(points)
    rows = tuple(
        (
            name, str(len(part)), *_least_most([p.value for p in part if p.stands]),
            str(sum(bool(p.bound) for p in part)), str(sum(p.verdict == "out" for p in part)),
            *_least_most([p.torque for p in part if p.stands]),
            *_least_most([p.temperature for p in part if p.stands]),
        )
        for name, part in spans
    )  # fmt: skip
    headings = (
        "in", "results", "least", "most", "bounds", "outside", "torque least (%)", "most", "temperature least (°C)",
        "most",
    )  # fmt: skip
    return Shown(headings, rows[-ROWS:], max(0, len(rows) - ROWS))


def _least_most(values: Sequence[float | None]) -> Row:
    known = [v for v in values if v is not None]
    return (_number(min(known)), _number(max(known))) if known else ("", "")


def _number(value: float | None, digits: int = 4) -> str:
    return "" if value is None else brief(value, digits)


def _spans(points: Sequence[Measured]) -> list[tuple[str, list[Measured]]]:
    """Part results by day, week, month, quarter or year: the shortest that needs no more than `ROWS` rows."""
    for form in ("day", "week", "month", "quarter", "year"):
        groups: dict[str, list[Measured]] = {}
        names: dict[int, str] = {}
        for p in points:
            day = int(p.at // 86_400)
            if day not in names:
                names[day] = _span_name(datetime.fromtimestamp(p.at, UTC), form)
            groups.setdefault(names[day], []).append(p)
        if len(groups) <= ROWS:
            break
    return list(groups.items())


def _span_name(at: datetime, form: str) -> str:
    if form == "week":
        year, week, _ = at.isocalendar()
        return f"{year}-W{week:02}"
    if form == "quarter":
        return f"{at.year}-Q{(at.month + 2) // 3}"
    return at.strftime({"day": "%Y-%m-%d", "month": "%Y-%m", "year": "%Y"}[form])


def _segments(series: Series) -> Shown:
    rows = []
    for segment in series.segments[-ROWS:]:
        first, last = series.points[segment.first], series.points[segment.last]
        one, torque = segment.measures["result"], segment.measures["torque"]
        limits = one.limits
        apart = (
            (segment.bounds, "1 bound", "bounds"),
            (segment.void, "1 does not stand", "do not stand"),
            (segment.empty, "1 without number", "without number"),
        )
        rows.append(
            (
                str(segment.number), f"{in_short(first)} to {in_short(last)}", setup_in_words(segment),
                str(one.count), _number(one.mean),
                *(("", one.why) if limits is None else (_number(limits.s, 3), _range(limits.lower, limits.upper))),
                _range(segment.specification.lower, segment.specification.upper), str(segment.outside),
                _number(torque.mean, 3), "; ".join(one if n == 1 else f"{n} {more}" for n, one, more in apart if n),
            )
        )  # fmt: skip
    headings = (
        "no.", "from, to", "with", "values", "mean", "s", "centre ± 3 s", "limits", "outside", "mean torque (%)",
        "apart",
    )  # fmt: skip
    return Shown(headings, tuple(rows), max(0, len(series.segments) - ROWS))


def _range(low: float | None, high: float | None) -> str:
    if low is None:
        return "" if high is None else f"up to {_number(high)}"
    return f"from {_number(low)}" if high is None else f"{_number(low)} to {_number(high)}"


def _broken(series: Series) -> Shown:
    rows = tuple(
        (str(b.number), in_short(series.points[b.at]), what_changed(b.changes)) for b in series.breaks[-ROWS:]
    )
    return Shown(("no.", "from", "what changed"), rows, max(0, len(series.breaks) - ROWS))


def _signals(series: Series) -> Shown:
    found = [
        (m, segment, s) for m in MEASURES for segment in series.segments for s in segment.measures[m].signals
    ]
    if len(found) <= ROWS:
        rows = tuple(
            (
                measure, str(segment.number), RULES[s.rule], _side(s), in_short(series.points[s.first]),
                in_short(series.points[s.last]), series.points[s.first].lot,
            )
            for measure, segment, s in found
        )  # fmt: skip
        return Shown(("of", "segment", "rule", "side", "from", "to", "first lot"), rows)
    groups: dict[tuple[str, int, str], list[Signal]] = {}
    for measure, segment, s in found:
        groups.setdefault((measure, segment.number, s.rule), []).append(s)
    grouped = tuple(
        (
            measure, str(number), RULES[rule], str(len(group)), in_short(series.points[group[0].first]),
            in_short(series.points[group[-1].last]),
        )
        for (measure, number, rule), group in groups.items()
    )  # fmt: skip
    headings = ("of", "segment", "rule", "times", "first", "last")
    return Shown(headings, grouped[:ROWS], max(0, len(grouped) - ROWS))


def _side(signal: Signal) -> str:
    up, down = ("rising", "falling") if signal.rule == "6-one-way" else ("high", "low")
    return up if signal.side > 0 else down


def in_short(point: Measured) -> str:
    """Write the time of a result as on the record, to the minute."""
    return point.written.replace("T", "\u00a0")[:16]
