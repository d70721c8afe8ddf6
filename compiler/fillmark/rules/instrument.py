"""Instrument and spring: the laboratory can run the method, and the readout steps finely enough."""

from collections.abc import Iterator

from fillmark.choices import alternatives, eligible, sentence, ways_out
from fillmark.diagnostics import Path, Related
from fillmark.figures import Figures
from fillmark.model import Instrument, Method, Step
from fillmark.quantities import sig
from fillmark.rules import ADVICE, ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule


def _suspended(m: Method) -> bool:
    """Whether the spring range exists with the suspension of the method."""
    return m.instrument.suspension in m.instrument.spring.suspensions


def _speeds(m: Method) -> Iterator[tuple[float, Path, Step]]:
    """Go through every speed that is set during the run, with its place."""
    for step in m.run:
        yield step.speed.value, (*step.path, "speed"), step
        if step.preshear is not None:
            yield step.preshear.speed.value, (*step.preshear.path, "speed"), step


def _rpm(value: float) -> str:
    return f"{value:g} rpm"


def _able(m: Method) -> list[Instrument]:
    """List the eligible instruments that can be set to every speed of the run."""
    return [i for i in eligible(m) if all(i.has_speed(rpm) for rpm, _, _ in _speeds(m))]


def _wanted(m: Method) -> str:
    setup = m.instrument
    stand = " on a helical stand" if setup.stand == "helical" else ""
    return (
        f"spring {setup.spring.key} ({setup.spring.full_scale.text}), a {setup.readout} readout and a "
        f"{setup.coupling.key} coupling, {setup.suspension}{stand}"
    )


@rule(
    "INS01",
    ERROR,
    waivable=False,
    sources=("common-practice", "spring-classes"),
    example=Example(
        "BBM-VIS-007",
        "instrument: {spring: R, readout: dial, coupling: threaded, suspension: pivot-and-jewel, "
        "stand: fine-height}\nspindle: R2",
        "instrument: {spring: L, readout: dial, coupling: threaded, suspension: ball-bearing, "
        "stand: fine-height}\nspindle: L2",
    ),
)
def suspension_impossible_for_spring(m: Method, f: Figures) -> Iterator[Outcome]:
    """A spring range asked for with a suspension it is not built with.

    The weakest range, 67.37 µN·m, feels the friction of a ball bearing and exists with pivot and jewel only;
    nobody at the bench can find the instrument the method asks for, and another range gives another torque.

    Never: there is no such instrument.
    """
    if _suspended(m):
        return
    setup = m.instrument
    built = " or ".join(setup.spring.suspensions)
    others = [s for s in m.reference.springs.values() if setup.suspension in s.suspensions]
    ranges = ", ".join(f"{s.key} ({s.full_scale.text})" for s in others)
    last = f"Keep {setup.suspension} and take a range built with it, with a spindle made for it: {ranges}."
    second, _ = ways_out(m, m.run[0], last, last)
    yield Finding(
        ("instrument", "suspension"),
        f"Spring {setup.spring.key} ({setup.spring.full_scale.text}) is built with {built} only; with "
        f"{setup.suspension} the run would be made on another range, and a coefficient of the wrong range is "
        "off by the ratio of the torques.",
        (f"Write suspension: {setup.spring.suspensions[0]}.", second),
        (Related("the spring", ("instrument", "spring")),),
    )


