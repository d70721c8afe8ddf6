"""Put a value at its place in the text of a YAML file; all else stays as it is, comments too."""

import copy
import json
from collections.abc import Iterable, Mapping
from typing import Any

from fillmark.diagnostics import Path
from fillmark.fix import Fix, edited, held, offsets
from fillmark.locate import schemas_folder
from fillmark.pipeline import Compiled
from fillmark.read import Source, read


class CannotInsertError(Exception):
    """Why a value is not put into a text, in words."""


def insert(text: str, path: Path, value: Any) -> tuple[str, Fix]:
    """Put a value at a path of a YAML text; gives the text and the edit.

    Blocks on the way are made. CannotInsertError where it cannot be done.
    """
    source = read(text.encode(), "").source
    if source is None:
        raise CannotInsertError("it cannot be read")
    what = f"{'.'.join(str(p) for p in path)}: {_flow(value)}"
    try:
        start, end, new = _edit(source, path, value)
    except (KeyError, IndexError, TypeError, ValueError) as error:
        raise CannotInsertError(f"the place of a value cannot be found. Write it by hand: {what}") from error
    fix = Fix(start, end, text[start:end], new, "", path, text.count("\n", 0, start) + 1, what)
    after = edited(text, [fix])
    again = read(after.encode(), "").source
    if again is None or again.data != _with(source.data, path, value):
        raise CannotInsertError(f"something else in it would change. Write it by hand: {what}")
    return after, fix


class CannotWriteError(Exception):
    """Why a method is not written into, in words."""


def put_all(text: str, changes: Iterable[tuple[Path, Any]], fixes: list[Fix]) -> str:
    """Put values into the text of a method one after the other, noting each; CannotWriteError where one cannot be."""
    for path, value in changes:
        try:
            text, fix = insert(text, path, value)
        except CannotInsertError as error:
            raise CannotWriteError(str(error)) from error
        fixes.append(fix)
    return text


def writable(compiled: Compiled) -> Source:
    """Give the source of a method that may be written into; CannotWriteError where it may not or cannot be."""
    source = compiled.source
    if source is None:
        raise CannotWriteError("it cannot be read")
    status = held(source)
    if status is not None:
        raise CannotWriteError(
            f"its status is {status}. Raise the revision and set status: draft first, so that no text changes "
            "under the number people work by"
        )
    return source


def _with(data: Any, path: Path, value: Any) -> Any:
    """Give data with a value put at a path; blocks on the way are made."""
    data = copy.deepcopy(data) if data is not None else {}
    at = data
    for key, following in zip(path, (*path[1:], None), strict=True):
        last = following is None
        if isinstance(at, list) and isinstance(key, int) and key == len(at):
            at.append(None)
        made = value if last else [] if isinstance(following, int) else {}
        if last or (at.get(key) if isinstance(at, dict) else at[key]) is None:
            at[key] = made
        at = at[key]
    return data


def _edit(source: Source, path: Path, value: Any) -> tuple[int, int, str]:
    """Find where a value goes: the stretch of text that is replaced, and what replaces it."""
    text = source.text
    if _there(source.data, path):
        if _at(source.data, path) is not None:
            start, end = offsets(text, source.span(path))
            quote = text[start] if text[start] in "'\"" and isinstance(value, str) else ""
            return start, end, f"{quote}{value}{quote}" if quote else _flow(value)
        _, end = offsets(text, source.span(path, key=True))
        colon = text.index(":", end) + 1
        return colon, colon, f" {_flow(value)}"
    *above, key = path
    parent = tuple(above)
    if not _there(source.data, parent) or _at(source.data, parent) in (None, {}, []):
        return _edit(source, parent, [value] if isinstance(key, int) else {key: value})
    start, end = offsets(text, source.span(parent))
    entry = _flow(value) if isinstance(key, int) else f"{key}: {_flow(value)}"
    if text[start] in "{[":
        last = len(text[: end - 1].rstrip())
        return last, last, f", {entry}"
    if not parent:
        _, end = offsets(text, source.span((_before(source.data, key),)))
        if isinstance(value, list):
            entry = f"{key}:\n" + "\n".join(f"  - {_flow(v)}" for v in value)
    column = start - (text.rfind("\n", 0, start) + 1)
    line_end = text.find("\n", end)
    line_end = len(text) if line_end < 0 else line_end
    line_end -= text[:line_end].endswith("\r")
    newline = "\r\n" if "\r\n" in text else "\n"
    indent = " " * column + ("- " if isinstance(key, int) else "")
    return line_end, line_end, newline + indent + entry.replace("\n", newline)


def _there(data: Any, path: Path) -> bool:
    try:
        _at(data, path)
    except (KeyError, IndexError, TypeError):
        return False
    return True


def _at(data: Any, path: Path) -> Any:
    for key in path:
        data = data[key]
    return data


def _before(data: Mapping[str, Any], key: str | int) -> str:
    """Find the key of a method behind which another one stands by the order of the language."""
    language = json.loads((schemas_folder() / "method.schema.json").read_text(encoding="utf-8"))
    order = list(language["properties"])
    earlier = [k for k in data if k in order and order.index(k) < order.index(str(key))]
    return max(earlier, key=order.index, default=list(data)[-1])


def _flow(value: Any) -> str:
    """Write a value so that YAML reads it back, on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k}: {_flow(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(v) for v in value) + "]"
    again = read(f"{{x: {value}}}".encode(), "").source
    return (
        value if again is not None and again.data == {"x": value} else json.dumps(value, ensure_ascii=False)
    )
