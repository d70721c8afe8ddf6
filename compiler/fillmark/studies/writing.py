"""Put what a study yields into the text of a method, with its evidence; all else stays as it is."""

from collections.abc import Iterator, Sequence
from datetime import date

from fillmark.diagnostics import Path, Severity
from fillmark.fix import Fix, Mended
from fillmark.insert import CannotWriteError, put_all, writable
from fillmark.model import Reference
from fillmark.pipeline import Compiled, compile_method
from fillmark.studies import Outcome, Proposal


def put_in(compiled: Compiled, outcome: Outcome, reference: Reference, day: date | None) -> Mended:
    """Put the proposals of a study into a method; CannotWriteError where that may not or cannot be done."""
    source = writable(compiled)
    wrong = [d for d in outcome.diagnostics if d.severity is Severity.ERROR]
    if wrong:
        raise CannotWriteError(
            f"the data have {len(wrong)} error{'' if len(wrong) == 1 else 's'}, "
            f"{', '.join(sorted({d.code for d in wrong}))}. Mend the data first: a value of the method "
            "must not rest on them"
        )
    if not outcome.proposals:
        raise CannotWriteError("the study yields no value for it. What stands in the way is said above")
    fixes: list[Fix] = []
    text = put_all(source.text, _changes(outcome.proposals), fixes)
    after = compile_method(text.encode(), compiled.file, reference, today=day)
    return Mended(compiled, after, tuple(fixes))


def _changes(proposals: Sequence[Proposal]) -> Iterator[tuple[Path, str]]:
    """Give each value with its evidence right behind it."""
    for proposal in proposals:
        yield proposal.path, proposal.text
        yield ("evidence", ".".join(str(p) for p in proposal.path)), proposal.evidence
