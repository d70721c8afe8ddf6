"""The rule set: one digest over all that judges."""

import ast
from pathlib import Path

from fillmark import __version__
from fillmark.locate import PACKAGE
from fillmark.releases import rule_set
from fillmark.rules import all_rules


def test_every_rule_is_listed_with_its_weight():
    listed = rule_set.listed()
    assert [r.code for r in all_rules()] == [r["code"] for r in listed]
    assert {"error", "warning", "advice"} >= {r["severity"] for r in listed}


def test_it_names_version_number_and_digest():
    found = rule_set.version()
    assert (__version__, len(all_rules())) == (found["version"], found["count"])
    assert 64 == len(found["digest"])


def test_the_digest_changes_with_a_rule_and_not_with_line_ends(tmp_path, monkeypatch):
    import shutil

    rule_set.rules_digest.cache_clear()
    before = rule_set.rules_digest()
    package = tmp_path / "fillmark"
    shutil.copytree(PACKAGE, package, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(rule_set, "PACKAGE", package)
    try:
        rule_set.rules_digest.cache_clear()
        assert before == rule_set.rules_digest()
        file = package / "rules" / "torque.py"
        text = file.read_bytes()
        file.write_bytes(text.replace(b"\n", b"\r\n"))
        rule_set.rules_digest.cache_clear()
        assert before == rule_set.rules_digest()
        file.write_bytes(text + b"\n")
        rule_set.rules_digest.cache_clear()
        assert before != rule_set.rules_digest()
    finally:
        rule_set.rules_digest.cache_clear()


def test_everything_that_judging_imports_counts():
    """Follow the imports from the pipeline and the findings written as JSON to all parts of ours."""
    reached: set[str] = set()
    ahead = [
        "pipeline",
        *_imported(PACKAGE / "report" / "__init__.py"),
        *_imported(PACKAGE / "report" / "json.py"),
    ]
    while ahead:
        part = ahead.pop()
        if part in reached or part == "report":
            continue
        reached.add(part)
        folder = PACKAGE / part
        for file in sorted(folder.rglob("*.py")) if folder.is_dir() else [PACKAGE / f"{part}.py"]:
            ahead += _imported(file)
    assert set() == reached - set(rule_set.PARTS)
    assert {"read", "validate", "resolve", "derive", "rules", "check", "physics"} <= reached


def _imported(file: Path) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module == "fillmark":
            found += [a.name for a in node.names if a.name != "__version__"]
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("fillmark."):
            found.append(str(node.module).split(".")[1])
    return found
