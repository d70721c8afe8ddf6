"""Which other spring, speed or spindle of the laboratory would do for a step.

A way out that a finding offers must be one the laboratory has and must itself pass. The candidates here are
filtered by what stands in the inventory and by the window, the clock, the flow and the instrument's share of
the specification, then ranked: a spring change first, since it leaves the flow as it is.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from fillmark.derive.figuring import percent
from fillmark.derive.run import expected_limits, last_moment, read_time
from fillmark.derive.setup import coefficient_on
from fillmark.model import Instrument, Method, Spindle, Spring, Step
from fillmark.physics import flow
from fillmark.physics import spring as torsion
from fillmark.quantities import sig


@dataclass(frozen=True, slots=True)
class Choice:
    """One spring, spindle and speed that would pass, with its torque at the limits (%)."""

    spring: Spring
    spindle: Spindle
    rpm: float
    torque_lower: float
    torque_upper: float
    changes: tuple[str, ...]
    """Which of spring, speed, spindle differ from the method."""


_SPEEDS = (0.1, 0.2, 0.3, 0.5, 0.6, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 120, 150, 200)
"""Round speeds tried on an instrument that sets any."""


def eligible(m: Method, spring: str | None = None) -> list[Instrument]:
    """List the laboratory's instruments with the method's readout and coupling, and this spring (or its own)."""
    wanted = spring or m.instrument.spring.key
    return [
        i for i in m.reference.instruments.values()
        if i.spring == wanted and i.readout == m.instrument.readout and i.coupling == m.instrument.coupling.key
        and i.suspension in m.reference.springs[wanted].suspensions
        and (i.stand == "helical" or m.instrument.stand != "helical")
    ]  # fmt: skip


def _speeds(instruments: list[Instrument], own: float) -> list[float]:
    tried = {*_SPEEDS, own, *(s for i in instruments for s in i.speeds)}
    return sorted(s for s in tried if any(i.has_speed(s) for i in instruments))


def guard_suits(m: Method, spindle: Spindle, spring: Spring) -> bool:
    """Whether the method's guard state is the one this spindle's coefficient holds for on this spring."""
    if m.guard == "required":
        return spring.takes_guard and spindle.guard in ("with", "either")
    if m.guard == "not-used":
        return spindle.guard in ("without", "either")
    return spindle.guard == "not-applicable"


def _candidates(m: Method, step: Step) -> Iterator[tuple[Spring, Spindle, float]]:
    for spring in m.reference.springs.values():
        instruments = eligible(m, spring.key)
        if not instruments:
            continue
        speeds = _speeds(instruments, step.speed.value)
        for spindle in m.reference.spindles.values():
            same_container = spindle.container == m.spindle.container
            if spring.key not in spindle.springs or not same_container or spindle.relative != m.spindle.relative:
                continue
            if not guard_suits(m, spindle, spring):
                continue
            for rpm in speeds:
                yield spring, spindle, rpm


def _coefficient(m: Method, spring: Spring, spindle: Spindle) -> float:
    own = m.coefficient
    here = m.instrument.spring.full_scale.value
    base = own.full_scale.value if own is not None and spindle.key == m.spindle.key else coefficient_on(m, spindle)
    return base * spring.full_scale.value / here


def alternatives(m: Method, step: Step) -> list[Choice]:
    """List the combinations that pass for this step, best first; the method's own is not among them.

    Each passes the torque window in the worst case, the wind-up by the step's own clock, the secondary-flow
    limit and the instrument's share of the specification, and can be set on an instrument of the laboratory.
    """
    policy = m.reference.policy
    lower, upper, _ = expected_limits(m, step)
    if lower is None or upper is None:
        return []
    sensitivity = m.product.temperature_sensitivity
    accuracy = m.instrument.accuracy.value if m.instrument.accuracy else policy["instrument_accuracy"]
    angle = m.instrument.full_scale_angle
    degrees = angle.value if angle is not None else policy[f"angle_{m.instrument.readout}"]
    found: list[Choice] = []
    for spring, spindle, rpm in _candidates(m, step):
        changes = tuple(
            name
            for name, differs in (
                ("spring", spring.key != m.instrument.spring.key),
                ("speed", rpm != step.speed.value),
                ("spindle", spindle.key != m.spindle.key),
            )
            if differs
        )
        if not changes:
            continue
        coefficient = _coefficient(m, spring, spindle)
        share = accuracy + (spindle.accessory_accuracy.value if spindle.accessory_accuracy else 0.0)
        limits = flow.torque_limits(
            lower=lower,
            upper=upper,
            coefficient=coefficient,
            rpm=rpm,
            sensitivity_percent_per_k=0.0 if sensitivity is None else sensitivity.value,
            temperature_tolerance=m.temperature.target.tolerance.value,
            accuracy_percent=share,
        )
        if limits.lower_worst < policy["torque_floor"] or limits.upper_worst > policy["torque_ceiling"]:
            continue
        half = (upper - lower) / 2
        full = flow.full_scale_viscosity(coefficient=coefficient, rpm=rpm)
        if half / (full * share / 100) < policy["instrument_ratio_error"]:
            continue
        clock = read_time(step) if step.read.revolutions is None else None
        need = torsion.wind_up_time(
            torque_percent=limits.upper, full_scale_angle_deg=degrees, rpm=rpm,
            residual=policy["wind_up_residual"] / 100,
        )  # fmt: skip
        if need > (clock if clock is not None else max(last_moment(step), need)):
            continue
        if spindle.plain and spindle.diameter is not None and m.product.density is not None:
            number = flow.disc_reynolds(
                density=m.product.density.value, rpm=rpm, radius=spindle.diameter.value / 2, viscosity=lower
            )
            if number > policy["reynolds_error"]:
                continue
        found.append(Choice(spring, spindle, rpm, limits.lower, limits.upper, changes))
    return sorted(found, key=lambda c: _rank(m, c))


def _rank(m: Method, choice: Choice) -> tuple[float, ...]:
    policy = m.reference.policy
    order = {("spring",): 0.0, ("speed",): 0.0, ("spindle",): 1.0, ("spring", "speed"): 2.0}.get(choice.changes, 3.0)
    comfortable = choice.torque_lower >= policy["torque_preferred"] and choice.torque_upper * (
        1 + policy["headroom"] / 100
    ) <= policy["torque_ceiling"]
    middle = (choice.torque_lower + choice.torque_upper) / 2
    # A spring change leaves the flow as it is, so it stands before a speed change of equal comfort.
    return (order, 0.0 if comfortable else 1.0, 0.0 if choice.changes == ("spring",) else 1.0, abs(middle - 55.0))


def sentence(m: Method, choice: Choice) -> str:
    """Say a choice as a way out: what to use, the torque it gives, and what it does to the result."""
    parts = {
        "spring": f"spring {choice.spring.key}",
        "speed": f"{sig(choice.rpm, 3)} rpm",
        "spindle": f"spindle {choice.spindle.key}",
    }
    what = ", ".join(parts[c] for c in choice.changes)
    text = f"Use {what}: {percent(choice.torque_lower)} at the lower limit, {percent(choice.torque_upper)} at the upper"
    if choice.changes == ("spring",):
        return text + "; the flow stays as it is."
    if m.product.newtonian:
        return text + "."
    return text + "; that makes another property, so the limits are set anew."


def ways_out(m: Method, step: Step, count: int = 2) -> tuple[str, ...]:
    """Give the best ways out for a step, of different sorts where there are such."""
    chosen: list[Choice] = []
    rest = alternatives(m, step)
    while rest and len(chosen) < count:
        chosen.append(rest[0])
        rest = [c for c in rest if c.changes != rest[0].changes]
    return tuple(sentence(m, c) for c in chosen)
