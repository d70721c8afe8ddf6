"""Each rule on replicates and uncertainty, just inside and just outside."""

import numpy as np
import pytest
from scipy.stats import studentized_range

from fillmark.diagnostics import Severity
from fillmark.physics.statistics import range_exceeded

CREAM, SAUCE, PAINT, STARCH, GEL = "LMT-VIS-021", "TGF-VIS-003", "MCW-VIS-014", "BBM-VIS-007", "QAP-VIS-002"
OTHERWISE = "otherwise: Repeat the pair once on new loadings; report all four."


def found_codes(compiled, method, *changes):
    return [d.code for d in compiled(method, *changes).diagnostics if d.waived_by is None]


# Two readings differ by 2.77 times s_r one time in twenty (ISO 5725-6); the limits leave 30 %, so that
# s_r may be 3.61 %.
@pytest.mark.parametrize(("repeatability", "expected"), [("3.6 %", False), ("3.7 %", True)])
def test_one_reading_does_where_it_says_enough(repeatability, expected, compiled):
    changes = (("count: 3", "count: 1"), ("repeatability: 4.0 %", f"repeatability: {repeatability}"))
    assert expected == ("REP01" in found_codes(compiled, CREAM, *changes))


def test_one_reading_without_a_repeatability_says_nothing(compiled):
    changes = (("count: 3", "count: 1"), ("  repeatability: 4.0 %\n", ""))
    assert "REP01" in found_codes(compiled, CREAM, *changes)


def test_one_reading_does_in_process(compiled):
    assert [] == found_codes(compiled, STARCH)
    changes = (("repeatability: 1.5 %, ", ""), ("purpose: in-process", "purpose: release"))
    assert "REP01" in found_codes(compiled, STARCH, *changes)
    assert "REP01" not in found_codes(compiled, STARCH, changes[0])


@pytest.mark.parametrize(
    ("right", "missing"),
    [
        (f"  {OTHERWISE}\n", "otherwise is missing"),
        ("  agree_within: 0.5 Pa·s\n", "agree_within is missing"),
        (f"  agree_within: 0.5 Pa·s\n  {OTHERWISE}\n", "agree_within and otherwise are missing"),
    ],
)
def test_several_results_need_a_limit_and_an_action(right, missing, only):
    found = only(PAINT, (right, ""))
    assert "REP02" == found.code
    assert missing in found.message
    assert "4.16 % of the mean" in found.ways_out[0]


# Paint: 2.77 · 1.5 % of 10 Pa·s is 0.4155 Pa·s. Cream: 3.31 · 4 % is 13.24 %, twice that 26.48 %.
# Gel: a step of 0.1 % and a scatter of 0.2 % of 50 Pa·s make 0.15 Pa·s.
@pytest.mark.parametrize(
    ("method", "right", "wrong", "expected"),
    [
        (PAINT, "0.5 Pa·s", "0.42 Pa·s", []),
        (PAINT, "0.5 Pa·s", "0.41 Pa·s", ["REP03"]),
        (CREAM, "15 %", "26.4 %", []),
        (CREAM, "15 %", "26.5 %", ["REP04"]),
        (CREAM, "15 %", "13.3 %", []),
        (CREAM, "15 %", "13.2 %", ["REP03"]),
        (GEL, "1.8 Pa·s", "0.15 Pa·s", ["REP03"]),
        (GEL, "1.8 Pa·s", "0.149 Pa·s", ["REP05"]),
    ],
)
def test_the_agreement_limit(method, right, wrong, expected, compiled):
    assert expected == found_codes(compiled, method, (f"agree_within: {right}", f"agree_within: {wrong}"))


def test_without_a_repeatability_agreement_is_not_judged(not_judged):
    reasons = not_judged("REP03", PAINT, ("  repeatability: 1.5 %\n", ""))
    assert ["the repeatability is not given, so the agreement limit cannot be judged"] == reasons


@pytest.mark.parametrize("n", [2, 3, 6, 10])
@pytest.mark.parametrize("w", [0.2, 1.0, 2.77, 4.5])
def test_how_many_good_sets_fail(n, w):
    assert 1 - studentized_range.cdf(w, n, np.inf) == pytest.approx(
        range_exceeded(n=n, range_over_sd=w), abs=1e-6
    )


