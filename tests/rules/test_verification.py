"""The check with a reference fluid: band, torque, temperature, geometry, and what is done when it fails."""

from dataclasses import replace

import pytest

from fillmark.diagnostics import Severity
from fillmark.pipeline import compile_method

PAINT, GEL, STARCH, CREAM, SAUCE = "MCW-VIS-014", "QAP-VIS-002", "BBM-VIS-007", "LMT-VIS-021", "TGF-VIS-003"
ACTION = "on_failure: Stop, tag the instrument, look back to the last pass."


@pytest.fixture
def verification(compiled):
    """Give the findings of this topic only, waived ones too."""
    return lambda method, *changes: [
        d for d in compiled(method, *changes).diagnostics if d.code.startswith("VER")
    ]


@pytest.fixture
def root_sum_square(reference, edited):
    """Give the findings of this topic where the site takes the root of the squares for the band."""

    def found(method: str, *changes: tuple[str, str]):
        choices = {**reference.policy.choices, "verification_band": "root-sum-square"}
        other = replace(reference, policy=replace(reference.policy, choices=choices))
        compiled = compile_method(edited(method, *changes), method, other)
        return [d for d in compiled.diagnostics if d.code.startswith("VER")]

    return found


def accept(lower: str, upper: str, at: str = "viscosity_20") -> tuple[str, str]:
    return f"at: {at}\n", f"at: {at}\n  accept: {{lower: {lower}, upper: {upper}}}\n"


# By hand: 50 000 mPa·s full scale, fluid 1000 ± 10 mPa·s: 2 % torque; with ± 2 % of full scale, ± 1010.
def test_the_gel_checked_with_a_thin_fluid_cannot_fail(codes, lines, only):
    change = ("fluid: REF-30000", "fluid: REF-1000")
    assert [("VER02", lines(GEL, change, at="fluid: REF-1000"))] == codes(GEL, change)
    found = only(GEL, change)
    assert Severity.ERROR == found.severity
    for part in ("2.0 % torque", "-10 mPa·s to 2010 mPa·s", "seized instrument", "cannot fail"):
        assert part in found.message
    assert "Use REF-30000 (60.0 %)." == found.ways_out[0]
    # 20 and 95 % of 50 Pa·s
    assert "from 10 Pa·s to 47.5 Pa·s" in found.ways_out[1]


# Paint: 400 Pa·s·rpm at 20 rpm is 20 Pa·s full scale.
@pytest.mark.parametrize(
    ("fluid", "expected"),
    [
        ("REF-500", [("VER02", Severity.ERROR)]),  # 2.5 %
        ("REF-1000", [("VER02", Severity.ERROR)]),  # 5 %
        ("REF-3000", [("VER02", Severity.WARNING)]),  # 15 %
        ("REF-5000", []),  # 25 %, half of the 10 Pa·s aimed at
        ("REF-10000", []),  # 50 %
        ("REF-30000", [("VER03", Severity.ERROR)]),  # 150 %
    ],
)
def test_the_torque_of_the_fluid(fluid, expected, verification):
    changes = () if fluid == "REF-10000" else (("fluid: REF-10000", f"fluid: {fluid}"),)
    assert expected == [(d.code, d.severity) for d in verification(PAINT, *changes)]


def test_a_fluid_that_suits_another_step_is_offered_there(verification):
    # 30 Pa·s is 150 % at 20 rpm and 15 % at 2 rpm; 100 Pa·s is 500 % and 50 %.
    (found,) = verification(PAINT, ("fluid: REF-10000", "fluid: REF-100000"))
    assert "Or keep REF-100000 and check at viscosity_2, 2 rpm: 50.0 %." == found.ways_out[1]


def test_every_fluid_offered_passes(verification):
    for wrong in ("REF-500", "REF-3000", "REF-30000"):
        (found,) = verification(PAINT, ("fluid: REF-10000", f"fluid: {wrong}"))
        offered = [word for word in found.ways_out[0].split() if word.startswith("REF-")]
        assert offered
        for key in offered:
            changes = () if key == "REF-10000" else (("fluid: REF-10000", f"fluid: {key}"),)
            assert [] == verification(PAINT, *changes)


