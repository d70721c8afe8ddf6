"""The page of a judged verification log: a chart of each set-up, the checks, and the list to look at again."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import PurePath

from fillmark import __version__
from fillmark.documents import Picture
from fillmark.documents.control_chart import Level, Mark, Stretch, control_chart
from fillmark.physics.control import RULES
from fillmark.quantities import brief, fixed
from fillmark.render import templates
from fillmark.trending.page import Shown, in_short
from fillmark.trending.told import reason_in_words
from fillmark.verification.log import Doubted, Group, Judged, Judgement, LookBack, error_text
from fillmark.verification.told import band_text, drift_text, since, summary, verdict_text, without_error

ROWS = 60
"""Rows of a table on the page; what is more is told and stands in the JSON."""
HEIGHT = 66.0
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=[^\W\d]|%)(?!to )")


@dataclass(frozen=True, slots=True)
class Panel:
    """One set-up: its chart and tables."""

    title: str
    picture: Picture | None
    stretches: Shown
    breaks: Shown
    checks: Shown


@dataclass(frozen=True, slots=True)
class Back:
    """One failed check and its list."""

    title: str
    since: str
    passed: tuple[str, ...]
    results: Shown


def page(j: Judgement, *, today: date) -> bytes:
    """Make the page."""
    said = [d for d in j.diagnostics if d.code not in ("LOG13", "LOG14")]
    return (
        templates()
        .get_template("verification-log.html")
        .render(
            name=PurePath(j.log.name).name,
            log=j.log,
            summary=summary(j),
            panels=[_panel(number, g) for number, g in enumerate(j.groups, 1)],
            backs=[_back(one) for one in j.look_back],
            said=said[:ROWS],
            unsaid=max(0, len(said) - ROWS),
            corrections=Shown(
                ("times", "entry", "reason"),
                tuple((str(n), field, reason_in_words(code)) for field, code, n in j.corrections[:ROWS]),
                max(0, len(j.corrections) - ROWS),
            ),
            rules=RULES,
            today=today.isoformat(),
            version=__version__,
        )
        .encode()
    )


def _panel(number: int, g: Group) -> Panel:
    title = f"{g.instrument}, {g.spindle}, {brief(g.rpm)} rpm"
    rows = tuple(_stretches(g))
    headings = ("no.", "from, to", "checks", "mean error", "centre ± 3 s", "drift", "run rules")
    breaks = tuple(
        (str(n), g.checks[place].check.entry.written.replace("T", " ")[:16], what)
        for n, (place, _, what) in enumerate(g.breaks, 1)
    )
    checks = tuple(_check(one) for one in g.checks)
    return Panel(
        title, _picture(number, title, g), Shown(headings, rows[-ROWS:], max(0, len(rows) - ROWS)),
        Shown(("no.", "before the check of", "what"), breaks[-ROWS:], max(0, len(breaks) - ROWS)),
        Shown(
            ("read", "fluid, lot", "°C", "torque", "reading", "passes", "error (% of full scale)", "verdict", "by",
             "remarks"),
            checks[-ROWS:], max(0, len(checks) - ROWS),
        ),
    )  # fmt: skip


def _check(one: Judged) -> tuple[str, ...]:
    c = one.check
    why = "; ".join(text for _, text in one.why)
    corrected = "; ".join(
        f"{x.field} was {x.was} ({reason_in_words(x.reason)}, {x.by}, {x.on})" for x in c.entry.corrections
    )
    remarks = ". ".join(w for w in (why, c.entry.remarks, corrected and f"Corrected: {corrected}") if w)
    return (
        _day_and_time(c.entry.written), f"{c.fluid}, {c.lot}", c.temperature.text.partition(" ")[0],
        whole(c.torque.text), whole(c.reading.text), whole(band_text(one)),
        error_text(one).removesuffix(" % of full scale"),
        one.verdict.upper(), c.entry.by, remarks,
    )  # fmt: skip


def _stretches(g: Group) -> Iterator[tuple[str, ...]]:
    for s in g.stretches:
        first, last = (g.checks[at].check.entry.written.replace("T", " ")[:10] for at in (s.first, s.last))
        limits = s.no_limits if s.limits is None else f"{_error(s.limits.lower)} to {_error(s.limits.upper)}"
        rules = "; ".join(
            f"{RULES[x.rule]}, from {g.checks[x.first].check.entry.written[:10]}" for x in s.signals[:6]
        )
        more = f"; {len(s.signals) - 6} more" if len(s.signals) > 6 else ""
        mean = "" if s.mean is None else _error(s.mean)
        yield (
            str(s.number), f"{first} to {last}", str(s.count), mean, limits,
            drift_text(s.drift, s.no_drift), rules + more,
        )  # fmt: skip


def whole(text: str) -> str:
    """Keep number and unit on one line."""
    return _BEFORE_UNIT.sub("\u00a0", text)


def _day_and_time(written: str) -> str:
    return written.replace("T", "\u00a0")[:16]


def _error(value: float) -> str:
    text = fixed(value, 2)
    return text.replace("-", "\u2212") if text.startswith("-") else f"+{text}" if float(text) else text


def _picture(number: int, title: str, g: Group) -> Picture | None:
    stretches, marks = [], []
    levels: list[Level] = [Level("no error", 0.0, g.checks[0].check.entry.at, g.checks[-1].check.entry.at)]
    for s in g.stretches:
        part = g.checks[s.first : s.last + 1]
        points = tuple((j.check.entry.at, j.error) for j in part if not j.check.reading.bound)
        ends = (part[0].check.entry.at, part[-1].check.entry.at)
        limits = (None, None, None) if s.limits is None else (s.limits.centre, s.limits.lower, s.limits.upper)
        stretches.append(Stretch(points, *ends, *limits))
        for signal in s.signals:
            if signal.rule == "beyond-3s":
                found = (j for j in g.checks[signal.first : signal.last + 1] if not j.check.reading.bound)
                marks += [Mark("signal", j.check.entry.at, j.error) for j in found]
    for j in g.checks:
        at = j.check.entry.at
        if j.check.reading.bound:
            marks.append(Mark("above" if j.check.reading.bound == ">" else "below", at, j.error))
        if j.verdict == "fail":
            marks.append(Mark("outside", at, j.error))
        elif j.verdict == "no proof" and not j.check.reading.bound:
            marks.append(Mark("void", at, j.error))
    for name, edge in (("passes to", "upper"), ("passes from", "lower")):
        for j in g.checks:
            y, at = getattr(j, edge), j.check.entry.at
            before = levels[-1]
            if before.name == name and abs(before.y - y) < 1e-6:
                levels[-1] = Level(name, before.y, before.start, at)
            else:
                levels.append(Level(name, y, at, at))
    verdicts = [j.verdict for j in g.checks]
    about = (
        f"{len(g.checks)} checks over time with their error in percent of full scale: {verdicts.count('pass')} pass, "
        f"{verdicts.count('fail')} fail, {verdicts.count('no proof')} prove nothing; {len(g.breaks)} breaks. The table "
        "of the checks says the same in numbers."
    )
    return control_chart(
        name=f"set-up-{number}", title=f"{title}: error of the checks", about=about, axis="error (% of full scale)",
        height=HEIGHT, stretches=stretches, marks=marks, levels=levels[:ROWS],
        breaks=[(at, str(n)) for n, (_, at, _) in enumerate(g.breaks, 1)],
        words={"value": "check", "outside": "fails", "void": "proves nothing", "above": "bound: at least",
               "below": "bound: at most"},
    )  # fmt: skip


def _back(one: LookBack) -> Back:
    c = one.failed.check
    told = since(one)
    until = "." if one.next_pass is None else (
        f", up to its next pass on {one.next_pass.check.entry.written.replace('T', ' ')}."
    )  # fmt: skip
    passed = tuple(
        f"{j.check.spindle} at {j.check.speed} on {j.check.entry.written.replace('T', ' ')}"
        for j in one.passed_otherwise
    )
    rows = tuple(_doubted(d) for d in one.results)
    headings = (
        "measured",
        "method",
        "lot",
        "result",
        "verdict",
        "without the error",
        "could the verdict change?",
    )
    return Back(
        f"{c.entry.instrument}, {c.spindle}, {c.speed}: failed on {c.entry.written.replace('T', ' ')[:16]}, error "
        f"{error_text(one.failed)}",
        f"{told[0].upper()}{told[1:]}{until}", passed, Shown(headings, rows[:ROWS], max(0, len(rows) - ROWS)),
    )  # fmt: skip


def _doubted(d: Doubted) -> tuple[str, ...]:
    r = d.result
    answer = {True: "YES", False: "no", None: f"cannot be told: {d.why}"}[d.could_change]
    after = "; MEASURED AFTER THE FAIL" if d.after else ""
    return (
        in_short(r), f"{r.method} rev. {r.setup.revision or '?'}", r.lot or "not written",
        whole(f"{r.name} {r.reported or 'none'}"), verdict_text(r),
        whole(without_error(d).removeprefix("; without the error ")), answer + after,
    )  # fmt: skip
