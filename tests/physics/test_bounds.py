import math

import pytest

from fillmark.physics.bounds import above_zero, not_below_zero


@pytest.mark.parametrize("value", [0, -1, -1e-300, math.inf, math.nan])
def test_above_zero_refuses_and_names_the_quantity(value):
    with pytest.raises(ValueError, match=r"^inner radius must be finite and above 0, not "):
        above_zero(speed=1, inner_radius=value)


@pytest.mark.parametrize("value", [-1, -1e-300, math.inf, math.nan])
def test_not_below_zero_refuses_and_names_the_quantity(value):
    with pytest.raises(ValueError, match=r"^inner radius must be finite and not below 0, not "):
        not_below_zero(speed=0, inner_radius=value)


def test_what_can_exist_is_let_through():
    above_zero(a=1e-300, b=1e300)
    not_below_zero(a=0, b=1e300)
