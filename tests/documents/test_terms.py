"""Windows, limits and rules as they read on paper."""

import pytest

from fillmark.documents import plain, terms
from fillmark.documents.wording import Phrases


@pytest.fixture(scope="module")
def phrases(reference):
    return Phrases(reference.phrases)


def spaced(text):
    return text.replace("\u00a0", " ")


def test_an_absolute_range_belongs_to_the_first_viscosity_only(compiled):
    method = compiled("MCW-VIS-014").method
    assert ["≤ 0.5 Pa·s", "≤ "] == [
        f"≤ {spaced(terms.range_allowed(method, line))}" for line in method.report
    ]


def test_a_percent_range_belongs_to_every_result(compiled):
    method = compiled("MCW-VIS-014", ("agree_within: 0.5 Pa·s", "agree_within: 5 %")).method
    assert ["5 %", "5 %"] == [spaced(terms.range_allowed(method, line)) for line in method.report]


def test_one_sided_limits_have_a_sign(compiled, phrases):
    method = compiled(
        "TGF-VIS-003",
        ("lower: 7.0 Pa·s, target: 9.0 Pa·s, upper: 11.0 Pa·s", "upper: 11.0 Pa·s, one_sided: true"),
    ).method
    assert "≤ 11.0 Pa·s" == spaced(terms.limits(method.specification[0], phrases))
    assert phrases.word("limit-none") == terms.limits(None, phrases)


def test_a_window_open_on_one_side_has_a_sign(compiled):
    one = compiled(
        "TGF-VIS-003",
        ("lower: 7.0 Pa·s, target: 9.0 Pa·s, upper: 11.0 Pa·s", "upper: 11.0 Pa·s, one_sided: true"),
    )
    nominal, _ = terms.torque_window(one.figures, one.method.run[0])
    # 11 Pa·s of 200 Pa·s·rpm / 10 rpm
    assert "≤ 55.0 %" == spaced(nominal)


def test_a_spindle_is_described_by_what_a_caliper_checks(reference, phrases):
    described = {key: spaced(plain(terms.form(s, phrases))) for key, s in reference.spindles.items()}
    assert "disc Ø 21.14 mm" == described["R5"]
    assert "cone 0.8 deg" == described["cone-0.8"]
    assert "T-bar 27 mm wide" == described["bar-27"]
    assert "kind cylinder" == described["U1"]


def test_own_limits_of_the_check_stand_before_the_computed_band(compiled):
    one = compiled(
        "MCW-VIS-014", ("fluid: REF-10000", "fluid: REF-10000\n  accept: {lower: 9.8 Pa·s, upper: 10.2 Pa·s}")
    )
    assert "9.8–10.2 Pa·s" == spaced(terms.verification_band(one.method.verification, one.figures))
