"""Derived figures: every number that follows from a method, once, with formula, inputs and source.

A figure is what a rule compares, what a sheet prints and what a reviewer redoes by hand. How each is
computed stands in `derive/`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from fillmark.diagnostics import Path


class Figure(NamedTuple):
    """A computed number.

    `value` is in the unit of its kind (see `quantities.py`); `unit` is the unit it is shown in; `text` is
    how it is shown, unit included. `inputs` name what went in: a symbol with the path of a value of the
    method, the key of another figure, or a plain text with its own source.
    """

    key: str
    title: str
    value: float
    unit: str
    text: str
    formula: str
    inputs: tuple[tuple[str, "Path | str"], ...]
    sources: tuple[str, ...]


class Figures(Mapping[str, Figure]):
    """All figures of a method by key, and for those that could not be computed the reason why."""

    __slots__ = ("_by_key", "open")

    def __init__(self, by_key: Mapping[str, Figure], open_: Mapping[str, str]) -> None:
        self._by_key = by_key
        self.open = open_
        """Key -> why the figure could not be computed."""

    def __getitem__(self, key: str) -> Figure:
        """Give the figure of this key; KeyError where it could not be computed."""
        return self._by_key[key]

    def __iter__(self) -> Iterator[str]:
        """Go through the keys in the order they were computed."""
        return iter(self._by_key)

    def __len__(self) -> int:
        """Count the computed figures."""
        return len(self._by_key)

    def value(self, key: str) -> float | None:
        """Give the number behind a key, or None where it could not be computed."""
        figure = self._by_key.get(key)
        return None if figure is None else figure.value

    def text(self, key: str) -> str:
        """Give the text behind a key; KeyError where it could not be computed."""
        return self._by_key[key].text


Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Curves:
    """What the charts of a method follow; empty where it cannot be computed."""

    conditioning: Points = ()
    """Time in the bath (s) and temperature still missing at the slowest point (K)."""
    product: Points = ()
    """Kelvin off the target and shift of the product's viscosity (%)."""
    fluid: Points = ()
    """Kelvin off the temperature of its certificate and shift of the reference fluid's viscosity (%)."""
