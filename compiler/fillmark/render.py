"""Stage 7: a plan becomes an HTML page that stands alone, on screen and on paper.

The templates say where each part goes. What an author wrote is Markdown with raw HTML, links and pictures off:
whatever else stands in it comes out as the letters it is made of.
"""

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

SHORT_TICKED, SHORT_WRITTEN, SHORT_BESIDE_MANY = 50, 66, 34
"""Letters of a step that fits in half a row: ticked, with a place to write in, and beside many columns."""


@cache
def _environment() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(templates_folder(), encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["markdown"] = markdown
    environment.filters["code"] = square_code
    environment.filters["in_rows"] = in_rows
    return environment


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
    """Put two short steps into one row of a table with so many value columns, both ticked or both written.

    A caution takes the whole width, so the step it protects is the first of its row.
    """
    second = SHORT_TICKED if columns <= 2 else SHORT_BESIDE_MANY  # noqa: PLR2004 - they leave less room
    rows: list[tuple[Step, ...]] = []
    for step in steps:
        before = rows[-1] if rows else ()
        pair = len(before) == 1 and _short(before[0], SHORT_TICKED) and _short(step, second) and not step.cautions
        if pair and bool(before[0].fields) == bool(step.fields):
            rows[-1] = (before[0], step)
        else:
            rows.append((step,))
    return rows


def _short(step: Step, most: int) -> bool:
    words = len(plain(step.text)) + len(step.author)
    if step.fields:
        words += len(plain(step.limit)) + len(plain(step.remark))
        return len(step.fields) == 1 and words <= SHORT_WRITTEN
    return words <= most


def render(document: Document, *, paper: str = "A4") -> str:
    """Write a plan as HTML for a paper size of `PAPERS`; KeyError for another."""
    stylesheet = (templates_folder() / "style.css").read_text(encoding="utf-8")
    template = _environment().get_template(f"{document.kind}.html")
    return template.render(
        document=document,
        paper=paper,
        # Escaping would break the quotes in a style sheet; both texts are our own.
        style=Markup(f"{stylesheet}\n@page {{ size: {PAPERS[paper]} }}\n"),  # noqa: S704
    )
