"""Records of the demonstration methods, filled in well, with entries changed at will."""

import csv
from io import StringIO
from pathlib import Path

import pytest

from fillmark.digest import digest
from fillmark.pipeline import compile_method
from fillmark.records.evaluate import evaluate
from fillmark.records.judged_by import Library
from fillmark.records.reading import read_records
from fillmark.records.record import Finding

TESTS = Path(__file__).parents[1]


@pytest.fixture(scope="session")
def library(reference, demo_methods):
    """The demonstration methods, as records find them."""
    files = sorted(demo_methods.glob("*.yaml"))
    return Library([compile_method(f.read_bytes(), f.name, reference) for f in files])


@pytest.fixture(scope="session")
def printed(library):
    """Put the digest of its method into a record that has `@digest` in its place."""

    def put(data: bytes) -> bytes:
        for one in library.compiled:
            if one.method.id.encode() in data:
                return data.replace(b"@digest", digest(one.method)[:8].encode())
        return data

    return put


@pytest.fixture(scope="session")
def filled():
    """Give a good record as CSV with some entries changed; None takes the row out, new names are added."""

    def make(method: str, changes: dict[str, str | None] | None = None, *, delimiter: str = ",") -> bytes:
        data = (TESTS / "good_records" / f"{method}.csv").read_bytes().decode()
        first = data.splitlines()[0]
        rows = list(csv.reader(StringIO(data, newline=""), delimiter=";" if ";" in first else ","))
        changes = dict(changes or {})
        kept = []
        for row in rows:
            if row[0] in changes:
                value = changes.pop(row[0])
                if value is None:
                    continue
                row[3] = value
            kept.append(row)
        kept += [
            [key, "", "", value, "", "", "", "", ""] for key, value in changes.items() if value is not None
        ]
        out = StringIO()
        csv.writer(out, delimiter=delimiter).writerows(kept)
        return out.getvalue().encode()

    return make


@pytest.fixture(scope="session")
def judged(library, printed):
    """Evaluate the one record of a file by the demonstration methods; a finding where there is no method."""

    def judge(data: bytes, name: str = "record.csv"):
        (record,) = read_records(printed(data), name)
        found = library.judge_of(record)
        if isinstance(found, Finding):
            return found
        return evaluate(record, found.method, found.figures, found.digest)

    return judge


@pytest.fixture(scope="session")
def by_edited(compiled):
    """Evaluate a record by a demonstration method with edits; its digest is put in."""

    def judge(data: bytes, method: str, *changes: tuple[str, str]):
        one = compiled(method, *changes)
        assert one.method is not None, one.diagnostics
        mark = digest(one.method)
        (record,) = read_records(data.replace(b"@digest", mark[:8].encode()), "record.csv")
        return evaluate(record, one.method, one.figures, mark)

    return judge
