"""What holds for the catalogue of rules as a whole."""

import re
from importlib import import_module
from inspect import cleandoc, isgeneratorfunction
from pathlib import Path

import pytest

from fillmark.check import CODES as OF_CHECK
from fillmark.rules import TOPICS, all_rules, rule
from fillmark.validate import CODES as OF_VALIDATE

ROOT = Path(__file__).parents[2]

rules = pytest.mark.parametrize("of", all_rules(), ids=lambda r: f"{r.code}-{r.slug}")


def test_every_topic_has_rules_and_they_come_in_reading_order():
    order = [(TOPICS.index(r.topic), r.code) for r in all_rules()]
    assert sorted(order) == order
    assert set(TOPICS) == {r.topic for r in all_rules()}


def test_no_code_or_slug_stands_for_two_things():
    codes = [*OF_CHECK, *OF_VALIDATE, *(r.code for r in all_rules())]
    slugs = [*(s for s, _ in (*OF_CHECK.values(), *OF_VALIDATE.values())), *(r.slug for r in all_rules())]
    assert sorted(set(codes)) == sorted(codes)
    assert sorted(set(slugs)) == sorted(slugs)


def test_a_code_is_given_out_once():
    taken = all_rules()[0]
    with pytest.raises(ValueError, match=taken.code):
        rule(taken.code, taken.severity, sources=taken.sources, example=taken.example)(taken.judge)


@pytest.mark.parametrize("topic", TOPICS)
def test_the_codes_of_a_topic_share_a_prefix_and_have_no_gap(topic):
    codes = [r.code for r in all_rules() if r.topic == topic]
    prefix = codes[0][:3]
    assert [f"{prefix}{number:02}" for number in range(1, len(codes) + 1)] == codes


@rules
def test_a_rule_is_a_generator_named_after_the_defect(of):
    assert isgeneratorfunction(of.judge)
    assert of.slug == of.judge.__name__.replace("_", "-")
    assert import_module(f"fillmark.rules.{of.topic}").__dict__[of.judge.__name__] is of.judge
    assert 3 <= len(of.slug)


@rules
def test_a_rule_says_what_why_and_when_not(of):
    parts = cleandoc(of.text).split("\n\n")
    assert 3 == len(parts), of.text
    assert all(part.endswith(".") for part in parts), parts


@rules
def test_what_cannot_be_waived_says_so(of):
    last = cleandoc(of.text).split("\n\n")[-1]
    assert of.waivable == (not last.startswith("Never")), last


@rules
def test_the_sources_of_a_rule_stand_in_the_bibliography(of, reference):
    assert of.sources
    assert set() == set(of.sources) - set(reference.sources)


@rules
def test_an_example_edits_a_text_that_stands_once(of, edited):
    example = of.example
    assert example.right != example.wrong
    assert edited(example.method, (example.right, example.wrong))
    assert set() == set(example.also) - {r.code for r in all_rules()}


def test_no_rule_compares_with_a_threshold_of_its_own_where_the_policy_has_one(reference):
    asked = set()
    for topic in (ROOT / "compiler" / "fillmark" / "rules").glob("*.py"):
        asked.update(re.findall(r"policy(?:\.choices)?\[\"([a-z_]+)\"\]", topic.read_text(encoding="utf-8")))
    known = set(reference.policy.values) | set(reference.policy.choices)
    assert set() == asked - known
