"""The misuse budget of a demonstration method, and one slip of it."""

import pytest

from fillmark.misuse import misuse_budget


@pytest.fixture(scope="session")
def budget(compiled):
    """Work out the budget of a step: `budget("MCW-VIS-014", "viscosity_20", (right, wrong), ...)`."""

    def of(method, step, *changes):
        done = compiled(method, *changes)
        assert done.method is not None, done.diagnostics
        return misuse_budget(done.method, done.figures, done.method.step(step))

    return of


@pytest.fixture(scope="session")
def slip(budget):
    """Find one slip of a budget by its key."""

    def of(key, method, step, *changes):
        return next(s for s in budget(method, step, *changes) if s.key == key)

    return of
