"""`fillmark study`: what measured data say, kind by kind, and what of it goes into the method."""

import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

import click

from fillmark.commands.console import (
    USAGE,
    ascii_wanted,
    day,
    each,
    exit_code,
    put,
    reference_for,
    tell,
    terminal_width,
    text_or_json_option,
    texts,
    today_option,
    workspace_option,
)
from fillmark.diagnostics import Diagnostic, Severity
from fillmark.files import read_at_most, shown
from fillmark.fix import diff, write
from fillmark.insert import CannotWriteError
from fillmark.model import Method, Policy, Reference
from fillmark.pipeline import Compiled
from fillmark.quantities import QuantityError, brief, parse
from fillmark.studies import (
    NoStudyError,
    Outcome,
    at_method,
    bridging,
    precision,
    ranges,
    scouting,
    temperature,
)
from fillmark.studies.table import LARGEST, Column, Table, read_table
from fillmark.studies.told import as_json, as_text
from fillmark.studies.writing import put_in
from fillmark.terminal import HasLines, colour_wanted, render, summary

_Command = TypeVar("_Command", bound=Callable[..., Any])


@click.group("study")
def command() -> None:
    """Work out what measured data say: precision, ranges, temperature, scouting, bridging.

    DATA is a CSV file; `--template` prints one to fill in. A METHOD behind it is compared with what the data say,
    and --write puts the values of the study into it, with their evidence. Exit code 0 if nothing is found, 1 if
    something is, 2 if the data cannot be read.
    """


_SHARED = (
    click.argument("data", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path)),
    click.argument("file", metavar="[METHOD]", required=False,
                   type=click.Path(exists=True, dir_okay=False, path_type=Path)),
    workspace_option,
    today_option,
    text_or_json_option,
    click.option("--write", "write_it", is_flag=True, help="Put what the study yields into METHOD, with its evidence."),
    click.option("--preview", is_flag=True, help="With --write: show the change as a diff and write nothing."),
    click.option("--page", type=click.Path(dir_okay=False, path_type=Path), metavar="FILE",
                 help="Also write a page with numbers, formulas and charts: .html or .pdf."),
    click.option("--template", is_flag=True, help="Print a data file to fill in, and end."),
)  # fmt: skip


def _with_shared(function: _Command) -> _Command:
    """Give a command the options that all kinds of study have."""
    for option in reversed(_SHARED):
        function = option(function)
    return function


@dataclass(frozen=True, slots=True)
class _Asked:
    """What all kinds are asked with."""

    data: Path | None
    file: Path | None
    workspace: Path | None
    today: object
    form: str
    write_it: bool
    preview: bool
    page: Path | None
    template: bool


@dataclass(frozen=True, slots=True)
class _Given:
    """What a study is made from."""

    table: Table
    policy: Policy
    compiled: Compiled | None
    day: str

    @property
    def basis(self) -> tuple[Table, Policy, Method | None, str]:
        """Give table, policy, method and day."""
        return self.table, self.policy, None if self.compiled is None else self.compiled.method, self.day


def _run(
    asked: _Asked, columns: Sequence[Column], study: Callable[[_Given], Outcome],
    sheet: Sequence[str] = (),
) -> None:  # fmt: skip
    """Make one study and tell of it; ends the run."""
    if asked.template:
        put("\n".join(sheet or _sheet(columns)))
        return
    if asked.data is None:
        raise click.UsageError("Name a data file (CSV); --template prints one to fill in.")
    if asked.preview and not asked.write_it:
        raise click.UsageError("--preview shows what --write would do; write both.")
    if asked.write_it and asked.file is None:
        raise click.UsageError("--write needs a method file behind the data.")
    if asked.page is not None and asked.page.suffix.lower() not in (".html", ".pdf"):
        raise click.UsageError(f"--page {asked.page}: name a file that ends in .html or .pdf.")
    on = day(asked.today)
    reference = reference_for(asked.workspace, [asked.file or asked.data], asked.form)
    compiled = _method(asked.file, reference, on)
    method = None if compiled is None else compiled.method
    try:
        content = read_at_most(asked.data, LARGEST)
    except OSError as error:
        raise click.ClickException(f"{asked.data} cannot be read: {error.strerror or error}.") from error
    table = read_table(content, shown(str(asked.data)), columns)
    if table.spoilt:
        _findings(table, table.diagnostics)
        raise SystemExit(USAGE)
    try:
        outcome = study(_Given(table, reference.policy, compiled, on.isoformat()))
    except NoStudyError as error:
        _findings(table, error.diagnostics)
        raise SystemExit(USAGE) from error
    except ValueError as error:
        raise click.UsageError(str(error)) from error
    if compiled is not None and compiled.source is not None:
        outcome = at_method(outcome, compiled.file, compiled.source)
    _tell(outcome, compiled, reference, asked.form, on)
    if asked.page is not None:
        _page(outcome, method, reference, asked.page, on)
    if asked.write_it and compiled is not None:
        _write(compiled, outcome, reference, on, preview=asked.preview, quiet=asked.form != "text")
    raise SystemExit(exit_code(outcome.diagnostics, Severity.WARNING))


