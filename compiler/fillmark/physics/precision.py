"""Repeatability and reproducibility from results in groups, and how far each group stands out."""

from collections.abc import Sequence
from math import fsum, inf, isfinite, sqrt
from typing import NamedTuple

from fillmark.physics.bounds import above_zero, not_below_zero
from fillmark.physics.distributions import (
    beta_point,
    beta_share,
    chi_square_point,
    f_tail,
    t_point,
    t_tail,
)

LIMIT_FACTOR = 2.8
"""Limit for the difference of two results over their standard deviation, 95 %: 1.96·√2, rounded.

Read in ASTM D3236, 11.1: each limit is 2.8 times the standard deviation.
"""


class Cell(NamedTuple):
    """Results of one group: how many, their mean and standard deviation (None for a single one)."""

    n: int
    mean: float
    sd: float | None


class Precision(NamedTuple):
    """What results in groups say about scatter within and between groups, in the unit of the results."""

    groups: int
    results: int
    balanced: bool
    mean: float
    """Weighted by the number of results."""
    sd_of_means: float
    """Standard deviation of the group means, each counting once."""
    repeatability_sd: float
    between_sd: float
    """0 where the groups differ by no more than their own scatter explains."""
    reproducibility_sd: float
    within_degrees: int
    between_degrees: int
    f: float
    """Variance between groups over that within; inf where nothing scatters within."""
    probability: float
    """That groups of one and the same mean give an F as large."""
    floored: bool
    """Whether the variance between groups came out below nothing and was set to nothing."""


def _mean(values: Sequence[float]) -> float:
    first = values[0]
    # Deviations from a value of the set: nothing is lost where the values share many digits.
    return first + fsum(v - first for v in values) / len(values)


def _squares(values: Sequence[float], mean: float) -> float:
    # The last term takes off what the rounding of the mean adds.
    off = [v - mean for v in values]
    return max(0.0, fsum(d * d for d in off) - fsum(off) ** 2 / len(off))


def cell(*, values: Sequence[float]) -> Cell:
    """Give number, mean and standard deviation of the results of one group.

    Equation: x̄ = Σx/n; s = √(Σ(x − x̄)²/(n − 1))
    Symbols: x results; x̄, s in their unit; n number of results, 1
    Validity: at least 1 result; s is None for 1
    Reference: definitions

    >>> cell(values=[1, 2, 3])
    Cell(n=3, mean=2.0, sd=1.0)
    """
    if not values or not all(isfinite(v) for v in values):
        raise ValueError("a group needs results, all of them finite")
    mean = _mean(values)
    return Cell(
        len(values), mean, sqrt(_squares(values, mean) / (len(values) - 1)) if len(values) > 1 else None
    )


def precision(*, groups: Sequence[Sequence[float]]) -> Precision:
    """Give the repeatability and reproducibility standard deviations of results in groups.

    Equation: s_r² = Σ(n_i − 1)·s_i²/Σ(n_i − 1); s_d² = Σn_i·(x̄_i − x̄)²/(p − 1);
        n̄ = (N − Σn_i²/N)/(p − 1); s_L² = max(0, (s_d² − s_r²)/n̄); s_R² = s_r² + s_L²
    Symbols: n_i, x̄_i, s_i number, mean and standard deviation of group i; N number of results, p of groups, 1;
        s_r repeatability, s_L between groups, s_R reproducibility standard deviation, in the unit of the results
    Validity: at least 2 groups, at least 1 with 2 results or more; every result counts, none is dropped
    Reference: ISO 5725-2, one-way layout, from memory; with groups of one size the same as ASTM E691, from memory

    >>> p = precision(groups=[[9, 11], [11, 13]])
    >>> p.mean, round(p.repeatability_sd, 4), round(p.between_sd, 4), round(p.reproducibility_sd, 4)
    (11.0, 1.4142, 1.0, 1.7321)
    """
    p, total = len(groups), sum(len(g) for g in groups)
    if p < 2 or total == p:
        raise ValueError("precision needs 2 groups or more, and 2 results or more in one of them")
    # From one result of them: means that differ in the seventh digit only would lose what they differ by.
    first = next((v for g in groups for v in g), 0.0)
    cells = [cell(values=[v - first for v in g]) for g in groups]
    grand = fsum(c.n * c.mean for c in cells) / total
    within = fsum((c.n - 1) * c.sd**2 for c in cells if c.sd is not None) / (total - p)
    between = fsum(c.n * (c.mean - grand) ** 2 for c in cells) / (p - 1)
    weight = (total - fsum(c.n**2 for c in cells) / total) / (p - 1)
    excess = (between - within) / weight
    laboratory = max(0.0, excess)
    means = [c.mean for c in cells]
    f = between / within if within else inf if between else 0.0
    return Precision(
        p, total, len({c.n for c in cells}) == 1, first + grand, sqrt(_squares(means, _mean(means)) / (p - 1)),
        sqrt(within), sqrt(laboratory), sqrt(within + laboratory), total - p, p - 1, f,
        f_tail(f=f, above=p - 1, below=total - p), excess < 0,
    )  # fmt: skip


