"""`fillmark choose`: every spring, spindle and speed of the laboratory, ranked for a specification.

It works from a method file, as far as that has been written, from flags, or from both. What has not been said
is left free or taken as a default, and each default is told. The judgement itself is that of
`combinations.py`, the same as behind the ways out of a finding.
"""

import json
import textwrap
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import log
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from fillmark.combinations import Combination, Demand
    from fillmark.diagnostics import Diagnostic
    from fillmark.diagnostics import Path as Place
    from fillmark.fix import Fix, Mended
    from fillmark.model import Method, Reference, Step
    from fillmark.pipeline import Compiled
    from fillmark.read import Source

WIDTH = 100
_BAR = 20
_QUANTITIES = {
    "lower": "viscosity", "upper": "viscosity", "sensitivity": "sensitivity", "tolerance": "temperature-difference",
    "density": "density", "accuracy": "percent-of-full-scale", "particle": "length",
}  # fmt: skip
_SPOILS = "A result from another speed or spindle is another property: limits go with the combination they were set on."


class Glued(click.Command):
    """A command that takes `--lower 8 Pa·s` for `--lower "8 Pa·s"`."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Glue a number and the words behind it that cannot be anything but its unit."""
        glued: list[str] = []
        for arg in args:
            asked = len(glued) > 1 and glued[-2].removeprefix("--") in _QUANTITIES
            if asked and not arg.startswith("-") and not arg.endswith((".yaml", ".yml")):
                glued[-1] = f"{glued[-1]} {arg}"
            else:
                glued.append(arg)
        return super().parse_args(ctx, glued)


# --- what is asked


@dataclass(frozen=True, slots=True)
class Asked:
    """What the choice is made for: a method with defaults in its gaps, and what of it nobody has said."""

    method: "Method"
    step: "Step"
    demand: "Demand"
    demands: Mapping[str, "Demand"]
    free: frozenset[str]
    assumed: tuple[str, ...]
    own: tuple[str | None, str | None, float | None]
    """Spring, spindle and speed (rpm) that are written already."""
    name: str
    """File, or empty."""


def wishes(flags: Mapping[str, str | None], reference: "Reference") -> dict[str, str]:
    """Read the flags; UsageError with all that is wrong."""
    from fillmark.new import BEHAVIOURS  # noqa: PLC0415
    from fillmark.quantities import QuantityError, parse  # noqa: PLC0415
    from fillmark.starter import GUARDS  # noqa: PLC0415
    from fillmark.validate import nearest  # noqa: PLC0415

    words = {
        "behaviour": BEHAVIOURS, "guard": GUARDS, "readout": ("dial", "digital"),
        "coupling": tuple(reference.couplings), "container": tuple(reference.containers),
    }  # fmt: skip
    given = {key: text for key, text in flags.items() if text is not None}
    wrong = []
    for key, text in given.items():
        if key in _QUANTITIES:
            try:
                parse(text, _QUANTITIES[key])
            except QuantityError as error:
                write = f"Write {error.suggestion}." if error.suggestion else error.expected
                wrong.append(f"--{key}: {error.problem} {write}")
        elif key in words and text not in words[key]:
            close = nearest(text, words[key])
            meant = f"Did you mean {close}? " if close else ""
            wrong.append(f"--{key}: nothing is called {text}. {meant}Choices: {', '.join(words[key])}.")
    if {"lower", "upper"} <= given.keys() and not wrong:
        low, high = (parse(given[k], "viscosity") for k in ("lower", "upper"))
        if low.value >= high.value:
            wrong.append(f"The lower limit {low.text} is not below the upper limit {high.text}.")
    if wrong:
        raise click.UsageError("\n  ".join(wrong))
    return given


_USED: dict[str, tuple[str, ...]] = {
    "product": ("behaviour", "density", "temperature_sensitivity", "largest_particle"), "specification": (),
    "instrument": (), "spindle": (), "guard": (), "container": (), "coefficient": (), "sample": ("volume",),
    "immersion": (), "temperature": ("target",), "run": (), "report": ("result", "ratio"),
    "verification": ("fluid", "at", "spindle"),
}  # fmt: skip
"""What of a method is looked at: blocks, and the keys of those of which only a part is."""


def faults(source: "Source", reference: "Reference") -> list["Diagnostic"]:
    """List what is written wrongly in the part of a method that is looked at; what is missing is no fault."""
    from fillmark.pipeline import names  # noqa: PLC0415
    from fillmark.validate import validate  # noqa: PLC0415

    found = validate(source, "method.schema.json", names=names(reference))
    return [d for d in found if d.code != "SCH02" and not _empty(source.data, d.path) and _looked_at(d)]


def _looked_at(d: "Diagnostic") -> bool:
    if not d.path:
        return True
    keys = _USED.get(str(d.path[0]))
    if d.code == "SCH01":  # a misspelt key may stand for one that is looked at
        return len(d.path) == 1 or keys is not None
    at = next((p for p in d.path[1:] if isinstance(p, str)), None)
    return keys is not None and (not keys or at is None or at in keys)


