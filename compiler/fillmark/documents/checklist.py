"""The bench checklist: side 1 sets up and checks, side 2 measures, records and decides.

The order of the steps is the order of the work. A step that could be ticked without being done asks for a
value; a caution belongs to the step it protects and stands above it.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import date

from fillmark.documents import (
    Block,
    Box,
    Caution,
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
from fillmark.documents.head import head, waivers
from fillmark.documents.setup_drawing import setup_drawing
from fillmark.documents.wording import Phrases, light, on_paper, strong, written
from fillmark.figures import Figures
from fillmark.model import Method, ReportLine
from fillmark.model import Step as RunStep
from fillmark.placeholders import fill

MOST_COLUMNS = 4
"""Value columns that fit beside a step at their size; more replicates go on the data sheet."""

DRAWING = 41.0
"""Height of the set-up drawing over the whole width of side 2 (mm)."""

BESIDE = 101.0, 37.0
"""Width and height of the set-up drawing where it stands beside the equipment (mm)."""

SIDE, TALL = 245.0, 4.0
"""Height of a side of the shorter paper between head and foot, less what an estimate of it may miss, and what each
line more of the head takes of it (mm)."""

LETTERS = 105
"""Letters in a line over the whole width, at least."""

WARM = 38.0
FROST = 5.0
"""Temperatures (°C) from which parts are too warm to hold carelessly, or hurt by cold; burns: the site policy."""

AUTHORS = ("preparation", "bubbles")
"""Steps in the author's words: they have no phrase."""

VAPOUR = ("flammable", "volatile-solvent")
"""Hazards that ask for extraction."""


@dataclass
class _Sheet:
    """One checklist in the making: what it draws on, and the number of the next step."""

    method: Method
    figures: Figures
    phrases: Phrases
    count: int = 0
    letters: list[str] = field(default_factory=list)

    def step(
        self,
        key: str,
        *fields: Field,
        limit: Text = (),
        remark: Text = (),
        cautions: Iterable[Caution] = (),
        author: str = "",
        **values: str,
    ) -> Step:
        self.count += 1
        text = () if key in AUTHORS else self.phrases.line(key, **values)
        return Step(self.count, text, limit, remark, fields, tuple(cautions), author, key)

    def section(self, key: str, *blocks: Block, note: Text = ()) -> Section:
        letter = chr(ord("A") + len(self.letters))
        self.letters.append(key)
        return Section(letter, self.phrases.word(f"section-{key}"), blocks, note)

    def line(self, key: str, **values: str) -> Text:
        return self.phrases.line(key, **values)

    def word(self, key: str, **values: str) -> str:
        return self.phrases.word(key, **values)

    @property
    def columns(self) -> tuple[str, ...]:
        """Headings of the columns that take one replicate each."""
        replicates = self.method.replicates
        if replicates.count == 1:
            single = (self.word("loading-single"),)
            return (*single, self.word("loading-confirm")) if replicates.confirm_outside else single
        count = min(replicates.count, MOST_COLUMNS)
        return tuple(self.word(f"loading-{replicates.each}", n=str(n + 1)) for n in range(count))

    @property
    def loadings(self) -> tuple[str, ...]:
        """Headings of the columns that take one loading each: one where a loading is read again."""
        columns = self.columns
        if self.method.replicates.each == "re-read" and self.method.replicates.count > 1:
            return (self.word("column-value"),)
        return columns

    def each_loading(self, kind: str = "write", unit: str = "") -> tuple[Field, ...]:
        return tuple(Field(kind, unit) for _ in self.loadings)

    def each_replicate(self, kind: str = "write", unit: str = "") -> tuple[Field, ...]:
        return tuple(Field(kind, unit) for _ in self.columns)


