"""What the sheet of a method asks: the name of each entry, its unit, what is allowed, and whether it may be left out.

The template is written from this, and a record is judged by it; the names are those of `record.schema.json`.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from fillmark.documents import plain, terms
from fillmark.documents.wording import Phrases, written
from fillmark.figures import Figures
from fillmark.model import Method, Step

Kind = Literal["text", "number", "bound", "day", "moment", "clock", "choice"]
Need = Literal["must", "should", "may"]


@dataclass(frozen=True, slots=True)
class Field:
    """One entry of a record."""

    key: str
    title: str
    kind: Kind = "text"
    unit: str = ""
    need: Need = "may"
    allowed: str = ""
    """What is allowed or wanted, for people."""
    given: str = ""
    """What the template fills in."""
    choices: tuple[str, ...] = ()


PASS_FAIL, IN_OUT, FITTED = ("pass", "fail"), ("in", "out"), ("fitted", "not fitted")


def replicates_of(method: Method) -> int:
    """How many replicates the template has room for: those asked for, and a repeat where the method has one."""
    count = method.replicates.count
    if method.replicates.confirm_outside:
        return count + 1
    return 2 * count if method.replicates.otherwise and count > 1 else count


def fields_of(method: Method, figures: Figures, digest: str) -> tuple[Field, ...]:
    """List every entry a record of the method can have, in the order of the sheet."""
    phrases = Phrases(method.reference.phrases)
    return (
        *_identity(method, phrases, digest),
        *_devices(method, phrases),
        *_checks(method, figures, phrases),
        *_loadings(method, figures, phrases),
        *_readings(method, figures, phrases),
        *_outcome(method, phrases),
        *_people(method, phrases),
    )


def _identity(m: Method, p: Phrases, digest: str) -> Iterator[Field]:
    yield Field("method.id", p.word("record-method"), need="must", given=m.id)
    yield Field("method.revision", p.word("record-revision"), need="must", given=str(m.revision))
    yield Field("method.digest", p.word("record-digest"), need="must", given=f"{digest[:4]} {digest[4:8]}")
    age = "" if m.sample.age is None else p.word("record-age", age=written(m.sample.age))
    moment = p.word("record-moment")
    yield Field("sample.number", p.word("entry-sample"), need="must")
    yield Field("sample.lot", p.word("entry-lot"), need="must")
    yield Field("sample.container", p.word("entry-container-no"))
    yield Field("sample.sampled", p.word("entry-sampled"), "moment", need="should", allowed=moment)
    prepared: Need = "must" if m.sample.age is not None else "should"
    yield Field("sample.prepared", p.word("entry-prepared"), "moment", need=prepared, allowed=moment)
    yield Field(
        "sample.measured",
        p.word("entry-tested"),
        "moment",
        need="must",
        allowed=f"{moment}; {age}".rstrip("; "),
    )
    yield Field("sample.room", p.word("entry-room"), "number", "°C")


def _devices(m: Method, p: Phrases) -> Iterator[Field]:
    def device(key: str, name: str, *, id_: Need = "must", due: Need = "may") -> Iterator[Field]:
        yield Field(f"{key}.id", p.word("record-device-id", device=name), need=id_)
        yield Field(
            f"{key}.due",
            p.word("record-device-due", device=name),
            "day",
            need=due,
            allowed=p.word("record-day"),
        )

    spring = f"{m.instrument.spring.key} ({written(m.instrument.spring.full_scale)})"
    yield from device("instrument", p.word("device-instrument"), due="must")
    yield Field("instrument.spring", p.word("record-spring"), need="must", allowed=spring)
    yield from device("spindle", p.word("device-spindle"))
    yield Field(
        "spindle.kind",
        p.word("record-spindle"),
        need="must",
        allowed=f"{m.spindle.key}, {plain(terms.form(m.spindle, p))}",
    )
    if m.instrument.adapter is not None:
        yield from device("adapter", p.word("device-adapter"))
    if m.guard != "not-applicable":
        asked = FITTED[0] if m.guarded else FITTED[1]
        yield from device("guard", p.word("device-guard"), id_="should" if m.guarded else "may")
        yield Field(
            "guard.state", p.word("record-guard"), "choice", need="must", allowed=asked, choices=FITTED
        )
    yield from device(
        "container", p.word("device-container"), id_="may" if m.container.kind == "pack" else "should"
    )
    yield Field(
        "container.kind",
        p.word("record-container"),
        need="must",
        allowed=f"{m.container.key} ({m.container.label})",
    )
    yield from device("thermometer", p.word("device-thermometer"), due="must")
    where = m.temperature.conditioning.where if m.temperature.conditioning is not None else ""
    if where in ("water-bath", "oil-bath", "jacket", "air-cabinet"):
        yield from device("bath", p.word("device-bath"), id_="should")
    if m.sample.mass is not None:
        yield from device("balance", p.word("device-balance"), due="must")
    yield from device("timer", p.word("device-timer"), id_="may")


def _checks(m: Method, f: Figures, p: Phrases) -> Iterator[Field]:
    zero = f"0 ± {m.reference.policy.texts['zero_limit']}"
    yield Field("zero", p.word("record-zero"), "number", "%", "must", zero)
    check = m.verification
    if check is None:
        return
    yield Field("fluid.kind", p.word("record-fluid"), need="must", allowed=check.fluid.key)
    yield Field("fluid.lot", p.word("record-fluid-lot"), need="must")
    yield Field("fluid.due", p.word("record-fluid-due"), "day", need="must", allowed=p.word("record-day"))
    yield Field(
        "verification.time",
        p.word("record-check-time"),
        "moment",
        need="should",
        allowed=p.word("record-moment"),
    )
    yield Field(
        "verification.temperature",
        p.word("record-check-temperature"),
        "number",
        "°C",
        "must",
        terms.fluid_temperature(check),
    )
    torque = terms.window(f, "verification.torque_lower", "verification.torque_upper")
    yield Field("verification.torque", p.word("record-check-torque"), "number", "%", "must", torque)
    unit = f["verification.lower"].unit
    yield Field(
        "verification.reading",
        p.word("record-check-reading"),
        "number",
        unit,
        "must",
        terms.verification_band(check, f),
    )
    yield Field(
        "verification.verdict",
        p.word("record-check-verdict"),
        "choice",
        need="must",
        allowed="pass / fail",
        choices=PASS_FAIL,
    )
    yield Field("verification.sign", p.word("record-check-sign"))


def loadings_of(method: Method) -> int:
    """How many loadings the template has room for."""
    return 1 if method.replicates.each == "re-read" else replicates_of(method)


def filling(m: Method, f: Figures) -> tuple[str, str]:
    """Give unit and allowed range of what is measured when a container is filled; empty where nothing is."""
    s = m.sample
    if m.container.kind in ("chamber", "adapter", "plate"):
        for asked in (s.mass, s.volume):
            if asked is not None:
                return asked.value.unit, written(asked)
        return "", ""
    if s.volume is not None and "container.fill_lower" in f:
        return "mm", terms.window(f, "container.fill_lower", "container.fill_upper")
    return "", ""


def level(m: Method, f: Figures) -> str:
    """Give the allowed range (mm) of what is measured with the spindle in; empty where nothing is."""
    immersion = m.immersion
    if immersion.to == "shaft-mark":
        return terms.window(f, "container.level_lower", "container.level_upper")
    if immersion.to in ("above-top", "depth") and immersion.depth is not None:
        tolerance = "" if immersion.tolerance is None else f" ± {written(immersion.tolerance)}"
        return f"{written(immersion.depth)}{tolerance}"
    return ""


def _loadings(m: Method, f: Figures, p: Phrases) -> Iterator[Field]:
    conditioning = m.temperature.conditioning
    fill_unit, fill_allowed = filling(m, f)
    hung = level(m, f)
    clock = p.word("record-clock")
    for n in range(1, loadings_of(m) + 1):
        need: Need = "should" if n <= m.replicates.count else "may"
        no = p.word(f"loading-{m.replicates.each}", n=str(n))
        if fill_unit:
            yield Field(
                f"loading.{n}.fill", p.word("record-fill", no=no), "number", fill_unit, need, fill_allowed
            )
        if conditioning is not None and conditioning.where != "none" and conditioning.time is not None:
            yield Field(f"loading.{n}.in", p.word("record-in", no=no), "clock", need=need, allowed=clock)
            least = p.word("limit-out", time=written(conditioning.time))
            yield Field(
                f"loading.{n}.out",
                p.word("record-out", no=no),
                "clock",
                need=need,
                allowed=f"{clock}; {least}",
            )
        if hung:
            yield Field(f"loading.{n}.level", p.word("record-level", no=no), "number", "mm", need, hung)
        if m.sample.rest is not None:
            yield Field(
                f"loading.{n}.rest",
                p.word("record-rest", no=no),
                "clock",
                allowed=f"{clock}; {written(m.sample.rest)}",
            )


def _readings(m: Method, f: Figures, p: Phrases) -> Iterator[Field]:
    temperature = terms.temperature_window(f)
    clock = p.word("record-clock")
    for n in range(1, replicates_of(m) + 1):
        asked = n <= m.replicates.count
        must: Need = "must" if asked else "may"
        for step in m.run:
            key, no = (
                f"reading.{n}.{step.name}",
                p.word("record-reading", n=str(n), speed=written(step.speed)),
            )
            unit = terms.unit_of(f, step)

            def one(
                name: str, title: str, kind: Kind, unit: str = "", need: Need = "may", allowed: str = ""
            ) -> Field:
                return Field(f"{key}.{name}", f"{no}: {title}", kind, unit, need, allowed)  # noqa: B023 - used at once

            yield one("start", p.word("record-start"), "clock", need=must, allowed=clock)
            yield one(
                "read",
                p.word("record-read"),
                "clock",
                need="should" if asked else "may",
                allowed=f"{clock}; {when(f, step)}",
            )
            yield one("before", p.word("record-before"), "number", "°C", must, temperature)
            # Where the readout shows no number beyond full scale, all there is to write is > 100 %.
            yield one("torque", p.word("record-torque"), "bound", "%", must, terms.torque_window(f, step)[0])
            if m.instrument.readout == "digital":
                yield one("display", p.word("readings-display"), "bound", unit, must)
            yield one("product", f"{p.word('record-torque')} × {terms.factor(f, step)}", "bound", unit)
            if m.temperature.recheck:
                yield one("after", p.word("record-after"), "number", "°C", must, temperature)
            yield one("remarks", p.word("readings-remarks"), "text")


def when(f: Figures, step: Step) -> str:
    """Write when a reading is to be taken, from motor start."""
    at, _, end = terms.clock(f, step)
    if not at:
        return ""
    return f"+{at} – {end}" if step.read.average is not None else f"+{at}"


def _outcome(m: Method, p: Phrases) -> Iterator[Field]:
    for line in m.report:
        unit = line.unit or (line.increment.unit if line.increment is not None else "")
        key = f"outcome.{line.result}"
        if m.replicates.count > 1:
            percent = m.replicates.agree_within is not None and m.replicates.agree_within.kind == "percent"
            limit = terms.range_allowed(m, line)
            yield Field(
                f"{key}.range",
                f"{line.result}: {p.words('table-results')[1]}",
                "number",
                "%" if percent else unit,
                allowed=p.word("limit-at-most", limit=limit) if limit else "",
            )
        yield Field(f"{key}.unrounded", f"{line.result}: {p.words('table-results')[3]}", "bound", unit)
        yield Field(
            f"{key}.reported",
            f"{line.result}: {p.words('table-results')[4]}",
            "bound",
            unit,
            allowed=written(line.increment),
        )
        yield Field(
            f"{key}.verdict",
            f"{line.result}: {p.words('table-results')[7]}",
            "choice",
            allowed=terms.limits(m.limit(line.result), p),
            choices=IN_OUT,
        )


def _people(m: Method, p: Phrases) -> Iterator[Field]:
    moment = p.word("record-moment")
    checked: Need = "must" if m.purpose in ("release", "stability") else "should"
    level_ = "" if m.training is None else p.word("record-level-held", level=str(m.training.level))
    yield Field("people.analyst", p.word("entry-analyst-name"), need="must", allowed=level_)
    yield Field(
        "people.performed",
        p.word("record-signed", who=p.word("signature-performed")),
        "moment",
        allowed=moment,
    )
    yield Field("people.checker", p.word("signature-checked"), need=checked)
    yield Field(
        "people.checked", p.word("record-signed", who=p.word("signature-checked")), "moment", allowed=moment
    )
    yield Field("people.accepted_by", p.word("signature-accepted-plain"))
    yield Field(
        "people.accepted",
        p.word("record-signed", who=p.word("signature-accepted-plain")),
        "moment",
        allowed=moment,
    )
    yield Field("attachments", p.word("entry-attachments"))
    yield Field("remarks", p.word("entry-remarks"))
