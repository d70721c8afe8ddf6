"""Verifying: what was done to a bundle, a register or a signature is told, and what is new today."""

import json
import shutil
from datetime import date, datetime
from pathlib import Path

import pytest

from fillmark.diagnostics import Severity
from fillmark.reference import load
from fillmark.releases import bundle, rule_set, signature
from fillmark.releases.bundle import MANIFEST, json_bytes, open_bundle, pack, sha256
from fillmark.releases.register import read, register_file
from fillmark.releases.release import commit, judge, make
from fillmark.releases.verify import Today, left_over, signature_beside, verify, verify_entry

AT = datetime.fromisoformat("2026-11-26T10:00:00+01:00")


@pytest.fixture
def file(laboratory) -> Path:
    return laboratory / "released" / "MCW-VIS-014" / "MCW-VIS-014-r3.zip"


@pytest.fixture
def members(file) -> dict[str, bytes]:
    read_back, found = open_bundle(file.read_bytes(), "b.zip")
    assert [] == found
    assert read_back is not None
    return dict(read_back.members)


@pytest.fixture
def today(laboratory) -> Today:
    reference, found = load(laboratory)
    assert [] == found
    assert reference is not None
    return Today(reference, date(2026, 11, 27))


def repacked(members, **changed) -> bytes:
    """Pack files with a manifest that fits them, as somebody who knows the form would."""
    manifest = {**json.loads(members[MANIFEST]), **changed}
    manifest["files"] = [
        {"name": n, "sha256": sha256(c), "size": len(c)} for n, c in sorted(members.items()) if n != MANIFEST
    ]
    return pack({**members, MANIFEST: json_bytes(manifest)})


def codes(done) -> list[str]:
    return [d.code for d in done.found]


def errors(done) -> set[str]:
    return {d.code for d in done.found if d.severity is Severity.ERROR}


def test_what_was_released_is_as_released(file, laboratory, today):
    done = verify(file.read_bytes(), str(file), read(laboratory), today=today)
    assert [] == codes(done)
    assert done.sound
    assert done.judged_again
    assert (1, False, None) == (done.entry.line, done.superseded, done.signed_by)


def test_what_is_no_bundle_is_told(laboratory, today):
    done = verify(b"hello", "b.zip", read(laboratory), today=today)
    assert (["VFY01"], None, False) == (codes(done), done.manifest, done.sound)


def test_without_a_register_it_cannot_be_known_whether_it_is_released(file, today):
    done = verify(file.read_bytes(), "b.zip", None, today=today)
    assert ["VFY11"] == codes(done)
    assert done.judged_again


def test_a_bundle_the_register_does_not_know_is_not_released(file, laboratory):
    register_file(laboratory).unlink()
    assert {"VFY08", "VFY21"} & errors(verify(file.read_bytes(), "b.zip", read(laboratory)))
    assert "VFY08" in errors(verify(file.read_bytes(), "b.zip", read(laboratory)))


# --- tampering, by somebody who makes the manifest fit


def test_every_file_changed_with_a_manifest_that_fits_is_told_by_the_register(members, laboratory):
    register = read(laboratory)
    for name in sorted(members):
        if name == MANIFEST:
            continue
        forged = repacked({**members, name: members[name] + b"\n"})
        assert [] == open_bundle(forged, "b.zip")[1], name
        assert "VFY09" in errors(verify(forged, "b.zip", register)), name


def test_a_manifest_that_tells_of_somebody_else_is_told_by_the_register(members, laboratory):
    forged = repacked(members, released={"at": "2026-11-25T10:00:00+01:00", "by": "Z. Other"})
    found = verify(forged, "b.zip", read(laboratory)).found
    assert ["VFY09", "VFY09"] == [d.code for d in found]
    assert "Z. Other" in found[1].message


def test_a_method_changed_with_a_manifest_that_fits_is_told_without_a_register(members):
    changed = members["method.yaml"].replace(b"upper: 12.0", b"upper: 12.5")
    assert changed != members["method.yaml"]
    found = verify(repacked({**members, "method.yaml": changed}), "b.zip", None)
    # The digest does not fit, the two texts of the method differ.
    assert "VFY10" in errors(found)
    assert any(d.message.startswith("digest") for d in found.found)
    assert any("method-canonical.yaml" in d.message for d in found.found)


@pytest.mark.parametrize(
    ("change", "word"),
    [({"id": "MCW-VIS-015"}, "id"), ({"revision": 5}, "revision"),
     ({"people": {"author": "Z", "reviewer": "R. Lindqvist", "approver": "H. Marlow"}}, "author")],
)  # fmt: skip
def test_a_manifest_that_tells_of_another_method_is_told_without_a_register(members, change, word):
    found = [d for d in verify(repacked(members, **change), "b.zip", None).found if d.code == "VFY10"]
    assert any(d.message.startswith(word) for d in found)


