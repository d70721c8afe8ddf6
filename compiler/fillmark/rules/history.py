"""What the product remembers: stirring, shearing, rest, and what a ratio of two speeds makes of it."""

import itertools
import re
from collections.abc import Iterator

from fillmark.diagnostics import Related
from fillmark.figures import Figures
from fillmark.model import Method, ReportLine, Step
from fillmark.quantities import Quantity, brief, fixed, show, sig
from fillmark.rules import ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule

_HANDLED = re.compile(
    r"\b(?:stir|mix|shak|pour|blend|pump|homogeni[sz]|whisk|knead|roll|spread|spin|centrifug|invert|fold|warm)\w*",
    re.IGNORECASE,
)
_DENIED = re.compile(r"\b(?:not|never|no|without|nor|avoid)\b", re.IGNORECASE)


def _steps_of(m: Method, line: ReportLine) -> tuple[Step, Step] | None:
    """Give the two steps of a ratio, first over second."""
    if line.ratio is None:
        return None
    first, second = m.step(line.ratio[0]), m.step(line.ratio[1])
    return None if first is None or second is None else (first, second)


def _behaviour(m: Method) -> Related:
    return Related(f"behaviour: {m.product.behaviour}", (*m.product.path, "behaviour"))


@rule(
    "HIS01",
    ERROR,
    sources=("rheology-text",),
    example=Example("TGF-VIS-003", right="behaviour: yield-stress", wrong="behaviour: unknown"),
)
def behaviour_unknown(m: Method, f: Figures) -> Iterator[Outcome]:
    """How the product flows is not known.

    Whether speed, time and stirring change the number is then not known either: it may come out high or low
    by a factor, and nothing in the method guards against it.

    In a draft made to find out; a released method has to know.
    """
    if m.product.behaviour != "unknown":
        return
    slowest = min(m.run, key=lambda s: s.speed.value)
    yield Finding(
        (*m.product.path, "behaviour"),
        f"The behaviour of {m.product.name} is unknown. If it thins, half the speed of {slowest.speed.text} "
        "may read 1.6 times as high; if it remembers stirring, a fresh one reads low.",
        (
            f"Read it at {slowest.speed.text} and at half of that, up and down, and name what you see.",
            "Or write yield-stress, the most careful of the 4 others, until you know.",
        ),
        severity=ERROR if m.status == "released" else WARNING,
    )


@rule(
    "HIS02",
    ERROR,
    sources=("rheology-text", "common-practice"),
    example=Example(
        "MCW-VIS-014",
        right="Stir 30 turns in 30 s with a wide spatula; draw no air in.",
        wrong="Stir well with a wide spatula; draw no air in.",
        at="preparation:",
    ),
)
def preparation_without_numbers(m: Method, f: Figures) -> Iterator[Outcome]:
    """A product with a memory is stirred, poured or shaken, and no number says how much.

    Each operator does it in a way of their own: more stirring reads low, less reads high, and the shift
    pattern shows in the trend.

    Where the words leave nothing to choose, such as a machine that has only one setting.
    """
    text = m.sample.preparation
    if not m.product.has_history or any(c.isdigit() for c in text):
        return
    done = [
        word[0]
        for clause in re.split(r"[.;:,\n]|\band\b", text)
        if not _DENIED.search(clause)
        for word in [_HANDLED.search(clause)]
        if word is not None
    ]
    if not done:
        return
    yield Finding(
        (*m.sample.path, "preparation"),
        f"The preparation says {done[0].lower()!r} with 0 numbers: how often, how long, how hard is left to "
        f"the operator. {m.product.name} is {m.product.behaviour}: more of it reads low, less reads high.",
        (
            "Give tool, number and time, such as 30 turns in 30 s, and rest as a time of its own.",
            "Or leave the sample alone (0 turns) and say so: do not stir, do not shake.",
        ),
        (_behaviour(m),),
    )


@rule(
    "HIS03",
    WARNING,
    sources=("rheology-text", "project-decision"),
    example=Example(
        "MCW-VIS-014", right="covered: true}", wrong="covered: true, stirred: true}", at="conditioning:"
    ),
)
def stirred_while_conditioning(m: Method, f: Figures) -> Iterator[Outcome]:
    """A product with a memory is stirred to bring it to temperature.

    Stirring evens the temperature out and takes the structure apart: the reading is low, by how much depends
    on when the stirring ends.

    Where a rest that restores the structure follows, shown by a study.
    """
    conditioning = m.temperature.conditioning
    if conditioning is None or not conditioning.stirred or not m.product.has_history:
        return
    rest = m.sample.rest.text if m.sample.rest is not None else "0 min"
    time = conditioning.time.text if conditioning.time is not None else "an unstated time"
    yield Finding(
        (*conditioning.path, "stirred"),
        f"{m.product.name} is {m.product.behaviour} and stirred for {time} while it is conditioned; {rest} "
        "of rest follow. What the stirring took apart reads low.",
        (
            f"Leave it alone and give it longer than {time}, or a narrower container that needs less.",
            f"Or stir for a fixed time, then rest; show that {rest} bring the structure back.",
        ),
        (_behaviour(m),),
    )


