"""The rules as pages to read: one for each, and an index by topic, made of what the rules say of themselves.

Each page shows the example of its rule in a demonstration method and the very finding it brings, so no page
can promise what the rule does not do. A rule that says too little, cites what nobody knows or has an example
that brings nothing stops the making. Run: `python -m fillmark.rule_pages out/rules`.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from importlib import import_module
from inspect import currentframe
from pathlib import Path
from typing import TypeVar

import click
from markupsafe import Markup, escape

from fillmark import __version__
from fillmark.diagnostics import Diagnostic, Span
from fillmark.explain import input_codes, parts
from fillmark.model import Citation, Reference
from fillmark.pipeline import Compiled, compile_method
from fillmark.publish import write_whole
from fillmark.reference import load
from fillmark.render import templates
from fillmark.rules import TOPICS, Rule, all_rules
from fillmark.yaml_faults import lines_of

T = TypeVar("T")

_AROUND = 1
"""Lines shown before and after those that matter."""


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a method, in three pieces; `changed` where right and wrong differ."""

    number: int
    before: str
    marked: str
    after: str
    changed: bool


@dataclass(frozen=True, slots=True)
class Threshold:
    """A value of the site policy that a rule reads."""

    key: str
    text: str
    source: Citation


@dataclass(frozen=True, slots=True)
class Page:
    """All that the page of one rule shows."""

    rule: Rule
    what: str
    why: str
    aside: str
    sources: tuple[Citation, ...]
    thresholds: tuple[Threshold, ...]
    right: tuple[Line, ...]
    wrong: tuple[Line, ...]
    finding: Diagnostic
    place: tuple[Line, ...]
    """The lines round the finding, where it stands outside `wrong`."""
    also: tuple[str, ...]
    """Other codes that the same fault brings."""


def page(rule: Rule, method: bytes, reference: Reference) -> Page:
    """Put together the page of a rule; `method` is the demonstration method its example edits.

    ValueError where the documentation, a source or the example of the rule does not hold.
    """
    what, why, aside = parts(rule)
    example, text = rule.example, method.decode()
    if not rule.sources or any(key not in reference.sources for key in rule.sources):
        raise ValueError(f"{rule.code} cites {', '.join(rule.sources) or 'nothing'}: not in the bibliography")
    if text.count(example.right) != 1:
        raise ValueError(f"{rule.code} has no example: {example.right!r} must stand once in {example.method}")
    edited = text.replace(example.right, example.wrong)
    right, wrong = (compile_method(t.encode(), f"{example.method}.yaml", reference) for t in (text, edited))
    found = [d for d in wrong.diagnostics if d.waived_by is None]
    own = [d for d in found if d.code == rule.code]
    if not own or any(d.code == rule.code and d.waived_by is None for d in right.diagnostics):
        raise ValueError(f"{rule.code} has no example: the wrong text alone must bring the finding")
    finding = own[0]
    lines, edited_lines = _lines_of(text), _lines_of(edited)
    first, last_right, last_wrong = _difference(lines, edited_lines)
    shown_wrong = _cut(edited_lines, first, last_wrong, finding.span)
    return Page(
        rule,
        what,
        why,
        aside,
        tuple(reference.sources[key] for key in rule.sources),
        tuple(_thresholds(rule, (right, wrong), reference)),
        _cut(lines, first, last_right),
        shown_wrong,
        finding,
        () if any(line.marked for line in shown_wrong) else _round(edited_lines, finding.span),
        tuple(sorted({d.code for d in found} - {rule.code})),
    )


def _lines_of(text: str) -> tuple[str, ...]:
    return lines_of(text.removesuffix("\n"))


def _difference(right: Sequence[str], wrong: Sequence[str]) -> tuple[int, int, int]:
    """Find the lines that differ: the first, counted from 0, and the ends in either text (exclusive)."""
    shorter = min(len(right), len(wrong))
    first = next((i for i in range(shorter) if right[i] != wrong[i]), shorter)
    same = next((i for i in range(shorter - first) if right[-1 - i] != wrong[-1 - i]), shorter - first)
    return first, len(right) - same, len(wrong) - same


def _cut(lines: Sequence[str], first: int, end: int, mark: Span | None = None) -> tuple[Line, ...]:
    """Cut out the lines `first` to `end` (from 0, exclusive) and those around them."""
    cut = range(max(0, first - _AROUND), min(len(lines), end + _AROUND))
    return tuple(_line(lines[i], i + 1, mark, changed=first <= i < end) for i in cut)


