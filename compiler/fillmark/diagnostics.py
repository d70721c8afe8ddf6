"""What Fillmark says about a file: one diagnostic, its place, and the ways out.

The values here are shared by every stage and by every output form (terminal, JSON). How they are drawn
belongs to `terminal.py`; which rule says what belongs to `rules/`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

Path = tuple[str | int, ...]
"""Where a value stands in a method: `("run", 1, "speed")`."""


class Severity(IntEnum):
    """How much a finding weighs; larger is worse."""

    ADVICE = 1
    WARNING = 2
    ERROR = 3

    @property
    def word(self) -> str:
        """The word printed for it: `advice`, `warning`, `error`."""
        return self.name.lower()


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """A stretch of text: lines and columns count from 1, in characters; the end column is exclusive."""

    line: int
    column: int
    end_line: int
    end_column: int


@dataclass(frozen=True, slots=True)
class Related:
    """Another place that takes part in the finding: the limit here, the spindle there."""

    note: str
    path: Path
    span: Span | None = None


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """One thing to tell the author about one place of one file."""

    code: str
    slug: str
    severity: Severity
    message: str
    file: str
    span: Span
    path: Path = ()
    ways_out: tuple[str, ...] = ()
    related: tuple[Related, ...] = ()
    waived_by: str | None = None

    @property
    def blocks(self) -> bool:
        """Whether this diagnostic keeps the method from being compiled."""
        return self.severity is Severity.ERROR and self.waived_by is None


def in_reading_order(diagnostics: Sequence[Diagnostic]) -> list[Diagnostic]:
    """Sort by file, then place, then weight (worst first), then code: the same input reads the same."""
    return sorted(diagnostics, key=lambda d: (d.file, d.span, -d.severity, d.code, d.message))
