"""The dossier: findings, waivers, parameters, every figure once, what it rests on, and the block to sign."""

import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
import yaml

from fillmark import __version__
from fillmark.build import review
from fillmark.diagnostics import Diagnostic, Related, Severity, Span
from fillmark.digest import digest
from fillmark.documents import Field, Lines, Picture
from fillmark.documents.dossier import plan_dossier
from fillmark.pipeline import compile_method
from fillmark.printing import pdf
from fillmark.reference import load
from fillmark.render import PAPERS, render

ROOT = Path(__file__).parents[2]


def tables(look, document, name):
    return [table for table in look.blocks(document, "table") if table.name == name]


def said(look, cell) -> str:
    """Give a cell as text, its lines one under the other; nothing for a place to write in."""
    if isinstance(cell, Lines):
        return "\n".join(look.words(line) for line in cell.lines)
    return look.words(cell) if isinstance(cell, tuple) else ""


def rows(look, document, name):
    """Give the rows of all tables of a name, cells as text."""
    return [
        [said(look, cell) for cell in row] for table in tables(look, document, name) for row in table.rows
    ]


def section(look, document, words):
    (found,) = (s for s in look.sections(document) if s.title.startswith(words))
    return found


@pytest.fixture
def laboratory(tmp_path):
    """Plan the dossier of a method in a workspace with reference data of its own."""

    def plan(method, **files):
        (tmp_path / "shared").mkdir()
        for name, text in files.items():
            (tmp_path / "shared" / f"{name}.yaml").write_text(text, encoding="utf-8")
        reference, found = load(tmp_path)
        assert [] == found
        one = compile_method((ROOT / "methods" / f"{method}.yaml").read_bytes(), "m.yaml", reference)
        return plan_dossier(one.method, one.figures, digest(one.method), review(one, one.method))

    return plan


def test_sections_are_numbered_and_the_summary_points_at_the_right_ones(dossier, look, demo):
    sections = look.sections(dossier(demo))
    assert [str(n + 1) for n in range(len(sections))] == [s.letter for s in sections]
    titles = {s.letter: s.title for s in sections}
    pointed = {row[0]: titles[row[2]] for row in rows(look, dossier(demo), "first")}
    assert {
        "Findings that stand": "Findings, by consequence",
        "Rules set aside": "Rules set aside",
        "Rules that could not judge": "Not judged, and why",
        "Data from memory": "Reference data used",
        "Reference data of the laboratory's own file": "Reference data used",
        "Thresholds that differ from what is shipped": "Site policy",
        "Figures left open": "Figures left open, and why",
        "Changed with this revision": "Changes of the method",
    } == pointed


def test_the_summary_says_what_it_is(dossier, look, compiled):
    words = dict(rows(look, dossier("MCW-VIS-014"), "particulars"))
    assert "MCW-VIS-014 rev. 3, released: Apparent viscosity of matt wall paint" == words["Method"]
    assert "Hearthstone matt wall paint, thixotropic" == words["Product"]
    assert "release" == words["Purpose"]
    assert "2026-12-01, 2029-11-30" == words["Effective, review by"]
    assert digest(compiled("MCW-VIS-014").method) == words["Digest (SHA-256)"]
    assert words["Prepared with"].startswith(f"Fillmark {__version__}, ")


def test_what_is_known_from_memory_is_told_first(dossier, look):
    first = {row[0]: row[1] for row in rows(look, dossier("MCW-VIS-014"), "first")}
    assert {"spindle R5", "spring R", "threshold heat_capacity"} <= set(first["Data from memory"].split(", "))
    assert "parameter: Speed of the index step lowered to 2 rpm." == first["Changed with this revision"]


# --- findings, waivers, not judged --------------------------------------------------------------------------


def test_a_clean_method_says_how_many_rules_it_passed(dossier, look, compiled):
    one = compiled("MCW-VIS-014")
    words = look.everything(section(look, dossier("MCW-VIS-014"), "Findings"))
    assert f"None stand: {review(one, one.method).rules} rules were applied" in words


