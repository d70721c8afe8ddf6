"""Verify a released bundle: is it what was released, does what it records follow from it, and what of today.

Three questions, in this order. Are the bytes those that were released: by the bundle's own manifest, by the
register, by the signature? Do the findings it records follow from its method and its own reference data?
And what do today's rules, with today's reference data, say of the method?

Nothing here claims more of a signature than that a listed key made it.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Any

from fillmark import __version__
from fillmark.compare import compare
from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.files import read_at_most
from fillmark.model import Reference
from fillmark.pipeline import Compiled, compile_method
from fillmark.releases import bundle, rule_set
from fillmark.releases.bundle import (
    Bundle,
    canonical_yaml,
    compile_bundle,
    digest_of,
    json_bytes,
    open_bundle,
    reference_of,
    stem,
)
from fillmark.releases.earlier import CODES as REGISTERED
from fillmark.releases.earlier import against_register, bundle_file, fault, read_entry
from fillmark.releases.register import FIRST, FOLDER, LAST, LOCK, NAME, Entry, Register
from fillmark.releases.release import review
from fillmark.releases.signature import LARGEST as LARGEST_SIGNATURE
from fillmark.releases.signature import SUFFIX, SignatureError, judge
from fillmark.report import written
from fillmark.validate import misfit

CODES: dict[str, tuple[str, str]] = {
    "VFY10": (
        "method-not-the-manifested",
        "The method in a bundle is another than its manifest tells of, or its two texts differ.",
    ),
    "VFY11": ("no-register", "There is no register to say whether a bundle is released."),
    "VFY12": (
        "signature-does-not-hold",
        "A signature that was not made over this bundle by an allowed signer.",
    ),
    "VFY13": (
        "signature-missing",
        "A bundle was signed when it was released, and the signature is gone or another.",
    ),
    "VFY14": ("signature-not-judged", "A signature that could not be judged."),
    "VFY15": (
        "recorded-findings-differ",
        "What a bundle records of its method is not what its method and reference data give.",
    ),
    "VFY16": (
        "not-judged-again",
        "The findings of a bundle cannot be worked out again by this version of Fillmark.",
    ),
    "VFY17": ("found-today", "Today's rules find something that was not found when the method was released."),
    "VFY18": ("rule-withdrawn", "A rule that judged the method then does not stand any more."),
    "VFY19": (
        "release-left-over",
        "A file among the released bundles that no line of the register tells of.",
    ),
    "VFY20": (
        "reference-data-differs",
        "The laboratory's reference data has changed since the method was released with it.",
    ),
    "VFY21": ("register-cut", "The register lacks lines that it had when a bundle was released."),
}
_ALL = {**bundle.CODES, **REGISTERED, **CODES}


@dataclass(frozen=True, slots=True)
class Verified:
    """What was found of one bundle."""

    name: str
    """The file, or the release where there is none."""
    manifest: Mapping[str, Any] | None
    """None where it could not be read."""
    sha256: str
    entry: Entry | None
    """The line of the register; None where it tells nothing of the bundle."""
    superseded: bool
    """Whether a later revision has been released."""
    called_back: str | None
    """Why the whole revision was called back; None where it was not."""
    signed_by: str | None
    """Name of the signer, where a signature holds."""
    judged_again: bool
    """Whether the findings recorded were worked out again."""
    found: tuple[Diagnostic, ...]

    @property
    def sound(self) -> bool:
        """Whether it is what was released: no error was found."""
        return not any(d.severity is Severity.ERROR for d in self.found)


@dataclass(frozen=True, slots=True)
class Today:
    """By what a method is judged today."""

    reference: Reference
    day: date


def _say(code: str, severity: Severity, name: str, message: str, *ways: str) -> Diagnostic:
    return Diagnostic(code, _ALL[code][0], severity, message, name, Span(1, 1, 1, 1), ways_out=ways)


# --- one bundle


def verify(
    data: bytes,
    name: str,
    register: Register | None,
    *,
    signature: bytes | None = None,
    signers: Path | None = None,
    today: Today | None = None,
) -> Verified:
    """Verify the bytes of a bundle; `name` is what it is called in messages.

    `register` says whether it is released; None where there is none. `signature` is what lies beside it,
    judged by the file of `signers`. Without `today` nothing is asked of today's rules.
    """
    read, found = open_bundle(data, name)
    if read is None:
        return Verified(name, None, bundle.sha256(data), None, superseded=False, called_back=None, signed_by=None,
                        judged_again=False, found=tuple(found))  # fmt: skip
    entry = None if register is None else _entry(register, read)
    found += _against_register(data, read, register, entry)
    signed_by, of_signature = _signature(data, read, entry, signature, signers)
    found += of_signature
    superseded = register is not None and any(
        e.data["revision"] > read.revision for e in register.releases(read.id)
    )
    judged_again = False
    if not any(d.code in bundle.CODES for d in found):
        then = _compiled(read)
        if isinstance(then, Diagnostic):
            found.append(then)
        else:
            judged_again = then.checked is not None
            found += _of_method(read, then)
            found += _recorded(read, then)
            if today is not None:
                found += _of_today(read, then, today)
    called_back = None if register is None else register.called_back(read.id, read.revision)
    return Verified(name, read.manifest, read.sha256, entry, superseded=superseded, called_back=called_back,
                    signed_by=signed_by, judged_again=judged_again, found=tuple(found))  # fmt: skip


def _entry(register: Register, read: Bundle) -> Entry | None:
    lines = [e for e in register.releases(read.id) if e.data["revision"] == read.revision]
    return lines[-1] if lines else None


def _against_register(
    data: bytes, read: Bundle, register: Register | None, entry: Entry | None
) -> Iterator[Diagnostic]:
    named = stem(read.id, read.revision)
    if register is None:
        yield _say(
            "VFY11", Severity.WARNING, read.name,
            f"{read.name} calls itself {named}, released on {read.day} by {read.manifest['released']['by']}. There is "
            "no register here, so whether it is released, and whether a later revision is, cannot be known.",
            "Name the laboratory's folder with --workspace.",
            f"Or ask the laboratory for the line of its register: the bundle has SHA-256 {read.sha256}.",
        )  # fmt: skip
        return
    if entry is None:
        known = ", ".join(f"r{e.data['revision']}" for e in register.releases(read.id)) or "none"
        yield fault(
            "VFY08", Severity.ERROR, read.name,
            f"{read.name} calls itself {named}, and the register {register.file} tells of no such release (of "
            f"{read.id}: {known}). It is not released here, whatever it looks like.",
            f"Release the method: fillmark release, or take what is released from {FOLDER}/.",
            "Or, if it comes from another laboratory, verify it with that laboratory's --workspace.",
        )  # fmt: skip
        return
    yield from against_register(data, read.name, entry)
    lines, head = read.manifest["register"]["lines"], read.manifest["register"]["head"]
    there = register.entries[lines - 1].digest if 0 < lines <= len(register.entries) else FIRST
    if there != head:
        yield _say(
            "VFY21", Severity.ERROR, read.name,
            f"When {named} was released the register had {lines} lines, the last with SHA-256 {head[:16]}...; now it "
            f"has {len(register.entries)}, and that line is not among them: lines are gone, or it is another register.",
            f"Put back {register.file} from a copy made before.",
            "Or keep it as evidence, and find out from the bundles and older copies what it said.",
        )  # fmt: skip
    told = {
        "digest": read.manifest["digest"], "at": read.manifest["released"]["at"],
        "by": read.manifest["released"]["by"], "class": read.manifest["class"],
    }  # fmt: skip
    for key, value in told.items():
        if entry.data[key] != value:
            yield fault(
                "VFY09", Severity.ERROR, read.name,
                f"{key}: the manifest of {read.name} says {value}, line {entry.line} of the register says "
                f"{entry.data[key]}.",
                "Put back the bundle from a copy made when it was released.",
                "Or set it aside as evidence, and find out which of the two was changed.",
            )  # fmt: skip


# --- signature


def _signature(
    data: bytes, read: Bundle, entry: Entry | None, signature: bytes | None, signers: Path | None
) -> tuple[str | None, list[Diagnostic]]:
    """Judge the signature; gives who signed, where it holds."""
    name = f"{read.name}{SUFFIX}"
    registered = None if entry is None else entry.data["signature"]
    if signature is None:
        if registered is None:
            return None, []
        message = f"{read.name} was signed when it was released, and there is no {name}."
        return None, [
            _say(
                "VFY13", Severity.ERROR, name, message,
                f"Put it back from a copy; the right one has SHA-256 {registered}.",
                "Or release a new revision, signed.",
            )
        ]  # fmt: skip
    found: list[Diagnostic] = []
    if entry is not None and bundle.sha256(signature) != registered:
        was = "it was not signed" if registered is None else f"its signature had SHA-256 {registered[:16]}..."
        found.append(
            _say(
                "VFY13", Severity.ERROR, name,
                f"{name} has SHA-256 {bundle.sha256(signature)[:16]}...; when the bundle was released, {was}.",
                "Put back the signature from a copy made when it was released.",
                "Or take it away, if somebody signed later for a purpose of their own.",
            )
        )  # fmt: skip
    if signers is None:
        message = f"{name} is not judged: no file says whose keys count."
        return None, [*found, _not_judged(name, message)]
    try:
        judged = judge(data, signature, signers, datetime.fromisoformat(read.manifest["released"]["at"]))
    except SignatureError as error:
        return None, [*found, _not_judged(name, f"{name} is not judged: {error}")]
    if judged.by is None:
        message = f"{name} does not hold by {signers}: {judged.why}. Who signed these bytes is not known."
        ways = (
            "See that the signer's key stands in that file, for the day of the release.",
            "Or take the bundle for unsigned, and ask the signer whether it is theirs.",
        )
        found.append(_say("VFY12", Severity.ERROR, name, message, *ways))
    return judged.by, found


def _not_judged(name: str, message: str) -> Diagnostic:
    return _say(
        "VFY14", Severity.WARNING, name, message,
        "Name a file of allowed signers with --signers, or keep one as shared/allowed-signers.",
        "Or have it judged on a machine that has both.",
    )  # fmt: skip


# --- what it records


def _compiled(read: Bundle) -> Compiled | Diagnostic:
    """Compile the method as it was released, or say why this version cannot."""
    wrote = read.manifest["fillmark"]
    reference, found = reference_of(read)
    if reference is None:
        why = f"its reference data cannot be read: {found[0].file}: {found[0].message}"
    else:
        then = compile_bundle(read)
        if then.method is not None:
            return then
        first = then.diagnostics[0]
        why = f"its method cannot be read: line {first.span.line}: {first.message}"
    same = read.manifest["rules"]["digest"] == rule_set.rules_digest()
    return _say(
        "VFY16", Severity.ERROR if same else Severity.WARNING, read.name,
        f"What {read.name} records cannot be worked out again by Fillmark {__version__}: {why}.",
        f"Verify it with Fillmark {wrote}, by which it was released.",
        "Or rely on the record as it stands; that it is unaltered has been looked at above.",
    )  # fmt: skip


def _of_method(read: Bundle, then: Compiled) -> Iterator[Diagnostic]:
    method = then.method
    if method is None:
        return
    told = read.manifest
    ways = (
        "Put back the bundle from a copy made when it was released.",
        "Or set it aside as evidence: its manifest was written for another method.",
    )
    pairs = [("id", told["id"], method.id), ("revision", told["revision"], method.revision)]
    if method.data["fillmark"] == 1:
        pairs.append(("digest", told["digest"], digest_of(read, method)))
    pairs += [
        (who, told["people"][who], getattr(method.people, who)) for who in ("author", "reviewer", "approver")
    ]
    for what, said, found in pairs:
        if said != found:
            message = f"{what}: the manifest of {read.name} says {said}, its method {found}."
            yield _say("VFY10", Severity.ERROR, read.name, message, *ways)
    if read.members[bundle.CANONICAL] != canonical_yaml(method.data).encode():
        message = f"{bundle.CANONICAL} in {read.name} does not say what {bundle.METHOD} says."
        yield _say("VFY10", Severity.ERROR, read.name, message, *ways)


def _recorded(read: Bundle, then: Compiled) -> Iterator[Diagnostic]:
    """Compare the findings, waivers and the rest that were recorded with those that follow today."""
    if then.checked is None:
        return
    same = read.manifest["rules"]["digest"] == rule_set.rules_digest()
    now = {
        bundle.FINDINGS: json.loads(written("json", [then])),
        bundle.REVIEW: review(then),
        **({bundle.RULES: rule_set.listed()} if same else {}),
    }
    for name, value in now.items():
        recorded = _json(read, name)
        if recorded == value or (not same and _essence(recorded) == _essence(value)):
            continue
        if same:
            message = (
                f"{name} in {read.name} is not what its method and reference data give with these rules"
                f"{_difference(recorded, value)}."
            )
            ways = (
                "Set the bundle aside as evidence: what it records was not found by Fillmark.",
                "Or, if this machine works otherwise than the one that released it, tell Fillmark's authors.",
            )
            yield _say("VFY15", Severity.ERROR, read.name, message, *ways)
        else:
            message = (
                f"{name} in {read.name} was recorded by the rules of Fillmark {read.manifest['fillmark']}; by those of "
                f"{__version__} the same method and reference data give something else{_difference(recorded, value)}."
            )
            ways = (
                "See whether a new finding bears on results that were reported.",
                f"Or verify with Fillmark {read.manifest['fillmark']}, by which the record must come out as it stands.",
            )
            yield _say("VFY15", Severity.ADVICE, read.name, message, *ways)


def _json(read: Bundle, name: str) -> Any:
    """Read a record of the bundle; None where it is none."""
    try:
        value = json.loads(read.members[name])
        json_bytes(value)
    except (ValueError, RecursionError):
        return None
    return None if name == bundle.FINDINGS and misfit(value, "diagnostics.schema.json") is not None else value


def _essence(value: Any) -> Any:
    """Leave out who wrote it: the version of Fillmark, and thresholds of the policy that are told in words."""
    if isinstance(value, dict):
        return {key: inner for key, inner in value.items() if key not in ("fillmark", "policy")}
    return value


def _difference(recorded: Any, value: Any) -> str:
    if not (isinstance(recorded, dict) and isinstance(value, dict) and "diagnostics" in value):
        return ""
    old, new = (
        {(str(d["code"]), str(d["message"]), str(d["waived_by"])) for d in v["diagnostics"]}
        for v in (recorded, value)
    )
    parts = []
    for word, codes in (("recorded only", old - new), ("found only", new - old)):
        if codes:
            parts.append(f"{word}: {', '.join(sorted({code for code, *_ in codes}))}")
    return f" ({'; '.join(parts)})" if parts else ""


# --- what of today


def _of_today(read: Bundle, then: Compiled, today: Today) -> Iterator[Diagnostic]:
    """Say what is new of the method by today's rules, reference data and day."""
    now = compile_method(read.members[bundle.METHOD], bundle.METHOD, today.reference, today=today.day)
    recorded = _json(read, bundle.FINDINGS)
    known = {
        (d["code"], json.dumps(d["path"]), d["waived_by"])
        for d in (() if recorded is None else recorded["diagnostics"])
    }
    for d in now.diagnostics:
        if (d.code, json.dumps(list(d.path)), d.waived_by) not in known:
            yield _say(
                "VFY17", Severity.ADVICE if d.severity is Severity.ADVICE else Severity.WARNING, read.name,
                f"Not found when {stem(read.id, read.revision)} was released, found by {today.day}: {d.severity.word} "
                f"{d.code} in line {d.span.line}: {d.message}",
                "Revise the method, if results reported by it are touched.",
                *(d.ways_out[:1] or ("Or note why it does not matter, and look again at the next review.",)),
            )  # fmt: skip
    listed = _json(read, bundle.RULES)
    then_rules = {
        str(r["code"]): str(r["slug"])
        for r in (listed if isinstance(listed, list) else ())
        if isinstance(r, dict) and {"code", "slug"} <= set(r)
    }
    standing = {r["code"] for r in rule_set.listed()}
    for code, slug in then_rules.items():
        if code not in standing:
            yield _say(
                "VFY18", Severity.ADVICE, read.name,
                f"Rule {code} {slug}, which judged {stem(read.id, read.revision)} at its release, has been withdrawn.",
                f"Read in the changes of Fillmark since {read.manifest['fillmark']} why it was.",
                "Or leave it: what it found, if anything, stands in the bundle.",
            )  # fmt: skip
    if now.method is not None:
        yield from _reference_changes(read, then, now)


