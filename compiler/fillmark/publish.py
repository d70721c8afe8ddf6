"""Put finished documents into the out folder so that nothing half-written or out of date can pass for current.

Each method has a folder of its own, swapped in whole. A register beside them remembers which file gave which
documents from which content. Before anything new is made, the documents of every method that has changed,
fails, or is gone are taken away: an interrupted build leaves documents missing, never stale.
"""

import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

REGISTER = ".fillmark-build.json"

Register = dict[str, dict[str, Any]]
"""Source file (absolute) -> {id, digest, made_with, files}."""


def read_register(out: Path) -> Register:
    """Read what an earlier build left; an unreadable register counts as none."""
    try:
        data = json.loads((out / REGISTER).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return data if isinstance(data, dict) else {}


def write_register(out: Path, register: Mapping[str, Any]) -> None:
    """Write the register in one piece; OSError where the folder cannot be written."""
    write_whole(out / REGISTER, json.dumps(register, indent=1, sort_keys=True, ensure_ascii=False).encode())


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that a reader sees the old content or the new, never a part; OSError on failure."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=".writing-")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except BaseException:
        with suppress(OSError):
            Path(name).unlink()
        raise


def withdraw(out: Path, register: Register, source: str) -> list[str]:
    """Take away the documents an earlier build made of a source; gives the names of what was removed."""
    entry = register.pop(source, None)
    if entry is None:
        return []
    folder = out / str(entry["id"])
    if Path(str(entry["id"])).name != entry["id"] or not folder.is_dir():
        return []
    names = sorted(f"{entry['id']}/{p.name}" for p in folder.iterdir())
    shutil.rmtree(folder)
    return names


def place(out: Path, method_id: str, documents: Mapping[str, bytes]) -> list[Path]:
    """Swap in the folder of one method with these documents; gives their paths. OSError on failure."""
    out.mkdir(parents=True, exist_ok=True)
    fresh = Path(tempfile.mkdtemp(dir=out, prefix=".making-"))
    try:
        fresh.chmod(0o755)
        for name, content in documents.items():
            (fresh / name).write_bytes(content)
        target = out / method_id
        if target.exists():
            shutil.rmtree(target)
        fresh.rename(target)
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        raise
    return [target / name for name in documents]


def sweep(out: Path) -> None:
    """Remove what a killed build left behind."""
    if out.is_dir():
        for left in out.glob(".making-*"):
            shutil.rmtree(left, ignore_errors=True)
        for left in out.glob(".writing-*"):
            with suppress(OSError):
                left.unlink()
