"""Uploaded photos, scans and signatures: checked by content, cleaned and shrunk, or refused with a sentence to show."""

from __future__ import annotations

import base64
import binascii
import hashlib
import io
import re
import warnings
from dataclasses import dataclass
from typing import BinaryIO, Literal

import pillow_heif
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

pillow_heif.register_heif_opener()

EMPTY = {
    "photo": gettext_lazy("The photo is empty. Choose it again."),
    "scan": gettext_lazy("The scan is empty. Choose it again."),
}
TOO_LARGE = {
    "photo": gettext_lazy("The photo is larger than %(megabytes)d MB. Send a smaller one; nothing else was lost."),
    "scan": gettext_lazy("The scan is larger than %(megabytes)d MB. Send a smaller one; nothing else was lost."),
}

MEGABYTE = 1024 * 1024
LARGEST_PHOTO = 50 * MEGABYTE
LARGEST_SCAN = 25 * MEGABYTE
LARGEST_SIGNATURE = MEGABYTE
MOST_PIXELS = 64_000_000  # above the photos phones send; decoded at most 256 MB
MOST_SIGNATURE_PIXELS = 4_000_000
LONG_SIDE = 1600
THUMBNAIL_SIDE = 320
JPEG_QUALITY = 82
LEAST_INK = 0.0005  # share of dark pixels; anything less is a slip of the finger

FORMATS = ("JPEG", "PNG", "WEBP", "HEIF")
SIGNATURE_ADDRESS = re.compile(r"data:image/png;base64,([A-Za-z0-9+/]+={0,2})")
HEIF_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1")
PICTURE_HINT = gettext_lazy("Use a photo (JPEG, PNG, WebP or HEIC).")


class PhotoRefusedError(ValueError):
    """The file is refused; the message is the sentence to show."""


@dataclass(frozen=True, slots=True)
class CleanPhoto:
    """A JPEG without any metadata, upright, at most LONG_SIDE pixels long; ``sha256`` is the hex digest of ``jpeg``."""

    jpeg: bytes
    width: int
    height: int
    sha256: str
    thumbnail: bytes


@dataclass(frozen=True, slots=True)
class CleanScan:
    """A signed paper to keep: a PDF unchanged, a cleaned JPEG, or the text that was signed without paper."""

    content: bytes
    kind: Literal["application/pdf", "image/jpeg", "text/html"]
    sha256: str

    @property
    def extension(self) -> str:
        """Return the file extension for the content."""
        return {"application/pdf": ".pdf", "image/jpeg": ".jpg", "text/html": ".html"}[self.kind]


def clean_photo(data: BinaryIO | bytes, *, max_bytes: int = LARGEST_PHOTO, max_pixels: int = MOST_PIXELS) -> CleanPhoto:
    """Return the picture upright, shrunk and stripped of metadata (place, time, camera).

    The content decides, not the name. Raises PhotoRefusedError if it is not a picture, too large, damaged, or a small
    file that unpacks to a huge picture; the size is read from the header before any pixel is decoded.
    """
    content = _read(data, max_bytes=max_bytes, thing="photo")
    picture = _upright(content, max_pixels=max_pixels)
    jpeg = _jpeg(picture, quality=JPEG_QUALITY)
    width, height = picture.size
    picture.thumbnail((THUMBNAIL_SIDE, THUMBNAIL_SIDE), Image.Resampling.LANCZOS)
    return CleanPhoto(jpeg, width, height, _digest(jpeg), _jpeg(picture, quality=75))


def clean_scan(data: BinaryIO | bytes, *, max_bytes: int = LARGEST_SCAN) -> CleanScan:
    """Return a scan or photo of a signed paper: a PDF byte for byte, a picture cleaned as a photo is.

    A PDF is checked by its first and last bytes only and is not opened here. Serve it as a download.
    """
    content = _read(data, max_bytes=max_bytes, thing="scan")
    if not content.startswith(b"%PDF-"):
        photo = clean_photo(content)
        return CleanScan(photo.jpeg, "image/jpeg", photo.sha256)
    if b"%%EOF" not in content[-2048:]:
        raise PhotoRefusedError(_("This PDF is incomplete. Scan or send it again."))
    return CleanScan(content, "application/pdf", _digest(content))


