"""The laboratory's methods on one page: where each stands, and what hangs on each piece of equipment."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from fillmark import __version__
from fillmark.choices import eligible
from fillmark.diagnostics import Diagnostic, Severity
from fillmark.model import Instrument, Method, Reference
from fillmark.pipeline import Compiled
from fillmark.quantities import counted
from fillmark.render import templates
from fillmark.spreadsheet import csv_bytes

KINDS: Mapping[str, str] = {
    "instruments": "Instruments",
    "spindles": "Spindles",
    "guards": "Guards",
    "containers": "Containers",
    "fluids": "Reference fluids",
    "other": "Other equipment",
}
"""Kinds of equipment, in the order they are listed in."""


@dataclass(frozen=True, slots=True)
class Findings:
    """How many findings a method has, by weight; waived ones apart."""

    errors: int
    warnings: int
    advice: int
    waived: int

    def __str__(self) -> str:
        """Write them in few words."""
        counts = (
            (self.errors, "error"), (self.warnings, "warning"), (self.advice, "advice"), (self.waived, "waived"),
        )  # fmt: skip
        unchanging = ("advice", "waived")
        said = (f"{n} {word}" if word in unchanging else counted(n, word) for n, word in counts if n)
        return ", ".join(said) or "none"


@dataclass(frozen=True, slots=True)
class Entry:
    """Where one method stands; what is None is not known, because the file cannot be compiled."""

    file: str
    id: str
    title: str
    product: str
    revision: int | None
    status: str
    released: int | None
    """Newest revision in the register of releases."""
    review_by: date | None
    review: str
    """What the day says of the review: in words."""
    findings: Findings
    instruments: tuple[str, ...]
    """Instruments of the laboratory that can run it."""


@dataclass(frozen=True, slots=True)
class Use:
    """What withdrawing a piece of equipment does to one method."""

    method: str
    effect: str
    """stops, unverified, fewer"""
    left: tuple[str, ...] = ()
    """With `fewer`: the instruments that remain."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of equipment and the methods that rest on it."""

    kind: str
    key: str
    label: str
    uses: tuple[Use, ...]

    def methods(self, effect: str) -> tuple[str, ...]:
        """List the methods that its withdrawal has this effect on."""
        return tuple(use.method for use in self.uses if use.effect == effect)

    @property
    def consequence(self) -> str:
        """Say what becomes of the laboratory's methods when the piece is withdrawn."""
        said = []
        if stops := self.methods("stops"):
            said.append(f"cannot be run: {', '.join(stops)}")
        if unverified := self.methods("unverified"):
            said.append(f"cannot be verified, so that no result stands: {', '.join(unverified)}")
        said.extend(
            f"{use.method} is left with {', '.join(use.left)}" for use in self.uses if use.effect == "fewer"
        )
        return "; ".join(said) or "nothing"


def entries(compiled: Sequence[Compiled], released: Mapping[str, int], today: date) -> list[Entry]:
    """Describe each method file; `released` gives the newest released revision of an id."""
    return sorted(
        (_entry(one, released, today) for one in compiled), key=lambda e: (e.id == "", e.id, e.file)
    )


def _entry(one: Compiled, released: Mapping[str, int], today: date) -> Entry:
    def count(severity: Severity) -> int:
        return sum(d.severity == severity and d.waived_by is None for d in one.diagnostics)

    m = one.method
    findings = Findings(
        count(Severity.ERROR),
        count(Severity.WARNING),
        count(Severity.ADVICE),
        sum(d.waived_by is not None for d in one.diagnostics),
    )
    if m is None:
        why = "cannot be compiled: fillmark check says why"
        return Entry(one.file, "", why, "", None, "unreadable", None, None, "", findings, ())
    return Entry(
        one.file, m.id, m.title, m.product.name, m.revision, m.status, released.get(m.id), m.review_by,
        _review(m, today), findings, tuple(i.label for i in _able(m)),
    )  # fmt: skip


def _review(m: Method, today: date) -> str:
    if m.review_by is None:
        return "no date"
    days = (m.review_by - today).days
    if days < 0:
        return f"overdue by {counted(-days, 'day')}"
    notice = m.reference.policy["review_notice"] / 86400
    return f"due in {counted(days, 'day')}" if days <= notice else "not yet"


