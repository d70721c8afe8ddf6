"""What the commands have in common: options, reading what was named, writing to the terminal, exit codes."""

import errno
import os
import shutil
import sys
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path

import click

from fillmark.diagnostics import Diagnostic, Severity
from fillmark.figures import Figures
from fillmark.files import CODES as UNREADABLE
from fillmark.files import shown, unreadable
from fillmark.locate import shared_folder
from fillmark.model import Method, Policy, Reference, Step
from fillmark.pipeline import Compiled, compile_method, used_twice
from fillmark.read import read
from fillmark.reference import Files, load_files, read_files
from fillmark.report import found_in, policy_line, policy_of, written
from fillmark.terminal import HasLines, colour_wanted, render, without_controls
from fillmark.workspace import find_workspace, method_files, read_method

CLEAN, FINDINGS, USAGE, OUR_FAULT = 0, 1, 2, 3
INTERRUPTED = 130
"""128 and the number of the interrupt signal, as shells count."""

today_option = click.option(
    "--today", type=click.DateTime(["%Y-%m-%d"]), default=None, metavar="DATE",
    help="Day to take for today; the clock's unless given.",
)  # fmt: skip
moment_option = click.option(
    "--at", type=click.DateTime(["%Y-%m-%dT%H:%M:%S%z", "%Y-%m-%dT%H:%M:%S"]), default=None, metavar="MOMENT",
    help="When it is done, such as 2026-12-01T09:00:00+01:00; the clock's unless given.",
)  # fmt: skip
workspace_option = click.option(
    "--workspace", type=click.Path(exists=True, file_okay=False, path_type=Path), default=None,
    help="Folder that holds shared/; found from the paths unless given.",
)  # fmt: skip
paths_option = click.argument("paths", nargs=-1, type=click.Path(exists=True, path_type=Path))
step_option = click.option(
    "--step", "name", metavar="NAME", help="Step of the run; those with limits unless named."
)
text_or_json_option = click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
    help="How it is written.",
)  # fmt: skip


def put(text: str | bytes, *, err: bool = False, colour: bool = False) -> None:
    """Write a line; once the reader (head, a pager) has gone, the run goes on in silence.

    So the exit code holds, and a failed check is not taken for a passed one.
    """
    stream = sys.stderr if err else sys.stdout
    if isinstance(text, str) and not colour:
        text = without_controls(text)
    try:
        click.echo(text, err=err, color=colour)
    except OSError as error:
        # What is left in the buffer would fail once more when the interpreter ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        if error.errno != errno.EPIPE:
            raise click.ClickException(f"The output cannot be written: {error.strerror}.") from error


def home_of(workspace: Path | None, paths: Sequence[Path] = ()) -> Path | None:
    """Give the workspace that was named, or that of the first of these paths; wrong use where it is none."""
    try:
        if workspace is None:
            return find_workspace(paths[0] if paths else Path())
        if find_workspace(workspace) == workspace.resolve():
            return workspace
    except OSError as error:
        raise click.UsageError(
            f"{error.filename or 'This folder'} cannot be looked into: {error.strerror}. What it says of the "
            "site's own data and thresholds would be passed over; name the folder that counts with --workspace."
        ) from error
    raise click.UsageError(f"{workspace} is no workspace: it has no shared/ with reference data in it.")


def reference_for(workspace: Path | None, paths: Sequence[Path], form: str = "text") -> Reference:
    """Load the reference data for these paths; ends the run with its diagnostics if it is faulty."""
    home = home_of(workspace, paths)
    return reference_from(*read_files(home), home, form)


def reference_from(
    files: Files, faults: Sequence[Diagnostic], home: Path | None, form: str = "text"
) -> Reference:
    """Load reference data that has been read; ends the run with its diagnostics if it is faulty."""
    reference, found = load_files(files, faults)
    if reference is None:
        folders = {"shipped": shared_folder(), "shared": (home or Path()) / "shared"}
        named = {d.file: folders[d.file.partition("/")[0]] / d.file.partition("/")[2] for d in found}
        done = [Compiled(name, tuple(d for d in found if d.file == name)) for name in named]
        tell(done, _read_again(named), form)
        put("The reference data must be right before any method can be judged.", err=True)
        raise SystemExit(USAGE)
    return reference


def inputs(paths: tuple[Path, ...]) -> list[Path]:
    """List the method files that were named, or those of methods/; wrong use if there are none."""
    given = paths or ((Path("methods"),) if Path("methods").is_dir() else ())
    try:
        files = method_files(given)
    except OSError as error:
        raise click.UsageError(
            f"The folder {error.filename} cannot be looked into: {error.strerror}."
        ) from error
    if not files:
        where = ", ".join(str(p) for p in given) or "this folder (there is no methods/ in it)"
        raise click.UsageError(
            f"No method files (*.yaml) in {where}. Name a file or a folder, or start one: fillmark new"
        )
    return files


def compiled_all(files: Sequence[Path], reference: Reference, today: date | None) -> list[Compiled]:
    """Compile files and find what is used twice among them."""
    return used_twice(each(files, reference, today))


def each(files: Sequence[Path], reference: Reference, today: date | None) -> list[Compiled]:
    """Compile files, each by itself; one that cannot be read brings its diagnostic."""
    return compile_contents(contents_of(files), reference, today)


