"""Mend slips of the pen that have one right spelling, by edits of the text at the place itself.

What is mended:

- a unit that is spelt wrong where no other unit can be meant (`CERTAIN`), and a decimal comma that cannot
  part thousands: `0,5 Pa·s`, not `1,000 Pa·s`;
- a target and its tolerance with different decimals: zeros are added, the values stay;
- a key or a word of choice with one slip (two in a long one), where nothing else is near;
- a stated factor or full scale that is the computed one with too few digits: 17 for 16.67.

What is left to people, for it would be a guess or change what is measured: a number, a name of reference data
or of a step, the status, any other stated factor or shear rate (a contradiction, and somebody may have worked
results out with it), a unit that is missing, and a number in the prose that repeats a parameter.

Every edit is tried first: the file is read and checked as it would be. An edit is left out if anything else
of the data changes, a figure changes, or something is found that was not found before. All other bytes of
the file stay as they are.
"""

import copy
import difflib
import errno
import json
import os
import re
import stat
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path as File
from typing import Any

from fillmark.diagnostics import Diagnostic, Path, Span
from fillmark.figures import Figures
from fillmark.locate import schemas_folder
from fillmark.model import Reference
from fillmark.pipeline import Compiled, compile_method, names
from fillmark.publish import write_whole
from fillmark.quantities import Quantity, QuantityError, brief, express, parse, parse_toleranced, sig
from fillmark.read import Source
from fillmark.validate import validate
from fillmark.workspace import read_method
from fillmark.yaml_faults import lines_of

CERTAIN = frozenset({
    # The dot is missing or is a dash; no other viscosity is written with these letters.
    "mPas", "Pas", "mPa-s", "Pa-s",
    # The name in place of the symbol. 1 cP is 1 mPa·s, so the number stays.
    "centipoise", "cPoise", "cpoise", "poise", "Poise", "cp",
    # C is a coulomb, but not where a temperature stands; the other signs only look like the degree sign.
    "C", "Celsius", "celsius", "°Celsius", "°c", "ºC", "˚C", "° C", "deg C", "degree C", "degrees C",
    "degrees Celsius", "°K", "degK", "%/C", "% per K", "% per °C",
    "RPM", "Rpm", "r.p.m.", "U/min", "rounds/min", "turns", "revs",
    "sec", "secs", "second", "seconds", "mins", "minute", "minutes", "hr", "hrs", "hour", "hours",
    "day", "days", "1/sec", "sec⁻¹", "sec^-1",
    "cc", "ccm", "g/cc", "ltr", "liter", "litre", "liters", "litres", "micron", "microns",
    "gram", "grams", "Kg", "KG",
    "percent", "pct", "% FS", "%FS", "% FSR", "% full scale", "% of fs", "degree", "degrees",
})  # fmt: skip
"""Wrong spellings that can mean one unit only, in a place for that kind of quantity.

Not in it, because another unit is as near: MPa·s, MPas, ML, Ml, MM (mega, or a slip for milli), cps, cPs, CPS
(the centipoise or cycles per second), CP (C is no prefix; the P may be the poise), Pa/s and mPa/s (units of
something else), gr (the grain), g/L and g/l (right as they are, or a slip for g/mL by a thousand), µ, and
single letters in the wrong case: c, k, S, H, G, %/k.
"""

STATED_DIGITS = 4
"""Digits a stated figure is written out to: enough for any rule that compares it."""

MAY_BE_CHANGED = ("draft", "in-review")
"""Status of a method that nobody works by yet; any other is changed by a new revision only."""

_BOM = b"\xef\xbb\xbf"
_LINE_END = re.compile(r"\r\n|\n|\r")
_TOLERANCE = re.compile(r"(±|\+/[-\u2212])")
_ONE_SIDE = re.compile(
    r"(\s*[+\-\u2212]?)([0-9]+(?:[.,][0-9]+)?(?:[eE][+\-]?[0-9]+)?)(\s*)(\S|\S.*\S)(\s*)", re.DOTALL
)
_DECIMAL_COMMA = re.compile(r"[0-9]+,[0-9]{1,2}|0,[0-9]+")
"""Thousands are parted by three digits, and never behind a nought."""
_WORD = re.compile(r"[a-z][a-z-]*")


