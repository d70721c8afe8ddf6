"""Who stands behind a method, since when, and what it claims."""

import pytest

from fillmark.diagnostics import Severity
from fillmark.rules.identity import _has_year

PAINT, GEL, STARCH, CREAM = "MCW-VIS-014", "QAP-VIS-002", "BBM-VIS-007", "LMT-VIS-021"
BASED_ON = 'based_on: ["ASTM D2196-20"]'


@pytest.fixture
def identity(compiled):
    """Give the findings of this topic only."""
    return lambda method, *changes: [
        d for d in compiled(method, *changes).diagnostics if d.code.startswith("IDN")
    ]


def test_a_reviewer_may_be_the_author_s_colleague_but_the_approver_not_the_author(identity):
    assert [] == identity(PAINT, ("reviewer: R. Lindqvist", "reviewer: H. Marlow"))
    found = identity(PAINT, ("author: A. Osei", "author: H MARLOW"))
    assert ["IDN01"] == [d.code for d in found]
    assert "2 are needed" in found[0].message


def test_a_draft_needs_neither_approver_nor_dates(identity):
    assert [] == identity(STARCH)
    assert [] == identity(
        PAINT,
        ("status: released", "status: draft"),
        (", approver: H. Marlow", ""),
        ("effective: 2026-12-01\n", ""),
        ("review_by: 2029-11-30\n", ""),
    )


# 36 months from 1 December 2026 end on 1 December 2029, by the calendar.
@pytest.mark.parametrize(
    ("effective", "review", "expected"),
    [
        ("2026-12-01", "2029-12-01", []),
        ("2026-12-01", "2029-12-02", ["IDN05"]),
        ("2027-03-31", "2030-03-31", []),
        ("2024-02-29", "2027-02-28", []),
        ("2024-02-29", "2027-03-01", ["IDN05"]),
        ("2026-12-01", "2026-12-02", []),
        ("2026-12-01", "2026-12-01", ["IDN06"]),
        ("2026-12-01", "2025-12-01", ["IDN06"]),
    ],
)
def test_the_review_lies_within_the_interval(effective, review, expected, identity):
    changes = [
        change
        for change in (
            ("effective: 2026-12-01", f"effective: {effective}"),
            ("review_by: 2029-11-30", f"review_by: {review}"),
        )
        if change[0] != change[1]
    ]
    assert expected == [d.code for d in identity(PAINT, *changes)]


def test_what_is_advised_for_a_late_review_passes(identity):
    (found,) = identity(PAINT, ("review_by: 2029-11-30", "review_by: 2040-01-01"))
    advised = found.ways_out[0].removeprefix("Write ").split(",")[0]
    assert [] == identity(PAINT, ("review_by: 2029-11-30", advised))


def test_without_an_effective_date_the_interval_is_not_judged(not_judged):
    assert 1 == len(not_judged("IDN05", STARCH))


# As the bodies print them, common practice: ISO, EN and DIN with a colon, ASTM and AASHTO with a dash.
@pytest.mark.parametrize(
    ("standard", "expected"),
    [
        ("ASTM D2196-20", True),
        ("ASTM D2196-18e1", True),
        ("ASTM D1084-16(2021)", True),
        ("ASTM D4402/D4402M-15", True),
        ("ASTM D2196", False),
        ("ASTM D4402/D4402M", False),
        ("AASHTO T 316-22", True),
        ("AASHTO T 316", False),
        ("ISO 2555:2018", True),
        ("ISO 2555", False),
        ("ISO 2884-2", False),
        ("ISO 2884-2:2003", True),
        ("ISO 3219-1:2021", True),
        ("EN 12092:2001", True),
        ("DIN 53019-1:2008-09", True),
        ("DIN 53019-1", False),
        ("DIN EN ISO 2555:2018-09", True),
        ("USP <912>", None),
        ("Ph. Eur. 2.2.10", None),
        ("Marlwick SOP 12", None),
    ],
)
def test_the_year_of_a_standard(standard, expected):
    assert expected == _has_year(standard)


def test_a_pharmacopoeia_is_cited_without_year(identity):
    assert [] == identity(PAINT, (BASED_ON, 'based_on: ["USP <912>", "Ph. Eur. 2.2.10"]'))


# USP <912>, excerpt read: at least 1 cm from bottom and side, temperature within 0.1 °C.
def test_a_true_claim_is_silent(identity):
    tight = ("target: 23.0 °C ± 0.5 °C", "target: 23.0 °C ± 0.1 °C")
    assert [] == identity(PAINT, (BASED_ON, 'complies_with: ["USP <912>"]'), tight)
    # A chamber is another method of that chapter; the centimetre holds for a spindle in a vessel.
    assert [] == identity(GEL, ("revision: 4", 'revision: 4\ncomplies_with: ["USP <912>"]'))


