"""Two revisions by meaning: classes, triggers, what it does, history, limits and waivers."""

import json
from pathlib import Path

import pytest
import yaml

from fillmark.compare import CLASSES, RANKS, TRIGGERS, _only_spelling, class_of, compare, title_of
from fillmark.explain import input_codes
from fillmark.locate import schemas_folder
from fillmark.pipeline import compile_method
from fillmark.reference import load_files, read_files

ROOT = Path(__file__).parents[1]
PAINT, GEL, BOARD, JAR, SAUCE = "MCW-VIS-014", "QAP-VIS-002", "BBM-VIS-007", "LMT-VIS-021", "TGF-VIS-003"
SPEED = ("speed: 20 rpm, read: {after: 60 s}", "speed: 10 rpm, read: {after: 60 s}")
NEXT = ("revision: 3\n", "revision: 4\n")


@pytest.fixture(scope="module")
def two(compiled):
    """Compare a demonstration method with itself after edits; `before` edits the earlier one too."""

    def compare_two(method, *changes, before=()):
        return compare(compiled(method, *before), compiled(method, *changes))

    return compare_two


def noted(klass, revision=4):
    """Raise the revision of the paint and class the change."""
    return NEXT, ("{revision: 3, class: parameter", f"{{revision: {revision}, class: {klass}")


def technical(c):
    return [(x.path, x.kind, x.before, x.after, x.klass) for x in c.changes if x.technical]


def codes(c):
    return [d.code for d in c.diagnostics]


def history(c, result):
    return next(h for h in c.histories if h.result == result)


def moved(c, key):
    return next(f for f in c.figures if f.key == key)


# --- values


def test_a_method_and_itself_differ_in_nothing(two):
    c = two(PAINT)
    assert ((), (), None, None, ()) == (c.changes, c.figures, c.klass, c.trigger, c.diagnostics)
    assert not c.technical


def test_a_changed_value_is_told_with_title_texts_and_places(two):
    c = two(PAINT, SPEED, ("demonstration: true  ", "demonstration: true\n"))
    [x] = [x for x in c.changes if x.technical]
    assert ("run.viscosity_20.speed", "Speed", "20 rpm", "10 rpm") == (x.path, x.title, x.before, x.after)
    assert x.before_span.line + 1 == x.after_span.line


@pytest.mark.parametrize(
    ("right", "other"),
    [
        ("lower: 8.0 Pa·s", "lower: 8000 mPa·s"),
        ("lower: 8.0 Pa·s", "lower: 80 P"),
        ("speed: 20 rpm, read: {after: 60 s}", "speed: 20.0 rpm, read: {after: 1 min}"),
        ("volume: 500 mL ± 10 mL", "volume: 0.5 L ± 2 %"),
        ("spindle: R5", "spindle: {name: R5}"),
        ("agree_within: 0.5 Pa·s", "agree_within: 500 mPa·s"),
        ("measured: in-sample", "measured: in-sample\n  recheck: true"),
        ("volatile: true", "aerated: false\n  volatile: true"),
        ("Stir 30 turns in 30 s", "Stir  30 turns in 30 s"),
        ("with a wide spatula", "with a wide spatulas"),
        ("draw no air in.\n", "draw no air in. \n"),
        ("title: Apparent", "result_type: apparent\ntitle: Apparent"),
        ("container: beaker-600-low-form",
         "container: {label: my jar, kind: beaker, inside_diameter: 8.255 cm, height: 118 mm}"),
        ("agent: warm water, disposal: waterborne waste drum", "disposal: waterborne waste drum, agent: warm water"),
        ('["thermometer, 0.1 °C", "timer", ', '["timer", "thermometer, 0.1 °C", '),
    ],
)  # fmt: skip
def test_what_means_the_same_is_told_as_editorial(two, right, other):
    c = two(PAINT, (right, other))
    assert [] == technical(c)
    assert ("editorial", "notify") == (c.klass, c.trigger)
    assert c.changes
    assert set() == set(codes(c))


