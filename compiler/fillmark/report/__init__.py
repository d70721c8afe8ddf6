"""Findings for other programs: JSON of our own, SARIF for code hosts, annotations for GitHub, JUnit for CI.

Each form is a module with one public function, `write(done) -> str`, which gives the text without a last line
end. All of them are UTF-8 whatever the terminal is. The text for people is in `terminal.py`.
"""

import os
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from pathlib import Path

from fillmark.diagnostics import Diagnostic, Related
from fillmark.model import Policy, Waiver
from fillmark.pipeline import Compiled

FORMS = ("json", "sarif", "github", "junit")


def written(form: str, done: Sequence[Compiled]) -> bytes:
    """Write what was found in all files of a run in one of `FORMS`.

    Only the module of that form is loaded. A file name that is no UTF-8 comes out in JSON as the escapes that
    Python reads back; the other forms show replacement signs.
    """
    write: Callable[[Sequence[Compiled]], str] = import_module(f"fillmark.report.{form}").write
    return write(done).encode("utf-8", "backslashreplace")


def found_in(done: Sequence[Compiled]) -> list[Diagnostic]:
    """Give the diagnostics of all files, in the order of the files."""
    return [d for one in done for d in one.diagnostics]


def policy_of(done: Sequence[Compiled]) -> Policy | None:
    """Give the site policy the files were judged by; None where none came far enough to be judged."""
    return next((one.method.reference.policy for one in done if one.method is not None), None)


def policy_line(policy: Policy | None) -> str | None:
    """Say which thresholds of the site policy differ from the shipped ones; None where none does."""
    if policy is None or not policy.changed:
        return None
    changed = ", ".join(f"{key} {policy.texts[key]}" for key in policy.changed)
    return f"Judged by site policy {policy.version}, which differs from the shipped one in: {changed}."


def waivers(one: Compiled) -> Mapping[str, Waiver]:
    """Give the waivers that took effect in a file, by the code of their rule."""
    found = () if one.checked is None else one.checked.findings
    return {rule.code: waiver for rule, _, waiver in found if waiver is not None}


def why_waived(diagnostic: Diagnostic, waiver: Waiver | None) -> str:
    """Say who set a finding aside, and why where the reason is at hand."""
    return f"waived by {diagnostic.waived_by}" + (f": {waiver.reason}" if waiver is not None else "")


def shown(text: str) -> str:
    """Put a replacement sign in the place of all that is no plain text: controls, escapes, torn characters.

    What is left may stand in XML 1.0 (section 2.2) and steers no log.
    """
    return "".join(c if c in "\n\t" or _is_text(c) else "\ufffd" for c in text.replace("\r\n", "\n"))


def _is_text(sign: str) -> bool:
    return sign.isprintable() or unicodedata.category(sign) == "Zs"


def below_here(file: str) -> str | None:
    """Give a file as seen from the current folder, with forward slashes; None where it lies elsewhere."""
    try:
        path = Path(os.path.relpath(file)).as_posix()
    except ValueError:
        return None  # on another drive
    return None if path == ".." or path.startswith("../") else path


def in_full(diagnostic: Diagnostic) -> str:
    """Write the message with the places that take part and the ways out, one a line."""
    lines = [diagnostic.message]
    lines += [f"{_place(related)}: {related.note}" for related in diagnostic.related]
    lines += [f"- {way}" for way in diagnostic.ways_out]
    return "\n".join(lines)


def _place(related: Related) -> str:
    return "See" if related.span is None else f"See line {related.span.line}"
