"""A competency assessment from entered results: the filled form is judged by what was printed on it.

Questions, items and faults come from the plan of the form (`documents/competency.py`), pass marks from the site
policy, bands and bounds from the figures of the method. Values are compared exactly as written: what lies on a
limit passes.
"""

import hashlib
import json
import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import sqrt
from typing import Any

from fillmark import __version__
from fillmark.diagnostics import Diagnostic, Path, Severity, in_reading_order
from fillmark.documents import plain
from fillmark.documents.assessed import (
    FAIL,
    INCOMPLETE,
    NOT_PASSED,
    OPEN,
    PASS,
    PASSED,
    Criterion,
    Judged,
    Told,
)
from fillmark.documents.competency import (
    BLIND_READINGS,
    QUESTIONS,
    RETAIN_LOADINGS,
    Marks,
    faults,
    marks,
    questions,
    watched,
)
from fillmark.documents.slips import Slips
from fillmark.documents.terms import bounds, check_setup, fluid_temperature, verification_band
from fillmark.documents.wording import Phrases
from fillmark.figures import Figures
from fillmark.model import Method, Verification
from fillmark.names import alike
from fillmark.physics.distributions import chi_square_tail, f_tail
from fillmark.quantities import Quantity, QuantityError, brief, express, parse, sig
from fillmark.read import Source, read
from fillmark.terminal import plain_ascii, without_controls
from fillmark.training.levels import Standing, last_day
from fillmark.units import UNITS
from fillmark.validate import nearest, validate

SCHEMA = "assessment.schema.json"
WIDTH = 100

