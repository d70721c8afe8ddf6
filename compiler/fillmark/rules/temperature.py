"""Temperature: the sample is as warm as the method says, and that does not decide the verdict."""

import math
from collections.abc import Iterator

from fillmark.diagnostics import Path, Related
from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.quantities import brief, express, fixed, sig
from fillmark.rules import ADVICE, ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule

_CUPS = ("chamber", "adapter", "plate")
_GEL = """\
instrument: {spring: R, readout: digital, coupling: magnetic, suspension: ball-bearing, stand: fine-height}
spindle: chamber-11.8
guard: not-applicable
container: chamber-19

sample:
  volume: 8.0 mL ± 0.2 mL
  mass: 8.1 g ± 0.2 g
  age: 24 h ± 4 h
  preparation: |
    Spin at 500 g for 3 min; fill the chamber by weight from a wide syringe.
  bubbles: Spinning takes the air out; no bubble may be seen.
  rest: 5 min
  supplied: 100 mL
immersion: {to: above-top, depth: 4 mm, tolerance: 1 mm, bottom_clearance: 4 mm}

temperature:
  target: 25.0 °C ± 0.1 °C
  measured: chamber-sensor
  start: 22 °C
  thermometer: {resolution: 0.01 K, uncertainty: 0.03 K}
  conditioning: {where: jacket, time: 15 min, covered: true}

run:
  - {name: viscosity_5, speed: 5 rpm, read: {after: 60 s, revolutions: 5 rev}, shear_rate: 1.70 1/s}"""
"""The part of the gel method that a faster run on a strong spring changes."""


def _room(m: Method) -> float:
    return m.temperature.room.value if m.temperature.room is not None else m.reference.policy["room"]


def _room_text(m: Method) -> str:
    return (
        m.temperature.room.text
        if m.temperature.room is not None
        else f"{m.reference.policy.texts['room']} (policy)"
    )


def _floored(kelvin: float) -> str:
    """Write what a thermometer may be off by with two digits at the most, never more than it is."""
    places = 2 if kelvin >= 0.1 else 3
    return brief(math.floor(kelvin * 10**places + 1e-9) / 10**places, 3)


def _minutes(seconds: float) -> str:
    """Write a time as something to set a clock to: whole seconds, or minutes rounded up."""
    return f"{math.floor(seconds)} s" if seconds < 120 else f"{math.floor(seconds / 60)} min"


def _worth(m: Method, kelvin: float) -> str:
    """Say what a temperature error is worth in viscosity, where the sensitivity is known."""
    sensitivity = m.product.temperature_sensitivity
    return f" by up to {sig(sensitivity.value * kelvin, 2)} %" if sensitivity is not None else ""


@rule(
    "TEM01",
    ERROR,
    sources=("gum", "project-decision"),
    example=Example(
        "MCW-VIS-014",
        "temperature_sensitivity: 2.0 %/K",
        "temperature_sensitivity: 10.1 %/K",
        at="target: 23.0 °C",
    ),
)
def temperature_decides_the_verdict(m: Method, f: Figures) -> Iterator[Outcome]:
    """The temperature tolerance alone takes up a large part of the specification.

    At its warm edge a good batch reads low and may fail at the lower limit; at its cold edge it reads high.

    It may be set aside where the tolerance is never used up and records show it.
    """
    shares = [
        (f.value(f"temperature.share.{limit.result}") or 0.0, limit)
        for limit in m.specification
        if f"temperature.share.{limit.result}" in f
    ]
    if not shares:
        return
    policy = m.reference.policy
    share, limit = max(shares, key=lambda pair: pair[0])
    if share <= policy["temperature_share_warning"] * (1 + 1e-9):
        return
    hard = share > policy["temperature_share_error"] * (1 + 1e-9)
    bound = policy["temperature_share_error" if hard else "temperature_share_warning"]
    target = m.temperature.target
    loosest = target.tolerance.value * policy["temperature_share_warning"] / share
    step = 0.05 if loosest < 0.5 else 0.1
    held = math.floor(loosest / step + 1e-9) * step if loosest >= step else loosest
    seen = held * policy["thermometer_resolution_share"] / 100
    resolution = m.temperature.thermometer_resolution
    coarse = resolution is not None and resolution.value > seen * (1 + 1e-9)
    finer = f", with a thermometer that steps by {sig(seen, 2)} K or less" if coarse else ""
    yield Finding(
        ("temperature", "target"),
        f"± {target.tolerance.text} change the viscosity by {f.text('temperature.swing')}; that is "
        f"{sig(share, 3)} % of the half width of {limit.result}, against a limit of {sig(bound, 2)} %. Warm "
        "reads low and cold reads high, so that the temperature may decide.",
        (
            f"Hold ± {sig(held, 2)} K{'' if loosest >= step else ', in a jacket'}{finer}.",
            (f"Widen the limits of {limit.result} to {sig(share / policy['temperature_share_warning'], 2)} "
            "times their width."),
        ),
        (
            Related("the sensitivity", ("product", "temperature_sensitivity")),
            Related("the limits", limit.path),
        ),
        ERROR if hard else WARNING,
    )  # fmt: skip


