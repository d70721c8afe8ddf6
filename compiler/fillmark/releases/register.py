"""The register of a laboratory: what was released, issued, called back, and who has shown competency.

One line of JSON for each entry, in the form of RFC 8785, in `released/register.jsonl` of the workspace. Lines
are only ever added. Each bears the SHA-256 of the line before, so that a line changed, taken out or put in
later shows. Which line was the last is kept beside it, so that lines taken off the end show too: to the eye of
whoever slips, not to somebody who rewrites both. The register is the authority: a bundle without its line is
not released.

Lines are added under a lock of the operating system, which goes with the process that holds it. A line is
written in one piece and is there once it is complete: what a killed process left of one is no entry and is
taken away by the next, and on a full disk the register stays as it was.
"""

import hashlib
import json
import os
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from io import FileIO
from pathlib import Path
from typing import Any, BinaryIO, NoReturn

import rfc8785

from fillmark import locks
from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.files import ordinary, read_at_most
from fillmark.validate import misfit

FOLDER = "released"
"""Folder of the workspace that holds the register and the released bundles."""
NAME = "register.jsonl"
LOCK = ".register.lock"
LAST = ".register.last"
"""Holds number and SHA-256 of the last line; it may lag behind by the line of a process that was killed."""
SCHEMA = "register.schema.json"
FIRST = "0" * 64
"""What the first line gives for the line before."""
LONGEST = 64 * 1024
"""Bytes of the longest line: far above any entry, far below what could be meant to exhaust memory."""

CODES: dict[str, tuple[str, str]] = {
    "REG01": (
        "register-chain-broken",
        "A line of the register does not follow from the one before: a line was changed, taken out or put in.",
    ),
    "REG02": ("register-line-foreign", "A line of the register that Fillmark did not write as it stands."),
    "REG03": (
        "register-line-torn",
        "The last line of the register is incomplete: whoever wrote it was stopped, and it is no entry.",
    ),
    "REG04": (
        "register-lines-gone",
        "The register lacks its last lines, or they are others than were written.",
    ),
    "REG05": (
        "register-day-before-the-last",
        "A line of the register is dated well before the line above it.",
    ),
}
"""REG01 to REG09 are of the register itself; the copies it tells of have REG10 and above."""

