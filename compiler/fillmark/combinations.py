"""How a spring, a spindle and a speed fare against what a step asks: their numbers, and why they lose.

This is the one place where combinations are judged; `choices.py` offers those that pass as ways out of a
finding, `choose.py` shows all of them. The bounds are those of the rules: a combination without a reason
brings no finding on torque, flow or clock, and one with a reason that blocks brings an error.
"""

from dataclasses import dataclass
from math import inf, log

from fillmark.derive.figuring import duration, percent
from fillmark.model import Container, Instrument, Policy, Read, Spindle, Spring
from fillmark.physics import container as vessel
from fillmark.physics import flow
from fillmark.physics import spring as torsion
from fillmark.quantities import brief, fixed

_EDGE = 1e-9
"""Slack, so that 100 % worked out in binary fractions is not more than 100 %."""


@dataclass(frozen=True, slots=True)
class Demand:
    """What one step asks; viscosities in Pa·s, the rest in the units of their kinds; None where not given."""

    lower: float | None
    upper: float | None
    accuracy: float
    """Of the instrument, % of full scale."""
    target: float | None = None
    specified: bool = True
    """Whether the limits are the step's own, so that the instrument's share of them counts."""
    sensitivity: float = 0.0
    """%/K"""
    temperature_tolerance: float = 0.0
    """K"""
    behaviour: str = "unknown"
    density: float | None = None
    angle: float | None = None
    """Turn of the spring at full scale (deg); that of the readout unless given."""
    read: Read | None = None
    proof: float | None = None
    """Viscosity of the reference fluid that the check measures at this step with this spindle."""
    travel: tuple[float, float, float] | None = None
    """Of a spindle that travels down: depth at the start (m), rate (m/s), deepest allowed (m)."""


@dataclass(frozen=True, slots=True)
class Pair:
    """A spindle on a spring, with what can turn it and what hinders it at any speed."""

    spring: Spring
    spindle: Spindle
    coefficient: float
    """On this spring, Pa·s·rpm."""
    guard: str
    container: Container | None
    """What it hangs in; None where nobody knows."""
    settings: dict[float, dict[str, tuple[Instrument, ...]]]
    """Speed (rpm) -> readout -> instruments that can be set to it."""
    hindrances: tuple["Reason", ...] = ()


@dataclass(frozen=True, slots=True)
class Numbers:
    """What a combination gives at the limits of a step."""

    torque_lower: float | None
    """% of full scale, as are the next four."""
    torque_upper: float | None
    torque_aim: float | None
    """At the target, or in the middle of the limits."""
    lower_worst: float | None
    upper_worst: float | None
    full_scale: float
    """Pa·s"""
    tolerance: float
    """Of the instrument with the geometry, Pa·s."""
    ratio: float | None
    """Half the width of the limits over the tolerance."""
    wait: float
    """Time of the customary revolutions (s)."""
    reynolds: float | None
    """At the lower limit, of a spindle in an open container."""
    vortex: float | None
    """Viscosity below which vortices set in in a gap (Pa·s)."""
    margin: float | None
    """How many times faster it might turn before the flow may not be laminar; None where that is not known."""
    at_its_best: bool
    """Whether the target reads in the zone that serves best."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that a combination does not meet."""

    demand: str
    """A key of `DEMANDS`."""
    value: float = 0.0
    bound: float = 0.0
    numbers: Numbers | None = None
    detail: str = ""
    """What else belongs into the sentence."""
    step: str = ""
    """The other step of the run that it concerns; empty for the step itself."""
    blocks: bool = True
    """Whether a rule would call it an error; else it would warn."""

    @property
    def short(self) -> float:
        """How far from passing: 0 just misses, 1 is off by a factor of 2.7."""
        if self.value == self.bound:
            return 0.0
        return abs(log(self.value / self.bound)) if self.value > 0 and self.bound > 0 else inf

    @property
    def late(self) -> bool:
        """Whether another moment of reading settles it."""
        return self.demand in ("turns", "window")


@dataclass(frozen=True, slots=True)
class Combination:
    """A spring, spindle and speed with what they give; it passes where there is no reason against it."""

    pair: Pair
    rpm: float
    numbers: Numbers
    reasons: tuple[Reason, ...]
    instruments: tuple[Instrument, ...]
    """Those that can run it; where none passes by the clock, those that can be set to it."""

    @property
    def passes(self) -> bool:
        """Whether nothing speaks against it."""
        return not self.reasons

    @property
    def short(self) -> float:
        """How far from passing it is in all."""
        return sum(r.short for r in self.reasons)


