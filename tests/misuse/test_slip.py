"""From the shift to the verdict: which batches change sides, worked out by hand."""

from math import inf

import pytest

from fillmark.misuse import in_words, spread

PAINT = ("MCW-VIS-014", "viscosity_20")
STARCH = ("BBM-VIS-007", "viscosity_50")
UPPER_ONLY = (
    "lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s, decision_rule: simple}",
    "upper: 12.0 Pa·s, one_sided: true, decision_rule: simple}",
)


def spans(slip):
    v = slip.verdict
    return [v.bad_low, v.good_low, v.good_high, v.bad_high]


def near(expected):
    return [None if e is None else pytest.approx(e, rel=1e-6) for e in expected]


@pytest.mark.parametrize(
    ("key", "at_limits", "expected"),
    [
        # reads 0.98 of the truth: passes where 8 <= 0.98 η <= 12
        ("temperature.warm", ("no", "yes", "no", "yes"), [None, (8, 8 / 0.98), None, (12, 12 / 0.98)]),
        # reads 1.02 of it
        ("temperature.cold", ("yes", "no", "yes", "no"), [(8 / 1.02, 8), None, (12 / 1.02, 12), None]),
        # reads 0.2 Pa·s more: 7.8 to 11.8
        ("zero.high", ("yes", "no", "yes", "no"), [(7.8, 8), None, (11.8, 12), None]),
        ("zero.low", ("no", "yes", "no", "yes"), [None, (8, 8.2), None, (12, 12.2)]),
        # reads twice the truth: passes from 4 to 6, so that no good batch does
        ("spring-keyed.2R", ("no", "yes", "yes", "no"), [(4, 6), (8, 12), (8, 12), None]),
        # half of it: 16 to 24
        ("spring-mounted.2R", ("no", "yes", "yes", "no"), [None, (8, 12), (8, 12), (16, 24)]),
        # half of it too, but at 20 Pa·s the torque itself is at 100 %
        ("spindle-keyed.R4", ("no", "yes", "yes", "no"), [None, (8, 12), (8, 12), (16, 20)]),
        # eight times: nothing passes, for 1 to 1.5 Pa·s is under 10 % torque
        ("spring-keyed.8R", ("no", "yes", "yes", "no"), [None, (8, 12), (8, 12), None]),
        # within the tolerance either may happen
        (
            "temperature.edge", ("may", "may", "may", "may"),
            [(8 / 1.01, 8), (8, 8 / 0.99), (12 / 1.01, 12), (12, 12 / 0.99)],
        ),
    ],
)  # fmt: skip
def test_which_batches_change_sides(slip, key, at_limits, expected):
    found = slip(key, *PAINT)
    assert at_limits == found.verdict.at_limits
    assert near(expected) == spans(found)


def test_a_range_from_nil_may_do_it(slip):
    found = slip("guard.off", *STARCH)
    assert ("no", "may", "no", "may") == found.verdict.at_limits
    # 0.3/0.8 and 0.5/0.8
    assert near([None, (0.3, 0.375), None, (0.5, 0.625)]) == spans(found)


def test_a_range_is_followed_between_its_ends(slip):
    # Run at 20 rpm for 10: index 0 halves what is read, index 1 leaves it and goes off the scale at 11 Pa·s.
    # Both ends fail a batch just inside the upper limit; an index between them does not.
    found = slip("speed.faster", "TGF-VIS-003", "viscosity_10")
    assert ("no", "may", "may", "may") == found.verdict.at_limits


def test_what_is_under_a_twentieth_of_a_percent_moves_nobody(slip):
    found = slip("read.early", *PAINT)
    assert [None] * 4 == spans(found)


def test_one_limit_is_judged_alone(slip):
    found = slip("zero.low", *PAINT, UPPER_ONLY)
    assert ["upper"] == [e.at for e in found.effects]
    assert ("no limit", "no limit", "no", "yes") == found.verdict.at_limits
    assert near([None, None, None, (12, 12.2)]) == spans(found)


