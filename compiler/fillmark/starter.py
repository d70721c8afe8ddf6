"""A first draft of a method, from what its author knows and what the laboratory has.

Spindle and speed are searched for like the ways out of a finding; volume, times, increment and reference fluid
follow from the draft's own figures; and each draft is checked as a whole. What nobody has stated yet is marked
CONFIRM in its text.
"""

import json
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from fillmark.choices import USUAL_SPEEDS, Choice, alternatives
from fillmark.diagnostics import Diagnostic, Severity
from fillmark.figures import Figures
from fillmark.model import Instrument, Reference, Spindle
from fillmark.pipeline import Compiled, compile_method
from fillmark.quantities import Quantity, Toleranced, express

GUARDS = ("required", "not-used")
"""Guard states that are tried for a draft, in this order."""
_TRIED = 60
"""How many of the ranked choices are tried in full before the search is given up."""


@dataclass(frozen=True, slots=True)
class Answers:
    """What the author said; None where the choice is left to the search."""

    id: str
    title: str
    product: str
    behaviour: str
    lower: Quantity
    upper: Quantity
    temperature: Toleranced
    hazards: tuple[str, ...]
    author: str
    purpose: str
    sensitivity: str | None
    density: str | None
    instruments: tuple[Instrument, ...]
    """Those of the laboratory that the wishes leave."""
    spindle: str | None
    rpm: float | None
    guard: str | None


# --- the search


@dataclass(frozen=True, slots=True)
class _Numbers:
    """What a draft leaves to be worked out from its own figures."""

    spring: str
    spindle: str
    container: str
    guard: str
    rpm: float
    instruments: tuple[Instrument, ...]
    """Those that may run it."""
    fluid: str
    after: int = 60
    """s"""
    volume: int = 500
    """mL"""
    clearance: int = 20
    """mm"""
    conditioning: int = 240
    """min"""
    increment: str = ""
    decimals: int = 0
    agree: str = "5 %"
    verification_guard: str | None = None


@dataclass(frozen=True, slots=True)
class Draft:
    """A method as it would be written, and what the check says of it."""

    answers: Answers
    numbers: _Numbers
    compiled: Compiled

    def text(self, modeline: str) -> str:
        """Give the file."""
        return _method_text(self.answers, self.numbers, modeline)


def prescribed(answers: Answers) -> bool:
    """Whether nothing is left to be chosen."""
    return answers.spindle is not None and answers.rpm is not None


def findings(compiled: Compiled) -> list[Diagnostic]:
    """List what keeps a draft from being clean: errors and warnings."""
    return [d for d in compiled.diagnostics if d.severity >= Severity.WARNING]


def search(answers: Answers, reference: Reference) -> Draft | None:
    """Find a draft without errors and warnings, or the one nearest to it; None where nothing can be tried."""
    best: Draft | None = None
    for tried, numbers in enumerate(_candidates(answers, reference)):
        draft = _worked_out(answers, numbers, reference)
        if best is None or _weight(draft) < _weight(best):
            best = draft
        if not findings(best.compiled) or tried >= _TRIED:
            break
    return best


def _weight(draft: Draft) -> tuple[int, int]:
    found = findings(draft.compiled)
    return sum(d.blocks for d in found), len(found)


def _candidates(answers: Answers, reference: Reference) -> Iterator[_Numbers]:
    """Give the combinations of the laboratory that pass, the most comfortable first.

    Where spindle and speed are both prescribed, they are tried even if they cannot pass: the check says why.
    """
    ranked = sorted(_choices(answers, reference), key=lambda c: _rank(reference, *c))
    for guard, able, choice in ranked:
        if answers.spindle in (None, choice.spindle.key) and answers.rpm in (None, choice.rpm):
            yield _numbers(answers, reference, guard, able, choice.spindle, rpm=choice.rpm)
    if answers.spindle is None or answers.rpm is None:
        return
    spindle = reference.spindles[answers.spindle]
    sorts = _sorts(answers.instruments)
    for able in [s for s in sorts if s[0].spring in spindle.springs] or sorts:
        takes_guard = reference.springs[able[0].spring].takes_guard and spindle.guard in ("with", "either")
        guard = answers.guard or ("required" if takes_guard else "not-used")
        yield _numbers(answers, reference, guard, able, spindle, rpm=answers.rpm)


