import pytest

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


def test_a_disc_and_its_shaft_hardly_lift_the_level():
    # By hand: disc 27.30 × 1.65 mm 0.966 ml, 47.5 mm of shaft 3.2 mm 0.382 ml; 1.35 ml lift by 0.25 mm.
    disc = container.cylinder_volume(diameter=27.30 * MM, length=1.65 * MM)
    shaft = container.cylinder_volume(diameter=3.2 * MM, length=47.5 * MM)
    assert 1.35 == pytest.approx((disc + shaft) / ML, abs=0.005)
    beaker = {"volume": 500 * ML, "inside_diameter": 82.5 * MM}
    lift = container.fill_level(**beaker, displaced=disc + shaft) - container.fill_level(**beaker)
    assert 0.25 == pytest.approx(lift / MM, abs=0.005)


def test_helical_path_goes_down_and_up():
    # 22 mm a minute, the customary order of the rate (common practice), by hand.
    rate = 22 * MM / 60
    assert 43 == pytest.approx(container.helical_path(start_depth=10 * MM, rate=rate, time=90) / MM)
    assert 10 == pytest.approx(container.helical_path(start_depth=43 * MM, rate=-rate, time=90) / MM)
