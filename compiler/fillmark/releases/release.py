"""Release a revision: judge whether it may be, make its bundle, and put it in place in one step.

Nothing is released until its line stands in the register. Before that a bundle may lie in its place, from a
release that was stopped; it counts for nothing, and the next release of the method replaces it.
"""

import hashlib
import json
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from fillmark import __version__
from fillmark.build import document
from fillmark.compare import Comparison, compare
from fillmark.compared import compared_json
from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.diagnostics import Path as Place
from fillmark.digest import digest
from fillmark.documents.dossier import Since
from fillmark.files import read_at_most
from fillmark.model import Method, Waiver
from fillmark.orders import KINDS, Order
from fillmark.pipeline import Compiled, compile_method
from fillmark.printing import PrintingUnavailable
from fillmark.publish import write_whole
from fillmark.reference import Files, load_files, read_files
from fillmark.releases import bundle, rule_set
from fillmark.releases.bundle import Bundle, canonical_yaml, compile_bundle, json_bytes, pack, stem
from fillmark.releases.earlier import opened, since_rows
from fillmark.releases.register import FOLDER, Entry, Register, append_held, locked, read, settle
from fillmark.releases.signature import SUFFIX
from fillmark.report import written

CODES: dict[str, tuple[str, str]] = {
    "REL01": ("release-with-errors", "A method with errors, or one that cannot be read, is not released."),
    "REL02": (
        "release-of-this-status",
        "Only a method of status released is released: any other prints DRAFT across its papers.",
    ),
    "REL03": (
        "release-self-approved",
        "A method is not released on the approval of its author, or on nobody's.",
    ),
    "REL04": (
        "release-by-author",
        "The author of a method does not release it: the second person is missing.",
    ),
    "REL05": (
        "revision-not-greater",
        "A revision that is not greater than the last one released: two papers would bear one number.",
    ),
    "REL06": (
        "change-class-too-low",
        "The history of the method gives its change no class, or one below that of what was changed.",
    ),
    "REL07": ("nothing-to-release", "Nothing but the number differs from what is released already."),
    "REL08": ("waiver-ends-too-soon", "A waiver that ends before the revision takes effect."),
    "REL09": ("review-overdue", "A method whose day of review is past when it is released."),
    "REL10": ("register-not-sound", "A register with faults: what was released before cannot be relied on."),
    "REL11": ("released-meanwhile", "Somebody else released the method while this release was being made."),
    "REL12": ("id-differs-in-case", "An id that differs from that of a released method in capitals only."),
    "REL13": (
        "last-release-not-at-hand",
        "The bundle of the last release is gone or altered, so that what changed cannot be told.",
    ),
    "REL14": (
        "waiver-lapsed",
        "An error set aside by a waiver that was approved for something else than it covers now.",
    ),
}

Ways = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Judged:
    """A method before its release."""

    data: bytes
    files: Files
    """The reference data it was compiled with, as files."""
    compiled: Compiled
    register: Register
    before: Bundle | None
    """The last release."""
    comparison: Comparison | None
    """With the last release."""
    refusals: tuple[Diagnostic, ...]

    @property
    def klass(self) -> str:
        """Class of the change against the last release; `first` where there was none."""
        return "first" if self.comparison is None or self.comparison.klass is None else self.comparison.klass


@dataclass(frozen=True, slots=True)
class Made:
    """A bundle that can be put in place."""

    data: bytes
    manifest: Mapping[str, Any]
    register: Register
    """As it was when the method was judged."""

    @property
    def name(self) -> str:
        """Where it goes, as seen from the folder of the register."""
        method_id = str(self.manifest["id"])
        return f"{method_id}/{stem(method_id, self.manifest['revision'])}.zip"


class ReleaseError(ValueError):
    """A release that was refused when it was to be put in place."""

    def __init__(self, refusal: Diagnostic) -> None:
        super().__init__(refusal.message)
        self.refusal = refusal


# --- may it be released


