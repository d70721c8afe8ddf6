"""`fillmark misuse`: what each slip at the bench does to the result."""

import sys
from pathlib import Path

import click

from fillmark.budgets import explanation_text, misuse_json, misuse_text, read_shift
from fillmark.commands.console import (
    ascii_wanted,
    put,
    step_option,
    steps_of,
    text_or_json_option,
    workspace_option,
)


@click.command("misuse")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@workspace_option
@step_option
@click.option(
    "--shift", metavar="PERCENT", help="Backwards: which slips explain a result off by so much, as -9 %."
)
@text_or_json_option
def command(file: Path, workspace: Path | None, name: str | None, shift: str | None, form: str) -> None:
    """Say what each slip at the bench does to the result, and whether a wrong batch would then pass."""
    try:
        seen = None if shift is None else read_shift(shift)
    except ValueError as error:
        raise click.UsageError(str(error)) from error
    method, figures, steps = steps_of(file, workspace, name, form)
    if form == "json":
        put(misuse_json(method, figures, steps, seen).encode())
        return
    plain = ascii_wanted(sys.stdout.encoding)
    texts = [
        misuse_text(method, figures, step, ascii_only=plain) if seen is None
        else explanation_text(method, figures, step, seen, ascii_only=plain)
        for step in steps
    ]  # fmt: skip
    put("\n\n\n".join(texts))
