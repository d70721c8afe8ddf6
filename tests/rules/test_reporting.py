"""Units, digits, rounding and limits: just inside, just outside, and what must stay silent."""

from dataclasses import replace

import pytest

from fillmark.diagnostics import Severity
from fillmark.pipeline import compile_method

PAINT, GEL, STARCH, CREAM, SAUCE = "MCW-VIS-014", "QAP-VIS-002", "BBM-VIS-007", "LMT-VIS-021", "TGF-VIS-003"
PAINT_LIMITS = "lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s"
PAINT_LINE = "statistic: mean, unit: Pa·s, increment: 0.1 Pa·s"


@pytest.fixture
def reporting(compiled):
    """Give the findings of this topic only."""
    return lambda method, *changes: [
        d for d in compiled(method, *changes).diagnostics if d.code.startswith("CAL")
    ]


@pytest.fixture
def house(reference, edited):
    """Give the findings of this topic under another site policy for comparison."""

    def found(comparison: str, method: str, *changes: tuple[str, str]):
        choices = {**reference.policy.choices, "comparison": comparison}
        other = replace(reference, policy=replace(reference.policy, choices=choices))
        compiled = compile_method(edited(method, *changes), method, other)
        return [d for d in compiled.diagnostics if d.code.startswith("CAL")]

    return found


# 1 cP = 1 mPa·s: the same size under two names.
def test_centipoise_beside_millipascal_seconds_is_the_same_unit(reporting):
    assert [] == reporting(STARCH, ("unit: mPa·s, increment: 4 mPa·s", "unit: cP, increment: 4 cP"))
    assert [] == reporting(STARCH, ("upper: 500 mPa·s", "upper: 500 cP"))


def test_poise_beside_pascal_seconds_differs_by_ten(reporting):
    (found,) = reporting(PAINT, (PAINT_LINE, "statistic: mean, unit: P, increment: 1 P"))
    assert "CAL02" == found.code
    assert "by a factor of 10." in found.message
    assert "Report in Pa·s." == found.ways_out[0]


def test_an_increment_in_another_unit_than_the_report_is_one_finding(reporting):
    (found,) = reporting(PAINT, (PAINT_LINE, "statistic: mean, unit: Pa·s, increment: 100 mPa·s"))
    assert "CAL02" == found.code
    assert ("report", 0, "increment") == found.path
    assert "Write the increment in Pa·s." == found.ways_out[0]


# Paint: limits to 0.1 Pa·s, 4 Pa·s wide (a twentieth is 0.2), readout step 0.1 % of 20 Pa·s = 0.02 Pa·s.
@pytest.mark.parametrize(
    ("increment", "expected"),
    [
        ("0.1 Pa·s", []),
        ("0.05 Pa·s", ["CAL05"]),
        ("0.02 Pa·s", ["CAL05"]),
        ("0.001 Pa·s", ["CAL05"]),
        ("0.2 Pa·s", ["CAL04"]),
        ("0.25 Pa·s", ["CAL04"]),
        ("1 Pa·s", ["CAL04"]),
        ("5 Pa·s", ["CAL04"]),
    ],
)
def test_the_increment_suits_digits_width_and_readout(increment, expected, reporting):
    changes = (
        ()
        if increment == "0.1 Pa·s"
        else ((PAINT_LINE, f"statistic: mean, unit: Pa·s, increment: {increment}"),)
    )
    found = reporting(PAINT, *changes)
    assert expected == [d.code for d in found]
    for finding in found:
        assert "Write increment: 0.1 Pa·s." == finding.ways_out[0]


# Starch: dial step 0.5 % of 800 mPa·s = 4 mPa·s; limits 300 and 500 mPa·s, 200 wide (a twentieth is 10).
@pytest.mark.parametrize(
    ("increment", "expected", "advice"),
    [
        ("4 mPa·s", [], None),
        ("5 mPa·s", [], None),
        ("10 mPa·s", [], None),
        ("1 mPa·s", ["CAL05"], "Write increment: 4 mPa·s."),
        ("2 mPa·s", ["CAL05"], "Write increment: 4 mPa·s."),
        ("7 mPa·s", ["CAL06"], "Write increment: 4 mPa·s."),
        ("8 mPa·s", ["CAL06"], "Write increment: 4 mPa·s."),
        ("20 mPa·s", ["CAL04"], "Write increment: 4 mPa·s."),
        ("100 mPa·s", ["CAL04"], "Write increment: 4 mPa·s."),
    ],
)
def test_whole_limits_leave_their_zeros_open(increment, expected, advice, reporting):
    changes = () if increment == "4 mPa·s" else (("increment: 4 mPa·s", f"increment: {increment}"),)
    found = reporting(STARCH, *changes)
    assert expected == [d.code for d in found]
    assert ([] if advice is None else [advice]) == [d.ways_out[0] for d in found]


