"""A value is put at its place, and nothing else of the text changes."""

import pytest

from fillmark.insert import CannotInsertError, insert
from fillmark.read import read


@pytest.mark.parametrize(
    ("before", "path", "value", "after"),
    [
        ("a: 1\nspindle: R5  # x\n", ("spindle",), "R4", "a: 1\nspindle: R4  # x\n"),
        ("a: 1\nspindle: 'R5'\n", ("spindle",), "R4", "a: 1\nspindle: 'R4'\n"),
        ("spindle:   # which?\na: 1\n", ("spindle",), "R4", "spindle: R4   # which?\na: 1\n"),
        ("spindle:\n  name: R5\n  marking: q\na: 1\n", ("spindle",), "R4", "spindle:\n  R4\na: 1\n"),
        ("{a: 1}\n", ("instrument", "spring"), "R", "{a: 1, instrument: {spring: R}}\n"),
        ("id: 1", ("instrument", "spring"), "8R", "id: 1\ninstrument: {spring: 8R}"),
        ("id: 1\r\nrun:\r\n  - name: a # c\r\n    read: {x: 1} # d\r\n", ("run", 0, "speed"), "2 rpm",
         "id: 1\r\nrun:\r\n  - name: a # c\r\n    read: {x: 1} # d\r\n    speed: 2 rpm\r\n"),
        ("id: 1\nrun: [{name: a}]\n", ("run", 0, "speed"), "2 rpm", "id: 1\nrun: [{name: a, speed: 2 rpm}]\n"),
        ("id: 1\nrun:\n- {name: a}\n", ("run", 1), {"name": "b", "speed": "2 rpm"},
         "id: 1\nrun:\n- {name: a}\n- {name: b, speed: 2 rpm}\n"),
        ("id: 1\nreport: []\n", ("run", 0), {"name": "b"}, "id: 1\nrun:\n  - {name: b}\nreport: []\n"),
    ],
)  # fmt: skip
def test_a_value_is_put_at_its_place(before, path, value, after):
    assert after == insert(before, path, value)[0]


@pytest.mark.parametrize("text", ["a: 1\nrun: {name: a,}\n", "a: &x 1\n"])
def test_a_place_that_cannot_be_edited_is_left_to_its_author(text):
    try:
        after, _ = insert(text, ("run", "speed"), "2 rpm")
    except CannotInsertError:
        return
    assert {"name": "a", "speed": "2 rpm"} == read(after.encode(), "").source.data["run"]
