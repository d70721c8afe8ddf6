"""A comparison of two revisions as text for a terminal, as JSON, and as plain rows for paper.

Text is at most `WIDTH` columns wide, in ASCII where the terminal has nothing else. JSON has the shape of
`schemas/comparison.schema.json`.
"""

import json
import textwrap
from collections.abc import Callable, Iterable
from typing import Any

from fillmark import __version__
from fillmark.compare import (
    EDITORIAL,
    MEANINGS,
    RANKS,
    TRIGGERS,
    Changed,
    Comparison,
    History,
    Moved,
    Side,
    was_now,
)
from fillmark.diagnostics import Diagnostic, Span
from fillmark.quantities import brief
from fillmark.terminal import plain_ascii

WIDTH = 100


# --- plain rows, for a plan


def rows(c: Comparison) -> tuple[tuple[str, ...], ...]:
    """Give the changes as texts: path, what it is, before, after, class; heaviest class first."""
    return tuple(
        (x.path, x.title, x.before or "", x.after or "", x.klass) for x in _heaviest_first(c.changes)
    )


def figure_rows(c: Comparison) -> tuple[tuple[str, ...], ...]:
    """Give the figures that moved as texts: what it is, before, after, factor, note."""
    return tuple((f.title, f.before or "none", f.after or "none", _factor(f), f.note) for f in c.figures)


def history_rows(c: Comparison) -> tuple[tuple[str, ...], ...]:
    """Give what becomes of each result as texts: result, state, what breaks it, what to mind."""
    return tuple((h.result, h.state, "; ".join(h.why), "; ".join(h.mind)) for h in c.histories)


def _heaviest_first(changes: Iterable[Changed]) -> list[Changed]:
    return sorted(changes, key=lambda x: -RANKS.index(x.klass))


def _factor(f: Moved) -> str:
    # Beyond a thousand the number says nothing that the two texts do not, and rounded to 1 it misleads.
    if f.factor is None or not 0.001 <= f.factor <= 1000:
        return ""
    shown = brief(f.factor, 3)
    return "" if shown == "1" else f"× {shown}"


# --- text


def compared_text(c: Comparison, *, ascii_only: bool) -> str:
    """Write the whole comparison for a terminal, at most `WIDTH` columns wide."""
    lines: list[str] = []

    def say(text: str, indent: str = "", hang: str | None = None) -> None:
        lines.extend(
            textwrap.wrap(
                _suited(text, ascii_only=ascii_only), WIDTH, initial_indent=indent,
                subsequent_indent=indent if hang is None else hang, break_on_hyphens=False,
            )
        )  # fmt: skip

    def head(text: str) -> None:
        lines.extend(("", text))

    if c.before.id != c.after.id:
        say(f"These are two methods, {c.before.id} and {c.after.id}, not two revisions of one.")
    for word, side in (("before", c.before), ("after", c.after)):
        say(f"{word + ':':8}{side.id} revision {side.revision}, {side.status}: {side.file}", "", " " * 8)
    lines.append("")
    if c.klass is None:
        say("Nothing changed: the two say the same in the same words.")
    else:
        trigger = TRIGGERS[c.klass]
        say(f"class:    {c.klass}", "", " " * 10)
        say(f"triggers: {trigger}: {MEANINGS[trigger]}", "", " " * 10)
    for klass in reversed(RANKS):
        told = [x for x in c.changes if x.klass == klass]
        if told:
            head(f"Changed, {klass}:" if klass != EDITORIAL else "Changed, editorial (nothing technical):")
        for x in told:
            same = {"rewritten": " (means the same)", "reordered": " (order only)", "renamed": " (renamed)"}
            say(f"{_what(x)}: {was_now(x)}{same.get(x.kind, '')}{_lines(x)}", "  ", "      ")
    if c.figures:
        head("What it does to the figures:")
        lines.extend(_table(c, ascii_only=ascii_only))
    if c.spring:
        head("Spring:")
        say(c.spring, "  ")
    if c.technical:
        head("Results on one chart:")
        for h in c.histories:
            why = f"; {'; '.join(h.why)}" if h.why else ""
            say(f"{h.result}: {_state(h)}{why}", "  ", "      ")
            for mind in h.mind:
                say(f"mind: {mind}", "      ", "        ")
    _told(c, say, head)
    return "\n".join(lines)


def _what(x: Changed) -> str:
    key = x.path.rsplit(".", 1)[-1].replace("_", " ")
    return x.path if x.title.casefold() == key.casefold() else f"{x.path} ({x.title})"


