"""How a liquid's viscosity changes with temperature."""

from fillmark.physics.bounds import not_below_zero


def temperature_shift(*, sensitivity_percent_per_k: float, warmer_by: float) -> float:
    """Give by how much a liquid reads off its value at the test temperature.

    Equation: shift = −s·ΔT/100
    Symbols: s size of the temperature sensitivity, %/K; ΔT sample above the test temperature, K (below 0
        where it is colder); shift relative, 1 (−0.02 reads 2 % low)
    Validity: s·ΔT small against 100; at 10 % the true shift of a liquid of constant s is half a percent less
    Reference: definition of the sensitivity, first order

    >>> temperature_shift(sensitivity_percent_per_k=2, warmer_by=1)
    -0.02
    """
    not_below_zero(sensitivity_percent_per_k=sensitivity_percent_per_k)
    return -sensitivity_percent_per_k * warmer_by / 100
