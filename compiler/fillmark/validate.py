"""Stage 2: the shape of the schema, and every quantity, name and date in it.

The published schema is the one description of the language. Besides the usual keywords it carries four of
our own, which say what a string means: `x-quantity` and `x-toleranced` (a kind of `quantities.py`),
`x-reference` (a kind of reference data) and `x-date`. A fast compiled validator lets valid files through;
only a file that fails pays for messages. Quantities, names and dates are read in the same pass, so that all
that is wrong with one file is said at once.
"""

import json
import re
from collections.abc import Collection, Iterator, Mapping
from datetime import date
from difflib import get_close_matches
from functools import cache
from itertools import islice
from typing import Any, NamedTuple

from fillmark.diagnostics import Diagnostic, Path, Severity
from fillmark.locate import schemas_folder
from fillmark.quantities import QuantityError, brief, parse, parse_toleranced
from fillmark.read import Source
from fillmark.yaml_faults import short

CODES: dict[str, tuple[str, str]] = {
    "SCH01": ("unknown-key", "A key that the language does not have; most often a slip of the pen."),
    "SCH02": ("missing-key", "A key that every such block must have."),
    "SCH03": (
        "wrong-type",
        "A value of another sort than the key takes: a list for a text, a number for a quantity.",
    ),
    "SCH04": ("not-a-choice", "A word that is not among the choices of the key."),
    "SCH05": (
        "wrong-form",
        "A value of the right sort that is too short, too long, too many, or of another form.",
    ),
    "SCH06": ("not-a-date", "A date that is not written as year-month-day or is not in the calendar."),
    "QTY01": (
        "unreadable-quantity",
        "A quantity that cannot be read: unit missing or misspelt, or a decimal comma.",
    ),
    "QTY02": (
        "beyond-any-bench",
        "A quantity that no bench has: nothing at all, or off by many powers of ten.",
    ),
    "NAM01": (
        "unknown-name",
        "A name that nothing bears: no such entry in the reference data, or no such step.",
    ),
}

MOST_FAULTS = 200
"""Faults of the schema that are told of one file; nobody reads on, and a hostile file could make a million."""

PLAUSIBLE: dict[str, tuple[float, float, str]] = {
    "viscosity": (1e-6, 1e7, "Pa·s"),
    "coefficient": (1e-6, 1e9, "Pa·s·rpm"),
    "factor": (1e-9, 1e7, "Pa·s/%"),
    "torque": (1e-8, 1.0, "N·m"),
    "speed": (1e-4, 1e4, "rpm"),
    "time": (1e-3, 1e10, "s"),
    "revolutions": (1e-3, 1e6, "rev"),
    "length": (1e-8, 10.0, "m"),
    "volume": (1e-10, 1.0, "m³"),
    "mass": (1e-7, 1e3, "kg"),
    "density": (10.0, 3e4, "kg/m³"),
    "velocity": (1e-7, 1.0, "m/s"),
    "diffusivity": (1e-9, 1e-3, "m²/s"),
    "heat-capacity": (100.0, 2e4, "J/(kg·K)"),
    "shear-rate": (1e-4, 1e6, "1/s"),
    "percent": (1e-3, 1e3, "%"),
    "percent-of-full-scale": (1e-3, 1e2, "% of full scale"),
    "angle": (1e-3, 3600.0, "deg"),
    "temperature": (-100.0, 500.0, "°C"),
    "temperature-difference": (0.0, 200.0, "K"),
    "sensitivity": (0.0, 100.0, "%/K"),
}
"""What a bench can have, by kind, in the unit of the kind: a project decision, wide enough for any laboratory.

Inside these bounds no formula of the physics over- or underflows; outside lies a slip by powers of ten.
"""


def diagnostic(
    source: Source,
    code: str,
    path: Path,
    message: str,
    ways_out: tuple[str, ...] = (),
    *,
    at_key: bool = False,
    codes: Mapping[str, tuple[str, str]] = CODES,
) -> Diagnostic:
    """Make an error of this stage at a path of the source."""
    span = source.span(path, key=at_key)
    return Diagnostic(code, codes[code][0], Severity.ERROR, message, source.name, span, path, ways_out)


_LONGEST_WORD = 100  # of one that is compared with others; the comparison grows with the square


def nearest(word: str, words: Collection[str]) -> str | None:
    """Find the spelling among `words` that is closest to `word`, ignoring case; None where none is close."""
    if len(word) > _LONGEST_WORD:
        return None
    by_case = {w.casefold(): w for w in words}
    found = get_close_matches(word.casefold(), list(by_case), n=1, cutoff=0.6)
    return by_case[found[0]] if found else None


