"""Quantities against pint (an independent unit library) and against what people write by mistake."""

import math
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.quantities import (
    QuantityError,
    Toleranced,
    express,
    find_all,
    fixed,
    grouped,
    parse,
    parse_any,
    parse_toleranced,
    show,
    sig,
)
from fillmark.units import TITLES, UNITS, of_kind

# kind -> the canonical unit in pint's own spelling
CANONICAL = {
    "viscosity": "Pa*s",
    "kinematic-viscosity": "m**2/s",
    "torque": "N*m",
    "speed": "rpm",
    "time": "s",
    "length": "m",
    "volume": "m**3",
    "mass": "kg",
    "temperature-difference": "delta_degC",
    "sensitivity": "percent/delta_degC",
    "percent": "percent",
    "percent-of-full-scale": "percent",
    "density": "kg/m**3",
    "shear-rate": "1/s",
    "velocity": "m/s",
    "angle": "degree",
    "stress": "Pa",
    "coefficient": "Pa*s*rpm",
    "factor": "Pa*s/percent",
    "diffusivity": "m**2/s",
    "heat-capacity": "J/(kg*delta_degC)",
    "revolutions": "turn",
    "temperature": "delta_degC",
}
PINT = {
    "Pa·s": "Pa*s",
    "mPa·s": "mPa*s",
    "cP": "centipoise",
    "P": "poise",
    "cSt": "centistokes",
    "°C": "delta_degC",
    "K": "kelvin",
    "%": "percent",
    "% of full scale": "percent",
    "%/K": "percent/kelvin",
    "deg": "degree",
    "rev": "turn",
    "d": "day",
    "h": "hour",
    "weeks": "week",
    "months": "month",
    "years": "year",
    "mPa·s/%": "mPa*s/percent",
    "Pa·s/%": "Pa*s/percent",
    "dyn·cm": "dyne*cm",
}


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry(non_int_type=Fraction)


def _pint_spelling(unit: str) -> str:
    plain = unit.replace("²", "**2").replace("³", "**3").replace("·", "*").replace("µ", "micro")
    for short, long in (("microN", "micronewton"), ("microm", "micrometer"), ("microL", "microliter")):
        plain = plain.replace(short, long)
    return PINT.get(unit, plain)


EVERY = [(kind, unit) for kind in TITLES for unit in of_kind(kind)]


@pytest.mark.parametrize(("kind", "unit"), EVERY)
def test_every_unit_converts_as_pint_converts_it(registry, kind, unit):
    # pint works in exact fractions here, so its float is the correctly rounded one.
    number = Fraction(7187, 10)
    canonical = registry.Quantity(number, _pint_spelling(unit)).to(CANONICAL[kind])
    assert float(canonical.magnitude) == pytest.approx(parse(f"718.7 {unit}", kind).value, rel=1e-15)
    assert kind == parse(f"718.7 {unit}", kind).kind
    assert unit == parse(f"718.7 {unit}", kind).unit


def test_kelvins_and_degrees_of_temperature_are_the_same_step(registry):
    # The size of the degree Celsius is the kelvin (SI Brochure 2.3.1); a temperature stays on its scale.
    assert (
        0.5
        == parse("0.5 K", "temperature-difference").value
        == parse("0.5 °C", "temperature-difference").value
    )
    assert registry.Quantity(Fraction(23), "degC").to("kelvin").magnitude == pytest.approx(
        parse("23 °C", "temperature").value + 273.15
    )


def test_the_same_amount_in_two_units_is_the_same_float():
    pairs = [
        ("718.7 µN·m", "7187 dyn·cm", "torque"),
        ("67.37 µN·m", "673.7 dyn·cm", "torque"),
        ("5749.6 µN·m", "0.0057496 N·m", "torque"),
        ("100 mPa·s", "0.1 Pa·s", "viscosity"),
        ("3 cP", "0.03 P", "viscosity"),
        ("0.7 mm", "700 µm", "length"),
        ("1.42 g/mL", "1420 kg/m³", "density"),
        ("0.3 h", "18 min", "time"),
        ("22 mm/min", "0.00036666666666666666 m/s", "velocity"),
        ("1e2 mPa·s", "100 mPa·s", "viscosity"),
        ("3.9 kJ/(kg·K)", "3900 J/(kg·K)", "heat-capacity"),
    ]
    for one, other, kind in pairs:
        assert parse(one, kind).value == parse(other, kind).value, (one, other)


