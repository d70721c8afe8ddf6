"""Charts of single values over time: centre, three standard deviations, and runs that chance seldom makes."""

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

MOVING_RANGE_FACTOR = 1.128
"""Mean range of two values of a normal distribution over its standard deviation: 2/√π, rounded as tables give it."""

RULES = {
    "beyond-3s": "one value farther than 3 s from the centre",
    "8-one-side": "8 values in a row on one side of the centre",
    "2-of-3-beyond-2s": "2 of 3 values in a row farther than 2 s from the centre, on one side",
    "4-of-5-beyond-1s": "4 of 5 values in a row farther than 1 s from the centre, on one side",
    "6-one-way": "6 values in a row, each above the one before or each below it",
}
"""Run rules of charts of single values (common practice), by key, with what each says."""


class ControlLimits(NamedTuple):
    """Centre and limits of a chart, in the unit of its values."""

    centre: float
    s: float
    lower: float
    upper: float


class Signal(NamedTuple):
    """A stretch of values that a run rule speaks of: the first and the last by their place, and the side."""

    rule: str
    first: int
    last: int
    side: int
    """1 above the centre or rising, -1 below or falling."""


def control_limits(*, values: Sequence[float]) -> ControlLimits:
    """Give centre and limits of a chart of single values.

    Equation: centre = Σx/n; s = mean of |x_i − x_(i−1)| / 1.128; limits = centre ± 3·s
    Symbols: x values in the order of time, in one unit
    Validity: values independent, scatter about normal, no break among them; two values or more. The moving
        range keeps a step or a drift out of s, where the plain standard deviation would swell with it
    Reference: chart of individuals of Shewhart, ISO 7870-2, from memory

    >>> control_limits(values=[10, 12, 10, 12]).s
    1.773049645390071
    """
    if len(values) < 2:
        raise ValueError(f"limits need 2 values or more, not {len(values)}")
    centre = sum(values) / len(values)
    moves = sum(abs(b - a) for a, b in pairwise(values)) / (len(values) - 1)
    s = moves / MOVING_RANGE_FACTOR
    return ControlLimits(centre, s, centre - 3 * s, centre + 3 * s)


def signals(*, values: Sequence[float], centre: float, s: float) -> list[Signal]:
    """Find where values break a run rule of `RULES`; stretches that touch are told as one.

    Equation: z = (x − centre)/s, then as `RULES` say
    Symbols: x values in the order of time, centre and s in one unit
    Validity: one segment without a break; none where s is 0, for then the readout shows no scatter
    Reference: run rules of Shewhart charts, common practice

    >>> signals(values=[0, 0, 0, 4], centre=0, s=1)
    [Signal(rule='beyond-3s', first=3, last=3, side=1)]
    """
    if s <= 0:
        return []
    z = [(x - centre) / s for x in values]
    found: list[Signal] = []
    for rule, beyond, window, least in (
        ("beyond-3s", 3.0, 1, 1),
        ("8-one-side", 0.0, 8, 8),
        ("2-of-3-beyond-2s", 2.0, 3, 2),
        ("4-of-5-beyond-1s", 1.0, 5, 4),
    ):
        edge = beyond + 1e-9  # a value on the line is not beyond it, however the sum was rounded
        for side in (1, -1):
            found += _windows(rule, [side * v > edge for v in z], window, least, side)
    for side in (1, -1):
        steps = [side * (b - a) > 1e-9 for a, b in pairwise(z)]
        found += [Signal(r, a, b + 1, w) for r, a, b, w in _windows("6-one-way", steps, 5, 5, side)]
    order = list(RULES)
    return sorted(found, key=lambda f: (f.first, order.index(f.rule), f.side))


def _windows(rule: str, hits: Sequence[bool], window: int, least: int, side: int) -> list[Signal]:
    """Find stretches in which `least` of any `window` neighbours hit, from the first hit to the last."""
    found: list[Signal] = []
    inside = 0
    for end, hit in enumerate(hits):
        inside += hit
        if end >= window:
            inside -= hits[end - window]
        if not (hit and inside >= least):
            continue
        first = max(0, end - window + 1)
        while not hits[first]:
            first += 1
        if found and found[-1].last >= first - 1:
            found[-1] = found[-1]._replace(last=end)
        else:
            found.append(Signal(rule, first, end, side))
    return found
