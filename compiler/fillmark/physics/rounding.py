"""Rounding of results and the decision at a limit, on the decimal digits as they are written."""

from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal, localcontext
from typing import Literal, NamedTuple

Rule = Literal["half-even", "half-up"]
"""Where a value half way between two multiples goes: to the even one, or away from 0."""

Method = Literal["absolute", "rounding"]
"""What is compared with a limit: the value as calculated, or the value rounded to the limit's increment."""

DECIMAL_ROUNDING = {"half-even": ROUND_HALF_EVEN, "half-up": ROUND_HALF_UP}

WORKING_DIGITS = 60
"""Enough for quotients to be exact where it matters: at a tie."""


class BorderExample(NamedTuple):
    """A value near a limit, and what becomes of it under a rounding rule and both methods of comparison."""

    value: Decimal
    rule: Rule
    rounded: Decimal
    passes_unrounded: bool
    passes_rounded: bool


def round_to_increment(value: Decimal, increment: Decimal, rule: Rule) -> Decimal:
    """Round to the nearest multiple of an increment, in one step.

    Equation: rounded = i·round(v/i)
    Symbols: v value and i increment in one unit; rule for a value half way between two multiples
    Validity: finite decimals, increment above 0; negative values mirror positive ones
    Reference: ISO 80000-1 Annex B, rule A (half-even) and rule B (half-up), from memory

    >>> round_to_increment(Decimal("12.25"), Decimal("0.1"), "half-even")
    Decimal('12.2')
    """
    _check_increment(increment)
    if rule not in DECIMAL_ROUNDING:
        raise ValueError(f"no such rounding rule: {rule!r}")
    if not value.is_finite() or value.adjusted() - increment.adjusted() > WORKING_DIGITS / 2:
        raise ValueError(f"{value} cannot be rounded to {increment}")
    with localcontext(prec=WORKING_DIGITS):
        multiple = (value / increment).quantize(Decimal(1), rounding=DECIMAL_ROUNDING[rule])
        return multiple * increment + 0  # the 0 takes the sign off a zero and writes 1E+2 as 100


def decide(
    *,
    value: Decimal,
    lower: Decimal | None,
    upper: Decimal | None,
    method: Method,
    increment: Decimal,
    rule: Rule,
) -> bool:
    """Decide whether a value conforms.

    Equation: lower ≤ v ≤ upper, v as it is (absolute) or rounded to the increment first (rounding)
    Symbols: v value, limits and increment in one unit; None for a limit that is not there
    Validity: simple acceptance, no guard band; a value on a limit passes
    Reference: ASTM E29, absolute and rounding method, from memory

    >>> decide(value=Decimal("500.4"), lower=None, upper=Decimal(500), method="rounding",
    ...        increment=Decimal(1), rule="half-even")
    True
    """
    if lower is not None and upper is not None and lower > upper:
        raise ValueError(f"lower limit {lower} is above upper limit {upper}")
    if method == "rounding":
        value = round_to_increment(value, increment, rule)
    elif method != "absolute":
        raise ValueError(f"no such method of comparison: {method!r}")
    return (lower is None or value >= lower) and (upper is None or value <= upper)


def border_examples(
    *, lower: Decimal | None, upper: Decimal | None, increment: Decimal
) -> tuple[BorderExample, ...]:
    """Work out the values half an increment outside each limit, where rule and method part ways.

    Equation: v = lower − i/2 and v = upper + i/2, each by both rounding rules
    Symbols: limits and increment i in one unit; None for a limit that is not there
    Validity: as `decide`; where a limit is no multiple of the increment the value is no tie
    Reference: as `decide`

    >>> for example in border_examples(lower=None, upper=Decimal(500), increment=Decimal(1)):
    ...     print(example.value, example.rule, example.rounded, example.passes_rounded)
    500.5 half-even 500 True
    500.5 half-up 501 False
    """
    _check_increment(increment)
    with localcontext(prec=WORKING_DIGITS):
        values = [] if lower is None else [lower - increment / 2]
        values += [] if upper is None else [upper + increment / 2]
    rules: tuple[Rule, ...] = ("half-even", "half-up")
    return tuple(
        BorderExample(
            value,
            rule,
            round_to_increment(value, increment, rule),
            decide(value=value, lower=lower, upper=upper, method="absolute", increment=increment, rule=rule),
            decide(value=value, lower=lower, upper=upper, method="rounding", increment=increment, rule=rule),
        )
        for value in values
        for rule in rules
    )


def _check_increment(increment: Decimal) -> None:
    if not (increment.is_finite() and increment > 0):
        raise ValueError(f"an increment must be finite and above 0, not {increment}")
