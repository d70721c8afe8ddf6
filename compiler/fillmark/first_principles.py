"""Whether the coefficient of a spindle is one that its dimensions can have.

A coefficient typed for another spring, with a radius for a diameter or a slip by a power of ten is off by a
factor that no bench would notice. What the shape alone gives, in liquid without walls, is an upper bound for
a plain spindle; shaft, rim, guard and wall take something off it. Pieces in a gap of their own follow from it.
"""

import math
from collections.abc import Iterator, Mapping

from fillmark.diagnostics import Diagnostic
from fillmark.model import Container, Spindle, Spring
from fillmark.physics import flow
from fillmark.quantities import brief
from fillmark.read import Source
from fillmark.validate import diagnostic

CODES: dict[str, tuple[str, str]] = {
    "REF01": (
        "coefficient-against-its-dimensions",
        "A coefficient of the reference data that a spindle of these dimensions cannot have.",
    ),
}

PLAIN = (1 / 2.1, 1.0)
"""Share of the bare shape's coefficient that a plain spindle has: 1/2.0 to 1/1.06 over the customary set as
recalled from memory, widened a little: a project decision."""
IN_A_GAP = (0.9, 1.1)
"""The same for a piece whose gap sets the flow: a project decision that leaves room for ends and rounding."""


def from_dimensions(spindle: Spindle, torque: float, container: Container | None) -> float | None:
    """Give the coefficient of the shape alone on a spring of this torque (Pa·s·rpm); None where it is not known."""
    if spindle.diameter is None:
        return None
    radius = spindle.diameter.value / 2
    if spindle.kind == "cone" and spindle.cone_angle is not None:
        angle = math.radians(spindle.cone_angle.value)
        return flow.cone_coefficient(angle_rad=angle, radius=radius, full_scale_torque=torque)
    if spindle.kind in ("chamber-cylinder", "coaxial-cylinder"):
        if container is None or spindle.effective_length is None:
            return None
        outer = container.inside_diameter.value / 2
        if outer <= radius:
            return None
        return flow.coaxial_coefficient(
            inner_radius=radius,
            outer_radius=outer,
            effective_length=spindle.effective_length.value,
            full_scale_torque=torque,
        )
    faces = flow.thin_disc_coefficient(radius=radius, full_scale_torque=torque)
    if spindle.kind == "disc":
        return faces
    if spindle.kind != "cylinder" or spindle.length is None:
        return None
    mantle = flow.bare_cylinder_coefficient(
        radius=radius, length=spindle.length.value, full_scale_torque=torque
    )
    return 1 / (1 / faces + 1 / mantle)


def faults(
    spindles: Mapping[str, Spindle],
    springs: Mapping[str, Spring],
    containers: Mapping[str, Container],
    places: Mapping[tuple[str, str], Source],
) -> Iterator[Diagnostic]:
    """Find spindles whose coefficient their dimensions cannot give; those of unknown dimensions are not judged."""
    for key, spindle in spindles.items():
        spring = springs[spindle.coefficient_spring]
        home = containers.get(spindle.container or "")
        bound = None if spindle.relative else from_dimensions(spindle, spring.full_scale.value, home)
        if bound is None:
            continue
        least, most = (share * bound for share in (PLAIN if spindle.plain else IN_A_GAP))
        value = spindle.coefficient.value
        if least * (1 - 1e-9) <= value <= most * (1 + 1e-9):
            continue
        off = value / most if value > most else least / value
        which = "high" if value > most else "low"
        others = [
            s.key
            for s in springs.values()
            if least <= value * spring.full_scale.value / s.full_scale.value <= most and s.key != spring.key
        ]
        yield diagnostic(
            places["spindles", key],
            "REF01",
            (key, "coefficient", "value"),
            f"{key} cannot have {spindle.coefficient.text} on spring {spring.key} ({spring.full_scale.text}): a "
            f"{spindle.kind} of {spindle.diameter.text if spindle.diameter else ''} across has {brief(least, 3)} to "
            f"{brief(most, 3)} Pa·s·rpm. Every result would read {which}, by a factor of {brief(off, 3)} or more.",
            (
                f"It would do for spring {' or '.join(others)}: look at `spring` beside it."
                if others
                else "Look at the unit, the powers of ten and the spring it was found on.",
                (
                    "Or look at the dimensions (a radius written for a diameter is off by a factor of 8); a piece "
                    "without a viscosity of its own is `relative: true`."
                ),
            ),
            codes=CODES,
        )
