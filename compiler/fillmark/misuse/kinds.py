"""The slips, kind by kind. Each gives its rows; what cannot happen with a method gives none."""

from collections.abc import Iterator
from math import inf

from fillmark.choices import eligible
from fillmark.derive.figuring import Inputs, clock_time, in_unit, millimetres
from fillmark.derive.run import read_time
from fillmark.derive.setup import coefficient_on
from fillmark.misuse.slip import (
    BOUNDS,
    COMPUTED,
    ESTIMATED,
    FROM_MEMORY,
    RULED_OUT,
    Bench,
    Reading,
    Slip,
    row,
    unsized,
)
from fillmark.model import Container, Method, Spindle
from fillmark.physics import container as vessel
from fillmark.physics import flow, fluids, spring
from fillmark.quantities import brief, sig


def _temperature(b: Bench) -> Iterator[Slip]:
    m = b.method
    sensitivity, target = m.product.temperature_sensitivity, m.temperature.target
    step, step_text = b.policy("misuse_warmer"), b.text("misuse_warmer")
    if sensitivity is None:
        why = "The method gives no temperature sensitivity: measure at two temperatures and write it down."
        yield unsized("temperature.warm", f"Sample {step_text} too warm", "low", why, "definition")
        yield unsized("temperature.cold", f"Sample {step_text} too cold", "high", why, "definition")
        return

    def warmer(by: float) -> Reading:
        shift = fluids.temperature_shift(sensitivity_percent_per_k=sensitivity.value, warmer_by=by)
        return b.reading(torque=1 + shift)

    s: Inputs = (("s", ("product", "temperature_sensitivity")),)
    why = f"Sensitivity {sensitivity.text}."
    for name, word, sign in (("warm", "warm", 1), ("cold", "cold", -1)):
        yield row(
            b, f"temperature.{name}", f"Sample {step_text} too {word}", warmer(sign * step), why=why,
            formula="-s · ΔT", inputs=(*s, ("ΔT", "policy.misuse_warmer")), sources=("definition",),
            amount=(step, "K"),
        )  # fmt: skip
    tolerance = target.tolerance.value
    yield row(
        b, "temperature.edge", f"Sample at an edge of {target.text} (allowed)", warmer(tolerance),
        warmer(-tolerance), why=why, formula="± s · ΔT", inputs=(*s, ("ΔT", ("temperature", "target"))),
        sources=("definition",),
    )  # fmt: skip
    yield from _in_the_open(b, s)


def _in_the_open(b: Bench, s: Inputs) -> Iterator[Slip]:
    m = b.method
    drift, sensitivity = b.figures.value("temperature.drift"), m.product.temperature_sensitivity
    if drift is None or sensitivity is None:
        return
    room = m.temperature.room.value if m.temperature.room is not None else b.policy("room")
    away = room - m.temperature.target.value.value
    gone = min(drift / 60 * b.policy("open_time"), abs(away)) * (1 if away > 0 else -1)
    shift = fluids.temperature_shift(sensitivity_percent_per_k=sensitivity.value, warmer_by=gone)
    yield row(
        b, "open.temperature", f"Sample {b.text('open_time')} in the open before the run", b.reading(torque=1 + shift),
        why=f"Drifts {sig(abs(gone), 2)} K towards a room of {brief(room, 3)} °C.", formula="-s · drift · t",
        inputs=(*s, ("drift", "temperature.drift"), ("t", "policy.open_time")), sources=("rheology-text",),
    )  # fmt: skip