def _sorts(instruments: tuple[Instrument, ...]) -> list[tuple[Instrument, ...]]:
    """Put together the instruments that one method can run on, those with a fine drive for the mark first."""
    sorts: dict[tuple[str, ...], list[Instrument]] = {}
    for i in sorted(instruments, key=lambda i: i.stand != "fine-height"):
        sorts.setdefault((i.spring, i.readout, i.coupling, i.suspension), []).append(i)
    return [tuple(able) for able in sorts.values()]


def _choices(answers: Answers, reference: Reference) -> Iterator[tuple[str, tuple[Instrument, ...], Choice]]:
    """Give what passes, by the search for ways out: guard state, instruments and the choice."""
    for sort in _sorts(answers.instruments):
        inventory = replace(reference, instruments={i.key: i for i in sort})
        spindle = next(
            (s for s in reference.spindles.values() if s.plain and sort[0].spring in s.springs), None
        )
        for guard in (answers.guard,) if answers.guard else GUARDS:
            if spindle is None:
                continue
            # No instrument has this speed, so the seed itself is not among what the search leaves out.
            numbers = _numbers(answers, inventory, guard, sort, spindle, rpm=0.123)
            compiled = _compile(answers, numbers, inventory)
            if compiled.method is None:
                continue
            for choice in alternatives(compiled.method, compiled.method.run[0]):
                able = tuple(i for i in sort if i.has_speed(choice.rpm))
                if choice.spindle.plain and able:
                    yield guard, able, choice


def _rank(
    reference: Reference, guard: str, able: tuple[Instrument, ...], choice: Choice
) -> tuple[float, ...]:
    policy = reference.policy
    # Both limits are given, so both torques are.
    lower, upper = choice.torque_lower or 0.0, choice.torque_upper or 0.0
    roomy = upper * (1 + policy["headroom"] / 100) <= policy["torque_ceiling"]
    comfortable = lower >= policy["torque_preferred"] and roomy
    middle = (lower + upper) / 2
    best_zone = policy["best_zone_lower"] <= middle <= policy["best_zone_upper"]
    centre = (policy["best_zone_lower"] + policy["best_zone_upper"]) / 2
    # Where a spring takes a guard, published coefficients are found with it (common practice).
    unguarded = choice.spring.takes_guard and guard != "required"
    slowest, fastest, usual = USUAL_SPEEDS
    return (
        not comfortable, not best_zone, unguarded, not slowest <= choice.rpm <= fastest,
        able[0].stand != "fine-height", len(able) < 2, abs(middle - centre) // 10,
        abs(math.log(choice.rpm / usual)), able[0].readout != "digital",
    )  # fmt: skip


def _numbers(
    answers: Answers,
    reference: Reference,
    guard: str,
    able: tuple[Instrument, ...],
    spindle: Spindle,
    *,
    rpm: float,
) -> _Numbers:
    spring = able[0].spring
    container = spindle.container or next(k for k, c in reference.containers.items() if c.reference)
    middle = math.sqrt(answers.lower.value * answers.upper.value)
    fluid = min(reference.fluids.values(), key=lambda f: abs(math.log(f.viscosity.value / middle)))
    # Common practice: on springs that take a guard the reference fluid is measured with it.
    checked = "required" if guard == "not-used" and reference.springs[spring].takes_guard else None
    return _Numbers(
        spring=spring, spindle=spindle.key, container=container, guard=guard, rpm=rpm,
        instruments=able, fluid=fluid.key, verification_guard=checked,
    )  # fmt: skip


