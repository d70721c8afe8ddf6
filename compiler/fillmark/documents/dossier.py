"""The dossier: all a reviewer needs to say yes or no, and to redo every number by hand.

What the rules said comes first, by consequence; then the method in its parameters, every figure with formula,
inputs, digits and source, the data and thresholds it rests on, and the block to sign with the digest beside it.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from itertools import count
from typing import Any

from fillmark.diagnostics import Diagnostic, Path, Severity
from fillmark.documents import (
    Block,
    Box,
    Cell,
    Document,
    Field,
    Lines,
    Picture,
    Section,
    Side,
    Table,
    Text,
    terms,
)
from fillmark.documents.head import head
from fillmark.documents.wording import Phrases, light, on_paper, strong
from fillmark.documents.working import at, worked
from fillmark.figures import Figure, Figures
from fillmark.model import Method, Waiver

Row = tuple[Cell, ...]

MEMORY = "from-memory"

SHORT = 28
"""Letters of a figure that is set large; a whole sentence is not."""

TOPICS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("topic-instrument", ("accuracy", "full_scale_angle", "resolution", "coefficient")),
    ("topic-run", ("run",)),
    ("topic-time", ("bench_time", "pot_life_used")),
    ("topic-container", ("container", "immersion", "helical", "sample")),
    ("topic-temperature", ("temperature", "conditioning")),
    ("topic-replicates", ("replicates",)),
    ("topic-verification", ("verification",)),
    ("topic-report", ("report",)),
)
"""The topics of the figures in the order of the dossier, by the first word of their keys."""


Budget = tuple[str, tuple[tuple[str, ...], ...]]
"""A step and the rows of its budget, as texts."""


@dataclass(frozen=True, slots=True)
class Review:
    """What the other stages know of a method and the dossier shows."""

    findings: tuple[Diagnostic, ...]
    """Waived ones included."""
    not_judged: tuple[tuple[str, str, str], ...]
    """(code, slug, why)"""
    rules: int
    """How many rules were applied."""
    version: str
    """Version of Fillmark, which is that of its rules."""
    used: tuple[tuple[str, str], ...]
    """(kind, key) of the reference data the method rests on."""
    line_of: Callable[[Path], int]
    """Gives the line of the method file a value stands on."""


@dataclass(frozen=True, slots=True)
class Since:
    """What changed since the last release, as texts."""

    revision: int
    day: str
    by: str
    """Who released it."""
    digest: str
    """Digest of the method that was released."""
    klass: str = ""
    """Class of the whole change; empty where nothing changed."""
    trigger: str = ""
    """What it asks of those who run the method."""
    meaning: str = ""
    changes: tuple[tuple[str, ...], ...] = ()
    """Path, what it is, before, after, class."""
    figures: tuple[tuple[str, ...], ...] = ()
    """What it is, before, after, factor, note."""
    histories: tuple[tuple[str, ...], ...] = ()
    """Result, state, what breaks it, what to mind."""
    problem: str = ""
    """Why it cannot be told; empty where it can."""


@dataclass(frozen=True, slots=True)
class _Desk:
    """What every part of the dossier looks things up in."""

    method: Method
    figures: Figures
    phrases: Phrases
    review: Review
    numbers: Mapping[str, int]
    """Figure -> its number."""
    cited: dict[str, int]
    """Source -> its number in the bibliography, in the order in which they are first named."""

    def cite(self, key: str) -> int:
        """Give the number of a source, a new one where it is named for the first time."""
        return self.cited.setdefault(key, len(self.cited) + 1)

    def known(self, key: str) -> str:
        """Say how far a source can be trusted."""
        return self.method.reference.sources[key].known.replace("-", " ")


def plan_dossier(
    method: Method,
    figures: Figures,
    digest: str,
    review: Review,
    *,
    pictures: tuple[Picture, ...] = (),
    uncertainty: tuple[Budget, ...] = (),
    misuse: tuple[Budget, ...] = (),
    since: Since | None = None,
    print_date: date | None = None,
) -> Document:
    """Plan the dossier of a method.

    `digest` is its whole digest; pictures, budgets and the page of changes since the last release are left
    out where there are none. A budget is the name of a step and its rows as texts.
    """
    phrases = Phrases(method.reference.phrases)
    topics = _by_topic(method, figures)
    ordered = [key for _, keys in topics for key in keys]
    desk = _Desk(method, figures, phrases, review, dict(zip(ordered, count(1), strict=False)), {})
    parts: list[tuple[str, str, tuple[Block, ...]]] = []
    if since is not None:
        parts.append(
            ("since", phrases.word("section-since", revision=str(since.revision)), _since(desk, since))
        )
    parts += [
        ("findings", phrases.word("section-findings"), ()),
        ("waivers", phrases.word("section-waivers"), _waivers(desk)),
        ("not-judged", phrases.word("section-not-judged"), _not_judged(desk)),
        ("parameters", phrases.word("section-parameters"), _parameters(desk)),
    ]
    for index, (topic, keys) in enumerate(topics):
        title = phrases.word("section-figures", topic=topic)
        parts.append((f"figures-{index}", title, _figures(desk, keys, noted=index == 0)))
    for name, table, budgets in (
        ("uncertainty", "table-uncertainty", uncertainty),
        ("misuse", "table-misuse", misuse),
    ):
        for step, texts in budgets:
            title = phrases.word(f"section-{name}", step=step)
            parts.append((f"{name}-{step}", title, _budget(desk, name, table, texts)))
    for picture in pictures:
        title = phrases.word("section-pictures", title=picture.title)
        parts.append((f"picture-{picture.name}", title, (picture,)))
    parts += [
        ("open", phrases.word("section-open"), _open(desk)),
        ("reference", phrases.word("section-reference"), _reference(desk)),
        ("policy", phrases.word("section-policy"), _policy(desk)),
        ("changes", phrases.word("section-changes"), _changes(desk)),
        ("sources", phrases.word("section-sources"), _sources(desk)),
        ("approval", phrases.word("section-approval"), _approval(desk, digest)),
    ]
    place = {name: str(number) for number, (name, _, _) in enumerate(parts, 2)}
    sections = [Section("1", phrases.word("section-summary"), _summary(desk, digest, place, since))]
    for name, title, blocks in parts:
        filled = _findings(desk, place) if name == "findings" else blocks
        sections.append(Section(place[name], title, filled))
    return Document(
        kind="dossier",
        language="en",
        # A dossier is no copy for the bench that runs out: it holds as long as the digest does.
        head=replace(head(method, phrases, digest, paper="paper-dossier", print_date=print_date), valid=""),
        sides=(Side(1, tuple(sections)),),
        foot=(phrases.line("safety-first"),),
    )


def _by_topic(m: Method, figures: Figures) -> list[tuple[str, list[str]]]:
    """Sort the figures by topic; each step of the run is a topic of its own."""
    phrases = Phrases(m.reference.phrases)
    topics: list[tuple[str, list[str]]] = []
    for name, words in TOPICS:
        keys = [key for key in figures if key.partition(".")[0] in words]
        if name != "topic-run":
            topics.append((phrases.word(name), keys))
            continue
        for step in m.run:
            title = phrases.word(name, step=step.name, speed=on_paper(step.speed.text))
            topics.append((title, [key for key in keys if key.startswith(f"run.{step.name}.")]))
    return [(title, keys) for title, keys in topics if keys]


def _plain(phrases: Phrases, text: str | None) -> str:
    return " ".join(text.split()) if text else phrases.word("not-given")


# --- summary ------------------------------------------------------------------------------------------------


def _summary(desk: _Desk, digest: str, place: Mapping[str, str], since: Since | None) -> tuple[Block, ...]:
    m, phrases = desk.method, desk.phrases
    policy = m.reference.policy.version
    dates = tuple("" if day is None else day.isoformat() for day in (m.effective, m.review_by))
    people = (m.people.author, m.people.reviewer, m.people.approver)
    particulars = [
        ("particular-method", f"{m.id} rev. {m.revision}, {m.status}: {m.title}"),
        ("particular-product", f"{m.product.name}, {m.product.behaviour}"),
        ("particular-purpose", m.purpose),
        ("particular-result", phrases.word(f"type-{m.result_type}")),
        (
            "particular-dates",
            phrases.word(
                "particular-dates-text",
                effective=dates[0] or phrases.word("not-yet"),
                review=dates[1] or phrases.word("not-yet"),
            ),
        ),
        ("particular-people", ", ".join(name or phrases.word("not-named") for name in people)),
        ("particular-based", ", ".join(m.based_on)),
        ("particular-complies", ", ".join(m.complies_with)),
        ("particular-digest", digest),
        (
            "particular-prepared",
            phrases.word(
                "prepared-with", version=desk.review.version, rules=str(desk.review.rules), policy=policy
            ),
        ),
    ]
    rows: tuple[Row, ...] = tuple(
        (light(phrases.word(key)), light(text)) for key, text in particulars if text
    )
    first: tuple[Row, ...] = tuple(
        (light(phrases.word(key)), strong(text) if text else light(phrases.word("nothing")), light(where))
        for key, text, where in _look_first(desk, place, since)
    )
    return (
        Table("particulars", (), rows),
        Table("first", phrases.words("table-first"), first),
    )


def _look_first(desk: _Desk, place: Mapping[str, str], since: Since | None) -> Iterator[tuple[str, str, str]]:
    """Say what a reviewer should look at before the rest: (what, how much of it there is, where it stands)."""
    m, review = desk.method, desk.review
    reference = m.reference
    if since is not None:
        unknown = desk.phrases.word("first-since-unknown") if since.problem else ""
        yield (
            "first-since",
            unknown or ": ".join(w for w in (since.klass, since.trigger) if w),
            place["since"],
        )
    stand = [d for d in review.findings if d.waived_by is None]
    weights = [(s, sum(d.severity is s for d in stand)) for s in sorted(Severity, reverse=True)]
    yield (
        "first-findings",
        ", ".join(f"{n} {s.word}{_plural(s, n)}" for s, n in weights if n),
        place["findings"],
    )
    yield "first-waivers", ", ".join(w.rule for w in m.waivers), place["waivers"]
    yield "first-not-judged", ", ".join(code for code, _, _ in review.not_judged), place["not-judged"]
    entries = [
        f"{kind[:-1]} {key}" for kind, key in review.used if _entry(desk, kind, key).get("known") == MEMORY
    ]
    thresholds = sorted(
        {
            where.removeprefix("policy.")
            for figure in desk.figures.values()
            for _, where in figure.inputs
            if isinstance(where, str) and where.startswith("policy.") and where not in desk.figures
        }
    )
    sources, policy = reference.sources, reference.policy
    recalled = [
        f"threshold {k}"
        for k in thresholds
        if k in policy.sources and sources[policy.sources[k]].known == MEMORY
    ]
    yield "first-memory", ", ".join((*entries, *recalled)), place["reference"]
    own = [f"{kind[:-1]} {key}" for kind, key in review.used if not _shipped(desk, kind, key)]
    yield "first-own", ", ".join(own), place["reference"]
    yield "first-policy", ", ".join(policy.changed), place["policy"]
    yield "first-open", str(len(desk.figures.open) or ""), place["open"]
    now = [f"{c.klass}: {_plain(desk.phrases, c.reason)}" for c in m.changes if c.revision == m.revision]
    yield "first-change", "; ".join(now), place["changes"]


def _plural(severity: Severity, number: int) -> str:
    return "" if number == 1 or severity is Severity.ADVICE else "s"


# --- what changed since the last release ----------------------------------------------------------------------


_STATES: Mapping[str, str] = {
    "continued": "since-continued", "broken": "since-broken", "new": "since-new", "ended": "since-ended",
}  # fmt: skip
"""What becomes of the history of a result -> the phrase for it."""


def _since(desk: _Desk, since: Since) -> tuple[Block, ...]:
    phrases = desk.phrases
    released = phrases.line(
        "since-released",
        revision=str(since.revision),
        day=since.day,
        by=since.by,
        digest=f"{since.digest[:4]} {since.digest[4:8]}",
    )
    if since.problem:
        return _said(released, phrases.line("since-unknown", why=since.problem))
    if not since.changes:
        return _said(released, phrases.line("since-nothing"))
    asked = phrases.line("since-asks", klass=since.klass, trigger=since.trigger, meaning=since.meaning)
    blocks: list[Block] = [*_said(released, asked)]
    rows: tuple[Row, ...] = tuple(
        (
            Lines((strong(path), *((light(title),) if _more_than(title, path) else ()))),
            light(on_paper(before) or phrases.word("since-none")),
            strong(on_paper(after)) or light(phrases.word("since-none")),
            light(klass),
        )
        for path, title, before, after, klass in since.changes
    )
    blocks.append(Table("since", phrases.words("table-since"), rows))
    rows = tuple(
        (
            Lines((light(title), *((strong(note),) if note else ()))),
            light(on_paper(before)),
            strong(on_paper(after)),
            light(factor or phrases.word("since-none")),
        )
        for title, before, after, factor, note in since.figures
    )
    if rows:
        blocks.append(Table("since-figures", phrases.words("table-since-figures"), rows))
    rows = tuple(
        (
            strong(result),
            phrases.line(_STATES[state]),
            Lines(
                tuple(
                    light(on_paper(text))
                    for text in (
                        why or phrases.word("since-no-cause"),
                        phrases.word("since-mind", what=mind) if mind else "",
                    )
                    if text
                )
            ),
        )
        for result, state, why, mind in since.histories
    )
    blocks.append(Table("since-results", phrases.words("table-since-results"), rows))
    return tuple(blocks)


def _more_than(title: str, path: str) -> bool:
    """Tell whether a title says more than the last word of a path does."""
    return title.casefold() != path.rpartition(".")[2].replace("_", " ").casefold()


# --- what the rules said ------------------------------------------------------------------------------------


def _findings(desk: _Desk, place: Mapping[str, str]) -> tuple[Block, ...]:
    phrases, review = desk.phrases, desk.review
    stand = sorted(
        (d for d in review.findings if d.waived_by is None),
        key=lambda d: (-d.severity, d.span, d.code, d.message),
    )
    if not stand:
        waived = str(sum(d.waived_by is not None for d in review.findings))
        return _said(
            phrases.line("findings-none", rules=str(review.rules), waived=waived, section=place["waivers"])
        )
    rows: list[Row] = []
    for d in stand:
        where = phrases.line("finding-line", line=str(d.span.line))
        lines = [strong(d.message)]
        lines += [phrases.line("finding-way", way=way) for way in d.ways_out]
        lines += [
            phrases.line("finding-related", line=str(r.span.line), note=r.note)
            for r in d.related
            if r.span is not None
        ]
        rule = Lines((strong(d.code), light(d.slug), where))
        rows.append((strong(d.severity.word), rule, Lines(tuple(lines))))
    return (Table("findings", phrases.words("table-findings"), tuple(rows)),)


def _said(*lines: Text) -> tuple[Block, ...]:
    return (Box("", lines),)


def _waivers(desk: _Desk) -> tuple[Block, ...]:
    phrases, m = desk.phrases, desk.method
    if not m.waivers:
        return _said(phrases.line("waivers-none"))
    rows: tuple[Row, ...] = tuple((strong(w.rule), Lines(tuple(_waiver(desk, w)))) for w in m.waivers)
    return (Table("waivers", phrases.words("table-waivers"), rows),)


def _waiver(desk: _Desk, w: Waiver) -> Iterator[Text]:
    phrases = desk.phrases
    for d in desk.review.findings:
        if d.code == w.rule:
            yield phrases.line("waiver-found", message=d.message, line=str(d.span.line))
    yield phrases.line("waiver-reason", reason=_plain(phrases, w.reason))
    yield phrases.line("waiver-evidence", evidence=_plain(phrases, w.evidence))
    yield phrases.line("waiver-risk", risk=_plain(phrases, w.risk))
    for key, text in w.rests_on.items():
        yield phrases.line("waiver-rests", figure=key, text=str(text))
    yield phrases.line(
        "waiver-people",
        requested=_plain(phrases, w.requested_by),
        approved=_plain(phrases, w.approved_by),
        expires=phrases.word("not-given") if w.expires is None else w.expires.isoformat(),
    )


def _budget(desk: _Desk, name: str, table: str, texts: tuple[tuple[str, ...], ...]) -> tuple[Block, ...]:
    rows: tuple[Row, ...] = tuple(
        (strong(first), *(light(on_paper(t)) for t in rest)) for first, *rest in texts
    )
    return (Table(f"budget-{name}", desk.phrases.words(table), rows),)


def _not_judged(desk: _Desk) -> tuple[Block, ...]:
    phrases, review = desk.phrases, desk.review
    if not review.not_judged:
        return _said(phrases.line("judged-all", rules=str(review.rules)))
    rows: tuple[Row, ...] = tuple(
        (strong(code), light(slug), light(why)) for code, slug, why in review.not_judged
    )
    return (Table("not-judged", phrases.words("table-not-judged"), rows),)


# --- the method in its parameters ---------------------------------------------------------------------------


def _parameters(desk: _Desk) -> tuple[Block, ...]:
    phrases = desk.phrases
    left_out = ("fillmark", "waivers", "changes")
    rows: list[Row] = [
        (
            light(_name(desk.method, path)),
            light(on_paper(text)),
            phrases.line("where-line", line=str(desk.review.line_of(path))),
        )
        for path, text in _written(desk.method.data, ())
        if path[0] not in left_out
    ]
    rows += [
        (light(name), light(on_paper(text)), phrases.line("where-default", why=why))
        for name, text, why in _defaults(desk)
    ]
    return (Table("parameters", phrases.words("table-parameters"), tuple(rows)),)


def _written(value: Any, path: Path) -> Iterator[tuple[Path, str]]:
    """Go through every value the author wrote; a list of plain words is one value."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            yield from _written(inner, (*path, str(key)))
    elif isinstance(value, list) and any(isinstance(entry, (Mapping, list)) for entry in value):
        for index, entry in enumerate(value):
            yield from _written(entry, (*path, index))
    else:
        yield path, _text(value)


