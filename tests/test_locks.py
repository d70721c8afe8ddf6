"""Two processes that want one lock."""

import subprocess
import sys

import pytest

from fillmark.locks import locked

HOLD = """
import sys, time
from pathlib import Path
from fillmark.locks import locked
with locked(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def test_a_lock_that_is_free_is_taken_at_once(tmp_path):
    with locked(tmp_path / "lock", busy=lambda: pytest.fail("nobody holds it")):
        assert (tmp_path / "lock").is_file()


def test_a_second_one_is_told_once_and_waits_until_the_first_is_gone(tmp_path):
    told = []
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path / "lock")], stdout=subprocess.PIPE
    ) as holder:
        assert b"held\n" == holder.stdout.readline()

        def busy():
            told.append(holder.poll())
            # However the holder ends, its lock goes with it.
            holder.kill()

        with locked(tmp_path / "lock", busy=busy):
            assert [None] == told


def test_a_lock_is_left_when_what_it_was_for_fails(tmp_path):
    with pytest.raises(ZeroDivisionError), locked(tmp_path / "lock"):
        raise ZeroDivisionError
    with locked(tmp_path / "lock", busy=lambda: pytest.fail("nobody holds it")):
        pass


def test_a_folder_that_is_not_there_is_an_error_of_the_system(tmp_path):
    with pytest.raises(FileNotFoundError), locked(tmp_path / "missing" / "lock"):
        pass
