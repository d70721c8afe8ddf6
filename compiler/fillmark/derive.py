"""Stage 4: every figure that follows from a method, each computed here once and nowhere else.

The functions below gather a method's values, call the physics, and keep the result with its formula, inputs
and sources. A figure that cannot be computed is left open with the reason. Conversions between the units a
bench uses and those of the physics are visible at the call.
"""

import math
from dataclasses import dataclass, field
from decimal import Decimal

from fillmark.diagnostics import Path
from fillmark.figures import Figure, Figures
from fillmark.model import Guard, Limit, Method, ReportLine, Spindle, Step
from fillmark.physics import container as vessel
from fillmark.physics import flow, heat, rounding, spring, statistics
from fillmark.quantities import Quantity, express, fixed, sig

Inputs = tuple[tuple[str, "Path | str"], ...]


@dataclass(slots=True)
class _Figuring:
    """The figures of one method as they come."""

    method: Method
    by_key: dict[str, Figure] = field(default_factory=dict)
    open: dict[str, str] = field(default_factory=dict)

    def add(
        self, key: str, title: str, value: float, unit: str, text: str, formula: str, inputs: Inputs, *sources: str
    ) -> float:
        self.by_key[key] = Figure(key, title, value, unit, text, formula, inputs, sources)
        return value

    def leave_open(self, key: str, reason: str) -> None:
        self.open[key] = reason

    def value(self, key: str) -> float | None:
        figure = self.by_key.get(key)
        return None if figure is None else figure.value

    def policy(self, key: str) -> float:
        return self.method.reference.policy[key]


