"""Put finished documents into the out folder; nothing half-written or out of date can pass for current.

Each method has a folder of its own, swapped in whole. A register beside them remembers which file gave which
documents from which content. Before anything new is made, the documents of every method that has changed,
fails, or is gone are taken away, and so are papers of which the register does not know the source: an
interrupted build leaves documents missing, never stale.
"""

import errno
import json
import os
import re
import shutil
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

REGISTER = ".fillmark-build.json"
LEFTOVERS = (".making-*", ".writing-*")
"""What a killed build leaves behind."""

Register = dict[str, dict[str, Any]]
"""Source file, as seen from the out folder -> {id, digest, made_with, files}."""


def read_register(out: Path) -> Register:
    """Read what an earlier build left; an unreadable register counts as none."""
    try:
        data = json.loads((out / REGISTER).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(data, dict):
        return {}
    return {source: entry for source, entry in data.items() if isinstance(entry, dict) and "id" in entry}


def write_register(out: Path, register: Mapping[str, Any]) -> None:
    """Write the register in one piece; OSError where the folder cannot be written."""
    write_whole(out / REGISTER, json.dumps(register, indent=1, sort_keys=True, ensure_ascii=False).encode())


def write_whole(path: Path, content: bytes, *, replace: bool = True, mode: int = 0o644) -> None:
    """Write a file so that a reader sees the old content or the new, never a part; OSError on failure.

    `mode` are its permissions. With `replace=False` a file that is there is left as it is, and
    FileExistsError raised.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".writing-")
    fresh = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        fresh.chmod(mode)
        if replace:
            fresh.replace(path)
        else:
            _take_name(fresh, path)
    finally:
        with suppress(OSError):
            fresh.unlink()


def _take_name(fresh: Path, path: Path) -> None:
    """Give a file its name; FileExistsError where the name is taken."""
    try:
        # A link, unlike a renaming, fails where the name has been taken meanwhile.
        path.hardlink_to(fresh)
    except FileExistsError:
        raise
    except OSError:
        # The disk knows no links.
        if path.exists():
            raise FileExistsError(errno.EEXIST, "exists", str(path)) from None
        fresh.replace(path)


def _papers(folder: Path) -> list[Path]:
    """List the papers in the folder of a method that a build made: their names begin with the method's id."""
    made = re.compile(rf"{re.escape(folder.name)}-r[0-9]+-[a-z-]+-[A-Za-z0-9]+\.(html|pdf)")
    if folder.is_symlink() or not folder.is_dir():
        return []
    return sorted(p for p in folder.iterdir() if made.fullmatch(p.name))


def _remove(folder: Path) -> list[str]:
    """Remove the papers of one method; what else lies in its folder stays."""
    names = []
    for paper in _papers(folder):
        paper.unlink()
        names.append(f"{folder.name}/{paper.name}")
    if folder.is_dir() and not any(folder.iterdir()):
        folder.rmdir()
    return names


def withdraw(out: Path, register: Register, source: str) -> list[str]:
    """Take away the documents an earlier build made of a source; gives the names of what was removed."""
    method_id = str(register.pop(source)["id"])
    return _remove(out / method_id) if Path(method_id).name == method_id else []


def withdraw_unknown(out: Path, register: Register) -> list[str]:
    """Take away papers whose source the register does not know; gives the names of what was removed."""
    known = {entry["id"] for entry in register.values()}
    strange = [f for f in sorted(out.iterdir()) if f.name not in known and not f.name.startswith(".")]
    return [name for folder in strange for name in _remove(folder)]


def place(out: Path, method_id: str, documents: Mapping[str, bytes]) -> list[Path]:
    """Swap in the folder of one method with these documents; gives their paths.

    OSError on failure; FileExistsError where something stands in the way that no build made.
    """
    target = out / method_id
    fresh = Path(tempfile.mkdtemp(dir=out, prefix=".making-"))
    try:
        fresh.chmod(0o755)
        for name, content in documents.items():
            (fresh / name).write_bytes(content)
        _clear(target)
        fresh.rename(target)
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        raise
    return [target / name for name in documents]


def _clear(target: Path) -> None:
    """Remove the papers of one method; FileExistsError where something else is left."""
    _remove(target)
    if target.exists() or target.is_symlink():
        raise FileExistsError(errno.EEXIST, "something that Fillmark did not make stands there", str(target))


def leftovers(out: Path) -> list[Path]:
    """List what a killed build left behind in the out folder."""
    return [left for pattern in LEFTOVERS for left in sorted(out.glob(pattern))]


def sweep(out: Path) -> None:
    """Remove what a killed build left behind."""
    for left in leftovers(out):
        if left.is_dir():
            shutil.rmtree(left, ignore_errors=True)
        else:
            with suppress(OSError):
                left.unlink()
