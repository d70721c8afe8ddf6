"""The page of a verification log: the list first, a chart of each set-up, and what others wrote as letters."""

import json
from datetime import date

import pytest

from fillmark.trending.measured import collect
from fillmark.verification.log import judge
from fillmark.verification.logbook import read_log
from fillmark.verification.page import page, whole

TODAY = date(2026, 11, 25)


@pytest.fixture
def page_of(reference, tmp_path):
    def write(*entries, results=(), **head):
        file = tmp_path / "r.jsonl"
        file.write_text("\n".join(json.dumps(r, ensure_ascii=False) for r in results), encoding="utf-8")
        data = {"verification_log": 1, **head, "entries": list(entries)}
        log = read_log(json.dumps(data, ensure_ascii=False).encode(), "bench <2>.json", reference.raw)
        return page(judge(log, reference, results=collect([file]).measured), today=TODAY).decode()

    return write


@pytest.fixture
def story(page_of, check_of, result_of):
    entries = [check_of(f"2026-01-{d:02}T08:00", 0.1 * (d % 3)) for d in range(1, 13)]
    return page_of(
        *entries, check_of("2026-02-15T08:00", 2.0), demonstration=True, laboratory="Marlwick <b>Works</b>",
        results=[result_of(1, 12.1, "2026-02-01T08:00", sample__lot="<script>")],
    )  # fmt: skip


def test_the_list_stands_before_all_else_with_room_to_sign(story):
    assert story.index("LOOK BACK 1.") < story.index("To be looked at") < story.index("<svg")
    assert "Since its last pass on 2026-01-12T08:00" in story
    assert "<td>YES</td>" in story
    assert "Reviewed by ____" in story


def test_what_others_wrote_is_shown_as_letters(story):
    assert "<script>" not in story
    assert "Marlwick &lt;b&gt;Works" in story
    assert "bench &lt;2&gt;.json" in story


def test_fail_is_framed_and_the_demonstration_named(story):
    assert '<td class="fail">FAIL</td>' in story
    assert "DEMONSTRATION: invented data" in story


def test_without_results_the_reader_is_told_where_to_look(page_of, check_of):
    html = page_of(check_of("2026-01-01T08:00"), check_of("2026-02-15T08:00", 2.0))
    assert "name the result files with --results" in html


def test_an_empty_log_is_a_page_too(page_of):
    assert "0 checks" in page_of()


@pytest.mark.parametrize(
    ("plain", "kept"),
    [("50.1 %", "50.1\u00a0%"), ("9700 to 10300 mPa·s", "9700 to 10300\u00a0mPa·s"), ("R5", "R5")],
)
def test_number_and_unit_stay_together(plain, kept):
    assert kept == whole(plain)


@pytest.mark.pdf
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_without_a_complaint(story, paper):
    from fillmark.printing import pdf

    assert pdf(story, paper=paper).startswith(b"%PDF")
