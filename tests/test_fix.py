"""Mending: only what has one right spelling, only at its place, and nothing else of the file."""

import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark import publish
from fillmark.fix import CERTAIN, Fix, diff, edited, mend, mendable, nearest, objection, offers, quantity, write
from fillmark.pipeline import compile_method
from fillmark.quantities import _MISTAKES, QuantityError, parse
from fillmark.read import Source

ROOT = Path(__file__).parents[1]
DRAFT = "BBM-VIS-007"


@pytest.fixture
def mended(compiled, reference):
    """Mend the draft of the demonstration with edits: `mended((right, wrong), ...)`."""

    def mend_edited(*changes: tuple[str, str], method: str = DRAFT):
        return mend(compiled(method, *changes), reference)

    return mend_edited


@pytest.fixture
def text():
    return (ROOT / "methods" / f"{DRAFT}.yaml").read_bytes().decode()


@pytest.fixture
def on_disk(tmp_path, reference):
    """Write bytes to a file and compile it."""

    def compile_file(data: bytes, name: str = "m.yaml"):
        file = tmp_path / name
        file.write_bytes(data)
        return file, compile_method(data, str(file), reference)

    return compile_file


def told(mended) -> list[tuple[str, str, str]]:
    return [(f.code, f.old, f.new) for f in mended.fixes]


# --- what is mended, and nothing else of the file


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("lower: 300 mPa·s", "lower: 300 mPas"),
        ("lower: 300 mPa·s", "lower: 300mPa-s"),
        ("lower: 300 mPa·s", "lower: 300 \u00a0centipoise"),
        ("speed: 50 rpm", "speed: 50 RPM"),
        ("after: 30 s", "after: 30 sec"),
        ("open_time: 3 min", "open_time: 3 minutes"),
        ("temperature_sensitivity: 3.0 %/K", "temperature_sensitivity: 3.0 % per K"),
        ("room: 22 °C", "room: 22 C"),
        ("target: 38.0 °C ± 1.0 °C", "target: 38.0 deg C ± 1.0 K"),
        ("volume: 500 mL ± 10 mL", "volume: 500 cc +/- 10 cc"),
        ("repeatability: 1.5 %", "repeatability: 1,5 percent"),
        ("density: 1.05 g/mL", "density: 1,05 g/mL"),
        ("largest_particle: 200 µm", "largest_particle: 200 microns"),
        ("increment: 4 mPa·s", "increment: 4 mPas"),
    ],
)
def test_a_unit_or_comma_with_one_meaning_is_mended_and_the_method_is_clean_again(mended, text, right, wrong):
    done = mended((right, wrong))
    assert {"QTY01"} == {f.code for f in done.fixes}
    assert () == done.after.diagnostics
    # The value is that of the untouched method, and outside the value no character differs.
    start = text.index(right) + right.index(" ") + 1
    assert text[:start] == done.after.source.text[:start]
    rest = text[text.index(right) + len(right) :]
    assert done.after.source.text.endswith(rest)
    untouched = compile_method(text.encode(), f"{DRAFT}.yaml", done.before.method and done.before.method.reference or REFERENCE(done))
    assert {k: f.value for k, f in untouched.figures.items()} == {k: f.value for k, f in done.after.figures.items()}
