"""What an instrument of the inventory, or a spindle on a spring, gives at each speed; no method is needed."""

from collections.abc import Sequence

from fillmark.derive.figuring import clock_time, in_unit
from fillmark.figures import Figure, Figures
from fillmark.model import Instrument, Reference, Spindle, Spring
from fillmark.physics import flow, spring
from fillmark.quantities import brief, express

SPEEDS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""Speeds (rpm) shown of an instrument that sets any."""

MOST_SPEEDS = 10


def coefficient_for(spindle: Spindle, on: Spring, reference: Reference) -> float:
    """Give the coefficient of a catalogue spindle on a spring (Pa·s·rpm)."""
    return flow.coefficient_on_spring(
        coefficient=spindle.coefficient.value,
        reference_torque=reference.springs[spindle.coefficient_spring].full_scale.value,
        torque=on.full_scale.value,
    )


def speeds_of(instrument: Instrument) -> tuple[float, ...]:
    """Give the speeds (rpm) to show of an instrument: its own, or round ones of its range; the slowest give way."""
    speeds = instrument.speeds or tuple(s for s in SPEEDS if instrument.has_speed(s))
    return tuple(sorted(speeds))[-MOST_SPEEDS:]


def around(wanted: Sequence[float], instruments: Sequence[Instrument], count: int = 5) -> tuple[float, ...]:
    """Choose so many speeds (rpm) next to the wanted ones that an instrument can be set to, rising.

    The wanted ones that can be set are among them as long as they are no more than `count`. Without instruments
    any round speed serves.
    """
    listed = sorted({s for i in instruments for s in i.speeds}) if instruments else []
    if listed and all(i.speeds for i in instruments):
        known = set(listed)
    else:
        known = {s for s in SPEEDS if not instruments or any(i.has_speed(s) for i in instruments)}
    own = {s for s in wanted if not instruments or any(i.has_speed(s) for i in instruments)}
    ladder = sorted(known | own)
    if not wanted:
        wanted = (10.0,)
    if len(ladder) <= count:
        return tuple(ladder)
    middle = 1.0
    for speed in wanted:
        middle *= speed ** (1 / len(wanted))

    def far(start: int) -> tuple[int, float]:
        window = ladder[start : start + count]
        missing = sum(s not in window for s in own)
        at = window[count // 2]
        return missing, max(at / middle, middle / at)

    start = min(range(len(ladder) - count + 1), key=far)
    return tuple(ladder[start : start + count])


def unit_for(coefficient: float, speeds: Sequence[float]) -> str:
    """Choose the unit of a row of viscosities: mPa·s where full scale stays under 1 Pa·s at half the speeds."""
    small = sum(coefficient / s < 1.0 for s in speeds)
    return "mPa·s" if 2 * small >= len(speeds) else "Pa·s"


def range_figures(
    *, key: str, spindle: Spindle, on: Spring, reference: Reference, speeds: Sequence[float],
    coefficient: float | None = None, unit: str | None = None,
) -> Figures:  # fmt: skip
    """Work out coefficient, full scale, factor, permitted window and the customary wait at each speed (rpm).

    Keys begin with `key`; those of a speed go on with it: `2.factor`. `coefficient` in Pa·s·rpm is that of the
    catalogue unless given.
    """
    found: dict[str, Figure] = {}
    own = coefficient_for(spindle, on, reference) if coefficient is None else coefficient
    shown = unit or unit_for(own, speeds)
    policy = reference.policy

    def add(name: str, title: str, value: float, in_: str, text: str, formula: str, source: str) -> None:
        found[f"{key}{name}"] = Figure(f"{key}{name}", title, value, in_, text, formula, (), (source,))

    add(
        "coefficient", "Coefficient of the spindle on this spring", own, "Pa·s·rpm", in_unit(own, "Pa·s·rpm"),
        "C = C_ref · T / T_ref" if coefficient is None else "as the method gives it", spindle.source,
    )  # fmt: skip
    for rpm in speeds:
        at = f"{rpm:g}."
        full = flow.full_scale_viscosity(coefficient=own, rpm=rpm)
        factor = flow.factor(coefficient=own, rpm=rpm)
        wait = spring.time_for_revolutions(rpm=rpm, revolutions=policy["revolutions"])
        floor, ceiling = (full * policy[f"torque_{end}"] / 100 for end in ("floor", "ceiling"))
        add(
            f"{at}full_scale",
            "Full-scale viscosity",
            full,
            shown,
            in_unit(full, shown),
            "FSR = C / N",
            spindle.source,
        )
        add(f"{at}number", "Full-scale viscosity, without its unit", full, shown,
            brief(express(full, shown), 3), "FSR = C / N", spindle.source)  # fmt: skip
        add(f"{at}factor", "Factor: viscosity for each percent of torque", factor, f"{shown}/%",
            f"{in_unit(factor, shown, 5)} per %", "f = C / (100 · N)", "definition")  # fmt: skip
        add(f"{at}lowest", "Viscosity at the torque floor", floor, shown, in_unit(floor, shown),
            "floor · FSR / 100", "common-practice")  # fmt: skip
        add(f"{at}highest", "Viscosity at the torque ceiling", ceiling, shown, in_unit(ceiling, shown),
            "ceiling · FSR / 100", "definition")  # fmt: skip
        add(f"{at}wait", f"Time for {brief(policy['revolutions'], 2)} revolutions", wait, "s", clock_time(wait),
            "60 · n / N", policy.sources["revolutions"])  # fmt: skip
    return Figures(found, {})


def hangs_on(spindle: Spindle, instrument: Instrument) -> bool:
    """Whether a spindle may go on an instrument: by its springs, and a bar by the stand that moves it."""
    return instrument.spring in spindle.springs and (spindle.kind != "bar" or instrument.stand == "helical")


def card_figures(reference: Reference, instrument: Instrument) -> Figures:
    """Work out the ranges of every spindle of the inventory that goes on an instrument; keys begin with its name."""
    on, speeds = reference.springs[instrument.spring], speeds_of(instrument)
    every: dict[str, Figure] = {}
    for spindle in reference.spindles.values():
        if hangs_on(spindle, instrument):
            every |= range_figures(
                key=f"{spindle.key}.", spindle=spindle, on=on, reference=reference, speeds=speeds
            )
    return Figures(every, {})
