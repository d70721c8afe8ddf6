"""The training sheet: the bench checklist with the same step numbers, and under its steps the reason why.

Nothing on it can release a batch: the result gives way to the comparison with the reference fluid, and the
mark stands across every page. It may take any number of pages.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

from fillmark.documents import (
    Block,
    Box,
    Cell,
    Document,
    Entries,
    Entry,
    Field,
    Hold,
    Section,
    Side,
    Step,
    Steps,
    Table,
    Text,
    plain,
    terms,
)
from fillmark.documents.checklist import WARM, plan_checklist
from fillmark.documents.slips import Slip, Slips, first, told
from fillmark.documents.wording import Phrases, light, on_paper, strong, written
from fillmark.figures import Figures
from fillmark.model import Method


@dataclass(frozen=True, slots=True)
class _Trainer:
    """What every reason draws on."""

    method: Method
    figures: Figures
    phrases: Phrases
    slips: Slips

    def line(self, key: str, **values: str) -> Text:
        return self.phrases.line(key, **values)

    def with_slip(self, key: str, *families: str, **values: str) -> Text:
        """Give a reason, and the number that the first slip of these has in this method."""
        slip = first(self.slips, *families)
        text = self.line(key, **values)
        return text if slip is None else terms.join((text, told(slip, self.phrases)))

    def only_with(self, key: str, *families: str) -> Text:
        """Give a reason only where the slip can happen with this method."""
        return self.with_slip(key, *families) if first(self.slips, *families) is not None else ()


def plan_training(
    method: Method, figures: Figures, digest: str, slips: Slips, *, print_date: date | None = None
) -> Document:
    """Plan the training sheet of a method; `slips` is its misuse budget, the rest is as for `plan_checklist`."""
    phrases = Phrases(method.reference.phrases)
    trainer = _Trainer(method, figures, phrases, slips)
    working = plan_checklist(method, figures, digest, print_date=print_date)
    # The sides run on without a break: with the reasons they no longer fit a page each.
    steps = tuple(
        _section(trainer, section) for side in _once(trainer, working.sides) for section in side.sections
    )
    return replace(
        working,
        kind="training",
        head=replace(
            working.head, paper=phrases.word("paper-training"), across=phrases.words("training-mark")
        ),
        sides=(
            Side(1, _front(trainer)),
            Side(2, (*steps, *_back(trainer))),
            Side(3, (_replies(trainer),)),
        ),
        foot=(*working.foot, phrases.line("training-foot")),
    )


# --- the reasons


def _once(t: _Trainer, sides: tuple[Side, ...]) -> tuple[Side, ...]:
    """Put the reason under each step that has one, the first time that it stands on the sheet."""
    told_already: set[Text] = set()

    def reasoned(step: Step) -> Step:
        reason = why(t.method, t.figures, t.phrases, t.slips, step.key)
        if not reason or reason in told_already:
            return step
        told_already.add(reason)
        return replace(step, why=reason)

    def block(one: Block) -> Block:
        return Steps(one.columns, tuple(map(reasoned, one.steps))) if isinstance(one, Steps) else one

    return tuple(
        Side(s.number, tuple(replace(x, blocks=tuple(map(block, x.blocks))) for x in s.sections))
        for s in sides
    )


def why(method: Method, figures: Figures, phrases: Phrases, slips: Slips, key: str) -> Text:
    """Say why a step is there and which way the result moves without it; nothing where no reason fits.

    `key` is the step's. A reason fits where its slip can happen with this method.
    """
    t = _Trainer(method, figures, phrases, slips)
    if key in _REASONS:
        return _REASONS[key](t)
    for beginning, reason in _BY_BEGINNING:
        if key.startswith(beginning):
            return reason(t)
    return ()


def _spindle(t: _Trainer) -> Text:
    return t.with_slip("why-spindle", "spindle-hung.", "spindle-twin")


def _container(t: _Trainer) -> Text:
    return t.only_with("why-container", "container.narrower", "container.wider") or t.line(
        "why-container-own"
    )


def _guard(t: _Trainer) -> Text:
    return t.only_with("why-guard", "guard.off")


def _preparation(t: _Trainer) -> Text:
    return t.only_with("why-history", "structure.stirred")


def _age(t: _Trainer) -> Text:
    return t.line("why-age") if t.method.product.has_history else ()


def _fill(t: _Trainer) -> Text:
    if t.method.container.kind in ("chamber", "adapter"):
        return t.only_with("why-fill-chamber", "immersion.shallow")
    return t.only_with("why-fill", "bottom.near")


def _parts(t: _Trainer) -> Text:
    m = t.method
    room = m.temperature.room.value if m.temperature.room is not None else m.reference.policy["room"]
    target = m.temperature.target.value.value
    if target == room:
        return ()
    return t.line("why-parts-cold" if target > room else "why-parts-warm")


def _conditioning(t: _Trainer) -> Text:
    m = t.method
    if m.temperature.start is None or m.temperature.start.value == m.temperature.target.value.value:
        return t.line("why-lag")
    warm = m.temperature.start.value > m.temperature.target.value.value
    return t.with_slip("why-lag", "temperature.warm" if warm else "temperature.cold")


def _out(t: _Trainer) -> Text:
    conditioning = t.method.temperature.conditioning
    if conditioning is None or "conditioning.residual" not in t.figures:
        return ()
    residual = on_paper(t.figures.text("conditioning.residual"))
    return t.line("why-out", time=written(conditioning.time), residual=residual)


def _temperature(t: _Trainer) -> Text:
    return t.with_slip("why-temperature", "temperature.warm")


def _mark(t: _Trainer) -> Text:
    slips = [t.slips[key] for key in ("immersion.deep", "immersion.shallow") if key in t.slips]
    if not slips:
        return ()
    return terms.join((t.line("why-depth"), *(told(slip, t.phrases) for slip in slips)))


def _rest(t: _Trainer) -> Text:
    return t.line("why-rest") if t.method.product.has_history else t.line("why-rest-plain")


def _speed(t: _Trainer) -> Text:
    key = "why-speed-newtonian" if t.method.product.newtonian else "why-speed"
    first_step = t.method.run[0]
    # The slips are those of the step that has limits; a first step without any is not it.
    judged = t.method.limit(first_step.name) is not None or len(t.method.run) == 1
    return t.with_slip(key, "speed.slower") if judged else t.line(key)


def _clock(t: _Trainer) -> Text:
    step = t.method.run[0]
    wound = t.figures.get(f"run.{step.name}.wind_up")
    spring = (
        t.line("why-wind-up-plain")
        if wound is None
        else t.line("why-wind-up", time=on_paper(wound.text), name=step.name)
    )
    if "structure.early" in t.slips:
        return terms.join((spring, t.line("why-structure")))
    return spring


def _multiply(t: _Trainer) -> Text:
    if t.method.instrument.readout != "digital":
        return t.line("why-torque")
    return t.only_with("why-factor", "spindle-keyed.", "spring-keyed.")


def _range(t: _Trainer) -> Text:
    tolerance = t.figures.get(f"run.{t.method.run[-1].name}.tolerance")
    return t.line("why-bound") if tolerance is None else t.line(
        "why-bound-size", tolerance=on_paper(tolerance.text), floor=terms.floor_and_ceiling(t.method)[0],
        bound=terms.bounds(t.method, t.figures, t.method.run[-1], t.phrases)[0],
    )  # fmt: skip


def _always(key: str) -> Callable[[_Trainer], Text]:
    return lambda t: t.line(key)


_REASONS: dict[str, Callable[[_Trainer], Text]] = {
    "step-revision": _always("why-revision"),
    "step-calibration": _always("why-calibration"),
    "step-spindle": _spindle,
    "step-container": _container,
    "step-pack": _container,
    "step-inspect": _always("why-inspect"),
    "step-guard": _guard,
    "step-guard-long": _guard,
    "step-no-guard": lambda t: t.only_with("why-no-guard", "guard.on"),
    "step-cap": _always("why-cap"),
    "step-age": _age,
    "preparation": _preparation,
    "bubbles": lambda t: t.only_with("why-bubbles", "bubble"),
    "step-out": _out,
    "step-open-time": lambda t: t.with_slip("why-open", "open.temperature", "evaporation"),
    "step-level": _always("why-level"),
    "step-swing": _always("why-swing"),
    "step-zero": lambda t: t.with_slip("why-zero", "zero.high"),
    "step-dip": lambda t: t.only_with("why-slant", "bubble"),
    "step-lower-mark": _mark,
    "step-cover": _mark,
    "step-depth": _mark,
    "step-gap": lambda t: t.only_with("why-gap", "immersion.gap"),
    "step-clearance-guard": lambda t: t.only_with("why-bottom", "bottom.near"),
    "step-clearance-spindle": lambda t: t.only_with("why-bottom", "bottom.near"),
    "step-rest": _rest,
    "step-start": _speed,
    "step-start-travel": _speed,
    "step-read-at": _clock,
    "step-read-average": _clock,
    "step-lock": _clock,
    "step-read-steady": _always("why-steady"),
    "step-lock-steady": _always("why-steady"),
    "step-display": _always("why-torque"),
    "step-multiply": _multiply,
    "step-range": _range,
    "step-dry": _always("why-dry"),
}
_BY_BEGINNING: tuple[tuple[str, Callable[[_Trainer], Text]], ...] = (
    ("step-fill", _fill),
    ("step-warm-parts", _parts),
    ("step-condition-", _conditioning),
    ("step-temperature-", _temperature),
    ("step-travel-", _always("why-travel")),
)


# --- the sections


def _section(t: _Trainer, section: Section) -> Section:
    """Give a section of the working sheet as training has it."""
    if section.title == t.phrases.word("section-result"):
        section = replace(section, blocks=(*_ratios(section), _comparison(t, section)))
    hold = next((b for b in section.blocks if isinstance(b, Hold)), None)
    if hold is not None:
        key = "why-hold-verification" if hold.number == 1 else "why-hold-result"
        blocks: tuple[Block, ...] = (Box(t.phrases.word("why"), (t.line(key),)), *section.blocks)
        return replace(section, blocks=(*blocks, _fluid(t)) if hold.number == 1 else blocks)
    if not section.letter:
        last = section.blocks[-1]
        if isinstance(last, Box) and last.room:
            correcting = Box(t.phrases.word("why"), (t.line("why-correction"),))
            return replace(section, blocks=(correcting, *section.blocks))
        return section
    initials = Entries(2, (Entry(t.line("entry-questions")), Entry(t.line("entry-trainer"))))
    return replace(section, blocks=(*section.blocks, initials))


def _ratios(section: Section) -> tuple[Steps, ...]:
    return tuple(b for b in section.blocks if isinstance(b, Steps))


def _fluid(t: _Trainer) -> Entries:
    """Give room for three readings of the reference fluid: one shows the instrument, three the operator."""
    unit = t.figures["verification.lower"].unit if t.method.verification is not None else ""
    rows = (("fluid-torque", "%"), ("fluid-viscosity", unit))
    return Entries(
        3,
        tuple(
            Entry(t.line(key, number=str(number)), field=Field(unit=u))
            for key, u in rows
            for number in (1, 2, 3)
        ),
    )


def _comparison(t: _Trainer, section: Section) -> Table:
    """Put the fluid's readings where the working sheet has the result, under the same step numbers."""
    results = next(b for b in section.blocks if isinstance(b, Table))
    check = t.method.verification
    fluid = t.phrases.word("any-fluid") if check is None else check.fluid.key
    band = "" if check is None else terms.verification_band(check, t.figures)
    unit = "" if check is None else t.figures["verification.lower"].unit
    allowed = on_paper(
        t.method.reference.policy.texts["competency_fluid_range"].removesuffix(" of full scale")
    )
    training: list[tuple[Text, Text, Cell]] = [
        (
            t.line("training-agree", fluid=fluid),
            strong(t.phrases.word("range-torque", range=allowed)),
            Field(unit="%"),
        ),
        (t.line("training-mean", fluid=fluid), strong(band), Field(unit=unit)),
        (t.line("training-report"), (), light(t.phrases.word("training-none"))),
        (t.line("training-verdict", fluid=fluid), strong(band), Field("pass-fail")),
    ]
    # The largest range is the one row that a working sheet may lack.
    training = training[len(training) - len(results.rows) :]
    rows = []
    for row, (text, limit, cell) in zip(results.rows, training, strict=True):
        number, words = row[0], row[1]
        rows.append((number, words, text, limit, cell))
    return Table("comparison", t.phrases.words("table-comparison"), tuple(rows), (t.line("training-result"),))


