"""Put finished documents into the out folder; nothing half-written or out of date can pass for current.

Each method has a folder of its own, swapped in whole. A register beside them remembers which file gave which
documents, on what they rest and what is in them. Before anything new is made, the documents of every method
that has changed, fails, or is gone are taken away, and so are papers of which the register does not know the
source: an interrupted build leaves documents missing, never stale. A build holds the lock of its out folder,
so that two at once come one after the other.
"""

import errno
import hashlib
import json
import os
import re
import shutil
import stat
import tempfile
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from fillmark.files import read_at_most
from fillmark.locks import locked

REGISTER = ".fillmark-build.jsonl"
"""One line of JSON for each source file; a later line of the same file takes the place of an earlier one."""
SEEN = ".fillmark-seen.json"
LOCK = ".fillmark-build.lock"
LEFTOVERS = (".making-*", ".writing-*")
"""What a killed build leaves behind."""

_PAPER = re.compile(r"(.+)-r[0-9]+-[a-z-]+-[A-Za-z0-9]+\.(?:html|pdf|csv)")

LARGEST_REGISTER = 64 * 2**20
"""Bytes of the largest register that is read: some hundred thousand methods."""

Register = dict[str, dict[str, Any]]
"""Source file, as seen from the out folder -> {id, digest, made_with, rests_on, files: {name: SHA-256}}."""

Seen = dict[str, list[int]]
"""Paper -> size, times and number of the file when its content was last looked at.

It spares looking into every paper again. A file whose times and size were not changed by anyone holds what it
held: the system itself notes the time of a change, and no program can set it back. Where this differs or is
missing, the content decides.
"""


def read_register(out: Path) -> Register:
    """Read what an earlier build left; a line that is no entry counts for nothing, for it may be torn."""
    try:
        content = read_at_most(out / REGISTER, LARGEST_REGISTER)
    except OSError:
        return {}
    register: Register = {}
    for line in content[:LARGEST_REGISTER].splitlines():
        try:
            entry = json.loads(line)
        except (ValueError, RecursionError):
            continue
        if _is_entry(entry):
            register[entry.pop("source")] = entry
    return register


def _is_entry(entry: Any) -> bool:
    if not isinstance(entry, dict) or not all(isinstance(entry.get(k), str) for k in ("source", "id")):
        return False
    files = entry.get("files", {})
    named = isinstance(files, dict) and all(isinstance(f, str) for f in files.values())
    return named and "\0" not in entry["source"]


def _line(source: str, entry: Mapping[str, Any]) -> bytes:
    return json.dumps({"source": source, **entry}, sort_keys=True, ensure_ascii=False).encode() + b"\n"


def write_register(out: Path, register: Mapping[str, Any]) -> None:
    """Write the register in one piece; OSError where the folder cannot be written."""
    write_whole(out / REGISTER, b"".join(_line(source, register[source]) for source in sorted(register)))


def note(out: Path, register: Register, source: str, entry: dict[str, Any]) -> None:
    """Put an entry into the register, at the end of its file too; OSError where it cannot be written.

    A line takes the same time whether the register is long or short.
    """
    register[source] = entry
    with (out / REGISTER).open("ab") as file:
        file.write(_line(source, entry))


def read_seen(out: Path) -> Seen:
    """Read what is known of the files of papers; what cannot be read counts as nothing known."""
    try:
        data = json.loads(read_at_most(out / SEEN, LARGEST_REGISTER))
    except (OSError, ValueError, RecursionError):
        return {}
    return data if isinstance(data, dict) else {}


def write_seen(out: Path, seen: Mapping[str, list[int]]) -> None:
    """Keep what is known of the files of papers; OSError where the folder cannot be written."""
    write_whole(out / SEEN, json.dumps(seen, sort_keys=True).encode())


def stand(out: Path, entry: Mapping[str, Any], seen: Seen) -> bool:
    """Tell whether the papers of an entry are there, these and no others, with the content they were made with.

    What is found to be right is put into `seen`.
    """
    folder = out / str(entry["id"])
    files: Mapping[str, str] = entry.get("files") or {}
    if folder.name != entry["id"] or not files or folder.is_symlink():
        return False
    there = 0
    try:
        with os.scandir(folder) as lying_there:
            for paper in lying_there:
                if paper.name in files:
                    if not _holds(paper, files[paper.name], f"{folder.name}/{paper.name}", seen):
                        return False
                    there += 1
                elif _is_paper(paper.name, folder.name):
                    return False
    except OSError:
        return False
    return there == len(files)


