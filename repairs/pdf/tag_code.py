"""The code of a tag on a paper that goes with the horn."""

from __future__ import annotations

from core.pdf import SCHEME
from core.qr import png_1bit

CODE = "tag.png"
MODULE_PX = 8


def tag_code(url: str) -> tuple[dict[str, bytes], str]:
    """Return the picture to hand to the renderer, and the address its HTML names it by; both empty without a tag."""
    if not url:
        return {}, ""
    return {CODE: png_1bit(url, module_px=MODULE_PX)}, f"{SCHEME}{CODE}"
