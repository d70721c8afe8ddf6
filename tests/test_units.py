"""The tables of units against each other; their scales are tested with the quantities, against pint."""

import pytest

from fillmark.quantities import QuantityError, parse_any
from fillmark.units import ALSO, CONFUSED, CONVERTED, MISTAKES, TITLES, UNITS, of_kind, spelling


def test_kinds_have_titles_and_units():
    assert set(TITLES) == {kind for kinds, _, _ in UNITS.values() for kind in kinds}
    for kind, title in TITLES.items():
        assert of_kind(kind)
        assert title.startswith(("a ", "an "))
    with pytest.raises(KeyError):
        of_kind("haste")


def test_kinds_that_are_confused_are_kinds():
    assert set() == {kind for pair in CONFUSED for kind in pair} - set(TITLES)


def test_every_suggested_spelling_in_the_tables_can_be_read():
    right = [r for r, _ in MISTAKES.values()] + [c[0] for c in CONVERTED.values()]
    for unit in {*right, *ALSO.values()}:
        assert unit in UNITS
    for mistake in {*MISTAKES, *CONVERTED}:
        with pytest.raises(QuantityError):
            parse_any(f"5 {mistake}")


@pytest.mark.parametrize("written", ["Pa s", "Pa*s", "Pa.s", "Pa⋅s", "Pa · s", "Pa\u00a0s"])
def test_a_unit_is_known_by_its_other_spellings(written):
    assert "Pa·s" == spelling(written)
