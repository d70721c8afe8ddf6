"""The units of the method language: their scales, how people spell them, and what they are mistaken for.

Scales are those of the SI Brochure (9th edition) and of the CGS units it lists; a month is a twelfth of a
year of 365.25 days.
"""

import math
import re
from functools import cache, lru_cache

# canonical spelling -> (kinds, numerator, denominator): canonical value = number * numerator / denominator.
# The first spelling of a kind is the one suggested where a unit is missing.
UNITS: dict[str, tuple[tuple[str, ...], int, int]] = {
    "Pa·s": (("viscosity",), 1, 1),
    "mPa·s": (("viscosity",), 1, 1000),
    "cP": (("viscosity",), 1, 1000),
    "P": (("viscosity",), 1, 10),
    "mm²/s": (("kinematic-viscosity", "diffusivity"), 1, 10**6),
    "m²/s": (("kinematic-viscosity", "diffusivity"), 1, 1),
    "cSt": (("kinematic-viscosity",), 1, 10**6),
    "µN·m": (("torque",), 1, 10**6),
    "mN·m": (("torque",), 1, 1000),
    "N·m": (("torque",), 1, 1),
    "dyn·cm": (("torque",), 1, 10**7),
    "rpm": (("speed",), 1, 1),
    "s": (("time",), 1, 1),
    "min": (("time",), 60, 1),
    "h": (("time",), 3600, 1),
    "d": (("time",), 86_400, 1),
    "weeks": (("time",), 604_800, 1),
    "months": (("time",), 2_629_800, 1),
    "years": (("time",), 31_557_600, 1),
    "mm": (("length",), 1, 1000),
    "cm": (("length",), 1, 100),
    "µm": (("length",), 1, 10**6),
    "nm": (("length",), 1, 10**9),
    "m": (("length",), 1, 1),
    "mL": (("volume",), 1, 10**6),
    "L": (("volume",), 1, 1000),
    "µL": (("volume",), 1, 10**9),
    "cm³": (("volume",), 1, 10**6),
    "m³": (("volume",), 1, 1),
    "g": (("mass",), 1, 1000),
    "kg": (("mass",), 1, 1),
    "mg": (("mass",), 1, 10**6),
    "°C": (("temperature", "temperature-difference"), 1, 1),
    "K": (("temperature-difference",), 1, 1),
    "%/K": (("sensitivity",), 1, 1),
    "%": (("percent",), 1, 1),
    "% of full scale": (("percent-of-full-scale",), 1, 1),
    "g/mL": (("density",), 1000, 1),
    "g/cm³": (("density",), 1000, 1),
    "kg/m³": (("density",), 1, 1),
    "kg/L": (("density",), 1000, 1),
    "1/s": (("shear-rate",), 1, 1),
    "mm/min": (("velocity",), 1, 60_000),
    "mm/s": (("velocity",), 1, 1000),
    "m/s": (("velocity",), 1, 1),
    "deg": (("angle",), 1, 1),
    "Pa": (("stress",), 1, 1),
    "mPa": (("stress",), 1, 1000),
    "Pa·s·rpm": (("coefficient",), 1, 1),
    "mPa·s·rpm": (("coefficient",), 1, 1000),
    "mPa·s/%": (("factor",), 1, 1000),
    "Pa·s/%": (("factor",), 1, 1),
    "kJ/(kg·K)": (("heat-capacity",), 1000, 1),
    "J/(kg·K)": (("heat-capacity",), 1, 1),
    "J/(g·K)": (("heat-capacity",), 1000, 1),
    "rev": (("revolutions",), 1, 1),
}

# Other spellings that are just as right. Dots, micro signs, powers and spaces are dealt with by `_tidy`.
ALSO: dict[str, str] = {
    "degC": "°C",
    "ml": "mL",
    "l": "L",
    "µl": "µL",
    "r/min": "rpm",
    "rev/min": "rpm",
    "1/min": "rpm",
    "min⁻¹": "rpm",
    "s⁻¹": "1/s",
    "°": "deg",
    "%/°C": "%/K",
    "%/degC": "%/K",
    "g/ml": "g/mL",
    "week": "weeks",
    "month": "months",
    "year": "years",
    "revolutions": "rev",
}