def test_reference_data_changed_with_a_manifest_that_fits_is_told_without_a_register(members):
    name = "reference/shared/springs.yaml"
    changed = members[name].replace(b"718.7", b"719.7")
    assert changed != members[name]
    assert "VFY10" in errors(verify(repacked({**members, name: changed}), "b.zip", None))


def test_a_finding_taken_out_of_the_record_is_told_without_a_register(revised, laboratory):
    # CON17 finds a volatile sample that is not covered.
    judged = judge(revised(("covered: true", "covered: false")), laboratory, by="H. Marlow", at=AT)
    data = make(judged, by="H. Marlow", at=AT, papers=("A4",), forms=("html",)).data
    assert ["VFY11"] == codes(verify(data, "b.zip", None))
    members = dict(open_bundle(data, "b.zip")[0].members)
    recorded = json.loads(members["findings.json"])
    assert ["CON17"] == [d["code"] for d in recorded["diagnostics"]]
    recorded["diagnostics"] = []
    (found,) = [
        d for d in verify(repacked({**members, "findings.json": json_bytes(recorded)}), "b.zip", None).found
        if d.code == "VFY15"
    ]  # fmt: skip
    assert "found only: CON17" in found.message
    assert Severity.ERROR is found.severity


@pytest.mark.parametrize("name", ["findings.json", "review.json", "rules.json"])
@pytest.mark.parametrize("content", [b"", b"[]", b"{}", b"null", b'{"diagnostics": 3}', b"[" * 50_000])
def test_a_record_that_is_none_is_told_and_brings_nothing_down(members, name, content, today):
    assert "VFY15" in errors(verify(repacked({**members, name: content}), "b.zip", None, today=today))


def test_reference_data_that_cannot_be_read_is_told(members, today):
    done = verify(repacked({**members, "reference/shared/springs.yaml": b"R: ["}), "b.zip", None, today=today)
    assert "VFY16" in codes(done)
    assert not done.judged_again


def test_a_method_that_cannot_be_read_is_told(members, today):
    done = verify(repacked({**members, "method.yaml": b"id: ["}), "b.zip", None, today=today)
    assert "VFY16" in codes(done)


def test_shipped_data_that_is_none_brings_nothing_down(members, today):
    for kind in bundle.KINDS:
        for content in (b"", b"{}\n", b"x: 1\n", b"version: 1\n"):
            changed = {
                **members,
                f"reference/shipped/{kind}.yaml": content,
                f"reference/shared/{kind}.yaml": content,
            }
            assert codes(verify(repacked(changed), "b.zip", None, today=today)), (kind, content)


# --- other rules than those that judged


def test_another_record_by_other_rules_is_told_mildly(members, monkeypatch):
    recorded = json.loads(members["findings.json"])
    recorded["diagnostics"] = [
        {"code": "XXX01", "slug": "s", "severity": "error", "message": "m", "file": "method.yaml", "line": 1,
         "column": 1, "end_line": 1, "end_column": 2, "path": [], "ways_out": [], "related": [], "waived_by": None}
    ]  # fmt: skip
    manifest = json.loads(members[MANIFEST])
    rules = {**manifest["rules"], "digest": "0" * 64}
    data = repacked({**members, "findings.json": json_bytes(recorded)}, rules=rules, fillmark="0.0.9")
    (found,) = [d for d in verify(data, "b.zip", None).found if d.code == "VFY15"]
    assert Severity.ADVICE is found.severity
    assert "recorded only: XXX01" in found.message


def test_a_rule_withdrawn_is_told(members, today):
    rules = [
        *json.loads(members["rules.json"]),
        {"code": "XXX01", "slug": "gone-rule", "severity": "error", "waivable": True},
    ]
    manifest = json.loads(members[MANIFEST])
    data = repacked(
        {**members, "rules.json": json_bytes(rules)}, rules={**manifest["rules"], "digest": "0" * 64}
    )
    (found,) = [d for d in verify(data, "b.zip", None, today=today).found if d.code == "VFY18"]
    assert "XXX01 gone-rule" in found.message


def test_what_todays_data_finds_is_told(file, laboratory):
    policy = laboratory / "shared" / "policy.yaml"
    text = policy.read_text(encoding="utf-8")
    changed = text.replace("version: demonstration-1", "version: stricter-1").replace(
        "torque_floor: {value: 10 %", "torque_floor: {value: 30 %"
    )
    assert text != changed
    policy.write_text(changed, encoding="utf-8")
    reference, _ = load(laboratory)
    assert reference is not None
    done = verify(file.read_bytes(), str(file), read(laboratory), today=Today(reference, date(2026, 11, 27)))
    found = [d for d in done.found if d.code == "VFY17"]
    assert any("TRQ03" in d.message for d in found)
    assert done.sound  # it is still what was released
    assert all(2 == len(d.ways_out) for d in found)


