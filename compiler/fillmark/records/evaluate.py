"""From a record and its method to a result, every finding and every step of the calculation with it."""

from dataclasses import replace

from fillmark.documents.data_sheet import qualifiers
from fillmark.documents.wording import Phrases
from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.records.codes import found
from fillmark.records.fields import fields_of
from fillmark.records.judging import judge
from fillmark.records.readings import take
from fillmark.records.record import Finding, Record
from fillmark.records.result import Result, Working
from fillmark.records.results import report
from fillmark.records.sheet import Sheet, understood

SHORTEST = 8
"""Digits of the digest that the sheet prints, and that are compared at least."""


def evaluate(record: Record, method: Method, figures: Figures, digest: str, *, recalled: str = "") -> Result:
    """Judge a record by a method and work out its result; `digest` is the whole digest of the method.

    Where the sheet belongs to another revision or digest, nothing is worked out: its numbers would be judged by
    limits and factors that are not its own. `recalled` is why the whole revision was called back, if it was.
    """
    sheet = understood(record, method, figures, fields_of(method, figures, digest))
    wrong = _identity(sheet, digest)
    if wrong:
        kept = [f for f in sheet.findings if f.code not in ("EVA03", "EVA06", "EVA09")]
        return Result(
            record,
            method,
            figures,
            digest,
            sheet,
            tuple(sheet.entries),
            findings=_worst_first([*wrong, *kept]),
        )
    if any(f.code == "EVA43" for f in sheet.findings):
        return Result(
            sheet.record,
            method,
            figures,
            digest,
            sheet,
            tuple(sheet.entries),
            findings=_worst_first(sheet.findings),
        )
    if recalled:
        sheet.find(
            "EVA45",
            f"Revision {method.revision} was called back: {recalled}",
            "Have the reason judged against this result, in writing.",
            "Measure again by the revision in force.",
            field="method.revision",
        )
    judge(sheet)
    readings, workings = take(sheet)
    results, more, used = report(sheet, readings)
    line = (
        qualifiers(method, figures, Phrases(method.reference.phrases))
        .replace("\u00a0", " ")
        .replace("\u202f", "")
    )
    return Result(
        sheet.record,
        method,
        figures,
        digest,
        sheet,
        tuple(sheet.entries),
        tuple(replace(r, used=(r.no, r.step) in used) for r in readings),
        tuple(results),
        (*_factors(sheet), *workings, *more),
        line,
        _worst_first(sheet.findings),
    )


def unjudged(record: Record, finding: Finding | None = None) -> Result:
    """Give the result of a record that has no method to be judged by, or that cannot be read."""
    findings = (*record.findings, *(() if finding is None else (finding,)))
    return Result(record, None, None, "", None, findings=_worst_first(findings))


def _worst_first(findings: list[Finding] | tuple[Finding, ...]) -> tuple[Finding, ...]:
    order = sorted(
        enumerate(findings),
        key=lambda item: (-item[1].severity, item[1].place.line or 0, item[1].place.column or 0, item[0]),
    )
    return tuple(finding for _, finding in order)


def _identity(s: Sheet, digest: str) -> list[Finding]:
    m = s.method
    revision, printed = s.text("method.revision"), "".join(s.text("method.digest").split()).lower()
    spoiled = {f.field for f in s.findings}
    if revision and revision != str(m.revision):
        return [
            found(
                "EVA12",
                f"The sheet is of revision {revision}, and it would be judged by revision {m.revision}. "
                "Limits, factors and times "
                "may differ; nothing was worked out.",
                f"Judge it by its own: --method with the file or the released bundle of revision {revision}.",
                "If an old sheet was used by mistake, measure again on a current one.",
                field="method.revision",
                place=s.record.place("method.revision"),
            )
        ]
    if (
        printed
        and "method.digest" not in spoiled
        and (len(printed) < SHORTEST or not digest.startswith(printed))
    ):
        short = len(printed) < SHORTEST and digest.startswith(printed)
        what = (
            "is too short to tell methods apart"
            if short
            else f"is not that of {m.id} revision {m.revision} ({digest[:4]} {digest[4:8]})"
        )
        return [
            found(
                "EVA13",
                f"The digest {s.text('method.digest')[:80]} {what}: the text of the method, its reference "
                "data or the site policy have "
                "changed since the sheet was printed, or it was typed wrongly. Nothing was worked out.",
                "Judge it by what it was printed from: --method with that file or the released bundle.",
                "If it was typed wrongly, correct it from the head of the sheet.",
                field="method.digest",
                place=s.record.place("method.digest"),
            )
        ]
    return []


def _factors(s: Sheet) -> list[Working]:
    """Write out the factor of each step, from the coefficient."""
    made = []
    for step in s.method.run:
        figure, coefficient = s.figures[f"run.{step.name}.factor"], s.figures["coefficient"]
        made.append(
            Working(
                f"{step.name}: factor",
                figure.formula,
                f"{coefficient.text} / (100 · {step.speed.text})",
                figure.text,
                ", ".join(figure.sources),
            )
        )
    return made


def occasion(record: Record) -> str:
    """Give what tells one measurement from another: method, sample and time; without them, all that was typed."""
    said = {key: entry.text.strip() for key, entry in record.entries.items() if entry.text.strip()}
    names = ("method.id", "sample.number", "sample.measured")
    if all(name in said for name in names):
        return "\t".join(" ".join(said[name].casefold().split()) for name in names)
    return "\n".join(f"{key}\t{text}" for key, text in sorted(said.items()))


def again(record: Record, before: Record) -> Finding:
    """Say that a record is of the same occasion as one before it, and in what the two differ."""
    keys = sorted({*record.entries, *before.entries})
    other = [key for key in keys if record.text(key) != before.text(key)]
    shown = ", ".join(
        f"{key} ({before.text(key) or 'nothing'}, here {record.text(key) or 'nothing'})" for key in other[:3]
    )
    said = f"and differs in {len(other)} entries: {shown}" if other else "and says the same, entry by entry"
    return found(
        "EVA44",
        f"It is of the same method, sample and time as {before.file}, {before.name}, {said}.",
        "Leave one of the two out, with a reason: a result counts once.",
        "If they are two measurements, correct sample or time of one.",
        field="sample.number",
        place=record.place("sample.number"),
    )
