"""A slip from the bench to the verdict: what a batch then shows, what is made of it, and whether it passes.

A slip is followed through torque and factor, so that the shift at the limits, the scale's ends and the true
viscosities that would be accepted all come from one place.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf, sqrt

from fillmark.derive.figuring import Inputs, in_unit, percent, viscosity_unit
from fillmark.derive.run import expected_limits
from fillmark.figures import Figures
from fillmark.model import Method, Step
from fillmark.quantities import fixed

COMPUTED, BOUNDS, ESTIMATED, FROM_MEMORY, NOT_KNOWN, RULED_OUT = (
    "computed", "bounds", "estimate", "from memory", "not known", "ruled out",
)  # fmt: skip
"""How far a size can be trusted. An estimate holds to an order of magnitude; what is ruled out gives no number,
so it cannot pass unseen."""


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
    """Result against the same batch without the slip, least and most that can be read (%); None where nothing can."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """Which batches change sides through a slip, in true viscosity (Pa·s): from and to, None where none does.

    Where a slip has a range, these hold for the worst of it.
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
    sure: tuple[bool, bool, bool, bool]
    """Whether each of the four spans is the same over the whole range of the slip."""


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
    shown_by: str = ""
    """What on the paper shows the slip at once, where anything does."""
    amount: tuple[float, str] | None = None
    """How much of it, where the effect grows in proportion: `(1.0, "K")`."""

    @property
    def range(self) -> tuple[float, float] | None:
        """The least and the most shift over all points (%); None where no number is known."""
        shifts = [e.shift for e in self.effects if e.shift is not None]
        return (min(s[0] for s in shifts), max(s[1] for s in shifts)) if shifts else None


Law = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Reading:
    """From a true viscosity (Pa·s) to the torque shown (%), and the factor (Pa·s for each %) used on it."""

    torque: Law
    factor: float

    def result(self, viscosity: float) -> float:
        """Give what is reported (Pa·s) for a true viscosity (Pa·s)."""
        return self.torque(viscosity) * self.factor


@dataclass(frozen=True, slots=True)
class Bench:
    """What every slip of a step needs."""

    method: Method
    figures: Figures
    step: Step
    factor: float
    points: tuple[tuple[str, float], ...]
    limits: tuple[float | None, float | None]
    judged: bool

    def policy(self, key: str) -> float:
        """Give a threshold of the site policy as a number."""
        return self.method.reference.policy[key]

    def text(self, key: str) -> str:
        """Give a threshold of the site policy as written."""
        return self.method.reference.policy.texts[key]

    def reading(self, torque: float = 1.0, factor: float = 1.0, offset: float = 0.0) -> Reading:
        """Make a slip that multiplies the torque, or the factor, or adds to the torque (%)."""
        right = self.factor
        return Reading(lambda viscosity: torque * viscosity / right + offset, factor * right)

    @property
    def coefficient(self) -> float:
        """The coefficient of the spindle on the spring (Pa·s·rpm)."""
        return self.figures["coefficient"].value


def bench(m: Method, figures: Figures, step: Step) -> Bench:
    """Gather what the slips of a step need."""
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
    bounded = (lower is not None or upper is not None) and (lower is None or upper is None or lower < upper)
    judged = limit is not None and bounded
    return Bench(m, figures, step, factor, tuple(points) or (("half", 50 * factor),), (lower, upper), judged)


def row(
    b: Bench, key: str, what: str, low: Reading, high: Reading | None = None, *, why: str, formula: str,
    inputs: Inputs, sources: tuple[str, ...], known: str = COMPUTED, shown_by: str = "",
    amount: tuple[float, str] | None = None,
) -> Slip:  # fmt: skip
    """Make the row of a slip with a size; with two readings of one factor it does anything between them."""
    paths = (low,) if high is None else (low, high)
    effects = tuple(_effect(b, at, viscosity, paths) for at, viscosity in b.points)
    slip = Slip(key, what, "none", known, effects, why, formula, inputs, sources, None, shown_by, amount)
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
    between = paths if high is None else tuple(_between(low, high, share / 20) for share in range(21))
    verdict = _verdict(b, between, nil=direction == "none") if b.judged else None
    return replace(slip, direction=direction, verdict=verdict)


