"""Packs for trainees: every name printed as text, no file named by it, no answers in anybody's hands."""

import csv
import io
from datetime import date
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from fillmark.training.packs import (
    LONGEST,
    MOST,
    Pack,
    Trainee,
    file_name,
    index,
    make,
    plans,
    read_roster,
    stamp,
)

DAY = date(2026, 12, 2)
DEMOS = ("BBM-VIS-007", "LMT-VIS-021", "MCW-VIS-014", "QAP-VIS-002", "TGF-VIS-003")


def names(text, encoding="utf-8"):
    return [(t.number, t.name, t.id) for t in read_roster(text.encode(encoding), "names.csv").trainees]


def told(data):
    return [(d.code, d.span.line) for d in read_roster(data, "names.csv").diagnostics]


# --- the list


@pytest.mark.parametrize(
    "text",
    [
        "name,id\nAna Lind,0007\nBo Ek,0008\n",
        "\ufeffname;id\r\nAna Lind;0007\r\nBo Ek;0008\r\n",
        "name\tid\nAna Lind\t0007\nBo Ek\t0008",
        "\n\n Name , ID ,shift\n  Ana   Lind ,0007,night\n,,\n\nBo Ek,0008\n",
        'id,"name"\n0007,"Ana Lind"\n0008,"Bo Ek"\n',
    ],
)
def test_a_list_is_read_as_spreadsheets_write_it(text):
    assert [(1, "Ana Lind", "0007"), (2, "Bo Ek", "0008")] == names(text)


def test_quoted_cells_keep_commas_and_quotation_marks():
    assert [(1, 'Lind, Ana "Annie"', "")] == names('name\n"Lind, Ana ""Annie"""\n')


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "PCK02"),
        (b"name\n", "PCK02"),
        (b"surname\nLind\n", "PCK02"),
        (b'name\n"Lind\n', "PCK01"),
        (b'name\n"Lind"x\n', "PCK01"),
        (b"name\nM\xfcller\n", "PCK01"),
        ("name\nMüller\n".encode("utf-16-le"), "PCK01"),
        (b"name\nLi\0nd\n", "PCK01"),
        (b"name\n" + b"x" * 1_100_000, "PCK01"),
        (b"name\n" + b"x" * 140_000 + b"\n", "PCK03"),
    ],
)
def test_what_is_no_list_of_names_is_told_with_two_ways_out(data, code):
    roster = read_roster(data, "names.csv")
    assert ((), [code]) == (roster.trainees, [d.code for d in roster.diagnostics])
    assert 2 == len(roster.diagnostics[0].ways_out)


def test_a_list_of_a_class_and_one_more_is_refused():
    rows = ["name"] + [f"Trainee {n}" for n in range(MOST)]
    assert MOST == len(read_roster("\n".join(rows).encode(), "names.csv").trainees)
    rows.append("One More")
    assert ["PCK01"] == [d.code for d in read_roster("\n".join(rows).encode(), "names.csv").diagnostics]


def test_a_name_that_would_print_otherwise_than_it_reads_is_left_out_and_told_at_its_line():
    data = f"id,name\n1,{'x' * LONGEST}\n2,{'x' * (LONGEST + 1)}\n3,A\u202eB\n4,\n5,Ana\u200bLind\n".encode()
    assert [(1, "x" * LONGEST, "1")] == names(data.decode())
    assert [("PCK03", 3), ("PCK03", 4), ("PCK03", 5), ("PCK03", 6)] == told(data)
    assert 2 == read_roster(data, "names.csv").diagnostics[0].span.column


def test_a_name_with_other_marks_between_its_letters_is_the_same_persons():
    data = b"name;id\nNowak, L.;17\nnowak l;17\n"
    assert [("PCK04", 3)] == told(data)


def test_the_same_person_twice_gets_one_pack_and_two_of_one_name_get_two():
    data = b"name,id\nAna Lind,1\nana lind,1\nAna Lind,2\nBo,\nBo,\n"
    assert [(1, "Ana Lind", "1"), (2, "Ana Lind", "2"), (3, "Bo", "")] == names(data.decode())
    assert [("PCK04", 3), ("PCK04", 6)] == told(data)


def test_a_language_without_phrases_is_told():
    data = b"name,language\nAna,en\nBo,sv\nCy,\nDi,EN-GB\n"
    assert [("PCK05", 3)] == told(data)
    assert 4 == len(names(data.decode()))


