"""One number for all that a result rests on."""

import hashlib

import pytest

from fillmark import fingerprint


def test_the_fingerprint_is_the_sha_256_of_lengths_and_texts():
    # Worked out by hand: the length of each part as eight bytes, the greatest first, and then the part.
    by_hand = hashlib.sha256(b"\0\0\0\0\0\0\0\x02ab\0\0\0\0\0\0\0\x02\xc2\xb5").hexdigest()
    assert by_hand == fingerprint.of(["ab", "µ"])
    assert by_hand == fingerprint.of([b"ab", "µ".encode()])


@pytest.mark.parametrize("other", [["b", "a"], ["ab"], ["a", "b", ""], ["", "a", "b"], ["a", "c"]])
def test_parts_count_one_by_one_and_in_order(other):
    assert fingerprint.of(["a", "b"]) != fingerprint.of(other)


def test_files_count_by_name_and_content_whatever_their_order():
    assert fingerprint.of_files({"a": b"1", "b": b"2"}) == fingerprint.of_files({"b": b"2", "a": b"1"})
    assert fingerprint.of_files({"a": b"1", "b": b"2"}) != fingerprint.of_files({"a": b"2", "b": b"1"})
    assert fingerprint.of_files({"a": b"1"}) != fingerprint.of_files({"a": b"1", "b": b""})


@pytest.fixture
def program(tmp_path, monkeypatch):
    """Put a small program in the place of Fillmark; gives its folder, and its fingerprint when called."""
    package, schemas = tmp_path / "fillmark", tmp_path / "schemas"
    for folder in (package / "rules", package / "__pycache__", package / "templates", schemas):
        folder.mkdir(parents=True)
    (package / "rules" / "torque.py").write_text("x = 1", encoding="utf-8")
    (package / "templates" / "page.html").write_text("<p>", encoding="utf-8")
    (schemas / "method.schema.json").write_text("{}", encoding="utf-8")
    monkeypatch.setattr(fingerprint, "PACKAGE", package)
    monkeypatch.setattr(fingerprint, "schemas_folder", lambda: schemas)
    monkeypatch.setattr(
        fingerprint, "sys", type("S", (), {"path": [str(tmp_path / "site-packages")], "version": "3"})
    )
    return tmp_path


@pytest.mark.parametrize(
    "file",
    [
        "fillmark/rules/torque.py",
        "fillmark/rules/new.py",
        "fillmark/templates/page.html",
        "schemas/method.schema.json",
    ],
)
def test_a_change_of_the_program_gives_another_number(program, file):
    before = fingerprint.of_program.__wrapped__()
    (program / file).write_text("changed", encoding="utf-8")
    assert before != fingerprint.of_program.__wrapped__()


def test_what_python_keeps_for_itself_does_not_count(program):
    before = fingerprint.of_program.__wrapped__()
    (program / "fillmark" / "__pycache__" / "torque.pyc").write_bytes(b"x")
    assert before == fingerprint.of_program.__wrapped__()


def test_another_version_of_a_library_gives_another_number(program):
    (program / "site-packages" / "weasyprint-70.0.dist-info").mkdir(parents=True)
    before = fingerprint.of_program.__wrapped__()
    (program / "site-packages" / "weasyprint-70.0.dist-info").rename(
        program / "site-packages" / "weasyprint-70.1.dist-info"
    )
    assert before != fingerprint.of_program.__wrapped__()
