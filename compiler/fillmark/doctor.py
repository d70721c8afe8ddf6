"""Look whether everything Fillmark needs is here: for `check` and HTML, for PDF, and in this folder.

Nothing of the outside world is imported at the top, so that the examination runs where something is missing:
`fillmark doctor`, or `python -m fillmark.doctor` where the command itself cannot start.
"""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

OK, NOTE, MISSING = "ok", "note", "missing"

REINSTALL = "python -m pip install --force-reinstall fillmark"

_LIBRARIES = {
    # what it is for: names under which it is loaded on Linux, macOS and Windows, as WeasyPrint asks for them
    "GObject": ("libgobject-2.0.so.0", "libgobject-2.0.0.dylib", "libgobject-2.0-0.dll"),
    "Pango": ("libpango-1.0.so.0", "libpango-1.0.dylib", "libpango-1.0-0.dll"),
    "PangoFT2": ("libpangoft2-1.0.so.0", "libpangoft2-1.0.dylib", "libpangoft2-1.0-0.dll"),
    "HarfBuzz": ("libharfbuzz.so.0", "libharfbuzz.0.dylib", "libharfbuzz-0.dll"),
    "HarfBuzz subset": ("libharfbuzz-subset.so.0", "libharfbuzz-subset.0.dylib", "libharfbuzz-subset-0.dll"),
    "Fontconfig": ("libfontconfig.so.1", "libfontconfig.1.dylib", "libfontconfig-1.dll"),
}
_FONTS = {"DejaVu Sans": "DejaVuSans.ttf", "DejaVu Sans Condensed": "DejaVuSansCondensed.ttf"}
_PACKAGES = ("click", "rich", "rfc8785", "jinja2", "markdown_it", "segno")


@dataclass(frozen=True, slots=True)
class Point:
    """One thing looked at: how it stands, what it is, and what to do where it is not as it should be."""

    state: str
    """ok, note, missing"""
    text: str
    remedy: str = ""


def examine(workspace: Path | None) -> tuple[list[str], bool]:
    """Look at the installation, the libraries for PDF and this workspace.

    Gives the lines to print, and whether nothing is missing. A note is no fault.
    """
    parts = (
        ("For check and HTML", list(_core())),
        ("For PDF", list(_printing())),
        ("Here", list(_here(workspace))),
    )
    lines: list[str] = []
    for title, points in parts:
        lines.append(title)
        for point in points:
            lines.append(f"  {point.state:8}{point.text}")
            if point.remedy:
                lines.append(f"{'':10}{point.remedy}")
    core, pdf, here = (all(p.state != MISSING for p in points) for _, points in parts)
    if core and pdf and here:
        lines.append("Everything Fillmark needs is here.")
    elif not core:
        lines.append("Fillmark cannot check methods before what is missing above has been put right.")
    elif not pdf:
        lines.append("`fillmark check` and HTML work; PDF does not yet (leave it out with --format html).")
    if core and not here:
        lines.append("Fillmark itself is in order; something in this folder is not.")
    return lines, core and pdf and here


def _core() -> Iterator[Point]:
    from fillmark import __version__  # noqa: PLC0415
    from fillmark.locate import schemas_folder, shared_folder  # noqa: PLC0415

    version = ".".join(str(n) for n in sys.version_info[:3])
    if sys.version_info >= (3, 11):  # noqa: UP036 - an installation may be older than it says
        yield Point(OK, f"Python {version} ({sys.executable})")
    else:
        yield Point(MISSING, f"Python {version} is too old.", "Install Python 3.11 or newer.")
    yield Point(OK, f"Fillmark {__version__}")
    for what, folder in (("Schemas", schemas_folder), ("Reference data", shared_folder)):
        yield _tried(lambda what=what, folder=folder: f"{what} in {folder()}", what, REINSTALL)  # type: ignore[misc]
    yield _tried(_yaml, "PyYAML with its C parser", "python -m pip install --force-reinstall PyYAML")
    yield _tried(_schema_gate, "jsonschema-rs", "python -m pip install --force-reinstall jsonschema-rs")
    absent = [name for name in _PACKAGES if not _imports(name)]
    if absent:
        yield Point(MISSING, f"Python packages that cannot be imported: {', '.join(absent)}", REINSTALL)
    else:
        yield Point(OK, f"Python packages: {', '.join(_PACKAGES)}")


def _tried(look: Callable[[], str], what: str, remedy: str) -> Point:
    """Turn a look at something that may fail in any way into a point."""
    try:
        return Point(OK, look())
    except Exception as error:  # noqa: BLE001 - whatever a foreign library does is what is to be told
        return Point(MISSING, f"{what}: {_in_a_line(error)}", remedy)


