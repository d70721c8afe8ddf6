"""The releases there were: found, opened, and compared with what a method has become."""

import pytest

from fillmark.build import Order, document
from fillmark.documents import Lines, plain
from fillmark.pipeline import compile_method
from fillmark.reference import load
from fillmark.releases.earlier import before, bundle_file, find, opened, since_last
from fillmark.releases.register import append, read


@pytest.fixture
def compiled_at_home(laboratory):
    """Compile a method file of the laboratory by its own reference data."""

    def compile_it(file):
        reference, found = load(laboratory)
        assert [] == found
        assert reference is not None
        return compile_method(file.read_bytes(), file.name, reference)

    return compile_it


def test_a_release_is_found_by_its_revision_or_the_last_by_the_id(laboratory):
    entry = read(laboratory).entries[0]
    append(laboratory, {**{k: v for k, v in entry.data.items() if k != "previous"}, "revision": 5})
    register = read(laboratory)
    assert 3 == find(register, "MCW-VIS-014-r3").data["revision"]
    assert 5 == find(register, "MCW-VIS-014").data["revision"]
    assert find(register, "MCW-VIS-014-r4") is None
    assert find(register, "MCW-VIS-01") is None


def test_the_release_before_a_revision_has_a_lower_number(laboratory):
    register = read(laboratory)
    assert 3 == before(register, "MCW-VIS-014", 4).data["revision"]
    assert before(register, "MCW-VIS-014", 3) is None


def test_a_release_that_is_not_the_registered_one_is_not_opened(laboratory):
    entry = read(laboratory).entries[0]
    whole, found = opened(laboratory, entry)
    assert [] == found
    assert whole is not None
    file = bundle_file(laboratory, entry)
    file.write_bytes(file.read_bytes() + b"x")
    assert (None, ["VFY09"]) == (opened(laboratory, entry)[0], [d.code for d in opened(laboratory, entry)[1]])
    file.unlink()
    assert (None, ["VFY07"]) == (opened(laboratory, entry)[0], [d.code for d in opened(laboratory, entry)[1]])


def test_what_changed_since_the_last_release_is_told(laboratory, revised, compiled_at_home):
    since = since_last(laboratory, compiled_at_home(revised()))
    assert since is not None
    assert (3, "2026-11-25", "H. Marlow", "parameter", "supervised run") == (
        since.revision, since.day, since.by, since.klass, since.trigger
    )  # fmt: skip
    assert ("sample.rest", "5 min", "6 min", "parameter") in {(r[0], r[2], r[3], r[4]) for r in since.changes}
    assert {"viscosity_20", "index"} == {r[0] for r in since.histories}


def test_the_revision_that_is_released_is_compared_with_none_before_it(laboratory, compiled_at_home):
    assert since_last(laboratory, compiled_at_home(laboratory / "methods" / "MCW-VIS-014.yaml")) is None


def test_a_last_release_that_cannot_be_read_is_told_on_the_page(laboratory, revised, compiled_at_home):
    bundle_file(laboratory, read(laboratory).entries[0]).unlink()
    one = compiled_at_home(revised())
    since = since_last(laboratory, one)
    assert since is not None
    assert "cannot be read" in since.problem
    order = Order(("A4",), ("dossier",), ("html",), home=laboratory)
    (html,) = document(one, "dossier", order).files.values()
    assert "What changed cannot be told." in html.decode()


def test_the_dossier_of_a_changed_method_has_the_page_and_an_unreleased_one_has_not(
    laboratory, revised, compiled_at_home
):
    one = compiled_at_home(revised())
    with_home, without = (
        next(
            iter(document(one, "dossier", Order(("A4",), ("dossier",), ("html",), home=home)).files.values())
        ).decode()
        for home in (laboratory, None)
    )
    assert "What changed since revision 3 was released" in with_home
    assert "What changed since" not in without


def test_the_page_says_what_it_was_and_is(laboratory, revised, compiled_at_home, dossier_since):
    one = compiled_at_home(revised())
    document_ = dossier_since(one, since_last(laboratory, one))
    section = next(s for s in document_.sides[0].sections if s.title.startswith("What changed since"))
    assert "2" == section.letter
    texts = [
        [plain(c) if isinstance(c, tuple) else "/".join(map(plain, c.lines)) for c in row]
        for block in section.blocks if block.kind == "table" and block.name == "since" for row in block.rows
    ]  # fmt: skip
    assert [
        "sample.rest/Rest between preparation and motor start",
        "5\u00a0min",
        "6\u00a0min",
        "parameter",
    ] in texts
    for block in section.blocks:
        for row in block.rows if block.kind == "table" else ():
            # An empty cell is a place to write in.
            assert all("".join(map(plain, c.lines)) if isinstance(c, Lines) else plain(c) for c in row), row


@pytest.fixture
def dossier_since():
    """Plan a dossier with a page of what changed."""
    from fillmark.build import review
    from fillmark.digest import digest
    from fillmark.documents.dossier import plan_dossier

    def plan(one, since):
        return plan_dossier(one.method, one.figures, digest(one.method), review(one, one.method), since=since)

    return plan
