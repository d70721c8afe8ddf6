"""The data sheet: what was used, what was read, what it came to, and who stands for it.

Side 1 identifies sample and devices and has every number worked out beforehand, each with its formula; side 2
takes the readings, spare rows included, the result and the signatures.
"""

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
    Table,
    Text,
    plain,
    terms,
)
from fillmark.documents.head import head, waivers
from fillmark.documents.pictures import torque_picture
from fillmark.documents.wording import Phrases, light, narrow, on_paper, strong, written
from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.model import Step as RunStep

MOST_ROWS = 9
"""Rows of readings that fit on side 2, spare rows included."""

FEWEST_ROWS = 4

Row = tuple[Cell, ...]


def plan_data_sheet(
    method: Method, figures: Figures, digest: str, *, print_date: date | None = None
) -> Document:
    """Plan the data sheet of a method; the arguments are those of `plan_checklist`."""
    phrases = Phrases(method.reference.phrases)
    first = Side(
        1,
        (
            _identity(method, phrases),
            _devices(method, phrases),
            *_verification(method, figures, phrases),
            _helps(method, figures, phrases),
            *_waived(method, phrases),
        ),
    )
    second = Side(
        2,
        (
            _readings(method, figures, phrases),
            _results(method, figures, phrases),
            _signatures(method, phrases),
            _corrections(phrases),
        ),
    )
    return Document(
        kind="data-sheet",
        language="en",
        head=head(method, phrases, digest, paper="paper-data-sheet", print_date=print_date),
        sides=(first, second),
        foot=(phrases.line("safety-first"),),
    )


def _identity(m: Method, phrases: Phrases) -> Section:
    level = "" if m.training is None else str(m.training.level)
    analyst = (
        phrases.line("entry-analyst-level", level=level) if level else phrases.line("entry-analyst-name")
    )
    age = "" if m.sample.age is None else written(m.sample.age)
    tested = phrases.line("entry-tested-age", age=age) if age else phrases.line("entry-tested")
    entries = (
        Entry(phrases.line("entry-sample")),
        Entry(phrases.line("entry-lot")),
        Entry(phrases.line("entry-container-no")),
        Entry(analyst),
        Entry(phrases.line("entry-sampled")),
        Entry(phrases.line("entry-prepared")),
        Entry(tested),
        Entry(phrases.line("entry-room"), field=Field(unit="°C")),
    )
    return Section("A", phrases.word("section-identity"), (Entries(4, entries),))


def _devices(m: Method, phrases: Phrases) -> Section:
    asked: list[tuple[str, str]] = [
        (
            "device-instrument",
            phrases.word(
                "device-instrument-asked",
                spring=m.instrument.spring.key,
                torque=written(m.instrument.spring.full_scale),
                readout=m.instrument.readout,
                coupling=m.instrument.coupling.key,
            ),
        ),
        ("device-spindle", f"{m.spindle.key}, {plain(terms.form(m.spindle, phrases))}"),
    ]
    if m.instrument.adapter is not None:
        asked.append(("device-adapter", m.instrument.adapter))
    if m.guard != "not-applicable":
        asked.append(("device-guard", phrases.word(f"device-guard-{m.guard}")))
    asked.append(("device-container", f"{m.container.label}, Ø\u00a0{written(m.container.inside_diameter)}"))
    asked.append(("device-thermometer", _thermometer(m, phrases)))
    conditioning = m.temperature.conditioning
    if conditioning is not None and conditioning.where in ("water-bath", "oil-bath", "jacket", "air-cabinet"):
        asked.append(
            ("device-bath", f"{conditioning.where.replace('-', ' ')}, {written(m.temperature.target)}")
        )
    if m.sample.mass is not None:
        asked.append(("device-balance", written(m.sample.mass)))
    asked.append(("device-timer", phrases.word("device-timer-asked")))
    rows: tuple[Row, ...] = tuple(
        (phrases.line(key), light(on_paper(text)), Field(), Field()) for key, text in asked
    )
    return Section(
        "B", phrases.word("section-devices"), (Table("devices", phrases.words("table-devices"), rows),)
    )