DEMANDS = {
    "container": "spindle belongs to another container",
    "stand": "stand does not suit the spindle",
    "relative": "relative geometry, no viscosity of its own",
    "guard": "guard state is not that of the coefficient",
    "room": "no room in the container as filled",
    "particles": "particles too large for the gap",
    "ceiling": "upper limit off the scale",
    "floor": "lower limit under the torque floor",
    "flow": "flow may not be laminar",
    "wind-up": "read before the spring has wound up",
    "travel": "spindle travels into the bottom",
    "share": "instrument takes too much of the limits",
    "index": "instrument takes too much of a ratio's limits",
    "order": "speeds of a ratio change places",
    "preferred": "lower limit under the preferred torque",
    "headroom": "no room above the upper limit",
    "slip": "may slide on the spindle",
    "turns": "read before the customary revolutions",
    "window": "averaged over part of a turn",
    "watched": "drift watched for less than a turn",
    "pointer": "fast pointer read without a lock",
}
"""What can stop a combination, in the order in which it is told: the impossible first."""


def main_reason(reasons: tuple[Reason, ...]) -> Reason:
    """Give the reason that is told first: what blocks before what warns, then in the order of `DEMANDS`."""
    order = list(DEMANDS)
    return min(reasons, key=lambda r: (not r.blocks, order.index(r.demand)))


def sentence_of(reason: Reason, policy: Policy) -> str:
    """Say a reason with its numbers: `16.0 to 24.0 % torque, below the 20 % preferred`."""
    n, text = reason.numbers, ""
    if n is not None and reason.demand in ("ceiling", "floor", "preferred", "headroom"):
        text = _torque(reason, n, policy)
    elif n is not None and reason.demand == "flow":
        text = _flow(reason, n, policy)
    elif reason.demand in ("share", "index"):
        what = "the limits" if reason.demand == "share" else f"the limits of {reason.detail}"
        text = (
            f"half the width of {what} is {brief(reason.value, 3)} times the instrument's tolerance, below "
            f"{'the least of ' if reason.blocks else 'the wanted '}{brief(reason.bound, 3)}"
        )
    elif reason.demand in ("wind-up", "turns"):
        need = (
            f"{brief(policy['revolutions'])} revolutions take"
            if reason.demand == "turns"
            else "the spring takes"
        )
        text = f"read after {duration(reason.value)}, where {need} {duration(reason.bound)}"
    elif reason.demand == "travel":
        text = f"ends {fixed(1000 * (reason.value - reason.bound), 1)} mm deeper than the clearance allows"
    elif reason.demand == "slip":
        text = (
            f"{brief(reason.value, 3)} rpm with a smooth spindle, below the {brief(reason.bound, 3)} rpm from "
            "which a product with a yield stress does not slide"
        )
    elif reason.demand == "pointer":
        text = (
            f"{brief(reason.value, 3)} rpm on a dial, from {brief(reason.bound, 3)} rpm on only with a lock"
        )
    else:
        text = reason.detail
    return f"step {reason.step}: {text}" if reason.step else text


def _torque(reason: Reason, n: Numbers, policy: Policy) -> str:
    low, high = n.torque_lower, n.torque_upper
    both = [fixed(t, 1) for t in (low, high) if t is not None]
    text = f"{' to '.join(both)} % torque"
    bound = f"{brief(reason.bound, 3)} %"
    if reason.demand == "ceiling":
        at_worst = "" if high is not None and reason.value == high else f", {percent(reason.value)} at worst"
        return f"{text}{at_worst}, over the {bound} of the spring"
    if reason.demand == "floor":
        return f"{text}, {percent(reason.value)} at worst, below the floor of {bound}"
    if reason.demand == "headroom":
        return (
            f"{text}, and {percent(reason.value)} for a batch {brief(policy['headroom'])} % above the limit"
        )
    if low is not None and reason.value != low:
        return (
            f"{text}, and {percent(reason.value)} for a batch {brief(policy['headroom'])} % below the limit"
        )
    return f"{text}, below the {bound} preferred"


def _flow(reason: Reason, n: Numbers, policy: Policy) -> str:
    if n.reynolds is not None:
        return f"Reynolds number {brief(n.reynolds, 3)} at the lower limit, over {brief(reason.bound, 3)}: reads high"
    return (
        f"vortices set in below {brief(1000 * reason.value, 3)} mPa·s, over {brief(policy['vortex_share'])} % of the "
        f"lower limit: reads high"
    )


def moment_of(read: Read, rpm: float) -> float | None:
    """Give the time from motor start to the reading at a speed (s): turns lead, for they move with it."""
    if read.revolutions is not None:
        return torsion.time_for_revolutions(rpm=rpm, revolutions=read.revolutions.value)
    at = read.after or read.steady_at_most
    return None if at is None else at.value


def accuracy_of(accuracy: float, spindle: Spindle) -> float:
    """Add the share of a geometry to the accuracy of the instrument (% of full scale)."""
    extra = spindle.accessory_accuracy
    return accuracy + (extra.value if extra is not None else 0.0)


