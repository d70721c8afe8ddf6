"""Names of people: when two of them may be one person's.

A name proves nothing. It is compared so that nobody approves, releases or assesses their own work by writing
themselves otherwise: in capitals, with the family name first, without an accent, or with a letter of another
alphabet that looks the same.
"""

import unicodedata

_OTHER = "АВЕЗІЈКМНОРСЅТУХаеіјкорсѕухһԁԛԝӏΑΒΕΖΗΙΚΜΝΟΡΤΥΧαικνορυχøØłŁđĐı01"
_LATIN = "ABE3IJKMHOPCSTYXaeijkopcsyxhdqwlABEZHIKMNOPTYXaikvopuxoOlLdDiol"
_LOOKS_LIKE = str.maketrans(_OTHER, _LATIN)
"""Letters that nobody tells apart in print, by look and not by sound: common practice."""


def known_as(name: str) -> str:
    """Give what a name is told apart by: its letters and digits, capitals aside."""
    return letters(unicodedata.normalize("NFKC", name)) or name.strip()


def alike(one: str, other: str) -> bool:
    """Whether two names may be one person's: `A. Osei`, `Osei, A.`, and with a letter that only looks like an A.

    Capitals, accents and marks between the letters say nothing, nor with which word the name begins.
    """
    a, b = _bare(one), _bare(other)
    return len(a) == len(b) and a in b + b


def letters(name: str) -> str:
    """Give the letters and digits of a name, capitals aside."""
    return "".join(c for c in name.casefold() if c.isalnum())


def _bare(name: str) -> str:
    apart = unicodedata.normalize("NFKD", name).translate(_LOOKS_LIKE)
    return letters("".join(c for c in apart if not unicodedata.combining(c))) or name.strip()
