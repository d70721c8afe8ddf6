"""Whether the spring can read what the specification asks for, and whether the flow is laminar."""

from collections.abc import Iterator
from math import ceil, floor, log10

from fillmark.choices import ways_out
from fillmark.diagnostics import Path, Related, Severity
from fillmark.figures import Figures
from fillmark.model import Method, Step
from fillmark.quantities import Quantity, brief, express, fixed, show, sig
from fillmark.rules import ADVICE, ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule

_EDGE = 1e-9
"""Slack, so that 100 % worked out in binary fractions is not more than 100 %."""


def _percent(value: float) -> str:
    """Write a torque with one decimal, and far off the scale with none."""
    return f"{fixed(value, 1 if abs(value) < 1000 else 0)} %"


def _bound(value: float) -> str:
    """Write a threshold of the site policy: `10 %`."""
    return f"{brief(value)} %"


def _viscosity(f: Figures, step: Step, value: float) -> str:
    """Write a viscosity in the unit the step is shown in."""
    return show(value, "viscosity", f[f"run.{step.name}.full_scale"].unit)


def _spring(m: Method, share: float) -> str:
    """Write the full-scale torque of a spring that is so many times the method's."""
    return show(m.instrument.spring.full_scale.value * share, "torque", "µN·m")


def _micro(m: Method, share: float) -> str:
    """Write the same rounded down to two digits."""
    return f"{_down(express(m.instrument.spring.full_scale.value * share, 'µN·m'))} µN·m"


def _stronger(m: Method, share: float) -> str:
    """Say that a spring so many times as strong would do, or that there is none for this spindle and guard."""
    torque = m.instrument.spring.full_scale.value * share
    if any(s >= torque for s in _springs(m)):
        grid = 10.0 ** (floor(log10(torque)) - 2)
        shown = show(ceil(torque / grid - _EDGE) * grid, "torque", "µN·m")
        return f"Use a spring of {shown} or more: the flow stays as it is."
    return (
        f"Use a smaller spindle, or turn slower: no spring for {m.spindle.key} as it hangs here is so strong."
    )


def _weaker(m: Method, share: float) -> str:
    """Say that a spring so many times as strong would do, or that there is none for this spindle and guard."""
    torque = m.instrument.spring.full_scale.value * share
    if torque > 0 and any(s <= torque for s in _springs(m)):
        grid = 10.0 ** (floor(log10(torque)) - 2)
        shown = show(floor(torque / grid + _EDGE) * grid, "torque", "µN·m")
        return f"Use a spring of {shown} or less: the flow stays as it is."
    return (
        "Use a larger spindle, a cup with a narrow gap, or turn faster: no spring for "
        f"{m.spindle.key} as it hangs here is so weak."
    )


def _springs(m: Method) -> list[float]:
    """List the springs (N·m) on which the spindle can hang as the method has it, guard included."""
    return [
        s.full_scale.value
        for s in m.reference.springs.values()
        if s.key in m.spindle.springs and (s.takes_guard or not m.guarded)
    ]


def _raised(m: Method, f: Figures, step: Step, value: float, why: str) -> str:
    """Say to what the lower limit (Pa·s) would have to rise, where that stays below the upper one."""
    torque = f.value(f"run.{step.name}.torque_upper")
    upper = None if torque is None else torque / 100 * f[f"run.{step.name}.full_scale"].value
    if upper is None or value < upper:
        return f"Raise the lower limit to {_viscosity(f, step, value)}{why}"
    return "Measure it in another geometry, made for products as thin as this one: a limit cannot mend it."


def _lowered(m: Method, f: Figures, step: Step, value: float, why: str) -> str:
    """Say to what the upper limit (Pa·s) would have to fall, where that stays above the lower one."""
    torque = f.value(f"run.{step.name}.torque_lower")
    lower = None if torque is None else torque / 100 * f[f"run.{step.name}.full_scale"].value
    if lower is None or value > lower:
        return f"Lower the upper limit to {_viscosity(f, step, value)}{why}"
    return "Measure it in another geometry, made for products as thick as this one: a limit cannot mend it."


