"""`fillmark packs`: packs for a class, as a user sees it."""

import errno

import pytest
from click.testing import CliRunner

from fillmark import printing
from fillmark.cli import cli
from fillmark.training import packs

METHOD = "MCW-VIS-014"


@pytest.fixture
def run(laboratory, monkeypatch):
    """Run the command in the laboratory's folder; the pages hold nothing but their stamp."""
    monkeypatch.chdir(laboratory)
    monkeypatch.setattr(printing, "lay_out", lambda html, paper: html)  # noqa: ARG005 - as the real one
    monkeypatch.setattr(printing, "stamped", lambda laid, stamp: stamp.encode())  # noqa: ARG005 - idem

    def call(names, *arguments):
        file = laboratory / "names.csv"
        file.write_bytes(names)
        return CliRunner().invoke(
            cli, ["packs", METHOD, str(file), "--out", "packs", "--today", "2026-12-02", *arguments]
        )

    return call


def test_a_class_gets_its_packs_and_an_index(run, laboratory):
    done = run(b"name,id\nAna Lind,1\nBo Ek,2\n")
    assert 0 == done.exit_code, done.output
    assert "2 packs, index.csv and the answers" in done.output
    assert {
        "001-ana-lind-MCW-VIS-014-r3.pdf", "002-bo-ek-MCW-VIS-014-r3.pdf", "answers-MCW-VIS-014-r3.pdf", "index.csv",
    } == {p.name for p in (laboratory / "packs").iterdir()}  # fmt: skip


def test_lines_left_out_are_told_and_the_others_made(run, laboratory):
    done = run(b"name\nAna Lind\nAna Lind\n\xe2\x80\xaex\n")
    assert 1 == done.exit_code
    assert "PCK04" in done.output
    assert "PCK03" in done.output
    assert 1 == len(list((laboratory / "packs").glob("0*.pdf")))


def test_a_list_of_nobody_makes_nothing(run, laboratory):
    done = run(b"surname\nLind\n")
    assert 2 == done.exit_code
    assert "PCK02" in done.output
    assert not (laboratory / "packs").exists()


def test_a_name_cannot_leave_the_folder(run, laboratory):
    assert 0 == run(b"name\n../../evil\n/etc/passwd\n").exit_code
    assert not list(laboratory.parent.glob("*evil*"))
    assert 2 == len(list((laboratory / "packs").glob("0*.pdf")))


@pytest.mark.usefixtures("run")
def test_a_full_disk_is_told_with_how_far_it_came(laboratory, monkeypatch, through_main):
    def full(path, content):
        if path.name.startswith("002"):
            raise OSError(errno.ENOSPC, "No space left on device", str(path))

    monkeypatch.setattr(packs, "write_whole", full)
    file = laboratory / "names.csv"
    file.write_text("name\nAna\nBo\n", encoding="utf-8")
    code, told = through_main("packs", METHOD, file, "--out", laboratory / "packs", "--today", "2026-12-02")
    assert 2 == code
    assert "No space left on device. 1 of 2 packs are there" in told
