"""What several methods say together: rules that no single file can break.

The rules of `rules/` look at one method; these look at all methods of a workspace. They need only what stage
5 has left of each, and speak at a place of one of the files, naming the other.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from itertools import combinations

from fillmark.choices import eligible
from fillmark.diagnostics import Diagnostic, Path, Severity, in_reading_order
from fillmark.model import Method
from fillmark.pipeline import Compiled

CODES: dict[str, tuple[str, str]] = {
    "LIB02": ("two-numbers-one-name", "One product and one result name under two sets of conditions."),
    "LIB03": ("not-to-be-trended-together", "Methods of one product that differ in guard or container."),
    "LIB04": ("nearly-the-same-method", "Two methods that agree in nearly everything."),
    "LIB05": (
        "rule-waived-everywhere",
        "A rule waived in many methods: the rule or the practice should be looked at.",
    ),
    "LIB06": (
        "one-spindle-two-coefficients",
        "One spindle, guard state and container with two coefficients.",
    ),
    "LIB07": ("hangs-on-one-instrument", "Methods that all stop if one instrument is withdrawn."),
}

NEARLY = 0.9
"""Share of equal values from which two methods count as nearly the same: a project decision."""
WAIVED_IN = 3
"""Methods in which a rule may be waived before the rule itself is in question: a project decision."""
COEFFICIENT_MATCH = 0.005
"""Relative difference up to which two coefficients count as one: a project decision."""


def _at(
    one: Compiled, code: str, severity: Severity, path: Path, message: str, *ways: str
) -> Iterator[Diagnostic]:
    if one.source is not None:
        yield Diagnostic(code, CODES[code][0], severity, message, one.file, one.source.span(path), path, ways)


def _method(one: Compiled) -> Method:
    if one.method is None:
        raise ValueError(f"{one.file} did not compile")
    return one.method


def _products(compiled: Sequence[Compiled]) -> list[list[Compiled]]:
    groups: dict[str, list[Compiled]] = defaultdict(list)
    for one in compiled:
        groups["".join(_method(one).product.name.split()).casefold()].append(one)
    return [group for group in groups.values() if len(group) > 1]


def _conditions(m: Method, result: str) -> dict[str, str]:
    """Give what makes the number of a result, as texts that can be compared."""
    step = m.step(result)
    return {
        "spindle": m.spindle.key,
        "speed": "" if step is None else f"{step.speed.value:g} rpm",
        "guard": m.guard,
        "container": m.container.label,
        "temperature": f"{m.temperature.target.value.value:g} °C",
    }


def _two_numbers_one_name(compiled: Sequence[Compiled]) -> Iterator[Diagnostic]:
    for group in _products(compiled):
        for first, second in combinations(group, 2):
            one, two = _method(first), _method(second)
            for limit in two.specification:
                if one.limit(limit.result) is None or two.step(limit.result) is None:
                    continue
                here, there = _conditions(two, limit.result), _conditions(one, limit.result)
                differing = [k for k in here if here[k] != there[k]]
                if differing:
                    what = "; ".join(f"{k} {here[k]} here, {there[k]} there" for k in differing)
                    yield from _at(
                        second, "LIB02", Severity.WARNING, (*limit.path, "result"),
                        f"{one.id} also reports {limit.result} of {two.product.name}, under other conditions: {what}. "
                        "Two numbers would bear one name.",
                        f"Give the result of {two.id} a name of its own.",
                        f"Or bring {one.id} and {two.id} to one set of conditions.",
                    )  # fmt: skip


def _not_to_be_trended_together(compiled: Sequence[Compiled]) -> Iterator[Diagnostic]:
    for group in _products(compiled):
        for first, second in combinations(group, 2):
            one, two = _method(first), _method(second)
            if {s.name for s in one.run} & {s.name for s in two.run}:
                continue  # told as two numbers under one name
            differing = [
                (what, here, there)
                for what, here, there in (
                    ("guard", two.guard, one.guard),
                    ("container", two.container.label, one.container.label),
                )
                if here != there
            ]
            if differing:
                what = " and ".join(f"{name} ({here} here, {there} there)" for name, here, there in differing)
                yield from _at(
                    second, "LIB03", Severity.WARNING, (differing[0][0],),
                    f"{one.id} measures {two.product.name} too, with another {what}. Results of the two shift "
                    "against each other and cannot stand on one chart.",
                    "Draw a break between them wherever both are charted.",
                    "Or run both with the same guard and container.",
                )  # fmt: skip


def _leaves(data: object, path: Path = ()) -> Iterator[tuple[Path, object]]:
    if isinstance(data, dict):
        for key, inner in data.items():
            yield from _leaves(inner, (*path, key))
    elif isinstance(data, list):
        for index, inner in enumerate(data):
            yield from _leaves(inner, (*path, index))
    else:
        yield path, data


_OF_THE_FILE = (
    "id",
    "title",
    "revision",
    "status",
    "effective",
    "review_by",
    "people",
    "changes",
    "notes",
    "waivers",
)


def _nearly_the_same(compiled: Sequence[Compiled]) -> Iterator[Diagnostic]:
    values = [{p: v for p, v in _leaves(_method(c).data) if p[0] not in _OF_THE_FILE} for c in compiled]
    # Only methods that share product, spindle or container can be nearly the same; pairs are few within a group.
    groups: dict[tuple[object, ...], list[int]] = defaultdict(list)
    for index, one in enumerate(compiled):
        m = _method(one)
        groups[m.spindle.key, m.container.label, m.instrument.spring.key, len(m.run)].append(index)
    for group in groups.values():
        for i, j in combinations(group, 2):
            paths = values[i].keys() | values[j].keys()
            equal = sum(p in values[i] and p in values[j] and values[i][p] == values[j][p] for p in paths)
            if equal >= NEARLY * len(paths):
                yield from _at(
                    compiled[j], "LIB04", Severity.ADVICE, ("id",),
                    f"{equal} of {len(paths)} values are those of {_method(compiled[i]).id}: two to keep in step.",
                    f"Make one method of the two, {_method(compiled[i]).id} or {_method(compiled[j]).id}.",
                    "Or say in the notes why there are two.",
                )  # fmt: skip


def _waived_everywhere(compiled: Sequence[Compiled]) -> Iterator[Diagnostic]:
    waived: dict[str, list[tuple[Compiled, Path]]] = defaultdict(list)
    for one in compiled:
        for waiver in _method(one).waivers:
            waived[waiver.rule].append((one, waiver.path))
    for rule, places in waived.items():
        if len(places) > WAIVED_IN:
            one, path = places[-1]
            yield from _at(
                one, "LIB05", Severity.WARNING, (*path, "rule"),
                f"{rule} is waived in {len(places)} methods, more than {WAIVED_IN}: "
                f"{', '.join(_method(c).id for c, _ in places)}.",
                "Look at the practice: what the rule finds may be wrong in all of them.",
                "Or move the threshold in the site policy, with a reason, if it does not suit this laboratory.",
            )  # fmt: skip


def _two_coefficients(compiled: Sequence[Compiled]) -> Iterator[Diagnostic]:
    first: dict[tuple[str, str, str, str], tuple[Method, float]] = {}
    for one in compiled:
        m = _method(one)
        if m.coefficient is None:
            continue
        key = (m.spindle.key, m.instrument.spring.key, m.coefficient.guard, m.coefficient.container)
        value = m.coefficient.full_scale.value
        other, theirs = first.setdefault(key, (m, value))
        if abs(value - theirs) > COEFFICIENT_MATCH * theirs:
            factor = max(value, theirs) / min(value, theirs)
            yield from _at(
                one, "LIB06", Severity.ERROR, ("coefficient", "full_scale"),
                f"{m.spindle.key} has {m.coefficient.full_scale.text} here, a factor of {factor:.3g} "
                f"{'above' if value > theirs else 'below'} that of {other.id}, with the same spring, guard state and "
                f"container. One of the two results is off by that factor.",
                f"Take the coefficient of the newer study, here and in {other.id}.",
                "Or tell the two pieces apart: give each spindle an entry of its own in shared/spindles.yaml.",
            )  # fmt: skip


def _on_one_instrument(compiled: Sequence[Compiled]) -> Iterator[Diagnostic]:
    """Find instruments whose loss would stop two methods or more that are not declared to hang on one."""
    alone: dict[str, list[Compiled]] = defaultdict(list)
    for one in compiled:
        m = _method(one)
        able = [i for i in eligible(m) if all(i.has_speed(s.speed.value) for s in m.run)]
        if len(able) == 1 and not m.instrument.only_this:
            alone[able[0].label].append(one)
    for label, methods in alone.items():
        if len(methods) > 1:
            names = ", ".join(_method(c).id for c in methods)
            yield from _at(
                methods[0], "LIB07", Severity.ADVICE, ("instrument",),
                f"{len(methods)} methods can be run on {label} alone: {names}. They all stop when it is away.",
                "Name a second instrument in shared/instruments.yaml that can run them.",
                "Or declare only_this: true in each, with what is done when it is away.",
            )  # fmt: skip


RULES: tuple[Callable[[Sequence[Compiled]], Iterator[Diagnostic]], ...] = (
    _two_numbers_one_name, _not_to_be_trended_together, _nearly_the_same, _waived_everywhere, _two_coefficients,
    _on_one_instrument,
)  # fmt: skip


def examine(compiled: Sequence[Compiled]) -> list[Diagnostic]:
    """Find what the methods say together; files that did not compile are left out."""
    resolved = [c for c in compiled if c.method is not None]
    return in_reading_order([d for rule in RULES for d in rule(resolved)])
