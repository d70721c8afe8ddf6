from pathlib import Path

import pytest

from fillmark import locate


def test_a_checkout_serves_its_own_folders():
    root = Path(__file__).resolve().parents[1]
    assert root / "schemas" == locate.schemas_folder()
    assert root / "shared" == locate.shared_folder()
    assert root / "compiler" / "fillmark" / "templates" == locate.templates_folder()


def test_packaged_folders_come_before_those_of_a_checkout(tmp_path, monkeypatch):
    package = tmp_path / "compiler" / "fillmark"
    for folder in (package / "schemas", tmp_path / "schemas", tmp_path / "shared"):
        folder.mkdir(parents=True)
    monkeypatch.setattr(locate, "PACKAGE", package)
    assert package / "schemas" == locate.schemas_folder()
    assert tmp_path / "shared" == locate.shared_folder()


def test_a_missing_folder_is_named(tmp_path, monkeypatch):
    monkeypatch.setattr(locate, "PACKAGE", tmp_path / "compiler" / "fillmark")
    with pytest.raises(FileNotFoundError, match="folder 'schemas'"):
        locate.schemas_folder()
