"""A chart over time as data: values with their breaks, control limits of each segment, limits and bounds.

However many values there are, a chart keeps to a few marks for each column of the paper, and of each column the
least and the most are drawn: no extreme vanishes. No line crosses a break. Marks differ by shape, lines by dash.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from fillmark.documents import Label, Picture, Point, Stroke, Table
from fillmark.documents.charts import round_steps
from fillmark.documents.shapes import area, box, line, shortened, spread, text_width
from fillmark.quantities import brief, fixed

WIDTH = 186.0
LEFT, RIGHT, TOP, BOTTOM = 15.0, 36.0, 9.5, 12.0
"""Room for the numbers of the axes, the names of the lines, the numbers of the breaks and the key (mm)."""
COLUMNS_PER_MM = 4
"""Fineness to which values are thinned: about that of a printer whose dots can be told apart."""
SINGLE_MARKS = 220
"""Values up to which each bears a mark; beyond, the line alone is drawn."""
MARK_WIDTH = 2.5
"""Room (mm) that the lowest and the highest mark of a kind take where there are too many to draw them all."""
FAR = 0.5
"""Share of the range of the values by which a bound may widen it; one farther off stands at the edge."""
DAY = 86_400.0
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

Pairs = Sequence[Point]


@dataclass(frozen=True, slots=True)
class Stretch:
    """One segment: its values in the order of time, and what they are held against."""

    points: tuple[Point, ...]
    """Seconds since 1970 in UTC, and the value."""
    start: float
    end: float
    centre: float | None = None
    lower: float | None = None
    upper: float | None = None


@dataclass(frozen=True, slots=True)
class Mark:
    """A value that is more than a point of the line."""

    kind: str
    """A key of `KEY`."""
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Level:
    """A limit that holds for a time."""

    name: str
    y: float
    start: float
    end: float


KEY = {
    "value": "value",
    "outside": "outside the limits",
    "signal": "beyond 3 s",
    "above": "bound: at least",
    "below": "bound: at most",
    "void": "does not stand",
}
"""Kinds of marks, in the order of the key under the chart, with what each says."""

BOUNDS = ("above", "below")


def control_chart(
    *,
    name: str,
    title: str,
    about: str,
    axis: str,
    height: float,
    stretches: Sequence[Stretch],
    marks: Sequence[Mark] = (),
    levels: Sequence[Level] = (),
    breaks: Sequence[tuple[float, str]] = (),
    words: dict[str, str] | None = None,
    table: Table | None = None,
) -> Picture | None:
    """Draw values over time; nothing where there is none.

    `breaks` are times with the short label that stands over each; `words` take the place of those of `KEY`.
    """
    times = [
        *(t for s in stretches for t in (s.start, s.end)),
        *(m.x for m in marks),
        *(at for at, _ in breaks),
    ]
    values = [y for s in stretches for _, y in s.points] + [m.y for m in marks if m.kind not in BOUNDS]
    if not values and not marks:
        return None
    values += [v for s in stretches for v in (s.centre, s.lower, s.upper) if v is not None]
    values += [level.y for level in levels]
    values = values or [m.y for m in marks]
    far = FAR * (max(values) - min(values))
    floor, ceiling = min(values) - far, max(values) + far
    marks = [replace(m, y=min(ceiling, max(floor, m.y))) if m.kind in BOUNDS else m for m in marks]
    values += [m.y for m in marks]
    left, right = LEFT, WIDTH - RIGHT
    foot = height - BOTTOM
    start, end = _time_ends(times)
    low, high = _value_ends(values)

    def place(x: float, y: float) -> Point:
        return (
            left + (x - start) / (end - start) * (right - left),
            foot - (y - low) / (high - low) * (foot - TOP),
        )

    strokes = [box("field", left, TOP, right, foot)]
    step = (right - left) * COLUMNS_PER_MM / (end - start)

    def column(x: float) -> int:
        return math.floor((x - start) * step)

    wide = [s for s in stretches if column(s.end) > column(s.start)]
    strokes += _breaks([at for at, _ in breaks], place, foot)
    runs = [thinned(s.points, column) for s in wide]
    strokes.append(Stroke("run", tuple(tuple(place(*p) for p in run) for run in runs if len(run) > 1)))
    limits = [line("specification", place(v.start, v.y), place(v.end, v.y)) for v in levels]
    limits += _limits(wide, place)
    if sum(len(s.points) for s in wide) > SINGLE_MARKS:  # else they would drown in the black of the line
        strokes += [Stroke("halo", stroke.runs) for stroke in limits]
    strokes += limits
    # What is too narrow for a line of its own is marked, lest it vanish.
    single = [Mark("value", *p) for s in stretches if column(s.end) <= column(s.start) for p in s.points]
    single += [Mark("value", *run[0]) for run in runs if len(run) == 1]
    if sum(len(s.points) for s in wide) <= SINGLE_MARKS:
        single += [Mark("value", *p) for run in runs for p in run if len(run) > 1]
    few = _few([*single, *marks], lambda x: column(x) // round(MARK_WIDTH * COLUMNS_PER_MM))
    strokes += _together(s for m in few for s in drawn_mark(m.kind, *place(m.x, m.y)))
    used = {m.kind for m in few}
    labels = [Label(axis, 0.0, 2.6, "start")]
    labels += _numbers(place, (start, end), (low, high), foot)
    labels += _numbered(breaks, place, right)
    more, leaders = _names(stretches, levels, place, right, foot)
    labels += more
    strokes += leaders
    told = {**KEY, **(words or {})}
    more, keys = _key([k for k in KEY if k in used], told, height)
    drawn = tuple(s for s in (*strokes, *keys) if s.runs)
    return Picture(name, title, about, WIDTH, height, drawn, (*labels, *more), table)


def thinned(points: Pairs, column: Callable[[float], int]) -> list[Point]:
    """Keep of each column the first, the least, the most and the last value, in the order of time."""
    kept: list[Point] = []
    inside: list[int] = []

    def close() -> None:
        if inside:
            least = min(inside, key=lambda i: points[i][1])
            most = max(inside, key=lambda i: points[i][1])
            kept.extend(points[i] for i in sorted({inside[0], least, most, inside[-1]}))

    at: int | None = None
    for index, (x, _) in enumerate(points):
        here = column(x)
        if here != at:
            close()
            inside, at = [], here
        inside.append(index)
    close()
    return kept


def _few(marks: Iterable[Mark], column: Callable[[float], int]) -> list[Mark]:
    """Keep of each kind the lowest and the highest mark of each column; all of them where they are few."""
    marks = list(marks)
    if len(marks) <= 2 * SINGLE_MARKS:
        return marks
    kept: dict[tuple[str, int], list[Mark]] = {}
    for mark in marks:
        ends = kept.setdefault((mark.kind, column(mark.x)), [mark, mark])
        if mark.y < ends[0].y:
            ends[0] = mark
        if mark.y > ends[1].y:
            ends[1] = mark
    return [m for low, high in kept.values() for m in ((low,) if low is high else (low, high))]


def _together(strokes: Iterable[Stroke]) -> list[Stroke]:
    """Make one stroke of all that look alike: a page of many marks stays small."""
    runs: dict[tuple[str, bool], list[tuple[Point, ...]]] = {}
    for stroke in strokes:
        runs.setdefault((stroke.kind, stroke.closed), []).extend(stroke.runs)
    return [Stroke(kind, tuple(found), closed=closed) for (kind, closed), found in runs.items()]


def drawn_mark(kind: str, x: float, y: float) -> list[Stroke]:
    """Draw a mark; each kind has a shape of its own."""
    if kind == "value":
        h = 0.45
        return [area("value", (x, y - h), (x + h, y), (x, y + h), (x - h, y))]
    if kind == "outside":
        return [box("outside", x - 0.85, y - 0.85, x + 0.85, y + 0.85)]
    if kind == "signal":
        h = 1.5
        return [area("signal", (x, y - h), (x + h, y), (x, y + h), (x - h, y))]
    if kind == "void":
        h = 0.9
        return [Stroke("void-mark", (((x - h, y - h), (x + h, y + h)), ((x - h, y + h), (x + h, y - h))))]
    way = -1.0 if kind == "above" else 1.0
    tip = y + way * 2.4
    return [
        line("bound", (x, y), (x, tip)),
        line("bound", (x - 0.8, y), (x + 0.8, y)),
        area("bound-head", (x, tip + way * 1.3), (x - 0.8, tip), (x + 0.8, tip)),
    ]


def _time_ends(times: Sequence[float]) -> tuple[float, float]:
    start, end = min(times), max(times)
    room = max((end - start) * 0.015, 3600.0)
    return start - room, end + room


def _value_ends(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    # Room for marks, and some for values that hardly differ: the last digit of a float is no scatter.
    room = max((high - low) * 0.08, 2e-4 * max(abs(low), abs(high))) or 1.0
    return low - room, high + room


def _limits(stretches: Sequence[Stretch], place: Callable[[float, float], Point]) -> list[Stroke]:
    found: dict[str, list[tuple[Point, ...]]] = {"centre": [], "control": []}
    for s in stretches:
        for kind, y in (("centre", s.centre), ("control", s.lower), ("control", s.upper)):
            if y is not None:
                found[kind].append((place(s.start, y), place(s.end, y)))
    return [Stroke(kind, tuple(runs)) for kind, runs in found.items()]


def _breaks(times: Sequence[float], place: Callable[[float, float], Point], foot: float) -> list[Stroke]:
    """Draw an upright line at each break, no more than the paper can tell apart."""
    places = sorted({round(place(at, 0.0)[0] * COLUMNS_PER_MM) / COLUMNS_PER_MM for at in times})
    return [Stroke("break", tuple(((x, TOP), (x, foot)) for x in places))]


def _numbered(
    breaks: Sequence[tuple[float, str]], place: Callable[[float, float], Point], right: float
) -> list[Label]:
    """Label the breaks over the chart as far as there is room; the first of those that crowd keeps its label."""
    labels: list[Label] = []
    edge = -math.inf
    for at, text in breaks:
        half = text_width(text, 2.3) / 2
        x = min(max(place(at, 0.0)[0], LEFT + half), right - half)
        if x - half > edge:
            labels.append(Label(text, round(x, 2), TOP - 1.2, size=2.3))
            edge = x + half + 0.8
    return labels


def _numbers(
    place: Callable[[float, float], Point],
    times: tuple[float, float],
    values: tuple[float, float],
    foot: float,
) -> list[Label]:
    size = 2.3
    steps = round_steps(*values, 6)
    apart = steps[1] - steps[0] if len(steps) > 1 else abs(steps[0]) if steps else 1.0
    decimals = min(9, max(0, -math.floor(math.log10(apart or 1.0) + 1e-9)))
    labels = [
        Label(
            shortened(_signed(y, decimals), LEFT - 1.2, size), LEFT - 1.0,
            round(place(times[0], y)[1] + 0.8, 2), "end", size=size,
        )
        for y in steps
    ]  # fmt: skip
    edge = -math.inf
    for at, text in time_marks(*times):
        x, half = place(at, values[0])[0], text_width(text, size) / 2
        if x - half > edge and x + half < WIDTH:
            labels.append(Label(text, round(x, 2), round(foot + 3.7, 2), size=size))
            edge = x + half + 1.0
    return labels


def _signed(value: float, decimals: int) -> str:
    if abs(value) >= 1e7:
        return brief(value, 4)
    text = fixed(value, decimals)
    return text.replace("-", "\u2212")


def _in_brief(value: float) -> str:
    return brief(value, 4).replace("-", "\u2212")


def time_marks(start: float, end: float, most: int = 7) -> list[tuple[float, str]]:
    """Give round moments between two times with their names, at most about so many: years down to minutes, in UTC."""
    span = (end - start) / most
    first = _EPOCH + timedelta(seconds=start)
    if span > 27 * DAY:
        months = next(
            k for k in (1, 2, 3, 6, 12, 24, 60, 120, 600, 1200) if k * 30.4 * DAY >= span or k == 1200
        )
        marks: list[tuple[float, str]] = []
        index = -(-(first.year * 12 + first.month - 1) // months) * months
        while index // 12 < 9999:
            at = datetime(index // 12, index % 12 + 1, 1, tzinfo=UTC).timestamp()
            if at > end:
                break
            if at >= start:
                marks.append((at, f"{index // 12}" if months >= 12 else f"{index // 12}-{index % 12 + 1:02}"))
            index += months
        return marks
    sizes = [(n * DAY, "%m-%d") for n in (1, 2, 7, 14)]
    clock = [(m * 60.0, "%H:%M") for m in (1, 5, 15, 60, 180, 360, 720)]
    size, form = next(((s, f) for s, f in clock + sizes if s >= span), sizes[-1])
    # Whole weeks begin on Mondays: 1970-01-05 was one.
    origin = 4 * DAY if size % (7 * DAY) == 0 else 0.0
    at = origin + math.ceil((start - origin) / size) * size
    marks = []
    while at <= end:
        moment = _EPOCH + timedelta(seconds=at)
        if not marks:
            text = moment.strftime("%Y-%m-%d" if size >= DAY else "%Y-%m-%d %H:%M")
        elif size < DAY and moment.hour == moment.minute == 0:
            text = moment.strftime("%m-%d")
        else:
            text = moment.strftime(form)
        marks.append((at, text))
        at += size
    return marks


def _names(
    stretches: Sequence[Stretch],
    levels: Sequence[Level],
    place: Callable[[float, float], Point],
    right: float,
    foot: float,
) -> tuple[list[Label], list[Stroke]]:
    """Name the lines that reach the right end: those of the last segment, and the limits that hold last."""
    named: list[tuple[float, float, str]] = []
    if stretches:
        last = max(stretches, key=lambda s: s.end)
        for y, text in ((last.upper, "+3 s"), (last.centre, "centre"), (last.lower, "\u22123 s")):
            if y is not None:
                named.append((place(last.end, y)[0], y, f"{text} {_in_brief(y)}"))
    latest: dict[str, Level] = {}
    for level in levels:
        if level.name not in latest or level.end >= latest[level.name].end:
            latest[level.name] = level
    named += [(place(v.end, v.y)[0], v.y, f"{v.name} {_in_brief(v.y)}") for v in latest.values()]
    named.sort(key=lambda n: -n[1])
    heights = [place(0.0, y)[1] for _, y, _ in named]
    at = spread(heights, [2.9] * len(named), TOP - 1.0, foot + 1.0, gap=0.1)
    edge = right + 3.2
    labels = [
        Label(shortened(text, WIDTH - edge), edge, round(y + 0.9, 2), "start")
        for (_, _, text), y in zip(named, at, strict=True)
    ]
    strokes = [
        line("leader", (x, wanted), (right, wanted), (edge - 0.5, y))
        for (x, _, _), wanted, y in zip(named, heights, at, strict=True)
    ]
    return labels, strokes


def _key(kinds: Sequence[str], words: dict[str, str], height: float) -> tuple[list[Label], list[Stroke]]:
    """Draw the marks once more in a row under the chart, with what they say."""
    labels: list[Label] = []
    strokes: list[Stroke] = []
    x, y = LEFT, height - 2.4
    for kind in kinds:
        shift = {"above": 1.4, "below": -1.4}.get(kind, 0.0)
        strokes += drawn_mark(kind, x + 1.0, y - 0.9 + shift)
        text = words[kind]
        labels.append(Label(text, round(x + 3.2, 2), round(y, 2), "start", size=2.3))
        x += 3.2 + text_width(text, 2.3) + 3.0
    return labels, strokes
