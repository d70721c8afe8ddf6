"""The documents of one method."""

import csv
from io import StringIO

import pytest

from fillmark.build import Made, document, documents
from fillmark.digest import digest
from fillmark.orders import KINDS, USUAL, Order
from fillmark.pipeline import compile_method
from fillmark.printing import PrintingUnavailable

HTML = Order(papers=("A4",), kinds=KINDS, forms=("html",))


def test_documents_are_made_of_clean_methods_only(reference):
    torn = compile_method(b"fillmark: 1", "torn.yaml", reference)
    with pytest.raises(ValueError, match="did not compile"):
        documents(torn, HTML)


def test_documents_are_those_of_each_kind_together(compiled):
    one = compiled("TGF-VIS-003")
    together = documents(one, HTML)
    assert [f"TGF-VIS-003-r2-{kind}-A4.html" for kind in KINDS] == list(together)
    apart = {name: text for kind in KINDS for name, text in document(one, kind, HTML).files.items()}
    assert apart == together


def test_the_record_is_one_table_whatever_paper_and_form(compiled):
    one = compiled("TGF-VIS-003")
    order = Order(papers=("A4", "Letter"), kinds=USUAL, forms=("html",))
    made = documents(one, order)
    assert ["TGF-VIS-003-r2-record-blank.csv"] == [name for name in made if not name.endswith(".html")]
    rows = list(csv.DictReader(StringIO(made["TGF-VIS-003-r2-record-blank.csv"].decode("utf-8-sig"))))
    # It knows its method and nothing else.
    assert {
        "method.id": "TGF-VIS-003", "method.revision": "2",
        "method.digest": f"{digest(one.method)[:4]} {digest(one.method)[4:8]}",
    } == {row["field"]: row["value"] for row in rows if row["value"]}  # fmt: skip


def test_no_paper_named_means_that_of_the_site_policy(compiled):
    one = compiled("TGF-VIS-003")
    order = Order(papers=(), kinds=("checklist",), forms=("html",))
    size = one.method.reference.policy.choices["paper"]
    assert [f"TGF-VIS-003-r2-checklist-{size}.html"] == list(documents(one, order))


def test_without_the_pdf_libraries_the_reason_comes_with_the_html(compiled, monkeypatch):
    def unavailable(*_, **__):
        raise PrintingUnavailable("a library is missing")

    monkeypatch.setattr("fillmark.printing.pdf", unavailable)
    order = Order(papers=("A4", "Letter"), kinds=("checklist",), forms=("html", "pdf"))
    made = document(compiled("TGF-VIS-003"), "checklist", order)
    assert isinstance(made, Made)
    assert "a library is missing" == made.no_pdf
    assert {".html"} == {name[-5:] for name in made.files}
    assert 2 == len(made.files)
