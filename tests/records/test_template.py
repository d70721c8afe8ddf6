"""Empty records: read back as they were written, the same in every form, and shaped as the schema says."""

import json

import pytest
from jsonschema import Draft202012Validator

from fillmark.digest import digest
from fillmark.locate import schemas_folder
from fillmark.records.evaluate import evaluate
from fillmark.records.fields import fields_of
from fillmark.records.reading import read_records
from fillmark.records.template import as_csv, as_json, as_xlsx

DEMOS = ("BBM-VIS-007", "LMT-VIS-021", "MCW-VIS-014", "QAP-VIS-002", "TGF-VIS-003")
SCHEMA = json.loads((schemas_folder() / "record.schema.json").read_text(encoding="utf-8"))


def forms(one):
    pytest.importorskip("openpyxl")
    mark = digest(one.method)
    return {
        name: make(one.method, one.figures, mark)
        for name, make in (("csv", as_csv), ("xlsx", as_xlsx), ("json", as_json))
    }


@pytest.mark.parametrize("demo", DEMOS)
def test_the_forms_say_the_same_and_are_read_without_a_fault(demo, compiled):
    one = compiled(demo)
    names = [f.key for f in fields_of(one.method, one.figures, digest(one.method))]
    assert len(set(names)) == len(names)
    for form, data in forms(one).items():
        (record,) = read_records(data, f"r.{form}")
        assert form == record.format
        assert () == record.findings
        assert names == list(record.entries), form
        assert {"method.id": demo, "method.revision": str(one.method.revision)} == {
            k: e.text for k, e in record.entries.items() if e.text and k != "method.digest"
        }
        result = evaluate(record, one.method, one.figures, digest(one.method))
        assert ["EVA43"] == [f.code for f in result.findings]


@pytest.mark.parametrize("demo", DEMOS)
def test_the_json_template_meets_the_schema_and_has_every_key_of_it(demo, compiled):
    data = json.loads(forms(compiled(demo))["json"])
    Draft202012Validator(SCHEMA).validate(data)
    known = SCHEMA["$defs"]["record"]["properties"]
    assert set(data) <= set(known)
    for part, entries in data.items():
        if isinstance(entries, dict):
            assert set(entries) <= set(known[part]["properties"])


def test_every_entry_of_the_schema_is_asked_by_some_method(compiled):
    asked = {
        key
        for demo in DEMOS
        for key in (f.key for f in fields_of(compiled(demo).method, compiled(demo).figures, "0" * 64))
    }
    parts = {(k.split(".")[0], k.split(".")[-1]) for k in asked}
    lists = {"loadings": "loading", "readings": "reading"}
    for part, inner in SCHEMA["$defs"]["record"]["properties"].items():
        properties = inner.get("items", inner).get("properties", {})
        for name in properties:
            if part == "adapter" or name in ("no", "step", "result"):
                continue
            assert (lists.get(part, part), name) in parts, (part, name)


def test_the_same_method_gives_the_same_bytes(compiled):
    one = compiled("MCW-VIS-014")
    assert forms(one) == forms(one)


def test_demonstration_data_is_labelled(compiled):
    made = forms(compiled("MCW-VIS-014"))
    assert "DEMONSTRATION" in made["csv"].decode()
    assert "DEMONSTRATION" in made["json"].decode()


def test_no_cell_is_a_formula(compiled):
    openpyxl = pytest.importorskip("openpyxl")
    import io

    one = compiled("MCW-VIS-014", ("largest_particle: 80 µm", "largest_particle: 80 µm"))
    made = forms(one)
    for line in made["csv"].decode("utf-8-sig").splitlines():
        for cell in line.split(","):
            assert not cell.startswith(("=", "+", "-", "@", "\t"))
    for row in openpyxl.load_workbook(io.BytesIO(made["xlsx"])).active.iter_rows():
        for cell in row:
            assert cell.data_type in ("s", "n")
            assert cell.value is None or isinstance(cell.value, str)
