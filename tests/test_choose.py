"""The choice: numbers by hand, winners that bring no finding, losers for reasons that are true."""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

from fillmark.choices import pairs
from fillmark.choose import (
    as_json,
    asked,
    bar,
    choose,
    faults,
    groups,
    name_of,
    put_in,
    told,
    wishes,
)
from fillmark.cli import cli
from fillmark.combinations import DEMANDS, main_reason
from fillmark.diagnostics import Severity
from fillmark.pipeline import compile_method
from fillmark.read import read

ROOT = Path(__file__).parents[1]
DEMOS = {
    "MCW-VIS-014": "viscosity_20", "LMT-VIS-021": "consistency_5", "QAP-VIS-002": "viscosity_5",
    "BBM-VIS-007": "viscosity_50", "TGF-VIS-003": "viscosity_10",
}  # fmt: skip
PAINT = {
    "lower": "8 Pa·s", "upper": "12 Pa·s", "sensitivity": "2 %/K", "tolerance": "0.5 K", "density": "1.42 g/mL",
    "behaviour": "thixotropic",
}  # fmt: skip
INCOMPLETE = """\
# a start
fillmark: 1
id: NEW-001
product:
  behaviour: thixotropic   # stirred thin
  density:
specification:
  - {result: thick, lower: 8 Pa·s, upper: 12 Pa·s}
instrument:
  readout: digital         # the new one
run:
  - name: thick
    read: {after: 60 s}    # by the study
"""


@pytest.fixture(scope="session")
def by_flags(reference):
    """Choose by flags alone."""

    def chosen(**flags):
        return choose(asked(None, wishes(flags, reference), None, reference))

    return chosen


@pytest.fixture(scope="session")
def draft(edited, reference):
    """Compile a demonstration method as a draft, with edits."""

    def compiled(name, *changes):
        text = edited(name, *changes).replace(b"status: released", b"status: draft")
        return compile_method(text, f"{name}.yaml", reference)

    return compiled


@pytest.fixture
def written(tmp_path):
    """Write a text to a method file."""

    def write(text: str | bytes, name: str = "m.yaml") -> Path:
        file = tmp_path / name
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return file

    return write


def run(*args: str | Path):
    return CliRunner().invoke(cli, ["choose", *map(str, args)])


def one(chosen, spring, spindle, rpm):
    (found,) = [
        c for c in (*chosen.winners, *chosen.losers)
        if (c.pair.spring.key, c.pair.spindle.key, c.rpm) == (spring, spindle, rpm)
    ]  # fmt: skip
    return found


# --- numbers


def test_the_numbers_of_the_paint_by_hand(by_flags):
    # R5 on R: 400 Pa·s·rpm, so 20 Pa·s full scale at 20 rpm. 8/20 and 12/20; 1 % of 8 and 12 for 0.5 K at 2 %/K and
    # 1 % of full scale besides: 40 - 0.4 - 1 and 60 + 0.6 + 1. Tolerance 0.2 Pa·s, half the limits 2 Pa·s.
    found = one(by_flags(**PAINT), "R", "R5", 20)
    n = found.numbers
    assert found.passes
    assert (40, 60, 38.6, 61.6) == pytest.approx(
        (n.torque_lower, n.torque_upper, n.lower_worst, n.upper_worst)
    )
    assert (20, 0.2, 10, 15) == pytest.approx((n.full_scale, n.tolerance, n.ratio, n.wait))
    # Re = 1420 · 2.0944 · 0.01057² / 8 = 0.04153; ten over that is 240.8
    assert (0.04153, 240.8) == pytest.approx((n.reynolds, n.margin), rel=1e-3)
    assert {"bench-2", "bench-8"} <= {i.key for i in found.instruments}
    assert "required" == found.pair.guard


