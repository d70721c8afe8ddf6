"""Make the documents of compiled methods and put them in place, method by method.

The order matters: first every document that no longer matches its method is taken away, then new ones are
made and swapped in whole. So an interruption leaves papers missing, never wrong.
"""

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Protocol

from fillmark import __version__
from fillmark.budgets import misuse_rows, misuse_tables, steps_with_limits, uncertainty_tables
from fillmark.derive.curves import curves
from fillmark.diagnostics import Path as Place
from fillmark.digest import digest, used
from fillmark.documents import Document
from fillmark.documents.checklist import plan_checklist
from fillmark.documents.competency import plan_competency
from fillmark.documents.data_sheet import plan_data_sheet
from fillmark.documents.dossier import Review, plan_dossier
from fillmark.documents.pictures import all_of
from fillmark.documents.slips import Slip
from fillmark.documents.training import plan_training
from fillmark.figures import Figures
from fillmark.misuse import in_words, misuse_budget
from fillmark.model import Method
from fillmark.pipeline import Compiled
from fillmark.publish import (
    Register,
    place,
    read_register,
    sweep,
    withdraw,
    withdraw_unknown,
    write_register,
)
from fillmark.rules import all_rules
from fillmark.workspace import address

KINDS = ("checklist", "data-sheet", "dossier", "training", "competency")
"""The documents there are, in the order they are made in."""

USUAL = KINDS[:3]
"""Those made where none is named."""


@dataclass(frozen=True, slots=True)
class Order:
    """What to make of each method."""

    papers: tuple[str, ...]
    kinds: tuple[str, ...]
    forms: tuple[str, ...]
    print_date: date | None = None


@dataclass(slots=True)
class Result:
    """What a build did."""

    written: list[Path] = field(default_factory=list)
    withdrawn: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)


class _Bar(Protocol):
    def advance(self, name: str) -> None: ...


def documents(compiled: Compiled, order: Order) -> dict[str, bytes]:
    """Make the documents of one clean method: file name -> bytes.

    HTML stands once for each paper size, as the page breaks differ.
    """
    method, figures = compiled.method, compiled.figures
    if method is None or figures is None:
        raise ValueError("a method that did not compile has no documents")
    from fillmark.render import render  # noqa: PLC0415 - only papers need the templates

    mark = digest(method)
    made: dict[str, bytes] = {}
    for kind in order.kinds:
        document = _plan(kind, compiled, method, figures, mark, order.print_date)
        for paper in order.papers:
            html = render(document, paper=paper)
            name = f"{method.id}-r{method.revision}-{kind}-{paper}"
            if "html" in order.forms:
                made[f"{name}.html"] = html.encode()
            if "pdf" in order.forms:
                from fillmark.printing import pdf  # noqa: PLC0415 - only a PDF needs the system libraries

                made[f"{name}.pdf"] = pdf(html, paper=paper)
    return made


def _plan(
    kind: str, compiled: Compiled, method: Method, figures: Figures, mark: str, print_date: date | None
) -> Document:
    if kind == "checklist":
        return plan_checklist(method, figures, mark, print_date=print_date)
    if kind == "data-sheet":
        return plan_data_sheet(method, figures, mark, print_date=print_date)
    if kind == "training":
        return plan_training(method, figures, mark, slips(method, figures), print_date=print_date)
    if kind == "competency":
        return plan_competency(method, figures, mark, slips(method, figures), print_date=print_date)
    return plan_dossier(
        method,
        figures,
        mark,
        review(compiled, method),
        pictures=all_of(method, figures, curves(method, figures)),
        uncertainty=uncertainty_tables(method, figures),
        misuse=misuse_tables(method, figures),
        print_date=print_date,
    )


def slips(method: Method, figures: Figures) -> dict[str, Slip]:
    """Put the misuse budget of the first step with limits into words for training and assessment, by key."""
    step = steps_with_limits(method)[0]
    rows = misuse_rows(method, figures, step)
    return {
        slip.key: Slip(
            key=slip.key,
            what=slip.what,
            direction=slip.direction,
            known=slip.known,
            shifts=row[2:5],
            batches=in_words(method, step, slip),
            rests_on=slip.why,
            shown_by=slip.shown_by,
        )
        for slip, row in zip(misuse_budget(method, figures, step), rows, strict=True)
    }


