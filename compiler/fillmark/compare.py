"""Two revisions of a method by meaning: what changed, what it does to the figures, and what follows.

Values are compared as what they mean: 8 Pa·s is 8000 mPa·s, an entry of a list is known by its name, and the
order of keys says nothing. Each change has a class by the table `CLASSES`; the heaviest is that of the whole
and says what it triggers at the bench. Whether the old results and limits still hold is judged for each
result from what sets the flow, the temperature, the sample's history and the calculation.

Each side brings the reference data and site policy it was compiled with. Two files of one workspace share
them; a released bundle brings those it was released with, and what differs in the entries a method uses is a
change like any other.
"""

import json
import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from math import isclose, sqrt
from typing import Any

from fillmark.derive.run import read_time
from fillmark.diagnostics import Diagnostic, Path, Severity, Span, in_reading_order
from fillmark.digest import used
from fillmark.figures import Figures
from fillmark.locate import schemas_folder
from fillmark.model import Container, Method, Step
from fillmark.pipeline import Compiled
from fillmark.quantities import Quantity, QuantityError, brief, parse, parse_toleranced
from fillmark.read import Source

CODES: dict[str, tuple[str, str]] = {
    "CMP01": (
        "change-classed-too-low",
        "The history gives a change a class below that of what was changed.",
    ),
    "CMP02": (
        "revision-not-raised",
        "A technical value differs from that of a released revision, and the revision number is not higher.",
    ),
    "CMP03": (
        "change-without-class",
        "A technical change of which the history says neither class nor reason.",
    ),
    "CMP04": (
        "new-property-old-limits",
        "A result is measured under other conditions, so it is another property, and its limits are the old ones.",
    ),
    "CMP05": ("waiver-lapses", "A waiver kept as it was although what it rests on has changed."),
}

EDITORIAL, PARAMETER, GEOMETRY, CALCULATION = "editorial", "parameter", "geometry", "calculation"
RANKS = (EDITORIAL, PARAMETER, GEOMETRY, CALCULATION)
"""The classes, lightest first."""
TRIGGERS: Mapping[str, str] = {
    EDITORIAL: "notify",
    PARAMETER: "supervised run",
    GEOMETRY: "full competency",
    CALCULATION: "full competency",
}
"""What each class asks of those who run the method: a project decision."""
MEANINGS: Mapping[str, str] = {
    "notify": "tell those who run the method; nothing they do changes",
    "supervised run": "each operator makes one run by the new text under supervision before running alone",
    "full competency": "each operator shows competency anew: observed steps, results against a known value",
}
"""What each trigger means to those who run the method."""

_WORDS = "says who, when or why, and changes nothing that is done or worked out"
_HANDS = "changes what is done at the bench, not how the sample flows"
_JUDGED = "changes what the result is judged by, not how it is got"
_KNOWN = "changes what the figures and the cautions rest on"
_FLOW = "sets how the sample flows round the spindle"
_NUMBER = "changes how the reported number comes about"
_OWN_FIGURE = "a figure the author wrote beside the computed one, which alone is used"

CLASSES: tuple[tuple[str, str, str], ...] = (
    *((p, EDITORIAL, _WORDS) for p in (
        "fillmark", "id", "title", "revision", "status", "demonstration", "effective", "review_by", "people",
        "based_on", "complies_with", "changes", "notes", "waivers", "retention", "evidence", "guard_continuity",
        "product.name", "coefficient.evidence", "coefficient.expires", "container.label",
    )),
    *((p, EDITORIAL, _OWN_FIGURE) for p in ("run.*.factor", "run.*.full_scale", "run.*.shear_rate")),
    ("purpose", PARAMETER, _JUDGED),
    ("product", PARAMETER, _KNOWN),
    ("specification", PARAMETER, _JUDGED),
    ("specification.*.decision_rule", CALCULATION, "changes how the result is compared with its limits"),
    ("instrument", PARAMETER, "changes range, accuracy or handling of the instrument, not the flow"),
    ("instrument.stand", GEOMETRY, "a helical stand moves the spindle through the sample while it reads"),
    ("instrument.rise_rate", GEOMETRY, "sets how the spindle moves through the sample while it reads"),
    ("spindle", GEOMETRY, _FLOW),
    ("spindle.marking", PARAMETER, "changes which piece is looked for in the drawer"),
    ("guard", GEOMETRY, _FLOW),
    ("guard_form", GEOMETRY, _FLOW),
    ("coefficient", CALCULATION, _NUMBER),
    ("container", GEOMETRY, _FLOW),
    ("sample", PARAMETER, _HANDS),
    ("immersion", PARAMETER, _HANDS),
    *((p, GEOMETRY, _FLOW) for p in ("immersion.to", "immersion.depth", "immersion.direction")),
    ("temperature", PARAMETER, _HANDS),
    ("run", PARAMETER, "changes a speed, a time or the order of the run"),
    ("replicates", PARAMETER, "changes how many results there are and when they agree"),
    ("verification", PARAMETER, "changes the check of the instrument, not the measurement"),
    ("report", CALCULATION, _NUMBER),
    ("result_type", CALCULATION, "changes what the reported number may be compared with"),
    ("equipment", PARAMETER, _HANDS),
    ("cleaning", PARAMETER, _HANDS),
    ("training", PARAMETER, "changes who may run the method"),
)  # fmt: skip
"""Where a value stands, its class, and why: the longest path that fits counts. A project decision."""

_MATCHED_BY = {("run",): "name", ("specification",): "result", ("report",): "result", ("waivers",): "rule",
               ("changes",): "revision"}  # fmt: skip
_IN_ORDER = (("run",), ("report", "*", "ratio"))
_LEFT_OUT: Mapping[str, object] = {"result_type": "apparent", "temperature.recheck": True}
"""What is taken where nothing is written; for any other yes or no it is no."""

