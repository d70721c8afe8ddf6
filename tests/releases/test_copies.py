"""Controlled copies: every number once, every paper logged first, nothing printed of what is not in force."""

import json
import signal
import subprocess
import sys
from datetime import date, datetime
from io import BytesIO
from itertools import pairwise

import pytest
from jsonschema import Draft202012Validator
from pypdf import PdfReader

from fillmark.locate import schemas_folder
from fillmark.releases import copies
from fillmark.releases.copies import (
    CopyError,
    NotPrintedError,
    copies_of,
    documents,
    issue,
    listed,
    listed_json,
    listed_text,
    printed,
    ready,
    recall,
    reprint,
    to_fetch,
    without_level,
)
from fillmark.releases.register import append, read
from fillmark.releases.release import commit, judge, make

METHOD = "MCW-VIS-014"
AT = datetime.fromisoformat("2026-12-02T10:00:00+01:00")
TODAY = AT.date()


@pytest.fixture
def plain(monkeypatch):
    """Print nothing but a word: most of what is tested here is not what a page looks like."""
    monkeypatch.setattr(
        copies,
        "printed",
        lambda one, copy: tuple(  # noqa: ARG005 - the signature is that of the real one
            copies.Paper(
                f"{copy.method}-r{copy.revision}-copy-{copy.number}-{copy.prints}-{kind}.pdf", b"paper"
            )
            for kind in copy.papers
        ),
    )


@pytest.fixture
def put(laboratory):
    """Issue copies in the laboratory."""

    def give(*to, at=AT, **more):
        one = ready(laboratory, read(laboratory), METHOD, at.date())
        order = {"operator": False, "papers": ("checklist",), "paper": "A4", **more}
        return issue(
            laboratory, one, to=to, at=at, by="Q. Keeper", folder=laboratory / "out" / "copies", **order
        )

    return give


@pytest.fixture
def call_back(laboratory):
    """Enter a recall in the laboratory."""

    def give(*numbers, state="recalled", whole=False, reason="the wrong fluid", revision=3):
        return recall(
            laboratory, METHOD, revision, numbers=numbers or None, state=state, whole=whole, reason=reason, at=AT,
            by="Q. Keeper",
        )  # fmt: skip

    return give


def released(laboratory, file, at="2027-01-10T10:00:00+01:00"):
    moment = datetime.fromisoformat(at)
    judged = judge(file, laboratory, by="H. Marlow", at=moment)
    commit(make(judged, by="H. Marlow", at=moment, papers=("A4",), forms=("html",)), laboratory)


def refused(code, run, *arguments, **more):
    with pytest.raises(CopyError) as caught:
        run(*arguments, **more)
    assert code == caught.value.refusal.code
    assert 2 == len(caught.value.refusal.ways_out)
    return caught.value.refusal.message


# --- numbers


def test_copies_are_numbered_on_and_logged_one_by_one(put, plain, laboratory):
    first = put("Bench 1", "Bench 2")
    assert [(1, 2, "Bench 1"), (2, 2, "Bench 2")] == [(c.number, c.of, c.to) for c in first.copies]
    second = put("Bench 3")
    assert [(3, 3)] == [(c.number, c.of) for c in second.copies]
    assert ["release", "issue", "issue", "issue"] == [e.kind for e in read(laboratory).entries]
    line = read(laboratory).entries[-1].data
    assert ("Q. Keeper", 3, "2026-12-02", "2027-01-01") == (
        line["by"],
        line["copy"],
        line["printed"],
        line["valid_until"],
    )
    assert line["digest"] == read(laboratory).releases(METHOD)[0].data["digest"]


def test_the_line_stands_before_the_paper_does(put, plain, laboratory, monkeypatch):
    seen = []
    monkeypatch.setattr(
        copies,
        "write_whole",
        lambda path, *_, **__: seen.append((path.name, len(copies_of(read(laboratory))))),
    )
    put("Bench 1", "Bench 2")
    assert [
        ("MCW-VIS-014-r3-copy-1-1-checklist.pdf", 2),
        ("MCW-VIS-014-r3-copy-2-1-checklist.pdf", 2),
    ] == seen


def test_a_page_that_cannot_be_printed_takes_no_number(put, laboratory, monkeypatch):
    def broken(one, copy):
        raise RuntimeError("no font")

    monkeypatch.setattr(copies, "printed", broken)
    with pytest.raises(RuntimeError):
        put("Bench 1")
    assert () == copies_of(read(laboratory))