def test_a_waiver_that_has_expired_since_is_told(revised, laboratory, today):
    waiver = (
        "waivers:\n  - {rule: CON17, reason: The lid of this bath would touch the spindle., evidence: e, risk: k, "
        "requested_by: A. Osei, approved_by: H. Marlow, expires: 2027-01-31}\n"
    )
    changes = ("covered: true", "covered: false"), ("training:", f"{waiver}training:")
    judged = judge(revised(*changes), laboratory, by="H. Marlow", at=AT)
    data = make(judged, by="H. Marlow", at=AT, papers=("A4",), forms=("html",)).data
    then = verify(data, "b.zip", None, today=Today(today.reference, date(2027, 1, 31)))
    later = verify(data, "b.zip", None, today=Today(today.reference, date(2027, 2, 1)))
    assert ["VFY11"] == codes(then)
    assert "VFY17" in codes(later)
    assert any("WAI01" in d.message for d in later.found)


def test_reference_data_that_has_changed_since_is_told(file, laboratory):
    containers = laboratory / "shared" / "containers.yaml"
    text = containers.read_text(encoding="utf-8").replace("82.55 mm", "83 mm")
    containers.write_text(text, encoding="utf-8")
    reference, _ = load(laboratory)
    assert reference is not None
    done = verify(file.read_bytes(), str(file), read(laboratory), today=Today(reference, date(2026, 11, 27)))
    (found,) = [d for d in done.found if d.code == "VFY20"]
    assert "was 82.55 mm, now 83 mm" in found.message


# --- a whole laboratory


def test_a_superseded_release_is_not_asked_of_today(revised, laboratory, today):
    judged = judge(revised(), laboratory, by="H. Marlow", at=AT)
    commit(make(judged, by="H. Marlow", at=AT, papers=("A4",), forms=("html",)), laboratory)
    register = read(laboratory)
    one, two = (verify_entry(laboratory, register, e, signers=None, today=today) for e in register.entries)
    assert ([], True, True) == (codes(one), one.superseded, one.judged_again)
    assert ([], False, True) == (codes(two), two.superseded, two.judged_again)


def test_a_bundle_that_is_gone_is_told(file, laboratory):
    file.unlink()
    register = read(laboratory)
    done = verify_entry(laboratory, register, register.entries[0], signers=None, today=None)
    assert (["VFY07"], False) == (codes(done), done.sound)
    assert register.entries[0].data["sha256"] in done.found[0].ways_out[0]


def test_a_bundle_in_the_place_of_another_is_told(file, laboratory, revised):
    judged = judge(revised(), laboratory, by="H. Marlow", at=AT)
    commit(make(judged, by="H. Marlow", at=AT, papers=("A4",), forms=("html",)), laboratory)
    shutil.copy(file.with_name("MCW-VIS-014-r4.zip"), file)
    register = read(laboratory)
    done = verify_entry(laboratory, register, register.entries[0], signers=None, today=None)
    assert {"VFY09"} == errors(done)
    assert 1 == done.entry.line


def test_a_register_cut_after_a_release_is_told_by_the_next_bundle(revised, laboratory):
    judged = judge(revised(), laboratory, by="H. Marlow", at=AT)
    commit(make(judged, by="H. Marlow", at=AT, papers=("A4",), forms=("html",)), laboratory)
    log = register_file(laboratory)
    log.write_bytes(b"")
    data = (laboratory / "released" / "MCW-VIS-014" / "MCW-VIS-014-r4.zip").read_bytes()
    assert "VFY08" in errors(verify(data, "b.zip", read(laboratory)))


def test_a_register_made_anew_is_told_by_the_bundle_that_knew_the_old_one(revised, laboratory):
    judged = judge(revised(), laboratory, by="H. Marlow", at=AT)
    entry = commit(make(judged, by="H. Marlow", at=AT, papers=("A4",), forms=("html",)), laboratory)
    from fillmark.releases.register import LAST, append

    log = register_file(laboratory)
    log.unlink()
    log.with_name(LAST).unlink()
    append(laboratory, {k: v for k, v in entry.data.items() if k != "previous"})
    data = (laboratory / "released" / "MCW-VIS-014" / "MCW-VIS-014-r4.zip").read_bytes()
    assert {"VFY21"} == errors(verify(data, "b.zip", read(laboratory)))