@pytest.mark.parametrize(
    ("spring", "spindle", "rpm", "demand", "value", "text"),
    [
        # R6: 1000 Pa·s·rpm, 50 Pa·s at 20 rpm: 16 and 24 %
        ("R", "R6", 20, "preferred", 16, "16.0 to 24.0 % torque, below the 20 % preferred"),
        # R7: 200 Pa·s at 20 rpm: 4 and 6 %, at worst 4 · 0.99 - 1 = 2.96
        ("R", "R7", 20, "floor", 2.96, "4.0 to 6.0 % torque, 3.0 % at worst, below the floor of 10 %"),
        # R4: 200 Pa·s·rpm, 10 Pa·s at 20 rpm: 80 and 120 %
        ("R", "R4", 20, "ceiling", 120, "80.0 to 120.0 % torque, over the 100 % of the spring"),
        # R5 at 30 rpm: 13.33 Pa·s: 60 and 90 %, and 108 % for a batch a fifth above
        ("R", "R5", 30, "headroom", 108, "60.0 to 90.0 % torque, and 108.0 % for a batch 20 % above the limit"),
        # L1: 6 Pa·s·rpm, 12 Pa·s at 0.5 rpm: 100 % nominal, 100 · 1.01 + 1 at worst
        ("L", "L1", 0.5, "ceiling", 102, "66.7 to 100.0 % torque, 102.0 % at worst, over the 100 % of the spring"),
    ],
)  # fmt: skip
def test_why_others_lose_by_hand(by_flags, spring, spindle, rpm, demand, value, text):
    chosen = by_flags(**PAINT)
    reason = main_reason(one(chosen, spring, spindle, rpm).reasons)
    assert demand == reason.demand
    assert value == pytest.approx(reason.value)
    assert text in "\n".join(" ".join(line.split()) for line in told(chosen, top=1, every_loser=True)) or (
        text in as_json(chosen)
    )


def test_a_gap_is_judged_by_its_vortices_and_an_open_spindle_by_its_reynolds_number(by_flags):
    thin = by_flags(lower="1 mPa·s", upper="2 mPa·s", density="1 g/mL", behaviour="newtonian")
    adapter, disc = one(thin, "L", "coaxial-25.1", 100), one(thin, "L", "L1", 60)
    # Narrow-gap law of Taylor (1923), some 5 % low for this gap: Re = 41.2 √(12.55/1.25) = 130.5, and at 100 rpm
    # 1000 · 10.472 · 0.01255 · 0.00125 / 130.5 = 1.26 mPa·s
    assert 1.26e-3 == pytest.approx(adapter.numbers.vortex, rel=0.07)
    assert "flow" in {r.demand for r in adapter.reasons}
    # Re = 1000 · 6.283 · 0.00942² / 0.001 = 557
    assert 557 == pytest.approx(disc.numbers.reynolds, rel=2e-3)
    assert ("flow", True) in {(r.demand, r.blocks) for r in disc.reasons}


def test_a_limit_on_one_side_only(by_flags):
    most = by_flags(upper="12 Pa·s")
    assert one(most, "R", "R5", 20).passes
    assert one(most, "R", "R5", 20).numbers.ratio is None
    least = by_flags(lower="8 Pa·s")
    assert one(least, "R", "R5", 20).passes
    assert list(told(least, top=3, every_loser=False))


def test_the_bar_shows_the_torque_in_twenty_ascii_signs(by_flags):
    chosen = by_flags(**PAINT)
    # 38.6 | 40 to 60 | 61.6, five per cent a sign
    assert "[.......-====-.......]" == bar(one(chosen, "R", "R5", 20))
    # 16 to 24 %, at worst 14.84 and 25.24
    assert "[..-==-..............]" == bar(one(chosen, "R", "R6", 20))
    assert bar(one(chosen, "R", "R4", 20)).endswith(">")
    assert all(bar(c).isascii() and 22 == len(bar(c)) for c in (*chosen.winners, *chosen.losers))


# --- winners and losers are what the check would say


