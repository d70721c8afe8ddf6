"""One method from its first draft to its second release, by the commands alone: files in, files out."""

import json
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from fillmark.cli import cli
from fillmark.releases.register import read

ROOT = Path(__file__).parents[1]
ID = "MCW-VIS-014"


@pytest.fixture
def bench(tmp_path, monkeypatch):
    """Stand in the folder of a laboratory with the first draft of a method; gives a way to run commands."""
    (tmp_path / "methods").mkdir()
    shutil.copytree(ROOT / "shared", tmp_path / "shared")
    monkeypatch.chdir(tmp_path)

    def run(*arguments, code=0):
        done = CliRunner().invoke(cli, [str(a) for a in arguments])
        assert code == done.exit_code, done.output
        return done.output

    return run


def write(text: str, *changes: tuple[str, str]) -> str:
    """Write the method with texts put in the place of others that stand once; gives the whole."""
    for old, new in changes:
        assert 1 == text.count(old), old
        text = text.replace(old, new)
    Path("methods", f"{ID}.yaml").write_text(text, encoding="utf-8")
    return text


def filled(form: str) -> str:
    """Fill in a competency form as somebody who passes."""

    def put(text, key, value):
        text, found = re.subn(rf"^( *{key}:)(?= *(#|$)).*$", rf"\1 {value}", text, flags=re.MULTILINE)
        assert found, key
        return text

    head, rest = form.split("\ntheory:")
    theory, rest = rest.split("\npractice:")
    practice, rest = rest.split("\nperformance:")
    theory = re.sub(r"^(  [a-z_]+:)$", r"\1 right", theory, flags=re.MULTILINE)
    practice = re.sub(r"^(  [a-z0-9-]+:)$", r"\1 done", practice, flags=re.MULTILINE)
    form = f"{head}\ntheory:{theory}\npractice:{practice}\nperformance:{rest}"
    form = form.replace("assessor: {name: , level: }", "assessor: {name: R. Lindqvist, level: 3}")
    form = form.replace("trained_by: []", "trained_by: [K. Amsel]").replace(
        'reported: ""', 'reported: "> 20.0 Pa·s"'
    )
    for torque in ("50.0", "50.1", "49.9"):
        reading = f"{{torque: {torque} %, display: {float(torque) / 5:.2f} Pa·s}}"
        form = form.replace("{torque: , display: }", reading, 1)
    for day, value in zip((26, 26, 26, 27, 27, 27), ("10.0", "10.1", "9.9") * 2, strict=True):
        form = form.replace("{day: , value: }", f"{{day: 2026-11-{day}, value: {value} Pa·s}}", 1)
    for key, value in (
        ("trainee", "L. Nowak"), ("date", "2026-11-30"), ("occasion", "first"), ("lot", "A-1"),
        ("certified", "10.0 Pa·s"), ("lower", "9.0 Pa·s"), ("upper", "11.0 Pa·s"), ("result", "viscosity_20"),
        ("setting_left_alone", "true"), ("sample_kept", "true"), ("supervisor_called", "true"),
        ("planted", "guard-off"),
        ("found_before_result", "true"), ("set_right", "true"), ("at_step", "21"), ("level", "2"),
    ):  # fmt: skip
        form = put(form, key, value)
    return form


