"""The verification log as it was kept: CSV and JSON read alike, each fault named at its place."""

import json
from datetime import UTC, datetime

import pytest
from jsonschema import Draft202012Validator

from fillmark.locate import schemas_folder
from fillmark.verification.logbook import COLUMNS, NAMED, read_log

HEAD = (
    "at,instrument,spindle,piece,guard,speed,fluid,lot,expires,certificate,certificate_uncertainty,"
    "certificate_temperature,temperature,torque,reading,by"
)


def row(check):
    return ",".join(check.get(c, "") for c in HEAD.split(","))


@pytest.fixture
def of_csv(reference):
    return lambda *lines, name="log.csv": read_log("\n".join(lines).encode(), name, reference.raw)


@pytest.fixture
def of_json(reference):
    def write(*entries, **more):
        whole = {"verification_log": 1, **more, "entries": list(entries)}
        return read_log(json.dumps(whole, ensure_ascii=False).encode(), "log.json", reference.raw)

    return write


def codes(log):
    return [(d.code, d.span.line, d.span.column) for d in log.diagnostics]


def test_csv_and_json_say_the_same(of_csv, of_json, check_of):
    checks = [check_of("2026-11-02T07:40", 0.3), check_of("2026-11-03T07:40", -0.2, guard="without")]
    csv, plain = of_csv(HEAD, *map(row, checks)), of_json(*checks)
    assert [] == codes(csv) == codes(plain)
    for a, b in zip(csv.checks, plain.checks, strict=True):
        fields = set(a.__dataclass_fields__) - {"entry"}
        assert [getattr(a, f) for f in fields] == [getattr(b, f) for f in fields]
    one = csv.checks[0]
    assert (20.0, 10.0, 0.1, 25.0, 50.3, 10.06) == pytest.approx(
        (one.rpm, one.certificate.value, one.uncertainty.value, one.temperature.value, one.torque.value,
         one.reading.value)
    )  # fmt: skip
    assert datetime(2026, 11, 2, 7, 40, tzinfo=UTC).timestamp() == one.entry.at


def test_what_is_read_fits_the_published_schema_and_what_is_refused_does_not(of_json, check_of):
    schema = json.loads((schemas_folder() / "verification-log.schema.json").read_text(encoding="utf-8"))
    event = {"kind": "service", "at": "2026-11-02T07:40", "instrument": "bench-2", "by": "workshop"}
    check = check_of("2026-11-02T07:40")
    valid = Draft202012Validator(schema)
    for entry, fits in (
        (check, True), (event, True), ({**check, "colour": "red"}, False), ({**event, "torque": "5 %"}, False),
        ({k: v for k, v in check.items() if k != "torque"}, False),
    ):  # fmt: skip
        assert fits == valid.is_valid({"verification_log": 1, "entries": [entry]})
        assert fits == (not of_json(entry).diagnostics)


def test_columns_are_those_of_the_schema():
    schema = json.loads((schemas_folder() / "verification-log.schema.json").read_text(encoding="utf-8"))
    assert set(schema["$defs"]["check"]["properties"]) == set(COLUMNS)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_other_delimiters_and_units_in_the_headings(of_csv, check_of, delimiter):
    check = {**check_of("2026-11-02T07:40"), "torque": "50.3", "reading": "> 10060", "speed": "20"}
    head = (
        HEAD.replace("torque", "Torque [%]")
        .replace("reading", "reading [mPa·s]")
        .replace("speed", "speed [rpm]")
    )
    lines = [text.replace(",", delimiter) for text in (head, row(check))]
    (one,) = of_csv("# DEMONSTRATION: invented", *lines).checks
    assert (20.0, 50.3, ">", 10.06) == pytest.approx(
        (one.rpm, one.torque.value, one.reading.bound, one.reading.value)
    )


def test_a_mark_at_the_start_and_windows_line_ends_change_nothing(reference, check_of):
    text = "\ufeff" + "\r\n".join([HEAD, row(check_of("2026-11-02T07:40")), ""])
    log = read_log(text.encode(), "log.csv", reference.raw)
    assert (1, ()) == (len(log.checks), log.diagnostics)


def test_entries_are_sorted_by_time_across_offsets(of_json, check_of):
    log = of_json(
        check_of("2026-11-02T09:00+02:00", 0.1), check_of("2026-11-02T08:30+01:00", 0.2),
        check_of("2026-11-02T06:00Z", 0.3),
    )  # fmt: skip
    assert ["10060 mPa·s", "10020 mPa·s", "10040 mPa·s"] == [c.reading.text for c in log.checks]


def test_corrections_of_both_forms(of_csv, of_json, check_of):
    check = check_of("2026-11-02T07:40")
    told = {"field": "torque", "was": "15.2 %", "reason": "2", "by": "A. Osei", "on": "2026-11-02"}
    (a,) = of_json({**check, "corrections": [told]}).checks
    cell = "torque | 15.2 % | 2 | A. Osei | 2026-11-02; lot|F-2|1|A. Osei|2026-11-02"
    (b,) = of_csv(HEAD + ",corrections", row(check) + "," + cell).checks
    assert a.entry.corrections[0] == b.entry.corrections[0]
    assert ("lot", "F-2", "1") == (
        b.entry.corrections[1].field,
        b.entry.corrections[1].was,
        b.entry.corrections[1].reason,
    )


