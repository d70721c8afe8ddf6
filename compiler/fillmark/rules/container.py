"""Container, filling and immersion: the spindle is covered, clear of the walls, and at home there.

The rules stand from the impossible to the inexact: where spindle or guard does not go in at all, nothing more
is said of the wall.
"""

import math
from collections.abc import Iterator

from fillmark.choices import Choice, alternatives, sentence
from fillmark.diagnostics import Path, Related
from fillmark.figures import Figures
from fillmark.model import Container, Method
from fillmark.quantities import brief, express, show, sig
from fillmark.rules import ADVICE, ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule
from fillmark.rules.wording import millimetres

_FORMS = {
    "cylinder": ("shaft-mark", "depth"),
    "disc": ("shaft-mark", "depth"),
    "bar": ("depth",),
    "chamber-cylinder": ("above-top",),
    "coaxial-cylinder": ("above-top",),
    "cone": ("gap",),
}
"""Ways of immersion that suit each kind of spindle; the first is the one its coefficient holds for."""


def _open(m: Method) -> bool:
    """Whether the spindle hangs in the open: a plain one or a crossbar, not one in a gap of its own."""
    return m.spindle.plain or m.spindle.kind == "bar"


def _home(m: Method) -> Container | None:
    """Find the container the coefficient in use was found in."""
    key = m.coefficient.container if m.coefficient is not None else m.spindle.container
    return m.reference.containers.get(key or "")


def _wider(m: Method, inside: float) -> str:
    """Name the beakers of the reference data that are at least so wide, narrowest first."""
    fit = [
        c for c in m.reference.containers.values()
        if c.kind == "beaker" and c.inside_diameter.value >= inside and c.key != m.container.key
    ]  # fmt: skip
    fit.sort(key=lambda c: c.inside_diameter.value)
    return " or ".join(f"{c.key} ({c.inside_diameter.text} inside)" for c in fit[:2])


def _guard_goes_in(m: Method, f: Figures) -> bool:
    clearance = f.value("container.guard_clearance")
    return (
        clearance is None or not m.spindle.plain or clearance >= m.reference.policy["guard_clearance"] - 1e-9
    )


def _goes_in(m: Method, f: Figures) -> bool:
    """Whether spindle and guard go into the container at all; where not, a level says nothing."""
    side = f.value("container.side_clearance")
    carried = not m.guarded or m.spindle.plain
    return carried and (side is None or side > 0)


def _below(m: Method) -> float:
    """Give how far the guard reaches below the spindle (m)."""
    guard = m.fitting_guard if m.guarded and m.spindle.plain else None
    return guard.below_spindle.value if guard is not None else 0.0


@rule(
    "CON01",
    ERROR,
    waivable=False,
    sources=("definition", "project-decision"),
    example=Example(
        "MCW-VIS-014",
        "container: beaker-600-low-form",
        "container: {label: 72 mm jar, kind: beaker, inside_diameter: 72 mm, height: 140 mm}",
    ),
)
def guard_touches_the_wall(m: Method, f: Figures) -> Iterator[Outcome]:
    """A guard that does not go into the container, or rubs at its wall.

    It bends, stands askew, or shifts the container while the motor runs; the reading jumps and is mostly
    high.

    Never: the step cannot be done.
    """
    guard = m.fitting_guard
    if not m.guarded or guard is None or _guard_goes_in(m, f):
        return
    need = m.reference.policy["guard_clearance"]
    side = f["container.guard_clearance"].value
    wider = _wider(m, guard.width.value + 2 * need)
    room = f"{millimetres(side)} are left" if side >= 0 else f"{millimetres(-side)} too much"
    yield Finding(
        ("container",),
        f"{m.container.label} is {m.container.inside_diameter.text} wide inside and the {guard.key} guard "
        f"{guard.width.text}: {room} on each side, where {millimetres(need)} are needed. It rubs or does not go in, "
        "and the result jumps and reads high.",
        (
            (
                f"Use a container at least {millimetres(guard.width.value + 2 * need)} wide: "
                f"{wider or 'none is listed yet'}."
            ),
            "Give a `coefficient` found in this container without the guard, and write guard: not-used.",
        ),
        (Related("the guard", ("guard",)),),
    )


