"""What follows from the container: clearances, wall, level, immersion, helical travel."""

from fillmark.derive.figuring import Figuring, Inputs, in_unit, millimetres
from fillmark.derive.run import last_moment
from fillmark.derive.setup import bottom_clearance
from fillmark.diagnostics import Path
from fillmark.model import Guard, Method
from fillmark.physics import container as vessel
from fillmark.physics import flow
from fillmark.quantities import brief, sig


def container(f: Figuring) -> None:
    """Work out clearances, wall, level, immersion and helical travel."""
    m = f.method
    spindle, container, immersion = m.spindle, m.container, m.immersion
    inside = container.inside_diameter.value
    source = container.source
    if immersion.to == "gap":
        return
    if spindle.diameter is None:
        for key in ("side_clearance", "level", "underside", "wall_shift"):
            f.leave_open(f"container.{key}", f"the dimensions of spindle {spindle.key} are not known")
        return
    guard = m.fitting_guard if m.guarded else None
    widths = [("side_clearance", "spindle", spindle.diameter)]
    if guard is not None:
        widths.append(("guard_clearance", "guard", guard.width))
    for name, what, width in widths:
        side = (inside - width.value) / 2
        f.add(
            f"container.{name}", f"Clearance between {what} and wall", side, "mm", millimetres(side),
            "(inside diameter - width) / 2",
            (
                ("inside diameter", f"{container.key}: {container.inside_diameter.text}"),
                ("width", f"{spindle.key if what == 'spindle' else what}: {width.text}"),
            ),
            source,
        )  # fmt: skip
    _wall(f)
    _level(f, guard)
    _immersion(f)


def _wall(f: Figuring) -> None:
    m = f.method
    spindle, container = m.spindle, m.container
    if spindle.kind in ("bar", "cone") or spindle.diameter is None:
        return
    home = m.coefficient.container if m.coefficient is not None else spindle.container
    if home is None or home not in m.reference.containers:
        f.leave_open("container.wall_shift", "the container the coefficient holds for is not known")
        return
    reference = m.reference.containers[home]
    disc = spindle.kind == "disc"
    shift = flow.disc_wall_shift if disc else flow.cylinder_wall_shift
    radii = (
        spindle.diameter.value / 2,
        reference.inside_diameter.value / 2,
        container.inside_diameter.value / 2,
    )
    if radii[2] <= radii[0]:
        f.leave_open("container.wall_shift", "the spindle does not fit the container")
        return
    value = 100 * shift(radius=radii[0], reference_radius=radii[1], container_radius=radii[2])
    power = "³" if disc else "²"
    note = " (order of magnitude)" if disc else ""
    f.add(
        "container.wall_shift", f"Shift of the result by the container's wall{note}", value, "%",
        f"{'+' if value > 0 else ''}{sig(value, 2) if abs(value) >= 0.005 else '0'} %",
        f"100 · ((1 - (R/Ro_ref){power}) / (1 - (R/Ro){power}) - 1)",
        (
            ("R", f"{spindle.key}: half of {spindle.diameter.text}"),
            ("Ro_ref", f"{reference.key}: half of {reference.inside_diameter.text}"),
            ("Ro", f"{container.key}: half of {container.inside_diameter.text}"),
        ),
        "project-decision" if disc else "coaxial-formula",
    )  # fmt: skip


def submerged_below_top(m: Method) -> tuple[float, float] | None:
    """Give the height from the spindle's underside to the surface at the mark, and the volume immersed (m, m³).

    None where the immersion is no mark and no cover above the top, or a dimension is not known.
    """
    spindle = m.spindle
    if spindle.diameter is None or spindle.length is None or spindle.shaft_diameter is None:
        return None
    if m.immersion.to == "shaft-mark":
        if spindle.mark_height is None:
            return None
        height = spindle.mark_height.value
    elif m.immersion.to == "above-top" and m.immersion.depth is not None:
        height = spindle.length.value + m.immersion.depth.value
    else:
        return None
    body = vessel.cylinder_volume(diameter=spindle.diameter.value, length=spindle.length.value)
    shaft = vessel.cylinder_volume(
        diameter=spindle.shaft_diameter.value, length=height - spindle.length.value
    )
    guard = m.fitting_guard if m.guarded else None
    legs = 0.0
    if guard is not None:
        legs = 2 * guard.leg_width.value * guard.leg_thickness.value * (height + guard.below_spindle.value)
    return height, body + shaft + legs


