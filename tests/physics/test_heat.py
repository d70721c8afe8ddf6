import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, special

from fillmark.physics import heat

INF = math.inf
BEAKER = {"radius": 0.04125, "height": 0.0935}
"""600 ml low form filled with 500 ml: 82.5 mm inside, 93.5 mm high (by hand)."""


# Bessel functions and roots -------------------------------------------------------------------------------


@given(x=st.floats(min_value=-3000, max_value=3000))
def test_bessel_functions_agree_with_scipy(x):
    assert special.j0(x) == pytest.approx(heat.bessel_j0(x), abs=5e-14)
    assert special.j1(x) == pytest.approx(heat.bessel_j1(x), abs=5e-14)


def test_zeros_of_j0_agree_with_scipy():
    actual = [root for block in range(4) for root, _ in heat._rod_terms(INF, block)]
    assert special.jn_zeros(0, 64) == pytest.approx(actual, rel=1e-14)


# First roots and weights for slab and rod: Incropera, Table 5.1, from memory.
@pytest.mark.parametrize(
    ("biot", "slab_root", "slab_weight", "rod_root", "rod_weight"),
    [
        (0.1, 0.3111, 1.0161, 0.4417, 1.0246),
        (1, 0.8603, 1.1191, 1.2558, 1.2071),
        (10, 1.4289, 1.2620, 2.1795, 1.5677),
        (100, 1.5552, 1.2731, 2.3809, 1.6015),
        (INF, 1.5708, 1.2732, 2.4048, 1.6020),
    ],
)
def test_first_roots_of_the_textbook_table(biot, slab_root, slab_weight, rod_root, rod_weight):
    assert (slab_root, slab_weight) == pytest.approx(heat._slab_terms(biot, 0)[0], abs=1.5e-4)
    assert (rod_root, rod_weight) == pytest.approx(heat._rod_terms(biot, 0)[0], abs=1.5e-4)


@pytest.mark.parametrize("biot", [1e-3, 0.3, 5, 200, 1e5])
def test_every_root_solves_its_equation_and_none_is_missed(biot):
    rod = [root for block in range(3) for root, _ in heat._rod_terms(biot, block)]
    slab = [root for block in range(3) for root, _ in heat._slab_terms(biot, block)]
    x = np.linspace(1e-9, rod[-1] + 0.5, 200_000)
    for roots, function in (
        (rod, lambda z: z * special.j1(z) - biot * special.j0(z)),
        (slab, lambda z: z * np.sin(z) - biot * np.cos(z)),
    ):
        values = function(x)
        brackets = [i for i in np.flatnonzero(values[:-1] * values[1:] < 0) if x[i] <= roots[-1]]
        expected = [optimize.brentq(function, x[i], x[i + 1], xtol=1e-14) for i in brackets]
        assert expected == pytest.approx(roots, rel=1e-10)


# Series ---------------------------------------------------------------------------------------------------

# Fo, then wall centre, wall mean, cylinder centre, cylinder mean, wall at bath temperature: series of 60
# terms summed with scipy's roots (computed).
SERIES = [
    (0.05, 0.996869, 0.747687, 0.987099, 0.547879),
    (0.10, 0.949305, 0.643177, 0.848355, 0.394176),
    (0.20, 0.772312, 0.495912, 0.501487, 0.217852),
    (0.50, 0.370777, 0.236050, 0.088890, 0.038379),
    (1.00, 0.107977, 0.068740, 0.004932, 0.002130),
]


@pytest.mark.parametrize(("fourier", "slab", "slab_mean", "rod", "rod_mean"), SERIES)
def test_residuals_with_the_wall_at_bath_temperature(fourier, slab, slab_mean, rod, rod_mean):
    assert slab == pytest.approx(heat.slab_residual(fourier=fourier), abs=1e-6)
    assert slab_mean == pytest.approx(heat.slab_residual(fourier=fourier, position="mean"), abs=1e-6)
    assert rod == pytest.approx(heat.rod_residual(fourier=fourier), abs=1e-6)
    assert rod_mean == pytest.approx(heat.rod_residual(fourier=fourier, position="mean"), abs=1e-6)


