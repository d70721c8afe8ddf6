"""Who holds which level on which method on a day, what lapsed and why, and what is due.

The register tells who was assessed, on which revision and until when. A level lapses on its last day, after a
time without a run, when it is taken away, and with a later revision whose change asks for more than a notice:
the class of the change is that of `compare.py`, between the revision a person qualified on and the one in force.
"""

import json
import textwrap
from calendar import monthrange
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from fillmark import __version__
from fillmark.compare import compare
from fillmark.model import Policy
from fillmark.names import known_as
from fillmark.quantities import Quantity, parse
from fillmark.releases.register import Entry, Register
from fillmark.releases.revisions import Revision, coming, in_force, revisions_of
from fillmark.terminal import plain_ascii, without_controls
from fillmark.trending.measured import Measured

WIDTH = 100
ASSESSMENT, SUPERVISED, NOTIFIED, SUSPENDED = "assessment", "supervised-run", "notified", "suspended"
"""What a line of the register tells of a person."""
HOLDS, WAITS, LAPSED, NONE = "holds", "supervised run", "lapsed", "none"
"""holds: works at the level; supervised run: under supervision until one is made; none: failed or taken away"""
NOTIFY, RUN, WHOLE = "notify", "supervised run", "full competency"
"""What a change asks for, as `compare.TRIGGERS` has it."""

Uses = Mapping[tuple[str, str], date]
"""(method, `known_as` of a person) -> last day of a run."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What the register says of a person and a method in one line."""

    level: int
    """Held today; 0 for none."""
    why: str


@dataclass(frozen=True, slots=True)
class Holding:
    """A person and a method."""

    person: str
    method: str
    level: int
    """As last assessed; 0 where that was not passed."""
    state: str
    """holds, supervised run, lapsed, none"""
    reasons: tuple[str, ...]
    """Why it is not held."""
    mind: tuple[str, ...]
    """What is to be done or known all the same."""
    assessed: date
    revision: int
    """On which the person was assessed."""
    assessor: str
    valid_until: date | None
    last_used: date
    """Last run, assessment or supervised run that is known."""
    ends: date | None
    """Last day on which it holds, as things are; None where it does not, or without end."""
    ends_by: str
    due: bool
    """Whether something is to be done within the days asked for."""

    @property
    def today(self) -> int:
        """The level held today: while a supervised run is waited for, 1; 0 for none."""
        return self.level if self.state == HOLDS else min(self.level, 1) if self.state == WAITS else 0


# --- days


def last_day(start: date, time: Quantity) -> date:
    """Give the last day of a time that begins on a day; months and years go by the calendar."""
    number = float(time.number)
    if time.unit in ("months", "years") and number.is_integer():
        months = int(number) * (12 if time.unit == "years" else 1)
        year, month = divmod(start.year * 12 + start.month - 1 + months, 12)
        if year > date.max.year:
            return date.max
        return date(year, month + 1, min(start.day, monthrange(year, month + 1)[1]))
    try:
        return start + timedelta(days=round(time.value / 86_400))
    except OverflowError:
        return date.max


def uses_in(measured: Iterable[Measured], today: date) -> dict[tuple[str, str], date]:
    """Find the last run of each person by each method up to a day, in evaluated results."""
    found: dict[tuple[str, str], date] = {}
    for one in measured:
        day = datetime.fromtimestamp(one.at, UTC).date()
        if one.analyst and day <= today:
            key = (one.method, known_as(one.analyst))
            found[key] = max(day, found.get(key, date.min))
    return found


# --- holdings


def holdings(
    workspace: Path,
    register: Register,
    policy: Policy,
    today: date,
    *,
    within: int,
    uses: Uses | None = None,
) -> tuple[Holding, ...]:
    """Judge every person and method of the register by a day.

    `within` is in days; `uses` are the last known runs, None where no results were given, and then nobody's
    level lapses for want of a run. OSError where a bundle cannot be read.
    """
    asked = _Changes(workspace, register)
    people: dict[tuple[str, str], list[Entry]] = defaultdict(list)
    for entry in register.of_kind("competency"):
        if date.fromisoformat(entry.data["day"]) <= today:
            people[str(entry.data["id"]), known_as(entry.data["person"])].append(entry)
    return tuple(
        holding
        for key, entries in sorted(people.items())
        if (holding := _holding(key, entries, asked, policy, today, within, uses)) is not None
    )


