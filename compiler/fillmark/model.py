"""The resolved method and the reference data it names, as frozen values.

Every object knows its own path in the YAML, so that a rule can point at the line it speaks of. Quantities
carry the text the author wrote beside a float in the unit of their kind (see `quantities.py`). What follows
from these values by formula is in `figures.py` and `derive/`, never here.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from fillmark.diagnostics import Path
from fillmark.names import alike
from fillmark.quantities import Quantity, Toleranced


@dataclass(frozen=True, slots=True)
class Spring:
    """A spring range."""

    key: str
    full_scale: Quantity
    suspensions: tuple[str, ...]
    takes_guard: bool
    source: str
    known: str


@dataclass(frozen=True, slots=True)
class Spindle:
    """A spindle of the catalogue; a dimension is None where nobody has given it."""

    key: str
    kind: str
    """cylinder, disc, bar, chamber-cylinder, coaxial-cylinder, cone"""
    coefficient: Quantity
    """Full-scale viscosity times speed on the spring `coefficient_spring`."""
    coefficient_spring: str
    springs: tuple[str, ...]
    guard: str
    """Guard state the coefficient holds for: with, without, either, not-applicable."""
    container: str | None
    """Container the coefficient holds for."""
    diameter: Quantity | None
    length: Quantity | None
    shaft_diameter: Quantity | None
    mark_height: Quantity | None
    """From the underside to the immersion mark."""
    effective_length: Quantity | None
    wire_diameter: Quantity | None
    cone_angle: Quantity | None
    truncation: Quantity | None
    accessory_accuracy: Quantity | None
    relative: bool
    twin: str | None
    """The look-alike form made for other springs."""
    source: str
    known: str

    @property
    def plain(self) -> bool:
        """Whether it hangs in an open container by a mark on its shaft."""
        return self.kind in ("cylinder", "disc")


@dataclass(frozen=True, slots=True)
class Guard:
    """A guard, by the couplings it goes with."""

    key: str
    couplings: tuple[str, ...]
    springs: tuple[str, ...]
    width: Quantity
    leg_width: Quantity
    leg_thickness: Quantity
    below_spindle: Quantity
    source: str
    known: str


@dataclass(frozen=True, slots=True)
class Coupling:
    """How a spindle hangs on the instrument."""

    key: str
    left_hand_thread: bool
    caution: str
    guard: str
    source: str
    known: str


@dataclass(frozen=True, slots=True)
class Container:
    """What the sample stands in."""

    key: str
    label: str
    kind: str
    """beaker, pack, chamber, adapter, plate"""
    inside_diameter: Quantity
    height: Quantity
    fill_depth: Quantity | None
    reference: bool
    jacketed: bool
    source: str
    known: str
    path: Path = ()


@dataclass(frozen=True, slots=True)
class Instrument:
    """One instrument of the laboratory."""

    key: str
    label: str
    spring: str
    readout: str
    coupling: str
    suspension: str
    stand: str
    speeds: tuple[float, ...]
    """Speeds in rpm of an instrument with a fixed set; empty where it sets any."""
    speed_from: float
    speed_to: float
    speed_step: float

    def has_speed(self, rpm: float) -> bool:
        """Whether the instrument can be set to this speed (rpm)."""
        if self.speeds:
            return any(abs(rpm - s) <= 1e-9 * s for s in self.speeds)
        steps = rpm / self.speed_step
        within = self.speed_from * (1 - 1e-9) <= rpm <= self.speed_to * (1 + 1e-9)
        return within and abs(steps - round(steps)) < 1e-6


@dataclass(frozen=True, slots=True)
class Fluid:
    """A Newtonian reference fluid with its certificate."""

    key: str
    viscosity: Quantity
    uncertainty: Quantity
    """Expanded, k = 2."""
    temperature: Quantity
    sensitivity: Quantity
    klass: str
    source: str
    known: str


@dataclass(frozen=True, slots=True)
class Citation:
    """An entry of the bibliography."""

    key: str
    title: str
    known: str


@dataclass(frozen=True, slots=True)
class Policy:
    """Site policy: thresholds in the unit of their kind, house choices as text."""

    version: str
    values: Mapping[str, float]
    texts: Mapping[str, str]
    """Each value as written."""
    choices: Mapping[str, str]
    sources: Mapping[str, str]
    changed: tuple[str, ...]
    """Keys that differ from what is shipped."""
    shipped: Mapping[str, str]
    """What is shipped for those keys, as written."""

    def __getitem__(self, key: str) -> float:
        """Give a threshold as a number in the unit of its kind (%, K, s, m, or plain)."""
        return self.values[key]


@dataclass(frozen=True, slots=True)
class Reference:
    """All reference data: what is shipped with the workspace's own entries over it."""

    springs: Mapping[str, Spring]
    spindles: Mapping[str, Spindle]
    guards: Mapping[str, Guard]
    couplings: Mapping[str, Coupling]
    containers: Mapping[str, Container]
    instruments: Mapping[str, Instrument]
    fluids: Mapping[str, Fluid]
    sources: Mapping[str, Citation]
    phrases: Mapping[str, Any]
    policy: Policy
    origins: Mapping[tuple[str, str], str]
    """(kind, key) -> the file the entry came from."""
    raw: Mapping[str, Mapping[str, Any]]
    """Plain data by kind and key, for the digest."""


