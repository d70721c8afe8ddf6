"""Acceptance bands, agreement of determinations, and the uncertainty of a viscosity."""

from collections.abc import Iterable
from functools import cache
from math import erf, exp, hypot, inf, pi, sqrt
from typing import Literal, NamedTuple

from fillmark.physics.bounds import above_zero, not_below_zero

COVERAGE_FACTOR = 2.0
"""Expanded over standard uncertainty for a coverage of about 95 %."""

CRITICAL_RANGE_FACTORS = {2: 2.77, 3: 3.31, 4: 3.63, 5: 3.86, 6: 4.03, 7: 4.17, 8: 4.29, 9: 4.39, 10: 4.47}
"""Number of determinations and critical range over repeatability standard deviation, 95 %.

Computed: upper 5 % point of the studentized range, degrees of freedom without end. ISO 5725-6 prints them to
one decimal, from memory.
"""

DISTRIBUTION_DIVISORS = {"normal": 1.0, "rectangular": sqrt(3), "triangular": sqrt(6)}
"""What a half width is divided by to give a standard uncertainty. JCGM 100, 4.3, from memory."""


class Limits(NamedTuple):
    """A lower and an upper limit, both allowed, in the unit of what went in."""

    lower: float
    upper: float


class Component(NamedTuple):
    """One contribution to an uncertainty.

    `amount` is a half width for a rectangular or triangular distribution; for a normal one it is a standard
    deviation, or an expanded uncertainty with its `coverage` factor.
    """

    name: str
    amount: float
    distribution: Literal["normal", "rectangular", "triangular"] = "normal"
    coverage: float = 1.0


class Uncertainty(NamedTuple):
    """Standard uncertainties by name, their combination, and the expanded uncertainty (k = 2)."""

    contributions: tuple[tuple[str, float], ...]
    combined: float
    expanded: float


class Budget(NamedTuple):
    """Standard uncertainties of a viscosity, Pa·s, their combination, and the expanded one (k = 2)."""

    instrument: float
    temperature: float
    repeatability: float
    combined: float
    expanded: float


def verification_band(
    *,
    reference: float,
    accuracy_percent: float,
    full_scale: float,
    reference_uncertainty: float,
    combine: Literal["additive", "root-sum-square"] = "additive",
) -> Limits:
    """Give the band in which a certified liquid must read.

    Equation: η_ref ± (a·η_fs/100 + U_ref), or η_ref ± √((a·η_fs/100)² + U_ref²)
    Symbols: η_ref certified viscosity, Pa·s; a accuracy, % of full scale, extra for an accessory in it;
        η_fs full-scale viscosity at the spindle and speed, Pa·s; U_ref expanded uncertainty, Pa·s
    Validity: liquid at its certified temperature, the geometry the coefficient belongs to
    Reference: common practice (additive); JCGM 100 (root-sum-square)

    >>> verification_band(reference=1000, accuracy_percent=1, full_scale=2000, reference_uncertainty=10)
    Limits(lower=970.0, upper=1030.0)
    """
    above_zero(reference=reference, full_scale=full_scale)
    not_below_zero(accuracy_percent=accuracy_percent, reference_uncertainty=reference_uncertainty)
    instrument = accuracy_percent * full_scale / 100
    if combine == "additive":
        half_width = instrument + reference_uncertainty
    elif combine == "root-sum-square":
        half_width = hypot(instrument, reference_uncertainty)
    else:
        raise ValueError(f"no such combination: {combine!r}")
    return Limits(reference - half_width, reference + half_width)


def critical_range_factor(n: int) -> float:
    """Give the critical range over the repeatability standard deviation.

    Equation: f(n): 95 % point of the range of n normal values over their standard deviation
    Symbols: n number of determinations, 1; f, 1
    Validity: n from 2 to 10, standard deviation well known; ValueError for other n
    Reference: ISO 5725-6, from memory; values computed, see `CRITICAL_RANGE_FACTORS`

    >>> critical_range_factor(3)
    3.31
    """
    if n not in CRITICAL_RANGE_FACTORS:
        raise ValueError(f"critical range factors are known for 2 to 10 determinations, not for {n!r}")
    return CRITICAL_RANGE_FACTORS[n]


