"""The competency form: questions and answers of this method, what is watched, and what has to be measured."""

import re
from dataclasses import replace

import pytest

from fillmark.build import slips
from fillmark.digest import digest
from fillmark.documents.competency import (
    Marks,
    faults,
    marks,
    plan_competency,
    questions,
    watched,
    worked_reading,
)
from fillmark.documents.wording import Phrases
from fillmark.render import render


@pytest.fixture(scope="module")
def form(compiled):
    """Plan the competency form of a demonstration method with edits."""

    def plan(method, *changes, **more):
        one = compiled(method, *changes)
        budget = slips(one.method, one.figures)
        return plan_competency(one.method, one.figures, digest(one.method), budget, **more)

    return plan


@pytest.fixture(scope="module")
def asked(compiled):
    """Ask the questions of a demonstration method with edits, by key."""

    def ask(method, *changes):
        one = compiled(method, *changes)
        phrases = Phrases(one.method.reference.phrases)
        budget = slips(one.method, one.figures)
        return {q.key: q for q in questions(one.method, one.figures, phrases, budget)}

    return ask


def table(look, document, name):
    (found,) = (b for b in look.blocks(document, "table") if b.name == name)
    return found


def test_ten_questions_three_of_them_mandatory(asked, form, look, demo):
    found = asked(demo)
    assert 10 == len(found)
    assert ["multiply", "above", "correct"] == [k for k, q in found.items() if q.mandatory]
    rows = table(look, form(demo), "questions").rows
    assert [str(n) for n in range(1, 11)] == [look.words(row[0]) for row in rows]
    assert [True] * 3 + [False] * 7 == ["MANDATORY" in look.words(row[1]) for row in rows]
    assert {"write"} == {row[2].kind for row in rows}


def test_a_bare_method_still_has_ten(asked, edited):
    text = edited("TGF-VIS-003").decode()
    block = text[text.index("verification:") : text.index("report:")]
    found = asked("TGF-VIS-003", (block, ""), ("behaviour: yield-stress", "behaviour: newtonian"))
    assert 10 == len(found)
    assert "fluid" not in found


def test_the_answers_stand_on_the_assessors_page_alone(form, asked, look, demo):
    document = form(demo)
    assert ["Assessor's page: answers. Do not hand out"] == [s.title for s in document.sides[-1].sections]
    answers = [look.words(row[2]) for row in table(look, document, "answers").rows]
    assert [look.words(q.answer) for q in asked(demo).values()] == answers
    before = "\n".join(look.everything(side) for side in document.sides[:-1])
    for answer in answers:
        assert answer not in before


@pytest.mark.parametrize(
    ("method", "torque", "answer"),
    [
        # A third of the way from lower to upper torque, to the step of the readout, times the factor. By hand:
        ("MCW-VIS-014", "46.7 %", "9.34 Pa·s"),  # 40 + 20/3; times 0.2
        ("BBM-VIS-007", "46 %", "368 mPa·s"),  # 37.5 + 25/3 to half a percent; times 8
        ("LMT-VIS-021", "45 %", "90 Pa·s"),  # 35 + 10; times 2
        ("QAP-VIS-002", "46.7 %", "23.35 Pa·s"),  # times 0.5
        ("TGF-VIS-003", "41.7 %", "8.34 Pa·s"),  # 35 + 20/3; times 0.2
    ],
)
def test_the_sum_is_right(asked, look, compiled, method, torque, answer):
    one = compiled(method)
    question = asked(method)["multiply"]
    assert torque in look.words(question.text)
    assert look.words(question.answer).endswith(f"= {answer}")
    step = next(s for s in one.method.run if one.method.limit(s.name) is not None)
    assert (torque, answer) == worked_reading(one.method, one.figures, step)


