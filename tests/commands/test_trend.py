"""`fillmark trend`: files, exit codes, and names that come from other people."""

import json

import pytest
from click.testing import CliRunner

from fillmark.commands.trend import command


@pytest.fixture
def run(tmp_path, result_of):
    def call(*results, options=()):
        file = tmp_path / "r.jsonl"
        file.write_text(
            "\n".join(r if isinstance(r, str) else json.dumps(r) for r in results), encoding="utf-8"
        )
        return CliRunner().invoke(command, [str(file), "--today", "2026-11-25", *options])

    return call


@pytest.fixture
def steady(result_of):
    return [result_of(i, 10 + (i % 2) / 10, f"2026-01-{i + 1:02}T08:00") for i in range(12)]


def test_a_steady_method_is_clean(run, steady):
    done = run(*steady)
    assert (0, True) == (done.exit_code, "12 values, mean 10.05 Pa·s" in done.output)


def test_a_broken_line_is_a_finding(run, steady):
    done = run(*steady, "?")
    assert 1 == done.exit_code
    assert "r.jsonl:13:1: error TRD01" in done.output


def test_no_result_at_all_is_wrong_use(run):
    assert 2 == run("?").exit_code
    assert 2 == run("").exit_code


def test_json_on_the_standard_output_is_json_alone(run, steady):
    done = run(*steady, "?", options=("--format", "json"))
    assert (1, 12, 1) == (
        done.exit_code, json.loads(done.stdout)["read"]["results"], json.loads(done.stdout)["read"]["broken"]
    )  # fmt: skip


def test_page_json_and_csv_of_each_method(run, steady, tmp_path, result_of):
    out = tmp_path / "out"
    done = run(
        *steady, result_of(99, 10.0, "2026-01-01T08:00", method__id="B-1"), options=("--out", str(out))
    )
    assert 0 == done.exit_code
    assert [f"{m}-trend.{s}" for m in ("B-1", "MCW-VIS-014") for s in ("csv", "html", "json")] == sorted(
        p.name for p in out.iterdir()
    )


def test_one_method_alone(run, steady, result_of):
    done = run(
        *steady, result_of(99, 10.0, "2026-01-01T08:00", method__id="B-1"), options=("--method", "B-1")
    )
    assert "12 of other methods" in done.output
    assert "B-1  " in done.output
    assert "MCW" not in done.output.replace("r.jsonl", "")


@pytest.mark.parametrize("name", ["../../etc/passwd", "..", "/abs", "a\\b", "CON:x", "x" * 200, "ü/é"])
def test_no_id_leads_out_of_the_folder(run, tmp_path, result_of, name):
    out = tmp_path / "deep" / "out"
    before = {p for p in tmp_path.rglob("*") if "out" not in p.parts}
    run(result_of(1, 10.0, "2026-01-01T08:00", method__id=name), options=("--out", str(out)))
    made = list(out.iterdir())
    assert 3 == len(made)
    assert all(p.parent == out and p.name.isascii() for p in made)
    assert before | {tmp_path / "deep", tmp_path / "r.jsonl"} >= {
        p for p in tmp_path.rglob("*") if out not in (p, *p.parents)
    }


def test_two_ids_that_look_alike_as_file_names_have_files_of_their_own(run, tmp_path, result_of):
    out = tmp_path / "out"
    run(
        result_of(1, 10.0, "2026-01-01T08:00", method__id="a/b"),
        result_of(2, 10.0, "2026-01-01T08:00", method__id="A?b"),
        options=("--out", str(out)),
    )  # fmt: skip
    assert 6 == len(list(out.iterdir()))


def test_an_out_that_cannot_be_made_is_told(run, steady, tmp_path):
    (tmp_path / "file").write_text("")
    done = run(*steady, options=("--out", str(tmp_path / "file" / "out")))
    assert 2 == done.exit_code
    assert "is not written" in done.output
