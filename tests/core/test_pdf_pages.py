"""A copier's PDF, parted by the codes on its pages."""

from __future__ import annotations

import io

import pypdfium2
import pytest
from PIL import Image

from core.pdf_pages import MOST_PAGES, joined, parts_of
from core.photos import PhotoRefusedError
from core.qr import matrix, png_of

PAGE = (850, 1100)  # US Letter at 100 dpi, as a copier sends it at its coarsest


def scanned(*codes: str) -> bytes:
    """A page for each, an image as copiers make them: with a code, with two ("A+B"), or with none ("")."""
    pages = []
    for page_codes in codes:
        page = Image.new("L", PAGE, 240)
        for number, code in enumerate(filter(None, page_codes.split("+"))):
            symbol = Image.open(io.BytesIO(png_of(matrix(f"HTTPS://HORNS.EXAMPLE/P/{code}"), module_px=3)))
            page.paste(symbol.convert("L"), (650, 60 + 250 * number))
        pages.append(page.rotate(0.7, fillcolor=240))
    out = io.BytesIO()
    pages[0].save(out, "PDF", save_all=True, append_images=pages[1:], resolution=100)
    return out.getvalue()


def code_in(text: str) -> str:
    return text.rsplit("/", 1)[-1] if "/P/" in text else ""


def found(*codes: str) -> list[tuple[set[str], int, int]]:
    return found_in(scanned(*codes))


def found_in(content: bytes) -> list[tuple[set[str], int, int]]:
    return [(set(part.codes), part.first, part.last) for part in parts_of(content, code_in=code_in)]


def test_a_page_without_a_code_goes_with_the_one_before():
    assert found("AAAA", "", "BBBB", "BBBB", "AAAA") == [({"AAAA"}, 1, 2), ({"BBBB"}, 3, 4), ({"AAAA"}, 5, 5)]
    assert found("", "", "AAAA") == [(set(), 1, 2), ({"AAAA"}, 3, 3)]
    assert found("AAAA+BBBB", "CCCC") == [({"AAAA", "BBBB"}, 1, 1), ({"CCCC"}, 2, 2)]


def test_each_part_is_a_pdf_of_its_pages_and_a_whole_one_stays_as_it_was():
    whole = scanned("AAAA", "")
    assert [part.content for part in parts_of(whole, code_in=code_in)] == [whole]
    first, second = parts_of(scanned("AAAA", "", "BBBB"), code_in=code_in)
    for part, pages in ((first, 2), (second, 1)):
        with pypdfium2.PdfDocument(part.content) as document:
            assert len(document) == pages
    assert [part.codes for part in parts_of(second.content, code_in=code_in)] == [{"BBBB"}]


def test_too_many_pages_and_what_is_no_pdf_are_refused():
    out = io.BytesIO()
    with pypdfium2.PdfDocument.new() as document:
        for _ in range(MOST_PAGES + 1):
            document.new_page(100, 100)
        document.save(out)
    for content, words in ((out.getvalue(), "at most 150"), (b"%PDF-1.7 not really %%EOF", "cannot be read")):
        with pytest.raises(PhotoRefusedError, match=words):
            parts_of(content, code_in=code_in)


def test_several_papers_are_joined_in_their_order():
    assert found_in(joined([scanned("AAA", ""), scanned("BBB")])) == [({"AAA"}, 1, 2), ({"BBB"}, 3, 3)]
