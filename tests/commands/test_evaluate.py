"""`fillmark record` and `fillmark evaluate` at the command line."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from fillmark.cli import cli
from fillmark.digest import digest
from fillmark.locate import schemas_folder
from fillmark.pipeline import compile_method
from fillmark.trending.measured import collect

TESTS = Path(__file__).parents[1]
ROOT = TESTS.parent


@pytest.fixture
def home(tmp_path, reference):
    """A laboratory with two of the demonstration methods, and records of them."""
    for name in ("MCW-VIS-014", "BBM-VIS-007"):
        (tmp_path / "methods").mkdir(exist_ok=True)
        shutil.copy(ROOT / "methods" / f"{name}.yaml", tmp_path / "methods")
    (tmp_path / "shared").mkdir()
    shutil.copy(ROOT / "shared" / "instruments.yaml", tmp_path / "shared")
    (tmp_path / "records").mkdir()
    return tmp_path


def put(home, reference, name: str, where: str = "") -> Path:
    folder = "bad_records" if name.startswith("EVA") else "good_records"
    data = (TESTS / folder / f"{name}.csv").read_bytes()
    method = "MCW-VIS-014" if b"MCW" in data else "BBM-VIS-007"
    one = compile_method((ROOT / "methods" / f"{method}.yaml").read_bytes(), "m", reference)
    file = home / "records" / (where or f"{name}.csv")
    file.write_bytes(data.replace(b"@digest", digest(one.method)[:8].encode()))
    return file


def run(*arguments):
    done = CliRunner().invoke(cli, [str(a) for a in arguments])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done


def test_clean_records_give_0_and_findings_1(home, reference):
    good = put(home, reference, "MCW-VIS-014")
    done = run("evaluate", good)
    assert 0 == done.exit_code
    assert "viscosity_20 = 9.8 Pa·s" in done.output
    bad = put(home, reference, "EVA25-zero")
    done = run("evaluate", bad)
    assert 1 == done.exit_code
    assert "EVA25 zero-outside-limits" in done.output
    assert 1 == run("evaluate", home / "records").exit_code


def test_json_and_lines_for_programs(home, reference):
    put(home, reference, "MCW-VIS-014")
    put(home, reference, "BBM-VIS-007")
    schema = Draft202012Validator(
        json.loads((schemas_folder() / "result.schema.json").read_text(encoding="utf-8"))
    )
    array = json.loads(run("evaluate", home / "records", "--format", "json").stdout)
    lines = [
        json.loads(line)
        for line in run("evaluate", home / "records", "--format", "jsonl").stdout.splitlines()
    ]
    assert array == lines
    assert ["BBM-VIS-007", "MCW-VIS-014"] == [one["method"]["id"] for one in lines]
    for one in lines:
        schema.validate(one)


def test_brief_lines_give_the_same_trend_as_whole_ones(home, reference):
    put(home, reference, "MCW-VIS-014")
    put(home, reference, "EVA23-warm")
    put(home, reference, "EVA42-no-initials")
    found = {}
    for form in ("jsonl", "brief"):
        file = home / "results.jsonl"
        done = run("evaluate", home / "records", "--format", form)
        file.write_bytes(done.stdout_bytes)
        found[form] = (done.exit_code, len(done.stdout.splitlines()), collect([file]))
    assert found["jsonl"] == found["brief"]
    code, lines, collection = found["brief"]
    assert (1, 3, []) == (code, lines, collection.diagnostics)
    assert 6 == len(collection.measured)
    assert collection.corrections
    assert "EVA23" in {key[1] for key in collection.findings}


def test_what_cannot_be_read_gives_2_and_the_others_are_judged_all_the_same(home, reference):
    put(home, reference, "MCW-VIS-014")
    (home / "records" / "broken.csv").write_bytes(b"\xff\x00\xff")
    done = run("evaluate", home / "records")
    assert 2 == done.exit_code
    assert "EVA01" in done.output
    assert "viscosity_20 = 9.8 Pa·s" in done.output
    (home / "empty").mkdir()
    assert 2 == run("evaluate", home / "empty").exit_code


def test_the_same_record_twice_is_told(home, reference):
    put(home, reference, "MCW-VIS-014")
    put(home, reference, "MCW-VIS-014", "again.csv")
    assert "EVA44" in run("evaluate", home / "records").output
    # Line by line as well, where nothing but the occasion is kept of the records before.
    first, second = run("evaluate", home / "records", "--format", "jsonl").stdout.splitlines()
    assert [] == json.loads(first)["findings"]
    (finding,) = json.loads(second)["findings"]
    assert "EVA44" == finding["code"]
    assert "says the same, entry by entry" in finding["message"]


def test_a_method_that_was_named_judges_and_no_other(home, reference):
    good = put(home, reference, "MCW-VIS-014")
    assert 0 == run("evaluate", good, "--method", home / "methods" / "MCW-VIS-014.yaml").exit_code
    done = run("evaluate", good, "--method", home / "methods" / "BBM-VIS-007.yaml")
    assert 1 == done.exit_code
    assert "EVA11" in done.output
    broken = home / "methods" / "broken.zip"
    broken.write_bytes(b"PK")
    assert 2 == run("evaluate", good, "--method", broken).exit_code


def test_a_method_with_errors_judges_nothing(home, reference):
    good = put(home, reference, "MCW-VIS-014")
    file = home / "methods" / "MCW-VIS-014.yaml"
    file.write_text(
        file.read_text(encoding="utf-8").replace("guard: required", "guard: not-used"), encoding="utf-8"
    )
    done = run("evaluate", good)
    assert 1 == done.exit_code
    assert "has errors" in " ".join(done.output.split())


def test_pages_and_result_files_are_written(home, reference):
    good = put(home, reference, "MCW-VIS-014")
    done = run("evaluate", good, "--out", home / "results", "--page", "html", "--paper", "Letter")
    assert 0 == done.exit_code
    names = sorted(f.name for f in (home / "results").iterdir())
    assert ["MCW-VIS-014-result-Letter.html", "MCW-VIS-014-result.json"] == names
    assert 0 == run("evaluate", good, "--out", home / "records", "--page", "html").exit_code
    assert 0 == run("evaluate", home / "records").exit_code
    assert "The result stands" in (home / "results" / names[0]).read_text(encoding="utf-8")


def test_a_name_in_a_record_never_leads_out_of_the_folder(home, reference):
    file = home / "records" / "x.json"
    file.write_text(
        json.dumps({"record": 1, "name": "../../../evil", "method": {"id": "../../MCW-VIS-014"}, "zero": 1}),
        encoding="utf-8",
    )
    run("evaluate", file, "--out", home / "results")
    assert ["MCW-VIS-014-x-evil-result.json"] == [f.name for f in (home / "results").iterdir()]
    assert [] == list(home.parent.glob("evil*"))


def test_an_empty_record_is_written_and_never_over_one_that_is_there(home):
    done = run("record", home / "methods", "--out", home / "records", "--form", "csv", "--form", "json")
    assert 0 == done.exit_code
    names = sorted(f.name for f in (home / "records").iterdir())
    assert [
        f"{m}-record.{form}" for m in ("BBM-VIS-007-r1", "MCW-VIS-014-r3") for form in ("csv", "json")
    ] == names
    file = home / "records" / names[0]
    file.write_text("begun", encoding="utf-8")
    done = run("record", home / "methods", "--out", home / "records")
    assert 2 == done.exit_code
    assert "left as it is" in done.output or "left as it was" in done.output
    assert "begun" == file.read_text(encoding="utf-8")


def test_every_code_is_explained():
    from fillmark.explain import explain
    from fillmark.records.codes import KNOWN

    for code, (slug, _, text) in KNOWN.items():
        said = explain(code)
        assert said is not None
        assert slug in said
        assert text in said