# --- the first and the last page


def _front(t: _Trainer) -> tuple[Section, ...]:
    keys = ("entry-trainee", "entry-trainer-name", "entry-session", "entry-material")
    rules = Box(
        t.phrases.word("training-title"),
        points=tuple(light(word) for word in t.phrases.words("training-rules")),
    )
    return (
        Section("", "", (Entries(4, tuple(Entry(t.line(key)) for key in keys)), rules)),
        Section("", t.phrases.word("section-predictions"), (_predictions(t),)),
        Section("", t.phrases.word("section-errors"), (Box("", (t.line("error-rules"),)), _errors(t))),
    )


def _asked(t: _Trainer) -> list[tuple[Text, Text]]:
    """List the predictions: what is asked, and the answer for the trainer."""
    m, figures = t.method, t.figures
    asked: list[tuple[Text, Text]] = []
    for step in m.run:
        window = terms.torque_window(figures, step)[0]
        if window:
            asked.append(
                (t.line("predict-torque", speed=written(step.speed)), t.line("answer-torque", window=window))
            )
    if m.verification is not None:
        window = terms.window(figures, "verification.torque_lower", "verification.torque_upper")
        asked.append(
            (t.line("predict-fluid", fluid=m.verification.fluid.key), t.line("answer-torque", window=window))
        )
    for key, families in (
        ("predict-guard-off", ("guard.off",)),
        ("predict-guard-on", ("guard.on",)),
        ("predict-warm", ("temperature.warm",)),
        ("predict-zero", ("zero.high",)),
        ("predict-container", ("container.narrower", "container.wider")),
        ("predict-depth", ("immersion.deep",)),
        ("predict-early", ("structure.early", "read.early", "read.half")),
    ):
        slip = first(t.slips, *families)
        if slip is not None:
            asked.append((t.line(key, what=on_paper(slip.what)), told(slip, t.phrases, whole=True)))
    return asked


