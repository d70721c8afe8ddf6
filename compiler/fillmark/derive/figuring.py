"""The figures of one method as they come, and how their numbers are written."""

from dataclasses import dataclass, field

from fillmark.diagnostics import Path
from fillmark.figures import Figure
from fillmark.model import Method
from fillmark.quantities import brief, express, fixed

Inputs = tuple[tuple[str, "Path | str"], ...]
"""What went into a figure: a symbol, and the path, figure key or text it stands for."""


@dataclass(slots=True)
class Figuring:
    """The figures of one method as they come."""

    method: Method
    by_key: dict[str, Figure] = field(default_factory=dict)
    open: dict[str, str] = field(default_factory=dict)

    def add(
        self,
        key: str,
        title: str,
        value: float,
        unit: str,
        text: str,
        formula: str,
        inputs: Inputs,
        *sources: str,
    ) -> float:
        """Keep a figure and give its value; the arguments are the fields of `Figure`, in order."""
        self.by_key[key] = Figure(key, title, value, unit, text, formula, inputs, sources)
        return value

    def leave_open(self, key: str, reason: str) -> None:
        """Say why a figure cannot be computed."""
        self.open[key] = reason

    def value(self, key: str) -> float | None:
        """Give the number behind a key, or None where it could not be computed."""
        figure = self.by_key.get(key)
        return None if figure is None else figure.value

    def policy(self, key: str) -> float:
        """Give a threshold of the site policy."""
        return self.method.reference.policy[key]


def in_unit(value: float, unit: str, digits: int = 4) -> str:
    """Write a value of a kind's own unit in another unit, with at most so many significant digits."""
    return f"{brief(express(value, unit), digits)} {unit}"


def percent(value: float) -> str:
    """Write a percentage of torque with one decimal, and far off the scale with none."""
    return f"{fixed(value, 1 if abs(value) < 1000 else 0)} %"


def duration(seconds: float) -> str:
    """Write a time as a bench clock would show it: seconds up to ten minutes, then minutes, then hours."""
    if seconds < 600:
        return f"{brief(seconds, 3)} s"
    if seconds < 6 * 3600:
        return f"{fixed(seconds / 60, 0)} min"
    return f"{brief(seconds / 3600, 3)} h"


def clock_time(seconds: float) -> str:
    """Write a time that somebody waits for with a clock in hand: never rounded to minutes."""
    if seconds < 600:
        return duration(seconds)
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60) if minutes >= 360 else (0, minutes)
    parts = ((hours, "h"), (minutes, "min"), (rest, "s"))
    return " ".join(f"{number} {unit}" for number, unit in parts if number)


def millimetres(metres: float) -> str:
    """Write a length in millimetres with one decimal."""
    return f"{fixed(metres * 1000, 1)} mm"


def viscosity_unit(m: Method, result: str) -> str:
    """Choose the unit a result is shown in: that of the report, else of the limits, else Pa·s."""
    for line in m.report:
        if line.result == result and line.unit:
            return line.unit
    limit = m.limit(result)
    if limit is not None:
        for bound in (limit.lower, limit.upper, limit.target):
            if bound is not None and bound.kind == "viscosity":
                return bound.unit
    for line in m.report:
        if line.unit:
            return line.unit
    return "Pa·s"