def _room_above(m: Method, f: Figures, step: Step, value: float, torque: float) -> tuple[str, ...]:
    """Offer a set-up on which the upper limit (Pa·s) that takes so much torque (%) leaves the headroom above it."""
    policy = m.reference.policy
    share = torque * (1 + policy["headroom"] / 100) / policy["torque_ceiling"]
    lowered = _lowered(m, f, step, value / share, ", the most that leaves room above.")
    return ways_out(m, step, _stronger(m, share), lowered)


def _limit(m: Method, f: Figures, step: Step, which: str) -> tuple[float, str, tuple[Related, ...]]:
    """Give a limit of a step (Pa·s), how to call it, and where it stands."""
    torque = f[f"run.{step.name}.torque_{which}"]
    value = torque.value / 100 * f[f"run.{step.name}.full_scale"].value
    place = torque.inputs[0][1]
    own = m.limit(step.name)
    bound: Quantity | None = None
    if own is not None:
        bound = own.lower if which == "lower" else own.upper
    if bound is not None:
        text = f"the {which} limit of {bound.text}"
    else:
        text = f"the {_viscosity(f, step, value)} at the {which} limit of the ratio"
    related = () if isinstance(place, str) else (Related(text, place),)
    return value, text, related


def _missing(f: Figures, step: Step, which: str) -> NotJudged | None:
    """Give the reason where the torque at a limit is open."""
    reason = f.open.get(f"run.{step.name}.torque_{which}")
    return None if reason is None else NotJudged(reason)


def _speed(step: Step) -> Path:
    return (*step.path, "speed")


@rule(
    "TRQ01",
    ERROR,
    waivable=False,
    sources=("definition", "common-practice"),
    example=Example("LMT-VIS-021", right="upper: 130 Pa·s", wrong="upper: 210 Pa·s", at="speed: 5 rpm"),
)
def upper_limit_off_the_scale(m: Method, f: Figures) -> Iterator[Outcome]:
    """The upper limit asks for more than 100 % of the spring.

    The spring stands at its stop before a batch that conforms can be read: good batches come out as over
    range, and 100 % taken down for them is too low.

    Never: no waiver makes a spring stronger.
    """
    ceiling = m.reference.policy["torque_ceiling"]
    for step in m.run:
        missing = _missing(f, step, "upper")
        if missing is not None:
            yield missing
            continue
        torque = f[f"run.{step.name}.torque_upper"].value
        if torque <= ceiling + _EDGE:
            continue
        value, limit, related = _limit(m, f, step, "upper")
        top = f[f"run.{step.name}.full_scale"].value * ceiling / 100
        yield Finding(
            _speed(step),
            f"At {step.speed.text} {limit} takes {_percent(torque)} of the spring, "
            f"{_percent(torque - ceiling)} over the scale. Good batches above {_viscosity(f, step, top)} "
            f"cannot be read; written down as {_bound(ceiling)} they are too low.",
            _room_above(m, f, step, value, torque),
            related,
        )


@rule(
    "TRQ02",
    ERROR,
    sources=("common-practice",),
    example=Example("LMT-VIS-021", right="upper: 130 Pa·s", wrong="upper: 197 Pa·s", at="speed: 5 rpm"),
)
def upper_limit_off_the_scale_at_worst(m: Method, f: Figures) -> Iterator[Outcome]:
    """The upper limit goes over 100 % of the spring once temperature and instrument stand at their edge.

    On a cold day or on an instrument at the edge of its accuracy the best batches of the upper end come out
    as over range; written down as 100 % they are too low.

    Where the product has never come near the upper limit and a run over the scale is repeated warmer.
    """
    ceiling = m.reference.policy["torque_ceiling"]
    accuracy = f["accuracy"].value
    for step in m.run:
        key = f"run.{step.name}.torque_upper"
        torque, worst = f.value(key), f.value(key + "_worst")
        if torque is None or worst is None or torque > ceiling + _EDGE or worst <= ceiling + _EDGE:
            continue
        value, limit, related = _limit(m, f, step, "upper")
        readable = value * (ceiling - accuracy) / (worst - accuracy)
        yield Finding(
            _speed(step),
            f"At {step.speed.text} {limit} takes {_percent(torque)} of the spring, and {_percent(worst)} "
            "with the temperature and the instrument at the edge of their tolerances: "
            f"{_percent(worst - ceiling)} over the scale. Good batches above {_viscosity(f, step, readable)} "
            f"may come out as over range, or too low if {_bound(ceiling)} is written down.",
            _room_above(m, f, step, value, torque),
            related,
        )


