"""The check of the instrument with a reference fluid: can it fail, and is it of what is used."""

import re
from collections.abc import Iterator
from math import ceil, log, log10

from fillmark.diagnostics import Related
from fillmark.figures import Figures
from fillmark.model import Fluid, Method, Spindle, Step, Verification
from fillmark.quantities import brief, express, fixed
from fillmark.rules import ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule
from fillmark.rules.wording import clauses, found_in


def _check(m: Method) -> tuple[Verification, Step] | None:
    """Give the verification and the step whose speed it uses."""
    step = None if m.verification is None else m.step(m.verification.at)
    return None if m.verification is None or step is None else (m.verification, step)


def _percent(value: float) -> str:
    return f"{fixed(value, 1 if abs(value) < 1000 else 0)} %"


def _in(value: float, unit: str, digits: int = 4) -> str:
    """Write a viscosity (Pa·s) in a unit, without the zeros that say nothing."""
    return f"{brief(express(value, unit), digits)} {unit}"


def _product_viscosity(step: Step, figures: Figures) -> float | None:
    """Give what the product reads at this step: its target, or the middle of its limits (Pa·s)."""
    full = figures.value(f"run.{step.name}.full_scale")
    target = figures.value(f"run.{step.name}.torque_target")
    if target is None:
        low, high = (figures.value(f"run.{step.name}.torque_{w}") for w in ("lower", "upper"))
        target = None if low is None or high is None else (low + high) / 2
    return None if full is None or target is None else full * target / 100


def _window(m: Method) -> tuple[float, float]:
    policy = m.reference.policy
    return policy["verification_torque_warning"], policy["verification_torque_ceiling"]


def _in_window(m: Method, torque: float) -> bool:
    low, high = _window(m)
    return low * (1 - 1e-9) <= torque <= high * (1 + 1e-9)


def _torque(fluid: Fluid, figures: Figures) -> float:
    return 100 * fluid.viscosity.value / figures["verification.full_scale"].value


def _near(m: Method, fluid: Fluid, product: float) -> bool:
    times = m.reference.policy["verification_nearness"]
    return 1 / times * (1 - 1e-9) <= fluid.viscosity.value / product <= times * (1 + 1e-9)


def _fitting(m: Method, figures: Figures, step: Step) -> list[Fluid]:
    """List the fluids of the laboratory that give a good torque, those nearest to the product first."""
    product = _product_viscosity(step, figures)
    good = [f for f in m.reference.fluids.values() if _in_window(m, _torque(f, figures))]
    if product is None:
        return sorted(good, key=lambda f: abs(_torque(f, figures) - 60))
    near = [f for f in good if _near(m, f, product)] or good
    return sorted(near, key=lambda f: abs(log(f.viscosity.value / product)))


def _fluid_ways(m: Method, figures: Figures, step: Step) -> tuple[str, str]:
    """Offer a fluid that would do, and then another step or what to buy."""
    low, high = _window(m)
    full = figures["verification.full_scale"].value
    unit = figures["verification.full_scale"].unit
    span = (
        f"a certified fluid from {_in(full * low / 100, unit)} to {_in(full * high / 100, unit)}: "
        f"{brief(low, 3)} to {brief(high, 3)} % torque at {step.speed.text}"
    )
    fluids = _fitting(m, figures, step)[:3]
    check = m.verification
    elsewhere = [
        (s, figures["verification.torque"].value * s.speed.value / step.speed.value)
        for s in m.run
        if s.name != step.name
    ]
    other = next(((s, t) for s, t in elsewhere if _in_window(m, t)), None)
    if fluids:
        named = " or ".join(f"{f.key} ({_percent(_torque(f, figures))})" for f in fluids)
        first = f"Use {named}."
        second = f"Or use {span}."
    else:
        first = f"Get {span}."
        second = "Or check with another spindle whose torque lies between, and waive VER07 with the evidence."
    if other is not None and check is not None:
        there, reads = other
        second = (
            f"Or keep {check.fluid.key} and check at {there.name}, {there.speed.text}: {_percent(reads)}."
        )
    return first, second


