"""The released bundle: one file that holds a method, its papers, and all it takes to judge it anew.

A zip archive of our own strict form: files stored as they are, in a fixed order, with fixed dates and no
comment or extra field. So the same content gives the same bytes on every machine, and whatever differs from
that form is refused: a bundle comes from other people. It is read in memory and never unpacked to disk.

`manifest.json` names every other file with its size and SHA-256; see `schemas/manifest.schema.json`.
"""

import hashlib
import json
import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cache
from io import BytesIO
from typing import Any

from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.digest import digest
from fillmark.model import Method, Reference
from fillmark.pipeline import Compiled, compile_method
from fillmark.read import read
from fillmark.reference import KINDS, load, load_files
from fillmark.validate import misfit

LARGEST = 64 * 1024 * 1024
"""Bytes of the largest bundle that is read: some twenty times that of a method with many papers."""
MOST = 500
"""Files of the largest bundle that is read."""
LONGEST = 150
"""Letters of the longest file name in a bundle."""
MANIFEST, METHOD, CANONICAL = "manifest.json", "method.yaml", "method-canonical.yaml"
FINDINGS, REVIEW, RULES, CHANGES = "findings.json", "review.json", "rules.json", "changes.json"
NEEDED = (METHOD, CANONICAL, FINDINGS, REVIEW, RULES)
SCHEMA = "manifest.schema.json"

CODES: dict[str, tuple[str, str]] = {
    "VFY01": (
        "not-a-bundle",
        "A file that is no released bundle, or that was cut short, added to or packed anew.",
    ),
    "VFY02": (
        "archive-unsafe",
        "An archive made otherwise than Fillmark makes one, in a way that could do harm where it is unpacked.",
    ),
    "VFY03": ("bundle-file-missing", "A file that the manifest names is not in the bundle."),
    "VFY04": ("bundle-file-added", "A file in the bundle that its manifest does not name."),
    "VFY05": ("bundle-file-altered", "A file of the bundle is not the one that the manifest names."),
    "VFY06": ("manifest-unreadable", "The manifest is not one that Fillmark writes."),
}

_NAMES = re.compile(
    r"manifest\.json|method\.yaml|method-canonical\.yaml|findings\.json|review\.json|rules\.json|changes\.json"
    r"|documents/[A-Za-z0-9][A-Za-z0-9._-]*\.(?:html|pdf)"
    r"|reference/(?:shipped|shared)/(?:" + "|".join(KINDS) + r")\.yaml"
)
_LOCAL = struct.Struct("<4s5H3I2H")
_CENTRAL = struct.Struct("<4s6H3I5H2I")
_FILE_MODE = (stat.S_IFREG | 0o644) << 16
_FIRST_DAY = (1980, 1, 1, 0, 0, 0)  # the first that the format knows: the moment stands in the manifest

Members = Mapping[str, bytes]
"""Name in the bundle -> content."""


@dataclass(frozen=True, slots=True)
class Bundle:
    """A bundle that could be read."""

    name: str
    """The file as it is called in messages."""
    members: Members
    manifest: Mapping[str, Any]
    sha256: str
    size: int

    @property
    def id(self) -> str:
        """The method."""
        return str(self.manifest["id"])

    @property
    def revision(self) -> int:
        """The revision that was released."""
        return int(self.manifest["revision"])

    @property
    def day(self) -> date:
        """The day of the release, by which it was judged."""
        return date.fromisoformat(self.manifest["released"]["at"][:10])


def stem(method_id: str, revision: int) -> str:
    """Name a released revision: MCW-VIS-014-r3."""
    return f"{method_id}-r{revision}"


def sha256(data: bytes) -> str:
    """Give the SHA-256 of bytes as 64 hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def json_bytes(data: Any) -> bytes:
    """Write plain data as the JSON of a bundle: keys in order, one form for one content."""
    return (json.dumps(data, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False) + "\n").encode()


# --- canonical YAML


def canonical_yaml(data: Mapping[str, Any]) -> str:
    """Write plain data as YAML in one form only: keys in order, every text in double quotes.

    It reads back as the same data, whatever the texts look like.
    """
    return "".join(f"{line}\n" for line in _mapping(data, ""))


def _mapping(data: Mapping[str, Any], indent: str) -> Iterator[str]:
    for key in sorted(data):
        yield from _item(f"{indent}{_scalar(key)}:", data[key], f"{indent}  ")


def _item(lead: str, value: Any, indent: str) -> Iterator[str]:
    if isinstance(value, Mapping) and value:
        yield lead
        yield from _mapping(value, indent)
    elif isinstance(value, (list, tuple)) and value:
        yield lead
        for entry in value:
            yield from _item(f"{indent}-", entry, f"{indent}  ")
    else:
        yield f"{lead} {_scalar(value)}"


def _scalar(value: Any) -> str:
    if isinstance(value, (Mapping, list, tuple)):
        return "{}" if isinstance(value, Mapping) else "[]"
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


# --- the archive


def pack(members: Members) -> bytes:
    """Pack files into a bundle: the manifest first, the others by name."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for name in sorted(members, key=lambda n: (n != MANIFEST, n)):
            info = zipfile.ZipInfo(name, _FIRST_DAY)
            info.create_system = 3  # else it tells on which system it was made
            info.external_attr = _FILE_MODE
            archive.writestr(info, members[name])
    return out.getvalue()


