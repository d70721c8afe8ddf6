"""`fillmark release`: a method becomes a released revision."""

import json
from pathlib import Path
from typing import Any

import click

from fillmark import __version__
from fillmark.commands.console import (
    CLEAN,
    FINDINGS,
    moment,
    moment_option,
    papers_of,
    put,
    reference_for,
    tell,
    text_or_json_option,
    texts,
    workspace_option,
)
from fillmark.commands.named import laboratory, not_written, person
from fillmark.compare import MEANINGS, TRIGGERS
from fillmark.diagnostics import Diagnostic
from fillmark.pipeline import Compiled
from fillmark.printing import PrintingUnavailable
from fillmark.releases.register import FOLDER, Entry, RegisterError
from fillmark.releases.release import Judged, Made, ReleaseError, commit, judge, make, moment_text
from fillmark.releases.signature import SignatureError, sign
from fillmark.report.json import as_data


@click.command("release")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--by", required=True, metavar="NAME", help="Who releases it; not its author.")
@click.option(
    "--sign", "key", type=click.Path(exists=True, dir_okay=False, path_type=Path), default=None, metavar="KEY",
    help="Sign the bundle with this OpenSSH key, by ssh-keygen.",
)  # fmt: skip
@click.option(
    "--paper", type=click.Choice(["policy", "A4", "Letter", "both"]), default="policy", show_default=True,
    help="Paper size of the documents; the site policy's unless named.",
)  # fmt: skip
@click.option("--html-only", is_flag=True, help="Make no PDF, on a machine that cannot.")
@click.option("--preview", is_flag=True, help="Say what would be done, and do nothing.")
@moment_option
@workspace_option
@text_or_json_option
def command(
    file: Path, by: str, key: Path | None, paper: str, at: object, workspace: Path | None, form: str, *,
    html_only: bool, preview: bool,
) -> None:  # fmt: skip
    """Release a revision: bundle the method with its papers, reference data and findings, and register it.

    What is released stands in released/ of the workspace. Refused, with the reason and the ways out, are
    methods with errors, self-approved, under a number that is not greater than the last, or with a change
    classed too low. Exit code 0 released, 1 refused, 2 wrong use or a disk that does not take it.
    """
    home = laboratory(workspace, file)
    when, by = moment(at), person(by, "--by")
    reference = reference_for(home, [file], form)
    try:
        judged = judge(file, home, by=by, at=when)
    except OSError as error:
        raise click.UsageError(f"{error.filename or file} cannot be read: {error.strerror}.") from error
    if judged.refusals:
        _refused(judged, judged.refusals, form)
    papers = papers_of(paper, reference.policy)
    if preview:
        _previewed(judged, papers, by, moment_text(when), key, form, html_only=html_only)
        raise SystemExit(CLEAN)
    try:
        made = make(judged, by=by, at=when, papers=papers, forms=("html",) if html_only else ("html", "pdf"))
        signature = None if key is None else sign(made.data, key)
        entry = commit(made, home, signature)
    except ReleaseError as error:
        _refused(judged, (error.refusal,), form)
    except PrintingUnavailable as error:
        raise click.ClickException(
            f"Nothing was released. {error} Or release without PDF: --html-only."
        ) from error
    except SignatureError as error:
        raise click.ClickException(
            f"Nothing was released: {error} Mend that, or release without --sign."
        ) from error
    except (RegisterError, OSError) as error:
        raise not_written(error, "Nothing was released", home) from error
    _released(judged, made, entry, home, form)


def _whole(
    judged: Judged, *, released: bool, preview: bool = False, refusals: tuple[Diagnostic, ...] = ()
) -> dict[str, Any]:
    method = judged.compiled.method
    return {
        "fillmark": __version__,
        "released": released,
        "preview": preview,
        "id": None if method is None else method.id,
        "revision": None if method is None else method.revision,
        "previous": None if judged.before is None else judged.before.revision,
        "class": None if refusals else judged.klass,
        "trigger": None if refusals else TRIGGERS.get(judged.klass),
        "bundle": None,
        "sha256": None,
        "size": None,
        "signed": False,
        "line": None,
        "files": [],
        "refusals": [as_data(d) for d in refusals],
    }


def _refused(judged: Judged, refusals: tuple[Diagnostic, ...], form: str) -> None:
    if form == "json":
        put(
            json.dumps(
                _whole(judged, released=False, refusals=refusals), ensure_ascii=False, indent=2
            ).encode()
        )
    else:
        told = Compiled(judged.compiled.file, refusals, judged.compiled.reading)
        tell([told], texts([told]))
        put("Nothing was released.", err=True)
    raise SystemExit(FINDINGS)


def _previewed(
    judged: Judged, papers: tuple[str, ...], by: str, at: str, key: Path | None, form: str, *, html_only: bool
) -> None:
    method = judged.compiled.method
    if method is None:
        raise ValueError("a method that did not compile was not refused")
    if form == "json":
        put(json.dumps(_whole(judged, released=False, preview=True), ensure_ascii=False, indent=2).encode())
        return
    put(f"{method.id} revision {method.revision} would be released by {by} at {at}.")
    _say_change(judged)
    paper = " and ".join(papers)
    put(f"Bundle: {FOLDER}/{method.id}/{method.id}-r{method.revision}.zip")
    put(f"In it: the method, every document on {paper} ({'HTML' if html_only else 'HTML and PDF'}), the reference "
        f"data and site policy {method.reference.policy.version}, findings, waivers and rules.")  # fmt: skip
    put("It would not be signed." if key is None else f"It would be signed with {key}.")
    put("Nothing was done.")


def _say_change(judged: Judged) -> None:
    if judged.before is None:
        put("It is the first release of this method: every operator is trained on it.")
        return
    trigger = TRIGGERS[judged.klass]
    put(f"Against revision {judged.before.revision}: class {judged.klass}, {trigger}: {MEANINGS[trigger]}.")


def _superseded(before: int, effective: str | None, entry: Entry) -> str:
    """Say when the copies of the revision before are to come back: not while people still work by them."""
    if effective is None or effective <= entry.at[:10]:
        return f"Revision {before} is superseded: call back its copies."
    after = entry.data["revision"]
    return f"When revision {after} takes effect, on {effective}, call back the copies of revision {before}."


def _released(judged: Judged, made: Made, entry: Entry, home: Path, form: str) -> None:
    place = home / FOLDER / made.name
    if form == "json":
        whole = _whole(judged, released=True) | {
            "bundle": str(place),
            "sha256": entry.data["sha256"],
            "size": entry.data["size"],
            "signed": entry.data["signature"] is not None,
            "line": entry.line,
            "files": [f["name"] for f in made.manifest["files"]],
        }
        put(json.dumps(whole, ensure_ascii=False, indent=2).encode())
        return
    put(f"Released: {entry.data['id']} revision {entry.data['revision']}, digest {entry.data['digest'][:8]}, by "
        f"{entry.by} at {entry.at}.")  # fmt: skip
    _say_change(judged)
    put(str(place))
    put(f"SHA-256 {entry.data['sha256']}, {len(made.manifest['files'])} files, line {entry.line} of the register"
        f"{', signed' if entry.data['signature'] else ''}.")  # fmt: skip
    if judged.before is not None:
        put(_superseded(judged.before.revision, made.manifest["effective"], entry))
    put(f"Look it through: fillmark verify {entry.data['id']}-r{entry.data['revision']}")