def review(compiled: Compiled, method: Method) -> Review:
    """Gather for the dossier what the rules said of a method and where its values stand."""
    source, checked = compiled.source, compiled.checked
    if source is None or checked is None:
        raise ValueError("a method that was not checked has no dossier")

    def line_of(path: Place) -> int:
        return source.span(path).line

    return Review(
        findings=compiled.diagnostics,
        not_judged=tuple((rule.code, rule.slug, why) for rule, why in checked.not_judged),
        rules=len(all_rules()),
        version=__version__,
        used=tuple(sorted(used(method))),
        line_of=line_of,
    )


def build(compiled: Sequence[Compiled], out: Path, order: Order, *, progress: bool = False) -> Result:
    """Build all clean methods into `out`; those with errors lose the documents of an earlier build.

    What cannot be written is told in `Result.problems`; the other methods are still built. Where the
    libraries for PDF are missing, HTML is made all the same.
    """
    from fillmark.printing import PrintingUnavailable  # noqa: PLC0415

    result = Result()
    try:
        out.mkdir(parents=True, exist_ok=True)
        sweep(out)
        register = read_register(out)
        _withdraw_outdated(compiled, out, register, result)
        write_register(out, register)
    except OSError as error:
        result.problems.append(f"{out} cannot be written: {error.strerror}. Give another folder with --out.")
        return result
    with _bar(sum(c.clean for c in compiled), shown=progress) as bar:
        for one in compiled:
            if not one.clean or one.method is None:
                continue
            bar.advance(one.method.id)
            try:
                try:
                    _build_one(one, out, register, order, result)
                except PrintingUnavailable as error:
                    result.problems.append(str(error))
                    order = replace(order, forms=tuple(f for f in order.forms if f != "pdf"))
                    _build_one(one, out, register, order, result)
            except OSError as error:
                result.problems.append(f"{out / one.method.id} cannot be written: {error.strerror}.")
    return result


def _build_one(one: Compiled, out: Path, register: Register, order: Order, result: Result) -> None:
    method = one.method
    if method is None or not order.forms:
        return
    source = _source(one.file, out)
    other = next((s for s, e in register.items() if e["id"] == method.id and s != source), None)
    if other is not None:
        result.problems.append(
            f"{one.file} is not built: the papers of {method.id} in {out} were made from {out / other}. "
            "Build both files together to see which of them is right."
        )
        return
    made = documents(one, order)
    before = register.get(source, {}).get("files", ())
    result.withdrawn.extend(f"{method.id}/{name}" for name in before if name not in made)
    # Noted before the papers stand, so that no paper ever stands without its source being known.
    register[source] = {
        "id": method.id,
        "digest": digest(method),
        "made_with": __version__,
        "files": sorted(made),
    }
    write_register(out, register)
    result.written.extend(place(out, method.id, made))


def _withdraw_outdated(compiled: Sequence[Compiled], out: Path, register: Register, result: Result) -> None:
    current = {_source(c.file, out): c for c in compiled}
    for source in list(register):
        one = current.get(source)
        if one is None:
            if not (out / source).is_file():
                result.withdrawn.extend(withdraw(out, register, source))
        elif not one.clean or one.method is None or register[source].get("digest") != digest(one.method):
            result.withdrawn.extend(withdraw(out, register, source))
    result.withdrawn.extend(withdraw_unknown(out, register))


def _source(file: str, out: Path) -> str:
    """Name a method file as seen from the out folder: a laboratory's folder can be moved as a whole."""
    try:
        return Path(os.path.relpath(address(file), address(out))).as_posix()
    except ValueError:
        return address(file)  # on another drive


class _Silent:
    def advance(self, name: str) -> None:
        """Say nothing."""


@contextmanager
def _bar(total: int, *, shown: bool) -> Iterator[_Bar]:
    """Show a progress bar on the terminal, or nothing."""
    if not shown:
        yield _Silent()
        return
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    with Progress(console=Console(file=sys.stderr), transient=True) as progress:
        task = progress.add_task("building", total=total)

        class Shown:
            def advance(self, name: str) -> None:
                progress.update(task, advance=1, description=f"building {name}")

        yield Shown()
