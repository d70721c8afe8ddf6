"""`fillmark check`: what is wrong in methods."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import click

from fillmark.commands.console import (
    USAGE,
    day,
    each,
    exit_code,
    inputs,
    paths_option,
    put,
    reference_for,
    tell,
    tell_people,
    texts,
    today_option,
    workspace_option,
)
from fillmark.diagnostics import Severity
from fillmark.glance import look_over
from fillmark.model import Reference
from fillmark.pipeline import Compiled, used_twice
from fillmark.report import FORMS
from fillmark.terminal import summary


@click.command("check")
@paths_option
@workspace_option
@today_option
@click.option(
    "--format",
    "form",
    type=click.Choice(["text", *FORMS]),
    default="text",
    show_default=True,
    help="How findings are written.",
)
@click.option(
    "--fail-on", type=click.Choice([s.word for s in Severity]), default="warning", show_default=True,
    help="Least weight of a finding that gives exit code 1.",
)  # fmt: skip
@click.option("--fix", is_flag=True, help="Mend slips that have one right spelling, and check what is left.")
@click.option("--preview", is_flag=True, help="With --fix: show the changes as a diff and write nothing.")
def command(
    paths: tuple[Path, ...], workspace: Path | None, today: object, form: str, fail_on: str, *,
    fix: bool, preview: bool,
) -> None:  # fmt: skip
    """Check methods: files, or folders with all YAML below them (methods/ unless named)."""
    if preview and not fix:
        raise click.UsageError("--preview shows what --fix would do; write both.")
    if preview and form != "text":
        raise click.UsageError(
            f"--preview shows a diff, which cannot be written as {form}. Leave one of the two out."
        )
    files = inputs(paths)
    reference = reference_for(workspace, files, form)
    if form == "text" and not fix:
        seen = look_over(files, reference, today=day(today))
        found = [d for one in seen for d in one.diagnostics]
        judged = any(one.id is not None for one in seen)
        tell_people(found, {one.file: one for one in seen}, len(files), reference.policy if judged else None)
        _offer(sum(one.mendable for one in seen), paths)
        raise SystemExit(exit_code(found, Severity[fail_on.upper()]))
    done = each(files, reference, day(today))
    hindered = False
    if fix:
        done, hindered = _mended(done, reference, day(today), preview=preview, quiet=form != "text")
    done = used_twice(done)
    found = [d for c in done for d in c.diagnostics]
    if preview:
        put(f"Nothing was written. What --fix leaves: {summary(found, len(files))}", err=True)
    else:
        tell(done, texts(done), form)
    raise SystemExit(USAGE if hindered else exit_code(found, Severity[fail_on.upper()]))


def _mended(
    done: Sequence[Compiled], reference: Reference, today: date | None, *, preview: bool, quiet: bool
) -> tuple[list[Compiled], bool]:
    """Mend files, or show how; gives what became of them, and whether one was kept from being mended.

    With `quiet` the standard output is left to the findings.
    """
    from fillmark.fix import diff, mend, write  # noqa: PLC0415

    outcome, hindered, count = [], False, 0
    for one in done:
        mended = mend(one, reference, today=today)
        outcome.append(mended.after)
        try:
            if not preview:
                write(mended)
        except OSError as error:
            hindered, outcome[-1] = True, one
            put(
                f"{one.file} cannot be mended: {error.strerror or error}. It is as it was; "
                "--fix --preview shows what would be done.", err=True,
            )  # fmt: skip
            continue
        if mended.held is not None:
            hindered = True
            put(
                f"{one.file} is not mended: its status is {mended.held}. Raise the revision and set "
                "status: draft first, so that no text changes under the number people work by.", err=True,
            )  # fmt: skip
        for line in diff(mended) if preview else ():
            put(line)
        for fix in () if preview else mended.fixes:
            put(
                f"mended {one.file}:{fix.line}: {fix.old} is now {fix.new} ({fix.code}, {fix.why})", err=quiet
            )
        for fix, why in mended.refused:
            put(f"not mended {one.file}:{fix.line}: {fix.old}; with {fix.new} {why}", err=True)
        count += len(mended.fixes)
    if not count and not hindered:
        put("There is nothing that --fix can mend.", err=True)
    return outcome, hindered


def _offer(count: int, paths: Sequence[Path]) -> None:
    """Say how many of the findings could be mended, where any could."""
    if count:
        import shlex  # noqa: PLC0415 - most checks have nothing to offer

        # A name that begins with a dash would be taken for an option.
        named = [f"./{p}" if str(p).startswith("-") else str(p) for p in paths]
        put(
            f"{count} of these can be mended: {shlex.join(['fillmark', 'check', '--fix', '--preview', *named])}"
        )