@pytest.mark.parametrize(
    ("written", "kind", "value", "unit"),
    [
        ("8.0 Pa·s", "viscosity", 8.0, "Pa·s"),
        ("8 Pa.s", "viscosity", 8.0, "Pa·s"),
        ("8 Pa*s", "viscosity", 8.0, "Pa·s"),
        ("8 Pa s", "viscosity", 8.0, "Pa·s"),
        ("8 Pa⋅s", "viscosity", 8.0, "Pa·s"),
        ("8 Pa · s", "viscosity", 8.0, "Pa·s"),
        ("8Pa·s", "viscosity", 8.0, "Pa·s"),
        ("8\u202fPa·s", "viscosity", 8.0, "Pa·s"),
        ("  8\u00a0mPa.s ", "viscosity", 0.008, "mPa·s"),
        ("8 cP", "viscosity", 0.008, "cP"),
        ("8 uN.m", "torque", 8e-6, "µN·m"),
        ("8 μN·m", "torque", 8e-6, "µN·m"),
        ("8 µN m", "torque", 8e-6, "µN·m"),
        ("20 r/min", "speed", 20.0, "rpm"),
        ("20 1/min", "speed", 20.0, "rpm"),
        ("20 min⁻¹", "speed", 20.0, "rpm"),
        ("20 min^-1", "speed", 20.0, "rpm"),
        ("20 rev/min", "speed", 20.0, "rpm"),
        ("3 s⁻¹", "shear-rate", 3.0, "1/s"),
        ("3 s^-1", "shear-rate", 3.0, "1/s"),
        ("3 1/s", "shear-rate", 3.0, "1/s"),
        ("5 um", "length", 5e-6, "µm"),
        ("5 ml", "volume", 5e-6, "mL"),
        ("5 l", "volume", 5e-3, "L"),
        ("5 cm3", "volume", 5e-6, "cm³"),
        ("5 cm^3", "volume", 5e-6, "cm³"),
        ("5 ul", "volume", 5e-9, "µL"),
        ("1 g/cm3", "density", 1000.0, "g/cm³"),
        ("1 g / mL", "density", 1000.0, "g/mL"),
        ("2 %/°C", "sensitivity", 2.0, "%/K"),
        ("2 % / K", "sensitivity", 2.0, "%/K"),
        ("50%", "percent", 50.0, "%"),
        ("1.0 %  of full scale", "percent-of-full-scale", 1.0, "% of full scale"),
        ("0.1 mm2/s", "diffusivity", 1e-7, "mm²/s"),
        ("0.1 mm^2/s", "diffusivity", 1e-7, "mm²/s"),
        ("23 degC", "temperature", 23.0, "°C"),
        ("−5 °C", "temperature", -5.0, "°C"),
        ("-5 °C", "temperature", -5.0, "°C"),
        ("+5 °C", "temperature", 5.0, "°C"),
        ("-0.5 K", "temperature-difference", -0.5, "K"),
        ("70°", "angle", 70.0, "deg"),
        ("1 year", "time", 31_557_600.0, "years"),
        ("24 months", "time", 63_115_200.0, "months"),
        ("405 Pa.s.rpm", "coefficient", 405.0, "Pa·s·rpm"),
        ("200 mPa s/%", "factor", 0.2, "mPa·s/%"),
        ("3.9 kJ/(kg K)", "heat-capacity", 3900.0, "kJ/(kg·K)"),
        ("0 rpm", "speed", 0.0, "rpm"),
        ("0.5 Pa·s", "viscosity|percent", 0.5, "Pa·s"),
        ("5 %", "viscosity|percent", 5.0, "%"),
    ],
)
def test_spellings_that_are_read(written, kind, value, unit):
    got = parse(written, kind)
    assert value == got.value
    assert unit == got.unit
    assert written.strip() == got.text
    assert got.kind in kind.split("|")


