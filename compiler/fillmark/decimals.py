"""Which decimal sign people write. `1,234` is 1.234 to one reader and 1234 to the other, a factor of 1000 apart."""

import re
from collections.abc import Iterable

NUMBER = re.compile(r"[+-]?\d+(?:(?P<sign>[.,])(?P<decimals>\d+))?(?:[eE][+-]?\d{1,2})?", re.ASCII)
"""A number with a decimal point or a decimal comma, and no grouping of digits."""

_THREE = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", re.ASCII)
_PLAIN = str.maketrans({"\u2212": "-", **dict.fromkeys("\u00a0\u202f\u2009\u2007\t", " ")})


def bare(text: str) -> str:
    """Write minus signs and spaces plainly, and take off the spaces at both ends."""
    return text.translate(_PLAIN).strip()


def three_behind(text: str) -> bool:
    """Tell whether a number could have its digits in groups: a sign and three digits behind it."""
    return _THREE.fullmatch(text) is not None


def decimal_sign(texts: Iterable[str]) -> str:
    """Find which decimal sign texts show beyond doubt: `,`, `.`, `both`, or nothing where they show none."""
    found = {sign for text in texts if (sign := shown_by(text))}
    return "both" if len(found) == 2 else next(iter(found), "")


def shown_by(text: str) -> str:
    """Give the decimal sign that one text shows beyond doubt; nothing where it shows none."""
    match = NUMBER.match(bare(text).lstrip("<>\u2264\u2265 "))
    return match["sign"] if match is not None and match["sign"] and not three_behind(match[0]) else ""


def doubtful(number: str, sign: str) -> bool:
    """Tell whether a number may be read in two ways, where `sign` is what `decimal_sign` says of all.

    A point with three digits is taken for a decimal point unless commas are written elsewhere; a comma needs
    another number that shows it.
    """
    if not three_behind(number):
        return False
    return sign != "," if "," in number else sign not in ("", ".")
