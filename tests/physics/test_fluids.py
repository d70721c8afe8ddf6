"""Temperature dependence against water by IAPWS."""

from math import log

import iapws
import pytest

from fillmark.physics import fluids


def water(celsius):
    """Give the viscosity of water at 101.325 kPa by IAPWS (iapws package), mPa·s."""
    return 1000 * iapws.IAPWS95(T=celsius + 273.15, P=0.101325).mu


def test_water_is_what_the_standard_says():
    # ISO/TR 3666, from memory: 1.0016 mPa·s at 20 °C.
    assert 1.0016 == pytest.approx(water(20), abs=5e-5)


@pytest.mark.parametrize(("at", "to"), [(20, 20.5), (20, 21), (25, 24), (40, 41)])
def test_water_a_few_kelvin_off(at, to):
    """The slope over a tenth of a kelvin at the one temperature foretells the value at the other."""
    slope = 100 * log(water(at) / water(at + 0.1)) / 0.1
    foretold = fluids.temperature_shift(sensitivity_percent_per_k=slope, warmer_by=to - at)
    assert water(to) / water(at) - 1 == pytest.approx(foretold, abs=5e-4)


# By hand: −s·ΔT/100; a warmer sample reads low.
@pytest.mark.parametrize(("sensitivity", "warmer_by", "shift"), [(3, 0.5, -0.015), (6, -2, 0.12)])
def test_shift_of_a_sample_off_its_temperature(sensitivity, warmer_by, shift):
    actual = fluids.temperature_shift(sensitivity_percent_per_k=sensitivity, warmer_by=warmer_by)
    assert shift == pytest.approx(actual)


def test_nothing_off_is_no_shift_and_warm_reads_low():
    assert 0 == fluids.temperature_shift(sensitivity_percent_per_k=3, warmer_by=0)
    assert 0 == fluids.temperature_shift(sensitivity_percent_per_k=0, warmer_by=5)
    assert fluids.temperature_shift(sensitivity_percent_per_k=3, warmer_by=0.5) < 0


def test_a_sensitivity_below_nothing_is_refused():
    with pytest.raises(ValueError, match="sensitivity"):
        fluids.temperature_shift(sensitivity_percent_per_k=-1, warmer_by=1)
