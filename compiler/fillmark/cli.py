"""The command line: `fillmark check | build | explain | new | doctor | completion`.

Exit codes: 0 nothing found, 1 findings, 2 wrong use or files that cannot be read, 3 a fault of Fillmark.
Imports that cost time (templates, PDF, progress) wait until a command needs them.
"""

import os
import sys
import traceback
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import click

from fillmark import __version__
from fillmark.diagnostics import Diagnostic, Severity
from fillmark.model import Reference
from fillmark.pipeline import Compiled, compile_method, used_twice
from fillmark.reference import load
from fillmark.report import as_json
from fillmark.terminal import colour_wanted, render
from fillmark.workspace import find_workspace, method_files

CLEAN, FINDINGS, USAGE, OUR_FAULT = 0, 1, 2, 3

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


def _reference(workspace: Path | None, paths: Sequence[Path]) -> Reference:
    """Load the reference data for these paths; ends the run with its diagnostics if it is faulty."""
    home = workspace or find_workspace(paths[0] if paths else Path())
    reference, found = load(home)
    if reference is None:
        _print_text(found, {}, files=0)
        click.echo("The reference data must be right before any method can be judged.", err=True)
        raise SystemExit(USAGE)
    return reference


def _inputs(paths: tuple[Path, ...]) -> list[Path]:
    given = paths or ((Path("methods"),) if Path("methods").is_dir() else ())
    files = method_files(given)
    if not files:
        where = ", ".join(str(p) for p in given) or "this folder (there is no methods/ in it)"
        raise click.UsageError(f"No method files (*.yaml) in {where}. Name a file or a folder, or start one: fillmark new")
    return files


def _compiled(files: Sequence[Path], reference: Reference, today: date | None) -> list[Compiled]:
    done = []
    for file in files:
        try:
            data = file.read_bytes()
        except OSError as error:
            raise click.UsageError(f"{file} cannot be read: {error.strerror}.") from error
        done.append(compile_method(data, str(file), reference, today=today))
    return used_twice(done)


def _ascii_wanted(encoding: str | None) -> bool:
    return bool(os.environ.get("FILLMARK_ASCII")) or (encoding or "ascii").lower().replace("-", "") != "utf8"


def _print_text(diagnostics: Sequence[Diagnostic], sources: dict[str, object], *, files: int) -> None:
    width = min(_terminal_width(), 110)
    text = render(
        diagnostics, sources, colour=colour_wanted(sys.stdout, os.environ),
        ascii_only=_ascii_wanted(sys.stdout.encoding), width=width, files=files,
    )  # fmt: skip
    click.echo(text)


def _terminal_width() -> int:
    import shutil  # noqa: PLC0415

    return shutil.get_terminal_size((100, 24)).columns


def _code(diagnostics: Sequence[Diagnostic], least: Severity) -> int:
    return FINDINGS if any(d.severity >= least and d.waived_by is None for d in diagnostics) else CLEAN


@cli.command("check")
@_paths
@_workspace
@_today
@click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="How findings are written.")
@click.option(
    "--fail-on", type=click.Choice([s.word for s in Severity]), default="warning", show_default=True,
    help="Least weight of a finding that gives exit code 1.",
)  # fmt: skip
def check_command(paths: tuple[Path, ...], workspace: Path | None, today: object, form: str, fail_on: str) -> None:
    """Check methods: files, or folders with all YAML below them (methods/ unless named)."""
    files = _inputs(paths)
    reference = _reference(workspace, files)
    done = _compiled(files, reference, _day(today))
    found = [d for c in done for d in c.diagnostics]
    if form == "json":
        click.echo(as_json(found, len(files)))
    else:
        _print_text(found, {c.file: c.source for c in done if c.source is not None}, files=len(files))
    raise SystemExit(_code(found, Severity[fail_on.upper()]))


def _day(today: object) -> date:
    from datetime import datetime  # noqa: PLC0415

    return today.date() if isinstance(today, datetime) else date.today()  # noqa: DTZ011 - the bench's own day


