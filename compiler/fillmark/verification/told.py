"""A judged verification log as text for a terminal, and as JSON in the shape of `schemas/verification.schema.json`."""

import json
import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Any

from fillmark import __version__
from fillmark.derive.figuring import in_unit
from fillmark.physics.control import RULES
from fillmark.quantities import brief, counted, fixed
from fillmark.trending.measured import Measured
from fillmark.trending.told import finding_as_data, moment
from fillmark.verification.log import Doubted, Drift, Group, Judged, Judgement, LookBack, Stretch, error_text

WIDTH = 100
SHOWN = 40
"""Rows of a list that the text shows; JSON has all."""


def of_certificate(value: float, one: Judged) -> str:
    """Write a viscosity in the unit of the certificate."""
    return in_unit(value, one.check.certificate.unit, 5)


def band_text(one: Judged) -> str:
    """Write the band of a check, unit once."""
    low, high = of_certificate(one.band.lower, one), of_certificate(one.band.upper, one)
    return f"{low.partition(' ')[0]} to {high}"


def drift_text(drift: Drift | None, why: str) -> str:
    """Say how the error moves, or why that cannot be said."""
    if drift is None:
        return f"no drift worked out: {why}"
    ends = f"95 %: {fixed(drift.low, 3)} to {fixed(drift.high, 3)}"
    moves = "" if drift.certain else ", which may as well be none"
    return f"{fixed(drift.slope, 3)} % of full scale a month ({ends}){moves}"


def summary(j: Judgement) -> str:
    """Say in a line what the log holds."""
    verdicts = [c.verdict for c in j.checks]
    parts = [
        f"{counted(len(j.checks), 'check')}: {verdicts.count('pass')} pass, {verdicts.count('fail')} fail"
    ]
    if verdicts.count("no proof"):
        parts.append(f"{verdicts.count('no proof')} inside the band that prove nothing")
    if j.log.events:
        parts.append(counted(len(j.log.events), "service or other event"))
    if j.log.left_out:
        parts.append(f"{j.log.left_out} of {j.log.entries} entries left out because they cannot be read")
    return "; ".join(parts) + "."


# --- text


def text(j: Judgement) -> str:
    """Write a judged log for a terminal."""
    rows: list[str] = [f"{j.log.name}: {summary(j)}"]
    if j.log.demonstration:
        rows.append("DEMONSTRATION: invented data")
    for group in j.groups:
        rows += ["", f"{group.instrument}, {group.spindle}, {brief(group.rpm)} rpm"]
        rows += _group(group)
    for one in j.look_back:
        rows += ["", *_look_back(one)]
    return "\n".join(
        part for row in rows for part in (textwrap.wrap(row, WIDTH, subsequent_indent="    ") or [""])
    )


def _group(group: Group) -> Iterator[str]:
    first_shown = max(0, len(group.checks) - SHOWN)
    if first_shown:
        yield f"  {first_shown} earlier checks: --format json"
    for at, one in enumerate(group.checks):
        if at < first_shown:
            continue
        for place, _, what in group.breaks:
            if place == at:
                yield f"  ---- {what} ----"
        c = one.check
        why = (
            "" if one.verdict == "pass" else f": {', '.join(code for code, _ in one.why)}" if one.why else ""
        )
        yield (
            f"  {c.entry.written}  {c.reading.text} in {band_text(one)}, error {error_text(one)}, torque "
            f"{c.torque.text}, {c.temperature.text}  {one.verdict.upper()}{why}"
        )
    for stretch in group.stretches:
        yield f"  {_stretch(stretch, group)}"


def _stretch(s: Stretch, group: Group) -> str:
    span = f"{group.checks[s.first].check.entry.written} to {group.checks[s.last].check.entry.written}"
    mean = "" if s.mean is None else f"mean error {fixed(s.mean, 2)} % of full scale; "
    limits = s.no_limits and f"no limits: {s.no_limits}"
    if s.limits is not None:
        limits = f"3 s from {fixed(s.limits.lower, 2)} to {fixed(s.limits.upper, 2)}"
    counts = Counter(x.rule for x in s.signals)
    rules = "".join(f"; {RULES[rule]}{f', {n} times' if n > 1 else ''}" for rule, n in counts.items())
    return f"{s.number}. {span}: {mean}{limits}; {drift_text(s.drift, s.no_drift)}{rules}"


def _look_back(one: LookBack) -> Iterator[str]:
    c = one.failed.check
    yield f"LOOK BACK: {c.entry.instrument} failed on {c.entry.written} ({error_text(one.failed)}); {since(one)}:"
    for other in one.passed_otherwise:
        yield (
            f"  in between it passed with {other.check.spindle} at {other.check.speed} on {other.check.entry.written}: "
            "if the fault is in spindle or guard, that does not clear what was measured with them"
        )
    if not one.results:
        yield "  no result is known; name result files with --results"
    for d in one.results[:SHOWN]:
        yield f"  {result_text(d)}"
    if len(one.results) > SHOWN:
        yield f"  {len(one.results) - SHOWN} more: --format json"


def since(one: LookBack) -> str:
    """Say from when on results are looked through."""
    if one.failed_before is not None:
        return f"from then on; it had failed on {one.failed_before.check.entry.written} already"
    if one.last_pass is None:
        return "from the beginning of the log, for it never passed in it"
    return f"since its last pass on {one.last_pass.check.entry.written}"