def _clock(b: Bench) -> Iterator[Slip]:
    m, at = b.method, read_time(b.step)
    early = b.policy("misuse_early")
    angle = b.figures["full_scale_angle"].value
    rpm = b.step.speed.value

    def reached(time: float, viscosity: float) -> float:
        return spring.fraction_reached(
            time=time, torque_percent=viscosity / b.factor, full_scale_angle_deg=angle, rpm=rpm
        )

    def read_at(time: float) -> Reading:
        def torque(viscosity: float) -> float:
            right = 1.0 if at is None else reached(at, viscosity)
            return viscosity / b.factor * reached(time, viscosity) / right

        return Reading(torque, b.factor)

    instead = "not once steady" if at is None else f"in place of {clock_time(at)}"
    why = (
        f"Spring wind-up alone, {m.instrument.readout} readout of {brief(angle, 3)}° at {b.step.speed.text}."
    )
    if b.step.read.average is not None:
        why += " The averaging window is left out, so this is the most."
    inputs: Inputs = (
        ("θ", "full_scale_angle"),
        ("N", (*b.step.path, "speed")),
        *(((("t_read", f"run.{b.step.name}.read_at")),) if at is not None else ()),
    )
    times = {"read.early": early} if at is None or early < at else {}
    if at is not None:
        times |= {"read.half": at / 2} | ({} if m.product.has_history else {"read.late": 2 * at})
    for key, time in times.items():
        yield row(
            b, key, f"Read at {clock_time(time)} {instead}", read_at(time), why=why,
            formula="(1 - exp(-t / τ)) / (1 - exp(-t_read / τ)) - 1, τ = (torque / 100) · θ / (6 · N)",
            inputs=(*inputs, ("t", clock_time(time))), sources=("spring-settling",),
        )  # fmt: skip
    if m.product.has_history:
        behaviour = f"The product is {m.product.behaviour}; how fast it breaks down is not in the method."
        yield unsized(
            "structure.early", "Read early: product still breaking down", "high", behaviour,
            "rheology-text",
        )  # fmt: skip
        yield unsized(
            "structure.late", "Read late: product further broken down", "low", behaviour,
            "rheology-text",
        )  # fmt: skip
        yield unsized(
            "structure.stirred", "Sample stirred, shaken or poured just before the run", "low", behaviour,
            "rheology-text",
        )  # fmt: skip


def _immersion(b: Bench) -> Iterator[Slip]:
    m, spindle = b.method, b.method.spindle
    depth, text = b.policy("misuse_depth"), b.text("misuse_depth")
    if m.immersion.to == "gap":
        yield unsized(
            "immersion.gap", "Gap not set anew after mounting", "either",
            "A wide gap reads low, a touching cone high; by how much depends on the gap that was left.", "cone-formula",
        )  # fmt: skip
        return
    if m.immersion.to == "depth":
        why = "The drag of a bar at another depth in a product that keeps its structure is not known."
        yield unsized("immersion.deep", f"Started {text} too deep", "high", why, "rheology-text")
        yield unsized("immersion.shallow", f"Started {text} too shallow", "low", why, "rheology-text")
        return
    mark = m.immersion.to == "shaft-mark"
    deep, shallow = (
        (f"Mark {text} below the surface", f"Mark {text} above the surface")
        if mark
        else (f"Level {text} too high above the spindle", f"Level {text} too low above the spindle")
    )
    covered = _shaft_covered(b)
    if covered is None or spindle.shaft_diameter is None or spindle.diameter is None:
        why = f"The dimensions of spindle {spindle.key} are not known."
        yield unsized("immersion.deep", deep, "high", why, spindle.source)
        yield unsized("immersion.shallow", shallow, "low", why, spindle.source)
        return
    shaft, body = spindle.shaft_diameter.value / 2, spindle.diameter.value / 2
    own = m.container.inside_diameter.value / 2
    outer = inf if mark else own
    if not mark and body >= own:
        return

    def share(radius: float, length: float) -> float:
        if length <= 0:
            return 0.0
        alone = flow.coaxial_coefficient(
            inner_radius=radius, outer_radius=outer, effective_length=length,
            full_scale_torque=m.instrument.spring.full_scale.value,
        )  # fmt: skip
        return b.coefficient / alone

    bared = max(0.0, depth - covered)
    inputs: Inputs = (
        ("C", "coefficient"),
        ("Rs", f"half of {spindle.shaft_diameter.text}"),
        ("T", m.instrument.spring.full_scale.text),
    )
    wall = "" if mark else " · (1 / (1 - (Rs / Ro)²))"
    formula = f"C · 4π · Rs² · δ · (2π / 60) / T{wall}"
    drag = f"Drag of the shaft, {spindle.shaft_diameter.text} thick."
    if not mark:
        inputs = (*inputs, ("Ro", f"half of {m.container.inside_diameter.text}"))
        drag += f" {text} is {in_unit(vessel.circle_area(diameter=2 * own) * depth, 'mL', 2)} of sample."
    yield row(
        b, "immersion.deep", deep, b.reading(torque=1 + share(shaft, depth)), why=drag, formula=formula,
        inputs=(*inputs, ("δ", "policy.misuse_depth")), sources=("coaxial-formula",), amount=(1000 * depth, "mm"),
    )  # fmt: skip
    lost = share(shaft, depth - bared) + share(body, bared)
    bare = f" The top {millimetres(bared)} of the spindle stands out." if bared and body > shaft else ""
    yield row(
        b, "immersion.shallow", shallow, b.reading(torque=1 - lost), why=f"{drag}{bare}", formula=formula,
        inputs=(*inputs, ("δ", f"{millimetres(depth - bared)} of shaft, {millimetres(bared)} of the spindle")),
        sources=("coaxial-formula",), amount=None if bare else (1000 * depth, "mm"),
    )  # fmt: skip


