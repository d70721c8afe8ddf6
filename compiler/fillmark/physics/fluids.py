"""How a liquid's viscosity changes with temperature: from a measured pair, and for two kinds of liquid."""

from math import exp, expm1, log, log10

from fillmark.physics.bounds import above_zero, not_below_zero

KELVIN_AT_ZERO_CELSIUS = 273.15


def sensitivity_from_pair(
    *, viscosity_1: float, temperature_1: float, viscosity_2: float, temperature_2: float
) -> float:
    """Give how much a viscosity falls per kelvin, from two measurements.

    Equation: s = 100·ln(η_1/η_2)/(T_2 − T_1)
    Symbols: η_1, η_2 viscosities in one unit; T_1, T_2 temperatures, K (or both °C); s, %/K, above 0 where
        the liquid thins when it gets warmer
    Validity: mean over the span; a few kelvin apart, two different temperatures
    Reference: definition of a logarithmic slope

    >>> round(sensitivity_from_pair(
    ...     viscosity_1=1.0016, temperature_1=20, viscosity_2=0.8900, temperature_2=25), 2)
    2.36
    """
    above_zero(viscosity_1=viscosity_1, viscosity_2=viscosity_2)
    if temperature_1 == temperature_2:
        raise ValueError(f"both viscosities are at the same temperature, {temperature_1!r}")
    return 100 * log(viscosity_1 / viscosity_2) / (temperature_2 - temperature_1)


def temperature_shift(*, sensitivity_percent_per_k: float, warmer_by: float) -> float:
    """Give by how much a liquid reads off its value at the test temperature.

    Equation: shift = −s·ΔT/100
    Symbols: s size of the temperature sensitivity, %/K; ΔT sample above the test temperature, K (below 0
        where it is colder); shift relative, 1 (−0.02 reads 2 % low)
    Validity: s·ΔT small against 100, the liquid thins when it gets warmer
    Reference: definition of the sensitivity

    >>> temperature_shift(sensitivity_percent_per_k=2, warmer_by=1)
    -0.02
    """
    not_below_zero(sensitivity_percent_per_k=sensitivity_percent_per_k)
    return -sensitivity_percent_per_k * warmer_by / 100


def shift_off_temperature(*, sensitivity: float, difference: float) -> float:
    """Give by how much a viscosity is off at a temperature off the nominal one.

    Equation: shift = 100·(exp(−s·ΔT/100) − 1)
    Symbols: s sensitivity, %/K, above 0 where the liquid thins when it gets warmer; ΔT, K; shift, %
    Validity: a few kelvin, over which s is constant
    Reference: definition of a logarithmic slope

    >>> round(shift_off_temperature(sensitivity=2.36, difference=5), 1)
    -11.1
    """
    return 100 * expm1(-sensitivity * difference / 100)


def walther_kinematic(
    *,
    viscosity_1: float,
    temperature_1: float,
    viscosity_2: float,
    temperature_2: float,
    temperature: float,
) -> float:
    """Give the kinematic viscosity of a mineral oil from two known ones.

    Equation: log10 log10(ν + 0.7) = A − B·log10 T, A and B from the pair
    Symbols: viscosities ν, m²/s (in the equation mm²/s); temperatures T, K
    Validity: mineral oils between cloud point and boiling, ν above 2 mm²/s
    Reference: Ubbelohde-Walther, ASTM D341, from memory

    >>> round(1e6 * walther_kinematic(
    ...     viscosity_1=100e-6, temperature_1=313.15, viscosity_2=11.4e-6, temperature_2=373.15,
    ...     temperature=298.15), 1)
    238.9
    """
    above_zero(viscosity_1=viscosity_1, viscosity_2=viscosity_2)
    above_zero(temperature_1=temperature_1, temperature_2=temperature_2, temperature=temperature)
    if temperature_1 == temperature_2:
        raise ValueError(f"both viscosities are at the same temperature, {temperature_1!r} K")
    first, second = (log10(log10(1e6 * viscosity + 0.7)) for viscosity in (viscosity_1, viscosity_2))
    slope = (first - second) / log10(temperature_2 / temperature_1)
    return float(10**10 ** (first - slope * log10(temperature / temperature_1)) - 0.7) / 1e6


def glycerol_water(*, mass_fraction: float, temperature: float) -> float:
    """Give the viscosity of a mixture of glycerol and water.

    Equation: η = η_w^α·η_g^(1 − α); α = 1 − c + a·b·c·(1 − c)/(a·c + b·(1 − c)); a = 0.705 − 0.0017·t;
        b = (4.9 + 0.036·t)·a^2.5; η_w = 1.790·exp((−1230 − t)·t/(36100 + 360·t));
        η_g = 12100·exp((−1233 + t)·t/(9900 + 70·t))
    Symbols: c mass fraction of glycerol, 1; temperature, K (t in °C); η, Pa·s (in the equation mPa·s)
    Validity: 0 to 100 °C, all fractions, within a few per cent; not a calibration liquid: it draws water
    Reference: Cheng, Ind. Eng. Chem. Res. 47 (2008) 3285, from memory

    >>> round(1000 * glycerol_water(mass_fraction=0.5, temperature=293.15), 2)
    6.0
    """
    if not 0 <= mass_fraction <= 1:
        raise ValueError(f"mass fraction must lie between 0 and 1, not {mass_fraction!r}")
    above_zero(temperature=temperature)
    t = temperature - KELVIN_AT_ZERO_CELSIUS
    water = 1.790 * exp((-1230 - t) * t / (36100 + 360 * t))
    glycerol = 12100 * exp((-1233 + t) * t / (9900 + 70 * t))
    a = 0.705 - 0.0017 * t
    b = (4.9 + 0.036 * t) * a**2.5
    rest = 1 - mass_fraction
    alpha = rest + a * b * mass_fraction * rest / (a * mass_fraction + b * rest)
    return float(water**alpha * glycerol ** (1 - alpha)) / 1000
