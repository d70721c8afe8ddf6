"""Any bytes are read, checked and, where they are a clean method, made into papers; never a crash, never a hang.

`make fuzz` looks for bytes that break this and calls `examine` on each. What it has kept because it reached
lines of the program that nothing before it did, and what once broke it, stands in `corpus/` and is tried here.
"""

from datetime import date
from html.parser import HTMLParser
from pathlib import Path

import pytest

from fillmark.build import documents
from fillmark.fix import mend
from fillmark.model import Reference
from fillmark.orders import Order
from fillmark.pipeline import compile_method
from fillmark.reference import load
from fillmark.report import FORMS, written
from fillmark.terminal import render

ROOT = Path(__file__).parents[2]
CORPUS = Path(__file__).parent / "corpus"
FILES = [
    *sorted((ROOT / "methods").glob("*.yaml")), *sorted((ROOT / "tests" / "bad_methods").glob("*.yaml")),
    *sorted(CORPUS.iterdir()),
]  # fmt: skip
DAY = date(2026, 12, 1)
ORDER = Order(("A4",), ("checklist", "data-sheet", "dossier", "training", "competency"), ("html",), DAY)
NEVER = {"script", "iframe", "object", "embed", "img", "link", "a", "base", "form", "foreignobject", "image"}


class Tags(HTMLParser):
    """Collects what a page is made of."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.feed(page)

    def handle_starttag(self, tag, attrs):  # noqa: D102 - the parser calls it
        self.tags.add(tag)
        self.attributes.update(name for name, _ in attrs)


def examine(data: bytes, reference: Reference) -> None:
    """Take bytes through the program as a file of a stranger's; AssertionError for a promise that is not kept."""
    one = compile_method(data, "stranger.yaml", reference, today=DAY)
    assert one.method is not None or one.diagnostics, "what cannot be compiled must say why"
    lines = one.reading.lines
    for found in one.diagnostics:
        assert 1 <= found.span.line <= len(lines)
        assert found.message
    said = render(
        one.diagnostics, {one.file: one.reading}, colour=False, ascii_only=False, width=100, files=1
    )
    assert all(c == "\n" or c.isprintable() or c.isspace() for c in said)
    assert "\x1b" not in said
    for form in FORMS:
        # SARIF lists every rule each time, which would take most of a fuzzer's time.
        if form != "sarif" or len(data) % 8 == 0:
            written(form, [one])
    if one.source is not None:
        mend(one, reference, today=DAY)
    if not one.clean:
        return
    assert one.method.id == one.method.id.strip()
    assert not {"/", "\\", "\n"} & set(one.method.id)
    for name, page in documents(one, ORDER).items():
        found = Tags(page.decode())
        assert not NEVER & found.tags, name
        assert not {a for a in found.attributes if a.startswith("on") or a in {"href", "src"}}, name


@pytest.fixture(scope="module")
def shipped():
    """Reference data as shipped."""
    loaded, _ = load()
    return loaded


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)
def test_what_fuzzing_has_kept_is_taken(file, shipped):
    examine(file.read_bytes(), shipped)


def test_there_is_a_corpus_of_clean_faulty_and_unreadable_files(shipped):
    made = [compile_method(file.read_bytes(), file.name, shipped) for file in FILES]
    assert any(one.clean for one in made)
    assert any(one.method is not None and not one.clean for one in made)
    assert any(one.source is not None and one.method is None for one in made)
    assert any(one.source is None for one in made)
