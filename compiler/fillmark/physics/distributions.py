"""Tails and percentage points of the distributions that studies need: t, F, beta, chi-square, studentized range.

Own code, so that no numeric package has to be installed; the tests hold it against scipy.
"""

from collections.abc import Callable
from functools import cache
from math import exp, inf, isfinite, lgamma, log, log1p
from statistics import NormalDist

from fillmark.physics.bounds import above_zero, not_below_zero
from fillmark.physics.statistics import range_exceeded

_TINY = 1e-300
_MANY = 200_000
_EPS = 1e-16
_NO_RANGE = 12.0
"""A range of a thousand normal values exceeds so many standard deviations less than once in a billion times."""

ENOUGH_DEGREES = 2000
"""Degrees of freedom from which a standard deviation counts as known when a range is divided by it."""


def _probability(**shares: float) -> None:
    for name, share in shares.items():
        if not 0 < share < 1:
            raise ValueError(f"{name.replace('_', ' ')} must be between 0 and 1, not {share!r}")


def beta_share(*, x: float, a: float, b: float) -> float:
    """Give the share of a beta distribution below x: the regularised incomplete beta function.

    Equation: I_x(a, b) = x^a·(1−x)^b/(a·B(a, b))·continued fraction; 1 − I_(1−x)(b, a) beyond the mean
    Symbols: x 1, from 0 to 1; a, b shapes, 1; I, 1
    Validity: a, b above 0
    Reference: NIST Digital Library of Mathematical Functions, 8.17.22, from memory; Lentz's way to evaluate it

    >>> round(beta_share(x=0.5, a=2, b=2), 6)
    0.5
    """
    above_zero(a=a, b=b)
    if not 0 <= x <= 1:
        raise ValueError(f"x must be from 0 to 1, not {x!r}")
    if x in (0, 1):
        return float(x)
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_share(x=1 - x, a=b, b=a)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x)) / a
    value, c, d = 1.0, 1.0, 0.0
    for i in range(_MANY):
        m = i // 2
        if i == 0:
            term = 1.0
        elif i % 2 == 0:
            term = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        else:
            term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        d = 1 / ((1 + term * d) or _TINY)
        c = (1 + term / c) or _TINY
        value *= c * d
        if abs(1 - c * d) < _EPS * 4:
            break
    return min(1.0, front * (value - 1)) if value > 1 else 0.0


def _beta_upper(x: float, a: float, b: float) -> float:
    """Give the share above x, without the loss of digits of 1 − I."""
    return beta_share(x=1 - x, a=b, b=a)


def _falling_to(share: float, tail: Callable[[float], float], low: float, high: float) -> float:
    """Find where a falling function comes down to a value, by halving."""
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if tail(middle) > share:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _falling_beyond(share: float, tail: Callable[[float], float], high: float) -> float:
    while tail(high) > share:
        high *= 2
    return _falling_to(share, tail, 0.0, high)


def beta_point(*, upper: float, a: float, b: float) -> float:
    """Give the value that a beta distribution exceeds with a probability.

    Equation: x with 1 − I_x(a, b) = upper, by halving
    Symbols: upper probability, 1; a, b shapes, 1; x, 1
    Validity: upper between 0 and 1; a, b above 0
    Reference: definition of a percentage point

    >>> round(beta_point(upper=0.05, a=1, b=1), 6)
    0.95
    """
    _probability(upper=upper)
    above_zero(a=a, b=b)
    return _falling_to(upper, lambda x: _beta_upper(x, a, b), 0.0, 1.0)


def t_tail(*, t: float, degrees: float) -> float:
    """Give the probability that Student's t exceeds a value.

    Equation: ½·I_(ν/(ν + t²))(ν/2, ½) for t from 0; 1 less that for t below 0
    Symbols: t, 1; degrees ν, degrees of freedom, 1
    Validity: ν above 0
    Reference: any text on statistics, from memory

    >>> round(t_tail(t=1, degrees=1), 6)
    0.25
    """
    above_zero(degrees=degrees)
    if t < 0:
        return 1 - t_tail(t=-t, degrees=degrees)
    if not isfinite(t):
        return 0.0
    return beta_share(x=degrees / (degrees + t * t), a=degrees / 2, b=0.5) / 2


