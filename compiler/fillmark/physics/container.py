"""The container: how high the liquid stands, and how deep a moving spindle has gone."""

from math import pi

from fillmark.physics.bounds import above_zero, not_below_zero


def circle_area(*, diameter: float) -> float:
    """Give the area of a circle: the inside of a container, the cross section of a shaft.

    Equation: A = π·D²/4
    Symbols: D diameter, m; A, m²
    Validity: any circle
    Reference: definition

    >>> round(1e4 * circle_area(diameter=0.0825), 2)
    53.46
    """
    above_zero(diameter=diameter)
    return pi * diameter**2 / 4


def cylinder_volume(*, diameter: float, length: float) -> float:
    """Give the volume of a cylinder: a spindle, a length of shaft, a chamber.

    Equation: V = π·D²·L/4
    Symbols: D diameter, m; L length, m; V, m³
    Validity: any cylinder
    Reference: definition

    >>> round(1e6 * cylinder_volume(diameter=0.0825, length=0.0935), 1)
    499.8
    """
    not_below_zero(length=length)
    return circle_area(diameter=diameter) * length


def fill_level(*, volume: float, inside_diameter: float, displaced: float = 0.0) -> float:
    """Give the height of the liquid above a flat bottom.

    Equation: h = (V + V_d)/(π·D²/4)
    Symbols: V liquid, m³; V_d volume of all that dips in, m³; D inside diameter, m; h, m
    Validity: straight walls, flat bottom; V_d is what dips in below the level that results
    Reference: definition

    >>> round(1000 * fill_level(volume=500e-6, inside_diameter=0.0825), 1)
    93.5
    """
    not_below_zero(volume=volume, displaced=displaced)
    return (volume + displaced) / circle_area(diameter=inside_diameter)


def helical_path(*, start_depth: float, rate: float, time: float) -> float:
    """Give the depth a spindle has reached that is lowered or raised while it turns.

    Equation: d = d_0 + v·time
    Symbols: d_0 depth at the start, m; v rate, m/s, above 0 downwards; time, s; d, m
    Validity: constant rate, no reversal
    Reference: definition

    >>> round(1000 * helical_path(start_depth=0.010, rate=0.022 / 60, time=90), 1)
    43.0
    """
    not_below_zero(start_depth=start_depth, time=time)
    return start_depth + rate * time