def test_the_share_of_good_sets_that_fail_is_told(only):
    # 0.2 Pa·s of 10 Pa·s at 1.5 %: a range of 1.333 standard deviations.
    share = 100 * (1 - studentized_range.cdf(0.2 / 0.15, 2, np.inf))
    assert 35 == round(share)
    assert "About 35 % of good sets of 2" in only(PAINT, ("0.5 Pa·s", "0.2 Pa·s")).message


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Run a third loading and take the best two of three.", ["REP06"]),
        ("Run a third; discard the highest.", ["REP06"]),
        ("Run a third and ignore the lowest result.", ["REP06"]),
        ("Run two more, drop any outlier, report the mean.", ["REP06"]),
        ("Run a third; average the closest two.", ["REP06"]),
        ("Repeat the pair once; discard nothing; report all four.", []),
        ("Repeat the pair once; never drop a result.", []),
        ("Repeat the pair; discard the sample and draw a new one.", []),
    ],
)
def test_no_replicate_goes_for_its_value(text, expected, compiled):
    assert expected == found_codes(compiled, PAINT, (OTHERWISE, f"otherwise: {text}"))


def test_a_note_that_drops_a_replicate_is_found_too(codes, lines):
    change = ("    The guard belongs to", "    Leave out the odd reading. The guard belongs to")
    assert [("REP06", lines(PAINT, change, at="why:"))] == codes(PAINT, change)


# Starch, by hand: u_I 4.619 and u_T 6.928 mPa·s. U = 33.3 (ratio 3) at u_r = 14.43 mPa·s, which is 3.61
# %; U = 50 (ratio 2) at 5.89 %.
@pytest.mark.parametrize(
    ("repeatability", "expected"),
    [
        ("3.6 %", []),
        ("3.7 %", [("REP07", Severity.WARNING)]),
        ("5.8 %", [("REP07", Severity.WARNING)]),
        ("6.0 %", [("REP07", Severity.ERROR)]),
    ],
)
def test_the_uncertainty_against_the_specification(repeatability, expected, compiled):
    change = ("repeatability: 1.5 %", f"repeatability: {repeatability}")
    assert expected == [(d.code, d.severity) for d in compiled(STARCH, change).diagnostics]


# Catalogue: 400 Pa·s·rpm at 20 rpm, 8 to 12 Pa·s, 2 %/K, ± 0.5 K, 1.5 %, n = 2: U = 0.334 Pa·s, ratio 6.0.
def test_the_uncertainty_of_the_paint(compiled):
    figures = compiled(PAINT).figures
    names = ("u_instrument", "u_temperature", "u_repeatability", "uncertainty")
    actual = [figures[f"run.viscosity_20.{n}"].value for n in names]
    assert [0.115, 0.058, 0.106, 0.334] == pytest.approx(actual, abs=6e-4)
    assert 6.0 == pytest.approx(figures["run.viscosity_20.uncertainty_ratio"].value, abs=0.05)


def test_a_wide_instrument_is_one_finding_not_two(compiled):
    change = ("stand: fine-height}", "stand: fine-height, accuracy: 4 % of full scale}")
    figures = compiled(SAUCE, change).figures
    assert 3 > figures["run.viscosity_10.uncertainty_ratio"].value
    assert ["TRQ07"] == found_codes(compiled, SAUCE, change)


def test_the_honest_ratio_of_the_gel_is_silent(compiled):
    figures = compiled(GEL).figures
    assert 3.87 == pytest.approx(figures["run.viscosity_5.uncertainty_ratio"].value, abs=0.005)
    assert [] == found_codes(compiled, GEL)


def test_what_the_uncertainty_lacks_is_told(not_judged):
    reasons = not_judged("REP07", STARCH, ("repeatability: 1.5 %, ", ""))
    assert ["the uncertainty of viscosity_50: the repeatability is not given"] == reasons


@pytest.mark.parametrize(
    ("purpose", "severity"), [("in-process", Severity.ADVICE), ("release", Severity.WARNING)]
)
def test_a_decision_rule_weighs_by_the_purpose(purpose, severity, compiled):
    changes = ((", decision_rule: simple}", "}"), ("purpose: in-process", f"purpose: {purpose}"))
    found = [d.severity for d in compiled(STARCH, *changes).diagnostics if d.code == "REP08"]
    assert [severity] == found


def test_a_standard_deviation_of_two(codes, lines, compiled):
    change = (OTHERWISE, "otherwise: If the RSD is high, repeat the pair once; report all four.")
    assert [("REP09", lines(PAINT, change, at="otherwise:"))] == codes(PAINT, change)
    more = ("count: 2", "count: 6")
    assert "REP09" not in found_codes(compiled, PAINT, change, more)


# What the messages and their ways out say, worked out by hand


