"""Putting papers in place: whole or not at all, and nothing that was not made here is touched."""

import hashlib
import json
import shutil
from pathlib import Path

import pytest

from fillmark import publish
from fillmark.publish import (
    REGISTER,
    leftovers,
    place,
    read_register,
    sweep,
    withdraw,
    withdraw_unknown,
    write_register,
    write_whole,
)

PAPERS = {"M-1-r3-checklist-A4.html": b"<p>", "M-1-r3-data-sheet-A4.pdf": b"%PDF-"}


def names(folder: Path) -> list[str]:
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file())


def entry(method_id: str) -> dict[str, object]:
    return {"id": method_id, "digest": "0", "made_with": "0", "files": {}}


def test_papers_stand_in_the_folder_of_their_method(tmp_path):
    assert [tmp_path / "M-1" / n for n in PAPERS] == place(tmp_path, "M-1", PAPERS)
    assert b"%PDF-" == (tmp_path / "M-1" / "M-1-r3-data-sheet-A4.pdf").read_bytes()
    assert [] == leftovers(tmp_path)


def test_new_papers_take_the_place_of_all_old_ones(tmp_path):
    place(tmp_path, "M-1", PAPERS)
    place(tmp_path, "M-1", {"M-1-r4-checklist-A4.html": b"new"})
    assert ["M-1/M-1-r4-checklist-A4.html"] == names(tmp_path)


@pytest.mark.parametrize(
    "stranger", ["notes.txt", "M-1-r3-checklist-A4.html.bak", "M-2-r1-checklist-A4.html"]
)
def test_a_folder_with_something_of_somebody_else_is_not_replaced(tmp_path, stranger):
    (tmp_path / "M-1").mkdir()
    (tmp_path / "M-1" / stranger).write_text("mine", encoding="utf-8")
    with pytest.raises(FileExistsError):
        place(tmp_path, "M-1", PAPERS)
    assert [f"M-1/{stranger}"] == names(tmp_path)
    assert [] == leftovers(tmp_path)


def test_a_record_goes_only_as_it_was_made(tmp_path):
    blank, name = b"field,value\nzero,\n", "M-1-r3-record-blank.csv"
    known = hashlib.sha256(blank).hexdigest()
    place(tmp_path, "M-1", {**PAPERS, name: blank})
    place(tmp_path, "M-1", {name: b"other"}, (known,))
    assert [f"M-1/{name}"] == names(tmp_path)
    # The same content is nobody's entries, also where no build is known to have made it.
    place(tmp_path, "M-1", {name: b"other"})
    (tmp_path / "M-1" / name).write_bytes(b"field,value\nzero,0.1\n")
    with pytest.raises(FileExistsError, match="filled in or changed"):
        place(tmp_path, "M-1", {name: blank}, (known,))
    assert b"field,value\nzero,0.1\n" == (tmp_path / "M-1" / name).read_bytes()


def test_a_record_that_was_filled_in_is_not_withdrawn(tmp_path):
    name = "M-1-r3-record-blank.csv"
    files = {n: hashlib.sha256(b"made").hexdigest() for n in ("M-1-r3-checklist-A4.html", name)}
    for content, left in ((b"made", []), (b"filled in", [f"M-1/{name}"])):
        place(tmp_path, "M-1", {"M-1-r3-checklist-A4.html": b"made", name: content})
        withdraw(tmp_path, {"m.yaml": {**entry("M-1"), "files": files}}, "m.yaml")
        assert left == names(tmp_path)
    assert [] == withdraw_unknown(tmp_path, {})
    assert [f"M-1/{name}"] == names(tmp_path)


def test_a_link_in_the_place_of_a_folder_is_not_followed(tmp_path):
    out, elsewhere = tmp_path / "out", tmp_path / "elsewhere" / "M-1"
    out.mkdir()
    elsewhere.parent.mkdir()
    place(elsewhere.parent, "M-1", PAPERS)
    (out / "M-1").symlink_to(elsewhere)
    with pytest.raises(FileExistsError):
        place(out, "M-1", PAPERS)
    assert sorted(PAPERS) == names(elsewhere)


@pytest.mark.parametrize("moment", ["write_bytes", "rename"])
def test_a_failure_in_the_middle_leaves_no_part_of_a_paper(tmp_path, monkeypatch, moment):
    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, moment, fail)
    with pytest.raises(OSError, match="No space left"):
        place(tmp_path, "M-1", PAPERS)
    assert [] == list(tmp_path.iterdir())


