"""The verification log: one line for each check, and a chart to scale at its end."""

import pytest

from fillmark.digest import digest
from fillmark.documents import Strip
from fillmark.documents.verification_log import (
    HEIGHT,
    ROWS,
    WIDTH,
    marks,
    plan_verification_log,
    scale,
    strip,
)


@pytest.fixture(scope="module")
def log(compiled):
    def plan(method, *changes, **more):
        one = compiled(method, *changes)
        return plan_verification_log(one.method, one.figures, digest(one.method), **more)

    return plan


def tables(look, document):
    return [b for b in look.blocks(document, "table") if b.name == "log"]


def test_one_line_for_each_check_numbered_over_both_sides(log, look, demo):
    first, second = tables(look, log(demo))
    numbers = [
        look.words(row[0]) for table in (first, second) for row in table.rows if row[0][0].text != "limit"
    ]
    assert [str(n) for n in range(1, sum(ROWS) + 1)] == numbers
    for row in (*first.rows[1:], *second.rows[1:]):
        assert ["write"] * 6 + ["pass-fail", "write"] == [cell.kind for cell in row[1:9]]
        assert isinstance(row[9], Strip)


def test_the_limits_are_those_of_the_checklist(log, checklist, look, demo):
    hold = look.everything(look.holds(checklist(demo))[0])
    document = log(demo)
    for table in tables(look, document):
        limits = [look.words(cell) for cell in table.rows[0][3:6]]
        assert all(limits)
        for limit in limits:
            assert limit in hold, limit
    asked = look.everything(look.section(document, "What every check is"))
    for words in ("FAIL: STOP", "verification:"):
        assert words in hold
    assert look.words(tables(look, document)[0].rows[0][5]) in asked


def test_the_error_is_torque_read_less_torque_of_the_fluid(log, look):
    # 10 Pa·s on 20 Pa·s full scale is 50.0 % of torque.
    (first, _) = tables(look, log("MCW-VIS-014"))
    assert "torque − 50.0" == look.words(first.rows[0][6])


def xs(drawn, kind):
    return sorted({round(x, 3) for s in drawn.strokes if s.kind == kind for run in s.runs for x, _ in run})


@pytest.mark.parametrize(
    ("method", "half"),
    # Accuracy of the check plus the fluid's uncertainty, in percent of full scale; by hand:
    [
        ("MCW-VIS-014", 1.5),  # 1 + 0.1/20
        ("BBM-VIS-007", 1.375),  # 1 + 3/800
        ("LMT-VIS-021", 1.5),  # 1 + 1/200
        ("QAP-VIS-002", 2.6),  # 2 + 0.3/50
        ("TGF-VIS-003", 1.5),
    ],
)
def test_the_marks_of_the_band_are_to_scale(compiled, method, half):
    one = compiled(method)
    check = one.method.verification
    assert (-half, half) == pytest.approx(marks(check, one.figures))
    drawn = strip(check, one.figures)
    (left, right), (middle,) = xs(drawn, "band-end"), xs(drawn, "zero")
    assert (WIDTH / 2, WIDTH / 2) == pytest.approx((middle, (left + right) / 2))
    thirds = xs(drawn, "third")
    assert [(right - middle) * part / 3 for part in (-2, -1, 1, 2)] == pytest.approx(
        [x - middle for x in thirds], abs=0.002
    )
    assert left > 4  # room for a dot outside the band
    assert HEIGHT == drawn.height >= 8.3
    labels = {label.text: label.x for label in scale(check, one.figures).labels}
    assert (left, right) == pytest.approx((labels[f"-{half:.2f}"], labels[f"+{half:.2f}"]), abs=0.01)


def test_limits_of_the_author_move_the_marks(compiled):
    one = compiled(
        "MCW-VIS-014",
        ("at: viscosity_20\n", "at: viscosity_20\n  accept: {lower: 9.8 Pa·s, upper: 10.4 Pa·s}\n"),
    )
    assert one.method is not None, [d.message for d in one.diagnostics]
    # 9.8 and 10.4 on 20 Pa·s are 49 and 52 % of torque.
    assert (-1.0, 2.0) == pytest.approx(marks(one.method.verification, one.figures))


def test_a_caution_stands_before_fluid_and_motor(log, look):
    document = log("MCW-VIS-014")
    assert any("slippery" in look.words(c.text) for c in look.step(document, "Bring fluid").cautions)
    assert any("Turning parts" in look.words(c.text) for c in look.step(document, "Mount as").cautions)


def test_failing_and_signals_of_a_trend_are_told(log, look):
    text = look.everything(log("MCW-VIS-014"))
    for words in (
        "FAIL: STOP",
        "look back to the last pass",
        "two of three dots in the outer third",
        "eight dots",
    ):
        assert words in text, words


def test_without_a_reference_fluid_nothing_is_made_up(log, look, edited):
    text = edited("TGF-VIS-003").decode()
    block = text[text.index("verification:") : text.index("report:")]
    document = log("TGF-VIS-003", (block, ""))
    assert "names no reference fluid" in look.everything(document)
    for table in tables(look, document):
        assert not any(isinstance(cell, Strip) for row in table.rows for cell in row)
        assert not any(look.words(cell) for cell in table.rows[0][1:6])