@rule(
    "TRQ03",
    ERROR,
    sources=("common-practice",),
    example=Example("LMT-VIS-021", right="lower: 70 Pa·s", wrong="lower: 20 Pa·s", at="speed: 5 rpm"),
)
def lower_limit_under_the_floor(m: Method, f: Figures) -> Iterator[Outcome]:
    """The lower limit lies, at worst, under the torque from which readings count as accurate.

    The instrument's tolerance is a share of full scale, so at a tenth of the scale it is a tenth of the
    reading: a batch at the lower limit reads that much high or low, and a ratio built on it is noise.

    For a test that only asks whether there is any viscosity at all, with the reason written down.
    """
    floor, preferred = m.reference.policy["torque_floor"], m.reference.policy["torque_preferred"]
    for step in m.run:
        missing = _missing(f, step, "lower")
        if missing is not None:
            yield missing
            continue
        torque = f[f"run.{step.name}.torque_lower"].value
        worst = f[f"run.{step.name}.torque_lower_worst"].value
        if worst >= floor - _EDGE:
            continue
        value, limit, related = _limit(m, f, step, "lower")
        ratios = [line for line in m.report if line.ratio is not None and step.name in line.ratio]
        built = "".join(f" The ratio {line.result} rests on this reading." for line in ratios)
        yield Finding(
            _speed(step),
            f"At {step.speed.text} {limit} takes {_little(torque)} of the spring, {_at_worst(worst, floor)}. "
            f"{_share_of_reading(f, torque)}.{built}",
            ways_out(
                m,
                step,
                _weaker(m, torque / preferred),
                _raised(
                    m,
                    f,
                    step,
                    value * preferred / max(torque, 1e-9),
                    f", {_bound(preferred)} of this spring.",
                )
                if torque > 0
                else f"Set a lower limit above 0, at {_bound(preferred)} of this spring.",
            ),
            related + tuple(Related(f"{line.result} is built on it", line.path) for line in ratios),
        )


def _little(torque: float) -> str:
    return _percent(torque) if torque >= 0.05 else "less than 0.1 %"


def _at_worst(worst: float, floor: float) -> str:
    if worst <= 0:
        return f"and at worst nothing is left of it; the floor is {_bound(floor)}"
    return f"and {_percent(worst)} at worst: {_percent(floor - worst)} under the floor of {_bound(floor)}"


def _share_of_reading(f: Figures, torque: float) -> str:
    accuracy = f["accuracy"]
    if torque <= accuracy.value:
        return f"The instrument's {accuracy.text} is all of the reading there, high or low"
    return f"There {accuracy.text} is ± {sig(100 * accuracy.value / torque, 2)} % of the reading, high or low"


