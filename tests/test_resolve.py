"""Names inside a method, and limits whose kind depends on their result."""

PAINT = "MCW-VIS-014"


def found(compiled, *changes):
    return [(d.code, d.path, d.ways_out[0]) for d in compiled(PAINT, *changes).diagnostics]


def test_a_limit_of_a_result_that_does_not_exist(compiled):
    changes = ("- {result: index, lower", "- {result: indx, lower")
    assert [("NAM01", ("specification", 1, "result"), "Did you mean index?")] == found(compiled, changes)


def test_a_verification_at_a_step_that_does_not_exist(compiled):
    changes = ("  at: viscosity_20", "  at: viscosity_200")
    assert [("NAM01", ("verification", "at"), "Did you mean viscosity_20?")] == found(compiled, changes)


def test_a_ratio_of_a_step_that_does_not_exist(compiled):
    [(code, path, _)] = found(compiled, ("ratio: [viscosity_2, viscosity_20]", "ratio: [viscosity_2, fast]"))
    assert ("NAM01", ("report", 1, "ratio", 1)) == (code, path)


def test_two_steps_of_one_name(compiled):
    [(code, path, _)] = found(
        compiled,
        ("- {name: viscosity_2, speed", "- {name: viscosity_20, speed"),
        ("ratio: [viscosity_2, viscosity_20]", "ratio: [viscosity_20, viscosity_20]"),
    )
    assert ("NAM01", ("run", 1, "name")) == (code, path)


def test_a_limit_without_unit_warns_of_the_factor_of_a_thousand(compiled):
    [(code, path, way)] = found(compiled, ("lower: 8.0 Pa·s", "lower: 8.0"))
    assert ("QTY01", ("specification", 0, "lower")) == (code, path)
    assert "1000" in way


def test_a_ratio_limit_with_a_unit(compiled):
    [(code, path, _)] = found(compiled, ("result: index, lower: 5.5", "result: index, lower: 5.5 Pa·s"))
    assert ("QTY01", ("specification", 1, "lower")) == (code, path)


def test_an_own_container_is_taken_with_its_numbers(compiled):
    own = "container: {label: our beaker, kind: beaker, inside_diameter: 85 mm, height: 120 mm}"
    method = compiled(PAINT, ("container: beaker-600-low-form", own)).method
    assert 0.085 == method.container.inside_diameter.value
    assert ("container",) == method.container.path


def test_a_marking_goes_with_the_spindle(compiled):
    method = compiled(PAINT, ("spindle: R5", "spindle: {name: R5, marking: No 5}")).method
    assert ("R5", "No 5") == (method.spindle.key, method.marking)


def test_values_keep_the_text_the_author_wrote(compiled):
    method = compiled(PAINT).method
    assert "23.0 °C ± 0.5 °C" == method.temperature.target.text
    assert 8.0 == method.specification[0].lower.value
    assert "8.0 Pa·s" == method.specification[0].lower.text