def _predictions(t: _Trainer) -> Table:
    rows = tuple((question, Field(), Field()) for question, _ in _asked(t))
    return Table("predictions", t.phrases.words("table-predictions"), rows)


def exercises(method: Method, slips: Slips) -> tuple[tuple[str, Slip], ...]:
    """Choose the deliberate errors of a method, one for each session: the phrase and the slip.

    Hot and caustic products are tried too cold, never warmer than the method has them.
    """
    warm = method.temperature.target.value.value < WARM and not method.product.hazards
    chosen = (
        ("error-zero", ("zero.high",)),
        ("error-warm", ("temperature.warm",)) if warm else ("error-cold", ("temperature.cold",)),
        ("error-guard-off", ("guard.off",)),
        ("error-guard-on", ("guard.on",)),
        ("error-clock", ("structure.early", "read.early")),
        ("error-deep", ("immersion.deep",)),
    )
    found = ((key, first(slips, *families)) for key, families in chosen)
    # What shifts nothing teaches nothing.
    return tuple((key, slip) for key, slip in found if slip is not None and slip.direction != "none")


def _errors(t: _Trainer) -> Table:
    window = terms.temperature_window(t.figures)
    zero = on_paper(t.method.reference.policy.texts["zero_limit"])
    rows = tuple(
        (
            strong(str(number)),
            t.line(key, window=window, zero=zero, what=on_paper(slip.what)),
            Field(),
            Field(),
        )
        for number, (key, slip) in enumerate(exercises(t.method, t.slips), start=1)
    )
    return Table("errors", t.phrases.words("table-errors"), rows)


def _back(t: _Trainer) -> tuple[Section, ...]:
    questions = Section("", "", (Box(t.phrases.word("questions-title"), room=True),))
    rows = tuple(
        (t.line(key), Field(), Field(), Field()) for key in ("signature-trainee", "signature-trainer")
    )
    signed = Section(
        "",
        t.phrases.word("section-session"),
        (
            Entries(2, tuple(Entry(t.line(key)) for key in ("entry-error-done", "entry-next"))),
            Table("signatures", t.phrases.words("table-signatures"), rows),
        ),
    )
    return questions, signed


def _replies(t: _Trainer) -> Section:
    """Give the answers a page of their own, to be kept back."""
    answers = [(light(plain(question)), answer) for question, answer in _asked(t)]
    answers += [
        (t.line("error-number", number=str(number)), told(slip, t.phrases, whole=True))
        for number, (_, slip) in enumerate(exercises(t.method, t.slips), start=1)
    ]
    return Section(
        "",
        t.phrases.word("section-trainer-answers"),
        (
            Box("", (t.line("answers-keep"),)),
            Table("replies", t.phrases.words("table-replies"), tuple(answers)),
        ),
    )
