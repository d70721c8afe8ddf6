"""What a transfer is judged by, and the order nobody chose."""

from itertools import pairwise
from math import sqrt

import pytest
from scipy import stats

from fillmark.derive.transfer import LOTS, SPARE, order, seed_of, transfer


@pytest.fixture(scope="module")
def figures(compiled):
    def work_out(method, *changes):
        one = compiled(method, *changes)
        return transfer(one.method, one.figures)

    return work_out


def test_the_equivalence_limit_is_a_share_of_half_the_width(figures):
    # MCW: limits 8 to 12 Pa·s, a quarter of 2 Pa·s. BBM: 300 to 500 mPa·s, a quarter of 100.
    assert "± 0.5 Pa·s" == figures("MCW-VIS-014").text("transfer.margin")
    assert "± 25 mPa·s" == figures("BBM-VIS-007").text("transfer.margin")
    # 1 % of 20 Pa·s for each of two instruments.
    assert "± 0.4 Pa·s" == figures("MCW-VIS-014").text("transfer.single")


def test_the_lots_span_the_specification(figures):
    found = figures("MCW-VIS-014")
    aims = [found[f"transfer.aim_{n}"].value for n in range(1, LOTS + 1)]
    assert (8.0, 12.0) == (pytest.approx(aims[0]), pytest.approx(aims[-1]))
    assert [aims[1] - aims[0]] * (LOTS - 1) == pytest.approx([b - a for a, b in pairwise(aims)])
    assert LOTS >= 10


def test_one_limit_leaves_the_equivalence_limit_open(compiled):
    one = compiled(
        "TGF-VIS-003",
        ("lower: 7.0 Pa·s, target: 9.0 Pa·s, upper: 11.0 Pa·s", "upper: 11.0 Pa·s, one_sided: true"),
    )
    assert one.method is not None, [d.message for d in one.diagnostics]
    found = transfer(one.method, one.figures)
    assert "transfer.margin" not in found
    assert "no two limits" in found.open["transfer.margin"]
    assert "transfer.single" in found


def test_the_factor_of_the_interval_is_that_of_student(figures):
    # scipy: quantile of Student's distribution that 5 % exceed.
    found = figures("MCW-VIS-014")
    for n in range(LOTS, LOTS + SPARE + 1):
        expected = stats.t.ppf(0.95, n - 1) / sqrt(n)
        assert expected == pytest.approx(found[f"transfer.factor_{n}"].value, rel=1e-9)
    assert "90 %" == found.text("transfer.interval")


def test_every_lot_once_the_spare_ones_last_and_each_side_first_as_often():
    for seed in range(30):
        runs = order(seed)
        assert list(range(1, LOTS + 1)) == sorted(lot for lot, _ in runs[:LOTS])
        assert {LOTS + 1, LOTS + 2} == {lot for lot, _ in runs[LOTS:]}
        assert (LOTS // 2, 1) == tuple(
            sum(side == "A" for _, side in part) for part in (runs[:LOTS], runs[LOTS:])
        )


def test_the_order_follows_from_the_seed_alone_and_looks_drawn():
    assert order(7) == order(7)
    drawn = [order(seed) for seed in range(200)]
    assert 200 == len(set(drawn))
    # The mean place of a lot over many seeds: 5.5 of 10, give or take 2.87/√200 = 0.2.
    for lot in (1, 5, 10):
        places = [next(i for i, (n, _) in enumerate(runs, 1) if n == lot) for runs in drawn]
        assert 5.5 == pytest.approx(sum(places) / len(places), abs=0.8)


def test_the_order_of_a_seed_does_not_change_between_versions():
    # Printed sheets must be drawn again alike. By hand, with sha256sum: the lot of the smallest digest of
    # "1:lot:N" comes first.
    from hashlib import sha256

    lots = sorted(range(1, 11), key=lambda n: sha256(f"1:lot:{n}".encode()).hexdigest())
    assert lots == [lot for lot, _ in order(1)[:10]]


def test_the_seed_of_a_method_is_that_of_its_digest():
    assert 0xABCDEF01 % 100_000 == seed_of("abcdef01" + "0" * 56)


def test_the_step_that_is_judged_has_limits(compiled):
    assert "viscosity_20" == compiled("MCW-VIS-014").method.judged_step.name
