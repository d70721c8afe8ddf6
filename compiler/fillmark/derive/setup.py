"""What follows from the instrument and the spindle alone."""

from fillmark.derive.figuring import Figuring, in_unit
from fillmark.diagnostics import Path
from fillmark.model import Method, Spindle
from fillmark.physics import flow
from fillmark.quantities import brief, fixed


def coefficient_on(m: Method, spindle: Spindle) -> float:
    """Give a catalogue spindle's coefficient on the spring of the method (Pa·s·rpm)."""
    return flow.coefficient_on_spring(
        coefficient=spindle.coefficient.value,
        reference_torque=m.reference.springs[spindle.coefficient_spring].full_scale.value,
        torque=m.instrument.spring.full_scale.value,
    )


def instrument_accuracy(m: Method) -> float:
    """Give the accuracy of the instrument alone (% of full scale): the method's, else the site's."""
    own = m.instrument.accuracy
    return own.value if own is not None else m.reference.policy["instrument_accuracy"]


def bottom_clearance(m: Method) -> float:
    """Give the room asked for below what hangs lowest (m): the method's, else the site's."""
    asked = m.immersion.bottom_clearance
    return asked.value if asked is not None else m.reference.policy["bottom_clearance"]


def setup(f: Figuring) -> None:
    """Work out accuracy, angle, readout step, coefficient and temperature window."""
    m, policy = f.method, f.method.reference.policy
    own = m.instrument.accuracy
    accessory = m.spindle.accessory_accuracy
    total = instrument_accuracy(m) + (accessory.value if accessory is not None else 0.0)
    inputs: list[tuple[str, Path | str]] = [
        (
            "a of the instrument",
            ("instrument", "accuracy") if own is not None else "policy.instrument_accuracy",
        )
    ]
    geometry = (
        f"{m.spindle.key}: {accessory.text}" if accessory is not None else "none of its own, taken as 0 %"
    )
    inputs.append(("a of the geometry", geometry))
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
    reference = m.reference.springs[m.spindle.coefficient_spring].full_scale.text
    if m.coefficient is not None:
        f.add(
            "coefficient", "Coefficient of the spindle on this spring", m.coefficient.full_scale.value,
            "Pa·s·rpm", m.coefficient.full_scale.text, "found by the laboratory",
            (("C", ("coefficient", "full_scale")),), "method",
        )  # fmt: skip
        ratio = m.coefficient.full_scale.value / coefficient_on(m, m.spindle)
        f.add(
            "coefficient.ratio", "Own coefficient over that of the catalogue", ratio, "", brief(ratio, 3),
            "C_own / (C_ref · T / T_ref)",
            (
                ("C_own", ("coefficient", "full_scale")),
                ("C_ref", f"{m.spindle.key}: {m.spindle.coefficient.text} on spring {m.spindle.coefficient_spring}"),
                ("T", f"spring {m.instrument.spring.key}: {m.instrument.spring.full_scale.text}"),
                ("T_ref", f"spring {m.spindle.coefficient_spring}: {reference}"),
            ),
            m.spindle.source,
        )  # fmt: skip
    else:
        value = coefficient_on(m, m.spindle)
        f.add(
            "coefficient", "Coefficient of the spindle on this spring", value, "Pa·s·rpm",
            in_unit(value, "Pa·s·rpm"), "C = C_ref · T / T_ref",
            (
                ("C_ref", f"{m.spindle.key}: {m.spindle.coefficient.text} on spring {m.spindle.coefficient_spring}"),
                ("T", f"spring {m.instrument.spring.key}: {m.instrument.spring.full_scale.text}"),
                ("T_ref", f"spring {m.spindle.coefficient_spring}: {reference}"),
            ),
            m.spindle.source,
        )  # fmt: skip
    target = m.temperature.target
    low, high = target.value.value - target.tolerance.value, target.value.value + target.tolerance.value
    decimals = max(target.value.decimals, target.tolerance.decimals)
    for key, title, value, sign in (("lower", "Lowest", low, "-"), ("upper", "Highest", high, "+")):
        f.add(
            f"temperature.{key}", f"{title} temperature allowed", value, "°C", f"{fixed(value, decimals)} °C",
            f"T {sign} ΔT", (("T", ("temperature", "target")), ("ΔT", ("temperature", "target"))), "method",
        )  # fmt: skip