@dataclass(frozen=True, slots=True)
class People:
    """Who stands behind the method."""

    path: Path
    author: str
    reviewer: str | None
    approver: str | None

    def wrote(self, name: str | None) -> bool:
        """Whether a name may be the author's: `A. Osei`, `a osei` and `Osei, A.` are one."""
        return name is not None and alike(name, self.author)


@dataclass(frozen=True, slots=True)
class Product:
    """What is measured."""

    path: Path
    name: str
    behaviour: str
    density: Quantity | None
    temperature_sensitivity: Quantity | None
    largest_particle: Quantity | None
    hazards: tuple[str, ...]
    volatile: bool
    aerated: bool
    diffusivity: Quantity | None
    heat_capacity: Quantity | None
    flash_point: Quantity | None
    pot_life: Quantity | None
    phase_change: Quantity | None

    @property
    def has_history(self) -> bool:
        """Whether earlier stirring changes what is read."""
        return self.behaviour in ("thixotropic", "yield-stress")

    @property
    def newtonian(self) -> bool:
        """Whether the viscosity is declared independent of the speed."""
        return self.behaviour == "newtonian"


@dataclass(frozen=True, slots=True)
class Limit:
    """Specification limits of one result; a ratio carries kind `ratio`."""

    path: Path
    result: str
    lower: Quantity | None
    upper: Quantity | None
    target: Quantity | None
    decision_rule: str | None
    one_sided: bool


@dataclass(frozen=True, slots=True)
class Setup:
    """The instrument block: what any eligible instrument must be."""

    path: Path
    spring: Spring
    readout: str
    coupling: Coupling
    suspension: str
    stand: str
    accuracy: Quantity | None
    full_scale_angle: Quantity | None
    resolution: Quantity | None
    rise_rate: Quantity | None
    only_this: bool
    adapter: str | None


@dataclass(frozen=True, slots=True)
class OwnCoefficient:
    """A coefficient established by the laboratory for its own guard state and container."""

    path: Path
    full_scale: Quantity
    guard: str
    container: str
    evidence: str
    expires: date | None


@dataclass(frozen=True, slots=True)
class Sample:
    """How the sample comes to the instrument."""

    path: Path
    volume: Toleranced | None
    mass: Toleranced | None
    age: Toleranced | None
    preparation: str
    bubbles: str | None
    rest: Quantity | None
    open_time: Quantity | None
    supplied: Quantity | None


@dataclass(frozen=True, slots=True)
class Immersion:
    """How deep the spindle hangs and what keeps it off the bottom."""

    path: Path
    to: str
    """shaft-mark, above-top, depth, gap"""
    tolerance: Quantity | None
    depth: Quantity | None
    bottom_clearance: Quantity | None
    direction: str | None


@dataclass(frozen=True, slots=True)
class Conditioning:
    """How the sample reaches the test temperature."""

    path: Path
    where: str
    time: Quantity | None
    covered: bool
    stirred: bool
    parts: bool
    """Spindle and guard are conditioned too."""


@dataclass(frozen=True, slots=True)
class Temperature:
    """The test temperature and how it is known."""

    path: Path
    target: Toleranced
    measured: str
    start: Quantity | None
    room: Quantity | None
    recheck: bool
    thermometer_resolution: Quantity | None
    thermometer_uncertainty: Quantity | None
    conditioning: Conditioning | None


@dataclass(frozen=True, slots=True)
class Read:
    """When a reading is taken."""

    path: Path
    after: Quantity | None
    revolutions: Quantity | None
    average: Quantity | None
    steady_change: Quantity | None
    steady_over: Quantity | None
    steady_at_most: Quantity | None
    lock: bool