def test_what_a_stopped_release_left_is_told(laboratory):
    assert [] == left_over(laboratory, read(laboratory))
    left = laboratory / "released" / "MCW-VIS-014" / "MCW-VIS-014-r4.zip"
    left.write_bytes(b"left")
    (found,) = left_over(laboratory, read(laboratory))
    assert ("VFY19", str(left)) == (found.code, found.file)


# --- signatures


@pytest.fixture(scope="session")
def key(tmp_path_factory) -> Path:
    """Make a key with OpenSSH, and files of allowed signers beside it."""
    import subprocess

    if shutil.which("ssh-keygen") is None:
        pytest.skip("needs ssh-keygen")
    folder = tmp_path_factory.mktemp("keys")
    for name in ("marlow", "other"):
        subprocess.run(
            ["ssh-keygen", "-q", "-t", "ed25519", "-N", "", "-C", name, "-f", str(folder / name)], check=True
        )
        public = (folder / f"{name}.pub").read_text(encoding="utf-8")
        (folder / f"{name}-allowed").write_text(f"{name}@marlwick.example {public}", encoding="utf-8")
    return folder / "marlow"


@pytest.fixture
def signed(revised, laboratory, key) -> Path:
    """Release revision 4, signed; gives the bundle."""
    judged = judge(revised(), laboratory, by="H. Marlow", at=AT)
    made = make(judged, by="H. Marlow", at=AT, papers=("A4",), forms=("html",))
    commit(made, laboratory, signature.sign(made.data, key))
    return laboratory / "released" / made.name


def judged_signature(signed, laboratory, signers, *, data=None):
    return verify(
        data or signed.read_bytes(),
        str(signed),
        read(laboratory),
        signature=signature_beside(signed),
        signers=signers,
    )


def test_a_signature_of_an_allowed_signer_holds(signed, laboratory, key):
    done = judged_signature(signed, laboratory, key.with_name("marlow-allowed"))
    assert ([], "marlow@marlwick.example") == (codes(done), done.signed_by)


def test_a_signature_of_somebody_else_does_not_hold(signed, laboratory, key):
    done = judged_signature(signed, laboratory, key.with_name("other-allowed"))
    assert ({"VFY12"}, None) == (errors(done), done.signed_by)


def test_a_signature_over_other_bytes_does_not_hold(signed, laboratory, key, members):
    allowed = key.with_name("marlow-allowed")
    done = judged_signature(signed, laboratory, allowed, data=repacked({**members, "method.yaml": b"x"}))
    assert "VFY12" in errors(done)


def test_a_key_that_was_not_allowed_yet_does_not_hold(signed, laboratory, key, tmp_path):
    public = key.with_suffix(".pub").read_text(encoding="utf-8")
    later, then = (tmp_path / name for name in ("later", "then"))
    later.write_text(f'marlow valid-after="20261201Z" {public}', encoding="utf-8")
    then.write_text(f'marlow valid-after="20261101Z",valid-before="20261130Z" {public}', encoding="utf-8")
    assert "VFY12" in errors(judged_signature(signed, laboratory, later))
    assert [] == codes(judged_signature(signed, laboratory, then))


def test_a_signature_that_is_gone_is_missed(signed, laboratory, key):
    signed.with_name(f"{signed.name}.sig").unlink()
    assert {"VFY13"} == errors(judged_signature(signed, laboratory, key.with_name("marlow-allowed")))


def test_a_signature_exchanged_is_told_though_it_holds(signed, laboratory, key):
    other = signature.sign(signed.read_bytes(), key.with_name("other"))
    signed.with_name(f"{signed.name}.sig").write_bytes(other)
    done = judged_signature(signed, laboratory, key.with_name("other-allowed"))
    assert ({"VFY13"}, "other@marlwick.example") == (errors(done), done.signed_by)


@pytest.mark.parametrize("content", [b"", b"hello", b"x" * 20_000, b"-----BEGIN SSH SIGNATURE-----\n"])
def test_a_signature_that_is_none_does_not_hold(signed, laboratory, key, content):
    signed.with_name(f"{signed.name}.sig").write_bytes(content)
    assert "VFY12" in errors(judged_signature(signed, laboratory, key.with_name("marlow-allowed")))


def test_without_a_list_of_signers_or_the_program_nothing_is_claimed(signed, laboratory, key, monkeypatch):
    done = judged_signature(signed, laboratory, None)
    assert (["VFY14"], None) == (codes(done), done.signed_by)
    monkeypatch.setenv("PATH", "")
    done = judged_signature(signed, laboratory, key.with_name("marlow-allowed"))
    assert ["VFY14"] == codes(done)
    assert "openssh-client" in done.found[0].message


def test_the_rules_of_today_are_those_the_bundle_names(members):
    manifest = json.loads(members[MANIFEST])
    assert rule_set.version() == manifest["rules"]
    assert rule_set.listed() == json.loads(members["rules.json"])