def _sheet(columns: Sequence[Column]) -> list[str]:
    lines = []
    for column in columns:
        extra = " (may be left out)" if column.optional else ""
        lines.append(f"# {column.name}{extra}: {column.about}")
    lines.append(
        "# A decimal comma is read too, with semicolons between the cells. A bound such as > 20 is no result."
    )
    units = {
        "value": "value [Pa·s]",
        "temperature": "temperature [°C]",
        "speed": "speed [rpm]",
        "time": "time [s]",
        "torque": "torque [%]",
    }
    return [*lines, ",".join(units.get(c.name, c.name) if c.number else c.name for c in columns)]


def _method(file: Path | None, reference: Reference, on: date) -> Compiled | None:
    """Compile the method; ends the run where nothing can be compared with it."""
    if file is None:
        return None
    compiled = each([file], reference, on)[0]
    if compiled.method is None:
        tell([compiled], texts([compiled]))
        put("The method must be readable before data can be compared with it.", err=True)
        raise SystemExit(exit_code(compiled.diagnostics, Severity.ADVICE) or USAGE)
    return compiled


def _findings(
    table: Table, diagnostics: Sequence[Diagnostic], compiled: Compiled | None = None, *, err: bool = True
) -> None:
    stream = sys.stderr if err else sys.stdout
    colour = colour_wanted(stream, os.environ)
    read: dict[str, HasLines] = {table.name: table}
    if compiled is not None and compiled.source is not None:
        read[compiled.file] = compiled.source
    text = render(
        diagnostics, read, colour=colour, ascii_only=ascii_wanted(stream.encoding),
        width=min(terminal_width(), 110), files=len(read),
    )  # fmt: skip
    put(text, err=err, colour=colour)


def _tell(outcome: Outcome, compiled: Compiled | None, reference: Reference, form: str, on: date) -> None:
    method = None if compiled is None else compiled.method
    if form == "json":
        put(as_json(outcome, method, reference.policy, on.isoformat()).encode())
        return
    put(as_text(outcome, method, ascii_only=ascii_wanted(sys.stdout.encoding)))
    put("")
    _findings(outcome.table, outcome.diagnostics, compiled, err=False)


def _page(outcome: Outcome, method: Method | None, reference: Reference, file: Path, on: date) -> None:
    from fillmark.printing import PrintingFailed, PrintingUnavailable, pdf  # noqa: PLC0415
    from fillmark.publish import write_whole  # noqa: PLC0415
    from fillmark.studies.page import page  # noqa: PLC0415

    content = page(outcome, method, reference, on.isoformat())
    try:
        if file.suffix.lower() == ".pdf":
            content = pdf(content.decode(), paper=reference.policy.choices["paper"])
        write_whole(file, content)
    except (PrintingFailed, PrintingUnavailable) as error:
        raise click.ClickException(f"{file} is not written: {error}") from error
    except OSError as error:
        raise click.ClickException(f"{file} cannot be written: {error.strerror or error}.") from error
    put(f"written {file}", err=True)


def _write(
    compiled: Compiled, outcome: Outcome, reference: Reference, on: date, *, preview: bool, quiet: bool
) -> None:
    """Put the values into the method, or show how, and say what the check then finds; ends the run on failure."""
    try:
        mended = put_in(compiled, outcome, reference, on)
        if not preview:
            write(mended)
    except (CannotWriteError, OSError) as error:
        why = error.strerror or str(error) if isinstance(error, OSError) else str(error)
        put(f"{compiled.file} is not written: {why}.", err=True)
        raise SystemExit(USAGE) from error
    for line in diff(mended) if preview else ():
        put(line, err=quiet)
    if preview:
        put(
            f"Nothing was written. What the check would leave: {summary(mended.after.diagnostics, 1)}",
            err=True,
        )
        return
    for fix in mended.fixes:
        put(f"written {compiled.file}:{fix.line}: {fix.why}", err=quiet)
    put(f"What the check finds: {summary(mended.after.diagnostics, 1)}", err=quiet)


_by = click.option(
    "--by", "by", default="laboratory", show_default=True, metavar="COLUMNS",
    help="Columns that make a group, such as operator or day,operator.",
)  # fmt: skip
_material = click.option(
    "--material", metavar="NAME", help="Material of the data to look at; all unless named."
)


def _groups(by: str) -> list[str]:
    names = [b.strip().casefold() for b in by.split(",") if b.strip()]
    if not names or len(set(names)) < len(names) or {"value", "material", "replicate"} & set(names):
        raise click.UsageError(f"--by {by}: name one column or more that make a group, such as operator,day.")
    return names


