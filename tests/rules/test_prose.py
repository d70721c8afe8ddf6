"""Free text against the parameters: what contradicts, what repeats, and the many numbers that do neither."""

import re

import pytest

from fillmark.rules.prose import _distance

PAINT, GEL, STARCH, CREAM, SAUCE = "MCW-VIS-014", "QAP-VIS-002", "BBM-VIS-007", "LMT-VIS-021", "TGF-VIS-003"


@pytest.fixture
def prose(compiled):
    """Give the findings of this topic only."""
    return lambda method, *changes: [
        d for d in compiled(method, *changes).diagnostics if d.code.startswith("PRO")
    ]


@pytest.fixture
def noted(prose, edited):
    """Give the findings of this topic where the note of a method reads so."""

    def found(method: str, text: str, *changes: tuple[str, str]):
        note = re.search(r"  why: \|\n(?:    .*\n)+", edited(method).decode())
        assert note is not None
        return prose(method, (note[0], f"  why: |\n    {text}\n"), *changes)

    return found


@pytest.fixture
def prepared(prose, edited):
    """Give the findings of this topic where the preparation of a method reads so."""

    def found(method: str, text: str, *changes: tuple[str, str]):
        preparation = re.search(r"  preparation: \|\n(?:    .*\n)+", edited(method).decode())
        assert preparation is not None
        return prose(method, (preparation[0], f"  preparation: |\n    {text}\n"), *changes)

    return found


# --- numbers that are none of ours ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("method", "text"),
    [
        (PAINT, "At 60 rpm the paint would splash."),
        (PAINT, "Above 50 rpm the paint climbs the shaft."),
        (PAINT, "Speeds of 20 to 30 rpm read alike."),
        (PAINT, "20-30 rpm read alike."),
        (PAINT, "Between 10 and 30 rpm the paint thins by half."),
        (PAINT, "Stir at 300 rpm with a paddle for 2 min before the pot is opened."),
        (PAINT, "The old revision read at 30 s and at 10 rpm."),
        (PAINT, "Do not read at 30 s."),
        (PAINT, "Never read before 60 s have gone."),
        (PAINT, "Unlike here, others read at 30 s."),
        (PAINT, "A reading at 30 s could be 5 % high."),
        (PAINT, "Store retained samples at 5 °C for 30 d."),
        (PAINT, "Wash at 40 °C."),
        (PAINT, "A sample warmer by 2 °C reads low by 4 %."),
        (PAINT, "The reference fluid is certified at 25 °C."),
        (PAINT, "The temperature is read after 5 min in the bath."),
        (PAINT, "Readings 5 min apart differ by 2 %."),
        (PAINT, "Repeat the reading no later than 10 min after the first."),
        (PAINT, "If the reading drifts by more than 2 % in 30 s, note it."),
        (PAINT, "The timer starts with the motor, 5 s early is a fault."),
        (PAINT, "A test takes 25 min in all."),
        (PAINT, "The paint keeps for 2 years; results are kept longer."),
        (PAINT, "The pigment is 1 % of the paint and 63 mm jars are common."),
        (PAINT, "A spindle 3 mm too deep reads high."),
        (PAINT, "A guard bent by 2 mm reads low."),
        (PAINT, "Hold the thermometer at 20 mm from the wall."),
        (PAINT, "The customer takes 9.0 Pa·s as typical."),
        (PAINT, "It rests on its shelf for 24 h."),
        (CREAM, "The jar holds 150 mL of cream, 55 mm deep."),
        (CREAM, "At each turn the bar cuts fresh cream; 22 mm/min is the travel of the stand."),
        (GEL, "A gel of 1 % carbomer has air in it; 500 g for 3 min takes it out."),
        (STARCH, "The glue gels at 60 °C; the machine runs at 200 m/min."),
        (STARCH, "A reading of 37 % to 63 % is in the middle of the dial."),
        (STARCH, "Lock the pointer for 2 s and read it at eye level."),
        (STARCH, "The thermometer is read to 0.1 °C."),
        (SAUCE, "Seeds of 3 mm pass a disc; at 63 mm the wall of the jar shows."),
    ],
)
def test_a_note_may_speak_of_other_numbers(method, text, noted):
    assert [] == noted(method, text)