def _text(value: Any) -> str:
    if isinstance(value, list):
        return ", ".join(str(entry) for entry in value) or "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return " ".join(str(value).split())


def _name(m: Method, path: Path) -> str:
    """Name a path with dots, entries of a list by their own names: run.viscosity_20.speed."""
    words = []
    for index, step in enumerate(path):
        entry = at(m.data, path[: index + 1])
        own = entry.get("name", entry.get("result")) if isinstance(entry, Mapping) else None
        words.append(str(own or step + 1) if isinstance(step, int) else step)
    return ".".join(words)


def _defaults(desk: _Desk) -> Iterator[tuple[str, str, str]]:
    """List what the author left to the policy, the language or the certificate: name, value, where from."""
    m, phrases = desk.method, desk.phrases
    policy = m.reference.policy
    by_policy: list[tuple[Path, str]] = [
        (("instrument", "accuracy"), "instrument_accuracy"),
        (("instrument", "full_scale_angle"), f"angle_{m.instrument.readout}"),
        (("instrument", "resolution"), f"resolution_{m.instrument.readout}"),
        (("product", "thermal_diffusivity"), "diffusivity"),
        (("product", "heat_capacity"), "heat_capacity"),
        (("temperature", "room"), "room"),
        (("immersion", "bottom_clearance"), "bottom_clearance"),
    ]
    by_policy += [
        ((*line.path, "comparison"), "comparison") for line in m.report if line.increment is not None
    ]
    for path, key in by_policy:
        if at(m.data, path) is None:
            source = policy.sources[key]
            number, known = str(desk.cite(source)), desk.known(source)
            why = phrases.word("default-policy", threshold=key, source=number, known=known)
            yield _name(m, path), policy.texts[key], why
    language = phrases.word("default-language")
    for path, value in _by_language(m):
        if at(m.data, path) is None:
            yield _name(m, path), _text(value), language
    check = m.verification
    if check is not None:
        if check.temperature is None:
            yield "verification.temperature", terms.fluid_temperature(check), phrases.word("default-fluid")
        for key, value in (("spindle", m.spindle.key), ("container", m.container.key), ("guard", m.guard)):
            if at(m.data, ("verification", key)) is None:
                yield f"verification.{key}", value, phrases.word("default-run")


