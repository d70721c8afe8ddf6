"""Whether two ways of measuring agree within a margin: two one-sided tests on paired differences."""

from collections.abc import Sequence
from math import fsum, inf, isfinite, sqrt
from statistics import NormalDist
from typing import NamedTuple

from fillmark.physics.bounds import above_zero, not_below_zero
from fillmark.physics.distributions import scatter_weights, t_point, t_tail

MOST_PAIRS = 1000
"""Number of pairs at which the search for enough of them stops."""


class Differences(NamedTuple):
    """Paired differences: how many, their mean, standard deviation, and that of the mean, in their unit."""

    n: int
    mean: float
    sd: float
    sd_of_mean: float


class TwoTests(NamedTuple):
    """Two one-sided tests of a mean difference against a margin."""

    above_lower: float
    """Probability of a mean so far above the lower margin where the true one lies on it."""
    below_upper: float
    """The same below the upper margin."""
    low: float
    """Interval of 1 − 2·alpha for the mean difference: inside both margins where both tests pass."""
    high: float
    equivalent: bool


def differences(*, first: Sequence[float], second: Sequence[float]) -> Differences:
    """Give number, mean and scatter of the differences second − first of pairs.

    Equation: d = second − first; s_d² = Σ(d − d̄)²/(n − 1); s of the mean = s_d/√n
    Symbols: first, second results of a pair, all in one unit; n number of pairs, 1
    Validity: at least 2 pairs
    Reference: definitions

    >>> differences(first=[1, 2, 3], second=[2, 3, 7])
    Differences(n=3, mean=2.0, sd=1.7320508075688772, sd_of_mean=1.0)
    """
    if len(first) != len(second) or len(first) < 2 or not all(isfinite(v) for v in (*first, *second)):
        raise ValueError("differences need 2 pairs or more, all finite")
    d = [b - a for a, b in zip(first, second, strict=True)]
    n = len(d)
    mean = fsum(d) / n
    sd = sqrt(fsum((v - mean) ** 2 for v in d) / (n - 1))
    return Differences(n, mean, sd, sd / sqrt(n))


def two_one_sided(*, found: Differences, lower: float, upper: float, alpha: float = 0.05) -> TwoTests:
    """Test whether a mean difference lies between two margins.

    Equation: t_1 = (d̄ − lower)/s_mean, t_2 = (upper − d̄)/s_mean; equivalent where both exceed t_alpha, n − 1
        degrees of freedom; interval d̄ ± t_alpha·s_mean
    Symbols: d̄ mean difference, s_mean its standard deviation, lower, upper margins, in one unit; alpha risk
        of each test, 1
    Validity: differences about normal, pairs independent, margins set before the results were seen
    Reference: two one-sided tests (Schuirmann 1987), from memory

    >>> d = differences(first=[10, 11, 12, 13], second=[10.1, 10.9, 12.1, 12.9])
    >>> two_one_sided(found=d, lower=-0.5, upper=0.5).equivalent
    True
    """
    if not lower < upper:
        raise ValueError(f"the lower margin {lower!r} is not below the upper margin {upper!r}")
    degrees = found.n - 1

    def probability(distance: float) -> float:
        t = distance / found.sd_of_mean if found.sd_of_mean else inf if distance > 0 else -inf
        return t_tail(t=t, degrees=degrees)

    half = t_point(upper=alpha, degrees=degrees) * found.sd_of_mean
    low, high = found.mean - half, found.mean + half
    above, below = probability(found.mean - lower), probability(upper - found.mean)
    return TwoTests(above, below, low, high, above < alpha and below < alpha)


def equivalence_power(
    *, sd: float, pairs: int, lower: float, upper: float, difference: float = 0.0, alpha: float = 0.05
) -> float:
    """Give the probability that so many pairs will show two ways to agree.

    Equation: ∫ f(s)·max(0, Φ((upper − δ)√n/σ − t·s) − Φ((lower − δ)√n/σ + t·s)) ds, s over σ, n − 1 degrees
    Symbols: sd σ of the differences, lower, upper margins, difference δ true difference, in one unit; pairs n,
        1; alpha risk of each test, 1; t exceeded with probability alpha
    Validity: normal differences; 2 pairs or more
    Reference: derived from the two tests; Φ normal distribution, f density of an estimated scatter

    >>> round(equivalence_power(sd=1, pairs=11, lower=-1, upper=1), 2)
    0.85
    """
    above_zero(sd=sd)
    if pairs < 2:
        raise ValueError(f"2 pairs or more, not {pairs!r}")
    degrees = pairs - 1
    t, root, normal = t_point(upper=alpha, degrees=degrees), sqrt(pairs) / sd, NormalDist()
    total = 0.0
    for s, weight in scatter_weights(degrees=degrees, panels=400):
        high = normal.cdf((upper - difference) * root - t * s)
        total += weight * max(0.0, high - normal.cdf((lower - difference) * root + t * s))
    return min(1.0, total)


def pairs_needed(
    *, sd: float, lower: float, upper: float, power: float = 0.8, difference: float = 0.0, alpha: float = 0.05
) -> int | None:
    """Give the fewest pairs that show two ways to agree with a probability, where they do.

    Equation: least n with power(n) ≥ power
    Symbols: as in `equivalence_power`; power, 1
    Validity: None where 1000 pairs are too few, or where the true difference is no smaller than the margin
    Reference: derived

    >>> pairs_needed(sd=1, lower=-1, upper=1)
    11
    """
    not_below_zero(sd=sd)
    if not lower < difference < upper:
        return None
    if sd == 0:
        return 2
    low, high = 1, 2

    def enough(n: int) -> bool:
        reached = equivalence_power(
            sd=sd, pairs=n, lower=lower, upper=upper, difference=difference, alpha=alpha
        )
        return reached >= power

    while not enough(high):
        low, high = high, 2 * high
        if low >= MOST_PAIRS:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high if high <= MOST_PAIRS else None
