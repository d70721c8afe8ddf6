"""Who holds a level on a day: the last day counts, the day after does not, and a revision asks for what it changed."""

import json
from datetime import date, datetime

import pytest
from jsonschema import Draft202012Validator

from fillmark.locate import schemas_folder
from fillmark.names import known_as
from fillmark.quantities import parse
from fillmark.reference import load
from fillmark.releases.register import append, read
from fillmark.releases.release import commit, judge, make
from fillmark.training.levels import (
    holdings,
    last_day,
    levels_json,
    levels_text,
    standing,
    uses_in,
)
from fillmark.trending.measured import collect

METHOD = "MCW-VIS-014"
CALCULATION = ("increment: 0.1 Pa·s", "increment: 0.05 Pa·s")


@pytest.mark.parametrize(
    ("start", "time", "last"),
    [
        # By the calendar.
        ("2026-12-10", "24 months", "2028-12-10"),
        ("2026-08-31", "6 months", "2027-02-28"),
        ("2027-08-31", "6 months", "2028-02-29"),
        ("2028-02-29", "1 years", "2029-02-28"),
        ("2026-12-10", "30 d", "2027-01-09"),
        ("2026-12-10", "2 weeks", "2026-12-24"),
        ("9999-01-01", "24 months", "9999-12-31"),
    ],
)
def test_a_time_ends_on_a_day_of_the_calendar(start, time, last):
    assert date.fromisoformat(last) == last_day(date.fromisoformat(start), parse(time, "time"))


@pytest.fixture
def enter(laboratory):
    """Enter a line on Ana Lind in the register of the laboratory."""

    def write(what="assessment", day="2026-12-10", *, revision=3, person="Ana Lind", **more):
        digest = read(laboratory).releases(METHOD)[0].data["digest"]
        line = {
            "kind": "competency", "at": f"{day}T15:00:00+00:00", "by": "Q. Keeper", "what": what, "person": person,
            "id": METHOD, "revision": revision, "digest": digest, "day": day, "assessor": "R. Lindqvist",
        }  # fmt: skip
        if what == "assessment":
            line |= {
                "assessor_level": 3, "occasion": "first", "passed": True, "level": 2, "valid_until": "2028-12-10",
                "form": "0" * 64,
            }  # fmt: skip
        if what == "suspended":
            line["reason"] = "read warm samples"
        line |= more
        return append(laboratory, {k: v for k, v in line.items() if v is not None})

    return write


@pytest.fixture
def held(laboratory):
    """Judge who holds what in the laboratory on a day."""

    def on(day, *, within=60, uses=None):
        reference, _ = load(laboratory)
        return holdings(
            laboratory, read(laboratory), reference.policy, date.fromisoformat(day), within=within, uses=uses
        )

    return on


@pytest.fixture
def release(laboratory):
    """Release a revised method file."""

    def put(file, at="2027-01-10T10:00:00+01:00"):
        moment = datetime.fromisoformat(at)
        judged = judge(file, laboratory, by="H. Marlow", at=moment)
        assert () == judged.refusals
        commit(make(judged, by="H. Marlow", at=moment, papers=("A4",), forms=("html",)), laboratory)

    return put


def only(found):
    (one,) = found
    return one


def test_a_level_holds_to_its_last_day(enter, held):
    enter()
    assert ("holds", 2) == (only(held("2028-12-10")).state, only(held("2028-12-10")).today)
    after = only(held("2028-12-11"))
    assert ("lapsed", 0, ("valid until 2028-12-10, 1 day ago",)) == (after.state, after.today, after.reasons)
    assert () == held("2026-12-09")


def test_it_is_due_within_the_days_asked_for(enter, held):
    enter()
    # 60 days before 2028-12-10 is 2028-10-11.
    assert [True, False] == [only(held(d)).due for d in ("2028-10-11", "2028-10-10")]


def test_it_lapses_after_six_months_without_a_run(enter, held):
    enter()
    uses = {(METHOD, known_as("Ana Lind")): date(2027, 1, 31)}
    assert "holds" == only(held("2027-07-31", uses=uses)).state
    one = only(held("2027-08-01", uses=uses))
    assert ("lapsed", ("no run since 2027-01-31, longer than 6 months",)) == (one.state, one.reasons)
    # The assessment is itself a run.
    assert "holds" == only(held("2027-06-10", uses={})).state
    assert "lapsed" == only(held("2027-06-11", uses={})).state


def test_without_results_nobody_lapses_for_want_of_a_run_but_is_told(enter, held):
    enter()
    one = only(held("2027-07-01"))
    assert "holds" == one.state
    assert "needs a run since 2027-06-10" in one.mind[0]


def test_a_supervised_run_counts_as_a_run(enter, held):
    enter()
    enter("supervised-run", "2027-05-01")
    assert "holds" == only(held("2027-11-01", uses={})).state
    assert "lapsed" == only(held("2027-11-02", uses={})).state


