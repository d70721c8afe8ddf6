"""Notice when files are saved, replaced, added or taken away, by looking again and again.

Looking needs no help of the operating system, so it works on every disk, network drives included. A file
counts as changed when its size, its times or its number differ: editors that write a new file and rename it
are noticed as those that write in place. Whether the content differs is for others to find out.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path

Mark = tuple[int, int, int, int]
"""Size, time of writing, time of change, number of a file."""
Look = Mapping[str, Mark]
"""What is there: file -> mark."""


def marks(files: Iterable[Path]) -> dict[str, Mark]:
    """Look at files; those that are not there are left out."""
    found: dict[str, Mark] = {}
    for file in files:
        try:
            s = file.stat()
        except OSError:
            continue
        found[str(file)] = (s.st_size, s.st_mtime_ns, s.st_ctime_ns, s.st_ino)
    return found


def differing(before: Look, after: Look) -> frozenset[str]:
    """Name the files that were added, changed or taken away between two looks."""
    return frozenset(name for name in {*before, *after} if before.get(name) != after.get(name))


def changes(look: Callable[[], Look], wait: Callable[[], None], *, before: Look) -> Iterator[frozenset[str]]:
    """Give the names of what has changed since `before`, each time it has come to rest; never ends.

    `wait` lets a moment pass between two looks. A change is given once two looks in a row are the same, so
    that several saves at once, and a file that is gone for the moment of its replacement, are one change.
    """
    last = before
    while True:
        wait()
        now = look()
        if now == last and now != before:
            yield differing(before, now)
            before = now
        last = now
