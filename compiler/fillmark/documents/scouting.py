"""The scouting sheet: what to measure of a product before a method is written, and what each block tells.

It needs a spring and a spindle, and no method. What a draft already says is printed; what it does not say is
left open to write in.
"""

from dataclasses import dataclass
from datetime import date

from fillmark.documents import (
    Box,
    Caution,
    Cell,
    Document,
    Entries,
    Entry,
    Field,
    Head,
    Section,
    Side,
    Step,
    Steps,
    Table,
    Text,
    terms,
)
from fillmark.documents.head import valid_for
from fillmark.documents.wording import Phrases, light, on_paper, strong, written
from fillmark.figures import Figures
from fillmark.model import Coupling, Reference, Spindle, Spring
from fillmark.quantities import brief

YIELDS = {"slope": "", "hysteresis": "", "steady": "s", "sensitivity": "%/K", "repeatability": "%"}
"""What the blocks yield, and its unit."""


@dataclass(frozen=True, slots=True)
class Scouting:
    """What is known of a product and a set-up before a method is; texts are empty where nothing is said."""

    product: str
    spring: Spring
    spindle: Spindle
    speeds: tuple[float, ...]
    """rpm, rising."""
    hold: float
    """Speed that is held (rpm)."""
    times: tuple[float, ...]
    """Moments of reading while it is held (s)."""
    hazards: tuple[str, ...] = ()
    readout: str = ""
    coupling: Coupling | None = None
    container: str = ""
    guard: str = ""
    """required, not-used, not-applicable"""
    instrument: str = ""
    id: str = ""
    title: str = ""
    revision: str = ""
    effective: str = ""
    digest: str = ""
    draft: bool = False
    demonstration: bool = False
    left_out: tuple[str, ...] = ()
    """What of a draft could not be used."""


def plan_scouting(
    known: Scouting, figures: Figures, reference: Reference, *, print_date: date | None = None
) -> Document:
    """Plan the sheet; `figures` are those of the scouting, `print_date` as for `plan_checklist`."""
    phrases = Phrases(reference.phrases)
    return Document(
        kind="scouting",
        language="en",
        head=_head(known, reference, phrases, print_date),
        sides=(
            Side(
                1,
                (
                    _set_up(known, figures, phrases, reference),
                    _before(known, phrases, reference),
                    _ramp(known, figures, phrases, reference),
                ),
            ),
            Side(
                2,
                (
                    _hold(known, figures, phrases, reference),
                    _temperature(known, figures, phrases),
                    _samples(known, figures, phrases),
                    _outcome(figures, phrases, reference),
                    _end(known, phrases),
                    Section("", "", (Box("", (phrases.line("corrections"),)),)),
                ),
            ),
        ),
        foot=(phrases.line("safety-first"),),
    )


def _head(known: Scouting, reference: Reference, phrases: Phrases, print_date: date | None) -> Head:
    none = phrases.word("no-method-yet")
    digest = known.digest
    return Head(
        id=known.id or none,
        title=known.title or phrases.word("scouting-title"),
        product=known.product or phrases.word("scouting-product"),
        paper=phrases.word("paper-scouting"),
        revision=known.revision,
        effective=known.effective,
        digest=f"{digest[:4]} {digest[4:8]}" if digest else "",
        printed="" if print_date is None else print_date.isoformat(),
        valid=valid_for(reference),
        mark=f"{known.id} rev {known.revision} sha256 {digest}" if digest else f"scouting, {none}",
        draft=phrases.word("draft") if known.draft else "",
        demonstration=phrases.word("demonstration") if known.demonstration else "",
        instead=() if digest else (none,),
    )


def _set_up(known: Scouting, figures: Figures, phrases: Phrases, reference: Reference) -> Section:
    keys = (
        "entry-sample", "entry-lot", "entry-sampled", "entry-analyst",
        "entry-instrument-sn", "entry-spindle-sn", "entry-container-no", "entry-thermometer-no",
    )  # fmt: skip
    entries = tuple(Entry(phrases.line(key)) for key in keys)
    texts = reference.policy.texts
    form = "".join(span.text for span in terms.form(known.spindle, phrases))
    coupling = known.coupling.key if known.coupling is not None else ""
    setup = (
        known.instrument,
        f"spring {known.spring.key} ({written(known.spring.full_scale)})",
        known.readout,
        coupling,
    )
    piece = (
        f"{known.spindle.key}, {form}",
        f"C {on_paper(figures.text('at.coefficient'))}",
        phrases.word(f"qualifier-guard-{known.guard}") if known.guard else "",
        known.container,
    )
    window = phrases.word(
        "scouting-torque-asked",
        floor=on_paper(texts["torque_floor"]),
        ceiling=on_paper(texts["torque_ceiling"]),
        preferred=on_paper(texts["torque_preferred"]),
    )
    rows = (
        ("scouting-instrument", ", ".join(part for part in setup if part)),
        ("scouting-spindle", ", ".join(part for part in piece if part)),
        ("scouting-torque", window),
    )
    table = Table("asked", (), tuple((phrases.line(key), strong(text)) for key, text in rows))
    blocks: list[Entries | Table | Box] = [Entries(4, entries), table]
    if known.left_out:
        blocks.append(Box(phrases.word("scouting-left-out"), points=tuple(light(t) for t in known.left_out)))
    return Section("A", phrases.word("section-scouting"), tuple(blocks))


