"""Stage 1: bytes become plain data, and every key and value keeps its place in the text.

One pass over the events of PyYAML's C parser, with the plain values of YAML 1.2's core schema (section 10.3
of the YAML 1.2.2 specification): `no`, `1:30` and dates stay texts, `010` is ten, `1e3` a number. What a
method has no use for is refused: a second value for one key, anchors and aliases, tags, merge keys, a second
document, numbers beyond a float, nesting or size beyond the limits. Places count from 1, in characters.
"""

import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeAlias

from yaml._yaml import CParser
from yaml.error import MarkedYAMLError, YAMLError
from yaml.events import (
    AliasEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    StreamEndEvent,
)

from fillmark.diagnostics import Diagnostic, Path, Related, Span
from fillmark.yaml_faults import DEEPEST, QUOTE_IT, explain, fault, lines_of, short, stretch

_MOST_PROBLEMS = 100  # of one file; nobody reads on, and a hostile file could make millions
_Event: TypeAlias = Any  # the stubs make every mark optional; this parser always sets them
_Mark: TypeAlias = Any

LARGEST = 1_048_576
"""Bytes of the largest file that is read."""
_KEYWORDS: dict[str, bool | None] = {
    "": None, "~": None, "null": None, "Null": None, "NULL": None,
    "true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False,
}  # fmt: skip
_NUMBER_START = frozenset("0123456789+-.")
_NUMBER_END = frozenset("0123456789.abcdefABCDEFnN")
_NUMBER = re.compile(
    r"([-+]?[0-9]+)|(0o[0-7]+)|(0x[0-9a-fA-F]+)"
    r"|([-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?)"
    r"|([-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN))"
)
_LARGEST_INTEGER = 2**53 - 1  # beyond it JSON numbers are not exact (RFC 8259, section 6)

# Controls, line separators that editors do not show as lines, signs that make a text show in another order
# than it is stored, and all that takes no room or shows as a blank: two texts that look the same would differ.
_NEVER = (
    "\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\xad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b\u200e\u200f"
    "\u2028-\u202e\u2060-\u206f\u2800\u3164\ud800-\udfff\ufeff\uffa0\ufff0-\ufffb\ufffe\uffff"
    "\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U000e00ff\U000e01f0-\U000e0fff"
)
# Joiners and marks of variants: names in many scripts are not spelt rightly without them, ASCII needs none.
_JOINERS, _VARIANTS = "\u200c\u200d", "\ufe00-\ufe0f\U000e0100-\U000e01ef"
_SUSPECT = re.compile(f"[{_NEVER}{_JOINERS}{_VARIANTS}]")
_UNSEEN = re.compile(f"[{_NEVER}]|(?<![^\x00-\x7f])[{_JOINERS}{_VARIANTS}]|[{_JOINERS}](?![^\x00-\x7f])")
_PLAIN_BYTES = bytes(range(0x20, 0x7F)) + b"\t\n\r"
_PROPERTY = re.compile(r"\s*(&[\w-]+|![^\s,\]}]*)")
_BOM = b"\xef\xbb\xbf"


class _OutOfRangeError(ValueError):
    """A number that no method has."""


class _StopReadingError(Exception):
    """What follows in the file cannot be told apart any more; the reason has been noted."""


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """A file that could be read: plain data (dict, list, str, int, float, bool, None) and places."""

    name: str
    """The file as it is called in diagnostics."""
    text: str
    data: Any

    @property
    def lines(self) -> tuple[str, ...]:
        """Give the lines of the text without their ends; line 1 is at index 0."""
        return lines_of(self.text)

    def span(self, path: Path, *, key: bool = False) -> Span:
        """Find where a value stands, or with `key=True` the key before it.

        A path that is not in the file gives the key of the innermost block that is: the place where the
        value is missing. An empty value gives its key.
        """
        places, ends = _places(self.text)
        if path not in places:
            while path and path not in places:
                path = path[:-1]
            if not path and isinstance(self.data, dict) and self.data:
                path = (next(iter(self.data)),)
            key = True
        name, value = places[path]
        if name is not None and (key or _is_empty(value)):
            return _between(name.start_mark, name.end_mark)
        start: _Mark = value.start_mark
        if path in ends:
            return _between(start, ends[path])
        if isinstance(value, ScalarEvent):
            return self._of_scalar(value)
        # A block without brackets ends where its last entry ends.
        inner = self.data
        for step in path:
            inner = inner[step]
        last: str | int = next(reversed(inner)) if isinstance(inner, dict) else len(inner) - 1
        end = self.span((*path, last))
        return Span(start.line + 1, start.column + 1, end.end_line, end.end_column)

    def _of_scalar(self, value: _Event) -> Span:
        start: _Mark = value.start_mark
        if value.style not in ("|", ">"):
            return _between(start, value.end_mark)
        # The parser ends a block of text at the start of what follows; here it ends with its last letter.
        lines = lines_of(self.text[start.index : value.end_mark.index].rstrip())
        first = start.column if len(lines) == 1 else 0
        return Span(start.line + 1, start.column + 1, start.line + len(lines), first + len(lines[-1]) + 1)


