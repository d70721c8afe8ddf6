"""The set-up drawn to scale: container, level, spindle, mark, guard and clearances.

Lengths of things are in millimetres, heights from the inside bottom of the container; places on paper in
millimetres from the upper left corner. Nothing is shifted to look better: what does not fit in the container
does not fit in the drawing either.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from fillmark.documents import Cell, Label, Picture, Point, Stroke, Table, plain
from fillmark.documents.shapes import area, line, shortened, spread, text_width, wrapped
from fillmark.documents.terms import form, window
from fillmark.documents.wording import Phrases, light, on_paper, strong, written
from fillmark.figures import Figures
from fillmark.model import Method, Spindle
from fillmark.quantities import brief

SCALES = (2.0, 1.0, 1 / 2, 1 / 2.5, 1 / 3, 1 / 4, 1 / 5, 1 / 6, 1 / 8, 1 / 10, 1 / 20)
"""Millimetres on paper for a millimetre in truth; the largest that fits is taken."""

CHECK = 100.0
"""Length of the line that shows whether the paper was printed at its size (mm)."""

ABOVE, BELOW = 5.0, 5.7
"""Room over the rim for shaft and guard, and under the bottom for the diameter (mm on paper)."""
LYING, STANDING = 10.0, 18.5
"""Room over and under a spindle that lies at its true size: title, line of 100 mm and its text (mm); and over and
under one that stands, with its stub of shaft and a line that names it."""
CHECKED = 5.6
"""Height of the line of 100 mm with its text, under a low drawing (mm)."""
TITLE = 20.0
"""Width at least of the title beside such a drawing (mm)."""
LEADER = 2.0
"""From the wall to the labels beside it, where no other room is left (mm)."""
STUB = 5.0
"""Length of shaft drawn over a spindle that stands at its true size (mm)."""
LANE = 2.6
"""From the wall to a dimension line, and from one to the next (mm on paper)."""
LINE = 3.0
"""From one line of a label to the next (mm)."""
CONE_PLATE = 3.0
"""Thickness of the plate over a cone (mm); it is drawn so because nobody measures it."""


@dataclass(frozen=True, slots=True)
class Scene:
    """The set-up in millimetres: heights from the inside bottom, widths across."""

    inside: float
    rim: float
    level: float | None
    underside: float
    end: float | None
    """Height of the underside at the end of the reading, where the spindle travels."""
    spindle: Spindle
    mark: float | None
    """Height of the immersion mark."""
    guard: tuple[float, float, float] | None
    """Width, height of its lower edge, thickness of its strip."""


@dataclass(frozen=True, slots=True)
class View:
    """Where the set-up stands on paper."""

    scale: float
    middle: float
    bottom: float

    def place(self, x: float, y: float) -> Point:
        """Give the place on paper of a point across from the axis and up from the bottom (mm)."""
        return self.middle + x * self.scale, self.bottom - y * self.scale


@dataclass(frozen=True, slots=True)
class Call:
    """What is told of a part: its name, its number, and where it is."""

    name: str
    value: str
    at: Point
    """On paper; a leader ends there."""
    span: tuple[float, float] | None = None
    """Upper and lower end on paper, for a dimension."""


def scene(method: Method, figures: Figures) -> Scene | None:
    """Find where everything stands; None where a dimension that decides it is not known."""
    spindle, immersion = method.spindle, method.immersion
    if spindle.diameter is None or (spindle.kind in _BODIES and spindle.length is None):
        return None
    level = figures.value("container.level")
    if level is None:
        level = figures.value("container.level_needed")
    level = None if level is None else 1000 * level
    end = mark = None
    if immersion.to == "gap":
        underside = 1000 * spindle.truncation.value if spindle.truncation is not None else 0.0
    elif level is None:
        return None
    elif immersion.to == "shaft-mark" and spindle.mark_height is not None:
        mark, underside = level, level - 1000 * spindle.mark_height.value
    elif immersion.to == "above-top" and "container.bottom_clearance" in figures:
        underside = 1000 * figures["container.bottom_clearance"].value
    elif immersion.to == "depth" and immersion.depth is not None:
        underside = level - 1000 * immersion.depth.value
        if "helical.end_depth" in figures and method.instrument.rise_rate is not None:
            end = level - 1000 * figures["helical.end_depth"].value
    else:
        return None
    guard = method.fitting_guard if method.guarded else None
    return Scene(
        inside=1000 * method.container.inside_diameter.value,
        rim=1000 * method.container.height.value,
        level=level,
        underside=underside,
        end=end,
        spindle=spindle,
        mark=mark,
        guard=None
        if guard is None
        else (
            1000 * guard.width.value,
            underside - 1000 * guard.below_spindle.value,
            1000 * guard.leg_thickness.value,
        ),
    )


_BODIES = ("cylinder", "disc", "chamber-cylinder", "coaxial-cylinder")


def outline(spindle: Spindle, top: float) -> tuple[tuple[Point, ...], ...]:
    """Give the parts of a spindle as shapes in mm: across from its axis, and up from its underside to `top`."""
    half = 0.0 if spindle.diameter is None else 500 * spindle.diameter.value
    parts: list[tuple[Point, ...]] = []
    if spindle.kind == "bar":
        height = 1.6 if spindle.wire_diameter is None else 1000 * spindle.wire_diameter.value
        parts.append(_rectangle(half, 0.0, height))
    elif spindle.kind == "cone":
        angle = 0.0 if spindle.cone_angle is None else spindle.cone_angle.value
        rise = half * math.tan(math.radians(angle))
        height = rise + CONE_PLATE
        parts.append(((0.0, 0.0), (half, rise), (half, height), (-half, height), (-half, rise)))
    else:
        height = 0.0 if spindle.length is None else 1000 * spindle.length.value
        parts.append(_rectangle(half, 0.0, height))
    if spindle.shaft_diameter is not None and top > height:
        parts.append(_rectangle(500 * spindle.shaft_diameter.value, height, top))
    return tuple(parts)


def _rectangle(half: float, low: float, high: float) -> tuple[Point, ...]:
    return ((-half, low), (half, low), (half, high), (-half, high))


def setup_drawing(
    method: Method,
    figures: Figures,
    phrases: Phrases,
    *,
    width: float = 120.0,
    height: float = 90.0,
    sides: tuple[float, float] = (33.0, 38.0),
    check: Literal["none", "beside", "below"] = "none",
) -> Picture | None:
    """Draw the set-up as large as the room allows, at a scale that is written beside it.

    `width` and `height` are the room and `sides` the columns of labels left and right (mm). For the bench the
    line that checks the print and the spindle at its true size stand beside it, or the line below and the
    spindle where it fits; then there is no table, as its numbers stand in the steps. Nothing where a dimension
    that is needed is not known.
    """
    found = scene(method, figures)
    if found is None:
        return None
    inside = written(method.container.inside_diameter)
    on_bench, beside, under = check != "none", check == "beside", CHECKED if check == "below" else 0.0
    height -= under
    left, right = sides
    own = width - CHECK - 2.0 if beside else width
    across = max(found.inside, found.guard[0] if found.guard else 0.0, 2 * _reach(found.spindle))
    low = min(0.0, found.underside, found.guard[1] if found.guard else 0.0)
    high = max(found.rim, found.level or 0.0)
    lanes = LANE * (2 if found.end is None else 4) + 1.0
    room = own - left - right - lanes - (TITLE if under else 0.0)
    scale = next((k for k in SCALES if _fits(k, high - low, across, room, height)), SCALES[-1])
    if under:
        # What is left over beside a low drawing takes title and spindle at its true size.
        least = text_width(phrases.word("limit-inside", diameter=inside))
        room = LEADER + max(across * scale, least - lanes)
        own = left + lanes + room + right
    view = View(scale, left + lanes + (room - (LEADER if under else 0.0)) / 2, ABOVE + high * scale)
    on_left = _heights(method, figures, found, phrases, view)
    on_right = _parts(method, figures, found, phrases, view)
    lying = 2 * _reach(found.spindle) + LYING
    if lying > height:
        lying = max(y for _, y in outline(found.spindle, 0.0)[0]) + STANDING
    tall = max(
        ABOVE + (high - low) * scale + BELOW,
        lying if beside and lying <= height else 0.0,
        *(
            sum(_sizes(calls, side - 1.0)) + len(calls)
            for calls, side in ((on_left, left), (on_right, right))
        ),
    )
    strokes = _scene(found, view)
    labels: list[Label] = []
    wall = view.place(-across / 2, 0)[0]
    ends = [(wall - LANE * (number + 0.7), call.at[1]) for number, call in enumerate(on_left)]
    for call, (lane, _) in zip(on_left, ends, strict=True):
        strokes += _dimension(call, lane, view)
    for calls, targets, edge, outward in (
        (on_left, ends, left - 1.0, -1),
        (on_right, [c.at for c in on_right], own - right + 1.0, 1),
    ):
        more_labels, leaders = _columns(calls, targets, edge, outward, sides[outward > 0] - 1.0, tall)
        labels += more_labels
        strokes += leaders
    diameter = phrases.word("picture-inside", diameter=inside)
    foot = view.place(0, low)[1] + 2.0
    strokes += _across(view.place(-found.inside / 2, 0)[0], view.place(found.inside / 2, 0)[0], foot)
    between = own - right - left
    named = diameter if text_width(diameter) <= between else phrases.word("limit-inside", diameter=inside)
    (at,) = spread([view.middle], [text_width(named)], left, left + between)
    labels.append(Label(named, round(at, 2), round(foot + 2.9, 2)))
    title = phrases.word("picture-set-up-title", scale=_written_scale(scale))
    if on_bench:
        named = phrases.word("picture-set-up-left", scale=_written_scale(scale))
        if beside:
            more_strokes, more_labels = _true_size(found, phrases, named, width - CHECK, tall)
        else:
            more_strokes, more_labels = _standing(found, phrases, named, own + 2.0, width, tall)
        strokes += more_strokes
        labels += more_labels
    told = "; ".join(f"{c.name} {c.value}".strip() for c in (*on_left, *on_right))
    about = phrases.word("picture-set-up-about", container=method.container.label, inside=diameter, told=told)
    table = None if on_bench else _table(phrases, method, (*on_left, *on_right))
    return Picture(
        "set-up", title, about, width, round(tall + under, 2), tuple(strokes), tuple(labels), table
    )


def _fits(k: float, tall: float, across: float, room: float, height: float) -> bool:
    return ABOVE + tall * k + BELOW <= height and across * k <= room


def _reach(spindle: Spindle) -> float:
    """Give half the width of a spindle (mm)."""
    return 0.0 if spindle.diameter is None else 500 * spindle.diameter.value


def _written_scale(k: float) -> str:
    return f"{brief(k, 2)}\u00a0:\u00a01" if k >= 1 else f"1\u00a0:\u00a0{brief(1 / k, 2)}"


def _scene(found: Scene, view: View) -> list[Stroke]:
    """Draw liquid, wall, guard and spindle, one over the other."""
    half, place = found.inside / 2, view.place
    above = max(found.rim, found.level or 0.0) + (ABOVE - 0.6) / view.scale
    strokes: list[Stroke] = []
    if found.level is None:  # a plate: the sample fills the gap and no more
        profile = [(x, y + found.underside) for x, y in outline(found.spindle, 0.0)[0]]
        tip, right, left = profile[0], profile[1], profile[-1]
        strokes.append(
            area("liquid", *(place(x, y) for x, y in ((left[0], 0), (right[0], 0), right, tip, left)))
        )
    else:
        strokes.append(area("liquid", *(place(*p) for p in _rectangle(half, 0.0, found.level))))
        strokes.append(line("surface", place(-half, found.level), place(half, found.level)))
    (left_x, top), (right_x, bottom) = place(-half, found.rim), place(half, 0)
    # The line of the wall runs outside the inside face, so that the inside is at scale.
    out = 0.25
    corners = (
        (left_x - out, top),
        (left_x - out, bottom + out),
        (right_x + out, bottom + out),
        (right_x + out, top),
    )
    strokes.append(line("wall", *corners))
    if found.guard is not None:
        width, low, strip = found.guard
        outer, inner = width / 2, width / 2 - strip
        bent = (
            (-outer, above), (-outer, low), (outer, low), (outer, above),
            (inner, above), (inner, low + strip), (-inner, low + strip), (-inner, above),
        )  # fmt: skip
        strokes.append(area("guard", *(place(*corner) for corner in bent)))
    if found.end is not None:
        body = outline(found.spindle, 0.0)[0]
        strokes.append(area("ghost", *(place(x, y + found.end) for x, y in body)))
    strokes += [
        area("spindle", *(place(x, y + found.underside) for x, y in part))
        for part in outline(found.spindle, above - found.underside)
    ]
    shaft = found.spindle.shaft_diameter
    if shaft is None:
        strokes.append(line("axis", place(0, found.underside), place(0, above)))
    elif found.mark is not None:
        y = place(0, found.mark)[1]
        ends = [view.middle + side * 500 * shaft.value * view.scale for side in (-1, 1)]
        strokes += [
            line("mark", (ends[0] - 1.2, y), (ends[0], y)),
            line("mark", (ends[1], y), (ends[1] + 1.2, y)),
        ]
    if found.level is not None:
        x, y = place(half * 0.6, found.level)
        strokes.append(area("level", (x, y), (x - 0.8, y - 1.4), (x + 0.8, y - 1.4)))
    return strokes


def _heights(method: Method, figures: Figures, found: Scene, phrases: Phrases, view: View) -> list[Call]:
    """Name the heights that are measured up from the bottom or down from the surface, inner lane first."""
    calls: list[Call] = []

    def height(key: str, value: str, low: float, high: float) -> None:
        upper, lower = view.place(0, high)[1], view.place(0, low)[1]
        calls.append(Call(phrases.word(key), value, (0.0, (upper + lower) / 2), (upper, lower)))

    lowest = found.underside if found.guard is None else found.guard[1]
    if found.end is not None:
        lowest = min(lowest, found.end)
    clearance = method.immersion.bottom_clearance
    if found.level is not None:
        if clearance is not None and method.immersion.to != "above-top":
            asked = phrases.word("picture-at-least", clearance=written(clearance))
            height("picture-bottom-guard" if found.guard else "picture-bottom", asked, 0.0, lowest)
        elif "container.bottom_clearance" in figures:
            height("picture-bottom", on_paper(figures.text("container.bottom_clearance")), 0.0, lowest)
        if method.immersion.to == "depth":
            height("picture-start", written(method.immersion.depth), found.underside, found.level)
            if found.end is not None:
                height("picture-end", on_paper(figures.text("helical.end_depth")), found.end, found.level)
        level = window(figures, "container.level_lower", "container.level_upper")
        if level:
            height("picture-level", level, 0.0, found.level)
        else:
            key = "container.level" if "container.level" in figures else "container.level_needed"
            height("picture-product" if key == "container.level" else "picture-level-needed",
                   on_paper(figures.text(key)), 0.0, found.level)  # fmt: skip
    return calls


def _parts(method: Method, figures: Figures, found: Scene, phrases: Phrases, view: View) -> list[Call]:
    """Name the parts, from the top down."""
    spindle, place = found.spindle, view.place
    half = found.inside / 2
    body = max(y for _, y in outline(spindle, 0.0)[0])
    calls: list[Call] = []
    if "container.free_board" in figures:
        calls.append(
            Call(
                phrases.word("picture-rim"),
                on_paper(figures.text("container.free_board")),
                place(half, found.rim),
            )
        )
    if found.mark is not None:
        tolerance = method.immersion.tolerance
        shaft = 0.0 if spindle.shaft_diameter is None else 500 * spindle.shaft_diameter.value
        calls.append(
            Call(
                phrases.word("picture-mark"),
                "" if tolerance is None else f"±\u00a0{written(tolerance)}",
                (place(shaft, 0)[0] + 1.2, place(0, found.mark)[1]),
            )
        )
    cover = window(figures, "container.cover_lower", "container.cover_upper")
    if cover and found.level is not None:
        top = found.underside + body
        calls.append(
            Call(phrases.word("picture-cover"), cover, place(_reach(spindle) / 2, (found.level + top) / 2))
        )
    calls.append(
        Call(
            phrases.word("picture-spindle", spindle=spindle.key),
            plain(form(spindle, phrases)),
            place(_reach(spindle) * 0.8, found.underside + body / 2),
        )
    )
    if found.guard is not None:
        width, low, strip = found.guard
        calls.append(
            Call(
                phrases.word("picture-guard"),
                on_paper(figures.text("container.guard_clearance"))
                if "container.guard_clearance" in figures
                else "",
                place((width - strip) / 2, max(low + strip, found.underside / 2)),
            )
        )
    elif "container.side_clearance" in figures:
        calls.append(
            Call(
                phrases.word("picture-side"),
                on_paper(figures.text("container.side_clearance")),
                place((half + _reach(spindle)) / 2, found.underside + body / 3),
            )
        )
    elif method.immersion.to == "gap" and spindle.truncation is not None:
        calls.append(
            Call(phrases.word("picture-gap"), written(spindle.truncation), place(0, found.underside / 2))
        )
    return calls


def _rows(call: Call, room: float) -> tuple[tuple[str, ...], tuple[str, ...]]:
    return wrapped(call.name, room), wrapped(call.value, room) if call.value else ()


def _sizes(calls: Sequence[Call], room: float) -> list[float]:
    return [LINE * sum(len(rows) for rows in _rows(call, room)) for call in calls]


def _columns(
    calls: Sequence[Call], targets: Sequence[Point], edge: float, outward: int, room: float, tall: float
) -> tuple[list[Label], list[Stroke]]:
    """Set the labels of one side under each other, clear of each other, with lines to what they name."""
    labels: list[Label] = []
    strokes: list[Stroke] = []
    rows = [_rows(call, room) for call in calls]
    sizes = _sizes(calls, room)
    at = spread([y for _, y in targets], sizes, 0.2, tall - 0.2, gap=0.5)
    for (name, value), size, y, target in zip(rows, sizes, at, targets, strict=True):
        for index, text in enumerate((*name, *value)):
            foot = round(y - size / 2 + (index + 0.76) * LINE, 2)
            weight = "strong" if index >= len(name) else "plain"
            labels.append(Label(text, round(edge, 2), foot, "end" if outward < 0 else "start", weight))
        strokes.append(line("leader", (edge - outward * 0.5, y), target))
        if outward > 0:
            x, foot = target
            strokes.append(area("dot", (x - 0.3, foot), (x, foot - 0.3), (x + 0.3, foot), (x, foot + 0.3)))
    return labels, strokes


def _dimension(call: Call, lane: float, view: View) -> list[Stroke]:
    """Draw a height as a line with arrows, and thin lines to where it is measured."""
    if call.span is None:
        return []
    upper, lower = call.span
    tip = min(1.2, abs(lower - upper) / 2)
    return [
        line("extension", (lane - 0.6, upper), (view.middle, upper)),
        line("extension", (lane - 0.6, lower), (view.middle, lower)),
        line("dimension", (lane, upper), (lane, lower)),
        area("arrow", (lane, upper), (lane - 0.4, upper + tip), (lane + 0.4, upper + tip)),
        area("arrow", (lane, lower), (lane - 0.4, lower - tip), (lane + 0.4, lower - tip)),
    ]


def _across(left: float, right: float, y: float) -> list[Stroke]:
    tip = min(1.2, (right - left) / 2)
    return [
        line("dimension", (left, y), (right, y)),
        line("extension", (left, y - 1.6), (left, y + 0.6)),
        line("extension", (right, y - 1.6), (right, y + 0.6)),
        area("arrow", (left, y), (left + tip, y - 0.4), (left + tip, y + 0.4)),
        area("arrow", (right, y), (right - tip, y - 0.4), (right - tip, y + 0.4)),
    ]


def _true_size(
    found: Scene, phrases: Phrases, title: str, left: float, tall: float
) -> tuple[list[Stroke], list[Label]]:
    """Draw the spindle at its true size and the line that shows whether it is true; lying where it fits so."""
    room, foot = CHECK, tall - 4.6
    left -= 0.3
    labels = [
        Label(row, left, 2.3 + LINE * i, "start", "strong") for i, row in enumerate(wrapped(title, room))
    ]
    strokes = _check(left, foot)
    spindle, reach = found.spindle, _reach(found.spindle)
    body = max(y for _, y in outline(spindle, 0.0)[0])
    text = phrases.word("picture-true-size", spindle=shortened(spindle.key, 40.0))
    # Beside a flat piece there is room for the text; over a long one it needs a line of its own.
    beside = body + text_width(text) + 4.0 <= room
    top = 0.8 + LINE * (len(labels) if beside else len(labels) + 1)
    labels.append(Label(phrases.word("picture-check"), left, foot + 3.6, "start"))
    if 2 * reach > foot - 1.0 - top:
        more_strokes, more_labels = _upright(
            found, phrases, left, 0.8 + LINE * len(labels[:-1]), room, foot - 1.0
        )
        return strokes + more_strokes, labels + more_labels
    middle = foot - 1.0 - reach
    shaft = 0.0 if spindle.shaft_diameter is None else 500 * spindle.shaft_diameter.value
    # Over the shaft, as near to the body as it is tall: nothing else says what is drawn.
    above = max(top + LINE, min(middle - reach + LINE, middle - shaft - 1.0))
    labels.append(
        Label(text, left + (body + 3.0 if beside else 0.0), above if beside else top - 0.5, "start")
    )
    length = 1000 * spindle.mark_height.value if spindle.mark_height is not None else 0.0
    strokes += [
        area("spindle", *((left + 0.5 + y, middle - x) for x, y in part))
        for part in outline(spindle, min(max(length, body) + 8.0, room - 1.0))
    ]
    if length and shaft:
        at = left + 0.5 + length
        strokes += [
            line("mark", (at, middle + side * shaft), (at, middle + side * (shaft + 1.2))) for side in (-1, 1)
        ]
    return strokes, labels


def _check(left: float, y: float) -> list[Stroke]:
    """Draw the line that shows whether the paper was printed at its size."""
    return [
        line("check", (left, y), (left + CHECK, y)),
        line("check", (left, y - 1.2), (left, y + 1.2)),
        line("check", (left + CHECK, y - 1.2), (left + CHECK, y + 1.2)),
    ]


def _standing(
    found: Scene, phrases: Phrases, title: str, left: float, width: float, tall: float
) -> tuple[list[Stroke], list[Label]]:
    """Draw the line that checks the print under the set-up, and beside it the spindle at its true size."""
    edge = (width - CHECK) / 2
    strokes = _check(edge, tall + 1.4)
    labels = [Label(phrases.word("picture-check"), edge, tall + CHECKED - 0.7, "start")]
    room = width - left
    said = wrapped(title, room)
    labels += [Label(row, left, 2.3 + LINE * i, "start", "strong") for i, row in enumerate(said)]
    more_strokes, more_labels = _upright(found, phrases, left, 1.0 + LINE * len(said), room, tall)
    return strokes + more_strokes, labels + more_labels


def _upright(
    found: Scene, phrases: Phrases, left: float, top: float, room: float, bottom: float
) -> tuple[list[Stroke], list[Label]]:
    """Draw the spindle standing at its true size with a stub of its shaft; nothing where it does not fit.

    So a disc takes no more height than its thickness.
    """
    spindle, reach = found.spindle, _reach(found.spindle)
    body = max(y for _, y in outline(spindle, 0.0)[0])
    named = wrapped(phrases.word("picture-true-size", spindle=shortened(spindle.key, room)), room)
    foot = top + STUB + body
    if 2 * reach > room or foot + LINE * len(named) + 1.0 > bottom:
        return [], []
    middle = left + reach + 0.3
    parts = outline(spindle, body + STUB)
    strokes = [area("spindle", *((middle + x, foot - y) for x, y in part)) for part in parts]
    return strokes, [Label(row, left, foot + LINE * (i + 1), "start") for i, row in enumerate(named)]


def _table(phrases: Phrases, method: Method, calls: Sequence[Call]) -> Table:
    inside = f"Ø\u00a0{written(method.container.inside_diameter)}"
    rows: list[tuple[Cell, ...]] = [(light(method.container.label), strong(inside))]
    rows += [(light(call.name), strong(call.value)) for call in calls if call.value]
    return Table("set-up", phrases.words("table-set-up"), tuple(rows))