def _reference_changes(read: Bundle, then: Compiled, now: Compiled) -> Iterator[Diagnostic]:
    compared = compare(then, now)
    technical = [c for c in compared.changes if c.technical]
    if not technical:
        return
    first = "; ".join(f"{c.path}: was {c.before or 'none'}, now {c.after or 'none'}" for c in technical[:4])
    more = f"; and {len(technical) - 4} more" if len(technical) > 4 else ""
    yield _say(
        "VFY20", Severity.WARNING, read.name,
        f"The reference data that {stem(read.id, read.revision)} uses differs from what it was released with ({first}"
        f"{more}). Its papers say what held then; a calculation made with today's data gives something else.",
        "Release a new revision with today's data, if the change holds for this method.",
        "Or put the entry under a name of its own, if it is meant for other methods only.",
    )  # fmt: skip


# --- a whole laboratory


def verify_entry(
    workspace: Path, register: Register, entry: Entry, *, signers: Path | None, today: Today | None
) -> Verified:
    """Verify the bundle that a release tells of, where it should lie."""
    data, found = read_entry(workspace, entry)
    file = bundle_file(workspace, entry)
    if not data:
        return Verified(
            str(file), None, "", entry, superseded=_superseded(register, entry),
            called_back=register.called_back(entry.data["id"], entry.data["revision"]), signed_by=None,
            judged_again=False, found=tuple(found),
        )  # fmt: skip
    superseded = _superseded(register, entry)
    # What today's rules say of a revision nobody works by any more helps nobody.
    asked = None if superseded else today
    verified = verify(
        data, str(file), register, signature=signature_beside(file), signers=signers, today=asked
    )
    if verified.entry is entry or not found:
        return verified
    # Another bundle in its place, or none at all: what is wrong by the register is told as well.
    told = {d.message for d in verified.found}
    return replace(
        verified, entry=entry, found=(*verified.found, *(d for d in found if d.message not in told))
    )


