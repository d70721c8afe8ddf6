"""The bench checklist: what stands on it, in which order, and what stands above what."""

from dataclasses import replace

import pytest

from fillmark.digest import digest
from fillmark.documents.checklist import plan_checklist


def test_it_has_two_sides_and_steps_numbered_without_a_gap(checklist, look, demo):
    document = checklist(demo)
    assert (1, 2) == tuple(side.number for side in document.sides)
    in_tables = [
        int(row[0][0].text) for t in look.blocks(document, "table") if t.name == "results" for row in t.rows
    ]
    numbers = sorted([s.number for s in look.steps(document)] + in_tables)
    assert list(range(1, len(numbers) + 1)) == numbers


def test_a_step_is_ticked_or_written_never_both_and_never_many_kinds(checklist, look, demo):
    for step in look.steps(checklist(demo)):
        assert step.text or step.author
        assert len({f.kind for f in step.fields}) <= 1


@pytest.mark.parametrize(
    ("words", "method"),
    [
        ("no spindle on", "MCW-VIS-014"),
        ("in the sample", "MCW-VIS-014"),
        ("measure the level", "MCW-VIS-014"),
        ("clock to 0", "MCW-VIS-014"),
        ("Read the torque", "MCW-VIS-014"),
        ("Write the display", "MCW-VIS-014"),
        ("out not before", "MCW-VIS-014"),
        ("Weigh in", "QAP-VIS-002"),
        ("cover above", "QAP-VIS-002"),
        ("depth of product", "LMT-VIS-021"),
    ],
)
def test_what_could_be_ticked_without_being_done_asks_for_a_value(checklist, look, words, method):
    assert look.step(checklist(method), words).fields


@pytest.mark.parametrize(
    ("method", "words", "caution"),
    [
        ("MCW-VIS-014", "Put on gloves", "Irritates"),
        ("MCW-VIS-014", "Screw the spindle on", "Left-hand thread"),
        ("MCW-VIS-014", "Start the motor", "Turning parts"),
        ("MCW-VIS-014", "Take the spindle off", "Take the spindle off first"),
        ("QAP-VIS-002", "Hang the spindle on", "one hand"),
        ("BBM-VIS-007", "Put on gloves", "Alkali"),
        ("LMT-VIS-021", "travel down", "Travel ends 27.0 mm deep"),
    ],
)
def test_a_caution_belongs_to_the_step_it_protects(checklist, look, method, words, caution):
    step = look.step(checklist(method), words)
    assert any(caution in look.words(c.text) for c in step.cautions)


def test_the_caution_stands_before_the_run_for_the_zero_and_the_first_of_the_sample(checklist, look):
    steps = look.steps(checklist("MCW-VIS-014"))
    turning = [s.number for s in steps if any("Turning parts" in look.words(c.text) for c in s.cautions)]
    starts = [s.number for s in steps if s.fields and s.fields[0].kind == "clock"]
    (zero,) = (s.number for s in steps if "no spindle on" in look.words(s.text))
    assert [zero, starts[0]] == turning


def test_alkali_at_38_degrees_is_warned_of_above_the_drawing(checklist, look):
    (drawing,) = (s for s in look.steps(checklist("BBM-VIS-007")) if "Draw 600 mL" in s.author)
    signals = [(c.signal, look.words(c.text)) for c in drawing.cautions]
    assert any(signal == "WARNING" and "38.0 °C" in text for signal, text in signals)


@pytest.mark.parametrize(
    ("target", "word"), [("38.0", "warm parts"), ("90.0", "burn"), ("4.0", "cold parts")]
)
def test_parts_that_are_warmed_are_warned_of_before_they_are_touched(checklist, look, target, word):
    document = checklist("BBM-VIS-007", ("target: 38.0 °C", f"target: {target} °C"))
    steps = look.steps(document)
    warned = next(i for i, s in enumerate(steps) if any(word in look.words(c.text) for c in s.cautions))
    assert f"Bring spindle and guard to {target} °C" in look.words(steps[warned].text)


def test_in_a_hot_bath_parts_are_warned_of_before_they_are_touched(checklist, look):
    document = checklist("TGF-VIS-003", ("target: 20.0 °C ± 0.5 °C", "target: 90.0 °C ± 0.5 °C"))
    assert any("burn" in look.words(c.text) for c in look.step(document, "Bring spindle").cautions)


