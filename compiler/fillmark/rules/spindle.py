"""Spindle, guard and coefficient: the number on the display means what the coefficient says.

The rules stand from the special to the general: where a look-alike spindle is at fault, the guard rules are
silent, since the right spindle settles the guard too.
"""

from collections.abc import Iterator

from fillmark.choices import alternatives, readable, sentence
from fillmark.diagnostics import Path, Related
from fillmark.figures import Figures
from fillmark.model import Method, Spindle, Spring, Step
from fillmark.quantities import fixed, show, sig
from fillmark.rules import ADVICE, ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule
from fillmark.rules.wording import millimetres

_IN_A_GAP = ("chamber-cylinder", "coaxial-cylinder", "cone")


def _springs(keys: tuple[str, ...]) -> str:
    """Write spring keys: `spring R`, `springs R, 2R and 8R`."""
    *first, last = keys
    return f"springs {', '.join(first)} and {last}" if first else f"spring {last}"


def _foreign(m: Method) -> bool:
    """Whether the spindle is on a spring it is not made for, and the laboratory has no coefficient for it."""
    return m.coefficient is None and m.instrument.spring.key not in m.spindle.springs


def _on(m: Method, spindle: Spindle, spring: Spring) -> float:
    """Give a catalogue coefficient on a spring (Pa·s·rpm)."""
    base = m.reference.springs[spindle.coefficient_spring].full_scale.value
    return spindle.coefficient.value * spring.full_scale.value / base


def _torques(m: Method, f: Figures, coefficient: float) -> str:
    """Say the torque between the limits of each step, were this the coefficient (Pa·s·rpm)."""
    scale = f["coefficient"].value / coefficient
    said = []
    for step in m.run:
        low, high = (f.value(f"run.{step.name}.torque_{which}") for which in ("lower", "upper"))
        if low is not None and high is not None:
            said.append(f"{fixed(low * scale, 1)} to {fixed(high * scale, 1)} % torque at {step.name}")
    return f" ({'; '.join(said)})" if said else ""


def _needing_a_guard(m: Method) -> str:
    """Name the spindles of this range whose coefficient assumes the guard."""
    keys = [
        s.key for s in m.reference.spindles.values()
        if s.guard == "with" and m.instrument.spring.key in s.springs
    ]  # fmt: skip
    return " and ".join(keys)


def _guard_of_coefficient(m: Method) -> str:
    """Give the guard state the coefficient in use was found in: with, without, either, not-applicable."""
    if m.coefficient is None:
        return m.spindle.guard
    return {"required": "with", "not-used": "without", "not-applicable": "not-applicable"}[
        m.coefficient.guard
    ]


def _size(m: Method) -> str:
    return f", {m.spindle.diameter.text} across" if m.spindle.diameter is not None else ""


@rule(
    "SPN01",
    ERROR,
    waivable=False,
    sources=("common-practice", "single-cylinder-coefficients"),
    example=Example("BBM-VIS-007", "spindle: R2", "spindle: U2"),
)
def look_alike_form_of_the_spindle(m: Method, f: Figures) -> Iterator[Outcome]:
    """Spindle 1 or 2 in the form that belongs to another spring.

    The two largest spindles exist twice: a form for the range that carries a guard, and a slightly different
    one without guard for the two strong ranges. They look alike. The wrong form with the coefficient of the
    other reads low without the guard and high with it, by several per cent.

    Never: a coefficient found with this very piece on this spring goes under `coefficient`.
    """
    twin = m.reference.spindles.get(m.spindle.twin or "")
    spring = m.instrument.spring
    if not _foreign(m) or twin is None or spring.key not in twin.springs:
        return
    home = m.reference.springs[m.spindle.coefficient_spring]
    guarded = m.spindle.guard == "with"
    own_way, right_way = (
        ("with the guard", "without a guard") if guarded else ("without a guard", "with the guard")
    )
    yield Finding(
        ("spindle",),
        f"{m.spindle.key}{_size(m)} is the form for spring {' and '.join(m.spindle.springs)}, used "
        f"{own_way}; on spring {spring.key} ({spring.full_scale.text}) belongs {twin.key}, which looks like "
        f"it and is used {right_way}. The wrong form reads {'low' if guarded else 'high'}: by up to "
        f"{sig(m.reference.policy['guard_effect'], 2)} % from the guard alone (from memory), and a little "
        "more from its own shape.",
        (
            f"Use {twin.key} {right_way}{_torques(m, f, _on(m, twin, spring))}.",
            (
                f"Use spring {home.key} ({home.full_scale.text}) with {m.spindle.key} "
                f"{own_way}{_torques(m, f, _on(m, m.spindle, home))}."
            ),
        ),
        (Related("the spring", ("instrument", "spring")),),
    )


