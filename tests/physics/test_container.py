import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from fillmark.physics import container

ML, MM = 1e-6, 1e-3


# By hand: h = V/(π·D²/4).
@pytest.mark.parametrize(
    ("millilitres", "diameter", "height"), [(500, 82.5, 93.5), (400, 82.5, 74.8), (500, 86, 86.1)]
)
def test_level_in_beakers(millilitres, diameter, height):
    actual = container.fill_level(volume=millilitres * ML, inside_diameter=diameter * MM)
    assert height == pytest.approx(actual / MM, abs=0.05)


def test_level_in_a_small_chamber_with_its_spindle():
    # By hand: 11.6 ml in a bore of 19.0 mm.
    actual = container.fill_level(volume=8 * ML, inside_diameter=19 * MM, displaced=3.6 * ML)
    assert 40.9 == pytest.approx(actual / MM, abs=0.05)


def test_one_millilitre_in_a_small_chamber():
    actual = container.level_change(volume_change=-1 * ML, inside_diameter=19 * MM)
    assert -3.53 == pytest.approx(actual / MM, abs=0.01)


def test_a_disc_and_its_shaft_hardly_lift_the_level():
    # By hand: disc 27.30 × 1.65 mm 0.966 ml, 47.5 mm of shaft 3.2 mm 0.382 ml; 1.35 ml lift by 0.25 mm.
    disc = container.cylinder_volume(diameter=27.30 * MM, length=1.65 * MM)
    shaft = container.cylinder_volume(diameter=3.2 * MM, length=47.5 * MM)
    assert 1.35 == pytest.approx((disc + shaft) / ML, abs=0.005)
    lift = container.level_change(volume_change=disc + shaft, inside_diameter=82.5 * MM)
    assert 0.25 == pytest.approx(lift / MM, abs=0.005)


heights = st.floats(min_value=0, max_value=0.1)
sections = st.lists(
    st.tuples(heights, heights, st.floats(min_value=0, max_value=2e-4)).map(
        lambda piece: (min(piece[:2]), max(piece[:2]), piece[2])
    ),
    max_size=4,
)


@given(volume=st.floats(min_value=0, max_value=1e-3), pieces=sections)
def test_settled_level_balances_the_volumes(volume, pieces):
    area = math.pi * 0.0825**2 / 4
    level = container.settled_level(volume=volume, inside_diameter=0.0825, sections=pieces)
    displaced = container.displaced_volume(level=level, sections=pieces)
    assert volume + displaced == pytest.approx(area * level, rel=1e-9, abs=1e-15)


@given(volume=st.floats(min_value=1e-6, max_value=1e-3), pieces=sections)
def test_settled_level_agrees_with_a_root_finder(volume, pieces):
    area = math.pi * 0.0825**2 / 4

    def missing(level):
        return area * level - volume - container.displaced_volume(level=level, sections=pieces)

    expected = optimize.brentq(missing, 0, 1, xtol=1e-12)
    actual = container.settled_level(volume=volume, inside_diameter=0.0825, sections=pieces)
    assert expected == pytest.approx(actual, abs=1e-9)


def test_nothing_dips_in_or_nothing_reaches_the_liquid():
    plain = container.fill_level(volume=4e-4, inside_diameter=0.0825)
    above = [(0.09, 0.2, 1e-3)]
    assert plain == container.settled_level(volume=4e-4, inside_diameter=0.0825, sections=[])
    assert plain == pytest.approx(
        container.settled_level(volume=4e-4, inside_diameter=0.0825, sections=above)
    )


def test_fully_covered_body_lifts_by_its_whole_volume():
    body = [(0.01, 0.02, 5e-4)]
    expected = container.fill_level(volume=4e-4, inside_diameter=0.0825, displaced=0.01 * 5e-4)
    assert expected == pytest.approx(
        container.settled_level(volume=4e-4, inside_diameter=0.0825, sections=body)
    )


def test_level_below_the_mark_displaces_only_what_is_wet():
    # Bore of 4 cm² with a bar of 1 cm² from the bottom: 30 ml stand 10 cm high, by hand.
    actual = container.settled_level(
        volume=30e-6, inside_diameter=math.sqrt(4e-4 * 4 / math.pi), sections=[(0, 0.2, 1e-4)]
    )
    assert 0.10 == pytest.approx(actual)


def test_stacked_pieces_may_touch():
    # 4 cm² bore; 3 cm² up to 5 cm, 2 cm² above it. 5 ml fill the lower 5 cm, 10 ml more another 5 cm.
    pieces = [(0.05, 0.2, 2e-4), (0, 0.05, 3e-4)]
    bore = math.sqrt(4e-4 * 4 / math.pi)
    assert 0.10 == pytest.approx(container.settled_level(volume=15e-6, inside_diameter=bore, sections=pieces))


def test_bar_as_wide_as_the_bore_cannot_be():
    with pytest.raises(ValueError, match="fills the whole container"):
        container.settled_level(volume=8e-6, inside_diameter=0.019, sections=[(0, 0.1, 3e-4)])


@pytest.mark.parametrize("piece", [(0.02, 0.01, 1e-4), (-0.01, 0.01, 1e-4), (0, 0.01, -1e-4)])
def test_pieces_that_cannot_be(piece):
    with pytest.raises(ValueError, match=r"a section ends|from height|cross section"):
        container.displaced_volume(level=0.05, sections=[piece])


# By hand: share of 1 mm of 3.2 mm shaft in the torque of a thin disc, per cent.
@pytest.mark.parametrize(("diameter", "percent"), [(47, 0.02), (27, 0.12), (15, 0.7)])
def test_one_millimetre_of_shaft(diameter, percent):
    per_metre = container.disc_immersion_effect_per_metre(
        disc_radius=diameter / 2 * MM, shaft_radius=1.6 * MM
    )
    assert percent == pytest.approx(100 * per_metre * MM, rel=0.2)


def test_one_millimetre_of_a_pin():
    assert 2.0 == pytest.approx(100 * container.cylinder_immersion_effect_per_metre(length=50 * MM) * MM)


def test_immersion_effect_falls_with_the_cube_of_the_disc():
    small, large = (
        container.disc_immersion_effect_per_metre(disc_radius=radius, shaft_radius=1e-3)
        for radius in (0.01, 0.02)
    )
    assert 8 == pytest.approx(small / large)


def test_helical_path_goes_down_and_up():
    # 22 mm a minute, the customary order of the rate (common practice), by hand.
    rate = 22 * MM / 60
    assert 43 == pytest.approx(container.helical_path(start_depth=10 * MM, rate=rate, time=90) / MM)
    assert 10 == pytest.approx(container.helical_path(start_depth=43 * MM, rate=-rate, time=90) / MM)
