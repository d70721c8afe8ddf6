"""Budgets as text, as JSON and as rows."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from fillmark.budgets import (
    WIDTH,
    explanation_text,
    misuse_json,
    misuse_rows,
    misuse_text,
    read_shift,
    steps_with_limits,
    uncertainty_json,
    uncertainty_rows,
    uncertainty_text,
)
from fillmark.uncertainty import uncertainty_budget

ROOT = Path(__file__).parents[1]
DEMOS = sorted(f.stem for f in (ROOT / "methods").glob("*.yaml"))
PAINT = "MCW-VIS-014"
LIMITS = "lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s"
THIN = (
    (LIMITS, "lower: 0.35 mPa·s, target: 0.45 mPa·s, upper: 0.55 mPa·s"),
    ("unit: Pa·s, increment: 0.1 Pa·s", "unit: mPa·s, increment: 0.1 mPa·s"),
)
THICK = ((LIMITS, "lower: 35000.0 Pa·s, target: 50000.0 Pa·s, upper: 65000.0 Pa·s"),)


def texts(c, step, *, ascii_only):
    yield misuse_text(c.method, c.figures, step, ascii_only=ascii_only)
    yield explanation_text(c.method, c.figures, step, -9, ascii_only=ascii_only)
    yield explanation_text(c.method, c.figures, step, 100, ascii_only=ascii_only)
    yield uncertainty_text(c.method, c.figures, step, ascii_only=ascii_only)


@pytest.mark.parametrize("ascii_only", [False, True])
@pytest.mark.parametrize("case", [*((name, ()) for name in DEMOS), (PAINT, THIN), (PAINT, THICK)], ids=str)
def test_text_fits_the_width_and_the_terminal(compiled, case, ascii_only):
    c = compiled(case[0], *case[1])
    for step in c.method.run:
        for text in texts(c, step, ascii_only=ascii_only):
            assert [] == [line for line in text.splitlines() if len(line) > WIDTH or line != line.rstrip()]
            if ascii_only:
                assert text.isascii()
                assert "?" not in text


def test_the_table_of_the_paint(compiled):
    c = compiled(PAINT)
    text = misuse_text(c.method, c.figures, c.method.step("viscosity_20"), ascii_only=False)
    lines = text.splitlines()
    assert "MCW-VIS-014 revision 3, viscosity_20: what each slip does to the result" == lines[0]
    assert ["8.0", "Pa·s", "10.0", "Pa·s", "12.0", "Pa·s"] == lines[4].split()
    row = next(i for i, line in enumerate(lines) if line.startswith("Zero off by +1 % of scale"))
    assert ["high", "+2.5", "%", "+2.0", "%", "+1.7", "%", "computed"] == lines[row].split()[-8:]
    assert lines[row + 1].startswith(
        "    Good batches from 11.8 to 12 Pa·s fail, bad batches from 7.8 to 8 Pa·s pass."
    )
    assert "Cannot pass unseen:" in lines
    assert "viscosity_20 also goes into index" in text


@pytest.mark.parametrize(("shifted", "said"), [(THIN, "0.45 mPa·s"), (THICK, "50000 Pa·s")])
def test_very_thin_and_very_thick_products_keep_sensible_numbers(compiled, shifted, said):
    c = compiled(PAINT, *shifted)
    text = uncertainty_text(c.method, c.figures, c.method.step("viscosity_20"), ascii_only=False)
    assert f"At {said}, the middle of the limits:" in text
    assert "e-" not in text.replace("the-", "")


def test_a_shift_that_chance_can_give_is_called_so(compiled):
    c = compiled(PAINT)
    step = c.method.step("viscosity_20")
    # U is 3.3 % of the result
    small = explanation_text(c.method, c.figures, step, -3, ascii_only=False)
    assert "chance alone can give it" in small
    assert "chance alone" not in explanation_text(c.method, c.figures, step, -4, ascii_only=False)


def test_rows_for_paper_are_plain_texts(compiled):
    c = compiled(PAINT)
    rows = {row[0]: row[1:] for row in misuse_rows(c.method, c.figures, c.method.step("viscosity_20"))}
    warm = rows["Sample 1 K too warm"]
    assert ("low", "-2.0 %", "-2.0 %", "-2.0 %", "computed") == warm[:5]
    assert warm[5].startswith("Good batches from 8 to 8.16 Pa·s fail")
    assert ("low", "", "", "", "not known") == rows["Air bubble under the disc"][:5]
    budget = uncertainty_budget(c.method, c.figures, c.method.step("viscosity_20"))
    assert (
        "Instrument accuracy", "1 % of scale", "B, rectangular", "1.732", "0.2 Pa·s/%", "0.115", "48 %",
    ) == uncertainty_rows(budget)[0]  # fmt: skip


@pytest.mark.parametrize("name", DEMOS)
def test_json_meets_its_schema(compiled, name):
    c = compiled(name)
    for kind, text in (
        ("misuse", misuse_json(c.method, c.figures, c.method.run, -9.0)),
        ("misuse", misuse_json(c.method, c.figures, c.method.run)),
        ("uncertainty", uncertainty_json(c.method, c.figures, c.method.run)),
    ):
        schema = json.loads((ROOT / "schemas" / f"{kind}.schema.json").read_text(encoding="utf-8"))
        assert [] == [e.message for e in Draft202012Validator(schema).iter_errors(json.loads(text))]
        assert name == json.loads(text)["id"]


def test_an_open_end_is_null_in_json(compiled):
    one_sided = (f"{LIMITS}, decision_rule", "lower: 8.0 Pa·s, one_sided: true, decision_rule")
    c = compiled(PAINT, one_sided)
    step = json.loads(misuse_json(c.method, c.figures, c.method.run[1:]))["steps"][0]
    keyed = next(s for s in step["slips"] if s["key"] == "spring-keyed.L")["verdict"]
    # no batch within reach passes: 8 Pa·s times 10.67 is 427 % torque
    assert [8.0, None] == keyed["spans"]["good_low_fails"]
    assert "no limit" == keyed["at_limits"]["bad_high_passes"]


def test_only_steps_with_limits_are_shown_unless_named(compiled):
    assert ["viscosity_20"] == [s.name for s in steps_with_limits(compiled(PAINT).method)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [("-9 %", -9.0), ("+4.5%", 4.5), ("12 %", 12.0), ("\u22129 %", -9.0), (" - 0.5 % ", -0.5)],
)
def test_shifts_that_are_read(text, expected):
    assert expected == read_shift(text)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("-9", "with its sign and %"),
        ("nine %", "with its sign and %"),
        ("-9,5 %", "with its sign and %"),
        ("-100 %", "with its sign and %"),
        ("nan %", "with its sign and %"),
        (f"{'9' * 400} %", "with its sign and %"),
        ("0 %", "needs no cause"),
    ],
)
def test_shifts_that_are_refused(text, said):
    with pytest.raises(ValueError, match=said):
        read_shift(text)
