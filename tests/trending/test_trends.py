"""Trends: segments between planted breaks, limits by hand, and nothing averaged that is no value."""

import json
import random
from datetime import datetime, timedelta

import pytest
from scipy import stats

from fillmark.trending.measured import collect
from fillmark.trending.trends import trends

START = datetime(2026, 1, 5, 8, 0)  # noqa: DTZ001 - as a sheet has it


def day(n, hour=0):
    return (START + timedelta(days=n, hours=hour)).isoformat(timespec="minutes")


@pytest.fixture
def follow(tmp_path):
    """Write results and follow them."""

    def write(*results, least=10):
        file = tmp_path / "r.jsonl"
        file.write_text("\n".join(json.dumps(r, ensure_ascii=False) for r in results), encoding="utf-8")
        made, found = trends(collect([file]), least=least)
        return made, found

    return write


@pytest.fixture
def noisy():
    """Give values around 10 with s 0.2."""

    def values(n, seed=1):
        r = random.Random(seed)
        return [10 + r.gauss(0, 0.2) for _ in range(n)]

    return values


@pytest.fixture
def one(follow):
    """Follow results of one method and one result."""

    def write(*results, **more):
        (trend,), found = follow(*results, **more)
        (series,) = trend.series
        return series, found

    return write


CHANGES = {
    "revision": {"method__revision": 4, "method__digest": "b" * 64},
    "digest": {"method__digest": "b" * 64},
    "instrument": {"equipment__instrument__id": "Bench 3"},
    "spring": {"equipment__instrument__spring": "2R"},
    "spindle": {"equipment__spindle__id": "S-52"},
    "guard": {"equipment__guard__state": "not fitted"},
    "container": {"equipment__container__kind": "250 mL jar"},
}


@pytest.mark.parametrize("part", CHANGES)
def test_a_planted_change_is_a_break_and_starts_the_limits_anew(one, result_of, noisy, part):
    before = [result_of(i, v, day(i)) for i, v in enumerate(noisy(12))]
    after = [result_of(i + 12, v + 1, day(i + 12), **CHANGES[part]) for i, v in enumerate(noisy(12, 2))]
    series, _ = one(*before, *after)
    (found,) = series.breaks
    assert (1, 12, [part]) == (found.number, found.at, [p for p, _, _ in found.changes])
    first, second = series.segments
    assert (0, 11, 12, 23) == (first.first, first.last, second.first, second.last)
    assert first.measures["result"].mean == pytest.approx(sum(noisy(12)) / 12)
    assert second.measures["result"].mean == pytest.approx(sum(noisy(12, 2)) / 12 + 1)


def test_results_are_put_in_the_order_of_time_whatever_the_order_of_the_file(one, result_of, noisy):
    values = noisy(30)
    results = [
        result_of(i, v, day(i), **(CHANGES["spindle"] if i >= 15 else {})) for i, v in enumerate(values)
    ]
    random.Random(3).shuffle(results)
    series, _ = one(*results)
    assert values == [p.value for p in series.points]
    assert 1 == len(series.breaks)


def test_limits_are_those_of_the_moving_range_worked_out_by_hand(one, result_of):
    # 10.0 and 10.4 in turn: mean 10.2, mean move 0.4, s = 0.4/1.128 = 0.35461, limits 9.13617 to 11.26383.
    series, _ = one(*(result_of(i, 10.0 + 0.4 * (i % 2), day(i)) for i in range(10)))
    limits = series.segments[0].measures["result"].limits
    assert (10.2, 0.35461, 9.13617, 11.26383) == pytest.approx(limits, abs=1e-5)


def test_with_nine_values_there_are_no_limits_and_it_says_so(one, result_of, noisy):
    series, _ = one(*(result_of(i, v, day(i)) for i, v in enumerate(noisy(9))))
    one_measure = series.segments[0].measures["result"]
    assert one_measure.limits is None
    assert "9 of the 10 values that limits need" == one_measure.why


def test_bounds_and_results_that_do_not_stand_are_counted_and_never_averaged(one, result_of, noisy):
    values = noisy(12)
    results = [result_of(i, v, day(i)) for i, v in enumerate(values)]
    results += [
        result_of(20, 20.0, day(20), bound=">"),
        result_of(21, 2.0, day(21), bound="<"),
        result_of(22, 18.0, day(22), stands=False),
        result_of(23, 10.0, day(23), results__0__kind="none", results__0__value=None),
    ]
    series, _ = one(*results)
    (segment,) = series.segments
    assert (2, 1, 1) == (segment.bounds, segment.void, segment.empty)
    for measure, factor in (("result", 1), ("torque", 5)):
        found = segment.measures[measure]
        assert 12 == found.count
        assert found.mean == pytest.approx(factor * sum(values) / 12)
        assert found.most == pytest.approx(factor * max(values))


