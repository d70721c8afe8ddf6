"""`fillmark verification-log`: instruments over their checks, and the results to look at again after a fail."""

import re
from pathlib import Path

import click

from fillmark.commands.console import (
    USAGE,
    compiled_all,
    day,
    exit_code,
    inputs,
    put,
    reference_for,
    tell,
    text_or_json_option,
    today_option,
    workspace_option,
)
from fillmark.diagnostics import Diagnostic, Severity, in_reading_order
from fillmark.figures import Figures
from fillmark.files import read_at_most, shown
from fillmark.model import Method
from fillmark.pipeline import Compiled
from fillmark.publish import write_whole
from fillmark.trending.measured import collect
from fillmark.verification.log import Judgement, judge
from fillmark.verification.logbook import LARGEST_LOG, Log, read_log
from fillmark.verification.told import as_json, text


@click.command("verification-log")
@click.argument("log", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("methods", nargs=-1, type=click.Path(exists=True, path_type=Path))
@click.option(
    "--results", multiple=True, type=click.Path(exists=True, path_type=Path), metavar="PATH",
    help="Results of fillmark evaluate (file or folder), to look back on after a fail.",
)  # fmt: skip
@click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), default=None, metavar="DIR",
    help="Write the page (HTML and PDF) and the JSON into this folder.",
)  # fmt: skip
@click.option(
    "--paper", type=click.Choice(["policy", "A4", "Letter"]), default="policy", show_default=True,
    help="Paper of the PDF; the site policy's unless named.",
)  # fmt: skip
@text_or_json_option
@workspace_option
@today_option
def command(
    log: Path, methods: tuple[Path, ...], results: tuple[Path, ...], out: Path | None, paper: str, form: str,
    workspace: Path | None, today: object,
) -> None:  # fmt: skip
    """Judge a verification log: band, error, drift and run rules of each instrument; the list to look back on.

    LOG is CSV or JSON. Where METHODS are named, a check made as one of them says is judged by its band; others
    by the reference data.
    """
    reference = reference_for(workspace, [log], form)
    named: list[tuple[Method, Figures]] = []
    for one in compiled_all(inputs(methods), reference, day(today)) if methods else ():
        if one.method is None or one.figures is None:
            put(
                f"{one.file} cannot be read as a method; its checks are judged by the reference data.",
                err=True,
            )
        else:
            named.append((one.method, one.figures))
    try:
        data = read_at_most(log, LARGEST_LOG)
    except OSError as error:
        raise click.UsageError(f"{log} cannot be read: {error.strerror or error}.") from error
    read = read_log(data, shown(str(log)), reference.raw)
    found = collect(results) if results else None
    judgement = judge(
        read, reference, methods=named, results=found.measured if found is not None else (), today=day(today)
    )
    said = in_reading_order([*judgement.diagnostics, *(found.diagnostics if found is not None else ())])
    if form == "json":
        put(as_json(judgement))
    else:
        put(text(judgement))
        if said:
            put("")
            tell(
                [
                    Compiled(file, tuple(d for d in said if d.file == file))
                    for file in dict.fromkeys(d.file for d in said)
                ],
                {read.name: read},
            )
    if out is not None:
        _write(
            judgement,
            out,
            log.stem,
            reference.policy.choices["paper"] if paper == "policy" else paper,
            today,
            form,
        )
    raise SystemExit(USAGE if _nothing(read, said) else exit_code(said, Severity.WARNING))


def _nothing(read: Log, said: list[Diagnostic]) -> bool:
    return bool(said) and not read.checks and not read.events


def _write(judgement: Judgement, out: Path, stem: str, paper: str, today: object, form: str) -> None:
    from fillmark.printing import PrintingUnavailable, pdf  # noqa: PLC0415 - only the page needs it
    from fillmark.verification.page import page  # noqa: PLC0415 - idem

    name = re.sub(r"[^A-Za-z0-9._-]", "_", stem)[:80].lstrip(".") or "log"
    html = page(judgement, today=day(today))
    made = {f"{name}.html": html, f"{name}.json": as_json(judgement).encode()}
    try:
        made[f"{name}.pdf"] = pdf(html.decode(), paper=paper)
    except PrintingUnavailable as error:
        put(str(error), err=True)
    for file, content in made.items():
        try:
            write_whole(out / file, content)
        except OSError as error:
            put(f"{out / file} is not written: {error.strerror or error}.", err=True)
            raise SystemExit(USAGE) from error
        put(str(out / file), err=form != "text")