def _able(m: Method) -> list[Instrument]:
    return [i for i in eligible(m) if all(i.has_speed(s.speed.value) for s in m.run)]


def pieces(compiled: Sequence[Compiled], reference: Reference) -> list[Piece]:
    """List all equipment of the laboratory with what each method would be without it; withdrawn methods left out.

    A piece that a method names but the laboratory's list does not (other equipment) is listed as it is written.
    """
    uses: dict[tuple[str, str], list[Use]] = defaultdict(list)
    for m in sorted((c.method for c in compiled if c.method is not None), key=lambda m: m.id):
        if m.status not in ("superseded", "withdrawn"):
            for place, use in _needs(m):
                uses[place].append(use)
    listed = {
        **{("instruments", i.key): i.label for i in reference.instruments.values()},
        **{("spindles", s.key): s.key for s in reference.spindles.values()},
        **{("guards", g.key): f"{g.key} guard" for g in reference.guards.values()},
        **{("containers", c.key): c.label for c in reference.containers.values()},
        **{("fluids", f.key): f.key for f in reference.fluids.values()},
        **{place: place[1] for place in uses if place[0] == "other"},
    }
    return [
        Piece(kind, key, label, tuple(uses.get((kind, key), ())))
        for (kind, key), label in sorted(listed.items(), key=lambda item: list(KINDS).index(item[0][0]))
    ]


def _needs(m: Method) -> Iterator[tuple[tuple[str, str], Use]]:
    """Give each piece a method rests on, once, with the heavier of its effects."""
    able = _able(m)
    for one in able:
        left = tuple(i.label for i in able if i is not one)
        yield ("instruments", one.key), Use(m.id, "fewer", left) if left else Use(m.id, "stops")
    running = {("spindles", m.spindle.key)}
    if not m.container.path:
        running.add(("containers", m.container.key))
    if m.guarded and m.fitting_guard is not None:
        running.add(("guards", m.fitting_guard.key))
    running |= {("other", text) for text in m.equipment}
    checking: set[tuple[str, str]] = set()
    check = m.verification
    if check is not None:
        checking.add(("fluids", check.fluid.key))
        if check.spindle is not None:
            checking.add(("spindles", check.spindle.key))
        if check.container is not None and not check.container.path:
            checking.add(("containers", check.container.key))
    for place in sorted(running):
        yield place, Use(m.id, "stops")
    for place in sorted(checking - running):
        yield place, Use(m.id, "unverified")


METHOD_COLUMNS = (
    "id", "title", "product", "revision", "status", "released revision", "review by", "review", "errors", "warnings",
    "advice", "waived", "instruments that can run it", "file",
)  # fmt: skip
PIECE_COLUMNS = ("kind", "piece", "stops", "cannot be verified", "has fewer instruments left")


def methods_csv(listed: Sequence[Entry]) -> bytes:
    """Write the methods as CSV, one a line."""
    rows = [
        (
            e.id, e.title, e.product, e.revision, e.status, e.released, e.review_by, e.review, e.findings.errors,
            e.findings.warnings, e.findings.advice, e.findings.waived, "; ".join(e.instruments), e.file,
        )
        for e in listed
    ]  # fmt: skip
    return csv_bytes([METHOD_COLUMNS, *rows])


def equipment_csv(listed: Sequence[Piece]) -> bytes:
    """Write the equipment as CSV, one piece a line, with the methods by what becomes of them."""
    effects = ("stops", "unverified", "fewer")
    return csv_bytes(
        [PIECE_COLUMNS, *((p.kind, p.label, *("; ".join(p.methods(e)) for e in effects)) for p in listed)]
    )


def page(
    methods: Sequence[Entry],
    equipment: Sequence[Piece],
    together: Sequence[Diagnostic],
    laboratory: str,
    today: date,
) -> bytes:
    """Make the page of the library; `together` is what the methods say together."""
    template = templates().get_template("library.html")
    return template.render(
        laboratory=laboratory,
        today=today.isoformat(),
        version=__version__,
        methods=methods,
        kinds=[(KINDS[k], [p for p in equipment if p.kind == k]) for k in KINDS],
        together=together,
    ).encode()
