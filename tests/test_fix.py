"""Mending: only what has one right spelling, only at its place, and nothing else of the file."""

import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark.fix import (
    CERTAIN,
    Fix,
    diff,
    edited,
    mend,
    mendable,
    nearest,
    objection,
    offers,
    quantity,
    write,
)
from fillmark.locate import schemas_folder
from fillmark.pipeline import compile_method
from fillmark.publish import leftovers
from fillmark.quantities import QuantityError, parse
from fillmark.units import MISTAKES

ROOT = Path(__file__).parents[1]
DRAFT = "BBM-VIS-007"
TEXT = (ROOT / "methods" / f"{DRAFT}.yaml").read_bytes().decode()
TODAY = date(2027, 1, 15)


def spoilt(*changes: tuple[str, str], text: str = TEXT) -> str:
    for right, wrong in changes:
        assert 1 == text.count(right), f"{right!r} must stand once"
        text = text.replace(right, wrong)
    return text


@pytest.fixture
def mended(reference):
    """Mend a text (or the bytes of one) in memory."""

    def mend_text(text: str | bytes, name: str = "m.yaml"):
        data = text if isinstance(text, bytes) else text.encode()
        return mend(compile_method(data, name, reference, today=TODAY), reference, today=TODAY)

    return mend_text


def told(done) -> list[tuple[str, str, str]]:
    return [(f.code, f.old, f.new) for f in done.fixes]


# --- what is mended; every other character of the file is compared


@pytest.mark.parametrize(
    ("right", "wrong", "now"),
    [
        ("lower: 300 mPa·s", "lower: 300 mPas", "lower: 300 mPa·s"),
        ("lower: 300 mPa·s", "lower: 300mPa-s", "lower: 300mPa·s"),
        ("lower: 300 mPa·s", "lower: 300 \u00a0centipoise", "lower: 300 \u00a0mPa·s"),
        ("increment: 4 mPa·s", "increment: 4 mPas", "increment: 4 mPa·s"),
        ("speed: 50 rpm", "speed: 50 RPM", "speed: 50 rpm"),
        ("speed: 50 rpm", "speed: 50 r.p.m.", "speed: 50 rpm"),
        ("after: 30 s", "after: 30 sec", "after: 30 s"),
        ("open_time: 3 min", "open_time: 3 minutes", "open_time: 3 min"),
        ("sensitivity: 3.0 %/K", "sensitivity: 3,0 % per K", "sensitivity: 3.0 %/K"),
        ("room: 22 °C", "room: 22 C", "room: 22 °C"),
        ("room: 22 °C", "room: 22 degrees  C", "room: 22 °C"),
        ("uncertainty: 0.2 K", "uncertainty: 0.2 °K", "uncertainty: 0.2 K"),
        ("target: 38.0 °C ± 1.0 °C", "target: 38.0 deg C ± 1.0 K", "target: 38.0 °C ± 1.0 K"),
        ("target: 38.0 °C ± 1.0 °C", "target: 38.0 C  +/- 1.0 C", "target: 38.0 °C  +/- 1.0 K"),
        ("target: 38.0 °C ± 1.0 °C", "target: 38,0 °C ± 1,0 °C", "target: 38.0 °C ± 1.0 °C"),
        ("volume: 500 mL ± 10 mL", "volume: 500 cc ± 2 percent", "volume: 500 mL ± 2 %"),
        ("density: 1.05 g/mL", "density: 1,05 g/cc", "density: 1.05 g/mL"),
        ("repeatability: 1.5 %", 'repeatability: "1,5 %"', 'repeatability: "1.5 %"'),
    ],
)  # fmt: skip
def test_a_unit_or_comma_with_one_meaning(mended, right, wrong, now):
    done = mended(spoilt((right, wrong)))
    assert {"QTY01"} == {f.code for f in done.fixes}
    assert spoilt((right, now)) == done.after.source.text
    assert () == done.after.diagnostics


@pytest.mark.parametrize(
    ("wrong", "now"),
    [
        ("38 °C ± 1.0 °C", "38.0 °C ± 1.0 °C"),
        ("38.0 °C ± 1 °C", "38.0 °C ± 1.0 °C"),
        ("38.00  degC +/- 1.0 K", "38.00  degC +/- 1.00 K"),
        ("+38 °C ± 1.0 K", "+38.0 °C ± 1.0 K"),
    ],
)
def test_target_and_tolerance_get_the_same_decimals(mended, wrong, now):
    done = mended(spoilt(("38.0 °C ± 1.0 °C", wrong)))
    assert [("TEM15", wrong, now)] == told(done)
    assert spoilt(("38.0 °C ± 1.0 °C", now)) == done.after.source.text
    assert () == done.after.diagnostics