@pytest.mark.parametrize(
    ("right", "other"),
    [
        ("Stir 30 turns in 30 s", "Stir 40 turns in 30 s"),
        ("draw no air in", "draw air in"),
        ("draw no air in", "draw the air in"),
        ("covered: true", "covered: false"),
        ("lower: 8.0 Pa·s", "lower: 8.0 mPa·s"),
        ("volume: 500 mL ± 10 mL", "volume: 500 mL ± 20 mL"),
        ("agree_within: 0.5 Pa·s", "agree_within: 5 %"),
    ],
)
def test_what_means_another_thing_is_never_editorial(two, right, other):
    c = two(PAINT, (right, other))
    assert ["parameter"] == [x[-1] for x in technical(c)]


def test_a_word_that_begins_otherwise_is_another_word(two):
    before = ("Stir 30 turns", "Keep covered; stir 30 turns")
    assert [] != technical(two(PAINT, ("Stir 30 turns", "Keep uncovered; stir 30 turns"), before=[before]))


@pytest.mark.parametrize(
    ("before", "after", "spelling"),
    [
        ("do not shake it", "do  not Shake it.", True),
        ("let the smaple stand", "let the sample stand", True),
        ("do not shake it", "do note shake it", False),
        ("wait 100000 turns", "wait 100001 turns", False),
        ("without shaking it", "with shaking it", False),
        ("shake it well", "shake it", False),
        ("R2", "r2", False),
        ("a solution of sodium sulfate", "a solution of sodium sulfite", False),
        ("rinse with hexane", "rinse with hexene", False),
        ("rinse with propane", "rinse with propanone", False),
        ("rinse with glycol", "rinse with glycerol", False),
        ("through the filter", "through the filler", False),
        ("keep it heated", "keep it heater", False),
        ("let it setttle first", "let it settle first", True),
    ],
)
def test_spelling_is_told_from_meaning(before, after, spelling):
    assert spelling is _only_spelling(before, after)


def test_a_plain_number_with_and_without_a_point_is_one(two):
    c = two(PAINT, ("lower: 5.5, upper: 8.0", "lower: 5.5, upper: 8"))
    assert [("specification.index.upper", "rewritten")] == [(x.path, x.kind) for x in c.changes]


def test_a_container_is_compared_by_what_it_is(two, compiled):
    c = compiled(GEL).method.container
    written = (
        f"container: {{label: {c.label}, kind: {c.kind}, inside_diameter: {c.inside_diameter.text}, "
        f"height: {c.height.text}, jacketed: %s}}\n"
    )
    same = two(GEL, ("container: chamber-19\n", written % "true"))
    assert ({"editorial"}, "continued") == ({x.klass for x in same.changes}, same.histories[0].state)
    [x] = two(GEL, ("container: chamber-19\n", written % "false")).changes
    assert ("container.jacketed", "geometry") == (x.path, x.klass)


def test_keys_in_another_order_are_no_change(two):
    c = two(PAINT, ("spindle: R5\nguard: required\n", "guard: required\nspindle: R5\n"))
    assert [("the whole file", "reordered", "editorial")] == [(x.path, x.kind, x.klass) for x in c.changes]


def test_comments_alone_are_told(two):
    [x] = two(PAINT, ("spindle: R5\n", "spindle: R5  # the disc\n")).changes
    assert ("the whole file", "rewritten", "editorial") == (x.path, x.kind, x.klass)


def test_list_entries_are_matched_by_name(two):
    low = "  - {name: viscosity_2, speed: 2 rpm, read: {after: 150 s}}\n"
    c = two(PAINT, (low, low + "  - {name: viscosity_5, speed: 5 rpm, read: {after: 60 s}}\n"))
    assert [("run.viscosity_5", "added", "parameter")] == [(p, kind, k) for p, kind, _, _, k in technical(c)]
    index = "  - {result: index, lower: 5.5, upper: 8.0, decision_rule: simple}\n"
    first = "  - {result: viscosity_20, lower"
    c = two(PAINT, (index, ""), (first, index + first))
    assert [("specification", "reordered")] == [(x.path, x.kind) for x in c.changes]