def test_how_far_one_reading_is_from_enough(compiled):
    # 2.77 · 4 % = 11.1 %; the limits leave 30 %, 2.7 times that
    found = compiled(CREAM, ("count: 3", "count: 1")).diagnostics
    (one,) = [d for d in found if d.code == "REP01"]
    assert "may differ by 11.1 % (4.0 % repeatability) and the limits leave ± 30 %, 2.7 times" in one.message


def test_what_an_agreement_too_tight_could_be(only):
    # 2.77 · 1.5 % is 4.155 % of 10 Pa·s; 0.2 Pa·s is 2 %, 52 % tighter; 1.5 % · 2 / 4.155 = 0.72 %
    one = only(PAINT, ("0.5 Pa·s", "0.2 Pa·s"))
    assert "0.2 Pa·s (2 %) is 52 % tighter than the 4.16 %" in one.message
    assert "Write agree_within: 0.42 Pa·s." == one.ways_out[0]
    assert "Or show a repeatability of 0.72 % or better by a study." == one.ways_out[1]
    # in percent as the method writes it: 3.31 · 4 % = 13.24 %, up to two digits
    assert "Write agree_within: 14 %." == only(CREAM, ("agree_within: 15 %", "agree_within: 8 %")).ways_out[0]


def test_what_an_agreement_too_loose_could_be(only):
    # 30 % is 7.2 times 4.155 %; half of it reaches the mean of two; the readout takes only 0.3 % of 20 Pa·s
    one = only(PAINT, ("0.5 Pa·s", "3 Pa·s"))
    assert "3 Pa·s (30 %) is 7.2 times the 4.16 %" in one.message
    assert "the mean reads 15 % high or low" in one.message
    assert "Write agree_within: 0.42 Pa·s." == one.ways_out[0]
    assert one.ways_out[1].endswith("if it is nearer to 11 %.")


def test_what_the_readout_can_hold(only):
    # A dial of 20 Pa·s: (0.5 + 0.2) % are 0.14 Pa·s, more than 0.1; good pairs want 2.77 · 2.5 % of 9 Pa·s.
    change = ("agree_within: 0.65 Pa·s", "agree_within: 0.1 Pa·s")
    one = only(SAUCE, ("readout: digital", "readout: dial"), change)
    assert "REP05" == one.code
    assert "0.1 Pa·s is 0.50 % of full scale (20 Pa·s)" in one.message
    assert "take 0.140 Pa·s" in one.message
    assert "Write agree_within: 0.63 Pa·s." == one.ways_out[0]
    # 20 · 0.1 / 0.14
    assert one.ways_out[1].endswith("in a range of 14.3 Pa·s or less.")


def test_where_the_readout_holds_less_than_good_pairs_it_sets_the_agreement(only):
    # 0.7 % of 20 Pa·s are 0.14 Pa·s; 2.77 · 0.3 % of 9 Pa·s only 0.075.
    changes = (("readout: digital", "readout: dial"), ("repeatability: 2.5 %", "repeatability: 0.3 %"))
    one = only(SAUCE, *changes, ("agree_within: 0.65 Pa·s", "agree_within: 0.1 Pa·s"))
    assert ("REP05", "Write agree_within: 0.14 Pa·s.") == (one.code, one.ways_out[0])


def test_the_whole_set_is_repeated_and_reported(only):
    one = only(PAINT, (OTHERWISE, "otherwise: Run a third; discard the highest."))
    assert "Repeat the whole set once and report all 4." == one.ways_out[0]


@pytest.mark.parametrize(
    ("repeatability", "loadings"),
    [
        # U ≤ 2/3 Pa·s leaves 1/9 - 0.1155² - 0.0779² = 0.0917 for u_r²: 0.54² / 0.0917 = 3.2, 0.9² / 0.0917 = 8.8
        ("6 %", "take 4 loadings, or load more evenly"),
        ("10 %", "take 9 loadings, or load more evenly"),
        ("11 %", "load more evenly, and find out"),  # 10.7
    ],
)
def test_how_many_loadings_would_do(repeatability, loadings, compiled):
    changes = (("repeatability: 2.5 %", f"repeatability: {repeatability}"),)
    found = [d for d in compiled(SAUCE, *changes).diagnostics if d.code == "REP07"]
    assert f"Work on the repeatability, the largest part: {loadings}" in found[0].ways_out[0]


def test_the_bound_of_a_one_sided_limit_is_named(compiled):
    limits = "lower: 300 mPa·s, target: 400 mPa·s, upper: 500 mPa·s, decision_rule: simple"
    found = compiled(STARCH, (limits, "lower: 300 mPa·s, one_sided: true")).diagnostics
    (one,) = [d for d in found if d.code == "REP08"]
    assert "whether a result at 300 mPa·s passes" in one.message
