"""`fillmark verify`: what it prints and its exit codes, as a user sees it."""

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from fillmark.cli import cli
from fillmark.releases.register import register_file

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "schemas" / "verified.schema.json").read_text(encoding="utf-8"))
BUNDLE = "released/MCW-VIS-014/MCW-VIS-014-r3.zip"


@pytest.fixture
def verify(laboratory, monkeypatch):
    """Run the command in the laboratory's folder; gives what came of it."""
    monkeypatch.chdir(laboratory)

    def run(*arguments):
        return CliRunner().invoke(cli, ["verify", "--today", "2026-11-27", *arguments])

    return run


@pytest.mark.parametrize("name", [BUNDLE, "MCW-VIS-014", "MCW-VIS-014-r3", "--all"])
def test_what_is_as_released_is_found_by_every_name(verify, name):
    done = verify(name)
    assert 0 == done.exit_code, done.output
    assert "as released" in done.output
    assert "a demonstration, its data invented" in done.output
    assert "1 bundle looked at: nothing found." in done.output


def test_a_tampered_bundle_is_told_with_the_file(verify, laboratory):
    file = laboratory / BUNDLE
    file.write_bytes(file.read_bytes().replace(b"upper: 12.0 Pa", b"upper: 12.9 Pa"))
    for name in (BUNDLE, "MCW-VIS-014", "--all"):
        done = verify(name)
        assert 1 == done.exit_code
        assert "DOES NOT HOLD" in done.output
        assert "VFY05" in done.output
        assert "method.yaml" in done.output


@pytest.mark.parametrize("arguments", [("--all",), (BUNDLE, "MCW-VIS-014")])
def test_json_meets_its_schema(verify, laboratory, arguments):
    for harm in (False, True):
        if harm:
            file = laboratory / BUNDLE
            file.write_bytes(file.read_bytes()[:-5])
        done = verify("--format", "json", *arguments)
        whole = json.loads(done.stdout)
        Draft202012Validator(SCHEMA).validate(whole)
        assert {not harm} == {b["sound"] for b in whole["bundles"]}
        assert int(harm) == done.exit_code


def test_a_register_with_faults_is_told(verify, laboratory):
    file = register_file(laboratory)
    file.write_bytes(b"hello\n" + file.read_bytes())
    done = verify("--all")
    assert 1 == done.exit_code
    assert "REG02" in done.output
    assert "REG01" in done.output


def test_a_bundle_carried_elsewhere_is_whole_and_not_more(tmp_path, laboratory, monkeypatch):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    shutil.copy(laboratory / BUNDLE, elsewhere / "b.zip")
    monkeypatch.chdir(elsewhere)
    done = CliRunner().invoke(cli, ["verify", "b.zip", "--today", "2026-11-27"])
    assert 1 == done.exit_code
    assert "VFY11" in done.output
    assert "by its own word" in done.output


def test_a_bundle_carried_elsewhere_is_judged_by_the_laboratory_that_is_named(
    tmp_path, laboratory, monkeypatch
):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    shutil.copy(laboratory / BUNDLE, elsewhere / "b.zip")
    monkeypatch.chdir(elsewhere)
    done = CliRunner().invoke(
        cli, ["verify", "b.zip", "--workspace", str(laboratory), "--today", "2026-11-27"]
    )
    assert 0 == done.exit_code, done.output


@pytest.mark.parametrize("arguments", [(), ("--all", "x"), ("nothing-of-that-name",), ("MCW-VIS-014-r9",)])
def test_a_name_that_leads_to_nothing_is_wrong_use(verify, arguments):
    assert 2 == verify(*arguments).exit_code


def test_nothing_it_says_of_a_hostile_bundle_steers_the_terminal(verify, laboratory):
    (laboratory / "b.zip").write_bytes(b"PK\x03\x04" + b"\x14\0" + bytes(20) + b"\x05\0\0\0" + b"\x1b[31m")
    done = verify("b.zip")
    assert 1 == done.exit_code
    assert "\x1b" not in done.output
