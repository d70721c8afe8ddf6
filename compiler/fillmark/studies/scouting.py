"""Scouting: what a ramp of speeds and a hold at one say of a fluid before a method is written.

The viscosity comes from the data, or is torque over speed: then only its changes are known, which is all that is
asked here.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import log

from fillmark.diagnostics import Path, Severity
from fillmark.model import Method, Policy
from fillmark.physics import regression
from fillmark.quantities import brief, counted
from fillmark.studies import Finding, Grid, Outcome, Plot, Series
from fillmark.studies.table import Column, Row, Table

KIND = "scouting"
CLAIMS = ("newtonian", "shear-thinning", "thixotropic", "yield-stress", "unknown")


def columns() -> tuple[Column, ...]:
    """List the columns of scouting data."""
    return (
        Column("part", words=("ramp", "hold"), about="ramp or hold"),
        Column("speed", number=True, also=("rpm",), about="rpm"),
        Column(
            "direction",
            optional=True,
            sparse=True,
            words=("up", "down"),
            about="up or down; empty for a hold",
        ),
        Column(
            "time", number=True, optional=True, sparse=True, about="since the motor started, s; for a hold"
        ),
        Column("torque", number=True, optional=True, sparse=True, about="percent of full scale"),
        Column(
            "value",
            number=True,
            optional=True,
            sparse=True,
            also=("viscosity", "result"),
            about="viscosity, if the instrument shows it; its unit stands in the heading",
        ),
    )


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: viscosity, or torque over speed where no viscosity is given."""

    row: Row
    speed: float
    eta: float
    torque: float | None


@dataclass(frozen=True, slots=True)
class Limits:
    """What the instrument can tell apart, in percent of full scale."""

    accuracy: float
    repeatability: float
    resolution: float
    floor: float
    ceiling: float


def study(
    table: Table, policy: Policy, method: Method | None, day: str, *, claim: str | None = None
) -> Outcome:
    """Look at ramp and hold; NoStudyError where neither can be used."""
    finding = Finding(KIND, table, policy, method, day)
    claimed = claim or (method.product.behaviour if method is not None else "unknown")
    finding.settings.append(("claimed behaviour", claimed))
    limits = _limits(finding, method)
    finding.settings.append(("accuracy", f"{brief(limits.accuracy)} % of full scale"))
    readings = _readings(finding, limits)
    up = [r for r in readings if r.row.texts["part"].casefold() == "ramp" and _direction(r) != "down"]
    down = [r for r in readings if r.row.texts["part"].casefold() == "ramp" and _direction(r) == "down"]
    hold = [r for r in readings if r.row.texts["part"].casefold() == "hold"]
    if not up and not hold:
        raise finding.stop(
            "There is no ramp up and no hold to look at.",
            "Measure at rising speeds, then at falling ones.",
            "Or mend the rows that are told above.",
        )
    flow, said = _ramp(finding, up, limits) if up else ("unknown", "")
    history = _hysteresis(finding, up, down, limits, claimed) if up and down else None
    settled = _hold(finding, hold, limits, method) if hold else None
    _draw(finding, up, down, hold)
    verdict = "history" if history or settled == "falling" else flow
    _judge_claim(finding, claimed, verdict, () if claim or method is None else ("product", "behaviour"))
    if method is not None and method.product.behaviour == "unknown":
        word = {"history": "thixotropic", "shear-thinning": "shear-thinning", "newtonian": "newtonian"}.get(
            verdict
        )
        if word is not None:
            finding.propose(
                ("product", "behaviour"),
                word,
                "what ramp and hold showed",
                f"{counted(len(up), 'speed')} up, {len(down)} down, {counted(len(hold), 'reading')} of a hold",
            )
    return finding.outcome(
        "Scouting", verdict, said if said and verdict == flow else _SAID[verdict], len(readings)
    )


_SAID = {
    "history": "The fluid remembers how it was sheared: read at a fixed time after a fixed preparation.",
    "shear-thinning": "The viscosity falls with the speed, by more than the instrument can be off.",
    "shear-thickening": "The viscosity rises with the speed, by more than the instrument can be off.",
    "newtonian": "Nothing speaks against a Newtonian fluid, over these speeds and with this instrument.",
    "unknown": "The data do not tell how the viscosity goes with the speed.",
}