@rule(
    "TEM02",
    WARNING,
    sources=("rheology-text", "from-memory"),
    example=Example("MCW-VIS-014", "  temperature_sensitivity: 2.0 %/K\n", "", at="name: Hearthstone"),
)
def sensitivity_not_given(m: Method, f: Figures) -> Iterator[Outcome]:
    """Nothing says how much the viscosity falls with each kelvin.

    Without it nobody can tell whether the tolerance is tight enough: warm reads low, cold high, by one to ten
    per cent a kelvin depending on the product.

    It may be set aside for a product of which only its order of magnitude matters.
    """
    if m.product.temperature_sensitivity is not None:
        return
    target = m.temperature.target
    tolerance = target.tolerance.value
    pair = f"{fixed(target.value.value - 2, 0)} °C and {fixed(target.value.value + 2, 0)} °C"
    yield Finding(
        ("product",),
        f"What ± {target.tolerance.text} are worth cannot be said: ± {sig(tolerance, 2)} to "
        f"{sig(10 * tolerance, 2)} % for 1 to 10 %/K (from memory). Warm reads low, cold high.",
        (
            f"Measure at {pair} and write 100 · ln(η1/η2)/4 as temperature_sensitivity.",
            "Write the usual value of the product's class, and say in the notes where it is from.",
        ),
        (Related("the tolerance", ("temperature", "target")),),
    )


@rule(
    "TEM03",
    ERROR,
    sources=("common-practice", "usp-912"),
    example=Example("MCW-VIS-014", "measured: in-sample", "measured: bath"),
)
def bath_taken_for_the_sample(m: Method, f: Figures) -> Iterator[Outcome]:
    """The temperature of the bath is written down as that of the sample.

    The bath is right within minutes, the middle of the beaker after hours. A sample that is still warm reads
    low, one still cold reads high, and the record says that all was well.

    It may be set aside where a study shows how long the sample takes and the time is kept.
    """
    if m.temperature.measured != "bath" or m.container.jacketed:
        return
    residual = f.value("conditioning.residual")
    size = (
        f"by computation its core is still {f.text('conditioning.residual')} off"
        if residual is not None and residual >= 0.001
        else "by computation its core has come near, and nothing shows that it has"
        if residual is not None
        else "its core lags behind"
    )
    conditioning = m.temperature.conditioning
    time = conditioning.time if conditioning is not None else None
    after = f" after {time.text}" if time is not None else ""
    pack = m.container.kind == "pack"
    yield Finding(
        ("temperature", "measured"),
        f"The bath is measured, and the sample stands in {m.container.label}, "
        f"{m.container.inside_diameter.text} wide: {size}{after}. Still warm it reads low, still cold high.",
        (
            "Write measured: second-container."
            if pack
            else "Write measured: in-sample, near the spindle's depth.",
            "Use a jacketed chamber with a sensor in it."
            if pack
            else "Write measured: second-container, filled and conditioned alike.",
        ),
        (Related("the container", ("container",)),),
    )


