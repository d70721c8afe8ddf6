"""Stage 7: a plan becomes an HTML page that stands alone, on screen and on paper.

The templates say where each part goes. What an author wrote is Markdown with raw HTML, links and
pictures off: whatever else stands in it comes out as the letters it is made of.
"""

from collections.abc import Callable
from functools import cache
from io import BytesIO

import segno
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markdown_it import MarkdownIt
from markupsafe import Markup

from fillmark.documents import Document, Step, plain
from fillmark.locate import templates_folder

PAPERS = {"A4": "210mm 297mm", "Letter": "215.9mm 279.4mm"}
"""Paper sizes that the pages are laid out for."""

MANY_COLUMNS = 3
SHORT_TICKED, SHORT_WRITTEN, SHORT_BESIDE_MANY = 50, 64, 32
"""Letters of a step that fits in half a row: ticked, with a place to write in, and beside many columns."""


def templates(**filters: Callable[..., object]) -> Environment:
    """Open the templates, with filters of their own; what a template asks for and nobody gives is an error."""
    environment = Environment(
        loader=FileSystemLoader(templates_folder(), encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(filters)
    return environment


@cache
def _environment() -> Environment:
    return templates(markdown=markdown, code=square_code, in_rows=in_rows)


@cache
def _author_markdown() -> MarkdownIt:
    """Read paragraphs, lists and emphasis only; nothing that fetches, links or brings its own HTML."""
    return MarkdownIt("zero", {"html": False, "linkify": False, "typographer": False}).enable(
        ["emphasis", "list", "backticks", "escape", "newline"]
    )


def markdown(text: str) -> Markup:
    """Turn an author's text into inert HTML."""
    return Markup(_author_markdown().render(text))  # noqa: S704 - html is off, so every tag comes out escaped


def square_code(text: str) -> Markup:
    """Draw a text as a QR code, as inline SVG."""
    out = BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", xmldecl=False, svgns=True, omitsize=True, border=2, svgclass="qr", lineclass=None
    )
    return Markup(out.getvalue().decode().strip())  # noqa: S704 - segno writes paths only


def in_rows(steps: tuple[Step, ...], columns: int) -> list[tuple[Step, ...]]:
    """Put two short steps into one row of a table with so many value columns.

    Two ticked steps share a row anywhere; two written ones only where the table has no value columns and
    each step brings its own place. A caution takes the whole width, so the step it protects is the first of
    its row.
    """
    rows: list[tuple[Step, ...]] = []
    for step in steps:
        before = rows[-1] if rows else ()
        if len(before) == 1 and not step.cautions and _share(before[0], step, columns):
            rows[-1] = (before[0], step)
        else:
            rows.append((step,))
    return rows


def _share(first: Step, second: Step, columns: int) -> bool:
    if first.why or second.why:
        return False
    if not first.fields and not second.fields:
        most = SHORT_TICKED if columns < MANY_COLUMNS else SHORT_BESIDE_MANY
        return _letters(first) <= SHORT_TICKED and _letters(second) <= most
    both_written = len(first.fields) == len(second.fields) == 1
    return columns == 0 and both_written and max(_letters(first), _letters(second)) <= SHORT_WRITTEN


def _letters(step: Step) -> int:
    return len(plain(step.text)) + len(step.author) + len(plain(step.limit)) + len(plain(step.remark))


def render(document: Document, *, paper: str = "A4") -> str:
    """Write a plan as HTML for a paper size of `PAPERS`; KeyError for another."""
    size = PAPERS[paper]
    folder = templates_folder()
    style, screen = ((folder / name).read_text(encoding="utf-8") for name in ("style.css", "screen.css"))
    return (
        _environment()
        .get_template(f"{document.kind}.html")
        .render(
            document=document,
            paper=paper,
            # Escaping would break the quotes in a style sheet; these texts are our own.
            style=Markup(f"{style}@page {{ size: {size} }}\n"),  # noqa: S704
            screen=Markup(screen),  # noqa: S704
        )
    )
