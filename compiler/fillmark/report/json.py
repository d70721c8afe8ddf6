"""Findings as JSON, in the shape of `schemas/diagnostics.schema.json`."""

import json
from collections.abc import Sequence
from typing import Any

from fillmark import __version__
from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.pipeline import Compiled
from fillmark.report import found_in, policy_of


def write(done: Sequence[Compiled]) -> str:
    """Write the findings of a run as one JSON text."""
    found = found_in(done)
    policy = policy_of(done)
    whole = {
        "fillmark": __version__,
        "policy": None
        if policy is None
        else {"version": policy.version, "changed": {key: policy.texts[key] for key in policy.changed}},
        "files": len(done),
        "found": tally(found),
        "diagnostics": [as_data(d) for d in found],
    }
    return json.dumps(whole, ensure_ascii=False, indent=2)


def tally(diagnostics: Sequence[Diagnostic]) -> dict[str, int]:
    """Count what was found by weight; waived findings count apart."""
    counts = {s.word: 0 for s in sorted(Severity, reverse=True)}
    for diagnostic in diagnostics:
        if diagnostic.waived_by is None:
            counts[diagnostic.severity.word] += 1
    return {**counts, "waived": sum(d.waived_by is not None for d in diagnostics)}


def as_data(diagnostic: Diagnostic) -> dict[str, Any]:
    """Give one finding as plain data, in the shape the schema has for it."""
    return {
        "code": diagnostic.code,
        "slug": diagnostic.slug,
        "severity": diagnostic.severity.word,
        "message": diagnostic.message,
        "file": diagnostic.file,
        **_place(diagnostic.span),
        "path": list(diagnostic.path),
        "ways_out": list(diagnostic.ways_out),
        "related": [
            {"note": r.note, "path": list(r.path), **(_place(r.span) if r.span is not None else {})}
            for r in diagnostic.related
        ],
        "waived_by": diagnostic.waived_by,
    }


def _place(span: Span) -> dict[str, int]:
    return {
        "line": span.line,
        "column": span.column,
        "end_line": span.end_line,
        "end_column": span.end_column,
    }