@rule(
    "TEM04",
    ERROR,
    waivable=False,
    sources=("common-practice",),
    example=Example("MCW-VIS-014", "measured: in-sample", "measured: chamber-sensor"),
)
def chamber_sensor_without_a_chamber(m: Method, f: Figures) -> Iterator[Outcome]:
    """A chamber sensor named for a container that has none.

    A beaker or a pack has no sensor; what is written down is the bath or the room, and the sample lags behind
    it: still warm it reads low, still cold high.

    Never: there is nothing to read.
    """
    if m.temperature.measured != "chamber-sensor" or m.container.kind in _CUPS or m.container.jacketed:
        return
    yield Finding(
        ("temperature", "measured"),
        f"{m.container.label} ({m.container.inside_diameter.text} inside) is a {m.container.kind} without a "
        "jacket and has no sensor of its own. What is read is not the sample: still warm it reads low, "
        "still cold high.",
        ("Write measured: in-sample.", "Write measured: second-container, filled and conditioned alike."),
        (Related("the container", ("container",)),),
    )


@rule(
    "TEM05",
    ERROR,
    sources=("gum", "project-decision"),
    example=Example("QAP-VIS-002", "resolution: 0.01 K", "resolution: 0.05 K"),
)
def thermometer_steps_too_coarsely(m: Method, f: Figures) -> Iterator[Outcome]:
    """A thermometer whose step is a large part of the tolerance it has to show.

    In tolerance or out of it is then a matter of rounding, and a sample half a step warm reads low unseen.

    It may be set aside where the bath is held much tighter than the method asks.
    """
    step, target = m.temperature.thermometer_resolution, m.temperature.target
    share = m.reference.policy["thermometer_resolution_share"]
    allowed = target.tolerance.value * share / 100
    if step is None:
        yield NotJudged("the step of the thermometer is not given")
        return
    if step.value <= allowed * (1 + 1e-9):
        return
    yield Finding(
        ("temperature", "thermometer", "resolution"),
        f"The thermometer steps by {step.text}, the tolerance is ± {target.tolerance.text}: "
        f"{sig(100 * step.value / target.tolerance.value, 2)} % of it, against a limit of {sig(share, 2)} %. "
        f"Half a step warm reads low{_worth(m, step.value / 2)} and is not seen.",
        (
            f"Use a thermometer that steps by {sig(allowed, 2)} K or less.",
            f"Write a tolerance of ± {sig(step.value * 100 / share, 2)} K, if the specification bears it.",
        ),
        (Related("the tolerance", ("temperature", "target")),),
    )


@rule(
    "TEM06",
    ERROR,
    sources=("gum", "project-decision"),
    example=Example("QAP-VIS-002", "uncertainty: 0.03 K", "uncertainty: 0.05 K"),
)
def thermometer_not_sure_enough(m: Method, f: Figures) -> Iterator[Outcome]:
    """A thermometer whose calibration is not good enough for the tolerance.

    Its error counts on every day and for every batch: if it shows too little, the sample is warm and reads
    low; if too much, cold and high.

    It may be set aside where the correction from the certificate is applied and the notes say so.
    """
    uncertainty, target = m.temperature.thermometer_uncertainty, m.temperature.target
    share = m.reference.policy["thermometer_uncertainty_share"]
    allowed = target.tolerance.value * share / 100
    if uncertainty is None:
        yield NotJudged("the calibration uncertainty of the thermometer is not given")
        return
    if uncertainty.value <= allowed * (1 + 1e-9):
        return
    yield Finding(
        ("temperature", "thermometer", "uncertainty"),
        f"The thermometer is known to ± {uncertainty.text}, the tolerance is ± {target.tolerance.text}: "
        f"{sig(100 * uncertainty.value / target.tolerance.value, 2)} % of it, against a limit of "
        f"{sig(share, 2)} %. The result may be off either way{_worth(m, uncertainty.value)}.",
        (
            f"Use a thermometer known to ± {_floored(allowed)} K.",
            f"Write a tolerance of ± {sig(uncertainty.value * 100 / share, 2)} K, if the limits allow.",
        ),
        (Related("the tolerance", ("temperature", "target")),),
    )


