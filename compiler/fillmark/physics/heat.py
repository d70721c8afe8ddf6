"""Heat: how long a filled container takes to reach the bath's temperature, and what warms or cools a sample.

A residual is (T − T_bath)/(T_start − T_bath): 1 at the start, 0 when all is over. Conduction only: without
stirring, and without the convection that helps thin liquids, so that the times are an upper bound for thin
liquids and about right for thick ones.
"""

from collections.abc import Callable
from functools import lru_cache
from itertools import count
from math import cbrt, cos, exp, inf, log, pi, sin, sqrt
from typing import Literal, NamedTuple

from fillmark.physics.bounds import above_zero, not_below_zero

Place = Literal["slowest", "centre", "top", "mean"]
"""`slowest` the point last to follow; `centre` on the axis at mid height; `top` on the axis at the surface;
`mean` the average over the volume."""

Top = Literal["insulated", "bath"]
"""What the upper surface sees: still air under a cover, or a lid at bath temperature."""

SLAB_POSITION: dict[tuple[Place, Top], float] = {
    ("slowest", "insulated"): 0.0,
    ("slowest", "bath"): 0.0,
    ("centre", "insulated"): 0.5,
    ("centre", "bath"): 0.0,
    ("top", "insulated"): 0.0,
    ("top", "bath"): 1.0,
}
"""Where a place lies between the insulated side or mid plane (0) and the cooled side (1)."""

TERMS_PER_BLOCK = 16
NEGLIGIBLE_EXPONENT = 32.0
"""A term is left out when it has decayed by exp(−32), about 1e-14, more than the first."""
EARLIEST_FOURIER = 1e-5
"""Before this nothing has changed but within 2 % of the wall; the residual is given as 1."""
UNTOUCHED = 6.0
"""Distance from the wall, in units of 2√(α·time), from which on nothing has changed: erfc(6) is 2e-17."""
SMALLEST = 5e-324
LEAST_BIOT = 1e-9
"""Smaller Biot numbers count as this one: in effect no heat passes at all."""
PERFECT_BIOT = 1e12
"""Larger ones count as a wall at bath temperature: the roots differ by less than 1e-12."""

Terms = tuple[tuple[float, float], ...]
"""Roots of a series and the weights of their terms."""


def slab_residual(*, fourier: float, biot: float = inf, position: float | Literal["mean"] = 0.0) -> float:
    """Give the residual in a plane layer that is insulated on one side and cooled on the other.

    Equation: θ = Σ C_n·exp(−ζ_n²·Fo)·cos(ζ_n·x/L); ζ·tan ζ = Bi; C = 4 sin ζ/(2ζ + sin 2ζ)
    Symbols: Fo = α·time/L², 1; L thickness (half of it when both sides are cooled), m; Bi = h·L/k, 1 (inf:
        wall at bath temperature); position x/L from the insulated side or mid plane, 0 to 1, or "mean"; θ, 1
    Validity: constant properties, conduction only; all terms that matter, from Fo = 1e-5 upwards
    Reference: Carslaw and Jaeger; Incropera, chapter 5; both from memory

    >>> round(slab_residual(fourier=0.5), 4)
    0.3708
    """
    return _residual(_SLAB, fourier, biot, position)


def rod_residual(*, fourier: float, biot: float = inf, position: float | Literal["mean"] = 0.0) -> float:
    """Give the residual in a long cylinder that is cooled on its side.

    Equation: θ = Σ C_n·exp(−ζ_n²·Fo)·J0(ζ_n·r/R); ζ·J1(ζ)/J0(ζ) = Bi; C = 2·J1(ζ)/(ζ·(J0² + J1²))
    Symbols: Fo = α·time/R², 1; R radius, m; Bi = h·R/k, 1 (inf: wall at bath temperature); position r/R from
        the axis, 0 to 1, or "mean"; θ, 1
    Validity: constant properties, conduction only; all terms that matter, from Fo = 1e-5 upwards
    Reference: Carslaw and Jaeger; Incropera, chapter 5; both from memory

    >>> round(rod_residual(fourier=0.5), 4)
    0.0889
    """
    return _residual(_ROD, fourier, biot, position)