def judge(file: Path, workspace: Path, *, by: str, at: datetime) -> Judged:
    """Judge whether a method may be released by this person at this moment.

    OSError where the method or the register cannot be read; ValueError where the reference data is faulty.
    """
    data = read_at_most(file)
    files, found = read_files(workspace)
    reference, found = load_files(files, found)
    if reference is None:
        raise ValueError(f"the reference data is not right: {found[0].file}: {found[0].message}")
    compiled = compile_method(data, str(file), reference, today=at.date())
    register = read(workspace)
    method = compiled.method
    if method is None:
        return Judged(data, files, compiled, register, None, None, tuple(_errors(compiled)))
    refusals = [
        *_errors(compiled),
        *_of_people(compiled, method, by),
        *_of_days(compiled, method, at.date()),
        *_of_register(compiled, method, register),
    ]
    releases = register.releases(method.id)
    earlier = comparison = None
    if releases and register.sound:
        earlier, comparison, more = _compared(compiled, workspace, releases[-1])
        refusals += more
        if earlier is not None and comparison is not None:
            refusals += _of_change(compiled, earlier, comparison, files)
    return Judged(data, files, compiled, register, earlier, comparison, tuple(refusals))


def _refusal(compiled: Compiled, code: str, path: Place, message: str, ways: Ways) -> Diagnostic:
    span = Span(1, 1, 1, 1) if compiled.source is None else compiled.source.span(path)
    return Diagnostic(code, CODES[code][0], Severity.ERROR, message, compiled.file, span, path, ways)


def _errors(compiled: Compiled) -> Iterator[Diagnostic]:
    errors = [d for d in compiled.diagnostics if d.blocks]
    if not errors:
        return
    first = errors[0]
    count = f"{len(errors)} error{'' if len(errors) == 1 else 's'}"
    yield _refusal(
        compiled, "REL01", first.path,
        f"{compiled.file} has {count}, the first in line {first.span.line}: {first.code} {first.message}",
        (f"Mend what is found: fillmark check {compiled.file}",
         "Or, where a rule may be set aside, have a waiver approved with its reason and evidence."),
    )  # fmt: skip


_APART = "tell them apart in the method: a full first name, or a number"


def _of_people(compiled: Compiled, m: Method, by: str) -> Iterator[Diagnostic]:
    people = m.people
    if m.status != "released":
        yield _refusal(
            compiled, "REL02", ("status",),
            f"{m.id} revision {m.revision} is {m.status}; its papers would bear DRAFT across every page.",
            ("Write status: released once it is reviewed and approved, with effective and review_by.",
             "Or build its papers as they are, for review: fillmark build"),
        )  # fmt: skip
    if people.approver is None or people.wrote(people.approver):
        who = "nobody" if people.approver is None else f"{people.approver}, who wrote it"
        yield _refusal(
            compiled, "REL03", ("people",) if people.approver is None else ("people", "approver"),
            f"{m.id} revision {m.revision} is approved by {who}: an error of the author would pass unseen.",
            (f"Have it approved by somebody other than {people.author}, and name that person as approver.",
             "Or leave it in review until somebody has." if people.approver is None
             else f"Or, if these are two people of one name, {_APART}."),
        )  # fmt: skip
    if people.wrote(by):
        yield _refusal(
            compiled, "REL04", ("people", "author"),
            f"{by} wrote {m.id} (author: {people.author}) and cannot release it: 1 person would do what 2 are for.",
            ("Have it released by the approver, or by whoever keeps the documents.",
             f"Or, if these are two people of one name, {_APART}."),
        )  # fmt: skip


def _of_days(compiled: Compiled, m: Method, day: date) -> Iterator[Diagnostic]:
    for waiver in m.waivers:
        if _ends_too_soon(waiver, m):
            yield _refusal(
                compiled, "REL08", (*waiver.path, "expires"),
                f"The waiver of {waiver.rule} ends on {waiver.expires} and the revision takes effect on "
                f"{m.effective}: from its first day on, it would have an error nobody set aside.",
                (f"Have the waiver approved beyond {m.effective}, or the cause of {waiver.rule} mended.",
                 "Or let the revision take effect before the waiver ends."),
            )  # fmt: skip
    if m.review_by is not None and m.review_by < day:
        yield _refusal(
            compiled, "REL09", ("review_by",),
            f"{m.id} was to be reviewed by {m.review_by}, {(day - m.review_by).days} days before this release.",
            ("Review it, and write the next day of review.",
             "Or correct the date, if it is a slip of the pen."),
        )  # fmt: skip