@rule(
    "TEM07",
    ERROR,
    sources=("conduction", "project-decision"),
    example=Example("TGF-VIS-003", "time: 180 min", "time: 60 min"),
)
def core_not_at_temperature(m: Method, f: Figures) -> Iterator[Outcome]:
    """Conditioning too short for heat to get to the middle of the sample.

    A thermometer near the wall shows the target while the core lags by kelvins. A core still warm reads low,
    one still cold reads high, and it does so the same way every day: the replicates agree.

    It may be set aside where the temperature on the axis was measured after this time and is on record.
    """
    conditioning = m.temperature.conditioning
    if conditioning is None or conditioning.where == "none" or conditioning.time is None:
        return
    residual, start = f.value("conditioning.residual"), m.temperature.start
    target = m.temperature.target
    tolerance = target.tolerance.value
    if residual is None or start is None:
        if "conditioning.residual" in f.open:
            yield NotJudged(f.open["conditioning.residual"])
        return
    share = m.reference.policy["conditioning_share"]
    if residual <= share / 100 * tolerance * (1 + 1e-9):
        return
    hard = residual > tolerance
    offset = abs(start.value - target.value.value)
    warm = start.value > target.value.value
    bound = (
        f"the tolerance of {target.tolerance.text}"
        if hard
        else f"{sig(share, 2)} % of the tolerance, {sig(share / 100 * tolerance, 2)} K"
    )
    needed = f.value("conditioning.needed")
    nearer = share / 100 * tolerance * offset / residual
    sensitivity = m.product.temperature_sensitivity
    size = f" by up to {sig(sensitivity.value * residual, 2)} %" if sensitivity is not None else ""
    minutes = math.ceil((needed or 0.0) / 60 / 5 - 1e-9) * 5
    yield Finding(
        ("temperature", "conditioning", "time"),
        f"After {conditioning.time.text} the core of a sample that comes in at {start.text} is still "
        f"{sig(residual, 2)} K too {'warm' if warm else 'cold'} in {m.container.label} "
        f"({m.container.inside_diameter.text} inside); the limit is {bound}. It reads "
        f"{'low' if warm else 'high'}{size}, and replicates agree on it.",
        (
            f"Condition for {minutes} min." if minutes else "Condition for longer.",
            (
                f"Keep samples in a store at {target.value.text} ± {sig(nearer, 2)} K beforehand; then "
                f"{conditioning.time.text} will do."
                if nearer >= tolerance / 2
                else "Or use a container half as wide with a coefficient found in it: heat takes a quarter "
                "of the time."
            ),
        ),
        (
            Related("comes in at", ("temperature", "start")),
            Related("the tolerance", ("temperature", "target")),
        ),
        ERROR if hard else WARNING,
    )


@rule(
    "TEM08",
    ERROR,
    sources=("common-practice", "usp-912"),
    example=Example("MCW-VIS-014", "where: water-bath, time: 210 min,", "where: water-bath,"),
)
def conditioning_left_open(m: Method, f: Figures) -> Iterator[Outcome]:
    """Nothing says how, or for how long, the sample is brought to temperature.

    Each operator waits as long as the day allows: a warm sample reads low, a cold one high.

    It may be set aside where samples are taken at the test temperature, with conditioning: {where: none}.
    """
    conditioning, target, start = m.temperature.conditioning, m.temperature.target, m.temperature.start
    size = f" ({m.container.inside_diameter.text} inside)"
    if conditioning is None:
        path: Path = ("temperature",)
        what = f"Nothing says how the sample in {m.container.label}{size} is brought to {target.value.text}"
    elif conditioning.where != "none":
        if conditioning.time is not None:
            return
        path = ("temperature", "conditioning")
        where = conditioning.where
        what = f"No time is given for {m.container.label}{size} to come to {target.value.text} in the {where}"
    else:
        if start is None or abs(start.value - target.value.value) <= target.tolerance.value * (1 + 1e-9):
            return
        path = ("temperature", "conditioning", "where")
        what = (
            f"The sample may come in at {start.text}, {sig(abs(start.value - target.value.value), 2)} K from "
            f"the target, and nothing brings it to {target.value.text}"
        )
    sensitivity = m.product.temperature_sensitivity
    each = f", by {sensitivity.text}" if sensitivity is not None else ""
    yield Finding(
        path,
        f"{what}. Measured too soon, it reads low where it is still warm and high where it is still "
        f"cold{each}.",
        (
            "Write where and for how long; the next check says whether the time will do.",
            "Write conditioning: {where: none}, with a start within the tolerance, if it comes in right.",
        ),
        (Related("the target", ("temperature", "target")),),
    )


