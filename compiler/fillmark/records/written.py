"""A result as JSON, in the shape of `result.schema.json`, and as text for a terminal."""

import json
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from fillmark import __version__
from fillmark.documents import terms
from fillmark.documents.wording import Phrases
from fillmark.quantities import parse
from fillmark.records.record import Finding, Place
from fillmark.records.result import Reading, Reported, Result
from fillmark.records.typed import plain


def as_data(result: Result) -> dict[str, Any]:
    """Give a result as plain data."""
    method, record = result.method, result.record
    return {
        "result": 1,
        "fillmark": __version__,
        "record": {
            "file": record.file,
            "name": record.name,
            "format": record.format,
            "sha256": record.sha256,
        },
        "method": {
            "id": record.text("method.id")[:80] if method is None else method.id,
            "revision": None if method is None else method.revision,
            "digest": result.digest or None,
            "title": None if method is None else method.title,
            "product": None if method is None else method.product.name,
            "purpose": None if method is None else method.purpose,
            "demonstration": method is not None and method.demonstration,
        },
        "printed": {
            "revision": record.text("method.revision") or None,
            "digest": record.text("method.digest") or None,
        },
        "stands": result.stands,
        "sample": _sample(result),
        "people": {name: _text(result, f"people.{name}") for name in ("analyst", "checker", "accepted_by")},
        "equipment": _equipment(result),
        "zero": None if result.sheet is None else _number(result.sheet.decimal("zero")),
        "verification": _verification(result),
        "readings": [_reading(r) for r in result.readings],
        "results": [_reported(r) for r in result.results],
        "qualifiers": result.qualifiers,
        "steps": [
            {"title": w.title, "formula": w.formula, "digits": w.digits, "text": w.text, "source": w.source}
            for w in result.steps
        ],
        "entries": [
            {
                "field": e.field,
                "typed": e.typed,
                "understood": e.understood,
                "how": e.how,
                **_place(e.place),
                "corrections": [
                    {"was": c.was, "now": c.now, "by": c.by, "when": c.when, "reason": c.reason}
                    for c in e.corrections
                ],
            }
            for e in result.entries
        ],
        "unread": list(record.unread),
        "findings": [_finding(f, record.file) for f in result.findings],
    }


def _text(result: Result, key: str) -> str | None:
    text = result.record.text(key) if result.sheet is None else result.sheet.text(key)
    return text or None


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def _place(place: Place) -> dict[str, Any]:
    return {"line": place.line, "column": place.column, "cell": place.cell}


def _iso(result: Result, key: str) -> str | None:
    if result.sheet is None:
        return None
    moment, day = result.sheet.moment(key), result.sheet.day(key)
    return moment.isoformat() if moment is not None else day.isoformat() if day is not None else None


def _sample(result: Result) -> dict[str, Any]:
    sheet = result.sheet
    prepared = None if sheet is None else sheet.moment("sample.prepared")
    measured = None if sheet is None else sheet.moment("sample.measured")
    age = None if prepared is None or measured is None else (measured - prepared).total_seconds()
    return {
        **{name: _text(result, f"sample.{name}") for name in ("number", "lot", "container")},
        **{name: _iso(result, f"sample.{name}") for name in ("sampled", "prepared", "measured")},
        "age": age,
        "room": None if sheet is None else _number(sheet.decimal("sample.room")),
    }


def _equipment(result: Result) -> dict[str, Any]:
    more = {"instrument": "spring", "spindle": "kind", "guard": "state", "container": "kind"}
    names = (
        "instrument",
        "spindle",
        "adapter",
        "guard",
        "container",
        "thermometer",
        "bath",
        "balance",
        "timer",
    )
    found: dict[str, Any] = {}
    for name in names:
        piece = {"id": _text(result, f"{name}.id"), "due": _iso(result, f"{name}.due")}
        if name in more:
            piece[more[name]] = _text(result, f"{name}.{more[name]}")
        found[name] = piece if any(piece.values()) else None
    return found


