"""Records with one planted fault each: what must be found is found, and nothing besides.

What is planted stands in the name of each file, and was written before the file was evaluated. The good records
have nothing to be found. Companies and data are invented.
"""

import csv
import json
import re
from datetime import datetime, time
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fillmark.diagnostics import Severity
from fillmark.records.codes import KNOWN
from fillmark.records.evaluate import again, evaluate, occasion
from fillmark.records.judged_by import of_compiled
from fillmark.records.reading import read_records
from fillmark.records.record import Finding
from fillmark.records.template import as_json

TESTS = Path(__file__).parents[1]
BAD = sorted((TESTS / "bad_records").glob("*.csv"))
GOOD = sorted((TESTS / "good_records").glob("*.csv"))


@pytest.mark.parametrize("file", GOOD, ids=lambda f: f.stem)
def test_nothing_is_found_in_a_good_record(file, judged):
    result = judged(file.read_bytes())
    assert () == result.findings
    assert result.stands
    assert {"in"} == {r.verdict for r in result.results}


@pytest.mark.parametrize("file", BAD, ids=lambda f: f.stem)
def test_the_planted_fault_is_found_and_nothing_besides(file, judged):
    result = judged(file.read_bytes())
    findings = (result,) if isinstance(result, Finding) else result.findings
    assert sorted(re.findall(r"EVA\d\d", file.stem)) == sorted(f.code for f in findings)
    for finding in findings:
        assert 2 == len(finding.ways_out)
        assert KNOWN[finding.code][0] == finding.slug
        assert finding.code in ("EVA34", "EVA43") or finding.place.line is not None


def test_there_are_twenty_planted_faults_or_more_of_as_many_kinds():
    assert 20 <= len(BAD)
    assert 35 <= len({code for file in BAD for code in re.findall(r"EVA\d\d", file.stem)})


@pytest.mark.parametrize(
    ("stem", "said"),
    [
        # By how much and which way, worked out by hand from the record and the method.
        ("EVA14-spring", "low by a factor of 2"),  # 1437.4 / 718.7
        ("EVA15-calibration", "2 days before"),  # 30 November to 2 December
        (
            "EVA19-too-young",
            "19.33 h old; 24 h ± 2 h is asked for, so it was 2.667 h younger",
        ),  # 15:00 to 10:20
        ("EVA20-bath", "210 min are asked for, 83 min more"),  # 08:30 to 10:37 is 127 min
        ("EVA22-mass", "0.11 g too high"),  # 8.41 - 8.3
        ("EVA23-warm", "0.1 K too warm; 2.0 %/K make about 1.2 %: it reads low"),  # 0.6 K off the target
        ("EVA24-drift", "rose by 0.4 K during the run, about 0.80 %"),  # 0.4 K at 2 %/K
        ("EVA25-zero", "viscosity_2 1.6 Pa·s, viscosity_20 0.16 Pa·s"),  # 0.8 % of 200 and of 20 Pa·s
        ("EVA26-verification", "3.6 % low"),  # 9.64 of 10
        ("EVA28-early", "30 s too early"),
        ("EVA29-EVA40-below-floor", "0.5 % below the floor of 10 %"),
        (
            "EVA32-spindle-entered",
            "What fits: it is the factor of R4 at 20 rpm.",
        ),  # 200 in place of 400 Pa·s·rpm
        ("EVA32-digits-swapped", "a display of 9.72 would agree"),
        ("EVA36-disagree", "0.68 Pa·s apart, 0.18 Pa·s more than the 0.5 Pa·s allowed"),  # 10.40 - 9.72
        ("EVA39-rounded-wrongly", "25.1 Pa·s"),  # (25.2 + 24.6 + 25.5) / 3 = 25.1
        ("EVA40-out", "8 mPa·s (1.6 %) above the limit"),  # 508 of 500
    ],
)
def test_a_message_says_by_how_much(stem, said, judged):
    result = judged((TESTS / "bad_records" / f"{stem}.csv").read_bytes())
    assert any(said in f.message for f in result.findings), [f.message for f in result.findings]


def test_a_sheet_of_another_revision_or_digest_gives_no_numbers(judged, filled):
    for change in ({"method.revision": "2"}, {"method.digest": "01234567"}, {"method.digest": "62b"}):
        result = judged(filled("MCW-VIS-014", change))
        assert () == result.results
        assert () == result.readings
        assert not result.stands


