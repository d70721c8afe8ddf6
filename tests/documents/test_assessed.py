"""The page of a judged assessment: the verdict first, then every criterion, then who signs."""

from datetime import date

import pytest

from fillmark.digest import digest
from fillmark.documents.assessed import (
    FAIL,
    INCOMPLETE,
    NOT_PASSED,
    PASS,
    PASSED,
    Criterion,
    Judged,
    Told,
    plan_assessed,
)
from fillmark.render import render


def judged(verdict=PASSED, **more):
    given = {
        "trainee": "Ana Lind", "assessor": "R. Lindqvist", "assessor_level": "level 3", "trained_by": "H. Marlow",
        "occasion": "first", "day": "2026-12-10", "level": "2", "verdict": verdict, "valid_until": "2028-12-10",
        "criteria": (
            Criterion("theory", "A", "Right answers", "9 of 10", "≥ 8", PASS, "wrong: deep"),
            Criterion("fluid.1", "C1", "Reading 1", "10.4 Pa·s", "9.7–10.3 Pa·s", FAIL, "52 % × 0.2 Pa·s"),
        ),
        "told": (Told("ASM20", "Reading 1 lies 0.1 Pa·s outside.", ("Train it.", "Or verify it.")),),
        "explained": ("An s from 6 values is itself uncertain.",), "sha256": "ab12" * 16,
    }  # fmt: skip
    return Judged(**{**given, **more})


@pytest.fixture(scope="module")
def page(compiled):
    """Plan the page of a judged form of MCW-VIS-014."""

    def plan(*arguments, **more):
        one = compiled("MCW-VIS-014").method
        return plan_assessed(one, digest(one), judged(*arguments, **more), print_date=date(2026, 12, 11))

    return plan


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        (PASSED, "PASSED: level 2: alone, valid until 2028-12-10."),
        (NOT_PASSED, "NOT PASSED. No level is given"),
        (INCOMPLETE, "neither gives a level nor takes one away"),
    ],
)
def test_the_verdict_is_in_words(page, look, verdict, words):
    assert words in look.everything(page(verdict))


def test_a_word_that_is_no_verdict_is_refused(page):
    with pytest.raises(ValueError, match="no verdict"):
        page("perhaps")


def test_every_criterion_stands_with_value_limit_verdict_and_sum(page, look):
    (table,) = (b for b in look.blocks(page(), "table") if b.name == "criteria")
    assert [
        ["A", "Right answers", "9 of 10", "≥ 8", "pass", "wrong: deep"],
        ["C1", "Reading 1", "10.4 Pa·s", "9.7–10.3 Pa·s", "FAIL", "52 % × 0.2 Pa·s"],
    ] == [[look.words(cell) for cell in row] for row in table.rows]


def test_reasons_statistics_and_signatures_are_on_it(page, look):
    text = look.everything(page())
    for words in (
        "ASM20",
        "Or verify it.",
        "An s from 6 values",
        "Assessor, level 3 or higher",
        "ab12ab12 ab12ab12",
    ):
        assert words in text
    (signed,) = (b for b in look.blocks(page(), "table") if b.name == "signatures")
    assert ["Ana Lind", "R. Lindqvist", ""] == [look.words(row[1]) for row in signed.rows]


def test_what_was_not_filled_in_leaves_no_stray_comma(page, look):
    blank = page(INCOMPLETE, assessor="", assessor_level="", day="", occasion="")
    (who,) = (b for b in look.blocks(blank, "table") if b.name == "particulars")
    assert ["Ana Lind", "–", "H. Marlow", "–"] == [look.words(row[1]) for row in who.rows]


def test_it_renders_with_names_as_text(page):
    html = render(page(trainee="<script>x</script>"))
    assert "&lt;script&gt;" in html
    assert "<script>" not in html
