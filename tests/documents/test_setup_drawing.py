"""The set-up drawing is to scale, and says what does not fit."""

import pytest

from fillmark.documents.pictures import all_of
from fillmark.documents.setup_drawing import CHECK, scene, setup_drawing
from fillmark.documents.wording import Phrases

STARCH, GEL, PAINT, SAUCE, CREAM = "BBM-VIS-007", "QAP-VIS-002", "MCW-VIS-014", "TGF-VIS-003", "LMT-VIS-021"
BENCH = {"width": 189.0, "height": 41.0, "sides": (27.0, 31.0), "check": "beside"}
COAXIAL = (
    ("spindle: chamber-11.8", "spindle: coaxial-25.1"),
    ("container: chamber-19", "container: adapter-27.6"),
    ("volume: 8.0 mL", "volume: 16.0 mL"),
)
CONE = (
    ("spindle: chamber-11.8", "spindle: cone-0.8"),
    ("container: chamber-19", "container: plate-cup"),
)

# what is drawn -> method, edits, and the largest scale at which it fits the room of 120 mm less the labels by 90 mm
SCENES = {
    "beaker with guard": (STARCH, (), 1 / 2),
    "beaker without guard": (SAUCE, (), 1 / 2),
    "large cylinder": (STARCH, (("spindle: R2", "spindle: R1"),), 1 / 2),
    "small chamber": (GEL, (), 1.0),
    "concentric cylinders": (GEL, COAXIAL, 1 / 2),
    "T-bar in a jar": (CREAM, (), 1 / 2),
    "cone and plate": (GEL, CONE, 1 / 2),
    "guard wider than the jar": (
        STARCH,
        (("container: beaker-600-low-form", "container: beaker-250"),),
        1 / 2,
    ),
    "too little in the beaker": (STARCH, (("volume: 500 mL", "volume: 200 mL"),), 1 / 2),
}


@pytest.fixture(scope="module")
def setup(compiled, edited):
    def draw(method, changes=(), **more):
        if changes is CONE:
            text = edited(method).decode()
            (immersion,) = [line for line in text.splitlines() if line.startswith("immersion:")]
            changes = (*CONE, (immersion, "immersion: {to: gap}"))
        one = compiled(method, *changes)
        assert one.method is not None, [d.message for d in one.diagnostics]
        phrases = Phrases(one.method.reference.phrases)
        return one, setup_drawing(one.method, one.figures, phrases, **more)

    return draw


def strokes(picture, kind):
    return [s for s in picture.strokes if s.kind == kind]


def reach(stroke):
    xs, ys = zip(*(p for run in stroke.runs for p in run), strict=True)
    return min(xs), min(ys), max(xs), max(ys)


@pytest.mark.parametrize(
    "case", [name for name in SCENES if name not in ("cone and plate", "T-bar in a jar")]
)
def test_level_spindle_and_container_are_at_one_scale(setup, case):
    method, changes, _ = SCENES[case]
    one, picture = setup(method, changes)
    figures, spindle = one.figures, one.method.spindle
    left, surface, right, bottom = reach(strokes(picture, "liquid")[0])
    scale = (right - left) / (1000 * one.method.container.inside_diameter.value)
    assert 1000 * figures["container.level"].value * scale == pytest.approx(bottom - surface)
    body = reach(strokes(picture, "spindle")[0])
    assert 1000 * spindle.diameter.value * scale == pytest.approx(body[2] - body[0])
    assert 1000 * spindle.length.value * scale == pytest.approx(body[3] - body[1])
    assert (left + right) / 2 == pytest.approx((body[0] + body[2]) / 2)
    wall = reach(strokes(picture, "wall")[0])
    assert 1000 * one.method.container.height.value * scale == pytest.approx(bottom - wall[1])
    if one.method.immersion.to == "shaft-mark":
        assert 1000 * spindle.mark_height.value * scale == pytest.approx(body[3] - surface)
        assert surface == pytest.approx(strokes(picture, "mark")[0].runs[0][0][1])
    else:
        assert 4.0 * scale == pytest.approx(bottom - body[3])  # held 4 mm over the bottom


def test_the_guard_hangs_under_the_spindle_and_as_wide_as_it_is(setup):
    _, picture = setup(STARCH)
    left, _, right, low = reach(strokes(picture, "guard")[0])
    scale = 1 / 2
    assert 70.0 * scale == pytest.approx(right - left)
    assert 6.0 * scale == pytest.approx(low - reach(strokes(picture, "spindle")[0])[3])
    wall_left, *_ = reach(strokes(picture, "liquid")[0])
    assert 6.275 * scale == pytest.approx(left - wall_left)  # (82.55 - 70) / 2