@pytest.mark.parametrize(
    ("method", "key", "words"),
    [
        ("MCW-VIS-014", "warm", r"low \(-2\.0 %\)"),
        ("TGF-VIS-003", "warm", r"low \(-3\.0 %\)"),
        ("BBM-VIS-007", "guard", r"low \(-20 to 0 %, from memory\)"),
        ("TGF-VIS-003", "guard", "reads high"),
        ("TGF-VIS-003", "container", r"reads high \(\+3\.7 %, estimate\)"),
        ("MCW-VIS-014", "deep", "reads high"),
        ("MCW-VIS-014", "zero", r"\+2\.5 % at the lower limit"),  # 1 of 40 % of torque
        ("MCW-VIS-014", "early", "reads high.*the other way"),
        ("MCW-VIS-014", "above", "> 20 Pa·s"),
        ("MCW-VIS-014", "below", "< 2 Pa·s"),
        ("BBM-VIS-007", "above", "> 800 mPa·s"),
        ("BBM-VIS-007", "below", "< 80 mPa·s"),
        ("MCW-VIS-014", "correct", "one line through it, still readable"),
        ("LMT-VIS-021", "fluid", "97–103 Pa·s"),
    ],
)
def test_the_answers_are_those_of_the_method(asked, look, method, key, words):
    assert re.search(words, look.words(asked(method)[key].answer))


def test_the_answers_follow_the_method(asked, look):
    assert "low (-4.0 %)" in look.words(asked("MCW-VIS-014", ("2.0 %/K", "4.0 %/K"))["warm"].answer)


def test_nobody_is_asked_about_a_guard_that_does_not_exist(asked, form, look):
    for method in ("QAP-VIS-002", "LMT-VIS-021"):
        assert "guard" not in asked(method)
        assert "guard" not in look.everything(table(look, form(method), "trial fault")).lower()


def test_a_weak_reading_lies_under_the_floor(asked, look, compiled, demo):
    floor = compiled(demo).method.reference.policy["torque_floor"]
    torque = re.search(r"reads ([\d.]+) %", look.words(asked(demo)["below"].text))[1]
    assert ("7", True) == (torque, float(torque) < floor)


def test_a_range_that_voids_the_run_is_answered_so(asked, look):
    found = asked("QAP-VIS-002", ("below_range: stated", "below_range: void"))
    assert "VOID" in look.words(found["below"].answer)


def test_what_is_watched_has_the_numbers_of_the_checklist(form, checklist, look, demo):
    steps = {str(s.number): look.words(s.text) for s in look.steps(checklist(demo))}
    rows = table(look, form(demo), "observed").rows
    numbered = [row for row in rows if look.words(row[0]) in steps]
    assert len(rows) - 1 == len(numbered)
    for row in numbered:
        assert steps[look.words(row[0])] in (look.words(row[1]), "")
    assert {("tick", "tick", "tick")} == {tuple(f.kind for f in row[3:]) for row in rows}


@pytest.mark.parametrize(
    ("method", "words"),
    [
        (
            "MCW-VIS-014",
            ["guard is at hand", "Fit the guard", "to the mark", "left-hand thread", "no spindle on"],
        ),
        ("TGF-VIS-003", ["without it", "to the mark", "Read the torque", "box"]),
        ("QAP-VIS-002", ["Hang the spindle on", "cover above", "Take the spindle off"]),
        ("LMT-VIS-021", ["start depth", "second container", "Average the torque"]),
        ("BBM-VIS-007", ["lock", "Read straight on", "in the sample"]),
    ],
)
def test_the_critical_items_are_those_of_the_method(form, look, method, words):
    rows = table(look, form(method), "observed").rows
    critical = [look.words(row[1]) for row in rows if look.words(row[2]) == "CRITICAL"]
    for word in words:
        assert any(word in text for text in critical), word
    assert 0 < len(critical) < len(rows)


def test_the_blind_fluid_has_its_band_and_range(form, look, compiled, demo):
    figures = compiled(demo).figures
    document = form(demo)
    text = look.everything(look.section(document, "Performance"))
    # Value of the certificate ± (1 or 2 % of full scale + its uncertainty), and 1 % of full scale; by hand:
    band, one_percent = {
        "MCW-VIS-014": ("9.7–10.3 Pa·s", "0.200 Pa·s"),
        "BBM-VIS-007": ("289–311 mPa·s", "8.00 mPa·s"),
        "LMT-VIS-021": ("97–103 Pa·s", "2.00 Pa·s"),
        "QAP-VIS-002": ("28.7–31.3 Pa·s", "0.500 Pa·s"),
        "TGF-VIS-003": ("9.7–10.3 Pa·s", "0.200 Pa·s"),
    }[demo]
    assert band in text
    assert f"≤ 1 % of torque (of full scale, here {one_percent})" in text
    assert figures.text("verification.torque_upper") in text
    assert figures["verification.full_scale"].value / 100 == pytest.approx(
        float(one_percent.split()[0]) * (1e-3 if "mPa" in one_percent else 1)
    )


