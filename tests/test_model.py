"""What the values of a method know of themselves."""

import pytest

from fillmark.model import People


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ("A. Osei", "a osei", True),
        ("A. Osei", "A.  OSEI ", True),
        ("A. Osei", "A. Oseil", False),
        ("H. Marlow", "A. Osei", False),
        ("Ł. Żuk", "ł żuk", True),
    ],
)
def test_a_person_is_known_by_letters_alone(one, other, expected):
    assert expected == People((), one, None, None).wrote(other)


def test_nobody_is_not_the_author():
    assert not People((), "A. Osei", None, None).wrote(None)