@dataclass(frozen=True, slots=True)
class Fix:
    """One edit: the text from `start` up to `end` (characters of the source) becomes `new`."""

    start: int
    end: int
    old: str
    new: str
    code: str
    """Of the finding it mends."""
    path: Path
    line: int
    why: str
    key: bool = False
    """Whether the key at the path is edited, not its value."""


@dataclass(frozen=True, slots=True)
class Mended:
    """A file before and after, with the edits that led there and those that were left out."""

    before: Compiled
    after: Compiled
    fixes: tuple[Fix, ...] = ()
    refused: tuple[tuple[Fix, str], ...] = ()
    """(edit, why it is not made)"""
    held: str | None = None
    """The status that keeps the file from being mended; None where it may be, or nothing is to be mended."""


def mend(compiled: Compiled, reference: Reference, *, today: date | None = None) -> Mended:
    """Mend a file as far as can be, in memory.

    What a first round brings to light (the rules see a file only once it can be read) is mended in the next.
    """
    fixes: list[Fix] = []
    after = compiled
    while True:
        made, refused, after = _round(after, reference, today)
        if not made:
            break
        fixes.extend(made)
    status = held(compiled.source) or held(after.source)
    if fixes and status is not None:
        return Mended(compiled, compiled, held=status)
    return Mended(compiled, after, tuple(fixes), refused)


def mendable(compiled: Compiled, reference: Reference, *, today: date | None = None) -> int:
    """Count the findings of a file that `mend` would mend; none in a file that only a revision may change."""
    if held(compiled.source) is not None:
        return 0
    made, _, after = _round(compiled, reference, today)
    return 0 if held(after.source) is not None else len(made)


def write(mended: Mended) -> None:
    """Write a mended file in one piece, through links, with the permissions it has.

    OSError, with the file as it was, where it is read-only, has changed since it was read, or cannot be
    written.
    """
    before, after = mended.before.source, mended.after.source
    if before is None or after is None or before.text == after.text:
        return
    file = File(os.path.realpath(mended.before.file))
    now = read_method(file)
    mark = _BOM if now.startswith(_BOM) else b""
    if now != mark + before.text.encode():
        raise OSError(errno.EBUSY, "it has been changed since it was read", str(file))
    mode = stat.S_IMODE(file.stat().st_mode)
    # A new file can take the place of a read-only one; the mark is heeded all the same.
    if not mode & 0o222 or not os.access(file, os.W_OK):
        raise PermissionError(errno.EACCES, "it is read-only", str(file))
    write_whole(file, mark + after.text.encode(), mode=mode)


def diff(mended: Mended) -> list[str]:
    """Give the lines of a unified diff from the file as it is to the mended one, without line ends."""
    before, after = mended.before.source, mended.after.source
    if before is None or after is None:
        return []
    old, new = lines_of(before.text), lines_of(after.text)
    # The line end at the end of the file begins no line of its own.
    old, new = (t[:-1] if t[-1] == "" else t for t in (old, new))
    name = mended.before.file
    return list(difflib.unified_diff(old, new, name, name, "as it is", "mended", lineterm=""))


def edited(text: str, fixes: Sequence[Fix]) -> str:
    """Give a text with edits made; of edits that overlap, the first."""
    parts, at = [], 0
    for fix in sorted(fixes, key=lambda f: f.start):
        if fix.start < at:
            continue
        parts += [text[at : fix.start], fix.new]
        at = fix.end
    return "".join((*parts, text[at:]))


# --- what keeps an edit from being made


def held(source: Source | None) -> str | None:
    """Give the status that keeps a file from being changed without a new revision; None where it may be."""
    status = source.data.get("status") if source is not None and isinstance(source.data, dict) else None
    return status if isinstance(status, str) and status not in MAY_BE_CHANGED else None


