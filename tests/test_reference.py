"""Reference data: what is shipped, what a workspace adds or overrides, and what is refused."""

import json
from pathlib import Path

import pytest

from fillmark.locate import schemas_folder
from fillmark.reference import KINDS, load


def workspace(tmp_path: Path, **files: str) -> Path:
    (tmp_path / "shared").mkdir()
    for kind, text in files.items():
        (tmp_path / "shared" / f"{kind}.yaml").write_text(text, encoding="utf-8")
    return tmp_path


JAR = (
    "{label: our jar, kind: pack, inside_diameter: 71 mm, height: 90 mm, source: demonstration, known: site}"
)


def test_every_kind_is_shipped_and_described(reference):
    definitions = json.loads((schemas_folder() / "shared.schema.json").read_text(encoding="utf-8"))["$defs"]
    assert set(KINDS) == set(definitions)
    assert all(reference.raw[kind] for kind in KINDS)


def test_a_workspace_adds_an_entry(tmp_path, reference):
    own, found = load(workspace(tmp_path, containers=f"our-jar: {JAR}\n"))
    assert [] == found
    assert {*reference.containers, "our-jar"} == set(own.containers)
    assert "shared/containers.yaml" == own.origins["containers", "our-jar"]
    assert "shipped/containers.yaml" == own.origins["containers", "jar-63"]


def test_a_workspace_overrides_an_entry_by_key(tmp_path):
    own, _ = load(workspace(tmp_path, containers=f"jar-63: {JAR}\n"))
    assert 0.071 == own.containers["jar-63"].inside_diameter.value


def test_replace_drops_what_is_shipped(tmp_path):
    bench = (
        "{label: ours, spring: R, readout: dial, coupling: threaded, suspension: pivot-and-jewel,"
        " stand: fine-height, speeds: [10, 20], source: demonstration, known: site}"
    )
    own, found = load(workspace(tmp_path, instruments=f"replace: true\nours: {bench}\n"))
    assert [] == found
    assert ["ours"] == list(own.instruments)


def test_a_policy_overrides_one_by_one_and_says_what_changed(tmp_path, reference):
    text = "version: site-7\ntorque_floor: {value: 15 %, source: demonstration, why: caution}\n"
    own, _ = load(workspace(tmp_path, policy=text))
    assert ("site-7", ("torque_floor",)) == (own.policy.version, own.policy.changed)
    assert 15.0 == own.policy["torque_floor"]
    assert reference.policy["revolutions"] == own.policy["revolutions"]


@pytest.mark.parametrize(
    ("kind", "text", "code"),
    [
        (
            "containers",
            "x: {label: x, kind: pack, height: 9 mm, source: demonstration, known: site}",
            "SCH02",
        ),
        ("containers", f"x: {JAR.replace('71 mm', '71')}", "QTY01"),
        ("containers", f"x: {JAR.replace('demonstration', 'nowhere')}", "NAM01"),
        ("spindles", "R5: {kind: dish}", "SCH04"),
        ("springs", "L: [1, 2", "YML"),
    ],
)
def test_faulty_entries_are_refused_with_their_place(tmp_path, kind, text, code):
    own, found = load(workspace(tmp_path, **{kind: text}))
    assert own is None
    assert any(d.code.startswith(code) and f"shared/{kind}.yaml" == d.file for d in found), found


def test_every_source_named_is_in_the_bibliography_and_says_how_it_is_known(reference):
    named = {
        entry["source"]
        for kind in KINDS
        for entry in reference.raw[kind].values()
        if isinstance(entry, dict) and "source" in entry
    }
    assert set() == named - set(reference.sources)


def test_a_speed_list_and_a_speed_range(reference):
    dial, any_speed = reference.instruments["bench-8"], reference.instruments["bench-2"]
    assert [True, False] == [dial.has_speed(2.5), dial.has_speed(3)]
    assert [True, True, False, False] == [any_speed.has_speed(s) for s in (0.3, 200, 0.25, 201)]
