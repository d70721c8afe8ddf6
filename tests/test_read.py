"""Stage 1 against the rules of YAML 1.2 and the loader of PyYAML, and what it makes of files it cannot read."""

import re
from pathlib import Path as FilePath

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from fillmark.diagnostics import Path, Span
from fillmark.read import LARGEST, Reading, Source, read
from fillmark.yaml_faults import DEEPEST, lines_of


def _source(text: str) -> Source:
    reading = read(text.encode(), "m.yaml")
    assert reading.diagnostics == ()
    assert reading.source is not None
    return reading.source


def _codes(data: str | bytes) -> list[str]:
    reading = read(data if isinstance(data, bytes) else data.encode(), "m.yaml")
    assert reading.source is None
    return [d.code for d in reading.diagnostics]


def _cut(text: str, span: Span) -> str:
    """Cut the stretch of a one-line span out of a text, with lines split independently of the module."""
    assert span.line == span.end_line
    line = re.split("\r\n|\r|\n", text)[span.line - 1]
    return line[span.column - 1 : span.end_column - 1]


@pytest.mark.parametrize(
    ("written", "value"),
    [
        # YAML 1.2.2, section 10.3.2: tag resolution of the core schema, with its examples.
        ("null", None), ("Null", None), ("NULL", None), ("~", None), ("", None),
        ("true", True), ("True", True), ("TRUE", True), ("false", False), ("FALSE", False),
        ("0", 0), ("0o7", 7), ("0x3A", 58), ("-19", -19), ("+12", 12), ("010", 10),
        ("0.", 0.0), ("-0.0", -0.0), (".5", 0.5), ("+12e03", 12000.0), ("-2E+05", -200000.0), ("1e3", 1000.0),
        # Not numbers, booleans or dates there, though they were in YAML 1.1.
        ("yes", "yes"), ("no", "no"), ("on", "on"), ("off", "off"), ("y", "y"), ("n", "n"),
        ("1:30", "1:30"), ("1_000", "1_000"), ("0b1", "0b1"), ("2026-12-01", "2026-12-01"), ("tRUE", "tRUE"),
        ("20 rpm", "20 rpm"), ("1.2.3", "1.2.3"), ("--1", "--1"), ("-", "-"), ("1e", "1e"), (".", "."),
        ("٣", "٣"),
        # Quotes make a text.
        ('"12"', "12"), ("'true'", "true"), ('""', ""), ('"a\\u00b5"', "aµ"),
    ],
)  # fmt: skip
def test_plain_values_follow_the_core_schema_of_yaml_1_2(written, value):
    if written == "-":
        written, value = "'-'", "-"
    got = _source(f"a: {written}\n").data["a"]
    assert value == got
    assert type(value) is type(got)


def test_methods_read_as_the_safe_loader_reads_them_but_for_the_traps_of_yaml_1_1():
    folder = FilePath(__file__).parents[1] / "methods"
    files = sorted(folder.glob("*.yaml"))
    assert files
    for file in files:
        # The loader without resolution of plain scalars, then compared as text: an independent reading.
        plain = yaml.load(file.read_bytes(), Loader=yaml.CBaseLoader)

        def same(ours, theirs):
            if isinstance(ours, dict):
                assert list(theirs) == list(ours)
                for key in ours:
                    same(ours[key], theirs[key])
            elif isinstance(ours, list):
                assert len(theirs) == len(ours)
                for one, other in zip(ours, theirs, strict=True):
                    same(one, other)
            elif isinstance(ours, str):
                assert theirs == ours
            elif isinstance(ours, bool):
                assert theirs == str(ours).lower()
            elif ours is None:
                assert theirs in ("", "~", "null")
            else:
                assert float(theirs) == ours

        same(_source(file.read_text(encoding="utf-8")).data, plain)


PLACES = "# first\na: 8.0 µN·m\nlist:\n  - {é😀: 'it''s', n: 12}\n  - plain  # comment\nblock:\n  deep: x\n"


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize(
    ("path", "value", "key"),
    [
        (("a",), "8.0 µN·m", "a"),
        (("list", 0), "{é😀: 'it''s', n: 12}", None),
        (("list", 0, "é😀"), "'it''s'", "é😀"),
        (("list", 0, "n"), "12", "n"),
        (("list", 1), "plain", None),
        (("block",), "deep: x", "block"),
        (("block", "deep"), "x", "deep"),
    ],
)
def test_every_key_and_value_has_its_place_in_characters(ends, mark, path, value, key):
    text = PLACES.replace("\n", ends)
    source = _source(mark + text)
    assert value == _cut(text, source.span(path))
    if key is not None:
        assert key == _cut(text, source.span(path, key=True))