def _before(known: Scouting, phrases: Phrases, reference: Reference) -> Section:
    zero = on_paper(reference.policy.texts["zero_limit"])
    hazards = tuple(phrases.caution(f"hazard-{h}") for h in known.hazards) or (
        phrases.caution("hazards-not-known"),
    )
    mounting: tuple[Caution, ...] = ()
    if known.coupling is not None:
        mounting = (phrases.caution(known.coupling.caution),)
    steps = (
        Step(1, phrases.line("step-protection"), cautions=hazards, key="step-protection"),
        Step(
            2,
            phrases.line("step-zero"),
            strong(on_paper(phrases.word("limit-zero", limit=zero))),
            (),
            (Field(unit="%"),),
            (phrases.caution("rotating"),),
            key="step-zero",
        ),
        Step(3, phrases.line("step-scouting-mount"), cautions=mounting, key="step-scouting-mount"),
    )
    return Section("B", phrases.word("section-start"), (Steps((), steps),))


def _stops(phrases: Phrases, reference: Reference) -> Box:
    ceiling = on_paper(reference.policy.texts["torque_ceiling"])
    keys = ("stop-touch", "stop-swing", "stop-bubbles", "stop-climb")
    points = (phrases.line("stop-scouting-over", ceiling=ceiling), *(phrases.line(key) for key in keys))
    return Box(phrases.word("stop-title"), points=points)


def _turns(reference: Reference) -> str:
    return brief(reference.policy["revolutions"], 2)


def _at(figures: Figures, rpm: float, name: str) -> str:
    return on_paper(figures.text(f"at.{rpm:g}.{name}"))


def _factor(figures: Figures, rpm: float) -> str:
    return _at(figures, rpm, "factor").removesuffix(" per\u00a0%").removesuffix(" per %")


def _unit(figures: Figures, rpm: float) -> str:
    return figures[f"at.{rpm:g}.full_scale"].unit


def _ramp(known: Scouting, figures: Figures, phrases: Phrases, reference: Reference) -> Section:
    order = (*(("↑", s) for s in known.speeds), *(("↓", s) for s in reversed(known.speeds)))
    rows: list[tuple[Cell, ...]] = []
    for number, (arrow, rpm) in enumerate(order, start=1):
        low, high = figures.text(f"at.{rpm:g}.lowest"), figures.text(f"at.{rpm:g}.highest")
        rows.append(
            (
                light(str(number)),
                strong(f"{arrow}\u00a0{brief(rpm, 4)}"),
                strong(_factor(figures, rpm)),
                light(on_paper(f"{low.partition(' ')[0]}–{high}")),
                strong(_at(figures, rpm, "wait")),
                Field(unit="%"),
                Field(unit=_unit(figures, rpm)),
                Field(unit="°C"),
            )
        )
    notes = (phrases.line("ramp-how", revolutions=_turns(reference)), phrases.line("ramp-yields"))
    table = Table("ramp", phrases.words("table-ramp"), tuple(rows), notes)
    return Section("C", phrases.word("section-ramp"), (_stops(phrases, reference), table))