def _in_a_line(error: Exception) -> str:
    return " ".join(str(error).split())[:160] or type(error).__name__


def _imports(name: str) -> bool:
    from importlib import import_module  # noqa: PLC0415

    try:
        import_module(name)
    except ImportError:
        return False
    return True


def _yaml() -> str:
    import yaml  # noqa: PLC0415
    from yaml._yaml import CParser  # noqa: PLC0415

    CParser("a: 1").get_event()
    return f"PyYAML {yaml.__version__} with its C parser"


def _schema_gate() -> str:
    from importlib.metadata import version  # noqa: PLC0415

    import jsonschema_rs  # noqa: PLC0415

    if jsonschema_rs.validator_for({"type": "string"}).is_valid(1):
        raise RuntimeError("it lets a number pass for a text")
    return f"jsonschema-rs {version('jsonschema-rs')}"


def _printing() -> Iterator[Point]:
    absent = [what for what, names in _LIBRARIES.items() if not _loads(names)]
    if absent:
        yield Point(MISSING, f"System libraries: {', '.join(absent)}", _for_this_system())
    else:
        yield Point(OK, f"System libraries: {', '.join(_LIBRARIES)}")
    fonts = [name for name, file in _FONTS.items() if not _has_font(name, file)]
    if fonts:
        yield Point(MISSING, f"Fonts: {', '.join(fonts)}; pages would break elsewhere", _for_this_system())
    else:
        yield Point(OK, f"Fonts: {', '.join(_FONTS)}")
    if absent:
        yield Point(MISSING, "A PDF cannot be made without these libraries.")
    elif len(fonts) == len(_FONTS):
        yield Point(MISSING, "A PDF cannot be made without a font.")
    else:
        yield _tried(
            _one_page, "A trial page could not be made", "python -m pip install --force-reinstall weasyprint"
        )


def _for_this_system() -> str:
    if sys.platform == "darwin":
        return "brew install pango font-dejavu"
    if sys.platform == "win32":
        return "Install MSYS2, then in its shell: pacman -S mingw-w64-x86_64-{pango,ttf-dejavu}"
    from fillmark.printing import INSTALL  # noqa: PLC0415

    return INSTALL


def _loads(names: tuple[str, ...]) -> bool:
    from ctypes import CDLL  # noqa: PLC0415

    for name in names:
        try:
            CDLL(name)
        except OSError:
            continue
        return True
    return False


def _has_font(name: str, file: str) -> bool:
    """Ask fontconfig for a face; where its tool is absent, look for the file itself."""
    try:
        asked = subprocess.run(  # noqa: S603 - the names are our own
            ["fc-list", f":fullname={name}", "file"],  # noqa: S607 - wherever it is installed
            capture_output=True, text=True, check=True, timeout=20,
        )  # fmt: skip
    except (OSError, subprocess.SubprocessError):
        home = Path.home()
        places = (
            Path("/usr/share/fonts"), Path("/usr/local/share/fonts"), home / ".local/share/fonts",
            home / ".fonts", Path("/Library/Fonts"), home / "Library/Fonts",
            Path(os.environ.get("WINDIR", "C:/Windows")) / "Fonts",
        )  # fmt: skip
        return any(next(place.rglob(file), None) is not None for place in places if place.is_dir())
    return bool(asked.stdout.strip())


def _one_page() -> str:
    """Make a page in memory and look at it: a PDF, with the font in it."""
    import warnings  # noqa: PLC0415
    from contextlib import redirect_stdout  # noqa: PLC0415
    from io import StringIO  # noqa: PLC0415

    with redirect_stdout(StringIO()), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import weasyprint  # noqa: PLC0415

        html = "<style>body { font-family: 'DejaVu Sans' }</style><p>23.0 °C ± 0.5 °C, 12 mPa·s</p>"
        made = weasyprint.HTML(string=html).write_pdf(uncompressed_pdf=True)
    if not made or not made.startswith(b"%PDF-"):
        raise RuntimeError("what came out is no PDF")
    if b"DejaVu-Sans" not in made and b"DejaVuSans" not in made:
        raise RuntimeError("the page is not set in DejaVu Sans")
    return (
        f"WeasyPrint {weasyprint.__version__}; a trial page of {len(made) // 1024 + 1} kB was made in memory"
    )


