"""What follows for results: replicates, verification, rounding at the limits, ratios."""

from decimal import Decimal
from typing import Literal

from fillmark.derive.figuring import Figuring, in_unit, percent, viscosity_unit
from fillmark.derive.setup import coefficient_on
from fillmark.model import Limit, ReportLine
from fillmark.physics import flow, rounding, statistics
from fillmark.quantities import Quantity, brief, express, sig


def replicates(f: Figuring) -> None:
    """Work out when replicates agree."""
    m = f.method
    repeatability, count = m.replicates.repeatability, m.replicates.count
    first = next((s for s in m.specification if s.lower and s.upper and s.lower.kind == "viscosity"), None)
    middle = (
        None
        if first is None or first.lower is None or first.upper is None
        else (first.lower.value + first.upper.value) / 2
    )
    for key, title, sign, n in (
        ("pair_range", "Difference that two results exceed one time in twenty", "f(2)", 2),
        ("critical_range", "Range that replicates exceed one time in twenty", "f(n)", count),
    ):
        if repeatability is None or n < 2:
            continue
        allowed = statistics.critical_range(n=n, repeatability_sd=repeatability.value)
        f.add(
            f"replicates.{key}", title, allowed, "%", f"{sig(allowed, 3)} % of the mean", f"{sign} · s_r",
            (
                (sign, f"factor for {n} results: {statistics.critical_range_factor(n)}"),
                ("s_r", ("replicates", "repeatability")),
            ),
            "iso-5725-6",
        )  # fmt: skip
    agree = m.replicates.agree_within
    if agree is None or middle is None or first is None:
        return
    relative = agree.value if agree.kind == "percent" else 100 * agree.value / middle
    absolute = agree.value if agree.kind == "viscosity" else agree.value * middle / 100
    unit = viscosity_unit(m, first.result)
    f.add(
        "replicates.agree_percent", "Largest range allowed, of the middle of the limits", relative, "%",
        f"{sig(relative, 3)} %",
        "given" if agree.kind == "percent" else "100 · range / η, η = (U + L) / 2",
        (("range", ("replicates", "agree_within")),
         *(() if agree.kind == "percent" else (("U", (*first.path, "upper")), ("L", (*first.path, "lower"))))),
        "definition",
    )  # fmt: skip
    f.add(
        "replicates.agree", "Largest range allowed", absolute, unit,
        in_unit(absolute, unit, 3) if agree.kind == "viscosity" else f"{agree.text} of the mean",
        "given", (("range", ("replicates", "agree_within")),), "method",
    )  # fmt: skip
    _agreement_kept(f)


def _agreement_kept(f: Figuring) -> None:
    """Say how many sets of a product as repeatable as declared would fail the agreement limit."""
    m = f.method
    agree, repeatability = f.value("replicates.agree_percent"), m.replicates.repeatability
    if agree is None or repeatability is None or repeatability.value <= 0 or m.replicates.count < 2:
        return
    share = 100 * statistics.range_exceeded(n=m.replicates.count, range_over_sd=agree / repeatability.value)
    f.add(
        "replicates.good_sets_failing", "Good sets that exceed the range allowed", share, "%", f"{sig(share, 2)} %",
        "1 - P(range of n normal values <= range / s_r)",
        (("range", "replicates.agree_percent"), ("s_r", ("replicates", "repeatability")),
         ("n", ("replicates", "count"))), "iso-5725-6",
    )  # fmt: skip


def verification(f: Figuring) -> None:
    """Work out the acceptance band of the verification and its torque."""
    m = f.method
    check = m.verification
    step = None if check is None else m.step(check.at)
    if check is None or step is None:
        return
    spindle = check.spindle or m.spindle
    if check.spindle is None or check.spindle.key == m.spindle.key:
        coefficient, accuracy = f.by_key["coefficient"].value, f.by_key["accuracy"].value
    else:
        coefficient = coefficient_on(m, spindle)
        own = m.instrument.accuracy
        accuracy = own.value if own is not None else f.policy("instrument_accuracy")
        accuracy += spindle.accessory_accuracy.value if spindle.accessory_accuracy is not None else 0.0
    rpm = step.speed.value
    unit = viscosity_unit(m, check.at)
    full = flow.full_scale_viscosity(coefficient=coefficient, rpm=rpm)
    fluid = check.fluid
    certified: tuple[str, str] = ("η", f"certificate of {fluid.key}: {fluid.viscosity.text}")
    doubt: tuple[str, str] = ("U", f"certificate of {fluid.key}: {fluid.uncertainty.text}")
    f.add(
        "verification.full_scale", "Full-scale viscosity of the check", full, unit, in_unit(full, unit), "FSR = C / N",
        (("C", f"{spindle.key}: {in_unit(coefficient, 'Pa·s·rpm')}"), ("N", (*step.path, "speed"))), spindle.source,
    )  # fmt: skip
    torque = flow.torque_percent(viscosity=fluid.viscosity.value, coefficient=coefficient, rpm=rpm)
    f.add(
        "verification.torque", "Torque of the reference fluid", torque, "%", percent(torque), "t = 100 · η / FSR",
        (certified, ("FSR", "verification.full_scale")), "definition",
    )  # fmt: skip
    combine: Literal["additive", "root-sum-square"] = (
        "additive" if m.reference.policy.choices["verification_band"] == "additive" else "root-sum-square"
    )
    lower, upper = statistics.verification_band(
        reference=fluid.viscosity.value,
        accuracy_percent=accuracy,
        full_scale=full,
        reference_uncertainty=fluid.uncertainty.value,
        combine=combine,
    )
    half_band = "(a · FSR / 100 + U)" if combine == "additive" else "√((a · FSR / 100)² + U²)"
    for which, word, value, sign in (("lower", "Lowest", lower, "-"), ("upper", "Highest", upper, "+")):
        f.add(
            f"verification.{which}", f"{word} reading that passes", value, unit, in_unit(value, unit),
            f"η {sign} {half_band}",
            (certified, ("a", f"of the check: {sig(accuracy, 3)} %"), ("FSR", "verification.full_scale"), doubt),
            "common-practice",
        )  # fmt: skip
        t = flow.torque_percent(viscosity=value, coefficient=coefficient, rpm=rpm)
        f.add(
            f"verification.torque_{which}", f"{word} torque that passes", t, "%", percent(t), "t = 100 · η / FSR",
            (("η", f"verification.{which}"), ("FSR", "verification.full_scale")), "definition",
        )  # fmt: skip
    half = (upper - lower) / 2
    tolerance = check.temperature.tolerance.value if check.temperature is not None else 0.1
    drift = fluid.sensitivity.value * tolerance / 100 * fluid.viscosity.value
    f.add(
        "verification.temperature_share", "Share of the band that the fluid's temperature may take",
        100 * drift / half, "%", f"{sig(100 * drift / half, 2)} %", "100 · s · ΔT · η / 100 / ((U - L) / 2)",
        (
            ("s", f"{fluid.sensitivity.text}, {fluid.klass}"),
            ("ΔT", ("verification", "temperature") if check.temperature is not None else "customary: 0.1 K"),
            certified,
            ("U", "verification.upper"),
            ("L", "verification.lower"),
        ),
        "gum",
    )  # fmt: skip


