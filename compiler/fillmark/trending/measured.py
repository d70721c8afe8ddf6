"""Results of many records, as `fillmark evaluate` wrote them: read one by one, little of each kept.

JSON Lines, a JSON file (one result or an array) or a folder of both. Whatever cannot be used is named with its
place and counted: a broken line, a result without a time, one that comes twice. Nothing is dropped in silence.
"""

import json
import os
import re
import stat
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.files import shown, unreadable
from fillmark.read import LARGEST, unseen_in

CODES: dict[str, tuple[str, str]] = {
    "TRD01": (
        "result-unreadable",
        "A line or file of results that is no result as fillmark evaluate writes it; it is left out and counted.",
    ),
    "TRD02": ("result-twice", "The same result of the same record again; it counts once."),
    "TRD03": (
        "record-changed",
        "One record, by file and name, with two contents: changed between two evaluations, and both in the results.",
    ),
    "TRD04": (
        "times-with-and-without-zone",
        "Some times bear an offset from UTC and some do not; results less than a day apart may be in a wrong order.",
    ),
    "TRD07": (
        "record-without-a-result",
        "An evaluated record with no line of results, for its method was not found or nothing could be worked out.",
    ),
}

SUFFIXES = (".json", ".jsonl", ".ndjson")
LARGEST_FILE = 256 * LARGEST
"""Bytes of the largest file that is read in one piece; JSON Lines are read line by line and have no limit."""
NAMED = 200
"""Broken results of one file that are each named; those beyond are counted with their lines."""
BEYOND = 1e12
"""No viscosity, torque or temperature is larger, whatever its unit: a project decision."""
EARLIEST, LATEST = datetime(1970, 1, 1, tzinfo=UTC), datetime(2200, 1, 1, tzinfo=UTC)
"""Between these lies every measurement: a project decision, so that a slip of the pen does not stretch a chart."""


_BLANK = re.compile(r"[ \t\r\n]*")


class Setup(NamedTuple):
    """What a result was measured with, as written; empty where nothing was."""

    revision: str
    digest: str
    instrument: str
    spring: str
    spindle: str
    guard: str
    container: str


class Limits(NamedTuple):
    """Limits of a specification, in the unit of the result."""

    lower: float | None
    upper: float | None
    target: float | None


class Measured(NamedTuple):
    """One result of one record."""

    file: str
    line: int
    """Line of the file the result begins on, from 1."""
    record: str
    method: str
    setup: Setup
    lot: str
    sample: str
    analyst: str
    at: float
    """Seconds since 1970 in UTC; a time without an offset is taken as UTC."""
    written: str
    """The time as written."""
    name: str
    value: float | None
    """None for a bound, and where there is none."""
    bound: str
    """`<`, `>` or nothing."""
    edge: float | None
    """Value of the bound."""
    unit: str
    reported: str
    verdict: str
    limits: Limits
    torque: float | None
    """Mean torque of what went in (%); of a bound, of its readings."""
    temperature: float | None
    """Mean temperature in the sample (°C)."""
    stands: bool


@dataclass(slots=True)
class Collection:
    """What was found in all that was named."""

    measured: list[Measured] = field(default_factory=list)
    """In the order of the files."""
    diagnostics: list[Diagnostic] = field(default_factory=list)
    titles: dict[str, tuple[str, str, bool]] = field(default_factory=dict)
    """Method -> title, product, whether it is a demonstration; as the last result says."""
    results: int = 0
    """Results taken in."""
    broken: int = 0
    twice: int = 0
    hollow: int = 0
    """Those of them without a line of results."""
    other: int = 0
    """Results of methods that were not asked for."""
    files: int = 0
    zoned: int = 0
    unzoned: int = 0
    findings: Counter[tuple[str, str, str, str]] = field(default_factory=Counter)
    """(method, code, slug, severity) -> how many results it was found in."""
    corrections: Counter[tuple[str, str, str]] = field(default_factory=Counter)
    """(method, entry, reason code) -> how many."""


class _MisfitError(ValueError):
    """What is wrong with a result, for a reader."""


