"""The torque bar and the figures as text."""

import pytest
from click.testing import CliRunner

from fillmark.cli import cli
from fillmark.documents.pictures import Zones
from fillmark.show import show, torque_bar_text
from fillmark.terminal import plain_ascii

EDGES = Zones(10.0, 20.0, 95.0, 100.0, ("10 %", "20 %", "95 %", "100 %"))
WINDOW = {"lower": 40.0, "target": 50.0, "upper": 60.0, "lower_worst": 38.0, "upper_worst": 62.0}


def test_each_sign_stands_at_its_percent():
    # With 101 signs a sign is a percent.
    bar, scale = torque_bar_text(WINDOW, EDGES, 101)
    signs = bar[1:102]
    assert {"L": 40, "T": 50, "U": 60} == {sign: signs.index(sign) for sign in "LTU"}
    assert "#" * 10 + ":" * 11 + " " * 17 + "--" == signs[:40].replace("#:", "#:")
    assert "#" * 6 == signs[95:]
    assert " " * 32 == signs[63:95]
    assert bar.endswith("|")
    for number in ("20", "40", "60", "80"):
        assert int(number) == pytest.approx(scale.index(number), abs=1)


def test_what_lies_beyond_is_told():
    bar, _ = torque_bar_text({"lower": 75.0, "target": 100.0, "upper": 125.0}, EDGES, 51)
    assert bar.endswith("T>")
    assert "U" not in bar
    assert "L" == bar[1 + round(75 * 50 / 100)]


def test_limits_at_one_place_and_a_worst_case_under_nothing():
    bar, _ = torque_bar_text({"lower": 0.5, "upper": 0.6, "lower_worst": -0.5, "upper_worst": 1.6}, EDGES, 51)
    assert bar.startswith("|U")
    assert 53 == len(bar)


@pytest.mark.parametrize("width", [40, 80, 110, 200])
def test_every_step_and_every_figure_is_shown(compiled, width):
    one = compiled("MCW-VIS-014")
    text = show(one.method, one.figures, width).replace("\u00a0", " ")
    assert "viscosity_2, 2 rpm: lower 22.0 %, upper 48.0 %; worst case 20.8–49.5 %" in text
    assert "viscosity_20, 20 rpm: lower 40.0 %, target 50.0 %, upper 60.0 %; worst case 38.6–61.6 %" in text
    for figure in one.figures.values():
        assert f"{figure.title}: {figure.text}   [{figure.formula}]".replace("\u00a0", " ") in text
    assert max(len(line) for line in text.splitlines() if line.startswith("|")) <= max(width, 42)
    assert plain_ascii(text).isascii()


def test_the_command_shows_a_method(demo_methods):
    done = CliRunner().invoke(cli, ["show", str(demo_methods / "QAP-VIS-002.yaml")])
    assert 0 == done.exit_code
    assert "=====T=====" in done.output
    assert "Full-scale viscosity: 50 Pa·s   [FSR = C / N]" in done.output


def test_a_file_that_is_no_method_shows_its_faults(tmp_path, demo_methods):
    file = tmp_path / "x.yaml"
    file.write_text(
        (demo_methods / "QAP-VIS-002.yaml").read_text(encoding="utf-8").replace("5 rpm", "5 furlongs"),
        encoding="utf-8",
    )
    done = CliRunner().invoke(cli, ["show", str(file)])
    assert 1 == done.exit_code
    assert "furlongs" in done.output
