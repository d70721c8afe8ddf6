"""Judged logs: bands by hand and by the method, drift against scipy, and the list to look back on."""

import json
import random
from datetime import date, datetime, timedelta

import pytest
from scipy import stats

from fillmark.trending.measured import collect
from fillmark.verification.log import CODES, MONTH, judge
from fillmark.verification.logbook import read_log

START = datetime(2026, 1, 5, 7, 40)  # noqa: DTZ001 - as a sheet has it


def day(n, hour=0):
    return (START + timedelta(days=n, hours=hour)).isoformat(timespec="minutes")


@pytest.fixture
def judged(reference, tmp_path):
    def write(*entries, results=(), **more):
        data = json.dumps({"verification_log": 1, "entries": list(entries)}, ensure_ascii=False).encode()
        file = tmp_path / "r.jsonl"
        file.write_text("\n".join(json.dumps(r, ensure_ascii=False) for r in results), encoding="utf-8")
        found = collect([file])
        assert [] == found.diagnostics
        log = read_log(data, "log.json", reference.raw)
        assert [] == [d for d in log.diagnostics if d.code != "LOG03"]
        return judge(log, reference, results=found.measured, **more)

    return write


@pytest.fixture
def paint(compiled):
    one = compiled("MCW-VIS-014")
    return [(one.method, one.figures)]


def codes(j):
    return sorted({d.code for d in j.diagnostics})


@pytest.mark.parametrize(
    ("error", "verdict"),
    [(0.0, "pass"), (1.5, "pass"), (-1.5, "pass"), (1.505, "fail"), (-1.505, "fail"), (9.0, "fail")],
)
def test_the_band_is_one_percent_of_full_scale_and_the_certificate(judged, check_of, error, verdict):
    # 1 % of 20 Pa·s is 0.2 Pa·s, with 0.1 Pa·s of the certificate 0.3 Pa·s: 9.7 to 10.3, or ± 1.5 % of full scale.
    (one,) = judged(check_of(day(0), error)).checks
    assert (9.7, 10.3, 20.0) == pytest.approx((one.band.lower, one.band.upper, one.band.full_scale))
    assert (-1.5, 1.5, error) == pytest.approx((one.lower, one.upper, one.error))
    assert verdict == one.verdict


def test_the_error_is_of_full_scale_and_not_of_the_value(judged, check_of):
    # 30 mPa·s on 300 mPa·s is 10 % of the value; on R2 at 50 rpm (40 Pa·s·rpm, 800 mPa·s) 3.75 % of full scale.
    (one,) = judged(
        check_of(day(0), spindle="R2", speed="50 rpm", fluid="REF-300", certificate="300 mPa·s",
                 certificate_uncertainty="3 mPa·s", torque="41.3 %", reading="330 mPa·s")
    ).checks  # fmt: skip
    assert (3.75, "fail") == (pytest.approx(one.error), one.verdict)


def test_a_check_of_a_method_has_the_band_of_its_sheet(judged, check_of, paint):
    (one,) = judged(check_of(day(0)), methods=paint).checks
    figures = paint[0][1]
    assert (figures["verification.lower"].value, figures["verification.upper"].value) == (
        one.band.lower, one.band.upper
    )  # fmt: skip
    assert "MCW-VIS-014 revision 3" == one.band.origin


@pytest.mark.parametrize(
    "change", [{"guard": "without"}, {"speed": "10 rpm", "torque": "25.0 %"}, {"instrument": "bench-5"}]
)
def test_another_set_up_is_no_check_of_the_method(judged, check_of, paint, change):
    (one,) = judged(check_of(day(0), **change), methods=paint).checks
    assert "the reference data" == one.band.origin


def test_a_lot_with_another_value_is_judged_by_its_own_certificate(judged, check_of, paint):
    j = judged(
        check_of(day(0), certificate="10300 mPa·s", certificate_uncertainty="50 mPa·s", torque="51.5 %",
                 reading="10300 mPa·s"), methods=paint,
    )  # fmt: skip
    (one,) = j.checks
    assert (10.05, 10.55, 0.0) == pytest.approx((one.band.lower, one.band.upper, one.error))
    assert ["LOG16"] == codes(j)
    assert "+3.0 %" in j.diagnostics[0].message


