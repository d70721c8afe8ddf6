"""What the tests of the rules share: what is found in an edited demonstration method, and on which line."""

import pytest

from fillmark.diagnostics import Diagnostic
from fillmark.pipeline import Compiled


def place(diagnostic: Diagnostic) -> tuple[str, int]:
    """Give what a test compares: the code and the line."""
    return diagnostic.code, diagnostic.span.line


def unwaived(compiled: Compiled) -> list[Diagnostic]:
    """List what is found and not set aside by a waiver of the method."""
    return [d for d in compiled.diagnostics if d.waived_by is None]


def line_of(text: str, at: str) -> int:
    """Give the line (from 1) that holds a text; it must stand on one line only."""
    lines = [number for number, line in enumerate(text.splitlines(), 1) if at in line]
    assert 1 == len(lines), f"{at!r} must stand on one line, not on {lines}"
    return lines[0]


@pytest.fixture(scope="session")
def codes(compiled):
    """Give all that is found in an edited demonstration method, as a sorted list of (code, line)."""

    def found(method: str, *changes: tuple[str, str]) -> list[tuple[str, int]]:
        return sorted(place(d) for d in unwaived(compiled(method, *changes)))

    return found


@pytest.fixture(scope="session")
def lines(edited):
    """Give the lines of an edited demonstration method that hold some texts, each on one line."""

    def found(method: str, *changes: tuple[str, str], at: str) -> int:
        return line_of(edited(method, *changes).decode(), at)

    return found


@pytest.fixture(scope="session")
def only(compiled):
    """Give the one diagnostic of an edited demonstration method; there must be no other of any severity."""

    def found(method: str, *changes: tuple[str, str]) -> Diagnostic:
        diagnostics = unwaived(compiled(method, *changes))
        assert 1 == len(diagnostics), [f"{place(d)} {d.message}" for d in diagnostics]
        return diagnostics[0]

    return found


@pytest.fixture(scope="session")
def not_judged(compiled):
    """Give the reasons why a rule could not judge an edited demonstration method."""

    def reasons(code: str, method: str, *changes: tuple[str, str]) -> list[str]:
        checked = compiled(method, *changes).checked
        assert checked is not None
        return [reason for rule, reason in checked.not_judged if rule.code == code]

    return reasons


@pytest.fixture(scope="module")
def spoken(request, codes):
    """Give the codes of the module's TOPIC that an edited demonstration method brings."""
    topic = request.module.TOPIC

    def found(method: str, *changes: tuple[str, str]) -> list[str]:
        return [code for code, _ in codes(method, *changes) if code.startswith(topic)]

    return found


@pytest.fixture(scope="session")
def said(compiled):
    """Give the one finding of a code in an edited demonstration method."""

    def found(code: str, method: str, *changes: tuple[str, str]) -> Diagnostic:
        (one,) = [d for d in compiled(method, *changes).diagnostics if d.code == code]
        return one

    return found
