"""Starting a laboratory and a method: what is written passes the check, and nothing is ever written over."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from fillmark import cli, new, starter
from fillmark.diagnostics import Severity
from fillmark.pipeline import Compiled, compile_method
from fillmark.reference import load

ROOT = Path(__file__).parents[1]
SCHEMAS = sorted(p.name for p in (ROOT / "schemas").glob("*.schema.json"))
PAINT = {
    "product": "Wall paint", "behaviour": "thixotropic", "lower": "8.0 Pa·s", "upper": "12.0 Pa·s",
    "temperature": "23.0 °C ± 0.5 °C", "hazards": "irritant", "author": "A. Osei",
}  # fmt: skip


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Run the command in an empty folder without a terminal; gives exit code, stdout and stderr."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "stdin", None)
    (tmp_path / "no-terminal").touch()
    with (tmp_path / "no-terminal").open() as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        (tmp_path / "no-terminal").unlink()

        def command(*arguments: str) -> tuple[int, str, str]:
            monkeypatch.setattr(sys, "argv", ["fillmark", *arguments])
            code = cli.main()
            return code, *capsys.readouterr()

        yield command


def flags(**changed: str | None) -> list[str]:
    return [
        part for key, text in (PAINT | changed).items() if text is not None for part in (f"--{key}", text)
    ]


def checked(file: Path, workspace: Path | None = None) -> Compiled:
    reference, found = load(workspace)
    assert [] == found
    assert reference is not None
    return compile_method(file.read_bytes(), str(file), reference)


def weighty(compiled: Compiled) -> list[str]:
    return [f"{d.code} {d.message}" for d in compiled.diagnostics if d.severity >= Severity.WARNING]


def names(folder: Path) -> list[str]:
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())


# --- a laboratory


def test_a_new_laboratory_has_all_it_needs_to_work_offline(run, tmp_path):
    code, _, err = run("new", "lab", "acme")
    assert (0, "") == (code, err)
    assert [
        ".gitignore", "README.md", "methods/README.md", "out/README.md", *(f"schemas/{s}" for s in SCHEMAS),
        "shared/instruments.yaml", "shared/policy.yaml", "shared/sources.yaml",
    ] == names(tmp_path / "acme")  # fmt: skip
    assert ["acme"] == [p.name for p in tmp_path.iterdir()]


def test_a_new_laboratory_has_sound_reference_data_of_its_own(run, tmp_path):
    run("new", "lab", "acme")
    reference, found = load(tmp_path / "acme")
    assert [] == found
    assert reference is not None
    assert ["bench-1"] == list(reference.instruments)
    assert "site-1" == reference.policy.version
    assert () == reference.policy.changed


def test_the_lines_of_the_policy_that_are_offered_are_good_ones(run, tmp_path):
    run("new", "lab", "acme")
    policy = tmp_path / "acme" / "shared" / "policy.yaml"
    text = policy.read_text(encoding="utf-8")
    policy.write_text(re.sub(r"^# (?=[a-z_]+: \{)", "", text, flags=re.MULTILINE), encoding="utf-8")
    reference, found = load(tmp_path / "acme")
    assert [] == found
    assert reference is not None
    assert ("paper", "torque_floor", "review_interval") == tuple(
        k for k in ("paper", "torque_floor", "review_interval") if k in reference.policy.changed
    )


def test_the_schemas_of_a_new_laboratory_are_those_of_this_version(run, tmp_path):
    run("new", "lab", "acme")
    for name in SCHEMAS:
        assert (ROOT / "schemas" / name).read_bytes() == (tmp_path / "acme" / "schemas" / name).read_bytes()


def test_a_folder_that_holds_something_is_left_as_it_is(run, tmp_path):
    (tmp_path / "acme").mkdir()
    (tmp_path / "acme" / "mine.txt").write_text("mine", encoding="utf-8")
    code, out, err = run("new", "lab", "acme")
    assert (2, "") == (code, out)
    assert "acme-2 is free" in err
    assert ["mine.txt"] == names(tmp_path / "acme")
    assert ["acme"] == [p.name for p in tmp_path.iterdir()]


def test_an_empty_folder_or_one_with_a_repository_is_taken(run, tmp_path):
    (tmp_path / "acme" / ".git").mkdir(parents=True)
    assert 0 == run("new", "lab", "acme")[0]
    assert "shared/policy.yaml" in names(tmp_path / "acme")
    assert not list((tmp_path / "acme").glob(".making*"))
    (tmp_path / "here").mkdir()
    os.chdir(tmp_path / "here")
    assert 0 == run("new", "lab", ".")[0]
    assert "shared/policy.yaml" in names(tmp_path / "here")


def test_a_file_in_the_place_of_the_folder_is_left(run, tmp_path):
    (tmp_path / "acme").write_text("mine", encoding="utf-8")
    assert 2 == run("new", "lab", "acme")[0]
    assert "mine" == (tmp_path / "acme").read_text(encoding="utf-8")


def test_a_laboratory_that_cannot_be_finished_leaves_nothing(run, tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    code, _, err = run("new", "lab", "acme")
    assert 2 == code
    assert "No space left on device" in err
    assert [] == list(tmp_path.iterdir())


# --- a method from flags


def test_a_new_method_passes_the_check_in_a_new_laboratory(run, tmp_path):
    run("new", "lab", "acme")
    os.chdir(tmp_path / "acme")
    code, out, err = run("new", "method", "PNT-VIS-001", *flags())
    assert (0, "") == (code, err)
    file = tmp_path / "acme" / "methods" / "PNT-VIS-001.yaml"
    assert [] == [d.code for d in checked(file, tmp_path / "acme").diagnostics]
    assert "Written: methods/PNT-VIS-001.yaml." in out
    assert "It can run on bench-1." in out
    assert 0 == run("check")[0]


def test_it_says_what_was_chosen_and_why_with_the_numbers_of_the_check(run, tmp_path):
    _, out, _ = run("new", "method", "PNT-VIS-001", *flags())
    figures = checked(tmp_path / "methods" / "PNT-VIS-001.yaml").figures
    assert figures is not None
    chosen = re.search(r"Chosen: spindle (\S+) at (\S+) rpm on spring (\S+) ", out)
    assert chosen is not None
    step = f"run.viscosity_{chosen[2]}."
    for key in (
        "torque_lower",
        "torque_upper",
        "torque_lower_worst",
        "torque_upper_worst",
        "wind_up",
        "tolerance",
    ):
        assert figures[step + key].text in out, key
    assert 20 <= figures[step + "torque_lower"].value
    assert 1.2 * figures[step + "torque_upper"].value <= 100


def test_the_answers_stand_in_the_file(run, tmp_path):
    run("new", "method", "PNT-VIS-001", *flags(sensitivity="2.5 %/K", density="1.42 g/mL"))
    method = checked(tmp_path / "methods" / "PNT-VIS-001.yaml").method
    assert method is not None
    assert ("PNT-VIS-001", "Apparent viscosity of Wall paint", "draft", 0) == (
        method.id, method.title, method.status, method.revision
    )  # fmt: skip
    assert ("Wall paint", "thixotropic", ("irritant",)) == (
        method.product.name, method.product.behaviour, method.product.hazards
    )  # fmt: skip
    assert (8.0, 12.0) == (method.specification[0].lower.value, method.specification[0].upper.value)
    assert "23.0 °C ± 0.5 °C" == method.temperature.target.text
    assert ("2.5 %/K", "1.42 g/mL") == (
        method.product.temperature_sensitivity.text,
        method.product.density.text,
    )
    assert "A. Osei" == method.people.author


def test_what_nobody_has_stated_is_marked_and_what_was_stated_is_not(run, tmp_path):
    run("new", "method", "A-1", *flags())
    run("new", "method", "A-2", *flags(sensitivity="2.5 %/K", density="1.42 g/mL"))
    marked = [
        {line.split(":")[0].strip() for line in text.splitlines() if "# CONFIRM: " in line}
        for file in ("A-1.yaml", "A-2.yaml")
        for text in [(tmp_path / "methods" / file).read_text(encoding="utf-8")]
    ]
    assert {"density", "temperature_sensitivity"} == marked[0] - marked[1]
    assert {"largest_particle", "age", "rest", "start", "repeatability", "cleaning", "retention"} < marked[1]


def test_the_number_of_marks_that_is_told_is_the_number_in_the_file(run, tmp_path):
    _, out, _ = run("new", "method", "A-1", *flags())
    count = (tmp_path / "methods" / "A-1.yaml").read_text(encoding="utf-8").count("# CONFIRM: ")
    assert f" {count} lines in it are marked CONFIRM" in out


def test_the_editor_finds_the_schema_from_the_file(run, tmp_path):
    run("new", "lab", "acme")
    os.chdir(tmp_path / "acme")
    run("new", "method", "A-1", *flags())
    deep = tmp_path / "acme" / "methods" / "paints" / "white"
    run("new", "method", "A-2", "--folder", str(deep), *flags())
    os.chdir(tmp_path)
    run("new", "method", "A-3", *flags())
    for file in (tmp_path / "acme/methods/A-1.yaml", deep / "A-2.yaml", tmp_path / "methods/A-3.yaml"):
        first = file.read_text(encoding="utf-8").splitlines()[0]
        named = re.fullmatch(r"# yaml-language-server: \$schema=(\S+)", first)
        assert named is not None
        schema = file.parent / named[1]
        assert json.loads(
            (ROOT / "schemas" / "method.schema.json").read_text(encoding="utf-8")
        ) == json.loads(schema.read_text(encoding="utf-8"))
    assert not list((tmp_path / "acme" / "methods").rglob("*.json"))


def test_without_a_laboratory_it_says_whose_instruments_were_used(run):
    _, out, _ = run("new", "method", "A-1", *flags())
    assert "demonstration" in out
    assert "fillmark new lab FOLDER" in out


GRID = [
    ("300 mPa·s", "500 mPa·s"), ("100 mPa·s", "200 mPa·s"), ("1.0 Pa·s", "2.0 Pa·s"), ("3000 cP", "4000 cP"),
    ("8 Pa·s", "12 Pa·s"), ("80 P", "120 P"), ("70 Pa·s", "130 Pa·s"), ("200 Pa·s", "300 Pa·s"),
]  # fmt: skip


@pytest.mark.parametrize(("lower", "upper"), GRID)
@pytest.mark.parametrize("behaviour", new.BEHAVIOURS)
def test_from_thin_to_stiff_every_start_is_clean(run, tmp_path, lower, upper, behaviour):
    code, out, err = run("new", "method", "A-1", *flags(lower=lower, upper=upper, behaviour=behaviour))
    assert (0, "") == (code, err), out
    assert [] == weighty(checked(tmp_path / "methods" / "A-1.yaml"))


@pytest.mark.parametrize(
    "temperature", ["20.0 °C ± 0.2 °C", "25.0 °C ± 0.1 °C", "40.0 °C ± 0.5 °C", "23.0 °C ± 1.0 °C"]
)
def test_at_usual_temperatures_every_start_is_clean(run, tmp_path, temperature):
    code, out, err = run("new", "method", "A-1", *flags(temperature=temperature))
    assert (0, "") == (code, err), out
    assert [] == weighty(checked(tmp_path / "methods" / "A-1.yaml"))


@pytest.mark.parametrize(
    ("wish", "kept"),
    [
        ({"instrument": "bench-8"}, {"readout": "dial", "spring": "R", "coupling": "threaded"}),
        ({"readout": "dial"}, {"readout": "dial"}),
        ({"spring": "8R"}, {"spring": "8R"}),
        ({"coupling": "twist-lock"}, {"coupling": "twist-lock"}),
        ({"suspension": "ball-bearing", "spring": "R"}, {"suspension": "ball-bearing", "spring": "R"}),
    ],
)
def test_a_wish_for_the_instrument_is_kept_and_the_start_is_clean(run, tmp_path, wish, kept):
    code, out, err = run("new", "method", "A-1", *flags(**wish))
    assert (0, "") == (code, err), out
    file = tmp_path / "methods" / "A-1.yaml"
    assert [] == weighty(checked(file))
    instrument = yaml.safe_load(file.read_text(encoding="utf-8"))["instrument"]
    assert kept == {k: instrument[k] for k in kept}


def test_a_spindle_or_a_speed_that_is_named_is_kept_and_the_other_is_chosen(run, tmp_path):
    assert 0 == run("new", "method", "A-1", *flags(spindle="R4"))[0]
    assert 0 == run("new", "method", "A-2", *flags(speed="10 rpm"))[0]
    first, second = (
        yaml.safe_load((tmp_path / "methods" / f).read_text(encoding="utf-8"))
        for f in ("A-1.yaml", "A-2.yaml")
    )
    assert "R4" == first["spindle"]
    assert "10 rpm" == second["run"][0]["speed"]
    assert [] == weighty(checked(tmp_path / "methods" / "A-2.yaml"))


def test_a_dial_is_read_with_a_locked_pointer(run, tmp_path):
    run("new", "method", "A-1", *flags(readout="dial"))
    (step,) = yaml.safe_load((tmp_path / "methods" / "A-1.yaml").read_text(encoding="utf-8"))["run"]
    assert step["read"]["lock"] is True


def test_what_cannot_pass_is_not_written_and_the_check_says_why(run, tmp_path):
    code, out, err = run("new", "method", "A-1", *flags(spindle="R7", speed="1 rpm"))
    assert (1, "") == (code, out)
    assert [] == list(tmp_path.iterdir())
    # 8 Pa·s with 4000 Pa·s·rpm at 1 rpm: 100 · 8 · 1 / 4000 = 0.2 %.
    assert re.search(r"error TRQ\d\d: .*\b0\.2 %", err)
    assert "--anyway" in err


def test_it_is_written_nevertheless_when_asked(run, tmp_path):
    code, out, _ = run("new", "method", "A-1", "--anyway", *flags(spindle="R7", speed="1 rpm"))
    assert 1 == code
    assert "As prescribed: spindle R7 at 1 rpm" in out
    assert any(d.startswith("TRQ") for d in weighty(checked(tmp_path / "methods" / "A-1.yaml")))


@pytest.mark.parametrize(
    ("lower", "upper"), [("2 mPa·s", "3 mPa·s"), ("9.99 Pa·s", "10.01 Pa·s"), ("1e6 Pa·s", "2e6 Pa·s")]
)
def test_where_nothing_suits_it_says_what_the_laboratory_has(run, tmp_path, lower, upper):
    code, out, err = run("new", "method", "A-1", *flags(lower=lower, upper=upper))
    assert (1, "") == (code, out)
    assert "Nothing was written." in err
    assert "spring R, digital, threaded" in err
    assert [] == list(tmp_path.iterdir())


def test_an_unknown_behaviour_is_written_as_the_most_careful_one_and_marked(run, tmp_path):
    run("new", "method", "A-1", *flags(behaviour="unknown"))
    text = (tmp_path / "methods" / "A-1.yaml").read_text(encoding="utf-8")
    assert re.search(r"^  behaviour: yield-stress +# CONFIRM: not known yet", text, re.MULTILINE)
    assert "purpose: development" in text


# --- what is refused


def test_without_a_terminal_all_that_is_missing_is_listed(run, tmp_path):
    for arguments in (["new"], ["new", "method"]):
        code, out, err = run(*arguments)
        assert (2, "") == (code, out)
        assert "ID, --product, --behaviour, --lower, --upper, --temperature, --hazards, --author" in " ".join(
            err.split()
        )
    assert [] == list(tmp_path.iterdir())


def test_hazards_are_never_assumed(run):
    code, _, err = run("new", "method", "A-1", *flags(hazards=None))
    assert 2 == code
    assert "Missing: --hazards." in err


def test_all_that_is_wrong_is_told_at_once(run, tmp_path):
    code, _, err = run(
        "new", "method", "A 1", *flags(lower="12 mPas", temperature="23 °C", behaviour="thixotropc")
    )
    assert 2 == code
    for said in (
        "ID: A 1 cannot be an id", "--lower: ", "Write 12 mPa·s.", "--temperature: 23 °C has no tolerance",
        "--behaviour: thixotropc is no behaviour. Did you mean thixotropic?",
    ):  # fmt: skip
        assert said in err
    assert [] == list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "wrong",
    [
        "a/b",
        "../x",
        "a b",
        "x",
        "-x",
        ".x",
        "a" * 41,
        "ä1",
        "a\nb",
        "A-1\n",
        "A-1.yaml",
        "a\\b",
        "A.",
        "CON",
        "lpt1.x",
    ],
)
def test_an_id_that_cannot_name_a_file_is_refused_with_the_pattern(run, tmp_path, wrong):
    code, out, err = run("new", "method", *flags(), "--", wrong)
    assert (2, "") == (code, out)
    assert "2 to 40 letters" in err or "Leave the ending out: A-1" in err
    assert [] == list(tmp_path.iterdir())


WINDOWS_KEEPS = {
    "con",
    "prn",
    "aux",
    "nul",
    *(f"{device}{n}" for device in ("com", "lpt") for n in range(10)),
}
"""Names of devices: learn.microsoft.com, Naming Files, Paths, and Namespaces (from memory)."""


@given(
    st.text(min_size=0, max_size=45) | st.from_regex(r"(?i)(con|nul|com1|lpt9|aux2?)[.a_]?", fullmatch=True)
)
def test_the_words_about_ids_and_the_schema_agree(text):
    right = (
        2 <= len(text) <= 40
        and text.isascii()
        and text[0].isalnum()
        and all(c.isalnum() or c in "._-" for c in text)
        and text[-1] != "."
        and text.partition(".")[0].casefold() not in WINDOWS_KEEPS
    )
    try:
        read = new._id(Path("nowhere"))(text)
    except new.click.BadParameter:
        read = None
    ending = text.endswith((".yaml", ".yml"))
    assert (text if right and not ending else None) == read


def test_a_method_that_is_there_is_left_and_another_name_offered(run, tmp_path):
    run("new", "method", "A-1", *flags())
    (tmp_path / "methods" / "A-1-2.yaml").touch()
    before = (tmp_path / "methods" / "A-1.yaml").read_bytes()
    code, out, err = run("new", "method", "A-1", *flags(lower="9.0 Pa·s"))
    assert (2, "") == (code, out)
    assert "A-1-3 is free" in err
    assert before == (tmp_path / "methods" / "A-1.yaml").read_bytes()


def test_a_file_that_comes_in_between_is_left_too(run, tmp_path, monkeypatch):
    def meanwhile(*arguments):
        (tmp_path / "methods" / "A-1.yaml").parent.mkdir(exist_ok=True)
        (tmp_path / "methods" / "A-1.yaml").write_text("mine", encoding="utf-8")
        return search(*arguments)

    search = starter.search
    monkeypatch.setattr(starter, "search", meanwhile)
    code, _, err = run("new", "method", "A-1", *flags())
    assert 2 == code
    assert "A-1-2 is free" in err
    assert "mine" == (tmp_path / "methods" / "A-1.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"lower": "12 Pa·s", "upper": "8 Pa·s"}, "is not below the upper limit"),
        ({"lower": "8000 mPa·s"}, "Write both limits in one unit"),
        ({"spindle": "R9"}, "R9 is no spindle of the laboratory"),
        ({"spindle": "chamber-11.8"}, "a new method starts with one"),
        ({"instrument": "bench-99"}, "bench-99 is no instrument of the laboratory"),
        ({"spring": "L", "coupling": "twist-lock"}, "The laboratory has no such instrument. It has: bench-1"),
        ({"speed": "20"}, "20 has no unit"),
        ({"speed": "10 1/s"}, "the speed itself is set in rpm"),
        ({"product": "  "}, "Write one line of text"),
        ({"product": "a\nb"}, "Write one line of text"),
        ({"title": "x" * 121}, "121 characters are too many"),
        ({"hazards": ""}, "Write none, or what can hurt"),
        ({"hazards": "irritent"}, "Did you mean irritant?"),
        ({"hazards": "none, irritant"}, "none is no hazard"),
        ({"temperature": "23 ± 1"}, "Write 23 °C ± 1 °C"),
    ],
)
def test_a_wrong_answer_is_refused_with_what_would_be_right(run, tmp_path, changed, said):
    code, out, err = run("new", "method", "A-1", *flags(**changed))
    assert (2, "") == (code, out)
    assert said in err
    assert [] == list(tmp_path.iterdir())


def test_faulty_reference_data_is_named(run, tmp_path):
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / "springs.yaml").write_text("R: 3\n", encoding="utf-8")
    code, _, err = run("new", "method", "A-1", *flags())
    assert 2 == code
    assert "shared/springs.yaml:1: " in err


@pytest.mark.parametrize(
    "name",
    [
        "Paint: the best # 1",
        "no",
        "12",
        "1.5",
        "2026-01-01",
        "a, b}",
        '"quoted"',
        "- dash",
        "é ± µ",
        "~",
        "x" * 80,
    ],
)
def test_awkward_names_survive_the_whole_way(run, tmp_path, name):
    code, out, err = run("new", "method", "A-1", *flags(product=name, author=name))
    assert (0, "") == (code, err), out
    compiled = checked(tmp_path / "methods" / "A-1.yaml")
    assert [] == weighty(compiled)
    assert compiled.method is not None
    assert (name, name) == (compiled.method.product.name, compiled.method.people.author)


# --- questions, on a terminal


def at_a_terminal(
    folder: Path, answers: list[str], *arguments: str, interrupt: bool = False
) -> tuple[int, str]:
    """Answer the questions one by one, each as soon as it is asked; gives the exit code and the screen."""
    import pty

    try:
        ours, theirs = pty.openpty()
    except OSError as error:
        pytest.skip(f"no terminal is to be had here: {error}")
    env = {"PATH": os.environ["PATH"], "TERM": "xterm", "LANG": "C.UTF-8", "HOME": str(folder)}
    command = [sys.executable, "-m", "fillmark", *arguments]
    screen = ""
    with subprocess.Popen(command, cwd=folder, env=env, stdin=theirs, stdout=theirs, stderr=theirs) as run:
        os.close(theirs)
        left = list(answers)
        while True:
            try:
                piece = os.read(ours, 65536).decode("utf-8", "replace")
            except OSError:
                break
            if not piece:
                break
            screen += piece
            if screen.endswith(": "):
                if left:
                    os.write(ours, (left.pop(0) + "\n").encode())
                elif interrupt:
                    # Once is not enough: the line editor does not hear what comes just before it listens.
                    while run.poll() is None:
                        run.send_signal(signal.SIGINT)
                        time.sleep(0.5)
                else:
                    os.write(ours, b"\x04")
        code = run.wait(timeout=60)
    os.close(ours)
    return code, screen


ANSWERS = [
    "PNT 1", "PNT-1", "Wall paint", "thixotropc", "thixotropic", "", "12 mPas", "8 Pa·s", "7 Pa·s", "12 Pa·s",
    "23 °C", "", "", "1.4 g/mL", "irritant", "A. Osei", "any", "", "",
]  # fmt: skip


@pytest.mark.parametrize("arguments", [["new"], ["new", "method"]])
def test_on_a_terminal_it_asks_and_each_answer_is_judged_at_once(tmp_path, arguments):
    code, screen = at_a_terminal(tmp_path, ANSWERS, *arguments)
    assert 0 == code, screen
    place = -1
    for said in (
        "PNT 1 cannot be an id", "Did you mean thixotropic?", "[Apparent viscosity of Wall paint]",
        "Write 12 mPa·s.",
        "7 Pa·s is not above the lower limit 8 Pa·s.", "23 °C has no tolerance", "Chosen: spindle",
    ):  # fmt: skip
        assert screen.find(said, place + 1) > place, (said, screen)
        place = screen.find(said, place + 1)
    assert [] == weighty(checked(tmp_path / "methods" / "PNT-1.yaml"))


def test_on_a_terminal_only_what_was_not_given_is_asked(tmp_path):
    code, screen = at_a_terminal(
        tmp_path, ["", "", "", "A. Osei", "", "", ""], "new", "method", "PNT-1", *flags(author=None)
    )
    assert 0 == code, screen
    assert "Who writes the method" in screen
    assert "Lower limit, such as" not in screen


def test_given_everything_a_terminal_is_asked_nothing(tmp_path):
    code, screen = at_a_terminal(tmp_path, [], "new", "method", "PNT-1", *flags())
    assert 0 == code, screen
    assert ": \n" not in screen


@pytest.mark.parametrize("interrupt", [True, False])
def test_stopping_among_the_questions_writes_nothing(tmp_path, interrupt):
    code, screen = at_a_terminal(tmp_path, ANSWERS[:6], "new", interrupt=interrupt)
    assert 130 == code
    assert "Stopped." in screen
    assert "Traceback" not in screen
    assert [] == names(tmp_path)


def test_the_module_loads_nothing_heavy_as_every_run_imports_it():
    code = (
        "import sys, fillmark.new; heavy = ('fillmark', 'yaml', 'rich', 'jsonschema');"
        "print(*sorted(m for m in sys.modules if m.startswith(heavy)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "fillmark fillmark.new" == done.stdout.strip()
