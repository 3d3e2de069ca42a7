"""A kind's silhouette, inline: it takes the color of the text beside it, on paper and with forced colors too."""

from __future__ import annotations

from django import template
from django.utils.safestring import SafeString

from inventory.catalog.schema import Kind
from inventory.rules.picture.silhouettes import silhouette_svg

register = template.Library()


@register.simple_tag
def silhouette(kind: Kind) -> SafeString:
    """Draw it beside the kind's name. A kind that the catalog lost has none."""
    return SafeString(silhouette_svg(kind.silhouette))
