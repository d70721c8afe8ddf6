"""Hazards, cleaning, training and records."""

import pytest

from fillmark.diagnostics import Severity

PAINT, GEL, STARCH, SAUCE = "MCW-VIS-014", "QAP-VIS-002", "BBM-VIS-007", "TGF-VIS-003"
AGENT = "agent: warm water"


@pytest.fixture
def handling(compiled):
    """Give the findings of this topic only."""
    return lambda method, *changes: [
        d for d in compiled(method, *changes).diagnostics if d.code.startswith("SAF")
    ]


@pytest.mark.parametrize(
    ("target", "hazards", "expected"),
    [
        ("59.9 °C ± 0.1 °C", "[]", []),
        ("60.0 °C ± 0.1 °C", "[]", ["SAF01"]),
        ("60.0 °C ± 0.1 °C", "[hot]", []),
        ("150 °C ± 0.1 °C", "[cold]", ["SAF01"]),
        ("-19.9 °C ± 0.1 °C", "[]", []),
        ("-20.0 °C ± 0.1 °C", "[]", ["SAF01"]),
        ("-20.0 °C ± 0.1 °C", "[cold]", []),
    ],
)
def test_hot_and_cold_are_declared(target, hazards, expected, handling):
    changes = [("target: 25.0 °C ± 0.1 °C", f"target: {target}")]
    if hazards != "[]":
        changes.append(("hazards: []", f"hazards: {hazards}"))
    assert expected == [d.code for d in handling(GEL, *changes)]


# 23.0 + 0.5 °C is the warmest; 10 K of margin asks for a flash point of 33.5 °C.
@pytest.mark.parametrize(
    ("flash", "expected", "told"),
    [
        ("61 °C", [], None),
        ("33.5 °C", [], None),
        ("33.4 °C", ["SAF02"], "9.9 K below its flash point"),
        ("23.0 °C", ["SAF02"], "0.5 K above its flash point"),
        ("-10 °C", ["SAF02"], "33.5 K above its flash point"),
    ],
)
def test_the_distance_to_the_flash_point(flash, expected, told, handling):
    found = handling(
        PAINT, ("hazards: [irritant]", f"hazards: [irritant, flammable]\n  flash_point: {flash}")
    )
    assert expected == [d.code for d in found]
    if told is not None:
        assert told in found[0].message


@pytest.mark.parametrize(
    ("agent", "expected"),
    [
        ("agent: warm water", []),
        ("agent: detergent, alcohol-free", []),
        ("agent: warm water, no solvent, never acetone", []),
        ("agent: sodium hydroxide solution, agent_hazards: [alkali]", []),
        ("agent: acetone", ["SAF03"]),
        ("agent: Propan-2-ol", ["SAF03"]),
        ("agent: white spirit then soap", ["SAF03"]),
        ("agent: 20 % ethanol in water", ["SAF03"]),
        ("agent: water and then acetone, agent_hazards: [irritant]", ["SAF03"]),
        ("agent: acetone, agent_hazards: [flammable]", []),
        ("agent: toluene, agent_hazards: [toxic, volatile-solvent]", []),
        ("agent: lemon ethanolamide soap", []),
    ],
)
def test_a_solvent_that_burns_is_declared(agent, expected, handling):
    head, _, rest = agent.partition(", agent_hazards")
    name = head.removeprefix("agent: ")
    wrong = f'agent: "{name}"' + (f", agent_hazards{rest}" if rest else "")
    changes = () if agent == AGENT else ((AGENT, wrong),)
    assert expected == [d.code for d in handling(PAINT, *changes)]


def test_safety_is_never_waivable(handling):
    from fillmark.rules import all_rules

    assert {"SAF01", "SAF02", "SAF03"} == {
        r.code for r in all_rules() if r.topic == "handling" and not r.waivable
    }


