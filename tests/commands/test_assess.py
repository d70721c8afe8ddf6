"""`fillmark assess`: from the empty form to a line of the register, as a user sees it."""

import json

import pytest
from click.testing import CliRunner

from fillmark.cli import cli
from fillmark.read import read as read_yaml
from fillmark.releases.register import read

METHOD = "MCW-VIS-014"


@pytest.fixture
def run(laboratory, monkeypatch):
    """Run the command in the laboratory's folder."""
    monkeypatch.chdir(laboratory)

    def call(*arguments, at="2026-12-10T15:00:00+01:00"):
        return CliRunner().invoke(cli, ["assess", *(str(a) for a in arguments), "--at", at])

    return call


@pytest.fixture
def form(run, tmp_path):
    """Write a filled form that passes, with changes, and give its file."""

    def fill(name="form.json", **changes):
        data = read_yaml(run(f"{METHOD}-r3", "--template").stdout_bytes, "form").source.data
        data |= {
            "trainee": "Ana Lind",
            "assessor": {"name": "R. Lindqvist", "level": 3},
            "trained_by": ["H. Marlow"],
        }
        data |= {"date": "2026-12-10", "occasion": "first", "level": 2}
        data["theory"] = dict.fromkeys(data["theory"], "right")
        data["practice"] = dict.fromkeys(data["practice"], "done")
        trials = data["performance"]
        trials["fluid"] |= {"certified": "10 Pa·s", "readings": [{"torque": "50 %"}] * 3}
        trials["retain"] |= {"lower": "9 Pa·s", "upper": "11 Pa·s", "s": "0.2 Pa·s"}
        trials["retain"]["loadings"] = [
            {"day": f"2026-12-0{8 + i % 2}", "value": "10 Pa·s"} for i in range(6)
        ]
        trials["over_range"] |= {"result": "viscosity_20", "reported": "> 20 Pa·s"}
        trials["over_range"] |= dict.fromkeys(
            ("setting_left_alone", "sample_kept", "supervisor_called"), True
        )
        trials["fault"] |= {"planted": "zero", "found_before_result": True, "set_right": True}
        file = tmp_path / name
        file.write_text(json.dumps(data | changes, ensure_ascii=False), encoding="utf-8")
        return file

    return fill


def test_the_template_can_be_judged_as_it_is(run, tmp_path):
    done = run(f"{METHOD}-r3", "--template")
    assert 0 == done.exit_code
    file = tmp_path / "empty.yaml"
    file.write_bytes(done.stdout_bytes)
    judged = run(f"{METHOD}-r3", file)
    assert 1 == judged.exit_code, judged.output
    assert "verdict: INCOMPLETE" in judged.output


def test_a_file_and_its_release_are_judged_alike(run, form, laboratory):
    file = form()
    for name in (METHOD, f"{METHOD}-r3", laboratory / "methods" / f"{METHOD}.yaml"):
        done = run(name, file)
        assert 0 == done.exit_code, done.output
        assert "PASSED: level 2, valid until 2028-12-10" in done.output


def test_a_form_of_an_earlier_text_is_judged_by_its_release(run, form, revised):
    file = form()
    later = revised()
    assert "ASM01" in run(later, file).output
    assert 0 == run(f"{METHOD}-r3", file).exit_code


def test_an_assessor_unknown_to_the_register_needs_a_reason(run, form, laboratory):
    file = form()
    done = run(METHOD, file, "--record", "--by", "Q. Keeper")
    assert 2 == done.exit_code
    assert "--on-paper REASON" in done.output
    assert () == read(laboratory).of_kind("competency")


def test_a_passed_form_is_entered_once(run, form, laboratory, through_main):
    file = form()
    record = ("--record", "--by", "Q. Keeper", "--on-paper", "level on file T-3")
    assert 0 == run(METHOD, file, *record).exit_code
    (line,) = read(laboratory).of_kind("competency")
    assert ("Ana Lind", 3, 2, "2028-12-10", "level on file T-3") == tuple(
        line.data[k] for k in ("person", "revision", "level", "valid_until", "on_paper")
    )
    code, told = through_main("assess", METHOD, file, *record, "--at", "2026-12-10T15:00:00+01:00")
    assert 2 == code
    assert "this very form stands in line 2" in told
    assert 1 == len(read(laboratory).of_kind("competency"))


def test_an_assessor_in_the_register_needs_none_and_a_lapsed_one_is_refused(run, form):
    first = form(
        trainee="R. Lindqvist", assessor={"name": "H. Marlow", "level": 3}, trained_by=["A. Osei"], level=3
    )
    assert 0 == run(METHOD, first, "--record", "--by", "Q. Keeper", "--on-paper", "founding").exit_code
    assert 0 == run(METHOD, form("next.json"), "--record", "--by", "Q. Keeper").exit_code
    late = form("late.json", date="2028-12-11", trainee="Bo Ek")
    done = run(METHOD, late, "--record", "--by", "Q. Keeper", at="2028-12-11T09:00:00+01:00")
    assert 1 == done.exit_code
    assert "ASM03" in done.output
    assert "valid until 2028-12-10" in done.output
    assert "Nothing was entered" in done.output


