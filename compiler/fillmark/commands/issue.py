"""`fillmark issue`: numbered copies of a released revision, printed and logged."""

import sys
from datetime import datetime
from pathlib import Path

import click

from fillmark.commands.console import (
    CLEAN,
    FINDINGS,
    USAGE,
    ascii_wanted,
    moment,
    moment_option,
    put,
    text_or_json_option,
    workspace_option,
)
from fillmark.commands.named import laboratory, not_written, person, reason, refuse, register_of
from fillmark.printing import PrintingFailed, PrintingUnavailable
from fillmark.releases.copies import (
    MOST,
    PAPERS,
    CopyError,
    Issued,
    NotPrintedError,
    Ready,
    issue,
    listed,
    listed_json,
    listed_text,
    ready,
    reprint,
    to_fetch,
    warning,
    without_level,
)
from fillmark.releases.register import Register, RegisterError
from fillmark.training.levels import holdings


@click.command("issue")
@click.argument("method", required=False)
@click.option("--to", multiple=True, metavar="NAME", help="For whom or what place; once for each copy.")
@click.option(
    "--count", type=click.IntRange(1, MOST), default=1, help="With one --to: how many copies for it."
)
@click.option("--operator", is_flag=True, help="The names are operators: their levels are looked at.")
@click.option("--by", metavar="NAME", help="Who issues them.")
@click.option(
    "--document",
    "papers",
    type=click.Choice(PAPERS),
    multiple=True,
    help="Paper of a copy; both unless named.",
)
@click.option("--revision", type=click.IntRange(min=0), help="Revision; the one in force unless named.")
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default=None, help="Paper size; the site policy's unless given."
)  # fmt: skip
@click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), default=None,
    help="Folder for the papers; out/copies of the laboratory unless named.",
)  # fmt: skip
@click.option("--reprint", "again", type=click.IntRange(min=1), metavar="N", help="Print copy N once more.")
@click.option("--reason", "why", metavar="TEXT", help="With --reprint: why.")
@click.option("--list", "listing", is_flag=True, help="List the copies and what becomes of each today.")
@moment_option
@workspace_option
@text_or_json_option
def command(
    method: str | None, to: tuple[str, ...], count: int, by: str | None, papers: tuple[str, ...], revision: int | None,
    paper: str | None, out: Path | None, again: int | None, why: str | None, at: object, workspace: Path | None,
    form: str, *, operator: bool, listing: bool,
) -> None:  # fmt: skip
    """Print numbered copies of a released revision, each with a line in the register.

    METHOD is the id of a method. What is printed comes from the released bundle, never from a file in methods/.
    Exit code 0 issued, 1 issued with a warning (or, with --list, copies to fetch), 2 refused or not printed.
    """
    home = laboratory(workspace)
    when = moment(at)
    known = register_of(home)
    if listing:
        found = listed(home, known, when.date(), method)
        if form == "json":
            put(listed_json(found, when.date()).encode())
        else:
            put(listed_text(found, ascii_only=ascii_wanted(sys.stdout.encoding)))
        raise SystemExit(FINDINGS if to_fetch(found) else CLEAN)
    if method is None:
        raise click.UsageError("Name the method whose copies are issued, by its id.")
    issuer = person(by, "--by")
    folder = out or home / "out" / "copies"
    try:
        one = ready(home, known, method, when.date(), revision)
        if again is not None:
            made = reprint(home, one, again, reason=reason(why), at=when, by=issuer, folder=folder)
            code = CLEAN
        else:
            holders = _holders(to, count)
            warned = _warned(one, known, home, holders, when) if operator else {}
            made = issue(
                home, one, to=holders, operator=operator, papers=papers or PAPERS, at=when, by=issuer, folder=folder,
                paper=paper or one.method.reference.policy.choices["paper"], warned=warned,
            )  # fmt: skip
            code = FINDINGS if warned else CLEAN
    except CopyError as error:
        refuse(error.refusal)
    except NotPrintedError as error:
        _not_printed(error, method)
    except (PrintingUnavailable, PrintingFailed) as error:
        raise click.ClickException(f"Nothing was issued, and no number was taken. {error}") from error
    except (RegisterError, OSError) as error:
        raise not_written(error, "Nothing was issued", home) from error
    _told(made)
    raise SystemExit(code)


def _holders(to: tuple[str, ...], count: int) -> tuple[str, ...]:
    names = tuple(person(name, "--to") for name in to)
    if not names:
        raise click.UsageError("--to is missing: a controlled copy is for somebody or some place.")
    long = next((name for name in names if len(name) > 60), None)
    if long is not None:
        raise click.UsageError(f"--to takes up to 60 letters; {long[:20]}... has {len(long)}.")
    if count > 1 and len(names) > 1:
        raise click.UsageError(
            "--count goes with one --to; write --to once for each copy, or one --to and --count."
        )
    if len(names) > MOST:
        raise click.UsageError(f"One order takes up to {MOST} copies.")
    return names * count


def _warned(
    one: Ready, known: Register, home: Path, holders: tuple[str, ...], when: datetime
) -> dict[str, str]:
    found = holdings(home, known, one.method.reference.policy, when.date(), within=0)
    warned = without_level(found, holders, one)
    for message in warned.values():
        told = warning(one, known, message)
        put(f"warning: {told.code} {told.message}", err=True)
        for way in told.ways_out:
            put(f"  - {way}", err=True)
    return warned


def _told(made: Issued) -> None:
    for copy in made.copies:
        until = f", valid until {copy.valid_until}" if copy.valid_until is not None else ""
        again = "" if copy.prints == 1 else f", print {copy.prints}: destroy the earlier one"
        put(
            f"copy {copy.number} of {copy.of} of {copy.method} revision {copy.revision} for {copy.to}{until}{again}"
        )
    for file in made.files:
        put(str(file))


def _not_printed(error: NotPrintedError, method: str) -> None:
    numbers = ", ".join(str(c.number) for c in error.copies)
    first = error.copies[0].number
    put(
        f"Copy {numbers} of {method} stands in the register and has no paper: {error}. The number stays taken; "
        f"print it "
        f"once the way is free: fillmark issue {method} --reprint {first} --reason 'was not printed' --by NAME",
        err=True,
    )
    raise SystemExit(USAGE)