def cylinder_residual(
    *,
    time: float,
    radius: float,
    height: float,
    diffusivity: float,
    position: Place = "slowest",
    top: Top = "insulated",
    transfer_ratio: float = inf,
) -> float:
    """Give the residual in a filled container standing in a bath.

    Equation: θ = θ_rod(α·time/R²)·θ_slab(α·time/L²), L = H under an insulated top, H/2 under one at bath
        temperature
    Symbols: time in the bath, s; R radius of the liquid, m; H its height, m; α thermal diffusivity, m²/s;
        position and top as in `Place` and `Top`; transfer_ratio h/k of wall and bath together over the
        liquid's conductivity, 1/m (inf: wall at bath temperature); θ, 1
    Validity: side and bottom in the bath, conduction only, spindle left out
    Reference: product solution, Incropera, chapter 5, from memory

    >>> round(15 * cylinder_residual(time=3600, radius=0.04125, height=0.0935, diffusivity=1.4e-7), 1)
    4.3
    """
    not_below_zero(time=time)
    above_zero(radius=radius, height=height, diffusivity=diffusivity)
    if not transfer_ratio > 0:
        raise ValueError(f"transfer ratio must be above 0, not {transfer_ratio!r}")
    if position != "mean" and (position, top) not in SLAB_POSITION:
        raise ValueError(f"no such place: {position!r} with the top {top!r}")
    thickness = height if top == "insulated" else height / 2
    rod_fourier = diffusivity * time / radius**2
    slab_fourier = diffusivity * time / thickness**2
    rod_biot = transfer_ratio * radius
    slab_biot = transfer_ratio * thickness
    if position == "mean":
        return rod_residual(fourier=rod_fourier, biot=rod_biot, position="mean") * slab_residual(
            fourier=slab_fourier, biot=slab_biot, position="mean"
        )
    return rod_residual(fourier=rod_fourier, biot=rod_biot) * slab_residual(
        fourier=slab_fourier, biot=slab_biot, position=SLAB_POSITION[position, top]
    )


def conditioning_time(
    *,
    residual: float,
    radius: float,
    height: float,
    diffusivity: float,
    position: Place = "slowest",
    top: Top = "insulated",
    transfer_ratio: float = inf,
) -> float:
    """Give the time in the bath until a residual is reached.

    Equation: θ(time) = residual, solved on the logarithm of θ to 1e-9 of the time
    Symbols: residual = allowed deviation over starting deviation, above 0 and not above 1; the others as in
        `cylinder_residual`; time, s
    Validity: as `cylinder_residual`
    Reference: as `cylinder_residual`

    >>> round(conditioning_time(
    ...     residual=0.01, radius=0.04125, height=0.0935, diffusivity=1.43e-7, top="bath") / 60, 1)
    136.9
    """
    if not 0 < residual <= 1:
        raise ValueError(f"residual must lie above 0 and not above 1, not {residual!r}")

    def excess(time: float) -> float:
        theta = cylinder_residual(
            time=time,
            radius=radius,
            height=height,
            diffusivity=diffusivity,
            position=position,
            top=top,
            transfer_ratio=transfer_ratio,
        )
        return log(max(theta, SMALLEST)) - log(residual)

    if excess(0.0) <= 0:
        return 0.0
    late = radius**2 / diffusivity
    while excess(late) > 0:
        late *= 2
    return _root(excess, 0.0, late, tolerance=1e-9)


def narrow_gap_residual(*, time: float, gap: float, diffusivity: float, biot: float = inf) -> float:
    """Give the residual at the spindle in a thin layer between spindle and a chamber wall in the bath.

    Equation: θ = θ_slab(α·time/d²) at the insulated side
    Symbols: time, s; d gap, m; α thermal diffusivity, m²/s; Bi = h·d/k, 1 (inf: wall at bath temperature);
        θ, 1
    Validity: gap small against the radius; the spindle neither brings nor takes heat, so that a spindle that
        comes in at another temperature needs longer
    Reference: as `slab_residual`

    >>> narrow_gap_residual(time=60, gap=1.25e-3, diffusivity=1e-7) < 0.01
    True
    """
    not_below_zero(time=time)
    above_zero(gap=gap, diffusivity=diffusivity)
    return slab_residual(fourier=diffusivity * time / gap**2, biot=biot)


