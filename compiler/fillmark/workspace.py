"""Where a laboratory's files lie: the workspace (methods/, shared/, out/) and the method files in it."""

from collections.abc import Iterable
from pathlib import Path

from fillmark.reference import KINDS

SUFFIXES = (".yaml", ".yml")


def find_workspace(start: Path) -> Path | None:
    """Find the nearest folder at or above `start` whose `shared/` holds reference data; None if there is none."""
    at = start.resolve()
    for folder in (at, *at.parents):
        shared = folder / "shared"
        if shared.is_dir() and any((shared / f"{kind}.yaml").is_file() for kind in KINDS):
            return folder
    return None


def method_files(paths: Iterable[Path]) -> list[Path]:
    """List the method files that paths name: files as they are, folders with all YAML below them.

    Hidden folders and the folders `shared` and `out` of a workspace are passed over. Each file comes once,
    in the order of its name.
    """
    found: dict[Path, Path] = {}
    for path in paths:
        if path.is_dir():
            for file in sorted(path.rglob("*")):
                inner = file.relative_to(path).parts
                if file.suffix in SUFFIXES and file.is_file() and not _passed_over(inner):
                    found.setdefault(file.resolve(), file)
        else:
            found.setdefault(path.resolve(), path)
    return list(found.values())


def _passed_over(parts: tuple[str, ...]) -> bool:
    return any(p.startswith(".") or p in ("shared", "out") for p in parts[:-1]) or parts[-1].startswith(".")