@pytest.mark.parametrize(
    ("right", "wrong", "code"),
    [
        ("title:", "titel:", "SCH01"),
        ("\nid:", "\nID:", "SCH01"),
        ("  behaviour:", "  behavior:", "SCH01"),
        ("bottom_clearance:", "bottom-clearence:", "SCH01"),
        ("{result: viscosity_50, lower: 300", "{result: viscosity_50, lwoer: 300", "SCH01"),
        ("replicates:", "replicats:", "SCH01"),
        ("guard: required", "guard: requird", "SCH04"),
        ("guard: required", "guard: Required", "SCH04"),
        ("behaviour: shear-thinning", "behaviour: shear-thining", "SCH04"),
        ("hazards: [alkali]", "hazards: [alkalli]", "SCH04"),
        ("unit: mPa·s", "unit: mPas", "SCH04"),
    ],
)
def test_a_key_or_choice_with_one_word_near(mended, right, wrong, code):
    done = mended(spoilt((right, wrong)))
    assert [code] == [f.code for f in done.fixes]
    assert TEXT == done.after.source.text
    assert () == done.after.diagnostics


def test_a_target_with_a_power_of_ten_gets_no_noughts(mended):
    done = mended(spoilt(("38.0 °C ± 1.0 °C", "3.80e1 °C ± 1.00 °C")))
    assert "TEM15" in {d.code for d in done.after.diagnostics}
    assert ((), ()) == (done.fixes, done.refused)


def test_what_one_round_brings_to_light_is_mended_in_the_next(mended):
    done = mended(spoilt(("38.0 °C ± 1.0 °C", "38 C ± 1.0 °C")))
    assert [
        ("QTY01", "38 C ± 1.0 °C", "38 °C ± 1.0 °C"),
        ("TEM15", "38 °C ± 1.0 °C", "38.0 °C ± 1.0 °C"),
    ] == told(done)
    assert TEXT == done.after.source.text


def test_the_same_wrong_text_is_mended_in_each_place_where_it_is_a_value(mended):
    note = ("past {{sample", "not 500 mPas; past {{sample")
    wrong = ("lower: 300 mPa·s", "lower: 500 mPas"), ("upper: 500 mPa·s", "upper: 500 mPas")
    done = mended(spoilt(*wrong, note))
    assert 2 == len(done.fixes)
    assert spoilt(("lower: 300 mPa·s", "lower: 500 mPa·s"), note) == done.after.source.text


# --- layout, comments, quotes, line ends, byte order mark

LAYOUT = (
    ("lower: 300 mPa·s", "lower:   300 mPas"),
    ("room: 22 °C", "room:  '22 C'\t# not 22 C,\tas \"22 C\" has it"),
    ("density: 1.05 g/mL", 'density: "1,05 g/mL"   '),
    ("guard: required", "'guard' : \"requird\"  # requird"),
    ("title:", '"titel" :'),
)
MENDED_LAYOUT = (
    ("lower: 300 mPa·s", "lower:   300 mPa·s"),
    ("room: 22 °C", "room:  '22 °C'\t# not 22 C,\tas \"22 C\" has it"),
    ("density: 1.05 g/mL", 'density: "1.05 g/mL"   '),
    ("guard: required", "'guard' : \"required\"  # requird"),
    ("title:", '"title" :'),
)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("last", [True, False])
def test_all_other_bytes_of_the_file_stay(tmp_path, mended, end, mark, last):
    wrong, right = spoilt(*LAYOUT), spoilt(*MENDED_LAYOUT)
    if not last:
        wrong, right = wrong.rstrip("\n"), right.rstrip("\n")
    file = tmp_path / "m.yaml"
    file.write_bytes(mark + wrong.replace("\n", end).encode())
    done = mended(file.read_bytes(), str(file))
    write(done)
    assert mark + right.replace("\n", end).encode() == file.read_bytes()
    assert len(LAYOUT) == len(done.fixes)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("room: 22 °C", 'room: "22 \\u0043"'),
        ("room: 22 °C", "room: >\n    22 C"),
        ("room: 22 °C", "room: 22\n    C"),
        ("room: 22 °C", 'room: "22\n    C"'),
    ],
)
def test_a_text_that_does_not_stand_in_the_file_letter_for_letter_is_left(mended, right, wrong):
    done = mended(spoilt((right, wrong)))
    assert () == done.fixes
    assert ["QTY01"] == [d.code for d in done.after.diagnostics]


