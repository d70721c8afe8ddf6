"""Each rule on what the product remembers, just inside and just outside."""

import pytest

from fillmark.diagnostics import Severity

CREAM, SAUCE, PAINT, STARCH, GEL = "LMT-VIS-021", "TGF-VIS-003", "MCW-VIS-014", "BBM-VIS-007", "QAP-VIS-002"
SLOW_STEP = "  - {name: viscosity_2, speed: 2 rpm, read: {after: 150 s}}"
FAST_STEP = "  - {name: viscosity_20, speed: 20 rpm, read: {after: 60 s}}"
ORDER = (f"{SLOW_STEP}\n{FAST_STEP}", f"{FAST_STEP}\n{SLOW_STEP}")
FAST = "speed: 20 rpm, read"
STIR = "Stir 30 turns in 30 s with a wide spatula; draw no air in."


def found_codes(compiled, method, *changes):
    return [d.code for d in compiled(method, *changes).diagnostics if d.waived_by is None]


def test_an_unknown_behaviour_weighs_by_the_status(compiled):
    unknown = compiled(SAUCE, ("behaviour: yield-stress", "behaviour: unknown")).diagnostics
    assert [("HIS01", Severity.ERROR)] == [(d.code, d.severity) for d in unknown]
    draft = compiled(STARCH, ("behaviour: shear-thinning", "behaviour: unknown")).diagnostics
    assert [("HIS01", Severity.WARNING)] == [(d.code, d.severity) for d in draft]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Stir slowly with a wide spatula.", ["HIS02"]),
        ("Stir 30 turns with a wide spatula.", []),
        ("Do not stir and do not shake.", []),
        ("Open the tin; never stir.", []),
        ("Do not shake. Mix with a paddle.", ["HIS02"]),
    ],
)
def test_what_is_done_to_the_sample_has_numbers(text, expected, compiled):
    assert expected == found_codes(compiled, PAINT, (STIR, text))


def test_a_product_without_memory_is_stirred_at_will(compiled):
    text = (
        "Pour slowly down the wall, 500 mL in 60 s; do not stir and do not shake.",
        "Stir by hand before the test.",
    )
    assert ["HIS02"] == found_codes(compiled, SAUCE, text)
    assert [] == found_codes(compiled, SAUCE, text, ("behaviour: yield-stress", "behaviour: shear-thinning"))


def test_only_a_product_with_memory_is_not_stirred_in_the_bath(compiled):
    stirred = ("covered: true, parts: true}", "covered: true, parts: true, stirred: true}")
    assert ["HIS03"] == found_codes(compiled, SAUCE, stirred)
    assert [] == found_codes(
        compiled, SAUCE, stirred, ("behaviour: yield-stress", "behaviour: shear-thinning")
    )


@pytest.mark.parametrize(("each", "expected"), [("new-sample", []), ("new-pack", []), ("re-read", ["HIS04"])])
def test_replicates_of_a_product_with_memory(each, expected, compiled):
    assert expected == found_codes(compiled, SAUCE, ("each: new-loading", f"each: {each}"))


def test_a_single_reading_is_no_second_one(compiled):
    changes = (("count: 2", "count: 1"), ("each: new-loading", "each: re-read"))
    assert "HIS04" not in found_codes(compiled, SAUCE, *changes)


def test_a_ratio_run_downwards_weighs_by_the_memory(compiled, lines):
    found = compiled(PAINT, ORDER).diagnostics
    line = lines(PAINT, ORDER, at="name: viscosity_2,")
    assert [("HIS05", Severity.ERROR, line)] == [(d.code, d.severity, d.span.line) for d in found]
    assert {"the faster step, 20 rpm", "the ratio index"} == {r.note for r in found[0].related}
    plain = ("behaviour: thixotropic", "behaviour: shear-thinning")
    found = compiled(PAINT, ORDER, plain).diagnostics
    assert [("HIS05", Severity.WARNING)] == [(d.code, d.severity) for d in found]


RATIO = ("ratio: [viscosity_2, viscosity_20]", "ratio: [viscosity_20, viscosity_2]")
LIMITS = "lower: 5.5, upper: 8.0"


def test_a_ratio_upside_down_leaves_the_slow_step_unjudged(codes, lines, not_judged):
    assert [("HIS06", lines(PAINT, RATIO, at="ratio:"))] == codes(PAINT, RATIO)
    assert ["step viscosity_2 has no lower limit"] == not_judged("TRQ03", PAINT, RATIO)
    assert ["index: the torque at one of the two speeds is not known"] == not_judged("HIS07", PAINT, RATIO)


def test_a_ratio_turned_over_with_its_limits_is_no_contradiction(compiled):
    # 1/8 to 1/5.5: the same statement the other way up, so that the slow step keeps its 44 to 96 Pa·s.
    turned = (LIMITS, "lower: 0.125, upper: 0.181818")
    result = compiled(PAINT, RATIO, turned)
    assert "HIS06" not in [d.code for d in result.diagnostics]
    torques = [result.figures[f"run.viscosity_2.torque_{w}"].value for w in ("lower", "upper")]
    assert [22.0, 48.0] == pytest.approx(torques, rel=1e-5)


# Torque in the middle 35 % and 50 %: u = a·√(1/35² + 1/50²) = 3.488 % for ± 1 %. The limits leave 18.52 %.
@pytest.mark.parametrize(
    ("accuracy", "expected"),
    [
        ("1.3", []),  # 4.08
        ("1.4", [("HIS07", Severity.WARNING)]),  # 3.79
        ("1.7", [("HIS07", Severity.WARNING)]),  # 3.12
        ("1.8", [("HIS07", Severity.ERROR)]),  # 2.95
    ],
)
def test_the_uncertainty_of_a_ratio(accuracy, expected, compiled):
    change = ("stand: fine-height}", f"stand: fine-height, accuracy: {accuracy} % of full scale}}")
    assert expected == [(d.code, d.severity) for d in compiled(PAINT, change).diagnostics]