def test_a_readout_too_coarse_for_the_limits_leaves_no_increment(reporting):
    # 0.5 % of 800 mPa·s is 4 mPa·s; limits 40 mPa·s apart bear 2 mPa·s at most.
    change = ("lower: 300 mPa·s, target: 400 mPa·s, upper: 500 mPa·s", "lower: 380 mPa·s, upper: 420 mPa·s")
    (found,) = reporting(STARCH, change)
    assert "CAL04" == found.code
    assert found.ways_out[0].startswith("No increment suits both")


def test_limits_that_are_one_value_let_nothing_else_pass(reporting):
    (found,) = reporting(GEL, ("lower: 20.0 Pa·s, target: 25.0 Pa·s", "lower: 30.0 Pa·s, target: 25.0 Pa·s"))
    assert "CAL12" == found.code
    assert "nothing but that one value can pass" in found.message


def test_limits_written_to_different_places_take_the_finer(reporting):
    assert [] == reporting(PAINT, (PAINT_LIMITS, "lower: 8 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s"))
    found = reporting(PAINT, (PAINT_LIMITS, "lower: 8 Pa·s, target: 10 Pa·s, upper: 12 Pa·s"))
    assert ["CAL05"] == [d.code for d in found]


def test_a_limit_in_the_other_unit_is_the_same_limit(reporting):
    found = reporting(PAINT, (PAINT_LIMITS, "lower: 8000 mPa·s, target: 10000 mPa·s, upper: 12000 mPa·s"))
    assert ["CAL02"] == [d.code for d in found]


# ISO 80000-1 Annex B as recalled: rule A to the even multiple, rule B up. 12.05 in steps of 0.1 ties between
# 12.0 (multiple 120, even) and 12.1 (121, odd).
def test_a_missing_rounding_rule_is_shown_by_a_tie(reporting):
    (found,) = reporting(PAINT, ("increment: 0.1 Pa·s, rounding: half-even", "increment: 0.1 Pa·s"))
    assert "CAL08" == found.code
    assert "12.05 Pa·s becomes 12 Pa·s by half-even and 12.1 Pa·s by half-up" in found.message


def test_an_odd_limit_is_shown_by_the_tie_below_it(reporting):
    changes = (
        ("increment: 4 mPa·s, rounding: half-even", "increment: 4 mPa·s"),  # 500 / 4 = 125, odd
    )
    (found,) = reporting(STARCH, *changes)
    assert "498 mPa·s becomes 496 mPa·s by half-even and 500 mPa·s by half-up" in found.message


def test_increment_and_rounding_missing_together_are_one_finding(reporting):
    found = reporting(STARCH, ("increment: 4 mPa·s, rounding: half-even, ", ""))
    assert ["CAL07"] == [d.code for d in found]


@pytest.mark.parametrize(
    ("statistic", "count", "expected"),
    [
        ("mean", 2, None),
        ("median", 3, None),
        ("each", 2, None),
        ("single", 1, None),
        ("single", 2, Severity.ERROR),
        ("mean", 1, Severity.WARNING),
        ("median", 1, Severity.WARNING),
    ],
)
def test_statistic_and_count_go_together(statistic, count, expected, reporting):
    changes = [
        (f"{key}: {was}", f"{key}: {now}")
        for key, was, now in (("statistic", "single", statistic), ("count", 1, count))
        if was != now
    ]
    found = [d for d in reporting(STARCH, *changes) if d.code == "CAL10"]
    assert ([] if expected is None else [expected]) == [d.severity for d in found]


def test_a_single_run_needs_no_statistic(reporting):
    assert [] == reporting(STARCH, ("statistic: single, ", ""))


def test_both_ends_of_the_range_are_asked_for_at_once(reporting):
    (found,) = reporting(STARCH, (", below_range: stated, above_range: stated", ""))
    assert "CAL11" == found.code
    # 10 % and 100 % of 800 mPa·s
    assert "below the range or above the range" in found.message
    assert "< 80 mPa·s, > 800 mPa·s" in found.message
    assert [] == reporting(
        STARCH, ("below_range: stated, above_range: stated", "below_range: void, above_range: void")
    )