def test_the_order_of_the_run_is_a_change(two):
    low = "  - {name: viscosity_2, speed: 2 rpm, read: {after: 150 s}}\n"
    high = "  - {name: viscosity_20, speed: 20 rpm, read: {after: 60 s}}\n"
    c = two(PAINT, (low + high, high + low))
    assert [
        ("run", "changed", "viscosity_2, viscosity_20", "viscosity_20, viscosity_2", "parameter")
    ] == technical(c)
    assert "broken" == history(c, "viscosity_20").state


RENAMED = (
    ("{result: viscosity_20, lower", "{result: eta_20, lower"),
    ("{name: viscosity_20, speed", "{name: eta_20, speed"),
    ("at: viscosity_20", "at: eta_20"),
    ("{result: viscosity_20, statistic", "{result: eta_20, statistic"),
    ("ratio: [viscosity_2, viscosity_20]", "ratio: [viscosity_2, eta_20]"),
    ("{{run.viscosity_20.read_at}}", "{{run.eta_20.read_at}}"),
)


def test_a_renamed_step_is_told_once_and_its_history_goes_on(two):
    c = two(PAINT, *RENAMED)
    assert [("run.eta_20", "renamed", "viscosity_20", "eta_20", "editorial")] == [
        (x.path, x.kind, x.before, x.after, x.klass) for x in c.changes
    ]
    assert ["continued", "continued"] == [h.state for h in c.histories]
    assert () == c.figures
    assert () == c.findings_new


def test_two_renamed_steps_are_known_by_what_they_do(two):
    both = tuple((a, b.replace("[viscosity_2, ", "[eta_2, ")) for a, b in RENAMED)
    c = two(PAINT, *both, ("{name: viscosity_2, speed", "{name: eta_2, speed"))
    assert {("viscosity_2", "eta_2", "renamed"), ("viscosity_20", "eta_20", "renamed")} == {
        (x.before, x.after, x.kind) for x in c.changes
    }


def test_a_step_renamed_with_its_speed_is_still_the_same_step(two):
    other = tuple((a, b.replace("speed: 20", "speed: 10")) for a, b in RENAMED)
    c = two(PAINT, *other, ("eta_20, speed: 20 rpm", "eta_20, speed: 10 rpm"))
    assert ["run.eta_20.speed"] == [t[0] for t in technical(c)]
    assert "broken" == history(c, "eta_20").state
    assert ("20 Pa·s", "40 Pa·s") == (
        moved(c, "run.eta_20.full_scale").before,
        moved(c, "run.eta_20.full_scale").after,
    )


def test_a_whole_block_is_one_change(two):
    c = two(PAINT, ("cleaning: {agent: warm water, disposal: waterborne waste drum}\n", ""))
    assert [
        ("cleaning", "removed", "agent warm water, disposal waterborne waste drum", None, "parameter")
    ] == technical(c)


# --- classes


@pytest.mark.parametrize(
    ("method", "right", "wrong", "klass", "trigger"),
    [
        (PAINT, "title: Apparent viscosity", "title: Viscosity", "editorial", "notify"),
        (PAINT, "The guard belongs to the coefficient.", "Fit the guard.", "editorial", "notify"),
        (PAINT, "retention: 10 years", "retention: 5 years", "editorial", "notify"),
        (PAINT, "author: A. Osei", "author: B. Osei", "editorial", "notify"),
        (PAINT, *SPEED, "parameter", "supervised run"),
        (PAINT, "upper: 12.0 Pa·s", "upper: 13.0 Pa·s", "parameter", "supervised run"),
        (PAINT, "count: 2", "count: 3", "parameter", "supervised run"),
        (PAINT, "23.0 °C ± 0.5 °C", "23.0 °C ± 1.0 °C", "parameter", "supervised run"),
        (GEL, "{spring: R,", "{spring: 2R,", "parameter", "supervised run"),
        (PAINT, "stand: fine-height", "stand: quick-travel", "parameter", "supervised run"),
        (JAR, "stand: helical, rise_rate: 22 mm/min", "stand: fine-height", "geometry", "full competency"),
        (PAINT, "spindle: R5", "spindle: R4", "geometry", "full competency"),
        (PAINT, "guard: required", "guard: not-used", "geometry", "full competency"),
        (JAR, "container: jar-60", "container: beaker-600-low-form", "geometry", "full competency"),
        (JAR, "depth: 5 mm", "depth: 8 mm", "geometry", "full competency"),
        (PAINT, "increment: 0.1 Pa·s", "increment: 0.5 Pa·s", "calculation", "full competency"),
        (PAINT, "viscosity_20, statistic: mean", "viscosity_20, statistic: median", "calculation", "full competency"),
        (PAINT, "upper: 12.0 Pa·s, decision_rule: simple", "upper: 12.0 Pa·s, decision_rule: guarded", "calculation",
         "full competency"),
        (JAR, "result_type: pack-specific", "result_type: relative", "calculation", "full competency"),
    ],
)  # fmt: skip
def test_each_change_has_its_class_and_trigger(two, method, right, wrong, klass, trigger):
    c = two(method, (right, wrong))
    assert {klass} == {x.klass for x in c.changes}
    assert (klass, trigger) == (c.klass, c.trigger)
    assert (klass != "editorial") is c.technical