@pytest.mark.parametrize(
    ("written", "kind", "suggestion", "piece"),
    [
        ("5 MPa·s", "viscosity", "5 mPa·s", "mega"),
        ("200 mPas", "viscosity", "200 mPa·s", "dot"),
        ("2 Pas", "viscosity", "2 Pa·s", "dot"),
        ("200 cps", "viscosity", "200 mPa·s", "cycles"),
        ("200 cPs", "viscosity", "200 mPa·s", "1 cP = 1 mPa·s"),
        ("20 mPa", "viscosity", "20 mPa·s", "stress"),
        ("25 C", "temperature", "25 °C", "coulomb"),
        ("25 Celsius", "temperature", "25 °C", "°C"),
        ("25 deg C", "temperature", "25 °C", "°C"),
        ("0.5 C", "temperature-difference", "0.5 K", "coulomb"),
        ("5 cc", "volume", "5 mL", "1 cc = 1 mL"),
        ("5 Nm", "torque", "5 N·m", "dot"),
        ("5 J", "torque", "5 N·m", "energy"),
        ("20 RPM", "speed", "20 rpm", "small"),
        ("20 rmp", "speed", "20 rpm", "not a unit"),
        ("90 sec", "time", "90 s", "symbol"),
        ("5 hrs", "time", "5 h", "symbol"),
        ("2 turns", "revolutions", "2 rev", "rev"),
        ("20", "speed", "20 rpm", "no unit"),
        ("8.0", "viscosity", None, "no unit"),
        ("0,2 Pa·s", "viscosity", "0.2 Pa·s", "comma"),
        ("12,5 °C", "temperature", "12.5 °C", "comma"),
        ("0,200 Pa·s", "viscosity", "0.200 Pa·s", "comma"),
        ("1.000,5 s", "time", "1000.5 s", "comma"),
        ("1,000 mPa·s", "viscosity", None, "can be read as 1000 or as 1.000"),
        ("1,000,000 mPa·s", "viscosity", "1000000 mPa·s", "commas"),
        ("12 000 mPa·s", "viscosity", "12000 mPa·s", "groups"),
        ("12\u202f000 mPa·s", "viscosity", "12000 mPa·s", "groups"),
        ("12\u00a0000 1/s", "shear-rate", "12000 1/s", "groups"),
        ("1'000 s", "time", "1000 s", "groups"),
        ("12_000 s", "time", "12000 s", "groups"),
        ("10 20 rpm", "speed", None, "more than one"),
        ("２０ rpm", "speed", "20 rpm", "plain digits"),
        ("٢٠ rpm", "speed", "20 rpm", "plain digits"),
        ("about 20 rpm", "speed", "20 rpm", "about"),
        ("~20 rpm", "speed", "20 rpm", "~"),
        ("< 5 rpm", "speed", "5 rpm", "<"),
        ("20 rpm max", "speed", "20 rpm", "max"),
        ("20 rpm.", "speed", "20 rpm", "more text"),
        ("10-20 rpm", "speed", None, "range"),
        ("10 to 20 rpm", "speed", None, "range"),
        ("10–20 rpm", "speed", None, "range"),
        ("5 x 10^3 mPa·s", "viscosity", None, "power of ten"),
        (".5 s", "time", "0.5 s", "decimal point"),
        ("5. s", "time", "5 s", "decimal point"),
        ("1.2.3 s", "time", None, "more than one decimal point"),
        ("20 s^-1", "speed", None, "shear rate"),
        ("20 rpm", "shear-rate", None, "geometry"),
        ("5 mm²/s", "viscosity", None, "density"),
        ("5 cSt", "viscosity", None, "density"),
        ("20 s", "speed", None, "a time, not a speed of rotation"),
        ("5 kg", "volume", None, "a mass"),
        ("1.0 %", "percent-of-full-scale", "1.0 % of full scale", "of what"),
        ("2 %", "sensitivity", "2 %/K", "per what"),
        ("296.15 K", "temperature", "23.00 °C", "differences"),
        ("23 K", "temperature", "23 °C", "differences"),
        ("-5 rpm", "speed", "5 rpm", "negative"),
        ("−5 rpm", "speed", "5 rpm", "negative"),
        ("-300 °C", "temperature", None, "absolute zero"),
        ("nan s", "time", None, "no number"),
        ("inf s", "time", None, "no number"),
        ("-inf °C", "temperature", None, "no number"),
        ("1e400 s", "time", None, "beyond"),
        ("1e-400 s", "time", None, "beyond"),
        ("1e9999999999 s", "time", None, "beyond"),
        ("1" * 31 + " s", "time", None, "too long"),
        ("", "time", None, "Nothing"),
        (" \t", "time", None, "Nothing"),
        ("rpm", "speed", None, "without a number"),
        ("fast", "speed", None, "no number"),
        ("x" * 200, "time", None, "too long"),
        ("500 mL ± 10 mL", "volume", "500 mL", "tolerance"),
        ("500 mL +- 10 mL", "volume", "500 mL", "tolerance"),
    ],
)
def test_spellings_that_are_refused_with_the_right_one(written, kind, suggestion, piece):
    with pytest.raises(QuantityError) as caught:
        parse(written, kind)
    error = caught.value
    assert piece in f"{error.problem} {error.expected}"
    assert suggestion == error.suggestion
    if suggestion is not None:
        assert kind == parse(suggestion, kind).kind
    assert 0 <= error.offset <= len(written)