def plan_checklist(
    method: Method, figures: Figures, digest: str, *, print_date: date | None = None
) -> Document:
    """Plan the bench checklist of a method.

    `digest` is the whole digest of the method. `print_date` is printed in the head; without it the day is
    written in by hand. PhraseError where a laboratory's own phrases lack a text.
    """
    phrases = Phrases(method.reference.phrases)
    sheet = _Sheet(method, figures, phrases)
    first = Side(
        1,
        (
            _identity(sheet),
            _start(sheet),
            _equipment(sheet),
            _sample(sheet),
            _instrument(sheet),
            Section("", "", (_verification(sheet),)),
            _mount(sheet),
            *_waived(sheet),
        ),
    )
    second = Side(
        2,
        (
            *_measure(sheet),
            _result(sheet),
            Section("", "", (_second_hold(sheet),)),
            _clean(sheet),
            Section("", "", (_remarks(sheet),)),
        ),
    )
    top = head(method, phrases, digest, paper="paper-checklist", print_date=print_date)
    return Document(
        kind="checklist",
        language="en",
        head=top,
        sides=_with_drawing(sheet, first, second, SIDE - TALL * top.more_lines),
        foot=(terms.join((phrases.line("safety-first"), phrases.line("corrections-short"))),),
    )


def _waived(sheet: _Sheet) -> tuple[Section, ...]:
    lines = waivers(sheet.method, sheet.phrases)
    return (Section("", "", (Box("", lines),)),) if lines else ()


def _with_drawing(sheet: _Sheet, first: Side, second: Side, room: float) -> tuple[Side, Side]:
    """Show the set-up before the motor starts: over the measuring, or beside the equipment where that is full.

    Over the measuring the printer leaves it out where it would take a page more; `room` is the height of a side.
    """
    m = sheet.method
    if len(m.run) == len(m.report) == 1 and not any(s.preshear for s in m.run):
        drawn = setup_drawing(
            m, sheet.figures, sheet.phrases, width=189.0, height=DRAWING, sides=(27.0, 31.0), check="beside"
        )
        if drawn is not None:
            return first, replace(second, sections=(Section("", "", (drawn,)), *second.sections))
        return first, second
    width, height = BESIDE
    drawn = setup_drawing(
        m, sheet.figures, sheet.phrases, width=width, height=height, sides=(24.2, 30.4), check="below"
    )
    if drawn is None or sum(_height(section) for section in first.sections) + height > room:
        return first, second
    at = 1 + sheet.letters.index("equipment")
    equipment = first.sections[at]
    beside = replace(equipment, blocks=(*equipment.blocks, drawn), beside=True)
    sections = (*first.sections[:at], beside, *first.sections[at + 1 :])
    return replace(first, sections=sections), second


