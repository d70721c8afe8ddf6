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
    "files": {"diagnostics", "read"},
    "validate": {"diagnostics", "locate", "quantities", "read", "yaml_faults"},
    "names": set(),
    "model": {"diagnostics", "names", "quantities"},
    "figures": {"diagnostics"},
    "policy": {"diagnostics", "model", "quantities", "read", "validate"},
    "first_principles": {"diagnostics", "model", "physics", "quantities", "read", "validate"},
    "reference": {
        "diagnostics",
        "files",
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
    "misuse": {"choices", "derive", "figures", "misuse", "model", "physics", "quantities"},
    "uncertainty": {"derive", "figures", "model", "physics", "quantities"},
    "budgets": {"derive", "figures", "misuse", "model", "quantities", "terminal", "uncertainty"},
    "compare": {
        "derive",
        "diagnostics",
        "digest",
        "figures",
        "locate",
        "model",
        "pipeline",
        "quantities",
        "read",
    },
    "compared": {"compare", "diagnostics", "quantities", "terminal"},
    "placeholders": {"figures", "model"},
    "rules": {"choices", "diagnostics", "figures", "model", "placeholders", "quantities", "rules"},
    "check": {"diagnostics", "figures", "model", "read", "rules"},
    "documents": {"diagnostics", "documents", "figures", "model", "placeholders", "quantities"},
    "digest": {"model"},
    "releases": {
        "build",
        "compare",
        "compared",
        "diagnostics",
        "digest",
        "documents",
        "files",
        "locate",
        "locks",
        "model",
        "orders",
        "pipeline",
        "printing",
        "publish",
        "read",
        "reference",
        "releases",
        "render",
        "report",
        "rules",
        "terminal",
        "training",
        "validate",
    },
    "fix": {
        "diagnostics",
        "figures",
        "glance",
        "locate",
        "model",
        "pipeline",
        "publish",
        "quantities",
        "read",
        "upkeep",
        "validate",
        "workspace",
        "yaml_faults",
    },
    "insert": {"diagnostics", "fix", "locate", "pipeline", "read"},
    "trending": {
        "diagnostics",
        "documents",
        "files",
        "physics",
        "quantities",
        "read",
        "render",
        "spreadsheet",
        "trending",
    },
    "verification": {
        "csv_text",
        "derive",
        "diagnostics",
        "documents",
        "figures",
        "model",
        "names",
        "physics",
        "quantities",
        "read",
        "render",
        "trending",
        "validate",
        "verification",
    },
    "studies": {
        "csv_text",
        "decimals",
        "derive",
        "diagnostics",
        "digest",
        "documents",
        "figures",
        "fix",
        "insert",
        "model",
        "physics",
        "pipeline",
        "quantities",
        "read",
        "render",
        "report",
        "studies",
        "terminal",
    },
    "training": {
        "build",
        "compare",
        "csv_text",
        "diagnostics",
        "digest",
        "documents",
        "figures",
        "model",
        "names",
        "physics",
        "pipeline",
        "printing",
        "publish",
        "quantities",
        "read",
        "releases",
        "render",
        "spreadsheet",
        "terminal",
        "training",
        "trending",
        "units",
        "validate",
    },
    "records": {
        "csv_text",
        "decimals",
        "diagnostics",
        "digest",
        "documents",
        "figures",
        "model",
        "names",
        "physics",
        "pipeline",
        "quantities",
        "records",
        "releases",
        "spreadsheet",
        "uncertainty",
        "units",
    },
    "spreadsheet": set(),
    "csv_text": {"diagnostics"},
    "decimals": set(),
    "catalogue": {"choices", "diagnostics", "model", "pipeline", "quantities", "render", "spreadsheet"},
    "fingerprint": {"locate"},
    "locks": set(),
    "workers": set(),
    "watch": set(),
    "orders": set(),
    "forms": {
        "budgets",
        "choices",
        "derive",
        "digest",
        "documents",
        "figures",
        "misuse",
        "model",
        "pipeline",
        "quantities",
    },
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
        "glance",
        "upkeep",
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


HEAVY = ("jinja2", "weasyprint", "markdown_it", "segno", "numpy", "scipy", "openpyxl", "jsonschema")


def loaded(tmp_path, *arguments):
    """Run a command in a process of its own; gives its exit code and which of the heavy packages it loaded."""
    code = (
        "import sys; from fillmark.cli import main; sys.argv = ['fillmark', *sys.argv[1:]];"
        f"code = main(); print('\\n', code, *sorted(m for m in {(*HEAVY, 'rich')} if m in sys.modules))"
    )
    command = [sys.executable, "-c", code, *map(str, arguments)]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=True)
    number, *found = done.stdout.splitlines()[-1].split()
    return int(number), found


@pytest.mark.parametrize(
    "command",
    [
        ("check", "METHODS"),
        ("check", "--format", "json", "METHODS"),
        ("explain", "list"),
        ("explain", "TRQ01", "ONE"),
        ("show", "ONE"),
        ("choose", "SAUCE"),
        ("misuse", "ONE"),
        ("uncertainty", "ONE"),
        ("library", "METHODS"),
        ("compare", "ONE", "ONE"),
        ("record", "ONE", "--form", "json"),
    ],
    ids=" ".join,
)
def test_a_command_that_prints_text_loads_no_template_engine_pdf_library_or_numeric_package(
    tmp_path, demo_methods, command
):
    one = demo_methods / "MCW-VIS-014.yaml"
    places = {"METHODS": demo_methods, "ONE": one, "SAUCE": demo_methods / "TGF-VIS-003.yaml"}
    code, found = loaded(tmp_path, *(places.get(word, word) for word in command))
    assert code in (0, 1)
    assert [] == found


def test_a_build_with_nothing_to_do_loads_no_more_than_a_check(tmp_path, demo_methods):
    build = ("build", demo_methods / "TGF-VIS-003.yaml", "--format", "html", "--document", "checklist")
    code, found = loaded(tmp_path, *build)
    assert (0, True) == (code, "jinja2" in found)
    assert (0, []) == loaded(tmp_path, *build)


def test_a_build_of_html_loads_no_pdf_library(tmp_path, demo_methods):
    _, found = loaded(tmp_path, "build", demo_methods / "TGF-VIS-003.yaml", "--format", "html")
    assert {"weasyprint", "numpy", "openpyxl"} & set(found) == set()
