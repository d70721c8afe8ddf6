"""The page of a study."""

import re

import pytest

from fillmark.studies import bridging, precision
from fillmark.studies.page import ROWS, page


def test_it_says_what_the_terminal_says_and_draws_it(table_of, reference, glucose):
    table = table_of(glucose, precision.columns(["laboratory"]))
    outcome = precision.study(table, reference.policy, None, "2026-11-25", by=["laboratory"])
    html = page(outcome, None, reference, "2026-11-25").decode()
    assert outcome.said in html
    assert 10 == html.count("<svg")  # h and k of five materials
    assert "148.30 of 4 (C) would fit its group if it were 138.30." in html
    assert table.digest in html
    assert "<script" not in html
    assert not re.findall(r'(?:src|href)="', html)


def test_what_comes_from_the_data_is_text_and_nothing_else(table_of, reference):
    text = "# <img src=x>\nlot,old,new\n" + "\n".join(
        f"<b>{i}</b>,{10 + i},{10.01 + i + i % 2 / 50}" for i in range(8)
    )
    outcome = bridging.study(
        table_of(text, bridging.columns()), reference.policy, None, "2026-11-25", change="laboratory"
    )
    html = page(outcome, None, reference, "2026-11-25").decode()
    assert "<img" not in html
    assert "<b>1" not in html
    assert "&lt;b&gt;1&lt;/b&gt;" in html


def test_long_tables_say_what_they_leave_out(table_of, reference):
    text = "lot,old,new\n" + "\n".join(f"{i},{10 + i},{10.01 + i + i % 2 / 50}" for i in range(ROWS + 7))
    outcome = bridging.study(
        table_of(text, bridging.columns()), reference.policy, None, "2026-11-25", change="laboratory"
    )
    assert "7 more rows in the JSON" in page(outcome, None, reference, "2026-11-25").decode()


@pytest.mark.pdf
def test_it_prints(table_of, reference, compiled):
    from fillmark.printing import pdf

    method = compiled("MCW-VIS-014").method
    text = "lot,old,new\n" + "\n".join(f"{i},{8 + i / 3},{8.01 + i / 3 + i % 2 / 50}" for i in range(12))
    outcome = bridging.study(
        table_of(text, bridging.columns()),
        reference.policy,
        method,
        "2026-11-25",
        change="guard",
        margin="4 %",
    )
    html = page(outcome, method, reference, "2026-11-25").decode()
    assert "DEMONSTRATION" in html
    assert pdf(html).startswith(b"%PDF-")
    assert pdf(html, paper="Letter").startswith(b"%PDF-")
