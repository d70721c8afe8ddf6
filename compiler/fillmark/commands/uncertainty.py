"""`fillmark uncertainty`: the uncertainty budget of a result."""

import sys
from pathlib import Path

import click

from fillmark.budgets import uncertainty_json, uncertainty_text
from fillmark.commands.console import (
    ascii_wanted,
    put,
    step_option,
    steps_of,
    text_or_json_option,
    workspace_option,
)


@click.command("uncertainty")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@workspace_option
@step_option
@text_or_json_option
def command(file: Path, workspace: Path | None, name: str | None, form: str) -> None:
    """Lay out the uncertainty of a result: what goes in, how it adds up, and what the decision rule makes of it."""
    method, figures, steps = steps_of(file, workspace, name, form)
    if form == "json":
        put(uncertainty_json(method, figures, steps).encode())
        return
    plain = ascii_wanted(sys.stdout.encoding)
    put("\n\n\n".join(uncertainty_text(method, figures, step, ascii_only=plain) for step in steps))
