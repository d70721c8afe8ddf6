"""Releasing: what is refused and why, what is made, and that it is released whole or not at all."""

import errno
import json
import os
import re
import shutil
import signal
import sys
import threading
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from fillmark.publish import write_whole
from fillmark.releases import bundle, register, release
from fillmark.releases.bundle import open_bundle
from fillmark.releases.register import RegisterError, append, read, register_file
from fillmark.releases.release import CODES, ReleaseError, commit, judge, make, moment_text
from fillmark.releases.verify import left_over

ROOT = Path(__file__).parents[2]
AT = datetime.fromisoformat("2026-11-26T10:00:00+01:00")


def judged(file, home, *, by="H. Marlow", at=AT):
    return judge(file, home, by=by, at=at)


def made(one, *, by="H. Marlow", at=AT):
    return make(one, by=by, at=at, papers=("A4",), forms=("html",))


def refused(file, home, **more) -> list[str]:
    found = judged(file, home, **more).refusals
    assert all(2 == len(f.ways_out) for f in found)
    assert all(f.code in CODES for f in found)
    return [f.code for f in found]


@pytest.fixture
def home(tmp_path):
    """Give a laboratory in which nothing has been released."""
    (tmp_path / "methods").mkdir()
    shutil.copytree(ROOT / "shared", tmp_path / "shared")
    return tmp_path


@pytest.fixture
def draft(home, edited):
    """Write a method with texts put in the place of others; gives its file."""

    def write(*changes, method="MCW-VIS-014"):
        file = home / "methods" / f"{method}.yaml"
        file.write_bytes(edited(method, *changes))
        return file

    return write


# --- refusals


@pytest.mark.parametrize("method", ["MCW-VIS-014", "LMT-VIS-021", "QAP-VIS-002", "TGF-VIS-003"])
def test_the_released_demonstration_methods_may_be_released(draft, home, method):
    assert [] == refused(draft(method=method), home, by="Z. Other")


def test_a_method_with_an_error_is_refused_and_the_first_is_named(draft, home):
    file = draft(("spindle: R5", "spindle: R6"))
    (found,) = judged(file, home).refusals
    assert "REL01" == found.code
    assert "TRQ" in found.message


def test_a_file_that_is_no_method_is_refused(home):
    file = home / "methods" / "x.yaml"
    file.write_text("hello: [", encoding="utf-8")
    assert ["REL01"] == refused(file, home)


def test_an_error_set_aside_by_a_waiver_that_lapsed_is_refused(draft, home):
    bar = {"method": "LMT-VIS-021"}
    by = {"by": "Z. Other"}
    file = draft(**bar)
    commit(make(judged(file, home, **by), at=AT, papers=("A4",), forms=("html",), **by), home)
    text = file.read_text(encoding="utf-8")
    number = int(re.search(r"^revision: (\d+)$", text, re.MULTILINE)[1])
    text = text.replace(f"\nrevision: {number}\n", f"\nrevision: {number + 1}\n")
    text = re.sub(r"\nchanges:\n(  - .*\n)+", "\n", text)
    text += (
        f"changes:\n  - {{revision: {number + 1}, class: calculation, reason: Another disc for the check.}}\n"
    )
    # The waiver of VER07 was approved for the check with R6.
    file.write_text(text.replace("spindle: R6", "spindle: R7"), encoding="utf-8")
    assert ["REL14"] == refused(file, home, **by)
    approved = text.replace("spindle: R6", "spindle: R7").replace(
        "evidence: LMT-STUDY-09", "evidence: LMT-STUDY-10"
    )
    file.write_text(approved, encoding="utf-8")
    assert [] == refused(file, home, **by)


@pytest.mark.parametrize("status", ["draft", "in-review", "superseded", "withdrawn"])
def test_a_method_of_another_status_is_refused(draft, home, status):
    assert ["REL02"] == refused(draft(("status: released", f"status: {status}")), home)


