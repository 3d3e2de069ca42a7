"""The faults of a part, rendered once for each role: a walk shows the same list at many parts, and it never changes."""

from __future__ import annotations

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog, Part
from inventory.selectors.inspecting import fault_choices

register = template.Library()
_rendered: dict[int, tuple[Catalog, dict[str, SafeString]]] = {}


@register.simple_tag
def faults_at(part: Part) -> SafeString:
    """Return the list of faults that may be found at a part."""
    trade = catalog()
    # Keyed by the catalog itself, which is held so that its identity is not given to another.
    _, by_role = _rendered.setdefault(id(trade), (trade, {}))
    if part.role not in by_role:
        by_role[part.role] = render_to_string("inventory/walk_faults.html", {"faults": fault_choices(part)})
    return by_role[part.role]
