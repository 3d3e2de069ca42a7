"""The template tag that draws a chart with its summary."""

from __future__ import annotations

from typing import Any, Literal

from django import template
from django.utils.safestring import SafeString

from core.charts import PAPER, Chart, Size, Tone, draw_chart

register = template.Library()
SIZES: dict[str, tuple[Size, ...]] = {"page": ("wide", "phone"), "paper": ("wide",)}


@register.inclusion_tag("core/chart.html")
def chart(drawn: Chart, size: Literal["page", "paper"] = "page") -> dict[str, Any]:
    """Draw a chart for a page, wide and for a phone, or for paper. The table with the same figures belongs beneath it."""
    return {
        "chart": drawn,
        "drawings": [(one, SafeString(draw_chart(drawn, size=one))) for one in SIZES[size]],
        "both": size == "page",
        "key": [key_of(series.name, series.tone) for series in drawn.series] if len(drawn.series) > 1 else [],
    }


def key_of(name: str, tone: Tone) -> dict[str, Any]:
    fill, stroke, dashes = PAPER[tone]
    return {
        "name": name,
        "tone": tone,
        "fill": fill,
        "stroke": stroke,
        "dashes": dashes,
        "is_hatched": tone is Tone.LIMIT,
    }