class _NotOursError(ValueError):
    """What is wrong with an archive: a code of `CODES` and a message."""

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code = code


def unpack(data: bytes) -> tuple[dict[str, bytes], list[str]]:
    """Read the files of a bundle, and name those whose content does not fit its checksum.

    Raises an error with `code` and message for anything but an archive as `pack` makes it.
    """
    if len(data) > LARGEST:
        raise _NotOursError("VFY01", f"It is larger than {LARGEST} bytes, which no bundle is.")
    members: dict[str, bytes] = {}
    damaged: list[str] = []
    at = 0
    while data[at : at + 4] == b"PK\x03\x04":
        name, content, checksum, at = _member(data, at)
        if name in members:
            raise _NotOursError(
                "VFY02", f"It holds {name} twice; which of the two counts depends on who reads it."
            )
        members[name] = content
        if zlib.crc32(content) != checksum:
            damaged.append(name)
        if len(members) > MOST:
            raise _NotOursError("VFY02", f"It holds more than {MOST} files, which no bundle does.")
    if not members:
        raise _NotOursError("VFY01", "It does not begin as a zip archive does.")
    by_case: dict[str, str] = {}
    for name in members:
        other = by_case.setdefault(name.casefold(), name)
        if other != name:
            raise _NotOursError("VFY02", f"It holds {other} and {name}, which are one file on some disks.")
    _refuse_strange_list(data, at, list(members))
    if not damaged and pack(members) != data:
        raise _NotOursError(
            "VFY01",
            "Its files can be read, but the archive around them was made by something else: order, dates, or something "
            "before, between or behind them.",
        )
    return members, damaged


def _member(data: bytes, at: int) -> tuple[str, bytes, int, int]:
    """Read one file of the archive: name, content, checksum, and where the next begins."""
    if at + _LOCAL.size > len(data):
        raise _NotOursError(
            "VFY01", f"It ends in the middle of an entry, after {len(data)} bytes: it was cut short."
        )
    _, version, flags, packing, _, _, checksum, packed, size, length, extra = _LOCAL.unpack_from(data, at)
    start = at + _LOCAL.size + length
    name = _name(data[at + _LOCAL.size : start])
    if flags & 1:
        raise _NotOursError("VFY02", f"{name} is encrypted; nobody can see what it is.")
    if packing != zipfile.ZIP_STORED or packed != size:
        raise _NotOursError(
            "VFY02", f"{name} is compressed; a few bytes could become more than a machine can hold."
        )
    if extra or version > 20 or size >= 0xFFFFFFFF:
        raise _NotOursError("VFY02", f"{name} bears fields beyond the plain form (of zip64 or others).")
    if flags:
        raise _NotOursError("VFY02", f"{name} bears marks that Fillmark does not set ({flags:#06x}).")
    if start + size > len(data):
        raise _NotOursError(
            "VFY01", f"{name} should have {size} bytes and has {len(data) - start}: the bundle was cut short."
        )
    return name, data[start : start + size], checksum, start + size


def _name(written: bytes) -> str:
    """Give the name of a file in the bundle; refuse any that a bundle does not hold."""
    name = written[:LONGEST].decode("ascii", "backslashreplace")
    parts = re.split(r"[/\\]", name)
    if ".." in parts or name[:1] in ("/", "\\") or re.match(r"[A-Za-z]:", name):
        raise _NotOursError("VFY02", f"The name {name!r} leads out of the folder it would be unpacked in.")
    if len(written) > LONGEST or not _NAMES.fullmatch(name):
        raise _NotOursError("VFY02", f"The name {name!r} is not one of a file of a bundle.")
    return name


def _refuse_strange_list(data: bytes, at: int, names: Sequence[str]) -> None:
    """Look through the list at the end of the archive, which other programs go by."""
    for name in names:
        if at + _CENTRAL.size > len(data):
            raise _NotOursError("VFY01", "The list of its files is not complete: the bundle was cut short.")
        mark, *rest = _CENTRAL.unpack_from(data, at)
        length, extra, comment, attributes = rest[9], rest[10], rest[11], rest[14]
        if mark != b"PK\x01\x02":
            raise _NotOursError("VFY01", "The list of its files does not name all that is in it.")
        if at + _CENTRAL.size + length + extra + comment > len(data):
            raise _NotOursError("VFY01", "The list of its files is not complete: the bundle was cut short.")
        listed = data[at + _CENTRAL.size : at + _CENTRAL.size + length].decode("ascii", "backslashreplace")
        if stat.S_ISLNK(attributes >> 16):
            raise _NotOursError("VFY02", f"{listed} is a link to a place outside the bundle.")
        if listed != name:
            raise _NotOursError(
                "VFY02", f"One file is called {name!r} at its place and {listed!r} in the list."
            )
        at += _CENTRAL.size + length + extra + comment


