"""The misuse budget and the uncertainty budget, as text for a terminal, as JSON, and as plain rows for paper.

Text is at most `WIDTH` columns wide, in ASCII where the terminal has nothing else. JSON has the shape of
`schemas/misuse.schema.json` and `schemas/uncertainty.schema.json`; viscosities in it are in Pa·s.
"""

import json
import re
import textwrap
from collections.abc import Iterable, Sequence
from math import inf
from typing import Any

from fillmark import __version__
from fillmark.derive.figuring import in_unit, viscosity_unit
from fillmark.figures import Figures
from fillmark.misuse import (
    Effect,
    Explanation,
    Slip,
    expected_within,
    explaining,
    in_words,
    misuse_budget,
    spread,
)
from fillmark.misuse.slip import COMPUTED, ESTIMATED, RULED_OUT
from fillmark.model import Method, Step
from fillmark.quantities import brief, sig
from fillmark.terminal import plain_ascii
from fillmark.uncertainty import Contribution, UncertaintyBudget, uncertainty_budget

WIDTH = 100
_WHAT, _READS, _SHIFT = 36, 6, 15


def read_shift(text: str) -> float:
    """Read a shift such as `-9 %`; ValueError, with what to write, for a text that is none."""
    found = re.fullmatch(r"\s*([+\-\u2212]?)\s*(\d+(?:\.\d+)?)\s*%\s*", text, re.ASCII)
    value = 0.0 if found is None else float(found[2]) * (1 if found[1] in ("", "+") else -1)
    if found is None or not -100 < value < inf:
        raise ValueError(
            f"{text!r} is no shift of a result. Write it with its sign and %, such as '-9 %' or '+4.5 %'."
        )
    if value == 0:
        raise ValueError(
            "A shift of nothing needs no cause. Write by how much the result is off, such as '-9 %'."
        )
    return value


def steps_with_limits(method: Method) -> tuple[Step, ...]:
    """Give the steps that are judged by limits of their own; all of them where none is."""
    return tuple(s for s in method.run if method.limit(s.name) is not None) or method.run


_ASSUMED = (
    "Each slip alone, made in every replicate, against the limits as they stand (no rounding, no guard band). "
    "Good and bad batches by their true viscosity."
)


# --- plain rows, for a plan


def misuse_rows(method: Method, figures: Figures, step: Step) -> tuple[tuple[str, ...], ...]:
    """Give the budget as texts: slip, reads, at the lower limit, between, at the upper one, known, what follows.

    Where there is no number the three shifts are empty. `what follows` is the verdict and what it rests on.
    """
    rows = []
    for slip in misuse_budget(method, figures, step):
        at = {("target" if e.at == "middle" else e.at): _shift(e) for e in slip.effects}
        shifts = [at.get(where, "") for where in ("lower", "target", "upper")]
        shown = f"The sheet shows it: {slip.shown_by}." if slip.shown_by else ""
        follows = _joined(in_words(method, step, slip), slip.why, shown)
        rows.append((slip.what, slip.direction, *shifts, slip.known, follows))
    return tuple(rows)


def uncertainty_rows(budget: UncertaintyBudget) -> tuple[tuple[str, ...], ...]:
    """Give the contributions as texts: what, amount, evaluation and distribution, divisor, sensitivity, u, share."""
    return tuple(_contribution(c, budget.unit) for c in budget.contributions)


def misuse_tables(method: Method, figures: Figures) -> tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]:
    """Give the misuse budget of every step with limits: its name and its rows."""
    return tuple((step.name, misuse_rows(method, figures, step)) for step in steps_with_limits(method))


def uncertainty_tables(
    method: Method, figures: Figures
) -> tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]:
    """Give the uncertainty budget of every step that has one: its name and its rows."""
    budgets = ((step.name, uncertainty_budget(method, figures, step)) for step in steps_with_limits(method))
    return tuple((name, uncertainty_rows(b)) for name, b in budgets if not isinstance(b, str))