@rule(
    "CON02",
    ERROR,
    sources=("coaxial-formula", "project-decision"),
    example=Example(
        "TGF-VIS-003",
        "container: beaker-600-low-form",
        "container: {label: 65 mm beaker, kind: beaker, inside_diameter: 65 mm, height: 180 mm}",
    ),
)
def container_narrower_than_the_coefficients(m: Method, f: Figures) -> Iterator[Outcome]:
    """A plain spindle in a narrower container than its coefficient was found in.

    The wall stands nearer, the drag grows and the result reads high; for discs the size is an order of
    magnitude only, for cylinders it is exact but for the ends. A wider container does little harm.

    It may be set aside by a coefficient found in this container, or where the result is declared relative or
    pack-specific and compares only with its own past.
    """
    home, own = _home(m), m.coefficient
    shift = f.value("container.wall_shift")
    if not m.spindle.plain or m.result_type != "apparent" or not _guard_goes_in(m, f):
        return
    if own is not None and home is not None and own.container != m.container.key:
        return
    if shift is None or home is None:
        if "container.wall_shift" in f.open and "fit" not in f.open["container.wall_shift"]:
            yield NotJudged(f.open["container.wall_shift"])
        return
    policy = m.reference.policy
    if shift <= policy["wall_shift_warning"]:
        return
    hard = shift > policy["wall_shift_error"]
    rough = "about " if m.spindle.kind == "disc" else ""
    limit = policy["wall_shift_error"] if hard else policy["wall_shift_warning"]
    yield Finding(
        ("container",),
        f"{m.container.label} is {m.container.inside_diameter.text} wide inside; the coefficient of "
        f"{m.spindle.key} holds in {home.label}, {home.inside_diameter.text}. The nearer wall makes the "
        f"result read {rough}{sig(shift, 2)} % high, against a limit of {sig(limit, 2)} %.",
        (
            f"Write container: {home.key}.",
            "Give a `coefficient` found in this container, or declare the result relative or pack-specific.",
        ),
        (Related("the spindle", ("spindle",)),),
        ERROR if hard else WARNING,
    )


@rule(
    "CON03",
    ERROR,
    sources=("usp-912",),
    example=Example(
        "LMT-VIS-021",
        "container: jar-60",
        "container: {label: 46 mm jar, kind: pack, inside_diameter: 46 mm, height: 62 mm, fill_depth: 55 mm}",
    ),
)
def spindle_close_to_the_wall(m: Method, f: Figures) -> Iterator[Outcome]:
    """A spindle that hangs too near to the wall, or does not go in.

    A little off the middle it comes nearer still: the drag depends on how well the operator centres it, and
    the result reads high.

    It may be set aside where a jig centres the spindle and the result is pack-specific.
    """
    side = f.value("container.side_clearance")
    if side is None or m.immersion.to == "gap":
        return
    policy = m.reference.policy
    fits = side > 0
    if not _guard_goes_in(m, f) or (fits and not _open(m)):
        return
    shift = f.value("container.wall_shift")
    told = (
        m.spindle.plain
        and m.result_type == "apparent"
        and shift is not None
        and shift > policy["wall_shift_warning"]
    )
    if side >= policy["side_clearance"] - 1e-9 or (fits and told):
        return
    diameter = m.spindle.diameter
    if diameter is None:
        return
    need = diameter.value + 2 * policy["side_clearance"] if _open(m) else diameter.value
    small = (
        (m.container.inside_diameter.value - 2 * policy["side_clearance"])
        if _open(m)
        else m.container.inside_diameter.value
    )
    narrower = [
        s.key for s in m.reference.spindles.values()
        if s.kind == m.spindle.kind and s.diameter is not None and s.diameter.value <= small
        and m.instrument.spring.key in s.springs
    ]  # fmt: skip
    state = f"leaves {millimetres(side)} on each side in" if fits else "does not go into"
    yield Finding(
        ("container",),
        f"{m.spindle.key} is {diameter.text} across and {state} {m.container.label} "
        f"({m.container.inside_diameter.text} inside); {millimetres(policy['side_clearance'])} are needed. Off the "
        "middle it comes nearer still, and the result reads high.",
        (
            f"Use a container at least {millimetres(need)} wide inside: {_wider(m, need) or 'none is listed yet'}.",
            f"Use a spindle no wider than {millimetres(max(small, 0.0))}"
            + (f": {', '.join(narrower)}." if narrower else "; none of this kind is listed for the spring."),
        ),
        (Related("the spindle", ("spindle",)),),
    )