@settings(deadline=None, max_examples=60)
@given(st.text(alphabet=st.characters(blacklist_categories=("Cc", "Cs", "Cf", "Zl", "Zp")), max_size=40))
def test_any_comment_beside_a_mended_value_stays(comment):
    reference = _shipped()
    wrong = spoilt(("room: 22 °C", f"room: 22 C # {comment}"))
    before = compile_method(wrong.encode(), "m.yaml", reference)
    # Some characters YAML itself does not take; such a file is not read and not mended.
    if before.source is not None:
        right = spoilt(("room: 22 °C", f"room: 22 °C # {comment}"))
        assert right == mend(before, reference).after.source.text


@cache
def _shipped():
    from fillmark.reference import load

    reference, _ = load()
    assert reference is not None
    return reference


# --- what is left to people


@pytest.mark.parametrize(
    ("right", "wrong", "code"),
    [
        ("lower: 300 mPa·s", "lower: 300 MPa·s", "QTY01"),
        ("lower: 300 mPa·s", "lower: 300 MPas", "QTY01"),
        ("lower: 300 mPa·s", "lower: 300 cps", "QTY01"),
        ("lower: 300 mPa·s", "lower: 300 mPa/s", "QTY01"),
        ("lower: 300 mPa·s", "lower: 300 mPa", "QTY01"),
        ("lower: 300 mPa·s", "lower: 300 mPs", "QTY01"),
        ("lower: 300 mPa·s", "lower: 300", "QTY01"),
        ("lower: 300 mPa·s", "lower: about 300 mPa·s", "QTY01"),
        ("lower: 300 mPa·s", "lower: 300 mPa·s or so", "QTY01"),
        ("density: 1.05 g/mL", "density: 1,050 kg/m³", "QTY01"),
        ("density: 1.05 g/mL", "density: 1,0,5 g/mL", "QTY01"),
        ("density: 1.05 g/mL", "density: 1.05 g/L", "QTY01"),
        ("room: 22 °C", "room: 22 F", "QTY01"),
        ("room: 22 °C", "room: 22 K", "QTY01"),
        ("38.0 °C ± 1.0 °C", "38.0 ± 1.0 °C", "QTY01"),
        ("volume: 500 mL ± 10 mL", "volume: 500 ML ± 10 ML", "QTY01"),
        ("speed: 50 rpm", "speed: 50 RPM each", "QTY01"),
        ("after: 30 s", "after: 30 RPM", "QTY01"),
        ("spindle: R2", "spindle: R22", "NAM01"),
        ("spindle: R2", "spindle: r2", "NAM01"),
        ("container: beaker-600-low-form", "container: beaker-600-lowform", "NAM01"),
        ("at: viscosity_50", "at: viscosty_50", "NAM01"),
        ("status: draft", "status: drafft", "SCH04"),
        ("guard: required", "guard: unrequired", "SCH04"),
        ("unit: mPa·s", "unit: MPa·s", "SCH04"),
        ("statistic: single", "statistic: medan", "SCH04"),
        ("title:", "heading:", "SCH01"),
        ("fillmark: 1", "fillmark: 2", "SCH04"),
    ],
)
def test_what_would_be_a_guess_is_left(mended, right, wrong, code):
    done = mended(spoilt((right, wrong)))
    assert code in {d.code for d in done.after.diagnostics}
    assert ((), (), None) == (done.fixes, done.refused, done.held)
    assert done.before.source.text == done.after.source.text


def test_a_stated_factor_that_is_wrong_is_left(reference, compiled):
    wrong = compiled("TGF-VIS-003", ("speed: 10 rpm, read", "speed: 10 rpm, factor: 240 mPa·s/%, read"))
    assert "TRQ08" in {d.code for d in wrong.diagnostics}
    assert () == offers(wrong)