def _hold(known: Scouting, figures: Figures, phrases: Phrases, reference: Reference) -> Section:
    rpm, unit = known.hold, _unit(figures, known.hold)
    wait = figures[f"at.{rpm:g}.wait"].value
    drift = on_paper(reference.policy.texts["study_drift"])
    first: tuple[Text, ...] = tuple(
        light(phrases.word("hold-winding") if time < wait else "") for time in known.times
    )
    multipliers: tuple[Cell, ...] = tuple(
        light(phrases.word("drift-times", factor=figures.text(f"drift.{time:g}")))
        if f"drift.{time:g}" in figures
        else ()
        for time in known.times
    )
    rows: tuple[tuple[Cell, ...], ...] = (
        (light(""), *first),
        (phrases.line("scouting-row-torque"), *(Field(unit="%") for _ in known.times)),
        (
            phrases.line("scouting-row-product", factor=_factor(figures, rpm)),
            *(Field(unit=unit) for _ in known.times),
        ),
        (phrases.line("scouting-row-next"), *multipliers),
        (phrases.line("scouting-row-drift"), *(Field(unit="%/min") for _ in known.times[:-1]), ()),
        (
            phrases.line("scouting-row-temperature"),
            Field(unit="°C"),
            *(() for _ in known.times[2:]),
            Field(unit="°C"),
        ),
    )
    headings = ("", *(f"{time:g} s" for time in known.times))
    table = Table(
        "held", headings, rows, (phrases.line("hold-yields", drift=drift, revolutions=_turns(reference)),)
    )
    note = phrases.line(
        "scouting-at",
        speed=f"{brief(rpm, 4)} rpm",
        wait=_at(figures, rpm, "wait"),
        revolutions=_turns(reference),
    )
    return Section("D", phrases.word("section-held"), (table,), note=note)


def _temperature(known: Scouting, figures: Figures, phrases: Phrases) -> Section:
    rpm, unit = known.hold, _unit(figures, known.hold)
    asked = tuple(
        on_paper(figures.text(f"temperature.{name}"))
        if f"temperature.{name}" in figures
        else phrases.word(f"bracket-{name}")
        for name in ("below", "target", "above")
    )
    rows: tuple[tuple[Cell, ...], ...] = (
        (phrases.line("scouting-row-temperature"), *(Field(unit="°C") for _ in asked)),
        (phrases.line("scouting-row-torque"), *(Field(unit="%") for _ in asked)),
        (
            phrases.line("scouting-row-product", factor=_factor(figures, rpm)),
            *(Field(unit=unit) for _ in asked),
        ),
    )
    table = Table("bracket", ("", *asked), rows, (phrases.line("bracket-yields"),))
    note = phrases.line("scouting-at-same", speed=f"{brief(rpm, 4)} rpm")
    return Section("E", phrases.word("section-bracket"), (table,), note=note)


def _samples(known: Scouting, figures: Figures, phrases: Phrases) -> Section:
    rpm, unit = known.hold, _unit(figures, known.hold)
    blank: tuple[Cell, ...] = ((), (), ())
    rows: tuple[tuple[Cell, ...], ...] = (
        (phrases.line("scouting-row-torque"), *(Field(unit="%") for _ in range(3)), *blank),
        (
            phrases.line("scouting-row-product", factor=_factor(figures, rpm)),
            *(Field(unit=unit) for _ in range(5)), Field(unit="%"),
        ),
        (phrases.line("scouting-row-temperature"), *(Field(unit="°C") for _ in range(3)), *blank),
    )  # fmt: skip
    table = Table("bracket", phrases.words("table-three"), rows, (phrases.line("three-yields"),))
    note = phrases.line("scouting-at-same", speed=f"{brief(rpm, 4)} rpm")
    return Section("F", phrases.word("section-three"), (table,), note=note)


def _outcome(figures: Figures, phrases: Phrases, reference: Reference) -> Section:
    drift = on_paper(reference.policy.texts["study_drift"])
    span = figures.text("slope.span") if "slope.span" in figures else ""
    values = {"slope": {"span": span}, "steady": {"drift": drift}}
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            phrases.line(f"yield-{key}"),
            phrases.line(f"yield-{key}-how", **values.get(key, {})),
            Field(unit=unit),
            phrases.line(f"yield-{key}-to"),
        )
        for key, unit in YIELDS.items()
    )
    return Section(
        "G", phrases.word("section-yields"), (Table("yields", phrases.words("table-yields"), rows),)
    )


def _end(known: Scouting, phrases: Phrases) -> Section:
    off = (
        "step-spindle-off-left"
        if known.coupling is not None and known.coupling.left_hand_thread
        else "step-spindle-off"
    )
    steps = (
        Step(4, phrases.line(off), cautions=(phrases.caution("clean-spindle-first"),), key=off),
        Step(5, phrases.line("step-wash", guard="", agent=phrases.word("agent-data-sheet")), key="step-wash"),
        Step(6, phrases.line("step-waste-plain"), key="step-waste-plain"),
    )
    return Section("H", phrases.word("section-scouting-end"), (Steps((), steps),))
