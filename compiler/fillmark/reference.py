"""Reference data: springs, spindles, guards, containers and the rest, read from YAML.

What is shipped is the default; a workspace's own `shared/` adds entries or overrides them by key, and a file
that says `replace: true` drops the shipped ones of its kind. Each entry remembers which file it came from.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any, TypeVar

from fillmark import first_principles, policy
from fillmark.diagnostics import Diagnostic
from fillmark.locate import shared_folder
from fillmark.model import (
    Citation,
    Container,
    Coupling,
    Fluid,
    Guard,
    Instrument,
    Reference,
    Spindle,
    Spring,
)
from fillmark.quantities import Quantity, parse
from fillmark.read import Source, read
from fillmark.validate import unknown_name, validate

KINDS = (
    "springs", "spindles", "guards", "couplings", "containers", "instruments", "fluids", "sources",
    "phrases", "policy",
)  # fmt: skip

Entry = Mapping[str, Any]
T = TypeVar("T")


@dataclass
class _Collected:
    """What has been read so far: plain entries by kind and key, and where each came from."""

    entries: dict[str, dict[str, Any]] = field(default_factory=lambda: {k: {} for k in KINDS})
    origins: dict[tuple[str, str], str] = field(default_factory=dict)
    places: dict[tuple[str, str], Source] = field(default_factory=dict)
    diagnostics: list[Diagnostic] = field(default_factory=list)


def _take(collected: _Collected, folder: FilePath, label: str) -> None:
    for kind in KINDS:
        file = folder / f"{kind}.yaml"
        if not file.is_file():
            continue
        reading = read(file.read_bytes(), f"{label}/{kind}.yaml")
        collected.diagnostics.extend(reading.diagnostics)
        if reading.source is None:
            continue
        source = reading.source
        found = validate(source, "shared.schema.json", kind)
        collected.diagnostics.extend(found)
        if found:
            continue
        data = dict(source.data)
        if kind == "policy" and collected.entries[kind]:
            collected.diagnostics.extend(policy.faults(source, data, collected.entries[kind]))
        if data.pop("replace", False):
            collected.entries[kind].clear()
        for key, entry in data.items():
            collected.entries[kind][key] = entry
            collected.origins[kind, key] = source.name
            collected.places[kind, key] = source


def _quantity(entry: Entry, key: str, kind: str) -> Quantity | None:
    return parse(entry[key], kind) if key in entry else None


def _length(entry: Entry, key: str) -> Quantity | None:
    return _quantity(entry, key, "length")


def _spring(key: str, e: Entry) -> Spring:
    return Spring(
        key,
        parse(e["full_scale"], "torque"),
        tuple(e["suspensions"]),
        e["takes_guard"],
        e["source"],
        e["known"],
    )


def _spindle(key: str, e: Entry) -> Spindle:
    return Spindle(
        key=key,
        kind=e["kind"],
        coefficient=parse(e["coefficient"]["value"], "coefficient"),
        coefficient_spring=e["coefficient"]["spring"],
        springs=tuple(e["springs"]),
        guard=e["guard"],
        container=e.get("container"),
        diameter=_length(e, "diameter"),
        length=_length(e, "length"),
        shaft_diameter=_length(e, "shaft_diameter"),
        mark_height=_length(e, "mark_height"),
        effective_length=_length(e, "effective_length"),
        wire_diameter=_length(e, "wire_diameter"),
        cone_angle=_quantity(e, "cone_angle", "angle"),
        truncation=_length(e, "truncation"),
        accessory_accuracy=_quantity(e, "accessory_accuracy", "percent-of-full-scale"),
        relative=e.get("relative", False),
        twin=e.get("twin"),
        source=e["source"],
        known=e["known"],
    )


def _guard(key: str, e: Entry) -> Guard:
    width, leg_width, leg_thickness, below = (
        parse(e[k], "length") for k in ("width", "leg_width", "leg_thickness", "below_spindle")
    )
    return Guard(
        key, tuple(e["couplings"]), tuple(e["springs"]), width, leg_width, leg_thickness, below,
        e["source"], e["known"],
    )  # fmt: skip


def _coupling(key: str, e: Entry) -> Coupling:
    return Coupling(key, e["left_hand_thread"], e["caution"], e["guard"], e["source"], e["known"])


def container(key: str, e: Entry, **more: Any) -> Container:
    """Make a container of its plain entry; `more` overrides (path, source, known)."""
    fields: dict[str, Any] = {
        "key": key,
        "label": e["label"],
        "kind": e["kind"],
        "inside_diameter": parse(e["inside_diameter"], "length"),
        "height": parse(e["height"], "length"),
        "fill_depth": _length(e, "fill_depth"),
        "reference": e.get("reference", False),
        "jacketed": e.get("jacketed", False),
        "source": e.get("source", "method"),
        "known": e.get("known", "site"),
    }
    return Container(**{**fields, **more})


def _instrument(key: str, e: Entry) -> Instrument:
    speeds = e["speeds"]
    fixed = tuple(float(s) for s in speeds) if isinstance(speeds, list) else ()
    span = {"from": 0.0, "to": 0.0, "step": 1.0} if fixed else speeds
    return Instrument(
        key, e["label"], e["spring"], e["readout"], e["coupling"], e["suspension"], e["stand"],
        fixed, float(span["from"]), float(span["to"]), float(span["step"]),
    )  # fmt: skip


def _fluid(key: str, e: Entry) -> Fluid:
    return Fluid(
        key,
        parse(e["viscosity"], "viscosity"),
        parse(e["uncertainty"], "viscosity"),
        parse(e["temperature"], "temperature"),
        parse(e["sensitivity"], "sensitivity"),
        e["class"],
        e["source"],
        e["known"],
    )


def _citation(key: str, e: Entry) -> Citation:
    return Citation(key, e["title"], e["known"])


def _cross_names(collected: _Collected) -> list[Diagnostic]:
    """Find entries that name a spring, container, coupling or source that nothing defines."""
    entries = collected.entries
    named = {
        "spindles": (("springs", "springs"), ("container", "containers"), ("source", "sources")),
        "guards": (("couplings", "couplings"), ("springs", "springs"), ("source", "sources")),
        "couplings": (("guard", "guards"), ("caution", "phrases"), ("source", "sources")),
        "instruments": (("spring", "springs"), ("coupling", "couplings"), ("source", "sources")),
        "springs": (("source", "sources"),),
        "containers": (("source", "sources"),),
        "fluids": (("source", "sources"),),
        "policy": (("source", "sources"),),
    }
    found = []
    for kind, pairs in named.items():
        for key, entry in entries[kind].items():
            if not isinstance(entry, Mapping):
                continue
            for name, other in pairs:
                words = entry.get(name, ())
                for word in (words,) if isinstance(words, str) else words:
                    if word not in entries[other]:
                        source = collected.places[kind, key]
                        found.append(
                            unknown_name(source, (key, name), word, entries[other], f"shared/{other}.yaml")
                        )
    return found


def load(workspace: FilePath | None = None) -> tuple[Reference | None, list[Diagnostic]]:
    """Load the shipped reference data with the workspace's `shared/` folder over it.

    `workspace` is the folder that holds `shared/`; None takes what is shipped alone. Returns the data, or
    None with the diagnostics that say what is wrong with it.
    """
    collected = _Collected()
    shipped_folder = shared_folder()
    _take(collected, shipped_folder, "shipped")
    shipped_policy = dict(collected.entries["policy"])
    own = None if workspace is None else workspace / "shared"
    if own is not None and own.is_dir() and own.resolve() != shipped_folder.resolve():
        _take(collected, own, "shared")
    if not collected.diagnostics:
        collected.diagnostics.extend(_cross_names(collected))
    if collected.diagnostics:
        return None, collected.diagnostics
    entries = collected.entries

    def made(kind: str, make: Callable[[str, Entry], T]) -> dict[str, T]:
        return {key: make(key, entry) for key, entry in entries[kind].items()}

    reference = Reference(
        springs=made("springs", _spring),
        spindles=made("spindles", _spindle),
        guards=made("guards", _guard),
        couplings=made("couplings", _coupling),
        containers=made("containers", container),
        instruments=made("instruments", _instrument),
        fluids=made("fluids", _fluid),
        sources=made("sources", _citation),
        phrases=entries["phrases"],
        policy=policy.make(entries["policy"], shipped_policy),
        origins=collected.origins,
        raw=entries,
    )
    found = list(
        first_principles.faults(reference.spindles, reference.springs, reference.containers, collected.places)
    )
    return (None, found) if found else (reference, [])