def _shaft_covered(b: Bench) -> float | None:
    """Give the length of shaft under the surface when all is right (m)."""
    m, spindle = b.method, b.method.spindle
    if m.immersion.to != "shaft-mark":
        cover = b.figures.value("container.cover")
        declared = m.immersion.depth
        return cover if cover is not None else None if declared is None else declared.value
    if spindle.mark_height is None or spindle.length is None:
        return None
    return spindle.mark_height.value - spindle.length.value


def _container(b: Bench) -> Iterator[Slip]:
    m = b.method
    own = m.container
    open_kinds = ("beaker", "pack")
    kinds = open_kinds if own.kind in open_kinds else (own.kind,)
    others = [c for c in m.reference.containers.values() if c.kind in kinds and c.key != own.key]
    inside = own.inside_diameter.value
    narrower = [c for c in others if c.inside_diameter.value < inside * (1 - 1e-9)]
    wider = [c for c in others if c.inside_diameter.value > inside * (1 + 1e-9)]
    if narrower:
        yield _other_container(b, "container.narrower", max(narrower, key=_inside))
    if wider:
        yield _other_container(b, "container.wider", min(wider, key=_inside))
    if m.spindle.plain or m.spindle.kind == "bar":
        yield unsized(
            "bottom.near", "Spindle hung near the bottom", "high",
            "Drag between spindle and bottom; no formula for it is used here.", "rheology-text",
        )  # fmt: skip


def _inside(container: Container) -> float:
    return container.inside_diameter.value


def _other_container(b: Bench, key: str, other: Container) -> Slip:
    m, spindle = b.method, b.method.spindle
    what = f"{other.label} ({other.inside_diameter.text}), not {m.container.inside_diameter.text}"
    direction = "high" if key == "container.narrower" else "low"
    guard = m.fitting_guard if m.guarded else None
    inner, outer = _inside(m.container) / 2, _inside(other) / 2
    too_wide = [
        f"{part}, {width.text} wide,"
        for part, width in (
            ("The guard", None if guard is None else guard.width),
            (f"Spindle {spindle.key}", spindle.diameter),
        )
        if width is not None and width.value >= _inside(other)
    ]
    if too_wide:
        return unsized(key, what, "none", f"{too_wide[0]} does not go in.", other.source, known=RULED_OUT)
    if spindle.diameter is None or spindle.kind in ("bar", "cone"):
        return unsized(
            key, what, direction, f"No formula for the wall is known for {spindle.key}.", "rheology-text"
        )
    disc = spindle.kind == "disc"
    law = flow.disc_wall_shift if disc else flow.cylinder_wall_shift
    shift = law(radius=spindle.diameter.value / 2, reference_radius=inner, container_radius=outer)
    power = "³" if disc else "²"
    why = "Screening with cubes." if disc else "Coaxial cylinders, ends left out."
    return row(
        b, key, what, b.reading(torque=1 + shift),
        why=why + (" The guard is left out, so this is the most." if guard is not None else ""),
        formula=f"(1 - (R/Ro_own){power}) / (1 - (R/Ro){power}) - 1",
        inputs=(
            ("R", f"half of {spindle.diameter.text}"),
            ("Ro_own", f"half of {m.container.inside_diameter.text}"),
            ("Ro", f"half of {other.inside_diameter.text}"),
        ),
        sources=("project-decision" if disc else "coaxial-formula", other.source),
        known=ESTIMATED if disc or guard is not None else COMPUTED,
    )  # fmt: skip