@pytest.mark.parametrize(
    ("written", "kind", "offset"),
    [
        ("200 mPas", "viscosity", 4),
        ("  200 mPas", "viscosity", 6),
        ("20 rpm max", "speed", 7),
        ("20", "speed", 2),
        (" 0,2 s", "time", 1),
    ],
)
def test_the_offset_shows_where_reading_failed(written, kind, offset):
    with pytest.raises(QuantityError) as caught:
        parse(written, kind)
    assert offset == caught.value.offset


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    # Fixed points of the two scales: 32 °F = 0 °C and 212 °F = 100 °C by definition; 77 °F = 25 °C follows.
    [("32 °F", "0 °C"), ("212 °F", "100.0 °C"), ("77 F", "25.00 °C"), ("-40 degF", "-40.00 °C")],
)
def test_fahrenheit_is_refused_with_its_celsius(fahrenheit, celsius):
    with pytest.raises(QuantityError) as caught:
        parse(fahrenheit, "temperature")
    assert celsius == caught.value.suggestion


@pytest.mark.parametrize(
    ("written", "kind", "theirs"),
    [
        ("2.5 in", "length", "inch"),
        ("3 rad/s", "speed", "rad/s"),
        ("0.5 lb", "mass", "pound"),
        ("7 dL", "volume", "dL"),
    ],
)
def test_other_scales_are_converted_in_the_suggestion(written, kind, theirs):
    with pytest.raises(QuantityError) as caught:
        parse(written, kind)
    right = pint.UnitRegistry().Quantity(float(written.split()[0]), theirs).to(CANONICAL[kind])
    assert right.magnitude == pytest.approx(parse(caught.value.suggestion, kind).value, rel=1e-3)


@pytest.mark.parametrize(
    ("written", "decimals"),
    [
        ("20 rpm", 0),
        ("0.50 Pa·s", 2),
        ("1.5e-3 Pa·s", 4),
        ("1.5e3 Pa·s", 0),
        ("8.0 Pa·s", 1),
        ("1.25e1 Pa·s", 1),
        ("−5.5 °C", 1),
    ],
)
def test_decimals_are_counted_as_written(written, decimals):
    assert decimals == parse_any(written).decimals


@pytest.mark.parametrize(
    ("written", "kind", "value", "tolerance", "text"),
    [
        ("23.0 °C ± 0.5 °C", "temperature", 23.0, 0.5, "0.5 °C"),
        ("23.0 °C +/- 0.5 K", "temperature", 23.0, 0.5, "0.5 K"),
        ("23.0°C±0.5°C", "temperature", 23.0, 0.5, "0.5°C"),
        ("500 mL ± 10 mL", "volume", 5e-4, 1e-5, "10 mL"),
        ("24 h ± 30 min", "time", 86400.0, 1800.0, "30 min"),
        ("500 mL ± 2 %", "volume", 5e-4, 1e-5, "2 %"),
        ("50 % ± 5 %", "percent", 50.0, 5.0, "5 %"),
        ("8 Pa·s ± 12.5 %", "viscosity", 8.0, 1.0, "12.5 %"),
    ],
)
def test_values_with_tolerance(written, kind, value, tolerance, text):
    got = parse_toleranced(written, kind)
    assert value == got.value.value
    assert tolerance == pytest.approx(got.tolerance.value, rel=1e-15)
    assert text == got.tolerance.text
    assert written == got.text
    assert ("temperature-difference" if kind == "temperature" else kind) == got.tolerance.kind


def test_a_share_as_tolerance_is_told_in_the_unit_of_its_value():
    tolerance = parse_toleranced("500 mL ± 2 %", "volume").tolerance
    assert ("10", "mL") == (tolerance.number, tolerance.unit)


