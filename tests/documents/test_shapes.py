"""Labels keep clear of each other, and no text is wider than what is reckoned for it."""

from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.documents import Label, Stroke
from fillmark.documents.shapes import box_of, hatch, shortened, spread, text_width, wrapped

FONTS = Path("/usr/share/fonts/truetype/dejavu")
TEXTS = (
    "lower 37.5 %", "target 100.0 %", "upper 6\u202f250\u202f000.0 %", "20 rpm", "0.5 rpm", "surface at the mark",
    "Ø\u00a082.55\u00a0mm inside", "level, spindle in", "92.0–95.8 mm", "≥ 20 mm", "disc Ø 21.14 mm",
    "Barley & Oat hand cream, 2.0 %/K", "WWWWWWWW", "mmmmmm", "fill tilt", "ÄÖÜ äöü ß", "50 000 Pa·s", "± 1 mm",
    "This line is 100 mm long. If not, nothing here is to scale.", "−0.5", "+5", "1\u00a0:\u00a02.5", "a_b_c-d(e)",
)  # fmt: skip


@pytest.mark.pdf
@pytest.mark.parametrize("font", ["DejaVuSansCondensed", "DejaVuSansCondensed-Bold", "DejaVuSans"])
def test_no_text_is_wider_than_reckoned(font):
    from fontTools.ttLib import TTFont

    with TTFont(FONTS / f"{font}.ttf") as face:
        glyphs, widths, unit = face.getBestCmap(), face["hmtx"].metrics, face["head"].unitsPerEm
        for text in TEXTS:
            true = sum(widths[glyphs[ord(sign)]][0] for sign in text) / unit
            assert true <= text_width(text, 1.0), text
            assert text_width(text, 1.0) <= 1.5 * true, text


places = st.floats(-20, 120)
things = st.lists(st.tuples(places, st.floats(0.1, 12)), min_size=1, max_size=7)


@given(things)
def test_what_is_spread_is_parted_and_inside(made):
    wanted, sizes = [w for w, _ in made], [s for _, s in made]
    at = spread(wanted, sizes, 0.0, 100.0, gap=0.5)
    order = sorted(range(len(at)), key=lambda i: at[i])
    for one, other in pairwise(order):
        assert at[other] - sizes[other] / 2 >= at[one] + sizes[one] / 2 + 0.5 - 1e-9
    assert min(a - s / 2 for a, s in zip(at, sizes, strict=True)) >= -1e-9
    assert max(a + s / 2 for a, s in zip(at, sizes, strict=True)) <= 100 + 1e-9
    ranks = sorted(range(len(at)), key=lambda i: wanted[i])
    assert [at[i] for i in ranks] == sorted(at)


def test_what_is_clear_already_stays_where_it_is():
    assert [10.0, 50.0, 30.0] == spread([10.0, 50.0, 30.0], [6.0, 6.0, 6.0], 0.0, 100.0)


def test_two_of_one_place_are_moved_alike():
    assert [46.75, 53.25] == spread([50.0, 50.0], [6.0, 6.0], 0.0, 100.0, gap=0.5)


def test_where_room_lacks_they_are_still_parted():
    assert [5.0, 16.0, 27.0] == spread([1.0, 2.0, 3.0], [10.0, 10.0, 10.0], 0.0, 12.0, gap=1.0)


@pytest.mark.parametrize("rising", [True, False])
def test_a_hatch_stays_in_its_zone(rising):
    drawn = hatch("void", 3.0, 1.0, 12.0, 5.0, step=0.9, rising=rising)
    assert len(drawn.runs) > 8
    for (x1, y1), (x2, y2) in drawn.runs:
        assert 3.0 <= x1 < x2 <= 12.0
        assert 1.0 - 1e-9 <= min(y1, y2)
        assert max(y1, y2) <= 5.0 + 1e-9
        assert x2 - x1 == pytest.approx(abs(y2 - y1))
        assert rising == (y2 < y1)


def test_a_zone_of_no_width_has_no_hatch():
    assert () == hatch("void", 3.0, 1.0, 3.0, 5.0, step=0.9, rising=True).runs


def test_long_words_are_cut_and_long_texts_broken():
    assert ("a word", "and", "another") == wrapped("a word and another", 13.0)
    (cut,) = wrapped("coaxial-cylinder-with-a-very-long-name", 20.0)
    assert cut.endswith("…")
    assert text_width(cut) <= 20.0
    assert "short" == shortened("short", 40.0)


def test_a_path_is_written_short_and_without_minus_nought():
    drawn = Stroke("bar", (((0.0, -0.001), (1.23456, 2.0)), ((3.0, 4.0), (5.0, 6.5))), closed=True)
    assert "M0 0L1.23 2ZM3 4L5 6.5Z" == drawn.d


def test_the_room_of_a_label_follows_its_anchor():
    width = text_width("20 rpm")
    for anchor, left in (("start", 10.0), ("middle", 10.0 - width / 2), ("end", 10.0 - width)):
        assert left == pytest.approx(box_of(Label("20 rpm", 10.0, 5.0, anchor))[0])