@dataclass(frozen=True, slots=True)
class Reading:
    """What became of a file: a source, or the reasons why there is none, and the text as far as it goes."""

    source: Source | None
    diagnostics: tuple[Diagnostic, ...]
    text: str

    @property
    def lines(self) -> tuple[str, ...]:
        """Give the lines of the text, for excerpts; what could not be decoded shows as U+FFFD."""
        return lines_of(self.text)


def read(data: bytes, name: str) -> Reading:
    """Read a YAML file; `name` is what diagnostics call it.

    Every problem that can be told apart is reported at once; after a fault of syntax the rest of the file
    cannot be. With any problem there is no source.
    """
    text, problems = _decode(data, name)
    if problems:
        return Reading(None, tuple(problems), text)
    walk = _Walk(text, name)
    walk.read()
    if walk.problems:
        return Reading(None, tuple(walk.problems), text)
    return Reading(Source(name, text, walk.data), (), text)


@lru_cache(maxsize=2)
def _places(text: str) -> tuple[Mapping[Path, tuple[_Event, _Event]], Mapping[Path, _Mark]]:
    """Find the places of a text that has been read: path -> events of key and value, path -> closing bracket.

    It is a second pass, made only for a file that has something to say, and kept for one or two files: the
    marks of a thousand files, if all were kept, would cost the garbage collector more than reading them.
    """
    places: dict[Path, tuple[_Event, _Event]] = {}
    walk = _Walk(text, "", places)
    walk.read()
    return places, walk.ends


def _is_empty(value: _Event) -> bool:
    start, end = value.start_mark, value.end_mark
    return type(value) is ScalarEvent and bool(start.index == end.index)


def _between(start: _Mark, end: _Mark) -> Span:
    return Span(start.line + 1, start.column + 1, end.line + 1, end.column + 1)


# --- bytes to text


def _decode(data: bytes, name: str) -> tuple[str, list[Diagnostic]]:
    """Give the text of a file, and what keeps it from being read."""
    start = Span(1, 1, 1, 1)
    if len(data) > LARGEST:
        head = data[:2000].decode("utf-8", "replace")
        # No more than the limit and one byte of a large file is read; how large it is, nobody has counted.
        message = f"The file is larger than {LARGEST} bytes (1 MiB)."
        ways = (
            "Check that this is a method and not a data file or a document.",
            "Split what it holds over several files.",
        )
        return head, [fault("YML04", name, start, message, ways)]
    wide = _wide_encoding(data)
    if wide is not None:
        message = f"The file is {wide[:6]}, not UTF-8."
        return data.decode(wide, "replace"), [fault("YML01", name, start, message, (_SAVE_AS,))]
    body = data.removeprefix(_BOM)
    try:
        text = body.decode()
    except UnicodeDecodeError as error:
        return body.decode("utf-8", "replace"), [_not_utf8(body, error, len(data) - len(body), name)]
    # Few characters are left to look at once the plain ones are out.
    unusual = body.translate(None, _PLAIN_BYTES).decode()
    return text, _unseen(text, name) if _SUSPECT.search(unusual) else []


_SAVE_AS = "Save the file as UTF-8; most editors offer this under Save As or in the status line."


