"""Building: what stands in the out folder after it, whatever came in between."""

import os
import shutil
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from fillmark import build as build_module
from fillmark.build import KINDS, Order, build
from fillmark.pipeline import compile_method, used_twice
from fillmark.printing import PrintingUnavailable
from fillmark.publish import REGISTER, leftovers

ROOT = Path(__file__).parents[1]
HTML = Order(papers=("A4",), kinds=("checklist", "data-sheet"), forms=("html",))
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

    def run(*names, order=HTML, out=None):
        files = [lab / "methods" / n for n in names] or sorted((lab / "methods").glob("*.yaml"))
        done = used_twice([compile_method(f.read_bytes(), str(f), reference) for f in files])
        return build(done, out or lab / "out", order)

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


def test_two_builds_leave_the_same_bytes_wherever_the_folder_is(lab, make, reference, tmp_path_factory):
    make()
    first = {p.relative_to(lab): p.read_bytes() for p in lab.rglob("*") if p.is_file()}
    make()
    assert first == {p.relative_to(lab): p.read_bytes() for p in lab.rglob("*") if p.is_file()}
    other = tmp_path_factory.mktemp("elsewhere")
    shutil.copytree(lab / "methods", other / "methods")
    files = sorted((other / "methods").glob("*.yaml"))
    build([compile_method(f.read_bytes(), str(f), reference) for f in files], other / "out", HTML)
    assert first == {p.relative_to(other): p.read_bytes() for p in other.rglob("*") if p.is_file()}


@pytest.mark.pdf
def test_two_builds_leave_the_same_pdf_bytes(lab, make):
    order = replace(HTML, kinds=("checklist",), forms=("pdf",))
    make("TGF-VIS-003.yaml", order=order)
    (pdf,) = (lab / "out").rglob("*.pdf")
    first = pdf.read_bytes()
    assert first.startswith(b"%PDF-")
    make("TGF-VIS-003.yaml", order=order)
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


def test_a_file_in_the_place_of_the_out_folder_is_a_problem_and_no_crash(lab, make):
    (lab / "out").write_text("a file", encoding="utf-8")
    result = make()
    assert [] == result.written
    assert "--out" in result.problems[0]


def test_without_the_pdf_libraries_html_is_made_all_the_same(lab, make, monkeypatch):
    def unavailable(*_, **__):
        raise PrintingUnavailable("A PDF needs system libraries that are not there.")

    monkeypatch.setattr("fillmark.printing.pdf", unavailable)
    result = make(order=replace(HTML, forms=("html", "pdf")))
    assert 6 == len(papers(lab))
    assert ["A PDF needs system libraries that are not there."] == result.problems


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
import fillmark.build as b
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
    lab: Path, sent: signal.Signals, *, where: str, after: int, imported="import fillmark.build as b"
):
    """Run a build that waits in one place, send it a signal there; give its exit code and what it said."""
    code = STOPPING.replace("import fillmark.build as b", imported).replace("{where}", where)
    papers = ("--document", "checklist", "--document", "data-sheet")
    command = [sys.executable, "-c", code, str(after), "build", "--format", "html", *papers]
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
        ("b.documents", 0),
        ("b.documents", 1),
        ("b.write_register", 2),
        ("b.place", 2),
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


def test_documents_are_made_of_clean_methods_only(lab, reference):
    torn = compile_method(b"fillmark: 1", "torn.yaml", reference)
    with pytest.raises(ValueError, match="did not compile"):
        build_module.documents(torn, HTML)