@rule(
    "HIS04",
    WARNING,
    sources=("rheology-text", "common-practice"),
    example=Example("MCW-VIS-014", right="each: new-loading", wrong="each: re-read"),
)
def loading_read_again(m: Method, f: Figures) -> Iterator[Outcome]:
    """Replicates of a product with a memory are read on one and the same loading.

    The first reading breaks down what the second is to measure: the second is lower, the mean reads low, and
    their range says nothing of the spread between loadings.

    Where the fall from one reading to the next is what is measured.
    """
    replicates = m.replicates
    if replicates.each != "re-read" or replicates.count < 2 or not m.product.has_history:
        return
    pack = m.container.kind == "pack"
    each, many = ("new-pack", "packs") if pack else ("new-loading", "loadings")
    yield Finding(
        (*replicates.path, "each"),
        f"{replicates.count} readings of one loading: {m.product.name} is {m.product.behaviour}, so reading "
        "2 finds it broken down by reading 1 and the mean reads low.",
        (
            f"Write each: {each}, and have {replicates.count} {many} ready.",
            "Or set count: 1 and read each loading once.",
        ),
        (_behaviour(m),),
    )


@rule(
    "HIS05",
    ERROR,
    sources=("rheology-text", "common-practice"),
    example=Example(
        "MCW-VIS-014",
        right="  - {name: viscosity_2, speed: 2 rpm, read: {after: 150 s}}\n"
        "  - {name: viscosity_20, speed: 20 rpm, read: {after: 60 s}}",
        wrong="  - {name: viscosity_20, speed: 20 rpm, read: {after: 60 s}}\n"
        "  - {name: viscosity_2, speed: 2 rpm, read: {after: 150 s}}",
        at="name: viscosity_2,",
    ),
)
def ratio_run_downwards(m: Method, f: Figures) -> Iterator[Outcome]:
    """A ratio of two speeds is run from the fast to the slow one.

    The fast run breaks down what the slow one is to measure: the slow reading is low and the ratio with it,
    so that a product that has lost its structure looks the same as one that never had it.

    Where the ratio after shear is the property wanted, and the limits were set that way.
    """
    order = [step.name for step in m.run]
    for line in m.report:
        steps = _steps_of(m, line)
        if steps is None or m.product.newtonian:
            continue
        slow, fast = sorted(steps, key=lambda s: s.speed.value)
        if order.index(slow.name) < order.index(fast.name) or slow.speed.value == fast.speed.value:
            continue
        yield Finding(
            (*slow.path, "name"),
            f"{line.result} divides two readings and {fast.speed.text} comes before {slow.speed.text}. The "
            f"fast run breaks the product down, so {slow.name} reads low and {line.result} with it.",
            (
                f"Put step {slow.name} ({slow.speed.text}) before step {fast.name} ({fast.speed.text}).",
                f"Or run {slow.speed.text} on a new loading, as a method of its own.",
            ),
            (
                Related(f"the faster step, {fast.speed.text}", (*fast.path, "speed")),
                Related(f"the ratio {line.result}", line.path),
            ),
            severity=ERROR if m.product.has_history else WARNING,
        )


@rule(
    "HIS06",
    ERROR,
    waivable=False,
    sources=("definition",),
    example=Example(
        "MCW-VIS-014", right="ratio: [viscosity_2, viscosity_20]", wrong="ratio: [viscosity_20, viscosity_2]"
    ),
)
def ratio_upside_down(m: Method, f: Figures) -> Iterator[Outcome]:
    """A ratio whose limits lie above 1 has the faster speed on top.

    A product that thins reads lower at the faster speed, so the ratio comes out below 1: every good batch
    fails, low by the square of the ratio.

    Never: ratio and limits contradict each other.
    """
    for line in m.report:
        steps, limit = _steps_of(m, line), m.limit(line.result)
        if steps is None or limit is None or limit.lower is None:
            continue
        if limit.lower.value <= 1 or steps[0].speed.value <= steps[1].speed.value:
            continue
        yield Finding(
            (*line.path, "ratio"),
            f"{line.result} divides {steps[0].name} ({steps[0].speed.text}) by {steps[1].name} "
            f"({steps[1].speed.text}). A product that thins gives less than 1 that way, and the lower limit "
            f"is {limit.lower.text}: every good batch reads low.",
            (
                f"Write ratio: [{steps[1].name}, {steps[0].name}], slow over fast.",
                f"Or turn the limits over too: lower {_inverse(limit.upper)}, upper {_inverse(limit.lower)}.",
            ),
            (Related(f"the lower limit, {limit.lower.text}", (*limit.path, "lower")),),
        )


