"""Bringing papers up to date: what stands in the out folder afterwards, whatever came in between."""

import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from fillmark import fingerprint
from fillmark.orders import KINDS, RECORD, Order
from fillmark.pipeline import compile_method, used_twice
from fillmark.printing import PrintingUnavailable
from fillmark.publish import REGISTER, SEEN, building, leftovers, read_register
from fillmark.reference import load_files, read_files
from fillmark.upkeep import build, footing

ROOT = Path(__file__).parents[1]
HTML = Order(papers=("A4",), kinds=("checklist", "data-sheet"), forms=("html",))
POLICY = """
version: here-1
bottom_clearance: {value: 12 mm, source: project-decision}
"""
IDS = ("BBM-VIS-007", "MCW-VIS-014", "TGF-VIS-003")


@pytest.fixture
def lab(tmp_path):
    """Make a folder with three methods of the demonstration."""
    (tmp_path / "methods").mkdir()
    for name in IDS:
        shutil.copy(ROOT / "methods" / f"{name}.yaml", tmp_path / "methods")
    return tmp_path


@pytest.fixture
def make(reference, lab):
    """Build the files of the laboratory, or those named, into its out folder."""

    def run(*names, order=HTML, out=None, home=lab, **more):
        files = [home / "methods" / n for n in names] or sorted((home / "methods").glob("*.yaml"))
        contents = {str(f): f.read_bytes() for f in files}
        data, _ = read_files(home)
        site = reference if not any(n.startswith("shared/") for n in data) else load_files(data)[0]
        compiled = []

        def compile_but(standing):
            compiled[:] = [n for n in contents if n not in standing]
            return used_twice([compile_method(contents[n], n, site) for n in compiled])

        with building(out or home / "out", lambda: pytest.fail("nobody else builds here")):
            result = build(
                contents, compile_but, out or home / "out", order, rests_on=footing(order, data), **more
            )
        run.compiled = [Path(n).stem for n in compiled]
        return result

    return run


def papers(lab: Path) -> dict[str, bytes]:
    out = lab / "out"
    return {p.relative_to(out).as_posix(): p.read_bytes() for p in sorted(out.rglob("*.html"))}


def change(lab: Path, method_id: str, old: str, new: str) -> None:
    file = lab / "methods" / f"{method_id}.yaml"
    text = file.read_text(encoding="utf-8")
    assert 1 == text.count(old)
    file.write_text(text.replace(old, new), encoding="utf-8")


def both(method_id: str, revision: int) -> list[str]:
    return [f"{method_id}/{method_id}-r{revision}-{kind}-A4.html" for kind in ("checklist", "data-sheet")]


def test_every_clean_method_gets_its_papers(lab, make):
    result = make()
    assert [*both("BBM-VIS-007", 1), *both("MCW-VIS-014", 3), *both("TGF-VIS-003", 2)] == list(papers(lab))
    assert list(papers(lab)) == [p.relative_to(lab / "out").as_posix() for p in result.written]
    assert ([], []) == (result.problems, result.withdrawn)
    for name, content in papers(lab).items():
        assert name.split("/")[0].encode() in content


def everything(lab: Path) -> dict[str, bytes]:
    """Give all files but the one that only remembers the times of files."""
    return {
        p.relative_to(lab).as_posix(): p.read_bytes()
        for p in lab.rglob("*")
        if p.is_file() and p.name != SEEN
    }


def test_two_builds_leave_the_same_bytes_wherever_the_folder_is(lab, make, tmp_path_factory):
    make()
    first = everything(lab)
    make(anew=True)
    assert first == everything(lab)
    other = tmp_path_factory.mktemp("elsewhere")
    shutil.copytree(lab / "methods", other / "methods")
    make(home=other)
    assert first == everything(other)


def test_several_processes_leave_the_same_bytes_as_one(lab, make):
    make()
    first = everything(lab)
    result = make(anew=True, jobs=3)
    assert first == everything(lab)
    assert list(papers(lab)) == [p.relative_to(lab / "out").as_posix() for p in result.written]


