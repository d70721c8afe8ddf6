"""Torque, viscosity and shear: from the reading to the number and back, and where laminar flow ends."""

from bisect import bisect_right
from math import inf, log, pi, sqrt, tan

from fillmark.physics.bounds import above_zero, not_below_zero

RADIANS_PER_SECOND_PER_RPM = 2 * pi / 60

TAYLOR_ONSET = (
    (0.2500, 78.76),
    (0.3000, 73.22),
    (0.4000, 68.30),
    (0.5000, 68.19),
    (0.6000, 71.72),
    (0.6815, 77.64),
    (0.7000, 79.49),
    (0.7246, 82.32),
    (0.7500, 85.78),
    (0.8000, 94.73),
    (0.8333, 103.07),
    (0.9000, 131.61),
    (0.9219, 148.51),
    (0.9500, 184.99),
    (0.9750, 260.95),
)
"""Radius ratio and critical gap Reynolds number, outer cylinder at rest.

Computed: linear stability of flow between long cylinders, first axisymmetric mode. The entries at 0.5, 0.95
and 0.975 are those of DiPrima and Swinney, from memory.
"""

NARROW_GAP_ONSET = 41.17
"""Critical gap Reynolds number times √(gap/inner radius), gap much smaller than the radius.

Square root of the critical Taylor number 1695. Taylor 1923 and later work, from memory.
"""

DISC_DRAG = 32 / 3
"""Torque on a disc that turns in liquid without end, both faces, over η·ω·R³ (Jeffery 1915, from memory)."""


def angular_velocity(*, rpm: float) -> float:
    """Give the angular velocity of a speed.

    Equation: ω = 2π·N/60
    Symbols: N speed, rpm; ω angular velocity, rad/s
    Validity: any speed not below 0
    Reference: definition

    >>> round(angular_velocity(rpm=60), 4)
    6.2832
    """
    not_below_zero(rpm=rpm)
    return RADIANS_PER_SECOND_PER_RPM * rpm


def full_scale_viscosity(*, coefficient: float, rpm: float) -> float:
    """Give the viscosity that takes the spring to 100 %.

    Equation: η_fs = C/N
    Symbols: C coefficient of the spindle on the spring in use, Pa·s·rpm; N speed, rpm; η_fs, Pa·s
    Validity: laminar flow, the guard, container and immersion the coefficient was found with
    Reference: common practice

    >>> full_scale_viscosity(coefficient=400, rpm=20)
    20.0
    """
    above_zero(coefficient=coefficient, rpm=rpm)
    return coefficient / rpm


def factor(*, coefficient: float, rpm: float) -> float:
    """Give the viscosity worth one per cent of torque.

    Equation: f = C/(100·N)
    Symbols: C coefficient of the spindle on the spring in use, Pa·s·rpm; N speed, rpm; f, Pa·s per %
    Validity: as `full_scale_viscosity`
    Reference: ISO 2555 (result = reading × coefficient)

    >>> factor(coefficient=400, rpm=20)
    0.2
    """
    return full_scale_viscosity(coefficient=coefficient, rpm=rpm) / 100


def torque_percent(*, viscosity: float, coefficient: float, rpm: float) -> float:
    """Give the torque that a liquid makes.

    Equation: t = 100·η·N/C
    Symbols: η viscosity, Pa·s; C coefficient on the spring in use, Pa·s·rpm; N speed, rpm; t, % of full scale
    Validity: as `full_scale_viscosity`; above 100 the spring is at its stop and nothing can be read; a
        viscosity below 0, as the low end of a wide band may be, gives a torque below 0
    Reference: common practice

    >>> torque_percent(viscosity=8, coefficient=400, rpm=20)
    40.0
    """
    above_zero(coefficient=coefficient, rpm=rpm)
    return 100 * viscosity * rpm / coefficient


def lowest_torque(
    *,
    torque_percent: float,
    sensitivity_percent_per_k: float,
    temperature_tolerance: float,
    accuracy_percent: float,
) -> float:
    """Give the lowest torque that may stand for a nominal one.

    Equation: t_low = t·(1 − s·ΔT/100) − a
    Symbols: t nominal torque, %; s size of the temperature sensitivity, %/K; ΔT tolerance, K;
        a accuracy, % of full scale; t_low, % of full scale
    Validity: s·ΔT small against 100, all errors at their limits; below 0 means that nothing need be seen
    Reference: common practice

    >>> lowest_torque(
    ...     torque_percent=40, sensitivity_percent_per_k=2, temperature_tolerance=0.5, accuracy_percent=1
    ... )
    38.6
    """
    not_below_zero(
        torque_percent=torque_percent,
        sensitivity_percent_per_k=sensitivity_percent_per_k,
        temperature_tolerance=temperature_tolerance,
        accuracy_percent=accuracy_percent,
    )
    return torque_percent * (1 - sensitivity_percent_per_k * temperature_tolerance / 100) - accuracy_percent