def _round(
    before: Compiled, reference: Reference, today: date | None
) -> tuple[tuple[Fix, ...], tuple[tuple[Fix, str], ...], Compiled]:
    """Try what is offered, all at once and else one by one.

    Gives the edits made, those not made with the reason, and the outcome.
    """
    offered = offers(before)
    if not offered:
        return (), (), before
    after, objection = _tried(before, offered, reference, today)
    if objection is None:
        return offered, (), after
    good = before
    made: list[Fix] = []
    refused = []
    for fix in offered:
        after, objection = _tried(before, (*made, fix), reference, today)
        if objection is None:
            made.append(fix)
            good = after
        else:
            refused.append((fix, objection))
    return tuple(made), tuple(refused), good


def _tried(
    before: Compiled, fixes: Sequence[Fix], reference: Reference, today: date | None
) -> tuple[Compiled, str | None]:
    assert before.source is not None  # noqa: S101 - only what has been read is offered anything
    text = edited(before.source.text, fixes)
    after = compile_method(text.encode(), before.file, reference, today=today)
    return after, objection(before, after, fixes, reference)


def objection(before: Compiled, after: Compiled, fixes: Sequence[Fix], reference: Reference) -> str | None:
    """Say what speaks against edits, judged by what became of the file; None where nothing does."""
    if before.source is None or after.source is None:
        return "the file could not be read any more"
    if after.source.data != _expected(before.source.data, fixes):
        return "something else in the file would change"
    old = Counter((d.code, d.path) for d in before.diagnostics)
    # Rules do not see a file that does not pass the schema: what they say for the first time is not new.
    early = before.method is None
    seen = (
        validate(after.source, "method.schema.json", names=names(reference)) if early else after.diagnostics
    )
    new = Counter((d.code, d.path) for d in seen)
    for code, path in new - old:
        return f"it would bring {code} at {_dotted(path)}"
    for fix in fixes:
        if new[fix.code, fix.path] >= old[fix.code, fix.path]:
            return f"{fix.code} would stay"
    if before.figures is None:
        return None
    was = {key: (f.value, f.unit) for key, f in before.figures.items()}
    now = {key: (f.value, f.unit) for key, f in (after.figures or {}).items()}
    changed = [key for key in {**was, **now} if was.get(key) != now.get(key)]
    return f"it would change {changed[0]}" if changed else None


def _expected(data: Any, fixes: Sequence[Fix]) -> Any:
    """Give the data as edits should leave it; below a key that is edited nothing has been looked at yet."""
    data = copy.deepcopy(data)
    for fix in fixes:
        block = _at(data, fix.path[:-1])
        if fix.key:
            block[fix.new] = block.pop(fix.path[-1])
        else:
            block[fix.path[-1]] = fix.new
    return data


def _at(data: Any, path: Path) -> Any:
    for step in path:
        data = data[step]
    return data


def _dotted(path: Path) -> str:
    return ".".join(str(p) for p in path) or "the start of the file"


# --- what is offered


def offers(compiled: Compiled) -> tuple[Fix, ...]:
    """List the edits for what was found in a file, in the order of the text; none that overlap.

    What has been waived is left as its approver saw it. Two keys that would become the same are both left.
    """
    source = compiled.source
    if source is None:
        return ()
    found: dict[int, Fix] = {}
    for diagnostic in compiled.diagnostics:
        offer = _OFFERS.get(diagnostic.code)
        if offer is None or diagnostic.waived_by is not None:
            continue
        fix = offer(source, diagnostic, compiled.figures)
        if fix is not None:
            found.setdefault(fix.start, fix)
    keys = Counter((f.path[:-1], f.new) for f in found.values() if f.key)
    kept: list[Fix] = []
    for fix in sorted(found.values(), key=lambda f: f.start):
        if (not fix.key or keys[fix.path[:-1], fix.new] == 1) and (not kept or fix.start >= kept[-1].end):
            kept.append(fix)
    return tuple(kept)


def _of_quantity(source: Source, diagnostic: Diagnostic, _: Figures | None) -> Fix | None:
    value = _at(source.data, diagnostic.path)
    if not isinstance(value, str):
        return None
    for schema in _schemas(diagnostic.path):
        for mark in ("x-quantity", "x-toleranced"):
            if mark not in schema:
                continue
            right = quantity(value, schema[mark], toleranced=mark == "x-toleranced")
            if right is not None:
                return _edit(source, diagnostic, value, right, "it can be meant in this way only")
    return None


