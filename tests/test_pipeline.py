"""The stages in a row: what stops where, and that nothing a file can hold brings a trace."""

import random

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fillmark.pipeline import compile_method, used_twice

DEMOS = ("BBM-VIS-007", "LMT-VIS-021", "MCW-VIS-014", "QAP-VIS-002", "TGF-VIS-003")


@pytest.mark.parametrize("name", DEMOS)
def test_a_demo_is_clean(compiled, name):
    """No finding of any weight stands unwaived; the demonstrations are what good looks like."""
    c = compiled(name)
    assert [] == [(d.code, d.message) for d in c.diagnostics if d.waived_by is None]
    assert c.clean


def test_a_file_that_is_no_yaml_stops_at_the_first_stage(reference):
    c = compile_method(b"a: [1, 2", "x.yaml", reference)
    assert (None, None, False) == (c.method, c.figures, c.clean)
    assert all(d.code.startswith("YML") for d in c.diagnostics)


def test_a_schema_error_stops_before_the_rules(compiled):
    c = compiled("MCW-VIS-014", ("guard: required", "guard: maybe"), ("speed: 20 rpm", "speed: 100 rpm"))
    assert ["SCH04"] == [d.code for d in c.diagnostics]


def test_two_files_of_one_id_both_stop(compiled):
    one, two = compiled("MCW-VIS-014"), compiled("MCW-VIS-014")
    three = compiled("TGF-VIS-003")
    renamed = type(two)(**{**{f: getattr(two, f) for f in two.__slots__}, "file": "copy.yaml"})
    done = used_twice([one, renamed, three])
    assert [False, False, True] == [c.clean for c in done]
    assert "copy.yaml" in done[0].diagnostics[-1].message


@pytest.mark.parametrize("name", DEMOS)
def test_findings_do_not_depend_on_the_order_of_keys(compiled, reference, name, edited):
    bad = (("R, readout", "2R, readout"),)
    data = yaml.load(edited(name, *bad), Loader=yaml.BaseLoader)
    for key in ("fillmark", "revision"):
        data[key] = int(data[key])
    text = edited(name, *bad).decode()
    blocks = _blocks(text)
    random.Random(7).shuffle(blocks)
    shuffled = compile_method("".join(blocks).encode(), "x", reference)
    plain = compile_method(text.encode(), "x", reference)
    assert plain.diagnostics
    assert sorted((d.code, d.path, d.message) for d in plain.diagnostics) == sorted(
        (d.code, d.path, d.message) for d in shuffled.diagnostics
    )


def _blocks(text):
    """Split a method into its top-level keys with what belongs to each."""
    blocks = []
    for line in text.splitlines(keepends=True):
        if blocks and (line[0] in " \n#" or line.startswith("-")):
            blocks[-1] += line
        else:
            blocks.append(line)
    return blocks


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.binary(max_size=300))
def test_any_bytes_give_data_or_diagnostics(reference, data):
    c = compile_method(data, "x.yaml", reference)
    assert c.diagnostics or c.method


SCALARS = (
    "0.0001 rpm", "10000 rpm", "0.001 mPa·s", "10000000 Pa·s", "0.001 %", "0 %", "1000 %/K", "0.01 mm", "10 m",
    "0.001 s", "1 L", "0 K", "-100 °C ± 0 °C", "500 °C ± 400 °C", "1 µm", "0.01 g/mL", "x", "1", "true", "[]", "{}",
    "R1", "U1", "bar-27", "cone-0.8", "coaxial-25.1", "jar-60", "plate-cup", "8R", "L", "depth", "gap", "above-top",
    "shaft-mark", "helical", "dial", "newtonian", "required", "not-used",
)  # fmt: skip


@settings(max_examples=400, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_no_value_in_any_place_brings_a_trace(reference, edited, data):
    """Put strange values where a method has sensible ones: the rules and the physics must take them all."""
    name = data.draw(st.sampled_from(DEMOS))
    lines = edited(name).decode().splitlines()
    for _ in range(data.draw(st.integers(1, 4))):
        n = data.draw(st.integers(0, len(lines) - 1))
        key, colon, _ = lines[n].partition(": ")
        if data.draw(st.booleans()) and colon:
            lines[n] = f"{key}: {data.draw(st.sampled_from(SCALARS))}"
        else:
            del lines[n]
            if not lines:
                break
    c = compile_method("\n".join(lines).encode(), "x.yaml", reference)
    assert c.diagnostics is not None
