"""The competency form: what an assessor asks, watches and measures before someone works by a method alone.

Questions and answers are made from the method itself, so that they hold for it and for no other; the answers
stand on a page of their own. Pass marks and intervals that are no figure are choices of the site and stand in
its policy. What is asked, watched and planted is given here as data too, so that a filled form is judged by
what was printed on it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fillmark.documents import (
    Box,
    Cell,
    Document,
    Entries,
    Entry,
    Field,
    Section,
    Side,
    Step,
    Steps,
    Table,
    Text,
    plain,
    terms,
)
from fillmark.documents.checklist import AUTHORS, plan_checklist
from fillmark.documents.head import head
from fillmark.documents.slips import Slips, first, told
from fillmark.documents.wording import Phrases, light, on_paper, strong, written
from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.model import Step as RunStep
from fillmark.quantities import brief, express, sig

QUESTIONS, BLIND_READINGS, RETAIN_LOADINGS = 10, 3, 6
"""How many of each the form has room for."""
SHARE = 0.7
"""The weak reading that is asked about, as a part of the torque floor: 7 % where the floor is 10 %."""

OBSERVED = (
    "step-revision", "step-calibration", "step-protection", "step-spindle", "step-container", "step-pack",
    "step-inspect", "step-guard", "step-no-guard", "step-cap", "preparation", "step-fill", "step-condition",
    "step-out", "step-open-time", "step-level", "step-zero", "step-dip", "step-couple", "step-fit-guard",
    "step-lower-mark", "step-cover", "step-depth", "step-gap", "step-clearance", "step-rest",
    "step-temperature", "step-start", "step-read", "step-lock", "step-multiply", "step-range",
    "step-spindle-off", "step-wash", "step-waste",
)  # fmt: skip
"""Steps that are watched, by the beginning of their key."""

CRITICAL = (
    "step-spindle", "step-guard", "step-no-guard", "step-fit-guard", "step-zero", "step-couple",
    "step-lower-mark", "step-cover", "step-depth", "step-gap", "step-temperature", "step-start", "step-read",
    "step-lock", "step-range", "step-spindle-off", "step-protection",
)  # fmt: skip
"""Of these, the ones that cost the result, the instrument or somebody's skin when left out."""


RECORDS = "records"
"""What is watched besides the steps of the checklist."""


@dataclass(frozen=True, slots=True)
class Marks:
    """What passes, and how long it holds, as the site policy has it."""

    right: int
    """Right answers of `QUESTIONS`."""
    prompted: int
    """Items that are not critical and may be prompted."""
    fluid_range: str
    """Largest less smallest of the blind readings, in % of full scale; as written."""
    days: int
    """Days that the loadings of the retained sample are spread over."""
    spread: float
    """Times the s of the experienced."""
    assessor: int
    """Level that who assesses must hold."""
    attempts: int
    """Times that a trial of part C may be made."""
    valid: str
    unused: str


@dataclass(frozen=True, slots=True)
class Watched:
    """An item of part B."""

    key: str
    """What a filled form calls it: step-4, records"""
    number: str
    """As printed."""
    text: Text
    critical: bool


@dataclass(frozen=True, slots=True)
class Question:
    """A question of the theory part with the answer that the method gives."""

    key: str
    text: Text
    answer: Text
    mandatory: bool = False


def marks(method: Method) -> Marks:
    """Give the pass marks and intervals that hold for a method."""
    policy = method.reference.policy
    valid = None if method.training is None else method.training.valid
    return Marks(
        right=int(policy["competency_right"]),
        prompted=int(policy["competency_prompted"]),
        fluid_range=policy.texts["competency_fluid_range"],
        days=int(policy["competency_days"]),
        spread=policy["competency_spread"],
        assessor=int(policy["competency_assessor"]),
        attempts=int(policy["competency_attempts"]),
        valid=policy.texts["training_interval"] if valid is None else valid.text,
        unused=policy.texts["competency_unused"],
    )


