"""`fillmark show`: the torque bars and the figures of a method."""

from pathlib import Path

import click

from fillmark.commands.console import (
    compiled_all,
    day,
    exit_code,
    put,
    reference_for,
    tell,
    terminal_width,
    texts,
    workspace_option,
)
from fillmark.diagnostics import Severity
from fillmark.show import show


@click.command("show")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@workspace_option
def command(file: Path, workspace: Path | None) -> None:
    """Show the torque bar of each speed of a method, and every figure with its formula."""
    compiled = compiled_all([file], reference_for(workspace, [file]), day(None))[0]
    if compiled.method is None or compiled.figures is None:
        tell([compiled], texts([compiled]))
        raise SystemExit(exit_code(compiled.diagnostics, Severity.ERROR))
    put(show(compiled.method, compiled.figures, min(terminal_width(), 110)))