def test_a_paper_that_cannot_be_put_in_place_keeps_its_number_and_is_told(put, plain, laboratory):
    folder = laboratory / "out" / "copies"
    folder.mkdir(parents=True)
    (folder / "MCW-VIS-014-r3-copy-2-1-checklist.pdf").write_bytes(b"what stood there")
    with pytest.raises(NotPrintedError) as caught:
        put("Bench 1", "Bench 2", "Bench 3")
    assert [2, 3] == [c.number for c in caught.value.copies]
    assert b"what stood there" == (folder / "MCW-VIS-014-r3-copy-2-1-checklist.pdf").read_bytes()
    assert [4] == [c.number for c in put("Bench 4").copies]


_RUN = """
import sys
from datetime import datetime
from pathlib import Path
from fillmark.releases import copies
from fillmark.releases.register import read
home, times, pause = Path(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3])
copies.printed = lambda one, copy: (copies.Paper(f"copy-{copy.number}-{sys.argv[4]}.pdf", b"x"),)
if pause:
    import time
    write = copies.write_whole
    def slow(*a, **k):
        print("writing", flush=True)
        time.sleep(pause)
        write(*a, **k)
    copies.write_whole = slow
at = datetime.fromisoformat("2026-12-02T10:00:00+01:00")
for _ in range(times):
    one = copies.ready(home, read(home), "MCW-VIS-014", at.date())
    copies.issue(home, one, to=("a", "b"), operator=False, papers=("checklist",), paper="A4", at=at, by="K",
                 folder=home / "out")
"""


def test_two_processes_never_take_one_number(laboratory):
    runs = [
        subprocess.Popen([sys.executable, "-c", _RUN, str(laboratory), "4", "0", name]) for name in ("x", "y")
    ]
    assert [0, 0] == [run.wait(timeout=120) for run in runs]
    register = read(laboratory)
    assert register.sound
    numbers = [e.data["copy"] for e in register.of_kind("issue")]
    assert list(range(1, 17)) == sorted(numbers)
    # Each order has its two numbers in a row, and says so.
    of = [(e.data["copy"], e.data["of"]) for e in register.of_kind("issue")]
    assert all(a[0] + 1 == b[0] == b[1] == a[1] for a, b in list(pairwise(of))[::2])
    assert {f"copy-{n}" for n in range(1, 17)} == {p.name[:-6] for p in (laboratory / "out").iterdir()}


def test_after_a_kill_no_number_is_printed_twice_and_no_paper_is_unlogged(laboratory):
    run = subprocess.Popen(
        [sys.executable, "-c", _RUN, str(laboratory), "1", "60", "x"], stdout=subprocess.PIPE, text=True
    )
    assert "writing\n" == run.stdout.readline()
    run.send_signal(signal.SIGKILL)
    run.wait(timeout=60)
    run.stdout.close()
    assert [1, 2] == [c.number for c in copies_of(read(laboratory))]
    assert [] == [p.name for p in (laboratory / "out").iterdir() if p.suffix == ".pdf"]
    subprocess.run([sys.executable, "-c", _RUN, str(laboratory), "1", "0", "y"], check=True)
    assert [1, 2, 3, 4] == [c.number for c in copies_of(read(laboratory))]
    assert {"copy-3-y.pdf", "copy-4-y.pdf"} == {
        p.name for p in (laboratory / "out").iterdir() if p.suffix == ".pdf"
    }


# --- what is printed


def test_a_copy_says_which_it_is_for_whom_and_until_when(laboratory, put, plain):
    one = ready(laboratory, read(laboratory), METHOD, TODAY)
    (copy,) = put("Bench 1", papers=("checklist", "data-sheet")).copies
    for planned in documents(one, copy).values():
        head = planned.head
        assert ("1 of 1", "Bench 1", "2026-12-02", "2027-01-01") == (
            head.copy,
            head.holder,
            head.printed,
            head.until,
        )
        assert read(laboratory).releases(METHOD)[0].data["digest"] in head.mark