def _wide_encoding(data: bytes) -> str | None:
    """Tell UTF-16 and UTF-32 by their mark, or by the nulls that ASCII leaves in every other byte."""
    if data[:4] in (b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff"):
        return "UTF-32"
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "UTF-16"
    head = data[:512]
    for first, encoding in ((0, "UTF-16-BE"), (1, "UTF-16-LE")):
        if head[first::2].count(0) > len(head) // 4 and not head[1 - first :: 2].count(0):
            return encoding
    return None


def _not_utf8(body: bytes, error: UnicodeDecodeError, skipped: int, name: str) -> Diagnostic:
    before = body[: error.start].decode()
    span = stretch(before, len(before), len(before) + 1)
    byte = body[error.start]
    offset = skipped + error.start
    message = f"Byte {byte:#04x} in line {span.line} (offset {offset} in the file) is not UTF-8."
    try:
        sign = body[error.start : error.start + 1].decode("cp1252")
    except UnicodeDecodeError:
        sign = ""
    if sign.isprintable() and sign:
        message += f" In Windows-1252 it is {sign}: the file was probably saved in that encoding."
    return fault("YML01", name, span, message, (_SAVE_AS,))


def unseen_in(text: str) -> frozenset[str]:
    """Give the characters of a text that nobody can see, or that make it show otherwise than it is."""
    return frozenset(_UNSEEN.findall(text))


def _named(sign: str) -> str:
    name = unicodedata.name(sign, "")
    return f"U+{ord(sign):04X}" + (f" ({name.lower()})" if name else "")


def _unseen(text: str, name: str) -> list[Diagnostic]:
    """Report each sort of character that cannot be seen, at its first place."""
    first: dict[str, int] = {}
    count: Counter[str] = Counter()
    for found in _UNSEEN.finditer(text):
        first.setdefault(found[0], found.start())
        count[found[0]] += 1
    problems = []
    for sign, offset in list(first.items())[:_MOST_PROBLEMS]:
        span = stretch(text, offset, offset + 1)
        more = f", and {count[sign] - 1} more in the file" if count[sign] > 1 else ""
        message = f"An unseen character {_named(sign)} stands here{more}."
        ways: tuple[str, ...] = ("Delete it; retyping the line by hand is the surest way.",)
        if sign == "\x00":
            ways = ("Check that this is a text file.", *ways)
        problems.append(fault("YML02", name, span, message, ways))
    return problems


# --- text to data


def _number(text: str) -> int | float | str:
    """Give the number a plain text stands for, or the text itself; _OutOfRangeError beyond the limits."""
    found = _NUMBER.fullmatch(text)
    if found is None:
        return text
    group = found.lastindex
    if group == 4:
        value = float(text)
        if value in (float("inf"), float("-inf")):
            raise _OutOfRangeError
        return value
    if group == 5 or len(text) > 24:
        raise _OutOfRangeError
    whole = int(text) if group == 1 else int(text, 0)
    if abs(whole) > _LARGEST_INTEGER:
        raise _OutOfRangeError
    return whole


class _Walk:
    """One pass over the events of a text: data, problems met on the way, and places if there is a table."""

    _next: Callable[[], _Event]
    __slots__ = ("_next", "data", "ends", "name", "places", "problems", "text")

    def __init__(self, text: str, name: str, places: dict[Path, tuple[_Event, _Event]] | None = None) -> None:
        self.text = text
        self.name = name
        self.data: Any = None
        self.places = places
        self.ends: dict[Path, _Mark] = {}
        self.problems: list[Diagnostic] = []

    def read(self) -> None:
        try:
            self._next = CParser(self.text).get_event
            self._document()
        except _StopReadingError:
            pass
        except MarkedYAMLError as error:
            self.problems.append(explain(error, self.text, self.name))
        except YAMLError as error:
            message = f"The text cannot be read as YAML: {error}."
            self.problems.append(fault("YML22", self.name, Span(1, 1, 1, 1), message))

    def _document(self) -> None:
        self._next()
        if type(self._next()) is not StreamEndEvent:
            self.data = self._node(self._next(), (), None)
            self._next()
            after = self._next()
            if type(after) is not StreamEndEvent:
                self._note(
                    "YML06", after, "A second document begins here; a file holds one.",
                    "Move what follows into a file of its own.", "Or take the line --- out.",
                )  # fmt: skip
                raise _StopReadingError
        if self.data is None and not self.problems:
            span = Span(1, 1, 1, 1)
            ways = ("Write a method, or start one with: fillmark new.", "Or delete the file.")
            self.problems.append(fault("YML03", self.name, span, "The file is empty.", ways))

    def _node(self, event: _Event, path: Path, key: _Event) -> Any:
        kind = type(event)
        if self.places is not None:
            self.places[path] = (key, event)
        if kind is ScalarEvent:
            if event.anchor is not None or event.tag is not None:
                self._refuse_properties(event, path)
            value = event.value
            if event.style:
                if event.style == '"':
                    self._refuse_unseen(event, path)
                return value
            if value in _KEYWORDS:
                return _KEYWORDS[value]
            if value[0] in _NUMBER_START and value[-1] in _NUMBER_END:
                try:
                    return _number(value)
                except _OutOfRangeError:
                    self._note(
                        "YML12", event, f"{value[:24]} is no number that a method can hold.",
                        "Write a plain finite number.", QUOTE_IT, path=path,
                    )  # fmt: skip
            return value
        if kind is AliasEvent:
            self._note(
                "YML09", event, f"*{short(event.anchor)} stands for a value written elsewhere.",
                "Write the value itself.", QUOTE_IT, path=path,
            )  # fmt: skip
            return None
        if len(path) >= DEEPEST:
            self._note(
                "YML05", event, f"Blocks are nested more than {DEEPEST} levels deep.",
                "Check for brackets or dashes that were repeated by accident.", path=path,
            )  # fmt: skip
            raise _StopReadingError
        if event.anchor is not None or event.tag is not None:
            self._refuse_properties(event, path)
        return self._mapping(event, path) if kind is MappingStartEvent else self._sequence(event, path)

    def _mapping(self, start: _Event, path: Path) -> dict[str, Any]:
        data: dict[str, Any] = {}
        keys: dict[str, _Event] = {}
        step = self._next
        while True:
            event = step()
            if type(event) is MappingEndEvent:
                if start.flow_style and self.places is not None:
                    self.ends[path] = event.end_mark
                return data
            key = self._key(event, path)
            inner = (*path, key)
            if key in keys:
                self._duplicate(event, inner, keys[key])
            else:
                keys[key] = event
            data[key] = self._node(step(), inner, event if type(event) is ScalarEvent else None)

    def _sequence(self, start: _Event, path: Path) -> list[Any]:
        data: list[Any] = []
        step = self._next
        while True:
            event = step()
            if type(event) is SequenceEndEvent:
                if start.flow_style and self.places is not None:
                    self.ends[path] = event.end_mark
                return data
            data.append(self._node(event, (*path, len(data)), None))

    def _key(self, event: _Event, path: Path) -> str:
        """Give the text of a key, noting what is wrong with it."""
        if type(event) is not ScalarEvent:
            if type(event) is AliasEvent:
                self._node(event, path, None)
                return f"*{event.anchor}"
            self._note(
                "YML08",
                event,
                "A block stands where a key should.",
                "Write a plain word as the key.",
                path=path,
            )
            self._node(event, (*path, "?"), None)
            return "?"
        if event.anchor is not None or event.tag is not None:
            self._refuse_properties(event, path)
        key: str = event.value
        if event.style:
            self._refuse_unseen(event, path)
            return key
        if key in _KEYWORDS or (key[0] in _NUMBER_START and _NUMBER.fullmatch(key)):
            if key:
                message, way = f"The key {short(key)} is no text.", f'Put it in quotes: "{short(key)}".'
            else:
                message, way = (
                    "A colon stands here without a key before it.",
                    "Write the key before the colon.",
                )
            self._note("YML08", event, message, way, path=path)
        elif key == "<<":
            self._note(
                "YML10",
                event,
                "<< takes in a block written elsewhere.",
                "Write the values themselves.",
                path=path,
            )
        return key

    def _duplicate(self, key: _Event, path: Path, first: _Event) -> None:
        related = Related("first given here", path, _between(first.start_mark, first.end_mark))
        self._note(
            "YML07", key, f"The key {short(str(path[-1]))} has a value already.", "Delete one of the two.",
            "Or rename one, if they are meant for different things.", path=path, related=(related,),
        )  # fmt: skip

    def _refuse_unseen(self, event: _Event, path: Path) -> None:
        """Note a character that an escape in double quotes has brought in."""
        found = _UNSEEN.search(event.value)
        if found:
            message = f"An escape in this text stands for the unseen character {_named(found[0])}."
            self._note("YML02", event, message, "Delete the escape.", path=path)

    def _refuse_properties(self, event: _Event, path: Path) -> None:
        """Note an anchor or a tag before a value; the marks of the event begin at the first of them."""
        at = event.start_mark.index
        while found := _PROPERTY.match(self.text, at):
            sign, at = short(found[1]), found.end()
            code, message, way = (
                (
                    "YML09",
                    f"{sign} gives the value a name.",
                    "Take the name out and write the value where it is needed.",
                )
                if sign[0] == "&"
                else ("YML11", f"{sign} names a type.", "Take it out; the schema knows what the value is.")
            )
            quoted = f"Put the text in quotes if it is meant to begin with {sign[0]}."
            span = stretch(self.text, found.start(1), at)
            self._add(fault(code, self.name, span, message, (way, quoted), path=path))

    def _note(
        self,
        code: str,
        event: _Event,
        message: str,
        *ways_out: str,
        path: Path = (),
        related: tuple[Related, ...] = (),
    ) -> None:
        span = _between(event.start_mark, event.end_mark)
        self._add(fault(code, self.name, span, message, ways_out, path=path, related=related))

    def _add(self, problem: Diagnostic) -> None:
        self.problems.append(problem)
        if len(self.problems) >= _MOST_PROBLEMS:
            raise _StopReadingError
