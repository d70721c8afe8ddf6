"""A chart of a study as data: points and lines over a linear or logarithmic axis, with levels across."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fillmark.documents import Label, Picture, Point, Stroke
from fillmark.documents.charts import decades, round_steps
from fillmark.documents.shapes import area, box, line, shortened, spread
from fillmark.quantities import brief

WIDTH, HEIGHT = 178.0, 62.0
LEFT, RIGHT, TOP, BOTTOM = 16.0, 38.0, 7.0, 11.0
"""Room for the numbers of the axes and the names of lines and levels (mm)."""
_LETTERS = 2.4
_NAMED = 24
"""Names that find room under the axis."""
_FAR = 20.0
"""Ratio of the ends of an axis from which a logarithm is the better one."""


@dataclass(frozen=True, slots=True)
class Run:
    """Values of one name: as points, or joined to a line."""

    name: str
    joined: bool
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class _Field:
    x: tuple[float, float]
    y: tuple[float, float]
    logarithmic: bool

    def place(self, x: float, y: float) -> Point:
        low, high = self.x
        share = math.log(x / low) / math.log(high / low) if self.logarithmic else (x - low) / (high - low)
        rise = (y - self.y[0]) / (self.y[1] - self.y[0])
        foot = HEIGHT - BOTTOM
        return LEFT + share * (WIDTH - RIGHT - LEFT), foot - rise * (foot - TOP)


def study_chart(
    *, name: str, title: str, x: str, y: str, runs: Sequence[Run], levels: Sequence[tuple[str, float]] = (),
    ticks: Sequence[tuple[float, str]] = (),
) -> Picture | None:  # fmt: skip
    """Draw values over x; nothing where there is none.

    `levels` are named values of y; `ticks` name values of x in place of numbers.
    """
    points = [p for run in runs for p in run.points]
    if not points:
        return None
    xs, ys = [p[0] for p in points], [p[1] for p in points] + [value for _, value in levels]
    logarithmic = not ticks and min(xs) > 0 and max(xs) / min(xs) >= _FAR
    field = _Field(_ends(xs, logarithmic=logarithmic, named=bool(ticks)), _ends(ys), logarithmic)
    strokes = [box("field", LEFT, TOP, WIDTH - RIGHT, HEIGHT - BOTTOM)]
    for _, value in levels:
        strokes.append(line("across", field.place(field.x[0], value), field.place(field.x[1], value)))
    for number, run in enumerate(runs):
        strokes += _drawn(field, run, number)
    labels = [*_axes(field, x, y, ticks)]
    beside = [(field.place(field.x[1], v)[1], f"{text} {_signed(float(brief(v, 3)))}") for text, v in levels]
    beside += [(field.place(*run.points[-1])[1], run.name) for run in runs if run.joined and run.points]
    more, leaders = _beside(beside)
    labels += more
    strokes += leaders
    open_marks = [run.name for number, run in enumerate(runs) if not run.joined and number % 2]
    if open_marks:
        solid = [run.name for number, run in enumerate(runs) if not run.joined and not number % 2]
        key = f"filled: {', '.join(solid)}; open: {', '.join(open_marks)}"
        labels.append(Label(key, WIDTH - RIGHT, TOP - 1.6, "end", size=_LETTERS))
    about = f"{len(points)} values; " + "; ".join(f"{text} {brief(value, 3)}" for text, value in levels)
    return Picture(name, title, about.rstrip("; "), WIDTH, HEIGHT, tuple(strokes), tuple(labels))


def _ends(values: Sequence[float], *, logarithmic: bool = False, named: bool = False) -> tuple[float, float]:
    """Give the ends of an axis, a little beyond the values."""
    low, high = min(values), max(values)
    if logarithmic:
        return low / 1.2, high * 1.2
    if named:
        return low - 0.6, high + 0.6
    room = 0.07 * (high - low) or 0.05 * abs(high) or 1.0
    return low - room, high + room


def _drawn(field: _Field, run: Run, number: int) -> list[Stroke]:
    places = [field.place(*p) for p in run.points]
    if run.joined:
        marks = [_mark(p, number) for p in places] if len(places) <= 30 else []
        return [line("curve" if number % 2 == 0 else "curve-fluid", *places), *marks]
    return [_mark(p, number) for p in places]


def _mark(at: Point, number: int) -> Stroke:
    x, y = at
    if number % 2:
        return area("target", (x, y - 1.1), (x + 1.1, y), (x, y + 1.1), (x - 1.1, y))
    return box("dot", x - 0.7, y - 0.7, x + 0.7, y + 0.7)


def _axes(field: _Field, x: str, y: str, ticks: Sequence[tuple[float, str]]) -> list[Label]:
    foot = HEIGHT - BOTTOM
    if ticks:
        step = -(-len(ticks) // _NAMED)
        room = (WIDTH - RIGHT - LEFT) / max(1, len(ticks[::step])) - 0.5
        across = [(at, shortened(text, room, _LETTERS)) for at, text in ticks[::step]]
        if len({text for _, text in across}) < len(across):
            across = [(at, brief(at)) for at, _ in across]
            x = f"{x}, by its row in the table"
    elif field.logarithmic:
        across = [(v, brief(v, 2)) for v in decades(*field.x)]
    else:
        across = [(v, _signed(v)) for v in round_steps(*field.x, 8)]
    labels = [
        Label(text, round(field.place(v, field.y[0])[0], 2), foot + 3.2, size=_LETTERS) for v, text in across
    ]
    labels += [
        Label(_signed(v), LEFT - 1.0, round(field.place(field.x[0], v)[1] + 0.8, 2), "end", size=_LETTERS)
        for v in round_steps(*field.y, 6)
    ]
    labels.append(Label(x, round((LEFT + WIDTH - RIGHT) / 2, 2), HEIGHT - 2.4))
    labels.append(Label(y, 0.0, TOP - 1.6, "start"))
    return labels


def _signed(value: float) -> str:
    text = brief(abs(value), 5)
    return f"\u2212{text}" if value < 0 and text != "0" else text


def _beside(named: Sequence[tuple[float, str]]) -> tuple[list[Label], list[Stroke]]:
    """Name levels and lines at their right end, clear of each other."""
    if not named:
        return [], []
    at = spread([y for y, _ in named], [3.0] * len(named), TOP, HEIGHT - BOTTOM)
    edge = WIDTH - RIGHT + 3.0
    labels = [
        Label(shortened(text, WIDTH - edge), edge, round(y + 0.9, 2), "start")
        for (_, text), y in zip(named, at, strict=True)
    ]
    strokes = [
        line("leader", (WIDTH - RIGHT, wanted), (edge - 0.5, y))
        for (wanted, _), y in zip(named, at, strict=True)
    ]
    return labels, strokes
