"""The index of a laboratory's methods."""

import csv
from datetime import date
from html.parser import HTMLParser
from io import StringIO

import pytest

from fillmark.catalogue import entries, equipment_csv, methods_csv, page, pieces
from fillmark.pipeline import compile_method

DAY = date(2026, 11, 25)
PAINT, SAUCE, CREAM = "MCW-VIS-014", "TGF-VIS-003", "LMT-VIS-021"


def piece(listed, label):
    [one] = [p for p in listed if p.label == label]
    return one


def test_an_entry_says_where_a_method_stands(compiled):
    [one] = entries([compiled(PAINT)], {PAINT: 2}, DAY)
    assert (PAINT, 3, "released", 2, "none") == (
        one.id,
        one.revision,
        one.status,
        one.released,
        str(one.findings),
    )
    # The inventory of the demonstration: bench-2 and bench-12 have spring R, digital, threaded, pivot and jewel.
    assert ("Bench 2", "Bench 12") == one.instruments


@pytest.mark.parametrize(("day", "said"), [
    (date(2029, 8, 31), "not yet"), (date(2029, 9, 1), "due in 90 days"), (date(2029, 11, 29), "due in 1 day"),
    (date(2029, 11, 30), "due in 0 days"), (date(2029, 12, 2), "overdue by 2 days"),
])  # fmt: skip
def test_the_review_is_told_by_the_day(compiled, day, said):
    # review_by is 2029-11-30; review_notice of the policy is 90 days.
    assert said == entries([compiled(PAINT)], {}, day)[0].review


def test_findings_are_counted_by_weight(compiled):
    fast = compiled(PAINT, ("speed: 20 rpm, read: {after: 60 s}", "speed: 60 rpm, read: {after: 60 s}"))
    [one] = entries([fast], {}, DAY)
    assert sum(d.blocks for d in fast.diagnostics) == one.findings.errors > 0
    assert str(one.findings).startswith(f"{one.findings.errors} error")


def test_a_file_that_cannot_be_compiled_is_listed_last_with_its_errors(compiled, reference):
    broken = compile_method(b"title: [", "broken.yaml", reference)
    listed = entries([broken, compiled(PAINT)], {}, DAY)
    assert [PAINT, ""] == [e.id for e in listed]
    assert ("broken.yaml", "unreadable", None, ()) == (
        listed[1].file, listed[1].status, listed[1].revision, listed[1].instruments,
    )  # fmt: skip
    assert listed[1].findings.errors > 0


def test_what_becomes_invalid_without_a_piece(compiled, reference):
    listed = pieces([compiled(n) for n in (PAINT, SAUCE, CREAM)], reference)
    assert "cannot be run: MCW-VIS-014" == piece(listed, "R5").consequence
    assert (
        "cannot be verified, so that no result stands: MCW-VIS-014, TGF-VIS-003"
        == piece(listed, "REF-10000").consequence
    )
    assert (
        "MCW-VIS-014 is left with Bench 12; TGF-VIS-003 is left with Bench 12"
        == piece(listed, "Bench 2").consequence
    )
    assert "cannot be run: LMT-VIS-021" == piece(listed, "Bench 4").consequence
    assert ("timer", ("LMT-VIS-021", "MCW-VIS-014", "TGF-VIS-003")) == (
        piece(listed, "timer").label, piece(listed, "timer").methods("stops"),
    )  # fmt: skip
    assert () == piece(listed, "L1").uses


def test_the_guard_counts_only_where_it_is_fitted(compiled, reference):
    with_guard = pieces([compiled(PAINT)], reference)
    without = pieces([compiled(PAINT, ("guard: required", "guard: not-used"))], reference)
    assert (PAINT,) == piece(with_guard, "standard guard").methods("stops")
    assert () == piece(without, "standard guard").uses


def test_a_withdrawn_method_needs_nothing(compiled, reference):
    listed = pieces([compiled(PAINT, ("status: released", "status: withdrawn"))], reference)
    assert not any(p.uses for p in listed)


def test_the_tables_read_back(compiled, reference):
    methods = entries([compiled(PAINT, ("title: Apparent", "title: '=Apparent'#"))], {}, DAY)
    [row] = csv.DictReader(StringIO(methods_csv(methods).decode("utf-8-sig")))
    assert (PAINT, "'=Apparent", "3") == (row["id"], row["title"], row["revision"])
    rows = csv.DictReader(StringIO(equipment_csv(pieces([compiled(PAINT)], reference)).decode("utf-8-sig")))
    assert {"R5": PAINT, "standard guard": PAINT} == {
        r["piece"]: r["stops"] for r in rows if r["piece"] in ("R5", "standard guard")
    }


def test_the_page_holds_every_method_and_no_markup_of_authors(compiled, reference):
    one = compiled(PAINT, ("name: Hearthstone matt wall paint", "name: '<script>x</script>'"))
    html = page(entries([one], {}, DAY), pieces([one], reference), [], "a<b>", DAY).decode()

    class Tags(HTMLParser):
        seen: set[str] = set()  # noqa: RUF012 - one parser, one test

        def handle_starttag(self, tag, attrs):  # noqa: ARG002
            self.seen.add(tag)

    Tags().feed(html)
    assert PAINT in html
    assert not {"script", "b"} & Tags.seen
    assert "&lt;script&gt;" in html
