"""By which method a record is judged: the file that was named, the workspace's own, or a released revision of it."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from fillmark.digest import digest
from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.pipeline import Compiled
from fillmark.records.codes import found
from fillmark.records.evaluate import SHORTEST
from fillmark.records.record import Finding, Record
from fillmark.releases.bundle import compile_bundle, digest_of, open_bundle
from fillmark.releases.register import read as read_register
from fillmark.releases.revisions import Revision, revisions_of


@dataclass(frozen=True, slots=True)
class Judge:
    """A method with its figures and its digest, and why the whole revision was called back, if it was."""

    method: Method
    figures: Figures
    digest: str
    recalled: str = ""


@dataclass(slots=True)
class Library:
    """The methods records may be judged by."""

    compiled: Sequence[Compiled]
    """Those of the workspace, or the one that was named."""
    home: Path | None = None
    """Workspace whose released revisions are looked into; None for none."""
    named: Judge | None = None
    """The one that was named: it judges whatever the sheet says, and a sheet of another is refused."""
    _revisions: dict[str, tuple[Revision, ...]] = field(default_factory=dict)
    _judges: dict[str, Judge] = field(default_factory=dict)

    def judge_of(self, record: Record) -> Judge | Finding:
        """Find the method a record was filled by; else the finding that says why there is none.

        The revision and digest the sheet bears come first, also where they are no longer the workspace's own.
        """
        wanted = record.text("method.id")
        place = record.place("method.id")
        if not wanted:
            return found(
                "EVA11",
                "The record does not say by which method it was filled.",
                "Write the id from the head of the sheet.",
                "Begin with the template, which has it.",
                field="method.id",
                place=place,
            )
        if self.named is not None:
            if self.named.method.id == wanted:
                return self.named
            return found(
                "EVA11",
                f"The record is of {wanted[:80]}, and {self.named.method.id} was named to judge it.",
                "Name the method of the record.",
                "Leave --method out, and it is found in the workspace.",
                field="method.id",
                place=place,
            )
        revision = record.text("method.revision")
        printed = "".join(record.text("method.digest").split()).lower()
        ours = [c for c in self.compiled if c.method is not None and c.method.id == wanted]
        own = self._own(ours[0]) if ours else None
        if own is not None and _fits(own, revision, printed):
            return self._with_recall(own)
        released = self._released(wanted, revision, printed)
        if released is not None:
            return released
        if own is not None:
            return own
        known = ", ".join(sorted(c.method.id for c in self.compiled if c.method is not None)[:8])
        errors = [c for c in ours if not c.clean]
        if errors:
            first = next(d for d in errors[0].diagnostics if d.blocks)
            return found(
                "EVA11",
                f"{wanted} ({errors[0].file}) has errors, so it has no sheet: {first.code} {first.message}",
                "Mend the method: fillmark check.",
                "Or name the released bundle with --method.",
                field="method.id",
                place=place,
            )
        return found(
            "EVA11",
            f"There is no method {wanted[:80]} here" + (f"; there are {known}." if known else "."),
            "Name its file or its released bundle with --method.",
            "Name the folder of the laboratory with --workspace.",
            field="method.id",
            place=place,
        )

    def _own(self, one: Compiled) -> Judge | None:
        if one.method is None or one.figures is None or not one.clean:
            return None
        if one.file not in self._judges:
            self._judges[one.file] = Judge(one.method, one.figures, digest(one.method))
        return self._judges[one.file]

    def _of(self, method_id: str) -> tuple[Revision, ...]:
        if self.home is None:
            return ()
        if method_id not in self._revisions:
            self._revisions[method_id] = revisions_of(self.home, read_register(self.home), method_id)
        return self._revisions[method_id]

    def _with_recall(self, own: Judge) -> Judge:
        reason = next(
            (r.withdrawn for r in self._of(own.method.id) if r.number == own.method.revision and r.withdrawn),
            "",
        )
        return Judge(own.method, own.figures, own.digest, reason) if reason else own

    def _released(self, method_id: str, revision: str, printed: str) -> Judge | None:
        for one in self._of(method_id):
            if one.bundle is None or str(one.number) != revision:
                continue
            if one.name not in self._judges:
                compiled = one.compiled()
                if compiled.method is None or compiled.figures is None:
                    continue
                mark = digest_of(one.bundle, compiled.method)
                self._judges[one.name] = Judge(compiled.method, compiled.figures, mark, one.withdrawn)
            if _fits(self._judges[one.name], revision, printed):
                return self._judges[one.name]
        return None


def _fits(judge: Judge, revision: str, printed: str) -> bool:
    right = not printed or (len(printed) >= SHORTEST and judge.digest.startswith(printed))
    return right and revision in ("", str(judge.method.revision))


def of_compiled(one: Compiled) -> Judge | str:
    """Take a method that was named; a text says why it cannot be used."""
    if one.method is None or one.figures is None or not one.clean:
        first = next((d for d in one.diagnostics if d.blocks), None)
        return "it cannot be compiled" if first is None else f"{first.code} {first.message}"
    return Judge(one.method, one.figures, digest(one.method))


def of_bundle(data: bytes, name: str) -> Judge | str:
    """Open a released bundle that was named; a text says why it cannot be used."""
    bundle, faults = open_bundle(data, name)
    if bundle is None or faults:
        return faults[0].message if faults else "it is no bundle"
    compiled = compile_bundle(bundle, name=name)
    if compiled.method is None or compiled.figures is None:
        return "its method cannot be compiled"
    return Judge(compiled.method, compiled.figures, digest_of(bundle, compiled.method))