# Spellings that are refused, with the right one and the reason.
MISTAKES: dict[str, tuple[str, str]] = {
    "MPa·s": ("mPa·s", "M is mega: MPa·s is a thousand million times mPa·s"),
    "MPas": ("mPa·s", "M is mega, and the dot is missing"),
    "mPas": ("mPa·s", "without the dot it is not pascal times second"),
    "Pas": ("Pa·s", "without the dot it is not pascal times second"),
    "mPa-s": ("mPa·s", "a dash is no multiplication sign"),
    "Pa-s": ("Pa·s", "a dash is no multiplication sign"),
    "Pa/s": ("Pa·s", "a viscosity is pascal times second, not pascal per second"),
    "mPa/s": ("mPa·s", "a viscosity is millipascal times second, not per second"),
    "cps": ("mPa·s", "it also reads as cycles per second; 1 cP = 1 mPa·s"),
    "cPs": ("mPa·s", "it is no spelling of the centipoise; 1 cP = 1 mPa·s"),
    "CPS": ("mPa·s", "it also reads as cycles per second; 1 cP = 1 mPa·s"),
    "cp": ("mPa·s", "the poise has a capital P; 1 cP = 1 mPa·s"),
    "CP": ("mPa·s", "C is no prefix; 1 cP = 1 mPa·s"),
    "cpoise": ("mPa·s", "1 cP = 1 mPa·s"),
    "cPoise": ("mPa·s", "1 cP = 1 mPa·s"),
    "centipoise": ("mPa·s", "1 cP = 1 mPa·s"),
    "poise": ("P", "the symbol is P"),
    "Poise": ("P", "the symbol is P"),
    "C": ("°C", "C alone is the coulomb"),
    "c": ("°C", "the degree Celsius is written °C or degC"),
    "Celsius": ("°C", "the degree Celsius is written °C or degC"),
    "celsius": ("°C", "the degree Celsius is written °C or degC"),
    "°Celsius": ("°C", "the degree Celsius is written °C or degC"),
    "°c": ("°C", "the degree Celsius is written °C or degC"),
    "ºC": ("°C", "the sign before C is an ordinal mark, not the degree sign"),
    "˚C": ("°C", "the sign before C is a ring, not the degree sign"),
    "degree C": ("°C", "the degree Celsius is written °C or degC"),
    "degrees C": ("°C", "the degree Celsius is written °C or degC"),
    "degrees Celsius": ("°C", "the degree Celsius is written °C or degC"),
    "deg C": ("°C", "the degree Celsius is written °C or degC"),
    "° C": ("°C", "no space belongs between ° and C"),
    "degK": ("K", "the kelvin has no degree sign"),
    "°K": ("K", "the kelvin has no degree sign"),
    "k": ("K", "the kelvin is a capital K"),
    "cc": ("mL", "1 cc = 1 mL"),
    "ccm": ("mL", "1 ccm = 1 mL"),
    "ML": ("mL", "M is mega"),
    "Ml": ("mL", "M is mega"),
    "ltr": ("L", "the symbol is L"),
    "liter": ("L", "the symbol is L"),
    "litre": ("L", "the symbol is L"),
    "liters": ("L", "the symbol is L"),
    "litres": ("L", "the symbol is L"),
    "Nm": ("N·m", "without the dot it is not newton times metre"),
    "mNm": ("mN·m", "without the dot it is not newton times metre"),
    "µNm": ("µN·m", "without the dot it is not newton times metre"),
    "uNm": ("µN·m", "without the dot it is not newton times metre"),
    "J": ("N·m", "the joule is an energy; a torque is written N·m"),
    "mJ": ("mN·m", "the joule is an energy; a torque is written N·m"),
    "µJ": ("µN·m", "the joule is an energy; a torque is written N·m"),
    "dyne·cm": ("dyn·cm", "the symbol of the dyne is dyn"),
    "dynes·cm": ("dyn·cm", "the symbol of the dyne is dyn"),
    "dyne-cm": ("dyn·cm", "the symbol of the dyne is dyn"),
    "RPM": ("rpm", "it is written in small letters"),
    "Rpm": ("rpm", "it is written in small letters"),
    "r·p·m.": ("rpm", "it is written without dots"),
    "U/min": ("rpm", "it is written rpm"),
    "rounds/min": ("rpm", "it is written rpm"),
    "turns": ("rev", "a count of turns is written rev"),
    "revs": ("rev", "a count of turns is written rev"),
    "sec": ("s", "the symbol is s"),
    "secs": ("s", "the symbol is s"),
    "second": ("s", "the symbol is s"),
    "seconds": ("s", "the symbol is s"),
    "S": ("s", "S is the siemens"),
    "mins": ("min", "the symbol is min"),
    "minute": ("min", "the symbol is min"),
    "minutes": ("min", "the symbol is min"),
    "hr": ("h", "the symbol is h"),
    "hrs": ("h", "the symbol is h"),
    "hour": ("h", "the symbol is h"),
    "hours": ("h", "the symbol is h"),
    "H": ("h", "H is the henry"),
    "day": ("d", "the symbol is d"),
    "days": ("d", "the symbol is d"),
    "MM": ("mm", "M is mega"),
    "micron": ("µm", "the symbol is µm"),
    "microns": ("µm", "the symbol is µm"),
    "µ": ("µm", "a lone µ is no unit"),
    "gr": ("g", "the symbol of the gram is g"),
    "gram": ("g", "the symbol is g"),
    "grams": ("g", "the symbol is g"),
    "G": ("g", "the symbol is g"),
    "Kg": ("kg", "K is the kelvin"),
    "KG": ("kg", "K is the kelvin"),
    "g/cc": ("g/mL", "1 cc = 1 mL"),
    "g/l": ("kg/m³", "1 g/L = 1 kg/m³"),
    "g/L": ("kg/m³", "1 g/L = 1 kg/m³"),
    "percent": ("%", "it is written %"),
    "pct": ("%", "it is written %"),
    "% FS": ("% of full scale", "it is written out"),
    "%FS": ("% of full scale", "it is written out"),
    "% FSR": ("% of full scale", "it is written out"),
    "% full scale": ("% of full scale", "it is written out"),
    "% of fs": ("% of full scale", "it is written out"),
    "% per K": ("%/K", "it is written %/K"),
    "% per °C": ("%/K", "it is written %/K"),
    "%/k": ("%/K", "the kelvin is a capital K"),
    "%/C": ("%/K", "C alone is the coulomb"),
    "sec⁻¹": ("1/s", "the symbol of the second is s"),
    "1/sec": ("1/s", "the symbol of the second is s"),
    "degree": ("deg", "it is written deg or °"),
    "degrees": ("deg", "it is written deg or °"),
}

