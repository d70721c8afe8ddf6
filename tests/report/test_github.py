"""Workflow commands, read back as the runner reads them.

The escapes are those of the workflow commands of GitHub's runner, as recalled: %25, %0D and %0A in both
parts, %3A and %2C in properties.
"""

import re

from fillmark.report.github import write

COMMAND = re.compile(r"::(error|warning|notice) ([^:]*)::(.*)")


def unescaped(text, *more):
    for sign, code in (("\r", "%0D"), ("\n", "%0A"), *more, ("%", "%25")):
        text = text.replace(code, sign)
    return text


def parsed(done):
    """Give the commands as (command, properties, message), and the line that is none."""
    *commands, last = write(done).splitlines()
    found = []
    for line in commands:
        command, properties, message = COMMAND.fullmatch(line).groups()
        pairs = [pair.partition("=")[::2] for pair in properties.split(",")]
        values = {key: unescaped(value, (":", "%3A"), (",", "%2C")) for key, value in pairs}
        assert len(pairs) == len(values)
        found.append((command, values, unescaped(message)))
    return found, last


def test_nothing_found_gives_one_line_for_the_log(clean):
    assert "No findings in 1 file." == write([clean])


def test_a_finding_stands_at_its_place_with_its_ways_out(faulty):
    commands, last = parsed([faulty])
    (finding,) = (d for d in faulty.diagnostics if d.code == "TRQ01")
    command, properties, message = next(c for c in commands if c[1]["title"].startswith("TRQ01 "))
    line, column = str(finding.span.line), str(finding.span.column)
    assert "error" == command
    assert {
        "file": "LMT-VIS-021.yaml", "line": line, "endLine": line, "col": column,
        # `5 rpm` is five characters long; the last column is its last character.
        "endColumn": str(int(column) + 4), "title": "TRQ01 upper-limit-off-the-scale",
    } == properties  # fmt: skip
    assert message.startswith(finding.message + "\n")
    assert [f"- {way}" for way in finding.ways_out] == message.splitlines()[-2:]
    assert last.endswith("1 waived in 1 file.")


def test_advice_and_waived_findings_are_notices(advised, waived):
    commands, _ = parsed([advised])
    assert {"notice"} == {command for command, _, _ in commands}
    ((command, _, message),) = parsed([waived])[0]
    assert "notice" == command
    assert message.startswith("waived by M. Linden: The coefficient of the bar is relative, ")


def test_a_file_that_is_not_there_is_an_error(missing):
    ((command, properties, message),) = parsed([missing])[0]
    assert ("error", "methods/gone.yaml", "1") == (command, properties["file"], properties["line"])
    assert message.startswith("The file cannot be read: No such file or directory.\n")


def test_a_file_below_the_current_folder_is_named_from_there(faulty, tmp_path, monkeypatch):
    from dataclasses import replace

    monkeypatch.chdir(tmp_path)
    named = [replace(d, file=str(tmp_path / "methods" / "a.yaml")) for d in faulty.diagnostics]
    commands, _ = parsed([replace(faulty, diagnostics=tuple(named))])
    assert {"methods/a.yaml"} == {properties["file"] for _, properties, _ in commands}


def test_no_text_ends_its_command_or_begins_another(hostile):
    commands, last = parsed([hostile])
    assert ["warning", "notice"] == [command for command, _, _ in commands]
    for _, properties, message in commands:
        assert {"file", "line", "endLine", "title"} == set(properties), "a stretch over lines has no columns"
        assert hostile.file == properties["file"]
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u202e\ud800]", message)
        assert "100 % \ufffd[31mred\ufffd <b>&amp; ]]>" in message
        assert "\n::error file=x::y, [here](1) {0}" in message
    assert "1 warning, 1 waived in 1 file." == last
