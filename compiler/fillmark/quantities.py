"""Quantities as people write them: a number, a unit, and the kind of thing they measure.

A strict reader over a closed table of spellings. The kind matters as much as the unit: rpm is no shear rate,
a torque is no energy, the tolerance of a temperature is a difference. What cannot be read is refused with the
spelling that could be; nothing is guessed. Conversions are exact: the number as written is scaled by a ratio
of whole numbers and rounded to a float once, so that 718.7 µN·m and 7187 dyn·cm are the same float.
"""

import math
import re
from dataclasses import dataclass
from functools import cache, lru_cache

from fillmark.units import ALSO, CONFUSED, CONVERTED, MISTAKES, SPACES, TITLES, UNITS, of_kind, spelling, tidy

_MAY_BE_NEGATIVE = ("temperature", "temperature-difference")
_ABSOLUTE_ZERO = -273.15  # °C, by the definition of the degree Celsius (SI Brochure, 2.3.1)
_MOST_DIGITS = 30
_POWERS = {
    **{(1, 10**k): f"e{k}" for k in range(10)},
    **{(10**k, 1): f"e-{k}" for k in range(1, 10)},
}
"""Scales that are powers of ten, and how such a scale is written behind a number."""
_LONGEST = 120  # characters of a text that messages repeat

