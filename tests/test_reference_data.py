"""The shipped spindles against first principles: a coefficient of the wrong row or unit cannot hide."""

from math import pi, radians, sqrt, tan

import pytest
from scipy import integrate

from fillmark.first_principles import from_dimensions
from fillmark.physics import flow
from fillmark.reference import load

REFERENCE, _ = load()
assert REFERENCE is not None
SPINDLES = REFERENCE.spindles.values()
PLAIN = [s for s in SPINDLES if s.plain and s.diameter is not None]


def torque(spindle):
    """Full-scale torque (N·m) of the spring the coefficient is given for."""
    return REFERENCE.springs[spindle.coefficient_spring].full_scale.value


def bare(spindle):
    """Coefficient of the body alone in liquid without walls (Pa·s·rpm): faces and mantle."""
    return from_dimensions(spindle, torque(spindle), None)


def test_disc_drag_is_the_integral_of_the_exact_traction():
    # Stress on one face of a disc turning edgewise in creeping flow: 4·η·ω·r/(π·√(R² − r²)) (Jeffery 1915,
    # from memory); the torque of both faces is twice the integral of r·stress·2π·r.
    face, _ = integrate.quad(lambda r: 2 * pi * r**2 * 4 * r / (pi * sqrt(1 - r**2)), 0, 1)
    assert 2 * face == pytest.approx(flow.DISC_DRAG)


@pytest.mark.parametrize("spindle", PLAIN, ids=lambda s: s.key)
def test_shaft_rim_guard_and_wall_add_drag_but_do_not_double_it(spindle):
    # Jeffery's disc and the Margules cylinder have less drag than the real piece, by 1.0 to 2.1 times.
    ratio = bare(spindle) / spindle.coefficient.value
    assert 1.0 <= ratio <= 2.1


@pytest.mark.parametrize("factor", [4, 8, 10.67, 10, 1000])
@pytest.mark.parametrize("spindle", PLAIN, ids=lambda s: s.key)
def test_a_slip_would_be_seen(spindle, factor):
    # Another spring, a radius for a diameter, a power of ten; a factor of 2 would pass with some spindles.
    ratio = bare(spindle) / spindle.coefficient.value
    assert not 1.0 <= ratio / factor <= 2.1
    assert not 1.0 <= ratio * factor <= 2.1


@pytest.mark.parametrize("key", ["chamber-11.8", "coaxial-25.1"])
def test_coaxial_pieces_follow_from_their_dimensions(key):
    # Margules: C = T (1/Ri² - 1/Ro²)/(4π L · 2π/60); the tabulated value is rounded
    s = REFERENCE.spindles[key]
    inner, outer = s.diameter.value / 2, REFERENCE.containers[s.container].inside_diameter.value / 2
    expected = torque(s) * (1 / inner**2 - 1 / outer**2) / (4 * pi * s.effective_length.value * 2 * pi / 60)
    assert expected == pytest.approx(s.coefficient.value, rel=0.01)


def test_the_cone_follows_from_its_dimensions():
    # C = 3 T tan α/(2π R³ · 2π/60)
    s = REFERENCE.spindles["cone-0.8"]
    angle = radians(s.cone_angle.value)
    expected = 3 * torque(s) * tan(angle) / (2 * pi * (s.diameter.value / 2) ** 3 * 2 * pi / 60)
    assert expected == pytest.approx(s.coefficient.value, rel=0.01)


def test_the_springs_stand_in_their_customary_ratios():
    # 1 : 2 : 8 from the second on; the first is the odd one
    full = [REFERENCE.springs[k].full_scale.value for k in ("L", "R", "2R", "8R")]
    assert 2.0 == pytest.approx(full[2] / full[1], rel=1e-12)
    assert 8.0 == pytest.approx(full[3] / full[1], rel=1e-12)
    assert 10.67 == pytest.approx(full[1] / full[0], abs=0.005)


@pytest.mark.parametrize("spindle", [s for s in SPINDLES if s.twin], ids=lambda s: s.key)
def test_look_alikes_name_each_other_and_share_no_spring(spindle):
    twin = REFERENCE.spindles[spindle.twin]
    assert spindle.key == twin.twin
    assert set() == set(spindle.springs) & set(twin.springs)


@pytest.mark.parametrize("coupling", REFERENCE.couplings.values(), ids=lambda c: c.key)
def test_each_coupling_has_the_guard_that_names_it(coupling):
    assert coupling.key in REFERENCE.guards[coupling.guard].couplings


@pytest.mark.parametrize("instrument", REFERENCE.instruments.values(), ids=lambda i: i.key)
def test_each_instrument_has_a_suspension_its_spring_is_built_with(instrument):
    assert instrument.suspension in REFERENCE.springs[instrument.spring].suspensions
