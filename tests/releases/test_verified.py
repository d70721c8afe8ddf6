"""What verify found, as text and as JSON."""

import json
from datetime import datetime

from fillmark.releases.copies import recall
from fillmark.releases.register import read
from fillmark.releases.verified import WIDTH, verified_json, verified_text
from fillmark.releases.verify import left_over, verify


def told(laboratory, data, *, register=True, ascii_only=False):
    log = read(laboratory) if register else None
    done = [verify(data, "b.zip", log)]
    more = left_over(laboratory, log) if log is not None else []
    return verified_text(done, more, log, ascii_only=ascii_only)


def bundle(laboratory):
    return (laboratory / "released" / "MCW-VIS-014" / "MCW-VIS-014-r3.zip").read_bytes()


def test_it_names_who_released_what_and_when(laboratory):
    text = told(laboratory, bundle(laboratory))
    for word in (
        "b.zip: as released", "MCW-VIS-014 revision 3", "its data invented", "2026-11-25T10:00:00+01:00 by H. Marlow",
        "author A. Osei, approver H. Marlow", read(laboratory).head, "1 bundle looked at: nothing found.",
    ):  # fmt: skip
        assert word in text


def test_a_revision_called_back_as_a_whole_says_so(laboratory):
    recall(
        laboratory, "MCW-VIS-014", 3, numbers=None, state="recalled", whole=True, reason="The coefficient was wrong.",
        at=datetime.fromisoformat("2026-12-01T09:00:00+01:00"), by="R. Lindqvist",
    )  # fmt: skip
    assert "b.zip: as released, CALLED BACK: The coefficient was wrong." in told(
        laboratory, bundle(laboratory)
    )
    log = read(laboratory)
    one = verify(bundle(laboratory), "b.zip", log)
    assert (
        "The coefficient was wrong." == json.loads(verified_json([one], [], log))["bundles"][0]["called_back"]
    )


def test_what_is_found_stands_with_its_ways_out_and_is_counted(laboratory):
    (laboratory / "released" / "x.zip").write_bytes(b"x")
    text = told(laboratory, bundle(laboratory)[:-4])
    assert "DOES NOT HOLD" in text
    assert "error VFY01 not-a-bundle" in text
    assert "warning VFY19 release-left-over" in text
    assert text.endswith("1 bundle looked at: 1 error, 1 warning.")


def test_without_a_register_it_is_released_by_its_own_word_only(laboratory):
    text = told(laboratory, bundle(laboratory), register=False)
    assert "by its own word" in text
    assert "Register" not in text


def test_it_fits_the_terminal_and_a_plain_one_gets_ascii(laboratory):
    text = told(laboratory, bundle(laboratory), ascii_only=True)
    assert text.isascii()
    # A digest is not broken.
    assert [] == [line for line in text.splitlines() if len(line) > WIDTH and " " in line.strip()]
