"""Each slip against values worked out by hand from the equation beside it, for the demonstration methods."""

from math import exp

import pytest

PAINT = ("MCW-VIS-014", "viscosity_20")  # 8, 10, 12 Pa·s at 40, 50, 60 %, R5 on R, 20 rpm, digital
STARCH = ("BBM-VIS-007", "viscosity_50")  # 300, 400, 500 mPa·s at 37.5, 50, 62.5 %, R2 on R, 50 rpm, dial
SAUCE = ("TGF-VIS-003", "viscosity_10")  # 7, 9, 11 Pa·s at 35, 45, 55 %, R4 on R, 10 rpm, no guard
GEL = ("QAP-VIS-002", "viscosity_5")  # 20, 25, 30 Pa·s at 40, 50, 60 %, chamber, 5 rpm
CREAM = ("LMT-VIS-021", "consistency_5")  # 70, 100, 130 Pa·s at 35, 50, 65 %, bar, 5 rpm
ALL = (PAINT, STARCH, SAUCE, GEL, CREAM)


def shifts(slip):
    """The shift at each point; both ends where it is a range."""
    return [e.shift[0] if e.shift[0] == e.shift[1] else e.shift for e in slip.effects]


@pytest.mark.parametrize(
    ("key", "method", "expected"),
    [
        # -s · 1 K
        ("temperature.warm", PAINT, [-2.0] * 3),
        ("temperature.cold", PAINT, [2.0] * 3),
        ("temperature.warm", SAUCE, [-3.0] * 3),
        ("temperature.warm", GEL, [-1.0] * 3),
        # 1 % of full scale over the torque: 1/40, 1/50, 1/60 and so on
        ("zero.high", PAINT, [2.5, 2.0, 100 / 60]),
        ("zero.low", PAINT, [-2.5, -2.0, -100 / 60]),
        ("zero.high", STARCH, [100 / 37.5, 2.0, 1.6]),
        ("zero.low", CREAM, [-100 / 35, -2.0, -100 / 65]),
        # 1437.4, 5749.6 and 67.37 over 718.7, counted too high or too low
        ("spring-keyed.2R", PAINT, [100.0] * 3),
        ("spring-keyed.8R", PAINT, [700.0] * 3),
        ("spring-keyed.L", PAINT, [100 * (67.37 / 718.7 - 1)] * 3),
        ("spring-mounted.2R", STARCH, [-50.0] * 3),
        # coefficients of R4, R5, R6: 200, 400, 1000
        ("spindle-keyed.R4", PAINT, [-50.0] * 3),
        ("spindle-keyed.R6", PAINT, [150.0] * 3),
        ("spindle-hung.R6", PAINT, [-60.0] * 3),
        # 4π · 1.6² · 5 mm³ of shaft times 2π/60 · 400 Pa·s·rpm over 718.7 µN·m: 0.9374 %
        ("immersion.deep", PAINT, [0.9374] * 3),
        ("immersion.shallow", PAINT, [-0.9374] * 3),
        # the same with 40 in the place of 400
        ("immersion.deep", STARCH, [0.09374] * 3),
        # (1 - (13.65/41.275)³)/(1 - (13.65/33)³) - 1
        ("container.narrower", SAUCE, [3.724] * 3),
        # (1 - (10.57/41.275)³)/(1 - (10.57/45.5)³) - 1
        ("container.wider", PAINT, [-0.4312] * 3),
        # 10 min at 0.14 K/min and 3 %/K
        ("open.temperature", STARCH, [4.2] * 3),
    ],
)
def test_a_slip_with_one_size(slip, key, method, expected):
    assert expected == pytest.approx(shifts(slip(key, *method)), rel=2e-3)


def test_a_tolerance_works_both_ways(slip):
    found = slip("temperature.edge", *PAINT)
    assert [(-1.0, 1.0)] * 3 == [pytest.approx(s) for s in shifts(found)]
    assert "either" == found.direction


def test_without_a_sensitivity_warmth_has_a_direction_and_no_size(slip):
    found = slip("temperature.warm", *PAINT, ("  temperature_sensitivity: 2.0 %/K\n", ""))
    assert ("low", "not known", (), None) == (found.direction, found.known, found.effects, found.verdict)