def test_runs_are_found_in_evaluated_results(tmp_path, result_of):
    file = tmp_path / "results.jsonl"
    lines = [
        result_of(1, 10.0, "2027-01-05T09:00:00", people__analyst="Ana Lind"),
        result_of(2, 10.0, "2027-03-05T09:00:00", people__analyst="ana lind"),
        result_of(3, 10.0, "2027-09-05T09:00:00", people__analyst="Ana Lind"),
    ]
    file.write_text("\n".join(json.dumps(line) for line in lines), encoding="utf-8")
    found = uses_in(collect([file]).measured, date(2027, 6, 1))
    assert {(METHOD, known_as("Ana Lind")): date(2027, 3, 5)} == found


def test_a_failed_assessment_ends_what_was_held(enter, held):
    enter()
    enter(day="2027-01-10", passed=False, level=None, valid_until=None)
    one = only(held("2027-01-10"))
    assert ("none", 0, 0) == (one.state, one.level, one.today)
    assert "holds" == only(held("2027-01-09")).state


def test_a_level_taken_away_is_not_held_until_a_new_assessment(enter, held):
    enter()
    enter("suspended", "2027-01-10")
    one = only(held("2027-01-11"))
    assert "none" == one.state
    assert "read warm samples" in one.reasons[0]
    enter(day="2027-02-01")
    assert "holds" == only(held("2027-02-01")).state


# --- later revisions: the `revised` method rests 6 min instead of 5, which is a change of a parameter


def test_a_changed_parameter_asks_for_a_supervised_run(enter, held, revised, release):
    enter()
    release(revised())
    one = only(held("2027-01-10"))
    assert ("supervised run", 1, True) == (one.state, one.today, one.due)
    assert "revision 4 asks for a supervised run; assessed on revision 3" == one.reasons[0]
    enter("supervised-run", "2027-01-11", revision=4)
    assert ("holds", 2) == (only(held("2027-01-11")).state, only(held("2027-01-11")).today)


def test_a_changed_calculation_asks_for_full_competency_and_a_run_is_not_enough(
    enter, held, revised, release
):
    enter()
    release(revised(("revision: 4, class: parameter", "revision: 4, class: calculation"), CALCULATION))
    one = only(held("2027-01-10"))
    assert ("lapsed", 0) == (one.state, one.today)
    assert "full competency" in one.reasons[0]
    enter("supervised-run", "2027-01-11", revision=4)
    assert "lapsed" == only(held("2027-01-11")).state
    enter(day="2027-01-12", revision=4)
    assert "holds" == only(held("2027-01-12")).state


def test_changed_wording_asks_for_a_notice_and_takes_nothing_away(enter, held, revised, release):
    enter()
    release(
        revised(
            ("  rest: 6 min\n", "  rest: 5 min\n"),
            ("revision: 4, class: parameter", "revision: 4, class: editorial"),
            ("title: Apparent viscosity of matt wall paint", "title: Viscosity of matt wall paint"),
        )
    )
    one = only(held("2027-01-10"))
    assert ("holds", True) == (one.state, one.due)
    assert "tell of revision 4: only its wording changed" == one.mind[0]
    enter("notified", "2027-01-11", revision=4)
    assert ((), False) == (only(held("2027-01-11")).mind, only(held("2027-01-11")).due)


def test_a_revision_to_come_is_told_of_before_it_takes_effect(enter, held, revised, release):
    enter()
    release(revised(("effective: 2026-12-01", "effective: 2027-02-01")))
    before = only(held("2027-01-31"))
    assert ("holds", ("from 2027-02-01, revision 4: supervised run",)) == (before.state, before.mind)
    assert "supervised run" == only(held("2027-02-01")).state


def test_what_cannot_be_compared_is_not_taken_for_unchanged(enter, held, revised, release, laboratory):
    enter()
    release(revised())
    (laboratory / "released" / METHOD / f"{METHOD}-r3.zip").unlink()
    one = only(held("2027-01-11"))
    assert "lapsed" == one.state
    assert "cannot be told" in one.reasons[0]


# --- told


def test_standing_says_in_a_line_what_is_held(enter, held):
    enter(person="R. Lindqvist", level=3)
    found = held("2027-01-01")
    assert 3 == standing(found, "r lindqvist", METHOD).level
    assert 0 == standing(found, "Somebody Else", METHOD).level
    assert "valid until 2028-12-10" in standing(held("2029-01-01"), "R. Lindqvist", METHOD).why


def test_json_meets_its_schema_and_text_is_narrow_and_plain(enter, held):
    enter()
    enter(person="Bo Ström", day="2026-12-11", passed=False, level=None, valid_until=None)
    found = held("2028-11-01")
    schema = json.loads((schemas_folder() / "levels.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(json.loads(levels_json(found, date(2028, 11, 1), 60)))
    text = levels_text(found, date(2028, 11, 1), 60, ascii_only=True)
    assert text.isascii()
    assert "2 in all: 1 hold, 0 lapsed, 1 due within 60 days." in text
    assert "The register tells of no assessment." == levels_text((), date(2028, 11, 1), 60, ascii_only=True)