@pytest.mark.parametrize(
    "approver",
    ["A. Osei", "a osei", "A.  OSEI", "A.Osei", "A. Osei.", '"Osei, A."', "\u0410. Osei", "A. Os\u00e9i"],
)
def test_a_method_approved_by_its_author_is_refused_however_the_name_is_written(draft, home, approver):
    assert "REL03" in refused(draft(("approver: H. Marlow", f"approver: {approver}")), home)


def test_a_method_approved_by_nobody_is_refused(draft, home):
    found = refused(draft((", approver: H. Marlow", ""), ("status: released", "status: in-review")), home)
    assert ["REL02", "REL03"] == found


@pytest.mark.parametrize("by", ["A. Osei", "a osei", "Osei A", "\u0410. Osei"])
def test_the_author_does_not_release(draft, home, by):
    assert ["REL04"] == refused(draft(), home, by=by)


def waived_until(day):
    """Leave the sample uncovered, which CON17 finds, and have that waived until a day."""
    waiver = (
        "waivers:\n  - {rule: CON17, reason: The lid of this bath would touch the spindle., evidence: e, risk: k, "
        f"requested_by: A. Osei, approved_by: H. Marlow, expires: {day}}}\n"
    )
    return ("covered: true", "covered: false"), ("training:", f"{waiver}training:")


def test_a_waiver_that_has_expired_is_refused(draft, home):
    found, later = judged(draft(*waived_until("2026-11-25")), home).refusals
    assert ("REL01", "REL08") == (found.code, later.code)
    assert "WAI01" in found.message
    assert "expired on 2026-11-25" in found.message


def test_a_waiver_that_ends_before_the_method_takes_effect_is_refused(draft, home):
    # The method takes effect on 2026-12-01.
    assert ["REL08"] == refused(draft(*waived_until("2026-11-30")), home)
    assert [] == refused(draft(*waived_until("2026-12-01")), home)


def test_a_method_whose_review_is_overdue_is_refused(draft, home):
    late = datetime.fromisoformat("2029-12-01T10:00:00+01:00")
    in_time = late - timedelta(days=1)
    assert ["REL09"] == refused(draft(), home, at=late)
    assert [] == refused(draft(), home, at=in_time)


@pytest.mark.parametrize("revision", ["2", "3"])
def test_a_revision_that_is_not_greater_is_refused(revised, laboratory, revision):
    file = revised(("revision: 4\n", f"revision: {revision}\n"))
    (found,) = [f for f in judged(file, laboratory).refusals if f.code == "REL05"]
    assert "revision: 4" in found.ways_out[0]


def test_the_same_again_is_refused(laboratory):
    assert ["REL05", "REL07"] == refused(laboratory / "methods" / "MCW-VIS-014.yaml", laboratory)


def test_nothing_but_another_number_is_refused(revised, laboratory):
    assert ["REL07"] == refused(revised(("  rest: 6 min\n", "  rest: 5 min\n")), laboratory)


def test_a_change_is_released(revised, laboratory):
    one = judged(revised(), laboratory)
    assert ((), "parameter") == (one.refusals, one.klass)


def test_a_change_without_a_class_is_refused(revised, laboratory):
    history = "  - {revision: 4, class: parameter, reason: The paint needs a longer rest.}\n"
    assert ["REL06"] == refused(revised((history, "")), laboratory)


@pytest.mark.parametrize(
    ("klass", "codes"),
    [("editorial", ["REL06"]), ("parameter", []), ("geometry", []), ("calculation", [])],
)
def test_a_change_of_parameter_needs_that_class_or_a_heavier_one(revised, laboratory, klass, codes):
    assert codes == refused(
        revised(("class: parameter, reason: The", f"class: {klass}, reason: The")), laboratory
    )


def test_a_change_of_the_reference_data_counts_though_the_method_is_the_same(revised, laboratory):
    containers = laboratory / "shared" / "containers.yaml"
    text = containers.read_text(encoding="utf-8")
    assert 1 == text.count("inside_diameter: 82.55 mm")
    containers.write_text(
        text.replace("inside_diameter: 82.55 mm", "inside_diameter: 83 mm", 1), encoding="utf-8"
    )
    one = judged(revised(("  rest: 6 min\n", "  rest: 5 min\n")), laboratory)
    assert one.comparison is not None
    assert "containers.beaker-600-low-form.inside_diameter" in {c.path for c in one.comparison.changes}
    assert "geometry" == one.klass
    assert "REL06" in [f.code for f in one.refusals]


