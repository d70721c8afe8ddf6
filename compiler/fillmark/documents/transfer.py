"""The transfer sheet: the same lots on two set-ups, in an order nobody chose, judged by a limit set beforehand."""

from collections.abc import Sequence
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
    terms,
)
from fillmark.documents.head import head
from fillmark.documents.wording import Phrases, light, narrow, on_paper, strong, written
from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.model import Step as RunStep

SPRING_ONLY = ("spring",)
NOTHING = ("instrument", "laboratory")
"""What may differ and leaves the flow, and so the property, as it is."""

PROPERTY = ("spindle", "speed", "guard", "container", "temperature", "time")
"""What makes another property of it."""


def plan_transfer(
    method: Method,
    figures: Figures,
    more: Figures,
    digest: str,
    *,
    runs: Sequence[tuple[int, str]],
    seed: int,
    step: RunStep,
    print_date: date | None = None,
) -> Document:
    """Plan the sheet of a method.

    `more` are the figures of the transfer, `runs` the lots in the order of the run with the side that comes
    first, `seed` what that order follows from, `step` the step that is judged; the rest is as for
    `plan_checklist`.
    """
    phrases = Phrases(method.reference.phrases)
    return Document(
        kind="transfer",
        language="en",
        head=head(method, phrases, digest, paper="paper-transfer", print_date=print_date),
        sides=(
            Side(
                1,
                (
                    _sides(phrases),
                    _changed(phrases),
                    _lots(method, more, phrases, step),
                    _how(method, phrases),
                ),
            ),
            Side(
                2,
                (
                    _readings(method, figures, more, phrases, runs, seed, step),
                    _outcome(figures, more, phrases, step),
                    Section("", "", (Box("", (phrases.line("corrections"),)),)),
                ),
            ),
        ),
        foot=(phrases.line("safety-first"),),
    )


def _sides(phrases: Phrases) -> Section:
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (phrases.line(key), Field(), Field())
        for key in ("transfer-instrument", "transfer-spindle", "transfer-container", "transfer-where")
    )
    return Section("A", phrases.word("section-sides"), (Table("pair", phrases.words("table-pair"), rows),))


def _changed(phrases: Phrases) -> Section:
    def ticks(keys: tuple[str, ...]) -> Entries:
        return Entries(
            len(keys), tuple(Entry(phrases.line(f"changed-{key}"), field=Field("tick")) for key in keys)
        )

    return Section(
        "B",
        phrases.word("section-changed"),
        (
            ticks((*NOTHING, *SPRING_ONLY)),
            Box("", (phrases.line("changed-flow-same"),)),
            ticks(PROPERTY),
            Box("", (phrases.line("changed-property"),)),
        ),
    )


def _lots(m: Method, more: Figures, phrases: Phrases, step: RunStep) -> Section:
    rows: list[tuple[Cell, ...]] = []
    aims = [key for key in more if key.startswith("transfer.aim_")]
    half = (len(_numbers(more)) + 1) // 2
    names = _numbers(more)
    for left, right in zip(names[:half], [*names[half:], 0], strict=False):
        cells: list[Cell] = []
        for number in (left, right):
            key = f"transfer.aim_{number}"
            cells += [
                strong(str(number)),
                strong(on_paper(more.text(key))) if key in aims else light(phrases.word("transfer-spare")),
                Field(),
                Field(),
            ]
        rows.append(tuple(cells))
    limit = m.limit(step.name)
    note = phrases.line(
        "lots-spread" if aims else "lots-spread-plain",
        result=step.name,
        lots=str(min(_counts(more))),
        limits=terms.limits(limit, phrases),
    )
    return Section(
        "C", phrases.word("section-lots"), (Table("lots", phrases.words("table-lots"), tuple(rows), (note,)),)
    )


def _numbers(more: Figures) -> list[int]:
    """Give the numbers of the lots, spare ones included: as many as the largest factor is made for."""
    return list(range(1, max(_counts(more)) + 1))


def _counts(more: Figures) -> list[int]:
    """Give the numbers of lots that a factor is made for."""
    return [int(key.rpartition("_")[2]) for key in more if key.startswith("transfer.factor_")]


