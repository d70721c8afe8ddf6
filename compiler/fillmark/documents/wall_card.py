"""The wall card: what hangs on one instrument, how far it reads at each speed, and what may not go together."""

from collections.abc import Sequence
from datetime import date

from fillmark.documents import Box, Cell, Document, Head, Section, Side, Table, Text
from fillmark.documents.head import valid_for
from fillmark.documents.wording import Phrases, light, on_paper, strong, written
from fillmark.figures import Figures
from fillmark.model import Coupling, Instrument, Reference, Spindle, Spring
from fillmark.quantities import brief, grouped


def plan_wall_card(
    reference: Reference,
    instrument: Instrument,
    figures: Figures,
    speeds: Sequence[float],
    digest: str,
    *,
    print_date: date | None = None,
) -> Document:
    """Plan the card of an instrument.

    `figures` are the ranges of its spindles at `speeds` (rpm), `digest` that of the reference data it rests on;
    `print_date` as for `plan_checklist`. PhraseError where a laboratory's own phrases lack a text.
    """
    phrases = Phrases(reference.phrases)
    spring, coupling = reference.springs[instrument.spring], reference.couplings[instrument.coupling]
    on = [s for s in reference.spindles.values() if f"{s.key}.coefficient" in figures]
    invented = reference.raw["instruments"][instrument.key].get("source") == "demonstration"
    head = Head(
        id=instrument.label,
        title=phrases.word(
            "card-title", spring=spring.key, torque=written(spring.full_scale), readout=instrument.readout
        ),
        product=phrases.word(
            "card-subtitle", coupling=coupling.key, suspension=instrument.suspension, stand=instrument.stand
        ),
        paper=phrases.word("paper-wall-card"),
        revision="",
        effective="",
        digest="",
        printed="" if print_date is None else print_date.isoformat(),
        valid=valid_for(reference),
        mark=f"{instrument.key} inventory sha256 {digest}",
        demonstration=phrases.word("demonstration") if invented else "",
        instead=(
            phrases.word("card-no-method"),
            phrases.word("card-digest", digest=f"{digest[:4]} {digest[4:8]}"),
        ),
    )
    side = Side(
        1,
        (
            _ranges(figures, on, speeds, phrases, guarded=spring.takes_guard),
            _numbers(reference, instrument, on, phrases),
            _together(reference, instrument, spring, coupling, on, phrases),
            _care(coupling, instrument, reference, phrases),
        ),
    )
    return Document(
        "wall-card", "en", head, (side,), (phrases.line("safety-first"), phrases.line("card-corrections"))
    )


def _ranges(
    figures: Figures, on: Sequence[Spindle], speeds: Sequence[float], phrases: Phrases, *, guarded: bool
) -> Section:
    rows: list[tuple[Cell, ...]] = []
    for s in on:
        key = f"{s.key}."
        unit = figures[f"{key}{speeds[0]:g}.full_scale"].unit
        values = tuple(strong(_number(figures.text(f"{key}{rpm:g}.number"))) for rpm in speeds)
        rows.append(
            (
                strong(s.key + ("\u00a0*" if s.relative else "")),
                light(phrases.word(f"card-guard-{s.guard if guarded or s.guard != 'either' else 'without'}")),
                light(on_paper(figures.text(f"{key}coefficient").removesuffix(" Pa·s·rpm"))),
                light(unit),
                *values,
            )
        )
    headings = (*phrases.words("table-card"), *(brief(rpm, 3) for rpm in speeds))
    notes: list[Text] = []
    if any(s.relative for s in on):
        notes.append(phrases.line("card-relative"))
    if any(s.known == "from-memory" for s in on):
        notes.append(phrases.line("card-memory"))
    return Section(
        "A",
        phrases.word("section-card-ranges"),
        (Table("card", headings, tuple(rows), tuple(notes)),),
        note=phrases.line("card-ranges-note"),
    )


def _number(text: str) -> str:
    return grouped(text) if len(text.partition(".")[0]) > 4 else text