@pytest.mark.parametrize(
    ("method", "text"),
    [
        (PAINT, "Stir 30 turns in 30 s with a wide spatula; draw no air in."),
        (STARCH, "Stir 30 turns in 30 s."),  # read after 30 s
        (
            SAUCE,
            "Pour slowly down the wall, 500 mL in 60 s; do not stir and do not shake.",
        ),  # filled with 500 mL
        (SAUCE, "Pour in 30 s, 10 turns to the left and 10 to the right."),  # read after 30 s at 10 rpm
        (STARCH, "Draw 600 mL from the circulation into the warmed beaker; skim; do not stir."),
        (STARCH, "Fill a 600 mL beaker."),
        (GEL, "Spin at 500 g for 3 min; fill the chamber by weight from a wide syringe."),
        (GEL, "Spin at 3000 rpm for 10 min in the centrifuge."),
        (PAINT, "Warm 500 mL to 25 °C in the bath and stir at 100 rpm for 5 min."),
        (PAINT, "Take 3 tins of 2.5 L each and blend for 20 min at 60 rpm."),
        (CREAM, "Open the jar 1 min before the run; do not stir, shake or press."),
    ],
)
def test_preparation_has_numbers_of_its_own(method, text, prepared):
    assert [] == prepared(method, text)


def test_a_number_in_a_title_or_a_history_is_left_alone(prose):
    assert [] == prose(GEL)  # Carbomer gel 1 %
    assert [] == prose(PAINT)  # lowered to 2 rpm
    assert [] == prose(
        PAINT, ("Speed of the index step lowered to 2 rpm.", "Reading moved from 30 s, speed from 10 rpm.")
    )


# --- numbers that are -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Read at 10 rpm.", "run.viscosity_20.speed"),
        ("Set the speed to 3 rpm.", "run.viscosity_2.speed"),
        ("At 50 rpm the paint flows.", "run.viscosity_20.speed"),
        ("Read after 30 s.", "run.viscosity_20.read_at"),
        ("Read after thirty seconds.", "run.viscosity_20.read_at"),
        ("Take the value after six revolutions.", "run.viscosity_2.revolutions"),
        ("Read after 12 turns.", "run.viscosity_20.revolutions"),
        ("In viscosity_2 read after 60 s.", "run.viscosity_2.read_at"),
        ("Measure in the sample at 25 °C.", "temperature.target"),
        ("Test at 23.6 °C.", "temperature.target"),
        ("Condition for 90 min.", "temperature.conditioning.time"),
        ("Keep it in the water bath for 2 h.", "temperature.conditioning.time"),
        ("Let it rest 10 min.", "sample.rest"),
        ("After a rest of 2 minutes go on.", "sample.rest"),
        ("The upper limit is 12.5 Pa·s.", "specification.viscosity_20.upper"),
        (
            "The limits are 8.0 and 12000 mPa·s, the target is 9000 mPa·s.",
            "specification.viscosity_20.target",
        ),
        ("Keep 10 mm clearance to the bottom.", "immersion.bottom_clearance"),
    ],
)
def test_a_contradiction_names_the_parameter(text, name, noted):
    found = [d for d in noted(PAINT, text) if d.code == "PRO01"]
    assert 1 == len(found)
    assert f"{name} is " in found[0].message
    assert f"Write {{{{{name}}}}} in the text" in found[0].ways_out[0]
    assert ("notes", "why") == found[0].path


@pytest.mark.parametrize(
    ("text", "name", "prints"),
    [
        ("Read at 20 rpm.", "run.viscosity_20.speed", "20 rpm"),
        ("Read after 60 s.", "run.viscosity_20.read_at", "60 s"),
        ("Read after 1 minute.", "run.viscosity_20.read_at", "60 s"),
        ("Read after sixty seconds.", "run.viscosity_20.read_at", "60 s"),
        ("Read the slow step after five revolutions.", "run.viscosity_2.revolutions", "5 revolutions"),
        ("Read after five full turns.", "run.viscosity_2.revolutions", "5 revolutions"),
        ("Measure at 23 °C.", "temperature.target", "23.0 °C ± 0.5 °C"),
        ("Measure at 23.0 °C ± 0.5 °C.", "temperature.target", "23.0 °C ± 0.5 °C"),
        ("Condition for 3.5 h.", "temperature.conditioning.time", "210 min"),
        ("Let it rest for 5 minutes.", "sample.rest", "5 min"),
        ("The upper limit is 12000 mPa·s.", "specification.viscosity_20.upper", "12.0 Pa·s"),
    ],
)
def test_a_repetition_shows_the_placeholder(text, name, prints, noted):
    (found,) = noted(PAINT, text)
    assert "PRO02" == found.code
    assert f"Write {{{{{name}}}}} in the text: it prints {prints}." == found.ways_out[0]
    # What is advised is silent.
    assert [] == noted(PAINT, f"Take {{{{{name}}}}} as it stands.")