def test_a_spike_is_told_with_its_place_and_does_not_move_the_others(one, result_of, noisy):
    values = noisy(40)
    values[25] = 13.0
    series, found = one(*(result_of(i, v, day(i)) for i, v in enumerate(values)))
    signals = series.segments[0].measures["result"].signals
    assert (25, 25, 1) in [(s.first, s.last, s.side) for s in signals if s.rule == "beyond-3s"]
    said = [d for d in found if d.code == "TRD05"]
    assert 1 == len(said)
    assert "result" in said[0].message


def test_a_shift_is_found_by_the_rule_of_eight(one, result_of, noisy):
    values = [v + (0.5 if i >= 20 else 0) for i, v in enumerate(noisy(40))]
    series, _ = one(*(result_of(i, v, day(i)) for i, v in enumerate(values)))
    rules = {s.rule for s in series.segments[0].measures["result"].signals}
    assert "8-one-side" in rules


def test_places_of_signals_count_the_bounds_in_between(one, result_of, noisy):
    values = noisy(20)
    values[15] = 13.0
    results = [result_of(i, v, day(i)) for i, v in enumerate(values)]
    bounds = [result_of(50 + i, 20.0, day(i, 1), bound=">") for i in range(10)]
    series, _ = one(*results, *bounds)
    (spike,) = [s for s in series.segments[0].measures["result"].signals if s.rule == "beyond-3s"]
    assert (25, 13.0) == (spike.first, series.points[spike.first].value)


def test_instruments_that_take_turns_get_a_chart_each(follow, result_of, noisy):
    results = [
        result_of(i, v + (i % 2), day(i), **(CHANGES["instrument"] if i % 2 else {}))
        for i, v in enumerate(noisy(40))
    ]
    (trend,), _ = follow(*results)
    assert ["Bench 2", "Bench 3"] == [s.instrument for s in trend.series]
    assert [1, 1] == [len(s.segments) for s in trend.series]
    means = [s.segments[0].measures["result"].mean for s in trend.series]
    assert means == pytest.approx([10, 11], abs=0.2)


def test_an_instrument_that_was_away_for_a_while_is_two_breaks(one, result_of, noisy):
    results = [
        result_of(i, v, day(i), **(CHANGES["instrument"] if 10 <= i < 20 else {}))
        for i, v in enumerate(noisy(30))
    ]
    series, _ = one(*results)
    assert ["instrument", "instrument"] == [b.changes[0][0] for b in series.breaks]
    assert 3 == len(series.segments)


def test_viscosities_of_two_units_are_one_series_in_the_newer_unit(one, result_of):
    results = [result_of(i, 10.0 + i / 10, day(i)) for i in range(5)]
    results += [
        result_of(i, 10_000.0 + 100 * i, day(i), results__0__unit="mPa·s", results__0__lower=8000.0,
                  results__0__upper=12000.0, results__0__target=None)
        for i in range(5, 10)
    ]  # fmt: skip
    series, _ = one(*results)
    assert "mPa·s" == series.unit
    assert [p.value for p in series.points] == pytest.approx([10_000 + 100 * i for i in range(10)])
    assert series.points[0].limits[:2] == pytest.approx((8000, 12000))


def test_a_ratio_and_a_viscosity_of_one_name_are_two_series(follow, result_of):
    (trend,), _ = follow(
        result_of(1, 10.0, day(1)), result_of(2, 1.2, day(2), results__0__unit=""), result_of(3, 10.0, day(3))
    )
    assert [("Pa·s", 2), ("", 1)] == [(s.unit, len(s.points)) for s in trend.series]


def test_one_revision_with_two_digests_is_told_at_the_first_of_the_later(follow, result_of):
    _, found = follow(
        result_of(1, 10.0, day(1)),
        result_of(2, 10.0, day(2)),
        result_of(3, 10.0, day(3), **CHANGES["digest"]),
    )
    (said,) = [d for d in found if d.code == "TRD06"]
    assert (3, True) == (said.span.line, "revision 3 bear 2 digests" in said.message)


def test_methods_are_kept_apart_and_tallies_are_their_own(follow, result_of):
    finding = [{"code": "EVA01", "slug": "s", "severity": "error"}]
    made, _ = follow(
        result_of(1, 10.0, day(1), findings=finding), result_of(2, 10.0, day(2), method__id="A", findings=finding),
        result_of(3, 10.0, day(3), method__id="A", findings=finding),
    )  # fmt: skip
    assert [("A", 2, 2), ("MCW-VIS-014", 1, 1)] == [(t.method, t.records, t.findings[0][3]) for t in made]


def test_a_steady_product_is_left_alone_as_often_as_chance_says(one, result_of):
    r = random.Random(8)
    series, _ = one(*(result_of(i, 10 + r.gauss(0, 0.2), day(i)) for i in range(3000)))
    beyond = [s for s in series.segments[0].measures["result"].signals if s.rule == "beyond-3s"]
    assert sum(s.last - s.first + 1 for s in beyond) <= 3000 * 2 * stats.norm.sf(3) * 2.2