def limit_of_two(*, sd: float) -> float:
    """Give the difference that two results exceed one time in twenty.

    Equation: r = 2.8·s_r; R = 2.8·s_R
    Symbols: sd standard deviation of one result; r, R in its unit
    Validity: 95 %, standard deviation well known
    Reference: ASTM D3236, 11.1 (excerpt read), for the factor

    >>> round(limit_of_two(sd=0.5), 3)
    1.4
    """
    not_below_zero(sd=sd)
    return LIMIT_FACTOR * sd


def sd_interval(*, sd: float, degrees: float, confidence: float = 0.95) -> tuple[float, float]:
    """Give the interval that a standard deviation lies in, as far as so few results tell.

    Equation: s·√(ν/χ²_upper) to s·√(ν/χ²_lower)
    Symbols: s standard deviation and interval in one unit; degrees ν, degrees of freedom, 1; confidence, 1
    Validity: normal scatter
    Reference: any text on statistics, from memory

    >>> low, high = sd_interval(sd=1, degrees=10)
    >>> round(low, 3), round(high, 3)
    (0.699, 1.755)
    """
    not_below_zero(sd=sd)
    above_zero(degrees=degrees)
    tail = (1 - confidence) / 2
    return (
        sd * sqrt(degrees / chi_square_point(upper=tail, degrees=degrees)),
        sd * sqrt(degrees / chi_square_point(upper=1 - tail, degrees=degrees)),
    )


def between_statistics(*, means: Sequence[float]) -> tuple[float, ...]:
    """Give how far the mean of each group lies from the mean of all, in standard deviations of the means: h.

    Equation: h_i = (x̄_i − mean of x̄)/s_x
    Symbols: x̄_i group means; s_x their standard deviation; h, 1
    Validity: at least 3 groups; all 0 where the means are equal
    Reference: ASTM E691, between-laboratory consistency statistic, from memory

    >>> [round(h, 3) for h in between_statistics(means=[1, 2, 3])]
    [-1.0, 0.0, 1.0]
    """
    if len(means) < 3:
        raise ValueError("2 groups always differ alike from their mean; it takes 3 to tell which stands out")
    mean = _mean(means)
    sd = sqrt(_squares(means, mean) / (len(means) - 1))
    return tuple((m - mean) / sd if sd else 0.0 for m in means)


def between_limit(*, groups: int, upper: float) -> float:
    """Give the size that h exceeds with a probability, for a group that is like the others.

    Equation: h = (p − 1)·t/√(p·(p − 2 + t²)), t exceeded with probability upper/2, p − 2 degrees of freedom
    Symbols: groups p, 1; upper probability for either sign together, 1; h, 1
    Validity: normal means of one variance (groups of one size); p from 3
    Reference: ASTM E691, from memory; distribution of a studentized deviation, derived

    >>> round(between_limit(groups=8, upper=0.005), 2)
    2.15
    """
    if groups < 3:
        raise ValueError(f"h is judged among 3 groups or more, not {groups!r}")
    t = t_point(upper=upper / 2, degrees=groups - 2)
    return (groups - 1) * t / sqrt(groups * (groups - 2 + t * t))


