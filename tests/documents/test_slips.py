"""A slip in words: which way, by how much, and how far that can be trusted."""

import pytest

from fillmark.documents import plain
from fillmark.documents.slips import Slip, first, size, told
from fillmark.documents.wording import Phrases


@pytest.fixture
def phrases(reference):
    return Phrases(reference.phrases)


def slip(
    key="zero.high", shifts=("+2.5 %", "+2.0 %", "+1.7 %"), direction="high", known="computed", batches=""
):
    return Slip(key, "Zero off by +1 % of scale", direction, known, shifts, batches, "It adds up.", "")


def spaced(text):
    return plain(text).replace("\u00a0", " ")


def test_a_size_that_differs_is_given_at_both_limits(phrases):
    assert "+2.5 % at the lower limit, +1.7 % at the upper" == size(slip(), phrases).replace("\u00a0", " ")


def test_a_size_that_is_the_same_everywhere_is_given_once(phrases):
    assert "-2.0 %" == size(slip(shifts=("-2.0 %", "-2.0 %", "-2.0 %")), phrases).replace("\u00a0", " ")


def test_one_limit_alone_gives_what_there_is(phrases):
    assert "-2.0 % / -1.0 %" == size(slip(shifts=("", "-2.0 %", "-1.0 %")), phrases).replace("\u00a0", " ")


def test_a_size_that_is_not_computed_says_so(phrases):
    text = spaced(told(slip(shifts=("-20 to 0 %",) * 3, direction="low", known="from memory"), phrases))
    assert "Zero off by +1 % of scale: reads low (-20 to 0 %, from memory)." == text


def test_without_a_number_the_reason_is_told(phrases):
    text = spaced(told(slip(shifts=("", "", ""), direction="low", known="not known"), phrases))
    assert "Zero off by +1 % of scale: reads low. It adds up." == text


def test_what_gives_no_number_claims_no_direction(phrases):
    text = spaced(told(slip(shifts=("", "", ""), direction="none", known="ruled out"), phrases))
    assert "Zero off by +1 % of scale: gives no number. It adds up." == text


def test_the_whole_has_reason_and_batches(phrases):
    text = spaced(told(slip(batches="Bad batches pass."), phrases, whole=True))
    assert text.endswith("It adds up. Bad batches pass.")


def test_the_order_asked_for_counts_and_a_number_goes_before_none():
    slips = {
        "container.narrower": slip("container.narrower", known="ruled out"),
        "container.wider": slip("container.wider"),
        "spindle-hung.R3": slip("spindle-hung.R3"),
    }
    assert "container.wider" == first(slips, "container.narrower", "container.wider").key
    assert "container.narrower" == first(slips, "container.narrower").key
    assert "spindle-hung.R3" == first(slips, "spindle-hung.", "container.wider").key
    assert first(slips, "guard.off") is None