@pytest.mark.pdf
def test_two_builds_leave_the_same_pdf_bytes(lab, make):
    order = replace(HTML, kinds=("checklist",), forms=("pdf",))
    make("TGF-VIS-003.yaml", order=order)
    (pdf,) = (lab / "out").rglob("*.pdf")
    first = pdf.read_bytes()
    assert first.startswith(b"%PDF-")
    make("TGF-VIS-003.yaml", order=order, anew=True)
    assert first == pdf.read_bytes()


def test_both_paper_sizes_stand_side_by_side(lab, make):
    make("TGF-VIS-003.yaml", order=replace(HTML, papers=("A4", "Letter"), kinds=("checklist",)))
    assert ["TGF-VIS-003-r2-checklist-A4.html", "TGF-VIS-003-r2-checklist-Letter.html"] == [
        Path(n).name for n in papers(lab)
    ]


def test_every_kind_of_document_is_made(lab, make):
    make("TGF-VIS-003.yaml", order=replace(HTML, kinds=KINDS))
    kinds = ["checklist", "competency", "data-sheet", "dossier", "training"]
    assert [f"TGF-VIS-003-r2-{kind}-A4.html" for kind in kinds] == [Path(n).name for n in papers(lab)]


def test_a_blank_record_keeps_to_its_method_and_a_filled_one_is_never_taken(lab, make):
    order = replace(HTML, kinds=("checklist", RECORD))
    make(order=order)
    record = lab / "out" / "TGF-VIS-003" / "TGF-VIS-003-r2-record-blank.csv"
    blank = record.read_bytes()
    assert 3 == make(order=order).standing
    change(lab, "TGF-VIS-003", "title: ", "title: Renamed, ")
    make(order=order)
    assert blank != record.read_bytes()
    # Somebody fills it in where it lies: it stays, whatever becomes of the method.
    change(lab, "TGF-VIS-003", "title: Renamed, ", "title: ")
    record.write_bytes(blank + b"zero,,,0.1,,,,,\n")
    for more in ({}, {"anew": True}):
        (problem,) = make(order=order, **more).problems
        assert f"{record.name} was filled in or changed there" in problem
        assert record.read_bytes().endswith(b"0.1,,,,,\n")
    assert (lab / "out" / "MCW-VIS-014" / "MCW-VIS-014-r3-checklist-A4.html").is_file()
    record.rename(lab / "filled.csv")
    assert [] == make(order=order).problems
    assert blank == record.read_bytes()


def test_a_method_with_an_error_loses_its_old_papers_and_the_others_stand(lab, make):
    make()
    change(lab, "MCW-VIS-014", "lower: 8.0 Pa·s", "lower: 8.0 Pas")
    result = make()
    assert [*both("BBM-VIS-007", 1), *both("TGF-VIS-003", 2)] == list(papers(lab))
    assert both("MCW-VIS-014", 3) == result.withdrawn


def test_a_method_that_is_deleted_loses_its_papers(lab, make):
    make()
    (lab / "methods" / "MCW-VIS-014.yaml").unlink()
    result = make("TGF-VIS-003.yaml")
    assert [*both("BBM-VIS-007", 1), *both("TGF-VIS-003", 2)] == list(papers(lab))
    assert both("MCW-VIS-014", 3) == result.withdrawn


def test_a_method_under_a_new_file_name_keeps_papers(lab, make):
    make()
    before = papers(lab)
    (lab / "methods" / "MCW-VIS-014.yaml").rename(lab / "methods" / "paint.yaml")
    assert [] == make().problems
    assert before == papers(lab)


def test_a_new_revision_takes_the_place_of_the_old(lab, make):
    make()
    change(lab, "BBM-VIS-007", "revision: 1", "revision: 2")
    make()
    assert both("BBM-VIS-007", 2) == [n for n in papers(lab) if n.startswith("BBM")]


def test_a_new_id_takes_the_old_papers_away(lab, make):
    make()
    change(lab, "BBM-VIS-007", "id: BBM-VIS-007", "id: BBM-VIS-008")
    make("BBM-VIS-007.yaml")
    assert both("BBM-VIS-008", 1) == [n for n in papers(lab) if n.startswith("BBM")]