def test_a_register_with_faults_is_refused(revised, laboratory):
    file = register_file(laboratory)
    file.write_bytes(b"hello\n" + file.read_bytes())
    assert ["REL10"] == [c for c in refused(revised(), laboratory) if c == "REL10"]


def test_an_id_that_differs_in_capitals_only_is_refused(revised, laboratory):
    assert ["REL12"] == refused(revised(("id: MCW-VIS-014", "id: mcw-vis-014")), laboratory)


@pytest.mark.parametrize("harm", ["gone", "altered"])
def test_without_the_last_bundle_nothing_is_released(revised, laboratory, harm):
    last = laboratory / "released" / "MCW-VIS-014" / "MCW-VIS-014-r3.zip"
    if harm == "gone":
        last.unlink()
    else:
        last.write_bytes(last.read_bytes().replace(b"Hearthstone", b"hearthstone"))
    assert ["REL13"] == refused(revised(), laboratory)


def test_faulty_reference_data_is_told(draft, home):
    file = draft()
    (home / "shared" / "springs.yaml").write_text("L: [", encoding="utf-8")
    with pytest.raises(ValueError, match=r"shared/springs\.yaml"):
        judged(file, home)


def test_what_may_not_be_released_is_not_made(draft, home):
    with pytest.raises(ValueError, match="may not be released"):
        made(judged(draft(("status: released", "status: draft")), home))


def test_a_moment_has_an_offset():
    assert "2026-11-26T10:00:00+01:00" == moment_text(AT)
    with pytest.raises(ValueError, match="offset"):
        moment_text(AT.replace(tzinfo=None))


# --- what is made


def test_the_same_input_at_the_same_moment_gives_the_same_bytes(revised, laboratory):
    file = revised()
    one, two = (made(judged(file, laboratory)) for _ in range(2))
    assert one.data == two.data
    later = AT + timedelta(seconds=1)
    assert one.data != made(judged(file, laboratory, at=later), at=later).data


def test_the_bundle_does_not_depend_on_where_the_laboratory_lies(laboratory, revised, tmp_path):
    revised()
    shutil.copytree(laboratory, tmp_path / "elsewhere" / "deep")
    one, two = (
        made(judged(place / "methods" / "MCW-VIS-014.yaml", place)).data
        for place in (laboratory, tmp_path / "elsewhere" / "deep")
    )
    assert one == two


def test_the_second_release_tells_what_changed(revised, laboratory):
    one = made(judged(revised(), laboratory))
    read_back, found = open_bundle(one.data, "b.zip")
    assert [] == found
    assert read_back is not None
    changes = json.loads(read_back.members[bundle.CHANGES])
    assert "sample.rest" in {c["path"] for c in changes["changes"]}
    first = read(laboratory).releases("MCW-VIS-014")[0]
    assert {"revision": 3, "digest": first.data["digest"], "sha256": first.data["sha256"]} == one.manifest[
        "previous"
    ]
    assert {"lines": 1, "head": first.digest} == one.manifest["register"]
    dossier = read_back.members["documents/MCW-VIS-014-r4-dossier-A4.html"].decode()
    assert "What changed since revision 3 was released" in dossier
    assert str(laboratory.parent) not in dossier


@pytest.mark.pdf
def test_the_bundle_holds_every_document_as_pdf_too(draft, home):
    one = make(judged(draft(), home), by="H. Marlow", at=AT, papers=("A4",))
    held = {f["name"] for f in one.manifest["files"]}
    html = {name for name in held if name.endswith(".html")}
    assert 5 <= len(html)
    assert {name.replace(".html", ".pdf") for name in html} <= held


