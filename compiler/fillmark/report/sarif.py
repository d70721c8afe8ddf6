"""Findings as SARIF 2.1.0 (OASIS), which code hosts show as alerts.

Every code that can be found is listed with its documentation, so that a viewer needs nothing else. Names of
files are relative to the current folder, which is meant to be the top of the repository.
"""

import json
import os
import re
from collections.abc import Mapping, Sequence
from inspect import cleandoc
from pathlib import Path
from typing import Any
from urllib.parse import quote

from fillmark import __version__
from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.explain import input_codes, parts
from fillmark.files import CODES as UNREADABLE
from fillmark.model import Citation, Waiver
from fillmark.pipeline import Compiled
from fillmark.reference import load
from fillmark.report import below_here, found_in, policy_line, policy_of, shown, waivers, why_waived
from fillmark.rules import Rule, all_rules

_SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
_LEVELS = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.ADVICE: "note"}
_Object = dict[str, Any]


def write(done: Sequence[Compiled]) -> str:
    """Write the findings of a run as one SARIF log."""
    described = _codes()
    index = {entry["id"]: number for number, entry in enumerate(described)}
    found = found_in(done)
    policy = policy_line(policy_of(done))
    run = {
        "tool": {"driver": {"name": "fillmark", "version": __version__, "rules": described}},
        "columnKind": "unicodeCodePoints",
        "invocations": [{"executionSuccessful": not any(d.code in UNREADABLE for d in found)}],
        "artifacts": [{"location": _location(one.file), "roles": ["analysisTarget"]} for one in done],
        "results": [result for one in done for result in _results(one, index)],
        **({"properties": {"sitePolicy": policy}} if policy else {}),
    }
    return json.dumps({"$schema": _SCHEMA, "version": "2.1.0", "runs": [run]}, ensure_ascii=False, indent=1)


def _codes() -> list[_Object]:
    reference, _ = load()
    titles = reference.sources if reference is not None else {}
    inputs = [
        {
            "id": code,
            "name": _pascal(slug),
            "shortDescription": {"text": _first_sentence(what)},
            "fullDescription": {"text": what},
            "help": {"text": what},
            # Only a waiver that is not needed weighs less.
            "defaultConfiguration": {"level": "warning" if code == "WAI02" else "error"},
            "properties": {"tags": ["input"]},
        }
        for code, (slug, what) in sorted(input_codes().items())
    ]
    return [_rule(rule, titles) for rule in all_rules()] + inputs


def _rule(rule: Rule, titles: Mapping[str, Citation]) -> _Object:
    what, why, aside = parts(rule)
    sources = [f"{titles[s].title} ({titles[s].known})" if s in titles else s for s in rule.sources]
    right, wrong = cleandoc(rule.example.right), cleandoc(rule.example.wrong) or "# left out"
    plain = f"{why}\n\nWhen it may be set aside: {aside}\n\nSource: {'; '.join(sources)}"
    marked = (
        f"{why}\n\n**When it may be set aside:** {aside}\n\n**Right**\n\n```yaml\n{right}\n```\n\n"
        f"**Wrong**\n\n```yaml\n{wrong}\n```\n\n**Source:** {'; '.join(sources)}"
    )
    return {
        "id": rule.code,
        "name": _pascal(rule.slug),
        "shortDescription": {"text": _first_sentence(what)},
        "fullDescription": {"text": f"{what} {why}"},
        "help": {"text": plain, "markdown": marked},
        "defaultConfiguration": {"level": _LEVELS[rule.severity]},
        "properties": {"tags": [rule.topic], "waivable": rule.waivable},
    }


def _pascal(slug: str) -> str:
    return "".join(word.capitalize() for word in slug.split("-"))


def _first_sentence(text: str) -> str:
    return re.split(r"(?<=\.)\s", text, maxsplit=1)[0]


def _results(one: Compiled, index: Mapping[str, int]) -> list[_Object]:
    waived = waivers(one)
    return [_result(d, index, one, waived.get(d.code)) for d in one.diagnostics]


def _result(
    diagnostic: Diagnostic, index: Mapping[str, int], one: Compiled, waiver: Waiver | None
) -> _Object:
    result: _Object = {
        "ruleId": diagnostic.code,
        "ruleIndex": index[diagnostic.code],
        "level": _LEVELS[diagnostic.severity],
        "message": {"text": _message("\n- ".join((diagnostic.message, *diagnostic.ways_out)))},
        "locations": [_place(diagnostic.file, diagnostic.span)],
    }
    if diagnostic.related:
        result["relatedLocations"] = [
            {"id": number, **_place(diagnostic.file, r.span), "message": {"text": _message(r.note)}}
            for number, r in enumerate(diagnostic.related, 1)
        ]
    if diagnostic.waived_by is not None:
        # The waiver stands in the method itself, hence in the source.
        suppression: _Object = {
            "kind": "inSource",
            "status": "accepted",
            "justification": shown(why_waived(diagnostic, waiver)),
        }
        if waiver is not None and one.source is not None:
            suppression["location"] = _place(one.file, one.source.span(waiver.path))
        result["suppressions"] = [suppression]
    return result


def _message(text: str) -> str:
    r"""Keep a text of a method from being read as a link: `[text](place)` becomes `\[text\](place)`."""
    return re.sub(r"\[([^][]*)\](?=\()", r"\\[\1\\]", shown(text))


def _place(file: str, span: Span | None) -> _Object:
    place: _Object = {"artifactLocation": _location(file)}
    if span is not None:
        place["region"] = {
            "startLine": span.line,
            "startColumn": span.column,
            "endLine": span.end_line,
            "endColumn": span.end_column,
        }
    return {"physicalLocation": place}


def _location(file: str) -> dict[str, str]:
    """Give the URI of a file: relative to the repository where it lies below the current folder."""
    near = below_here(file)
    if near is None:
        return {"uri": Path(os.path.abspath(file)).as_uri()}  # noqa: PTH100 - links are kept, and may go round
    # Bytes, for a name may be no UTF-8 at all.
    return {"uri": quote(os.fsencode(near)), "uriBaseId": "%SRCROOT%"}
