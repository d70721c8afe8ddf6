"""Waivers: what they set aside, what they cannot, and when they lapse."""

from datetime import date

import pytest

from fillmark.pipeline import compile_method

CREAM, PAINT = "LMT-VIS-021", "MCW-VIS-014"
WAIVER = """
waivers:
  - rule: {rule}
    reason: The line has run this way for years and the study named below shows no effect.
    evidence: S-7
    approved_by: {approver}
    expires: {expires}
"""


def waived(rule, approver="H. Marlow", expires="2028-01-01", more=""):
    waiver = WAIVER.format(rule=rule, approver=approver, expires=expires)
    return ("retention: 10 years\n", f"retention: 10 years{waiver}{more}")


def codes(compiled_method):
    return [(d.code, d.waived_by) for d in compiled_method.diagnostics]


NO_REST = ("  rest: 5 min\n", "")


def rested(compiled):
    """Give the code of the finding that a missing rest brings."""
    [d] = compiled(PAINT, NO_REST).diagnostics
    return d.code


def test_a_valid_waiver_sets_its_finding_aside_and_names_who_approved(compiled):
    code = rested(compiled)
    assert [(code, "H. Marlow")] == codes(compiled(PAINT, NO_REST, waived(code)))


def test_the_author_cannot_approve(compiled):
    code = rested(compiled)
    found = codes(compiled(PAINT, NO_REST, waived(code, approver="a. osei ")))
    assert [(code, None), ("WAI01", None)] == sorted(found)


def test_a_waiver_past_the_review_does_not_hold(compiled):
    code = rested(compiled)
    assert ("WAI01", None) in codes(compiled(PAINT, NO_REST, waived(code, expires="2030-01-01")))


@pytest.mark.parametrize(("today", "holds"), [(date(2028, 1, 1), True), (date(2028, 1, 2), False)])
def test_a_waiver_lapses_the_day_after_it_expires(compiled, edited, reference, today, holds):
    code = rested(compiled)
    c = compile_method(edited(PAINT, NO_REST, waived(code)), "x", reference, today=today)
    assert holds == all(by for _, by in codes(c))


def test_a_waiver_lapses_when_a_value_it_rests_on_changes(compiled):
    code = rested(compiled)
    rests = "    rests_on: {run.viscosity_20.torque_upper: %s}\n"
    held = codes(compiled(PAINT, NO_REST, waived(code, more=rests % "60.0 %")))
    lapsed = compiled(PAINT, NO_REST, waived(code, more=rests % "55.0 %"))
    assert [(code, "H. Marlow")] == held
    assert ("WAI01", None) in codes(lapsed)
    assert any("55.0 %" in d.message and "60.0 %" in d.message for d in lapsed.diagnostics)


def test_an_unused_waiver_is_told(compiled):
    code = rested(compiled)
    assert [("WAI02", None)] == codes(compiled(PAINT, waived(code)))


def test_a_waiver_of_no_rule_is_an_error(compiled):
    [d] = compiled(PAINT, waived("ZZZ99")).diagnostics
    assert ("WAI01", "error") == (d.code, d.severity.word)


def test_what_is_impossible_cannot_be_waived(compiled):
    fast = ("speed: 20 rpm", "speed: 100 rpm")
    [over, *_] = [d for d in compiled(PAINT, fast).diagnostics if d.severity.word == "error"]
    found = compiled(PAINT, fast, waived(over.code)).diagnostics
    assert any(d.code == over.code and d.waived_by is None for d in found)
    assert any(d.code == "WAI01" and "cannot be waived" in d.message for d in found)


def test_the_waiver_of_the_cream_holds(compiled):
    assert [("VER07", "M. Linden")] == codes(compiled(CREAM))
