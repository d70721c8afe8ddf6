"""What a code means, in words; and what it found in a file."""

import re
from pathlib import Path

import pytest

from fillmark import check, files, pipeline, validate, yaml_faults
from fillmark.explain import close_codes, explain
from fillmark.pipeline import compile_method
from fillmark.rules import all_rules

METHODS = Path(__file__).parents[1] / "methods"
CODE = re.compile(r"[A-Z]{3}[0-9]{2}")


def test_every_rule_is_explained_with_both_texts_and_its_sources(reference):
    for rule in all_rules():
        text = explain(rule.code)
        assert text is not None
        assert text.startswith(f"{rule.code} {rule.slug} ({rule.severity.word}; ")
        assert ("cannot be waived" in text) is not rule.waivable
        assert rule.example.method in text
        for key in rule.sources:
            assert reference.sources[key].title in text, rule.code


def test_every_other_code_is_explained():
    for table in (files.CODES, yaml_faults.CODES, validate.CODES, check.CODES, pipeline.CODES):
        for code, (slug, words) in table.items():
            assert f"{code} {slug}\n\n{words}" == explain(code), code


def test_the_list_names_every_code_once_and_in_one_form():
    listing = explain("list")
    assert listing is not None
    codes = [line.split()[0] for line in listing.splitlines()]
    assert all(CODE.fullmatch(c) for c in codes)
    assert len(set(codes)) == len(codes)
    assert {r.code for r in all_rules()} < set(codes)
    assert {"FIL01", "YML07", "SCH01", "QTY01", "NAM01", "WAI01", "LIB01"} < set(codes)


def test_slugs_are_told_apart():
    listing = explain("list")
    assert listing is not None
    slugs = [line.split()[-1] for line in listing.splitlines()]
    assert [] == [s for s in set(slugs) if slugs.count(s) > 1]


@pytest.mark.parametrize("spelt", ["QTY01", "qty01", "unreadable-quantity", "Unreadable-Quantity"])
def test_a_code_is_found_by_its_number_or_its_name_in_any_case(spelt):
    assert explain("QTY01") == explain(spelt)


def test_no_such_code_gives_nothing_and_those_near_it():
    assert explain("QTY99") is None
    assert "QTY01" in close_codes("QTY99")
    assert [] == close_codes("?")


def test_with_a_file_it_tells_what_it_found_there(reference):
    right = (METHODS / "MCW-VIS-014.yaml").read_text(encoding="utf-8")
    wrong = right.replace("lower: 8.0 Pa·s", "lower: 8.0 Pas")
    line = 1 + wrong[: wrong.index("8.0 Pas")].count("\n")
    text = explain("QTY01", compile_method(wrong.encode(), "paint.yaml", reference))
    assert text is not None
    assert "In paint.yaml: 1 finding." in text
    assert f"line {line}: " in text
    assert "- Write 8.0 Pa·s." in text


def test_with_a_file_it_shows_the_numbers_behind_a_finding(reference):
    right = (METHODS / "MCW-VIS-014.yaml").read_text(encoding="utf-8")
    wrong = right.replace("speed: 20 rpm", "speed: 40 rpm")
    compiled = compile_method(wrong.encode(), "paint.yaml", reference)
    code = next(d.code for d in compiled.diagnostics if d.path[:2] == ("run", 1))
    text = explain(code, compiled)
    assert text is not None
    assert compiled.figures is not None
    assert "The numbers behind it:" in text
    figure = compiled.figures["run.viscosity_20.torque_upper"]
    # 12 Pa·s at 40 rpm with 400 Pa·s·rpm: 100 · 12 · 40 / 400 = 120 %.
    assert f"{figure.title}: 120.0 %   [{figure.formula}]" in text


def test_with_a_clean_file_it_says_that_there_is_nothing(reference):
    data = (METHODS / "MCW-VIS-014.yaml").read_bytes()
    text = explain("QTY01", compile_method(data, "paint.yaml", reference))
    assert text is not None
    assert text.endswith("In paint.yaml: 0 findings.")
