"""What a code means, in words, offline; and with a file, what it found there and the numbers behind it."""

from difflib import get_close_matches
from inspect import cleandoc
from textwrap import dedent, indent

from fillmark import (
    check,
    compare,
    files,
    first_principles,
    library,
    pipeline,
    policy,
    studies,
    validate,
    yaml_faults,
)
from fillmark.pipeline import Compiled
from fillmark.records import codes as records
from fillmark.reference import load
from fillmark.releases import bundle, copies, earlier, register, release, verify
from fillmark.rules import Rule, all_rules
from fillmark.training import assessment, packs
from fillmark.trending import measured, trends
from fillmark.verification import log as verification_log
from fillmark.verification import logbook

_TABLES = (
    files.CODES,
    yaml_faults.CODES,
    validate.CODES,
    policy.CODES,
    first_principles.CODES,
    check.CODES,
    pipeline.CODES,
    library.CODES,
    compare.CODES,
    records.CODES,
    logbook.CODES,
    verification_log.CODES,
    measured.CODES,
    trends.CODES,
    register.CODES,
    studies.CODES,
    release.CODES,
    bundle.CODES,
    earlier.CODES,
    verify.CODES,
    copies.CODES,
    assessment.CODES,
    packs.CODES,
)


def input_codes() -> dict[str, tuple[str, str]]:
    """Codes that are no rules: bad input, waivers, clashes."""
    return {code: entry for table in _TABLES for code, entry in table.items()}


def parts(rule: Rule) -> tuple[str, str, str]:
    """Give what is wrong, why it matters and when it may be set aside; ValueError where one lacks."""
    said = [" ".join(part.split()) for part in cleandoc(rule.text).split("\n\n") if part.strip()]
    if len(said) != 3:
        raise ValueError(f"{rule.code} says {len(said)} of 3 parts: what is wrong, why it matters, when not")
    return said[0], said[1], said[2]


def _rules() -> dict[str, Rule]:
    return {r.code: r for r in all_rules()}


def close_codes(code: str) -> list[str]:
    """Find codes spelled nearly like this one."""
    return get_close_matches(code.upper(), [*_rules(), *input_codes()], n=3, cutoff=0.5)


def _listing() -> str:
    lines = [f"{r.code}  {r.severity.word:8}{r.slug}" for r in _rules().values()]
    lines += [f"{code}  {'input':8}{slug}" for code, (slug, _) in sorted(input_codes().items())]
    return "\n".join(lines)


def _rule(rule: Rule) -> str:
    reference, _ = load()
    titles = reference.sources if reference is not None else {}
    sources = [f"{titles[s].title} ({titles[s].known})" if s in titles else s for s in rule.sources]
    waiver = "can be waived with a reason" if rule.waivable else "cannot be waived"
    parts = [
        f"{rule.code} {rule.slug} ({rule.severity.word}; {waiver})",
        dedent(rule.text).strip(),
        f"Right, in {rule.example.method}:\n{indent(dedent(rule.example.right).strip(), '    ')}",
        f"Wrong:\n{indent(dedent(rule.example.wrong).strip() or '(left out)', '    ')}",
        "Source:\n" + "\n".join(f"    {s}" for s in sources),
    ]
    return "\n\n".join(parts)


def _found(code: str, compiled: Compiled) -> str:
    found = [d for d in compiled.diagnostics if d.code == code]
    if compiled.checked is None and compiled.diagnostics and not found:
        first = compiled.diagnostics[0]
        return (
            f"In {compiled.file}: not judged, for the file does not get as far as that. "
            f"Line {first.span.line}: {first.code} {first.message}"
        )
    lines = [f"In {compiled.file}: {len(found)} finding{'' if len(found) == 1 else 's'}."]
    for d in found:
        lines.append(f"  line {d.span.line}: {d.message}")
        lines.extend(f"    - {way}" for way in d.ways_out)
    if compiled.checked is not None:
        lines.extend(f"  not judged: {why}" for rule, why in compiled.checked.not_judged if rule.code == code)
    steps = {str(d.path[1]) for d in found if len(d.path) > 1 and d.path[0] == "run"}
    if found and compiled.figures is not None and compiled.method is not None:
        prefixes = [f"run.{compiled.method.run[int(s)].name}." for s in sorted(steps) if s.isdigit()]
        shown = [f for k, f in compiled.figures.items() if any(k.startswith(p) for p in prefixes)]
        if shown:
            lines.append("  The numbers behind it:")
            lines.extend(f"    {f.title}: {f.text}   [{f.formula}]" for f in shown)
    return "\n".join(lines)


def explain(code: str, compiled: Compiled | None = None) -> str | None:
    """Explain a code (or `list` all of them); None where there is no such code.

    `compiled` adds what the code found in that file and the figures of the steps concerned.
    """
    if code.lower() == "list":
        return _listing()
    code = code.upper()
    rules, inputs = _rules(), input_codes()
    by_slug = {r.slug: r.code for r in rules.values()} | {slug: c for c, (slug, _) in inputs.items()}
    code = by_slug.get(code.lower(), code)
    if code in rules:
        text = _rule(rules[code])
    elif code in inputs:
        slug, what = inputs[code]
        text = f"{code} {slug}\n\n{what}"
    else:
        return None
    return text if compiled is None else f"{text}\n\n{_found(code, compiled)}"
