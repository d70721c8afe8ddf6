"""Stage 3: plain data and reference data become one frozen method.

The data has passed stage 2, so keys are there and quantities can be read. What is checked here are names
inside the method (steps, results, ratios) and limits whose kind depends on the result they belong to.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any

from fillmark.diagnostics import Diagnostic, Path
from fillmark.model import (
    Change,
    Cleaning,
    Conditioning,
    Container,
    Immersion,
    Limit,
    Method,
    OwnCoefficient,
    People,
    Preshear,
    Product,
    Read,
    Reference,
    Replicates,
    ReportLine,
    Sample,
    Setup,
    Step,
    Temperature,
    Training,
    Verification,
    Waiver,
)
from fillmark.quantities import Quantity, QuantityError, Toleranced, parse, parse_toleranced
from fillmark.read import Source
from fillmark.reference import container as container_of
from fillmark.validate import diagnostic, unknown_name

Data = Mapping[str, Any]


def _quantity(data: Data, key: str, kind: str) -> Quantity | None:
    return parse(data[key], kind) if key in data else None


def _toleranced(data: Data, key: str, kind: str) -> Toleranced | None:
    return parse_toleranced(data[key], kind) if key in data else None


def _date(data: Data, key: str) -> date | None:
    return date.fromisoformat(data[key]) if key in data else None


def _ratio(value: float) -> Quantity:
    return Quantity(float(value), str(value), str(value), "", "ratio")


def _either(data: Data, key: str) -> Quantity | None:
    """Read a limit or an increment: a viscosity as text, or a plain number for a ratio."""
    if key not in data:
        return None
    value = data[key]
    return parse(value, "viscosity") if isinstance(value, str) else _ratio(value)


def _agreement(data: Data) -> Quantity | None:
    if "agree_within" not in data:
        return None
    try:
        return parse(data["agree_within"], "viscosity")
    except QuantityError:
        return parse(data["agree_within"], "percent")


def _product(data: Data) -> Product:
    return Product(
        path=("product",),
        name=data["name"],
        behaviour=data["behaviour"],
        density=_quantity(data, "density", "density"),
        temperature_sensitivity=_quantity(data, "temperature_sensitivity", "sensitivity"),
        largest_particle=_quantity(data, "largest_particle", "length"),
        hazards=tuple(data.get("hazards", ())),
        volatile=data.get("volatile", False),
        aerated=data.get("aerated", False),
        diffusivity=_quantity(data, "thermal_diffusivity", "diffusivity"),
        heat_capacity=_quantity(data, "heat_capacity", "heat-capacity"),
        flash_point=_quantity(data, "flash_point", "temperature"),
        pot_life=_quantity(data, "pot_life", "time"),
        phase_change=_quantity(data, "phase_change", "temperature"),
    )


def _limit(data: Data, path: Path) -> Limit:
    return Limit(
        path,
        data["result"],
        _either(data, "lower"),
        _either(data, "upper"),
        _either(data, "target"),
        data.get("decision_rule"),
        data.get("one_sided", False),
    )


def _setup(data: Data, reference: Reference) -> Setup:
    return Setup(
        path=("instrument",),
        spring=reference.springs[data["spring"]],
        readout=data["readout"],
        coupling=reference.couplings[data["coupling"]],
        suspension=data["suspension"],
        stand=data["stand"],
        accuracy=_quantity(data, "accuracy", "percent-of-full-scale"),
        full_scale_angle=_quantity(data, "full_scale_angle", "angle"),
        resolution=_quantity(data, "resolution", "percent"),
        rise_rate=_quantity(data, "rise_rate", "velocity"),
        only_this=data.get("only_this", False),
        adapter=data.get("adapter"),
    )


def _sample(data: Data) -> Sample:
    return Sample(
        path=("sample",),
        volume=_toleranced(data, "volume", "volume"),
        mass=_toleranced(data, "mass", "mass"),
        age=_toleranced(data, "age", "time"),
        preparation=data["preparation"],
        bubbles=data.get("bubbles"),
        rest=_quantity(data, "rest", "time"),
        open_time=_quantity(data, "open_time", "time"),
        supplied=_quantity(data, "supplied", "volume"),
    )


def _immersion(data: Data) -> Immersion:
    return Immersion(
        ("immersion",),
        data["to"],
        _quantity(data, "tolerance", "length"),
        _quantity(data, "depth", "length"),
        _quantity(data, "bottom_clearance", "length"),
        data.get("direction"),
    )


def _temperature(data: Data) -> Temperature:
    thermometer = data.get("thermometer", {})
    plain = data.get("conditioning")
    conditioning = None
    if plain is not None:
        conditioning = Conditioning(
            ("temperature", "conditioning"),
            plain["where"],
            _quantity(plain, "time", "time"),
            plain.get("covered", False),
            plain.get("stirred", False),
            plain.get("parts", False),
        )
    return Temperature(
        path=("temperature",),
        target=parse_toleranced(data["target"], "temperature"),
        measured=data["measured"],
        start=_quantity(data, "start", "temperature"),
        room=_quantity(data, "room", "temperature"),
        recheck=data.get("recheck", True),
        thermometer_resolution=_quantity(thermometer, "resolution", "temperature-difference"),
        thermometer_uncertainty=_quantity(thermometer, "uncertainty", "temperature-difference"),
        conditioning=conditioning,
    )


def _step(data: Data, path: Path) -> Step:
    read = data["read"]
    steady = read.get("steady", {})
    shear = data.get("preshear")
    return Step(
        path=path,
        name=data["name"],
        speed=parse(data["speed"], "speed"),
        read=Read(
            (*path, "read"),
            _quantity(read, "after", "time"),
            _quantity(read, "revolutions", "revolutions"),
            _quantity(read, "average", "time"),
            _quantity(steady, "change", "percent"),
            _quantity(steady, "over", "time"),
            _quantity(steady, "at_most", "time"),
            read.get("lock", False),
        ),
        factor=_quantity(data, "factor", "factor"),
        full_scale=_quantity(data, "full_scale", "viscosity"),
        shear_rate=_quantity(data, "shear_rate", "shear-rate"),
        preshear=None
        if shear is None
        else Preshear(
            (*path, "preshear"),
            parse(shear["speed"], "speed"),
            parse(shear["time"], "time"),
            _quantity(shear, "rest", "time"),
        ),
    )


def _verification(data: Data, reference: Reference) -> Verification:
    accept = data.get("accept", {})
    return Verification(
        path=("verification",),
        fluid=reference.fluids[data["fluid"]],
        at=data["at"],
        frequency=data.get("frequency"),
        on_failure=data.get("on_failure"),
        temperature=_toleranced(data, "temperature", "temperature"),
        spindle=reference.spindles[data["spindle"]] if "spindle" in data else None,
        container=reference.containers[data["container"]] if "container" in data else None,
        guard=data.get("guard"),
        lower=_quantity(accept, "lower", "viscosity"),
        upper=_quantity(accept, "upper", "viscosity"),
    )


def _report(data: Data, path: Path) -> ReportLine:
    ratio = data.get("ratio")
    return ReportLine(
        path,
        data["result"],
        data.get("statistic"),
        data.get("unit"),
        _either(data, "increment"),
        data.get("rounding"),
        data.get("comparison"),
        data.get("below_range"),
        data.get("above_range"),
        None if ratio is None else (ratio[0], ratio[1]),
    )


def _waiver(data: Data, path: Path) -> Waiver:
    return Waiver(
        path,
        data["rule"],
        data["reason"],
        data.get("evidence"),
        data.get("risk"),
        data.get("requested_by"),
        data.get("approved_by"),
        _date(data, "expires"),
        data.get("rests_on", {}),
    )


def _names_inside(source: Source) -> list[Diagnostic]:
    """Check the names by which the method's own parts speak of each other, and the kind of each limit."""
    data: Data = source.data
    found: list[Diagnostic] = []
    steps = [s["name"] for s in data["run"]]
    ratios = [r["result"] for r in data["report"] if "ratio" in r]
    results = [*steps, *ratios]

    def unknown(path: Path, word: str, known: list[str], where: str) -> None:
        if word not in known:
            found.append(unknown_name(source, path, word, known, where))

    for index, name in enumerate(steps):
        if name in steps[:index]:
            message = f"{name} already names step {steps.index(name) + 1} of the run; two results cannot share a name."
            ways = ("Give the second step a name of its own.", "Or take one of the two steps out.")
            found.append(diagnostic(source, "NAM01", ("run", index, "name"), message, ways))
    for index, line in enumerate(data["report"]):
        for which, word in enumerate(line.get("ratio", ())):
            unknown(("report", index, "ratio", which), word, steps, "run")
        if "ratio" not in line:
            unknown(("report", index, "result"), line["result"], steps, "run")
        if "increment" in line and line["result"] in results:
            _kind_of_limit(
                source, ("report", index, "increment"), line["increment"], line["result"] in ratios, found
            )
    for index, limit in enumerate(data["specification"]):
        unknown(("specification", index, "result"), limit["result"], results, "run and report")
        for key in ("lower", "target", "upper"):
            if key in limit and limit["result"] in results:
                path: Path = ("specification", index, key)
                _kind_of_limit(source, path, limit[key], limit["result"] in ratios, found)
    if "verification" in data:
        unknown(("verification", "at"), data["verification"]["at"], steps, "run")
    return found