def _contribution(c: Contribution, unit: str) -> tuple[str, ...]:
    per = "K" if c.amount_unit == "K" else "%"
    return (
        c.what,
        f"{brief(c.amount, 3)} {c.amount_unit}",
        f"{c.evaluation}, {c.distribution}",
        sig(c.divisor, 4),
        f"{in_unit(c.sensitivity, unit, 3)}/{per}",
        in_unit(c.uncertainty, unit, 3).removesuffix(f" {unit}"),
        "< 1 %" if c.share < 1 else f"{sig(c.share, 2) if c.share < 99.5 else '100'} %",
    )


# --- text


def misuse_text(method: Method, figures: Figures, step: Step, *, ascii_only: bool) -> str:
    """Write the misuse budget of a step as a table with the verdict under each slip."""
    budget = misuse_budget(method, figures, step)
    sized = [s for s in budget if s.effects and s.known != RULED_OUT]
    lines = [*_title(method, figures, step, "what each slip does to the result"), ""]
    lines += _table_head(method, step, sized)
    for slip in sized:
        lines += _table_row(slip, ascii_only=ascii_only)
        note = _joined(in_words(method, step, slip), slip.why)
        lines += _wrapped(note, "    ")
    judged = method.limit(step.name) is not None
    for direction, follows in (
        ("low", "a good batch just inside the lower limit may fail, a bad one just above the upper may pass"),
        (
            "high",
            "a good batch just inside the upper limit may fail, a bad one just below the lower may pass",
        ),
        ("either", "either may happen at either limit"),
    ):
        rest = [s for s in budget if not s.effects and s.direction == direction]
        if rest:
            heading = "Reads high or low" if direction == "either" else f"Reads {direction}"
            lines += ["", *_wrapped(f"{heading}, size not known{f': {follows}' if judged else ''}.", "")]
            lines += _list((f"{s.what}.", s.why) for s in rest)
    ruled_out = [s for s in budget if s.known == RULED_OUT]
    if ruled_out:
        lines += ["", "Cannot pass unseen:", *_list((s.what, s.why) for s in ruled_out)]
    lines += ["", *_footnotes(method, step, budget)]
    return _suited("\n".join(lines), ascii_only=ascii_only)


def _title(method: Method, figures: Figures, step: Step, what: str) -> list[str]:
    limit = method.limit(step.name)
    bounds = [b.text for b in (limit.lower, limit.upper) if b is not None] if limit is not None else []
    word = "" if len(bounds) != 1 or limit is None else "at most " if limit.lower is None else "at least "
    torques = [
        figures[k].text
        for k in (f"run.{step.name}.torque_lower", f"run.{step.name}.torque_upper")
        if k in figures
    ]
    parts = [
        word + " to ".join(bounds) if bounds else "no limits of its own",
        f"spindle {method.spindle.key} on spring {method.instrument.spring.key}",
        step.speed.text,
        *([f"torque {' to '.join(torques)}"] if torques else []),
    ]
    return [f"{method.id} revision {method.revision}, {step.name}: {what}", ", ".join(parts)]


def _table_head(method: Method, step: Step, sized: Sequence[Slip]) -> list[str]:
    if not sized:
        return []
    limit, unit = method.limit(step.name), viscosity_unit(method, step.name)
    names = {"half": "half scale"}
    written = {
        at: q.text
        for at, q in (
            ()
            if limit is None
            else (("lower", limit.lower), ("target", limit.target), ("upper", limit.upper))
        )
        if q is not None and len(q.text) < _SHIFT
    }
    effects = sized[0].effects
    first = "".join(f"{names.get(e.at, e.at):>{_SHIFT}}" for e in effects)
    second = "".join(f"{written.get(e.at, in_unit(e.viscosity, unit, 4)):>{_SHIFT}}" for e in effects)
    return [
        f"{'slip':{_WHAT}} {'reads':{_READS}}{first} known",
        f"{'':{_WHAT}} {'':{_READS}}{second}",
    ]