def _thermometer(m: Method, phrases: Phrases) -> str:
    resolution, uncertainty = m.temperature.thermometer_resolution, m.temperature.thermometer_uncertainty
    if resolution is None or uncertainty is None:
        return phrases.word("device-thermometer-plain")
    return phrases.word(
        "device-thermometer-asked", resolution=written(resolution), uncertainty=written(uncertainty)
    )


def _verification(m: Method, figures: Figures, phrases: Phrases) -> tuple[Section, ...]:
    check = m.verification
    if check is None:
        return ()
    torque = terms.window(figures, "verification.torque_lower", "verification.torque_upper")
    limits: Row = (
        strong(check.fluid.key),
        strong(f"{written(check.fluid.viscosity)} ±\u00a0{written(check.fluid.uncertainty)}"),
        (),
        strong(terms.fluid_temperature(check)),
        strong(torque),
        strong(terms.verification_band(check, figures)),
        (),
    )
    unit = figures["verification.lower"].unit
    places: Row = (
        Field(),
        Field(),
        Field(),
        Field(unit="°C"),
        Field(unit="%"),
        Field(unit=unit),
        Field("pass-fail"),
    )
    table = Table("verification", phrases.words("table-verification"), (limits, places))
    return (Section("C", phrases.word("section-verification"), (table,)),)


def _helps(m: Method, figures: Figures, phrases: Phrases) -> Section:
    by_step = Table(
        "helps",
        (
            phrases.words("table-helps")[0],
            *_columns(m),
            phrases.words("table-helps")[2],
        ),
        tuple(_step_rows(m, figures, phrases)),
    )
    general = Table("helps", phrases.words("table-helps"), tuple(_general_rows(m, figures, phrases)))
    letter = "D" if m.verification is not None else "C"
    torque = torque_picture(m, figures, phrases)
    blocks = (by_step, general) if torque is None else (torque, by_step, general)
    return Section(letter, phrases.word("section-helps"), blocks)


def _columns(m: Method) -> tuple[str, ...]:
    """Head the columns of a run: by the speed where that tells the steps apart, and by the name."""
    if 1 < len(m.run) == len({s.speed.value for s in m.run}):
        return tuple(written(s.speed) for s in m.run)
    return tuple(f"{s.name}, {written(s.speed)}" for s in m.run)


def _step_rows(m: Method, figures: Figures, phrases: Phrases) -> list[Row]:
    rows: list[Row] = []

    def row(title: str, texts: list[str], formula: str = "") -> None:
        if any(texts):
            rows.append((light(on_paper(title)), *(strong(t) for t in texts), light(formula)))

    def figure(name: str) -> None:
        keys = [f"run.{s.name}.{name}" for s in m.run]
        known = [figures[k] for k in keys if k in figures]
        if known:
            row(
                known[0].title,
                [on_paper(figures[k].text) if k in figures else "" for k in keys],
                known[0].formula,
            )

    figure("factor")
    figure("full_scale")
    figure("tolerance")
    figure("read_at")
    figure("revolutions")
    figure("customary_wait")
    figure("wind_up")
    bounds = [terms.bounds(m, figures, s, phrases) for s in m.run]
    floor, ceiling = terms.floor_and_ceiling(m)
    row(
        phrases.word("help-below", floor=floor),
        [b[0] for b in bounds],
        _formula(figures, m.run, "below_bound"),
    )
    row(
        phrases.word("help-above", ceiling=ceiling),
        [b[1] for b in bounds],
        _formula(figures, m.run, "above_bound"),
    )
    return rows


def _formula(figures: Figures, run: tuple[RunStep, ...], name: str) -> str:
    return next((figures[k].formula for k in (f"run.{s.name}.{name}" for s in run) if k in figures), "")


