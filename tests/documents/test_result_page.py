"""The result page: all that a checker needs, and nothing that is markup."""

import re
from pathlib import Path

import pytest

from fillmark.digest import digest
from fillmark.documents.result_page import number, plan_result
from fillmark.records.evaluate import evaluate
from fillmark.records.reading import read_records
from fillmark.records.written import as_data
from fillmark.render import render

TESTS = Path(__file__).parents[1]


def page(data: bytes, one, paper="A4") -> tuple[str, dict]:
    mark = digest(one.method)
    (record,) = read_records(data.replace(b"@digest", mark[:8].encode()), "/somewhere/r.csv")
    result = as_data(evaluate(record, one.method, one.figures, mark))
    return render(plan_result(one.method, mark, result), paper=paper), result


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


@pytest.mark.parametrize("demo", ["BBM-VIS-007", "LMT-VIS-021", "MCW-VIS-014", "QAP-VIS-002", "TGF-VIS-003"])
def test_it_holds_the_result_its_steps_and_the_signatures(demo, compiled):
    html, result = page((TESTS / "good_records" / f"{demo}.csv").read_bytes(), compiled(demo))
    text = text_of(html)
    for said in (
        "The result stands.",
        "Calculated",
        "by program: Fillmark",
        "Checked",
        result["record"]["sha256"],
        "DEMONSTRATION",
    ):
        assert said in text
    assert "What was found" not in text
    for step in result["steps"]:
        assert step["title"] in text.replace("\u00a0", " ")
    assert "/somewhere" not in html


def test_findings_and_corrections_stand_on_it(compiled):
    data = (TESTS / "good_records" / "MCW-VIS-014.csv").read_text(encoding="utf-8")
    data = data.replace("zero,,,0.1,%,,,,", "zero,,,0.9,%,0.1,NF,2026-12-02,2")
    text = text_of(page(data.encode(), compiled("MCW-VIS-014"))[0]).replace("\u00a0", " ")
    for said in (
        "THE RESULT DOES NOT STAND",
        "EVA25",
        "was 0.1; corrected by NF, 2026-12-02, reason 2",
        "row 31",
    ):
        assert said in text


def test_what_is_typed_is_never_markup(compiled):
    data = (TESTS / "good_records" / "MCW-VIS-014.csv").read_text(encoding="utf-8")
    data = data.replace("HM-26-118", "<script>alert(1)</script>").replace("N. Ferris", "**<b>x</b>**")
    html, _ = page(data.encode(), compiled("MCW-VIS-014"))
    assert "<script>" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in html
    assert "**&lt;b&gt;x&lt;/b&gt;**" in html


@pytest.mark.pdf
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_without_a_complaint(paper, compiled):
    from fillmark.printing import pdf

    data = (TESTS / "bad_records" / "EVA29-EVA37-bound-among-values.csv").read_bytes()
    printed = pdf(page(data, compiled("QAP-VIS-002"), paper)[0], paper=paper)
    assert printed.startswith(b"%PDF")


def test_numbers_for_paper():
    assert ["", "9.8\u00a0Pa·s", "\u22120.1\u00a0%", "12\u202f345"] == [
        number(None), number(9.8, "Pa·s"), number(-0.1, "%"), number(12345.0)
    ]  # fmt: skip