@pytest.mark.parametrize(("name", "step"), DEMOS.items())
def test_what_a_demonstration_has_is_among_the_winners(name, step, draft, reference):
    chosen = choose(asked(draft(name).source, {}, step, reference))
    spring, spindle, rpm = chosen.asked.own
    mine = one(chosen, spring, spindle, rpm)
    assert mine in chosen.winners[:3], mine.reasons
    assert draft(name).method.guard == mine.pair.guard


def sample(found, count):
    return found[:: max(1, len(found) // count)]


WIDER = [
    ("MCW-VIS-014", "viscosity_20", ()),
    ("MCW-VIS-014", "viscosity_2", ()),
    ("LMT-VIS-021", "consistency_5", ()),
    ("QAP-VIS-002", "viscosity_5", ()),
    ("BBM-VIS-007", "viscosity_50", ()),
    ("BBM-VIS-007", "viscosity_50", (("after: 30 s, lock: true", "after: 30 s"),)),
    ("TGF-VIS-003", "viscosity_10", ()),
    ("TGF-VIS-003", "viscosity_10", (("after: 30 s, revolutions: 5 rev", "after: 45 s, average: 12 s"),)),
    ("TGF-VIS-003", "viscosity_10", (("behaviour: yield-stress", "behaviour: newtonian"),)),
    ("TGF-VIS-003", "viscosity_10", (("7.0 Pa·s, target: 9.0 Pa·s, upper: 11.0 Pa·s", "8.0 Pa·s, upper: 9.0 Pa·s"),)),
]  # fmt: skip


@pytest.mark.parametrize(("name", "step", "changes"), WIDER)
def test_every_winner_brings_no_finding_on_torque_or_timing(name, step, changes, draft, reference):
    before = draft(name, *changes)
    chosen = choose(asked(before.source, {}, step, reference))
    for found in sample(chosen.winners, 12):
        after = put_in(before, chosen.asked, found, None).after
        said = {d.code: d.severity for d in after.diagnostics if d.code[:3] in ("TRQ", "TIM")}
        assert {} == {c: s for c, s in said.items() if s >= Severity.WARNING}, name_of(found)
        assert ("TRQ06" in said) == (not found.numbers.at_its_best), name_of(found)
        assert "GRD" not in {d.code[:3] for d in after.diagnostics}


SAYS = {
    "ceiling": {"TRQ01", "TRQ02"}, "floor": {"TRQ03"}, "preferred": {"TRQ04"}, "headroom": {"TRQ05"},
    "share": {"TRQ07"}, "flow": {"TRQ09"}, "slip": {"TRQ13"}, "wind-up": {"TIM03", "TIM06"}, "turns": {"TIM04"},
    "window": {"TIM05"}, "watched": {"TIM06"}, "pointer": {"TIM07"}, "travel": {"SPN16"}, "particles": {"SPN20"},
}  # fmt: skip


@pytest.mark.parametrize(("name", "step", "changes"), WIDER)
def test_every_reason_is_what_the_check_would_say(name, step, changes, draft, reference):
    before = draft(name, *changes)
    chosen = choose(asked(before.source, {}, step, reference))
    # Where the steps of a ratio change places, the check has no limits for the other one and says so itself.
    losers = [
        c for c in chosen.losers if not c.pair.hindrances and "order" not in {r.demand for r in c.reasons}
    ]
    tried = 0
    for found in sample(losers, 25):
        after = put_in(before, chosen.asked, found, None).after
        said = {(d.code, d.severity >= Severity.ERROR) for d in after.diagnostics if d.waived_by is None}
        codes = {code for code, _ in said}
        for reason in found.reasons:
            if reason.demand in SAYS:
                assert codes & SAYS[reason.demand], (name_of(found), reason.demand, codes)
                tried += 1
            if reason.demand in ("ceiling", "floor", "wind-up", "flow", "share", "preferred", "headroom"):
                assert {(c, reason.blocks) for c in SAYS[reason.demand]} & said, (name_of(found), reason)
        assert {c for c in codes if c[:4] in ("TRQ0", "TIM0")} - {
            "TRQ06",
            "TRQ08",
            "TIM02",
            "TIM08",
            "TIM09",
        } <= {c for r in found.reasons for c in SAYS.get(r.demand, ())}, name_of(found)
    assert tried > 3 or not losers


def test_with_another_step_in_the_run_that_step_has_to_pass_too(draft, reference):
    chosen = choose(asked(draft("MCW-VIS-014").source, {}, "viscosity_20", reference))
    # R6 at 50 rpm would do for 8 to 12 Pa·s; 44 to 96 Pa·s at 2 rpm are 8.8 to 19.2 % of its 500 Pa·s
    elsewhere = {r.demand: r for r in one(chosen, "R", "R6", 50).reasons}["floor"]
    assert "viscosity_2" == elsewhere.step
    assert 8.8 == pytest.approx(elsewhere.numbers.torque_lower)
    # at 2 rpm or slower it would be the slower of the two steps of the index
    assert "order" in {r.demand for r in one(chosen, "R", "R5", 1).reasons}


def test_a_check_with_a_thin_fluid_lifts_a_warning_of_the_flow(draft, reference):
    # 1050 · 5.236 · 0.023465² / 0.3 = 10.09, over 10; REF-300 reads true at this step each day
    proven = choose(asked(draft("BBM-VIS-007").source, {}, None, reference))
    assert one(proven, "R", "R2", 50).passes
    other = choose(
        asked(draft("BBM-VIS-007", ("fluid: REF-300", "fluid: REF-400")).source, {}, None, reference)
    )
    assert ["flow"] == [r.demand for r in one(other, "R", "R2", 50).reasons]
    assert 10.09 == pytest.approx(one(other, "R", "R2", 50).numbers.reynolds, abs=0.01)


# --- what the laboratory has, and what is kept


def test_flags_keep_and_leave_free(by_flags):
    assert {"dial"} == {i.readout for c in by_flags(**PAINT, readout="dial").winners for i in c.instruments}
    assert {"magnetic"} == {
        i.coupling for c in by_flags(**PAINT, coupling="magnetic").winners for i in c.instruments
    }
    bare = by_flags(**PAINT, guard="not-used")
    assert {"not-used"} == {c.pair.guard for c in bare.winners}
    assert {"guard"} == {r.demand for r in one(bare, "R", "R2", 5).pair.hindrances}
    small = by_flags(**PAINT, container="chamber-19")
    assert {"chamber-11.8"} == {c.pair.spindle.key for c in small.winners}
    # gap 3.6 mm, a tenth of it 0.36 mm; under the cone 13 µm
    coarse = by_flags(**PAINT, particle="400 µm")
    assert "particles" in {r.demand for r in one(coarse, "R", "chamber-11.8", 20).reasons}
    assert "particles" in {
        r.demand for r in one(by_flags(**PAINT, particle="2 µm"), "R", "cone-0.8", 1).reasons
    }
    finer = by_flags(**PAINT, accuracy="0.5 % of full scale")
    assert 20 == pytest.approx(one(finer, "R", "R5", 20).numbers.ratio)


def test_what_cannot_be_is_no_winner(by_flags):
    chosen = by_flags(**PAINT)
    for found in chosen.winners:
        pair = found.pair
        assert pair.spring.key in pair.spindle.springs
        assert all(i.spring == pair.spring.key and i.has_speed(found.rpm) for i in found.instruments)
        assert found.instruments
        assert pair.guard != "required" or pair.spring.takes_guard
        assert not pair.spindle.relative


def test_extremes(by_flags):
    assert not by_flags(lower="0.4 mPa·s", upper="0.6 mPa·s", density="1 g/mL").winners
    # R7 on 8R: 32 000 Pa·s·rpm, 106 667 Pa·s at 0.3 rpm: 37.5 and 56.25 %
    thick = one(by_flags(lower="40000 Pa·s", upper="60000 Pa·s"), "8R", "R7", 0.3)
    assert thick.passes
    assert (37.5, 56.25) == pytest.approx((thick.numbers.torque_lower, thick.numbers.torque_upper))


def test_a_thousand_instruments_change_nothing_but_who_can_run_it(reference):
    many = {
        f"{i.key}-{n}": replace(i, key=f"{i.key}-{n}")
        for n in range(67)
        for i in reference.instruments.values()
    }
    large = replace(reference, instruments=many)
    given = wishes(PAINT, large)
    chosen, few = (choose(asked(None, given, None, r)) for r in (large, reference))
    assert {name_of(c) for c in few.winners} == {name_of(c) for c in chosen.winners}
    assert len(few.losers) == len(chosen.losers)
    assert 67 * len(one(few, "R", "R5", 20).instruments) == len(one(chosen, "R", "R5", 20).instruments)
    # alike instruments share one entry, so what is judged does not grow with their number
    pair = next(pairs(chosen.asked.method, chosen.asked.step, chosen.asked.free))
    assert 28 == len(pair.settings)


# --- incomplete files


def test_an_incomplete_file_is_read_as_far_as_it_goes_and_defaults_are_told(reference):
    source = read(INCOMPLETE.encode(), "m.yaml").source
    assert [] == faults(source, reference)
    wanted = asked(source, {}, None, reference)
    assert (8.0, 12.0, "thixotropic", None) == (
        wanted.demand.lower, wanted.demand.upper, wanted.demand.behaviour, wanted.demand.density,
    )  # fmt: skip
    assert "readout" not in wanted.free
    assert {"coupling", "container", "spindle"} <= wanted.free
    text = " ".join(" ".join(told(choose(wanted), top=3, every_loser=False)).split())
    for what in ("density", "temperature sensitivity", "temperature tolerance", "container", "accuracy"):
        assert f"default {what}: not given" in text or f"default instrument's {what}: not given" in text


@pytest.mark.parametrize(
    ("right", "wrong", "code"),
    [
        ("lower: 8 Pa·s", "lower: 8", "8 has no unit"),
        ("lower: 8 Pa·s", "lower: 8 Pas", "QTY01"),
        ("behaviour: thixotropic", "behavior: thixotropic", "SCH01"),
        ("readout: digital", "readout: digitel", "SCH04"),
        ("run:", "spindle: R55\nrun:", "NAM01"),
    ],
)
def test_what_is_wrong_in_it_is_told_and_not_passed_over(written, right, wrong, code):
    done = run(written(INCOMPLETE.replace(right, wrong, 1)))
    assert 2 == done.exit_code
    assert code in done.output


@pytest.mark.parametrize("extra", ["people: {author: 7}\n", "review_by: soon\n", "equipment: timer\n"])
def test_what_the_choice_does_not_need_may_be_wrong(written, extra):
    assert 0 == run(written(INCOMPLETE + extra)).exit_code


def test_without_limits_or_with_several_steps_it_asks(written):
    assert 2 == run().exit_code
    assert "no limits to choose by" in run(written("fillmark: 1\n")).output
    assert 0 == run(written("fillmark: 1\n"), "--lower", "8 Pa·s", "--upper", "12 Pa·s").exit_code
    asks = run(ROOT / "methods" / "MCW-VIS-014.yaml")
    assert 2 == asks.exit_code
    assert "viscosity_2, viscosity_20" in asks.output
    assert "There is no step thin" in run(ROOT / "methods" / "MCW-VIS-014.yaml", "--step", "thin").output


# --- the command


def test_units_may_stand_without_quotes():
    loose = run(
        *("--lower", "8", "Pa·s", "--upper", "12", "Pa·s", "--density", "1.42", "g/mL"),
        *("--accuracy", "1", "%", "of", "full", "scale", "-n", "3"),
    )
    strict = run("--lower", "8 Pa·s", "--upper", "12 Pa·s", "--density", "1.42 g/mL", "-n", "3",
                 "--accuracy", "1 % of full scale")  # fmt: skip
    assert (0, strict.output) == (loose.exit_code, loose.output)


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("--lower", "8", "--upper", "12 Pa·s"), "8 has no unit"),
        (("--lower", "12 Pa·s", "--upper", "8 Pa·s"), "is not below"),
        (("--lower", "8 Pa·s", "--upper", "12 Pa·s", "--coupling", "treaded"), "Did you mean threaded?"),
        (("--lower", "8 Pa·s", "--pick", "2"), "--write"),
        (("--lower", "8 Pa·s", "--write"), "needs a method file"),
    ],
)
def test_wrong_use_is_told(args, says):
    done = run(*args)
    assert 2 == done.exit_code
    assert says in done.output


