"""The container: how high the liquid stands, and what a millimetre of immersion is worth."""

from collections.abc import Iterable
from math import pi

from fillmark.physics.bounds import above_zero, not_below_zero
from fillmark.physics.flow import DISC_DRAG

Section = tuple[float, float, float]
"""A piece of what dips in: from height and to height above the container's bottom, m; cross section, m²."""


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
    Validity: straight walls, flat bottom. V_d as for the level that results: see `settled_level`
    Reference: definition

    >>> round(1000 * fill_level(volume=500e-6, inside_diameter=0.0825), 1)
    93.5
    """
    not_below_zero(volume=volume, displaced=displaced)
    return (volume + displaced) / circle_area(diameter=inside_diameter)


def level_change(*, volume_change: float, inside_diameter: float) -> float:
    """Give how far the level moves when liquid is added (above 0) or lost (below 0).

    Equation: Δh = ΔV/(π·D²/4)
    Symbols: ΔV, m³; D inside diameter, m; Δh, m
    Validity: straight walls; what dips in taken as thin, which understates a narrow chamber's change
    Reference: definition

    >>> round(1000 * level_change(volume_change=1e-6, inside_diameter=0.019), 1)
    3.5
    """
    return volume_change / circle_area(diameter=inside_diameter)


def displaced_volume(*, level: float, sections: Iterable[Section]) -> float:
    """Give the volume that dips in below a level.

    Equation: V_d = Σ A_i·(length of section i below h)
    Symbols: h level above the bottom, m; A_i cross section of a piece, m², from and to a height, m; V_d, m³
    Validity: pieces with straight sides; pieces side by side (spindle and guard) simply add
    Reference: definition

    >>> round(1e6 * displaced_volume(level=0.05, sections=[(0.02, 0.04, 1e-4), (0.04, 0.10, 1e-5)]), 3)
    2.1
    """
    not_below_zero(level=level)
    total = 0.0
    for start, end, area in sections:
        _check_section(start, end, area)
        total += area * max(0.0, min(level, end) - start)
    return total


def settled_level(*, volume: float, inside_diameter: float, sections: Iterable[Section]) -> float:
    """Give the height at which the liquid comes to rest round what dips in.

    Equation: h·π·D²/4 = V + V_d(h), solved exactly: both sides are made of straight lines
    Symbols: V liquid, m³; D inside diameter, m; sections as in `displaced_volume`; h, m
    Validity: straight walls, flat bottom, spindle held at a fixed height. ValueError where the pieces fill
        the container's whole cross section
    Reference: definition

    >>> round(1000 * settled_level(volume=8e-6, inside_diameter=0.019, sections=[(0, 0.1, 1e-4)]), 2)
    43.59
    """
    not_below_zero(volume=volume)
    container_area = circle_area(diameter=inside_diameter)
    changes: list[tuple[float, float]] = []
    for start, end, area in sections:
        _check_section(start, end, area)
        changes += [(start, area), (end, -area)]
    level, left, open_area = 0.0, volume, container_area
    for height, change in sorted(changes):
        step = open_area * (height - level)
        if left <= step:
            break
        left -= step
        level = height
        open_area -= change
        if open_area <= 0:
            raise ValueError(f"what dips in fills the whole container at a height of {height!r} m")
    return level + left / open_area


def disc_immersion_effect_per_metre(*, disc_radius: float, shaft_radius: float) -> float:
    """Give how much more torque a disc spindle shows per metre of extra immersed shaft.

    Equation: e = 4π·r_s²/((32/3)·R³)
    Symbols: r_s shaft radius, m; R disc radius, m; e relative, 1/m (divide by 10 for per cent per mm)
    Validity: thin disc and shaft in liquid without walls; the smallest discs come out high
    Reference: drag of a long cylinder over that of a disc (Jeffery 1915, from memory)

    >>> round(disc_immersion_effect_per_metre(disc_radius=13.65e-3, shaft_radius=1.6e-3) / 10, 2)
    0.12
    """
    above_zero(disc_radius=disc_radius, shaft_radius=shaft_radius)
    return 4 * pi * shaft_radius**2 / (DISC_DRAG * disc_radius**3)


def cylinder_immersion_effect_per_metre(*, length: float) -> float:
    """Give how much more torque a cylinder of constant diameter shows per metre of extra immersion.

    Equation: e = 1/L
    Symbols: L wetted length with the end correction in it, m; e relative, 1/m
    Validity: the mark lies on the cylinder itself, as on a pin
    Reference: drag of a long cylinder is proportional to its length

    >>> cylinder_immersion_effect_per_metre(length=0.05) / 10
    2.0
    """
    above_zero(length=length)
    return 1 / length


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


def _check_section(start: float, end: float, area: float) -> None:
    not_below_zero(from_height=start, cross_section=area)
    if not end >= start:
        raise ValueError(f"a section ends at {end!r} m, below its start at {start!r} m")
