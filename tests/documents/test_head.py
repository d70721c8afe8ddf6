"""The head of every page: which method, which revision, which copy, for how long."""

from datetime import date


def test_it_names_method_revision_digest_and_day(checklist):
    head = checklist("MCW-VIS-014").head
    assert ("MCW-VIS-014", "3", "2026-12-01") == (head.id, head.revision, head.effective)
    whole = head.mark.rsplit(" ", 1)[1]
    assert 64 == len(whole)
    assert f"{whole[:4]} {whole[4:8]}" == head.digest
    assert f"MCW-VIS-014 rev 3 sha256 {whole}" == head.mark


def test_the_day_of_printing_is_written_in_unless_given(checklist):
    assert "" == checklist("MCW-VIS-014").head.printed
    assert "2027-01-15" == checklist("MCW-VIS-014", print_date=date(2027, 1, 15)).head.printed


def test_it_says_how_long_a_print_is_valid(checklist):
    # policy.yaml, print_valid: 30 d
    assert "30 days" == checklist("MCW-VIS-014").head.valid


def test_only_a_released_method_is_no_draft(checklist):
    assert "" == checklist("MCW-VIS-014").head.draft
    for status in ("draft", "in-review", "superseded", "withdrawn"):
        assert "DRAFT" == checklist("MCW-VIS-014", ("status: released", f"status: {status}")).head.draft


def test_invented_data_is_called_so(checklist):
    assert "DEMONSTRATION: invented data" == checklist("MCW-VIS-014").head.demonstration
    assert "" == checklist("MCW-VIS-014", ("demonstration: true", "demonstration: false")).head.demonstration
