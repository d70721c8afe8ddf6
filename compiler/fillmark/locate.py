"""Where the files that come with Fillmark lie: in the installed package, or in the checkout it runs from."""

from pathlib import Path

PACKAGE = Path(__file__).resolve().parent


def schemas_folder() -> Path:
    """Folder of the published JSON Schemas; FileNotFoundError if the installation lacks it."""
    return _shipped("schemas")


def shared_folder() -> Path:
    """Folder of the reference data that Fillmark ships; FileNotFoundError if the installation lacks it."""
    return _shipped("shared")


def templates_folder() -> Path:
    """Folder of the page templates and style sheets."""
    return PACKAGE / "templates"


def _shipped(name: str) -> Path:
    packaged = PACKAGE / name
    folder = packaged if packaged.is_dir() else PACKAGE.parents[1] / name
    if not folder.is_dir():
        raise FileNotFoundError(
            f"Fillmark's own folder {name!r} is neither at {packaged} nor at {folder}: reinstall it"
        )
    return folder