def _here(workspace: Path | None) -> Iterator[Point]:
    encoding = (getattr(sys.stdout, "encoding", None) or "unknown").lower()
    if encoding.replace("-", "") == "utf8":
        yield Point(OK, "The terminal writes UTF-8.")
    else:
        shown = "ASCII" if encoding == "spelt-out" else encoding
        yield Point(
            NOTE, f"The terminal writes {shown}; signs it does not know are spelt out: mPa.s, degC, um.",
            "Set LANG=C.UTF-8, or PYTHONIOENCODING=utf-8, to see the signs themselves.",
        )  # fmt: skip
    if workspace is None:
        yield Point(
            NOTE, "No workspace here or above: what is shipped is used, with instruments of a demonstration.",
            "Make your own: fillmark new lab FOLDER",
        )  # fmt: skip
        return
    yield from _reference_data(workspace)
    yield from _schema_copy(workspace)
    yield from _out(workspace / "out")


def _reference_data(workspace: Path) -> Iterator[Point]:
    try:
        from fillmark.diagnostics import in_reading_order  # noqa: PLC0415
        from fillmark.reference import KINDS, load  # noqa: PLC0415
    except ImportError:
        yield Point(
            MISSING, f"Workspace {workspace}: its reference data cannot be read before the above is right."
        )
        return
    reference, found = load(workspace)
    if reference is None:
        count = f"{len(found)} fault{'' if len(found) == 1 else 's'}"
        first = in_reading_order(found)[0]
        yield Point(
            MISSING, f"Workspace {workspace}: {count} in its reference data.",
            f"{first.file}:{first.span.line}: {first.message} All of them: fillmark check",
        )  # fmt: skip
        return
    yield Point(OK, f"Workspace {workspace}: its reference data is valid.")
    shipped, _ = load(None)
    if shipped is None:
        return
    for kind in KINDS:
        own = {
            key for (k, key), file in reference.origins.items() if k == kind and file.startswith("shared/")
        }
        own.discard("version")
        over = sorted(own & set(shipped.raw[kind]))
        added = sorted(own - set(shipped.raw[kind]))
        gone = set(shipped.raw[kind]) - set(reference.raw[kind])
        words = [f"{word} {', '.join(keys)}" for word, keys in (("overrides", over), ("adds", added)) if keys]
        words += [f"drops {len(gone)} shipped"] if gone else []
        if words:
            yield Point(OK, f"shared/{kind}.yaml {'; '.join(words)}")
    demo = [i for i in reference.instruments if reference.origins["instruments", i].startswith("shipped/")]
    if demo and _is_own(workspace):
        yield Point(
            NOTE, f"{len(demo)} instruments are those of a demonstration.",
            "List your own in shared/instruments.yaml with `replace: true` at its top.",
        )  # fmt: skip


def _is_own(workspace: Path) -> bool:
    from fillmark.locate import shared_folder  # noqa: PLC0415

    return (workspace / "shared").resolve() != shared_folder().resolve()


def _schema_copy(workspace: Path) -> Iterator[Point]:
    from fillmark.locate import schemas_folder  # noqa: PLC0415

    copy = workspace / "schemas" / "method.schema.json"
    if copy.is_file() and copy.read_bytes() != (schemas_folder() / copy.name).read_bytes():
        yield Point(
            NOTE, f"{copy} is of another version: hints in the editor may be wrong, the check is not.",
            "Delete it; the next `fillmark new method` writes it afresh.",
        )  # fmt: skip


def _out(out: Path) -> Iterator[Point]:
    from fillmark.publish import leftovers  # noqa: PLC0415

    home = out if out.exists() else out.parent
    if home.is_dir() and os.access(home, os.W_OK | os.X_OK):
        yield Point(OK, f"{out} can be written.")
    else:
        yield Point(
            MISSING, f"{out} cannot be written.", "See to its permissions, or build elsewhere with --out."
        )
    if out.is_dir() and (left := leftovers(out)):
        names = ", ".join(p.name for p in left)
        yield Point(
            NOTE, f"A build was interrupted and left {names}; no paper is half-written.",
            "The next `fillmark build` clears it away.",
        )  # fmt: skip


def _alone() -> None:
    """Examine without the command line, which may not be able to start."""
    try:
        from fillmark.workspace import find_workspace  # noqa: PLC0415

        workspace = find_workspace(Path())
    except (ImportError, OSError):
        workspace = None
    lines, healthy = examine(workspace)
    print("\n".join(lines))  # noqa: T201 - this is its output
    sys.exit(0 if healthy else 1)


if __name__ == "__main__":
    _alone()
