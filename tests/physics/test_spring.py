import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate

from fillmark.physics import spring

# Worked by hand for a spring that turns 300 degrees: share of the true reading there after 30 and 60 s, at a
# final torque of 50 and of 100 %.
WIND_UP = [
    (0.3, 30, 0.30, 0.17),
    (0.3, 60, 0.51, 0.30),
    (0.5, 30, 0.45, 0.26),
    (0.5, 60, 0.70, 0.45),
    (1, 30, 0.70, 0.45),
    (1, 60, 0.91, 0.70),
    (2, 30, 0.91, 0.70),
    (2, 60, 0.99, 0.91),
    (5, 30, 1.00, 0.95),
    (10, 30, 1.00, 1.00),
    (20, 30, 1.00, 1.00),
]


@pytest.mark.parametrize(("rpm", "time", "at_50", "at_100"), WIND_UP)
def test_share_reached(rpm, time, at_50, at_100):
    for torque, share in ((50, at_50), (100, at_100)):
        actual = spring.fraction_reached(time=time, torque_percent=torque, full_scale_angle_deg=300, rpm=rpm)
        assert share == pytest.approx(actual, abs=0.0055)


@pytest.mark.parametrize(
    ("torque", "angle", "constant", "needed"),
    [(12.5, 300, 12.5, 66), (12.5, 70, 2.9, 15.5), (50, 320, 53, 283), (50, 70, 11.7, 62)],
)
def test_wind_up_at_half_a_revolution_a_minute(torque, angle, constant, needed):
    # By hand: t_c = (t/100)·φ/(6·N) with N = 0.5 rpm, and ln 200 = 5.298 times that.
    spring_and_speed = {"torque_percent": torque, "full_scale_angle_deg": angle, "rpm": 0.5}
    assert constant == pytest.approx(spring.time_constant(**spring_and_speed), rel=0.01)
    assert needed == pytest.approx(spring.wind_up_time(**spring_and_speed), rel=0.005)


@pytest.mark.parametrize(("torque", "revolutions"), [(100, 4.4), (50, 2.2)])
def test_wind_up_in_revolutions_does_not_depend_on_speed(torque, revolutions):
    # By hand: 5.298·(t/100)·300/360; why five revolutions are customary.
    for rpm in (0.3, 6, 60):
        time = spring.wind_up_time(torque_percent=torque, full_scale_angle_deg=300, rpm=rpm)
        assert revolutions == pytest.approx(spring.revolutions(rpm=rpm, time=time), abs=0.02)


def test_share_solves_the_torque_balance():
    # Spring torque K·φ equals drag c·(Ω − dφ/dt), degrees and seconds; c follows from the final angle K·φ/Ω.
    final_angle, speed = 0.6 * 320, 6 * 1.5
    path = integrate.solve_ivp(
        lambda _, angle: speed * (1 - angle / final_angle), (0, 25), [0.0], rtol=1e-9, atol=1e-9
    )
    actual = spring.fraction_reached(time=25, torque_percent=60, full_scale_angle_deg=320, rpm=1.5)
    assert path.y[0, -1] / final_angle == pytest.approx(actual, rel=1e-7)


@given(
    torque=st.floats(min_value=1, max_value=100),
    angle=st.floats(min_value=5, max_value=360),
    rpm=st.floats(min_value=0.01, max_value=250),
    residual=st.floats(min_value=1e-6, max_value=1),
)
def test_time_and_share_are_inverse(torque, angle, rpm, residual):
    given_ = {"torque_percent": torque, "full_scale_angle_deg": angle, "rpm": rpm}
    time = spring.wind_up_time(residual=residual, **given_)
    assert 1 - residual == pytest.approx(spring.fraction_reached(time=time, **given_), abs=1e-12)


def test_no_torque_needs_no_time():
    assert 0 == spring.wind_up_time(torque_percent=0, full_scale_angle_deg=300, rpm=1)
    assert 1 == spring.fraction_reached(time=0, torque_percent=0, full_scale_angle_deg=300, rpm=1)


# Ten revolutions take 600/N seconds (by hand).
@pytest.mark.parametrize(("rpm", "seconds"), [(0.3, 2000), (0.5, 1200), (5, 120), (60, 10)])
def test_ten_revolutions(rpm, seconds):
    assert seconds == pytest.approx(spring.time_for_revolutions(rpm=rpm, revolutions=10))


@given(rpm=st.floats(min_value=0.01, max_value=500), time=st.floats(min_value=0, max_value=1e5))
def test_revolutions_and_time_are_inverse(rpm, time):
    turns = spring.revolutions(rpm=rpm, time=time)
    assert time == pytest.approx(spring.time_for_revolutions(rpm=rpm, revolutions=turns), abs=1e-9)


@pytest.mark.parametrize("residual", [0, -0.1, 1.1])
def test_residual_out_of_range(residual):
    with pytest.raises(ValueError, match="residual"):
        spring.wind_up_time(torque_percent=50, full_scale_angle_deg=300, rpm=1, residual=residual)


def test_speed_of_nil_never_winds_up():
    with pytest.raises(ValueError, match="rpm"):
        spring.wind_up_time(torque_percent=50, full_scale_angle_deg=300, rpm=0)