@pytest.mark.parametrize(
    ("written", "kind", "suggestion", "piece"),
    [
        ("23 °C ± 0.5", "temperature", "23 °C ± 0.5 °C", "has no unit"),
        ("23 ± 0.5 °C", "temperature", "23 °C ± 0.5 °C", "no unit"),
        ("(23 ± 0.5) °C", "temperature", "23 °C ± 0.5 °C", "bracket"),
        ("23 °C", "temperature", None, "no tolerance"),
        ("23 °C ± 2 %", "temperature", None, "percentage"),
        ("23 °C ± 0 K", "temperature", None, "not greater"),
        ("23 °C ± -1 K", "temperature", None, "not greater"),
        ("500 mL ± 10 g", "volume", None, "mass"),
        ("500 mL +- 10 mL", "volume", "500 mL ± 10 mL", "cannot be read"),
        ("500 cc ± 10 cc", "volume", "500 mL ± 10 mL", "1 cc"),
        ("500 mL ± 0,1 L", "volume", "500 mL ± 0.1 L", "comma"),
        ("0,5 L ± 10 mL", "volume", "0.5 L ± 10 mL", "comma"),
        ("23,0 °C ± 0.5", "temperature", "23.0 °C ± 0.5 °C", "comma"),
        ("23 °C +0.5/-0.2 °C", "temperature", None, "both ways"),
        ("5 mL ± 1 mL ± 2 mL", "volume", None, "cannot be read"),
        ("± 5 h", "time", None, "before"),
        ("5 h ±", "time", None, "after"),
        ("", "time", None, "Nothing"),
        ("±", "time", None, "before"),
        ("23 ± 0.5", "temperature", "23 °C ± 0.5 °C", "no unit"),
        ("20 mPas", "viscosity", "20 mPa·s", "dot"),
        ("9" * 300, "time", None, "too long"),
    ],
)
def test_tolerances_that_are_refused(written, kind, suggestion, piece):
    with pytest.raises(QuantityError) as caught:
        parse_toleranced(written, kind)
    assert piece in f"{caught.value.problem} {caught.value.expected}"
    assert suggestion == caught.value.suggestion
    assert 0 <= caught.value.offset <= len(written)


def test_every_kind_is_checked_here():
    assert set(CANONICAL) == set(TITLES)


def test_an_unknown_kind_is_our_fault():
    for call in (parse, parse_toleranced):
        with pytest.raises(KeyError):
            call("5 s", "haste")


def test_quantities_in_prose():
    prose = (
        "Stir 30 turns in 30 s, then run at 20 rpm (23.0 °C ± 0.5 K); 10-20 rpm is a range. "
        "Spindle R5, 20 Pa s.\n"
        "At -5 °C 12 mPa.s; 0,2 Pa·s and 200 mPas are none. Fill 50% of 600 mL/min, 1.0 % of full scale."
    )
    found = find_all(prose)
    texts = ["30 s", "20 rpm", "23.0 °C", "0.5 K", "20 rpm", "20 Pa s"]
    texts += ["-5 °C", "12 mPa.s", "50%", "1.0 % of full scale"]
    assert texts == [prose[start:end] for start, end, _ in found]
    assert texts == [q.text for _, _, q in found]
    assert [] == find_all("Revision 3 of 2026-12-01, section 4.2, page 5 of 7; ASTM D2196-20.")


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [
        (0.0005, 3, "0.000500"),
        (50000.0, 3, "50000"),
        (12345.0, 3, "12300"),
        (99.96, 3, "100"),
        (9.996, 3, "10.0"),
        (0.1 + 0.2, 3, "0.300"),
        (-0.0, 3, "0"),
        (0.0, 2, "0"),
        (1e-9, 1, "0.000000001"),
        (1e22, 3, "1" + "0" * 22),
        (-1234.5, 2, "-1200"),
        (1.0, 1, "1"),
        (718.7, 4, "718.7"),
    ],
)
def test_significant_digits_without_exponent(value, digits, text):
    assert text == sig(value, digits)


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e30, max_value=1e30), st.integers(1, 12))
def test_significant_digits_are_those_of_the_general_format(value, digits):
    # Python's own %e formatting is the reference for which digits are significant.
    text = sig(value, digits)
    assert "e" not in text.lower()
    assert f"{value + 0.0:.{digits - 1}e}" == f"{float(text):.{digits - 1}e}" or value == 0