def plan_competency(
    method: Method, figures: Figures, digest: str, slips: Slips, *, print_date: date | None = None
) -> Document:
    """Plan the competency form of a method; `slips` is its misuse budget, the rest is as for `plan_checklist`."""
    phrases = Phrases(method.reference.phrases)
    asked = questions(method, figures, phrases, slips)
    passing = _said(marks(method))
    return Document(
        kind="competency",
        language="en",
        head=head(method, phrases, digest, paper="paper-competency", print_date=print_date),
        sides=(
            Side(1, (_identity(method, phrases, passing), _theory(phrases, asked, passing))),
            Side(2, (_practice(phrases, watched(method, figures, phrases, digest), passing),)),
            Side(3, (*_performance(method, figures, phrases, slips), *_decision(phrases, passing))),
            Side(4, (_answers(phrases, asked),)),
        ),
        foot=(phrases.line("safety-first"),),
    )


def _said(passing: Marks) -> Mapping[str, str]:
    """Write the marks as phrases ask for them."""
    return {
        "questions": str(QUESTIONS), "right": str(passing.right), "prompted": str(passing.prompted),
        "range": on_paper(passing.fluid_range.removesuffix(" of full scale")), "days": str(passing.days),
        "spread": brief(passing.spread), "assessor": str(passing.assessor), "attempts": str(passing.attempts),
        "valid": on_paper(passing.valid), "unused": on_paper(passing.unused),
    }  # fmt: skip


def rules(phrases: Phrases, passing: Mapping[str, str]) -> tuple[Text, ...]:
    """Say how a form is judged, part by part."""
    return (
        phrases.line("judged-theory", **passing),
        phrases.line("judged-practice", **passing),
        phrases.line("judged-performance", **passing),
        phrases.line("judged-assessor", **passing),
        phrases.line("judged-safely"),
    )


def _identity(m: Method, phrases: Phrases, passing: Mapping[str, str]) -> Section:
    keys = ("entry-trainee", "entry-assessor", "entry-trained-by", "entry-occasion")
    level = "" if m.training is None else phrases.word("competency-level", level=str(m.training.level))
    box = Box(phrases.word("competency-title"), (light(level),) if level else (), rules(phrases, passing))
    return Section("", "", (Entries(4, tuple(Entry(phrases.line(key)) for key in keys)), box))


# --- part A