def test_methods_that_are_not_named_keep_their_papers(lab, make):
    make()
    change(lab, "BBM-VIS-007", "revision: 1", "revision: 2")
    make("BBM-VIS-007.yaml")
    assert [*both("BBM-VIS-007", 2), *both("MCW-VIS-014", 3), *both("TGF-VIS-003", 2)] == list(papers(lab))


def test_an_id_used_twice_leaves_papers_of_neither(lab, make):
    make()
    shutil.copy(lab / "methods" / "MCW-VIS-014.yaml", lab / "methods" / "copy.yaml")
    result = make()
    assert [*both("BBM-VIS-007", 1), *both("TGF-VIS-003", 2)] == list(papers(lab))
    assert both("MCW-VIS-014", 3) == result.withdrawn


def test_a_second_file_with_the_id_of_papers_that_stand_is_not_built_over_them(lab, make):
    make()
    before = papers(lab)
    shutil.copy(lab / "methods" / "MCW-VIS-014.yaml", lab / "methods" / "copy.yaml")
    change(lab, "copy", "lower: 8.0 Pa·s", "lower: 7.0 Pa·s")
    result = make("copy.yaml")
    (problem,) = result.problems
    assert "MCW-VIS-014" in problem
    assert "methods/MCW-VIS-014.yaml" in problem
    assert before == papers(lab)


def test_papers_that_were_not_asked_for_again_are_taken_away_and_told(lab, make):
    make("TGF-VIS-003.yaml")
    result = make("TGF-VIS-003.yaml", order=replace(HTML, kinds=("checklist",)))
    assert both("TGF-VIS-003", 2)[:1] == list(papers(lab))
    assert both("TGF-VIS-003", 2)[1:] == result.withdrawn


def test_without_its_register_a_build_trusts_no_paper_it_finds(lab, make):
    make()
    (lab / "out" / REGISTER).unlink()
    (lab / "methods" / "MCW-VIS-014.yaml").unlink()
    (lab / "out" / "README.md").write_text("a note", encoding="utf-8")
    make("TGF-VIS-003.yaml")
    assert both("TGF-VIS-003", 2) == list(papers(lab))
    assert (lab / "out" / "README.md").is_file()


def test_what_somebody_else_put_there_is_never_removed(lab, make):
    (lab / "out" / "TGF-VIS-003").mkdir(parents=True)
    (lab / "out" / "TGF-VIS-003" / "notes.txt").write_text("mine", encoding="utf-8")
    result = make()
    assert "mine" == (lab / "out" / "TGF-VIS-003" / "notes.txt").read_text(encoding="utf-8")
    (problem,) = result.problems
    assert "TGF-VIS-003" in problem
    assert [*both("BBM-VIS-007", 1), *both("MCW-VIS-014", 3)] == list(papers(lab))


def test_a_file_in_the_place_of_the_out_folder_is_an_error_of_the_system(lab, make):
    (lab / "out").write_text("a file", encoding="utf-8")
    with pytest.raises(FileExistsError):
        make()


def test_without_the_pdf_libraries_html_is_made_all_the_same(lab, make, monkeypatch):
    def unavailable(*_, **__):
        raise PrintingUnavailable("A PDF needs system libraries that are not there.")

    order = replace(HTML, forms=("html", "pdf"))
    with monkeypatch.context() as patched:
        patched.setattr("fillmark.printing.pdf", unavailable)
        result = make(order=order)
        assert 6 == len(papers(lab))
        assert ["A PDF needs system libraries that are not there."] == result.problems
        # Not all of what was asked for is there, so they are not up to date.
        assert 6 == len(make(order=order).written)
    monkeypatch.setattr("fillmark.printing.pdf", lambda *_, **__: b"%PDF-")
    assert 12 == len(make(order=order).written)


def test_a_full_disk_leaves_no_part_of_a_paper_and_the_next_build_mends_it(lab, make, monkeypatch):
    make()
    before = papers(lab)
    change(lab, "BBM-VIS-007", "revision: 1", "revision: 2")
    with monkeypatch.context() as patched:
        patched.setattr(
            Path, "write_bytes", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device"))
        )
        result = make("BBM-VIS-007.yaml")
    assert ["No space left on device" in p for p in result.problems] == [True]
    assert {n: c for n, c in before.items() if not n.startswith("BBM")} == papers(lab)
    assert [] == leftovers(lab / "out")
    make("BBM-VIS-007.yaml")
    assert both("BBM-VIS-007", 2) == [n for n in papers(lab) if n.startswith("BBM")]