@pytest.mark.pdf
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_on_paper_it_keeps_to_two_pages_with_all_of_it_on_each(laboratory, put, plain, paper, monkeypatch):
    monkeypatch.undo()
    one = ready(laboratory, read(laboratory), METHOD, TODAY)
    long = "Dr. Maximiliane Oberhuber-Featherstonehaugh, night shift 3"
    copy = copies.Copy(
        METHOD, 3, 12, 13, long, operator=False, papers=("checklist", "data-sheet"), paper=paper, prints=1,
        printed=TODAY, valid_until=date(2027, 1, 1), entered="", why="",
    )  # fmt: skip
    made = printed(one, copy)
    assert [f"MCW-VIS-014-r3-copy-012-{kind}.pdf" for kind in ("checklist", "data-sheet")] == [
        m.name for m in made
    ]
    for page in made:
        reader = PdfReader(BytesIO(page.content))
        assert 2 == len(reader.pages)
        for at in reader.pages:
            text = " ".join(at.extract_text().split())
            for words in (
                "copy 12 of 13",
                "printed on 2026-12-02",
                "valid until 2027-01-01",
                "Featherstonehaugh",
                "rev. 3",
            ):
                assert words in text


def test_what_is_printed_is_what_was_released_whatever_became_of_the_file(laboratory, revised):
    revised()
    one = ready(laboratory, read(laboratory), METHOD, TODAY)
    assert (3, "5 min") == (one.method.revision, one.method.sample.rest.text)
    (laboratory / "methods" / f"{METHOD}.yaml").unlink()
    assert 3 == ready(laboratory, read(laboratory), METHOD, TODAY).method.revision


def test_a_copy_is_valid_for_as_long_as_the_site_says(laboratory):
    # 30 days by the site policy; from the first day in force on, if that is later.
    register = read(laboratory)
    assert date(2027, 1, 1) == ready(laboratory, register, METHOD, date(2026, 12, 2)).valid_until
    assert date(2026, 12, 31) == ready(laboratory, register, METHOD, date(2026, 11, 27)).valid_until
    # review_by: 2029-11-30
    assert date(2029, 11, 30) == ready(laboratory, register, METHOD, date(2029, 11, 20)).valid_until


def test_a_copy_is_not_valid_beyond_its_revision(laboratory, revised):
    released(laboratory, revised(("effective: 2026-12-01", "effective: 2027-01-20")))
    assert date(2027, 1, 19) == ready(laboratory, read(laboratory), METHOD, date(2027, 1, 11)).valid_until


# --- what is not printed


def test_a_draft_has_no_copies(laboratory):
    assert "no release of TGF-VIS-003" in refused(
        "REG10", ready, laboratory, read(laboratory), "TGF-VIS-003", TODAY
    )
    assert "revision 9" in refused("REG10", ready, laboratory, read(laboratory), METHOD, TODAY, 9)


def test_a_superseded_revision_has_none(laboratory, revised):
    released(laboratory, revised())
    day = date(2027, 1, 11)
    assert 4 == ready(laboratory, read(laboratory), METHOD, day).revision.number
    assert "superseded by revision 4" in refused("REG11", ready, laboratory, read(laboratory), METHOD, day, 3)


def test_a_revision_to_come_can_be_issued_by_name(laboratory, revised):
    released(laboratory, revised(("effective: 2026-12-01", "effective: 2027-02-01")))
    day = date(2027, 1, 11)
    assert 3 == ready(laboratory, read(laboratory), METHOD, day).revision.number
    assert 4 == ready(laboratory, read(laboratory), METHOD, day, 4).revision.number


def test_a_revision_called_back_has_none(laboratory, call_back):
    call_back(whole=True)
    assert "the wrong fluid" in refused("REG12", ready, laboratory, read(laboratory), METHOD, TODAY)


def test_a_bundle_that_was_touched_is_not_printed(laboratory):
    file = laboratory / "released" / METHOD / f"{METHOD}-r3.zip"
    file.write_bytes(file.read_bytes() + b"x")
    refused("REG13", ready, laboratory, read(laboratory), METHOD, TODAY)


def test_what_was_released_or_called_back_meanwhile_takes_no_number(laboratory, plain, call_back, revised):
    one = ready(laboratory, read(laboratory), METHOD, TODAY)
    call_back(whole=True)
    order = {"to": ("a",), "operator": False, "papers": ("checklist",), "paper": "A4", "at": AT, "by": "K"}
    refused("REG11", issue, laboratory, one, folder=laboratory / "out", **order)
    assert () == copies_of(read(laboratory))


