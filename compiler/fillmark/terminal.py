"""Diagnostics as text for a terminal: where, what, the line itself with a mark under it, and the ways out.

Nothing of a file reaches the terminal raw: what could steer it (controls, escapes, marks of direction) shows
as a replacement sign. Colour is an extra and never the only sign. In ASCII mode the output is pure ASCII,
with the signs of the trade spelt out: µ as u, · as a dot, ± as +/-, ° as deg.
"""

import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol, TextIO

from fillmark.diagnostics import Diagnostic, Severity, Span, in_reading_order
from fillmark.quantities import counted

_BOLD, _DIM = "1", "2"
_HUES = {Severity.ERROR: "1;31", Severity.WARNING: "1;33", Severity.ADVICE: "1;36"}
_SPELT = {
    "µ": "u", "μ": "u", "·": ".", "⋅": ".", "±": "+/-", "°": "deg", "²": "^2", "³": "^3", "⁻": "^-", "¹": "1",
    "−": "-", "–": "-", "—": "-", "×": "x", "≤": "<=", "≥": ">=", "≈": "~", "…": "...", "•": "*", "┊": ":",
    "→": ">", "‘": "'", "’": "'", "“": '"', "”": '"', "\ufffd": "?", "η": "eta", "θ": "theta", "Δ": "d",
}  # fmt: skip
_TAB = "→   "  # a tab is shown, for it may be the fault itself
_NARROWEST = 40
_INDENT = "  "


class HasLines(Protocol):
    """What was read of a file, as far as excerpts need it."""

    @property
    def lines(self) -> Sequence[str]:
        """Give the lines of the file; line 1 is at index 0."""


@dataclass(frozen=True, slots=True)
class _Style:
    colour: bool
    ascii_only: bool
    width: int

    def sign(self, sign: str) -> str:
        """Give what is drawn for one character."""
        shown = _shown(sign)
        return _in_ascii(shown) if self.ascii_only else shown


def colour_wanted(stream: TextIO, env: Mapping[str, str]) -> bool:
    """Decide whether a stream gets colour: NO_COLOR, then FORCE_COLOR, then a terminal that is not dumb."""
    if env.get("NO_COLOR"):
        return False
    if env.get("FORCE_COLOR"):
        return env["FORCE_COLOR"] != "0"
    return env.get("TERM") != "dumb" and stream.isatty()


def render(
    diagnostics: Sequence[Diagnostic],
    sources: Mapping[str, HasLines],
    *,
    colour: bool,
    ascii_only: bool,
    width: int,
    files: int,
) -> str:
    """Draw each diagnostic as a block of text, in reading order, and a closing line that counts them.

    `sources` gives what was read of each file (a `Source` or a `Reading`) by its name in the diagnostics; a
    file or line that is not there is drawn without its text. `width` is in columns; `files` is how many
    files were looked at. There is an empty line between blocks and no line end after the last.
    """
    style = _Style(colour, ascii_only, max(width, _NARROWEST))
    touched = {d.file for d in diagnostics}
    lines = {name: source.lines for name, source in sources.items() if name in touched}
    blocks = ["\n".join(_block(d, lines.get(d.file, ()), style)) for d in in_reading_order(diagnostics)]
    return "\n\n".join([*blocks, _plain(summary(diagnostics, files), style)])


def plain_ascii(text: str) -> str:
    """Write a text of ours in ASCII alone, line ends kept: `23 °C ± 0.5 K` becomes `23 degC +/- 0.5 K`."""
    return "".join(c if c == "\n" else _in_ascii(_shown(c)) for c in text)


def without_controls(text: str) -> str:
    """Take out of a text, line ends and tabs kept, what could steer the terminal or hide what is written."""
    if text.isascii() and text.replace("\n", "").replace("\t", "").isprintable():
        return text
    return "".join(c if c in "\n\t" else _shown(c) for c in text)


def summary(diagnostics: Sequence[Diagnostic], files: int) -> str:
    """Count what was found: `3 errors, 2 warnings in 2 of 100 files`."""
    live = [d for d in diagnostics if d.waived_by is None]
    parts = []
    for severity in sorted(Severity, reverse=True):
        count = sum(d.severity is severity for d in live)
        if count and severity is Severity.ADVICE:
            parts.append(f"{counted(count, 'piece')} of advice")
        elif count:
            parts.append(counted(count, severity.word))
    if len(live) < len(diagnostics):
        parts.append(f"{len(diagnostics) - len(live)} waived")
    if not parts:
        return f"No findings in {counted(files, 'file')}."
    touched = len({d.file for d in diagnostics})
    where = counted(files, "file") if touched == files else f"{touched} of {counted(files, 'file')}"
    return f"{', '.join(parts)} in {where}."