def judge(
    demand: Demand, pair: Pair, rpm: float, policy: Policy, *, hasty: bool = False
) -> tuple[Numbers, list[Reason]] | None:
    """Judge torque, share and flow of a pair at a speed; what needs the clock is judged by `clock`.

    With `hasty` it ends with None where the torque alone blocks.
    """
    accuracy = accuracy_of(demand.accuracy, pair.spindle)
    errors = {
        "sensitivity_percent_per_k": demand.sensitivity,
        "temperature_tolerance": demand.temperature_tolerance,
        "accuracy_percent": accuracy,
    }
    on = {"coefficient": pair.coefficient, "rpm": rpm}
    low = high = aim = low_worst = high_worst = ratio = None
    if demand.lower is not None:
        low = flow.torque_percent(viscosity=demand.lower, **on)
        low_worst = flow.lowest_torque(torque_percent=low, **errors)
    if demand.upper is not None:
        high = flow.torque_percent(viscosity=demand.upper, **on)
        high_worst = flow.highest_torque(torque_percent=high, **errors)
    if low is not None and high is not None:
        aim = (low + high) / 2
        if demand.target is not None:
            aim = flow.torque_percent(viscosity=demand.target, **on)
        ratio = (high - low) / 2 / accuracy if demand.specified else None
    if hasty and (
        (low_worst is not None and low_worst < policy["torque_floor"] - _EDGE)
        or (high_worst is not None and high_worst > policy["torque_ceiling"] + _EDGE)
    ):
        return None
    full = flow.full_scale_viscosity(**on)
    reynolds, vortex, margin = _regime(demand, pair, rpm, policy)
    numbers = Numbers(
        low, high, aim, low_worst, high_worst, full, full * accuracy / 100, ratio,
        torsion.time_for_revolutions(rpm=rpm, revolutions=policy["revolutions"]), reynolds, vortex, margin,
        aim is None or policy["best_zone_lower"] - _EDGE <= aim <= policy["best_zone_upper"] + _EDGE,
    )  # fmt: skip
    return numbers, _reasons(demand, pair, rpm, numbers, policy)


def _reasons(demand: Demand, pair: Pair, rpm: float, n: Numbers, policy: Policy) -> list[Reason]:
    found: list[Reason] = []

    def against(demand: str, value: float, bound: float, *, blocks: bool = True) -> None:
        found.append(Reason(demand, value, bound, n, blocks=blocks))

    headroom = 1 + policy["headroom"] / 100
    if n.torque_upper is not None and n.upper_worst is not None:
        ceiling = policy["torque_ceiling"]
        if n.upper_worst > ceiling + _EDGE:
            against("ceiling", n.torque_upper if n.torque_upper > ceiling + _EDGE else n.upper_worst, ceiling)
        elif n.torque_upper * headroom > ceiling + _EDGE:
            against("headroom", n.torque_upper * headroom, ceiling, blocks=False)
    if n.torque_lower is not None and n.lower_worst is not None:
        floor, preferred = policy["torque_floor"], policy["torque_preferred"]
        if n.lower_worst < floor - _EDGE:
            against("floor", n.lower_worst, floor)
        elif n.torque_lower < preferred - _EDGE:
            against("preferred", n.torque_lower, preferred, blocks=False)
        elif n.torque_lower / headroom < floor - _EDGE:
            against("preferred", n.torque_lower / headroom, floor, blocks=False)
    if n.ratio is not None:
        for blocks, bound in (
            (True, policy["instrument_ratio_error"]),
            (False, policy["instrument_ratio_warning"]),
        ):
            if n.ratio < bound - _EDGE:
                against("share", n.ratio, bound, blocks=blocks)
                break
    turbulent = _against_flow(demand, n, policy)
    if turbulent is not None:
        found.append(turbulent)
    slow = rpm < policy["slip_speed"]
    if slow and demand.behaviour == "yield-stress" and pair.spindle.kind != "bar":
        against("slip", rpm, policy["slip_speed"], blocks=False)
    return found


def _regime(
    demand: Demand, pair: Pair, rpm: float, policy: Policy
) -> tuple[float | None, float | None, float | None]:
    """Give Reynolds number, onset of vortices (Pa·s) and margin at the lower limit; None where not known."""
    spindle, lower, density = pair.spindle, demand.lower, demand.density
    if lower is None or lower <= 0 or density is None or spindle.diameter is None or spindle.kind == "cone":
        return None, None, None
    radius = spindle.diameter.value / 2
    if spindle.kind not in ("chamber-cylinder", "coaxial-cylinder"):
        number = flow.disc_reynolds(density=density, rpm=rpm, radius=radius, viscosity=lower)
        return number, None, policy["reynolds_warning"] / number if number > 0 else None
    if pair.container is None or pair.container.inside_diameter.value / 2 <= radius:
        return None, None, None
    outer = pair.container.inside_diameter.value / 2
    least = flow.taylor_minimum_viscosity(density=density, rpm=rpm, inner_radius=radius, outer_radius=outer)
    return None, least, policy["vortex_share"] / 100 * lower / least if least > 0 else None