def collect(paths: Iterable[Path], *, method: str | None = None) -> Collection:
    """Read all results that paths name: files, and folders with all JSON below them.

    `method` keeps those of one method. Nothing is raised for what a file holds; a file or folder that cannot be
    opened brings the diagnostic FIL01.
    """
    whole = Collection()
    seen: set[tuple[str, str, str]] = set()
    contents: dict[tuple[str, str, str], str] = {}
    setups: dict[tuple[Any, ...], Setup] = {}
    for file in _files(paths, whole):
        whole.files += 1
        name = shown(str(file))
        bad: list[tuple[int, str]] = []
        try:
            with _opened(file) as opened:
                for line, raw, why in _results(opened, file.suffix.lower()):
                    if why:
                        bad.append((line, why))
                        continue
                    try:
                        _take(raw, name, line, whole, method, (seen, contents, setups))
                    except _MisfitError as error:
                        bad.append((line, str(error)))
        except OSError as error:
            whole.diagnostics.append(unreadable(file, error))
        whole.broken += len(bad)
        whole.diagnostics += _broken(name, bad)
    if whole.zoned and whole.unzoned:
        whole.diagnostics.append(_zones(whole))
    return whole


def _files(paths: Iterable[Path], whole: Collection) -> Iterator[Path]:
    """List the files that paths name, each once, by the order of their names."""
    known: set[str] = set()

    def refuse(error: OSError) -> None:
        whole.diagnostics.append(unreadable(Path(str(error.filename)), error))

    for path in paths:
        found = [path]
        if path.is_dir():
            found = [
                Path(where, name)
                for where, _, names in os.walk(path, onerror=refuse)
                for name in names
                if name.lower().endswith(SUFFIXES) and not name.startswith(".")
            ]
        for file in sorted(found):
            address = os.path.realpath(file)
            if address not in known:
                known.add(address)
                yield file


@contextmanager
def _opened(file: Path) -> Iterator[BinaryIO]:
    """Open an ordinary file; OSError for anything else, and for a name that cannot be shown."""
    if unseen_in(str(file)):
        raise OSError(0, "its name holds signs that cannot be shown; rename it", str(file))
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(file, flags), "rb") as opened:
        if not stat.S_ISREG(os.fstat(opened.fileno()).st_mode):
            raise OSError(0, "it is no ordinary file but a folder, a pipe or a device", str(file))
        yield opened


def _results(opened: BinaryIO, suffix: str) -> Iterator[tuple[int, Any, str]]:
    """Give line or number, plain data and, where there is none, why not."""
    if suffix == ".json":
        yield from _of_array(opened)
        return
    line = 0
    while raw := opened.readline(LARGEST + 1):
        line += 1
        if len(raw) > LARGEST:
            while raw and not raw.endswith(b"\n"):
                raw = opened.readline(LARGEST)
            yield line, None, f"the line is longer than {LARGEST} bytes (1 MiB)"
        elif raw.strip(b" \t\r\n\xef\xbb\xbf"):
            data, why = _parsed(raw)
            yield line, data, why


def _of_array(opened: BinaryIO) -> Iterator[tuple[int, Any, str]]:
    """Give the results of one JSON text with the lines they begin on; after a fault nothing can be told apart."""
    raw = opened.read(LARGEST_FILE + 1)
    if len(raw) > LARGEST_FILE:
        yield (
            1,
            None,
            f"the file is larger than {LARGEST_FILE // LARGEST} MiB; write it as JSON Lines (.jsonl)",
        )
        return
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        yield 1, None, "the file is not UTF-8"
        return
    start = _BLANK.match(text)
    at = start.end() if start else 0
    if text[at : at + 1] != "[":
        data, why = _parsed(text)
        yield 1 + text.count("\n", 0, at), data, why
        return
    decoder, line, counted, end = json.JSONDecoder(), 1, 0, text.rstrip(" \t\r\n")
    if end[at + 1 :].strip(" \t\r\n") == "]":
        return
    while True:
        blank = _BLANK.match(text, at + 1)
        at = blank.end() if blank else at + 1
        line, counted = line + text.count("\n", counted, at), at
        try:
            one, at = decoder.raw_decode(text, at)
        except (ValueError, RecursionError) as error:
            why = (
                "it is nested too deeply" if isinstance(error, RecursionError) else f"it is no JSON ({error})"
            )
            yield line, None, f"{why}; what follows it in the file is left out too"
            return
        yield line, one, ""
        blank = _BLANK.match(text, at)
        at = blank.end() if blank else at
        if text[at : at + 1] != ",":
            if at + 1 != len(end) or end[at:] != "]":
                line += text.count("\n", counted, at)
                yield (
                    line,
                    None,
                    "the array does not go on with a comma or end with ]; the rest of the file is left out",
                )
            return