@rule(
    "CON04",
    ERROR,
    sources=("definition", "usp-912"),
    example=Example("MCW-VIS-014", "volume: 500 mL ± 10 mL", "volume: 400 mL ± 10 mL"),
)
def level_too_low_for_the_spindle(m: Method, f: Figures) -> Iterator[Outcome]:
    """So little sample that the spindle cannot be covered and keep its distance from the bottom.

    The operator gives up one of the two. Held off the bottom the spindle is not covered and reads low;
    lowered to its mark it comes too near the bottom and reads high.

    It may be set aside where a study shows what the shallow filling does.
    """
    if m.immersion.to not in ("shaft-mark", "above-top") or not _goes_in(m, f):
        return
    # In a chamber the filling tolerance is judged against that of the cover by a rule of its own.
    level = f.value("container.level" if m.immersion.to == "above-top" else "container.level_lower")
    needed = f.value("container.level_needed")
    volume, fill = m.sample.volume, f.value("container.fill")
    if level is None or needed is None or volume is None or fill is None:
        yield NotJudged(f.open.get("container.level", "the level is not known"))
        return
    if m.immersion.to == "above-top" and m.immersion.tolerance is not None:
        needed -= m.immersion.tolerance.value
    if level >= needed - 1e-6:
        return
    missing = needed - level
    unit = volume.value.unit
    more = express(volume.value.value + missing * volume.value.value / fill, unit)
    step = 10.0 ** math.floor(math.log10(more) - 1)
    enough = math.ceil(more / step - 1e-9) * step
    policy = m.reference.policy
    wanted = m.immersion.bottom_clearance
    left = f["container.bottom_clearance"].value
    declare = "guard" if m.guarded else "spindle"
    if m.spindle.plain and wanted is not None and left + _below(m) >= policy["bottom_clearance"]:
        mm = math.floor(left * 1000)
        second = f"Write bottom_clearance: {mm} mm, which is what this filling leaves under the {declare}."
    else:
        second = (
            "Use a narrower container with a coefficient found in it, so that the same volume stands higher."
        )
    if m.immersion.to == "above-top":
        effect = "The cover above the spindle falls short, outside its tolerance, and the result reads low."
    elif left < 0:
        effect = (
            "At its mark the spindle would stand on the bottom; clear of it, it is not covered and reads low."
        )
    else:
        effect = (
            f"At its mark {millimetres(left)} are left under the {declare} and the result reads high; clear of the "
            "bottom it is not covered and reads low."
        )
    yield Finding(
        ("sample", "volume"),
        f"{volume.text} stand {millimetres(level)} high{'' if m.immersion.to == 'above-top' else ' at the least'} in "
        f"{m.container.label}; the spindle needs {millimetres(needed)}, {millimetres(missing)} more. {effect}",
        (f"Fill at least {sig(enough, 3)} {unit}.", second),
        (
            Related(
                "the clearance", ("immersion", "bottom_clearance") if wanted is not None else ("immersion",)
            ),
            Related("the container", ("container",)),
        ),
    )


@rule(
    "CON05",
    ERROR,
    waivable=False,
    sources=("project-decision", "safety-practice"),
    example=Example("MCW-VIS-014", "volume: 500 mL ± 10 mL", "volume: 600 mL ± 10 mL"),
)
def rim_too_near(m: Method, f: Figures) -> Iterator[Outcome]:
    """So much sample that it comes near the rim when the spindle goes in.

    It spills over, or is drawn up the shaft into the coupling and the bearing; sample there reads high until
    the instrument is taken apart.

    Never: a smaller volume costs nothing.
    """
    free, upper = f.value("container.free_board"), f.value("container.level_upper")
    volume, fill = m.sample.volume, f.value("container.fill")
    need = m.reference.policy["free_board"]
    if free is None or upper is None or volume is None or fill is None or free >= need - 1e-9:
        return
    if not _goes_in(m, f):
        return
    less = express(volume.value.value - (need - free) * volume.value.value / fill, volume.value.unit)
    step = 10.0 ** math.floor(math.log10(max(less, 1e-6)) - 1)
    higher = [
        c.key for c in m.reference.containers.values()
        if c.kind == m.container.kind and c.key != m.container.key
        and c.inside_diameter.value >= m.container.inside_diameter.value and c.height.value >= upper + need
    ]  # fmt: skip
    state = f"{millimetres(free)} below the rim" if free >= 0 else f"{millimetres(-free)} above the rim"
    yield Finding(
        ("sample", "volume"),
        f"{volume.text} and the spindle stand {millimetres(upper)} high at the most, {state} of {m.container.label} "
        f"({m.container.height.text} high); {millimetres(need)} are to stay free. It spills or wets the coupling, "
        "and a wet bearing reads high.",
        (
            f"Fill at most {sig(math.floor(less / step + 1e-9) * step, 3)} {volume.value.unit}."
            if less > 0
            else "Use a smaller spindle: this one takes up the room of the sample.",
            f"Use a container at least {millimetres(upper + need)} high"
            + (f": {', '.join(higher)}." if higher else "."),
        ),
        (Related("the container", ("container",)),),
    )