@rule(
    "TRQ04",
    WARNING,
    sources=("common-practice", "project-decision"),
    example=Example("LMT-VIS-021", right="lower: 70 Pa·s", wrong="lower: 30 Pa·s", at="speed: 5 rpm"),
)
def lower_limit_barely_read(m: Method, f: Figures) -> Iterator[Outcome]:
    """The lower limit lies under the preferred torque, or a batch below it would fall under the floor.

    Between a tenth and a fifth of the scale the instrument takes five to ten per cent of the reading, high
    or low, and a batch that fails cannot be told by how much.

    Where the specification is wide against the instrument's tolerance and no better spindle is at hand.
    """
    policy = m.reference.policy
    floor, preferred, headroom = (policy[k] for k in ("torque_floor", "torque_preferred", "headroom"))
    for step in m.run:
        torque = f.value(f"run.{step.name}.torque_lower")
        worst = f.value(f"run.{step.name}.torque_lower_worst")
        if torque is None or worst is None or worst < floor - _EDGE:
            continue
        below = torque / (1 + headroom / 100)
        if torque >= preferred - _EDGE and below >= floor - _EDGE:
            continue
        value, limit, related = _limit(m, f, step, "lower")
        lost = ""
        if below < floor:
            lost = f" A batch {brief(headroom)} % below it reads {_percent(below)}, too low to be a number."
        wanted = max(preferred, floor * (1 + headroom / 100))
        yield Finding(
            _speed(step),
            f"At {step.speed.text} {limit} takes {_percent(torque)} of the spring, "
            f"{_percent(wanted - torque)} under the {_bound(wanted)} preferred. "
            f"{_share_of_reading(f, torque)}.{lost}",
            ways_out(
                m,
                step,
                _weaker(m, torque / wanted),
                _raised(m, f, step, value * wanted / torque, " if the product allows."),
                comfort=1,
            ),
            related,
        )


@rule(
    "TRQ05",
    WARNING,
    sources=("project-decision",),
    example=Example("LMT-VIS-021", right="upper: 130 Pa·s", wrong="upper: 180 Pa·s", at="speed: 5 rpm"),
)
def no_room_above_the_upper_limit(m: Method, f: Figures) -> Iterator[Outcome]:
    """A batch somewhat above the upper limit would be off the scale.

    It fails, but nobody learns by how much: it is reported as a bound, lower than it is, and the trend of
    the process ends just where it matters.

    Where a failing batch is measured again by another method that reaches higher.
    """
    ceiling, headroom = m.reference.policy["torque_ceiling"], m.reference.policy["headroom"]
    for step in m.run:
        torque = f.value(f"run.{step.name}.torque_upper")
        worst = f.value(f"run.{step.name}.torque_upper_worst")
        if torque is None or worst is None or worst > ceiling + _EDGE:
            continue
        above = torque * (1 + headroom / 100)
        if above <= ceiling + _EDGE:
            continue
        value, limit, related = _limit(m, f, step, "upper")
        bound = f[f"run.{step.name}.above_bound"].text
        yield Finding(
            _speed(step),
            f"At {step.speed.text} {limit} takes {_percent(torque)} of the spring; a batch {brief(headroom)} "
            f"% above it would ask for {_percent(above)}, {_percent(above - ceiling)} over the scale. It is "
            f"reported as {bound}, lower than it is.",
            ways_out(
                m,
                step,
                _stronger(m, above / ceiling),
                _lowered(m, f, step, value * ceiling / above, " if the product allows."),
                comfort=1,
            ),
            related,
        )


@rule(
    "TRQ06",
    ADVICE,
    sources=("project-decision",),
    example=Example(
        "LMT-VIS-021",
        right="lower: 70 Pa·s, target: 100 Pa·s, upper: 130 Pa·s",
        wrong="lower: 42 Pa·s, target: 55 Pa·s, upper: 68 Pa·s",
        at="speed: 5 rpm",
    ),
)
def target_outside_the_best_zone(m: Method, f: Figures) -> Iterator[Outcome]:
    """The target reads outside the part of the scale that serves best.

    Low on the scale the instrument's tolerance weighs more than it need, high or low; near its top there is
    little room for the batch that fails.

    Where no other combination of the laboratory does better.
    """
    low, high = m.reference.policy["best_zone_lower"], m.reference.policy["best_zone_upper"]
    others = (
        upper_limit_off_the_scale,
        upper_limit_off_the_scale_at_worst,
        lower_limit_under_the_floor,
        lower_limit_barely_read,
        no_room_above_the_upper_limit,
        instrument_decides,
    )
    spoken = {o.path for judge in others for o in judge(m, f) if isinstance(o, Finding)}
    for step in m.run:
        torque = f.value(f"run.{step.name}.torque_target")
        name = "the target"
        if torque is None:
            bounds = [f.value(f"run.{step.name}.torque_{which}") for which in ("lower", "upper")]
            if bounds[0] is None or bounds[1] is None:
                continue
            torque, name = (bounds[0] + bounds[1]) / 2, "the middle of the limits"
        if low - _EDGE <= torque <= high + _EDGE or _speed(step) in spoken:
            continue
        edge = low if torque < low else high
        side = "under" if torque < low else "over"
        yield Finding(
            _speed(step),
            f"At {step.speed.text} {name} takes {_percent(torque)} of the spring, "
            f"{_percent(abs(edge - torque))} {side} the zone of {_bound(low)} to {_bound(high)} that serves "
            f"best. {_share_of_reading(f, torque)}.",
            ways_out(
                m,
                step,
                f"Use a spring nearer to {_spring(m, torque / 55)}: the flow stays as it is.",
                "Leave it as it is: every limit reads within "
                f"{_bound(m.reference.policy['torque_preferred'])} to "
                f"{_bound(m.reference.policy['torque_ceiling'])} of this spring.",
                comfort=2,
            ),
        )