def _ends_too_soon(waiver: Waiver, m: Method) -> bool:
    return waiver.expires is not None and m.effective is not None and waiver.expires < m.effective


def _of_register(compiled: Compiled, m: Method, register: Register) -> Iterator[Diagnostic]:
    fault = next((f for f in register.faults if f.blocks), None)
    if fault is not None:
        yield _refusal(
            compiled, "REL10", ("id",), f"Nothing is released while {register.file} has faults. {fault.message}",
            (fault.ways_out[0], fault.ways_out[1]),
        )  # fmt: skip
    for entry in register.of_kind("release"):
        other = str(entry.data["id"])
        if other != m.id and other.casefold() == m.id.casefold():
            yield _refusal(
                compiled, "REL12", ("id",),
                f"{m.id} differs from {other}, released on {entry.at[:10]}, in capitals only; on some disks their "
                "bundles would be one file.",
                (f"Write id: {other}, if it is the same method.", "Or give it a number of its own."),
            )  # fmt: skip
            break
    releases = register.releases(m.id)
    highest = max((int(e.data["revision"]) for e in releases), default=-1)
    if m.revision <= highest:
        last = next(e for e in releases if e.data["revision"] == highest)
        yield _refusal(
            compiled, "REL05", ("revision",),
            f"Revision {highest} of {m.id} was released on {last.at[:10]} by {last.by}; this is revision "
            f"{m.revision}. A record that names the revision would not tell by which text it was made.",
            (f"Write revision: {highest + 1}, with class and reason of the change.",
             f"Or leave it: what is released stands in {FOLDER}/{last.data['bundle']}."),
        )  # fmt: skip


def _compared(
    compiled: Compiled, workspace: Path, entry: Entry
) -> tuple[Bundle | None, Comparison | None, list[Diagnostic]]:
    """Compare a method with the last release, or say why it cannot be."""
    earlier, found = opened(workspace, entry)
    if earlier is not None:
        old = compile_bundle(earlier, name=f"{stem(earlier.id, earlier.revision)}.zip")
        if old.method is not None:
            return earlier, compare(old, compiled), []
        found = list(old.diagnostics)
    first = found[0]
    refusal = _refusal(
        compiled, "REL13", ("revision",),
        f"What changed since revision {entry.data['revision']} cannot be told. {first.message}",
        (first.ways_out[0] if first.ways_out else "Put back the bundle from a copy made when it was released.",
         f"Or release with Fillmark {entry.data['fillmark']}, which made the last bundle, if this one cannot read it."),
    )  # fmt: skip
    return None, None, [refusal]


_NUMBERING = ("revision", "changes", "effective", "the whole file")


def _of_change(compiled: Compiled, earlier: Bundle, c: Comparison, files: Files) -> Iterator[Diagnostic]:
    for d in c.diagnostics:
        if d.code in ("CMP01", "CMP03"):
            ways = (
                d.ways_out[0],
                f"Or take back what differs from revision {earlier.revision}: fillmark compare",
            )
            yield _refusal(compiled, "REL06", d.path, d.message, ways)
        elif d.code == "CMP05" and _sets_an_error_aside(compiled, d.path):
            yield _refusal(
                compiled, "REL14", d.path, d.message, (d.ways_out[0], "Or mend what it sets aside.")
            )
    same_data = all(earlier.members.get(f"reference/{name}") == content for name, content in files.items())
    same_rules = earlier.manifest["rules"]["digest"] == rule_set.rules_digest()
    if same_data and same_rules and all(x.path.partition(".")[0] in _NUMBERING for x in c.changes):
        yield _refusal(
            compiled, "REL07", ("revision",),
            f"Nothing but its number and history differs from revision {earlier.revision}, released on {earlier.day}: "
            "every copy would be exchanged for the same text.",
            (f"Leave revision {earlier.revision} in force.",
             "Or see that this is the file with the change in it, and that it was saved."),
        )  # fmt: skip


