"""Which revision of a method people work by on a day: the register tells of releases, their bundles of the rest.

A revision is in force from the day its method says it takes effect until the next one does, unless the whole of
it was called back. Nothing is concluded from files in `methods/`: those may have changed since.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from fillmark.diagnostics import Diagnostic
from fillmark.pipeline import Compiled
from fillmark.releases.bundle import Bundle, compile_bundle, stem
from fillmark.releases.earlier import opened
from fillmark.releases.register import Entry, Register


@dataclass(frozen=True, slots=True)
class Revision:
    """One released revision of a method."""

    entry: Entry
    bundle: Bundle | None
    """None where it is not sound; `faults` say why."""
    faults: tuple[Diagnostic, ...]
    effective: date | None
    """First day in force; None where the method names none, and then it is in force at once."""
    withdrawn: str
    """Why the whole revision was called back; nothing where it was not."""

    @property
    def number(self) -> int:
        """The number of the revision."""
        return int(self.entry.data["revision"])

    @property
    def name(self) -> str:
        """The name of the release: MCW-VIS-014-r3."""
        return stem(self.entry.data["id"], self.number)

    def compiled(self) -> Compiled:
        """Compile it with the reference data it was released with; ValueError where the bundle is not sound."""
        if self.bundle is None:
            raise ValueError(f"the bundle of {self.name} is not sound")
        return compile_bundle(self.bundle, name=f"{self.name}.zip")


def revisions_of(workspace: Path, register: Register, method_id: str) -> tuple[Revision, ...]:
    """Give all released revisions of a method, the earliest first."""
    found = []
    for entry in register.releases(method_id):
        bundle, faults = opened(workspace, entry)
        effective = None
        if bundle is not None and bundle.manifest["effective"] is not None:
            effective = date.fromisoformat(bundle.manifest["effective"])
        withdrawn = register.called_back(method_id, entry.data["revision"]) or ""
        found.append(Revision(entry, bundle, tuple(faults), effective, withdrawn))
    return tuple(found)


def in_force(revisions: Sequence[Revision], today: date) -> Revision | None:
    """Give the revision that people work by on a day; None where none has taken effect yet.

    One that was called back is given all the same: it did supersede those before it.
    """
    begun = [r for r in revisions if r.effective is None or r.effective <= today]
    return begun[-1] if begun else None


def coming(revisions: Sequence[Revision], today: date) -> tuple[Revision, ...]:
    """Give the revisions that are released and take effect later."""
    return tuple(r for r in revisions if r.effective is not None and r.effective > today)
