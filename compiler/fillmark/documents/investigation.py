"""The out-of-specification sheet, first phase: whether there is a cause at the bench that could be this large.

Every cause is one of the misuse budget of this method, with the way and the size it moves a result. The one who
investigates draws the observed deviation as a line through all of them: what the line crosses can explain it.
"""

from datetime import date
from math import copysign, log10

from fillmark.documents import (
    Box,
    Caution,
    Cell,
    Document,
    Entries,
    Entry,
    Field,
    Label,
    Section,
    Side,
    Step,
    Steps,
    Strip,
    Stroke,
    Table,
    Text,
    terms,
)
from fillmark.documents.head import head
from fillmark.documents.shapes import area, line
from fillmark.documents.slips import FROM_MEMORY, RULED_OUT, Slip, Slips, direction
from fillmark.documents.wording import Phrases, light, on_paper, strong, written
from fillmark.figures import Figures
from fillmark.model import Method

MOST_CAUSES = 28
"""Causes that fit on side 2; those of the smallest size give way."""

WIDTH, HEIGHT = 62.0, 6.2
"""Of a strip (mm)."""

LEAST, MOST = -95.0, 800.0
"""Ends of the scale (%)."""

TICKS = (-90, -50, -20, -10, -5, -2, 0, 2, 5, 10, 20, 50, 100, 200, 500)


def plan_investigation(
    method: Method,
    figures: Figures,
    digest: str,
    slips: Slips,
    *,
    within: tuple[str, str],
    print_date: date | None = None,
) -> Document:
    """Plan the sheet of a method.

    `slips` is its misuse budget; `within` how closely a result can be held against a cause, and by what, as
    text; the rest is as for `plan_checklist`.
    """
    phrases = Phrases(method.reference.phrases)
    return Document(
        kind="investigation",
        language="en",
        head=head(method, phrases, digest, paper="paper-investigation", print_date=print_date),
        sides=(
            Side(
                1,
                (
                    _identity(method, phrases),
                    _first(method, figures, phrases),
                    _rules(method, phrases),
                    _decision(phrases),
                ),
            ),
            Side(2, _causes(method, phrases, slips, within)),
        ),
        foot=(terms.join((phrases.line("safety-first"), phrases.line("corrections-short"))),),
    )


def _identity(m: Method, phrases: Phrases) -> Section:
    keys = (
        "entry-sample", "entry-lot", "entry-result-sheet", "entry-tested",
        "entry-analyst-name", "entry-instrument-no", "entry-found-by", "entry-informed",
    )  # fmt: skip
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            strong(limit.result),
            strong(terms.limits(limit, phrases)),
            Field(unit=_unit(m, limit.result)),
            Field(unit=_unit(m, limit.result)),
            Field(unit="%"),
        )
        for limit in m.specification
    )
    table = Table(
        "observed-results", phrases.words("table-observed-results"), rows, (phrases.line("deviation-how"),)
    )
    return Section(
        "A",
        phrases.word("section-observed"),
        (Entries(4, tuple(Entry(phrases.line(k)) for k in keys)), table),
    )


def _unit(m: Method, result: str) -> str:
    return next((r.unit or "" for r in m.report if r.result == result), "")


def _first(m: Method, figures: Figures, phrases: Phrases) -> Section:
    check = m.verification
    band = "" if check is None else terms.verification_band(check, figures)
    torque = terms.window(figures, "verification.torque_lower", "verification.torque_upper")
    hazards = tuple(phrases.caution(f"hazard-{h}") for h in m.product.hazards)
    steps: list[Step] = []

    def step(
        key: str, *fields: Field, limit: Text = (), cautions: tuple[Caution, ...] = (), **values: str
    ) -> None:
        steps.append(Step(len(steps) + 1, phrases.line(key, **values), limit, (), fields, cautions, key=key))

    step("step-oos-hold")
    step("step-oos-keep", cautions=hazards)
    step("step-oos-record")
    step("step-oos-entries")
    rotating: tuple[Caution, ...] = (phrases.caution("rotating"),)
    for key in ("before", "after"):
        if check is None:
            step(f"step-oos-verify-{key}-plain", Field("pass-fail"), cautions=rotating)
        else:
            step(
                f"step-oos-verify-{key}",
                Field(unit="%"),
                limit=strong(torque),
                cautions=rotating,
                fluid=check.fluid.key,
                band=band,
            )
        rotating = ()
        if key == "before":
            step("step-oos-causes")
    return Section(
        "B", phrases.word("section-oos-first"), (Steps((phrases.word("column-value"),), tuple(steps)),)
    )


def _rules(m: Method, phrases: Phrases) -> Section:
    points = [light(word) for word in phrases.words("oos-rules")]
    if m.product.has_history:
        points.insert(1, phrases.line("oos-history", behaviour=m.product.behaviour))
    if m.replicates.otherwise:
        points.append(phrases.line("oos-otherwise", action=on_paper(m.replicates.otherwise)))
    return Section("", "", (Box(phrases.word("oos-rules-title"), points=tuple(points)),))