REASONS = {
    "LOG05": {"torque": "60.0 %"},
    "LOG06": {"expires": "2026-01-04"},
    "LOG07": {"temperature": "25.11 °C"},
    "LOG08": {"guard": "without", "spindle": "R1", "speed": "1 rpm"},
    "LOG09": {"speed": "2 rpm", "torque": "5.0 %"},
}


@pytest.mark.parametrize("code", REASONS)
def test_a_reading_inside_the_band_proves_nothing_when_something_else_is_wrong(judged, check_of, code):
    change = dict(REASONS[code])
    if code == "LOG08":  # R1 at 1 rpm: 10 Pa·s·rpm, 10 Pa·s full scale
        change |= {"torque": "50.0 %", "reading": "5000 mPa·s", "fluid": "REF-5000", "certificate": "5000 mPa·s",
                   "certificate_uncertainty": "50 mPa·s"}  # fmt: skip
    j = judged(check_of(day(0), **change))
    (one,) = j.checks
    assert ("no proof", [code]) == (one.verdict, [c for c, _ in one.why])
    assert code in codes(j)
    assert "proves nothing" in next(d.message for d in j.diagnostics if d.code == code)


@pytest.mark.parametrize(
    "inside",
    [{"torque": "50.3 %"}, {"expires": "2026-01-05"}, {"temperature": "25.10 °C"}, {"expires": None}],
)
def test_just_inside_it_is_a_pass(judged, check_of, inside):
    # 50.3 %: 0.3 % of 20 Pa·s is 60 mPa·s; allowed are half a step (0.05 % = 10), 0.5 and 0.5 % of 10 000 = 50.
    (one,) = judged(check_of(day(0), **inside)).checks
    assert "pass" == one.verdict


def test_a_failed_reading_stays_failed_whatever_else_was_wrong(judged, check_of):
    (one,) = judged(check_of(day(0), 4.0, expires="2025-01-01", temperature="27 °C")).checks
    assert ("fail", ["LOG07", "LOG06"]) == (one.verdict, [c for c, _ in one.why])


def test_a_factor_is_named_by_the_spindle_that_was_keyed_in(judged, check_of):
    # R6 has 1000 Pa·s·rpm where R5 has 400: keyed in, it shows 2.5 times what the torque says.
    j = judged(check_of(day(0), torque="50.0 %", reading="25000 mPa·s"))
    (said,) = [d for d in j.diagnostics if d.code == "LOG05"]
    assert "a factor of 2.5, that of spindle R6" in said.message
    assert not j.checks[0].fits


def test_a_factor_is_named_by_the_spring(judged, check_of):
    # The spring 2R has twice the torque of R.
    j = judged(check_of(day(0), torque="50.0 %", reading="20000 mPa·s"))
    assert "spring 2R" in next(d.message for d in j.diagnostics if d.code == "LOG05")


@pytest.mark.parametrize(
    ("reading", "verdict"),
    [("> 20000 mPa·s", "fail"), ("> 9000 mPa·s", "no proof"), ("< 9000 mPa·s", "fail")],
)
def test_a_bound_fails_where_it_must_and_is_never_averaged(judged, check_of, reading, verdict):
    j = judged(check_of(day(0)), check_of(day(1), reading=reading, torque="> 100 %"))
    assert verdict == j.checks[1].verdict
    (group,) = j.groups
    assert (1, 0.0) == (group.stretches[0].count, group.stretches[0].mean)


def test_drift_and_its_interval_are_those_of_scipy(judged, check_of):
    r = random.Random(5)
    days = sorted(r.sample(range(200), 14))
    errors = [round(0.2 * d / 30.4375 - 0.8 + r.gauss(0, 0.1), 2) for d in days]
    j = judged(*(check_of(day(d), e) for d, e in zip(days, errors, strict=True)))
    drift = j.groups[0].stretches[0].drift
    fit = stats.linregress([d * 86_400 / MONTH for d in days], errors)
    half = stats.t.ppf(0.975, 12) * fit.stderr
    assert (fit.slope, fit.slope - half, fit.slope + half) == pytest.approx(
        (drift.slope, drift.low, drift.high)
    )
    at_end = fit.intercept + fit.slope * days[-1] * 86_400 / MONTH
    assert (1.5 - at_end) / fit.slope == pytest.approx(drift.months_left)
    assert "LOG11" in codes(j)


