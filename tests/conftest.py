"""What every test may ask for."""

from pathlib import Path

import pytest

from fillmark.model import Reference
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
