"""`fillmark doctor`: is everything here that is needed."""

from pathlib import Path

import click

from fillmark.commands.console import CLEAN, FINDINGS, home_of, put, workspace_option
from fillmark.doctor import examine


@click.command("doctor")
@workspace_option
def command(workspace: Path | None) -> None:
    """Look whether everything Fillmark needs is here, and say what to do where it is not."""
    lines, healthy = examine(home_of(workspace))
    for line in lines:
        put(line)
    raise SystemExit(CLEAN if healthy else FINDINGS)
