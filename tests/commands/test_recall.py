"""`fillmark recall`: copies called back and accounted for, as a user sees it."""

import pytest
from click.testing import CliRunner

from fillmark import printing
from fillmark.cli import cli
from fillmark.printing import PrintingUnavailable
from fillmark.releases import copies
from fillmark.releases.register import read

METHOD = "MCW-VIS-014"
AT = ("--at", "2026-12-02T10:00:00+01:00")


@pytest.fixture
def run(laboratory, monkeypatch):
    """Run the command in the laboratory's folder, where two copies are out."""
    monkeypatch.chdir(laboratory)
    monkeypatch.setattr(copies, "printed", lambda one, copy: ())  # noqa: ARG005 - as the real one
    monkeypatch.setattr(printing, "pdf", lambda html, paper: b"%PDF " + html.encode())  # noqa: ARG005 - idem
    out = CliRunner().invoke(
        cli, ["issue", METHOD, "--to", "Bench 1", "--to", "Bench 2", "--by", "Q. Keeper", *AT]
    )
    assert 0 == out.exit_code, out.output

    def call(*arguments):
        return CliRunner().invoke(cli, ["recall", METHOD, "--revision", "3", *arguments, *AT])

    return call


WHY = ("--reason", "the wrong fluid", "--by", "Q. Keeper")


def test_all_that_are_out_are_called_back_with_a_notice(run, laboratory):
    done = run(*WHY)
    assert 0 == done.exit_code, done.output
    (line,) = read(laboratory).of_kind("recall")
    assert ([1, 2], "recalled", False) == (line.data["copies"], line.data["state"], line.data["whole"])
    notice = laboratory / "out" / "copies" / f"MCW-VIS-014-r3-recall-{line.line}.pdf"
    text = notice.read_text(encoding="utf-8")
    assert "the wrong fluid" in text
    assert "Bench 2" in text


def test_what_became_of_a_copy_is_entered_without_a_notice(run, laboratory):
    done = run("--copy", "2", "--destroyed", "--reason", "shredded", "--by", "Q. Keeper")
    assert 0 == done.exit_code, done.output
    assert "copy 2 of MCW-VIS-014 revision 3, Bench 2: destroyed" in done.output
    assert not (laboratory / "out" / "copies").exists() or not list(
        (laboratory / "out" / "copies").glob("*recall*")
    )


def test_the_whole_revision_can_be_called_back(run):
    done = run("--whole", *WHY)
    assert 0 == done.exit_code, done.output
    assert "no further copy of it is issued" in done.output
    issue = CliRunner().invoke(cli, ["issue", METHOD, "--to", "x", "--by", "y", *AT])
    assert 2 == issue.exit_code
    assert "REG12" in issue.output


def test_a_recall_does_not_wait_for_a_printer(run, laboratory, monkeypatch):
    def unavailable(html, paper):
        raise PrintingUnavailable("A PDF needs system libraries.")

    monkeypatch.setattr(printing, "pdf", unavailable)
    done = run(*WHY)
    assert 0 == done.exit_code, done.output
    assert 1 == len(read(laboratory).of_kind("recall"))
    assert 1 == len(list((laboratory / "out" / "copies").glob("*recall*.html")))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--by", "K"), "--reason is missing"),
        (("--reason", "x"), "--by is missing"),
        (("--copy", "9", *WHY), "REG14"),
        (("--whole", "--copy", "1", *WHY), "--whole calls back the revision"),
    ],
)
def test_wrong_use_and_refusals_are_told(run, laboratory, arguments, words):
    done = run(*arguments)
    assert 2 == done.exit_code
    assert words in done.output
    assert () == read(laboratory).of_kind("recall")
