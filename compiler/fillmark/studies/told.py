"""The outcome of a study as text for a terminal and as JSON (`schemas/study.schema.json`)."""

import json
import textwrap
from collections.abc import Iterator
from typing import Any

from fillmark import __version__
from fillmark.digest import digest
from fillmark.model import Method, Policy
from fillmark.quantities import brief, fixed
from fillmark.report.json import as_data, tally
from fillmark.studies import Grid, Outcome, Value
from fillmark.terminal import plain_ascii

WIDTH = 100
MOST_ROWS = 40
"""Rows of a table that a terminal is given; JSON has all."""
MOST_FIGURES = 24
"""Figures that a terminal is given: with several materials the tables say the same."""


def as_text(outcome: Outcome, method: Method | None, *, ascii_only: bool) -> str:
    """Write an outcome for a terminal, findings apart."""
    text = "\n".join(_lines(outcome, method))
    return plain_ascii(text) if ascii_only else text


def _lines(outcome: Outcome, method: Method | None) -> Iterator[str]:
    table = outcome.table
    of = "" if method is None else f", {method.id} revision {method.revision}"
    yield f"{outcome.title}: {table.name}{of}"
    yield from _wrapped(outcome.said)
    left = f", {table.left_out} left out" if table.left_out else ""
    yield f"{outcome.used} rows used{left}; sha256 {table.digest[:16]}"
    for remark in table.remarks:
        yield from _wrapped(f"# {remark}")
    for name, value in outcome.settings:
        yield from _wrapped(f"{name}: {value}", "    ")
    for grid in outcome.grids:
        yield ""
        yield from grid_lines(grid)
    yield ""
    if len(outcome.figures) > MOST_FIGURES:
        yield f"{len(outcome.figures)} figures with their formulas: --format json, or --page."
    for figure in outcome.figures if len(outcome.figures) <= MOST_FIGURES else ():
        yield from _wrapped(f"{figure.title}: {figure.text}   [{figure.formula}]", "    ")
    if outcome.points:
        yield ""
        for point in outcome.points:
            yield from _wrapped(point, "  ", "- ")
    if outcome.proposals:
        yield ""
        for proposal in outcome.proposals:
            where = ".".join(str(p) for p in proposal.path)
            yield from _wrapped(f"For the method: {where}: {proposal.text}  ({proposal.why})", "    ")


def cells(grid: Grid, most: int) -> list[list[str]]:
    """Write the cells of the first rows of a table as texts."""
    decimals = [dict(grid.decimals).get(h) for h in grid.headings]
    return [[cell_text(v, d) for v, d in zip(row, decimals, strict=True)] for row in grid.rows[:most]]


def grid_lines(grid: Grid) -> Iterator[str]:
    """Write a table in columns."""
    shown = cells(grid, MOST_ROWS)
    widths = [
        max(len(h), *(len(row[i]) for row in shown)) if shown else len(h) for i, h in enumerate(grid.headings)
    ]
    numeric = [all(not isinstance(row[i], str) for row in grid.rows) for i in range(len(grid.headings))]

    def put(cells: list[str]) -> str:
        pairs = zip(cells, widths, numeric, strict=True)
        return "  ".join(c.rjust(w) if n else c.ljust(w) for c, w, n in pairs).rstrip()

    yield grid.title
    yield put(list(grid.headings))
    for row in shown:
        yield put(row)
    if len(grid.rows) > MOST_ROWS:
        yield f"... and {len(grid.rows) - MOST_ROWS} more rows; --format json has all."
    for remark in grid.notes:
        yield from _wrapped(remark, "  ", "  ")


def cell_text(value: Value, decimals: int | None = None) -> str:
    """Write a cell with at most four significant digits, whole numbers in full; nothing where there is nothing."""
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    return brief(value, max(4, len(str(int(abs(value)))))) if decimals is None else fixed(value, decimals)


def _wrapped(text: str, indent: str = "", lead: str = "") -> Iterator[str]:
    yield from textwrap.wrap(
        text,
        WIDTH,
        initial_indent=lead,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def as_json(outcome: Outcome, method: Method | None, policy: Policy, day: str) -> str:
    """Write all of an outcome as JSON."""
    table = outcome.table
    whole: dict[str, Any] = {
        "fillmark": __version__,
        "kind": outcome.kind,
        "title": outcome.title,
        "evaluated": day,
        "policy": policy.version,
        "data": {
            "file": table.name, "sha256": table.digest, "used": outcome.used, "left_out": table.left_out,
            "bounds": table.bounds, "units": dict(table.units), "ignored": list(table.ignored),
            "remarks": list(table.remarks),
        },
        "method": None
        if method is None
        else {"id": method.id, "revision": method.revision, "file": method.file, "digest": digest(method)},
        "settings": dict(outcome.settings),
        "verdict": outcome.verdict,
        "said": outcome.said,
        "figures": [
            {
                "key": f.key, "title": f.title, "value": f.value, "unit": f.unit, "text": f.text,
                "formula": f.formula, "inputs": {name: str(value) for name, value in f.inputs},
                "sources": list(f.sources),
            }
            for f in outcome.figures
        ],
        "tables": [
            {
                "key": g.key, "title": g.title, "headings": list(g.headings), "rows": [list(r) for r in g.rows],
                "notes": list(g.notes),
            }
            for g in outcome.grids
        ],
        "plots": [
            {
                "key": p.key, "title": p.title, "x": p.x, "y": p.y,
                "series": [
                    {"name": s.name, "kind": s.kind, "points": [list(at) for at in s.points]} for s in p.series
                ],
                "levels": [{"name": name, "value": value} for name, value in p.levels],
                "ticks": [{"at": at, "name": name} for at, name in p.ticks],
            }
            for p in outcome.plots
        ],
        "points": list(outcome.points),
        "proposals": [
            {"path": ".".join(str(k) for k in p.path), "value": p.text, "why": p.why, "evidence": p.evidence}
            for p in outcome.proposals
        ],
        "found": tally(outcome.diagnostics),
        "diagnostics": [as_data(d) for d in outcome.diagnostics],
    }  # fmt: skip
    return json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False)