def _inverse(bound: Quantity | None) -> str:
    return sig(1 / bound.value, 3) if bound is not None and bound.value > 0 else "0"


@rule(
    "HIS07",
    ERROR,
    sources=("gum", "jcgm-106"),
    example=Example(
        "MCW-VIS-014",
        right="stand: fine-height}",
        wrong="stand: fine-height, accuracy: 2 % of full scale}",
        at="result: index, lower",
    ),
)
def ratio_lost_in_its_uncertainty(m: Method, f: Figures) -> Iterator[Outcome]:
    """The instrument's tolerance takes too much of the limits of a ratio.

    Both readings carry it, and the slow one stands low on the scale: the ratio of a good batch may come out
    high or low by more than its limits allow.

    Where the ratio is reported for information and decides nothing.
    """
    policy = m.reference.policy
    least, wanted = policy["instrument_ratio_error"], policy["instrument_ratio_warning"]
    for line in m.report:
        steps, limit = _steps_of(m, line), m.limit(line.result)
        if steps is None:
            continue
        key = f"report.{line.result}."
        if key + "uncertainty" in f.open:
            yield NotJudged(f"{line.result}: {f.open[key + 'uncertainty']}")
            continue
        ratio = f.value(key + "ratio")
        if ratio is None or limit is None or ratio >= wanted:
            continue
        worst = [f[f"run.{s.name}.torque_lower_worst"].value for s in steps]
        if min(worst) < policy["torque_floor"]:
            continue  # TRQ03 says it, with the ratio beside it
        uncertainty = f[key + "uncertainty"].value
        weakest = min(steps, key=lambda s: f[f"run.{s.name}.torque_lower"].value)
        low, high = (f[f"run.{weakest.name}.torque_{which}"].text for which in ("lower", "upper"))
        accuracy = f["accuracy"].value
        yield Finding(
            limit.path,
            f"The limits of {line.result} leave ± {sig(ratio * uncertainty, 2)} % and the two readings bring "
            f"± {sig(uncertainty, 2)} %: a ratio of {sig(ratio, 3)}, where {brief(wanted)} is wanted and "
            f"{brief(least)} the least. {weakest.name} reads at {low} to {high} of the spring; {line.result} "
            "may come out high or low.",
            (
                (
                    "Read both steps higher on the scale, or on an instrument of ± "
                    f"{sig(accuracy * ratio / wanted, 2)} % of full scale."
                ),
                f"Or widen the limits to ± {sig(uncertainty * wanted, 2)} %, if the product allows.",
            ),
            (
                Related(f"the weakest reading, {weakest.speed.text}", (*weakest.path, "speed")),
                Related(f"the ratio {line.result}", line.path),
            ),
            severity=ERROR if ratio < least else WARNING,
        )


@rule(
    "HIS08",
    WARNING,
    sources=("rheology-text",),
    example=Example(
        "MCW-VIS-014",
        right="speed: 20 rpm, read",
        wrong="speed: 20 rpm, preshear: {speed: 10 rpm, time: 60 s}, read",
    ),
)
def preshear_slower_than_the_run(m: Method, f: Figures) -> Iterator[Outcome]:
    """The shearing before a step is slower than the step itself.

    It does not wipe out what came before: the run goes on breaking the product down, and an early reading is
    high.

    Where the preshear only settles the spindle in and is not meant to break anything down.
    """
    for step in m.run:
        shear = step.preshear
        if shear is None or shear.speed.value >= step.speed.value:
            continue
        yield Finding(
            (*shear.path, "speed"),
            f"The preshear turns at {shear.speed.text} and the step at {step.speed.text}, "
            f"{brief(step.speed.value / shear.speed.value, 2)} times as fast: the run breaks down what the "
            "preshear left, and an early reading is high.",
            (
                f"Preshear at {step.speed.text} or faster.",
                f"Or leave the {shear.time.text} of preshear out and rest instead.",
            ),
            (Related(f"the step, {step.speed.text}", (*step.path, "speed")),),
        )