# Units of other kinds of scale that a laboratory writes: what to do about them.
CONVERTED: dict[str, tuple[str, float, float, str]] = {
    # spelling: (right unit, factor, offset, reason): right = number * factor + offset
    "°F": ("°C", 5 / 9, -160 / 9, "the method language has no degree Fahrenheit"),
    "degF": ("°C", 5 / 9, -160 / 9, "the method language has no degree Fahrenheit"),
    "F": ("°C", 5 / 9, -160 / 9, "the method language has no degree Fahrenheit"),
    "rad/s": ("rpm", 30 / math.pi, 0.0, "a speed is written in rpm; 1 rad/s = 9.549 rpm"),
    "Hz": ("rpm", 60.0, 0.0, "a speed is written in rpm; 1 turn per second = 60 rpm"),
    "rps": ("rpm", 60.0, 0.0, "a speed is written in rpm; 1 turn per second = 60 rpm"),
    "rad": ("deg", 180 / math.pi, 0.0, "an angle is written in deg"),
    "in": ("mm", 25.4, 0.0, "the method language has no inch; 1 in = 25.4 mm"),
    "inch": ("mm", 25.4, 0.0, "the method language has no inch; 1 in = 25.4 mm"),
    "inches": ("mm", 25.4, 0.0, "the method language has no inch; 1 in = 25.4 mm"),
    '"': ("mm", 25.4, 0.0, "the method language has no inch; 1 in = 25.4 mm"),
    "kPa·s": ("Pa·s", 1000.0, 0.0, "a viscosity is written in Pa·s or mPa·s"),
    "µPa·s": ("mPa·s", 0.001, 0.0, "a viscosity is written in Pa·s or mPa·s"),
    "dL": ("mL", 100.0, 0.0, "a volume is written in mL or L"),
    "cL": ("mL", 10.0, 0.0, "a volume is written in mL or L"),
    "ms": ("s", 0.001, 0.0, "a time is written in s, min or h"),
    "lb": ("g", 453.59237, 0.0, "the method language has no pound; 1 lb = 453.59237 g"),
}

