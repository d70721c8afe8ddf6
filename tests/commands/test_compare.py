"""`fillmark compare` with released bundles on either side."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from fillmark.cli import cli
from fillmark.releases.bundle import MANIFEST, json_bytes, pack, unpack

BUNDLE = "released/MCW-VIS-014/MCW-VIS-014-r3.zip"
FILE = "methods/MCW-VIS-014.yaml"


@pytest.fixture
def compare(laboratory, monkeypatch):
    """Run the command in the laboratory's folder; gives what came of it."""
    monkeypatch.chdir(laboratory)
    return lambda *arguments: CliRunner().invoke(cli, ["compare", *arguments])


@pytest.mark.parametrize("before", [BUNDLE, "MCW-VIS-014-r3", "MCW-VIS-014"])
def test_a_release_is_compared_with_a_file_by_any_of_its_names(compare, revised, before):
    revised()
    done = compare(before, FILE)
    assert 1 == done.exit_code
    assert "before: MCW-VIS-014 revision 3, released: MCW-VIS-014-r3.zip" in done.output
    assert "was 5 min, now 6 min" in done.output


def test_a_release_stands_on_either_side_and_says_the_same_as_its_file(compare):
    for sides in ((BUNDLE, FILE), (FILE, BUNDLE), ("MCW-VIS-014", BUNDLE)):
        done = compare(*sides)
        assert 0 == done.exit_code, done.output
        assert "Nothing changed" in done.output


def test_reference_data_that_changed_since_shows(compare, laboratory):
    containers = laboratory / "shared" / "containers.yaml"
    containers.write_text(
        containers.read_text(encoding="utf-8").replace("82.55 mm", "83 mm"), encoding="utf-8"
    )
    done = compare(BUNDLE, FILE, "--format", "json")
    assert 1 == done.exit_code
    whole = json.loads(done.stdout)
    assert [("containers.beaker-600-low-form.inside_diameter", "82.55 mm", "83 mm", "geometry")] == [
        (c["path"], c["before"], c["after"], c["class"]) for c in whole["changes"]
    ]


def test_a_bundle_that_was_tampered_with_is_not_compared(compare, laboratory):
    file = laboratory / BUNDLE
    file.write_bytes(file.read_bytes().replace(b"upper: 12.0 Pa", b"upper: 12.9 Pa"))
    for name in (BUNDLE, "MCW-VIS-014-r3"):
        done = compare(name, FILE)
        assert 2 == done.exit_code
        assert "There is no comparison" in done.output


def test_a_bundle_remade_to_fit_its_own_manifest_is_told_by_the_register(compare, laboratory):
    file = laboratory / BUNDLE
    assert "VFY09" not in compare(BUNDLE, FILE).stderr
    members, _ = unpack(file.read_bytes())
    manifest = json.loads(members[MANIFEST])
    manifest["released"]["by"] = "Somebody Else"
    file.write_bytes(pack({**members, MANIFEST: json_bytes(manifest)}))
    done = compare(BUNDLE, FILE)
    assert 0 == done.exit_code
    assert "VFY09" in done.stderr
    assert "It is not what was approved." in done.stderr


@pytest.mark.parametrize("name", ["nothing", "MCW-VIS-014-r9", "released", "../x.zip"])
def test_a_name_that_leads_to_nothing_is_wrong_use(compare, name):
    done = compare(name, FILE)
    assert 2 == done.exit_code
    assert "neither a file nor a release" in done.output


def test_a_file_named_zip_that_is_none_is_told(compare):
    Path("x.zip").write_bytes(b"hello")
    done = compare("x.zip", FILE)
    assert 2 == done.exit_code
    assert "VFY01" in done.output