# The same for Bi = 1, centre of wall and cylinder (computed with scipy's roots).
@pytest.mark.parametrize(
    ("fourier", "slab", "rod"),
    [
        (0.05, 0.999751, 0.998898),
        (0.1, 0.993108, 0.976817),
        (0.2, 0.950642, 0.870174),
        (0.5, 0.772526, 0.548586),
        (1.0, 0.533859, 0.249380),
    ],
)
def test_residuals_with_a_biot_number_of_1(fourier, slab, rod):
    assert slab == pytest.approx(heat.slab_residual(fourier=fourier, biot=1), abs=1e-6)
    assert rod == pytest.approx(heat.rod_residual(fourier=fourier, biot=1), abs=1e-6)


def test_short_cylinder_of_the_textbook():
    # Incropera, Fundamentals of Heat and Mass Transfer, example of the short steel cylinder: D 80, 2L 60 mm,
    # 600 K into 300 K, h 500, k 17.4 W/(m·K), 7900 kg/m³, 526 J/(kg·K), 180 s; the book's rounded answers are
    # about 405 K in the centre, 372 K in the middle of an end and 365 K in the middle of the side; all from
    # memory, and the book reads some of them off a chart.
    diffusivity = 17.4 / (7900 * 526)
    wall = {"fourier": diffusivity * 180 / 0.030**2, "biot": 500 * 0.030 / 17.4}
    rod = {"fourier": diffusivity * 180 / 0.040**2, "biot": 500 * 0.040 / 17.4}
    centre = heat.slab_residual(**wall) * heat.rod_residual(**rod)
    end = heat.slab_residual(position=1, **wall) * heat.rod_residual(**rod)
    side = heat.slab_residual(**wall) * heat.rod_residual(position=1, **rod)
    for kelvin, theta in ((405, centre), (372, end), (365, side)):
        assert kelvin == pytest.approx(300 + 300 * theta, abs=4)
    short = {"time": 180, "radius": 0.040, "height": 0.060, "diffusivity": diffusivity, "top": "bath"}
    through = {"transfer_ratio": 500 / 17.4, **short}
    assert centre == pytest.approx(heat.cylinder_residual(position="centre", **through))
    assert end == pytest.approx(heat.cylinder_residual(position="top", **through))


def test_first_moments_follow_the_half_space():
    # While the change has not crossed the layer, θ = erf(y/(2·√Fo)), y = 1 − x/L from the wall (Carslaw and
    # Jaeger, from memory); a rod's mean loses 4·√(Fo/π) − Fo (idem).
    for fourier in (1.1e-5, 1e-4, 1e-3, 1e-2):
        for y in (0.02, 0.1, 0.3):
            expected = special.erf(y / (2 * math.sqrt(fourier)))
            assert expected == pytest.approx(heat.slab_residual(fourier=fourier, position=1 - y), abs=1e-9)
        mean = 1 - 2 * math.sqrt(fourier / math.pi)
        assert mean == pytest.approx(heat.slab_residual(fourier=fourier, position="mean"), abs=1e-9)
        rod_mean = 1 - 4 * math.sqrt(fourier / math.pi) + fourier
        assert rod_mean == pytest.approx(heat.rod_residual(fourier=fourier, position="mean"), abs=1e-3)


def test_surface_behind_a_resistance_follows_the_half_space():
    # θ = exp(Bi²·Fo)·erfc(Bi·√Fo) at the surface (Carslaw and Jaeger, from memory).
    for fourier, biot in ((1e-4, 20), (1e-3, 5), (1e-2, 1)):
        expected = math.exp(biot**2 * fourier) * special.erfc(biot * math.sqrt(fourier))
        assert expected == pytest.approx(heat.slab_residual(fourier=fourier, biot=biot, position=1), abs=1e-9)


