"""Records, results, logs, study data, bundles and registers from people who mean harm, through the real command."""

import io
import json
import os
import zipfile
from functools import cache
from pathlib import Path

import pytest

from fillmark.releases.register import register_file

pytestmark = pytest.mark.slow

CLEAN, FINDINGS, USAGE = 0, 1, 2
METHOD = "methods/MCW-VIS-014.yaml"

JUNK = {
    "empty": b"",
    "nulls": bytes(3000),
    "brackets without end": b"[" * 100_000,
    "objects without end": b'{"a":' * 100_000,
    "number without end": b"9" * 5000,
    "not a number": b'{"a": NaN, "b": Infinity, "c": 1e999}',
    "UTF-16": "a,b\n1,2\n".encode("utf-16"),
    "latin-1": b"\xe9,\xff\n",
    "half a pair": b'{"a": "\\ud800"}',
    "mark alone": b"\xef\xbb\xbf{}",
    "list": b"[1, 2, 3]",
    "text": b'"x"',
    "nothing": b"null",
    "object": b"{}",
    "quote never closed": b'"a\nb',
    "many columns": b"a," * 50_000 + b"\n",
    "many rows": b"a,b\n" + b"1,2\n" * 100_000,
    "long cell": b"a,b\n" + b"x" * 300_000 + b",1\n",
    "escape": b"\x1b[31m,b\n1,2\n",
    "escape, spelt": b'{"\\u001b[31m": "\\u202e"}',
    "right to left": "\u202ea,b\n1,2\n".encode(),
    "archive that is none": b"PK\x03\x04" + bytes(50),
    "picture": b"\x89PNG\r\n\x1a\n" + bytes(50),
    "two values": b'{"a": 1, "a": 2}',
    "aliases": b"a: &a [x]\nb: *a\n",
    "old line ends": b"a\rb\r1,2\r",
}


