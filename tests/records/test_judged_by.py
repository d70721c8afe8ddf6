"""By which method a record is judged: the revision and digest its sheet bears, also where they are not the newest."""

import json
import shutil
from pathlib import Path

import pytest

from fillmark.digest import digest
from fillmark.pipeline import compile_method
from fillmark.records.evaluate import evaluate
from fillmark.records.judged_by import Judge, Library, of_bundle, of_compiled
from fillmark.records.reading import read_records
from fillmark.records.record import Finding
from fillmark.reference import load
from fillmark.releases.bundle import digest_of, open_bundle

BUNDLE = Path("released") / "MCW-VIS-014" / "MCW-VIS-014-r3.zip"


def library_of(home: Path) -> Library:
    reference, _ = load(home)
    files = sorted((home / "methods").glob("*.yaml"))
    return Library([compile_method(f.read_bytes(), f.name, reference) for f in files], home)


def record_of(filled, mark: str, revision: str = "3"):
    data = filled("MCW-VIS-014", {"method.digest": mark[:8], "method.revision": revision})
    return read_records(data, "r.csv")[0]


def released_digest(home: Path) -> str:
    bundle, _ = open_bundle((home / BUNDLE).read_bytes(), "b")
    return bundle.manifest["digest"]


def test_a_sheet_of_an_earlier_revision_is_judged_by_its_release(laboratory, revised, filled):
    mark = released_digest(laboratory)
    revised()
    judge = library_of(laboratory).judge_of(record_of(filled, mark))
    assert isinstance(judge, Judge)
    assert (3, mark) == (judge.method.revision, judge.digest)
    assert () == evaluate(record_of(filled, mark), judge.method, judge.figures, judge.digest).findings


def test_a_sheet_of_the_workspace_is_judged_by_the_workspace(laboratory, revised, filled):
    revised()
    library = library_of(laboratory)
    mark = digest(library.compiled[0].method)
    judge = library.judge_of(record_of(filled, mark, "4"))
    assert (4, mark) == (judge.method.revision, judge.digest)


def test_without_a_release_of_it_the_finding_says_that_the_revision_is_another(laboratory, revised, filled):
    revised()
    shutil.rmtree(laboratory / "released")
    record = record_of(filled, "0" * 8)
    judge = library_of(laboratory).judge_of(record)
    result = evaluate(record, judge.method, judge.figures, judge.digest)
    assert ["EVA12"] == [f.code for f in result.findings]


def test_a_bundle_without_its_line_in_the_register_judges_nothing(laboratory, revised, filled):
    mark = released_digest(laboratory)
    revised()
    (laboratory / "released" / "register.jsonl").unlink()
    judge = library_of(laboratory).judge_of(record_of(filled, mark))
    assert 4 == judge.method.revision


def test_a_bundle_that_was_changed_judges_nothing(laboratory, revised, filled):
    mark = released_digest(laboratory)
    revised()
    file = laboratory / BUNDLE
    file.write_bytes(file.read_bytes().replace(b"30 turns", b"31 turns", 1))
    assert 4 == library_of(laboratory).judge_of(record_of(filled, mark)).method.revision
    assert isinstance(of_bundle(file.read_bytes(), "b"), str)


def test_a_recall_is_told(laboratory, filled, tmp_path):
    from click.testing import CliRunner

    from fillmark.cli import cli

    done = CliRunner().invoke(
        cli,
        ["recall", "MCW-VIS-014", "--revision", "3", "--whole", "--workspace", str(laboratory), "--by", "H. Marlow",
         "--reason", "Wrong bath time.",
         "--out", str(tmp_path / "notice")],
    )  # fmt: skip
    assert 0 == done.exit_code, done.output
    judge = library_of(laboratory).judge_of(record_of(filled, released_digest(laboratory)))
    assert "Wrong bath time." == judge.recalled


def test_a_bundle_that_was_named(laboratory, filled):
    data = (laboratory / BUNDLE).read_bytes()
    judge = of_bundle(data, "b.zip")
    bundle, _ = open_bundle(data, "b")
    assert digest_of(bundle, judge.method) == judge.digest
    library = Library((), named=judge)
    assert judge == library.judge_of(record_of(filled, judge.digest))
    other = read_records(filled("BBM-VIS-007"), "r")[0]
    assert "EVA11" == library.judge_of(other).code


@pytest.mark.parametrize("text", ["", "NO-SUCH-001", "../../etc/passwd", "x" * 500])
def test_without_a_method_the_finding_names_what_there_is(text, library):
    (record,) = read_records(json.dumps({"record": 1, "method": {"id": text}, "zero": 1}).encode(), "r")
    finding = library.judge_of(record)
    assert isinstance(finding, Finding)
    assert "EVA11" == finding.code
    assert 2 == len(finding.ways_out)


def test_a_method_with_errors_has_no_judge(compiled):
    one = compiled("MCW-VIS-014", ("guard: required", "guard: not-used"))
    assert of_compiled(one).startswith(tuple("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