def _level(f: Figuring, guard: Guard | None) -> None:
    m = f.method
    container = m.container
    diameter: tuple[str, Path | str] = (
        "d",
        f"{container.key}: inside diameter {container.inside_diameter.text}",
    )
    if m.immersion.to == "depth":
        _pack(f)
        return
    immersed = submerged_below_top(m)
    if immersed is None:
        f.leave_open("container.level", f"the dimensions of spindle {m.spindle.key} are not known")
        return
    height, displaced = immersed
    below = guard.below_spindle.value if guard is not None else 0.0
    clearance = bottom_clearance(m)
    declared = m.immersion.bottom_clearance is not None
    free_from: Path | str = ("immersion", "bottom_clearance") if declared else "policy.bottom_clearance"
    needed = clearance + below + height
    f.add(
        "container.level_needed", "Level needed with the spindle in", needed, "mm", millimetres(needed),
        "bottom clearance + guard below the spindle + underside to surface",
        (
            ("bottom clearance", free_from),
            ("guard below the spindle", _below(guard)),
            ("underside to surface", _to_the_surface(m)),
        ),
        m.spindle.source,
    )  # fmt: skip
    f.add(
        "container.displaced", "Volume displaced by spindle, shaft and guard", displaced, "mL",
        in_unit(displaced, "mL", 3), *_displacing(m, guard), m.spindle.source,
    )  # fmt: skip
    volume = m.sample.volume
    if volume is None:
        f.leave_open("container.level", "no sample volume is given")
        return
    amounts = (
        ("level", "Level with the spindle in", 0.0),
        ("level_lower", "Lowest level with the spindle in", -1.0),
        ("level_upper", "Highest level with the spindle in", 1.0),
        ("fill", "Level before the spindle is in", 0.0),
        ("fill_lower", "Lowest level before the spindle is in", -1.0),
        ("fill_upper", "Highest level before the spindle is in", 1.0),
    )
    for name, title, sign in amounts:
        level = vessel.fill_level(
            volume=max(0.0, volume.value.value + sign * volume.tolerance.value),
            inside_diameter=container.inside_diameter.value,
            displaced=displaced if name.startswith("level") else 0.0,
        )
        amount = ("V", "V + ΔV", "V - ΔV")[int(sign)]
        filled: Inputs = (("V", ("sample", "volume")), *((("ΔV", ("sample", "volume")),) if sign else ()))
        dipped = name.startswith("level")
        body = f"{amount} + V_displaced" if dipped else amount
        f.add(
            f"container.{name}", title, level, "mm", millimetres(level),
            f"{f'({body})' if ' ' in body else body} / (π · d² / 4)",
            (*filled, *((("V_displaced", "container.displaced"),) if dipped else ()), diameter), "definition",
        )  # fmt: skip
    if m.immersion.to == "above-top" and m.spindle.length is not None:
        # The chamber holds the spindle at its height, so that the level sets the cover above it.
        f.add(
            "container.bottom_clearance", "Clearance below the spindle, set by the chamber", clearance, "mm",
            millimetres(clearance), "given",
            (("bottom clearance", free_from),),
            "method",
        )  # fmt: skip
        for name, word in (("cover_lower", "Least"), ("cover", ""), ("cover_upper", "Most")):
            cover = (
                f.by_key[name.replace("cover", "container.level")].value - clearance - m.spindle.length.value
            )
            f.add(
                f"container.{name}", f"{word} cover above the spindle".strip().capitalize(), cover, "mm",
                millimetres(cover), "level - bottom clearance - length of the spindle",
                (
                    ("level", name.replace("cover", "container.level")),
                    ("bottom clearance", "container.bottom_clearance"),
                    ("length of the spindle", f"{m.spindle.key}: {m.spindle.length.text}"),
                ),
                "definition",
            )  # fmt: skip
    else:
        underside = f.by_key["container.level_lower"].value - height - below
        f.add(
            "container.bottom_clearance", f"Least clearance below the {'guard' if guard else 'spindle'}", underside,
            "mm", millimetres(underside), "lowest level - underside to surface - guard below the spindle",
            (
                ("lowest level", "container.level_lower"),
                ("underside to surface", _to_the_surface(m)),
                ("guard below the spindle", _below(guard)),
            ),
            "definition",
        )  # fmt: skip
    free = container.height.value - f.by_key["container.level_upper"].value
    f.add(
        "container.free_board", "Rim above the highest level", free, "mm", millimetres(free),
        "height - highest level",
        (("height", f"{container.key}: {container.height.text}"), ("highest level", "container.level_upper")),
        "definition",
    )  # fmt: skip
    if m.product.density is not None:
        for sign, name, word in (
            (-1, "mass_lower", "Lightest"),
            (0, "mass", ""),
            (1, "mass_upper", "Heaviest"),
        ):
            mass = max(0.0, volume.value.value + sign * volume.tolerance.value) * m.product.density.value
            weighed: Inputs = (("ρ", ("product", "density")), ("V", ("sample", "volume")))
            f.add(
                f"sample.{name}", f"{word} mass of the volume filled".strip().capitalize(), mass, "g",
                in_unit(mass, "g", 4), ("m = ρ · V", "m = ρ · (V + ΔV)", "m = ρ · (V - ΔV)")[sign],
                (*weighed, *((("ΔV", ("sample", "volume")),) if sign else ())),
                "definition",
            )  # fmt: skip