# --- printing again


def test_a_reprint_keeps_its_number_and_says_that_it_is_one(laboratory, put, plain):
    put("Bench 1", "Bench 2")
    one = ready(laboratory, read(laboratory), METHOD, TODAY)
    made = reprint(laboratory, one, 2, reason="coffee", at=AT, by="Q. Keeper", folder=laboratory / "out")
    (copy,) = made.copies
    assert (2, 2, "Bench 2") == (copy.number, copy.prints, copy.to)
    assert "2 of 2, print 2" == documents(one, copy)["checklist"].head.copy
    line = read(laboratory).entries[-1].data
    assert ("reprint", 2, 2, "coffee") == (line["kind"], line["copy"], line["print"], line["reason"])
    again = reprint(laboratory, one, 2, reason="tea", at=AT, by="Q. Keeper", folder=laboratory / "out")
    assert 3 == again.copies[0].prints


def test_only_a_copy_that_is_out_is_printed_again(laboratory, put, plain, call_back):
    put("Bench 1")
    call_back(1, state="destroyed")
    one = ready(laboratory, read(laboratory), METHOD, TODAY)
    more = {"reason": "x", "at": AT, "by": "K", "folder": laboratory / "out"}
    refused("REG15", reprint, laboratory, one, 1, **more)
    refused("REG14", reprint, laboratory, one, 2, **more)


# --- calling back


def test_what_becomes_of_a_copy_is_told_from_day_to_day(laboratory, put, plain, call_back, revised):
    put("out", "back", "wet", "gone")
    call_back(2, state="returned", reason="end of shift")
    call_back(3)
    call_back(3, state="destroyed", reason="shredded")
    call_back(4, state="lost", reason="last seen on Monday")
    register = read(laboratory)

    def states(day, register=register):
        return [one.state for one in listed(laboratory, register, day)]

    assert ["out", "returned", "destroyed", "lost"] == states(date(2027, 1, 1))
    assert "expired" == states(date(2027, 1, 2))[0]
    released(laboratory, revised(), "2026-12-10T10:00:00+01:00")
    assert "superseded" == states(date(2026, 12, 10), read(laboratory))[0]


def test_all_that_are_out_are_called_back_at_once(laboratory, put, plain, call_back):
    put("a", "b", "c")
    call_back(2, state="returned")
    assert [1, 3] == [c.number for c in call_back()]
    assert [1, 3] == [one.copy.number for one in to_fetch(listed(laboratory, read(laboratory), TODAY))]
    refused("REG17", call_back)
    refused("REG17", call_back, 2)
    refused("REG14", call_back, 7)
    refused("REG10", call_back, revision=9)
    # The whole revision can be called back though no copy is out.
    call_back(1, 3, state="returned")
    assert () == call_back(whole=True)


def test_nobody_without_the_level_gets_a_copy_unwarned(laboratory, put, plain):
    one = ready(laboratory, read(laboratory), METHOD, TODAY)
    warned = without_level((), ("Ana Lind",), one)
    assert {
        "Ana Lind": "Ana Lind holds level 0 of the 2 asked for: no assessment of Ana Lind on MCW-VIS-014"
    } == warned
    put("Ana Lind", operator=True, warned=warned)
    assert warned["Ana Lind"] == read(laboratory).entries[-1].data["warned"]


# --- written


def test_json_meets_its_schema_and_the_text_marks_what_to_fetch(laboratory, put, plain, call_back):
    put("Bench 1", "Bänch 2")
    call_back(2)
    found = listed(laboratory, read(laboratory), TODAY)
    schema = json.loads((schemas_folder() / "copies.schema.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema).validate(json.loads(listed_json(found, TODAY)))
    text = listed_text(found, ascii_only=True)
    assert text.isascii()
    assert [True, False] == [line.startswith("!") for line in text.splitlines() if " of 2 " in line][::-1]
    assert "1 out, 1 recalled." in text


def test_a_line_that_is_no_issue_is_refused_by_the_register(laboratory):
    from fillmark.releases.register import RegisterError

    line = {
        "kind": "issue",
        "at": "2026-12-02T10:00:00+01:00",
        "by": "K",
        "id": METHOD,
        "revision": 3,
        "copy": 0,
    }
    with pytest.raises(RegisterError):
        append(laboratory, line)
