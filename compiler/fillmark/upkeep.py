"""Make the documents of methods and put them in place, method by method; what is up to date stays.

The order matters: first every document that no longer matches its method is taken away, then new ones are
made and swapped in whole. So an interruption leaves papers missing, never wrong.

Papers are up to date where they hold what they held when they were made, and rest on what they would rest on
now: the bytes of the method, the reference data, the program, what was ordered, and what the rules say. All
of it is compared by content.
"""

import hashlib
import os
import sys
from collections.abc import Callable, Collection, Generator, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import astuple, dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from fillmark import __version__, fingerprint
from fillmark.orders import Order
from fillmark.publish import (
    REGISTER,
    Register,
    Seen,
    note,
    place,
    read_register,
    read_seen,
    stand,
    sweep,
    withdraw,
    withdraw_unknown,
    write_register,
    write_seen,
)
from fillmark.workers import Crew, WorkerLostError
from fillmark.workspace import address

if TYPE_CHECKING:
    # Loaded only where there is something to make.
    from fillmark.build import Made
    from fillmark.pipeline import Compiled


@dataclass(slots=True)
class Result:
    """What a build did."""

    compiled: "Sequence[Compiled]" = ()
    """All methods that were looked into; those left out have papers that are up to date, and no findings."""
    standing: int = 0
    """How many methods had papers that were up to date."""
    written: list[Path] = field(default_factory=list)
    withdrawn: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)


class _Bar(Protocol):
    def advance(self, name: str) -> None: ...


def footing(order: Order, reference_files: Mapping[str, bytes]) -> str:
    """Give what papers rest on besides their method: the program, the reference data and the order."""
    return fingerprint.of([fingerprint.of_program(), fingerprint.of_files(reference_files), repr(order)])


def build(
    contents: Mapping[str, bytes],
    compile_but: "Callable[[Collection[str]], Sequence[Compiled]]",
    out: Path,
    order: Order,
    *,
    rests_on: str,
    anew: bool = False,
    jobs: int = 1,
    progress: bool = False,
) -> Result:
    """Bring the papers of all clean methods in `out` up to date; those with errors lose what they had.

    Call it within `publish.building(out, ...)`. `contents` are the method files that could be read, by their
    names; `compile_but` compiles all that were asked for but those named to it, from these same bytes;
    `rests_on` is the `footing`. With `anew` no paper counts as up to date. `jobs` processes make documents.
    What cannot be written is told in `Result.problems`; the other methods are still built.
    """
    sweep(out)
    site = _Site(out, address(out), read_register(out), read_seen(out))
    footings = {name: _footing(rests_on, contents[name], order, site.id_of(name)) for name in contents}
    standing = set() if anew else {name for name in contents if site.stands(name, footings[name])}
    compiled = compile_but(standing)
    clashing = site.with_an_id_of(compiled, standing)
    if clashing:
        standing -= clashing
        compiled = compile_but(standing)
    for one in compiled:
        if one.file in contents and one.method is not None:
            footings[one.file] = _footing(rests_on, contents[one.file], order, one.method.id, _said_of(one))
    if not anew:
        clean = {c.file for c in compiled if c.clean} & set(footings)
        standing |= {name for name in clean if site.stands(name, footings[name])}
    result = Result(compiled, len(standing))
    try:
        _withdraw_outdated({c.file: c for c in compiled}, contents, standing, site, result)
        _make(standing, footings, site, order, result, jobs=jobs, progress=progress)
        if result.written or site.seen != site.seen_before:
            site.close()
    except OSError as error:
        result.problems.append(cannot_write(out, error))
    except WorkerLostError as error:
        result.problems.append(
            f"{error} The papers made so far stand; the others are missing. Build again, with --jobs 1 if memory is "
            "short."
        )
    made = {path.relative_to(out).as_posix() for path in result.written}
    result.withdrawn = [name for name in dict.fromkeys(result.withdrawn) if name not in made]
    return result


def _footing(rests_on: str, content: bytes, order: Order, method_id: str, said: str = "") -> str:
    """Give what the papers of one method rest on; `said` is what was found in it."""
    return fingerprint.of([rests_on, content, order.released.get(method_id, ""), said])


