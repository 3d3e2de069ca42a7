"""QR codes of upper-case addresses, small and robust: modules, one-bit PNG for print, SVG for screens."""

from __future__ import annotations

import io
from functools import lru_cache
from itertools import groupby

import numpy as np
import numpy.typing as npt
import qrcode
from PIL import Image, ImageOps
from qrcode.constants import ERROR_CORRECT_H, ERROR_CORRECT_L, ERROR_CORRECT_M, ERROR_CORRECT_Q
from qrcode.exceptions import DataOverflowError
from qrcode.util import MODE_ALPHA_NUM, QRData

# ISO/IEC 18004, alphanumeric mode: 45 characters, 5.5 bits each instead of the 8 of a byte.
ALPHANUMERIC = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")
QUIET_ZONE = 4  # modules on each side, ISO/IEC 18004
LEVELS = {"L": ERROR_CORRECT_L, "M": ERROR_CORRECT_M, "Q": ERROR_CORRECT_Q, "H": ERROR_CORRECT_H}

MASKS = 8

Matrix = tuple[tuple[bool, ...], ...]
Bits = npt.NDArray[np.bool_]


class QrTextError(ValueError):
    """The text cannot become a QR code; the message says why in a sentence."""


def matrix(text: str, *, error: str = "Q", min_version: int = 1) -> Matrix:
    """Return the modules row by row, True for dark, without quiet zone: the smallest version that fits.

    ``min_version`` asks for a larger symbol than needed: more correction blocks for the same text.
    Raises QrTextError for an empty text, one outside the alphanumeric set (lower case!), or one too long.
    """
    if not text:
        raise QrTextError("There is no text to put into the QR code.")
    if strange := sorted(set(text) - ALPHANUMERIC):
        listed = " ".join(repr(character) for character in strange[:5])
        raise QrTextError(
            f"A tag's QR code takes capitals, digits and the characters space $ % * + - . / : but the text has {listed}."
        )
    try:
        plain = _symbol(text, error=error, version=min_version, mask=0)
    except (DataOverflowError, ValueError) as overflow:  # the package raises either, by the place it notices
        raise QrTextError(f"The text of {len(text)} characters is too long for a QR code.") from overflow
    candidates = plain ^ _mask_changes(error=error, version=(len(plain) - 17) // 4)
    best = candidates[int(np.argmin(penalties(candidates)))]
    return tuple(tuple(row) for row in best.tolist())


def _symbol(text: str, *, error: str, version: int, mask: int) -> Bits:
    code = qrcode.QRCode(version=version, error_correction=LEVELS[error], border=0, mask_pattern=mask)
    code.add_data(QRData(text, mode=MODE_ALPHA_NUM))
    code.make(fit=True)
    return np.array(code.get_matrix(), dtype=np.bool_)


@lru_cache(maxsize=64)
def _mask_changes(*, error: str, version: int) -> Bits:
    """Return for each mask the modules that differ from mask 0.

    They are the same for every text of one version and level, so a text is laid out once, not eight times: choosing
    the mask is most of the work of a sheet of labels.
    """
    symbols = [_symbol("0", error=error, version=version, mask=mask) for mask in range(MASKS)]
    return np.stack([symbol ^ symbols[0] for symbol in symbols])


def penalties(symbols: Bits) -> npt.NDArray[np.int64]:
    """Return the penalty of each of several symbols by the four rules of ISO/IEC 18004, lower is easier to read."""
    total = np.zeros(len(symbols), dtype=np.int64)
    for lines in (symbols, symbols.transpose(0, 2, 1)):
        same = lines[:, :, 1:] == lines[:, :, :-1]
        five = same[:, :, :-3] & same[:, :, 1:-2] & same[:, :, 2:-1] & same[:, :, 3:]
        # A run of n >= 5 alike costs n - 2: it holds n - 4 windows of five, and starts once.
        starts = five.copy()
        starts[:, :, 1:] &= ~five[:, :, :-1]
        total += five.sum(axis=(1, 2)) + 2 * starts.sum(axis=(1, 2))
        # The finder's 1:1:3:1:1 with four light modules on one side.
        width = lines.shape[2] - 10
        codes = np.zeros((*lines.shape[:2], width), dtype=np.int64)
        for at in range(11):
            codes |= lines[:, :, at : at + width].astype(np.int64) << at
        total += 40 * ((codes == 0b00001011101) | (codes == 0b10111010000)).sum(axis=(1, 2))
    alike = (
        (symbols[:, 1:, 1:] == symbols[:, :-1, :-1])
        & (symbols[:, 1:, :-1] == symbols[:, :-1, :-1])
        & (symbols[:, :-1, 1:] == symbols[:, :-1, :-1])
    )
    dark_percent = symbols.mean(axis=(1, 2)) * 100
    total += 3 * alike.sum(axis=(1, 2))
    total += 10 * (np.abs(dark_percent - 50) // 5).astype(np.int64)
    return total


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


def svg(text: str, *, label: str) -> str:
    """Return the text's QR code as one SVG element, one unit to a module, that scales with the page.

    ``label`` is what a screen reader says; it is escaped here.
    """
    modules = matrix(text)
    side = len(modules) + 2 * QUIET_ZONE
    runs: list[str] = []
    for y, row in enumerate(modules):
        x = QUIET_ZONE
        for is_dark, group in groupby(row):
            length = len(list(group))
            if is_dark:
                runs.append(f"M{x} {y + QUIET_ZONE}h{length}v1h-{length}z")
            x += length
    spoken = label.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" role="img" aria-label="{spoken}"'
        f' shape-rendering="crispEdges"><path fill="#fff" d="M0 0h{side}v{side}H0z"/>'
        f'<path fill="#000" d="{"".join(runs)}"/></svg>'
    )
