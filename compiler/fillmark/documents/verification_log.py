"""The verification log: one line for each check, and a strip at its end that grows into a chart by hand.

The strip is to scale in percent of full scale, so that a dot on each line shows a drift long before the band
is left.
"""

from datetime import date

from fillmark.documents import (
    Box,
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
from fillmark.documents.shapes import line
from fillmark.documents.wording import Phrases, light, narrow, strong, written
from fillmark.figures import Figures
from fillmark.model import Method, Verification
from fillmark.quantities import fixed

ROWS = (8, 20)
"""Lines for checks on the two sides."""

WIDTH, HEIGHT = 44.0, 9.2
"""Of a strip (mm)."""

BEYOND = 1.5
"""How far a strip reaches, in half widths of the band."""


def plan_verification_log(
    method: Method, figures: Figures, digest: str, *, print_date: date | None = None
) -> Document:
    """Plan the log of a method; the arguments are those of `plan_checklist`."""
    phrases = Phrases(method.reference.phrases)
    first, second = (
        Table("log", _headings(phrases), _rows(method, figures, phrases, rows, number))
        for rows, number in zip(ROWS, (1, ROWS[0] + 1), strict=True)
    )
    return Document(
        kind="verification-log-form",
        language="en",
        head=head(method, phrases, digest, paper="paper-verification-log", print_date=print_date),
        sides=(
            Side(
                1,
                (
                    _asked(method, figures, phrases),
                    _how(method, phrases),
                    Section("C", phrases.word("section-log"), (first,)),
                ),
            ),
            Side(
                2,
                (
                    Section("C", phrases.word("section-log"), (second,)),
                    Section("", "", (_reviewed(phrases), Box("", (phrases.line("corrections"),)))),
                ),
            ),
        ),
        foot=(phrases.line("safety-first"),),
    )


def _asked(m: Method, figures: Figures, phrases: Phrases) -> Section:
    keys = (
        "entry-instrument-sn", "entry-spindle-sn", "entry-container-no", "entry-log-no",
        "entry-log-lot", "entry-log-certificate", "entry-log-same", "entry-thermometer-no",
    )  # fmt: skip
    entries = Entries(4, tuple(Entry(phrases.line(key)) for key in keys))
    check = m.verification
    if check is None:
        return Section("A", phrases.word("section-asked"), (entries, Box("", (phrases.line("hold-none"),))))
    step = m.step(check.at)
    spindle = check.spindle or m.spindle
    container = check.container or m.container
    rows: tuple[tuple[str, str], ...] = (
        ("log-fluid", f"{check.fluid.key}, {written(check.fluid.viscosity)} ±\u00a0{written(check.fluid.uncertainty)}"),
        ("log-at", terms.fluid_temperature(check)),
        ("log-with", phrases.word(
            "log-with-asked", spring=m.instrument.spring.key, torque=written(m.instrument.spring.full_scale),
            spindle=spindle.key, container=container.label,
            guard=phrases.word(f"qualifier-guard-{check.guard or m.guard}"),
        )),
        ("log-speed", "" if step is None else written(step.speed)),
        ("log-torque", terms.window(figures, "verification.torque_lower", "verification.torque_upper")),
        ("log-band", terms.verification_band(check, figures)),
        ("log-scale", f"{figures.text('verification.full_scale')}"),
        ("log-frequency", check.frequency or ""),
    )  # fmt: skip
    table = Table("asked", (), tuple((phrases.line(key), strong(text)) for key, text in rows if text))
    return Section("A", phrases.word("section-asked"), (entries, table))


def _how(m: Method, phrases: Phrases) -> Section:
    check = m.verification
    steps = tuple(
        Step(number, phrases.line(key), cautions=cautions, key=key)
        for number, (key, cautions) in enumerate(
            (
                ("step-log-fluid", (phrases.caution("fluid-handling"),)),
                ("step-log-run", (phrases.caution("rotating"),)),
                ("step-log-error", ()),
                ("step-log-dot", ()),
            ),
            start=1,
        )
    )
    failing = (
        phrases.line("hold-failing", action=check.on_failure)
        if check is not None and check.on_failure
        else phrases.line("hold-failing-plain")
    )
    points = tuple(light(word) for word in phrases.words("log-signals"))
    return Section(
        "B",
        phrases.word("section-how"),
        (Steps((), steps), Box(phrases.word("log-signals-title"), (failing,), points)),
    )


def _headings(phrases: Phrases) -> tuple[str, ...]:
    return phrases.words("table-log")


def _rows(
    m: Method, figures: Figures, phrases: Phrases, count: int, start: int
) -> tuple[tuple[Cell, ...], ...]:
    check = m.verification
    fluid: Text = () if check is None else strong(terms.fluid_temperature(check))
    asked = figures.text("verification.torque") if check is not None else ""
    limits: tuple[Cell, ...] = (
        light(phrases.word("column-limit")), (), (), fluid,
        strong(narrow(terms.window(figures, "verification.torque_lower", "verification.torque_upper"))),
        strong("" if check is None else narrow(terms.verification_band(check, figures))),
        strong("" if check is None else phrases.word("log-minus", torque=asked.removesuffix(" %"))), (), (),
        () if check is None else scale(check, figures),
    )  # fmt: skip
    unit = "" if check is None else figures["verification.lower"].unit
    blank: list[tuple[Cell, ...]] = [
        (
            light(str(number)), Field(), Field(), Field(unit="°C"), Field(unit="%"), Field(unit=unit),
            Field(unit="%"), Field("pass-fail"), Field(), () if check is None else strip(check, figures),
        )
        for number in range(start, start + count)
    ]  # fmt: skip
    return (limits, *blank)


def marks(check: Verification, figures: Figures) -> tuple[float, float]:
    """Give the lower and upper end of the band as errors (% of full scale)."""
    middle, full = figures["verification.torque"].value, figures["verification.full_scale"].value
    ends = (
        figures["verification.lower"].value if check.lower is None else check.lower.value,
        figures["verification.upper"].value if check.upper is None else check.upper.value,
    )
    low, high = (100 * end / full - middle for end in ends)
    return low, high


def _reach(check: Verification, figures: Figures) -> float:
    """Give the error at the ends of a strip (% of full scale)."""
    return BEYOND * max(abs(end) for end in marks(check, figures))


def _x(error: float, reach: float) -> float:
    return round(WIDTH / 2 + error / reach * (WIDTH / 2 - 1.0), 3)


def strip(check: Verification, figures: Figures) -> Strip:
    """Draw the lines of the chart over the height of one check: the ends of the band, the middle, the thirds."""
    return Strip(WIDTH, HEIGHT, tuple(_lines(check, figures, 0.0, HEIGHT)))


def _lines(check: Verification, figures: Figures, top: float, bottom: float) -> list[Stroke]:
    reach = _reach(check, figures)
    strokes = [line("zero", (_x(0.0, reach), top), (_x(0.0, reach), bottom))]
    for end in marks(check, figures):
        x = _x(end, reach)
        strokes.append(line("band-end", (x, top), (x, bottom)))
        strokes += [
            line("third", (_x(end * part / 3, reach), top), (_x(end * part / 3, reach), bottom))
            for part in (1, 2)
        ]
    return strokes


def scale(check: Verification, figures: Figures) -> Strip:
    """Write the scale over the strips: error in percent of full scale."""
    height, reach = 8.0, _reach(check, figures)
    low, high = marks(check, figures)
    labels = [
        Label(f"{'+' if end > 0 else ''}{fixed(end, 2)}", _x(end, reach), 5.4, kind="strong", size=2.4)
        for end in (low, high)
    ]
    labels.append(Label("0", _x(0.0, reach), 5.4, kind="strong", size=2.4))
    labels.append(Label("% of full scale", WIDTH / 2, 2.6, size=2.2))
    return Strip(WIDTH, height, tuple(_lines(check, figures, 6.0, height)), tuple(labels))


def _reviewed(phrases: Phrases) -> Entries:
    keys = ("entry-log-reviewed", "entry-log-trend", "entry-log-next")
    return Entries(3, tuple(Entry(phrases.line(key)) for key in keys))
