"""Who may import whom, read from the imports themselves."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "compiler" / "fillmark"

# part of the package -> the parts of ours it may import
ALLOWED: dict[str, set[str]] = {
    "diagnostics": set(),
    "units": set(),
    "quantities": {"units"},
    "physics": {"physics"},
    "locate": set(),
    "yaml_faults": {"diagnostics"},
    "read": {"diagnostics", "yaml_faults"},
    "validate": {"diagnostics", "locate", "quantities", "read"},
    "model": {"diagnostics", "quantities"},
    "figures": {"diagnostics"},
    "policy": {"diagnostics", "model", "quantities", "read", "validate"},
    "first_principles": {"diagnostics", "model", "physics", "quantities", "read", "validate"},
    "reference": {
        "diagnostics",
        "first_principles",
        "locate",
        "model",
        "policy",
        "quantities",
        "read",
        "validate",
    },
    "resolve": {"diagnostics", "model", "quantities", "read", "reference", "validate"},
    "derive": {"derive", "diagnostics", "figures", "model", "physics", "quantities"},
    "combinations": {"derive", "model", "physics", "quantities"},
    "choices": {"combinations", "derive", "model", "physics", "quantities"},
    "misuse": {"misuse", "choices", "derive", "figures", "model", "physics", "quantities"},
    "uncertainty": {"derive", "figures", "model", "physics", "quantities"},
    "budgets": {"derive", "figures", "misuse", "model", "quantities", "terminal", "uncertainty"},
    "compare": {
        "derive",
        "diagnostics",
        "figures",
        "locate",
        "model",
        "pipeline",
        "quantities",
        "read",
    },
    "compared": {"compare", "diagnostics", "quantities", "terminal"},
    "placeholders": {"figures", "model"},
    "rules": {"rules", "choices", "diagnostics", "figures", "model", "placeholders", "quantities"},
    "check": {"diagnostics", "figures", "model", "read", "rules"},
    "documents": {"documents", "diagnostics", "figures", "model", "placeholders", "quantities"},
    "digest": {"model"},
    "fix": {
        "diagnostics",
        "figures",
        "locate",
        "model",
        "pipeline",
        "publish",
        "quantities",
        "read",
        "validate",
        "workspace",
        "yaml_faults",
    },
    "insert": {"diagnostics", "fix", "locate", "read"},
    "render": {"documents", "locate"},
    "printing": {"locate"},
}


def parts_imported(file: Path) -> set[str]:
    """List the parts of ours a file imports: `fillmark.rules.torque` counts as `rules`."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module is not None:
            if node.module == "fillmark":
                found.update(a.name for a in node.names if a.name != "__version__")
            elif node.module.startswith("fillmark."):
                found.add(node.module.split(".")[1])
        elif isinstance(node, ast.Import):
            found.update(a.name.split(".")[1] for a in node.names if a.name.startswith("fillmark."))
    return found


def files_of(part: str) -> list[Path]:
    folder = PACKAGE / part
    return sorted(folder.rglob("*.py")) if folder.is_dir() else [PACKAGE / f"{part}.py"]


@pytest.mark.parametrize("part", ALLOWED)
def test_a_part_imports_only_what_it_may(part):
    for file in files_of(part):
        assert set() == parts_imported(file) - ALLOWED[part], file


def test_every_part_is_listed_or_knows_all():
    knows_all = {
        "__init__",
        "__main__",
        "cli",
        "commands",
        "choose",
        "pipeline",
        "build",
        "explain",
        "new",
        "doctor",
        "library",
        "publish",
        "workspace",
        "report",
        "rule_pages",
        "starter",
        "show",
        "terminal",
    }
    parts = {
        p.stem if p.is_file() else p.name
        for p in PACKAGE.iterdir()
        if p.suffix == ".py" or (p / "__init__.py").is_file()
    }
    assert set() == parts - set(ALLOWED) - knows_all


def test_the_rules_see_no_physics_but_through_figures():
    assert "physics" not in ALLOWED["rules"]
    assert "documents" not in ALLOWED["rules"]
    assert "rules" not in ALLOWED["documents"]


def test_check_loads_no_template_engine_pdf_library_or_numeric_package(demo_methods):
    code = (
        "import sys; from fillmark.cli import main; sys.argv = ['fillmark', 'check', sys.argv[1]];"
        "code = main(); print(code, *sorted(m for m in ('jinja2', 'weasyprint', 'markdown_it', 'numpy', 'scipy',"
        " 'jsonschema', 'rich') if m in sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(demo_methods)], capture_output=True, text=True, check=True
    )
    assert "0" == done.stdout.splitlines()[-1].strip()