def standing(found: Sequence[Holding], person: str, method: str) -> Standing:
    """Say in one line what a person holds on a method."""
    one = next((h for h in found if h.method == method and known_as(h.person) == known_as(person)), None)
    if one is None:
        return Standing(0, f"no assessment of {person} on {method}")
    if one.state == HOLDS:
        return Standing(one.level, f"level {one.level} since {one.assessed}")
    return Standing(one.today, "; ".join(one.reasons))


class _Changes:
    """What lies between revisions, worked out once."""

    def __init__(self, workspace: Path, register: Register) -> None:
        self._workspace = workspace
        self._register = register
        self._revisions: dict[str, tuple[Revision, ...]] = {}
        self._between: dict[tuple[str, int, int], str | None] = {}

    def revisions(self, method: str) -> tuple[Revision, ...]:
        """Give the released revisions of a method."""
        if method not in self._revisions:
            self._revisions[method] = revisions_of(self._workspace, self._register, method)
        return self._revisions[method]

    def between(self, method: str, old: int, new: int) -> str | None:
        """Give what the change from one revision to another asks of people; `unknown: why` where it cannot be told."""
        if old == new:
            return None
        key = (method, old, new)
        if key not in self._between:
            self._between[key] = self._asked(method, old, new)
        return self._between[key]

    def _asked(self, method: str, old: int, new: int) -> str | None:
        by_number = {r.number: r for r in self.revisions(method)}
        sides = []
        for number in (old, new):
            revision = by_number.get(number)
            if revision is None:
                return f"unknown: revision {number} was never released"
            if revision.bundle is None:
                return f"unknown: {revision.faults[0].message}"
            compiled = revision.compiled()
            if compiled.method is None:
                return f"unknown: revision {number} does not compile with this version of Fillmark"
            sides.append(compiled)
        return compare(sides[0], sides[1]).trigger


def _holding(
    key: tuple[str, str], entries: Sequence[Entry], asked: _Changes, policy: Policy, today: date, within: int,
    uses: Uses | None,
) -> Holding | None:  # fmt: skip
    method = key[0]
    in_order = sorted(entries, key=lambda e: (e.data["day"], e.line))
    assessments = [e for e in in_order if e.data["what"] == ASSESSMENT]
    if not assessments:
        return None
    last = assessments[-1]
    day = date.fromisoformat(last.data["day"])
    after = in_order[in_order.index(last) + 1 :]
    runs = [e for e in after if e.data["what"] == SUPERVISED]
    used = max(day, *(date.fromisoformat(e.data["day"]) for e in runs), (uses or {}).get(key, day))
    until = date.fromisoformat(last.data["valid_until"]) if last.data["passed"] else None
    reasons: list[str] = []
    mind: list[str] = []
    state = HOLDS
    if not last.data["passed"]:
        state = NONE
        reasons.append(f"the assessment of {day} was not passed")
    taken = [e for e in after if e.data["what"] == SUSPENDED]
    if taken:
        state = NONE
        reasons.append(f"taken away on {taken[-1].data['day']} by {taken[-1].by}: {taken[-1].data['reason']}")
    if state == HOLDS:
        state = _by_revision(method, last, after, asked, today, reasons, mind)
    unused = parse(policy.texts["competency_unused"], "time")
    idle = last_day(used, unused)
    if state in (HOLDS, WAITS) and until is not None and until < today:
        state = LAPSED
        days = (today - until).days
        reasons.append(f"valid until {until}, {days} day{'' if days == 1 else 's'} ago")
    if state in (HOLDS, WAITS) and idle < today:
        if uses is None:
            mind.append(f"needs a run since {last_day(used, unused)}; no results were given to look into")
        else:
            state = LAPSED
            reasons.append(f"no run since {used}, longer than {unused.text}")
    ends, ends_by = None, ""
    if state in (HOLDS, WAITS) and until is not None:
        ends, ends_by = until, "validity"
        if uses is not None and idle < until:
            ends, ends_by = idle, f"{unused.text} without a run"
    due = ends is not None and (ends - today).days <= within
    due = due or state == WAITS or any(m.startswith(("tell", "from ")) for m in mind)
    return Holding(
        str(last.data["person"]), method, int(last.data.get("level", 0)), state, tuple(reasons), tuple(mind), day,
        int(last.data["revision"]), str(last.data["assessor"]), until, used, ends, ends_by, due,
    )  # fmt: skip


