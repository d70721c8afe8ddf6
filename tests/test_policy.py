"""What a laboratory's policy may change, and what it may not."""

import pytest

from fillmark.pipeline import compile_method
from fillmark.reference import load


def loaded(tmp_path, text):
    (tmp_path / "shared").mkdir(exist_ok=True)
    (tmp_path / "shared" / "policy.yaml").write_text(text, encoding="utf-8")
    return load(tmp_path)


def entry(key, value, version="site-1"):
    return f"version: {version}\n{key}: {{value: {value}, source: project-decision}}\n"


@pytest.mark.parametrize(
    ("key", "value", "code"),
    [
        ("torque_flor", "10 %", "NAM01"),
        ("torque_floor", "10", "POL01"),
        ("side_clearance", "10 %", "POL01"),
        ("paper", "10 mm", "POL01"),
        ("paper", "A5", "POL02"),
        ("verification_band", "worst", "POL02"),
        ("flash_margin", "9 K", "POL03"),
        ("hot_from", "61 °C", "POL03"),
        ("torque_ceiling", "101 %", "POL03"),
        ("flammable_agents", '"ethanol, methanol"', "POL03"),
    ],
)
def test_what_is_refused(tmp_path, key, value, code):
    own, found = loaded(tmp_path, entry(key, value))
    assert own is None
    assert [code] == [d.code for d in found]
    assert "shared/policy.yaml" == found[0].file
    assert 2 == found[0].span.line
    assert found[0].ways_out


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("torque_floor", "15 %"),
        ("flash_margin", "10 K"),
        ("flash_margin", "15 K"),
        ("hot_from", "55 °C"),
        ("paper", "Letter"),
        ("review_interval", "24 months"),
    ],
)
def test_what_is_taken(tmp_path, key, value):
    own, found = loaded(tmp_path, entry(key, value))
    assert [] == found
    assert value == own.policy.texts[key]


def test_a_longer_list_of_flammable_agents_is_taken(tmp_path, reference):
    words = reference.policy.choices["flammable_agents"] + ", our own thinner"
    own, found = loaded(tmp_path, entry("flammable_agents", f'"{words}"'))
    assert [] == found
    assert own.policy.choices["flammable_agents"].endswith("our own thinner")


def test_a_change_needs_a_version(tmp_path):
    _, found = loaded(tmp_path, "torque_floor: {value: 15 %, source: project-decision}\n")
    assert ["POL04"] == [d.code for d in found]
    own, found = loaded(tmp_path, "torque_floor: {value: 10 %, source: project-decision}\n")
    assert [] == found
    assert () == own.policy.changed


def test_a_moved_threshold_moves_the_findings(tmp_path, edited):
    own, _ = loaded(tmp_path, entry("torque_floor", "36 %"))
    shipped = compile_method(edited("TGF-VIS-003"), "x", load()[0])
    strict = compile_method(edited("TGF-VIS-003"), "x", own)
    assert () == shipped.diagnostics
    [d] = strict.diagnostics
    assert "36 %" in d.message
