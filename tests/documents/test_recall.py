"""The notice of copies called back: each copy with room to account for it."""

from datetime import date

import pytest

from fillmark.digest import digest
from fillmark.documents.recall import Called, plan_recall
from fillmark.documents.wording import Phrases
from fillmark.render import render

CALLED = (
    Called("1 of 2", "Bench 1", "2026-12-02", "checklist"),
    Called("2 of 2", "Bench 2", "2026-12-02", "checklist"),
)


@pytest.fixture(scope="module")
def page(compiled):
    """Plan the notice for copies of MCW-VIS-014."""

    def plan(copies=CALLED, *, whole=False, reason="the wrong fluid"):
        one = compiled("MCW-VIS-014").method
        return plan_recall(
            one, digest(one), copies, Phrases(one.reference.phrases), reason=reason, by="Q. Keeper",
            today=date(2026, 12, 10),
            whole=whole,
        )  # fmt: skip

    return plan


def test_it_says_what_was_called_back_when_by_whom_and_why(page, look):
    text = look.everything(page())
    assert (
        "2 copies of MCW-VIS-014 revision 3, called back on 2026-12-10 by Q. Keeper: the wrong fluid" in text
    )
    assert "no further copy" not in text
    assert "no further copy of it is issued" in look.everything(page(whole=True))
    assert "1 copy of" in look.everything(page(CALLED[:1]))


def test_each_copy_has_room_for_what_became_of_it(page, look):
    (table,) = (b for b in look.blocks(page(), "table") if b.name == "copies")
    assert [["1 of 2", "Bench 1"], ["2 of 2", "Bench 2"]] == [
        [look.words(c) for c in row[:2]] for row in table.rows
    ]
    assert {("write", "write")} == {tuple(cell.kind for cell in row[4:]) for row in table.rows}


def test_without_copies_there_is_no_empty_table(page, look):
    assert ["signatures"] == [b.name for b in look.blocks(page(()), "table")]


def test_a_reason_is_text(page):
    assert "<img" not in render(page(reason="<img src=x>"))
