"""What a machine does to a program: full disks, missing parts, closed streams, a hand that pulls the plug.

Each by the real process. Whatever happens, the message is clear, the exit code right, nothing is lost that was
there, and no paper stands that its method does not give.
"""

import os
import re
import shutil
import signal
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from fillmark.publish import leftovers

pytestmark = pytest.mark.slow

CLEAN, FINDINGS, USAGE = 0, 1, 2
BUILD = ("build", "--format", "html")
NEW_METHOD = (
    "new",
    "method",
    "A-1",
    "--title",
    "T",
    "--product",
    "P",
    "--lower",
    "8.0 Pa·s",
    "--upper",
    "12.0 Pa·s",
    "--author",
    "A. B",
    "--behaviour",
    "newtonian",
    "--temperature",
    "23.0 °C ± 0.5 °C",
    "--hazards",
    "none",
)


def may_mount() -> bool:
    """Tell whether a disk of one's own can be laid over a folder: by root on Linux, outside most containers."""
    if sys.platform != "linux" or os.geteuid() != 0 or shutil.which("unshare") is None:
        return False
    tried = ["unshare", "--mount", "mount", "-t", "tmpfs", "none", "/mnt"]
    return subprocess.run(tried, check=False, capture_output=True).returncode == 0


as_root_on_linux = pytest.mark.skipif(not may_mount(), reason="nobody here may lay a disk over a folder")


def inside(script: str) -> tuple[str, ...]:
    """Give what to put before a command so that it runs where a script has laid disks of its own."""
    return ("unshare", "--mount", "sh", "-ec", f'{script}; exec "$@"', "inside")


def papers(lab: Path) -> dict[str, bytes]:
    found = sorted(p for p in (lab / "out").rglob("*") if p.suffix in (".html", ".pdf"))
    return {p.relative_to(lab / "out").as_posix(): p.read_bytes() for p in found}


def spoil(lab: Path, *changes: tuple[str, str], name: str = "MCW-VIS-014") -> Path:
    file = lab / "methods" / f"{name}.yaml"
    text = file.read_text(encoding="utf-8")
    for right, wrong in changes:
        assert 1 == text.count(right)
        text = text.replace(right, wrong)
    file.write_text(text, encoding="utf-8")
    return file


MENDABLE = (("lower: 8.0 Pa·s", "lower: 8.0 Pas"), ("status: released", "status: draft"))

# --- disks

WRITING = {
    "build": BUILD,
    "fix": ("check", "--fix"),
    "library": ("library", "--out", "index"),
    "new lab": ("new", "lab", "another"),
    "new method": NEW_METHOD,
}


def files_of(lab: Path) -> dict[str, bytes]:
    return {
        p.relative_to(lab).as_posix(): p.read_bytes()
        for p in sorted(lab.rglob("*"))
        if p.is_file() and not p.name.startswith(".fillmark-")
    }


@pytest.mark.skipif(shutil.which("bash") is None, reason="needs a shell that can set limits")
@pytest.mark.parametrize("command", WRITING)
def test_a_file_that_may_not_grow_is_told_and_leaves_no_part(lab, run, command):
    spoil(lab, *(MENDABLE if command == "fix" else ()))
    before = files_of(lab)
    done = run(*WRITING[command], cwd=lab, before=("bash", "-c", 'ulimit -f 1; exec "$@"', "limited"))
    assert USAGE == done.code
    assert "File too large" in done.err
    assert before == files_of(lab)
    assert [] == [p for p in lab.rglob(".*") if p.name.startswith((".making-", ".writing-"))]


@as_root_on_linux
@pytest.mark.parametrize("room", ["16k", "64k", "256k"])
def test_a_full_disk_leaves_whole_papers_or_none_and_the_next_build_mends_it(lab, run, room):
    (lab / "out").mkdir()
    keep = lab / "kept"
    script = f"mount -t tmpfs -o size={room} none out; mkdir -p {keep}; trap 'cp -a out/. {keep}/' EXIT"
    before = ("unshare", "--mount", "sh", "-ec", f'{script}; set +e; "$@"; code=$?; exit $code', "inside")
    done = run(*BUILD, cwd=lab, before=before)
    assert USAGE == done.code
    assert "No space left on device" in done.err
    for page in keep.rglob("*.html"):
        assert page.read_bytes().rstrip().endswith(b"</html>")
    assert [] == leftovers(keep)
    assert CLEAN == run(*BUILD, cwd=lab).code
    whole = papers(lab)
    for page in keep.rglob("*.html"):
        assert whole[page.relative_to(keep).as_posix()] == page.read_bytes()


