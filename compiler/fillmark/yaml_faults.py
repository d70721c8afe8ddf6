"""What keeps a text from being read as YAML, in plain words: the codes of stage 1, and how faults of syntax are told.

The parser says where it noticed a fault and what it had expected; a chemist wants to know which sign to change.
Places count from 1, in characters.
"""

import re
from collections.abc import Callable
from typing import Any, TypeAlias

from yaml.error import MarkedYAMLError

from fillmark.diagnostics import Diagnostic, Path, Related, Severity, Span

_Mark: TypeAlias = Any  # the stubs make every mark optional; this parser always sets them

DEEPEST = 32
"""Levels of the deepest nesting that is read."""

CODES: dict[str, tuple[str, str]] = {
    "YML01": ("not-utf-8", "The file is not UTF-8; signs such as µ and ° would be lost."),
    "YML02": ("control-character", "A character that cannot be seen or printed stands in the file."),
    "YML03": ("empty-file", "Nothing but spaces and comments stands in the file."),
    "YML04": ("file-too-large", "The file is larger than any method; the limit is 1 MiB."),
    "YML05": ("nested-too-deep", f"Blocks stand in blocks more than {DEEPEST} levels deep."),
    "YML06": ("second-document", "A second document begins in the file; a file holds one."),
    "YML07": ("duplicate-key", "A key has two values; which of them would hold is left to chance."),
    "YML08": ("key-not-text", "A key is a number, a yes or no, nothing, or a block; keys are words."),
    "YML09": (
        "anchor-or-alias",
        "A value is named or repeated by name; here each is written where it is read.",
    ),
    "YML10": ("merge-key", "The key << takes in another block; here each value is written where it is read."),
    "YML11": ("explicit-tag", "A value begins with an exclamation mark, which would name a type."),
    "YML12": ("not-a-number", "Infinity, not-a-number, or a number larger than can be kept exactly."),
    "YML13": ("tab-indentation", "A line is set in with a tab; YAML takes spaces only."),
    "YML14": ("colon-in-text", "A text with a colon and a space inside; it needs quotes."),
    "YML15": ("not-closed", "A quote or bracket without its other half, or a comma missing between entries."),
    "YML16": ("reserved-start", "A text begins with a sign YAML keeps for itself; it needs quotes."),
    "YML17": ("wrong-indentation", "A line stands further in or out than the block it belongs to."),
    "YML18": ("no-space-after-sign", "A colon or dash without the space that makes it one."),
    "YML19": ("no-key", "A line in a block of keys has no key of its own."),
    "YML20": ("text-after-end", "Text goes on after its closing quote or bracket."),
    "YML21": ("unknown-escape", "A backslash in double quotes begins no known escape."),
    "YML22": ("not-yaml", "The text cannot be read as YAML."),
}

_LINE_END = re.compile(r"\r\n|\n|\r")
_KEY_GLUED = re.compile(r"\s*+(?:- )*+([\w-]+):(?=[^\s/])")
_DASH_GLUED = re.compile(r"\s*-(?=[^\s-])")
_KEYED = re.compile(r"\s*+(?:- )*+([^\s:][^:]*?):(?:\s|$)")
QUOTE_IT = "Put it in quotes if it is meant as text."
_CLOSING = {"[": "]", "{": "}"}


def lines_of(text: str) -> tuple[str, ...]:
    """Split a text into lines as YAML counts them: at LF, CR LF and CR only."""
    return tuple(_LINE_END.split(text))


def short(text: str) -> str:
    """Cut a text that would make a message long."""
    return text if len(text) <= 60 else f"{text[:57]}..."


def stretch(text: str, start: int, end: int) -> Span:
    """Give the span of a stretch of text that holds no line end, from its offsets."""
    lines = lines_of(text[:start])
    column = len(lines[-1]) + 1
    return Span(len(lines), column, len(lines), column + end - start)