def _direction(reading: Reading) -> str:
    return reading.row.texts.get("direction", "").casefold()


def _limits(finding: Finding, method: Method | None) -> Limits:
    policy = finding.policy
    accuracy = None if method is None else method.instrument.accuracy
    readout = "digital" if method is None else method.instrument.readout
    return Limits(
        policy["instrument_accuracy"] if accuracy is None else accuracy.value,
        policy["instrument_repeatability"],
        policy[f"resolution_{readout}"],
        policy["torque_floor"],
        policy["torque_ceiling"],
    )


def _readings(finding: Finding, limits: Limits) -> list[Reading]:
    found = []
    shown = finding.table.columns
    if "torque" not in shown and "value" not in shown:
        raise finding.stop(
            "There is neither a column torque nor a column value.",
            "Add the torque: it tells how far each reading can be trusted.",
            "Or the viscosity as the instrument shows it.",
        )
    # Both kinds of viscosity in one series would be apples and pears.
    by_value = any("value" in r.numbers for r in finding.table.rows)
    for row in finding.table.rows:
        torque, value, speed = row.numbers.get("torque"), row.numbers.get("value"), row.numbers["speed"]
        if speed <= 0 or (torque is None and value is None) or (by_value and value is None):
            lacking = "a speed above 0" if speed <= 0 else "its value" if by_value else "its torque"
            finding.say(
                "STU07",
                Severity.WARNING,
                f"The row lacks {lacking}: it is left out.",
                "Fill it in.",
                "Or leave the row out.",
                row=row,
                column="speed",
            )
            continue
        if torque is not None and (torque > limits.ceiling or torque <= 0):
            bound = "more than it can read" if torque > 0 else "no torque at all"
            finding.say(
                "STU24",
                Severity.ERROR,
                f"{row.texts['torque']} % of full scale is {bound}: the reading is a bound, no result, "
                "and is left out.",
                "Repeat it at another speed or on another spring.",
                "Or leave the row out.",
                row=row,
                column="torque",
            )
            continue
        if torque is not None and torque < limits.floor:
            finding.say(
                "STU24",
                Severity.WARNING,
                f"{row.texts['torque']} % of full scale is below the floor of {brief(limits.floor)} %: "
                f"the instrument alone may be {brief(100 * limits.accuracy / torque, 2)} % of the value "
                "off.",
                "Use a weaker spring, a larger spindle or a higher speed.",
                "Or leave that speed out of the method.",
                row=row,
                column="torque",
            )
        eta = value if value is not None and by_value else (torque or 0.0) / speed
        if eta <= 0:
            finding.say(
                "STU24",
                Severity.ERROR,
                f"A viscosity of {row.texts['value']} is none: it is left out.",
                "Look at the record.",
                "Or leave the row out.",
                row=row,
                column="value",
            )
            continue
        found.append(Reading(row, speed, eta, torque))
    return found


def _unit(finding: Finding) -> str:
    return (
        finding.table.units.get("value", "") if any("value" in r.numbers for r in finding.table.rows) else ""
    )


def _means(readings: Sequence[Reading]) -> dict[float, tuple[float, float | None]]:
    """Give viscosity and torque at each speed, the mean of repeats, speeds rising."""
    at: dict[float, list[Reading]] = defaultdict(list)
    for r in readings:
        at[r.speed].append(r)
    found = {}
    for speed in sorted(at):
        torques = [r.torque for r in at[speed] if r.torque is not None]
        eta = sum(r.eta for r in at[speed]) / len(at[speed])
        found[speed] = (eta, sum(torques) / len(torques) if torques else None)
    return found


