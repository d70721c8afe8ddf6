"""Lines, lack of fit and curvature against scipy and numpy."""

import math

import numpy as np
import pytest
from scipy import stats

from fillmark.physics import regression as r

DRAW = np.random.default_rng(3)
X = np.repeat([21.0, 22.0, 23.0, 24.0, 25.0], 3)
Y = 2.3 - 0.03 * X + DRAW.normal(0, 0.004, X.size)


def test_a_line_against_scipy():
    expected = stats.linregress(X, Y)
    found = r.line(x=X.tolist(), y=Y.tolist(), at=23.0)
    assert expected.slope == pytest.approx(found.slope)
    assert expected.stderr == pytest.approx(found.slope_sd)
    assert expected.intercept + 23 * expected.slope == pytest.approx(found.value)
    # Standard error at 23 by numpy's covariance matrix.
    _, covariance = np.polyfit(X - 23.0, Y, 1, cov=True)
    assert math.sqrt(covariance[1, 1]) == pytest.approx(found.value_sd)
    assert stats.t.ppf(0.975, 13) * found.slope_sd == pytest.approx(
        r.half_width(sd=found.slope_sd, degrees=13)
    )


def test_a_line_far_from_nothing_loses_no_digits():
    found = r.line(x=[1e9, 1e9 + 1, 1e9 + 2, 1e9 + 3], y=[1e9, 1e9 + 2, 1e9 + 4, 1e9 + 6])
    assert 2.0 == found.slope
    assert 0.0 == found.residual_sd


def full_and_reduced(full: np.ndarray, reduced: np.ndarray) -> tuple[float, float]:
    """Compare two linear models by their squares: F and its probability, with numpy and scipy."""
    squares = [((Y - m @ np.linalg.lstsq(m, Y, rcond=None)[0]) ** 2).sum() for m in (full, reduced)]
    above, below = full.shape[1] - reduced.shape[1], Y.size - full.shape[1]
    f = (squares[1] - squares[0]) / above / (squares[0] / below)
    return f, stats.f.sf(f, above, below)


def test_lack_of_fit_as_a_comparison_of_models():
    line = np.column_stack([np.ones_like(X), X - 23])
    means = (X[:, None] == np.unique(X)[None, :]).astype(float)
    f, probability = full_and_reduced(means, line)
    found = r.lack_of_fit(x=X.tolist(), y=Y.tolist())
    assert (f, 3, 10, probability) == pytest.approx(tuple(found))


def test_curvature_as_a_comparison_of_models():
    line = np.column_stack([np.ones_like(X), X - 23])
    f, probability = full_and_reduced(np.column_stack([line, (X - 23) ** 2]), line)
    found = r.curvature(x=X.tolist(), y=Y.tolist())
    assert (f, 1, 12, probability) == pytest.approx(tuple(found))


def test_where_there_is_nothing_to_judge_by():
    assert None is r.lack_of_fit(x=[1, 2, 3], y=[1, 2, 4])
    assert None is r.lack_of_fit(x=[1, 1, 2, 2], y=[1, 2, 4, 5])
    assert None is r.curvature(x=[1, 2, 3], y=[1, 2, 4])
    assert None is r.curvature(x=[1, 1, 2, 2], y=[1, 2, 4, 5])


def test_repeats_that_agree_to_the_last_digit():
    bent = r.lack_of_fit(x=[1, 1, 2, 2, 3, 3], y=[1, 1, 2, 2, 1, 1])
    assert (math.inf, 0.0) == (bent.f, bent.probability)
    straight = r.lack_of_fit(x=[1, 1, 2, 2, 3, 3], y=[1, 1, 2, 2, 3, 3])
    assert (0.0, 1.0) == (straight.f, straight.probability)


@pytest.mark.parametrize(
    ("x", "y"), [([1, 2], [1, 2]), ([1, 1, 1], [1, 2, 3]), ([1, 2, 3], [1, 2, math.nan]), ([1, 2, 3], [1, 2])]
)
def test_no_line_through_too_little(x, y):
    with pytest.raises(ValueError, match="needs"):
        r.line(x=x, y=y)