def _by_language(m: Method) -> Iterator[tuple[Path, Any]]:
    """Go through what the language takes as given where nothing is written, with the value it has now."""
    yield ("result_type",), m.result_type
    yield ("product", "volatile"), m.product.volatile
    yield ("product", "aerated"), m.product.aerated
    yield ("instrument", "only_this"), m.instrument.only_this
    yield ("temperature", "recheck"), m.temperature.recheck
    conditioning = m.temperature.conditioning
    if conditioning is not None:
        for key in ("covered", "stirred", "parts"):
            yield (*conditioning.path, key), getattr(conditioning, key)
    for step in m.run:
        yield (*step.read.path, "lock"), step.read.lock
    for limit in m.specification:
        yield (*limit.path, "one_sided"), limit.one_sided
    yield ("replicates", "confirm_outside"), m.replicates.confirm_outside


# --- the figures --------------------------------------------------------------------------------------------


def _figures(desk: _Desk, keys: list[str], *, noted: bool) -> tuple[Block, ...]:
    phrases = desk.phrases
    rows: list[Row] = []
    for key in keys:
        figure = desk.figures[key]
        text = on_paper(figure.text)
        shown = strong(text) if len(text) <= SHORT else light(text)
        named = Lines((light(figure.title), shown, light(key.replace(".", ".\u200b"))))
        rows.append((strong(str(desk.numbers[key])), named, Lines(tuple(_worked(desk, figure))), Field()))
    table = Table("figures", phrases.words("table-figures"), tuple(rows))
    return (*_said(phrases.line("figures-note")), table) if noted else (table,)