@rule(
    "CON06",
    ERROR,
    sources=("usp-912", "common-practice"),
    example=Example("TGF-VIS-003", "bottom_clearance: 20 mm", "bottom_clearance: 5 mm"),
)
def too_near_the_bottom(m: Method, f: Figures) -> Iterator[Outcome]:
    """A clearance that lets the spindle come too near to the bottom.

    The bottom is a wall like the others: near it the drag grows and the result reads high.

    It may be set aside by a coefficient found at this very height.
    """
    clearance = m.immersion.bottom_clearance
    need = m.reference.policy["bottom_clearance"]
    if clearance is None or not _open(m) or clearance.value + _below(m) >= need - 1e-9:
        return
    below = _below(m)
    with_guard = f" and the guard keeps {millimetres(below)} more" if below else ""
    yield Finding(
        ("immersion", "bottom_clearance"),
        f"{clearance.text} are to stay free under the {'guard' if below else 'spindle'}{with_guard}; "
        f"{millimetres(need)} are needed between spindle and bottom. Nearer than that the result reads high.",
        (
            f"Write bottom_clearance: {sig((need - below) * 1000, 2)} mm or more.",
            "Give a `coefficient` found at this height, with its evidence.",
        ),
    )


@rule(
    "CON07",
    ERROR,
    sources=("common-practice",),
    example=Example(
        "TGF-VIS-003",
        "immersion: {to: shaft-mark, tolerance: 2 mm, bottom_clearance: 20 mm}",
        "immersion: {to: shaft-mark, bottom_clearance: 20 mm}",
    ),
)
def immersion_without_a_tolerance(m: Method, f: Figures) -> Iterator[Outcome]:
    """A depth of immersion with no word on how well it has to be met.

    Every millimetre counts, more for a thin spindle than for a wide one: too deep reads high, too shallow
    low, and no reviewer can say by how much.

    It may be set aside where a stop on the stand sets the depth.
    """
    if m.immersion.to == "gap" or m.immersion.tolerance is not None:
        return
    shown = {
        "shaft-mark": "the mark on the shaft",
        "above-top": "the cover above the top",
        "depth": "the depth",
    }
    size = f" of {m.spindle.diameter.text}" if m.spindle.diameter is not None else ""
    high = f", {m.spindle.mark_height.text} above its underside" if m.spindle.mark_height is not None else ""
    yield Finding(
        ("immersion",),
        f"{shown[m.immersion.to].capitalize()} of {m.spindle.key}{size}{high} has no tolerance: too deep "
        "reads high, too shallow low, and 1 mm is worth more the thinner the spindle.",
        (
            "Write tolerance: 2 mm, and let the next check say whether it will do.",
            "Write what your stand can hold.",
        ),
    )