def test_findings_stand_by_consequence_with_ways_out_and_places(compiled, look):
    def finding(code, severity, line, **more):
        span = Span(line, 1, line, 2)
        return Diagnostic(code, f"slug-{code}", severity, f"Message of {code}.", "m.yaml", span, **more)

    one = compiled("MCW-VIS-014")
    limit = Related("the limit", ("run",), Span(7, 1, 7, 2))
    found = (
        finding("AAA01", Severity.ADVICE, 1),
        finding("WWW02", Severity.WARNING, 9),
        finding("WWW01", Severity.WARNING, 3, ways_out=("Do this.", "Or that."), related=(limit,)),
        finding("EEE01", Severity.ERROR, 50),
        finding("SET01", Severity.ERROR, 2, waived_by="A. Person"),
    )  # fmt: skip
    document = plan_dossier(
        one.method, one.figures, "0" * 64, replace(review(one, one.method), findings=found)
    )
    table = rows(look, document, "findings")
    assert ["error", "warning", "warning", "advice"] == [row[0] for row in table]
    assert ["EEE01", "WWW01", "WWW02", "AAA01"] == [row[1].split("\n")[0] for row in table]
    assert "WWW01\nslug-WWW01\nline 3" == table[1][1]
    assert (
        "Message of WWW01.\nWay out: Do this.\nWay out: Or that.\nsee also line 7: the limit" == table[1][2]
    )
    first = {row[0]: row[1] for row in rows(look, document, "first")}
    assert "1 error, 2 warnings, 1 advice" == first["Findings that stand"]


def test_a_waiver_stands_with_the_finding_it_sets_aside(dossier, look, compiled):
    (finding,) = (d for d in compiled("LMT-VIS-021").diagnostics if d.code == "VER07")
    ((rule, text),) = rows(look, dossier("LMT-VIS-021"), "waivers")
    assert "VER07" == rule
    lines = text.split("\n")
    assert f"Finds: {finding.message} (line {finding.span.line})" == lines[0]
    assert "Reason: The coefficient of the bar is relative" in lines[1]
    assert "Evidence: LMT-STUDY-09" == lines[2]
    assert "Risk: none on the result, which compares only with its own past" == lines[3]
    assert "Requested by not given; approved by M. Linden; expires 2028-11-30" == lines[4]
    assert "1 of their findings are set aside (section 3)" in look.everything(dossier("LMT-VIS-021"))


def test_what_was_not_judged_stands_with_its_reason(dossier, look, compiled):
    checked = compiled("BBM-VIS-007").checked
    expected = [[rule.code, rule.slug, why] for rule, why in checked.not_judged]
    assert expected
    assert expected == rows(look, dossier("BBM-VIS-007"), "not-judged")


# --- parameters ---------------------------------------------------------------------------------------------


def test_every_value_the_author_wrote_is_there_with_its_line(dossier, look, edited, demo):
    table = rows(look, dossier(demo), "parameters")
    source = edited(demo).decode().splitlines()
    for name, value, where in table:
        if where.startswith("line "):
            line = source[int(where.removeprefix("line ")) - 1 :]
            key = name.split(".")[-1]
            assert key in line[0] or key in source[int(where.removeprefix("line ")) - 2], (name, value, where)
    names = [row[0] for row in table]
    assert len(set(names)) == len(names)
    # Counted by another reader of YAML.
    data = yaml.safe_load(edited(demo))
    counted = sum(
        leaves(value) for key, value in data.items() if key not in ("fillmark", "waivers", "changes")
    )
    assert counted == sum(row[2].startswith("line ") for row in table)


def leaves(value) -> int:
    """Count values; a list of plain words is one."""
    if isinstance(value, dict):
        return sum(leaves(inner) for inner in value.values())
    if isinstance(value, list) and any(isinstance(entry, (dict, list)) for entry in value):
        return sum(leaves(inner) for inner in value)
    return 1


