"""Whose factor a display had in it."""

from decimal import Decimal

from fillmark.records.factors import MOST, Shown, explained, fits


def shown(torque: str, display: str, half: str = "0.005") -> Shown:
    return Shown(Decimal(torque), Decimal(display), Decimal(half))


def test_a_step_of_the_readout_and_the_last_digit_may_lie_between():
    # 0.2 Pa·s/% and steps of 0.1 %: 0.02 Pa·s, and 0.005 for the last digit.
    assert fits(shown("48.6", "9.745"), Decimal("0.2"), Decimal("0.1"))
    assert not fits(shown("48.6", "9.746"), Decimal("0.2"), Decimal("0.1"))


def test_one_factor_must_explain_all_displays(compiled):
    method = compiled("MCW-VIS-014").method
    step = method.step("viscosity_20")
    known = (Decimal("0.2"), Decimal("0.1"))
    # R6: 1000 Pa·s·rpm at 20 rpm is 0.5 Pa·s/%.
    found = explained(method, step, [shown("40.0", "20.00"), shown("44.0", "22.00")], *known)
    assert "it is the factor of R6 at 20 rpm" in found
    assert [] == explained(method, step, [shown("40.0", "20.00"), shown("44.0", "11.37")], *known)
    assert len(explained(method, step, [shown("1.0", "0.50", "0.5")], *known)) <= MOST
