"""Forms: what they need, what they take from a draft, and what they say when it is not enough."""

import io

import pypdf
import pytest

from fillmark.build import slips
from fillmark.digest import digest
from fillmark.forms import FormError, Wanted, plan_form, scouting, wall_card
from fillmark.orders import FORMS
from fillmark.pipeline import compile_method
from fillmark.printing import pdf
from fillmark.render import PAPERS, render

DEMOS = ("BBM-VIS-007", "LMT-VIS-021", "MCW-VIS-014", "QAP-VIS-002", "TGF-VIS-003")
DRAFT = b"""
fillmark: 1
id: ABC-VIS-001
title: Viscosity of a lime wash
revision: 1
status: draft
product: {name: Lime wash, hazards: [alkali, nonsense]}
instrument: {spring: R, readout: digital, coupling: threaded}
spindle: R4
guard: required
temperature: {target: 20 degrees}
run:
  - {name: v20, speed: 20 rpm}
  - {name: v2, speed: two}
"""


def words(document):
    return render(document).replace("\u00a0", " ")


@pytest.fixture(scope="module")
def draft(reference):
    def compile_draft(text=DRAFT, *changes):
        for old, new in changes:
            assert old.encode() in text
            text = text.replace(old.encode(), new.encode())
        return compile_method(text, "draft.yaml", reference)

    return compile_draft


def test_a_draft_with_errors_gives_a_sheet_that_says_what_it_left(draft, reference):
    compiled = draft()
    assert compiled.method is None
    text = words(scouting(compiled, reference, Wanted()))
    for part in ("ABC-VIS-001", "Lime wash", "DRAFT", "no method yet", "NOT TAKEN FROM THE DRAFT", "Alkali"):
        assert part in text, part
    for left in ("product.hazards: nonsense", "run[1].speed: two", "temperature.target: 20 degrees"):
        assert left in text, left


def test_a_method_that_resolves_but_has_errors_gives_its_figures(compiled, reference):
    one = compiled("MCW-VIS-014", ("speed: 20 rpm", "speed: 100 rpm"))  # off the scale
    assert not one.clean
    assert one.method is not None
    document = scouting(one, reference, Wanted())
    assert document.head.draft
    assert document.head.digest
    # 400 Pa·s·rpm at 100 rpm
    assert "0.04 Pa·s" in words(document)


def test_what_is_asked_for_goes_before_the_draft(draft, reference):
    text = words(
        scouting(draft(), reference, Wanted(product="White wash", spindle="R6", temperature="25 °C"))
    )
    assert "White wash" in text
    assert "R6, disc" in text
    assert "27 °C" in text


def test_an_own_coefficient_holds_for_its_own_spindle_alone(compiled, reference):
    changes = (
        "container: beaker-600-low-form\n",
        (
            "container: beaker-600-low-form\ncoefficient: {full_scale: 390 Pa·s·rpm, guard: required, "
            "container: beaker-600-low-form, evidence: LAB-1}\n"
        ),
    )
    one = compiled("MCW-VIS-014", changes)
    assert one.method is not None, [d.message for d in one.diagnostics]
    assert "C 390 Pa·s·rpm" in words(scouting(one, reference, Wanted()))
    assert "C 1000 Pa·s·rpm" in words(scouting(one, reference, Wanted(spindle="R6")))