def highest_torque(
    *,
    torque_percent: float,
    sensitivity_percent_per_k: float,
    temperature_tolerance: float,
    accuracy_percent: float,
) -> float:
    """Give the highest torque that may stand for a nominal one.

    Equation: t_high = t·(1 + s·ΔT/100) + a
    Symbols: as `lowest_torque`
    Validity: s·ΔT small against 100, all errors at their limits
    Reference: common practice

    >>> highest_torque(
    ...     torque_percent=60, sensitivity_percent_per_k=2, temperature_tolerance=0.5, accuracy_percent=1
    ... )
    61.6
    """
    not_below_zero(
        torque_percent=torque_percent,
        sensitivity_percent_per_k=sensitivity_percent_per_k,
        temperature_tolerance=temperature_tolerance,
        accuracy_percent=accuracy_percent,
    )
    return torque_percent * (1 + sensitivity_percent_per_k * temperature_tolerance / 100) + accuracy_percent


def coefficient_on_spring(*, coefficient: float, reference_torque: float, torque: float) -> float:
    """Carry a coefficient over to another spring: same spindle, guard, container and immersion.

    Equation: C = C_ref·T/T_ref
    Symbols: C coefficients, Pa·s·rpm; T full-scale torque of the spring in use, N·m; T_ref that of the
        spring the coefficient is given for, N·m
    Validity: spindle, guard, container and immersion unchanged
    Reference: common practice; the spindle sets the torque, the spring only the scale

    >>> coefficient_on_spring(coefficient=400, reference_torque=718.7e-6, torque=1437.4e-6)
    800.0
    """
    above_zero(coefficient=coefficient, reference_torque=reference_torque, torque=torque)
    return coefficient * (torque / reference_torque)


def thin_disc_coefficient(*, radius: float, full_scale_torque: float) -> float:
    """Give the coefficient of a thin disc, both faces wetted: an upper bound for a disc spindle.

    Equation: C = T_fs/((32/3)·R³·2π/60), from T = (32/3)·η·ω·R³
    Symbols: R radius, m; T_fs full-scale torque, N·m; C, Pa·s·rpm
    Validity: thickness and shaft nil, liquid without end, creeping flow; rim, shaft, guard and container add
        drag, so that real discs have less
    Reference: Jeffery 1915, from memory

    >>> round(thin_disc_coefficient(radius=0.01057, full_scale_torque=718.7e-6))
    545
    """
    above_zero(radius=radius, full_scale_torque=full_scale_torque)
    return full_scale_torque / (DISC_DRAG * radius**3 * RADIANS_PER_SECOND_PER_RPM)


def bare_cylinder_coefficient(*, radius: float, length: float, full_scale_torque: float) -> float:
    """Give the coefficient of a cylinder without ends in liquid without walls: an upper bound.

    Equation: C = T_fs/(4π·L·R²·2π/60)
    Symbols: R radius, m; L wetted length, m; T_fs full-scale torque, N·m; C, Pa·s·rpm
    Validity: length much larger than radius; ends, guard and container add drag, so that real ones have less
    Reference: any rheometry text (Macosko 1994), from memory

    >>> round(bare_cylinder_coefficient(radius=9.42e-3, length=65.1e-3, full_scale_torque=67.37e-6), 2)
    8.86
    """
    return coaxial_coefficient(
        inner_radius=radius, outer_radius=inf, effective_length=length, full_scale_torque=full_scale_torque
    )


def coaxial_coefficient(
    *, inner_radius: float, outer_radius: float, effective_length: float, full_scale_torque: float
) -> float:
    """Give the coefficient of a cylinder turning in a coaxial chamber.

    Equation: C = T_fs·(1/r_i² − 1/r_o²)/(4π·L·2π/60)
    Symbols: r_i, r_o inner and outer radius, m; L length with the end correction in it, m; T_fs full-scale
        torque, N·m; C, Pa·s·rpm
    Validity: laminar flow, Newtonian liquid; an outer radius without end (inf) is allowed
    Reference: Margules, any rheometry text (Macosko 1994), from memory

    >>> round(coaxial_coefficient(
    ...     inner_radius=0.010, outer_radius=0.010847, effective_length=0.033, full_scale_torque=1e-3), 4)
    34.5585
    """
    _check_gap(inner_radius, outer_radius)
    above_zero(effective_length=effective_length, full_scale_torque=full_scale_torque)
    curvature = 1 / inner_radius**2 - 1 / outer_radius**2
    return full_scale_torque * curvature / (4 * pi * effective_length * RADIANS_PER_SECOND_PER_RPM)