@pytest.mark.parametrize("key", ["read.early", "read.half"])
def test_at_20_rpm_on_the_digital_readout_the_clock_does_nothing(slip, key):
    # τ at 60 %: 0.6 · 70/120 = 0.35 s; e^(-10/0.35) is 4e-13
    found = slip(key, *PAINT)
    assert "none" == found.direction
    assert [0.0] * 3 == pytest.approx(shifts(found), abs=1e-9)
    assert ("no", "no", "no", "no") == found.verdict.at_limits


def test_a_slow_dial_read_early_is_far_from_wound_up(slip):
    # The paint's index step on a dial: τ at 22 % and 48 % is 0.22 and 0.48 of 320/12 s.
    found = slip("read.early", "MCW-VIS-014", "viscosity_2", ("readout: digital", "readout: dial"))
    by_hand = [
        100 * ((1 - exp(-10 / tau)) / (1 - exp(-150 / tau)) - 1) for tau in (0.22 * 320 / 12, 0.48 * 320 / 12)
    ]
    assert by_hand == pytest.approx([shifts(found)[0], shifts(found)[-1]], rel=1e-9)
    assert -45.8 == pytest.approx(by_hand[1], abs=0.1)
    assert "low" == found.direction


def test_a_reading_once_steady_has_no_half_time(budget):
    steady = "read: {steady: {change: 0.2 %, over: 30 s, at_most: 300 s}}"
    found = {
        s.key: s for s in budget(*PAINT, ("speed: 20 rpm, read: {after: 60 s}", f"speed: 20 rpm, {steady}"))
    }
    assert "read.half" not in found
    assert "not once steady" in found["read.early"].what


@pytest.mark.parametrize(
    ("method", "sized", "structure"), [(PAINT, False, True), (STARCH, True, False), (SAUCE, False, True)]
)
def test_reading_late_is_sized_only_where_nothing_breaks_down(budget, method, sized, structure):
    found = {s.key: s for s in budget(*method)}
    assert sized == ("read.late" in found)
    assert structure == ("structure.late" in found)
    if structure:
        told = [
            (found[f"structure.{k}"].direction, found[f"structure.{k}"].known)
            for k in ("early", "late", "stirred")
        ]
        assert [("high", "not known"), ("low", "not known"), ("low", "not known")] == told


def test_a_pin_loses_its_own_length_when_it_hangs_short(slip):
    # R7 is as thick as its shaft and the mark is at its top: 5 mm are about a tenth of its 50 mm.
    # 4π · 1.6² · 5 mm³ times 2π/60 · 4000 Pa·s·rpm over 718.7 µN·m: 9.374 %
    thicker = ("lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s", "lower: 80 Pa·s, upper: 120 Pa·s")
    found = slip("immersion.shallow", *PAINT, ("spindle: R5", "spindle: R7"), thicker)
    assert [-9.374] * 3 == pytest.approx(shifts(found), rel=1e-3)


def test_a_chamber_filled_short_bares_its_spindle(slip):
    # cover 4.1 mm: 0.9 mm of the cylinder, of 38.5 mm that carry it, is 2.3 %; with the shaft 2.9 %
    found = slip("immersion.shallow", *GEL)
    assert -2.9 == pytest.approx(found.effects[0].shift[0], abs=0.1)
    assert "The top 0.9 mm of the spindle stands out." in found.why


def test_a_guard_that_does_not_go_in_rules_a_narrow_beaker_out(slip):
    found = slip("container.narrower", *PAINT)
    assert ("ruled out", "none", None) == (found.known, found.direction, found.verdict)
    assert "The guard, 70 mm wide, does not go in." == found.why


def test_the_wall_of_a_disc_is_an_estimate_and_says_so(slip):
    found = slip("container.narrower", *SAUCE)
    assert ("high", "estimate") == (found.direction, found.known)
    assert ("project-decision", "demonstration") == found.sources


def test_a_guard_left_off_is_from_memory_for_large_spindles_and_near_nil_for_small(slip):
    large, small = slip("guard.off", *STARCH), slip("guard.off", *PAINT)
    assert [(-20.0, 0.0)] * 3 == [pytest.approx(s) for s in shifts(large)]
    assert ("low", "from memory", ("from-memory",)) == (large.direction, large.known, large.sources)
    assert ("low", "from memory", ()) == (small.direction, small.known, small.effects)
    assert "Near nil" in small.why


