"""Reference data: springs, spindles, guards, containers and the rest, read from YAML.

What is shipped is the default; a workspace's own `shared/` adds entries or overrides them by key, and a file
that says `replace: true` drops the shipped ones of its kind. Each entry remembers which file it came from.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any, TypeVar

from fillmark import first_principles, policy
from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.files import CODES as FILES
from fillmark.files import read_at_most, shown, unreadable
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
Files = Mapping[str, bytes]
"""Files of reference data: `shipped/springs.yaml` or `shared/springs.yaml` -> what is in it."""
T = TypeVar("T")


@dataclass
class _Collected:
    """What has been read so far: plain entries by kind and key, and where each came from."""

    entries: dict[str, dict[str, Any]] = field(default_factory=lambda: {k: {} for k in KINDS})
    origins: dict[tuple[str, str], str] = field(default_factory=dict)
    places: dict[tuple[str, str], Source] = field(default_factory=dict)
    diagnostics: list[Diagnostic] = field(default_factory=list)


def meant_kind(name: str) -> str | None:
    """Give the kind that a file of this name holds or was meant to hold: `policy` for Policy.yml; else None."""
    stem, dot, suffix = name.casefold().rpartition(".")
    return stem if dot and stem in KINDS and suffix in ("yaml", "yml") else None


def _not_read(name: str, kind: str | None) -> Diagnostic:
    listed = f"Files that are read: {', '.join(f'{k}.yaml' for k in KINDS)}."
    return Diagnostic(
        "FIL02", FILES["FIL02"][0], Severity.ERROR,
        f"{shown(name)} would be passed over: no reference data has this name.", shown(name), Span(1, 1, 1, 1),
        ways_out=(
            f"Call it {kind}.yaml." if kind else listed,
            "Or move it out of shared/, if it is something else.",
        ),
    )  # fmt: skip


def _opened(folder: FilePath, label: str, found: list[Diagnostic]) -> Files:
    """Read the files of a folder of reference data; what cannot be read is told in `found`."""
    try:
        lying_there = sorted(file.name for file in folder.iterdir())
    except OSError as error:
        found.append(unreadable(folder, error, name=label))
        return {}
    for name in lying_there:
        kind = meant_kind(name)
        if name.casefold().endswith((".yaml", ".yml")) and name[0] != "." and name != f"{kind}.yaml":
            found.append(_not_read(f"{label}/{name}", kind))
    files: dict[str, bytes] = {}
    for name in (f"{kind}.yaml" for kind in KINDS):
        if name not in lying_there:
            continue
        try:
            files[f"{label}/{name}"] = read_at_most(folder / name)
        except OSError as error:
            found.append(unreadable(folder / name, error, name=f"{label}/{name}"))
    return files


def _take(collected: _Collected, files: Files, label: str) -> None:
    for kind in KINDS:
        data = files.get(f"{label}/{kind}.yaml")
        if data is None:
            continue
        reading = read(data, f"{label}/{kind}.yaml")
        collected.diagnostics.extend(reading.diagnostics)
        if reading.source is None:
            continue
        source = reading.source
        found = validate(source, "shared.schema.json", kind)
        collected.diagnostics.extend(found)
        if found:
            continue
        given = dict(source.data)
        if kind == "policy" and collected.entries[kind]:
            collected.diagnostics.extend(policy.faults(source, given, collected.entries[kind]))
        if given.pop("replace", False):
            collected.entries[kind].clear()
        for key, entry in given.items():
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
    files, found = read_files(workspace)
    return load_files(files, found)


def read_files(workspace: FilePath | None) -> tuple[Files, list[Diagnostic]]:
    """Read the files that `load` loads, and tell which of them cannot be read."""
    found: list[Diagnostic] = []
    shipped_folder = shared_folder()
    files = dict(_opened(shipped_folder, "shipped", found))
    own = None if workspace is None else workspace / "shared"
    if own is not None and own.is_dir() and own.resolve() != shipped_folder.resolve():
        files |= _opened(own, "shared", found)
    return files, found


def load_files(
    files: Files, found: Sequence[Diagnostic] = (), *, completed_by: Reference | None = None
) -> tuple[Reference | None, list[Diagnostic]]:
    """Load reference data from files that have been read; `found` is what was wrong with reading them.

    Files of an earlier Fillmark lack thresholds that have come since, or have them as another kind of
    quantity; `completed_by` gives those, with their sources.
    """
    collected = _Collected(diagnostics=list(found))
    _take(collected, files, "shipped")
    shipped_policy = dict(collected.entries["policy"])
    _take(collected, files, "shared")
    if completed_by is not None:
        entries, today = collected.entries, completed_by.raw
        entries["sources"] = {**today["sources"], **entries["sources"]}
        entries["policy"] = policy.completed(entries["policy"], today["policy"])
        shipped_policy = policy.completed(shipped_policy, today["policy"])
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