def test_the_output_fits_a_hundred_columns_and_ascii():
    command = [
        sys.executable,
        "-m",
        "fillmark",
        "choose",
        "--lower",
        "8 Pa·s",
        "--upper",
        "12 Pa·s",
        "--all",
        "--losers",
    ]
    plain = subprocess.run(
        command, capture_output=True, check=True, cwd=ROOT, env={"FILLMARK_ASCII": "1", "PATH": "/usr/bin"}
    )
    text = plain.stdout.decode("ascii")
    assert 100 >= max(map(len, text.splitlines()))
    assert "[......" in text
    done = run("--lower", "8 Pa·s", "--upper", "12 Pa·s", "--all", "--losers")
    assert 100 >= max(map(len, done.output.splitlines()))


def test_a_product_that_is_not_newtonian_is_warned_of(by_flags):
    warned = "\n".join(told(by_flags(**PAINT), top=1, every_loser=False)).replace("\n", " ")
    assert "another speed or spindle is another property" in warned
    calm = by_flags(**{**PAINT, "behaviour": "newtonian"})
    assert "another property" not in "\n".join(told(calm, top=1, every_loser=False)).replace("\n", " ")


def test_where_nothing_passes_it_says_what_excludes_most():
    done = run("--lower", "0.4 mPa·s", "--upper", "0.6 mPa·s", "--density", "1 g/mL")
    assert 1 == done.exit_code
    assert "Nothing passes. Most is excluded by: lower limit under the torque floor" in done.output
    narrow = run("--lower", "9.9 Pa·s", "--upper", "10.1 Pa·s", "--density", "1 g/mL")
    assert 1 == narrow.exit_code
    assert 'Were it not for "instrument takes too much of the limits"' in narrow.output


