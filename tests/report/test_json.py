"""JSON in the shape of its own schema."""

import json
import os
from pathlib import Path

from jsonschema import Draft202012Validator

from fillmark import __version__
from fillmark.files import unreadable
from fillmark.pipeline import Compiled
from fillmark.report import written
from fillmark.report.json import tally, write

SCHEMA = Path(__file__).parents[2] / "schemas" / "diagnostics.schema.json"


def complaints(text):
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    return [e.message for e in Draft202012Validator(schema).iter_errors(json.loads(text))]


def test_every_run_has_the_shape_of_the_schema(clean, faulty, advised, missing, hostile):
    for done in ([], [clean], [clean, faulty, advised, missing, hostile]):
        assert [] == complaints(write(done))


def test_nothing_found_is_said_with_the_number_of_files(clean):
    found = {"error": 0, "warning": 0, "advice": 0, "waived": 0}
    policy = {"version": clean.method.reference.policy.version, "changed": {}}
    expected = {"fillmark": __version__, "files": 2, "policy": policy, "found": found, "diagnostics": []}
    assert expected == json.loads(write([clean, clean]))


def test_waived_findings_count_apart(waived, hostile):
    assert {"error": 0, "warning": 1, "advice": 0, "waived": 2} == tally(
        [*waived.diagnostics, *hostile.diagnostics]
    )


def test_a_file_name_that_is_no_utf8_is_written_with_its_bytes_spelt_out():
    name = os.fsdecode(b"\xff.yaml")
    done = Compiled(name, (unreadable(Path(name), FileNotFoundError(2, "gone")),))
    assert r"\udcff.yaml" == json.loads(written("json", [done]).decode())["diagnostics"][0]["file"]
