"""What comes of a record, as values; `result.schema.json` describes the same as JSON."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Literal

from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.records.record import Finding, Record
from fillmark.records.sheet import Sheet, Understood

Verdict = Literal["in", "out", "undecided", "none"]


@dataclass(frozen=True, slots=True)
class Working:
    """A step of the calculation: the formula, the same with its digits, and what comes of it."""

    title: str
    formula: str
    digits: str
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One speed of one replicate. Viscosities are in `unit`."""

    no: int
    step: str
    speed: str
    start: datetime | None
    after: float | None
    """From motor start to the reading (s)."""
    before: Decimal | None
    end: Decimal | None
    """Temperature after the run (°C)."""
    torque: Decimal | None
    display: Decimal | None
    viscosity: Decimal | None
    """Torque times factor; None for a bound and for what cannot be used."""
    bound: str
    """`<` or `>` where the torque was out of its window; else nothing."""
    bound_value: Decimal | None
    text: str
    """As it is to be written."""
    unit: str
    used: bool = False


@dataclass(frozen=True, slots=True)
class Reported:
    """One line of the report. Values are in `unit`; of a ratio it is empty."""

    name: str
    unit: str
    kind: Literal["value", "bound", "none"]
    value: Decimal | None = None
    bound: str = ""
    bound_value: Decimal | None = None
    reported: str = ""
    verdict: Verdict = "none"
    why: str = ""
    lower: Decimal | None = None
    upper: Decimal | None = None
    target: Decimal | None = None
    accepted_lower: Decimal | None = None
    accepted_upper: Decimal | None = None
    decision_rule: str | None = None
    comparison: str | None = None
    increment: Decimal | None = None
    rounding: str | None = None
    statistic: str | None = None
    uncertainty: Decimal | None = None
    values: tuple[Decimal | None, ...] = ()
    range: Decimal | None = None
    range_allowed: Decimal | None = None
    range_unit: str | None = None
    agree: bool | None = None
    torques: tuple[Decimal, ...] = ()
    temperatures: tuple[Decimal, ...] = ()


@dataclass(frozen=True, slots=True)
class Result:
    """What came of one record."""

    record: Record
    method: Method | None
    figures: Figures | None
    digest: str
    sheet: Sheet | None
    """None where no method was found: nothing is understood then."""
    entries: tuple[Understood, ...] = ()
    readings: tuple[Reading, ...] = ()
    results: tuple[Reported, ...] = ()
    steps: tuple[Working, ...] = ()
    qualifiers: str = ""
    findings: tuple[Finding, ...] = ()

    @property
    def stands(self) -> bool:
        """Whether the result stands: no finding is an error."""
        return not any(f.severity.name == "ERROR" for f in self.findings)
