"""Every kind of bad input at stage 2: which code, on which line, and the help it gives."""

import pytest

PAINT = "MCW-VIS-014"


def found(compiled, *changes):
    return [(d.code, d.path) for d in compiled(PAINT, *changes).diagnostics]


def only(compiled, *changes):
    """Give the one diagnostic an edit brings."""
    diagnostics = compiled(PAINT, *changes).diagnostics
    assert 1 == len(diagnostics), [(d.code, d.message) for d in diagnostics]
    return diagnostics[0]


def test_an_unknown_key_is_told_at_the_key_with_the_nearest(compiled):
    d = only(compiled, ("  age: 24 h ± 2 h", "  agee: 24 h ± 2 h"))
    assert ("SCH01", ("sample", "agee")) == (d.code, d.path)
    assert ("Did you mean age?",) == d.ways_out
    assert 3 == d.span.column


def test_a_misspelt_required_key_is_one_finding_not_two(compiled):
    assert [("SCH01", ("titel",))] == found(compiled, ("title: Apparent", "titel: Apparent"))


def test_a_key_too_many_where_all_stand_says_so(compiled):
    d = only(compiled, ("reason: Speed", "zzz: 1, reason: Speed"))
    assert ("SCH01", ("changes", 0, "zzz")) == (d.code, d.path)
    assert ("All keys that may stand here do so already: take it out.",) == d.ways_out


@pytest.mark.parametrize(("written", "meant"), [("4.0", "Write 4."), ("4e1", "Write 40.")])
def test_a_whole_number_is_written_without_a_point(compiled, written, meant):
    d = only(compiled, ("revision: 3\n", f"revision: {written}\n"))
    assert ("SCH03", ("revision",)) == (d.code, d.path)
    assert (meant,) == d.ways_out


def test_a_missing_key_names_it_and_gives_an_example(compiled):
    d = only(compiled, ("  measured: in-sample\n", ""))
    assert ("SCH02", ("temperature",)) == (d.code, d.path)
    assert "measured" in d.message
    assert d.ways_out[0].startswith("measured: Where the temperature is measured.")


def test_a_list_where_a_text_belongs(compiled):
    d = only(compiled, ("title: Apparent viscosity of matt wall paint", "title: [a, b]"))
    assert "SCH03" == d.code
    assert "a list" in d.message
    assert "a text" in d.message


def test_a_word_that_is_no_choice_gives_the_nearest(compiled):
    d = only(compiled, ("guard: required", "guard: requird"))
    assert "SCH04" == d.code
    assert "Did you mean required?" == d.ways_out[0]


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ("density: 1.42", "1.42 has no unit"),
        ("density: 1,42 g/mL", "decimal comma"),
        ("density: 1.42 g/mL/K", "/K"),
        ("density: 1.42 Pa·s", "Pa·s"),
        ("density: about 1.42 g/mL", "about"),
    ],
)
def test_a_quantity_that_cannot_be_read(compiled, wrong, says):
    d = only(compiled, ("density: 1.42 g/mL", wrong))
    assert ("QTY01", ("product", "density")) == (d.code, d.path)
    assert says in d.message
    assert d.ways_out


def test_a_decimal_comma_gives_the_right_spelling(compiled):
    d = only(compiled, ("density: 1.42 g/mL", "density: 1,42 g/mL"))
    assert any("1.42 g/mL" in way for way in d.ways_out)


@pytest.mark.parametrize("wrong", ["speed: 0 rpm", "speed: 200000 rpm"])
def test_a_speed_no_bench_has(compiled, wrong):
    d = only(compiled, ("speed: 20 rpm", wrong))
    assert ("QTY02", ("run", 1, "speed")) == (d.code, d.path)
    assert "0.0001 to 10000 rpm" in d.message


def test_an_unknown_name_gives_the_nearest_and_what_there_is(compiled):
    d = only(compiled, ("container: beaker-600-low-form", "container: beaker-600-lowform"))
    assert "NAM01" == d.code
    assert "Did you mean beaker-600-low-form?" == d.ways_out[0]
    assert "jar-63" in d.ways_out[1]


def test_a_date_outside_the_calendar(compiled):
    d = only(compiled, ("effective: 2026-12-01", "effective: 2026-02-30"))
    assert ("SCH06", ("effective",)) == (d.code, d.path)


def test_an_unreadable_date(compiled):
    assert [("SCH06", ("effective",))] == found(compiled, ("effective: 2026-12-01", "effective: 1 Dec 2026"))


def test_all_problems_of_a_file_come_at_once(compiled):
    assert {"SCH01", "SCH03", "SCH04", "QTY01", "NAM01"} == {
        code
        for code, _ in found(
            compiled,
            ("  age: 24 h", "  agee: 24 h"),
            ("revision: 3\n", "revision: three\n"),
            ("guard: required", "guard: on"),
            ("density: 1.42 g/mL", "density: 1,42 g/mL"),
            ("spindle: R5", "spindle: R55"),
        )
    }


def test_an_own_container_lacking_numbers_says_which(compiled):
    d = only(
        compiled, ("container: beaker-600-low-form", "container: {label: our jar, kind: pack, height: 90 mm}")
    )
    assert ("SCH02", ("container",)) == (d.code, d.path)
    assert "inside_diameter" in d.message


def test_the_rule_code_of_a_waiver_has_its_form(compiled):
    reason = "it has always been so in this laboratory"
    waiver = f"waivers: [{{rule: guard, reason: {reason}, approved_by: X, expires: 2027-01-01}}]"
    changes = ("retention: 10 years", f"retention: 10 years\n{waiver}")
    assert [("SCH05", ("waivers", 0, "rule"))] == found(compiled, changes)


@pytest.mark.parametrize("increment", ["0", "-0.1"])
def test_an_increment_of_nothing(compiled, increment):
    d = only(compiled, ("increment: 0.1, rounding", f"increment: {increment}, rounding"))
    assert ("SCH05", ("report", 1, "increment")) == (d.code, d.path)
    assert "too small" in d.message
