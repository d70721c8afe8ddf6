"""The charts: curves and marks stand where their numbers say, on a linear and on a logarithmic axis."""

import numpy as np
import pytest

from fillmark.derive.curves import curves
from fillmark.documents.charts import (
    BOTTOM,
    HEIGHT,
    LEFT,
    TOP,
    Frame,
    conditioning_chart,
    decades,
    round_steps,
    temperature_chart,
)
from fillmark.documents.wording import Phrases
from fillmark.figures import Curves

PAINT, GEL, STARCH, SAUCE = "MCW-VIS-014", "QAP-VIS-002", "BBM-VIS-007", "TGF-VIS-003"


@pytest.fixture(scope="module")
def charts(compiled):
    def draw(method, *changes):
        one = compiled(method, *changes)
        phrases = Phrases(one.method.reference.phrases)
        found = curves(one.method, one.figures)
        return (
            one,
            conditioning_chart(one.method, one.figures, found, phrases),
            temperature_chart(one.method, found, phrases),
        )

    return draw


def strokes(picture, kind):
    return [s for s in picture.strokes if s.kind == kind]


def field(picture):
    ((left, top), _, (right, foot), _) = strokes(picture, "field")[0].runs[0]
    return left, top, right, foot


def numbers(picture):
    """Give the numbers of the axes with their places: across, and up."""
    _, _, _, foot = field(picture)
    small = [label for label in picture.labels if label.size < 2.5]
    value = lambda text: float(text.replace("\u2212", "-"))  # noqa: E731
    return (
        [(value(n.text), n.x) for n in small if n.y > foot + 2],
        [(value(n.text), n.y - 0.8) for n in small if n.y <= foot + 2],
    )


def test_time_runs_evenly_and_marks_stand_at_their_minutes(charts):
    one, picture, _ = charts(PAINT)
    across, _ = numbers(picture)
    minutes, places = zip(*across, strict=True)
    line = np.polyfit(minutes, places, 1)
    assert np.polyval(line, minutes) == pytest.approx(places, abs=0.02)
    assert np.polyval(line, 210) == pytest.approx(strokes(picture, "given")[0].runs[0][0][0], abs=0.02)
    need = one.figures["conditioning.needed"].value / 60
    assert np.polyval(line, need) == pytest.approx(strokes(picture, "needed")[0].runs[0][0][0], abs=0.02)


def test_the_missing_kelvin_stand_on_a_logarithmic_axis(charts):
    one, picture, _ = charts(PAINT)
    _, up = numbers(picture)
    line = np.polyfit(np.log10([y for y, _ in up]), [place for _, place in up], 1)
    tolerance, share = (s.runs[0][0][1] for s in strokes(picture, "across"))
    assert np.polyval(line, np.log10([0.5, 0.125])) == pytest.approx([tolerance, share], abs=0.02)
    residual = one.figures["conditioning.residual"].value
    ys = [y for _, y in strokes(picture, "target")[0].runs[0]]
    assert np.polyval(line, np.log10(residual)) == pytest.approx((min(ys) + max(ys)) / 2, abs=0.02)


def test_the_curve_crosses_the_share_at_the_time_needed(charts):
    _, picture, _ = charts(SAUCE)
    share = strokes(picture, "across")[1].runs[0][0][1]
    curve = strokes(picture, "curve")[0].runs[0]
    xs, ys = zip(*curve, strict=True)
    assert np.interp(share, ys, xs) == pytest.approx(strokes(picture, "needed")[0].runs[0][0][0], abs=0.1)


def test_product_and_fluid_fall_by_their_sensitivities(charts):
    one, _, picture = charts(STARCH)  # 3 %/K and a fluid of 2 %/K, 38 ± 1 °C
    across, up = numbers(picture)
    to_y = np.polyfit([y for y, _ in up], [p for _, p in up], 1)
    to_x = np.polyfit([x for x, _ in across], [p for _, p in across], 1)
    for kind, sensitivity in (("curve", 3.0), ("curve-fluid", 2.0)):
        end = strokes(picture, kind)[0].runs[0][-1]
        assert np.polyval(to_x, 2.0) == pytest.approx(end[0], abs=0.02)
        assert np.polyval(to_y, -sensitivity * 2) == pytest.approx(end[1], abs=0.02)
    band = strokes(picture, "band")[0].runs[0]
    assert np.polyval(to_x, [-1.0, 1.0]) == pytest.approx([band[0][0], band[2][0]], abs=0.02)
    assert "3.0 %/K" in picture.description.replace("\u00a0", " ")
    assert one.method.product.name in picture.description