def _superseded(register: Register, entry: Entry) -> bool:
    return any(e.data["revision"] > entry.data["revision"] for e in register.releases(entry.data["id"]))


def signature_beside(file: Path) -> bytes | None:
    """Read the signature beside a bundle; None where there is none. OSError where it cannot be read."""
    try:
        return read_at_most(file.with_name(file.name + SUFFIX), LARGEST_SIGNATURE)
    except FileNotFoundError:
        return None


def left_over(workspace: Path, register: Register) -> list[Diagnostic]:
    """Find files among the released bundles that no line of the register tells of."""
    folder = workspace / FOLDER
    known = {folder / NAME, folder / LOCK, folder / LAST}
    for entry in register.of_kind("release"):
        file = bundle_file(workspace, entry)
        known |= {file, file.with_name(file.name + SUFFIX)}
    lying = sorted(f for f in folder.rglob("*") if f.is_file() or f.is_symlink())
    return [
        _say(
            "VFY19", Severity.WARNING, str(file),
            f"{file.relative_to(folder)} lies among the released bundles, and the register tells nothing of it: it is "
            "not released. A release that was stopped leaves such a file.",
            "Release the method again, if it was to be released; that replaces the file.",
            "Or move it elsewhere, so that nobody takes it for released.",
        )
        for file in lying
        if file not in known
    ]  # fmt: skip
