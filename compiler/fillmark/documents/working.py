"""A figure worked out in digits, so that a reviewer can redo it with a pocket calculator.

The formula of a figure is text, and its inputs are named by symbol. Here each symbol gives way to its value
with its unit, and the line so made is worked out again from the digits that are printed, not from those in
memory. A line that does not come to the figure is not shown: paper never holds a sum that does not add up.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import exp, isfinite, log, pi, radians, sqrt, tan
from typing import Any

from fillmark.diagnostics import Path
from fillmark.figures import Figure, Figures
from fillmark.model import Method
from fillmark.quantities import (
    Quantity,
    QuantityError,
    brief,
    express,
    find_all,
    parse_any,
    parse_toleranced,
)

DIGITS = 6
"""Significant digits that an input is printed with."""

AGREE = 1e-4
"""How far, relatively, the printed digits may lead from the figure: the rounding of the inputs."""

Units = Mapping[str, str]
"""Kind of a quantity -> the unit it is put in; others keep the unit of their kind."""

# Tried in this order: bench units as long as a formula adds up in them, then those in which it does.
_BENCH: Units = {
    "length": "mm", "volume": "mL", "mass": "g", "density": "g/mL", "torque": "µN·m", "velocity": "mm/s",
}  # fmt: skip
_CENTIMETRES: Units = {
    "length": "cm", "volume": "cm³", "mass": "g", "density": "g/cm³", "velocity": "mm/s",
}  # fmt: skip
_SI: Units = {
    "length": "m", "volume": "m³", "mass": "kg", "density": "kg/m³", "torque": "N·m", "velocity": "m/s",
    "diffusivity": "m²/s", "heat-capacity": "J/(kg·K)",
}  # fmt: skip

_OWN: Units = {
    "viscosity": "Pa·s", "speed": "rpm", "time": "s", "coefficient": "Pa·s·rpm", "temperature": "°C",
    "temperature-difference": "K", "sensitivity": "%/K", "percent": "%", "percent-of-full-scale": "%",
    "angle": "deg", "shear-rate": "1/s", "factor": "Pa·s/%", "heat-capacity": "J/(kg·K)", "revolutions": "rev",
    "diffusivity": "m²/s", "torque": "N·m", "stress": "Pa",
}  # fmt: skip

_FUNCTIONS: Mapping[str, Callable[[float], float]] = {
    "ln": log,
    "exp": exp,
    "√": sqrt,
    "tan": lambda degrees: tan(radians(degrees)),
}
_POWERS = {"²": 2, "³": 3}
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_CLAUSE = re.compile(r"(\w+) = (.+)")
_SIGNS = "+-·/()|"


@dataclass(frozen=True, slots=True)
class Given:
    """The value of an input: a number in the unit of its kind; `halved` for a radius given as a diameter."""

    value: float
    kind: str
    halved: bool = False


@dataclass(frozen=True, slots=True)
class _Piece:
    """A piece of a formula: how it is printed, and what it is worth (a number) or does (a sign)."""

    text: str
    value: float | None = None


class _NotInDigitsError(ValueError):
    """The formula holds something that has no value here, or no sense as arithmetic."""


def given(symbol: str, where: Path | str, method: Method, figures: Figures) -> Given | None:
    """Find the number behind an input of a figure; None where there is none.

    Of a value with a tolerance, a symbol that begins with Δ is the tolerance.
    """
    if isinstance(where, tuple):
        return _in_method(symbol, at(method.data, where))
    if where in figures:
        figure = figures[where]
        return Given(figure.value, kind_of(figure.unit))
    if where.startswith("policy."):
        key = where.removeprefix("policy.")
        texts = method.reference.policy.texts
        return None if key not in texts else _in_words(texts[key])
    return _in_words(where.rpartition(": ")[2])


def at(data: Any, path: Path) -> Any:
    """Give the plain value at a path of the method; None where nothing stands there."""
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def kind_of(unit: str) -> str:
    """Give the kind of quantity a unit measures; nothing for a plain number or a unit that is not read."""
    try:
        return parse_any(f"1 {unit}").kind if unit else ""
    except QuantityError:
        return ""


def _in_method(symbol: str, value: Any) -> Given | None:
    if isinstance(value, bool) or value is None:
        return None
    if isinstance(value, (int, float)):
        return Given(float(value), "")
    text = str(value)
    try:
        if "±" in text or "+/-" in text:
            left = re.split(r"±|\+/-", text)[0].strip()
            both = parse_toleranced(text, parse_any(left).kind)
            quantity = both.tolerance if symbol.startswith("Δ") else both.value
        else:
            quantity = parse_any(text)
    except QuantityError:
        return None
    return Given(quantity.value, quantity.kind)


def _in_words(text: str) -> Given | None:
    halved = text.startswith("half of ")
    quantities: list[Quantity] = [quantity for _, _, quantity in find_all(text)]
    if quantities:
        return Given(quantities[0].value, quantities[0].kind, halved)
    number = _NUMBER.search(text)
    return None if number is None else Given(float(number[0]), "angle" if "°" in text else "", halved)


def worked(figure: Figure, method: Method, figures: Figures) -> str:
    """Write a figure out in digits: `t = 100 · 8 Pa·s · 20 rpm / 400 Pa·s·rpm = 40 %`.

    Nothing where its formula is no plain arithmetic (a series, a rule of rounding, a given value), or where
    the printed digits would not lead to the figure.
    """
    values = {symbol: given(symbol, where, method, figures) for symbol, where in figure.inputs}
    known = {symbol: value for symbol, value in values.items() if value is not None}
    main, *clauses = figure.formula.split(", ")
    left, equals, right = main.partition(" = ")
    meant = {m[1]: m[2] for m in map(_CLAUSE.fullmatch, clauses) if m is not None}
    for units in (_BENCH, _CENTIMETRES, _SI):
        try:
            pieces = _substituted(right if equals else main, known, meant, units)
            outcome = evaluate(pieces)
        except _NotInDigitsError:
            return ""
        unit = _unit(kind_of(figure.unit), units) or figure.unit
        wanted = _expressed(figure.value, unit)
        if abs(outcome - wanted) <= AGREE * abs(wanted) + 1e-9:
            digits = "".join(piece.text for piece in pieces)
            steps = [left] if equals else []
            # A value taken over as it is needs no sum.
            steps += [digits] if len(pieces) > 1 else []
            return " = ".join((*steps, _outcome(outcome, unit, figure)))
    return ""


def _outcome(value: float, unit: str, figure: Figure) -> str:
    """Write what the digits come to, and how the figure is shown where that is not the same."""
    text = f"{brief(value, 5)} {unit}".strip()
    shown = figure.text.removeprefix("± ").removeprefix("+")
    try:
        same = float(shown.partition(" ")[0]) == float(text.partition(" ")[0])
        same = same and shown.partition(" ")[2] == text.partition(" ")[2]
    except ValueError:
        same = False
    return f"{shown if same else text}" + ("" if same else f" → {figure.text}")


def _unit(kind: str, units: Units) -> str:
    return units.get(kind, _OWN.get(kind, ""))


def _expressed(value: float, unit: str) -> float:
    """Give a value in a unit; a unit that is not read is that of the value already."""
    return express(value, unit) if kind_of(unit) else value


def _substituted(
    expression: str, known: Mapping[str, Given], meant: Mapping[str, str], units: Units
) -> list[_Piece]:
    """Cut an expression into pieces, with values in the place of symbols and clauses in that of their names."""
    symbols = sorted((*known, *meant), key=len, reverse=True)
    pieces: list[_Piece] = []
    rest = expression
    while rest:
        symbol = next((s for s in symbols if rest.startswith(s) and not _goes_on(s, rest)), None)
        number = _NUMBER.match(rest)
        word = next((w for w in _FUNCTIONS if rest.startswith(w)), None)
        if symbol is not None:
            after = rest[len(symbol) :]
            if symbol in known:
                pieces.extend(_value(known[symbol], units, powered=after[:1] in _POWERS))
            else:
                inner = {name: text for name, text in meant.items() if name != symbol}
                pieces.extend((_Piece("("), *_substituted(meant[symbol], known, inner, units), _Piece(")")))
            rest = after
        elif number is not None:
            pieces.append(_Piece(number[0], float(number[0])))
            rest = rest[number.end() :]
        elif rest[0] == "π":
            pieces.append(_Piece("π", pi))
            rest = rest[1:]
        elif word is not None:
            pieces.append(_Piece(word))
            rest = rest[len(word) :]
        elif rest[0] in _SIGNS or rest[0] in _POWERS or rest[0] == " ":
            pieces.append(_Piece(rest[0]))
            rest = rest[1:]
        else:
            raise _NotInDigitsError(expression)
    return pieces


def _goes_on(symbol: str, rest: str) -> bool:
    """Whether the letters after a symbol make it a longer one: C is no part of C_ref."""
    after = rest[len(symbol) : len(symbol) + 1]
    return symbol[-1:].isalnum() and (after.isalnum() or after == "_") and after not in _POWERS


def _value(one: Given, units: Units, *, powered: bool) -> list[_Piece]:
    unit = _unit(one.kind, units)
    value = _expressed(one.value, unit)
    if not isfinite(value):
        raise _NotInDigitsError(str(value))
    digits = brief(value, DIGITS)
    # The number is what is printed, so that the line holds for whoever types it in.
    piece = _Piece(f"{digits}\u00a0{unit}" if unit else digits, float(digits))
    if one.halved:
        return [_Piece("("), piece, _Piece(" "), _Piece("/"), _Piece(" "), _Piece("2", 2.0), _Piece(")")]
    if value < 0 or (powered and unit):
        return [_Piece("("), piece, _Piece(")")]
    return [piece]


def evaluate(pieces: list[_Piece]) -> float:
    """Work out pieces as arithmetic: powers before products before sums, brackets first."""
    rest = [piece for piece in pieces if piece.text.strip()]
    value = _sum(rest)
    if rest:
        raise _NotInDigitsError(rest[0].text)
    return value


def _next(rest: list[_Piece]) -> str:
    return rest[0].text if rest and rest[0].value is None else ""


def _sum(rest: list[_Piece]) -> float:
    value = _product(rest)
    while _next(rest) in ("+", "-"):
        sign = rest.pop(0).text
        other = _product(rest)
        value = value + other if sign == "+" else value - other
    return value


def _product(rest: list[_Piece]) -> float:
    value = _power(rest)
    while _next(rest) in ("·", "/"):
        sign = rest.pop(0).text
        other = _power(rest)
        if sign == "/" and other == 0:
            raise _NotInDigitsError("division by nothing")
        value = value * other if sign == "·" else value / other
    return value


def _power(rest: list[_Piece]) -> float:
    if _next(rest) == "-":
        rest.pop(0)
        return -_power(rest)
    value = _one(rest)
    while _next(rest) in _POWERS:
        value = value ** _POWERS[rest.pop(0).text]
    return value


def _one(rest: list[_Piece]) -> float:
    """Take a number, a bracket, a size between bars or a function of one of these."""
    if not rest:
        raise _NotInDigitsError("the formula ends too soon")
    piece = rest.pop(0)
    if piece.value is not None:
        return piece.value
    if piece.text in _FUNCTIONS:
        try:
            return _FUNCTIONS[piece.text](_one(rest))
        except ValueError as error:
            raise _NotInDigitsError(piece.text) from error
    closing = {"(": ")", "|": "|"}.get(piece.text)
    if closing is None:
        raise _NotInDigitsError(piece.text)
    value = _sum(rest)
    if _next(rest) != closing:
        raise _NotInDigitsError(piece.text)
    rest.pop(0)
    return abs(value) if closing == "|" else value
