"""A check of many files: what is told of each for people, and no more, so that memory stays small.

Files are independent of each other up to their ids, so several processes can look at them at once.
"""

import gc
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path

from fillmark.diagnostics import Diagnostic
from fillmark.files import shown, unreadable
from fillmark.model import Reference
from fillmark.pipeline import Compiled, compile_method, used_twice
from fillmark.workspace import read_method
from fillmark.yaml_faults import lines_of

ALONE = 40
"""Up to so many files one process does them all: starting others takes as long as they save (measured, two cores)."""
AT_ONCE = 25
"""Files in one piece of work."""


@dataclass(frozen=True, slots=True)
class Glance:
    """What a check found in one file."""

    file: str
    diagnostics: tuple[Diagnostic, ...] = ()
    id: str | None = None
    """The id of the method; None where the file did not come so far."""
    text: str = ""
    """The file, where there is something to show of it."""
    mendable: int = 0
    """How many of the findings could be mended."""

    @property
    def lines(self) -> tuple[str, ...]:
        """Give the lines of the text, for excerpts."""
        return lines_of(self.text)


def look_over(
    files: Sequence[Path], reference: Reference, *, today: date | None, jobs: int | None = None
) -> list[Glance]:
    """Check files, each by itself and then for ids used twice, in `jobs` processes (as many as processors)."""
    found = _in_turn_or_at_once(files, reference, today, jobs)
    twice = _sharing_an_id(found)
    if twice:
        whole = used_twice([_compiled(Path(found[n].file), reference, today) for n in twice])
        for number, one in zip(twice, whole, strict=True):
            found[number] = _glance(one, reference, today)
    return found


def _in_turn_or_at_once(
    files: Sequence[Path], reference: Reference, today: date | None, jobs: int | None
) -> list[Glance]:
    if len(files) > ALONE:
        from fillmark.workers import FORK_OR_SPAWN, Crew, cores  # noqa: PLC0415 - only many files need them

        jobs = cores() if jobs is None else jobs
        # A process that starts from nothing would take longer to start than it saves.
        if jobs > 1 and FORK_OR_SPAWN == "fork":
            _see_one(files[0], reference, today)
            # What is there now is the same for all workers; none of them need look through it.
            gc.freeze()
            pieces = [files[n : n + AT_ONCE] for n in range(0, len(files), AT_ONCE)]
            work = partial(_piece, pieces, reference, today)
            by_piece = dict(Crew(work, min(jobs, len(pieces)), renewed_after=10**6).each(len(pieces)))
            return [glance for piece in range(len(pieces)) for glance in by_piece[piece]]
    return [_see_one(file, reference, today) for file in files]


def _piece(
    pieces: Sequence[Sequence[Path]], reference: Reference, today: date | None, piece: int
) -> list[Glance]:
    return [_see_one(file, reference, today) for file in pieces[piece]]


def _see_one(file: Path, reference: Reference, today: date | None) -> Glance:
    return _glance(_compiled(file, reference, today), reference, today)


def _compiled(file: Path, reference: Reference, today: date | None) -> Compiled:
    try:
        data = read_method(file)
    except OSError as error:
        return Compiled(shown(str(file)), (unreadable(file, error),))
    return compile_method(data, str(file), reference, today=today)


def _glance(one: Compiled, reference: Reference, today: date | None) -> Glance:
    method_id = None if one.method is None else one.method.id
    if not one.diagnostics:
        return Glance(one.file, id=method_id)
    from fillmark.fix import mendable  # noqa: PLC0415 - only a file with findings needs it

    text = "" if one.reading is None else one.reading.text
    return Glance(one.file, one.diagnostics, method_id, text, mendable(one, reference, today=today))


def _sharing_an_id(found: Sequence[Glance]) -> list[int]:
    by_id: dict[str, list[int]] = {}
    for number, one in enumerate(found):
        if one.id is not None:
            by_id.setdefault(one.id.casefold(), []).append(number)
    return sorted(n for numbers in by_id.values() if len(numbers) > 1 for n in numbers)
