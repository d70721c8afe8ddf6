"""A pack for each trainee of a list: training sheet, competency form and a training copy of the checklist.

The pages are laid out once and drawn for each trainee with the name over them; those with the answers stay
out of the packs and come once, in a file for trainer and assessor. Names come from other people's
spreadsheets: they are printed as text, and no file is named by them but by number and plain letters.
"""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from html import escape
from pathlib import Path

from fillmark.build import slips
from fillmark.csv_text import MOST_CELLS, Cell, NoCsvError, decoded, delimiter_of, parted
from fillmark.diagnostics import Diagnostic, Severity, Span
from fillmark.digest import digest
from fillmark.documents import Document
from fillmark.documents.checklist import plan_checklist
from fillmark.documents.competency import plan_competency
from fillmark.documents.training import plan_training
from fillmark.documents.wording import Phrases
from fillmark.names import known_as
from fillmark.pipeline import Compiled
from fillmark.publish import write_whole
from fillmark.read import LARGEST, unseen_in
from fillmark.spreadsheet import csv_bytes

MOST = 10_000
"""Trainees of one list."""
LONGEST = 80
"""Letters of a name that fit on the margin of a page."""
INDEX, ANSWERS = "index.csv", "answers"
LANGUAGE = "en"

CODES: dict[str, tuple[str, str]] = {
    "PCK01": ("list-unreadable", "A list of names that is no CSV as it should be, or larger than any class."),
    "PCK02": ("list-without-names", "A list of which no column is called name, or which names nobody."),
    "PCK03": ("name-unprintable", "A name that is missing, too long, or holds signs that cannot be seen."),
    "PCK04": ("trainee-twice", "The same name and number again; one pack is made."),
    "PCK05": (
        "language-not-at-hand",
        "A language that the papers do not speak; they are printed in English.",
    ),
}


@dataclass(frozen=True, slots=True)
class Trainee:
    """A person of the list."""

    number: int
    """Of the pack, from 1."""
    name: str
    id: str
    """As the list has it; empty where it has none."""
    line: int


@dataclass(frozen=True, slots=True)
class Roster:
    """What a list says."""

    trainees: tuple[Trainee, ...]
    diagnostics: tuple[Diagnostic, ...]


@dataclass(frozen=True, slots=True)
class Pack:
    """What was made for a trainee."""

    trainee: Trainee
    file: Path


# --- the list


def read_roster(data: bytes, name: str) -> Roster:
    """Read a list of names: CSV in UTF-8 with a column `name`, perhaps `id` and `language`.

    Comma, semicolon or tab between the cells, a mark of UTF-8 at the beginning, empty lines: all are taken. Every
    fault is told with line and column of the CSV.
    """
    try:
        text = decoded(data, largest=LARGEST)
        headings = next((line for line in text.split("\n") if line.strip()), "")
        return _of_rows(list(parted(text, delimiter_of(headings))), name)
    except NoCsvError as error:
        message, way = _NO_CSV[error.why]
        return _unusable(name, "PCK01", message.format(line=error.line), way, line=error.line)


_NO_CSV = {
    "wide": (
        f"Line {{line}} has more than {MOST_CELLS} cells: that is no list of names.",
        "Look for a line end that is missing.",
    ),
    "large": (f"The list is larger than {LARGEST} bytes.", "Give one class at a time."),
    "half": ("The list is no UTF-8: it holds NUL bytes.", "Save the list as CSV in UTF-8."),
    "nul": ("The list holds NUL bytes: it is no text.", "Save the list as CSV in UTF-8."),
    "letters": (
        "Line {line} holds bytes that are no UTF-8: names would be printed with wrong letters.",
        "Save the list as CSV in UTF-8; spreadsheets offer it under Save As.",
    ),
    "open": (
        "Line {line} cannot be read as CSV: a quotation mark was opened and not closed.",
        "Double a quotation mark inside a quoted cell, and close what was opened.",
    ),
    "behind": (
        "Line {line} cannot be read as CSV: something stands behind a closing quotation mark.",
        "Double a quotation mark inside a quoted cell, and close what was opened.",
    ),
}


def _tell(
    name: str, code: str, message: str, *ways: str, line: int = 1, column: int = 1, severity: Severity = Severity.ERROR
) -> Diagnostic:  # fmt: skip
    return Diagnostic(
        code, CODES[code][0], severity, message, name, Span(line, column, line, column), ways_out=ways
    )