@pytest.mark.parametrize(
    ("speed", "expected"),
    [("19 rpm", ["HIS08"]), ("20 rpm", []), ("33 rpm", []), ("34 rpm", ["HIS09"])],  # 60 % · 33/20 = 99 %
)
def test_the_speed_of_a_preshear(speed, expected, compiled):
    change = (FAST, f"speed: 20 rpm, preshear: {{speed: {speed}, time: 30 s}}, read")
    assert expected == found_codes(compiled, PAINT, change)


def test_a_preshear_off_the_scale_offers_a_speed_that_is_on_it(only):
    found = only(PAINT, (FAST, "speed: 20 rpm, preshear: {speed: 60 rpm, time: 30 s}, read"))
    assert "up to 180 % of the spring, 80 % over the scale" in found.message
    assert "Preshear at 33.3 rpm at most." == found.ways_out[0]


NEWTONIAN = ("behaviour: thixotropic", "behaviour: newtonian")
OF_INDEX = "  - {result: index, lower: 5.5, upper: 8.0, decision_rule: simple}"


def of_the_slow_step(lower, upper):
    return (
        OF_INDEX,
        f"  - {{result: viscosity_2, lower: {lower} Pa·s, upper: {upper} Pa·s, decision_rule: simple}}",
    )


# Tolerances of ± 1 % of 200 and of 20 Pa·s: two centres may lie 2.2 Pa·s apart.
@pytest.mark.parametrize(("lower", "upper", "expected"), [(10.1, 14.1, False), (10.3, 14.3, True)])
def test_a_newtonian_product_has_one_viscosity(lower, upper, expected, compiled):
    found = found_codes(compiled, PAINT, NEWTONIAN, of_the_slow_step(lower, upper))
    assert expected == ("HIS10" in found)


@pytest.mark.parametrize(
    ("limits", "expected"), [("lower: 0.9, upper: 1.1", False), ("lower: 1.1, upper: 1.3", True)]
)
def test_a_newtonian_product_has_a_ratio_of_one(limits, expected, compiled):
    assert expected == ("HIS10" in found_codes(compiled, PAINT, NEWTONIAN, (LIMITS, limits)))


# What the messages and their ways out say, worked out by hand


@pytest.mark.parametrize(("lower", "expected"), [("1.0", False), ("1.1", True)])
def test_from_where_a_ratio_stands_upside_down(lower, expected, compiled):
    found = found_codes(compiled, PAINT, RATIO, (LIMITS, f"lower: {lower}, upper: 8.0"))
    assert expected == ("HIS06" in found)


def test_the_limits_of_a_ratio_turned_over(only):
    # 1/8 and 1/5.5
    assert "Or turn the limits over too: lower 0.125, upper 0.182." == only(PAINT, RATIO).ways_out[1]


def test_what_would_save_a_ratio(said):
    # 2 · √(1/35² + 1/50²) = 6.98 %; 18.5 / 6.98 = 2.65; 2 % · 2.65 / 4 = 1.3 %; 4 · 6.98 = 28 %
    found = said("HIS07", PAINT, ("stand: fine-height}", "stand: fine-height, accuracy: 2 % of full scale}"))
    assert "leave ± 19 % and the two readings bring ± 7.0 %: a ratio of 2.65" in found.message
    assert found.ways_out[0].endswith("an instrument of ± 1.3 % of full scale.")
    assert "Or widen the limits to ± 28 %, if the product allows." == found.ways_out[1]


def test_how_much_faster_the_run_is_than_its_preshear(only):
    found = only(PAINT, (FAST, "speed: 20 rpm, preshear: {speed: 8 rpm, time: 30 s}, read"))
    assert "8 rpm and the step at 20 rpm, 2.5 times as fast" in found.message


@pytest.mark.parametrize(
    ("limits", "told"),
    [
        ("lower: 5.5, upper: 8.0", "its limits begin at 5.5"),
        ("lower: 0.5, upper: 0.9", "its limits end at 0.9"),
    ],
)
def test_which_limit_of_a_ratio_leaves_out_the_one(limits, told, said):
    changes = [(LIMITS, limits)] if limits != LIMITS else []
    assert told in said("HIS10", PAINT, NEWTONIAN, *changes).message


@pytest.mark.parametrize("one_sided", ["lower: 100 Pa·s", "upper: 1 Pa·s"])
def test_limits_with_one_side_have_no_centre_to_compare(one_sided, compiled):
    slow = f"  - {{result: viscosity_2, {one_sided}, one_sided: true, decision_rule: simple}}"
    assert "HIS10" not in found_codes(compiled, PAINT, NEWTONIAN, (OF_INDEX, slow))


def test_how_far_apart_two_viscosities_of_a_newtonian_product_are(said):
    # (10.3 + 14.3) / 2 and (8 + 12) / 2; 1 % of 200 and of 20 Pa·s
    found = said("HIS10", PAINT, NEWTONIAN, of_the_slow_step(10.3, 14.3))
    assert "centre on 12.3 Pa·s at 2 rpm and 10.0 Pa·s at 20 rpm: 2.30 Pa·s apart" in found.message
    assert "the instrument explains 2.20 Pa·s" in found.message