@as_root_on_linux
def test_a_full_disk_takes_stale_papers_away_all_the_same(lab, run):
    """There may be no room for the new paper; the old one must not stay in its place."""
    keep = lab / "kept"
    fill = "dd if=/dev/zero of=out/filling bs=1k count=9000 2>/dev/null || true"
    change = "sed -i 's/revision: 3$/revision: 4/' methods/MCW-VIS-014.yaml"
    me = f"{sys.executable} -m fillmark {' '.join(BUILD)}"
    script = (
        f"mkdir -p {keep}; mount -t tmpfs -o size=8m none out; {me} >/dev/null; test -e out/MCW-VIS-014; {fill}; "
        f'{change}; set +e; "$@"; code=$?; rm out/filling; cp -a out/. {keep}/; exit $code'
    )
    (lab / "out").mkdir()
    done = run(*BUILD, cwd=lab, before=("unshare", "--mount", "sh", "-ec", script, "inside"))
    assert USAGE == done.code
    assert "No space left on device" in done.err
    assert [] == list(keep.rglob("MCW-VIS-014-r3-*"))


@as_root_on_linux
@pytest.mark.parametrize("command", WRITING)
def test_a_read_only_disk_is_told_and_checking_works_on_it(lab, run, command):
    spoil(lab, *(MENDABLE if command == "fix" else ()))
    before = inside(f"mount --bind {lab} {lab}; mount -o remount,ro,bind {lab}; cd {lab}")
    done = run(*WRITING[command], cwd=lab, before=before)
    assert USAGE == done.code
    assert "Read-only file system" in done.err or "read-only" in done.err
    assert (FINDINGS if command == "fix" else CLEAN) == run("check", cwd=lab, before=before).code


@as_root_on_linux
def test_a_read_only_checkout_checks_and_builds_elsewhere(lab, run):
    """Nothing is written beside the program: no caches, no byte code, no log."""
    code = Path(__file__).resolve().parents[2]
    before = inside(f"mount --bind {code} {code}; mount -o remount,ro,bind {code}")
    assert CLEAN == run("check", cwd=lab, before=before).code
    assert CLEAN == run(*BUILD, cwd=lab, before=before).code
    assert 6 == len(papers(lab))


@pytest.mark.parametrize("place", ["out", "out/MCW-VIS-014"])
def test_a_file_in_the_place_of_a_folder_is_told_and_left(lab, run, place):
    if place != "out":
        (lab / "out").mkdir()
    (lab / place).write_text("mine")
    done = run(*BUILD, cwd=lab)
    assert USAGE == done.code
    assert "out" in done.err
    assert "mine" == (lab / place).read_text()


def test_a_folder_in_the_place_of_a_file_is_told_and_left(lab, run):
    (lab / "index" / "methods.csv").mkdir(parents=True)
    done = run("library", "--out", "index", cwd=lab)
    assert USAGE == done.code
    assert "methods.csv: Is a directory" in done.err
    (lab / "methods" / "LMT.yaml").mkdir()
    assert CLEAN == run("check", cwd=lab).code


# --- what is missing


@pytest.fixture
def without(tmp_path_factory):
    """Give an environment in which a package cannot be loaded, as it is where it or a system library is missing."""

    def hide(package: str, error: str) -> dict[str, str]:
        folder = tmp_path_factory.mktemp("hidden")
        (folder / package).mkdir()
        (folder / package / "__init__.py").write_text(f"raise {error}\n")
        return {"PYTHONPATH": str(folder)}

    return hide


