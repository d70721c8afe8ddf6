"""Results of many records: each taken in once, and whatever cannot be used named with its place."""

import json
import os
from datetime import UTC, datetime, timedelta, timezone

import pytest
from jsonschema import Draft202012Validator

from fillmark.locate import schemas_folder
from fillmark.trending.measured import NAMED, collect

CEST = timezone(timedelta(hours=2))


@pytest.fixture
def lines(tmp_path, result_of):
    """Write results, or raw texts, as JSON Lines and collect them."""

    def write(*results, name="r.jsonl", **more):
        file = tmp_path / name
        texts = [r if isinstance(r, (str, bytes)) else json.dumps(r, ensure_ascii=False) for r in results]
        file.write_bytes(b"\n".join(t if isinstance(t, bytes) else t.encode() for t in texts) + b"\n")
        return collect([file], **more)

    return write


def codes(collection):
    return [(d.code, d.span.line) for d in collection.diagnostics]


def test_the_results_of_these_tests_are_results(result_of):
    schema = json.loads((schemas_folder() / "result.schema.json").read_text(encoding="utf-8"))
    for one in (result_of(1, 10.0, "2026-01-01T08:00"), result_of(2, 20.0, "2026-01-01T08:00", bound=">")):
        Draft202012Validator(schema).validate(one)


def test_what_is_kept_of_a_result(lines, result_of):
    found = lines(
        result_of(7, 10.2, "2026-03-04T07:40:00", results__0__torques=[50, 52], people__analyst="A. Osei")
    )
    (one,) = found.measured
    assert [] == found.diagnostics
    assert ("MCW-VIS-014", "viscosity_20", 10.2, "", "Pa·s", "in") == (
        one.method, one.name, one.value, one.bound, one.unit, one.verdict
    )  # fmt: skip
    assert ("3", "Bench 2", "R", "R5 S-51", "fitted G-7", "600 mL low-form beaker") == (
        one.setup.revision, *one.setup[2:]
    )  # fmt: skip
    assert (8.0, 12.0, 10.0) == one.limits
    assert (51.0, 23.0, "L00007", "A. Osei") == (one.torque, one.temperature, one.lot, one.analyst)
    assert datetime(2026, 3, 4, 7, 40, tzinfo=UTC).timestamp() == one.at


def test_a_bound_is_no_value_and_takes_its_torque_from_the_readings(lines, result_of):
    readings = [{"step": "viscosity_20", "torque": 100.4}, {"step": "other", "torque": 10}]
    found = lines(
        result_of(1, 20.0, "2026-01-01T08:00", bound=">", results__0__torques=[], readings=readings)
    )
    (one,) = found.measured
    assert (None, ">", 20.0, 100.4) == (one.value, one.bound, one.edge, one.torque)


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("2026-07-01T09:00+02:00", datetime(2026, 7, 1, 9, tzinfo=CEST)),
        ("2026-07-01T07:00Z", datetime(2026, 7, 1, 7, tzinfo=UTC)),
        ("2026-07-01T07:00:00", datetime(2026, 7, 1, 7, tzinfo=UTC)),
        ("2026-03-29T02:30:00+01:00", datetime(2026, 3, 29, 1, 30, tzinfo=UTC)),
    ],
)
def test_times_with_an_offset_are_put_in_one_order(lines, result_of, written, expected):
    assert expected.timestamp() == lines(result_of(1, 10.0, written)).measured[0].at


def test_some_times_with_an_offset_and_some_without_are_told(lines, result_of):
    found = lines(result_of(1, 10.0, "2026-07-01T09:00+02:00"), result_of(2, 10.0, "2026-07-01T09:00"))
    assert [("TRD04", 1)] == codes(found)
    assert "1 of the results give their time with" in found.diagnostics[0].message


HOSTILE = [
    "", "null", "[]", "{}", "{", "nonsense", '{"result": 2}', '{"result": true}', '{"result": 1}', '"text"', "1e999",
    "[" * 100_000, '{"a":' * 50_000, "\ufeff{", b"\xff\xfe\x00", b'{"result": 1, "method": "\xff"}',
]  # fmt: skip