@cache
def _schema(name: str, definition: str | None) -> dict[str, Any]:
    whole: dict[str, Any] = json.loads((schemas_folder() / name).read_text(encoding="utf-8"))
    return whole if definition is None else {**whole, "$ref": f"#/$defs/{definition}"}


@cache
def _gate(name: str, definition: str | None) -> Any:
    import jsonschema_rs  # noqa: PLC0415 - loaded only where a file is validated

    return jsonschema_rs.validator_for(_schema(name, definition))


def misfit(data: Any, name: str, definition: str | None = None) -> str | None:
    """Say where and why plain data does not fit a published schema, first fault only; None where it fits."""
    gate = _gate(name, definition)
    if gate.is_valid(data):
        return None
    fault = next(iter(gate.iter_errors(data)))
    at = ".".join(str(part) for part in fault.instance_path)
    return f"{at}: {fault.message}" if at else str(fault.message)


@cache
def _validator(name: str, definition: str | None) -> Any:
    """Make the validator that says what is wrong; in agreement with the gate, `$` is the end of the text."""
    from jsonschema import Draft202012Validator, ValidationError, validators  # noqa: PLC0415 - idem

    def pattern(_: Any, wanted: str, text: Any, __: Any) -> Iterator[Any]:
        # To `re`, a $ at the end would let a line end pass, and with it a file name of two lines.
        if isinstance(text, str) and not re.search(re.sub(r"\$$", r"\\Z", wanted), text):
            yield ValidationError(f"{text!r} does not match {wanted!r}")

    strict = validators.extend(Draft202012Validator, {"pattern": pattern})  # type: ignore[no-untyped-call]
    return strict(_schema(name, definition))


@cache
def _marked(name: str, definition: str | None) -> tuple[tuple[Path, str, str], ...]:
    """List what the schema marks: a path with `*` for any index or key, the mark, and its kind."""
    whole = _schema(name, definition)

    def walk(schema: Mapping[str, Any], path: Path) -> Iterator[tuple[Path, str, str]]:
        if "$ref" in schema:
            yield from walk(whole["$defs"][schema["$ref"].rsplit("/", 1)[1]], path)
            return
        for mark in ("x-quantity", "x-toleranced", "x-reference", "x-date"):
            if mark in schema:
                yield path, mark, str(schema[mark])
        if schema.get("type") == "integer":
            yield path, "integer", ""
        for key, inner in schema.get("properties", {}).items():
            yield from walk(inner, (*path, key))
        for branch in schema.get("anyOf", ()):
            yield from walk(branch, path)
        for inner in (schema.get("items"), schema.get("additionalProperties")):
            if isinstance(inner, Mapping):
                yield from walk(inner, (*path, "*"))

    return tuple(dict.fromkeys(walk(whole, ())))


class _Marked(NamedTuple):
    """What the schema marks at one place, and below it by key; `each` is any entry of a list or block."""

    marks: list[tuple[str, str]]
    below: dict[str | int, "_Marked"]

    @property
    def each(self) -> "_Marked | None":
        return self.below.get("*")


@cache
def _marked_tree(name: str, definition: str | None) -> _Marked:
    """Arrange what the schema marks as a tree, so that one walk over the data meets all of it."""
    top = _Marked([], {})
    for pattern, mark, kind in _marked(name, definition):
        here = top
        for step in pattern:
            here = here.below.setdefault(step, _Marked([], {}))
        here.marks.append((mark, kind))
    return top


def _marked_values(data: Any, here: _Marked, path: Path = ()) -> Iterator[tuple[Path, Any, str, str]]:
    """Go through the marked values of plain data: path, value, mark and kind."""
    for mark, kind in here.marks:
        yield path, data, mark, kind
    if not here.below:
        return
    each = here.each
    if isinstance(data, dict):
        for key, value in data.items():
            inner = here.below.get(key) if key != "*" else None
            if inner is not None:
                yield from _marked_values(value, inner, (*path, key))
            if each is not None:
                yield from _marked_values(value, each, (*path, key))
    elif each is not None and isinstance(data, list):
        for index, value in enumerate(data):
            yield from _marked_values(value, each, (*path, index))


def _unreadable(source: Source, path: Path, error: QuantityError) -> Diagnostic:
    ways = tuple(w for w in (error.suggestion and f"Write {error.suggestion}.", error.expected) if w)
    return diagnostic(source, "QTY01", path, error.problem, ways)


