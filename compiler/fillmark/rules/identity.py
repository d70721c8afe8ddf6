"""What makes a method a document: who stands behind it, since when, and what it claims to follow."""

import re
from calendar import monthrange
from collections.abc import Iterator
from datetime import date
from difflib import get_close_matches

from fillmark.diagnostics import Path, Related
from fillmark.figures import Figures
from fillmark.model import Method
from fillmark.placeholders import known_names
from fillmark.quantities import brief, fixed
from fillmark.rules import ERROR, WARNING, Example, Finding, NotJudged, Outcome, rule
from fillmark.rules.wording import any_of, may_hold

_MONTH = 2_629_800.0  # s, as `months` in quantities.py


@rule(
    "IDN01",
    ERROR,
    waivable=False,
    sources=("record-practice", "iso-17025"),
    example=Example("MCW-VIS-014", right="approver: H. Marlow", wrong="approver: a. osei"),
)
def author_is_approver(m: Method, figures: Figures) -> Iterator[Outcome]:
    """Author and approver are one person.

    Nobody sees their own slip: a factor or a limit typed wrongly goes to the bench with a signature on it.

    Never: a second pair of eyes is what an approval is.
    """
    people = m.people
    if people.wrote(people.approver):
        yield Finding(
            ("people", "approver"),
            f"{people.author} wrote the method and {people.approver} approves it: 1 person where 2 are "
            "needed. "
            "An error of the author passes unseen.",
            (
                f"Name as approver somebody other than {people.author}.",
                "Or, if these are two people of one name, tell them apart: a full first name, or a number.",
            ),
            (Related(f"author: {people.author}", ("people", "author")),),
        )