def _how(m: Method, phrases: Phrases) -> Section:
    hazards = tuple(phrases.caution(f"hazard-{h}") for h in m.product.hazards)
    rotating = (phrases.caution("rotating"),)
    told = (
        ("step-transfer-limit", ()),
        ("step-transfer-split", hazards),
        ("step-transfer-fluid", rotating),
        ("step-transfer-order", ()),
        ("step-transfer-history" if m.product.has_history else "step-transfer-loading", ()),
    )
    steps = tuple(
        Step(number, phrases.line(key), cautions=cautions, key=key)
        for number, (key, cautions) in enumerate(told, start=1)
    )
    return Section("D", phrases.word("section-transfer-how"), (Steps((), steps),))


def _readings(
    m: Method, figures: Figures, more: Figures, phrases: Phrases, runs: Sequence[tuple[int, str]], seed: int,
    step: RunStep,
) -> Section:  # fmt: skip
    unit = terms.unit_of(figures, step)
    check = m.verification
    torque = terms.torque_window(figures, step)[0]
    factor = phrases.word("readings-times", factor=terms.factor(figures, step))
    asked: tuple[Cell, ...] = (
        light(phrases.word("column-limit")), (), (), strong(narrow(torque)), strong(narrow(factor)),
        strong(narrow(torque)), strong(narrow(factor)),
        strong(narrow(on_paper(more.text("transfer.single")))), (),
    )  # fmt: skip
    rows: list[tuple[Cell, ...]] = [asked]

    def fluid(word: str) -> tuple[Cell, ...]:
        name = phrases.word("fluid-plain") if check is None else check.fluid.key
        side = light(f"{phrases.word(word)}: {name}")
        return (
            side, (), (), Field(unit="%"), Field(unit=unit), Field(unit="%"), Field(unit=unit), Field(unit=unit),
            Field("pass-fail"),
        )  # fmt: skip

    rows.append(fluid("fluid-start"))
    for number, (lot, first) in enumerate(runs, start=1):
        rows.append(
            (
                light(str(number)), strong(str(lot)), strong(f"{first}\u00a0→\u00a0{'B' if first == 'A' else 'A'}"),
                Field(unit="%"), Field(unit=unit), Field(unit="%"), Field(unit=unit), Field(unit=unit), Field(),
            )
        )  # fmt: skip
    rows.append(fluid("fluid-end"))
    notes = [phrases.line("transfer-seed", seed=str(seed))]
    if check is not None:
        notes.append(
            phrases.line(
                "transfer-fluid-band", fluid=check.fluid.key, band=terms.verification_band(check, figures)
            )
        )
    table = Table("paired", phrases.words("table-paired"), tuple(rows), tuple(notes))
    title = phrases.word("section-paired", step=step.name, speed=written(step.speed))
    return Section("E", title, (table,))


def _outcome(figures: Figures, more: Figures, phrases: Phrases, step: RunStep) -> Section:
    unit = terms.unit_of(figures, step)
    margin = on_paper(more.text("transfer.margin")) if "transfer.margin" in more else ""
    entries = (
        Entry(phrases.line("transfer-n")),
        Entry(phrases.line("transfer-mean"), field=Field(unit=unit)),
        Entry(phrases.line("transfer-s"), field=Field(unit=unit)),
        Entry(phrases.line("transfer-half"), field=Field(unit=unit)),
        Entry(phrases.line("transfer-low"), field=Field(unit=unit)),
        Entry(phrases.line("transfer-high"), field=Field(unit=unit)),
        Entry(phrases.line("transfer-limit"), strong(margin), Field(unit="" if margin else unit)),
        Entry(phrases.line("transfer-verdict"), field=Field("yes-no")),
    )
    factors = ", ".join(
        phrases.word("transfer-factor", n=key.rpartition("_")[2], factor=more.text(key))
        for key in more
        if key.startswith("transfer.factor_")
    )
    rule = phrases.line("transfer-rule", factors=factors, interval=on_paper(more.text("transfer.interval")))
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (phrases.line(key), Field(), Field(), Field()) for key in ("signature-performed", "signature-checked")
    )
    return Section(
        "F",
        phrases.word("section-transfer-outcome"),
        (
            Entries(4, entries),
            Box("", (rule,)),
            Table("signatures", phrases.words("table-signatures"), rows),
        ),
    )
