"""A record understood: each entry as typed beside the value it was read as, by the fields of its method."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time
from decimal import Decimal

from fillmark.decimals import decimal_sign
from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.records.codes import found
from fillmark.records.fields import Field
from fillmark.records.record import Correction, Entry, Finding, Place, Record
from fillmark.records.typed import Number, Refused, absent, clock, day, moment, number, plain

Value = str | Number | date | datetime | time

NAMED = 6
"""Missing entries that a message names; more are counted."""


@dataclass(frozen=True, slots=True)
class Understood:
    """An entry as typed and as understood."""

    field: str
    typed: str
    understood: str
    """Empty where it was refused or nothing was written."""
    how: str
    place: Place
    corrections: tuple[Correction, ...]


@dataclass(slots=True)
class Sheet:
    """A filled sheet of a method."""

    record: Record
    method: Method
    figures: Figures
    fields: Mapping[str, Field]
    values: dict[str, Value] = field(default_factory=dict)
    entries: list[Understood] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    comma: str = ""

    def text(self, key: str) -> str:
        """Give an entry as text; nothing where there is none or it says n/a."""
        text = self.record.text(key)
        return "" if absent(text) else text

    def number(self, key: str) -> Number | None:
        """Give a number; None where there is none or it was refused."""
        value = self.values.get(key)
        return value if isinstance(value, Number) else None

    def decimal(self, key: str) -> Decimal | None:
        """Give the value of a number that is no bound."""
        value = self.number(key)
        return None if value is None or value.bound else value.value

    def day(self, key: str) -> date | None:
        """Give a day."""
        value = self.values.get(key)
        return value if isinstance(value, date) and not isinstance(value, datetime) else None

    def moment(self, key: str) -> datetime | None:
        """Give a day with its time."""
        value = self.values.get(key)
        return value if isinstance(value, datetime) else None

    def clock(self, key: str) -> time | None:
        """Give a time of day."""
        value = self.values.get(key)
        return value if isinstance(value, time) else None

    def choice(self, key: str) -> str:
        """Give one of the few words; nothing where there is none."""
        value = self.values.get(key)
        return value if isinstance(value, str) else ""

    def find(self, code: str, message: str, *ways: str, field: str = "") -> None:
        """Add a finding, with the place of its entry."""
        self.findings.append(found(code, message, *ways, field=field, place=self.record.place(field)))

    def policy(self, key: str) -> float:
        """Give a threshold of the site policy."""
        return self.method.reference.policy[key]


def understood(record: Record, method: Method, figures: Figures, fields: Iterable[Field]) -> Sheet:
    """Read every entry of a record by the kind of its field; what cannot be understood brings a finding."""
    by_key = {f.key: f for f in fields}
    record = _named_in_full(record, method)
    sheet = Sheet(record, method, figures, by_key, findings=list(record.findings))
    spoiled = {f.field for f in record.findings if f.field}
    texts = [
        e.text
        for e in record.entries.values()
        if by_key.get(e.field) and by_key[e.field].kind in ("number", "bound")
    ]
    sheet.comma = decimal_sign(texts)
    known = {*by_key, *(k for f in by_key for k in _beyond(f, record))}
    for key, entry in record.entries.items():
        asked = by_key.get(key) or _like(key, by_key)
        if key not in known or asked is None:
            if entry.text.strip():
                sheet.find(
                    "EVA03",
                    f"The sheet of {method.id} has no such entry; {entry.text.strip()[:40]!r} was not used.",
                    "Put the value under the name the template has.",
                    "See that the template is that of this method.",
                    field=key,
                )
                spoiled.add(key)
            sheet.entries.append(_kept(entry, "", "not used"))
            continue
        text, how = _understand(sheet, entry, asked, spoiled)
        sheet.entries.append(
            _kept(entry, text, "; ".join(part for part in (entry.how.lstrip("!"), how) if part))
        )
    _missing(sheet, spoiled)
    return sheet


def _kept(entry: Entry, text: str, how: str) -> Understood:
    return Understood(entry.field, entry.text, text, how, entry.place, entry.corrections)


def _named_in_full(record: Record, method: Method) -> Record:
    """Put in the step of a reading where the run has but one and the record leaves it out."""
    if len(method.run) > 1:
        return record
    entries = {}
    for key, entry in record.entries.items():
        parts = key.split(".")
        name = (
            ".".join((*parts[:2], method.run[0].name, parts[2]))
            if len(parts) == 3 and parts[0] == "reading"
            else key
        )
        entries[name] = replace(entry, field=name)
    return replace(record, entries=entries)


def _beyond(key: str, record: Record) -> list[str]:
    """Name the entries of replicates beyond those of the template: they are judged, not overlooked."""
    parts = key.split(".")
    if parts[0] not in ("reading", "loading") or parts[1] != "1":
        return []
    numbers = {e.split(".")[1] for e in record.entries if e.startswith(f"{parts[0]}.")}
    return [
        ".".join((parts[0], n, *parts[2:]))
        for n in numbers
        if n.isascii() and n.isdigit() and 1 <= len(n) <= 3 and n[0] != "0"
    ]


def _like(key: str, by_key: Mapping[str, Field]) -> Field | None:
    parts = key.split(".")
    if len(parts) < 3 or parts[0] not in ("reading", "loading"):
        return None
    first = by_key.get(".".join((parts[0], "1", *parts[2:])))
    return None if first is None else replace(first, key=key, need="may")


def _understand(sheet: Sheet, entry: Entry, asked: Field, spoiled: set[str]) -> tuple[str, str]:
    """Read one entry; gives what it was understood as and how."""
    text = entry.text.strip()
    key = asked.key
    if not text:
        return "", ""
    if absent(text):
        return "not applicable", ""
    try:
        if asked.kind in ("number", "bound"):
            one = number(
                text,
                unit=asked.unit,
                written_unit=entry.unit,
                comma=sheet.comma,
                bounds=asked.kind == "bound",
            )
            sheet.values[key] = one
            return f"{one.bound} {plain(one.value)} {asked.unit}".strip(), one.how
        if asked.kind == "day":
            sheet.values[key] = a_day = day(text)
            return a_day.isoformat(), ""
        if asked.kind == "moment":
            sheet.values[key] = a_moment = moment(text)
            return a_moment.isoformat(" "), ""
        if asked.kind == "clock":
            sheet.values[key] = a_clock = clock(text)
            return a_clock.isoformat(), ""
    except Refused as refused:
        code = "EVA04" if asked.kind in ("number", "bound") else "EVA05"
        sheet.find(code, refused.problem, *refused.ways, field=key)
        spoiled.add(key)
        return "", "refused"
    if asked.kind == "choice":
        word = " ".join(text.casefold().split())
        if word not in asked.choices:
            sheet.find(
                "EVA10",
                f"{text[:40]!r} is none of {', '.join(asked.choices)}.",
                f"Write {' or '.join(asked.choices)}.",
                "Put words under remarks.",
                field=key,
            )
            spoiled.add(key)
            return "", "refused"
        sheet.values[key] = word
        return word, ""
    return " ".join(text.split()), ""


def _of_nothing(key: str, filled: Iterable[str]) -> bool:
    """Whether an entry belongs to a replicate of which nothing is there: that is one finding, not ten."""
    parts = key.split(".")
    if parts[0] not in ("reading", "loading"):
        return False
    stem = ".".join(("reading", *parts[1:3])) if parts[0] == "reading" else f"reading.{parts[1]}"
    return not any(k.startswith(f"{stem}.") for k in filled)


def _missing(sheet: Sheet, spoiled: set[str]) -> None:
    """Name what is not filled in; an entry that has a finding of its own is not named twice."""
    filled = [k for k in sheet.record.entries if sheet.record.text(k) and not k.startswith("method.")]
    if not filled and not sheet.findings:
        sheet.findings.append(
            found(
                "EVA43",
                "Nothing is filled in.",
                "Fill the column value of the template.",
                "See that it is the right file.",
            )
        )
        return
    for need, code in (("must", "EVA06"), ("should", "EVA09")):
        lacking = [
            f
            for f in sheet.fields.values()
            if f.need == need
            and f.key not in spoiled
            and not sheet.text(f.key)
            and not _of_nothing(f.key, filled)
        ]
        if not lacking:
            continue
        names = ", ".join(f"{f.key} ({f.title})" for f in lacking[:NAMED])
        more = f" and {len(lacking) - NAMED} more" if len(lacking) > NAMED else ""
        what = (
            "The result cannot be traced or judged without"
            if need == "must"
            else "Not filled in, and not judged for that:"
        )
        sheet.find(
            code,
            f"{what} {names}{more}.",
            "Fill them in as late entries, marked late, with today's date and initials.",
            "Or measure again, with every entry made at the time.",
            field=lacking[0].key,
        )