@rule(
    "CON08",
    WARNING,
    sources=("coaxial-formula", "project-decision"),
    example=Example("MCW-VIS-014", "tolerance: 1 mm, bottom_clearance", "tolerance: 3 mm, bottom_clearance"),
)
def immersion_tolerance_too_wide(m: Method, f: Figures) -> Iterator[Outcome]:
    """An immersion tolerance that shifts the result by more than it should.

    A deeper shaft drags more: too deep reads high, too shallow low. With a thin spindle the shaft is a large
    part of the drag.

    It may be set aside where the repeatability study was made with operators setting the mark by eye.
    """
    effect, tolerance = f.value("immersion.effect"), m.immersion.tolerance
    allowed = m.reference.policy["immersion_effect"]
    if effect is None or tolerance is None or effect <= allowed * (1 + 1e-9):
        return
    fine = math.floor(tolerance.value * 1000 * allowed / effect * 10) / 10
    others = [
        (c, tolerance.value * 1000 * allowed / effect / _drag(m, c))
        for c in alternatives(m, m.run[0])
        if "spindle" in c.changes and _thicker(m, c.spindle.diameter)
    ]
    others = [(c, widest) for c, widest in others if widest >= 0.5]
    yield Finding(
        ("immersion", "tolerance"),
        f"At the edge of {tolerance.text} the shaft of {m.spindle.key} shifts the result by "
        f"{f.text('immersion.effect')}, against a limit of {sig(allowed, 2)} %: high where it hangs too "
        "deep, low where too shallow.",
        (
            (
                f"Write tolerance: {brief(max(fine, 0.1), 2)} mm, set "
                f"{'on a stand with fine height adjustment' if fine >= 0.5 else 'with a gauge: no eye sees it'}."
            ),
            _with_tolerance(sentence(m, m.run[0], others[0][0]), others[0][1], tolerance.value) if others
            else f"Use a wider spindle, for which the same {tolerance.text} weigh less.",
        ),
    )  # fmt: skip


def _drag(m: Method, c: Choice) -> float:
    """Give how many times as much a millimetre of shaft weighs with another spindle."""
    own, other = (
        s.coefficient.value / m.reference.springs[s.coefficient_spring].full_scale.value
        for s in (m.spindle, c.spindle)
    )
    return other / own


def _with_tolerance(text: str, widest: float, tolerance: float) -> str:
    """Add to a choice the immersion tolerance (mm) it bears, where that is less than the method's (m)."""
    if widest >= tolerance * 1000 * (1 - 1e-9):
        return text
    return f"{text.rstrip('.')}; and write tolerance: {brief(math.floor(widest * 10 + 1e-9) / 10, 2)} mm."


def _thicker(m: Method, diameter: object) -> bool:
    return m.spindle.diameter is not None and getattr(diameter, "value", 0.0) > m.spindle.diameter.value


@rule(
    "CON09",
    ERROR,
    waivable=False,
    sources=("definition", "common-practice"),
    example=Example("QAP-VIS-002", "immersion: {to: above-top,", "immersion: {to: shaft-mark,"),
)
def immersion_that_does_not_suit(m: Method, f: Figures) -> Iterator[Outcome]:
    """A way of immersion that the spindle does not have.

    A chamber cylinder has no mark on its shaft, a crossbar no top to cover. The operator sets what comes to
    mind, and depth and drag go with it: deeper reads high.

    Never: the step cannot be done.
    """
    suits = _FORMS.get(m.spindle.kind, ())
    own = m.coefficient is not None or m.result_type != "apparent"
    suits = suits if own else suits[:1]
    if not suits or m.immersion.to in suits:
        return
    size = m.spindle.diameter or m.spindle.cone_angle
    shown = f" ({size.text})" if size is not None else ""
    other = next((k for k, forms in _FORMS.items() if forms[0] == m.immersion.to), "other spindle")
    yield Finding(
        ("immersion", "to"),
        f"{m.spindle.key}{shown} is a {m.spindle.kind} and hangs by {suits[0]}; {m.immersion.to} belongs to "
        f"a {other}. Each operator would set a depth of 0 to {m.container.height.text} at will, and deeper "
        "reads high.",
        (f"Write to: {suits[0]}.", f"Use a {other}, if {m.immersion.to} is meant."),
        (Related("the spindle", ("spindle",)),),
    )