def _ramp(finding: Finding, up: Sequence[Reading], limits: Limits) -> tuple[str, str]:
    """Compare the speeds of the ramp up; gives what it shows, and a sentence where its numbers are needed."""
    means = _means(up)
    if len(means) < 2:
        finding.say(
            "STU12",
            Severity.WARNING,
            "The ramp up has one speed, which tells nothing of others.",
            "Measure at three speeds or more, a factor of ten apart.",
            "Or leave the ramp out.",
        )
        return "unknown", ""
    low, high = min(means), max(means)
    (eta_low, torque_low), (eta_high, torque_high) = means[low], means[high]
    unit = _unit(finding)
    index = finding.figure(
        "index",
        f"Shear-thinning index: {brief(low)} rpm over {brief(high)} rpm, on the way up",
        eta_low / eta_high,
        "",
        "η(low)/η(high)",
        "astm-d2196",
    )
    clear = _slope(finding, up)
    change = abs(eta_low - eta_high)
    direction = "shear-thinning" if index > 1 else "shear-thickening"
    if torque_low is None or torque_high is None:
        finding.points.append(
            "Without the torques nobody can tell whether the accuracy of the instrument, a share of full "
            "scale, explains the difference between the speeds: record them."
        )
        if clear:
            _bend(finding, up)
        return direction if clear else "unknown", ""
    allowed = finding.figure(
        "allowed",
        "Difference that the instrument's accuracy allows between the two",
        limits.accuracy * (eta_low / torque_low + eta_high / torque_high),
        unit,
        "a·(η_low/t_low + η_high/t_high)",
        "common-practice",
        inputs=(("a", f"{brief(limits.accuracy)} % of full scale"),),
    )
    finding.figure(
        "difference", "Difference between the two", change, unit, "|η(low) − η(high)|", "definition"
    )
    offset = finding.figure(
        "zero_offset",
        "Zero offset that would make a Newtonian fluid read so",
        (torque_low * high - torque_high * low) / (high - low),
        "% of full scale",
        "(t_low·N_high − t_high·N_low)/(N_high − N_low)",
        "definition",
        digits=2,
    )
    if change > allowed:
        _bend(finding, up)
        return direction, ""
    widest = 100 * allowed / eta_high
    # What readings repeat within is chance; beyond it either the fluid or the zero is off, and which is not seen.
    if change > allowed * limits.repeatability / limits.accuracy:
        found = f"{brief(100 * change / eta_high, 2)} % {'more' if index > 1 else 'less'}"
        finding.say(
            "STU23",
            Severity.ADVICE,
            f"At {brief(low)} rpm the viscosity reads {found} than at {brief(high)} rpm, beyond what readings "
            f"repeat within, and still by no more than {brief(limits.accuracy)} % of full scale at "
            f"{brief(torque_low, 3)} % and {brief(torque_high, 3)} % torque explains; an offset of "
            f"{brief(offset, 2)} % of full scale would do.",
            "Measure a reference fluid at the same speeds: it shows what the instrument adds.",
            "Or check the zero, and repeat each speed on a spring or spindle that reads it above 30 %.",
        )
        return "unknown", (
            f"The data do not tell whether the fluid is Newtonian: at {brief(low)} rpm it reads {found} than at "
            f"{brief(high)} rpm, which the fluid or the instrument may do."
        )
    if widest > 20:
        finding.say(
            "STU23",
            Severity.WARNING,
            f"At {brief(torque_low, 3)} % and {brief(torque_high, 3)} % torque the instrument's accuracy "
            f"allows {brief(widest, 2)} % between the two speeds: a fluid that thins by less looks "
            "Newtonian here.",
            "Use a weaker spring or a larger spindle, so that both torques are high.",
            "Or compare speeds that both read above 30 %.",
        )
        return "unknown", ""
    return "newtonian", (
        f"Nothing speaks against a Newtonian fluid between {brief(low)} and {brief(high)} rpm, as far as this "
        f"instrument tells: it could hide a change of up to {brief(widest, 2)} %."
    )


def _slope(finding: Finding, up: Sequence[Reading]) -> bool:
    """Fit ln η against ln N; tells whether the slope is clear of nothing."""
    if len(up) < 3 or len({r.speed for r in up}) < 3:
        finding.points.append("Three speeds or more are needed for a slope with a known scatter.")
        return False
    line = regression.line(x=[log(r.speed) for r in up], y=[log(r.eta) for r in up])
    half = regression.half_width(sd=line.slope_sd, degrees=line.degrees)
    finding.figure(
        "slope",
        "Slope of ln η against ln speed, on the way up",
        line.slope,
        "",
        "least squares",
        "regression-text",
        digits=3,
    )
    finding.figure(
        "slope_half_width", "By how much it may be off (95 %)", half, "", "t·s_b", "regression-text", digits=2
    )
    finding.figure(
        "flow_index",
        "Power-law index n over these speeds, and only these",
        1 + line.slope,
        "",
        "n = 1 + slope",
        "rheology-text",
        digits=3,
    )
    return abs(line.slope) > half


