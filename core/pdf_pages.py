"""A PDF of many scanned papers parted by the codes on its pages, and several papers joined to one."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from threading import Lock

import pypdfium2
import zxingcpp
from django.utils.translation import gettext as _

from core.photos import PhotoRefusedError

MOST_PAGES = 150  # a class with two pages each, twice over
DOTS_PER_POINT = 200 / 72  # 200 dpi: a module of the code on our papers is about 6 dots
MOST_DOTS = 8_000_000  # of a page, however large it says it is
ONE_AT_A_TIME = Lock()  # the library is not made for threads


@dataclass(frozen=True, slots=True)
class Part:
    """The pages of one paper. ``codes`` is empty for those before the first code, two where one page holds two."""

    codes: frozenset[str]
    first: int  # counted from 1
    last: int
    content: bytes


def parts_of(content: bytes, *, code_in: Callable[[str], str]) -> list[Part]:
    """Return the papers in a PDF by the code on their pages; a page without one belongs to the paper before it.

    ``code_in`` returns the code in the text of a QR symbol, or "". A PDF that holds one paper comes back byte for byte.
    Raises PhotoRefusedError for a PDF that cannot be read or has too many pages.
    """
    with ONE_AT_A_TIME:
        try:
            with pypdfium2.PdfDocument(content) as document:
                if len(document) > MOST_PAGES:
                    words = _("It has %(count)d pages. Send at most %(most)d at once.")
                    raise PhotoRefusedError(words % {"count": len(document), "most": MOST_PAGES})
                on_pages = [_codes_on(page, code_in=code_in) for page in document]
                spans = _spans(on_pages)
                if len(spans) == 1:
                    return [Part(spans[0][0], 1, len(on_pages), content)]
                return [Part(codes, first, last, _pages(document, first, last)) for codes, first, last in spans]
        except pypdfium2.PdfiumError as error:
            raise PhotoRefusedError(
                _("This PDF cannot be read. Scan it again, or send it with its code typed.")
            ) from error


def _codes_on(page: pypdfium2.PdfPage, *, code_in: Callable[[str], str]) -> frozenset[str]:
    width, height = page.get_size()
    scale = min(DOTS_PER_POINT, (MOST_DOTS / max(width * height, 1)) ** 0.5)
    picture = page.render(scale=scale, grayscale=True).to_pil()
    found = zxingcpp.read_barcodes(picture, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode))
    return frozenset(code for one in found if one.valid and (code := code_in(one.text)))


def _spans(on_pages: list[frozenset[str]]) -> list[tuple[frozenset[str], int, int]]:
    """Return each run of pages that belong together: codes, first page, last page."""
    spans: list[tuple[frozenset[str], int, int]] = []
    for number, codes in enumerate(on_pages, start=1):
        if spans and (not codes or codes == spans[-1][0]):
            known, first, _last = spans[-1]
            spans[-1] = known, first, number
        else:
            spans.append((codes, number, number))
    return spans


def _pages(document: pypdfium2.PdfDocument, first: int, last: int) -> bytes:
    out = io.BytesIO()
    with pypdfium2.PdfDocument.new() as part:
        part.import_pages(document, pages=list(range(first - 1, last)))
        part.save(out)
    return out.getvalue()


def joined(papers: Sequence[bytes]) -> bytes:
    """Return PDFs of our own one after another as one."""
    with ONE_AT_A_TIME, pypdfium2.PdfDocument.new() as whole:
        for paper in papers:
            with pypdfium2.PdfDocument(paper) as document:
                whole.import_pages(document)
        out = io.BytesIO()
        whole.save(out)
        return out.getvalue()