@rule(
    "SPN02",
    ERROR,
    sources=("common-practice", "single-cylinder-coefficients"),
    example=Example("MCW-VIS-014", "spindle: R5", "spindle: L2"),
)
def spindle_not_made_for_the_spring(m: Method, f: Figures) -> Iterator[Outcome]:
    """A spindle of another set than the spring's.

    The coefficient tables of a set hold for its own springs. Scaled over to another spring the number looks
    sound, but nobody has found it with this guard and this piece: the result may be off either way, and with
    the table of the wrong set by the ratio of the torques (10.67 between the two weakest).

    It may be set aside by a coefficient of the laboratory's own, found on this spring.
    """
    spring = m.instrument.spring
    twin = m.reference.spindles.get(m.spindle.twin or "")
    if not _foreign(m) or (twin is not None and spring.key in twin.springs):
        return
    home = m.reference.springs[m.spindle.springs[0]]
    ratio = max(spring.full_scale.value, home.full_scale.value) / min(
        spring.full_scale.value, home.full_scale.value
    )
    others = [c for c in alternatives(m, m.run[0]) if c.changes == ("spindle",)]
    made = ", ".join(
        s.key for s in m.reference.spindles.values() if spring.key in s.springs and s.kind == m.spindle.kind
    )
    yield Finding(
        ("spindle",),
        f"{m.spindle.key}{_size(m)}{',' if _size(m) else ''} belongs to the set of "
        f"{_springs(m.spindle.springs)}; the method uses it on spring {spring.key} ({spring.full_scale.text}). "
        f"The torques differ by {sig(ratio, 4)}, and by as much the result is off, low or high, where the table "
        "of the wrong set is used.",
        (
            sentence(m, m.run[0], others[0])
            if others
            else f"Use a spindle made for spring {spring.key}: {made or 'R1 to R7'}.",
            f"Give a `coefficient` of your own, found with this spindle on spring {spring.key}.",
        ),
        (Related("the spring", ("instrument", "spring")),),
    )


@rule(
    "SPN03",
    ERROR,
    sources=("common-practice", "single-cylinder-coefficients", "from-memory"),
    example=Example("BBM-VIS-007", "guard: required", "guard: not-used"),
)
def guard_left_off(m: Method, f: Figures) -> Iterator[Outcome]:
    """The guard is left off though the coefficient was found with it.

    Without the guard the wall that faces the spindle is further away, the drag is smaller, and the result
    reads low: by up to a fifth with the largest spindles, hardly at all with the smallest.

    It may be set aside where the guard has always been off: `guard_continuity` with its study, or a
    coefficient of the laboratory's own found without the guard. The result then compares with its own past.
    """
    if m.guard != "not-used" or _foreign(m) or _guard_of_coefficient(m) != "with":
        return
    if m.guard_continuity is not None and m.coefficient is None:
        return
    own = m.coefficient is not None
    source = "The laboratory's own coefficient" if own else f"The coefficient of {m.spindle.key}{_size(m)}"
    which = "" if own else f" (so it is with {_needing_a_guard(m)} on spring {m.instrument.spring.key})"
    second = (
        "Find the coefficient again without the guard."
        if own
        else "Declare guard_continuity with its study, or give a `coefficient` found without the guard."
    )
    yield Finding(
        ("guard",),
        f"{source}, {f.text('coefficient')}, holds with the guard fitted{which}; the method runs without it. "
        "The result reads low, with the largest spindles by up to "
        f"{sig(m.reference.policy['guard_effect'], 2)} % (from memory).",
        (f"Write guard: required{_guard_room(m, f)}.", second),
        (Related("the coefficient", ("coefficient", "guard") if own else ("spindle",)),),
    )


def _guard_room(m: Method, f: Figures) -> str:
    guard = m.fitting_guard
    if guard is None:
        return ""
    side = (m.container.inside_diameter.value - guard.width.value) / 2
    if side < m.reference.policy["guard_clearance"] - 1e-9:
        return f" and take a wider container: the {guard.key} guard is {guard.width.text} wide"
    return f"; the {guard.key} guard leaves {millimetres(side)} to the wall of this container"


@rule(
    "SPN04",
    ERROR,
    sources=("common-practice", "from-memory"),
    example=Example(
        "MCW-VIS-014",
        "guard: required\ncontainer: beaker-600-low-form",
        "guard: required\ncontainer: beaker-600-low-form\ncoefficient: "
        "{full_scale: 405 Pa·s·rpm, guard: not-used, "
        "container: beaker-600-low-form, evidence: STUDY-12, expires: 2028-01-31}",
    ),
)
def guard_added(m: Method, f: Figures) -> Iterator[Outcome]:
    """The guard is fitted though the coefficient was found without it.

    The guard brings a wall close to the spindle, the drag grows, and the result reads high: by up to a fifth
    with the largest spindles, hardly at all with the smallest.

    It may be set aside where a study shows that it makes no difference with this spindle.
    """
    spring = m.instrument.spring
    if not m.guarded or _foreign(m) or not spring.takes_guard or not m.spindle.plain:
        return
    state = _guard_of_coefficient(m)
    if state not in ("without", "not-applicable"):
        return
    own = m.coefficient is not None
    yield Finding(
        ("guard",),
        f"The coefficient, {f.text('coefficient')}, was found without the guard; the method fits it. The "
        f"result reads high, with the largest spindles by up to {sig(m.reference.policy['guard_effect'], 2)} "
        "% (from memory).",
        (
            "Write guard: not-used.",
            "Find the coefficient again with the guard."
            if own
            else "Give a `coefficient` found with the guard.",
        ),
        (Related("the coefficient", ("coefficient", "guard") if own else ("spindle",)),),
    )


