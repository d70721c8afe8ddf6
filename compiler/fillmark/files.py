"""Open what other people have laid down: ordinary files only, and no more of them than may be read.

A pipe that nobody writes to would hold a command for ever, a device would never end, and a file of a gigabyte
would fill the memory before it could be refused.
"""

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.read import LARGEST, unseen_in

CODES: dict[str, tuple[str, str]] = {
    "FIL01": (
        "unreadable-file",
        "A file that is there but cannot be opened; whether papers made from it still hold cannot be known.",
    ),
    "FIL02": (
        "not-reference-data",
        "A file in shared/ that would be passed over because of its name; what it says would not hold.",
    ),
}


def read_at_most(file: Path, most: int = LARGEST) -> bytes:
    """Read an ordinary file up to one byte beyond `most`, so that who gets that many knows it is too large.

    OSError as `ordinary` raises it.
    """
    with ordinary(file) as opened:
        return opened.read(most + 1)


@contextmanager
def ordinary(file: Path) -> Iterator[BinaryIO]:
    """Open a file to be read; OSError where it cannot be, and for a folder, a pipe, a socket or a device."""
    # Without waiting: the opening of a pipe would wait for somebody to write to it.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(file, flags), "rb") as opened:
        if not stat.S_ISREG(os.fstat(opened.fileno()).st_mode):
            raise OSError(errno.EINVAL, "it is no ordinary file but a pipe or a device", str(file))
        yield opened


def shown(name: str) -> str:
    """Give a name as it may be printed: bytes that are no text, and what cannot be seen, as their numbers."""
    unseen = _unprintable(name)
    return "".join(f"\\u{ord(c):04x}" if c in unseen else c for c in name)


def _unprintable(name: str) -> set[str]:
    # A line end is seen in a text, but not in a name: it would make two lines of a report of one.
    return {*unseen_in(name), *(c for c in "\n\r\t" if c in name)}


def refuse_unprintable(file: Path) -> None:
    """Raise OSError for a name with signs that cannot be seen: in a list it would pass for another file's."""
    unseen = _unprintable(str(file))
    if unseen:
        signs = ", ".join(sorted(f"U+{ord(c):04X}" for c in unseen))
        raise OSError(errno.EINVAL, f"its name holds {signs}, which cannot be shown; rename it", str(file))


def unreadable(file: Path, error: OSError, *, name: str | None = None) -> Diagnostic:
    """Say that a file cannot be opened; `name` is what it is called, if not by its path."""
    return Diagnostic(
        "FIL01",
        CODES["FIL01"][0],
        Severity.ERROR,
        f"The file cannot be read: {error.strerror or error}.",
        shown(str(file) if name is None else name),
        Span(1, 1, 1, 1),
        ways_out=("See that you may read it and that it is where it seems to be.", "Or leave it out."),
    )
