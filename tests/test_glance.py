"""A check of many files at once says what a check of each says."""

import shutil
from pathlib import Path

import pytest

from fillmark import glance
from fillmark.fix import mendable
from fillmark.glance import look_over
from fillmark.pipeline import compile_method, used_twice

BAD = sorted((Path(__file__).parent / "bad_methods").rglob("*.yaml"))[:40]
DEMO = sorted((Path(__file__).parents[1] / "methods").glob("*.yaml"))


@pytest.fixture
def library(tmp_path):
    """Lay down methods with and without findings, two of them with one id, and one that cannot be read."""
    files = []
    for number, file in enumerate([*DEMO, *BAD]):
        files.append(tmp_path / f"{number:03}.yaml")
        text = file.read_text(encoding="utf-8", errors="surrogateescape")
        if number < len(DEMO):
            text = text.replace("\nid: ", f"\nid: N{number}-")
        files[-1].write_text(text, encoding="utf-8", errors="surrogateescape")
    files.append(tmp_path / "copy.yaml")
    shutil.copy(files[0], files[-1])
    files.append(tmp_path / "gone.yaml")
    return files


def one_by_one(files, reference):
    """Check each file as it is checked alone, and all of them for ids used twice."""
    return used_twice([compile_method(f.read_bytes(), str(f), reference) for f in files if f.exists()])


@pytest.mark.parametrize("jobs", [1, 3])
def test_many_files_at_once_bring_what_each_brings_alone(library, reference, jobs, monkeypatch):
    monkeypatch.setattr(glance, "ALONE", 2)
    monkeypatch.setattr(glance, "AT_ONCE", 4)
    seen = look_over(library, reference, today=None, jobs=jobs)
    alone = one_by_one(library, reference)
    assert [str(f) for f in library] == [one.file for one in seen]
    assert [one.diagnostics for one in alone] == [one.diagnostics for one in seen[:-1]]
    assert [mendable(one, reference) for one in alone] == [one.mendable for one in seen[:-1]]
    assert [None if one.method is None else one.method.id for one in alone] == [one.id for one in seen[:-1]]
    assert ["FIL01"] == [d.code for d in seen[-1].diagnostics]
    twice = [one.file for one in seen if "LIB01" in {d.code for d in one.diagnostics}]
    assert {str(library[0]), str(library[-2])} <= set(twice)


def test_lines_are_kept_where_there_is_something_to_show(library, reference):
    for one in look_over(library[:-1], reference, today=None, jobs=1):
        text = Path(one.file).read_bytes()
        if one.diagnostics:
            assert len(one.lines) >= max(d.span.line for d in one.diagnostics)
        else:
            assert text
            assert "" == one.text


def test_nothing_to_look_at_finds_nothing(reference):
    assert [] == look_over([], reference, today=None, jobs=2)
