"""Every formula refuses what cannot be: a length of nil, a viscosity below 0, a number without end."""

import math

import pytest

from fillmark.physics import container, flow, fluids, heat, spring, statistics

GAP = {"inner_radius": 0.01, "outer_radius": 0.012}
DRIVEN = {"torque_percent": 50, "full_scale_angle_deg": 300, "rpm": 10}
WORST = {
    "torque_percent": 50,
    "sensitivity_percent_per_k": 2,
    "temperature_tolerance": 0.5,
    "accuracy_percent": 1,
}
BUDGET = {
    "viscosity": 10,
    "accuracy_percent": 1,
    "full_scale": 20,
    "sensitivity_percent_per_k": 2,
    "temperature_tolerance": 0.5,
    "repeatability_percent": 1,
    "replicates": 2,
}

# A formula, input that it takes, and what of it must be above 0 and what 0 or above; as the symbols of each
# formula have it: a length one divides by, a share one takes the logarithm of, an amount of something.
TAKES = [
    (container.circle_area, {"diameter": 1}, "diameter", ""),
    (container.cylinder_volume, {"diameter": 1, "length": 1}, "diameter", "length"),
    (container.fill_level, {"volume": 1, "inside_diameter": 1, "displaced": 1}, "", "volume displaced"),
    (container.helical_path, {"start_depth": 1, "rate": -1, "time": 1}, "", "start_depth time"),
    (flow.angular_velocity, {"rpm": 1}, "", "rpm"),
    (flow.full_scale_viscosity, {"coefficient": 400, "rpm": 20}, "coefficient rpm", ""),
    (flow.torque_percent, {"viscosity": -1, "coefficient": 400, "rpm": 20}, "coefficient rpm", ""),
    (flow.lowest_torque, WORST, "", " ".join(WORST)),
    (flow.highest_torque, WORST, "", " ".join(WORST)),
    (
        flow.coefficient_on_spring,
        {"coefficient": 400, "reference_torque": 1, "torque": 2},
        "coefficient reference_torque torque",
        "",
    ),
    (
        flow.coaxial_coefficient,
        {**GAP, "effective_length": 0.03, "full_scale_torque": 1e-3},
        "inner_radius effective_length full_scale_torque",
        "",
    ),
    (flow.coaxial_shear_rate, {"rpm": 10, **GAP}, "inner_radius", ""),
    (flow.representative_shear_rate, {"rpm": 10, **GAP}, "inner_radius", ""),
    (
        flow.representative_stress,
        {"torque": 1e-3, **GAP, "length": 0.03, "end_correction": 1.1},
        "inner_radius length end_correction",
        "torque",
    ),
    (flow.cone_shear_rate, {"rpm": 10, "angle_rad": 0.01}, "angle_rad", ""),
    (
        flow.disc_reynolds,
        {"density": 1000, "rpm": 10, "radius": 0.01, "viscosity": 1},
        "radius viscosity",
        "density",
    ),
    (
        flow.gap_reynolds,
        {"density": 1000, "rpm": 10, **GAP, "viscosity": 1},
        "inner_radius viscosity",
        "density",
    ),
    (
        flow.power_law_index,
        {"viscosity_ratio": 2, "speed_ratio": 4},
        "viscosity_ratio speed_ratio",
        "",
    ),
    (flow.power_law_shift, {"speed_ratio": 2, "index": -1}, "speed_ratio", ""),
    (
        fluids.temperature_shift,
        {"sensitivity_percent_per_k": 2, "warmer_by": -1},
        "",
        "sensitivity_percent_per_k",
    ),
    (
        heat.cylinder_residual,
        {"time": 60, "radius": 0.04, "height": 0.09, "diffusivity": 1e-7},
        "radius height diffusivity",
        "time",
    ),
    (heat.narrow_gap_residual, {"time": 60, "gap": 1e-3, "diffusivity": 1e-7}, "gap diffusivity", "time"),
    (
        heat.cooling_rate,
        {
            "transfer_coefficient": 10,
            "area": 0.03,
            "temperature": 38,
            "ambient": 22,
            "mass": 0.5,
            "heat_capacity": 4000,
        },
        "mass heat_capacity",
        "transfer_coefficient area",
    ),
    (
        heat.viscous_heating_rate,
        {"torque": 1e-3, "angular_velocity": 1, "heat_capacity_volumetric": 2e6, "volume": 1e-5},
        "heat_capacity_volumetric volume",
        "torque angular_velocity",
    ),
    (spring.time_constant, DRIVEN, "full_scale_angle_deg rpm", "torque_percent"),
    (spring.wind_up_time, DRIVEN, "full_scale_angle_deg rpm", "torque_percent"),
    (
        spring.fraction_reached,
        {"time": 10, **DRIVEN},
        "full_scale_angle_deg rpm",
        "torque_percent time",
    ),
    (spring.revolutions, {"rpm": 10, "time": 10}, "", "rpm time"),
    (spring.time_for_revolutions, {"rpm": 10, "revolutions": 5}, "rpm", "revolutions"),
    (
        statistics.verification_band,
        {"reference": 1000, "accuracy_percent": 1, "full_scale": 2000, "reference_uncertainty": 10},
        "reference full_scale",
        "accuracy_percent reference_uncertainty",
    ),
    (statistics.critical_range, {"n": 2, "repeatability_sd": 1}, "", "repeatability_sd"),
    (statistics.range_exceeded, {"n": 2, "range_over_sd": 1}, "", "range_over_sd"),
    (
        statistics.budget,
        BUDGET,
        "full_scale replicates",
        " ".join(name for name in BUDGET if name not in ("full_scale", "replicates")),
    ),
    (statistics.tolerance_ratio, {"half_width": 1, "expanded": 1}, "half_width", "expanded"),
    (
        statistics.ratio_index_uncertainty,
        {"accuracy_percent": 1, "torque_low": 20, "torque_high": 40},
        "torque_low torque_high",
        "accuracy_percent",
    ),
    (statistics.guarded_limits, {"lower": 1, "upper": 2, "guard_band": 0.1}, "", "guard_band"),
    (
        statistics.coverage,
        {"half_widths": (1,), "standard_deviation": 1, "reach": 1},
        "",
        "standard_deviation reach",
    ),
]
CASES = [
    pytest.param(formula, {**takes, name: value}, name, id=f"{formula.__name__}-{name}-{value}")
    for formula, takes, above_zero, not_below_zero in TAKES
    for names, values in ((above_zero, (0, -1, math.nan)), (not_below_zero, (-1, math.nan, math.inf)))
    for name in names.split()
    for value in values
]