def test_defaults_are_marked_with_where_they_come_from(dossier, look):
    table = {row[0]: (row[1], row[2]) for row in rows(look, dossier("MCW-VIS-014"), "parameters")}
    assert "1.0 % of full scale" == table["instrument.accuracy"][0]
    assert re.fullmatch(
        r"default: policy instrument_accuracy \[\d+\], common practice", table["instrument.accuracy"][1]
    )
    assert ("yes", "default: the method language") == table["temperature.recheck"]
    assert ("25.0 °C ± 0.1 K", "default: certificate of the fluid") == table["verification.temperature"]
    assert ("R5", "default: as in the run") == table["verification.spindle"]
    # What is written is no default.
    assert "line 22" == table["product.thermal_diffusivity"][1]
    assert ("rounding", "line 68") == table["report.viscosity_20.comparison"]
    assert "absolute" == table["report.index.comparison"][0]


# --- figures ------------------------------------------------------------------------------------------------


def test_every_figure_stands_once_and_is_numbered_through(dossier, look, compiled, demo):
    table = rows(look, dossier(demo), "figures")
    assert [str(n + 1) for n in range(len(table))] == [row[0] for row in table]
    keys = [row[1].split("\n")[2] for row in table]
    figures = compiled(demo).figures
    assert sorted(figures) == sorted(keys)
    for key, row in zip(keys, table, strict=True):
        title, text, _ = row[1].split("\n")
        shown = figures[key].text.replace("\u202f", " ")
        assert (figures[key].title, re.sub(r"\s", "", shown)) == (title, re.sub(r"\s", "", text))


def test_a_figure_has_a_box_for_the_hand_check(dossier, look, demo):
    for table in tables(look, dossier(demo), "figures"):
        assert "checked by hand" == table.headings[-1]
        assert ["write"] * len(table.rows) == [row[-1].kind for row in table.rows]


def test_inputs_name_their_place(dossier, look):
    table = rows(look, dossier("MCW-VIS-014"), "figures")
    numbers = {row[1].split("\n")[2]: row[0] for row in table}
    lines = {row[1].split("\n")[2]: row[2] for row in table}
    torque = lines["run.viscosity_20.torque_lower"]
    assert "η = 8.0 Pa·s (line 27, specification.viscosity_20.lower)" in torque
    assert "N = 20 rpm (line 54, run.viscosity_20.speed)" in torque
    assert f"C = 400 Pa·s·rpm (no. {numbers['coefficient']})" in torque
    assert "t = 100 · 8 Pa·s · 20 rpm / 400 Pa·s·rpm = 40.0 %" in torque
    assert "floor = 10 % (policy torque_floor [1], common practice)" in lines["run.viscosity_20.below_bound"]
    assert "C_ref = 400 Pa·s·rpm on spring R (R5)" in lines["coefficient"]
    assert "Source: [4] from memory" in lines["coefficient"]


def test_what_is_no_plain_arithmetic_says_so(dossier, look):
    table = rows(look, dossier("MCW-VIS-014"), "figures")
    lines = {row[1].split("\n")[2]: row[2] for row in table}
    assert "a series is summed" in lines["conditioning.residual"]
    assert "a rule of rounding" in lines["report.viscosity_20.border_lower"]
    assert "Not by pocket calculator: the printed digits" not in "\n".join(lines.values())


def test_every_citation_is_in_the_list_of_sources(dossier, look, demo):
    document = dossier(demo)
    cited = {int(n) for n in re.findall(r"\[(\d+)\]", look.everything(document))}
    listed = [int(row[0]) for row in rows(look, document, "sources")]
    assert list(range(1, len(listed) + 1)) == listed
    assert cited == set(listed)
    for _, title, known in rows(look, document, "sources"):
        assert title
        assert known in (
            "published",
            "computed",
            "common practice",
            "from memory",
            "site",
            "project decision",
        )