@rule(
    "TEM09",
    WARNING,
    sources=("rheology-text", "project-decision"),
    example=Example("BBM-VIS-007", "room: 22 °C", "room: 12 °C", at="open_time: 3 min"),
)
def drifts_in_the_open(m: Method, f: Figures) -> Iterator[Outcome]:
    """A sample that drifts towards room temperature by a large part of the tolerance before it is read.

    A hot sample cools and reads high, a cold one warms and reads low, more with every minute it stands.

    It may be set aside where the temperature is read in the sample at the very moment of the reading.
    """
    drift, conditioning = f.value("temperature.drift"), m.temperature.conditioning
    opened = m.sample.open_time.value if m.sample.open_time is not None else None
    if opened is None and conditioning is not None and conditioning.where == "none":
        opened = sum(f.value(f"run.{s.name}.read_end") or 0.0 for s in m.run)
    if drift is None or opened is None:
        return
    target = m.temperature.target
    moved = min(drift * opened / 60, abs(target.value.value - _room(m)))
    share = m.reference.policy["drift_share"]
    allowed = target.tolerance.value * share / 100
    if moved <= allowed * (1 + 1e-9):
        return
    cools = target.value.value > _room(m)
    yield Finding(
        ("sample", "open_time") if m.sample.open_time is not None else ("temperature", "conditioning"),
        f"In {sig(opened / 60, 2)} min in a room of {_room_text(m)} the sample "
        f"{'cools' if cools else 'warms'} by {sig(moved, 2)} K ({f.text('temperature.drift')}); "
        f"{sig(share, 2)} % of ± {target.tolerance.text} is {sig(allowed, 2)} K. It reads "
        f"{'high' if cools else 'low'}{_worth(m, moved)}.",
        (
            f"Read within {_minutes(allowed / drift * 60)} of filling.",
            "Keep it in a bath or a jacket while it is read.",
        ),
        (Related("the target", ("temperature", "target")),),
    )


@rule(
    "TEM10",
    ERROR,
    waivable=False,
    sources=("common-practice", "safety-practice"),
    example=Example("MCW-VIS-014", "where: water-bath", "where: room"),
)
def target_out_of_reach(m: Method, f: Figures) -> Iterator[Outcome]:
    """A target that the place of conditioning cannot bring the sample to.

    A water bath boils off above its range and ices up below it; a room conditions to room temperature and no
    other. The sample stays warm and reads low, or cold and reads high.

    Never: the step cannot be done.
    """
    conditioning, target = m.temperature.conditioning, m.temperature.target
    if conditioning is None:
        return
    policy = m.reference.policy
    value = target.value.value
    if conditioning.where == "water-bath":
        low, high = policy["water_bath_lower"], policy["water_bath_upper"]
        if low <= value <= high:
            return
        off = value - high if value > high else low - value
        what = (
            f"An open water bath holds {low:g} to {high:g} °C; {target.value.text} is {sig(off, 2)} K outside"
        )
        cold = value > high
        ways = (
            (
                f"Write where: {'oil-bath' if cold else 'air-cabinet'}, or jacket with a liquid that stands "
                f"{target.value.text}."
            ),
            f"Test at {high if cold else low:g} °C, with limits set there.",
        )
    elif conditioning.where == "room":
        room = _room(m)
        if abs(value - room) <= target.tolerance.value * (1 + 1e-9):
            return
        cold = value > room
        what = (
            f"The room is at {_room_text(m)}; {target.value.text} is {sig(abs(value - room), 2)} K from it, "
            f"and the tolerance is {target.tolerance.text}"
        )
        ways = ("Write where: water-bath.", f"Test at {room:g} °C, with limits set there.")
    else:
        return
    yield Finding(
        ("temperature", "conditioning", "where"),
        f"{what}. The sample stays {'cold and reads high' if cold else 'warm and reads low'}.",
        ways,
        (Related("the target", ("temperature", "target")),),
    )


