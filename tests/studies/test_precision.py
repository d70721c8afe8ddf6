"""Precision studies, on published data and on data made to show one thing."""

import math

import numpy as np
import pytest

from fillmark.diagnostics import Severity
from fillmark.studies import NoStudyError
from fillmark.studies.precision import columns, likely_slip, study

LABS = ["laboratory"]


@pytest.fixture
def made(table_of, reference, compiled):
    def make(text, *, by=LABS, material=None, method=None):
        m = None if method is None else compiled(method).method
        return study(table_of(text, columns(by)), reference.policy, m, "2026-11-25", by=by, material=material)

    return make


def csv_of(groups, unit="Pa·s", head="laboratory"):
    rows = [f"{name},{value}" for name, values in groups.items() for value in values]
    return f"{head},value [{unit}]\n" + "\n".join(rows) + "\n"


SIX = {
    "A": (10.02, 10.11, 10.21), "B": (9.94, 10.12, 10.05), "C": (10.08, 10.22, 9.97), "D": (9.91, 9.98, 10.13),
    "E": (10.14, 10.03, 10.25), "F": (9.96, 10.17, 10.06),
}  # fmt: skip


# The values stand with their source in tests/physics/test_precision.py; here they come through a file.
def test_the_glucose_data_through_a_file(made, glucose, number, codes):
    outcome = made(glucose)
    assert 120 == outcome.used
    for material, sr, sR in (("A", 1.0632, 1.0632), ("C", 2.7483, 3.4770), ("E", 3.9350, 4.1923)):
        assert sr == pytest.approx(number(outcome, f"{material}.repeatability_sd"), abs=5e-5)
        assert sR == pytest.approx(number(outcome, f"{material}.reproducibility_sd"), abs=5e-5)
    # r = 2.98 for A and 11.02 for E, R = 11.74 for E, from the same computation.
    assert 2.98 == round(number(outcome, "A.repeatability_limit"), 2)
    assert (11.02, 11.74) == (
        round(number(outcome, "E.repeatability_limit"), 2),
        round(number(outcome, "E.reproducibility_limit"), 2),
    )
    # k = 2.41 and 2.33 are the two beyond the limit of 2.06; A has its s_R at the floor.
    assert ["STU18", "STU15", "STU16", "STU15"] == codes(outcome)
    assert "apart" == outcome.verdict


def test_the_cell_that_looks_like_a_slip_is_found_and_kept(made, glucose):
    outcome = made(glucose, material="C")
    [slip] = [d for d in outcome.diagnostics if d.code == "STU16"]
    assert "148.30 of 4 (C) would fit its group if it were 138.30." == slip.message
    assert 24 == outcome.used
    line = outcome.table.lines[slip.span.line - 1]
    assert "148.30" == line[slip.span.column - 1 : slip.span.end_column - 1]


def test_a_method_gets_its_repeatability_with_evidence(made):
    outcome = made(csv_of(SIX), method="MCW-VIS-014")
    [proposal] = outcome.proposals
    # Groups of one size: the root of the mean variance, with numpy.
    relative = np.sqrt(np.mean([np.var(v, ddof=1) for v in SIX.values()])) / np.mean(list(SIX.values()))
    assert (("replicates", "repeatability"), f"{100 * relative:.1f} %") == (proposal.path, proposal.text)
    assert outcome.table.digest[:16] in proposal.evidence
    assert "6 groups, 18 results, 12 degrees of freedom" in proposal.evidence


def test_a_stated_repeatability_beyond_the_interval_is_told(made, codes):
    wild = {name: [10 + 8 * (v - 10) for v in values] for name, values in SIX.items()}
    outcome = made(csv_of(wild), method="MCW-VIS-014")
    assert "STU19" in codes(outcome)
    [d] = [d for d in outcome.diagnostics if d.code == "STU19"]
    assert "states a repeatability of 1.5 %; the data say 8.1 %" in d.message
    assert "STU19" not in codes(made(csv_of(SIX), method="MCW-VIS-014"))


@pytest.mark.parametrize("head", ["laboratory,value\n", "laboratory,value [mg/dL]\n"])
def test_what_is_no_viscosity_goes_into_no_method(made, head):
    text = head + csv_of(SIX).split("\n", 1)[1]
    outcome = made(text, method="MCW-VIS-014")
    assert () == outcome.proposals
    assert any("names no unit of viscosity" in point for point in outcome.points)


def test_several_materials_are_not_mixed_into_one_method(made, glucose):
    outcome = made(glucose.replace("mg/dL]", "Pa·s]"), method="MCW-VIS-014")
    assert () == outcome.proposals
    assert any("--material" in point for point in outcome.points)


def test_groups_of_operators_and_days(made, number):
    text = "operator,day,value\n" + "\n".join(
        f"{o},{d},{10 + 0.1 * i + shift:.2f}"
        for o in "AB"
        for d, shift in ((1, 0.0), (2, 0.5))
        for i in range(3)
    )
    outcome = made(text, by=["operator", "day"])
    assert "Repeatability and intermediate precision" == outcome.title
    assert ["A 1", "A 2", "B 1", "B 2"] == [row[1] for row in outcome.grids[1].rows]
    assert 0.1 == pytest.approx(number(outcome, "all.repeatability_sd"))