# --- reading a bundle


def _fault(code: str, name: str, message: str, *ways: str) -> Diagnostic:
    return Diagnostic(
        code, CODES[code][0], Severity.ERROR, message, name, Span(1, 1, 1, 1),
        ways_out=ways or (
            "Take the bundle from the folder in which it was released, or from a copy made there.",
            "Or set this file aside as evidence, and ask who had it in hands.",
        ),
    )  # fmt: skip


def open_bundle(data: bytes, name: str) -> tuple[Bundle | None, list[Diagnostic]]:
    """Read a bundle and compare it with its own manifest; `name` is what it is called in messages.

    Gives None where not even the manifest could be read. What is missing, added or altered is named.
    """
    try:
        members, damaged = unpack(data)
    except _NotOursError as error:
        return None, [_fault(error.code, name, f"{name}: {error}")]
    manifest = f"{MANIFEST} does not fit its checksum." if MANIFEST in damaged else _manifest(members)
    if isinstance(manifest, str):
        return None, [_fault("VFY06", name, f"{name}: {manifest}")]
    bundle = Bundle(name, members, manifest, sha256(data), len(data))
    return bundle, list(_against_manifest(bundle, damaged))


def _manifest(members: Members) -> dict[str, Any] | str:
    """Read the manifest; a text says why it cannot be."""
    if MANIFEST not in members:
        return f"it holds no {MANIFEST}."
    try:
        manifest = json.loads(members[MANIFEST])
        as_written = json_bytes(manifest)
    except (ValueError, RecursionError):
        return f"{MANIFEST} is no JSON."
    fault = misfit(manifest, SCHEMA)
    if fault is not None:
        return f"{MANIFEST} is not one that Fillmark writes: {fault[:300]}."
    if as_written != members[MANIFEST]:
        return f"{MANIFEST} is not in the form in which Fillmark writes it."
    try:
        datetime.fromisoformat(manifest["released"]["at"])
    except ValueError:
        return f"{MANIFEST} tells of a day that is not in the calendar."
    listed = [f["name"] for f in manifest["files"]]
    if len(set(listed)) != len(listed):
        return f"{MANIFEST} names a file twice."
    read: dict[str, Any] = manifest
    return read


def _against_manifest(bundle: Bundle, damaged: Sequence[str]) -> Iterator[Diagnostic]:
    listed = {f["name"]: f for f in bundle.manifest["files"]}
    held = {name: content for name, content in bundle.members.items() if name != MANIFEST}
    needed = (*NEEDED, *(f"reference/shipped/{kind}.yaml" for kind in KINDS))
    for name in dict.fromkeys((*listed, *needed)):
        if name not in held:
            yield _fault("VFY03", bundle.name, f"{bundle.name} lacks {name}, which belongs in it.")
    for name, content in held.items():
        if name not in listed:
            yield _fault(
                "VFY04", bundle.name,
                f"{bundle.name} holds {name} ({len(content)} bytes), which was not in it when it was released.",
            )  # fmt: skip
            continue
        found, size = sha256(content), len(content)
        if name in damaged or found != listed[name]["sha256"] or size != listed[name]["size"]:
            yield _fault(
                "VFY05", bundle.name,
                f"{name} in {bundle.name} is not what was released: {size} bytes with SHA-256 {found[:16]}..., where "
                f"{listed[name]['size']} bytes with {listed[name]['sha256'][:16]}... were released.",
            )  # fmt: skip


def reference_of(bundle: Bundle) -> tuple[Reference | None, list[Diagnostic]]:
    """Load the reference data that a bundle was released with.

    Thresholds that today's rules ask for and the bundle does not have are today's.
    """
    files = {
        name.removeprefix("reference/"): content
        for name, content in bundle.members.items()
        if name.startswith("reference/")
    }
    shipped, found = _shipped()
    return (None, found) if shipped is None else load_files(files, completed_by=shipped)


_shipped = cache(load)


def digest_of(bundle: Bundle, method: Method) -> str:
    """Give the digest of a method by the site policy exactly as the bundle has it."""
    entries: dict[str, Any] = {}
    for layer in ("shipped", "shared"):
        name = f"reference/{layer}/policy.yaml"
        source = read(bundle.members.get(name, b""), name).source
        if source is not None and isinstance(source.data, dict):
            entries |= source.data
    texts = {key: str(entry["value"]) for key, entry in entries.items() if key != "version"}
    policy = replace(method.reference.policy, version=str(entries.get("version", "")), texts=texts)
    return digest(replace(method, reference=replace(method.reference, policy=policy)))


def compile_bundle(bundle: Bundle, *, name: str = METHOD) -> Compiled:
    """Compile the method of a bundle with its own reference data, by the day of its release.

    `name` is what the method is called in findings. What is wrong with the reference data is among the
    findings; then there is no method.
    """
    reference, found = reference_of(bundle)
    if reference is None:
        return Compiled(name, tuple(found))
    return compile_method(bundle.members[METHOD], name, reference, today=bundle.day)