def test_a_claim_is_measured_against_the_centimetre(identity):
    tight = ("target: 23.0 °C ± 0.5 °C", "target: 23.0 °C ± 0.1 °C")
    claim = (BASED_ON, 'complies_with: ["USP 912"]')
    low = ("bottom_clearance: 20 mm", "bottom_clearance: 8 mm")
    (found,) = identity(PAINT, claim, tight, low)
    assert "IDN08" == found.code
    assert "8.0 mm below the spindle, 2.0 mm short of 10 mm" in found.message
    # R5 is 21.14 mm wide: in 38 mm it has (38 - 21.14) / 2 = 8.4 mm to the wall.
    narrow = (
        "container: beaker-600-low-form",
        "container: {label: tall glass, kind: beaker, inside_diameter: 38 mm, height: 600 mm}",
    )
    (found,) = identity(PAINT, claim, tight, narrow)
    assert "8.4 mm between spindle and wall" in found.message


def test_one_claim_is_one_finding_with_all_it_misses(identity):
    claim = (BASED_ON, 'complies_with: ["USP <912>"]')
    (found,) = identity(PAINT, claim, ("bottom_clearance: 20 mm", "bottom_clearance: 8 mm"))
    assert "5 times the 0.1 °C" in found.message
    assert "8.0 mm below" in found.message
    assert 2 == len(found.related)


def test_a_claim_on_a_spindle_without_dimensions_is_not_judged(not_judged):
    reasons = not_judged(
        "IDN08",
        PAINT,
        (BASED_ON, 'complies_with: ["USP <912>"]'),
        ("target: 23.0 °C ± 0.5 °C", "target: 23.0 °C ± 0.1 °C"),
        ("spindle: R5", "spindle: U2"),
    )
    assert 1 == len(reasons)


@pytest.mark.parametrize(
    "text", ["TBD", "tbc", "xx %", "some drum ???", "as appropriate", "to be\n    defined", "____"]
)
def test_what_is_left_open_is_found(text, identity):
    (found,) = identity(PAINT, ("waterborne waste drum", f'"{text}"'))
    assert "IDN10" == found.code
    assert ("cleaning", "disposal") == found.path


@pytest.mark.parametrize(
    "text", ["Exxon-free drum", "drum XX1", "as agreed", "to be emptied daily", "no. 3 ..."]
)
def test_ordinary_words_are_not_taken_for_gaps(text, identity):
    assert [] == identity(PAINT, ("waterborne waste drum", f'"{text}"'))


def test_a_note_may_be_left_unfinished_too(identity):
    (found,) = identity(PAINT, ("The guard belongs to the coefficient.", "TODO: say why."))
    assert ("notes", "why") == found.path


def test_a_history_that_runs_ahead_is_found_and_no_history_is_not(identity):
    (found,) = identity(PAINT, ("{revision: 3, class", "{revision: 5, class"))
    assert "2 behind it" in found.message
    assert "Raise the revision of the method to 5." == found.ways_out[0]
    assert [] == identity(CREAM)  # revision 5 without any history


def test_development_is_no_purpose_for_released_paper(identity):
    (found,) = identity(PAINT, ("purpose: release\n", "purpose: development\n"))
    assert "IDN12" == found.code
    assert Severity.WARNING == found.severity
    draft = ("status: released", "status: draft")
    assert [] == identity(PAINT, ("purpose: release\n", "purpose: development\n"), draft)


def test_the_review_date_that_is_advised_is_36_months_on(identity):
    (found,) = identity(PAINT, ("review_by: 2029-11-30\n", ""))
    assert "Write review_by: 2029-12-01, or earlier." == found.ways_out[0]
    without = identity(PAINT, ("review_by: 2029-11-30\n", ""), ("effective: 2026-12-01\n", ""))
    (found,) = [d for d in without if d.code == "IDN04"]
    assert "Write review_by: year-month-day, or earlier." == found.ways_out[0]


def test_how_late_a_review_is(identity):
    # 1 December 2026 to 30 November 2031: a day short of 60 months
    (found,) = identity(PAINT, ("review_by: 2029-11-30", "review_by: 2031-11-30"))
    assert "is 60 months after 2026-12-01; the site allows 36 months" in found.message


def test_a_claim_that_can_be_judged_is_judged(not_judged):
    tight = ("target: 23.0 °C ± 0.5 °C", "target: 23.0 °C ± 0.1 °C")
    assert [] == not_judged("IDN08", PAINT, (BASED_ON, 'complies_with: ["USP <912>"]'), tight)


def test_a_gap_in_a_list_is_counted_from_one(identity):
    (found,) = identity(PAINT, ('"thermometer, 0.1 °C", "timer"', '"thermometer, 0.1 °C", "TBD"'))
    assert "TBD stands in equipment.2 of revision 3" in found.message


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("replicates.repeatability", None),
        ("run.viscosity_20.read_at", None),
        ("product", None),
        ("run.viscosity_20", None),
        ("repeatability", "Write replicates.repeatability."),
        ("x", "such as replicates.repeatability"),
        ("product.temperature_sensitivty", "Write product.temperature_sensitivity."),
        ("run.viscosity_30.speed", "Write run.viscosity_20.speed."),
    ],
)
def test_evidence_stands_behind_a_value_that_is_there(name, said, identity):
    found = identity(PAINT, ("retention: 10 years", f"retention: 10 years\nevidence: {{{name}: STUDY-12}}"))
    assert ([] if said is None else ["IDN13"]) == [d.code for d in found]
    if said is not None:
        assert ("evidence", name) == found[0].path
        assert said in found[0].ways_out[0]
