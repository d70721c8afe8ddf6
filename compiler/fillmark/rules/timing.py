"""When the reading is taken, and how long the sample has stood by then."""

from collections.abc import Iterator
from math import ceil

from fillmark.choices import ways_out
from fillmark.diagnostics import Related
from fillmark.figures import Figures
from fillmark.model import Method, Step
from fillmark.quantities import brief, fixed, show
from fillmark.rules import ADVICE, ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule


def _turns(value: float) -> str:
    """Write a number of turns: `1 revolution`, `2.5 revolutions`."""
    text = brief(value)
    return f"{text} revolution{'' if text == '1' else 's'}"


def _seconds(value: float) -> str:
    return f"{brief(value)} s" if value < 1000 else f"{fixed(value, 0)} s"


def _up(value: float) -> str:
    """Write a time rounded up to what a bench clock is set to: 14.8 becomes `15 s`, 123 becomes `125 s`."""
    raised = _raised(value)
    return f"{raised // 60} min" if value > 3600 else f"{raised} s"


def _raised(value: float) -> int:
    grid = 60 if value > 3600 else 1 if value <= 20 else 5
    return ceil(value / grid - 1e-9) * grid


def _contradiction(m: Method, step: Step) -> tuple[float, float] | None:
    """Give the two moments (s) of a step that names time and turns which do not agree."""
    if step.read.after is None or step.read.revolutions is None:
        return None
    by_turns = 60 * step.read.revolutions.value / step.speed.value
    off = abs(step.read.after.value - by_turns) / by_turns if by_turns else 1.0
    return (step.read.after.value, by_turns) if off > m.reference.policy["read_agreement"] / 100 else None


def _two_rules(m: Method, step: Step) -> bool:
    """Whether a step names more than one moment of reading."""
    fixed_moment = step.read.after is not None or step.read.revolutions is not None
    return _contradiction(m, step) is not None or (fixed_moment and step.read.steady_change is not None)


def _no_rule(step: Step) -> bool:
    read = step.read
    return read.after is None and read.revolutions is None and read.steady_change is None


def _too_early(f: Figures, step: Step) -> bool:
    """Whether the step is read before the spring has wound up."""
    at, need = f.value(f"run.{step.name}.read_at"), f.value(f"run.{step.name}.wind_up")
    return at is not None and need is not None and at < need


@rule(
    "TIM01",
    ERROR,
    waivable=False,
    sources=("common-practice",),
    example=Example("BBM-VIS-007", right="read: {after: 30 s, lock: true}", wrong="read: {lock: true}"),
)
def no_moment_of_reading(m: Method, f: Figures) -> Iterator[Outcome]:
    """A step does not say when it is read.

    Each operator then reads when it pleases: too early for the spring is low, too early for a product that
    still breaks down is high, and two shifts disagree about one batch.

    Never: without a moment there is no method.
    """
    for step in m.run:
        if not _no_rule(step):
            continue
        wait = f[f"run.{step.name}.customary_wait"]
        five = f"{brief(m.reference.policy['revolutions'])} rev"
        yield Finding(
            step.read.path,
            f"Step {step.name} at {step.speed.text} says neither after what time, nor after how many turns, "
            f"nor at what drift it is read. Read before {wait.text} ({five}) it may be low; a product that "
            "breaks down reads high then.",
            (
                f"Write after: {_up(max(wait.value, f.value(f'run.{step.name}.wind_up') or 0.0))}.",
                f"Or write revolutions: {five}, which is {wait.text} at {step.speed.text}.",
            ),
            (Related(f"the speed, {step.speed.text}", (*step.path, "speed")),),
        )


