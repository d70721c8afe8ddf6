"""Pictures of a method as data: which there are, and the bar of the torque that a conforming lot takes.

Every number comes from a figure or from the policy; here it only gets a place on the paper. Each picture has a
title, a description and a table that says the same, so that nobody needs to see it.
"""

from collections.abc import Callable
from dataclasses import dataclass

from fillmark.documents import Cell, Label, Picture, Stroke, Table, Text
from fillmark.documents.charts import conditioning_chart, temperature_chart
from fillmark.documents.setup_drawing import setup_drawing
from fillmark.documents.shapes import area, box, hatch, line, shortened, spread, text_width
from fillmark.documents.terms import torque_window
from fillmark.documents.wording import Phrases, light, on_paper, strong, written
from fillmark.figures import Curves, Figures
from fillmark.model import Method, Step

BAR = 3.6
FLAG = 1.1
ROW = 9.2
"""Heights (mm) of the bar, of the flags at its limits, and from one bar to the next with labels and diamonds."""
BAR_TOP = 4.6
AXIS = 2.7
OFF_SCALE = 5.2
"""Room at either end (mm) for marks that lie off the scale."""
NAMES = 24.0
"""Widest name before a bar (mm)."""

MARKS = {"lower": "picture-lower", "target": "picture-target", "upper": "picture-upper"}
"""The torques that bear a mark, with the phrases that name them."""


@dataclass(frozen=True, slots=True)
class Bar:
    """The torques (%) of one step of the run, and how they are written; None and empty where there is none."""

    step: Step
    name: str
    values: dict[str, float]
    """By lower, target, upper, lower_worst, upper_worst."""
    texts: dict[str, str]
    worst: str
    """The worst case from end to end."""


@dataclass(frozen=True, slots=True)
class Zones:
    """The torques (%) at which a bar changes its face, with the texts of the policy."""

    floor: float
    preferred: float
    top: float
    ceiling: float
    texts: tuple[str, ...]


def all_of(method: Method, figures: Figures, curves: Curves | None = None) -> tuple[Picture, ...]:
    """Draw every picture of a method in the order in which they are read; one without data is left out.

    `curves` are those of `derive.curves`; without them there are no charts.
    """
    phrases = Phrases(method.reference.phrases)
    drawn = [torque_picture(method, figures, phrases, width=150.0), setup_drawing(method, figures, phrases)]
    if curves is not None:
        drawn += [
            conditioning_chart(method, figures, curves, phrases),
            temperature_chart(method, curves, phrases),
        ]
    return tuple(picture for picture in drawn if picture is not None)


def zones(method: Method) -> Zones:
    """Read the edges of the zones from the policy."""
    policy = method.reference.policy
    keys = ("torque_floor", "torque_preferred", "verification_torque_ceiling", "torque_ceiling")
    floor, preferred, top, ceiling = (policy[key] for key in keys)
    return Zones(floor, preferred, top, ceiling, tuple(on_paper(policy.texts[key]) for key in keys))


def bars(method: Method, figures: Figures) -> tuple[Bar, ...]:
    """Collect the torques of every step that has a limit or a target."""
    found = []
    speeds = {s.speed.value for s in method.run}
    for step in method.run:
        keys = {n: f"run.{step.name}.torque_{n}" for n in (*MARKS, "lower_worst", "upper_worst")}
        known = {name: figures[key] for name, key in keys.items() if key in figures}
        if known:
            found.append(
                Bar(
                    step,
                    written(step.speed) if len(speeds) == len(method.run) else step.name,
                    {name: figure.value for name, figure in known.items()},
                    {name: on_paper(figure.text) for name, figure in known.items()},
                    torque_window(figures, step)[1],
                )
            )
    return tuple(found)


def torque_picture(
    method: Method, figures: Figures, phrases: Phrases, *, width: float = 94.0
) -> Picture | None:
    """Draw a bar from 0 to 100 % of torque for each speed: limits, target, worst case and zones.

    `width` in mm. Nothing where no step has a limit.
    """
    rows, edges = bars(method, figures), zones(method)
    if not rows:
        return None
    names = min(NAMES, max(text_width(row.name) for row in rows))
    left, right = names + OFF_SCALE, width - OFF_SCALE

    def x(torque: float) -> float:
        return left + (right - left) * torque / 100

    strokes: list[Stroke] = []
    labels: list[Label] = []
    for number, row in enumerate(rows):
        top = number * ROW + BAR_TOP
        places = _places(row, x)
        strokes += _zones(edges, x, top)
        strokes += _window(row, places, x, top)
        labels.append(
            Label(shortened(row.name, names), round(names, 2), round(top + 2.75, 2), "end", "strong")
        )
        named = [name for name in MARKS if name in row.values]
        texts = [phrases.word(MARKS[name], torque=row.texts[name]) for name in named]
        at = spread([places[n] for n in named], [text_width(t) for t in texts], names, width)
        for name, text, middle in zip(named, texts, at, strict=True):
            labels.append(Label(text, round(middle, 2), round(number * ROW + 2.05, 2)))
            strokes.append(line("leader", (middle, number * ROW + 2.8), (places[name], top - FLAG)))
    height = len(rows) * ROW + AXIS
    labels += _axis(edges, x, height - 0.6)
    told = " ".join(_told(row, phrases) for row in rows)
    return Picture(
        "torque",
        phrases.word("picture-torque-title"),
        phrases.word("picture-torque-about", rows=told, zones=_zone_words(edges, phrases)),
        width,
        round(height, 2),
        tuple(strokes),
        tuple(labels),
        _table(figures, rows, edges, phrases),
    )