def _numbers(
    reference: Reference, instrument: Instrument, on: Sequence[Spindle], phrases: Phrases
) -> Section:
    texts = reference.policy.texts
    accuracy = on_paper(texts["instrument_accuracy"])
    lines = [
        phrases.line(
            "card-torque", floor=on_paper(texts["torque_floor"]), ceiling=on_paper(texts["torque_ceiling"])
        ),
        phrases.line("card-accuracy", accuracy=accuracy),
    ]
    extra = {s.key: written(s.accessory_accuracy) for s in on if s.accessory_accuracy is not None}
    for more in dict.fromkeys(extra.values()):
        pieces = ", ".join(key for key, text in extra.items() if text == more)
        lines.append(phrases.line("card-accuracy-more", pieces=pieces, more=more))
    speeds = (
        phrases.word("card-speeds-list", speeds=", ".join(brief(s, 3) for s in instrument.speeds))
        if instrument.speeds
        else phrases.word(
            "card-speeds-range", lowest=brief(instrument.speed_from, 3), highest=brief(instrument.speed_to, 4),
            step=brief(instrument.speed_step, 3),
        )
    )  # fmt: skip
    lines.append(phrases.line("card-speeds", speeds=speeds))
    return Section("B", phrases.word("section-card-numbers"), (Box("", tuple(lines)),))


def _together(
    reference: Reference, instrument: Instrument, spring: Spring, coupling: Coupling, on: Sequence[Spindle],
    phrases: Phrases,
) -> Section:  # fmt: skip
    points: list[Text] = []
    guard = reference.guards[coupling.guard]
    if spring.takes_guard and spring.key in guard.springs:
        points.append(phrases.line("card-guard", guard=guard.key, coupling=coupling.key))
        bound = [s.key for s in on if s.guard == "with"]
        if bound:
            points.append(phrases.line("card-guard-always", spindles=", ".join(bound)))
    else:
        points.append(phrases.line("card-no-guard", spring=spring.key))
    names = [s.key for s in on]
    twins: dict[str, list[tuple[str, str]]] = {}
    for s in on:
        twin = reference.spindles.get(s.twin or "")
        if twin is not None and twin.key not in names:
            twins.setdefault(", ".join(twin.springs), []).append((s.key, twin.key))
    for springs, pairs in twins.items():
        told = ", ".join(phrases.word("card-twin-pair", own=own, other=other) for own, other in pairs)
        points.append(phrases.line("card-twin", pairs=told, springs=springs))
    for key in dict.fromkeys(s.container for s in on if s.container is not None):
        held = [s.key for s in on if s.container == key]
        container = reference.containers[key]
        points.append(
            phrases.line(
                "card-container", spindles=", ".join(held), container=container.label,
                diameter=written(container.inside_diameter),
            )
        )  # fmt: skip
    off = [s for s in reference.spindles.values() if s.key not in names]
    not_spring = [s.key for s in off if instrument.spring not in s.springs]
    not_stand = [s.key for s in off if instrument.spring in s.springs]
    if not_spring:
        points.append(phrases.line("card-not-spring", spindles=", ".join(not_spring), spring=spring.key))
    if not_stand:
        points.append(phrases.line("card-not-stand", spindles=", ".join(not_stand)))
    return Section("C", phrases.word("section-card-together"), (Box("", points=tuple(points)),))


def _care(coupling: Coupling, instrument: Instrument, reference: Reference, phrases: Phrases) -> Section:
    cautions = [phrases.caution(key) for key in ("rotating", coupling.caution, "clean-spindle-first")]
    lines = [(*strong(f"{c.signal}: "), *c.text) for c in cautions]
    if instrument.readout == "dial":
        speed = brief(reference.policy["dial_lock_speed"], 3)
        lines.append(phrases.line("card-dial", speed=speed))
    return Section("D", phrases.word("section-card-care"), (Box("", tuple(lines)),))
