"""The scouting sheet: what is worked out, what is left open, and that no method is needed."""

import pytest

from fillmark.forms import Wanted, scouting


@pytest.fixture(scope="module")
def sheet(compiled, reference):
    def plan(method=None, *changes, **wanted):
        one = None if method is None else compiled(method, *changes)
        return scouting(one, reference, Wanted(**wanted))

    return plan


def table(look, document, name, at=0):
    return [b for b in look.blocks(document, "table") if b.name == name][at]


BARE = {"instrument": "bench-8", "spindle": "R4"}


def test_without_a_method_the_ranges_are_printed(sheet, look):
    rows = table(look, sheet(**BARE, speeds=("10 rpm",)), "ramp").rows
    # R4: 200 Pa·s·rpm on R. Speeds of bench 8 around 10 rpm, up and down.
    assert ["↑ 4", "↑ 5", "↑ 10", "↑ 20", "↑ 50", "↓ 50", "↓ 20", "↓ 10", "↓ 5", "↓ 4"] == [
        look.words(row[1]) for row in rows
    ]
    ten = next(row for row in rows if look.words(row[1]) == "↑ 10")
    # Full scale 20 Pa·s: a hundredth is the factor, 10 to 100 % the range; five turns take 30 s.
    assert ["0.2 Pa·s", "2–20 Pa·s", "30 s"] == [look.words(cell) for cell in ten[2:5]]
    assert ["write"] * 3 == [cell.kind for cell in ten[5:]]


def test_with_a_method_the_numbers_are_those_of_its_checklist(sheet, look, compiled, demo):
    one = compiled(demo)
    rows = {look.words(r[1])[2:]: r for r in table(look, sheet(demo), "ramp").rows}
    for step in one.method.run:
        row = rows[f"{step.speed.value:g}"]
        factor = one.figures.text(f"run.{step.name}.factor").removesuffix(" per %")
        assert factor == look.words(row[2])
        assert one.figures.text(f"run.{step.name}.customary_wait") == look.words(row[4])
        low, high = (one.figures.text(f"run.{step.name}.{b}_bound")[2:] for b in ("below", "above"))
        assert f"{low.partition(' ')[0]}–{high}" == look.words(row[3])


def test_the_hold_has_the_reading_times_and_marks_those_before_five_turns(sheet, look):
    held = table(look, sheet("MCW-VIS-014"), "held")  # at 20 rpm five turns take 15 s
    assert ("10 s", "20 s", "30 s", "60 s", "120 s", "300 s", "600 s") == held.headings[1:]
    assert ["spring winds up", *[""] * 6] == [look.words(cell) for cell in held.rows[0][1:]]
    slow = table(look, sheet(**BARE, speeds=("1 rpm", "5 rpm", "10 rpm")), "held")  # at 5 rpm they take 60 s
    assert 3 == sum(look.words(cell) == "spring winds up" for cell in slow.rows[0][1:])


def test_the_bracket_is_printed_where_the_temperature_is_known(sheet, look):
    known = table(look, sheet("MCW-VIS-014"), "bracket").headings[1:]
    assert ["21.0 °C", "23.0 °C", "25.0 °C"] == [look.everything(text) for text in known]
    assert ("T − 2 K", "T", "T + 2 K") == table(look, sheet(**BARE), "bracket").headings[1:]
    warm = table(look, sheet(**BARE, temperature="60 °C"), "bracket").headings[1:]
    assert ["58 °C", "60 °C", "62 °C"] == [look.everything(text) for text in warm]


def test_every_block_says_what_it_yields_and_where_it_goes(sheet, look):
    rows = table(look, sheet("MCW-VIS-014"), "yields").rows
    assert 5 == len(rows)
    told = look.everything(tuple(row[3] for row in rows))
    for key in ("behaviour", "read: after", "temperature_sensitivity", "replicates: repeatability"):
        assert key in told, key
    # log 20 of the ratio of 20 and 1 rpm: 1.301 (tables).
    assert "/ 1.301" in look.everything(rows[0][1])


def test_hazards_of_the_draft_or_a_warning_that_none_are_known(sheet, look):
    assert any("Irritates" in look.words(c.text) for c in look.step(sheet("MCW-VIS-014"), "gloves").cautions)
    assert any(
        "hazards are not written" in look.words(c.text) for c in look.step(sheet(**BARE), "gloves").cautions
    )
    assert any(
        "Turning parts" in look.words(c.text) for c in look.step(sheet(**BARE), "no spindle on").cautions
    )


def test_it_says_that_there_is_no_method(sheet, look):
    head = sheet(**BARE, product="Lime wash").head
    assert ("no method yet", "Lime wash", "", ("no method yet",)) == (
        head.id,
        head.product,
        head.revision,
        head.instead,
    )
    named = sheet("BBM-VIS-007").head
    assert ("BBM-VIS-007", "1", "DRAFT", ()) == (named.id, named.revision, named.draft, named.instead)
