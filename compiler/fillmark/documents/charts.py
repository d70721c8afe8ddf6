"""Two charts of a method as data: what conditioning leaves, and what a wrong temperature does.

The points come with the curves; here they only get their places on paper.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fillmark.documents import Cell, Label, Picture, Point, Stroke, Table
from fillmark.documents.shapes import area, box, line, shortened, spread, text_width
from fillmark.documents.wording import Phrases, light, on_paper, strong, written
from fillmark.figures import Curves, Figures, Points
from fillmark.model import Method
from fillmark.quantities import brief, signed

WIDTH, HEIGHT = 110.0, 58.0
LEFT, TOP, BOTTOM = 13.0, 7.0, 9.0
"""Room for the numbers of the axes and the names over the chart (mm)."""

FEW = 3
"""Powers of ten on an axis, under which the twos and fives between them are numbered too."""

DEEPEST = 100.0
"""How far under the share that conditioning may leave a chart goes down; less no bench can tell."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The field of a chart on paper, and the values at its edges; y may be logarithmic."""

    right: float
    x: tuple[float, float]
    y: tuple[float, float]
    logarithmic: bool = False

    def place(self, x: float, y: float) -> Point:
        """Give the place on paper of a pair of values; y off the field stays at its edge."""
        share = (x - self.x[0]) / (self.x[1] - self.x[0])
        low, high = self.y
        y = min(high, max(low, y))
        rise = math.log(y / low) / math.log(high / low) if self.logarithmic else (y - low) / (high - low)
        foot = HEIGHT - BOTTOM
        return LEFT + share * (self.right - LEFT), foot - rise * (foot - TOP)


def round_steps(low: float, high: float, most: int) -> list[float]:
    """Give round values between two ends, 1, 2 or 5 times a power of ten apart, at most so many."""
    rough = (high - low) / most
    power = 10 ** math.floor(math.log10(rough))
    step = next(k * power for k in (1, 2, 5, 10) if k * power >= rough * (1 - 1e-9))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [n * step for n in range(first, last + 1)]


def decades(low: float, high: float) -> list[float]:
    """Give the powers of ten between two values, and twos and fives where those are few."""
    exponents = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    found = [part * 10.0**e for e in exponents for part in (1, 2, 5)]
    found = [value for value in found if low * (1 - 1e-9) <= value <= high * (1 + 1e-9)]
    tens = [value for value in found if abs(math.log10(value) - round(math.log10(value))) < 1e-9]
    return found if len(tens) < FEW else tens


def conditioning_chart(method: Method, figures: Figures, curves: Curves, phrases: Phrases) -> Picture | None:
    """Draw how much temperature is still missing at the slowest point against the time in the bath."""
    points, conditioning = curves.conditioning, method.temperature.conditioning
    if not points or conditioning is None or conditioning.time is None:
        return None
    tolerance = method.temperature.target.tolerance
    share = method.reference.policy["conditioning_share"] / 100 * tolerance.value
    seconds, unit = _clock_unit(points[-1][0])
    offset = points[0][1]
    residual = figures["conditioning.residual"]
    low = max(min(share, residual.value, offset / 10) / 2, share / DEEPEST)
    frame = Frame(WIDTH - 32.0, (0.0, points[-1][0] / seconds), (low, offset * 1.15), logarithmic=True)
    kept = [(t / seconds, k) for t, k in points if k > low]
    strokes = [*_field(frame), line("curve", *(frame.place(*p) for p in kept))]
    labels = _axes(
        frame,
        [(x, f"{brief(x, 3)}") for x in round_steps(*frame.x, 8)],
        [(y, f"{brief(y, 2)}") for y in decades(*frame.y)],
        phrases.word("chart-time", unit=unit),
        phrases.word("chart-missing"),
    )
    level = [
        (tolerance.value, phrases.word("chart-tolerance", tolerance=written(tolerance))),
        (
            share,
            phrases.word("chart-share", share=on_paper(method.reference.policy.texts["conditioning_share"])),
        ),
    ]
    for value, _ in level:
        strokes.append(line("across", frame.place(frame.x[0], value), frame.place(frame.x[1], value)))
    more, leaders = _beside(frame, [(frame.place(frame.x[1], y)[1], text) for y, text in level])
    given = phrases.word("chart-given", time=written(conditioning.time))
    times = [("given", conditioning.time.value / seconds, given)]
    if "conditioning.needed" in figures:
        text = phrases.word("chart-needed", time=on_paper(figures.text("conditioning.needed")))
        times.append(("needed", figures["conditioning.needed"].value / seconds, text))
    labels += more
    strokes += leaders
    at = spread([frame.place(x, low)[0] for _, x, _ in times], [text_width(t) for *_, t in times], 0.0, WIDTH)
    for (kind, x, text), middle in zip(times, at, strict=True):
        top, foot = frame.place(x, frame.y[1]), frame.place(x, low)
        strokes += [line("leader", (middle, 3.2), top), line(kind, top, foot)]
        labels.append(Label(text, round(middle, 2), 2.4))
    if residual.value > low:
        strokes.append(_diamond(frame.place(conditioning.time.value / seconds, residual.value), 0.9))
    rows: list[tuple[Cell, ...]] = [
        (light(phrases.word("chart-row-start")), strong(written(method.temperature.start))),
        (light(phrases.word("chart-row-target")), strong(written(method.temperature.target))),
        (light(phrases.word("chart-row-given")), strong(written(conditioning.time))),
        (light(residual.title), strong(on_paper(residual.text))),
    ]
    if "conditioning.needed" in figures:
        needed = figures["conditioning.needed"]
        rows.append((light(needed.title), strong(on_paper(needed.text))))
    told = "; ".join(text for *_, text in times)
    about = phrases.word(
        "chart-conditioning-about", container=method.container.label, told=told, left=on_paper(residual.text)
    )
    title = phrases.word("chart-conditioning-title", container=method.container.label)
    table = Table("chart", phrases.words("table-chart"), tuple(rows))
    return Picture("conditioning", title, about, WIDTH, HEIGHT, tuple(strokes), tuple(labels), table)


