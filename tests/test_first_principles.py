"""Coefficients that a spindle's dimensions cannot give, in a laboratory's own reference data."""

import pytest

from fillmark.reference import load

DISC = (
    "ours: {{kind: disc, diameter: 21.14 mm, length: 1.65 mm, shaft_diameter: 3.2 mm, mark_height: 49.2 mm,"
    " coefficient: {{value: {value}, spring: R}}, springs: [R], guard: either,"
    " container: beaker-600-low-form, source: demonstration, known: site{more}}}\n"
)


def loaded(tmp_path, value, more=""):
    (tmp_path / "shared").mkdir(exist_ok=True)
    (tmp_path / "shared" / "spindles.yaml").write_text(DISC.format(value=value, more=more), encoding="utf-8")
    return load(tmp_path)


# A thin disc of 21.14 mm at 718.7 µN·m has 544.8 Pa·s·rpm by (32/3)·η·ω·R³; a real one has 259.4 to 544.8.
@pytest.mark.parametrize("value", ["260 Pa·s·rpm", "400 Pa·s·rpm", "544 Pa·s·rpm"])
def test_what_a_real_disc_can_have_is_taken(tmp_path, value):
    own, found = loaded(tmp_path, value)
    assert [] == found
    assert "ours" in own.spindles


@pytest.mark.parametrize(
    ("value", "which", "hint"),
    [
        ("259 Pa·s·rpm", "low", ""),
        ("546 Pa·s·rpm", "high", ""),
        ("3200 Pa·s·rpm", "high", "It would do for spring 8R"),
        ("37.5 Pa·s·rpm", "low", "It would do for spring L"),
        ("0.4 Pa·s·rpm", "low", "powers of ten"),
    ],
)
def test_what_it_cannot_have_is_refused_with_the_factor(tmp_path, value, which, hint):
    own, found = loaded(tmp_path, value)
    assert own is None
    [d] = found
    assert ("REF01", "shared/spindles.yaml", ("ours", "coefficient", "value")) == (d.code, d.file, d.path)
    assert f"would read {which}" in d.message
    assert "259 to 545 Pa·s·rpm" in d.message
    assert hint in d.ways_out[0]


def test_the_factor_is_told(tmp_path):
    # 3200 over 544.8 is 5.87.
    _, [d] = loaded(tmp_path, "3200 Pa·s·rpm")
    assert "by a factor of 5.87 or more" in d.message


def test_a_relative_piece_is_not_judged(tmp_path):
    own, found = loaded(tmp_path, "3200 Pa·s·rpm", ", relative: true")
    assert [] == found
    assert own.spindles["ours"].relative


def test_a_chamber_cylinder_follows_from_its_gap(tmp_path):
    # Margules: 250.3 Pa·s·rpm for 11.8 mm in 19 mm over 38.5 mm on 718.7 µN·m; a tenth more is 275.3.
    text = (
        "chamber-11.8: {{kind: chamber-cylinder, diameter: 11.8 mm, length: 33 mm, effective_length: 38.5 mm,"
        " shaft_diameter: 3.2 mm, coefficient: {{value: {value}, spring: R}}, springs: [R],"
        " guard: not-applicable, container: chamber-19, source: demonstration, known: site}}\n"
    )
    (tmp_path / "shared").mkdir()
    for value, expected in (("274 Pa·s·rpm", []), ("277 Pa·s·rpm", ["REF01"])):
        (tmp_path / "shared" / "spindles.yaml").write_text(text.format(value=value), encoding="utf-8")
        _, found = load(tmp_path)
        assert expected == [d.code for d in found]