def test_one_laboratory_tells_its_repeatability_and_no_more(made, codes, number):
    values = (10.02, 10.11, 10.21, 9.97, 10.05, 10.12, 9.99, 10.03, 10.08, 10.15)
    outcome = made(csv_of({"A": values}))
    assert ["STU12"] == codes(outcome)
    assert np.std(values, ddof=1) == pytest.approx(number(outcome, "all.repeatability_sd"))
    assert not [f for f in outcome.figures if "reproducibility" in f.key]


def test_thin_data_are_told_with_what_they_are_worth(made, codes):
    outcome = made(csv_of({"A": (10.02, 10.11), "B": (9.97, 10.05)}))
    assert ["STU12", "STU12", "STU18"] == codes(outcome)
    # χ² with 2 degrees: √(2/7.378) and √(2/0.0506) (any table).
    assert "0.52 to 6.3 times" in outcome.diagnostics[0].message


def test_groups_of_other_sizes_all_count(made, codes, number):
    outcome = made(csv_of({**SIX, "G": (10.01,), "H": (10.2, 9.9, 10.1, 10.0, 10.05)}))
    assert "STU17" in codes(outcome)
    assert 24 == outcome.used
    rows = {row[1]: row for row in outcome.grids[1].rows}
    assert rows["G"][4] is None
    assert rows["G"][6] is None
    assert number(outcome, "all.repeatability_sd") > 0


def test_a_mean_that_stands_apart_counts_and_is_told(made, codes):
    far = {**SIX, "G": (11.9, 12.0, 12.1), "H": (10.0, 10.1, 10.2)}
    outcome = made(csv_of(far))
    assert "STU14" in codes(outcome)
    assert 24 == outcome.used
    [d] = [d for d in outcome.diagnostics if d.code == "STU14"]
    assert d.message.startswith("The mean of G, 12")


def test_no_scatter_is_an_error_and_yields_nothing(made, codes):
    outcome = made(csv_of(dict.fromkeys("ABCDEFGHIJ", ("10.0", "10.0"))), method="MCW-VIS-014")
    assert ["STU13"] == codes(outcome)
    assert Severity.ERROR == outcome.diagnostics[0].severity
    assert () == outcome.proposals


def test_rounding_that_hides_the_scatter(made, codes):
    rough = dict.fromkeys("ABCDEFG", ("10.0", "10.0", "10.1"))
    assert "STU13" in codes(made(csv_of(rough)))
    assert "STU13" not in codes(made(csv_of(SIX)))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("laboratory,value\nA,1\nB,2\n", "No group has two results"),
        ("laboratory,value\nA,x\n", "Not one row can be used"),
        ("material,laboratory,value\nX,A,1\nX,A,2\n", "There is no material Y"),
    ],
)
def test_too_little_for_a_study(made, text, said):
    with pytest.raises(NoStudyError) as stopped:
        made(text, material="Y" if "material" in text else None)
    assert said in stopped.value.diagnostics[-1].message
    assert "STU11" == stopped.value.diagnostics[-1].code


def test_a_bound_is_told_and_spoils_writing(made, codes):
    text = csv_of(SIX) + "F,>20\n"
    outcome = made(text)
    assert "STU05" in codes(outcome)
    assert 18 == outcome.used


@pytest.mark.parametrize(
    ("wrong", "right"),
    [("1001", "10.01"), ("20.01", "10.01"), ("01.01", "10.01"), ("10010", "10.01"), ("0.01001", "10.01")],
)
def test_slips_of_the_pen(table_of, wrong, right):
    from fillmark.studies.precision import Group, physics

    table = table_of(csv_of({"A": ("10.02", wrong, "9.99", "10.0")}), columns(LABS))
    group = Group("A", table.rows, physics.cell(values=[r.numbers["value"] for r in table.rows]))
    row, other = likely_slip(group, 0.02)
    assert wrong == row.texts["value"]
    assert math.isclose(float(right), float(other), rel_tol=1e-3)


def test_no_slip_is_seen_where_none_fits(table_of):
    from fillmark.studies.precision import Group, physics

    table = table_of(csv_of({"A": ("10.02", "10.43", "9.99")}), columns(LABS))
    group = Group("A", table.rows, physics.cell(values=[10.02, 10.43, 9.99]))
    assert None is likely_slip(group, 0.2)


def test_every_source_named_is_in_the_bibliography(made, glucose, reference):
    named = {s for f in made(glucose).figures for s in f.sources}
    assert set() == named - set(reference.sources)


def test_data_far_from_the_specification_are_told(made, codes):
    text = csv_of({k: tuple(10 * v for v in values) for k, values in SIX.items()})
    assert "STU35" in codes(made(text, method="MCW-VIS-014"))
    assert "STU35" not in codes(made(csv_of(SIX), method="MCW-VIS-014"))


def test_of_scatter_that_is_not_known_nothing_is_worked_out(made):
    outcome = made(csv_of({"A": ("10.0", "10.0"), "B": ("10.4", "10.4")}))
    assert () == outcome.figures
    assert "unknown" == outcome.verdict