def _against_flow(demand: Demand, n: Numbers, policy: Policy) -> Reason | None:
    lower = demand.lower or 0.0
    if n.reynolds is not None and n.reynolds > policy["reynolds_warning"]:
        blocks = n.reynolds > policy["reynolds_error"]
        bound = policy["reynolds_error" if blocks else "reynolds_warning"]
        found = Reason("flow", n.reynolds, bound, n, blocks=blocks)
    elif n.vortex is not None and n.vortex >= policy["vortex_share"] / 100 * lower:
        bound = policy["vortex_share"] / 100 * lower
        found = Reason("flow", n.vortex, bound, n, blocks=n.vortex >= lower)
    else:
        return None
    # A reference fluid no thicker than the product, read at this step each day, shows that the flow is right.
    shown = demand.proof is not None and demand.proof <= lower
    return found if found.blocks or not shown else None


def wind_up(
    demand: Demand, torque_upper: float | None, rpm: float, readout: str, policy: Policy
) -> float | None:
    """Give the time the spring takes to wind up to the torque (%) of the upper limit on a readout (s)."""
    if torque_upper is None:
        return None
    return torsion.wind_up_time(
        torque_percent=min(torque_upper, policy["torque_ceiling"]),  # further the spring does not turn
        full_scale_angle_deg=demand.angle if demand.angle is not None else policy[f"angle_{readout}"],
        rpm=rpm,
        residual=policy["wind_up_residual"] / 100,
    )


def clock(demand: Demand, n: Numbers, rpm: float, readout: str, policy: Policy) -> list[Reason]:
    """Judge the moment of reading of a step on one kind of readout."""
    read = demand.read
    if read is None:
        return []
    found: list[Reason] = []
    need = wind_up(demand, n.torque_upper, rpm, readout, policy)
    moment = moment_of(read, rpm)
    steady = read.after is None and read.revolutions is None
    window = read.average.value if read.average is not None else 0.0
    if moment is not None and steady:
        over = read.steady_over.value if read.steady_over is not None else 0.0
        if need is not None and moment < need + over:
            found.append(Reason("wind-up", max(0.0, moment - over), need, n, blocks=moment < need))
        if over < 60 / rpm * (1 - 1e-9):
            found.append(Reason("watched", over, 60 / rpm, n, _part_of_a_turn(over, rpm), blocks=False))
    elif moment is not None:
        if need is not None and moment < need:
            found.append(Reason("wind-up", moment, need, n))
        elif _short_of_custom(demand, n, moment + window, readout, policy):
            found.append(Reason("turns", moment + window, n.wait, n, blocks=False))
    if window:
        turns = torsion.revolutions(rpm=rpm, time=window)
        off = abs(turns - max(1, round(turns)))
        if off > policy["averaging_share"] / 100:
            said = f"averaged over {brief(turns, 3)} revolutions, no whole number of them"
            found.append(Reason("window", off, policy["averaging_share"] / 100, n, said, blocks=False))
    if readout == "dial" and rpm >= policy["dial_lock_speed"] and not read.lock:
        found.append(Reason("pointer", rpm, policy["dial_lock_speed"], n, blocks=False))
    return found


def _part_of_a_turn(over: float, rpm: float) -> str:
    return f"drift watched for {duration(over)}, where one turn takes {duration(60 / rpm)}"


def _short_of_custom(demand: Demand, n: Numbers, end: float, readout: str, policy: Policy) -> bool:
    read = demand.read
    if read is None or read.steady_change is not None:
        return False
    if demand.behaviour == "newtonian" and readout == "digital":
        return False
    counted = read.revolutions is not None and read.revolutions.value >= policy["revolutions"]
    return not counted and end < n.wait * (1 - 1e-9)


def travelled(demand: Demand, n: Numbers, rpm: float, *, late: bool) -> Reason | None:
    """Judge the end of a spindle that travels down; one that is to be read later travels longer."""
    if demand.travel is None:
        return None
    start, rate, deepest = demand.travel
    read = demand.read
    time = moment_of(read, rpm) if read is not None else None
    time = n.wait if time is None else time
    if read is not None and read.average is not None:
        time += read.average.value
    end = vessel.helical_path(start_depth=start, rate=rate, time=max(time, n.wait) if late else time)
    return Reason("travel", end, deepest, n) if end > deepest else None