def test_warnings_stand_above_cautions(checklist, look):
    document = checklist(
        "MCW-VIS-014", ("hazards: [irritant]", "hazards: [irritant, corrosive, dust, toxic]")
    )
    signals = [c.signal for c in look.step(document, "Put on gloves").cautions]
    assert ["WARNING", "WARNING", "CAUTION", "CAUTION"] == signals


def test_a_hot_method_warns_of_burns_at_every_touch(checklist, look):
    document = checklist(
        "MCW-VIS-014",
        ("target: 23.0 °C ± 0.5 °C", "target: 70.0 °C ± 0.5 °C"),
        ("start: 28 °C", "start: 60 °C"),
    )
    for words in ("Screw the spindle on", "Take the spindle off", "put it in the water bath"):
        assert any("burn" in look.words(c.text) for c in look.step(document, words).cautions), words


def test_a_stricter_policy_warns_of_burns_earlier(compiled, look):
    one = compiled("MCW-VIS-014", ("target: 23.0 °C ± 0.5 °C", "target: 55.0 °C ± 0.5 °C"))
    policy = one.method.reference.policy
    for hot_from, warned in ((60.0, False), (55.0, True)):
        stricter = replace(policy, values={**policy.values, "hot_from": hot_from})
        method = replace(one.method, reference=replace(one.method.reference, policy=stricter))
        document = plan_checklist(method, one.figures, digest(method))
        cautions = look.step(document, "put it in the water bath").cautions
        assert warned == any("burn" in look.words(c.text) for c in cautions)


def test_a_solvent_is_warned_of_above_the_washing(checklist, look):
    document = checklist(
        "MCW-VIS-014",
        ("cleaning: {agent: warm water,", "cleaning: {agent: acetone, agent_hazards: [flammable, irritant],"),
    )
    cautions = look.step(document, "Wash spindle").cautions
    assert [("WARNING", True), ("WARNING", False)] == [
        (c.signal, "flammable" in look.words(c.text)) for c in cautions
    ]


def test_left_hand_thread_is_told_only_of_a_threaded_coupling(checklist, look, demo):
    text = look.everything(checklist(demo)).lower()
    assert (demo != "QAP-VIS-002") == ("left-hand" in text)


def test_hold_points_stand_before_the_first_loading_is_mounted_and_before_cleaning(checklist, look, demo):
    document = checklist(demo)
    order = [
        section.title or f"HOLD {section.blocks[0].number}"
        for section in look.sections(document)
        if section.title or section.blocks[0].kind == "hold"
    ]
    assert order.index("HOLD 1") < order.index("Mount") < order.index("Measure")
    assert order.index("Result") < order.index("HOLD 2") < order.index("Clean")


def test_hold_1_has_fluid_band_torque_and_what_to_do_on_failure(checklist, look):
    (first, second) = look.holds(checklist("MCW-VIS-014"))
    text = look.everything(first)
    # REF-10000 on coefficient 400 Pa·s·rpm at 20 rpm: 50 % of 20 Pa·s; accuracy 1 % of full scale is
    # 0.2 Pa·s, fluid 0.1 Pa·s: 10 ± 0.3 Pa·s, 48.5 to 51.5 %. By hand.
    for part in (
        "REF-10000",
        "25.0 °C",
        "9.7–10.3 Pa·s",
        "48.5–51.5 %",
        "20 rpm",
        "FAIL: STOP",
        "do not adjust",
    ):
        assert part in text, part
    assert "pass-fail" in text
    assert "Second person" in look.everything(second)


def test_hold_1_tells_what_differs_in_the_check(checklist, look):
    first = look.holds(checklist("LMT-VIS-021"))[0]
    text = look.everything(first)
    assert "spindle R6" in text
    assert "600 mL low-form beaker" in text
    assert "guard on" in text


def test_a_second_person_signs_only_where_the_result_releases(checklist, look):
    assert "Second person" not in look.everything(look.holds(checklist("BBM-VIS-007"))[1])


