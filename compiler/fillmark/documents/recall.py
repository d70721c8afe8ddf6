"""The notice of copies called back: which, from whom, why, and room to account for each."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from fillmark.documents import Box, Document, Field, Section, Side, Table
from fillmark.documents.head import head
from fillmark.documents.wording import Phrases, light, strong
from fillmark.model import Method


@dataclass(frozen=True, slots=True)
class Called:
    """A copy called back, as texts."""

    copy: str
    holder: str
    printed: str
    papers: str


def plan_recall(
    method: Method, digest: str, copies: Sequence[Called], phrases: Phrases, *, reason: str, by: str, today: date,
    whole: bool,
) -> Document:  # fmt: skip
    """Plan the notice; `whole` says that the revision itself is called back."""
    line = phrases.line(
        "recall-line", count=_counted(len(copies)), id=method.id, revision=str(method.revision),
        day=today.isoformat(), by=by, reason=reason,
    )  # fmt: skip
    lines = (
        line,
        *((phrases.line("recall-whole"),) if whole else ()),
        phrases.line("recall-what", by=by),
        phrases.line("recall-demands"),
    )
    rows = tuple(
        (strong(c.copy), light(c.holder), light(c.printed), light(c.papers), Field(), Field()) for c in copies
    )
    signed = tuple(
        (phrases.line(key), light(name), Field(), Field())
        for key, name in (("signature-called", by), ("signature-quality", ""))
    )
    sections = [Section("", "", (Box(phrases.word("recall-title"), lines),))]
    if rows:
        sections.append(
            Section(
                "", phrases.word("section-copies"), (Table("copies", phrases.words("table-copies"), rows),)
            )
        )
    sections.append(
        Section(
            "",
            phrases.word("section-recall-done"),
            (Table("signatures", phrases.words("table-signatures"), signed),),
        )
    )
    top = head(method, phrases, digest, paper="paper-recall", print_date=today)
    return Document(
        kind="recall",
        language="en",
        head=replace(top, valid=""),
        sides=(Side(1, tuple(sections)),),
        foot=(phrases.line("recall-foot"),),
    )


def _counted(count: int) -> str:
    return "1 copy" if count == 1 else f"{count} copies"