@command.command("precision")
@_with_shared
@_by
@_material
def _precision(by: str, material: str | None, **shared: Any) -> None:
    """Repeatability and reproducibility of results in groups, with h and k for each group.

    Groups are laboratories, or operators and days of one laboratory (--by operator,day). Nothing is ever dropped.
    """
    groups = _groups(by)
    _run(
        _Asked(**shared), precision.columns(groups),
        lambda given: precision.study(*given.basis, by=groups, material=material),
    )  # fmt: skip


@command.command("ranges")
@_with_shared
@_by
@_material
def _ranges(by: str, material: str | None, **shared: Any) -> None:
    """How far n results may lie apart, from their repeatability, and how near a mean may come to a limit."""
    groups = _groups(by)
    _run(
        _Asked(**shared), ranges.columns(groups),
        lambda given: ranges.study(*given.basis, by=groups, material=material),
    )  # fmt: skip


@command.command("temperature")
@_with_shared
@click.option(
    "--target",
    metavar="TEMPERATURE",
    help="Where the slope is wanted, such as 23 °C; the method's unless given.",
)
def _temperature(target: str | None, **shared: Any) -> None:
    """Fall of the viscosity for each kelvin, from results below, at and above the test temperature."""
    at = None
    if target is not None:
        try:
            at = parse(target, "temperature").value
        except QuantityError as error:
            raise click.UsageError(f"--target: {error.problem} {error.expected}") from error
    _run(
        _Asked(**shared), temperature.columns(),
        lambda given: temperature.study(*given.basis, target=at),
    )  # fmt: skip


@command.command("scouting")
@_with_shared
@click.option(
    "--claim",
    type=click.Choice(scouting.CLAIMS),
    help="Behaviour that is claimed; the method's unless given.",
)
def _scouting(claim: str | None, **shared: Any) -> None:
    """Shear-thinning index, thixotropy and settling, from a ramp of speeds and a hold at one."""
    _run(
        _Asked(**shared), scouting.columns(),
        lambda given: scouting.study(*given.basis, claim=claim),
    )  # fmt: skip


def _printed(compiled: Compiled | None) -> tuple[str | None, str | None]:
    """Give the limits that the transfer sheet of the method bears, for product and fluid; None where it has none."""
    from fillmark.derive.transfer import transfer  # noqa: PLC0415

    if compiled is None or compiled.method is None or compiled.figures is None:
        return None, None
    found = transfer(compiled.method, compiled.figures)
    product, fluid = (found.value(key) for key in ("transfer.margin", "transfer.single"))
    texts = [None if v is None else f"{brief(v, 6)} Pa·s" for v in (product, fluid)]
    return texts[0], texts[1]


@command.command("bridging")
@_with_shared
@click.option(
    "--change", type=click.Choice(list(bridging.CHANGES)), help="What changes between the two ways."
)
@click.option(
    "--margin",
    metavar="AMOUNT",
    help='Set beforehand: how far apart is still the same, such as "4 %" or "0.4 Pa·s"; '
    "that of the transfer sheet of METHOD unless given.",
)
@click.option(
    "--fluid-margin",
    metavar="AMOUNT",
    help="The same for the reference fluid; that of the transfer sheet or of the product unless given.",
)
@click.option(
    "--power",
    type=click.FloatRange(50, 99.9),
    metavar="PERCENT",
    help="Chance with which agreement shall be shown; the site policy's unless given.",
)
@click.option(
    "--seed",
    type=click.IntRange(0, 10**18 - 1),
    help="Seed that the order was drawn with, or is to be drawn with.",
)
@click.option(
    "--lots",
    type=click.IntRange(2, 1000),
    default=12,
    show_default=True,
    help="With --template: how many lots.",
)
def _bridging(
    change: str | None, margin: str | None, fluid_margin: str | None, power: float | None, seed: int | None, lots: int,
    **shared: Any,
) -> None:  # fmt: skip
    """Two ways of measuring, by pairs: do they agree within a margin, and if not, where to look.

    For another laboratory, instrument or readout, and for a change of spindle, guard or container, which begins a new
    history.
    """
    if shared["template"]:
        if seed is None:
            raise click.UsageError(
                "Name a --seed for the order, and keep it: anybody can then draw the same order again."
            )
    elif change is None:
        raise click.UsageError(f"Name what changes with --change: {', '.join(bridging.CHANGES)}.")
    _run(
        _Asked(**shared), bridging.columns(),
        lambda given: bridging.study(
            *given.basis, change=change or "", margin=margin, fluid_margin=fluid_margin, power=power, seed=seed,
            sheet=_printed(given.compiled),
        ),
        bridging.paired_sheet(lots, seed or 0),
    )  # fmt: skip