def test_figures_left_open_stand_with_the_reason(dossier, look):
    change = ("  temperature_sensitivity: 2.0 %/K\n", "")
    document = dossier("MCW-VIS-014", change)
    assert ["run.viscosity_20.uncertainty", "the temperature sensitivity is not given"] in rows(
        look, document, "open"
    )
    assert "Every figure could be worked out." in look.everything(
        section(look, dossier("MCW-VIS-014"), "Figures left open")
    )


# --- what it rests on ---------------------------------------------------------------------------------------


def test_reference_data_used_stands_with_values_and_source(dossier, look):
    table = {row[0]: row[1:] for row in rows(look, dossier("MCW-VIS-014"), "reference")}
    values, source = table["R5\nspindles"]
    assert "diameter 21.14 mm" in values
    assert "coefficient value 400 Pa·s·rpm" in values
    assert source.endswith("from memory; as shipped")
    assert {"R\nsprings", "REF-10000\nfluids", "beaker-600-low-form\ncontainers"} <= set(table)
    assert "R4\nspindles" not in table


def test_data_of_the_laboratorys_own_file_is_marked(laboratory, look):
    entry = (
        "R: {full_scale: 718.7 µN·m, suspensions: [pivot-and-jewel, ball-bearing], takes_guard: true, "
        "source: common-practice, known: site}\n"
    )
    document = laboratory("MCW-VIS-014", springs=entry)
    table = {row[0]: row[2] for row in rows(look, document, "reference")}
    assert table["R\nsprings"].endswith(
        "site; from shared/springs.yaml of the laboratory, read over what is shipped"
    )
    first = {row[0]: row[1] for row in rows(look, document, "first")}
    assert "spring R" == first["Reference data of the laboratory's own file"]


def test_a_changed_policy_is_shown_beside_what_is_shipped(laboratory, look):
    text = "version: ours-7\nheadroom: {value: 25 %, source: project-decision}\n"
    document = laboratory("TGF-VIS-003", policy=text)
    ((key, here, shipped, source),) = rows(look, document, "policy")
    assert ("headroom", "25 %", "20 %") == (key, here, shipped)
    assert source.endswith("project decision")
    assert "Site policy ours-7. These thresholds differ" in look.everything(
        section(look, document, "Site policy")
    )
    first = {row[0]: row[1] for row in rows(look, document, "first")}
    assert "headroom" == first["Thresholds that differ from what is shipped"]


def test_a_policy_as_shipped_says_so(dossier, look):
    words = look.everything(section(look, dossier("MCW-VIS-014"), "Site policy"))
    assert "Site policy demonstration-1. No threshold differs from what is shipped." in words


def test_the_changes_of_the_method_are_listed(dossier, look):
    assert [["3", "parameter", "Speed of the index step lowered to 2 rpm."]] == rows(
        look, dossier("MCW-VIS-014"), "changes"
    )
    assert "no history" in look.everything(section(look, dossier("LMT-VIS-021"), "Changes"))


def test_the_approval_block_has_names_meanings_and_the_whole_digest(dossier, look, compiled):
    document = dossier("MCW-VIS-014")
    assert "Approval" == look.sections(document)[-1].title
    (table,) = tables(look, document, "approval")
    assert ["Author", "Reviewer", "Approver"] == [look.words(row[0]) for row in table.rows]
    assert ["A. Osei", "R. Lindqvist", "H. Marlow"] == [look.words(row[1]) for row in table.rows]
    for row in table.rows:
        assert ["write", "write"] == [cell.kind for cell in row[2:4]]
        assert look.words(row[4])
    below = look.everything(table.notes)
    assert f"Digest {digest(compiled('MCW-VIS-014').method)}" in below
    assert f"Fillmark {__version__}, " in below


def test_who_is_not_named_signs_with_a_name_in_print(dossier, look):
    (table,) = tables(look, dossier("BBM-VIS-007"), "approval")
    assert "write" == table.rows[2][1].kind


