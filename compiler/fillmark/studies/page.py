"""The page of a study: what it says, charts, tables, and every number with its formula and source."""

from dataclasses import dataclass

from fillmark import __version__
from fillmark.documents import Picture
from fillmark.documents.study_chart import Run, study_chart
from fillmark.model import Method, Reference
from fillmark.render import templates
from fillmark.studies import Grid, Outcome
from fillmark.studies.told import cells

ROWS = 60
"""Rows of a table on the page; what is more is told and stands in the JSON."""
DRAWN = 12
"""Charts on one page."""
SAID = 40


@dataclass(frozen=True, slots=True)
class Shown:
    """A table on the page: headings, rows, and how many rows are not there."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    more: int
    notes: tuple[str, ...]


def page(outcome: Outcome, method: Method | None, reference: Reference, day: str) -> bytes:
    """Make the page as one HTML file without a script."""
    sources = sorted({s for f in outcome.figures for s in f.sources})
    return (
        templates()
        .get_template("study.html")
        .render(
            outcome=outcome,
            method=method,
            demonstration=method is not None and method.demonstration,
            grids=[_shown(g) for g in outcome.grids if g.rows],
            pictures_drawn=_pictures(outcome),
            figures=outcome.figures[: 2 * ROWS],
            unshown=max(0, len(outcome.figures) - 2 * ROWS),
            sources=[reference.sources[s] for s in sources if s in reference.sources],
            said=outcome.diagnostics[:SAID],
            unsaid=max(0, len(outcome.diagnostics) - SAID),
            day=day,
            policy=reference.policy.version,
            version=__version__,
        )
        .encode()
    )


def _shown(grid: Grid) -> Shown:
    rows = tuple(tuple(row) for row in cells(grid, ROWS))
    return Shown(grid.title, grid.headings, rows, max(0, len(grid.rows) - ROWS), grid.notes)


def _pictures(outcome: Outcome) -> list[Picture]:
    drawn = [
        study_chart(
            name=f"chart-{number}", title=plot.title, x=plot.x, y=plot.y,
            runs=[Run(s.name, s.kind == "line", s.points) for s in plot.series], levels=plot.levels,
            ticks=plot.ticks,
        )
        for number, plot in enumerate(outcome.plots[:DRAWN], 1)
    ]  # fmt: skip
    return [picture for picture in drawn if picture is not None]
