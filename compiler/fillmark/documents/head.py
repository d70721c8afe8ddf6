"""What every page of every paper carries: which method, which revision, which copy, and for how long."""

from datetime import date

from fillmark.documents import Head, Text
from fillmark.documents.wording import Phrases
from fillmark.model import Method, Reference
from fillmark.quantities import express, sig


def head(method: Method, phrases: Phrases, digest: str, *, paper: str, print_date: date | None) -> Head:
    """Make the head of a paper; `paper` is the key of its name among the phrases."""
    return Head(
        id=method.id,
        title=method.title,
        product=method.product.name,
        paper=phrases.word(paper),
        revision=str(method.revision),
        effective="" if method.effective is None else method.effective.isoformat(),
        digest=f"{digest[:4]} {digest[4:8]}",
        printed="" if print_date is None else print_date.isoformat(),
        valid=valid_for(method.reference),
        mark=f"{method.id} rev {method.revision} sha256 {digest}",
        draft="" if method.status == "released" else phrases.word("draft"),
        demonstration=phrases.word("demonstration") if method.demonstration else "",
    )


def valid_for(reference: Reference) -> str:
    """Write how long a print may be used; nothing where the site sets no time."""
    valid = reference.policy.values.get("print_valid")
    return "" if valid is None else f"{sig(express(valid, 'd'), 3).removesuffix('.0')} days"


def waivers(method: Method, phrases: Phrases) -> tuple[Text, ...]:
    """Tell which rules are set aside and why: whoever works by the method should know."""
    lines = []
    for waiver in method.waivers:
        until = phrases.word("waived-until", day=waiver.expires.isoformat()) if waiver.expires else ""
        lines.append(phrases.line("waived", rule=waiver.rule, until=until, reason=waiver.reason))
    return tuple(lines)
