"""Critical ranges and what follows for a method."""

import numpy as np
import pytest
from scipy import stats

from fillmark.pipeline import compile_method
from fillmark.studies import NoStudyError
from fillmark.studies.ranges import columns, study
from fillmark.studies.writing import put_in

DATA = "laboratory,value [Pa·s]\n" + "\n".join(
    f"{name},{value}"
    for name, values in {
        "A": (10.02, 10.31, 10.21), "B": (9.84, 10.12, 10.05), "C": (10.08, 10.32, 9.97), "D": (9.81, 9.98, 10.23),
        "E": (10.14, 9.93, 10.25), "F": (9.86, 10.17, 10.06),
    }.items()
    for value in values
)  # fmt: skip


@pytest.fixture
def made(table_of, reference, compiled):
    def make(text=DATA, *, changes=None, **more):
        method = None if changes is None else compiled("MCW-VIS-014", *changes).method
        table = table_of(text, columns(["laboratory"]))
        return study(table, reference.policy, method, "2026-11-25", by=["laboratory"], **more)

    return make


def test_factors_and_ranges_by_number(made, number):
    outcome = made()
    s_r = number(outcome, "repeatability_sd")
    rows = {int(row[0]): row for row in outcome.grids[0].rows}
    # scipy's studentized range; ISO 5725-6 prints 2.8, 3.3, 3.6 ... (from memory).
    for n in (2, 3, 4, 10, 20):
        assert stats.studentized_range.ppf(0.95, n, float("inf")) == pytest.approx(rows[n][1], rel=1e-5)
        assert rows[n][1] * s_r == pytest.approx(rows[n][2])
    assert stats.studentized_range.ppf(0.95, 3, 12) == pytest.approx(rows[3][4], rel=1e-4)
    # One side, 95 %: 1.645 standard deviations of the mean of four.
    assert 1.6449 * s_r / 2 == pytest.approx(rows[4][7], rel=1e-4)


def test_the_range_of_the_method_is_proposed_in_its_own_unit(made, number):
    outcome = made(changes=())
    repeatability, proposal = outcome.proposals
    assert (("replicates", "repeatability"), ("replicates", "agree_within")) == (
        repeatability.path,
        proposal.path,
    )
    # By hand: s_r is 1.67 % of 10.075, written 1.7 %; 2.772 times that is 4.71 % or 0.475 Pa·s, rounded up.
    groups = [
        [float(line.split(",")[1]) for line in DATA.splitlines()[1:] if line[0] == name] for name in "ABCDEF"
    ]
    expected = 100 * np.sqrt(np.mean([np.var(g, ddof=1) for g in groups])) / np.mean(groups)
    assert expected == pytest.approx(number(outcome, "repeatability_percent"))
    assert ("1.7 %", "0.48 Pa·s") == (repeatability.text, proposal.text)


def test_what_is_written_into_the_method_agrees_with_itself(made, edited, reference):
    outcome = made(changes=[("status: released", "status: draft")])
    draft = compile_method(
        edited("MCW-VIS-014", ("status: released", "status: draft")), "paint.yaml", reference
    )
    assert () == put_in(draft, outcome, reference, None).after.diagnostics


def test_a_range_in_percent_stays_in_percent(made, number):
    outcome = made(changes=[("agree_within: 0.5 Pa·s", "agree_within: 5 %")])
    # By hand: 2.772 · 1.7 % = 4.71 %, rounded up.
    assert "4.8 %" == outcome.proposals[1].text


@pytest.mark.parametrize(("agree", "said"), [("0.15 Pa·s", "of good sets fail"), ("2 Pa·s", "do not agree")])
def test_a_range_too_tight_or_too_loose_is_told(made, codes, agree, said):
    outcome = made(changes=[("agree_within: 0.5 Pa·s", f"agree_within: {agree}")])
    assert ["STU19"] == [c for c in codes(outcome) if c == "STU19"]
    [d] = [d for d in outcome.diagnostics if d.code == "STU19"]
    assert said in d.message


def test_data_outside_the_specification_are_told(made, codes):
    far = DATA.replace("[Pa·s]", "[mPa·s]")
    assert "STU35" in codes(made(far, changes=()))
    assert "STU35" not in codes(made(changes=()))


def test_one_result_has_no_range(made, reference):
    outcome = made(changes=[("  count: 2\n", "  count: 1\n")])
    assert () == outcome.proposals


def test_each_material_has_its_own(made):
    with pytest.raises(NoStudyError, match="ranges of its own"):
        made("material,laboratory,value\nX,A,1.01\nX,A,1.02\nY,A,2.01\nY,A,2.02\n")


def test_nothing_that_scatters_has_no_range(made):
    with pytest.raises(NoStudyError, match="Nothing scatters"):
        made("laboratory,value\nA,1.0\nA,1.0\n")
