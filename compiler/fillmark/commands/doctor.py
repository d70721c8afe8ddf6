"""`fillmark doctor`: is everything here that is needed."""

from pathlib import Path

import click

from fillmark.commands.console import CLEAN, FINDINGS, put, workspace_option
from fillmark.doctor import examine
from fillmark.workspace import find_workspace


@click.command("doctor")
@workspace_option
def command(workspace: Path | None) -> None:
    """Look whether everything Fillmark needs is here, and say what to do where it is not."""
    lines, healthy = examine(workspace or find_workspace(Path()))
    for line in lines:
        put(line)
    raise SystemExit(CLEAN if healthy else FINDINGS)
