"""Studies: what measured data say of a method, kind by kind, each a function from a table to an outcome.

The statistics stand in `physics/`. Here a table is made into what they take, and what comes out into figures,
tables, findings and values that may go into the method. No study leaves out a result on its own account.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from fillmark.diagnostics import Diagnostic, Path, Severity
from fillmark.figures import Figure
from fillmark.model import Method, Policy
from fillmark.quantities import brief
from fillmark.read import Source
from fillmark.studies.table import CODES as TABLE_CODES
from fillmark.studies.table import Row, Table

CODES: dict[str, tuple[str, str]] = TABLE_CODES | {
    "STU11": ("study-too-small", "Too few data for any answer: the study is not made."),
    "STU12": ("study-thin", "Fewer data than such a study should have; what it says is known poorly."),
    "STU13": (
        "study-without-scatter",
        (
            "Repeated results that agree to the last digit: they were rounded, copied or read once, so "
            "their scatter is not nothing but unknown."
        ),
    ),
    "STU14": (
        "mean-stands-apart",
        (
            "The mean of one group lies further from the others than chance explains. It still counts: "
            "only a reason found in the records may take it out."
        ),
    ),
    "STU15": (
        "scatter-stands-apart",
        (
            "The results of one group scatter more than those of the others, beyond chance. They still "
            "count: only a reason found in the records may take them out."
        ),
    ),
    "STU16": (
        "likely-slip",
        (
            "A result that would fit if one digit, the decimal point or the unit were another. A hint "
            "where to look, never a reason to change it."
        ),
    ),
    "STU17": (
        "groups-of-different-size",
        "Groups with different numbers of results: the sums allow for it, the limits of consistency hold nearly.",
    ),
    "STU18": (
        "between-at-nothing",
        "The groups differ by less than their own scatter explains, so the part between them is set to nothing.",
    ),
    "STU19": (
        "method-says-otherwise",
        "The method states a value that the data of the study do not bear out.",
    ),
    "STU20": (
        "target-outside-the-data",
        "The line is asked for at a temperature that the data do not reach.",
    ),
    "STU21": ("no-straight-line", "The points depart from a straight line by more than they scatter."),
    "STU22": ("slope-unclear", "The slope is known so poorly that it may be nothing, or twice as large."),
    "STU23": (
        "scale-error-explains",
        (
            "The values differ by no more than the instrument's accuracy, a share of full scale, allows "
            "at those torques: the data tell nothing of the fluid."
        ),
    ),
    "STU24": ("torque-out-of-window", "A reading below the torque floor or beyond full scale."),
    "STU25": ("not-settled", "The reading still drifts faster than the limit when the hold ends."),
    "STU26": ("history-shows", "The ramp down reads otherwise than the ramp up: the fluid remembers."),
    "STU27": ("not-equivalent", "The two ways differ by more than the margin."),
    "STU28": (
        "equivalence-not-shown",
        "The data neither show that the two ways agree within the margin nor that they do not.",
    ),
    "STU29": ("no-margin", "Without a margin set beforehand there is nothing to be equivalent within."),
    "STU30": (
        "order-not-mixed",
        (
            "One way was always, or nearly always, measured first: what changes in the sample with time "
            "passes for a difference between the two."
        ),
    ),
    "STU31": (
        "fluid-disagrees",
        (
            "The reference fluid reads differently by the two ways: the instruments, spindles or guards "
            "differ, whatever the product does."
        ),
    ),
    "STU32": (
        "no-fluid",
        (
            "No reference fluid was measured by both ways, so a difference of the instruments and one of "
            "the sample's history cannot be told apart."
        ),
    ),
    "STU33": (
        "history-broken",
        (
            "The change alters what is measured: results before and after are two properties, "
            "and limits and charts begin anew."
        ),
    ),
    "STU34": ("difference-with-level", "The difference between the two ways changes with the level."),
    "STU35": ("specification-not-spanned", "The lots of the study do not reach across the specification."),
    "STU36": (
        "order-shows",
        (
            "What is measured second reads otherwise than what is measured first: the sample changes between "
            "the two. A mixed order takes it out of the mean, and leaves it in the scatter."
        ),
    ),
}

Value = str | float | None
"""What stands in a cell: a text, a number, or nothing."""


@dataclass(frozen=True, slots=True)
class Grid:
    """A table of the outcome: headings, with the unit where there is one, and rows."""

    key: str
    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[Value, ...], ...]
    notes: tuple[str, ...] = ()
    decimals: tuple[tuple[str, int], ...] = ()
    """Heading and decimals, for columns that are shown with as many throughout."""


@dataclass(frozen=True, slots=True)
class Series:
    """Points of a chart, and whether they are drawn as points or joined to a line."""

    name: str
    kind: str
    """points or line"""
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Plot:
    """A chart as data: what stands on the axes, what is drawn, and levels across."""

    key: str
    title: str
    x: str
    y: str
    series: tuple[Series, ...]
    levels: tuple[tuple[str, float], ...] = ()
    ticks: tuple[tuple[float, str], ...] = ()
    """Names on the x axis in place of numbers."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A value that the study gives for a place of the method."""

    path: Path
    text: str
    why: str
    evidence: str


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a study says."""

    kind: str
    title: str
    table: Table
    verdict: str
    """One word or two for a program; empty where nothing was to be judged."""
    said: str
    """The same in a sentence."""
    settings: tuple[tuple[str, str], ...]
    figures: tuple[Figure, ...]
    grids: tuple[Grid, ...]
    plots: tuple[Plot, ...]
    proposals: tuple[Proposal, ...]
    diagnostics: tuple[Diagnostic, ...]
    points: tuple[str, ...] = ()
    """What to do next, or to keep in mind, in sentences."""
    used: int = 0
    """Rows that went in."""


class NoStudyError(Exception):
    """Why a study is not made: its diagnostics."""

    def __init__(self, diagnostics: Sequence[Diagnostic]) -> None:
        super().__init__("; ".join(d.message for d in diagnostics))
        self.diagnostics = tuple(diagnostics)


@dataclass(slots=True)
class Finding:
    """What one study gathers on its way."""

    kind: str
    table: Table
    policy: Policy
    method: Method | None
    day: str
    """Day of the evaluation, for the evidence."""
    figures: list[Figure] = field(default_factory=list)
    grids: list[Grid] = field(default_factory=list)
    plots: list[Plot] = field(default_factory=list)
    proposals: list[Proposal] = field(default_factory=list)
    diagnostics: list[Diagnostic] = field(default_factory=list)
    settings: list[tuple[str, str]] = field(default_factory=list)
    points: list[str] = field(default_factory=list)

    def say(
        self,
        code: str,
        severity: Severity,
        message: str,
        *ways: str,
        row: Row | None = None,
        column: str | None = None,
        path: Path = (),
    ) -> None:
        """Add a finding, at a cell of the table or at its heading; with a path, about that value of the method."""
        found = note(self.table, code, severity, message, *ways, row=row, column=column)
        self.diagnostics.append(replace(found, path=path))

    def stop(self, message: str, *ways: str) -> NoStudyError:
        """Make the error of a study that cannot be made."""
        self.say("STU11", Severity.ERROR, message, *ways)
        return NoStudyError((*self.table.diagnostics, *self.diagnostics))

    def figure(
        self,
        key: str,
        title: str,
        value: float,
        unit: str,
        formula: str,
        *sources: str,
        digits: int = 4,
        inputs: tuple[tuple[str, Path | str], ...] = (),
        text: str = "",
    ) -> float:
        """Add a figure; gives its value."""
        text = text or f"{brief(value, digits)} {unit}".strip()
        self.figures.append(Figure(key, title, value, unit, text, formula, inputs, sources))
        return value

    def propose(self, path: Path, text: str, why: str, based_on: str) -> None:
        """Add a value for the method, with what it is based on."""
        evidence = (
            f"{text} by {self.kind} study of {self.table.name}, sha256 {self.table.digest[:16]}, {based_on}, worked "
            f"out {self.day}"
        )
        self.proposals.append(Proposal(path, text, why, evidence))

    def outcome(self, title: str, verdict: str, said: str, used: int) -> Outcome:
        """Put together what was gathered."""
        return Outcome(
            self.kind,
            title,
            self.table,
            verdict,
            said,
            tuple(self.settings),
            tuple(self.figures),
            tuple(self.grids),
            tuple(self.plots),
            tuple(self.proposals),
            (*self.table.diagnostics, *self.diagnostics),
            tuple(self.points),
            used,
        )


def at_method(outcome: Outcome, file: str, source: Source) -> Outcome:
    """Put each finding about a value of the method where that value stands in its file."""
    return replace(
        outcome,
        diagnostics=tuple(
            replace(d, file=file, span=source.span(d.path)) if d.path else d for d in outcome.diagnostics
        ),
    )


def note(
    table: Table,
    code: str,
    severity: Severity,
    message: str,
    *ways: str,
    row: Row | None = None,
    column: str | None = None,
) -> Diagnostic:
    """Make a diagnostic at a cell, a row or the heading of a table."""
    span = table.heading(column) if row is None else table.cell(row, column)
    return Diagnostic(code, CODES[code][0], severity, message, table.name, span, ways_out=ways)


def listed(words: Sequence[str], most: int = 8) -> str:
    """Write names one after the other, the first few of many."""
    more = len(words) - most
    return ", ".join(words[:most]) + (f" and {more} more" if more > 0 else "")


def chance(probability: float) -> str:
    """Write a probability in percent, small ones as below a bound."""
    return "less than 0.01 %" if probability < 1e-4 else f"{brief(100 * probability, 2)} %"