# 400 Pa·s·rpm at 12 rpm on a scale of 100: 0.333333 Pa·s for each percent, 33.3333 Pa·s full scale.
@pytest.mark.parametrize(
    ("stated", "right"),
    [
        ("factor: 0.3 Pa·s/%", "factor: 0.3333 Pa·s/%"),
        ("factor: 330 mPa·s/%", "factor: 333.3 mPa·s/%"),
        ("full_scale: 33 Pa·s", "full_scale: 33.33 Pa·s"),
        ("factor: 0.32 Pa·s/%", None),
        ("factor: 0.67 Pa·s/%", None),
        ("full_scale: 3.3 Pa·s", None),
    ],
)
def test_a_stated_figure_rounded_too_far_is_written_out(reference, edited, stated, right):
    # A draft at 12 rpm, so that the computed figure has digits to lose.
    data = edited(
        "TGF-VIS-003",
        ("status: released", "status: draft"),
        ("spindle: R4", "spindle: R5"),
        (
            "speed: 10 rpm, read: {after: 30 s, revolutions: 5 rev}",
            f"speed: 12 rpm, {stated}, read: {{after: 30 s}}",
        ),
    )
    before = compile_method(data, "x.yaml", reference, today=TODAY)
    assert "TRQ08" in {d.code for d in before.diagnostics}
    done = mend(before, reference, today=TODAY)
    text = done.after.source.text
    assert (stated if right is None else right) in text
    assert (right is not None) == ("TRQ08" not in {d.code for d in done.after.diagnostics})


def test_two_keys_that_may_stand_for_one_are_both_left(mended):
    done = mended(spoilt(("title:", "titel:"), ("revision: 1", "titlle: x\nrevision: 1")))
    assert () == done.fixes


def test_a_key_is_left_where_the_right_one_stands_already(mended):
    done = mended(spoilt(("revision: 1", "titel: x\nrevision: 1")))
    assert ((), ()) == (offers(done.before), done.refused)


def test_a_comma_that_parts_entries_in_braces_is_no_decimal_comma(mended):
    # YAML ends the value at the comma: what stands there is 1, and a key "5 %".
    done = mended(spoilt(("repeatability: 1.5 %", "repeatability: 1,5 %")))
    assert {"QTY01", "SCH01"} == {d.code for d in done.after.diagnostics}
    assert () == done.fixes


def test_what_has_been_waived_is_left(mended):
    waiver = (
        "waivers:\n  - {rule: TEM15, reason: The plant's display has no tenths., evidence: BBM-STUDY-1,"
        " risk: none, approved_by: N. Waters, expires: 2028-11-30}\n"
    )
    done = mended(spoilt(("38.0 °C ± 1.0 °C", "38 °C ± 1.0 °C")) + waiver)
    assert [("TEM15", "N. Waters")] == [
        (d.code, d.waived_by) for d in done.after.diagnostics if d.code == "TEM15"
    ]
    assert () == offers(done.before)


@pytest.mark.parametrize("text", ["", "a: [", "{{", "\x00", "- 1\n- 2\n", "3\n", "titel\n"])
def test_a_file_that_is_no_method_is_left(mended, text):
    done = mended(text)
    assert () == done.fixes
    assert done.before is done.after


# --- the table of spellings

UNITS_OF_NO_METHOD = {
    # No key of a method takes a torque.
    "Nm", "mNm", "µNm", "uNm", "J", "mJ", "µJ", "dyne·cm", "dynes·cm", "dyne-cm",
}  # fmt: skip
LEFT = {
    "MPa·s": "mega", "MPas": "mega", "ML": "mega", "Ml": "mega", "MM": "mega",
    "cps": "cycles per second", "cPs": "as cps", "CPS": "as cps", "CP": "the P may be the poise",
    "Pa/s": "a unit of something else", "mPa/s": "a unit of something else",
    "gr": "the grain", "g/l": "right, or off by 1000", "g/L": "right, or off by 1000",
    "µ": "a prefix", "c": "case", "k": "case", "S": "case", "H": "case", "G": "case", "%/k": "case",
}  # fmt: skip


def test_for_every_spelling_that_is_refused_it_is_decided_whether_it_is_mended():
    # The dots of r.p.m. have been read as dots of a product there.
    decided = CERTAIN | set(LEFT) | UNITS_OF_NO_METHOD | {"r·p·m."}
    assert set() == set(MISTAKES) - decided
    assert set() == CERTAIN & set(LEFT)


@pytest.mark.parametrize("written", sorted(CERTAIN))
def test_a_spelling_of_the_table_has_one_reading_in_every_kind_of_place(written):
    # Where a method takes quantities, it is mended as the message of the check advises, or not at all.
    right = {k: q for k in _kinds() if (q := quantity(f"7 {written}", k)) is not None}
    assert right
    for kind, now in right.items():
        with pytest.raises(QuantityError) as caught:
            parse(f"7 {written}", kind)
        assert caught.value.suggestion == now
        assert 7 == pytest.approx(float(parse(now, kind).number))