@pytest.mark.parametrize("position", [0.0, 0.35, 0.8])
@pytest.mark.parametrize("biot", [0.5, 30, INF])
def test_rod_off_the_axis_agrees_with_finite_differences(biot, position):
    # Explicit steps on rings of equal width, the heat through the wall set by the Biot number.
    cells, end = 200, 0.15
    width = 1 / cells
    faces = np.arange(1, cells) * width
    middles = (np.arange(cells) + 0.5) * width
    resistance = width / 2 + (0 if biot == INF else 1 / biot)
    step = 0.4 * width**2
    theta = np.ones(cells)
    for _ in range(round(end / step)):
        flow = faces * (theta[:-1] - theta[1:]) / width
        net = np.zeros(cells)
        net[:-1] -= flow
        net[1:] += flow
        net[-1] -= theta[-1] / resistance
        theta += step * net / (middles * width)
    expected = np.interp(position, middles, theta)
    assert expected == pytest.approx(heat.rod_residual(fourier=end, biot=biot, position=position), abs=5e-4)


@pytest.mark.parametrize("residual", [heat.slab_residual, heat.rod_residual])
def test_mean_is_the_average_over_the_section(residual):
    x = (np.arange(2000) + 0.5) / 2000
    weight = np.ones_like(x) if residual is heat.slab_residual else 2 * x
    for biot in (2.0, INF):
        local = np.array([residual(fourier=0.08, biot=biot, position=float(p)) for p in x])
        expected = float(np.mean(weight * local))
        assert expected == pytest.approx(residual(fourier=0.08, biot=biot, position="mean"), abs=1e-6)


positions = st.floats(min_value=0, max_value=1)
fouriers = st.floats(min_value=1e-5, max_value=5)
biots = st.sampled_from([0.1, 1.0, 25.0, INF])


@settings(deadline=None)  # the first call finds the roots
@given(position=positions, early=fouriers, late=fouriers, biot=biots)
def test_residual_falls_with_time(position, early, late, biot):
    early, late = sorted((early, late))
    for residual in (heat.slab_residual, heat.rod_residual):
        before = residual(fourier=early, biot=biot, position=position)
        after = residual(fourier=late, biot=biot, position=position)
        assert 0 <= after <= before + 1e-12
        assert before <= 1


@settings(deadline=None)  # the first call finds the roots
@given(fourier=fouriers, inside=positions, outside=positions, biot=biots)
def test_residual_falls_towards_the_wall(fourier, inside, outside, biot):
    inside, outside = sorted((inside, outside))
    for residual in (heat.slab_residual, heat.rod_residual):
        near_axis = residual(fourier=fourier, biot=biot, position=inside)
        near_wall = residual(fourier=fourier, biot=biot, position=outside)
        assert near_wall <= near_axis + 1e-11


@settings(deadline=None)  # the first call finds the roots
@given(fourier=st.floats(min_value=0.01, max_value=3))
def test_resistance_slows_down_and_a_vanishing_one_does_nothing(fourier):
    for residual in (heat.slab_residual, heat.rod_residual):
        free = residual(fourier=fourier)
        assert free <= residual(fourier=fourier, biot=50)
        assert free == pytest.approx(residual(fourier=fourier, biot=1e9), abs=1e-7)


def test_well_mixed_limit():
    # At a small Biot number the body is at one temperature: θ = exp(−Bi·Fo·A·L/V), Incropera chapter 5.
    assert math.exp(-1e-4 * 5000) == pytest.approx(heat.slab_residual(fourier=5000, biot=1e-4), rel=1e-3)
    assert math.exp(-2e-4 * 5000) == pytest.approx(heat.rod_residual(fourier=5000, biot=1e-4), rel=1e-3)


def test_start_and_end():
    for residual in (heat.slab_residual, heat.rod_residual):
        assert 1 == residual(fourier=0)
        assert 1 == residual(fourier=0, position="mean")
        assert 0 == residual(fourier=0.1, position=1)
        assert 0 == pytest.approx(residual(fourier=1e6), abs=1e-300)


def test_a_resistance_without_end_lets_nothing_through():
    assert 1 == pytest.approx(heat.slab_residual(fourier=1, biot=1e-300), abs=1e-8)


