"""JUnit XML, read back with the parser of the standard library."""

from xml.etree import ElementTree as ET

from fillmark.report import written
from fillmark.report.junit import write
from fillmark.rules import all_rules


def parsed(done):
    """Parse, and hold the shape that viewers rely on."""
    root = ET.fromstring(written("junit", done))  # noqa: S314 - it is our own text
    assert "testsuites" == root.tag
    assert {"testsuite"} >= {suite.tag for suite in root}
    for suite in root:
        assert {"testcase"} >= {case.tag for case in suite}
        names = [case.get("name") for case in suite]
        assert len(set(names)) == len(names)
        assert len(suite) == int(suite.get("tests"))
        assert len(suite.findall("testcase/failure")) == int(suite.get("failures"))
        assert len(suite.findall("testcase/skipped")) == int(suite.get("skipped"))
        assert "0" == suite.get("errors")
        for case in suite:
            assert suite.get("name") == case.get("classname") == case.get("file")
            assert [part.tag for part in case] in (
                [],
                ["failure"],
                ["failure", "system-out"],
                ["skipped"],
                ["skipped", "system-out"],
                ["system-out"],
            )
    for count in ("tests", "failures", "errors", "skipped"):
        assert sum(int(suite.get(count)) for suite in root) == int(root.get(count))
    return root


def case_of(root, code):
    (case,) = (c for c in root.iter("testcase") if c.get("name").startswith(f"{code} "))
    return case


def test_a_clean_method_has_a_case_for_every_rule_and_all_pass(clean):
    root = parsed([clean])
    assert [f"{r.code} {r.slug}" for r in all_rules()] == [c.get("name") for c in root.iter("testcase")]
    assert {0} == {len(case) for case in root.iter("testcase")}


def test_each_file_is_a_suite_in_the_order_given(clean, faulty, missing):
    root = parsed([missing, faulty, clean])
    assert ["methods/gone.yaml", "LMT-VIS-021.yaml", "MCW-VIS-014.yaml"] == [
        suite.get("name") for suite in root
    ]
    assert [] == list(parsed([]))


def test_an_error_fails_its_case_with_place_and_ways_out(faulty):
    failure = case_of(parsed([faulty]), "TRQ01").find("failure")
    (finding,) = (d for d in faulty.diagnostics if d.code == "TRQ01")
    assert "error" == failure.get("type")
    assert f"line {finding.span.line}: {finding.message}" == failure.get("message")
    assert failure.text.startswith(f"LMT-VIS-021.yaml:{finding.span.line}:{finding.span.column}: error ")
    assert [f"- {way}" for way in finding.ways_out] == failure.text.splitlines()[-2:]


def test_findings_of_one_rule_share_a_case(faulty):
    from dataclasses import replace

    (finding,) = (d for d in faulty.diagnostics if d.code == "TRQ01")
    failure = case_of(parsed([replace(faulty, diagnostics=(finding, finding))]), "TRQ01").find("failure")
    assert failure.get("message").endswith(" (and 1 more)")
    assert 2 == failure.text.count(finding.message)


def test_advice_passes_and_stands_in_the_output(advised):
    root = parsed([advised])
    assert "0" == root.get("failures")
    (told,) = (case for case in root.iter("testcase") if case.find("system-out") is not None)
    assert advised.diagnostics[0].message in told.find("system-out").text


def test_a_waived_rule_is_skipped_with_the_reason_and_the_finding(waived):
    case = case_of(parsed([waived]), "VER07")
    assert case.find("skipped").get("message").startswith("waived by M. Linden: The coefficient of the bar")
    assert waived.diagnostics[0].message in case.find("system-out").text


def test_a_rule_that_could_not_judge_is_skipped_with_the_reason(compiled):
    done = compiled("BBM-VIS-007")
    rule, reason = done.checked.not_judged[0]
    assert f"not judged: {reason}" == case_of(parsed([done]), rule.code).find("skipped").get("message")


def test_a_file_that_is_not_there_fails(missing):
    failure = case_of(parsed([missing]), "FIL01").find("failure")
    assert "line 1: The file cannot be read: No such file or directory." == failure.get("message")


def test_what_xml_cannot_hold_is_replaced_and_the_rest_comes_back_unchanged(hostile):
    root = parsed([hostile])
    assert hostile.file == root[0].get("name")
    assert b"\x00" not in written("junit", [hostile])
    text = case_of(root, "QTY01").find("failure").text
    assert '100 % \ufffd[31mred\ufffd <b>&amp; ]]> "it\'s"\n::error file=x::y, ' in text
    assert "[here](1) {0} \ufffd\ufffd µPa·s" in text
    assert case_of(root, "SCH01").find("skipped").get("message").startswith("waived by 100 % \ufffd[31mred")


def test_the_text_says_its_encoding():
    assert '<?xml version="1.0" encoding="UTF-8"?>' == write([]).splitlines()[0]
