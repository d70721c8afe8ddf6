"""Values of a study put into the text of a method."""

import pytest

from fillmark.fix import diff
from fillmark.pipeline import compile_method
from fillmark.studies import temperature
from fillmark.studies.writing import CannotWriteError, put_in

DATA = "temperature,value [Pa·s]\n21,10.6\n21,10.65\n23,10.0\n23,10.04\n25,9.42\n25,9.4\n"
DRAFT = ("status: released", "status: draft")


@pytest.fixture
def put(table_of, reference, edited):
    def make(*changes, text=DATA):
        compiled = compile_method(edited("MCW-VIS-014", *changes), "paint.yaml", reference)
        outcome = temperature.study(
            table_of(text, temperature.columns()), reference.policy, compiled.method, "2026-11-25"
        )
        return put_in(compiled, outcome, reference, None)

    return make


def test_value_and_evidence_go_in_and_all_else_stays(put):
    lines = [line for line in diff(put(DRAFT)) if line[:1] in "+-" and line[:3] not in ("+++", "---")]
    assert ["-  temperature_sensitivity: 2.0 %/K", "+  temperature_sensitivity: 3.0 %/K"] == lines[:2]
    assert 3 == len(lines)
    assert lines[2].startswith(
        '+evidence: {product.temperature_sensitivity: "3.0 %/K by temperature study of data.csv, sha256 '
    )


def test_the_outcome_is_a_method_that_compiles_and_knows_its_evidence(put):
    after = put(DRAFT).after
    assert [] == [d for d in after.diagnostics if d.blocks]
    assert ["product.temperature_sensitivity"] == list(after.method.evidence)


def test_a_second_study_adds_to_the_evidence_and_a_third_replaces_its_own(put):
    first = (
        "retention: 10 years",
        "retention: 10 years\nevidence:\n  replicates.repeatability: an older study",
    )
    after = put(DRAFT, first).after
    assert ["replicates.repeatability", "product.temperature_sensitivity"] == list(after.method.evidence)
    assert "an older study" == after.method.evidence["replicates.repeatability"]
    own = (
        "retention: 10 years",
        "retention: 10 years\nevidence: {product.temperature_sensitivity: an older study}",
    )
    assert (
        put(DRAFT, own)
        .after.method.evidence["product.temperature_sensitivity"]
        .startswith("3.0 %/K by temperature study")
    )


def test_a_released_method_is_left_alone(put):
    with pytest.raises(CannotWriteError, match="its status is released"):
        put()


def test_data_with_errors_write_nothing(put):
    with pytest.raises(CannotWriteError, match="1 error, STU05"):
        put(DRAFT, text=DATA + "25,>20\n")


def test_a_study_without_a_value_writes_nothing(put):
    with pytest.raises(CannotWriteError, match="yields no value"):
        put(DRAFT, text="temperature,value\n21,9\n23,10\n25,11\n")
