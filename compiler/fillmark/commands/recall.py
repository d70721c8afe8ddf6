"""`fillmark recall`: copies called back, and what became of them."""

from datetime import datetime
from pathlib import Path

import click

from fillmark.commands.console import moment, moment_option, put, reference_for, workspace_option
from fillmark.commands.named import laboratory, not_written, person, reason, refuse, register_of
from fillmark.documents.wording import Phrases
from fillmark.printing import PrintingUnavailable
from fillmark.publish import write_whole
from fillmark.releases.copies import CLOSED, RECALLED, Copy, CopyError, notice, recall
from fillmark.releases.register import RegisterError
from fillmark.releases.revisions import revisions_of


@click.command("recall")
@click.argument("method")
@click.option("--revision", type=click.IntRange(min=0), required=True, help="The revision.")
@click.option(
    "--copy",
    "numbers",
    type=click.IntRange(min=1),
    multiple=True,
    help="A copy; all that are out unless named.",
)
@click.option("--whole", is_flag=True, help="Call back the revision itself: no further copy is issued.")
@click.option("--returned", "state", flag_value=CLOSED[0], help="Enter that they came back.")
@click.option("--destroyed", "state", flag_value=CLOSED[1], help="Enter that they were destroyed.")
@click.option("--lost", "state", flag_value=CLOSED[2], help="Enter that they cannot be found.")
@click.option("--reason", "why", metavar="TEXT", help="Why; of a copy that was lost, when it was last seen.")
@click.option("--by", metavar="NAME", help="Who calls them back or enters it.")
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"]), default=None,
    help="Size of the notice; the site policy's unless given.",
)  # fmt: skip
@click.option(
    "--out", type=click.Path(file_okay=False, path_type=Path), default=None,
    help="Folder for the notice; out/copies of the laboratory unless named.",
)  # fmt: skip
@moment_option
@workspace_option
def command(
    method: str, revision: int, numbers: tuple[int, ...], state: str | None, why: str | None, by: str | None,
    paper: str | None, out: Path | None, at: object, workspace: Path | None, *, whole: bool,
) -> None:  # fmt: skip
    """Call copies of a revision back and write the notice, or enter what became of them.

    METHOD is the id of a method. Copies that are called back stay on the list until each is entered as returned,
    destroyed or lost. Exit code 0 done, 2 refused or not written.
    """
    home = laboratory(workspace)
    when = moment(at)
    if whole and (numbers or state):
        raise click.UsageError(
            "--whole calls back the revision with all its copies; leave --copy and the others out."
        )
    text, name = reason(why), person(by, "--by")
    try:
        register_of(home)
        copies = recall(
            home, method, revision, numbers=numbers or None, state=state or RECALLED, whole=whole, reason=text, at=when,
            by=name,
        )  # fmt: skip
    except CopyError as error:
        refuse(error.refusal)
    except (RegisterError, OSError) as error:
        raise not_written(error, "Nothing was entered", home) from error
    for copy in copies:
        put(f"copy {copy.number} of {method} revision {revision}, {copy.to}: {copy.entered}")
    if whole:
        put(f"revision {revision} of {method} is called back; no further copy of it is issued")
    if state is None:
        _notice(
            home,
            method,
            revision,
            copies,
            text,
            name,
            when,
            out or home / "out" / "copies",
            paper,
            whole=whole,
        )


def _notice(
    home: Path, method: str, revision: int, copies: tuple[Copy, ...], why: str, by: str, when: datetime, folder: Path,
    paper: str | None, *, whole: bool,
) -> None:  # fmt: skip
    """Write the notice. The line stands in the register by now: a recall must not wait for a printer."""
    from fillmark.printing import pdf  # noqa: PLC0415 - only a PDF needs the system libraries
    from fillmark.render import render  # noqa: PLC0415 - only papers need the templates

    known = register_of(home)
    one = next(r for r in revisions_of(home, known, method) if r.number == revision)
    compiled = one.compiled() if one.bundle is not None else None
    if compiled is None or compiled.method is None:
        put("There is no notice: the bundle of the revision is not sound (fillmark verify).", err=True)
        return
    reference = reference_for(home, [])
    size = paper or reference.policy.choices["paper"]
    planned = notice(
        one,
        compiled.method,
        copies,
        Phrases(reference.phrases),
        reason=why,
        by=by,
        today=when.date(),
        whole=whole,
    )
    html = render(planned, paper=size)
    line = known.of_kind("recall")[-1].line
    file = folder / f"{method}-r{revision}-recall-{line}.pdf"
    try:
        try:
            content = pdf(html, paper=size)
        except PrintingUnavailable as error:
            put(f"{error}", err=True)
            file, content = file.with_suffix(".html"), html.encode()
        write_whole(file, content)
    except OSError as error:
        raise click.ClickException(
            f"The copies are called back, but the notice cannot be written: {file}: {error.strerror}. The list is in: "
            f"fillmark issue {method} --list"
        ) from error
    put(str(file))
