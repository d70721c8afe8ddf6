"""What people type into a field, understood or refused: numbers, days, moments and clock times.

A number has a decimal point or a decimal comma and no grouping of digits. `1,234` would be 1.234 to one reader
and 1234 to the other, a factor of 1000, so it is refused unless the record itself shows what its comma means.
Days are written as ISO 8601 has it, for 03/04 is April to one reader and March to the other.
"""

import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from unicodedata import category

from fillmark import decimals
from fillmark.quantities import QuantityError, parse, parse_any
from fillmark.units import UNITS

LONGEST = 60
"""Letters of a number or a time with its unit; more is no number."""

FIRST_YEAR, LAST_YEAR = 1970, 2199
"""A day outside them is a slip of the pen."""

_GROUPED = re.compile(r"[+-]?\d{1,3}(?:[.,' \u2019_]\d{3})+(?:[.,]\d+)?", re.ASCII)
_DAY = re.compile(r"(\d{4})-(\d{2})-(\d{2})", re.ASCII)
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?", re.ASCII)
_MOMENT = re.compile(r"(\S+?)[ T]+(\S+)")
_SLASHED = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{2}|\d{4})", re.ASCII)
_SERIAL = re.compile(r"[34567]\d{4}(?:[.,]\d+)?", re.ASCII)
_FIRST_SERIAL = datetime(1899, 12, 30)  # noqa: DTZ001 - the day 0 of spreadsheets, in no zone
_ABSENT = frozenset(("na", "not applicable", "-", "\u2013", "\u2014"))
_ABSENT_BY = re.compile(r"n(?:/a|\.a\.)(?:[ ,;]+[^\d]{1,20})?", re.IGNORECASE)
"""The sheet asks for n/a and initials: `n/a AO`, `n/a, A. Osei`."""
_TWO = re.compile(r"[+-]?\d[\d.,]*(?:\s*(?:[/;\u2013-]|\u00b1|\+/-|to)\s*|\s+)\d[\d.,]*")
_GAP = re.compile(r"[+-]?\d+(?:\s+[.,]\s*|[.,]\s+)\d+")
_ABOUT = re.compile(r"(?:[~\u2248\u223c]|ca\.?|c\.|approx\.?|about|circa)\s*\d", re.IGNORECASE)


class Refused(ValueError):  # noqa: N818 - it is said of an entry
    """An entry that cannot be understood; `ways` are ways out."""

    def __init__(self, problem: str, *ways: str) -> None:
        super().__init__(problem)
        self.problem = problem
        self.ways = ways


@dataclass(frozen=True, slots=True)
class Number:
    """A number as understood, in the unit of its field."""

    value: Decimal
    bound: str = ""
    """`<` or `>` where a bound was written."""
    half: Decimal = Decimal(0)
    """Half a unit of the last digit written."""
    how: str = ""
    """How it came from what was typed, where that is not plain."""


def absent(text: str) -> bool:
    """Tell whether an entry says that nothing applies: n/a, with or without initials, or a dash."""
    bare = decimals.bare(text)
    return bare.casefold() in _ABSENT or _ABSENT_BY.fullmatch(bare) is not None


def number(text: str, *, unit: str, written_unit: str = "", comma: str = "", bounds: bool = False) -> Number:
    """Understand a number of a field whose unit is `unit`; Refused where it cannot be.

    `written_unit` is the unit written beside it, `comma` what `decimal_sign` says of the record, `bounds` whether
    `<` and `>` may stand before it.
    """
    bare = decimals.bare(text)
    if len(bare) > LONGEST:
        raise Refused(
            f"{bare[:20]}... is too long for a number.", "Write the number alone.", "Put words under remarks."
        )
    mark = ""
    if bare[:1] in ("<", ">", "\u2264", "\u2265"):
        if not bounds:
            raise Refused(
                f"{bare} is a bound, and this field wants what was read.",
                "Write the number that was read, also where it is too low or too high.",
                "Write the bound under display, as the sheet prints it.",
            )
        if bare[0] in "\u2264\u2265":
            raise Refused(
                f"{bare}: a bound is written with < or >.",
                f"Write {'<' if bare[0] == chr(0x2264) else '>'} as printed.",
                "See the sheet for what to write exactly.",
            )
        mark, bare = bare[0], bare[1:].strip()
    match = decimals.NUMBER.match(bare)
    rest = "" if match is None else bare[match.end() :].strip()
    if match is None or (rest and not _is_unit(rest)):
        raise _no_number(bare, mark, "" if match is None else rest, unit, bounds=bounds)
    digits, how = match[0], []
    # The unit of the field itself is printed beside it: another one written with the number is meant.
    if rest and written_unit.strip() not in ("", unit, rest):
        raise Refused(
            f"{bare} has the unit {rest}, and {written_unit.strip()} stands beside it.",
            "Write the unit once.",
            "Or take out the wrong one, as a correction.",
        )
    if match["sign"]:
        _refuse_doubtful(digits, match["sign"], comma)
        if match["sign"] == ",":
            digits = digits.replace(",", ".")
            why = f": the record writes decimal commas elsewhere, so {match[0]} is no group of digits"
            how.append(f"decimal comma{why if decimals.three_behind(match[0]) else ''}")
    value = Decimal(digits)
    exponent = value.as_tuple().exponent
    half = Decimal(1).scaleb(exponent) / 2 if isinstance(exponent, int) else Decimal(0)
    factor = _to(rest or written_unit.strip(), unit, bare)
    if factor != 1:
        how.append(f"{digits} {rest or written_unit.strip()} is {plain(value * factor)} {unit}")
    return Number(value * factor, mark, half * factor, "; ".join(how))


