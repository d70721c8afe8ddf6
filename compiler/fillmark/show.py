"""A method's torque bars and figures as text, for a terminal."""

from collections.abc import Iterator, Mapping

from fillmark.documents.pictures import MARKS, Bar, Zones, bars, zones
from fillmark.figures import Figure, Figures
from fillmark.model import Method

NARROWEST = 40
LETTERS = {"lower": "L", "target": "T", "upper": "U"}


def torque_bar_text(values: Mapping[str, float], edges: Zones, width: int) -> tuple[str, str]:
    """Draw the torques of a step on a bar from 0 to 100 %, and the scale under it.

    `values` are in percent by lower, target, upper, lower_worst and upper_worst; the bar takes `width` signs
    between its ends. # is a zone where nothing counts or full scale is close, : a weak signal, = what conforms,
    - the worst case, L, T and U the limits and the target; > at the end tells that something lies beyond.
    """

    def column(torque: float) -> int:
        return min(width - 1, max(0, round(torque * (width - 1) / 100)))

    signs = [" "] * width
    for sign, low, high in (
        ("#", 0.0, edges.floor),
        (":", edges.floor, edges.preferred),
        ("#", edges.top, 100.0),
    ):
        signs[column(low) : column(high) + 1] = sign * (column(high) + 1 - column(low))
    low, high = values.get("lower", 0.0), values.get("upper", 100.0)
    for sign, start, end in (
        ("-", values.get("lower_worst", low), values.get("upper_worst", high)),
        ("=", low, high),
    ):
        signs[column(start) : column(end) + 1] = sign * (column(end) + 1 - column(start))
    for name in ("target", "lower", "upper"):
        if name in values and 0 <= values[name] <= 100:
            signs[column(values[name])] = LETTERS[name]
    beyond = ">" if max(values.values()) > 100 else "|"
    scale = [" "] * (width + 4)
    for torque in (0, 20, 40, 60, 80, 100):
        text = str(torque)
        start = max(0, column(torque) - len(text) // 2)
        scale[start : start + len(text)] = text
    return f"|{''.join(signs)}{beyond}", f" {''.join(scale).rstrip()} %"


def show(method: Method, figures: Figures, width: int) -> str:
    """Write the torque bars of a method and every figure with its formula, in `width` columns."""
    lines = [f"{method.id} rev. {method.revision}: {method.title}", ""]
    edges = zones(method)
    for bar in bars(method, figures):
        lines += [*_bar(bar, edges, width), ""]
    if len(lines) > 2:
        lines += [
            f"# under {edges.texts[0]} or over {edges.texts[2]}, : weak signal, = conforming, - worst case",
            "",
        ]
    lines += list(_figures(figures))
    return "\n".join(lines)


def _bar(bar: Bar, edges: Zones, width: int) -> Iterator[str]:
    torques = ", ".join(f"{name} {bar.texts[name]}" for name in MARKS if name in bar.texts)
    worst = f"; worst case {bar.worst}" if bar.worst else ""
    yield f"{bar.step.name}, {bar.step.speed.text}: {torques}{worst}"
    yield from torque_bar_text(bar.values, edges, max(NARROWEST, min(101, width - 8)))


def _figures(figures: Figures) -> Iterator[str]:
    """Give the figures by topic; a topic of one figure alone stands under the first heading."""
    topics: dict[str, list[Figure]] = {}
    for key, figure in figures.items():
        parts = key.split(".")
        topics.setdefault(".".join(parts[: 2 if parts[0] in ("run", "report") else 1]), []).append(figure)
    alone = [figure for members in topics.values() if len(members) == 1 for figure in members]
    for topic, members in (("method", alone), *((t, m) for t, m in topics.items() if len(m) > 1)):
        yield f"{topic}:"
        yield from (f"  {figure.title}: {figure.text}   [{figure.formula}]" for figure in members)
    if figures.open:
        yield "open:"
        yield from (f"  {key}: {why}" for key, why in figures.open.items())