def fault(
    code: str,
    name: str,
    span: Span,
    message: str,
    ways_out: tuple[str, ...] = (),
    *,
    path: Path = (),
    related: tuple[Related, ...] = (),
) -> Diagnostic:
    """Make the diagnostic of a code; `name` is what the file is called."""
    return Diagnostic(code, CODES[code][0], Severity.ERROR, message, name, span, path, ways_out, related)


def explain(error: MarkedYAMLError, text: str, name: str) -> Diagnostic:
    """Say in plain words what the parser stumbled over, at the cause rather than where it was noticed."""
    mark: _Mark = error.problem_mark or error.context_mark
    opened: _Mark = error.context_mark or mark
    problem, context = error.problem or "", error.context or ""
    lines = lines_of(text)
    at = min(mark.line, len(lines) - 1)
    line = lines[at]
    sign = line[mark.column : mark.column + 1]

    def say(
        code: str, message: str, *ways: str, span: Span | None = None, related: tuple[Related, ...] = ()
    ) -> Diagnostic:
        place = span or Span(at + 1, mark.column + 1, at + 1, mark.column + 2)
        return fault(code, name, place, message, ways, related=related)

    def in_line(number: int, start: int, end: int) -> Span:
        return Span(number + 1, start + 1, number + 1, max(end, start + 1) + 1)

    if "nesting depth" in problem:
        message = f"Blocks are nested more than {DEEPEST} levels deep."
        return say("YML05", message, "Check for brackets or dashes that were repeated by accident.")
    if "tab character" in problem or ("cannot start any token" in problem and sign == "\t"):
        end = mark.column + len(line[mark.column :]) - len(line[mark.column :].lstrip("\t"))
        return say(
            "YML13", "The line is set in with a tab.", "Use spaces: two for each level.",
            "Set the editor to write spaces when the tab key is pressed.", span=in_line(at, mark.column, end),
        )  # fmt: skip
    if any("directive" in p or "incompatible" in p for p in (context, problem)):
        return say(
            "YML16", "A line that begins with % is an order to the parser, and a method has no use for it.",
            "Delete the line.", QUOTE_IT, span=in_line(at, 0, len(line)),
        )  # fmt: skip
    if "cannot start any token" in problem:
        rest = line[mark.column :].rstrip()
        return say("YML16", f"A text cannot begin with {sign}.", f"Put it in quotes: {_quoted(rest)}.")
    if "quoted scalar" in context and "unexpected" in problem:
        quote = lines[opened.line][opened.column : opened.column + 1]
        return say(
            "YML15", f"The quote {quote} that opens here is not closed.",
            f"Write {quote} at the end of the text.", "Or take the quote out, if the text does not need it.",
            span=_one(opened),
        )  # fmt: skip
    if "escape" in problem:
        escape = line[mark.column : mark.column + 2] if sign == "\\" else f"\\{sign}..."
        return say(
            "YML21", f"A backslash in double quotes begins an escape, and {escape} is none.",
            "Use single quotes, in which a backslash is a backslash.", "Or write the backslash twice.",
            span=in_line(at, mark.column, mark.column + 2),
        )  # fmt: skip
    if "anchor" in context or "alias" in context:
        return say(
            "YML09", "The sign & or * at the start of a text names or repeats a value.", QUOTE_IT,
            span=_one(opened),
        )  # fmt: skip
    if " tag" in context or " tag" in problem:
        return say(
            "YML11", "An exclamation mark at the start of a text names a type.", QUOTE_IT,
            span=_one(opened),
        )  # fmt: skip
    if "flow sequence" in context or "flow mapping" in context:
        return _bracket(say, lines, opened, mark)
    if "mapping values are not allowed" in problem:
        return _colon(say, lines, at, mark)
    if "could not find expected ':'" in problem:
        return _no_key(say, lines, opened.line)
    if "block scalar" in context:
        head = lines[opened.line][opened.column : opened.column + 1]
        return say(
            "YML22", f"After {head} the text begins on the next line, set in.",
            "Move the text to the next line.", f"Or take the {head} out and leave the text on this line.",
        )  # fmt: skip
    if "block sequence entries are not allowed" in problem:
        return say(
            "YML17", "A list cannot begin with a dash on the line of its key.",
            "Write each entry on a line of its own, with its dash.",
            "Or write the list in brackets: [first, second].",
        )  # fmt: skip
    if "expected <document start>" in problem:
        if any(earlier.startswith("...") for earlier in lines[:at]):
            return say(
                "YML06",
                "A second document begins here; a file holds one.",
                "Move what follows into a file of its own.",
            )
        return say(
            "YML20", "Text stands here after the end of the data.", "Delete it, or make it part of a key."
        )
    if "did not find expected node content" in problem and not text[mark.index :].strip():
        unclosed = _unclosed(text)
        if unclosed is not None:
            place = stretch(text, unclosed, unclosed + 1)
            sign = text[unclosed]
            message = f"The bracket {sign} that opens here is not closed."
            return say("YML15", message, f"Write {_CLOSING[sign]} after the last entry.", span=place)
    if "did not find expected node content" in problem:
        return say(
            "YML16", f"A text cannot begin with {sign}." if sign else "A value is missing here.",
            QUOTE_IT, "Delete it if it was left over.",
        )  # fmt: skip
    return _stray(say, lines, error)