def _worked(desk: _Desk, figure: Figure) -> Iterator[Text]:
    """Write the formula, each input with its place, the result in digits, and the sources."""
    phrases = desk.phrases
    digits = worked(figure, desk.method, desk.figures)
    if figure.formula == "given":
        yield phrases.line("figure-given")
    else:
        yield phrases.line("figure-formula", formula=figure.formula)
    yield phrases.line("figure-inputs", inputs="; ".join(_inputs(desk, figure)))
    if digits:
        yield phrases.line("figure-digits", digits=on_paper(digits))
    elif figure.formula != "given":
        yield phrases.line("figure-not-digits", why=phrases.word(_why(figure.key)))
    cited = [
        phrases.word("source-method")
        if key == "method"
        else phrases.word("source-cited", number=str(desk.cite(key)), known=desk.known(key))
        for key in figure.sources
    ]
    yield phrases.line("figure-sources", sources="; ".join(cited))


def _why(key: str) -> str:
    """Say why a figure is not worked out in digits."""
    last = key.rpartition(".")[2]
    if key.startswith("conditioning."):
        return "why-series"
    if last.startswith("border_"):
        return "why-rounding"
    return {"good_sets_failing": "why-range", "vortex_viscosity": "why-stability"}.get(last, "why-other")


def _inputs(desk: _Desk, figure: Figure) -> Iterator[str]:
    """Name each input once, with the symbols it stands for, its value and its place."""
    places: dict[Path | str, list[str]] = {}
    for symbol, where in figure.inputs:
        places.setdefault(where, []).append(symbol)
    for where, symbols in places.items():
        yield _input(desk, ", ".join(symbols), where)


