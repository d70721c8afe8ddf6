"""The result page: what came of a filled record, every step of it in digits, and who stands for it.

It is planned from a result as `result.schema.json` describes it, so that a stored result prints the same page.
Nothing is computed here.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import PurePath
from typing import Any

from fillmark.documents import Box, Cell, Document, Field, Lines, Section, Side, Span, Table, Text, terms
from fillmark.documents.head import head
from fillmark.documents.wording import Phrases, light, on_paper, strong
from fillmark.model import Method
from fillmark.quantities import brief

Data = Mapping[str, Any]

EQUIPMENT = (
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


def plan_result(method: Method, digest: str, result: Data, *, print_date: date | None = None) -> Document:
    """Plan the page of a result; `result` is plain data in the shape of result.schema.json."""
    phrases = Phrases(method.reference.phrases)
    parts: list[tuple[str, tuple[Box | Table, ...]]] = [
        (phrases.word("section-outcome"), _outcome(method, result, phrases)),
        (phrases.word("section-measured"), (_particulars(result, phrases),)),
    ]
    if result["findings"]:
        parts.append((phrases.word("section-found"), (_findings(result, phrases),)))
    parts += [
        (phrases.word("section-taken"), (_readings(method, result, phrases),)),
        (phrases.word("section-steps"), (_steps(result, phrases),)),
        (phrases.word("section-used"), _used(result, phrases)),
        (phrases.word("section-understood"), _understood(result, phrases)),
        (phrases.word("section-signatures"), (_signatures(result, phrases),)),
    ]
    letters = "ABCDEFGHIJ"
    sections = tuple(Section(letters[i], title, blocks) for i, (title, blocks) in enumerate(parts) if blocks)
    top = head(method, phrases, digest, paper="paper-result", print_date=print_date)
    return Document(
        kind="result",
        language="en",
        head=replace(top, valid=""),
        sides=(Side(1, sections),),
        foot=(phrases.line("result-foot", sha256=result["record"]["sha256"], version=result["fillmark"]),),
    )


def number(value: float | None, unit: str = "", digits: int = 10) -> str:
    """Write a number of a result with its unit, for paper; nothing where there is none."""
    if value is None:
        return ""
    text = brief(value, digits)
    return on_paper(f"{text} {unit}".strip()).replace("-", "\u2212")


def _when(text: str | None) -> str:
    return "" if text is None else text.replace("T", " ")


def _outcome(m: Method, result: Data, phrases: Phrases) -> tuple[Box | Table, ...]:
    stands = phrases.line("result-stands" if result["stands"] else "result-stands-not")
    rows: list[tuple[Cell, ...]] = []
    why: list[Text] = []
    for one in result["results"]:
        limits = terms.limits(m.limit(one["name"]), phrases)
        verdict = phrases.word(f"result-{one['verdict']}")
        if not result["stands"] and one["verdict"] in ("in", "out"):
            verdict = phrases.word("result-not-settled", verdict=verdict)
        spread = ""
        if one["range"] is not None:
            spread = number(one["range"], one["range_unit"] or "", 5)
            if one["range_allowed"] is not None:
                spread += f" ({phrases.word('limit-at-most', limit=number(one['range_allowed'], '', 5))})"
        rows.append(
            (
                strong(one["name"]),
                light(number(one["value"], one["unit"])),
                light(spread),
                strong(on_paper(one["reported"]) or phrases.word("result-nothing")),
                light(limits),
                strong(verdict),
            )
        )
        if one["why"]:
            why.append((Span(f"{one['name']}: ", strong=True), Span(on_paper(one["why"]))))
    blocks: list[Box | Table] = [Box("", (stands,))]
    if rows:
        blocks.append(Table("reported", phrases.words("table-reported"), tuple(rows), tuple(why)))
    if result["qualifiers"] and result["stands"]:
        blocks.append(Box(phrases.word("qualifiers-title"), (light(result["qualifiers"]),)))
    return tuple(blocks)


def _particulars(result: Data, phrases: Phrases) -> Table:
    sample, people = result["sample"], result["people"]
    age = ""
    if sample["age"] is not None:
        hours = sample["age"] >= 7200
        age = number(sample["age"] / (3600 if hours else 60), "h" if hours else "min", 4)
        age = f", {phrases.word('record-age', age=age)}"
    pairs = (
        ("entry-sample", sample["number"]),
        ("entry-lot", sample["lot"]),
        ("entry-sampled", _when(sample["sampled"])),
        ("entry-prepared", _when(sample["prepared"])),
        ("entry-tested", _when(sample["measured"]) + age),
        ("entry-analyst-name", people["analyst"]),
        ("signature-checked", people["checker"]),
        ("record-file", f"{PurePath(result['record']['file']).name}, {result['record']['name']}"),
    )
    cells = [(light(phrases.word(key)), strong(text or phrases.word("not-given"))) for key, text in pairs]
    rows = tuple((*cells[i], *cells[i + 1]) for i in range(0, len(cells), 2))
    return Table("sampled", (), rows)


def _findings(result: Data, phrases: Phrases) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for f in result["findings"]:
        where = f["cell"] or ("" if f["line"] is None else phrases.word("result-row", row=str(f["line"])))
        said = (light(on_paper(f["message"])), *(light(f"\u25aa {on_paper(way)}") for way in f["ways_out"]))
        place = tuple(light(text) for text in (f["field"], where) if text)
        rows.append((Lines((strong(f["code"]), light(f["severity"]))), Lines(said), Lines(place)))
    return Table("found", phrases.words("table-found"), tuple(rows))


def _readings(m: Method, result: Data, phrases: Phrases) -> Table:
    digital = m.instrument.readout == "digital"
    typed = {e["field"]: e["typed"].strip() for e in result["entries"]}
    rows: list[tuple[Cell, ...]] = []
    for r in result["readings"]:
        key = f"reading.{r['no']}.{r['step']}."
        rows.append(
            (
                light(str(r["no"])),
                light(on_paper(r["speed"])),
                light("" if r["start"] is None else r["start"][11:]),
                light(number(r["after"], "s", 5)),
                light(typed.get(key + "before", "")),
                strong(typed.get(key + "torque", "")),
                *((light(typed.get(key + "display", "")),) if digital else ()),
                strong(on_paper(r["text"]) or phrases.word("result-nothing")),
                light(typed.get(key + "after", "")),
                light(phrases.word("result-went-in" if r["used"] else "result-left-out")),
            )
        )
    heads = [h for h in phrases.words("table-taken") if digital or h != phrases.word("readings-display")]
    return Table("taken", tuple(heads), tuple(rows))


def _steps(result: Data, phrases: Phrases) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (
            light(on_paper(s["title"])),
            Lines((light(s["formula"]), light(on_paper(s["digits"])))),
            strong(on_paper(s["text"])),
            light(s["source"]),
        )
        for s in result["steps"]
    ]
    return Table("worked", phrases.words("table-worked"), tuple(rows))


def _used(result: Data, phrases: Phrases) -> tuple[Table, ...]:
    rows: list[tuple[Cell, ...]] = []
    for name in EQUIPMENT:
        piece = result["equipment"][name]
        if piece is None:
            continue
        kind = ", ".join(str(piece[k]) for k in ("spring", "kind", "state") if piece.get(k))
        rows.append(
            (
                light(phrases.word(f"device-{name}")),
                light(kind),
                strong(piece["id"] or ""),
                light(piece["due"] or ""),
            )
        )
    tables = [Table("used", phrases.words("table-used"), tuple(rows))] if rows else []
    zero, check = result["zero"], result["verification"]
    lines: list[tuple[Cell, ...]] = []
    if zero is not None:
        lines.append((light(phrases.word("record-zero")), strong(number(zero, "%"))))
    if check is not None:
        passed = {True: "result-passed", False: "result-failed", None: "result-not-judged"}[check["passed"]]
        told = phrases.word(
            "result-check",
            fluid=check["fluid"],
            lot=check["lot"] or phrases.word("not-given"),
            due=check["due"] or phrases.word("not-given"),
            temperature=number(check["temperature"], "°C"),
            torque=number(check["torque"], "%"),
            reading=number(check["reading"], check["unit"]),
            lower=number(check["lower"]),
            upper=number(check["upper"], check["unit"]),
            verdict=phrases.word(passed),
        )
        lines.append((light(phrases.word("section-verification")), light(told)))
    return (*tables, *((Table("checked", (), tuple(lines)),) if lines else ()))


def _understood(result: Data, phrases: Phrases) -> tuple[Table | Box, ...]:
    entries: Sequence[Data] = result["entries"]
    rows: list[tuple[Cell, ...]] = []
    for e in entries:
        if not e["how"] and not e["corrections"]:
            continue
        changes = tuple(
            light(
                phrases.word(
                    "result-correction",
                    was=c["was"] or phrases.word("not-given"),
                    by=c["by"] or phrases.word("not-given"),
                    when=c["when"],
                    reason=c["reason"],
                )
            )
            for c in e["corrections"]
        )
        how = (light(e["how"]),) if e["how"] else ()
        rows.append(
            (light(e["field"]), light(e["typed"]), strong(on_paper(e["understood"])), Lines((*how, *changes)))
        )
    notes = (
        phrases.line(
            "result-entries", count=str(len([e for e in entries if e["typed"].strip()])), here=str(len(rows))
        ),
    )
    unread = tuple(light(phrases.word("result-unread", what=text)) for text in result["unread"])
    if rows:
        return (Table("understood", phrases.words("table-understood"), tuple(rows), (*notes, *unread)),)
    return (Box("", (*notes, *unread)),)


def _signatures(result: Data, phrases: Phrases) -> Table:
    program: tuple[Cell, ...] = (
        phrases.line("result-calculated"),
        light(phrases.word("result-program", version=result["fillmark"])),
        light("\u2013"),
        light("\u2013"),
    )
    rows: list[tuple[Cell, ...]] = [program]
    for key, name in (("signature-checked", "checker"), ("signature-accepted-plain", "accepted_by")):
        rows.append((phrases.line(key), light(result["people"][name] or ""), Field(), Field()))
    return Table("signatures", phrases.words("table-signatures"), tuple(rows))
