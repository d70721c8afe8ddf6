"""The register: a chain of lines that shows what was done to it, and that no stopped writer can spoil."""

import errno
import hashlib
import json
import os
import threading

import pytest
import rfc8785

from fillmark.releases import register
from fillmark.releases.register import (
    FIRST,
    LAST,
    Register,
    RegisterError,
    append,
    last_releases,
    locked,
    read,
    register_file,
)

AT = "2026-11-25T10:00:00+01:00"
RELEASE = {
    "kind": "release", "at": AT, "by": "H. Marlow", "id": "MCW-VIS-014", "revision": 3, "digest": "a" * 64,
    "class": "first", "bundle": "MCW-VIS-014/MCW-VIS-014-r3.zip", "sha256": "b" * 64, "size": 10, "signature": None,
    "fillmark": "0.1.0",
}  # fmt: skip


def release(revision):
    return {**RELEASE, "revision": revision, "bundle": f"MCW-VIS-014/MCW-VIS-014-r{revision}.zip"}


def codes(found: Register) -> list[tuple[str, int]]:
    return [(fault.code, fault.span.line) for fault in found.faults]


@pytest.fixture
def three(tmp_path):
    """Give a workspace with three lines, and the file."""
    for revision in (1, 2, 3):
        append(tmp_path, release(revision))
    return register_file(tmp_path)


def test_one_that_is_not_there_has_no_entries_and_no_faults(tmp_path):
    found = read(tmp_path)
    assert ((), (), True, FIRST) == (found.entries, found.faults, found.sound, found.head)


def test_each_line_names_the_sha_256_of_the_one_before(three):
    lines = three.read_bytes().splitlines()
    previous = [json.loads(line)["previous"] for line in lines]
    assert ["0" * 64, *(hashlib.sha256(line).hexdigest() for line in lines[:-1])] == previous
    found = read(three.parents[1])
    assert [1, 2, 3] == [entry.line for entry in found.entries]
    assert hashlib.sha256(lines[-1]).hexdigest() == found.head
    assert found.sound


def test_an_entry_gives_what_was_appended(tmp_path):
    entry = append(tmp_path, release(3))
    assert (entry,) == read(tmp_path).entries
    assert ("release", AT, "H. Marlow", 3) == (entry.kind, entry.at, entry.by, entry.data["revision"])


def test_entries_are_found_by_kind_and_method(three):
    found = read(three.parents[1])
    assert 3 == len(found.of_kind("release"))
    assert 0 == len(found.of_kind("recall"))
    assert [1, 2, 3] == [e.data["revision"] for e in found.releases("MCW-VIS-014")]
    assert () == found.releases("MCW-VIS-015")
    assert {"MCW-VIS-014": found.head} == last_releases(read(three.parents[1]))


def test_a_changed_line_shows_at_the_next(three):
    lines = three.read_bytes().splitlines(keepends=True)
    lines[1] = lines[1].replace(b"H. Marlow", b"J. Okafor")
    three.write_bytes(b"".join(lines))
    found = read(three.parents[1])
    assert [("REG01", 3)] == codes(found)
    assert not found.sound
    assert "a line above it was changed" in found.faults[0].message
    assert 2 == len(found.faults[0].ways_out)


def test_a_line_taken_out_shows(three):
    lines = three.read_bytes().splitlines(keepends=True)
    three.write_bytes(lines[0] + lines[2])
    assert [("REG01", 2)] == codes(read(three.parents[1]))


def test_a_first_line_taken_out_shows(three):
    three.write_bytes(b"".join(three.read_bytes().splitlines(keepends=True)[1:]))
    found = read(three.parents[1])
    assert [("REG01", 1)] == codes(found)
    assert "should name none" in found.faults[0].message


@pytest.mark.parametrize("left", [0, 1, 2])
def test_lines_taken_off_the_end_show(three, left):
    lines = three.read_bytes().splitlines(keepends=True)
    three.write_bytes(b"".join(lines[:left]))
    found = read(three.parents[1])
    assert [("REG04", max(left, 1))] == codes(found)
    assert f"had 3 lines, and it has {left} now" in found.faults[0].message
    with pytest.raises(RegisterError, match="had 3 lines"):
        append(three.parents[1], release(4))
    assert b"".join(lines[:left]) == three.read_bytes()


def test_a_register_that_was_deleted_is_missed(three):
    three.unlink()
    assert [("REG04", 1)] == codes(read(three.parents[1]))


