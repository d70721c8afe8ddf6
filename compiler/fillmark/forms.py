"""The forms beside checklist and data sheet: what they are made from, and the sheets themselves.

Verification log, transfer sheet and investigation belong to a valid method. A scouting sheet needs no more than a
spring and a spindle: from a draft it takes what can be read and resolved, and says what it left. A wall card needs
the inventory alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from fillmark.budgets import steps_with_limits
from fillmark.choices import eligible
from fillmark.derive.figuring import viscosity_unit
from fillmark.derive.ranges import around, card_figures, hangs_on, speeds_of
from fillmark.derive.scouting import TIMES, scouting_figures
from fillmark.derive.transfer import order, seed_of, transfer
from fillmark.digest import digest, digest_of
from fillmark.documents import Document
from fillmark.documents.investigation import plan_investigation
from fillmark.documents.scouting import Scouting, plan_scouting
from fillmark.documents.slips import Slips
from fillmark.documents.transfer import plan_transfer
from fillmark.documents.verification_log import plan_verification_log
from fillmark.documents.wall_card import plan_wall_card
from fillmark.figures import Figures
from fillmark.misuse import expected_within
from fillmark.model import Instrument, Method, Reference, Spindle, Spring
from fillmark.pipeline import Compiled
from fillmark.quantities import Quantity, QuantityError, brief, parse, parse_toleranced, sig

LARGEST_SEED = 10**9
MOST_NAMED = 6
"""Speeds that fit on a scouting sheet, up and down."""


class FormError(ValueError):
    """A form that cannot be made; the message says what is missing and two ways out."""


def plan_form(
    kind: str, method: Method, figures: Figures, mark: str, budget: Slips, *,
    print_date: date | None = None, seed: int | None = None,
) -> Document:  # fmt: skip
    """Plan one of the forms of a valid method: verification-log, transfer or investigation.

    `mark` is its digest, `budget` its misuse budget in words; `seed` draws the order of a transfer and follows
    from the digest unless given.
    """
    if kind == "verification-log":
        return plan_verification_log(method, figures, mark, print_date=print_date)
    if kind == "transfer":
        drawn = seed_of(mark) if seed is None else seed
        return plan_transfer(
            method, figures, transfer(method, figures), mark, runs=order(drawn), seed=drawn, step=method.judged_step,
            print_date=print_date,
        )  # fmt: skip
    within, by = expected_within(figures, steps_with_limits(method)[0])
    return plan_investigation(
        method, figures, mark, budget, within=(f"{sig(within, 2)} %", by), print_date=print_date
    )


# --- wall card


def wall_card(reference: Reference, key: str, *, print_date: date | None = None) -> Document:
    """Plan the wall card of an instrument; FormError where the inventory does not have it."""
    instrument = _instrument(reference, key)
    figures = card_figures(reference, instrument)
    if not figures:
        raise FormError(
            f"No spindle of the inventory goes on {key} (spring {instrument.spring}): the card would be empty. "
            "Enter the spindles with their springs in shared/spindles.yaml, or name another instrument."
        )
    on = [s for s in reference.spindles.values() if hangs_on(s, instrument)]
    coupling = reference.couplings[instrument.coupling]
    named = {
        ("instruments", key),
        ("springs", instrument.spring),
        ("couplings", coupling.key),
        ("guards", coupling.guard),
        *(("spindles", s.key) for s in reference.spindles.values()),
        *(("springs", s.coefficient_spring) for s in on),
        *(("containers", s.container) for s in on if s.container is not None),
    }
    return plan_wall_card(
        reference,
        instrument,
        figures,
        speeds_of(instrument),
        digest_of(reference, named),
        print_date=print_date,
    )


def _instrument(reference: Reference, key: str) -> Instrument:
    found = reference.instruments.get(key)
    if found is None:
        raise FormError(
            f"There is no instrument {key} in the inventory. It has: {', '.join(reference.instruments)}. "
            "Name one of these, or enter yours in shared/instruments.yaml."
        )
    return found


# --- scouting


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the one who asks for a scouting sheet says; it goes before what a draft says."""

    product: str = ""
    instrument: str = ""
    spring: str = ""
    spindle: str = ""
    speeds: tuple[str, ...] = ()
    temperature: str = ""


@dataclass(slots=True)
class _Draft:
    """What could be taken from a draft."""

    product: str = ""
    hazards: tuple[str, ...] = ()
    spring: Spring | None = None
    spindle: Spindle | None = None
    readout: str = ""
    coupling: str = ""
    container: str = ""
    guard: str = ""
    speeds: tuple[float, ...] = ()
    hold: float | None = None
    temperature: Quantity | None = None
    coefficient: float | None = None
    unit: str | None = None
    instruments: list[Instrument] = field(default_factory=list)
    id: str = ""
    title: str = ""
    revision: str = ""
    effective: str = ""
    digest: str = ""
    draft: bool = False
    demonstration: bool = False
    left_out: list[str] = field(default_factory=list)