def test_the_whole_digest_counts_as_well(library, filled):
    judge = of_compiled(next(c for c in library.compiled if c.method.id == "MCW-VIS-014"))
    data = filled("MCW-VIS-014", {"method.digest": judge.digest.upper()})
    (record,) = read_records(data, "r")
    assert () == evaluate(record, judge.method, judge.figures, judge.digest).findings


def test_a_recalled_revision_does_not_stand(library, filled, printed):
    judge = of_compiled(library.compiled[0])
    (record,) = read_records(printed(filled(judge.method.id)), "r")
    result = evaluate(record, judge.method, judge.figures, judge.digest, recalled="Wrong bath time.")
    assert ["EVA45"] == [f.code for f in result.findings]
    assert not result.stands


def test_every_entry_is_kept_as_typed_beside_what_it_was_read_as(judged, filled):
    result = judged(filled("TGF-VIS-003", {"reading.1.viscosity_10.torque": " 44,0 "}, delimiter=";"))
    entries = {e.field: e for e in result.entries}
    assert (" 44,0 ", "44 %", "decimal comma") == (
        entries["reading.1.viscosity_10.torque"].typed,
        entries["reading.1.viscosity_10.torque"].understood,
        entries["reading.1.viscosity_10.torque"].how,
    )
    assert len(result.record.entries) == len(entries)


def test_a_refused_entry_is_kept_too(judged, filled):
    result = judged(filled("MCW-VIS-014", {"zero": "zero"}))
    (entry,) = [e for e in result.entries if e.field == "zero"]
    assert ("zero", "", "refused") == (entry.typed, entry.understood, entry.how)
    assert ["EVA04"] == [f.code for f in result.findings]


def test_n_a_is_no_value(judged, filled):
    assert ["EVA06"] == [f.code for f in judged(filled("MCW-VIS-014", {"zero": "n/a"})).findings]
    # Where nothing is asked for, it says so and no more.
    assert () == judged(filled("MCW-VIS-014", {"timer.id": "n/a", "guard.due": "n/a"})).findings


def test_what_is_missing_is_named_with_the_words_of_the_sheet(judged, filled):
    result = judged(filled("MCW-VIS-014", {"zero": "", "fluid.lot": "", "people.checker": ""}))
    (finding,) = result.findings
    for name in (
        "zero (Zero, no spindle on)",
        "fluid.lot (Reference fluid: lot)",
        "people.checker (Checked)",
    ):
        assert name in finding.message


def test_a_step_may_be_left_out_where_the_run_has_one(judged):
    text = (TESTS / "good_records" / "BBM-VIS-007.csv").read_text(encoding="utf-8")
    assert () == judged(text.replace("reading.1.viscosity_50.", "reading.1.").encode()).findings


def test_a_run_over_midnight(judged, filled):
    changes = {
        "sample.sampled": "2026-12-01 23:52", "sample.prepared": "2026-12-01 23:55",
        "sample.measured": "2026-12-01 23:58",
        "verification.time": "2026-12-01 23:30", "reading.1.viscosity_50.start": "23:59:45",
        "reading.1.viscosity_50.read": "00:00:15",
    }  # fmt: skip
    result = judged(filled("BBM-VIS-007", changes))
    assert () == result.findings
    assert 30 == result.readings[0].after
    assert "2026-12-01T23:59:45" == result.readings[0].start.isoformat()
    late = judged(
        filled(
            "BBM-VIS-007",
            {
                **changes,
                "reading.1.viscosity_50.start": "00:01:00",
                "reading.1.viscosity_50.read": "00:01:30",
            },
        )
    )
    assert "2026-12-02T00:01:00" == late.readings[0].start.isoformat()