def cannot_write(out: Path, error: OSError) -> str:
    """Say that the out folder cannot be written."""
    return f"{out} cannot be written: {error.strerror or error}. Give another folder with --out."


def _said_of(one: "Compiled") -> str:
    """Write out what was found in a file, wherever it lies: a dossier prints it. Nothing found is empty."""
    return "".join(repr(astuple(replace(d, file=""))) for d in one.diagnostics)


@dataclass(slots=True)
class _Site:
    """The out folder of one build, with what is known of the papers in it."""

    out: Path
    at: str
    """Its one absolute name."""
    register: Register
    seen: Seen
    seen_before: Seen = field(init=False)
    sources: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.seen_before = dict(self.seen)

    def source(self, file: str) -> str:
        """Name a method file as seen from the out folder: a laboratory's folder can be moved as a whole."""
        if file not in self.sources:
            try:
                self.sources[file] = Path(os.path.relpath(address(file), self.at)).as_posix()
            except ValueError:
                self.sources[file] = address(file)  # on another drive
        return self.sources[file]

    def id_of(self, file: str) -> str:
        """Give the id of the method whose papers were made from a file; empty where there are none."""
        return str(self.register.get(self.source(file), {}).get("id", ""))

    def stands(self, file: str, footing_now: str) -> bool:
        entry = self.register.get(self.source(file))
        return (
            entry is not None and entry.get("rests_on") == footing_now and stand(self.out, entry, self.seen)
        )

    def with_an_id_of(self, compiled: "Sequence[Compiled]", standing: Collection[str]) -> set[str]:
        """Find among methods whose papers stand those that share their id with one that has been compiled."""
        ids = {_id(c).casefold() for c in compiled}
        return {name for name in standing if self.id_of(name).casefold() in ids}

    def close(self) -> None:
        """Keep what is known of papers that are still there, in the same order whatever was made first."""
        write_register(self.out, self.register)
        ids = {entry["id"] for entry in self.register.values()}
        kept = {name: mark for name, mark in self.seen.items() if name.partition("/")[0] in ids}
        write_seen(self.out, kept)


def _withdraw_outdated(
    compiled: "Mapping[str, Compiled]",
    contents: Collection[str],
    standing: Collection[str],
    site: _Site,
    result: Result,
) -> None:
    """Take away all papers that do not match their method any more, or were changed by another hand."""
    asked = {site.source(name): name for name in (*contents, *compiled)}
    known = dict(site.register)
    for source, entry in known.items():
        name = asked.get(source)
        one = compiled.get(name) if name is not None else None
        if name in standing:
            continue
        if name is None or one is None:
            outdated = not (site.out / source).is_file()
        else:
            outdated = not _matches(one, entry) or not stand(site.out, entry, site.seen)
        if outdated:
            result.withdrawn.extend(withdraw(site.out, site.register, source))
    result.withdrawn.extend(withdraw_unknown(site.out, site.register))
    if site.register != known or not (site.out / REGISTER).is_file():
        write_register(site.out, site.register)


def _matches(one: "Compiled", entry: Mapping[str, Any]) -> bool:
    from fillmark.digest import digest  # noqa: PLC0415 - idem

    return one.clean and one.method is not None and entry.get("digest") == digest(one.method)


