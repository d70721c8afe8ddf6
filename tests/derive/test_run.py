"""Figures of one speed against values worked out by hand from the equations of the trade.

The numbers beside the tests were computed with pencil and the equations named, not by this program.
"""

import pytest

PAINT, STARCH, GEL = "MCW-VIS-014", "BBM-VIS-007", "QAP-VIS-002"


def value(compiled, method, key, *changes):
    return compiled(method, *changes).figures[key].value


@pytest.mark.parametrize(
    ("key", "expected"),
    [
        # C = 400 Pa·s·rpm, N = 20 rpm: FSR = 400/20, f = 400/(100·20)
        ("run.viscosity_20.full_scale", 20.0),
        ("run.viscosity_20.factor", 0.2),
        # t = 100·8·20/400 and 100·12·20/400; worst: 40·(1 - 0.02·0.5) - 1 and 60·(1 + 0.02·0.5) + 1
        ("run.viscosity_20.torque_lower", 40.0),
        ("run.viscosity_20.torque_upper", 60.0),
        ("run.viscosity_20.torque_lower_worst", 38.6),
        ("run.viscosity_20.torque_upper_worst", 61.6),
        # 1 % and 10 % of 20 Pa·s
        ("run.viscosity_20.tolerance", 0.2),
        ("run.viscosity_20.below_bound", 2.0),
        # five revolutions at 2 rpm: 300/2
        ("run.viscosity_2.customary_wait", 150.0),
        ("run.viscosity_20.revolutions", 20.0),
        # half width 2 Pa·s over 0.2 Pa·s
        ("run.viscosity_20.instrument_ratio", 10.0),
    ],
)
def test_the_paint(compiled, key, expected):
    assert expected == pytest.approx(value(compiled, PAINT, key), rel=1e-9)


def test_the_uncertainty_of_the_paint(compiled):
    # u_I = 0.2/√3 = 0.11547, u_T = 10·0.02·0.5/√3 = 0.057735, u_r = 0.15/√2 = 0.106066; U = 2·√0.0279167
    assert 0.334166 == pytest.approx(value(compiled, PAINT, "run.viscosity_20.uncertainty"), abs=2e-6)
    assert 2 / 0.334166 == pytest.approx(
        value(compiled, PAINT, "run.viscosity_20.uncertainty_ratio"), rel=1e-4
    )


def test_a_step_judged_by_a_ratio_takes_its_limits_from_it(compiled):
    # lower: 5.5 times 8 Pa·s = 44 Pa·s of 200; upper: 8 times 12 = 96 of 200
    assert 22.0 == pytest.approx(value(compiled, PAINT, "run.viscosity_2.torque_lower"))
    assert 48.0 == pytest.approx(value(compiled, PAINT, "run.viscosity_2.torque_upper"))


@pytest.mark.parametrize(("readout", "angle"), [("digital", 70.0), ("dial", 320.0)])
def test_wind_up_uses_the_angle_of_the_readout(compiled, readout, angle):
    # 0.5 rpm turns 3 degrees a second; at t = 100·1.6·0.5/400 = 0.2 % ... so take limits that give 50 %
    changes = (
        ("lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s", "lower: 200 Pa·s, upper: 400 Pa·s"),
        ("speed: 20 rpm, read: {after: 60 s}", "speed: 0.5 rpm, read: {after: 30 s}"),
        ("readout: digital", f"readout: {readout}"),
    )
    figures = compiled(PAINT, *changes).figures
    # τ = 0.5·θ/3 s; ln 200 = 5.298317
    tau = 0.5 * angle / 3
    assert 50.0 == pytest.approx(figures["run.viscosity_20.torque_upper"].value)
    assert 5.298317 * tau == pytest.approx(figures["run.viscosity_20.wind_up"].value, rel=1e-6)
    reached = {70.0: 92.36, 320.0: 43.02}  # 100·(1 - e^(-30/τ)), by hand
    assert reached[angle] == pytest.approx(figures["run.viscosity_20.fraction"].value, abs=0.01)
    assert reached[390.0 - angle] == pytest.approx(
        figures["run.viscosity_20.fraction_other_readout"].value, abs=0.01
    )