# Beakers and chambers -------------------------------------------------------------------------------------

# Minutes until the centre is down to 0.01 and 0.02, wall, bottom and top at bath temperature: series with
# scipy's roots (computed). Diffusivities are typical of water, oil and silicone, from memory.
MINUTES = [
    (1.43e-7, 82.5, 93.5, 136.9, 119.0),
    (1.43e-7, 60, 60, 67.6, 58.8),
    (1.43e-7, 19, 65, 9.2, 8.0),
    (0.90e-7, 82.5, 93.5, 217.5, 189.2),
    (0.90e-7, 85, 88, 220.0, 191.3),
    (0.90e-7, 19, 65, 14.6, 12.6),
    (0.99e-7, 82.5, 93.5, 197.7, 172.0),
    (0.99e-7, 60, 60, 97.7, 84.9),
]


@pytest.mark.parametrize(("diffusivity", "diameter", "height", "to_1", "to_2"), MINUTES)
def test_conditioning_times_with_both_ends_at_bath_temperature(diffusivity, diameter, height, to_1, to_2):
    for residual, minutes in ((0.01, to_1), (0.02, to_2)):
        time = heat.conditioning_time(
            residual=residual,
            radius=diameter / 2000,
            height=height / 1000,
            diffusivity=diffusivity,
            position="centre",
            top="bath",
        )
        assert minutes == pytest.approx(time / 60, abs=0.06)


@pytest.mark.parametrize(
    ("diffusivity", "diameter", "height", "minutes"),
    [(1.43e-7, 82.5, 93.5, 168.0), (0.90e-7, 82.5, 93.5, 266.9), (0.90e-7, 60, 60, 138.3)],
)
def test_conditioning_times_under_an_insulated_top(diffusivity, diameter, height, minutes):
    time = heat.conditioning_time(
        residual=0.01, radius=diameter / 2000, height=height / 1000, diffusivity=diffusivity
    )
    assert minutes == pytest.approx(time / 60, abs=0.06)


# Oil in a full beaker, 0.90e-7 m²/s, both ends at bath temperature (computed with scipy's roots).
@pytest.mark.parametrize(
    ("minutes", "centre", "mean"),
    [(10, 0.999, 0.519), (30, 0.850, 0.281), (60, 0.459, 0.130), (120, 0.108, 0.030)],
)
def test_progress_in_a_beaker(minutes, centre, mean):
    oil = {"time": 60 * minutes, "diffusivity": 0.90e-7, "top": "bath", **BEAKER}
    assert centre == pytest.approx(heat.cylinder_residual(position="centre", **oil), abs=6e-4)
    assert mean == pytest.approx(heat.cylinder_residual(position="mean", **oil), abs=6e-4)


# 15 K off, 1.4e-7 m²/s, axis at an insulated top: kelvin left after some minutes (computed).
@pytest.mark.parametrize(("minutes", "kelvin"), [(30, 10.0), (60, 4.3), (90, 1.8), (120, 0.72), (180, 0.12)])
def test_kelvin_left_at_the_slowest_point(minutes, kelvin):
    left = 15 * heat.cylinder_residual(time=60 * minutes, diffusivity=1.4e-7, **BEAKER)
    assert kelvin == pytest.approx(left, rel=0.02, abs=0.005)


def test_one_term_is_enough_late():
    # θ = 1.602·1.273·exp(−(5.783/R² + (π/2H)²)·α·t), the one-term formula of the textbooks, from memory.
    radius, height, time, alpha = 0.04125, 0.0935, 6 * 3600, 1.4e-7
    rate = 5.783 / radius**2 + (math.pi / (2 * height)) ** 2
    one_term = 1.602 * 1.273 * math.exp(-rate * alpha * time)
    assert one_term == pytest.approx(heat.cylinder_residual(time=time, diffusivity=alpha, **BEAKER), rel=1e-3)