@pytest.mark.parametrize(
    ("changes", "codes"),
    [
        # Just inside is silent, just outside is found: limits by hand from the method.
        ({"zero": "0.5"}, []),
        ({"zero": "-0.5"}, []),
        ({"zero": "0.51"}, ["EVA25"]),
        ({"reading.1.viscosity_20.before": "23.5", "reading.1.viscosity_20.after": "23.5"}, []),
        ({"reading.1.viscosity_20.before": "22.5", "reading.1.viscosity_20.after": "22.5"}, []),
        ({"reading.1.viscosity_20.before": "22.49", "reading.1.viscosity_20.after": "22.5"}, ["EVA23"]),
        ({"reading.1.viscosity_20.before": "23.0", "reading.1.viscosity_20.after": "23.25"}, []),
        ({"reading.1.viscosity_20.before": "23.0", "reading.1.viscosity_20.after": "23.26"}, ["EVA24"]),
        ({"reading.1.viscosity_20.read": "10:23:55"}, []),
        ({"reading.1.viscosity_20.read": "10:23:56"}, ["EVA28"]),
        ({"reading.1.viscosity_20.read": "10:23:45"}, []),
        ({"reading.1.viscosity_20.read": "10:23:44"}, ["EVA28"]),
        ({"sample.prepared": "2026-12-01 12:20"}, []),
        ({"sample.prepared": "2026-12-01 12:21"}, ["EVA19"]),
        ({"loading.1.in": "06:42:00"}, []),
        ({"loading.1.in": "06:42:06"}, ["EVA20"]),
        ({"loading.1.rest": "10:15:15"}, []),
        ({"loading.1.rest": "10:15:16"}, ["EVA21"]),
        ({"loading.1.rest": "10:05:10"}, []),
        ({"loading.1.rest": "10:05:09"}, ["EVA21"]),
        ({"loading.1.fill": "91.6"}, []),
        ({"loading.1.fill": "91.5"}, ["EVA22"]),
        ({"loading.1.level": "95.8"}, []),
        ({"loading.1.level": "95.9"}, ["EVA22"]),
        ({"instrument.due": "2026-12-02"}, []),
        ({"instrument.due": "2026-12-01"}, ["EVA15"]),
        ({"spindle.due": "2026-12-01"}, ["EVA15"]),
        ({"verification.temperature": "25.1"}, []),
        ({"verification.temperature": "25.11"}, ["EVA26"]),
        ({"verification.torque": "48.5", "verification.reading": "9.70"}, []),
        ({"verification.torque": "48.4", "verification.reading": "9.69", "verification.verdict": "fail"}, ["EVA26"]),
        ({"verification.torque": "49.8", "verification.reading": "9.98"}, []),
        ({"verification.torque": "49.8", "verification.reading": "9.99"}, ["EVA27"]),
        ({"verification.time": "2026-12-01 08:15"}, ["EVA27"]),
        ({"verification.time": "2026-12-02 10:21"}, ["EVA27"]),
        # torque × f is 9.72; a step of the readout is 0.02 Pa·s, and half of the last digit 0.005 Pa·s.
        ({"reading.1.viscosity_20.display": "9.74"}, []),
        ({"reading.1.viscosity_20.display": "9.75"}, ["EVA32"]),
        ({"reading.1.viscosity_20.display": "9.7"}, []),
        ({"reading.1.viscosity_20.display": "9720 mPa·s"}, []),
        ({"reading.1.viscosity_20.display": "9720"}, ["EVA32"]),
    ],
)  # fmt: skip
def test_limits_hold_to_the_last_digit(changes, codes, judged, filled):
    result = judged(filled("MCW-VIS-014", changes))
    assert codes == [f.code for f in result.findings], result.findings


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"reading.1.viscosity_20.display": "9720", "reading.2.viscosity_20.display": "9880"}, "1000 times"),
        # 34.1 % and 33.5 % at 2 rpm shown as at 20 rpm: 0.2 Pa·s/% in place of 2.
        ({"reading.1.viscosity_2.display": "6.70", "reading.2.viscosity_2.display": "6.82"}, "R5 at 20 rpm"),
        # The spring of 1437.4 µN·m has twice the factor.
        (
            {"reading.1.viscosity_20.display": "19.44", "reading.2.viscosity_20.display": "19.76"},
            "R5 at 20 rpm on spring 2R",
        ),
    ],
)
def test_the_factor_that_fits_is_named(changes, said, judged, filled):
    (finding,) = judged(filled("MCW-VIS-014", changes)).findings
    assert "EVA32" == finding.code
    assert said in finding.message


def test_what_nothing_explains_is_said_to_be_so(judged, filled):
    (finding,) = judged(filled("MCW-VIS-014", {"reading.1.viscosity_20.display": "11.37"})).findings
    assert "No spindle, speed or spring" in finding.message


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"by": "", "when": "2026-12-02", "reason": "1"}, "no initials"),
        ({"by": "NF", "when": "", "reason": "1"}, "no day"),
        ({"by": "NF", "when": "2.12.26", "reason": "1"}, "is no day"),
        ({"by": "NF", "when": "2026-12-01", "reason": "1"}, "before the measurement"),
        ({"by": "NF", "when": "2026-12-02", "reason": "7"}, "no reason code 1 to 5"),
        ({"by": "NF", "when": "2026-12-02", "reason": "1", "was": "0.1"}, "are the same"),
        ({"by": "NF", "when": "2026-12-02 11:05", "reason": "1 copied wrongly"}, ""),
    ],
)
def test_corrections_are_judged(changes, said, judged):
    text = (TESTS / "good_records" / "MCW-VIS-014.csv").read_text(encoding="utf-8")
    row = {"was": "0.7", **changes}
    old = next(line for line in text.splitlines() if line.startswith("zero,"))
    new = f"zero,,,0.1,%,{row['was']},{row['by']},{row['when']},{row['reason']}"
    findings = judged(text.replace(old, new).encode()).findings
    assert (["EVA42"] if said else []) == [f.code for f in findings]
    assert not said or said in findings[0].message