def scouting(
    compiled: Compiled | None, reference: Reference, wanted: Wanted, *, print_date: date | None = None
) -> Document:
    """Plan a scouting sheet from a draft, from what is wanted, or from both.

    `compiled` may be a method with errors, or a text of which only parts can be used; None without one.
    FormError where no spring and spindle come of it, or something wanted cannot be had.
    """
    draft = _Draft()
    if compiled is not None:
        if compiled.method is not None and compiled.figures is not None:
            draft = _from_method(compiled, compiled.method, compiled.figures)
        elif compiled.source is not None and isinstance(compiled.source.data, Mapping):
            draft = _from_data(compiled.source.data, reference)
        else:
            raise FormError(
                f"{compiled.file} cannot be read as YAML: fillmark check says where. Mend it, or leave it out and name "
                "product, instrument and spindle: --product, --instrument, --spindle."
            )
    instrument = _instrument(reference, wanted.instrument) if wanted.instrument else None
    spring = _spring(draft, instrument, reference, wanted)
    spindle = _spindle(draft, instrument, spring, reference, wanted)
    if spindle is not draft.spindle or spring is not draft.spring:
        draft.coefficient = None
    instruments = [instrument] if instrument is not None else draft.instruments
    speeds, hold = _speeds(draft, instruments, wanted)
    temperature = draft.temperature
    if wanted.temperature:
        try:
            temperature = parse(wanted.temperature, "temperature")
        except QuantityError as error:
            raise FormError(f"--temperature: {error}. Write it as 23.0 °C, or leave it out.") from error
    coupling = instrument.coupling if instrument is not None else draft.coupling
    known = Scouting(
        product=wanted.product or draft.product,
        spring=spring,
        spindle=spindle,
        speeds=speeds,
        hold=hold,
        times=TIMES,
        hazards=draft.hazards,
        readout=instrument.readout if instrument is not None else draft.readout,
        coupling=reference.couplings.get(coupling),
        container=draft.container or _container_of(spindle, reference),
        guard=draft.guard or _guard_of(spindle, spring),
        instrument=instrument.label if instrument is not None else "",
        id=draft.id,
        title=draft.title,
        revision=draft.revision,
        effective=draft.effective,
        digest=draft.digest,
        draft=draft.draft,
        demonstration=draft.demonstration,
        left_out=tuple(draft.left_out),
    )
    figures = scouting_figures(
        spindle=spindle, on=spring, reference=reference, speeds=speeds, coefficient=draft.coefficient, unit=draft.unit,
        temperature=None if temperature is None else (temperature.value, temperature.decimals),
    )  # fmt: skip
    return plan_scouting(known, figures, reference, print_date=print_date)


def _from_method(compiled: Compiled, m: Method, figures: Figures) -> _Draft:
    step = m.judged_step
    return _Draft(
        product=m.product.name,
        hazards=m.product.hazards,
        spring=m.instrument.spring,
        spindle=m.spindle,
        readout=m.instrument.readout,
        coupling=m.instrument.coupling.key,
        container=m.container.label,
        guard=m.guard,
        speeds=tuple(s.speed.value for s in m.run),
        hold=step.speed.value,
        temperature=m.temperature.target.value,
        coefficient=figures["coefficient"].value,
        unit=viscosity_unit(m, step.name),
        instruments=eligible(m),
        id=m.id,
        title=m.title,
        revision=str(m.revision),
        effective="" if m.effective is None else m.effective.isoformat(),
        digest=digest(m),
        draft=m.status != "released" or not compiled.clean,
        demonstration=m.demonstration,
    )


def _from_data(data: Mapping[str, Any], reference: Reference) -> _Draft:
    """Take from the plain data of a draft what can be read and resolved, and note what cannot."""
    d = _Draft(draft=True)

    def part(key: str) -> Mapping[str, Any]:
        value = data.get(key)
        return value if isinstance(value, Mapping) else {}

    def text(mapping: Mapping[str, Any], key: str) -> str:
        value = mapping.get(key)
        return value if isinstance(value, str) else ""

    def left(where: str, value: object) -> None:
        d.left_out.append(f"{where}: {str(value)[:60]}")

    d.id, d.title, d.product = text(data, "id"), text(data, "title"), text(part("product"), "name")
    d.demonstration = data.get("demonstration") is True
    revision = data.get("revision")
    d.revision = str(revision) if isinstance(revision, int) else ""
    hazards = part("product").get("hazards")
    for hazard in hazards if isinstance(hazards, Sequence) and not isinstance(hazards, str) else ():
        if f"hazard-{hazard}" in reference.phrases:
            d.hazards += (str(hazard),)
        else:
            left("product.hazards", hazard)
    setup = part("instrument")
    if "spring" in setup:
        d.spring = reference.springs.get(str(setup["spring"]))
        if d.spring is None:
            left("instrument.spring", setup["spring"])
    d.readout = text(setup, "readout")
    d.coupling = text(setup, "coupling")
    spindle = data.get("spindle")
    name = spindle.get("name") if isinstance(spindle, Mapping) else spindle
    if name is not None:
        d.spindle = reference.spindles.get(str(name))
        if d.spindle is None:
            left("spindle", name)
    container = data.get("container")
    if isinstance(container, str):
        if container in reference.containers:
            d.container = reference.containers[container].label
        else:
            left("container", container)
    guard = text(data, "guard")
    if guard in ("required", "not-used", "not-applicable"):
        d.guard = guard
    run = data.get("run")
    for index, step in enumerate(run if isinstance(run, Sequence) and not isinstance(run, str) else ()):
        speed = step.get("speed") if isinstance(step, Mapping) else None
        if speed is None:
            continue
        try:
            d.speeds += (parse(str(speed), "speed").value,)
        except QuantityError:
            left(f"run[{index}].speed", speed)
    target = part("temperature").get("target")
    if target is not None:
        try:
            d.temperature = parse_toleranced(str(target), "temperature").value
        except QuantityError:
            try:
                d.temperature = parse(str(target), "temperature")
            except QuantityError:
                left("temperature.target", target)
    own = part("coefficient").get("full_scale")
    if own is not None:
        try:
            d.coefficient = parse(str(own), "coefficient").value
        except QuantityError:
            left("coefficient.full_scale", own)
    d.hold = d.speeds[-1] if d.speeds else None
    return d


