"""Site policy: the thresholds and house choices of a laboratory, and what a laboratory may not change.

Any threshold can be moved but for three things: a key must be one that exists and keep its kind (a share
cannot become a length), a choice must be one that is known, and nothing may be moved so that people are less
safe or the impossible passes. A policy that changes anything has a version of its own.
"""

from collections.abc import Mapping
from typing import Any

from fillmark.diagnostics import Diagnostic, Path
from fillmark.model import Policy
from fillmark.quantities import QuantityError, parse
from fillmark.read import Source
from fillmark.validate import diagnostic, unknown_name

CODES: dict[str, tuple[str, str]] = {
    "POL01": (
        "policy-of-another-kind",
        "A threshold given as another kind of quantity than the shipped one.",
    ),
    "POL02": ("policy-choice-unknown", "A house choice that Fillmark does not have."),
    "POL03": (
        "policy-weakens-safety",
        "A threshold moved so that people are less safe or the impossible passes.",
    ),
    "POL04": ("policy-without-version", "A policy that differs from the shipped one but bears its version."),
}

_KINDS = (
    "percent", "percent-of-full-scale", "angle", "length", "time", "temperature", "temperature-difference",
    "diffusivity", "heat-capacity",
)  # fmt: skip
_CHOICES: Mapping[str, tuple[str, ...]] = {
    "verification_band": ("additive", "root-sum-square"),
    "comparison": ("absolute", "rounding"),
    "paper": ("A4", "Letter"),
}
_NOT_BELOW = ("flash_margin", "cold_below")
_NOT_ABOVE = ("hot_from", "splash_speed", "torque_ceiling", "water_bath_upper")
_NO_WORD_LESS = ("flammable_agents",)


def _read(value: Any) -> tuple[str, float | str]:
    """Give the kind of a threshold and its number in the unit of the kind; for a word, `word` and the word."""
    if isinstance(value, (int, float)):
        return "number", float(value)
    for kind in _KINDS:
        try:
            return kind, parse(str(value), kind).value
        except QuantityError:
            continue
    return "word", str(value)


def completed(entries: Mapping[str, Any], today: Mapping[str, Any]) -> dict[str, Any]:
    """Give entries of an earlier Fillmark with today's in the place of those that lack or are of another kind.

    Thresholds that today's Fillmark does not have are left out.
    """

    def fits(key: str) -> bool:
        if key == "version" or key not in entries:
            return key in entries
        (old_kind, old), (kind, _) = _read(entries[key]["value"]), _read(today[key]["value"])
        return old_kind == kind and (key not in _CHOICES or old in _CHOICES[key])

    return {key: entries[key] if fits(key) else entry for key, entry in today.items()}


def make(entries: Mapping[str, Any], shipped: Mapping[str, Any]) -> Policy:
    """Make the policy of plain entries that have passed `faults`; `shipped` tells what was changed."""
    values: dict[str, float] = {}
    choices: dict[str, str] = {}
    settings = {key: entry for key, entry in entries.items() if key != "version"}
    for key, entry in settings.items():
        _, value = _read(entry["value"])
        if isinstance(value, str):
            choices[key] = value
        else:
            values[key] = value
    changed = tuple(k for k, e in settings.items() if shipped[k]["value"] != e["value"])
    return Policy(
        version=str(entries["version"]),
        values=values,
        texts={key: str(entry["value"]) for key, entry in settings.items()},
        choices=choices,
        sources={key: entry["source"] for key, entry in settings.items()},
        changed=changed,
        shipped={key: str(shipped[key]["value"]) for key in changed},
    )


def faults(source: Source, own: Mapping[str, Any], shipped: Mapping[str, Any]) -> list[Diagnostic]:
    """Find what a laboratory's own policy may not say; `own` holds its entries, `shipped` ours."""
    found: list[Diagnostic] = []
    changed = False

    def fault(code: str, path: Path, message: str, *ways: str) -> None:
        found.append(diagnostic(source, code, path, message, ways, codes=CODES))

    for key, entry in own.items():
        if key == "version":
            continue
        if key not in shipped:
            found.append(
                unknown_name(source, (key,), key, [k for k in shipped if k != "version"], "the site policy")
            )
            continue
        path: Path = (key, "value")
        old, new = shipped[key]["value"], entry["value"]
        changed = changed or old != new
        (old_kind, old_value), (kind, value) = _read(old), _read(new)
        if kind != old_kind:
            fault(
                "POL01", path, f"{key} is {new}, a {kind}; it must be a {old_kind}.", f"Write it like {old}."
            )
        elif key in _CHOICES and value not in _CHOICES[key]:
            fault("POL02", path, f"{key} cannot be {new}.", f"Choices: {', '.join(_CHOICES[key])}.")
        elif _weakens(key, old_value, value):
            fault(
                "POL03", path, f"{key}: {new} is less safe than the shipped {old}.",
                f"Keep {old} or be stricter.", "Or leave the key out, and it stays as shipped.",
            )  # fmt: skip
    if changed and own.get("version", shipped["version"]) == shipped["version"]:
        first = next(k for k in own if k != "version")
        fault(
            "POL04", (first,), "The policy differs from the shipped one and has no version of its own.",
            "Add a line such as version: our-laboratory-1.", "Raise it whenever a threshold changes.",
        )  # fmt: skip
    return found


def _weakens(key: str, old: float | str, new: float | str) -> bool:
    if isinstance(old, str) or isinstance(new, str):
        words, kept = ({w.strip().casefold() for w in str(text).split(",")} for text in (old, new))
        return key in _NO_WORD_LESS and not words <= kept
    return (key in _NOT_BELOW and new < old) or (key in _NOT_ABOVE and new > old)