@rule(
    "TIM02",
    ERROR,
    waivable=False,
    sources=("definition", "spring-settling"),
    example=Example(
        "TGF-VIS-003",
        right="read: {after: 30 s, revolutions: 5 rev}",
        wrong="read: {after: 12 s, revolutions: 5 rev}",
    ),
)
def two_moments_of_reading(m: Method, f: Figures) -> Iterator[Outcome]:
    """A step names two moments of reading that are not the same.

    One operator watches the clock, another counts turns. On a product that breaks down the earlier reading is
    the higher; before the spring has wound up it is the lower.

    Never: a contradiction has no right reading.
    """
    for step in m.run:
        if not _two_rules(m, step):
            continue
        moments = _contradiction(m, step)
        if moments is None:
            at = f.text(f"run.{step.name}.read_at")
            drift = step.read.steady_change
            yield Finding(
                step.read.path,
                f"Step {step.name} is read after {at} and also once it moves less than "
                f"{drift.text if drift else '0 %'}. Where the two differ, one reading is high or low against "
                "the other.",
                (
                    f"Keep after {at} and take steady out: everybody reads at the same moment.",
                    f"Or keep steady and take {at} out, if the product settles.",
                ),
            )
            continue
        after, by_turns = moments
        turns = after * step.speed.value / 60
        stated = step.read.revolutions.text if step.read.revolutions else ""
        later, longer = (by_turns, stated) if by_turns > after else (after, _turns(turns))
        yield Finding(
            step.read.path,
            f"Step {step.name} has two moments of reading: {_seconds(after)} at {step.speed.text} is "
            f"{_turns(turns)}, while {stated} is {_seconds(by_turns)}. {_wound_up(m, f, step, min(moments))} "
            f"{_between(m, f, step, min(moments))}",
            (
                f"Read after {_seconds(later)}, which is {longer}, and write only one of the two.",
                f"Or keep {_seconds(min(moments))} alone, and set the limits from readings taken then.",
            ),
            (Related(f"the speed, {step.speed.text}", (*step.path, "speed")),),
        )


def _wound_up(m: Method, f: Figures, step: Step, moment: float) -> str:
    """Say whether the spring itself has wound up at a moment (s)."""
    need = f.value(f"run.{step.name}.wind_up")
    if need is None:
        return "Whether the spring has wound up is not known: the step has no upper limit."
    angle = f"{m.instrument.readout} readout, {f.text('full_scale_angle')}"
    if moment >= need:
        return f"The spring itself has wound up by {_seconds(moment)} (it takes {_seconds(need)}; {angle})."
    return f"The spring itself has not wound up by {_seconds(moment)} (it takes {_seconds(need)}; {angle})."


def _between(m: Method, f: Figures, step: Step, moment: float) -> str:
    """Say which way the earlier of two readings is off."""
    need = f.value(f"run.{step.name}.wind_up")
    if need is not None and moment < need:
        return "The earlier reading is low."
    if m.product.has_history:
        return (
            f"What differs is the product: it is still breaking down at {_seconds(moment)}, so the earlier "
            "reading is high."
        )
    return "Which one is meant is left to the operator."


@rule(
    "TIM03",
    ERROR,
    sources=("spring-settling", "common-practice"),
    example=Example("MCW-VIS-014", right="read: {after: 150 s}", wrong="read: {after: 5 s}"),
)
def read_before_wind_up(m: Method, f: Figures) -> Iterator[Outcome]:
    """A step is read before the spring has wound up to the torque of the product.

    The pointer is still on its way: the reading is low, the lower the stiffer the product, and very
    repeatable, so that no control shows it. How long it takes depends on the turn of the spring.

    Where the limits were set from readings at just this moment, and no other instrument is ever compared.
    """
    for step in m.run:
        key = f"run.{step.name}."
        if _no_rule(step) or _two_rules(m, step):
            continue
        if key + "wind_up" in f.open:
            yield NotJudged(f.open[key + "wind_up"])
            continue
        if not _too_early(f, step):
            continue
        at, need = f[key + "read_at"], f[key + "wind_up"]
        low = 100 - f[key + "fraction"].value
        wait = max(need.value, f[key + "customary_wait"].value)
        turns = wait * step.speed.value / 60
        later = (
            f"Read after {_up(wait)}, {_turns(turns)}, by when the spring has wound up on a dial as well"
            if wait >= f[key + "wind_up_other_readout"].value
            else f"Read after {_up(wait)}, {_turns(turns)}: the spring takes {need.text}"
        )
        other, _ = ways_out(m, step, _stiffer(m, f, step), "")
        yield Finding(
            step.read.path,
            f"Step {step.name} is read after {at.text}, {_seconds(need.value - at.value)} before the spring "
            f"has wound up ({need.text} at the upper limit). A batch there reads {_low(low)} low on this "
            f"{_readout(m.instrument.readout)} ({f.text('full_scale_angle')}); {_other(m, f, step)}.",
            (f"{later}.", other),
            (Related(f"the speed, {step.speed.text}", (*step.path, "speed")),),
        )


