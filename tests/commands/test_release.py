"""`fillmark release`: what it prints, writes and refuses, as a user sees it."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from fillmark.cli import cli
from fillmark.releases.register import read, register_file

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "schemas" / "release.schema.json").read_text(encoding="utf-8"))


@pytest.fixture
def release(laboratory, monkeypatch):
    """Run the command in the laboratory's folder; gives what came of it."""
    monkeypatch.chdir(laboratory)

    def run(*arguments, by="H. Marlow"):
        given = [
            "release",
            "methods/MCW-VIS-014.yaml",
            "--by",
            by,
            "--html-only",
            "--at",
            "2026-11-26T10:00:00+01:00",
        ]
        return CliRunner().invoke(cli, [*given, *arguments])

    return run


def test_it_releases_and_says_what_follows(revised, release, laboratory):
    revised()
    done = release()
    assert 0 == done.exit_code, done.output
    assert "Released: MCW-VIS-014 revision 4" in done.output
    assert "class parameter, supervised run" in done.output
    # It is released on 2026-11-26, and people work by it from 2026-12-01.
    assert "When revision 4 takes effect, on 2026-12-01, call back the copies of revision 3." in done.output
    (_, entry) = read(laboratory).entries
    assert ("2026-11-26T10:00:00+01:00", "H. Marlow", 4) == (entry.at, entry.by, entry.data["revision"])
    assert (laboratory / "released" / entry.data["bundle"]).is_file()


def test_copies_come_back_at_once_where_the_revision_is_in_force_at_once(revised, release):
    revised(("effective: 2026-12-01", "effective: 2026-11-26"))
    assert "Revision 3 is superseded: call back its copies." in release().output


def test_a_preview_says_all_and_does_nothing(revised, release, laboratory):
    revised()
    before = register_file(laboratory).read_bytes()
    done = release("--preview")
    assert 0 == done.exit_code
    assert "would be released by H. Marlow at 2026-11-26T10:00:00+01:00" in done.output
    assert "class parameter" in done.output
    assert "Nothing was done." in done.output
    assert before == register_file(laboratory).read_bytes()
    assert ["MCW-VIS-014-r3.zip"] == [f.name for f in (laboratory / "released" / "MCW-VIS-014").iterdir()]


def test_a_preview_of_what_is_refused_is_refused(release):
    assert 1 == release("--preview").exit_code


def test_a_refusal_shows_the_line_the_reason_and_two_ways_out(release, laboratory):
    before = register_file(laboratory).read_bytes()
    done = release()
    assert 1 == done.exit_code
    assert "error REL05 revision-not-greater" in done.output
    assert "revision: 3" in done.output
    assert 2 <= done.output.count("• ")
    assert "Nothing was released." in done.output
    assert before == register_file(laboratory).read_bytes()


@pytest.mark.parametrize(("arguments", "code"), [((), 0), (("--preview",), 0)])
def test_json_meets_its_schema(revised, release, arguments, code):
    revised()
    done = release("--format", "json", *arguments)
    assert code == done.exit_code
    whole = json.loads(done.stdout)
    Draft202012Validator(SCHEMA).validate(whole)
    assert (not arguments, bool(arguments)) == (whole["released"], whole["preview"])
    assert ("MCW-VIS-014", 4, 3, "parameter", "supervised run") == tuple(
        whole[k] for k in ("id", "revision", "previous", "class", "trigger")
    )


def test_a_refusal_as_json_meets_its_schema(release):
    done = release("--format", "json")
    assert 1 == done.exit_code
    whole = json.loads(done.stdout)
    Draft202012Validator(SCHEMA).validate(whole)
    assert ["REL05", "REL07"] == [d["code"] for d in whole["refusals"]]


def test_it_signs(revised, release, laboratory, tmp_path):
    if shutil.which("ssh-keygen") is None:
        pytest.skip("needs ssh-keygen")
    subprocess.run(["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-f", str(tmp_path / "key")], check=True)
    public = (tmp_path / "key.pub").read_text(encoding="utf-8")
    (laboratory / "shared" / "allowed-signers").write_text(f"h.marlow {public}", encoding="utf-8")
    revised()
    done = release("--sign", str(tmp_path / "key"))
    assert 0 == done.exit_code, done.output
    assert "signed" in done.output
    seen = CliRunner().invoke(cli, ["verify", "MCW-VIS-014"])
    assert 0 == seen.exit_code, seen.output
    assert "signed with a key of h.marlow" in seen.output


def test_a_key_that_is_none_releases_nothing(revised, release, laboratory, tmp_path):
    (tmp_path / "key").write_text("hello", encoding="utf-8")
    revised()
    done = release("--sign", str(tmp_path / "key"))
    assert done.exit_code != 0
    assert "Nothing was released" in done.output
    assert 1 == len(read(laboratory).entries)


@pytest.mark.parametrize("by", ["", "   ", "A\x1b[31mB", "x" * 201])
def test_a_name_that_is_none_is_wrong_use(revised, release, laboratory, by):
    revised()
    assert release(by=by).exit_code not in (0, 1)
    assert 1 == len(read(laboratory).entries)


def test_outside_a_laboratory_it_says_where_to_go(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shutil.copy(ROOT / "methods" / "MCW-VIS-014.yaml", tmp_path / "m.yaml")
    done = CliRunner().invoke(cli, ["release", "m.yaml", "--by", "H. Marlow"])
    assert done.exit_code != 0
    assert "fillmark new lab" in done.output


@pytest.mark.slow
def test_of_two_processes_at_once_one_releases_and_one_is_told(revised, laboratory):
    revised()
    command = [
        sys.executable, "-m", "fillmark", "release", "methods/MCW-VIS-014.yaml", "--by", "H. Marlow", "--html-only",
    ]  # fmt: skip
    running = [
        subprocess.Popen(command, cwd=laboratory, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        for _ in range(2)
    ]
    said = [process.communicate(timeout=120)[0] for process in running]
    assert [0, 1] == sorted(process.returncode for process in running), said
    assert [3, 4] == [e.data["revision"] for e in read(laboratory).releases("MCW-VIS-014")]
    refused = next(text for text, process in zip(said, running, strict=True) if process.returncode == 1)
    assert "REL11" in refused or "REL05" in refused