@pytest.mark.pdf
@pytest.mark.slow
def test_from_draft_to_the_second_release(bench):
    file = Path("methods", f"{ID}.yaml")
    released = Path("released", ID)
    good = (ROOT / "methods" / file.name).read_text(encoding="utf-8")
    history = "  - {revision: 3, class: parameter, reason: Speed of the index step lowered to 2 rpm.}\n"

    # A first draft, with a spindle that is too small at the slow speed.
    draft = write(
        good, ("revision: 3\n", "revision: 1\n"), ("status: released", "status: draft"), ("spindle: R5", "spindle: R6"),
        (f"changes:\n{history}", ""),
    )  # fmt: skip
    said = bench("check", file, "--today", "2026-11-20", code=1)
    assert "TRQ03" in said
    said = bench("release", file, "--by", "H. Marlow", "--at", "2026-11-20T10:00:00+01:00", code=1)
    assert "REL01" in said
    assert "REL02" in said
    assert not released.exists()

    # Mended, it is clean, and goes to the reviewer as a dossier.
    mended = write(draft, ("spindle: R6", "spindle: R5"))
    bench("check", file, "--today", "2026-11-21")
    bench("build", file, "--document", "dossier", "--format", "html", "--today", "2026-11-21")
    dossier = Path("out", ID, f"{ID}-r1-dossier-A4.html").read_text(encoding="utf-8")
    assert "DRAFT" in dossier
    assert "What changed since" not in dossier

    # Approved, it is released; not by its author.
    first = write(mended, ("status: draft", "status: released"))
    at = "2026-11-25T10:00:00+01:00"
    assert "REL04" in bench("release", file, "--by", "A. Osei", "--at", at, code=1)
    said = bench("release", file, "--by", "H. Marlow", "--at", at, "--html-only")
    assert "first release" in said
    assert (released / f"{ID}-r1.zip").is_file()

    # Copies go to the benches; somebody is assessed, and gets one too.
    bench(
        "issue",
        ID,
        "--to",
        "Bench 3",
        "--to",
        "Bench 4",
        "--by",
        "R. Lindqvist",
        "--at",
        "2026-11-26T10:00:00+01:00",
    )
    form = bench("assess", f"{ID}-r1", "--template")
    Path("filled.yaml").write_text(filled(form), encoding="utf-8")
    said = bench(
        "assess", f"{ID}-r1", "filled.yaml", "--record", "--by", "H. Marlow", "--on-paper", "Assessed before.",
        "--at", "2026-11-30T15:00:00+01:00",
    )  # fmt: skip
    assert "PASSED: level 2" in said
    said = bench(
        "issue",
        ID,
        "--to",
        "L. Nowak",
        "--operator",
        "--by",
        "R. Lindqvist",
        "--at",
        "2026-12-01T10:00:00+01:00",
    )
    assert "copy 3 of 3" in said
    assert 3 == len(list(Path("out", "copies").glob("*checklist*.pdf")))
    assert "holds" in bench("levels", "--today", "2026-12-02")

    # The method changes: what it does is compared, and the class must fit.
    changed = write(
        first, ("revision: 1\n", "revision: 2\n"), ("  rest: 5 min\n", "  rest: 6 min\n"),
        ("effective: 2026-12-01", "effective: 2027-02-01"),
        ('based_on: ["ASTM D2196-20"]\n',
         'based_on: ["ASTM D2196-20"]\nchanges:\n  - {revision: 2, class: editorial, reason: Longer rest.}\n'),
    )  # fmt: skip
    said = bench("compare", f"{ID}-r1", file, code=1)
    assert "was 5 min, now 6 min" in said
    assert "CMP01" in said
    at = "2027-01-25T10:00:00+01:00"
    assert "REL06" in bench("release", file, "--by", "H. Marlow", "--at", at, "--html-only", code=1)
    write(changed, ("class: editorial", "class: parameter"))
    outcome = json.loads(
        bench("release", file, "--by", "H. Marlow", "--at", at, "--html-only", "--format", "json")
    )
    assert (2, 1, "supervised run") == (outcome["revision"], outcome["previous"], outcome["trigger"])
    bench("build", file, "--document", "dossier", "--format", "html", "--today", "2027-01-26")
    dossier = Path("out", ID, f"{ID}-r2-dossier-A4.html").read_text(encoding="utf-8")
    assert "What changed since revision 1 was released" in dossier

    # The copies of the first are listed to be fetched, and called back.
    said = bench("issue", ID, "--list", "--at", "2027-02-02T10:00:00+01:00", code=1)
    assert 3 == said.count("SUPERSEDED")
    bench(
        "recall", ID, "--revision", "1", "--reason", "Superseded by revision 2.", "--by", "R. Lindqvist",
        "--at", "2027-02-02T11:00:00+01:00",
    )  # fmt: skip
    assert ["release", "issue", "issue", "competency", "issue", "release", "recall"] == [
        e.kind for e in read(Path()).entries
    ][:7]
    assert read(Path()).sound

    # Both releases are as they were released; one that is tampered with is not.
    said = bench("verify", "--all", "--today", "2027-02-03")
    assert 2 == said.count("as released")
    second = released / f"{ID}-r2.zip"
    second.write_bytes(second.read_bytes().replace(b"rest: 6 min", b"rest: 1 min"))
    said = bench("verify", "--all", "--today", "2027-02-03", code=1)
    assert "method.yaml" in said
    assert "VFY05" in said
    assert "VFY09" in said
    assert "as released, superseded" in said
