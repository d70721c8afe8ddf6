"""`fillmark study`: what it prints, writes and refuses, as a user sees it."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from fillmark.cli import cli
from fillmark.studies.bridging import CHANGES

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "schemas" / "study.schema.json").read_text(encoding="utf-8"))
GLUCOSE = ROOT / "tests" / "studies" / "data" / "e691-glucose.csv"
TEMPERATURES = "temperature;viscosity [Pa·s]\n21;10,60\n21;10,65\n23;10,00\n23;10,04\n25;9,42\n25;9,40\n"


@pytest.fixture
def study(tmp_path, monkeypatch):
    """Run the command in a folder with a draft method and data; gives what came of it."""
    text = (ROOT / "methods" / "MCW-VIS-014.yaml").read_text(encoding="utf-8")
    (tmp_path / "draft.yaml").write_text(text.replace("status: released", "status: draft"), encoding="utf-8")
    (tmp_path / "released.yaml").write_text(text, encoding="utf-8")
    (tmp_path / "t.csv").write_text(TEMPERATURES, encoding="utf-8")
    shutil.copy(GLUCOSE, tmp_path / "glucose.csv")
    monkeypatch.chdir(tmp_path)

    def run(*arguments):
        return CliRunner().invoke(cli, ["study", *arguments])

    return run


def test_it_says_what_was_found_and_where(study):
    done = study("precision", "glucose.csv", "--material", "C")
    assert 1 == done.exit_code
    assert "24 results in 8 groups of 1 material; 1 group stands apart and still counts." in done.output
    assert "glucose.csv:61:7: warning STU16" in done.output


def test_nothing_to_say_is_exit_code_0(study):
    done = study("temperature", "t.csv")
    assert 0 == done.exit_code, done.output
    assert "The viscosity falls by 3.0" in done.output


def test_json_is_json_alone_and_bears_the_day(study):
    done = study("precision", "glucose.csv", "--format", "json", "--today", "2026-11-26")
    data = json.loads(done.stdout)
    Draft202012Validator(SCHEMA).validate(data)
    assert "2026-11-26" == data["evaluated"]


def test_a_preview_shows_the_change_and_writes_nothing(study, tmp_path):
    before = (tmp_path / "draft.yaml").read_bytes()
    done = study("temperature", "t.csv", "draft.yaml", "--write", "--preview")
    assert "+  temperature_sensitivity: 3.0 %/K" in done.output
    assert "Nothing was written." in done.output
    assert before == (tmp_path / "draft.yaml").read_bytes()


def test_writing_puts_value_and_evidence_into_the_file(study, tmp_path):
    done = study("temperature", "t.csv", "draft.yaml", "--write", "--today", "2026-11-26")
    assert 1 == done.exit_code  # the method said 2.0 %/K
    text = (tmp_path / "draft.yaml").read_text(encoding="utf-8")
    assert "temperature_sensitivity: 3.0 %/K" in text
    assert "worked out 2026-11-26" in text
    assert 0 == study("temperature", "t.csv", "draft.yaml").exit_code


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["temperature", "t.csv", "released.yaml", "--write"], "its status is released"),
        (["temperature", "t.csv", "--write"], "--write needs a method file"),
        (["temperature", "t.csv", "draft.yaml", "--preview"], "write both"),
        (["temperature"], "Name a data file"),
        (["temperature", "t.csv", "--target", "23"], "--target"),
        (["temperature", "t.csv", "--page", "x.txt"], ".html or .pdf"),
        (["precision", "t.csv"], "The column laboratory is missing"),
        (["precision", "glucose.csv", "--by", "value"], "--by value"),
        (["precision", "glucose.csv", "--material", "Z"], "There is no material Z"),
        (["bridging", "t.csv"], "Name what changes with --change"),
        (["bridging", "--template"], "Name a --seed"),
        (["bridging", "p.csv", "--change", "guard", "--margin", "4"], "is no margin"),
    ],
)
def test_wrong_use_is_exit_code_2(study, tmp_path, arguments, said):
    (tmp_path / "p.csv").write_text("lot,old,new\n1,2,2.1\n2,3,3.2\n", encoding="utf-8")
    done = study(*arguments)
    assert 2 == done.exit_code, done.output
    assert said in done.output + done.stderr


def test_a_method_that_cannot_be_read_is_told_first(study, tmp_path):
    (tmp_path / "draft.yaml").write_text("fillmark: 1\n", encoding="utf-8")
    done = study("temperature", "t.csv", "draft.yaml")
    assert done.exit_code in (1, 2)
    assert "The method must be readable" in done.output + done.stderr


@pytest.mark.parametrize("kind", ["precision", "ranges", "temperature", "scouting"])
def test_a_template_is_a_data_file_with_every_column_explained(study, tmp_path, kind):
    done = study(kind, "--template")
    assert 0 == done.exit_code
    (tmp_path / "sheet.csv").write_text(done.output, encoding="utf-8")
    headings = done.output.strip().splitlines()[-1].split(",")
    for heading in headings:
        name = heading.partition(" ")[0]
        assert f"# {name}" in done.output
    empty = study(kind, "sheet.csv")
    assert 2 == empty.exit_code
    assert "STU02" not in empty.output + empty.stderr


def test_the_sheet_of_a_bridging_study_bears_its_seed(study):
    done = study("bridging", "--template", "--seed", "7", "--lots", "12")
    assert "# order drawn with seed 7" in done.output
    assert 12 == done.output.count(",product,")


def test_the_margin_of_the_transfer_sheet_is_taken_where_none_is_given(study, tmp_path):
    rows = [f"{i},{8.1 + i / 3:.3f},{8.1 + i / 3 + 0.01 * (i % 3):.3f}" for i in range(12)]
    (tmp_path / "p.csv").write_text("lot,old [Pa·s],new [Pa·s]\n" + "\n".join(rows), encoding="utf-8")
    done = study("bridging", "p.csv", "draft.yaml", "--change", "instrument")
    # A quarter of half of 8 to 12 Pa·s.
    assert "margin: 0.5 Pa·s" in done.output


def test_a_page_is_written_beside(study, tmp_path):
    done = study("temperature", "t.csv", "--page", "t.html")
    assert 0 == done.exit_code
    html = (tmp_path / "t.html").read_text(encoding="utf-8")
    assert "Temperature sensitivity" in html
    assert "<svg" in html


def test_every_change_is_explained_in_words():
    assert all(words and words[0].islower() for words, _ in CHANGES.values())


def test_every_code_of_studies_is_explained():
    done = CliRunner().invoke(cli, ["explain", "list"])
    for number in (*range(1, 8), *range(11, 37)):
        assert f"STU{number:02}" in done.output


def test_what_the_method_says_otherwise_stands_at_its_line(study, tmp_path):
    lines = (tmp_path / "draft.yaml").read_text(encoding="utf-8").splitlines()
    at = 1 + next(i for i, line in enumerate(lines) if "temperature_sensitivity:" in line)
    done = study("temperature", "t.csv", "draft.yaml")
    assert f"draft.yaml:{at}:28: warning STU19" in done.output
    assert f"{at} ┊   temperature_sensitivity: 2.0 %/K" in done.output
    assert "1 warning in 1 of 2 files." in done.output
    data = json.loads(study("temperature", "t.csv", "draft.yaml", "--format", "json").stdout)
    [d] = data["diagnostics"]
    assert ("draft.yaml", at, ["product", "temperature_sensitivity"]) == (d["file"], d["line"], d["path"])


def test_a_doubtful_comparison_is_valid_json_and_exit_code_1(study, tmp_path):
    rows = "".join(f"L{i},product,{9 + i},{9 + i + d},{o}-first\n" for i, (d, o) in
                   enumerate(((0.011, "old"), (-0.012, "new"), (0.004, "old"))))  # fmt: skip
    (tmp_path / "p.csv").write_text(f"lot,kind,old [Pa·s],new [Pa·s],order\n{rows}", encoding="utf-8")
    done = study("bridging", "p.csv", "draft.yaml", "--change", "laboratory", "--format", "json")
    data = json.loads(done.stdout)
    Draft202012Validator(SCHEMA).validate(data)
    assert (1, "doubtful") == (done.exit_code, data["verdict"])
    # The transfer sheet of the method bears 0.5 Pa·s for the product.
    assert "0.5 Pa·s, of the transfer sheet" == data["settings"]["margin"]