def _make(
    standing: Collection[str], footings: Mapping[str, str], site: _Site, order: Order, result: Result,
    *, jobs: int, progress: bool,
) -> None:  # fmt: skip
    """Make the documents that are missing, kind by kind, and put those of a method in place once it has all."""
    owners = {entry["id"].casefold(): source for source, entry in site.register.items()}
    todo: list[Compiled] = []
    for one in result.compiled:
        if not one.clean or one.file in standing or not order.forms:
            continue
        owner = owners.get(_id(one).casefold(), site.source(one.file))
        if owner == site.source(one.file):
            todo.append(one)
            continue
        result.problems.append(
            f"{one.file} is not built: the papers of {_id(one)} in {site.out} were made from {site.out / owner}. "
            "Build both files together to see which of them is right."
        )
    pieces = tuple((number, kind) for number in range(len(todo)) for kind in order.kinds)
    gathered: dict[int, dict[str, Made]] = {number: {} for number in range(len(todo))}
    work = partial(_piece, tuple(todo), pieces, order)
    with (
        _bar(len(pieces), shown=progress) as bar,
        closing(_done(work, len(pieces), jobs, order.forms)) as done,
    ):
        for piece, made in done:
            number, kind = pieces[piece]
            gathered[number][kind] = made
            bar.advance(_id(todo[number]))
            if len(gathered[number]) == len(order.kinds):
                parts = gathered.pop(number)
                _place(todo[number], [parts[k] for k in order.kinds], footings, site, result)
    numbers = {_id(one): number for number, one in enumerate(todo)}
    result.written.sort(key=lambda path: numbers[path.parent.name])


def _piece(todo: "Sequence[Compiled]", pieces: Sequence[tuple[int, str]], order: Order, piece: int) -> "Made":
    from fillmark.build import document  # noqa: PLC0415 - only a build that makes something needs it

    number, kind = pieces[piece]
    return document(todo[number], kind, order)


def _done(
    work: "Callable[[int], Made]", pieces: int, jobs: int, forms: tuple[str, ...]
) -> "Generator[tuple[int, Made], None, None]":
    """Do all pieces, here or in several processes."""
    if min(jobs, pieces) < 2:
        yield from ((piece, work(piece)) for piece in range(pieces))
        return
    _load_ahead(forms)
    yield from Crew(work, min(jobs, pieces)).each(pieces)


def _load_ahead(forms: tuple[str, ...]) -> None:
    """Load once, before the workers split off, what each of them would load."""
    import fillmark.build  # noqa: PLC0415
    import fillmark.render  # noqa: F401, PLC0415

    if "pdf" in forms:
        # Where it is missing, printing says so.
        with suppress(ImportError, OSError):
            import weasyprint  # noqa: F401, PLC0415


def _id(one: "Compiled") -> str:
    return "" if one.method is None else one.method.id


def _place(
    one: "Compiled", made: "Sequence[Made]", footings: Mapping[str, str], site: _Site, result: Result
) -> None:
    from fillmark.digest import digest  # noqa: PLC0415 - only papers that are made need it

    method = one.method
    if method is None:
        return
    files = {name: content for part in made for name, content in part.files.items()}
    no_pdf = [part.no_pdf for part in made if part.no_pdf is not None]
    result.problems.extend(why for why in dict.fromkeys(no_pdf) if why not in result.problems)
    if not files:
        return
    source = site.source(one.file)
    before: Mapping[str, str] = site.register.get(source, {}).get("files") or {}
    result.withdrawn.extend(f"{method.id}/{name}" for name in before if name not in files)
    entry = {
        "id": method.id,
        "digest": digest(method),
        "made_with": __version__,
        "rests_on": None if no_pdf else footings.get(one.file),
        "files": {name: hashlib.sha256(content).hexdigest() for name, content in files.items()},
    }
    try:
        # Noted before the papers stand, so that no paper ever stands without its source being known.
        note(site.out, site.register, source, entry)
        result.written.extend(place(site.out, method.id, files, before.values()))
        stand(site.out, entry, site.seen)
    except OSError as error:
        result.problems.append(f"{site.out / method.id} cannot be written: {error.strerror}.")


class _Silent:
    def advance(self, name: str) -> None:
        """Say nothing."""


@contextmanager
def _bar(total: int, *, shown: bool) -> Iterator[_Bar]:
    """Show a progress bar on the terminal, or nothing."""
    if not shown:
        yield _Silent()
        return
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    # No thread draws it: processes are split off while it is shown.
    with Progress(console=Console(file=sys.stderr), transient=True, auto_refresh=False) as progress:
        task = progress.add_task("building", total=total)

        class Shown:
            def advance(self, name: str) -> None:
                progress.update(task, advance=1, description=f"building {name}", refresh=True)

        yield Shown()