# 10 000 ± (200 + 100) mPa·s, additive, by hand.
@pytest.mark.parametrize(
    ("lower", "upper", "expected", "told"),
    [
        ("9.7 Pa·s", "10.3 Pa·s", [], None),
        ("9700 mPa·s", "10300 mPa·s", [], None),
        ("9.701 Pa·s", "10.3 Pa·s", [], None),  # 0.3 % of half the band
        ("9.702 Pa·s", "10.3 Pa·s", ["VER04"], "Sound instruments would fail."),  # 0.7 %
        ("9.5 Pa·s", "10.5 Pa·s", ["VER04"], "more than its accuracy would pass"),
        ("9.8 Pa·s", "10.2 Pa·s", ["VER04"], "Sound instruments would fail."),
        ("9.8 Pa·s", "10.4 Pa·s", ["VER04"], "It is shifted"),
        ("970 mPa·s", "1030 mPa·s", ["VER04"], None),
    ],
)
def test_the_stated_band_is_the_computed_one(lower, upper, expected, told, verification):
    found = verification(PAINT, accept(lower, upper))
    assert expected == [d.code for d in found]
    if told is not None:
        assert told in found[0].message


# √(200² + 100²) = 223.6: 9.7764 to 10.2236 Pa·s.
def test_the_band_follows_the_site_policy(root_sum_square):
    assert [] == root_sum_square(PAINT, accept("9.776 Pa·s", "10.224 Pa·s"))
    (found,) = root_sum_square(PAINT, accept("9.7 Pa·s", "10.3 Pa·s"))
    assert "VER04" == found.code
    assert "root-sum-square" in found.message


@pytest.mark.parametrize(
    ("method", "at"), [(PAINT, "viscosity_20"), (STARCH, "viscosity_50"), (GEL, "viscosity_5")]
)
def test_the_band_advised_passes(method, at, verification, root_sum_square):
    for judged in (verification, root_sum_square):
        (found,) = judged(method, accept("1 Pa·s", "90 Pa·s", at))
        lower, upper = (
            found.ways_out[0].removeprefix("Write accept: lower ").removesuffix(".").split(", upper ")
        )
        assert [] == judged(method, accept(lower, upper, at))


def test_near_enough_is_within_a_factor_of_two(verification):
    # The gel aims at 25 Pa·s, 50 Pa·s full scale; 10 Pa·s is 0.4 times that at 20.0 %.
    assert ["VER05"] == [d.code for d in verification(GEL, ("fluid: REF-30000", "fluid: REF-10000"))]
    # The cream aims at 100 Pa·s on 200; 60 Pa·s is 0.6 times that.
    found = verification(CREAM, ("fluid: REF-100000", "fluid: REF-60000"))
    assert ["VER07"] == [d.code for d in found]


def test_without_a_target_the_middle_of_the_limits_counts(verification):
    assert [] == verification(PAINT, ("target: 10.0 Pa·s, ", ""))


def test_without_limits_nearness_is_not_judged(not_judged):
    limits = "lower: 300 mPa·s, target: 400 mPa·s, upper: 500 mPa·s"
    assert 1 == len(not_judged("VER05", STARCH, (limits, "lower: 300 mPa·s, one_sided: true")))


def test_a_fluid_at_25_beside_a_product_at_38_is_right(verification):
    assert [] == verification(STARCH)
    at = ("at: viscosity_50\n", "at: viscosity_50\n  temperature: 25.0 °C ± 0.1 °C\n")
    assert [] == verification(STARCH, at)


# 13 K at 2 %/K is 26 %.
def test_a_fluid_at_the_product_s_temperature_is_wrong(verification):
    at = ("at: viscosity_50\n", "at: viscosity_50\n  temperature: 38.0 °C ± 0.1 °C\n")
    (found,) = verification(STARCH, at)
    assert "VER06" == found.code
    assert "13 K warmer" in found.message
    assert "26 % low" in found.message
    cold = ("at: viscosity_50\n", "at: viscosity_50\n  temperature: 20.0 °C ± 0.1 °C\n")
    assert "10 % high" in verification(STARCH, cold)[0].message


def test_the_cream_s_geometry_is_waived_and_is_one_finding(verification):
    (found,) = verification(CREAM)
    assert "VER07" == found.code
    assert "M. Linden" == found.waived_by
    assert "R6 instead of bar-27" in found.message


def test_a_narrower_check_container_reads_high(verification):
    (found,) = verification(PAINT, ("at: viscosity_20\n", "at: viscosity_20\n  container: beaker-250\n"))
    assert "reads high" in found.message
    assert [] == verification(
        PAINT, ("at: viscosity_20\n", "at: viscosity_20\n  container: beaker-600-low-form\n")
    )


