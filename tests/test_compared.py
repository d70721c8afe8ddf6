"""A comparison as text, as JSON and as rows for paper."""

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from fillmark.compare import compare
from fillmark.compared import (
    WIDTH,
    compared_json,
    compared_text,
    figure_rows,
    history_rows,
    rows,
)
from fillmark.pipeline import compile_method

ROOT = Path(__file__).parents[1]
PAINT, GEL, JAR, SAUCE = "MCW-VIS-014", "QAP-VIS-002", "LMT-VIS-021", "TGF-VIS-003"
SPEED = ("speed: 20 rpm, read: {after: 60 s}", "speed: 10 rpm, read: {after: 60 s}")
OWN = "coefficient: {full_scale: 410 Pa·s·rpm, guard: not-used, evidence: X-1, container: beaker-600-low-form}\n"
JAR_95 = "container: {label: wide jar, kind: beaker, inside_diameter: 95 mm, height: 118 mm}\n"
EDITS = {
    "nothing": (PAINT, ()),
    "prose": (PAINT, (("The guard belongs", "This guard belongs"),)),
    "comment": (PAINT, (("spindle: R5\n", "spindle: R5 # disc\n"),)),
    "speed": (PAINT, (SPEED,)),
    "much": (PAINT, (
        SPEED, ("verification:\n", f"{OWN}verification:\n"), ("guard: required\n", "guard: not-used\n"),
        ("retention: 10 years\n", ""), ("container: beaker-600-low-form\n", JAR_95), ("count: 2", "count: 3"),
        ("Stir 30 turns", "Stir 50 turns"),
    )),
    "spring": (GEL, (("{spring: R,", "{spring: 2R,"),)),
    "waiver": (JAR, (("spindle: R6", "spindle: R7"),)),
}  # fmt: skip


@pytest.fixture(scope="module")
def compared(compiled):
    def of(name):
        method, changes = EDITS[name]
        return compare(compiled(method), compiled(method, *changes))

    return of


@pytest.fixture(scope="module")
def schema():
    return Draft202012Validator(
        json.loads((ROOT / "schemas/comparison.schema.json").read_text(encoding="utf-8"))
    )


@pytest.mark.parametrize("name", EDITS)
def test_text_keeps_to_its_width_and_to_ascii_where_asked(compared, name):
    for ascii_only in (False, True):
        text = compared_text(compared(name), ascii_only=ascii_only)
        assert [] == [line for line in text.splitlines() if len(line) > WIDTH or line != line.rstrip()]
        assert text.isascii() or not ascii_only


@pytest.mark.parametrize("name", EDITS)
def test_json_has_the_shape_of_its_schema(compared, schema, name):
    assert [] == [e.message for e in schema.iter_errors(json.loads(compared_json(compared(name))))]


def test_every_part_of_the_schema_is_described(schema):
    def walk(node):
        yield node
        for inner in node.get("properties", {}).values():
            yield from walk(inner)
        if "items" in node:
            yield from walk(node["items"])

    nodes = list(walk(schema.schema))
    assert len(nodes) > 80
    assert [] == [n for n in nodes if not n.get("description")]


def test_text_says_what_changed_and_what_follows(compared):
    text = compared_text(compared("speed"), ascii_only=False)
    assert "  run.viscosity_20.speed: was 20 rpm, now 10 rpm [line 54]\n" in text
    assert "viscosity_20: history broken, draw a line on the chart; speed 10 rpm instead of 20 rpm" in text
    assert "error CMP02 revision-not-raised" in text
    row = next(line for line in text.splitlines() if "viscosity_20: Full-scale viscosity" in line)
    assert ["20", "Pa·s", "40", "Pa·s", "×", "2"] == row.split()[-6:]
    assert text.index("To act on:") > text.index("Results on one chart:") > text.index("What it does")


def test_text_of_nothing(compared):
    text = compared_text(compared("nothing"), ascii_only=False)
    assert text.endswith("Nothing changed: the two say the same in the same words.")


def test_text_of_a_comment(compared):
    text = compared_text(compared("comment"), ascii_only=False)
    assert "the whole file" in text
    assert "Results on one chart" not in text


def test_two_methods_are_told_first(compiled):
    text = compared_text(compare(compiled(PAINT), compiled(SAUCE)), ascii_only=False)
    assert text.startswith(f"These are two methods, {PAINT} and {SAUCE}")


def test_the_name_of_a_file_cannot_steer_the_terminal(compiled, edited, reference):
    other = compile_method(edited(PAINT, SPEED), "\x1b[31mred\u202e.yaml", reference)
    text = compared_text(compare(compiled(PAINT), other), ascii_only=False)
    assert "red" in text
    assert [] == [c for c in text if not c.isprintable() and c != "\n"]


def test_rows_for_paper(compared):
    c = compared("speed")
    assert ("run.viscosity_20.speed", "Speed", "20 rpm", "10 rpm", "parameter") == rows(c)[0]
    assert ("viscosity_20: Full-scale viscosity", "20 Pa·s", "40 Pa·s", "× 2", "") == figure_rows(c)[0]
    assert ("viscosity_20", "broken", "speed 10 rpm instead of 20 rpm", "") == history_rows(c)[0]
    much = compared("much")
    order = [r[-1] for r in rows(much)]
    assert order == sorted(order, key=("calculation", "geometry", "parameter", "editorial").index)
    assert {len(r) for r in figure_rows(much)} == {5}