def _verification(result: Result) -> dict[str, Any] | None:
    method, figures, sheet = result.method, result.figures, result.sheet
    if (
        method is None
        or figures is None
        or sheet is None
        or method.verification is None
        or "verification.lower" not in figures
    ):
        return None
    check = method.verification
    unit = figures["verification.lower"].unit
    size = parse(f"1 {unit}", "viscosity").value
    lower = check.lower.value if check.lower is not None else figures["verification.lower"].value
    upper = check.upper.value if check.upper is not None else figures["verification.upper"].value
    reading = _number(sheet.decimal("verification.reading"))
    low, high = float(f"{lower / size:.12g}"), float(f"{upper / size:.12g}")
    failed = any(f.code == "EVA26" for f in result.findings)
    return {
        "fluid": check.fluid.key,
        "lot": _text(result, "fluid.lot"),
        "due": _iso(result, "fluid.due"),
        "time": _iso(result, "verification.time") or _iso(result, "sample.measured"),
        "temperature": _number(sheet.decimal("verification.temperature")),
        "torque": _number(sheet.decimal("verification.torque")),
        "reading": reading,
        "unit": unit,
        "lower": low,
        "upper": high,
        "reference": float(f"{check.fluid.viscosity.value / size:.12g}"),
        "passed": None if reading is None else low <= reading <= high and not failed,
    }


def _reading(r: Reading) -> dict[str, Any]:
    return {
        "no": r.no,
        "step": r.step,
        "speed": r.speed,
        "start": None if r.start is None else r.start.isoformat(),
        "after": r.after,
        "before": _number(r.before),
        "end": _number(r.end),
        "torque": _number(r.torque),
        "display": _number(r.display),
        "viscosity": _number(r.viscosity),
        "bound": r.bound or None,
        "bound_value": _number(r.bound_value),
        "text": r.text,
        "unit": r.unit,
        "used": r.used,
    }


def _reported(r: Reported) -> dict[str, Any]:
    return {
        "name": r.name,
        "kind": r.kind,
        "value": _number(r.value),
        "unrounded": None if r.value is None else plain(r.value),
        "bound": r.bound or None,
        "bound_value": _number(r.bound_value),
        "unit": r.unit,
        "reported": r.reported,
        "verdict": r.verdict,
        "why": r.why,
        "lower": _number(r.lower),
        "upper": _number(r.upper),
        "target": _number(r.target),
        "accepted_lower": _number(r.accepted_lower),
        "accepted_upper": _number(r.accepted_upper),
        "decision_rule": r.decision_rule,
        "comparison": r.comparison,
        "increment": _number(r.increment),
        "rounding": r.rounding,
        "statistic": r.statistic,
        "uncertainty": _number(r.uncertainty),
        "n": sum(v is not None for v in r.values),
        "values": [_number(v) for v in r.values],
        "range": _number(r.range),
        "range_allowed": _number(r.range_allowed),
        "range_unit": r.range_unit,
        "agree": r.agree,
        "torques": [float(t) for t in r.torques],
        "temperatures": [float(t) for t in r.temperatures],
    }


def _finding(f: Finding, file: str) -> dict[str, Any]:
    return {
        "code": f.code,
        "slug": f.slug,
        "severity": f.severity.word,
        "message": f.message,
        "field": f.field,
        **_place(f.place),
        "file": file,
        "ways_out": list(f.ways_out),
    }


def as_json(results: Sequence[Result]) -> str:
    """Write results as one JSON array."""
    return json.dumps([as_data(r) for r in results], ensure_ascii=False, indent=2)


def as_line(result: Result) -> str:
    """Write a result on one line."""
    return _on_one_line(as_data(result))