def cooling_rate(
    *,
    transfer_coefficient: float,
    area: float,
    temperature: float,
    ambient: float,
    mass: float,
    heat_capacity: float,
) -> float:
    """Give how fast a sample outside its bath loses temperature (below 0: gains).

    Equation: −dT/dt = h·A·(T − T_a)/(m·c)
    Symbols: h heat transfer coefficient, W/(m²·K), about 10 in still air; A surface, m²; T, T_a temperature
        of sample and room, K (or both °C); m mass, kg; c heat capacity, J/(kg·K); rate, K/s
    Validity: sample at one temperature, start of the cooling
    Reference: Newton's law of cooling; the coefficient is common practice

    >>> round(60 * cooling_rate(
    ...     transfer_coefficient=10, area=0.03, temperature=38, ambient=22,
    ...     mass=0.525, heat_capacity=3900), 2)
    0.14
    """
    above_zero(mass=mass, heat_capacity=heat_capacity)
    not_below_zero(transfer_coefficient=transfer_coefficient, area=area)
    return transfer_coefficient * area * (temperature - ambient) / (mass * heat_capacity)


def viscous_heating_rate(
    *, torque: float, angular_velocity: float, heat_capacity_volumetric: float, volume: float
) -> float:
    """Give how fast the spindle's work warms the sample when no heat leaves.

    Equation: dT/dt = T·ω/(ρc·V)
    Symbols: T torque, N·m; ω, rad/s; ρc volumetric heat capacity, J/(m³·K); V volume, m³; rate, K/s
    Validity: upper bound: no heat leaves, the work spreads over the whole volume
    Reference: energy balance

    >>> round(60 * viscous_heating_rate(
    ...     torque=5749.6e-6, angular_velocity=20.944, heat_capacity_volumetric=2e6, volume=8e-6), 2)
    0.45
    """
    above_zero(heat_capacity_volumetric=heat_capacity_volumetric, volume=volume)
    not_below_zero(torque=torque, angular_velocity=angular_velocity)
    return torque * angular_velocity / (heat_capacity_volumetric * volume)


def bessel_j0(x: float) -> float:
    """Give the Bessel function of the first kind of order 0.

    Equation: J0(x) = (1/π)·∫ cos(x·sin τ) dτ over 0 to π, by the midpoint rule
    Symbols: x, J0, 1
    Validity: any x, to about 1e-14; the rule's error falls off faster than any power of the points
    Reference: Bessel's integral, Abramowitz and Stegun 9.1.18, from memory

    >>> round(bessel_j0(2.404825557695773), 12) == 0
    True
    """
    points = _points(x)
    return sum(cos(x * sin(pi * (i + 0.5) / points)) for i in range(points)) / points


def bessel_j1(x: float) -> float:
    """Give the Bessel function of the first kind of order 1.

    Equation: J1(x) = (1/π)·∫ sin(x·sin τ)·sin τ dτ over 0 to π, by the midpoint rule
    Symbols: x, J1, 1
    Validity: as `bessel_j0`
    Reference: Bessel's integral, Abramowitz and Stegun 9.1.21, from memory

    >>> round(bessel_j1(3.831705970207512), 12) == 0
    True
    """
    points = _points(x)
    sines = (sin(pi * (i + 0.5) / points) for i in range(points))
    return sum(sin(x * s) * s for s in sines) / points


def _points(x: float) -> int:
    # The rule's error is J of order 2·points, which falls to 1e-16 some 12·x^(1/3) past order x.
    return int(abs(x) / 2 + 6 * cbrt(abs(x))) + 10


class _Series(NamedTuple):
    """What sets slab and rod apart: terms by Biot number and block, shape, and weight of a term's mean."""

    terms: Callable[[float, int], Terms]
    shape: Callable[[float], float]
    mean_weight: Callable[[float, float], float]


