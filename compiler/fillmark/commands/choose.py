"""`fillmark choose`: spring, spindle and speed for a specification."""

from dataclasses import replace
from pathlib import Path

import click

from fillmark.choose import (
    Chosen,
    Glued,
    as_json,
    asked,
    choose,
    faults,
    name_of,
    picked,
    put_in,
    still_open,
    told,
    wishes,
)
from fillmark.commands.console import (
    CLEAN,
    FINDINGS,
    USAGE,
    day,
    each,
    put,
    reference_for,
    tell,
    texts,
    workspace_option,
)
from fillmark.fix import diff, write
from fillmark.insert import CannotWriteError
from fillmark.pipeline import Compiled
from fillmark.terminal import summary


@click.command("choose", cls=Glued)
@click.argument("file", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@workspace_option
@click.option("--step", metavar="NAME", help="Step of the run to choose for, where there are several.")
@click.option(
    "--lower", metavar="VISCOSITY", help="Lower limit, such as 8.0 Pa·s; that of the file unless given."
)
@click.option("--upper", metavar="VISCOSITY", help="Upper limit, such as 12.0 Pa·s.")
@click.option("--sensitivity", metavar="%/K", help="Fall of viscosity with temperature, such as 2.0 %/K.")
@click.option("--tolerance", metavar="K", help="Tolerance of the test temperature, such as 0.5 K.")
@click.option(
    "--behaviour", metavar="WORD", help="newtonian, shear-thinning, thixotropic, yield-stress or unknown."
)
@click.option(
    "--density", metavar="DENSITY", help="Density, such as 1.42 g/mL; without it the flow is not judged."
)
@click.option("--readout", metavar="WORD", help="dial or digital; any unless given.")
@click.option("--coupling", metavar="KEY", help="Coupling; any unless given.")
@click.option(
    "--guard", metavar="WORD", help="required, not-used or not-applicable; what suits unless given."
)
@click.option(
    "--container", metavar="KEY", help="Container; that which the coefficient holds for unless given."
)
@click.option("--accuracy", metavar="% FS", help="Of the instrument, such as 1 % of full scale.")
@click.option("--particle", metavar="SIZE", help="Largest particle, such as 100 µm.")
@click.option(
    "-n", "top", type=click.IntRange(min=1), default=10, show_default=True, help="How many to show."
)
@click.option("--all", "every", is_flag=True, help="Show all that pass.")
@click.option("--losers", is_flag=True, help="Name each that loses, with all its reasons.")
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
    help="How the choice is written.",
)  # fmt: skip
@click.option(
    "--write", "target", is_flag=False, flag_value=Path(), metavar="[FILE]",
    type=click.Path(path_type=Path), help="Put the best, or the one picked, into the method file.",
)  # fmt: skip
@click.option("--pick", type=int, metavar="N", help="With --write: the one of this rank.")
@click.option("--preview", is_flag=True, help="With --write: show the change as a diff and write nothing.")
def command(
    file: Path | None, workspace: Path | None, step: str | None, top: int, form: str, target: Path | None,
    pick: int | None, *, every: bool, losers: bool, preview: bool, **flags: str | None,
) -> None:  # fmt: skip
    """Rank every spring, spindle and speed of the laboratory for a specification, and say why others lose.

    The specification comes from a method FILE, however much of it is written yet, from the flags, or from
    both: a flag stands above the file. Exit code 0 if something passes, 1 if nothing does.
    """
    if target is None and (preview or pick is not None):
        raise click.UsageError("--preview and --pick say how to --write; write that too.")
    if target not in (None, Path()):
        if file is not None and file != target:
            raise click.UsageError(f"The choice is made for {file}, not for {target}. Name one of them.")
        file = target
    reference = reference_for(workspace, [file] if file is not None else [])
    compiled = each([file], reference, day(None))[0] if file is not None else None
    if compiled is not None:
        found = compiled.diagnostics if compiled.source is None else faults(compiled.source, reference)
        if found:
            tell([replace(compiled, diagnostics=tuple(found))], texts([compiled]))
            raise SystemExit(USAGE)
    source = compiled.source if compiled is not None else None
    chosen = choose(asked(source, wishes(flags, reference), step, reference))
    lines = (
        [as_json(chosen)] if form == "json" else told(chosen, top=None if every else top, every_loser=losers)
    )
    for line in lines:
        put(line)
    if target is not None and chosen.winners:
        if compiled is None:
            raise click.UsageError("--write needs a method file to write into.")
        _write_choice(compiled, chosen, pick, preview=preview, quiet=form != "text")
    raise SystemExit(CLEAN if chosen.winners else FINDINGS)


def _write_choice(
    compiled: Compiled, chosen: "Chosen", pick: int | None, *, preview: bool, quiet: bool
) -> None:
    """Put a choice into its file, or show how, and say what the check then finds; ends the run on failure."""
    one = picked(chosen, pick)
    try:
        mended = put_in(compiled, chosen.asked, one, day(None))
        if not preview:
            write(mended)
    except (CannotWriteError, OSError) as error:
        why = error.strerror or str(error) if isinstance(error, OSError) else str(error)
        put(f"{compiled.file} is not written: {why}.", err=True)
        raise SystemExit(USAGE) from error
    if not quiet:
        put("")
    for line in diff(mended) if preview else ():
        put(line, err=quiet)
    if preview:
        found = summary(mended.after.diagnostics, 1)
        put(f"Nothing was written. What the check would leave: {found}", err=True)
        return
    if not mended.fixes:
        put(f"{compiled.file} has {name_of(one)} already.", err=quiet)
    for fix in mended.fixes:
        put(f"written {compiled.file}:{fix.line}: {fix.why}", err=quiet)
    rests_on = still_open(chosen.asked, one)
    if rests_on is not None:
        put(f"not written, and yours to say: {rests_on}", err=quiet)
    if quiet:
        put(f"What the check finds: {summary(mended.after.diagnostics, 1)}", err=True)
    else:
        put("What the check now finds:")
        tell([mended.after], texts([mended.after]))