def _spring(draft: _Draft, instrument: Instrument | None, reference: Reference, wanted: Wanted) -> Spring:
    if wanted.spring and wanted.spring not in reference.springs:
        raise FormError(
            f"There is no spring {wanted.spring}. There are: {', '.join(reference.springs)}. Name one of these, or an "
            "instrument: --instrument."
        )
    if instrument is not None:
        if wanted.spring and wanted.spring != instrument.spring:
            raise FormError(
                f"{instrument.key} has spring {instrument.spring}, not {wanted.spring}. Leave --spring out, or name an "
                "instrument with that spring."
            )
        return reference.springs[instrument.spring]
    found = reference.springs[wanted.spring] if wanted.spring else draft.spring
    if found is None:
        raise FormError(
            "A scouting sheet needs the spring: without it no torque becomes a viscosity. Name an instrument "
            f"(--instrument, one of {', '.join(reference.instruments)}), or a spring (--spring, one of "
            f"{', '.join(reference.springs)})."
        )
    return found


def _spindle(
    draft: _Draft, instrument: Instrument | None, spring: Spring, reference: Reference, wanted: Wanted
) -> Spindle:
    fitting = [
        s.key for s in reference.spindles.values()
        if (spring.key in s.springs if instrument is None else hangs_on(s, instrument))
    ]  # fmt: skip
    found = reference.spindles.get(wanted.spindle) if wanted.spindle else draft.spindle
    if found is None:
        said = (
            f"There is no spindle {wanted.spindle}."
            if wanted.spindle
            else "A scouting sheet needs the spindle."
        )
        raise FormError(
            f"{said} Name one that goes on spring {spring.key} (--spindle): {', '.join(fitting)}. Or enter yours in "
            "shared/spindles.yaml."
        )
    if found.key not in fitting:
        place = instrument.key if instrument is not None else f"spring {spring.key}"
        made = f"it is made for {', '.join(found.springs)}"
        if spring.key in found.springs:
            made = "it wants a stand that travels"
        raise FormError(
            f"Spindle {found.key} does not go on {place}: {made}. Name one that does (--spindle): "
            f"{', '.join(fitting)}; or another instrument (--instrument)."
        )
    return found


def _speeds(
    draft: _Draft, instruments: Sequence[Instrument], wanted: Wanted
) -> tuple[tuple[float, ...], float]:
    try:
        named = tuple(sorted({parse(text, "speed").value for text in wanted.speeds}))
    except QuantityError as error:
        raise FormError(f"--speed: {error}. Write it as 20 rpm, or leave it out.") from error
    for rpm in named:
        if instruments and not any(i.has_speed(rpm) for i in instruments):
            names = ", ".join(i.key for i in instruments)
            raise FormError(
                f"{brief(rpm, 4)} rpm cannot be set on {names}. Name another --speed, or another --instrument."
            )
    if len(named) > MOST_NAMED:
        raise FormError(
            f"The sheet has room for {MOST_NAMED} speeds up and as many down; {len(named)} are named. Leave the middle "
            "ones out, or print a second sheet."
        )
    speeds = named if len(named) > 1 else around(named or draft.speeds, instruments)
    if not speeds:
        raise FormError(
            "None of the instruments can be set to a usual speed. Name the speeds (--speed), or another --instrument."
        )
    asked = named[0] if len(named) == 1 else draft.hold
    hold = asked if asked in speeds and asked is not None else speeds[len(speeds) // 2]
    return speeds, hold


def _container_of(spindle: Spindle, reference: Reference) -> str:
    container = reference.containers.get(spindle.container or "")
    return "" if container is None else container.label


def _guard_of(spindle: Spindle, spring: Spring) -> str:
    """Give the guard state that the spindle's coefficient holds for."""
    states = {"with": "required", "without": "not-used", "not-applicable": "not-applicable"}
    return states.get(spindle.guard, "required" if spring.takes_guard else "not-used")