def _refuse_doubtful(digits: str, sign: str, comma: str) -> None:
    if not decimals.doubtful(digits, comma):
        return
    whole = digits.replace(sign, "")
    one = digits.replace(",", ".")
    other = (
        "decimal commas"
        if comma == ","
        else "both signs"
        if comma == "both"
        else "no decimal comma elsewhere"
    )
    raise Refused(
        f"{digits} can be read as {one} or as {whole}, a factor of 1000 apart; the record writes {other}.",
        f"Write {one} or {whole}, whichever is meant, with a decimal point and no grouping.",
        "Correct the entry: the old one stays readable, with initials, day and reason code.",
    )


def _is_unit(text: str) -> bool:
    try:
        parse_any(f"1 {text}")
    except QuantityError:
        return False
    return True


def _to(written: str, unit: str, text: str) -> Decimal:
    """Give what a number in the unit written is multiplied by to be in the unit of the field."""
    if not written or written == unit or not unit:
        return Decimal(1)
    try:
        given = parse_any(f"1 {written}")
        wanted = parse_any(f"1 {unit}")
    except QuantityError as error:
        raise Refused(
            f"{written} is no unit that is read here.",
            f"Write it in {unit}.",
            "Leave the unit out: the sheet prints it.",
        ) from error
    kinds, numerator, denominator = UNITS[given.unit]
    if wanted.kind not in kinds:
        raise Refused(
            f"{text} is in {written}; this field is in {unit}.",
            f"Write the value in {unit}.",
            "If it belongs into another field, correct both.",
        )
    _, top, bottom = UNITS[wanted.unit]
    return Decimal(numerator * bottom) / Decimal(denominator * top)


def _no_number(text: str, mark: str, rest: str, unit: str, *, bounds: bool) -> Refused:
    """Say why a text is no number; `mark` stood before it, `rest` is what follows the number it begins with."""
    written = mark + text
    unseen = sorted({f"U+{ord(c):04X}" for c in text if category(c) in ("Cc", "Cf")})
    if unseen:
        return Refused(
            f"It holds a sign that cannot be seen ({', '.join(unseen)}): "
            f"{''.join(c for c in text if c.isprintable())} is all that shows.",
            "Type it anew by hand; a copy brings the sign along.",
            "Correct the entry: the old one stays readable.",
        )
    if any(c.isdecimal() and not c.isascii() for c in text):
        return Refused(
            f"{written} is not written in plain digits.",
            "Write the digits 0 to 9.",
            "Type it anew from the sheet.",
        )
    if re.fullmatch(r"[+-]?[.,]\d+", text):
        return Refused(
            f"{written} begins with its decimal sign.",
            f"Write {'-' * text.startswith('-')}0{text.lstrip('+-').replace(',', '.')}.",
            "A lone point is easily lost, and the value is then ten or a hundred times too high.",
        )
    if re.fullmatch(r"[+-]?\d+[.,]", text):
        return Refused(
            f"{written} ends with its decimal sign.",
            f"Write {text[:-1]}, or the digit that is missing.",
            "See the sheet.",
        )
    if _GROUPED.fullmatch(text):
        return Refused(
            f"{written} has its digits in groups.",
            "Write the digits without gaps, points or commas between them.",
            "Correct the entry: the old one stays readable.",
        )
    if _GAP.fullmatch(text):
        return Refused(
            f"{written} has a gap at its decimal sign, so that it may be one number or two.",
            f"Write {''.join(text.split()).replace(',', '.')} if it is one.",
            "Write one number in one field, and others under remarks.",
        )
    if _TWO.match(text):
        return Refused(
            f"{written} is more than one number.",
            "Write the one number that the sheet asks for; no mean is made here.",
            "Put the others under remarks.",
        )
    if re.match("[\u2010-\u2015]\\s*\\d", text):
        return Refused(
            f"{written} begins with a dash that is no minus sign.",
            f"Write -{text[1:].strip()} if it is below zero.",
            "Leave the dash out if it means nothing.",
        )
    if _ABOUT.match(text):
        return Refused(
            f"{written} is an estimate, and no reading.",
            "Write the number that was read, without a sign before it.",
            "Where it would not stand still, write what the sheet says for that, and say so under remarks.",
        )
    if rest and not any(c.isdigit() for c in rest):
        why, ways = _no_unit(rest, text.removesuffix(rest).strip(), unit)
        return Refused(f"{written}: {why}", *ways)
    if re.match(r"[+-]?\d", text):
        return Refused(
            f"{written} is no number that is read here.",
            "Write a number such as 48.6.",
            "Put words under remarks.",
        )
    if not text:
        return Refused(
            f"{mark} has no number behind it.", "Write the bound as the sheet prints it.", "See the sheet."
        )
    return Refused(
        f"{written} is no number.",
        "Write the number that was read"
        + ("; where it was out of range, the bound as the sheet prints it, with < or >." if bounds else "."),
        "Write n/a where there is none, with initials, and what was seen under remarks.",
    )


