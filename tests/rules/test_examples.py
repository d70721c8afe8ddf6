"""The example of every rule, executed: the right text is silent, the wrong one brings exactly its finding."""

import pytest

from fillmark.rules import Rule, all_rules

DEMOS = ("BBM-VIS-007", "LMT-VIS-021", "MCW-VIS-014", "QAP-VIS-002", "TGF-VIS-003")

rules = pytest.mark.parametrize("rule", all_rules(), ids=lambda r: f"{r.code}-{r.slug}")


def unwaived(compiled):
    """List what is found and not set aside by a waiver of the method."""
    return [d for d in compiled.diagnostics if d.waived_by is None]


def expected_line(rule: Rule, text: str) -> int:
    """Give the line on which the finding of an example must stand."""
    example = rule.example
    if example.at is None:
        start = text.index(example.wrong)
        return text.count("\n", 0, start) + 1
    lines = [number for number, line in enumerate(text.splitlines(), 1) if example.at in line]
    assert 1 == len(lines), f"{example.at!r} must stand on one line, not on {lines}"
    return lines[0]


@pytest.mark.parametrize("method", DEMOS)
def test_a_demonstration_method_has_no_finding_of_any_severity(method, compiled):
    found = unwaived(compiled(method))
    assert [] == [f"{d.code} line {d.span.line}: {d.message}" for d in found]


@rules
def test_the_wrong_text_brings_exactly_the_finding_of_the_rule(rule, edited, compiled):
    example = rule.example
    change = (example.right, example.wrong)
    text = edited(example.method, change).decode()
    found = unwaived(compiled(example.method, change))
    codes = sorted(d.code for d in found)
    assert sorted((rule.code, *example.also)) == codes, [f"{d.code}: {d.message}" for d in found]
    own = next(d for d in found if d.code == rule.code)
    assert expected_line(rule, text) == own.span.line, own.message
    assert rule.slug == own.slug
    if not example.also:
        assert rule.severity == own.severity


@rules
def test_the_finding_says_a_number_and_two_ways_out(rule, compiled):
    example = rule.example
    for found in unwaived(compiled(example.method, (example.right, example.wrong))):
        assert any(c.isdigit() for c in found.message), found.message
        assert 2 == len(found.ways_out), found.ways_out
        assert all(way.strip() and way.strip()[-1] in ".:" for way in found.ways_out), found.ways_out
        assert found.ways_out[0] != found.ways_out[1]
        assert not any(word in found.message for word in ("None", "nan", "inf ")), found.message


@rules
def test_the_places_that_take_part_are_in_the_file(rule, compiled):
    example = rule.example
    for found in unwaived(compiled(example.method, (example.right, example.wrong))):
        for other in found.related:
            assert other.span is not None
            assert other.note
            assert found.path != other.path