@pytest.mark.parametrize(
    ("wanted", "told"),
    [
        ({}, "needs the spring"),
        ({"spring": "Q"}, "no spring Q"),
        ({"instrument": "bench-99"}, "no instrument bench-99"),
        ({"instrument": "bench-2"}, "needs the spindle"),
        ({"instrument": "bench-2", "spindle": "X"}, "no spindle X"),
        ({"instrument": "bench-2", "spindle": "L1"}, "made for L"),
        ({"instrument": "bench-2", "spindle": "bar-27"}, "a stand that travels"),
        ({"instrument": "bench-2", "spring": "L", "spindle": "L1"}, "has spring R, not L"),
        ({"instrument": "bench-8", "spindle": "R4", "speeds": ("7 rpm",)}, "7 rpm cannot be set on bench-8"),
        ({"instrument": "bench-8", "spindle": "R4", "speeds": ("7 s",)}, "--speed"),
        ({"instrument": "bench-8", "spindle": "R4", "temperature": "warm"}, "--temperature"),
        (
            {"instrument": "bench-2", "spindle": "R4", "speeds": tuple(f"{n} rpm" for n in range(1, 9))},
            "room for 6",
        ),
    ],
)
def test_what_is_missing_is_told_with_a_way_out(reference, wanted, told):
    with pytest.raises(FormError, match=told) as error:
        scouting(None, reference, Wanted(**wanted))
    assert any(word in str(error.value) for word in ("Name", "Write", "Leave"))


def test_a_text_that_is_no_yaml_is_told(reference):
    with pytest.raises(FormError, match="cannot be read as YAML"):
        scouting(compile_method(b"a: [", "x.yaml", reference), reference, Wanted())


def test_what_strange_drafts_hold_is_text_and_no_markup(draft, reference):
    hostile = draft(
        DRAFT, ("name: Lime wash", 'name: "<script>alert(1)</script> **x**"'), ("speed: two", "speed: '<b>'")
    )
    text = words(scouting(hostile, reference, Wanted()))
    assert "<script" not in text
    assert "&lt;script&gt;" in text
    for strange in (
        b"run: 5",
        b"run: [1, 2]",
        b"product: [a]",
        b"instrument: x",
        b"spindle: [1]",
        b"temperature: 5",
    ):
        compiled = compile_method(strange + b"\nfillmark: 1\n", "x.yaml", reference)
        assert scouting(compiled, reference, Wanted(instrument="bench-2", spindle="R4")).sides


def test_a_card_of_nothing_is_refused(reference):
    with pytest.raises(FormError, match="no instrument none"):
        wall_card(reference, "none")


# --- on paper


@pytest.mark.pdf
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("kind", [*FORMS, "scouting"])
@pytest.mark.parametrize("method", DEMOS)
def test_a_form_has_two_pages_with_head_and_foot(compiled, reference, method, kind, paper):
    one = compiled(method)
    if kind == "scouting":
        document = scouting(one, reference, Wanted())
    else:
        mark = digest(one.method)
        document = plan_form(kind, one.method, one.figures, mark, slips(one.method, one.figures))
    reader = pypdf.PdfReader(io.BytesIO(pdf(render(document, paper=paper), paper=paper)))
    assert 2 == len(reader.pages)
    for number, page in enumerate(reader.pages, start=1):
        text = " ".join(page.extract_text().split())
        assert method in text
        assert f"page {number} of 2" in text
        assert "digest" in text
        assert "The safety data sheet and local rules come before this sheet." in text
        assert ("DRAFT" in text) == (method == "BBM-VIS-007")
        assert "DEMONSTRATION" in text
    whole = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    assert "one line through it" in whole or "Correct with one line" in whole


@pytest.mark.pdf
@pytest.mark.parametrize("paper", PAPERS)
def test_a_card_has_one_page(reference, paper):
    for key in ("bench-4", "bench-8", "bench-10"):  # the most spindles, the most speeds, the longest numbers
        reader = pypdf.PdfReader(io.BytesIO(pdf(render(wall_card(reference, key), paper=paper), paper=paper)))
        assert 1 == len(reader.pages)


@pytest.mark.pdf
@pytest.mark.parametrize("paper", PAPERS)
def test_a_sheet_without_a_method_has_two_pages(draft, reference, paper):
    for document in (
        scouting(draft(), reference, Wanted()),
        scouting(
            None,
            reference,
            Wanted(instrument="bench-2", spindle="R4", speeds=tuple(f"{n} rpm" for n in range(1, 7))),
        ),
    ):
        reader = pypdf.PdfReader(io.BytesIO(pdf(render(document, paper=paper), paper=paper)))
        assert 2 == len(reader.pages)
