"""The wheel and the sdist: what is in them, and that the wheel works where there is no checkout."""

import email
import os
import shutil
import subprocess
import sys
import sysconfig
import tarfile
import venv
import zipfile
from pathlib import Path, PurePosixPath

import pytest

import fillmark

ROOT = Path(__file__).resolve().parents[1]

pytestmark = pytest.mark.slow


def run(*command: str | Path, cwd: Path) -> str:
    """Run a command away from the checkout and from what the caller's environment says about Python."""
    clean = {key: value for key, value in os.environ.items() if not key.startswith("PYTHON")}
    done = subprocess.run(command, cwd=cwd, env=clean, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def build(kind: str, source: Path, target: Path) -> Path:
    run(sys.executable, "-m", "hatchling", "build", "--target", kind, "--directory", target, cwd=source)
    (built,) = target.iterdir()
    return built


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    return build("wheel", ROOT, tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def sdist(tmp_path_factory):
    return build("sdist", ROOT, tmp_path_factory.mktemp("sdist"))


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    """Bin folder of a new environment that holds the wheel, beside the dependencies of this one."""
    home = tmp_path_factory.mktemp("installed")
    venv.create(home, with_pip=False)
    scheme = {"base": str(home), "platbase": str(home)}
    packages = Path(sysconfig.get_path("purelib", scheme="venv", vars=scheme))
    # A path named by a .pth file is searched, but .pth files in it are not read: the editable install that
    # these tests run from stays out of sight.
    ours = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    packages.joinpath("dependencies.pth").write_text("\n".join(sorted(ours)), encoding="utf-8")
    scripts = Path(sysconfig.get_path("scripts", scheme="venv", vars=scheme))
    pip = [sys.executable, "-m", "pip", "--python", scripts / "python", "install"]
    run(*pip, "--quiet", "--no-deps", "--no-index", "--ignore-installed", wheel, cwd=home)
    return scripts


def files_below(folder: str) -> set[PurePosixPath]:
    return {
        PurePosixPath(path.relative_to(ROOT).as_posix())
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }


def test_the_wheel_holds_the_package_with_schemas_and_shared_data_and_nothing_else(wheel):
    package = {path.relative_to("compiler") for path in files_below("compiler/fillmark")}
    data = {PurePosixPath("fillmark") / path for path in files_below("schemas") | files_below("shared")}
    with zipfile.ZipFile(wheel) as archive:
        names = {PurePosixPath(name) for name in archive.namelist()}
    inside = {name for name in names if not name.parts[0].endswith(".dist-info")}
    assert package | data == inside
    assert {"METADATA", "RECORD", "WHEEL", "entry_points.txt", "LICENSE"} == {n.name for n in names - inside}


def test_the_wheel_says_what_it_is(wheel):
    with zipfile.ZipFile(wheel) as archive:
        (name,) = (name for name in archive.namelist() if name.endswith(".dist-info/METADATA"))
        metadata = email.message_from_bytes(archive.read(name))
    assert fillmark.__version__ == metadata["Version"]
    assert ">=3.11" == metadata["Requires-Python"]
    assert "Apache-2.0" == metadata["License-Expression"]


def test_the_sdist_builds_the_same_wheel(sdist, wheel, tmp_path):
    with tarfile.open(sdist) as archive:
        # Debian 12's Python 3.11.2 has no filters yet; Python 3.12 warns if none is set.
        archive.extraction_filter = getattr(tarfile, "data_filter", None)
        archive.extractall(tmp_path / "source")  # noqa: S202  # it is our own archive
    (source,) = (tmp_path / "source").iterdir()
    assert wheel.read_bytes() == build("wheel", source, tmp_path / "wheel").read_bytes()


def test_the_sdist_brings_what_make_needs_and_no_environment_or_output(sdist):
    with tarfile.open(sdist) as archive:
        names = {
            PurePosixPath(*PurePosixPath(member.name).parts[1:]) for member in archive if member.isfile()
        }
    needed = {
        "Makefile",
        ".ci/prepare",
        ".ci/run",
        "pyproject.toml",
        "requirements-dev.lock",
        "requirements.lock",
    }
    assert set() == {PurePosixPath(name) for name in needed} - names
    assert set() == (files_below("methods") | files_below("tests")) - names
    assert {PurePosixPath("out/README.md")} == {name for name in names if name.parts[0] == "out"}
    assert set() == {name for name in names if name.parts[0] in {".venv", ".git", "dist"}}


def test_the_installed_wheel_runs_without_the_checkout(installed, tmp_path):
    where = "import fillmark.locate as l; print(l.__file__, l.schemas_folder(), l.shared_folder(), sep='\\n')"
    for place in run(installed / "python", "-c", where, cwd=tmp_path).splitlines():
        assert Path(place).is_relative_to(installed.parent)
    for command in ([installed / "fillmark"], [installed / "python", "-m", "fillmark"]):
        assert fillmark.__version__ in run(*command, "--version", cwd=tmp_path)


def test_the_installed_wheel_brings_every_schema_and_all_shared_data(installed, tmp_path):
    where = "import fillmark.locate as l; print(l.schemas_folder().parent)"
    package = Path(run(installed / "python", "-c", where, cwd=tmp_path).strip())
    for path in files_below("schemas") | files_below("shared"):
        assert (ROOT / path).read_bytes() == (package / path).read_bytes()


def test_the_installed_wheel_checks_methods_that_bring_no_data_of_their_own(installed, tmp_path):
    shutil.copytree(ROOT / "methods", tmp_path / "methods")
    run(installed / "fillmark", "check", "methods", cwd=tmp_path)


# --- in an empty environment, as a laboratory installs it


@pytest.fixture(scope="module", params=["3.11", "3.12", "3.13"])
def fresh(request, wheel, tmp_path_factory):
    """Bin folder of an environment with nothing but the wheel and what it asks for, by Python version."""
    ours = ".".join(map(str, sys.version_info[:2]))
    python = sys.executable if request.param == ours else shutil.which(f"python{request.param}")
    # A name on PATH may be a launcher with nothing behind it.
    if (
        python is None
        or subprocess.run([python, "-c", "import ensurepip"], check=False, capture_output=True).returncode
    ):
        pytest.skip(f"there is no Python {request.param} here")
    home = tmp_path_factory.mktemp("fresh")
    run(python, "-m", "venv", home, cwd=home)
    inside = home / ("Scripts" if sys.platform == "win32" else "bin")
    pip = [
        inside / "python",
        "-m",
        "pip",
        "install",
        "--quiet",
        "--disable-pip-version-check",
        "--only-binary",
        ":all:",
    ]
    done = subprocess.run([*pip, wheel], cwd=home, capture_output=True, text=True, check=False)
    if done.returncode and ("No matching distribution" in done.stderr or "onnection" in done.stderr):
        pytest.skip(f"no package index is to be had here: {done.stderr.strip().splitlines()[-1]}")
    assert done.returncode == 0, done.stderr
    return inside


@pytest.mark.pdf
def test_a_laboratory_that_installs_it_goes_from_nothing_to_a_pdf(fresh, tmp_path):
    fillmark_there = fresh / "fillmark"
    assert fillmark.__version__ in run(fillmark_there, "--version", cwd=tmp_path)
    assert "Everything Fillmark needs is here." in run(fillmark_there, "doctor", cwd=tmp_path)
    run(fillmark_there, "new", "lab", "lab", cwd=tmp_path)
    lab = tmp_path / "lab"
    flags = {
        "title": "Viscosity", "product": "Paint", "lower": "8.0 Pa·s", "upper": "12.0 Pa·s", "author": "A. Osei",
        "behaviour": "newtonian", "temperature": "23.0 °C ± 0.5 °C", "hazards": "none",
    }  # fmt: skip
    words = [word for flag, value in flags.items() for word in (f"--{flag}", value)]
    run(fillmark_there, "new", "method", "LAB-VIS-001", *words, cwd=lab)
    assert "No findings in 1 file." in run(fillmark_there, "check", cwd=lab)
    run(fillmark_there, "build", cwd=lab)
    made = {p.name for p in (lab / "out" / "LAB-VIS-001").iterdir()}
    kinds = ("checklist", "data-sheet", "dossier")
    papers = {f"LAB-VIS-001-r0-{k}-A4.{form}" for k in kinds for form in ("html", "pdf")}
    assert {*papers, "LAB-VIS-001-r0-record-blank.csv"} == made
    assert (lab / "out/LAB-VIS-001/LAB-VIS-001-r0-checklist-A4.pdf").read_bytes().startswith(b"%PDF-")


def test_the_sdist_runs_its_own_tests(sdist, tmp_path):
    with tarfile.open(sdist) as archive:
        archive.extraction_filter = getattr(tarfile, "data_filter", None)
        archive.extractall(tmp_path)  # noqa: S202  # it is our own archive
    (source,) = tmp_path.iterdir()
    env = {**os.environ, "PYTHONPATH": str(source / "compiler"), "PYTHONSAFEPATH": "1"}
    some = [
        "test_imports.py",
        "test_locate.py",
        "test_read.py",
        "test_schemas.py",
        "test_bad_methods.py",
        "fuzz",
    ]
    tests = [f"tests/{name}" for name in some]
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *tests]
    done = subprocess.run(command, cwd=source, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-3000:]
    where = [sys.executable, "-c", "import fillmark; print(fillmark.__file__)"]
    told = subprocess.run(where, cwd=source, env=env, capture_output=True, text=True, check=True).stdout
    assert Path(told.strip()).is_relative_to(source)
