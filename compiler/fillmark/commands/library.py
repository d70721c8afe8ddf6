"""`fillmark library`: what only shows in several methods together."""

from dataclasses import replace
from pathlib import Path

import click

from fillmark.commands.console import (
    compiled_all,
    day,
    exit_code,
    inputs,
    paths_option,
    put,
    reference_for,
    tell,
    texts,
    today_option,
    workspace_option,
)
from fillmark.diagnostics import Severity
from fillmark.library import examine
from fillmark.report import FORMS


@click.command("library")
@paths_option
@workspace_option
@today_option
@click.option(
    "--format", "form", type=click.Choice(["text", *FORMS]), default="text", help="How findings are written."
)
def command(paths: tuple[Path, ...], workspace: Path | None, today: object, form: str) -> None:
    """Look at all methods together: one product under two conditions, near-duplicates, waivers everywhere."""
    files = inputs(paths)
    reference = reference_for(workspace, files, form)
    done = compiled_all(files, reference, day(today))
    together = examine(done)
    apart = [replace(c, diagnostics=tuple(d for d in together if d.file == c.file)) for c in done]
    tell(apart, texts(apart), form)
    unjudged = [c.file for c in done if c.method is None]
    if unjudged:
        put(f"left out, because they cannot be read: {', '.join(unjudged)} (see fillmark check)", err=True)
    raise SystemExit(exit_code(together, Severity.WARNING))
