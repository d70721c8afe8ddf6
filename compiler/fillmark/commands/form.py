"""`fillmark form`: the forms that are not made with a build, because they need no valid method or an argument."""

import re
from datetime import date
from pathlib import Path

import click

from fillmark.build import slips
from fillmark.commands.build import format_option, out_option, paper_option, print_date_option
from fillmark.commands.console import (
    USAGE,
    compiled_all,
    day,
    exit_code,
    papers_of,
    put,
    reference_for,
    workspace_option,
)
from fillmark.derive.transfer import seed_of
from fillmark.diagnostics import Severity
from fillmark.digest import digest
from fillmark.documents import Document
from fillmark.forms import LARGEST_SEED, FormError, Wanted, plan_form, scouting, wall_card
from fillmark.model import Reference
from fillmark.publish import write_whole

file_option = click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))


@click.group("form")
def command() -> None:
    """Print a form: scouting (no method needed), wall-card (of an instrument), transfer (with a seed).

    They are written into the folder forms/ of --out. Verification log, investigation and transfer sheet of a
    method also come with `fillmark build --document NAME`.
    """


@command.command("scouting")
@click.argument("file", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--product", default="", metavar="NAME", help="What is looked at.")
@click.option("--instrument", default="", metavar="KEY", help="An instrument of the inventory.")
@click.option("--spring", default="", metavar="KEY", help="A spring, where no instrument is named.")
@click.option("--spindle", default="", metavar="KEY", help="A spindle of the inventory.")
@click.option(
    "--speed", "speeds", multiple=True, metavar="SPEED", help="A speed, as '20 rpm'; several may be named."
)
@click.option("--temperature", default="", metavar="TEMPERATURE", help="Test temperature, as '23.0 °C'.")
@workspace_option
@out_option
@paper_option
@format_option
@print_date_option
def scouting_command(
    file: Path | None, product: str, instrument: str, spring: str, spindle: str, speeds: tuple[str, ...],
    temperature: str, workspace: Path | None, out: Path, paper: str, forms: tuple[str, ...], print_date: object,
) -> None:  # fmt: skip
    """Print what to measure of a product before a method is written.

    FILE is a draft, which may have errors; what cannot be used of it is said on the sheet. Without one, name
    instrument and spindle.
    """
    reference = reference_for(workspace, [file] if file is not None else [])
    compiled = None if file is None else compiled_all([file], reference, None)[0]
    wanted = Wanted(product, instrument, spring, spindle, speeds, temperature)
    try:
        document = scouting(compiled, reference, wanted, print_date=_date(print_date))
    except FormError as error:
        raise click.UsageError(str(error)) from error
    own = "" if file is None else file.stem
    name = own or "-".join(part for part in (instrument or spring, spindle) if part)
    _write(document, f"scouting-{name}", reference, out, paper, forms)


@command.command("wall-card")
@click.option(
    "--instrument", "keys", multiple=True, metavar="KEY",
    help="An instrument of the inventory; every one unless named.",
)  # fmt: skip
@workspace_option
@out_option
@paper_option
@format_option
@print_date_option
def wall_card_command(
    keys: tuple[str, ...],
    workspace: Path | None,
    out: Path,
    paper: str,
    forms: tuple[str, ...],
    print_date: object,
) -> None:
    """Print the card to hang beside an instrument: spindles, ranges at each speed, what may not go together."""
    reference = reference_for(workspace, [])
    try:
        cards = {
            key: wall_card(reference, key, print_date=_date(print_date))
            for key in keys or reference.instruments
        }
    except FormError as error:
        raise click.UsageError(str(error)) from error
    for key, card in cards.items():
        _write(card, f"wall-card-{key}", reference, out, paper, forms)


@command.command("transfer")
@file_option
@click.option(
    "--seed", type=click.IntRange(0, LARGEST_SEED), default=None, metavar="N",
    help="Draws the order of the run; that of the method's digest unless given.",
)  # fmt: skip
@workspace_option
@out_option
@paper_option
@format_option
@print_date_option
def transfer_command(
    file: Path, seed: int | None, workspace: Path | None, out: Path, paper: str, forms: tuple[str, ...],
    print_date: object,
) -> None:  # fmt: skip
    """Print the sheet by which a method is carried to another instrument or place, in an order drawn by a seed."""
    reference = reference_for(workspace, [file])
    compiled = compiled_all([file], reference, day(None))[0]
    method, figures = compiled.method, compiled.figures
    if method is None or figures is None or not compiled.clean:
        put(
            "\n".join(
                f"{d.file}:{d.span.line}: {d.code} {d.message}" for d in compiled.diagnostics if d.blocks
            ),
            err=True,
        )
        put("A transfer needs a method without errors: fillmark check shows the way.", err=True)
        raise SystemExit(exit_code(compiled.diagnostics, Severity.ERROR))
    mark = digest(method)
    drawn = seed_of(mark) if seed is None else seed
    document = plan_form(
        "transfer", method, figures, mark, slips(method, figures), print_date=_date(print_date), seed=drawn
    )
    _write(document, f"{method.id}-r{method.revision}-transfer-seed-{drawn}", reference, out, paper, forms)


def _date(print_date: object) -> date | None:
    return None if print_date is None else day(print_date)


def _write(
    document: Document, name: str, reference: Reference, out: Path, paper: str, forms: tuple[str, ...]
) -> None:
    """Write a document in the forms asked for, and tell where it stands."""
    from fillmark.printing import PrintingUnavailable, pdf  # noqa: PLC0415 - only papers need the libraries
    from fillmark.render import render  # noqa: PLC0415

    stem = re.sub(r"[^\w.-]+", "-", name).strip("-.") or "form"
    for size in papers_of(paper, reference.policy):
        html = render(document, paper=size)
        made = {"html": html.encode()} if not forms or "html" in forms else {}
        if not forms or "pdf" in forms:
            try:
                made["pdf"] = pdf(html, paper=size)
            except PrintingUnavailable as error:
                put(f"error: {error}", err=True)
        for suffix, content in made.items():
            target = out / "forms" / f"{stem}-{size}.{suffix}"
            try:
                write_whole(target, content)
            except OSError as error:
                put(
                    f"error: {target} cannot be written: {error.strerror}. Name another folder with --out.",
                    err=True,
                )
                raise SystemExit(USAGE) from error
            put(str(target))