def _compile(answers: Answers, numbers: _Numbers, reference: Reference) -> Compiled:
    name = f"{answers.id}.yaml"
    return compile_method(_method_text(answers, numbers, "# ").encode(), name, reference, today=date.today())  # noqa: DTZ011


def _worked_out(answers: Answers, numbers: _Numbers, reference: Reference) -> Draft:
    """Set volume, times, increment and reference fluid by the figures of the draft itself."""
    figures = _compile(answers, numbers, reference).figures
    if figures is not None:
        step = f"run.{step_name(numbers.rpm)}."
        waits = [figures.value(step + "customary_wait") or 0.0, figures.value(step + "wind_up") or 0.0]
        least = 60.0 if _careful(answers.behaviour) in ("thixotropic", "yield-stress") else 30.0
        numbers = replace(numbers, after=_up(max(*waits, least), 5 if max(waits) < 60 else 10))
        needed = figures.value("conditioning.needed")
        if needed is not None:
            numbers = replace(numbers, conditioning=_up(needed / 60, 10))
        numbers = _filled(numbers, reference, figures)
        allowed = figures.value("replicates.critical_range")
        if allowed is not None:
            numbers = replace(numbers, agree=f"{math.ceil(allowed * 10) / 10:g} %")
        increment, decimals = _increment(answers, figures.value(step + "resolution") or 0.0)
        numbers = replace(numbers, increment=increment, decimals=decimals)
        numbers = replace(
            numbers, fluid=_fluid(answers, numbers, reference, figures.value(step + "full_scale"))
        )
    return Draft(answers, numbers, _compile(answers, numbers, reference))


def _up(value: float, step: int) -> int:
    return step * math.ceil(value / step - 1e-9)


def _filled(numbers: _Numbers, reference: Reference, figures: Figures) -> _Numbers:
    """Fill the container so that the mark is reached and the rim stays free."""
    needed = figures.value("container.level_needed")
    level = figures.value("container.level_upper")
    least = figures.value("container.level_lower")
    if needed is None or level is None or least is None:
        return numbers
    container = reference.containers[numbers.container]
    area = math.pi / 4 * container.inside_diameter.value**2
    most = container.height.value - reference.policy["free_board"]
    for clearance in (numbers.clearance, math.ceil(1000 * reference.policy["bottom_clearance"])):
        short = needed - (numbers.clearance - clearance) / 1000 - least
        more = max(0, _up(short * area * 1e6, 10))
        if level + more * 1e-6 / area <= most:
            return replace(numbers, clearance=clearance, volume=numbers.volume + more)
    return numbers


def _increment(answers: Answers, resolution: float) -> tuple[str, int]:
    """Choose the step of the reported value: not finer than the readout, a twentieth of the limits or less.

    Gives its text and the decimals that it and the limits are written with.
    """
    unit = answers.upper.unit
    width = express(answers.upper.value - answers.lower.value, unit)
    finest = express(resolution, unit)
    written = max(answers.lower.decimals, answers.upper.decimals)
    top = math.floor(math.log10(width / 20))
    steps = [Decimal(n).scaleb(k) for k in range(top, top - 4, -1) for n in (5, 2, 1)]
    fit = [s for s in steps if finest <= float(s) <= width / 20 * (1 + 1e-9)] or [steps[2]]

    def decimals(step: Decimal) -> int:
        return max(0, -int(step.normalize().as_tuple().exponent))

    best = min(
        fit,
        key=lambda s: (
            decimals(s) > written,
            abs(decimals(s) - written),
            s.normalize().as_tuple().digits != (1,),
            -s,
        ),
    )
    places = max(decimals(best), written)
    return f"{best:.{places}f} {unit}", places