_DIGITS = r"[0-9]+(?:\.[0-9]+)?(?:[eE][+\-]?[0-9]+)?"
_NUMBER = re.compile(rf"[+\-\u2212]?{_DIGITS}")
_TOLERANCE = re.compile(r"±|\+/[-\u2212]")
_TOLERANCE_LIKE = re.compile(r"±|\+ ?/? ?-|\+ ?[0-9.]+[^+\-]*-")
_PLAIN = str.maketrans({"\u2212": "-", **dict.fromkeys(SPACES, " ")})


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit: `value` is in the canonical unit of its kind, the rest is as written.

    Canonical units: viscosity Pa·s, kinematic-viscosity and diffusivity m²/s, torque N·m, speed rpm, time s,
    length m, volume m³, mass kg, temperature °C, temperature-difference K, sensitivity %/K, percent and
    percent-of-full-scale %, density kg/m³, shear-rate 1/s, velocity m/s, angle deg, stress Pa, coefficient
    Pa·s·rpm, factor Pa·s/%, heat-capacity J/(kg·K), revolutions rev.
    """

    value: float
    text: str
    number: str
    """The number as written."""
    unit: str
    """The unit in its canonical spelling."""
    kind: str

    @property
    def decimals(self) -> int:
        """Count the decimals the author wrote: 0 for `20 rpm`, 2 for `0.50 Pa·s`, 4 for `1.5e-3 Pa·s`."""
        mantissa, _, exponent = self.number.lower().partition("e")
        return max(0, len(mantissa.partition(".")[2]) - int(exponent or 0))


@dataclass(frozen=True, slots=True)
class Toleranced:
    """A value with the amount it may be off, both ways; the tolerance is absolute and positive.

    The tolerance of a temperature has kind `temperature-difference` (K); any other has the kind of its value.
    Where the author wrote `± 2 %`, `tolerance.value` is that share of the value and `tolerance.text` is
    still `2 %`.
    """

    value: Quantity
    tolerance: Quantity
    text: str


class QuantityError(ValueError):
    """A text that is no quantity of the kind that was wanted.

    `problem` says what is wrong, `expected` what would be right, `suggestion` is a whole spelling that can
    be read (None where there is none), `offset` counts characters into the text, from 0.
    """

    def __init__(self, problem: str, expected: str, suggestion: str | None = None, offset: int = 0) -> None:
        super().__init__(problem)
        self.problem = problem
        self.expected = expected
        self.suggestion = suggestion
        self.offset = offset


def _scaled(number: str, numerator: int, denominator: int) -> float:
    """Multiply a number as written by a ratio, rounding once; OverflowError beyond what a float holds."""
    mantissa, _, exponent = number.replace("\u2212", "-").lower().partition("e")
    whole, _, fraction = mantissa.partition(".")
    power = int(exponent or 0) - len(fraction)
    if abs(power) > 400:
        if int(whole + fraction) == 0:
            return 0.0
        raise OverflowError
    top = int(whole + fraction) * numerator * 10 ** max(power, 0)
    value: float = top / (denominator * 10 ** max(-power, 0))
    if top and value == 0.0:
        raise OverflowError
    return value


def _wanted(kind: str) -> str:
    listed = of_kind(kind)
    return (
        f"Wanted is {TITLES[kind]}: a number and one of {', '.join(listed)}."
        if len(listed) > 1
        else (f"Wanted is {TITLES[kind]}: a number and {listed[0]}.")
    )


def _read(text: str, kind: str) -> Quantity | None:
    """Read a quantity; None where it cannot be read, and `_explain` says why."""
    trimmed = text.strip()
    plain = trimmed.translate(_PLAIN)
    found = _NUMBER.match(plain)
    unit = spelling(plain[found.end() :].strip()) if found else None
    if found is None or unit is None or found.end() > _MOST_DIGITS:
        return None
    of, numerator, denominator = UNITS[unit]
    if kind not in of:
        return None
    try:
        value = _scaled(found[0], numerator, denominator)
    except OverflowError:
        return None
    if value < (
        0 if kind not in _MAY_BE_NEGATIVE else _ABSOLUTE_ZERO if kind == "temperature" else -math.inf
    ):
        return None
    return Quantity(value, trimmed, trimmed[: found.end()], unit, kind)


def _readable(suggestion: str, kind: str) -> str | None:
    """Keep a suggestion only where it can be read."""
    return None if _read(suggestion, kind) is None else suggestion


def _number_trouble(text: str, kind: str) -> QuantityError | None:
    """Explain a number that is grouped, or has a comma, an apostrophe or digits of another script."""
    wanted = _wanted(kind)
    head = re.match(r"[+\-]?\d[\d.,'’_ ]*(?<=[\d.,])(?![\d/])", text)
    if head is None or not any(c.isdecimal() for c in head[0]):
        return None
    written, rest = head[0], text[head.end() :].strip()

    def say(problem: str, expected: str, number: str | None) -> QuantityError:
        suggestion = None if number is None else _readable(f"{number} {rest}".strip(), kind)
        return QuantityError(problem, expected, suggestion, 0)

    if not written.isascii() and any(c.isdecimal() and not c.isascii() for c in written):
        import unicodedata  # noqa: PLC0415 - only a bad text pays for it

        plain = "".join(str(unicodedata.decimal(c)) if c.isdecimal() else c for c in written)
        return say(f"{written} is not written in plain digits.", "Write the digits 0 to 9.", plain.strip())
    written = written.strip()
    sign = written[0] if written[0] in "+-" else ""
    body = written[len(sign) :]
    if "," in body:
        if re.fullmatch(r"[1-9]\d{0,2},\d{3}", body):
            grouped, decimal = sign + body.replace(",", ""), sign + body.replace(",", ".")
            return say(
                f"{written} can be read as {grouped} or as {decimal}.",
                f"Write {grouped} {rest} or {decimal} {rest}, whichever is meant: no commas in numbers."
                if rest
                else f"Write {grouped} or {decimal}, whichever is meant: no commas in numbers.",
                None,
            )
        if re.fullmatch(r"[1-9]\d{0,2}(,\d{3})+(\.\d+)?", body):
            plain = sign + body.replace(",", "")
            return say(f"{written} has commas between its digits.", "Write the number without them.", plain)
        if re.fullmatch(r"\d{1,3}(\.\d{3})*,\d+", body):
            plain = sign + body.replace(".", "").replace(",", ".")
            return say(f"{written} has a decimal comma.", "Write a decimal point.", plain)
        return say(f"{written} is no number: it has commas.", f"Write a decimal point. {wanted}", None)
    if re.fullmatch(r"\d+(?:[ '’_]\d+)+(?:\.\d+)?", body):
        plain = sign + re.sub(r"[ '’_]", "", body)
        if re.fullmatch(r"\d{1,3}(?:[ '’_]\d{3})+(?:\.\d+)?", body):
            return say(f"{written} has its digits in groups.", "Write the number without gaps.", plain)
        return say(f"{written} is more than one number.", wanted, None)
    if re.fullmatch(r"\d+\.", body):
        return say(
            f"{written} ends with its decimal point.",
            "Write a digit after it, or leave it out.",
            written[:-1],
        )
    if body.count(".") > 1:
        return say(f"{written} has more than one decimal point.", wanted, None)
    return None


def _no_number(text: str, kind: str) -> QuantityError:
    """Explain a text that does not begin with a number."""
    wanted = _wanted(kind)
    if re.match(r"[+\-]?(nan|inf|infinity)\b", text, re.IGNORECASE) or text[:1] == "∞":
        return QuantityError(f"{text} is no number that can be measured.", wanted)
    if re.match(r"[+\-]?\.\d", text):
        return QuantityError(
            f"{text} begins with its decimal point.",
            "Write a digit before the decimal point.",
            _readable(text.replace(".", "0.", 1), kind),
        )
    found = next(re.finditer(r"[+\-]?\d", text), None)
    if found is None:
        alone = spelling(text)
        if alone is not None:
            return QuantityError(f"{text} is a unit without a number.", wanted)
        return QuantityError(f"{text} holds no number.", wanted)
    before = text[: found.start()].strip()
    return QuantityError(
        f"The text begins with {before}, not with a number.",
        f"Write one plain value; what is meant by {before} belongs in a tolerance or in a note.",
        _readable(text[found.start() :], kind),
    )


def _unit_trouble(plain: str, number: str, written: str, kind: str) -> QuantityError:
    """Explain a unit that is not in the table."""
    wanted = _wanted(kind)
    offset = len(plain) - len(written)
    neat = tidy(written)
    for form in dict.fromkeys((written, neat, "µ" + neat[1:] if neat[:1] == "u" else neat)):
        if form in CONVERTED:
            right, factor, shift, reason = CONVERTED[form]
            value = sig(_scaled(number, 1, 1) * factor + shift, 4)
            return QuantityError(
                f"{written} is not read here: {reason}.", wanted, _readable(f"{value} {right}", kind), offset
            )
        if form in MISTAKES:
            right, reason = MISTAKES[form]
            if kind == "temperature-difference" and right == "°C":
                right = "K"
            return QuantityError(
                f"{written} is no unit here: {reason}.", wanted, _readable(f"{number} {right}", kind), offset
            )
    many = re.match(r"(?:-|–|—|\.\.+|…|to|bis|and|or|/)\s*[0-9.]+\s*(.*)", written)
    if many:
        return QuantityError(
            f"{plain} is a range or a pair.",
            "Write one value; a range is a value with its tolerance, or a lower and an upper limit.",
            None,
            offset,
        )
    powers = re.match(r"(?:[x×·*]\s*10\^?|\^)\s*([+\-\u2212]?[0-9⁰¹²³⁴-⁹⁻]+)\s*(.*)", written)
    if powers:
        return QuantityError(
            f"{plain} has a power of ten written out.",
            "Write the number plainly, or as 1.5e3.",
            None,
            offset,
        )
    for end in range(len(written) - 1, 0, -1):
        if spelling(written[:end]) is not None and not (
            written[end - 1].isalnum() and written[end].isalnum()
        ):
            kept, extra = written[:end].strip(), written[end:].strip()
            if extra:
                return QuantityError(
                    f"After {number} {kept} stands more text: {extra}.",
                    "Write the number and its unit alone; anything else belongs in a note.",
                    _readable(f"{number} {kept}", kind),
                    offset + end,
                )
    close = _closest(neat, kind)
    return QuantityError(
        f"{written} is not a unit that is read here.",
        wanted,
        None if close is None else _readable(f"{number} {close}", kind),
        offset,
    )


def _closest(written: str, kind: str) -> str | None:
    from difflib import get_close_matches  # noqa: PLC0415 - only a bad text pays for it

    known = {u.casefold(): u for u in of_kind(kind)}
    known |= {a.casefold(): u for a, u in ALSO.items() if u in of_kind(kind)}
    found = get_close_matches(written.casefold(), list(known), n=1, cutoff=0.5)
    return known[found[0]] if found else None


def _wrong_kind(number: str, unit: str, text: str, kind: str, offset: int) -> QuantityError:
    """Explain a right unit of another kind."""
    of = UNITS[unit][0]
    confused = next((CONFUSED[f, kind] for f in of if (f, kind) in CONFUSED), "")
    suggestion = None
    if kind == "viscosity" and unit in ("Pa", "mPa"):
        suggestion = f"{number} {unit}·s"
    elif kind == "stress" and unit in ("Pa·s", "mPa·s"):
        suggestion = f"{number} {unit[:-2]}"
    elif kind == "coefficient" and unit in ("Pa·s", "mPa·s"):
        suggestion = f"{number} {unit}·rpm"
    elif kind == "factor" and unit in ("Pa·s", "mPa·s"):
        suggestion = f"{number} {unit}/%"
    elif kind == "percent-of-full-scale" and unit == "%":
        suggestion = f"{number} % of full scale"
    elif kind == "percent" and unit == "% of full scale":
        suggestion = f"{number} %"
    elif kind == "sensitivity" and unit == "%":
        suggestion = f"{number} %/K"
    elif kind == "temperature" and unit == "K":
        # A number near room temperature on the absolute scale is one; a small one is meant in °C.
        kelvin = float(number.replace("\u2212", "-"))
        if kelvin >= 200:
            places = len(number.partition(".")[2])
            suggestion = f"{kelvin + _ABSOLUTE_ZERO:.{max(places, 1)}f} °C"
        else:
            suggestion = f"{number} °C"
    problem = f"{text} is {TITLES[of[0]]}, not {TITLES[kind]}."
    return QuantityError(
        f"{problem} {confused}".strip(), _wanted(kind), suggestion and _readable(suggestion, kind), offset
    )


def _explain(text: str, kind: str) -> QuantityError:
    """Say why a text is no quantity of the kind."""
    trimmed = text.strip()
    error = _explain_trimmed(trimmed, trimmed.translate(_PLAIN), kind)
    error.offset += text.index(trimmed)
    return error


def _explain_trimmed(trimmed: str, plain: str, kind: str) -> QuantityError:
    wanted = _wanted(kind)
    if not plain:
        return QuantityError("Nothing is written here.", wanted)
    if len(plain) > _LONGEST:
        return QuantityError(f"{plain[:20]}... is too long for a quantity.", wanted)
    found = _NUMBER.match(plain)
    written = plain[found.end() :].strip() if found else ""
    unit = spelling(written) if written else None
    if found is None or unit is None:
        return _unread(plain, found, written, kind)
    if found.end() > _MOST_DIGITS:
        return QuantityError(
            f"The number {found[0][:12]}... is too long.", f"Write at most {_MOST_DIGITS} digits."
        )
    if kind not in UNITS[unit][0]:
        return _wrong_kind(found[0], unit, trimmed, kind, len(plain) - len(written))
    try:
        value = _scaled(found[0], 1, 1)
    except OverflowError:
        value = math.nan
    if value < 0 and kind == "temperature":
        return QuantityError(f"{trimmed} is below absolute zero.", wanted)
    if value < 0:
        problem = f"{trimmed} is negative; {TITLES[kind]} is not."
        return QuantityError(problem, wanted, _readable(plain.lstrip("-"), kind))
    return QuantityError(f"{trimmed} is beyond anything that can be measured.", wanted)


def _unread(plain: str, found: re.Match[str] | None, written: str, kind: str) -> QuantityError:
    """Explain a text of which the number or the unit cannot be read."""
    wanted = _wanted(kind)
    tolerance = _TOLERANCE_LIKE.search(plain)
    if tolerance:
        value = plain[: tolerance.start()].strip()
        expected = f"Write the value alone. {wanted}"
        return QuantityError(
            "No tolerance is read here.", expected, _readable(value, kind), tolerance.start()
        )
    number_trouble = _number_trouble(plain, kind)
    if number_trouble is not None:
        return number_trouble
    if found is None:
        return _no_number(plain, kind)
    if written:
        return _unit_trouble(plain, found[0], written, kind)
    usual = of_kind(kind)
    suggestion = _readable(f"{plain} {usual[0]}", kind) if len(usual) == 1 else None
    return QuantityError(f"{plain} has no unit.", wanted, suggestion, len(plain))


@lru_cache(maxsize=16_384)
def parse(text: str, kind: str) -> Quantity:
    """Read a quantity of a kind, such as `("8.0 Pa·s", "viscosity")`.

    `kind` may name alternatives, `viscosity|percent`: the first that can be read is taken, and the error is
    that of the first. Raises QuantityError for a text that cannot be read, KeyError for no such kind.
    """
    alternatives = kind.split("|")
    for one in alternatives:
        if one not in TITLES:
            raise KeyError(one)
        quantity = _read(text, one)
        if quantity is not None:
            return quantity
    raise _explain(text, alternatives[0])


@lru_cache(maxsize=4096)
def parse_toleranced(text: str, kind: str) -> Toleranced:
    """Read a value with its tolerance, such as `("23.0 °C ± 0.5 °C", "temperature")`.

    The tolerance carries its own unit: one of the kind, K or °C for a temperature, or % for a share of the
    value. Raises QuantityError for a text that cannot be read, KeyError for no such kind.
    """
    if kind not in TITLES:
        raise KeyError(kind)
    toleranced = _read_toleranced(text, kind)
    if toleranced is None:
        raise _explain_toleranced(text, kind)
    return toleranced


def _difference(kind: str) -> str:
    """Give the kind of the tolerance of a value of this kind."""
    return "temperature-difference" if kind == "temperature" else kind


def _read_toleranced(text: str, kind: str) -> Toleranced | None:
    sides = _TOLERANCE.split(text)
    if len(sides) != 2:
        return None
    value = _read(sides[0], kind)
    if value is None:
        return None
    tolerance = _read(sides[1], _difference(kind)) or _share(value, sides[1])
    if tolerance is None or tolerance.value <= 0:
        return None
    return Toleranced(value, tolerance, text.strip())


def _share(value: Quantity, text: str) -> Quantity | None:
    """Read a tolerance in % of its value; None where there is no such thing."""
    share = _read(text, "percent")
    if share is None or value.kind in ("temperature", "temperature-difference"):
        return None
    absolute = value.value * share.value / 100
    number = sig(express(absolute, value.unit), 6)
    number = number.rstrip("0").rstrip(".") if "." in number else number
    return Quantity(absolute, share.text, number, value.unit, value.kind)


def _readable_toleranced(left: str, right: str, kind: str) -> str | None:
    suggestion = f"{left} ± {right}"
    return None if _read_toleranced(suggestion, kind) is None else suggestion


def _mended(text: str, kind: str) -> str:
    """Give the text itself, or the spelling suggested in its stead."""
    return text if _read(text, kind) else _explain(text, kind).suggestion or text


def _explain_toleranced(text: str, kind: str) -> QuantityError:
    """Say why a text is no value with a tolerance."""
    trimmed = text.strip()
    start = text.index(trimmed)
    expected = f"Write value ± tolerance, each with its unit. {_wanted(kind)}"
    if len(trimmed) > _LONGEST:
        return QuantityError(f"{trimmed[:20]}... is too long for a quantity.", expected, None, start)
    signs = list(_TOLERANCE.finditer(trimmed))
    if len(signs) != 1:
        odd = _TOLERANCE_LIKE.search(trimmed.translate(_PLAIN))
        if odd is None:
            if _read(text, kind) is None:
                return _explain(text, kind)
            return QuantityError(f"{trimmed} has no tolerance.", expected, None, start + len(trimmed))
        sides = re.split(r"\+ ?[-\u2212]", trimmed)
        suggestion = (
            _readable_toleranced(sides[0].strip(), sides[1].strip(), kind) if len(sides) == 2 else None
        )
        expected = f"There is one tolerance, the same both ways. {expected}"
        return QuantityError(
            f"The tolerance of {trimmed} cannot be read.", expected, suggestion, start + odd.start()
        )
    left, right = trimmed[: signs[0].start()].strip(), trimmed[signs[0].end() :].strip()
    right_at = start + len(trimmed) - len(right)
    if not left or not right:
        problem = f"Nothing stands {'after' if left else 'before'} ±."
        return QuantityError(problem, expected, None, right_at if left else start)
    bracketed = re.fullmatch(r"([^()]+)\)\s*(.+)", right)
    if left[0] == "(" and bracketed:
        number, other, unit = left[1:].strip(), bracketed[1].strip(), bracketed[2]
        suggestion = _readable_toleranced(f"{number} {unit}", f"{other} {unit}", kind)
        return QuantityError("The unit stands behind a bracket.", expected, suggestion, start)
    value = _read(left, kind)
    if value is None:
        error = _explain(left, kind)
        tail = _NUMBER.match(right.translate(_PLAIN))
        unit = right[tail.end() :].strip() if tail else ""
        # A value without a unit was meant in that of its tolerance.
        bare = unit and _NUMBER.fullmatch(left.translate(_PLAIN))
        mended = f"{left} {unit}" if bare else error.suggestion or left
        meant = _read(mended, kind)
        if meant is not None and _NUMBER.fullmatch(right.translate(_PLAIN)):
            right = f"{right} {meant.unit}"
        suggestion = _readable_toleranced(mended, _mended(right, _difference(kind)), kind)
        return QuantityError(error.problem, expected, suggestion, start + error.offset)
    if _NUMBER.fullmatch(right.translate(_PLAIN)):
        suggestion = _readable_toleranced(left, f"{right} {value.unit}", kind)
        problem = f"The tolerance {right} has no unit."
        return QuantityError(problem, expected, suggestion, right_at + len(right))
    tolerance = _read(right, _difference(kind)) or _share(value, right)
    if tolerance is not None:
        return QuantityError(f"The tolerance {right} is not greater than nothing.", expected, None, right_at)
    error = _explain(right, _difference(kind))
    suggestion = _readable_toleranced(left, error.suggestion or right, kind)
    return QuantityError(error.problem, error.expected, suggestion, right_at + error.offset)


def parse_any(text: str) -> Quantity:
    """Read a quantity of whatever kind its unit tells; QuantityError where it is none."""
    plain = text.strip().translate(_PLAIN)
    found = _NUMBER.match(plain)
    unit = spelling(plain[found.end() :].strip()) if found else None
    if unit is None:
        expected = "Write a number and a unit, such as 8.0 Pa·s, 20 rpm or 23 °C."
        raise QuantityError(f"{text} is not a number with a unit.", expected)
    return parse(text, UNITS[unit][0][0])


@cache
def _in_prose() -> re.Pattern[str]:
    loose = {"µ": "[µμu]", "·": r"(?: ?[·⋅*] ?|\.|[ \u00a0\u202f])", "²": r"(?:²|\^?2)", "³": r"(?:³|\^?3)"}
    loose |= {"⁻": r"(?:⁻|\^-)", "¹": "[¹1]", " ": r"\s+"}
    spellings = sorted([*UNITS, *ALSO], key=len, reverse=True)
    unit = "|".join("".join(loose.get(c) or re.escape(c) for c in s) for s in spellings)
    # A sign belongs to the number only where no word or bracket stands before it: 10-20 rpm is a range.
    number = rf"(?:(?<![\w)])[+\-\u2212])?{_DIGITS}"
    return re.compile(rf"(?<![\w.,]){number}[ {SPACES}]?(?:{unit})(?![\w²³⁻°]|[/·⋅][A-Za-z%(µ])")


def find_all(prose: str) -> list[tuple[int, int, Quantity]]:
    """Find the quantities in free text: start, end (exclusive) and the quantity, in reading order."""
    found = []
    for match in _in_prose().finditer(prose):
        try:
            found.append((*match.span(), parse_any(match[0])))
        except QuantityError:
            continue
    return found


def express(value: float, unit: str) -> float:
    """Give a value in the canonical unit of its kind in another unit: 0.5 (Pa·s) in mPa·s is 500.

    KeyError for a unit that is not read, ValueError for a value that is not finite.
    """
    canonical = spelling(unit)
    if canonical is None:
        raise KeyError(unit)
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be expressed in {unit}")
    _, numerator, denominator = UNITS[canonical]
    written = repr(float(value))
    power = _POWERS.get((numerator, denominator))
    if power is not None and "e" not in written:
        # The same number as `_scaled` gives: a decimal is read and rounded once.
        return float(written + power)
    return _scaled(written, denominator, numerator)


def sig(value: float, digits: int) -> str:
    """Write a number with so many significant digits, never with an exponent and never as -0."""
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be written")
    if value == 0:
        return "0"
    mantissa, _, exponent = f"{value:.{digits - 1}e}".partition("e")
    places = digits - 1 - int(exponent)
    if places >= 0:
        return f"{value:.{places}f}"
    return mantissa.replace(".", "") + "0" * -places


def brief(value: float, digits: int = 3) -> str:
    """Write a number with at most so many significant digits, without zeros that say nothing: 5, not 5.00."""
    text = sig(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text


def fixed(value: float, decimals: int) -> str:
    """Write a number with so many decimals, never as -0."""
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be written")
    text = f"{value:.{decimals}f}"
    return text.lstrip("-") if not text.strip("-0.") else text


def show(value: float, kind: str, unit: str, *, digits: int = 3, decimals: int | None = None) -> str:
    """Write a value (canonical unit of its kind) in a unit of that kind, unit included.

    `decimals` fixes the decimals; else `digits` significant digits are written. KeyError where the unit is
    not of the kind.
    """
    canonical = spelling(unit)
    if canonical is None or kind not in UNITS[canonical][0]:
        raise KeyError(unit)
    number = express(value, canonical)
    return f"{sig(number, digits) if decimals is None else fixed(number, decimals)} {unit}"


def grouped(number: str) -> str:
    """Set the digits of a number from 10 000 up in groups with narrow no-break spaces, for paper."""
    sign = number[0] if number[:1] in ("-", "\u2212") else ""
    whole, point, fraction = number[len(sign) :].partition(".")
    if len(whole) > 4:
        # By signs, not by value: a text may hold a number longer than Python turns into an integer.
        first = len(whole) % 3 or 3
        whole = "\u202f".join([whole[:first], *(whole[i : i + 3] for i in range(first, len(whole), 3))])
    return f"{sign}{whole}{point}{fraction}"


def signed(value: float, digits: int = 3) -> str:
    """Write a number with its sign, a true minus included; nothing before 0."""
    text = brief(abs(value), digits)
    return text if text == "0" else f"{'+' if value > 0 else chr(0x2212)}{text}"


def counted(count: int, word: str) -> str:
    """Write a number with its word: 1 result, 2 results."""
    plural = f"{word[:-1]}ies" if word.endswith("y") and word[-2] not in "aeiou" else f"{word}s"
    return f"{count} {word if count == 1 else plural}"