def test_a_jar_of_the_run_belongs_to_the_container_not_to_the_check(verification):
    assert [] == verification(SAUCE, ("container: beaker-600-low-form", "container: jar-63"))


def test_the_guard_of_the_check_is_fitted_whatever_the_run_does(verification):
    assert [] == verification(SAUCE)  # run without, check with
    (found,) = verification(PAINT, ("at: viscosity_20\n", "at: viscosity_20\n  guard: not-used\n"))
    assert "VER08" == found.code
    (found,) = verification(
        SAUCE, ("at: viscosity_10\n  guard: required\n", "at: viscosity_10\n  guard: not-used\n")
    )
    assert ("verification", "guard") == found.path


def test_a_run_that_lacks_its_guard_is_not_told_twice(verification):
    assert [] == verification(STARCH, ("guard: required", "guard: not-used"))


def test_a_stronger_spring_has_no_guard_to_fit(verification):
    changes = (
        ("spring: R, ", "spring: 2R, "),
        ("guard: required", "guard: not-used"),
        ("fluid: REF-10000", "fluid: REF-30000"),
    )
    assert [] == [d for d in verification(PAINT, *changes) if d.code in ("VER07", "VER08")]


def test_a_coefficient_of_one_s_own_is_checked_as_it_was_found(verification):
    own = (
        "container: beaker-600-low-form",
        (
            "container: jar-63\n"
            "coefficient: {full_scale: 190 Pa·s·rpm, guard: not-used, container: jar-63, evidence: S-1}"
        ),
    )
    bare = ("at: viscosity_10\n  guard: required\n", "at: viscosity_10\n")
    assert [] == verification(SAUCE, own, bare)
    found = verification(SAUCE, own)
    assert ["VER07"] == [d.code for d in found]


@pytest.mark.parametrize(
    ("frequency", "expected"),
    [
        ("each working day", []),
        ("each shift, before the first sample", []),
        ("every 8 h of use", []),
        ("before each series", []),
        ("regularly", ["VER10"]),
        ("from time to time", ["VER10"]),
        ("Periodically, at least when required", ["VER10"]),
    ],
)
def test_how_often(frequency, expected, verification):
    change = ("frequency: each working day, before the first sample", f"frequency: {frequency}")
    assert expected == [d.code for d in verification(PAINT, change)]


@pytest.mark.parametrize(
    ("action", "expected"),
    [
        ("Stop, tag the instrument, look back to the last pass.", []),
        ("Do not adjust the coefficient; stop, look back to the last pass.", []),
        ("Never repeat until it passes; stop and look back to the last pass.", []),
        ("Repeat once with fresh fluid, both recorded; then stop and review earlier results.", []),
        ("Change the spindle, repeat once; assess the results since the last good check.", []),
        ("Adjust the factor and look back to the last pass.", ["VER12"]),
        ("Repeat until it passes; look back to the last pass.", ["VER12"]),
        ("Re-run the check till the band is met, look back to the last pass.", ["VER12"]),
        ("Apply a correction factor; look back to the last pass.", ["VER12"]),
        ("Multiply by the ratio of the fluid; look back to the last pass.", ["VER12"]),
        ("Stop and tag the instrument.", ["VER13"]),
        ("Adjust the coefficient.", ["VER12", "VER13"]),
    ],
)
def test_what_is_done_on_failure(action, expected, verification):
    changes = () if f"on_failure: {action}" == ACTION else ((ACTION, f'on_failure: "{action}"'),)
    assert expected == [d.code for d in verification(PAINT, *changes)]


def test_in_process_work_need_not_look_back_by_rule(verification):
    assert [] == verification(STARCH, (ACTION, "on_failure: Stop and tag the instrument."))


def test_a_missing_check_weighs_by_purpose(verification):
    text = """verification:
  fluid: REF-300
  at: viscosity_50
  frequency: each shift, before the first sample
  on_failure: Stop, tag the instrument, look back to the last pass.
"""
    (found,) = verification(STARCH, (text, ""))
    assert ("VER01", Severity.WARNING) == (found.code, found.severity)
    assert "fluid: REF-400 at: viscosity_50" in found.ways_out[0]
    assert [] == verification(STARCH, (text, ""), ("purpose: in-process", "purpose: development"))