@pytest.mark.parametrize(
    ("limits", "expected"),
    [
        ("lower: 12.0 Pa·s, target: 10.0 Pa·s, upper: 8.0 Pa·s", ["CAL12"]),
        ("lower: 8.0 Pa·s, target: 12.0 Pa·s, upper: 12.0 Pa·s", ["CAL13"]),
        ("lower: 8.0 Pa·s, target: 7.9 Pa·s, upper: 12.0 Pa·s", ["CAL13"]),
        ("lower: 8.0 Pa·s, target: 8.1 Pa·s, upper: 12.0 Pa·s", []),
        ("lower: 8.0 Pa·s, target: 10.0 Pa·s", ["CAL14"]),
        ("target: 10.0 Pa·s, upper: 12.0 Pa·s", ["CAL14"]),
        ("target: 10.0 Pa·s", ["CAL14", "CAL17"]),  # and the ratio then stands on no judged step
        ("lower: 8.0 Pa·s, target: 10.0 Pa·s, one_sided: true", []),
        ("lower: 8.0 Pa·s, target: 8.0 Pa·s, one_sided: true", []),
        ("lower: 8.0 Pa·s, upper: 12.0 Pa·s, one_sided: true", ["CAL14"]),
    ],
)
def test_limits_in_order(limits, expected, reporting):
    assert expected == [d.code for d in reporting(PAINT, (PAINT_LIMITS, limits))]


def test_the_simple_decision_rule_needs_no_uncertainty(reporting):
    assert [] == reporting(PAINT, ("  repeatability: 1.5 %\n", ""))


def test_a_guard_band_needs_its_uncertainty(reporting):
    guarded = ("upper: 30.0 Pa·s, decision_rule: simple", "upper: 30.0 Pa·s, decision_rule: guarded")
    assert [] == reporting(GEL, guarded)
    (found,) = reporting(GEL, guarded, ("  repeatability: 2.0 %\n", ""))
    assert "CAL15" == found.code
    assert "the repeatability is not given" in found.message


def test_a_guard_band_may_not_eat_the_whole_specification(reporting):
    # Half the width is 0.6 Pa·s; the instrument alone brings 2 · 1 Pa·s / √3 = 1.2 Pa·s.
    limits = ("lower: 20.0 Pa·s, target: 25.0 Pa·s, upper: 30.0 Pa·s, decision_rule: simple",
              "lower: 24.4 Pa·s, target: 25.0 Pa·s, upper: 25.6 Pa·s, decision_rule: guarded")  # fmt: skip
    found = [d for d in reporting(GEL, limits) if d.code == "CAL15"]
    assert 1 == len(found)
    assert "no result can pass" in found[0].message


# ASTM E29 as recalled: by the rounding method 12.04 becomes 12.0 and passes 12.0; by the absolute it fails.
def test_the_rounding_method_is_silent_where_the_line_says_so(reporting, house):
    assert [] == reporting(PAINT)
    assert [("report", 1, "result")] == [
        d.path for d in house("rounding", PAINT)
    ]  # the ratio does not say so
    assert [] == reporting(GEL)


def test_the_rounding_method_by_policy_alone_is_told(house):
    (found,) = house("rounding", GEL)
    assert "CAL16" == found.code
    assert "30.04 Pa·s fails the upper limit 30.0 Pa·s" in found.message
    assert "up to 0.05 Pa·s outside" in found.message
    line = ("unit: Pa·s, increment: 0.1 Pa·s", "unit: Pa·s, comparison: rounding, increment: 0.1 Pa·s")
    assert [] == house("rounding", GEL, line)


def test_a_guard_band_and_the_rounding_method_clash(reporting):
    (found,) = reporting(
        PAINT, ("upper: 12.0 Pa·s, decision_rule: simple", "upper: 12.0 Pa·s, decision_rule: guarded")
    )
    assert "CAL16" == found.code
    assert "rounding gives 0.05 Pa·s of it back" in found.message


def test_a_ratio_stands_on_one_judged_step(reporting):
    assert [] == reporting(PAINT)
    line = f"  - {{result: viscosity_20, {PAINT_LIMITS}, decision_rule: simple}}\n"
    (found,) = reporting(PAINT, (line, ""))
    assert "CAL17" == found.code
    # 1 % of full scale at 10 % torque
    assert "± 10 %" in found.message


@pytest.mark.parametrize(
    ("title", "expected"),
    [
        ("Viscosity of matt wall paint", ["CAL18"]),
        ("Apparent viscosity of matt wall paint", []),
        ("Relative viscosity of matt wall paint", []),
        ("Consistency of matt wall paint", []),
        ("Viscosity of matt wall paint at 20 rpm", []),
        ("Thickness of matt wall paint", []),
    ],
)
def test_the_title_says_what_the_number_is(title, expected, reporting):
    changes = (
        ()
        if title.startswith("Apparent")
        else (("title: Apparent viscosity of matt wall paint", f"title: {title}"),)
    )
    assert expected == [d.code for d in reporting(PAINT, *changes)]


def test_a_newtonian_product_has_a_viscosity(reporting):
    title = ("title: Apparent viscosity of matt wall paint", "title: Viscosity of matt wall paint")
    assert [] == reporting(PAINT, title, ("behaviour: thixotropic", "behaviour: newtonian"))
    assert [] == reporting(PAINT, title, ("behaviour: thixotropic", "behaviour: unknown"))