def _input(desk: _Desk, symbol: str, where: Path | str) -> str:
    m, phrases = desk.method, desk.phrases
    if isinstance(where, tuple):
        value = at(m.data, where)
        text = phrases.word("not-given") if value is None else on_paper(_text(value))
        line = str(desk.review.line_of(where))
        return phrases.word("input-line", symbol=symbol, value=text, line=line, name=_name(m, where))
    if where in desk.figures:
        number, text = str(desk.numbers[where]), on_paper(desk.figures.text(where))
        return phrases.word("input-figure", symbol=symbol, value=text, number=number)
    key = where.removeprefix("policy.")
    policy = m.reference.policy
    if key != where and key in policy.texts:
        source = policy.sources[key]
        return phrases.word(
            "input-policy",
            symbol=symbol,
            value=on_paper(policy.texts[key]),
            threshold=key,
            source=str(desk.cite(source)),
            known=desk.known(source),
        )
    origin, _, value = where.rpartition(": ")
    if origin:
        return phrases.word("input-text-from", symbol=symbol, value=on_paper(value), origin=origin)
    return phrases.word("input-text", symbol=symbol, value=on_paper(value))


def _open(desk: _Desk) -> tuple[Block, ...]:
    phrases = desk.phrases
    if not desk.figures.open:
        return _said(phrases.line("open-none"))
    rows: tuple[Row, ...] = tuple((light(key), light(why)) for key, why in desk.figures.open.items())
    return (Table("open", phrases.words("table-open"), rows),)