def contents_of(files: Sequence[Path]) -> dict[str, bytes | OSError]:
    """Read files, or find out why they cannot be read."""
    found: dict[str, bytes | OSError] = {}
    for file in files:
        try:
            found[str(file)] = read_method(file)
        except OSError as error:
            found[str(file)] = error
    return found


def compile_contents(
    contents: Mapping[str, bytes | OSError], reference: Reference, today: date | None
) -> list[Compiled]:
    """Compile what was read, each file by itself; one that cannot be read brings its diagnostic."""
    return [
        compile_method(content, name, reference, today=today) if isinstance(content, bytes)
        else Compiled(shown(name), (unreadable(Path(name), content),))
        for name, content in contents.items()
    ]  # fmt: skip


def ascii_wanted(encoding: str | None) -> bool:
    """Tell whether a stream of this encoding takes no more than ASCII."""
    return (encoding or "ascii").lower().replace("-", "") != "utf8"


def tell(done: Sequence[Compiled], readings: Mapping[str, HasLines], form: str = "text") -> None:
    """Write the findings in the form asked for, with excerpts from the texts in `readings`."""
    if form != "text":
        # These are UTF-8 whatever the terminal is (JSON: RFC 8259, section 8.1).
        put(written(form, done))
        return
    tell_people(found_in(done), readings, len(done), policy_of(done))


def tell_people(
    found: Sequence[Diagnostic], readings: Mapping[str, HasLines], files: int, policy: Policy | None
) -> None:
    """Write findings as text, with excerpts from `readings`, and by which policy so many files were judged."""
    width = min(terminal_width(), 110)
    colour = colour_wanted(sys.stdout, os.environ)
    text = render(
        found, readings, colour=colour, ascii_only=ascii_wanted(sys.stdout.encoding), width=width, files=files,
    )  # fmt: skip
    put(text, colour=colour)
    line = policy_line(policy)
    if line is not None:
        put(line)


def terminal_width() -> int:
    """Give the columns of the terminal, 100 where there is none."""
    return shutil.get_terminal_size((100, 24)).columns


def exit_code(diagnostics: Sequence[Diagnostic], least: Severity) -> int:
    """Give the exit code for these findings, the unwaived of at least this weight counting."""
    if any(d.code in UNREADABLE for d in diagnostics):
        return USAGE
    return FINDINGS if any(d.severity >= least and d.waived_by is None for d in diagnostics) else CLEAN


def texts(done: Sequence[Compiled]) -> dict[str, HasLines]:
    """Give the lines of every file, for excerpts."""
    return {c.file: c.reading for c in done if c.reading is not None}


def _read_again(files: Mapping[str, Path]) -> dict[str, HasLines]:
    """Read faulty reference data once more, for excerpts."""
    texts: dict[str, HasLines] = {}
    for name, file in files.items():
        with suppress(OSError):
            texts[name] = read(read_method(file), name)
    return texts


def day(today: object) -> date:
    """Give the day named on the command line, or the clock's."""
    return today.date() if isinstance(today, datetime) else date.today()  # noqa: DTZ011 - the bench's own day


def moment(at: object) -> datetime:
    """Give the moment named on the command line, or the clock's, with its offset and without fractions."""
    named = at if isinstance(at, datetime) else datetime.now().astimezone()
    return (named if named.tzinfo is not None else named.astimezone()).replace(microsecond=0)


def papers_of(paper: str, policy: Policy) -> tuple[str, ...]:
    """Give the paper sizes that `policy`, `both` or the name of one stands for."""
    return {"both": ("A4", "Letter"), "policy": (policy.choices["paper"],)}.get(paper, (paper,))


def progress_wanted() -> bool:
    """Tell whether somebody watches who would like to see progress."""
    return sys.stderr.isatty() and os.environ.get("TERM") != "dumb"


def steps_of(
    file: Path, workspace: Path | None, name: str | None, form: str
) -> tuple[Method, Figures, tuple[Step, ...]]:
    """Compile a file for a budget; ends the run where there is nothing to work with."""
    from fillmark.budgets import steps_with_limits  # noqa: PLC0415

    compiled = compiled_all([file], reference_for(workspace, [file], form), day(None))[0]
    method, figures = compiled.method, compiled.figures
    if method is None or figures is None:
        # On the error stream, so that what reads a budget is never handed findings in its place.
        put(
            "\n".join(f"{d.file}:{d.span.line}: {d.code} {d.message}" for d in compiled.diagnostics), err=True
        )
        put("The file must be readable before a budget can be made: fillmark check shows the way.", err=True)
        raise SystemExit(exit_code(compiled.diagnostics, Severity.ADVICE))
    if name is not None and method.step(name) is None:
        raise click.UsageError(f"There is no step {name}. Steps: {', '.join(s.name for s in method.run)}.")
    if not compiled.clean:
        count = sum(d.blocks for d in compiled.diagnostics)
        put(
            f"{file} has {count} error{'' if count == 1 else 's'}: the budget follows what is written.",
            err=True,
        )
    return method, figures, tuple(s for s in method.run if s.name == name) or steps_with_limits(method)
