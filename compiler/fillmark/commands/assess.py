"""`fillmark assess`: a competency assessment, judged from the filled form and entered in the register."""

import sys
from datetime import datetime
from pathlib import Path
from typing import NoReturn

import click

from fillmark.build import slips
from fillmark.commands.console import (
    CLEAN,
    FINDINGS,
    USAGE,
    ascii_wanted,
    day,
    moment,
    moment_option,
    put,
    tell,
    text_or_json_option,
    workspace_option,
)
from fillmark.commands.named import compiled_of, not_written, person, reason, register_of
from fillmark.digest import digest
from fillmark.documents.assessed import INCOMPLETE, PASSED, plan_assessed
from fillmark.figures import Figures
from fillmark.files import read_at_most
from fillmark.model import Method
from fillmark.names import alike, known_as
from fillmark.pipeline import Compiled
from fillmark.printing import PrintingUnavailable
from fillmark.publish import write_whole
from fillmark.read import read
from fillmark.releases import register
from fillmark.releases.register import RegisterError, append_held, locked
from fillmark.releases.release import moment_text
from fillmark.training import assessment
from fillmark.training.assessment import Assessment, assessed_json, assessed_text, for_paper
from fillmark.training.levels import ASSESSMENT, NOTIFIED, SUPERVISED, SUSPENDED, Standing, holdings, standing


@click.command("assess")
@click.argument("method")
@click.argument("filled", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--template", is_flag=True, help="Write an empty form for the method, to fill in.")
@click.option(
    "--page", type=click.Path(dir_okay=False, path_type=Path), default=None, metavar="FILE",
    help="Write the judgement as a page to sign, .html or .pdf.",
)  # fmt: skip
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default=None, help="Its size; the site policy's unless given."
)  # fmt: skip
@click.option("--record", is_flag=True, help="Enter the outcome in the register.")
@click.option("--by", metavar="NAME", help="Who enters it.")
@click.option(
    "--on-paper",
    metavar="REASON",
    help="With --record: why the level of the assessor is not in the register.",
)
@click.option(
    "--enter", "what", type=click.Choice([SUPERVISED, NOTIFIED, SUSPENDED]), default=None,
    help="Without a form: enter a supervised run, a notice given, or a level taken away.",
)  # fmt: skip
@click.option("--person", "who", metavar="NAME", help="With --enter: of whom.")
@click.option("--assessor", metavar="NAME", help="With --enter: who supervised or told; --by unless given.")
@click.option(
    "--day", "on", type=click.DateTime(["%Y-%m-%d"]), default=None, metavar="DATE",
    help="With --enter: the day of it; today unless given.",
)  # fmt: skip
@click.option("--reason", "why", metavar="TEXT", help="With --enter suspended: why.")
@moment_option
@workspace_option
@text_or_json_option
def command(
    method: str, filled: Path | None, page: Path | None, paper: str | None, by: str | None, on_paper: str | None,
    what: str | None, who: str | None, assessor: str | None, on: object, why: str | None, at: object,
    workspace: Path | None, form: str, *, template: bool, record: bool,
) -> None:  # fmt: skip
    """Judge a filled competency form, criterion by criterion, with the reasons and the ways on.

    METHOD is a method file or the name of a release, such as MCW-VIS-014-r3; FILLED is the filled form, YAML or
    JSON. Exit code 0 passed, 1 not passed or not to be judged, 2 wrong use or a file that cannot be read.
    """
    when = moment(at)
    compiled, home = compiled_of(method, workspace, when.date())
    known = _method(compiled)
    if template:
        put(
            assessment.template(
                known, _figures(compiled), digest(known), slips(known, _figures(compiled))
            ).encode()
        )
        return
    if what is not None:
        line = {"what": what, "person": person(who, "--person"), "assessor": assessor, "why": why}
        _enter(known, home, line, on, person(by, "--by"), when)
        return
    if filled is None:
        raise click.UsageError("Name the filled form, or write an empty one: --template.")
    judged = _judged(compiled, filled, home, when, on_paper=on_paper)
    if form == "json":
        put(assessed_json(judged).encode())
    else:
        put(assessed_text(judged, ascii_only=ascii_wanted(sys.stdout.encoding)))
    if page is not None:
        _page(judged, page, paper or known.reference.policy.choices["paper"], when)
    if record:
        _record(judged, home, person(by, "--by"), on_paper, when)
    raise SystemExit(CLEAN if judged.verdict == PASSED else FINDINGS)


def _method(compiled: Compiled) -> Method:
    if compiled.method is None:
        raise ValueError("a method that did not compile was let through")
    return compiled.method


def _figures(compiled: Compiled) -> Figures:
    if compiled.figures is None:
        raise ValueError("a method that did not compile was let through")
    return compiled.figures


def _judged(
    compiled: Compiled, filled: Path, home: Path | None, when: datetime, *, on_paper: str | None
) -> Assessment:
    try:
        data = read_at_most(filled)
    except OSError as error:
        raise click.UsageError(f"{filled} cannot be read: {error.strerror}.") from error
    source, found = assessment.read_form(data, str(filled))
    if source is None:
        tell([Compiled(str(filled), found)], {str(filled): read(data, str(filled))})
        put("The form cannot be judged before it can be read.", err=True)
        raise SystemExit(USAGE)
    method, figures = _method(compiled), _figures(compiled)
    held = None if on_paper is not None else _standing(method, source.data["assessor"]["name"], home, when)
    return assessment.judge(
        source, method, figures, digest(method), slips(method, figures), today=when.date(), assessor=held
    )


