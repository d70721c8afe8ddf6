"""Finding the workspace and its method files."""

import os
from pathlib import Path

import pytest

from fillmark.diagnostics import Severity
from fillmark.files import unreadable
from fillmark.read import LARGEST
from fillmark.workspace import find_workspace, method_files, read_method


def make(folder: Path, *names: str) -> None:
    for name in names:
        file = folder / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text("a: 1\n", encoding="utf-8")


def test_the_workspace_is_the_nearest_folder_with_reference_data(tmp_path):
    make(tmp_path, "shared/springs.yaml", "inner/shared/policy.yaml", "inner/methods/deep/M.yaml")
    assert tmp_path / "inner" == find_workspace(tmp_path / "inner" / "methods" / "deep" / "M.yaml")
    assert tmp_path == find_workspace(tmp_path)


def test_a_folder_called_shared_without_reference_data_is_no_workspace(tmp_path):
    make(tmp_path, "shared/notes.yaml", "shared/springs.txt")
    assert find_workspace(tmp_path) != tmp_path


def test_a_folder_gives_all_yaml_below_it_in_order(tmp_path):
    make(tmp_path, "b.yaml", "a.yml", "deep/er/c.yaml", "readme.md", "d.yaml.bak")
    assert ["a.yml", "b.yaml", "deep/er/c.yaml"] == [
        f.relative_to(tmp_path).as_posix() for f in method_files([tmp_path])
    ]


def test_hidden_files_and_the_folders_shared_and_out_are_passed_over(tmp_path):
    make(tmp_path, "m.yaml", ".m.yaml", ".git/x.yaml", "shared/springs.yaml", "out/M/y.yaml")
    assert [tmp_path / "m.yaml"] == method_files([tmp_path])


def test_a_file_is_taken_whatever_it_is_called(tmp_path):
    make(tmp_path, "shared/springs.yaml", "method.txt")
    given = [tmp_path / "shared" / "springs.yaml", tmp_path / "method.txt"]
    assert given == method_files(given)


def test_a_file_named_twice_comes_once_under_its_first_name(tmp_path, monkeypatch):
    make(tmp_path, "m.yaml")
    monkeypatch.chdir(tmp_path)
    assert [Path("m.yaml")] == method_files([Path("m.yaml"), tmp_path / "m.yaml", tmp_path])


def test_a_link_that_leads_nowhere_is_listed_and_not_lost(tmp_path):
    (tmp_path / "gone.yaml").symlink_to(tmp_path / "nowhere.yaml")
    assert [tmp_path / "gone.yaml"] == method_files([tmp_path])


@pytest.mark.skipif(os.geteuid() == 0, reason="an administrator may look into every folder")
def test_a_folder_that_cannot_be_looked_into_is_an_error(tmp_path):
    make(tmp_path, "closed/m.yaml")
    (tmp_path / "closed").chmod(0)
    try:
        with pytest.raises(PermissionError):
            method_files([tmp_path])
    finally:
        (tmp_path / "closed").chmod(0o755)


def test_no_more_is_read_of_a_file_than_a_method_can_have(tmp_path):
    big = tmp_path / "big.yaml"
    with big.open("wb") as file:
        file.truncate(50 * LARGEST)
    assert LARGEST + 1 == len(read_method(big))


def test_what_cannot_be_read_is_an_error_that_names_file_and_reason(tmp_path):
    missing = tmp_path / "missing.yaml"
    with pytest.raises(FileNotFoundError) as raised:
        read_method(missing)
    found = unreadable(missing, raised.value)
    assert ("FIL01", Severity.ERROR, str(missing)) == (found.code, found.severity, found.file)
    assert "No such file or directory" in found.message
    assert len(found.ways_out) == 2