def _holds(paper: os.DirEntry[str], digest: str, name: str, seen: Seen) -> bool:
    found = paper.stat(follow_symlinks=False)
    if not stat.S_ISREG(found.st_mode):
        return False
    mark = [found.st_size, found.st_mtime_ns, found.st_ctime_ns, found.st_ino]
    if seen.get(name) == mark:
        return True
    seen.pop(name, None)
    with Path(paper.path).open("rb") as opened:
        if hashlib.file_digest(opened, "sha256").hexdigest() != digest:
            return False
    seen[name] = mark
    return True


@contextmanager
def building(out: Path, busy: Callable[[], None]) -> Iterator[None]:
    """Hold the out folder for one build; `busy` is called where another build has to be waited for.

    OSError where the folder cannot be made or written.
    """
    out.mkdir(parents=True, exist_ok=True)
    with locked(out / LOCK, busy=busy):
        yield


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
    except OSError as error:
        # Told by the name that the caller knows; the other is gone in a moment.
        error.filename, error.filename2 = str(path), None
        raise
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
    if folder.is_symlink() or not folder.is_dir():
        return []
    return sorted(p for p in folder.iterdir() if _is_paper(p.name, folder.name))


def _is_paper(name: str, method_id: str) -> bool:
    found = _PAPER.fullmatch(name)
    return found is not None and found[1] == method_id


def _remove(folder: Path, made: Collection[str]) -> list[str]:
    """Remove the papers of one method; what else lies in its folder stays.

    So does a record that is not as it was `made` (SHA-256 of each file): somebody may have filled it in.
    """
    names = []
    for paper in _papers(folder):
        if paper.suffix == ".csv" and not _is_one_of(made, paper):
            continue
        paper.unlink()
        names.append(f"{folder.name}/{paper.name}")
    if folder.is_dir() and not any(folder.iterdir()):
        folder.rmdir()
    return names


def _is_one_of(made: Collection[str], record: Path) -> bool:
    if record.is_symlink() or not record.is_file():
        return True  # nobody's entries go with a link
    with record.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest() in made


def withdraw(out: Path, register: Register, source: str) -> list[str]:
    """Take away the documents an earlier build made of a source; gives the names of what was removed."""
    entry = register.pop(source)
    method_id = str(entry["id"])
    made = (entry.get("files") or {}).values()
    return _remove(out / method_id, made) if Path(method_id).name == method_id else []


def withdraw_unknown(out: Path, register: Register) -> list[str]:
    """Take away papers whose source the register does not know; gives the names of what was removed."""
    known = {entry["id"] for entry in register.values()}
    strange = [f for f in sorted(out.iterdir()) if f.name not in known and not f.name.startswith(".")]
    return [name for folder in strange for name in _remove(folder, ())]


def place(
    out: Path, method_id: str, documents: Mapping[str, bytes], made: Collection[str] = ()
) -> list[Path]:
    """Swap in the folder of one method with these documents; gives their paths.

    `made` are the SHA-256 of what an earlier build put there. OSError on failure; FileExistsError where
    something stands in the way that no build made.
    """
    target = out / method_id
    fresh = Path(tempfile.mkdtemp(dir=out, prefix=".making-"))
    try:
        fresh.chmod(0o755)
        for name, content in documents.items():
            (fresh / name).write_bytes(content)
        _clear(target, {*made, *(hashlib.sha256(content).hexdigest() for content in documents.values())})
        fresh.rename(target)
    except BaseException:
        shutil.rmtree(fresh, ignore_errors=True)
        raise
    return [target / name for name in documents]


def _clear(target: Path, made: Collection[str]) -> None:
    """Remove the papers of one method; FileExistsError where something else is left."""
    _remove(target, made)
    filled = next((p for p in _papers(target) if p.suffix == ".csv"), None)
    if filled is not None:
        why = f"{filled.name} was filled in or changed there. Move it to where records are kept, and build again"
        raise FileExistsError(errno.EEXIST, why, str(target))
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