def _table_row(slip: Slip, *, ascii_only: bool) -> list[str]:
    what = _suited(slip.what, ascii_only=ascii_only) + ("\u00a0*" if slip.shown_by else "")
    first, *more = (
        line.replace("\u00a0", " ") for line in textwrap.wrap(_kept(what), _WHAT, subsequent_indent="  ")
    )
    cells = "".join(f"{_suited(_shift(e), ascii_only=ascii_only):>{_SHIFT}}" for e in slip.effects)
    return [f"{first:{_WHAT}} {slip.direction:{_READS}}{cells} {slip.known}".rstrip(), *more]


def _shift(effect: Effect) -> str:
    return "no number" if effect.shift is None else spread(*effect.shift)


def _footnotes(method: Method, step: Step, budget: Sequence[Slip]) -> list[str]:
    notes = [_ASSUMED]
    shown = next((s.shown_by for s in budget if s.shown_by), None)
    if shown is not None:
        notes.append(f"* The sheet shows it: {shown}.")
    if any(s.known == ESTIMATED for s in budget):
        notes.append("An estimate holds to an order of magnitude.")
    through = [line.result for line in method.report if line.ratio is not None and step.name in line.ratio]
    if through:
        notes.append(
            f"{step.name} also goes into {' and '.join(through)}: a slip that shifts both speeds alike cancels there."
        )
    return [line for note in notes for line in _wrapped(note, "")]


def explanation_text(method: Method, figures: Figures, step: Step, shift: float, *, ascii_only: bool) -> str:
    """Write which slips could have made a result read off by `shift` (%)."""
    explanation, by = _explained(method, figures, step, shift)
    way = "high" if shift > 0 else "low"
    size = f"{brief(abs(shift), 3)} % {way}"
    lines = [*_title(method, figures, step, f"what could make a result read {size}"), ""]
    lines += _wrapped(
        f"A slip counts where it comes within {sig(explanation.within, 2)} % of the result: {by}.", ""
    )
    if abs(shift) <= explanation.within:
        lines += [
            "",
            *_wrapped("The shift lies within that: chance alone can give it, and no slip is needed.", ""),
        ]
    lines += ["", "Alone, by a size that is worked out, the closest first:"]
    lines += _list(
        (s.what, _size(s) + ("" if s.known == COMPUTED else f" ({s.known})")) for s in explanation.alone
    ) or ["  none"]
    lines += ["", "Alone, perhaps; the size is not known, from memory, or too wide to tell:"]
    lines += _list((f"{s.what}.", why) for s, why in explanation.possible) or ["  none"]
    opposite = "low" if shift > 0 else "high"
    same = [(s, why) for s, why in explanation.excluded if s.known != RULED_OUT and s.direction != opposite]
    lines += ["", "Not alone:"]
    lines += _list((s.what, why) for s, why in same) or ["  none"]
    against = [s for s, _ in explanation.excluded if s.direction == opposite and s.known != RULED_OUT]
    if against:
        named = "; ".join(f"{s.what}{f' ({_size(s)})' if s.range is not None else ''}" for s in against)
        lines += [
            "",
            *_wrapped(f"Read {opposite}, so only over a larger slip that reads {way}: {named}.", ""),
        ]
    ruled_out = [s.what for s, _ in explanation.excluded if s.known == RULED_OUT]
    if ruled_out:
        lines += ["", *_wrapped(f"Give no number at all: {'; '.join(ruled_out)}.", "")]
    lines += ["", "Two that hide part of each other and together come to it:"]
    lines += _list(
        (f"{a.what}, and {b.what}", f"{_size(a)} and {_size(b)}, together {spread(both, both)}")
        for a, b, both in explanation.cancelling
    ) or ["  none among those with one size; slips without a size can do it too"]
    lines += ["", *_wrapped(
        "Look for the cause with the sample and the loading kept, and check the instrument with its reference "
        "fluid: what the fluid shows too is the instrument's, the rest is the sample's.", "",
    )]  # fmt: skip
    return _suited("\n".join(lines), ascii_only=ascii_only)


