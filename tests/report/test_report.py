"""What all forms share, and each of them from the command line."""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from fillmark.report import FORMS, below_here, shown

ROOT = Path(__file__).parents[2]
AWKWARD = "wall paint #1, 23 °C: 50%.yaml"


def check(*arguments, cwd):
    env = {**os.environ, "PYTHONIOENCODING": "ascii"}
    command = [sys.executable, "-m", "fillmark", "check", *arguments]
    return subprocess.run(command, cwd=cwd, env=env, capture_output=True, check=False)


def files_named(form, out):
    """Read an output, and give the files in which something was found."""
    if form == "json":
        return {d["file"] for d in json.loads(out)["diagnostics"]}
    if form == "sarif":
        results = json.loads(out)["runs"][0]["results"]
        return {r["locations"][0]["physicalLocation"]["artifactLocation"]["uri"] for r in results}
    if form == "junit":
        suites = ET.fromstring(out)  # noqa: S314 - it is our own text
        return {suite.get("name") for suite in suites if suite.find("*/failure") is not None}
    lines = out.splitlines()[:-1]
    assert all(line.startswith("::") for line in lines)
    return {line.partition("file=")[2].partition(",line=")[0] for line in lines}


@pytest.fixture
def lab(tmp_path):
    """Make a workspace with a sound method and a faulty one of an awkward name."""
    (tmp_path / "methods").mkdir()
    shutil.copy(ROOT / "methods" / "TGF-VIS-003.yaml", tmp_path / "methods")
    text = (ROOT / "methods" / "MCW-VIS-014.yaml").read_text(encoding="utf-8")
    assert 1 == text.count("lower: 8.0 Pa·s")
    faulty = text.replace("lower: 8.0 Pa·s", "lower: 8.0 Pas")
    (tmp_path / "methods" / AWKWARD).write_text(faulty, encoding="utf-8")
    return tmp_path


NAMES = {
    "json": f"methods/{AWKWARD}",
    "junit": f"methods/{AWKWARD}",
    "sarif": "methods/wall%20paint%20%231%2C%2023%20%C2%B0C%3A%2050%25.yaml",
    "github": "methods/wall paint #1%2C 23 °C%3A 50%25.yaml",
}


@pytest.mark.parametrize("form", FORMS)
def test_findings_give_1_and_are_utf8_whatever_the_terminal_is(lab, form):
    done = check("--format", form, cwd=lab)
    assert (1, b"") == (done.returncode, done.stderr)
    assert {NAMES[form]} == files_named(form, done.stdout.decode())
    assert "Pa·s" in done.stdout.decode()


@pytest.mark.parametrize("form", FORMS)
def test_nothing_found_gives_0(lab, form):
    done = check("methods/TGF-VIS-003.yaml", "--format", form, cwd=lab)
    assert (0, b"") == (done.returncode, done.stderr)
    assert set() == files_named(form, done.stdout.decode())


@pytest.mark.parametrize("form", FORMS)
def test_a_file_that_cannot_be_read_gives_2_and_the_others_are_told(lab, form):
    (lab / "methods" / "gone.yaml").symlink_to("nowhere.yaml")
    done = check("--format", form, cwd=lab)
    assert (2, b"") == (done.returncode, done.stderr)
    assert {NAMES[form], "methods/gone.yaml"} == files_named(form, done.stdout.decode())


@pytest.mark.parametrize("form", FORMS)
def test_faulty_reference_data_gives_2(lab, form):
    (lab / "shared").mkdir()
    (lab / "shared" / "springs.yaml").write_text("X: 3\n", encoding="utf-8")
    done = check("--format", form, cwd=lab)
    assert 2 == done.returncode
    assert {"shared/springs.yaml"} == files_named(form, done.stdout.decode())


@pytest.mark.skipif(sys.platform != "linux", reason="other systems have no such names")
@pytest.mark.parametrize("form", FORMS)
def test_a_file_name_that_is_no_utf8_is_no_fault_of_ours(lab, form):
    (lab / "methods" / AWKWARD).rename(lab / "methods" / "\udcff.yaml")
    done = check("--format", form, cwd=lab)
    # Refused, and its name spelt out; a SARIF address has %5C for the backslash (RFC 3986).
    assert (2, b"") == (done.returncode, done.stderr)
    expected = {"sarif": "%5Cudcff"}.get(form, "\\udcff")
    assert f"methods/{expected}.yaml" in files_named(form, done.stdout.decode())


def test_a_check_for_people_loads_no_other_form():
    code = (
        "import sys; from fillmark.cli import main; sys.argv = ['fillmark', 'check', 'methods']; main();"
        "print(*sorted(m for m in sys.modules if m.startswith(('fillmark.report.', 'xml.etree'))))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert "" == done.stdout.splitlines()[-1]


def test_what_is_no_plain_text_is_shown_as_a_replacement_sign():
    assert "a\tb\nc\nd µPa·s\u00a0°" == shown("a\tb\nc\r\nd µPa·s\u00a0°")
    assert "\ufffd" * 8 == shown("\x00\x1b\x7f\x85\u2028\u202e\ud800\uffff")


def test_a_file_is_named_as_seen_from_here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert (
        "a/b.yaml"
        == below_here("a/b.yaml")
        == below_here("./x/../a/b.yaml")
        == below_here(f"{tmp_path}/a/b.yaml")
    )
    assert "..a/b.yaml" == below_here("..a/b.yaml")
    assert None is below_here("../b.yaml")
    assert None is below_here("/b.yaml")
