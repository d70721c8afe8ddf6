"""The hook that laboratories name in their own .pre-commit-config.yaml."""

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

ROOT = Path(__file__).parents[1]
MANIFEST = ROOT / ".pre-commit-hooks.yaml"


@pytest.fixture(scope="module")
def hook():
    (only,) = yaml.safe_load(MANIFEST.read_text(encoding="utf-8"))
    return only


def run(hook, *files, cwd):
    """Run the entry as pre-commit does: its words, then the names of the files."""
    command = Path(sys.executable).parent / shlex.split(hook["entry"])[0]
    words = [command, *shlex.split(hook["entry"])[1:], *files]
    return subprocess.run(words, cwd=cwd, capture_output=True, encoding="utf-8", check=False)


def test_pre_commit_takes_the_manifest():
    command = [sys.executable, "-m", "pre_commit", "validate-manifest", MANIFEST]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert 0 == done.returncode, done.stdout + done.stderr


def test_pre_commit_notices_a_manifest_that_is_not_right(tmp_path):
    (tmp_path / "hooks.yaml").write_text("- id: fillmark-check\n  entry: fillmark check\n", encoding="utf-8")
    command = [sys.executable, "-m", "pre_commit", "validate-manifest", tmp_path / "hooks.yaml"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert 1 == done.returncode


def test_one_process_sees_all_files_at_once(hook):
    assert ("fillmark-check", "python", True) == (hook["id"], hook["language"], hook["require_serial"])


@pytest.mark.parametrize(
    ("file", "taken"),
    [
        ("methods/MCW-VIS-014.yaml", True),
        ("methods/paint/wall, 23 °C.yml", True),
        ("laboratory/methods/MCW-VIS-014.yaml", True),
        ("shared/springs.yaml", False),
        ("old-methods/MCW-VIS-014.yaml", False),
        ("methods/notes.md", False),
    ],
)
def test_the_hook_takes_the_methods_and_nothing_else(hook, file, taken):
    assert taken == bool(re.search(hook["files"], file))


def test_the_entry_passes_the_demonstration_methods(hook):
    files = sorted(path.relative_to(ROOT) for path in (ROOT / "methods").glob("*.yaml"))
    done = run(hook, *files, cwd=ROOT)
    assert 0 == done.returncode, done.stdout + done.stderr
    assert done.stdout.endswith(f" {len(files)} files.\n")


def test_the_entry_stops_a_commit_with_a_fault_or_with_one_id_twice(hook, tmp_path):
    (tmp_path / "methods").mkdir()
    right = ROOT / "methods" / "MCW-VIS-014.yaml"
    shutil.copy(right, tmp_path / "methods" / "one.yaml")
    assert 0 == run(hook, "methods/one.yaml", cwd=tmp_path).returncode
    shutil.copy(right, tmp_path / "methods" / "two.yaml")
    done = run(hook, "methods/one.yaml", "methods/two.yaml", cwd=tmp_path)
    assert (1, 2) == (done.returncode, done.stdout.count("LIB01"))
