"""`{{name}}` in free text: a value of the method or a derived figure, by name, so that no number stands twice.

A name is the key of a figure (`run.viscosity_20.read_at`, `container.level`) or the path of a value in the
method with dots (`temperature.target`, `run.viscosity_20.speed`, `product.name`).
"""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from fillmark.figures import Figures
from fillmark.model import Method

PATTERN = re.compile(r"\{\{\s*([^{}]*?)\s*\}\}")


def value_of(name: str, method: Method, figures: Figures) -> str | None:
    """Give the text a name stands for; None where nothing bears it."""
    if name in figures:
        return figures.text(name)
    at: Any = method.data
    for part in name.split("."):
        if isinstance(at, Mapping) and part in at:
            at = at[part]
        elif isinstance(at, list):
            named = [e for e in at if isinstance(e, Mapping) and part in (e.get("name"), e.get("result"))]
            if not named:
                return None
            at = named[0]
        else:
            return None
    if isinstance(at, bool):
        return "yes" if at else "no"
    return str(at).strip() if isinstance(at, (str, int, float)) else None


def names_in(text: str) -> list[str]:
    """List the names a text asks for, in order."""
    return [match[1] for match in PATTERN.finditer(text)]


def fill(text: str, method: Method, figures: Figures) -> str:
    """Put values in the place of their names. A name nothing bears stays as written; a rule reports it."""
    return PATTERN.sub(lambda match: value_of(match[1], method, figures) or match[0], text)


def known_names(method: Method, figures: Figures) -> Iterator[str]:
    """Go through all names a text may ask for."""
    yield from figures

    def walk(at: Any, path: str) -> Iterator[str]:
        if isinstance(at, Mapping):
            for key, inner in at.items():
                yield from walk(inner, f"{path}.{key}" if path else str(key))
        elif isinstance(at, list):
            for entry in at:
                if isinstance(entry, Mapping) and ("name" in entry or "result" in entry):
                    yield from walk(entry, f"{path}.{entry.get('name', entry.get('result'))}")
        elif isinstance(at, (str, int, float)):
            yield path

    yield from walk(method.data, "")