def _parsed(raw: bytes | str) -> tuple[Any, str]:
    try:
        return json.loads(raw), ""
    except UnicodeDecodeError:
        return None, "it is not UTF-8"
    except RecursionError:
        return None, "it is nested too deeply"
    except ValueError as error:
        return None, f"it is no JSON ({error})"


def _take(
    raw: Any,
    file: str,
    line: int,
    whole: Collection,
    wanted: str | None,
    known: tuple[set[tuple[str, str, str]], dict[tuple[str, str, str], str], dict[tuple[Any, ...], Setup]],
) -> None:
    """Keep what is needed of one result; _MisfitError where it is none."""
    if not isinstance(raw, dict):
        raise _MisfitError("it is no object with keys")
    if raw.get("result") != 1 or isinstance(raw["result"], bool):
        raise _MisfitError("its key `result`, the version of the format, is not 1")
    seen, contents, setups = known
    method = _part(raw, "method")
    key = _text(method, "id", "method")
    if not key:
        raise _MisfitError("it names no method (method.id)")
    if wanted is not None and key != wanted:
        whole.other += 1
        return
    record, sample = _part(raw, "record"), _part(raw, "sample")
    at, zoned = _moment(_text(sample, "measured", "sample"))
    setup = _setup(method, raw.get("equipment"), setups)
    stands = raw.get("stands")
    if not isinstance(stands, bool):
        raise _MisfitError("`stands` is neither true nor false")
    origin, name, sha = (_text(record, k, "record") for k in ("file", "name", "sha256"))
    people = raw.get("people")
    analyst = _text(people, "analyst", "people") if isinstance(people, dict) else ""
    lines = raw.get("results")
    if not isinstance(lines, list):
        raise _MisfitError("`results` is no list")
    read = [_line(one, raw.get("readings")) for one in lines]  # all of a result or nothing
    found, corrected = _findings(raw.get("findings")), _corrections(raw.get("entries"))
    if (key, sha, name) in seen:
        whole.twice += 1
        _say(
            whole, "TRD02", Severity.WARNING, file, line,
            f"The record {name or 'without a name'} (of {origin or 'an unknown file'}) comes again; it counts once.",
            "Leave one of the two files out.", "Or give each record a name of its own where they are two.",
        )  # fmt: skip
        return
    seen.add((key, sha, name))
    before = contents.setdefault((key, origin, name), sha)
    if before != sha:
        _say(
            whole, "TRD03", Severity.ERROR, file, line,
            f"The record {name or 'without a name'} of {origin or 'an unknown file'} stands here with another content "
            f"than before (SHA-256 {sha[:8]}, before {before[:8]}); both are in the chart, and one of them is not what "
            "was reported.",
            "Keep the evaluation that counts, and the other one with the record.",
            "Or name the record anew where it was measured a second time.",
        )  # fmt: skip
    whole.results += 1
    if not read:
        whole.hollow += 1
        _say(
            whole, "TRD07", Severity.WARNING, file, line,
            f"The record {name or 'without a name'} of {origin or 'an unknown file'} has no line of results, so "
            "it is on no chart.",
            "Look at what the evaluation found in it; its method may not have been found.",
            "Evaluate it again with --workspace or --method.",
        )  # fmt: skip
    whole.zoned, whole.unzoned = whole.zoned + zoned, whole.unzoned + (not zoned)
    whole.titles[key] = (
        _text(method, "title", "method"),
        _text(method, "product", "method"),
        method.get("demonstration") is True,
    )
    for code, slug, severity in found:
        whole.findings[key, code, slug, severity] += 1
    for entry, reason in corrected:
        whole.corrections[key, entry, reason] += 1
    head = (file, line, name, key, setup, _text(sample, "lot", "sample"), _text(sample, "number", "sample"))
    when = (analyst, at, _text(sample, "measured", "sample"))
    whole.measured += [Measured._make((*head, *when, *one, stands)) for one in read]


