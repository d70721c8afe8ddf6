"""The wall card: what hangs on an instrument, how far it reads, and what may not go together."""

import pytest

from fillmark.forms import wall_card


@pytest.fixture(scope="module")
def card(reference):
    return lambda key: wall_card(reference, key)


def ranges(look, document):
    (table,) = (b for b in look.blocks(document, "table") if b.name == "card")
    return {
        look.words(row[0]).removesuffix(" *"): [look.words(cell) for cell in row] for row in table.rows
    }, table


def test_the_ranges_are_coefficient_over_speed(card, look, reference):
    rows, table = ranges(look, card("bench-7"))  # a dial with spring L
    assert ("0.3", "0.6", "1.5", "3", "6", "12", "30", "60") == table.headings[4:]
    # By hand: 6 Pa·s·rpm over 0.3, ... 60 rpm.
    assert ["20", "10", "4", "2", "1", "0.5", "0.2", "0.1"] == rows["L1"][4:]
    assert ["6", "Pa·s"] == rows["L1"][2:4]


def test_a_stronger_spring_scales_the_coefficient(card, look):
    rows, _ = ranges(look, card("bench-10"))  # 8R: eight times R
    assert "800" == rows["R3"][2]
    assert "off" == rows["R3"][1]  # no guard belongs on this spring
    assert {"U1", "U2"} <= set(rows)
    assert not {"R1", "R2", "L1"} & set(rows)


def test_the_ranges_are_those_of_the_checklist(card, look, compiled):
    """Bench 2 can run the paint's method: what hangs on the wall is what its sheet says."""
    one = compiled("MCW-VIS-014")
    rows, table = ranges(look, card("bench-2"))
    for step in one.method.run:
        at = table.headings.index(f"{step.speed.value:g}")
        assert f"{rows['R5'][at]} {rows['R5'][3]}" == one.figures.text(f"run.{step.name}.full_scale")


@pytest.mark.parametrize(
    ("key", "words"),
    [
        (
            "bench-2",
            ["Only the standard guard", "R1, R2 never without the guard", "R1 is not U1", "L1, L2, L3, L4"],
        ),
        (
            "bench-2",
            ["600 mL low-form beaker", "19 mm small-sample chamber", "which does not travel: bar-27"],
        ),
        ("bench-11", ["Only the long guard"]),
        ("bench-5", ["No guard on spring 2R", "U1 is not R1"]),
        ("bench-8", ["Pointer: from 12 rpm"]),
    ],
)
def test_what_may_not_go_together(card, look, key, words):
    text = look.everything(card(key).sides)
    for word in words:
        assert word in text, word


def test_a_travelling_stand_takes_the_bar(card, look):
    rows, table = ranges(look, card("bench-4"))
    assert "bar-27" in rows
    assert "relative value" in look.everything(table.notes)
    assert "does not travel" not in look.everything(card("bench-4"))


def test_accuracy_and_the_torque_that_counts_come_from_the_policy(card, look):
    text = look.everything(card("bench-2"))
    assert "Accuracy: ± 1.0 % of full scale" in text
    assert "chamber-11.8, coaxial-25.1, cone-0.8: another ± 1.0 % of full scale" in text
    assert "from 10 % to 100 % of torque" in text


def test_it_is_of_an_instrument_and_of_no_method(card):
    head = card("bench-2").head
    assert ("Bench 2", "", "") == (head.id, head.revision, head.digest)
    assert "no method: inventory" in head.instead
    assert head.demonstration
    assert card("bench-2").head.mark != card("bench-3").head.mark


def test_one_side_for_every_instrument_of_the_laboratory(card, reference):
    for key in reference.instruments:
        assert 1 == len(card(key).sides)
