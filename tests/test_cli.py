"""The command line from outside: what is printed where, and with which exit code."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest
from jsonschema import Draft202012Validator

from fillmark import __version__
from fillmark.cli import COMMANDS, cli
from fillmark.commands import console

ROOT = Path(__file__).parents[1]
COMMAND = [sys.executable, "-m", "fillmark"]
BAD_UNIT = ("lower: 8.0 Pa·s", "lower: 8.0 Pas")


def fillmark(*arguments: str, cwd: Path, **more):
    """Run the command as a shell would, in a plain environment without a terminal."""
    env = {
        k: v
        for k, v in os.environ.items()
        if k not in ("NO_COLOR", "FORCE_COLOR", "FILLMARK_ASCII", "COLUMNS")
    }
    env |= {"PYTHONIOENCODING": "utf-8", **more.pop("env", {})}
    before = more.pop("before", [])
    keep = {"capture_output": True, "encoding": "utf-8", "stdin": subprocess.DEVNULL, "timeout": 120}
    return subprocess.run([*before, *COMMAND, *arguments], cwd=cwd, env=env, check=False, **(keep | more))


@pytest.fixture
def lab(tmp_path):
    """Make a folder with two methods of the demonstration and no reference data of its own."""
    (tmp_path / "methods").mkdir()
    for name in ("MCW-VIS-014", "TGF-VIS-003"):
        shutil.copy(ROOT / "methods" / f"{name}.yaml", tmp_path / "methods")
    return tmp_path


def spoil(lab: Path, change: tuple[str, str] = BAD_UNIT, name: str = "MCW-VIS-014") -> Path:
    """Put a fault into a method."""
    file = lab / "methods" / f"{name}.yaml"
    text = file.read_text(encoding="utf-8")
    assert 1 == text.count(change[0])
    file.write_text(text.replace(*change), encoding="utf-8")
    return file


@pytest.fixture
def bound_by_permissions():
    """Give what to put before a command so that it is refused what an ordinary user is refused."""
    if os.geteuid() != 0:
        return []
    if not shutil.which("setpriv"):
        pytest.skip("an administrator may read everything")
    return ["setpriv", "--bounding-set=-dac_override,-dac_read_search", "--"]


# --- exit codes


def test_clean_methods_give_0_and_say_so(lab):
    done = fillmark("check", cwd=lab)
    assert (0, "No findings in 2 files.\n", "") == (done.returncode, done.stdout, done.stderr)


def test_findings_give_1_with_place_code_and_ways_out(lab):
    spoil(lab)
    done = fillmark("check", cwd=lab)
    assert 1 == done.returncode
    assert re.search(
        r"^methods/MCW-VIS-014\.yaml:\d+:\d+: error QTY01 unreadable-quantity$", done.stdout, re.MULTILINE
    )
    assert "Write 8.0 Pa·s." in done.stdout
    assert done.stdout.endswith("1 error in 1 of 2 files.\n")
    assert "" == done.stderr


def test_one_bad_file_among_many_stops_only_itself(lab):
    spoil(lab)
    (lab / "methods" / "torn.yaml").write_text("fillmark: 1\nid: [", encoding="utf-8")
    (lab / "methods" / "not-utf8.yaml").write_bytes("title: 23 °C\n".encode("latin-1"))
    done = fillmark("check", "--format", "json", cwd=lab)
    assert 1 == done.returncode
    found = json.loads(done.stdout)
    assert 4 == found["files"]
    assert {"methods/MCW-VIS-014.yaml", "methods/torn.yaml", "methods/not-utf8.yaml"} == {
        d["file"] for d in found["diagnostics"]
    }


def test_a_file_that_is_no_yaml_is_shown_with_a_mark_under_the_place(tmp_path):
    (tmp_path / "torn.yaml").write_text("fillmark: 1\nid: [a\n", encoding="utf-8")
    done = fillmark("check", "torn.yaml", cwd=tmp_path)
    assert 1 == done.returncode
    assert "     2 ┊ id: [a\n       ┊     ^" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["check", "missing.yaml"], "'missing.yaml' does not exist"),
        (["check", "missing/"], "'missing/' does not exist"),
        (["check", "methods", "--today", "soon"], "'soon' does not match the format"),
        (["check", "--workspace", "methods"], "methods is no workspace"),
        (["check", "--format", "xml"], "'xml' is not one of"),
        (["build", "--paper", "A3"], "'A3' is not one of"),
        (["explain", "XYZ99"], "There is no code XYZ99"),
        (["explain"], "Missing argument 'CODE'"),
        (["completion", "tcsh"], "'tcsh' is not one of"),
        (["chekc"], "No such command 'chekc'"),
        (["new", "PNT-1"], "Did you mean `fillmark new method PNT-1`"),
    ],
)
def test_wrong_use_gives_2_on_stderr_alone(lab, arguments, said):
    done = fillmark(*arguments, cwd=lab)
    assert (2, "") == (done.returncode, done.stdout)
    assert said in done.stderr


def test_a_folder_without_methods_gives_2_and_the_way_to_start_one(tmp_path):
    done = fillmark("check", cwd=tmp_path)
    assert (2, "") == (done.returncode, done.stdout)
    assert "fillmark new" in done.stderr


@pytest.mark.parametrize(
    ("module", "form"), [("fillmark.glance", "text"), ("fillmark.commands.console", "json")]
)
def test_a_fault_of_our_own_gives_3_with_its_trace(lab, module, form):
    broken = (
        f"import sys, fillmark.cli as c, {module} as m;"
        f"m.compile_method = lambda *a, **k: 1 / 0; sys.argv = ['fillmark', 'check', '--format', '{form}'];"
        "sys.exit(c.main())"
    )
    done = subprocess.run(
        [sys.executable, "-c", broken], cwd=lab, capture_output=True, text=True, check=False
    )
    assert 3 == done.returncode
    assert "ZeroDivisionError" in done.stderr
    assert "This is a fault of Fillmark, not of your file." in done.stderr


def test_faulty_reference_data_gives_2_and_judges_no_method(lab):
    (lab / "shared").mkdir()
    (lab / "shared" / "springs.yaml").write_text("X: {full_scale: 3 furlongs}\n", encoding="utf-8")
    done = fillmark("check", cwd=lab)
    assert 2 == done.returncode
    assert "shared/springs.yaml:1:" in done.stdout
    assert "┊ X: {full_scale: 3 furlongs}" in done.stdout
    assert "methods/" not in done.stdout
    assert "before any method can be judged" in done.stderr


def test_faulty_reference_data_is_told_as_json_too(lab):
    (lab / "shared").mkdir()
    (lab / "shared" / "springs.yaml").write_text("X: 3\n", encoding="utf-8")
    done = fillmark("check", "--format", "json", cwd=lab)
    assert 2 == done.returncode
    assert {"shared/springs.yaml"} == {d["file"] for d in json.loads(done.stdout)["diagnostics"]}


@pytest.mark.parametrize(("least", "code"), [("error", 0), ("warning", 1), ("advice", 1)])
def test_fail_on_sets_the_weight_that_counts(lab, least, code):
    spoil(lab, ('based_on: ["ASTM D2196-20"]', 'based_on: ["ASTM D2196"]'))
    done = fillmark("check", "--fail-on", least, cwd=lab)
    assert code == done.returncode
    assert "warning IDN07" in done.stdout


# --- files that cannot be read


def test_a_file_that_cannot_be_read_gives_2_and_the_others_are_still_checked(lab):
    (lab / "methods" / "gone.yaml").symlink_to("nowhere.yaml")
    (lab / "methods" / "round.yaml").symlink_to("round.yaml")
    spoil(lab)
    done = fillmark("check", "--format", "json", cwd=lab)
    assert 2 == done.returncode
    codes = {(d["file"], d["code"]) for d in json.loads(done.stdout)["diagnostics"]}
    assert {
        ("methods/gone.yaml", "FIL01"), ("methods/round.yaml", "FIL01"), ("methods/MCW-VIS-014.yaml", "QTY01")
    } == codes  # fmt: skip


def test_a_file_without_permission_gives_2(lab, bound_by_permissions):
    (lab / "methods" / "MCW-VIS-014.yaml").chmod(0)
    done = fillmark("check", cwd=lab, before=bound_by_permissions)
    assert 2 == done.returncode
    assert "methods/MCW-VIS-014.yaml:1:1: error FIL01" in done.stdout
    assert "Permission denied" in done.stdout


def test_a_folder_without_permission_gives_2(lab, bound_by_permissions):
    closed = lab / "methods" / "deep"
    closed.mkdir(mode=0)
    done = fillmark("check", cwd=lab, before=bound_by_permissions)
    closed.chmod(0o755)
    assert (2, "") == (done.returncode, done.stdout)
    assert "methods/deep cannot be looked into: Permission denied" in done.stderr


# --- the streams


def test_the_same_id_in_two_files_stops_both(lab):
    shutil.copy(lab / "methods" / "MCW-VIS-014.yaml", lab / "methods" / "copy.yaml")
    done = fillmark("check", "--format", "json", cwd=lab)
    assert 1 == done.returncode
    assert [("methods/MCW-VIS-014.yaml", "LIB01"), ("methods/copy.yaml", "LIB01")] == [
        (d["file"], d["code"]) for d in json.loads(done.stdout)["diagnostics"]
    ]


def test_json_is_what_the_schema_says(lab):
    spoil(lab)
    spoil(lab, ("guard: not-used", "guard: perhaps"), "TGF-VIS-003")
    schema = json.loads((ROOT / "schemas" / "diagnostics.schema.json").read_text(encoding="utf-8"))
    done = fillmark("check", "--format", "json", cwd=lab)
    whole = json.loads(done.stdout)
    assert [] == [e.message for e in Draft202012Validator(schema).iter_errors(whole)]
    assert __version__ == whole["fillmark"]
    assert {"error": 2, "warning": 0, "advice": 0, "waived": 0} == whole["found"]


def test_json_counts_waived_findings_apart():
    done = fillmark("check", "methods", "--format", "json", cwd=ROOT)
    whole = json.loads(done.stdout)
    schema = json.loads((ROOT / "schemas" / "diagnostics.schema.json").read_text(encoding="utf-8"))
    assert [] == [e.message for e in Draft202012Validator(schema).iter_errors(whole)]
    assert 0 == done.returncode
    assert len([d for d in whole["diagnostics"] if d["waived_by"]]) == whole["found"]["waived"]


def test_json_is_utf8_whatever_the_terminal_is(lab):
    spoil(lab)
    plain = fillmark("check", "--format", "json", cwd=lab, encoding=None)
    for encoding in ("ascii", "latin-1"):
        done = fillmark(
            "check", "--format", "json", cwd=lab, encoding=None, env={"PYTHONIOENCODING": encoding}
        )
        assert (1, plain.stdout) == (done.returncode, done.stdout)
    assert "Pa·s" in plain.stdout.decode()


@pytest.mark.parametrize(
    "env", [{"PYTHONIOENCODING": "ascii"}, {"FILLMARK_ASCII": "1"}, {"PYTHONIOENCODING": "latin-1"}]
)
@pytest.mark.parametrize(
    "arguments",
    [
        ["check"], ["explain", "list"], ["explain", "QTY01"], ["doctor"], ["build", "--format", "html"],
        ["new", "method", "--help"],
    ],
)  # fmt: skip
def test_a_terminal_that_knows_no_unicode_gets_signs_spelt_out(lab, env, arguments):
    spoil(lab, ("title: Apparent", "titel: Äpparent"))
    (lab / "methods" / "MCW-VIS-014.yaml").rename(lab / "methods" / "Café 23 °C.yaml")
    done = fillmark(*arguments, cwd=lab, encoding=None, env=env)
    assert done.returncode in (0, 1)
    text = done.stdout.decode("latin-1")
    assert text.isascii() or env == {"PYTHONIOENCODING": "latin-1"}
    assert "?" not in text.replace("Did you mean title?", "")
    assert b"Traceback" not in done.stderr


def test_what_is_refused_is_spelt_out_too(lab):
    done = fillmark("new", "method", "--lower", "8 mPas", cwd=lab, env={"PYTHONIOENCODING": "ascii"})
    assert 2 == done.returncode
    assert "Write 8 mPa.s." in done.stderr


@pytest.mark.parametrize(
    ("env", "coloured"),
    [
        ({}, False),
        ({"FORCE_COLOR": "1"}, True),
        ({"FORCE_COLOR": "0"}, False),
        ({"FORCE_COLOR": "1", "NO_COLOR": "1"}, False),
        ({"FORCE_COLOR": "1", "TERM": "dumb"}, True),
    ],
)
def test_colour_comes_when_asked_for_and_never_against_no_color(lab, env, coloured):
    spoil(lab)
    done = fillmark("check", cwd=lab, env=env)
    assert coloured is ("\x1b[" in done.stdout)
    assert "error" in re.sub(r"\x1b\[[0-9;]*m", "", done.stdout)


def test_on_a_terminal_there_is_colour_and_no_color_takes_it_away(lab):
    import pty

    spoil(lab)

    def on_a_terminal(**env):
        try:
            ours, theirs = pty.openpty()
        except OSError as error:
            pytest.skip(f"no terminal is to be had here: {error}")
        wanted = {"PATH": os.environ["PATH"], "TERM": "xterm", "LANG": "C.UTF-8", **env}
        run = subprocess.Popen([*COMMAND, "check"], cwd=lab, env=wanted, stdout=theirs, stdin=theirs)
        os.close(theirs)
        text = b""
        while True:
            try:
                piece = os.read(ours, 65536)
            except OSError:
                break
            if not piece:
                break
            text += piece
        assert 1 == run.wait(timeout=60)
        os.close(ours)
        return text

    assert b"\x1b[1;31merror\x1b[0m" in on_a_terminal()
    assert b"\x1b[" not in on_a_terminal(NO_COLOR="1")
    assert b"\x1b[" not in on_a_terminal(TERM="dumb")


def test_no_file_can_steer_the_terminal(lab):
    spoil(lab, ("guard: required", 'guard: "\\e[31mred\\a"'))
    done = fillmark("check", cwd=lab)
    assert 1 == done.returncode
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f]", done.stdout)


@pytest.mark.parametrize(
    ("arguments", "code"), [(["explain", "list"], 0), (["check"], 1), (["check", "--format", "json"], 1)]
)
def test_a_reader_that_goes_away_is_no_fault_and_the_exit_code_holds(lab, arguments, code):
    spoil(lab)
    ours, theirs = os.pipe()
    os.close(ours)
    run = subprocess.run(
        [*COMMAND, *arguments],
        cwd=lab,
        stdout=theirs,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        check=False,
    )
    os.close(theirs)
    assert (code, b"") == (run.returncode, run.stderr)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full disk to be had")
def test_a_full_disk_is_not_called_a_fault_of_ours(lab):
    with Path("/dev/full").open("wb") as full:
        done = fillmark("explain", "list", cwd=lab, capture_output=False, stdout=full, stderr=subprocess.PIPE)
    assert 2 == done.returncode
    assert "No space left on device" in done.stderr
    assert "Traceback" not in done.stderr


def test_names_with_spaces_and_signs_are_taken(lab):
    (lab / "methods" / "MCW-VIS-014.yaml").rename(lab / "methods" / "wall paint, 23 °C.yaml")
    done = fillmark("check", "methods/wall paint, 23 °C.yaml", cwd=lab)
    assert (0, "No findings in 1 file.\n") == (done.returncode, done.stdout)


def test_a_day_can_be_named_by_which_waivers_are_judged():
    lapsed = fillmark("check", "methods/LMT-VIS-021.yaml", "--today", "2028-12-01", cwd=ROOT)
    assert 1 == lapsed.returncode
    assert "error WAI01" in lapsed.stdout
    assert 0 == fillmark("check", "methods/LMT-VIS-021.yaml", "--today", "2028-11-30", cwd=ROOT).returncode


# --- help and completion


@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_help_names_every_command(tmp_path, flag):
    done = fillmark(flag, cwd=tmp_path)
    assert (0, "") == (done.returncode, done.stderr)
    for command in ("build", "check", "completion", "doctor", "explain", "new"):
        assert re.search(rf"^  {command}  +\S", done.stdout, re.MULTILINE), command


@pytest.mark.parametrize("command", [*COMMANDS, "new lab", "new method"])
def test_every_command_has_help(tmp_path, command):
    done = fillmark(*command.split(), "--help", cwd=tmp_path)
    assert (0, "") == (done.returncode, done.stderr)
    assert done.stdout.startswith(f"Usage: fillmark {command} ")


def test_every_command_and_every_option_is_explained():
    def all_of(command, name):
        yield name, command
        if isinstance(command, click.Group):
            context = click.Context(command)
            for inner in command.list_commands(context):
                yield from all_of(command.get_command(context, inner), f"{name} {inner}".strip())

    known = dict(all_of(cli, ""))
    assert {"", "new lab", "new method", *COMMANDS} <= set(known)
    for name, command in known.items():
        assert command.help, name
        assert [] == [o.name for o in command.params if isinstance(o, click.Option) and not o.help], name


def test_every_module_of_commands_is_a_command():
    folder = Path(console.__file__).parent
    files = {p.stem.replace("_", "-") for p in folder.glob("*.py")} - {"--init--", "console", "named"}
    assert set(COMMANDS) == files


def test_the_version_is_told(tmp_path):
    done = fillmark("--version", cwd=tmp_path)
    assert (0, f"fillmark, version {__version__}\n") == (done.returncode, done.stdout)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_completion_script_is_one_the_shell_can_read(tmp_path, shell):
    done = fillmark("completion", shell, cwd=tmp_path)
    assert 0 == done.returncode
    assert "_FILLMARK_COMPLETE" in done.stdout
    if shutil.which(shell):
        subprocess.run([shell, "-n"], input=done.stdout, text=True, check=True)


def test_the_shell_is_offered_commands_and_options(tmp_path):
    def offered(line: str, word: int):
        env = {"_FILLMARK_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(word)}
        return {row.partition(",")[2] for row in fillmark(cwd=tmp_path, env=env).stdout.splitlines()}

    assert set(COMMANDS) == offered("fillmark ", 1)
    assert {"lab", "method"} == offered("fillmark new ", 2)
    assert "--fail-on" in offered("fillmark check --", 2)


def test_a_missing_package_is_named_with_the_way_to_mend_it(tmp_path):
    code = "import sys; sys.modules['yaml._yaml'] = None; from fillmark.cli import main; sys.exit(main())"
    done = subprocess.run(
        [sys.executable, "-c", code, "doctor"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert 2 == done.returncode
    assert "python -m fillmark.doctor" in done.stderr
    assert "Traceback" not in done.stderr


# --- the site policy and the library


def strict_laboratory(tmp_path):
    """Make a workspace with a stricter torque floor and the sauce in it."""
    (tmp_path / "shared").mkdir()
    policy = "version: strict-2\ntorque_floor: {value: 36 %, source: project-decision}\n"
    (tmp_path / "shared" / "policy.yaml").write_text(policy, encoding="utf-8")
    (tmp_path / "methods").mkdir()
    sauce = (ROOT / "methods" / "TGF-VIS-003.yaml").read_bytes()
    (tmp_path / "methods" / "TGF-VIS-003.yaml").write_bytes(sauce)
    return tmp_path


@pytest.mark.parametrize("form", ["text", "json", "sarif", "github", "junit"])
def test_a_moved_threshold_is_told_in_every_form(tmp_path, form):
    done = fillmark("check", "methods", "--format", form, cwd=strict_laboratory(tmp_path))
    assert 1 == done.returncode
    assert "strict-2" in done.stdout
    assert "36 %" in done.stdout


def test_the_shipped_policy_is_not_told(tmp_path):
    assert "policy" not in fillmark("check", str(ROOT / "methods"), cwd=ROOT).stdout.lower().replace(
        "site-policy", ""
    )


def test_library_looks_at_all_methods_together(tmp_path):
    (tmp_path / "a.yaml").write_bytes((ROOT / "methods" / "TGF-VIS-003.yaml").read_bytes())
    text = (ROOT / "methods" / "TGF-VIS-003.yaml").read_text(encoding="utf-8")
    other = text.replace("id: TGF-VIS-003", "id: TGF-VIS-004").replace("speed: 10 rpm", "speed: 12 rpm")
    (tmp_path / "b.yaml").write_text(other, encoding="utf-8")
    done = fillmark("library", "a.yaml", "b.yaml", cwd=tmp_path)
    assert 1 == done.returncode
    assert "LIB02" in done.stdout
    assert "speed 12 rpm here, 10 rpm there" in done.stdout
    assert 0 == fillmark("library", str(ROOT / "methods"), cwd=ROOT).returncode


def test_library_writes_its_index_as_a_page_and_as_tables(tmp_path):
    done = fillmark(
        "library", str(ROOT / "methods"), "--out", str(tmp_path), "--today", "2026-11-25", cwd=ROOT
    )
    assert 0 == done.returncode
    assert {"library.html", "methods.csv", "equipment.csv"} == {p.name for p in tmp_path.iterdir()}
    assert "MCW-VIS-014" in (tmp_path / "library.html").read_text(encoding="utf-8")


def test_an_index_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "taken").write_text("")
    done = fillmark("library", str(ROOT / "methods"), "--out", str(tmp_path / "taken" / "in"), cwd=ROOT)
    assert 2 == done.returncode
    assert "The index is not written" in done.stderr


# --- budgets


def test_misuse_says_what_each_slip_does(lab):
    done = fillmark("misuse", "methods/MCW-VIS-014.yaml", cwd=lab)
    assert (0, "") == (done.returncode, done.stderr)
    assert re.search(
        r"^Sample 1 K too warm +low +-2\.0 % +-2\.0 % +-2\.0 % computed$", done.stdout, re.MULTILINE
    )
    assert "viscosity_2:" not in done.stdout


def test_misuse_backwards(lab):
    done = fillmark("misuse", "methods/MCW-VIS-014.yaml", "--shift", "-9 %", cwd=lab)
    assert 0 == done.returncode
    assert "what could make a result read 9 % low" in done.stdout
    assert "Sample 1 K too warm: -2.0 %; it would take 4.5 K." in done.stdout


def test_uncertainty_lays_out_the_budget(lab):
    done = fillmark("uncertainty", "methods/MCW-VIS-014.yaml", cwd=lab)
    assert (0, "") == (done.returncode, done.stderr)
    assert "expanded         ± 0.334 Pa·s, which is ± 3.3 %" in done.stdout


@pytest.mark.parametrize("command", ["misuse", "uncertainty"])
def test_a_budget_in_json_and_in_ascii(lab, command):
    done = fillmark(
        command, "methods/MCW-VIS-014.yaml", "--step", "viscosity_20", "--format", "json", cwd=lab
    )
    schema = json.loads((ROOT / "schemas" / f"{command}.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(json.loads(done.stdout))
    plain = fillmark(command, "methods/MCW-VIS-014.yaml", cwd=lab, env={"FILLMARK_ASCII": "1"})
    assert plain.stdout.isascii()
    assert "Pa.s" in plain.stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["misuse", "methods/MCW-VIS-014.yaml", "--shift", "-9"], "with its sign and %"),
        (["misuse", "methods/MCW-VIS-014.yaml", "--step", "x"], "Steps: viscosity_2, viscosity_20."),
        (["uncertainty", "methods/MCW-VIS-014.yaml", "--step", "x"], "There is no step x."),
    ],
)
def test_a_budget_asked_for_wrongly_gives_2(lab, arguments, said):
    done = fillmark(*arguments, cwd=lab)
    assert (2, "") == (done.returncode, done.stdout)
    assert said in done.stderr


def test_a_budget_of_a_file_that_cannot_be_read_shows_its_findings(lab):
    spoil(lab)
    done = fillmark("uncertainty", "methods/MCW-VIS-014.yaml", "--format", "json", cwd=lab)
    assert (1, "") == (done.returncode, done.stdout)
    assert "QTY01" in done.stderr


def test_a_budget_of_a_faulty_method_says_what_it_rests_on(lab):
    spoil(lab, ("thermometer: {resolution: 0.1 K", "thermometer: {resolution: 1 K"))
    done = fillmark("misuse", "methods/MCW-VIS-014.yaml", cwd=lab)
    assert 0 == done.returncode
    assert "the budget follows what is written" in done.stderr


# --- two revisions


def revised(lab, *changes):
    """Lay a changed copy of the paint beside it."""
    text = (lab / "methods" / "MCW-VIS-014.yaml").read_text(encoding="utf-8")
    for right, other in changes:
        assert 1 == text.count(right)
        text = text.replace(right, other)
    (lab / "later.yaml").write_text(text, encoding="utf-8")
    return "compare", "methods/MCW-VIS-014.yaml", "later.yaml"


FASTER = ("speed: 20 rpm, read: {after: 60 s}", "speed: 10 rpm, read: {after: 60 s}")


@pytest.mark.parametrize(
    ("changes", "code", "said"),
    [
        ((), 0, "Nothing changed"),
        ((("retention: 10 years", "retention: 5 years"),), 0, "triggers: notify"),
        ((FASTER,), 1, "triggers: supervised run"),
        ((("guard: required", "guard: not-used"),), 1, "triggers: full competency"),
        # nothing technical, but a finding that was not there
        ((("retention: 10 years\n", ""),), 1, "SAF08"),
    ],
)
def test_compare_gives_1_for_what_is_technical_or_found(lab, changes, code, said):
    done = fillmark(*revised(lab, *changes), cwd=lab)
    assert (code, "") == (done.returncode, done.stderr)
    assert said in done.stdout


def test_compare_in_json_and_in_ascii(lab):
    arguments = revised(lab, FASTER)
    schema = json.loads((ROOT / "schemas" / "comparison.schema.json").read_text(encoding="utf-8"))
    done = fillmark(*arguments, "--format", "json", cwd=lab, encoding=None, env={"PYTHONIOENCODING": "ascii"})
    whole = json.loads(done.stdout.decode("utf-8"))
    Draft202012Validator(schema).validate(whole)
    assert (1, "parameter") == (done.returncode, whole["class"])
    plain = fillmark(*arguments, cwd=lab, env={"FILLMARK_ASCII": "1"})
    assert plain.stdout.isascii()
    assert "20 Pa.s" in plain.stdout


@pytest.mark.parametrize(("form", "stream"), [("text", "stdout"), ("json", "stderr")])
def test_compare_shows_what_keeps_a_file_from_being_compared(lab, form, stream):
    done = fillmark(*revised(lab, BAD_UNIT), "--format", form, cwd=lab)
    assert 2 == done.returncode
    assert "QTY01" in getattr(done, stream)
    assert "There is no comparison: later.yaml must be readable first." in done.stderr
    assert ("" == done.stdout) is (form == "json")


def test_compare_of_one_file_is_wrong_use(lab):
    assert 2 == fillmark("compare", "methods/MCW-VIS-014.yaml", cwd=lab).returncode