# --- interruptions, by real signals

STOPPING = """
import sys, time
import fillmark.build, fillmark.upkeep as b
whole, after = {where}, int(sys.argv.pop(1))
count = 0

def slow(*arguments, **more):
    global count
    count += 1
    if count > after:
        print("now", flush=True)
        time.sleep(60)
    return whole(*arguments, **more)

{where} = slow
from fillmark.cli import main
sys.exit(main())
"""


def interrupted(
    lab: Path,
    sent: signal.Signals,
    *,
    where: str,
    after: int,
    imported="import fillmark.build, fillmark.upkeep as b",
    jobs: int = 1,
):
    """Run a build that waits in one place, send it a signal there; give its exit code and what it said."""
    code = STOPPING.replace("import fillmark.build, fillmark.upkeep as b", imported).replace("{where}", where)
    papers = ("--document", "checklist", "--document", "data-sheet")
    command = [
        sys.executable,
        "-c",
        code,
        str(after),
        "build",
        "--format",
        "html",
        "--jobs",
        str(jobs),
        *papers,
    ]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    with subprocess.Popen(command, cwd=lab, **pipes) as run:
        for line in run.stdout:
            if line == "now\n":
                break
        else:
            pytest.fail(f"the build ended before the signal: {run.stderr.read()}")
        run.send_signal(sent)
        _, told = run.communicate(timeout=30)
    return run.returncode, told


CODES = {signal.SIGKILL: -signal.SIGKILL, signal.SIGTERM: -signal.SIGTERM, signal.SIGINT: 130}


@pytest.mark.parametrize("sent", CODES)
@pytest.mark.parametrize(
    ("where", "after"),
    [
        ("b.write_register", 0),
        ("fillmark.build.document", 0),
        ("fillmark.build.document", 3),
        ("b.note", 1),
        ("b.place", 2),
        ("b.write_register", 1),
    ],
)
def test_a_build_stopped_anywhere_leaves_no_stale_and_no_half_paper(lab, make, sent, where, after):
    make()
    old = papers(lab)
    for method_id, revision in (("BBM-VIS-007", 1), ("MCW-VIS-014", 3), ("TGF-VIS-003", 2)):
        change(lab, method_id, f"revision: {revision}\n", f"revision: {revision + 5}\n")
    code, told = interrupted(lab, sent, where=where, after=after)
    assert CODES[sent] == code
    assert "Traceback" not in told
    left = papers(lab)
    assert set() == set(old) & set(left)
    make()
    whole = papers(lab)
    assert [*both("BBM-VIS-007", 6), *both("MCW-VIS-014", 8), *both("TGF-VIS-003", 7)] == list(whole)
    assert left == {name: whole[name] for name in left}
    assert [] == leftovers(lab / "out")


def test_a_build_killed_while_it_swaps_papers_leaves_them_missing_not_mixed(lab, make):
    make()
    change(lab, "BBM-VIS-007", "revision: 1\n", "revision: 2\n")
    interrupted(lab, signal.SIGKILL, where="b.rename", after=0, imported="from pathlib import Path as b")
    assert [] == [n for n in papers(lab) if n.startswith("BBM-VIS-007/")]
    make()
    assert both("BBM-VIS-007", 2) == [n for n in papers(lab) if n.startswith("BBM")]
    assert [] == leftovers(lab / "out")


def test_an_out_folder_that_may_not_be_written_is_told_with_the_way_out(lab):
    before = []
    if os.geteuid() == 0:
        if not shutil.which("setpriv"):
            pytest.skip("an administrator may write everywhere")
        before = ["setpriv", "--bounding-set=-dac_override,-dac_read_search", "--"]
    (lab / "out").mkdir(mode=0o555)
    command = [*before, sys.executable, "-m", "fillmark", "build", "--format", "html"]
    done = subprocess.run(command, cwd=lab, capture_output=True, text=True, check=False)
    assert 2 == done.returncode
    assert "out cannot be written: Permission denied. Give another folder with --out." in done.stderr
    assert [] == list((lab / "out").iterdir())