# 2 %/K · 0.375 K · 10 Pa·s = 0.075 Pa·s, a quarter of the 0.3 Pa·s of half the band.
@pytest.mark.parametrize(
    ("tolerance", "expected"), [("0.1", []), ("0.37", []), ("0.375", []), ("0.38", ["VER14"])]
)
def test_the_fluid_s_temperature_takes_a_quarter_at_most(tolerance, expected, verification):
    at = ("at: viscosity_20\n", f"at: viscosity_20\n  temperature: 25.0 °C ± {tolerance} °C\n")
    assert expected == [d.code for d in verification(PAINT, at)]


def test_a_mineral_oil_is_answered_with_a_silicone(verification, reference):
    # REF-100 changes by 6 %/K; on R1 at 50 rpm (0.2 Pa·s full scale) it turns to 50 %.
    changes = (
        ("spindle: R2", "spindle: R1"),
        (
            "lower: 300 mPa·s, target: 400 mPa·s, upper: 500 mPa·s",
            "lower: 75 mPa·s, target: 100 mPa·s, upper: 125 mPa·s",
        ),
        ("fluid: REF-300", "fluid: REF-100"),
        ("at: viscosity_50\n", "at: viscosity_50\n  temperature: 25.0 °C ± 0.5 °C\n"),
    )
    (found,) = [d for d in verification(STARCH, *changes) if d.code == "VER14"]
    # 6 %/K · 0.5 K · 100 = 3 mPa·s of 2 + 1 = 3 mPa·s
    assert "100 % of half the acceptance band" in found.message
    assert "Hold the fluid within ± 0.1 K." == found.ways_out[0]


# What the messages and their ways out say, worked out by hand


def test_the_fluids_and_the_window_are_named_with_their_torque(verification):
    # 10 and 5 Pa·s of 20 Pa·s; 20 % and 95 % of it
    (found,) = verification(PAINT, ("fluid: REF-10000", "fluid: REF-1000"))
    assert "any torque from 4.0 % to 6.0 % passes" in found.message
    assert "Use REF-10000 (50.0 %) or REF-5000 (25.0 %)." == found.ways_out[0]
    assert (
        "Or use a certified fluid from 4 Pa·s to 19 Pa·s: 20 to 95 % torque at 20 rpm." == found.ways_out[1]
    )


@pytest.mark.parametrize(
    ("target", "ratio", "expected"),
    # 10 Pa·s over what is aimed at; 50 Pa·s full scale
    [("25.0", "0.4 times the 25 Pa·s", "50.0 %"), ("22.0", "0.45 times the 22 Pa·s", "44.0 %")],
)
def test_where_on_the_scale_the_product_reads(target, ratio, expected, verification):
    changes = [("fluid: REF-30000", "fluid: REF-10000")]
    if target != "25.0":
        changes.append(("target: 25.0 Pa·s", f"target: {target} Pa·s"))
    (found,) = verification(GEL, *changes)
    assert ratio in found.message
    assert f"The scale is checked at 20.0 % and used near {expected}." in found.message


def test_a_check_that_says_nothing_of_the_guard_points_to_that_of_the_run(verification):
    (said,) = verification(PAINT, ("at: viscosity_20\n", "at: viscosity_20\n  guard: not-used\n"))
    assert () == said.related
    (unsaid,) = verification(SAUCE, ("at: viscosity_10\n  guard: required\n", "at: viscosity_10\n"))
    assert ("verification", "fluid") == unsaid.path
    assert ["guard: not-used in the run"] == [r.note for r in unsaid.related]


def test_a_steadier_fluid_of_the_laboratory_is_offered(verification):
    # 400 mPa·s full scale; 6 %/K · 0.5 K of 100 mPa·s are 3 of 4 + 1 mPa·s; REF-300 turns to 75 %
    changes = (
        ("speed: 50 rpm", "speed: 100 rpm"),
        (
            "lower: 300 mPa·s, target: 400 mPa·s, upper: 500 mPa·s",
            "lower: 100 mPa·s, target: 150 mPa·s, upper: 200 mPa·s",
        ),
        ("fluid: REF-300", "fluid: REF-100"),
        ("at: viscosity_50\n", "at: viscosity_50\n  temperature: 25.0 °C ± 0.5 °C\n"),
    )
    (found,) = [d for d in verification(STARCH, *changes) if d.code == "VER14"]
    assert "± 0.5 K takes 60 % of half the acceptance band" in found.message
    assert "Hold the fluid within ± 0.2 K." == found.ways_out[0]
    assert "Or use REF-300, which changes by 2 %/K (75.0 % torque)." == found.ways_out[1]
