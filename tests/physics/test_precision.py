"""Repeatability and reproducibility: published values of an open data set, scipy, exact sums, simulation."""

import csv
import math
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fillmark.physics import precision as p

DATA = Path(__file__).parents[1] / "studies" / "data" / "e691-glucose.csv"


def glucose(material: str, *, mended: bool = False) -> list[list[float]]:
    """Give the results of the eight laboratories; `mended` puts 138.30 for the 148.30 that looks like a slip."""
    groups: dict[str, list[float]] = {}
    for row in csv.DictReader(line for line in DATA.read_text().splitlines() if not line.startswith("#")):
        if row["material"] == material:
            value = row["value [mg/dL]"]
            value = "138.30" if mended and value == "148.30" else value
            groups.setdefault(row["laboratory"], []).append(float(value))
    return list(groups.values())


# ASTM E691-99, table 1, from NIST's Dataplot (GLUCOSE.DAT). The statistics were computed from the file apart from
# this program, and are once more here with numpy. The precision of C is as recalled from the standard (s_r 1.5434,
# s_R 2.1482) and comes out of the mended cell alone.
@pytest.mark.parametrize(
    ("material", "mended", "mean", "sx", "sr", "sR"),
    [
        ("A", False, 41.5183, 0.6061, 1.0632, 1.0632),
        ("B", False, 79.6796, 1.0028, 1.4949, 1.5796),
        ("C", False, 135.1429, 2.6559, 2.7483, 3.4770),
        ("C", True, 134.7262, 1.7397, 1.5434, 2.1482),
        ("D", False, 194.7171, 2.5950, 2.6251, 3.3657),
        ("E", False, 294.4921, 2.6931, 3.9350, 4.1923),
    ],
)
def test_glucose_in_serum(material, mended, mean, sx, sr, sR):
    found = p.precision(groups=glucose(material, mended=mended))
    actual = (found.mean, found.sd_of_means, found.repeatability_sd, found.reproducibility_sd)
    assert (mean, sx, sr, sR) == pytest.approx(actual, abs=5.1e-5)
    cells = np.array(glucose(material, mended=mended))
    s_x, s_r = cells.mean(axis=1).std(ddof=1), np.sqrt(cells.var(axis=1, ddof=1).mean())
    s_R = max(np.sqrt(s_x**2 + s_r**2 * 2 / 3), s_r)
    assert (cells.mean(), s_x, s_r, s_R) == pytest.approx(actual)
    assert (material == "A") == found.floored
    assert (8, 24, True, 16, 7) == (
        found.groups,
        found.results,
        found.balanced,
        found.within_degrees,
        found.between_degrees,
    )


def test_h_and_k_of_the_glucose_data():
    # From the same computation as above.
    a = [p.cell(values=g) for g in glucose("A")]
    e = [p.cell(values=g) for g in glucose("E")]
    h = p.between_statistics(means=[c.mean for c in a])
    assert [-0.39, -0.13, -0.11, -0.10, -0.09, 0.83, -1.75, 1.75] == [round(v, 2) for v in h]
    assert [0.18, 2.33, 0.69, 0.22, 0.24, 1.03, 0.84, 0.42] == [
        round(k, 2) for k in p.within_statistics(cells=e)
    ]
    assert 2.41 == round(p.within_statistics(cells=[p.cell(values=g) for g in glucose("C")])[3], 2)


# scipy's one-way analysis of variance, and the ANOVA estimators worked out with numpy.
@given(
    st.lists(st.lists(st.floats(-1000, 1000), min_size=1, max_size=6), min_size=2, max_size=8).filter(
        lambda groups: any(len(set(g)) > 1 for g in groups) and np.ptp(np.concatenate(groups)) > 1e-3
    )
)
def test_unbalanced_groups_against_scipy_and_numpy(groups):
    found = p.precision(groups=groups)
    sizes = np.array([len(g) for g in groups])
    within = sum(((np.array(g) - np.mean(g)) ** 2).sum() for g in groups) / (sizes.sum() - len(groups))
    everything = np.concatenate(groups)
    between = sum(n * (np.mean(g) - everything.mean()) ** 2 for n, g in zip(sizes, groups, strict=True)) / (
        len(groups) - 1
    )
    weight = (sizes.sum() - (sizes**2).sum() / sizes.sum()) / (len(groups) - 1)
    assert math.sqrt(within) == pytest.approx(found.repeatability_sd, rel=1e-9, abs=1e-9)
    assert math.sqrt(max(0, (between - within) / weight)) == pytest.approx(
        found.between_sd, rel=1e-5, abs=1e-5
    )
    if within > 1e-6:
        result = stats.f_oneway(*groups)
        assert result.statistic == pytest.approx(found.f, rel=1e-6, abs=1e-9)
        # Where the means are equal scipy's F may come out just below 0, which has no probability.
        if result.statistic > 1e-9:
            assert result.pvalue == pytest.approx(found.probability, rel=1e-6, abs=1e-9)