def _bend(finding: Finding, up: Sequence[Reading]) -> None:
    """Say where one power law does not hold over all speeds."""
    bent = regression.curvature(x=[log(r.speed) for r in up], y=[log(r.eta) for r in up])
    if bent is not None and bent.probability < finding.policy["study_fit"] / 100:
        finding.say(
            "STU21",
            Severity.ADVICE,
            "ln η against ln speed is bent: one power law does not hold over all these speeds.",
            "State viscosities at fixed speeds, and no law.",
            "Or fit the few speeds around that of the method.",
        )


def _hysteresis(
    finding: Finding, up: Sequence[Reading], down: Sequence[Reading], limits: Limits, claimed: str
) -> bool:
    """Compare the ways up and down; tells whether the fluid remembers."""
    first, second = _means(up), _means(down)
    both = [n for n in first if n in second]
    if not both:
        finding.points.append("Up and down have no speed in common, so nothing is said of hysteresis.")
        return False
    rows = []
    for n in both:
        (a, torque_a), (b, torque_b) = first[n], second[n]
        torques = [t for t in (torque_a, torque_b) if t is not None]
        noise = 2 * 100 * limits.repeatability / min(torques) if torques else None
        rows.append((n, a, b, 200 * (a - b) / (a + b), noise))
    unit = _unit(finding)
    of = f" [{unit}]" if unit else ""
    finding.grids.append(
        Grid(
            "hysteresis",
            "Up against down",
            ("speed [rpm]", f"up{of}", f"down{of}", "up − down [%]", "repeatability allows [%]"),
            tuple(rows),
            (
                (
                    "The same torque is read twice, so the accuracy cancels; what remains is the "
                    f"repeatability, {brief(limits.repeatability)} % of full scale a reading."
                ),
            ),
        )
    )
    finding.figure(
        "thixotropy",
        f"Degree of thixotropy at {brief(both[0])} rpm: up over down",
        first[both[0]][0] / second[both[0]][0],
        "",
        "η(up)/η(down), slowest speed",
        "astm-d2196",
    )
    mean = finding.figure(
        "hysteresis",
        "Hysteresis, mean of all speeds; above 0 where it reads lower on the way down",
        sum(r[3] for r in rows) / len(rows),
        "%",
        "200·(up − down)/(up + down)",
        "definition",
        digits=3,
    )
    beyond = [r for r in rows if r[4] is not None and abs(r[3]) > r[4]]
    if not beyond or len(beyond) * 2 < len(rows):
        return False
    cause = (
        "It breaks down under shear, or it got warmer on the way"
        if mean > 0
        else "It builds up under shear, or it dried, settled or cooled on the way"
    )
    finding.say(
        "STU26",
        Severity.WARNING if claimed in ("newtonian", "shear-thinning") else Severity.ADVICE,
        f"On the way down the fluid reads {brief(abs(mean), 2)} % {'lower' if mean > 0 else 'higher'} in "
        f"the mean. {cause}.",
        "Compare the temperatures before and after: at 2 %/K half a kelvin makes 1 %.",
        "Fix stirring, rest and the moment of reading in the method, with numbers.",
    )
    return mean > 0