def _block(diagnostic: Diagnostic, lines: Sequence[str], style: _Style) -> Iterator[str]:
    span, hue = diagnostic.span, _HUES[diagnostic.severity]
    place = _plain(f"{diagnostic.file}:{span.line}:{span.column}:", style)
    what = _plain(f"{diagnostic.code} {diagnostic.slug}", style)
    waived = _plain(f", waived by {diagnostic.waived_by}" if diagnostic.waived_by else "", style)
    word = _painted(diagnostic.severity.word, hue, style)
    yield f"{_painted(place, _BOLD, style)} {word} {_painted(what, _BOLD, style)}{waived}"
    yield from _excerpt(span, lines, hue, style)
    yield from _wrapped(diagnostic.message, "", style)
    for related in diagnostic.related:
        if related.span is None:
            yield from _wrapped(related.note, "see: ", style)
        else:
            yield from _wrapped(related.note, f"see line {related.span.line}: ", style)
            yield from _excerpt(related.span, lines, _DIM, style)
    if diagnostic.ways_out:
        yield f"{_INDENT}{_painted('way out:', _BOLD, style)}"
        for way in diagnostic.ways_out:
            yield from _wrapped(way, "• ", style)


def _excerpt(span: Span, lines: Sequence[str], hue: str, style: _Style) -> Iterator[str]:
    """Draw a line of the file with a mark under the columns of the span; a long line is cut round them."""
    if not 1 <= span.line <= len(lines):
        return
    line = lines[span.line - 1]
    gutter = f"{span.line:>6} {style.sign('┊')} "
    under = " " * 7 + gutter[7:]
    room = style.width - len(gutter)
    start = span.column - 1
    end = span.end_column - 1 if span.end_line == span.line else len(line.rstrip())
    end = max(end, start + 1)
    # Only what can fit is looked at: a line may be a megabyte long.
    first = max(0, start - room)
    cells = [style.sign(c) for c in line[first : start + 2 * room]]
    before = cells[: start - first]
    marked = cells[start - first : end - first]
    after = cells[end - first :]
    dots = style.sign("…")
    third = room // 3
    if first or _cells(before) + min(_cells(marked), third) > room - len(dots):
        while before and _cells(before) > third - len(dots):
            before.pop(0)
        before.insert(0, dots)
    left = room - _cells(before)
    if _cells(marked) + _cells(after) > left:
        left -= len(dots)
        marked, after = _fitting(marked, left), _fitting(after, left - _cells(marked))
        after.append(dots)
    mark = "^" * max(1, _cells(marked))
    yield _painted(gutter, _DIM, style) + "".join((*before, *marked, *after)).rstrip()
    yield _painted(under, _DIM, style) + " " * _cells(before) + _painted(mark, hue, style)


def _fitting(cells: list[str], room: int) -> list[str]:
    """Keep as many of the first cells as fit into the room."""
    kept: list[str] = []
    for cell in cells:
        room -= _cells([cell])
        if room < 0:
            break
        kept.append(cell)
    return kept


def _wrapped(text: str, lead: str, style: _Style) -> Iterator[str]:
    """Break a text between words to the width; the rest is set in as far as the lead of the first line."""
    lead = _plain(lead, style)
    indent = _INDENT
    room = style.width - len(indent) - len(lead)
    row = ""
    for word in _pieces(_plain(text, style), room):
        if row and _cells([row, " ", word]) > room:
            yield f"{indent}{lead}{row}"
            lead, row = " " * len(lead), word
        else:
            row = f"{row} {word}" if row else word
    yield f"{indent}{lead}{row}".rstrip()


def _pieces(text: str, room: int) -> Iterator[str]:
    """Split a text at its spaces, and a word that is wider than the room in stretches that fit."""
    for word in text.split(" "):
        piece = ""
        for sign in word:
            if _cells([piece, sign]) > room:
                yield piece
                piece = ""
            piece += sign
        if piece:
            yield piece


def _plain(text: str, style: _Style) -> str:
    """Make a text of ours or of a file safe for the terminal; line ends and tabs become spaces."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(style.sign(" " if c in "\t\r\n" else c) for c in text)


def _shown(sign: str) -> str:
    """Give a character as it may reach a terminal."""
    if " " <= sign <= "~":
        return sign
    if sign == "\t":
        return _TAB
    return sign if sign.isprintable() or unicodedata.category(sign) == "Zs" else "\ufffd"


def _in_ascii(text: str) -> str:
    return "".join(c if c.isascii() else _SPELT.get(c) or _without_marks(c) for c in text)


def _without_marks(sign: str) -> str:
    """Give the ASCII letters in a character, such as e for é; nothing for a combining mark, else a ?."""
    bare = "".join(c for c in unicodedata.normalize("NFKD", sign).replace("\u2044", "/") if " " <= c <= "~")
    return bare or ("" if unicodedata.combining(sign) else "?")


def _cells(texts: Iterable[str]) -> int:
    """Count the columns of texts: two for wide signs of East Asia and emoji, none for combining marks."""
    return sum(
        1 if c.isascii()
        else 0 if unicodedata.category(c) in ("Mn", "Me")
        else 2 if unicodedata.east_asian_width(c) in ("W", "F")
        else 1
        for text in texts
        for c in text
    )  # fmt: skip


def _painted(text: str, hue: str, style: _Style) -> str:
    return f"\x1b[{hue}m{text}\x1b[0m" if style.colour else text