def test_groups_of_one_size_give_what_e691_gives():
    # s_R² = s_x² + s_r²·(n − 1)/n (ASTM E691, from memory), by hand on the data of D.
    groups = glucose("D")
    found = p.precision(groups=groups)
    assert math.sqrt(found.sd_of_means**2 + found.repeatability_sd**2 * 2 / 3) == pytest.approx(
        found.reproducibility_sd
    )


def test_nothing_is_lost_where_values_share_many_digits():
    # Exact sums of whole numbers, as fractions.
    groups = [[10**12 + v for v in g] for g in ([3, 4, 5], [4, 4, 7], [2, 5, 6])]
    within = sum((Fraction(v) - Fraction(sum(g), 3)) ** 2 for g in groups for v in g) / 6
    assert math.sqrt(within) == pytest.approx(p.precision(groups=groups).repeatability_sd, rel=1e-12)


def test_limits_of_consistency():
    # The limit of k as E691 has it, from scipy's F (form from memory), and that of h by its exact distribution:
    # h²·p/(p − 1)² is a beta variable of 1/2 and (p − 2)/2.
    for groups, n in ((6, 2), (8, 3), (30, 4)):
        f = stats.f.isf(0.005, n - 1, (groups - 1) * (n - 1))
        expected = math.sqrt(groups * f / (f + groups - 1))
        assert expected == pytest.approx(
            p.within_limit(degrees=n - 1, all_degrees=groups * (n - 1), upper=0.005)
        )
        b = stats.beta.isf(0.005, 0.5, (groups - 2) / 2)
        assert math.sqrt(b) * (groups - 1) / math.sqrt(groups) == pytest.approx(
            p.between_limit(groups=groups, upper=0.005)
        )


def test_the_limits_hold_in_as_many_cases_as_they_say():
    # 40 000 draws of unequal groups alike; within four standard deviations of the share.
    draw = np.random.default_rng(7)
    sizes = (2, 3, 3, 5)
    squares = np.stack([draw.chisquare(n - 1, 40_000) for n in sizes])
    pooled = squares.sum(axis=0) / sum(n - 1 for n in sizes)
    for i, n in enumerate(sizes):
        limit = p.within_limit(degrees=n - 1, all_degrees=sum(m - 1 for m in sizes), upper=0.05)
        share = (np.sqrt(squares[i] / (n - 1) / pooled) > limit).mean()
        assert 0.05 == pytest.approx(share, abs=4 * math.sqrt(0.05 * 0.95 / 40_000))


def test_the_tests_of_outliers_err_as_often_as_they_say():
    # A test at 5 % may call at most 5 % of sets of groups alike wrong; Bonferroni's bound is nearly exact here.
    draw = np.random.default_rng(11)
    cochran = grubbs = 0
    for _ in range(2000):
        cells = [p.cell(values=g) for g in draw.normal(size=(8, 3)).tolist()]
        cochran += p.largest_variance_probability(cells=cells)[1] < 0.05
        grubbs += p.extreme_mean_probability(means=[c.mean for c in cells])[1] < 0.05
    bound = 4 * math.sqrt(0.05 * 0.95 / 2000)
    assert 0.05 == pytest.approx(cochran / 2000, abs=bound)
    assert 0.05 == pytest.approx(grubbs / 2000, abs=bound)


# Critical values as ISO 5725-2 tabulates them (from memory): Cochran n = 3, p = 8: 0.516 (5 %), 0.615 (1 %);
# Grubbs p = 8, either side: 2.126 (5 %), 2.274 (1 %).
@pytest.mark.parametrize(("share", "upper"), [(0.516, 0.05), (0.615, 0.01)])
def test_cochran_at_its_tabulated_value(share, upper):
    rest = math.sqrt((1 - share) / share / 7)
    cells = [p.Cell(3, 0.0, 1.0)] + [p.Cell(3, 0.0, rest)] * 7
    assert (0, pytest.approx(upper, rel=0.02)) == p.largest_variance_probability(cells=cells)


