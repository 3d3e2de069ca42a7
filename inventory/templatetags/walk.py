"""The faults of a part, rendered once for each role, faults of its own and language: a walk repeats the list at many parts."""

from __future__ import annotations

from weakref import WeakKeyDictionary

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import get_language

from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog, Part
from inventory.pages.inspecting import fault_choices

register = template.Library()
CHOICE_KEYS = "1234567890QWERTZXC"  # without the letters of severities (L, M, S), of Back and of Another fault

_rendered: WeakKeyDictionary[Catalog, dict[tuple[str, tuple[str, ...], str | None], SafeString]] = WeakKeyDictionary()


@register.filter
def choice_key(number: int) -> str:
    """Return the key for the choice of that number, counted from 1; the last of a long list have none."""
    return CHOICE_KEYS[number - 1 : number]


@register.simple_tag
def faults_at(part: Part) -> SafeString:
    """Return the list of faults that may be found at a part."""
    rendered = _rendered.setdefault(catalog(), {})
    key = part.role, part.faults, get_language()
    if key not in rendered:
        rendered[key] = render_to_string("inventory/walk_faults.html", {"faults": fault_choices(part)})
    return rendered[key]