_LAST = re.compile(rb"([0-9]{9}) ([0-9a-f]{64})\n")


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the register."""

    kind: str
    """release, issue, reprint, recall, competency"""
    at: str
    """Date and time with offset, as ISO 8601 writes them."""
    by: str
    line: int
    """Counts from 1."""
    digest: str
    """SHA-256 of the line: what the next one gives as `previous`."""
    data: Mapping[str, Any]
    """All of the entry, `kind`, `at`, `by` and `previous` included."""


@dataclass(frozen=True, slots=True)
class Register:
    """What a register says, and what is wrong with it."""

    file: Path
    entries: tuple[Entry, ...]
    faults: tuple[Diagnostic, ...]

    @property
    def sound(self) -> bool:
        """Whether every line follows from the one before; a torn last line is no entry and does no harm."""
        return not any(fault.blocks for fault in self.faults)

    @property
    def head(self) -> str:
        """SHA-256 of the last line; 64 zeros where there is none."""
        return self.entries[-1].digest if self.entries else FIRST

    def of_kind(self, kind: str) -> tuple[Entry, ...]:
        """Give the entries of one kind, oldest first."""
        return tuple(e for e in self.entries if e.kind == kind)

    def releases(self, method_id: str) -> tuple[Entry, ...]:
        """Give the releases of one method, oldest first."""
        return tuple(e for e in self.of_kind("release") if e.data["id"] == method_id)

    def called_back(self, method_id: str, revision: int) -> str | None:
        """Say why a revision was called back as a whole; None where it was not."""
        for e in self.of_kind("recall"):
            if e.data["whole"] and (e.data["id"], e.data["revision"]) == (method_id, revision):
                return str(e.data["reason"])
        return None


class RegisterError(ValueError):
    """A register that cannot be written on, or an entry that is none; `faults` are those of the register."""

    def __init__(self, message: str, faults: tuple[Diagnostic, ...] = ()) -> None:
        super().__init__(message)
        self.faults = faults


def register_file(workspace: Path) -> Path:
    """Give the place of the register of a workspace."""
    return workspace / FOLDER / NAME


def read(workspace: Path) -> Register:
    """Read the register of a workspace; one that is not there has no entries.

    Faults are told by line and do not stop the reading. OSError where the file cannot be read.
    """
    file = register_file(workspace)
    entries, faults, _ = _looked_at(file)
    return Register(file, entries, faults)


def last_releases(found: Register) -> dict[str, str]:
    """Give for each method what tells its releases from others: the digest of the last line about it."""
    return {str(e.data["id"]): e.digest for e in found.of_kind("release")}


def _looked_at(file: Path) -> tuple[tuple[Entry, ...], tuple[Diagnostic, ...], int]:
    """Read the register as `_read` does; none has no lines, unless it is known that there were some."""
    last = _last(file.with_name(LAST))  # before the lines: one may be added in between
    try:
        with ordinary(file) as opened:
            entries, faults, kept = _read(opened, str(file))
    except FileNotFoundError:
        entries, faults, kept = (), (), 0
    if last is not None and not any(fault.blocks for fault in faults):
        lines, head = last
        if len(entries) < lines or entries[lines - 1].digest != head:
            faults = (*faults, _gone(str(file), len(entries), lines))
    return entries, faults, kept


def _last(file: Path) -> tuple[int, str] | None:
    """Read which line was the last; None where that is not known."""
    try:
        found = _LAST.fullmatch(read_at_most(file, 200))
    except OSError:
        return None
    return None if found is None else (int(found[1]), found[2].decode())


def _keep_last(file: Path, lines: int, head: str) -> None:
    """Note which line is the last, over the earlier note, so that it takes no room on a full disk."""
    with suppress(OSError):
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o644)
        try:
            os.write(handle, b"%09d %s\n" % (lines, head.encode()))
        finally:
            os.close(handle)


def _read(opened: BinaryIO, name: str) -> tuple[tuple[Entry, ...], tuple[Diagnostic, ...], int]:
    """Read all lines; gives the entries, the faults, and how many bytes the complete lines take."""
    entries: list[Entry] = []
    faults: list[Diagnostic] = []
    previous = FIRST
    number = kept = 0
    while line := opened.readline(LONGEST + 1):
        number += 1
        written = line.removesuffix(b"\n")
        data = _entry(written)
        ended = line.endswith(b"\n")
        if data is None and not ended and len(line) <= LONGEST:
            faults.append(_torn(name, number, len(line)))
            break
        kept += len(line)
        if data is None:
            faults.append(_foreign(name, number, written))
            if not ended:
                break  # longer than any line of ours: what follows is not read
        else:
            if data["previous"] != previous:
                faults.append(_broken(name, number, data, previous))
            faults += _back_in_time(name, number, data["at"], entries)
            entries.append(
                Entry(data["kind"], data["at"], data["by"], number, hashlib.sha256(written).hexdigest(), data)
            )
        previous = hashlib.sha256(written).hexdigest()
    return tuple(entries), tuple(faults), kept


def _entry(written: bytes) -> dict[str, Any] | None:
    """Give what a line says; None where it is not what Fillmark would have written."""
    try:
        data = json.loads(written)
        if not isinstance(data, dict) or rfc8785.dumps(data) != written:
            return None
        if misfit(data, SCHEMA) is not None:
            return None
        # A schema does not know the calendar.
        datetime.fromisoformat(data["at"])
        for key in ("printed", "valid_until", "day"):
            if data.get(key) is not None:
                date.fromisoformat(data[key])
    except (ValueError, RecursionError, rfc8785.CanonicalizationError):
        return None
    return data


def _fault(code: str, severity: Severity, name: str, line: int, message: str, *ways: str) -> Diagnostic:
    return Diagnostic(code, CODES[code][0], severity, message, name, Span(line, 1, line, 1), ways_out=ways)


def _restore(line: int) -> tuple[str, str]:
    return (
        "Put back the register from a copy made before, and add by the same commands what came after it.",
        f"Or keep this file as evidence, find who wrote line {line}, and have it decided which papers hold.",
    )


def _foreign(name: str, line: int, written: bytes) -> Diagnostic:
    shown = written[:60].decode("utf-8", "replace")
    cut = " ..." if len(written) > 60 else ""
    return _fault(
        "REG02", Severity.ERROR, name, line,
        f"Line {line} is no entry as Fillmark writes it: {shown!r}{cut}. What it should say cannot be known.",
        *_restore(line),
    )  # fmt: skip


def _broken(name: str, line: int, data: Mapping[str, Any], previous: str) -> Diagnostic:
    before = (
        "is the first and should name none" if line == 1 else f"should name line {line - 1} by {previous[:8]}"
    )
    return _fault(
        "REG01", Severity.ERROR, name, line,
        f"Line {line} ({data['kind']}, {data['at']}) {before}, but names {data['previous'][:8]}: a line above it was "
        "changed, taken out or put in. What the register says up to here cannot be relied on.",
        *_restore(line),
    )  # fmt: skip


def _torn(name: str, line: int, size: int) -> Diagnostic:
    return _fault(
        "REG03", Severity.WARNING, name, line,
        f"Line {line} ends after {size} bytes in the middle of an entry: whoever wrote it was stopped, or is writing "
        "now. It is no entry; what it was to record has not been done.",
        "Do again what was stopped: the torn line is then taken away.",
        "Or read the register again in a moment, if someone is writing now.",
    )  # fmt: skip


def _gone(name: str, found: int, lines: int) -> Diagnostic:
    what = f"it has {found} now" if found < lines else f"line {lines} is another than was written"
    return _fault(
        "REG04", Severity.ERROR, name, max(found, 1),
        f"The register had {lines} line{'' if lines == 1 else 's'}, and {what}. What the others said is not known: a "
        "copy of which the number would be given twice, a revision called back, a level taken away.",
        "Put back the register from a copy made since, and add by the same commands what came after it.",
        f"Or, where no such copy is left, have it decided and noted which papers hold, and delete {LAST} beside it.",
    )  # fmt: skip


def _back_in_time(name: str, line: int, at: str, entries: Sequence[Entry]) -> Iterator[Diagnostic]:
    if not entries:
        return
    before = datetime.fromisoformat(entries[-1].at) - datetime.fromisoformat(at)
    # Two who work at once may be written down the other way round.
    if before > timedelta(days=1):
        yield _fault(
            "REG05", Severity.WARNING, name, line,
            f"Line {line} is dated {at}, {before.days} day{'' if before.days == 1 else 's'} before the line above it "
            f"({entries[-1].at}): a clock was wrong, or it was entered later than it says.",
            "Find out which of the two days is wrong, and note it: the lines themselves stay as they are.",
            "Or leave it, if the day was named on purpose.",
        )  # fmt: skip


@contextmanager
def locked(workspace: Path) -> Iterator[None]:
    """Keep every other process from adding to the register; waits until no other holds it.

    The lock goes with the process, however it ends. OSError where the folder cannot be written or the disk
    knows no locks.
    """
    folder = workspace / FOLDER
    folder.mkdir(parents=True, exist_ok=True)
    with locks.locked(folder / LOCK):
        yield


def append(workspace: Path, entry: Mapping[str, Any]) -> Entry:
    """Add an entry under the lock of the register; it is on the disk when this returns.

    `entry` holds `kind`, `at`, `by` and what `schemas/register.schema.json` asks of its kind; `previous` is
    put in here. RegisterError where the entry is none or the register has faults; OSError where it cannot be
    written, and then the register is as it was.
    """
    with locked(workspace):
        return append_held(workspace, entry)


def append_held(workspace: Path, entry: Mapping[str, Any]) -> Entry:
    """Add an entry as `append` does, where the caller holds the lock."""
    file = register_file(workspace)
    entries, faults, kept = _looked_at(file)
    if any(fault.blocks for fault in faults):
        _refuse(file, faults)
    data = {**entry, "previous": entries[-1].digest if entries else FIRST}
    fault = misfit(data, SCHEMA)
    if fault is not None:
        raise RegisterError(f"this is no entry of the register: {fault}")
    written = rfc8785.dumps(data)
    if len(written) >= LONGEST:
        raise RegisterError(f"an entry of {len(written)} bytes is longer than the register takes, {LONGEST}")
    if _entry(written) is None:
        raise RegisterError("this is no entry of the register: a day in it is not in the calendar")
    if not file.exists():
        file.touch()
        settle(file.parent)
    with file.open("r+b", buffering=0) as opened:
        _write(opened, kept, written)
    added = Entry(
        data["kind"], data["at"], data["by"], len(entries) + 1, hashlib.sha256(written).hexdigest(), data
    )
    _keep_last(file.with_name(LAST), added.line, added.digest)
    return added


def _refuse(file: Path, faults: tuple[Diagnostic, ...]) -> NoReturn:
    first = next(fault for fault in faults if fault.blocks)
    raise RegisterError(f"nothing is added to {file} while it has faults. {first.message}", faults)


def settle(folder: Path) -> None:
    """See that the names of new files of a folder are on the disk too."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _write(opened: FileIO, kept: int, written: bytes) -> None:
    """Put a line behind the complete ones; on failure the file is cut back to them."""
    opened.truncate(kept)
    # A last line may lack nothing but its end, where an editor has been at the file.
    opened.seek(max(kept - 1, 0))
    line = (b"" if opened.read(1) in (b"", b"\n") else b"\n") + written + b"\n"
    opened.seek(kept)
    try:
        rest = memoryview(line)
        while rest:
            rest = rest[opened.write(rest) :]
        os.fsync(opened.fileno())
    except BaseException:
        opened.truncate(kept)
        raise