def _zero(b: Bench) -> Iterator[Slip]:
    off = b.policy("misuse_zero")
    for name, sign in (("high", 1), ("low", -1)):
        word = "+" if sign > 0 else "-"
        yield row(
            b, f"zero.{name}", f"Zero off by {word}{brief(off, 3)} % of scale", b.reading(offset=sign * off),
            why="The same torque all over the scale, so it weighs most at low torque.",
            formula=f"{word}z / torque", inputs=(("z", "policy.misuse_zero"), ("f", f"run.{b.step.name}.factor")),
            sources=("definition",), amount=(off, "% of scale"),
        )  # fmt: skip


def _guard(b: Bench) -> Iterator[Slip]:
    m, spindle = b.method, b.method.spindle
    if m.guard == "required":
        key, what, sign = "guard.off", "Guard left off", -1
    elif (
        m.guard == "not-used"
        and m.instrument.spring.takes_guard
        and m.fitting_guard is not None
        and spindle.plain
    ):
        key, what, sign = "guard.on", "Guard fitted, though the method runs without", 1
    else:
        return
    direction = "low" if sign < 0 else "high"
    if spindle.guard == "either":
        yield unsized(
            key, what, direction,
            f"Near nil, from memory: the catalogue's coefficient of {spindle.key} holds with and without the guard.",
            "from-memory", known=FROM_MEMORY,
        )  # fmt: skip
        return
    most = b.policy("guard_effect")
    paths = sorted(
        (b.reading(torque=1.0), b.reading(torque=1 + sign * most / 100)), key=lambda p: p.torque(1.0)
    )
    yield row(
        b, key, what, *paths, known=FROM_MEMORY,
        why=f"From memory: several percent to {brief(most, 2)} % with the largest spindles; measure your own.",
        formula="0 to g", inputs=(("g", "policy.guard_effect"),),
        sources=(m.reference.policy.sources["guard_effect"],),
    )  # fmt: skip


def _shown_by_display(m: Method) -> str:
    """Say what shows that something wrong was keyed in, where anything does."""
    return "torque times the printed factor is not the display" if m.instrument.readout == "digital" else ""


def _spring(b: Bench) -> Iterator[Slip]:
    m = b.method
    own = m.instrument.spring
    digital = m.instrument.readout == "digital"
    for other in m.reference.springs.values():
        if other.key == own.key:
            continue
        ratio = flow.coefficient_on_spring(
            coefficient=1.0, reference_torque=own.full_scale.value, torque=other.full_scale.value
        )
        inputs: Inputs = (("T", other.full_scale.text), ("T_own", own.full_scale.text))
        times = f"{brief(max(ratio, 1 / ratio), 4)}"
        yield row(
            b, f"spring-keyed.{other.key}",
            f"Spring {other.key} keyed in, or its factor used" if digital else f"Factor of spring {other.key} used",
            b.reading(factor=ratio),
            why=f"{'Times' if ratio > 1 else 'Divided by'} {times}: {other.full_scale.text} against "
            f"{own.full_scale.text}.",
            formula="T / T_own - 1", inputs=inputs, sources=(other.source,), shown_by=_shown_by_display(m),
        )  # fmt: skip
        if any(i.spring == other.key for i in m.reference.instruments.values()):
            yield row(
                b, f"spring-mounted.{other.key}",
                f"Instrument with spring {other.key} taken, counted as {own.key}", b.reading(torque=1 / ratio),
                why=f"{'Divided by' if ratio > 1 else 'Times'} {times}: {other.full_scale.text} against "
                f"{own.full_scale.text}.",
                formula="T_own / T - 1", inputs=inputs, sources=(other.source,),
            )  # fmt: skip


