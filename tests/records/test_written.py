"""Results as JSON in the shape of the schema, and as text."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from fillmark.locate import schemas_folder
from fillmark.records.evaluate import unjudged
from fillmark.records.reading import read_records
from fillmark.records.record import Finding
from fillmark.records.written import as_brief, as_data, as_json, as_line, told

TESTS = Path(__file__).parents[1]
SCHEMA = Draft202012Validator(
    json.loads((schemas_folder() / "result.schema.json").read_text(encoding="utf-8"))
)
BRIEF = Draft202012Validator(json.loads((schemas_folder() / "brief.schema.json").read_text(encoding="utf-8")))
FILES = [*sorted((TESTS / "good_records").glob("*.csv")), *sorted((TESTS / "bad_records").glob("*.csv"))]


def result_of(file, judged, printed):
    data = file.read_bytes()
    result = judged(data)
    if isinstance(result, Finding):
        (record,) = read_records(printed(data), file.name)
        return unjudged(record, result)
    return result


@pytest.mark.parametrize("file", FILES, ids=lambda f: f.stem)
def test_every_result_meets_the_schema(file, judged, printed):
    result = result_of(file, judged, printed)
    SCHEMA.validate(json.loads(as_json([result]))[0])
    assert json.loads(as_line(result)) == json.loads(as_json([result]))[0]
    assert "\n" not in as_line(result)
    brief = as_brief(result)
    BRIEF.validate(json.loads(brief))
    assert "\n" not in brief
    assert len(brief) < 2500
    assert not any("\n" in line for line in told(result))


def test_a_file_that_cannot_be_read_gives_a_result_too():
    (record,) = read_records(b"\xff", "r")
    data = as_data(unjudged(record))
    SCHEMA.validate(data)
    assert (False, None, [], "EVA01") == (
        data["stands"],
        data["method"]["revision"],
        data["results"],
        data["findings"][0]["code"],
    )


def test_the_numbers_of_a_good_record(judged):
    data = as_data(judged((TESTS / "good_records" / "MCW-VIS-014.csv").read_bytes()))
    one = data["results"][0]
    assert (9.8, "9.8", "9.8 Pa·s", "in", 2) == (
        one["value"],
        one["unrounded"],
        one["reported"],
        one["verdict"],
        one["n"],
    )
    assert (8.0, 12.0, 10.0, 0.16, 0.5, "Pa·s") == tuple(
        one[k] for k in ("lower", "upper", "target", "range", "range_allowed", "range_unit")
    )
    assert ([48.6, 49.4], [23.1, 23.1, 23.0, 23.1]) == (one["torques"], one["temperatures"])
    assert {"bench-2", "R"} == {
        data["equipment"]["instrument"]["id"],
        data["equipment"]["instrument"]["spring"],
    }
    assert ("2026-12-02T10:20:00", 24 * 3600 + 600) == (data["sample"]["measured"], data["sample"]["age"])
    assert (9.7, 10.3, 10.0, 9.96, True) == tuple(
        data["verification"][k] for k in ("lower", "upper", "reference", "reading", "passed")
    )
    assert 150 == data["readings"][0]["after"]
    assert data["method"]["demonstration"]


def test_text_names_result_verdict_and_label(judged):
    text = "\n".join(told(judged((TESTS / "bad_records" / "EVA40-out.csv").read_bytes())))
    for said in ("DEMONSTRATION", "508 mPa·s", "OUT", "300–500 mPa·s", "guard on", "revision 1"):
        assert said in text


def test_text_shows_a_torque_that_is_a_bound_as_it_was_typed(judged, filled):
    result = judged(filled("BBM-VIS-007", {"reading.1.viscosity_50.torque": "> 100"}))
    assert "  no. 1 viscosity_50: > 100 gives > 800 mPa·s" in told(result)


def test_every_step_has_formula_digits_and_outcome(judged):
    result = judged((TESTS / "good_records" / "MCW-VIS-014.csv").read_bytes())
    assert all(s.title and s.formula and s.digits and s.text and s.source for s in result.steps)
    assert "48.6 % · 0.2 Pa·s/%" in [s.digits for s in result.steps]
    assert "(9.72 + 9.88) / 2" in [s.digits for s in result.steps]