def within_statistics(*, cells: Sequence[Cell]) -> tuple[float | None, ...]:
    """Give the scatter of each group over that of all: k; None for a group of one result.

    Equation: k_i = s_i/s_r
    Symbols: s_i standard deviation of a group; s_r repeatability standard deviation of all; k, 1
    Validity: all 0 where nothing scatters
    Reference: ASTM E691, within-laboratory consistency statistic, from memory

    >>> [round(k, 3) for k in within_statistics(cells=[Cell(2, 5, 3.0), Cell(2, 5, 4.0)])]
    [0.849, 1.131]
    """
    degrees = sum(c.n - 1 for c in cells if c.sd is not None)
    if not degrees:
        raise ValueError("no group has two results")
    pooled = sqrt(fsum((c.n - 1) * c.sd**2 for c in cells if c.sd is not None) / degrees)
    return tuple(None if c.sd is None else c.sd / pooled if pooled else 0.0 for c in cells)


def within_limit(*, degrees: float, all_degrees: float, upper: float) -> float:
    """Give the value that k exceeds with a probability, for a group that is like the others.

    Equation: k = √(B·Σν/ν_i), B exceeded with probability upper by a beta variable of ν_i/2 and (Σν − ν_i)/2
    Symbols: degrees ν_i, degrees of freedom of the group; all_degrees Σν, of all; upper probability, 1; k, 1
    Validity: normal scatter; another group with two results at least
    Reference: derived; with groups of one size the limit of ASTM E691, √(p·F/(F + p − 1)), from memory

    >>> round(within_limit(degrees=2, all_degrees=16, upper=0.005), 2)
    2.06
    """
    above_zero(degrees=degrees, all_degrees=all_degrees)
    if degrees >= all_degrees:
        raise ValueError("k is judged against the scatter of other groups; there is none")
    b = beta_point(upper=upper, a=degrees / 2, b=(all_degrees - degrees) / 2)
    return sqrt(b * all_degrees / degrees)


def largest_variance_probability(*, cells: Sequence[Cell]) -> tuple[int, float] | None:
    """Give which group scatters most for its size, and how likely the worst of groups alike is as bad.

    Equation: P = min(1, p·P(B > ν_i·s_i²/Σν·s²)), least over the groups; B beta, ν_i/2 and (Σν − ν_i)/2
    Symbols: ν_i, s_i degrees of freedom and standard deviation of group i; p number of groups with scatter, 1
    Validity: normal scatter. Exact where the worst group has more than half of all squares, else an upper
        bound. None where fewer than two groups scatter
    Reference: Cochran's test (groups of one size), from memory, as ISO 5725-2 has it; the bound is Bonferroni's

    >>> largest_variance_probability(cells=[Cell(3, 0, 1.0), Cell(3, 0, 1.0), Cell(3, 0, 9.0)])[0]
    2
    """
    degrees = {i: c.n - 1 for i, c in enumerate(cells) if c.sd is not None}
    squares = {i: nu * (cells[i].sd or 0.0) ** 2 for i, nu in degrees.items()}
    total, all_degrees = fsum(squares.values()), sum(degrees.values())
    if len(degrees) < 2 or not total:
        return None
    found = {
        i: beta_share(x=max(0.0, 1 - square / total), a=(all_degrees - degrees[i]) / 2, b=degrees[i] / 2)
        for i, square in squares.items()
    }
    worst = min(found, key=lambda i: (found[i], -squares[i]))
    return worst, min(1.0, len(found) * found[worst])


def extreme_mean_probability(*, means: Sequence[float]) -> tuple[int, float] | None:
    """Give which mean lies furthest out, and how likely the furthest of means alike lies as far.

    Equation: G = max|x̄_i − x̄|/s_x; P = min(1, 2p·P(t > √(p·(p − 2)·G²/((p − 1)² − p·G²)))), p − 2 degrees
    Symbols: x̄_i means; s_x their standard deviation; p number of means, 1
    Validity: normal means of one variance. Exact where no two can lie as far out, else an upper bound. None
        where there are fewer than 3 means or they are equal
    Reference: Grubbs' test of one outlying mean, either side, from memory, as ISO 5725-2 has it

    >>> extreme_mean_probability(means=[1.0, 1.1, 0.9, 1.0, 9.0])[0]
    4
    """
    p = len(means)
    if p < 3:
        return None
    h = between_statistics(means=means)
    at = max(range(p), key=lambda i: abs(h[i]))
    if not h[at]:
        return None
    rest = (p - 1) ** 2 - p * h[at] ** 2
    t = sqrt(p * (p - 2) * h[at] ** 2 / rest) if rest > 0 else inf
    return at, min(1.0, 2 * p * t_tail(t=t, degrees=p - 2))