@rule(
    "TEM11",
    ERROR,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014", "measured: in-sample", "measured: in-sample\n  recheck: false", at="recheck: false"
    ),
)
def temperature_not_checked_after(m: Method, f: Figures) -> Iterator[Outcome]:
    """The temperature is not looked at again after the last reading.

    What drifted meanwhile stays hidden: a sample that cooled reads high, one that warmed reads low.

    It may be set aside for a jacket whose sensor is recorded throughout.
    """
    if m.temperature.recheck:
        return
    drift = f.value("temperature.drift")
    target = m.temperature.target
    size = (
        f"in the open it drifts by {f.text('temperature.drift')}"
        if drift is not None
        else "drift in the run stays hidden"
    )
    cools = target.value.value > _room(m)
    yield Finding(
        ("temperature", "recheck"),
        f"Nobody looks whether the sample is still within ± {target.tolerance.text} after the last reading; "
        f"{size}. A sample that {'cooled reads high' if cools else 'warmed reads low'}.",
        (
            "Leave recheck out, or write recheck: true.",
            "Record the sensor of a jacket throughout, and waive this finding.",
        ),
        (Related("the target", ("temperature", "target")),),
    )


@rule(
    "TEM12",
    WARNING,
    sources=("common-practice", "project-decision"),
    example=Example("BBM-VIS-007", "conditioning: {where: none, parts: true}", "conditioning: {where: none}"),
)
def parts_at_room_temperature(m: Method, f: Figures) -> Iterator[Outcome]:
    """Spindle and guard go from the room into a sample that is far from room temperature.

    They cool or warm the very layer that is measured: a cold spindle in a hot sample reads high, a warm one
    in a cold sample reads low.

    It may be set aside where the spindle stands in the sample for as long as conditioning takes.
    """
    conditioning, target = m.temperature.conditioning, m.temperature.target
    # In a jacket the spindle hangs in the chamber while the sample is conditioned.
    if conditioning is None or conditioning.parts or conditioning.where == "jacket":
        return
    gap = target.value.value - _room(m)
    limit = m.reference.policy["parts_difference"]
    if abs(gap) < limit * (1 - 1e-9):
        return
    yield Finding(
        ("temperature", "conditioning"),
        f"Spindle and guard come from a room of {_room_text(m)} into a sample at {target.value.text}: "
        f"{brief(abs(gap))} K, against a limit of {sig(limit, 2)} K. They {'cool' if gap > 0 else 'warm'} "
        f"the layer that is measured, and the result reads {'high' if gap > 0 else 'low'}.",
        (
            "Write parts: true, and bring them to temperature with the sample, dry.",
            "Hang the spindle into the sample before conditioning, and say so in the preparation.",
        ),
        (Related("the target", ("temperature", "target")),),
    )


@rule(
    "TEM13",
    WARNING,
    sources=("rheology-text", "project-decision"),
    example=Example(
        "QAP-VIS-002",
        _GEL,
        _GEL.replace("spring: R,", "spring: 8R,")
        .replace("coupling: magnetic", "coupling: quick-connect")
        .replace("stand: fine-height}", "stand: quick-travel, only_this: true}")
        .replace(
            "speed: 5 rpm, read: {after: 60 s, revolutions: 5 rev}", "speed: 40 rpm, read: {after: 2 min}"
        )
        .replace("1.70 1/s", "13.6 1/s"),
        at="speed: 40 rpm",
    ),
)
def spindle_heats_the_sample(m: Method, f: Figures) -> Iterator[Outcome]:
    """The work of the spindle warms the sample by a large part of the tolerance.

    A strong spring at high speed in a few millilitres: the sample warms while it is measured, and the result
    reads low and drifts down.

    It may be set aside where a jacket takes the heat away and a reading over time shows no drift.
    """
    rate = f.value("temperature.heating")
    if rate is None:
        return
    fastest = max(m.run, key=lambda s: s.speed.value)
    torque = f.value(f"run.{fastest.name}.torque_upper")
    share = 1.0 if torque is None else min(torque, 100.0) / 100
    time = f.value(f"run.{fastest.name}.read_end") or 0.0
    rise = rate * share * time / 60
    target = m.temperature.target
    limit = m.reference.policy["heating_share"]
    allowed = target.tolerance.value * limit / 100
    if rise <= allowed * (1 + 1e-9):
        return
    yield Finding(
        (*fastest.path, "speed"),
        f"At {fastest.speed.text} and {sig(100 * share, 2)} % torque the spindle warms the sample by up to "
        f"{sig(rise, 2)} K until the reading ends ({f.text('temperature.heating')} at full scale, no heat "
        f"lost); {sig(limit, 2)} % of ± {target.tolerance.text} is {sig(allowed, 2)} K. It reads "
        f"low{_worth(m, rise)} and drifts down.",
        (
            f"End the reading {_minutes(allowed / (rate * share) * 60)} after motor start.",
            "Turn slower, or use more sample; check the heat capacity and the density given.",
        ),
        (Related("the sample", ("sample",)),),
    )


