"""`fillmark verification-log`: the demonstration log, exit codes, files, and the results to look back on."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from fillmark.commands.verification_log import command

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "tests" / "good_logs" / "marlwick-verification.csv"


@pytest.fixture
def run():
    return lambda *options: CliRunner().invoke(command, [*map(str, options), "--today", "2026-11-25"])


@pytest.fixture
def log(tmp_path):
    def write(*entries):
        file = tmp_path / "log.json"
        file.write_text(json.dumps({"verification_log": 1, "entries": list(entries)}), encoding="utf-8")
        return file

    return write


def test_the_demonstration_log_is_read_to_the_last_entry_and_found_wanting(run):
    done = run(DEMO, ROOT / "methods", "--format", "json")
    whole = json.loads(done.stdout)
    assert (1, 90, 0, True) == (done.exit_code, whole["entries"], whole["left_out"], whole["demonstration"])
    assert 2 == len(whole["look_back"])
    assert {"MCW-VIS-014 revision 3", "BBM-VIS-007 revision 1"} == {c["band_from"] for c in whole["checks"]}
    assert {"LOG04", "LOG06", "LOG07", "LOG11", "LOG12"} == {f["code"] for f in whole["findings"]}


def test_a_clean_log_is_clean(run, log, check_of):
    done = run(log(check_of("2026-11-02T07:40"), check_of("2026-11-03T07:40", 0.2)))
    # The file's name stands before it, and how long that is decides where the line breaks.
    assert (0, True) == (done.exit_code, "2 checks: 2 pass, 0 fail." in " ".join(done.output.split()))


def test_a_log_of_which_nothing_can_be_read_is_wrong_use(run, tmp_path):
    (tmp_path / "x.csv").write_text("nothing here\n")
    assert 2 == run(tmp_path / "x.csv").exit_code
    assert 2 == run(tmp_path / "gone.csv").exit_code


def test_one_bad_entry_is_a_finding_and_the_rest_is_judged(run, log, check_of):
    done = run(log(check_of("2026-11-02T07:40"), check_of("2026-11-03T07:40", torque="5")))
    assert 1 == done.exit_code
    assert "1 check: 1 pass" in done.output
    assert "1 of 2 entries left out" in " ".join(done.output.split())


def test_the_list_is_made_of_result_files(run, log, check_of, result_of, tmp_path):
    results = tmp_path / "results.jsonl"
    results.write_text(json.dumps(result_of(1, 12.1, "2026-11-02T09:00")), encoding="utf-8")
    file = log(check_of("2026-11-02T07:40"), check_of("2026-11-03T07:40", 2.0))
    done = run(file, "--results", results)
    assert 1 == done.exit_code
    assert "COULD HAVE CHANGED" in " ".join(done.output.split())
    assert "LOG13" in done.output


def test_a_broken_result_among_them_is_told(run, log, check_of, tmp_path):
    (tmp_path / "results.jsonl").write_text("?")
    done = run(log(check_of("2026-11-02T07:40")), "--results", tmp_path / "results.jsonl")
    assert (1, True) == (done.exit_code, "TRD01" in done.output)


@pytest.mark.pdf
def test_page_pdf_and_json_are_written(run, log, check_of, tmp_path):
    out = tmp_path / "out"
    done = run(log(check_of("2026-11-02T07:40")), "--out", out, "--paper", "Letter")
    assert 0 == done.exit_code
    assert ["log.html", "log.json", "log.pdf"] == sorted(p.name for p in out.iterdir())
    assert 1 == len(json.loads((out / "log.json").read_text(encoding="utf-8"))["checks"])


def test_every_code_is_explained():
    from fillmark.explain import explain
    from fillmark.trending import measured, trends
    from fillmark.verification import log as verification_log
    from fillmark.verification import logbook

    for table in (logbook.CODES, measured.CODES, trends.CODES, verification_log.CODES):
        for code, (slug, what) in table.items():
            assert f"{code} {slug}\n\n{what}" == explain(code)
