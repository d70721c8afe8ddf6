"""The releases there were: found in the register, opened, and compared with what a method has become."""

import hashlib
import re
from pathlib import Path

from fillmark.compare import MEANINGS, Comparison, compare
from fillmark.compared import figure_rows, history_rows, rows
from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.documents.dossier import Since
from fillmark.files import read_at_most
from fillmark.pipeline import Compiled
from fillmark.releases import bundle
from fillmark.releases.bundle import Bundle, compile_bundle, open_bundle, stem
from fillmark.releases.register import FOLDER, Entry, Register, read

CODES: dict[str, tuple[str, str]] = {
    "VFY07": ("bundle-gone", "The register tells of a release whose bundle is not in its place."),
    "VFY08": (
        "bundle-not-registered",
        "A bundle of which the register tells nothing: it is not released here.",
    ),
    "VFY09": ("bundle-not-the-registered", "A bundle that is another than the register tells of."),
}

_NAMED = re.compile(r"(?P<id>.+?)-r(?P<revision>[0-9]{1,9})")


def find(register: Register, name: str) -> Entry | None:
    """Find a release by `MCW-VIS-014-r3`, or the last one of a method by `MCW-VIS-014`."""
    named = _NAMED.fullmatch(name)
    if named is not None:
        for entry in register.releases(named["id"]):
            if entry.data["revision"] == int(named["revision"]):
                return entry
    releases = register.releases(name)
    return releases[-1] if releases else None


def bundle_file(workspace: Path, entry: Entry) -> Path:
    """Give the place of the bundle that a release tells of."""
    return workspace / FOLDER / str(entry.data["bundle"])


def fault(code: str, severity: Severity, name: str, message: str, *ways: str) -> Diagnostic:
    """Say what is wrong with a bundle as a whole."""
    return Diagnostic(code, CODES[code][0], severity, message, name, Span(1, 1, 1, 1), ways_out=ways)


def read_entry(workspace: Path, entry: Entry) -> tuple[bytes, list[Diagnostic]]:
    """Read the bundle a release tells of, and see that it is that one; no bytes where it is not there."""
    file = bundle_file(workspace, entry)
    name = stem(entry.data["id"], entry.data["revision"])
    try:
        data = read_at_most(file, bundle.LARGEST)
    except OSError as error:
        message = (
            f"{name} was released on {entry.at[:10]} by {entry.by}, and its bundle cannot be read at {file}: "
            f"{error.strerror}. What was approved cannot be shown."
        )
        ways = (
            f"Put it back from a copy; the right one has SHA-256 {entry.data['sha256']}.",
            "Or, if no copy is left, release the method anew under the next revision of another id, and say why.",
        )
        return b"", [fault("VFY07", Severity.ERROR, str(file), message, *ways)]
    return data, against_register(data, str(file), entry)


def against_register(data: bytes, name: str, entry: Entry) -> list[Diagnostic]:
    """Compare the bytes of a bundle with the line of its release."""
    found = hashlib.sha256(data).hexdigest()
    if found == entry.data["sha256"]:
        return []
    message = (
        f"{name} has SHA-256 {found[:16]}... and {len(data)} bytes; what {entry.by} released on {entry.at[:10]} as "
        f"{stem(entry.data['id'], entry.data['revision'])} has {entry.data['sha256'][:16]}... and "
        f"{entry.data['size']} bytes (line {entry.line} of the register). It is not what was approved."
    )
    ways = (
        "Put back the bundle from a copy made when it was released.",
        "Or set this file aside as evidence, and call back what was printed from it.",
    )
    return [fault("VFY09", Severity.ERROR, name, message, *ways)]


def opened(workspace: Path, entry: Entry) -> tuple[Bundle | None, list[Diagnostic]]:
    """Open the bundle a release tells of; None with the reasons where it is not sound."""
    data, found = read_entry(workspace, entry)
    if found:
        return None, found
    read, found = open_bundle(data, str(bundle_file(workspace, entry)))
    return (None, found) if found else (read, [])


def before(register: Register, method_id: str, revision: int) -> Entry | None:
    """Find the last release of a method under a lower revision."""
    lower = [e for e in register.releases(method_id) if e.data["revision"] < revision]
    return lower[-1] if lower else None


def since_rows(earlier: Bundle, comparison: Comparison) -> Since:
    """Give what changed since a release as the dossier prints it."""
    released = earlier.manifest["released"]
    trigger = comparison.trigger
    return Since(
        revision=earlier.revision,
        day=released["at"][:10],
        by=released["by"],
        digest=earlier.manifest["digest"],
        klass=comparison.klass or "",
        trigger=trigger or "",
        meaning="" if trigger is None else MEANINGS[trigger],
        changes=rows(comparison),
        figures=figure_rows(comparison),
        histories=history_rows(comparison),
    )


def since_last(workspace: Path, compiled: Compiled) -> Since | None:
    """Compare a method with its last release under a lower revision; None where there is none.

    Where that release cannot be read, the page says so and why.
    """
    method = compiled.method
    if method is None:
        return None
    register = read(workspace)
    entry = before(register, method.id, method.revision)
    if entry is None:
        return None
    earlier, found = opened(workspace, entry)
    if earlier is not None:
        old = compile_bundle(earlier, name=f"{stem(earlier.id, earlier.revision)}.zip")
        if old.method is not None:
            return since_rows(earlier, compare(old, compiled))
        found = list(old.diagnostics)
    return Since(
        entry.data["revision"], entry.at[:10], entry.by, entry.data["digest"], problem=found[0].message
    )