def t_point(*, upper: float, degrees: float) -> float:
    """Give the value that Student's t exceeds with a probability.

    Equation: t with P(t_ν > t) = upper
    Symbols: upper probability, 1; degrees ν, degrees of freedom, 1; t, 1
    Validity: upper between 0 and 1; ν above 0
    Reference: definition of a percentage point

    >>> round(t_point(upper=0.025, degrees=10), 3)
    2.228
    """
    _probability(upper=upper)
    above_zero(degrees=degrees)
    if upper > 0.5:
        return -t_point(upper=1 - upper, degrees=degrees)
    return _falling_beyond(upper, lambda t: t_tail(t=t, degrees=degrees), 4.0)


def f_tail(*, f: float, above: float, below: float) -> float:
    """Give the probability that an F ratio exceeds a value.

    Equation: I_(ν₂/(ν₂ + ν₁·F))(ν₂/2, ν₁/2)
    Symbols: f ratio of variances, 1; above ν₁, below ν₂, degrees of freedom, 1
    Validity: f from 0; ν₁, ν₂ above 0
    Reference: any text on statistics, from memory

    >>> round(f_tail(f=4.964603, above=1, below=10), 4)
    0.05
    """
    above_zero(above=above, below=below)
    if f < 0:
        raise ValueError(f"f must not be below 0, not {f!r}")
    if not isfinite(f):
        return 0.0
    return beta_share(x=below / (below + above * f), a=below / 2, b=above / 2)


def f_point(*, upper: float, above: float, below: float) -> float:
    """Give the value that an F ratio exceeds with a probability.

    Equation: F with P(F_(ν₁,ν₂) > F) = upper
    Symbols: upper probability, 1; above ν₁, below ν₂, degrees of freedom, 1; F, 1
    Validity: upper between 0 and 1; ν₁, ν₂ above 0
    Reference: definition of a percentage point

    >>> round(f_point(upper=0.05, above=1, below=10), 3)
    4.965
    """
    _probability(upper=upper)
    above_zero(above=above, below=below)
    return _falling_beyond(upper, lambda f: f_tail(f=f, above=above, below=below), 4.0)


def chi_square_tail(*, x: float, degrees: float) -> float:
    """Give the probability that chi-square exceeds a value.

    Equation: 1 − P(ν/2, x/2); P by its series below the mean, the tail by a continued fraction above
    Symbols: x, 1; degrees ν, degrees of freedom, 1
    Validity: x from 0; ν above 0
    Reference: NIST Digital Library of Mathematical Functions, 8.7.1 and 8.9.2, from memory

    >>> round(chi_square_tail(x=3.841459, degrees=1), 4)
    0.05
    """
    above_zero(degrees=degrees)
    if x < 0:
        raise ValueError(f"x must not be below 0, not {x!r}")
    if x == 0:
        return 1.0
    if not isfinite(x):
        return 0.0
    a, y = degrees / 2, x / 2
    front = exp(a * log(y) - y - lgamma(a))
    if y < a + 1:
        term = total = 1 / a
        for i in range(1, _MANY):
            term *= y / (a + i)
            total += term
            if term < total * _EPS:
                break
        return 1 - min(1.0, front * total)
    b = y + 1 - a
    c, d = 1 / _TINY, 1 / b
    value = d
    for i in range(1, _MANY):
        part = -i * (i - a)
        b += 2
        d = 1 / ((part * d + b) or _TINY)
        c = (b + part / c) or _TINY
        value *= c * d
        if abs(1 - c * d) < _EPS * 4:
            break
    return front * value


def chi_square_point(*, upper: float, degrees: float) -> float:
    """Give the value that chi-square exceeds with a probability.

    Equation: x with P(χ²_ν > x) = upper
    Symbols: upper probability, 1; degrees ν, degrees of freedom, 1; x, 1
    Validity: upper between 0 and 1; ν above 0
    Reference: definition of a percentage point

    >>> round(chi_square_point(upper=0.05, degrees=1), 3)
    3.841
    """
    _probability(upper=upper)
    above_zero(degrees=degrees)
    return _falling_beyond(upper, lambda x: chi_square_tail(x=x, degrees=degrees), 2 * degrees)


def normal_point(*, upper: float) -> float:
    """Give the value that a standard normal variable exceeds with a probability.

    Equation: z with P(Z > z) = upper
    Symbols: upper probability, 1; z, 1
    Validity: upper between 0 and 1
    Reference: definition of a percentage point

    >>> round(normal_point(upper=0.025), 3)
    1.96
    """
    _probability(upper=upper)
    return NormalDist().inv_cdf(1 - upper)