def test_insulated_top_is_half_of_a_twice_as_high_cylinder():
    half = heat.cylinder_residual(time=3000, radius=0.03, height=0.04, diffusivity=1e-7)
    whole = heat.cylinder_residual(time=3000, radius=0.03, height=0.08, diffusivity=1e-7, top="bath")
    assert whole == pytest.approx(half, rel=1e-12)


def test_places_of_a_cylinder():
    liquid = {"time": 2400, "diffusivity": 1e-7, **BEAKER}
    covered = {place: heat.cylinder_residual(position=place, **liquid) for place in heat.Place.__args__}
    assert covered["slowest"] == covered["top"] > covered["centre"] > covered["mean"]
    lidded = {
        place: heat.cylinder_residual(position=place, top="bath", **liquid) for place in heat.Place.__args__
    }
    assert lidded["slowest"] == lidded["centre"] > lidded["mean"] > lidded["top"] == 0


def test_half_way_up_under_an_insulated_top():
    # Series with scipy's roots: cos(ζ/2) half way between the insulated side and the bottom in the bath.
    liquid = {"time": 2400, "diffusivity": 1e-7, **BEAKER}
    roots = special.jn_zeros(0, 60)
    rod = 2 / (roots * special.j1(roots)) * np.exp(-(roots**2) * 1e-7 * 2400 / BEAKER["radius"] ** 2)
    zeta = (np.arange(60) + 0.5) * np.pi
    slab = 2 * np.sin(zeta) / zeta * np.exp(-(zeta**2) * 1e-7 * 2400 / BEAKER["height"] ** 2)
    expected = rod.sum() * (slab * np.cos(zeta / 2)).sum()
    assert expected == pytest.approx(heat.cylinder_residual(position="centre", **liquid), rel=1e-9)


def test_a_jar_that_hardly_lets_heat_through_is_at_one_temperature():
    # θ = exp(−(h/k)·(A/V)·α·time), A/V = 2/R + 1/H (Incropera, chapter 5); h/k = 0.5 /m makes Bi 0.02 and 0.05.
    wetted = 2 / BEAKER["radius"] + 1 / BEAKER["height"]
    expected = math.exp(-0.5 * wetted * 1e-7 * 100_000)
    actual = heat.cylinder_residual(
        time=100_000, diffusivity=1e-7, transfer_ratio=0.5, position="mean", **BEAKER
    )
    assert expected == pytest.approx(actual, rel=0.01)


@settings(deadline=None)  # the first call finds the roots
@given(
    residual=st.floats(min_value=1e-6, max_value=0.9),
    radius=st.floats(min_value=0.003, max_value=0.1),
    height=st.floats(min_value=0.003, max_value=0.3),
    place=st.sampled_from(["slowest", "centre", "mean"]),
    top=st.sampled_from(["insulated", "bath"]),
)
def test_time_and_residual_are_inverse(residual, radius, height, place, top):
    liquid = {"radius": radius, "height": height, "diffusivity": 1e-7, "position": place, "top": top}
    time = heat.conditioning_time(residual=residual, **liquid)
    assert residual == pytest.approx(heat.cylinder_residual(time=time, **liquid), rel=1e-5)


def test_twice_the_size_takes_four_times_as_long():
    small = heat.conditioning_time(residual=0.01, radius=0.02, height=0.05, diffusivity=1e-7)
    large = heat.conditioning_time(residual=0.01, radius=0.04, height=0.10, diffusivity=1e-7)
    fast = heat.conditioning_time(residual=0.01, radius=0.02, height=0.05, diffusivity=2e-7)
    assert 4 == pytest.approx(large / small)
    assert 2 == pytest.approx(small / fast)


def test_nothing_to_wait_for():
    assert 0 == heat.conditioning_time(residual=1, diffusivity=1e-7, **BEAKER)
    assert 0 == heat.conditioning_time(residual=0.01, diffusivity=1e-7, position="top", top="bath", **BEAKER)


