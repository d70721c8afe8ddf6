"""What a result rests on, as one number: two results on the same footing need not both be worked out.

Everything is taken by content, nothing by the time of a file: a clock set back, a file touched or a checkout
copied changes no fingerprint. What lies outside is told where it is asked for: fonts and system libraries.
"""

import hashlib
import os
import sys
from collections.abc import Iterable, Mapping
from contextlib import suppress
from functools import cache
from pathlib import Path

from fillmark import __version__
from fillmark.locate import PACKAGE, schemas_folder


def of(parts: Iterable[str | bytes]) -> str:
    """Give the SHA-256 of some texts in this order, each with its length, as 64 hexadecimal digits."""
    found = hashlib.sha256()
    for part in parts:
        content = part.encode("utf-8", "surrogatepass") if isinstance(part, str) else part
        found.update(len(content).to_bytes(8, "big"))
        found.update(content)
    return found.hexdigest()


def of_files(files: Mapping[str, bytes]) -> str:
    """Give the fingerprint of named files, whatever their order."""
    return of(part for name in sorted(files) for part in (name, files[name]))


@cache
def of_program() -> str:
    """Give the fingerprint of Fillmark: its code, templates and schemas, Python, and the libraries beside it.

    The libraries count by the names and versions their packages were installed under. The reference data that
    is shipped is left out, for it is part of what `reference.read_files` reads.
    """
    files: dict[str, bytes] = {}
    for root in (PACKAGE, schemas_folder()):
        for folder, inner, names in os.walk(root):
            inner[:] = [name for name in inner if name not in ("__pycache__", "shared")]
            for path in (Path(folder, name) for name in names):
                files[path.relative_to(root).as_posix()] = path.read_bytes()
    return of([__version__, sys.version, of_files(files), *_installed()])


def _installed() -> list[str]:
    """List what is installed in the folders Python searches: `click-8.1.7.dist-info` and the like."""
    found: set[str] = set()
    for folder in sys.path:
        if Path(folder).name in ("site-packages", "dist-packages"):
            with suppress(OSError):
                found.update(
                    p.name for p in Path(folder).iterdir() if p.suffix in (".dist-info", ".egg-info")
                )
    return sorted(found)