def test_groups_count_each_loser_once_with_the_closest_in_front(by_flags):
    chosen = by_flags(**PAINT)
    found = groups(chosen)
    assert len(chosen.losers) == sum(len(members) for _, members in found)
    assert [d for d in DEMANDS if d in dict(found)] == [d for d, _ in found]
    for _, members in found:
        assert len(members[0].reasons) == min(len(c.reasons) for c in members)


@pytest.mark.parametrize("flags", [PAINT, {"upper": "12 Pa·s"}, {"lower": "0.4 mPa·s", "upper": "0.6 mPa·s"}])
def test_json_meets_its_schema(by_flags, flags):
    schema = json.loads((ROOT / "schemas" / "choice.schema.json").read_text(encoding="utf-8"))
    chosen = by_flags(**flags)
    plain = json.loads(as_json(chosen))
    assert [] == [e.message for e in Draft202012Validator(schema).iter_errors(plain)][:3]
    assert set(schema["$defs"]["demand"]["enum"]) == set(DEMANDS)
    assert (len(chosen.winners), len(chosen.losers)) == (len(plain["winners"]), len(plain["losers"]))
    done = run(*(part for k, v in flags.items() for part in (f"--{k}", v)), "--format", "json")
    assert plain == json.loads(done.stdout)


# --- into the file


