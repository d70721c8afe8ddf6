"""Where a laboratory's files lie: the workspace (methods/, shared/, out/) and the method files in it."""

import os
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

from fillmark.files import read_at_most, refuse_unprintable
from fillmark.reference import meant_kind

SUFFIXES = (".yaml", ".yml")


def find_workspace(start: Path) -> Path | None:
    """Find the nearest folder at or above `start` whose `shared/` holds reference data; None without one.

    OSError where a `shared` is there and cannot be looked into, or is a link that leads nowhere: its
    thresholds would be passed over without a word.
    """
    at = start.resolve()
    for folder in (at, *at.parents):
        shared = folder / "shared"
        with suppress(NotADirectoryError):
            if os.path.lexists(shared) and any(meant_kind(file.name) for file in shared.iterdir()):
                return folder
    return None


def method_files(paths: Iterable[Path]) -> list[Path]:
    """List the method files that paths name: files as they are, folders with all YAML below them.

    Hidden folders and the folders `shared` and `out` of a workspace are passed over. Each file comes once,
    in the order of its name. OSError for a folder that cannot be looked into: its methods would be missed.
    """
    found: dict[str, Path] = {}
    for path in paths:
        for file in sorted(_below(path)) if path.is_dir() else (path,):
            found.setdefault(address(file), file)
    return list(found.values())


def address(file: Path | str) -> str:
    """Give the one absolute name of a file, links followed; links that lead in a circle stay as they are."""
    return os.path.realpath(file)


def _below(folder: Path) -> Iterator[Path]:
    for where, folders, names in os.walk(folder, onerror=_refuse):
        folders[:] = [f for f in folders if not f.startswith(".") and f not in ("shared", "out")]
        # A link that leads nowhere is listed too: its method must not vanish without a word.
        yield from (Path(where, n) for n in names if n.endswith(SUFFIXES) and not n.startswith("."))


def _refuse(error: OSError) -> None:
    raise error


def read_method(file: Path) -> bytes:
    """Read a method file, and no more of it than can be one; OSError where it cannot be opened or printed."""
    refuse_unprintable(file)
    return read_at_most(file)