def test_tabs_inside_a_line_count_as_one_character():
    text = "a:\t1\t# x\n"
    assert Span(1, 4, 1, 5) == _source(text).span(("a",))


def test_a_text_over_several_lines_ends_with_its_last_letter():
    source = _source("a: |\n  one\n  two µ\n\n\nb: folded\n  on\nc: >-\n  x\n")
    assert Span(1, 4, 3, 8) == source.span(("a",))
    assert Span(6, 4, 7, 5) == source.span(("b",))
    assert Span(8, 4, 9, 4) == source.span(("c",))
    assert Span(1, 4, 1, 5) == _source("a: |\n").span(("a",))


def test_a_block_reaches_from_its_first_key_to_its_last_value():
    source = _source("a:\n  b:\n    - 1\n    - c: 2\n      d:\ne: []\nf: {}\n")
    assert Span(2, 3, 5, 8) == source.span(("a",))
    assert Span(3, 5, 5, 8) == source.span(("a", "b"))
    assert Span(4, 7, 5, 8) == source.span(("a", "b", 1))
    assert Span(6, 4, 6, 6) == source.span(("e",))
    assert Span(7, 4, 7, 6) == source.span(("f",))
    assert Span(1, 1, 7, 6) == source.span(())


def test_an_empty_value_is_shown_by_its_key():
    source = _source("a:\nb:\n  c:\n")
    assert Span(1, 1, 1, 2) == source.span(("a",))
    assert Span(3, 3, 3, 4) == source.span(("b", "c"))


@pytest.mark.parametrize("key", [True, False])
def test_a_missing_value_is_shown_by_the_key_of_its_block(key):
    source = _source("a: 1\nrun:\n  - {speed: 2}\n")
    assert Span(1, 1, 1, 2) == source.span(("guard",), key=key)
    assert Span(2, 1, 2, 4) == source.span(("run", 7, "speed"), key=key)
    assert Span(3, 5, 3, 15) == source.span(("run", 0, "read", "after"), key=key)


def test_independent_problems_are_reported_together():
    text = "a: 1\na: 2\nb: {c: 1, c: 2, c: 3}\nd: &x .inf\ne: *x\n7: !t y\nf: [1\n"
    codes = ["YML07", "YML07", "YML07", "YML09", "YML12", "YML09", "YML08", "YML11", "YML15"]
    assert codes == _codes(text)


def test_a_duplicate_points_at_the_first():
    found = read(b"run:\n  speed: 1\n  speed: 2\n  speed: 3\n", "m.yaml").diagnostics
    assert [(3, 3), (4, 3)] == [(d.span.line, d.span.column) for d in found]
    for one in found:
        assert ("run", "speed") == one.path
        assert [Span(2, 3, 2, 8)] == [r.span for r in one.related]


def test_anchor_and_tag_before_one_value_are_both_shown():
    found = read(b"a: &x !t [1]\n", "m.yaml").diagnostics
    assert [Span(1, 4, 1, 6), Span(1, 7, 1, 9)] == [d.span for d in found]


@pytest.mark.parametrize(
    "text",
    [
        "[" * 1000, "[" * 100_000, "- " * 1000, "- " * 100_000, "{a: " * 1000, "{a: " * 100_000,
        "a: " + "[" * 1000 + "]" * 1000, "[" * 1000 + "]" * 1000,
        "\n".join(" " * n + "a:" for n in range(1000)),
        "\n".join(" " * n + "- a:" for n in range(0, 1400, 2)),
        "? " * 10_000, "[{a: " * 50_000,
    ],
)  # fmt: skip
def test_endless_nesting_is_refused_and_never_breaks_the_parser(text):
    assert len(text) < LARGEST
    codes = _codes(text)
    assert "YML05" == codes[-1]
    assert set(codes) <= {"YML05", "YML08"}


def test_the_deepest_nesting_is_read_and_one_more_is_not():
    levels, data = 0, [_source("[" * DEEPEST + "]" * DEEPEST).data]
    while data:
        levels, data = levels + 1, data[0]
    assert DEEPEST == levels
    assert ["YML05"] == _codes("[" * (DEEPEST + 1) + "]" * (DEEPEST + 1))


