"""What every test may ask for."""

import shutil
import signal
from datetime import datetime
from pathlib import Path
from threading import current_thread, main_thread

import pytest

from fillmark.model import Reference
from fillmark.pipeline import compile_method
from fillmark.reference import load
from fillmark.releases.release import commit, judge, make

if signal.getsignal(signal.SIGINT) is signal.SIG_IGN and current_thread() is main_thread():
    # A shell starts what runs in the background with the signal ignored, and our own processes would inherit that.
    signal.signal(signal.SIGINT, signal.default_int_handler)

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="session")
def demo_methods() -> Path:
    """Folder of the demonstration methods."""
    return ROOT / "methods"


@pytest.fixture(scope="session")
def reference() -> Reference:
    """Reference data as shipped."""
    loaded, found = load()
    assert [] == found
    assert loaded is not None
    return loaded


@pytest.fixture(scope="session")
def edited():
    """Give the bytes of a demonstration method with one text put in the place of another that stands once."""

    def edit(method: str, *changes: tuple[str, str]) -> bytes:
        text = (ROOT / "methods" / f"{method}.yaml").read_text(encoding="utf-8")
        for right, wrong in changes:
            assert 1 == text.count(right), f"{right!r} must stand once in {method}"
            text = text.replace(right, wrong)
        return text.encode()

    return edit


@pytest.fixture(scope="session")
def compiled(reference, edited):
    """Compile a demonstration method with edits: `compiled("MCW-VIS-014", (right, wrong), ...)`."""

    def compile_edited(method: str, *changes: tuple[str, str]):
        return compile_method(edited(method, *changes), f"{method}.yaml", reference)

    return compile_edited


@pytest.fixture(scope="session")
def result_of():
    """Give a result as `fillmark evaluate` writes it: of invented data, with changes by dotted path."""
    import copy
    import json

    from fillmark.locate import schemas_folder

    schema = json.loads((schemas_folder() / "result.schema.json").read_text(encoding="utf-8"))

    def empty(part: dict):
        """Give the plainest value that fits a part of the schema."""
        if "const" in part:
            return part["const"]
        kinds = part.get("type", "string")
        kinds = [kinds] if isinstance(kinds, str) else kinds
        if "enum" in part:
            return None if None in part["enum"] else part["enum"][0]
        if "object" in kinds and part.get("properties"):
            return {k: empty(v) for k, v in part["properties"].items() if k in part.get("required", ())}
        if "null" in kinds:
            return None
        plain = {"array": [], "boolean": False, "integer": 1, "number": 0.0}
        return plain.get(kinds[0], "0" * 64 if "pattern" in part else "")

    whole = empty(schema)
    for key in ("instrument", "spindle", "guard", "container"):
        part = schema["properties"]["equipment"]["properties"][key]
        whole["equipment"][key] = empty(part)
    line = empty(schema["properties"]["results"]["items"])
    whole["stands"] = True
    whole["method"].update(
        id="MCW-VIS-014", revision=3, digest="a" * 64, title="Apparent viscosity of matt wall paint",
        product="Hearthstone matt wall paint", demonstration=True,
    )  # fmt: skip
    whole["equipment"]["instrument"].update(id="Bench 2", spring="R")
    whole["equipment"]["spindle"].update(id="S-51", kind="R5")
    whole["equipment"]["guard"].update(id="G-7", state="fitted")
    whole["equipment"]["container"].update(id="B-3", kind="600 mL low-form beaker")
    line.update(
        name="viscosity_20", kind="value", unit="Pa·s", lower=8.0, upper=12.0, target=10.0, verdict="in", n=2
    )
    whole["results"] = [line]

    def made(number: int, value: float, measured: str, *, bound: str | None = None, **changes) -> dict:
        one = copy.deepcopy(whole)
        one["record"].update(file="records.jsonl", name=f"{number:05}", sha256=f"{number:064x}")
        one["sample"].update(number=str(number), lot=f"L{number:05}", measured=measured)
        row = one["results"][0]
        row.update(
            torques=[5.0 * value], temperatures=[23.0], reported=f"{bound or ''}{value:.1f} Pa·s",
            **({"kind": "bound", "bound": bound, "bound_value": value} if bound else {"value": value}),
        )  # fmt: skip
        if bound is None:
            row["verdict"] = "in" if 8 <= value <= 12 else "out"
        for path, to in changes.items():
            *way, last = path.split("__")
            at = one
            for step in way:
                at = at[int(step)] if step.isdigit() else at[step]
            at[last] = to
        return one

    return made