def brief(value: float, digits: int) -> str:
    """Write a number with at most so many significant digits, without zeros that say nothing."""
    text = sig(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def in_unit(value: float, unit: str, digits: int = 4) -> str:
    """Write a value of a kind's own unit in another unit, with at most so many significant digits."""
    return f"{brief(express(value, unit), digits)} {unit}"


def percent(value: float) -> str:
    """Write a percentage of torque with one decimal."""
    return f"{fixed(value, 1)} %"


def duration(seconds: float) -> str:
    """Write a time as a bench clock would show it: seconds up to ten minutes, then minutes, then hours."""
    if seconds < 600:
        return f"{brief(seconds, 3)} s"
    if seconds < 6 * 3600:
        return f"{fixed(seconds / 60, 0)} min"
    return f"{brief(seconds / 3600, 3)} h"


def millimetres(metres: float) -> str:
    """Write a length in millimetres with one decimal."""
    return f"{fixed(metres * 1000, 1)} mm"


def viscosity_unit(m: Method, result: str) -> str:
    """Choose the unit a result is shown in: that of the report, else of the limits, else Pa·s."""
    for line in m.report:
        if line.result == result and line.unit:
            return line.unit
    limit = m.limit(result)
    if limit is not None:
        for bound in (limit.lower, limit.upper, limit.target):
            if bound is not None and bound.kind == "viscosity":
                return bound.unit
    for line in m.report:
        if line.unit:
            return line.unit
    return "Pa·s"


def expected_limits(m: Method, step: Step) -> tuple[float | None, float | None, Path]:
    """Find the viscosities between which a conforming batch reads at a step (Pa·s), and where they stand.

    A step judged only through a ratio takes its limits from the ratio times the limits of the other step.
    """
    limit = m.limit(step.name)
    if limit is not None:
        return _value(limit.lower), _value(limit.upper), limit.path
    for line in m.report:
        ratio = m.limit(line.result) if line.ratio else None
        if ratio is None or line.ratio is None or step.name not in line.ratio:
            continue
        first = line.ratio[0] == step.name
        other = m.limit(line.ratio[1 if first else 0])
        if other is None:
            continue
        bounds = (_value(ratio.lower), _value(ratio.upper), _value(other.lower), _value(other.upper))
        r_low, r_high, o_low, o_high = bounds
        if first:
            return _times(r_low, o_low), _times(r_high, o_high), ratio.path
        return _over(o_low, r_high), _over(o_high, r_low), ratio.path
    return None, None, step.path


def _value(quantity: Quantity | None) -> float | None:
    return None if quantity is None else quantity.value


def _times(a: float | None, b: float | None) -> float | None:
    return None if a is None or b is None else a * b


def _over(a: float | None, b: float | None) -> float | None:
    return None if a is None or not b else a / b


def coefficient_on(m: Method, spindle: Spindle) -> float:
    """Give a catalogue spindle's coefficient on the spring of the method (Pa·s·rpm)."""
    return flow.coefficient_on_spring(
        coefficient=spindle.coefficient.value,
        reference_torque=m.reference.springs[spindle.coefficient_spring].full_scale.value,
        torque=m.instrument.spring.full_scale.value,
    )


def fitting_guard(m: Method) -> Guard | None:
    """Find the guard that goes with the coupling the spindle hangs on."""
    key = m.instrument.adapter or m.instrument.coupling.key
    return m.reference.guards.get(m.reference.couplings[key].guard)


def _basics(f: _Figuring) -> None:
    m, policy = f.method, f.method.reference.policy
    own = m.instrument.accuracy
    accessory = m.spindle.accessory_accuracy
    base = own.value if own is not None else policy["instrument_accuracy"]
    total = base + (accessory.value if accessory is not None else 0.0)
    inputs: list[tuple[str, Path | str]] = [
        ("a of the instrument", ("instrument", "accuracy") if own is not None else "policy.instrument_accuracy")
    ]
    if accessory is not None:
        inputs.append(("a of the geometry", accessory.text))
    f.add(
        "accuracy", "Accuracy, in percent of full scale", total, "%", f"± {brief(total, 3)} % of full scale",
        "a = a of the instrument + a of the geometry", tuple(inputs), policy.sources["instrument_accuracy"],
    )  # fmt: skip
    angle = m.instrument.full_scale_angle
    angle_key = f"angle_{m.instrument.readout}"
    degrees = angle.value if angle is not None else policy[angle_key]
    f.add(
        "full_scale_angle", "Turn of the spring at 100 % torque", degrees, "deg", f"{brief(degrees, 3)}°",
        "given", ((("θ", ("instrument", "full_scale_angle") if angle is not None else f"policy.{angle_key}")),),
        policy.sources[angle_key],
    )  # fmt: skip
    resolution = m.instrument.resolution
    resolution_key = f"resolution_{m.instrument.readout}"
    step = resolution.value if resolution is not None else policy[resolution_key]
    f.add(
        "resolution", "Smallest step of the readout", step, "%", f"{brief(step, 3)} %", "given",
        (("step", ("instrument", "resolution") if resolution is not None else f"policy.{resolution_key}"),),
        policy.sources[resolution_key],
    )  # fmt: skip
    if m.coefficient is not None:
        f.add(
            "coefficient", "Coefficient of the spindle on this spring", m.coefficient.full_scale.value,
            "Pa·s·rpm", m.coefficient.full_scale.text, "found by the laboratory",
            (("C", ("coefficient", "full_scale")),), "method",
        )  # fmt: skip
    else:
        value = coefficient_on(m, m.spindle)
        f.add(
            "coefficient", "Coefficient of the spindle on this spring", value, "Pa·s·rpm",
            in_unit(value, "Pa·s·rpm"), "C = C_ref · T / T_ref",
            (
                ("C_ref", f"{m.spindle.key}: {m.spindle.coefficient.text} on spring {m.spindle.coefficient_spring}"),
                ("T", m.instrument.spring.full_scale.text),
                ("T_ref", m.reference.springs[m.spindle.coefficient_spring].full_scale.text),
            ),
            m.spindle.source,
        )  # fmt: skip
    target = m.temperature.target
    low, high = target.value.value - target.tolerance.value, target.value.value + target.tolerance.value
    decimals = max(target.value.decimals, target.tolerance.decimals)
    for key, title, value in (("lower", "Lowest", low), ("upper", "Highest", high)):
        f.add(
            f"temperature.{key}", f"{title} temperature allowed", value, "°C", f"{fixed(value, decimals)} °C",
            "T ± ΔT", (("T ± ΔT", ("temperature", "target")),), "method",
        )  # fmt: skip


def _step(f: _Figuring, step: Step) -> None:
    m = f.method
    key = f"run.{step.name}."
    rpm = step.speed.value
    coefficient = f.by_key["coefficient"].value
    accuracy = f.by_key["accuracy"].value
    unit = viscosity_unit(m, step.name)
    speed: tuple[str, Path | str] = ("N", (*step.path, "speed"))
    full = flow.full_scale_viscosity(coefficient=coefficient, rpm=rpm)
    f.add(
        key + "full_scale", "Full-scale viscosity", full, unit, in_unit(full, unit), "FSR = C / N",
        (("C", "coefficient"), speed), m.spindle.source,
    )  # fmt: skip
    factor = flow.factor(coefficient=coefficient, rpm=rpm)
    f.add(
        key + "factor", "Factor: viscosity for each percent of torque", factor, f"{unit}/%",
        f"{in_unit(factor, unit, 5)} per %", "f = C / (100 · N)", (("C", "coefficient"), speed), "definition",
    )  # fmt: skip
    tolerance = full * accuracy / 100
    f.add(
        key + "tolerance", "Instrument tolerance", tolerance, unit, f"± {in_unit(tolerance, unit, 3)}",
        "a · FSR / 100", (("a", "accuracy"), ("FSR", key + "full_scale")), "common-practice",
    )  # fmt: skip
    resolution = full * f.by_key["resolution"].value / 100
    f.add(
        key + "resolution", "Smallest step of the readout, as viscosity", resolution, unit,
        in_unit(resolution, unit, 3), "step · FSR / 100",
        (("step", "resolution"), ("FSR", key + "full_scale")), "definition",
    )  # fmt: skip
    floor = f.policy("torque_floor")
    f.add(
        key + "below_bound", "Bound reported below the torque floor", full * floor / 100, unit,
        f"< {in_unit(full * floor / 100, unit)}", "floor · FSR / 100",
        (("floor", "policy.torque_floor"), ("FSR", key + "full_scale")), "common-practice",
    )  # fmt: skip
    f.add(
        key + "above_bound", "Bound reported above full scale", full, unit, f"> {in_unit(full, unit)}", "FSR",
        (("FSR", key + "full_scale"),), "definition",
    )  # fmt: skip
    _torque(f, step, key, coefficient, accuracy)
    _clock(f, step, key)
    _flow_regime(f, step, key)
    _uncertainty(f, step, key, unit, full, accuracy)


def _torque(f: _Figuring, step: Step, key: str, coefficient: float, accuracy: float) -> None:
    m, rpm = f.method, step.speed.value
    lower, upper, where = expected_limits(m, step)
    speed: tuple[str, Path | str] = ("N", (*step.path, "speed"))
    sensitivity = m.product.temperature_sensitivity
    tolerance = m.temperature.target.tolerance.value
    for which, word, sign, limit in (("lower", "lower", -1, lower), ("upper", "upper", 1, upper)):
        if limit is None:
            f.leave_open(f"{key}torque_{which}", f"step {step.name} has no {word} limit")
            continue
        torque = flow.torque_percent(viscosity=limit, coefficient=coefficient, rpm=rpm)
        f.add(
            f"{key}torque_{which}", f"Torque at the {word} limit", torque, "%", percent(torque),
            "t = 100 · η · N / C", (("η", (*where, which)), speed, ("C", "coefficient")), "definition",
        )  # fmt: skip
        share = 0.0 if sensitivity is None else sensitivity.value * tolerance / 100
        worst = torque * (1 + sign * share) + sign * accuracy
        f.add(
            f"{key}torque_{which}_worst", f"Torque at the {word} limit, worst case", worst, "%", percent(worst),
            f"t · (1 {'+' if sign > 0 else '-'} s · ΔT / 100) {'+' if sign > 0 else '-'} a",
            (
                ("t", f"{key}torque_{which}"),
                ("s", ("product", "temperature_sensitivity") if sensitivity is not None else "not given, taken as 0"),
                ("ΔT", ("temperature", "target")),
                ("a", "accuracy"),
            ),
            "common-practice",
        )  # fmt: skip
    limits = m.limit(step.name)
    if limits is not None and limits.target is not None:
        torque = flow.torque_percent(viscosity=limits.target.value, coefficient=coefficient, rpm=rpm)
        f.add(
            key + "torque_target", "Torque at the target", torque, "%", percent(torque),
            "t = 100 · η · N / C", (("η", (*limits.path, "target")), speed, ("C", "coefficient")), "definition",
        )  # fmt: skip


def read_time(step: Step) -> float | None:
    """Give the time from motor start to the reading (s); None for a reading taken once steady."""
    if step.read.after is not None:
        return step.read.after.value
    if step.read.revolutions is not None:
        return spring.time_for_revolutions(rpm=step.speed.value, revolutions=step.read.revolutions.value)
    return None


def last_moment(step: Step) -> float:
    """Give the latest time from motor start at which the step may still be reading (s)."""
    at = read_time(step)
    if at is None:
        at = step.read.steady_at_most.value if step.read.steady_at_most is not None else 0.0
    return at + (step.read.average.value if step.read.average is not None else 0.0)


def _clock(f: _Figuring, step: Step, key: str) -> None:
    rpm = step.speed.value
    speed: tuple[str, Path | str] = ("N", (*step.path, "speed"))
    five = f.policy("revolutions")
    wait = spring.time_for_revolutions(rpm=rpm, revolutions=five)
    f.add(
        key + "customary_wait", f"Time for {sig(five, 2)} revolutions", wait, "s", duration(wait), "60 · n / N",
        (("n", "policy.revolutions"), speed), f.method.reference.policy.sources["revolutions"],
    )  # fmt: skip
    at = read_time(step)
    if at is not None:
        by = "after" if step.read.after is not None else "revolutions"
        f.add(
            key + "read_at", "Moment of reading, from motor start", at, "s", duration(at),
            "given" if by == "after" else "60 · n / N", ((by, (*step.path, "read", by)), speed), "method",
        )  # fmt: skip
        turns = spring.revolutions(rpm=rpm, time=at)
        f.add(
            key + "revolutions", "Revolutions at the reading", turns, "rev", f"{brief(turns, 3)} revolutions",
            "N · t / 60", (speed, ("t", key + "read_at")), "definition",
        )  # fmt: skip
    else:
        f.leave_open(key + "read_at", f"step {step.name} is read once steady, not at a fixed time")
    end = last_moment(step)
    f.add(
        key + "read_end", "End of the reading, from motor start", end, "s", duration(end),
        "moment of reading + averaging window", (("read", (*step.path, "read")),), "method",
    )  # fmt: skip
    torque = f.value(key + "torque_upper")
    if torque is None:
        f.leave_open(key + "wind_up", f"step {step.name} has no upper limit to wind up to")
        return
    angle = f.by_key["full_scale_angle"].value
    residual = f.policy("wind_up_residual")
    need = spring.wind_up_time(torque_percent=torque, full_scale_angle_deg=angle, rpm=rpm, residual=residual / 100)
    f.add(
        key + "wind_up", f"Spring wind-up at the upper limit, to within {sig(residual, 2)} %", need, "s",
        duration(need), "ln(100 / residual) · (t / 100) · θ / (6 · N)",
        (("t", key + "torque_upper"), ("θ", "full_scale_angle"), speed, ("residual", "policy.wind_up_residual")),
        "spring-settling",
    )  # fmt: skip
    if at is not None:
        for readout in ("dial", "digital"):
            degrees = angle if readout == f.method.instrument.readout else f.policy(f"angle_{readout}")
            reached = spring.fraction_reached(time=at, torque_percent=torque, full_scale_angle_deg=degrees, rpm=rpm)
            here = readout == f.method.instrument.readout
            name = "fraction" if here else "fraction_other_readout"
            f.add(
                key + name, f"Share of the torque reached at the reading, {readout} readout of {sig(degrees, 3)}°",
                100 * reached, "%", percent(100 * reached), "100 · (1 - exp(-time / τ)), τ = (t / 100) · θ / (6 · N)",
                (("time", key + "read_at"), ("t", key + "torque_upper"), ("θ", f"{brief(degrees, 3)}°"), speed),
                "spring-settling",
            )  # fmt: skip
            other = spring.wind_up_time(
                torque_percent=torque, full_scale_angle_deg=degrees, rpm=rpm, residual=residual / 100
            )
            if not here:
                f.add(
                    key + "wind_up_other_readout", f"Spring wind-up on a {readout} readout of {sig(degrees, 3)}°",
                    other, "s", duration(other), "ln(100 / residual) · (t / 100) · θ / (6 · N)",
                    (("t", key + "torque_upper"), ("θ", f"{brief(degrees, 3)}°"), speed), "spring-settling",
                )  # fmt: skip


def _flow_regime(f: _Figuring, step: Step, key: str) -> None:
    m, rpm = f.method, step.speed.value
    spindle = m.spindle
    speed: tuple[str, Path | str] = ("N", (*step.path, "speed"))
    lower, _, where = expected_limits(m, step)
    density = m.product.density
    if spindle.kind in ("chamber-cylinder", "coaxial-cylinder") and spindle.diameter is not None:
        inner, outer = spindle.diameter.value / 2, m.container.inside_diameter.value / 2
        if outer > inner:
            rate = flow.coaxial_shear_rate(rpm=rpm, inner_radius=inner, outer_radius=outer)
            f.add(
                key + "shear_rate", "Shear rate at the spindle", rate, "1/s", f"{sig(rate, 3)} 1/s",
                "2 · Ω · Ro² / (Ro² - Ri²)",
                (speed, ("Ri", f"half of {spindle.diameter.text}"), ("Ro", f"half of {m.container.inside_diameter.text}")),
                "coaxial-formula",
            )  # fmt: skip
            if density is not None:
                least = flow.taylor_minimum_viscosity(
                    density=density.value, rpm=rpm, inner_radius=inner, outer_radius=outer
                )
                unit = viscosity_unit(m, step.name)
                f.add(
                    key + "vortex_viscosity", "Viscosity below which vortices set in", least, unit,
                    in_unit(least, unit, 3), "η = ρ · Ω · Ri · (Ro - Ri) / Re_c(Ri / Ro)",
                    (("ρ", ("product", "density")), speed, ("Ri", f"half of {spindle.diameter.text}")), "taylor-onset",
                )  # fmt: skip
            else:
                f.leave_open(key + "vortex_viscosity", "the density is not given")
    elif spindle.kind == "cone" and spindle.cone_angle is not None:
        rate = flow.cone_shear_rate(rpm=rpm, angle_rad=math.radians(spindle.cone_angle.value))
        f.add(
            key + "shear_rate", "Shear rate in the gap", rate, "1/s", f"{sig(rate, 3)} 1/s", "Ω / tan α",
            (speed, ("α", spindle.cone_angle.text)), "cone-formula",
        )  # fmt: skip
    elif spindle.diameter is not None and lower is not None:
        if density is None:
            f.leave_open(key + "reynolds", "the density is not given")
            return
        number = flow.disc_reynolds(density=density.value, rpm=rpm, radius=spindle.diameter.value / 2, viscosity=lower)
        f.add(
            key + "reynolds", "Reynolds number at the lower limit", number, "", sig(number, 3),
            "Re = ρ · Ω · R² / η",
            (("ρ", ("product", "density")), speed, ("R", f"half of {spindle.diameter.text}"), ("η", (*where, "lower"))),
            "rheology-text",
        )  # fmt: skip


def _uncertainty(f: _Figuring, step: Step, key: str, unit: str, full: float, accuracy: float) -> None:
    m = f.method
    limit = m.limit(step.name)
    if limit is None or limit.lower is None or limit.upper is None:
        return
    if limit.lower.value >= limit.upper.value:
        f.leave_open(key + "uncertainty", "the lower limit is not below the upper one")
        return
    half = (limit.upper.value - limit.lower.value) / 2
    middle = (limit.upper.value + limit.lower.value) / 2
    where = limit.path
    ratio = half / (full * accuracy / 100)
    f.add(
        key + "instrument_ratio", "Half width of the specification over the instrument tolerance", ratio, "",
        sig(ratio, 3), "((U - L) / 2) / (a · FSR / 100)",
        (("U", (*where, "upper")), ("L", (*where, "lower")), ("a · FSR / 100", key + "tolerance")), "jcgm-106",
    )  # fmt: skip
    sensitivity, repeatability = m.product.temperature_sensitivity, m.replicates.repeatability
    if sensitivity is None or repeatability is None:
        missing = "the temperature sensitivity" if sensitivity is None else "the repeatability"
        f.leave_open(key + "uncertainty", f"{missing} is not given")
        return
    budget = statistics.budget(
        viscosity=middle,
        full_scale=full,
        accuracy_percent=accuracy,
        sensitivity_percent_per_k=sensitivity.value,
        temperature_tolerance=m.temperature.target.tolerance.value,
        repeatability_sd=repeatability.value / 100 * middle,
        n=m.replicates.count,
    )
    parts = (
        ("u_instrument", "Standard uncertainty from the instrument", budget.instrument, "a · FSR / 100 / √3",
         (("a · FSR / 100", key + "tolerance"),)),
        ("u_temperature", "Standard uncertainty from temperature", budget.temperature, "η · s · ΔT / 100 / √3",
         (("s", ("product", "temperature_sensitivity")), ("ΔT", ("temperature", "target")))),
        ("u_repeatability", "Standard uncertainty from repeatability", budget.repeatability, "η · s_r / 100 / √n",
         (("s_r", ("replicates", "repeatability")), ("n", ("replicates", "count")))),
    )  # fmt: skip
    for name, title, value, formula, inputs in parts:
        shown: Inputs = (("η", "middle of the limits"), *inputs)  # type: ignore[assignment]
        f.add(key + name, title, value, unit, in_unit(value, unit, 3), formula, shown, "gum")
    names = ("u_instrument", "u_temperature", "u_repeatability")
    f.add(
        key + "uncertainty", "Expanded uncertainty of the result, k = 2", budget.expanded, unit,
        f"± {in_unit(budget.expanded, unit, 3)}", "U = 2 · √(u_i² + u_T² + u_r²)",
        tuple((n, key + n) for n in names), "gum",
    )  # fmt: skip
    ratio = statistics.tolerance_ratio(half_width=half, expanded=budget.expanded)
    f.add(
        key + "uncertainty_ratio", "Half width of the specification over the expanded uncertainty", ratio, "",
        sig(ratio, 3), "((U - L) / 2) / U95",
        (("U", (*where, "upper")), ("L", (*where, "lower")), ("U95", key + "uncertainty")), "jcgm-106",
    )  # fmt: skip
    if limit.decision_rule == "guarded":
        low, high = limit.lower.value + budget.expanded, limit.upper.value - budget.expanded
        for which, value in (("lower", low), ("upper", high)):
            f.add(
                f"{key}guarded_{which}", f"Guarded {which} limit", value, unit, in_unit(value, unit),
                "limit drawn in by U95", (("limit", (*where, which)), ("U95", key + "uncertainty")), "jcgm-106",
            )  # fmt: skip


def _container(f: _Figuring) -> None:
    m = f.method
    spindle, container, immersion = m.spindle, m.container, m.immersion
    inside = container.inside_diameter.value
    source = container.source
    if immersion.to == "gap":
        return
    if spindle.diameter is None:
        for key in ("side_clearance", "level", "underside", "wall_shift"):
            f.leave_open(f"container.{key}", f"the dimensions of spindle {spindle.key} are not known")
        return
    guard = fitting_guard(m) if m.guarded else None
    widths = [("side_clearance", "spindle", spindle.diameter)]
    if guard is not None:
        widths.append(("guard_clearance", "guard", guard.width))
    for name, what, width in widths:
        side = (inside - width.value) / 2
        f.add(
            f"container.{name}", f"Clearance between {what} and wall", side, "mm", millimetres(side),
            "(inside diameter - width) / 2",
            (("inside diameter", container.inside_diameter.text), ("width", width.text)), source,
        )  # fmt: skip
    _wall(f)
    _level(f, guard)
    _immersion(f)


def _wall(f: _Figuring) -> None:
    m = f.method
    spindle, container = m.spindle, m.container
    if not spindle.plain or spindle.diameter is None:
        return
    home = m.coefficient.container if m.coefficient is not None else spindle.container
    if home is None or home not in m.reference.containers:
        f.leave_open("container.wall_shift", "the container the coefficient holds for is not known")
        return
    reference = m.reference.containers[home]
    shift = flow.cylinder_wall_shift if spindle.kind == "cylinder" else flow.disc_wall_shift
    radii = (spindle.diameter.value / 2, reference.inside_diameter.value / 2, container.inside_diameter.value / 2)
    if radii[2] <= radii[0]:
        f.leave_open("container.wall_shift", "the spindle does not fit the container")
        return
    value = 100 * shift(radius=radii[0], reference_radius=radii[1], container_radius=radii[2])
    power = "²" if spindle.kind == "cylinder" else "³"
    note = "" if spindle.kind == "cylinder" else " (order of magnitude)"
    f.add(
        "container.wall_shift", f"Shift of the result by the container's wall{note}", value, "%",
        f"{'+' if value > 0 else ''}{sig(value, 2) if abs(value) >= 0.005 else '0'} %",
        f"100 · ((1 - (R/Ro_ref){power}) / (1 - (R/Ro){power}) - 1)",
        (
            ("R", f"half of {spindle.diameter.text}"),
            ("Ro_ref", f"half of {reference.inside_diameter.text}, {reference.label}"),
            ("Ro", f"half of {container.inside_diameter.text}"),
        ),
        "coaxial-formula" if spindle.kind == "cylinder" else "project-decision",
    )  # fmt: skip


def submerged_below_top(m: Method) -> tuple[float, float] | None:
    """Give the height from the spindle's underside to the surface at the mark, and the volume immersed (m, m³).

    None where the immersion is no mark and no cover above the top, or a dimension is not known.
    """
    spindle = m.spindle
    if spindle.diameter is None or spindle.length is None or spindle.shaft_diameter is None:
        return None
    if m.immersion.to == "shaft-mark":
        if spindle.mark_height is None:
            return None
        height = spindle.mark_height.value
    elif m.immersion.to == "above-top" and m.immersion.depth is not None:
        height = spindle.length.value + m.immersion.depth.value
    else:
        return None
    body = vessel.cylinder_volume(diameter=spindle.diameter.value, length=spindle.length.value)
    shaft = vessel.cylinder_volume(diameter=spindle.shaft_diameter.value, length=height - spindle.length.value)
    guard = fitting_guard(m) if m.guarded else None
    legs = 0.0
    if guard is not None:
        legs = 2 * guard.leg_width.value * guard.leg_thickness.value * (height + guard.below_spindle.value)
    return height, body + shaft + legs


def _level(f: _Figuring, guard: Guard | None) -> None:
    m = f.method
    container = m.container
    diameter: tuple[str, Path | str] = ("d", f"inside diameter {container.inside_diameter.text}")
    if m.immersion.to == "depth":
        _pack(f)
        return
    immersed = submerged_below_top(m)
    if immersed is None:
        f.leave_open("container.level", f"the dimensions of spindle {m.spindle.key} are not known")
        return
    height, displaced = immersed
    below = guard.below_spindle.value if guard is not None else 0.0
    clearance = (
        m.immersion.bottom_clearance.value if m.immersion.bottom_clearance is not None else f.policy("bottom_clearance")
    )
    needed = clearance + below + height
    f.add(
        "container.level_needed", "Level needed with the spindle in", needed, "mm", millimetres(needed),
        "bottom clearance + guard below the spindle + underside to surface",
        (
            ("bottom clearance", ("immersion", "bottom_clearance") if m.immersion.bottom_clearance else "policy.bottom_clearance"),
            ("guard below the spindle", guard.below_spindle.text if guard is not None else "no guard"),
            ("underside to surface", millimetres(height)),
        ),
        m.spindle.source,
    )  # fmt: skip
    f.add(
        "container.displaced", "Volume displaced by spindle, shaft and guard", displaced, "mL",
        in_unit(displaced, "mL", 3), "body + immersed shaft + guard legs",
        (("spindle", m.spindle.key), ("guard", guard.key if guard is not None else "none")), m.spindle.source,
    )  # fmt: skip
    volume = m.sample.volume
    if volume is None:
        f.leave_open("container.level", "no sample volume is given")
        return
    amounts = (
        ("level", "Level with the spindle in", 0.0),
        ("level_lower", "Lowest level with the spindle in", -1.0),
        ("level_upper", "Highest level with the spindle in", 1.0),
        ("fill", "Level before the spindle is in", 0.0),
        ("fill_lower", "Lowest level before the spindle is in", -1.0),
        ("fill_upper", "Highest level before the spindle is in", 1.0),
    )
    for name, title, sign in amounts:
        level = vessel.fill_level(
            volume=volume.value.value + sign * volume.tolerance.value,
            inside_diameter=container.inside_diameter.value,
            displaced=displaced if name.startswith("level") else 0.0,
        )
        f.add(
            f"container.{name}", title, level, "mm", millimetres(level),
            "(V + V_displaced) / (π · d² / 4)" if name.startswith("level") else "V / (π · d² / 4)",
            (("V", ("sample", "volume")), ("V_displaced", "container.displaced"), diameter), "definition",
        )  # fmt: skip
    if m.immersion.to == "above-top" and m.spindle.length is not None:
        # The chamber holds the spindle at its height, so that the level sets the cover above it.
        f.add(
            "container.bottom_clearance", "Clearance below the spindle, set by the chamber", clearance, "mm",
            millimetres(clearance), "given", (("bottom clearance", ("immersion", "bottom_clearance")),), "method",
        )  # fmt: skip
        for name, word in (("cover_lower", "Least"), ("cover", ""), ("cover_upper", "Most")):
            cover = f.by_key[name.replace("cover", "container.level")].value - clearance - m.spindle.length.value
            f.add(
                f"container.{name}", f"{word} cover above the spindle".strip().capitalize(), cover, "mm",
                millimetres(cover), "level - bottom clearance - length of the spindle",
                (("level", name.replace("cover", "container.level")), ("length", m.spindle.length.text)), "definition",
            )  # fmt: skip
    else:
        underside = f.by_key["container.level_lower"].value - height - below
        f.add(
            "container.bottom_clearance", f"Least clearance below the {'guard' if guard else 'spindle'}", underside,
            "mm", millimetres(underside), "lowest level - underside to surface - guard below the spindle",
            (("lowest level", "container.level_lower"), ("underside to surface", millimetres(height))), "definition",
        )  # fmt: skip
    free = container.height.value - f.by_key["container.level_upper"].value
    f.add(
        "container.free_board", "Rim above the highest level", free, "mm", millimetres(free),
        "height - highest level", (("height", container.height.text), ("highest level", "container.level_upper")),
        "definition",
    )  # fmt: skip
    if m.product.density is not None:
        for sign, name, word in ((-1, "mass_lower", "Lightest"), (0, "mass", ""), (1, "mass_upper", "Heaviest")):
            mass = (volume.value.value + sign * volume.tolerance.value) * m.product.density.value
            f.add(
                f"sample.{name}", f"{word} mass of the volume filled".strip().capitalize(), mass, "g",
                in_unit(mass, "g", 4), "m = ρ · V", (("ρ", ("product", "density")), ("V", ("sample", "volume"))),
                "definition",
            )  # fmt: skip


def _pack(f: _Figuring) -> None:
    """Follow the spindle down a pack or a beaker on a helical stand."""
    m = f.method
    depth = m.container.fill_depth
    start = m.immersion.depth
    if depth is None and m.sample.volume is not None:
        level = vessel.fill_level(
            volume=m.sample.volume.value.value, inside_diameter=m.container.inside_diameter.value, displaced=0.0
        )
        level_from: Path | str = ("sample", "volume")
    elif depth is not None:
        level, level_from = depth.value, f"fill depth {depth.text} of {m.container.label}"
    else:
        f.leave_open("container.level", "neither a volume nor the fill depth of the pack is given")
        return
    f.add(
        "container.level", "Depth of product", level, "mm", millimetres(level), "given or V / (π · d² / 4)",
        (("depth", level_from),), "method",
    )  # fmt: skip
    if start is None:
        f.leave_open("helical.end_depth", "the depth at the start is not given")
        return
    rate = m.instrument.rise_rate
    longest = max(last_moment(s) for s in m.run)
    travel = 0.0 if rate is None or m.instrument.stand != "helical" else rate.value
    if m.immersion.direction == "up":
        travel = -travel
    end = vessel.helical_path(start_depth=start.value, rate=travel, time=longest)
    deepest = max(end, start.value)
    f.add(
        "helical.end_depth", "Depth at the end of the reading", end, "mm", millimetres(end), "d0 + v · t",
        (("d0", ("immersion", "depth")), ("v", ("instrument", "rise_rate")), ("t", duration(longest))), "definition",
    )  # fmt: skip
    left = level - deepest
    f.add(
        "container.bottom_clearance", "Least clearance below the spindle", left, "mm", millimetres(left),
        "depth of product - deepest point", (("depth of product", "container.level"), ("deepest", millimetres(deepest))),
        "definition",
    )  # fmt: skip
    if m.spindle.wire_diameter is not None and travel:
        fastest = max(s.speed.value for s in m.run)
        half_pitch = abs(travel) / (fastest / 60) / 2
        f.add(
            "helical.half_pitch", "Travel in half a turn", half_pitch, "mm", millimetres(half_pitch), "v / (2 · N)",
            (("v", ("instrument", "rise_rate")), ("N", f"{sig(fastest, 3)} rpm")), "rheology-text",
        )  # fmt: skip


def _immersion(f: _Figuring) -> None:
    m = f.method
    spindle, tolerance = m.spindle, m.immersion.tolerance
    if m.immersion.to != "shaft-mark" or tolerance is None:
        return
    if spindle.diameter is None or spindle.shaft_diameter is None or spindle.length is None:
        return
    if spindle.kind == "disc":
        per_metre = vessel.disc_immersion_effect_per_metre(
            disc_radius=spindle.diameter.value / 2, shaft_radius=spindle.shaft_diameter.value / 2
        )
        formula = "δ · 4π · Rs² / ((32 / 3) · R³)"
    elif spindle.diameter.value > 2 * spindle.shaft_diameter.value:
        # A wide cylinder hangs wholly below the surface: only its thin shaft feels the level.
        per_metre = (spindle.shaft_diameter.value / spindle.diameter.value) ** 2 / spindle.length.value
        formula = "δ · (Ds / D)² / L"
    else:
        per_metre = vessel.cylinder_immersion_effect_per_metre(length=spindle.length.value)
        formula = "δ / L"
    effect = 100 * per_metre * tolerance.value
    f.add(
        "immersion.effect", "Shift of the result at the edge of the immersion tolerance", effect, "%",
        f"± {sig(effect, 2)} %", formula,
        (("δ", ("immersion", "tolerance")), ("R, L", f"{spindle.key}: {spindle.diameter.text}, {spindle.length.text}")),
        "rheology-text",
    )  # fmt: skip


def _temperature(f: _Figuring) -> None:
    m = f.method
    sensitivity, target = m.product.temperature_sensitivity, m.temperature.target
    tolerance = target.tolerance.value
    if sensitivity is not None:
        swing = sensitivity.value * tolerance
        f.add(
            "temperature.swing", "Change of the viscosity over the temperature tolerance", swing, "%",
            f"± {sig(swing, 2)} %", "s · ΔT",
            (("s", ("product", "temperature_sensitivity")), ("ΔT", ("temperature", "target"))), "definition",
        )  # fmt: skip
        for limit in m.specification:
            if limit.lower is None or limit.upper is None or limit.lower.kind != "viscosity":
                continue
            half = 100 * (limit.upper.value - limit.lower.value) / (limit.upper.value + limit.lower.value)
            if half <= 0:
                continue
            share = 100 * swing / half
            f.add(
                f"temperature.share.{limit.result}", "Share of the specification that temperature may take", share, "%",
                f"{sig(share, 3)} %", "100 · s · ΔT / (100 · (U - L) / (U + L))",
                (("s · ΔT", "temperature.swing"), ("U", (*limit.path, "upper")), ("L", (*limit.path, "lower"))), "gum",
            )  # fmt: skip
    _conditioning(f)
    _cooling(f)
    _heating(f)


def _conditioning(f: _Figuring) -> None:
    m = f.method
    conditioning = m.temperature.conditioning
    if conditioning is None or conditioning.where in ("none",):
        return
    if conditioning.time is None:
        f.leave_open("conditioning.residual", "no conditioning time is given")
        return
    if m.temperature.start is None:
        f.leave_open("conditioning.residual", "the temperature the sample comes in at is not given")
        return
    level = f.value("container.level")
    if level is None:
        f.leave_open("conditioning.residual", "the level in the container is not known")
        return
    if conditioning.stirred:
        f.leave_open("conditioning.residual", "the sample is stirred, so conduction alone says nothing")
        return
    diffusivity = m.product.diffusivity
    alpha = diffusivity.value if diffusivity is not None else f.policy("diffusivity")
    offset = abs(m.temperature.start.value - m.temperature.target.value.value)
    if offset == 0:
        return
    geometry = {"radius": m.container.inside_diameter.value / 2, "height": level, "diffusivity": alpha}
    theta = heat.cylinder_residual(time=conditioning.time.value, position="top", top="insulated", **geometry)
    inputs: Inputs = (
        ("start", ("temperature", "start")),
        ("target", ("temperature", "target")),
        ("time", ("temperature", "conditioning", "time")),
        ("α", ("product", "thermal_diffusivity") if diffusivity is not None else "policy.diffusivity"),
        ("diameter", m.container.inside_diameter.text),
        ("height", "container.level"),
    )
    f.add(
        "conditioning.residual", "Temperature still missing at the slowest point", offset * theta, "K",
        f"{sig(offset * theta, 2)} K", "|T_start - T| · θ(axis, top), finite cylinder by series, top insulated",
        inputs, "conduction",
    )  # fmt: skip
    share = f.policy("conditioning_share") / 100 * m.temperature.target.tolerance.value
    if share >= offset:
        return
    need = heat.conditioning_time(residual=share / offset, position="top", top="insulated", **geometry)
    f.add(
        "conditioning.needed", "Conditioning time that leaves a quarter of the tolerance" if
        f.policy("conditioning_share") == 25 else "Conditioning time needed", need, "s", duration(need),
        "time at which |T_start - T| · θ = share · ΔT", (*inputs, ("share", "policy.conditioning_share")), "conduction",
    )  # fmt: skip


def _cooling(f: _Figuring) -> None:
    m = f.method
    conditioning = m.temperature.conditioning
    room = m.temperature.room.value if m.temperature.room is not None else f.policy("room")
    target = m.temperature.target.value.value
    if (conditioning is not None and conditioning.where == "jacket") or m.container.jacketed:
        return
    volume, density, level = m.sample.volume, m.product.density, f.value("container.level")
    if volume is None or density is None or level is None or abs(target - room) < 1:
        return
    capacity = m.product.heat_capacity.value if m.product.heat_capacity is not None else f.policy("heat_capacity")
    inside = m.container.inside_diameter.value
    area = math.pi * inside * level + math.pi * inside**2 / 4
    rate = heat.cooling_rate(
        transfer_coefficient=f.policy("surface_heat_transfer"),
        area=area,
        temperature=target,
        ambient=room,
        mass=density.value * volume.value.value,
        heat_capacity=capacity,
    )
    per_minute = abs(rate) * 60
    f.add(
        "temperature.drift", "Drift towards room temperature in the open", per_minute, "K/min",
        f"{sig(per_minute, 2)} K/min", "h · A · (T - T_room) / (m · c)",
        (
            ("h", "policy.surface_heat_transfer"),
            ("A", f"{sig(area * 1e4, 3)} cm², wall and surface"),
            ("T", ("temperature", "target")),
            ("T_room", ("temperature", "room") if m.temperature.room is not None else "policy.room"),
            ("c", ("product", "heat_capacity") if m.product.heat_capacity is not None else "policy.heat_capacity"),
        ),
        "rheology-text",
    )  # fmt: skip


def _heating(f: _Figuring) -> None:
    m = f.method
    if m.sample.volume is None or m.product.density is None:
        return
    capacity = m.product.heat_capacity.value if m.product.heat_capacity is not None else f.policy("heat_capacity")
    fastest = max(m.run, key=lambda s: s.speed.value)
    rate = heat.viscous_heating_rate(
        torque=m.instrument.spring.full_scale.value,
        angular_velocity=flow.angular_velocity(rpm=fastest.speed.value),
        heat_capacity_volumetric=m.product.density.value * capacity,
        volume=m.sample.volume.value.value,
    )
    f.add(
        "temperature.heating", "Heating by the spindle at full scale, no loss", rate * 60, "K/min",
        f"{sig(rate * 60, 2)} K/min", "T · Ω / (ρ · c · V)",
        (
            ("T", m.instrument.spring.full_scale.text),
            ("N", (*fastest.path, "speed")),
            ("ρ", ("product", "density")),
            ("V", ("sample", "volume")),
        ),
        "rheology-text",
    )  # fmt: skip


def _replicates(f: _Figuring) -> None:
    m = f.method
    repeatability, count = m.replicates.repeatability, m.replicates.count
    first = next((s for s in m.specification if s.lower and s.upper and s.lower.kind == "viscosity"), None)
    middle = None if first is None or first.lower is None or first.upper is None else (
        first.lower.value + first.upper.value
    ) / 2
    if repeatability is not None and count >= 2:
        allowed = statistics.critical_range(n=count, repeatability_sd=repeatability.value)
        f.add(
            "replicates.critical_range", "Range that replicates exceed one time in twenty", allowed, "%",
            f"{sig(allowed, 3)} % of the mean", "f(n) · s_r",
            (("s_r", ("replicates", "repeatability")), ("n", ("replicates", "count"))), "iso-5725-6",
        )  # fmt: skip
    agree = m.replicates.agree_within
    if agree is None or middle is None or first is None:
        return
    relative = agree.value if agree.kind == "percent" else 100 * agree.value / middle
    absolute = agree.value if agree.kind == "viscosity" else agree.value * middle / 100
    unit = viscosity_unit(m, first.result)
    f.add(
        "replicates.agree_percent", "Largest range allowed, of the middle of the limits", relative, "%",
        f"{sig(relative, 3)} %", "100 · range / middle", (("range", ("replicates", "agree_within")),), "definition",
    )  # fmt: skip
    f.add(
        "replicates.agree", "Largest range allowed", absolute, unit,
        in_unit(absolute, unit, 3) if agree.kind == "viscosity" else f"{agree.text} of the mean",
        "given", (("range", ("replicates", "agree_within")),), "method",
    )  # fmt: skip


def _verification(f: _Figuring) -> None:
    m = f.method
    check = m.verification
    step = None if check is None else m.step(check.at)
    if check is None or step is None:
        return
    spindle = check.spindle or m.spindle
    if check.spindle is None or check.spindle.key == m.spindle.key:
        coefficient, accuracy = f.by_key["coefficient"].value, f.by_key["accuracy"].value
    else:
        coefficient = coefficient_on(m, spindle)
        own = m.instrument.accuracy
        accuracy = own.value if own is not None else f.policy("instrument_accuracy")
        accuracy += spindle.accessory_accuracy.value if spindle.accessory_accuracy is not None else 0.0
    rpm = step.speed.value
    unit = viscosity_unit(m, check.at)
    full = flow.full_scale_viscosity(coefficient=coefficient, rpm=rpm)
    fluid = check.fluid
    named: Inputs = (("fluid", f"{fluid.key}: {fluid.viscosity.text} ± {fluid.uncertainty.text}"), ("N", (*step.path, "speed")))
    f.add(
        "verification.full_scale", "Full-scale viscosity of the check", full, unit, in_unit(full, unit), "FSR = C / N",
        (("C", f"{spindle.key}: {in_unit(coefficient, 'Pa·s·rpm')}"), ("N", (*step.path, "speed"))), spindle.source,
    )  # fmt: skip
    torque = flow.torque_percent(viscosity=fluid.viscosity.value, coefficient=coefficient, rpm=rpm)
    f.add(
        "verification.torque", "Torque of the reference fluid", torque, "%", percent(torque), "t = 100 · η / FSR",
        (*named, ("FSR", "verification.full_scale")), "definition",
    )  # fmt: skip
    combine = m.reference.policy.choices.get("verification_band", "additive")
    lower, upper = statistics.verification_band(
        reference=fluid.viscosity.value,
        accuracy_percent=accuracy,
        full_scale=full,
        reference_uncertainty=fluid.uncertainty.value,
        combine=combine,
    )
    formula = "η ± (a · FSR / 100 + U)" if combine == "additive" else "η ± √((a · FSR / 100)² + U²)"
    for which, word, value in (("lower", "Lowest", lower), ("upper", "Highest", upper)):
        f.add(
            f"verification.{which}", f"{word} reading that passes", value, unit, in_unit(value, unit), formula,
            (*named, ("a", f"{sig(accuracy, 3)} %"), ("FSR", "verification.full_scale")), "common-practice",
        )  # fmt: skip
        t = flow.torque_percent(viscosity=value, coefficient=coefficient, rpm=rpm)
        f.add(
            f"verification.torque_{which}", f"{word} torque that passes", t, "%", percent(t), "t = 100 · η / FSR",
            (("η", f"verification.{which}"), ("FSR", "verification.full_scale")), "definition",
        )  # fmt: skip
    half = (upper - lower) / 2
    tolerance = check.temperature.tolerance.value if check.temperature is not None else 0.1
    drift = fluid.sensitivity.value * tolerance / 100 * fluid.viscosity.value
    f.add(
        "verification.temperature_share", "Share of the band that the fluid's temperature may take",
        100 * drift / half, "%", f"{sig(100 * drift / half, 2)} %", "100 · s · ΔT · η / 100 / half band",
        (
            ("s", f"{fluid.sensitivity.text}, {fluid.klass}"),
            ("ΔT", ("verification", "temperature") if check.temperature is not None else "0.1 K"),
            ("half band", in_unit(half, unit, 3)),
        ),
        "gum",
    )  # fmt: skip


def _report(f: _Figuring, line: ReportLine) -> None:
    m = f.method
    key = f"report.{line.result}."
    limit = m.limit(line.result)
    if line.ratio is not None:
        _ratio(f, line, limit, key)
    if line.increment is None or limit is None or line.rounding is None:
        return
    if limit.lower is not None and limit.upper is not None and limit.lower.value > limit.upper.value:
        f.leave_open(key + "border", "the lower limit is above the upper one")
        return
    unit = line.increment.unit
    examples = rounding.border_examples(
        lower=_in_decimal(limit.lower, unit), upper=_in_decimal(limit.upper, unit), increment=Decimal(line.increment.number)
    )
    method = line.comparison or m.reference.policy.choices["comparison"]
    for example in examples:
        if example.rule != line.rounding:
            continue
        which = "lower" if limit.lower is not None and example.value < _in_decimal(limit.lower, unit) else "upper"
        rounded, whole = ("in" if passes else "out" for passes in (example.passes_rounded, example.passes_unrounded))
        this, other = (rounded, whole) if method == "rounding" else (whole, rounded)
        other_method = "absolute" if method == "rounding" else "rounding"
        f.add(
            f"{key}border_{which}", f"Worked example at the {which} limit", float(example.value), unit,
            f"{example.value:f} {unit}".strip() + f" is reported {example.rounded:f}: {this} by the {method} method"
            + ("" if this == other else f" used here ({other} by the {other_method} method)"),
            f"round to {line.increment.text}, tie {example.rule}; compared by the {method} method",
            (("limit", (*limit.path, which)), ("increment", (*line.path, "increment"))), "iso-80000-1", "astm-e29",
        )  # fmt: skip


def _in_decimal(bound: Quantity | None, unit: str) -> Decimal | None:
    """Give a limit as an exact decimal in the unit of the increment."""
    if bound is None:
        return None
    if bound.unit == unit:
        return Decimal(bound.number)
    # Viscosity units differ by powers of ten, so the shift is exact.
    scale = Decimal(str(express(1.0, unit) / express(1.0, bound.unit))).normalize()
    return Decimal(bound.number) * scale


def _ratio(f: _Figuring, line: ReportLine, limit: Limit | None, key: str) -> None:
    if line.ratio is None:
        return
    torques = [_typical_torque(f, name) for name in line.ratio]
    if torques[0] is None or torques[1] is None:
        f.leave_open(key + "uncertainty", "the torque at one of the two speeds is not known")
        return
    accuracy = f.by_key["accuracy"].value
    relative = 100 * statistics.ratio_index_uncertainty(
        accuracy_percent=accuracy, torque_low=torques[0], torque_high=torques[1]
    )
    f.add(
        key + "uncertainty", "Relative uncertainty of the ratio from the instrument", relative, "%",
        f"± {sig(relative, 2)} %", "100 · √((a / t1)² + (a / t2)²)",
        (("a", "accuracy"), ("t1", percent(torques[0])), ("t2", percent(torques[1]))), "gum",
    )  # fmt: skip
    if limit is not None and limit.lower is not None and limit.upper is not None:
        half = 100 * (limit.upper.value - limit.lower.value) / (limit.upper.value + limit.lower.value)
        f.add(
            key + "ratio", "Half width of the limits over the uncertainty of the ratio", half / relative, "",
            sig(half / relative, 3), "(100 · (U - L) / (U + L)) / u",
            (("U", (*limit.path, "upper")), ("L", (*limit.path, "lower")), ("u", key + "uncertainty")), "jcgm-106",
        )  # fmt: skip


def _typical_torque(f: _Figuring, name: str) -> float | None:
    low, high = f.value(f"run.{name}.torque_lower"), f.value(f"run.{name}.torque_upper")
    return None if low is None or high is None else (low + high) / 2


def derive(method: Method) -> Figures:
    """Compute every figure of a method. Never fails: what cannot be computed is left open with its reason."""
    f = _Figuring(method)
    _basics(f)
    for step in method.run:
        _step(f, step)
    _container(f)
    _temperature(f)
    _replicates(f)
    _verification(f)
    for line in method.report:
        _report(f, line)
    return Figures(f.by_key, f.open)
