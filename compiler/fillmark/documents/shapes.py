"""Lines and labels of a picture, in millimetres on paper, and how labels keep clear of each other.

A picture is data: the template draws what stands here and computes nothing. The origin is the upper left corner;
y grows downwards.
"""

from collections.abc import Sequence

from fillmark.documents import SMALL, Label, Point, Stroke

# Widths in parts of the height, above those of every font the papers may be set in.
_WIDTHS = (
    (0.37, " '\\/|.,\u00b7:;ijlIJ\u00a0\u202f"),
    (0.51, '-!()[]_`"*\u00b0\u2013\u00b2\u00b3ftr'),
    (1.01, "mwMW%@\u2014\u2026"),
    (0.86, "#+<=>^~\u00b1\u2212\u00d7\u00f7\u2264\u2265\u2248"),
)
_WIDTH = {sign: width for width, signs in _WIDTHS for sign in signs}
_LOWER, _UPPER, _OTHER = 0.66, 0.8, 1.1


def box_of(label: Label) -> tuple[float, float, float, float]:
    """Give left, top, right and bottom of the room a label takes at most."""
    width = text_width(label.text, label.size)
    left = label.x - {"start": 0.0, "middle": width / 2, "end": width}[label.anchor]
    return left, label.y - 0.78 * label.size, left + width, label.y + 0.24 * label.size


def line(kind: str, *points: Point) -> Stroke:
    """Join points."""
    return Stroke(kind, (points,))


def area(kind: str, *points: Point) -> Stroke:
    """Close a run of points."""
    return Stroke(kind, (points,), closed=True)


def box(kind: str, left: float, top: float, right: float, bottom: float) -> Stroke:
    """Draw a rectangle."""
    return area(kind, (left, top), (right, top), (right, bottom), (left, bottom))


def hatch(
    kind: str, left: float, top: float, right: float, bottom: float, *, step: float, rising: bool
) -> Stroke:
    """Fill a rectangle with slanted lines `step` apart; rising to the right or falling."""
    height = bottom - top
    runs: list[tuple[Point, ...]] = []
    start = left - height + step / 2
    while start < right:
        first, last = max(start, left), min(start + height, right)
        if last - first > 0.05:
            a, b = first - start, last - start
            runs.append(
                ((first, bottom - a), (last, bottom - b)) if rising else ((first, top + a), (last, top + b))
            )
        start += step
    return Stroke(kind, tuple(runs))


def text_width(text: str, size: float = SMALL) -> float:
    """Give a width that a text of this height never passes, in the fonts the papers are set in (bold too)."""
    ems = 0.0
    for sign in text:
        if sign in _WIDTH:
            ems += _WIDTH[sign]
        elif sign.isascii() and not sign.isupper():
            ems += _LOWER
        else:
            ems += _UPPER if ord(sign) < 0x400 else _OTHER
    return ems * size


def shortened(text: str, room: float, size: float = SMALL) -> str:
    """Cut a text that is too wide, with dots in the place of what is left out."""
    if text_width(text, size) <= room:
        return text
    while text and text_width(text + "\u2026", size) > room:
        text = text[:-1]
    return text.rstrip() + "\u2026"


def wrapped(text: str, room: float, size: float = SMALL) -> tuple[str, ...]:
    """Break a text between its words; a word too wide for the room is cut."""
    rows: list[str] = []
    for word in text.split(" "):
        if rows and text_width(f"{rows[-1]} {word}", size) <= room:
            rows[-1] = f"{rows[-1]} {word}"
        else:
            rows.append(shortened(word, room, size))
    return tuple(rows)


def spread(
    wanted: Sequence[float], sizes: Sequence[float], low: float, high: float, *, gap: float = 0.6
) -> list[float]:
    """Move things along a line as little as will part them, between two ends.

    `wanted` are the middles and `sizes` the extents. Gives the middles in the order of `wanted`; things of one
    wanted place keep their order. Where there is too little room they run over the far end, still parted.
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    before = 0.0
    offsets: list[float] = []
    blocks: list[tuple[float, int]] = []  # where the first edge of the row would be, and by how many things
    for i in order:
        offsets.append(before)
        blocks.append((wanted[i] - sizes[i] / 2 - before, 1))
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            (first, several), (second, more) = blocks[-2:]
            blocks[-2:] = [((first * several + second * more) / (several + more), several + more)]
        before += sizes[i] + gap
    edges = [edge for edge, count in blocks for _ in range(count)]
    last = max(low, high - (before - gap))
    middles = [0.0] * len(wanted)
    for i, edge, offset in zip(order, edges, offsets, strict=True):
        middles[i] = max(low, min(edge, last)) + offset + sizes[i] / 2
    return middles