@rule(
    "IDN02",
    ERROR,
    waivable=False,
    sources=("iso-17025", "record-practice"),
    example=Example("MCW-VIS-014", right=", approver: H. Marlow}", wrong="}", at="people:"),
)
def released_without_approver(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A released method names no approver.

    Released paper without a name behind it cannot be told from a draft that slipped out; every result made
    with it can be called into question.

    Never: a method nobody approved is a draft.
    """
    if m.status == "released" and m.people.approver is None:
        yield Finding(
            ("people",),
            f"Revision {m.revision} is released and nobody is named as approver.",
            (
                "Name the approver under people, somebody other than the author.",
                "Or set status: in-review until it is approved.",
            ),
            (Related("released here", ("status",)),),
        )


@rule(
    "IDN03",
    ERROR,
    waivable=False,
    sources=("iso-17025", "record-practice"),
    example=Example("MCW-VIS-014", right="effective: 2026-12-01\n", wrong="", at="status: released"),
)
def released_without_effective_date(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A released method does not say from which day it is in force.

    Two revisions then lie on the bench at once, and no record tells which of them a result was made by.

    Never: one date is all it takes.
    """
    if m.status == "released" and m.effective is None:
        yield Finding(
            ("status",),
            f"Revision {m.revision} is released and no day is given from which it is in force.",
            (
                "Write effective: year-month-day, not before the approval.",
                "Or set status: in-review until the day is known.",
            ),
        )


@rule(
    "IDN04",
    WARNING,
    sources=("project-decision", "iso-17025"),
    example=Example("MCW-VIS-014", right="review_by: 2029-11-30\n", wrong="", at="status: released"),
)
def released_without_review_date(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A released method has no day by which it is looked at again.

    Fluids, spindles and practice change; a method nobody looks at drifts from what is done at the bench.

    Where the document system itself calls every method for review.
    """
    if m.status == "released" and m.review_by is None:
        months = m.reference.policy["review_interval"] / _MONTH
        latest = None if m.effective is None else _months_later(m.effective, round(months))
        yield Finding(
            ("status",),
            f"Revision {m.revision} is released without a review date; the site asks for one within "
            f"{months:.0f} months.",
            (
                f"Write review_by: {latest or 'year-month-day'}, or earlier.",
                "Or, if the document system calls for reviews, say so in a waiver.",
            ),
        )


def _days(count: int) -> str:
    return f"{count} day" if count == 1 else f"{count} days"


def _months_later(day: date, months: int) -> date:
    years, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + years, month + 1
    return date(year, month, min(day.day, monthrange(year, month)[1]))


@rule(
    "IDN05",
    WARNING,
    sources=("project-decision", "iso-17025"),
    example=Example("MCW-VIS-014", right="review_by: 2029-11-30", wrong="review_by: 2031-11-30"),
)
def review_too_late(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The review is further from the effective date than the site allows.

    The longer nobody looks, the further bench and paper part; what changed slowly is found last.

    For a method that has stood unchanged through several reviews, where the site says so.
    """
    if m.review_by is None:
        return
    if m.effective is None:
        yield NotJudged("the method has no effective date to count the review interval from")
        return
    months = round(m.reference.policy["review_interval"] / _MONTH)
    latest = _months_later(m.effective, months)
    if m.review_by > latest:
        days = (m.review_by - m.effective).days
        yield Finding(
            ("review_by",),
            f"The review on {m.review_by} is {days * 86_400 / _MONTH:.0f} months after {m.effective}; "
            "the site "
            f"allows {months} months.",
            (
                f"Write review_by: {latest}, or earlier.",
                "Or have the site policy changed: review_interval.",
            ),
            (Related(f"in force from {m.effective}", ("effective",)),),
        )


@rule(
    "IDN06",
    ERROR,
    waivable=False,
    sources=("definition",),
    example=Example("MCW-VIS-014", right="review_by: 2029-11-30", wrong="review_by: 2026-11-30"),
)
def review_before_effective(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The review is due before the method is in force.

    It is overdue on its first day: one of the two dates is a slip, and nobody knows which.

    Never: the dates contradict each other.
    """
    if m.review_by is not None and m.effective is not None and m.review_by <= m.effective:
        months = round(m.reference.policy["review_interval"] / _MONTH)
        yield Finding(
            ("review_by",),
            f"The review on {m.review_by} is {_days((m.effective - m.review_by).days)} before the "
            "method comes "
            f"into force on {m.effective}.",
            (
                (
                    f"Write review_by: {_months_later(m.effective, months)}, or a day before it and after "
                    f"{m.effective}."
                ),
                "Or mend the effective date.",
            ),
            (Related(f"in force from {m.effective}", ("effective",)),),
        )


_DATED = re.compile(
    r"\b(?P<body>ISO|IEC|ASTM|AASHTO|DIN|EN|BS|NF|JIS|GB|ANSI|CEN|ASME|UNE|UNI)\b(?P<rest>.*)", re.IGNORECASE
)
_YEAR = re.compile(r"[:(,\s\-\u2013](?:19|20)\d{2}\b")
_SHORT_YEAR = re.compile(
    r"[A-Z]?\s?\d+(?:/[A-Z]\d+M?)?M?[-\u2013]\d{2}(?:[a-z]\d?|e\d)?(?!\d)", re.IGNORECASE
)


def _has_year(standard: str) -> bool | None:
    """Whether a citation carries its year; None for what is not known to have one in its number."""
    found = _DATED.search(standard)
    if found is None:
        return None
    if _YEAR.search(found["rest"]):
        return True
    # Only these bodies write the year with two digits; elsewhere -2 is a part: ISO 3219-2.
    american = found["body"].upper() in ("ASTM", "AASHTO")
    return american and _SHORT_YEAR.search(found["rest"]) is not None


def _cited(m: Method) -> Iterator[tuple[Path, str]]:
    for key, standards in (("based_on", m.based_on), ("complies_with", m.complies_with)):
        for index, standard in enumerate(standards):
            yield (key, index), standard


@rule(
    "IDN07",
    WARNING,
    sources=("iso-17025",),
    example=Example("MCW-VIS-014", right='"ASTM D2196-20"', wrong='"ASTM D2196"'),
)
def standard_without_year(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A standard is cited without its year.

    Editions differ in beaker, guard and reading time; whoever looks it up later reads another text and may
    run another test. Chapters of a pharmacopoeia are left alone: the edition in force binds.

    Where the method is meant to follow whatever edition is in force.
    """
    for path, standard in _cited(m):
        if _has_year(standard) is False:
            number = re.sub(r"\s+", " ", standard.strip())
            american = number.upper().startswith(("ASTM", "AASHTO"))
            yield Finding(
                path,
                f"{number} is cited without its year; its editions differ.",
                (
                    (
                        f"Write number and year, in the form {number}{'-20' if american else ':2018'}, with "
                        "the year of "
                        "the edition you read."
                    ),
                    "Or take the citation out if nobody has read it.",
                ),
            )


_USP_912 = re.compile(r"\bUSP\b[^0-9]{0,12}912\b", re.IGNORECASE)
# What the excerpt of USP <912> says, and no site policy can loosen (source usp-912).
_USP_912_CLEARANCE = 0.010  # m, from wall and bottom, spindle in a vessel
_USP_912_TOLERANCE = 0.1  # K, unless the monograph says otherwise


def _usp_912_failures(m: Method, figures: Figures) -> Iterator[tuple[str, Related]]:
    tolerance = m.temperature.target.tolerance
    if tolerance.value > _USP_912_TOLERANCE * (1 + 1e-9):
        times = tolerance.value / _USP_912_TOLERANCE
        yield (
            f"the temperature may be off by {tolerance.text}, {brief(times, 2)} times the 0.1 °C allowed",
            Related(f"± {tolerance.text} here", ("temperature", "target")),
        )
    if not m.spindle.plain:
        return
    if m.spindle.diameter is not None:
        side = (m.container.inside_diameter.value - m.spindle.diameter.value) / 2
        if side < _USP_912_CLEARANCE * (1 - 1e-9):
            yield (
                (
                    f"{fixed(side * 1000, 1)} mm between spindle and wall, {fixed(10 - side * 1000, 1)} mm "
                    "short of 10 mm"
                ),
                Related(f"{m.spindle.key} in {m.container.inside_diameter.text}", ("container",)),
            )
    declared = m.immersion.bottom_clearance
    bottom = figures.value("container.bottom_clearance")
    below = min(
        (v for v in (None if declared is None else declared.value, bottom) if v is not None), default=None
    )
    if below is not None and below < _USP_912_CLEARANCE * (1 - 1e-9):
        yield (
            f"{fixed(below * 1000, 1)} mm below the spindle, {fixed(10 - below * 1000, 1)} mm short of 10 mm",
            Related("the depth is set here", ("immersion",)),
        )


@rule(
    "IDN08",
    ERROR,
    waivable=False,
    sources=("usp-912",),
    example=Example("MCW-VIS-014", right='based_on: ["ASTM D2196-20"]', wrong='complies_with: ["USP <912>"]'),
)
def compliance_claim_not_met(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The method claims to meet USP <912> and does not.

    Checked is what was read in an excerpt: for a spindle in a vessel at least 1 cm to wall and bottom, and
    0.1 °C unless the monograph says otherwise. Spindle, speed and temperature, which it wants reported,
    stand on every sheet printed from the method. A claim that is not true falls on the first audit.

    Never: what is followed in part is cited under based_on.
    """
    for index, standard in enumerate(m.complies_with):
        if not _USP_912.search(standard):
            continue
        failures = list(_usp_912_failures(m, figures))
        if failures:
            yield Finding(
                ("complies_with", index),
                (
                    f"The method claims to meet {standard} and misses it: "
                    f"{'; '.join(text for text, _ in failures)}."
                ),
                (
                    f"Cite {standard} under based_on, and say in a note what differs.",
                    "Or meet it: "
                    + ", ".join(
                        dict.fromkeys(
                            "temperature ± 0.1 °C" if "temperature" in text else "clearance of 10 mm or more"
                            for text, _ in failures
                        )
                    )
                    + ".",
                ),
                tuple(related for _, related in failures),
            )
        elif m.spindle.plain and (m.spindle.diameter is None or "container.bottom_clearance" not in figures):
            yield NotJudged(f"the clearances that {standard} asks for are not known")


@rule(
    "IDN09",
    WARNING,
    sources=("iso-17025",),
    example=Example(
        "MCW-VIS-014", right='based_on: ["ASTM D2196-20"]', wrong='complies_with: ["ASTM D2196-20"]'
    ),
)
def compliance_claim_not_checkable(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The method claims to meet a standard whose demands are not known here.

    Nothing in this check stands behind the claim, yet it is printed on the paper and read as if it did.

    Where somebody has compared method and standard clause by clause, and the record is named.
    """
    for index, standard in enumerate(m.complies_with):
        if not _USP_912.search(standard):
            yield Finding(
                ("complies_with", index),
                f"The method claims to meet {standard}; nothing here can check that.",
                (
                    f'Cite it as based_on: ["{standard}"].',
                    "Or keep the claim and waive this with the record of the comparison.",
                ),
            )


def _free_texts(m: Method) -> Iterator[tuple[Path, str]]:
    """Go through what was written in words; quantities and names have been read and are finished."""
    given: list[tuple[Path, str | None]] = [
        (("title",), m.title),
        (("people", "author"), m.people.author),
        (("people", "reviewer"), m.people.reviewer),
        (("people", "approver"), m.people.approver),
        (("product", "name"), m.product.name),
        (("sample", "preparation"), m.sample.preparation),
        (("sample", "bubbles"), m.sample.bubbles),
        (("guard_continuity",), m.guard_continuity),
        (("replicates", "otherwise"), m.replicates.otherwise),
        (("retention",), m.retention),
        *((("equipment", i), text) for i, text in enumerate(m.equipment)),
        *((("notes", name), text) for name, text in m.notes.items()),
        *(((*change.path, "reason"), change.reason) for change in m.changes),
        *(((*waiver.path, "reason"), waiver.reason) for waiver in m.waivers),
        *(((*waiver.path, "evidence"), waiver.evidence) for waiver in m.waivers),
        *(_cited(m)),
    ]
    if m.verification is not None:
        given.append((("verification", "frequency"), m.verification.frequency))
        given.append((("verification", "on_failure"), m.verification.on_failure))
    if m.cleaning is not None:
        given.append((("cleaning", "agent"), m.cleaning.agent))
        given.append((("cleaning", "disposal"), m.cleaning.disposal))
    for path, text in given:
        if text is not None:
            yield path, text


_QUESTION_MARKS = re.compile(r"\?{2,}|\.{4,}|_{3,}")


@rule(
    "IDN10",
    WARNING,
    sources=("common-practice",),
    example=Example("MCW-VIS-014", right="waterborne waste drum", wrong="TBD"),
)
def text_left_unfinished(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A word that stands for something still to be written is left in the method.

    At the bench each operator fills the gap in their own way, and the results part by it.

    In a draft that is still being written.
    """
    words = m.reference.policy.choices.get("unfinished_words", "")
    pattern = any_of(words)
    texts = list(_free_texts(m))
    whole = "\n".join(text for _, text in texts)
    if not may_hold(whole, words) and not _QUESTION_MARKS.search(whole):
        return
    for path, text in texts:
        found = pattern.search(text) or _QUESTION_MARKS.search(text)
        if found:
            where = ".".join(str(p + 1 if isinstance(p, int) else p) for p in path)
            yield Finding(
                path,
                f"{found[0]} stands in {where} of revision {m.revision}: something is still to be written.",
                ("Write what is meant, with number and unit where there is one.", "Or take the text out."),
            )


@rule(
    "IDN11",
    WARNING,
    sources=("record-practice",),
    example=Example(
        "MCW-VIS-014",
        right="{revision: 3, class: parameter",
        wrong="{revision: 2, class: parameter",
    ),
)
def history_without_this_revision(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The revision history does not end with this revision.

    Nobody can tell what changed, so nobody knows whether earlier results still compare and who needs
    training anew. A method that keeps no history here is left alone: it may stand in the document system.

    Where the history is kept elsewhere from this revision on.
    """
    if not m.changes:
        return
    newest = max(m.changes, key=lambda c: c.revision)
    if newest.revision != m.revision:
        ahead = newest.revision > m.revision
        yield Finding(
            (*newest.path, "revision"),
            f"The history ends with revision {newest.revision}; the method is revision {m.revision}, "
            f"{abs(newest.revision - m.revision)} {'behind it' if ahead else 'further on'}.",
            (
                f"Add an entry for revision {m.revision}: class and reason."
                if not ahead
                else f"Raise the revision of the method to {newest.revision}.",
                "Or mend the number of this entry.",
            ),
            (Related(f"revision {m.revision} here", ("revision",)),),
        )


@rule(
    "IDN12",
    WARNING,
    sources=("record-practice",),
    example=Example("MCW-VIS-014", right="purpose: release\n", wrong="purpose: training\n"),
)
def released_for_nothing(m: Method, figures: Figures) -> Iterator[Outcome]:
    """A released method has training or development as its purpose.

    Released paper prints without DRAFT across it and is taken for a method whose results decide something;
    for these purposes fewer checks apply, so a result may look safer than it is.

    For a training sheet that is controlled like a method.
    """
    if m.status == "released" and m.purpose in ("training", "development"):
        yield Finding(
            ("purpose",),
            f"Revision {m.revision} is released, and its purpose is {m.purpose}: its results decide nothing.",
            (
                "Write the purpose its results serve: release, stability or in-process.",
                "Or set status: draft, so that DRAFT is printed across the sheets.",
            ),
            (Related("released here", ("status",)),),
        )


@rule(
    "IDN13",
    WARNING,
    sources=("record-practice",),
    example=Example(
        "MCW-VIS-014",
        right="retention: 10 years",
        wrong="retention: 10 years\nevidence: {replicates.repeatable: STUDY-12}",
        at="evidence: {",
    ),
)
def evidence_for_nothing(m: Method, figures: Figures) -> Iterator[Outcome]:
    """The evidence names a value that the method does not have.

    The name is a slip, or the value was taken out. The study then stands behind no number, and the value it
    was meant for seems to rest on nothing: which way results move when it is wrong, nobody looks up.

    For a value that the method will get in its next revision.
    """
    if not m.evidence:
        return
    known = {name for name in known_names(m, figures) if not name.startswith("evidence.")}
    for name, study in m.evidence.items():
        if name in known or any(k.startswith(f"{name}.") for k in known):
            continue
        close = get_close_matches(name, known, n=1, cutoff=0.6)
        yield Finding(
            ("evidence", name),
            f"{name} has evidence ({study[:40]}{'...' if len(study) > 40 else ''}), and 0 values of the method "
            "bear that name.",
            (
                f"Write {close[0]}."
                if close
                else "Write the name of a value with its blocks, such as replicates.repeatability.",
                "Or take the line out, if the value is no longer there.",
            ),
        )