def _standing(method: Method, assessor: str | None, home: Path | None, when: datetime) -> Standing | None:
    """Ask the register about the assessor; None where it tells of nobody's competency on the method."""
    if home is None or assessor is None:
        return None
    known = register_of(home)
    if not any(e.data["id"] == method.id for e in known.of_kind("competency")):
        return None
    found = holdings(home, known, method.reference.policy, when.date(), within=0)
    return standing(found, assessor, method.id)


def _page(judged: Assessment, page: Path, paper: str, when: datetime) -> None:
    from fillmark.printing import pdf  # noqa: PLC0415 - only a PDF needs the system libraries
    from fillmark.render import render  # noqa: PLC0415 - only papers need the templates

    planned = plan_assessed(judged.method, judged.digest, for_paper(judged), print_date=when.date())
    html = render(planned, paper=paper)
    try:
        write_whole(page, pdf(html, paper=paper) if page.suffix.lower() == ".pdf" else html.encode())
    except PrintingUnavailable as error:
        raise click.ClickException(f"{page} is not written: {error} Or name it .html.") from error
    except OSError as error:
        raise click.ClickException(f"{page} cannot be written: {error.strerror}.") from error
    put(f"written {page}", err=True)


# --- the register


def _released(method: Method, home: Path | None) -> Path:
    """See that what is entered rests on a release; wrong use where it does not."""
    if home is None:
        raise click.UsageError(
            "The method lies in no laboratory's folder, so there is no register. Name it: --workspace"
        )
    mark = digest(method)
    for entry in register_of(home).releases(method.id):
        if (entry.data["revision"], entry.data["digest"]) == (method.revision, mark):
            return home
    raise click.UsageError(
        f"{method.id} revision {method.revision} with digest {mark[:8]} is not in the register of releases, so "
        f"that later "
        "revisions could not be compared with it. Release it first, or name the release the form was printed from: "
        f"{method.id}-r{method.revision}"
    )


def _record(judged: Assessment, home: Path | None, by: str, on_paper: str | None, when: datetime) -> None:
    told = "" if on_paper is None else reason(on_paper, "--on-paper")
    if judged.verdict == INCOMPLETE:
        put("Nothing was entered: a form that is not judged gives no level and takes none.", err=True)
        raise SystemExit(FINDINGS)
    home = _released(judged.method, home)
    known = any(c.key == "assessor" and c.sum.startswith("the register") for c in judged.criteria)
    if not told and not known:
        raise click.UsageError(
            f"Nothing was entered: the register tells of no level of anybody on {judged.method.id}, so not of "
            f"{judged.form['assessor']['name']} either. Enter the assessor's own assessment first, or say where "
            f"the level "
            "stands: --on-paper REASON"
        )
    line = assessment.entry(judged, at=moment_text(when), by=by, on_paper=told)
    try:
        with locked(home):
            for before in register.read(home).of_kind("competency"):
                if before.data.get("form") == judged.sha256:
                    _twice(before.line)
            entered = append_held(home, line)
    except (RegisterError, OSError) as error:
        raise not_written(error, "Nothing was entered", home) from error
    level = f"level {judged.level} until {judged.valid_until}" if judged.verdict == PASSED else "not passed"
    put(
        f"entered in line {entered.line} of the register: {line['person']}, {judged.method.id}, {level}",
        err=True,
    )


def _twice(line: int) -> NoReturn:
    raise click.ClickException(
        f"Nothing was entered: this very form stands in line {line} of the register. A new assessment has a new form."
    )


def _enter(
    method: Method, home: Path | None, given: dict[str, str | None], on: object, by: str, when: datetime
) -> None:
    home = _released(method, home)
    name, what = str(given["person"]), str(given["what"])
    date_ = day(on) if on is not None else when.date()
    if date_ > when.date():
        raise click.UsageError(f"--day {date_} is still to come.")
    line = {
        "kind": "competency", "at": moment_text(when), "by": by, "what": what, "person": name, "id": method.id,
        "revision": method.revision, "digest": digest(method), "day": date_.isoformat(),
        "assessor": person(given["assessor"] or by, "--assessor"),
    }  # fmt: skip
    if what == SUSPENDED:
        line["reason"] = reason(given["why"])
    if what == SUPERVISED:
        _may_supervise(method, home, str(line["assessor"]), name, when)
    _refuse_unknown(home, method.id, name)
    try:
        entered = register.append(home, line)
    except (RegisterError, OSError) as error:
        raise not_written(error, "Nothing was entered", home) from error
    put(
        f"entered in line {entered.line} of the register: {name}, {method.id} revision {method.revision}, {what}",
        err=True,
    )


def _refuse_unknown(home: Path, method_id: str, name: str) -> None:
    """See that the person has been assessed: what is entered under a name misspelt would change nobody's level."""
    known = {
        known_as(e.data["person"]): str(e.data["person"])
        for e in register_of(home).of_kind("competency")
        if e.data["id"] == method_id and e.data["what"] == ASSESSMENT
    }
    if known_as(name) not in known:
        listed = ", ".join(sorted(known.values())[:16]) or "nobody"
        raise click.UsageError(
            f"Nothing was entered: the register tells of no assessment of {name} on {method_id}, so nobody's level "
            f"would change by it. Assessed was: {listed}."
        )


def _may_supervise(method: Method, home: Path, supervisor: str, name: str, when: datetime) -> None:
    """See that a supervised run was supervised by somebody else who holds a level; wrong use where not."""
    if alike(supervisor, name):
        raise click.UsageError(f"{name} cannot supervise their own run. Name who did: --assessor NAME")
    least = int(method.reference.policy["competency_assessor"])
    held = _standing(method, supervisor, home, when)
    if held is not None and held.level < least:
        raise click.UsageError(
            f"{supervisor} may not supervise: {held.why}; the site asks for level {least}. Name somebody who "
            f"does hold it."
        )