def result_text(d: Doubted) -> str:
    """Write a result to look at again in a line."""
    r = d.result
    answer = {True: "COULD HAVE CHANGED", False: "would hold", None: f"CANNOT BE TOLD, {d.why}"}[
        d.could_change
    ]
    after = ", MEASURED AFTER THE FAIL" if d.after else ""
    return (
        f"{r.written}  {r.method} rev. {r.setup.revision or '?'}, lot {r.lot or 'not written'}, {r.name} "
        f"{r.reported or 'none'}, verdict {verdict_text(r)}: {answer}{without_error(d)}{after}"
    )


def verdict_text(r: Measured) -> str:
    """Write the verdict of a result, and whether it counted at all."""
    return r.verdict if r.stands else f"{r.verdict}, but it does not stand"


def without_error(d: Doubted) -> str:
    """Say between which values the result would lie without the error found."""
    known = [v for v in (d.if_offset, d.if_proportional) if v is not None]
    if not known:
        return ""
    ends = [brief(v, 4) for v in (min(known), max(known))]
    spread = ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"
    return f"; without the error {spread} {d.result.unit}"


# --- JSON


def as_json(j: Judgement) -> str:
    """Write a judged log as one JSON text; viscosities in Pa·s, errors in percent of full scale."""
    whole = {
        "fillmark": __version__,
        "log": j.log.name,
        "laboratory": j.log.laboratory,
        "demonstration": j.log.demonstration,
        "entries": j.log.entries,
        "left_out": j.log.left_out,
        "checks": [_check(one) for one in j.checks],
        "events": [
            {"kind": e.kind, "at": moment(e.entry.at), "instrument": e.entry.instrument, "by": e.entry.by,
             "remarks": e.entry.remarks}
            for e in j.log.events
        ],
        "set_ups": [_set_up(g) for g in j.groups],
        "look_back": [_back(one) for one in j.look_back],
        "corrections": [{"entry": f, "reason": r, "count": n} for f, r, n in j.corrections],
        "findings": [finding_as_data(d) for d in j.diagnostics],
    }  # fmt: skip
    return json.dumps(whole, ensure_ascii=False, indent=1)


def _check(one: Judged) -> dict[str, Any]:
    c = one.check
    return {
        "entry": c.entry.number,
        "line": c.entry.span.line,
        "at": moment(c.entry.at),
        "written": c.entry.written,
        "instrument": c.entry.instrument,
        "spindle": c.spindle,
        "piece": c.piece,
        "guard": c.guard,
        "container": c.container,
        "speed": c.rpm,
        "fluid": c.fluid,
        "lot": c.lot,
        "expires": None if c.expires is None else c.expires.isoformat(),
        "certificate": c.certificate.value,
        "certificate_uncertainty": c.uncertainty.value,
        "certificate_temperature": c.certified_at.value,
        "temperature": c.temperature.value,
        "torque": c.torque.value,
        "reading": c.reading.value,
        "bound": c.reading.bound or None,
        "by": c.entry.by,
        "remarks": c.entry.remarks,
        "full_scale": one.band.full_scale,
        "accuracy": one.band.accuracy,
        "lower": one.band.lower,
        "upper": one.band.upper,
        "band_from": one.band.origin,
        "error": one.error,
        "error_lower": one.lower,
        "error_upper": one.upper,
        "by_torque": one.by_torque,
        "torque_fits": one.fits,
        "verdict": one.verdict.replace(" ", "-"),
        "why": [{"code": code, "text": said} for code, said in one.why],
    }


def _set_up(g: Group) -> dict[str, Any]:
    return {
        "instrument": g.instrument,
        "spindle": g.spindle,
        "speed": g.rpm,
        "entries": [one.check.entry.number for one in g.checks],
        "breaks": [{"at": moment(at), "what": what} for _, at, what in g.breaks],
        "stretches": [_stretch_json(s, g.checks) for s in g.stretches],
    }


def _stretch_json(s: Stretch, checks: Sequence[Judged]) -> dict[str, Any]:
    d = s.drift
    return {
        "number": s.number,
        "from": moment(checks[s.first].check.entry.at),
        "to": moment(checks[s.last].check.entry.at),
        "checks": s.count,
        "mean": s.mean,
        "limits": None if s.limits is None else s.limits._asdict(),
        "no_limits_because": s.no_limits or None,
        "signals": [
            {
                "rule": x.rule,
                "side": "high" if x.side > 0 else "low",
                "first_entry": checks[x.first].check.entry.number,
                "last_entry": checks[x.last].check.entry.number,
            }
            for x in s.signals
        ],
        "drift": None
        if d is None
        else {
            "slope": d.slope,
            "low": d.low,
            "high": d.high,
            "certain": d.certain,
            "months_left": d.months_left,
        },
        "no_drift_because": s.no_drift or None,
    }


def _back(one: LookBack) -> dict[str, Any]:
    def entry(j: Judged | None) -> int | None:
        return None if j is None else j.check.entry.number

    return {
        "failed_entry": one.failed.check.entry.number,
        "last_pass_entry": entry(one.last_pass),
        "next_pass_entry": entry(one.next_pass),
        "failed_before_entry": entry(one.failed_before),
        "passed_otherwise": [entry(j) for j in one.passed_otherwise],
        "results": [_doubted(d) for d in one.results],
    }


def _doubted(d: Doubted) -> dict[str, Any]:
    r: Measured = d.result
    return {
        "file": r.file,
        "line": r.line,
        "measured": r.written,
        "method": r.method,
        "revision": r.setup.revision,
        "lot": r.lot,
        "sample": r.sample,
        "result": r.name,
        "reported": r.reported,
        "value": r.value,
        "unit": r.unit,
        "verdict": r.verdict,
        "stands": r.stands,
        "torque": r.torque,
        "after_fail": d.after,
        "if_offset": d.if_offset,
        "if_proportional": d.if_proportional,
        "could_change": d.could_change,
        "why": d.why,
    }