@pytest.mark.parametrize(
    ("method", "changes"),
    [
        (PAINT, ()),
        (GEL, ()),
        (STARCH, ()),
        (SAUCE, ()),
        (SAUCE, (("time: 180 min", "time: 30 min"),)),
        (SAUCE, (("time: 180 min", "time: 40 h"),)),
        (
            SAUCE,
            (
                (
                    "name: Damson & Chilli table sauce",
                    "name: A name as long as names of products sometimes are",
                ),
            ),
        ),
        (STARCH, (("temperature_sensitivity: 3.0 %/K", "temperature_sensitivity: 0.001 %/K"),)),
        (STARCH, (("temperature_sensitivity: 3.0 %/K", "temperature_sensitivity: 40 %/K"),)),
    ],
)
def test_labels_never_collide_and_nothing_leaves_the_field(charts, clear, method, changes):
    _, *drawn = charts(method, *changes)
    for picture in drawn:
        if picture is None:
            continue
        assert [] == clear(picture)
        left, top, right, foot = field(picture)
        for kind in ("curve", "curve-fluid", "across", "given", "needed", "band"):
            for stroke in strokes(picture, kind):
                for x, y in stroke.runs[0]:
                    assert left - 1e-6 <= x <= right + 1e-6, kind
                    assert top - 1e-6 <= y <= foot + 1e-6, kind


def test_without_points_there_is_no_chart(compiled):
    one = compiled(STARCH)  # no conditioning
    phrases = Phrases(one.method.reference.phrases)
    assert conditioning_chart(one.method, one.figures, Curves(), phrases) is None
    assert temperature_chart(one.method, Curves(), phrases) is None


def test_a_mark_under_the_chart_is_not_drawn_at_its_edge(charts):
    _, picture, _ = charts(SAUCE, ("time: 180 min", "time: 40 h"))
    assert [] == strokes(picture, "target")


def test_steps_of_an_axis_are_round():
    assert [0, 50, 100, 150, 200, 250] == round_steps(0, 262.5, 8)
    assert [-0.2, -0.1, 0.0, 0.1, 0.2] == pytest.approx(round_steps(-0.2, 0.2, 5))
    assert [0.01, 0.1, 1, 10, 100] == pytest.approx(decades(0.01, 150))
    assert [0.1, 0.2, 0.5, 1, 2, 5] == pytest.approx(decades(0.07, 5.75))


def test_a_place_on_a_logarithmic_frame():
    frame = Frame(100.0, (0.0, 10.0), (0.1, 10.0), logarithmic=True)
    x, y = frame.place(5.0, 1.0)
    assert (LEFT + 100.0) / 2 == pytest.approx(x)
    assert (TOP + HEIGHT - 9.0) / 2 == pytest.approx(y)


@pytest.mark.parametrize("logarithmic", [False, True])
def test_places_are_those_of_a_plotting_library(logarithmic):
    """The same axes in matplotlib, one unit of the figure a millimetre, put every pair at the same place."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    frame = Frame(right=92.0, x=(0.0, 240.0), y=(0.02, 8.0), logarithmic=logarithmic)
    width, foot = 100.0, HEIGHT - BOTTOM
    figure = Figure(figsize=(width / 25.4, HEIGHT / 25.4), dpi=25.4)  # so that a pixel is a millimetre
    FigureCanvasAgg(figure)
    box = (LEFT / width, BOTTOM / HEIGHT, (frame.right - LEFT) / width, (foot - TOP) / HEIGHT)
    axes = figure.add_axes(box, xlim=frame.x, ylim=frame.y, yscale="log" if logarithmic else "linear")
    for pair in ((0, 0.02), (240, 8), (60, 0.5), (117, 3.3), (239, 0.021)):
        across, up = axes.transData.transform(pair)
        assert (across, HEIGHT - up) == pytest.approx(frame.place(*pair), abs=1e-6)