@pytest.mark.parametrize(("limit", "upper"), [(2.126, 0.05), (2.274, 0.01)])
def test_grubbs_at_its_tabulated_value(limit, upper):
    # Six means at one place and two at equal distances would not give it: put one out until G is the limit.
    others = [0.0, 0.1, -0.1, 0.2, -0.2, 0.3, -0.3]
    low, high = 0.3, 100.0
    for _ in range(80):
        middle = (low + high) / 2
        h = p.between_statistics(means=[*others, middle])[-1]
        low, high = (middle, high) if h < limit else (low, middle)
    assert (7, pytest.approx(upper, rel=0.02)) == p.extreme_mean_probability(means=[*others, high])


def test_interval_of_a_standard_deviation():
    # scipy's chi-square.
    low, high = p.sd_interval(sd=2.0, degrees=7)
    assert 2 * math.sqrt(7 / stats.chi2.ppf(0.975, 7)) == pytest.approx(low)
    assert 2 * math.sqrt(7 / stats.chi2.ppf(0.025, 7)) == pytest.approx(high)


def test_ties_and_nothing_that_scatters():
    found = p.precision(groups=[[1, 1], [1, 1]])
    assert (0.0, 0.0, 1.0, 0.0) == (found.repeatability_sd, found.between_sd, found.probability, found.f)
    apart = p.precision(groups=[[1, 1], [2, 2]])
    assert (math.inf, 0.0) == (apart.f, apart.probability)
    assert (0.0, 0.0) == p.within_statistics(cells=[p.Cell(2, 1, 0.0), p.Cell(2, 1, 0.0)])
    assert (0.0, 0.0, 0.0) == p.between_statistics(means=[1, 1, 1])
    assert None is p.largest_variance_probability(cells=[p.Cell(2, 1, 0.0)] * 3)
    assert None is p.extreme_mean_probability(means=[1, 1, 1])
    assert None is p.extreme_mean_probability(means=[1, 2])


@pytest.mark.parametrize(
    "refused",
    [
        lambda: p.precision(groups=[[1, 2]]),
        lambda: p.precision(groups=[[1], [2]]),
        lambda: p.cell(values=[]),
        lambda: p.cell(values=[math.nan]),
        lambda: p.between_statistics(means=[1, 2]),
        lambda: p.between_limit(groups=2, upper=0.05),
        lambda: p.within_limit(degrees=3, all_degrees=3, upper=0.05),
        lambda: p.within_statistics(cells=[p.Cell(1, 1, None)]),
    ],
)
def test_too_few_data_are_refused(refused):
    with pytest.raises(ValueError, match=r"need|takes|judged|no group"):
        refused()


@pytest.mark.parametrize("constant", [0.0, 1e6, 1e9])
def test_results_that_share_their_leading_digits(constant):
    # NIST StRD, SmLs01, SmLs04 and their kin, as remembered: 9 groups of 21 with means 0.1 off, each value off by
    # 0.1 again. By hand: 0.21 between, 0.01 within, F 21.
    levels = (0.4, *(0.3, 0.5) * 4)
    groups = [[constant + level, *(constant + level + d for d in (-0.1, 0.1) * 10)] for level in levels]
    found = p.precision(groups=groups)
    assert 21 == pytest.approx(found.f, rel=2e-5)
    assert 0.1 == pytest.approx(found.repeatability_sd, rel=1e-5)


def test_means_that_differ_in_the_last_digits_only():
    groups = [[1e9 + 0.0011, 1e9 + 0.0029], [1e9 + 0.0021, 1e9 + 0.0042, 1e9 + 0.0007]]
    exact = [[Fraction(v) for v in g] for g in groups]
    means = [sum(g) / len(g) for g in exact]
    grand = sum(sum(g) for g in exact) / 5
    within = sum((v - m) ** 2 for g, m in zip(exact, means, strict=True) for v in g) / 3
    between = sum(len(g) * (m - grand) ** 2 for g, m in zip(exact, means, strict=True))
    # Of means rounded first, 1e-7 of 1e9, F would be off by a part in ten thousand.
    assert float(between / within) == pytest.approx(p.precision(groups=groups).f, rel=1e-9)