def test_a_guard_put_on_where_none_belongs_reads_high(slip):
    assert "high" == slip("guard.on", *SAUCE).direction


@pytest.mark.parametrize("method", [GEL, CREAM])
def test_a_geometry_without_a_guard_has_no_guard_slip(budget, method):
    assert [] == [s for s in budget(*method) if s.key.startswith("guard")]


def test_a_weak_spring_goes_off_the_scale_and_a_strong_one_under_the_floor(slip):
    weak, strong = slip("spring-mounted.L", *PAINT), slip("spring-mounted.8R", *PAINT)
    # 40 % · 718.7/67.37 and 60 % / 8
    assert 426.7 == pytest.approx(weak.effects[0].torque[0], abs=0.1)
    assert 7.5 == pytest.approx(strong.effects[-1].torque[0])
    assert ("ruled out", "ruled out") == (weak.known, strong.known)
    assert ("off the scale" in weak.why, "under the torque floor of 10 %" in strong.why) == (True, True)


def test_look_alikes_are_not_known(slip):
    found = slip("spindle-twin", *STARCH)
    assert ("either", "not known", ()) == (found.direction, found.known, found.effects)


def test_the_speed_of_the_other_step_gives_the_ratio_itself(slip):
    # viscosity at 2 rpm over that at 20 rpm is the index, 5.5 to 8.0
    found = slip("speed.viscosity_2", *PAINT)
    assert (450.0, 700.0) == pytest.approx(found.effects[0].shift)
    assert "bounds" == found.known


def test_twice_the_speed_with_the_index_of_the_ratio(slip):
    # n = 1 - lg 5.5 and 1 - lg 8; 2^(n - 1) = 2^(-0.7404) and 2^(-0.9031)
    found = slip("speed.faster", *PAINT)
    assert (100 * (2**-0.90309 - 1), 100 * (2**-0.740363 - 1)) == pytest.approx(
        found.effects[0].shift, rel=1e-5
    )


def test_an_index_nobody_knows_lies_between_its_bounds(slip):
    # a dial counts with the sheet's factor: 20 over 50 rpm if Newtonian, no change if all yield
    found = slip("speed.slower", *STARCH)
    assert (-60.0, 0.0) == pytest.approx(found.effects[0].shift)
    assert ("low", "bounds") == (found.direction, found.known)
    assert "not known; between 0 and 1" in found.why


def test_a_newtonian_product_on_a_digital_readout_minds_no_speed(slip):
    found = slip("speed.faster", *PAINT, ("behaviour: thixotropic", "behaviour: newtonian"))
    assert ("none", "computed") == (found.direction, found.known)


def test_a_dial_offers_the_settings_beside_the_right_one(slip):
    assert "Run at 20 rpm, the setting below" == slip("speed.slower", *STARCH).what
    assert "Run at 100 rpm, the setting above" == slip("speed.faster", *STARCH).what


def test_what_is_keyed_wrongly_shows_on_a_digital_sheet_only(slip):
    assert "display" in slip("spring-keyed.2R", *PAINT).shown_by
    assert "" == slip("spring-keyed.2R", *STARCH).shown_by


@pytest.mark.parametrize("method", ALL, ids=lambda m: m[0])
def test_every_row_is_honest_and_can_be_followed(budget, compiled, method):
    c = compiled(method[0])
    for found in budget(*method):
        assert found.why, found.key
        assert set() == set(found.sources) - set(c.method.reference.sources) - {"method"}, found.key
        if found.known in ("not known", "from memory", "ruled out") and not found.effects:
            assert "" == found.formula, found.key
            continue
        assert found.formula, found.key
        assert found.inputs, found.key
        for _, where in found.inputs:
            if isinstance(where, tuple):
                c.source.span(where)
            elif where.startswith("policy."):
                assert where.removeprefix("policy.") in c.method.reference.policy.texts
            elif "_" in where:
                assert where in c.figures, (found.key, where)


@pytest.mark.parametrize("method", ALL, ids=lambda m: m[0])
def test_no_two_rows_share_a_key(budget, method):
    keys = [s.key for s in budget(*method)]
    assert len(set(keys)) == len(keys)
