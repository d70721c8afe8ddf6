"""What the hostile tests share: a laboratory to spoil, and the real command, held to the promises of every run."""

import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
STEERING = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\U000e0000-\U000e007f]"
)
"""What no output may hold: a terminal would obey it, or show another text than is there."""

HANGS = 120
"""Seconds after which a command counts as hanging; nothing here takes a tenth of that."""


@dataclass(frozen=True)
class Done:
    """What a run left: its exit code and what it said."""

    code: int
    out: str
    err: str

    @property
    def said(self) -> str:
        """Give both streams."""
        return self.out + self.err


@pytest.fixture(scope="session")
def run():
    """Run the command as a shell would and hold it to what it promises whatever it is given.

    It ends, never with a fault of its own (3), shows no trace, and steers no terminal.
    """

    def run_command(*arguments, cwd, before=(), env=None, bare_env=False, may_fail=False, **more) -> Done:
        kept = (
            {} if bare_env else {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "FORCE_COLOR")}
        )
        keep = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE, **more}
        done = subprocess.run(
            [*before, sys.executable, "-m", "fillmark", *arguments],
            cwd=cwd,
            env={**kept, "PYTHONIOENCODING": "utf-8", **(env or {})},
            timeout=HANGS,
            check=False,
            **keep,
        )
        out, err = (
            text.decode("utf-8", "replace") if text is not None else "" for text in (done.stdout, done.stderr)
        )
        if not may_fail:
            assert done.returncode in (0, 1, 2), err
            assert "Traceback" not in out + err
            assert STEERING.findall(out + err) == []
        return Done(done.returncode, out, err)

    return run_command


MANY = """
import io, json, sys
from fillmark.cli import main

done = []
ours = sys.stdout
for line in json.load(sys.stdin):
    sys.argv[1:] = line
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2))
    sys.stdout, sys.stderr = out, err
    code = main()
    out.flush(), err.flush()
    done.append([code, out.buffer.getvalue().decode(), err.buffer.getvalue().decode()])
json.dump(done, ours)
"""


@pytest.fixture(scope="session")
def run_many():
    """Run the command line many times in one process, for it takes long to start; gives what each left."""

    def run_all(lines: list[list[str]], *, cwd: Path) -> list[Done]:
        done = subprocess.run(
            [sys.executable, "-c", MANY],
            cwd=cwd,
            env={**os.environ, "PYTHONIOENCODING": "utf-8"},
            input=json.dumps(lines).encode(),
            capture_output=True,
            timeout=5 * HANGS,
            check=False,
        )
        assert 0 == done.returncode, done.stderr.decode()
        runs = [Done(*one) for one in json.loads(done.stdout)]
        for line, one in zip(lines, runs, strict=True):
            assert one.code in (0, 1, 2), (line, one.err)
            assert "Traceback" not in one.said, line
            assert STEERING.findall(one.said) == [], line
        return runs

    return run_all


@pytest.fixture
def lab(tmp_path):
    """Make a laboratory with two methods of the demonstration and a springs.yaml of its own."""
    for folder in ("methods", "shared"):
        (tmp_path / folder).mkdir()
    for name in ("MCW-VIS-014", "TGF-VIS-003"):
        shutil.copy(ROOT / "methods" / f"{name}.yaml", tmp_path / "methods")
    shutil.copy(ROOT / "shared" / "springs.yaml", tmp_path / "shared")
    return tmp_path


@pytest.fixture(scope="session")
def method_text() -> str:
    """Text of a demonstration method."""
    return (ROOT / "methods" / "MCW-VIS-014.yaml").read_text(encoding="utf-8")


@pytest.fixture
def with_text(lab, method_text):
    """Put a method into the laboratory, with texts in the place of others that stand once; gives its name."""

    def put(*changes: tuple[str, str], name: str = "methods/MCW-VIS-014.yaml") -> str:
        text = method_text
        for right, wrong in changes:
            assert 1 == text.count(right), right
            text = text.replace(right, wrong)
        (lab / name).parent.mkdir(exist_ok=True)
        (lab / name).write_bytes(text.encode())
        return name

    return put


@pytest.fixture
def bound_by_permissions():
    """Give what to put before a command so that it is refused what an ordinary user is refused."""
    if os.geteuid() != 0:
        return ()
    if not shutil.which("setpriv"):
        pytest.skip("an administrator may read and write everything, and there is no setpriv here")
    return ("setpriv", "--bounding-set=-dac_override,-dac_read_search", "--")
