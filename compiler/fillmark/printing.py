"""Stage 8: HTML becomes a PDF.

The same HTML gives the same bytes: no dates, no addresses, one set of fonts. Anything WeasyPrint complains of
is an error here, because on paper it would be a missing box or a number in a wrong place.
"""

import logging
from functools import cache
from typing import TYPE_CHECKING, Any

from fillmark.locate import templates_folder

if TYPE_CHECKING:
    from weasyprint.text.fonts import FontConfiguration

PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core fonts-dejavu-extra"
"""Debian packages a PDF needs."""

INSTALL = f"sudo apt-get install --no-install-recommends {PACKAGES}"

FONT = "DejaVu"


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


def pdf(html: str, *, paper: str = "A4", stylesheet: str = "") -> bytes:
    """Print an HTML page of `render` on a paper size (A4, Letter); `stylesheet` is laid over its own.

    Raises PrintingUnavailable where a system library or the font is missing, PrintingFailed where
    WeasyPrint has anything to complain of.
    """
    try:
        from weasyprint import CSS, HTML  # noqa: PLC0415 - idem
        from weasyprint.urls import URLFetcher  # noqa: PLC0415 - idem
    except OSError as error:
        raise PrintingUnavailable(
            f"A PDF needs system libraries that are not there ({str(error).splitlines()[0]}). "
            f"Run once: {INSTALL}. HTML and checks work without them."
        ) from error

    class Nothing(URLFetcher):  # type: ignore[misc]
        """Fetches nothing: a page brings all it needs."""

        def fetch(self, url: str, headers: Any = None) -> Any:  # noqa: ARG002 - the signature is WeasyPrint's
            raise ValueError(f"nothing is fetched for a page: {url}")

    complaints = _Complaints()
    log = logging.getLogger("weasyprint")
    log.addHandler(complaints)
    used: set[str] = set()

    def note_fonts(_: Any, made: Any) -> None:
        used.update(str(o["BaseFont"]) for o in made.objects if isinstance(o, dict) and "BaseFont" in o)

    try:
        fetcher = Nothing()
        style = CSS(
            string=f"{_margins()}@page {{ size: {paper.lower()} }}{stylesheet}",
            font_config=_fonts(),
            url_fetcher=fetcher,
        )
        printed = HTML(string=html, url_fetcher=fetcher).write_pdf(
            stylesheets=[style], font_config=_fonts(), pdf_tags=True, finisher=note_fonts
        )
    finally:
        log.removeHandler(complaints)
    if complaints.heard:
        raise PrintingFailed("WeasyPrint complained: " + "; ".join(complaints.heard))
    if not any(FONT in name for name in used):
        raise PrintingUnavailable(
            f"The font DejaVu Sans is not there, and the papers are laid out in it. Run once: {INSTALL}."
        )
    return bytes(printed)