@rule(
    "SPN05",
    ERROR,
    waivable=False,
    sources=("common-practice",),
    example=Example(
        "MCW-VIS-014",
        "instrument: {spring: R, readout: digital, coupling: threaded, suspension: pivot-and-jewel, "
        "stand: fine-height}\nspindle: R5",
        "instrument: {spring: 2R, readout: digital, coupling: quick-connect, suspension: ball-bearing, "
        "stand: fine-height, only_this: true}\nspindle: R4",
        at="guard: required",
    ),
)
def guard_on_a_spring_that_takes_none(m: Method, f: Figures) -> Iterator[Outcome]:
    """A guard asked for on a spring range that carries none.

    The guard belongs to the two weak ranges. On the strong ones there is no place to hang it, and were one
    fitted, the result would read high.

    Never: the step cannot be done.
    """
    spring = m.instrument.spring
    if not m.guarded or spring.takes_guard or not m.spindle.plain or _foreign(m):
        return
    taking = [s for s in m.reference.springs.values() if s.takes_guard and s.key in m.spindle.springs]
    back = (
        f"Use spring {taking[0].key} "
        f"({taking[0].full_scale.text}){_torques(m, f, _on(m, m.spindle, taking[0]))}, which carries the "
        "guard."
        if taking
        else "Use a range that carries the guard, with a spindle made for it."
    )
    yield Finding(
        ("guard",),
        f"Spring {spring.key} ({spring.full_scale.text}) carries no guard; it belongs to "
        f"{' and '.join(s.full_scale.text for s in m.reference.springs.values() if s.takes_guard)}. The "
        f"coefficient of {m.spindle.key} here is {f.text('coefficient')} without one; with a wall so near "
        "the result would read high.",
        ("Write guard: not-used.", back),
        (Related("the spring", ("instrument", "spring")),),
    )


@rule(
    "SPN06",
    ERROR,
    waivable=False,
    sources=("common-practice",),
    example=Example("LMT-VIS-021", "guard: not-applicable", "guard: required"),
)
def guard_that_cannot_be_fitted(m: Method, f: Figures) -> Iterator[Outcome]:
    """A guard asked for round a spindle that cannot stand in one.

    A crossbar, a cone and a cylinder in a chamber have their own walls, or none; the guard would touch them
    or not go in, and the operator leaves it off without a word or bends it.

    Never: the step cannot be done.
    """
    if not m.guarded or m.spindle.plain:
        return
    guard = m.fitting_guard
    wide = (
        f"The {guard.key} guard is {guard.width.text} wide"
        if guard is not None
        else "The guard is made for plain spindles"
    )
    plain = [
        s.key
        for s in m.reference.spindles.values()
        if m.instrument.spring.takes_guard
        and s.plain
        and m.instrument.spring.key in s.springs
        and readable(m, m.run[0], s)
    ]
    yield Finding(
        ("guard",),
        f"{wide}; {m.spindle.key} is a {m.spindle.kind} in {m.container.label} "
        f"({m.container.inside_diameter.text} inside) and takes none. Were one forced in, it would rub or "
        "stand too near, and the result would read high.",
        (
            "Write guard: not-applicable.",
            f"Use a plain spindle in the reference beaker, if the guard is wanted: {', '.join(plain)}."
            if plain
            else "Or use another spring, if the guard is wanted: none of this one reads the product in a guard.",
        ),
        (Related("the spindle", ("spindle",)),),
    )


@rule(
    "SPN07",
    ERROR,
    waivable=False,
    sources=("common-practice",),
    example=Example("TGF-VIS-003", "guard: not-used", "guard: not-applicable"),
)
def guard_state_left_open(m: Method, f: Figures) -> Iterator[Outcome]:
    """A plain spindle on a range with a guard, and the method says the guard does not apply.

    It does apply: each operator decides alone whether to fit it, and without it the large spindles read low.

    Never: one word settles it.
    """
    spring = m.instrument.spring
    if m.guard != "not-applicable" or not m.spindle.plain or not spring.takes_guard or _foreign(m):
        return
    state = _guard_of_coefficient(m)
    held = {
        "with": "with the guard",
        "without": "without the guard",
        "either": "with and without it alike",
        "not-applicable": "in a state nobody has noted",
    }[state]
    yield Finding(
        ("guard",),
        f"Spring {spring.key} ({spring.full_scale.text}) carries a guard and {m.spindle.key}{_size(m)} is a "
        f"plain spindle, so the guard is either on or off. The coefficient holds {held}; left off where it "
        f"is needed the result reads low by up to {sig(m.reference.policy['guard_effect'], 2)} % (from "
        "memory).",
        ("Write guard: required.", "Write guard: not-used."),
    )