@pytest.mark.parametrize(
    ("method", "text", "expected"),
    [
        (PAINT, "Stir 30 turns in 30 s with a wide spatula, then rest 10 min.", ["PRO01"]),
        (PAINT, "Stir 30 turns; rest for 5 minutes.", ["PRO02"]),
        (PAINT, "Fill 400 mL into the beaker.", ["PRO01"]),
        (PAINT, "Fill in 505 mL.", []),  # within ± 10 mL
        (PAINT, "Fill the beaker with 500 mL.", ["PRO02"]),
        (GEL, "Weigh 10 g into the chamber.", ["PRO01"]),
    ],
)
def test_preparation_may_still_contradict(method, text, expected, prepared):
    assert expected == [d.code for d in prepared(method, text)]


# 60 s at 2 rpm are 2 revolutions, five take 150 s; at 20 rpm 60 s are 20.
def test_the_paint_read_sooner_while_the_note_keeps_five_revolutions(noted):
    sooner = ("speed: 2 rpm, read: {after: 150 s}", "speed: 2 rpm, read: {after: 60 s}")
    (found,) = noted(PAINT, "Read the slow step after five revolutions.", sooner)
    assert "PRO01" == found.code
    for part in (
        "five revolutions (150 s at 2 rpm)",
        "run.viscosity_2.revolutions is 2 revolutions",
        "2.5 times",
    ):
        assert part in found.message
    # The digital spring has long come to rest; what differs is the product.
    assert "further broken down and reads low" in found.message
    assert "the spring itself has come to" in found.message


def test_a_speed_in_the_clause_chooses_the_step(noted):
    found = noted(PAINT, "At 2 rpm read after 60 s.")
    assert ["PRO01", "PRO02"] == sorted(d.code for d in found)
    (contradiction,) = [d for d in found if d.code == "PRO01"]
    assert "run.viscosity_2.read_at is 150 s" in contradiction.message


# --- braces ---------------------------------------------------------------------------------------------


def test_the_nearest_name_is_offered(noted):
    (found,) = noted(PAINT, "See {{run.viscosity_20.sped}}.")
    assert "PRO03" == found.code
    assert "Write {{run.viscosity_20.speed}}: it prints 20 rpm." == found.ways_out[0]


def test_a_figure_that_is_open_says_why(noted):
    steady = ("read: {after: 60 s}", "read: {steady: {change: 0.2 %, over: 15 s, at_most: 300 s}}")
    (found,) = noted(PAINT, "Read at {{run.viscosity_20.read_at}}.", steady)
    assert "PRO03" == found.code
    assert "read once steady" in found.message


def test_braces_are_closed(noted):
    (found,) = noted(PAINT, "See {{run.viscosity_20.speed}.")
    assert "PRO03" == found.code
    assert [] == noted(PAINT, "Curly {brackets} are no names.")


def test_a_title_may_ask_for_a_value_too(prose):
    (found,) = prose(PAINT, ("title: Apparent viscosity", 'title: "{{product.nam}} apparent viscosity"\n# '))
    assert ("title",) == found.path


