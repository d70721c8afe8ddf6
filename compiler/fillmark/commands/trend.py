"""`fillmark trend`: a method over many results, as charts and tables."""

import re
from collections.abc import Sequence
from pathlib import Path

import click

from fillmark.commands.console import (
    USAGE,
    day,
    exit_code,
    put,
    reference_for,
    tell,
    text_or_json_option,
    today_option,
    workspace_option,
)
from fillmark.diagnostics import Diagnostic, Severity, in_reading_order
from fillmark.pipeline import Compiled
from fillmark.publish import write_whole
from fillmark.trending.measured import collect
from fillmark.trending.told import as_csv, as_json, in_all, text
from fillmark.trending.trends import Trend, trends


@click.command("trend")
@click.argument("results", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@click.option("--method", metavar="ID", default=None, help="Only the results of this method.")
@click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), default=None, metavar="DIR",
    help="Write page, JSON and CSV of each method into this folder.",
)  # fmt: skip
@text_or_json_option
@workspace_option
@today_option
def command(
    results: tuple[Path, ...], method: str | None, out: Path | None, form: str, workspace: Path | None, today: object
) -> None:  # fmt: skip
    """Follow methods over many results: charts with breaks, limits of each segment, run rules.

    RESULTS are JSON Lines or JSON of `fillmark evaluate`, or folders of them. What was changed between two
    results (revision, instrument, spindle, guard, spring, container) breaks the chart; bounds are drawn and never
    averaged.
    """
    reference = reference_for(workspace, results, form)
    collection = collect(results, method=method)
    made, found = trends(collection, least=max(2, int(reference.policy["chart_values"])))
    said = in_reading_order([*collection.diagnostics, *found])
    if form == "json":
        put(as_json(made, collection, said))
    else:
        put(text(made, collection))
        if said:
            put("")
            tell(
                [
                    Compiled(file, tuple(d for d in said if d.file == file))
                    for file in dict.fromkeys(d.file for d in said)
                ],
                {},
            )
    if out is not None:
        from fillmark.trending.page import page  # noqa: PLC0415 - only the page needs the templates

        for trend, name in zip(made, _names(made), strict=True):
            mine = _of(said, trend)
            files = {
                f"{name}-trend.html": page(trend, mine, in_all(collection), today=day(today)),
                f"{name}-trend.json": as_json([trend], collection, mine).encode(),
                f"{name}-trend.csv": as_csv([trend]),
            }
            for file, content in files.items():
                try:
                    write_whole(out / file, content)
                except OSError as error:
                    put(f"{out / file} is not written: {error.strerror or error}.", err=True)
                    raise SystemExit(USAGE) from error
                put(str(out / file), err=form != "text")
    if not collection.results:
        put("There is no result to follow.", err=True)
        raise SystemExit(USAGE)
    raise SystemExit(exit_code(said, Severity.WARNING))


def _of(said: Sequence[Diagnostic], trend: Trend) -> list[Diagnostic]:
    """Give what there is to say of the results of one method, and of files as such."""
    files = {p.file for s in trend.series for p in s.points}
    own = f"{trend.method}"
    return [
        d for d in said
        if (d.code in ("TRD05", "TRD06") and d.message.startswith((f"{own},", f"Results of {own} ")))
        or (d.code not in ("TRD05", "TRD06") and (d.file in files or not d.file))
    ]  # fmt: skip


def _names(made: Sequence[Trend]) -> list[str]:
    """Give each method a file name of its own: ids come from other people's files."""
    names: list[str] = []
    for trend in made:
        plain = re.sub(r"[^A-Za-z0-9._-]", "_", trend.method)[:80].lstrip(".") or "method"
        name, number = plain, 2
        while name.casefold() in {n.casefold() for n in names}:
            name, number = f"{plain}-{number}", number + 1
        names.append(name)
    return names
