"""PDF rendering: what is handed in appears, everything else is refused and never asked for."""

from __future__ import annotations

import io
import re
import socket
import subprocess
import sys
import threading
import zlib
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from PIL import Image

from core.pdf import PdfError, PdfFetchRefusedError, render_pdf


def make_png(color: str = "red") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (20, 20), color).save(out, "PNG")
    return out.getvalue()


def text_of(pdf: bytes) -> str:
    with pypdfium2.PdfDocument(pdf) as document:
        return "\n".join(page.get_textpage().get_text_range() for page in document)


def picture_of(pdf: bytes) -> Image.Image:
    with pypdfium2.PdfDocument(pdf) as document:
        return document[0].render(scale=1).to_pil().convert("RGB")


def unpacked(pdf: bytes) -> bytes:
    """Return the file with what its compressed streams hold."""
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL)
    return pdf + b"".join(zlib.decompressobj().decompress(stream) for stream in streams if stream[:1] == b"x")


@contextmanager
def listening() -> Iterator[tuple[int, list[bytes]]]:
    """Listen on this machine and note whoever knocks."""
    knocks: list[bytes] = []
    server = socket.create_server(("127.0.0.1", 0))

    def accept() -> None:
        while True:
            try:
                connection, _ = server.accept()
            except OSError:
                return
            knocks.append(b"knock")
            connection.close()

    thread = threading.Thread(target=accept, daemon=True)
    thread.start()
    try:
        yield server.getsockname()[1], knocks
    finally:
        server.shutdown(socket.SHUT_RDWR)
        server.close()
        thread.join(2)


# Every place of a document that can name an address: in HTML, in CSS, and in an SVG picture that was handed in.
PLACES = {
    "img": '<img src="{}">',
    "input image": '<input type="image" src="{}">',
    "object": '<object data="{}"></object>',
    "embed": '<embed src="{}">',
    "link stylesheet": '<link rel="stylesheet" href="{}">',
    "link attachment": '<link rel="attachment" href="{}">',
    "anchor attachment": '<a rel="attachment" href="{}">terms</a>',
    "style import": "<style>@import url({});</style>",
    "style background": "<style>p {{ background: url({}) }}</style><p>text",
    "style attribute": '<p style="background: url({})">text',
    "style list": "<style>li {{ list-style-image: url({}) }}</style><ul><li>text</ul>",
    "style content": "<style>p::before {{ content: url({}) }}</style><p>text",
    "style border": "<style>p {{ border: 5px solid; border-image: url({}) 1 }}</style><p>text",
    "style page": "<style>@page {{ background: url({}) }}</style>",
    "style font": "<style>@font-face {{ font-family: Own; src: url({}) }} p {{ font-family: Own }}</style><p>text",
    "style color profile": "<style>@color-profile --own {{ src: url({}) }} p {{ color: color(--own 1 0 0) }}</style><p>x",
    "inline svg image": '<svg width="9" height="9"><image href="{}" width="9" height="9"/></svg>',
    "inline svg xlink": '<svg xmlns:xlink="http://www.w3.org/1999/xlink"><image xlink:href="{}" width="9" height="9"/></svg>',
    "inline svg use": '<svg width="9" height="9"><use href="{}#part"/></svg>',
    "inline svg style": "<svg width='9' height='9'><style>@import url({});</style><rect width='9' height='9'/></svg>",
    "base": '<base href="{}"><img src="picture.png">',
}
SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="9" height="9">{}</svg>'
SVG_PLACES = {
    "image": '<image href="{}" width="9" height="9"/>',
    "xlink image": '<image xlink:href="{}" width="9" height="9"/>',
    "use": '<use href="{}#part"/>',
    "import": "<style>@import url({});</style><rect width='9' height='9'/>",
    "font": "<style>@font-face {{ font-family: Own; src: url({}) }}</style><text font-family='Own'>x</text>",
}