def _stiffer(m: Method, f: Figures, step: Step) -> str:
    """Say which spring would be there in time: for one torque a stiffer one turns less."""
    key = f"run.{step.name}."
    at, lower = f[key + "read_at"], f.value(key + "torque_lower")
    share = f[key + "wind_up"].value / at.value if at.value else 0.0
    if share and lower is not None and lower / share >= m.reference.policy["torque_preferred"]:
        torque = show(m.instrument.spring.full_scale.value * share, "torque", "µN·m")
        return f"Use a spring of {torque} or more: it turns less and is there by {at.text}."
    return f"Keep {at.text} as a relative result, with limits set from readings taken then."


def _low(percent: float) -> str:
    return f"{brief(percent, 2)} %"


def _readout(name: str) -> str:
    return "dial" if name == "dial" else "digital readout"


def _other(m: Method, f: Figures, step: Step) -> str:
    """Say how low the other kind of readout would read at the same moment."""
    key = f"run.{step.name}."
    name = "digital" if m.instrument.readout == "dial" else "dial"
    angle = f"{brief(m.reference.policy[f'angle_{name}'])}°"
    need = f[key + "wind_up_other_readout"]
    if f[key + "read_at"].value >= need.value:
        return f"a {_readout(name)} ({angle}) would be there after {need.text}"
    low = 100 - f[key + "fraction_other_readout"].value
    return f"a {_readout(name)} ({angle}) would read {_low(low)} low"


@rule(
    "TIM04",
    WARNING,
    sources=("common-practice", "spring-settling"),
    example=Example("MCW-VIS-014", right="read: {after: 150 s}", wrong="read: {after: 60 s}"),
)
def under_five_revolutions(m: Method, f: Figures) -> Iterator[Outcome]:
    """A step is read before the customary number of revolutions.

    Custom waits five turns so that spring and product both come to rest. Where the spring has wound up
    sooner, what remains is the product: one that breaks down reads high, and an operator who knows the custom
    waits longer than the method says.

    Where the moment comes from a study of the product, or from what its specification has always used.
    """
    wanted = m.reference.policy["revolutions"]
    for step in m.run:
        if (
            _no_rule(step)
            or step.read.steady_change is not None
            or _two_rules(m, step)
            or _too_early(f, step)
        ):
            continue
        if m.product.newtonian and m.instrument.readout == "digital":
            continue
        key = f"run.{step.name}."
        end, wait = f[key + "read_end"], f[key + "customary_wait"]
        counted = step.read.revolutions
        if end.value >= wait.value * (1 - 1e-9) or (counted is not None and counted.value >= wanted):
            continue
        turns = end.value * step.speed.value / 60
        reads = (
            "the product is still breaking down, so it reads high against a later reading"
            if m.product.has_history
            else "a reading that is not steady yet may be high or low"
        )
        yield Finding(
            step.read.path,
            f"{end.text} at {step.speed.text} is {_turns(turns)}, {brief(wanted - turns, 2)} short of the "
            f"{brief(wanted)} of custom ({wait.text}). {_wound_up(m, f, step, end.value)} Short of custom "
            f"{reads}.",
            (
                f"Read after {_up(wait.value)}, which is {_turns(wanted)}.",
                f"Or keep {end.text}, set aside by a study that shows the reading steady by then.",
            ),
            (Related(f"the speed, {step.speed.text}", (*step.path, "speed")),),
        )


