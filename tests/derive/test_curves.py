"""The curves agree with the figures, and with the shift of water's viscosity from outside."""

import pytest

from fillmark.derive.curves import BEYOND, conditioning_curve, curves, temperature_curves

PAINT, GEL, STARCH = "MCW-VIS-014", "QAP-VIS-002", "BBM-VIS-007"
COAXIAL = (
    ("spindle: chamber-11.8", "spindle: coaxial-25.1"),
    ("container: chamber-19", "container: adapter-27.6"),
    ("volume: 8.0 mL", "volume: 16.0 mL"),
)


@pytest.mark.parametrize(
    ("method", "changes"), [(PAINT, ()), (GEL, ()), (GEL, (*COAXIAL, ("time: 15 min", "time: 30 s")))]
)
def test_the_curve_passes_through_what_the_figure_says(compiled, method, changes):
    one = compiled(method, *changes)
    points = conditioning_curve(one.method, one.figures)
    given = one.method.temperature.conditioning.time.value
    needed = one.figures.value("conditioning.needed") or 0.0
    assert BEYOND * max(given, needed) == pytest.approx(points[-1][0])
    assert abs(one.method.temperature.start.value - one.method.temperature.target.value.value) == points[0][1]
    assert [k for _, k in points] == sorted((k for _, k in points), reverse=True)
    if given >= needed:  # a point lies at 48/60 of the whole
        assert one.figures["conditioning.residual"].value == pytest.approx(points[48][1])
        assert given == pytest.approx(points[48][0])


def test_a_method_without_conditioning_has_no_curve(compiled):
    one = compiled(STARCH)
    assert () == curves(one.method, one.figures).conditioning


def test_a_product_of_unknown_sensitivity_has_no_curve(compiled):
    one = compiled(STARCH, ("  temperature_sensitivity: 3.0 %/K\n", ""))
    product, fluid = temperature_curves(one.method)
    assert () == product
    assert (2.0, pytest.approx(-4.0)) == fluid[-1]  # 2 K at 2 %/K