# Places which the renderer, as it is today, does not look up at all. Should it begin to, the tests still see the knock.
NEVER_LOOKED_UP = {"input image", "inline svg use", "inline svg style", "use", "import"}

opened_files: list[str] = []


def note_opening(event: str, details: tuple[Any, ...]) -> None:
    if event == "open" and isinstance(details[0], str):
        opened_files.append(details[0])


sys.addaudithook(note_opening)  # hears every opening of a file in this process; it cannot be taken away again


def refusal(place: str) -> AbstractContextManager[object]:
    """Expect the refusal, unless the place is one of those never looked up."""
    return nullcontext() if place in NEVER_LOOKED_UP else pytest.raises(PdfFetchRefusedError, match="not passed in")


@pytest.fixture(scope="module")
def secret(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file of this machine which no paper may show."""
    path = tmp_path_factory.mktemp("secret") / "secret.png"
    path.write_bytes(make_png("lime"))
    return path


def test_the_watch_over_files_hears_an_opening(secret):
    opened_files.clear()
    secret.read_bytes()
    assert str(secret) in opened_files


@pytest.mark.parametrize("place", PLACES)
def test_no_place_in_a_document_reaches_a_server(place):
    with listening() as (port, knocks):
        with refusal(place):
            render_pdf(html=PLACES[place].format(f"http://127.0.0.1:{port}/a.png"))
        assert knocks == []


@pytest.mark.parametrize("place", PLACES)
def test_no_place_in_a_document_reaches_a_file(place, secret):
    opened_files.clear()
    with refusal(place):
        render_pdf(html=PLACES[place].format(secret.as_uri()))
    assert str(secret) not in opened_files


@pytest.mark.parametrize("place", SVG_PLACES)
def test_a_handed_svg_reaches_no_server(place):
    with listening() as (port, knocks):
        drawing = SVG.format(SVG_PLACES[place].format(f"http://127.0.0.1:{port}/a.svg"))
        with refusal(place):
            render_pdf(html='<img src="asset:drawing.svg">', assets={"drawing.svg": drawing.encode()})
        assert knocks == []


@pytest.mark.parametrize("place", SVG_PLACES)
def test_a_handed_svg_reaches_no_file(place, secret):
    opened_files.clear()
    drawing = SVG.format(SVG_PLACES[place].format(secret.as_uri()))
    with refusal(place):
        render_pdf(html='<img src="asset:drawing.svg">', assets={"drawing.svg": drawing.encode()})
    assert str(secret) not in opened_files


@pytest.mark.parametrize(
    "address",
    [
        "https://example.org/a.png",
        "ftp://example.org/a.png",
        "FILE:///etc/hostname",
        "data:image/png;base64,AAAA",
        "asset:missing.png",
        "ASSET:picture.png",
        "asset:../picture.png",
        "//example.org/a.png",
        "unknown:thing",
    ],
)
def test_every_other_scheme_and_name_is_refused(address):
    with pytest.raises(PdfError):
        render_pdf(html=f'<base href="https://example.org/"><img src="{address}">', assets={"picture.png": make_png()})


def test_stylesheets_that_were_handed_in_are_held_to_the_same():
    for css in ("@import 'http://example.org/a.css';", "p { background: url(file:///etc/hostname) }"):
        with pytest.raises(PdfFetchRefusedError):
            render_pdf(html="<p>text", stylesheets=[css])


def test_a_relative_address_opens_nothing(secret, monkeypatch):
    monkeypatch.chdir(secret.parent)
    opened_files.clear()
    render_pdf(html='<p>text<img src="secret.png" alt="gone">')
    assert not [path for path in opened_files if path.endswith("secret.png")]


def test_an_external_entity_stays_closed(secret):
    drawing = f'<!DOCTYPE svg [<!ENTITY x SYSTEM "{secret.as_uri()}">]>{SVG.format("<text>&x;</text>")}'
    pdf = render_pdf(html='<p>here<img src="asset:d.svg">', assets={"d.svg": drawing.encode()})
    assert text_of(pdf).strip() == "here"


def test_a_long_address_is_cut_in_the_sentence():
    with pytest.raises(PdfFetchRefusedError) as refusal:
        render_pdf(html=f'<img src="https://example.org/{"a" * 5000}">')
    assert len(str(refusal.value)) < 250


def test_text_style_and_pictures_that_are_handed_in_appear():
    pdf = render_pdf(
        html='<h1>Agreement “ä” ♯</h1><img src="asset:one.png"><p>end',
        stylesheets=["h1 { color: blue } @page { size: 100mm 100mm; margin: 5mm }"],
        assets={"one.png": make_png("red")},
    )
    assert "Agreement “ä” ♯" in text_of(pdf)
    assert (255, 0, 0) in set(picture_of(pdf).get_flattened_data())


def test_plain_links_are_kept_and_not_followed():
    with listening() as (port, knocks):
        assert b"/URI" in unpacked(render_pdf(html=f'<a href="http://127.0.0.1:{port}/">page</a>'))
        assert knocks == []


def test_markup_of_a_stranger_that_was_escaped_is_text():
    assert "<img src=x>" in text_of(render_pdf(html="<p>&lt;img src=x&gt;"))


PRINT_TWICE = """
import hashlib, time
from core.pdf import render_pdf
make = lambda: render_pdf(html="<title>T</title><h1>Same</h1><p><b>bold</b> <i>text</i>", is_tagged=True)
first = make(); time.sleep(1.2); assert make() == first
print(hashlib.sha256(first).hexdigest())
"""


def test_the_same_paper_is_the_same_bytes_at_any_moment_and_in_any_process():
    runs = [subprocess.run([sys.executable, "-c", PRINT_TWICE], capture_output=True, text=True) for _ in range(2)]  # noqa: PLW1510
    assert [run.returncode for run in runs] == [0, 0], runs[0].stderr
    assert runs[0].stdout == runs[1].stdout
    assert len(runs[0].stdout.strip()) == 64


def test_no_date_stands_in_the_file_unless_the_paper_says_one():
    assert b"CreationDate" not in unpacked(render_pdf(html="<p>text"))
    dated = render_pdf(html='<meta name="dcterms.created" content="2026-01-31T09:00:00Z"><p>text')
    with pypdfium2.PdfDocument(dated) as document:
        assert document.get_metadata_value("CreationDate").startswith("D:20260131090000")


def test_a_tagged_paper_carries_its_structure():
    html = '<html lang="en"><title>Title</title><h1>Title</h1>'
    assert b"/StructTreeRoot" in unpacked(render_pdf(html=html, is_tagged=True))
    assert b"/StructTreeRoot" not in unpacked(render_pdf(html=html))


def test_a_long_text_of_a_stranger_is_laid_out_whole():
    text = text_of(render_pdf(html=f"<p>{'x' * 10_000}<p>{'&#x202e;&lt;' * 500}"))
    assert (text.count("x"), text.count("<")) == (10_000, 500)


def test_a_text_that_names_the_screen_s_fonts_is_set_in_them():
    """Named by the renderer after the family and its weight."""
    css = 'h1 { font-family: "Hornbook Serif" } p { font-family: "Hornbook Sans" }'
    html = "<h1>B♭ Flute, Łukasz Nguyễn</h1><p>B♭ Łukasz Nguyễn <b>B♭ Łukasz Nguyễn</b></p>"
    pdf = unpacked(render_pdf(html=html, stylesheets=[css]))
    names = set(re.findall(rb"/BaseFont ?/[A-Z]{6}\+([\w-]+)", pdf))
    assert names == {b"Hornbook-Serif-Semi-Bold", b"Hornbook-Sans", b"Hornbook-Sans-Semi-Bold"}


def test_a_text_that_names_other_fonts_carries_none_of_ours(monkeypatch):
    monkeypatch.setattr("core.pdf.our_fonts", lambda: pytest.fail("loaded for nothing"))
    assert render_pdf(html="<p>Flute</p>").startswith(b"%PDF")