def test_size_is_limited():
    fits = b"a: " + b"x" * (LARGEST - 4) + b"\n"
    assert read(fits, "m").source is not None
    assert ["YML04"] == _codes(fits + b"\n")
    assert str(LARGEST) in read(fits + b"\n", "m").diagnostics[0].message


def test_a_flood_of_problems_is_cut_off():
    assert 100 == len(_codes("{" + "a," * 200_000 + "}"))


@pytest.mark.parametrize(
    ("data", "place", "piece"),
    [
        # Windows-1252 code points by the Unicode consortium's mapping table CP1252.TXT.
        (b"a: 1\nb: 80 \xb5m\n", (2, 7), "0xb5 in line 2 (offset 11 in the file)"),
        (b"a: 1\nb: 80 \xb5m\n", (2, 7), "In Windows-1252 it is µ"),
        ("µ: °\n".encode() + b"t: 23 \xb0C\n", (2, 7), "offset 13"),
        (b"\xef\xbb\xbfa: \xb1\n", (1, 4), "offset 6"),
        (b"a: \x81\n", (1, 4), "0x81"),
        ("a: µ\n".encode("utf-16"), (1, 1), "UTF-16"),
        ("a: bc\n".encode("utf-16-le"), (1, 1), "UTF-16"),
        ("a: bc\n".encode("utf-16-be"), (1, 1), "UTF-16"),
        ("a: µ\n".encode("utf-32"), (1, 1), "UTF-32"),
    ],
)  # fmt: skip
def test_other_encodings_are_told_apart(data, place, piece):
    found = read(data, "m.yaml").diagnostics
    assert ["YML01"] == [d.code for d in found]
    assert place == (found[0].span.line, found[0].span.column)
    assert piece in found[0].message
    assert "UTF-8" in found[0].ways_out[0]


def test_lines_are_there_for_excerpts_even_where_nothing_could_be_read():
    assert ("a: 1", "b: 80 \ufffdm", "") == read(b"a: 1\nb: 80 \xb5m\n", "m").lines
    assert ("a: µ", "") == read("a: µ\n".encode("utf-16"), "m").lines
    assert ("a: [", "") == read(b"a: [\n", "m").lines
    assert ("a", "b", "c", "", "d\x0be") == lines_of("a\r\nb\rc\n\nd\x0be")


def _paths(data: object, path: Path = ()) -> list[Path]:
    inner = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return [path, *(p for step, value in inner for p in _paths(value, (*path, step)))]


def _sound(text: str, reading: Reading) -> None:
    lines = lines_of(text)
    spans = [d.span for d in reading.diagnostics]
    assert (reading.source is None) == bool(spans)
    if reading.source is not None:
        spans += [reading.source.span(p, key=k) for p in _paths(reading.source.data) for k in (True, False)]
    for span in spans:
        assert (span.line, span.column) <= (span.end_line, span.end_column)
        assert 1 <= span.line <= len(lines)
        assert 1 <= span.column <= len(lines[span.line - 1]) + 1


@given(st.text(alphabet="ab:,-[]{}#&*!|>'\"%@` \n\t\\0.eéµ😀?~<", max_size=60))
def test_any_text_is_read_or_explained(text):
    _sound(text, read(text.encode(), "m.yaml"))


@given(st.binary(max_size=80))
def test_any_bytes_are_read_or_explained(data):
    reading = read(data, "m.yaml")
    assert (reading.source is None) == bool(reading.diagnostics)


_PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(
        st.characters(min_codepoint=32, max_codepoint=0x2FF, exclude_categories=("Cc", "Cf")), max_size=12
    # YAML 1.1, which the dumper writes, takes 0E0 for a text; the core schema of 1.2 for a number.
    ).filter(lambda text: not re.fullmatch(r"[-+]?[0-9.]+[eE][-+]?[0-9]+", text)),
    lambda inner: st.lists(inner, max_size=3)
    | st.dictionaries(st.text("abcµ 1:", min_size=1, max_size=5), inner, max_size=3),
    max_leaves=12,
)  # fmt: skip


@given(st.dictionaries(st.text("abc", min_size=1, max_size=3), _PLAIN, min_size=1, max_size=4), st.booleans())
def test_what_is_written_by_the_dumper_is_read_back(data, flow):
    text = yaml.safe_dump(data, allow_unicode=True, default_flow_style=flow, sort_keys=False)
    reading = read(text.encode(), "m.yaml")
    assert reading.source is not None
    assert data == reading.source.data
    _sound(text, reading)