@rule(
    "TIM05",
    WARNING,
    sources=("project-decision",),
    example=Example("LMT-VIS-021", right="average: 24 s", wrong="average: 30 s"),
)
def averaged_over_part_of_a_turn(m: Method, f: Figures) -> Iterator[Outcome]:
    """The averaging window is no whole number of revolutions, or less than one.

    A spindle that runs a little out of true makes the reading rise and fall once a turn. Over whole turns
    that averages out; over part of one it leaves the value high or low, as chance has it.

    Where the reading has been shown not to swing at all.
    """
    allowed = m.reference.policy["averaging_share"] / 100
    for step in m.run:
        turns = f.value(f"run.{step.name}.average_turns")
        if turns is None or step.read.average is None:
            continue
        near = max(1, round(turns))
        if abs(turns - near) <= allowed:
            continue
        one = 60 / step.speed.value
        below, above = max(1, int(turns)), max(1, int(turns)) + 1
        yield Finding(
            (*step.read.path, "average"),
            f"{step.read.average.text} at {step.speed.text} is {_turns(turns)}; "
            f"{brief(abs(turns - near), 2)} of a turn stays over, and a spindle out of true leaves the mean "
            "high or low by it.",
            (
                f"Average over {_seconds(below * one)}, which is {_turns(below)}.",
                f"Or over {_seconds(above * one)}, which is {_turns(above)}.",
            ),
            (Related(f"the speed, {step.speed.text}", (*step.path, "speed")),),
        )


@rule(
    "TIM06",
    WARNING,
    sources=("common-practice", "project-decision"),
    example=Example(
        "TGF-VIS-003",
        right="read: {after: 30 s, revolutions: 5 rev}",
        wrong="read: {steady: {change: 0.1 %, over: 10 s, at_most: 120 s}}",
    ),
)
def drift_limit_cannot_be_seen(m: Method, f: Figures) -> Iterator[Outcome]:
    """A drift limit is finer than the readout shows, or watched for less than a turn, or given up too soon.

    Under two steps of the readout one flicker of the last digit breaks it and the run never ends; within
    part of a turn a spindle out of true looks steady where it turns back, high or low; and a wait shorter
    than the wind-up of the spring ends with a reading that is low.

    Where the drift is judged from a record of the readings and not at the bench.
    """
    steps = m.reference.policy["steady_steps"]
    for step in m.run:
        change, over, most = step.read.steady_change, step.read.steady_over, step.read.steady_at_most
        if change is None or over is None or most is None:
            continue
        least = steps * f["resolution"].value
        turn = 60 / step.speed.value
        need = f.value(f"run.{step.name}.wind_up")
        # How long it takes once the stretch it is watched for is a whole turn.
        longest = _raised(max(turn, over.value)) + max(turn, need or 0.0)
        says = []
        if change.value < least * (1 - 1e-9):
            shown = change.value / f["resolution"].value
            says.append(
                f"{change.text} is {brief(shown, 2)} step{'' if shown == 1 else 's'} of the readout "
                f"({f.text('resolution')}), so one flicker breaks it"
            )
        if over.value < turn * (1 - 1e-9):
            says.append(
                f"{over.text} at {step.speed.text} is {brief(over.value / turn, 2)} of a turn, so a swing "
                "looks steady where it turns back, high or low"
            )
        if need is not None and most.value < need + over.value:
            says.append(
                f"{most.text} ends before the spring has wound up ({_seconds(need)}) and been watched for "
                f"{over.text}, so what is written down is low"
            )
        if not says:
            continue
        wanted = (
            f"change: {brief(max(change.value, least))} %, over: {_up(max(over.value, turn))}, at_most: "
            f"{_up(max(most.value, longest))}"
        )
        moment = max(f[f"run.{step.name}.customary_wait"].value, need or 0.0)
        yield Finding(
            (*step.read.path, "steady"),
            f"The drift limit of step {step.name} cannot be seen: {'; '.join(says)}.",
            (f"Write steady: {{{wanted}}}.", f"Or read at a fixed moment, after {_up(moment)}."),
            (Related(f"the speed, {step.speed.text}", (*step.path, "speed")),),
        )


@rule(
    "TIM07",
    WARNING,
    sources=("from-memory", "common-practice"),
    example=Example("BBM-VIS-007", right="read: {after: 30 s, lock: true}", wrong="read: {after: 30 s}"),
)
def moving_pointer_read(m: Method, f: Figures) -> Iterator[Outcome]:
    """A pointer dial that turns fast is read without locking the pointer.

    The dial passes the eye several times a minute: it is read askew or a step off, high or low, and each
    operator has a way of their own.

    Where a camera or a strobe reads the dial.
    """
    fast = m.reference.policy["dial_lock_speed"]
    if m.instrument.readout != "dial":
        return
    for step in m.run:
        if step.speed.value < fast or step.read.lock:
            continue
        slip = f[f"run.{step.name}.resolution"]
        yield Finding(
            step.read.path,
            f"At {step.speed.text} the dial turns once in {_seconds(60 / step.speed.value)}; from "
            f"{brief(fast)} rpm on a moving pointer is read a step off, {slip.text} high or low.",
            (
                (
                    f"Write lock: true: lock the pointer, stop within one {_seconds(60 / step.speed.value)} "
                    "turn, read, release."
                ),
                f"Or run below {brief(fast)} rpm and set the limits anew.",
            ),
            (Related(f"the speed, {step.speed.text}", (*step.path, "speed")),),
        )


