"""The page of a judged competency assessment: every criterion with its value and limit, and who signs for it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from fillmark.documents import Box, Document, Entries, Entry, Field, Section, Side, Table, Text
from fillmark.documents.competency import marks, signatories
from fillmark.documents.head import head
from fillmark.documents.wording import Phrases, light, on_paper, strong
from fillmark.model import Method

PASS, FAIL, OPEN = "pass", "fail", "open"
"""Verdicts; open is what was not filled in or cannot be judged."""
PASSED, NOT_PASSED, INCOMPLETE = "passed", "not passed", "incomplete"


@dataclass(frozen=True, slots=True)
class Criterion:
    """One thing that was judged."""

    key: str
    part: str
    """of the form: form, A, B, C1, C2, C3, C4"""
    text: str
    value: str
    limit: str
    verdict: str
    sum: str
    """How the value came about; nothing where it stands in the form."""


@dataclass(frozen=True, slots=True)
class Told:
    """Why a criterion was not met, and what to do."""

    code: str
    message: str
    ways_out: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Judged:
    """A judged form, as far as its page is concerned."""

    trainee: str
    assessor: str
    assessor_level: str
    trained_by: str
    occasion: str
    day: str
    level: str
    """What the form asks for."""
    verdict: str
    valid_until: str
    """Last day; empty where no level is given."""
    criteria: tuple[Criterion, ...]
    told: tuple[Told, ...]
    explained: tuple[str, ...]
    sha256: str
    """Of the filled form."""


def plan_assessed(method: Method, digest: str, judged: Judged, *, print_date: date | None = None) -> Document:
    """Plan the page of a judged form; ValueError for a verdict that is none."""
    phrases = Phrases(method.reference.phrases)
    passing = marks(method)
    verdict = {
        PASSED: phrases.line(
            "assessed-passed", level=_level(phrases, judged.level), until=judged.valid_until
        ),
        NOT_PASSED: phrases.line("assessed-not-passed"),
        INCOMPLETE: phrases.line("assessed-incomplete"),
    }.get(judged.verdict)
    if verdict is None:
        raise ValueError(f"{judged.verdict!r} is no verdict")
    who = (
        ("entry-trainee", judged.trainee),
        ("entry-assessor", ", ".join(filter(None, (judged.assessor, judged.assessor_level)))),
        ("entry-trained-by", judged.trained_by),
        ("entry-occasion-short", ", ".join(filter(None, (judged.day, judged.occasion)))),
    )
    identity = Table(
        "particulars", (), tuple((phrases.line(key), strong(value) or light("–")) for key, value in who)
    )
    sections = [
        Section(
            "",
            phrases.word("section-assessed"),
            (
                identity,
                Box(phrases.word("assessed-verdict"), (verdict, *_held(phrases, judged, passing.unused))),
            ),
        ),
        Section("", phrases.word("section-criteria"), (_criteria(phrases, judged.criteria),)),
    ]
    if judged.told:
        sections.append(Section("", phrases.word("section-reasons"), tuple(_reasons(judged.told))))
    if judged.explained:
        lines = tuple(light(on_paper(line)) for line in judged.explained)
        sections.append(Section("", phrases.word("section-statistics"), (Box("", lines),)))
    rows = tuple(
        (text, light(name), Field(), Field())
        for text, name in zip(
            signatories(phrases, str(passing.assessor)), (judged.trainee, judged.assessor, ""), strict=True
        )
    )
    sections.append(
        Section(
            "",
            phrases.word("section-signatures"),
            (
                Entries(1, (Entry(phrases.line("entry-next-assessment"), field=Field()),)),
                Table("signatures", phrases.words("table-signatures"), rows),
            ),
        )
    )
    short = f"{judged.sha256[:8]} {judged.sha256[8:16]}"
    top = head(method, phrases, digest, paper="paper-assessed", print_date=print_date)
    return Document(
        kind="assessed",
        language="en",
        head=replace(top, valid=""),
        sides=(Side(1, tuple(sections)),),
        foot=(phrases.line("assessed-foot", sha=short),),
    )


def _level(phrases: Phrases, level: str) -> str:
    words = phrases.words("levels")
    return next((w for w in words if w.startswith(f"{level}:")), level)


def _held(phrases: Phrases, judged: Judged, unused: str) -> tuple[Text, ...]:
    return (phrases.line("assessed-lapses", unused=on_paper(unused)),) if judged.verdict == PASSED else ()


def _criteria(phrases: Phrases, criteria: Sequence[Criterion]) -> Table:
    words = {
        PASS: phrases.word("verdict-pass"),
        FAIL: phrases.word("verdict-fail"),
        OPEN: phrases.word("verdict-open"),
    }
    rows = tuple(
        (
            light(c.part), light(on_paper(c.text)), strong(on_paper(c.value)), light(on_paper(c.limit)),
            strong(words[c.verdict]), light(on_paper(c.sum)),
        )
        for c in criteria
    )  # fmt: skip
    return Table("criteria", phrases.words("table-criteria"), rows)


def _reasons(told: Sequence[Told]) -> list[Box]:
    return [
        Box(one.code, (light(on_paper(one.message)),), tuple(light(on_paper(way)) for way in one.ways_out))
        for one in told
    ]