def _decision(phrases: Phrases) -> Section:
    choices = tuple(Entry(light(word), field=Field("tick")) for word in phrases.words("oos-outcomes"))
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (phrases.line(key), Field(), Field(), Field())
        for key in ("signature-analyst", "signature-supervisor", "signature-quality")
    )
    blocks = (
        Entries(3, choices),
        Box(phrases.word("entry-oos-evidence"), room=True),
        Table("signatures", phrases.words("table-signatures"), rows),
    )
    return Section("C", phrases.word("section-oos-decision"), blocks)


# --- side 2


def _causes(m: Method, phrases: Phrases, slips: Slips, within: tuple[str, str]) -> tuple[Section, ...]:
    told = [s for s in slips.values() if _able(s)]
    told.sort(key=_rank)
    kept = told[:MOST_CAUSES]
    rows: list[tuple[Cell, ...]] = [((), (), axis(), (), (), ())]
    for slip in kept:
        what = light(on_paper(slip.what) + ("\u00a0*" if slip.shown_by else ""))
        by = strong(on_paper(slip.span)) or light(direction(slip, phrases))
        rows.append((what, by, strip(slip), Field("tick"), Field("tick"), Field()))
    table = Table("causes", phrases.words("table-causes"), tuple(rows))
    shown = next((s.shown_by for s in kept if s.shown_by), "")
    notes = [phrases.line("oos-line", within=on_paper(within[0]), what=within[1])]
    if shown:
        notes.append(phrases.line("oos-shown", by=shown))
    cannot = [s for s in slips.values() if s not in kept]
    blocks: list[Box | Table] = [Box("", tuple(notes)), table]
    if cannot:
        points = tuple(light(on_paper(s.what)) for s in cannot)
        blocks.append(Box(phrases.word("oos-cannot-title"), points=points))
    step = next((s for s in m.run if m.limit(s.name) is not None), m.run[0])
    note = phrases.line("oos-step", step=step.name, speed=written(step.speed))
    return (Section("D", phrases.word("section-causes"), tuple(blocks), note=note),)


def _able(slip: Slip) -> bool:
    """Whether a slip can shift a result at all; what is near nil from memory cannot."""
    if slip.known == RULED_OUT or slip.direction == "none":
        return False
    return slip.range is not None or slip.known != FROM_MEMORY


def _rank(slip: Slip) -> tuple[int, float]:
    """Put the largest first, and what has no size last."""
    return (1, 0.0) if slip.range is None else (0, -max(abs(end) for end in slip.range))


def _x(shift: float) -> float:
    """Give the place of a shift (%) on a strip (mm): half of it for low, half for high, small ones spread out."""
    low, high = (log10(1 + abs(end)) for end in (LEAST, MOST))
    held = min(max(shift, LEAST), MOST)
    part = copysign(log10(1 + abs(held)), held)
    half = WIDTH / 2
    return round(half + part / (low if held < 0 else high) * (half - 1.5), 3)


def strip(slip: Slip) -> Strip:
    """Draw which deviations a slip can explain; what grows with its amount, or has no size, ends in an arrow."""
    middle = HEIGHT / 2
    strokes = [*_grid(0.0, HEIGHT)]
    ways = {"low": (-1,), "high": (1,), "either": (-1, 1)}[slip.direction]
    if slip.range is not None:
        low, high = slip.range
        left, right = _x(low), _x(high)
        if right - left < 0.9:
            left, right = (left + right) / 2 - 0.45, (left + right) / 2 + 0.45
        strokes.append(
            area(
                "cause",
                (left, middle - 1.3),
                (right, middle - 1.3),
                (right, middle + 1.3),
                (left, middle + 1.3),
            )
        )
    if slip.range is None or slip.grows:
        for way in ways:
            tip = WIDTH - 0.4 if way > 0 else 0.4
            strokes += [
                line("cause-open", (_x(0.0), middle), (tip - way * 1.2, middle)),
                area(
                    "arrow", (tip, middle), (tip - way * 1.3, middle - 0.8), (tip - way * 1.3, middle + 0.8)
                ),
            ]
    return Strip(WIDTH, HEIGHT, tuple(strokes))


def _grid(top: float, bottom: float) -> list[Stroke]:
    return [line("zero" if tick == 0 else "grid", (_x(tick), top), (_x(tick), bottom)) for tick in TICKS]


def axis() -> Strip:
    """Write the scale over the strips."""
    height, size_ = 5.0, 2.1
    labels = []
    last = -9.0
    for tick in TICKS:
        text = f"{tick:+d}".replace("-", "\u2212") if tick else "0"
        wide = 0.62 * size_ * len(text)
        if _x(tick) - wide / 2 > last + 0.4:
            labels.append(Label(text, _x(tick), 3.0, size=size_))
            last = _x(tick) + wide / 2
    return Strip(WIDTH, height, tuple(_grid(3.4, height)), tuple(labels))
