"""What is worked out beforehand for scouting a product: ranges at each speed, and the sums of each block."""

from collections.abc import Sequence
from itertools import pairwise
from math import log10

from fillmark.derive.figuring import duration
from fillmark.derive.ranges import range_figures
from fillmark.figures import Figure, Figures
from fillmark.model import Reference, Spindle, Spring
from fillmark.quantities import brief, fixed, sig

TIMES = (10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0)
"""Moments of reading while a speed is held, from motor start (s)."""

BRACKET = 2.0
"""How far below and above the test temperature (K)."""


def scouting_figures(
    *, spindle: Spindle, on: Spring, reference: Reference, speeds: Sequence[float],
    coefficient: float | None = None, unit: str | None = None, temperature: tuple[float, int] | None = None,
) -> Figures:  # fmt: skip
    """Work out the figures of a scouting sheet.

    `speeds` in rpm, rising; `coefficient` in Pa·s·rpm where a method has one of its own; `temperature` in °C
    with its decimals. Keys of the ranges begin with `at.`.
    """
    found = dict(
        range_figures(
            key="at.",
            spindle=spindle,
            on=on,
            reference=reference,
            speeds=speeds,
            coefficient=coefficient,
            unit=unit,
        )
    )

    def add(key: str, title: str, value: float, in_: str, text: str, formula: str) -> None:
        found[key] = Figure(key, title, value, in_, text, formula, (), ("definition",))

    for time, after in pairwise(TIMES):
        value = 100 * 60 / (after - time)
        add(
            f"drift.{time:g}", f"From {duration(time)} to {duration(after)}: change of a part into % a minute", value,
            "%/min", brief(value, 3), "100 · 60 / Δt",
        )  # fmt: skip
    if len(speeds) > 1:
        span = log10(speeds[-1] / speeds[0])
        add(
            "slope.span",
            "Logarithm of the ratio of highest and lowest speed",
            span,
            "",
            sig(span, 4),
            "log(N_n / N_1)",
        )
    if temperature is not None:
        value, decimals = temperature
        for name, off in (("below", -BRACKET), ("target", 0.0), ("above", BRACKET)):
            text = f"{fixed(value + off, decimals)} °C"
            add(f"temperature.{name}", "Temperature of the bracket", value + off, "°C", text, "T ± 2 K")
    return Figures(found, {})
