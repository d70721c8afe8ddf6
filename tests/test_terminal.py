"""What reaches the terminal: the mark under the right columns, nothing raw, no column too many."""

import io
import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from fillmark.diagnostics import Diagnostic, Related, Severity, Span
from fillmark.read import read
from fillmark.terminal import colour_wanted, plain_ascii, render, summary

SGR = re.compile(r"\x1b\[[0-9;]*m")


START = Span(1, 1, 1, 2)


class _Lines:
    def __init__(self, *lines):
        self.lines = lines


def _diagnostic(span=START, message="It reads low.", severity=Severity.ERROR, file="m.yaml", **more):
    return Diagnostic("TRQ01", "torque-above-full-scale", severity, message, file, span, **more)


def _draw(diagnostics, *lines, colour=False, ascii_only=False, width=80, files=1, name="m.yaml"):
    return render(
        diagnostics, {name: _Lines(*lines)}, colour=colour, ascii_only=ascii_only, width=width, files=files
    )


def _marked(text):
    """Read back from the drawing what stands above the mark, by the columns a terminal would use."""
    rows = text.split("\n")
    at = next(i for i, row in enumerate(rows) if row.endswith("^"))
    start, end = rows[at].index("^"), len(rows[at])
    column, out = 0, ""
    for sign in rows[at - 1]:
        if start <= column < end:
            out += sign
        column += cell_len(sign)
    return out


def test_a_whole_block_reads_like_this():
    found = _diagnostic(
        Span(2, 9, 2, 15),
        "At the upper limit 12.0 Pa·s the spring reads 120 % of full scale, 20 % too much: it is lost.",
        path=("run", 0, "speed"),
        ways_out=("Lower the speed to 10 rpm: 60 %.", "Take spindle R6: 45 %."),
        related=(
            Related("the upper limit", ("specification",), Span(1, 8, 1, 17)),
            Related("shared/springs.yaml", ()),
        ),
    )
    drawn = _draw([found], "upper: 12.0 Pa·s", "  speed: 20 rpm", width=64, files=3)
    expected = """\
m.yaml:2:9: error TRQ01 torque-above-full-scale
     2 ┊   speed: 20 rpm
       ┊         ^^^^^^
  At the upper limit 12.0 Pa·s the spring reads 120 % of full
  scale, 20 % too much: it is lost.
  see line 1: the upper limit
     1 ┊ upper: 12.0 Pa·s
       ┊        ^^^^^^^^^
  see: shared/springs.yaml
  way out:
  • Lower the speed to 10 rpm: 60 %.
  • Take spindle R6: 45 %.

1 error in 1 of 3 files."""
    assert expected == drawn


@pytest.mark.parametrize(
    ("line", "start", "end", "marked"),
    [
        ("speed: 20 rpm", 7, 13, "20 rpm"),
        ("粘度: 20 µN·m", 4, 11, "20 µN·m"),
        ("e\u0301te\u0301: x1", 7, 9, "x1"),
        ("😀😀 y", 3, 4, "y"),
        ("a\tb", 2, 3, "b"),
        ("\tb", 0, 1, "→   "),
        ("a: \x1b[31mred", 3, 4, "\ufffd"),
        ("x", 0, 0, "x"),
    ],
)
def test_the_mark_stands_under_the_exact_columns(line, start, end, marked):
    drawn = _draw([_diagnostic(Span(1, start + 1, 1, end + 1))], line)
    assert marked == _marked(drawn)


def test_the_mark_of_several_lines_ends_with_the_first():
    drawn = _draw([_diagnostic(Span(1, 4, 3, 2))], "a: | # x  ", "  b", "c")
    assert "| # x" == _marked(drawn)


def test_a_mark_past_the_end_of_a_line_is_drawn():
    drawn = _draw([_diagnostic(Span(1, 5, 1, 6))], "a: [")
    assert "\n       ┊     ^\n" in drawn


def test_a_place_that_is_not_in_the_text_is_drawn_without_it():
    for span in (Span(7, 1, 7, 2), Span(0, 0, 0, 0)):
        assert "┊" not in _draw([_diagnostic(span)], "only line")
    assert "┊" not in _draw([_diagnostic(file="other.yaml")], "only line")


@pytest.mark.parametrize("ascii_only", [True, False])
@pytest.mark.parametrize("at", [0, 30, 500_000, 999_990])
def test_a_very_long_line_is_cut_round_the_mark(at, ascii_only):
    line = "x" * at + "HERE" + "y" * (1_000_000 - at)
    drawn = _draw([_diagnostic(Span(1, at + 1, 1, at + 5))], line, ascii_only=ascii_only, width=60)
    assert "HERE" == _marked(drawn)
    assert max(cell_len(row) for row in drawn.split("\n")) <= 60


def test_a_mark_wider_than_the_window_fills_it():
    drawn = _draw([_diagnostic(Span(1, 1, 1, 5000))], "x" * 6000, width=60)
    assert "x" * 50 == _marked(drawn)[:50]
    assert max(cell_len(row) for row in drawn.split("\n")) <= 60


STEERING = "\x00\x07\x08\x0d\x1b[2J\x1b]0;t\x07\x7f\x9b31m\u202e\u2066\u2028\u200b\ufeff\ud800"


