"""The command line: `fillmark check | build | compare | choose | misuse | uncertainty | explain | show | new | ...`.

Exit codes: 0 nothing found, 1 findings, 2 wrong use or files that cannot be read or written, 3 a fault of
Fillmark, 130 stopped from the keyboard.
Imports that cost time (templates, PDF, progress) wait until a command needs them.
"""

import codecs
import errno
import os
import sys
import traceback
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import date
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fillmark.choose import Chosen

try:
    import click

    from fillmark import __version__
    from fillmark.choose import Glued
    from fillmark.diagnostics import Diagnostic, Severity
    from fillmark.figures import Figures
    from fillmark.locate import shared_folder
    from fillmark.model import Method, Reference, Step
    from fillmark.pipeline import Compiled, compile_method, used_twice
    from fillmark.read import read
    from fillmark.reference import load
    from fillmark.report import FORMS, found_in, policy_line, written
    from fillmark.terminal import HasLines, colour_wanted, plain_ascii, render, summary
    from fillmark.workspace import CODES as UNREADABLE
    from fillmark.workspace import find_workspace, method_files, read_method, unreadable
except ImportError as error:
    sys.stderr.write(
        f"fillmark cannot start: {error}.\nWhat is missing is told by: python -m fillmark.doctor\n"
    )
    raise SystemExit(2) from error

CLEAN, FINDINGS, USAGE, OUR_FAULT = 0, 1, 2, 3
INTERRUPTED = 130
"""128 and the number of the interrupt signal, as shells count."""

_today = click.option(
    "--today", type=click.DateTime(["%Y-%m-%d"]), default=None, metavar="DATE",
    help="Day by which waivers are judged; the clock's unless given.",
)  # fmt: skip
_workspace = click.option(
    "--workspace", type=click.Path(exists=True, file_okay=False, path_type=Path), default=None,
    help="Folder that holds shared/; found from the paths unless given.",
)  # fmt: skip
_paths = click.argument("paths", nargs=-1, type=click.Path(exists=True, path_type=Path))


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="fillmark")
def cli() -> None:
    """Check viscosity test methods and compile them into bench paper."""


def _put(text: str | bytes, *, err: bool = False, colour: bool = False) -> None:
    """Write a line; once the reader (head, a pager) has gone, the run goes on in silence.

    So the exit code holds, and a failed check is not taken for a passed one.
    """
    stream = sys.stderr if err else sys.stdout
    try:
        click.echo(text, err=err, color=colour)
    except OSError as error:
        # What is left in the buffer would fail once more when the interpreter ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
        if error.errno != errno.EPIPE:
            raise click.ClickException(f"The output cannot be written: {error.strerror}.") from error


def _reference(workspace: Path | None, paths: Sequence[Path], form: str = "text") -> Reference:
    """Load the reference data for these paths; ends the run with its diagnostics if it is faulty."""
    if workspace is not None and find_workspace(workspace) != workspace.resolve():
        raise click.UsageError(f"{workspace} is no workspace: it has no shared/ with reference data in it.")
    home = workspace or find_workspace(paths[0] if paths else Path())
    reference, found = load(home)
    if reference is None:
        folders = {"shipped": shared_folder(), "shared": (home or Path()) / "shared"}
        named = {d.file: folders[d.file.partition("/")[0]] / d.file.partition("/")[2] for d in found}
        done = [Compiled(name, tuple(d for d in found if d.file == name)) for name in named]
        _tell(done, _read_again(named), form)
        _put("The reference data must be right before any method can be judged.", err=True)
        raise SystemExit(USAGE)
    return reference


def _inputs(paths: tuple[Path, ...]) -> list[Path]:
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


def _compiled(files: Sequence[Path], reference: Reference, today: date | None) -> list[Compiled]:
    return used_twice(_each(files, reference, today))


def _each(files: Sequence[Path], reference: Reference, today: date | None) -> list[Compiled]:
    done = []
    for file in files:
        try:
            data = read_method(file)
        except OSError as error:
            done.append(Compiled(str(file), (unreadable(file, error),)))
            continue
        done.append(compile_method(data, str(file), reference, today=today))
    return done