def _zones(edges: Zones, x: Callable[[float], float], top: float) -> list[Stroke]:
    bottom = top + BAR
    return [
        hatch("void", x(0), top, x(edges.floor), bottom, step=0.9, rising=True),
        hatch("weak", x(edges.floor), top, x(edges.preferred), bottom, step=1.8, rising=True),
        hatch("void", x(edges.top), top, x(edges.ceiling), bottom, step=0.9, rising=False),
        *(line("edge", (x(t), top), (x(t), bottom + 0.6)) for t in (edges.floor, edges.preferred, edges.top)),
        box("bar", x(0), top, x(100), bottom),
    ]


def _places(row: Bar, x: Callable[[float], float]) -> dict[str, float]:
    """Give each torque its place; what is off the scale stands beyond the end of the bar, in its order."""
    beyond = {"lower": 1.2, "target": 2.2, "upper": 3.2, "upper_worst": 1.2}
    return {
        name: x(100) + beyond.get(name, 1.2) if value > 100 else x(0) - 1.2 if value < 0 else x(value)
        for name, value in row.values.items()
    }


def _window(row: Bar, places: dict[str, float], x: Callable[[float], float], top: float) -> list[Stroke]:
    """Draw what conforms as a thick band, its limits as flags, its target as a diamond and the worst case."""
    bottom, middle = top + BAR, top + BAR / 2
    strokes: list[Stroke] = []
    low, high = min(places.get("lower", x(0)), x(100)), min(places.get("upper", x(100)), x(100))
    if high > low:
        strokes.append(box("conforming", low, top + 0.9, high, bottom - 0.9))
    for name in ("lower", "upper"):
        if name not in places:
            continue
        at, end, out = places[name], places[f"{name}_worst"], -FLAG if name == "lower" else FLAG
        if row.values[name] <= 100:
            strokes += [
                line("halo", (at, middle), (end, middle)),
                line("whisker", (at, middle), (end, middle)),
                line("whisker-end", (end, middle - 0.9), (end, middle + 0.9)),
            ]
        strokes += [
            line("limit", (at, top - FLAG), (at, bottom)),
            area(name, (at, top - FLAG), (at + out, top - FLAG / 2), (at, top)),
        ]
    if "target" in places:
        at = places["target"]
        strokes += [
            line("target-line", (at, top - FLAG), (at, bottom)),
            area(
                "target", (at, bottom), (at + 0.6, bottom + 0.6), (at, bottom + 1.2), (at - 0.6, bottom + 0.6)
            ),
        ]
    if any(value > 100 for value in row.values.values()):
        tip = x(100) + OFF_SCALE - 0.2
        strokes.append(area("arrow", (tip, middle), (tip - 0.9, middle - 0.7), (tip - 0.9, middle + 0.7)))
    return strokes


def _axis(edges: Zones, x: Callable[[float], float], foot: float) -> list[Label]:
    """Write the numbers of the axis: the edges of the zones always, the twenties where they keep clear of those."""
    size = 2.3
    shown = {t: f"{t:g}" for t in (0.0, edges.floor, edges.preferred, edges.top, edges.ceiling)}
    for torque in (20.0, 40.0, 60.0, 80.0):
        clear = all(abs(x(torque) - x(other)) > text_width("000", size) for other in shown if other != torque)
        if clear:
            shown[torque] = f"{torque:g}"
    shown[edges.ceiling] += "\u00a0%"
    places = sorted(shown)
    sizes = [text_width(shown[t], size) for t in places]
    at = spread([x(t) for t in places], sizes, x(0) - OFF_SCALE, x(100) + OFF_SCALE, gap=0.3)
    return [
        Label(shown[t], round(middle, 2), round(foot, 2), size=size)
        for t, middle in zip(places, at, strict=True)
    ]


def _told(row: Bar, phrases: Phrases) -> str:
    """Say a bar in a sentence."""
    limits = ", ".join(
        phrases.word(MARKS[name], torque=row.texts[name]) for name in MARKS if name in row.texts
    )
    return phrases.word("picture-torque-row", name=row.name, limits=limits, worst=row.worst)


def _zone_words(edges: Zones, phrases: Phrases) -> str:
    floor, preferred, top, _ = edges.texts
    return phrases.word("picture-torque-zones", floor=floor, preferred=preferred, top=top)


def _table(figures: Figures, rows: tuple[Bar, ...], edges: Zones, phrases: Phrases) -> Table:
    cells: list[tuple[Cell, ...]] = []
    for row in rows:
        torques = [strong(row.texts.get(name, "")) for name in MARKS]
        cells.append((light(f"{row.step.name}, {written(row.step.speed)}"), *torques, strong(row.worst)))
    keys = [f"run.{row.step.name}.torque_" for row in rows]
    formula = next(figures[k + n].formula for k in keys for n in MARKS if k + n in figures)
    worst = next(
        (figures[k + n].formula for k in keys for n in ("upper_worst", "lower_worst") if k + n in figures), ""
    )
    notes: list[Text] = [phrases.line("picture-torque-from", formula=formula)]
    if worst:
        notes = [phrases.line("picture-torque-from-worst", formula=formula, worst=worst)]
    notes.append(light(_zone_words(edges, phrases)))
    return Table("torque", phrases.words("table-torque"), tuple(cells), tuple(notes))