@rule(
    "TIM08",
    WARNING,
    sources=("rheology-text", "project-decision"),
    example=Example(
        "MCW-VIS-014",
        right="read: {after: 150 s}",
        wrong="read: {steady: {change: 0.2 %, over: 60 s, at_most: 300 s}}",
    ),
)
def steady_reading_of_a_product_that_never_settles(m: Method, f: Figures) -> Iterator[Outcome]:
    """A thixotropic product is read once it has settled.

    It goes on breaking down; the drift limit only says where on the way down to stop. A batch that breaks
    down slower passes the limit sooner and reads high, and no two runs stop at the same moment.

    Where the plateau is the property wanted, and a study shows it is reached within the time allowed.
    """
    if m.product.behaviour != "thixotropic":
        return
    for step in m.run:
        change, over, most = step.read.steady_change, step.read.steady_over, step.read.steady_at_most
        if change is None or over is None or most is None or _two_rules(m, step):
            continue
        drift = change.value / 100 * f[f"run.{step.name}.full_scale"].value
        unit = f[f"run.{step.name}.full_scale"].unit
        moment = max(f[f"run.{step.name}.customary_wait"].value, f.value(f"run.{step.name}.wind_up") or 0.0)
        yield Finding(
            (*step.read.path, "steady"),
            f"A thixotropic product never settles: it may still fall by {show(drift, 'viscosity', unit)} "
            f"({change.text} of full scale) in every {over.text} and count as steady. Stopped early on the "
            "way down it reads high.",
            (
                f"Read at a fixed moment, after {_up(moment)} or what your study gives.",
                f"Or shear it first to its plateau (preshear), and show that it is there within {most.text}.",
            ),
            (Related(f"behaviour: {m.product.behaviour}", (*m.product.path, "behaviour")),),
        )


@rule(
    "TIM09",
    ADVICE,
    sources=("project-decision",),
    example=Example("QAP-VIS-002", right="rest: 5 min", wrong="rest: 15 min", at="count: 3"),
)
def long_at_the_bench(m: Method, f: Figures) -> Iterator[Outcome]:
    """One result keeps the operator at the instrument for long.

    What takes long gets shortened on a busy day: a rest skipped reads low on a product that builds up, a
    reading taken early reads high on one that breaks down.

    Where the instrument runs by itself and only the loading needs a hand.
    """
    total, allowed = f["bench_time"], m.reference.policy["bench_time"]
    if total.value <= allowed:
        return
    replicates = m.replicates
    rest = m.sample.rest
    longest = max(m.run, key=lambda s: f[f"run.{s.name}.read_end"].value)
    rests = f"{replicates.count} times a rest of {rest.text}" if rest is not None else "no rest"
    yield Finding(
        (*replicates.path, "count"),
        f"One result takes {total.text} at the instrument ({rests}, and "
        f"{f.text(f'run.{longest.name}.read_end')} for step {longest.name}), "
        f"{fixed((total.value - allowed) / 60, 0)} min over the {fixed(allowed / 60, 0)} min that people "
        "keep to. A rest or a wait cut short reads high or low.",
        (
            f"Let the {replicates.count} loadings rest side by side, so that the rest is waited for once."
            if replicates.count > 1 and rest is not None
            else f"Shorten the rest of {rest.text}, if the product allows."
            if rest is not None and rest.value > f[f"run.{longest.name}.read_end"].value
            else f"Run a faster speed: step {longest.name} takes most of it.",
            (
                f"Or raise bench_time in the site policy above {fixed(total.value / 60, 0)} min, if nobody "
                "has to wait."
            ),
        ),
    )