@rule(
    "SPN08",
    ERROR,
    sources=("common-practice",),
    example=Example("MCW-VIS-014", "guard: required", "guard: required\nguard_form: long", at="guard_form"),
)
def guard_of_another_coupling(m: Method, f: Figures) -> Iterator[Outcome]:
    """A guard whose length goes with another coupling.

    A twist-lock piece and a quick-connect adapter hang the spindle lower and need the longer guard. In the
    standard one the spindle stands too low and partly outside: it reads low, as with no guard. In the long
    one a spindle on a thread stands too high.

    It may be set aside where the laboratory's own guard was measured and covers the spindle.
    """
    guard = m.fitting_guard
    if (
        not m.guarded
        or m.guard_form is None
        or guard is None
        or m.guard_form == guard.key
        or not m.spindle.plain
    ):
        return
    if not m.instrument.spring.takes_guard:
        return
    hangs: Path = ("instrument", "adapter" if m.instrument.adapter else "coupling")
    coupling = m.instrument.adapter or m.instrument.coupling.key
    written = m.reference.guards.get(m.guard_form)
    if guard.key == "long":
        effect = (
            "the spindle hangs lower than this guard reaches, partly outside it, and the result reads low"
        )
    else:
        effect = "it meets the bottom before the mark is reached, and the result reads low"
    fits = [c.key for c in m.reference.couplings.values() if written is not None and c.guard == written.key]
    yield Finding(
        ("guard_form",),
        f"A {coupling} coupling goes with the {guard.key} guard, which reaches {guard.below_spindle.text} "
        f"below the spindle; with the {m.guard_form} one {effect}.",
        (
            f"Write guard_form: {guard.key}.",
            f"Hang the spindle on a coupling that goes with the {m.guard_form} guard: {' or '.join(fits)}.",
        ),
        (Related("the coupling", hangs),),
    )


@rule(
    "SPN09",
    ERROR,
    sources=("coaxial-formula", "common-practice"),
    example=Example(
        "LMT-VIS-021",
        "guard: not-applicable\ncontainer: jar-60",
        "guard: not-applicable\ncontainer: jar-60\ncoefficient: "
        "{full_scale: 1000 Pa·s·rpm, guard: not-applicable, "
        "container: jar-63, evidence: STUDY-12, expires: 2028-01-31}",
        at="coefficient: {full_scale",
    ),
)
def coefficient_of_another_container(m: Method, f: Figures) -> Iterator[Outcome]:
    """A coefficient of the laboratory's own, found in another container than the method's.

    The wall takes part in the drag. A coefficient found in a narrow container reads low in a wide one, and
    the other way round.

    It may be set aside where a study shows that the two containers give the same result.
    """
    own = m.coefficient
    if own is None or own.container == m.container.key:
        return
    home = m.reference.containers[own.container]
    gap = m.container.inside_diameter.value - home.inside_diameter.value
    if abs(gap) <= m.reference.policy["same_diameter"]:
        return
    shift = f.value("container.wall_shift")
    by = f", by about {sig(abs(shift), 2)} %" if shift is not None and abs(shift) >= 0.05 else ""
    named = next(
        (c.label for c in m.reference.containers.values() if c.key == m.container.key), m.container.label
    )
    yield Finding(
        ("coefficient", "container"),
        f"The coefficient was found in {home.label} ({home.inside_diameter.text} inside) and is used in "
        f"{named} ({m.container.inside_diameter.text}): the result reads {'low' if gap > 0 else 'high'}{by}.",
        (
            f"Measure in {home.label}.",
            f"Find the coefficient in {named}, or leave it out and use the catalogue's.",
        ),
        (Related("the container", ("container",)),),
    )