def cone_coefficient(*, angle_rad: float, radius: float, full_scale_torque: float) -> float:
    """Give the coefficient of a cone over a plate.

    Equation: C = 3·T_fs·tan α/(2π·R³·2π/60)
    Symbols: α angle between cone and plate, rad; R radius of the cone, m; T_fs full-scale torque, N·m; C,
        Pa·s·rpm
    Validity: small angle, gap filled to the rim
    Reference: ISO 3219, from memory

    >>> round(cone_coefficient(angle_rad=0.0139626, radius=0.024, full_scale_torque=718.7e-6), 2)
    3.31
    """
    above_zero(angle_rad=angle_rad, radius=radius, full_scale_torque=full_scale_torque)
    return 3 * full_scale_torque * tan(angle_rad) / (2 * pi * radius**3 * RADIANS_PER_SECOND_PER_RPM)


def coaxial_shear_rate(*, rpm: float, inner_radius: float, outer_radius: float) -> float:
    """Give the shear rate at the wall of the inner, turning cylinder.

    Equation: γ̇ = 2ω·r_o²/(r_o² − r_i²)
    Symbols: N speed, rpm; ω = 2π·N/60, rad/s; r_i, r_o inner and outer radius, m; γ̇, 1/s
    Validity: Newtonian liquid, laminar flow; in liquid without walls (r_o = inf) it is 2ω
    Reference: any rheometry text (Macosko 1994), from memory

    >>> round(coaxial_shear_rate(rpm=60, inner_radius=9.415e-3, outer_radius=13.815e-3), 2)
    23.46
    """
    _check_gap(inner_radius, outer_radius)
    return 2 * angular_velocity(rpm=rpm) / (1 - (inner_radius / outer_radius) ** 2)


def representative_shear_rate(*, rpm: float, inner_radius: float, outer_radius: float) -> float:
    """Give the shear rate that stands for the whole gap of a coaxial geometry.

    Equation: γ̇_rep = ω·(1 + δ²)/(δ² − 1), δ = r_o/r_i
    Symbols: N speed, rpm; ω = 2π·N/60, rad/s; r_i, r_o inner and outer radius, m; γ̇_rep, 1/s
    Validity: laminar flow, narrow gap; an absolute geometry only
    Reference: ISO 3219 and DIN 53019, from memory

    >>> round(representative_shear_rate(rpm=100, inner_radius=0.010, outer_radius=0.010847), 2)
    129.08
    """
    _check_gap(inner_radius, outer_radius)
    inverse_square = (inner_radius / outer_radius) ** 2
    return angular_velocity(rpm=rpm) * (1 + inverse_square) / (1 - inverse_square)


def representative_stress(
    *,
    torque: float,
    inner_radius: float,
    outer_radius: float,
    length: float,
    end_correction: float = 1.0,
) -> float:
    """Give the shear stress that stands for the whole gap of a coaxial geometry.

    Equation: τ_rep = T/(4π·L·c_L)·(1/r_i² + 1/r_o²)
    Symbols: T torque, N·m; r_i, r_o inner and outer radius, m; L length of the inner cylinder, m; c_L end
        correction (1.10 in the standard geometry, from memory); τ_rep, Pa
    Validity: as `representative_shear_rate`; their quotient is the Newtonian viscosity for any gap
    Reference: ISO 3219 and DIN 53019, from memory

    >>> round(representative_stress(
    ...     torque=1e-3, inner_radius=0.010, outer_radius=0.010847, length=0.030, end_correction=1.1), 2)
    44.61
    """
    _check_gap(inner_radius, outer_radius)
    not_below_zero(torque=torque)
    above_zero(length=length, end_correction=end_correction)
    return torque / (4 * pi * length * end_correction) * (1 / inner_radius**2 + 1 / outer_radius**2)


