"""What every test may ask for."""

from pathlib import Path

import pytest

from fillmark.model import Reference
from fillmark.pipeline import compile_method
from fillmark.reference import load

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="session")
def demo_methods() -> Path:
    """Folder of the demonstration methods."""
    return ROOT / "methods"


@pytest.fixture(scope="session")
def reference() -> Reference:
    """Reference data as shipped."""
    loaded, found = load()
    assert [] == found
    assert loaded is not None
    return loaded


@pytest.fixture(scope="session")
def edited():
    """Give the bytes of a demonstration method with one text put in the place of another that stands once."""

    def edit(method: str, *changes: tuple[str, str]) -> bytes:
        text = (ROOT / "methods" / f"{method}.yaml").read_text(encoding="utf-8")
        for right, wrong in changes:
            assert 1 == text.count(right), f"{right!r} must stand once in {method}"
            text = text.replace(right, wrong)
        return text.encode()

    return edit


@pytest.fixture(scope="session")
def compiled(reference, edited):
    """Compile a demonstration method with edits: `compiled("MCW-VIS-014", (right, wrong), ...)`."""

    def compile_edited(method: str, *changes: tuple[str, str]):
        return compile_method(edited(method, *changes), f"{method}.yaml", reference)

    return compile_edited