@rule(
    "INS02",
    ERROR,
    sources=("common-practice",),
    example=Example(
        "QAP-VIS-002",
        "coupling: magnetic, suspension: ball-bearing",
        "coupling: quick-connect, suspension: ball-bearing",
    ),
)
def no_instrument_in_the_laboratory(m: Method, f: Figures) -> Iterator[Outcome]:
    """No instrument of the laboratory is what the method asks for.

    The operator takes what stands there; with another spring the same reading means another viscosity, by
    the ratio of the full-scale torques (2, 4, 8 or more).

    It may be set aside while the instrument is on order or the method is written for another site.
    """
    if not _suspended(m) or eligible(m):
        return
    setup = m.instrument

    def changes(i: Instrument) -> list[str]:
        pairs = [("readout", i.readout, setup.readout), ("coupling", i.coupling, setup.coupling.key)]
        pairs.append(("suspension", i.suspension, setup.suspension))
        if setup.stand == "helical":
            pairs.append(("stand", i.stand, setup.stand))
        return [f"{key}: {has}" for key, has, asked in pairs if has != asked]

    laboratory = m.reference.instruments.values()
    same = sorted((i for i in laboratory if i.spring == setup.spring.key), key=lambda i: len(changes(i)))
    entered = "Enter the instrument in shared/instruments.yaml, if the laboratory has one."
    nearest = [f"Write {', '.join(changes(i))}, to run it on {i.label}." for i in same[:1]]
    ways = (*nearest, *ways_out(m, m.run[0], entered, entered))
    yield Finding(
        ("instrument", "coupling" if same else "spring"),
        f"The method asks for {_wanted(m)}; 0 of the laboratory's {len(m.reference.instruments)} instruments "
        f"are that ({len(same)} have the spring). On another spring the reading is off by the ratio of the "
        "torques.",
        ways[:2],
    )


@rule(
    "INS03",
    ERROR,
    sources=("common-practice",),
    example=Example("BBM-VIS-007", "speed: 50 rpm, read", "speed: 60 rpm, read"),
)
def speed_not_on_the_instrument(m: Method, f: Figures) -> Iterator[Outcome]:
    """A speed that no eligible instrument can be set to.

    A dial instrument has a fixed list of speeds; the operator takes the nearest, and a shear-thinning product
    then reads low at a faster speed and high at a slower one.

    It may be set aside where the method is written for an instrument that is not in the list yet.
    """
    instruments = eligible(m) if _suspended(m) else []
    if not instruments:
        return
    missing = [s for s in _speeds(m) if not any(i.has_speed(s[0]) for i in instruments)]
    for rpm, path, step in missing:
        below, above = _neighbours(instruments, rpm)
        near = " and ".join(f"{_rpm(s)}" for s in (below, above) if s is not None)
        ways = _other_speeds(m, step, rpm) if path == (*step.path, "speed") else []
        owners = [
            i for i in m.reference.instruments.values()
            if i.spring == m.instrument.spring.key and i.has_speed(rpm) and i not in instruments
        ]  # fmt: skip
        ways += [
            f"Run it on {i.label} ({i.readout} readout, {i.coupling} coupling), which has {_rpm(rpm)}."
            for i in sorted(owners, key=lambda i: i.coupling != m.instrument.coupling.key)[:1]
        ]
        if step.name not in {limit.result for limit in m.specification}:
            ways += [
                f"Set {_rpm(s)}, and see what it does to the result." for s in (above, below) if s is not None
            ]
        ways.append("Enter an instrument that has it in shared/instruments.yaml.")
        ways.append("Change spring or spindle with the speed, and set the limits anew.")
        yield Finding(
            path,
            f"No eligible instrument can be set to {_rpm(rpm)}: the nearest "
            f"{'are' if ' and ' in near else 'is'} {near} ({', '.join(i.label for i in instruments)}). A faster "
            "speed than the limits were set at makes a thinning product read low, a slower one high.",
            tuple(ways[:2]),
        )
    if not missing and not _able(m):
        rows = ", ".join(f"{_rpm(rpm)}" for rpm, _, _ in _speeds(m))
        yield Finding(
            m.run[0].path,
            f"Each speed is on some eligible instrument, but none of the {len(instruments)} has them all: "
            f"{rows}.",
            ("Choose speeds that one instrument has.", "Make a method of its own for each speed."),
        )


def _neighbours(instruments: list[Instrument], rpm: float) -> tuple[float | None, float | None]:
    """Find the nearest speed below and above that one of the instruments has."""
    speeds: list[float] = []
    for i in instruments:
        if i.speeds:
            speeds += i.speeds
            continue
        steps = int(rpm / i.speed_step + 1e-9)
        speeds += [s for s in (steps * i.speed_step, (steps + 1) * i.speed_step) if i.has_speed(s)]
        speeds += [i.speed_from, i.speed_to]
    below = [s for s in speeds if s < rpm]
    above = [s for s in speeds if s > rpm]
    return max(below, default=None), min(above, default=None)