def test_the_windows_the_factor_and_the_clock_stand_on_their_lines(checklist, look):
    document = checklist("MCW-VIS-014")
    reading = look.step(document, "Read the torque at +60 s")
    # 8 and 12 Pa·s of 20 Pa·s full scale; worst case 1 % of the value and 1 % of full scale. By hand:
    # 40 · 0.99 - 1 = 38.6; 60 · 1.01 + 1 = 61.6.
    assert "40.0–60.0 %" == look.words(reading.limit)
    assert "worst case 38.6–61.6 %" == look.words(reading.remark)
    assert "20 revolutions" in look.words(reading.text)
    # C / (100 N) = 400 / 2000
    product = look.step(document, "0.2 Pa·s (factor f)")
    assert "Torque × 0.2 Pa·s (factor f) =" == look.words(product.text)
    # One step of the readout, 0.1 % of 20 Pa·s.
    assert "display ± 0.02 Pa·s" == look.words(product.limit)


def test_filling_and_conditioning_carry_their_limits(checklist, look):
    document = checklist("MCW-VIS-014")
    filling = look.step(document, "Fill 500 mL ± 10 mL")
    # 490 and 510 mL in a cylinder of 82.55 mm: 91.6 and 95.3 mm. By hand.
    assert "91.6–95.3 mm" == look.words(filling.limit)
    assert ("mm", "mm") == tuple(f.unit for f in filling.fields)
    assert "in + 210 min" == look.words(look.step(document, "out not before").limit)
    before, after = (look.step(document, "in the sample", at) for at in (0, 1))
    assert ("22.5–23.5 °C", "before the run") == (look.words(before.limit), look.words(before.remark))
    assert ("22.5–23.5 °C", "after the run") == (look.words(after.limit), look.words(after.remark))


def test_out_of_range_is_written_exactly_and_nothing_is_changed(checklist, look):
    text = look.everything(look.section(checklist("MCW-VIS-014"), "Out of range"))
    assert "Do not change speed or spindle" in text
    for bound in ("< 2 Pa·s", "> 20 Pa·s", "< 20 Pa·s", "> 200 Pa·s"):
        assert bound in text


def test_a_range_that_voids_the_run_says_so(checklist, look):
    document = checklist("QAP-VIS-002", ("below_range: stated", "below_range: void"))
    assert "write exactly VOID" in look.everything(look.section(document, "Out of range"))


def test_the_result_has_range_increment_examples_limits_and_verdict(checklist, look, compiled):
    result = look.section(checklist("MCW-VIS-014"), "Result")
    text = look.everything(result)
    figures = compiled("MCW-VIS-014").figures
    for part in ("≤ 0.5 Pa·s", "Mean, unrounded", "0.1 Pa·s", "8.0–12.0 Pa·s", "HOLD the sample", "in-out"):
        assert part in text, part
    for key in figures:
        if key.startswith("report.") and "border" in key:
            assert figures.text(key) in text, key
    assert "Divide viscosity_2 by viscosity_20." in text


def test_one_run_has_a_column_for_confirmation(checklist, look):
    document = checklist("BBM-VIS-007")
    measure = [b for b in look.section(document, "Measure").blocks if b.kind == "steps"]
    assert ("run", "confirmation") == measure[0].columns
    assert "second column only" in look.words(look.section(document, "Measure").note)
    assert "Mean" not in look.everything(look.section(document, "Result"))


def test_one_run_without_confirmation_has_one_column(checklist, look):
    document = checklist("BBM-VIS-007", (", confirm_outside: true", ""))
    measure = [b for b in look.section(document, "Measure").blocks if b.kind == "steps"]
    assert ("run",) == measure[0].columns


def test_packs_have_a_column_each_and_a_number_each(checklist, look):
    document = checklist("LMT-VIS-021")
    assert 3 == len(look.step(document, "60 mm cream jar").fields)
    measure = [b for b in look.section(document, "Measure").blocks if b.kind == "steps"]
    assert ("pack 1", "pack 2", "pack 3") == measure[0].columns


def test_a_loading_read_again_is_loaded_once(checklist, look):
    document = checklist("TGF-VIS-003", ("each: new-loading", "each: re-read"))
    assert 1 == len(look.step(document, "Fill 500 mL").fields)
    assert 2 == len(look.step(document, "Read the torque").fields)


def test_more_replicates_than_columns_go_on_the_data_sheet(checklist, look):
    document = checklist("QAP-VIS-002", ("count: 3", "count: 6"))
    assert "replicates 5 to 6 on the data sheet" == look.words(look.section(document, "Measure").note)
    assert 4 == len(look.step(document, "Read the torque").fields)


