"""Which other spring, speed or spindle of the laboratory would do for a step.

A way out that a finding offers must be one the laboratory has and must itself pass. So a candidate is
something an instrument of the inventory can be set to, and it goes through the same window, clock, flow and
instrument's share as the method did; a spindle or a spring is changed for the whole run, so every step has to
pass with it. The rest is ranked: few changes before many, and a spring before a speed or a spindle, since it
leaves the flow as it is.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, log

from fillmark.derive.figuring import duration, percent
from fillmark.derive.run import expected_limits
from fillmark.derive.setup import coefficient_on, fitting_guard
from fillmark.model import Instrument, Method, Spindle, Spring, Step
from fillmark.physics import container as vessel
from fillmark.physics import flow, statistics
from fillmark.physics import spring as torsion
from fillmark.quantities import brief


@dataclass(frozen=True, slots=True)
class Choice:
    """One spring, spindle and speed that would pass for a step, with its torque at the limits (%)."""

    spring: Spring
    spindle: Spindle
    rpm: float
    torque_lower: float | None
    torque_upper: float | None
    changes: tuple[str, ...]
    """Which of spring, speed, spindle differ from the method."""
    comfort: int
    """What would still be said of torque and flow: 2 nothing, 1 advice, 0 a warning."""
    in_time: bool
    """Whether the step's own moment of reading still suits."""
    instruments: tuple[Instrument, ...]
    """Those of the laboratory that can be set to it."""


_ROUNDEST = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0)
_ROUND = (0.3, 0.6, 1.5, 2.5, 3.0, 4.0, 6.0, 8.0, 12.0, 15.0, 25.0, 30.0, 40.0, 60.0, 80.0, 120.0, 150.0)
"""Speeds (rpm) tried on an instrument that sets any; those above come first."""

_ORDER = (
    ("spring",), ("speed",), ("spindle",), ("spring", "speed"), ("spring", "spindle"), ("speed", "spindle"),
    ("spring", "speed", "spindle"),
)  # fmt: skip


def eligible(m: Method, spring: str | None = None) -> list[Instrument]:
    """List the instruments of the laboratory that are as the method asks, with this spring (or its own)."""
    wanted = spring or m.instrument.spring.key
    return [
        i
        for i in m.reference.instruments.values()
        if i.spring == wanted
        and i.readout == m.instrument.readout
        and i.coupling == m.instrument.coupling.key
        and i.suspension == m.instrument.suspension
        and (i.stand == "helical" or m.instrument.stand != "helical")
    ]


def guard_suits(m: Method, spindle: Spindle, spring: Spring) -> bool:
    """Whether the method's guard state is the one this spindle's coefficient holds for on this spring."""
    if m.guard == "required":
        return spring.takes_guard and spindle.guard in ("with", "either")
    if m.guard == "not-used":
        return spindle.guard in ("without", "either")
    return spindle.guard == "not-applicable"


def _hangs(m: Method, spindle: Spindle) -> bool:
    """Whether another spindle would hang clear of the wall and of the bottom in the container as filled."""
    if not spindle.plain:
        return spindle.kind == m.spindle.kind
    if spindle.diameter is None or spindle.mark_height is None or m.immersion.to != "shaft-mark":
        return False
    policy = m.reference.policy
    guard = fitting_guard(m) if m.guarded else None
    if (m.container.inside_diameter.value - spindle.diameter.value) / 2 < policy["side_clearance"]:
        return False
    if m.sample.volume is None:
        return True
    lowest = vessel.fill_level(
        volume=max(0.0, m.sample.volume.value.value - m.sample.volume.tolerance.value),
        inside_diameter=m.container.inside_diameter.value,
    )
    asked = m.immersion.bottom_clearance
    clearance = asked.value if asked is not None else policy["bottom_clearance"]
    below = guard.below_spindle.value if guard is not None else 0.0
    return lowest >= clearance + below + spindle.mark_height.value