def test_a_failed_form_is_entered_as_failed(run, form, laboratory):
    file = form()
    data = json.loads(file.read_text(encoding="utf-8"))
    data["theory"]["multiply"] = "wrong"
    file.write_text(json.dumps(data), encoding="utf-8")
    done = run(METHOD, file, "--record", "--by", "Q. Keeper", "--on-paper", "founding")
    assert 1 == done.exit_code
    (line,) = read(laboratory).of_kind("competency")
    assert (False, False) == (line.data["passed"], "level" in line.data)


def test_nothing_is_entered_that_rests_on_no_release(run, form, laboratory, revised):
    file = form()
    later = revised()
    text = later.read_text(encoding="utf-8")
    assert "revision: 4" in text
    data = json.loads(file.read_text(encoding="utf-8"))
    mark = read_yaml(run(later, "--template").stdout_bytes, "form").source.data["method"]
    file.write_text(json.dumps(data | {"method": mark}), encoding="utf-8")
    done = run(later, file, "--record", "--by", "Q. Keeper", "--on-paper", "founding")
    assert 2 == done.exit_code
    assert "is not in the register of releases" in done.output
    assert () == read(laboratory).of_kind("competency")


@pytest.fixture
def assessed(run, form):
    """Enter that R. Lindqvist, and then Ana Lind, were assessed."""
    lindqvist = {
        "trainee": "R. Lindqvist",
        "assessor": {"name": "H. Marlow", "level": 3},
        "trained_by": ["A. Osei"],
    }
    first = run(METHOD, form(**lindqvist, level=3), "--record", "--by", "Q. Keeper", "--on-paper", "founding")
    assert 0 == first.exit_code
    assert 0 == run(METHOD, form("ana.json"), "--record", "--by", "Q. Keeper").exit_code


@pytest.mark.parametrize("what", ["suspended", "notified", "supervised-run"])
def test_nothing_is_entered_of_somebody_who_was_never_assessed(run, assessed, laboratory, what):
    done = run(
        METHOD, "--enter", what, "--person", "Ana Linde", "--by", "R. Lindqvist", "--reason", "a warm sample",
    )  # fmt: skip
    assert 2 == done.exit_code
    assert "no assessment of Ana Linde" in done.output
    assert "Assessed was: Ana Lind, R. Lindqvist." in done.output
    assert 2 == len(read(laboratory).of_kind("competency"))


@pytest.mark.usefixtures("assessed")
def test_a_supervised_run_has_somebody_else_to_supervise_it(run, laboratory):
    enter = (METHOD, "--enter", "supervised-run", "--person", "Ana Lind")
    done = run(*enter, "--by", "ana lind")
    assert 2 == done.exit_code
    assert "cannot supervise their own run" in done.output
    assert 0 == run(*enter, "--by", "Q. Keeper", "--assessor", "R. Lindqvist").exit_code
    assert 2 == run(*enter, "--by", "Q. Keeper", "--day", "2026-12-11").exit_code
    line = read(laboratory).of_kind("competency")[-1]
    assert ("supervised-run", "R. Lindqvist", "2026-12-10") == tuple(
        line.data[k] for k in ("what", "assessor", "day")
    )


@pytest.mark.usefixtures("assessed")
def test_a_level_is_taken_away_with_a_reason(run, laboratory):
    enter = (METHOD, "--enter", "suspended", "--person", "Ana Lind", "--by", "Q. Keeper")
    assert 2 == run(*enter).exit_code
    assert 0 == run(*enter, "--reason", "a result out of specification traced to a warm sample").exit_code
    assert 3 == len(read(laboratory).of_kind("competency"))


@pytest.mark.parametrize("name", ["page.html", pytest.param("page.pdf", marks=pytest.mark.pdf)])
def test_the_page_is_written(run, form, tmp_path, name):
    done = run(METHOD, form(), "--page", tmp_path / name, "--paper", "Letter")
    assert 0 == done.exit_code, done.output
    data = (tmp_path / name).read_bytes()
    assert data.startswith(b"%PDF" if name.endswith("pdf") else b"<!doctype html>")


def test_json_is_all_that_is_written(run, form):
    done = run(METHOD, form(), "--format", "json")
    assert "passed" == json.loads(done.stdout_bytes)["verdict"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((METHOD,), "Name the filled form"),
        (("MCW-VIS-999", "--template"), "the register knows no release of that name"),
        ((METHOD, "--enter", "notified", "--by", "K"), "--person is missing"),
        ((METHOD, "--enter", "notified", "--person", "A\u202eB", "--by", "K"), "letters that can be seen"),
    ],
)
def test_wrong_use_is_told(run, arguments, words):
    done = run(*arguments)
    assert 2 == done.exit_code
    assert words in done.output


def test_a_form_that_cannot_be_read_shows_the_place(run, tmp_path):
    file = tmp_path / "form.yaml"
    file.write_text("fillmark: 1\ntrainee: Ana\nassesor: {}\n", encoding="utf-8")
    done = run(METHOD, file)
    assert 2 == done.exit_code
    assert "form.yaml:3:1:" in done.output
    assert "Did you mean assessor?" in done.output
