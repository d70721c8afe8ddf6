"""The spring: how long it takes to wind up, and what is read before it has."""

from math import exp, log

from fillmark.physics.bounds import above_zero, not_below_zero

DEGREES_PER_SECOND_PER_RPM = 360 / 60

SETTLED = 0.005
"""Share of the final reading that may be missing when a reading counts as steady: 0.5 %, common practice."""


def time_constant(*, torque_percent: float, full_scale_angle_deg: float, rpm: float) -> float:
    """Give the time constant with which the spring winds up.

    Equation: t_c = (t/100)·φ_fs/(6·N)
    Symbols: t torque once steady, % of full scale; φ_fs angle the spring turns at full scale, degrees;
        N speed, rpm; t_c, s
    Validity: liquid of constant viscosity, inertia small. A liquid that thins with shear winds up slower
        at first, one that breaks down with time has its own, longer time
    Reference: torque balance of spring and viscous drag; common practice for the angles

    >>> time_constant(torque_percent=12.5, full_scale_angle_deg=300, rpm=0.5)
    12.5
    """
    not_below_zero(torque_percent=torque_percent)
    above_zero(full_scale_angle_deg=full_scale_angle_deg, rpm=rpm)
    return torque_percent / 100 * full_scale_angle_deg / (DEGREES_PER_SECOND_PER_RPM * rpm)


def wind_up_time(
    *, torque_percent: float, full_scale_angle_deg: float, rpm: float, residual: float = SETTLED
) -> float:
    """Give the time until all but a small share of the final reading is there.

    Equation: time = t_c·ln(1/ε)
    Symbols: t_c from `time_constant`, s; ε residual, share of the final reading still missing, 1; time, s
    Validity: as `time_constant`; 0 < ε ≤ 1
    Reference: as `time_constant`

    >>> round(wind_up_time(torque_percent=12.5, full_scale_angle_deg=300, rpm=0.5))
    66
    """
    if not 0 < residual <= 1:
        raise ValueError(f"residual must lie above 0 and not above 1, not {residual!r}")
    constant = time_constant(
        torque_percent=torque_percent, full_scale_angle_deg=full_scale_angle_deg, rpm=rpm
    )
    return constant * log(1 / residual)


def fraction_reached(*, time: float, torque_percent: float, full_scale_angle_deg: float, rpm: float) -> float:
    """Give the share of the final reading that is there after a time.

    Equation: share = 1 − exp(−time/t_c)
    Symbols: time since the motor started, s; t_c from `time_constant`, s; share, 1
    Validity: as `time_constant`
    Reference: as `time_constant`

    >>> round(fraction_reached(time=30, torque_percent=50, full_scale_angle_deg=300, rpm=0.5), 2)
    0.45
    """
    not_below_zero(time=time)
    constant = time_constant(
        torque_percent=torque_percent, full_scale_angle_deg=full_scale_angle_deg, rpm=rpm
    )
    return 1.0 if constant == 0 else 1 - exp(-time / constant)


def revolutions(*, rpm: float, time: float) -> float:
    """Give the revolutions made in a time.

    Equation: n = N·time/60
    Symbols: N speed, rpm; time, s; n revolutions, 1
    Validity: constant speed
    Reference: definition

    >>> revolutions(rpm=2, time=60)
    2.0
    """
    not_below_zero(rpm=rpm, time=time)
    return rpm * time / 60


def time_for_revolutions(*, rpm: float, revolutions: float) -> float:
    """Give the time that a number of revolutions takes.

    Equation: time = 60·n/N
    Symbols: n revolutions, 1; N speed, rpm; time, s
    Validity: constant speed
    Reference: definition

    >>> time_for_revolutions(rpm=2, revolutions=5)
    150.0
    """
    above_zero(rpm=rpm)
    not_below_zero(revolutions=revolutions)
    return 60 * revolutions / rpm