def cone_shear_rate(*, rpm: float, angle_rad: float) -> float:
    """Give the shear rate between cone and plate.

    Equation: γ̇ = ω/tan α
    Symbols: N speed, rpm; ω = 2π·N/60, rad/s; α angle between cone and plate, rad; γ̇, 1/s
    Validity: angle below about 4 degrees (0.07 rad) for an even shear rate
    Reference: ISO 3219 and USP <912>, from memory

    >>> from math import radians
    >>> round(cone_shear_rate(rpm=10, angle_rad=radians(0.8)), 2)
    75.0
    """
    above_zero(angle_rad=angle_rad)
    if angle_rad >= pi / 2:
        raise ValueError(f"a cone angle of {angle_rad!r} rad is a right angle or more")
    return angular_velocity(rpm=rpm) / tan(angle_rad)


def disc_reynolds(*, density: float, rpm: float, radius: float, viscosity: float) -> float:
    """Give the Reynolds number of a disc or a cylinder in open liquid.

    Equation: Re = ρ·ω·R²/η
    Symbols: ρ density, kg/m³; N speed, rpm; ω = 2π·N/60, rad/s; R radius, m; η viscosity, Pa·s; Re, 1
    Validity: a measure; readings are high once secondary flow sets in (commonly from 10 to 40 upwards)
    Reference: definition; the range from common practice

    >>> round(disc_reynolds(density=1050, rpm=50, radius=23.5e-3, viscosity=0.3), 1)
    10.1
    """
    not_below_zero(density=density)
    above_zero(radius=radius, viscosity=viscosity)
    return density * angular_velocity(rpm=rpm) * radius**2 / viscosity


def gap_reynolds(
    *, density: float, rpm: float, inner_radius: float, outer_radius: float, viscosity: float
) -> float:
    """Give the Reynolds number of a coaxial gap.

    Equation: Re = ρ·ω·r_i·(r_o − r_i)/η
    Symbols: ρ density, kg/m³; N speed, rpm; ω = 2π·N/60, rad/s; r_i, r_o inner and outer radius, m;
        η viscosity, Pa·s; Re, 1
    Validity: inner cylinder turns, outer at rest; compare with `taylor_onset`
    Reference: definition

    >>> round(gap_reynolds(
    ...     density=1000, rpm=60, inner_radius=12.55e-3, outer_radius=13.8e-3, viscosity=0.76e-3), 1)
    129.7
    """
    _check_gap(inner_radius, outer_radius)
    not_below_zero(density=density)
    above_zero(viscosity=viscosity, outer_radius=outer_radius)
    return density * angular_velocity(rpm=rpm) * inner_radius * (outer_radius - inner_radius) / viscosity


def taylor_onset(*, radius_ratio: float) -> float:
    """Give the gap Reynolds number at which vortices begin between long cylinders, the inner one turning.

    Equation: Re_c·√(1 − r_i/r_o), read over r_o/r_i between the entries of `TAYLOR_ONSET` by straight
        lines; from the last entry the line runs to the narrow-gap limit at 1
    Symbols: r_i/r_o radius ratio, 1; Re_c critical value of `gap_reynolds`, 1
    Validity: 0.25 to 1, within 0.2 %; below 0.25 the value at 0.25 is given, which is too low and so on the
        safe side. Short chambers, and spindles in a beaker, only as an order of magnitude
    Reference: linear stability, computed; Taylor 1923, DiPrima and Swinney 1981, from memory

    >>> round(taylor_onset(radius_ratio=0.5), 2)
    68.19
    """
    if not 0 < radius_ratio < 1:
        raise ValueError(f"radius ratio must lie between 0 and 1, not {radius_ratio!r}")
    ratio = max(radius_ratio, TAYLOR_ONSET[0][0])
    above = bisect_right(TAYLOR_ONSET, (ratio, inf))
    low_ratio, low_onset = TAYLOR_ONSET[above - 1]
    low = low_onset * sqrt(1 - low_ratio)
    if above < len(TAYLOR_ONSET):
        high_ratio, high_onset = TAYLOR_ONSET[above]
        high = high_onset * sqrt(1 - high_ratio)
    else:
        high_ratio, high = 1.0, NARROW_GAP_ONSET
    share = (1 / low_ratio - 1 / ratio) / (1 / low_ratio - 1 / high_ratio)
    reduced = low + (high - low) * share
    return reduced / sqrt(1 - ratio)