def _kind_of_limit(source: Source, path: Path, value: Any, ratio: bool, found: list[Diagnostic]) -> None:
    if ratio and isinstance(value, str):
        message = f"{value} belongs to a ratio, which has no unit."
        found.append(diagnostic(source, "QTY01", path, message, ("Write the plain number, such as 5.0.",)))
    elif not ratio and not isinstance(value, str):
        message = f"{value} has no unit."
        ways = (f"Write number and unit, such as {value} Pa·s or {value} mPa·s: they differ by 1000.",)
        found.append(diagnostic(source, "QTY01", path, message, ways))


def resolve(source: Source, reference: Reference) -> tuple[Method | None, list[Diagnostic]]:
    """Make the method of a source that has passed stage 2.

    Returns the method, or None with every name that nothing bears and every limit of the wrong kind.
    """
    found = _names_inside(source)
    if found:
        return None, found
    data: Data = source.data
    people = data["people"]
    spindle = data["spindle"]
    spindle_name, marking = (
        (spindle, None) if isinstance(spindle, str) else (spindle["name"], spindle.get("marking"))
    )
    vessel = data["container"]
    container: Container = (
        reference.containers[vessel]
        if isinstance(vessel, str)
        else container_of("own", vessel, path=("container",))
    )
    own = data.get("coefficient")
    cleaning = data.get("cleaning")
    training = data.get("training")
    method = Method(
        file=source.name,
        id=data["id"],
        title=data["title"],
        revision=data["revision"],
        status=data["status"],
        purpose=data["purpose"],
        demonstration=data.get("demonstration", False),
        result_type=data.get("result_type", "apparent"),
        effective=_date(data, "effective"),
        review_by=_date(data, "review_by"),
        people=People(("people",), people["author"], people.get("reviewer"), people.get("approver")),
        based_on=tuple(data.get("based_on", ())),
        complies_with=tuple(data.get("complies_with", ())),
        changes=tuple(
            Change(("changes", i), c["revision"], c["class"], c["reason"])
            for i, c in enumerate(data.get("changes", ()))
        ),
        product=_product(data["product"]),
        specification=tuple(_limit(s, ("specification", i)) for i, s in enumerate(data["specification"])),
        instrument=_setup(data["instrument"], reference),
        spindle=reference.spindles[spindle_name],
        marking=marking,
        guard=data["guard"],
        guard_form=data.get("guard_form"),
        guard_continuity=data.get("guard_continuity"),
        coefficient=None
        if own is None
        else OwnCoefficient(
            ("coefficient",),
            parse(own["full_scale"], "coefficient"),
            own["guard"],
            own["container"],
            own["evidence"],
            _date(own, "expires"),
        ),
        container=container,
        sample=_sample(data["sample"]),
        immersion=_immersion(data["immersion"]),
        temperature=_temperature(data["temperature"]),
        run=tuple(_step(s, ("run", i)) for i, s in enumerate(data["run"])),
        replicates=Replicates(
            ("replicates",),
            data["replicates"]["count"],
            data["replicates"]["each"],
            _quantity(data["replicates"], "repeatability", "percent"),
            _agreement(data["replicates"]),
            data["replicates"].get("otherwise"),
            data["replicates"].get("confirm_outside", False),
        ),
        verification=_verification(data["verification"], reference) if "verification" in data else None,
        report=tuple(_report(r, ("report", i)) for i, r in enumerate(data["report"])),
        equipment=tuple(data.get("equipment", ())),
        cleaning=None
        if cleaning is None
        else Cleaning(
            ("cleaning",),
            cleaning.get("agent"),
            tuple(cleaning.get("agent_hazards", ())),
            cleaning.get("disposal"),
        ),
        training=None
        if training is None
        else Training(("training",), training["level"], _quantity(training, "valid", "time")),
        retention=data.get("retention"),
        evidence=data.get("evidence", {}),
        notes=data.get("notes", {}),
        waivers=tuple(_waiver(w, ("waivers", i)) for i, w in enumerate(data.get("waivers", ()))),
        reference=reference,
        data=data,
    )
    return method, []
