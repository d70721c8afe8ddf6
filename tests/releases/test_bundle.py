"""The released bundle: one form for one content, and nothing else is taken for one."""

import io
import json
import random
import stat
import struct
import subprocess
import sys
import zipfile
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.digest import digest
from fillmark.read import read
from fillmark.releases import bundle
from fillmark.releases.bundle import (
    MANIFEST,
    canonical_yaml,
    compile_bundle,
    json_bytes,
    open_bundle,
    pack,
    reference_of,
    stem,
)


@pytest.fixture
def released(laboratory) -> bytes:
    """Give the bytes of a released bundle."""
    return (laboratory / "released" / "MCW-VIS-014" / "MCW-VIS-014-r3.zip").read_bytes()


@pytest.fixture
def members(released) -> dict[str, bytes]:
    """Give the files of a released bundle, read by the zip reader of Python's own library."""
    with zipfile.ZipFile(io.BytesIO(released)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def codes(data: bytes) -> list[str]:
    return [fault.code for fault in open_bundle(data, "b.zip")[1]]


def said(data: bytes) -> str:
    return " ".join(fault.message for fault in open_bundle(data, "b.zip")[1])


def zipped(members, *, packing=zipfile.ZIP_STORED, **more) -> bytes:
    """Pack files as anybody would."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", packing) as archive:
        for name, content in members.items():
            info = zipfile.ZipInfo(name)
            info.compress_type = packing
            for key, value in more.items():
                setattr(info, key, value)
            archive.writestr(info, content)
    return out.getvalue()


# --- what is in it


def test_it_is_a_zip_archive_that_any_program_can_read(released, members):
    with zipfile.ZipFile(io.BytesIO(released)) as archive:
        assert archive.testzip() is None
        assert {zipfile.ZIP_STORED} == {info.compress_type for info in archive.infolist()}
        assert MANIFEST == archive.namelist()[0]
    assert {"method.yaml", "method-canonical.yaml", "findings.json", "review.json", "rules.json"} <= set(
        members
    )


def test_it_is_whole_by_its_own_manifest(released):
    read_back, found = open_bundle(released, "b.zip")
    assert [] == found
    assert read_back is not None
    assert ("MCW-VIS-014", 3, "2026-11-25") == (read_back.id, read_back.revision, read_back.day.isoformat())


def test_it_holds_every_document_and_all_the_reference_data(members, laboratory):
    papers = {name for name in members if name.startswith("documents/")}
    assert {
        f"documents/MCW-VIS-014-r3-{kind}-A4.html"
        for kind in ("checklist", "data-sheet", "dossier", "training", "competency")
    } <= papers
    own = {f"reference/shared/{f.name}": f.read_bytes() for f in (laboratory / "shared").glob("*.yaml")}
    assert own == {name: content for name, content in members.items() if name.startswith("reference/shared/")}
    assert {f"reference/shipped/{kind}.yaml" for kind in bundle.KINDS} <= set(members)


def test_it_holds_the_bytes_the_author_wrote_and_names_no_folder_of_the_machine(members, laboratory):
    assert (laboratory / "methods" / "MCW-VIS-014.yaml").read_bytes() == members["method.yaml"]
    for name, content in members.items():
        assert str(laboratory.parent).encode() not in content, name


def test_packing_the_same_files_gives_the_same_bytes_whatever_their_order(released, members):
    names = list(members)
    random.Random(1).shuffle(names)
    assert released == pack({name: members[name] for name in names})


def test_a_bundle_can_be_judged_on_another_machine_with_nothing_but_itself(released, reference):
    read_back, _ = open_bundle(released, "b.zip")
    assert read_back is not None
    then = compile_bundle(read_back)
    assert then.method is not None
    assert read_back.manifest["digest"] == digest(then.method) == bundle.digest_of(read_back, then.method)
    assert [] == list(then.diagnostics)


def test_a_threshold_of_later_is_todays_and_leaves_the_digest_as_it_was(members, released):
    policy = members["reference/shipped/policy.yaml"].decode()
    line = next(line for line in policy.splitlines() if line.startswith("bench_time:"))
    for name in ("reference/shipped/policy.yaml", "reference/shared/policy.yaml"):
        members[name] = members[name].replace(f"{line}\n".encode(), b"")
    older = bundle.Bundle("b.zip", members, json.loads(members[MANIFEST]), "", 0)
    then = compile_bundle(older)
    assert then.method is not None
    assert 1800.0 == then.method.reference.policy["bench_time"]  # 30 min, as shipped today
    texts = {**then.method.reference.policy.texts}
    del texts["bench_time"]
    whole, _ = open_bundle(released, "b.zip")
    assert whole is not None
    assert bundle.digest_of(older, then.method) != bundle.digest_of(whole, then.method)


def test_a_threshold_that_is_no_quantity_any_more_is_todays(members):
    for name in ("reference/shipped/policy.yaml", "reference/shared/policy.yaml"):
        members[name] = members[name].replace(b"torque_floor: {value: 10 %", b"torque_floor: {value: plenty")
    data, found = reference_of(bundle.Bundle("b.zip", members, {}, "", 0))
    assert [] == found
    assert data is not None
    assert 10.0 == data.policy["torque_floor"]


# --- canonical YAML

seen = st.characters(min_codepoint=0x20, max_codepoint=0x2FF, exclude_categories=("Cc", "Cf", "Cs", "Cn"))
scalars = (
    st.none() | st.booleans() | st.integers(-(10**9), 10**9) | st.floats(-1e9, 1e9, allow_nan=False)
    | st.text(seen, max_size=12)
)  # fmt: skip
keys = st.from_regex(r"[a-z_]{1,8}", fullmatch=True)
data = st.dictionaries(
    keys, st.recursive(scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(keys, inner, max_size=3)),
    min_size=1, max_size=4,
)  # fmt: skip


@given(data)
def test_canonical_yaml_reads_back_as_the_same_data(value):
    reading = read(canonical_yaml(value).encode(), "c.yaml")
    assert [] == list(reading.diagnostics)
    assert reading.source is not None
    assert value == reading.source.data


def test_canonical_yaml_keeps_texts_that_look_like_something_else():
    value = {
        "a": "no",
        "b": "1e3",
        "c": "0o10",
        "d": "12:30",
        "e": "{{x}}",
        "f": "a\nb",
        "g": '"',
        "h": "~",
        "i": "",
    }
    reading = read(canonical_yaml(value).encode(), "c.yaml")
    assert reading.source is not None
    assert value == reading.source.data


def test_canonical_yaml_says_the_same_whatever_the_order_of_keys():
    assert canonical_yaml({"a": 1, "b": [{"d": 1, "c": "x"}]}) == canonical_yaml(
        {"b": [{"c": "x", "d": 1}], "a": 1}
    )


# --- what is not taken for one


def test_a_file_that_is_no_archive():
    for data in (b"", b"hello", b"PK", b"PK\x05\x06" + 18 * b"\0", b"%PDF-1.7", b"PK\x03\x04"):
        assert ["VFY01"] == codes(data), data


def test_one_larger_than_any_bundle():
    assert ["VFY01"] == codes(b"PK\x03\x04" + bytes(bundle.LARGEST))


@pytest.mark.parametrize("part", [0.01, 0.3, 0.7, 0.998, 0.999, 0.9995])
def test_one_that_was_cut_short(released, part):
    cut = released[: int(len(released) * part)]
    assert ["VFY01"] == codes(cut)
    assert "cut short" in said(cut)


@pytest.mark.parametrize("more", [b"x", b"\0" * 22, b"PK\x05\x06" + bytes(18)])
def test_one_with_something_behind_it(released, more):
    assert ["VFY01"] == codes(released + more)


def test_one_with_something_before_it(released):
    assert ["VFY01"] == codes(b"#!/bin/sh\n" + released)


def test_one_packed_anew_by_another_program(members):
    assert ["VFY01"] == codes(zipped(dict(sorted(members.items(), reverse=True))))
    assert ["VFY01"] == codes(zipped(members, date_time=(2026, 1, 1, 0, 0, 0)))


def test_a_comment_of_the_archive_is_refused(released):
    with_comment = released[:-2] + struct.pack("<H", 5) + b"hello"
    with zipfile.ZipFile(io.BytesIO(with_comment)) as archive:
        assert b"hello" == archive.comment
    assert ["VFY01"] == codes(with_comment)


def test_a_compressed_file_is_refused_before_it_is_unpacked():
    bomb = zipped({"method.yaml": bytes(50_000_000)}, packing=zipfile.ZIP_DEFLATED)
    assert len(bomb) < 100_000
    assert ["VFY02"] == codes(bomb)
    assert "compressed" in said(bomb)


@pytest.mark.parametrize(
    "name",
    [
        "../method.yaml", "documents/../../x.html", "/etc/passwd", "C:\\x", "c:method.yaml", "..\\x", "\\\\host\\x",
        "documents\\..\\..\\x.html",
    ],
)  # fmt: skip
def test_a_name_that_leads_out_is_refused(name):
    made = zipped({"X" * len(name): b"x"}).replace(b"X" * len(name), name.encode())
    assert ["VFY02"] == codes(made)
    assert "leads out" in said(made)


@pytest.mark.parametrize(
    "name",
    ["x.txt", "documents/x.exe", "documents/a/b.html", "documents/", "method.yaml/", "reference/shipped/x.yaml",
     "Method.yaml", "documents/.x.html", "documents/x.html ", "method.yaml\0.txt", "documents/" + "x" * 200 + ".html"],
)  # fmt: skip
def test_a_name_that_no_bundle_holds_is_refused(name):
    made = zipped({"X" * len(name): b"x"}).replace(b"X" * len(name), name.encode())
    assert ["VFY02"] == codes(made)


def test_a_link_is_refused(members):
    made = zipped({"method.yaml": b"/etc/passwd"}, external_attr=(stat.S_IFLNK | 0o777) << 16)
    assert ["VFY02"] == codes(made)
    assert "is a link" in said(made)


def test_a_name_given_twice_is_refused(members):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("method.yaml", b"one")
        with pytest.warns(UserWarning, match="Duplicate name"):
            archive.writestr("method.yaml", b"two")
    assert ["VFY02"] == codes(out.getvalue())
    assert "twice" in said(out.getvalue())


def test_names_that_differ_in_capitals_only_are_refused():
    made = zipped({"documents/A.html": b"one", "documents/a.html": b"two"})
    assert ["VFY02"] == codes(made)
    assert "one file on some disks" in said(made)


def test_too_many_files_are_refused():
    made = zipped({f"documents/{n}.html": b"" for n in range(bundle.MOST + 1)})
    assert ["VFY02"] == codes(made)


def local(name: bytes, content: bytes, *, flags=0, packing=0, extra=b"", version=20, size=None) -> bytes:
    """Write one entry of an archive field by field, as APPNOTE 4.3.7 lays it out."""
    size = len(content) if size is None else size
    return (
        struct.pack("<4s5H3I2H", b"PK\x03\x04", version, flags, packing, 0, 33, zlib.crc32(content), size, size,
                    len(name), len(extra)) + name + extra + content
    )  # fmt: skip


@pytest.mark.parametrize(
    ("entry", "word"),
    [
        (local(b"method.yaml", b"x", flags=1), "encrypted"),
        (local(b"method.yaml", b"x", flags=8), "marks"),
        (local(b"method.yaml", b"x", flags=0x2000), "marks"),
        (local(b"method.yaml", b"x", packing=99), "compressed"),
        (
            local(b"method.yaml", b"x", extra=struct.pack("<HHQQ", 1, 16, 1, 1), version=45, size=0xFFFFFFFF),
            "zip64",
        ),
        (local(b"method.yaml", b"x", extra=b"UT\x01\x00x"), "beyond the plain form"),
    ],
    ids=["encrypted", "size-behind", "masked", "aes", "zip64", "extra"],
)
def test_an_entry_beyond_the_plain_form_is_refused(entry, word):
    assert ["VFY02"] == codes(entry)
    assert word in said(entry)


def test_a_size_beyond_the_end_is_refused():
    assert ["VFY01"] == codes(local(b"method.yaml", b"x", size=0x7FFFFFFF))


def test_a_file_called_otherwise_in_the_list_is_refused(released):
    listed = released.rindex(b"method.yaml")
    other = released[:listed] + b"rules2.json" + released[listed + 11 :]
    assert ["VFY02"] == codes(other)
    assert "in the list" in said(other)


def test_a_file_hidden_from_the_list_is_refused(released):
    """Other programs go by the list at the end; what it does not name they do not show."""
    hidden = local(b"documents/hidden.html", b"x") + released
    assert codes(hidden) in (["VFY01"], ["VFY02"])


def test_no_single_changed_byte_goes_unseen_or_brings_it_down(released):
    places = random.Random(7).sample(range(len(released)), 150) + list(range(60)) + list(range(-80, 0))
    for place in places:
        changed = bytearray(released)
        changed[place] ^= 0x41
        assert codes(bytes(changed)), place


# --- against its manifest


def test_a_changed_file_of_every_kind_is_named(members):
    for name in sorted(members):
        if name == MANIFEST:
            continue
        changed = pack({**members, name: members[name] + b" "})
        found = open_bundle(changed, "b.zip")[1]
        assert ["VFY05"] == [f.code for f in found], name
        assert name in found[0].message


def test_a_byte_changed_on_the_disk_is_named_by_its_file(released):
    at = released.index(b"Hearthstone")
    changed = released[:at] + b"h" + released[at + 1 :]
    assert "VFY05" in codes(changed)


def test_a_missing_file_of_every_kind_is_named(members):
    for name in sorted(members):
        if name == MANIFEST:
            continue
        found = open_bundle(pack({n: c for n, c in members.items() if n != name}), "b.zip")[1]
        assert ["VFY03"] == [f.code for f in found], name
        assert name in found[0].message


def test_an_added_file_is_named(members):
    found = open_bundle(pack({**members, "documents/extra.html": b"<p>more"}), "b.zip")[1]
    assert ["VFY04"] == [f.code for f in found]
    assert "documents/extra.html" in found[0].message


def test_what_every_bundle_needs_is_missed_though_the_manifest_keeps_silent(members):
    manifest = json.loads(members[MANIFEST])
    manifest["files"] = [f for f in manifest["files"] if f["name"] != "reference/shipped/springs.yaml"]
    kept = {n: c for n, c in members.items() if n != "reference/shipped/springs.yaml"}
    assert ["VFY03"] == codes(pack({**kept, MANIFEST: json_bytes(manifest)}))


@pytest.mark.parametrize(
    "change",
    [
        {"format": 2}, {"id": "../x"}, {"revision": -1}, {"digest": "x"}, {"released": {"at": "now", "by": "x"}},
        {"released": {"at": "2026-02-30T10:00:00Z", "by": "x"}}, {"files": []}, {"more": 1}, {"people": None},
    ],
)  # fmt: skip
def test_a_manifest_that_fillmark_does_not_write_is_refused(members, change):
    manifest = {**json.loads(members[MANIFEST]), **change}
    found = codes(pack({**members, MANIFEST: json_bytes(manifest)}))
    assert found
    assert set(found) <= {"VFY06", "VFY04"}


@pytest.mark.parametrize("content", [b"", b"{", b"[" * 100_000, b"null", b"\xff", b'{"format":1,"format":1}'])
def test_a_manifest_that_is_none_is_refused(members, content):
    assert ["VFY06"] == codes(pack({**members, MANIFEST: content}))


def test_a_manifest_in_another_form_is_refused(members):
    spaced = json.dumps(json.loads(members[MANIFEST])).encode()
    assert ["VFY06"] == codes(pack({**members, MANIFEST: spaced}))


def test_an_archive_without_a_manifest_is_refused(members):
    assert ["VFY06"] == codes(pack({n: c for n, c in members.items() if n != MANIFEST}))


def test_a_released_revision_is_named_by_its_id_and_number():
    assert "MCW-VIS-014-r3" == stem("MCW-VIS-014", 3)


def test_the_outside_tool_for_archives_finds_nothing_wrong(released, tmp_path):
    file = tmp_path / "b.zip"
    file.write_bytes(released)
    done = subprocess.run(
        [sys.executable, "-m", "zipfile", "-t", str(file)], capture_output=True, text=True, check=True
    )
    assert "Done testing" in done.stdout