def scatter_weights(*, degrees: float, panels: int = 120) -> tuple[tuple[float, float], ...]:
    """Give values of s/σ and how likely each is, for sums in place of integrals over an estimated scatter.

    Equation: density of √(χ²_ν/ν) over ln s, by Simpson's rule between its outer billionths
    Symbols: degrees ν, degrees of freedom of s, 1; panels, even number of steps, 1; s/σ, 1; weights, 1
    Validity: ν from 1
    Reference: distribution of a standard deviation, any text on statistics, from memory

    >>> round(sum(weight for _, weight in scatter_weights(degrees=5)), 6)
    1.0
    """
    above_zero(degrees=degrees, panels=panels)
    half = degrees / 2
    low = log(chi_square_point(upper=1 - 1e-9, degrees=degrees) / degrees) / 2
    high = log(chi_square_point(upper=1e-10, degrees=degrees) / degrees) / 2
    step = (high - low) / panels
    found = []
    for i in range(panels + 1):
        u = low + i * step
        density = 2 * exp(half * log(half) - lgamma(half) + degrees * u - half * exp(2 * u))
        weight = 1 if i in (0, panels) else 4 if i % 2 else 2
        found.append((exp(u), density * weight * step / 3))
    return tuple(found)


def studentized_range_tail(*, q: float, n: int, degrees: float) -> float:
    """Give the probability that a range of n values exceeds q times an independent standard deviation.

    Equation: ∫ f_ν(s)·P(range of n > q·s) ds, f_ν density of √(χ²_ν/ν)
    Symbols: q, 1; n number of values, 1; degrees ν, degrees of freedom of the standard deviation, 1
    Validity: normal scatter; n from 2; ν from 1, from 2000 taken as without end
    Reference: definition of the studentized range; table values in any text on statistics

    >>> round(studentized_range_tail(q=3.151, n=2, degrees=10), 3)
    0.05
    """
    not_below_zero(q=q)
    if degrees >= ENOUGH_DEGREES:
        return range_exceeded(n=n, range_over_sd=q)
    return _studentized(q, n, _weights(degrees))


def _weights(degrees: float) -> tuple[tuple[float, float], ...]:
    # With one degree of freedom the density runs over many powers of ten, and wide steps miss where it matters.
    return scatter_weights(degrees=degrees, panels=120 if degrees >= 2 else 600)


def _studentized(q: float, n: int, weights: tuple[tuple[float, float], ...]) -> float:
    # What weighs less than a billionth, or lies where no range comes to, only costs time.
    return min(
        1.0,
        sum(
            w * range_exceeded(n=n, range_over_sd=q * s) for s, w in weights if w > 1e-9 and q * s < _NO_RANGE
        ),
    )


def studentized_range_point(*, upper: float, n: int, degrees: float = inf) -> float:
    """Give the factor on a standard deviation that a range of n values exceeds with a probability.

    Equation: q with P(range of n > q·s_ν) = upper, by regula falsi on its logarithm
    Symbols: upper probability, 1; n number of values, 1; degrees ν, degrees of freedom of the standard
        deviation, 1
    Validity: normal scatter; n from 2; ν from 1, from 2000 taken as without end; upper from 0.0001 to 0.5
    Reference: definition of a percentage point

    >>> round(studentized_range_point(upper=0.05, n=3), 2)
    3.31
    """
    if not 1e-4 <= upper <= 0.5:
        raise ValueError(f"upper must be from 0.0001 to 0.5, not {upper!r}")
    if n < 2:
        raise ValueError(f"a range needs 2 values or more, not {n!r}")
    return _studentized_point(upper, n, degrees)


@cache
def _studentized_point(upper: float, n: int, degrees: float) -> float:
    known = degrees >= ENOUGH_DEGREES
    weights = ((1.0, 1.0),) if known else _weights(degrees)

    def off(q: float) -> float:
        return log(max(_studentized(q, n, weights), _TINY) / upper)

    low = 0.0 if known else _studentized_point(upper, n, inf)
    high = 4.0 if known else 1.2 * low
    at_low, at_high = off(low) if low else -log(upper), off(high)
    while at_high > 0:
        low, at_low, high = high, at_high, 1.5 * high
        at_high = off(high)
    for _ in range(60):
        middle = high - at_high * (high - low) / (at_high - at_low)
        at = off(middle)
        if abs(at) < 1e-7 or high - low < 1e-10:
            return middle
        if at > 0:
            low, at_low, at_high = middle, at, at_high / 2
        else:
            high, at_high, at_low = middle, at, at_low / 2
    return (low + high) / 2