def test_pictures_and_misuse_find_their_place(dossier, look):
    picture = Picture("torque", "Torque", "A bar.", 10.0, 10.0, (), ())
    slips = (
        "viscosity_20",
        (("Sample 1 K too warm", "low", "-2.0 %", "-2.0 %", "-2.0 %", "computed", "Why."),),
    )
    parts = ("viscosity_20", (("instrument", "1 %", "B, rectangular", "1.732", "1", "0.115", "48 %"),))
    document = dossier("MCW-VIS-014", pictures=(picture,), misuse=(slips,), uncertainty=(parts,))
    titles = [s.title for s in look.sections(document)]
    start = titles.index("Figures: report")
    between = [
        "Uncertainty budget: viscosity_20",
        "What a slip does to the result: viscosity_20",
        "Picture: Torque",
        "Figures left open, and why",
    ]
    assert between == titles[start + 1 : start + 5]
    tables = {t.name: t for t in look.blocks(document, "table")}
    assert 7 == len(tables["budget-misuse"].headings) == len(tables["budget-misuse"].rows[0])
    assert 7 == len(tables["budget-uncertainty"].headings) == len(tables["budget-uncertainty"].rows[0])
    assert [picture] == look.blocks(document, "picture")
    plain = [s.title for s in look.sections(dossier("MCW-VIS-014"))]
    assert "Figures left open, and why" == plain[plain.index("Figures: report") + 1]


# --- on paper -----------------------------------------------------------------------------------------------


def test_what_an_author_wrote_is_inert(dossier):
    document = dossier(
        "MCW-VIS-014",
        ("waterborne waste drum", '"<script>alert(1)</script> **bold** {x} <img src=x>"'),
        ("Speed of the index step lowered to 2 rpm.", '"<b>hidden</b>"'),
    )
    html = render(document, paper="A4")
    words = html.replace("\u00a0", " ")
    assert "<script>" not in html
    assert "<img" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt; **bold** {x} &lt;img src=x&gt;" in words
    assert "&lt;b&gt;hidden&lt;/b&gt;" in html


def test_the_same_method_gives_the_same_page(dossier, demo):
    assert render(dossier(demo), paper="A4") == render(dossier(demo), paper="A4")


def test_a_dossier_does_not_run_out_and_has_no_copy_number(dossier):
    assert "" == dossier("MCW-VIS-014").head.valid


@pytest.mark.pdf
@pytest.mark.parametrize("paper", PAPERS)
def test_it_prints_on_many_pages_with_head_and_foot_on_each(dossier, paper, tmp_path):
    made = pdf(render(dossier("MCW-VIS-014"), paper=paper), paper=paper)
    assert made == pdf(render(dossier("MCW-VIS-014"), paper=paper), paper=paper)
    tool = shutil.which("pdftotext")
    if tool is None:
        pytest.skip("pdftotext is not there")
    import subprocess

    (tmp_path / "dossier.pdf").write_bytes(made)
    text = subprocess.run(
        [tool, "-layout", str(tmp_path / "dossier.pdf"), "-"], capture_output=True, text=True, check=True
    ).stdout
    pages = text.rstrip("\f\n").split("\f")
    assert len(pages) > 8
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page
        assert "MCW-VIS-014" in page
        assert "The safety data sheet and local rules" in page


@pytest.mark.pdf
def test_words_longer_than_a_page_still_print(dossier):
    long = "word " * 200 + "x" * 3000  # as long as a text may be
    document = dossier("MCW-VIS-014", ("waterborne waste drum", f'"{long}"'))
    assert pdf(render(document, paper="A4"), paper="A4").startswith(b"%PDF-")


def test_no_cell_is_left_without_words(dossier, demo, look):
    """An empty cell is a place to write in, and nothing else."""
    for table in look.blocks(dossier(demo), "table"):
        for row in table.rows:
            for cell in row:
                assert isinstance(cell, Field) or said(look, cell).strip(), (table.name, row)
