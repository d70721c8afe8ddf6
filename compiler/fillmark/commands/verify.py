"""`fillmark verify`: is a bundle what was released, and what do today's rules say of it."""

import sys
from pathlib import Path

import click

from fillmark.commands.console import (
    CLEAN,
    FINDINGS,
    ascii_wanted,
    day,
    home_of,
    put,
    reference_for,
    text_or_json_option,
    today_option,
    workspace_option,
)
from fillmark.diagnostics import Diagnostic, Severity
from fillmark.files import read_at_most
from fillmark.releases import bundle
from fillmark.releases.earlier import find
from fillmark.releases.register import Register, read
from fillmark.releases.verified import verified_json, verified_text
from fillmark.releases.verify import Today, Verified, left_over, signature_beside, verify, verify_entry

SIGNERS = Path("shared") / "allowed-signers"
"""Where a laboratory keeps whose keys count, unless another file is named."""


@click.command("verify")
@click.argument("names", nargs=-1, metavar="[BUNDLE|ID]...")
@click.option(
    "--all", "every", is_flag=True, help="Everything the register tells of, and the folder it lies in."
)
@click.option(
    "--signers", type=click.Path(exists=True, dir_okay=False, path_type=Path), default=None, metavar="FILE",
    help="Allowed signers, in the form of OpenSSH; shared/allowed-signers of the workspace unless named.",
)  # fmt: skip
@today_option
@workspace_option
@text_or_json_option
def command(
    names: tuple[str, ...],
    signers: Path | None,
    today: object,
    workspace: Path | None,
    form: str,
    *,
    every: bool,
) -> None:
    """Verify released bundles: their bytes, their signature, what they record, and what holds today.

    A bundle is named by its file or, within a laboratory, by ID (the last release) or ID-rREVISION. Exit code
    0 if all is as released and nothing new is found, 1 otherwise, 2 for a name that leads to nothing.
    """
    if bool(names) == every:
        raise click.UsageError(
            "Name a bundle, such as released/MCW-VIS-014/MCW-VIS-014-r3.zip, an id, or --all."
        )
    files = [Path(name) for name in names if Path(name).is_file()]
    home = home_of(workspace, files)
    register = _register(home)
    if every and register is None:
        raise click.UsageError(
            "There is no register here. Go to the laboratory's folder, or name it with --workspace."
        )
    if signers is None and home is not None and (home / SIGNERS).is_file():
        signers = home / SIGNERS
    asked = Today(reference_for(home, files, form), day(today))
    done: list[Verified] = []
    more: list[Diagnostic] = [] if register is None else list(register.faults)
    if every and register is not None and home is not None:
        done = [
            verify_entry(home, register, entry, signers=signers, today=asked)
            for entry in register.of_kind("release")
        ]
        more += left_over(home, register)
    for name in names:
        done.append(_one(name, home, register, signers, asked))
    if form == "json":
        put(verified_json(done, more, register).encode())
    else:
        put(verified_text(done, more, register, ascii_only=ascii_wanted(sys.stdout.encoding)))
    found = [d for one in done for d in one.found] + more
    raise SystemExit(FINDINGS if any(d.severity > Severity.ADVICE for d in found) else CLEAN)


def _register(home: Path | None) -> Register | None:
    if home is None:
        return None
    try:
        register = read(home)
    except OSError as error:
        raise click.UsageError(f"The register of {home} cannot be read: {error.strerror}.") from error
    return register if register.file.exists() else None


def _one(
    name: str, home: Path | None, register: Register | None, signers: Path | None, today: Today
) -> Verified:
    file = Path(name)
    if file.is_file():
        try:
            data, signature = read_at_most(file, bundle.LARGEST), signature_beside(file)
        except OSError as error:
            raise click.UsageError(f"{file} cannot be read: {error.strerror}.") from error
        return verify(data, str(file), register, signature=signature, signers=signers, today=today)
    entry = None if register is None else find(register, name)
    if entry is None or register is None or home is None:
        raise click.UsageError(
            f"{name} is no file, and no release of that name stands in a register here. Name the bundle's file, or the "
            "laboratory's folder with --workspace."
        )
    return verify_entry(home, register, entry, signers=signers, today=today)
