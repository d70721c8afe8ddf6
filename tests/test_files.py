"""Opening what others have laid down: ordinary files, bounded, with names that can be shown."""

import os
from pathlib import Path

import pytest

from fillmark.diagnostics import Severity
from fillmark.files import CODES, ordinary, read_at_most, refuse_unprintable, shown, unreadable


def test_one_byte_more_than_allowed_is_read_and_no_more(tmp_path):
    file = tmp_path / "f"
    file.write_bytes(b"abcdef")
    assert b"abcd" == read_at_most(file, 3)
    assert b"abcdef" == read_at_most(file, 6)


def test_a_large_file_is_read_up_to_the_limit(tmp_path):
    file = tmp_path / "f"
    with file.open("wb") as opened:
        opened.truncate(2**36)  # of holes
    assert 1001 == len(read_at_most(file, 1000))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_a_pipe_is_refused_and_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(OSError, match="no ordinary file"), ordinary(tmp_path / "pipe"):
        pass


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no endless device here")
def test_a_device_is_refused(tmp_path):
    (tmp_path / "link").symlink_to("/dev/zero")
    with pytest.raises(OSError, match="no ordinary file"):
        read_at_most(tmp_path / "link")


def test_a_folder_and_a_missing_file_are_refused(tmp_path):
    with pytest.raises(OSError, match=r"directory|Permission denied"):
        read_at_most(tmp_path)
    with pytest.raises(FileNotFoundError):
        read_at_most(tmp_path / "gone")


@pytest.mark.parametrize(
    ("name", "seen"),
    [
        ("a.yaml", "a.yaml"),
        ("wall paint, 23 °C.yaml", "wall paint, 23 °C.yaml"),
        ("a\nb", "a\\u000ab"),
        ("a\tb\r", "a\\u0009b\\u000d"),
        ("\x1b[31m", "\\u001b[31m"),
        ("a\u202eb", "a\\u202eb"),
        ("a\u200bb", "a\\u200bb"),
        (os.fsdecode(b"a\xff"), "a\\udcff"),
    ],
)
def test_a_name_shows_harmless_and_one_that_could_deceive_is_refused(name, seen):
    assert seen == shown(name)
    if name == seen:
        refuse_unprintable(Path(name))
    else:
        with pytest.raises(OSError, match="cannot be shown; rename it"):
            refuse_unprintable(Path(name))


def test_what_cannot_be_read_is_told_under_the_name_given():
    found = unreadable(Path("x\n"), OSError(13, "Permission denied"))
    assert ("FIL01", CODES["FIL01"][0], Severity.ERROR) == (found.code, found.slug, found.severity)
    assert "x\\u000a" == found.file
    assert "Permission denied" in found.message
    named = unreadable(Path("/lab/shared/p.yaml"), OSError(13, "x"), name="shared/p.yaml")
    assert "shared/p.yaml" == named.file
