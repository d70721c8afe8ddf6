"""Misuse budget: what each slip at the bench does to a result, and whether a wrong batch would then pass.

A slip is followed through torque and factor: what a batch of a true viscosity shows on the spring, and what is
made of it. From that come the shift at the limits, and the true viscosities that would be accepted. Where no
honest number exists, the slip has a direction and no size. Backwards, a shift that was seen is held against
every slip.

Each slip is judged alone, made in every replicate, against the limits as they stand: rounding and guard bands
are left out.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from math import inf, sqrt

from fillmark.choices import eligible
from fillmark.derive.figuring import Inputs, duration, in_unit, millimetres, percent, viscosity_unit
from fillmark.derive.run import expected_limits, read_time
from fillmark.derive.setup import coefficient_on
from fillmark.figures import Figures
from fillmark.model import Container, Method, Spindle, Step
from fillmark.physics import container as vessel
from fillmark.physics import flow, fluids, spring
from fillmark.quantities import brief, fixed, sig

COMPUTED, ESTIMATED, FROM_MEMORY, NOT_KNOWN, RULED_OUT = (
    "computed", "order of magnitude", "from memory", "not known", "ruled out",
)  # fmt: skip
"""How far a size can be trusted. Ruled out: the slip gives no number, so it cannot pass unseen."""


@dataclass(frozen=True, slots=True)
class Effect:
    """What a slip does to a batch of one true viscosity."""

    at: str
    """lower, target, middle, upper; or half, where a step has no limits: 50 % of full scale"""
    viscosity: float
    """True value (Pa·s)."""
    torque: tuple[float, float]
    """Shown with the slip, least and most (% of full scale)."""
    shift: tuple[float, float] | None
    """Result against the same batch without the slip, least and most (%); None where no number is read."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """Which batches change sides through a slip, in true viscosity (Pa·s): from and to, None where none does.

    Where a slip has a range, these hold for the worst of it, and `certain` is False.
    """

    bad_low: tuple[float, float] | None
    """Below the lower limit, and passes."""
    good_low: tuple[float, float] | None
    """Inside the limits, at the lower end, and fails."""
    good_high: tuple[float, float] | None
    """Inside the limits, at the upper end, and fails."""
    bad_high: tuple[float, float] | None
    """Above the upper limit, and passes."""
    at_limits: tuple[str, str, str, str]
    """yes, may or no: just below the lower limit passes; just above it fails; just below the upper limit
    fails; just above it passes. `no limit` where there is none."""
    certain: bool


@dataclass(frozen=True, slots=True)
class Slip:
    """One thing that can go wrong at the bench."""

    key: str
    """Family and kind, such as `zero.high`."""
    what: str
    direction: str
    """Of the result: high, low, either, none."""
    known: str
    effects: tuple[Effect, ...]
    """At the limits and between; empty where no number is known."""
    why: str
    """What the size rests on, or why there is none."""
    formula: str
    inputs: Inputs
    sources: tuple[str, ...]
    verdict: Verdict | None = None
    """None where the size is not known, or the step has no limits of its own."""
    amount: tuple[float, str] | None = None
    """How much of it, where the effect grows in proportion: `(1.0, "K")`."""

    @property
    def range(self) -> tuple[float, float] | None:
        """The least and the most shift over all points (%); None where no number is known."""
        shifts = [e.shift for e in self.effects if e.shift is not None]
        return (min(s[0] for s in shifts), max(s[1] for s in shifts)) if shifts else None


@dataclass(frozen=True, slots=True)
class Explanation:
    """Which slips could have given a shift."""

    shift: float
    """What was seen (%)."""
    within: float
    """How far a slip may lie from it and still explain it (% of the result)."""
    alone: tuple[Slip, ...]
    """Explain it by themselves, by a size that is known; the closest first."""
    possible: tuple[tuple[Slip, str], ...]
    """Go the right way, by a size from memory or not known; with what is known."""
    excluded: tuple[tuple[Slip, str], ...]
    """Do not explain it alone, and why."""
    cancelling: tuple[tuple[Slip, Slip, float], ...]
    """Pairs that hide part of each other and together come to it; with the shift of both (%)."""


Law = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class _Path:
    """From a true viscosity (Pa·s) to the torque shown (%), and the factor (Pa·s for each %) used on it."""

    torque: Law
    factor: float

    def result(self, viscosity: float) -> float:
        return self.torque(viscosity) * self.factor


@dataclass(frozen=True, slots=True)
class _Bench:
    """What every slip of a step needs."""

    method: Method
    figures: Figures
    step: Step
    factor: float
    points: tuple[tuple[str, float], ...]
    limits: tuple[float | None, float | None]
    judged: bool

    def policy(self, key: str) -> float:
        return self.method.reference.policy[key]

    def text(self, key: str) -> str:
        return self.method.reference.policy.texts[key]

    def path(self, torque: float = 1.0, factor: float = 1.0, offset: float = 0.0) -> _Path:
        """Make a slip that multiplies the torque, or the factor, or adds to the torque (%)."""
        right = self.factor
        return _Path(lambda viscosity: torque * viscosity / right + offset, factor * right)

    @property
    def coefficient(self) -> float:
        return self.figures["coefficient"].value


def misuse_budget(method: Method, figures: Figures, step: Step) -> tuple[Slip, ...]:
    """Work out every slip for a step of the run, those of one kind together.

    `figures` are those of the same method. Slips that cannot happen with this geometry, product or instrument
    are left out.
    """
    b = _bench(method, figures, step)
    return tuple(
        slip
        for kind in (
            _temperature,
            _clock,
            _immersion,
            _container,
            _zero,
            _guard,
            _spring,
            _spindle,
            _speed,
            _sample,
        )  # fmt: skip
        for slip in kind(b)
    )


def _bench(m: Method, figures: Figures, step: Step) -> _Bench:
    factor = figures[f"run.{step.name}.factor"].value
    lower, upper, _ = expected_limits(m, step)
    limit = m.limit(step.name)
    points: list[tuple[str, float]] = []
    if lower is not None:
        points.append(("lower", lower))
    if limit is not None and limit.target is not None:
        points.append(("target", limit.target.value))
    elif lower is not None and upper is not None:
        points.append(("middle", (lower + upper) / 2))
    if upper is not None:
        points.append(("upper", upper))
    judged = limit is not None and not (lower is not None and upper is not None and lower >= upper)
    return _Bench(m, figures, step, factor, tuple(points) or (("half", 50 * factor),), (lower, upper), judged)


# --- from a slip to its row


def _row(
    b: _Bench, key: str, what: str, low: _Path, high: _Path | None = None, *, why: str, formula: str,
    inputs: Inputs, sources: tuple[str, ...], known: str = COMPUTED, amount: tuple[float, str] | None = None,
) -> Slip:  # fmt: skip
    """Make the row of a slip with a size: `low` and `high` are the least and the most it may do."""
    paths = (low,) if high is None else (low, high)
    effects = tuple(_effect(b, at, viscosity, paths) for at, viscosity in b.points)
    slip = Slip(key, what, "none", known, effects, why, formula, inputs, sources, None, amount)
    if slip.range is None:
        torques = [t for e in effects for t in e.torque]
        shown = percent(min(torques)) if max(torques) - min(torques) < 0.05 else (
            f"{percent(min(torques))} to {percent(max(torques))}"
        )  # fmt: skip
        off = (
            "off the scale"
            if min(torques) > b.policy("torque_ceiling")
            else f"under the torque floor of {b.text('torque_floor')}"
        )
        return replace(slip, known=RULED_OUT, why=f"Torque {shown}, {off}: no number comes out.", amount=None)
    direction = _direction(slip.range, b.policy("misuse_nil"))
    verdict = _verdict(b, paths, nil=direction == "none") if b.judged else None
    return replace(slip, direction=direction, verdict=verdict)


def _effect(b: _Bench, at: str, viscosity: float, paths: tuple[_Path, ...]) -> Effect:
    torques = [path.torque(viscosity) for path in paths]
    shifts = [100 * (path.result(viscosity) / viscosity - 1) for path in paths]
    least, most = _readable(b)
    read = all(least <= torque <= most for torque in torques)
    return Effect(at, viscosity, (min(torques), max(torques)), (min(shifts), max(shifts)) if read else None)


def _readable(b: _Bench) -> tuple[float, float]:
    """Give the torques (%) between which a number is reported.

    Where only one limit is set, a bound on its far side still decides, so that it counts as a number.
    """
    lower, upper = b.limits
    right = 100.0 if lower is None else lower / b.factor
    floor = -inf if lower is None and upper is not None else min(b.policy("torque_floor"), right)
    return floor, inf if upper is None and lower is not None else b.policy("torque_ceiling")


def _direction(shift: tuple[float, float], nil: float) -> str:
    if -nil < shift[0] and shift[1] < nil:
        return "none"
    if shift[0] > -nil:
        return "high"
    return "low" if shift[1] < nil else "either"


def _verdict(b: _Bench, paths: tuple[_Path, ...], *, nil: bool) -> Verdict:
    lower, upper = b.limits
    spans = [] if nil else [_accepted(b, path) for path in paths]
    bottom, top = 0.0 if lower is None else lower, inf if upper is None else upper

    def outside_low(span: tuple[float, float]) -> tuple[float, float] | None:
        return _span(span[0], min(bottom, span[1]))

    def outside_high(span: tuple[float, float]) -> tuple[float, float] | None:
        return _span(max(top, span[0]), span[1])

    def inside_low(span: tuple[float, float]) -> tuple[float, float] | None:
        return _span(bottom, min(top, span[0] if span[1] > bottom else top))

    def inside_high(span: tuple[float, float]) -> tuple[float, float] | None:
        return _span(max(bottom, span[1] if span[0] < top else bottom), top)

    kinds = (outside_low, inside_low, inside_high, outside_high)
    found = [[kind(span) for span in spans] for kind in kinds]
    # Just at a limit a batch changes sides only where the span that does reaches up to the limit.
    edges = (
        [s is not None and s[1] >= bottom for s in found[0]],
        [not span[0] <= bottom <= span[1] for span in spans],
        [not span[0] <= top <= span[1] for span in spans],
        [s is not None and s[0] <= top for s in found[3]],
    )
    given = (lower is not None, lower is not None, upper is not None, upper is not None)
    words = [
        "no limit" if not there else "yes" if edge and all(edge) else "may" if any(edge) else "no"
        for there, edge in zip(given, edges, strict=True)
    ]
    widest = [_widest(kind) if there else None for there, kind in zip(given, found, strict=True)]
    return Verdict(
        widest[0], widest[1], widest[2], widest[3], (words[0], words[1], words[2], words[3]), len(paths) == 1
    )


def _accepted(b: _Bench, path: _Path) -> tuple[float, float]:
    """Give the true viscosities (Pa·s) between which a batch passes; an empty span where none does."""
    lower, upper = b.limits
    least, most = _readable(b)
    scale = next(limit for limit in (lower, upper) if limit is not None)
    start = 0.0 if lower is None else max(
        _inverse(path.result, lower, scale), _inverse(path.torque, least, scale)
    )  # fmt: skip
    end = inf if upper is None else min(
        _inverse(path.result, upper, scale), _inverse(path.torque, most, scale)
    )  # fmt: skip
    nil = b.policy("misuse_nil") / 100
    if lower and abs(start / lower - 1) < nil:
        start = lower
    if upper and abs(end / upper - 1) < nil:
        end = upper
    return start, max(start, end)


def _inverse(law: Law, wanted: float, scale: float) -> float:
    """Find the true viscosity at which a rising law gives a value, by halving; 0 where it is always above."""
    low, high = 1e-5 * scale, 1e5 * scale
    if law(low) >= wanted:
        return 0.0
    for _ in range(100):
        middle = sqrt(low * high)
        low, high = (middle, high) if law(middle) < wanted else (low, middle)
    return high


def _span(start: float, end: float) -> tuple[float, float] | None:
    return (start, end) if end > start else None


def _widest(spans: list[tuple[float, float] | None]) -> tuple[float, float] | None:
    there = [span for span in spans if span is not None]
    return (min(s[0] for s in there), max(s[1] for s in there)) if there else None


def _unsized(
    key: str, what: str, direction: str, why: str, *sources: str, known: str = NOT_KNOWN, inputs: Inputs = ()
) -> Slip:
    """Make the row of a slip of which only the direction is known."""
    return Slip(key, what, direction, known, (), why, "", inputs, sources)


# --- the slips, kind by kind


def _temperature(b: _Bench) -> Iterator[Slip]:
    m = b.method
    sensitivity, target = m.product.temperature_sensitivity, m.temperature.target
    step, step_text = b.policy("misuse_warmer"), b.text("misuse_warmer")
    if sensitivity is None:
        why = "The method gives no temperature sensitivity: measure at two temperatures and write it down."
        yield _unsized("temperature.warm", f"Sample {step_text} too warm", "low", why, "definition")
        yield _unsized("temperature.cold", f"Sample {step_text} too cold", "high", why, "definition")
        return

    def warmer(by: float) -> _Path:
        shift = fluids.temperature_shift(sensitivity_percent_per_k=sensitivity.value, warmer_by=by)
        return b.path(torque=1 + shift)

    s: Inputs = (("s", ("product", "temperature_sensitivity")),)
    why = f"Sensitivity {sensitivity.text}."
    for name, word, sign in (("warm", "warm", 1), ("cold", "cold", -1)):
        yield _row(
            b, f"temperature.{name}", f"Sample {step_text} too {word}", warmer(sign * step), why=why,
            formula="-s · ΔT", inputs=(*s, ("ΔT", "policy.misuse_warmer")), sources=("definition",),
            amount=(step, "K"),
        )  # fmt: skip
    tolerance = target.tolerance.value
    yield _row(
        b, "temperature.edge", f"Sample at an edge of {target.text}, which the method allows", warmer(tolerance),
        warmer(-tolerance), why=why, formula="± s · ΔT", inputs=(*s, ("ΔT", ("temperature", "target"))),
        sources=("definition",),
    )  # fmt: skip
    yield from _in_the_open(b, s)


def _in_the_open(b: _Bench, s: Inputs) -> Iterator[Slip]:
    m = b.method
    drift, sensitivity = b.figures.value("temperature.drift"), m.product.temperature_sensitivity
    if drift is None or sensitivity is None:
        return
    room = m.temperature.room.value if m.temperature.room is not None else b.policy("room")
    away = room - m.temperature.target.value.value
    gone = min(drift / 60 * b.policy("open_time"), abs(away)) * (1 if away > 0 else -1)
    shift = fluids.temperature_shift(sensitivity_percent_per_k=sensitivity.value, warmer_by=gone)
    yield _row(
        b, "open.temperature", f"Sample {b.text('open_time')} in the open before the run", b.path(torque=1 + shift),
        why=f"Drifts {sig(abs(gone), 2)} K towards a room of {brief(room, 3)} °C.", formula="-s · drift · t",
        inputs=(*s, ("drift", "temperature.drift"), ("t", "policy.open_time")), sources=("rheology-text",),
    )  # fmt: skip


def _clock(b: _Bench) -> Iterator[Slip]:
    m, at = b.method, read_time(b.step)
    early = b.policy("misuse_early")
    angle = b.figures["full_scale_angle"].value
    rpm = b.step.speed.value

    def reached(time: float, viscosity: float) -> float:
        return spring.fraction_reached(
            time=time, torque_percent=viscosity / b.factor, full_scale_angle_deg=angle, rpm=rpm
        )

    def read_at(time: float) -> _Path:
        def torque(viscosity: float) -> float:
            right = 1.0 if at is None else reached(at, viscosity)
            return viscosity / b.factor * reached(time, viscosity) / right

        return _Path(torque, b.factor)

    instead = "once steady" if at is None else f"at {duration(at)}"
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
    rows = (
        []
        if at is None
        else [("read.half", at / 2, "half the time, "), ("read.late", 2 * at, "twice the time, ")]
    )
    if early < (inf if at is None else at) and (at is None or early != at / 2):
        rows.insert(1, ("read.early", early, ""))
    for key, time, word in rows:
        if key == "read.late" and m.product.has_history:
            continue
        yield _row(
            b, key, f"Read at {duration(time)}, {word}not {instead}", read_at(time), why=why,
            formula="(1 - exp(-t / τ)) / (1 - exp(-t_read / τ)) - 1, τ = (torque / 100) · θ / (6 · N)",
            inputs=(*inputs, ("t", duration(time))), sources=("spring-settling",),
        )  # fmt: skip
    if m.product.has_history:
        behaviour = f"The product is {m.product.behaviour}; how fast it breaks down is not in the method."
        yield _unsized(
            "structure.early", f"Read early, not {instead}: product still breaking down", "high", behaviour,
            "rheology-text",
        )  # fmt: skip
        yield _unsized(
            "structure.late", f"Read late, not {instead}: product further broken down", "low", behaviour,
            "rheology-text",
        )  # fmt: skip
        yield _unsized(
            "structure.stirred", "Sample stirred, shaken or poured just before the run", "low", behaviour,
            "rheology-text",
        )  # fmt: skip


def _immersion(b: _Bench) -> Iterator[Slip]:
    m, spindle = b.method, b.method.spindle
    depth, text = b.policy("misuse_depth"), b.text("misuse_depth")
    if m.immersion.to == "gap":
        yield _unsized(
            "immersion.gap", "Gap not set anew after mounting", "either",
            "A wide gap reads low, a touching cone high; by how much depends on the gap that was left.", "cone-formula",
        )  # fmt: skip
        return
    if m.immersion.to == "depth":
        why = "The drag of a bar at another depth in a product that keeps its structure is not known."
        yield _unsized("immersion.deep", f"Started {text} too deep", "high", why, "rheology-text")
        yield _unsized("immersion.shallow", f"Started {text} too shallow", "low", why, "rheology-text")
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
        yield _unsized("immersion.deep", deep, "high", why, spindle.source)
        yield _unsized("immersion.shallow", shallow, "low", why, spindle.source)
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
    drag = f"Drag of {text} of shaft, {spindle.shaft_diameter.text} thick."
    if not mark:
        inputs = (*inputs, ("Ro", f"half of {m.container.inside_diameter.text}"))
        drag += f" It is {in_unit(vessel.circle_area(diameter=2 * own) * depth, 'mL', 2)} of sample."
    yield _row(
        b, "immersion.deep", deep, b.path(torque=1 + share(shaft, depth)), why=drag, formula=formula,
        inputs=(*inputs, ("δ", "policy.misuse_depth")), sources=("coaxial-formula",), amount=(1000 * depth, "mm"),
    )  # fmt: skip
    lost = share(shaft, depth - bared) + share(body, bared)
    bare = f" {millimetres(bared)} of the spindle itself stand out." if bared and body > shaft else ""
    yield _row(
        b, "immersion.shallow", shallow, b.path(torque=1 - lost), why=f"{drag}{bare}", formula=formula,
        inputs=(*inputs, ("δ", f"{millimetres(depth - bared)} of shaft, {millimetres(bared)} of the spindle")),
        sources=("coaxial-formula",), amount=None if bare else (1000 * depth, "mm"),
    )  # fmt: skip


def _shaft_covered(b: _Bench) -> float | None:
    """Give the length of shaft under the surface when all is right (m)."""
    m, spindle = b.method, b.method.spindle
    if m.immersion.to != "shaft-mark":
        cover = b.figures.value("container.cover")
        declared = m.immersion.depth
        return cover if cover is not None else None if declared is None else declared.value
    if spindle.mark_height is None or spindle.length is None:
        return None
    return spindle.mark_height.value - spindle.length.value


def _container(b: _Bench) -> Iterator[Slip]:
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
        yield _unsized(
            "bottom.near", "Spindle hung near the bottom", "high",
            "Drag between spindle and bottom; no formula for it is used here.", "rheology-text",
        )  # fmt: skip


def _inside(container: Container) -> float:
    return container.inside_diameter.value


def _other_container(b: _Bench, key: str, other: Container) -> Slip:
    m, spindle = b.method, b.method.spindle
    what = f"{other.label} ({other.inside_diameter.text}), not {m.container.inside_diameter.text}"
    direction = "high" if key == "container.narrower" else "low"
    guard = m.fitting_guard if m.guarded else None
    inner, outer = _inside(m.container) / 2, _inside(other) / 2
    widest = max(
        x
        for x in (spindle.diameter and spindle.diameter.value, guard and guard.width.value, 0.0)
        if x is not None
    )
    if widest >= _inside(other):
        part = (
            f"The guard, {guard.width.text} wide,"
            if guard is not None and guard.width.value >= _inside(other)
            else f"Spindle {spindle.key}"
        )
        return _unsized(key, what, "none", f"{part} does not go in.", other.source, known=RULED_OUT)
    if spindle.diameter is None or spindle.kind in ("bar", "cone"):
        return _unsized(
            key, what, direction, f"No formula for the wall is known for {spindle.key}.", "rheology-text"
        )
    disc = spindle.kind == "disc"
    law = flow.disc_wall_shift if disc else flow.cylinder_wall_shift
    shift = law(radius=spindle.diameter.value / 2, reference_radius=inner, container_radius=outer)
    power = "³" if disc else "²"
    why = "Screening with cubes." if disc else "Coaxial cylinders, ends left out."
    return _row(
        b, key, what, b.path(torque=1 + shift),
        why=why + (" The guard is left out." if guard is not None else ""),
        formula=f"(1 - (R/Ro_own){power}) / (1 - (R/Ro){power}) - 1",
        inputs=(
            ("R", f"half of {spindle.diameter.text}"),
            ("Ro_own", f"half of {m.container.inside_diameter.text}"),
            ("Ro", f"half of {other.inside_diameter.text}"),
        ),
        sources=("project-decision" if disc else "coaxial-formula", other.source),
        known=ESTIMATED if disc or guard is not None else COMPUTED,
    )  # fmt: skip


def _zero(b: _Bench) -> Iterator[Slip]:
    off = b.policy("misuse_zero")
    for name, sign in (("high", 1), ("low", -1)):
        word = "+" if sign > 0 else "-"
        yield _row(
            b, f"zero.{name}", f"Zero off by {word}{brief(off, 3)} % of scale", b.path(offset=sign * off),
            why="The same torque all over the scale, so it weighs most at low torque.",
            formula=f"{word}z / torque", inputs=(("z", "policy.misuse_zero"), ("f", f"run.{b.step.name}.factor")),
            sources=("definition",), amount=(off, "% of scale"),
        )  # fmt: skip


def _guard(b: _Bench) -> Iterator[Slip]:
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
        yield _unsized(
            key, what, direction,
            f"Near nil, from memory: the catalogue's coefficient of {spindle.key} holds with and without the guard.",
            "from-memory", known=FROM_MEMORY,
        )  # fmt: skip
        return
    most = b.policy("guard_effect")
    paths = sorted((b.path(torque=1.0), b.path(torque=1 + sign * most / 100)), key=lambda p: p.torque(1.0))
    yield _row(
        b, key, what, *paths, known=FROM_MEMORY,
        why=f"From memory: several percent to {brief(most, 2)} % with the largest spindles; measure your own.",
        formula="0 to g", inputs=(("g", "policy.guard_effect"),),
        sources=(m.reference.policy.sources["guard_effect"],),
    )  # fmt: skip


def _caught(m: Method) -> str:
    """Say what on the sheet shows a wrong entry, where anything does."""
    return (
        " Torque times the printed factor is then not the display."
        if m.instrument.readout == "digital"
        else ""
    )


def _spring(b: _Bench) -> Iterator[Slip]:
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
        yield _row(
            b, f"spring-keyed.{other.key}",
            f"Spring {other.key} keyed in, or its factor used" if digital else f"Factor of spring {other.key} used",
            b.path(factor=ratio),
            why=f"{'Times' if ratio > 1 else 'Divided by'} {times}: {other.full_scale.text} against "
            f"{own.full_scale.text}." + _caught(m),
            formula="T / T_own - 1", inputs=inputs, sources=(other.source,),
        )  # fmt: skip
        if any(i.spring == other.key for i in m.reference.instruments.values()):
            yield _row(
                b, f"spring-mounted.{other.key}",
                f"Instrument with spring {other.key} taken, counted as {own.key}", b.path(torque=1 / ratio),
                why=f"{'Divided by' if ratio > 1 else 'Times'} {times}: {other.full_scale.text} against "
                f"{own.full_scale.text}.",
                formula="T_own / T - 1", inputs=inputs, sources=(other.source,),
            )  # fmt: skip


def _spindle(b: _Bench) -> Iterator[Slip]:
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
        yield _row(
            b, f"spindle-keyed.{other.key}",
            f"Spindle {other.key} keyed in, or its factor used" if digital else f"Factor of spindle {other.key} used",
            b.path(factor=ratio),
            why=f"Coefficient {in_unit(there, 'Pa·s·rpm')} against {in_unit(b.coefficient, 'Pa·s·rpm')}." + _caught(m),
            formula="C / C_own - 1", inputs=inputs, sources=(other.source,),
        )  # fmt: skip
        flow_note = "" if m.product.newtonian else " The flow is another one too, which is left out."
        yield _row(
            b, f"spindle-hung.{other.key}", f"Spindle {other.key} hung, counted as {m.spindle.key}",
            b.path(torque=1 / ratio),
            why=f"Coefficient {in_unit(there, 'Pa·s·rpm')} against {in_unit(b.coefficient, 'Pa·s·rpm')}.{flow_note}",
            formula="C_own / C - 1", inputs=inputs, sources=(other.source,),
            known=COMPUTED if m.product.newtonian else ESTIMATED,
        )  # fmt: skip
    if twin is not None:
        yield _unsized(
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


def _speed(b: _Bench) -> Iterator[Slip]:
    m, own = b.method, b.step.speed.value
    low, high, why, inputs = _index(b)
    digital = m.instrument.readout == "digital"
    for key, rpm, word in _other_speeds(b):
        ratio = rpm / own

        def run(index: float, ratio: float = ratio) -> _Path:
            torque = ratio * (1 + flow.power_law_shift(speed_ratio=ratio, index=index))
            return b.path(torque=torque, factor=1 / ratio if digital else 1.0)

        paths = sorted({low, high}, key=lambda index: run(index).result(1.0))
        counted = " Counted with the speed that is set." if digital else " Counted with this method's factor."
        yield _row(
            b, key, f"Run at {brief(rpm, 3)} rpm{word}", *(run(index) for index in paths),
            why=why + counted + (_caught(m) if digital else ""),
            formula="(N / N_own)^(n - 1) - 1" if digital else "(N / N_own)^n - 1",
            inputs=(("N", f"{brief(rpm, 3)} rpm"), ("N_own", (*b.step.path, "speed")), *inputs),
            sources=("definition" if low == high == 1 else "rheology-text",),
        )  # fmt: skip


def _other_speeds(b: _Bench) -> Iterator[tuple[str, float, str]]:
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


def _index(b: _Bench) -> tuple[float, float, str, Inputs]:
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


def _sample(b: _Bench) -> Iterator[Slip]:
    m = b.method
    if m.spindle.kind in _BUBBLE:
        what, why = _BUBBLE[m.spindle.kind]
        yield _unsized("bubble", what, "low", f"{why} The reading is unsteady too.", "from-memory")
    if m.product.volatile:
        yield _unsized(
            "evaporation", "Sample left open: solvent or water lost, skin", "high",
            "How fast this product loses its volatile part is not in the method. It drifts upwards.", "rheology-text",
        )  # fmt: skip


# --- backwards


def explaining(budget: tuple[Slip, ...], shift: float, *, within: float) -> Explanation:
    """Find which slips could have made a result read high or low by `shift` (%).

    A slip explains it where its size over the range of the limits comes within `within` (% of the result, above
    or below). Ranked only as far as can be said: a single computed size before a range, the closest and the
    narrowest first.
    """
    alone: list[Slip] = []
    possible: list[tuple[Slip, str]] = []
    excluded: list[tuple[Slip, str]] = []
    low, high = shift - within, shift + within
    for slip in budget:
        if slip.known == RULED_OUT:
            excluded.append((slip, slip.why))
        elif slip.range is None:
            _sort_unsized(slip, shift, possible, excluded)
        elif slip.range[0] <= high and slip.range[1] >= low and slip.direction != "none":
            if slip.known == FROM_MEMORY:
                possible.append((slip, slip.why))
            else:
                alone.append(slip)
        else:
            excluded.append((slip, _why_not(slip, shift)))
    alone.sort(key=lambda s: (_width(s) > within, s.known != COMPUTED, _distance(s, shift), _width(s)))
    possible.sort(key=lambda pair: pair[0].known != FROM_MEMORY)
    return Explanation(
        shift,
        within,
        tuple(alone),
        tuple(possible),
        tuple(excluded),
        _cancelling(budget, alone, shift, within),
    )


def expected_within(figures: Figures, step: Step) -> tuple[float, str] | None:
    """Give how closely a result can be held against a slip (% of it), and by what; None where nothing tells."""
    key = f"run.{step.name}."
    full = figures[key + "full_scale"].value
    torques = [figures.value(key + f"torque_{which}") for which in ("lower", "upper")]
    if torques[0] is None or torques[1] is None:
        return None
    middle = (torques[0] + torques[1]) / 2
    expanded = figures.value(key + "uncertainty")
    if expanded is not None:
        return 1e4 * expanded / full / middle, "the expanded uncertainty of a result"
    return 100 * figures["accuracy"].value / middle, "the accuracy of the instrument"


def _sort_unsized(
    slip: Slip, shift: float, possible: list[tuple[Slip, str]], excluded: list[tuple[Slip, str]]
) -> None:
    way = "high" if shift > 0 else "low"
    if slip.direction not in (way, "either"):
        excluded.append((slip, f"Reads {slip.direction}."))
    elif slip.known == FROM_MEMORY:
        excluded.append((slip, slip.why))
    else:
        possible.append((slip, slip.why))


def _why_not(slip: Slip, shift: float) -> str:
    if slip.range is None or slip.direction == "none":
        return "No effect here."
    text = spread(*slip.range)
    if slip.range[0] * shift < 0 and slip.range[1] * shift < 0:
        return f"Reads {slip.direction}: {text}."
    most = max(slip.range, key=abs) if slip.direction != "either" else 0.0
    if slip.amount is not None and abs(most) > 0:
        need = [slip.amount[0] * shift / bound for bound in slip.range if bound]
        least, most_needed = sorted((min(need), max(need)))
        needed = (
            brief(least, 2)
            if brief(least, 2) == brief(most_needed, 2)
            else f"{brief(least, 2)} to {brief(most_needed, 2)}"
        )
        return f"{text}; it would take {needed} {slip.amount[1]}."
    return f"{text}: too {'small' if abs(most) < abs(shift) else 'large'}."


def _width(slip: Slip) -> float:
    return 0.0 if slip.range is None else slip.range[1] - slip.range[0]


def _distance(slip: Slip, shift: float) -> float:
    if slip.range is None:
        return inf
    return max(slip.range[0] - shift, shift - slip.range[1], 0.0)


def _middle(slip: Slip) -> float | None:
    """Give the one shift of a slip at the middle of the limits (%); None where it is a range or not known."""
    shifts = [e.shift for e in slip.effects if e.shift is not None]
    if len(shifts) != len(slip.effects) or not shifts or slip.direction not in ("high", "low"):
        return None
    low, high = shifts[len(shifts) // 2]
    return low if high - low < 1e-9 else None


def _cancelling(
    budget: tuple[Slip, ...], alone: list[Slip], shift: float, within: float
) -> tuple[tuple[Slip, Slip, float], ...]:
    """Find pairs of slips with one size each, one high and one low, that together come to a shift."""
    sized = [(slip, _middle(slip)) for slip in budget if slip not in alone]
    found = []
    for (first, one), (second, other) in combinations(sized, 2):
        if one is None or other is None or one * other >= 0:
            continue
        if first.key.partition(".")[0] == second.key.partition(".")[0]:
            continue
        both = 100 * ((1 + one / 100) * (1 + other / 100) - 1)
        if abs(both - shift) <= within:
            found.append((first, second, both))
    return tuple(sorted(found, key=lambda pair: abs(pair[2] - shift)))


# --- in words


def spread(low: float, high: float) -> str:
    """Write a shift (%) as people say it: `-2.0 %`, `±1.0 %`, `-20 to 0 %`; one decimal, none from 100 on."""
    if _signed(low) == _signed(high):
        return f"{_signed(low)} %"
    if _signed(-low) == _signed(high):
        return f"±{_signed(high).lstrip('+')} %"
    return f"{_signed(low)} to {_signed(high)} %"


def _signed(value: float) -> str:
    text = fixed(value, 0 if abs(value) >= 99.95 else 1)
    if not text.strip("0."):
        return "0"
    return text if value < 0 else f"+{text}"


def in_words(method: Method, step: Step, slip: Slip) -> str:
    """Say which batches change sides through a slip, in the unit of the result; nothing where none does."""
    v = slip.verdict
    if v is None:
        return ""
    unit = viscosity_unit(method, step.name)
    verb = ("fail", "pass") if v.certain else ("may fail", "may pass")

    def batches(*spans: tuple[float, float] | None) -> list[str]:
        return [_stretch(s, unit) for s in spans if s is not None]

    good_spans = (v.good_low, v.good_high)
    good = batches(*([v.good_low] if v.good_low == v.good_high else good_spans))
    bad = batches(v.bad_low, v.bad_high)
    parts = []
    if good:
        parts.append(f"good batches {' and '.join(good)} {verb[0]}")
    if bad:
        parts.append(f"bad batches {' and '.join(bad)} {verb[1]}")
    text = ", ".join(parts)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _stretch(span: tuple[float, float], unit: str) -> str:
    if span[1] == inf:
        return f"above {in_unit(span[0], unit, 3)}"
    if span[0] == 0.0:
        return f"up to {in_unit(span[1], unit, 3)}"
    return f"from {in_unit(span[0], unit, 3).removesuffix(f' {unit}')} to {in_unit(span[1], unit, 3)}"
