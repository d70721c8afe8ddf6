"""`fillmark build`: methods into papers."""

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import click

from fillmark.commands.console import (
    USAGE,
    compile_contents,
    contents_of,
    day,
    exit_code,
    home_of,
    inputs,
    paths_option,
    progress_wanted,
    put,
    reference_from,
    tell,
    texts,
    today_option,
    workspace_option,
)
from fillmark.diagnostics import Severity
from fillmark.orders import FORMS, KINDS, RECORD, USUAL, Order
from fillmark.pipeline import Compiled, used_twice
from fillmark.publish import building
from fillmark.reference import read_files
from fillmark.releases.register import last_releases
from fillmark.upkeep import Result, build, cannot_write, footing
from fillmark.workers import cores

out_option = click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), default=Path("out"), show_default=True,
    help="Folder for the documents.",
)  # fmt: skip
paper_option = click.option(
    "--paper", type=click.Choice(["policy", "A4", "Letter", "both"]), default="policy", show_default=True,
    help="Paper size; the site policy's unless named.",
)  # fmt: skip
document_option = click.option(
    "--document", "kinds", type=click.Choice((*KINDS, RECORD, *FORMS)), multiple=True,
    help="Document to make; checklist, data sheet, dossier and blank record (CSV) unless named.",
)  # fmt: skip
format_option = click.option(
    "--format", "forms", type=click.Choice(["html", "pdf"]), multiple=True, help="Form to make; both unless named."
)  # fmt: skip
print_date_option = click.option(
    "--print-date", type=click.DateTime(["%Y-%m-%d"]), default=None, metavar="DATE",
    help="Date printed on every page; a box to write in unless given.",
)  # fmt: skip
jobs_option = click.option(
    "--jobs", type=click.IntRange(min=1), default=None, metavar="N",
    help="Documents made at the same time; as many as there are processors unless given.",
)  # fmt: skip


@click.command("build")
@paths_option
@workspace_option
@today_option
@out_option
@paper_option
@document_option
@format_option
@print_date_option
@jobs_option
@click.option(
    "--anew", is_flag=True,
    help="Make every document, also those that are up to date: after a change of fonts or system libraries.",
)  # fmt: skip
def command(
    paths: tuple[Path, ...], workspace: Path | None, today: object, out: Path, paper: str, kinds: tuple[str, ...],
    forms: tuple[str, ...], print_date: object, jobs: int | None, *, anew: bool,
) -> None:  # fmt: skip
    """Check methods and compile those without errors into checklists, data sheets, dossiers and blank records.

    Documents that are up to date are left as they are. Training sheet, competency form and the forms
    verification-log, transfer and investigation are made where they are named with --document.
    """
    order = order_of(paper, kinds, forms, print_date)
    result = bring_up_to_date(inputs(paths), workspace, day(today), out, order, jobs=jobs, anew=anew)
    raise SystemExit(told(result, out))


def order_of(paper: str, kinds: tuple[str, ...], forms: tuple[str, ...], print_date: object) -> Order:
    """Make the order of what was asked for on the command line."""
    return Order(
        papers={"both": ("A4", "Letter"), "policy": ()}.get(paper, (paper,)),
        kinds=tuple(kind for kind in (*KINDS, RECORD, *FORMS) if kind in (kinds or USUAL)),
        forms=tuple(form for form in ("html", "pdf") if form in (forms or ("html", "pdf"))),
        print_date=day(print_date) if print_date is not None else None,
    )


def bring_up_to_date(
    files: Sequence[Path], workspace: Path | None, today: date, out: Path, order: Order, *,
    jobs: int | None, anew: bool = False,
) -> Result:  # fmt: skip
    """Check what is not up to date, tell what was found, and build it, while no other build writes there."""
    home = home_of(workspace, files)
    if home is not None:
        from fillmark.commands.named import register_of  # noqa: PLC0415 - only a laboratory has one

        # What was released decides what a dossier says; where that cannot be known, nothing is built.
        order = replace(order, home=home, released=last_releases(register_of(home)))
    try:
        with building(
            out, lambda: put(f"Another build is writing into {out}; waiting for it to end.", err=True)
        ):
            contents = contents_of(files)
            data, faults = read_files(home)

            def compile_but(standing: Collection[str]) -> list[Compiled]:
                rest = {name: content for name, content in contents.items() if name not in standing}
                if not rest:
                    return []
                return used_twice(compile_contents(rest, reference_from(data, faults, home), today))

            return build(
                {name: content for name, content in contents.items() if isinstance(content, bytes)},
                compile_but, out, order, rests_on=footing(order, data), anew=anew or bool(faults),
                jobs=jobs or cores(), progress=progress_wanted(),
            )  # fmt: skip
    except OSError as error:
        return Result(problems=[cannot_write(out, error)])


def told(result: Result, out: Path) -> int:
    """Tell what a build found and did; gives the exit code."""
    done = result.compiled
    found = [d for c in done for d in c.diagnostics]
    if found:
        tell(done, texts(done))
    for name in result.withdrawn:
        put(f"taken away: {out / name} (no longer what its method gives)", err=True)
    for problem in result.problems:
        put(f"error: {problem}", err=True)
    for path in result.written:
        put(str(path))
    if result.standing:
        put(f"up to date: the papers of {result.standing} method{'' if result.standing == 1 else 's'}")
    stopped = [c.file for c in done if not c.clean]
    if stopped:
        put(f"not built, because of errors: {', '.join(stopped)}", err=True)
    if result.problems:
        return USAGE
    return exit_code([d for d in found if d.blocks], Severity.ERROR)