def temperature_chart(method: Method, curves: Curves, phrases: Phrases) -> Picture | None:
    """Draw by how much the viscosity of product and reference fluid is off at a temperature that is off."""
    check = method.verification
    lines: list[tuple[str, Points, str, str, str]] = []
    sensitivity = method.product.temperature_sensitivity
    if curves.product and sensitivity is not None:
        s = written(sensitivity)
        text = phrases.word("chart-product", sensitivity=s)
        lines.append(("curve", curves.product, method.product.name, s, text))
    if curves.fluid and check is not None:
        s = written(check.fluid.sensitivity)
        text = phrases.word("chart-fluid", sensitivity=s)
        lines.append(("curve-fluid", curves.fluid, check.fluid.key, s, text))
    tolerance = method.temperature.target.tolerance
    if not lines or not tolerance.value:
        return None
    highest = max(abs(y) for _, points, *_ in lines for _, y in points) * 1.1 or 1.0
    reach = 2 * tolerance.value
    frame = Frame(WIDTH - 32.0, (-reach, reach), (-highest, highest))
    (left, top), (right, foot) = (
        frame.place(-tolerance.value, highest),
        frame.place(tolerance.value, -highest),
    )
    strokes = [box("band", left, top, right, foot), *_field(frame)]
    strokes.append(line("across", frame.place(-reach, 0), frame.place(reach, 0)))
    for kind, points, *_ in lines:
        strokes.append(line(kind, *(frame.place(*p) for p in points)))
        if kind == "curve-fluid":  # where both fall alike the dashes alone would be hidden
            strokes += [_diamond(frame.place(*p), 0.7) for p in points[6::12]]
    labels = _axes(
        frame,
        [(x, signed(x)) for x in round_steps(*frame.x, 8)],
        [(y, signed(y)) for y in round_steps(*frame.y, 6)],
        phrases.word("chart-off"),
        phrases.word("chart-shift"),
    )
    more, leaders = _beside(frame, [(frame.place(*points[-1])[1], text) for _, points, _, _, text in lines])
    labels += more
    strokes += leaders
    text = phrases.word("chart-band", tolerance=written(tolerance))
    labels.append(Label(text, round((left + right) / 2, 2), 5.2))
    rows: list[tuple[Cell, ...]] = [(light(name), strong(s)) for _, _, name, s, _ in lines]
    told = "; ".join(phrases.word("chart-line", name=name, sensitivity=s) for _, _, name, s, _ in lines)
    about = phrases.word("chart-temperature-about", told=told, tolerance=written(tolerance))
    table = Table("chart", phrases.words("table-chart-temperature"), tuple(rows))
    title = phrases.word("chart-temperature-title")
    return Picture("temperature", title, about, WIDTH, HEIGHT, tuple(strokes), tuple(labels), table)


def _diamond(at: Point, half: float) -> Stroke:
    x, y = at
    return area("target", (x, y - half), (x + half, y), (x, y + half), (x - half, y))


def _clock_unit(seconds: float) -> tuple[float, str]:
    return (1.0, "s") if seconds < 300 else (60.0, "min") if seconds < 8 * 3600 else (3600.0, "h")


def _field(frame: Frame) -> list[Stroke]:
    return [box("field", LEFT, TOP, frame.right, HEIGHT - BOTTOM)]


def _axes(
    frame: Frame,
    across: Sequence[tuple[float, str]],
    up: Sequence[tuple[float, str]],
    below: str,
    over: str,
) -> list[Label]:
    """Write the numbers of both axes and their names: the upright one over its upper end, so that no text is turned."""
    foot, size = HEIGHT - BOTTOM, 2.4
    labels = [
        Label(text, round(frame.place(x, frame.y[0])[0], 2), foot + 3.0, size=size) for x, text in across
    ]
    labels += [
        Label(text, LEFT - 1.0, round(frame.place(frame.x[0], y)[1] + 0.8, 2), "end", size=size)
        for y, text in up
    ]
    labels.append(Label(below, round((LEFT + frame.right) / 2, 2), HEIGHT - 1.6))
    labels.append(Label(over, 0.0, TOP - 1.4, "start"))
    return labels


def _beside(frame: Frame, named: Sequence[tuple[float, str]]) -> tuple[list[Label], list[Stroke]]:
    """Name lines at their right end, clear of each other."""
    at = spread([y for y, _ in named], [3.0] * len(named), TOP, HEIGHT - BOTTOM)
    edge = frame.right + 3.0
    labels = [
        Label(shortened(text, WIDTH - edge), edge, round(y + 0.9, 2), "start")
        for (_, text), y in zip(named, at, strict=True)
    ]
    strokes = [
        line("leader", (frame.right, wanted), (edge - 0.5, y))
        for (wanted, _), y in zip(named, at, strict=True)
    ]
    return labels, strokes