# --- names of files, and the index


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("Ana Lind", "001-ana-lind-MCW-VIS-014-r3.pdf"),
        ("../../etc/passwd", "001-etc-passwd-MCW-VIS-014-r3.pdf"),
        ("..\\..\\con", "001-con-MCW-VIS-014-r3.pdf"),
        ("=cmd|'/c calc'!A1", "001-cmd-c-calc-a1-MCW-VIS-014-r3.pdf"),
        ("محمد", "001-MCW-VIS-014-r3.pdf"),
        ("Jörg Ætherström", "001-jorg-therstrom-MCW-VIS-014-r3.pdf"),
        ("x" * 80, f"001-{'x' * 40}-MCW-VIS-014-r3.pdf"),
    ],
)
def test_no_name_leads_out_of_the_folder(name, file):
    assert file == file_name(Trainee(1, name, "", 2), "MCW-VIS-014", 3)


def test_the_index_holds_no_formula():
    packs = [
        Pack(Trainee(n, name, "-1+1" if n == 2 else "", n + 1), Path(f"{n}.pdf"))
        for n, name in enumerate(("=1+1", "@SUM(A1)", "Ana Lind"), start=1)
    ]
    data = index(packs, "MCW-VIS-014", 3, "a" * 64, DAY)
    assert data.startswith(b"\xef\xbb\xbf")
    rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig"))))
    assert ["'=1+1", "'@SUM(A1)", "Ana Lind"] == [row[1] for row in rows[1:]]
    assert not [cell for row in rows for cell in row if cell[:1] in "=+-@\t\r" and cell]


def test_a_name_is_text_on_the_page():
    html = stamp(Trainee(1, '<b onload="x">&</b>', "<i>", 2), 1, paper="A4", day=DAY)
    assert "&lt;b onload=&quot;x&quot;&gt;&amp;&lt;/b&gt;" in html
    assert "<i>" not in html


# --- what is in a pack


def tables(document):
    return {b.name for s in document.sides for x in s.sections for b in x.blocks if b.kind == "table"}


@pytest.mark.parametrize("method", DEMOS)
def test_no_pack_holds_the_answers_and_the_answers_are_kept_apart(compiled, method):
    packs, answers = plans(compiled(method), print_date=DAY)
    assert ["training", "competency", "checklist"] == [p.kind for p in packs]
    assert [{"replies"}, {"answers"}] == [tables(a) for a in answers]
    for paper in packs:
        assert set() == tables(paper) & {"replies", "answers"}
    assert "predictions" in tables(packs[0])
    assert {"questions", "observed", "trial fault", "signatures"} <= tables(packs[1])


def test_the_checklist_is_marked_and_a_draft_says_both(compiled):
    (_, _, checklist), _ = plans(compiled("MCW-VIS-014"), print_date=DAY)
    assert ("TRAINING", ()) == (checklist.head.draft, checklist.head.across)
    (_, _, draft), _ = plans(compiled("BBM-VIS-007"), print_date=DAY)
    assert ("DRAFT", ("TRAINING", "NOT FOR RELEASE")) == (draft.head.draft, draft.head.across)


@pytest.mark.pdf
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_page_of_a_pack_bears_the_name_and_no_other(compiled, tmp_path, paper):
    roster = read_roster("name,id\nAna Lind,0007\nمحمد علي,0008\n".encode(), "names.csv")
    packs = list(make(compiled("MCW-VIS-014"), roster, tmp_path, paper=paper, print_date=DAY))
    assert ["001-ana-lind-MCW-VIS-014-r3.pdf", "002-MCW-VIS-014-r3.pdf"] == [p.file.name for p in packs]
    reader = PdfReader(packs[0].file)
    texts = [" ".join(page.extract_text().split()) for page in reader.pages]
    assert {True} == {"trainee Ana Lind · 0007 · pack 1 of 2 · printed 2026-12-02" in text for text in texts}
    # Of the checklist, two pages marked TRAINING.
    assert 2 == sum("Bench checklist" in text and "TRAINING" in text for text in texts)
    assert not [text for text in texts if "do not hand out" in text.casefold()]
    other = [" ".join(page.extract_text().split()) for page in PdfReader(packs[1].file).pages]
    assert {True} == {"· 0008 · pack 2 of 2" in text for text in other}
    assert not [text for text in other if "Ana Lind" in text]
    kept = PdfReader(tmp_path / "answers-MCW-VIS-014-r3.pdf")
    assert {True} == {"ANSWERS: for trainer and assessor" in page.extract_text() for page in kept.pages}
    rows = list(csv.reader(io.StringIO((tmp_path / "index.csv").read_text("utf-8-sig"))))
    assert [p.file.name for p in packs] == [row[7] for row in rows[1:]]


@pytest.mark.pdf
def test_a_pack_is_the_same_bytes_again(compiled, tmp_path):
    roster = read_roster(b"name\nAna Lind\n", "names.csv")
    made = [
        next(
            iter(make(compiled("QAP-VIS-002"), roster, tmp_path / n, paper="A4", print_date=DAY))
        ).file.read_bytes()
        for n in ("a", "b")
    ]
    assert made[0] == made[1]
    assert PdfReader(BytesIO(made[0])).pages
