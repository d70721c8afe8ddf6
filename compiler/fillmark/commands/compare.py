"""`fillmark compare`: two revisions by meaning."""

import sys
from pathlib import Path

import click

from fillmark.commands.console import (
    CLEAN,
    FINDINGS,
    USAGE,
    ascii_wanted,
    day,
    each,
    home_of,
    put,
    reference_for,
    tell,
    texts,
    workspace_option,
)
from fillmark.compare import compare
from fillmark.compared import compared_json, compared_text
from fillmark.files import read_at_most
from fillmark.pipeline import Compiled
from fillmark.releases.bundle import LARGEST, Bundle, compile_bundle, open_bundle, stem
from fillmark.releases.earlier import against_register, find, opened
from fillmark.releases.register import read


@click.command("compare")
@click.argument("before")
@click.argument("after")
@workspace_option
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
    help="How the comparison is written.",
)  # fmt: skip
def command(before: str, after: str, workspace: Path | None, form: str) -> None:
    """Compare two revisions by meaning: what changed, what it does, and what it triggers.

    BEFORE is the earlier revision, AFTER the later one: a method file, a released bundle, or a release by its
    ID (the last) or ID-rREVISION. A release is read with the reference data it was released with. Exit code 0
    if nothing technical changed and nothing is found, 1 otherwise, 2 if one cannot be compiled.
    """
    files = [Path(name) for name in (before, after) if Path(name).is_file()]
    home = home_of(workspace, files)
    one, two = (_side(name, home, form) for name in (before, after))
    stopped = [c for c in (one, two) if c.method is None]
    if stopped:
        if form == "text":
            tell(stopped, texts(stopped))
        else:
            # On the error stream, so that what reads a comparison is never handed findings in its place.
            lines = (f"{d.file}:{d.span.line}: {d.code} {d.message}" for c in stopped for d in c.diagnostics)
            put("\n".join(lines), err=True)
        names = " and ".join(c.file for c in stopped)
        put(f"There is no comparison: {names} must be readable first.", err=True)
        raise SystemExit(USAGE)
    compared = compare(one, two)
    if form == "json":
        put(compared_json(compared).encode())
    else:
        put(compared_text(compared, ascii_only=ascii_wanted(sys.stdout.encoding)))
    raise SystemExit(FINDINGS if compared.technical or compared.found else CLEAN)


def _side(name: str, home: Path | None, form: str) -> Compiled:
    """Compile what one side names; ends the run where it names nothing, or a bundle that is not whole."""
    file = Path(name)
    if file.is_file() and file.suffix.casefold() != ".zip":
        return each([file], reference_for(home, [file], form), day(None))[0]
    try:
        if file.is_file():
            data = read_at_most(file, LARGEST)
            bundle, found = open_bundle(data, name)
            if bundle is not None and home is not None:
                _note_other_than_registered(data, bundle, home)
        else:
            register = None if home is None else read(home)
            entry = None if register is None else find(register, name)
            if entry is None or home is None:
                raise click.UsageError(
                    f"{name} is neither a file nor a release of this laboratory. Name a method file, a bundle, or a "
                    "release such as MCW-VIS-014-r3; fillmark verify --all lists what is released."
                )
            bundle, found = opened(home, entry)
    except OSError as error:
        raise click.UsageError(f"{error.filename or name} cannot be read: {error.strerror}.") from error
    if bundle is None or found:
        first = found[0]
        put("\n".join((f"{first.code} {first.message}", *(f"- {way}" for way in first.ways_out))), err=True)
        put(
            f"There is no comparison: {name} is not as it was released. fillmark verify tells more.", err=True
        )
        raise SystemExit(USAGE)
    return compile_bundle(bundle, name=f"{stem(bundle.id, bundle.revision)}.zip")


def _note_other_than_registered(data: bytes, bundle: Bundle, home: Path) -> None:
    """Say so where the laboratory's register tells of another bundle under this name: its manifest may be remade."""
    entry = find(read(home), stem(bundle.id, bundle.revision))
    for told in () if entry is None else against_register(data, bundle.name, entry):
        put("\n".join((f"{told.code} {told.message}", *(f"- {way}" for way in told.ways_out))), err=True)
