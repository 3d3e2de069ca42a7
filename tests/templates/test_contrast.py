"""Colors are read from the style sheet and measured by the formula of WCAG 2.2 (relative luminance, contrast ratio)."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings

CSS = Path(settings.BASE_DIR) / "static" / "css"
TEXT, GRAPHIC = 4.5, 3.0  # success criteria 1.4.3 and 1.4.11
SURFACES = ("paper", "sheet")
ON_SURFACE = ("ink", "quiet", "brass", "plays", "limit", "stop")
PAIRS = [(text, surface) for text in ON_SURFACE for surface in SURFACES]
PAIRS += [("ink", soft) for soft in ("brass-soft", "plays-soft", "limit-soft", "stop-soft", "none-soft")]
PAIRS += [("plays", "plays-soft"), ("limit", "limit-soft"), ("stop", "stop-soft"), ("brass", "brass-soft")]
PAIRS += [("quiet", "none-soft"), ("quiet", "brass-soft")]
PAIRS += [("on-ink", "ink"), ("on-brass", "brass"), ("on-tone", "stop"), ("on-tone", "limit")]


def sets_of_tokens() -> dict[str, dict[str, str]]:
    light, dark = re.findall(r":root \{(.*?)\n\s*\}", (CSS / "tokens.css").read_text(encoding="utf-8"), re.DOTALL)
    colors = re.compile(r"--([a-z-]+): (#[0-9a-f]{6})")
    first = dict(colors.findall(light))
    return {"light": first, "dark": first | dict(colors.findall(dark))}


def luminance(color: str) -> float:
    channels = (int(color[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(a: str, b: str) -> float:
    low, high = sorted((luminance(a), luminance(b)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_the_published_extremes():
    """WCAG 2.2: black on white is 21 to 1, a color on itself 1 to 1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == 1


@pytest.mark.parametrize("surroundings", ["light", "dark"])
@pytest.mark.parametrize(("text", "surface"), PAIRS, ids="-on-".join)
def test_text_can_be_read(surroundings, text, surface):
    tokens = sets_of_tokens()[surroundings]
    assert contrast(tokens[text], tokens[surface]) >= TEXT


@pytest.mark.parametrize("surroundings", ["light", "dark"])
@pytest.mark.parametrize("surface", SURFACES)
def test_the_edges_of_fields_can_be_seen(surroundings, surface):
    tokens = sets_of_tokens()[surroundings]
    assert contrast(tokens["line-strong"], tokens[surface]) >= GRAPHIC


def test_every_color_named_in_the_style_sheets_is_a_token():
    """A color outside tokens.css would not follow the dark set; the paper of a signature and of print is the exception."""
    loose = {
        f"{path.name}: {color}"
        for path in CSS.glob("*.css")
        if path.name not in {"tokens.css", "print.css"}
        for color in re.findall(
            r"#[0-9a-fA-F]{3,8}\b", re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        )
    }
    assert loose == {"components.css: #fff"}


def test_every_token_used_is_defined():
    defined = set(re.findall(r"--([a-z0-9-]+):", (CSS / "tokens.css").read_text(encoding="utf-8")))
    used = {
        name
        for path in CSS.glob("*.css")
        for name in re.findall(r"var\(--([a-z0-9-]+)", path.read_text(encoding="utf-8"))
    }
    assert used <= defined
