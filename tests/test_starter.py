"""The draft of a method, piece by piece; `test_new.py` follows whole ones from the answers to the file."""

import click
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark import new, starter
from fillmark.quantities import parse


@given(
    name=st.text(
        st.characters(blacklist_categories=("Cs", "Cc", "Cf", "Zl", "Zp", "Co", "Cn")),
        min_size=1,
        max_size=40,
    )
)
@settings(max_examples=150)
def test_any_printable_name_comes_back_from_the_file_as_it_was_given(name):
    try:
        tidy = new._line(80)(name)
    except click.BadParameter:
        return
    assert {"name": tidy} == yaml.safe_load(f"name: {starter._scalar(tidy)}\n")
    assert {"people": {"author": tidy}} == yaml.safe_load(f"people: {{author: {starter._scalar(tidy)}}}\n")


@pytest.mark.parametrize(("rpm", "name"), [(20.0, "viscosity_20"), (0.5, "viscosity_0_5")])
def test_a_step_is_named_by_its_speed(rpm, name):
    assert name == starter.step_name(rpm)


@pytest.mark.parametrize(
    ("written", "places", "text"),
    [("8 Pa·s", 1, "8.0 Pa·s"), ("8.00 Pa·s", 1, "8.00 Pa·s"), ("1e3 mPa·s", 1, "1000.0 mPa·s")],
)
def test_a_limit_gets_decimals_and_keeps_its_value(written, places, text):
    quantity = parse(written, "viscosity")
    assert text == starter.with_decimals(quantity, places)
    assert quantity.value == parse(text, "viscosity").value


# The coarsest of the usual steps that a thermometer has (common practice), not above the value; by hand.
@pytest.mark.parametrize(("value", "step"), [(0.1, 0.1), (0.0999, 0.05), (0.02, 0.02), (0.0001, 0.001)])
def test_the_step_of_a_thermometer(value, step):
    assert step == starter._step_below(value)
