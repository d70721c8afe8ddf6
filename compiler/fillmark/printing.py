"""Stage 8: HTML becomes a PDF.

The same HTML gives the same bytes: no dates, no addresses, one set of fonts. Anything WeasyPrint complains of
is an error here, because on paper it would be a missing box or a number in a wrong place.
"""

import logging
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from fillmark.locate import templates_folder

if TYPE_CHECKING:
    from weasyprint.text.fonts import FontConfiguration

PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core fonts-dejavu-extra"
"""Debian packages a PDF needs."""

INSTALL = f"sudo apt-get install --no-install-recommends {PACKAGES}"

FONT = "DejaVu"

SHEETS = ('<body class="checklist ', '<body class="data-sheet ')
"""How the pages begin that a side each has room for, if it can be done."""

NO_DRAWING = ".checklist .picture { display: none !important }"
RUN_ON = ".side + .side { break-before: auto !important }"
TIGHTER = (NO_DRAWING, RUN_ON, NO_DRAWING + RUN_ON)
"""What is tried, in this order, where a side runs over: without the set-up drawing, which the dossier has too;
and with the second side right after the first, so that no page bears a single line."""


class PrintingUnavailable(Exception):  # noqa: N818 - it is a state of the machine
    """This machine lacks what a PDF needs; the message has the one command that brings it."""


class PrintingFailed(Exception):  # noqa: N818 - idem
    """WeasyPrint complained; the message says of what."""


class _Complaints(logging.Handler):
    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.heard: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.heard.append(record.getMessage())


@cache
def _margins() -> str:
    return (templates_folder() / "pdf.css").read_text(encoding="utf-8")


@cache
def _fonts() -> "FontConfiguration":
    from weasyprint.text.fonts import FontConfiguration  # noqa: PLC0415 - only a PDF needs the libraries

    return FontConfiguration()


@cache
def any_font() -> bool:
    """Tell whether the system has a font: without any, the library that sets the text brings the process down."""
    from weasyprint.text.ffi import fontconfig  # noqa: PLC0415 - idem

    config = fontconfig.FcInitLoadConfigAndFonts()
    try:
        fonts = fontconfig.FcConfigGetFonts(config, 0)  # the set of the system
        return bool(fonts) and fonts.nfont > 0
    finally:
        fontconfig.FcConfigDestroy(config)


def pdf(html: str, *, paper: str = "A4", stylesheet: str = "") -> bytes:
    """Print an HTML page of `render` on a paper size (A4, Letter); `stylesheet` is laid over its own.

    Raises PrintingUnavailable where a system library or the font is missing, PrintingFailed where
    WeasyPrint has anything to complain of.
    """
    with _checked() as used:
        laid = _fewest_pages(html, paper=paper, stylesheet=stylesheet, pdf_tags=True)
        printed = laid.write_pdf(finisher=used.note, pdf_tags=True)
    return bytes(printed)


def _fewest_pages(html: str, *, paper: str, stylesheet: str = "", **options: bool) -> Any:
    """Lay out a page; one whose sides run over in the way that takes the fewest pages."""

    def laid(more: str = "") -> Any:
        style = _style(f"{_margins()}@page {{ size: {paper.lower()} }}{stylesheet}{more}")
        return _page(html).render(stylesheets=[style], font_config=_fonts(), **options)

    best = laid()
    sides = html.count('<section class="side ')
    if any(start in html for start in SHEETS):
        for more in TIGHTER:
            if len(best.pages) <= sides:
                break
            best = min(best, laid(more), key=lambda document: len(document.pages))
    return best


@dataclass(frozen=True, slots=True)
class Laid:
    """Pages whose lines and tables have found their places; drawing them is what is left."""

    pages: tuple[Any, ...]
    document: Any


def lay_out(html: str, *, paper: str = "A4") -> Laid:
    """Lay out an HTML page of `render`, to be drawn many times; raises as `pdf` does."""
    with _checked(drawn=False):
        document = _fewest_pages(html, paper=paper)
    return Laid(tuple(document.pages), document)


def stamped(laid: Sequence[Laid], stamp: str) -> bytes:
    """Draw laid-out pages one after the other as one PDF, with the first page of an HTML text over each.

    `stamp` brings its own page size and margins. The pages are for paper: unlike those of `pdf` they have no
    tags. Raises as `pdf` does.
    """
    with _checked() as used:
        over = _page(stamp).render(font_config=_fonts()).pages[0]
        pages = [_Stamped(page, over) for one in laid for page in one.pages]
        printed = laid[0].document.copy(pages).write_pdf(finisher=used.note)
    return bytes(printed)


class _Stamped:
    """A page with another drawn over it."""

    def __init__(self, page: Any, over: Any) -> None:
        self._page = page
        self._over = over

    def __getattr__(self, name: str) -> Any:
        return getattr(self._page, name)

    def paint(self, stream: Any, scale: float = 1) -> None:
        self._page.paint(stream, scale)
        self._over.paint(stream, scale)


class _Used:
    """The fonts that a PDF was drawn with."""

    def __init__(self) -> None:
        self.fonts: set[str] = set()

    def note(self, _: Any, made: Any) -> None:
        """Take them from the finished PDF; the printer calls this."""
        self.fonts.update(str(o["BaseFont"]) for o in made.objects if isinstance(o, dict) and "BaseFont" in o)


@contextmanager
def _checked(*, drawn: bool = True) -> Iterator[_Used]:
    """Print with an ear to complaints; where something was drawn, see that it was in the right font."""
    try:
        import weasyprint  # noqa: F401, PLC0415 - only a PDF needs the libraries
    except OSError as error:
        raise PrintingUnavailable(
            f"A PDF needs system libraries that are not there ({str(error).splitlines()[0]}). "
            f"Run once: {INSTALL}. HTML and checks work without them."
        ) from error
    except ImportError as error:
        raise PrintingUnavailable(
            f"A PDF needs Python packages that are not there ({error}). Run once: python -m pip install "
            "--force-reinstall fillmark. HTML and checks work without them."
        ) from error
    if not any_font():
        raise PrintingUnavailable(f"There is no font at all on this machine. Run once: {INSTALL}.")
    complaints = _Complaints()
    log = logging.getLogger("weasyprint")
    log.addHandler(complaints)
    used = _Used()
    try:
        yield used
    finally:
        log.removeHandler(complaints)
    if complaints.heard:
        raise PrintingFailed("WeasyPrint complained: " + "; ".join(complaints.heard))
    if drawn and not any(FONT in name for name in used.fonts):
        raise PrintingUnavailable(
            f"The font DejaVu Sans is not there, and the papers are laid out in it. Run once: {INSTALL}."
        )


@cache
def _nothing() -> Any:
    from weasyprint.urls import URLFetcher  # noqa: PLC0415 - idem

    class Nothing(URLFetcher):  # type: ignore[misc]
        """Fetches nothing: a page brings all it needs."""

        def fetch(self, url: str, headers: Any = None) -> Any:  # noqa: ARG002 - the signature is WeasyPrint's
            raise ValueError(f"nothing is fetched for a page: {url}")

    return Nothing()


def _page(html: str) -> Any:
    from weasyprint import HTML  # noqa: PLC0415 - idem

    return HTML(string=html, url_fetcher=_nothing())


def _style(text: str) -> Any:
    from weasyprint import CSS  # noqa: PLC0415 - idem

    return CSS(string=text, font_config=_fonts(), url_fetcher=_nothing())
