"""The page of a trend: self-contained, escaped, small whatever the number of results, and it prints."""

import json
import random
import re
from datetime import date, datetime, timedelta
from html.parser import HTMLParser

import pytest

from fillmark.trending.measured import collect
from fillmark.trending.page import DRAWN, FEW, page
from fillmark.trending.told import in_all
from fillmark.trending.trends import trends

TODAY = date(2026, 11, 25)
START = datetime(2026, 1, 5, 8, 0)  # noqa: DTZ001 - as a sheet has it


@pytest.fixture
def page_of(tmp_path):
    def write(*results):
        file = tmp_path / "r.jsonl"
        file.write_text("\n".join(json.dumps(r, ensure_ascii=False) for r in results), encoding="utf-8")
        collection = collect([file])
        made, found = trends(collection, least=10)
        return page(made[0], [*collection.diagnostics, *found], in_all(collection), today=TODAY).decode()

    return write


@pytest.fixture
def many(result_of):
    def make(n, **changes):
        r = random.Random(1)
        return [
            result_of(
                i, round(10 + r.gauss(0, 0.3), 3), (START + timedelta(hours=7 * i)).isoformat(), **changes
            )
            for i in range(n)
        ]

    return make


class Tags(HTMLParser):
    """Collects tags and texts, and checks that every tag is closed."""

    def __init__(self):
        super().__init__()
        self.open, self.seen, self.texts = [], [], []

    def handle_starttag(self, tag, attrs):
        """Note a tag."""
        self.seen.append((tag, dict(attrs)))
        if tag not in ("meta", "path"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        """Close it."""
        if tag != "path":
            assert tag == self.open.pop()

    def handle_data(self, data):
        """Note a text."""
        self.texts.append(data)


def parsed(html):
    tags = Tags()
    tags.feed(html)
    assert [] == tags.open
    return tags


def test_the_page_stands_alone_and_every_picture_has_its_words(page_of, many):
    tags = parsed(page_of(*many(60)))
    names = {name for name, _ in tags.seen}
    assert not names & {"script", "link", "img", "iframe", "object"}
    assert not [a for _, attrs in tags.seen for a in attrs if a.startswith("on") or a in ("src", "href")]
    pictures = [attrs for name, attrs in tags.seen if name == "svg"]
    assert 3 == len(pictures) == sum(name == "title" for name, _ in tags.seen) - 1
    ids = [attrs["id"] for _, attrs in tags.seen if "id" in attrs]
    assert len(ids) == len(set(ids))
    for picture in pictures:
        assert set(picture["aria-labelledby"].split()) <= set(ids)


@pytest.mark.parametrize("path", ["sample__lot", "results__0__reported", "method__title", "equipment__instrument__id",
                                  "method__product", "results__0__name", "results__0__unit"])  # fmt: skip
def test_what_others_wrote_is_shown_as_letters(page_of, many, path):
    evil = "<script>alert(1)</script>\"'&{{7*7}}"
    html = page_of(*many(12, **{path: evil}))
    tags = parsed(html)
    assert "script" not in {name for name, _ in tags.seen}
    assert "<script>" not in html
    assert "{{7*7}}" in "".join(tags.texts)


def test_few_results_have_a_row_each_and_many_a_row_a_span(page_of, many):
    few, lots = page_of(*many(FEW)), page_of(*many(FEW + 1))
    assert FEW == len(re.findall(r"<tr><td>2026-0\d-\d\d\xa0", few.rpartition("<h3>Results</h3>")[2]))
    assert "2026-01-05</td><td>3</td>" in lots  # 8, 15 and 22 o'clock


def test_a_bound_is_in_the_key_and_in_no_mean(page_of, many, result_of):
    html = page_of(*many(20), result_of(99, 20.0, "2026-01-20T08:00", bound=">"))
    assert "bound: at least" in html
    assert "1 bound, drawn as such and not averaged" in html


def test_breaks_are_numbered_and_said(page_of, many, result_of):
    html = page_of(*many(12), result_of(90, 10.0, "2026-03-20T08:00", equipment__spindle__id="S-52"))
    assert "spindle: R5 S-51 before, R5 S-52 after" in html
    assert "1 of 2 segments have no centre and no 3 s: see the table of segments." in html


def test_thousands_of_results_and_of_breaks_stay_a_small_page(page_of, result_of):
    r = random.Random(3)
    results = [
        result_of(
            i, 10 + r.gauss(0, 0.3), (START + timedelta(hours=i)).isoformat(),
            equipment__spindle__id=f"S-{r.randrange(5)}",
            results__0__lower=8 + (i % 500) / 1e6,
        )
        for i in range(6000)
    ]  # fmt: skip
    html = page_of(*results)
    assert len(html) < 400_000
    assert "more rows in the JSON" in html


def test_more_series_than_are_drawn_are_named(page_of, result_of):
    results = [
        result_of(i, 10.0, "2026-01-05T08:00", results__0__name=f"result_{i}") for i in range(DRAWN + 3)
    ]
    html = page_of(*results)
    assert "3 more series are not drawn" in html
    assert f"result_{DRAWN + 2}" in html


@pytest.mark.pdf
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_it_prints_without_a_complaint(page_of, many, paper):
    from fillmark.printing import pdf

    assert pdf(page_of(*many(50)), paper=paper).startswith(b"%PDF")