@dataclass(frozen=True, slots=True)
class Preshear:
    """Shearing before the reading."""

    path: Path
    speed: Quantity
    time: Quantity
    rest: Quantity | None


@dataclass(frozen=True, slots=True)
class Step:
    """One speed of the run."""

    path: Path
    name: str
    speed: Quantity
    read: Read
    factor: Quantity | None
    full_scale: Quantity | None
    shear_rate: Quantity | None
    preshear: Preshear | None


@dataclass(frozen=True, slots=True)
class Replicates:
    """How many results, of what, and when they agree."""

    path: Path
    count: int
    each: str
    repeatability: Quantity | None
    agree_within: Quantity | None
    otherwise: str | None
    confirm_outside: bool


@dataclass(frozen=True, slots=True)
class Verification:
    """The check of the instrument with a reference fluid."""

    path: Path
    fluid: Fluid
    at: str
    """Name of a step of the run."""
    frequency: str | None
    on_failure: str | None
    temperature: Toleranced | None
    spindle: Spindle | None
    container: Container | None
    guard: str | None
    lower: Quantity | None
    upper: Quantity | None


@dataclass(frozen=True, slots=True)
class ReportLine:
    """One reported result: a viscosity of a step, or a ratio of two steps."""

    path: Path
    result: str
    statistic: str | None
    unit: str | None
    increment: Quantity | None
    rounding: str | None
    comparison: str | None
    below_range: str | None
    above_range: str | None
    ratio: tuple[str, str] | None


@dataclass(frozen=True, slots=True)
class Cleaning:
    """After the run."""

    path: Path
    agent: str | None
    agent_hazards: tuple[str, ...]
    disposal: str | None


@dataclass(frozen=True, slots=True)
class Training:
    """Who may run the method."""

    path: Path
    level: int
    valid: Quantity | None


@dataclass(frozen=True, slots=True)
class Waiver:
    """A rule set aside with a reason."""

    path: Path
    rule: str
    reason: str
    evidence: str | None
    risk: str | None
    requested_by: str | None
    approved_by: str | None
    expires: date | None
    rests_on: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Change:
    """One entry of the revision history."""

    path: Path
    revision: int
    klass: str
    reason: str


@dataclass(frozen=True, slots=True)
class Method:
    """A whole method, resolved against the reference data."""

    file: str
    id: str
    title: str
    revision: int
    status: str
    purpose: str
    demonstration: bool
    result_type: str
    effective: date | None
    review_by: date | None
    people: People
    based_on: tuple[str, ...]
    complies_with: tuple[str, ...]
    changes: tuple[Change, ...]
    product: Product
    specification: tuple[Limit, ...]
    instrument: Setup
    spindle: Spindle
    marking: str | None
    guard: str
    guard_form: str | None
    guard_continuity: str | None
    coefficient: OwnCoefficient | None
    container: Container
    sample: Sample
    immersion: Immersion
    temperature: Temperature
    run: tuple[Step, ...]
    replicates: Replicates
    verification: Verification | None
    report: tuple[ReportLine, ...]
    equipment: tuple[str, ...]
    cleaning: Cleaning | None
    training: Training | None
    retention: str | None
    evidence: Mapping[str, str]
    """Name of a value -> the study or certificate it rests on."""
    notes: Mapping[str, str]
    waivers: tuple[Waiver, ...]
    reference: Reference
    data: Mapping[str, Any]
    """The plain data as read, for placeholders and the digest."""

    def step(self, name: str) -> Step | None:
        """Find the step of the run that bears this name."""
        # Asked for dozens of times in each method: a plain loop is half the time of a generator.
        for step in self.run:
            if step.name == name:
                return step
        return None

    @property
    def judged_step(self) -> Step:
        """The first step judged by limits of its own; the first of all where none is."""
        return next((s for s in self.run if self.limit(s.name) is not None), self.run[0])

    def limit(self, result: str) -> Limit | None:
        """Find the specification limits of a result."""
        for limit in self.specification:
            if limit.result == result:
                return limit
        return None

    @property
    def guarded(self) -> bool:
        """Whether the run is made with the guard fitted."""
        return self.guard == "required"

    @property
    def fitting_guard(self) -> Guard | None:
        """The guard that goes with the coupling the spindle hangs on."""
        key = self.instrument.adapter or self.instrument.coupling.key
        return self.reference.guards.get(self.reference.couplings[key].guard)
