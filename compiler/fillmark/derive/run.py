"""What follows from one speed of the run: range, torque, clock, flow and uncertainty."""

import math

from fillmark.derive.figuring import Figuring, Inputs, clock_time, duration, in_unit, percent, viscosity_unit
from fillmark.diagnostics import Path
from fillmark.model import Limit, Method, ReportLine, Step
from fillmark.physics import flow, spring, statistics
from fillmark.quantities import Quantity, brief, sig


def expected_limits(m: Method, step: Step) -> tuple[float | None, float | None, Path]:
    """Find the viscosities between which a conforming batch reads at a step (Pa·s), and where they stand.

    A step judged only through a ratio takes its limits from the ratio times the limits of the other step.
    """
    limit = m.limit(step.name)
    if limit is not None:
        return _value(limit.lower), _value(limit.upper), limit.path
    through = _through_ratio(m, step)
    if through is None:
        return None, None, step.path
    ratio, other, first = through
    bounds = (_value(ratio.lower), _value(ratio.upper), _value(other.lower), _value(other.upper))
    r_low, r_high, o_low, o_high = bounds
    if first:
        return _times(r_low, o_low), _times(r_high, o_high), ratio.path
    return _over(o_low, r_high), _over(o_high, r_low), ratio.path


def _through_ratio(m: Method, step: Step) -> tuple[Limit, Limit, bool] | None:
    """Find the limits of a ratio with this step and of its other step, and whether this step stands on top."""
    for line in m.report:
        ratio = m.limit(line.result) if line.ratio else None
        if ratio is None or line.ratio is None or step.name not in line.ratio or upside_down(m, line):
            continue
        first = line.ratio[0] == step.name
        other = m.limit(line.ratio[1 if first else 0])
        if other is not None:
            return ratio, other, first
    return None


def _viscosity_at(m: Method, step: Step, which: str) -> tuple[str, Inputs]:
    """Say what η is at a limit of a step: the clause that follows a formula, and its inputs."""
    limit = m.limit(step.name)
    through = None if limit is not None else _through_ratio(m, step)
    if through is None:
        path = step.path if limit is None else limit.path
        return "", (("η", (*path, which)),)
    ratio, other, first = through
    if first:
        return ", η = r · η_other", (("r", (*ratio.path, which)), ("η_other", (*other.path, which)))
    opposite = "upper" if which == "lower" else "lower"
    return ", η = η_other / r", (("r", (*ratio.path, opposite)), ("η_other", (*other.path, which)))


def upside_down(m: Method, line: ReportLine) -> bool:
    """Say whether a ratio that must lie above 1 is written with the faster step on top.

    None of the behaviours a method can name grows thicker with speed, so such limits cannot be met.
    """
    steps = [m.step(name) for name in line.ratio or ()]
    limit = m.limit(line.result)
    if len(steps) != 2 or steps[0] is None or steps[1] is None or limit is None or limit.lower is None:
        return False
    return limit.lower.value > 1 and steps[0].speed.value > steps[1].speed.value


def _value(quantity: Quantity | None) -> float | None:
    return None if quantity is None else quantity.value


def _times(a: float | None, b: float | None) -> float | None:
    return None if a is None or b is None else a * b


def _over(a: float | None, b: float | None) -> float | None:
    return None if a is None or not b else a / b


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


def times_taken(f: Figuring) -> None:
    """Add up the time at the instrument, and the share of the pot life that is gone at the last reading."""
    m = f.method
    run = sum(last_moment(s) for s in m.run)
    for shear in (s.preshear for s in m.run if s.preshear is not None):
        run += shear.time.value + (shear.rest.value if shear.rest is not None else 0.0)
    rest = m.sample.rest.value if m.sample.rest is not None else 0.0
    loadings = 1 if m.replicates.each == "re-read" else m.replicates.count
    total = rest * loadings + run * m.replicates.count
    f.add(
        "bench_time", "Time at the instrument for one result, conditioning not counted", total, "s", duration(total),
        "n · (rest + run)" if loadings > 1 or m.replicates.count == 1 else "rest + n · run",
        (
            ("n", ("replicates", "count")),
            ("rest", ("sample", "rest") if m.sample.rest is not None else "none, taken as 0 s"),
            ("run", f"to the end of the last reading: {brief(run, 6)} s"),
        ),
        "definition",
    )  # fmt: skip
    pot_life = m.product.pot_life
    if pot_life is None:
        return
    conditioning = m.temperature.conditioning
    before, by = rest, "rest"
    if m.container.kind != "pack":  # in its pack as sold a product has not begun to cure
        if conditioning is not None and conditioning.time is not None:
            before, by = rest + conditioning.time.value, "rest and conditioning"
        age = m.sample.age
        if age is not None and age.value.value + age.tolerance.value > before:
            before, by = age.value.value + age.tolerance.value, "highest age"
    share = 100 * (before + run) / pot_life.value
    f.add(
        "pot_life_used", "Share of the pot life gone at the last reading", share, "%", f"{sig(share, 2)} %",
        "100 · (time before the run + run) / pot life",
        (("time before the run", f"{by}: {brief(before, 6)} s"), ("run", f"{brief(run, 6)} s"),
         ("pot life", ("product", "pot_life"))), "definition",
    )  # fmt: skip