@rule(
    "CON10",
    ERROR,
    sources=("definition",),
    example=Example("QAP-VIS-002", "volume: 8.0 mL ± 0.2 mL", "volume: 8.0 mL ± 0.4 mL"),
)
def filling_looser_than_the_cover(m: Method, f: Figures) -> Iterator[Outcome]:
    """A filling tolerance that moves the level by more than the immersion may be off.

    In a chamber the filling, not the stand, sets how far the spindle is covered, and in a narrow bore a
    little volume is many millimetres: too full reads high, too empty low.

    It may be set aside where the level is set to a mark and the volume is only a guide.
    """
    tolerance, volume = m.immersion.tolerance, m.sample.volume
    low, high = f.value("container.level_lower"), f.value("container.level_upper")
    if m.immersion.to != "above-top" or tolerance is None or volume is None or low is None or high is None:
        return
    move = (high - low) / 2
    if move <= tolerance.value * (1 + 1e-9):
        return
    unit = volume.tolerance.unit if volume.tolerance.kind == "volume" else volume.value.unit
    allowed = express(volume.tolerance.value * tolerance.value / move, unit)
    step = 10.0 ** math.floor(math.log10(allowed))
    yield Finding(
        ("sample", "volume"),
        f"± {volume.tolerance.text} move the level by ± {millimetres(move)} in a bore of "
        f"{m.container.inside_diameter.text}; the immersion may be off by {tolerance.text}. Too full reads "
        "high, too empty low.",
        (
            f"Fill to ± {sig(math.floor(allowed / step + 1e-9) * step, 2)} {unit}, by mass if it is thick.",
            f"Write tolerance: {sig(math.ceil(move * 1e4 - 1e-6) / 10, 2)} mm, if a study bears it.",
        ),
        (Related("the tolerance", ("immersion", "tolerance")),),
    )


@rule(
    "CON11",
    ERROR,
    sources=("common-practice",),
    example=Example(
        "LMT-VIS-021",
        "container: jar-60",
        "container: {label: 60 mm cream jar, kind: pack, inside_diameter: 60 mm, height: 62 mm}",
        at="age: 24 h",
    ),
)
def filling_not_given(m: Method, f: Figures) -> Iterator[Outcome]:
    """Nothing says how much is filled.

    The level decides whether the spindle is covered, how near the bottom is and how long conditioning takes.
    Too little reads low, too near the bottom high.

    It may be set aside where the container carries a filling mark that the notes describe.
    """
    if m.sample.volume is not None or m.sample.mass is not None or m.container.fill_depth is not None:
        return
    need = f.value("container.level_needed")
    asks = f"; the spindle asks for a level of {millimetres(need)}" if need is not None else ""
    pack = m.container.kind == "pack"
    yield Finding(
        ("sample",),
        f"Neither a volume nor a mass is given for {m.container.label} ({m.container.inside_diameter.text} "
        f"inside, {m.container.height.text} high){asks}. A spindle not covered reads low, one near the "
        "bottom high.",
        (
            "Give the fill_depth of the pack as sold." if pack else "Write volume with its tolerance.",
            "Write volume with its tolerance."
            if pack
            else "Write mass with its tolerance; better where the product is thick or has air in it.",
        ),
        (Related("the container", ("container",)),),
    )


@rule(
    "CON12",
    WARNING,
    sources=("common-practice", "project-decision"),
    example=Example(
        "MCW-VIS-014", "density: 1.42 g/mL", "density: 1.42 g/mL\n  aerated: true", at="volume: 500 mL"
    ),
)
def volume_of_a_thick_or_airy_product(m: Method, f: Figures) -> Iterator[Outcome]:
    """A product measured out by volume though air hides in it, or though it is too thick to run level.

    Air counts as product and the container is underfilled: the spindle is short of its mark and reads low.

    It may be set aside where the container is filled to a mark after the air is out.
    """
    volume = m.sample.volume
    if volume is None or m.sample.mass is not None or (m.product.aerated and m.sample.bubbles is None):
        return
    limit = next(
        (s.upper for s in m.specification if s.upper is not None and s.upper.kind == "viscosity"), None
    )
    bound = m.reference.policy["thick_viscosity"]
    thick = m.container.kind in ("chamber", "adapter") and limit is not None and limit.value > bound
    if not thick and not m.product.aerated:
        return
    mass = f.text("sample.mass") if "sample.mass" in f else None
    why = (
        "with air in it"
        if m.product.aerated
        else f"of up to {limit.text if limit is not None else ''}, in a chamber"
    )
    yield Finding(
        ("sample", "volume"),
        f"{volume.text} of a product {why} are measured by volume; air and what clings to the wall count as "
        "product, the level falls short and the result reads low.",
        (
            f"Weigh it in: mass {mass} stands for {volume.value.text}." if mass is not None
            else "Weigh it in, and give the density.",
            "Fill to a mark in the container once the air is out, and say so in the preparation.",
        ),
    )  # fmt: skip