def _read_marked(
    source: Source, name: str, definition: str | None, names: Mapping[str, Collection[str]]
) -> Iterator[Diagnostic]:
    for path, value, mark, kind in _marked_values(source.data, _marked_tree(name, definition)):
        if mark == "integer" and isinstance(value, float):
            # To a schema 2.0 is an integer; on paper it would be another revision than 2.
            message = f"{value} is written with a point or an exponent; this is a whole number."
            yield diagnostic(source, "SCH03", path, message, (f"Write {int(value)}.",))
        if not isinstance(value, str) or mark == "integer":
            continue
        if mark == "x-date":
            if not _is_date(value):
                ways = ("Write year-month-day, such as 2026-12-01.",)
                yield diagnostic(source, "SCH06", path, f"{short(value)} is no date of the calendar.", ways)
        elif mark == "x-reference":
            known = names.get(kind)
            if known is not None and value not in known:
                yield unknown_name(source, path, value, known, f"shared/{kind}.yaml")
        else:
            yield from _quantity(source, path, value, kind.split("|"), toleranced=mark == "x-toleranced")


def _is_date(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


_LEAST_TOLERANCE = 1e-12  # in SI: a ten thousandth of the least volume there is, and far below a microkelvin


def _most(kind: str) -> float:
    return PLAUSIBLE[kind][1]


def _quantity(
    source: Source, path: Path, text: str, kinds: list[str], *, toleranced: bool
) -> Iterator[Diagnostic]:
    """Read a quantity as the first kind that fits; say what is wrong by the first kind where none does."""
    first: QuantityError | None = None
    for kind in kinds:
        try:
            both = parse_toleranced(text, kind) if toleranced else None
            value = parse(text, kind) if both is None else both.value
        except QuantityError as error:
            first = first or error
            continue
        low, high, unit = PLAUSIBLE.get(kind, (float("-inf"), float("inf"), ""))
        if not low <= value.value <= high:
            which = "less" if value.value < low else "more"
            message = f"{short(text)} is {which} than any bench has ({brief(low)} to {brief(high)} {unit})."
            ways = ("Look at the unit and the powers of ten.", "Leave the key out if there is no such value.")
            yield diagnostic(source, "QTY02", path, message, ways)
        elif both is not None and not _LEAST_TOLERANCE <= both.tolerance.value <= _most(both.tolerance.kind):
            which = "less" if both.tolerance.value < _LEAST_TOLERANCE else "more"
            message = f"The tolerance of {short(text)} is {which} than any bench has."
            yield diagnostic(source, "QTY02", path, message, ("Look at its unit and the powers of ten.",))
        return
    if first is not None:
        yield _unreadable(source, path, first)


def unknown_name(source: Source, path: Path, word: str, known: Collection[str], where: str) -> Diagnostic:
    """Say that nothing bears this name, with the nearest that something does."""
    close = nearest(word, known)
    listed = ", ".join(sorted(known)[:16]) + (", ..." if len(known) > 16 else "")
    ways = ((f"Did you mean {close}?",) if close else ()) + (f"Known in {where}: {listed}.",)
    return diagnostic(source, "NAM01", path, f"Nothing is called {short(word)} in {where}.", ways)


_SORTS = {
    "object": "a block of keys",
    "array": "a list",
    "string": "a text",
    "integer": "a whole number",
    "number": "a number",
    "boolean": "true or false",
    "null": "nothing",
}


def _sort(value: Any) -> str:
    if isinstance(value, bool):
        return f"{str(value).lower()} (true or false)"
    if value is None:
        return "nothing"
    if isinstance(value, (int, float)):
        return f"the bare number {value}"
    if isinstance(value, dict):
        return "a block of keys"
    return "a list" if isinstance(value, list) else "a text"


def _example(schema: Mapping[str, Any]) -> str:
    examples = schema.get("examples")
    return f" Such as: {examples[0]}." if examples else ""


def _explained(source: Source, error: Any) -> Iterator[Diagnostic]:
    """Turn one error of the general validator into words for a chemist."""
    path: Path = tuple(error.absolute_path)
    schema: Mapping[str, Any] = error.schema if isinstance(error.schema, Mapping) else {}
    value = error.instance
    ways: tuple[str, ...]
    match error.validator:
        case "additionalProperties":
            free = [k for k in schema.get("properties", {}) if k not in value]
            for key in value:
                if key not in schema.get("properties", {}):
                    close = nearest(str(key), free)
                    listed = (
                        f"Keys that may still stand here: {', '.join(free)}." if free
                        else "All keys that may stand here do so already: take it out."
                    )  # fmt: skip
                    ways = (f"Did you mean {close}?" if close else listed,)
                    yield diagnostic(
                        source,
                        "SCH01",
                        (*path, key),
                        f"There is no key {short(str(key))} here.",
                        ways,
                        at_key=True,
                    )
        case "required":
            # A missing key that a misspelt one stands for is told there, once.
            known = schema.get("properties", {})
            meant = {nearest(str(k), [n for n in known if n not in value]) for k in value if k not in known}
            missing = [k for k in error.validator_value if k not in value and k not in meant]
            if missing:
                ways = tuple(f"{k}: {known[k]['description']}{_example(known[k])}" for k in missing)
                what = (
                    f"The key {missing[0]} is" if len(missing) == 1 else f"The keys {', '.join(missing)} are"
                )
                yield diagnostic(source, "SCH02", path, f"{what} missing.", ways, at_key=bool(path))
        case "type":
            kind = schema.get("x-quantity") or schema.get("x-toleranced")
            if kind and isinstance(value, (int, float)) and not isinstance(value, bool):
                message = f"{value} has no unit."
                yield diagnostic(
                    source, "QTY01", path, message, (f"Write number and unit.{_example(schema)}",)
                )
                return
            wanted = error.validator_value
            wanted = [wanted] if isinstance(wanted, str) else wanted
            message = f"Here stands {_sort(value)}; wanted is {' or '.join(_SORTS[w] for w in wanted)}."
            yield diagnostic(
                source, "SCH03", path, message, (f"{schema.get('description', '')}{_example(schema)}",)
            )
        case "enum" | "const":
            choices = [error.validator_value] if error.validator == "const" else error.validator_value
            words = [str(c) for c in choices]
            close = nearest(str(value), words) if isinstance(value, str) else None
            ways = ((f"Did you mean {close}?",) if close else ()) + (f"Choices: {', '.join(words)}.",)
            shown = short(value) if isinstance(value, str) else _sort(value)
            yield diagnostic(source, "SCH04", path, f"{shown} is not among the choices.", ways)
        case "anyOf":
            branches = [e for e in error.context if e.validator != "type" or list(e.relative_path)]
            if branches:
                for inner in branches:
                    yield from _explained(source, inner)
            else:
                yield diagnostic(
                    source, "SCH03", path, f"Here stands {_sort(value)}, which does not fit.",
                    (str(schema.get("description", "")),),
                )  # fmt: skip
        case "pattern" if schema.get("x-date"):
            return  # told where the marked values are read
        case _:
            trouble = {
                "minLength": "is empty or too short",
                "maxLength": "is too long",
                "minItems": "has too few entries",
                "maxItems": "has too many entries",
                "minimum": "is too small",
                "exclusiveMinimum": "is too small",
                "maximum": "is too large",
                "minProperties": "is empty",
                "maxProperties": "has too many entries",
                "pattern": "has characters or a form that this key does not take",
            }.get(error.validator, "does not fit")
            limit = "" if error.validator == "pattern" else f" (limit {error.validator_value})"
            subject = str(value)[:60] if isinstance(value, (str, int, float)) else ""
            bound = {"minimum": "or more", "maximum": "or less"}.get(error.validator)
            lead = f"Write {error.validator_value} {bound}. " if bound else ""
            yield diagnostic(
                source, "SCH05", path, f"{subject or 'What stands here'} {trouble}{limit}.",
                (f"{lead}{schema.get('description', '')}{_example(schema)}",),
            )  # fmt: skip


def validate(
    source: Source,
    schema: str,
    definition: str | None = None,
    names: Mapping[str, Collection[str]] | None = None,
) -> list[Diagnostic]:
    """Check a source against a published schema and read all that the schema marks.

    `names` gives the known keys of each kind of reference data; a kind that is not in it is not checked.
    Returns every problem of the file; an empty list means that stage 3 may take the data as it stands.
    """
    found: list[Diagnostic] = []
    fits = _gate(schema, definition).is_valid(source.data)
    if not fits:
        errors = _validator(schema, definition).iter_errors(source.data)
        found.extend(islice((d for error in errors for d in _explained(source, error)), MOST_FAULTS))
    found.extend(islice(_read_marked(source, schema, definition, names or {}), MOST_FAULTS))
    if not fits and not found and (unlike := misfit(source.data, schema, definition)) is not None:
        # The two validators disagree; what the strict one refuses is never let through.
        found.append(diagnostic(source, "SCH05", (), f"What stands here does not fit: {short(unlike)}."))
    return list(dict.fromkeys(found))