def _hold(finding: Finding, hold: Sequence[Reading], limits: Limits, method: Method | None) -> str | None:
    """Find when the drift at one speed is below the limit; gives `steady`, `falling` or `rising`."""
    speeds = {r.speed for r in hold}
    timed = sorted((r for r in hold if "time" in r.row.numbers), key=lambda r: r.row.numbers["time"])
    if len(speeds) > 1 or len(timed) < 3:
        finding.say(
            "STU12",
            Severity.WARNING,
            "A hold needs three readings or more with their times, all at one speed; it is not looked at.",
            "Read at 10, 20, 30, 60, 120, 300 and 600 s.",
            "Or leave it out.",
        )
        return None
    times = [r.row.numbers["time"] for r in timed]
    if any(b <= a for a, b in pairwise(times)):
        finding.say(
            "STU06",
            Severity.ERROR,
            "Two readings of the hold bear the same time.",
            "Mend the times.",
            "Or leave one out.",
            row=timed[0].row,
            column="time",
        )
        return None
    limit = finding.policy["study_drift"]
    rates, rows = [], []
    for a, b in pairwise(timed):
        minutes = (b.row.numbers["time"] - a.row.numbers["time"]) / 60
        rate = 100 * (b.eta / a.eta - 1) / minutes
        # A change by one step of the display is none.
        still = (
            a.torque is not None
            and b.torque is not None
            and abs(b.torque - a.torque) <= limits.resolution * 1.001
        )
        rates.append(0.0 if still else rate)
        rows.append(
            (
                a.row.numbers["time"],
                b.row.numbers["time"],
                a.eta,
                b.eta,
                rate,
                "within the display" if still else "",
            )
        )
    unit = _unit(finding)
    of = f" [{unit}]" if unit else ""
    finding.grids.append(
        Grid(
            "hold",
            f"Hold at {brief(hold[0].speed)} rpm",
            ("from [s]", "to [s]", f"first{of}", f"last{of}", "drift [%/min]", ""),
            tuple(rows),
        )
    )
    last_fast = max((i for i, r in enumerate(rates) if abs(r) >= limit), default=-1)
    if last_fast == len(rates) - 1:
        finding.say(
            "STU25",
            Severity.WARNING,
            f"After {brief(times[-1])} s the reading still moves by {brief(rates[-1], 2)} % a minute; the "
            f"limit is {brief(limit)} % a minute.",
            "Hold longer, until it is below the limit.",
            "Or fix one moment of reading: the value then belongs to that moment.",
        )
        return "falling" if rates[-1] < 0 else "rising"
    steady = finding.figure(
        "steady_after",
        f"Time after which it drifts by less than {brief(limit)} % a minute, at {brief(hold[0].speed)} rpm",
        times[last_fast + 1],
        "s",
        "last time with a faster change before it",
        "definition",
    )
    if method is not None:
        for step in method.run:
            after = step.read.after
            if step.speed.value == hold[0].speed and after is not None and after.value < steady:
                finding.say(
                    "STU25",
                    Severity.WARNING,
                    f"The method reads {step.name} at {after.text}, and the fluid drifts by "
                    f"{brief(limit)} % a minute or more until {brief(steady)} s.",
                    f"Read at {brief(steady)} s or later.",
                    "Or keep the moment, as one that belongs to the value, and hold the clock to the second.",
                    path=("run", method.run.index(step), "read", "after"),
                )
    start = 100 * (timed[last_fast + 1].eta / timed[0].eta - 1)
    if last_fast < 0:
        return "steady"
    finding.figure(
        "breakdown", "Change until then", start, "%", "100·(η(steady)/η(first) − 1)", "definition", digits=3
    )
    return "falling" if start < -limit else "steady"


def _judge_claim(finding: Finding, claimed: str, verdict: str, path: Path) -> None:
    wrong = {
        "newtonian": ("shear-thinning", "shear-thickening", "history"),
        "shear-thinning": ("shear-thickening", "history"),
    }
    if verdict in wrong.get(claimed, ()):
        finding.say(
            "STU19",
            Severity.WARNING,
            f"The fluid is said to be {claimed}. {_SAID[verdict]}",
            "Declare the behaviour that the data show: rules, cautions and qualifiers follow from it.",
            "Or repeat the ramp with temperature and zero checked, if you doubt the data.",
            path=path,
        )


def _draw(finding: Finding, up: Sequence[Reading], down: Sequence[Reading], hold: Sequence[Reading]) -> None:
    unit = _unit(finding)
    label = f"viscosity [{unit}]" if unit else "torque / speed"
    if up:
        series = [Series("up", "line", tuple((n, m[0]) for n, m in _means(up).items()))]
        if down:
            series.append(Series("down", "line", tuple((n, m[0]) for n, m in _means(down).items())))
        finding.plots.append(Plot("ramp", "Viscosity against speed", "speed [rpm]", label, tuple(series)))
    timed = sorted((r.row.numbers["time"], r.eta) for r in hold if "time" in r.row.numbers)
    if len(timed) > 1:
        finding.plots.append(
            Plot(
                "hold",
                f"Hold at {brief(hold[0].speed)} rpm",
                "time [s]",
                label,
                (Series("readings", "line", tuple(timed)),),
            )
        )