def _height(section: Section) -> float:
    """Estimate what a section takes at most (mm), the equipment apart, which the drawing stands beside."""
    taken = 4.2 if section.title else 0.0
    for block in section.blocks:
        if isinstance(block, Steps):
            taken += 0.0 if any(s.key == "step-spindle" for s in block.steps) else _steps_height(block)
        elif isinstance(block, Hold):
            lines = -(-sum(len(plain(line)) for line in block.lines) // (LETTERS - 20))
            taken += 10.0 + 4.1 * lines + 13.0 * -(-len(block.entries) // block.across)
        elif isinstance(block, Entries):
            taken += 12.0 * -(-len(block.entries) // block.across)
        elif isinstance(block, Box):
            taken += 2.5 + 4.0 * sum(-(-len(plain(line)) // LETTERS) for line in block.lines)
    return taken


def _steps_height(block: Steps) -> float:
    taken, alone = 0.0, True
    for step in block.steps:
        letters = len(plain(step.text)) + len(step.author)
        taken += sum(1.1 + 4.0 * -(-len(plain(c.text)) // (LETTERS - 12)) for c in step.cautions)
        # Two short ones share a row; `render.in_rows` says which.
        paired = not alone and not step.cautions and letters <= 50 and (not step.fields or not block.columns)
        if not paired:
            taken += 8.4 if step.fields else max(5.8, 4.1 * -(-letters // LETTERS) + 1.0)
        alone = paired or letters > 50 or bool(step.fields and block.columns)
    return taken


def _identity(sheet: _Sheet) -> Section:
    keys = ("entry-sample", "entry-lot", "entry-sampled", "entry-analyst")
    return Section("", "", (Entries(4, tuple(Entry(sheet.line(key)) for key in keys)),))


def _start(sheet: _Sheet) -> Section:
    m = sheet.method
    steps = [
        sheet.step(
            "step-revision", Field(), limit=strong(sheet.word("limit-revision", revision=str(m.revision)))
        ),
        sheet.step(
            "step-calibration",
            Field(),
            limit=strong(sheet.word("limit-calibration")),
            remark=sheet.line("remark-calibration", spring=written(m.instrument.spring.full_scale)),
        ),
    ]
    if m.training is not None:
        steps.append(sheet.step("step-training", level=str(m.training.level)))
    vapour = any(h in VAPOUR for h in m.product.hazards)
    steps.append(
        sheet.step(
            "step-protection-extraction" if vapour else "step-protection",
            # What can hurt most stands first; the author's order else.
            cautions=sorted(
                (sheet.phrases.caution(f"hazard-{h}") for h in m.product.hazards),
                key=lambda caution: caution.signal != "WARNING",
            ),
        )
    )
    return sheet.section("start", Steps((), tuple(steps)))


def _equipment(sheet: _Sheet) -> Section:
    m = sheet.method
    steps = [
        sheet.step(
            "step-spindle",
            Field(),
            remark=sheet.line("remark-marking", marking=m.marking) if m.marking else (),
            spindle=m.spindle.key,
            form=plain(terms.form(m.spindle, sheet.phrases)),
        ),
    ]
    if m.container.kind != "pack":
        steps.append(
            sheet.step(
                "step-container",
                Field(),
                limit=sheet.line("limit-inside", diameter=written(m.container.inside_diameter)),
                container=m.container.label,
            )
        )
    steps.append(sheet.step("step-inspect"))
    if m.guard == "required":
        steps.append(sheet.step("step-guard-long" if terms.guard_key(m) == "long" else "step-guard"))
    elif m.guard == "not-used":
        steps.append(sheet.step("step-no-guard", cautions=[sheet.phrases.caution("no-guard")]))
    if m.container.kind == "adapter":
        steps.append(sheet.step("step-cap", cautions=[sheet.phrases.caution("adapter-particles")]))
    if m.equipment:
        steps.append(sheet.step("step-equipment", things=", ".join(on_paper(e) for e in m.equipment)))
    return sheet.section("equipment", Steps((), tuple(steps)))


def _sample(sheet: _Sheet) -> Section:
    m, s = sheet.method, sheet.method.sample
    steps: list[Step] = []
    if m.container.kind == "pack":
        inside = sheet.line("limit-inside", diameter=written(m.container.inside_diameter))
        steps.append(
            sheet.step("step-pack", *sheet.each_loading(), limit=inside, container=m.container.label)
        )
    if s.age is not None:
        steps.append(sheet.step("step-age", *sheet.each_loading(), limit=strong(written(s.age))))
    steps.extend(_warm_parts(sheet))
    cautions = [sheet.phrases.caution("pack-undisturbed")] if m.container.kind == "pack" else []
    conditioning = m.temperature.conditioning
    if conditioning is None or conditioning.where == "none":
        # Where parts were warmed before it, what is warm has been said.
        said = conditioning is not None and conditioning.parts and not _is_hot(m)
        cautions.extend([*_alkali(sheet), *([] if said else _touch(sheet))])
    steps.append(sheet.step("preparation", cautions=cautions, author=fill(s.preparation, m, sheet.figures)))
    if s.bubbles is not None:
        steps.append(sheet.step("bubbles", author=fill(s.bubbles, m, sheet.figures)))
    steps.extend(_filling(sheet))
    steps.extend(_conditioning(sheet))
    if s.open_time is not None:
        steps.append(sheet.step("step-open-time", time=written(s.open_time)))
    return sheet.section("sample", Steps(sheet.loadings, tuple(steps)))


def _column_note(sheet: _Sheet) -> Text:
    replicates = sheet.method.replicates
    if replicates.count == 1:
        return sheet.line("confirm-note") if replicates.confirm_outside else ()
    if replicates.count > MOST_COLUMNS:
        key = "loading-one-more" if replicates.count == MOST_COLUMNS + 1 else "loading-more"
        return sheet.line(key, first=str(MOST_COLUMNS + 1), last=str(replicates.count))
    return ()


def _filling(sheet: _Sheet) -> list[Step]:
    m, figures, s = sheet.method, sheet.figures, sheet.method.sample
    if m.container.kind in ("chamber", "adapter", "plate"):
        cautions = [sheet.phrases.caution("chamber-overfull")]
        if s.mass is not None:
            key = "step-fill-mass" if s.volume is not None else "step-fill-mass-alone"
            return [
                sheet.step(
                    key,
                    *sheet.each_loading(unit=s.mass.value.unit),
                    limit=strong(written(s.mass)),
                    cautions=cautions,
                    mass=written(s.mass.value),
                    volume="" if s.volume is None else written(s.volume.value),
                )
            ]
        if s.volume is not None:
            return [
                sheet.step(
                    "step-fill-volume",
                    *sheet.each_loading(unit=s.volume.value.unit),
                    limit=strong(written(s.volume)),
                    cautions=cautions,
                    volume=written(s.volume.value),
                )
            ]
        return []
    if s.volume is not None:
        level = terms.window(figures, "container.fill_lower", "container.fill_upper")
        return [
            sheet.step(
                "step-fill", *sheet.each_loading(unit="mm"), limit=strong(level), volume=written(s.volume)
            )
        ]
    if "container.level" in figures:
        depth = sheet.line("limit-depth", level=on_paper(figures.text("container.level")))
        return [sheet.step("step-pack-depth", *sheet.each_loading(unit="mm"), limit=strong(plain(depth)))]
    return []


def _warm_parts(sheet: _Sheet) -> list[Step]:
    m, conditioning = sheet.method, sheet.method.temperature.conditioning
    if conditioning is None or not conditioning.parts:
        return []
    key = "step-warm-parts-guard" if m.guard == "required" else "step-warm-parts"
    return [sheet.step(key, cautions=_touch(sheet), target=written(m.temperature.target.value))]


def _conditioning(sheet: _Sheet) -> list[Step]:
    m = sheet.method
    conditioning = m.temperature.conditioning
    if conditioning is None or conditioning.where == "none":
        return []
    target = written(m.temperature.target.value)
    steps: list[Step] = []
    covered = "covered-" if conditioning.covered else ""
    steps.append(
        sheet.step(
            f"step-condition-{covered}{conditioning.where}",
            *sheet.each_loading("time"),
            limit=strong(sheet.word("limit-in-at", target=target)),
            remark=sheet.line("remark-second-container")
            if m.temperature.measured == "second-container"
            else (),
            cautions=[*_alkali(sheet), *_touch(sheet)],
            target=target,
        )
    )
    if conditioning.stirred:
        steps.append(sheet.step("step-stir-meanwhile"))
    if conditioning.time is not None:
        time = written(conditioning.time)
        steps.append(
            sheet.step(
                "step-out", *sheet.each_loading("time"), limit=strong(sheet.word("limit-out", time=time))
            )
        )
    return steps


def _is_hot(m: Method) -> bool:
    """Whether the test is as hot as the site policy counts as hot; the rules ask for the hazard from there on."""
    return m.temperature.target.value.value >= m.reference.policy["hot_from"]


def _alkali(sheet: _Sheet) -> list[Caution]:
    """Warn of warm alkali where it is poured or carried."""
    m, target = sheet.method, sheet.method.temperature.target.value
    if target.value < WARM or "alkali" not in m.product.hazards:
        return []
    return [sheet.phrases.caution("heat-alkali", target=written(target))]


def _touch(sheet: _Sheet) -> list[Caution]:
    """Warn of what is hot, warm or cold to touch."""
    target = sheet.method.temperature.target.value
    key = (
        "heat-burn" if _is_hot(sheet.method)
        else "heat-warm" if target.value >= WARM
        else "cold-parts" if target.value <= FROST
        else ""
    )  # fmt: skip
    return [sheet.phrases.caution(key, target=written(target))] if key else []


def _instrument(sheet: _Sheet) -> Section:
    zero = on_paper(sheet.method.reference.policy.texts["zero_limit"])
    steps = (
        sheet.step("step-level"),
        sheet.step("step-swing"),
        sheet.step(
            "step-zero",
            Field(unit="%"),
            limit=strong(on_paper(sheet.word("limit-zero", limit=zero))),
            cautions=[sheet.phrases.caution("rotating")],
        ),
    )
    return sheet.section("instrument", Steps((), steps))


def _verification(sheet: _Sheet) -> Hold:
    m, figures, check = sheet.method, sheet.figures, sheet.method.verification
    sign = (Entry(sheet.line("entry-verdict"), field=Field("pass-fail")), Entry(sheet.line("entry-sign")))
    time = Entry(sheet.line("entry-time"), field=Field("time"))
    if check is None:
        return Hold(
            1,
            sheet.word("hold-verification-plain"),
            (sheet.line("hold-none"),),
            3,
            (*sign, time),
            sheet.line("hold-failing-plain"),
        )
    step = m.step(check.at)
    setup = terms.check_setup(m, check, sheet.phrases)
    entries = [
        Entry(sheet.line("entry-fluid-lot", fluid=check.fluid.key)),
        Entry(
            sheet.line("entry-fluid-temperature"),
            strong(terms.fluid_temperature(check)),
            Field(unit="°C"),
        ),
        Entry(
            sheet.line("entry-fluid-torque"),
            strong(terms.window(figures, "verification.torque_lower", "verification.torque_upper")),
            Field(unit="%"),
        ),
        Entry(
            sheet.line("entry-fluid-reading"),
            strong(terms.verification_band(check, figures)),
            Field(unit="" if "verification.lower" not in figures else figures["verification.lower"].unit),
        ),
        Entry(sheet.line("entry-fluid-expiry")),
        *sign,
        time,
    ]
    title = (
        sheet.word("hold-verification", frequency=check.frequency)
        if check.frequency
        else sheet.word("hold-verification-plain")
    )
    return Hold(
        1,
        title,
        (
            sheet.line(
                "hold-verification-fluid",
                fluid=check.fluid.key,
                value=written(check.fluid.viscosity),
                temperature=written(check.fluid.temperature),
                speed="" if step is None else written(step.speed),
                setup=setup,
            ),
        ),
        4,
        tuple(entries),
        sheet.line("hold-failing", action=check.on_failure)
        if check.on_failure
        else sheet.line("hold-failing-plain"),
    )


def _mount(sheet: _Sheet) -> Section:
    m = sheet.method
    steps: list[Step] = []
    if m.container.kind == "chamber":
        steps.append(sheet.step("step-chamber"))
    if m.immersion.to == "shaft-mark":
        steps.append(sheet.step("step-dip" if m.spindle.kind == "disc" else "step-dip-plain"))
    steps.append(_couple(sheet))
    if m.guard == "required":
        steps.append(sheet.step("step-fit-guard"))
    steps.extend(_immerse(sheet))
    if m.sample.rest is not None:
        steps.append(sheet.step("step-rest", rest=written(m.sample.rest)))
    steps.append(
        sheet.step(
            f"step-temperature-{m.temperature.measured}",
            *sheet.each_loading(unit="°C"),
            limit=strong(terms.temperature_window(sheet.figures)),
            remark=sheet.line("remark-before"),
        )
    )
    return sheet.section("mount", Steps(sheet.loadings, tuple(steps)))


def _couple(sheet: _Sheet) -> Step:
    m = sheet.method
    name = m.instrument.adapter or m.instrument.coupling.key
    coupling = m.reference.couplings.get(name, m.instrument.coupling)
    key = f"step-couple-{coupling.key}"
    if coupling.key == "threaded" and not coupling.left_hand_thread:
        key = "step-couple-threaded-right"
    if key not in sheet.phrases:
        key = "step-couple"
    cautions = [*_burns(sheet), sheet.phrases.caution(coupling.caution)]
    return sheet.step(key, cautions=cautions, coupling=coupling.key)


def _burns(sheet: _Sheet) -> list[Caution]:
    """Warn of parts that burn, wherever they are touched."""
    return _touch(sheet) if _is_hot(sheet.method) else []


def _immerse(sheet: _Sheet) -> list[Step]:
    m, figures = sheet.method, sheet.figures
    immersion, steps = m.immersion, []
    tolerance = (
        ""
        if immersion.tolerance is None
        else sheet.word("limit-lower-mark", tolerance=written(immersion.tolerance))
    )
    clearance = "" if immersion.bottom_clearance is None else written(immersion.bottom_clearance)
    if immersion.to == "shaft-mark":
        steps.append(
            sheet.step(
                "step-lower-mark",
                *sheet.each_loading(unit="mm"),
                limit=strong(terms.window(figures, "container.level_lower", "container.level_upper")),
                tolerance=tolerance,
            )
        )
        which = "guard" if m.guarded else "spindle"
        steps.append(
            sheet.step(f"step-clearance-{which}", clearance=clearance)
            if clearance
            else sheet.step("step-centre-spindle")
        )
    elif immersion.to == "above-top":
        cover = terms.window(figures, "container.cover_lower", "container.cover_upper")
        asked = "" if immersion.depth is None else f"{written(immersion.depth)} {tolerance}".strip()
        steps.append(sheet.step("step-centre-spindle"))
        steps.append(
            sheet.step(
                "step-cover",
                *sheet.each_loading(unit="mm"),
                limit=strong(asked or cover),
                remark=light(cover if asked and cover else ""),
            )
        )
    elif immersion.to == "depth":
        steps.extend(_bar(sheet, tolerance, clearance))
    else:
        steps.append(sheet.step("step-gap", cautions=[sheet.phrases.caution("cone-gap")]))
    return steps


def _bar(sheet: _Sheet, tolerance: str, clearance: str) -> list[Step]:
    m, immersion = sheet.method, sheet.method.immersion
    depth = "" if immersion.depth is None else written(immersion.depth)
    steps = [
        sheet.step("step-depth", *sheet.each_loading(unit="mm"), limit=strong(f"{depth} {tolerance}".strip()))
    ]
    if m.instrument.rise_rate is not None and immersion.direction is not None:
        end = (
            on_paper(sheet.figures.text("helical.end_depth")) if "helical.end_depth" in sheet.figures else ""
        )
        cautions = (
            [sheet.phrases.caution("bar-bottom", end=end, clearance=clearance)] if end and clearance else []
        )
        steps.append(
            sheet.step(
                f"step-travel-{immersion.direction}", rate=written(m.instrument.rise_rate), cautions=cautions
            )
        )
    return steps


def _stops(sheet: _Sheet) -> Box:
    m = sheet.method
    keys = ["stop-zero", "stop-temperature"]
    if m.instrument.readout == "digital":
        keys.append("stop-factor")
    keys += ["stop-time", "stop-swing"]
    by_kind = {
        "beaker": ["stop-touch-guard" if m.guarded else "stop-touch", "stop-bubbles"],
        "pack": ["stop-touch"],
        "chamber": ["stop-level", "stop-bubbles"],
        "adapter": ["stop-leak", "stop-bubbles"],
        "plate": ["stop-gap"],
    }
    keys += by_kind[m.container.kind]
    if m.spindle.kind == "bar":
        keys.append("stop-cut")
    if m.product.behaviour in ("yield-stress", "thixotropic") and m.spindle.plain:
        keys.append("stop-climb")
    if m.product.volatile:
        keys.append("stop-skin")
    if m.product.largest_particle is not None and m.container.kind in ("chamber", "adapter", "plate"):
        keys.append("stop-particles")
    points = [sheet.line(key) for key in keys]
    if m.spindle.kind == "bar" and m.immersion.bottom_clearance is not None:
        points.append(sheet.line("stop-bottom", clearance=written(m.immersion.bottom_clearance)))
    if m.sample.open_time is not None:
        points.append(sheet.line("stop-open", time=written(m.sample.open_time)))
    if m.product.pot_life is not None:
        points.append(sheet.line("stop-pot-life", time=written(m.product.pot_life)))
    return Box(sheet.word("stop-title"), points=tuple(points))


def _measure(sheet: _Sheet) -> tuple[Section, ...]:
    m = sheet.method
    steps: list[Step] = []
    out_of_range = chr(ord("A") + len(sheet.letters) + 1)
    for index, step in enumerate(m.run):
        steps.extend(_reading(sheet, step, first=index == 0))
    floor, ceiling = terms.floor_and_ceiling(m)
    steps.append(sheet.step("step-range", floor=floor, ceiling=ceiling, letter=out_of_range))
    if not m.run[-1].read.lock:
        steps.append(sheet.step("step-motor-off-travel" if _travels(m) else "step-motor-off"))
    if m.temperature.recheck:
        steps.append(
            sheet.step(
                f"step-temperature-{m.temperature.measured}",
                *sheet.each_replicate(unit="°C"),
                limit=strong(terms.temperature_window(sheet.figures)),
                remark=sheet.line("remark-after"),
            )
        )
    measure = sheet.section(
        "measure", _stops(sheet), Steps(sheet.columns, tuple(steps)), note=_column_note(sheet)
    )
    lines = [sheet.line("out-of-range-lines")]
    for step in m.run:
        below, above = terms.bounds(m, sheet.figures, step, sheet.phrases)
        lines.append(
            sheet.line(
                "out-of-range-both", result=step.name, floor=floor, ceiling=ceiling, below=below, above=above
            )
        )
    out = sheet.section("out-of-range", Box("", lines=tuple(lines)))
    return measure, out


def _travels(m: Method) -> bool:
    return m.instrument.stand == "helical" and m.instrument.rise_rate is not None


def _reading(sheet: _Sheet, step: RunStep, *, first: bool) -> list[Step]:
    m, figures = sheet.method, sheet.figures
    steps: list[Step] = []
    rotating = [sheet.phrases.caution("rotating")] if first else []
    if step.preshear is not None:
        shear = step.preshear
        rest = sheet.word("preshear-rest", rest=written(shear.rest)) if shear.rest is not None else ""
        steps.append(
            sheet.step(
                "step-preshear",
                cautions=rotating,
                speed=written(shear.speed),
                time=written(shear.time),
                rest=rest,
            )
        )
        rotating = []
    start = "step-start-travel" if first and _travels(m) else "step-start" if first else "step-start-next"
    steps.append(
        sheet.step(
            start,
            *sheet.each_replicate("clock"),
            limit=strong(written(step.speed)),
            cautions=rotating,
            speed=written(step.speed),
        )
    )
    if step.read.lock:
        steps.extend(_locked(sheet, step))
    else:
        steps.append(_unlocked(sheet, step))
    unit = terms.unit_of(figures, step)
    agree: Text = ()
    if m.instrument.readout == "digital":
        steps.append(sheet.step("step-display", *sheet.each_replicate(unit=unit)))
        agree = strong(sheet.word("limit-agree", step=on_paper(figures.text(f"run.{step.name}.resolution"))))
    multiply = sheet.each_replicate(unit=unit)
    return [*steps, sheet.step("step-multiply", *multiply, limit=agree, factor=terms.factor(figures, step))]


def _torque(sheet: _Sheet, step: RunStep, key: str, **values: str) -> Step:
    nominal, worst = terms.torque_window(sheet.figures, step)
    remark = sheet.line("remark-worst", window=worst) if worst else sheet.line("remark-no-window")
    return sheet.step(
        key,
        *sheet.each_replicate(unit="%"),
        limit=strong(nominal),
        remark=remark,
        cautions=(),
        author="",
        **values,
    )


def _unlocked(sheet: _Sheet, step: RunStep) -> Step:
    at, turns, end = terms.clock(sheet.figures, step)
    read = step.read
    if not at:
        most = sheet.word("steady-most", most=written(read.steady_at_most)) if read.steady_at_most else ""
        change, over = written(read.steady_change), written(read.steady_over)
        return _torque(sheet, step, "step-read-steady", change=change, over=over, most=most)
    if read.average is not None:
        return _torque(sheet, step, "step-read-average", at=at, end=end)
    return _torque(sheet, step, "step-read-at", at=at, turns=turns)


def _locked(sheet: _Sheet, step: RunStep) -> list[Step]:
    at, turns, _ = terms.clock(sheet.figures, step)
    return [
        sheet.step(
            "step-lock" if at else "step-lock-steady",
            cautions=[sheet.phrases.caution("dial-lock")],
            at=at,
            turns=turns,
        ),
        sheet.step("step-stop-pointer"),
        _torque(sheet, step, "step-read-pointer", smallest=on_paper(sheet.figures.text("resolution"))),
        sheet.step("step-release"),
    ]


def _result(sheet: _Sheet) -> Section:
    m, figures = sheet.method, sheet.figures
    blocks: list[Block] = []
    ratios = tuple(
        sheet.step(
            "step-ratio",
            *sheet.each_replicate(),
            limit=strong(sheet.word("limit-ratio", result=r.result)),
            first=r.ratio[0],
            second=r.ratio[1],
        )
        for r in m.report
        if r.ratio is not None
    )
    if ratios:
        blocks.append(Steps(sheet.columns, ratios))
    rows: list[tuple[Text | Field, ...]] = []
    ranges = [terms.range_allowed(m, r) for r in m.report]
    if any(ranges):
        percent = m.replicates.agree_within is not None and m.replicates.agree_within.kind == "percent"
        rows.append(
            _row(
                sheet,
                "step-agree-percent" if percent else "step-agree",
                [
                    (sheet.word("limit-at-most", limit=allowed) if allowed else "", Field())
                    for allowed in ranges
                ],
            )
        )
    rows.append(_row(sheet, f"step-{_statistic(m)}", [("", Field()) for _ in m.report]))
    rows.append(_row(sheet, "step-report", [(written(r.increment), Field()) for r in m.report]))
    rows.append(
        _row(
            sheet,
            "step-verdict",
            [(terms.limits(m.limit(r.result), sheet.phrases), Field("in-out")) for r in m.report],
        )
    )
    headings = tuple(cell for r in m.report for cell in (r.result, _unit(r)))
    notes = terms.repeats(m, sheet.phrases, "result-confirm")
    points = (*terms.rounding(m, sheet.phrases), *terms.examples(m, figures, sheet.phrases))
    blocks.append(Table("results", ("", "", *headings), tuple(rows), notes, points))
    return sheet.section("result", *blocks)


def _row(sheet: _Sheet, key: str, cells: list[tuple[str, Field]]) -> tuple[Text | Field, ...]:
    sheet.count += 1
    pairs = tuple(cell for limit, place in cells for cell in (strong(limit), place))
    return (light(str(sheet.count)), sheet.line(key), *pairs)


def _statistic(m: Method) -> str:
    if m.replicates.count == 1:
        return "single"
    return next((r.statistic for r in m.report if r.statistic is not None), "mean")


def _unit(line: ReportLine) -> str:
    return line.unit or (line.increment.unit if line.increment is not None else "")


def _second_hold(sheet: _Sheet) -> Hold:
    second = sheet.method.purpose == "release"
    return Hold(
        2,
        sheet.word("hold-result"),
        (sheet.line("hold-result-second" if second else "hold-result-own"),),
        2,
        (
            Entry(sheet.line("entry-second-sign" if second else "entry-own-sign")),
            Entry(sheet.line("entry-time"), field=Field("time")),
        ),
    )


def _clean(sheet: _Sheet) -> Section:
    m, cleaning = sheet.method, sheet.method.cleaning
    name = m.instrument.adapter or m.instrument.coupling.key
    left = m.reference.couplings.get(name, m.instrument.coupling).left_hand_thread
    steps = [
        sheet.step(
            "step-spindle-off-left" if left else "step-spindle-off",
            cautions=[*_burns(sheet), sheet.phrases.caution("clean-spindle-first")],
        )
    ]
    also = "wash-guard" if m.guard == "required" else "wash-chamber" if m.container.kind == "chamber" else ""
    guard = sheet.word(also) if also else ""
    if cleaning is not None and cleaning.agent is not None:
        steps.append(
            sheet.step(
                "step-wash",
                guard=guard,
                agent=on_paper(cleaning.agent),
                cautions=_agent(sheet, cleaning.agent),
            )
        )
    else:
        steps.append(sheet.step("step-wash-plain", guard=guard))
    steps += [sheet.step("step-dry"), sheet.step("step-put-back")]
    route = cleaning.disposal if cleaning is not None else None
    steps.append(sheet.step("step-waste", route=route) if route else sheet.step("step-waste-plain"))
    return sheet.section("clean", Steps((), tuple(steps)))


def _agent(sheet: _Sheet, agent: str) -> list[Caution]:
    hazards = sheet.method.cleaning.agent_hazards if sheet.method.cleaning is not None else ()
    cautions = [sheet.phrases.caution(f"agent-{h}", agent=agent) for h in hazards if h in VAPOUR]
    others = ", ".join(h for h in hazards if h not in VAPOUR)
    if others:
        cautions.append(sheet.phrases.caution("agent-other", agent=agent, hazards=others))
    return cautions


def _remarks(sheet: _Sheet) -> Box:
    return Box(sheet.word("section-remarks"), room=True)
