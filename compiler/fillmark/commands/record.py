"""`fillmark record`: an empty record of a method, to be filled in."""

from pathlib import Path

import click

from fillmark.commands.console import (
    USAGE,
    compiled_all,
    exit_code,
    inputs,
    paths_option,
    put,
    reference_for,
    tell,
    texts,
    workspace_option,
)
from fillmark.diagnostics import Severity
from fillmark.digest import digest
from fillmark.publish import write_whole
from fillmark.records import template

FORMS = {"csv": template.as_csv, "xlsx": template.as_xlsx, "json": template.as_json}


@click.command("record")
@paths_option
@workspace_option
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("records"),
    show_default=True,
    help="Folder for the records.",
)
@click.option(
    "--form", "forms", type=click.Choice(list(FORMS)), multiple=True, help="Form to write; csv unless named."
)
def command(paths: tuple[Path, ...], workspace: Path | None, out: Path, forms: tuple[str, ...]) -> None:
    """Write an empty record for each method without errors: the data sheet as a file to fill in.

    A file that is there already is left as it is, for somebody may have begun to fill it in.
    """
    files = inputs(paths)
    done = compiled_all(files, reference_for(workspace, files), None)
    found = [d for c in done for d in c.diagnostics if d.blocks]
    if found:
        tell([c for c in done if not c.clean], texts(done))
    well = True
    for one in done:
        if not one.clean or one.method is None or one.figures is None:
            continue
        for form in forms or ("csv",):
            file = out / f"{one.method.id}-r{one.method.revision}-record.{form}"
            try:
                write_whole(file, FORMS[form](one.method, one.figures, digest(one.method)), replace=False)
            except FileExistsError:
                put(f"{file} is there already and was left as it is.", err=True)
                well = False
            except ImportError:
                put(
                    "Writing XLSX needs openpyxl: pip install 'fillmark[xlsx]'. Or take --form csv.", err=True
                )
                raise SystemExit(USAGE) from None
            except OSError as error:
                put(f"error: {file} cannot be written: {error.strerror}.", err=True)
                raise SystemExit(USAGE) from error
            else:
                put(str(file))
    raise SystemExit(exit_code(found, Severity.ERROR) if well else USAGE)
