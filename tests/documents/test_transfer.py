"""The transfer sheet: lots over the limits, an order nobody chose, a limit set beforehand."""

import pytest

from fillmark.build import slips
from fillmark.derive.transfer import order, seed_of
from fillmark.digest import digest
from fillmark.forms import plan_form
from fillmark.render import render


@pytest.fixture(scope="module")
def sheet(compiled):
    def plan(method, *changes, seed=None):
        one = compiled(method, *changes)
        mark = digest(one.method)
        return plan_form("transfer", one.method, one.figures, mark, slips(one.method, one.figures), seed=seed)

    return plan


def paired(look, document):
    (table,) = (b for b in look.blocks(document, "table") if b.name == "paired")
    return table


def test_the_printed_order_is_that_of_the_printed_seed(sheet, look, compiled):
    own = seed_of(digest(compiled("MCW-VIS-014").method))
    for seed, drawn in ((None, own), (7, 7)):
        table = paired(look, sheet("MCW-VIS-014", seed=seed))
        assert f"seed {drawn}" in look.everything(table.notes)
        rows = [(int(look.words(r[1])), look.words(r[2])[0]) for r in table.rows if look.words(r[1])]
        assert list(order(drawn)) == rows
    assert render(sheet("MCW-VIS-014", seed=7)) != render(sheet("MCW-VIS-014", seed=8))
    assert render(sheet("MCW-VIS-014", seed=7)) == render(sheet("MCW-VIS-014", seed=7))


def test_the_fluid_stands_at_start_and_end_with_its_band(sheet, look, demo):
    table = paired(look, sheet(demo))
    assert [True] + [False] * 12 + [True] == ["REF" in look.words(row[0]) for row in table.rows[1:]]
    band = {
        "MCW-VIS-014": "9.7–10.3 Pa·s", "BBM-VIS-007": "289–311 mPa·s", "LMT-VIS-021": "97–103 Pa·s",
        "QAP-VIS-002": "28.7–31.3 Pa·s", "TGF-VIS-003": "9.7–10.3 Pa·s",
    }[demo]  # fmt: skip
    assert band in look.everything(table.notes)


def test_pairs_with_a_difference_and_the_numbers_of_the_checklist(sheet, look, compiled, demo):
    figures = compiled(demo).figures
    table = paired(look, sheet(demo))
    assert ("A torque", "A result", "B torque", "B result", "B − A") == table.headings[3:8]
    step = next(s.name for s in compiled(demo).method.run if compiled(demo).method.limit(s.name))
    for column in (3, 5):
        torque = look.words(table.rows[0][column])
        assert torque.startswith(figures.text(f"run.{step}.torque_lower").removesuffix(" %"))
    for column in (4, 6):
        assert look.words(table.rows[0][column])[2:] == look.everything(
            figures.text(f"run.{step}.factor").removesuffix(" per %")
        )


def test_the_equivalence_limit_stands_printed(sheet, look):
    text = look.everything(look.section(sheet("MCW-VIS-014"), "Outcome"))
    assert "± 0.5 Pa·s" in text
    # Student's t, 9 degrees of freedom, 5 %: 1.833 (tables); by √10: 0.580.
    assert "0.580 (n = 10)" in text
    assert "90 % interval" in text


def test_what_changed_tells_property_from_torque(sheet, look):
    section = look.section(sheet("MCW-VIS-014"), "What differs between A and B")
    same, told_same, other, told_other = section.blocks
    assert ["other instrument", "other laboratory", "other spring"] == [
        look.words(e.label) for e in same.entries
    ]
    assert "the flow is the same" in look.everything(told_same)
    assert {"other spindle", "other speed", "guard on or off", "other container"} <= {
        look.words(e.label) for e in other.entries
    }
    assert "another property" in look.everything(told_other)
    assert "new limits" in look.everything(told_other)


def test_at_least_ten_lots_over_the_limits(sheet, look):
    (table,) = (b for b in look.blocks(sheet("MCW-VIS-014"), "table") if b.name == "lots")
    told = {look.words(row[at]): look.words(row[at + 1]) for row in table.rows for at in (0, 4)}
    assert [str(n) for n in range(1, 13)] == sorted(told, key=int)
    assert ("8 Pa·s", "12 Pa·s", "spare", "spare") == (told["1"], told["10"], told["11"], told["12"])


def test_a_product_with_a_memory_takes_a_fresh_loading(sheet, look):
    assert "what A has sheared is no sample for B" in look.everything(sheet("MCW-VIS-014"))
    assert "what A has sheared" not in look.everything(sheet("BBM-VIS-007"))
    assert any(
        "Alkali" in look.words(c.text) for c in look.step(sheet("BBM-VIS-007"), "Split each lot").cautions
    )
