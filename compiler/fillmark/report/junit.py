"""Findings as JUnit XML, which CI servers show as test results.

A suite is a file, a case is a rule that looked at it. With one case a file a viewer would show the first
finding only. With cases for findings alone a mended rule would vanish, where a viewer is meant to say that it
passes again; so each rule that judged has its case in every run. Errors and warnings fail a case; a waived
rule and one that could not judge are skipped, with the reason; advice passes and stands in the output.
"""

from collections.abc import Sequence
from xml.etree import ElementTree as ET

from fillmark.diagnostics import Diagnostic, Severity
from fillmark.model import Waiver
from fillmark.pipeline import Compiled
from fillmark.report import in_full, policy_line, policy_of, shown, waivers, why_waived
from fillmark.rules import all_rules


def write(done: Sequence[Compiled]) -> str:
    """Write all suites of a run as one XML text."""
    root = ET.Element("testsuites", name="fillmark")
    policy = policy_line(policy_of(done))
    root.extend(_suite(one, policy) for one in done)
    for count in ("tests", "failures", "errors", "skipped"):
        root.set(count, str(sum(int(suite.get(count, 0)) for suite in root)))
    ET.indent(root)
    # The text is written as UTF-8 by whoever prints it; ElementTree would name the encoding of the machine.
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ET.tostring(root, encoding="unicode")}'


def _suite(one: Compiled, policy: str | None) -> ET.Element:
    suite = ET.Element("testsuite", name=shown(one.file))
    if policy is not None:
        ET.SubElement(ET.SubElement(suite, "properties"), "property", name="site policy", value=shown(policy))
    found: dict[tuple[str, str], list[Diagnostic]] = {}
    if one.checked is not None:
        found |= {(rule.code, rule.slug): [] for rule in all_rules()}
    for diagnostic in one.diagnostics:
        found.setdefault((diagnostic.code, diagnostic.slug), []).append(diagnostic)
    waived, reasons = waivers(one), _not_judged(one)
    for (code, slug), diagnostics in found.items():
        name = f"{code} {slug}"
        case = ET.SubElement(suite, "testcase", name=name, classname=shown(one.file), file=shown(one.file))
        _judge(case, diagnostics, waived.get(code), reasons.get(code, ""))
    suite.set("tests", str(len(suite)))
    suite.set("failures", str(len(suite.findall("*/failure"))))
    suite.set("errors", "0")
    suite.set("skipped", str(len(suite.findall("*/skipped"))))
    return suite


def _not_judged(one: Compiled) -> dict[str, str]:
    """Give the reasons why rules could not judge, by their code."""
    reasons: dict[str, list[str]] = {}
    for rule, reason in one.checked.not_judged if one.checked is not None else ():
        reasons.setdefault(rule.code, []).append(reason)
    return {code: " ".join(dict.fromkeys(said)) for code, said in reasons.items()}


def _judge(
    case: ET.Element, diagnostics: Sequence[Diagnostic], waiver: Waiver | None, not_judged: str
) -> None:
    failing = [d for d in diagnostics if d.waived_by is None and d.severity > Severity.ADVICE]
    waived = [d for d in diagnostics if d.waived_by is not None]
    if failing:
        worst = max(d.severity for d in failing)
        first = f"line {failing[0].span.line}: {failing[0].message}"
        more = f" (and {len(failing) - 1} more)" if len(failing) > 1 else ""
        failure = ET.SubElement(case, "failure", type=worst.word, message=shown(first + more))
        failure.text = shown(_listed(failing))
    elif waived:
        ET.SubElement(case, "skipped", message=shown(why_waived(waived[0], waiver)))
    elif not_judged and not diagnostics:
        ET.SubElement(case, "skipped", message=shown(f"not judged: {not_judged}"))
    told = [d for d in diagnostics if d not in failing]
    if told:
        ET.SubElement(case, "system-out").text = shown(_listed(told))


def _listed(diagnostics: Sequence[Diagnostic]) -> str:
    return "\n\n".join(
        f"{d.file}:{d.span.line}:{d.span.column}: {d.severity.word} {in_full(d)}" for d in diagnostics
    )
