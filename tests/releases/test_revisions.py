"""Which revision is in force: from its first day until the next one's, by register and bundles alone."""

from datetime import date, datetime

from fillmark.releases.register import append, read
from fillmark.releases.release import commit, judge, make
from fillmark.releases.revisions import coming, in_force, revisions_of

METHOD = "MCW-VIS-014"


def of(laboratory):
    return revisions_of(laboratory, read(laboratory), METHOD)


def released(laboratory, file):
    at = datetime.fromisoformat("2027-01-10T10:00:00+01:00")
    commit(
        make(judge(file, laboratory, by="H. Marlow", at=at), by="H. Marlow", at=at, papers=("A4",), forms=("html",)),
        laboratory,
    )  # fmt: skip


def test_a_revision_is_in_force_from_its_first_day(laboratory):
    (one,) = of(laboratory)
    # The method says effective: 2026-12-01.
    assert (3, date(2026, 12, 1), "MCW-VIS-014-r3") == (one.number, one.effective, one.name)
    assert in_force([one], date(2026, 11, 30)) is None
    assert one == in_force([one], date(2026, 12, 1))
    assert (one,) == coming([one], date(2026, 11, 30))
    assert () == coming([one], date(2026, 12, 1))


def test_the_next_one_takes_its_place_on_its_own_first_day(laboratory, revised):
    released(laboratory, revised(("effective: 2026-12-01", "effective: 2027-02-01")))
    both = of(laboratory)
    assert [3, 4] == [in_force(both, day).number for day in (date(2027, 1, 31), date(2027, 2, 1))]
    assert [4] == [r.number for r in coming(both, date(2027, 1, 31))]


def test_a_working_file_that_changed_since_makes_no_difference(laboratory, revised):
    before = of(laboratory)[0].compiled()
    revised()
    assert before.method.revision == of(laboratory)[0].compiled().method.revision == 3
    assert "5 min" == of(laboratory)[0].compiled().method.sample.rest.text


def test_a_revision_called_back_as_a_whole_says_why(laboratory):
    line = {
        "kind": "recall", "at": "2027-01-10T10:00:00+01:00", "by": "Q. Keeper", "id": METHOD, "revision": 3,
        "copies": [], "whole": False, "state": "recalled", "reason": "one copy was wet",
    }  # fmt: skip
    append(laboratory, line)
    assert "" == of(laboratory)[0].withdrawn
    append(laboratory, {**line, "whole": True, "reason": "the wrong fluid"})
    assert "the wrong fluid" == of(laboratory)[0].withdrawn


def test_a_bundle_that_is_not_sound_is_given_with_its_faults(laboratory):
    (laboratory / "released" / METHOD / f"{METHOD}-r3.zip").unlink()
    (one,) = of(laboratory)
    assert (None, ["VFY07"]) == (one.bundle, [d.code for d in one.faults])
