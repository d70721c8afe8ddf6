"""What the tests of studies may ask for."""

from pathlib import Path

import pytest

from fillmark.studies.table import read_table


@pytest.fixture(scope="session")
def table_of():
    """Read a CSV text for the columns of a study: `table_of(text, columns)`."""

    def make(text, columns):
        return read_table(text if isinstance(text, bytes) else text.encode(), "data.csv", columns)

    return make


@pytest.fixture(scope="session")
def glucose() -> str:
    """Open data of an interlaboratory study: ASTM E691-99, table 1, as NIST publishes it (Dataplot, GLUCOSE.DAT)."""
    return (Path(__file__).parent / "data" / "e691-glucose.csv").read_text(encoding="utf-8")


@pytest.fixture(scope="session")
def codes():
    """List the codes of what a study found, in order."""

    def find(outcome):
        return [d.code for d in outcome.diagnostics]

    return find


@pytest.fixture(scope="session")
def number():
    """Give a figure of an outcome by its key."""

    def find(outcome, key):
        [figure] = [f for f in outcome.figures if f.key == key]
        return figure.value

    return find