def _unclosed(text: str) -> int | None:
    """Find the innermost bracket that is open at the end of the text (brackets in texts count too)."""
    open_: list[int] = []
    for found in re.finditer(r"[\[\]{}]", text):
        if found[0] in _CLOSING:
            open_.append(found.start())
        elif open_:
            open_.pop()
    return open_[-1] if open_ else None


def _quoted(text: str) -> str:
    """Put a text in quotes as YAML wants it."""
    text = short(text)
    if '"' in text or "\\" in text:
        return "'" + text.replace("'", "''") + "'"
    return f'"{text}"'


def _bracket(
    say: Callable[..., Diagnostic], lines: tuple[str, ...], opened: _Mark, mark: _Mark
) -> Diagnostic:
    sign = lines[opened.line][opened.column]
    closing = _CLOSING.get(sign, "]")
    noticed = Span(mark.line + 1, mark.column + 1, mark.line + 1, mark.column + 2)
    before = lines[min(mark.line, len(lines) - 1)][: mark.column].rstrip()
    if mark.line == opened.line and before[-1:] in ("'", '"', "]", "}"):
        return say(
            "YML15", f"A comma or {closing} is missing here.", "Write a comma between the entries.",
            f"Write {closing} after the last entry.", span=noticed,
            related=(Related(f"{sign} opens here", (), _one(opened)),),
        )  # fmt: skip
    return say(
        "YML15", f"The bracket {sign} that opens here is not closed, or a comma is missing in it.",
        f"Write {closing} after the last entry.", "Check that a comma stands between each two entries.",
        span=_one(opened), related=(Related("noticed here", (), noticed),),
    )  # fmt: skip


def _one(mark: _Mark) -> Span:
    return Span(mark.line + 1, mark.column + 1, mark.line + 1, mark.column + 2)


def _glued(say: Callable[..., Diagnostic], lines: tuple[str, ...], number: int) -> Diagnostic | None:
    """Report a colon or dash that touches what follows; it counts only with a space after it."""
    line = lines[number]
    dash = _DASH_GLUED.match(line)
    found = _KEY_GLUED.match(line)
    if dash is not None:
        end, sign = dash.end(), "dash"
    elif found is not None and not _KEYED.match(line):
        end, sign = found.end(), f"colon of {short(found[1])}"
    else:
        return None
    mended = short(f"{line[:end].strip()} {line[end:].strip()}")
    span = Span(number + 1, end, number + 1, end + 1)
    return say("YML18", f"The space after the {sign} is missing.", f"Write {mended}", span=span)


def _above(lines: tuple[str, ...], number: int) -> int | None:
    """Find the nearest line before a line that is neither blank nor a comment."""
    return next(
        (n for n in range(number - 1, -1, -1) if lines[n].strip() and lines[n].lstrip()[0] != "#"), None
    )


