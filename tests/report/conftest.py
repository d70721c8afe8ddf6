"""Runs to be written: nothing found, something found, a waiver, a file that is not there, the worst texts."""

from dataclasses import replace
from pathlib import Path

import pytest

from fillmark.diagnostics import Diagnostic, Related, Severity, Span
from fillmark.files import unreadable
from fillmark.pipeline import Compiled
from fillmark.rules import all_rules

HOSTILE = '100 % \x1b[31mred\x00 <b>&amp; ]]> "it\'s"\r\n::error file=x::y, [here](1) {0} \u202e\ud800 µPa·s'


@pytest.fixture(scope="session")
def clean(compiled):
    """Give a method in which nothing is found."""
    return compiled("MCW-VIS-014")


@pytest.fixture(scope="session")
def faulty(compiled):
    """Give a method with an error that names another place."""
    done = compiled("LMT-VIS-021", ("upper: 130 Pa·s", "upper: 210 Pa·s"))
    assert any(d.code == "TRQ01" and d.related for d in done.diagnostics)
    return done


@pytest.fixture(scope="session")
def advised(compiled):
    """Give a method with a piece of advice and nothing worse."""
    rules = [r for r in all_rules() if r.severity is Severity.ADVICE]
    rule = next(r for r in rules if r.example.method == "MCW-VIS-014")
    done = compiled(rule.example.method, (rule.example.right, rule.example.wrong))
    assert {Severity.ADVICE} == {d.severity for d in done.diagnostics}
    return done


@pytest.fixture(scope="session")
def waived(compiled):
    """Give a method with a waiver in effect."""
    done = compiled("LMT-VIS-021")
    assert ["M. Linden"] == [d.waived_by for d in done.diagnostics]
    return done


@pytest.fixture(scope="session")
def missing():
    """Give a file that cannot be opened."""
    file = Path("methods/gone.yaml")
    return Compiled(str(file), (unreadable(file, FileNotFoundError(2, "No such file or directory")),))


@pytest.fixture(scope="session")
def hostile():
    """Give a finding whose texts hold what each form must not let through, in a file of an awkward name."""
    file = "methods/wall paint #1, 23 °C: 50%.yaml"
    related = (Related(HOSTILE, ("title",), Span(2, 3, 2, 9)), Related("No place.", ("id",)))
    finding = Diagnostic(
        "QTY01",
        "unreadable-quantity",
        Severity.WARNING,
        HOSTILE,
        file,
        Span(4, 2, 6, 1),
        ("title",),
        (HOSTILE,),
        related,
        None,
    )
    return Compiled(file, (finding, replace(finding, waived_by=HOSTILE, code="SCH01", slug="unknown-key")))