def _ascii_wanted(encoding: str | None) -> bool:
    return (encoding or "ascii").lower().replace("-", "") != "utf8"


def _tell(done: Sequence[Compiled], texts: Mapping[str, HasLines], form: str = "text") -> None:
    if form != "text":
        # These are UTF-8 whatever the terminal is (JSON: RFC 8259, section 8.1).
        _put(written(form, done))
        return
    width = min(_terminal_width(), 110)
    colour = colour_wanted(sys.stdout, os.environ)
    text = render(
        found_in(done), texts, colour=colour, ascii_only=_ascii_wanted(sys.stdout.encoding), width=width,
        files=len(done),
    )  # fmt: skip
    _put(text, colour=colour)
    policy = policy_line(done)
    if policy is not None:
        _put(policy)


def _terminal_width() -> int:
    import shutil  # noqa: PLC0415

    return shutil.get_terminal_size((100, 24)).columns


def _code(diagnostics: Sequence[Diagnostic], least: Severity) -> int:
    if any(d.code in UNREADABLE for d in diagnostics):
        return USAGE
    return FINDINGS if any(d.severity >= least and d.waived_by is None for d in diagnostics) else CLEAN


@cli.command("check")
@_paths
@_workspace
@_today
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
def check_command(
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
    files = _inputs(paths)
    reference = _reference(workspace, files, form)
    done = _each(files, reference, _day(today))
    hindered = False
    if fix:
        done, hindered = _mended(done, reference, _day(today), preview=preview, quiet=form != "text")
    done = used_twice(done)
    found = [d for c in done for d in c.diagnostics]
    if preview:
        _put(f"Nothing was written. What --fix leaves: {summary(found, len(files))}", err=True)
    else:
        _tell(done, _texts(done), form)
    if not fix and form == "text":
        _offer(done, paths, reference, _day(today))
    raise SystemExit(USAGE if hindered else _code(found, Severity[fail_on.upper()]))


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
            _put(
                f"{one.file} cannot be mended: {error.strerror or error}. It is as it was; "
                "--fix --preview shows what would be done.", err=True,
            )  # fmt: skip
            continue
        if mended.held is not None:
            hindered = True
            _put(
                f"{one.file} is not mended: its status is {mended.held}. Raise the revision and set "
                "status: draft first, so that no text changes under the number people work by.", err=True,
            )  # fmt: skip
        for line in diff(mended) if preview else ():
            _put(line)
        for fix in () if preview else mended.fixes:
            _put(
                f"mended {one.file}:{fix.line}: {fix.old} is now {fix.new} ({fix.code}, {fix.why})", err=quiet
            )
        for fix, why in mended.refused:
            _put(f"not mended {one.file}:{fix.line}: {fix.old}; with {fix.new} {why}", err=True)
        count += len(mended.fixes)
    if not count and not hindered:
        _put("There is nothing that --fix can mend.", err=True)
    return outcome, hindered


def _offer(done: Sequence[Compiled], paths: Sequence[Path], reference: Reference, today: date | None) -> None:
    """Say how many of the findings could be mended, where any could."""
    if not any(c.diagnostics for c in done):
        return
    import shlex  # noqa: PLC0415

    from fillmark.fix import mendable  # noqa: PLC0415

    count = sum(mendable(c, reference, today=today) for c in done)
    if count:
        command = shlex.join(["fillmark", "check", "--fix", "--preview", *(str(p) for p in paths)])
        _put(f"{count} of these can be mended: {command}")


def _texts(done: Sequence[Compiled]) -> dict[str, HasLines]:
    """Give the lines of every file, for excerpts."""
    return {c.file: c.reading for c in done if c.reading is not None}


def _read_again(files: Mapping[str, Path]) -> dict[str, HasLines]:
    """Read faulty reference data once more, for excerpts."""
    texts: dict[str, HasLines] = {}
    for name, file in files.items():
        with suppress(OSError):
            texts[name] = read(read_method(file), name)
    return texts


def _day(today: object) -> date:
    from datetime import datetime  # noqa: PLC0415

    return today.date() if isinstance(today, datetime) else date.today()  # noqa: DTZ011 - the bench's own day


@cli.command("build")
@_paths
@_workspace
@_today
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("out"),
    show_default=True,
    help="Folder for the documents.",
)
@click.option(
    "--paper",
    type=click.Choice(["policy", "A4", "Letter", "both"]),
    default="policy",
    show_default=True,
    help="Paper size; the site policy's unless named.",
)
@click.option(
    "--document",
    "kinds",
    type=click.Choice(["checklist", "data-sheet", "dossier", "training", "competency"]),
    multiple=True,
    help="Document to make; checklist, data sheet and dossier unless named.",
)
@click.option(
    "--format",
    "forms",
    type=click.Choice(["html", "pdf"]),
    multiple=True,
    help="Form to make; both unless named.",
)
@click.option(
    "--print-date",
    type=click.DateTime(["%Y-%m-%d"]),
    default=None,
    metavar="DATE",
    help="Date printed on every page; a box to write in unless given.",
)
def build_command(
    paths: tuple[Path, ...], workspace: Path | None, today: object, out: Path, paper: str, kinds: tuple[str, ...],
    forms: tuple[str, ...], print_date: object,
) -> None:  # fmt: skip
    """Check methods and compile those without errors into checklists, data sheets and dossiers.

    The training sheet and the competency form are made where they are named with --document.
    """
    from fillmark.build import USUAL, Order, build  # noqa: PLC0415

    files = _inputs(paths)
    reference = _reference(workspace, files)
    done = _compiled(files, reference, _day(today))
    found = [d for c in done for d in c.diagnostics]
    if found:
        _tell(done, _texts(done))
    papers = (
        ("A4", "Letter")
        if paper == "both"
        else (reference.policy.choices["paper"] if paper == "policy" else paper,)
    )
    order = Order(
        papers=papers,
        kinds=kinds or USUAL,
        forms=forms or ("html", "pdf"),
        print_date=_day(print_date) if print_date is not None else None,
    )
    result = build(done, out, order, progress=_progress())
    for name in result.withdrawn:
        _put(f"taken away: {out / name} (no longer what its method gives)", err=True)
    for problem in result.problems:
        _put(f"error: {problem}", err=True)
    for path in result.written:
        _put(str(path))
    stopped = [c.file for c in done if not c.clean]
    if stopped:
        _put(f"not built, because of errors: {', '.join(stopped)}", err=True)
    if result.problems:
        raise SystemExit(USAGE)
    raise SystemExit(_code([d for d in found if d.blocks], Severity.ERROR))