def test_cleaning_without_an_agent_is_one_finding(handling):
    (found,) = handling(PAINT, ("{agent: warm water, disposal: waterborne waste drum}", "{disposal: drum}"))
    assert "SAF04" == found.code
    assert ("cleaning",) == found.path


def test_in_process_and_development_ask_for_less(handling):
    changes = (("training: {level: 1, valid: 24 months}\n", ""), ("retention: 1 year\n", ""))
    assert [] == handling(STARCH, *changes)
    stability = ("purpose: in-process", "purpose: stability")
    assert ["SAF06", "SAF08"] == sorted(d.code for d in handling(STARCH, *changes, stability))


@pytest.mark.parametrize(
    ("valid", "expected"), [("24 months", []), ("2 years", []), ("12 months", []), ("25 months", ["SAF07"])]
)
def test_how_long_training_holds(valid, expected, handling):
    changes = () if valid == "24 months" else (("valid: 24 months", f"valid: {valid}"),)
    assert expected == [d.code for d in handling(PAINT, *changes)]


@pytest.mark.parametrize(
    ("behaviour", "speed", "expected"),
    [
        ("yield-stress", "99 rpm", []),
        ("yield-stress", "100 rpm", ["SAF09"]),
        ("thixotropic", "150 rpm", ["SAF09"]),
        ("shear-thinning", "150 rpm", []),
        ("newtonian", "150 rpm", []),
    ],
)
def test_fast_turning_of_a_product_with_structure(behaviour, speed, expected, handling):
    changes = [("speed: 10 rpm", f"speed: {speed}")]
    if behaviour != "yield-stress":
        changes.append(("behaviour: yield-stress", f"behaviour: {behaviour}"))
    found = handling(SAUCE, *changes)
    assert expected == [d.code for d in found]
    assert all(d.severity == Severity.ADVICE for d in found)


def test_a_fast_preshear_counts_too(handling):
    shear = ("speed: 10 rpm, ", "speed: 10 rpm, preshear: {speed: 120 rpm, time: 30 s}, ")
    (found,) = handling(SAUCE, shear)
    assert ("run", 0, "preshear", "speed") == found.path


@pytest.mark.parametrize(
    ("target", "message", "way"),
    [
        ("65.0 °C", "5 K above the bound; from 60 °C on", "Or test below 60 °C."),
        ("-23.0 °C", "3 K below the bound; from -20 °C down", "Or test above -20 °C."),
    ],
)
def test_what_is_hot_or_cold_is_said_with_its_bound(target, message, way, handling):
    found = handling(GEL, ("target: 25.0 °C ± 0.1 °C", f"target: {target} ± 0.1 °C"))
    (one,) = [d for d in found if d.code == "SAF01"]
    assert message in one.message.replace("−", "-")
    assert way == one.ways_out[1].replace("−", "-")


def test_the_temperature_that_is_far_enough_from_the_flash_point(handling):
    # 30 - 10 - 0.5 °C
    (one,) = handling(PAINT, ("hazards: [irritant]", "hazards: [irritant, flammable]\n  flash_point: 30 °C"))
    assert "Test at 19.5 °C or colder, with ± 0.5 °C." == one.ways_out[0]
    assert "10 K below is the least" in one.message


def test_a_cleaning_without_agent_is_asked_for_the_agent_first(handling):
    found = handling(
        PAINT, ("{agent: warm water, disposal: waterborne waste drum}", "{agent_hazards: [alkali]}")
    )
    assert ["SAF04"] == [d.code for d in found]


def test_how_much_too_long_training_holds(handling):
    (one,) = handling(PAINT, ("valid: 24 months", "valid: 30 months"))
    assert "6 months longer than the 24 months the site allows" in one.message
    assert "Write valid: 24 months." == one.ways_out[0]


def test_a_product_of_unknown_behaviour_may_climb_or_not(not_judged):
    assert ["it is not known how the product flows"] == not_judged(
        "SAF09", SAUCE, ("behaviour: yield-stress", "behaviour: unknown")
    )
