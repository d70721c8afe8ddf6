"""Every public function of the physics documents itself in one fixed order, and its example runs."""

import doctest
import inspect
from importlib import import_module
from pkgutil import iter_modules

import pytest

from fillmark import physics

MODULES = tuple(
    import_module(f"{physics.__name__}.{module.name}")
    for module in iter_modules(physics.__path__)
    if module.name != "bounds"  # refuses arguments, and computes nothing
)
ORDER = ("Equation:", "Symbols:", "Validity:", "Reference:", ">>> ")


def _public_functions():
    for module in MODULES:
        for name, function in inspect.getmembers(module, inspect.isfunction):
            if function.__module__ == module.__name__ and not name.startswith("_"):
                yield pytest.param(function, id=f"{module.__name__.rsplit('.', 1)[-1]}.{name}")


FUNCTIONS = tuple(_public_functions())


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_examples_run(module):
    result = doctest.testmod(module)
    assert result.attempted > 0
    assert 0 == result.failed


@pytest.mark.parametrize("function", FUNCTIONS)
def test_docstring_has_its_parts_in_order(function):
    text = inspect.getdoc(function)
    assert text
    places = [text.find(part) for part in ORDER]
    assert -1 not in places
    assert sorted(places) == places


@pytest.mark.parametrize("function", FUNCTIONS)
def test_quantities_are_passed_by_name(function):
    positional_by_agreement = {
        "critical_range_factor",
        "round_to_increment",
        "bessel_j0",
        "bessel_j1",
    }
    kinds = {parameter.kind for parameter in inspect.signature(function).parameters.values()}
    if function.__name__ in positional_by_agreement:
        assert {inspect.Parameter.POSITIONAL_OR_KEYWORD} == kinds
    else:
        assert {inspect.Parameter.KEYWORD_ONLY} == kinds


def test_physics_loads_nothing_beyond_the_standard_library():
    import subprocess
    import sys

    program = (
        "import sys, fillmark.physics.heat, fillmark.physics.container, fillmark.physics.statistics,"
        "fillmark.physics.rounding, fillmark.physics.fluids, fillmark.physics.spring\n"
        "ours = sorted(m for m in sys.modules if m.startswith('fillmark'))\n"
        "other = [m for m in ('numpy', 'scipy', 'yaml', 'jsonschema', 'click', 'rich') if m in sys.modules]\n"
        "print([m for m in ours if not m.startswith('fillmark.physics') and m != 'fillmark'], other)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert "[] []" == done.stdout.strip()