def critical_range(*, n: int, repeatability_sd: float) -> float:
    """Give the largest range (highest − lowest) that n determinations may show.

    Equation: CR = f(n)·s_r
    Symbols: n number of determinations, 1; s_r repeatability standard deviation; CR, in the unit of s_r
    Validity: 95 %: one good set in twenty exceeds it; n from 2 to 10
    Reference: ISO 5725-6, from memory

    >>> critical_range(n=2, repeatability_sd=100)
    277.0
    """
    not_below_zero(repeatability_sd=repeatability_sd)
    return critical_range_factor(n) * repeatability_sd


@cache
def _simpson() -> tuple[float, tuple[tuple[float, float, float], ...]]:
    """Give the step, and of each point of Simpson's rule from -9 to 9: x, erf(x/√2), weight times exp(-x²/2)."""
    panels, reach = 120, 9.0
    step = 2 * reach / panels
    places = [i * step - reach for i in range(panels + 1)]
    weights = [1 if i in (0, panels) else 4 if i % 2 else 2 for i in range(panels + 1)]
    return step, tuple(
        (x, erf(x / sqrt(2)), weight * exp(-x * x / 2)) for x, weight in zip(places, weights, strict=True)
    )


def range_exceeded(*, n: int, range_over_sd: float) -> float:
    """Give the share of sets of determinations whose range exceeds a limit.

    Equation: 1 − n·∫φ(x)·[Φ(x + w) − Φ(x)]^(n−1) dx, by Simpson's rule over x from −9 to 9
    Symbols: n number of determinations, 1; w range_over_sd, limit over repeatability standard deviation, 1;
        φ, Φ density and distribution of the standard normal
    Validity: normal scatter, standard deviation well known; n at least 2
    Reference: distribution of the range, any text on statistics, from memory

    >>> round(range_exceeded(n=2, range_over_sd=2.77), 3)
    0.05
    """
    if n < 2:
        raise ValueError(f"a range needs 2 determinations or more, not {n!r}")
    not_below_zero(range_over_sd=range_over_sd)
    step, points = _simpson()
    inside = 0.0
    for x, below, weighted in points:
        share = (erf((x + range_over_sd) / sqrt(2)) - below) / 2
        inside += weighted * share ** (n - 1)
    return max(0.0, min(1.0, 1 - n * inside * step / 3 / sqrt(2 * pi)))


def uncertainty(*, components: Iterable[Component]) -> Uncertainty:
    """Combine contributions that do not depend on each other.

    Equation: u_i = a_i/√3 (rectangular), a_i/√6 (triangular), a_i/k_i (normal); u = √Σu_i²; U = 2·u
    Symbols: a_i amount, sensitivity coefficient in it; k_i its coverage factor, 1; all in one unit
    Validity: contributions independent, model about linear
    Reference: JCGM 100, from memory

    >>> uncertainty(components=[Component("scale", 3, "rectangular"), Component("reference", 2, coverage=2)])
    Uncertainty(contributions=(('scale', 1.7320508075688774), ('reference', 1.0)), combined=2.0, expanded=4.0)
    """
    contributions = []
    for component in components:
        if component.distribution not in DISTRIBUTION_DIVISORS:
            raise ValueError(f"no such distribution: {component.distribution!r}")
        above_zero(coverage=component.coverage)
        not_below_zero(amount=component.amount)
        divisor = DISTRIBUTION_DIVISORS[component.distribution] * component.coverage
        contributions.append((component.name, component.amount / divisor))
    combined = hypot(*(amount for _, amount in contributions))
    return Uncertainty(tuple(contributions), combined, COVERAGE_FACTOR * combined)


def budget(
    *,
    viscosity: float,
    accuracy_percent: float,
    full_scale: float,
    sensitivity_percent_per_k: float,
    temperature_tolerance: float,
    repeatability_percent: float,
    replicates: int,
) -> Budget:
    """Give the uncertainty of the mean viscosity of some replicates.

    Equation: u_I = (a/100)·η_fs/√3; u_T = η·(s/100)·ΔT/√3; u_r = η·(s_r/100)/√n; U = 2·√(u_I² + u_T² + u_r²)
    Symbols: η viscosity, Pa·s; a accuracy, % of full scale; η_fs full-scale viscosity, Pa·s; s size of the
        temperature sensitivity, %/K; ΔT tolerance, K; s_r repeatability standard deviation, % of the
        viscosity; n replicates, 1
    Validity: the three do not depend on each other; coefficient and reference liquid not in it
    Reference: JCGM 100, from memory; the choice of the three is common practice

    >>> round(budget(
    ...     viscosity=10, accuracy_percent=1, full_scale=20, sensitivity_percent_per_k=2,
    ...     temperature_tolerance=0.5, repeatability_percent=1.5, replicates=2).expanded, 3)
    0.334
    """
    not_below_zero(
        viscosity=viscosity,
        accuracy_percent=accuracy_percent,
        sensitivity_percent_per_k=sensitivity_percent_per_k,
        temperature_tolerance=temperature_tolerance,
        repeatability_percent=repeatability_percent,
    )
    above_zero(full_scale=full_scale, replicates=replicates)
    parts = uncertainty(
        components=(
            Component("instrument", accuracy_percent / 100 * full_scale, "rectangular"),
            Component(
                "temperature",
                viscosity * sensitivity_percent_per_k / 100 * temperature_tolerance,
                "rectangular",
            ),
            Component("repeatability", viscosity * repeatability_percent / 100 / sqrt(replicates)),
        )
    )
    instrument, temperature, repeatability = (amount for _, amount in parts.contributions)
    return Budget(instrument, temperature, repeatability, parts.combined, parts.expanded)