def _coefficient(m: Method, spring: Spring, spindle: Spindle) -> float:
    own = m.coefficient if spindle.key == m.spindle.key else None
    here = own.full_scale.value if own is not None else coefficient_on(m, spindle)
    return flow.coefficient_on_spring(
        coefficient=here,
        reference_torque=m.instrument.spring.full_scale.value,
        torque=spring.full_scale.value,
    )


def _accuracy(m: Method, spindle: Spindle) -> float:
    own, extra = m.instrument.accuracy, spindle.accessory_accuracy
    base = own.value if own is not None else m.reference.policy["instrument_accuracy"]
    return base + (extra.value if extra is not None else 0.0)


@dataclass(frozen=True, slots=True)
class _Fit:
    """How a step fares: torque at the limits (%), comfort as in `Choice`, and whether the clock suits."""

    torque_lower: float | None
    torque_upper: float | None
    comfort: int
    in_time: bool


def _fit(m: Method, step: Step, spring: Spring, spindle: Spindle, rpm: float) -> _Fit | None:
    """Judge one step on a spring, spindle and speed; None where a rule would call it an error."""
    policy = m.reference.policy
    lower, upper, _ = expected_limits(m, step)
    coefficient = _coefficient(m, spring, spindle)
    accuracy = _accuracy(m, spindle)
    sensitivity = m.product.temperature_sensitivity
    errors = {
        "sensitivity_percent_per_k": 0.0 if sensitivity is None else sensitivity.value,
        "temperature_tolerance": m.temperature.target.tolerance.value,
        "accuracy_percent": accuracy,
    }
    comfortable, at_its_best = True, True
    low = high = None
    if lower is not None:
        low = flow.torque_percent(viscosity=lower, coefficient=coefficient, rpm=rpm)
        if flow.lowest_torque(torque_percent=low, **errors) < policy["torque_floor"]:
            return None
        room = low / (1 + policy["headroom"] / 100) >= policy["torque_floor"]
        comfortable = comfortable and room and low >= policy["torque_preferred"]
    if upper is not None:
        high = flow.torque_percent(viscosity=upper, coefficient=coefficient, rpm=rpm)
        if flow.highest_torque(torque_percent=high, **errors) > policy["torque_ceiling"]:
            return None
        comfortable = comfortable and high * (1 + policy["headroom"] / 100) <= policy["torque_ceiling"]
    if low is not None and high is not None:
        limit = m.limit(step.name)
        aim = (low + high) / 2
        if limit is not None and limit.target is not None:
            aim = flow.torque_percent(viscosity=limit.target.value, coefficient=coefficient, rpm=rpm)
        at_its_best = policy["best_zone_lower"] <= aim <= policy["best_zone_upper"]
        if limit is not None:
            ratio = (high - low) / 2 / accuracy
            if ratio < policy["instrument_ratio_error"]:
                return None
            comfortable = comfortable and ratio >= policy["instrument_ratio_warning"]
    in_time = _clock(m, step, high, rpm)
    calm = _laminar(m, spindle, lower, rpm)
    if calm is None or in_time is None or (not in_time and _strikes_the_bottom(m, rpm)):
        return None
    comfort = 0 if not (comfortable and calm) else 2 if at_its_best else 1
    return _Fit(low, high, comfort, in_time)


def _ratios_hold(m: Method, step: Step, spring: Spring, spindle: Spindle, rpm: float) -> bool:
    """Whether the instrument still leaves room within the limits of every ratio the step takes part in."""
    coefficient = _coefficient(m, spring, spindle)
    for line in m.report:
        limit = m.limit(line.result)
        if line.ratio is None or step.name not in line.ratio or limit is None:
            continue
        torques = []
        for name in line.ratio:
            other = m.step(name)
            bounds = (None, None, ()) if other is None else expected_limits(m, other)
            if other is None or bounds[0] is None or bounds[1] is None:
                return True
            speed = rpm if other is step else other.speed.value
            middle = (bounds[0] + bounds[1]) / 2
            torques.append(flow.torque_percent(viscosity=middle, coefficient=coefficient, rpm=speed))
        if limit.lower is None or limit.upper is None:
            continue
        relative = statistics.ratio_index_uncertainty(
            accuracy_percent=_accuracy(m, spindle), torque_low=torques[0], torque_high=torques[1]
        )
        half = (limit.upper.value - limit.lower.value) / (limit.upper.value + limit.lower.value)
        if half / relative < m.reference.policy["instrument_ratio_error"]:
            return False
    return True