# What the messages and their ways out say, worked out by hand


def test_limits_upside_down_are_turned_over_where_they_differ(reporting):
    (found,) = reporting(
        GEL,
        (
            "lower: 20.0 Pa·s, target: 25.0 Pa·s, upper: 30.0 Pa·s",
            "lower: 30.0 Pa·s, target: 25.0 Pa·s, upper: 20.0 Pa·s",
        ),
    )
    assert "10 Pa·s the wrong way round; nothing can pass" in found.message
    assert "Write lower: 20.0 Pa·s, upper: 30.0 Pa·s, if they were swapped." == found.ways_out[0]
    (found,) = reporting(GEL, ("lower: 20.0 Pa·s, target: 25.0 Pa·s", "lower: 30.0 Pa·s, target: 25.0 Pa·s"))
    assert found.ways_out[0].startswith("Set them apart")


@pytest.mark.parametrize(
    ("method", "changes", "way"),
    [
        # 0.5 % of 800 mPa·s is 4 mPa·s; 20 such steps are 80 mPa·s, and 380 to 420 leaves no room for them
        (
            STARCH,
            (
                (
                    "lower: 300 mPa·s, target: 400 mPa·s, upper: 500 mPa·s",
                    "lower: 380 mPa·s, upper: 420 mPa·s",
                ),
                ("increment: 4 mPa·s", "increment: 1 mPa·s"),
            ),
            "Or set limits 80 mPa·s apart or more, if the product allows.",
        ),
        (
            STARCH,
            (("increment: 4 mPa·s", "increment: 1 mPa·s"),),
            "Or choose a speed or spindle that makes one step of the readout 1 mPa·s or less.",
        ),
        (
            PAINT,
            ((PAINT_LINE, PAINT_LINE.replace("0.1 Pa·s", "0.05 Pa·s")),),
            "Or write the limits in as many digits as 0.05 Pa·s, if they are meant so.",
        ),
    ],
)
def test_what_else_mends_an_increment_too_fine(method, changes, way, reporting):
    (found,) = [d for d in reporting(method, *changes) if d.code == "CAL05"]
    assert way == found.ways_out[1]


def test_without_a_unit_the_increment_has_the_say(reporting):
    with_unit = ("unit: Pa·s, increment: 0.1 Pa·s", "increment: 100 mPa·s")
    (found,) = reporting(PAINT, with_unit)
    assert ("CAL02", ("report", 0, "increment")) == (found.code, found.path)
    assert (
        "is reported in mPa·s and its limits stand in Pa·s: the numbers differ by a factor of 1000."
        in found.message
    )
    assert ["CAL07"] == [d.code for d in reporting(PAINT, ("unit: Pa·s, increment: 0.1 Pa·s, ", ""))]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (
            ("statistic: single", "statistic: mean"),
            "as mean and 1 replicate is made: there is nothing to average.",
        ),
        (("count: 1", "count: 2"), "as single and 2 replicates are made: which of the 2 is left open."),
    ],
)
def test_how_many_replicates_are_made(change, told, reporting):
    (found,) = [d for d in reporting(STARCH, change) if d.code == "CAL10"]
    assert told in found.message


@pytest.mark.parametrize(
    ("limits", "side", "missing"),
    [
        ("lower: 8.0 Pa·s, target: 10.0 Pa·s", "above", "upper"),
        ("target: 10.0 Pa·s, upper: 12.0 Pa·s", "below", "lower"),
    ],
)
def test_the_limit_that_is_missing_is_asked_for(limits, side, missing, reporting):
    (found,) = reporting(PAINT, (PAINT_LIMITS, limits))
    assert f"no {missing} one is given" in found.message
    assert f"Every value {side} it would pass" in found.message
    assert f"Add the {missing} limit." == found.ways_out[0]


@pytest.mark.parametrize("limits", ["lower: 20.0 Pa·s, one_sided: true", "upper: 30.0 Pa·s, one_sided: true"])
def test_a_guard_band_on_one_limit_has_no_uncertainty_yet(limits, reporting):
    right = "lower: 20.0 Pa·s, target: 25.0 Pa·s, upper: 30.0 Pa·s, decision_rule: simple"
    (found,) = [d for d in reporting(GEL, (right, f"{limits}, decision_rule: guarded")) if d.code == "CAL15"]
    assert "draws the 1 limits in by is not known" in found.message


def test_a_title_is_mended_once(reporting):
    title = (
        "title: Apparent viscosity of matt wall paint",
        "title: Viscosity of matt wall paint, viscosity class 2",
    )
    (found,) = reporting(PAINT, title)
    assert "Write title: Apparent viscosity of matt wall paint, viscosity class 2." == found.ways_out[0]