def quantity(text: str, kind: str, *, toleranced: bool = False) -> str | None:
    """Give the right spelling of a quantity where it is certain; None where it is not, or the text is right.

    The number stays as it is, save a decimal comma; so do the spaces.
    """
    for one in kind.split("|"):
        parts = _TOLERANCE.split(text) if toleranced else [text]
        if len(parts) != (3 if toleranced else 1):
            return None
        mended = [_side(parts[0], one)]
        if toleranced:
            difference = "temperature-difference" if one == "temperature" else one
            mended += [parts[1], _side(parts[2], difference) or _side(parts[2], "percent")]
        if None in mended:
            continue
        right = "".join(m for m in mended if m is not None)
        try:
            (parse_toleranced if toleranced else parse)(right, one)
        except QuantityError:
            continue
        return None if right == text else right
    return None


def _side(text: str, kind: str) -> str | None:
    """Mend one number and its unit; None where either is not certain."""
    found = _ONE_SIDE.fullmatch(text)
    if found is None:
        return None
    sign, number, gap, unit, rest = found.groups()
    if "," in number:
        if not _DECIMAL_COMMA.fullmatch(number):
            return None
        number = number.replace(",", ".")
    right = _unit(unit, kind)
    return None if right is None else f"{sign}{number}{gap}{right}{rest}"


def _unit(written: str, kind: str) -> str | None:
    """Give a unit as it is where it can be read, the right spelling where that is certain, else None."""
    try:
        parse(f"1 {written}", kind)
    except QuantityError as error:
        if error.suggestion is None or " ".join(written.split()) not in CERTAIN:
            return None
        return error.suggestion.removeprefix("1 ")
    return written


def _of_decimals(source: Source, diagnostic: Diagnostic, _: Figures | None) -> Fix | None:
    """Add the noughts that the target or its tolerance lacks."""
    text = _at(source.data, diagnostic.path)
    both = parse_toleranced(text, "temperature")
    parts = _TOLERANCE.split(text)
    decimals = max(both.value.decimals, both.tolerance.decimals)
    target = _with_decimals(parts[0], both.value, decimals)
    tolerance = _with_decimals(parts[2], both.tolerance, decimals)
    if target is None or tolerance is None:
        return None
    right = f"{target}{parts[1]}{tolerance}"
    return _edit(source, diagnostic, text, right, "both are written to the same decimals; the values stay")


def _with_decimals(text: str, q: Quantity, decimals: int) -> str | None:
    if "e" in q.number.lower():
        return None
    missing = decimals - q.decimals
    point = "" if "." in q.number or not missing else "."
    return text.replace(q.number, q.number + point + "0" * missing, 1)


def _of_key(source: Source, diagnostic: Diagnostic, _: Figures | None) -> Fix | None:
    *block, written = diagnostic.path
    known = {key for schema in _schemas(tuple(block)) for key in schema.get("properties", {})}
    right = nearest(str(written), known)
    if right is None or right in _at(source.data, tuple(block)):
        return None
    return _edit(source, diagnostic, str(written), right, "no other key is near", key=True)


def _of_choice(source: Source, diagnostic: Diagnostic, _: Figures | None) -> Fix | None:
    value = _at(source.data, diagnostic.path)
    if not isinstance(value, str) or diagnostic.path == ("status",):
        return None
    choices = {str(c) for schema in _schemas(diagnostic.path) for c in schema.get("enum", ())}
    if all(_WORD.fullmatch(c) for c in choices):
        right, why = nearest(value, choices), "no other choice is near"
    else:
        # Case and single letters matter in units: the words' measure of nearness is none for them.
        right, why = _unit(value, "viscosity"), "it can be meant in this way only"
    return None if right not in choices or right is None else _edit(source, diagnostic, value, right, why)