def _by_revision(
    method: str, last: Entry, after: Sequence[Entry], asked: _Changes, today: date, reasons: list[str],
    mind: list[str],
) -> str:  # fmt: skip
    """Judge what the revisions since the assessment ask for."""
    base = int(last.data["revision"])
    revisions = asked.revisions(method)
    current = in_force(revisions, today)
    state = HOLDS
    if current is not None and current.number > base:
        wanted = _still_asked(method, base, current.number, after, asked)
        if wanted == RUN:
            state = WAITS
            reasons.append(
                f"revision {current.number} asks for a supervised run; assessed on revision {base}"
            )
        elif wanted == WHOLE:
            state = LAPSED
            reasons.append(f"revision {current.number} asks for full competency; assessed on revision {base}")
        elif wanted == NOTIFY:
            mind.append(f"tell of revision {current.number}: only its wording changed")
        elif wanted is not None:
            state = LAPSED
            reasons.append(
                f"what revision {current.number} changed cannot be told ({wanted.removeprefix('unknown: ')})"
            )
    for revision in coming(revisions, today):
        wanted = _still_asked(method, base, revision.number, after, asked)
        if revision.number > base and wanted not in (None, NOTIFY):
            mind.append(f"from {revision.effective}, revision {revision.number}: {wanted}")
    return state


def _still_asked(method: str, base: int, new: int, after: Sequence[Entry], asked: _Changes) -> str | None:
    """Give what a revision asks of somebody for whom some of it has been done."""
    wanted = asked.between(method, base, new)
    done: Callable[[str], list[int]] = lambda what: [  # noqa: E731 - two uses, one line
        int(e.data["revision"]) for e in after if e.data["what"] == what
    ]
    if wanted == RUN and any(asked.between(method, r, new) in (None, NOTIFY) for r in done(SUPERVISED)):
        wanted = NOTIFY
        if new in done(SUPERVISED):
            return None
    if wanted == NOTIFY and new in (*done(NOTIFIED), *done(SUPERVISED)):
        return None
    return wanted


# --- written


def levels_text(found: Sequence[Holding], today: date, within: int, *, ascii_only: bool) -> str:
    """Write who holds what for a terminal, method by method."""
    text = "\n".join(without_controls(line) for line in _told(found, today, within))
    return plain_ascii(text) if ascii_only else text


def _told(found: Sequence[Holding], today: date, within: int) -> Iterator[str]:
    if not found:
        yield "The register tells of no assessment."
        return
    method = ""
    wide = min(max(len(h.person) for h in found), 30)
    for h in found:
        if h.method != method:
            if method:
                yield ""
            method = h.method
            yield f"{method} on {today}"
        until = "" if h.ends is None else f"until {h.ends} ({h.ends_by})"
        mark = "!" if h.due or h.state == LAPSED else " "
        yield f"{mark} {h.person:{wide}}  level {h.level}  {h.state:14}  {until}".rstrip()
        yield f"      assessed {h.assessed} on revision {h.revision} by {h.assessor}"
        for line in (*h.reasons, *h.mind):
            yield from textwrap.wrap(line, WIDTH, initial_indent="      ", subsequent_indent="        ")
    due = sum(h.due for h in found)
    gone = sum(h.state == LAPSED for h in found)
    yield ""
    hold = sum(h.state == HOLDS for h in found)
    yield f"{len(found)} in all: {hold} hold, {gone} lapsed, {due} due within {within} days."


def levels_json(found: Sequence[Holding], today: date, within: int) -> str:
    """Write who holds what as JSON, in the shape of `schemas/levels.schema.json`."""
    whole = {
        "fillmark": __version__,
        "today": today.isoformat(),
        "within": within,
        "levels": [
            {
                "person": h.person, "method": h.method, "level": h.level, "held": h.today, "state": h.state,
                "reasons": list(h.reasons), "mind": list(h.mind), "assessed": h.assessed.isoformat(),
                "revision": h.revision, "assessor": h.assessor,
                "valid_until": None if h.valid_until is None else h.valid_until.isoformat(),
                "last_used": h.last_used.isoformat(), "ends": None if h.ends is None else h.ends.isoformat(),
                "ends_by": h.ends_by, "due": h.due,
            }
            for h in found
        ],
    }  # fmt: skip
    return json.dumps(whole, ensure_ascii=False, indent=2, allow_nan=False)
