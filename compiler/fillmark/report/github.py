"""Findings as workflow commands, which GitHub Actions shows beside the lines of a change.

A waived finding is a notice, so that a reviewer sees what was set aside. The last line is for the log.
"""

from collections.abc import Sequence

from fillmark.diagnostics import Diagnostic, Severity
from fillmark.model import Waiver
from fillmark.pipeline import Compiled
from fillmark.report import below_here, found_in, in_full, policy_line, policy_of, shown, waivers, why_waived
from fillmark.terminal import summary

_COMMANDS = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.ADVICE: "notice"}


def write(done: Sequence[Compiled]) -> str:
    """Write one workflow command a finding, and a line that counts them."""
    lines = []
    for one in done:
        waived = waivers(one)
        lines += [_command(d, waived.get(d.code)) for d in one.diagnostics]
    said = policy_line(policy_of(done))
    return "\n".join([*lines, *([said] if said else []), summary(found_in(done), len(done))])


def _command(diagnostic: Diagnostic, waiver: Waiver | None) -> str:
    span = diagnostic.span
    command, text = _COMMANDS[diagnostic.severity], in_full(diagnostic)
    if diagnostic.waived_by is not None:
        command = "notice"
        text = f"{why_waived(diagnostic, waiver)}\n{text}"
    file = below_here(diagnostic.file) or diagnostic.file
    properties = {"file": file, "line": span.line, "endLine": span.end_line}
    if span.line == span.end_line:
        # Columns hold within one line only. The last one is inside the stretch, unlike ours.
        properties |= {"col": span.column, "endColumn": max(span.column, span.end_column - 1)}
    properties["title"] = f"{diagnostic.code} {diagnostic.slug}"
    listed = ",".join(f"{key}={_property(str(value))}" for key, value in properties.items())
    return f"::{command} {listed}::{_data(text)}"


def _data(text: str) -> str:
    """Escape what would end the command or begin another."""
    return shown(text).replace("%", "%25").replace("\n", "%0A")


def _property(text: str) -> str:
    """Escape what would end a property or begin another."""
    return _data(text).replace(":", "%3A").replace(",", "%2C")