def _state(h: History) -> str:
    words = {
        "continued": "history continued", "broken": "history broken, draw a line on the chart",
        "new": "new, no history", "ended": "no longer reported",
    }  # fmt: skip
    return words[h.state]


def _lines(x: Changed) -> str:
    lines = dict.fromkeys(str(s.line) for s in (x.before_span, x.after_span) if s is not None)
    return f" [line {', now '.join(lines)}]" if lines else ""


def _table(c: Comparison, *, ascii_only: bool) -> list[str]:
    cells = [[_suited(t, ascii_only=ascii_only) for t in row[:4]] for row in figure_rows(c)]
    widths = [max(len(r[i]) for r in cells) for i in range(4)]
    room = WIDTH - 2 - sum(min(w, 26) for w in widths[1:]) - 6
    widths[0] = min(widths[0], room)
    found = []
    for row, f in zip(cells, c.figures, strict=True):
        first, *more = textwrap.wrap(row[0], widths[0], subsequent_indent="  ", break_on_hyphens=False)
        found.append(
            f"  {first:{widths[0]}}  {row[1]:>{widths[1]}}  {row[2]:>{widths[2]}}  {row[3]:>{widths[3]}}".rstrip()
        )
        found += [f"  {m}" for m in more]
        if f.note:
            found += textwrap.wrap(
                _suited(f.note, ascii_only=ascii_only),
                WIDTH,
                initial_indent="      ! ",
                subsequent_indent=" " * 8,
            )
    return found


def _told(c: Comparison, say: Callable[..., None], head: Callable[[str], None]) -> None:
    if c.diagnostics:
        head("To act on:")
    for d in c.diagnostics:
        say(f"{d.file}:{d.span.line}: {d.severity.word} {d.code} {d.slug}", "  ", "      ")
        say(d.message, "    ")
        for way in d.ways_out:
            say(f"- {way}", "      ", "        ")
    for word, found in (("New", c.findings_new), ("Gone", c.findings_gone)):
        if found:
            head(f"{word} findings of the check:")
        for d in found:
            waived = f", waived by {d.waived_by}" if d.waived_by else ""
            say(
                f"line {d.span.line}: {d.severity.word} {d.code} {d.slug}{waived}: {d.message}",
                "  ",
                "      ",
            )


def _suited(text: str, *, ascii_only: bool) -> str:
    if ascii_only:
        return plain_ascii(text)
    # A text of the file must not steer the terminal.
    return "".join(s if s.isprintable() or s == " " else "\ufffd" for s in text)


# --- JSON


def compared_json(c: Comparison) -> str:
    """Write the comparison as JSON, in the shape of `schemas/comparison.schema.json`."""
    whole = {
        "fillmark": __version__,
        "before": _side_json(c.before),
        "after": _side_json(c.after),
        "class": c.klass,
        "trigger": c.trigger,
        "technical": c.technical,
        "changes": [
            {
                "path": x.path, "title": x.title, "kind": x.kind, "before": x.before, "after": x.after,
                "class": x.klass, "why": x.why, "before_place": _place(x.before_span),
                "after_place": _place(x.after_span),
            }
            for x in c.changes
        ],
        "figures": [
            {
                "key": f.key, "title": f.title, "before": f.before, "after": f.after,
                "factor": None if f.factor is None else float(f"{f.factor:.12g}"), "note": f.note,
            }
            for f in c.figures
        ],
        "histories": [
            {
                "result": h.result, "state": h.state, "flow": list(h.flow), "calculation": list(h.calculation),
                "mind": list(h.mind),
            }
            for h in c.histories
        ],
        "spring": c.spring,
        "diagnostics": [_told_json(d) for d in c.diagnostics],
        "findings_new": [_told_json(d) for d in c.findings_new],
        "findings_gone": [_told_json(d) for d in c.findings_gone],
    }  # fmt: skip
    return json.dumps(whole, ensure_ascii=False, indent=2, allow_nan=False)


def _side_json(side: Side) -> dict[str, Any]:
    return {"file": side.file, "id": side.id, "revision": side.revision, "status": side.status}


def _place(span: Span | None) -> dict[str, int] | None:
    if span is None:
        return None
    return {
        "line": span.line, "column": span.column, "end_line": span.end_line, "end_column": span.end_column
    }  # fmt: skip


def _told_json(d: Diagnostic) -> dict[str, Any]:
    return {
        "code": d.code, "slug": d.slug, "severity": d.severity.word, "message": d.message, "file": d.file,
        "place": _place(d.span), "path": list(d.path), "ways_out": list(d.ways_out), "waived_by": d.waived_by,
    }  # fmt: skip
