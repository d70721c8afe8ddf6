"""`fillmark explain`: a code, and what it found in a file."""

from pathlib import Path

import click

from fillmark.commands.console import USAGE, compiled_all, day, put, reference_for, workspace_option
from fillmark.explain import explain
from fillmark.files import CODES as UNREADABLE


@click.command("explain")
@click.argument("code")
@click.argument("file", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@workspace_option
def command(code: str, file: Path | None, workspace: Path | None) -> None:
    """Explain a code, such as TRQ01; with a file, what it found there and the numbers behind it."""
    compiled = None
    if file is not None:
        reference = reference_for(workspace, [file])
        compiled = compiled_all([file], reference, day(None))[0]
    text = explain(code, compiled)
    if text is None:
        from fillmark.explain import close_codes  # noqa: PLC0415

        near = ", ".join(close_codes(code))
        raise click.UsageError(
            f"There is no code {code}.{f' Near it: {near}.' if near else ''} All of them: fillmark explain list"
        )
    put(text)
    if compiled is not None and any(d.code in UNREADABLE for d in compiled.diagnostics):
        raise SystemExit(USAGE)
