"""Whose factor a display had in it, where it is not that of the method: which spindle, speed and spring fits."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from fillmark.model import Method, Step
from fillmark.physics import flow
from fillmark.quantities import brief

MOST = 3
"""How many explanations are given: more would explain nothing."""


@dataclass(frozen=True, slots=True)
class Shown:
    """A torque and the display beside it, in Pa·s."""

    torque: Decimal
    """%"""
    display: Decimal
    half: Decimal
    """Half a unit of the last digit of the display."""


def fits(shown: Shown, factor: Decimal, resolution: Decimal) -> bool:
    """Whether torque times factor (Pa·s/%) is the display, within a step of the readout and the last digit."""
    return abs(shown.display - shown.torque * factor) <= factor * resolution + shown.half


def explained(
    method: Method, step: Step, shown: Sequence[Shown], factor: Decimal, resolution: Decimal
) -> list[str]:
    """Say what would explain all these displays at once: another factor, another unit, digits that changed places.

    Candidates with the fewest differences from the method come first, and only those are given.
    """
    candidates = [
        (differences, name)
        for differences, name, other in _factors(method, step)
        if differences and all(fits(one, other, resolution) for one in shown)
    ]
    fewest = min((d for d, _ in candidates), default=0)
    found = [f"it is the factor of {name}" for d, name in candidates if d == fewest and d < 3]
    if len(found) > MOST:
        found = []
    found += [
        f"the display is {word} times torque × factor: a wrong unit or a point in a wrong place"
        for word, power in (("1000", 3), ("0.001", -3), ("100", 2), ("10", 1), ("0.1", -1), ("0.01", -2))
        if all(fits(one, factor * Decimal(10) ** power, resolution) for one in shown)
    ]
    if len(shown) == 1:
        found += _swapped(shown[0], factor, resolution)
    return found[:MOST]


def _factors(method: Method, step: Step) -> Iterator[tuple[int, str, Decimal]]:
    """Give how far each spindle, spring and speed is from the method, its name, and its factor (Pa·s/%)."""
    reference = method.reference
    speeds = {s.speed.value for s in method.run}
    speeds |= {speed for one in reference.instruments.values() for speed in one.speeds}
    for spindle in reference.spindles.values():
        for spring in reference.springs.values():
            coefficient = flow.coefficient_on_spring(
                coefficient=spindle.coefficient.value,
                reference_torque=reference.springs[spindle.coefficient_spring].full_scale.value,
                torque=spring.full_scale.value,
            )
            for rpm in sorted(speeds):
                off = (
                    spindle.key != method.spindle.key,
                    spring.key != method.instrument.spring.key,
                    rpm != step.speed.value,
                )
                if off[1] and off[0] and off[2]:
                    continue
                where = f" on spring {spring.key}" if off[1] else ""
                factor = flow.factor(coefficient=coefficient, rpm=rpm)
                own = method.coefficient is not None and not any(off)
                name = f"{spindle.key} at {brief(rpm, 4)} rpm{where}" + (
                    " by the catalogue, not the laboratory's own" if own else ""
                )
                yield sum(off) or int(own), name, Decimal(f"{factor:.12g}")


def _swapped(one: Shown, factor: Decimal, resolution: Decimal) -> Iterator[str]:
    """Try two neighbouring digits in each other's place, in the torque and in the display."""
    for name, text in (("torque", f"{one.torque:f}"), ("display", f"{one.display:f}")):
        digits = [i for i, c in enumerate(text) if c.isdigit()]
        for a, b in pairwise(digits):
            letters = list(text)
            letters[a], letters[b] = letters[b], letters[a]
            other = "".join(letters)
            if other == text:
                continue
            tried = (
                Shown(Decimal(other), one.display, one.half)
                if name == "torque"
                else Shown(one.torque, Decimal(other), one.half)
            )
            if fits(tried, factor, resolution):
                yield f"a {name} of {other} would agree: two digits may have changed places"