def _kinds() -> set[str]:
    schema = (schemas_folder() / "method.schema.json").read_text(encoding="utf-8")
    return {
        k for found in re.findall(r'"x-(?:quantity|toleranced)": "([^"]+)"', schema) for k in found.split("|")
    } | {"temperature-difference"}


@pytest.mark.parametrize(
    ("written", "right"),
    [
        ("0,5 Pa·s", "0.5 Pa·s"), ("0,500 Pa·s", "0.500 Pa·s"), ("12,5 Pa·s", "12.5 Pa·s"),
        ("1437,4 mPa·s", "1437.4 mPa·s"), ("-0,5 Pa·s", None),
        ("1,000 mPa·s", None), ("12,345 mPa·s", None), ("1,234,567 mPa·s", None), ("1.234,5 mPa·s", None),
        ("1,5,0 Pa·s", None), ("1000,500 mPa·s", None), (",5 Pa·s", None), ("5, Pa·s", None),
        ("0, 5 Pa·s", None),
        ("5 Pa·s", None), ("5 Pa.s", None), ("1,000 mPas", None), ("5", None), ("mPas", None), ("", None),
    ],
)  # fmt: skip
def test_a_comma_is_a_decimal_point_only_where_it_cannot_part_thousands(written, right):
    assert right == quantity(written, "viscosity")


_PLACES = {
    "viscosity": "mPa·s", "time": "min", "speed": "rpm", "temperature": "°C", "mass": "kg", "density": "g/mL",
    "length": "µm", "volume": "mL", "sensitivity": "%/K", "percent-of-full-scale": "% of full scale",
}  # fmt: skip


@given(st.sampled_from(sorted(_PLACES)), st.sampled_from(["8", "8.0", "0.50", "1.5e-3"]), st.data())
def test_a_unit_with_a_letter_lost_changed_or_swapped_is_restored_or_left(kind, number, data):
    unit = _PLACES[kind]
    at = data.draw(st.integers(0, len(unit) - 1))
    damaged = data.draw(
        st.sampled_from([
            unit[:at] + unit[at + 1 :],
            unit[:at] + unit[at].swapcase() + unit[at + 1 :],
            unit[:at] + data.draw(st.sampled_from("-.,/ xsCK°·")) + unit[at + 1 :],
            unit[:at] + unit[at : at + 2][::-1] + unit[at + 2 :],
        ])
    )  # fmt: skip
    now = quantity(f"{number} {damaged}", kind)
    if now is not None:
        assert parse(f"{number} {unit}", kind).value == parse(now, kind).value


@given(st.text(max_size=20), st.sampled_from(sorted(_PLACES)), st.booleans())
def test_no_text_breaks_the_mending_and_what_is_mended_can_be_read(text, kind, toleranced):
    now = quantity(text, kind, toleranced=toleranced)
    assert now is None or quantity(now, kind, toleranced=toleranced) is None


# --- nearness of words


@pytest.mark.parametrize(
    ("word", "known", "right"),
    [
        ("titel", ["title", "id"], "title"),
        ("ttle", ["title"], "title"),
        ("tilet", ["title"], None),
        ("requird", ["required", "not-used", "not-applicable"], "required"),
        ("reqired", ["required"], "required"),
        ("rqird", ["required"], None),
        ("unrequired", ["required"], None),
        ("medan", ["mean", "median"], None),
        ("Mean", ["mean", "median"], "mean"),
        ("ad", ["at"], None),
        ("AT", ["at"], "at"),
        ("rum", ["run"], None),
        ("tset", ["test", "rest"], None),
        ("", ["at", "title"], None),
        ("title", [], None),
    ],
)
def test_a_word_is_near_only_where_no_other_is(word, known, right):
    assert right == nearest(word, known)


# --- the net under it


def edit_of(source, old: str, new: str, path=("temperature", "room"), code="QTY01", *, key=False) -> Fix:
    start = source.text.index(old)
    return Fix(start, start + len(old), old, new, code, path, 1, "because", key)


def judged(reference, before_text: str, fix_of) -> str | None:
    before = compile_method(before_text.encode(), "m.yaml", reference)
    fix = fix_of(before.source)
    after = compile_method(edited(before_text, [fix]).encode(), "m.yaml", reference)
    return objection(before, after, [fix], reference)


