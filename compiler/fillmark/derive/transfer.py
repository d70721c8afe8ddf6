"""What a transfer of a method to another instrument or place is judged by, fixed before the first reading."""

import hashlib
from math import sqrt

from fillmark.derive.figuring import Figuring, in_unit
from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.physics import distributions
from fillmark.quantities import brief, fixed

LOTS = 10
"""Lots at least."""

SPARE = 2


def transfer(m: Method, figures: Figures) -> Figures:
    """Work out the lots to look for, the equivalence limit and the factor of the interval.

    `figures` are those of the same method. Without two limits the equivalence limit and the lots are left open.
    """
    f = Figuring(m)
    step = m.judged_step
    key = f"run.{step.name}."
    full = figures[key + "full_scale"]
    unit = full.unit
    tolerance = figures[key + "tolerance"].value
    f.add(
        "transfer.single", "Difference that the tolerances of two instruments may make", 2 * tolerance, unit,
        f"± {in_unit(2 * tolerance, unit, 3)}", "2 · a · FSR / 100", (("a · FSR / 100", key + "tolerance"),),
        "common-practice",
    )  # fmt: skip
    limit = m.limit(step.name)
    if limit is None or limit.lower is None or limit.upper is None or limit.lower.value >= limit.upper.value:
        for name in ("margin", "aim"):
            f.leave_open(f"transfer.{name}", f"{step.name} has no two limits")
    else:
        low, high = limit.lower.value, limit.upper.value
        share = f.policy("equivalence_share")
        margin = share / 100 * (high - low) / 2
        f.add(
            "transfer.margin", "Equivalence limit: mean difference that is of no account", margin, unit,
            f"± {in_unit(margin, unit, 3)}", "share · (U - L) / 2",
            (("share", "policy.equivalence_share"), ("U", (*limit.path, "upper")), ("L", (*limit.path, "lower"))),
            "project-decision",
        )  # fmt: skip
        for number in range(1, LOTS + 1):
            aim = low + (high - low) * (number - 1) / (LOTS - 1)
            f.add(
                f"transfer.aim_{number}", f"Lot {number}: viscosity to look for", aim, unit, in_unit(aim, unit, 3),
                "L + (U - L) · (i - 1) / (n - 1)",
                (("U", (*limit.path, "upper")), ("L", (*limit.path, "lower")), ("i", str(number)), ("n", str(LOTS))),
                "project-decision",
            )  # fmt: skip
    alpha = f.policy("study_alpha")
    for count in range(LOTS, LOTS + SPARE + 1):
        value = distributions.t_point(upper=alpha / 100, degrees=count - 1) / sqrt(count)
        f.add(
            f"transfer.factor_{count}", f"Half of the interval for {count} lots, in s", value, "", fixed(value, 3),
            "t / √n, t exceeded with probability α, n - 1 degrees of freedom",
            (("n", str(count)), ("α", "policy.study_alpha")), "definition",
        )  # fmt: skip
    f.add(
        "transfer.interval", "Coverage of the interval of two one-sided tests", 100 - 2 * alpha, "%",
        f"{brief(100 - 2 * alpha, 3)} %", "100 - 2 · α", (("α", "policy.study_alpha"),), "definition",
    )  # fmt: skip
    return Figures(f.by_key, f.open)


def order(seed: int, lots: int = LOTS + SPARE) -> tuple[tuple[int, str], ...]:
    """Give the order of the run: which lot, and which side first; the spare ones last.

    Half of the lots begin with A. The order follows from the seed alone, on any machine: lots are ranked by the
    SHA-256 of `seed:purpose:lot`.
    """

    def ranked(purpose: str, of: range) -> list[int]:
        return sorted(of, key=lambda lot: hashlib.sha256(f"{seed}:{purpose}:{lot}".encode()).digest())

    first, spare = range(1, LOTS + 1), range(LOTS + 1, lots + 1)
    with_a = {*ranked("side", first)[: LOTS // 2], *ranked("side", spare)[: len(spare) // 2]}
    return tuple(
        (lot, "A" if lot in with_a else "B") for lot in (*ranked("lot", first), *ranked("lot", spare))
    )


def seed_of(digest: str) -> int:
    """Give the seed that belongs to a method unless another is asked for: from the first digits of its digest."""
    return int(digest[:8], 16) % 100_000