def test_withdrawing_takes_the_papers_and_the_entry_and_leaves_notes(tmp_path):
    place(tmp_path, "M-1", PAPERS)
    (tmp_path / "M-1" / "remark.txt").write_text("ours", encoding="utf-8")
    register = {"/m1.yaml": entry("M-1")}
    assert [f"M-1/{n}" for n in PAPERS] == withdraw(tmp_path, register, "/m1.yaml")
    assert {} == register
    assert ["M-1/remark.txt"] == names(tmp_path)


def test_an_emptied_folder_goes_too(tmp_path):
    place(tmp_path, "M-1", PAPERS)
    withdraw(tmp_path, {"/m1.yaml": entry("M-1")}, "/m1.yaml")
    assert [] == list(tmp_path.iterdir())


@pytest.mark.parametrize("wicked", ["../M-1", "/", "..", "a/../../M-1"])
def test_a_register_that_was_tampered_with_leads_nowhere_else(tmp_path, wicked):
    place(tmp_path, "M-1", PAPERS)
    out = tmp_path / "out"
    out.mkdir()
    assert [] == withdraw(out, {"/m.yaml": entry(wicked)}, "/m.yaml")
    assert 2 == len(names(tmp_path))


def test_papers_of_unknown_source_are_taken_away_and_nothing_else(tmp_path):
    place(tmp_path, "M-1", PAPERS)
    place(tmp_path, "M-2", {"M-2-r0-checklist-Letter.pdf": b"x"})
    (tmp_path / "README.md").write_text("note", encoding="utf-8")
    assert [f"M-1/{n}" for n in PAPERS] == withdraw_unknown(tmp_path, {"/m2.yaml": entry("M-2")})
    assert ["M-2/M-2-r0-checklist-Letter.pdf", "README.md"] == names(tmp_path)


def test_the_register_comes_back_as_it_was_written(tmp_path):
    register = {"/labor/µ.yaml": {"id": "M-1", "digest": "ab", "made_with": "0.1.0", "files": {"x": "00"}}}
    write_register(tmp_path, register)
    assert register == read_register(tmp_path)
    assert [REGISTER] == names(tmp_path)


@pytest.mark.parametrize(
    "content",
    [
        "",
        "{",
        "[]",
        "null",
        '{"/m.yaml": 3, "/n.yaml": {}}',
        "\x00",
        "[" * 100_000,
        '{"source": "/m.yaml", "id": 3}',
        '{"source": 3, "id": "M-1"}',
        '{"source": "/m\\u0000", "id": "M-1"}',
        '{"source": "/m.yaml", "id": "M-1", "files": ["x"]}',
        '{"source": "/m.yaml", "id": "M-1", "files": {"x": 1}}',
    ],
)
def test_a_broken_register_counts_as_none(tmp_path, content):
    (tmp_path / REGISTER).write_text(content, encoding="utf-8")
    assert {} == read_register(tmp_path)


def test_an_entry_that_is_noted_takes_the_place_of_the_one_before(tmp_path):
    register = {"/m.yaml": entry("M-1"), "/n.yaml": entry("M-2")}
    write_register(tmp_path, register)
    publish.note(tmp_path, register, "/m.yaml", entry("M-3"))
    assert {"/m.yaml": entry("M-3"), "/n.yaml": entry("M-2")} == register == read_register(tmp_path)


def test_a_torn_last_line_counts_for_nothing(tmp_path):
    register = {}
    publish.note(tmp_path, register, "/m.yaml", entry("M-1"))
    publish.note(tmp_path, register, "/n.yaml", entry("M-2"))
    whole = (tmp_path / REGISTER).read_bytes()
    for length in range(len(whole)):
        (tmp_path / REGISTER).write_bytes(whole[:length])
        assert set(read_register(tmp_path)) <= {"/m.yaml", "/n.yaml"}
    (tmp_path / REGISTER).write_bytes(whole[:-20])
    assert {"/m.yaml": entry("M-1")} == read_register(tmp_path)


def placed(folder: Path) -> dict[str, object]:
    place(folder, "M-1", PAPERS)
    return {
        "id": "M-1",
        "files": {name: hashlib.sha256(content).hexdigest() for name, content in PAPERS.items()},
    }


