"""Photos, scans and signatures from outside: what is taken, what is stripped, what is refused and how."""

from __future__ import annotations

import base64
import contextlib
import hashlib
import io
import random
import struct
import tracemalloc
import zlib

import numpy as np
import pillow_heif
import pytest
from PIL import Image, ImageDraw, ImageFile

from core.photos import LONG_SIDE, THUMBNAIL_SIDE, PhotoRefusedError, clean_photo, clean_scan, clean_signature

GPS = 0x8825
ORIENTATION = 0x0112
MAKER = 0x010F


def make_picture(*, width: int = 400, height: int = 300) -> Image.Image:
    """Return a picture with a red top left quarter, so that turning shows."""
    picture = Image.new("RGB", (width, height), "blue")
    picture.paste("red", (0, 0, width // 2, height // 2))
    return picture


def make_file(picture: Image.Image, form: str, **options: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, form, **options)
    return out.getvalue()


def make_exif(*, orientation: int = 1) -> Image.Exif:
    exif = Image.Exif()
    exif[MAKER] = "CAMERA-OF-SOMEBODY"
    exif[ORIENTATION] = orientation
    exif.get_ifd(GPS)[1] = "N"
    exif.get_ifd(GPS)[2] = (41.0, 52.0, 55.0)
    return exif


def make_png_header(*, width: int, height: int) -> bytes:
    """Return a PNG that claims a size and holds a few bytes: what a decompression bomb looks like from outside."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    rows = zlib.compress(b"\0" * 100_000, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def opened(content: bytes) -> Image.Image:
    picture = Image.open(io.BytesIO(content))
    picture.load()
    return picture


def make_signature(*, stroke: bool = True, clear: bool = True) -> str:
    picture = Image.new("RGBA", (600, 200), (255, 255, 255, 0) if clear else "white")
    if stroke:
        ImageDraw.Draw(picture).line([(40, 150), (150, 40), (260, 160), (420, 60)], fill=(20, 20, 60, 255), width=4)
    return "data:image/png;base64," + base64.b64encode(make_file(picture, "PNG")).decode()


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_each_kind_of_phone_picture_becomes_a_jpeg(form: str) -> None:
    photo = clean_photo(io.BytesIO(make_file(make_picture(), form)))
    picture = opened(photo.jpeg)
    assert (picture.format, picture.size) == ("JPEG", (400, 300))
    assert (photo.width, photo.height) == (400, 300)
    red, _, blue = picture.getpixel((50, 50))
    assert red > 200
    assert blue < 60
    assert photo.sha256 == hashlib.sha256(photo.jpeg).hexdigest()


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_place_and_camera_are_stripped_from_photo_and_thumbnail(form: str) -> None:
    content = make_file(make_picture(), form, exif=make_exif())
    assert b"CAMERA-OF-SOMEBODY" in content
    assert opened(content).getexif().get_ifd(GPS)
    photo = clean_photo(content)
    for kept in (photo.jpeg, photo.thumbnail):
        assert b"CAMERA-OF-SOMEBODY" not in kept
        assert b"Exif" not in kept
        assert not dict(opened(kept).getexif())


def test_comments_and_profiles_are_stripped_too() -> None:
    content = make_file(make_picture(), "JPEG", comment=b"SECRET-COMMENT", icc_profile=b"SECRET-PROFILE" * 10)
    assert b"SECRET" in content
    assert b"SECRET" not in clean_photo(content).jpeg


def test_a_heic_photo_loses_its_place() -> None:
    heif = pillow_heif.from_pillow(make_picture())
    out = io.BytesIO()
    heif.save(out, exif=make_exif().tobytes())
    assert b"CAMERA-OF-SOMEBODY" in out.getvalue()
    assert b"CAMERA-OF-SOMEBODY" not in clean_photo(out.getvalue()).jpeg


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("scale", [1, 8], ids=["small", "shrunk"])
def test_a_picture_taken_sideways_is_turned_upright(form: str, scale: int) -> None:
    # TIFF/EXIF orientation 6: the camera was turned; shown right when rotated 90 degrees clockwise.
    picture = make_picture(width=400 * scale, height=300 * scale)
    photo = clean_photo(make_file(picture, form, exif=make_exif(orientation=6), quality=95))
    assert (photo.width, photo.height) == ((300, 400) if scale == 1 else (1200, 1600))
    red, _, blue = opened(photo.jpeg).getpixel((photo.width - 30, 30))
    assert red > 200
    assert blue < 60


def test_a_large_photo_is_shrunk_and_gets_a_thumbnail() -> None:
    photo = clean_photo(make_file(make_picture(width=4000, height=3000), "JPEG"))
    assert (photo.width, photo.height) == (LONG_SIDE, 1200) == opened(photo.jpeg).size
    assert opened(photo.thumbnail).size == (THUMBNAIL_SIDE, 240)


def test_transparent_parts_become_white_not_black() -> None:
    photo = clean_photo(make_file(Image.new("RGBA", (50, 50), (0, 0, 0, 0)), "PNG"))
    assert min(opened(photo.jpeg).getpixel((25, 25))) > 250


@pytest.mark.parametrize("mode", ["P", "1", "L", "LA"])
def test_a_drawing_in_few_colors_is_taken(mode: str) -> None:
    photo = clean_photo(make_file(Image.new("L", (2000, 100), 255).convert(mode), "PNG"))
    assert (photo.width, min(opened(photo.jpeg).getpixel((25, 25)))) == (LONG_SIDE, 255)


def test_a_palette_with_a_clear_color_becomes_white_there() -> None:
    picture = Image.new("P", (50, 50), 0)
    picture.putpalette([0, 0, 0, 255, 0, 0])
    assert min(opened(clean_photo(make_file(picture, "PNG", transparency=0)).jpeg).getpixel((25, 25))) > 250


def test_a_picture_in_print_colors_or_sixteen_bit_gray_is_taken() -> None:
    assert clean_photo(make_file(Image.new("CMYK", (50, 50)), "JPEG")).width == 50
    gray = clean_photo(make_file(Image.fromarray(np.full((50, 50), 0x8000, dtype=np.uint16)), "PNG"))
    assert opened(gray.jpeg).getpixel((25, 25)) == pytest.approx((128, 128, 128), abs=3)


def test_a_photo_of_forty_megabytes_is_taken_and_shrunk() -> None:
    noise = np.random.default_rng(1).integers(0, 256, size=(4300, 5600, 3), dtype=np.uint8)
    content = make_file(Image.fromarray(noise), "JPEG", quality=99)
    assert len(content) >= 40_000_000
    photo = clean_photo(content)
    assert (photo.width, photo.height) == (LONG_SIDE, 1229)
    assert len(photo.jpeg) < 3_000_000


def test_a_photo_over_the_limit_is_refused_without_reading_it_all() -> None:
    stream = io.BytesIO(b"\xff\xd8\xff" + b"\0" * 3_000_000)
    with pytest.raises(PhotoRefusedError, match="larger than 1 MB"):
        clean_photo(stream, max_bytes=1024 * 1024)
    assert stream.tell() == 1024 * 1024 + 1


@pytest.mark.parametrize(
    ("width", "height"), [(12_000, 12_000), (60_000, 60_000)], ids=["over-our-limit", "over-the-library's"]
)
def test_a_decompression_bomb_is_refused_before_it_unpacks(width: int, height: int) -> None:
    bomb = make_png_header(width=width, height=height)
    assert len(bomb) < 1000
    tracemalloc.start()
    with pytest.raises(PhotoRefusedError, match="more than 64 million pixels"):
        clean_photo(bomb)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 2_000_000


def test_a_lower_limit_of_pixels_can_be_asked_for() -> None:
    with pytest.raises(PhotoRefusedError, match="million pixels"):
        clean_photo(make_file(make_picture(width=1200, height=1000), "PNG"), max_pixels=1_000_000)


def test_a_pdf_under_a_photo_name_is_refused_by_its_content() -> None:
    with pytest.raises(PhotoRefusedError, match="This is a PDF, not a photo"):
        clean_photo(b"%PDF-1.7\n...\n%%EOF\n")


@pytest.mark.parametrize(
    "content",
    [
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"GIF89a" + b"\0" * 100,
        b"PK\x03\x04" + b"\0" * 100,
        b"just words",
        b"\x89PN",
    ],
    ids=["svg", "gif", "zip", "text", "three-bytes"],
)
def test_other_files_are_refused_with_what_to_use_instead(content: bytes) -> None:
    with pytest.raises(PhotoRefusedError, match=r"not a picture we can read\. Use a photo"):
        clean_photo(content)


def test_an_empty_file_is_refused() -> None:
    with pytest.raises(PhotoRefusedError, match="is empty"):
        clean_photo(io.BytesIO())


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "HEIF"])
@pytest.mark.parametrize("share", [0.02, 0.1, 0.5, 0.9])
def test_a_cut_off_picture_is_refused(form: str, share: float, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)  # as another library leaves it
    noise = np.random.default_rng(2).integers(0, 256, size=(200, 200, 3), dtype=np.uint8)
    content = make_file(Image.fromarray(noise), form)
    with pytest.raises(PhotoRefusedError, match="damaged or incomplete"):
        clean_photo(content[: int(len(content) * share)])


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_flipped_bytes_never_raise_anything_but_a_refusal(form: str) -> None:
    content = make_file(make_picture(width=64, height=48), form)
    chance = random.Random(f"flip {form}")
    for _ in range(150):
        spoiled = bytearray(content)
        for _ in range(chance.randint(1, 8)):
            spoiled[chance.randrange(len(spoiled))] = chance.randrange(256)
        with contextlib.suppress(PhotoRefusedError):
            clean_photo(bytes(spoiled))


def test_a_scanned_pdf_is_kept_byte_for_byte() -> None:
    content = b"%PDF-1.7\n1 0 obj\nendobj\ntrailer\n%%EOF\n"
    scan = clean_scan(io.BytesIO(content))
    assert (scan.content, scan.kind, scan.extension) == (content, "application/pdf", ".pdf")
    assert scan.sha256 == hashlib.sha256(content).hexdigest()


def test_a_photographed_paper_is_cleaned_like_a_photo() -> None:
    scan = clean_scan(make_file(make_picture(), "JPEG", exif=make_exif()))
    assert (scan.kind, scan.extension) == ("image/jpeg", ".jpg")
    assert b"CAMERA-OF-SOMEBODY" not in scan.content


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"%PDF-1.7\nand then the line dropped", "incomplete"),
        (b"", "empty"),
        (b"MZ\x90\0 program", "not a picture"),
        (b"%PDF-" + b"0" * 3_000_000 + b"%%EOF", "larger than 2 MB"),
    ],
    ids=["cut-off", "empty", "program", "too-large"],
)
def test_other_scans_are_refused(content: bytes, sentence: str) -> None:
    with pytest.raises(PhotoRefusedError, match=sentence):
        clean_scan(content, max_bytes=2 * 1024 * 1024)


@pytest.mark.parametrize("clear", [True, False], ids=["on-nothing", "on-white"])
def test_a_signature_becomes_dark_ink_on_white(clear: bool) -> None:
    picture = opened(clean_signature(make_signature(clear=clear)))
    assert (picture.format, picture.mode, picture.size) == ("PNG", "L", (600, 200))
    assert picture.getpixel((0, 0)) == 255
    assert picture.getpixel((150, 42)) < 60


@pytest.mark.parametrize("clear", [True, False], ids=["nothing-drawn", "white"])
def test_an_empty_signature_box_is_refused(clear: bool) -> None:
    with pytest.raises(PhotoRefusedError, match="box is empty"):
        clean_signature(make_signature(stroke=False, clear=clear))


def test_a_dot_is_no_signature() -> None:
    picture = Image.new("L", (600, 200), 255)
    picture.paste(0, (300, 100, 304, 104))
    with pytest.raises(PhotoRefusedError, match="box is empty"):
        clean_signature("data:image/png;base64," + base64.b64encode(make_file(picture, "PNG")).decode())


@pytest.mark.parametrize(
    ("address", "sentence"),
    [
        ("", "no signature yet"),
        ("data:image/svg+xml;base64,PHN2Zy8+", "could not be read"),
        ("data:image/png;base64,", "could not be read"),
        ("data:image/png;base64,AAA", "could not be read"),
        ("data:image/png;base64,AAAA", "could not be read"),
        ("data:image/png;base64,AA AA", "could not be read"),
        ("https://example.org/signature.png", "could not be read"),
        ("data:image/png;base64," + base64.b64encode(make_png_header(width=9000, height=9000)).decode(), "not be read"),
        ("data:image/png;base64," + "A" * 1_100_000, "too large"),
        ("data:image/png;base64," + base64.b64encode(make_file(make_picture(), "JPEG")).decode(), "could not be read"),
    ],
    ids=["nothing", "svg", "no-data", "bad-padding", "no-png", "space", "address", "bomb", "too-long", "jpeg"],
)
def test_other_signatures_are_refused(address: str, sentence: str) -> None:
    with pytest.raises(PhotoRefusedError, match=sentence):
        clean_signature(address)
