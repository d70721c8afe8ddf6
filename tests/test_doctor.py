"""The examination: what is missing is told apart by what it is needed for, with one command to mend it."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from fillmark import doctor
from fillmark.doctor import examine
from fillmark.new import make_lab
from fillmark.publish import place

ROOT = Path(__file__).parents[1]


@pytest.fixture
def lab(tmp_path):
    make_lab(tmp_path / "lab")
    return tmp_path / "lab"


def part(lines: list[str], title: str) -> str:
    """Give the lines under one of the three headings."""
    text = "\n".join(lines)
    assert text.count(f"{title}\n") == 1
    rest = text.split(f"{title}\n")[1]
    return rest.split("\nFor PDF\n")[0].split("\nHere\n")[0]


@pytest.mark.pdf
def test_a_sound_installation_is_healthy(lab):
    lines, healthy = examine(lab)
    assert "missing" not in "\n".join(lines)
    assert healthy
    assert "Everything Fillmark needs is here." == lines[-1]


@pytest.mark.pdf
def test_a_page_is_really_made(lab):
    assert "a trial page of" in part(examine(lab)[0], "For PDF")


def test_each_point_says_how_it_stands(lab):
    lines, _ = examine(lab)
    points = [line for line in lines if line.startswith("  ") and not line.startswith("   ")]
    assert len(points) > 10
    assert {"ok"} == {p.split()[0] for p in points if "Python" in p or "Fillmark" in p or "Schemas" in p}
    assert {p.split()[0] for p in points} <= {"ok", "note", "missing"}


@pytest.mark.parametrize("library", doctor._LIBRARIES)
def test_a_missing_library_is_a_matter_of_pdf_alone(lab, monkeypatch, library):
    monkeypatch.setitem(doctor._LIBRARIES, library, ("lib-that-nobody-has.so.0",))
    lines, healthy = examine(lab)
    assert not healthy
    assert "missing" not in part(lines, "For check and HTML")
    pdf = part(lines, "For PDF")
    assert f"missing System libraries: {library}" in pdf
    assert "apt-get install" in pdf or sys.platform != "linux"
    assert "`fillmark check` and HTML work; PDF does not yet" in lines[-1]


@pytest.mark.parametrize("tool", [True, False])
def test_a_missing_font_is_told_by_name(lab, monkeypatch, tool):
    monkeypatch.setitem(doctor._FONTS, "DejaVu Sans Imaginary", "DejaVuSansImaginary.ttf")
    if not tool:
        monkeypatch.setenv("PATH", "/nowhere")
    lines, healthy = examine(lab)
    assert not healthy
    assert "missing Fonts: DejaVu Sans Imaginary;" in part(lines, "For PDF")


def test_a_broken_package_is_a_matter_of_check(lab, monkeypatch):
    monkeypatch.setitem(sys.modules, "jsonschema_rs", None)
    lines, healthy = examine(lab)
    assert not healthy
    core = part(lines, "For check and HTML")
    assert "missing jsonschema-rs: " in core
    assert "python -m pip install --force-reinstall jsonschema-rs" in core
    assert "Fillmark cannot check methods" in "\n".join(lines)


def test_a_validator_that_lets_all_pass_is_noticed(lab, monkeypatch):
    import jsonschema_rs

    class Lax:
        def is_valid(self, _):
            return True

    monkeypatch.setattr(jsonschema_rs, "validator_for", lambda _: Lax())
    assert "it lets a number pass for a text" in part(examine(lab)[0], "For check and HTML")


def test_a_weasyprint_that_fails_is_told_with_its_words_and_prints_nothing(lab, monkeypatch, capsys):
    class Broken:
        def __init__(self, **_):
            print("a banner of its own")  # noqa: T201
            raise OSError("cannot load library 'libpango-1.0-0'")

    monkeypatch.setattr("weasyprint.HTML", Broken)
    lines, healthy = examine(lab)
    assert not healthy
    assert "cannot load library 'libpango-1.0-0'" in part(lines, "For PDF")
    assert "" == capsys.readouterr().out


def test_the_workspace_tells_what_it_has_of_its_own(lab):
    rest = "suspensions: [ball-bearing], takes_guard: true, source: own-records, known: site"
    (lab / "shared" / "springs.yaml").write_text(
        f"R: {{full_scale: 718.7 µN·m, {rest}}}\nXL: {{full_scale: 10 mN·m, {rest}}}\n",
        encoding="utf-8",
    )
    here = part(examine(lab)[0], "Here")
    assert f"ok      Workspace {lab}: its reference data is valid." in here
    assert "shared/springs.yaml overrides R; adds XL" in here
    assert "shared/sources.yaml adds own-records" in here
    assert "shared/instruments.yaml overrides bench-1; drops" in here


def test_a_fault_in_the_reference_data_is_told_with_its_line(lab):
    (lab / "shared" / "springs.yaml").write_text("R: 3\nL: 4\n", encoding="utf-8")
    lines, healthy = examine(lab)
    assert not healthy
    assert "2 faults in its reference data." in part(lines, "Here")
    assert "shared/springs.yaml:1: " in part(lines, "Here")
    assert "something in this folder is not" in lines[-1]


def test_instruments_of_the_demonstration_are_pointed_out(lab):
    (lab / "shared" / "instruments.yaml").unlink()
    here = part(examine(lab)[0], "Here")
    assert "instruments are those of a demonstration" in here
    assert "those of a demonstration" not in part(examine(ROOT)[0], "Here")


def test_no_workspace_is_a_note_and_no_fault():
    here = part(examine(None)[0], "Here")
    assert "note    No workspace here or above" in here
    assert "fillmark new lab FOLDER" in here


def test_an_old_copy_of_the_schema_is_a_note(lab):
    assert "of another version" not in part(examine(lab)[0], "Here")
    (lab / "schemas" / "method.schema.json").write_text("{}", encoding="utf-8")
    assert "method.schema.json is of another version" in part(examine(lab)[0], "Here")


def test_what_an_interrupted_build_left_is_a_note(lab):
    place(lab / "out", "M-1", {"M-1-r0-checklist-A4.html": b"<p>"})
    assert "was interrupted" not in part(examine(lab)[0], "Here")
    (lab / "out" / ".making-abc").mkdir()
    assert "A build was interrupted and left .making-abc" in part(examine(lab)[0], "Here")


def test_an_out_folder_that_is_a_file_cannot_be_written(lab):
    shutil.rmtree(lab / "out")
    (lab / "out").write_text("", encoding="utf-8")
    lines, healthy = examine(lab)
    assert not healthy
    assert f"missing {lab / 'out'} cannot be written." in part(lines, "Here")


def test_it_can_run_where_the_command_itself_cannot(lab):
    code = (
        "import sys, runpy; sys.modules['yaml._yaml'] = None;"
        "runpy.run_module('fillmark.doctor', run_name='__main__')"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=lab, capture_output=True, text=True, check=False)
    assert (1, "") == (done.returncode, done.stderr)
    assert "missing PyYAML with its C parser: " in done.stdout
    assert "Fillmark cannot check methods" in done.stdout