def _of_stated_figure(source: Source, diagnostic: Diagnostic, figures: Figures | None) -> Fix | None:
    """Write a figure out that was rounded too far; one that differs in its leading digits is a contradiction."""
    *_, index, name = diagnostic.path
    if figures is None or not isinstance(index, int):
        return None
    text = _at(source.data, diagnostic.path)
    stated = parse(text, "factor" if name == "factor" else "viscosity")
    step = source.data["run"][index]["name"]
    right = express(figures[f"run.{step}.{name}"].value, stated.unit)
    written = re.sub(r"[eE].*", "", stated.number)
    # The noughts at the end of a whole number hold its place and say nothing: 330 has two digits.
    digits = len((written if "." in written else written.rstrip("0")).replace(".", "").lstrip("0"))
    if float(sig(right, digits)) != float(stated.number):
        return None
    new = text.replace(stated.number, brief(right, STATED_DIGITS), 1)
    return _edit(source, diagnostic, text, new, "the written one is this, with too few digits")


_OFFERS = {
    "QTY01": _of_quantity, "TEM15": _of_decimals, "SCH01": _of_key, "SCH04": _of_choice, "TRQ08": _of_stated_figure,
}  # fmt: skip


def nearest(word: str, known: Collection[str]) -> str | None:
    """Find the one word that a misspelt word can stand for; None where there is none, or more than one.

    One slip is allowed from four letters on, two from eight; shorter words may differ in case only. No other
    word may be within two slips, and the first letter must be right: `unrequired` is not `required`.
    """
    folded = word.casefold()
    slips = {w: n for w in known if (n := _slips(folded, w.casefold())) <= 2}
    same = [w for w, n in slips.items() if n == 0]
    if len(same) == 1:
        return same[0]
    if len(slips) != 1:
        return None
    ((right, count),) = slips.items()
    allowed = 0 if len(right) < 4 else 1 if len(right) < 8 else 2
    return right if count <= allowed and folded[:1] == right[0].casefold() else None


def _slips(one: str, other: str) -> int:
    """Count letters left out, put in, mistaken or swapped with a neighbour (optimal string alignment)."""
    if abs(len(one) - len(other)) > 2:
        return 3
    before: list[int] = []
    last = list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        row = [i]
        for j, b in enumerate(other, 1):
            best = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (a != b))
            if i > 1 and j > 1 and a == other[j - 2] and b == one[i - 2]:
                best = min(best, before[j - 2] + 1)
            row.append(best)
        before, last = last, row
    return last[-1]


@cache
def _language() -> dict[str, Any]:
    whole: dict[str, Any] = json.loads((schemas_folder() / "method.schema.json").read_text(encoding="utf-8"))
    return whole


def _schemas(path: Path) -> list[Mapping[str, Any]]:
    """List what the language says of the value at a path, with each of its alternatives."""
    found = list(_alternatives(_language()))
    for step in path:
        inner = [
            s.get("items") if isinstance(step, int) else s.get("properties", {}).get(step) for s in found
        ]
        found = [a for s in inner if isinstance(s, Mapping) for a in _alternatives(s)]
    return found


def _alternatives(schema: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    yield schema
    for branch in schema.get("anyOf", ()):
        yield from _alternatives(branch)


def _edit(
    source: Source, diagnostic: Diagnostic, old: str, new: str, why: str, *, key: bool = False
) -> Fix | None:
    """Make an edit of a key or value that stands in the text letter for letter, plain or within quotes.

    None where it does not: a text with escapes, over several lines, or in a block of its own.
    """
    span = source.span(diagnostic.path, key=key)
    start, end = offsets(source.text, span)
    written = source.text[start:end]
    if written[:1] in ("'", '"') and written == f"{written[0]}{old}{written[0]}":
        start, end = start + 1, end - 1
    elif written != old:
        return None
    return Fix(start, end, old, new, diagnostic.code, diagnostic.path, span.line, why, key)


def offsets(text: str, span: Span) -> tuple[int, int]:
    """Give the first and last character of a span of a text, the last exclusive."""
    starts = [0, *(m.end() for m in _LINE_END.finditer(text))]
    return starts[span.line - 1] + span.column - 1, starts[span.end_line - 1] + span.end_column - 1