def _below(guard: Guard | None) -> str:
    return "no guard, taken as 0 mm" if guard is None else f"guard {guard.key}: {guard.below_spindle.text}"


def _to_the_surface(m: Method) -> str:
    """Write the height from the spindle's underside to the surface."""
    if m.immersion.to == "shaft-mark" and m.spindle.mark_height is not None:
        return f"{m.spindle.key}: mark at {m.spindle.mark_height.text}"
    if m.spindle.length is None or m.immersion.depth is None:
        return "not known"
    height = m.spindle.length.value + m.immersion.depth.value
    return f"length and cover of {m.spindle.key}: {brief(1000 * height, 6)} mm"


def _displacing(m: Method, guard: Guard | None) -> tuple[str, Inputs]:
    """Write the formula of the volume of all that dips in, and its inputs."""
    spindle = m.spindle
    if spindle.diameter is None or spindle.length is None or spindle.shaft_diameter is None:
        return "body + immersed shaft", ()
    formula = "π · d² / 4 · L + π · d_s² / 4 · (H - L)"
    inputs: Inputs = (
        ("d", f"{spindle.key}: diameter {spindle.diameter.text}"),
        ("L", f"{spindle.key}: length {spindle.length.text}"),
        ("d_s", f"{spindle.key}: shaft {spindle.shaft_diameter.text}"),
        ("H", _to_the_surface(m)),
    )
    if guard is None:
        return formula, inputs
    legs: Inputs = (
        ("w", f"guard {guard.key}: leg width {guard.leg_width.text}"),
        ("b", f"guard {guard.key}: leg thickness {guard.leg_thickness.text}"),
        ("G", f"guard {guard.key}: below the spindle {guard.below_spindle.text}"),
    )
    return formula + " + 2 · w · b · (H + G)", (*inputs, *legs)


