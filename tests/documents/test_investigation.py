"""The out-of-specification sheet: causes by size, what can explain a deviation and what visibly cannot."""

import pytest

from fillmark.build import slips
from fillmark.digest import digest
from fillmark.documents.investigation import HEIGHT, MOST_CAUSES, WIDTH, _x, axis, strip
from fillmark.documents.slips import Slip
from fillmark.forms import plan_form
from fillmark.misuse import misuse_budget


@pytest.fixture(scope="module")
def sheet(compiled):
    def plan(method, *changes, **more):
        one = compiled(method, *changes)
        mark = digest(one.method)
        return plan_form(
            "investigation", one.method, one.figures, mark, slips(one.method, one.figures), **more
        )

    return plan


def causes(look, document):
    (table,) = (b for b in look.blocks(document, "table") if b.name == "causes")
    return table.rows[1:]  # the first is the scale


def reach(stroke):
    xs = [x for run in stroke.runs for x, _ in run]
    return min(xs), max(xs)


def crossed(drawn, deviation):
    """Whether a line at a deviation (%) crosses a bar or an arrow of a strip."""
    at = _x(deviation)
    marks = [reach(s) for s in drawn.strokes if s.kind in ("cause", "cause-open", "arrow")]
    return any(low - 0.05 <= at <= high + 0.05 for low, high in marks)


def test_every_slip_of_the_budget_stands_on_it_once(sheet, look, compiled, demo):
    one = compiled(demo)
    step = next(s for s in one.method.run if one.method.limit(s.name) is not None)
    document = sheet(demo)
    listed = [look.words(row[0]).removesuffix(" *") for row in causes(look, document)]
    boxes = [b for b in look.blocks(document, "box") if b.title.startswith("CANNOT")]
    cannot = [look.words(point) for box in boxes for point in box.points]
    whats = [slip.what for slip in misuse_budget(one.method, one.figures, step)]
    assert sorted(look.everything(w) for w in whats) == sorted(
        w.replace("\u202f", " ") for w in (*listed, *cannot)
    )
    assert len(listed) <= MOST_CAUSES


def test_the_sizes_are_those_of_the_misuse_budget_and_fall(sheet, look):
    rows = causes(look, sheet("MCW-VIS-014"))
    by_what = {look.words(row[0]): look.words(row[1]) for row in rows}
    # By hand: 2.0 %/K; 1 % of scale at 40 and 60 % of torque; spring 2R has twice the torque of R.
    assert "-2.0 %" == by_what["Sample 1 K too warm"]
    assert "+1.7 to +2.5 %" == by_what["Zero off by +1 % of scale"]
    assert "+100 %" == by_what["Spring 2R keyed in, or its factor used *"]
    assert "low" == by_what["Air bubble under the disc"]
    sizes = [
        max(abs(float(part)) for part in text.removesuffix(" %").lstrip("±").split(" to "))
        for text in by_what.values()
        if "%" in text
    ]
    assert sorted(sizes, reverse=True) == sizes


def test_three_kelvin_can_explain_twelve_percent_and_a_bubble_cannot(sheet, look):
    drawn = {look.words(row[0]): row[2] for row in causes(look, sheet("MCW-VIS-014"))}
    assert crossed(drawn["Sample 1 K too cold"], 12)  # six kelvin of it
    assert not crossed(drawn["Sample 1 K too warm"], 12)
    assert not crossed(drawn["Air bubble under the disc"], 12)
    assert crossed(drawn["Air bubble under the disc"], -12)
    # What has one size explains that size alone: 100 %, and neither 12 nor 300.
    spring = drawn["Spring 2R keyed in, or its factor used *"]
    assert [False, True, False] == [crossed(spring, deviation) for deviation in (12, 100, 300)]


def test_a_strip_is_to_scale_and_inside_its_cell():
    places = [_x(v) for v in (-200, -95, -10, -1, 0, 1, 10, 100, 800, 5000)]
    assert sorted(places) == places
    assert WIDTH / 2 == places[4]
    assert (places[0], places[-1]) == (places[1], places[-2])  # held at the ends
    slip = Slip("x", "x", "low", "computed", (), "", "", "", range=(-60.0, -40.0), grows=True)
    drawn = strip(slip)
    (bar,) = (s for s in drawn.strokes if s.kind == "cause")
    assert (_x(-60.0), _x(-40.0)) == pytest.approx(reach(bar))
    for stroke in (*drawn.strokes, *axis().strokes):
        assert reach(stroke)[0] >= 0
        assert reach(stroke)[1] <= WIDTH
    assert HEIGHT == drawn.height


def test_what_is_near_nil_from_memory_explains_nothing(sheet, look):
    # R5's coefficient holds with and without the guard; R2's does not.
    assert "Guard left off" not in [look.words(r[0]) for r in causes(look, sheet("MCW-VIS-014"))]
    assert "Guard left off" in [look.words(r[0]) for r in causes(look, sheet("BBM-VIS-007"))]


def test_hold_no_averaging_retest_rules_and_two_verifications(sheet, look):
    document = sheet("MCW-VIS-014")
    text = look.everything(document)
    for words in (
        "HOLD the lot",
        "Nothing is averaged with a result that is out",
        "how many retests",
        "Draw the observed deviation",
    ):
        assert words in text, words
    verified = [s for s in look.steps(document) if s.key.startswith("step-oos-verify")]
    assert ["step-oos-verify-before", "step-oos-verify-after"] == [s.key for s in verified]
    assert ["48.5–51.5 %"] * 2 == [look.words(s.limit) for s in verified]
    assert all("9.7–10.3 Pa·s" in look.words(s.text) for s in verified)
    assert any("Turning parts" in look.words(c.text) for c in verified[0].cautions)
    causes_step = look.step(document, "Go through the causes")
    assert verified[0].number < causes_step.number < verified[1].number


def test_reading_a_thixotropic_loading_again_is_no_retest(sheet, look):
    words = "measuring the same loading again is no retest"
    assert words in look.everything(sheet("MCW-VIS-014"))
    assert words in look.everything(sheet("LMT-VIS-021"))
    assert words not in look.everything(sheet("BBM-VIS-007"))


def test_a_hazard_is_warned_of_before_the_loading_is_touched(sheet, look):
    step = look.step(sheet("BBM-VIS-007"), "Keep the loading")
    assert any("Alkali" in look.words(c.text) for c in step.cautions)


def test_without_a_reference_fluid_the_check_of_the_day_is_asked_for(sheet, look, edited):
    text = edited("TGF-VIS-003").decode()
    block = text[text.index("verification:") : text.index("report:")]
    keys = [s.key for s in look.steps(sheet("TGF-VIS-003", (block, "")))]
    assert "step-oos-verify-before-plain" in keys
    assert "step-oos-verify-after-plain" in keys
