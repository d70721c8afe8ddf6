"""The data sheet: devices, figures with their formulas, rows for readings, result and signatures."""

import pytest


def table(look, document, name, at=0):
    return [t for t in look.blocks(document, "table") if t.name == name][at]


def test_it_has_two_sides(data_sheet, demo):
    assert (1, 2) == tuple(side.number for side in data_sheet(demo).sides)


def test_devices_have_what_is_asked_and_two_places(data_sheet, look, demo):
    devices = table(look, data_sheet(demo), "devices")
    for row in devices.rows:
        assert look.words(row[1])
        assert ["write", "write"] == [cell.kind for cell in row[2:]]
    named = [look.words(row[0]) for row in devices.rows]
    assert ["Instrument", "Spindle"] == named[:2]
    assert {"Thermometer", "Timer", "Container"} <= set(named)


@pytest.mark.parametrize(
    "key",
    [
        "coefficient",
        "run.viscosity_2.factor",
        "run.viscosity_20.full_scale",
        "run.viscosity_20.tolerance",
        "run.viscosity_2.customary_wait",
        "run.viscosity_20.wind_up",
        "run.viscosity_2.read_at",
        "run.viscosity_20.revolutions",
        "conditioning.needed",
        "replicates.agree",
        "replicates.critical_range",
    ],
)
def test_a_figure_stands_with_its_formula(data_sheet, look, compiled, key):
    figure = compiled("MCW-VIS-014").figures[key]
    rows = [row for at in (0, 1) for row in table(look, data_sheet("MCW-VIS-014"), "helps", at).rows]
    (row,) = (r for r in rows if look.words(r[0]) == figure.title)
    assert figure.text in [look.words(cell) for cell in row]
    assert figure.formula == look.words(row[-1])


def test_a_window_has_the_formula_of_both_its_ends(data_sheet, look):
    rows = {
        look.words(row[0]): look.words(row[2])
        for row in table(look, data_sheet("MCW-VIS-014"), "helps", 1).rows
    }
    assert "T ± ΔT" == rows["Temperature allowed"]
    assert "(V ± ΔV) / (π · d² / 4)" == rows["Level before the spindle is in"]
    assert "m = ρ · (V ± ΔV)" == rows["Mass of the volume filled"]


@pytest.mark.parametrize(
    "text",
    ["22.0–48.0 %", "40.0–60.0 %", "38.6–61.6 %", "under 10 % only a bound",
     "22.5–23.5 °C", "91.6–95.3 mm", "in + 210 min",
     "< 2 Pa·s", "> 200 Pa·s", "9.7–10.3 Pa·s", "48.5–51.5 %", "10 000 mPa·s ± 100 mPa·s", "8.0–12.0 Pa·s"],
)  # fmt: skip
def test_windows_bounds_and_bands_are_on_it(data_sheet, look, text):
    assert text in look.everything(data_sheet("MCW-VIS-014"))


def test_every_speed_has_its_row_in_order_and_there_are_spare_rows(data_sheet, look):
    readings = table(look, data_sheet("MCW-VIS-014"), "readings")
    limits, rows = readings.rows[:2], readings.rows[2:]
    assert ["2 rpm", "20 rpm"] == [look.words(row[1]) for row in limits]
    assert ["1", "", "2", "", "spare", "", "spare", ""] == [look.words(row[0]) for row in rows]
    assert ["2 rpm", "↓ 20 rpm"] * 4 == [look.words(row[1]) for row in rows]
    assert "torque × f" in readings.headings


def test_a_ratio_has_a_place_for_each_replicate(data_sheet, look):
    labels = look.everything(look.section(data_sheet("MCW-VIS-014"), "Readings"))
    assert "index, no. 1" in labels
    assert "index, no. 2" in labels


def test_a_dial_has_no_column_for_a_display(data_sheet, look):
    assert "display" not in table(look, data_sheet("BBM-VIS-007"), "readings").headings
    assert "display" in table(look, data_sheet("QAP-VIS-002"), "readings").headings


def test_rows_that_do_not_fit_are_announced(data_sheet, look):
    readings = table(look, data_sheet("QAP-VIS-002", ("count: 3", "count: 10")), "readings")
    assert 1 + 9 == len(readings.rows)
    assert "10 replicates asked for, 9 rows here" in look.everything(readings.notes)


def test_the_result_and_its_qualifiers(data_sheet, look):
    result = look.everything(look.section(data_sheet("MCW-VIS-014"), "Result"))
    for part in ("≤ 0.5 Pa·s", "0.1 Pa·s", "8.0–12.0 Pa·s", "in-out", "HOLD the sample"):
        assert part in result, part
    for part in (
        "apparent viscosity", "20 rpm read at 60 s", "spindle R5", "718.7 µN·m", "guard on",
        "600 mL low-form beaker", "82.55 mm", "23.0 °C ± 0.5 °C", "MCW-VIS-014 revision 3", "n = 2",
    ):  # fmt: skip
        assert part in result, part


def test_the_qualifier_warns_of_a_run_without_guard(data_sheet, look):
    assert "not comparable with guarded data" in look.everything(data_sheet("TGF-VIS-003"))


def test_three_people_sign_and_corrections_are_told(data_sheet, look, demo):
    document = data_sheet(demo)
    assert 3 == len(table(look, document, "signatures").rows)
    text = look.everything(document)
    for part in ("one line through it", "reason code", "Late entry", "n/a", "cross out with a Z"):
        assert part in text, part