TITLES: dict[str, str] = {
    "viscosity": "a viscosity",
    "kinematic-viscosity": "a kinematic viscosity",
    "torque": "a torque",
    "speed": "a speed of rotation",
    "time": "a time",
    "length": "a length",
    "volume": "a volume",
    "mass": "a mass",
    "temperature": "a temperature",
    "temperature-difference": "a difference of temperature",
    "sensitivity": "a sensitivity to temperature",
    "percent": "a percentage",
    "percent-of-full-scale": "a percentage of full scale",
    "density": "a density",
    "shear-rate": "a shear rate",
    "velocity": "a velocity",
    "angle": "an angle",
    "stress": "a stress",
    "coefficient": "a coefficient (viscosity times speed)",
    "factor": "a factor (viscosity per percent of torque)",
    "diffusivity": "a thermal diffusivity",
    "heat-capacity": "a specific heat capacity",
    "revolutions": "a count of revolutions",
}

# (found, wanted) -> why the two are not the same thing, and what to do.
CONFUSED: dict[tuple[str, str], str] = {
    ("shear-rate", "speed"): "A shear rate depends on the geometry too; the speed itself is set in rpm.",
    ("speed", "shear-rate"): "A speed becomes a shear rate only with a geometry; write what flows, in 1/s.",
    ("kinematic-viscosity", "viscosity"): "Multiply by the density of the sample to get Pa·s.",
    ("diffusivity", "viscosity"): "Multiply by the density of the sample to get Pa·s.",
    ("viscosity", "kinematic-viscosity"): "Divide by the density of the sample to get mm²/s.",
    ("stress", "viscosity"): "A viscosity is pascal times second.",
    ("viscosity", "stress"): "A stress is in pascal alone.",
    ("viscosity", "coefficient"): "The coefficient is full-scale viscosity times speed: Pa·s·rpm.",
    ("viscosity", "factor"): "The factor is viscosity per percent of torque: mPa·s/%.",
    ("percent", "percent-of-full-scale"): "Say of what: % of full scale.",
    ("percent-of-full-scale", "percent"): "A plain % is wanted here.",
    ("percent", "sensitivity"): "Say per what: %/K.",
    ("mass", "volume"): "Weigh or measure: a mass goes under its own key.",
    ("volume", "mass"): "Weigh or measure: a volume goes under its own key.",
    ("temperature-difference", "temperature"): "K is used for differences; a temperature is written in °C.",
    ("time", "revolutions"): "Count turns in rev, or give the time under its own key.",
}

SPACES = "\u00a0\u2007\u2009\u202f"  # no-break, figure, thin, narrow no-break
_TIDY = str.maketrans({"μ": "µ", "⋅": "·", "*": "·", "•": "·", **dict.fromkeys(SPACES, " ")})
_POWERS = (("^-1", "⁻¹"), ("^2", "²"), ("^3", "³"), ("m2", "m²"), ("m3", "m³"))


@cache
def of_kind(kind: str) -> tuple[str, ...]:
    """Give the canonical spellings of the units of a kind, the usual one first; KeyError for no such kind."""
    if kind not in TITLES:
        raise KeyError(kind)
    return tuple(u for u, (of, _, _) in UNITS.items() if kind in of)


def tidy(unit: str) -> str:
    """Bring dots, micro signs, powers and spaces of a unit to their canonical form."""
    unit = " ".join(unit.translate(_TIDY).split())
    unit = re.sub(r"\s*([/·])\s*", r"\1", unit)
    unit = re.sub(r"(?<=[A-Za-z])\.(?=[A-Za-z])", "·", unit)
    for written, right in _POWERS:
        unit = unit.replace(written, right)
    return unit


@lru_cache(maxsize=1024)
def spelling(written: str) -> str | None:
    """Find the canonical spelling of a unit, or None."""
    neat = tidy(written)
    micro = "µ" + neat[1:] if neat[:1] == "u" else neat
    for form in (neat, micro, neat.replace(" ", "·"), micro.replace(" ", "·")):
        if form in UNITS:
            return form
        if form in ALSO:
            return ALSO[form]
    return None