def test_a_last_line_put_in_the_place_of_another_shows(three):
    lines = three.read_bytes().splitlines(keepends=True)
    three.write_bytes(b"".join(lines[:2]) + lines[2].replace(b"H. Marlow", b"H. Morlaw"))
    assert [("REG04", 3)] == codes(read(three.parents[1]))


@pytest.mark.parametrize("noted", [b"", b"000000003 x", b"zzz", None])
def test_without_a_note_of_the_last_line_the_register_stands_for_itself(three, noted):
    note = three.with_name(LAST)
    if noted is None:
        note.unlink()
    else:
        note.write_bytes(noted)
    assert read(three.parents[1]).sound
    append(three.parents[1], release(4))
    assert b"000000004 " == note.read_bytes()[:10]


def test_a_note_that_lags_behind_a_killed_process_does_no_harm(three):
    note = three.with_name(LAST).read_bytes()
    append(three.parents[1], release(4))
    three.with_name(LAST).write_bytes(note)
    assert read(three.parents[1]).sound


@pytest.mark.parametrize(
    ("at", "told"),
    [
        ("2026-11-24T10:00:00+01:00", []),
        ("2026-11-24T08:59:59Z", [("REG05", 4)]),
        ("2025-11-25T10:00:00+01:00", [("REG05", 4)]),
    ],
)
def test_a_clock_set_back_is_told_and_stops_nobody(three, at, told):
    append(three.parents[1], {**release(4), "at": at})
    found = read(three.parents[1])
    assert told == codes(found)
    assert found.sound


@pytest.mark.parametrize(
    ("key", "day"), [("at", "2026-13-01T10:00:00Z"), ("printed", "2026-02-29"), ("valid_until", "2026-06-31")]
)
def test_a_day_that_is_not_in_the_calendar_makes_no_entry(tmp_path, key, day):
    issue = {
        "kind": "issue", "at": AT, "by": "H. Marlow", "id": "MCW-VIS-014", "revision": 3, "digest": "a" * 64,
        "copy": 1, "of": 1, "to": "Bench 3", "operator": False, "papers": ["checklist"], "paper": "A4",
        "printed": "2026-11-25", "valid_until": "2026-12-25",
    }  # fmt: skip
    append(tmp_path, issue)
    file = register_file(tmp_path)
    data = json.loads(file.read_bytes())
    file.write_bytes(rfc8785.dumps({**data, key: day}) + b"\n")
    assert [("REG02", 1)] == codes(read(tmp_path))


def test_lines_in_another_order_show(three):
    one, two, last = three.read_bytes().splitlines(keepends=True)
    three.write_bytes(one + last + two)
    assert [("REG01", 2), ("REG01", 3)] == codes(read(three.parents[1]))


@pytest.mark.parametrize(
    "foreign",
    [
        b"hello",
        b"",
        b"[1]",
        b'{"kind":"release"}',
        b'{"a":NaN}',
        b"\xff\xfe",
        b"[" * 5000,
        b'{"kind": "release"}',
        b'{"at":"x","at":"y"}',
    ],
    ids=["text", "empty", "list", "too-little", "nan", "no-utf8", "deep", "spaced", "twice"],
)
def test_a_foreign_line_is_named_and_the_next_does_not_follow(three, foreign):
    one, two, last = three.read_bytes().splitlines(keepends=True)
    three.write_bytes(one + two + foreign + b"\n" + last)
    assert [("REG02", 3), ("REG01", 4)] == codes(read(three.parents[1]))


def test_a_line_written_otherwise_is_foreign_though_it_says_the_same(three):
    lines = three.read_bytes().splitlines(keepends=True)
    lines[2] = json.dumps(json.loads(lines[2])).encode() + b"\n"
    three.write_bytes(b"".join(lines))
    assert [("REG02", 3)] == codes(read(three.parents[1]))


def test_a_line_longer_than_any_of_ours_is_not_read_on(three):
    three.write_bytes(three.read_bytes() + b"x" * (register.LONGEST + 10))
    assert [("REG02", 4)] == codes(read(three.parents[1]))


def test_nothing_is_added_to_a_register_with_faults(three):
    three.write_bytes(b"hello\n" + three.read_bytes())
    before = three.read_bytes()
    with pytest.raises(RegisterError, match="while it has faults") as refused:
        append(three.parents[1], release(4))
    assert "REG02" == refused.value.faults[0].code
    assert before == three.read_bytes()