def _sets_an_error_aside(compiled: Compiled, waiver: Place) -> bool:
    method, index = compiled.method, waiver[1]
    if method is None or not isinstance(index, int):
        return False
    rule = method.waivers[index].rule
    return any(
        d.code == rule and d.severity is Severity.ERROR and d.waived_by is not None
        for d in compiled.diagnostics
    )


# --- make it


def members(
    judged: Judged, *, at: datetime, papers: tuple[str, ...], forms: tuple[str, ...]
) -> dict[str, bytes]:
    """Make all that goes into the bundle but the manifest; ValueError for a method that may not be released.

    PrintingUnavailable where this machine cannot make a PDF that is asked for.
    """
    compiled = _under_its_name(judged, at)
    if judged.refusals or compiled.method is None or compiled.checked is None:
        raise ValueError("a method that may not be released has no bundle")
    method = compiled.method
    since = None
    if judged.before is not None and judged.comparison is not None:
        since = since_rows(judged.before, judged.comparison)
    order = Order(papers, KINDS, forms)
    made: dict[str, bytes] = {
        bundle.METHOD: judged.data,
        bundle.CANONICAL: canonical_yaml(method.data).encode(),
        bundle.FINDINGS: json_bytes(json.loads(written("json", [compiled]))),
        bundle.REVIEW: json_bytes(review(compiled)),
        bundle.RULES: json_bytes(rule_set.listed()),
    }
    if judged.comparison is not None:
        old, new = judged.comparison.before, judged.comparison.after
        # The bundle tells of methods, not of folders of the machine it was made on.
        comparison = compared_json(judged.comparison)
        compared = json.loads(comparison)
        compared["after"]["file"] = bundle.METHOD
        for told in (*compared["diagnostics"], *compared["findings_new"], *compared["findings_gone"]):
            told["file"] = bundle.METHOD if told["file"] == new.file else old.file
        made[bundle.CHANGES] = json_bytes(compared)
    made |= {f"documents/{name}": content for name, content in _papers(compiled, order, since).items()}
    made |= {f"reference/{name}": content for name, content in judged.files.items()}
    return made


def _papers(compiled: Compiled, order: Order, since: Since | None) -> dict[str, bytes]:
    made = [document(compiled, kind, order, since) for kind in order.kinds]
    missing = next((part.no_pdf for part in made if part.no_pdf is not None), None)
    if missing is not None:
        raise PrintingUnavailable(missing)
    return {name: content for part in made for name, content in part.files.items()}


def _under_its_name(judged: Judged, at: datetime) -> Compiled:
    """Compile the method under the name it has in the bundle."""
    if judged.compiled.method is None:
        return judged.compiled
    return compile_method(judged.data, bundle.METHOD, judged.compiled.method.reference, today=at.date())


def review(compiled: Compiled) -> dict[str, Any]:
    """Give what stands beside the findings as plain data: the waivers and what was not judged."""
    method, checked = compiled.method, compiled.checked
    if method is None or checked is None:
        raise ValueError("a method that was not checked has no review")
    return {
        "waivers": [
            {
                "rule": w.rule,
                "reason": w.reason,
                "evidence": w.evidence,
                "risk": w.risk,
                "requested_by": w.requested_by,
                "approved_by": w.approved_by,
                "expires": None if w.expires is None else w.expires.isoformat(),
                "rests_on": dict(w.rests_on),
            }
            for w in method.waivers
        ],
        "not_judged": [{"code": r.code, "slug": r.slug, "why": why} for r, why in checked.not_judged],
    }


