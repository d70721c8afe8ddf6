"""Whatever numbers a file holds, a study ends with an outcome or with the reason why there is none."""

import random

import pytest

from fillmark.studies import CODES, NoStudyError, bridging, precision, ranges, scouting, temperature
from fillmark.studies.page import page
from fillmark.studies.told import as_json, as_text

DAY = "2026-11-25"
LABS = ["laboratory"]


def number(draw):
    kind = draw.random()
    if kind < 0.3:
        return f"{draw.gauss(10, 1):.{draw.randint(0, 4)}f}"
    if kind < 0.6:
        return draw.choice(
            [
                "0",
                "-1",
                "1e29",
                "-1e29",
                "1e-29",
                "5",
                "5",
                "5",
                "100",
                "23",
                "0.1",
                "",
                ">5",
                "<1",
                "x",
                "n/a",
            ]
        )
    return f"{10 ** draw.uniform(-8, 8):.3g}"


def text_of(kind, draw):
    def rows(head, make):
        count = draw.choice((0, 1, 2, 3, 5, 8, 20))
        unit = draw.choice(("", " [Pa·s]", " [mPa·s]", " [x]"))
        return "\n".join([head.replace("@", unit), *(make() for _ in range(count))])

    if kind in (precision, ranges):
        return rows(
            "material,laboratory,value@", lambda: f"{draw.choice('XY')},{draw.choice('ABCD')},{number(draw)}"
        )
    if kind is temperature:
        return rows("temperature,value@", lambda: f"{number(draw)},{number(draw)}")
    if kind is scouting:
        return rows(
            "part,speed,direction,time,torque,value@",
            lambda: ",".join(
                (
                    draw.choice(("ramp", "hold")), draw.choice(("2", "20", "50", number(draw))),
                    draw.choice(("up", "down", "")), number(draw), draw.choice(("50", "5", "101", number(draw))),
                    draw.choice(("", number(draw))),
                )
            ),
        )  # fmt: skip
    return rows(
        "lot,kind,old@,new@,order",
        lambda: ",".join(
            (
                str(draw.random()), draw.choice(("product", "", "fluid")), number(draw), number(draw),
                draw.choice(("old-first", "new-first", "")),
            )
        ),
    )  # fmt: skip


@pytest.mark.parametrize("kind", [precision, ranges, temperature, scouting, bridging], ids=lambda k: k.KIND)
def test_no_numbers_stop_a_study(kind, table_of, reference, compiled):
    draw = random.Random(kind.KIND)
    method = compiled("MCW-VIS-014").method
    columns = kind.columns(LABS) if kind in (precision, ranges) else kind.columns()
    ended = 0
    for _ in range(60):
        table = table_of(text_of(kind, draw), columns)
        more = {"by": LABS} if kind in (precision, ranges) else {}
        if kind is bridging:
            more = {"change": draw.choice(list(bridging.CHANGES)), "margin": draw.choice((None, "4 %"))}
        of = draw.choice((None, method))
        try:
            outcome = kind.study(table, reference.policy, of, DAY, **more)
        except NoStudyError as error:
            said = error.diagnostics
        else:
            said = outcome.diagnostics
            ended += 1
            assert as_json(outcome, of, reference.policy, DAY)
            assert as_text(outcome, of, ascii_only=True).isascii()
            assert page(outcome, of, reference, DAY)
        for d in said:
            assert d.code in CODES
            assert len(d.ways_out) == 2 or "more of the same kind" in d.message or d.code == "STU01"
    assert ended >= 2


def test_every_code_has_a_name_of_its_own_and_words():
    slugs = [slug for slug, _ in CODES.values()]
    assert len(slugs) == len(set(slugs))
    assert all(words.endswith(".") for _, words in CODES.values())