def _spindle(b: Bench) -> Iterator[Slip]:
    m = b.method
    twin = m.reference.spindles.get(m.spindle.twin or "")
    digital = m.instrument.readout == "digital"
    for other in _next_spindles(m, b.coefficient):
        there = coefficient_on(m, other)
        ratio = there / b.coefficient
        inputs: Inputs = (
            ("C", f"{other.key}: {in_unit(there, 'Pa·s·rpm')}"),
            ("C_own", "coefficient"),
        )
        yield row(
            b, f"spindle-keyed.{other.key}",
            f"Spindle {other.key} keyed in, or its factor used" if digital else f"Factor of spindle {other.key} used",
            b.reading(factor=ratio),
            why=f"Coefficient {in_unit(there, 'Pa·s·rpm')} against {in_unit(b.coefficient, 'Pa·s·rpm')}.",
            formula="C / C_own - 1", inputs=inputs, sources=(other.source,), shown_by=_shown_by_display(m),
        )  # fmt: skip
        flow_note = "" if m.product.newtonian else " The flow is another one too, which is left out."
        yield row(
            b, f"spindle-hung.{other.key}", f"Spindle {other.key} hung, counted as {m.spindle.key}",
            b.reading(torque=1 / ratio),
            why=f"Coefficient {in_unit(there, 'Pa·s·rpm')} against {in_unit(b.coefficient, 'Pa·s·rpm')}.{flow_note}",
            formula="C_own / C - 1", inputs=inputs, sources=(other.source,),
            known=COMPUTED if m.product.newtonian else ESTIMATED,
        )  # fmt: skip
    if twin is not None:
        yield unsized(
            "spindle-twin", f"Look-alike {twin.key} hung, counted as {m.spindle.key}", "either",
            f"{twin.key} and {m.spindle.key} differ slightly; by how much is not in the reference data.",
            twin.source,
        )  # fmt: skip


def _next_spindles(m: Method, coefficient: float) -> list[Spindle]:
    """Find the spindles of the same set with the next smaller and the next larger coefficient."""
    spindle, own_spring = m.spindle, m.instrument.spring.key
    others = [
        s
        for s in m.reference.spindles.values()
        if s.key not in (spindle.key, spindle.twin)
        and own_spring in s.springs
        and (s.plain if spindle.plain else s.kind == spindle.kind)
    ]
    below = [s for s in others if coefficient_on(m, s) < coefficient]
    above = [s for s in others if coefficient_on(m, s) > coefficient]
    return [
        *sorted(below, key=lambda s: -coefficient_on(m, s))[:1],
        *sorted(above, key=lambda s: coefficient_on(m, s))[:1],
    ]


def _speed(b: Bench) -> Iterator[Slip]:
    m, own = b.method, b.step.speed.value
    low, high, why, inputs = _index(b)
    digital = m.instrument.readout == "digital"
    for key, rpm, word in _other_speeds(b):
        ratio = rpm / own

        def run(index: float, ratio: float = ratio) -> Reading:
            torque = ratio * (1 + flow.power_law_shift(speed_ratio=ratio, index=index))
            return b.reading(torque=torque, factor=1 / ratio if digital else 1.0)

        paths = sorted({low, high}, key=lambda index: run(index).result(1.0))
        counted = " Counted with the speed that is set." if digital else " Counted with this method's factor."
        yield row(
            b, key, f"Run at {brief(rpm, 3)} rpm{word}", *(run(index) for index in paths),
            why=why + counted, shown_by=_shown_by_display(m),
            formula="(N / N_own)^(n - 1) - 1" if digital else "(N / N_own)^n - 1",
            inputs=(("N", f"{brief(rpm, 3)} rpm"), ("N_own", (*b.step.path, "speed")), *inputs),
            sources=("definition" if low == high == 1 else "rheology-text",),
            known=COMPUTED if low == high else BOUNDS,
        )  # fmt: skip


