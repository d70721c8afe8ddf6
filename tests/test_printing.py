"""The PDF: two pages, one font, nothing fetched, nothing complained of, the same bytes again."""

import io
import os
import subprocess
import sys
from pathlib import Path

import pypdf
import pytest

from fillmark import printing
from fillmark.digest import digest
from fillmark.documents.checklist import plan_checklist
from fillmark.documents.data_sheet import plan_data_sheet
from fillmark.printing import PrintingFailed, PrintingUnavailable, lay_out, pdf, stamped
from fillmark.render import render

pytestmark = pytest.mark.pdf

ROOT = Path(__file__).parents[1]
DEMOS = ("BBM-VIS-007", "LMT-VIS-021", "MCW-VIS-014", "QAP-VIS-002", "TGF-VIS-003")
PLANS = {"checklist": plan_checklist, "data-sheet": plan_data_sheet}
POINTS = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}
"""Paper sizes in points: ISO 216, and 8.5 by 11 inches."""


@pytest.fixture(scope="module")
def printed(compiled):
    """Print a document of a demonstration method with edits."""

    def make(method, kind="checklist", paper="A4", *changes):
        one = compiled(method, *changes)
        document = PLANS[kind](one.method, one.figures, digest(one.method))
        return pypdf.PdfReader(io.BytesIO(pdf(render(document, paper=paper), paper=paper)))

    return make


def text_of(page):
    return " ".join(page.extract_text().split()).replace("\u202f", " ")


def fonts_of(reader):
    return {
        str(font.get_object()["/BaseFont"])
        for page in reader.pages
        for font in page["/Resources"]["/Font"].values()
    }


@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("kind", PLANS)
@pytest.mark.parametrize("method", DEMOS)
def test_a_paper_has_exactly_two_pages_with_head_foot_and_font(printed, method, kind, paper):
    reader = printed(method, kind, paper)
    assert 2 == len(reader.pages)
    for number, page in enumerate(reader.pages, start=1):
        assert POINTS[paper] == pytest.approx(tuple(float(side) for side in page.mediabox[2:]), abs=0.1)
        text = text_of(page)
        assert method in text
        assert f"page {number} of 2" in text
        assert "digest" in text
        assert "DEMONSTRATION: invented data" in text
        assert "The safety data sheet and local rules come before this sheet." in text
        assert ("DRAFT" in text) == (method == "BBM-VIS-007")
    assert {"DejaVu"} == {name.partition("+")[2][:6] for name in fonts_of(reader)}


def test_set_up_stands_on_the_first_page_and_measuring_on_the_second(printed):
    first, second = (text_of(page) for page in printed("MCW-VIS-014").pages)
    assert "HOLD 1" in first
    assert "Mount" in first
    assert "Turning parts" in second
    assert "HOLD 2" in second
    assert "HOLD 2" not in first


TWINS = {
    "two clocks": ("MCW-VIS-014", (("read: {after: 150 s}", "read: {after: 60 s, revolutions: 5 rev}"),)),
    "a dial": (
        "MCW-VIS-014",
        (
            ("speed: 2 rpm, read: {after: 150 s}", "speed: 0.5 rpm, read: {after: 30 s}"),
            ("lower: 5.5, upper: 8.0", "lower: 27.5, upper: 33.3333"),
            ("readout: digital", "readout: dial"),
        ),
    ),
    "twice as fast": ("BBM-VIS-007", (("speed: 50 rpm", "speed: 100 rpm"),)),
    "narrow agreement": ("QAP-VIS-002", (("agree_within: 1.8 Pa·s", "agree_within: 100 mPa·s"),)),
    "as it is": ("MCW-VIS-014", ()),
}
"""The demonstration methods spoilt a little, as somebody would: see test_twins.py."""


@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("twin", TWINS)
def test_the_set_up_stands_on_every_checklist_and_takes_no_third_page(printed, twin, paper):
    method, changes = TWINS[twin]
    reader = printed(method, "checklist", paper, *changes)
    assert 2 == len(reader.pages)
    first, second = (text_of(page) for page in reader.pages)
    assert "This line is 100 mm long" in (first if method == "MCW-VIS-014" else second)
    assert "HOLD 1" in first
    assert "HOLD 2" in second


@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("method", DEMOS)
def test_places_to_write_in_are_as_large_on_paper_as_they_must_be(compiled, method, paper):
    """Tick boxes of 5 mm, rooms of 8 mm, and a drawing that no column has shrunk."""
    from weasyprint import CSS, HTML

    one = compiled(method)
    html = render(plan_checklist(one.method, one.figures, digest(one.method)), paper=paper)
    style = CSS(string=f"{printing._margins()}@page {{ size: {paper.lower()} }}")
    found = {"value": [], "tick": [], "room": [], "drawn": []}
    for page in HTML(string=html).render(stylesheets=[style]).pages:
        for box in page._page_box.descendants():
            names = (
                (box.element.get("class") or "").split() if getattr(box, "element", None) is not None else []
            )
            kind = type(box).__name__
            if kind == "TableCellBox" and "value" in names and box.element.tag == "td":
                found["value"].append(box.border_height())
            elif kind == "BlockBox" and "room" in names:
                found["room"].append(box.height)
            elif kind == "InlineBlockBox" and "tick" in names:
                found["tick"].append(min(box.border_width(), box.border_height()))
            elif "drawn" in names and "Replaced" in kind:
                found["drawn"].append(box.width)
    least = {name: min(sizes) * 25.4 / 96 for name, sizes in found.items()}
    assert least["value"] >= 8.0
    assert least["room"] >= 8.0
    assert least["tick"] >= 5.0
    wide = {"MCW-VIS-014": 101.0}.get(method, 189.0)
    assert [wide] == pytest.approx([width * 25.4 / 96 for width in found["drawn"]])