def test_the_pick_is_written_at_its_places_and_the_file_checked(written):
    text = (
        (ROOT / "methods" / "TGF-VIS-003.yaml")
        .read_text(encoding="utf-8")
        .replace("status: released", "status: draft")
    )
    file = written(text)
    listed = json.loads(run(file, "--format", "json").stdout)
    pick = next(w for w in listed["winners"] if w["spindle"] == "R2")
    done = run(file, "--write", "--pick", pick["rank"])
    assert 0 == done.exit_code
    assert "What the check now finds:" in done.output
    seconds = f"{300 / pick['speed']:.4g} s"
    expected = (
        text.replace("spindle: R4", "spindle: R2")
        .replace("guard: not-used\n", "guard: required\n")
        .replace(
            "speed: 10 rpm, read: {after: 30 s", f"speed: {pick['speed']:g} rpm, read: {{after: {seconds}"
        )
    )
    assert expected == file.read_text(encoding="utf-8")
    again = json.loads(run(file, "--format", "json").stdout)
    assert ("R2", pick["speed"]) == (again["winners"][0]["spindle"], again["winners"][0]["speed"])


def test_a_preview_writes_nothing_and_shows_the_lines(written):
    file = written(INCOMPLETE)
    done = run(file, "--write", "--preview")
    assert 0 == done.exit_code
    assert INCOMPLETE == file.read_text(encoding="utf-8")
    assert {"+spindle: R5", "+  spring: R", "+    speed: 20 rpm"} <= set(done.output.splitlines())