def _other_speeds(m: Method, step: Step, rpm: float) -> list[str]:
    """Say the nearest speed that would pass as it stands, with the torque it gives."""
    only_speed = [c for c in alternatives(m, step) if c.changes == ("speed",)]
    best = sorted(only_speed, key=lambda c: (c.comfort == 0, abs(c.rpm - rpm)))
    return [sentence(m, step, c) for c in best[:1]]


@rule(
    "INS04",
    WARNING,
    sources=("rheology-text", "common-practice"),
    example=Example(
        "QAP-VIS-002",
        "stand: fine-height}",
        "stand: fine-height, resolution: 3 %}",
        also=("CAL05",),
    ),
)
def readout_step_too_coarse(m: Method, f: Figures) -> Iterator[Outcome]:
    """The readout steps so coarsely that its step decides pass or fail.

    A step wider than a tenth of the specification leaves fewer than ten readings between the limits: a batch
    passes or fails by the rounding of the display, either way.

    It may be set aside for a method that only tells two products apart.
    """
    share = m.reference.policy["resolution_share"]
    for step in m.run:
        limit = m.limit(step.name)
        resolution = f.value(f"run.{step.name}.resolution")
        if limit is None or limit.lower is None or limit.upper is None or resolution is None:
            continue
        ratio = f.value(f"run.{step.name}.instrument_ratio")
        if ratio is not None and ratio < m.reference.policy["instrument_ratio_error"] * (1 - 1e-9):
            continue  # TRQ07 says it: a finer readout would not mend the instrument's share
        width = limit.upper.value - limit.lower.value
        allowed = width * share / 100
        if width <= 0 or resolution <= allowed * (1 + 1e-9):
            continue
        percent = f["resolution"].value * allowed / resolution
        torque = f[f"run.{step.name}.torque_upper"].value
        own = m.instrument.resolution is not None
        choices = [
            c for c in alternatives(m, step)
            if c.changes != ("speed",) and (c.torque_upper or 0.0) >= torque * resolution / allowed
        ]  # fmt: skip
        second = (
            sentence(m, step, choices[0]) if choices
            else f"Widen the limits of {step.name} to {sig(resolution / allowed, 2)} times their width."
        )  # fmt: skip
        yield Finding(
            ("instrument", "resolution") if own else (*step.path, "speed"),
            f"The readout steps by {f['resolution'].text} of torque, {f.text(f'run.{step.name}.resolution')} "
            f"at {step.name}; that is {sig(100 * resolution / width, 2)} % of the width of the "
            f"specification, against a limit of {sig(share, 2)} %. The step alone can turn a pass into a "
            "fail, either way.",
            (f"Use a readout that steps by {sig(percent, 2)} % or less.", second),
            (Related("the limits", limit.path),),
        )
        return


@rule(
    "INS05",
    ADVICE,
    sources=("common-practice",),
    example=Example("LMT-VIS-021", "rise_rate: 22 mm/min, only_this: true}", "rise_rate: 22 mm/min}"),
)
def only_one_instrument(m: Method, f: Figures) -> Iterator[Outcome]:
    """One instrument only can run the method, and the method does not say that this is meant.

    When it is away for calibration the bench improvises: another speed, another spring, another number.

    It may be set aside by saying so: only_this: true.
    """
    able = _able(m) if _suspended(m) else []
    if len(able) != 1 or m.instrument.only_this:
        return
    yield Finding(
        ("instrument",),
        f"Only 1 of the laboratory's {len(m.reference.instruments)} instruments can run this method: "
        f"{able[0].label}. While it is away, nothing says what is done.",
        (
            "Write only_this: true, and what is done while it is away.",
            "Enter a second instrument of the same sort in shared/instruments.yaml.",
        ),
    )