@pytest.mark.parametrize("cut", range(1, 40, 6))
def test_a_torn_line_is_no_entry_does_no_harm_and_is_taken_away(three, cut):
    whole = three.read_bytes()
    three.write_bytes(whole + whole.splitlines()[0][:-cut])
    found = read(three.parents[1])
    assert [("REG03", 4)] == codes(found)
    assert found.sound
    assert 3 == len(found.entries)
    append(three.parents[1], release(4))
    assert [] == codes(read(three.parents[1]))
    assert [1, 2, 3, 4] == [e.data["revision"] for e in read(three.parents[1]).entries]


def test_a_last_line_that_lacks_nothing_but_its_end_is_kept(three):
    three.write_bytes(three.read_bytes().removesuffix(b"\n"))
    assert ([], 3) == (codes(read(three.parents[1])), len(read(three.parents[1]).entries))
    append(three.parents[1], release(4))
    assert ([], 4) == (codes(read(three.parents[1])), len(read(three.parents[1]).entries))


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"kind": "rumour"}, "kind: .*rumour"),
        ({"at": "yesterday"}, "at"),
        ({"by": ""}, "by"),
        ({"by": "A\nB"}, "by"),
        ({"sha256": "abc"}, "sha256"),
        ({"bundle": "../../etc/passwd"}, "bundle"),
        ({"note": "more than it takes"}, "note"),
    ],
)
def test_what_is_no_entry_is_refused_and_nothing_written(tmp_path, change, named):
    append(tmp_path, release(1))
    before = register_file(tmp_path).read_bytes()
    with pytest.raises(RegisterError, match=named):
        append(tmp_path, {**release(2), **change})
    assert before == register_file(tmp_path).read_bytes()


def test_a_full_disk_leaves_the_register_as_it_was(three):
    """The limit on the size of a file stops the write in the middle of the line, as a full disk does."""
    resource = pytest.importorskip("resource")
    before = three.read_bytes()
    child = os.fork()
    if child == 0:
        code = 1
        try:
            resource.setrlimit(resource.RLIMIT_FSIZE, (len(before) + 20, len(before) + 20))
            append(three.parents[1], release(4))
        except OSError as error:
            code = 0 if error.errno == errno.EFBIG else 2
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    assert 0 == os.waitstatus_to_exitcode(status)
    assert before == three.read_bytes()
    append(three.parents[1], release(4))
    assert 4 == len(read(three.parents[1]).entries)


def test_a_disk_that_fails_to_keep_leaves_the_register_as_it_was(three, monkeypatch):
    before = three.read_bytes()

    def fail(handle):
        raise OSError(errno.EIO, "the disk fails")

    monkeypatch.setattr(register.os, "fsync", fail)
    with pytest.raises(OSError, match="the disk fails"):
        append(three.parents[1], release(4))
    assert before == three.read_bytes()


def test_many_who_add_at_once_make_one_sound_chain(tmp_path):
    children = []
    for writer in range(4):
        child = os.fork()
        if child == 0:
            code = 1
            try:
                for number in range(8):
                    append(tmp_path, release(100 * writer + number))
                code = 0
            finally:
                os._exit(code)
        children.append(child)
    assert [0] * 4 == [os.waitstatus_to_exitcode(os.waitpid(c, 0)[1]) for c in children]
    found = read(tmp_path)
    assert ([], 32) == (codes(found), len(found.entries))
    assert {100 * w + n for w in range(4) for n in range(8)} == {e.data["revision"] for e in found.entries}


def test_a_killed_process_leaves_no_lock_behind(tmp_path):
    ready, told = os.pipe()
    child = os.fork()
    if child == 0:
        with locked(tmp_path):
            os.write(told, b"x")
            threading.Event().wait()
    os.read(ready, 1)
    waiting = threading.Event()

    def add():
        append(tmp_path, release(1))
        waiting.set()

    thread = threading.Thread(target=add)
    thread.start()
    assert not waiting.wait(0.2)
    os.kill(child, 9)
    os.waitpid(child, 0)
    thread.join(timeout=20)
    assert waiting.is_set()
    assert 1 == len(read(tmp_path).entries)


def test_a_lock_keeps_out_a_second_thread_of_the_same_process(tmp_path):
    inside = threading.Event()

    def enter():
        with locked(tmp_path):
            inside.set()

    thread = threading.Thread(target=enter)
    with locked(tmp_path):
        thread.start()
        assert not inside.wait(0.2)
    thread.join(timeout=20)
    assert inside.is_set()
