"""The chart of a study: values at their places, names beside them, nothing outside the field."""

import pytest

from fillmark.documents.study_chart import HEIGHT, LEFT, RIGHT, TOP, WIDTH, Run, study_chart


def chart(runs, **more):
    return study_chart(name="c", title="t", x="x", y="y", runs=runs, **more)


def test_nothing_is_drawn_of_nothing():
    assert None is chart([])
    assert None is chart([Run("a", joined=True, points=())])


@pytest.mark.parametrize("points", [((1, 1),), ((0, 5), (0, 5)), ((1, 2), (1000, -3)), ((-1, 0), (1, 0))])
@pytest.mark.parametrize("joined", [True, False])
def test_every_value_is_within_the_field(points, joined):
    picture = chart([Run("a", joined=joined, points=points)], levels=[("limit", 7.0)])
    for stroke in picture.strokes:
        for run in stroke.runs:
            for x, y in run:
                assert LEFT - 1.5 <= x <= WIDTH - RIGHT + 3
                assert TOP - 1.5 <= y <= HEIGHT


def test_a_wide_axis_is_logarithmic():
    # Halfway between 1 and 100 on a logarithmic axis is 10.
    picture = chart([Run("a", joined=True, points=((1, 0), (10, 1), (100, 2)))])
    [curve] = [s for s in picture.strokes if s.kind == "curve"]
    [(first, middle, last)] = curve.runs
    assert (first[0] + last[0]) / 2 == pytest.approx(middle[0])


def test_names_stand_where_numbers_would():
    picture = chart([Run("a", joined=False, points=((1, 0), (2, 1)))], ticks=[(1.0, "North"), (2.0, "South")])
    assert {"North", "South"} <= {label.text for label in picture.labels}


def test_two_runs_of_points_differ_by_shape_and_are_named():
    picture = chart(
        [
            Run("product", joined=False, points=((1, 0), (2, 1))),
            Run("fluid", joined=False, points=((1, 0.5),)),
        ]
    )
    assert ["dot", "dot", "target"] == [s.kind for s in picture.strokes if s.kind in ("dot", "target")]
    assert any(label.text == "filled: product; open: fluid" for label in picture.labels)


def test_names_that_find_no_room_give_way_to_their_numbers():
    names = [f"Laboratory {n} of the round" for n in range(1, 41)]
    run = Run("h", joined=False, points=tuple((float(n), 0.0) for n in range(1, 41)))
    picture = chart([run], ticks=[(float(n), name) for n, name in enumerate(names, 1)])
    texts = {label.text for label in picture.labels}
    assert {"1", "3", "39", "x, by its row in the table"} <= texts
    assert not [t for t in texts if t.startswith("L")]