def test_below_one_upper_limit_a_bound_still_passes(slip):
    # 12 Pa·s on spring 8R is 7.5 % torque: reported as a bound, which lies under the limit
    found = slip("spring-mounted.8R", *PAINT, UPPER_ONLY)
    assert "low" == found.direction
    assert near([None, None, None, (12, 96)]) == spans(found)


def test_a_bound_on_the_wrong_side_decides_nothing(slip):
    # Counted as spring L the scale ends at 1.9 Pa·s: "above 1.9" does not say that a batch is above 8.
    lower_only = (UPPER_ONLY[0], "lower: 8.0 Pa·s, one_sided: true, decision_rule: simple}")
    assert near([None, (8, inf), None, None]) == spans(slip("spring-keyed.L", *PAINT, lower_only))
    # Counted as spring 8R it begins at 16 Pa·s: "below 16" does not say that a batch is below 12.
    assert near([None, None, (0, 12), None]) == spans(slip("spring-keyed.8R", *PAINT, UPPER_ONLY))


def test_a_step_that_counts_through_a_ratio_has_shifts_and_no_verdict(budget):
    rows = budget("MCW-VIS-014", "viscosity_2")
    assert {None} == {s.verdict for s in rows}
    # limits that follow from the ratio: 44 to 96 Pa·s, 22 and 48 %
    zero = next(s for s in rows if s.key == "zero.high")
    assert [100 / 22, 100 / 35, 100 / 48] == pytest.approx([e.shift[0] for e in zero.effects])


def test_a_step_without_limits_is_looked_at_in_the_middle_of_the_scale(compiled):
    from fillmark.misuse import misuse_budget

    c = compiled(
        "MCW-VIS-014",
        ("  - {result: index, lower: 5.5, upper: 8.0, decision_rule: simple}\n", ""),
        ("  - {result: index, ratio: [viscosity_2, viscosity_20], statistic: mean, increment: 0.1, rounding: ", "#"),
    )  # fmt: skip
    rows = misuse_budget(c.method, c.figures, c.method.step("viscosity_2"))
    zero = next(s for s in rows if s.key == "zero.high")
    assert [("half", 100.0, 2.0)] == [(e.at, e.viscosity, pytest.approx(e.shift[0])) for e in zero.effects]


def test_words_for_a_batch(compiled, slip):
    m = compiled(PAINT[0]).method
    step = m.step("viscosity_20")
    assert "Good batches from 8 to 8.16 Pa·s fail, bad batches from 12 to 12.2 Pa·s pass." == in_words(
        m, step, slip("temperature.warm", *PAINT)
    )
    assert "Good batches from 8 to 12 Pa·s fail." == in_words(m, step, slip("spring-keyed.8R", *PAINT))
    assert "" == in_words(m, step, slip("read.early", *PAINT))
    assert "may fail" in in_words(m, step, slip("container.wider", *PAINT))


def test_close_ends_are_written_apart(compiled, slip):
    # 0.094 % of 300 and 500 mPa·s
    m = compiled(STARCH[0]).method
    words = in_words(m, m.step("viscosity_50"), slip("immersion.deep", *STARCH))
    assert "Good batches from 499.5 to 500 mPa·s fail, bad batches from 299.7 to 300 mPa·s pass." == words


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (-2.0, -2.0, "-2.0 %"),
        (2.5, 2.5, "+2.5 %"),
        (-1.0, 1.0, "±1.0 %"),
        (-20.0, 0.0, "-20 to 0 %"),
        (-2.5, -1.6667, "-2.5 to -1.7 %"),
        (700.0, 700.0, "+700 %"),
        (99.96, 99.96, "+100 %"),
        (-1e-12, 1e-12, "0 %"),
        (-0.04, -0.04, "0 %"),
    ],
)
def test_shifts_as_people_say_them(low, high, expected):
    assert expected == spread(low, high)
