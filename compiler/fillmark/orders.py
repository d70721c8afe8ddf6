"""What to make of methods: which documents, on which paper, in which form."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

KINDS = ("checklist", "data-sheet", "dossier", "training", "competency")
"""The documents there are, in the order they are made in."""

FORMS = ("verification-log", "transfer", "investigation")
"""Forms of a method that are made where they are named; no part of a release."""

RECORD = "record"
"""The data sheet as a file to fill in: CSV, whatever form and paper the others have; no part of a release."""

USUAL = (*KINDS[:3], RECORD)
"""Those made where none is named."""


@dataclass(frozen=True, slots=True)
class Order:
    """What to make of each method."""

    papers: tuple[str, ...]
    """Paper sizes; none means that of the site policy."""
    kinds: tuple[str, ...]
    forms: tuple[str, ...]
    print_date: date | None = None
    home: Path | None = field(default=None, repr=False)
    """The workspace with whose releases a dossier compares; with none unless given."""
    released: Mapping[str, str] = field(default_factory=dict, repr=False)
    """Method -> what tells its last release from the one before: a dossier made before it is out of date."""