def archive(*members: tuple[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in members:
            made.writestr(name, content)
    return out.getvalue()


@cache
def archives() -> dict[str, bytes]:
    """Make the wicked archives; those that unpack to a hundred megabytes take a moment."""
    bomb = bytes(100_000_000)
    entities = (
        b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">'
        b'<!ENTITY c SYSTEM "file:///etc/hostname">]><workbook>&b;&c;</workbook>'
    )
    types = ("[Content_Types].xml", b"<Types/>")
    return {
        "empty": archive(),
        "way out": archive(("../../../escaped.txt", b"x"), ("manifest.json", b"{}")),
        "absolute": archive(("/escaped.txt", b"x"), ("manifest.json", b"{}")),
        "drive": archive(("C:\\escaped.txt", b"x"), ("manifest.json", b"{}")),
        "bomb": archive(("manifest.json", bomb)),
        "bomb in a method": archive(("manifest.json", b"{}"), ("method.yaml", bomb)),
        "bomb in a worksheet": archive(types, ("xl/workbook.xml", bomb), ("xl/worksheets/sheet1.xml", bomb)),
        "entities": archive(types, ("xl/workbook.xml", entities)),
        "ten thousand members": archive(*((f"documents/{n}.html", b"") for n in range(10_000))),
        "deep manifest": archive(("manifest.json", b"[" * 100_000)),
        "name that steers": archive(("\x1b[31m.json", b"{}"), ("\u202e.yaml", b"")),
        "torn": archive(("manifest.json", b"{}"))[:-10],
    }


READING = {
    "assess": ["assess", METHOD, "{}"],
    "evaluate": ["evaluate", "{}", "--out", "results"],
    "packs": ["packs", METHOD, "{}", "--out", "packs"],
    "study precision": ["study", "precision", "{}", METHOD, "--write"],
    "study temperature": ["study", "temperature", "{}"],
    "trend": ["trend", "{}"],
    "verification-log": ["verification-log", "{}", "methods"],
}
SUFFIXES = (".json", ".csv", ".xlsx", ".jsonl", ".txt")


@pytest.fixture
def names_of(lab):
    """Lay hostile files down in the laboratory, each under some suffixes; gives their names."""

    def lay(contents: dict[str, bytes], *suffixes: str) -> list[str]:
        (lab / "bad").mkdir(exist_ok=True)
        names = []
        for number, content in enumerate(contents.values()):
            for suffix in suffixes:
                names.append(f"bad/{number}{suffix}")
                (lab / names[-1]).write_bytes(content)
        return names

    return lay


def outside(lab: Path) -> set[Path]:
    return {p for p in lab.parent.iterdir() if p != lab} | set(Path("/").glob("escaped*"))


@pytest.mark.parametrize("command", READING)
def test_a_hostile_file_is_refused_in_few_words(lab, run_many, names_of, command):
    before = (lab / METHOD).read_bytes()
    names = names_of(JUNK, *SUFFIXES) + names_of(archives(), ".xlsx", ".zip")
    lines = [[part.replace("{}", name) for part in READING[command]] for name in names]
    beside = outside(lab)
    for name, done in zip(names, run_many(lines, cwd=lab), strict=True):
        assert FINDINGS <= done.code <= USAGE or command == "trend", (name, done.said)
        assert len(done.said) < 700_000, name
    assert before == (lab / METHOD).read_bytes()
    assert beside == outside(lab)


@pytest.mark.parametrize("line", [["verify", "{}"], ["compare", "{}", METHOD], ["compare", METHOD, "{}"]])
def test_a_hostile_bundle_is_refused_and_unpacked_nowhere(lab, run_many, names_of, line):
    names = names_of({**JUNK, **archives()}, ".zip")
    beside = outside(lab)
    runs = run_many([[part.replace("{}", name) for part in line] for name in names], cwd=lab)
    for name, done in zip(names, runs, strict=True):
        assert done.code in (FINDINGS, USAGE), (name, done.said)
    assert beside == outside(lab)
    assert not list(lab.rglob("escaped*"))


def pipe(at: Path) -> None:
    os.mkfifo(at)


def endless(at: Path) -> None:
    at.symlink_to("/dev/zero")


def huge(at: Path) -> None:
    with at.open("wb") as file:
        file.truncate(2**36)


def folder(at: Path) -> None:
    at.mkdir()


ODD = {"pipe": pipe, "endless": endless, "huge": huge, "folder": folder}
no_pipes = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")


@no_pipes
@pytest.mark.parametrize("kind", ODD)
@pytest.mark.parametrize("command", [*READING, "verify", "form"])
def test_what_is_no_ordinary_file_or_without_end_holds_no_command(lab, run, command, kind):
    """The large one has 64 GiB of holes: it takes no room on the disk and would never fit in the memory."""
    suffix = {"evaluate": ".json", "verify": ".zip", "form": ".yaml", "trend": ".json"}.get(command, ".csv")
    ODD[kind](lab / f"odd{suffix}")
    lines = {**READING, "verify": ["verify", "{}"], "form": ["form", "scouting", "{}"]}
    limited = ("bash", "-c", 'ulimit -v 6000000; exec "$@"', "limited")
    done = run(*(part.replace("{}", f"odd{suffix}") for part in lines[command]), cwd=lab, before=limited)
    if kind != "folder":  # several commands take a folder, and find nothing in it
        assert done.code in (FINDINGS, USAGE), done.said


# --- the register

TELLING = [
    ["issue", "MCW-VIS-014", "--to", "Bench 1", "--by", "A. Osei"],
    ["issue", "MCW-VIS-014", "--list"],
    [
        "recall",
        "MCW-VIS-014",
        "--revision",
        "3",
        "--whole",
        "--by",
        "A. Osei",
        "--reason",
        "A reason is here.",
    ],
    ["levels"],
    ["library", "methods", "--out", "index"],
    ["compare", "MCW-VIS-014", METHOD],
    ["verify"],
    ["release", METHOD, "--by", "H. Marlow", "--html-only"],
    ["build", "--format", "html", "--document", "dossier"],
]
LINE = {
    "kind": "release", "at": "2026-12-01T10:00:00Z", "by": "x", "id": "../../x", "revision": 3, "previous": "0" * 64,
    "sha256": "0" * 64, "digest": "0" * 64, "bundle": "../../escaped/MCW-VIS-014-r3.zip",
}  # fmt: skip
REGISTERS = {
    **JUNK,
    "way out": json.dumps(LINE).encode() + b"\n",
    "way out by the id alone": json.dumps({**LINE, "bundle": "MCW-VIS-014/MCW-VIS-014-r3.zip"}).encode()
    + b"\n",
    "line without end": b'{"kind": "' + b"x" * 2_000_000,
}


@pytest.mark.parametrize("line", TELLING, ids=lambda line: " ".join(line[:2]))
def test_a_register_that_was_tampered_with_is_never_added_to_and_never_believed(lab, run_many, line):
    """The bytes stay as they are for whoever looks into it, and nothing is issued, released or called back."""
    file = register_file(lab)
    file.parent.mkdir(parents=True, exist_ok=True)
    for name, junk in REGISTERS.items():
        if not junk.strip():
            continue  # that is a register in which nothing stands yet
        for other in file.parent.iterdir():
            if other.is_file():
                other.unlink()
        # A line that ends is no line torn by a power cut, which the next to be added would take the place of.
        content = junk.rstrip(b"\n") + b"\n"
        file.write_bytes(content)
        beside = outside(lab)
        (done,) = run_many([line], cwd=lab)
        assert done.code in (FINDINGS, USAGE), (name, done.said)
        assert content == file.read_bytes(), name
        assert beside == outside(lab)
        assert not list((lab / "released").rglob("*.zip")), name


@no_pipes
@pytest.mark.parametrize("kind", ["pipe", "endless", "folder"])
def test_a_register_that_is_no_ordinary_file_holds_no_command(lab, run_many, kind):
    file = register_file(lab)
    file.parent.mkdir(parents=True, exist_ok=True)
    ODD[kind](file)
    for line, done in zip(TELLING, run_many(TELLING, cwd=lab), strict=True):
        assert USAGE == done.code, (line, done.said)
