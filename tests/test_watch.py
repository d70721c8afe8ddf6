"""Noticing that files are saved."""

import os
import signal
import subprocess
import sys
from itertools import islice
from pathlib import Path

import pytest

from fillmark.watch import changes, differing, marks

ROOT = Path(__file__).parents[1]


def test_files_that_are_not_there_are_left_out(tmp_path):
    (tmp_path / "a").write_bytes(b"12")
    found = marks([tmp_path / "a", tmp_path / "b"])
    assert [str(tmp_path / "a")] == list(found)
    assert 2 == found[str(tmp_path / "a")][0]


def test_a_file_replaced_by_one_of_the_same_size_and_time_has_changed(tmp_path):
    file, fresh = tmp_path / "a", tmp_path / "b"
    file.write_bytes(b"12")
    before = marks([file])
    fresh.write_bytes(b"21")
    os.utime(fresh, ns=(before[str(file)][1],) * 2)
    fresh.replace(file)
    assert {str(file)} == differing(before, marks([file]))


A, B = (1, 1, 1, 1), (2, 2, 2, 2)


@pytest.mark.parametrize(
    ("before", "after", "names"),
    [
        ({}, {}, set()),
        ({"a": A}, {"a": A}, set()),
        ({"a": A}, {"a": B}, {"a"}),
        ({"a": A}, {}, {"a"}),
        ({}, {"a": A}, {"a"}),
        ({"a": A, "b": A}, {"a": A, "c": A}, {"b", "c"}),
    ],
)
def test_what_differs_is_added_changed_or_gone(before, after, names):
    assert names == differing(before, after)


def seen(*looks):
    """Give what is told of these looks, one after the other."""
    rest = iter(looks[1:])
    told = []
    with pytest.raises(StopIteration):
        told.extend(_until_the_end(told, changes(lambda: next(rest), lambda: None, before=looks[0])))
    return told


def _until_the_end(told, stream):
    try:
        for names in stream:
            told.append(set(names))
    except RuntimeError as error:  # a generator turns the end of the looks into this
        raise StopIteration from error
    return []


def test_a_change_is_told_once_it_has_come_to_rest():
    assert [] == seen({"a": A}, {"a": B})
    assert [{"a"}] == seen({"a": A}, {"a": B}, {"a": B}, {"a": B}, {"a": B})


def test_several_saves_in_a_row_are_one_change():
    assert [{"a", "b"}] == seen({"a": A}, {"a": B}, {"a": A, "b": B}, {"a": B, "b": B}, {"a": B, "b": B})


def test_a_file_gone_for_the_moment_of_its_replacement_is_one_change():
    assert [{"a"}] == seen({"a": A}, {}, {"a": B}, {"a": B})
    assert [] == seen({"a": A}, {}, {"a": A}, {"a": A})


def test_a_file_taken_away_and_one_put_back_later_are_two_changes():
    assert [{"a"}, {"a"}] == seen({"a": A}, {}, {}, {"a": B}, {"a": B})


# --- the command


@pytest.fixture
def watched(tmp_path):
    """Watch a laboratory; gives its folder and a function that waits for a line of what is said."""
    (tmp_path / "methods").mkdir()
    method = tmp_path / "methods" / "TGF-VIS-003.yaml"
    method.write_bytes((ROOT / "methods" / method.name).read_bytes())
    command = [
        sys.executable,
        "-u",
        "-m",
        "fillmark",
        "watch",
        "--build",
        "--format",
        "html",
        "--every",
        "0.05",
    ]
    with subprocess.Popen(
        command, cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8"
    ) as run:
        heard = []

        def until(text):
            for line in run.stdout:
                heard.append(line)
                if text in line:
                    return
            pytest.fail("".join(heard))

        until("Watching 1 file")
        yield method, until, run
        run.kill()


def test_watching_survives_a_broken_file_its_loss_and_its_return_and_stops_at_once(watched):
    method, until, run = watched
    paper = method.parents[1] / "out" / "TGF-VIS-003" / "TGF-VIS-003-r2-checklist-A4.html"
    right = method.read_bytes()
    first = paper.read_bytes()
    method.write_bytes(b"fillmark: [\n")
    until("YML15")
    until("taken away")
    fresh = method.with_suffix(".tmp")
    fresh.write_bytes(right)
    fresh.replace(method)
    until(paper.name)
    assert first == paper.read_bytes()
    method.unlink()
    until("taken away")
    method.write_bytes(right.replace(b"revision: 2", b"revision: 3"))
    until("TGF-VIS-003-r3-checklist-A4.html")
    run.send_signal(signal.SIGINT)
    until("Stopped.")
    assert 130 == run.wait(10)


def test_watching_only_checks_unless_asked_to_build(tmp_path):
    (tmp_path / "methods").mkdir()
    method = tmp_path / "methods" / "TGF-VIS-003.yaml"
    method.write_bytes((ROOT / "methods" / method.name).read_bytes())
    command = [sys.executable, "-u", "-m", "fillmark", "watch", "--every", "0.05"]
    with subprocess.Popen(
        command, cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8"
    ) as run:
        assert any("Watching 1 file" in line for line in run.stdout)
        method.write_bytes(method.read_bytes().replace(b"revision: 2", b"revision: two"))
        assert any("SCH03" in line for line in run.stdout)
        run.send_signal(signal.SIGINT)
        assert "Stopped." in "".join(islice(run.stdout, 40))
        assert 130 == run.wait(10)
    assert not (tmp_path / "out").exists()