def test_a_fluid_run_on_another_spindle_says_so(form, look):
    text = look.everything(look.section(form("LMT-VIS-021"), "Performance"))
    assert "at 5 rpm, spindle R6, 600 mL low-form beaker, guard on and 25.0 °C ± 0.1 K" in text


def test_retain_over_range_and_fault_are_there(form, look):
    text = look.everything(look.section(form("MCW-VIS-014"), "Performance"))
    for words in (
        "Six loadings over at least 2 days",
        "repeatability of the method, 1.5 %",
        "viscosity_2, 2 rpm: > 200 Pa·s",
        "viscosity_20, 20 rpm: > 20 Pa·s",
        "Guard not fitted",
        "Sample outside 22.5–23.5 °C",
        "Zero outside 0 ± 0.5 %",
        "Spindle R4 keyed in",
    ):
        assert words in text, words


def test_a_dial_has_nothing_to_key_in(form, look):
    assert "keyed in" not in look.everything(table(look, form("BBM-VIS-007"), "trial fault"))


def test_validity_is_the_methods_else_the_sites(form, look):
    own = look.everything(
        look.section(form("MCW-VIS-014", ("valid: 24 months", "valid: 18 months")), "Decision")
    )
    site = look.everything(look.section(form("MCW-VIS-014", (", valid: 24 months", "")), "Decision"))
    assert "Valid 18 months" in own
    assert "Valid 24 months" in site
    for text in (own, site):
        for words in ("6 months", "4: may train", "geometry or calculation", "Assessor, level 3", "Quality"):
            assert words in text, words


def test_the_form_is_no_training_paper_and_draft_is_marked(form, demo):
    head = form(demo).head
    assert () == head.across
    assert (demo == "BBM-VIS-007") == (head.draft == "DRAFT")


def test_what_an_author_wrote_is_inert(form):
    html = render(
        form(
            "MCW-VIS-014",
            (
                "Stir 30 turns in 30 s with a wide spatula; draw no air in.",
                "Stir <script>alert(1)</script> **well**.",
            ),
            ("disposal: waterborne waste drum", 'disposal: "<b>drum</b> {{7*7}} **x**"'),
        )
    )
    assert "<script" not in html
    assert "&lt;b&gt;drum&lt;/b&gt; {{7*7}} **x**" in html


def test_the_same_method_gives_the_same_bytes(form):
    assert render(form("MCW-VIS-014")) == render(form("MCW-VIS-014"))


def test_the_marks_on_the_form_are_those_of_the_site_policy(compiled, look):
    one = compiled("MCW-VIS-014")
    policy = one.method.reference.policy
    # As shipped: 8 right, 2 prompted, 1 % of full scale, 2 days, 1.5 times, level 3, 2 attempts, 24 and 6 months.
    assert Marks(8, 2, "1 % of full scale", 2, 1.5, 3, 2, "24 months", "6 months") == marks(one.method)
    values = {
        **policy.values,
        "competency_right": 9.0,
        "competency_spread": 1.25,
        "competency_fluid_range": 0.5,
    }
    texts = {**policy.texts, "competency_fluid_range": "0.5 % of full scale", "competency_unused": "3 months"}
    changed = replace(
        one.method,
        reference=replace(one.method.reference, policy=replace(policy, values=values, texts=texts)),
    )
    form = plan_competency(changed, one.figures, digest(changed), slips(one.method, one.figures))
    text = look.everything(form)
    for words in (
        "at least 9 of 10 right", "pass: 9 of 10", "≤ 0.5 % of torque", "here 0.100 Pa·s", "at most 1.25 times",
        "3 months without a run",
    ):  # fmt: skip
        assert words in text, words


def test_what_is_watched_and_planted_has_a_key_of_its_own(compiled, demo):
    one = compiled(demo)
    phrases = Phrases(one.method.reference.phrases)
    items = watched(one.method, one.figures, phrases, digest(one.method))
    assert len(items) == len({item.key for item in items})
    assert [f"step-{item.number}" for item in items[:-1]] == [item.key for item in items[:-1]]
    assert ("records", False) == (items[-1].key, items[-1].critical)
    planted = faults(one.method, one.figures, phrases, slips(one.method, one.figures))
    assert {"temperature", "zero", "revision"} <= set(planted)
    assert ("guard-off" in planted) == (one.method.guard == "required")