def test_the_whole_has_the_heaviest_class(two):
    c = two(
        PAINT, SPEED, ("guard: required", "guard: not-used"), ("retention: 10 years", "retention: 5 years")
    )
    assert ("geometry", {"editorial", "parameter", "geometry"}) == (c.klass, {x.klass for x in c.changes})


def test_every_value_a_method_can_hold_has_a_class_with_a_reason():
    whole = json.loads((schemas_folder() / "method.schema.json").read_text(encoding="utf-8"))

    def leaves(node, at):
        for choice in (node, *node.get("anyOf", ())):
            for key, inner in choice.get("properties", {}).items():
                yield from leaves(inner, (*at, key))
        if node.get("type") == "array" and "properties" in node["items"]:
            yield from leaves(node["items"], (*at, "x"))
        elif at:
            yield at

    paths = list(leaves(whole, ()))
    assert len(paths) > 130
    for at in paths:
        klass, why = class_of(at)
        assert klass in RANKS
        assert why
        assert title_of(at)
    assert len({p for p, _, _ in CLASSES}) == len(CLASSES)
    assert set(RANKS) == set(TRIGGERS)
    with pytest.raises(KeyError):
        class_of(("colour",))


# --- what it does


def test_speed_doubled_halves_full_scale_and_makes_the_upper_limit_impossible(two):
    # 400 Pa·s·rpm: 22 Pa·s takes 100 · 22 · 10 / 400 = 55 % at 10 rpm and 110 % at 20 rpm.
    upper = ("upper: 12.0 Pa·s", "upper: 22.0 Pa·s")
    c = two(PAINT, upper, before=[upper, SPEED])
    assert [("run.viscosity_20.speed", "changed", "10 rpm", "20 rpm", "parameter")] == technical(c)
    full = moved(c, "run.viscosity_20.full_scale")
    assert ("40 Pa·s", "20 Pa·s", 0.5) == (full.before, full.after, full.factor)
    torque = moved(c, "run.viscosity_20.torque_upper")
    assert ("55.0 %", "110.0 %", "now impossible: above full scale") == (
        torque.before,
        torque.after,
        torque.note,
    )
    assert any(d.code == "CMP04" and "now 110.0 %, which is impossible" in d.message for d in c.diagnostics)
    assert any(d.code.startswith("TRQ") and d.severity.word == "error" for d in c.findings_new)


def test_a_torque_that_falls_below_the_floor_is_marked(two):
    c = two(PAINT, ("speed: 20 rpm, read: {after: 60 s}", "speed: 4 rpm, read: {after: 60 s}"))
    assert "now below the torque floor of 10 %" == moved(c, "run.viscosity_20.torque_lower").note


def test_a_figure_that_is_no_longer_there_says_why(two):
    steady = "speed: 20 rpm, read: {steady: {change: 1 %, over: 30 s, at_most: 5 min}}"
    c = two(PAINT, ("speed: 20 rpm, read: {after: 60 s}", steady))
    read_at = moved(c, "run.viscosity_20.read_at")
    assert ("60 s", None) == (read_at.before, read_at.after)
    assert "once steady" in read_at.note