MISSING = {
    "OSError(\"cannot load library 'libpango-1.0-0'\")": "libpango-1.0-0'). Run once: sudo apt-get install",
    "ImportError(\"No module named 'tinycss2'\")": "tinycss2'). Run once: python -m pip install",
}


@pytest.mark.parametrize("error", MISSING)
def test_without_a_library_for_pdf_html_and_checks_work_and_the_way_out_is_told(lab, run, without, error):
    env = without("weasyprint", error)
    done = run("build", cwd=lab, env=env)
    assert USAGE == done.code
    assert MISSING[error] in done.err
    assert {".html"} == {Path(name).suffix for name in papers(lab)}
    assert CLEAN == run("check", cwd=lab, env=env).code
    done = run("doctor", cwd=lab, env=env)
    assert FINDINGS == done.code
    assert "`fillmark check` and HTML work; PDF does not yet" in done.out


@pytest.mark.pdf
@pytest.mark.skipif(sys.platform != "linux", reason="fontconfig is asked by its own variable")
def test_without_any_font_the_way_out_is_told_and_nothing_crashes(lab, run):
    """The library that sets the text brings the process down where there is no font at all."""
    (lab / "fonts.conf").write_text('<?xml version="1.0"?><fontconfig></fontconfig>')
    env = {"FONTCONFIG_FILE": str(lab / "fonts.conf")}
    done = run("build", cwd=lab, env=env)
    assert USAGE == done.code
    assert "There is no font at all on this machine. Run once: sudo apt-get install" in done.err
    assert {".html"} == {Path(name).suffix for name in papers(lab)}
    done = run("doctor", cwd=lab, env=env)
    assert FINDINGS == done.code
    assert "A PDF cannot be made without a font." in done.out


@pytest.mark.parametrize("package", ["yaml", "click", "jsonschema_rs"])
def test_without_a_package_for_checking_the_start_says_what_is_missing(lab, run, without, package):
    done = run("check", cwd=lab, env=without(package, f"ImportError('no {package}')"), may_fail=True)
    assert USAGE == done.code or (package == "jsonschema_rs" and done.code)
    assert f"no {package}" in done.err
    if package != "jsonschema_rs":
        assert "python -m fillmark.doctor" in done.err
        assert "Traceback" not in done.err


# --- the surroundings

