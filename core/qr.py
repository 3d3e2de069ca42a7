"""QR codes of upper-case addresses: modules, one-bit PNG for print, SVG for screens; and read from a photo."""

from __future__ import annotations

import io
from html import escape
from itertools import groupby

import qrcode
import zxingcpp
from django.utils.translation import gettext as _
from PIL import Image, ImageOps
from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_L, ERROR_CORRECT_M, ERROR_CORRECT_Q
from qrcode.exceptions import DataOverflowError
from qrcode.util import MODE_ALPHA_NUM, QRData

# ISO/IEC 18004, alphanumeric mode: 45 characters, 5.5 bits each instead of the 8 of a byte.
ALPHANUMERIC = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")
QUIET_ZONE = 4  # modules on each side, ISO/IEC 18004
LEVELS = {"L": ERROR_CORRECT_L, "M": ERROR_CORRECT_M, "Q": ERROR_CORRECT_Q, "H": ERROR_CORRECT_H}

# Mask 000 of ISO/IEC 18004. Every reader reads every mask, and scoring all eight takes nine times as long. On addresses
# like those on tags, its mean penalty is the lowest or within a fifth of it.
CHECKERBOARD = 0

Matrix = tuple[tuple[bool, ...], ...]


class QrTextError(ValueError):
    """The text cannot become a QR code; the message says why."""


def matrix(text: str, *, error: str = "Q", min_version: int = 1) -> Matrix:
    """Return the modules row by row, True for dark, without quiet zone: the smallest version that fits.

    ``min_version`` asks for a larger symbol than needed: more correction blocks for the same text.
    Raises QrTextError for an empty text, one outside the alphanumeric set (lower case!), or one too long.
    """
    if not text:
        raise QrTextError(_("There is no text to put in the QR code."))
    if strange := sorted(set(text) - ALPHANUMERIC):
        listed = " ".join(repr(character) for character in strange[:5])
        raise QrTextError(
            _("A tag's QR code takes capitals, digits, spaces and $ %% * + - . / : but the text has %(found)s.")
            % {"found": listed}
        )
    code = qrcode.QRCode(version=min_version, error_correction=LEVELS[error], border=0, mask_pattern=CHECKERBOARD)
    try:
        code.add_data(QRData(text, mode=MODE_ALPHA_NUM))
        code.make(fit=True)
    except (DataOverflowError, ValueError) as overflow:  # the package raises either one
        too_long = _("The text has %(count)d characters, which is too long for a QR code.")
        raise QrTextError(too_long % {"count": len(text)}) from overflow
    return tuple(tuple(bool(module) for module in row) for row in code.get_matrix())


def version_of(modules: Matrix) -> int:
    """Return the version of a symbol from its side, 4 x version + 17 modules."""
    return (len(modules) - 17) // 4


def png_of(modules: Matrix, *, module_px: int) -> bytes:
    """Return the symbol with its quiet zone as a one-bit black and white PNG, ``module_px`` pixels to a module."""
    symbol = Image.new("1", (len(modules), len(modules)))
    symbol.putdata([0 if is_dark else 1 for row in modules for is_dark in row])
    picture = ImageOps.expand(symbol, border=QUIET_ZONE, fill=1)
    large = picture.resize((picture.width * module_px, picture.height * module_px), Image.Resampling.NEAREST)
    out = io.BytesIO()
    large.save(out, "PNG", optimize=False)
    return out.getvalue()


def png_1bit(text: str, *, module_px: int) -> bytes:
    """Return the text's QR code (error correction Q) as a one-bit PNG."""
    return png_of(matrix(text), module_px=module_px)


def texts_in(picture: bytes) -> set[str]:
    """Return the texts of all QR codes in a cleaned photo or scan; none in what is no picture."""
    if picture.startswith(b"%PDF-"):
        return set()
    with Image.open(io.BytesIO(picture), formats=("JPEG", "PNG")) as opened:
        gray = opened.convert("L")
    found = zxingcpp.read_barcodes(gray, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode))
    return {one.text for one in found if one.valid}


def svg(text: str, *, label: str) -> str:
    """Return the text's QR code as one SVG element, one unit to a module, that scales with the page.

    ``label`` is what a screen reader says; it is escaped here.
    """
    modules = matrix(text)
    side = len(modules) + 2 * QUIET_ZONE
    runs: list[str] = []
    for y, row in enumerate(modules, start=QUIET_ZONE):
        x = QUIET_ZONE
        for is_dark, group in groupby(row):
            length = len(list(group))
            if is_dark:
                runs.append(f"M{x} {y}h{length}v1h-{length}z")
            x += length
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" role="img" aria-label="{escape(label)}"'
        f' shape-rendering="crispEdges"><path fill="#fff" d="M0 0h{side}v{side}H0z"/>'
        f'<path fill="#000" d="{"".join(runs)}"/></svg>'
    )