def _no_unit(rest: str, digits: str, unit: str) -> tuple[str, tuple[str, str]]:
    """Say what is wrong with what follows a number, and two ways out."""
    alone, words = "Write the number alone.", "Put words and marks under remarks."
    if not any(c.isalpha() for c in rest):
        return f"{rest} behind a number says nothing that is read here.", (alone, words)
    if unit not in UNITS:
        return f"{rest} is no unit that is read here.", (alone, words)
    try:
        parse(f"{digits.replace(',', '.')} {rest}", UNITS[unit][0][0])
    except QuantityError as error:
        if error.suggestion is not None:
            return error.problem, (f"Write {error.suggestion}, if that is meant.", words)
    return f"{rest} is no unit that is read here.", (f"Write the number in {unit}.", words)


def plain(value: Decimal, digits: int = 12) -> str:
    """Write a number without exponent, with at most so many significant digits and no zeros that say nothing."""
    if value == 0:
        return "0"
    rounded = value
    if len(value.as_tuple().digits) > digits:
        rounded = value.quantize(Decimal(1).scaleb(value.adjusted() - digits + 1))
    text = f"{rounded:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def day(text: str) -> date:
    """Understand a day, YYYY-MM-DD; Refused for any other spelling."""
    bare = decimals.bare(text)
    both = _MOMENT.fullmatch(bare)
    if both is not None and both[2] in ("00:00", "00:00:00"):
        bare = both[1]
    match = _DAY.fullmatch(bare)
    if match is None:
        raise _no_day(bare, "YYYY-MM-DD, such as 2026-12-02")
    if not FIRST_YEAR <= int(match[1]) <= LAST_YEAR:
        raise Refused(
            f"{bare} is in no year that a sample was measured in.",
            f"Write a year from {FIRST_YEAR} to {LAST_YEAR}.",
            "Correct the entry: the old one stays readable.",
        )
    try:
        return date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError as error:
        raise Refused(f"There is no day {bare}.", "Write the day as YYYY-MM-DD.", "See the sheet.") from error


def clock(text: str) -> time:
    """Understand a time of day, HH:MM or HH:MM:SS; Refused for any other spelling."""
    bare = decimals.bare(text)
    match = _CLOCK.fullmatch(bare)
    if match is None:
        raise _no_day(bare, "HH:MM:SS, such as 14:05:00")
    try:
        return time(int(match[1]), int(match[2]), int(match[3] or 0))
    except ValueError as error:
        raise Refused(
            f"There is no time {bare}.", "Write HH:MM:SS, from 00:00:00 to 23:59:59.", "See the sheet."
        ) from error


def moment(text: str) -> datetime:
    """Understand a day with its time, YYYY-MM-DD HH:MM or with seconds; Refused for any other spelling."""
    bare = decimals.bare(text)
    both = _MOMENT.fullmatch(bare)
    if both is None:
        if _DAY.fullmatch(bare):
            raise Refused(
                f"{bare} has no time of day.", f"Write both, such as {bare} 14:05.", "See the sheet."
            )
        raise _no_day(bare, "YYYY-MM-DD HH:MM, such as 2026-12-02 14:05")
    if re.search(r"(Z|[+-]\d{2}:?\d{2})$", both[2]):
        raise Refused(
            f"{bare} names a time zone.",
            "Write the time the laboratory's clock showed, without a zone.",
            "All times of a record are of one clock.",
        )
    return datetime.combine(day(both[1]), clock(both[2]))


def _no_day(text: str, wanted: str) -> Refused:
    ways = (f"Write {wanted}.", "Correct the entry: the old one stays readable.")
    shown = text[:40]
    serial = _SERIAL.fullmatch(text)
    if serial is not None:
        meant = _FIRST_SERIAL + timedelta(days=float(text.replace(",", ".")))
        return Refused(
            f"{shown} is the number a spreadsheet keeps for a day (it might be {meant:%Y-%m-%d %H:%M}); as "
            "typed it is no "
            "day.",
            *ways,
        )
    parts = _SLASHED.fullmatch(text.partition(" ")[0])
    if parts is not None and int(parts[1]) <= 12 and int(parts[2]) <= 12 and parts[1] != parts[2]:
        return Refused(f"{shown} can be read with the day first or the month first.", *ways)
    return Refused(f"{shown} is not written as the sheet has days and times.", *ways)
