"""Controlled copies of a released revision: numbered, logged, printed; called back and accounted for.

What is printed comes from the released bundle alone, compiled with the reference data in it. A file in
`methods/` may have changed since and is never looked at.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from fillmark import __version__
from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.digest import digest
from fillmark.documents import Document
from fillmark.documents.checklist import plan_checklist
from fillmark.documents.data_sheet import plan_data_sheet
from fillmark.documents.recall import Called, plan_recall
from fillmark.documents.wording import PhraseError, Phrases
from fillmark.model import Method
from fillmark.pipeline import Compiled
from fillmark.publish import write_whole
from fillmark.releases.register import Entry, Register, append_held, locked, read
from fillmark.releases.revisions import Revision, coming, in_force, revisions_of
from fillmark.terminal import plain_ascii, without_controls
from fillmark.training.levels import Holding, standing

PAPERS = ("checklist", "data-sheet")
MOST = 500
"""Copies of one order: a slip of the pen must not fill register and disk."""
OUT, EXPIRED, SUPERSEDED, RECALLED = "out", "expired", "superseded", "recalled"
CLOSED = ("returned", "destroyed", "lost")
"""A copy that nobody works by any more."""

CODES: dict[str, tuple[str, str]] = {
    "REG10": ("not-released", "A method of which the register knows no release: it has no controlled copies."),
    "REG11": ("revision-not-in-force", "Only the revision in force, or one that takes effect later, is issued."),
    "REG12": ("revision-called-back", "A revision that was called back as a whole is not issued."),
    "REG13": (
        "release-cannot-be-printed",
        "The released bundle is not sound, or this version of Fillmark makes something else of it.",
    ),
    "REG14": ("no-such-copy", "The register tells of no copy of this number."),
    "REG15": ("copy-is-closed", "A copy that was called back, returned, destroyed or lost is not printed again."),
    "REG16": (
        "operator-without-level",
        "A copy for a named operator who does not hold the level the method asks for today.",
    ),
    "REG17": ("copy-already-entered", "What is entered of a copy was entered before."),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Copy:
    """A copy, as the register tells of it."""

    method: str
    revision: int
    number: int
    of: int
    to: str
    operator: bool
    papers: tuple[str, ...]
    paper: str
    prints: int
    """How many times it was printed."""
    printed: date
    valid_until: date | None
    entered: str
    """recalled, returned, destroyed, lost; nothing where none of it was entered"""
    why: str
    """Reason of the last that was entered."""

    def state(self, today: date, current: int | None) -> str:
        """Say what becomes of it on a day with this revision in force: out, expired, superseded, recalled, ..."""
        if self.entered:
            return self.entered
        if current is not None and self.revision < current:
            return SUPERSEDED
        return EXPIRED if self.valid_until is not None and self.valid_until < today else OUT


@dataclass(frozen=True, slots=True)
class Paper:
    """A file of a copy, ready to be put in place."""

    name: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Issued:
    """Copies whose lines stand in the register."""

    copies: tuple[Copy, ...]
    files: tuple[Path, ...]


class CopyError(ValueError):
    """What was refused, with the ways out."""

    def __init__(self, refusal: Diagnostic) -> None:
        super().__init__(refusal.message)
        self.refusal = refusal


class NotPrintedError(ValueError):
    """Copies whose lines stand in the register and whose paper could not be put in place."""

    def __init__(self, copies: Sequence[Copy], why: str) -> None:
        super().__init__(why)
        self.copies = tuple(copies)


def told(
    code: str, file: Path, message: str, *ways: str, severity: Severity = Severity.ERROR, line: int = 1
) -> Diagnostic:
    """Say something about copies, at a line of the register."""
    return Diagnostic(
        code, CODES[code][0], severity, message, str(file), Span(line, 1, line, 1), ways_out=ways
    )


# --- what the register tells


def copies_of(register: Register, method: str | None = None) -> tuple[Copy, ...]:
    """Give all copies ever issued, of one method or of all, by method, revision and number."""
    found: dict[tuple[str, int, int], Copy] = {}
    for entry in register.entries:
        data = entry.data
        if entry.kind == "issue":
            found[data["id"], data["revision"], data["copy"]] = _issued(data)
        elif entry.kind == "reprint":
            key = (data["id"], data["revision"], data["copy"])
            if key in found:
                found[key] = replace(
                    found[key], prints=data["print"], printed=date.fromisoformat(data["printed"]),
                    valid_until=_day(data["valid_until"]), papers=tuple(data["papers"]), paper=data["paper"],
                )  # fmt: skip
        elif entry.kind == "recall":
            for number in data["copies"]:
                key = (data["id"], data["revision"], number)
                if key in found:
                    found[key] = replace(found[key], entered=data["state"], why=data["reason"])
    return tuple(c for key, c in sorted(found.items()) if method in (None, key[0]))


def _issued(data: Mapping[str, Any]) -> Copy:
    return Copy(
        data["id"], data["revision"], data["copy"], data["of"], data["to"], data["operator"], tuple(data["papers"]),
        data["paper"], 1, date.fromisoformat(data["printed"]), _day(data["valid_until"]), "", "",
    )  # fmt: skip


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


# --- what may be printed


@dataclass(frozen=True, slots=True)
class Ready:
    """A released revision that may be issued."""

    revision: Revision
    compiled: Compiled
    method: Method
    valid_until: date | None
    last_release: int
    """Line of the last release of the method when this was judged."""


def ready(
    workspace: Path, register: Register, method_id: str, today: date, revision: int | None = None
) -> Ready:
    """Find what is issued of a method on a day: the revision in force, or the one that is named.

    CopyError where it may not be issued.
    """
    file = register.file
    revisions = revisions_of(workspace, register, method_id)
    if not revisions:
        raise CopyError(
            told(
                "REG10", file, f"The register knows no release of {method_id}; a draft has no controlled copies.",
                f"Release it first: fillmark release methods/{method_id}.yaml --by NAME",
                "Or print drafts, marked as such: fillmark build",
            )
        )  # fmt: skip
    current = in_force(revisions, today)
    later = coming(revisions, today)
    chosen = current
    if revision is not None:
        chosen = next((r for r in revisions if r.number == revision), None)
    elif current is None:
        chosen = later[0]
    if chosen is None:
        known = ", ".join(str(r.number) for r in revisions)
        raise CopyError(
            told(
                "REG10", file, f"The register knows no release of revision {revision} of {method_id}.",
                f"Released are: {known}.", "Or leave --revision out: the one in force is taken.",
            )
        )  # fmt: skip
    _refuse_unfit(file, chosen, current)
    compiled = chosen.compiled()
    method = compiled.method
    if not compiled.clean or method is None or digest(method) != chosen.entry.data["digest"]:
        why = next((d.message for d in compiled.diagnostics if d.blocks), "the digest comes out otherwise")
        raise CopyError(
            told(
                "REG13", file,
                f"{chosen.name} was released with Fillmark {chosen.entry.data['fillmark']}; this is "
                f"{__version__}, and makes "
                f"something else of it: {why}. Its paper would not be what was approved.",
                f"Print with Fillmark {chosen.entry.data['fillmark']}.",
                "Or release the next revision with this version, and issue that.", line=chosen.entry.line,
            )
        )  # fmt: skip
    return Ready(chosen, compiled, method, _last(method, chosen, later, today), revisions[-1].entry.line)


def _refuse_unfit(file: Path, chosen: Revision, current: Revision | None) -> None:
    if current is not None and chosen.number < current.number:
        raise CopyError(
            told(
                "REG11", file,
                f"Revision {chosen.number} of {chosen.entry.data['id']} is superseded by revision "
                f"{current.number}, in force "
                f"since {current.effective or current.entry.at[:10]}: results by an old text would bear a valid "
                f"number.",
                f"Issue revision {current.number}: leave --revision out.",
                "Or look at what the old one said in its bundle; it is kept.", line=chosen.entry.line,
            )
        )  # fmt: skip
    if chosen.withdrawn:
        raise CopyError(
            told(
                "REG12", file, f"Revision {chosen.number} of {chosen.entry.data['id']} was called back: "
                f"{chosen.withdrawn}",
                "Release the next revision, with the cause mended, and issue that.",
                "Or ask who called it back; nothing is issued of it meanwhile.", line=chosen.entry.line,
            )
        )  # fmt: skip
    if chosen.bundle is None:
        first = chosen.faults[0]
        raise CopyError(told("REG13", file, first.message, *first.ways_out, line=chosen.entry.line))


def _last(method: Method, chosen: Revision, later: Sequence[Revision], today: date) -> date | None:
    """Give the last day a copy printed today may be used: by the site, and never beyond the revision itself."""
    begins = max(today, chosen.effective or today)
    ends = []
    valid = method.reference.policy.values.get("print_valid")
    if valid is not None:
        ends.append(begins + timedelta(days=int(valid // 86_400)))
    ends += [
        r.effective - timedelta(days=1) for r in later if r.number > chosen.number and r.effective is not None
    ]
    if method.review_by is not None and method.review_by >= begins:
        ends.append(method.review_by)
    return min(ends) if ends else None


def documents(one: Ready, copy: Copy) -> dict[str, Document]:
    """Plan the papers of a copy: name of the paper -> plan."""
    plans = {"checklist": plan_checklist, "data-sheet": plan_data_sheet}
    figures = one.compiled.figures
    if figures is None:
        raise ValueError("a method that did not compile has no documents")
    number = f"{copy.number} of {copy.of}"
    made = {}
    for kind in copy.papers:
        planned = plans[kind](one.method, figures, digest(one.method), print_date=copy.printed)
        head = replace(
            planned.head,
            copy=number if copy.prints == 1 else f"{number}, print {copy.prints}",
            holder=copy.to,
            until="" if copy.valid_until is None else copy.valid_until.isoformat(),
        )
        made[kind] = replace(planned, head=head)
    return made


def printed(one: Ready, copy: Copy) -> tuple[Paper, ...]:
    """Print the papers of a copy as PDF; PrintingUnavailable where this machine cannot."""
    from fillmark.printing import pdf  # noqa: PLC0415 - only a PDF needs the system libraries
    from fillmark.render import render  # noqa: PLC0415 - only papers need the templates

    again = "" if copy.prints == 1 else f"-print-{copy.prints}"
    stem = f"{copy.method}-r{copy.revision}-copy-{copy.number:03}{again}"
    try:
        planned = documents(one, copy)
    except PhraseError as error:
        raise CopyError(
            told(
                "REG13", Path(one.compiled.file), f"{one.revision.name} cannot be printed by this version of "
                f"Fillmark: {error}",
                f"Print with Fillmark {one.revision.entry.data['fillmark']}, which released it.",
                "Or release the next revision with this version, and issue that.", line=one.revision.entry.line,
            )
        ) from error  # fmt: skip
    return tuple(
        Paper(f"{stem}-{kind}.pdf", pdf(render(document, paper=copy.paper), paper=copy.paper))
        for kind, document in planned.items()
    )


ALONE = 2
"""The level at which somebody works alone, where the method names none."""


def without_level(found: Sequence[Holding], names: Sequence[str], one: Ready) -> dict[str, str]:
    """Say of each named operator who may not work alone by a method today why not."""
    needed = ALONE if one.method.training is None else one.method.training.level
    told_of: dict[str, str] = {}
    for name in names:
        held = standing(found, name, one.method.id)
        if held.level < needed:
            told_of[name] = f"{name} holds level {held.level} of the {needed} asked for: {held.why}"
    return told_of


def warning(one: Ready, register: Register, message: str) -> Diagnostic:
    """Warn of a copy for somebody without the level."""
    return told(
        "REG16", register.file, f"{message}. The copy is issued all the same, and the register says so.",
        "Have the person assessed before the copy is handed out: fillmark assess", "Or hand it out for work "
        "under supervision.",
        severity=Severity.WARNING, line=one.revision.entry.line,
    )  # fmt: skip


# --- issuing
#
# A number is taken in the register before there is any paper that bears it, and the line is on the disk before
# the paper is. Whoever is stopped in between leaves a number without a paper: it is never given to another copy,
# and printing it later is a reprint, with a reason and a line of its own. The other way round a paper could be on
# the bench of which the register knows nothing. So that this stays rare, everything is printed once to memory
# first: a missing font or a full form is found before a number is taken. The numbers are counted and the lines
# written under one lock, so that two processes never count alike.


def issue(
    workspace: Path,
    one: Ready,
    *,
    to: Sequence[str],
    operator: bool,
    papers: Sequence[str],
    paper: str,
    at: datetime,
    by: str,
    folder: Path,
    warned: Mapping[str, str] | None = None,
) -> Issued:
    """Issue a copy to each of `to`: lines in the register, then paper in `folder`.

    `warned` gives for a holder what was told and is issued over. CopyError where the revision may not be issued
    any more, RegisterError where the register has faults, PrintingUnavailable where this machine makes no PDF:
    then no number was taken. NotPrintedError where the paper could not be put in place.
    """
    trial = Copy(
        one.method.id, one.revision.number, 1, max(len(to), 1), max(to, key=len), operator, tuple(papers), paper, 1,
        at.date(), one.valid_until, "", "",
    )  # fmt: skip
    printed(one, trial)
    folder.mkdir(parents=True, exist_ok=True)
    with locked(workspace):
        register = read(workspace)
        _refuse_if_changed(register, one)
        taken = [c.number for c in copies_of(register, one.method.id) if c.revision == one.revision.number]
        first = max(taken, default=0) + 1
        made = []
        for number, holder in enumerate(to, start=first):
            copy = replace(trial, number=number, of=first + len(to) - 1, to=holder)
            _log(workspace, one, copy, at, by, (warned or {}).get(holder, ""))
            made.append(copy)
    return Issued(tuple(made), _put(one, made, folder))


def _refuse_if_changed(register: Register, one: Ready) -> None:
    """Refuse where the register tells more of the method than when it was judged."""
    releases = register.releases(one.method.id)
    recalled = register.called_back(one.method.id, one.revision.number)
    if recalled is not None or not releases or releases[-1].line != one.last_release:
        raise CopyError(
            told(
                "REG11", register.file,
                f"While the copies were made, {one.revision.name} was called back or its release changed; no "
                f"number was taken.",
                "Run the same command again: it asks the register anew.", "Or ask who changed it.",
            )
        )  # fmt: skip


def _log(workspace: Path, one: Ready, copy: Copy, at: datetime, by: str, warned: str) -> Entry:
    line = {
        "kind": "issue", "at": at.isoformat(timespec="seconds"), "by": by, "id": copy.method, "revision": copy.revision,
        "digest": digest(one.method), "copy": copy.number, "of": copy.of, "to": copy.to, "operator": copy.operator,
        "papers": list(copy.papers), "paper": copy.paper, "printed": copy.printed.isoformat(),
        "valid_until": None if copy.valid_until is None else copy.valid_until.isoformat(),
    }  # fmt: skip
    return append_held(workspace, line | {"warned": warned[:500]} if warned else line)


def _put(one: Ready, copies: Sequence[Copy], folder: Path) -> tuple[Path, ...]:
    """Put the paper of logged copies in place."""
    files: list[Path] = []
    for done, copy in enumerate(copies):
        try:
            for made in printed(one, copy):
                write_whole(folder / made.name, made.content, replace=False)
                files.append(folder / made.name)
        except FileExistsError as error:
            why = f"{folder / str(error.filename or '')} stands there already, and no paper is overwritten"
            raise NotPrintedError(copies[done:], why) from error
        except OSError as error:
            raise NotPrintedError(
                copies[done:], f"{error.filename or folder} cannot be written: {error.strerror}"
            ) from error
    return tuple(files)


def reprint(
    workspace: Path, one: Ready, number: int, *, reason: str, at: datetime, by: str, folder: Path
) -> Issued:
    """Print a copy again under its number, logged with the reason; raises as `issue` does."""
    register = read(workspace)
    printed(one, _open_copy(register, one, number))
    folder.mkdir(parents=True, exist_ok=True)
    with locked(workspace):
        register = read(workspace)
        _refuse_if_changed(register, one)
        before = _open_copy(register, one, number)
        copy = replace(before, prints=before.prints + 1, printed=at.date(), valid_until=one.valid_until)
        append_held(
            workspace,
            {
                "kind": "reprint", "at": at.isoformat(timespec="seconds"), "by": by, "id": copy.method,
                "revision": copy.revision, "copy": number, "print": copy.prints, "reason": reason,
                "papers": list(copy.papers), "paper": copy.paper, "printed": copy.printed.isoformat(),
                "valid_until": None if copy.valid_until is None else copy.valid_until.isoformat(),
            },
        )  # fmt: skip
    return Issued((copy,), _put(one, [copy], folder))


def _open_copy(register: Register, one: Ready, number: int) -> Copy:
    mine = [c for c in copies_of(register, one.method.id) if c.revision == one.revision.number]
    found = next((c for c in mine if c.number == number), None)
    if found is None:
        raise CopyError(
            told(
                "REG14", register.file,
                f"The register tells of no copy {number} of {one.revision.name}; it has {len(mine)}.",
                f"See which there are: fillmark issue {one.method.id} --list", "Or issue a new one: leave "
                "--reprint out.",
            )
        )  # fmt: skip
    if found.entered:
        raise CopyError(
            told(
                "REG15", register.file, f"Copy {number} of {one.revision.name} is {found.entered} ({found.why}).",
                "Issue a new copy: it gets a number of its own.", f"Or see who has it: fillmark issue "
                f"{one.method.id} --list",
            )
        )  # fmt: skip
    return found


# --- calling back


def recall(
    workspace: Path,
    method_id: str,
    revision: int,
    *,
    numbers: Sequence[int] | None,
    state: str,
    whole: bool,
    reason: str,
    at: datetime,
    by: str,
) -> tuple[Copy, ...]:
    """Enter that copies were called back, or what became of them; None for `numbers` takes all that are open.

    Gives the copies as they now stand. CopyError where there is no such copy or revision, or nothing to enter.
    """
    with locked(workspace):
        register = read(workspace)
        mine = {c.number: c for c in copies_of(register, method_id) if c.revision == revision}
        released = [e for e in register.releases(method_id) if e.data["revision"] == revision]
        if not released:
            raise CopyError(
                told(
                    "REG10", register.file, f"The register knows no release of revision {revision} of {method_id}.",
                    f"See which there are: fillmark issue {method_id} --list", "Or look whether the id is spelt right.",
                )
            )  # fmt: skip
        chosen = _chosen(register, mine, numbers, state, f"{method_id} revision {revision}", whole=whole)
        append_held(
            workspace,
            {
                "kind": "recall", "at": at.isoformat(timespec="seconds"), "by": by, "id": method_id,
                "revision": revision, "copies": [c.number for c in chosen], "whole": whole, "state": state,
                "reason": reason,
            },
        )  # fmt: skip
    return tuple(replace(c, entered=state, why=reason) for c in chosen)


def _chosen(
    register: Register, mine: Mapping[int, Copy], numbers: Sequence[int] | None, state: str, what: str, *, whole: bool
) -> list[Copy]:  # fmt: skip
    if numbers is None:
        # A copy called back once is called back again with its revision, so that its notice lists it.
        chosen = [c for c in mine.values() if c.entered not in CLOSED and (whole or c.entered != state)]
    else:
        unknown = [n for n in numbers if n not in mine]
        if unknown:
            raise CopyError(
                told(
                    "REG14", register.file, f"The register tells of no copy {', '.join(map(str, unknown))} of {what}.",
                    f"It tells of {len(mine)}: {', '.join(map(str, mine)) or 'none'}.", "Or look at the number "
                    "on the paper again.",
                )
            )  # fmt: skip
        chosen = [mine[n] for n in dict.fromkeys(numbers)]
        again = [c for c in chosen if c.entered == state or (c.entered in CLOSED and state == RECALLED)]
        if again:
            raise CopyError(
                told(
                    "REG17", register.file,
                    f"Copy {', '.join(str(c.number) for c in again)} of {what} is {again[0].entered} already "
                    f"({again[0].why}).",
                    "Leave it out.", "Or enter what became of it: --returned, --destroyed or --lost.",
                )
            )  # fmt: skip
    if not chosen and not whole:
        raise CopyError(
            told(
                "REG17", register.file, f"No copy of {what} is left that could be {state}.",
                "Leave it: all are accounted for.", "Or call back the whole revision: --whole.",
            )
        )  # fmt: skip
    return chosen


def notice(
    one: Revision, method: Method, copies: Sequence[Copy], phrases: Phrases, *, reason: str, by: str, today: date,
    whole: bool,
) -> Document:  # fmt: skip
    """Plan the notice that goes with copies called back, in the phrases of today."""
    called = [
        Called(
            f"{c.number} of {c.of}", c.to, c.printed.isoformat(),
            ", ".join(c.papers) + ("" if c.prints == 1 else f", {c.prints} times"),
        )
        for c in copies
    ]  # fmt: skip
    return plan_recall(
        method, str(one.entry.data["digest"]), called, phrases, reason=reason, by=by, today=today, whole=whole
    )


# --- listing


@dataclass(frozen=True, slots=True)
class Listed:
    """A copy and what becomes of it today."""

    copy: Copy
    state: str


def listed(workspace: Path, register: Register, today: date, method: str | None = None) -> tuple[Listed, ...]:
    """Give all copies with what becomes of them on a day."""
    found = copies_of(register, method)
    current: dict[str, int | None] = {}
    for one in {c.method for c in found}:
        force = in_force(revisions_of(workspace, register, one), today)
        current[one] = None if force is None else force.number
    return tuple(Listed(c, c.state(today, current[c.method])) for c in found)


def to_fetch(found: Sequence[Listed]) -> tuple[Listed, ...]:
    """Give the copies that are somewhere and may not be worked by any more."""
    return tuple(one for one in found if one.state in (EXPIRED, SUPERSEDED, RECALLED))


def listed_text(found: Sequence[Listed], *, ascii_only: bool) -> str:
    """Write the copies for a terminal."""
    text = "\n".join(without_controls(line) for line in _lines(found))
    return plain_ascii(text) if ascii_only else text


def _lines(found: Sequence[Listed]) -> Iterator[str]:
    if not found:
        yield "The register tells of no copies."
        return
    name = ""
    wide = min(max(len(one.copy.to) for one in found), 40)
    for one in found:
        c = one.copy
        this = f"{c.method} revision {c.revision}"
        if this != name:
            if name:
                yield ""
            name = this
            yield this
        number = f"{c.number} of {c.of}"
        until = f"until {c.valid_until}" if c.valid_until is not None else "without end"
        prints = "" if c.prints == 1 else f"  print {c.prints}"
        why = f"  ({c.why})" if c.entered else ""
        mark = " " if one.state == OUT or one.state in CLOSED else "!"
        state = one.state.upper() if mark == "!" else one.state
        yield f"{mark} {number:>9}  {c.to:{wide}}  printed {c.printed}  {until}  {state}{prints}{why}"
    yield ""
    counted = {
        state: sum(o.state == state for o in found) for state in (OUT, EXPIRED, SUPERSEDED, RECALLED, *CLOSED)
    }
    yield ", ".join(f"{count} {state}" for state, count in counted.items() if count) + "."
    if to_fetch(found):
        yield "Those marked ! are somewhere and may not be worked by: fetch them, and enter it with fillmark recall."


def listed_json(found: Sequence[Listed], today: date) -> str:
    """Write the copies as JSON, in the shape of `schemas/copies.schema.json`."""
    whole = {
        "fillmark": __version__,
        "today": today.isoformat(),
        "copies": [
            {
                "method": o.copy.method, "revision": o.copy.revision, "copy": o.copy.number, "of": o.copy.of,
                "to": o.copy.to, "operator": o.copy.operator, "papers": list(o.copy.papers), "paper": o.copy.paper,
                "prints": o.copy.prints, "printed": o.copy.printed.isoformat(),
                "valid_until": None if o.copy.valid_until is None else o.copy.valid_until.isoformat(),
                "state": o.state, "why": o.copy.why,
            }
            for o in found
        ],
    }  # fmt: skip
    return json.dumps(whole, ensure_ascii=False, indent=2, allow_nan=False)
