"""`fillmark issue`: numbered copies, as a user sees them."""

import json

import pytest
from click.testing import CliRunner

from fillmark.cli import cli
from fillmark.printing import PrintingUnavailable
from fillmark.releases import copies
from fillmark.releases.register import read

METHOD = "MCW-VIS-014"


@pytest.fixture
def run(laboratory, monkeypatch):
    """Run the command in the laboratory's folder; the papers hold nothing but a word."""
    monkeypatch.chdir(laboratory)
    monkeypatch.setattr(
        copies, "printed",
        lambda one, copy: (copies.Paper(f"copy-{copy.number}-{copy.prints}.pdf", b"x"),),  # noqa: ARG005 - as the real one
    )  # fmt: skip

    def call(*arguments, at="2026-12-02T10:00:00+01:00"):
        return CliRunner().invoke(cli, ["issue", *arguments, "--at", at])

    return call


def test_copies_are_issued_and_told(run, laboratory):
    done = run(METHOD, "--to", "Bench 1", "--to", "Bench 2", "--by", "Q. Keeper")
    assert 0 == done.exit_code, done.output
    assert "copy 2 of 2 of MCW-VIS-014 revision 3 for Bench 2, valid until 2027-01-01" in done.output
    assert {"copy-1-1.pdf", "copy-2-1.pdf"} == {p.name for p in (laboratory / "out" / "copies").iterdir()}
    assert 2 == len(read(laboratory).of_kind("issue"))


def test_count_gives_one_holder_several(run, laboratory):
    assert 0 == run(METHOD, "--to", "Bench 1", "--count", "3", "--by", "K. M.").exit_code
    assert [(1, 3), (2, 3), (3, 3)] == [
        (e.data["copy"], e.data["of"]) for e in read(laboratory).of_kind("issue")
    ]


def test_an_operator_without_the_level_is_warned_of(run):
    done = run(METHOD, "--to", "Ana Lind", "--operator", "--by", "Q. Keeper")
    assert 1 == done.exit_code
    assert "warning: REG16 Ana Lind holds level 0 of the 2 asked for" in done.output
    # A bench has no level to look at.
    assert 0 == run(METHOD, "--to", "Bench 1", "--by", "Q. Keeper").exit_code


def test_a_reprint_needs_a_reason(run):
    run(METHOD, "--to", "Bench 1", "--by", "Q. Keeper")
    assert 2 == run(METHOD, "--reprint", "1", "--by", "Q. Keeper").exit_code
    done = run(METHOD, "--reprint", "1", "--reason", "coffee", "--by", "Q. Keeper")
    assert 0 == done.exit_code, done.output
    assert "print 2: destroy the earlier one" in done.output


def test_the_list_marks_what_is_to_be_fetched(run):
    run(METHOD, "--to", "Bench 1", "--by", "Q. Keeper")
    assert 0 == run("--list").exit_code
    later = run("--list", METHOD, at="2027-01-02T10:00:00+01:00")
    assert 1 == later.exit_code
    assert "EXPIRED" in later.output
    as_json = json.loads(run("--list", "--format", "json").stdout_bytes)
    assert ["out"] == [c["state"] for c in as_json["copies"]]


@pytest.mark.usefixtures("run")
def test_a_machine_that_makes_no_pdf_takes_no_number(laboratory, monkeypatch, through_main):
    def unavailable(one, copy):
        raise PrintingUnavailable("A PDF needs system libraries.")

    monkeypatch.setattr(copies, "printed", unavailable)
    code, told = through_main(
        "issue", METHOD, "--to", "Bench 1", "--by", "Q. Keeper", "--at", "2026-12-02T10:00:00+01:00"
    )
    assert 2 == code
    assert "no number was taken" in told
    assert () == read(laboratory).of_kind("issue")


def test_a_paper_that_could_not_be_written_says_how_to_print_it(run, laboratory):
    folder = laboratory / "out" / "copies"
    folder.mkdir(parents=True)
    (folder / "copy-1-1.pdf").write_bytes(b"")
    done = run(METHOD, "--to", "Bench 1", "--by", "Q. Keeper")
    assert 2 == done.exit_code
    assert "fillmark issue MCW-VIS-014 --reprint 1" in done.output
    assert 0 == run(METHOD, "--reprint", "1", "--reason", "was not printed", "--by", "Q. Keeper").exit_code


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Name the method"),
        ((METHOD, "--to", "x"), "--by is missing"),
        ((METHOD, "--by", "x"), "--to is missing"),
        ((METHOD, "--by", "x", "--to", "y" * 61), "up to 60 letters"),
        ((METHOD, "--by", "x", "--to", "a\u202eb"), "letters that can be seen"),
        ((METHOD, "--by", "x", "--to", "a", "--to", "b", "--count", "2"), "--count goes with one --to"),
        (("TGF-VIS-003", "--by", "x", "--to", "a"), "REG10"),
        ((METHOD, "--by", "x", "--to", "a", "--revision", "2"), "REG10"),
        (("../x", "--by", "x", "--to", "a"), "REG10"),
    ],
)
def test_wrong_use_and_refusals_are_told(run, laboratory, arguments, words):
    done = run(*arguments)
    assert 2 == done.exit_code
    assert words in done.output
    assert () == read(laboratory).of_kind("issue")