@rule(
    "TIM10",
    WARNING,
    sources=("rheology-text", "common-practice"),
    example=Example("MCW-VIS-014", right="  rest: 5 min\n", wrong="", at="volume: 500 mL"),
)
def no_rest_before_the_run(m: Method, f: Figures) -> Iterator[Outcome]:
    """A product with a memory has no rest between loading and motor start.

    Filling and lowering the spindle break it down; it builds up again at its own pace. Started at once it
    reads low, started after a break it reads higher.

    Where every run begins with a preshear that wipes out what came before.
    """
    if not m.product.has_history or m.sample.rest is not None:
        return
    if m.run[0].preshear is not None:
        return
    yield Finding(
        m.sample.path,
        f"{m.product.name} is {m.product.behaviour} and the method gives 0 min of rest between loading and "
        "motor start: started at once it reads low, started later higher.",
        (
            "Write rest under sample, a time your study gives; 5 min is a common first guess.",
            f"Or begin with a preshear before {m.run[0].name}, at {m.run[0].speed.text} or faster.",
        ),
        (Related(f"behaviour: {m.product.behaviour}", (*m.product.path, "behaviour")),),
    )


@rule(
    "TIM11",
    WARNING,
    sources=("rheology-text", "common-practice"),
    example=Example("TGF-VIS-003", right="  age: 24 h ± 4 h\n", wrong="", at="volume: 500 mL"),
)
def no_age_of_the_sample(m: Method, f: Figures) -> Iterator[Outcome]:
    """A product with a memory may be tested at any age.

    Its structure grows for hours or days after making: tested fresh it reads low, and the difference between
    two batches may be the hour of the day.

    Where the product has been shown not to change between making and the end of its shelf life.
    """
    if not m.product.has_history or m.sample.age is not None:
        return
    yield Finding(
        m.sample.path,
        f"{m.product.name} is {m.product.behaviour} and no age at the test is given. Tested after 1 h it "
        "reads low against the same batch after 24 h, as its structure still builds up.",
        (
            "Write age under sample, such as 24 h ± 2 h.",
            "Or show that 1 h and 24 h read the same, and set this aside with that study.",
        ),
        (Related(f"behaviour: {m.product.behaviour}", (*m.product.path, "behaviour")),),
    )


@rule(
    "TIM12",
    ERROR,
    sources=("project-decision",),
    example=Example(
        "BBM-VIS-007",
        right="  heat_capacity: 3.9 kJ/(kg·K)",
        wrong="  heat_capacity: 3.9 kJ/(kg·K)\n  pot_life: 20 min",
        at="pot_life",
    ),
)
def pot_life_used_up(m: Method, f: Figures) -> Iterator[Outcome]:
    """A curing product is read when too much of its pot life is gone.

    It thickens while it waits, slowly at first and then fast: the reading is high, and higher for the
    operator who takes longer.

    Where the rise itself is what is measured.
    """
    used = f.value("pot_life_used")
    pot_life, allowed = m.product.pot_life, m.reference.policy["pot_life_share"]
    if used is None or pot_life is None or used <= allowed:
        return
    gone = used / 100 * pot_life.value
    may = allowed / 100 * pot_life.value
    pack = m.container.kind == "pack"
    start, what = ("opening the pack", "the rest") if pack else ("mixing", "age, rest or conditioning")
    fresh = "open a fresh pack for each result" if pack else "mix a fresh portion for each loading"
    yield Finding(
        (*m.product.path, "pot_life"),
        f"At the last reading {_span(gone)} of the {pot_life.text} pot life are gone, "
        f"{brief(used, 3)} %, where {brief(allowed, 3)} % ({_span(may)}) are allowed. The product has begun "
        "to thicken and reads high.",
        (
            (f"Have the last reading within {_span(may)} of {start}: shorten {what} by {_span(gone - may)}."),
            f"Or {fresh}, and have its last reading within {_span(may)}.",
        ),
        (Related("time before the run", m.sample.path),),
    )


def _span(seconds: float) -> str:
    """Write a stretch of time in the unit people would say it in."""
    for size, unit in ((86400, "d"), (3600, "h"), (60, "min")):
        if seconds >= 2 * size:
            return f"{brief(seconds / size, 3)} {unit}"
    return f"{brief(seconds, 3)} s"