def reading_moment(step: Step, rpm: float) -> float | None:
    """Give the time from motor start to the reading at a speed (s): turns lead, for they move with it."""
    if step.read.revolutions is not None:
        return torsion.time_for_revolutions(rpm=rpm, revolutions=step.read.revolutions.value)
    at = step.read.after or step.read.steady_at_most
    return None if at is None else at.value


def _clock(m: Method, step: Step, torque_upper: float | None, rpm: float) -> bool | None:
    """Judge the moment of reading: None before the spring has wound up, False before what custom waits."""
    policy = m.reference.policy
    moment = reading_moment(step, rpm)
    if moment is None or torque_upper is None:
        return True
    if moment < _wind_up(m, torque_upper, rpm):
        return None
    window = step.read.average.value if step.read.average is not None else 0.0
    turns = torsion.revolutions(rpm=rpm, time=moment + window)
    averaged = torsion.revolutions(rpm=rpm, time=window)
    whole = window == 0 or abs(averaged - max(1, round(averaged))) <= policy["averaging_share"] / 100
    custom = step.read.steady_change is not None or turns >= policy["revolutions"] * (1 - 1e-9)
    return custom and whole


def _wind_up(m: Method, torque_upper: float | None, rpm: float) -> float:
    """Give the time the spring needs to wind up to a torque (%) at a speed (s)."""
    policy, angle = m.reference.policy, m.instrument.full_scale_angle
    return torsion.wind_up_time(
        torque_percent=torque_upper or 0.0,
        full_scale_angle_deg=angle.value if angle is not None else policy[f"angle_{m.instrument.readout}"],
        rpm=rpm,
        residual=policy["wind_up_residual"] / 100,
    )


def _strikes_the_bottom(m: Method, rpm: float) -> bool:
    """Whether a spindle that travels down would be too deep after the customary turns at a speed."""
    rate, start, depth = m.instrument.rise_rate, m.immersion.depth, m.container.fill_depth
    if m.instrument.stand != "helical" or rate is None or start is None or depth is None:
        return False
    if m.immersion.direction == "up":
        return False
    policy, asked = m.reference.policy, m.immersion.bottom_clearance
    clearance = asked.value if asked is not None else policy["bottom_clearance"]
    wait = torsion.time_for_revolutions(rpm=rpm, revolutions=policy["revolutions"])
    end = vessel.helical_path(start_depth=start.value, rate=rate.value, time=wait)
    return end + clearance > depth.value


def _laminar(m: Method, spindle: Spindle, viscosity: float | None, rpm: float) -> bool | None:
    """Judge the flow at the lower limit: None where it is surely not laminar, False where it may not be."""
    policy, density = m.reference.policy, m.product.density
    if viscosity is None or density is None or spindle.diameter is None:
        return True
    radius = spindle.diameter.value / 2
    if spindle.kind in ("chamber-cylinder", "coaxial-cylinder"):
        outer = m.container.inside_diameter.value / 2
        if outer <= radius:
            return None
        least = flow.taylor_minimum_viscosity(
            density=density.value, rpm=rpm, inner_radius=radius, outer_radius=outer
        )
        return None if least >= viscosity else least < policy["vortex_share"] / 100 * viscosity
    if spindle.kind == "cone":
        return True
    number = flow.disc_reynolds(density=density.value, rpm=rpm, radius=radius, viscosity=viscosity)
    return None if number > policy["reynolds_error"] else number <= policy["reynolds_warning"]