def test_very_late_times_and_very_small_residuals_have_an_end():
    # Late, θ falls by exp(−rate·t); to 1e-200 that is ln(1e200) over the rate of the slowest term.
    radius, height, alpha = 0.04125, 0.0935, 1e-7
    rate = (2.404826 / radius) ** 2 + (math.pi / (2 * height)) ** 2
    expected = math.log(1.6020 * 1.2732 * 1e200) / (rate * alpha)
    time = heat.conditioning_time(residual=1e-200, radius=radius, height=height, diffusivity=alpha)
    assert expected == pytest.approx(time, rel=1e-5)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"time": -1}, "time must be"),
        ({"radius": 0}, "radius must be"),
        ({"height": -0.1}, "height must be"),
        ({"diffusivity": math.nan}, "diffusivity must be"),
        ({"transfer_ratio": 0}, "transfer ratio must be"),
        ({"transfer_ratio": math.nan}, "transfer ratio must be"),
        ({"position": "edge"}, "no such place"),
        ({"top": "open"}, "no such place"),
    ],
)
def test_what_cannot_be_is_refused(change, said):
    with pytest.raises(ValueError, match=said):
        heat.cylinder_residual(**{"time": 60, "diffusivity": 1e-7, **BEAKER, **change})


@pytest.mark.parametrize("residual", [0, -0.1, 1.1, math.nan])
def test_residual_out_of_range(residual):
    with pytest.raises(ValueError, match="residual"):
        heat.conditioning_time(residual=residual, diffusivity=1e-7, **BEAKER)


def test_narrow_gap_is_ready_within_a_minute():
    # One-term formula by hand: 1.273·exp(−(π/2)²·Fo), gap 1.25 mm, 1e-7 m²/s, 30 s: Fo = 1.92.
    expected = 1.2732 * math.exp(-((math.pi / 2) ** 2) * 1.92)
    actual = heat.narrow_gap_residual(time=30, gap=1.25e-3, diffusivity=1e-7)
    assert expected == pytest.approx(actual, rel=1e-3)
    assert actual < 0.02


# Warming and cooling --------------------------------------------------------------------------------------


def test_beaker_at_38_in_a_room_at_22():
    # By hand: 500 ml of 1.05 kg/l and 3.9 kJ/(kg·K); side and surface 296 cm², 10 W/(m²·K): 0.14 K/min.
    area = math.pi * 0.0825 * 0.0935 + math.pi * 0.0825**2 / 4
    beaker = {"transfer_coefficient": 10, "area": area, "mass": 0.525, "heat_capacity": 3900}
    cooling = heat.cooling_rate(temperature=38, ambient=22, **beaker)
    assert 0.14 == pytest.approx(60 * cooling, abs=0.005)
    assert -cooling == heat.cooling_rate(temperature=22, ambient=38, **beaker)
    assert 0 == heat.cooling_rate(temperature=22, ambient=22, **beaker)


# By hand from T·ω/(ρc·V): full torque, rpm, volume (ml) and ρc (J/(m³·K)), rise in K/min.
@pytest.mark.parametrize(
    ("torque", "rpm", "millilitres", "capacity", "rise"),
    [
        (5749.6e-6, 200, 8, 2.0e6, 0.45),
        (718.7e-6, 100, 500, 4.17e6, 0.00022),
        (718.7e-6, 100, 1, 2.0e6, 0.2258),
    ],
)
def test_viscous_heating(torque, rpm, millilitres, capacity, rise):
    actual = heat.viscous_heating_rate(
        torque=torque,
        angular_velocity=2 * math.pi * rpm / 60,
        heat_capacity_volumetric=capacity,
        volume=millilitres * 1e-6,
    )
    assert rise == pytest.approx(60 * actual, rel=0.02)


@pytest.mark.parametrize("residual", [heat.slab_residual, heat.rod_residual])
@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"biot": 0}, "Biot number"),
        ({"biot": math.nan}, "Biot number"),
        ({"position": -0.1}, "position"),
        ({"position": 1.1}, "position"),
    ],
)
def test_no_place_outside_and_no_resistance_below_nothing(residual, given, said):
    with pytest.raises(ValueError, match=said):
        residual(fourier=0.1, **given)