def _line(text: str, number: int, mark: Span | None, *, changed: bool) -> Line:
    if mark is None or mark.line != number:
        return Line(number, text, "", "", changed)
    end = mark.end_column - 1 if mark.end_line == number else len(text)
    return Line(number, text[: mark.column - 1], text[mark.column - 1 : end], text[end:], changed)


def _round(lines: Sequence[str], span: Span) -> tuple[Line, ...]:
    return tuple(replace(line, changed=False) for line in _cut(lines, span.line - 1, span.line, span))


@dataclass(slots=True)
class _Asked(Mapping[str, T]):
    """Values of the site policy that remember which of them a rule asked for."""

    values_: Mapping[str, T]
    asked: set[str] = field(default_factory=set)

    def __getitem__(self, key: str) -> T:
        if _asker().startswith("fillmark.rules."):
            self.asked.add(key)
        return self.values_[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.values_)

    def __len__(self) -> int:
        return len(self.values_)


def _asker() -> str:
    """Name the module that asked the policy.

    The search for ways out reads much of the policy too; only who asks tells that from what a rule judges by.
    """
    frame = currentframe()
    while frame is not None:
        name = str(frame.f_globals["__name__"])
        if name.startswith("fillmark.") and name not in (__name__, "fillmark.model"):
            return name
        frame = frame.f_back
    return ""


def _thresholds(rule: Rule, examples: Sequence[Compiled], reference: Reference) -> Iterator[Threshold]:
    policy = reference.policy
    values, choices = _Asked(policy.values), _Asked(policy.choices)
    watched = replace(reference, policy=replace(policy, values=values, choices=choices))
    for example in examples:
        if example.method is not None and example.figures is not None:
            for _ in rule.judge(replace(example.method, reference=watched), example.figures):
                pass
    for key in sorted(values.asked | choices.asked):
        yield Threshold(key, policy.texts[key], reference.sources[policy.sources[key]])


def write_pages(pages: Sequence[Page], folder: Path) -> list[Path]:
    """Write the pages and their index into a folder; gives the paths, the index first.

    Pages of rules that are no more are taken away. OSError where the folder cannot be written.
    """
    environment = templates(prose=prose)
    slugs = {p.rule.code: p.rule.slug for p in pages}
    slugs |= {code: slug for code, (slug, _) in input_codes().items()}
    made = {"index.html": environment.get_template("rules.html").render(
        version=__version__, topics=_topics(pages), count=len(pages), inputs=sorted(input_codes().items())
    )}  # fmt: skip
    for number, one in enumerate(pages):
        made[f"{one.rule.code}.html"] = environment.get_template("rule.html").render(
            version=__version__,
            page=one,
            slugs=slugs,
            with_page={p.rule.code for p in pages},
            before=pages[number - 1] if number else None,
            after=pages[number + 1] if number + 1 < len(pages) else None,
        )
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("*.html"):
        if old.name not in made and re.fullmatch(r"[A-Z]{3}[0-9]{2}\.html", old.name):
            old.unlink()
    for name, html in made.items():
        write_whole(folder / name, html.encode())
    return [folder / name for name in made]


def _topics(pages: Sequence[Page]) -> list[tuple[str, str, list[Page]]]:
    """Sort pages by topic: name, what the topic is about, pages."""
    about = {topic: (import_module(f"fillmark.rules.{topic}").__doc__ or "").strip() for topic in TOPICS}
    sorted_ = [(t, about[t].split("\n\n")[0], [p for p in pages if p.rule.topic == t]) for t in TOPICS]
    return [entry for entry in sorted_ if entry[2]]


def prose(text: str) -> Markup:
    """Write a text of ours as HTML: what stands in backticks becomes code, and nothing else is markup."""
    pieces = enumerate(text.split("`"))
    return Markup("").join(Markup("<code>{}</code>").format(p) if i % 2 else escape(p) for i, p in pieces)


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path))
@click.option(
    "--methods", type=click.Path(exists=True, file_okay=False, path_type=Path), default=Path("methods"),
    show_default=True, help="Folder of the demonstration methods that the examples edit.",
)  # fmt: skip
def main(folder: Path, methods: Path) -> None:
    """Write a page for every rule into FOLDER, and an index."""
    reference, found = load()
    if reference is None:
        raise click.ClickException("; ".join(d.message for d in found))
    texts = {r.example.method: (methods / f"{r.example.method}.yaml").read_bytes() for r in all_rules()}
    written = write_pages([page(r, texts[r.example.method], reference) for r in all_rules()], folder)
    click.echo(f"{len(written) - 1} pages of rules; begin with {written[0]}")


if __name__ == "__main__":
    main()
