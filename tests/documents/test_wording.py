"""The phrases: all there, all used, each with a source that exists, and values that stay text."""

import json
import re

import pytest

from fillmark.documents import Span
from fillmark.documents.scouting import YIELDS
from fillmark.documents.transfer import NOTHING, PROPERTY, SPRING_ONLY
from fillmark.documents.wording import PhraseError, Phrases, between, narrow, on_paper
from fillmark.locate import PACKAGE, schemas_folder

METHOD = json.loads((schemas_folder() / "method.schema.json").read_text(encoding="utf-8"))


def enum(*path: str) -> list[str]:
    at = METHOD
    for name in path:
        at = at["items"] if name == "[]" else at["properties"][name]
        if "$ref" in at:
            at = METHOD["$defs"][at["$ref"].rsplit("/", 1)[1]]
    return at["enum"]


def wanted(reference) -> list[str]:
    """Phrases whose key is put together from a word of the language or of the reference data."""
    hazards = enum("product", "hazards", "[]")
    places = [where for where in enum("temperature", "conditioning", "where") if where != "none"]
    each = enum("replicates", "each")
    return [
        *(f"hazard-{h}" for h in hazards),
        *(f"agent-{h}" for h in ("flammable", "volatile-solvent", "other")),
        *(f"step-condition-{where}" for where in places),
        *(f"step-condition-covered-{where}" for where in places),
        *(f"loading-{e}" for e in each),
        *(f"step-temperature-{m}" for m in enum("temperature", "measured")),
        *(f"rounding-{r}" for r in enum("report", "[]", "rounding")),
        *(f"comparison-{c}" for c in enum("report", "[]", "comparison")),
        *(f"step-{s}" for s in enum("report", "[]", "statistic")),
        *(f"type-{t}" for t in enum("result_type")),
        *(f"qualifier-guard-{g}" for g in enum("guard")),
        *(f"hold-setup-{g}" for g in enum("guard")),
        *(f"device-guard-{g}" for g in enum("guard") if g != "not-applicable"),
        *(f"form-{kind}" for kind in {s.kind for s in reference.spindles.values()}),
        *(f"step-couple-{key}" for key in reference.couplings),
        *(c.caution for c in reference.couplings.values()),
        *(f"step-travel-{d}" for d in enum("immersion", "direction")),
        *(f"step-clearance-{w}" for w in ("guard", "spindle")),
        *(f"step-oos-verify-{when}{plain}" for when in ("before", "after") for plain in ("", "-plain")),
        *(f"changed-{what}" for what in (*NOTHING, *SPRING_ONLY, *PROPERTY)),
        *(f"card-guard-{g}" for g in ("with", "without", "either", "not-applicable")),
        *(f"bracket-{which}" for which in ("below", "target", "above")),
        *(f"yield-{what}{part}" for what in YIELDS for part in ("", "-how", "-to")),
        *(f"result-{verdict}" for verdict in ("in", "out", "undecided", "none")),
    ]


def test_every_word_of_the_language_has_its_phrase(reference):
    assert [] == [key for key in wanted(reference) if key not in reference.phrases]


def test_every_phrase_is_used(reference):
    folders = (PACKAGE / "documents", PACKAGE / "records")
    code = "\n".join(path.read_text(encoding="utf-8") for f in folders for path in sorted(f.glob("*.py")))
    literal = set(re.findall(r'"([a-z0-9]+(?:-[a-z0-9]+)*)"', code))
    put_together = set(wanted(reference))
    by_prefix = ("section-", "readings-")
    unused = [
        key
        for key in reference.phrases
        if key not in literal and key not in put_together and not key.startswith(by_prefix)
    ]
    assert [] == unused


def test_prefixed_phrases_are_used_too(reference):
    folder = PACKAGE / "documents"
    code = "\n".join(path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.py")))
    for key in reference.phrases:
        for prefix in ("section-", "readings-"):
            if key.startswith(prefix):
                assert f'"{key}"' in code or f'"{key.removeprefix(prefix)}"' in code, key


def test_every_source_of_a_phrase_is_in_the_bibliography(reference):
    sources = {e["source"] for e in reference.phrases.values() if isinstance(e, dict) and "source" in e}
    assert set() == sources - set(reference.sources)


def test_every_caution_has_a_signal_word(reference):
    phrases = Phrases(reference.phrases)
    cautions = [k for k, e in reference.phrases.items() if isinstance(e, dict) and "signal" in e]
    assert len(cautions) > 20
    for key in cautions:
        names = re.findall(r"\{(\w+)\}", reference.phrases[key]["text"])
        made = phrases.caution(key, **dict.fromkeys(names, "x"))
        assert made.signal in ("CAUTION", "WARNING", "NOTICE")
        assert made.text


def test_left_hand_thread_is_told_only_where_the_coupling_has_one(reference):
    for coupling in reference.couplings.values():
        text = reference.phrases[coupling.caution]["text"]
        assert coupling.left_hand_thread == ("left-hand" in text.lower()), coupling.key


def test_bold_is_decided_before_values_are_put_in():
    phrases = Phrases({"key": "Set **{speed}** now"})
    assert (Span("Set "), Span("**5** {rpm}", strong=True), Span(" now")) == phrases.line(
        "key", speed="**5** {rpm}"
    )


def test_a_missing_phrase_says_what_to_do():
    with pytest.raises(PhraseError, match=r"no text under 'step-level'.*replace"):
        Phrases({}).line("step-level")


def test_a_value_that_is_not_given_is_named():
    with pytest.raises(PhraseError, match=r"'step-level'.*\{colour\}.*given: speed"):
        Phrases({"step-level": "{colour}"}).line("step-level", speed="5 rpm")


def test_a_caution_without_a_signal_word_is_refused():
    with pytest.raises(PhraseError, match="signal"):
        Phrases({"mount-own": "Careful."}).caution("mount-own")


@pytest.mark.parametrize(
    ("lower", "upper", "written"),
    [
        ("22.5 °C", "23.5 °C", "22.5–23.5\u00a0°C"),
        ("5.5", "8.0", "5.5–8.0"),
        ("900 mPa·s", "1.1 Pa·s", "900\u00a0mPa·s to 1.1\u00a0Pa·s"),
        ("-0.9 %", "1.1 %", "-0.9\u00a0% to 1.1\u00a0%"),
        ("35000 Pa·s", "65000 Pa·s", "35\u202f000–65\u202f000\u00a0Pa·s"),
    ],
)
def test_a_range_has_its_unit_once(lower, upper, written):
    assert written == between(lower, upper)


@pytest.mark.parametrize(
    ("text", "written"),
    [
        ("10000 mPa·s ± 100 mPa·s", "10\u202f000\u00a0mPa·s ±\u00a0100\u00a0mPa·s"),
        ("< 2 Pa·s", "<\u00a02\u00a0Pa·s"),
        ("1000 mPa·s", "1000\u00a0mPa·s"),
        ("REF-10000", "REF-10000"),
    ],
)
def test_numbers_are_set_for_paper(text, written):
    assert written == on_paper(text)


def test_a_narrow_column_breaks_before_the_unit_alone():
    # A no-break space holds a sign to its number, a word joiner a range together.
    assert "±\u00a00.02 Pa·s" == narrow("±\u00a00.02\u00a0Pa·s")
    assert "22.5\u2060–\u206023.5 °C" == narrow("22.5–23.5\u00a0°C")