@rule(
    "VER01",
    ERROR,
    sources=("iso-17025", "common-practice"),
    example=Example(
        "TGF-VIS-003",
        right="""verification:
  fluid: REF-10000
  at: viscosity_10
  guard: required
  frequency: each working day, before the first sample
  on_failure: Stop, tag the instrument, look back to the last pass.
""",
        wrong="",
        at="purpose: release",
    ),
)
def verification_missing(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The results decide something and the instrument is never checked with a reference fluid.

    A bent shaft, a worn pivot or a changed spring shifts every result by the same amount, mostly low, and
    nobody sees it until the yearly calibration.

    Where another document has the instrument checked with the same spindle before use.
    """
    if m.verification is not None or m.purpose not in ("release", "stability", "in-process"):
        return
    step = m.run[0]
    product = _product_viscosity(step, figures)
    full = figures.value(f"run.{step.name}.full_scale")
    low, high = _window(m)
    fits = ""
    if product is not None and full is not None:
        good = [f for f in m.reference.fluids.values() if low <= 100 * f.viscosity.value / full <= high]
        good.sort(key=lambda f: abs(log(f.viscosity.value / product)))
        fits = (
            f", such as fluid: {good[0].key} at: {step.name}"
            if good
            else f", with a fluid of {low:.0f} to {high:.0f} %"
        )
    yield Finding(
        ("purpose",),
        f"The purpose is {m.purpose} and 0 checks with a reference fluid are asked for.",
        (
            f"Add a verification{fits}, with frequency and on_failure.",
            "Or waive this and name the document that has the instrument checked with this spindle.",
        ),
        severity=WARNING if m.purpose == "in-process" else None,
    )


@rule(
    "VER02",
    ERROR,
    sources=("common-practice", "usp-912"),
    example=Example("QAP-VIS-002", right="fluid: REF-30000", wrong="fluid: REF-1000"),
)
def fluid_turns_too_little(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The reference fluid reads low on the scale, where the acceptance band swallows every fault.

    The instrument's tolerance is a share of full scale. At a few percent of torque it is as large as the
    fluid's own viscosity, so an instrument that reads far low, or does not turn at all, still passes.

    Above the error threshold, where no fluid reads higher at this speed and the band is watched on a chart.
    """
    found = _check(m)
    torque = figures.value("verification.torque")
    if found is None or torque is None:
        return
    check, step = found
    policy = m.reference.policy
    floor, preferred = policy["verification_torque_error"], policy["verification_torque_warning"]
    if torque >= preferred * (1 - 1e-9):
        return
    unit = check.fluid.viscosity.unit
    lower, upper = figures["verification.lower"].value, figures["verification.upper"].value
    low, high = figures["verification.torque_lower"].value, figures["verification.torque_upper"].value
    share = 50 * (upper - lower) / check.fluid.viscosity.value
    bad = torque < floor * (1 - 1e-9)
    message = (
        f"{check.fluid.key} ({check.fluid.viscosity.text}) gives {_percent(torque)} torque at "
        f"{step.speed.text}; "
        f"{brief(floor if bad else preferred, 3)} % is the least{'' if bad else ' preferred'}. The band is "
        f"{_in(lower, unit)} to {_in(upper, unit)}, ± {brief(share, 2)} % of the fluid: "
    )
    if low <= 0:
        message += (
            f"any reading from 0 to {_percent(high)} passes, that of a seized instrument too. It is a "
            "test that "
            "cannot fail."
        )
    else:
        message += f"any torque from {_percent(low)} to {_percent(high)} passes."
    yield Finding(
        ("verification", "fluid"),
        message,
        _fluid_ways(m, figures, step),
        (Related(f"checked at {step.speed.text}", (*step.path, "speed")),),
        severity=None if bad else WARNING,
    )


@rule(
    "VER03",
    ERROR,
    sources=("common-practice", "project-decision"),
    example=Example("MCW-VIS-014", right="fluid: REF-10000", wrong="fluid: REF-30000"),
)
def fluid_turns_too_far(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The reference fluid reads so high that its acceptance band leaves the scale.

    An instrument that reads high runs over full scale instead of failing with a number, and a spring at its
    stop may be strained.

    Where no thinner fluid can be had and the band still ends below full scale.
    """
    found = _check(m)
    torque = figures.value("verification.torque")
    if found is None or torque is None:
        return
    check, step = found
    ceiling = m.reference.policy["verification_torque_ceiling"]
    if torque > ceiling * (1 + 1e-9):
        yield Finding(
            ("verification", "fluid"),
            f"{check.fluid.key} ({check.fluid.viscosity.text}) gives {_percent(torque)} torque at "
            f"{step.speed.text}, "
            f"{_percent(torque - ceiling)} above the {brief(ceiling, 3)} % allowed; its band ends at "
            f"{_percent(figures['verification.torque_upper'].value)}.",
            _fluid_ways(m, figures, step),
            (Related(f"checked at {step.speed.text}", (*step.path, "speed")),),
        )


@rule(
    "VER04",
    ERROR,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014",
        right="at: viscosity_20\n",
        wrong="at: viscosity_20\n  accept: {lower: 9.5 Pa·s, upper: 10.5 Pa·s}\n",
        at="accept:",
    ),
)
def stated_band_differs(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The acceptance limits written in the method are not those that follow from instrument and fluid.

    A wider band passes an instrument that is off by more than its accuracy; a narrower one fails sound
    instruments, until somebody bends the coefficient to make them pass.

    Where the laboratory keeps a tighter band of its own from a control chart.
    """
    found = _check(m)
    if found is None or "verification.lower" not in figures:
        return
    check, _ = found
    lower, upper = figures["verification.lower"].value, figures["verification.upper"].value
    half = (upper - lower) / 2
    allowed = m.reference.policy["verification_band_match"] / 100 * half
    stated = [
        (k, q, v)
        for k, q, v in (("lower", check.lower, lower), ("upper", check.upper, upper))
        if q is not None
    ]
    off = [(k, q, v) for k, q, v in stated if abs(q.value - v) > allowed * (1 + 1e-9)]
    if not off:
        return
    key, q, _v = off[0]
    wide = any(q.value < v if k == "lower" else q.value > v for k, q, v in off)
    narrow = any(q.value > v if k == "lower" else q.value < v for k, q, v in off)
    unit = q.unit
    # As many decimals as the comparison itself needs, so that what is advised also passes.
    places = max(0, ceil(-log10(express(allowed, unit)))) if allowed > 0 else 4
    low, high = (f"{float(fixed(express(v, unit), places)):.15g} {unit}" for v in (lower, upper))
    direction = (
        "An instrument that is off by more than its accuracy would pass."
        if wide and not narrow
        else "Sound instruments would fail."
        if narrow and not wide
        else "It is shifted: it passes faults on one side and fails sound instruments on the other."
    )
    yield Finding(
        ("verification", "accept", key),
        f"The band is written as {' to '.join(s.text for _, s, _v in stated)}; from accuracy, full scale and "
        f"certificate it is {low} to {high} "
        f"({m.reference.policy.choices.get('verification_band', 'additive')}), "
        f"off by {brief(100 * max(abs(q.value - v) for _, q, v in off) / half, 2)} % of half the band. "
        f"{direction}",
        (
            f"Write accept: lower {low}, upper {high}.",
            "Or take accept out: the band is computed and printed anyway.",
        ),
        (Related(f"{check.fluid.key}: {check.fluid.viscosity.text}", ("verification", "fluid")),),
    )


@rule(
    "VER05",
    WARNING,
    sources=("common-practice",),
    example=Example("QAP-VIS-002", right="fluid: REF-30000", wrong="fluid: REF-10000"),
)
def fluid_far_from_product(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The reference fluid is much thinner or thicker than the product.

    The check then tells about another part of the scale; a spring that is not straight passes there and reads
    off where the product lies.

    Where the instrument is also checked at two torques, say near 30 and near 80 %.
    """
    found = _check(m)
    torque = figures.value("verification.torque")
    if found is None or torque is None:
        return
    check, step = found
    product = _product_viscosity(step, figures)
    if product is None:
        yield NotJudged(
            f"step {step.name} has neither a target nor two limits to compare the reference fluid with"
        )
        return
    if not _in_window(m, torque) or _near(m, check.fluid, product):
        return
    times = m.reference.policy["verification_nearness"]
    ratio = check.fluid.viscosity.value / product
    unit = figures["verification.full_scale"].unit
    better = [f for f in _fitting(m, figures, step) if _near(m, f, product)][:3]
    named = " or ".join(f"{f.key} ({_percent(_torque(f, figures))})" for f in better)
    yield Finding(
        ("verification", "fluid"),
        f"{check.fluid.key} ({check.fluid.viscosity.text}) is {brief(ratio, 2)} times the "
        f"{_in(product, unit)} expected "
        f"at {step.name}; within a factor of {brief(times, 2)} is near enough. The scale is checked at "
        f"{_percent(torque)} and used near "
        f"{_percent(100 * product / figures[f'run.{step.name}.full_scale'].value)}.",
        (
            f"Use {named}."
            if named
            else f"Get a certified fluid from {_in(product / times, unit)} to {_in(product * times, unit)}.",
            "Or waive this with a check at two torques, near 30 % and near 80 %, as evidence.",
        ),
        (Related(f"expected at {step.name}", step.path),),
    )


@rule(
    "VER06",
    ERROR,
    waivable=False,
    sources=("definition", "common-practice"),
    example=Example(
        "BBM-VIS-007",
        right="at: viscosity_50\n",
        wrong="at: viscosity_50\n  temperature: 38.0 °C ± 0.1 °C\n",
        at="temperature: 38.0 °C ± 0.1 °C",
    ),
)
def fluid_off_its_certificate(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The reference fluid is used at another temperature than its certificate holds for.

    Its true viscosity is then not the certified one: warmer reads low, colder high. Sound instruments fail,
    or faulty ones pass. A fluid at its own temperature beside a product at another is right: the check is of
    the spring, not of the product.

    Never: enter a fluid with a certificate for that temperature instead.
    """
    found = _check(m)
    if found is None or found[0].temperature is None:
        return
    check, _ = found
    fluid, used = check.fluid, found[0].temperature.value
    off = used.value - fluid.temperature.value
    if off == 0:
        return
    change = fluid.sensitivity.value * abs(off)
    half = (
        50
        * (figures["verification.upper"].value - figures["verification.lower"].value)
        / fluid.viscosity.value
    )
    yield Finding(
        ("verification", "temperature"),
        f"{fluid.key} is certified at {fluid.temperature.text} and checked at {used.text}, "
        f"{brief(abs(off), 3)} K {'warmer' if off > 0 else 'colder'}: at {fluid.sensitivity.text} it "
        "reads about "
        f"{brief(change, 2)} % {'low' if off > 0 else 'high'}, where the band is ± {brief(half, 2)} %.",
        (
            f"Check it at {fluid.temperature.text} ± 0.1 °C, whatever the temperature of the product.",
            f"Or enter a fluid whose certificate holds at {used.text}.",
        ),
    )


def _home(m: Method, spindle: Spindle) -> str | None:
    """Give the container the coefficient in use holds for."""
    if m.coefficient is not None and spindle.key == m.spindle.key:
        return m.coefficient.container
    return spindle.container


def _guarded_check(m: Method, check: Verification, spindle: Spindle) -> bool:
    """Whether the check is with the guard because checks on this spring are, whatever the run does."""
    own = m.coefficient is not None and spindle.key == m.spindle.key
    return check.guard == "required" and m.instrument.spring.takes_guard and spindle.plain and not own


@rule(
    "VER07",
    ERROR,
    sources=("common-practice", "usp-912"),
    example=Example(
        "MCW-VIS-014",
        right="at: viscosity_20\n",
        wrong="at: viscosity_20\n  container: beaker-250\n",
        at="container: beaker-250",
    ),
)
def verified_in_another_geometry(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The check is made with another spindle, container or guard state than the coefficient holds for.

    In a narrower container a sound instrument reads high and fails; with another spindle a bent or worn one
    is never seen, though it makes every result.

    Where the geometry itself cannot be checked with a fluid, as with a bar: then the spring is checked with
    a plain spindle in the reference beaker.
    """
    found = _check(m)
    if found is None:
        return
    check, _ = found
    spindle = check.spindle or m.spindle
    differs: list[tuple[str, str, Related]] = []
    if spindle.key != m.spindle.key:
        text = f"spindle {spindle.key} instead of {m.spindle.key}"
        differs.append(("spindle", text, Related(f"{m.spindle.key} in the run", ("spindle",))))
    home = _home(m, spindle)
    if check.container is not None and home is not None and check.container.key != home:
        where = m.reference.containers.get(home)
        text = f"{check.container.label} ({check.container.inside_diameter.text}) instead of "
        if where is None:
            text += home
        else:
            text += f"{where.label} ({where.inside_diameter.text})"
            wider = check.container.inside_diameter.value > where.inside_diameter.value
            text += f", which reads {'low' if wider else 'high'}"
        differs.append(("container", text, Related("container of the run", ("container",))))
    if (
        check.guard is not None
        and spindle.key == m.spindle.key
        and check.guard != m.guard
        and not _guarded_check(m, check, spindle)
        and not _lacks_guard(m, check, spindle)
    ):
        text = f"guard {check.guard} instead of {m.guard}"
        differs.append(("guard", text, Related(f"guard: {m.guard} in the run", ("guard",))))
    if not differs:
        return
    key = differs[0][0]
    yield Finding(
        ("verification", key),
        f"The check differs in {len(differs)} of 3 from what the coefficient holds for: "
        f"{', '.join(text for _, text, _r in differs)}. It says nothing of the geometry that makes the "
        "results.",
        (
            (
                f"Take {' and '.join(k for k, _, _r in differs)} out of the verification, so that it is "
                "made as the run is."
            ),
            "Or, where the geometry cannot be checked with a fluid, waive this with the study that shows it.",
        ),
        tuple(related for _, _t, related in differs),
    )


def _lacks_guard(m: Method, check: Verification, spindle: Spindle) -> bool:
    if not m.instrument.spring.takes_guard or not spindle.plain or (check.guard or m.guard) == "required":
        return False
    own = m.coefficient is not None and spindle.key == m.spindle.key
    if own and m.coefficient is not None and m.coefficient.guard != "required":
        return False
    # Where the run itself misses a guard its coefficient needs, that is the one thing to mend.
    return check.guard is not None or spindle.guard == "either"


@rule(
    "VER08",
    ERROR,
    sources=("common-practice",),
    example=Example(
        "TGF-VIS-003",
        right="at: viscosity_10\n  guard: required\n",
        wrong="at: viscosity_10\n",
        at="fluid: REF-10000",
    ),
)
def verified_without_guard(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The check on a spring that belongs with the guard is made without it.

    On the springs L and R checks are made with the guard whatever the spindle, since the published
    coefficients rest on it; without it the fluid reads low, with large spindles by several percent.

    Where the laboratory's own coefficient was found without the guard; then it is declared.
    """
    found = _check(m)
    if found is None:
        return
    check, _ = found
    spindle = check.spindle or m.spindle
    if _lacks_guard(m, check, spindle):
        yield Finding(
            ("verification", "guard" if check.guard is not None else "fluid"),
            f"The check with {spindle.key} on spring {m.instrument.spring.key} "
            f"({m.instrument.spring.full_scale.text}) is made without the guard "
            f"({check.guard or m.guard}): the "
            "fluid reads low.",
            (
                "Write guard: required in the verification, whatever the run does.",
                "Or declare a coefficient of your own, found without the guard.",
            ),
            () if check.guard is not None else (Related(f"guard: {m.guard} in the run", ("guard",)),),
        )


@rule(
    "VER09",
    ERROR,
    sources=("iso-17025",),
    example=Example(
        "MCW-VIS-014",
        right="  frequency: each working day, before the first sample\n",
        wrong="",
        at="fluid: REF-10000",
    ),
)
def frequency_missing(m: Method, figures: Figures) -> Iterator[Outcome]:
    """Nothing says how often the instrument is checked.

    When a check fails, every result since the last pass is in doubt; without a frequency that may be months.

    Where a document named in the waiver sets it for all methods.
    """
    found = _check(m)
    if found is not None and found[0].frequency is None:
        yield Finding(
            ("verification", "fluid"),
            f"The check with {found[0].fluid.key} has no frequency: between 2 checks any time may pass.",
            (
                "Write frequency: each working day, before the first sample.",
                "Or write it by use: before each series of results.",
            ),
        )


@rule(
    "VER10",
    WARNING,
    sources=("iso-17025",),
    example=Example(
        "MCW-VIS-014",
        right="each working day, before the first sample",
        wrong="regularly, before the first sample",
    ),
)
def frequency_vague(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The frequency of the check is a word that everybody reads differently.

    A check that is due at no certain time is never overdue.

    Where the word is defined in the site's own quality manual.
    """
    found = _check(m)
    if found is None or found[0].frequency is None:
        return
    frequency = found[0].frequency
    words = list(found_in(frequency, m.reference.policy.choices.get("vague_frequencies", "")))
    if words:
        yield Finding(
            ("verification", "frequency"),
            f"The check is made {frequency!r}: {words[0]!r} names no time, so 1 check a year would do.",
            (
                "Write a time: each working day, before the first sample.",
                "Or write a use: before each series of results.",
            ),
        )


@rule(
    "VER11",
    ERROR,
    sources=("iso-17025",),
    example=Example(
        "MCW-VIS-014",
        right="  on_failure: Stop, tag the instrument, look back to the last pass.\n",
        wrong="",
        at="fluid: REF-10000",
    ),
)
def failure_without_action(m: Method, figures: Figures) -> Iterator[Outcome]:
    """Nothing says what is done when the check fails.

    At the bench it is then repeated until it passes, and the first reading is forgotten.

    Where a document named in the waiver says it for all methods.
    """
    found = _check(m)
    if found is not None and found[0].on_failure is None:
        yield Finding(
            ("verification", "fluid"),
            f"Nothing says what is done when the check with {found[0].fluid.key} fails"
            + (
                f" (outside {figures.text('verification.lower')} to {figures.text('verification.upper')})."
                if "verification.lower" in figures
                else "."
            ),
            (
                "Write on_failure: Stop, tag the instrument, look back to the last pass.",
                "Or name the document that says it.",
            ),
        )


_BENDS = re.compile(
    r"\b(?:adjust|change|correct|re-?calculate|scale|alter|adapt|modify|tune|replace|set)\w*\b[^,]{0,40}?"
    r"\b(?:coefficients?|factors?|constants?|results?|readings?|multipliers?)\b"
    r"|\bcorrection factor|\b(?:multiply|divide)\b",
    re.IGNORECASE,
)
_REPEATS = re.compile(
    r"\b(?:repeat|re-?test|re-?run|re-?measure|re-?read|try|check|measure|run|read)\w*\b[^,]{0,40}?"
    r"\b(?:until|till)\b|\buntil (?:it|they|the check) (?:pass|agree)",
    re.IGNORECASE,
)


@rule(
    "VER12",
    ERROR,
    waivable=False,
    sources=("record-practice", "common-practice"),
    example=Example(
        "MCW-VIS-014",
        right="Stop, tag the instrument, look back to the last pass.",
        wrong="Adjust the coefficient, then look back to the last pass.",
    ),
)
def failure_made_to_pass(m: Method, figures: Figures) -> Iterator[Outcome]:
    """On failure the coefficient is adjusted, or the check is repeated until it passes.

    A bent coefficient hides a fault of the spring or the spindle at one point of the scale and carries it
    into every result; a check that is repeated until it passes always passes.

    Never. A coefficient for another container is found by a study and declared as the laboratory's own.
    """
    found = _check(m)
    if found is None or found[0].on_failure is None:
        return
    for clause in clauses(found[0].on_failure):
        for pattern, what in ((_BENDS, "makes the number fit"), (_REPEATS, "goes on until it passes")):
            match = pattern.search(clause.text)
            if match and not clause.denied(match.start()):
                band = (
                    f" of {figures.text('verification.lower')} to {figures.text('verification.upper')}"
                    if "verification.lower" in figures
                    else ""
                )
                yield Finding(
                    ("verification", "on_failure"),
                    f"{' '.join(match[0].split())!r} {what}: the band{band} then fails nothing.",
                    (
                        "Write: Stop, tag the instrument, look back to the last pass.",
                        "Or allow one repeat with fresh fluid, both readings recorded, and then stop.",
                    ),
                )
                return


_LOOKS_BACK = re.compile(
    r"\blook(?:ed|ing)?[ -]?(?:back|at (?:all|the|earlier|every))|\blast pass|\bsince the last"
    r"|\blast (?:good|valid|passed)"
    r"|\b(?:earlier|previous|past|former|affected|prior) (?:\w+ ){0,2}(?:results?|tests?|batches|samples)"
    r"|\bback to\b|\bretrospective|\btrace back|\bimpact assess",
    re.IGNORECASE,
)


@rule(
    "VER13",
    WARNING,
    sources=("iso-17025",),
    example=Example(
        "MCW-VIS-014",
        right="Stop, tag the instrument, look back to the last pass.",
        wrong="Stop, tag the instrument.",
    ),
)
def failure_without_look_back(m: Method, figures: Figures) -> Iterator[Outcome]:
    """After a failed check nobody looks at the results made since the last one that passed.

    The fault did not start with the check. Batches released in between were judged with the same instrument.

    Where every series lies between two checks and is reported only after the second.
    """
    found = _check(m)
    if found is None or found[0].on_failure is None or m.purpose not in ("release", "stability"):
        return
    if not _LOOKS_BACK.search(found[0].on_failure):
        yield Finding(
            ("verification", "on_failure"),
            f"When the check with {found[0].fluid.key} fails, the results since the last pass are left "
            "as they are: "
            f"{m.purpose} rests on them.",
            (
                "Add: look back to the last pass.",
                "Or report a series only after a check that passes on both sides of it.",
            ),
        )


@rule(
    "VER14",
    ERROR,
    sources=("gum", "common-practice"),
    example=Example(
        "MCW-VIS-014",
        right="at: viscosity_20\n",
        wrong="at: viscosity_20\n  temperature: 25.0 °C ± 0.5 °C\n",
        at="temperature: 25.0 °C ± 0.5 °C",
    ),
)
def fluid_temperature_too_loose(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The temperature of the reference fluid may wander so far that it decides the check.

    A fluid a few tenths of a kelvin warm reads low, and a sound instrument fails; a fluid a little cold lets
    a low reading pass.

    Where a fluid of that class is all there is and its temperature is recorded and corrected for.
    """
    found = _check(m)
    share = figures.value("verification.temperature_share")
    allowed = m.reference.policy["verification_fluid_share"]
    if found is None or share is None or share <= allowed * (1 + 1e-9):
        return
    check, _ = found
    tolerance = check.temperature.tolerance.value if check.temperature is not None else 0.1
    largest = tolerance * allowed / share
    steady = [
        f for f in m.reference.fluids.values()
        if f.sensitivity.value < check.fluid.sensitivity.value and _in_window(m, _torque(f, figures))
    ]  # fmt: skip
    best = min(steady, key=lambda f: abs(log(f.viscosity.value / check.fluid.viscosity.value)), default=None)
    yield Finding(
        ("verification", "temperature" if check.temperature is not None else "fluid"),
        f"{check.fluid.key} changes by {check.fluid.sensitivity.text}; ± {brief(tolerance, 2)} K takes "
        f"{brief(share, 3)} % of half the acceptance band, and {brief(allowed, 3)} % is allowed.",
        (
            f"Hold the fluid within ± {brief(largest, 1)} K."
            if float(brief(largest, 1)) <= largest
            else f"Hold the fluid within ± {brief(largest * 0.9, 1)} K or better.",
            f"Or use {best.key}, which changes by {best.sensitivity.text} "
            f"({_percent(_torque(best, figures))} torque)."
            if best is not None
            else "Or use a fluid that changes less with temperature, such as a silicone oil.",
        ),
        (Related(f"{check.fluid.key}, {check.fluid.klass}", ("verification", "fluid")),),
    )
