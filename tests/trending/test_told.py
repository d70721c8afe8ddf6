"""Trends as text, JSON and CSV: the published shape, and nothing that a spreadsheet would run."""

import csv
import io
import json

import pytest
from jsonschema import Draft202012Validator

from fillmark.locate import schemas_folder
from fillmark.trending.measured import collect
from fillmark.trending.told import as_csv, as_json, reason_in_words, text, what_changed
from fillmark.trending.trends import trends


@pytest.fixture
def followed(tmp_path, result_of):
    def write(*results):
        file = tmp_path / "r.jsonl"
        file.write_text(
            "\n".join(json.dumps(r, ensure_ascii=False) for r in results) + "\n?", encoding="utf-8"
        )
        collection = collect([file])
        made, found = trends(collection, least=10)
        return made, collection, [*collection.diagnostics, *found]

    return write


@pytest.fixture
def some(followed, result_of):
    results = [result_of(i, 10 + (i % 3) / 5, f"2026-01-{i + 1:02}T08:00") for i in range(14)]
    results[9] = result_of(9, 14.0, "2026-01-10T08:00")
    results += [
        result_of(i, 20.0, f"2026-02-{i - 13:02}T08:00", bound=">", equipment__spindle__id="S-52")
        for i in (14, 15)
    ]
    results[3]["entries"] = [{"field": "lot", "corrections": [{"reason": "4"}]}]
    return followed(*results)


def test_the_json_has_the_published_shape_and_the_numbers(some):
    made, collection, said = some
    whole = json.loads(as_json(made, collection, said))
    schema = json.loads((schemas_folder() / "trend.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(whole)
    assert (16, 1) == (whole["read"]["results"], whole["read"]["broken"])
    (series,) = whole["methods"][0]["series"]
    first, second = series["segments"]
    assert (14, 0, 2) == (first["measures"]["result"]["values"], first["bounds"], second["bounds"])
    assert second["measures"]["result"]["mean"] is None
    assert [{"part": "spindle", "before": "R5 S-51", "after": "R5 S-52"}] == series["breaks"][0]["changes"]
    beyond = [s for s in first["measures"]["result"]["signals"] if s["rule"] == "beyond-3s"]
    assert ("2026-01-10T08:00:00Z", 10) == (beyond[0]["from"], beyond[0]["first"]["line"])


def test_the_csv_has_a_row_for_each_result(some):
    rows = list(csv.DictReader(io.StringIO(as_csv(some[0]).decode("utf-8-sig"))))
    assert 16 == len(rows)
    assert ("14.0", "", "1", "out") == tuple(rows[9][k] for k in ("value", "bound", "segment", "verdict"))
    assert ("20.0", ">", "2") == tuple(rows[14][k] for k in ("value", "bound", "segment"))


def test_no_cell_of_the_csv_is_a_formula(followed, result_of):
    evil = ("=1+1", "+SUM(A1)", "-2+3", "@cmd", '=HYPERLINK("x")')
    made, _, _ = followed(
        *(
            result_of(i, 10.0, f"2026-01-0{i + 1}T08:00", sample__lot=word, people__analyst=word,
                      equipment__instrument__id=word, results__0__reported=word)
            for i, word in enumerate(evil)
        )
    )  # fmt: skip
    rows = list(csv.reader(io.StringIO(as_csv(made).decode("utf-8-sig"))))
    cells = [cell for row in rows for cell in row]
    assert not [c for c in cells if c.startswith(("=", "+", "@", "\t", "\r", "-2+"))]
    assert sum(c.startswith("'") for c in cells) >= 4 * len(evil)


def test_the_text_names_what_was_left_out_and_what_was_set_apart(some):
    made, collection, _ = some
    shown = text(made, collection)
    assert "16 results taken in from 1 file; 1 left out because they cannot be used." in shown
    assert "no value to average; 2 bounds, not averaged" in shown
    assert "1 times lot: 4 wrong field" in shown
    assert "DEMONSTRATION: invented data" in shown
    assert max(map(len, shown.splitlines())) <= 100


@pytest.mark.parametrize(("code", "words"), [("2", "2 misread"), ("9", "9"), ("", "no reason written")])
def test_reason_codes(code, words):
    assert words == reason_in_words(code)


def test_a_change_to_nothing_is_said():
    assert "guard: fitted before, not written after" == what_changed([("guard", "fitted", "")])