def test_missing_keys_are_put_in_beside_the_comments(written):
    file = written(INCOMPLETE)
    done = run("--write", file)
    assert 0 == done.exit_code
    expected = INCOMPLETE.replace(
        "# the new one\n", "# the new one\n  spring: R\nspindle: R5\nguard: required\n"
    )
    assert f"{expected}    speed: 20 rpm\n" == file.read_text(encoding="utf-8")
    assert "SCH02" in done.output
    assert "container: beaker-600-low-form" in done.output


def test_a_released_method_and_one_with_a_coefficient_of_its_own_are_refused(written):
    text = (ROOT / "methods" / "TGF-VIS-003.yaml").read_text(encoding="utf-8")
    file = written(text)
    done = run(file, "--write", "--pick", "2")
    assert 2 == done.exit_code
    assert "its status is released" in done.output
    assert text == file.read_text(encoding="utf-8")
    block = "{full_scale: 200 Pa·s·rpm, guard: not-used, container: beaker-600-low-form, evidence: S-1}"
    own = f"guard: not-used\ncoefficient: {block}\n"
    text = text.replace("guard: not-used\n", own).replace("status: released", "status: draft")
    file = written(text)
    listed = json.loads(run(file, "--format", "json").stdout)
    other = next(w["rank"] for w in listed["winners"] if w["spindle"] != "R4")
    done = run(file, "--write", "--pick", other)
    assert 2 == done.exit_code
    assert "its own coefficient was found with R4" in done.output
    assert text == file.read_text(encoding="utf-8")


def test_what_follows_from_the_speed_goes_along_and_a_marking_goes(draft, reference):
    before = draft("TGF-VIS-003", ("spindle: R4", "spindle: {name: R4, marking: T4}"),
                   ("speed: 10 rpm,", "speed: 10 rpm, factor: 200 mPa·s/%,"))  # fmt: skip
    chosen = choose(asked(before.source, {}, None, reference))
    after = put_in(before, chosen.asked, one(chosen, "R", "R5", 20), None).after
    # 400 Pa·s·rpm / 20 rpm / 100
    assert "factor: 200.0 mPa·s/%" in after.source.text or "factor: 200 mPa·s/%" in after.source.text
    assert "R5" == after.source.data["spindle"]
    faster = put_in(before, chosen.asked, one(chosen, "R", "R4", 12), None).after
    # 200 / 12 / 100 Pa·s
    assert "factor: 166.7 mPa·s/%" in faster.source.text
    assert {"name": "R4", "marking": "T4"} == faster.source.data["spindle"]


def test_a_pick_that_is_not_there(written):
    assert "pick 1 to" in run(written(INCOMPLETE), "--write", "--pick", "999").output
