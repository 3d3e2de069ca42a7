"""Pictures for tests."""

from __future__ import annotations

import io

from PIL import Image


def jpeg(*, size: tuple[int, int] = (64, 48), color: str = "peru") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, color).save(out, "JPEG")
    return out.getvalue()
