"""The PDF: two pages, one font, nothing fetched, nothing complained of, the same bytes again."""

import io
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from fillmark import printing
from fillmark.digest import digest
from fillmark.documents.checklist import plan_checklist
from fillmark.documents.data_sheet import plan_data_sheet
from fillmark.forms import wall_card
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


HOT = (
    ("target: 38.0 °C ± 1.0 °C", "target: 90.0 °C ± 1.0 °C"),
    ("hazards: [alkali]", "hazards: [alkali, hot, irritant, corrosive, toxic]"),
)
LONG = (
    (
        "title: Apparent viscosity of matt wall paint",
        "title: Apparent viscosity of reinforced matt wall paint for ceilings, at two speeds, and its index",
    ),
    (
        "name: Hearthstone matt wall paint",
        "name: Hearthstone matt wall paint for ceilings and damp walls, reinforced, white 9016 XL",
    ),
)


def test_the_drawing_gives_way_where_it_would_take_a_page_more(printed):
    drawn = {}
    for paper in POINTS:
        reader = printed("BBM-VIS-007", "checklist", paper, *HOT)
        assert 2 == len(reader.pages)
        drawn[paper] = any("This line is 100 mm long" in text_of(page) for page in reader.pages)
    assert {"A4": True, "Letter": False} == drawn


def test_where_both_sides_run_over_no_page_bears_a_single_line(printed):
    hazards = "[flammable, volatile-solvent, corrosive, irritant, toxic, sensitiser]"
    reader = printed(
        "MCW-VIS-014", "checklist", "Letter",
        ("hazards: [irritant]", f"hazards: {hazards}"),
        ("cleaning: {agent: warm water,", f"cleaning: {{agent: white spirit, agent_hazards: {hazards},"),
    )  # fmt: skip
    assert 3 == len(reader.pages)  # with a page of its own for each side there would be four
    assert "Start the motor" in text_of(reader.pages[1])


@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("across", [(), ("TRAINING", "NOT FOR RELEASE")])
def test_a_head_of_long_names_stays_on_the_page_and_clear_of_the_sheet(compiled, paper, across):
    one = compiled("MCW-VIS-014", *LONG)
    document = plan_checklist(one.method, one.figures, digest(one.method))
    document = replace(document, head=replace(document.head, across=across))
    page = pypdf.PdfReader(io.BytesIO(pdf(render(document, paper=paper), paper=paper))).pages[0]
    at = {}

    def note(text, page_matrix, text_matrix, *_):
        for word in ("MCW-VIS-014", "9016", "Sample no."):
            if word in text:
                up = text_matrix[5] * page_matrix[3] + page_matrix[5]
                at[word] = (POINTS[paper][1] - up) * 25.4 / 72

    page.extract_text(visitor_text=note)
    assert at["MCW-VIS-014"] >= 8.0  # letters of 13 pt reach 3.4 mm up, and printers leave 4 mm blank
    assert at["Sample no."] - at["9016"] >= 4.0


STIFF = (
    (
        "lower: 70 Pa·s, target: 100 Pa·s, upper: 130 Pa·s",
        "lower: 50000 Pa·s, target: 65000 Pa·s, upper: 80000 Pa·s",
    ),
    ("spring: R,", "spring: 8R,"),
    ("speed: 5 rpm", "speed: 0.1 rpm"),
    ("increment: 1 Pa·s", "increment: 1000 Pa·s"),
)
THIN = (
    (
        "lower: 20.0 Pa·s, target: 25.0 Pa·s, upper: 30.0 Pa·s",
        "lower: 0.40 mPa·s, target: 0.50 mPa·s, upper: 0.60 mPa·s",
    ),
    ("spring: R,", "spring: L,"),
    ("spindle: chamber-11.8", "spindle: coaxial-25.1"),
    ("container: chamber-19", "container: adapter-27.6"),
    ("volume: 8.0 mL ± 0.2 mL", "volume: 16.0 mL ± 0.2 mL"),
    ("unit: Pa·s, increment: 0.1 Pa·s", "unit: mPa·s, increment: 0.01 mPa·s"),
    ("speed: 5 rpm", "speed: 200 rpm"),
    ("fluid: REF-30000", "fluid: REF-5"),
)
BOILING = (
    ("target: 20.0 °C ± 0.5 °C", "target: 100.0 °C ± 1.5 °C"),
    ("start: 35 °C", "start: 22 °C"),
)
SPEEDS = (
    (
        "  - {name: viscosity_20, speed: 20 rpm, read: {after: 60 s}}",
        "\n".join(
            f"  - {{name: viscosity_{n}, speed: {n} rpm, read: {{after: 60 s}}}}" for n in (20, 30, 35)
        ),
    ),
)


def running_over(html, paper):
    """List the words that stand outside the cell of the table they belong to, with by how much (mm)."""
    from weasyprint import CSS, HTML

    style = CSS(string=f"{printing._margins()}@page {{ size: {paper.lower()} }}")
    found = []
    for page in HTML(string=html).render(stylesheets=[style]).pages:
        for cell in page._page_box.descendants():
            if type(cell).__name__ == "TableCellBox":
                edge = cell.position_x + cell.border_width()
                found.extend(
                    (text.text, (text.position_x + text.width - edge) * 25.4 / 96)
                    for text in cell.descendants()
                    if type(text).__name__ == "TextBox" and text.position_x + text.width > edge + 0.5
                )
    return found


@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("kind", PLANS)
@pytest.mark.parametrize(
    ("method", "changes"),
    [
        ("LMT-VIS-021", STIFF),
        ("QAP-VIS-002", THIN),
        ("TGF-VIS-003", BOILING),
        ("MCW-VIS-014", LONG),
        ("MCW-VIS-014", SPEEDS),
    ],
)
def test_no_number_runs_out_of_its_cell(compiled, kind, method, changes, paper):
    one = compiled(method, *changes)
    document = PLANS[kind](one.method, one.figures, digest(one.method))
    assert [] == running_over(render(document, paper=paper), paper)


@pytest.mark.parametrize("paper", POINTS)
@pytest.mark.parametrize("bench", ["bench-1", "bench-2", "bench-5"])
def test_no_name_runs_out_of_its_cell_on_a_wall_card(reference, bench, paper):
    assert [] == running_over(render(wall_card(reference, bench), paper=paper), paper)


def test_with_four_speeds_the_figures_still_have_a_column_to_read(compiled):
    one = compiled("MCW-VIS-014", *SPEEDS)
    html = render(plan_data_sheet(one.method, one.figures, digest(one.method)), paper="A4")
    pages = [text_of(page) for page in pypdf.PdfReader(io.BytesIO(pdf(html))).pages]
    assert 3 == len(pages)
    assert "Largest range allowed" in pages[0]  # the last but one of the figures: none is broken word by word


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
