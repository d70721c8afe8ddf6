"""`fillmark form` and the forms of `fillmark build`."""

import pytest
from click.testing import CliRunner

from fillmark.cli import cli


@pytest.fixture
def run(tmp_path):
    def call(*arguments):
        return CliRunner().invoke(cli, [*arguments, "--out", str(tmp_path)])

    return call


def names(folder):
    return sorted(p.name for p in folder.iterdir())


def test_scouting_from_a_method_file(run, tmp_path, demo_methods):
    done = run(
        "form", "scouting", str(demo_methods / "MCW-VIS-014.yaml"), "--format", "html", "--paper", "both"
    )
    assert 0 == done.exit_code, done.output
    assert ["scouting-MCW-VIS-014-A4.html", "scouting-MCW-VIS-014-Letter.html"] == names(tmp_path / "forms")


def test_scouting_without_a_method(run, tmp_path):
    done = run(
        "form", "scouting", "--product", "Lime wash", "--instrument", "bench-8", "--spindle", "R4", "--speed", "10 rpm",
        "--temperature", "23.0 °C", "--format", "html",
    )  # fmt: skip
    assert 0 == done.exit_code, done.output
    assert ["scouting-bench-8-R4-A4.html"] == names(tmp_path / "forms")
    text = (tmp_path / "forms" / "scouting-bench-8-R4-A4.html").read_text(encoding="utf-8")
    assert "no method yet" in text
    assert "25.0\u00a0°C" in text


def test_what_is_missing_is_wrong_use(run):
    done = run("form", "scouting")
    assert 2 == done.exit_code
    assert "needs the spring" in done.output


def test_a_wall_card_of_one_and_of_all(run, tmp_path):
    assert 0 == run("form", "wall-card", "--instrument", "bench-2", "--format", "html").exit_code
    assert ["wall-card-bench-2-A4.html"] == names(tmp_path / "forms")
    assert 0 == run("form", "wall-card", "--format", "html").exit_code
    assert 15 == len(names(tmp_path / "forms"))
    assert 2 == run("form", "wall-card", "--instrument", "bench-99").exit_code


def test_a_transfer_with_a_seed_is_drawn_by_it(run, tmp_path, demo_methods):
    file = str(demo_methods / "TGF-VIS-003.yaml")
    assert 0 == run("form", "transfer", file, "--seed", "7", "--format", "html").exit_code
    assert ["TGF-VIS-003-r2-transfer-seed-7-A4.html"] == names(tmp_path / "forms")
    assert "seed <b>7</b>" in (tmp_path / "forms" / names(tmp_path / "forms")[0]).read_text(encoding="utf-8")
    assert 2 == run("form", "transfer", file, "--seed", "-1").exit_code


def test_a_transfer_of_a_method_with_errors_is_refused(run, tmp_path, edited):
    bad = tmp_path / "bad.yaml"
    bad.write_bytes(edited("MCW-VIS-014", ("speed: 20 rpm", "speed: 100 rpm")))
    done = run("form", "transfer", str(bad))
    assert 1 == done.exit_code
    assert "TRQ" in done.output
    assert not (tmp_path / "forms").exists()


def test_the_forms_of_a_method_come_with_a_build(run, tmp_path, demo_methods):
    done = run(
        "build", str(demo_methods / "QAP-VIS-002.yaml"), "--document", "verification-log",
        "--document", "investigation", "--document", "transfer", "--format", "html", "--jobs", "1",
    )  # fmt: skip
    assert 0 == done.exit_code, done.output
    assert [
        f"QAP-VIS-002-r4-{kind}-A4.html" for kind in ("investigation", "transfer", "verification-log")
    ] == names(tmp_path / "QAP-VIS-002")
