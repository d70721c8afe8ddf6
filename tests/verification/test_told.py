"""A judged log as text and JSON: the published shape, and the numbers in it."""

import json

import pytest
from jsonschema import Draft202012Validator

from fillmark.locate import schemas_folder
from fillmark.trending.measured import collect
from fillmark.verification.log import judge
from fillmark.verification.logbook import read_log
from fillmark.verification.told import as_json, text


@pytest.fixture
def judged(reference, tmp_path, check_of, result_of):
    entries = [check_of(f"2026-01-{d:02}T08:00", 0.1 * (d % 3)) for d in range(1, 13)]
    entries += [
        check_of("2026-02-15T08:00", 2.0), check_of("2026-02-16T08:00", 2.0, reading="> 20000 mPa·s"),
        {"kind": "service", "at": "2026-02-20T08:00", "instrument": "bench-2", "by": "workshop"},
        check_of("2026-02-21T08:00", temperature="26.0 °C"),
    ]  # fmt: skip
    file = tmp_path / "r.jsonl"
    file.write_text(json.dumps(result_of(1, 12.1, "2026-02-01T08:00")), encoding="utf-8")
    whole = {"verification_log": 1, "laboratory": "Marlwick", "demonstration": True, "entries": entries}
    log = read_log(json.dumps(whole, ensure_ascii=False).encode(), "log.json", reference.raw)
    return judge(log, reference, results=collect([file]).measured)


def test_the_json_has_the_published_shape_and_the_numbers(judged):
    whole = json.loads(as_json(judged))
    schema = json.loads((schemas_folder() / "verification.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(whole)
    assert (16, 15, 1) == (whole["entries"], len(whole["checks"]), len(whole["events"]))
    assert ["pass", "fail", "fail", "no-proof"] == [c["verdict"] for c in whole["checks"][-4:]]
    first, second = whole["look_back"]
    assert (13, 12, 1) == (first["failed_entry"], first["last_pass_entry"], len(first["results"]))
    assert 13 == second["failed_before_entry"]
    assert first["results"][0]["could_change"] is True


def test_a_result_that_does_not_stand_is_told_apart(reference, tmp_path, check_of, result_of):
    results = [result_of(n, 9.0, "2026-01-02T08:00", stands=n == 1) for n in (1, 2)]
    file = tmp_path / "r.jsonl"
    file.write_text("\n".join(map(json.dumps, results)), encoding="utf-8")
    entries = [check_of("2026-01-01T08:00"), check_of("2026-01-03T08:00", 2.0)]
    whole = {"verification_log": 1, "laboratory": "Marlwick", "demonstration": True, "entries": entries}
    log = read_log(json.dumps(whole, ensure_ascii=False).encode(), "log.json", reference.raw)
    told = judge(log, reference, results=collect([file]).measured)
    assert [True, False] == [r["stands"] for r in json.loads(as_json(told))["look_back"][0]["results"]]
    assert 1 == text(told).replace("\n    ", " ").count("verdict in, but it does not stand: would hold")


def test_the_text_has_every_check_the_break_and_the_list(judged):
    shown = text(judged)
    assert "15 checks: 12 pass, 2 fail; 1 inside the band that prove nothing" in shown
    assert "---- service ----" in shown
    assert "NO PROOF: LOG07" in shown
    assert "COULD HAVE CHANGED" in shown.replace("\n    ", " ")
    assert "it had failed on 2026-02-15T08:00 already" in shown.replace("\n    ", " ")
    assert max(map(len, shown.splitlines())) <= 100