BRIEF = {
    "record": ("file", "name", "sha256"),
    "method": ("id", "revision", "digest", "title", "product", "demonstration"),
    "sample": ("number", "lot", "measured"),
    "people": ("analyst",),
}
"""What a brief result keeps of these parts of a result."""
BRIEF_LINE = (
    "name", "kind", "value", "bound", "bound_value", "unit", "reported", "verdict", "lower", "upper", "target",
    "torques", "temperatures",
)  # fmt: skip
BRIEF_EQUIPMENT = {
    "instrument": ("id", "spring"), "spindle": ("id", "kind"), "guard": ("id", "state"), "container": ("kind",)
}  # fmt: skip


def as_brief(result: Result) -> str:
    """Write on one line what trends and verification logs need, about a twelfth of the whole.

    It is what `as_line` writes with parts left out, so that who reads the one reads the other; the shape is that
    of brief.schema.json.
    """
    whole = as_data(result)
    return _on_one_line(
        {
            "result": 1,
            "fillmark": whole["fillmark"],
            **{part: _some(whole[part], keys) for part, keys in BRIEF.items()},
            "stands": whole["stands"],
            "equipment": {
                name: _some(whole["equipment"][name], keys)
                for name, keys in BRIEF_EQUIPMENT.items()
                if whole["equipment"][name] is not None
            },
            "results": [_some(one, BRIEF_LINE) for one in whole["results"]],
            "entries": [
                {"field": e["field"], "corrections": [_some(c, ("reason",)) for c in e["corrections"]]}
                for e in whole["entries"]
                if e["corrections"]
            ],
            "findings": [
                {"code": code, "slug": slug, "severity": severity}
                for code, slug, severity in dict.fromkeys(
                    (f["code"], f["slug"], f["severity"]) for f in whole["findings"]
                )
            ],
        }
    )


def _some(part: Mapping[str, Any], keys: Iterable[str]) -> dict[str, Any]:
    return {key: part[key] for key in keys}


def _on_one_line(data: Mapping[str, Any]) -> str:
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))


def told(result: Result) -> list[str]:
    """Say in a few lines what came of a record; findings are drawn elsewhere."""
    record, method = result.record, result.method
    name = record.file if record.name == "1" else f"{record.file} ({record.name})"
    if method is None:
        return [f"{name}: not judged"]
    sample = _sample(result)
    what = ", ".join(
        str(v) for v in (sample["number"], sample["lot"] and f"lot {sample['lot']}", sample["measured"]) if v
    )
    demonstration = " DEMONSTRATION: invented data" if method.demonstration else ""
    lines = [f"{name}: {method.id} revision {method.revision}, {what or 'no sample named'}{demonstration}"]
    phrases = Phrases(method.reference.phrases)
    for r in result.readings:
        typed = record.text(f"reading.{r.no}.{r.step}.torque") or "no torque"
        read = f"{r.torque:f} %" if r.torque is not None else typed
        lines.append(f"  no. {r.no} {r.step}: {read} gives {r.text or 'nothing that can be used'}")
    for one in result.results:
        limits = terms.limits(method.limit(one.name), phrases).replace("\u00a0", " ").replace("\u202f", "")
        if not one.reported:
            lines.append(f"  {one.name}: no result. {one.why}")
            continue
        verdict = {"in": "IN", "out": "OUT", "undecided": "NOT DECIDED", "none": "no verdict"}[one.verdict]
        verdict = (
            verdict
            if result.stands or one.verdict not in ("in", "out")
            else f"not settled, would be {verdict}"
        )
        spread = ""
        if one.range is not None and one.range_unit is not None:
            kind = one.range_unit
            allowed = (
                ""
                if one.range_allowed is None
                else f", {plain(one.range_allowed, 4)} {kind}".rstrip() + " allowed"
            )
            spread = f"; range {plain(one.range, 4)} {kind}".rstrip() + allowed
        unrounded = f" (unrounded {plain(one.value)}{spread})" if one.value is not None else ""
        lines.append(f"  {one.name} = {one.reported}{unrounded}: {verdict} ({limits})")
    lines.append("  The result stands." if result.stands else "  The result does not stand: see the errors.")
    if result.qualifiers and result.stands:
        lines.append(f"  To be quoted with it: {result.qualifiers}")
    return lines