def test_without_the_libraries_for_pdf_nothing_is_released(draft, home, monkeypatch):
    from fillmark import printing

    def none(html, *, paper):
        raise printing.PrintingUnavailable("no library")

    monkeypatch.setattr(printing, "pdf", none)
    with pytest.raises(printing.PrintingUnavailable):
        make(judged(draft(), home), by="H. Marlow", at=AT, papers=("A4",))


# --- put in place


def test_a_release_is_a_bundle_and_its_line(draft, home):
    one = made(judged(draft(), home))
    entry = commit(one, home, b"signature")
    file = home / "released" / "MCW-VIS-014" / "MCW-VIS-014-r3.zip"
    assert one.data == file.read_bytes()
    assert b"signature" == file.with_name(f"{file.name}.sig").read_bytes()
    (line,) = read(home).entries
    assert entry == line
    assert bundle.sha256(one.data) == line.data["sha256"]
    assert bundle.sha256(b"signature") == line.data["signature"]
    assert ("first", 3, "H. Marlow") == (line.data["class"], line.data["revision"], line.by)


def test_what_a_stopped_release_left_is_replaced(draft, home):
    folder = home / "released" / "MCW-VIS-014"
    folder.mkdir(parents=True)
    for name in ("MCW-VIS-014-r3.zip", "MCW-VIS-014-r3.zip.sig", ".writing-abc"):
        (folder / name).write_bytes(b"left")
    commit(made(judged(draft(), home)), home)
    assert ["MCW-VIS-014-r3.zip"] == sorted(f.name for f in folder.iterdir())
    assert [] == left_over(home, read(home))


def test_a_release_in_between_is_told_and_nothing_lost(revised, laboratory):
    file = revised()
    one, two = judged(file, laboratory), judged(file, laboratory)
    commit(made(one), laboratory)
    with pytest.raises(ReleaseError, match=r"H\. Marlow released revision 4") as found:
        commit(made(two, by="Z. Other"), laboratory)
    assert "REL11" == found.value.refusal.code
    assert [3, 4] == [e.data["revision"] for e in read(laboratory).releases("MCW-VIS-014")]


def test_another_line_in_between_does_no_harm(revised, laboratory):
    one = made(judged(revised(), laboratory))
    other = {
        **read(laboratory).entries[0].data,
        "id": "XYZ-VIS-001",
        "bundle": "XYZ-VIS-001/XYZ-VIS-001-r3.zip",
    }
    append(laboratory, other)
    assert 3 == commit(one, laboratory).line


def test_a_register_exchanged_in_between_is_told(revised, laboratory):
    one = made(judged(revised(), laboratory))
    register_file(laboratory).unlink()
    with pytest.raises(ReleaseError, match="another one"):
        commit(one, laboratory)


def test_of_two_at_once_one_is_released(revised, laboratory):
    file = revised()
    bundles = [made(judged(file, laboratory)) for _ in range(2)]
    outcomes = []
    start = threading.Barrier(2)

    def release_it(one):
        start.wait()
        try:
            outcomes.append(commit(one, laboratory).line)
        except ReleaseError as error:
            outcomes.append(error.refusal.code)

    threads = [threading.Thread(target=release_it, args=(one,)) for one in bundles]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=30)
    assert ["2", "REL11"] == sorted(str(o) for o in outcomes)
    assert 2 == len(read(laboratory).entries)


def nothing_was_released(home):
    found = read(home)
    assert found.sound
    assert [3] == [e.data["revision"] for e in found.releases("MCW-VIS-014")]
    assert [] == left_over(home, found)


def test_a_disk_too_small_for_the_bundle_releases_nothing(revised, laboratory):
    """A limit on the size of files stops the write half-way, as a full disk does."""
    resource = pytest.importorskip("resource")
    one = made(judged(revised(), laboratory))
    child = os.fork()
    if child == 0:
        code = 1
        try:
            limit = len(one.data) // 2
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
            commit(one, laboratory)
        except OSError as error:
            code = 0 if error.errno == errno.EFBIG else 2
        finally:
            os._exit(code)
    assert 0 == os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    nothing_was_released(laboratory)
    assert 4 == commit(one, laboratory).data["revision"]