def _general_rows(m: Method, figures: Figures, phrases: Phrases) -> list[Row]:
    rows: list[Row] = []

    def row(title: str, text: str, formula: str = "") -> None:
        if text:
            rows.append((light(title), strong(text), light(formula)))

    def figure(key: str) -> None:
        if key in figures:
            row(figures[key].title, on_paper(figures[key].text), figures[key].formula)

    def pair(title: str, lower: str, upper: str) -> None:
        row(title, terms.window(figures, lower, upper), _of_both(figures, lower, upper))

    figure("coefficient")
    figure("accuracy")
    pair(phrases.word("help-temperature"), "temperature.lower", "temperature.upper")
    pair(phrases.word("help-fill"), "container.fill_lower", "container.fill_upper")
    pair(phrases.word("help-level"), "container.level_lower", "container.level_upper")
    pair(phrases.word("help-cover"), "container.cover_lower", "container.cover_upper")
    pair(phrases.word("help-mass"), "sample.mass_lower", "sample.mass_upper")
    figure("helical.end_depth")
    conditioning = m.temperature.conditioning
    if conditioning is not None and conditioning.time is not None:
        row(phrases.word("help-out"), phrases.word("limit-out", time=written(conditioning.time)))
    figure("conditioning.needed")
    figure("replicates.agree")
    figure("replicates.critical_range")
    for step in m.run:
        limit = m.limit(step.name)
        if limit is not None and limit.decision_rule == "guarded":
            pair(
                phrases.word("help-guarded", result=step.name),
                f"run.{step.name}.guarded_lower",
                f"run.{step.name}.guarded_upper",
            )
    return rows


def _of_both(figures: Figures, lower: str, upper: str) -> str:
    """Write the formula of both ends of a window: one with ± where they differ in a sign alone, else that of each."""
    ends = [figures[key].formula for key in (lower, upper) if key in figures]
    if len({end.replace("- Δ", "± Δ").replace("+ Δ", "± Δ") for end in ends}) == 1 < len(set(ends)):
        return ends[0].replace("- Δ", "± Δ")
    return ", ".join(dict.fromkeys(ends))