def tolerance_ratio(*, half_width: float, expanded: float) -> float:
    """Give how many times the uncertainty fits into half the specification.

    Equation: ratio = ½·(USL − LSL)/U
    Symbols: half_width ½·(USL − LSL), and U expanded uncertainty (k = 2) in the same unit; ratio, 1
    Validity: two-sided specification; inf when the uncertainty is nil
    Reference: common practice

    >>> tolerance_ratio(half_width=2000, expanded=500)
    4.0
    """
    above_zero(half_width=half_width)
    not_below_zero(expanded=expanded)
    return half_width / expanded if expanded else inf


def ratio_index_uncertainty(*, accuracy_percent: float, torque_low: float, torque_high: float) -> float:
    """Give the relative uncertainty of a ratio of two viscosities read at two speeds.

    Equation: u_rel = √((a/t_1)² + (a/t_2)²)
    Symbols: a accuracy, % of full scale; t_1, t_2 torque at the low and at the high speed, % of full scale;
        u_rel relative, 1 (0.084 is 8.4 %)
    Validity: errors of the two readings independent; accuracy taken as it is, without a divisor
    Reference: JCGM 100, from memory

    >>> round(ratio_index_uncertainty(accuracy_percent=1, torque_low=13, torque_high=30), 3)
    0.084
    """
    not_below_zero(accuracy_percent=accuracy_percent)
    above_zero(torque_low=torque_low, torque_high=torque_high)
    return hypot(accuracy_percent / torque_low, accuracy_percent / torque_high)


def guarded_limits(*, lower: float, upper: float, guard_band: float) -> Limits:
    """Give the limits for acceptance when a guard band is taken off on both sides.

    Equation: lower + g, upper − g
    Symbols: lower, upper limits of the specification; g guard band; all in one unit
    Validity: lower ≤ upper; when nothing is left between them the result's lower limit is above its upper
    Reference: JCGM 106, from memory

    >>> guarded_limits(lower=8000, upper=12000, guard_band=334)
    Limits(lower=8334, upper=11666)
    """
    if not lower <= upper:
        raise ValueError(f"lower limit {lower!r} is above upper limit {upper!r}")
    not_below_zero(guard_band=guard_band)
    return Limits(lower + guard_band, upper - guard_band)


def coverage(*, half_widths: Iterable[float], standard_deviation: float, reach: float) -> float:
    """Give the share of errors that lie within a reach, for rectangular ones and a normal one added up.

    Equation: P(|x_1 + x_2 + … + z| ≤ U), each x_i even over ±a_i, z normal; mean over 100 points of each x_i
    Symbols: half_widths a_i, standard_deviation of z, reach U, all in one unit; P, 1
    Validity: contributions independent; within 0.0005 where the normal one is a tenth of the widest or more,
        within 0.01 where nothing is normal
    Reference: JCGM 100, G.1 (convolution), from memory

    >>> round(coverage(half_widths=(), standard_deviation=1, reach=1.96), 3)
    0.95
    """
    not_below_zero(standard_deviation=standard_deviation, reach=reach)
    points = [0.0]
    for half_width in half_widths:
        not_below_zero(half_width=half_width)
        steps = [half_width * (2 * i + 1 - 100) / 100 for i in range(100)]
        points = [x + step for x in points for step in steps] if half_width else points
    if standard_deviation == 0:
        return sum(abs(x) <= reach for x in points) / len(points)
    scale = standard_deviation * sqrt(2)
    return sum(erf((reach - x) / scale) + erf((reach + x) / scale) for x in points) / 2 / len(points)
