"""Rules that look at several methods at once."""

import pytest

from fillmark.library import examine
from fillmark.pipeline import compile_method

PAINT, SAUCE = "MCW-VIS-014", "TGF-VIS-003"


@pytest.fixture(scope="module")
def renamed(reference, edited):
    """Compile a demo under another id, with edits."""

    def compile_renamed(method, new, *changes):
        data = edited(method, (f"id: {method}", f"id: {new}"), *changes)
        return compile_method(data, f"{new}.yaml", reference)

    return compile_renamed


def found(*compiled):
    return [(d.code, d.file, d.path) for d in examine(compiled)]


OTHER_PRODUCT = ("name: Hearthstone matt wall paint", "name: Lintel ceiling paint")
OTHER_NAMES = (
    ("- {result: viscosity_20, lower: 8.0", "- {result: eta_20, lower: 8.0"),
    ("- {name: viscosity_20, speed", "- {name: eta_20, speed"),
    ("- {name: viscosity_2, speed", "- {name: eta_2, speed"),
    ("at: viscosity_20", "at: eta_20"),
    ("- {result: viscosity_20, statistic", "- {result: eta_20, statistic"),
    ("ratio: [viscosity_2, viscosity_20]", "ratio: [eta_2, eta_20]"),
    ("{{run.viscosity_20.read_at}}", "{{run.eta_20.read_at}}"),
)


def test_the_demos_say_nothing_wrong_together(compiled):
    names = ("BBM-VIS-007", "LMT-VIS-021", PAINT, "QAP-VIS-002", SAUCE)
    assert [] == found(*(compiled(n) for n in names))


def test_one_product_one_name_two_speeds(compiled, renamed):
    other = renamed(
        PAINT, "X-1", ("speed: 20 rpm, read: {after: 60 s}", "speed: 10 rpm, read: {after: 60 s}")
    )
    [d] = [d for d in examine([compiled(PAINT), other]) if d.code == "LIB02"]
    assert ("X-1.yaml", ("specification", 0, "result")) == (d.file, d.path)
    assert "speed 10 rpm here, 20 rpm there" in d.message


def test_one_product_and_two_guard_states(compiled, renamed):
    other = renamed(PAINT, "X-1", ("guard: required", "guard: not-used"), *OTHER_NAMES)
    assert ("LIB03", "X-1.yaml", ("guard",)) in found(compiled(PAINT), other)


def test_another_product_is_not_compared(compiled, renamed):
    other = renamed(PAINT, "X-1", OTHER_PRODUCT, ("guard: required", "guard: not-used"))
    assert [] == [f for f in found(compiled(PAINT), other) if f[0] in ("LIB02", "LIB03")]


def test_nearly_the_same(compiled, renamed):
    assert ("LIB04", "X-1.yaml", ("id",)) in found(compiled(PAINT), renamed(PAINT, "X-1", OTHER_PRODUCT))
    assert [] == [f for f in found(compiled(PAINT), compiled(SAUCE)) if f[0] == "LIB04"]


WAIVER = (
    "waivers: [{rule: TIM10, reason: the product is left alone for a day before it is run,"
    " approved_by: Q, expires: 2028-01-01}]\n"
)


@pytest.mark.parametrize(("many", "told"), [(3, 0), (4, 1)])
def test_a_rule_waived_in_many_methods(renamed, many, told):
    methods = [
        renamed(PAINT, f"X-{n}", ("retention: 10 years\n", f"retention: 10 years\n{WAIVER}"))
        for n in range(many)
    ]
    assert told == sum(f[0] == "LIB05" for f in found(*methods))


def own(value):
    where = "guard: required, container: beaker-600-low-form, evidence: S-1"
    text = f"coefficient: {{full_scale: {value} Pa·s·rpm, {where}}}"
    return ("container: beaker-600-low-form\n", f"container: beaker-600-low-form\n{text}\n")


@pytest.mark.parametrize(("value", "told"), [("401.9", 0), ("402.1", 1), ("800", 1)])
def test_one_spindle_with_two_coefficients(renamed, value, told):
    """Half a percent of 400 is 2."""
    one, two = renamed(PAINT, "X-1", own("400")), renamed(PAINT, "X-2", own(value))
    assert told == sum(f[0] == "LIB06" for f in found(one, two))


def test_methods_that_hang_on_one_instrument(renamed):
    rare = (
        "spring: R, readout: digital, coupling: threaded",
        "spring: 8R, readout: dial, coupling: threaded",
    )
    methods = [renamed(SAUCE, f"X-{n}", rare) for n in (1, 2)]
    told = [d for d in examine(methods) if d.code == "LIB07"]
    assert 1 == len(told)
    assert "2 methods" in told[0].message


def test_files_that_did_not_compile_are_left_out(compiled):
    broken = compiled(PAINT, ("guard: required", "guard: maybe"))
    assert [] == found(broken, compiled(SAUCE))
