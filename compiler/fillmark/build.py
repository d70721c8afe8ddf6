"""Make the documents of one method: what its steps, figures and findings are on paper."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fillmark import __version__
from fillmark.budgets import misuse_rows, misuse_tables, uncertainty_tables
from fillmark.derive.curves import curves
from fillmark.diagnostics import Path as Place
from fillmark.digest import digest, used
from fillmark.documents import Document
from fillmark.documents.checklist import plan_checklist
from fillmark.documents.competency import plan_competency
from fillmark.documents.data_sheet import plan_data_sheet
from fillmark.documents.dossier import Review, Since, plan_dossier
from fillmark.documents.pictures import all_of
from fillmark.documents.slips import Slip
from fillmark.documents.training import plan_training
from fillmark.figures import Figures
from fillmark.misuse import in_words, misuse_budget, spread
from fillmark.model import Method
from fillmark.orders import FORMS, RECORD, Order
from fillmark.pipeline import Compiled
from fillmark.rules import all_rules


@dataclass(frozen=True, slots=True)
class Made:
    """The documents of one kind of one method, and why there is no PDF of them, if so."""

    files: Mapping[str, bytes]
    no_pdf: str | None = None


def document(compiled: Compiled, kind: str, order: Order, since: Since | None = None) -> Made:
    """Make the documents of one kind of a clean method: file name -> bytes.

    HTML stands once for each paper size, as the page breaks differ. Where the libraries for PDF are missing,
    HTML is made all the same. `since` is what changed since the last release; it is looked up where the order
    names a workspace.
    """
    method, figures = compiled.method, compiled.figures
    if method is None or figures is None:
        raise ValueError("a method that did not compile has no documents")
    if kind == RECORD:
        from fillmark.records.template import as_csv  # noqa: PLC0415 - most papers are no tables

        name = f"{method.id}-r{method.revision}-{RECORD}-blank.csv"
        return Made({name: as_csv(method, figures, digest(method))})
    from fillmark.render import render  # noqa: PLC0415 - only papers need the templates

    made: dict[str, bytes] = {}
    no_pdf: str | None = None
    if kind == "dossier" and since is None and order.home is not None:
        from fillmark.releases.earlier import since_last  # noqa: PLC0415 - only a dossier after a release needs it

        since = since_last(order.home, compiled)
    planned = _plan(kind, compiled, method, figures, digest(method), order.print_date, since)
    for paper in order.papers or (method.reference.policy.choices["paper"],):
        html = render(planned, paper=paper)
        name = f"{method.id}-r{method.revision}-{kind}-{paper}"
        if "html" in order.forms:
            made[f"{name}.html"] = html.encode()
        if "pdf" in order.forms:
            from fillmark.printing import PrintingUnavailable, pdf  # noqa: PLC0415 - only a PDF needs them

            try:
                made[f"{name}.pdf"] = pdf(html, paper=paper)
            except PrintingUnavailable as error:
                no_pdf = str(error)
    return Made(made, no_pdf)


def documents(compiled: Compiled, order: Order, since: Since | None = None) -> dict[str, bytes]:
    """Make all documents of one clean method: file name -> bytes."""
    return {
        name: content
        for kind in order.kinds
        for name, content in document(compiled, kind, order, since).files.items()
    }


def _plan(
    kind: str, compiled: Compiled, method: Method, figures: Figures, mark: str, print_date: date | None,
    since: Since | None,
) -> Document:  # fmt: skip
    if kind == "checklist":
        return plan_checklist(method, figures, mark, print_date=print_date)
    if kind == "data-sheet":
        return plan_data_sheet(method, figures, mark, print_date=print_date)
    if kind == "training":
        return plan_training(method, figures, mark, slips(method, figures), print_date=print_date)
    if kind == "competency":
        return plan_competency(method, figures, mark, slips(method, figures), print_date=print_date)
    if kind in FORMS:
        from fillmark.forms import plan_form  # noqa: PLC0415 - most builds make no forms

        return plan_form(kind, method, figures, mark, slips(method, figures), print_date=print_date)
    return plan_dossier(
        method,
        figures,
        mark,
        review(compiled, method),
        pictures=all_of(method, figures, curves(method, figures)),
        uncertainty=uncertainty_tables(method, figures),
        misuse=misuse_tables(method, figures),
        since=since,
        print_date=print_date,
    )


def slips(method: Method, figures: Figures) -> dict[str, Slip]:
    """Put the misuse budget of the first step with limits into words for training and assessment, by key."""
    step = method.judged_step
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
            range=slip.range,
            span="" if slip.range is None else spread(*slip.range),
            grows=slip.amount is not None,
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