def test_a_spring_alone_leaves_the_flow_and_doubles_the_tolerance(two):
    # 1437.4 / 718.7 = 2: the tolerance is 1 % of full scale.
    c = two(GEL, ("{spring: R,", "{spring: 2R,"))
    [h] = c.histories
    assert ("continued", ()) == (h.state, h.why)
    assert "CMP04" not in codes(c)
    assert "leaves the flow as it was" in c.spring
    assert "changes by a factor of 2" in c.spring
    assert pytest.approx(2, rel=1e-9) == moved(c, "run.viscosity_5.tolerance").factor
    assert pytest.approx(0.5, rel=1e-9) == moved(c, "run.viscosity_5.torque_upper").factor


def test_a_spring_with_a_speed_does_not(two):
    c = two(GEL, ("{spring: R,", "{spring: 2R,"), ("speed: 5 rpm", "speed: 10 rpm"))
    assert "leaves the flow" not in c.spring
    assert "broken" == c.histories[0].state


# --- history


@pytest.mark.parametrize(
    ("method", "right", "wrong", "why"),
    [
        (GEL, "speed: 5 rpm", "speed: 10 rpm", "speed 10 rpm instead of 5 rpm"),
        (PAINT, "spindle: R5", "spindle: R4", "spindle R4 instead of R5"),
        (PAINT, "guard: required", "guard: not-used", "guard not-used instead of required"),
        (PAINT, "container: beaker-600-low-form",
         "container: {label: wide jar, kind: beaker, inside_diameter: 95 mm, height: 118 mm}",
         "container wide jar (95 mm inside) instead of 600 mL low-form beaker (82.55 mm inside)"),
        (JAR, "depth: 5 mm", "depth: 8 mm", "immersion depth 8 mm instead of 5 mm"),
        (JAR, "rise_rate: 22 mm/min", "rise_rate: 11 mm/min", "rise rate 11 mm/min instead of 22 mm/min"),
        (JAR, "direction: down", "direction: up", "way of the stand up instead of down"),
        # 2 K at 2.0 %/K
        (JAR, "25.0 °C ± 0.5 °C", "27.0 °C ± 0.5 °C", "temperature 27.0 °C instead of 25.0 °C (reads about 4 % lower)"),
        (PAINT, "rest: 5 min", "rest: 10 min", "rest 10 min instead of 5 min"),
        (PAINT, "age: 24 h ± 2 h", "age: 48 h ± 2 h", "age 48 h instead of 24 h"),
        (PAINT, "Stir 30 turns", "Stir 50 turns", "the numbers in the preparation of the sample differ"),
        (PAINT, "each: new-loading", "each: re-read", "replicates by re-read instead of new-loading"),
        (GEL, "{after: 60 s, revolutions: 5 rev}", "{after: 120 s}", "read at 120 s instead of at 60 s"),
        (PAINT, "viscosity_20, statistic: mean", "viscosity_20, statistic: median",
         "the result is median instead of mean"),
    ],
)  # fmt: skip
def test_what_breaks_a_history(two, method, right, wrong, why):
    c = two(method, (right, wrong))
    assert ("broken", (why,)) == (c.histories[0].state, c.histories[0].why)


@pytest.mark.parametrize(
    ("method", "right", "wrong"),
    [
        (PAINT, "upper: 12.0 Pa·s", "upper: 13.0 Pa·s"),
        (PAINT, "23.0 °C ± 0.5 °C", "23.0 °C ± 0.2 °C"),
        (PAINT, "age: 24 h ± 2 h", "age: 24 h ± 1 h"),
        (PAINT, "start: 28 °C", "start: 27 °C"),
        (PAINT, "stand: fine-height", "stand: quick-travel"),
        # shear-thinning without memory: the moment of reading and the age say nothing
        (BOARD, "after: 30 s", "after: 45 s"),
        (BOARD, "age: 3 min ± 1 min", "age: 4 min ± 1 min"),
    ],
)
def test_what_breaks_none(two, method, right, wrong):
    c = two(method, (right, wrong))
    assert {"continued"} == {h.state for h in c.histories}
    assert c.technical


def test_an_earlier_step_is_part_of_the_history_of_a_later_one(two):
    c = two(PAINT, ("speed: 2 rpm, read: {after: 150 s}", "speed: 2 rpm, read: {after: 300 s}"))
    assert ("what is run before it on the same loading differs",) == history(c, "viscosity_20").why


