"""What follows from the temperature: its share, conditioning, drift and heating."""

import math

from fillmark.derive.figuring import Figuring, Inputs, duration, millimetres
from fillmark.physics import flow, heat
from fillmark.quantities import sig


def temperature(f: Figuring) -> None:
    """Work out the share of temperature, conditioning, drift and heating."""
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


def _conditioning(f: Figuring) -> None:
    m = f.method
    conditioning = m.temperature.conditioning
    if conditioning is None or conditioning.where == "none":
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
    if m.spindle.kind == "coaxial-cylinder" and m.spindle.diameter is not None:
        _in_the_gap(f, offset, conditioning.time.value, alpha, m.spindle.diameter.value)
        return
    geometry = {"radius": m.container.inside_diameter.value / 2, "height": level, "diffusivity": alpha}
    theta = heat.cylinder_residual(time=conditioning.time.value, position="top", top="insulated", **geometry)
    inputs: Inputs = (
        ("T_start", ("temperature", "start")),
        ("T", ("temperature", "target")),
        ("time", ("temperature", "conditioning", "time")),
        ("α", ("product", "thermal_diffusivity") if diffusivity is not None else "policy.diffusivity"),
        ("diameter", f"{m.container.key}: inside diameter {m.container.inside_diameter.text}"),
        ("height", "container.level"),
    )
    f.add(
        "conditioning.residual", "Temperature still missing at the slowest point", offset * theta, "K",
        _kelvin(offset * theta), "|T_start - T| · θ(axis, top), finite cylinder by series, top insulated",
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


def _kelvin(value: float) -> str:
    """Write a temperature difference; below what any bench can tell only the bound."""
    return f"{sig(value, 2)} K" if value >= 0.001 else "under 0.001 K"


def _in_the_gap(f: Figuring, offset: float, time: float, diffusivity: float, diameter: float) -> None:
    """Judge conditioning where the cup is filled round its spindle, so that heat has only the gap to cross."""
    m = f.method
    gap = (m.container.inside_diameter.value - diameter) / 2
    if gap <= 0:
        f.leave_open("conditioning.residual", "the spindle leaves no gap in the container")
        return
    theta = heat.narrow_gap_residual(time=time, gap=gap, diffusivity=diffusivity)
    own = m.product.diffusivity is not None
    f.add(
        "conditioning.residual", "Temperature still missing at the spindle", offset * theta, "K",
        _kelvin(offset * theta), "|T_start - T| · θ(spindle), layer by series, spindle without heat of its own",
        (
            ("T_start", ("temperature", "start")),
            ("T", ("temperature", "target")),
            ("time", ("temperature", "conditioning", "time")),
            ("α", ("product", "thermal_diffusivity") if own else "policy.diffusivity"),
            ("gap", millimetres(gap)),
        ),
        "conduction",
    )  # fmt: skip


def _cooling(f: Figuring) -> None:
    m = f.method
    conditioning = m.temperature.conditioning
    room = m.temperature.room.value if m.temperature.room is not None else f.policy("room")
    target = m.temperature.target.value.value
    if (conditioning is not None and conditioning.where == "jacket") or m.container.jacketed:
        return
    volume, density, level = m.sample.volume, m.product.density, f.value("container.level")
    if volume is None or density is None or level is None or abs(target - room) < 1:
        return
    capacity = (
        m.product.heat_capacity.value if m.product.heat_capacity is not None else f.policy("heat_capacity")
    )
    inside = m.container.inside_diameter.value
    # The wall up to the level, and the open surface.
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
        f"{sig(per_minute, 2)} K/min", "60 · h · (π · d · H + π · d² / 4) · |T - T_room| / (m · c)",
        (
            ("h", "policy.surface_heat_transfer"),
            ("d", f"{m.container.key}: inside diameter {m.container.inside_diameter.text}"),
            ("H", "container.level"),
            ("m", "sample.mass"),
            ("T", ("temperature", "target")),
            ("T_room", ("temperature", "room") if m.temperature.room is not None else "policy.room"),
            ("c", ("product", "heat_capacity") if m.product.heat_capacity is not None else "policy.heat_capacity"),
        ),
        "rheology-text",
    )  # fmt: skip


def _heating(f: Figuring) -> None:
    m = f.method
    if m.sample.volume is None or m.product.density is None:
        return
    capacity = (
        m.product.heat_capacity.value if m.product.heat_capacity is not None else f.policy("heat_capacity")
    )
    fastest = max(m.run, key=lambda s: s.speed.value)
    rate = heat.viscous_heating_rate(
        torque=m.instrument.spring.full_scale.value,
        angular_velocity=flow.angular_velocity(rpm=fastest.speed.value),
        heat_capacity_volumetric=m.product.density.value * capacity,
        volume=m.sample.volume.value.value,
    )
    f.add(
        "temperature.heating", "Heating by the spindle at full scale, no loss", rate * 60, "K/min",
        f"{sig(rate * 60, 2)} K/min", "60 · T · Ω / (ρ · c · V), Ω = 2 · π · N / 60",
        (
            ("T", f"spring {m.instrument.spring.key}: {m.instrument.spring.full_scale.text}"),
            ("N", (*fastest.path, "speed")),
            ("ρ", ("product", "density")),
            ("c", ("product", "heat_capacity") if m.product.heat_capacity is not None else "policy.heat_capacity"),
            ("V", ("sample", "volume")),
        ),
        "rheology-text",
    )  # fmt: skip