WRONG = {
    "method": None, "method__id": "", "method__id ": 3, "method__revision": 1.5, "method__revision ": True,
    "method__digest": ["a"], "sample": [], "sample__measured": None, "sample__measured ": "2026-13-01T00:00",
    "sample__measured  ": "2026-01-01", "sample__measured   ": "0001-01-01T00:00+14:00",
    "sample__measured    ": "9999-12-31T23:59-12:00", "sample__measured     ": 5, "stands": "yes", "results": {},
    "results ": [None], "results__0__kind": "number", "results__0__value": "10", "results__0__value ": None,
    "results__0__value  ": 1e300, "results__0__value   ": True, "results__0__lower": "8", "results__0__unit": 5,
    "results__0__torques": ["x"], "results__0__torques ": [float("nan")], "results__0__temperatures": [float("inf")],
    "results__0__bound": ["<"], "record": None, "record__name": 7, "equipment__instrument__id": {"a": 1},
    "equipment__spindle__kind": 4, "results__0__name": [], "sample__lot": 12, "results__0__value    ": 10**400,
}  # fmt: skip


def test_there_are_fifty_hostile_inputs():
    assert len(HOSTILE) + len(WRONG) >= 50


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_a_broken_line_is_named_and_the_others_are_taken(lines, result_of, text):
    good = result_of(1, 10.0, "2026-01-01T08:00")
    found = lines(good, text, result_of(2, 10.0, "2026-01-02T08:00"))
    empty = text == ""
    assert ([] if empty else [("TRD01", 2)]) == codes(found)
    assert (2, 0 if empty else 1) == (found.results, found.broken)


@pytest.mark.parametrize("path", WRONG, ids=[k.strip() for k in WRONG])
def test_a_result_with_something_else_in_it_is_named_and_left_out_whole(lines, result_of, path):
    wrong = result_of(1, 10.0, "2026-01-01T08:00", **{path.strip(): WRONG[path]})
    found = lines(wrong, result_of(2, 10.0, "2026-01-02T08:00"))
    assert [("TRD01", 1)] == codes(found)
    assert ["00002"] == [m.record for m in found.measured]
    assert "left out" in found.diagnostics[0].message


def test_an_endless_line_costs_nothing_and_is_named(lines, result_of):
    found = lines(b'{"x": "' + b"y" * 3_000_000 + b'"}', result_of(2, 10.0, "2026-01-02T08:00"))
    assert [("TRD01", 1)] == codes(found)
    assert ["00002"] == [m.record for m in found.measured]
    assert 2 == found.measured[0].line


def test_hundreds_of_broken_lines_are_counted_to_the_last(lines, result_of):
    found = lines(*["?"] * 500, result_of(1, 10.0, "2026-01-01T08:00"), "?")
    assert 501 == found.broken
    assert NAMED + 1 == len(found.diagnostics)
    assert "301 more results are left out, at 201-500, 502." == found.diagnostics[-1].message


def test_a_result_that_comes_twice_counts_once_and_is_told(lines, result_of):
    one = result_of(1, 10.0, "2026-01-01T08:00")
    found = lines(one, result_of(2, 10.0, "2026-01-02T08:00"), one)
    assert (2, 1, [("TRD02", 3)]) == (found.results, found.twice, codes(found))


def test_one_record_with_two_contents_is_an_error_and_both_stay(lines, result_of):
    found = lines(
        result_of(1, 10.0, "2026-01-01T08:00"),
        result_of(1, 9.0, "2026-01-01T08:00", record__sha256="b" * 64),
    )
    assert (2, [("TRD03", 2)]) == (found.results, codes(found))


def test_results_of_other_methods_are_counted_and_left(lines, result_of):
    found = lines(
        result_of(1, 10.0, "2026-01-01T08:00"),
        result_of(2, 10.0, "2026-01-01T08:00", method__id="QAP-VIS-002"),
        method="MCW-VIS-014",
    )
    assert (1, 1, []) == (found.results, found.other, codes(found))