def clean_signature(data_url: str) -> bytes:
    """Return the signature drawn on the screen as a gray PNG on white, from its ``data:image/png;base64,`` address."""
    if not data_url:
        raise PhotoRefusedError(_("There is no signature yet. Sign in the box, then save."))
    if len(data_url) > LARGEST_SIGNATURE:
        raise PhotoRefusedError(_("The signature is too large. Clear the box and sign again."))
    unreadable = PhotoRefusedError(_("The signature could not be read. Clear the box and sign again."))
    match = SIGNATURE_ADDRESS.fullmatch(data_url)
    if match is None:
        raise unreadable
    try:
        content = base64.b64decode(match[1], validate=True)
        picture = _decoded(content, formats=("PNG",), max_pixels=MOST_SIGNATURE_PIXELS)
    except (binascii.Error, PhotoRefusedError) as error:
        raise unreadable from error
    gray = _on_white(_smooth(picture)).convert("L")
    dark = sum(gray.histogram()[:128])
    if dark < max(LEAST_INK * gray.width * gray.height, 20):
        raise PhotoRefusedError(_("The signature box is empty. Sign in the box, then save."))
    out = io.BytesIO()
    gray.save(out, "PNG", optimize=True)
    return out.getvalue()


def _read(data: BinaryIO | bytes, *, max_bytes: int, thing: str) -> bytes:
    """Return the content; reads at most one byte more than allowed."""
    content = data[: max_bytes + 1] if isinstance(data, bytes) else data.read(max_bytes + 1)
    if not content:
        raise PhotoRefusedError(str(EMPTY[thing]))
    if len(content) > max_bytes:
        raise PhotoRefusedError(str(TOO_LARGE[thing] % {"megabytes": max_bytes // MEGABYTE}))
    return content


def _upright(content: bytes, *, max_pixels: int) -> Image.Image:
    if content.startswith(b"%PDF-"):
        raise PhotoRefusedError(f"{_('This is a PDF, not a photo, whatever its name says.')} {PICTURE_HINT}")
    picture = _decoded(content, formats=FORMATS, max_pixels=max_pixels)
    # Shrink first: rotating and flattening copy the picture, and a small copy is cheap.
    small = _smooth(picture)
    small.thumbnail((LONG_SIDE, LONG_SIDE), Image.Resampling.LANCZOS)
    return _on_white(ImageOps.exif_transpose(small))


def _decoded(content: bytes, *, formats: tuple[str, ...], max_pixels: int) -> Image.Image:
    """Check the size, then return the first frame, decoded."""
    damaged = PhotoRefusedError(_("The picture is damaged or incomplete. Take or send it again."))
    # Importing the PDF renderer anywhere makes the whole process accept truncated pictures.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with warnings.catch_warnings():
            # The library warns at its own, lower limit; ours is checked below, before decoding.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            picture = Image.open(io.BytesIO(content), formats=formats)
        if picture.width * picture.height > max_pixels:
            raise PhotoRefusedError(_too_many_pixels(max_pixels))
        # A JPEG can be decoded at an eighth of its size, so that a huge photo needs little memory.
        picture.draft(None, (2 * LONG_SIDE, 2 * LONG_SIDE))
        picture.load()
    except Image.DecompressionBombError as error:
        raise PhotoRefusedError(_too_many_pixels(max_pixels)) from error
    except UnidentifiedImageError as error:
        if _looks_like_picture(content):
            raise damaged from error
        raise PhotoRefusedError(f"{_('This file is not a picture we can read.')} {PICTURE_HINT}") from error
    except PhotoRefusedError:
        raise
    except (OSError, ValueError, SyntaxError, EOFError, RuntimeError, MemoryError, IndexError) as error:
        raise damaged from error
    return picture


def _looks_like_picture(content: bytes) -> bool:
    return (
        content.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n"))
        or (content[:4] == b"RIFF" and content[8:12] == b"WEBP")
        or (content[4:8] == b"ftyp" and content[8:12] in HEIF_BRANDS)
    )


def _too_many_pixels(max_pixels: int) -> str:
    too_many = _("The picture has more than %(millions)d million pixels. Send a smaller one.")
    return too_many % {"millions": max_pixels // 1_000_000}


def _smooth(picture: Image.Image) -> Image.Image:
    """Return the picture in a mode that shrinks smoothly: no palette, eight bits per color."""
    if picture.mode.startswith(("I", "F")):
        return picture.convert("I").point(lambda value: value / 256).convert("L")  # a plain conversion clips to white
    if picture.mode in {"P", "PA", "1"}:
        return picture.convert("RGBA" if "transparency" in picture.info or picture.mode == "PA" else "RGB")
    return picture


def _on_white(picture: Image.Image) -> Image.Image:
    """Return the picture in plain RGB, transparent parts white."""
    if "A" in picture.mode or "a" in picture.mode or "transparency" in picture.info:
        clear = picture.convert("RGBA")
        white = Image.new("RGBA", clear.size, "white")
        white.alpha_composite(clear)
        picture = white
    plain = picture.convert("RGB")
    plain.info = {}  # drop profiles, comments and other metadata
    return plain


def _jpeg(picture: Image.Image, *, quality: int) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=quality, optimize=True, progressive=True)
    return out.getvalue()


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
