"""Which other spring, speed or spindle of the laboratory would do for a step.

A way out that a finding offers must be one the laboratory has and must itself pass. So a candidate is
something an instrument of the inventory can be set to, and it goes through the same window, clock, flow and
instrument's share as the method did (`combinations.py`); a spindle or a spring is changed for the whole run,
so every step has to pass with it. The rest is ranked: few changes before many, and a spring before a speed or
a spindle, since it leaves the flow as it is.

What a method has not said yet can be left free by name, so that the same search serves before it is written.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from math import ceil, log

from fillmark.combinations import (
    Combination,
    Demand,
    Numbers,
    Pair,
    Reason,
    accuracy_of,
    clock,
    judge,
    moment_of,
    travelled,
    wind_up,
)
from fillmark.derive.figuring import clock_time, percent
from fillmark.derive.run import expected_limits
from fillmark.derive.setup import bottom_clearance, coefficient_on, instrument_accuracy
from fillmark.model import Container, Instrument, Method, Spindle, Spring, Step
from fillmark.physics import container as vessel
from fillmark.physics import flow, statistics
from fillmark.physics import spring as torsion
from fillmark.quantities import brief, show

NOTHING: frozenset[str] = frozenset()
"""All that a method says is kept. Else any of: readout, coupling, suspension, stand, guard, container, spindle,
and `speed of NAME` for a step that has none yet."""


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


ROUNDEST = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0)
_ROUND = (0.3, 0.6, 1.5, 2.5, 3.0, 4.0, 6.0, 8.0, 12.0, 15.0, 25.0, 30.0, 40.0, 60.0, 80.0, 120.0, 150.0)
"""Speeds (rpm) tried on an instrument that sets any; those above come first."""

USUAL_SPEEDS = (5.0, 60.0, 20.0)
"""rpm, a judgement: slower takes more than a minute, faster splashes and swirls; and one in between."""

_ORDER = (
    ("spring",), ("speed",), ("spindle",), ("spring", "speed"), ("spring", "spindle"), ("speed", "spindle"),
    ("spring", "speed", "spindle"),
)  # fmt: skip


def eligible(m: Method, spring: str | None = None, free: frozenset[str] = NOTHING) -> list[Instrument]:
    """List the instruments of the laboratory that are as the method asks, with this spring (or its own)."""
    wanted = spring or m.instrument.spring.key
    return [
        i
        for i in m.reference.instruments.values()
        if i.spring == wanted
        and ("readout" in free or i.readout == m.instrument.readout)
        and ("coupling" in free or i.coupling == m.instrument.coupling.key)
        and ("suspension" in free or i.suspension == m.instrument.suspension)
        and ("stand" in free or i.stand == "helical" or m.instrument.stand != "helical")
    ]


def guard_suits(m: Method, spindle: Spindle, spring: Spring, guard: str | None = None) -> bool:
    """Whether a guard state (the method's unless named) is the one this spindle's coefficient holds for."""
    guard = guard or m.guard
    if guard == "required":
        return spring.takes_guard and spindle.guard in ("with", "either")
    if guard == "not-used":
        return spindle.guard in ("without", "either")
    return spindle.guard == "not-applicable"


def _guard_for(m: Method, spindle: Spindle, spring: Spring, free: frozenset[str]) -> str | None:
    """Give the guard state for a spindle: the method's where it suits; None where none may be taken."""
    states = (m.guard, "required", "not-used", "not-applicable") if "guard" in free else (m.guard,)
    fits = "container" in free or _guard_fits(m)
    suit = [
        g for g in states if guard_suits(m, spindle, spring, g) and (fits or g != "required" or g == m.guard)
    ]
    return suit[0] if suit else None


def _guard_fits(m: Method) -> bool:
    guard = m.fitting_guard
    room = m.container.inside_diameter.value - 2 * m.reference.policy["guard_clearance"]
    return guard is None or guard.width.value <= room


def _hangs(m: Method, spindle: Spindle, guard: str, free: frozenset[str]) -> bool:
    """Whether another spindle would hang clear of the wall and of the bottom in the container as filled."""
    if not spindle.plain:
        return "spindle" in free or spindle.kind == m.spindle.kind
    if spindle.diameter is None or spindle.mark_height is None or m.immersion.to != "shaft-mark":
        return False
    policy = m.reference.policy
    fitted = m.fitting_guard if guard == "required" else None
    if (m.container.inside_diameter.value - spindle.diameter.value) / 2 < policy["side_clearance"]:
        return False
    if m.sample.volume is None:
        return True
    lowest = vessel.fill_level(
        volume=max(0.0, m.sample.volume.value.value - m.sample.volume.tolerance.value),
        inside_diameter=m.container.inside_diameter.value,
    )
    below = fitted.below_spindle.value if fitted is not None else 0.0
    return lowest >= bottom_clearance(m) + below + spindle.mark_height.value


def _coefficient(m: Method, spring: Spring, spindle: Spindle) -> float:
    own = m.coefficient if spindle.key == m.spindle.key else None
    here = own.full_scale.value if own is not None else coefficient_on(m, spindle)
    return flow.coefficient_on_spring(
        coefficient=here,
        reference_torque=m.instrument.spring.full_scale.value,
        torque=spring.full_scale.value,
    )


def demand_of(m: Method, step: Step) -> Demand:
    """Gather what a step of a method asks of spring, spindle and speed."""
    lower, upper, _ = expected_limits(m, step)
    limit, check = m.limit(step.name), m.verification
    sensitivity, density, angle = (
        m.product.temperature_sensitivity,
        m.product.density,
        m.instrument.full_scale_angle,
    )
    at_this = check is not None and check.at == step.name and check.spindle is None
    return Demand(
        lower,
        upper,
        instrument_accuracy(m),
        target=limit.target.value if limit is not None and limit.target is not None else None,
        specified=limit is not None,
        sensitivity=0.0 if sensitivity is None else sensitivity.value,
        temperature_tolerance=m.temperature.target.tolerance.value,
        behaviour=m.product.behaviour,
        density=density.value if density is not None else None,
        angle=angle.value if angle is not None else None,
        read=step.read,
        proof=check.fluid.viscosity.value if check is not None and at_this else None,
        travel=_travel(m),
    )


def _travel(m: Method) -> tuple[float, float, float] | None:
    rate, start, depth = m.instrument.rise_rate, m.immersion.depth, m.container.fill_depth
    if m.instrument.stand != "helical" or rate is None or start is None or depth is None:
        return None
    if m.immersion.direction == "up":
        return None
    return start.value, rate.value, depth.value - bottom_clearance(m)


def pairs(m: Method, step: Step, free: frozenset[str] = NOTHING) -> Iterator[Pair]:
    """Go through every spindle on every spring it is made for that the laboratory has, with what hinders it."""
    others = [s.speed.value for s in m.run if s is not step and _has_speed(s, free)]
    for spring in m.reference.springs.values():
        instruments = [i for i in eligible(m, spring.key, free) if all(i.has_speed(rpm) for rpm in others)]
        if not instruments:
            continue
        own = [step.speed.value] if _has_speed(step, free) else []
        settings = _settings(instruments, own)
        helical = [i for i in instruments if i.stand == "helical"]
        travelling = _settings(helical, own) if 0 < len(helical) < len(instruments) else settings
        for spindle in m.reference.spindles.values():
            if spring.key not in spindle.springs:
                continue
            guard = _guard_for(m, spindle, spring, free)
            bar = spindle.kind == "bar"
            yield Pair(
                spring,
                spindle,
                _coefficient(m, spring, spindle),
                guard or m.guard,
                m.reference.containers.get(spindle.container or "") if "container" in free else m.container,
                travelling if bar else settings,
                tuple(_hindrances(m, spindle, guard, free, helical=not bar or bool(helical))),
            )


def _has_speed(step: Step, free: frozenset[str]) -> bool:
    return f"speed of {step.name}" not in free


def _settings(
    instruments: list[Instrument], own: list[float]
) -> dict[float, dict[str, tuple[Instrument, ...]]]:
    """Give every speed tried (rpm) that an instrument can be set to, with those that can, by readout."""
    alike: dict[tuple[object, ...], list[Instrument]] = {}
    for i in instruments:
        alike.setdefault((i.readout, i.speeds, i.speed_from, i.speed_to, i.speed_step), []).append(i)
    tried = {*ROUNDEST, *_ROUND, *own, *(s for same in alike.values() for s in same[0].speeds)}
    settings: dict[float, dict[str, tuple[Instrument, ...]]] = {}
    for rpm in sorted(tried):
        able: dict[str, tuple[Instrument, ...]] = {}
        for same in alike.values():
            if same[0].has_speed(rpm):
                able[same[0].readout] = (*able.get(same[0].readout, ()), *same)
        if able:
            settings[rpm] = able
    return settings


def _hindrances(
    m: Method, spindle: Spindle, guard: str | None, free: frozenset[str], *, helical: bool
) -> Iterator[Reason]:
    """Say what keeps a spindle from being used at any speed."""
    where = m.reference.containers.get(spindle.container or "")
    if not _belongs(m, spindle, free):
        home = f"{where.label}, not for" if where is not None else "no container, so not for"
        yield Reason("container", detail=f"its coefficient holds for {home} {m.container.label}")
    elif (
        "container" not in free
        and guard is not None
        and (spindle.key != m.spindle.key or "spindle" in free)
        and not _hangs(m, spindle, guard, free)
    ):
        yield Reason("room", detail=f"does not hang clear in {m.container.label} as filled")
    if spindle.relative and ("spindle" in free or not m.spindle.relative):
        yield Reason("relative", detail="its coefficient serves comparison with its own past only")
    if not helical or (spindle.kind == "bar" and "stand" not in free and m.instrument.stand != "helical"):
        yield Reason("stand", detail="turns in its own channel without a helical stand")
    elif spindle.kind != "bar" and "stand" not in free and m.instrument.stand == "helical":
        yield Reason("stand", detail="leaves its mark on a helical stand")
    if guard is None:
        holds = {"with": "with", "without": "without", "either": "with or without"}.get(spindle.guard)
        detail = f"its coefficient holds {holds} the guard" if holds else "no guard goes round it"
        yield Reason("guard", detail=f"{detail}, and the guard is {m.guard}")
    yield from _against_particles(m, spindle, where if "container" in free else m.container)


def _belongs(m: Method, spindle: Spindle, free: frozenset[str]) -> bool:
    """Whether a spindle goes with the container of the method, by the container its coefficient holds for."""
    if "container" in free:
        return True
    if "spindle" not in free:
        return spindle.container == m.spindle.container and spindle.relative == m.spindle.relative
    if m.container.kind in ("beaker", "pack"):
        return spindle.plain or spindle.kind == "bar"
    return spindle.container == m.container.key


def _against_particles(m: Method, spindle: Spindle, container: Container | None) -> Iterator[Reason]:
    particle, gap = m.product.largest_particle, None
    if spindle.kind == "cone" and spindle.truncation is not None:
        gap = spindle.truncation.value
    elif (
        spindle.kind in ("chamber-cylinder", "coaxial-cylinder")
        and container is not None
        and spindle.diameter
    ):
        gap = (container.inside_diameter.value - spindle.diameter.value) / 2
    if particle is None or gap is None or gap <= 0:
        return
    allowed = m.reference.policy["particle_gap_share"] / 100 * gap
    if particle.value > allowed * (1 + 1e-9):
        unit = "mm" if gap >= 1e-4 else "µm"
        detail = f"particles of {particle.text} in a gap of {show(gap, 'length', unit, digits=3)}"
        yield Reason("particles", particle.value, allowed, detail=detail)


def combine(
    m: Method,
    step: Step,
    pair: Pair,
    rpm: float,
    asked: Mapping[str, Demand],
    free: frozenset[str] = NOTHING,
    *,
    others: bool = True,
    hasty: bool = False,
) -> Combination | None:
    """Judge a pair at a speed for a step and, with `others`, for the rest of the run at the speeds it has.

    `asked` gives the demand of every step, by its name. With `hasty` it ends with None at the
    first reason that blocks.
    """
    policy, able = m.reference.policy, pair.settings[rpm]
    fares = judge(asked[step.name], pair, rpm, policy, hasty=hasty)
    if fares is None:
        return None
    numbers, found = fares[0], [*pair.hindrances, *fares[1]]
    if hasty and any(r.blocks for r in found):
        return None
    judged: list[tuple[Step, Demand, Numbers, float]] = [(step, asked[step.name], numbers, rpm)]
    for other in m.run if others else ():
        if other is step or not _has_speed(other, free):
            continue
        theirs = judge(asked[other.name], pair, other.speed.value, policy, hasty=hasty)
        if theirs is None:
            return None
        found += [_elsewhere(r, other) for r in theirs[1]]
        judged.append((other, asked[other.name], theirs[0], other.speed.value))
    found += _against_ratios(m, step, pair, rpm, free)
    by_readout: dict[str, list[Reason]] = {
        readout: _by_the_clock(step, judged, readout, m, later=hasty) for readout in able
    }
    good = [readout for readout, reasons in by_readout.items() if not reasons]
    if good:
        runs = tuple(i for readout in good for i in able[readout])
    else:
        runs = tuple(i for same in able.values() for i in same)
        clocked: list[Reason] = min(by_readout.values(), key=_weight)
        found += clocked
    if hasty and any(r.blocks for r in found):
        return None
    return Combination(pair, rpm, numbers, tuple(found), runs)


def _weight(reasons: list[Reason]) -> tuple[bool, int]:
    return any(r.blocks for r in reasons), len(reasons)


def _elsewhere(r: Reason, other: Step) -> Reason:
    return replace(r, step=other.name)


def _by_the_clock(
    step: Step,
    judged: list[tuple[Step, Demand, Numbers, float]],
    readout: str,
    m: Method,
    *,
    later: bool,
) -> list[Reason]:
    """Judge the moments of reading; with `later` one that comes too soon is taken to be moved."""
    found: list[Reason] = []
    for at, demand, numbers, speed in judged:
        reasons = clock(demand, numbers, speed, readout, m.reference.policy)
        late = later and any(r.late for r in reasons)
        end = travelled(demand, numbers, speed, late=late)
        reasons += [end] if end is not None else []
        found += reasons if at is step else [_elsewhere(r, at) for r in reasons]
    return found


def _against_ratios(m: Method, step: Step, pair: Pair, rpm: float, free: frozenset[str]) -> Iterator[Reason]:
    """Judge every ratio the step takes part in: which step is the faster, and the instrument's share."""
    for line in m.report:
        limit = m.limit(line.result)
        steps = [s for s in map(m.step, line.ratio or ()) if s is not None]
        if line.ratio is None or step not in steps or len(steps) != 2 or limit is None:
            continue
        if not all(_has_speed(s, free) for s in steps if s is not step):
            continue
        was, now = ([own if s is step else s.speed.value for s in steps] for own in (step.speed.value, rpm))
        if _has_speed(step, free) and (was[0] - was[1]) * (now[0] - now[1]) <= 0 and was[0] != was[1]:
            detail = f"{line.result} asks that {steps[was[0] > was[1]].name} be the slower of its two steps"
            yield Reason("order", detail=detail)
        torques = []
        for name in line.ratio:
            other = m.step(name)
            bounds = (None, None, ()) if other is None else expected_limits(m, other)
            if other is None or bounds[0] is None or bounds[1] is None:
                return
            speed = rpm if other is step else other.speed.value
            middle = (bounds[0] + bounds[1]) / 2
            torques.append(flow.torque_percent(viscosity=middle, coefficient=pair.coefficient, rpm=speed))
        if limit.lower is None or limit.upper is None:
            continue
        relative = statistics.ratio_index_uncertainty(
            accuracy_percent=accuracy_of(instrument_accuracy(m), pair.spindle),
            torque_low=torques[0],
            torque_high=torques[1],
        )
        half = (limit.upper.value - limit.lower.value) / (limit.upper.value + limit.lower.value)
        bound = m.reference.policy["instrument_ratio_error"]
        if half / relative < bound:
            yield Reason("index", half / relative, bound, detail=line.result)


def alternatives(m: Method, step: Step) -> list[Choice]:
    """List the combinations that pass, best first; what the method has now is not among them.

    None of them would be called an error: torque window in the worst case, wind-up by the step's own clock,
    laminar flow, and the instrument's share of the specification, at this step and, where the spindle or the
    spring changes, at every other one. Empty where the step has no limits to judge by.
    """
    asked = {s.name: demand_of(m, s) for s in m.run}
    if asked[step.name].lower is None and asked[step.name].upper is None:
        return []
    found: list[Choice] = []
    for pair in pairs(m, step):
        if (
            pair.spindle.key == m.spindle.key
        ):  # what a rule says of the method's own spindle it says elsewhere
            told = tuple(r for r in pair.hindrances if r.demand not in ("particles", "stand", "relative"))
            pair = replace(pair, hindrances=told)  # noqa: PLW2901
        if any(r.blocks for r in pair.hindrances):
            continue
        for rpm in pair.settings:
            differs = {
                "spring": pair.spring.key != m.instrument.spring.key,
                "speed": rpm != step.speed.value,
                "spindle": pair.spindle.key != m.spindle.key,
            }
            changes = tuple(name for name, changed in differs.items() if changed)
            others = differs["spring"] or differs["spindle"]
            one = combine(m, step, pair, rpm, asked, others=others, hasty=True) if changes else None
            if one is not None:
                found.append(_choice(one, changes))
    return sorted(found, key=lambda c: _rank(step, c))


def _choice(one: Combination, changes: tuple[str, ...]) -> Choice:
    n = one.numbers
    told = [r for r in one.reasons if not r.late and r.demand not in ("watched", "pointer", "wind-up")]
    return Choice(
        one.pair.spring,
        one.pair.spindle,
        one.rpm,
        n.torque_lower,
        n.torque_upper,
        changes,
        0 if told else 2 if n.at_its_best else 1,
        not any(r.late for r in one.reasons),
        one.instruments,
    )


def _rank(step: Step, choice: Choice) -> tuple[float, ...]:
    torques = [t for t in (choice.torque_lower, choice.torque_upper) if t is not None]
    return (
        len(choice.changes) + (1.5, 0.25, 0.0)[choice.comfort],
        float(_ORDER.index(choice.changes)),
        0.0 if choice.in_time else 1.0,
        0.0 if choice.rpm in (*ROUNDEST, step.speed.value) else 1.0,
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
        moment = moment_of(step.read, choice.rpm)
        text += f", read after {clock_time(moment or 0.0)}, which is {step.read.revolutions.text}"
    elif not choice.in_time:
        turns = policy["revolutions"]
        wait = torsion.time_for_revolutions(rpm=choice.rpm, revolutions=turns)
        if step.read.average is None:
            text += f", read after {clock_time(wait)}, which is {brief(turns)} rev"
        else:
            own = torsion.revolutions(rpm=choice.rpm, time=step.read.average.value)
            window = torsion.time_for_revolutions(rpm=choice.rpm, revolutions=max(1, round(own)))
            need = wind_up(demand_of(m, step), choice.torque_upper, choice.rpm, m.instrument.readout, policy)
            begin = max(wait - window, need or 0.0)
            text += f", read after {clock_time(ceil(begin))} and averaged over {clock_time(window)}"
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
        (
            max(i.speeds, default=i.speed_to)
            for i in m.reference.instruments.values()
            if i.spring == spring.key
        ),
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