def questions(method: Method, figures: Figures, phrases: Phrases, slips: Slips) -> tuple[Question, ...]:
    """Give the ten questions of a method, the mandatory ones first.

    Those that decide most come first; what does not fit the method gives way to the next that does.
    """
    m, step = method, method.judged_step
    floor, ceiling = terms.floor_and_ceiling(m)
    below, above = terms.bounds(m, figures, step, phrases)
    torque, product = worked_reading(m, figures, step)
    weak = on_paper(f"{brief(SHARE * m.reference.policy['torque_floor'], 3)} %")
    speed = written(step.speed)
    asked = [
        Question(
            "multiply",
            phrases.line("ask-multiply", torque=on_paper(torque), speed=speed),
            phrases.line(
                "tell-multiply", torque=on_paper(torque), factor=terms.factor(figures, step), product=on_paper(product)
            ),
            mandatory=True,
        ),
        Question(
            "above",
            phrases.line("ask-above", ceiling=ceiling, speed=speed),
            phrases.line("tell-above", bound=above),
            mandatory=True,
        ),
        Question("correct", phrases.line("ask-correct"), phrases.line("corrections"), mandatory=True),
        Question(
            "below", phrases.line("ask-below", torque=weak, speed=speed),
            phrases.line("tell-below", torque=weak, floor=floor, bound=below,
                         tolerance=on_paper(figures.text(f"run.{step.name}.tolerance"))),
        ),
    ]  # fmt: skip
    for key, families in (
        ("warm", ("temperature.warm",)),
        ("guard", ("guard.off", "guard.on")),
        ("container", ("container.narrower", "container.wider")),
        ("deep", ("immersion.deep", "immersion.gap")),
        ("zero", ("zero.high",)),
        ("early", ("structure.early", "read.early", "read.half")),
    ):
        slip = first(slips, *families)
        if slip is not None:
            answer = told(slip, phrases, whole=True)
            if slip.key == "structure.early":
                answer = terms.join((answer, phrases.line("tell-early")))
            asked.append(Question(key, phrases.line("ask-slip", what=on_paper(slip.what)), answer))
    if m.verification is not None:
        check = m.verification
        band = terms.verification_band(check, figures)
        asked.append(
            Question(
                "fluid",
                phrases.line("ask-fluid", fluid=check.fluid.key),
                phrases.line("tell-fluid", band=band),
            )
        )
    border = next(
        (f.text for r in m.report for k, f in figures.items() if k == f"report.{r.result}.border_lower"), ""
    )
    if border:
        value = on_paper(border.partition(" is reported ")[0])
        asked.append(
            Question(
                "border",
                phrases.line("ask-border", value=value),
                phrases.line("tell-border", example=on_paper(border)),
            )
        )
    for key, families in (
        ("bubble", ("bubble",)),
        ("speed", ("speed.slower", "speed.faster")),
        ("keyed", ("spindle-keyed.", "spring-keyed.")),
        ("mounted", ("spring-mounted.",)),
        ("bottom", ("bottom.near",)),
        ("cold", ("temperature.cold",)),
        ("stirred", ("structure.stirred",)),
    ):
        slip = first(slips, *families)
        if slip is not None:
            text = phrases.line("ask-slip", what=on_paper(slip.what))
            asked.append(Question(key, text, told(slip, phrases, whole=True)))
    return tuple(asked[:QUESTIONS])


def worked_reading(m: Method, figures: Figures, step: RunStep) -> tuple[str, str]:
    """Give a torque inside the window of a conforming batch, as the readout shows it, and its viscosity."""
    key = f"run.{step.name}."
    lower = figures.value(f"{key}torque_lower")
    upper = figures.value(f"{key}torque_upper")
    floor, ceiling = m.reference.policy["torque_floor"], m.reference.policy["torque_ceiling"]
    low = floor if lower is None else lower
    high = ceiling if upper is None else upper
    resolution = figures["resolution"].value
    # A third of the way up is no figure of the sheet, so it has to be worked out.
    torque = round((low + (high - low) / 3) / resolution) * resolution
    unit = terms.unit_of(figures, step)
    product = express(torque * figures[f"{key}factor"].value, unit)
    return f"{brief(torque, 4)} %", f"{brief(product, 5)} {unit}"


def _theory(phrases: Phrases, asked: tuple[Question, ...], passing: Mapping[str, str]) -> Section:
    rows: list[tuple[Cell, ...]] = []
    for number, question in enumerate(asked, start=1):
        star = phrases.word("mandatory") if question.mandatory else ""
        text = terms.join((strong(star), question.text))
        rows.append((strong(str(number)), text, Field(), Field("tick")))
    mandatory = str(sum(question.mandatory for question in asked))
    points = Entries(
        2,
        (
            Entry(phrases.line("entry-right", questions=passing["questions"])),
            Entry(phrases.line("entry-mandatory-right", mandatory=mandatory)),
        ),
    )
    return Section(
        "A",
        phrases.word("section-theory"),
        (Table("questions", phrases.words("table-questions"), tuple(rows)), points),
        phrases.line("theory-pass", **passing),
    )


def _answers(phrases: Phrases, asked: tuple[Question, ...]) -> Section:
    rows = tuple(
        (strong(str(n)), light(plain(question.text)), question.answer)
        for n, question in enumerate(asked, start=1)
    )
    return Section(
        "",
        phrases.word("section-assessor"),
        (
            Box("", (phrases.line("assessor-keep"),)),
            Table("answers", phrases.words("table-answers"), rows),
        ),
    )