def test_added_replicates_go_on_with_a_note(two):
    # The scatter of a mean goes with 1 / sqrt(n): sqrt(2 / 3) = 0.816.
    c = two(PAINT, ("count: 2", "count: 3"))
    h = history(c, "viscosity_20")
    assert "continued" == h.state
    assert "0.82 times" in h.mind[0]
    assert ("4.16 % of the mean", "4.96 % of the mean") == (
        moved(c, "replicates.critical_range").before,
        moved(c, "replicates.critical_range").after,
    )  # the factors 2.77 and 3.31 of ISO 5725-6 times 1.5 %


def test_a_preparation_worded_otherwise_is_left_to_a_person(two):
    h = two(PAINT, ("draw no air in", "do not trap bubbles")).histories[0]
    assert ("continued", True) == (h.state, "judge whether hands do the same" in h.mind[0])


NEWTONIAN = ("behaviour: shear-thinning", "behaviour: newtonian")


def test_a_newtonian_product_keeps_its_history_at_another_speed(two):
    speed = ("speed: 50 rpm", "speed: 30 rpm")
    h = two(BOARD, NEWTONIAN, speed, before=[NEWTONIAN]).histories[0]
    assert ("continued", True) == (h.state, "declared Newtonian" in h.mind[0])
    assert "broken" == two(BOARD, speed).histories[0].state


def test_a_new_own_coefficient_breaks_by_its_factor(two):
    # 410 over the catalogue's 400 Pa·s·rpm.
    own = "coefficient: {full_scale: 410 Pa·s·rpm, guard: required, container: beaker-600-low-form, evidence: X-1}\n"
    h = history(two(PAINT, ("verification:\n", own + "verification:\n")), "viscosity_20")
    assert ("the coefficient differs beyond the spring, by a factor of 1.025",) == h.calculation


def test_results_that_come_and_go(two):
    limit = "  - {result: index, lower: 5.5, upper: 8.0, decision_rule: simple}\n"
    ratio = "ratio: [viscosity_2, viscosity_20], statistic: mean, increment: 0.1, rounding: half-even"
    line = f"  - {{result: index, {ratio}}}\n"
    assert "ended" == history(two(PAINT, (limit, ""), (line, "")), "index").state
    assert "new" == history(two(PAINT, before=[(limit, ""), (line, "")]), "index").state


# --- what a reviewer must act on


def test_new_property_old_limits(two):
    c = two(PAINT, SPEED, *noted("parameter"))
    assert ["CMP04", "CMP04"] == codes(c)
    first = c.diagnostics[0]
    assert ("specification", 0) == first.path
    assert "8.0 Pa·s to 12.0 Pa·s, set for the old one" in first.message
    assert "lower 40.0 %, now 20.0 %; upper 60.0 %, now 30.0 %" in first.message
    assert "reads higher at the lower speed" in first.message
    assert 2 == len(first.ways_out)


def test_new_limits_or_old_conditions_are_left_alone(two):
    wider = ("upper: 12.0 Pa·s", "upper: 14.0 Pa·s")
    c = two(PAINT, SPEED, wider, *noted("parameter"))
    assert ["index"] == [d.message.split()[0] for d in c.diagnostics if d.code == "CMP04"]
    assert [] == codes(two(PAINT, wider, *noted("parameter")))


def test_a_class_that_asks_for_too_little(two):
    guard = ("guard: required", "guard: not-used")
    for klass, told in (
        ("editorial", True),
        ("parameter", True),
        ("geometry", False),
        ("calculation", False),
    ):
        assert told is ("CMP01" in codes(two(PAINT, guard, *noted(klass)))), klass
    d = next(d for d in two(PAINT, guard, *noted("parameter")).diagnostics if d.code == "CMP01")
    assert ("changes", 0, "class") == d.path
    assert "of class geometry (full competency)" in d.message


def test_geometry_is_no_class_for_another_calculation_though_both_ask_for_the_same_training(two):
    increment = ("increment: 0.1 Pa·s", "increment: 0.05 Pa·s")
    c = two(PAINT, increment, *noted("geometry"))
    assert "calculation" == c.klass
    d = next(d for d in c.diagnostics if d.code == "CMP01")
    assert "classed geometry (full competency)" in d.message
    assert "the history would tell of another change" in d.message
    assert "Write class: calculation." == d.ways_out[0]
    assert "CMP01" not in codes(two(PAINT, increment, *noted("calculation")))