def test_a_caution_and_its_step_stand_on_one_page_even_if_a_side_runs_over(printed):
    long = "\n    ".join(
        ["Stir once more, slowly, with the wide spatula, along the wall of the beaker."] * 30
    )
    reader = printed(
        "MCW-VIS-014",
        "checklist",
        "Letter",
        ("Stir 30 turns in 30 s with a wide spatula; draw no air in.", long),
    )
    pages = [text_of(page) for page in reader.pages]
    assert len(pages) > 2
    for number, text in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in text
        assert "MCW-VIS-014" in text
    for caution, steps in (
        ("Left-hand thread. Lift", ("Screw the spindle on",)),
        ("Turning parts", ("no spindle on", "Start the motor")),
    ):
        beside = [[step for step in steps if step in text] for text in pages if caution in text]
        assert len(beside) == len([b for b in beside if b]) > 0
        assert sorted(steps) == sorted(step for found in beside for step in found)


def test_title_and_language_are_told_and_no_date_is(printed):
    reader = printed("MCW-VIS-014")
    assert "MCW-VIS-014 rev. 3: Bench checklist" == reader.metadata.title
    assert "en" == reader.trailer["/Root"]["/Lang"]
    assert "/MarkInfo" in reader.trailer["/Root"]
    assert {"/CreationDate", "/ModDate"} & set(reader.metadata) == set()


def test_the_same_page_gives_the_same_bytes(compiled):
    one = compiled("MCW-VIS-014")
    html = render(plan_checklist(one.method, one.figures, digest(one.method)))
    assert pdf(html) == pdf(html)


@pytest.mark.slow
def test_another_process_with_other_hashes_gives_the_same_bytes():
    code = (
        "import sys, hashlib; from pathlib import Path; from fillmark.reference import load;"
        "from fillmark.pipeline import compile_method; from fillmark.digest import digest;"
        "from fillmark.documents.checklist import plan_checklist; from fillmark.render import render;"
        "from fillmark.printing import pdf; reference, _ = load();"
        "one = compile_method(Path(sys.argv[1]).read_bytes(), 'x.yaml', reference);"
        "html = render(plan_checklist(one.method, one.figures, digest(one.method)));"
        "print(hashlib.sha256(html.encode()).hexdigest(), hashlib.sha256(pdf(html)).hexdigest())"
    )
    method = ROOT / "methods" / "MCW-VIS-014.yaml"
    digests = {
        subprocess.run(
            [sys.executable, "-c", code, method],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert 1 == len(digests)


@pytest.mark.parametrize(
    "html",
    [
        "<img src='https://example.org/x.png' alt=''>",
        "<img src='file:///etc/hostname' alt=''>",
        "<link rel='stylesheet' href='style.css'>",
        "<p style='background: url(https://example.org/x.png)'>x</p>",
    ],
)
def test_nothing_is_fetched(html):
    with pytest.raises(PrintingFailed, match="complained"):
        pdf(f"<html lang='en'><title>x</title><body>{html}<p>x</p></body></html>")


def test_a_complaint_of_the_printer_is_an_error():
    with pytest.raises(PrintingFailed, match="no-such-property"):
        pdf("<html lang='en'><title>x</title><p>x</p></html>", stylesheet="p { no-such-property: 1 }")


def test_a_missing_library_is_told_with_the_command(monkeypatch):
    class Missing:
        def find_spec(self, name, *_):
            if name.startswith("weasyprint"):
                raise OSError("cannot load library 'libpango-1.0-0'\nand a second line")

    monkeypatch.delitem(sys.modules, "weasyprint", raising=False)
    monkeypatch.setattr(sys, "meta_path", [Missing(), *sys.meta_path])
    with pytest.raises(PrintingUnavailable, match=r"libpango.*Run once: sudo apt-get install"):
        pdf("<p>x</p>")


def test_a_missing_font_is_told_with_the_command(monkeypatch):
    monkeypatch.setattr(printing, "FONT", "No Such Font")
    with pytest.raises(PrintingUnavailable, match=r"DejaVu.*fonts-dejavu-extra"):
        pdf("<html lang='en'><title>x</title><p style='font-family: DejaVu Sans'>x</p></html>")


STAMP = (
    "<!doctype html><style>@page { size: 210mm 297mm; margin: 0 } p { margin: 9mm }</style><p>STAMP WORD</p>"
)


def test_laid_out_pages_are_drawn_again_and_again_each_time_with_another_stamp(compiled):
    one = compiled("MCW-VIS-014")
    html = render(plan_checklist(one.method, one.figures, digest(one.method)))
    laid = [lay_out(html), lay_out(html)]
    plain = pypdf.PdfReader(io.BytesIO(pdf(html)))
    for word in ("alpha", "omega"):
        reader = pypdf.PdfReader(io.BytesIO(stamped(laid, STAMP.replace("WORD", word))))
        assert 4 == len(reader.pages)
        for page, before in zip(reader.pages, [*plain.pages, *plain.pages], strict=True):
            words = set(text_of(page).split())
            assert set() == set(text_of(before).split()) - words
            assert {"STAMP", word} == words & {"STAMP", "alpha", "omega"}


def test_a_page_that_would_fetch_something_is_refused_before_it_is_drawn():
    with pytest.raises(PrintingFailed):
        lay_out('<img src="https://example.org/x.png">')