def _speeds(instruments: list[Instrument], own: float) -> list[float]:
    tried = {*_ROUNDEST, *_ROUND, own, *(s for i in instruments for s in i.speeds)}
    return sorted(s for s in tried if any(i.has_speed(s) for i in instruments))


def _candidates(m: Method, step: Step) -> Iterator[tuple[Spring, Spindle, float, tuple[Instrument, ...]]]:
    for spring in m.reference.springs.values():
        others = [s.speed.value for s in m.run if s is not step]
        instruments = [i for i in eligible(m, spring.key) if all(i.has_speed(rpm) for rpm in others)]
        if not instruments:
            continue
        speeds = _speeds(instruments, step.speed.value)
        for spindle in m.reference.spindles.values():
            alike = spindle.container == m.spindle.container and spindle.relative == m.spindle.relative
            if spring.key not in spindle.springs or not alike or not guard_suits(m, spindle, spring):
                continue
            if spindle.key != m.spindle.key and not _hangs(m, spindle):
                continue
            for rpm in speeds:
                yield spring, spindle, rpm, tuple(i for i in instruments if i.has_speed(rpm))


def alternatives(m: Method, step: Step) -> list[Choice]:
    """List the combinations that pass, best first; what the method has now is not among them.

    None of them would be called an error: torque window in the worst case, wind-up by the step's own clock,
    laminar flow, and the instrument's share of the specification, at this step and, where the spindle or the
    spring changes, at every other one. Empty where the step has no limits to judge by.
    """
    lower, upper, _ = expected_limits(m, step)
    if lower is None and upper is None:
        return []
    found: list[Choice] = []
    for spring, spindle, rpm, instruments in _candidates(m, step):
        differs = {
            "spring": spring.key != m.instrument.spring.key,
            "speed": rpm != step.speed.value,
            "spindle": spindle.key != m.spindle.key,
        }
        changes = tuple(name for name, changed in differs.items() if changed)
        if not changes:
            continue
        fits = [_fit(m, step, spring, spindle, rpm)]
        if differs["spring"] or differs["spindle"]:
            fits += [_fit(m, s, spring, spindle, s.speed.value) for s in m.run if s is not step]
        passing = [f for f in fits if f is not None]
        if len(passing) < len(fits) or not _ratios_hold(m, step, spring, spindle, rpm):
            continue
        found.append(
            Choice(
                spring,
                spindle,
                rpm,
                passing[0].torque_lower,
                passing[0].torque_upper,
                changes,
                min(f.comfort for f in passing),
                all(f.in_time for f in passing),
                instruments,
            )
        )
    return sorted(found, key=lambda c: _rank(step, c))


def _rank(step: Step, choice: Choice) -> tuple[float, ...]:
    torques = [t for t in (choice.torque_lower, choice.torque_upper) if t is not None]
    return (
        len(choice.changes) + (1.5, 0.25, 0.0)[choice.comfort],
        float(_ORDER.index(choice.changes)),
        0.0 if choice.in_time else 1.0,
        0.0 if choice.rpm in (*_ROUNDEST, step.speed.value) else 1.0,
        abs(log(choice.rpm / step.speed.value)),
        abs(sum(torques) / len(torques) - 55.0),
    )