@rule(
    "SPN10",
    ERROR,
    sources=("coaxial-formula", "cone-formula"),
    example=Example(
        "QAP-VIS-002",
        "container: chamber-19",
        "container: "
        "{label: 18.4 mm chamber, kind: chamber, inside_diameter: 18.4 mm, height: 60 mm, jacketed: true}",
        also=("TRQ11",),
    ),
)
def cup_of_another_geometry(m: Method, f: Figures) -> Iterator[Outcome]:
    """A spindle that belongs in a cup, in another cup than its own.

    Here the wall is half of the geometry: the coefficient holds for one inside diameter, and shear rate and
    result change with it. A wider cup reads low, a narrower one high.

    It may be set aside by a coefficient of the laboratory's own, found in this cup.
    """
    if m.spindle.kind not in _IN_A_GAP or m.coefficient is not None or m.spindle.container is None:
        return
    home = m.reference.containers[m.spindle.container]
    gap = m.container.inside_diameter.value - home.inside_diameter.value
    same_kind = m.container.kind == home.kind
    if m.container.key == home.key or (same_kind and abs(gap) <= m.reference.policy["same_diameter"]):
        return
    if m.spindle.diameter is not None and m.container.inside_diameter.value <= m.spindle.diameter.value:
        return
    shift = f.value("container.wall_shift")
    by = f", by about {sig(abs(shift), 2)} %" if shift is not None else ""
    way = (
        f"the result reads {'low' if gap > 0 else 'high'}{by}" if gap else "another bottom reads high or low"
    )
    yield Finding(
        ("container",),
        f"The coefficient of {m.spindle.key} holds in {home.label} ({home.inside_diameter.text} inside, a "
        f"{home.kind}); the method puts it in {m.container.label} ({m.container.inside_diameter.text}, a "
        f"{m.container.kind}): {way}.",
        (
            f"Write container: {home.key}.",
            "Give a `coefficient` of your own, found in this cup, with its evidence.",
        ),
        (Related("the spindle", ("spindle",)),),
    )


@rule(
    "SPN11",
    ERROR,
    sources=("iso-17025", "record-practice"),
    example=Example(
        "MCW-VIS-014",
        "guard: required\ncontainer: beaker-600-low-form",
        "guard: required\ncontainer: beaker-600-low-form\ncoefficient: "
        "{full_scale: 405 Pa·s·rpm, guard: required, "
        "container: beaker-600-low-form, evidence: STUDY-12, expires: 2026-01-31}",
        at="coefficient: {full_scale",
    ),
)
def own_coefficient_expired(m: Method, f: Figures) -> Iterator[Outcome]:
    """A coefficient of the laboratory's own that lapses before the method comes into force.

    Spindles wear, and a worn one drags less: an old coefficient reads low.

    It may be set aside for the time it takes to find it again.
    """
    own = m.coefficient
    if own is None or own.expires is None:
        return
    if m.effective is None:
        yield NotJudged(
            f"the own coefficient runs to {own.expires}, and the method has no effective date to compare"
        )
        return
    if own.expires >= m.effective:
        return
    yield Finding(
        ("coefficient", "expires"),
        f"The coefficient {own.full_scale.text} runs to {own.expires}; the method comes into force on "
        f"{m.effective}, {(m.effective - own.expires).days} days later. A spindle worn meanwhile reads low.",
        ("Find the coefficient again and write its new date.", "Leave it out and use the catalogue's."),
        (Related("in force from", ("effective",)),),
    )


@rule(
    "SPN12",
    ADVICE,
    sources=("iso-17025",),
    example=Example(
        "MCW-VIS-014",
        "guard: required\ncontainer: beaker-600-low-form",
        "guard: required\ncontainer: beaker-600-low-form\ncoefficient: "
        "{full_scale: 405 Pa·s·rpm, guard: required, "
        "container: beaker-600-low-form, evidence: STUDY-12}",
        at="coefficient: {full_scale",
    ),
)
def own_coefficient_without_a_date(m: Method, f: Figures) -> Iterator[Outcome]:
    """A coefficient of the laboratory's own that never lapses.

    A spindle wears and is bent straight again; a coefficient that nobody looks at again reads low in the end.

    It may be set aside where the spindle is checked against a reference fluid on every working day.
    """
    own = m.coefficient
    if own is None or own.expires is not None:
        return
    yield Finding(
        ("coefficient", "full_scale"),
        f"The coefficient {own.full_scale.text} ({own.evidence}) has no day to be found again by. A worn "
        "spindle drags less, so the result creeps low.",
        ("Write expires with the day of the next study.", "Leave it out and use the catalogue's."),
    )


