"""The outcome as text and as JSON."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from fillmark.studies import precision, ranges, scouting, temperature
from fillmark.studies.told import WIDTH, as_json, as_text, cell_text

SCHEMA = json.loads((Path(__file__).parents[2] / "schemas" / "study.schema.json").read_text(encoding="utf-8"))


@pytest.fixture
def outcome(table_of, reference, glucose):
    table = table_of(glucose, precision.columns(["laboratory"]))
    return precision.study(table, reference.policy, None, "2026-11-25", by=["laboratory"])


def test_json_meets_its_schema_and_has_every_number(outcome, reference):
    data = json.loads(as_json(outcome, None, reference.policy, "2026-11-25"))
    Draft202012Validator(SCHEMA).validate(data)
    assert 40 == len(data["tables"][1]["rows"])
    assert "ef40ff1c" == data["data"]["sha256"][:8]
    [figure] = [f for f in data["figures"] if f["key"] == "E.repeatability_sd"]
    assert 3.9350 == pytest.approx(figure["value"], abs=5e-5)


def test_json_of_other_kinds_with_a_method(table_of, reference, compiled):
    method = compiled("MCW-VIS-014").method
    day = "2026-11-25"
    temperatures = "temperature,value [Pa·s]\n21,10.4\n23,10.01\n25,9.6\n25,9.61\n"
    ramps = "part,speed,direction,torque\nramp,2,up,20\nramp,20,up,50\nramp,50,up,80\n"
    pairs = "laboratory,value [Pa·s]\nA,10.01\nA,10.11\nB,10.2\nB,10.07\n"
    for one in (
        temperature.study(table_of(temperatures, temperature.columns()), reference.policy, method, day),
        scouting.study(table_of(ramps, scouting.columns()), reference.policy, method, day),
        ranges.study(
            table_of(pairs, ranges.columns(["laboratory"])), reference.policy, method, day, by=["laboratory"]
        ),
    ):
        data = json.loads(as_json(one, method, reference.policy, day))
        Draft202012Validator(SCHEMA).validate(data)
        assert "MCW-VIS-014" == data["method"]["id"]


def test_text_is_as_wide_as_a_terminal_and_says_the_verdict_first(outcome):
    lines = as_text(outcome, None, ascii_only=False).splitlines()
    assert "120 results in 40 groups of 5 materials; 2 groups stand apart and still count." == lines[1]
    assert max(len(line) for line in lines) <= WIDTH + 10
    assert as_text(outcome, None, ascii_only=True).isascii()


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (None, None, ""),
        ("x", 2, "x"),
        (123456.0, None, "123456"),
        (0.012346, None, "0.01235"),
        (2.4091, 2, "2.41"),
    ],
)
def test_cells(value, decimals, text):
    assert text == cell_text(value, decimals)