def sentence(m: Method, step: Step, choice: Choice) -> str:
    """Say a choice as a way out: what to use, the torque it gives, and what it does to the result."""
    rpm = brief(choice.rpm, 3)
    parts = {
        "spring": f"spring {choice.spring.key} ({choice.instruments[0].label})",
        "speed": f"{rpm} rpm",
        "spindle": f"spindle {choice.spindle.key}",
    }
    torques = " and ".join(
        f"{percent(torque)} at the {which} limit"
        for which, torque in (("lower", choice.torque_lower), ("upper", choice.torque_upper))
        if torque is not None
    )
    text = f"Use {', '.join(parts[c] for c in choice.changes)}: {torques}"
    policy = m.reference.policy
    if "speed" in choice.changes and step.read.revolutions is not None and step.read.after is not None:
        moment = reading_moment(step, choice.rpm)
        text += f", read after {duration(moment or 0.0)}, which is {step.read.revolutions.text}"
    elif not choice.in_time:
        turns = policy["revolutions"]
        wait = torsion.time_for_revolutions(rpm=choice.rpm, revolutions=turns)
        if step.read.average is None:
            text += f", read after {duration(wait)}, which is {brief(turns)} rev"
        else:
            own = torsion.revolutions(rpm=choice.rpm, time=step.read.average.value)
            window = torsion.time_for_revolutions(rpm=choice.rpm, revolutions=max(1, round(own)))
            begin = max(wait - window, _wind_up(m, choice.torque_upper, choice.rpm))
            text += f", read after {duration(ceil(begin))} and averaged over {duration(window)}"
    text += _other_fluid(m, step, choice)
    if choice.changes == ("spring",):
        return f"{text}; the flow stays as it is."
    if m.product.newtonian:
        return f"{text}; a Newtonian product keeps its limits."
    return f"{text}; the flow is another one, so the limits are set anew."


def _other_fluid(m: Method, step: Step, choice: Choice) -> str:
    """Say which reference fluid the check then needs, where the method's own would be off the scale."""
    check, policy = m.verification, m.reference.policy
    at = m.step(check.at) if check is not None else None
    if check is None or at is None:
        return ""
    coefficient = _coefficient(m, choice.spring, check.spindle or choice.spindle)
    rpm = choice.rpm if at is step else at.speed.value

    def torque(viscosity: float) -> float:
        return flow.torque_percent(viscosity=viscosity, coefficient=coefficient, rpm=rpm)

    top = policy["verification_torque_ceiling"]
    if policy["verification_torque_error"] <= torque(check.fluid.viscosity.value) <= top:
        return ""
    fits = {
        fluid.key: torque(fluid.viscosity.value)
        for fluid in m.reference.fluids.values()
        if policy["verification_torque_warning"] <= torque(fluid.viscosity.value) <= top
    }
    best = min(fits, key=lambda key: abs(fits[key] - 50.0), default=None)
    return f", checked with {best or 'a reference fluid that suits'}"


def readable(m: Method, step: Step, spindle: Spindle) -> bool:
    """Whether a plain spindle on the method's spring would read a step's lower limit well, in laminar flow."""
    policy, spring = m.reference.policy, m.instrument.spring
    lower, upper, _ = expected_limits(m, step)
    if lower is None or spindle.diameter is None:
        return spindle.diameter is not None
    coefficient = _coefficient(m, spring, spindle)
    rpm = policy["torque_preferred"] / 100 * coefficient / lower
    if upper is not None and upper / lower * policy["torque_preferred"] > policy["torque_ceiling"]:
        return False
    fastest = max(
        (max(i.speeds, default=i.speed_to) for i in m.reference.instruments.values() if i.spring == spring.key),
        default=0.0,
    )
    if rpm > fastest:
        return False
    return m.product.density is None or (
        flow.disc_reynolds(
            density=m.product.density.value, rpm=rpm, radius=spindle.diameter.value / 2, viscosity=lower
        )
        <= policy["reynolds_error"]
    )


def ways_out(m: Method, step: Step, *otherwise: str, comfort: int = 0) -> tuple[str, str]:
    """Give two ways out for a step: the best choices of different sorts, then those of `otherwise`.

    `comfort` is the least a choice must have, so that a warning is not answered by another one; `otherwise`
    holds two ways at least.
    """
    best: dict[tuple[str, ...], Choice] = {}
    for choice in alternatives(m, step):
        if choice.comfort >= comfort:
            best.setdefault(choice.changes, choice)
    said = [sentence(m, step, choice) for choice in best.values()][:2]
    first, second = (*said, *otherwise)[:2]
    return first, second