@rule(
    "SPN13",
    ERROR,
    sources=("spring-classes", "single-cylinder-coefficients"),
    example=Example(
        "LMT-VIS-021",
        "guard: not-applicable\ncontainer: jar-60",
        "guard: not-applicable\ncontainer: jar-60\ncoefficient: "
        "{full_scale: 1600 Pa·s·rpm, guard: not-applicable, "
        "container: jar-60, evidence: STUDY-12, expires: 2028-01-31}",
        at="coefficient: {full_scale",
    ),
)
def own_coefficient_out_of_reason(m: Method, f: Figures) -> Iterator[Outcome]:
    """A coefficient of the laboratory's own that is far from the catalogue's.

    Guard and wall change a coefficient by some tens of per cent at most. A factor of 2, 4, 8 or 10.67 is
    the ratio of two springs: the number was taken from the wrong row, and the result is off by that factor. A
    factor of 10 or 1000 is a slip of the unit.

    It may be set aside where the study was made twice and the catalogue's value is known to be wrong.
    """
    ratio = f.value("coefficient.ratio")
    limit = m.reference.policy["coefficient_ratio"]
    own = m.coefficient
    if ratio is None or own is None or 1 / limit <= ratio <= limit:
        return
    within = m.reference.policy["spring_ratio_within"] / 100
    here = m.instrument.spring.full_scale.value
    looks = ""
    for spring in m.reference.springs.values():
        if abs(ratio / (spring.full_scale.value / here) - 1) <= within:
            looks = f" It looks like the coefficient for spring {spring.key} ({spring.full_scale.text})."
    for power in (0.001, 0.01, 0.1, 10.0, 100.0, 1000.0):
        if not looks and abs(ratio / power - 1) <= within / 2:
            looks = f" It looks like a slip by a factor of {sig(max(power, 1 / power), 1)}."
    yield Finding(
        ("coefficient", "full_scale"),
        f"The coefficient {own.full_scale.text} is {f.text('coefficient.ratio')} times that of "
        f"{m.spindle.key} on spring {m.instrument.spring.key}; guard and wall account for a factor of "
        f"{sig(limit, 2)} at most.{looks} Every result is off by it: {'high' if ratio > 1 else 'low'}.",
        (
            f"Write {sig(own.full_scale.value / ratio, 4)} Pa·s·rpm, or leave the block out.",
            "Find the coefficient again, and write what the study found.",
        ),
        (Related("the spring", ("instrument", "spring")),),
    )


@rule(
    "SPN14",
    ERROR,
    sources=("rheology-text", "common-practice"),
    example=Example("LMT-VIS-021", "stand: helical,", "stand: fine-height,"),
)
def bar_without_a_helical_stand(m: Method, f: Figures) -> Iterator[Outcome]:
    """A crossbar that turns in one place.

    After half a turn it runs in the channel it has cut, and the reading falls steadily low. A helical stand
    moves it into fresh product all the time.

    It may be set aside for a liquid that closes behind the bar; then a disc would do as well.
    """
    if m.spindle.kind != "bar" or m.instrument.stand == "helical":
        return
    step = m.run[0]
    turns = f.value(f"run.{step.name}.revolutions")
    passes = f"at {step.speed.text} it passes the same ring 2 times a turn"
    if turns is not None:
        moment = f.text(f"run.{step.name}.read_at")
        passes = f"by the reading at {moment} it has passed the same ring {2 * turns:.0f} times"
    others = ", ".join(i.label for i in m.reference.instruments.values() if i.stand == "helical")
    yield Finding(
        ("instrument", "stand"),
        f"{m.spindle.key} turns at one height on a {m.instrument.stand} stand: {passes}, runs in its own "
        "channel, and the result reads low and falls.",
        (
            f"Use a helical stand ({others}) and give its rise_rate.",
            "Use a disc in the reference beaker, if the product may be filled over.",
        ),
        (Related("the spindle", ("spindle",)),),
    )


@rule(
    "SPN15",
    ERROR,
    sources=("rheology-text", "common-practice"),
    example=Example(
        "TGF-VIS-003",
        "suspension: pivot-and-jewel, stand: fine-height}",
        "suspension: ball-bearing, stand: helical, only_this: true}",
    ),
)
def helical_drive_without_a_bar(m: Method, f: Figures) -> Iterator[Outcome]:
    """A helical drive under a spindle that has to keep its mark.

    The drive carries the mark below the surface while the motor turns: more shaft, more drag, and the
    reading climbs high; near the bottom it climbs faster.

    It may be set aside where the stand is used with its drive switched off, and the notes say so.
    """
    if m.spindle.kind == "bar" or m.instrument.stand != "helical":
        return
    rate = m.instrument.rise_rate
    longest = max((f.value(f"run.{s.name}.read_end") or 0.0 for s in m.run), default=0.0)
    path = (
        f"in {sig(longest, 3)} s it travels {millimetres(rate.value * longest)}" if rate is not None
        else f"for the {sig(longest, 3)} s of the run it travels on"
    )  # fmt: skip
    yield Finding(
        ("instrument", "stand"),
        f"{m.spindle.key} is a {m.spindle.kind} set to a fixed depth, and on a helical stand {path}. The "
        "shaft dips deeper and the result reads high.",
        (
            "Write stand: fine-height; a helical stand with its drive switched off is one too.",
            f"Use a crossbar: {', '.join(s.key for s in m.reference.spindles.values() if s.kind == 'bar')}.",
        ),
        (Related("the spindle", ("spindle",)),),
    )