def taylor_minimum_viscosity(
    *, density: float, rpm: float, inner_radius: float, outer_radius: float
) -> float:
    """Give the viscosity below which vortices make a coaxial reading high.

    Equation: η_min = ρ·ω·r_i·(r_o − r_i)/Re_c
    Symbols: ρ density, kg/m³; N speed, rpm; ω = 2π·N/60, rad/s; r_i, r_o inner and outer radius, m;
        Re_c from `taylor_onset`; η_min, Pa·s
    Validity: as `taylor_onset`
    Reference: as `taylor_onset`

    >>> round(1000 * taylor_minimum_viscosity(
    ...     density=998.2, rpm=17.9, inner_radius=9.415e-3, outer_radius=13.815e-3), 2)
    1.0
    """
    reynolds_at_one = gap_reynolds(
        density=density, rpm=rpm, inner_radius=inner_radius, outer_radius=outer_radius, viscosity=1.0
    )
    return reynolds_at_one / taylor_onset(radius_ratio=inner_radius / outer_radius)


def power_law_index(*, viscosity_ratio: float, speed_ratio: float) -> float:
    """Give the flow index of a product from its viscosities at two speeds.

    Equation: n = 1 − ln(η_1/η_2)/ln(N_2/N_1)
    Symbols: viscosity_ratio η_1/η_2, 1, at speeds N_1 and N_2; speed_ratio N_2/N_1, 1; n, 1 (1 Newtonian,
        below 1 thins with speed)
    Validity: apparent viscosity falls with a power of the speed between the two; two different speeds
    Reference: power law of Ostwald and de Waele, any rheometry text (Macosko 1994), from memory

    >>> power_law_index(viscosity_ratio=2, speed_ratio=4)
    0.5
    """
    above_zero(viscosity_ratio=viscosity_ratio, speed_ratio=speed_ratio)
    if speed_ratio == 1:
        raise ValueError("both viscosities are at the same speed")
    return 1 - log(viscosity_ratio) / log(speed_ratio)


def power_law_shift(*, speed_ratio: float, index: float) -> float:
    """Give by how much an apparent viscosity moves when the speed is another one.

    Equation: shift = (N/N_0)^(n − 1) − 1
    Symbols: speed_ratio N/N_0, speed in use over that of the method, 1; n index, 1; shift relative, 1
    Validity: as `power_law_index`
    Reference: as `power_law_index`

    >>> round(power_law_shift(speed_ratio=2, index=0.5), 2)
    -0.29
    """
    above_zero(speed_ratio=speed_ratio)
    return float(speed_ratio ** (index - 1)) - 1


def cylinder_wall_shift(*, radius: float, reference_radius: float, container_radius: float) -> float:
    """Give by how much a cylinder reads high in another container than its coefficient belongs to.

    Equation: shift = (1 − (R/R_ref)²)/(1 − (R/R_c)²) − 1
    Symbols: R spindle radius, m; R_ref inside radius of the container the coefficient belongs to, m; R_c that
        of the container in use, m; shift relative, 1 (0.022 reads 2.2 % high, below 0 reads low)
    Validity: Newtonian liquid, no guard, ends left out; liquid without walls is inf
    Reference: Margules, any rheometry text (Macosko 1994), from memory

    >>> round(cylinder_wall_shift(radius=9.42e-3, reference_radius=41.25e-3, container_radius=30e-3), 3)
    0.052
    """
    return _wall_shift(radius, reference_radius, container_radius, power=2)


def disc_wall_shift(*, radius: float, reference_radius: float, container_radius: float) -> float:
    """Give, to an order of magnitude, by how much a disc reads high in another container.

    Equation: shift = (1 − (R/R_ref)³)/(1 − (R/R_c)³) − 1
    Symbols: as `cylinder_wall_shift`
    Validity: order of magnitude only; says that the container matters, not by how much
    Reference: screening estimate: the flow far from a small turning body falls off with the cube of distance

    >>> round(disc_wall_shift(radius=23.5e-3, reference_radius=41.25e-3, container_radius=35e-3), 2)
    0.17
    """
    return _wall_shift(radius, reference_radius, container_radius, power=3)


def _wall_shift(radius: float, reference_radius: float, container_radius: float, *, power: int) -> float:
    _check_gap(radius, reference_radius)
    _check_gap(radius, container_radius)
    return (1 - (radius / reference_radius) ** power) / (1 - (radius / container_radius) ** power) - 1


def _check_gap(inner_radius: float, outer_radius: float) -> None:
    above_zero(inner_radius=inner_radius)
    if not outer_radius > inner_radius:
        raise ValueError(f"outer radius {outer_radius!r} is not above inner radius {inner_radius!r}")