def _empty(data: Any, path: "Place") -> bool:
    for key in path:
        try:
            data = data[key]
        except (KeyError, IndexError, TypeError):
            return False
    return data is None


def _written(value: Any) -> Any:
    """Leave out keys without a value."""
    if isinstance(value, dict):
        inner = {k: _written(v) for k, v in value.items()}
        return {k: v for k, v in inner.items() if v not in (None, {}, [])}
    return [_written(v) for v in value if v is not None] if isinstance(value, list) else value


def asked(
    source: "Source | None", given: Mapping[str, str], step: str | None, reference: "Reference"
) -> Asked:
    """Complete what is known to a method that can be judged; UsageError where that cannot be done."""
    from fillmark.choices import demand_of  # noqa: PLC0415
    from fillmark.read import read  # noqa: PLC0415
    from fillmark.resolve import resolve  # noqa: PLC0415

    known = _written(source.data) if source is not None and isinstance(source.data, dict) else {}
    gaps = _Gaps(known, given, reference)
    whole = gaps.filled(step)
    again = read(
        json.dumps(whole, ensure_ascii=False).encode(), source.name if source is not None else "flags"
    )
    if again.source is None:
        raise click.UsageError(again.diagnostics[0].message)
    method, found = resolve(again.source, reference)
    if method is None:
        raise click.UsageError(" ".join((found[0].message, *found[0].ways_out)))
    chosen = method.step(gaps.step)
    if chosen is None:
        raise AssertionError(gaps.step)
    demands = {}
    for one in method.run:
        demand = demand_of(method, one)
        if "temperature" in gaps.free:
            demand = replace(demand, temperature_tolerance=0.0)
        demands[one.name] = demand
    demand = demands[chosen.name]
    if demand.lower is None and demand.upper is None:
        raise click.UsageError(f"Step {chosen.name} has no limits to choose by: give --lower and --upper.")
    own = (
        whole["instrument"]["spring"] if "spring" not in gaps.free else None,
        method.spindle.key if "spindle" not in gaps.free else None,
        chosen.speed.value if f"speed of {chosen.name}" not in gaps.free else None,
    )
    return Asked(
        method, chosen, demand, demands, frozenset(gaps.free), tuple(gaps.assumed), own,
        source.name if source is not None else "",
    )  # fmt: skip


