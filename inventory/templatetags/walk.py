"""The faults of a part, rendered once for each role, faults of its own and language: a walk repeats the list at many parts."""

from __future__ import annotations

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import get_language

from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog, Part
from inventory.pages.inspecting import fault_choices

register = template.Library()
_rendered: dict[tuple[Catalog, str, tuple[str, ...], str | None], SafeString] = {}


@register.simple_tag
def faults_at(part: Part) -> SafeString:
    """Return the list of faults that may be found at a part."""
    key = catalog(), part.role, part.faults, get_language()
    if key not in _rendered:
        _rendered[key] = render_to_string("inventory/walk_faults.html", {"faults": fault_choices(part)})
    return _rendered[key]