def _unusable(name: str, code: str, message: str, way: str, *, line: int = 1) -> Roster:
    ways = (way, "Or write the names into a new list: a first line `name,id`, then one trainee a line.")
    return Roster((), (_tell(name, code, message, *ways, line=line),))


def _of_rows(rows: Sequence[Sequence[Cell]], name: str) -> Roster:
    filled = [row for row in rows if any(cell.text.strip() for cell in row)]
    heads = [cell.text for cell in filled[0]] if filled else []
    titles = [h.strip().casefold() for h in heads]
    if "name" not in titles:
        listed = ", ".join(repr(h)[:40] for h in heads[:8]) or "nothing"
        return _unusable(
            name, "PCK02", f"The first line names no column `name`; it holds {listed}.",
            "Write `name` over the column with the names, and `id` over that with the numbers, if there is one.",
        )  # fmt: skip
    at = {key: titles.index(key) for key in ("name", "id", "language") if key in titles}
    trainees: list[Trainee] = []
    found: list[Diagnostic] = []
    seen: dict[tuple[str, str], int] = {}
    for row in filled[1:]:
        line = row[0].line
        person = {key: " ".join(row[i].text.split()) if i < len(row) else "" for key, i in at.items()}
        fault = _name_fault(person["name"], person.get("id", ""))
        if fault:
            found.append(
                _tell(
                    name, "PCK03", f"Line {line}: {fault}", "Correct the cell, and make the packs again.",
                    "Or take the line out, and write that pack by hand.", line=line, column=at["name"] + 1,
                )
            )  # fmt: skip
            continue
        who = (known_as(person["name"]), person.get("id", "").casefold())
        if who in seen:
            shown = person["name"] + (f" ({person['id']})" if person.get("id") else "")
            found.append(
                _tell(
                    name, "PCK04", f"Line {line}: {shown} stands in line {seen[who]} already; one pack is made.",
                    "Give each a number in a column `id`, if these are two people.", "Or take the line out.",
                    line=line, column=at["name"] + 1, severity=Severity.WARNING,
                )
            )  # fmt: skip
            continue
        seen[who] = line
        wanted = person.get("language", "").casefold()
        if wanted and wanted.split("-")[0] != LANGUAGE:
            found.append(
                _tell(
                    name, "PCK05", f"Line {line}: there are no phrases in {person['language'][:20]!r}; the pack "
                    f"is in English.",
                    "Go through it with somebody who speaks both.", "Or put the phrases into "
                    "shared/phrases.yaml, translated.",
                    line=line, column=at["language"] + 1, severity=Severity.ADVICE,
                )
            )  # fmt: skip
        trainees.append(Trainee(len(trainees) + 1, person["name"], person.get("id", ""), line))
        if len(trainees) > MOST:
            return _unusable(
                name,
                "PCK01",
                f"The list names more than {MOST} trainees.",
                "Give one class at a time.",
                line=line,
            )
    if not trainees and not found:
        return _unusable(
            name, "PCK02", "The list names nobody.", "Write one trainee a line under the column `name`."
        )
    return Roster(tuple(trainees), tuple(found))


def _name_fault(name: str, id_: str) -> str:
    if not name:
        return "there is no name."
    for what, text, most in (("name", name, LONGEST), ("id", id_, 40)):
        if len(text) > most:
            return f"the {what} has {len(text)} letters; {most} fit on a page."
        hidden = sorted(unseen_in(text))
        if hidden:
            signs = ", ".join(f"U+{ord(c):04X}" for c in hidden[:4])
            return f"the {what} holds signs that cannot be seen ({signs}); it would be printed otherwise than it reads."
    return ""


# --- the packs


def file_name(trainee: Trainee, method_id: str, revision: int) -> str:
    """Name the file of a pack by number and plain letters, whatever the name is."""
    bare = unicodedata.normalize("NFKD", trainee.name).encode("ascii", "ignore").decode()
    plain = re.sub(r"[^a-z0-9]+", "-", bare.casefold()).strip("-")[:40].strip("-")
    return f"{trainee.number:03}{f'-{plain}' if plain else ''}-{method_id}-r{revision}.pdf"


