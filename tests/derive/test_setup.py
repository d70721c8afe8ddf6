"""Accuracy, angle, step and coefficient: their values, and where they come from."""

import pytest

PAINT, STARCH, GEL = "MCW-VIS-014", "BBM-VIS-007", "QAP-VIS-002"
STAND = "stand: fine-height}"


# By hand from shared/policy.yaml: ± 1 % of full scale; 320° and 0.5 % on a dial, 70° and 0.1 % on a digital
# readout. The chamber of the gel adds 1 %.
@pytest.mark.parametrize(
    ("method", "key", "value", "text", "source"),
    [
        (PAINT, "accuracy", 1, "± 1 % of full scale", "policy.instrument_accuracy"),
        (GEL, "accuracy", 2, "± 2 % of full scale", "policy.instrument_accuracy"),
        (PAINT, "full_scale_angle", 70, "70°", "policy.angle_digital"),
        (STARCH, "full_scale_angle", 320, "320°", "policy.angle_dial"),
        (PAINT, "resolution", 0.1, "0.1 %", "policy.resolution_digital"),
        (STARCH, "resolution", 0.5, "0.5 %", "policy.resolution_dial"),
    ],
)
def test_what_the_site_counts_with(method, key, value, text, source, compiled):
    figure = compiled(method).figures[key]
    assert (value, text) == (pytest.approx(figure.value), figure.text)
    assert source == figure.inputs[0][1]


@pytest.mark.parametrize(
    ("written", "key", "place", "value"),
    [
        ("accuracy: 0.8 % of full scale", "accuracy", "accuracy", 0.8),
        ("full_scale_angle: 90 deg", "full_scale_angle", "full_scale_angle", 90),
        ("resolution: 0.2 %", "resolution", "resolution", 0.2),
    ],
)
def test_what_the_method_says_of_its_instrument(written, key, place, value, compiled):
    figure = compiled(PAINT, (STAND, f"stand: fine-height, {written}}}")).figures[key]
    assert value == pytest.approx(figure.value)
    assert ("instrument", place) == figure.inputs[0][1]
