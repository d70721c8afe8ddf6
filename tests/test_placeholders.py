"""Names in braces: what they stand for, and what nothing stands for."""

import pytest

from fillmark.placeholders import fill, known_names, names_in, value_of

PAINT = "MCW-VIS-014"


@pytest.fixture(scope="module")
def paint(compiled):
    """Method and figures of the paint."""
    found = compiled(PAINT)
    return found.method, found.figures


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("temperature.target", "23.0 °C ± 0.5 °C"),  # a value, as the author wrote it
        ("run.viscosity_20.speed", "20 rpm"),  # an entry of a list, by its name
        ("specification.index.lower", "5.5"),  # an entry of a list, by its result
        ("run.viscosity_20.read.after", "60 s"),
        ("spindle", "R5"),
        ("revision", "3"),
        ("demonstration", "yes"),
        ("run.viscosity_2.revolutions", "5 revolutions"),  # a figure: 2 rpm · 150 s / 60
        ("run.viscosity_20.full_scale", "20 Pa·s"),  # a figure: 400 Pa·s·rpm / 20 rpm
        ("run.viscosity_21.speed", None),
        ("run", None),
        ("temperature", None),
        ("temperature.target.value", None),
        ("equipment.0", None),
        ("", None),
    ],
)
def test_what_a_name_stands_for(name, expected, paint):
    assert expected == value_of(name, *paint)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("at {{temperature.target}}", ["temperature.target"]),
        ("{{ spindle }} and {{revision}}", ["spindle", "revision"]),
        ("{spindle} {{}} }}{{", [""]),
        ("{{a}}{{b}}", ["a", "b"]),
        ("{{{a}}}", ["a"]),
        ("nothing", []),
    ],
)
def test_the_names_a_text_asks_for(text, expected):
    assert expected == names_in(text)


def test_a_text_is_filled_and_an_unknown_name_stays(paint):
    text = "Read {{ spindle }} at {{run.viscosity_20.read_at}}, not {{run.x}}."
    assert "Read R5 at 60 s, not {{run.x}}." == fill(text, *paint)


def test_every_known_name_stands_for_something(paint):
    names = list(known_names(*paint))
    assert 50 < len(names)
    assert [] == [n for n in names if value_of(n, *paint) is None]
    assert {"temperature.target", "run.viscosity_20.speed", "accuracy"} <= set(names)