def _part(raw: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    part = raw.get(key)
    if not isinstance(part, dict):
        raise _MisfitError(f"`{key}` is no block of keys")
    return part


def _text(part: Mapping[str, Any], key: str, where: str) -> str:
    """Give a text, cut where it is endless; nothing for null."""
    value = part.get(key)
    if value is None:
        return ""
    if not isinstance(value, str):
        raise _MisfitError(f"{where}.{key} is no text")
    return value[:200] if value.isascii() and value.isprintable() else _shown(value[:200])


_shown = lru_cache(4096)(shown)
"""Titles and units come again with every result."""


def _number(part: Mapping[str, Any], key: str, where: str) -> float | None:
    return _real(part.get(key), f"{where}.{key}")


def _real(value: Any, where: str) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise _MisfitError(f"{where} is no number")
    if not -BEYOND <= value <= BEYOND:  # false for what is no number at all, too
        raise _MisfitError(f"{where} is beyond any bench")
    return float(value)


def _moment(text: str) -> tuple[float, bool]:
    """Give seconds since 1970 in UTC and whether the text has an offset."""
    if not text:
        raise _MisfitError("it has no time of measurement (sample.measured), so it has no place on a chart")
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        at = None
    if at is None or len(text) <= len("YYYY-MM-DD"):
        raise _MisfitError(f"sample.measured is {text}, which is no day and time (YYYY-MM-DDTHH:MM)")
    zoned = at.tzinfo is not None
    at = at if zoned else at.replace(tzinfo=UTC)
    if not EARLIEST <= at <= LATEST:
        raise _MisfitError(f"sample.measured is {text}, a year in which nobody measured this")
    return at.timestamp(), zoned


_EQUIPMENT = (
    ("instrument", ("id",)), ("instrument", ("spring",)), ("spindle", ("kind", "id")), ("guard", ("state", "id")),
    ("container", ("kind",)),
)  # fmt: skip
"""Where the identities of a `Setup` stand in the equipment of a result."""


def _setup(method: Mapping[str, Any], equipment: Any, known: dict[tuple[Any, ...], Setup]) -> Setup:
    """Give what a result was measured with; `known` remembers, for most results were measured with the same."""
    parts = equipment if isinstance(equipment, dict) else {}
    blocks = [(parts.get(key), fields) for key, fields in _EQUIPMENT]
    raw = (
        method.get("revision"), method.get("digest"),
        *(b.get(f) if isinstance(b, dict) else None for b, fields in blocks for f in fields),
    )  # fmt: skip
    try:
        found = known.get(raw)
    except TypeError:
        raise _MisfitError("equipment or method hold something that is no text") from None
    if found is None or isinstance(raw[0], (bool, float)):
        revision = raw[0]
        if revision is not None and (isinstance(revision, bool) or not isinstance(revision, int)):
            raise _MisfitError("method.revision is no whole number")
        names = [
            " ".join(
                w for f in fields if isinstance(b, dict) and (w := _plain(_text(b, f, f"equipment.{key}")))
            )
            for (key, fields), (b, _) in zip(_EQUIPMENT, blocks, strict=True)
        ]
        revision_text = "" if revision is None else str(revision)[:20]
        found = known.setdefault(raw, Setup(revision_text, _text(method, "digest", "method"), *names))
    return found


def _plain(text: str) -> str:
    """Give a name with single blanks, so that a slip of the space bar makes no other piece of it."""
    return " ".join(text.split())


def _line(one: Any, readings: Any) -> tuple[Any, ...]:
    """Give the fields of `Measured` from name to temperature."""
    if not isinstance(one, dict):
        raise _MisfitError("a line of `results` is no block of keys")
    name = _text(one, "name", "results")
    where = f"results, {name or 'without a name'}"
    kind = one.get("kind")
    if kind not in ("value", "bound", "none"):
        raise _MisfitError(f"{where}: kind is neither value, bound nor none")
    value, edge = _number(one, "value", where), _number(one, "bound_value", where)
    bound = _text(one, "bound", where)
    if (kind == "value") != (value is not None) or (kind == "bound") != (
        bound in ("<", ">") and edge is not None
    ):
        raise _MisfitError(f"{where}: it says {kind}, and value or bound do not fit that")
    limits = Limits(
        _number(one, "lower", where), _number(one, "upper", where), _number(one, "target", where)
    )  # fmt: skip
    torque = _mean(one.get("torques"), where)
    if torque is None and isinstance(readings, list):
        of_step = [r.get("torque") for r in readings if isinstance(r, dict) and r.get("step") == name]
        torque = _mean([t for t in of_step if t is not None], where)
    return (
        name, value, bound if kind == "bound" else "", edge if kind == "bound" else None, _text(one, "unit", where),
        _text(one, "reported", where), _text(one, "verdict", where), limits, torque,
        _mean(one.get("temperatures"), where),
    )  # fmt: skip


def _mean(values: Any, where: str) -> float | None:
    if not isinstance(values, list) or not values:
        return None
    known = [n for v in values if (n := _real(v, where)) is not None]
    return sum(known) / len(known) if known else None


def _findings(found: Any) -> set[tuple[str, str, str]]:
    if not found or not isinstance(found, list):
        return set()
    return {
        (_text(one, "code", "findings"), _text(one, "slug", "findings"), _text(one, "severity", "findings"))
        for one in found
        if isinstance(one, dict)
    }


def _corrections(entries: Any) -> list[tuple[str, str]]:
    """Give the entry, without numbers of replicates, and the reason code of every correction."""
    found = []
    for entry in entries if isinstance(entries, list) else ():
        if not isinstance(entry, dict) or not isinstance(entry.get("corrections"), list):
            continue
        for one in entry["corrections"]:
            if isinstance(one, dict):
                words = [w for w in _text(entry, "field", "entries").split(".") if not w.isdigit()]
                found.append((".".join(words), _text(one, "reason", "corrections")))
    return found


def _say(
    whole: Collection, code: str, severity: Severity, file: str, line: int, message: str, *ways: str
) -> None:
    """Name one thing; beyond `NAMED` of a kind it is only counted, and the last one named says so."""
    same = sum(d.code == code for d in whole.diagnostics) if len(whole.diagnostics) < 3 * NAMED else NAMED
    if same < NAMED:
        more = " More of the kind are counted, not named." if same == NAMED - 1 else ""
        whole.diagnostics.append(
            Diagnostic(code, CODES[code][0], severity, message + more, file, Span(line, 1, line, 1), (), ways)
        )


def _broken(file: str, bad: Sequence[tuple[int, str]]) -> list[Diagnostic]:
    ways = ("Evaluate the record again: fillmark evaluate.", "Or take the line out, and keep a note of it.")
    told = [
        Diagnostic(
            "TRD01", CODES["TRD01"][0], Severity.ERROR, f"This result is left out: {shown(why)}.", file,
            Span(line, 1, line, 1), (), ways,
        )
        for line, why in bad[:NAMED]
    ]  # fmt: skip
    rest = [line for line, _ in bad[NAMED:]]
    if rest:
        message = f"{len(rest)} more results are left out, at {_ranges(rest)}."
        told.append(replace(told[-1], message=message, span=Span(rest[0], 1, rest[0], 1), ways_out=ways))
    return told


def _ranges(lines: Sequence[int]) -> str:
    """Write numbers as ranges: 3-7, 9."""
    ranges: list[list[int]] = []
    for line in lines:
        if ranges and ranges[-1][1] == line - 1:
            ranges[-1][1] = line
        else:
            ranges.append([line, line])
    words = [f"{a}" if a == b else f"{a}-{b}" for a, b in ranges[:40]]
    return ", ".join(words) + (f" and {len(ranges) - 40} more stretches" if len(ranges) > 40 else "")


def _zones(whole: Collection) -> Diagnostic:
    file = whole.measured[0].file if whole.measured else ""
    return Diagnostic(
        "TRD04", CODES["TRD04"][0], Severity.WARNING,
        f"{whole.zoned} of the results give their time with an offset from UTC and {whole.unzoned} without. "
        "Those without are taken as UTC; results less than a day apart may stand in the wrong order, and run "
        "rules may speak or be silent for that reason.",
        file, Span(1, 1, 1, 1), (),
        ("Write times with their offset everywhere (2026-12-01T07:40+01:00).",
         "Or nowhere, where there is one laboratory."),
    )  # fmt: skip


def by_method(measured: Iterable[Measured]) -> dict[str, list[Measured]]:
    """Sort results by method, and within one by time; those of one time stay in the order they were read in."""
    groups: dict[str, list[Measured]] = defaultdict(list)
    for one in measured:
        groups[one.method].append(one)
    return {key: sorted(groups[key], key=lambda m: m.at) for key in sorted(groups)}
