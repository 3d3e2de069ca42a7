"""Small drawings of one color by which a player knows a kind: ``fixtures/pictures/silhouettes``, an SVG file each.

They are 96 by 96, drawn and filled with ``currentColor``, and readable at 32 pixels.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[3] / "fixtures" / "pictures" / "silhouettes"
NAMESPACE = ' xmlns="http://www.w3.org/2000/svg"'


@cache
def silhouettes() -> frozenset[str]:
    """Return the names there are."""
    return frozenset(path.stem for path in FOLDER.glob("*.svg"))


@cache
def silhouette_file(name: str) -> str:
    """Return one as a file of its own; "" where there is none of that name."""
    if name not in silhouettes():
        return ""
    return re.sub(r"\n\s*", "", (FOLDER / f"{name}.svg").read_text(encoding="utf-8"))


@cache
def silhouette_svg(name: str) -> str:
    """Return one as it stands in a page, where the name of the kind is beside it."""
    return silhouette_file(name).replace(NAMESPACE, ' class="silhouette" aria-hidden="true" focusable="false"', 1)