@rule(
    "TEM14",
    ERROR,
    sources=("rheology-text", "project-decision"),
    example=Example(
        "MCW-VIS-014", "density: 1.42 g/mL", "density: 1.42 g/mL\n  phase_change: 24 °C", at="target: 23.0"
    ),
)
def target_beside_a_phase_change(m: Method, f: Figures) -> Iterator[Outcome]:
    """A test temperature beside the point where the product melts, gels or clouds.

    There the viscosity changes by far more per kelvin than anywhere else, and by which side the sample came
    from: a little warm reads much too low, a little cold much too high.

    It may be set aside where the change itself is what is tested.
    """
    change, target = m.product.phase_change, m.temperature.target
    if change is None:
        return
    margin = max(m.reference.policy["phase_margin"], target.tolerance.value)
    gap = abs(target.value.value - change.value)
    if gap >= margin * (1 - 1e-9):
        return
    decimals = target.value.decimals
    yield Finding(
        ("temperature", "target"),
        f"{target.value.text} ± {target.tolerance.text} is {sig(gap, 2)} K from the phase change at "
        f"{change.text}; {sig(margin, 2)} K are to lie between. A little warm reads much too low, a little "
        "cold much too high.",
        (
            f"Test at {fixed(change.value + margin, decimals)} °C or above, with limits set there.",
            f"Test at {fixed(change.value - margin, decimals)} °C or below, with limits set there.",
        ),
        (Related("the phase change", ("product", "phase_change")),),
    )


@rule(
    "TEM15",
    ADVICE,
    sources=("iso-80000-1", "common-practice"),
    example=Example("MCW-VIS-014", "target: 23.0 °C ± 0.5 °C", "target: 23 °C ± 0.5 °C"),
)
def decimals_of_target_and_tolerance(m: Method, f: Figures) -> Iterator[Outcome]:
    """A target and a tolerance that are written with different decimals.

    23 may be 22.6 or 23.4 to one reader and 23.0 to another; with the tolerance on top the window is not the
    same for both, and warm reads low.

    It may be set aside: the numbers are right, only their writing is not.
    """
    target = m.temperature.target
    decimals = max(target.value.decimals, target.tolerance.decimals)
    if target.value.decimals == target.tolerance.decimals:
        return
    unit = target.tolerance.unit
    tolerance = express(target.tolerance.value, unit)
    fewer = min(target.value.decimals, target.tolerance.decimals)
    wider = math.ceil(tolerance * 10**fewer - 1e-9) / 10**fewer
    written = f"{fixed(target.value.value, decimals)} °C ± {fixed(tolerance, decimals)} {unit}"
    other = f"{fixed(target.value.value, fewer)} °C ± {fixed(wider, fewer)} {unit}"
    yield Finding(
        ("temperature", "target"),
        f"{target.text} has {_decimals(target.value.decimals)} in the target and "
        f"{_decimals(target.tolerance.decimals)} in the tolerance; two readers may take two windows from it.",
        (
            f"Write {written}.",
            f"Write {other}, if no more is meant and the specification bears it.",
        ),
    )


def _decimals(number: int) -> str:
    return f"{number} decimal{'' if number == 1 else 's'}"
