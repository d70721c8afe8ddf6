"""`fillmark packs`: training sheet, competency form and training checklist for each trainee of a list."""

from pathlib import Path

import click

from fillmark.commands.console import (
    CLEAN,
    FINDINGS,
    USAGE,
    day,
    progress_wanted,
    put,
    tell,
    today_option,
    workspace_option,
)
from fillmark.commands.named import compiled_of
from fillmark.diagnostics import Severity
from fillmark.files import read_at_most
from fillmark.pipeline import Compiled
from fillmark.printing import PrintingFailed, PrintingUnavailable
from fillmark.training.packs import INDEX, make, read_roster


@click.command("packs")
@click.argument("method")
@click.argument("names", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), default=None,
    help="Folder for the packs; out/packs/ and the method unless named.",
)  # fmt: skip
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default=None, help="Paper size; the site policy's unless given."
)  # fmt: skip
@today_option
@workspace_option
def command(
    method: str, names: Path, out: Path | None, paper: str | None, today: object, workspace: Path | None
) -> None:
    """Make a pack for each trainee of a list: training sheet, competency form, checklist marked TRAINING.

    METHOD is a method file or the name of a release; NAMES is a CSV with a column name, perhaps id and language.
    Each pack is one PDF with the name up its margin; index.csv lists them. Exit code 0 made, 1 made without some
    lines of the list, 2 nothing made.
    """
    on = day(today)
    compiled, _ = compiled_of(method, workspace, on)
    known = compiled.method
    if known is None:
        raise ValueError("a method that did not compile was let through")
    try:
        roster = read_roster(read_at_most(names), str(names))
    except OSError as error:
        raise click.UsageError(f"{names} cannot be read: {error.strerror}.") from error
    if roster.diagnostics:
        tell([Compiled(str(names), roster.diagnostics)], {})
    if not roster.trainees:
        put("No pack was made: there is nobody to make one for.", err=True)
        raise SystemExit(USAGE)
    folder = out or Path("out") / "packs" / f"{known.id}-r{known.revision}"
    size = paper or known.reference.policy.choices["paper"]
    done = 0
    try:
        for pack in make(compiled, roster, folder, paper=size, print_date=on):
            done += 1
            if progress_wanted():
                put(f"{done} of {len(roster.trainees)}: {pack.file.name}", err=True)
    except (PrintingUnavailable, PrintingFailed) as error:
        raise click.ClickException(f"The packs are not made: {error}") from error
    except OSError as error:
        raise click.ClickException(
            f"{error.filename or folder} cannot be written: {error.strerror}. {done} of {len(roster.trainees)} "
            f"packs are "
            f"there, and no {INDEX}; run the same command again once the way is free."
        ) from error
    put(
        f"{done} pack{'' if done == 1 else 's'}, {INDEX} and the answers for trainer and assessor in {folder}"
    )
    raise SystemExit(FINDINGS if any(d.severity >= Severity.WARNING for d in roster.diagnostics) else CLEAN)