# --- part B


def watched(m: Method, figures: Figures, phrases: Phrases, digest: str) -> tuple[Watched, ...]:
    """Give what is watched: steps of the bench checklist, and how the records are kept."""
    steps = [
        step
        for side in plan_checklist(m, figures, digest).sides
        for section in side.sections
        for block in section.blocks
        if isinstance(block, Steps)
        for step in block.steps
        if step.key.startswith(OBSERVED)
    ]
    found: dict[Text, Watched] = {}
    for step in steps:
        action = _action(phrases, step)
        # The same action at a second moment is watched once.
        if action not in found:
            critical = step.key.startswith(CRITICAL)
            found[action] = Watched(f"step-{step.number}", str(step.number), action, critical)
    return (*found.values(), Watched(RECORDS, "–", phrases.line("practice-records"), critical=False))


def _practice(phrases: Phrases, items: tuple[Watched, ...], passing: Mapping[str, str]) -> Section:
    rows: list[tuple[Cell, ...]] = [
        (
            light(item.number),
            item.text,
            strong(phrases.word("critical")) if item.critical else (),
            *(Field("tick") for _ in range(3)),
        )
        for item in items
    ]
    counted = Entries(2, tuple(Entry(phrases.line(key)) for key in ("entry-not-done", "entry-prompted")))
    return Section(
        "B",
        phrases.word("section-practice"),
        (Table("observed", phrases.words("table-observed"), tuple(rows)), counted),
        phrases.line("practice-pass", **passing),
    )


def _action(phrases: Phrases, step: Step) -> Text:
    return phrases.line("practice-preparation") if step.key in AUTHORS else step.text


# --- parts C and D


def _performance(m: Method, figures: Figures, phrases: Phrases, slips: Slips) -> tuple[Section, ...]:
    passing = _said(marks(m))
    parts = [
        *_fluid(m, figures, phrases, passing),
        _retain(m, phrases, passing),
        *_over_range(m, figures, phrases),
    ]
    planted = faults(m, figures, phrases, slips)
    rows = tuple((text, Field("tick"), Field("yes-no"), Field()) for text in planted.values())
    table = Table("trial fault", phrases.words("table-fault"), rows)
    blocks = (*parts, Box(phrases.word("fault-title"), (phrases.line("fault-pass"),)), table)
    return (Section("C", phrases.word("section-performance"), blocks),)


def _fluid(
    m: Method, figures: Figures, phrases: Phrases, passing: Mapping[str, str]
) -> tuple[Box | Table, ...]:
    check = m.verification
    if check is None:
        return (Box(phrases.word("blind-title"), (phrases.line("hold-none"),)),)
    unit = figures["verification.lower"].unit
    full_scale = figures["verification.full_scale"]
    # A percent of full scale is a percent of torque: the range can be judged on either.
    share = m.reference.policy["competency_fluid_range"] / 100
    allowed = f"{sig(express(full_scale.value * share, full_scale.unit), 3)} {full_scale.unit}"
    band = terms.verification_band(check, figures)
    box = Box(
        phrases.word("blind-title"),
        (
            phrases.line(
                "blind-pass",
                fluid=check.fluid.key,
                speed=written(next(s.speed for s in m.run if s.name == check.at)),
                temperature=terms.fluid_temperature(check),
                setup=terms.check_setup(m, check, phrases),
                band=band,
                torque=terms.window(figures, "verification.torque_lower", "verification.torque_upper"),
                range=phrases.word("range-torque", range=passing["range"]),
                viscosity=on_paper(allowed),
            ),
        ),
    )
    words = phrases.words("blind-rows")
    rows: tuple[tuple[Cell, ...], ...] = (
        (light(words[0]), *(Field(unit="%") for _ in range(BLIND_READINGS)), Field(unit="%")),
        (light(words[1]), *(Field(unit=unit) for _ in range(BLIND_READINGS)), Field("pass-fail")),
    )
    return box, Table("trial", phrases.words("table-blind"), rows)