_PIECE = "tells of the piece that the sample flows round or stands in: judge whether it is another piece"
REFERENCE_CLASSES: tuple[tuple[str, str, str], ...] = (
    ("springs", PARAMETER, _KNOWN),
    ("springs.*.full_scale", CALCULATION, _NUMBER),
    ("spindles", GEOMETRY, _PIECE),
    ("spindles.*.coefficient", CALCULATION, _NUMBER),
    *((f"spindles.*.{key}", PARAMETER, _KNOWN) for key in ("springs", "guard", "relative", "twin")),
    ("guards", GEOMETRY, _PIECE),
    *((f"guards.*.{key}", PARAMETER, _KNOWN) for key in ("couplings", "springs")),
    ("couplings", PARAMETER, _HANDS),
    ("containers", GEOMETRY, _PIECE),
    ("fluids", PARAMETER, "changes the check of the instrument, not the measurement"),
    *((f"{kind}.*.{key}", EDITORIAL, "says how a value is known, and changes none")
      for kind in ("springs", "spindles", "guards", "couplings", "containers", "fluids")
      for key in ("source", "known")),
    ("containers.*.label", EDITORIAL, _WORDS),
    ("policy", PARAMETER, "a figure of the method rests on it"),
)  # fmt: skip
"""The same for the reference data a method uses. A project decision."""
_LONG_WORD = 5
"""Letters from which on a word may be the spelling of another: a project decision."""

_SPEEDWISE = (
    "full_scale", "tolerance", "torque_lower", "torque_target", "torque_upper", "torque_lower_worst",
    "torque_upper_worst", "read_at", "read_end", "revolutions", "customary_wait", "wind_up", "fraction",
    "preshear_torque", "shear_rate", "reynolds", "vortex_viscosity", "instrument_ratio", "uncertainty",
    "uncertainty_ratio", "guarded_lower", "guarded_upper",
)  # fmt: skip
_WHOLE = (
    "coefficient", "coefficient.ratio", "accuracy", "bench_time", "pot_life_used", "temperature.lower",
    "temperature.upper", "temperature.swing", "conditioning.residual", "conditioning.needed",
    "temperature.drift", "container.level", "container.level_needed", "container.bottom_clearance",
    "container.cover", "container.free_board", "container.side_clearance", "container.guard_clearance",
    "container.wall_shift", "immersion.effect", "sample.mass", "replicates.critical_range", "replicates.agree",
    "replicates.good_sets_failing", "verification.torque", "verification.lower", "verification.upper",
    "verification.temperature_share",
)  # fmt: skip