def _explained(method: Method, figures: Figures, step: Step, shift: float) -> tuple[Explanation, str]:
    budget = misuse_budget(method, figures, step)
    within, by = expected_within(figures, step)
    return explaining(budget, shift, within=within), by


def _size(slip: Slip) -> str:
    return "" if slip.range is None else spread(*slip.range)


def uncertainty_text(method: Method, figures: Figures, step: Step, *, ascii_only: bool) -> str:
    """Write the uncertainty budget of a step as a table, with what follows from it."""
    budget = uncertainty_budget(method, figures, step)
    title = _title(method, figures, step, "uncertainty of the result")
    if isinstance(budget, str):
        return _suited("\n".join([*title, "", *_wrapped(f"No budget. {budget}", "")]), ascii_only=ascii_only)
    unit = budget.unit
    heads = ("contribution", "amount", "type", "divisor", "sensitivity", f"u ({unit})", "share")
    rows = [heads, *uncertainty_rows(budget)]
    rows = [tuple(_suited(cell, ascii_only=ascii_only) for cell in row) for row in rows]
    widths = [max(len(row[i]) for row in rows) for i in range(len(heads))]
    lines = [*title, "", f"At {in_unit(budget.viscosity, unit)}, the {budget.at}:", ""]
    for row in rows:
        cells = [
            f"{cell:{width}}" if i in (0, 2) else f"{cell:>{width}}"
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    expanded = in_unit(budget.expanded, unit, 3)
    relative = sig(100 * budget.expanded / budget.viscosity, 2)
    lines += [
        "",
        f"combined         {in_unit(budget.combined, unit, 3)}, the root of the sum of squares",
        *_wrapped(f"coverage factor  {brief(budget.factor)}. {budget.why_factor}", "", hang=17),
        f"expanded         ± {expanded}, which is ± {relative} %",
    ]
    if budget.ratio is not None:
        lines.append(
            f"ratio            {sig(budget.ratio, 3)}, half the width of the limits over the expanded one"
        )
    lines += _wrapped(f"decision         {budget.verdict}", "", hang=17)
    lines += ["", "Not in the budget:", *_list(budget.left_out)]
    return _suited("\n".join(lines), ascii_only=ascii_only)


def _list(items: Iterable[tuple[str, str]]) -> list[str]:
    lines = []
    for what, why in items:
        lines += _wrapped(what + ("" if what.endswith(".") else ":") + f" {why}", "  ", hang=4)
    return lines


def _wrapped(text: str, indent: str, *, hang: int | None = None) -> list[str]:
    # Room is kept for what becomes longer in ASCII, such as ± and °.
    more = " " * (len(indent) if hang is None else hang)
    lines = textwrap.wrap(
        _kept(text), WIDTH - 6, initial_indent=indent, subsequent_indent=more, break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace("\u00a0", " ") for line in lines]


def _kept(text: str) -> str:
    """Keep a number and its unit on one line."""
    return re.sub(r"(?<=\d) (?=%|°C|K\b|mm\b|mL\b|s\b|min\b|rpm\b|m?Pa·s|µN·m)", "\u00a0", text)


def _joined(*sentences: str) -> str:
    return " ".join(s for s in sentences if s)


def _suited(text: str, *, ascii_only: bool) -> str:
    return plain_ascii(text) if ascii_only else text


# --- JSON


def misuse_json(method: Method, figures: Figures, steps: Sequence[Step], shift: float | None = None) -> str:
    """Write the misuse budgets of some steps as one JSON text, with what explains a shift (%) where one is given."""
    return _json(
        method,
        [
            {
                "step": step.name,
                "unit": viscosity_unit(method, step.name),
                "slips": [_slip(method, step, slip) for slip in misuse_budget(method, figures, step)],
                "explanation": None if shift is None else _explanation(method, figures, step, shift),
            }
            for step in steps
        ],
    )


def uncertainty_json(method: Method, figures: Figures, steps: Sequence[Step]) -> str:
    """Write the uncertainty budgets of some steps as one JSON text."""
    return _json(method, [_budget(step, uncertainty_budget(method, figures, step)) for step in steps])


def _json(method: Method, steps: list[dict[str, Any]]) -> str:
    whole = {
        "fillmark": __version__,
        "file": method.file,
        "id": method.id,
        "revision": method.revision,
        "steps": steps,
    }
    return json.dumps(_tidy(whole), ensure_ascii=False, indent=2, allow_nan=False)


def _tidy(value: Any) -> Any:
    """Round every number to 12 digits: what is beyond them is the arithmetic's, not the bench's."""
    if isinstance(value, float):
        return float(f"{value:.12g}")
    if isinstance(value, dict):
        return {key: _tidy(inner) for key, inner in value.items()}
    return [_tidy(inner) for inner in value] if isinstance(value, list) else value


def _slip(method: Method, step: Step, slip: Slip) -> dict[str, Any]:
    v = slip.verdict
    names = ("bad_low_passes", "good_low_fails", "good_high_fails", "bad_high_passes")
    return {
        "key": slip.key,
        "what": slip.what,
        "direction": slip.direction,
        "known": slip.known,
        "effects": [
            {
                "at": e.at,
                "viscosity": e.viscosity,
                "torque": list(e.torque),
                "shift": None if e.shift is None else list(e.shift),
            }
            for e in slip.effects
        ],
        "verdict": None
        if v is None
        else {
            "at_limits": dict(zip(names, v.at_limits, strict=True)),
            "spans": dict(
                zip(names, map(_bounds, (v.bad_low, v.good_low, v.good_high, v.bad_high)), strict=True)
            ),
            "words": in_words(method, step, slip),
        },
        "why": slip.why,
        "shown_by": slip.shown_by,
        "formula": slip.formula,
        "inputs": [
            {"symbol": symbol, "stands_for": where if isinstance(where, str) else ".".join(map(str, where))}
            for symbol, where in slip.inputs
        ],
        "sources": list(slip.sources),
    }


def _bounds(span: tuple[float, float] | None) -> list[float | None] | None:
    return None if span is None else [bound if bound < inf else None for bound in span]


def _explanation(method: Method, figures: Figures, step: Step, shift: float) -> dict[str, Any]:
    e, by = _explained(method, figures, step, shift)
    return {
        "shift": e.shift,
        "within": e.within,
        "within_by": by,
        "alone": [s.key for s in e.alone],
        "possible": [{"slip": s.key, "why": why} for s, why in e.possible],
        "excluded": [{"slip": s.key, "why": why} for s, why in e.excluded],
        "cancelling": [{"slips": [a.key, b.key], "shift": both} for a, b, both in e.cancelling],
    }


def _budget(step: Step, budget: UncertaintyBudget | str) -> dict[str, Any]:
    if isinstance(budget, str):
        return {"step": step.name, "budget": None, "why": budget}
    return {
        "step": step.name,
        "why": None,
        "budget": {
            "unit": budget.unit,
            "viscosity": budget.viscosity,
            "at": budget.at,
            "contributions": [
                {
                    "key": c.key,
                    "what": c.what,
                    "amount": c.amount,
                    "amount_unit": c.amount_unit,
                    "evaluation": c.evaluation,
                    "distribution": c.distribution,
                    "divisor": c.divisor,
                    "sensitivity": c.sensitivity,
                    "uncertainty": c.uncertainty,
                    "share": c.share,
                }
                for c in budget.contributions
            ],
            "combined": budget.combined,
            "factor": budget.factor,
            "coverage": budget.coverage,
            "why_factor": budget.why_factor,
            "expanded": budget.expanded,
            "ratio": budget.ratio,
            "rule": budget.rule,
            "accepted": list(budget.accepted),
            "verdict": budget.verdict,
            "left_out": [{"what": what, "why": why} for what, why in budget.left_out],
        },
    }