def test_fixed_decimals_never_show_minus_zero():
    assert ["0.0", "0", "0.00", "-0.1", "1.20"] == [
        fixed(-0.04, 1),
        fixed(-0.0, 0),
        fixed(-0.001, 2),
        fixed(-0.06, 1),
        fixed(1.2, 2),
    ]


def test_numbers_that_are_none_are_not_written():
    for value in (math.nan, math.inf, -math.inf):
        for call in (lambda v: sig(v, 3), lambda v: fixed(v, 1), lambda v: express(v, "Pa·s")):
            with pytest.raises(ValueError, match="cannot"):
                call(value)


def test_showing_a_value_in_a_unit():
    assert "0.500 mPa·s" == show(0.0005, "viscosity", "mPa·s")
    assert "50000 Pa·s" == show(50000.0, "viscosity", "Pa·s")
    assert "718.7 µN·m" == show(7.187e-4, "torque", "µN·m", decimals=1)
    assert "23.0 °C" == show(23.0, "temperature", "°C", decimals=1)
    with pytest.raises(KeyError):
        show(1.0, "viscosity", "rpm")
    with pytest.raises(KeyError):
        express(1.0, "parsec")


def test_digits_are_grouped_for_paper_from_ten_thousand_up():
    assert ["9999", "12\u202f000", "1\u202f234\u202f567.8", "-10\u202f000", "0.12345"] == [
        grouped("9999"),
        grouped("12000"),
        grouped("1234567.8"),
        grouped("-10000"),
        grouped("0.12345"),
    ]


@given(
    st.floats(allow_nan=False, allow_infinity=False, min_value=-1e12, max_value=1e12)
    | st.decimals(min_value=0, max_value=10_000, places=4).map(float),
    st.sampled_from(sorted(UNITS)),
)
def test_a_value_is_expressed_by_the_exact_ratio_rounded_once(value, unit):
    # Exact rational arithmetic, and the one rounding that IEEE 754 asks of a conversion to a float.
    _, numerator, denominator = UNITS[unit]
    exact = Fraction(repr(value)) * denominator / numerator
    if value and not float(exact):
        return  # smaller than any float
    assert float(exact) == express(value, unit)


@given(st.sampled_from(EVERY), st.decimals(min_value=0, max_value=10**9, places=4, allow_nan=False))
def test_a_value_expressed_in_its_own_unit_is_the_number_written(pair, number):
    kind, unit = pair
    quantity = parse(f"{number:f} {unit}", kind)
    assert float(number) == pytest.approx(express(quantity.value, unit), rel=1e-15)
    assert quantity == parse(quantity.text, kind)
    assert quantity.value == parse(f"{quantity.number} {quantity.unit}", kind).value


_LIKE = st.text(
    st.sampled_from([*"0123456789.,+-−±% '()°µμ·*/²³^_~eE\u202f\u00a0٣２", *"PasNmrpinkgLhdKCJx"]),
    max_size=24,
)


def _outcome(call, text, kind):
    try:
        return call(text, kind)
    except QuantityError as error:
        return error


@given(_LIKE | st.text(max_size=40), st.sampled_from(sorted(TITLES)))
def test_any_text_is_a_quantity_or_explained(text, kind):
    got = _outcome(parse, text, kind)
    if isinstance(got, QuantityError):
        assert got.problem
        assert got.expected
        assert 0 <= got.offset <= len(text)
        assert got.suggestion is None or kind == parse(got.suggestion, kind).kind
    else:
        assert math.isfinite(got.value)
        assert kind == got.kind
        assert got.text == text.strip()


@given(_LIKE | st.tuples(_LIKE, _LIKE).map("±".join), st.sampled_from(sorted(TITLES)))
def test_any_text_is_a_value_with_tolerance_or_explained(text, kind):
    got = _outcome(parse_toleranced, text, kind)
    if isinstance(got, QuantityError):
        assert 0 <= got.offset <= len(text)
        if got.suggestion is not None:
            mended = _outcome(parse_toleranced, got.suggestion, kind)
            assert isinstance(mended, Toleranced) or kind == parse(got.suggestion, kind).kind
    else:
        assert got.tolerance.value > 0
        assert got.text == text.strip()


@given(_LIKE | st.text(max_size=60))
def test_any_prose_is_searched(text):
    for start, end, quantity in find_all(text):
        assert quantity.text == text[start:end].strip()
