"""Files of records taken apart: each oddity handled or refused with its place, nothing dropped in silence."""

import io
import json
import zipfile

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark.records.reading import DEEPEST, LARGEST, LONGEST, MOST_RECORDS, read_records

GOOD = "field,value,unit\r\nmethod.id,MCW-VIS-014,\r\nzero,0.1,%\r\n"


def one(data: bytes | str):
    records = read_records(data if isinstance(data, bytes) else data.encode(), "r")
    assert 1 == len(records)
    return records[0]


def codes(data) -> list[str]:
    return [f.code for f in one(data).findings]


@pytest.mark.parametrize(
    "data",
    [
        GOOD.encode(),
        GOOD.encode("utf-8-sig"),
        GOOD.encode("utf-16"),
        b"\xff\xfe" + GOOD.encode("utf-16-le"),
        b"\xfe\xff" + GOOD.encode("utf-16-be"),
        GOOD.replace(",", ";").encode(),
        GOOD.replace(",", "\t").encode(),
        GOOD.replace("\r\n", "\n").encode(),
        GOOD.replace("\r\n", "\r").encode(),
        GOOD.replace("0.1", '"0.1"').encode(),
        GOOD.replace("field,value,unit", "Field , VALUE,unit").encode(),
        GOOD.replace("zero", "\r\n#,a remark\r\n,,\r\nzero").encode(),
        GOOD.replace("field,value,unit", "unit,value,field").replace("zero,0.1,%", "%,0.1,zero").replace(
            "method.id,MCW-VIS-014,", ",MCW-VIS-014,method.id").encode(),
    ],
)  # fmt: skip
def test_the_same_record_in_many_dresses(data):
    record = one(data)
    assert () == record.findings
    assert {"method.id": "MCW-VIS-014", "zero": "0.1"} == {k: e.text for k, e in record.entries.items()}
    assert "%" == record.entries["zero"].unit


def test_the_text_is_kept_as_typed_with_its_place():
    entry = one('field,what,value\nzero,"Zero, no spindle"," 0,10 "\n').entries["zero"]
    assert (" 0,10 ", 2, 3) == (entry.text, entry.place.line, entry.place.column)
    entry = one('field,value\nremarks,"one\ntwo"\nzero,0.1\n').entries["zero"]
    assert 4 == entry.place.line


@pytest.mark.parametrize(
    ("data", "code", "said", "line"),
    [
        (b"", "EVA01", "empty", None),
        (b"  \r\n ", "EVA01", "empty", None),
        (b"zero,0.1\n", "EVA02", "no column field", 1),
        (b"field\nzero\n", "EVA02", "no column value", 1),
        (b"field,value,value\nzero,0.1,0.2\n", "EVA02", "comes twice", 1),
        (b"field,value,colour\nzero,0.1,red\n", "EVA02", "not known", 1),
        (b"field,value\nzero,0,1\n", "EVA02", "decimal comma", 2),
        (b'field,value\nzero,"0.1\nremarks,x\n', "EVA01", "never closed", 2),
        (b"field,value\nzero,0.1\nzero,0.2\n", "EVA03", "comes twice", 3),
        (b"field,value\nZero reading,0.1\n", "EVA03", "no name of an entry", 2),
        (b"field,value\n,0.1\n", "EVA03", "names no field", 2),
        (b"field,value\nzero,0.1\x00\n", "EVA01", "NUL", 2),
        ("field,value\nzero,0.1\n".encode("utf-16-le"), "EVA01", "UTF-16", None),
        ("field,value\nremarks,23 °C\n".encode("cp1252"), "EVA01", "not UTF-8", 2),
        (b"field,value\nremarks," + b"x" * (LONGEST + 1), "EVA03", "longer than", 2),
        (b"x" * (LARGEST + 1), "EVA01", "larger than", None),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(1, 200)), "EVA01", "not UTF-8", None),
        (b"field,value\n" + b"".join(b"zero,1\n" for _ in range(3)), "EVA03", "comes twice", 3),
        (b'field,value\nzero,"0.1"x\n', "EVA01", "cannot be taken apart", 2),
    ],
)  # fmt: skip
def test_what_cannot_be_told_apart_is_refused_with_its_place(data, code, said, line):
    finding = next(f for f in one(data).findings if said in f.message)
    assert code == finding.code
    assert 2 == len(finding.ways_out)
    assert line is None or line == finding.place.line


def test_what_is_not_read_is_named():
    assert ("column colour: it is none of a record",) == one("field,value,colour\nzero,0.1,red\n").unread