# --- up to date


def no_more(**_):
    raise AssertionError("nothing is to be made")


def test_what_is_up_to_date_is_neither_compiled_nor_made_again(lab, make, monkeypatch):
    make()
    before = everything(lab)
    monkeypatch.setattr("fillmark.build.document", no_more)
    result = make()
    assert [] == make.compiled
    assert ([], [], [], 3) == (result.written, result.withdrawn, result.problems, result.standing)
    assert before == everything(lab)


@pytest.mark.parametrize("year", [1980, 2090])
def test_the_time_of_a_file_decides_nothing(lab, make, year):
    make()
    seconds = (year - 1970) * 31_557_600
    for file in lab.rglob("*"):
        os.utime(file, (seconds, seconds))
    assert [] == make().written
    change(lab, "BBM-VIS-007", "revision: 1", "revision: 2")
    os.utime(lab / "methods" / "BBM-VIS-007.yaml", (seconds, seconds))
    assert ["BBM-VIS-007"] * 2 == [p.parent.name for p in make().written]


def test_a_paper_that_is_gone_is_made_again(lab, make):
    make()
    before = papers(lab)
    (lab / "out" / both("TGF-VIS-003", 2)[0]).unlink()
    assert both("TGF-VIS-003", 2) == [p.relative_to(lab / "out").as_posix() for p in make().written]
    assert before == papers(lab)


def test_a_paper_changed_by_hand_is_made_again_even_with_its_times_and_size_put_back(lab, make):
    make()
    before = papers(lab)
    paper = lab / "out" / both("TGF-VIS-003", 2)[0]
    times = paper.stat()
    content = paper.read_bytes()
    paper.write_bytes(content.replace(b"Torque", b"torque", 1))
    assert content != paper.read_bytes()
    os.utime(paper, ns=(times.st_atime_ns, times.st_mtime_ns))
    assert times.st_size == paper.stat().st_size
    make()
    assert before == papers(lab)


def test_a_strange_paper_in_the_folder_of_a_method_goes(lab, make):
    make()
    before = papers(lab)
    (lab / "out" / "TGF-VIS-003" / "TGF-VIS-003-r1-checklist-A4.html").write_text("old", encoding="utf-8")
    make()
    assert before == papers(lab)


def test_without_the_notes_on_times_contents_are_compared(lab, make):
    make()
    (lab / "out" / SEEN).unlink()
    assert [] == make().written
    (lab / "out" / SEEN).write_text("[" * 5000, encoding="utf-8")
    assert [] == make().written


def test_another_order_makes_papers_anew_and_the_same_one_again_does_not(lab, make):
    make()
    for order in (
        replace(HTML, kinds=KINDS[:1]),
        replace(HTML, kinds=KINDS[:1], papers=("Letter",)),
        replace(HTML, kinds=KINDS[:1], papers=("Letter",), print_date=date(2026, 3, 1)),
    ):
        assert 3 == len(make(order=order).written)
        assert [] == make(order=order).written


def test_reference_data_of_the_laboratory_counts(lab, make):
    make()
    (lab / "shared").mkdir()
    (lab / "shared" / "policy.yaml").write_text(POLICY, encoding="utf-8")
    assert 6 == len(make().written)
    assert [] == make().written
    (lab / "shared" / "policy.yaml").write_text(f"# only a remark\n{POLICY}", encoding="utf-8")
    assert 6 == len(make().written)


def test_another_program_makes_papers_anew(lab, make, monkeypatch):
    make()
    monkeypatch.setattr(fingerprint, "of_program", lambda: "another")
    assert 6 == len(make().written)


def test_a_method_with_a_warning_is_told_each_time_and_made_once(lab, make):
    change(lab, "MCW-VIS-014", "retention: 10 years\n", "")
    result = make()
    (told,) = [d for c in result.compiled for d in c.diagnostics]
    assert not told.blocks
    result = make()
    assert ["MCW-VIS-014"] == make.compiled
    assert [told] == [d for c in result.compiled for d in c.diagnostics]
    assert ([], 3) == (result.written, result.standing)