@rule(
    "TRQ07",
    ERROR,
    sources=("jcgm-106", "project-decision"),
    example=Example(
        "TGF-VIS-003",
        right="stand: fine-height}",
        wrong="stand: fine-height, accuracy: 4 % of full scale}",
        at="speed: 10 rpm",
    ),
)
def instrument_decides(m: Method, f: Figures) -> Iterator[Outcome]:
    """The instrument's tolerance takes too much of the specification.

    Near the limits it is then the instrument that passes or fails a batch, and two good instruments can
    disagree about the same one, high or low.

    Where the limits are history and a tighter instrument cannot be had; then use guarded limits.
    """
    policy = m.reference.policy
    least, wanted = policy["instrument_ratio_error"], policy["instrument_ratio_warning"]
    for step in m.run:
        ratio = f.value(f"run.{step.name}.instrument_ratio")
        limit = m.limit(step.name)
        if (
            ratio is None
            or ratio >= wanted - _EDGE
            or limit is None
            or limit.lower is None
            or limit.upper is None
        ):
            continue
        half = (limit.upper.value - limit.lower.value) / 2
        tolerance = f[f"run.{step.name}.tolerance"]
        full = f[f"run.{step.name}.full_scale"].value
        yield Finding(
            _speed(step),
            f"The specification leaves ± {_viscosity(f, step, half)} and the instrument takes "
            f"{tolerance.text} of it ({f['accuracy'].text}): a ratio of {sig(ratio, 3)}, where "
            f"{brief(wanted)} is wanted and {brief(least)} the least. Near a limit the instrument decides, "
            "high or low.",
            ways_out(
                m,
                step,
                f"{_finer(f['accuracy'].value * ratio / wanted)} on a full scale of "
                f"{_viscosity(f, step, full * ratio / wanted)} or less.",
                f"Widen the specification to ± {_viscosity(f, step, tolerance.value * wanted)} if the "
                "product allows.",
                comfort=1,
            ),
            (Related(f"the limits, {limit.lower.text} to {limit.upper.text}", limit.path),),
            severity=ERROR if ratio < least - _EDGE else WARNING,
        )


def _finer(accuracy: float) -> str:
    """Begin the way out by an instrument of so many percent of full scale, where such are made."""
    return (
        f"Use an instrument of ± {sig(accuracy, 2)} % of full scale, or read" if accuracy >= 0.2 else "Read"
    )


