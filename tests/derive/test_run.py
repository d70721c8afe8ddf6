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


ONE_SIDED = ("lower: 5.5, upper: 8.0,", "lower: 5.5, one_sided: true,")
SHEARED = ("speed: 20 rpm, read", "speed: 20 rpm, preshear: {speed: 60 rpm, time: 40 s, rest: 30 s}, read")


def test_the_share_of_the_chamber_is_in_the_tolerance(compiled):
    # 2 % of 50 Pa·s is 1 Pa·s, a fifth of the half width of 5 Pa·s
    assert 1.0 == pytest.approx(value(compiled, GEL, "run.viscosity_5.tolerance"))
    assert 5.0 == pytest.approx(value(compiled, GEL, "run.viscosity_5.instrument_ratio"))


@pytest.mark.parametrize(
    ("method", "key", "text"),
    [
        (PAINT, "run.viscosity_20.below_bound", "< 2 Pa·s"),
        (PAINT, "run.viscosity_20.above_bound", "> 20 Pa·s"),
        (STARCH, "run.viscosity_50.below_bound", "< 80 mPa·s"),
        (STARCH, "run.viscosity_50.above_bound", "> 800 mPa·s"),
        (PAINT, "run.viscosity_2.read_at", "150 s"),
        (PAINT, "run.viscosity_2.revolutions", "5 revolutions"),
    ],
)
def test_how_bounds_and_moments_are_written(method, key, text, compiled):
    assert text == compiled(method).figures[key].text


@pytest.mark.parametrize(
    ("changes", "seconds", "formula"),
    [
        ((), 2 * (300 + 150 + 60), "n · (rest + run)"),
        ((("each: new-loading", "each: re-read"),), 300 + 2 * (150 + 60), "rest + n · run"),
        ((("count: 2", "count: 1"), ("each: new-loading", "each: re-read")), 300 + 210, "n · (rest + run)"),
        ((SHEARED,), 2 * (300 + 150 + 60 + 40 + 30), "n · (rest + run)"),
    ],
)
def test_the_time_at_the_bench(changes, seconds, formula, compiled):
    figure = compiled(PAINT, *changes).figures["bench_time"]
    assert seconds == pytest.approx(figure.value)
    assert formula == figure.formula


def test_the_preshear_may_ask_for_three_times_the_torque(compiled):
    # 60 % at 20 rpm, at 60 rpm
    figure = compiled(PAINT, SHEARED).figures["run.viscosity_20.preshear_torque"]
    assert (pytest.approx(180.0), "180.0 %") == (figure.value, figure.text)


def test_without_conditioning_the_age_counts_for_the_pot_life(compiled):
    # 4 min of age and 30 s of reading of 22.5 min
    curing = ("density: 1.05 g/mL", "density: 1.05 g/mL\n  pot_life: 22.5 min")
    assert 20.0 == pytest.approx(value(compiled, STARCH, "pot_life_used", curing))


@pytest.mark.parametrize(
    ("changes", "lower", "upper"),
    [
        ((), 22.0, 48.0),
        ((ONE_SIDED,), 22.0, None),
        ((("lower: 5.5, upper: 8.0,", "upper: 8.0, one_sided: true,"),), None, 48.0),
        # 5.5 · 8 Pa·s below; nothing bounds the fast step above
        (
            (
                (
                    "lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s",
                    "lower: 8.0 Pa·s, one_sided: true",
                ),
            ),
            22.0,
            None,
        ),
        # the ratio turned over, with limits of 1/8 and 1/5: 8 · 5 = 40 Pa·s to 12 · 8 = 96 Pa·s of 200
        (
            (
                ("ratio: [viscosity_2, viscosity_20]", "ratio: [viscosity_20, viscosity_2]"),
                ("lower: 5.5, upper: 8.0,", "lower: 0.125, upper: 0.2,"),
            ),
            20.0,
            48.0,
        ),
        (
            (
                ("ratio: [viscosity_2, viscosity_20]", "ratio: [viscosity_20, viscosity_2]"),
                ("lower: 5.5, upper: 8.0,", "upper: 0.2, one_sided: true,"),
            ),
            20.0,
            None,
        ),
        # with limits above 1 a ratio the wrong way up says nothing of the slow step
        ((("ratio: [viscosity_2, viscosity_20]", "ratio: [viscosity_20, viscosity_2]"),), None, None),
    ],
)
def test_what_a_ratio_says_of_the_step_without_limits(changes, lower, upper, compiled):
    figures = compiled(PAINT, *changes).figures
    for which, expected in (("lower", lower), ("upper", upper)):
        key = f"run.viscosity_2.torque_{which}"
        if expected is None:
            assert f"step viscosity_2 has no {which} limit" == figures.open[key]
        else:
            assert expected == pytest.approx(figures[key].value)


def test_a_reading_taken_once_steady_ends_at_its_bound(compiled):
    steady = ("read: {after: 60 s}", "read: {steady: {change: 0.2 %, over: 15 s, at_most: 300 s}}")
    assert 300 == pytest.approx(value(compiled, PAINT, "run.viscosity_20.read_end", steady))


def test_the_mean_ends_after_its_window(compiled):
    # 36 s and 24 s; 24 s at 5 rpm are two turns
    figures = compiled("LMT-VIS-021").figures
    assert 60 == pytest.approx(figures["run.consistency_5.read_end"].value)
    assert 2 == pytest.approx(figures["run.consistency_5.average_turns"].value)


def test_the_share_reached_is_written_in_percent(compiled):
    # 0.5 rpm, 50 %, 70°: τ = 11.67 s, so that 30 s reach 92.4 %
    changes = (
        ("lower: 8.0 Pa·s, target: 10.0 Pa·s, upper: 12.0 Pa·s", "lower: 200 Pa·s, upper: 400 Pa·s"),
        ("speed: 20 rpm, read: {after: 60 s}", "speed: 0.5 rpm, read: {after: 30 s}"),
    )
    assert "92.4 %" == compiled(PAINT, *changes).figures["run.viscosity_20.fraction"].text


@pytest.mark.parametrize(
    ("method", "density", "key"),
    [
        (STARCH, "  density: 1.05 g/mL\n", "run.viscosity_50.reynolds"),
        (GEL, "  density: 1.01 g/mL\n", "run.viscosity_5.vortex_viscosity"),
    ],
)
def test_without_a_density_the_flow_is_left_open(method, density, key, compiled):
    assert "the density is not given" == compiled(method, (density, "")).figures.open[key]


def test_limits_upside_down_leave_the_uncertainty_open(compiled):
    change = (
        "lower: 20.0 Pa·s, target: 25.0 Pa·s, upper: 30.0 Pa·s",
        "lower: 30.0 Pa·s, target: 25.0 Pa·s, upper: 20.0 Pa·s",
    )
    assert "not below the upper" in compiled(GEL, change).figures.open["run.viscosity_5.uncertainty"]


def test_guarded_limits_are_drawn_in_by_the_uncertainty(compiled):
    # U = 0.334166 Pa·s, from the budget above
    simple = ("upper: 12.0 Pa·s, decision_rule: simple", "upper: 12.0 Pa·s, decision_rule: guarded")
    figures = compiled(PAINT, simple).figures
    assert 8.334166 == pytest.approx(figures["run.viscosity_20.guarded_lower"].value, abs=2e-6)
    assert 11.665834 == pytest.approx(figures["run.viscosity_20.guarded_upper"].value, abs=2e-6)
    assert "run.viscosity_20.guarded_lower" not in compiled(PAINT).figures