def _retain(m: Method, phrases: Phrases, passing: Mapping[str, str]) -> Table:
    known = m.replicates.repeatability
    own = () if known is None else phrases.line("retain-known", repeatability=written(known))
    unit = next((r.unit for r in m.report if r.unit), "")
    rows: tuple[tuple[Cell, ...], ...] = (
        (light(phrases.word("retain-reading")), *(Field(unit=unit) for _ in range(RETAIN_LOADINGS))),
        (light(phrases.word("retain-day")), *(Field() for _ in range(RETAIN_LOADINGS))),
    )
    labels = phrases.words("retain-summary")
    summary: tuple[Cell, ...] = (
        light(phrases.word("retain-outcome")),
        *(Field(label=label) for label in labels),
        Field("pass-fail"),
    )
    notes = tuple(line for line in (phrases.line("retain-pass", **passing), own) if line)
    return Table("trial", phrases.words("table-retain"), (*rows, summary), notes)


def _over_range(m: Method, figures: Figures, phrases: Phrases) -> tuple[Box | Entries, ...]:
    bounds = [
        phrases.line(
            "over-bound", speed=written(s.speed), result=s.name, bound=terms.bounds(m, figures, s, phrases)[1]
        )
        for s in m.run
    ]
    box = Box(phrases.word("over-title"), (phrases.line("over-pass"), *bounds))
    entries = (
        Entry(phrases.line("entry-reported")),
        Entry(phrases.line("entry-verdict"), field=Field("pass-fail")),
    )
    return box, Entries(2, entries)


def faults(m: Method, figures: Figures, phrases: Phrases, slips: Slips) -> dict[str, Text]:
    """List the faults that can be planted with this method, each where the sheet gives a chance to find it."""
    zero = on_paper(m.reference.policy.texts["zero_limit"])
    found: dict[str, Text] = {}
    if m.guard == "required":
        found["guard-off"] = phrases.line("fault-guard-off")
    elif m.guard == "not-used":
        found["guard-on"] = phrases.line("fault-guard-on")
    if "bubble" in slips:
        found["bubble"] = phrases.line("fault-bubble")
    found["temperature"] = phrases.line("fault-temperature", window=terms.temperature_window(figures))
    found["zero"] = phrases.line("fault-zero", zero=zero)
    keyed = first(slips, "spindle-keyed.", "spring-keyed.")
    if keyed is not None and m.instrument.readout == "digital":
        found["keyed"] = phrases.line("fault-keyed", what=on_paper(keyed.what))
    found["revision"] = phrases.line("fault-revision")
    return found


def _decision(phrases: Phrases, passing: Mapping[str, str]) -> tuple[Section, ...]:
    levels = tuple(Entry(light(word), field=Field("tick")) for word in phrases.words("levels"))
    triggers = tuple(light(word) for word in phrases.words("retrain-triggers"))
    rows = tuple((text, Field(), Field(), Field()) for text in signatories(phrases, passing["assessor"]))
    blocks = (
        Entries(4, levels),
        Box(
            phrases.word("validity-title"),
            (phrases.line("validity", time=passing["valid"], unused=passing["unused"]),),
        ),
        Box(phrases.word("retrain-title"), points=triggers),
        Table("signatures", phrases.words("table-signatures"), rows),
    )
    return (Section("D", phrases.word("section-decision"), blocks),)


def signatories(phrases: Phrases, level: str) -> tuple[Text, ...]:
    """Say who signs; `level` is the one an assessor must hold."""
    return (
        phrases.line("signature-trainee"),
        phrases.line("signature-assessor", assessor=level),
        phrases.line("signature-quality"),
    )