# --- guard and spindle ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("method", "text", "expected"),
    [
        (PAINT, "Without the guard the reading would be low.", []),
        (PAINT, "Without the guard this disc reads low.", []),
        (PAINT, "It reads low without the guard.", []),
        (PAINT, "Never remove the guard before the run.", []),
        (PAINT, "Do not run without the guard.", []),
        (PAINT, "After the run remove the guard and wash both.", []),
        (PAINT, "Fit the guard first, then the spindle.", []),
        (PAINT, "Run it with the guard.", []),
        (PAINT, "Remove the guard before the run.", ["PRO04"]),
        (PAINT, "Take the guard off first.", ["PRO04"]),
        (PAINT, "Run without the guard.", ["PRO04"]),
        (PAINT, "The paint is measured without the guard.", ["PRO04"]),
        (PAINT, "Do not use the guard.", ["PRO04"]),
        (PAINT, "Do not fit the guard.", ["PRO04"]),
        (SAUCE, "Run it without the guard: the coefficient holds either way.", []),
        (SAUCE, "Do not fit the guard.", []),
        (SAUCE, "For the check fit the guard, whatever the run does.", []),
        (SAUCE, "For the check remove the guard.", ["PRO04"]),
        (SAUCE, "Fit the guard.", ["PRO04"]),
        (SAUCE, "Never run without the guard.", ["PRO04"]),
        (CREAM, "Attach the guard.", ["PRO04"]),
        (CREAM, "Remove the guard.", []),
    ],
)
def test_what_is_said_of_the_guard(method, text, expected, noted):
    assert expected == [d.code for d in noted(method, text)]


@pytest.mark.parametrize(
    ("method", "text", "expected"),
    [
        (PAINT, "Spindle R5 belongs to it.", []),
        (PAINT, "Spindle 5 belongs to it.", []),
        (PAINT, "Hang spindle {{spindle}}.", []),
        (PAINT, "Two spindles of the set look alike.", []),
        (PAINT, "A spindle 20 mm wide.", []),
        (PAINT, "Take spindle 4.", ["PRO05"]),
        (PAINT, "Use spindle no. 4 at once.", ["PRO05"]),
        (PAINT, "Use spindle R4-a.", ["PRO05"]),
        (CREAM, "Spindle bar-27 turns; the check is with spindle R6.", []),
        (CREAM, "Spindle R5 is for the check.", ["PRO05"]),
    ],
)
def test_the_spindle_a_text_names(method, text, expected, noted):
    assert expected == [d.code for d in noted(method, text)]


# R4 is found with 200 Pa·s·rpm, R5 with 400: read with R4 and worked out with R5, twice too much.
def test_the_wrong_spindle_is_weighed(noted):
    (found,) = noted(PAINT, "Take spindle 4.")
    assert "2 times too high" in found.message
    (found,) = noted(PAINT, "Take spindle R6.")
    assert "2.5 times too low" in found.message


def test_the_marking_of_one_s_own_piece_is_the_spindle(noted):
    own = ("spindle: R5", "spindle: {name: R5, marking: M-64}")
    assert [] == noted(PAINT, "Take spindle M-64.", own)
    (found,) = noted(PAINT, "Take spindle M-65.", own)
    assert "Write {{spindle.name}} in the text." == found.ways_out[0]


# --- tools and words ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Weigh it on the balance.", ["PRO06"]),
        ("Press it through a fine sieve.", ["PRO06"]),
        ("Use the spatula and the timer.", []),
        ("Start the stopwatch with the motor.", []),  # a timer is listed
        ("Use no syringe.", []),
        ("Do not press it through a sieve.", []),
        ("Balance speed and care.", []),
        ("Weigh it on the balance; take the balance to the bench.", ["PRO06"]),
    ],
)
def test_tools_are_listed(text, expected, noted):
    assert expected == [d.code for d in noted(PAINT, text)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Leave it at room temperature.", ["PRO07"]),
        ("Go on until stable.", ["PRO07"]),
        ("Wait about 2 min.", ["PRO07"]),
        ("Wait approx. five minutes.", ["PRO07"]),
        ("Wait a few minutes, briefly, roughly 3.", ["PRO07"]),
        ("This note is about structure; around it stands the bath.", []),
        ("Roughly speaking, it thins.", []),
        ("A sufficiency of words.", []),
    ],
)
def test_words_that_leave_things_open(text, expected, noted):
    assert expected == [d.code for d in noted(PAINT, text)]


def test_all_vague_words_of_a_text_are_one_finding(noted):
    (found,) = noted(PAINT, "Wait a few minutes, briefly, roughly 3.")
    assert "leaves 3 things open: 'a few', 'briefly', 'roughly 3'" in found.message


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("The reading should be recorded.", ["PRO08"]),
        ("The lid is to be kept on.", ["PRO08"]),
        ("No bubble may be seen.", []),
        ("The paint can be thinned by shear.", []),
        ("It should be clear.", []),
        ("Record the reading.", []),
    ],
)
def test_somebody_is_told(text, expected, noted):
    assert expected == [d.code for d in noted(PAINT, text)]