@rule(
    "TRQ08",
    ERROR,
    waivable=False,
    sources=("definition",),
    example=Example(
        "TGF-VIS-003", right="speed: 10 rpm, read", wrong="speed: 10 rpm, factor: 240 mPa·s/%, read"
    ),
)
def stated_figure_wrong(m: Method, f: Figures) -> Iterator[Outcome]:
    """A factor or a full-scale viscosity typed into the method is not what coefficient and speed give.

    Whoever works a result out with it is off by the same share on every batch: high where the typed figure
    is high, low where it is low.

    Never: both figures follow from the coefficient and the speed.
    """
    allowed = m.reference.policy["stated_figure"]
    for step in m.run:
        wrong = []
        for name, stated in (("factor", step.factor), ("full_scale", step.full_scale)):
            if stated is None:
                continue
            right = f[f"run.{step.name}.{name}"].value
            off = 100 * (stated.value / right - 1)
            if abs(off) > allowed:
                wrong.append((name, stated, express(right, stated.unit), off))
        if not wrong:
            continue
        name, stated, right, off = wrong[0]
        digits = f"{brief(right, 4)} {stated.unit}"
        yield Finding(
            (*step.path, name),
            f"{stated.text} is written; {f['coefficient'].text} at {step.speed.text} give {digits}. Results "
            f"worked out with it read {sig(abs(off), 2)} % {'high' if off > 0 else 'low'}.",
            (
                f"Write {name}: {digits}.",
                f"Or take it out: {digits} is computed and printed without it.",
            ),
            (
                Related(f"the speed, {step.speed.text}", _speed(step)),
                *(
                    Related(f"{s.text} is off by {sig(abs(o), 2)} % too", (*step.path, n))
                    for n, s, _, o in wrong[1:]
                ),
            ),
        )


@rule(
    "TRQ09",
    WARNING,
    sources=("rheology-text", "taylor-onset", "from-memory"),
    example=Example("BBM-VIS-007", right="fluid: REF-300", wrong="fluid: REF-400", at="speed: 50 rpm"),
)
def flow_not_laminar(m: Method, f: Figures) -> Iterator[Outcome]:
    """At the lower limit the liquid may no longer flow in rings: swirls round a disc, vortices in a gap.

    They take power that the coefficient does not know of, so thin batches read high, the more the thinner.

    When the daily check at this step, with this spindle, uses a reference fluid no thicker than the lower
    limit: if that reads true, so does the product. Past the outer bound nothing sets it aside but a waiver.
    """
    for step in m.run:
        key = f"run.{step.name}."
        if key + "reynolds" in f.open or key + "vortex_viscosity" in f.open:
            yield NotJudged(f"the flow of step {step.name}: the density is not given")
            continue
        if key + "torque_lower" not in f:
            continue
        value, limit, related = _limit(m, f, step, "lower")
        found = _disc(m, f, step) if key + "reynolds" in f else _gap(m, f, step, value)
        if found is None:
            continue
        message, share, severity = found
        check = m.verification
        shown = (
            check is not None
            and check.at == step.name
            and (check.spindle is None or check.spindle.key == m.spindle.key)
            and check.fluid.viscosity.value <= value
        )
        if shown and severity is WARNING:
            continue
        slow = step.speed.value / share
        preferred = m.reference.policy["torque_preferred"]
        least = f[key + "torque_lower"].value * slow / step.speed.value
        slower = (
            f"Run at {_down(slow)} rpm or slower, and on a spring of {_micro(m, least / preferred)} or less, "
            f"so that the lower limit still takes {_bound(preferred)}."
            if m.instrument.spring.full_scale.value * least / preferred
            >= min(s.full_scale.value for s in m.reference.springs.values())
            else f"Use a cup with a narrow gap: a run slow enough, at {_down(slow)} rpm, reads too low on any "
            "spring."
        )
        proof = (
            f"Check at this step with a reference fluid of {_viscosity(f, step, value)} or less: if it reads "
            "true, so does the product."
        )
        other = (
            proof
            if severity is WARNING
            else _raised(m, f, step, value * share, ", the thinnest that flows in rings.")
        )
        yield Finding(
            _speed(step),
            f"At {step.speed.text} and {limit} {message}",
            (
                ways_out(m, step, slower, "", comfort=1)[0],
                other,
            ),
            related,
            severity,
        )


def _down(value: float) -> str:
    """Write a number rounded down to two digits: 49.6 becomes `49`."""
    grid = 10.0 ** (floor(log10(value)) - 1)
    return brief(floor(value / grid + 1e-9) * grid, 2)