def make(
    judged: Judged,
    *,
    by: str,
    at: datetime,
    papers: tuple[str, ...],
    forms: tuple[str, ...] = ("html", "pdf"),
) -> Made:
    """Make the bundle of a method that may be released; the same input at the same moment gives the same bytes."""
    content = members(judged, at=at, papers=papers, forms=forms)
    method = judged.compiled.method
    if method is None:
        raise ValueError("a method that did not compile has no bundle")
    before = judged.before
    manifest = {
        "format": 1,
        "fillmark": __version__,
        "id": method.id,
        "revision": method.revision,
        "title": method.title,
        "demonstration": method.demonstration,
        "digest": digest(method),
        "effective": None if method.effective is None else method.effective.isoformat(),
        "people": {
            "author": method.people.author,
            "reviewer": method.people.reviewer,
            "approver": method.people.approver,
        },
        "released": {"at": moment_text(at), "by": by},
        "class": judged.klass,
        "previous": None
        if before is None
        else {"revision": before.revision, "digest": before.manifest["digest"], "sha256": before.sha256},
        "register": {"lines": len(judged.register.entries), "head": judged.register.head},
        "rules": rule_set.version(),
        "policy": method.reference.policy.version,
        "papers": list(papers),
        "files": [
            {"name": name, "sha256": hashlib.sha256(data).hexdigest(), "size": len(data)}
            for name, data in sorted(content.items())
        ],
    }
    return Made(pack({**content, bundle.MANIFEST: json_bytes(manifest)}), manifest, judged.register)


def moment_text(at: datetime) -> str:
    """Write a moment with its offset, to the second; ValueError for one that has none."""
    if at.tzinfo is None:
        raise ValueError("a moment without its offset from universal time")
    return at.isoformat(timespec="seconds")


# --- put it in place


def commit(made: Made, workspace: Path, signature: bytes | None = None) -> Entry:
    """Put a bundle and its signature in place and write the line that makes it released.

    ReleaseError where the method was released meanwhile, RegisterError where the register has faults, OSError
    where the disk does not take it: then nothing is released, and nothing is left in its place.
    """
    file = workspace / FOLDER / made.name
    signed = file.with_name(file.name + SUFFIX)
    entry = {
        "kind": "release",
        "at": made.manifest["released"]["at"],
        "by": made.manifest["released"]["by"],
        "id": made.manifest["id"],
        "revision": made.manifest["revision"],
        "digest": made.manifest["digest"],
        "class": made.manifest["class"],
        "bundle": made.name,
        "sha256": hashlib.sha256(made.data).hexdigest(),
        "size": len(made.data),
        "signature": None if signature is None else hashlib.sha256(signature).hexdigest(),
        "fillmark": __version__,
    }
    with locked(workspace):
        _refuse_if_released_meanwhile(made, read(workspace))
        try:
            _place(file, made.data, signed, signature)
            return append_held(workspace, entry)
        except BaseException:
            _take_back(workspace, entry["sha256"], file, signed)
            raise


def _refuse_if_released_meanwhile(made: Made, now: Register) -> None:
    method_id = str(made.manifest["id"])
    old, new = made.register.releases(method_id), now.releases(method_id)
    same_lines = now.entries[: len(made.register.entries)] == made.register.entries
    if same_lines and len(old) == len(new):
        return
    what = (
        f"{new[-1].by} released revision {new[-1].data['revision']} of {method_id} at {new[-1].at}"
        if len(new) > len(old)
        else f"the register {now.file} is another one"
    )
    raise ReleaseError(
        Diagnostic(
            "REL11",
            CODES["REL11"][0],
            Severity.ERROR,
            f"While this release was made, {what}. It was compared with what is no longer the last, and was not made.",
            str(now.file),
            Span(1, 1, 1, 1),
            ways_out=(
                "Run the same command again: it compares with what is released now.",
                "Or leave it, if the other release holds what this one was to bring.",
            ),
        )
    )


def _place(file: Path, data: bytes, signed: Path, signature: bytes | None) -> None:
    file.parent.mkdir(exist_ok=True)
    # What a stopped release left; nobody else writes here while the lock is held.
    for left in (signed, *file.parent.glob(".writing-*")):
        left.unlink(missing_ok=True)
    write_whole(file, data)
    if signature is not None:
        write_whole(signed, signature)
    settle(file.parent)
    settle(file.parent.parent)


def _take_back(workspace: Path, sha256: object, file: Path, signed: Path) -> None:
    """Remove a bundle of which no line tells; a line that did get written keeps its bundle."""
    with suppress(OSError):
        if any(e.data["sha256"] == sha256 for e in read(workspace).of_kind("release")):
            return
        for path in (file, signed):
            path.unlink(missing_ok=True)
        file.parent.rmdir()