def test_a_heavier_class_is_the_authors_choice(two):
    assert [] == codes(two(PAINT, ("retention: 10 years", "retention: 5 years"), *noted("calculation")))


def test_an_entry_of_an_earlier_revision_does_not_count(two):
    c = two(PAINT, ("upper: 12.0 Pa·s", "upper: 13.0 Pa·s"), NEXT)
    assert ["CMP03"] == codes(c)
    assert "advice" == c.diagnostics[0].severity.word


def test_a_revision_that_is_not_raised(two):
    change = ("upper: 12.0 Pa·s", "upper: 13.0 Pa·s")
    [d] = two(PAINT, change).diagnostics
    assert ("CMP02", ("revision",), "error") == (d.code, d.path, d.severity.word)
    assert "specification.viscosity_20.upper: was 12.0 Pa·s, now 13.0 Pa·s" in d.message
    assert "Write revision: 4" in d.ways_out[0]
    unnoted = two(PAINT, change, ("changes:\n  - {revision: 3,", "changes:\n  - {revision: 2,"))
    missing = next(d for d in unnoted.diagnostics if d.code == "CMP03")
    assert "Add {revision: 4, class: parameter" in missing.ways_out[0]
    assert [] == codes(two(PAINT, change, *noted("parameter")))
    older = next(
        d for d in two(PAINT, change, ("revision: 3\n", "revision: 2\n")).diagnostics if d.code == "CMP02"
    )
    assert "wrong order" in older.ways_out[1]


def test_a_draft_may_change_under_its_number_and_prose_too(two):
    assert "CMP02" not in codes(two(BOARD, ("upper: 500 mPa·s", "upper: 510 mPa·s")))
    assert [] == codes(two(PAINT, ("The guard belongs", "This guard belongs")))


def test_two_methods_are_not_held_to_the_numbers_of_one(compiled):
    c = compare(compiled(PAINT), compiled(SAUCE))
    assert (PAINT, SAUCE) == (c.before.id, c.after.id)
    assert set() == {"CMP01", "CMP02", "CMP03"} & set(codes(c))


# --- waivers


APPROVED = "    approved_by: M. Linden\n"


def test_a_waiver_lapses_when_what_it_rests_on_moves(two, compiled):
    now = compiled(JAR).figures.text("coefficient")
    rests = (APPROVED, f"    rests_on: {{coefficient: {now}}}\n{APPROVED}")
    assert [] == codes(two(JAR, rests, before=[rests]))
    new = (
        "coefficient: {full_scale: 3000 Pa·s·rpm, guard: not-applicable, container: jar-60, evidence: X-1}\n"
    )
    own = ("verification:\n", f"{new}verification:\n")
    lapsed = [d for d in two(JAR, rests, own, before=[rests]).diagnostics if d.code == "CMP05"]
    assert f"rests on coefficient = {now}; it is now 3000 Pa·s·rpm" in lapsed[0].message
    assert "rests_on" in lapsed[0].path


def test_a_waiver_lapses_when_the_finding_says_another_thing(two):
    other = ("spindle: R6", "spindle: R7")
    lapsed = [d for d in two(JAR, other).diagnostics if d.code == "CMP05"]
    assert [("waivers", 0, "rule")] == [d.path for d in lapsed]
    assert "was approved for this" in lapsed[0].message
    assert "R7" in lapsed[0].message
    judged = ("evidence: LMT-STUDY-09", "evidence: LMT-STUDY-10")
    assert "CMP05" not in codes(two(JAR, other, judged))


def test_a_waiver_is_kept_by_what_does_not_touch_it(two):
    assert "CMP05" not in codes(
        two(JAR, ("upper: 130 Pa·s", "upper: 135 Pa·s"), ("revision: 5", "revision: 6"))
    )


