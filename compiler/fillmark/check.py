"""Stage 5: run the rules over a method and its figures, apply waivers, and give findings their places."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from fillmark.diagnostics import Diagnostic, Related, Severity
from fillmark.figures import Figures
from fillmark.model import Method, Waiver
from fillmark.read import Source
from fillmark.rules import Finding, NotJudged, Rule, all_rules

CODES: dict[str, tuple[str, str]] = {
    "WAI01": (
        "waiver-not-valid",
        "A waiver that does not hold: the rule cannot be waived, or the waiver has lapsed.",
    ),
    "WAI02": ("waiver-unused", "A waiver for a rule that finds nothing in this method."),
}


@dataclass(frozen=True, slots=True)
class Checked:
    """What the rules said: findings with their rule and, where waived, the waiver; and what was not judged."""

    findings: tuple[tuple[Rule, Finding, Waiver | None], ...]
    not_judged: tuple[tuple[Rule, str], ...]
    waiver_faults: tuple[tuple[str, Waiver, str, tuple[str, ...]], ...]
    """(code, waiver, message, ways out)"""


def _fault(
    waiver: Waiver, rule: Rule | None, method: Method, figures: Figures, today: date | None
) -> str | None:
    """Say why a waiver does not hold, or None where it does."""
    if rule is None:
        return f"There is no rule {waiver.rule}."
    if not rule.waivable:
        return f"{rule.code} {rule.slug} cannot be waived: it is a contradiction, impossible, or a matter of safety."
    if method.people.wrote(waiver.approved_by):
        return f"{waiver.approved_by} wrote the method and cannot approve its waiver."
    if today is not None and waiver.expires is not None and waiver.expires < today:
        return f"The waiver of {rule.code} expired on {waiver.expires}."
    if method.review_by is not None and waiver.expires is not None and waiver.expires > method.review_by:
        return f"The waiver of {rule.code} runs to {waiver.expires}, past the review on {method.review_by}."
    for key, text in waiver.rests_on.items():
        now = figures[key].text if key in figures else None
        if now != text:
            return f"The waiver of {rule.code} rests on {key} = {text}; it is now {now or 'not known'}."
    return None


def check(method: Method, figures: Figures, *, today: date | None = None) -> Checked:
    """Run every rule; `today` judges whether waivers have expired (None: dates are not judged)."""
    rules = all_rules()
    by_code = {r.code: r for r in rules} if method.waivers else {}
    faults: list[tuple[str, Waiver, str, tuple[str, ...]]] = []
    valid: dict[str, Waiver] = {}
    for waiver in method.waivers:
        fault = _fault(waiver, by_code.get(waiver.rule), method, figures, today)
        if fault is None:
            valid[waiver.rule] = waiver
        else:
            ways = (
                "Mend what the rule finds and take the waiver out.",
                "Or have the waiver judged and approved anew.",
            )
            faults.append(("WAI01", waiver, fault, ways))
    findings: list[tuple[Rule, Finding, Waiver | None]] = []
    not_judged: list[tuple[Rule, str]] = []
    for rule in rules:
        for outcome in rule.judge(method, figures):
            if isinstance(outcome, NotJudged):
                not_judged.append((rule, outcome.reason))
            else:
                findings.append((rule, outcome, valid.get(rule.code)))
    used = {r.code for r, _, w in findings if w is not None}
    for code, waiver in valid.items():
        if code not in used:
            message = f"{code} finds nothing in this method; its waiver is not needed."
            ways = (
                "Take the waiver out.",
                "Or check that the value it was written for still stands in the method.",
            )
            faults.append(("WAI02", waiver, message, ways))
    return Checked(tuple(findings), tuple(not_judged), tuple(faults))


def diagnose(source: Source, checked: Checked) -> list[Diagnostic]:
    """Give each finding its place in the file."""

    def placed(related: Sequence[Related]) -> tuple[Related, ...]:
        return tuple(Related(r.note, r.path, source.span(r.path)) for r in related)

    found = [
        Diagnostic(
            rule.code,
            rule.slug,
            finding.severity or rule.severity,
            finding.message,
            source.name,
            source.span(finding.path),
            finding.path,
            finding.ways_out,
            placed(finding.related),
            None if waiver is None else waiver.approved_by,
        )
        for rule, finding, waiver in checked.findings
    ]
    for code, waiver, message, ways in checked.waiver_faults:
        severity = Severity.ERROR if code == "WAI01" else Severity.WARNING
        span = source.span((*waiver.path, "rule"))
        found.append(
            Diagnostic(code, CODES[code][0], severity, message, source.name, span, waiver.path, ways)
        )
    return found