def test_the_same_occasion_is_known_whatever_the_file_is_called(filled):
    first, second = (read_records(filled("MCW-VIS-014", delimiter=d), d)[0] for d in (",", ";"))
    third = read_records(filled("MCW-VIS-014", {"zero": "0.2"}), "third.csv")[0]
    other = read_records(filled("MCW-VIS-014", {"sample.measured": "2026-12-02 11:20"}), "other.csv")[0]
    assert occasion(first) == occasion(second) == occasion(third) != occasion(other)
    assert "says the same, entry by entry" in again(second, first).message
    assert "zero (0.1, here 0.2)" in again(third, first).message


def test_warnings_let_a_result_stand_and_errors_do_not(judged, filled):
    assert judged(filled("MCW-VIS-014", {"instrument.id": "bench-77"})).stands
    assert not judged(filled("MCW-VIS-014", {"zero": "1"})).stands
    assert Severity.WARNING == KNOWN["EVA40"][1]


ANYTHING = st.one_of(
    st.text(max_size=30),
    st.sampled_from(["0", "-1", "1e30", "1e-30", "99999999", "< 0", "> 1e20", "n/a", "2026-12-02",
    "2026-12-02 10:20", "00:00:00",
                     "9999-12-31 23:59:59", "0001-01-01 00:00", "0,1", "1,234", "100", "110", "0.0"]),
)  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_whatever_is_typed_anywhere_brings_findings_and_no_more(data, judged, filled):
    name = data.draw(st.sampled_from(["MCW-VIS-014", "BBM-VIS-007", "QAP-VIS-002", "LMT-VIS-021"]))
    keys = [line.split(",")[0] for line in filled(name).decode().splitlines() if line[:1].isalpha()][4:]
    changes = data.draw(st.dictionaries(st.sampled_from(keys), ANYTHING, max_size=8))
    result = judged(filled(name, {k: v.replace("\0", "") for k, v in changes.items()}))
    for one in result.results:
        assert one.value is None or one.value.is_finite()
        assert one.kind != "value" or one.reported
    for finding in result.findings:
        assert finding.ways_out


@pytest.mark.parametrize("name", ["MCW-VIS-014", "QAP-VIS-002"])
def test_a_workbook_with_typed_cells_gives_the_same_result(name, judged, filled, printed):
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    for line in csv.reader(StringIO(printed(filled(name)).decode(), newline="")):
        row = [value or None for value in line]
        named = ("method.", "sample.lot", "fluid.lot", "field")
        if row[3] is not None and not row[0].startswith(named) and not row[0].endswith((".id", ".number")):
            for make in (float, datetime.fromisoformat, time.fromisoformat):
                try:
                    row[3] = make(line[3])
                except ValueError:
                    continue
                break
        book.active.append(row)
    out = BytesIO()
    book.save(out)
    result, plain = judged(out.getvalue(), "r.xlsx"), judged(filled(name))
    assert () == result.findings
    assert [r.value for r in plain.results] == [r.value for r in result.results]
    assert "number cell" in {e.how for e in result.entries}


@pytest.mark.parametrize("name", ["MCW-VIS-014", "LMT-VIS-021"])
def test_json_gives_the_same_result(name, judged, filled, printed, compiled):
    one = compiled(name)
    flat = read_records(printed(filled(name)), "r")[0].entries
    data = json.loads(as_json(one.method, one.figures, judged(filled(name)).digest))
    for key, entry in flat.items():
        parts = key.split(".")
        holder = data
        if parts[0] in ("loading", "reading"):
            items = data[f"{parts[0]}s"]
            holder = next(i for i in items if i["no"] == parts[1] and i.get("step", parts[2]) == parts[2])
        elif parts[0] == "outcome":
            holder = next(i for i in data["outcome"] if i["result"] == parts[1])
        elif len(parts) == 2:
            holder = data[parts[0]]
        holder[parts[-1]] = entry.text
    result = judged(json.dumps(data).encode(), "r.json")
    assert () == result.findings
    assert [r.value for r in judged(filled(name)).results] == [r.value for r in result.results]