def plans(compiled: Compiled, *, print_date: date) -> tuple[tuple[Document, ...], tuple[Document, ...]]:
    """Plan the papers of a pack, and the pages with the answers, which are not for the trainee.

    A pack has the training sheet, the competency form and the checklist marked TRAINING. ValueError for a method
    that did not compile.
    """
    method, figures = compiled.method, compiled.figures
    if method is None or figures is None:
        raise ValueError("a method that did not compile has no documents")
    mark, budget = digest(method), slips(method, figures)
    checklist = plan_checklist(method, figures, mark, print_date=print_date)
    across = Phrases(method.reference.phrases).words("training-mark")
    # The word stands where DRAFT would, so that the checklist keeps to its two pages; a draft needs room for both.
    head = (
        replace(checklist.head, across=across)
        if checklist.head.draft
        else replace(checklist.head, draft=across[0])
    )
    taught = (
        plan_training(method, figures, mark, budget, print_date=print_date),
        plan_competency(method, figures, mark, budget, print_date=print_date),
    )
    answers = tuple(replace(one, sides=one.sides[-1:]) for one in taught)
    handed_out = (replace(one, sides=one.sides[:-1]) for one in taught)
    return (*handed_out, replace(checklist, head=head)), answers


def make(compiled: Compiled, roster: Roster, folder: Path, *, paper: str, print_date: date) -> Iterator[Pack]:
    """Make the packs of a list one by one, and last of all the index; OSError where they cannot be written.

    PrintingUnavailable where this machine makes no PDF.
    """
    from fillmark.printing import Laid, lay_out, stamped  # noqa: PLC0415 - only a PDF needs the system libraries
    from fillmark.render import render  # noqa: PLC0415 - only papers need the templates

    method = compiled.method
    papers, answers = plans(compiled, print_date=print_date)
    if method is None:
        raise ValueError("a method that did not compile has no documents")

    def laid(documents: Sequence[Document]) -> list[Laid]:
        return [lay_out(render(document, paper=paper), paper=paper) for document in documents]

    pages = laid(papers)
    folder.mkdir(parents=True, exist_ok=True)
    kept = stamped(laid(answers), strip("ANSWERS: for trainer and assessor", paper=paper))
    write_whole(folder / f"{ANSWERS}-{method.id}-r{method.revision}.pdf", kept)
    packs = []
    for trainee in roster.trainees:
        file = folder / file_name(trainee, method.id, method.revision)
        write_whole(file, stamped(pages, stamp(trainee, len(roster.trainees), paper=paper, day=print_date)))
        packs.append(Pack(trainee, file))
        yield packs[-1]
    write_whole(folder / INDEX, index(packs, method.id, method.revision, digest(method), print_date))


_SIZES = {"A4": ("210mm", "297mm"), "Letter": ("215.9mm", "279.4mm")}


def stamp(trainee: Trainee, of: int, *, paper: str, day: date) -> str:
    """Write the strip up the left margin that says whose pages these are."""
    number = f" · {escape(trainee.id)}" if trainee.id else ""
    return strip(
        f"trainee <b><bdi>{escape(trainee.name)}</bdi></b><bdi>{number}</bdi> · pack {trainee.number} of {of} · "
        f"printed {day.isoformat()}",
        paper=paper,
    )


def strip(html: str, *, paper: str) -> str:
    """Write a page that holds nothing but a line up its left margin; the line is HTML."""
    width, height = _SIZES[paper]
    return (
        "<!doctype html><html lang=en><meta charset=utf-8><title>pack</title><style>"
        f"@page {{ size: {width} {height}; margin: 0 }}"
        "p { position: absolute; margin: 0; left: 4.4mm; bottom: 12mm; transform-origin: 0 100%; "
        "transform: translate(4.6mm, 0) rotate(-90deg); white-space: nowrap; line-height: 1; "
        'font: 8.5pt "DejaVu Sans Condensed", "DejaVu Sans", sans-serif }'
        "b { font-size: 10pt }</style><body>"
        f"<p>{html}</p></html>"
    )


def index(packs: Sequence[Pack], method_id: str, revision: int, mark: str, day: date) -> bytes:
    """Write the list of the packs as CSV."""
    rows: list[Sequence[object]] = [
        (
            "pack",
            "name",
            "id",
            "method",
            "revision",
            "digest",
            "printed",
            "file",
            "handed out on",
            "returned on",
        )
    ]
    rows += [
        (
            p.trainee.number,
            p.trainee.name,
            p.trainee.id,
            method_id,
            revision,
            mark[:8],
            day.isoformat(),
            p.file.name,
            "",
            "",
        )
        for p in packs
    ]
    return csv_bytes(rows)
