"""How the numbers of figures are written, and in which unit."""

import pytest

from fillmark.derive.figuring import clock_time, duration, in_unit, millimetres, percent, viscosity_unit

PAINT, STARCH = "MCW-VIS-014", "BBM-VIS-007"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.7727, "0.773 s"),
        (599, "599 s"),
        (600, "10 min"),
        (21_540, "359 min"),
        (21_600, "6 h"),
        (93_600, "26 h"),
    ],
)
def test_a_time_as_a_bench_clock_shows_it(seconds, text):
    assert text == duration(seconds)


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (8.5714, "8.57 s"),
        (599, "599 s"),
        (600, "10 min"),
        (750, "12 min 30 s"),  # 5 revolutions at 0.4 rpm: 60 · 5 / 0.4
        (3024, "50 min 24 s"),
        (21_600, "6 h"),
        (22_205, "6 h 10 min 5 s"),
    ],
)
def test_a_moment_to_read_at_is_never_rounded_to_minutes(seconds, text):
    assert text == clock_time(seconds)


@pytest.mark.parametrize(
    ("value", "text"), [(61.64, "61.6 %"), (-1.0, "-1.0 %"), (999.9, "999.9 %"), (1250, "1250 %")]
)
def test_a_torque_far_off_the_scale_has_no_decimals(value, text):
    assert text == percent(value)


def test_a_length_is_written_in_millimetres():
    assert "27.6 mm" == millimetres(0.02764)


def test_a_value_is_written_in_another_unit_with_four_digits():
    assert "123.5 mPa·s" == in_unit(0.123456, "mPa·s")


@pytest.mark.parametrize(
    ("method", "changes", "result", "unit"),
    [
        (STARCH, (), "viscosity_50", "mPa·s"),
        # without a word of the report the limits have it, and without limits any line of the report
        (STARCH, (("unit: mPa·s, increment: 4 mPa·s", "increment: 0.004 Pa·s"),), "viscosity_50", "mPa·s"),
        (STARCH, (), "another", "mPa·s"),
        (PAINT, (("unit: Pa·s, increment: 0.1 Pa·s", "unit: P, increment: 1 P"),), "viscosity_20", "P"),
        (PAINT, (("unit: Pa·s, increment: 0.1 Pa·s", "unit: P, increment: 1 P"),), "index", "P"),
        (PAINT, (("unit: Pa·s, increment: 0.1 Pa·s, ", ""),), "index", "Pa·s"),
    ],
)
def test_the_unit_a_result_is_shown_in(method, changes, result, unit, compiled):
    assert unit == viscosity_unit(compiled(method, *changes).method, result)