def _progress() -> bool:
    return sys.stderr.isatty() and os.environ.get("TERM") != "dumb"


@cli.command("library")
@_paths
@_workspace
@_today
@click.option(
    "--format", "form", type=click.Choice(["text", *FORMS]), default="text", help="How findings are written."
)
def library_command(paths: tuple[Path, ...], workspace: Path | None, today: object, form: str) -> None:
    """Look at all methods together: one product under two conditions, near-duplicates, waivers everywhere."""
    from fillmark.library import examine  # noqa: PLC0415

    files = _inputs(paths)
    reference = _reference(workspace, files, form)
    done = _compiled(files, reference, _day(today))
    together = examine(done)
    apart = [replace(c, diagnostics=tuple(d for d in together if d.file == c.file)) for c in done]
    _tell(apart, _texts(apart), form)
    unjudged = [c.file for c in done if c.method is None]
    if unjudged:
        _put(f"left out, because they cannot be read: {', '.join(unjudged)} (see fillmark check)", err=True)
    raise SystemExit(_code(together, Severity.WARNING))


@cli.command("compare")
@click.argument("before", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("after", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@_workspace
@click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
    help="How the comparison is written.",
)  # fmt: skip
def compare_command(before: Path, after: Path, workspace: Path | None, form: str) -> None:
    """Compare two revisions by meaning: what changed, what it does, and what it triggers.

    BEFORE is the file of the earlier revision, AFTER that of the later one. Exit code 0 if nothing technical
    changed and nothing is found, 1 otherwise, 2 if a file cannot be compiled.
    """
    from fillmark.compare import compare  # noqa: PLC0415
    from fillmark.compared import compared_json, compared_text  # noqa: PLC0415

    files = [before, after]
    one, two = _each(files, _reference(workspace, files, form), _day(None))
    stopped = [c for c in (one, two) if c.method is None]
    if stopped:
        if form == "text":
            _tell(stopped, _texts(stopped))
        else:
            # On the error stream, so that what reads a comparison is never handed findings in its place.
            lines = (f"{d.file}:{d.span.line}: {d.code} {d.message}" for c in stopped for d in c.diagnostics)
            _put("\n".join(lines), err=True)
        names = " and ".join(c.file for c in stopped)
        _put(f"There is no comparison: {names} must be readable first.", err=True)
        raise SystemExit(USAGE)
    compared = compare(one, two)
    if form == "json":
        _put(compared_json(compared).encode())
    else:
        _put(compared_text(compared, ascii_only=_ascii_wanted(sys.stdout.encoding)))
    raise SystemExit(FINDINGS if compared.technical or compared.found else CLEAN)


@cli.command("choose", cls=Glued)
@click.argument("file", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@_workspace
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
def choose_command(
    file: Path | None, workspace: Path | None, step: str | None, top: int, form: str, target: Path | None,
    pick: int | None, *, every: bool, losers: bool, preview: bool, **flags: str | None,
) -> None:  # fmt: skip
    """Rank every spring, spindle and speed of the laboratory for a specification, and say why others lose.

    The specification comes from a method FILE, however much of it is written yet, from the flags, or from
    both: a flag stands above the file. Exit code 0 if something passes, 1 if nothing does.
    """
    from fillmark.choose import as_json, asked, choose, faults, told, wishes  # noqa: PLC0415

    if target is None and (preview or pick is not None):
        raise click.UsageError("--preview and --pick say how to --write; write that too.")
    if target not in (None, Path()):
        if file is not None and file != target:
            raise click.UsageError(f"The choice is made for {file}, not for {target}. Name one of them.")
        file = target
    reference = _reference(workspace, [file] if file is not None else [])
    compiled = _each([file], reference, _day(None))[0] if file is not None else None
    if compiled is not None:
        found = compiled.diagnostics if compiled.source is None else faults(compiled.source, reference)
        if found:
            _tell([replace(compiled, diagnostics=tuple(found))], _texts([compiled]))
            raise SystemExit(USAGE)
    source = compiled.source if compiled is not None else None
    chosen = choose(asked(source, wishes(flags, reference), step, reference))
    lines = (
        [as_json(chosen)] if form == "json" else told(chosen, top=None if every else top, every_loser=losers)
    )
    for line in lines:
        _put(line)
    if target is not None and chosen.winners:
        if compiled is None:
            raise click.UsageError("--write needs a method file to write into.")
        _write_choice(compiled, chosen, pick, preview=preview, quiet=form != "text")
    raise SystemExit(CLEAN if chosen.winners else FINDINGS)


def _write_choice(
    compiled: Compiled, chosen: "Chosen", pick: int | None, *, preview: bool, quiet: bool
) -> None:
    """Put a choice into its file, or show how, and say what the check then finds; ends the run on failure."""
    from fillmark.choose import CannotWriteError, name_of, picked, put_in, still_open  # noqa: PLC0415
    from fillmark.fix import diff, write  # noqa: PLC0415

    one = picked(chosen, pick)
    try:
        mended = put_in(compiled, chosen.asked, one, _day(None))
        if not preview:
            write(mended)
    except (CannotWriteError, OSError) as error:
        why = error.strerror or str(error) if isinstance(error, OSError) else str(error)
        _put(f"{compiled.file} is not written: {why}.", err=True)
        raise SystemExit(USAGE) from error
    if not quiet:
        _put("")
    for line in diff(mended) if preview else ():
        _put(line, err=quiet)
    if preview:
        found = summary(mended.after.diagnostics, 1)
        _put(f"Nothing was written. What the check would leave: {found}", err=True)
        return
    if not mended.fixes:
        _put(f"{compiled.file} has {name_of(one)} already.", err=quiet)
    for fix in mended.fixes:
        _put(f"written {compiled.file}:{fix.line}: {fix.why}", err=quiet)
    rests_on = still_open(chosen.asked, one)
    if rests_on is not None:
        _put(f"not written, and yours to say: {rests_on}", err=quiet)
    if quiet:
        _put(f"What the check finds: {summary(mended.after.diagnostics, 1)}", err=True)
    else:
        _put("What the check now finds:")
        _tell([mended.after], _texts([mended.after]))


@cli.command("explain")
@click.argument("code")
@click.argument("file", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@_workspace
def explain_command(code: str, file: Path | None, workspace: Path | None) -> None:
    """Explain a code, such as TRQ01; with a file, what it found there and the numbers behind it."""
    from fillmark.explain import explain  # noqa: PLC0415

    compiled = None
    if file is not None:
        reference = _reference(workspace, [file])
        compiled = _compiled([file], reference, _day(None))[0]
    text = explain(code, compiled)
    if text is None:
        from fillmark.explain import close_codes  # noqa: PLC0415

        near = ", ".join(close_codes(code))
        raise click.UsageError(
            f"There is no code {code}.{f' Near it: {near}.' if near else ''} All of them: fillmark explain list"
        )
    _put(text)


_step = click.option(
    "--step", "name", metavar="NAME", help="Step of the run; those with limits unless named."
)
_text_or_json = click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text", show_default=True,
    help="How the budget is written.",
)  # fmt: skip


@cli.command("misuse")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@_workspace
@_step
@click.option(
    "--shift", metavar="PERCENT", help="Backwards: which slips explain a result off by so much, as -9 %."
)
@_text_or_json
def misuse_command(
    file: Path, workspace: Path | None, name: str | None, shift: str | None, form: str
) -> None:
    """Say what each slip at the bench does to the result, and whether a wrong batch would then pass."""
    from fillmark.budgets import explanation_text, misuse_json, misuse_text, read_shift  # noqa: PLC0415

    try:
        seen = None if shift is None else read_shift(shift)
    except ValueError as error:
        raise click.UsageError(str(error)) from error
    method, figures, steps = _steps_of(file, workspace, name, form)
    if form == "json":
        _put(misuse_json(method, figures, steps, seen).encode())
        return
    plain = _ascii_wanted(sys.stdout.encoding)
    texts = [
        misuse_text(method, figures, step, ascii_only=plain) if seen is None
        else explanation_text(method, figures, step, seen, ascii_only=plain)
        for step in steps
    ]  # fmt: skip
    _put("\n\n\n".join(texts))


@cli.command("uncertainty")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@_workspace
@_step
@_text_or_json
def uncertainty_command(file: Path, workspace: Path | None, name: str | None, form: str) -> None:
    """Lay out the uncertainty of a result: what goes in, how it adds up, and what the decision rule makes of it."""
    from fillmark.budgets import uncertainty_json, uncertainty_text  # noqa: PLC0415

    method, figures, steps = _steps_of(file, workspace, name, form)
    if form == "json":
        _put(uncertainty_json(method, figures, steps).encode())
        return
    plain = _ascii_wanted(sys.stdout.encoding)
    _put("\n\n\n".join(uncertainty_text(method, figures, step, ascii_only=plain) for step in steps))


def _steps_of(
    file: Path, workspace: Path | None, name: str | None, form: str
) -> tuple[Method, Figures, tuple[Step, ...]]:
    """Compile a file for a budget; ends the run where there is nothing to work with."""
    from fillmark.budgets import steps_with_limits  # noqa: PLC0415

    compiled = _compiled([file], _reference(workspace, [file], form), _day(None))[0]
    method, figures = compiled.method, compiled.figures
    if method is None or figures is None:
        # On the error stream, so that what reads a budget is never handed findings in its place.
        _put(
            "\n".join(f"{d.file}:{d.span.line}: {d.code} {d.message}" for d in compiled.diagnostics), err=True
        )
        _put("The file must be readable before a budget can be made: fillmark check shows the way.", err=True)
        raise SystemExit(_code(compiled.diagnostics, Severity.ADVICE))
    if name is not None and method.step(name) is None:
        raise click.UsageError(f"There is no step {name}. Steps: {', '.join(s.name for s in method.run)}.")
    if not compiled.clean:
        count = sum(d.blocks for d in compiled.diagnostics)
        _put(
            f"{file} has {count} error{'' if count == 1 else 's'}: the budget follows what is written.",
            err=True,
        )
    return method, figures, tuple(s for s in method.run if s.name == name) or steps_with_limits(method)


@cli.command("show")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@_workspace
def show_command(file: Path, workspace: Path | None) -> None:
    """Show the torque bar of each speed of a method, and every figure with its formula."""
    from fillmark.show import show  # noqa: PLC0415

    compiled = _compiled([file], _reference(workspace, [file]), _day(None))[0]
    if compiled.method is None or compiled.figures is None:
        _tell([compiled], _texts([compiled]))
        raise SystemExit(_code(compiled.diagnostics, Severity.ERROR))
    _put(show(compiled.method, compiled.figures, min(_terminal_width(), 110)))


@cli.command("doctor")
@_workspace
def doctor_command(workspace: Path | None) -> None:
    """Look whether everything Fillmark needs is here, and say what to do where it is not."""
    from fillmark.doctor import examine  # noqa: PLC0415

    lines, healthy = examine(workspace or find_workspace(Path()))
    for line in lines:
        _put(line)
    raise SystemExit(CLEAN if healthy else FINDINGS)


@cli.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion_command(shell: str) -> None:
    """Print the completion script of a shell; put it where your shell loads such scripts."""
    from click.shell_completion import get_completion_class  # noqa: PLC0415

    kind = get_completion_class(shell)
    if kind is None:
        raise click.UsageError(f"No completion for {shell}.")
    _put(kind(cli, {}, "fillmark", "_FILLMARK_COMPLETE").source())


class _SpeltOut(codecs.IncrementalEncoder):
    """ASCII, with the signs of the trade spelt out: mPa.s, 23 degC."""

    def encode(self, text: str, final: bool = False) -> bytes:  # noqa: ARG002 - there is nothing to finish
        return text.encode("ascii", "spell-out")


def _spelt_out(name: str) -> codecs.CodecInfo | None:
    if name.replace("_", "-") != "spelt-out":
        return None
    ascii_codec = codecs.lookup("ascii")
    return codecs.CodecInfo(
        lambda text, errors="strict": (text.encode("ascii", "spell-out"), len(text)),  # noqa: ARG005
        ascii_codec.decode, incrementalencoder=_SpeltOut, incrementaldecoder=ascii_codec.incrementaldecoder,
        name="spelt-out",
    )  # fmt: skip


def _suit_terminal() -> None:
    """Have signs that the terminal does not know spelt out in all that is written to it, help included."""
    codecs.register_error("spell-out", lambda e: (plain_ascii(e.object[e.start : e.end]), e.end))  # type: ignore[attr-defined]
    codecs.register(_spelt_out)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            plain = os.environ.get("FILLMARK_ASCII") or codecs.lookup(stream.encoding).name == "ascii"
            # Under the name of ASCII itself, click would take the stream for a mistake and write UTF-8.
            stream.reconfigure(encoding="spelt-out" if plain else stream.encoding, errors="spell-out")


def main() -> int:
    """Run the command line and give its exit code."""
    from fillmark.new import new_command  # noqa: PLC0415

    cli.add_command(new_command)
    _suit_terminal()
    try:
        code = cli.main(prog_name="fillmark", standalone_mode=False)
    except click.exceptions.Abort:
        _put("Stopped. What was finished is in place; nothing is half-written.", err=True)
        return INTERRUPTED
    except click.ClickException as error:
        error.show()
        return USAGE
    except SystemExit as error:
        return error.code if isinstance(error.code, int) else USAGE
    except Exception:  # noqa: BLE001 - the one place where our own faults are shown as such
        traceback.print_exc()
        _put(
            "This is a fault of Fillmark, not of your file. Please report it with the lines above.", err=True
        )
        return OUR_FAULT
    return code if isinstance(code, int) else CLEAN