def test_the_net_lets_a_right_edit_pass(reference):
    assert None is judged(reference, spoilt(("22 °C", "22 C")), lambda s: edit_of(s, "22 C", "22 °C"))


def test_the_net_refuses_an_edit_that_brings_a_finding(reference):
    wrong = spoilt(("22 °C", "22 C"))
    why = judged(reference, wrong, lambda s: edit_of(s, "22 C", "2222 °C"))
    assert "it would bring QTY02 at temperature.room" == why


def test_the_net_refuses_an_edit_that_mends_nothing(reference):
    assert "QTY01 would stay" == judged(
        reference, spoilt(("22 °C", "22 C")), lambda s: edit_of(s, "22 C", "23 C")
    )


def test_the_net_refuses_an_edit_that_changes_a_figure(reference):
    path = ("temperature", "target")
    wrong = spoilt(("38.0 °C ± 1.0 °C", "38 °C ± 1.0 °C"))
    why = judged(reference, wrong, lambda s: edit_of(s, "38 °C ± 1.0 °C", "38.5 °C ± 1.0 °C", path, "TEM15"))
    assert why is not None
    assert why.startswith("it would change ")


def test_the_net_refuses_an_edit_that_changes_something_else(reference):
    wrong = spoilt(("22 °C", "22 C"))
    why = judged(reference, wrong, lambda s: edit_of(s, "22 C", "22 °C\n  start: 20 °C"))
    assert "something else in the file would change" == why


def test_the_net_refuses_an_edit_that_breaks_the_file(reference):
    why = judged(reference, spoilt(("22 °C", "22 C")), lambda s: edit_of(s, "22 C", "[22 °C"))
    assert "the file could not be read any more" == why


def test_an_edit_the_net_refuses_does_not_keep_the_others_from_being_made(mended):
    # The value does not fit the key it would get.
    done = mended(
        spoilt(("title:", "titel:"), ("density: 1.05 g/mL", "densitty: heavy"), ("room: 22 °C", "room: 22 C"))
    )
    assert [("SCH01", "titel", "title"), ("QTY01", "22 C", "22 °C")] == told(done)
    assert [("densitty", "it would bring QTY01 at product.density")] == [
        (f.old, why) for f, why in done.refused
    ]
    assert ["SCH01"] == [d.code for d in done.after.diagnostics]


def test_of_edits_that_overlap_the_first_is_made():
    def fix(start, end, new):
        return Fix(start, end, "", new, "QTY01", (), 1, "")

    assert "aXef" == edited("abcdef", [fix(2, 5, "Y"), fix(1, 4, "X")])
    assert "XYef" == edited("abcdef", [fix(2, 4, "Y"), fix(0, 2, "X")])


def test_a_second_run_finds_nothing_to_do(mended):
    once = mended(spoilt(*LAYOUT))
    twice = mended(once.after.source.text)
    assert len(LAYOUT) == len(once.fixes)
    assert () == twice.fixes
    assert once.after.source.text == twice.after.source.text


@pytest.mark.parametrize("name", sorted(p.stem for p in (ROOT / "methods").glob("*.yaml")))
def test_nothing_is_mended_in_a_clean_method(reference, mended, name):
    done = mended((ROOT / "methods" / f"{name}.yaml").read_bytes())
    assert ((), (), None) == (done.fixes, done.refused, done.held)


# --- who may be mended


@pytest.mark.parametrize(
    ("status", "held"),
    [
        ("draft", None),
        ("in-review", None),
        ("released", "released"),
        ("superseded", "superseded"),
        ("withdrawn", "withdrawn"),
    ],
)
def test_a_method_people_work_by_is_not_changed_under_its_revision(reference, mended, status, held):
    done = mended(spoilt(("status: draft", f"status: {status}"), ("room: 22 °C", "room: 22 C")))
    assert held == done.held
    assert (0 if held else 1) == len(done.fixes)
    assert (0 if held else 1) == mendable(done.before, reference)
    assert (done.before.source.text == done.after.source.text) == (held is not None)


def test_a_status_under_a_misspelt_key_counts(mended, reference):
    done = mended(spoilt(("status: draft", "staus: released")))
    assert ("released", ()) == (done.held, done.fixes)
    assert 0 == mendable(done.before, reference)


# --- writing


