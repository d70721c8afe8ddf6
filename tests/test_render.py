"""The HTML: everything of the plan is on it, in order; what an author wrote is inert; it stands alone."""

import re
from html.parser import HTMLParser

import pytest
import zxingcpp
from PIL import Image, ImageDraw

from fillmark.digest import digest
from fillmark.documents.checklist import plan_checklist
from fillmark.documents.data_sheet import plan_data_sheet
from fillmark.render import in_rows, markdown, render, square_code

DEMOS = ("BBM-VIS-007", "LMT-VIS-021", "MCW-VIS-014", "QAP-VIS-002", "TGF-VIS-003")
VOID = {"meta", "path", "col", "br", "link", "img", "input"}


class Reader(HTMLParser):
    """Reads a page as a person would: text in order, and which tags with which attributes there are."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict]] = []
        self.pieces: list[str] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attrs):
        """Note a tag with its attributes."""
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        """Close the tag that was opened last."""
        if tag not in VOID:
            assert tag == self.open.pop(), "tags close in the order they were opened"

    def handle_data(self, data):
        """Keep what is read, style sheets left out."""
        if "style" not in self.open:
            self.pieces.append(data)

    @property
    def text(self) -> str:
        """Give all that is read, with single spaces."""
        return " ".join("".join(self.pieces).split()).replace("\u202f", " ")


@pytest.fixture(scope="module")
def checklist(compiled):
    def make(method, *changes, paper="A4"):
        one = compiled(method, *changes)
        document = plan_checklist(one.method, one.figures, digest(one.method))
        return document, render(document, paper=paper)

    return make


def steps_of(document):
    blocks = [b for side in document.sides for section in side.sections for b in section.blocks]
    return [step for b in blocks if b.kind == "steps" for step in b.steps]


def plain(text):
    return " ".join("".join(span.text for span in text).split()).replace("\u202f", " ")


ALSO = [
    ("BBM-VIS-007", (", confirm_outside: true", "")),
    ("TGF-VIS-003", ("each: new-loading", "each: re-read")),
    ("QAP-VIS-002", ("count: 3", "count: 4")),
]
"""One value column, a single loading read twice, four columns."""


@pytest.mark.parametrize(("method", "change"), [*((m, None) for m in DEMOS), *ALSO])
def test_every_step_of_the_plan_is_on_the_page_once_and_in_order(checklist, method, change):
    document, html = checklist(method, *([change] if change else []))
    page = Reader(html)
    assert [] == page.open
    at = 0
    for step in steps_of(document):
        words = plain(step.text) or " ".join(re.sub(r"[*_`]", "", step.author).split())
        for caution in step.cautions:
            at = page.text.index(plain(caution.text), at)
        at = page.text.index(f"{step.number} {words}", at)
        for more in (step.limit, step.remark):
            if more:
                assert plain(more) in page.text[at : at + 400]


@pytest.mark.parametrize("method", DEMOS)
def test_a_caution_and_its_step_are_one_group_that_does_not_break(checklist, method):
    document, html = checklist(method)
    groups = re.findall(r'<tbody class="step">(.*?)</tbody>', html, re.DOTALL)
    protected = [step for step in steps_of(document) if step.cautions]
    with_cautions = [Reader(f"<table>{g}</table>").text for g in groups if '<tr class="caution">' in g]
    assert len(protected) == len(with_cautions)
    for step, group in zip(protected, with_cautions, strict=True):
        assert f"{step.number} " in group
        last = max(group.index(plain(caution.text)) for caution in step.cautions)
        assert last < group.index(f"{step.number} ", last)
    assert re.search(r"\.step \{[^}]*break-inside: avoid", html)


@pytest.mark.parametrize(("method", "change"), [*((m, None) for m in DEMOS), *ALSO])
def test_every_field_of_the_plan_is_a_place_on_the_page(checklist, method, change):
    document, html = checklist(method, *([change] if change else []))
    wanted = sum(len(step.fields) for step in steps_of(document))
    tables = re.findall(r'<table class="steps.*?</table>', html, re.DOTALL)
    assert wanted == sum(table.count('<td class="value"') for table in tables)
    ticked = sum(not step.fields for step in steps_of(document))
    assert ticked == sum(table.count('<span class="tick">') for table in tables)


@pytest.mark.parametrize("method", DEMOS)
def test_the_data_sheet_has_every_cell_of_its_plan(compiled, method):
    one = compiled(method)
    document = plan_data_sheet(one.method, one.figures, digest(one.method))
    page = Reader(render(document))
    assert [] == page.open
    at = 0
    blocks = [b for side in document.sides for section in side.sections for b in section.blocks]
    for table in (b for b in blocks if b.kind == "table"):
        for row in table.rows:
            for cell in row:
                if isinstance(cell, tuple):
                    at = page.text.index(plain(cell), at)


def test_draft_is_on_the_page_only_when_it_is_one(checklist):
    _, released = checklist("MCW-VIS-014")
    _, draft = checklist("MCW-VIS-014", ("status: released", "status: in-review"))
    assert "DRAFT" not in Reader(released).text
    assert 3 == Reader(draft).text.count("DRAFT")  # once across the pages and in the head of both


@pytest.mark.parametrize("status", ["draft", "in-review"])
def test_what_stands_across_a_page_survives_a_photocopier(checklist, status):
    """A copier makes white of what is lighter than half grey: a draft must not turn into a valid sheet."""
    _, html = checklist("MCW-VIS-014", ("status: released", f"status: {status}"))
    across = re.search(r'<div class="across".*?</div>', html, re.DOTALL)[0]
    (tone,) = re.findall(r'stroke="#([0-9a-f]{3})"', across)
    assert int(2 * tone[0], 16) < 128


def test_on_a_phone_each_place_is_named_and_the_drawing_stands_below(checklist):
    _, html = checklist("MCW-VIS-014")
    assert 2 * html.count('data-label="loading 1"') == html.count("data-label=")
    narrow = html[html.index("@media (max-width") :]
    assert "content: attr(data-label)" in narrow
    assert ".side-by-side { display: block }" in narrow


def test_hold_points_are_told_by_word_and_frame_and_cautions_by_sign_and_word(checklist):
    _, html = checklist("MCW-VIS-014")
    assert ["1", "2"] == re.findall(r"HOLD (\d)</b>", html)
    assert re.search(r"\.hold \{[^}]*border: 1\.4mm solid", html)
    cautions = re.findall(r'<tr class="caution">(.*?)</tr>', html, re.DOTALL)
    assert cautions
    signals = set()
    for caution in cautions:
        signal = re.search(r">(CAUTION|WARNING|NOTICE)</b>", caution)[1]
        # The alert sign goes with harm to people, not with harm to the instrument.
        assert (signal != "NOTICE") == ('<svg class="sign"' in caution)
        signals.add(signal)
    assert {"CAUTION", "NOTICE"} == signals


def test_nothing_is_told_by_colour(checklist):
    _, html = checklist("MCW-VIS-014", ("status: released", "status: draft"))
    for colour in re.findall(r"#[0-9a-f]{3,6}\b", html):
        digits = colour[1:] if len(colour) == 7 else "".join(2 * c for c in colour[1:])
        assert digits[:2] == digits[2:4] == digits[4:], colour


def test_sizes_of_the_style_sheet(checklist):
    """Steps 10 pt, limits 12 pt bold, tick boxes 5 mm, places to write in 8 mm: the least for gloves."""
    _, html = checklist("MCW-VIS-014")

    def size(rule, name):
        return float(re.search(rf"{re.escape(rule)} \{{[^}}]*?\b{name}: ([\d.]+)", html)[1])

    assert size("html", "font") >= 10
    assert size(".limit b", "font-size") >= 12
    assert min(size(".tick", "width"), size(".tick", "height")) >= 5
    assert size(".write td", "height") - size(".step .value", "border") >= 8
    assert size(".results td", "height") - size(".table td", "border") >= 8
    assert size(".entry .room", "height") >= 8
    assert (
        size(
            ".devices .value, .signatures .value, .outcome .value, .readings .value, .verification .value",
            "height",
        )
        >= 8
    )


HOSTILE = (
    "Stir <script>alert(1)</script> <b>now</b> <style>*{display:none}</style> [link](http://example.org/x) "
    "![picture](http://example.org/p.png) <http://example.org> {% raw %} {# note #} &amp; **firmly**."
)


def test_what_an_author_wrote_is_inert(checklist):
    _, html = checklist(
        "MCW-VIS-014",
        ("Stir 30 turns in 30 s with a wide spatula; draw no air in.", HOSTILE),
        ("name: Hearthstone matt wall paint", 'name: "<i>Paint</i> {{7*7}} </title><script>x</script>"'),
    )
    page = Reader(html)
    kinds = {tag for tag, _ in page.tags}
    assert not kinds & {"script", "a", "img", "i", "link", "iframe"}
    assert 2 == html.count("<style")  # our own two
    assert "<script>alert(1)</script>" in page.text
    assert "[link](http://example.org/x)" in page.text
    assert "{% raw %} {# note #}" in page.text
    assert "<strong>firmly</strong>" in html
    assert "<i>Paint</i> {{7*7}} </title><script>x</script>" in page.text


def test_the_page_asks_for_nothing_from_elsewhere(checklist):
    _, html = checklist("MCW-VIS-014")
    for _, attributes in Reader(html).tags:
        assert not {"src", "href", "srcset", "action", "onload", "onclick"} & set(attributes)
    assert "url(" not in html
    assert "@import" not in html


@pytest.mark.parametrize(("paper", "size"), [("A4", "210mm 297mm"), ("Letter", "215.9mm 279.4mm")])
def test_the_paper_size_is_on_the_page(checklist, paper, size):
    assert f"@page {{ size: {size} }}" in checklist("MCW-VIS-014", paper=paper)[1]


def test_another_paper_is_refused(checklist):
    document, _ = checklist("MCW-VIS-014")
    with pytest.raises(KeyError):
        render(document, paper="A5")


def test_language_title_and_window_are_told(checklist):
    _, html = checklist("MCW-VIS-014")
    assert '<html lang="en">' in html
    assert "<title>MCW-VIS-014 rev. 3: Bench checklist</title>" in html
    assert 'name="viewport"' in html


def test_the_square_code_can_be_read_back():
    text = "MCW-VIS-014 rev 3 sha256 " + 8 * "9f3a21c7"
    svg = str(square_code(text))
    side = int(re.search(r'viewBox="0 0 (\d+) \1"', svg)[1])
    scale = 6
    picture = Image.new("L", (side * scale, side * scale), 255)
    draw = ImageDraw.Draw(picture)
    # The path is strokes one module wide: M and m move, h draws to the right.
    x = y = 0.0
    for command, numbers in re.findall(r"([Mmh])([-\d. ]+)", re.search(r' d="([^"]+)"', svg)[1]):
        values = [float(n) for n in re.findall(r"-?[\d.]+", numbers)]
        if command == "h":
            draw.rectangle(
                (x * scale, (y - 0.5) * scale, (x + values[0]) * scale - 1, (y + 0.5) * scale - 1), 0
            )
            x += values[0]
        else:
            x, y = (values[0], values[1]) if command == "M" else (x + values[0], y + values[1])
    (found,) = zxingcpp.read_barcodes(picture)
    assert text == found.text


def test_lists_and_paragraphs_of_an_author_are_set():
    assert "<li>one</li>" in markdown("- one\n- two\n")
    assert "<em>slowly</em>" in markdown("*slowly*")


def test_two_short_ticks_share_a_row_and_a_caution_keeps_its_step_first(checklist):
    document, _ = checklist("MCW-VIS-014")
    for columns in (0, 2, 3):
        for row in in_rows(tuple(steps_of(document)), columns):
            assert all(not step.cautions for step in row[1:])
            assert len(row) == 1 or columns == 0 or not any(step.fields for step in row)
    flat = [step for row in in_rows(tuple(steps_of(document)), 0) for step in row]
    assert steps_of(document) == flat