def test_a_bar_stands_at_its_start_and_its_end_is_dashed(setup):
    one, picture = setup(CREAM)
    _, surface, _, bottom = reach(strokes(picture, "liquid")[0])
    scale = (bottom - surface) / 55.0
    assert 5.0 * scale == pytest.approx(reach(strokes(picture, "spindle")[0])[3] - surface)
    end = 1000 * one.figures["helical.end_depth"].value
    assert end * scale == pytest.approx(reach(strokes(picture, "ghost")[0])[3] - surface)


def test_a_cone_is_drawn_at_its_angle_on_a_film(setup):
    _, picture = setup(GEL, CONE)
    tip, edge = strokes(picture, "spindle")[0].runs[0][:2]
    # tan 0.8° is 0.01396 (tables); the film ends under the edge of the cone.
    assert 0.01396 == pytest.approx((tip[1] - edge[1]) / (edge[0] - tip[0]), rel=1e-3)
    left, _, right, _ = reach(strokes(picture, "liquid")[0])
    assert 48.0 / 2 == pytest.approx(right - left)
    assert [] == strokes(picture, "surface")


@pytest.mark.parametrize("case", SCENES)
def test_the_scale_is_written_and_labels_never_collide(setup, clear, look, case):
    method, changes, scale = SCENES[case]
    one, picture = setup(method, changes)
    written = f"scale {scale:g} : 1" if scale >= 1 else f"scale 1 : {1 / scale:g}"
    assert picture.title.replace("\u00a0", " ").endswith(written)
    inside = next(s for s in picture.strokes if s.kind == "wall")
    left, _, right, _ = reach(inside)
    assert 1000 * one.method.container.inside_diameter.value * scale == pytest.approx(right - left - 0.5)
    assert [] == clear(picture)
    for stroke in picture.strokes:
        x0, y0, x1, y1 = reach(stroke)
        assert x0 >= 0, stroke.kind
        assert y0 >= 0, stroke.kind
        assert x1 <= picture.width, stroke.kind
        assert y1 <= picture.height, stroke.kind
    said = look.everything(picture.description)
    for row in picture.table.rows[1:]:
        assert look.words(row[1]) in said


@pytest.mark.parametrize("case", SCENES)
def test_on_the_bench_it_is_low_and_the_check_line_is_100_mm(setup, clear, case):
    method, changes, _ = SCENES[case]
    _, picture = setup(method, changes, **BENCH)
    assert [] == clear(picture)
    assert picture.height <= 41.5
    line = reach(strokes(picture, "check")[0])
    assert 100.0 == CHECK == pytest.approx(line[2] - line[0])
    assert line[2] <= picture.width
    assert picture.table is None
    texts = " ".join(label.text for label in picture.labels)
    assert "100 mm long" in texts


@pytest.mark.parametrize(
    ("method", "diameter", "mark"), [(PAINT, 21.14, 49.2), (SAUCE, 27.30, 49.2), (GEL, 11.8, None)]
)
def test_the_spindle_lies_at_its_true_size(setup, method, diameter, mark):
    _, picture = setup(method, **BENCH)
    lying = [s for s in strokes(picture, "spindle") if reach(s)[0] > 189.0 - CHECK - 1]
    body = reach(lying[0])
    assert diameter == pytest.approx(body[3] - body[1])
    marks = [s for s in strokes(picture, "mark") if reach(s)[0] > body[0]]
    expected = [] if mark is None else [body[0] + mark] * 2
    assert expected == pytest.approx([reach(s)[0] for s in marks])


def test_a_spindle_too_wide_to_lie_stands_at_its_true_size(setup, clear):
    _, picture = setup(STARCH, **BENCH)  # disc of 46.93 mm, 1.65 mm thick
    standing = [reach(s) for s in strokes(picture, "spindle") if reach(s)[0] > 189.0 - CHECK - 1]
    assert (46.93, 1.65) == pytest.approx((standing[0][2] - standing[0][0], standing[0][3] - standing[0][1]))
    assert "R2 at true size" in " ".join(label.text.replace("\u00a0", " ") for label in picture.labels)
    assert [] == clear(picture)


