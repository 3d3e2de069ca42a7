"""PDF from HTML. The renderer gets only what is passed in and can fetch nothing else."""

from __future__ import annotations

import logging
import mimetypes
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import lru_cache

from django.conf import settings
from django.utils.translation import gettext
from weasyprint import CSS, HTML
from weasyprint.logger import PROGRESS_LOGGER
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from core.progress import has_listener, report_progress

SCHEME = "asset:"
SHOWN_ADDRESS = 80  # characters of a refused address worth repeating

OUR_FACES = "Hornbook "  # how the families of the screen's fonts begin
FACES = (("Hornbook Serif", 600, "serif-600"), ("Hornbook Sans", 400, "sans-400"), ("Hornbook Sans", 600, "sans-600"))


class PdfError(Exception):
    """The document could not be made; the message says why."""


class PdfFetchRefusedError(PdfError):
    """The document asked for something that was not passed in."""


class PdfTooLongError(PdfError):
    """The document takes more pages than allowed."""

    def __init__(self, pages: int, *, most: int) -> None:
        super().__init__(f"The document takes {pages} pages, more than {most}.")
        self.pages = pages


class PassedAssets(URLFetcher):  # type: ignore[misc]  # weasyprint has no types
    """Serves ``asset:name`` from the mapping and refuses every other address, remembering the first.

    The base class would open files and sockets. Neither its ``fetch`` nor its handlers are reached, because both
    entry points, call and ``open``, go to the ``fetch`` below.
    """

    def __init__(self, *, assets: Mapping[str, bytes]) -> None:
        super().__init__(allowed_protocols=(), allow_redirects=False, fail_on_errors=True)
        self.assets = assets
        self.refused: str | None = None

    def fetch(self, url: str, headers: object = None) -> URLFetcherResponse:
        """Return the asset, or raise an error the renderer does not swallow."""
        del headers
        name = url.removeprefix(SCHEME)
        if url.startswith(SCHEME) and name in self.assets:
            kind = mimetypes.guess_type(name)[0] or "application/octet-stream"
            return URLFetcherResponse(url, body=self.assets[name], headers={"Content-Type": kind})
        self.refused = self.refused or url
        raise FatalURLFetchingError(url)


class LaidOut:
    """A document that is laid out, so that its pages can be counted before it is written."""

    def __init__(
        self,
        *,
        html: str,
        stylesheets: Sequence[str] = (),
        assets: Mapping[str, bytes] | None = None,
        is_tagged: bool = False,
    ) -> None:
        faces, files = our_fonts() if any(OUR_FACES in text for text in (html, *stylesheets)) else ("", {})
        self._fetcher = PassedAssets(assets={**files, **(assets or {})})
        self._fonts = FontConfiguration()  # lives as long as what is drawn with it
        self._is_tagged = is_tagged
        with self._refusals(), _pages_reported():
            sheets = [
                CSS(string=text, url_fetcher=self._fetcher, font_config=self._fonts) for text in (faces, *stylesheets)
            ]
            self._document = HTML(string=html, url_fetcher=self._fetcher).render(
                stylesheets=sheets, font_config=self._fonts, pdf_tags=is_tagged
            )

    @property
    def pages(self) -> int:
        return len(self._document.pages)

    def pdf(self, *, most_pages: int | None = None) -> bytes:
        """Write it. PdfTooLongError for more than ``most_pages`` pages."""
        if most_pages is not None and self.pages > most_pages:
            raise PdfTooLongError(self.pages, most=most_pages)
        with self._refusals():
            pdf: bytes = self._document.write_pdf(pdf_tags=self._is_tagged, pdf_identifier=b"hornbook")
        if self._fetcher.refused is not None:  # parts of the renderer swallow every error, so check again
            raise PdfFetchRefusedError(_sentence(self._fetcher.refused))
        return pdf

    @contextmanager
    def _refusals(self) -> Iterator[None]:
        try:
            yield
        except FatalURLFetchingError as refusal:
            raise PdfFetchRefusedError(_sentence(str(self._fetcher.refused))) from refusal
        except (ValueError, TypeError, OSError, LookupError, ArithmeticError, RecursionError) as error:
            raise PdfError(f"The document could not be laid out: {error}") from error


def render_pdf(
    *,
    html: str,
    stylesheets: Sequence[str] = (),
    assets: Mapping[str, bytes] | None = None,
    is_tagged: bool = False,
    most_pages: int | None = None,
) -> bytes:
    """Return the PDF of an HTML text and CSS texts; pictures and fonts are named ``asset:NAME`` and passed in.

    The screen's own fonts need not be: a text that names their families ("Hornbook Sans") gets them.

    The same arguments give the same bytes: no clock is read. The document's date comes with the HTML, as
    ``<meta name="dcterms.created" content="2026-01-31T09:00:00Z">``. ``is_tagged`` adds the structure that screen
    readers use. Raises PdfTooLongError for more than ``most_pages`` pages, and PdfFetchRefusedError if the document
    names any other address (http, file, data …): a paper someone signs must not silently lack a part.
    """
    laid_out = LaidOut(html=html, stylesheets=stylesheets, assets=assets, is_tagged=is_tagged)
    return laid_out.pdf(most_pages=most_pages)


class _Pages(logging.Handler):
    """Reads from the log of the renderer, the only place that says it, which page it lays out."""

    def emit(self, record: logging.LogRecord) -> None:
        words, _, page = record.getMessage().rpartition(" ")
        if words.endswith("Page") and page.isdigit():
            report_progress(int(page), phase=gettext("Laying out pages"))


@contextmanager
def _pages_reported() -> Iterator[None]:
    """Say how many pages are laid out, where somebody listens."""
    if not has_listener():
        yield
        return
    pages = _Pages()
    level = PROGRESS_LOGGER.level
    PROGRESS_LOGGER.addHandler(pages)
    PROGRESS_LOGGER.setLevel(logging.INFO)
    try:
        yield
    finally:
        PROGRESS_LOGGER.setLevel(level)
        PROGRESS_LOGGER.removeHandler(pages)


@lru_cache(maxsize=1)
def our_fonts() -> tuple[str, dict[str, bytes]]:
    """Return the style sheet of the screen's fonts and their files; of neither where they are not installed."""
    folder = settings.BASE_DIR / "static" / "vendor" / "fonts"
    paths = {f"{name}.ttf": folder / f"{name}.ttf" for *_, name in FACES}
    if not all(path.is_file() for path in paths.values()):
        return "", {}
    rules = (
        f'@font-face {{ font-family: "{family}"; font-weight: {weight}; src: url("{SCHEME}{name}.ttf") }}'
        for family, weight, name in FACES
    )
    return "\n".join(rules), {name: path.read_bytes() for name, path in paths.items()}


def _sentence(address: str) -> str:
    shown = address if len(address) <= SHOWN_ADDRESS else f"{address[:SHOWN_ADDRESS]}…"
    return f"The document asks for {shown!r}, which was not passed in. Nothing was fetched and no PDF was made."
