"""The faults of a part, rendered once for each role: a walk shows the same list at many parts, and it never changes."""

from __future__ import annotations

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog, Part
from inventory.selectors.inspecting import fault_choices

register = template.Library()
_rendered: dict[tuple[Catalog, str], SafeString] = {}


@register.simple_tag
def faults_at(part: Part) -> SafeString:
    """Return the list of faults that may be found at a part."""
    key = catalog(), part.role
    if key not in _rendered:
        _rendered[key] = render_to_string("inventory/walk_faults.html", {"faults": fault_choices(part)})
    return _rendered[key]