@rule(
    "CON13",
    WARNING,
    sources=("common-practice",),
    example=Example(
        "TGF-VIS-003", "density: 1.12 g/mL", "density: 1.12 g/mL\n  aerated: true", at="aerated: true"
    ),
)
def air_left_in(m: Method, f: Figures) -> Iterator[Outcome]:
    """A product that comes with air in it, and nothing says how the air gets out.

    Air under a disc reads low and jumps; air in the body thins or stiffens it, by up to tens of per cent.

    It may be set aside where the air belongs to the product, as in a mousse; the result is then of the foam.
    """
    if not m.product.aerated or m.sample.bubbles is not None:
        return
    volume = m.sample.volume
    amount = (
        f" in {volume.text}"
        if volume is not None
        else f" in {m.container.label}, {m.container.inside_diameter.text}"
    )
    yield Finding(
        ("product", "aerated"),
        f"{m.product.name} comes with air in it, and nothing says how it is got out{amount}. Air under the "
        "spindle reads low and jumps; air in the body shifts the result either way.",
        (
            "Write bubbles: how the air is got out, and how one sees that it is; fill by mass.",
            "If the air belongs to the product, say so under bubbles and declare result_type: relative.",
        ),
        (Related("the sample", ("sample",)),),
    )


@rule(
    "CON14",
    ERROR,
    waivable=False,
    sources=("definition",),
    example=Example("QAP-VIS-002", "mass: 8.1 g ± 0.2 g", "mass: 9.1 g ± 0.2 g"),
)
def mass_and_volume_disagree(m: Method, f: Figures) -> Iterator[Outcome]:
    """A mass and a volume that are not the same amount at the density given.

    One operator weighs, another measures, and the levels differ: the fuller container reads high.

    Never: it is a contradiction.
    """
    mass, volume, density = m.sample.mass, m.sample.volume, m.product.density
    if mass is None or volume is None:
        return
    if density is None:
        yield NotJudged("mass and volume are both given, and the density is not")
        return
    wanted = volume.value.value * density.value
    band = max(mass.tolerance.value, volume.tolerance.value * density.value)
    off = mass.value.value - wanted
    if abs(off) <= band * (1 + 1e-9):
        return
    unit = mass.value.unit
    stands = mass.value.value / density.value
    yield Finding(
        ("sample", "mass"),
        f"{volume.value.text} at {density.text} weigh {show(wanted, 'mass', unit)}; {mass.value.text} is "
        f"written, {show(abs(off), 'mass', unit, digits=2)} {'more' if off > 0 else 'less'}. Filled by mass "
        "the level is "
        f"{'higher and the result reads high' if off > 0 else 'lower and the result reads low'}.",
        (
            f"Write mass: {show(wanted, 'mass', unit)} ± {mass.tolerance.text}.",
            (
                f"Write volume: {show(stands, 'volume', volume.value.unit)} ± {volume.tolerance.text}, or mend "
                "the density."
            ),
        ),
        (Related("the volume", ("sample", "volume")), Related("the density", ("product", "density"))),
    )


@rule(
    "CON15",
    ERROR,
    sources=("ph-eur-2-2-10", "common-practice"),
    example=Example("LMT-VIS-021", "result_type: pack-specific", "result_type: apparent"),
)
def pack_reported_as_apparent(m: Method, f: Figures) -> Iterator[Outcome]:
    """A result from a retail pack that is reported as if it held for any container.

    The coefficient does not belong to the pack: its wall takes part, the result mostly reads high, and it
    compares only with others from the same pack.

    It may be set aside by a coefficient found in this pack.
    """
    if m.container.kind != "pack" or m.result_type != "apparent":
        return
    own = m.coefficient
    if own is not None and (own.container == m.container.key or m.spindle.plain):
        return
    if m.spindle.plain and (f.value("container.wall_shift") is not None or not _guard_goes_in(m, f)):
        return
    yield Finding(
        ("result_type",) if "result_type" in m.data else ("container",),
        f"{m.container.label} ({m.container.inside_diameter.text} inside) is a retail pack, and the result "
        f"is called apparent: the coefficient {f.text('coefficient')} was not found there. The wall makes it "
        "read high, and it compares only with the same pack.",
        ("Write result_type: pack-specific.", "Give a `coefficient` found in this pack, with its evidence."),
        (Related("the container", ("container",)),),
    )