@pytest.fixture(scope="session")
def _laboratory_with_a_release(tmp_path_factory) -> Path:
    """Make a laboratory in which revision 3 of MCW-VIS-014 has been released, with papers in HTML only."""
    home = tmp_path_factory.mktemp("released") / "laboratory"
    (home / "methods").mkdir(parents=True)
    shutil.copytree(ROOT / "shared", home / "shared")
    file = home / "methods" / "MCW-VIS-014.yaml"
    shutil.copy(ROOT / "methods" / file.name, file)
    at = datetime.fromisoformat("2026-11-25T10:00:00+01:00")
    judged = judge(file, home, by="H. Marlow", at=at)
    assert () == judged.refusals
    commit(make(judged, by="H. Marlow", at=at, papers=("A4",), forms=("html",)), home)
    return home


@pytest.fixture
def laboratory(tmp_path, _laboratory_with_a_release) -> Path:
    """Give a laboratory in which revision 3 of MCW-VIS-014 has been released, to do with as one likes."""
    shutil.copytree(_laboratory_with_a_release, tmp_path / "laboratory")
    return tmp_path / "laboratory"


@pytest.fixture
def through_main(monkeypatch, capsys):
    """Run the command line as the shell does: gives the exit code and what came on the error stream."""
    import sys

    from fillmark.cli import main

    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["fillmark", *(str(a) for a in arguments)])
        return main(), capsys.readouterr().err

    return run


@pytest.fixture
def revised(laboratory):
    """Write revision 4 of the released method, with a longer rest, and other texts put in the place of some."""

    def write(*changes: tuple[str, str]) -> Path:
        file = laboratory / "methods" / "MCW-VIS-014.yaml"
        text = file.read_text(encoding="utf-8")
        for right, wrong in (
            ("revision: 3\n", "revision: 4\n"),
            ("  rest: 5 min\n", "  rest: 6 min\n"),
            (
                "changes:\n",
                "changes:\n  - {revision: 4, class: parameter, reason: The paint needs a longer rest.}\n",
            ),
            *changes,
        ):
            assert 1 == text.count(right), right
            text = text.replace(right, wrong)
        file.write_text(text, encoding="utf-8")
        return file

    return write


@pytest.fixture(scope="session")
def check_of():
    """Give a check of a verification log, of invented data: an error in % of full scale, with changes by name.

    R5 on spring R is 400 Pa·s·rpm, at 20 rpm 20 Pa·s full scale; REF-10000 is 10 Pa·s ± 0.1 Pa·s at 25 °C.
    """

    def made(at: str, error: float = 0.0, **changes) -> dict:
        reading = 10_000 + 200 * error
        plain = {
            "at": at, "instrument": "bench-2", "spindle": "R5", "piece": "S-51", "guard": "with", "speed": "20 rpm",
            "fluid": "REF-10000", "lot": "F-1", "expires": "2027-12-31", "certificate": "10000 mPa·s",
            "certificate_uncertainty": "100 mPa·s", "certificate_temperature": "25.0 °C", "temperature": "25.0 °C",
            "torque": f"{reading / 200:.1f} %", "reading": f"{reading:.0f} mPa·s", "by": "A. Osei",
        }  # fmt: skip
        return {k: v for k, v in {**plain, **changes}.items() if v is not None}

    return made
