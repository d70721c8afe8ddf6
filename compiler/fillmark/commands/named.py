"""What the commands on people and copies have in common: a method by its file or its release, and names."""

from datetime import date
from pathlib import Path
from typing import NoReturn

import click

from fillmark.commands.console import USAGE, each, home_of, put, reference_for, tell, texts
from fillmark.diagnostics import Diagnostic
from fillmark.pipeline import Compiled
from fillmark.read import unseen_in
from fillmark.releases import earlier, register
from fillmark.releases.bundle import compile_bundle, stem
from fillmark.releases.register import Register, RegisterError

LONGEST = 200


def laboratory(workspace: Path | None, file: Path | None = None) -> Path:
    """Give the folder of the laboratory; wrong use where there is none."""
    home = home_of(workspace, [] if file is None else [file])
    if home is None:
        raise click.UsageError(
            "This is no laboratory's folder (one with shared/ in it). Go there, name it with --workspace, or make "
            "one: fillmark new lab"
        )
    return home


def register_of(home: Path) -> Register:
    """Read the register; ends the run where it cannot be relied on."""
    try:
        found = register.read(home)
    except OSError as error:
        raise click.ClickException(
            f"{register.register_file(home)} cannot be read: {error.strerror}."
        ) from error
    if not found.sound:
        first = next(f for f in found.faults if f.blocks)
        raise click.ClickException(
            f"{found.file} cannot be relied on: {first.message} {' '.join(first.ways_out)}"
        )
    return found


def compiled_of(name: str, workspace: Path | None, today: date) -> tuple[Compiled, Path | None]:
    """Compile a method by its file, or by the name of its release, with the workspace it belongs to.

    Ends the run where it has errors, or where nothing bears the name.
    """
    file = Path(name)
    if file.is_file():
        compiled = each([file], reference_for(workspace, [file]), today)[0]
        home = home_of(workspace, [file])
    else:
        home = laboratory(workspace)
        entry = earlier.find(register_of(home), name)
        if entry is None:
            raise click.UsageError(
                f"There is no file {name}, and the register knows no release of that name. Name a method file, or a "
                "release such as MCW-VIS-014-r3."
            )
        bundle, found = earlier.opened(home, entry)
        if bundle is None:
            refuse(found[0])
        compiled = compile_bundle(bundle, name=f"{stem(bundle.id, bundle.revision)}.zip")
    if not compiled.clean:
        tell([compiled], texts([compiled]))
        put(f"{name} must be without errors before anybody is taught or assessed by it.", err=True)
        raise SystemExit(USAGE)
    return compiled, home


def refuse(refusal: Diagnostic, code: int = USAGE) -> NoReturn:
    """Tell why something is refused, on the error stream, and end the run."""
    lines = [f"refused: {refusal.code} {refusal.message}", *(f"  - {way}" for way in refusal.ways_out)]
    put("\n".join(lines), err=True)
    raise SystemExit(code)


def person(name: str | None, option: str) -> str:
    """Give the name of a person or place as the register takes it; wrong use where it is none."""
    given = " ".join((name or "").split())
    if not given:
        raise click.UsageError(f"{option} is missing: the register has to say who.")
    if len(given) > LONGEST or unseen_in(given) or not any(c.isalnum() for c in given):
        raise click.UsageError(f"{option} takes a name in up to {LONGEST} letters that can be seen.")
    return given


def reason(text: str | None, option: str = "--reason") -> str:
    """Give a reason as the register takes it; wrong use where there is none."""
    given = " ".join((text or "").split())
    if not given:
        raise click.UsageError(f"{option} is missing: whoever reads the register later has to know why.")
    if len(given) > 500 or unseen_in(given):
        raise click.UsageError(f"{option} takes up to 500 letters that can be seen.")
    return given


def not_written(error: RegisterError | OSError, what: str, home: Path) -> click.ClickException:
    """Say that the register did not take a line, and that nothing else was done."""
    if isinstance(error, RegisterError):
        return click.ClickException(f"{what}: {error}")
    where = error.filename or home / register.FOLDER
    return click.ClickException(
        f"{what}: {where} cannot be written: {error.strerror}. Make room or get the right to write there, and run the "
        "same command again."
    )
