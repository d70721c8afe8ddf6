"""The rule catalogue: one generator function for each defect, under a decorator that says all about it.

A rule looks at a resolved method and its figures and yields findings. It never tests types or missing keys:
the schema did. Where it cannot judge it yields `NotJudged` with the reason, which the reviewer reads. A rule
imports the model, the figures, the quantities and `choices`; never physics, files or another topic.

To add a rule: write the function in the file of its topic, named after the defect; give it the next free
code of the topic, its sources and an example; `tests/rules/` executes the example.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib import import_module

from fillmark.diagnostics import Path, Related, Severity
from fillmark.figures import Figures
from fillmark.model import Method

ADVICE, WARNING, ERROR = Severity.ADVICE, Severity.WARNING, Severity.ERROR

TOPICS = (
    "identity", "instrument", "spindle", "container", "temperature", "torque", "timing", "history",
    "replicates", "reporting", "verification", "handling", "prose",
)  # fmt: skip
"""The topic files, in the order a reviewer would go through them."""


@dataclass(frozen=True, slots=True)
class Finding:
    """A defect found: where, what, and two ways out. `severity` overrides that of the rule."""

    path: Path
    message: str
    ways_out: tuple[str, ...]
    related: tuple[Related, ...] = ()
    severity: Severity | None = None


@dataclass(frozen=True, slots=True)
class NotJudged:
    """Why a rule could not judge this method."""

    reason: str


Outcome = Finding | NotJudged
Judge = Callable[[Method, Figures], Iterator[Outcome]]


@dataclass(frozen=True, slots=True)
class Example:
    """A right text in a demonstration method, and the wrong text that brings the finding.

    `right` stands exactly once in the method; put `wrong` in its place and exactly this rule speaks (and
    those in `also`, where one cause rightly has two faces). The finding stands on the line that holds `at`,
    which is the first line of `wrong` unless given.
    """

    method: str
    right: str
    wrong: str
    at: str | None = None
    also: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule with all that is said about it."""

    code: str
    slug: str
    severity: Severity
    waivable: bool
    sources: tuple[str, ...]
    example: Example
    text: str
    """What is wrong; why it matters at the bench; when it may be set aside."""
    topic: str
    judge: Judge


_RULES: dict[str, Rule] = {}


def rule(
    code: str, severity: Severity, *, sources: tuple[str, ...], example: Example, waivable: bool = True
) -> Callable[[Judge], Judge]:
    """Register the function below as a rule; its name is the slug, its docstring the documentation."""

    def register(judge: Judge) -> Judge:
        if code in _RULES:
            raise ValueError(f"{code} is taken by {_RULES[code].slug}")
        name: str = judge.__name__
        topic = judge.__module__.rsplit(".", 1)[1]
        _RULES[code] = Rule(
            code,
            name.replace("_", "-"),
            severity,
            waivable,
            sources,
            example,
            judge.__doc__ or "",
            topic,
            judge,
        )
        return judge

    return register


@cache
def all_rules() -> tuple[Rule, ...]:
    """Give every rule, topic by topic, code by code."""
    for topic in TOPICS:
        import_module(f"fillmark.rules.{topic}")
    return tuple(sorted(_RULES.values(), key=lambda r: (TOPICS.index(r.topic), r.code)))
