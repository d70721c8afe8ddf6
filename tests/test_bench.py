"""The methods that speed is measured with: drawn with a seed, all different, none with a finding."""

import importlib.machinery
import importlib.util
import sys
from pathlib import Path

import pytest

BENCH = Path(__file__).parents[1] / ".ci" / "bench"


@pytest.fixture(scope="module")
def bench():
    loader = importlib.machinery.SourceFileLoader("bench", str(BENCH))
    spec = importlib.util.spec_from_loader("bench", loader)
    module = importlib.util.module_from_spec(spec)
    sys.modules["bench"] = module
    loader.exec_module(module)
    yield module
    del sys.modules["bench"]


def test_methods_that_are_drawn_are_clean_and_differ(bench):
    drawn = list(bench.clean_methods(40, 3))
    assert [f"GEN-VIS-{n:05d}.yaml" for n in range(40)] == [name for name, _, _ in drawn]
    assert [()] * 40 == [one.diagnostics for _, _, one in drawn]
    assert all(one.clean for _, _, one in drawn)
    assert 40 == len({text.split("product:")[1] for _, text, _ in drawn})
    assert len({one.method.spindle.key for _, _, one in drawn}) > 2


def test_the_same_seed_draws_the_same_methods_and_another_draws_others(bench):
    first = [text for _, text, _ in bench.clean_methods(6, 3)]
    assert first == [text for _, text, _ in bench.clean_methods(6, 3)]
    assert first != [text for _, text, _ in bench.clean_methods(6, 4)]


def test_a_ratio_is_that_of_the_medians_and_the_spread_that_of_the_rounds(bench):
    ours, theirs = iter([9.0, 2.0, 4.0, 3.0]), iter([9.0, 1.0, 4.0, 2.0])
    row = bench.in_turn("x", "ours", "theirs", lambda: next(ours), lambda: next(theirs), 3, 1.5)
    # By hand: medians 3 and 2; the rounds 2/1, 4/4 and 3/2.
    assert (1.5, (1.0, 2.0), True) == (row.ratio, row.spread, row.reached)
    assert "reach 1.5: reached" in bench.report(row)