def test_one_replicate_too_many_is_no_range(checklist, look):
    document = checklist("MCW-VIS-014", ("count: 2", "count: 5"))
    assert "replicate 5 on the data sheet" == look.words(look.section(document, "Measure").note)


def test_a_reading_late_in_the_run_is_told_to_the_second(checklist, look):
    # 5 revolutions at 0.4 rpm are 60 · 5 / 0.4 = 750 s, no 12 min.
    document = checklist(
        "MCW-VIS-014", ("speed: 2 rpm, read: {after: 150 s}", "speed: 0.4 rpm, read: {after: 750 s}")
    )
    assert "+12 min 30 s" in look.words(look.step(document, "Read the torque").text)


def test_a_dial_is_locked_stopped_read_and_released_in_this_order(checklist, look):
    texts = [look.words(s.text) for s in look.steps(checklist("BBM-VIS-007"))]
    places = [
        next(i for i, text in enumerate(texts) if words in text)
        for words in ("lock the pointer", "Stop the motor", "Read straight on", "Release the pointer")
    ]
    assert sorted(places) == places
    assert "display" not in "\n".join(texts).lower()


def test_a_bar_has_its_start_its_travel_and_its_stop(checklist, look):
    document = checklist("LMT-VIS-021")
    assert "5 mm ± 1 mm" == look.words(look.step(document, "start depth").limit)
    assert "22 mm/min" in look.words(look.step(document, "travel down").text)
    stops = look.everything(look.section(document, "Measure").blocks[0])
    assert "nearer than 10 mm to the bottom" in stops
    assert "+36 s to +60 s" in look.words(look.step(document, "Average").text)


def test_a_steady_reading_tells_what_steady_is(checklist, look):
    document = checklist(
        "TGF-VIS-003",
        (
            "read: {after: 30 s, revolutions: 5 rev}",
            "read: {steady: {change: 0.2 %, over: 20 s, at_most: 90 s}}",
        ),
    )
    reading = look.words(look.step(document, "Read the torque").text)
    for part in ("0.2 %", "20 s", "+90 s"):
        assert part in reading


def test_a_preshear_stands_before_its_step_with_the_caution(checklist, look):
    document = checklist(
        "TGF-VIS-003",
        ("revolutions: 5 rev}}", "revolutions: 5 rev}, preshear: {speed: 50 rpm, time: 30 s, rest: 10 s}}"),
    )
    shear, start = look.step(document, "Shear at 50 rpm for 30 s"), look.step(document, "Start the motor")
    assert shear.number < start.number
    assert (1, 0) == (len(shear.cautions), len(start.cautions))
    assert "rest 10 s" in look.words(shear.text)


def test_no_guard_is_told_as_plainly_as_a_guard(checklist, look):
    without, with_it = checklist("TGF-VIS-003"), checklist("MCW-VIS-014")
    assert look.step(without, "without it").cautions
    assert "Fit the guard" not in look.everything(without)
    assert look.step(with_it, "Fit the guard")


def test_waivers_are_printed_where_the_operator_works(checklist, look):
    text = look.everything(checklist("LMT-VIS-021").sides[0])
    assert "Rule VER07 is set aside until 2028-11-30" in text


def test_the_sheet_gives_way_to_the_safety_data_sheet(checklist, look, demo):
    assert "safety data sheet" in look.everything(checklist(demo).foot)


def test_prose_of_the_method_has_its_values_filled_in(checklist, look):
    document = checklist(
        "TGF-VIS-003", ("do not stir and do not shake.", "rest it {{sample.rest}}; {{nothing.here}} stays.")
    )
    (step,) = (s for s in look.steps(document) if "Pour slowly" in s.author)
    assert "rest it 5 min; {{nothing.here}} stays." in step.author


def test_a_method_without_verification_asks_the_supervisor(checklist, look, edited):
    text = edited("TGF-VIS-003").decode()
    block = text[text.index("verification:") : text.index("report:")]
    first = look.holds(checklist("TGF-VIS-003", (block, "")))[0]
    assert "supervisor" in look.everything(first.lines)
    assert "pass-fail" in look.everything(first.entries)