def test_many_records_in_one_file():
    data = "record,field,value\nA,zero,0.1\nB,zero,0.2\nA,remarks,x\n"
    first, second = read_records(data.encode(), "r")
    assert [("A", "0.1", "x"), ("B", "0.2", "")] == [
        (r.name, r.text("zero"), r.text("remarks")) for r in (first, second)
    ]
    many = "record,field,value\n" + "".join(f"{n},zero,0.1\n" for n in range(MOST_RECORDS + 1))
    assert ["EVA01"] == codes(many)


def test_a_correction_stands_in_its_row():
    data = "field,value,was,by,when,reason\nzero,0.1,0.7,NF,2026-12-02,2\n"
    (correction,) = one(data).entries["zero"].corrections
    assert ("0.7", "0.1", "NF", "2026-12-02", "2") == (
        correction.was, correction.now, correction.by, correction.when, correction.reason
    )  # fmt: skip


# --- JSON


def as_json(**more) -> bytes:
    return json.dumps({"record": 1, "method": {"id": "M"}, **more}).encode()


def test_json_keeps_every_digit():
    data = (
        b'{"record": 1, "zero": 0.10, "readings": [{"no": 1, "step": "v", "torque": 48.60}], "remarks": null}'
    )
    assert {"zero": "0.10", "reading.1.v.torque": "48.60"} == {
        k: e.text for k, e in one(data).entries.items()
    }
    assert "1" * 5000 not in str(one(b'{"record": 1, "zero": ' + b"1" * 5000 + b"}").entries)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b'{"record": 1, "zero": 0.1', "no JSON"),
        (b'{"record": 1, "zero": NaN}', "NaN is no number"),
        (b'{"record": 1, "zero": 1, "zero": 2}', "comes twice"),
        (b"[]", "0 records"),
        (b"[1]", "no object"),
        (b'{"zero": 0.1}', "its format is not known"),
        (b'{"record": 2}', "its format is not known"),
        (b"[" * 5000, f"more than {DEEPEST} deep"),
        (b'{"a":' * 5000, f"more than {DEEPEST} deep"),
        (b'{"record": 1, "remarks": "\\ud800"}', "half of a letter"),
        (b'{"record": 1, "zero": 0.1}\x00', "NUL"),
        (b'{"record": 1, "zero": true}', "neither a text nor a number"),
        (b'{"record": 1, "zero": ["0.1"]}', "neither a text nor a number"),
        (b'{"record": 1, "zero": {"value": 1, "corrections": 7}}', "neither a text nor a number"),
        (b'{"record": 1, "readings": [7]}', "no name"),
        (b'{"record": 1, "Zero": 1}', "no name"),
        (b'{"record": 1, "readings": {"no": 1}}', ""),
        (b'{"record": 1, "readings": "none"}', ""),
    ],
)
def test_json_that_is_no_record(data, said):
    record = one(data)
    if said:
        assert any(said in f.message for f in record.findings), record.findings
    for finding in record.findings:
        assert 2 == len(finding.ways_out)


def test_json_records_with_units_and_corrections():
    entry = one(
        as_json(zero={"value": "0.1", "unit": "%", "corrections": [{"was": "0.7", "by": None}]})
    ).entries["zero"]
    assert ("0.1", "%", "0.7", "") == (
        entry.text,
        entry.unit,
        entry.corrections[0].was,
        entry.corrections[0].by,
    )


def test_json_names_its_records_and_keeps_its_note():
    first, second = read_records(
        b"[" + as_json(name="A", note="DEMONSTRATION") + b"," + as_json() + b"]", "r"
    )
    assert ["A", "2"] == [first.name, second.name]
    assert ("note: DEMONSTRATION",) == first.unread


# --- XLSX


def workbook(*rows, sheet="record", also=(), numbers=None) -> bytes:
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    page = book.active
    page.title = sheet
    for row in (("field", "value", "unit"), *rows):
        page.append(row)
    for change in also:
        change(book, page)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_typed_cells_become_text_and_say_so():
    from datetime import datetime, time

    record = one(
        workbook(
            ("zero", 0.1), ("instrument.due", datetime.fromisoformat("2027-05-31")), ("sample.measured",
            datetime.fromisoformat("2026-12-02T10:20")),
            ("loading.1.in", time(6, 40)), ("sample.lot", "0042"), ("sample.number", 42), ("remarks", None),
        )
    )  # fmt: skip
    assert () == record.findings
    assert {
        "zero": ("0.1", "number cell"), "instrument.due": ("2027-05-31 00:00:00", "date cell"),
        "sample.measured": ("2026-12-02 10:20:00", "date cell"), "loading.1.in": ("06:40:00", "time cell"),
        "sample.lot": ("0042", ""), "sample.number": ("42", "number cell"), "remarks": ("", ""),
    } == {k: (e.text, e.how) for k, e in record.entries.items()}  # fmt: skip
    assert "record!B2" == record.entries["zero"].place.cell


