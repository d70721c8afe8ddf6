"""What `verify` found, as text for a terminal and as JSON in the shape of `schemas/verified.schema.json`."""

import json
import textwrap
from collections.abc import Sequence
from typing import Any

from fillmark import __version__
from fillmark.diagnostics import Diagnostic, Severity
from fillmark.releases.register import Register
from fillmark.releases.verify import Verified
from fillmark.report.json import as_data
from fillmark.terminal import plain_ascii, without_controls

WIDTH = 100


def verified_text(
    done: Sequence[Verified], more: Sequence[Diagnostic], register: Register | None, *, ascii_only: bool
) -> str:
    """Write what was found of each bundle, then what was found of the register and its folder."""
    lines: list[str] = []

    def say(text: str, indent: str = "", hang: str | None = None) -> None:
        shown = plain_ascii(text) if ascii_only else without_controls(text)
        lines.extend(
            textwrap.wrap(
                shown, WIDTH, initial_indent=indent, subsequent_indent=indent if hang is None else hang,
                break_on_hyphens=False, break_long_words=False,
            )
        )  # fmt: skip

    for one in done:
        say(f"{one.name}: {_verdict(one)}")
        for line in _told(one):
            say(line, "  ", "    ")
        for d in one.found:
            _say_found(d, say)
        lines.append("")
    for d in more:
        _say_found(d, say)
    if more:
        lines.append("")
    if register is not None:
        say(
            f"Register {register.file}: {_count(len(register.entries), 'line')}, the last with SHA-256 {register.head}."
        )
    faults = [d for one in done for d in one.found] + list(more)
    counts = [(s, sum(d.severity is s for d in faults)) for s in sorted(Severity, reverse=True)]
    told = ", ".join(f"{n} {s.word}{'' if n == 1 or s is Severity.ADVICE else 's'}" for s, n in counts if n)
    say(f"{_count(len(done), 'bundle')} looked at: {told or 'nothing found'}.")
    return "\n".join(lines)


def _say_found(d: Diagnostic, say: Any) -> None:
    say(f"{d.severity.word} {d.code} {d.slug}", "  ")
    say(d.message, "    ")
    for way in d.ways_out:
        say(f"- {way}", "      ", "        ")


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _verdict(one: Verified) -> str:
    if not one.sound:
        return "DOES NOT HOLD"
    if one.entry is None:
        return "whole; released where it comes from, by its own word"
    later = ", superseded by a later revision" if one.superseded else ""
    back = "" if one.called_back is None else f", CALLED BACK: {one.called_back}"
    return f"as released{later}{back}"


def _told(one: Verified) -> list[str]:
    m = one.manifest
    if m is None:
        return []
    note = " (a demonstration, its data invented)" if m["demonstration"] else ""
    found = [
        f"{m['id']} revision {m['revision']}, {m['title']}{note}",
        f"by its manifest released {m['released']['at']} by {m['released']['by']}",
        f"author {m['people']['author']}, approver {m['people']['approver'] or 'not named'}",
        f"class {m['class']}, digest {m['digest'][:8]}, Fillmark {m['fillmark']}, {m['rules']['count']} rules",
    ]
    if one.signed_by is not None:
        found.append(f"signed with a key of {one.signed_by}")
    if one.judged_again and one.sound:
        found.append("its findings were worked out again from its own method and reference data")
    return found


def verified_json(done: Sequence[Verified], more: Sequence[Diagnostic], register: Register | None) -> str:
    """Write the same as JSON, in the shape of `schemas/verified.schema.json`."""
    whole = {
        "fillmark": __version__,
        "register": None
        if register is None
        else {"lines": len(register.entries), "head": register.head, "sound": register.sound},
        "bundles": [_one(v) for v in done],
        "diagnostics": [as_data(d) for d in more],
    }
    return json.dumps(whole, ensure_ascii=False, indent=2)


def _one(v: Verified) -> dict[str, Any]:
    m = v.manifest
    return {
        "file": v.name,
        "id": None if m is None else m["id"],
        "revision": None if m is None else m["revision"],
        "released": None if m is None else m["released"],
        "sha256": v.sha256 or None,
        "sound": v.sound,
        "line": None if v.entry is None else v.entry.line,
        "superseded": v.superseded,
        "called_back": v.called_back,
        "signed_by": v.signed_by,
        "judged_again": v.judged_again,
        "diagnostics": [as_data(d) for d in v.found],
    }