@pytest.mark.parametrize(("formula", "takes"), [(formula, takes) for formula, takes, _, _ in TAKES])
def test_a_formula_takes_what_can_be(formula, takes):
    assert formula(**takes) is not None


@pytest.mark.parametrize(("formula", "given", "name"), CASES)
def test_a_formula_refuses_what_cannot_be_and_names_it(formula, given, name):
    with pytest.raises(ValueError, match=f"^{name.replace('_', ' ')} must be finite"):
        formula(**given)


@pytest.mark.parametrize(
    ("formula", "given"),
    [
        (flow.coaxial_coefficient, {"effective_length": 0.03, "full_scale_torque": 1e-3}),
        (flow.coaxial_shear_rate, {"rpm": 10}),
        (flow.representative_shear_rate, {"rpm": 10}),
        (flow.representative_stress, {"torque": 1e-3, "length": 0.03}),
        (flow.gap_reynolds, {"density": 1000, "rpm": 10, "viscosity": 1}),
    ],
)
@pytest.mark.parametrize("outer_radius", [0.01, 0.009, math.nan])
def test_a_gap_has_its_outer_wall_outside(formula, given, outer_radius):
    with pytest.raises(ValueError, match="not above inner radius"):
        formula(inner_radius=0.01, outer_radius=outer_radius, **given)