class _Gaps:
    """The filling of what nobody has said yet: what is put in, what stays free, and what is told of it."""

    def __init__(self, known: dict[str, Any], given: Mapping[str, str], reference: "Reference") -> None:
        self.known, self.given, self.reference = known, given, reference
        self.free: set[str] = {"guard"} if "guard" not in given else set()
        self.assumed: list[str] = []
        self.step = ""

    def filled(self, step: str | None) -> dict[str, Any]:
        known, given = self.known, self.given
        run = self._run(step)
        whole: dict[str, Any] = {
            "fillmark": 1, "id": "choice", "title": "choice", "revision": 0, "status": "draft",
            "purpose": "development", "people": {"author": "nobody"},
            "product": self._product(), "specification": self._limits(), "instrument": self._instrument(),
            "spindle": self._spindle(),
            "guard": given.get("guard") or known.get("guard") or "required",
            "container": self._container(),
            "sample": {"preparation": "none", **_only(known.get("sample"), ("volume",))},
            "immersion": {"to": "shaft-mark", **_only(known.get("immersion"))},
            "temperature": {"target": self._temperature(), "measured": "in-sample"},
            "run": run, "replicates": {"count": 1, "each": "new-loading"}, "report": self._report(run),
        }  # fmt: skip
        check = _only(known.get("verification"), ("fluid", "at", "spindle"))
        if {"fluid", "at"} <= check.keys() and check["at"] in {s["name"] for s in run}:
            whole["verification"] = check
        own = _only(known.get("coefficient"))
        if {"full_scale", "guard", "container", "evidence"} <= own.keys() and "spindle" not in self.free:
            whole["coefficient"] = own
        return whole

    def _spindle(self) -> Any:
        spindle = self.known.get("spindle")
        if isinstance(spindle, str) or "name" in _only(spindle):
            return spindle
        self.free.add("spindle")
        return next(s.key for s in self.reference.spindles.values() if s.plain)

    def _container(self) -> Any:
        vessel = self.given.get("container") or self.known.get("container")
        if isinstance(vessel, str) or {"label", "kind", "inside_diameter", "height"} <= _only(vessel).keys():
            return vessel
        self.free.add("container")
        if self.known:
            self.assumed.append("container: not given; that which each coefficient holds for")
        return next(c.key for c in self.reference.containers.values() if c.reference)

    def _product(self) -> dict[str, Any]:
        keys = {
            "sensitivity": "temperature_sensitivity", "density": "density", "behaviour": "behaviour",
            "particle": "largest_particle",
        }  # fmt: skip
        flags = {key: self.given[flag] for flag, key in keys.items() if flag in self.given}
        product = {"name": "product", **_only(self.known.get("product"), _USED["product"]), **flags}
        if "behaviour" not in product:
            self.assumed.append("behaviour: not given; taken as unknown, so no speed is left out for slip")
            product["behaviour"] = "unknown"
        if "temperature_sensitivity" not in product:
            self.assumed.append(
                "temperature sensitivity: not given; taken as 0 %/K, so worst is the instrument alone"
            )
        if "density" not in product:
            self.assumed.append("density: not given; the flow is not judged")
        return product

    def _temperature(self) -> str:
        from fillmark.quantities import parse_toleranced  # noqa: PLC0415

        target = _only(self.known.get("temperature")).get("target")
        if "tolerance" in self.given:
            value = parse_toleranced(target, "temperature").value.text if target is not None else "25.0 °C"
            return f"{value} ± {self.given['tolerance']}"
        if target is None:
            self.assumed.append(
                "temperature tolerance: not given; taken as 0 K, so worst is the instrument alone"
            )
            return self._tolerant()
        return str(target)

    def _tolerant(self) -> str:
        self.free.add("temperature")
        return "25.0 °C ± 0.1 °C"

    def _instrument(self) -> dict[str, Any]:
        some = next(iter(self.reference.instruments.values()), None)
        if some is None:
            raise click.UsageError("The laboratory has no instruments: list them in shared/instruments.yaml.")
        setup = _only(self.known.get("instrument"))
        setup |= {key: self.given[key] for key in ("readout", "coupling", "accuracy") if key in self.given}
        for key in ("spring", "readout", "coupling", "suspension", "stand"):
            if key not in setup:
                setup[key] = getattr(some, key)
                self.free.add(key)
        if "accuracy" not in setup:
            text = self.reference.policy.texts["instrument_accuracy"]
            self.assumed.append(f"instrument's accuracy: not given; the site's {text}")
        return setup

    def _run(self, step: str | None) -> list[dict[str, Any]]:
        """List the steps of the run, and name the one that is chosen for."""
        steps = [_only(s, ("name", "speed", "read")) for s in _dicts(self.known.get("run"))]
        for number, one in enumerate(steps):
            one.setdefault("name", f"step_{number + 1}")
        ratios = [line for line in _dicts(self.known.get("report")) if "ratio" in line]
        named = {s["name"] for s in steps} | {r.get("result") for r in ratios}
        missing = [
            s["result"]
            for s in _dicts(self.known.get("specification"))
            if s.get("result") not in (*named, None)
        ]
        missing += [n for r in ratios for n in r["ratio"] if n not in {*named, *missing}]
        missing += [step] if step is not None and not steps and step not in missing else []
        steps += [{"name": n} for n in dict.fromkeys(missing)]
        if missing:
            self.assumed.append(f"not in the run yet: {', '.join(dict.fromkeys(missing))}")
        if not steps:
            steps = [{"name": "viscosity"}]
        names = [s["name"] for s in steps]
        if step is None and len(names) > 1:
            raise click.UsageError(f"The run has several steps: say which with --step: {', '.join(names)}.")
        if step is not None and step not in names:
            raise click.UsageError(f"There is no step {step} in the run. It has: {', '.join(names)}.")
        self.step = step or names[0]
        slower = {r["ratio"][0] for r in ratios}
        for one in steps:
            if "speed" not in one:
                # No instrument has these, and a ratio of the two is the right way up.
                one["speed"] = "0.00123 rpm" if one["name"] in slower else "1234 rpm"
                self.free.add(f"speed of {one['name']}")
            if "read" not in one:
                turns = self.reference.policy.texts["revolutions"]
                one["read"] = {"revolutions": f"{turns} rev", "lock": True}
                if one["name"] == self.step and self.known:
                    self.assumed.append(f"moment of reading: not given; after {turns} revolutions")
        return steps

    def _limits(self) -> list[dict[str, Any]]:
        limits = [dict(s) for s in _dicts(self.known.get("specification")) if "result" in s]
        flags = {key: self.given[key] for key in ("lower", "upper") if key in self.given}
        if flags:
            mine = next((s for s in limits if s["result"] == self.step), None)
            if mine is None:
                limits.append({"result": self.step, **flags})
            else:
                mine.update(flags)
                mine.pop("target", None)
        if not any(s.keys() & {"lower", "upper"} for s in limits):
            raise click.UsageError(
                "There are no limits to choose by. Give --lower and --upper, or a method with a specification."
            )
        return limits

    def _report(self, run: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
        names = {s["name"] for s in run}
        ratios = [
            _only(line, ("result", "ratio"))
            for line in _dicts(self.known.get("report"))
            if "result" in line and set(line.get("ratio", ())) <= names and "ratio" in line
        ]
        return [*({"result": n} for n in names), *ratios]


def _only(block: Any, keys: tuple[str, ...] | None = None) -> dict[str, Any]:
    """Give those keys of a block that are there; all without `keys`."""
    if not isinstance(block, dict):
        return {}
    return {k: v for k, v in block.items() if keys is None or k in keys}


def _dicts(block: Any) -> list[dict[str, Any]]:
    return [b for b in block if isinstance(b, dict)] if isinstance(block, list) else []


# --- the choice


@dataclass(frozen=True, slots=True)
class Chosen:
    """All combinations for what is asked: those that pass, best first, and those that lose."""

    asked: Asked
    winners: tuple["Combination", ...]
    losers: tuple["Combination", ...]


def choose(wanted: Asked) -> Chosen:
    """Judge every permitted combination of what the laboratory has, and rank those that pass."""
    from fillmark.choices import combine, pairs  # noqa: PLC0415

    m, step = wanted.method, wanted.step
    winners: list[Combination] = []
    losers: list[Combination] = []
    for pair in pairs(m, step, wanted.free):
        for rpm in pair.settings:
            one = combine(m, step, pair, rpm, wanted.demands, wanted.free)
            if one is not None:
                (winners if one.passes else losers).append(one)
    return Chosen(wanted, tuple(sorted(winners, key=lambda c: _rank(wanted, c))), tuple(losers))


def _rank(wanted: Asked, one: "Combination") -> tuple[float, ...]:
    from fillmark.choices import ROUNDEST, USUAL_SPEEDS  # noqa: PLC0415

    policy, pair = wanted.method.reference.policy, one.pair
    centre = (policy["best_zone_lower"] + policy["best_zone_upper"]) / 2
    middle = middle_of(one)
    slowest, fastest, usual = USUAL_SPEEDS
    spring, spindle, speed = wanted.own
    # What changes the flow weighs more than the spring, which leaves it as it is.
    changes = 2 * (speed not in (None, one.rpm)) + 2 * (spindle not in (None, pair.spindle.key))
    return (
        not one.numbers.at_its_best, changes + (spring not in (None, pair.spring.key)),
        pair.spring.takes_guard and pair.guard == "not-used", not slowest <= one.rpm <= fastest,
        all(i.stand != "fine-height" for i in one.instruments) and pair.spindle.plain,
        abs(middle - centre) // 10, one.rpm not in ROUNDEST, abs(log(one.rpm / usual)), abs(middle - centre),
        -len(one.instruments),
    )  # fmt: skip


def middle_of(one: "Combination") -> float:
    """Give the torque at the target or in the middle of the limits; with one limit, at that (%)."""
    n = one.numbers
    given = [t for t in (n.torque_aim, n.torque_lower, n.torque_upper) if t is not None]
    return given[0]


# --- for people


def told(chosen: Chosen, *, top: int | None, every_loser: bool) -> Iterator[str]:
    """Give the lines for a terminal: what is asked, the table, what it means, and who lost why."""
    yield from _question(chosen)
    yield ""
    if chosen.winners:
        yield from _table(chosen, chosen.winners[:top])
    else:
        yield from _nothing(chosen)
    yield ""
    yield from _lost(chosen)
    if every_loser:
        yield ""
        for one in chosen.losers:
            reasons = "; ".join(_said(r, chosen) for r in one.reasons)
            yield from _wrapped(f"{name_of(one)}: {reasons}", indent="    ")


def _wrapped(text: str, *, lead: str = "", indent: str = "") -> list[str]:
    # A sign such as ± takes two columns more in ASCII.
    room = WIDTH - 2 * sum(text.count(sign) for sign in "±°")
    return textwrap.wrap(
        text, max(room, 60), initial_indent=lead, subsequent_indent=indent, break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip


def name_of(one: "Combination") -> str:
    """Name a combination: `R5 on R at 20 rpm`."""
    from fillmark.quantities import brief  # noqa: PLC0415

    return f"{one.pair.spindle.key} on {one.pair.spring.key} at {brief(one.rpm, 3)} rpm"


def _said(reason: Any, chosen: Chosen) -> str:
    from fillmark.combinations import sentence_of  # noqa: PLC0415

    return sentence_of(reason, chosen.asked.method.reference.policy)


def _question(chosen: Chosen) -> Iterator[str]:
    wanted = chosen.asked
    m, reference = wanted.method, wanted.method.reference
    product, demand = m.product, wanted.demand
    parts = [
        f"{limits_of(wanted)}",
        product.behaviour if product.behaviour != "unknown" else "behaviour unknown",
    ]
    if product.temperature_sensitivity is not None:
        parts.append(product.temperature_sensitivity.text)
    if demand.temperature_tolerance:
        parts.append(f"± {m.temperature.target.tolerance.text}")
    if product.density is not None:
        parts.append(product.density.text)
    where = f"{wanted.name}, step {wanted.step.name}: " if wanted.name else "Asked: "
    yield from _wrapped(where + ", ".join(parts) + ".", indent="  ")
    for text in wanted.assumed:
        yield from _wrapped(f"{text}.", lead="  default  ", indent="           ")
    instruments = {i.key for one in (*chosen.winners, *chosen.losers) for i in one.instruments}
    total = len(chosen.winners) + len(chosen.losers)
    fixed = [f"{k} {v}" for k, v in _fixed(wanted)]
    every = (*chosen.winners, *chosen.losers)
    sizes = (
        f"{len({c.pair.spindle.key for c in every})} spindles, {len({c.pair.spring.key for c in every})} springs, "
        f"{len({c.rpm for c in every})} speeds, {len(instruments)} of {len(reference.instruments)} instruments"
    )
    kept = f"; kept: {', '.join(fixed)}" if fixed else ""
    yield from _wrapped(f"{len(chosen.winners)} of {total} combinations pass ({sizes}{kept}).", indent="  ")
    there = {c.pair.spindle.key for c in every}
    absent = [key for key in reference.spindles if key not in there]
    if absent:
        yield from _wrapped(f"Made for other springs than these: {', '.join(absent)}.", indent="  ")


def _fixed(wanted: Asked) -> Iterator[tuple[str, str]]:
    setup = wanted.method.instrument
    for key, value in (
        ("readout", setup.readout), ("coupling", setup.coupling.key), ("suspension", setup.suspension),
        ("stand", setup.stand),
    ):  # fmt: skip
        if key not in wanted.free:
            yield key, value
    if "container" not in wanted.free:
        yield "container", wanted.method.container.label
    if "guard" not in wanted.free:
        yield "guard", wanted.method.guard


def limits_of(wanted: Asked) -> str:
    """Write the limits of the step; those that follow from a ratio in Pa·s."""
    from fillmark.quantities import brief  # noqa: PLC0415

    limit, demand = wanted.method.limit(wanted.step.name), wanted.demand
    low, high = (
        (limit.lower and limit.lower.text, limit.upper and limit.upper.text)
        if limit is not None
        else tuple(v if v is None else f"{brief(v, 4)} Pa·s" for v in (demand.lower, demand.upper))
    )
    through = "" if limit is not None else " (through a ratio)"
    if low and high:
        return f"{low} to {high}{through}"
    return f"{low} or more{through}" if low else f"{high} or less{through}"


def bar(one: "Combination") -> str:
    """Draw torque from 0 to 100 % in 20 signs: = between the limits, - what the worst case adds."""
    n = one.numbers
    given = [t for t in (n.torque_lower, n.torque_upper) if t is not None]
    low, high = min(given, default=0.0), max(given, default=0.0)
    worst = [t for t in (n.lower_worst, n.upper_worst) if t is not None]
    least, most = min([*worst, low]), max([*worst, high])
    width = 100 / _BAR
    signs = []
    for cell in range(_BAR):
        start, end = cell * width + 1e-6, (cell + 1) * width - 1e-6
        inside = (start < high and end > low) or start <= low == high <= end
        signs.append("=" if inside else "-" if start < most and end > least else ".")
    return f"[{''.join(signs)}{'>' if most > 100 + 1e-9 else ']'}"


def _table(chosen: Chosen, rows: Sequence["Combination"]) -> Iterator[str]:
    from fillmark.derive.figuring import duration  # noqa: PLC0415
    from fillmark.quantities import brief, fixed  # noqa: PLC0415

    def worst(one: "Combination") -> str:
        both = (one.numbers.lower_worst, one.numbers.upper_worst)
        return "-".join(fixed(t, 1) for t in both if t is not None).rjust(9)

    def flow(one: "Combination") -> str:
        if one.pair.spindle.kind == "cone":
            return "-"
        margin = one.numbers.margin
        return "?" if margin is None else ">999x" if margin > 999 else f"{brief(margin, 2)}x"

    turns = brief(chosen.asked.method.reference.policy["revolutions"])
    columns: list[tuple[str, str, bool, list[str]]] = [
        ("", "", True, [f"{i}{'' if c.numbers.at_its_best else '*'}" for i, c in enumerate(rows, 1)]),
        ("", "spring", False, [c.pair.spring.key for c in rows]),
        ("", "spindle", False, [c.pair.spindle.key for c in rows]),
        ("", "rpm", True, [brief(c.rpm, 3) for c in rows]),
        ("", "guard", False, [{"not-applicable": "none"}.get(c.pair.guard, c.pair.guard) for c in rows]),
        ("torque, %", " 0        50      100 ", False, [bar(c) for c in rows]),
        ("worst case", "%", False, [worst(c) for c in rows]),
        ("tol.", "mPa·s", True, [brief(1000 * c.numbers.tolerance, 3) for c in rows]),
        ("", "ratio", True, ["" if c.numbers.ratio is None else brief(c.numbers.ratio, 3) for c in rows]),
        (f"{turns} rev", "take", True, [duration(c.numbers.wait) for c in rows]),
        ("flow", "margin", True, [flow(c) for c in rows]),
    ]  # fmt: skip
    widths = [max(len(head), len(unit), *map(len, cells)) for head, unit, _, cells in columns]
    gap = "  " if sum(widths) + 2 * len(widths) <= WIDTH else " "

    def line(cells: Iterable[str]) -> str:
        placed = zip(cells, widths, columns, strict=True)
        return gap.join(c.rjust(w) if right else c.ljust(w) for c, w, (_, _, right, _) in placed).rstrip()

    yield line(head for head, _, _, _ in columns)
    yield line(unit for _, unit, _, _ in columns)
    for row in range(len(rows)):
        yield line(cells[row] for _, _, _, cells in columns)
    if len(rows) < len(chosen.winners):
        yield f"... and {len(chosen.winners) - len(rows)} more that pass: --all shows them."
    yield ""
    yield from _legend(chosen, rows)


def _legend(chosen: Chosen, rows: Sequence["Combination"]) -> Iterator[str]:
    from fillmark.choices import USUAL_SPEEDS  # noqa: PLC0415
    from fillmark.quantities import brief  # noqa: PLC0415

    wanted, policy = chosen.asked, chosen.asked.method.reference.policy
    zone = f"{brief(policy['best_zone_lower'])} to {brief(policy['best_zone_upper'])} %"
    centre = brief((policy["best_zone_lower"] + policy["best_zone_upper"]) / 2)
    said = wanted.own != (None, None, None)
    usual = f"{brief(USUAL_SPEEDS[0])} to {brief(USUAL_SPEEDS[1])} rpm"
    yield from _wrapped(
        f"Ranked: the middle of the limits within {zone} torque first, "
        f"{'then as little change to the method as can be, ' if said else ''}the guard where the spring takes "
        f"one, {usual}, nearness to {centre} %, round speeds, many instruments."
    )
    wanted_ratio = policy.texts["instrument_ratio_warning"]
    yield from _wrapped(
        "Bar: = between the limits, - worst case, at the edge of the tolerances of temperature and instrument. "
        "Tol.: what the instrument may be off by. Ratio: half the width of the limits over it, "
        f"{wanted_ratio} or more wanted. Flow margin: how many times faster before the liquid may swirl; "
        "? not known, - not asked of a cone."
    )
    if any(not c.numbers.at_its_best for c in rows):
        yield from _wrapped(f"* passes, though the middle reads outside the {zone} that serve best.")
    shown = [c for c in rows if c.numbers.margin is not None and c.numbers.margin < 1]
    check = wanted.method.verification
    if shown and check is not None:
        yield from _wrapped(
            f"A flow margin below 1 passes because the check with {check.fluid.key} ({check.fluid.viscosity.text}) "
            "would show a swirl."
        )
    yield from _wrapped(f"1 runs on {_instruments(rows[0])}.")
    yield from _now(chosen)
    if wanted.method.product.behaviour != "newtonian":
        unknown = wanted.method.product.behaviour == "unknown"
        kind = (
            "Unless the product is Newtonian"
            if unknown
            else f"The product is {wanted.method.product.behaviour}"
        )
        yield from _wrapped(f"{kind}: every line measures under other shear. {_SPOILS}")


def _instruments(one: "Combination") -> str:
    names = [i.label for i in one.instruments]
    return ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")


def _now(chosen: Chosen) -> Iterator[str]:
    """Say where the combination that the method has stands."""
    own = chosen.asked.own
    if None in own:
        return

    def mine(one: "Combination") -> bool:
        return own == (one.pair.spring.key, one.pair.spindle.key, one.rpm)

    for place, one in enumerate(chosen.winners, 1):
        if mine(one):
            yield from _wrapped(f"{place} is what the method has now ({name_of(one)}).")
            return
    for one in chosen.losers:
        if mine(one):
            reasons = "; ".join(_said(r, chosen) for r in one.reasons)
            yield from _wrapped(f"What the method has now, {name_of(one)}, does not pass: {reasons}.")


_LESS = (
    "Ask for less: leave out what the method or a flag keeps (guard, container, readout, coupling, moment)."
)
_WAYS = {
    "floor": "Thin products want a weaker spring or a narrow gap; else raise the lower limit.",
    "ceiling": "Thick products want a stiffer spring, a smaller spindle or a slower speed; else lower the upper limit.",
    "share": "Widen the limits, or use an instrument that is known to be finer (--accuracy).",
    "preferred": "Limits further apart than the scale is long cannot both read well; else take a weaker spring.",
    "headroom": "Limits further apart than the scale is long cannot both read well; else take a stiffer spring.",
    "flow": "Run slower on a weaker spring, or measure in a narrow gap.",
}


def _nothing(chosen: Chosen) -> Iterator[str]:
    from fillmark.combinations import DEMANDS  # noqa: PLC0415

    if not chosen.losers:
        yield from _wrapped(
            "Nothing can be judged: no instrument of the laboratory is as asked. Leave a wish out."
        )
        return
    total = len(chosen.losers)
    stops = Counter(d for one in chosen.losers for d in {r.demand for r in one.reasons})
    alone = Counter(
        one.reasons[0].demand for one in chosen.losers if len({r.demand for r in one.reasons}) == 1
    )
    worst = max(DEMANDS, key=lambda d: stops[d])
    yield from _wrapped(f"Nothing passes. Most is excluded by: {DEMANDS[worst]} ({stops[worst]} of {total}).")
    for demand in [d for d in DEMANDS if alone[d]][:4]:
        text = f'Were it not for "{DEMANDS[demand]}", {alone[demand]} would pass.'
        yield from _wrapped(text, lead="  ", indent="    ")
    if not alone:
        yield from _wrapped("Each fails by two demands at least.", lead="  ", indent="    ")
    yield from _wrapped(_WAYS.get(worst, _LESS), lead="  ", indent="    ")


def groups(chosen: Chosen) -> list[tuple[str, list["Combination"]]]:
    """Put together the losers by what is told first of each, the closest miss in front."""
    from fillmark.combinations import DEMANDS, main_reason  # noqa: PLC0415

    found: dict[str, list[Combination]] = {}
    for one in chosen.losers:
        found.setdefault(main_reason(one.reasons).demand, []).append(one)
    return [(d, sorted(found[d], key=lambda c: (len(c.reasons), c.short))) for d in DEMANDS if d in found]


def _lost(chosen: Chosen) -> Iterator[str]:
    from fillmark.combinations import DEMANDS, main_reason  # noqa: PLC0415

    if not chosen.losers:
        return
    yield f"Lost: {len(chosen.losers)}, each told once, by what stops it first."
    for demand, members in groups(chosen):
        yield f"{len(members):>6}  {DEMANDS[demand]}"
        first = members[0]
        if demand in {r.demand for r in first.pair.hindrances}:
            yield from _hindered(demand, members)
            continue
        text = f"closest: {name_of(first)}: {_said(main_reason(first.reasons), chosen)}"
        more = len(first.reasons) - 1
        text += f", and {more} more reason{'' if more == 1 else 's'}" if more else ""
        yield from _wrapped(text, lead=" " * 8, indent=" " * 10)


def _hindered(demand: str, members: Sequence["Combination"]) -> Iterator[str]:
    """Say which spindles can be used at no speed, and why."""
    by_reason: dict[str, dict[str, None]] = {}
    for one in members:
        for reason in one.pair.hindrances:
            if reason.demand == demand:
                by_reason.setdefault(reason.detail, {})[one.pair.spindle.key] = None
    for detail, spindles in list(by_reason.items())[:4]:
        names = list(spindles)
        shown = ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")
        yield from _wrapped(f"{shown}: {detail}", lead=" " * 8, indent=" " * 10)


# --- for programs


def as_json(chosen: Chosen) -> str:
    """Write all of it; the shape is that of schemas/choice.schema.json."""
    from fillmark import __version__  # noqa: PLC0415
    from fillmark.combinations import DEMANDS, main_reason  # noqa: PLC0415

    wanted = chosen.asked
    m, demand = wanted.method, wanted.demand
    whole = {
        "fillmark": __version__,
        "asked": {
            "file": wanted.name or None, "step": wanted.step.name if wanted.name else None,
            "lower": demand.lower, "upper": demand.upper, "target": demand.target, "behaviour": demand.behaviour,
            "sensitivity": demand.sensitivity, "temperature_tolerance": demand.temperature_tolerance,
            "density": demand.density, "accuracy": demand.accuracy,
            "defaults": list(wanted.assumed),
        },
        "passing": len(chosen.winners),
        "losing": len(chosen.losers),
        "winners": [{"rank": i, **_plain(c)} for i, c in enumerate(chosen.winners, 1)],
        "losers": [
            {
                **_plain(c),
                "reasons": [
                    {
                        "demand": r.demand, "blocks": r.blocks, "text": _said(r, chosen), "step": r.step or None,
                        "value": r.value if r.bound else None, "bound": r.bound or None,
                    }
                    for r in c.reasons
                ],
            }
            for c in chosen.losers
        ],
        "groups": [
            {
                "demand": demand, "title": DEMANDS[demand], "count": len(members), "closest": name_of(members[0]),
                "text": _said(main_reason(members[0].reasons), chosen),
            }
            for demand, members in groups(chosen)
        ],
        "note": None if m.product.newtonian else _SPOILS,
    }  # fmt: skip
    return json.dumps(whole, ensure_ascii=False, indent=2, allow_nan=False)


def _plain(one: "Combination") -> dict[str, Any]:
    n, pair = one.numbers, one.pair
    return {
        "spring": pair.spring.key, "spindle": pair.spindle.key, "speed": one.rpm, "guard": pair.guard,
        "container": pair.container.key if pair.container is not None else None,
        "instruments": [i.key for i in one.instruments],
        "torque": {
            "lower": n.torque_lower, "upper": n.torque_upper, "aim": n.torque_aim, "lower_worst": n.lower_worst,
            "upper_worst": n.upper_worst,
        },
        "best_zone": n.at_its_best, "full_scale": n.full_scale, "tolerance": n.tolerance, "ratio": n.ratio,
        "revolutions_time": n.wait, "reynolds": n.reynolds, "vortex_viscosity": n.vortex, "flow_margin": n.margin,
    }  # fmt: skip


# --- into the file


def picked(chosen: Chosen, number: int | None) -> "Combination":
    """Give the combination of this rank; UsageError where there is none."""
    count = len(chosen.winners)
    if not 1 <= (number or 1) <= count:
        raise click.UsageError(
            f"--pick {number}: {count} pass; pick 1 to {count}." if count else "Nothing passes."
        )
    return chosen.winners[(number or 1) - 1]


def still_open(wanted: Asked, one: "Combination") -> str | None:
    """Say what the combination rests on and the method does not say yet."""
    container = one.pair.container
    if "container" not in wanted.free or container is None:
        return None
    return (
        f"The coefficient of {one.pair.spindle.key} holds for {container.label}: container: {container.key}"
    )


def put_in(compiled: "Compiled", wanted: Asked, one: "Combination", day: date | None) -> "Mended":
    """Put a combination into the text of a method, each value at its place; all else stays as it is.

    CannotWriteError where that may not or cannot be done. What follows from the speed and is written down
    beside it (a moment of reading given as time and turns, a factor, a full scale, a shear rate) goes along.
    """
    from fillmark.fix import Mended  # noqa: PLC0415
    from fillmark.insert import CannotWriteError, put_all, writable  # noqa: PLC0415
    from fillmark.pipeline import compile_method  # noqa: PLC0415

    source, reference = writable(compiled), wanted.method.reference
    data = source.data if isinstance(source.data, dict) else {}
    spring, spindle = one.pair.spring.key, one.pair.spindle.key
    if data.get("coefficient") and wanted.own[:2] != (spring, spindle):
        raise CannotWriteError(
            f"its own coefficient was found with {wanted.method.spindle.key} on spring "
            f"{wanted.method.instrument.spring.key} and would count for {spindle} on {spring}. Take it out "
            "first, or find it anew"
        )
    fixes: list[Fix] = []
    text = put_all(source.text, _changes(data, wanted, one), fixes)
    after = compile_method(text.encode(), compiled.file, reference, today=day)
    follow = list(_following(after))
    if follow:
        text = put_all(text, follow, fixes)
        after = compile_method(text.encode(), compiled.file, reference, today=day)
    return Mended(compiled, after, tuple(fixes))


def _changes(data: Mapping[str, Any], wanted: Asked, one: "Combination") -> Iterator[tuple["Place", Any]]:
    """Give the paths and values that differ from what is written."""
    from fillmark.quantities import brief  # noqa: PLC0415

    pair, step = one.pair, wanted.step
    if _only(data.get("instrument")).get("spring") != pair.spring.key:
        yield ("instrument", "spring"), pair.spring.key
    written = data.get("spindle")
    if (written.get("name") if isinstance(written, dict) else written) != pair.spindle.key:
        # What the other piece is engraved with goes with it.
        yield ("spindle",), pair.spindle.key
    if data.get("guard") != pair.guard:
        yield ("guard",), pair.guard
    if wanted.own[2] == one.rpm:
        return
    speed = f"{brief(one.rpm, 6)} rpm"
    run = data.get("run") or []
    index = next((i for i, s in enumerate(run) if _only(s).get("name") == step.name), None)
    if index is None and len(run) == len(wanted.method.run):
        index = wanted.method.run.index(step)
    if index is None:
        yield ("run", len(run)), {"name": step.name, "speed": speed}
        return
    yield ("run", index, "speed"), speed
    read = step.read
    if read.after is not None and read.revolutions is not None:
        yield ("run", index, "read", "after"), f"{brief(60 * read.revolutions.value / one.rpm, 4)} s"


def _following(after: "Compiled") -> Iterator[tuple["Place", Any]]:
    """Give what is stated beside a speed and is no longer what follows from it."""
    from fillmark.quantities import express, sig  # noqa: PLC0415

    if after.method is None or after.figures is None:
        return
    policy = after.method.reference.policy
    for step in after.method.run:
        for name, allowed in (
            ("factor", "stated_figure"),
            ("full_scale", "stated_figure"),
            ("shear_rate", "shear_rate"),
        ):
            stated, right = getattr(step, name), after.figures.value(f"run.{step.name}.{name}")
            if (
                stated is not None
                and right is not None
                and abs(stated.value / right - 1) > policy[allowed] / 100
            ):
                yield (*step.path, name), f"{sig(express(right, stated.unit), 4)} {stated.unit}"