@pytest.mark.parametrize(
    ("days", "why"), [([0, 40, 80, 120], "4 of the 5"), ([0, 1, 2, 3, 4, 5], "less than a month")]
)
def test_too_few_points_or_too_short_a_time_is_said(judged, check_of, days, why):
    stretch = judged(*(check_of(day(d), 0.1) for d in days)).groups[0].stretches[0]
    assert stretch.drift is None
    assert why in stretch.no_drift


def test_no_drift_is_told_where_there_may_be_none(judged, check_of):
    r = random.Random(6)
    j = judged(*(check_of(day(10 * i), r.gauss(0, 0.2)) for i in range(12)))
    assert not j.groups[0].stretches[0].drift.certain
    assert "LOG11" not in codes(j)


def test_a_service_breaks_the_chart_and_the_drift(judged, check_of):
    event = {
        "kind": "service",
        "at": day(95),
        "instrument": "bench-2",
        "by": "workshop",
        "remarks": "new pivot",
    }
    j = judged(
        *(check_of(day(10 * i), 0.1 * i) for i in range(10)), event,
        *(check_of(day(100 + 10 * i), 0.0) for i in range(6)),
    )  # fmt: skip
    (group,) = j.groups
    assert [(10, "service: new pivot")] == [(at, what) for at, _, what in group.breaks]
    first, second = group.stretches
    assert (0, 9, 10, 15) == (first.first, first.last, second.first, second.last)
    assert first.drift.slope == pytest.approx(0.1 * MONTH / 864_000, rel=1e-6)
    assert second.drift.slope == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("change", "word"), [({"piece": "S-99"}, "piece"), ({"guard": "without"}, "guard")])
def test_another_piece_breaks_the_chart(judged, check_of, change, word):
    j = judged(check_of(day(0)), check_of(day(1)), check_of(day(2), **change))
    assert word in j.groups[0].breaks[0][2]


def test_run_rules_are_kept_apart_by_instrument_spindle_and_speed(judged, check_of):
    r = random.Random(9)
    errors = [r.gauss(0, 0.05) for _ in range(20)]
    errors[15] = 1.2
    j = judged(
        *(check_of(day(i), e) for i, e in enumerate(errors)),
        *(check_of(day(i, 1), e, instrument="bench-3") for i, e in enumerate(errors[:15])),
    )
    assert [("bench-2", 20), ("bench-3", 15)] == [(g.instrument, len(g.checks)) for g in j.groups]
    assert {"beyond-3s"} <= {s.rule for s in j.groups[0].stretches[0].signals}
    assert "beyond-3s" not in {s.rule for s in j.groups[1].stretches[0].signals}


# --- looking back


@pytest.fixture
def story(judged, check_of, result_of):
    """Pass, results, a check that proves nothing, a fail 2 % of full scale high, results, a pass."""

    def tell(error=2.0, **changes):
        values = {1: 10.0, 2: 12.2, 3: 8.3, 4: 11.0, 6: 10.5, 8: 9.0}
        results = [result_of(n, v, day(n, 3), **changes) for n, v in values.items()]
        return judged(
            check_of(day(0)), check_of(day(3), 0.1, expires="2025-01-01"), check_of(day(5), error),
            check_of(day(7)), results=results,
        )  # fmt: skip

    return tell


def test_the_list_begins_at_the_last_pass_that_counts_and_ends_at_the_next(story):
    (back,) = story().look_back
    assert (day(5), day(0), day(7)) == tuple(
        j.check.entry.written for j in (back.failed, back.last_pass, back.next_pass)
    )
    assert ["00001", "00002", "00003", "00004", "00006"] == [d.result.record for d in back.results]
    assert [False, False, False, False, True] == [d.after for d in back.results]


def test_what_the_error_did_to_each_result_by_hand(story):
    # Error + 2 % of full scale: offset 0.4 Pa·s at any torque; in proportion 10/10.4.
    (back,) = story().look_back
    found = {d.result.record: d for d in back.results}
    assert (11.8, 12.2 / 1.04) == pytest.approx((found["00002"].if_offset, found["00002"].if_proportional))
    assert (7.9, 8.3 / 1.04) == pytest.approx((found["00003"].if_offset, found["00003"].if_proportional))
    # 12.2 was out and would be in; 8.3 was in and would be out (7.9, 7.98 < 8.0); 10, 11 and 10.5 hold.
    assert [False, True, True, False, False] == [d.could_change for d in back.results]