def test_a_new_file_with_the_id_of_one_that_stands_takes_both_away(lab, make):
    make()
    text = (lab / "methods" / "MCW-VIS-014.yaml").read_text(encoding="utf-8")
    (lab / "methods" / "other.yaml").write_text(
        text.replace("id: MCW-VIS-014", "id: mcw-vis-014"), encoding="utf-8"
    )
    result = make()
    assert {"LIB01"} == {d.code for c in result.compiled for d in c.diagnostics}
    assert [*both("BBM-VIS-007", 1), *both("TGF-VIS-003", 2)] == list(papers(lab))


def test_a_torn_line_of_the_register_costs_a_build_and_no_more(lab, make):
    make()
    before = everything(lab)
    register = lab / "out" / REGISTER
    register.write_bytes(register.read_bytes()[:-40])
    assert 2 == len(read_register(lab / "out"))
    assert ["TGF-VIS-003"] * 2 == [p.parent.name for p in make().written]
    assert before == everything(lab)


# --- two at once


def test_two_builds_at_once_come_one_after_the_other(lab):
    command = [sys.executable, "-m", "fillmark", "build", "--format", "html", "--document", "checklist"]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True, "cwd": lab}
    with building(lab / "out", lambda: pytest.fail("nobody builds here yet")):
        runs = [subprocess.Popen(command, **pipes) for _ in range(2)]
        for run in runs:
            assert "Another build is writing into out; waiting" in run.stderr.readline()
    said = [run.communicate(timeout=60)[0] for run in runs]
    assert [0, 0] == [run.returncode for run in runs]
    assert [0, 3] == sorted(text.count(".html") for text in said)
    assert 3 == len(papers(lab))
    assert [] == leftovers(lab / "out")


# --- several processes


def alive(group: int) -> list[str]:
    """List the processes of the group that a run leads; those that have ended and wait to be noticed are none."""
    command = ["ps", "-o", "stat=", "-g", str(group)]
    found = subprocess.run(command, capture_output=True, text=True, check=False)
    return [line for line in found.stdout.split() if not line.startswith("Z")]


@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_a_build_of_several_processes_leaves_none_behind(lab, make, sent):
    if not shutil.which("ps"):
        pytest.skip("ps lists the processes")
    code = (
        "import os, sys, time, fillmark.build as b\n"
        "def slow(*_):\n    os.write(1, b'now\\n')\n    time.sleep(1)\n"
        "b.document = slow\nfrom fillmark.cli import main\nsys.exit(main())"
    )
    command = [sys.executable, "-c", code, "build", "--format", "html", "--jobs", "2"]
    with subprocess.Popen(
        command, cwd=lab, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, start_new_session=True
    ) as run:
        assert b"now\n" == run.stdout.readline()
        assert b"now\n" == run.stdout.readline()
        os.killpg(run.pid, sent) if sent == signal.SIGINT else run.send_signal(sent)
        # The pipe ends when the last process that could write into it is gone.
        run.communicate(timeout=20)
    assert CODES[sent] == run.returncode
    for _ in range(100):
        if not alive(run.pid):
            break
        time.sleep(0.1)
    assert [] == alive(run.pid)
    assert {} == papers(lab)
    make()
    assert 6 == len(papers(lab))


def test_a_worker_that_is_killed_is_told_and_papers_are_not_mixed(lab):
    code = (
        "import os, sys, fillmark.build as b\n"
        "whole = b.document\n"
        "def dying(one, kind, order):\n"
        "    if one.method.id == 'MCW-VIS-014' and kind == 'data-sheet':\n        os.kill(os.getpid(), 9)\n"
        "    return whole(one, kind, order)\n"
        "b.document = dying\nfrom fillmark.cli import main\nsys.exit(main())"
    )
    command = [sys.executable, "-c", code, "build", "--format", "html", "--jobs", "2"]
    done = subprocess.run(command, cwd=lab, capture_output=True, text=True, check=False)
    assert 2 == done.returncode
    assert "ended before it was done" in done.stderr
    assert "Traceback" not in done.stderr
    assert not any(name.startswith("MCW") for name in papers(lab))
