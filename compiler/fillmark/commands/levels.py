"""`fillmark levels`: who holds which level on which method, what lapsed, what is due."""

import sys
from pathlib import Path

import click

from fillmark.commands.console import (
    CLEAN,
    FINDINGS,
    ascii_wanted,
    day,
    put,
    reference_for,
    text_or_json_option,
    today_option,
    workspace_option,
)
from fillmark.commands.named import laboratory, register_of
from fillmark.names import known_as
from fillmark.training.levels import LAPSED, holdings, levels_json, levels_text, uses_in


@click.command("levels")
@click.argument("method", required=False)
@click.option("--person", metavar="NAME", help="Show one person only.")
@click.option(
    "--within", type=click.IntRange(0, 3660), default=None, metavar="DAYS",
    help="What ends within so many days is due; as the site policy says unless given.",
)  # fmt: skip
@click.option(
    "--results", type=click.Path(exists=True, path_type=Path), multiple=True,
    help="Evaluated results (files or folders): they show who ran what when.",
)  # fmt: skip
@today_option
@workspace_option
@text_or_json_option
def command(
    method: str | None, person: str | None, within: int | None, results: tuple[Path, ...], today: object,
    workspace: Path | None, form: str,
) -> None:  # fmt: skip
    """Show who holds which level on which method, what lapsed and why, and what is due.

    METHOD shows one method only, by its id. Exit code 0 if nothing lapsed and nothing is due, 1 otherwise.
    """
    home = laboratory(workspace)
    on = day(today)
    known = register_of(home)
    policy = reference_for(home, []).policy
    limit = int(policy["competency_due"] // 86_400) if within is None else within
    uses = None
    if results:
        from fillmark.trending.measured import collect  # noqa: PLC0415 - only where results were named

        collected = collect(results)
        for d in collected.diagnostics:
            put(f"{d.file}:{d.span.line}: {d.code} {d.message}", err=True)
        uses = uses_in(collected.measured, on)
    found = [
        h
        for h in holdings(home, known, policy, on, within=limit, uses=uses)
        if method in (None, h.method) and (person is None or known_as(person) == known_as(h.person))
    ]
    if form == "json":
        put(levels_json(found, on, limit).encode())
    else:
        put(levels_text(found, on, limit, ascii_only=ascii_wanted(sys.stdout.encoding)))
    raise SystemExit(FINDINGS if any(h.due or h.state == LAPSED for h in found) else CLEAN)