def test_one_of_the_two_ways_is_enough_to_be_in_doubt(judged, check_of, result_of):
    # 8.35 less 0.4 is 7.95, out; over 1.04 it is 8.03, in.
    j = judged(check_of(day(0)), check_of(day(5), 2.0), results=[result_of(1, 8.35, day(1))])
    (one,) = j.look_back[0].results
    assert (7.95, 8.35 / 1.04, True) == (
        pytest.approx(one.if_offset),
        pytest.approx(one.if_proportional),
        one.could_change,
    )


@pytest.mark.parametrize(
    ("value", "verdict", "error", "changed"),
    [
        # 12.04 passed as 12.0, rounded; the instrument read 0.4 Pa·s low, and 12.44 is out.
        (12.04, "in", -2.0, True),
        # 11.9 is inside, but not by the guard band; 0.4 Pa·s less could pass.
        (11.9, "out", 2.0, True),
        (12.3, "out", -2.0, False),
    ],
)
def test_what_counts_is_the_verdict_that_was_given(
    judged, check_of, result_of, value, verdict, error, changed
):
    result = result_of(1, value, day(1), results__0__verdict=verdict)
    j = judged(check_of(day(0)), check_of(day(5), error), results=[result])
    assert [changed] == [d.could_change for d in j.look_back[0].results]


def test_what_is_said_counts_them(story):
    said = {d.code: d.message for d in story().diagnostics}
    assert "4 results measured on bench-2 since its last pass" in said["LOG13"]
    assert "verdict of 2." in said["LOG13"]
    assert "1 result measured on bench-2 after it failed" in said["LOG14"]


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"results__0__lower": None, "results__0__upper": None}, "no limits"),
        ({"results__0__torques": []}, "torque is not known"),
        ({"results__0__unit": ""}, "ratio"),
    ],
)
def test_what_cannot_be_told_is_said_and_not_guessed(story, changes, why):
    (back,) = story(**changes).look_back
    assert {None} == {d.could_change for d in back.results}
    assert all(why in d.why for d in back.results)


def test_a_bound_among_the_results_cannot_be_told(judged, check_of, result_of):
    j = judged(check_of(day(0)), check_of(day(5), 2.0), results=[result_of(1, 20.0, day(1), bound=">")])
    assert [None] == [d.could_change for d in j.look_back[0].results]
    assert "of 1 that cannot be told" in next(d.message for d in j.diagnostics if d.code == "LOG13")


def test_an_instrument_that_never_passed_is_looked_through_from_the_beginning(judged, check_of, result_of):
    j = judged(check_of(day(5), 2.0), results=[result_of(1, 10.0, "2020-01-01T08:00")])
    (back,) = j.look_back
    assert (None, 1) == (back.last_pass, len(back.results))


def test_results_of_another_instrument_are_not_in_the_list_and_told(judged, check_of, result_of):
    results = [result_of(1, 10.0, day(1), equipment__instrument__id="Bench 9"), result_of(2, 10.0, day(1))]
    j = judged(check_of(day(0)), check_of(day(5), 2.0), results=results)
    assert ["00002"] == [d.result.record for d in j.look_back[0].results]
    assert "bench-9 (1)" in next(d.message for d in j.diagnostics if d.code == "LOG17")


def test_the_sheet_may_name_the_instrument_by_its_key(judged, check_of, result_of):
    j = judged(
        check_of(day(0)), check_of(day(5), 2.0),
        results=[result_of(1, 10.0, day(1), equipment__instrument__id="BENCH-2")],
    )  # fmt: skip
    assert 1 == len(j.look_back[0].results)


def test_two_fails_in_a_row_share_the_results_and_none_is_listed_twice(judged, check_of, result_of):
    results = [result_of(n, 10.0, day(n, 3)) for n in range(12)]
    j = judged(
        check_of(day(0)), check_of(day(4), 2.0), check_of(day(8), 2.0), check_of(day(11)), results=results
    )
    first, second = j.look_back
    assert [f"{n:05}" for n in range(8)] == [d.result.record for d in first.results]
    assert [f"{n:05}" for n in range(8, 11)] == [d.result.record for d in second.results]
    assert first.failed is second.failed_before