def _between(low: Reading, high: Reading, share: float) -> Reading:
    """Go part of the way from one reading to another that uses the same factor."""
    return Reading(
        lambda viscosity: (1 - share) * low.torque(viscosity) + share * high.torque(viscosity), low.factor
    )


def _effect(b: Bench, at: str, viscosity: float, paths: tuple[Reading, ...]) -> Effect:
    torques = [path.torque(viscosity) for path in paths]
    shown = min(torques), max(torques)
    least, most = _readable(b)
    read = [min(max(torque, least), most) for torque in shown]
    out = shown[1] < least or shown[0] > most
    low, high = (100 * (torque * paths[0].factor / viscosity - 1) for torque in read)
    return Effect(at, viscosity, shown, None if out else (low, high))


def _readable(b: Bench) -> tuple[float, float]:
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


def _verdict(b: Bench, paths: tuple[Reading, ...], *, nil: bool) -> Verdict:
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
    sure = [len(set(kind)) <= 1 for kind in found]
    return Verdict(
        widest[0], widest[1], widest[2], widest[3], (words[0], words[1], words[2], words[3]),
        (sure[0], sure[1], sure[2], sure[3]),
    )  # fmt: skip


def _accepted(b: Bench, path: Reading) -> tuple[float, float]:
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
    # Off the scale a bound is reported; where it lies on the wrong side of the one limit, it decides nothing.
    if upper is None and start > _inverse(path.torque, b.policy("torque_ceiling"), scale):
        return inf, inf
    if lower is None and end < _inverse(path.torque, b.policy("torque_floor"), scale):
        return 0.0, 0.0
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


def unsized(
    key: str, what: str, direction: str, why: str, *sources: str, known: str = NOT_KNOWN, inputs: Inputs = ()
) -> Slip:
    """Make the row of a slip of which only the direction is known."""
    return Slip(key, what, direction, known, (), why, "", inputs, sources)


def spread(low: float, high: float) -> str:
    """Write a shift (%) as people say it: `-2.0 %`, `±1.0 %`, `-20 to 0 %`; one decimal where it tells anything."""
    if _signed(low) == _signed(high):
        return f"{_signed(low)} %"
    if _signed(-low) == _signed(high):
        return f"±{_signed(high).lstrip('+')} %"
    return f"{_signed(low, 9.95)} to {_signed(high, 9.95)} %"


def _signed(value: float, whole_from: float = 99.95) -> str:
    text = fixed(value, 0 if abs(value) >= whole_from else 1)
    if not text.strip("0."):
        return "0"
    return text if value < 0 else f"+{text}"


def in_words(method: Method, step: Step, slip: Slip) -> str:
    """Say which batches change sides through a slip, in the unit of the result; nothing where none does."""
    v = slip.verdict
    if v is None:
        return ""
    unit = viscosity_unit(method, step.name)
    parts = []
    good = (v.good_low,) if v.good_low == v.good_high else (v.good_low, v.good_high)
    for word, verb, spans, sure in (
        ("good", "fail", good, v.sure[1] and v.sure[2]),
        ("bad", "pass", (v.bad_low, v.bad_high), v.sure[0] and v.sure[3]),
    ):
        stretches = [_stretch(span, unit) for span in spans if span is not None]
        if stretches:
            parts.append(
                f"{word} batches {' and '.join(stretches)} {'' if sure and slip.known != ESTIMATED else 'may '}{verb}"
            )
    text = ", ".join(parts)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _stretch(span: tuple[float, float], unit: str) -> str:
    """Write a span with as many digits as tell its ends apart, three at least."""
    if span[1] == inf:
        return f"above {in_unit(span[0], unit, 3)}"
    if span[0] == 0.0:
        return f"up to {in_unit(span[1], unit, 3)}"
    digits = next((d for d in range(3, 9) if in_unit(span[0], unit, d) != in_unit(span[1], unit, d)), 9)
    return (
        f"from {in_unit(span[0], unit, digits).removesuffix(f' {unit}')} to {in_unit(span[1], unit, digits)}"
    )