def _fluid(answers: Answers, numbers: _Numbers, reference: Reference, full_scale: float | None) -> str:
    """Choose the reference fluid nearest to the product that gives a torque a fault would show at."""
    policy = reference.policy
    middle = math.sqrt(answers.lower.value * answers.upper.value)
    if not full_scale:
        return numbers.fluid
    least, most = policy["verification_torque_warning"], policy["verification_torque_ceiling"]
    fit = [f for f in reference.fluids.values() if least < 100 * f.viscosity.value / full_scale < most]
    if not fit:
        return numbers.fluid
    return min(fit, key=lambda f: abs(math.log(f.viscosity.value / middle))).key


def nothing_suits(answers: Answers, reference: Reference) -> str:
    """Say what was looked for in vain, and what can be done."""
    had = "; ".join(
        dict.fromkeys(f"spring {i.spring}, {i.readout}, {i.coupling}" for i in answers.instruments)
    )
    policy = reference.policy
    texts = policy.texts
    return (
        f"No plain spindle in its beaker reads {answers.lower.text} to {answers.upper.text} on what the "
        f"laboratory has ({had}) with {texts['torque_floor']} to {texts['torque_ceiling']} torque in the "
        "worst case, in laminar flow, and with limits of which half is at least "
        f"{texts['instrument_ratio_error']} times the instrument's tolerance. Widen the limits, name another "
        "instrument, or prescribe --spindle and --speed to see what the check says of them. A product "
        "thinner than about 15 mPa·s needs a narrow gap, and no new method starts with one."
    )


# --- the text of a method


def step_name(rpm: float) -> str:
    """Name the step of a speed."""
    return f"viscosity_{rpm:g}".replace(".", "_")


_PLAIN = re.compile(r"[A-Za-z][\w &()/+%.-]*")
_YAML_WORDS = {"true", "false", "null", "yes", "no", "on", "off"}


def _scalar(text: str) -> str:
    """Write a text so that YAML reads it back as it is."""
    if _PLAIN.fullmatch(text) and text.isascii() and text.lower() not in _YAML_WORDS and text == text.strip():
        return text
    return json.dumps(text, ensure_ascii=False)


_PREPARATION = {
    "newtonian": "Pour slowly down the wall; let bubbles rise for 10 min, until none is seen.",
    "yield-stress": "Fill slowly down the wall within 60 s; do not stir and do not shake.",
}
_STIR = "Stir 20 turns in 20 s with a wide spatula; draw no air in."


def _careful(behaviour: str) -> str:
    """Give the behaviour a method is written for: where it is not known, the one that asks for most care."""
    return "yield-stress" if behaviour == "unknown" else behaviour


