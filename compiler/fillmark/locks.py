"""Keep two processes from writing into one place at the same time.

The lock is one of the operating system on a file that stays: it goes with the process that holds it, however
that ends, so that nothing has to be cleared away by hand.
"""

import errno
import os
import stat
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


@contextmanager
def locked(file: Path, *, busy: Callable[[], None] | None = None) -> Iterator[None]:
    """Hold the lock of a file, which is made where it is missing; waits until no other process holds it.

    `busy` is called once where there is something to wait for. OSError where the file cannot be made or the
    disk knows no locks.
    """
    with _opened(file) as held:
        if not _taken(held, wait=False):
            if busy is not None:
                busy()
            _taken(held, wait=True)
        try:
            yield
        finally:
            _leave(held)


def _opened(file: Path) -> BinaryIO:
    # Neither through a link nor into a pipe that somebody has laid in the place of the lock.
    flags = (
        os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
    )
    held = os.fdopen(os.open(file, flags, 0o644), "ab")
    if stat.S_ISREG(os.fstat(held.fileno()).st_mode):
        return held
    held.close()
    raise OSError(errno.EINVAL, "it is no ordinary file", str(file))


if sys.platform == "win32":
    import msvcrt
    import time

    def _taken(held: BinaryIO, *, wait: bool) -> bool:
        while True:
            held.seek(0)
            try:
                msvcrt.locking(held.fileno(), msvcrt.LK_NBLCK, 1)
            except PermissionError:
                if not wait:
                    return False
                time.sleep(0.05)
            else:
                return True

    def _leave(held: BinaryIO) -> None:
        held.seek(0)
        msvcrt.locking(held.fileno(), msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _taken(held: BinaryIO, *, wait: bool) -> bool:
        try:
            # Of the open file, not of the process: it keeps out a second thread too.
            fcntl.flock(held, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _leave(held: BinaryIO) -> None:
        fcntl.flock(held, fcntl.LOCK_UN)