CODES: dict[str, tuple[str, str]] = {
    "ASM01": (
        "form-of-another-text",
        "The form was filled for another method, revision or content than the one it is judged by.",
    ),
    "ASM02": ("assessor-is-trainee", "Nobody assesses themselves."),
    "ASM03": ("assessor-below-level", "The assessor holds less than the level that the site asks of one."),
    "ASM04": (
        "assessor-trained-alone",
        "The assessor is the only one who trained the trainee, so nobody else has looked.",
    ),
    "ASM05": ("form-not-filled", "Something that the form asks for was not entered, so it cannot be judged."),
    "ASM06": ("item-not-on-form", "An answer, step or fault that the form of this method does not have."),
    "ASM07": ("day-cannot-be", "A day that lies in the future, or in an order that cannot be."),
    "ASM10": ("theory-below-mark", "Too few right answers."),
    "ASM11": ("mandatory-answer-wrong", "An answer is wrong that must be right."),
    "ASM12": ("critical-item-missed", "A critical step was prompted or not done."),
    "ASM13": ("practice-below-mark", "Too many steps were prompted, or one was not done."),
    "ASM20": ("fluid-outside-band", "A blind reading of the reference fluid lies outside the band of the method."),
    "ASM21": ("fluid-readings-apart", "The blind readings lie further apart than the site allows."),
    "ASM22": (
        "display-not-torque",
        "A display is not its torque times the factor: something else was keyed in than hung there.",
    ),
    "ASM23": (
        "certificate-not-the-band",
        "The certified value is not the one that the band of the method was made for.",
    ),
    "ASM24": ("retain-mean-outside", "The mean of the retained sample lies outside the control limits."),
    "ASM25": ("retain-scatter", "The retained sample scatters more than the site allows."),
    "ASM26": ("retain-too-few-days", "The loadings of the retained sample lie on too few days."),
    "ASM27": ("over-range-misreported", "A sample over the range was not reported as the bound it is."),
    "ASM28": ("over-range-mishandled", "Over the range, not all was done that the form says."),
    "ASM29": ("fault-not-found", "The planted fault was not found in time, or not set right."),
    "ASM30": ("attempts-used-up", "A trial was made more often than the site allows."),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Assessment:
    """What became of a filled form."""

    file: str
    method: Method
    digest: str
    form: Mapping[str, Any]
    """As entered."""
    sha256: str
    criteria: tuple[Criterion, ...]
    diagnostics: tuple[Diagnostic, ...]
    verdict: str
    """passed, not passed, incomplete"""
    level: int | None
    """The level it gives; None where it gives none."""
    valid_until: date | None
    explained: tuple[str, ...]

    @property
    def day(self) -> date:
        """The day of the assessment."""
        return date.fromisoformat(self.form["date"])


# --- the empty form


def template(method: Method, figures: Figures, digest: str, slips: Slips) -> str:
    """Write an empty form to fill in, as YAML, with what each entry asks."""
    phrases = Phrases(method.reference.phrases)
    passing = marks(method)
    lines = [
        "# yaml-language-server: $schema=assessment.schema.json",
        f"# Competency assessment, {method.id} rev. {method.revision}: fill in, then: fillmark assess METHOD THIS-FILE",
        "# Quantities with their unit, days as year-month-day. What is left empty counts as not filled in.",
        "fillmark: 1",
        f"method: {{id: {json.dumps(method.id)}, revision: {method.revision}, digest: {json.dumps(digest)}}}",
        "trainee:                   # name, as the register shall have it",
        f"assessor: {{name: , level: }}   # level {passing.assessor} or higher, not the trainee",
        "trained_by: []             # names; not the assessor alone",
        "date:                      # day on which the assessment was completed",
        "occasion:                  # first, renewal, retraining",
        "",
        f"theory:                    # right or wrong; pass: {passing.right} of {QUESTIONS}, all mandatory ones right",
    ]
    for question in questions(method, figures, phrases, slips):
        star = f"{phrases.word('mandatory')}: " if question.mandatory else ""
        lines += [f"  # {star}{_comment(plain(question.text))}", f"  {question.key}:"]
    lines += ["", "practice:                  # done, prompted or not-done"]
    for item in watched(method, figures, phrases, digest):
        star = f"{phrases.word('critical')}: " if item.critical else ""
        lines += [f"  # {star}{_comment(plain(item.text))}", f"  {item.key}:"]
    lines += ["", "performance:", *_fluid_template(method, figures, phrases)]
    unit = _unit(method)
    dated = [f"      - {{day: , value: }}                # {unit}" for _ in range(RETAIN_LOADINGS)]
    lines += [
        f"  retain:                  # six loadings over at least {passing.days} days",
        "    attempt: 1",
        f"    lower:                 # control limits of the chart, in {unit}",
        "    upper:",
        f"    s:                     # of the experienced, in {unit}; empty: the repeatability of the method",
        "    s_from:                # how many results that s comes from, if known",
        "    loadings:",
        *dated,
        "  over_range:",
        "    attempt: 1",
        f"    result:                # {', '.join(s.name for s in method.run)}",
        '    reported: ""           # exactly as the trainee wrote it, in quotes',
        "    setting_left_alone:    # true or false, here and below",
        "    sample_kept:",
        "    supervisor_called:",
        "  fault:",
        "    attempt: 1",
        f"    planted:               # {', '.join(faults(method, figures, phrases, slips))}",
        "    found_before_result:",
        "    set_right:",
        "    at_step:               # number, or empty",
        "",
        f"level:                     # {'; '.join(phrases.words('levels'))}",
        'remarks: ""',
    ]
    return "\n".join(lines) + "\n"


def _comment(text: str) -> str:
    return " ".join(text.replace("\u00a0", " ").replace("\u202f", " ").split())


def _fluid_template(method: Method, figures: Figures, phrases: Phrases) -> list[str]:
    check = method.verification
    if check is None:
        return []
    step = next(s for s in method.run if s.name == check.at)
    unit = figures["verification.lower"].unit
    rows = [f"      - {{torque: , display: }}        # %, {unit}" for _ in range(BLIND_READINGS)]
    where = f"{check.fluid.key} at {step.speed.text}{check_setup(method, check, phrases)}, {fluid_temperature(check)}"
    return [
        f"  fluid:                   # {_comment(where)}; each time a new loading",
        "    attempt: 1",
        "    lot:",
        "    certified:             # on the certificate of the lot, at the temperature of the check",
        "    readings:              # display may stay empty where the readout shows torque alone",
        *rows,
    ]


def _unit(method: Method) -> str:
    return next((r.unit for r in method.report if r.unit), "Pa·s")


# --- the filled form


def read_form(data: bytes, name: str) -> tuple[Source | None, tuple[Diagnostic, ...]]:
    """Read a filled form, YAML or JSON; gives it only where it fits the schema."""
    reading = read(data, name)
    if reading.source is None or reading.diagnostics:
        return None, tuple(in_reading_order(reading.diagnostics))
    found = validate(reading.source, SCHEMA)
    return (None if found else reading.source), tuple(in_reading_order(found))


class _Judge:
    """The form being judged, and what has been found so far."""

    __slots__ = (
        "criteria", "digest", "explained", "figures", "form", "found", "marks", "method", "phrases", "slips", "source"
    )  # fmt: skip

    def __init__(self, source: Source, method: Method, figures: Figures, digest: str, slips: Slips) -> None:
        self.source: Source = source
        self.form: Mapping[str, Any] = source.data
        self.method: Method = method
        self.figures: Figures = figures
        self.digest: str = digest
        self.slips: Slips = slips
        self.phrases: Phrases = Phrases(method.reference.phrases)
        self.marks: Marks = marks(method)
        self.criteria: list[Criterion] = []
        self.found: list[Diagnostic] = []
        self.explained: list[str] = []

    def tell(
        self, code: str, path: Path, message: str, *ways: str, severity: Severity = Severity.WARNING
    ) -> None:
        self.found.append(
            Diagnostic(
                code, CODES[code][0], severity, message, self.source.name, self.source.span(path), path, ways
            )
        )

    def open(self, path: Path, what: str) -> None:
        self.tell(
            "ASM05", path, f"{what} is not filled in, so it is not judged; the form passes nobody as it stands.",
            "Enter what the paper form says.",
            "Or, where it was not done, do it: a trial that was not made is none that was passed.",
            severity=Severity.ERROR,
        )  # fmt: skip

    def judge(
        self, key: str, part: str, text: str, value: str, limit: str, passed: bool | None, how: str = ""
    ) -> bool:
        """Note a criterion; None for `passed` leaves it open. Gives whether it failed."""
        verdict = OPEN if passed is None else PASS if passed else FAIL
        self.criteria.append(Criterion(key, part, text, value, limit, verdict, how))
        return passed is False


_REDO = "Train what was missed and make this part again, with new material."


def judge(
    source: Source,
    method: Method,
    figures: Figures,
    digest: str,
    slips: Slips,
    *,
    today: date,
    assessor: Standing | None = None,
) -> Assessment:
    """Judge a form that `read_form` gave, by the method it was printed for.

    `slips` is the misuse budget as for the form itself; `assessor` is what the register says of the assessor,
    None where there is no register to ask.
    """
    j = _Judge(source, method, figures, digest, slips)
    _formal(j, today, assessor)
    _theory(j)
    _practice(j)
    _fluid(j)
    _retain(j, today)
    _over_range(j)
    _fault(j)
    level = j.form["level"]
    if level is None:
        j.open(("level",), "The level")
    verdict = _verdict(j)
    passed = verdict == PASSED
    until = None
    if passed:
        until = last_day(date.fromisoformat(j.form["date"]), parse(j.marks.valid, "time"))
    return Assessment(
        source.name, method, digest, j.form, hashlib.sha256(source.text.encode()).hexdigest(), tuple(j.criteria),
        tuple(in_reading_order(j.found)), verdict, level if passed else None, until, tuple(j.explained),
    )  # fmt: skip


_COUNTS_NOT = ("ASM01", "ASM02", "ASM03", "ASM04", "ASM06", "ASM07", "ASM23")
"""What makes a form none, whatever the trainee did: nobody loses a level by it."""


def _verdict(j: _Judge) -> str:
    if any(d.code in _COUNTS_NOT for d in j.found):
        return INCOMPLETE
    if any(c.verdict == FAIL for c in j.criteria):
        return NOT_PASSED
    missing = any(c.verdict == OPEN for c in j.criteria) or any(d.code == "ASM05" for d in j.found)
    return INCOMPLETE if missing else PASSED


def _formal(j: _Judge, today: date, standing: Standing | None) -> None:
    form, method = j.form, j.method
    named = form["method"]
    own = (method.id, method.revision, j.digest)
    written = (named["id"], named["revision"], named["digest"].replace(" ", "").lower())
    same = written[:2] == own[:2] and len(written[2]) >= 8 and own[2].startswith(written[2])
    if j.judge(
        "text", "form", "Method the form was filled for",
        f"{written[0]} rev. {written[1]}, {written[2][:8]}", f"{own[0]} rev. {own[1]}, {own[2][:8]}", same,
    ):  # fmt: skip
        j.tell(
            "ASM01", ("method",),
            f"The form is of {written[0]} revision {written[1]}, digest {written[2][:8]}; judged is by {own[0]} "
            f"revision "
            f"{own[1]}, digest {own[2][:8]}. Questions, bands and bounds may be others.",
            "Judge it by the revision it was printed from: name its released bundle or file.",
            "Or print the form of this revision and assess by that.", severity=Severity.ERROR,
        )  # fmt: skip
    _people(j, standing)
    if form["occasion"] is None:
        j.open(("occasion",), "The occasion")
    day = form["date"]
    if day is not None and date.fromisoformat(day) > today:
        j.judge("date", "form", "Day of the assessment", day, f"≤ {today.isoformat()}", passed=False)
        j.tell(
            "ASM07", ("date",), f"The assessment is dated {day}, after today ({today.isoformat()}).",
            "Enter the day on which it was completed.", "Or set the clock of this machine right.",
            severity=Severity.ERROR,
        )  # fmt: skip


def _people(j: _Judge, standing: Standing | None) -> None:
    form, least = j.form, j.marks.assessor
    trainee, assessor, level = form["trainee"], form["assessor"]["name"], form["assessor"]["level"]
    for path, value, what in (
        (("trainee",), trainee, "The trainee"),
        (("assessor", "name"), assessor, "The assessor"),
        (("assessor", "level"), level, "The level of the assessor"),
        (("date",), form["date"], "The day"),
    ):
        if value is None:
            j.open(path, what)
    if trainee and assessor and j.judge(
        "self", "form", "Assessor is not the trainee", assessor, f"not {trainee}", not alike(trainee, assessor)
    ):  # fmt: skip
        j.tell(
            "ASM02", ("assessor", "name"),
            f"{assessor} cannot assess {trainee}: these are one person, and nobody judges their own work.",
            f"Have somebody else of level {least} or higher assess.",
            "If they are two people of one name, tell them apart in the form: add a number or a department.",
            severity=Severity.ERROR,
        )  # fmt: skip
    if level is not None:
        limit = f"level {least} or higher"
        shown = f"level {level}"
        passed = level >= least
        how = "as entered; the register was not asked"
        if standing is not None:
            passed = passed and standing.level >= least
            shown += f"; in the register level {standing.level}"
            how = f"the register: {standing.why}"
        if j.judge("assessor", "form", "Level of the assessor", shown, limit, passed, how):
            held = (
                f"level {level} is entered"
                if standing is None
                else f"level {level} is entered, and the register says: {standing.why}"
            )
            j.tell(
                "ASM03", ("assessor", "level"), f"{assessor} may not assess: {held}; the site asks for level {least}.",
                f"Have somebody of level {least} or higher assess.",
                "Or, where that level stands on paper only, say so when it is recorded: --on-paper REASON.",
                severity=Severity.ERROR,
            )  # fmt: skip
    trainers = form["trained_by"]
    if not trainers:
        j.open(("trained_by",), "Who trained")
        return
    alone = bool(assessor) and all(alike(assessor, name) for name in trainers)
    if j.judge(
        "trainer", "form", "Trained by others than the assessor too", ", ".join(trainers), f"not {assessor} alone",
        not alone,
    ):  # fmt: skip
        j.tell(
            "ASM04", ("trained_by",),
            f"{assessor} alone trained {trainee or 'the trainee'} and assesses now: what one overlooks in "
            f"teaching, one "
            "overlooks in judging.",
            "Have somebody else assess.", "Or enter the others who took part in the training.",
            severity=Severity.ERROR,
        )  # fmt: skip


# --- parts A and B


def _unknown(j: _Judge, part: str, known: Sequence[str]) -> None:
    for key in j.form[part]:
        if key not in known:
            close = nearest(key, known)
            j.tell(
                "ASM06", (part, key), f"The form of {j.method.id} revision {j.method.revision} has no {key} "
                f"under {part}.",
                f"Did you mean {close}?" if close else f"It has: {', '.join(known)}.",
                "Or take a form of this revision: fillmark assess METHOD --template.", severity=Severity.ERROR,
            )  # fmt: skip


def _theory(j: _Judge) -> None:
    asked = questions(j.method, j.figures, j.phrases, j.slips)
    given = j.form["theory"]
    _unknown(j, "theory", [q.key for q in asked])
    blank = [q.key for q in asked if given.get(q.key) is None]
    for key in blank:
        j.open(("theory", key), f"The answer to {key}")
    right = [q.key for q in asked if given.get(q.key) == "right"]
    wrong = [q.key for q in asked if given.get(q.key) == "wrong"]
    # What has still to be entered can lift it over the mark, or no more.
    reached = len(right) >= j.marks.right
    hopeless = len(right) + len(blank) < j.marks.right
    if j.judge(
        "theory", "A", "Right answers", f"{len(right)} of {len(asked)}", f"≥ {j.marks.right}",
        True if reached else False if hopeless else None, f"wrong: {', '.join(wrong)}" if wrong else "",
    ):  # fmt: skip
        j.tell(
            "ASM10", ("theory",),
            f"{len(right)} of {len(asked)} answers are right, {j.marks.right - len(right)} too few; wrong: "
            f"{', '.join(wrong)}.",
            "Go through the wrong ones with the training sheet, and ask anew.",
            "Or look whether a right answer was marked wrong: the answers page has what counts.",
        )  # fmt: skip
    for q in asked:
        if q.mandatory and given.get(q.key) is not None and j.judge(
            f"theory.{q.key}", "A", f"Mandatory: {q.key}", str(given[q.key]), "right", given[q.key] == "right"
        ):  # fmt: skip
            j.tell(
                "ASM11", ("theory", q.key),
                f"The mandatory answer {q.key} is wrong. Right is: {_comment(plain(q.answer))}",
                "Train it at the instrument, and ask again on another day.", "Or look whether it was marked "
                "wrong by mistake.",
            )  # fmt: skip


def _practice(j: _Judge) -> None:
    items = watched(j.method, j.figures, j.phrases, j.digest)
    given = j.form["practice"]
    _unknown(j, "practice", [item.key for item in items])
    for item in items:
        if given.get(item.key) is None:
            j.open(("practice", item.key), f"What was seen at {item.key}")
    blank = any(given.get(item.key) is None for item in items)
    critical = [i for i in items if i.critical]
    missed = [i for i in critical if given.get(i.key) in ("prompted", "not-done")]
    undone = [i.key for i in items if not i.critical and given.get(i.key) == "not-done"]
    prompted = [i.key for i in items if not i.critical and given.get(i.key) == "prompted"]
    open_ = None if blank else True
    j.judge(
        "practice.critical", "B", "Critical items done unprompted",
        f"{sum(given.get(i.key) == 'done' for i in critical)} of {len(critical)}",
        f"{len(critical)} of {len(critical)}", False if missed else open_,
        ", ".join(f"{i.key} {given[i.key]}" for i in missed),
    )  # fmt: skip
    for item in missed:
        j.tell(
            "ASM12", ("practice", item.key),
            f"{item.key} is critical and was {given[item.key]}: {_comment(plain(item.text))} "
            "Left out, it costs the result, the instrument or somebody's skin.",
            _REDO, "Or look whether the right box was ticked.",
        )  # fmt: skip
    if j.judge(
        "practice.prompted", "B", "Other items prompted", str(len(prompted)), f"≤ {j.marks.prompted}",
        False if len(prompted) > j.marks.prompted else open_, ", ".join(prompted),
    ) | j.judge(
        "practice.undone", "B", "Other items not done", str(len(undone)), "0", False if undone else open_,
        ", ".join(undone),
    ):  # fmt: skip
        j.tell(
            "ASM13", ("practice", (undone or prompted)[0]),
            f"{len(prompted)} other items were prompted (at most {j.marks.prompted}) and {len(undone)} not done "
            f"(none): "
            f"{', '.join((*prompted, *undone))}.",
            _REDO, "Or have the work seen once more by another assessor.",
        )  # fmt: skip


# --- part C


def _exact(quantity: Quantity) -> Fraction:
    """Give the number as written in the canonical unit of its kind."""
    _, numerator, denominator = UNITS[quantity.unit]
    return Fraction(quantity.number.replace("\u2212", "-")) * numerator / denominator


def _written(value: float) -> Fraction:
    """Give a computed figure as the number it is meant to be: 97, not 97.00000000000001."""
    return Fraction(f"{value:.12g}")


def _show(value: Fraction | float, unit: str, digits: int = 5) -> str:
    return f"{brief(express(float(value), unit), digits)} {unit}"


def _attempt(j: _Judge, part: str, trial: str, entered: Mapping[str, Any]) -> None:
    attempt = entered.get("attempt") or 1
    if attempt > j.marks.attempts:
        j.judge(f"{trial}.attempt", part, "Attempt", str(attempt), f"≤ {j.marks.attempts}", passed=False)
        j.tell(
            "ASM30", ("performance", trial, "attempt"),
            f"This is attempt {attempt} at {trial}; the site allows {j.marks.attempts}. A trial made until it "
            f"passes shows "
            "luck, not skill.",
            "Train anew from the training sheet on, and begin a new assessment.",
            "Or let the site raise competency_attempts in its policy, with a reason.",
        )  # fmt: skip


def _trial(j: _Judge, trial: str, part: str, what: str) -> Mapping[str, Any] | None:
    entered = j.form["performance"].get(trial)
    if entered is None:
        j.open(("performance", trial) if trial in j.form["performance"] else ("performance",), what)
        j.judge(trial, part, what, "not made", "made", None)
        return None
    _attempt(j, part, trial, entered)
    found: Mapping[str, Any] = entered
    return found


def _fluid(j: _Judge) -> None:
    check = j.method.verification
    if check is None:
        if j.form["performance"].get("fluid") is not None:
            j.tell(
                "ASM06", ("performance", "fluid"), f"{j.method.id} has no verification, so there is no band to "
                f"judge a fluid by.",
                "Take the fluid out of the form.", "Or give the method a verification, and print its form anew.",
                severity=Severity.ERROR,
            )  # fmt: skip
        return
    entered = _trial(j, "fluid", "C1", "The blind readings of the reference fluid")
    if entered is None:
        return
    _certified(j, entered)
    at: Path = ("performance", "fluid", "readings")
    full_scale = _written(j.figures["verification.full_scale"].value)
    unit = j.figures["verification.lower"].unit
    lower = (
        _exact(check.lower) if check.lower is not None else _written(j.figures["verification.lower"].value)
    )
    upper = (
        _exact(check.upper) if check.upper is not None else _written(j.figures["verification.upper"].value)
    )
    band = verification_band(check, j.figures)
    least, most = _torques_that_pass(check, j.figures, lower, upper)
    window = f"{brief(float(least))}–{brief(float(most))} % torque"
    torques: list[Fraction] = []
    missing = False
    for number, reading in enumerate(entered["readings"], start=1):
        path = (*at, number - 1)
        if reading.get("torque") is None:
            j.open(path, f"The torque of reading {number}")
            missing = True
            continue
        torque = _exact(parse(reading["torque"], "percent"))
        torques.append(torque)
        by_torque = torque * full_scale / 100
        how = f"{reading['torque']} × {_show(full_scale / 100, unit)} = {_show(by_torque, unit)}"
        value, passed = by_torque, least <= torque <= most
        if reading.get("display") is not None:
            shown = parse(reading["display"], "viscosity")
            value = _exact(shown)
            passed = passed and lower <= value <= upper
            how += f"; display {shown.text}"
            _display(j, path, number, shown, by_torque, unit)
        if j.judge(
            f"fluid.{number}",
            "C1",
            f"Reading {number}",
            f"{_show(value, unit)}, {reading['torque']}",
            f"{band}, {window}",
            passed,
            how,
        ):
            # A display rounds: the torque may lie outside where the display does not.
            off, limits = max(lower - value, value - upper), band
            if off <= 0:
                off, limits = max(least - torque, torque - most) * full_scale / 100, window
            way = "high" if torque > most or value > upper else "low"
            j.tell(
                "ASM20", path,
                f"Reading {number}, {_show(value, unit)} at {reading['torque']} torque, lies {_show(off, unit)} "
                f"outside {limits}: it reads {way}, by {brief(float(off / full_scale * 100))} % of full scale "
                "beyond what instrument and fluid explain.",
                "Find which step did it (temperature, guard, depth, zero, time), train that, and make the trial "
                "once more.",
                "Or, if an experienced hand gets the same, stop: tag the instrument and verify it.",
            )  # fmt: skip
    allowed = _exact(parse(j.marks.fluid_range, "percent-of-full-scale"))
    if len(torques) < BLIND_READINGS:
        if not missing:
            j.open(at, f"Reading {len(torques) + 1} of {BLIND_READINGS}")
        j.judge(
            "fluid.range",
            "C1",
            "Largest − smallest torque",
            f"of {len(torques)} readings",
            f"≤ {j.marks.fluid_range}",
            None,
        )
        return
    spread = max(torques) - min(torques)
    how = f"{brief(float(max(torques)), 6)} − {brief(float(min(torques)), 6)} = {brief(float(spread), 6)}"
    if j.judge(
        "fluid.range", "C1", "Largest − smallest torque", f"{brief(float(spread), 6)} % of full "
        f"scale", f"≤ {j.marks.fluid_range}",
        spread <= allowed, how,
    ):  # fmt: skip
        j.tell(
            "ASM21", at,
            f"The readings lie {brief(float(spread), 6)} % of full scale apart, "
            f"{brief(float(spread - allowed), 6)} % more than "
            "allowed. A Newtonian fluid gives the same reading each time: what differs is how it was loaded, "
            "set or read.",
            "Let the trainee load and read three times in a row under supervision, and look for what differs.",
            "Or check the suspension and the coupling, if an experienced hand scatters as much.",
        )  # fmt: skip


def _torques_that_pass(
    check: Verification, figures: Figures, lower: Fraction, upper: Fraction
) -> tuple[Fraction, Fraction]:
    """Give the torques that pass as the form prints them; by the author's own limits where there are any."""
    full_scale = _written(figures["verification.full_scale"].value)

    def end(own: Quantity | None, key: str, value: Fraction) -> Fraction:
        if own is not None:
            return value / full_scale * 100
        return _exact(parse(figures.text(key), "percent"))

    return (
        end(check.lower, "verification.torque_lower", lower),
        end(check.upper, "verification.torque_upper", upper),
    )


def _display(j: _Judge, path: Path, number: int, shown: Quantity, by_torque: Fraction, unit: str) -> None:
    """Judge whether a display belongs to its torque, as the checklist does at each reading."""
    full_scale = _written(j.figures["verification.full_scale"].value)
    step = _written(j.figures["resolution"].value) * full_scale / 100
    _, numerator, denominator = UNITS[shown.unit]
    # The display is itself rounded, to half of its last digit.
    allowed = step + Fraction(numerator, denominator) / (2 * 10**shown.decimals)
    off = abs(_exact(shown) - by_torque)
    if j.judge(
        f"fluid.{number}.display", "C1", f"Reading {number}: display is torque × f", _show(off, unit),
        f"≤ {_show(allowed, unit)}", off <= allowed,
        f"|{shown.text} − {_show(by_torque, unit)}|; one step of the readout and half a last digit",
    ):  # fmt: skip
        factor = brief(float(_exact(shown) / by_torque), 4) if by_torque else "no"
        j.tell(
            "ASM22", (*path, "display"),
            f"The display, {shown.text}, is {factor} times torque × f ({_show(by_torque, unit)}): another "
            f"spindle, spring or "
            "speed was keyed in than hung there, or one of the two was copied wrongly.",
            "Look at what is keyed in, and make the reading again.",
            "Or correct the entry from the paper, if it was copied wrongly.",
        )  # fmt: skip


def _certified(j: _Judge, entered: Mapping[str, Any]) -> None:
    check = j.method.verification
    if check is None:
        return
    path: Path = ("performance", "fluid", "certified")
    if entered.get("certified") is None:
        j.open(path if "certified" in entered else path[:-1], "The certified value of the lot")
        j.judge("fluid.certified", "C1", "Certified value of the lot", "", check.fluid.viscosity.text, None)
        return
    certified = parse(entered["certified"], "viscosity")
    allowed = j.method.reference.policy["verification_band_match"]
    known = _exact(check.fluid.viscosity)
    off = (_exact(certified) - known) / known * 100
    if j.judge(
        "fluid.certified", "C1", "Certified value of the lot", certified.text,
        f"{check.fluid.viscosity.text} ± {brief(allowed)} %", abs(off) <= _written(allowed),
        f"off by {brief(float(off))} %" if off else "",
    ):  # fmt: skip
        j.tell(
            "ASM23", path,
            f"The lot is certified {certified.text}; the band of the method is made for {check.fluid.viscosity.text}, "
            f"{brief(float(abs(off)))} % {'less' if off > 0 else 'more'}. A right reading of this lot would look "
            f"{'high' if off > 0 else 'low'}.",
            f"Put the certificate of the lot into shared/fluids.yaml ({check.fluid.key}), and judge by the band "
            f"that follows.",
            "Or make the trial with a lot that the band is made for.", severity=Severity.ERROR,
        )  # fmt: skip


def _retain(j: _Judge, today: date) -> None:
    entered = _trial(j, "retain", "C2", "The retained sample")
    if entered is None:
        return
    at: Path = ("performance", "retain")
    unit = _unit(j.method)
    values: list[Fraction] = []
    days: set[str] = set()
    for number, loading in enumerate(entered["loadings"], start=1):
        path = (*at, "loadings", number - 1)
        if loading.get("value") is None or loading.get("day") is None:
            j.open(path, f"Loading {number} of the retained sample")
            continue
        values.append(_exact(parse(loading["value"], "viscosity")))
        days.add(loading["day"])
        latest = min(today, date.fromisoformat(j.form["date"] or today.isoformat()))
        if date.fromisoformat(loading["day"]) > latest:
            j.judge(
                f"retain.day.{number}",
                "C2",
                f"Day of loading {number}",
                loading["day"],
                f"≤ {latest}",
                passed=False,
            )
            j.tell(
                "ASM07", path, f"Loading {number} is dated {loading['day']}, after the assessment ({latest}).",
                "Correct the day from the paper.", "Or date the assessment by its last trial.", severity=Severity.ERROR,
            )  # fmt: skip
    if len(values) < RETAIN_LOADINGS:
        if len(entered["loadings"]) < RETAIN_LOADINGS:
            j.open((*at, "loadings"), f"Loading {len(entered['loadings']) + 1} of {RETAIN_LOADINGS}")
        j.judge(
            "retain", "C2", "Loadings of the retained sample", str(len(values)), f"{RETAIN_LOADINGS}", None
        )
        return
    if j.judge(
        "retain.days", "C2", "Days", str(len(days)), f"≥ {j.marks.days}", len(days) >= j.marks.days,
        ", ".join(sorted(days)),
    ):  # fmt: skip
        j.tell(
            "ASM26", (*at, "loadings"),
            f"The loadings lie on {len(days)} day, asked are {j.marks.days}: what differs from day to day "
            f"(zero, room, sample) "
            "was not seen.",
            "Make the missing loadings on another day.", "Or correct the days from the paper.",
        )  # fmt: skip
    mean = sum(values, Fraction(0)) / len(values)
    _mean(j, entered, mean, unit)
    _scatter(j, entered, values, mean, unit)


def _mean(j: _Judge, entered: Mapping[str, Any], mean: Fraction, unit: str) -> None:
    at: Path = ("performance", "retain")
    ends = [entered.get(key) for key in ("lower", "upper")]
    for key, end in zip(("lower", "upper"), ends, strict=True):
        if end is None:
            j.open((*at, key) if key in entered else at, f"The {key} control limit")
    if None in ends:
        j.judge("retain.mean", "C2", "Mean", _show(mean, unit), "", None)
        return
    lower, upper = (_exact(parse(end, "viscosity")) for end in ends)
    how = f"mean of {RETAIN_LOADINGS}"
    if lower >= upper:
        j.tell(
            "ASM05", (*at, "lower"), f"The lower control limit, {ends[0]}, is not below the upper one, {ends[1]}.",
            "Correct the limits from the chart.", "Or look whether the two were exchanged.", severity=Severity.ERROR,
        )  # fmt: skip
        j.judge("retain.mean", "C2", "Mean", _show(mean, unit), f"{ends[0]} to {ends[1]}", None)
        return
    if j.judge(
        "retain.mean", "C2", "Mean", _show(mean, unit), f"{ends[0]} to {ends[1]}", lower <= mean <= upper, how
    ):
        off = mean - upper if mean > upper else lower - mean
        way = "high" if mean > upper else "low"
        j.tell(
            "ASM24", at,
            f"The mean, {_show(mean, unit)}, lies {_show(off, unit)} outside {ends[0]} to {ends[1]}: the "
            f"trainee reads {way}, "
            "and would go on doing so with every batch.",
            f"Ask the misuse budget which slip reads {way} by so much: fillmark misuse METHOD --shift; train that.",
            "Or look whether the retained sample has aged: let an experienced hand measure it on the same day.",
        )  # fmt: skip
    half = (upper - lower) / 2
    j.explained.append(
        f"Mean: limits at ± 2 s are made for single results. The mean of {RETAIN_LOADINGS} scatters "
        f"{brief(sqrt(RETAIN_LOADINGS), 2)} times less, so chance alone hardly takes it out; but somebody who "
        f"reads high by the "
        f"whole half width, {_show(half, unit)}, still passes one time in two. It shows a gross bias, not a small one."
    )


def _scatter(
    j: _Judge, entered: Mapping[str, Any], values: Sequence[Fraction], mean: Fraction, unit: str
) -> None:
    at: Path = ("performance", "retain")
    known = entered.get("s")
    whose = "the experienced"
    if known is not None:
        expected = _exact(parse(known, "viscosity"))
    elif j.method.replicates.repeatability is not None:
        repeatability = j.method.replicates.repeatability
        expected = (
            _exact(repeatability) * mean / 100 if repeatability.kind == "percent" else _exact(repeatability)
        )
        whose = f"the method's repeatability ({repeatability.text})"
    else:
        j.open((*at, "s") if "s" in entered else at, "The s of the experienced")
        j.judge("retain.s", "C2", "s of the loadings", "", "", None)
        return
    degrees = len(values) - 1
    square = sum(((v - mean) ** 2 for v in values), Fraction(0)) / degrees
    s = sqrt(square)
    spread = _written(j.marks.spread)
    if expected <= 0:
        j.open((*at, "s"), "An s of the experienced above nothing")
        j.judge("retain.s", "C2", "s of the loadings", _show(s, unit), "", None)
        return
    ratio = s / float(expected)
    how = f"√(Σ(x − mean)²/{degrees}) = {_show(s, unit)}, {brief(ratio)} times {_show(expected, unit)} of {whose}"
    failed = j.judge(
        "retain.s", "C2", "s of the loadings", _show(s, unit), f"≤ {brief(j.marks.spread)} × {_show(expected, unit)} = "
        f"{_show(expected * spread, unit)}", square <= (expected * spread) ** 2, how,
    )  # fmt: skip
    from_ = entered.get("s_from")

    def beyond(times: float) -> float:
        """Give how often chance alone makes s this many times as large as its true value."""
        if from_ is not None and known is not None:
            return f_tail(f=times**2, above=degrees, below=from_ - 1)
        return chi_square_tail(x=degrees * times**2, degrees=degrees)

    by = (
        f"F with {degrees} and {from_ - 1}"
        if from_ is not None and known is not None
        else f"chi-square with {degrees}"
    )
    j.explained.append(
        f"Scatter: an s from {len(values)} values is itself uncertain. By {by} degrees of freedom, somebody who "
        f"scatters as the "
        f"experienced do goes over {brief(j.marks.spread)} times in {_percent(beyond(j.marks.spread))} of such "
        f"trials; somebody "
        f"who scatters twice as much in {_percent(beyond(j.marks.spread / 2))}. The {brief(ratio)} times found "
        f"here, or more, "
        f"comes by chance in {_percent(beyond(ratio))}. Taken for normal scatter, and the s of the experienced "
        f"from the same "
        "kind of spread (day to day, not within a day)."
    )
    if failed:
        j.tell(
            "ASM25", (*at, "loadings"),
            f"s is {_show(s, unit)}, {brief(ratio)} times that of {whose} ({_show(expected, unit)}); allowed are "
            f"{brief(j.marks.spread)}. Chance alone does so in {_percent(beyond(ratio))}. Results of this hand "
            f"would scatter, "
            "high and low.",
            "Look which loadings stand out and what was done otherwise; train that, and make six new loadings.",
            "Or, if the chance is not small, make the trial once more before anything is concluded.",
        )  # fmt: skip


def _percent(share: float) -> str:
    return f"{sig(share * 100, 2)} %" if share >= 0.0005 else "less than 0.05 %"


_BOUND = re.compile(r"\s*([<>≤≥])\s*(\S.*)")


def _over_range(j: _Judge) -> None:
    entered = _trial(j, "over_range", "C3", "The sample over the range")
    if entered is None:
        return
    at: Path = ("performance", "over_range")
    name = entered.get("result")
    if name is None and len(j.method.run) == 1:
        name = j.method.run[0].name
    step = j.method.step(name) if name is not None else None
    if name is None:
        j.open((*at, "result") if "result" in entered else at, "The result that was over the range")
    elif step is None:
        j.tell(
            "ASM06", (*at, "result"), f"The run has no {name}.", f"It has: {', '.join(s.name for s in j.method.run)}.",
            "Or take a form of this revision: fillmark assess METHOD --template.", severity=Severity.ERROR,
        )  # fmt: skip
    reported = entered.get("reported")
    if not reported:
        j.open((*at, "reported") if "reported" in entered else at, "What was reported over the range")
    if step is None or not reported:
        j.judge("over_range", "C3", "Reported over the range", reported or "", "", None)
    else:
        wanted = bounds(j.method, j.figures, step, j.phrases)[1].replace("\u00a0", " ").replace("\u202f", " ")
        wrong = _misreported(reported, wanted)
        if j.judge("over_range", "C3", f"Reported over the range, {step.name}", reported, wanted, not wrong):
            j.tell(
                "ASM27", (*at, "reported"), f"Reported was {reported}; right is {wanted}: {wrong}",
                "Go through the step of the checklist that says what to write out of range, and make the trial "
                "once more.",
                "Or correct the entry from the paper, if it was copied wrongly.",
            )  # fmt: skip
    for key, what in (
        ("setting_left_alone", "speed and spindle left alone"),
        ("sample_kept", "sample kept"),
        ("supervisor_called", "supervisor called"),
    ):
        value = entered.get(key)
        if value is None:
            j.open((*at, key) if key in entered else at, f"Whether {what}")
        if j.judge(f"over_range.{key}", "C3", what[0].upper() + what[1:], _yes(value), "yes", value):
            j.tell(
                "ASM28", (*at, key), f"Over the range, not: {what}. Another speed or spindle would make another "
                f"property of it, "
                "and without the sample nobody can look again.",
                _REDO, "Or correct the entry from the paper.",
            )  # fmt: skip


def _yes(value: bool | None) -> str:
    return "" if value is None else "yes" if value else "no"


def _misreported(reported: str, wanted: str) -> str:
    """Say what is wrong with a report over the range; nothing where it is right."""
    right = _BOUND.fullmatch(wanted)
    if right is None:
        same = reported.strip().casefold() == wanted.strip().casefold()
        return "" if same else "the method gives no bound here."
    found = _BOUND.fullmatch(reported)
    if found is None:
        return "over the range only a bound is known, and a number would be taken for a result."
    try:
        value = parse(found[2], "viscosity")
    except QuantityError as error:
        return error.problem
    if found[1] != right[1]:
        said = "less than" if found[1] in "<≤" else "at least"
        return f"{found[1]} says that the viscosity is {said} that; {right[1]} says what is known."
    if _exact(value) != _exact(parse(right[2], "viscosity")):
        return "the bound is full scale of the set-up, no other number."
    return ""


def _fault(j: _Judge) -> None:
    entered = _trial(j, "fault", "C4", "The planted fault")
    if entered is None:
        return
    at: Path = ("performance", "fault")
    known = faults(j.method, j.figures, j.phrases, j.slips)
    planted = entered.get("planted")
    if planted is None:
        j.open((*at, "planted") if "planted" in entered else at, "Which fault was planted")
    elif planted not in known:
        j.tell(
            "ASM06", (*at, "planted"), f"The form of {j.method.id} has no fault {planted}.",
            f"It has: {', '.join(known)}.",
            "Or take a form of this revision: fillmark assess METHOD --template.", severity=Severity.ERROR,
        )  # fmt: skip
    what = _comment(plain(known[planted])) if planted in known else "planted fault"
    judged = planted in known
    for key, text in (
        ("found_before_result", "Found before a result was written"),
        ("set_right", "Set right and checked"),
    ):
        value = entered.get(key)
        if value is None:
            j.open((*at, key) if key in entered else at, text)
        if j.judge(f"fault.{key}", "C4", text, _yes(value), "yes", value if judged else None, what):
            j.tell(
                "ASM29", (*at, key), f"Not: {text.lower()} ({what}). The result would have gone out with the "
                f"fault in it.",
                "Train looking over the set-up before each start, and plant another fault.",
                "Or correct the entry from the paper.",
            )  # fmt: skip


# --- what is made of it


def for_paper(a: Assessment) -> Judged:
    """Give a judged form as its page needs it."""
    form = a.form
    level = form["level"]
    return Judged(
        trainee=form["trainee"] or "",
        assessor=form["assessor"]["name"] or "",
        assessor_level=f"level {form['assessor']['level']}" if form["assessor"]["level"] else "",
        trained_by=", ".join(form["trained_by"]),
        occasion=form["occasion"] or "",
        day=form["date"] or "",
        level="" if level is None else str(level),
        verdict=a.verdict,
        valid_until="" if a.valid_until is None else a.valid_until.isoformat(),
        criteria=a.criteria,
        told=tuple(_for_paper(a.diagnostics)),
        explained=a.explained,
        sha256=a.sha256,
    )


def _for_paper(diagnostics: Sequence[Diagnostic]) -> Iterator[Told]:
    """Give the reasons; what is not filled in as one, for a form that was left early lacks a great deal."""
    blank = [d for d in diagnostics if d.code == "ASM05"]
    if len(blank) > 1:
        listed = ", ".join(".".join(str(part) for part in d.path) for d in blank)
        yield Told("ASM05", f"{len(blank)} entries are not filled in: {listed}.", blank[0].ways_out)
    else:
        blank = []
    yield from (Told(d.code, d.message, d.ways_out) for d in diagnostics if d not in blank)


def entry(a: Assessment, *, at: str, by: str, on_paper: str = "") -> dict[str, Any]:
    """Make the line that the register gets; ValueError for a form that is not complete."""
    if a.verdict == INCOMPLETE:
        raise ValueError("a form that is not complete is no assessment")
    form = a.form
    line: dict[str, Any] = {
        "kind": "competency", "at": at, "by": by, "what": "assessment", "person": form["trainee"], "id": a.method.id,
        "revision": a.method.revision, "digest": a.digest, "day": form["date"], "occasion": form["occasion"],
        "passed": a.verdict == PASSED, "assessor": form["assessor"]["name"],
        "assessor_level": form["assessor"]["level"], "form": a.sha256,
    }  # fmt: skip
    if a.level is not None and a.valid_until is not None:
        line |= {"level": a.level, "valid_until": a.valid_until.isoformat()}
    if on_paper:
        line["on_paper"] = on_paper
    return line


def assessed_json(a: Assessment) -> str:
    """Write a judged form as JSON, in the shape of `schemas/assessed.schema.json`."""
    whole = {
        "fillmark": __version__,
        "method": {"id": a.method.id, "revision": a.method.revision, "digest": a.digest},
        "trainee": a.form["trainee"],
        "assessor": {"name": a.form["assessor"]["name"], "level": a.form["assessor"]["level"]},
        "date": a.form["date"],
        "form": {"file": a.file, "sha256": a.sha256},
        "verdict": a.verdict,
        "level": a.level,
        "valid_until": None if a.valid_until is None else a.valid_until.isoformat(),
        "criteria": [
            {
                "key": c.key, "part": c.part, "text": c.text, "value": c.value, "limit": c.limit, "verdict": c.verdict,
                "sum": c.sum,
            }
            for c in a.criteria
        ],
        "explained": list(a.explained),
        "diagnostics": [
            {
                "code": d.code, "slug": d.slug, "severity": d.severity.word, "message": d.message, "file": d.file,
                "line": d.span.line, "column": d.span.column, "path": list(d.path), "ways_out": list(d.ways_out),
            }
            for d in a.diagnostics
        ],
    }  # fmt: skip
    return json.dumps(whole, ensure_ascii=False, indent=2, allow_nan=False)


_PARTS = {
    "form": "The form", "A": "A, theory", "B": "B, practice", "C1": "C1, reference fluid, blind",
    "C2": "C2, retained sample", "C3": "C3, over the range", "C4": "C4, planted fault",
}  # fmt: skip


def assessed_text(a: Assessment, *, ascii_only: bool) -> str:
    """Write a judged form for a terminal, at most `WIDTH` columns wide."""
    lines = list(_told(a))
    text = "\n".join(without_controls(line) for line in lines)
    return plain_ascii(text) if ascii_only else text


def _told(a: Assessment) -> Iterator[str]:
    def wrapped(text: str, indent: str, hang: str) -> list[str]:
        return textwrap.wrap(
            text, WIDTH, initial_indent=indent, subsequent_indent=hang, break_on_hyphens=False
        )

    form = a.form
    trainee, assessor = form["trainee"] or "nobody", form["assessor"]["name"] or "nobody"
    who = f"{trainee}, assessed {form['date'] or 'on no day'} by {assessor}"
    yield f"{a.method.id} revision {a.method.revision}: {who}"
    granted = (
        "" if a.level is None or a.valid_until is None else f": level {a.level}, valid until {a.valid_until}"
    )
    yield f"verdict: {a.verdict.upper()}{granted}"
    part = ""
    for c in a.criteria:
        if c.part != part:
            part = c.part
            yield ""
            yield _PARTS[part]
        yield from wrapped(f"{c.verdict:4}  {c.text}: {c.value or '–'} ({c.limit or '–'})", "  ", " " * 8)
        if c.sum:
            yield from wrapped(c.sum, " " * 8, " " * 10)
    if a.explained:
        yield ""
        yield "What the sample sizes mean"
        for line in a.explained:
            yield from wrapped(line, "  ", "  ")
    if a.diagnostics:
        yield ""
        yield "Why, and what to do"
    for d in a.diagnostics:
        yield from wrapped(f"{d.file}:{d.span.line}: {d.severity.word} {d.code} {d.slug}", "  ", "      ")
        yield from wrapped(d.message, "    ", "    ")
        for way in d.ways_out:
            yield from wrapped(f"- {way}", "      ", "        ")