def _disc(m: Method, f: Figures, step: Step) -> tuple[str, float, Severity] | None:
    """Judge an open spindle: what to say, how many times too fast, and how bad."""
    number = f[f"run.{step.name}.reynolds"].value
    first, outer = m.reference.policy["reynolds_warning"], m.reference.policy["reynolds_error"]
    if number <= first:
        return None
    says = f"the Reynolds number is {sig(number, 3)}; from {brief(first)} on the liquid may swirl"
    if number > outer:
        return f"{says}, and past {brief(outer)} it does: thin batches read high.", number / first, ERROR
    return f"{says}, and thin batches then read high.", number / first, WARNING


def _gap(m: Method, f: Figures, step: Step, viscosity: float) -> tuple[str, float, Severity] | None:
    """Judge a gap between cylinders: what to say, how many times too fast, and how bad."""
    least = f.value(f"run.{step.name}.vortex_viscosity")
    if least is None:
        return None
    share, allowed = least / viscosity, m.reference.policy["vortex_share"] / 100
    if share < allowed:
        return None
    says = f"vortices set in below {_viscosity(f, step, least)}, {sig(100 * share, 3)} % of the limit"
    if share >= 1:
        return f"{says}: thin batches read high.", share / allowed, ERROR
    return (
        f"{says}, where {brief(100 * allowed)} % is allowed: close by, and past it batches read high.",
        (share / allowed),
        WARNING,
    )


@rule(
    "TRQ10",
    WARNING,
    sources=("rheology-text", "iso-3219"),
    example=Example(
        "MCW-VIS-014", right="speed: 20 rpm, read", wrong="speed: 20 rpm, shear_rate: 4.2 1/s, read"
    ),
)
def shear_rate_of_an_open_spindle(m: Method, f: Figures) -> Iterator[Outcome]:
    """A shear rate is stated for a spindle that has none.

    Round a disc, a bar or a cylinder in a beaker the shear rate differs from place to place and with the
    product; a number set beside the result invites comparison with other instruments, wrong either way.

    Where it is reported as a nominal value that serves comparison within this method only.
    """
    for step in m.run:
        if step.shear_rate is None or f"run.{step.name}.shear_rate" in f:
            continue
        if m.spindle.kind in ("chamber-cylinder", "coaxial-cylinder", "cone"):
            yield NotJudged(f"the shear rate of step {step.name}: the gap of {m.spindle.key} is not known")
            continue
        yield Finding(
            (*step.path, "shear_rate"),
            f"{step.shear_rate.text} is stated for spindle {m.spindle.key}, a {m.spindle.kind} in an open "
            f"container, which has no one shear rate. A comparison at {step.shear_rate.text} with another "
            "geometry goes wrong, high or low.",
            (
                (
                    f"Take it out: spindle {m.spindle.key} and {step.speed.text} say what the product went "
                    "through."
                ),
                (
                    f"Or measure in a chamber, a coaxial or a cone geometry, where {step.shear_rate.text} "
                    "can be set."
                ),
            ),
            (Related(f"the speed, {step.speed.text}", _speed(step)),),
        )


