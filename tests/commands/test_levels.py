"""`fillmark levels`: who holds what, as a user sees it."""

import json

import pytest
from click.testing import CliRunner

from fillmark.cli import cli
from fillmark.releases.register import append, read, register_file

METHOD = "MCW-VIS-014"


@pytest.fixture
def run(laboratory, monkeypatch):
    """Run the command in the laboratory's folder, where Ana Lind holds level 2 until 2028-12-10."""
    monkeypatch.chdir(laboratory)
    append(
        laboratory,
        {
            "kind": "competency", "at": "2026-12-10T15:00:00+00:00", "by": "Q. Keeper", "what": "assessment",
            "person": "Ana Lind", "id": METHOD, "revision": 3, "digest": read(laboratory).entries[0].data["digest"],
            "day": "2026-12-10", "assessor": "R. Lindqvist", "assessor_level": 3, "occasion": "first", "passed": True,
            "level": 2, "valid_until": "2028-12-10", "form": "0" * 64,
        },
    )  # fmt: skip

    def call(*arguments):
        return CliRunner().invoke(cli, ["levels", *(str(a) for a in arguments)])

    return call


def test_nothing_due_is_clean_and_what_is_due_is_a_finding(run):
    assert 0 == run("--today", "2027-01-01").exit_code
    # The site policy asks for 60 days.
    assert 0 == run("--today", "2028-10-10").exit_code
    assert 1 == run("--today", "2028-10-11").exit_code
    assert 0 == run("--today", "2028-10-11", "--within", "10").exit_code
    done = run("--today", "2028-12-11")
    assert 1 == done.exit_code
    assert "lapsed" in done.output


def test_it_shows_one_method_or_one_person(run):
    today = ("--today", "2027-01-01")
    assert "Ana Lind" in run(METHOD, *today).output
    assert "tells of no assessment" in run("QAP-VIS-002", *today).output
    assert "Ana Lind" in run("--person", "ana lind", *today).output
    assert "tells of no assessment" in run("--person", "Bo Ek", *today).output


def test_runs_come_from_results(run, tmp_path, result_of):
    file = tmp_path / "results.jsonl"
    file.write_text(
        json.dumps(result_of(1, 10.0, "2027-06-01T09:00:00", people__analyst="Ana Lind")), encoding="utf-8"
    )
    done = run("--today", "2027-12-01", "--results", file, "--format", "json")
    (one,) = json.loads(done.stdout_bytes)["levels"]
    assert ("holds", "2027-06-01") == (one["state"], one["last_used"])
    (later,) = json.loads(run("--today", "2027-12-02", "--results", file, "--format", "json").stdout_bytes)[
        "levels"
    ]
    assert "lapsed" == later["state"]


@pytest.mark.usefixtures("run")
def test_a_register_that_cannot_be_relied_on_is_not_read_from(laboratory, through_main):
    file = register_file(laboratory)
    first, second = file.read_bytes().splitlines(keepends=True)
    file.write_bytes(second + first)
    code, told = through_main("levels", "--today", "2027-01-01")
    assert 2 == code
    assert "cannot be relied on" in told