def test_the_dial_of_the_starch(compiled):
    # C = 40, N = 50: FSR 0.8 Pa·s; 0.3 and 0.5 Pa·s are 37.5 % and 62.5 %
    assert 37.5 == pytest.approx(value(compiled, STARCH, "run.viscosity_50.torque_lower"))
    assert 65.375 == pytest.approx(value(compiled, STARCH, "run.viscosity_50.torque_upper_worst"))
    # Re = 1050·(2π·50/60)·0.023465²/0.3
    assert 10.09 == pytest.approx(value(compiled, STARCH, "run.viscosity_50.reynolds"), abs=0.01)
    # half a unit of 0.8 Pa·s
    assert 0.004 == pytest.approx(value(compiled, STARCH, "run.viscosity_50.resolution"))


def test_the_chamber_of_the_gel(compiled):
    # accuracy 1 % and 1 % for the geometry: 40·(1 - 0.001) - 2
    assert 37.96 == pytest.approx(value(compiled, GEL, "run.viscosity_5.torque_lower_worst"))
    # 2·(2π·5/60)·9.5²/(9.5² - 5.9²)
    assert 1.7047 == pytest.approx(value(compiled, GEL, "run.viscosity_5.shear_rate"), abs=1e-4)


def test_a_stronger_spring_scales_the_coefficient(compiled):
    changes = ("spring: R, readout", "spring: 2R, readout")
    assert 800.0 == pytest.approx(value(compiled, PAINT, "coefficient", changes), rel=1e-9)


def test_an_own_coefficient_takes_the_place_of_the_catalogue(compiled):
    own = "coefficient: {full_scale: 405 Pa·s·rpm, guard: required, container: beaker-600-low-form, evidence: S-1}"
    changes = ("container: beaker-600-low-form", f"container: beaker-600-low-form\n{own}")
    assert 20.25 == pytest.approx(value(compiled, PAINT, "run.viscosity_20.full_scale", changes))


def test_what_cannot_be_computed_is_left_open_with_a_reason(compiled):
    figures = compiled(PAINT, ("  temperature_sensitivity: 2.0 %/K\n", "")).figures
    assert "run.viscosity_20.uncertainty" not in figures
    assert "temperature sensitivity" in figures.open["run.viscosity_20.uncertainty"]


def test_every_input_of_a_figure_can_be_found(compiled):
    """A reviewer can follow each input: a figure, a value of the method, a threshold, or a text with its own source."""
    for name in (PAINT, STARCH, GEL, "TGF-VIS-003", "LMT-VIS-021"):
        method, figures = (c := compiled(name)).method, c.figures
        for figure in figures.values():
            assert set() == set(figure.sources) - set(method.reference.sources) - {"method"}, figure.key
            for symbol, where in figure.inputs:
                if isinstance(where, tuple):
                    c.source.span(where)
                elif where.startswith("policy."):
                    assert where.removeprefix("policy.") in method.reference.policy.texts, (
                        figure.key,
                        symbol,
                    )
                elif (
                    "." in where and " " not in where and not any(ch.isdigit() for ch in where.split(".")[0])
                ):
                    assert where in figures, (figure.key, symbol, where)


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        # rest 5 min, jacket 15 min, read at 60 s: 21 min of 100 min, however young the mix at the start
        ((("age: 24 h ± 4 h", "age: 2 min ± 1 min"),), 21.0),
        # older than rest and conditioning: 25 + 5 + 1 min
        ((("age: 24 h ± 4 h", "age: 25 min ± 5 min"),), 31.0),
    ],
)
def test_the_pot_life_runs_through_rest_and_conditioning(compiled, changes, expected):
    curing = ("density: 1.01 g/mL", "density: 1.01 g/mL\n  pot_life: 100 min")
    assert expected == pytest.approx(value(compiled, GEL, "pot_life_used", curing, *changes))


def test_in_its_pack_a_product_has_not_begun_to_cure(compiled):
    # rest 1 min, read at 36 s and averaged over 24 s: 2 min of 20 min; 90 min in the bath and 24 h of age do not count
    curing = ("density: 0.98 g/mL", "density: 0.98 g/mL\n  pot_life: 20 min")
    assert 10.0 == pytest.approx(value(compiled, "LMT-VIS-021", "pot_life_used", curing))


def test_the_spring_winds_up_to_its_stop_and_no_further(compiled):
    # C/N = 20 Pa·s; an upper limit of 600 Pa·s asks for 3000 %. ln 200 · 1 · 70 / (6 · 20) = 3.09 s
    changes = (("lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s", "lower: 8.0 Pa·s, upper: 600 Pa·s"),)
    assert 3.0907 == pytest.approx(value(compiled, PAINT, "run.viscosity_20.wind_up", *changes), rel=1e-3)
