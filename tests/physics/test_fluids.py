import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.physics import fluids

ZERO = 273.15

# Water at 101 325 Pa, mPa·s: 1.0016 at 20 °C (ISO/TR 3666, from memory), the others IAPWS R12-08 (computed
# with iapws 1.5.5).
WATER = {10: 1.30590, 20: 1.00160, 25: 0.89002, 30: 0.79722, 40: 0.65273, 60: 0.46604}


def test_sensitivity_of_water_at_20():
    # IAPWS R12-08: −2.45 %/K at 20 °C (computed); a pair 10 K apart on either side comes within 2 %.
    actual = fluids.sensitivity_from_pair(
        viscosity_1=WATER[10], temperature_1=10, viscosity_2=WATER[30], temperature_2=30
    )
    assert 2.45 == pytest.approx(actual, rel=0.02)


@given(
    viscosities=st.tuples(st.floats(min_value=1e-3, max_value=1e3), st.floats(min_value=1e-3, max_value=1e3)),
    temperatures=st.tuples(st.floats(min_value=0, max_value=50), st.floats(min_value=51, max_value=100)),
)
def test_order_of_the_pair_does_not_matter(viscosities, temperatures):
    there = fluids.sensitivity_from_pair(
        viscosity_1=viscosities[0],
        temperature_1=temperatures[0],
        viscosity_2=viscosities[1],
        temperature_2=temperatures[1],
    )
    back = fluids.sensitivity_from_pair(
        viscosity_1=viscosities[1],
        temperature_1=temperatures[1],
        viscosity_2=viscosities[0],
        temperature_2=temperatures[0],
    )
    assert there == pytest.approx(back)
    assert (there > 0) == (viscosities[0] > viscosities[1])


# By hand: −s·ΔT/100; a warmer sample reads low.
@pytest.mark.parametrize(("sensitivity", "warmer_by", "shift"), [(3, 0.5, -0.015), (6, -2, 0.12), (0, 5, 0)])
def test_shift_of_a_sample_off_its_temperature(sensitivity, warmer_by, shift):
    actual = fluids.temperature_shift(sensitivity_percent_per_k=sensitivity, warmer_by=warmer_by)
    assert shift == pytest.approx(actual)


def test_pair_at_one_temperature_cannot_be():
    with pytest.raises(ValueError, match="same temperature"):
        fluids.sensitivity_from_pair(viscosity_1=1, temperature_1=20, viscosity_2=2, temperature_2=20)
    with pytest.raises(ValueError, match="same temperature"):
        fluids.walther_kinematic(
            viscosity_1=1e-4, temperature_1=300, viscosity_2=1e-5, temperature_2=300, temperature=310
        )


# Kinematic viscosities, mm²/s, of oils given at 40 and 100 °C, by the equation of ASTM D341 (computed).
OILS = [
    (100, 11.4, {0: 1719.49, 20: 334.28, 25: 238.924, 60: 40.217, 80: 19.892, 120: 7.271}),
    (73.30, 8.86, {0: 1233.066, 20: 240.981, 25: 172.841, 60: 30.083, 80: 15.180, 120: 5.742}),
    (30, 5.0, {0: 330.76, 20: 82.224, 25: 62.021, 60: 14.125, 80: 7.910, 120: 3.449}),
]


@pytest.mark.parametrize(("at_40", "at_100", "others"), OILS)
def test_oils_between_and_beyond_their_pair(at_40, at_100, others):
    for celsius, expected in {**others, 40: at_40, 100: at_100}.items():
        actual = fluids.walther_kinematic(
            viscosity_1=at_40 * 1e-6,
            temperature_1=40 + ZERO,
            viscosity_2=at_100 * 1e-6,
            temperature_2=100 + ZERO,
            temperature=celsius + ZERO,
        )
        assert expected == pytest.approx(1e6 * actual, rel=2e-4)


@pytest.mark.parametrize("celsius", WATER)
def test_glycerol_formula_gives_water_at_no_glycerol(celsius):
    actual = fluids.glycerol_water(mass_fraction=0, temperature=celsius + ZERO)
    assert WATER[celsius] == pytest.approx(1000 * actual, rel=0.01)


# The arithmetic of Cheng's formula at 20 °C, worked by hand: η_w = 1.790·exp(−1250·20/43300),
# η_g = 12100·exp(−1213·20/11300); half and half a = 0.671, b = 2.072729, α = 0.753451.
@pytest.mark.parametrize(
    ("fraction", "millipascal_seconds"), [(0, 1.00486019), (0.5, 6.0022503), (1, 1413.83066)]
)
def test_arithmetic_of_the_glycerol_formula(fraction, millipascal_seconds):
    actual = 1000 * fluids.glycerol_water(mass_fraction=fraction, temperature=20 + ZERO)
    assert millipascal_seconds == pytest.approx(actual, rel=2e-6)


# Glycerol solutions at 20 °C, mPa·s: Segur and Oberstar, Ind. Eng. Chem. 43 (1951) 2117, from memory; the
# formula claims a few per cent.
@pytest.mark.parametrize(
    ("fraction", "millipascal_seconds"),
    [(0.2, 1.76), (0.4, 3.72), (0.5, 6.00), (0.6, 10.8), (0.8, 60.1), (1, 1410)],
)
def test_glycerol_solutions_at_20(fraction, millipascal_seconds):
    actual = 1000 * fluids.glycerol_water(mass_fraction=fraction, temperature=20 + ZERO)
    assert millipascal_seconds == pytest.approx(actual, rel=0.03)


@given(
    fraction=st.floats(min_value=0, max_value=0.99),
    celsius=st.floats(min_value=0, max_value=99),
)
def test_glycerol_thickens_and_warmth_thins(fraction, celsius):
    here = fluids.glycerol_water(mass_fraction=fraction, temperature=celsius + ZERO)
    assert here < fluids.glycerol_water(mass_fraction=fraction + 0.01, temperature=celsius + ZERO)
    assert here > fluids.glycerol_water(mass_fraction=fraction, temperature=celsius + 1 + ZERO)


@pytest.mark.parametrize("fraction", [-0.1, 1.1])
def test_fraction_out_of_range(fraction):
    with pytest.raises(ValueError, match="mass fraction"):
        fluids.glycerol_water(mass_fraction=fraction, temperature=300)
