"""A straight line through points, how well its slope is known, and whether it is a line at all."""

from collections import defaultdict
from collections.abc import Sequence
from math import fsum, inf, isfinite, sqrt
from typing import NamedTuple

from fillmark.physics.distributions import f_tail, t_point


class Line(NamedTuple):
    """A least-squares line y = value + slope·(x − at)."""

    at: float
    value: float
    """Of the line, at `at`."""
    slope: float
    slope_sd: float
    value_sd: float
    residual_sd: float
    degrees: int


class Departure(NamedTuple):
    """How far points depart from a line: an F ratio, its degrees of freedom, and the chance of one as large."""

    f: float
    above: int
    below: int
    probability: float


def _centred(values: Sequence[float]) -> tuple[float, list[float]]:
    first = values[0]
    mean = first + fsum(v - first for v in values) / len(values)
    return mean, [v - mean for v in values]


def _checked(x: Sequence[float], y: Sequence[float]) -> None:
    if len(x) != len(y) or not all(isfinite(v) for v in (*x, *y)):
        raise ValueError("a line needs as many x as y, all finite")


def line(*, x: Sequence[float], y: Sequence[float], at: float = 0.0) -> Line:
    """Fit a straight line by least squares.

    Equation: b = Σ(x − x̄)(y − ȳ)/S; S = Σ(x − x̄)²; s² = Σ(y − line)²/(n − 2); s_b = s/√S;
        s_at = s·√(1/n + (at − x̄)²/S)
    Symbols: x, y in any units; b slope; s residual, s_b slope's, s_at line's standard deviation; n points, 1
    Validity: at least 3 points at two x or more; x known well against y; scatter alike along the line
    Reference: any text on statistics, from memory

    >>> found = line(x=[0, 1, 2], y=[1, 3, 5], at=1)
    >>> found.slope, found.value, found.residual_sd
    (2.0, 3.0, 0.0)
    """
    _checked(x, y)
    n = len(x)
    if n < 3 or len(set(x)) < 2:
        raise ValueError("a line with a known scatter needs 3 points or more, at two places or more")
    middle, dx = _centred(x)
    mean, dy = _centred(y)
    spread = fsum(d * d for d in dx)
    slope = fsum(a * b for a, b in zip(dx, dy, strict=True)) / spread
    residual = sqrt(fsum((b - slope * a) ** 2 for a, b in zip(dx, dy, strict=True)) / (n - 2))
    return Line(
        at, mean + slope * (at - middle), slope, residual / sqrt(spread),
        residual * sqrt(1 / n + (at - middle) ** 2 / spread), residual, n - 2,
    )  # fmt: skip


def half_width(*, sd: float, degrees: float, confidence: float = 0.95) -> float:
    """Give by how much a slope, or a mean, may be off either way.

    Equation: t·s, t exceeded with probability (1 − confidence)/2
    Symbols: sd s, standard deviation of the slope or mean, half width in its unit; degrees of freedom, 1;
        confidence, 1
    Validity: normal scatter
    Reference: any text on statistics, from memory

    >>> round(half_width(sd=1, degrees=10), 3)
    2.228
    """
    return t_point(upper=(1 - confidence) / 2, degrees=degrees) * sd


def lack_of_fit(*, x: Sequence[float], y: Sequence[float]) -> Departure | None:
    """Compare how far the means at each x lie off the line with the scatter at one x.

    Equation: F = (SS_line − SS_x)/(m − 2) over SS_x/(n − m); SS_x squares about the mean at each x
    Symbols: n points, m different x, 1; SS_line squares about the line, in the unit of y squared
    Validity: 3 different x or more, and repeats at one of them at least; else None. F is inf where repeats
        agree to the last digit and the line does not go through them
    Reference: lack-of-fit test, any text on regression, from memory

    >>> round(lack_of_fit(x=[0, 0, 1, 1, 2, 2], y=[0, 1, 5, 6, 0, 1]).f, 2)
    66.67
    """
    _checked(x, y)
    at_x: dict[float, list[float]] = defaultdict(list)
    for place, value in zip(x, y, strict=True):
        at_x[place].append(value)
    n, m = len(x), len(at_x)
    if m < 3 or n == m:
        return None
    about_line = line(x=x, y=y).residual_sd ** 2 * (n - 2)
    about_means = fsum(d * d for values in at_x.values() for d in _centred(values)[1])
    # A difference below the rounding of what it is taken from is none.
    off = max(0.0, about_line - about_means)
    off = 0.0 if off < 1e-12 * about_line else off
    return _departure(off / (m - 2), about_means / (n - m), m - 2, n - m)


def curvature(*, x: Sequence[float], y: Sequence[float]) -> Departure | None:
    """Ask whether a bend (a term in x²) explains more than scatter does.

    Equation: F = SS_bend over (SS_line − SS_bend)/(n − 3)
    Symbols: n points, 1; SS_line squares about the line, SS_bend what the term takes off them
    Validity: 4 points or more at 3 different x or more; else None
    Reference: test of a quadratic term, any text on regression, from memory

    >>> curvature(x=[0, 1, 2, 3], y=[0, 1, 4, 9]).f > 1e9
    True
    """
    _checked(x, y)
    n = len(x)
    if n < 4 or len(set(x)) < 3:
        return None
    _, dx = _centred(x)
    _, dy = _centred(y)
    _, square = _centred([d * d for d in dx])
    spread = fsum(d * d for d in dx)

    def without_line(values: Sequence[float]) -> list[float]:
        slope = fsum(a * b for a, b in zip(dx, values, strict=True)) / spread
        return [v - slope * a for a, v in zip(dx, values, strict=True)]

    bend, rest = without_line(square), without_line(dy)
    about_line, own = fsum(r * r for r in rest), fsum(b * b for b in bend)
    # Where one x lies beyond all measure the bend is the line again, but for rounding.
    if own <= 1e-12 * fsum(s * s for s in square):
        return None
    taken = fsum(a * b for a, b in zip(bend, rest, strict=True)) ** 2 / own
    left = max(0.0, about_line - taken)
    left = 0.0 if left < 1e-14 * about_line else left
    return _departure(taken, left / (n - 3), 1, n - 3)


def _departure(explained: float, scatter: float, above: int, below: int) -> Departure:
    f = explained / scatter if scatter else inf if explained else 0.0
    return Departure(f, above, below, f_tail(f=f, above=above, below=below))