@rule(
    "SPN16",
    ERROR,
    waivable=False,
    sources=("definition", "usp-912"),
    example=Example(
        "LMT-VIS-021", "read: {after: 36 s, average: 24 s}", "read: {after: 36 s, average: 84 s}"
    ),
)
def bar_reaches_the_bottom(m: Method, f: Figures) -> Iterator[Outcome]:
    """A helical run that ends on the bottom, or too near to it.

    The bar travels on while it turns. Near the bottom the product cannot flow away beneath it, and on the
    bottom it rubs: the reading climbs high or off the scale, and the wire bends.

    Never: the path is longer than the product is deep.
    """
    left, level = f.value("container.bottom_clearance"), f.value("container.level")
    end, rate, start = f.value("helical.end_depth"), m.instrument.rise_rate, m.immersion.depth
    if m.spindle.kind != "bar" or m.instrument.stand != "helical" or rate is None or start is None:
        return
    if left is None or level is None or end is None:
        yield NotJudged(f.open.get("container.level", "the path of the bar is not known"))
        return
    wanted = m.immersion.bottom_clearance
    clearance = wanted.value if wanted is not None else m.reference.policy["bottom_clearance"]
    if left >= clearance - 1e-9:
        return
    last = max(m.run, key=lambda s: f[f"run.{s.name}.read_end"].value)
    up = m.immersion.direction == "up"
    deepest = max(end, start.value)
    state = (
        f"{millimetres(left)} above the bottom"
        if left > 0
        else f"{millimetres(-left)} further than the bottom"
    )
    room = level - clearance - start.value
    if up or room <= 0:
        first = f"Start at most {millimetres(max(level - clearance, 0.0))} deep, so that the clearance stays."
        path: Path = ("immersion", "depth")
    else:
        first = f"End the reading {sig(room / rate.value, 3)} s after motor start at the latest."
        path = _end_of_reading(last)
    yield Finding(
        path,
        f"The bar starts {start.text} deep and travels {'up' if up else 'down'} at {rate.text} until "
        f"{f.text(f'run.{last.name}.read_end')}: its lowest point is {millimetres(deepest)} deep, {state}, in "
        f"{millimetres(level)} of product; {millimetres(clearance)} are to stay free. Near the bottom the "
        "result reads high, on it off the scale.",
        (first, f"Use a container with at least {millimetres(deepest + clearance)} of product."),
        (
            Related("the travel", ("instrument", "rise_rate")),
            Related(
                "the clearance", ("immersion", "bottom_clearance") if wanted is not None else ("immersion",)
            ),
        ),
    )


def _end_of_reading(step: Step) -> Path:
    """Find the key that says when the reading of a step ends."""
    read = step.read
    given = (("average", read.average), ("after", read.after), ("revolutions", read.revolutions))
    return (*read.path, next((key for key, value in given if value is not None), "steady"))


@rule(
    "SPN17",
    ERROR,
    sources=("rheology-text", "project-decision"),
    example=Example("LMT-VIS-021", "depth: 5 mm,", "depth: 1 mm,"),
)
def bar_too_near_the_surface(m: Method, f: Figures) -> Iterator[Outcome]:
    """A crossbar with hardly any product above it, at the start or at the end of its travel.

    Product lifts and parts over the bar, the bar turns partly in air, and the reading is low and jumps.

    It may be set aside for a reading that starts only when the bar is well below the surface.
    """
    start, end = m.immersion.depth, f.value("helical.end_depth")
    if m.spindle.kind != "bar" or start is None:
        return
    least = min(start.value, end) if end is not None else start.value
    cover = m.reference.policy["bar_cover"]
    if least >= cover - 1e-9:
        return
    at_start = least == start.value
    rising = m.immersion.direction == "up"
    yield Finding(
        ("immersion", "depth"),
        f"{'At the start' if at_start else 'At the end of the reading'} the bar is {millimetres(least)} below the "
        f"surface; {millimetres(cover)} of product are to stand above it. With less it turns partly in air and the "
        "result reads low.",
        (
            f"Start {millimetres(start.value + cover - least)} below the surface or deeper.",
            "Write direction: down."
            if rising
            else f"Fill {millimetres(cover - least)} more above the bar, where it is not a pack.",
        ),
    )


@rule(
    "SPN18",
    ERROR,
    sources=("rheology-text",),
    example=Example(
        "LMT-VIS-021", "stand: helical, rise_rate: 22 mm/min, only_this", "stand: helical, only_this"
    ),
)
def travel_of_the_stand_not_given(m: Method, f: Figures) -> Iterator[Outcome]:
    """A helical run whose travel nobody has written down.

    Stands differ. Where the bar ends, whether it meets fresh product and whether it hits the bottom (reads
    high) cannot be said, and another laboratory with another stand gets another number.

    It may be set aside where one stand only is used and its travel stands in its papers.
    """
    if m.spindle.kind != "bar" or m.instrument.stand != "helical" or m.instrument.rise_rate is not None:
        return
    longest = max(f[f"run.{s.name}.read_end"].value for s in m.run)
    level = f.value("container.level")
    deep = f" of {millimetres(level)} of product" if level is not None else ""
    yield Finding(
        ("instrument", "stand"),
        f"The stand travels for {sig(longest, 3)} s through a depth{deep}, and its rate is not given: "
        "whether the bar reaches the bottom and reads high cannot be said.",
        (
            "Measure the travel of one minute and write rise_rate.",
            "Take the rate from the papers of the stand.",
        ),
    )