def test_a_date_cell_without_a_time_has_none():
    def only_days(_, page):
        page["B2"].number_format = "yyyy-mm-dd"

    from datetime import datetime

    record = one(workbook(("sample.measured", datetime.fromisoformat("2026-12-02")), also=[only_days]))
    assert "2026-12-02" == record.entries["sample.measured"].text


@pytest.mark.parametrize(
    ("rows", "also", "code", "said"),
    [
        ([("zero", "=0.05*2")], (), "EVA07", "no program has worked out"),
        ([("zero", True)], (), "EVA07", "truth value"),
        ([("zero", "#DIV/0!")], (), "EVA07", "error #DIV/0!"),
        (
            [("zero", 0.1), ("remarks", "x")],
            [lambda _, p: p.merge_cells("B2:B3")],
            "EVA07",
            "merged cells B2:B3",
        ),
        ([("zero", 0.1, "%", "stray")], (), "EVA02", "4 cells under 3"),
        ([("zero", 0.1), ("zero", 0.2)], (), "EVA03", "comes twice"),
    ],
)
def test_cells_without_a_value_of_their_own_are_refused_with_their_place(rows, also, code, said):
    finding = next(f for f in one(workbook(*rows, also=also)).findings if said in f.message)
    assert code == finding.code
    assert finding.place.cell is not None
    assert finding.place.cell.startswith("record!")


def test_a_formula_with_its_last_value_is_taken_and_told():
    data = workbook(("zero", "=0.05*2"))
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.infolist():
            content = old.read(part)
            if part.filename == "xl/worksheets/sheet1.xml":
                content = (
                    content.replace(b"<v></v>", b"<v>0.1</v>")
                    .replace(b"<v />", b"<v>0.1</v>")
                    .replace(b"<v/>", b"<v>0.1</v>")
                )
            new.writestr(part, content)
    record = one(out.getvalue())
    assert ["EVA08"] == [f.code for f in record.findings]
    assert "0.1" == record.text("zero")


def test_other_worksheets_are_named_and_each_record_sheet_is_a_record():
    def more(book, _):
        book.create_sheet("notes").append(("something else",))
        book.create_sheet("second").append(("field", "value"))
        book["second"].append(("zero", 0.3))

    first, second = read_records(workbook(("zero", 0.1), also=[more]), "r")
    assert [("record", "0.1"), ("second", "0.3")] == [(r.name, r.text("zero")) for r in (first, second)]
    assert "worksheet notes" in first.unread[0]


def damaged(kind: str) -> bytes:
    data = workbook(("zero", 0.1))
    if kind == "cut":
        return data[: len(data) // 2]
    if kind == "no workbook":
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w") as archive:
            archive.writestr("hello.txt", "hello")
        return out.getvalue()
    if kind == "only the mark":
        return b"PK\x03\x04"
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            content = old.read(part)
            if part.filename == "xl/worksheets/sheet1.xml":
                if kind == "own letters":
                    content = b'<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>' + content
                elif kind == "no markup":
                    content = b"\x00\x01<<<<"
                elif kind == "bomb":
                    content = b" " * 30_000_000
                elif kind == "far away":
                    content = content.replace(b'r="B2"', b'r="XFD1048576"').replace(b'r="2"', b'r="1048576"')
            new.writestr(part.filename, content)
    return out.getvalue()


@pytest.mark.parametrize(
    "kind", ["cut", "no workbook", "only the mark", "own letters", "no markup", "bomb", "far away"]
)
def test_a_hostile_or_damaged_workbook_is_refused(kind):
    assert ["EVA01"] == codes(damaged(kind))


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=400), st.integers(0, 3))
def test_no_bytes_bring_more_than_findings(data, kind):
    lead = (b"", b"field,value\n", b'{"record": 1, "zero": ', b"PK\x03\x04")[kind]
    for record in read_records(lead + data, "r"):
        for finding in record.findings:
            assert finding.ways_out
