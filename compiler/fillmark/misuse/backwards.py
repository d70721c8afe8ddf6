"""From a shift that was seen back to the slips that could have made it."""

from dataclasses import dataclass
from itertools import combinations
from math import inf

from fillmark.figures import Figures
from fillmark.misuse.slip import COMPUTED, FROM_MEMORY, RULED_OUT, Slip, spread
from fillmark.model import Step
from fillmark.quantities import brief


@dataclass(frozen=True, slots=True)
class Explanation:
    """Which slips could have given a shift."""

    shift: float
    """What was seen (%)."""
    within: float
    """How far a slip may lie from it and still explain it (% of the result)."""
    alone: tuple[Slip, ...]
    """Explain it by themselves, by a size that is known: computed before estimated, the closest first."""
    possible: tuple[tuple[Slip, str], ...]
    """Go the right way, by a size from memory, too wide to tell, or not known; with what is known."""
    excluded: tuple[tuple[Slip, str], ...]
    """Do not explain it alone, and why."""
    cancelling: tuple[tuple[Slip, Slip, float], ...]
    """Pairs that hide part of each other and together come to it; with the shift of both (%)."""


def explaining(budget: tuple[Slip, ...], shift: float, *, within: float) -> Explanation:
    """Find which slips could have made a result read high or low by `shift` (%).

    A slip explains it where its size over the range of the limits comes within `within` (% of the result, above
    or below). Ranked only as far as can be said: what is computed first, then what is estimated, then ranges
    too wide to tell and sizes from memory, last what has a direction and no size.
    """
    alone: list[Slip] = []
    possible: list[tuple[Slip, str]] = []
    excluded: list[tuple[Slip, str]] = []
    low, high = shift - within, shift + within
    way = "high" if shift > 0 else "low"
    for slip in budget:
        if slip.known == RULED_OUT:
            excluded.append((slip, slip.why))
        elif slip.range is None:
            _sort_unsized(slip, shift, possible, excluded)
        elif slip.range[0] <= high and slip.range[1] >= low and slip.direction in (way, "either"):
            if slip.known == FROM_MEMORY or _width(slip) > 2 * within:
                possible.append((slip, f"{spread(*slip.range)}. {slip.why}"))
            else:
                alone.append(slip)
        else:
            excluded.append((slip, _why_not(slip, shift)))
    alone.sort(key=lambda s: (s.known != COMPUTED, _distance(s, shift), _width(s)))
    possible.sort(key=lambda pair: pair[0].range is None)
    return Explanation(
        shift,
        within,
        tuple(alone),
        tuple(possible),
        tuple(excluded),
        _cancelling(budget, alone, shift, within),
    )


def expected_within(figures: Figures, step: Step) -> tuple[float, str]:
    """Give how closely a result can be held against a slip (% of it), and by what.

    The expanded uncertainty where it is known, else the accuracy of the instrument; in the middle of the limits,
    or at the one limit, or at half scale where there is none.
    """
    key = f"run.{step.name}."
    ends = [figures.value(key + f"torque_{which}") for which in ("lower", "upper")]
    torques = [torque for torque in ends if torque is not None] or [50.0]
    middle = sum(torques) / len(torques)
    expanded = figures.value(key + "uncertainty")
    if expanded is not None:
        return 1e4 * expanded / figures[
            key + "full_scale"
        ].value / middle, "the expanded uncertainty of a result"
    return 100 * figures["accuracy"].value / middle, "the accuracy of the instrument"


def _sort_unsized(
    slip: Slip, shift: float, possible: list[tuple[Slip, str]], excluded: list[tuple[Slip, str]]
) -> None:
    way = "high" if shift > 0 else "low"
    if slip.direction not in (way, "either"):
        excluded.append((slip, f"Reads {slip.direction}."))
    elif slip.known == FROM_MEMORY:
        excluded.append((slip, slip.why))
    else:
        possible.append((slip, slip.why))


def _why_not(slip: Slip, shift: float) -> str:
    if slip.range is None or slip.direction == "none":
        return "No effect here."
    text = spread(*slip.range)
    if slip.direction == ("low" if shift > 0 else "high"):
        return f"Reads {slip.direction}: {text}."
    most = max(slip.range, key=abs) if slip.direction != "either" else 0.0
    if slip.amount is not None and abs(most) > 0:
        need = sorted(brief(round(slip.amount[0] * shift / bound, 9), 2) for bound in slip.range if bound)
        needed = need[0] if need[0] == need[-1] else " to ".join(sorted(need, key=float))
        return f"{text}; it would take {needed} {slip.amount[1]}."
    return f"{text}, too {'small' if abs(most) < abs(shift) else 'large'}."


def _width(slip: Slip) -> float:
    return 0.0 if slip.range is None else slip.range[1] - slip.range[0]


def _distance(slip: Slip, shift: float) -> float:
    if slip.range is None:
        return inf
    return max(slip.range[0] - shift, shift - slip.range[1], 0.0)


def _middle(slip: Slip) -> float | None:
    """Give the one shift of a slip at the middle of the limits (%); None where it is a range or not known."""
    shifts = [e.shift for e in slip.effects if e.shift is not None]
    if len(shifts) != len(slip.effects) or not shifts or slip.direction not in ("high", "low"):
        return None
    low, high = shifts[len(shifts) // 2]
    return low if high - low < 1e-9 else None


def _cancelling(
    budget: tuple[Slip, ...], alone: list[Slip], shift: float, within: float
) -> tuple[tuple[Slip, Slip, float], ...]:
    """Find pairs of slips with one size each, one high and one low, that together come to a shift."""
    sized = [(slip, _middle(slip)) for slip in budget if slip not in alone]
    found = []
    for (first, one), (second, other) in combinations(sized, 2):
        if one is None or other is None or one * other >= 0:
            continue
        if first.key.partition(".")[0] == second.key.partition(".")[0]:
            continue
        both = 100 * ((1 + one / 100) * (1 + other / 100) - 1)
        if abs(both - shift) <= within and both * shift > 0 and abs(both) > 1e-6:
            found.append((first, second, both))
    return tuple(sorted(found, key=lambda pair: abs(pair[2] - shift)))