@rule(
    "TRQ11",
    WARNING,
    sources=("coaxial-formula", "cone-formula"),
    example=Example("QAP-VIS-002", right="shear_rate: 1.70 1/s", wrong="shear_rate: 1.05 1/s"),
)
def shear_rate_wrong(m: Method, f: Figures) -> Iterator[Outcome]:
    """The shear rate stated for a gap is not what its dimensions and the speed give.

    The result is then compared at the wrong shear rate: a product that thins looks too thin where the
    stated rate is too low, and too thick where it is too high.

    Where the stated rate is one that stands for the whole gap by a convention the report names.
    """
    allowed = m.reference.policy["shear_rate"]
    for step in m.run:
        right = f.value(f"run.{step.name}.shear_rate")
        if step.shear_rate is None or right is None:
            continue
        off = 100 * (step.shear_rate.value / right - 1)
        if abs(off) <= allowed:
            continue
        looks = "thinner" if off < 0 else "thicker"
        yield Finding(
            (*step.path, "shear_rate"),
            f"{step.shear_rate.text} is stated; {m.spindle.key} in {m.container.label} at {step.speed.text} "
            f"gives {sig(right, 3)} 1/s. The statement is {sig(abs(off), 2)} % "
            f"{'low' if off < 0 else 'high'}, so beside others a product that thins looks {looks} than it "
            "is.",
            (
                f"Write shear_rate: {sig(right, 3)} 1/s.",
                (
                    f"Or, if {step.shear_rate.text} is what is meant, set the speed nearest to "
                    f"{sig(step.speed.value * step.shear_rate.value / right, 3)} rpm, and the limits anew."
                ),
            ),
            (Related(f"the speed, {step.speed.text}", _speed(step)),),
        )


@rule(
    "TRQ12",
    WARNING,
    sources=("project-decision",),
    example=Example(
        "BBM-VIS-007",
        right="read: {after: 30 s, lock: true}}",
        wrong="read: {after: 30 s, lock: true}}\n"
        "  - {name: viscosity_20, speed: 20 rpm, read: {after: 30 s, lock: true}}",
        at="viscosity_20",
    ),
)
def torque_cannot_be_judged(m: Method, f: Figures) -> Iterator[Outcome]:
    """A step has no limits of its own and none through a ratio.

    Nobody can say whether it reads at 3 % or at 300 % of the spring: a low reading is noise, high or low, and
    one off the scale is lost.

    Where the step only records what a product does and nothing is decided by it.
    """
    floor, ceiling = m.reference.policy["torque_floor"], m.reference.policy["torque_ceiling"]
    for step in m.run:
        if not all(f"run.{step.name}.torque_{which}" in f.open for which in ("lower", "upper")):
            continue
        if any(line.ratio and step.name in line.ratio and m.limit(line.result) for line in m.report):
            continue
        full = f[f"run.{step.name}.full_scale"]
        least, most = (_viscosity(f, step, full.value * share / 100) for share in (floor, ceiling))
        readable = f"{least} to {most}"
        yield Finding(
            step.path,
            f"Step {step.name} has no limits, so its torque is not known. At {step.speed.text} spindle "
            f"{m.spindle.key} reads {readable}; outside that its number is noise, high or low, or none at "
            "all.",
            (
                f"Give {step.name} limits under specification, within {readable}.",
                f"Or take the step out if nothing between {readable} is decided by it.",
            ),
        )


@rule(
    "TRQ13",
    WARNING,
    sources=("rheology-text", "from-memory"),
    example=Example(
        "TGF-VIS-003",
        right="run:\n",
        wrong="run:\n  - {name: viscosity_slow, speed: 0.8 rpm, read: {revolutions: 5 rev}}\n",
        at="viscosity_slow",
        also=("TRQ12",),
    ),
)
def wall_slip(m: Method, f: Figures) -> Iterator[Outcome]:
    """A product with a yield stress is read very slowly with a smooth spindle.

    It may slide on a film of its own liquid instead of being sheared: the reading is low, steady and
    repeatable, and says nothing of the product.

    Where a rough or a bar-shaped spindle has been shown to read the same.
    """
    limit = m.reference.policy["slip_speed"]
    if m.product.behaviour != "yield-stress" or m.spindle.kind == "bar":
        return
    for step in m.run:
        if step.speed.value >= limit:
            continue
        yield Finding(
            _speed(step),
            f"{step.speed.text} with the smooth {m.spindle.kind} {m.spindle.key}: below {brief(limit)} rpm a "
            "product with a yield stress may slide on the metal, and then reads low.",
            (
                f"Run at {brief(limit)} rpm or faster and set the limits anew.",
                (
                    f"Or use a bar on a helical stand at {step.speed.text}: it meets fresh product on every "
                    "turn."
                ),
            ),
            (Related(f"behaviour: {m.product.behaviour}", (*m.product.path, "behaviour")),),
        )