def report_line(f: Figuring, line: ReportLine) -> None:
    """Work out rounding at the limits, and the uncertainty of a ratio."""
    m = f.method
    key = f"report.{line.result}."
    limit = m.limit(line.result)
    if line.ratio is not None:
        _ratio(f, line, limit, key)
    if line.increment is None or limit is None or line.rounding is None:
        return
    if limit.lower is not None and limit.upper is not None and limit.lower.value > limit.upper.value:
        f.leave_open(key + "border", "the lower limit is above the upper one")
        return
    unit = line.increment.unit
    lower, upper = _in_decimal(limit.lower, unit), _in_decimal(limit.upper, unit)
    examples = rounding.border_examples(lower=lower, upper=upper, increment=Decimal(line.increment.number))
    method = line.comparison or m.reference.policy.choices["comparison"]
    for example in examples:
        if example.rule != line.rounding:
            continue
        which = "lower" if lower is not None and example.value < lower else "upper"
        rounded, whole = (
            "in" if passes else "out" for passes in (example.passes_rounded, example.passes_unrounded)
        )
        this, other = (rounded, whole) if method == "rounding" else (whole, rounded)
        other_method = "absolute" if method == "rounding" else "rounding"
        f.add(
            f"{key}border_{which}", f"Worked example at the {which} limit", float(example.value), unit,
            f"{example.value:f} {unit}".strip() + f" is reported {example.rounded:f}: {this} by the {method} method"
            + ("" if this == other else f" used here ({other} by the {other_method} method)"),
            f"round to {line.increment.text}, tie {example.rule}; compared by the {method} method",
            (("limit", (*limit.path, which)), ("increment", (*line.path, "increment"))), "iso-80000-1", "astm-e29",
        )  # fmt: skip


def _in_decimal(bound: Quantity | None, unit: str) -> Decimal | None:
    """Give a limit as an exact decimal in the unit of the increment."""
    if bound is None:
        return None
    if bound.unit == unit:
        return Decimal(bound.number)
    # Viscosity units differ by powers of ten, so the shift is exact.
    scale = Decimal(str(express(1.0, unit) / express(1.0, bound.unit))).normalize()
    return Decimal(bound.number) * scale


def _ratio(f: Figuring, line: ReportLine, limit: Limit | None, key: str) -> None:
    if line.ratio is None:
        return
    torques = [_typical_torque(f, name) for name in line.ratio]
    if torques[0] is None or torques[1] is None:
        f.leave_open(key + "uncertainty", "the torque at one of the two speeds is not known")
        return
    accuracy = f.by_key["accuracy"].value
    relative = 100 * statistics.ratio_index_uncertainty(
        accuracy_percent=accuracy, torque_low=torques[0], torque_high=torques[1]
    )
    f.add(
        key + "uncertainty", "Relative uncertainty of the ratio from the instrument", relative, "%",
        f"± {sig(relative, 2)} %", "100 · √((a / t1)² + (a / t2)²)",
        (("a", "accuracy"), ("t1", f"middle of {line.ratio[0]}: {brief(torques[0], 6)} %"),
         ("t2", f"middle of {line.ratio[1]}: {brief(torques[1], 6)} %")), "gum",
    )  # fmt: skip
    if limit is not None and limit.lower is not None and limit.upper is not None:
        half = 100 * (limit.upper.value - limit.lower.value) / (limit.upper.value + limit.lower.value)
        f.add(
            key + "ratio", "Half width of the limits over the uncertainty of the ratio", half / relative, "",
            sig(half / relative, 3), "(100 · (U - L) / (U + L)) / u",
            (("U", (*limit.path, "upper")), ("L", (*limit.path, "lower")), ("u", key + "uncertainty")), "jcgm-106",
        )  # fmt: skip


def _typical_torque(f: Figuring, name: str) -> float | None:
    low, high = f.value(f"run.{name}.torque_lower"), f.value(f"run.{name}.torque_upper")
    return None if low is None or high is None else (low + high) / 2
