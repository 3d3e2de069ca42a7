"""Pictures that somebody has looked at, by a digest of what they draw.

A test fails when a picture changes. Look at it (`make dev`, the instrument's page), then approve all of them with
`.venv/bin/python -m tests.inventory.rules.picture.approved`.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import yaml

from inventory.catalog.load import FOLDER, load_catalog
from inventory.rules.picture.air_path import WIDTHS, form_of
from inventory.rules.picture.shapes import Figure

FILE = Path(__file__).with_suffix(".yaml")
KINDS = load_catalog(FOLDER).kinds


def drawn(code: str, *, width: float) -> Figure:
    return form_of(KINDS[code])(list(KINDS[code].parts), width=width)


def digest(code: str, *, width: float) -> str:
    figure = drawn(code, width=width)
    lines = [f"{one.style} {one.width} {one.d}" for one in figure.strokes]
    lines += [f"{part} {x:.0f} {y:.0f}" for part, (x, y) in figure.spots.items()]
    lines += [f"{box[0]:.0f} {box[1]:.0f} {box[2]:.0f} {box[3]:.0f}" for box in figure.keep]
    lines += [f"{one.text} {one.x:.0f} {one.y:.0f}" for one in figure.captions] + [f"{figure.height:.0f}"]
    return hashlib.sha256("\n".join(lines).encode()).hexdigest()[:12]


def digests(code: str) -> dict[str, str]:
    return {name: digest(code, width=width) for name, width in WIDTHS.items() if name != "small"}


def approved(code: str) -> dict[str, str]:
    return yaml.safe_load(FILE.read_text(encoding="utf-8")).get(code, {})


if __name__ == "__main__":
    FILE.write_text(yaml.safe_dump({code: digests(code) for code in KINDS}), encoding="utf-8")
