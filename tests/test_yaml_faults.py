"""Every kind of bad file that stage 1 must explain, at its place and with a way out."""

import pytest

from fillmark.read import read
from fillmark.yaml_faults import CODES

BAD = [
    # (text, code, place, a piece of the message or of a way out)
    ("a: 1\n\tb: 2\n", "YML13", (2, 1), "spaces"),
    ("a:\n\t- 1\n", "YML13", (2, 1), "spaces"),
    ("\ta: 1\n", "YML13", (1, 1), "spaces"),
    ("a:\n  b: 1\n\t\tc: 2\n", "YML13", (3, 1), "spaces"),
    ("a:1\nb: 2\n", "YML18", (1, 2), "Write a: 1"),
    ("x: 1\nb:3\n", "YML18", (2, 2), "Write b: 3"),
    ("-a\n-b\nc: 1\n", "YML18", (2, 1), "Write - b"),
    ("note: a: b\n", "YML14", (1, 8), 'note: "a: b"'),
    ('note: say "x": b\n', "YML14", (1, 14), "note: 'say \"x\": b'"),
    ("a: 'x\nb: 2\n", "YML15", (1, 4), "quote '"),
    ('a: "x\nb: 2\n', "YML15", (1, 4), 'quote "'),
    ("a: [1,2\nb: 2\n", "YML15", (1, 4), "bracket ["),
    ("x: {a: 1,\nb: {x: 1\nc: 2", "YML15", (2, 4), "bracket {"),
    ("a: [\n", "YML15", (1, 4), "]"),
    ("a: [1, 2]]\n", "YML15", (1, 10), "none is open"),
    ("a: ['x' 'y']\n", "YML15", (1, 9), "comma"),
    ("a: %x\n", "YML16", (1, 4), '"%x"'),
    ("a: @x y\n", "YML16", (1, 4), '"@x y"'),
    ("a: `x`\n", "YML16", (1, 4), '"`x`"'),
    ("a: ]\n", "YML16", (1, 4), "]"),
    ("%FOO\na: 1\n", "YML16", (1, 1), "%"),
    ("%YAML 7.0\n---\na: 1\n", "YML16", (1, 1), "%"),
    ("a: 1\n  b: 2\n", "YML17", (2, 3), "further in"),
    ("a:\n  b: 1\n c: 2\n", "YML17", (3, 1), "exactly as far"),
    ("- a\nb: 1\n", "YML17", (2, 1), "dash"),
    ("a: 1\n- b\n", "YML17", (2, 1), "among keys"),
    ("a: - b\n", "YML17", (1, 4), "brackets"),
    ("a: x\nfree text\nc: 1\n", "YML19", (2, 1), "no key"),
    ("a: 1\n: w\n", "YML19", (2, 1), "before the colon"),
    ("a: 'it's'\n", "YML20", (1, 8), "written twice"),
    ('a: "x" y\n', "YML20", (1, 8), "inside the quotes"),
    ("{a: 1} b\n", "YML20", (1, 8), "after the end"),
    ('a: "\\q"\n', "YML21", (1, 5), "single quotes"),
    ('a: "\\ud800"\n', "YML21", (1, 7), "single quotes"),
    ("a: |x\n  b\n", "YML22", (1, 5), "next line"),
    ("a: &x 1\n", "YML09", (1, 4), "&x"),
    ("a: *x\n", "YML09", (1, 4), "*x"),
    ("*a : 1\n", "YML09", (1, 1), "*a"),
    ("&k a: 1\n", "YML09", (1, 1), "&k"),
    ("a: **b**\n", "YML09", (1, 4), "quotes"),
    ("a: &\n", "YML09", (1, 4), "quotes"),
    ("<<: {a: 1}\n", "YML10", (1, 1), "<<"),
    ("a: !x 1\n", "YML11", (1, 4), "!x"),
    ("a: !!python/object:os.system {}\n", "YML11", (1, 4), "!!python/object:os.system"),
    ("a: ! 12\n", "YML11", (1, 4), "!"),
    ("a: !e!x y\n", "YML11", (1, 4), "quotes"),
    ("a: .inf\n", "YML12", (1, 4), ".inf"),
    ("a: -.INF\n", "YML12", (1, 4), "finite"),
    ("a: .nan\n", "YML12", (1, 4), "finite"),
    ("a: 1e999\n", "YML12", (1, 4), "1e999"),
    ("a: 9007199254740992\n", "YML12", (1, 4), "9007199254740992"),
    (f"a: {'9' * 5000}\n", "YML12", (1, 4), "finite"),
    ("a: 1\nb: 2\na: 3\n", "YML07", (3, 1), "a has a value already"),
    ("1: x\n", "YML08", (1, 1), '"1"'),
    ("true: x\n", "YML08", (1, 1), '"true"'),
    ("a: {~: x}\n", "YML08", (1, 5), "~"),
    ("?\n: x\n", "YML08", (1, 2), "before the colon"),
    ("{: x}\n", "YML16", (1, 2), ":"),
    (": x\n", "YML19", (1, 1), "before the colon"),
    ("? [x]\n: 2\n", "YML08", (1, 3), "plain word"),
    ("---\na: 1\n---\nb: 2\n", "YML06", (3, 1), "second document"),
    ("a: 1\n...\nb: 2\n", "YML06", (3, 1), "second document"),
    ("", "YML03", (1, 1), "empty"),
    ("# only a comment\n\n", "YML03", (1, 1), "empty"),
    ("---\n", "YML03", (1, 1), "empty"),
    ("a: x\x07y\n", "YML02", (1, 5), "U+0007"),
    ("a: 1\nb: x\x00\n", "YML02", (2, 5), "U+0000"),
    ("a: x\u2028y\n", "YML02", (1, 5), "U+2028"),
    ("a: \u202ex\n", "YML02", (1, 4), "U+202E"),
    ("a: x\ufeff\n", "YML02", (1, 5), "U+FEFF"),
    ('a: "\\e[31m"\n', "YML02", (1, 4), "U+001B"),
    ('"\\x00": 1\n', "YML02", (1, 1), "U+0000"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "code", "place", "piece"), BAD)
def test_a_bad_file_is_explained_at_its_place(text, code, place, piece):
    reading = read(text.encode(), "m.yaml")
    assert reading.source is None
    assert [code] == [d.code for d in reading.diagnostics]
    only = reading.diagnostics[0]
    assert CODES[code][0] == only.slug
    assert place == (only.span.line, only.span.column)
    assert piece in " ".join((only.message, *only.ways_out))
    assert only.ways_out
    assert "m.yaml" == only.file
    assert only.blocks


def test_every_code_but_those_of_size_and_encoding_has_an_example_here():
    assert set(CODES) - {"YML01", "YML04", "YML05"} == {code for _, code, _, _ in BAD}


def test_every_suggested_pair_of_quotes_makes_the_line_readable():
    for text, code, _, _ in BAD:
        if code == "YML14":
            way = read(text.encode(), "m").diagnostics[0].ways_out[0]
            mended = way.removeprefix("Put it in quotes: ")
            assert {"note": text.removeprefix("note: ").strip()} == read(mended.encode(), "m").source.data