@cli.command("build")
@_paths
@_workspace
@_today
@click.option("--out", type=click.Path(file_okay=False, path_type=Path), default=Path("out"), show_default=True, help="Folder for the documents.")
@click.option("--paper", type=click.Choice(["policy", "A4", "Letter", "both"]), default="policy", show_default=True, help="Paper size; the site policy's unless named.")
@click.option("--document", "kinds", type=click.Choice(["checklist", "data-sheet"]), multiple=True, help="Document to make; all unless named.")
@click.option("--format", "forms", type=click.Choice(["html", "pdf"]), multiple=True, help="Form to make; both unless named.")
@click.option("--print-date", type=click.DateTime(["%Y-%m-%d"]), default=None, metavar="DATE", help="Date printed on every page; a box to write in unless given.")
def build_command(
    paths: tuple[Path, ...], workspace: Path | None, today: object, out: Path, paper: str, kinds: tuple[str, ...],
    forms: tuple[str, ...], print_date: object,
) -> None:  # fmt: skip
    """Check methods and compile those without errors into checklists and data sheets."""
    from fillmark.build import Order, build  # noqa: PLC0415

    files = _inputs(paths)
    reference = _reference(workspace, files)
    done = _compiled(files, reference, _day(today))
    found = [d for c in done for d in c.diagnostics]
    if found:
        _print_text(found, {c.file: c.source for c in done if c.source is not None}, files=len(files))
    papers = ("A4", "Letter") if paper == "both" else (reference.policy.choices["paper"] if paper == "policy" else paper,)
    order = Order(
        papers=papers,
        kinds=kinds or ("checklist", "data-sheet"),
        forms=forms or ("html", "pdf"),
        print_date=_day(print_date) if print_date is not None else None,
    )
    result = build(done, out, order, progress=_progress())
    for name in result.withdrawn:
        click.echo(f"taken away: {out / name} (it no longer matches its method)", err=True)
    for problem in result.problems:
        click.echo(f"error: {problem}", err=True)
    for path in result.written:
        click.echo(path)
    stopped = [c.file for c in done if not c.clean]
    if stopped:
        click.echo(f"not built, because of errors: {', '.join(stopped)}", err=True)
    if result.problems:
        raise SystemExit(USAGE)
    raise SystemExit(FINDINGS if stopped else CLEAN)


def _progress() -> bool:
    return sys.stderr.isatty() and os.environ.get("TERM") != "dumb"


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
        raise click.UsageError(f"There is no code {code}.{f' Near it: {near}.' if near else ''} All of them: fillmark explain list")
    _echo(text)


def _echo(text: str) -> None:
    from fillmark.terminal import plain_ascii  # noqa: PLC0415

    click.echo(plain_ascii(text) if _ascii_wanted(sys.stdout.encoding) else text)


@cli.command("doctor")
@_workspace
def doctor_command(workspace: Path | None) -> None:
    """Look whether everything Fillmark needs is here, and say what to do where it is not."""
    from fillmark.doctor import examine  # noqa: PLC0415

    lines, healthy = examine(workspace or find_workspace(Path()))
    for line in lines:
        _echo(line)
    raise SystemExit(CLEAN if healthy else FINDINGS)


@cli.command("completion")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion_command(shell: str) -> None:
    """Print the completion script of a shell; put it where your shell loads such scripts."""
    from click.shell_completion import get_completion_class  # noqa: PLC0415

    kind = get_completion_class(shell)
    if kind is None:
        raise click.UsageError(f"No completion for {shell}.")
    click.echo(kind(cli, {}, "fillmark", "_FILLMARK_COMPLETE").source())


def main() -> int:
    """Run the command line and give its exit code."""
    from fillmark.new import new_command  # noqa: PLC0415

    cli.add_command(new_command)
    try:
        code = cli.main(prog_name="fillmark", standalone_mode=False)
    except click.exceptions.Abort:
        click.echo("Stopped. What was finished is in place; nothing is half-written.", err=True)
        return 130
    except click.ClickException as error:
        error.show()
        return USAGE
    except SystemExit as error:
        return error.code if isinstance(error.code, int) else USAGE
    except BrokenPipeError:
        # The reader of our output (head, a pager) has gone; that is no fault.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return CLEAN
    except Exception:  # noqa: BLE001 - the one place where our own faults are shown as such
        traceback.print_exc()
        click.echo("This is a fault of Fillmark, not of your file. Please report it with the lines above.", err=True)
        return OUR_FAULT
    return code if isinstance(code, int) else CLEAN