def test_a_waiver_that_goes_leaves_its_finding(two):
    text = ("approved_by: M. Linden\n    expires", "approved_by: N. Linden\n    expires")
    c = two(JAR, text)
    assert ["waivers.VER07.approved_by"] == [x.path for x in c.changes]
    assert not c.technical


# --- the rest


def test_findings_that_come_and_go(two):
    wrong = ("retention: 10 years\n", "")
    assert ["SAF08"] == [d.code for d in two(PAINT, wrong).findings_new]
    assert two(PAINT, wrong).found
    back = two(PAINT, before=[wrong])
    assert (["SAF08"], (), False) == ([d.code for d in back.findings_gone], back.findings_new, back.found)


def test_a_file_that_did_not_compile_cannot_be_compared(compiled, reference):
    with pytest.raises(ValueError, match="did not compile"):
        compare(compiled(PAINT), compile_method(b"fillmark: 1\n", "x.yaml", reference))


def test_every_code_is_explained():
    assert {f"CMP0{n}" for n in range(1, 6)} <= set(input_codes())


# --- reference data that each side brings


@pytest.fixture(scope="module")
def with_data():
    """Compare MCW-VIS-014 by the shipped data with itself by data that a laboratory changed."""
    shipped, _ = read_files(None)

    def compared(**files):
        before, _ = load_files(shipped)
        after, found = load_files({**shipped, **{f"shared/{k}.yaml": v.encode() for k, v in files.items()}})
        assert [] == found
        data = (ROOT / "methods" / "MCW-VIS-014.yaml").read_bytes()
        return compare(*(compile_method(data, "m.yaml", r) for r in (before, after)))

    return compared


def entry(kind: str, key: str, **changed: object) -> str:
    """Write a shipped entry of the reference data with some values changed."""
    whole = yaml.load((ROOT / "shared" / f"{kind}.yaml").read_text(encoding="utf-8"), Loader=yaml.CSafeLoader)
    return yaml.safe_dump({key: {**whole[key], **changed}}, allow_unicode=True)


@pytest.mark.parametrize(
    ("kind", "key", "changed", "path", "klass"),
    [
        ("springs", "R", {"full_scale": "720.0 µN·m"}, "springs.R.full_scale", "calculation"),
        ("containers", "beaker-600-low-form", {"inside_diameter": "83 mm"},
         "containers.beaker-600-low-form.inside_diameter", "geometry"),
        ("containers", "beaker-600-low-form", {"label": "low beaker"},
         "containers.beaker-600-low-form.label", "editorial"),
        ("fluids", "REF-10000", {"sensitivity": "6.1 %/K"}, "fluids.REF-10000.sensitivity", "parameter"),
        ("spindles", "R5", {"known": "site"}, "spindles.R5.known", "editorial"),
    ],
)  # fmt: skip
def test_a_changed_entry_that_the_method_uses_is_a_change_of_its_class(
    with_data, kind, key, changed, path, klass
):
    found = with_data(**{kind: entry(kind, key, **changed)})
    assert [(path, klass)] == [(c.path, c.klass) for c in found.changes]
    assert klass == found.klass


def test_an_entry_written_otherwise_is_no_change(with_data):
    assert () == with_data(containers=entry("containers", "beaker-600-low-form", height="11.8 cm")).changes


def test_an_entry_the_method_does_not_use_is_no_change(with_data):
    assert () == with_data(containers=entry("containers", "beaker-600-wide", height="131 mm")).changes


def test_a_threshold_counts_where_a_figure_rests_on_it(with_data):
    policy = (
        "version: site-2\n"
        "revolutions: {value: 6, source: common-practice}\n"
        "bench_time: {value: 31 min, source: project-decision}\n"
    )
    found = {c.path: (c.before, c.after, c.klass) for c in with_data(policy=policy).changes}
    assert ("5", "6", "parameter") == found["policy.revolutions"]
    assert ("30 min", "31 min", "editorial") == found["policy.bench_time"]
    assert "editorial" == found["policy.version"][2]


def test_every_kind_of_reference_data_a_method_can_use_has_a_class(reference):
    for kind in ("springs", "spindles", "guards", "couplings", "containers", "fluids"):
        for key, values in reference.raw[kind].items():
            for name in values:
                klass, why = class_of((kind, key, name))
                assert klass in RANKS
                assert why