def test_a_pass_with_another_spindle_is_named_and_clears_nothing(judged, check_of, result_of):
    other = check_of(day(3), spindle="R4", speed="10 rpm", torque="50.0 %")
    j = judged(check_of(day(0)), other, check_of(day(5), 2.0), results=[result_of(1, 10.0, day(1))])
    (back,) = j.look_back
    assert ["R4"] == [p.check.spindle for p in back.passed_otherwise]
    assert 1 == len(back.results)


def test_a_result_of_the_minute_of_the_pass_counts_as_after_it_and_of_the_fail_too(
    judged, check_of, result_of
):
    results = [result_of(n, 10.0, day(n)) for n in (0, 5, 7)]
    j = judged(check_of(day(0)), check_of(day(5), 2.0), check_of(day(7)), results=results)
    assert [("00000", False), ("00005", True)] == [(d.result.record, d.after) for d in j.look_back[0].results]


def test_the_list_agrees_with_a_plain_search_over_random_logs(judged, check_of, result_of):
    r = random.Random(13)
    for _ in range(6):
        entries = [
            check_of(day(d), r.choice([0.0, 0.2, 2.0]), spindle=r.choice(["R5", "R4"]),
                     speed="20 rpm", expires=r.choice(["2027-12-31", "2025-01-01"]))
            for d in range(0, 60, 2)
        ]  # fmt: skip
        for e in entries:
            if e["spindle"] == "R4":  # 200 Pa·s·rpm: 10 Pa·s full scale, so the check is off the scale
                e.update(certificate="5000 mPa·s", fluid="REF-5000", certificate_uncertainty="50 mPa·s")
                error = (float(e["reading"].split()[0]) - 10_000) / 200
                e.update(reading=f"{5000 + 100 * error:.0f} mPa·s", torque=f"{50 + error:.1f} %")
        j = judged(*entries, results=[result_of(d, 10.0, day(d, 5)) for d in range(60)])
        assert {"R4", "R5"} == {c.check.spindle for c in j.checks if c.verdict == "fail"}
        listed = {}
        for back in j.look_back:
            for d in back.results:
                listed.setdefault((back.failed.check.spindle, d.result.record), []).append(back)
        assert all(len(b) == 1 for b in listed.values())
        for spindle in ("R5", "R4"):
            own = [c for c in j.checks if c.check.spindle == spindle and c.verdict != "no proof"]
            for n in range(60):
                at = (START + timedelta(days=n, hours=5)).isoformat(timespec="minutes")
                before = [c.verdict for c in own if c.check.entry.written <= at]
                after = [c.verdict for c in own if c.check.entry.written > at]
                bad = (bool(before) and before[-1] == "fail") or (bool(after) and after[0] == "fail")
                assert bad == ((spindle, f"{n:05}") in listed), (spindle, n)


def test_entries_of_the_future_and_clocks_that_differ_are_told(judged, check_of, result_of):
    j = judged(check_of(day(0)), check_of(day(3)), today=date(2026, 1, 5))
    assert ["LOG15"] == codes(j)
    j = judged(check_of(day(0) + "+01:00"), results=[result_of(1, 10.0, day(1))])
    assert ["LOG18"] == codes(j)


def test_one_lot_with_two_certificates_is_told(judged, check_of):
    j = judged(check_of(day(0)), check_of(day(1), certificate="10050 mPa·s"))
    assert "+0.5 % apart" in next(d.message for d in j.diagnostics if d.code == "LOG10")


def test_corrections_are_tallied(judged, check_of):
    told = [{"field": "torque", "was": "5 %", "reason": "2", "by": "AO", "on": "2026-01-05"}]
    j = judged(check_of(day(0), corrections=told), check_of(day(1), corrections=told * 2))
    assert (("torque", "2", 3),) == j.corrections


def test_every_message_has_two_ways_out(story, judged, check_of):
    found = [d for j in (story(), story(0.1)) for d in j.diagnostics]
    for change in REASONS.values():
        found += judged(check_of(day(0), **change)).diagnostics
    assert all(len(d.ways_out) == 2 for d in found if d.code in CODES)
    assert len({d.code for d in found}) >= 7