def _pack(f: Figuring) -> None:
    """Follow the spindle down a pack or a beaker on a helical stand."""
    m = f.method
    depth = m.container.fill_depth
    start = m.immersion.depth
    if depth is None and m.sample.volume is not None:
        level = vessel.fill_level(
            volume=m.sample.volume.value.value,
            inside_diameter=m.container.inside_diameter.value,
            displaced=0.0,
        )
        formula = "V / (π · d² / 4)"
        inputs: Inputs = (
            ("V", ("sample", "volume")),
            ("d", f"{m.container.key}: inside diameter {m.container.inside_diameter.text}"),
        )
    elif depth is not None:
        level, formula = depth.value, "given"
        inputs = (("depth", f"{m.container.label}: fill depth {depth.text}"),)
    else:
        f.leave_open("container.level", "neither a volume nor the fill depth of the pack is given")
        return
    f.add(
        "container.level", "Depth of product", level, "mm", millimetres(level), formula, inputs, "method",
    )  # fmt: skip
    if start is None:
        f.leave_open("helical.end_depth", "the depth at the start is not given")
        return
    rate = m.instrument.rise_rate
    longest = max(last_moment(s) for s in m.run)
    travel = 0.0 if rate is None or m.instrument.stand != "helical" else rate.value
    up = m.immersion.direction == "up"
    if up:
        travel = -travel
    speed: Path | str = (
        ("instrument", "rise_rate") if travel else "the stand does not travel, taken as 0 mm/min"
    )
    end = vessel.helical_path(start_depth=start.value, rate=travel, time=longest)
    deepest = max(end, start.value)
    f.add(
        "helical.end_depth", "Depth at the end of the reading", end, "mm", millimetres(end),
        "d0 - v · t" if up else "d0 + v · t",
        (("d0", ("immersion", "depth")), ("v", speed), ("t", f"end of the longest reading: {brief(longest, 6)} s")),
        "definition",
    )  # fmt: skip
    left = level - deepest
    f.add(
        "container.bottom_clearance", "Least clearance below the spindle", left, "mm", millimetres(left),
        "depth of product - deepest point",
        (
            ("depth of product", "container.level"),
            ("deepest point", ("immersion", "depth") if deepest > end else "helical.end_depth"),
        ),
        "definition",
    )  # fmt: skip
    if m.spindle.wire_diameter is not None and travel:
        fastest = max(s.speed.value for s in m.run)
        half_pitch = abs(travel) / (fastest / 60) / 2
        f.add(
            "helical.half_pitch", "Travel in half a turn", half_pitch, "mm", millimetres(half_pitch),
            "60 · v / (2 · N)",
            (("v", ("instrument", "rise_rate")), ("N", f"fastest step: {brief(fastest, 6)} rpm")), "rheology-text",
        )  # fmt: skip


def _immersion(f: Figuring) -> None:
    m = f.method
    spindle, tolerance = m.spindle, m.immersion.tolerance
    if m.immersion.to != "shaft-mark" or tolerance is None:
        return
    if not spindle.plain or spindle.shaft_diameter is None:
        return
    # The coefficient a bare shaft of that length would have alone: the smaller, the more a millimetre weighs.
    shaft = flow.bare_cylinder_coefficient(
        radius=spindle.shaft_diameter.value / 2,
        length=tolerance.value,
        full_scale_torque=m.instrument.spring.full_scale.value,
    )
    effect = 100 * f.by_key["coefficient"].value / shaft
    f.add(
        "immersion.effect", "Shift of the result at the edge of the immersion tolerance", effect, "%",
        f"± {sig(effect, 2)} %", "100 · C · 4 · π · Rs² · δ · (2 · π / 60) / T",
        (
            ("C", "coefficient"),
            ("Rs", f"shaft of {spindle.key}: half of {spindle.shaft_diameter.text}"),
            ("δ", ("immersion", "tolerance")),
            ("T", f"spring {m.instrument.spring.key}: {m.instrument.spring.full_scale.text}"),
        ),
        "coaxial-formula",
    )  # fmt: skip