def _method_text(answers: Answers, n: _Numbers, modeline: str) -> str:
    a = answers
    one = n.instruments[0]
    target = a.temperature.value.value
    start = 18 if target >= 22 else 28
    step = step_name(n.rpm)
    unit = a.upper.unit
    lower, upper = (with_decimals(q, n.decimals) for q in (a.lower, a.upper))
    where = "water-bath" if target <= 90 else "oil-bath"
    parts = ", parts: true" if abs(target - 22) >= 8 else ""
    lock = ", lock: true" if one.readout == "dial" else ""
    only = ", only_this: true" if len(n.instruments) == 1 else ""
    density = a.density or "1.00 g/mL"
    sensitivity = a.sensitivity or "3.0 %/K"
    tolerance = a.temperature.tolerance.value
    thermometer = (
        f"{{resolution: {_step_below(tolerance / 5):g} K, uncertainty: {_step_below(tolerance / 4):g} K}}"
    )
    guard_line = f"\n  guard: {n.verification_guard}" if n.verification_guard else ""
    preparation = _PREPARATION.get(_careful(a.behaviour), _STIR)
    review = date.today().replace(day=1)  # noqa: DTZ011 - the author's own day
    review = review.replace(year=review.year + 2)

    def confirm(condition: bool, why: str) -> str:
        return f"   # CONFIRM: {why}" if condition else ""

    return f"""{modeline}
# A start that passes the check. Lines marked CONFIRM hold what nobody has stated yet: put what you know in
# their place and take the mark away, all of them before the method leaves the state of a draft.
fillmark: 1
id: {_scalar(a.id)}
title: {_scalar(a.title)}
revision: 0
status: draft                     # draft, in-review, released, superseded, withdrawn
purpose: {a.purpose}{confirm(a.purpose == "development" and a.behaviour == "unknown", "a product of unknown behaviour is not released")}
review_by: {review.isoformat()}
people: {{author: {_scalar(a.author)}}}      # add reviewer and approver; the approver is another person

product:
  name: {_scalar(a.product)}
  behaviour: {_careful(a.behaviour)}{confirm(a.behaviour == "unknown", "not known yet; this is the most careful of all")}
  density: {density}{confirm(a.density is None, "assumed; weigh a known volume")}
  temperature_sensitivity: {sensitivity}{confirm(a.sensitivity is None, "assumed; measure 2 K below and 2 K above the target")}
  largest_particle: 100 µm   # CONFIRM: assumed
  thermal_diffusivity: 0.10 mm²/s   # CONFIRM: assumed, on the slow side; it sets the time in the bath
  hazards: [{", ".join(a.hazards)}]   # as the author stated them; the safety data sheet comes first

specification:
  - {{result: {step}, lower: {lower}, upper: {upper}, decision_rule: simple}}

instrument: {{spring: {n.spring}, readout: {one.readout}, coupling: {one.coupling}, suspension: {one.suspension}, stand: {one.stand}{only}}}
spindle: {n.spindle}
guard: {n.guard}
container: {n.container}

sample:
  volume: {n.volume} mL ± 10 mL
  age: 24 h ± 4 h   # CONFIRM: assumed; when after production or sampling it is measured
  preparation: |
    {preparation}
  rest: 5 min   # CONFIRM: assumed, as is the preparation above
immersion: {{to: shaft-mark, tolerance: 2 mm, bottom_clearance: {n.clearance} mm}}

temperature:
  target: {a.temperature.text}
  measured: in-sample
  start: {start} °C   # CONFIRM: assumed; how far off the sample may come in
  thermometer: {thermometer}
  conditioning: {{where: {where}, time: {n.conditioning} min, covered: true{parts}}}

run:
  - {{name: {step}, speed: {n.rpm:g} rpm, read: {{after: {n.after} s{lock}}}}}
replicates:
  count: 2
  each: new-loading
  repeatability: 1.5 %   # CONFIRM: assumed; from a study of your own
  agree_within: {n.agree}
  otherwise: Repeat the pair once on new loadings; report all four.
verification:
  fluid: {n.fluid}
  at: {step}{guard_line}
  frequency: each working day, before the first sample
  on_failure: Stop, tag the instrument, look back to the last pass.

report:
  - {{result: {step}, statistic: mean, unit: {unit}, increment: {n.increment or f"1 {unit}"}, rounding: half-even, below_range: stated, above_range: stated}}

equipment: ["thermometer, 0.1 °C", timer, water bath, wide spatula]
cleaning: {{agent: warm water, disposal: waste route of the site}}   # CONFIRM: assumed
training: {{level: 2, valid: 24 months}}
retention: 5 years   # CONFIRM: assumed
notes:
  why: |
    Read at {{{{run.{step}.read_at}}}}, every time: sooner the spring may still be winding up and the reading is
    low, and a product that changes under shear gives another number at another moment.
"""  # noqa: E501 - the lines of the file that is written


def _step_below(value: float) -> float:
    """Give the coarsest usual step of a thermometer (K) that is not above a value."""
    return next((s for s in (0.1, 0.05, 0.02, 0.01, 0.005, 0.002) if s <= value * (1 + 1e-9)), 0.001)


def with_decimals(quantity: Quantity, places: int) -> str:
    """Write a limit with at least so many decimals; its value stays."""
    if places <= quantity.decimals:
        return quantity.text
    return f"{Decimal(quantity.number):.{places}f} {quantity.unit}"