def _readings(m: Method, figures: Figures, phrases: Phrases) -> Section:
    digital = m.instrument.readout == "digital"
    columns = ["loading", "order", "start", "before", "torque"]
    columns += ["display"] if digital else []
    columns += ["product", "after"] if m.temperature.recheck else ["product"]
    columns.append("remarks")
    headings = tuple(phrases.word(f"readings-{c}") for c in columns)
    rows: list[Row] = [_limit_row(figures, phrases, step, columns) for step in m.run]
    count = m.replicates.count
    per_set = len(m.run)
    again = count if m.replicates.otherwise else 1
    sets = max(1, min(max(count + again, FEWEST_ROWS // per_set), MOST_ROWS // per_set))
    for number in range(sets):
        label = str(number + 1) if number < count else phrases.word("readings-spare")
        for index, step in enumerate(m.run):
            rows.append(
                _blank_row(figures, step, columns, label if index == 0 else "", first=index == 0, of=per_set)
            )
    notes: list[Text] = [phrases.line("readings-note" if per_set == 1 else "readings-note-order")]
    if count > sets:
        notes.append(phrases.line("readings-more", count=str(count), here=str(sets)))
    blocks: list[Table | Entries] = [Table("readings", headings, tuple(rows), tuple(notes))]
    for line in m.report:
        if line.ratio is not None:
            names = [str(n + 1) if n < count else phrases.word("readings-spare") for n in range(sets)]
            entries = tuple(
                Entry(phrases.line("readings-ratio-of", result=line.result, number=name)) for name in names
            )
            blocks.append(Entries(min(len(entries), 4), entries))
    return Section("E", phrases.word("section-readings"), tuple(blocks))


def _limit_row(figures: Figures, phrases: Phrases, step: RunStep, columns: list[str]) -> Row:
    temperature = terms.temperature_window(figures)
    at, _, end = terms.clock(figures, step)
    read = f"+{at}" if at else phrases.word("qualifier-steady")
    agree = phrases.word("limit-agree", step=on_paper(figures.text(f"run.{step.name}.resolution")))
    texts = {
        "loading": phrases.word("column-limit"),
        "order": written(step.speed),
        "start": f"+{at} – {end}" if at and step.read.average is not None else read,
        "before": temperature,
        "torque": terms.torque_window(figures, step)[0],
        "product": phrases.word("readings-times", factor=terms.factor(figures, step)),
        "display": agree.replace(phrases.word("readings-display"), "").strip(),
        "after": temperature,
    }
    return tuple(light(texts[c]) if c == "loading" else strong(narrow(texts.get(c, ""))) for c in columns)


def _blank_row(
    figures: Figures, step: RunStep, columns: list[str], label: str, *, first: bool, of: int
) -> Row:
    unit = terms.unit_of(figures, step)
    units = {"before": "°C", "after": "°C", "torque": "%", "display": unit, "product": unit}
    arrow = "" if of == 1 else "↓\u00a0" if not first else ""
    cells: list[Cell] = []
    for column in columns:
        if column == "loading":
            cells.append(light(label))
        elif column == "order":
            cells.append(light(f"{arrow}{written(step.speed)}"))
        elif column == "start":
            cells.append(Field("clock"))
        else:
            cells.append(Field(unit=units.get(column, "")))
    return tuple(cells)


def _results(m: Method, figures: Figures, phrases: Phrases) -> Section:
    rows: list[Row] = []
    for line in m.report:
        allowed = terms.range_allowed(m, line)
        rows.append(
            (
                strong(line.result),
                Field(unit=""),
                strong(narrow(phrases.word("limit-at-most", limit=allowed)) if allowed else ""),
                Field(),
                Field(),
                strong(narrow(written(line.increment))),
                strong(narrow(terms.limits(m.limit(line.result), phrases))),
                Field("in-out"),
            )
        )
    statistic = (
        "single" if m.replicates.count == 1 else next((r.statistic for r in m.report if r.statistic), "mean")
    )
    headings = tuple(
        phrases.word(f"step-{statistic}") if h == "unrounded" else h for h in phrases.words("table-results")
    )
    notes = terms.repeats(m, phrases, "result-confirm-row")
    points = (*terms.rounding(m, phrases), *terms.examples(m, figures, phrases))
    quoted = Box(phrases.word("qualifiers-title"), (light(qualifiers(m, figures, phrases)),))
    return Section(
        "F",
        phrases.word("section-result"),
        (Table("outcome", headings, tuple(rows), notes, points), quoted),
    )


def qualifiers(m: Method, figures: Figures, phrases: Phrases) -> str:
    """Write the line without which a result means nothing: what was measured, with what, and how."""
    readings = []
    for step in m.run:
        at, _, end = terms.clock(figures, step)
        if not at:
            when = phrases.word("qualifier-steady")
        elif step.read.average is not None:
            when = phrases.word("qualifier-average", at=at, end=end)
        else:
            when = phrases.word("qualifier-at", at=at)
        readings.append(f"{written(step.speed)} {when}")
    return phrases.word(
        "qualifiers",
        type=phrases.word(f"type-{m.result_type}"),
        speeds=", ".join(readings),
        spindle=m.spindle.key,
        form=plain(terms.form(m.spindle, phrases)),
        torque=written(m.instrument.spring.full_scale),
        guard=phrases.word(f"qualifier-guard-{m.guard}"),
        container=f"{m.container.label}, Ø\u00a0{written(m.container.inside_diameter)}",
        temperature=written(m.temperature.target),
        id=m.id,
        revision=str(m.revision),
        count=str(m.replicates.count),
    )


def _signatures(m: Method, phrases: Phrases) -> Section:
    accepted = "signature-accepted" if m.purpose in ("release", "stability") else "signature-accepted-plain"
    rows: tuple[Row, ...] = tuple(
        (phrases.line(key), Field(), Field(), Field())
        for key in ("signature-performed", "signature-checked", accepted)
    )
    blocks = (
        Table("signatures", phrases.words("table-signatures"), rows),
        Entries(2, (Entry(phrases.line("entry-attachments")), Entry(phrases.line("entry-remarks")))),
    )
    kept = phrases.line("retention", time=m.retention) if m.retention else ()
    return Section("G", phrases.word("section-signatures"), blocks, note=kept)


def _waived(m: Method, phrases: Phrases) -> tuple[Section, ...]:
    lines = waivers(m, phrases)
    return (Section("", "", (Box("", lines),)),) if lines else ()


def _corrections(phrases: Phrases) -> Section:
    return Section("", "", (Box("", (phrases.line("corrections"), phrases.line("late-entries"))),))