WRONG = {
    "at": [
        "",
        "yesterday",
        "2026-11-02",
        "2026-02-30T07:00",
        "0001-01-01T00:00+10:00",
        "9999-12-31T23:59",
        "7:40",
    ],
    "instrument": ["", "bench-99", "=1+1", "Bench\u202e2"],
    "spindle": ["R55", "../R5"],
    "guard": ["", "yes"],
    "speed": ["20", "0 rpm", "fast", "1e9 rpm"],
    "fluid": ["REF-1", ""],
    "lot": ["", "F\u200b1"],
    "expires": ["2026-13-01", "soon"],
    "certificate": ["10000", "10.000,0 mPa·s", "0 mPa·s", "1e30 Pa·s", "-5 mPa·s", "10000 mN"],
    "certificate_uncertainty": ["", "1 %"],
    "certificate_temperature": ["25", "-400 °C"],
    "temperature": ["298 K K", "25,1 °C"],
    "torque": ["", "50", "50 mPa·s", "-3 %", "> ", "<> 5 %", "1e400 %", "nan %"],
    "reading": ["", "lots", "10 %", "-10 mPa·s", "1e12 Pa·s", ">>5 Pa·s"],
    "by": ["", "A\u0000B"],
}


def test_there_are_fifty_hostile_cells():
    assert sum(map(len, WRONG.values())) >= 50


@pytest.mark.parametrize(("key", "value"), [(k, v) for k, values in WRONG.items() for v in values])
def test_a_wrong_cell_is_named_at_its_place_and_the_other_entries_are_read(of_csv, check_of, key, value):
    good, wrong = check_of("2026-11-02T07:40"), {**check_of("2026-11-03T07:40"), key: value}
    text = row(wrong)
    if "," in value:
        text = text.replace(value, f'"{value}"')
    log = of_csv(HEAD, row(good), text)
    assert (1, 2, 1) == (len(log.checks), log.entries, log.left_out)
    assert {3} == {line for _, line, _ in codes(log)}
    if value:
        before = ",".join(wrong[c] for c in HEAD.split(",")[: HEAD.split(",").index(key)])
        assert len(before) + 2 - (not before) in {column for _, _, column in codes(log)}
    assert all(d.ways_out for d in log.diagnostics)


@pytest.mark.parametrize(
    ("head", "said"),
    [
        (HEAD + ",colour", "There is no column colour"),
        (HEAD + ",by", "stands there twice"),
        (HEAD.replace("at,", "", 1), "The headings lack at"),
        (HEAD.replace("torque", "torqe"), "There is no column torqe"),
        ("", "The log is empty"),
        ("only words here", "no column only_words_here"),
    ],
)
def test_wrong_headings_are_told_once(of_csv, check_of, head, said):
    log = of_csv(*([head, row(check_of("2026-11-02T07:40"))] if head else [""]))
    assert 0 == len(log.checks)
    assert any(said.replace("_", " ") in d.message or said in d.message for d in log.diagnostics)
    assert all(d.code == "LOG01" for d in log.diagnostics)


@pytest.mark.parametrize(
    ("data", "name"),
    [
        (b"", "x.csv"), (b"\xff\xfe\x00a", "x.csv"), (b'"never closed', "x.csv"), (b"{", "x.json"), (b"[]", "x.json"),
        (b"null", "x.json"), (b'{"verification_log": 1}', "x.json"),
        (b'{"verification_log": 2, "entries": []}', "x.json"),
        (b'{"verification_log": 1, "entries": {}}', "x.json"),
        (b'{"verification_log": 1, "entries": [3, null]}', "x.json"),
        (b'{"verification_log": 1, "entries": [{"kind": []}]}', "x.json"), (b"[" * 5000, "x.json"),
        (b'{"verification_log": 1, "a": 1, "entries": []}', "x.json"), (b"a: &a [*a]", "x.yaml"),
        (b"x" * (17 << 20), "x.csv"), (b"\x00" * 100, "x"),
    ],
)  # fmt: skip
def test_files_that_are_no_log_are_told_and_raise_nothing(reference, data, name):
    log = read_log(data, name, reference.raw)
    assert 0 == len(log.checks)
    assert log.diagnostics


def test_thousands_of_faults_are_counted(of_csv):
    log = of_csv(HEAD, *["x"] * 1000)
    assert (1000, NAMED + 1) == (log.left_out, len(log.diagnostics))
    assert "more faults" in log.diagnostics[-1].message


def test_one_moment_twice_is_told(of_json, check_of):
    log = of_json(check_of("2026-11-02T07:40"), check_of("2026-11-02T07:40", 0.1))
    assert ["LOG03"] == [d.code for d in log.diagnostics]
    assert 2 == len(log.checks)