@rule(
    "SPN19",
    WARNING,
    sources=("rheology-text",),
    example=Example("LMT-VIS-021", "rise_rate: 22 mm/min", "rise_rate: 12 mm/min"),
)
def bar_meets_its_own_channel(m: Method, f: Figures) -> Iterator[Outcome]:
    """A helical run so flat that the bar cuts through its own channel.

    A bar has two arms, so in half a turn it must travel more than its wire is thick. Else it meets product it
    has cut before, and the result reads low.

    It may be set aside for a product that closes behind the bar.
    """
    half, wire, rate = f.value("helical.half_pitch"), m.spindle.wire_diameter, m.instrument.rise_rate
    if half is None or wire is None or rate is None or half >= wire.value - 1e-9:
        return
    fastest = max(m.run, key=lambda s: s.speed.value)
    slow = fastest.speed.value * half / wire.value
    yield Finding(
        ("instrument", "rise_rate"),
        f"In half a turn the bar travels {f.text('helical.half_pitch')} at {fastest.speed.text}; its wire is "
        f"{wire.text} thick. It cuts its own channel again and the result reads low.",
        (
            f"Turn at {sig(int(slow * 10) / 10, 2)} rpm or slower.",
            (
                "Use a stand that travels at least "
                f"{show(rate.value * wire.value / half, 'velocity', 'mm/min', decimals=1)}."
            ),
        ),
        (Related("the speed", (*fastest.path, "speed")),),
    )


@rule(
    "SPN20",
    ERROR,
    sources=("rheology-text", "coaxial-formula", "cone-formula"),
    example=Example("QAP-VIS-002", "largest_particle: 100 µm", "largest_particle: 500 µm"),
)
def particles_too_large_for_the_gap(m: Method, f: Figures) -> Iterator[Outcome]:
    """Particles that are too large for the gap they have to pass.

    From a tenth of the gap on they bridge it: the reading jumps and is high, and under a cone they grind.
    A disc in an open beaker has no gap, and seeds pass it.

    It may be set aside for soft particles that a study shows to pass.
    """
    if m.spindle.kind not in _IN_A_GAP:
        return
    particle, policy = m.product.largest_particle, m.reference.policy
    cone = m.spindle.kind == "cone"
    if cone:
        gap = m.spindle.truncation.value if m.spindle.truncation is not None else None
    else:
        diameter = m.spindle.diameter
        gap = (m.container.inside_diameter.value - diameter.value) / 2 if diameter is not None else None
    if particle is None or gap is None or gap <= 0:
        missing = "the largest particle" if particle is None else f"the gap of {m.spindle.key}"
        yield NotJudged(f"{missing} is not known")
        return
    allowed = policy["particle_gap_share"] / 100 * gap
    if particle.value <= allowed * (1 + 1e-9):
        return
    hard = not cone or particle.value > policy["particle_gap_error"] / 100 * gap
    yield Finding(
        ("product", "largest_particle"),
        f"Particles of {particle.text} have to pass a gap of {_gap(gap)} at {m.spindle.key}; that is "
        f"{sig(100 * particle.value / gap, 2)} % of it, against a limit of "
        f"{sig(policy['particle_gap_share'], 2)} %. They bridge it: the result reads high and jumps.",
        (
            _without_a_gap(m, allowed),
            (
                "Use a geometry with a gap of at least "
                f"{_gap(100 * particle.value / policy['particle_gap_share'])}."
            ),
        ),
        (Related("the spindle", ("spindle",)), Related("the container", ("container",))),
        ERROR if hard else WARNING,
    )


def _gap(metres: float) -> str:
    return show(metres, "length", "mm" if metres >= 1e-4 else "µm", digits=3 if metres >= 1e-3 else 2)


def _without_a_gap(m: Method, allowed: float) -> str:
    """Name the discs that would read the product; where there are none, the sieve (m) that would do."""
    spring = m.instrument.spring.key
    discs = [
        s.key
        for s in m.reference.spindles.values()
        if s.kind == "disc" and spring in s.springs and readable(m, m.run[0], s)
    ]
    if discs:
        return f"Use a disc in the reference beaker, which has no gap: {', '.join(discs)}."
    return f"Strain the sample to {_gap(allowed)}, if what stays behind is no part of the product."