def _residual(series: _Series, fourier: float, biot: float, position: float | Literal["mean"]) -> float:
    not_below_zero(fourier=fourier)
    if not biot > 0:
        raise ValueError(f"Biot number must be above 0, not {biot!r}")
    biot = inf if biot > PERFECT_BIOT else max(biot, LEAST_BIOT)
    if not isinstance(position, str):
        if not 0 <= position <= 1:
            raise ValueError(f"position must lie between 0 and 1, not {position!r}")
        if position == 1 and biot == inf:
            return 0.0
        if 1 - position > 2 * UNTOUCHED * sqrt(fourier):
            return 1.0
    if fourier < EARLIEST_FOURIER:
        return 1.0
    total = 0.0
    last = inf
    for block in count():
        for root, weight in series.terms(biot, block):
            exponent = root * root * fourier
            if exponent > last:
                return min(1.0, max(0.0, total))
            last = min(last, exponent + NEGLIGIBLE_EXPONENT)
            if isinstance(position, str):
                size = series.mean_weight(root, biot)
            elif position == 0:
                size = weight
            else:
                size = weight * series.shape(root * position)
            total += size * exp(-exponent)
    raise AssertionError  # the blocks never end


@lru_cache(maxsize=4096)
def _slab_terms(biot: float, block: int) -> Terms:
    numbers = range(block * TERMS_PER_BLOCK, (block + 1) * TERMS_PER_BLOCK)
    return tuple((root, _slab_coefficient(root)) for root in (_slab_root(biot, n) for n in numbers))


def _slab_root(biot: float, number: int) -> float:
    low, high = number * pi, (number + 0.5) * pi
    if biot == inf:
        return high
    return _root(lambda z: z * sin(z) - biot * cos(z), low, high)


def _slab_coefficient(root: float) -> float:
    return 4 * sin(root) / (2 * root + sin(2 * root))


def _slab_mean_weight(root: float, biot: float) -> float:
    return 2 / (root**2 * (1 + 1 / biot + (root / biot) ** 2))


@lru_cache(maxsize=4096)
def _rod_terms(biot: float, block: int) -> Terms:
    numbers = range(block * TERMS_PER_BLOCK, (block + 1) * TERMS_PER_BLOCK)
    return tuple((root, _rod_coefficient(root, biot)) for root in (_rod_root(biot, n) for n in numbers))


@lru_cache(maxsize=65536)
def _j0_zero(number: int) -> float:
    """Zero of J0, counted from 0: it lies between the first two sums of McMahon's series."""
    first = (number + 0.75) * pi
    return _root(bessel_j0, first, first + 1 / (8 * first))


def _rod_root(biot: float, number: int) -> float:
    high = _j0_zero(number)
    if biot == inf:
        return high
    low = _j0_zero(number - 1) if number else 0.0
    return _root(lambda z: z * bessel_j1(z) - biot * bessel_j0(z), low, high)


def _rod_coefficient(root: float, biot: float) -> float:
    j1 = bessel_j1(root)
    j0 = 0.0 if biot == inf else bessel_j0(root)
    return 2 * j1 / (root * (j0 * j0 + j1 * j1))


def _rod_mean_weight(root: float, biot: float) -> float:
    return 4 / (root**2 * (1 + (root / biot) ** 2))


def _root(f: Callable[[float], float], low: float, high: float, *, tolerance: float = 1e-14) -> float:
    """Find where f changes sign between low and high, by Ridders' method (Ridders 1979, from memory)."""
    f_low, f_high = f(low), f(high)
    rising = f_low < f_high
    x = low
    while True:
        middle = (low + high) / 2
        f_middle = f(middle)
        scale = sqrt(f_middle * f_middle - f_low * f_high)
        if scale == 0:
            return middle
        step = (middle - low) * f_middle / scale
        before, x = x, middle + (-step if rising else step)
        f_x = f(x)
        if f_x == 0 or abs(x - before) <= tolerance * abs(x) or not low < middle < high:
            return x
        if (f_middle < 0) != (f_x < 0):
            low, high = sorted((middle, x))
            f_low, f_high = (f_middle, f_x) if middle < x else (f_x, f_middle)
        elif (f_x < 0) == rising:
            low, f_low = x, f_x
        else:
            high, f_high = x, f_x


_SLAB = _Series(_slab_terms, cos, _slab_mean_weight)
_ROD = _Series(_rod_terms, bessel_j0, _rod_mean_weight)