_WHOLE_FILE = "the whole file"


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two files."""

    file: str
    id: str
    revision: int
    status: str


@dataclass(frozen=True, slots=True)
class Changed:
    """One value that differs, or that is the same and written otherwise."""

    path: str
    """By names, such as run.viscosity_20.speed; those of the later file."""
    title: str
    kind: str
    """changed, added, removed, renamed; reordered and rewritten mean the same as before."""
    before: str | None
    after: str | None
    klass: str
    why: str
    """Why it has this class."""
    before_span: Span | None
    after_span: Span | None

    @property
    def technical(self) -> bool:
        """Whether more than wording changed."""
        return self.klass != EDITORIAL


@dataclass(frozen=True, slots=True)
class Moved:
    """A figure that reads otherwise; a text is None where the figure is not known on that side."""

    key: str
    title: str
    before: str | None
    after: str | None
    factor: float | None
    """After over before; None where there is no such number."""
    note: str


@dataclass(frozen=True, slots=True)
class History:
    """Whether the results of one name go on, and why not."""

    result: str
    state: str
    """continued, broken, new, ended"""
    flow: tuple[str, ...] = ()
    """What makes another property of it: flow, temperature, history of the sample."""
    calculation: tuple[str, ...] = ()
    """What makes another number of the same property."""
    mind: tuple[str, ...] = ()
    """What breaks nothing and shows in the results all the same, or what a person must judge."""

    @property
    def why(self) -> tuple[str, ...]:
        """Say all that breaks it."""
        return (*self.flow, *self.calculation)


@dataclass(frozen=True, slots=True)
class Comparison:
    """All that is said of two revisions."""

    before: Side
    after: Side
    changes: tuple[Changed, ...]
    figures: tuple[Moved, ...]
    klass: str | None
    """The heaviest class; None where nothing was changed."""
    histories: tuple[History, ...]
    spring: str
    """What a change of the spring does; empty where it is the same."""
    diagnostics: tuple[Diagnostic, ...]
    findings_new: tuple[Diagnostic, ...]
    """What the check finds in the later file only."""
    findings_gone: tuple[Diagnostic, ...]
    """What the check found in the earlier file only."""

    @property
    def technical(self) -> bool:
        """Whether more than wording changed."""
        return self.klass not in (None, EDITORIAL)

    @property
    def trigger(self) -> str | None:
        """What the change asks of those who run the method."""
        return None if self.klass is None else TRIGGERS[self.klass]

    @property
    def found(self) -> bool:
        """Whether there is anything a reviewer must act on."""
        return bool(self.diagnostics) or any(d.waived_by is None for d in self.findings_new)


def compare(before: Compiled, after: Compiled) -> Comparison:
    """Compare two files that were compiled, each with its own reference data; ValueError for one that was not."""
    one, two = _Known(before), _Known(after)
    names = _renamed(one.method, two.method)
    changes = (*_changes(one, two, names), *_reference_changes(one, two))
    if not changes and one.source.text != two.source.text:
        why = "comments, layout or the order of keys within an entry"
        changes = (
            Changed(_WHOLE_FILE, "Way it is written", "rewritten", None, None, EDITORIAL, why, None, None),
        )
    classes = [c.klass for c in changes]
    klass = max(classes, key=RANKS.index) if classes else None
    histories = tuple(_histories(one.method, two.method, names))
    appeared, vanished = _findings(before, after, names)
    comparison = Comparison(
        _side(one.method), _side(two.method), changes, tuple(_moved(one, two, names)), klass, histories,
        _spring(one, two, histories, names), (), appeared, vanished,
    )  # fmt: skip
    judged = [
        *_too_low(two, comparison), *_not_raised(two, comparison), *_old_limits(one, two, histories, names),
        *_lapsed(one, two, names),
    ]  # fmt: skip
    return replace(comparison, diagnostics=tuple(in_reading_order(judged)))


class _Known:
    """A compiled file with all of its parts at hand."""

    __slots__ = ("compiled", "figures", "method", "source")

    def __init__(self, compiled: Compiled) -> None:
        if compiled.method is None or compiled.figures is None or compiled.source is None:
            raise ValueError(f"{compiled.file} did not compile")
        self.compiled: Compiled = compiled
        self.method: Method = compiled.method
        self.figures: Figures = compiled.figures
        self.source: Source = compiled.source


def _side(m: Method) -> Side:
    return Side(m.file, m.id, m.revision, m.status)


# --- names


Names = Mapping[str, str]
"""Old name of a result -> its new name, for those that were renamed."""


def _renamed(a: Method, b: Method) -> dict[str, str]:
    """Find results that are there under another name: same content, or the only ones left at the same place."""
    names: dict[str, str] = {}
    for here, there in (
        ({s.name: (i, _but_name(a.data["run"][i])) for i, s in enumerate(a.run)},
         {s.name: (i, _but_name(b.data["run"][i])) for i, s in enumerate(b.run)}),
        ({r.result: (i, [names.get(n, n) for n in r.ratio]) for i, r in enumerate(a.report) if r.ratio},
         {r.result: (i, list(r.ratio)) for i, r in enumerate(b.report) if r.ratio}),
    ):  # fmt: skip
        gone = {n: v for n, v in here.items() if n not in there}
        come = {n: v for n, v in there.items() if n not in here}
        for old, (_, content) in list(gone.items()):
            same = [n for n, (_, c) in come.items() if c == content]
            if len(same) == 1 and sum(c == content for _, c in gone.values()) == 1:
                names[old] = same[0]
                del gone[old], come[same[0]]
        if len(gone) == len(come) == 1:
            [(old, (place, _))], [(new, (now, _))] = gone.items(), come.items()
            if place == now:
                names[old] = new
    return names


def _but_name(step: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in step.items() if key != "name"}


def _by_new_names(text: str, names: Names) -> str:
    """Put new names of results into a text that uses the old ones."""
    if not names:
        return text
    words = "|".join(sorted(map(re.escape, names), key=len, reverse=True))
    return re.sub(rf"(?<!\w)({words})(?!\w)", lambda found: names[found[1]], text)


# --- values


@dataclass(frozen=True, slots=True)
class _Leaf:
    """A value with where it stands in the file."""

    value: Any
    real: Path


Stable = tuple[str, ...]
"""A path by names in place of list positions."""


def _leaves(m: Method, names: Names, *, whole_container: bool) -> dict[Stable, _Leaf]:
    found: dict[Stable, _Leaf] = {}

    def walk(value: Any, at: Stable, real: Path) -> None:
        if at == ("spindle",) and isinstance(value, Mapping):
            for key, inner in value.items():
                walk(inner, at if key == "name" else (*at, key), (*real, key))
        elif at == ("container",) and whole_container:
            for key, inner in _numbers(m.container).items():
                there = isinstance(value, Mapping) and key in value
                found[*at, key] = _Leaf(inner, (*real, key) if there else real)
        elif isinstance(value, Mapping):
            for key, inner in value.items():
                if at[:1] != () and (at[0],) in _MATCHED_BY and len(at) == 2 and key == _MATCHED_BY[(at[0],)]:
                    continue
                walk(inner, (*at, str(key)), (*real, key))
        elif isinstance(value, (list, tuple)) and at in _MATCHED_BY:
            taken: dict[str, int] = {}
            for index, entry in enumerate(value):
                name = str(entry[_MATCHED_BY[at]])
                name = names.get(name, name)
                taken[name] = taken.get(name, 0) + 1
                known = name if taken[name] == 1 else f"{name}#{taken[name]}"
                walk(entry, (*at, known), (*real, index))
        elif isinstance(value, (list, tuple)):
            found[at] = _Leaf(tuple(names.get(str(v), str(v)) for v in value), real)
        elif isinstance(value, str):
            by_name = at == ("verification", "at")
            new = names.get(value, value) if by_name else _in_placeholders(value, names)
            found[at] = _Leaf(new, real)
        else:
            found[at] = _Leaf(value, real)

    walk(m.data, (), ())
    return found


def _in_placeholders(text: str, names: Names) -> str:
    return re.sub(r"\{\{[^{}]*\}\}", lambda found: _by_new_names(found[0], names), text) if names else text


def _numbers(container: Container) -> dict[str, Any]:
    """Give what a container is, however it was named."""
    depth = container.fill_depth
    return {
        "label": container.label,
        "kind": container.kind,
        "inside_diameter": container.inside_diameter.text,
        "height": container.height.text,
        **({} if depth is None else {"fill_depth": depth.text}),
        **({"jacketed": True} if container.jacketed else {}),
    }


@cache
def _schema() -> dict[str, Any]:
    whole: dict[str, Any] = json.loads((schemas_folder() / "method.schema.json").read_text(encoding="utf-8"))
    return whole


@cache
def _shared_schema() -> dict[str, Any]:
    whole: dict[str, Any] = json.loads((schemas_folder() / "shared.schema.json").read_text(encoding="utf-8"))
    return whole


def _node(at: Stable) -> Mapping[str, Any]:
    """Find what the schema says of a value; an empty mapping where it says nothing."""
    node: Mapping[str, Any] = _schema()
    if at[0] not in node["properties"] and at[0] in _shared_schema()["$defs"]:
        node, at = _shared_schema()["$defs"][at[0]], at[1:]
    for part in at:
        if node.get("type") == "array":
            node = node["items"]  # this part of the path is the name of an entry
            continue
        choices = (node, *node.get("anyOf", ()))
        inner = next((c["properties"][part] for c in choices if part in c.get("properties", {})), None)
        if inner is None:
            free = node.get("additionalProperties")
            inner = free if isinstance(free, Mapping) else {}
        node = inner
    return node


def title_of(at: Stable) -> str:
    """Name a value by the first words of its description in the schema, or by its key."""
    said = re.split(r"[.,:;(]", _node(at).get("description", ""), maxsplit=1)[0].strip()
    return said if 0 < len(said) <= 60 else at[-1].replace("_", " ")


def class_of(at: Stable) -> tuple[str, str]:
    """Give the class of a change at a path by names, and why; KeyError for a path the table does not hold."""
    best: tuple[int, str, str] | None = None
    for pattern, klass, why in (*CLASSES, *REFERENCE_CLASSES):
        parts = pattern.split(".")
        fits = len(parts) <= len(at) and all(p in ("*", a) for p, a in zip(parts, at, strict=False))
        if fits and (best is None or len(parts) > best[0]):
            best = (len(parts), klass, why)
    if best is None:
        raise KeyError(".".join(at))
    return best[1], best[2]


def _same(at: Stable, a: Any, b: Any) -> bool:
    """Say whether two values mean the same."""
    if isinstance(a, tuple) and isinstance(b, tuple):
        in_order = at[0] == "report"
        return a == b if in_order else sorted(a) == sorted(b)
    if isinstance(a, str) and isinstance(b, str):
        node = _node(at)
        if "x-toleranced" in node:
            left, right = (parse_toleranced(t, node["x-toleranced"]) for t in (a, b))
            return _equal(left.value, right.value) and _equal(left.tolerance, right.tolerance)
        if "x-quantity" in node:
            return _equal(_parsed(a, node["x-quantity"]), _parsed(b, node["x-quantity"]))
        return a == b or _only_spelling(a, b)
    if _is_number(a) and _is_number(b):
        return float(a) == float(b)
    return type(a) is type(b) and bool(a == b)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _parsed(text: str, kinds: str) -> Quantity:
    *others, last = kinds.split("|")
    for kind in others:
        try:
            return parse(text, kind)
        except QuantityError:
            continue
    return parse(text, last)


def _equal(a: Quantity, b: Quantity) -> bool:
    return a.kind == b.kind and isclose(a.value, b.value, rel_tol=1e-9)


def _only_spelling(a: str, b: str) -> bool:
    """Say whether two texts differ in space, case or the spelling of long words only, and in no number."""
    left, right = a.casefold().split(), b.casefold().split()
    if " " not in a.strip() or len(left) != len(right):
        return False
    for one, two in zip(left, right, strict=True):
        short, other = one.strip(".,;:!?"), two.strip(".,;:!?")
        if short == other:
            continue
        if not (short.isalpha() and other.isalpha() and min(len(short), len(other)) >= _LONG_WORD):
            return False
        # `covered` and `uncovered` are alike too: a word that begins otherwise is another word.
        if short[0] != other[0] or not _one_slip(short, other):
            return False
    return True


def _one_slip(one: str, other: str) -> bool:
    """Say whether a letter is missing or two neighbours are exchanged; another letter makes another word: sulfite."""
    short, long = sorted((one, other), key=len)
    if len(short) == len(long):
        apart = [i for i, (a, b) in enumerate(zip(one, other, strict=True)) if a != b]
        return len(apart) == 2 and apart[1] == apart[0] + 1 and sorted(one) == sorted(other)
    return any(long[:i] + long[i + 1 :] == short for i in range(len(long)))


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(value) if value else "none"
    return " ".join(str(value).split())


# --- changes


def _changes(one: _Known, two: _Known, names: Names) -> Iterator[Changed]:
    apart = not (
        isinstance(one.method.data["container"], str) and isinstance(two.method.data["container"], str)
    )
    old = _leaves(one.method, names, whole_container=apart)
    new = _leaves(two.method, {}, whole_container=apart)
    for was, now in names.items():
        step = two.method.step(now)
        real_b: Path = (*step.path, "name") if step is not None else _line_path(two.method, now)
        before = one.method.step(was)
        real_a: Path = (*before.path, "name") if before is not None else _line_path(one.method, was)
        yield Changed(
            f"{'run' if step is not None else 'report'}.{now}", "Name of the result", "renamed", was, now, EDITORIAL,
            "another name for what is measured and worked out alike", one.source.span(real_a), two.source.span(real_b),
        )  # fmt: skip
    told: set[Stable] = set()
    order = [*new, *(p for p in old if p not in new)]
    top = list(_schema()["properties"])
    for at in sorted(order, key=lambda p: top.index(p[0])):
        if at in old and at in new:
            change = _of_two(at, old[at], new[at], one.source, two.source)
            if change is not None:
                yield change
            continue
        there, absent = (new, old) if at in new else (old, new)
        block = _block(at, absent)
        if block not in told:
            told.add(block)
            inside = {p: v for p, v in there.items() if p[: len(block)] == block}
            yield _of_one(block, inside, one.source, two.source, added=at in new)
    yield from _order(one, two, names)


def _reference_changes(one: _Known, two: _Known) -> Iterator[Changed]:
    """List what differs in the reference data that both methods use, and in the site policy."""
    a, b = one.method, two.method
    if a.reference is b.reference:
        return
    for kind, key in sorted(used(a) & used(b)):
        old, new = (dict(_entry_leaves(m.reference.raw[kind][key], (kind, key))) for m in (a, b))
        yield from _of_entries(old, new)
    resting = {
        where
        for known in (one, two)
        for figure in known.figures.values()
        for _, where in figure.inputs
        if isinstance(where, str)
    }
    for change in _of_entries(*(_policy_leaves(m) for m in (a, b))):
        if change.path in resting:
            yield change
        elif change.kind == "changed":  # one that comes or goes does so with the version of Fillmark
            why = "the rules judge by it; no figure of the method rests on it"
            yield replace(change, klass=EDITORIAL, why=why)


def _policy_leaves(m: Method) -> dict[Stable, Any]:
    policy = m.reference.policy
    return {("policy", key): text for key, text in {"version": policy.version, **policy.texts}.items()}


def _entry_leaves(value: Any, at: Stable) -> Iterator[tuple[Stable, Any]]:
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _entry_leaves(inner, (*at, str(key)))
    else:
        yield at, tuple(map(str, value)) if isinstance(value, list) else value


def _of_entries(old: Mapping[Stable, Any], new: Mapping[Stable, Any]) -> Iterator[Changed]:
    for at in dict.fromkeys((*old, *new)):
        if at in old and at in new and (old[at] == new[at] or _same(at, old[at], new[at])):
            continue
        klass, why = class_of(at)
        before, after = (None if at not in side else _text(side[at]) for side in (old, new))
        kind = "changed" if at in old and at in new else "added" if at in new else "removed"
        yield Changed(".".join(at), title_of(at), kind, before, after, klass, why, None, None)


def _line_path(m: Method, result: str) -> Path:
    return next(((*r.path, "result") for r in m.report if r.result == result), ("report",))


def _block(at: Stable, other: Mapping[Stable, _Leaf]) -> Stable:
    """Find the whole of which the other file has nothing: a step, not each of its values."""
    for length in range(1, len(at)):
        if not any(p[:length] == at[:length] for p in other):
            return at[:length]
    return at


def _classed(at: Stable, before: Any, after: Any) -> tuple[str, str]:
    if at == ("instrument", "stand") and "helical" not in (before, after):
        return PARAMETER, "changes how the spindle is set to height; it stands still while it reads"
    return class_of(at)


def _of_two(at: Stable, a: _Leaf, b: _Leaf, one: Source, two: Source) -> Changed | None:
    if type(a.value) is type(b.value) and a.value == b.value:
        return None
    spans = one.span(a.real), two.span(b.real)
    path, before, after = ".".join(at), _text(a.value), _text(b.value)
    if not _same(at, a.value, b.value):
        klass, why = _classed(at, a.value, b.value)
        return Changed(path, title_of(at), "changed", before, after, klass, why, *spans)
    if isinstance(a.value, tuple):
        return Changed(
            path, title_of(at), "reordered", before, after, EDITORIAL, "the order says nothing here", *spans
        )
    if before == after:
        return None
    return Changed(path, title_of(at), "rewritten", before, after, EDITORIAL, "means the same", *spans)


def _of_one(
    block: Stable, inside: Mapping[Stable, _Leaf], one: Source, two: Source, *, added: bool
) -> Changed:
    leaf = inside.get(block)
    source = two if added else one
    span = source.span(next(iter(inside.values())).real[: len(block)])
    spans: tuple[Span | None, Span | None] = (None, span) if added else (span, None)
    text = (
        _text(leaf.value) if leaf is not None
        else ", ".join(f"{' '.join(p[len(block):]).replace('_', ' ')} {_text(v.value)}" for p, v in inside.items())
    )  # fmt: skip
    texts: tuple[str | None, str | None] = (None, text) if added else (text, None)
    path, kind = ".".join(block), "added" if added else "removed"
    if leaf is not None and _taken_anyway(block, leaf.value):
        why = "the same as when it is left out"
        return Changed(path, title_of(block), "rewritten", *texts, EDITORIAL, why, *spans)
    klass, why = max(
        (_classed(p, v.value, v.value) for p, v in inside.items()), key=lambda found: RANKS.index(found[0])
    )
    title = title_of(block) if leaf is not None or len(block) < 2 else _entry(block)
    return Changed(path, title, kind, *texts, klass, why, *spans)


def _entry(block: Stable) -> str:
    kinds = {
        "run": "A speed of the run",
        "specification": "Limits of one result",
        "report": "A reported result",
    }
    return kinds.get(block[0], title_of(block)) if len(block) == 2 else title_of(block)


def _taken_anyway(at: Stable, value: Any) -> bool:
    path = ".".join(at)
    return value == _LEFT_OUT[path] if path in _LEFT_OUT else value is False


def _order(one: _Known, two: _Known, names: Names) -> Iterator[Changed]:
    """Tell of steps that are run in another order, and of what merely stands in another order."""
    was = [names.get(s.name, s.name) for s in one.method.run]
    now = [s.name for s in two.method.run]
    kept = ([n for n in was if n in now], [n for n in now if n in was])
    spans = one.source.span(("run",), key=True), two.source.span(("run",), key=True)
    if kept[0] != kept[1]:
        klass, why = class_of(("run",))
        yield Changed(
            "run",
            "Order of the speeds",
            "changed",
            ", ".join(kept[0]),
            ", ".join(kept[1]),
            klass,
            why,
            *spans,
        )
    for path in _moved_keys(one.method.data, two.method.data, names):
        key = ".".join(map(str, path)) or _WHOLE_FILE
        yield Changed(
            key, "Order of the entries", "reordered", None, None, EDITORIAL, "the order says nothing here",
            one.source.span(path, key=True), two.source.span(path, key=True),
        )  # fmt: skip


def _moved_keys(a: Any, b: Any, names: Names, path: Path = ()) -> Iterator[Path]:
    """Find blocks and lists whose common entries stand in another order; the run, where order tells, is left out."""
    if isinstance(a, Mapping) and isinstance(b, Mapping):
        if [k for k in a if k in b] != [k for k in b if k in a]:
            yield path
        for key in b:
            if key in a:
                yield from _moved_keys(a[key], b[key], names, (*path, key))
    elif isinstance(a, (list, tuple)) and isinstance(b, (list, tuple)) and path in _MATCHED_BY:
        key = _MATCHED_BY[path]
        was, now = [names.get(str(e[key]), str(e[key])) for e in a], [str(e[key]) for e in b]
        if path not in _IN_ORDER and [n for n in was if n in now] != [n for n in now if n in was]:
            yield path


# --- figures


def _moved(one: _Known, two: _Known, names: Names) -> Iterator[Moved]:
    old_names = {new: old for old, new in names.items()}
    limits = two.method.reference.policy
    steps = {s.name: None for s in (*two.method.run, *one.method.run) if s.name not in names}
    results = {r.result: None for r in two.method.report}
    keys = [
        *((f"run.{n}.{what}", f"run.{old_names.get(n, n)}.{what}") for n in steps for what in _SPEEDWISE),
        *((f"{topic}{n}{what}", f"{topic}{old_names.get(n, n)}{what}")
          for n in results for topic, what in (
              ("report.", ".uncertainty"), ("report.", ".ratio"), ("temperature.share.", ""))),
        *((key, key) for key in _WHOLE),
    ]  # fmt: skip
    for new, old in keys:
        a, b = one.figures.get(old), two.figures.get(new)
        if a is None and b is None:
            continue
        if a is not None and b is not None and (isclose(a.value, b.value, rel_tol=1e-9) or a.text == b.text):
            continue
        shown = b if b is not None else a
        if shown is None:
            continue
        factor = None
        if a is not None and b is not None and a.value * b.value > 0 and shown.unit != "°C":
            factor = b.value / a.value
        note = ""
        if ".torque_" in new and new.startswith("run.") and b is not None:
            was = a.value if a is not None else 50.0
            if b.value > 100 >= was:
                note = "now impossible: above full scale"
            elif b.value < limits["torque_floor"] <= was:
                note = f"now below the torque floor of {limits.texts['torque_floor']}"
        elif b is None:
            note = two.figures.open.get(new, "does not apply any more")
        step = new.split(".")[1] if new.startswith(("run.", "report.")) else ""
        title = f"{step}: {shown.title}" if step else shown.title
        yield Moved(new, title, None if a is None else a.text, None if b is None else b.text, factor, note)


# --- history


def _histories(a: Method, b: Method, names: Names) -> Iterator[History]:
    old_names = {new: old for old, new in names.items()}
    now = _results(b)
    before = {names.get(r, r): r for r in _results(a)}
    for result in now:
        was = old_names.get(result, result)
        if result not in before:
            yield History(result, "new")
            continue
        pairs = list(zip(_steps_of(a, was), _steps_of(b, result), strict=False))
        flow, mind = _flow(a, b), _to_mind(a, b, was, result)
        calculation = list(_calculated(a, b, was, result, names))
        for x, y in pairs:
            prefix = f"{y.name}: " if len(pairs) > 1 else ""
            flow += [f"{prefix}{why}" for why in _speed(x, y)]
        if a.product.newtonian and b.product.newtonian:
            free = [why for why in flow if why.split(": ")[-1].startswith(("spindle ", "speed "))]
            flow = [why for why in flow if why not in free]
            mind += [
                f"{why}; the product is declared Newtonian, so runs side by side must agree" for why in free
            ]
        flow += _temperature(a, b)
        told = _sample(a, b, pairs, names)
        if a.product.has_history or b.product.has_history:
            flow += told
        elif "unknown" in (a.product.behaviour, b.product.behaviour):
            mind += [f"{why}; it tells if the product turns out to remember its treatment" for why in told]
        state = "broken" if flow or calculation else "continued"
        yield History(
            result, state, tuple(dict.fromkeys(flow)), tuple(calculation), tuple(dict.fromkeys(mind))
        )
    for result in before:
        if result not in now:
            yield History(result, "ended")


def _results(m: Method) -> list[str]:
    return list(dict.fromkeys([*(s.result for s in m.specification), *(r.result for r in m.report)]))


def _steps_of(m: Method, result: str) -> list[Step]:
    line = next((r for r in m.report if r.result == result), None)
    names = line.ratio if line is not None and line.ratio is not None else (result,)
    return [s for s in map(m.step, names) if s is not None]


def _instead(what: str, after: str, before: str) -> str:
    return f"{what} {after} instead of {before}"


def _written(q: Quantity | None) -> str:
    return "none" if q is None else q.text


def _differ(a: Quantity | None, b: Quantity | None) -> bool:
    return (a is None) != (b is None) or (a is not None and b is not None and not _equal(a, b))


def _flow(a: Method, b: Method) -> list[str]:
    """List what sets the flow for every speed alike and differs."""
    found = []
    if a.spindle.key != b.spindle.key:
        found.append(_instead("spindle", b.spindle.key, a.spindle.key))
    if a.guard != b.guard:
        found.append(_instead("guard", b.guard, a.guard))
    x, y = a.container, b.container
    if (
        x.kind != y.kind
        or _differ(x.inside_diameter, y.inside_diameter)
        or _differ(x.fill_depth, y.fill_depth)
    ):
        found.append(_instead("container", *(f"{c.label} ({c.inside_diameter.text} inside)" for c in (y, x))))
    if a.immersion.to != b.immersion.to:
        found.append(_instead("immersion", b.immersion.to, a.immersion.to))
    elif _differ(a.immersion.depth, b.immersion.depth):
        found.append(_instead("immersion depth", _written(b.immersion.depth), _written(a.immersion.depth)))
    helical = "helical" in (a.instrument.stand, b.instrument.stand)
    if helical and a.instrument.stand != b.instrument.stand:
        found.append(_instead("stand", b.instrument.stand, a.instrument.stand))
    elif helical and _differ(a.instrument.rise_rate, b.instrument.rise_rate):
        found.append(
            _instead("rise rate", _written(b.instrument.rise_rate), _written(a.instrument.rise_rate))
        )
    if helical and a.immersion.direction != b.immersion.direction:
        found.append(
            _instead(
                "way of the stand", b.immersion.direction or "not said", a.immersion.direction or "not said"
            )
        )
    return found


def _speed(a: Step, b: Step) -> list[str]:
    return [_instead("speed", b.speed.text, a.speed.text)] if _differ(a.speed, b.speed) else []


def _temperature(a: Method, b: Method) -> list[str]:
    x, y = a.temperature.target.value, b.temperature.target.value
    if not _differ(x, y):
        return []
    sensitivity = b.product.temperature_sensitivity
    shift = ""
    if sensitivity is not None:
        amount = abs(y.value - x.value) * sensitivity.value
        shift = f" (reads about {brief(amount, 2)} % {'lower' if y.value > x.value else 'higher'})"
    return [_instead("temperature", y.text, x.text) + shift]


def _digits(text: str | None) -> list[str]:
    return re.findall(r"\d+(?:\.\d+)?", text or "")


def _sample(a: Method, b: Method, pairs: Sequence[tuple[Step, Step]], names: Names) -> list[str]:
    """List what a product that remembers its treatment has gone through and differs."""
    x, y = a.sample, b.sample
    found = []
    if _digits(x.preparation) != _digits(y.preparation):
        found.append("the numbers in the preparation of the sample differ")
    if _differ(x.rest, y.rest):
        found.append(_instead("rest", _written(y.rest), _written(x.rest)))
    ages = [None if s.age is None else s.age.value for s in (x, y)]
    if _differ(*ages):
        found.append(_instead("age", _written(ages[1]), _written(ages[0])))
    if a.replicates.each != b.replicates.each:
        found.append(_instead("replicates by", b.replicates.each, a.replicates.each))
    stirred = [m.temperature.conditioning is not None and m.temperature.conditioning.stirred for m in (a, b)]
    if stirred[0] != stirred[1]:
        found.append(f"the sample is {'now' if stirred[1] else 'no longer'} stirred while it is conditioned")
    for old, new in pairs:
        prefix = f"{new.name}: " if len(pairs) > 1 else ""
        times = read_time(old), read_time(new)
        if _reading(old) != _reading(new):
            told = [
                "once steady" if t is None else f"at {s.read.after.text}" if s.read.after is not None
                else f"at {_written(s.read.revolutions)}"
                for t, s in zip(times, (old, new), strict=True)
            ]  # fmt: skip
            same = told[0] == told[1]
            found.append(prefix + ("another reading window" if same else _instead("read", told[1], told[0])))
        if _sheared(old) != _sheared(new):
            found.append(f"{prefix}another shearing before the reading")
        before = [_earlier(m, s, n) for m, s, n in ((a, old, names), (b, new, {}))]
        if before[0] != before[1]:
            found.append(f"{prefix}what is run before it on the same loading differs")
    return found


def _rounded(*values: float | None) -> tuple[float | None, ...]:
    return tuple(None if v is None else float(f"{v:.9g}") for v in values)


def _value(q: Quantity | None) -> float | None:
    return None if q is None else q.value


def _reading(s: Step) -> tuple[float | None, ...]:
    r = s.read
    return _rounded(read_time(s), *map(_value, (r.average, r.steady_change, r.steady_over, r.steady_at_most)))


def _sheared(s: Step) -> tuple[float | None, ...]:
    p = s.preshear
    return () if p is None else _rounded(p.speed.value, p.time.value, _value(p.rest))


def _earlier(m: Method, step: Step, names: Names) -> list[tuple[object, ...]]:
    before = m.run[: m.run.index(step)]
    return [(names.get(s.name, s.name), *_rounded(s.speed.value), _reading(s), _sheared(s)) for s in before]


def _calculated(a: Method, b: Method, was: str, now: str, names: Names) -> Iterator[str]:
    """List what makes another number of the same readings."""
    if a.result_type != b.result_type:
        yield _instead("result type", b.result_type, a.result_type)
    x, y = (next((r for r in m.report if r.result == n), None) for m, n in ((a, was), (b, now)))
    if x is not None and y is not None:
        if x.statistic != y.statistic:
            yield _instead("the result is", y.statistic or "not said", x.statistic or "not said")
        old = None if x.ratio is None else tuple(names.get(n, n) for n in x.ratio)
        if old != y.ratio:
            yield _instead("ratio", " / ".join(y.ratio or ("none",)), " / ".join(old or ("none",)))
    if a.spindle.key == b.spindle.key and (x is None or x.ratio is None):
        factor = _per_torque(b) / _per_torque(a)
        if not isclose(factor, 1, rel_tol=1e-6):
            yield f"the coefficient differs beyond the spring, by a factor of {brief(factor, 4)}"


def _per_torque(m: Method) -> float:
    """Give the coefficient in use over the full-scale torque of the spring: what the geometry alone sets."""
    if m.coefficient is not None:
        return m.coefficient.full_scale.value / m.instrument.spring.full_scale.value
    reference = m.reference.springs[m.spindle.coefficient_spring]
    return m.spindle.coefficient.value / reference.full_scale.value


def _to_mind(a: Method, b: Method, was: str, now: str) -> list[str]:
    found = []
    if a.instrument.readout != b.instrument.readout:
        found.append(
            _instead("readout", b.instrument.readout, a.instrument.readout)
            + "; run lots on both before one chart is trusted"
        )
    n, k = a.replicates.count, b.replicates.count
    if n != k:
        found.append(
            f"{k} replicates instead of {n}; a mean then scatters {brief(sqrt(n / k), 2)} times as much, and control "
            "limits must follow"
        )
    x, y = (next((r for r in m.report if r.result == name), None) for m, name in ((a, was), (b, now)))
    if x is not None and y is not None:
        if x.unit != y.unit:
            found.append(_instead("unit", y.unit or "none", x.unit or "none") + "; convert the old results")
        if _differ(x.increment, y.increment) or x.rounding != y.rounding:
            found.append("the result is rounded otherwise")
    if a.fitting_guard != b.fitting_guard and a.guarded and b.guarded:
        found.append("another form of guard goes with the coupling")
    if a.sample.preparation.split() != b.sample.preparation.split() and (
        _digits(a.sample.preparation) == _digits(b.sample.preparation)
        and (a.product.has_history or b.product.has_history)
    ):
        found.append(
            "the preparation is worded otherwise with the same numbers: judge whether hands do the same"
        )
    return found


def _spring(one: _Known, two: _Known, histories: Sequence[History], names: Names) -> str:
    a, b = one.method, two.method
    x, y = a.instrument.spring, b.instrument.spring
    if x.key == y.key:
        return ""
    factor = y.full_scale.value / x.full_scale.value
    tolerances = []
    for step in b.run:
        was = next((s.name for s in a.run if names.get(s.name, s.name) == step.name), None)
        old, new = one.figures.get(f"run.{was}.tolerance"), two.figures.get(f"run.{step.name}.tolerance")
        if old is not None and new is not None:
            tolerances.append(f"{step.name} from {old.text} to {new.text}")
    size = (
        f"Torque at full scale changes by a factor of {brief(factor, 4)}; the instrument tolerance in viscosity "
        f"becomes, for {', '.join(tolerances)}."
    )
    if any(h.flow for h in histories):
        return f"Spring {y.key} instead of {x.key}. {size} The flow changes too, by what is named under each result."
    return (
        f"Spring {y.key} instead of {x.key}. Of itself that leaves the flow as it was: the same spindle turns at the "
        f"same speed, so the same viscosity is expected. {size}"
    )


# --- findings


def _named(m: Method, path: Path, names: Names) -> Stable:
    """Give a path with names in place of list positions."""
    at: Any = m.data
    found: list[str] = []
    for part in path:
        word = str(part)
        if isinstance(at, (list, tuple)) and isinstance(part, int) and part < len(at):
            entry = at[part]
            if isinstance(entry, Mapping):
                word = str(
                    next((entry[k] for k in ("name", "result", "rule", "revision") if k in entry), part)
                )
            at = entry
        elif isinstance(at, Mapping):
            at = at.get(part)
        found.append(names.get(word, word))
    return tuple(found)


def _findings(
    before: Compiled, after: Compiled, names: Names
) -> tuple[tuple[Diagnostic, ...], tuple[Diagnostic, ...]]:
    def keyed(one: Compiled, by: Names) -> list[tuple[object, Diagnostic]]:
        m = one.method
        if m is None:
            return []
        return [
            ((d.code, _named(m, d.path, by), d.severity, d.waived_by is None), d) for d in one.diagnostics
        ]

    old, new = keyed(before, names), keyed(after, {})
    there, here = {k for k, _ in old}, {k for k, _ in new}
    return tuple(d for k, d in new if k not in there), tuple(d for k, d in old if k not in here)


# --- what a reviewer must act on


def _at(two: _Known, code: str, severity: Severity, path: Path, message: str, *ways: str) -> Diagnostic:
    return Diagnostic(
        code, CODES[code][0], severity, message, two.method.file, two.source.span(path), path, ways
    )


_NOT_WORKED_BY = ("draft", "in-review")


def _too_low(two: _Known, c: Comparison) -> Iterator[Diagnostic]:
    if not c.technical or c.klass is None or c.before.id != c.after.id:
        return
    m = two.method
    written = [x for x in m.changes if x.revision > c.before.revision or x.revision == m.revision]
    heaviest = next(x for x in c.changes if x.klass == c.klass)
    because = f"{heaviest.path} ({was_now(heaviest, at_most=60)}) {heaviest.why}"
    if not written:
        # Where the number is still that of a revision people work by, it will be the next.
        number = m.revision if c.before.status in _NOT_WORKED_BY else max(m.revision, c.before.revision + 1)
        yield _at(
            two, "CMP03", Severity.ADVICE, ("changes",),
            f"The history says nothing of revision {number}. By what was changed it is of class {c.klass}: "
            f"{because}.",
            f"Add {{revision: {number}, class: {c.klass}, reason: ...}} to changes.",
            "Or note class and reason where the laboratory keeps the history.",
        )  # fmt: skip
        return
    highest = max(written, key=lambda x: RANKS.index(x.klass))
    if RANKS.index(highest.klass) < RANKS.index(c.klass):
        follows = (
            "It asks for the same training, but the history would tell of another change than was made."
            if TRIGGERS[highest.klass] == TRIGGERS[c.klass]
            else "Operators would work by it without the training it needs."
        )
        yield _at(
            two, "CMP01", Severity.ERROR, (*highest.path, "class"),
            f"The change is classed {highest.klass} ({TRIGGERS[highest.klass]}); what was changed is of class "
            f"{c.klass} ({TRIGGERS[c.klass]}): {because}. {follows}",
            f"Write class: {c.klass}.",
            f"Or take the change of {heaviest.path} back.",
        )  # fmt: skip


def _not_raised(two: _Known, c: Comparison) -> Iterator[Diagnostic]:
    # Nobody works by a draft, so it may change under its number.
    worked_by = c.before.status not in _NOT_WORKED_BY
    if not (
        c.technical and worked_by and c.before.id == c.after.id and c.after.revision <= c.before.revision
    ):
        return
    technical = [x for x in c.changes if x.technical]
    count = f"{len(technical)} technical value{'' if len(technical) == 1 else 's'}"
    first = "; ".join(f"{x.path}: {was_now(x, at_most=60)}" for x in technical[:3])
    verb = "differs" if len(technical) == 1 else "differ"
    back = "Or, if the two files were named in the wrong order, name the earlier one first."
    keep = f"Or take back what differs from revision {c.before.revision}."
    yield _at(
        two, "CMP02", Severity.ERROR, ("revision",),
        f"{count} {verb} from revision {c.before.revision}, which is {c.before.status} ({first}"
        f"{'; ...' if len(technical) > 3 else ''}), and this is revision {c.after.revision}. A record that names the "
        "revision would not tell by which text it was made.",
        f"Write revision: {c.before.revision + 1}, with its class and reason in changes.",
        back if c.after.revision < c.before.revision else keep,
    )  # fmt: skip


def was_now(change: Changed, *, at_most: int | None = None) -> str:
    """Say what a value was and is, each text cut to `at_most` signs if given."""
    before, after = (
        None if t is None else t if at_most is None else textwrap.shorten(t, at_most, placeholder=" ...")
        for t in (change.before, change.after)
    )
    if before is None and after is None:
        return "in another order" if change.kind == "reordered" else change.why
    if before is None:
        return f"added {after}"
    return f"removed, was {before}" if after is None else f"was {before}, now {after}"


def _old_limits(one: _Known, two: _Known, histories: Sequence[History], names: Names) -> Iterator[Diagnostic]:
    old_names = {new: old for old, new in names.items()}
    for history in histories:
        now = two.method.limit(history.result)
        was_named = old_names.get(history.result, history.result)
        was = one.method.limit(was_named)
        if not history.flow or now is None or was is None:
            continue
        bounds = [("lower", was.lower, now.lower), ("upper", was.upper, now.upper)]
        if any(_differ(x, y) for _, x, y in bounds):
            continue
        written = " to ".join(y.text for _, _, y in bounds if y is not None)
        torques = []
        for which, _, limit in bounds:
            key = f"torque_{which}"
            before = one.figures.get(f"run.{was_named}.{key}")
            after = two.figures.get(f"run.{history.result}.{key}")
            if limit is not None and before is not None and after is not None:
                above = ", which is impossible" if after.value > 100 else ""
                torques.append(f"{which} {before.text}, now {after.text}{above}")
        way = _which_way(one.method, two.method, history, was_named)
        at_them = f" Torque at the limits: {'; '.join(torques)}." if torques else ""
        yield _at(
            two, "CMP04", Severity.WARNING, now.path,
            f"{history.result} is measured under other conditions ({'; '.join(history.flow)}): a new property. Its "
            f"limits are still {written}, set for the old one.{at_them}{way}",
            "Run lots by both revisions side by side, over the whole range, and set the limits anew.",
            "Or go back to the old conditions for this result.",
        )  # fmt: skip


def _which_way(a: Method, b: Method, history: History, was: str) -> str:
    """Say which way the result moves where a single cause tells."""
    old, new = a.step(was), b.step(history.result)
    if len(history.flow) != 1 or old is None or new is None:
        return ""
    thins = b.product.behaviour in ("shear-thinning", "thixotropic", "yield-stress")
    if history.flow[0].startswith("speed ") and thins:
        faster = new.speed.value > old.speed.value
        reads, speed = ("lower", "higher") if faster else ("higher", "lower")
        near, far = ("lower", "upper") if faster else ("upper", "lower")
        return (
            f" The product is {b.product.behaviour}: it reads {reads} at the {speed} speed, so good batches just "
            f"inside the {near} limit may fail and bad ones just outside the {far} may pass."
        )
    if history.flow[0].startswith("guard not-used"):
        return " Without its guard a large spindle reads low against its coefficient."
    return ""


def _lapsed(one: _Known, two: _Known, names: Names) -> Iterator[Diagnostic]:
    ways = ("Have the waiver judged and approved anew, with the new numbers.", "Or take it out.")
    for waiver in two.method.waivers:
        for key, text in waiver.rests_on.items():
            now = two.figures[key].text if key in two.figures else "not known"
            if now != text:
                yield _at(
                    two, "CMP05", Severity.WARNING, (*waiver.path, "rests_on", key),
                    f"The waiver of {waiver.rule} rests on {key} = {text}; it is now {now}. The waiver lapses.", *ways,
                )  # fmt: skip
        old = next((w for w in one.method.waivers if w.rule == waiver.rule), None)
        if (
            old is None
            or one.method.data["waivers"][old.path[1]] != two.method.data["waivers"][waiver.path[1]]
        ):
            continue  # new, or judged anew
        said = [_said(k, waiver.rule, by) for k, by in ((one, names), (two, {}))]
        if said[0] != said[1] and said[0]:
            gone, come = (" ".join(x for x in s if x not in o) for s, o in (said, said[::-1]))
            message = (
                f"The waiver of {waiver.rule} was approved for this: {gone or 'fewer findings'} Now it is: "
                f"{come or 'fewer findings.'} The waiver lapses."
                if said[1] else
                f"{waiver.rule} finds nothing any more, so there is nothing left to waive. It was: {gone}"
            )  # fmt: skip
            yield _at(two, "CMP05", Severity.WARNING, (*waiver.path, "rule"), message, *ways)


def _said(known: _Known, rule: str, names: Names) -> list[str]:
    """Give what a rule says of a file, without its revision number, which always differs."""
    return sorted(
        re.sub(r"(?<=evision )\d+", "N", _by_new_names(d.message, names))
        for d in known.compiled.diagnostics
        if d.code == rule
    )