@pytest.mark.parametrize(
    ("method", "changes", "wide", "tall"),
    # 48 mm wide, 24 mm · tan 0.8° and a plate of 3 mm; 56.26 mm by 22.48 mm: too wide to lie, room to stand.
    [(GEL, CONE, 48.0, 3.335), (STARCH, (("spindle: R2", "spindle: R1"),), 56.26, 22.48)],
)
def test_every_spindle_of_the_catalogue_stands_at_its_true_size(setup, clear, method, changes, wide, tall):
    _, picture = setup(method, changes, **BENCH)
    standing = [reach(s) for s in strokes(picture, "spindle") if reach(s)[0] > 189.0 - CHECK - 1]
    assert (wide, tall) == pytest.approx(
        (standing[0][2] - standing[0][0], standing[0][3] - standing[0][1]), abs=0.01
    )
    assert "at true size" in " ".join(label.text for label in picture.labels)
    assert [] == clear(picture)
    assert picture.height <= 41.5


@pytest.mark.parametrize("method", [GEL, SAUCE, PAINT])
def test_the_name_of_a_lying_spindle_stands_beside_its_body(setup, method):
    _, picture = setup(method, **BENCH)
    body = next(reach(s) for s in strokes(picture, "spindle") if reach(s)[0] > 189.0 - CHECK - 1)
    (name,) = (label for label in picture.labels if "at true size" in label.text)
    assert body[1] - 1.0 <= name.y <= body[3]


LOW = {"width": 101.0, "height": 37.0, "sides": (24.2, 30.4), "check": "below"}


@pytest.mark.parametrize("case", SCENES)
def test_beside_the_equipment_the_check_line_stands_below_and_nothing_collides(setup, clear, case):
    method, changes, _ = SCENES[case]
    one, picture = setup(method, changes, **LOW)
    assert [] == clear(picture)
    (line,) = [reach(s) for s in strokes(picture, "check") if reach(s)[2] - reach(s)[0] > 5]
    assert CHECK == pytest.approx(line[2] - line[0])
    for stroke in picture.strokes:
        x0, y0, x1, y1 = reach(stroke)
        assert min(x0, y0) >= 0, stroke.kind
        assert x1 <= picture.width, stroke.kind
        assert y1 <= picture.height, stroke.kind
    left, _, right, _ = reach(strokes(picture, "liquid")[0])
    if one.method.container.kind != "plate":
        scale = (right - left) / (1000 * one.method.container.inside_diameter.value)
        assert f"scale 1 : {1 / scale:.3g}" in picture.title.replace("\u00a0", " ")


def test_beside_the_equipment_the_paints_disc_stands_at_its_true_size(setup):
    _, picture = setup(PAINT, **LOW)
    wide = [reach(s)[2] - reach(s)[0] for s in strokes(picture, "spindle")]
    assert 21.14 == pytest.approx(max(wide))


def test_what_does_not_fit_does_not_fit_in_the_drawing(setup):
    _, picture = setup(*SCENES["guard wider than the jar"][:2])
    guard, wall = reach(strokes(picture, "guard")[0]), reach(strokes(picture, "wall")[0])
    assert guard[0] < wall[0]
    assert guard[2] > wall[2]
    _, low = setup(*SCENES["too little in the beaker"][:2])
    assert reach(strokes(low, "guard")[0])[3] > reach(strokes(low, "wall")[0])[3]


def test_without_dimensions_there_is_no_drawing(compiled):
    one = compiled(
        STARCH,
        ("spring: R,", "spring: 2R,"),
        ("spindle: R2", "spindle: U2"),
        ("guard: required", "guard: not-used"),
    )
    assert one.method is not None
    assert scene(one.method, one.figures) is None
    assert setup_drawing(one.method, one.figures, Phrases(one.method.reference.phrases)) is None


def test_every_demonstration_checklist_shows_it(checklist, look, demo):
    document = checklist(demo)
    assert ["set-up"] == [block.name for block in look.blocks(document, "picture")]
    (section,) = (s for s in look.sections(document) if any(b.kind == "picture" for b in s.blocks))
    # Two speeds take the second side whole: there it stands beside the equipment.
    assert ("Equipment", True) == (section.title, section.beside) if demo == PAINT else not section.title


def test_where_the_first_side_is_full_the_dossier_alone_has_it(checklist, compiled, look):
    long = "\n    ".join(["Stir once more, slowly, with the wide spatula, along the wall of the beaker."] * 5)
    change = ("Stir 30 turns in 30 s with a wide spatula; draw no air in.", long)
    assert [] == look.blocks(checklist(PAINT, change), "picture")
    one = compiled(PAINT, change)
    assert "set-up" in [
        picture.name for picture in all_of(one.method, one.figures)
    ]  # in the dossier it stands