@pytest.mark.parametrize("ascii_only", [True, False])
def test_nothing_that_steers_a_terminal_gets_through(ascii_only):
    found = _diagnostic(
        message=f"m{STEERING}m",
        file=f"f{STEERING}.yaml",
        ways_out=(f"w{STEERING}",),
        related=(Related(f"r{STEERING}", (), Span(1, 1, 1, 2)),),
        waived_by=f"b{STEERING}",
    )
    drawn = _draw([found], f"t{STEERING}", ascii_only=ascii_only, name=found.file)
    assert "t" in _marked(drawn)
    for sign in drawn.replace("\n", ""):
        assert unicodedata.category(sign) not in ("Cc", "Cf", "Cs", "Zl", "Zp"), repr(sign)


@pytest.mark.parametrize("severity", list(Severity))
def test_colour_is_never_the_only_sign(severity):
    found = [_diagnostic(severity=severity, ways_out=("Do this.",))]
    plain, painted = _draw(found, "a: 1"), _draw(found, "a: 1", colour=True)
    assert "\x1b" not in plain
    assert "\x1b[" in painted
    assert plain == SGR.sub("", painted)
    assert f" {severity.word} TRQ01" in plain


def test_painting_is_always_put_back():
    painted = _draw(
        [_diagnostic(ways_out=("x",), related=(Related("r", (), Span(1, 1, 1, 2)),))], "a: 1", colour=True
    )
    for row in painted.split("\n"):
        codes = SGR.findall(row)
        assert ["\x1b[0m"] * (len(codes) // 2) == codes[1::2]


def test_ascii_spells_the_signs_of_the_trade_out():
    text = "718.7 µN·m ± 0.5 °C, 5 mm²/s, 3 s⁻¹, −5 K, 2 × 3 ≥ 4, ½, Müller, 粘\u202f…"
    expected = "718.7 uN.m +/- 0.5 degC, 5 mm^2/s, 3 s^-1, -5 K, 2 x 3 >= 4, 1/2, Muller, ? ..."
    assert expected == plain_ascii(text)
    assert "a\nb" == plain_ascii("a\nb")


@given(
    st.text(max_size=40), st.text(max_size=40), st.integers(0, 45), st.integers(0, 45), st.integers(0, 120)
)
def test_ascii_output_is_ascii_and_no_row_is_too_wide(line, message, start, length, width):
    line = re.sub(r"[\r\n]", " ", line)
    found = _diagnostic(Span(1, start + 1, 1, start + length + 1), message, ways_out=(message, "x"))
    for ascii_only in (True, False):
        drawn = _draw([found], line, ascii_only=ascii_only, width=width)
        assert drawn.isascii() or not ascii_only
        rows = drawn.split("\n")
        if ascii_only:
            assert max(len(row) for row in rows[1:]) <= max(width, 40)
        assert not {unicodedata.category(c) for row in rows for c in row} & {"Cc", "Cf", "Cs", "Zl", "Zp"}


def test_diagnostics_come_in_reading_order():
    later, first, other = (
        _diagnostic(Span(9, 1, 9, 2)),
        _diagnostic(Span(2, 1, 2, 2)),
        _diagnostic(file="a.yaml"),
    )
    drawn = _draw([later, first, other])
    places = ["a.yaml:1:1:", "m.yaml:2:1:", "m.yaml:9:1:"]
    assert places == re.findall(r"^\S+:\d+:\d+:", drawn, re.MULTILINE)


@pytest.mark.parametrize(
    ("diagnostics", "files", "text"),
    [
        ([], 0, "No findings in 0 files."),
        ([], 1, "No findings in 1 file."),
        ([_diagnostic()], 1, "1 error in 1 file."),
        (
            [_diagnostic(), _diagnostic(), _diagnostic(severity=Severity.WARNING, file="b")],
            100,
            "2 errors, 1 warning in 2 of 100 files.",
        ),
        ([_diagnostic(severity=Severity.ADVICE)] * 2, 4, "2 pieces of advice in 1 of 4 files."),
        ([_diagnostic(waived_by="H. Marlow")], 2, "1 waived in 1 of 2 files."),
    ],
)
def test_the_closing_line_counts(diagnostics, files, text):
    assert text == summary(diagnostics, files)


def test_a_waived_finding_says_who_waived_it():
    drawn = _draw([_diagnostic(waived_by="H. Marlow", severity=Severity.WARNING)])
    assert "warning TRQ01 torque-above-full-scale, waived by H. Marlow" in drawn


class _Terminal(io.StringIO):
    def isatty(self):
        return True


@pytest.mark.parametrize(
    ("stream", "env", "wanted"),
    [
        (_Terminal(), {}, True),
        (_Terminal(), {"TERM": "xterm"}, True),
        (_Terminal(), {"TERM": "dumb"}, False),
        (_Terminal(), {"NO_COLOR": "1"}, False),
        (_Terminal(), {"NO_COLOR": ""}, True),  # no-color.org: "when present and not an empty string"
        (_Terminal(), {"FORCE_COLOR": "0"}, False),
        (io.StringIO(), {}, False),
        (io.StringIO(), {"FORCE_COLOR": "1"}, True),
        (io.StringIO(), {"FORCE_COLOR": "1", "TERM": "dumb"}, True),
        (io.StringIO(), {"FORCE_COLOR": "1", "NO_COLOR": "1"}, False),
    ],
)
def test_colour_follows_the_stream_and_the_environment(stream, env, wanted):
    assert wanted == colour_wanted(stream, env)


def test_a_file_that_could_not_be_read_still_shows_its_lines():
    reading = read(b"a: 1\nb: 80 \xb5m\n", "m.yaml")
    drawn = render(
        reading.diagnostics, {"m.yaml": reading}, colour=False, ascii_only=False, width=80, files=1
    )
    assert "     2 ┊ b: 80 \ufffdm\n       ┊       ^\n" in drawn