@pytest.fixture
def broken(tmp_path, reference):
    """Give a draft with one fault on disk, and how it is mended in memory."""
    file = tmp_path / "m.yaml"
    file.write_bytes(spoilt(("room: 22 °C", "room: 22 C")).encode())
    done = mend(compile_method(file.read_bytes(), str(file), reference), reference)
    assert 1 == len(done.fixes)
    return file, done


def test_permissions_stay_and_links_are_followed(tmp_path, broken):
    file, done = broken
    file.chmod(0o640)
    link = tmp_path / "link.yaml"
    link.symlink_to(file)
    write(replace(done, before=replace(done.before, file=str(link))))
    assert link.is_symlink()
    assert TEXT.encode() == file.read_bytes()
    assert 0o640 == file.stat().st_mode & 0o777


@pytest.mark.parametrize("moment", ["replace", "fsync", "chmod"])
def test_an_interrupted_write_leaves_the_old_file(tmp_path, broken, monkeypatch, moment):
    file, done = broken
    before = file.read_bytes()

    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(os if moment == "fsync" else Path, moment, stop)
    with pytest.raises(KeyboardInterrupt):
        write(done)
    assert before == file.read_bytes()
    assert [] == leftovers(tmp_path)


def test_a_file_changed_meanwhile_is_left(broken):
    file, done = broken
    file.write_text("mine: now\n", encoding="utf-8")
    with pytest.raises(OSError, match="changed since"):
        write(done)
    assert "mine: now\n" == file.read_text(encoding="utf-8")


def test_a_read_only_file_is_left(broken):
    file, done = broken
    before = file.read_bytes()
    file.chmod(0o444)
    with pytest.raises(PermissionError, match="read-only"):
        write(done)
    assert before == file.read_bytes()


def test_the_diff_shows_the_changed_lines_and_no_line_ends(mended):
    done = mended(spoilt(("room: 22 °C", "room: 22 C")).replace("\n", "\r\n"), "methods/m.yaml")
    lines = diff(done)
    assert ["--- methods/m.yaml\tas it is", "+++ methods/m.yaml\tmended"] == lines[:2]
    assert ["-  room: 22 C", "+  room: 22 °C"] == [line for line in lines[2:] if line[0] in "+-"]
    assert not any("\r" in line or "\n" in line for line in lines)
    assert [] == diff(mended(TEXT))


@pytest.mark.parametrize("end", ["", "\n"])
def test_the_diff_ends_with_the_last_line(mended, end):
    text = TEXT[: TEXT.index("notes:")].rstrip("\n") + end
    assert [" retention: 1 year"] == diff(mended(spoilt(("training:", "trainng:"), text=text)))[-1:]


# --- from the command line


def fillmark(*arguments: str, cwd: Path):
    env = {
        k: v
        for k, v in os.environ.items()
        if k not in ("NO_COLOR", "FORCE_COLOR", "FILLMARK_ASCII", "COLUMNS")
    }
    command = [sys.executable, "-m", "fillmark", "check", *arguments, "--today", "2027-01-15"]
    return subprocess.run(
        command, cwd=cwd, env=env | {"PYTHONIOENCODING": "utf-8"}, check=False, capture_output=True,
        encoding="utf-8", stdin=subprocess.DEVNULL,
    )  # fmt: skip


@pytest.fixture
def lab(tmp_path):
    (tmp_path / "methods").mkdir()
    return tmp_path


def put(lab: Path, *changes: tuple[str, str], text: str = TEXT, name: str = "m.yaml") -> Path:
    file = lab / "methods" / name
    file.write_bytes(spoilt(*changes, text=text).encode())
    return file


UNIT = ("room: 22 °C", "room: 22 C")
NAME = ("spindle: R2", "spindle: R55")


def test_check_says_how_many_can_be_mended_and_how(lab):
    put(lab, UNIT, NAME)
    done = fillmark("methods", cwd=lab)
    assert 1 == done.returncode
    assert done.stdout.endswith(
        "2 errors in 1 file.\n1 of these can be mended: fillmark check --fix --preview methods\n"
    )


def test_check_says_nothing_where_none_can_be_mended(lab):
    put(lab, NAME)
    assert fillmark(cwd=lab).stdout.endswith("\n1 error in 1 file.\n")