@rule(
    "HIS09",
    WARNING,
    sources=("definition",),
    example=Example(
        "MCW-VIS-014",
        right="speed: 20 rpm, read",
        wrong="speed: 20 rpm, preshear: {speed: 60 rpm, time: 60 s}, read",
    ),
)
def preshear_off_the_scale(m: Method, f: Figures) -> Iterator[Outcome]:
    """The shearing before a step may take the spring over its full scale.

    At the stop the spring holds the spindle back in jerks: the product is sheared unevenly, what is read
    afterwards is high or low, and the pivot is the worse for it.

    Where the product is known to thin enough at that speed to stay on the scale.
    """
    ceiling = m.reference.policy["torque_ceiling"]
    for step in m.run:
        shear = step.preshear
        if shear is None:
            continue
        torque = f.value(f"run.{step.name}.preshear_torque")
        if torque is None:
            yield NotJudged(f"the preshear of step {step.name}: the step has no upper limit")
            continue
        if torque <= ceiling:
            continue
        most = step.speed.value * ceiling / f[f"run.{step.name}.torque_upper"].value
        yield Finding(
            (*shear.path, "speed"),
            f"At {shear.speed.text} the upper limit would ask for up to {fixed(torque, 0)} % of the spring, "
            f"{fixed(torque - ceiling, 0)} % over the scale, if the product did not thin. At the stop it is "
            "sheared in jerks, and what follows reads high or low.",
            (
                f"Preshear at {sig(int(most * 10) / 10, 3)} rpm at most.",
                (
                    "Or stir it outside the instrument, with tool, number and time, instead of "
                    f"{shear.time.text} here."
                ),
            ),
            (Related(f"the step, {step.speed.text}", (*step.path, "speed")),),
        )


@rule(
    "HIS10",
    ERROR,
    waivable=False,
    sources=("definition",),
    example=Example("MCW-VIS-014", right="behaviour: thixotropic", wrong="behaviour: newtonian"),
)
def newtonian_with_two_viscosities(m: Method, f: Figures) -> Iterator[Outcome]:
    """The product is called Newtonian and its limits say that the viscosity changes with the speed.

    One of the two is wrong. If the product thins, the checks that guard against it are off, and a reading at
    another speed is high or low by as much as the limits differ.

    Never: the two statements contradict each other.
    """
    if not m.product.newtonian:
        return
    place = (*m.product.path, "behaviour")
    for line in m.report:
        limit = m.limit(line.result)
        if line.ratio is None or limit is None:
            continue
        low = limit.lower.value if limit.lower is not None else 0.0
        high = limit.upper.value if limit.upper is not None else float("inf")
        if low <= 1 <= high:
            continue
        bound, verb = (limit.lower, "begin") if low > 1 else (limit.upper, "end")
        text = f"{verb} at {bound.text if bound is not None else ''}"
        yield Finding(
            place,
            f"{m.product.name} is called Newtonian, whose {line.result} is 1, and its limits {text}. If it "
            "thins, another speed reads high or low.",
            (
                "Write shear-thinning, thixotropic or yield-stress, whichever of the 3 it is.",
                f"Or take {line.result} out: it is 1 at every speed of a Newtonian product.",
            ),
            (Related(f"the limits of {line.result}", limit.path),),
        )
        return
    limited = [(s, b) for s in m.run for b in [m.limit(s.name)] if b is not None]
    for (one, first), (other, second) in itertools.pairwise(limited):
        if first.lower is None or first.upper is None or second.lower is None or second.upper is None:
            continue
        middles = [(b.lower.value + b.upper.value) / 2 for b in (first, second) if b.lower and b.upper]
        apart = abs(middles[0] - middles[1])
        full = sum(f[f"run.{s.name}.full_scale"].value for s in (one, other))
        allowed = f["accuracy"].value / 100 * full
        if apart <= allowed:
            continue
        unit = f[f"run.{one.name}.full_scale"].unit
        yield Finding(
            place,
            f"{m.product.name} is called Newtonian and its limits centre on "
            f"{show(middles[0], 'viscosity', unit)} at {one.speed.text} and "
            f"{show(middles[1], 'viscosity', unit)} at {other.speed.text}: {show(apart, 'viscosity', unit)} "
            f"apart, where the instrument explains {show(allowed, 'viscosity', unit)}. If it thins, another "
            "speed reads high or low.",
            (
                "Write shear-thinning, thixotropic or yield-stress, whichever of the 3 it is.",
                f"Or give both speeds the same limits, {first.lower.text} to {first.upper.text}.",
            ),
            (
                Related(f"limits at {one.speed.text}", first.path),
                Related(f"limits at {other.speed.text}", second.path),
            ),
        )
        return