# --- what it rests on ---------------------------------------------------------------------------------------


def _entry(desk: _Desk, kind: str, key: str) -> Mapping[str, Any]:
    entry: Mapping[str, Any] = desk.method.reference.raw[kind][key]
    return entry


def _shipped(desk: _Desk, kind: str, key: str) -> bool:
    return desk.method.reference.origins[kind, key].startswith("shipped/")


def _reference(desk: _Desk) -> tuple[Block, ...]:
    phrases, reference = desk.phrases, desk.method.reference
    rows: list[Row] = []
    for kind, key in desk.review.used:
        entry = _entry(desk, kind, key)
        values = [
            f"{_name_of(path)} {on_paper(text)}"
            for path, text in _written(entry, ())
            if path[0] not in ("source", "known")
        ]
        source = str(entry["source"])
        shipped = _shipped(desk, kind, key)
        cited = phrases.line(
            "reference-shipped" if shipped else "reference-own",
            title=reference.sources[source].title,
            number=str(desk.cite(source)),
            known=str(entry.get("known", reference.sources[source].known)).replace("-", " "),
            file=reference.origins[kind, key],
        )
        rows.append((Lines((strong(key), light(kind))), light(", ".join(values)), cited))
    return (Table("reference", phrases.words("table-reference"), tuple(rows)),)