@pytest.mark.parametrize("indent", [None, 2])
def test_a_json_file_holds_one_result_or_an_array(tmp_path, result_of, indent):
    two = [result_of(i, 10.0, "2026-01-01T08:00") for i in (1, 2)]
    (tmp_path / "many.json").write_text(json.dumps(two, indent=indent), encoding="utf-8")
    (tmp_path / "one.json").write_text(json.dumps(result_of(3, 10.0, "2026-01-01T08:00"), indent=indent))
    (tmp_path / "none.json").write_text(" [ ] \n")
    found = collect([tmp_path])
    assert ([], 3, 3) == (codes(found), found.results, found.files)
    lines = {m.record: m.line for m in found.measured}
    whole = (tmp_path / "many.json").read_text(encoding="utf-8").split("\n")
    starts = [n for n, line in enumerate(whole, 1) if line == "  {"]
    assert (starts if indent else [1, 1]) == [lines["00001"], lines["00002"]]


@pytest.mark.parametrize("end", ["", "}", ", {", "] x", ",]", "\x00]"])
def test_an_array_that_breaks_off_keeps_what_came_before(tmp_path, result_of, end):
    file = tmp_path / "r.json"
    file.write_text("[\n" + json.dumps(result_of(1, 10.0, "2026-01-01T08:00")) + "\n" + end)
    found = collect([file])
    assert (1, 1) == (found.results, found.broken)
    assert found.diagnostics[0].span.line in (2, 3)
    assert "left out" in found.diagnostics[0].message


def test_a_folder_is_read_with_all_json_below_it_each_file_once(tmp_path, result_of):
    below = tmp_path / "2026" / "11"
    below.mkdir(parents=True)
    (below / "b.jsonl").write_text(json.dumps(result_of(2, 10.0, "2026-01-01T08:00")))
    (tmp_path / "a.json").write_text(json.dumps(result_of(1, 10.0, "2026-01-01T08:00")))
    (tmp_path / ".hidden.json").write_text("?")
    (tmp_path / "notes.txt").write_text("?")
    found = collect([tmp_path, below / "b.jsonl"])
    assert (2, 2, []) == (found.files, found.results, codes(found))


def test_what_cannot_be_opened_is_told(tmp_path):
    os.mkfifo(tmp_path / "pipe.jsonl")
    (tmp_path / "gone.jsonl").symlink_to(tmp_path / "nowhere")
    found = collect([tmp_path])
    assert ["FIL01", "FIL01"] == [d.code for d in found.diagnostics]


def test_corrections_and_findings_are_tallied_by_kind(lines, result_of):
    def entry(field, reason):
        return {"field": field, "corrections": [{"reason": reason}]}

    finding = {"code": "EVA07", "slug": "temperature-outside", "severity": "warning"}
    found = lines(
        result_of(1, 10.0, "2026-01-01T08:00", entries=[entry("reading.1.viscosity_20.torque", "2")],
                  findings=[finding, finding]),
        result_of(2, 10.0, "2026-01-01T08:00", entries=[entry("reading.2.viscosity_20.torque", "2"), entry("lot", "")],
                  findings=[finding]),
    )  # fmt: skip
    assert {
        ("MCW-VIS-014", "reading.viscosity_20.torque", "2"): 2, ("MCW-VIS-014", "lot", ""): 1
    } == found.corrections  # fmt: skip
    assert {("MCW-VIS-014", "EVA07", "temperature-outside", "warning"): 2} == found.findings


def test_blanks_in_a_name_make_no_other_piece_and_unseen_signs_are_shown(lines, result_of):
    found = lines(
        result_of(1, 10.0, "2026-01-01T08:00", equipment__instrument__id=" Bench  2"),
        result_of(2, 10.0, "2026-01-01T08:00", equipment__instrument__id="Bench\u202e 2"),
    )
    assert ["Bench 2", "Bench\\u202e 2"] == [m.setup.instrument for m in found.measured]


def test_a_record_without_a_line_of_results_is_told_and_counted(lines, result_of):
    found = lines(result_of(1, 10.0, "2026-01-01T08:00"), result_of(2, 10.0, "2026-01-02T08:00", results=[]))
    assert (2, 1, 0, [("TRD07", 2)]) == (found.results, found.hollow, found.broken, codes(found))