def test_papers_stand_where_all_of_them_hold_what_was_made(tmp_path):
    made = placed(tmp_path)
    seen = {}
    assert publish.stand(tmp_path, made, seen)
    assert {f"M-1/{name}" for name in PAPERS} == set(seen)
    assert publish.stand(tmp_path, made, seen)
    (tmp_path / "M-1" / "notes.txt").write_text("mine", encoding="utf-8")
    assert publish.stand(tmp_path, made, seen)


def _put_a_link(folder: Path) -> None:
    paper = folder / "M-1-r3-data-sheet-A4.pdf"
    paper.rename(folder / "elsewhere")
    paper.symlink_to("elsewhere")


@pytest.mark.parametrize(
    "spoil",
    [
        lambda f: (f / "M-1-r3-checklist-A4.html").unlink(),
        lambda f: (f / "M-1-r3-checklist-A4.html").write_bytes(b"<q>"),
        lambda f: (f / "M-1-r2-checklist-A4.html").write_bytes(b"old"),
        _put_a_link,
        shutil.rmtree,
    ],
    ids=["gone", "changed", "another revision", "a link", "no folder"],
)
def test_papers_do_not_stand_where_one_is_not_what_was_made(tmp_path, spoil):
    made = placed(tmp_path)
    seen = {}
    assert publish.stand(tmp_path, made, seen)
    spoil(tmp_path / "M-1")
    assert not publish.stand(tmp_path, made, seen)


@pytest.mark.parametrize(
    "made", [{"id": "M-1"}, {"id": "M-1", "files": {}}, {"id": "../M-1", "files": {"x": ""}}]
)
def test_an_entry_without_papers_or_outside_of_the_folder_stands_for_nothing(tmp_path, made):
    assert not publish.stand(tmp_path, made, {})


def test_what_is_known_of_papers_comes_back(tmp_path):
    publish.write_seen(tmp_path, {"M-1/x": [1, 2, 3, 4]})
    assert {"M-1/x": [1, 2, 3, 4]} == publish.read_seen(tmp_path)
    (tmp_path / publish.SEEN).write_text("[]", encoding="utf-8")
    assert {} == publish.read_seen(tmp_path)


def test_no_register_counts_as_none(tmp_path):
    assert {} == read_register(tmp_path / "missing")


def test_a_file_is_written_whole_and_readable_for_all(tmp_path):
    write_whole(tmp_path / "deep" / "f.txt", b"new")
    assert b"new" == (tmp_path / "deep" / "f.txt").read_bytes()
    assert 0o644 == (tmp_path / "deep" / "f.txt").stat().st_mode & 0o777
    assert ["deep/f.txt"] == names(tmp_path)


def test_a_file_that_cannot_be_finished_leaves_the_old_one(tmp_path, monkeypatch):
    write_whole(tmp_path / "f.txt", b"old")

    def fail(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(publish.os, "fsync", fail)
    with pytest.raises(OSError, match="No space left"):
        write_whole(tmp_path / "f.txt", b"new")
    assert b"old" == (tmp_path / "f.txt").read_bytes()
    assert ["f.txt"] == names(tmp_path)


@pytest.mark.parametrize("links", [True, False])
def test_a_file_that_is_there_is_left_when_asked(tmp_path, monkeypatch, links):
    if not links:

        def no_links(*_):
            raise PermissionError(1, "Operation not permitted")

        monkeypatch.setattr(Path, "hardlink_to", no_links)
    write_whole(tmp_path / "f.txt", b"first", replace=False)
    with pytest.raises(FileExistsError):
        write_whole(tmp_path / "f.txt", b"second", replace=False)
    assert b"first" == (tmp_path / "f.txt").read_bytes()
    assert ["f.txt"] == names(tmp_path)


def test_sweeping_clears_what_a_killed_build_left_and_nothing_else(tmp_path):
    place(tmp_path, "M-1", PAPERS)
    (tmp_path / ".making-x").mkdir()
    (tmp_path / ".making-x" / "half.pdf").write_bytes(b"%P")
    (tmp_path / ".writing-y").write_bytes(b"{")
    (tmp_path / REGISTER).write_text(json.dumps({"/m1.yaml": entry("M-1")}), encoding="utf-8")
    assert [".making-x", ".writing-y"] == [p.name for p in leftovers(tmp_path)]
    sweep(tmp_path)
    assert [REGISTER, *(f"M-1/{n}" for n in PAPERS)] == names(tmp_path)


def test_sweeping_where_nothing_is_does_nothing(tmp_path):
    sweep(tmp_path / "missing")
    assert not (tmp_path / "missing").exists()