def test_preview_prints_the_diff_alone_and_writes_nothing(lab):
    file = put(lab, UNIT, NAME)
    before = file.read_bytes()
    done = fillmark("--fix", "--preview", cwd=lab)
    assert 1 == done.returncode
    assert done.stdout.startswith("--- methods/m.yaml\tas it is\n+++ methods/m.yaml\tmended\n@@ ")
    assert "\n-  room: 22 C\n+  room: 22 °C\n" in done.stdout
    assert "Nothing was written. What --fix leaves: 1 error in 1 file.\n" == done.stderr
    assert before == file.read_bytes()


def test_fix_tells_what_it_changed_and_what_is_left(lab):
    file = put(lab, UNIT, NAME)
    done = fillmark("--fix", cwd=lab)
    assert 1 == done.returncode
    line = 1 + TEXT[: TEXT.index("room: 22 °C")].count("\n")
    assert done.stdout.startswith(f"mended methods/m.yaml:{line}: 22 C is now 22 °C (QTY01, ")
    assert re.search(r"^methods/m\.yaml:\d+:\d+: error NAM01 ", done.stdout, re.MULTILINE)
    assert spoilt(NAME).encode() == file.read_bytes()


def test_fix_gives_0_where_nothing_is_left(lab):
    file = put(lab, UNIT)
    done = fillmark("--fix", cwd=lab)
    assert (0, "") == (done.returncode, done.stderr)
    assert done.stdout.endswith("No findings in 1 file.\n")
    assert TEXT.encode() == file.read_bytes()
    again = fillmark("--fix", cwd=lab)
    assert (0, "No findings in 1 file.\n", "There is nothing that --fix can mend.\n") == (
        again.returncode,
        again.stdout,
        again.stderr,
    )


def test_json_stays_json(lab):
    put(lab, UNIT, NAME)
    done = fillmark("--fix", "--format", "json", cwd=lab)
    assert "NAM01" in json.dumps(json.loads(done.stdout))
    assert done.stderr.startswith("mended methods/m.yaml:")


@pytest.mark.parametrize("wrong", [["--preview"], ["--fix", "--preview", "--format", "json"]])
def test_a_wrong_use_is_refused(lab, wrong):
    file = put(lab, UNIT)
    before = file.read_bytes()
    done = fillmark(*wrong, cwd=lab)
    assert (2, "") == (done.returncode, done.stdout)
    assert "--preview shows" in done.stderr
    assert before == file.read_bytes()


@pytest.mark.parametrize("preview", [[], ["--preview"]])
def test_a_released_method_is_refused_and_the_others_are_mended(lab, preview):
    released = (ROOT / "methods" / "MCW-VIS-014.yaml").read_text(encoding="utf-8")
    held = put(lab, ("23.0 °C ± 0.5 °C", "23 °C ± 0.5 °C"), text=released, name="released.yaml")
    before = held.read_bytes()
    put(lab, UNIT)
    done = fillmark("--fix", *preview, cwd=lab)
    assert 2 == done.returncode
    assert "methods/released.yaml is not mended: its status is released. Raise the revision" in done.stderr
    assert before == held.read_bytes()
    assert "22 °C" in done.stdout
    assert "released.yaml\tmended" not in done.stdout


def test_a_released_method_that_needs_no_mending_is_no_trouble(lab):
    released = (ROOT / "methods" / "MCW-VIS-014.yaml").read_text(encoding="utf-8")
    put(lab, text=released, name="released.yaml")
    put(lab, UNIT)
    assert 0 == fillmark("--fix", cwd=lab).returncode


def test_a_read_only_file_is_told_and_gives_2(lab):
    file = put(lab, UNIT)
    file.chmod(0o444)
    before = file.read_bytes()
    done = fillmark("--fix", cwd=lab)
    assert 2 == done.returncode
    assert done.stderr.startswith("methods/m.yaml cannot be mended: it is read-only. It is as it was;")
    assert "error QTY01" in done.stdout
    assert "is now" not in done.stdout
    assert before == file.read_bytes()


def test_two_files_with_one_id_are_still_told(lab):
    put(lab, UNIT)
    put(lab, name="n.yaml")
    done = fillmark("--fix", cwd=lab)
    assert 1 == done.returncode
    assert 2 == done.stdout.count("error LIB01 ")


def test_a_refused_edit_is_told(lab):
    put(lab, ("density: 1.05 g/mL", "densitty: heavy"))
    done = fillmark("--fix", cwd=lab)
    assert re.search(
        r"^not mended methods/m\.yaml:\d+: densitty; with density it would bring QTY01 at product\.density$",
        done.stderr,
        re.MULTILINE,
    )
    assert 1 == done.returncode