def step_figures(f: Figuring, step: Step) -> None:
    """Work out all figures of one speed of the run."""
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
    _turning(f, step, key)
    _flow_regime(f, step, key)
    _uncertainty(f, step, key, unit, full, accuracy)


def _torque(f: Figuring, step: Step, key: str, coefficient: float, accuracy: float) -> None:
    m, rpm = f.method, step.speed.value
    lower, upper, _ = expected_limits(m, step)
    speed: tuple[str, Path | str] = ("N", (*step.path, "speed"))
    sensitivity = m.product.temperature_sensitivity
    tolerance = m.temperature.target.tolerance.value
    for which, limit in (("lower", lower), ("upper", upper)):
        if limit is None:
            f.leave_open(f"{key}torque_{which}", f"step {step.name} has no {which} limit")
            continue
        torque = flow.torque_percent(viscosity=limit, coefficient=coefficient, rpm=rpm)
        clause, viscosity = _viscosity_at(m, step, which)
        f.add(
            f"{key}torque_{which}", f"Torque at the {which} limit", torque, "%", percent(torque),
            f"t = 100 · η · N / C{clause}", (*viscosity, speed, ("C", "coefficient")), "definition",
        )  # fmt: skip
        worst = (flow.highest_torque if which == "upper" else flow.lowest_torque)(
            torque_percent=torque,
            sensitivity_percent_per_k=_value(sensitivity) or 0.0,
            temperature_tolerance=tolerance,
            accuracy_percent=accuracy,
        )
        sign = "+" if which == "upper" else "-"
        f.add(
            f"{key}torque_{which}_worst", f"Torque at the {which} limit, worst case", worst, "%", percent(worst),
            f"t · (1 {sign} s · ΔT / 100) {sign} a",
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


def _clock(f: Figuring, step: Step, key: str) -> None:
    rpm = step.speed.value
    speed: tuple[str, Path | str] = ("N", (*step.path, "speed"))
    five = f.policy("revolutions")
    wait = spring.time_for_revolutions(rpm=rpm, revolutions=five)
    f.add(
        key + "customary_wait", f"Time for {brief(five, 2)} revolutions", wait, "s", clock_time(wait), "60 · n / N",
        (("n", "policy.revolutions"), speed), f.method.reference.policy.sources["revolutions"],
    )  # fmt: skip
    at = read_time(step)
    if at is not None:
        by = "after" if step.read.after is not None else "revolutions"
        f.add(
            key + "read_at", "Moment of reading, from motor start", at, "s", clock_time(at),
            "given" if by == "after" else "60 · n / N",
            (("t" if by == "after" else "n", (*step.path, "read", by)), *(() if by == "after" else (speed,))), "method",
        )  # fmt: skip
        turns = spring.revolutions(rpm=rpm, time=at)
        f.add(
            key + "revolutions", "Revolutions at the reading", turns, "rev", f"{brief(turns, 3)} revolutions",
            "N · t / 60", (speed, ("t", key + "read_at")), "definition",
        )  # fmt: skip
    else:
        f.leave_open(key + "read_at", f"step {step.name} is read once steady, not at a fixed time")
    end = last_moment(step)
    read, average = step.read, step.read.average
    latest: Path | str = "not limited, taken as 0 s"
    if at is not None:
        latest = key + "read_at"
    elif read.steady_at_most is not None:
        latest = (*read.path, "steady", "at_most")
    f.add(
        key + "read_end", "End of the reading, from motor start", end, "s", clock_time(end),
        "moment of reading + averaging window",
        (
            ("moment of reading", latest),
            ("averaging window", (*read.path, "average") if average is not None else "none, taken as 0 s"),
        ),
        "method",
    )  # fmt: skip
    torque = f.value(key + "torque_upper")
    if torque is None:
        f.leave_open(key + "wind_up", f"step {step.name} has no upper limit to wind up to")
        return
    # Further than full scale the spring does not turn.
    ceiling = f.policy("torque_ceiling")
    turned: Path | str = key + "torque_upper" if torque <= ceiling else "policy.torque_ceiling"
    torque = min(torque, ceiling)
    angle = f.by_key["full_scale_angle"].value
    residual = f.policy("wind_up_residual")
    need = spring.wind_up_time(
        torque_percent=torque, full_scale_angle_deg=angle, rpm=rpm, residual=residual / 100
    )
    f.add(
        key + "wind_up", f"Spring wind-up at the upper limit, to within {brief(residual, 2)} %", need, "s",
        duration(need), "ln(100 / residual) · (t / 100) · θ / (6 · N), t at most 100 %",
        (("t", turned), ("θ", "full_scale_angle"), speed, ("residual", "policy.wind_up_residual")),
        "spring-settling",
    )  # fmt: skip
    if at is not None:
        for readout in ("dial", "digital"):
            degrees = angle if readout == f.method.instrument.readout else f.policy(f"angle_{readout}")
            reached = spring.fraction_reached(
                time=at, torque_percent=torque, full_scale_angle_deg=degrees, rpm=rpm
            )
            here = readout == f.method.instrument.readout
            turn = "full_scale_angle" if here else f"policy.angle_{readout}"
            name = "fraction" if here else "fraction_other_readout"
            f.add(
                key + name, f"Share of the torque reached at the reading, {readout} readout of {sig(degrees, 3)}°",
                100 * reached, "%", percent(100 * reached), "100 · (1 - exp(-time / τ)), τ = (t / 100) · θ / (6 · N)",
                (("time", key + "read_at"), ("t", turned), ("θ", turn), speed),
                "spring-settling",
            )  # fmt: skip
            other = spring.wind_up_time(
                torque_percent=torque, full_scale_angle_deg=degrees, rpm=rpm, residual=residual / 100
            )
            if not here:
                f.add(
                    key + "wind_up_other_readout", f"Spring wind-up on a {readout} readout of {sig(degrees, 3)}°",
                    other, "s", duration(other), "ln(100 / residual) · (t / 100) · θ / (6 · N), t at most 100 %",
                    (("t", turned), ("θ", turn), speed,
                     ("residual", "policy.wind_up_residual")), "spring-settling",
                )  # fmt: skip


def _turning(f: Figuring, step: Step, key: str) -> None:
    """Follow the turns of an averaging window and the torque of a preshear."""
    rpm = step.speed.value
    speed: tuple[str, Path | str] = ("N", (*step.path, "speed"))
    if step.read.average is not None:
        turns = spring.revolutions(rpm=rpm, time=step.read.average.value)
        f.add(
            key + "average_turns", "Revolutions in the averaging window", turns, "rev",
            f"{sig(turns, 3)} revolutions", "N · t / 60", (speed, ("t", (*step.path, "read", "average"))), "definition",
        )  # fmt: skip
    torque = f.value(key + "torque_upper")
    if step.preshear is not None and torque is not None:
        most = torque * step.preshear.speed.value / rpm
        f.add(
            key + "preshear_torque", "Torque of the preshear at the upper limit, at most", most, "%", percent(most),
            "t · N_p / N, for a viscosity that does not fall with speed",
            (("t", key + "torque_upper"), ("N_p", (*step.preshear.path, "speed")), speed), "definition",
        )  # fmt: skip


def _flow_regime(f: Figuring, step: Step, key: str) -> None:
    m, rpm = f.method, step.speed.value
    spindle = m.spindle
    speed: tuple[str, Path | str] = ("N", (*step.path, "speed"))
    lower, _, _ = expected_limits(m, step)
    density = m.product.density
    if spindle.kind in ("chamber-cylinder", "coaxial-cylinder") and spindle.diameter is not None:
        inner, outer = spindle.diameter.value / 2, m.container.inside_diameter.value / 2
        if outer > inner:
            rate = flow.coaxial_shear_rate(rpm=rpm, inner_radius=inner, outer_radius=outer)
            f.add(
                key + "shear_rate", "Shear rate at the spindle", rate, "1/s", f"{sig(rate, 3)} 1/s",
                "2 · Ω · Ro² / (Ro² - Ri²), Ω = 2 · π · N / 60",
                (
                    speed,
                    ("Ri", f"{spindle.key}: half of {spindle.diameter.text}"),
                    ("Ro", f"{m.container.key}: half of {m.container.inside_diameter.text}"),
                ),
                "coaxial-formula",
            )  # fmt: skip
            if density is not None:
                least = flow.taylor_minimum_viscosity(
                    density=density.value, rpm=rpm, inner_radius=inner, outer_radius=outer
                )
                unit = viscosity_unit(m, step.name)
                f.add(
                    key + "vortex_viscosity", "Viscosity below which vortices set in", least, unit,
                    in_unit(least, unit, 3),
                    "η = ρ · Ω · Ri · (Ro - Ri) / Re_c, Ω = 2 · π · N / 60, Re_c of the radii by stability theory",
                    (("ρ", ("product", "density")), speed, ("Ri", f"{spindle.key}: half of {spindle.diameter.text}"),
                     ("Ro", f"{m.container.key}: half of {m.container.inside_diameter.text}")), "taylor-onset",
                )  # fmt: skip
            else:
                f.leave_open(key + "vortex_viscosity", "the density is not given")
    elif spindle.kind == "cone" and spindle.cone_angle is not None:
        rate = flow.cone_shear_rate(rpm=rpm, angle_rad=math.radians(spindle.cone_angle.value))
        f.add(
            key + "shear_rate", "Shear rate in the gap", rate, "1/s", f"{sig(rate, 3)} 1/s",
            "Ω / tan(α), Ω = 2 · π · N / 60",
            (speed, ("α", f"{spindle.key}: {spindle.cone_angle.text}")), "cone-formula",
        )  # fmt: skip
    elif spindle.diameter is not None and lower is not None:
        if density is None:
            f.leave_open(key + "reynolds", "the density is not given")
            return
        number = flow.disc_reynolds(
            density=density.value, rpm=rpm, radius=spindle.diameter.value / 2, viscosity=lower
        )
        clause, at_lower = _viscosity_at(m, step, "lower")
        f.add(
            key + "reynolds", "Reynolds number at the lower limit", number, "", sig(number, 3),
            f"Re = ρ · Ω · R² / η, Ω = 2 · π · N / 60{clause}",
            (("ρ", ("product", "density")), speed, ("R", f"{spindle.key}: half of {spindle.diameter.text}"), *at_lower),
            "rheology-text",
        )  # fmt: skip


def _uncertainty(f: Figuring, step: Step, key: str, unit: str, full: float, accuracy: float) -> None:
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
        repeatability_percent=repeatability.value,
        replicates=m.replicates.count,
    )
    middle_of: Inputs = (("U", (*where, "upper")), ("L", (*where, "lower")))
    f.add(
        key + "u_instrument", "Standard uncertainty from the instrument", budget.instrument, unit,
        in_unit(budget.instrument, unit, 3), "a · FSR / 100 / √3", (("a · FSR / 100", key + "tolerance"),), "gum",
    )  # fmt: skip
    f.add(
        key + "u_temperature", "Standard uncertainty from temperature", budget.temperature, unit,
        in_unit(budget.temperature, unit, 3), "η · s · ΔT / 100 / √3, η = (U + L) / 2",
        (*middle_of, ("s", ("product", "temperature_sensitivity")), ("ΔT", ("temperature", "target"))), "gum",
    )  # fmt: skip
    f.add(
        key + "u_repeatability", "Standard uncertainty from repeatability", budget.repeatability, unit,
        in_unit(budget.repeatability, unit, 3), "η · s_r / 100 / √n, η = (U + L) / 2",
        (*middle_of, ("s_r", ("replicates", "repeatability")), ("n", ("replicates", "count"))), "gum",
    )  # fmt: skip
    names = {"u_i": "u_instrument", "u_T": "u_temperature", "u_r": "u_repeatability"}
    f.add(
        key + "uncertainty", "Expanded uncertainty of the result, k = 2", budget.expanded, unit,
        f"± {in_unit(budget.expanded, unit, 3)}", "U = 2 · √(u_i² + u_T² + u_r²)",
        tuple((symbol, key + name) for symbol, name in names.items()), "gum",
    )  # fmt: skip
    ratio = statistics.tolerance_ratio(half_width=half, expanded=budget.expanded)
    f.add(
        key + "uncertainty_ratio", "Half width of the specification over the expanded uncertainty", ratio, "",
        sig(ratio, 3), "((U - L) / 2) / U95",
        (("U", (*where, "upper")), ("L", (*where, "lower")), ("U95", key + "uncertainty")), "jcgm-106",
    )  # fmt: skip
    if limit.decision_rule == "guarded":
        low, high = statistics.guarded_limits(
            lower=limit.lower.value, upper=limit.upper.value, guard_band=budget.expanded
        )
        for which, value, sign in (("lower", low, "+"), ("upper", high, "-")):
            f.add(
                f"{key}guarded_{which}", f"Guarded {which} limit", value, unit, in_unit(value, unit),
                f"limit {sign} U95", (("limit", (*where, which)), ("U95", key + "uncertainty")), "jcgm-106",
            )  # fmt: skip
