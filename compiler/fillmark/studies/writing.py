"""Put what a study yields into the text of a method, with its evidence; all else stays as it is."""

from collections.abc import Sequence
from datetime import date

from fillmark.diagnostics import Severity
from fillmark.fix import Fix, Mended, held
from fillmark.insert import CannotInsertError, insert
from fillmark.model import Reference
from fillmark.pipeline import Compiled, compile_method
from fillmark.studies import Outcome, Proposal


class CannotWriteError(Exception):
    """Why a value of a study is not put into a method, in words."""


def put_in(compiled: Compiled, outcome: Outcome, reference: Reference, day: date | None) -> Mended:
    """Put the proposals of a study into a method; CannotWriteError where that may not or cannot be done."""
    source = compiled.source
    if source is None:
        raise CannotWriteError("it cannot be read")
    status = held(source)
    if status is not None:
        raise CannotWriteError(
            f"its status is {status}. Raise the revision and set status: draft first, so that no text "
            "changes under the number people work by"
        )
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
    text = _all_put(source.text, outcome.proposals, fixes)
    after = compile_method(text.encode(), compiled.file, reference, today=day)
    return Mended(compiled, after, tuple(fixes))


def _all_put(text: str, proposals: Sequence[Proposal], fixes: list[Fix]) -> str:
    for proposal in proposals:
        name = ".".join(str(p) for p in proposal.path)
        for path, value in ((proposal.path, proposal.text), (("evidence", name), proposal.evidence)):
            try:
                text, fix = insert(text, path, value)
            except CannotInsertError as error:
                raise CannotWriteError(str(error)) from error
            fixes.append(fix)
    return text