@pytest.mark.parametrize("failing", range(5))
def test_a_disk_that_is_full_at_any_of_its_writes_releases_nothing(revised, laboratory, monkeypatch, failing):
    one = made(judged(revised(), laboratory))
    keep, calls = os.fsync, []

    def fsync(handle):
        calls.append(handle)
        if len(calls) == failing + 1:
            raise OSError(errno.ENOSPC, "No space left on device")
        keep(handle)

    monkeypatch.setattr(os, "fsync", fsync)
    with pytest.raises(OSError, match="No space left"):
        commit(one, laboratory, b"signature")
    monkeypatch.setattr(os, "fsync", keep)
    nothing_was_released(laboratory)
    assert 4 == commit(one, laboratory, b"signature").data["revision"]


def test_an_interrupt_after_the_line_is_written_keeps_the_bundle(revised, laboratory, monkeypatch):
    one = made(judged(revised(), laboratory))

    def then_stop(workspace, entry):
        register.append_held(workspace, entry)
        raise KeyboardInterrupt

    monkeypatch.setattr(release, "append_held", then_stop)
    with pytest.raises(KeyboardInterrupt):
        commit(one, laboratory)
    assert [3, 4] == [e.data["revision"] for e in read(laboratory).releases("MCW-VIS-014")]
    assert one.data == (laboratory / "released" / one.name).read_bytes()


def test_a_register_with_faults_stops_it_at_the_last_moment_too(revised, laboratory):
    one = made(judged(revised(), laboratory))
    file = register_file(laboratory)
    file.write_bytes(file.read_bytes() + b"hello\n")
    with pytest.raises(RegisterError):
        commit(one, laboratory)
    assert not (laboratory / "released" / one.name).exists()


def test_killed_at_any_moment_it_is_released_whole_or_not_at_all(revised, laboratory, tmp_path):
    """Kill the process before each of its operations on files in turn, until one runs through."""
    one = made(judged(revised(), laboratory))
    outcomes = []
    for moment in range(1, 200):
        place = tmp_path / f"at-{moment}"
        shutil.copytree(laboratory, place)
        child = os.fork()
        if child == 0:
            try:
                _kill_at(moment, place)
                commit(one, place, b"signature")
            finally:
                os._exit(0)
        _, status = os.waitpid(child, 0)
        found = read(place)
        assert found.sound
        revisions = [e.data["revision"] for e in found.releases("MCW-VIS-014")]
        assert revisions in ([3], [3, 4])
        outcomes.append(len(revisions))
        if revisions == [3, 4]:
            assert one.data == (place / "released" / one.name).read_bytes()
        else:
            # What was left counts for nothing, and the same release can be made again.
            assert 4 == commit(one, place, b"signature").data["revision"]
        assert [] == left_over(place, read(place))
        shutil.rmtree(place)
        if os.WIFEXITED(status):
            break
    else:
        pytest.fail("it never ran through")
    assert len(outcomes) > 15
    assert sorted(outcomes) == outcomes
    assert {1, 2} == set(outcomes)


def _kill_at(moment: int, place: Path) -> None:
    seen = 0
    keep = os.fsync

    def count() -> None:
        nonlocal seen
        seen += 1
        if seen == moment:
            os.kill(os.getpid(), signal.SIGKILL)

    def heard(event, arguments):
        if event in (
            "open",
            "os.rename",
            "os.remove",
            "os.mkdir",
            "os.chmod",
            "os.truncate",
            "tempfile.mkstemp",
        ) and any(str(place) in str(argument) for argument in arguments):
            count()

    def fsync(handle):
        count()
        keep(handle)
        count()

    os.fsync = fsync
    sys.addaudithook(heard)


def test_the_bundle_is_written_in_one_piece(tmp_path):
    file = tmp_path / "b.zip"
    write_whole(file, b"old")
    write_whole(file, b"new")
    assert ([b"new"], ["b.zip"]) == ([file.read_bytes()], [f.name for f in tmp_path.iterdir()])