@rule(
    "CON16",
    ERROR,
    sources=("project-decision", "record-practice"),
    example=Example("MCW-VIS-014", "supplied: 2.5 L", "supplied: 1.5 L"),
)
def too_little_sample_supplied(m: Method, f: Figures) -> Iterator[Outcome]:
    """Less sample than the replicates and one repeat of them use up.

    At the first result that has to be confirmed nothing is left, or the same loading is stirred up and used
    again; for a thixotropic product that reads low.

    It may be set aside where more can be fetched while the batch waits.
    """
    supplied, volume = m.sample.supplied, m.sample.volume
    if volume is None or m.replicates.each == "new-pack":
        return
    if supplied is None:
        yield NotJudged("how much sample reaches the laboratory is not given")
        return
    loads = 1 if m.replicates.each == "re-read" else m.replicates.count
    reserve = m.reference.policy["retest_reserve"]
    need = volume.value.value * loads * (1 + reserve / 100)
    if supplied.value >= need * (1 - 1e-9):
        return
    most = math.floor(supplied.value / (loads * (1 + reserve / 100)) * 1e6 / 10) * 10
    yield Finding(
        ("sample", "supplied"),
        f"{loads} x {volume.value.text} and a reserve of {sig(reserve, 3)} % for a repeat are "
        f"{show(need, 'volume', supplied.unit)}; {supplied.text} is supplied. Used again, a loading "
        "remembers its stirring and reads low.",
        (
            f"Have at least {show(need, 'volume', supplied.unit)} supplied.",
            f"Fill at most {most} mL each, if the level allows it."
            if most >= 10
            else "Use a smaller container and spindle.",
        ),
        (Related("the volume", ("sample", "volume")), Related("the replicates", ("replicates", "count"))),
    )


@rule(
    "CON17",
    WARNING,
    sources=("iso-2555-1989", "common-practice"),
    example=Example("MCW-VIS-014", "covered: true}", "covered: false}"),
)
def volatile_product_left_open(m: Method, f: Figures) -> Iterator[Outcome]:
    """A product that loses solvent or water, or grows a skin, and stands in the open.

    What is left is thicker: the result reads high and creeps up, and a skin holds the shaft.

    It may be set aside where a study shows that nothing is lost in that time.
    """
    if not m.product.volatile:
        return
    conditioning = m.temperature.conditioning
    standing = 0.0
    if conditioning is not None and not conditioning.covered and conditioning.time is not None:
        standing = conditioning.time.value
    opened = m.sample.open_time.value if m.sample.open_time is not None else 0.0
    allowed = m.reference.policy["open_time"]
    if standing + opened <= allowed * (1 + 1e-9):
        return
    where: Path = ("temperature", "conditioning", "covered") if standing else ("sample", "open_time")
    if standing and conditioning is not None and "covered" not in m.data["temperature"]["conditioning"]:
        where = ("temperature", "conditioning")
    yield Finding(
        where,
        f"{m.product.name} loses solvent or water and stands open for {sig((standing + opened) / 60, 3)} "
        f"min; {sig(allowed / 60, 2)} min are allowed without a cover. It thickens, and the result reads "
        "high and creeps up.",
        (
            "Write covered: true, and say what covers it."
            if standing
            else f"Write open_time: {sig(allowed / 60, 2)} min or less.",
            "Use a jacketed container with a lid, and fill just before the run.",
        ),
        (Related("volatile", ("product", "volatile")),),
    )


@rule(
    "CON18",
    ADVICE,
    sources=("common-practice",),
    example=Example("TGF-VIS-003", ", bottom_clearance: 20 mm}", "}", at="immersion:"),
)
def bottom_clearance_not_given(m: Method, f: Figures) -> Iterator[Outcome]:
    """A plain spindle, and no word on how far it stays off the bottom.

    In a full beaker it is far away; the next operator fills less, and near the bottom it reads high.

    It may be set aside where the container has a filling mark.
    """
    if not m.spindle.plain or m.immersion.to != "shaft-mark" or m.immersion.bottom_clearance is not None:
        return
    left = f.value("container.bottom_clearance")
    now = f"; as filled now {millimetres(left)} stay free" if left is not None else ""
    need = m.reference.policy["bottom_clearance"]
    yield Finding(
        ("immersion",),
        f"Nothing says how far {m.spindle.key} stays off the bottom{now}. Under {millimetres(need)} it reads high.",
        (
            f"Write bottom_clearance: {sig(need * 1000, 2)} mm or more.",
            "Give the clearance of your stand's lower stop.",
        ),
    )  # fmt: skip
