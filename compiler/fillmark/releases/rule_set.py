"""Which rules judged: their version, their list, and one digest over all that takes part in judging.

Two installations with one digest say the same of the same method and reference data; where the digest
differs, the same may hold, but must be looked at.
"""

import hashlib
from functools import cache
from typing import Any

from fillmark import __version__
from fillmark.locate import PACKAGE, schemas_folder
from fillmark.rules import all_rules

PARTS = (
    "check", "choices", "combinations", "derive", "diagnostics", "figures", "files", "first_principles", "locate",
    "model", "names", "physics", "pipeline", "placeholders", "policy", "quantities", "read", "reference", "report",
    "resolve", "rules", "units", "validate", "yaml_faults",
)  # fmt: skip
"""The parts of the program that a method goes through from its bytes to its findings."""
SCHEMAS = ("method.schema.json", "shared.schema.json")


def listed() -> list[dict[str, Any]]:
    """List the rules as plain data: code, slug, severity, and whether they can be set aside."""
    return [
        {"code": r.code, "slug": r.slug, "severity": r.severity.word, "waivable": r.waivable}
        for r in all_rules()
    ]


@cache
def rules_digest() -> str:
    """Give the SHA-256 over the source texts of `PARTS` and the schemas, whatever their line ends."""
    found = hashlib.sha256()
    files = [
        file
        for part in PARTS
        for file in (
            sorted((PACKAGE / part).rglob("*.py")) if (PACKAGE / part).is_dir() else (PACKAGE / f"{part}.py",)
        )
    ]
    for file in (*files, *(schemas_folder() / name for name in SCHEMAS)):
        text = file.read_bytes().replace(b"\r\n", b"\n")
        found.update(f"{file.name} {len(text)}\n".encode() + text)
    return found.hexdigest()


def version() -> dict[str, Any]:
    """Name the rule set: version of Fillmark, number of rules, digest."""
    return {"version": __version__, "count": len(all_rules()), "digest": rules_digest()}
