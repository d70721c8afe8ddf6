"""`fillmark compare`: two revisions by meaning."""

import sys
from pathlib import Path

import click

from fillmark.commands.console import (
    CLEAN,
    FINDINGS,
    USAGE,
    ascii_wanted,
    day,
    each,
    put,
    reference_for,
    tell,
    texts,
    workspace_option,
)
from fillmark.compare import compare
from fillmark.compared import compared_json, compared_text


@click.command("compare")
@click.argument("before", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("after", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@workspace_option
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
    help="How the comparison is written.",
)  # fmt: skip
def command(before: Path, after: Path, workspace: Path | None, form: str) -> None:
    """Compare two revisions by meaning: what changed, what it does, and what it triggers.

    BEFORE is the file of the earlier revision, AFTER that of the later one. Exit code 0 if nothing technical
    changed and nothing is found, 1 otherwise, 2 if a file cannot be compiled.
    """
    files = [before, after]
    one, two = each(files, reference_for(workspace, files, form), day(None))
    stopped = [c for c in (one, two) if c.method is None]
    if stopped:
        if form == "text":
            tell(stopped, texts(stopped))
        else:
            # On the error stream, so that what reads a comparison is never handed findings in its place.
            lines = (f"{d.file}:{d.span.line}: {d.code} {d.message}" for c in stopped for d in c.diagnostics)
            put("\n".join(lines), err=True)
        names = " and ".join(c.file for c in stopped)
        put(f"There is no comparison: {names} must be readable first.", err=True)
        raise SystemExit(USAGE)
    compared = compare(one, two)
    if form == "json":
        put(compared_json(compared).encode())
    else:
        put(compared_text(compared, ascii_only=ascii_wanted(sys.stdout.encoding)))
    raise SystemExit(FINDINGS if compared.technical or compared.found else CLEAN)