def _other_speeds(b: Bench) -> Iterator[tuple[str, float, str]]:
    """Give the speeds an operator may set by mistake: those of the run, and the settings beside the right one."""
    m, own = b.method, b.step.speed.value
    taken = {own}
    for other in m.run:
        if other.speed.value not in taken:
            taken.add(other.speed.value)
            yield f"speed.{other.name}", other.speed.value, f", the speed of {other.name}"
    instruments = eligible(m)
    listed = sorted({s for i in instruments for s in i.speeds})
    if listed and all(i.speeds for i in instruments):
        near = [
            max((s for s in listed if s < own), default=None),
            min((s for s in listed if s > own), default=None),
        ]
        words = (", the setting below", ", the setting above")
    else:
        near = [
            s if not instruments or any(i.has_speed(s) for i in instruments) else None
            for s in (own / 2, own * 2)
        ]
        words = (", half the speed", ", twice the speed")
    for name, rpm, word in zip(("slower", "faster"), near, words, strict=True):
        if rpm is not None and rpm not in taken:
            yield f"speed.{name}", rpm, word


def _index(b: Bench) -> tuple[float, float, str, Inputs]:
    """Give the flow index, least and most, with what it rests on."""
    m = b.method
    if m.product.newtonian:
        return 1.0, 1.0, "Newtonian: the viscosity does not depend on the speed.", ()
    for line in m.report:
        limit = m.limit(line.result)
        steps = [m.step(name) for name in line.ratio or ()]
        if limit is None or limit.lower is None or limit.upper is None or len(steps) != 2:
            continue
        first, second = steps
        if (
            first is None
            or second is None
            or first.speed.value == second.speed.value
            or limit.lower.value <= 0
        ):
            continue
        found = sorted(
            flow.power_law_index(viscosity_ratio=ratio, speed_ratio=second.speed.value / first.speed.value)
            for ratio in (limit.lower.value, limit.upper.value)
        )
        why = f"Flow index {sig(found[0], 2)} to {sig(found[1], 2)}, from the limits of {line.result}."
        return found[0], found[1], why, (("n", limit.path),)
    why = f"Flow index not known; between 0 and 1 for a {m.product.behaviour} product."
    return 0.0, 1.0, why, (("n", ("product", "behaviour")),)


_BUBBLE = {
    "disc": ("Air bubble under the disc", "Up to tens of percent with the larger discs, from memory."),
    "cylinder": ("Air bubble under the spindle", "Depends on its size and place."),
    "chamber-cylinder": ("Air bubble in the chamber", "Depends on its size and place."),
    "coaxial-cylinder": ("Air bubble in the gap", "Depends on its size and place."),
    "cone": ("Air bubble in the gap", "Depends on its size and place."),
}


def _sample(b: Bench) -> Iterator[Slip]:
    m = b.method
    if m.spindle.kind in _BUBBLE:
        what, why = _BUBBLE[m.spindle.kind]
        yield unsized("bubble", what, "low", f"{why} The reading is unsteady too.", "from-memory")
    if m.product.volatile:
        yield unsized(
            "evaporation", "Sample left open: solvent or water lost, skin", "high",
            "How fast this product loses its volatile part is not in the method. It drifts upwards.", "rheology-text",
        )  # fmt: skip


KINDS = (
    _temperature, _clock, _immersion, _container, _zero, _guard, _spring, _spindle, _speed, _sample,
)  # fmt: skip