def _name_of(path: Path) -> str:
    return " ".join(str(step) for step in path).replace("_", " ")


def _policy(desk: _Desk) -> tuple[Block, ...]:
    phrases, policy = desk.phrases, desk.method.reference.policy
    if not policy.changed:
        return _said(phrases.line("policy-same", version=policy.version))
    rows: list[Row] = []
    for key in policy.changed:
        source = policy.sources[key]
        cited = phrases.line("source-cited", number=str(desk.cite(source)), known=desk.known(source))
        here, there = on_paper(policy.texts[key]), on_paper(policy.shipped[key])
        rows.append((light(key), strong(here), light(there), cited))
    table = Table("policy", phrases.words("table-policy"), tuple(rows))
    return (*_said(phrases.line("policy-changed", version=policy.version)), table)


def _changes(desk: _Desk) -> tuple[Block, ...]:
    phrases, m = desk.phrases, desk.method
    if not m.changes:
        return _said(phrases.line("changes-none"))
    rows: tuple[Row, ...] = tuple(
        (strong(str(c.revision)), light(c.klass), light(_plain(phrases, c.reason))) for c in m.changes
    )
    return (Table("changes", phrases.words("table-changes"), rows),)


def _sources(desk: _Desk) -> tuple[Block, ...]:
    """List every source cited above, by the number it was cited with; so it is planned after the rest."""
    sources = desk.method.reference.sources
    rows: tuple[Row, ...] = tuple(
        (strong(str(number)), light(sources[key].title), light(desk.known(key)))
        for key, number in desk.cited.items()
    )
    return (Table("sources", desk.phrases.words("table-sources"), rows),)


def _approval(desk: _Desk, digest: str) -> tuple[Block, ...]:
    phrases, m, review = desk.phrases, desk.method, desk.review
    roles = (
        ("approval-author", m.people.author, "meaning-author"),
        ("approval-reviewer", m.people.reviewer, "meaning-reviewer"),
        ("approval-approver", m.people.approver, "meaning-approver"),
    )
    rows: tuple[Row, ...] = tuple(
        (phrases.line(role), strong(name) if name else Field(), Field(), Field(), phrases.line(meaning))
        for role, name, meaning in roles
    )
    prepared = phrases.line(
        "prepared-with",
        version=review.version,
        rules=str(review.rules),
        policy=m.reference.policy.version,
    )
    notes = (phrases.line("approval-digest", digest=digest), prepared, phrases.line("approval-note"))
    return (Table("approval", phrases.words("table-approval"), rows, notes),)