def _colon(say: Callable[..., Diagnostic], lines: tuple[str, ...], at: int, mark: _Mark) -> Diagnostic:
    line = lines[at]
    first = _KEYED.match(line)
    if first is not None and first.end(1) < mark.column:
        value = line[first.end(1) + 1 :].strip()
        return say(
            "YML14", f"The text of {short(first[1])} has a colon and a space inside.",
            f"Put it in quotes: {short(first[1])}: {_quoted(value)}",
            "Or move it to the next line under |, set in by two spaces.",
        )  # fmt: skip
    above = _above(lines, at)
    if above is not None:
        glued = _glued(say, lines, above)
        if glued is not None:
            return glued
        indent = len(line) - len(line.lstrip())
        if indent > len(lines[above]) - len(lines[above].lstrip()):
            return say(
                "YML17", "This line stands further in than the one above, which has its value already.",
                "Set it in as far as the keys it belongs with.",
                "Or take the value of the line above away, if this is meant to stand under it.",
                span=Span(at + 1, indent + 1, at + 1, mark.column + 1),
            )  # fmt: skip
    return say(
        "YML14", "A colon cannot make a key here.", "Put the text in quotes if the colon belongs to it.",
        "Or give the key a line of its own.",
    )  # fmt: skip


def _no_key(say: Callable[..., Diagnostic], lines: tuple[str, ...], number: int) -> Diagnostic:
    glued = _glued(say, lines, number)
    if glued is not None:
        return glued
    line = lines[number]
    indent = len(line) - len(line.lstrip())
    return say(
        "YML19", "This line has no key.", "Write key, colon, space and value.",
        "If it goes on with the text of the line above, set it in further than the key of that text.",
        span=Span(number + 1, indent + 1, number + 1, max(len(line.rstrip()), indent + 1) + 1),
    )  # fmt: skip


def _stray(say: Callable[..., Diagnostic], lines: tuple[str, ...], error: MarkedYAMLError) -> Diagnostic:
    """Explain something that does not belong to the block it stands in."""
    mark: _Mark = error.problem_mark or error.context_mark
    opened: _Mark = error.context_mark or mark
    problem = error.problem or ""
    at = min(mark.line, len(lines) - 1)
    line = lines[at]
    indent = len(line) - len(line.lstrip())
    rest = line[mark.column :].rstrip()
    if mark.column > indent:
        if rest[:1] in ("]", "}"):
            return say(
                "YML15",
                f"The bracket {rest[0]} closes here, but none is open.",
                "Delete it, or open one before it.",
            )
        key = _KEYED.match(line)
        whole = line[key.end() :].strip() if key else line.strip()
        quote = whole[:1]
        ways: tuple[str, ...] = ("Move the text inside the quotes, or delete it.",)
        if quote == "'":
            ways = (
                "An apostrophe inside single quotes is written twice: ''.",
                "Or use double quotes around the text.",
            )
        return say("YML20", "Text goes on after its closing quote or bracket.", *ways)
    if rest.startswith(":"):
        return say("YML19", "A colon stands here without a key before it.", "Write the key before the colon.")
    if problem.startswith("did not find expected") or not problem:
        block = Related("the block begins here", (), _one(opened))
        if rest.startswith("- ") or rest == "-":
            return say(
                "YML17", "An entry of a list stands among keys.",
                "Set it in further than the key whose list it belongs to.", related=(block,),
            )  # fmt: skip
        if "'-'" in problem:
            return say(
                "YML17", "A key stands among the entries of a list.",
                "Begin the line with a dash, or set it in under an entry.", related=(block,),
            )  # fmt: skip
        return say(
            "YML17", "This line stands as far in as neither the block above nor the one around it.",
            "Set it in exactly as far as the keys it belongs with.", related=(block,),
            span=Span(at + 1, 1, at + 1, max(indent, 1) + 1),
        )  # fmt: skip
    return say(
        "YML22",
        f"The text cannot be read as YAML: {problem}.",
        "Check quotes, brackets and indentation here.",
    )
