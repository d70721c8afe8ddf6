"""Reading free text: clauses, denials, word lists."""

import pytest

from fillmark.quantities import brief
from fillmark.rules.wording import any_of, clauses, found_in, may_hold


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Stir; rest. Read!", ["Stir", "rest", "Read"]),
        ("Stir 2 min. Rest 5 min; read", ["Stir 2 min", "Rest 5 min", "read"]),
        ("Hold 2.5 min at 23.0 °C", ["Hold 2.5 min at 23.0 °C"]),
        ("Take spindle no. 4 at approx. 20 rpm", ["Take spindle no. 4 at approx. 20 rpm"]),
        ("One line\nof a sentence", ["One line\nof a sentence"]),
        ("First\n\nSecond", ["First", "Second"]),
        ("Do this:\n- first\n- second", ["Do this", "first", "second"]),
        ("Read at {{run.a.read_at}} and stop", ["Read at … and stop"]),
        ("", []),
    ],
)
def test_a_text_is_split_where_a_reader_would_stop(text, expected):
    assert expected == [c.text.strip() for c in clauses(text)]


@pytest.mark.parametrize(
    ("text", "word", "expected"),
    [
        ("Never remove the guard", "remove", True),
        ("Do not, whatever they say, remove it", "remove", False),  # denied before the comma only
        ("Do not shake, fit the guard", "fit", False),
        ("Remove it and never look back", "Remove", False),
        ("Without haste fit it", "fit", True),
        ("The knot is tied", "tied", False),
    ],
)
def test_a_denial_holds_back_to_the_last_comma(text, word, expected):
    clause = clauses(text)[0]
    assert expected == clause.denied(clause.text.index(word))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("A few turns, room\n temperature", ["A few", "room temperature"]),
        ("a fewer, bedroom temperatures", []),
        ("A few and a few more", ["A few"]),
        ("{{a few}}", []),
    ],
)
def test_listed_words_are_found_whole(text, expected):
    assert expected == list(found_in(text, "a few, room temperature"))


def test_the_longest_of_two_words_is_taken():
    match = any_of("room, room temperature").search("at room temperature")
    assert match is not None
    assert "room temperature" == match[0]


def test_an_empty_list_finds_nothing():
    assert any_of("").search("anything at all") is None
    assert not may_hold("anything at all", "")


@pytest.mark.parametrize(
    ("value", "digits", "expected"), [(5.0, 3, "5"), (0.5, 2, "0.5"), (12345.0, 3, "12300"), (0.0, 2, "0")]
)
def test_a_number_is_written_without_idle_zeros(value, digits, expected):
    assert expected == brief(value, digits)
