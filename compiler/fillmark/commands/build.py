"""`fillmark build`: methods into papers."""

from pathlib import Path

import click

from fillmark.build import USUAL, Order, build
from fillmark.commands.console import (
    USAGE,
    compiled_all,
    day,
    exit_code,
    inputs,
    paths_option,
    progress_wanted,
    put,
    reference_for,
    tell,
    texts,
    today_option,
    workspace_option,
)
from fillmark.diagnostics import Severity


@click.command("build")
@paths_option
@workspace_option
@today_option
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("out"),
    show_default=True,
    help="Folder for the documents.",
)
@click.option(
    "--paper",
    type=click.Choice(["policy", "A4", "Letter", "both"]),
    default="policy",
    show_default=True,
    help="Paper size; the site policy's unless named.",
)
@click.option(
    "--document",
    "kinds",
    type=click.Choice(["checklist", "data-sheet", "dossier", "training", "competency"]),
    multiple=True,
    help="Document to make; checklist, data sheet and dossier unless named.",
)
@click.option(
    "--format",
    "forms",
    type=click.Choice(["html", "pdf"]),
    multiple=True,
    help="Form to make; both unless named.",
)
@click.option(
    "--print-date",
    type=click.DateTime(["%Y-%m-%d"]),
    default=None,
    metavar="DATE",
    help="Date printed on every page; a box to write in unless given.",
)
def command(
    paths: tuple[Path, ...], workspace: Path | None, today: object, out: Path, paper: str, kinds: tuple[str, ...],
    forms: tuple[str, ...], print_date: object,
) -> None:  # fmt: skip
    """Check methods and compile those without errors into checklists, data sheets and dossiers.

    The training sheet and the competency form are made where they are named with --document.
    """
    files = inputs(paths)
    reference = reference_for(workspace, files)
    done = compiled_all(files, reference, day(today))
    found = [d for c in done for d in c.diagnostics]
    if found:
        tell(done, texts(done))
    papers = (
        ("A4", "Letter")
        if paper == "both"
        else (reference.policy.choices["paper"] if paper == "policy" else paper,)
    )
    order = Order(
        papers=papers,
        kinds=kinds or USUAL,
        forms=forms or ("html", "pdf"),
        print_date=day(print_date) if print_date is not None else None,
    )
    result = build(done, out, order, progress=progress_wanted())
    for name in result.withdrawn:
        put(f"taken away: {out / name} (no longer what its method gives)", err=True)
    for problem in result.problems:
        put(f"error: {problem}", err=True)
    for path in result.written:
        put(str(path))
    stopped = [c.file for c in done if not c.clean]
    if stopped:
        put(f"not built, because of errors: {', '.join(stopped)}", err=True)
    if result.problems:
        raise SystemExit(USAGE)
    raise SystemExit(exit_code([d for d in found if d.blocks], Severity.ERROR))
