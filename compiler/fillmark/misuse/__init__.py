"""Misuse budget: what each slip at the bench does to a result, and whether a wrong batch would then pass.

Where no honest number exists, a slip has a direction and no size. Each is judged alone, made in every
replicate, against the limits as they stand: rounding and guard bands are left out. Backwards, a shift that was
seen is held against every slip.
"""

from fillmark.figures import Figures
from fillmark.misuse import kinds
from fillmark.misuse.backwards import Explanation, expected_within, explaining
from fillmark.misuse.slip import Effect, Slip, Verdict, bench, in_words, spread
from fillmark.model import Method, Step

__all__ = [
    "Effect", "Explanation", "Slip", "Verdict", "expected_within", "explaining", "in_words", "misuse_budget", "spread",
]  # fmt: skip


def misuse_budget(method: Method, figures: Figures, step: Step) -> tuple[Slip, ...]:
    """Work out every slip for a step of the run, those of one kind together.

    `figures` are those of the same method. Slips that cannot happen with this geometry, product or instrument
    are left out.
    """
    b = bench(method, figures, step)
    return tuple(slip for kind in kinds.KINDS for slip in kind(b))