@rule(
    "INS06",
    WARNING,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014",
        "stand: fine-height}",
        "stand: fine-height, accuracy: 0.5 % of full scale}",
    ),
)
def accuracy_better_than_usual(m: Method, f: Figures) -> Iterator[Outcome]:
    """An accuracy finer than the site counts with, for any instrument that runs the method.

    Tolerances, verification bands and uncertainties shrink with it; an ordinary instrument then fails its
    check, or a result looks surer than it is.

    It may be set aside where the certificates of all eligible instruments show the finer figure.
    """
    accuracy = m.instrument.accuracy
    usual = m.reference.policy["instrument_accuracy"]
    if accuracy is None or accuracy.value >= usual:
        return
    yield Finding(
        ("instrument", "accuracy"),
        f"± {accuracy.text} is written where the site counts with ± {sig(usual, 2)} %: every instrument "
        f"tolerance shrinks to {sig(100 * accuracy.value / usual, 2)} % of the usual one and the uncertainty "
        "comes out too small, unless a certificate shows it.",
        (
            f"Leave the key out; the site's ± {sig(usual, 2)} % of full scale then holds.",
            "Have this finding waived with the certificates of the instruments as evidence.",
        ),
    )


@rule(
    "INS07",
    WARNING,
    sources=("common-practice", "spring-settling"),
    example=Example(
        "MCW-VIS-014",
        "stand: fine-height}",
        "stand: fine-height, full_scale_angle: 320 deg}",
    ),
)
def full_scale_angle_of_another_readout(m: Method, f: Figures) -> Iterator[Outcome]:
    """A full-scale angle that belongs to the other sort of readout.

    The spring of a pointer dial turns several times as far as that of a digital transducer before it reads
    100 %, so the time it needs to wind up is several times as long. Too small an angle lets a reading be
    taken early, and an early reading is low.

    It may be set aside where the angle comes from the instrument's own papers.
    """
    angle = m.instrument.full_scale_angle
    if angle is None:
        return
    policy, readout = m.reference.policy, m.instrument.readout
    other = "digital" if readout == "dial" else "dial"
    usual = policy[f"angle_{readout}"]
    ratio = angle.value / usual
    most = policy["angle_ratio"]
    if 1 / most <= ratio <= most:
        return
    way = "too long" if ratio > 1 else "too short, and a reading taken by it is low"
    yield Finding(
        ("instrument", "full_scale_angle"),
        f"A {readout} readout commonly turns about {usual:g}° at full scale; {angle.text} is {sig(ratio, 2)} "
        f"times that (a {other} one turns about {policy[f'angle_{other}']:g}°). Every wind-up time computed "
        f"from it is {sig(ratio, 2)} times the usual: {way}.",
        (
            f"Leave the key out; the usual {usual:g}° then holds.",
            f"Write readout: {other}, if that is what the method is for.",
        ),
        (Related("the readout", ("instrument", "readout")),),
    )


@rule(
    "INS08",
    ADVICE,
    sources=("common-practice",),
    example=Example("TGF-VIS-003", "stand: fine-height}", "stand: quick-travel}"),
)
def quick_stand_for_a_mark(m: Method, f: Figures) -> Iterator[Outcome]:
    """A quick-travel stand where a mark on the shaft has to be set to the surface.

    Such a stand suits accessories that sit in their own cup. By hand and without a fine drive the mark is
    missed by millimetres: too deep reads high, too shallow low.

    It may be set aside where operators have shown that they hit the mark with it.
    """
    if m.immersion.to != "shaft-mark" or m.instrument.stand != "quick-travel":
        return
    tolerance = m.immersion.tolerance
    if tolerance is None:
        yield NotJudged("no immersion tolerance says how well the mark has to be met")
        return
    effect = f"; {f.text('immersion.effect')} at its edge" if "immersion.effect" in f else ""
    yield Finding(
        ("instrument", "stand"),
        f"The mark has to be set to within {tolerance.text}{effect}, and a quick-travel stand has no fine "
        "drive for it. Too deep reads high, too shallow low.",
        (
            "Use a stand with fine height adjustment: write stand: fine-height.",
            "Raise the container on a fine lifting table, and say so in the notes.",
        ),
        (Related("the mark", ("immersion", "tolerance")),),
    )