SURROUNDINGS = {
    "none": {},
    "plain C": {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": ""},
    "ASCII": {"PYTHONIOENCODING": "ascii"},
    "ASCII, strict": {"PYTHONIOENCODING": "ascii:strict"},
    "Windows": {"PYTHONIOENCODING": "cp1252"},
    "DOS": {"PYTHONIOENCODING": "cp437"},
    "Japanese": {"PYTHONIOENCODING": "shift_jis"},
    "unknown locale": {"LANG": "xx_YY.UTF-8", "LC_ALL": "xx_YY.UTF-8"},
    "Turkish": {"LC_ALL": "tr_TR.UTF-8"},
    "comma": {"LC_ALL": "de_DE.UTF-8", "LC_NUMERIC": "de_DE.UTF-8"},
    "no home": {"HOME": "/nonexistent"},
    "home is a file": {"HOME": "/dev/null"},
    "no place for temporary files": {"TMPDIR": "/nonexistent"},
    "no columns": {"COLUMNS": "0"},
    "columns that are none": {"COLUMNS": "x"},
    "columns without end": {"COLUMNS": "99999999999"},
    "time zone that is none": {"TZ": "Nowhere/Land"},
    "a day ahead": {"TZ": "XXX-24"},
}


@pytest.mark.parametrize("name", SURROUNDINGS)
def test_the_papers_are_the_same_and_findings_are_told_in_any_surroundings(lab, run, name):
    run(*BUILD, "--print-date", "2026-12-01", cwd=lab)
    first = papers(lab)
    shutil.rmtree(lab / "out")
    bare = {"env": {"PATH": os.environ["PATH"], **SURROUNDINGS[name]}, "bare_env": True}
    done = run(*BUILD, "--print-date", "2026-12-01", cwd=lab, **bare)
    assert CLEAN == done.code
    assert first == papers(lab)
    spoil(lab, ("lower: 8.0 Pa·s", "lower: 8.0 Pas"))
    done = run("check", cwd=lab, **bare)
    assert FINDINGS == done.code
    assert "error QTY01" in done.out
    assert "Write 8.0 Pa" in done.out
    assert FINDINGS == run("check", "--format", "json", cwd=lab, **bare).code


CLOSED = {"in": "<&-", "out": ">&-", "err": "2>&-", "all": "<&- >&- 2>&-"}


@pytest.mark.parametrize("closed", CLOSED)
def test_closed_streams_change_neither_exit_code_nor_papers(lab, run, closed):
    """With a stream closed, the next file opened gets its number, and what is meant for the stream."""
    run("build", "--document", "checklist", cwd=lab)
    whole = papers(lab)
    shutil.rmtree(lab / "out")
    shell = ("sh", "-c", f'exec "$@" {CLOSED[closed]}', "closed")
    assert CLEAN == run("build", "--document", "checklist", cwd=lab, before=shell).code
    assert whole == papers(lab)
    spoil(lab, ("lower: 8.0 Pa·s", "lower: 8.0 Pas"))
    for line in (
        ("check",),
        ("build",),
        ("show", "methods/MCW-VIS-014.yaml"),
        ("check", "--format", "sarif"),
    ):
        assert FINDINGS == run(*line, cwd=lab, before=shell).code
    assert CLEAN == run("new", "lab", "another", cwd=lab, before=shell).code


def test_without_a_terminal_nothing_is_asked(lab, run):
    done = run("new", cwd=lab)
    assert USAGE == done.code
    assert "Aborted" not in done.err


def test_a_folder_that_was_removed_under_the_command_is_told(lab, run):
    before = ("sh", "-c", 'rmdir ../gone; exec "$@"', "gone")
    for line in (("check",), BUILD, ("doctor",), ("library",)):
        (lab / "gone").mkdir(exist_ok=True)
        done = run(*line, cwd=lab / "gone", before=before)
        assert USAGE == done.code
        assert "None" not in done.err


# --- time


@pytest.mark.parametrize("stamp", [0, 1, 4102444800, 2**33], ids=["1970", "a second later", "2100", "2242"])
def test_a_clock_gone_wrong_shows_nothing_stale_as_current(lab, run, stamp):
    """Which paper is current hangs on what is in it; a copied file may have any time."""
    run(*BUILD, cwd=lab)
    method = spoil(
        lab, ("revision: 3\nstatus", "revision: 4\nstatus"), ("{revision: 3, class", "{revision: 4, class")
    )
    for file in [method, *lab.rglob("*.html")]:
        os.utime(file, (stamp, stamp))
    assert CLEAN == run(*BUILD, cwd=lab).code
    assert {"r4"} == {n.split("/")[1].split("-")[3] for n in papers(lab) if n.startswith("MCW")}
    page = lab / "out/MCW-VIS-014/MCW-VIS-014-r4-checklist-A4.html"
    whole, times = page.read_bytes(), page.stat()
    page.write_bytes(whole.replace(b"Pa", b"Xa"))
    os.utime(page, ns=(times.st_atime_ns, times.st_mtime_ns))
    run(*BUILD, cwd=lab)
    assert whole == page.read_bytes()


@pytest.mark.parametrize("day", ["0001-01-01", "1970-01-01", "9999-12-31"])
def test_any_day_of_the_calendar_can_be_named(lab, run, day):
    for line in (("check",), BUILD, ("library", "--out", "index")):
        assert run(*line, "--today", day, cwd=lab).code in (CLEAN, FINDINGS)


# --- other processes

WAITING = """
import sys, time
{imported}
whole = {where}

def slow(*arguments, **more):
    print("now", flush=True)
    sys.stdin.readline()
    return whole(*arguments, **more)

{where} = slow
from fillmark.cli import main
sys.exit(main())
"""


class Held:
    """A command that waits in one place until it is let go or killed."""

    def __init__(self, lab: Path, where: str, imported: str, *line: str) -> None:
        code = WAITING.format(where=where, imported=imported)
        pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
        self.process = subprocess.Popen([sys.executable, "-c", code, *line], cwd=lab, **pipes)
        for said in self.process.stdout:
            if said == "now\n":
                return
        pytest.fail(f"it ended before it got there: {self.process.stderr.read()}")

    def let_go(self) -> tuple[int, str]:
        """Let it run on as often as it waits; gives its exit code and what it said of errors."""
        _, err = self.process.communicate("\n" * 1000, timeout=120)
        return self.process.returncode, err

    def kill(self) -> None:
        """Pull the plug."""
        self.process.send_signal(signal.SIGKILL)
        self.process.communicate(timeout=60)
        assert -signal.SIGKILL == self.process.returncode


LISTED = {"check": ("check",), "library": ("library",), "build": BUILD}


@pytest.mark.parametrize("command", LISTED)
def test_a_file_that_vanishes_between_listing_and_reading_is_told(lab, command):
    held = Held(lab, "workspace.read_at_most", "import fillmark.workspace as workspace", *LISTED[command])
    (lab / "methods" / "MCW-VIS-014.yaml").unlink()
    (lab / "methods" / "TGF-VIS-003.yaml").unlink()
    code, err = held.let_go()
    assert USAGE == code
    assert "Traceback" not in err
    assert {} == papers(lab)


WRITE = ("publish.os.fsync", "import fillmark.publish as publish")
RENAME = ("Path.replace", "from pathlib import Path")
KILLED = {
    "fix, before it is written": (*WRITE, "check", "--fix"),
    "fix, before it takes the place": (*RENAME, "check", "--fix"),
    "index": (*WRITE, "library", "--out", "index"),
    "a laboratory": ("Path.write_bytes", "from pathlib import Path", "new", "lab", "another"),
    "a method": ("os.link", "import os", *NEW_METHOD),
}


@pytest.mark.parametrize("case", KILLED)
def test_a_command_killed_while_it_writes_loses_nothing_and_can_be_given_again(lab, run, case):
    spoil(lab, *(MENDABLE if case.startswith("fix") else ()))
    before = files_of(lab)
    where, imported, *line = KILLED[case]
    Held(lab, where, imported, *line).kill()
    after = files_of(lab)
    assert before == {name: content for name, content in after.items() if name in before}
    seen = [n for n in after if n not in before and not re.search(r"(^|/)\.(making|writing)-", n)]
    # The schema beside the first method of a laboratory is whole before the method is begun.
    assert set(seen) <= {"schemas/method.schema.json", "index/library.html"}
    assert run(*line, cwd=lab).code in (CLEAN, FINDINGS)


def test_a_fix_that_meets_another_hand_leaves_its_work(lab):
    """Somebody saves the file in an editor while it is being mended."""
    file = spoil(lab, *MENDABLE)
    held = Held(lab, "fix.write", "import fillmark.fix as fix", "check", "--fix")
    other = file.read_text(encoding="utf-8").replace("matt wall paint", "silk wall paint")
    file.write_text(other, encoding="utf-8")
    code, err = held.let_go()
    assert USAGE == code
    assert "changed since it was read" in err
    assert other == file.read_text(encoding="utf-8")


def test_builds_side_by_side_end_with_whole_papers_of_one_state(lab, run):
    run(*BUILD, cwd=lab)
    whole = papers(lab)
    shutil.rmtree(lab / "out")
    done = []
    side_by_side = [threading.Thread(target=lambda: done.append(run(*BUILD, cwd=lab))) for _ in range(4)]
    for one in side_by_side:
        one.start()
    for one in side_by_side:
        one.join()
    assert [CLEAN] * 4 == [one.code for one in done]
    assert whole == papers(lab)
    assert [] == leftovers(lab / "out")


def test_two_hands_that_start_the_same_method_do_not_write_over_each_other(lab, run):
    done = []
    both = [threading.Thread(target=lambda: done.append(run(*NEW_METHOD, cwd=lab))) for _ in range(2)]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert {(CLEAN, USAGE)} >= {tuple(sorted(one.code for one in done))}
    assert CLEAN == run("check", "methods/A-1.yaml", cwd=lab).code