# --- what tells one value from another ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("word", "number"),
    [
        ("one", 1), ("two", 2), ("three", 3), ("four", 4), ("six", 6), ("seven", 7), ("eight", 8), ("nine", 9),
        ("ten", 10), ("twelve", 12), ("fifteen", 15), ("twenty", 20), ("thirty", 30), ("forty", 40),
        ("fifty", 50), ("sixty", 60), ("ninety", 90),
    ],
)  # fmt: skip
def test_a_number_in_words_is_that_number(word, number, noted):
    rest = ("  rest: 5 min\n", f"  rest: {number} min\n")
    assert ["PRO02"] == [d.code for d in noted(PAINT, f"Let it rest for {word} minutes.", rest)]


STEADY = "read: {steady: {change: 0.2 %, over: 15 s, at_most: 300 s}}"


@pytest.mark.parametrize("text", ["Read after 30 s.", "Read after 12 turns."])
def test_a_step_read_once_steady_has_no_moment_to_compare(text, noted):
    found = noted(PAINT, text, ("read: {after: 60 s}", STEADY))
    assert ["PRO01"] == [d.code for d in found]
    assert "run.viscosity_2." in found[0].message


def test_a_mean_and_a_preshear_are_compared_where_there_is_one(noted):
    (found,) = noted(CREAM, "Average for 30 s.")
    assert "run.consistency_5.read.average is 24 s" in found.message
    assert [] == noted(PAINT, "Average for 30 s.")
    shear = ("speed: 20 rpm, read", "speed: 20 rpm, preshear: {speed: 30 rpm, time: 40 s}, read")
    (found,) = noted(PAINT, "Preshear for 20 s.", shear)
    assert "run.viscosity_20.preshear.time is 40 s" in found.message
    assert [] == noted(PAINT, "Preshear for 20 s.")


def test_a_range_may_follow_its_first_number(noted):
    assert [] == noted(PAINT, "30 rpm to 40 rpm read alike.")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Read after 20 s.", "Read sooner, the spring may not be wound up and reads low"),
        ("Read after 90 s.", "Read later, what still changes has changed more"),
    ],
)
def test_which_way_another_moment_moves_a_product_without_memory(text, told, noted):
    (found,) = noted(STARCH, text)
    assert told in found.message


def test_the_equipment_may_ask_for_a_value_too(prose):
    (found,) = prose(PAINT, ('"timer"', '"timer for {{run.viscosity_20.read_t}}"'))
    assert ("equipment", 1) == found.path
    assert "Write {{run.viscosity_20.read_at}}: it prints 60 s." == found.ways_out[0]


@pytest.mark.parametrize(
    ("one", "other", "apart"), [(2, 1, 0.6931), (1, 2, 0.6931), (0, 3, 3), (3, 0, 3), (-1, 2, 3), (5, -2, 7)]
)
def test_the_nearest_value_is_nearest_by_ratio_and_below_nil_by_difference(one, other, apart):
    assert apart == pytest.approx(_distance(one, other), abs=1e-4)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("The reading should be recorded.", "has 1 sentence without a doer"),
        ("The reading should be recorded. The lid is to be kept on.", "has 2 sentences without a doer"),
    ],
)
def test_how_many_sentences_tell_nobody(text, told, noted):
    (found,) = noted(PAINT, text)
    assert told in found.message


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("wide spatula. Caution: it splashes.", ["PRO09"]),
        ("wide spatula. Take care, it is slippery.", ["PRO09"]),
        ("wide spatula, with caution.", []),
        ("wide spatula; draw no air in. Cautionary tales are not told.", []),
    ],
)
def test_a_caution_comes_before_what_it_protects(codes, text, expected):
    found = codes("MCW-VIS-014", ("wide spatula; draw no air in.", text))
    assert expected == [code for code, _ in found if code == "PRO09"]


def test_a_caution_at_the_start_is_where_it_belongs(codes):
    first = ("Stir 30 turns in 30 s", "Caution: it splashes. Stir 30 turns in 30 s")
    assert [] == codes("MCW-VIS-014", first)
