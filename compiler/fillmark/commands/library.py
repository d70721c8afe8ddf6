"""`fillmark library`: what only shows in several methods together, and where each of them stands."""

from dataclasses import replace
from pathlib import Path

import click

from fillmark.commands.console import (
    USAGE,
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
from fillmark.files import CODES as UNREADABLE
from fillmark.library import examine
from fillmark.publish import write_whole
from fillmark.report import FORMS
from fillmark.workspace import find_workspace


@click.command("library")
@paths_option
@workspace_option
@today_option
@click.option(
    "--format", "form", type=click.Choice(["text", *FORMS]), default="text", help="How findings are written."
)
@click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), default=None, metavar="DIR",
    help="Also write library.html, methods.csv and equipment.csv into this folder.",
)  # fmt: skip
def command(
    paths: tuple[Path, ...], workspace: Path | None, today: object, form: str, out: Path | None
) -> None:
    """Look at all methods together: one product under two conditions, near-duplicates, waivers everywhere.

    With --out, an index of them as a page and as tables: status, revision, review, findings, instruments, and
    what becomes of the methods if a piece of equipment is withdrawn.
    """
    files = inputs(paths)
    reference = reference_for(workspace, files, form)
    done = compiled_all(files, reference, day(today))
    together = examine(done)
    apart = [replace(c, diagnostics=tuple(d for d in together if d.file == c.file)) for c in done]
    tell(apart, texts(apart), form)
    unjudged = [c.file for c in done if c.method is None]
    if unjudged:
        put(f"left out, because they cannot be read: {', '.join(unjudged)} (see fillmark check)", err=True)
    if out is not None:
        from fillmark import catalogue  # noqa: PLC0415 - only the page needs the templates
        from fillmark.commands.named import register_of  # noqa: PLC0415 - idem

        home = (workspace or find_workspace(files[0]) or Path()).resolve()
        try:
            newest: dict[str, int] = {}
            for entry in register_of(home).of_kind("release"):
                newest[entry.data["id"]] = max(entry.data["revision"], newest.get(entry.data["id"], 0))
            methods = catalogue.entries(done, newest, day(today))
            equipment = catalogue.pieces(done, reference)
            made = {
                "library.html": catalogue.page(methods, equipment, together, home.name, day(today)),
                "methods.csv": catalogue.methods_csv(methods),
                "equipment.csv": catalogue.equipment_csv(equipment),
            }
            for name, content in made.items():
                write_whole(out / name, content)
                put(str(out / name), err=form != "text")
        except OSError as error:
            put(f"The index is not written: {error.filename or out}: {error.strerror}.", err=True)
            raise SystemExit(USAGE) from error
    unopened = [d for c in done for d in c.diagnostics if d.code in UNREADABLE]
    raise SystemExit(exit_code([*together, *unopened], Severity.WARNING))
