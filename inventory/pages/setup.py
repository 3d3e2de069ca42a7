"""Words of the set-up pages: the trade catalog by origin, people with their roles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.models import User
from inventory.catalog.schema import Catalog, Origin
from inventory.models import StaffRole
from inventory.selectors.setup import roles_held

ORIGIN_WORDS = {
    Origin.PUBLISHED: _("published"),
    Origin.COMMON: _("common practice"),
    Origin.DEFAULT: _("shop default"),
    Origin.DISTRICT: _("set by the district"),
}


def catalog_lines(trade: Catalog) -> list[tuple[str, int, list[tuple[Any, int]]]]:
    """Each sort of entry: how many there are, and how many of each origin (none where the sort has none)."""
    rungs = [rung for ladder in trade.ladders.values() for rung in ladder.rungs]
    sorts: tuple[tuple[str, Iterable[object]], ...] = (
        (gettext("kinds of instrument"), trade.kinds.values()),
        (gettext("faults"), trade.faults.values()),
        (gettext("bench methods"), trade.methods.values()),
        (gettext("ways to repair"), rungs),
        (gettext("cautions"), trade.hazards.values()),
        (gettext("consumables"), trade.consumables.values()),
    )
    lines = []
    for what, entries in sorts:
        found = Counter(getattr(entry, "origin", None) for entry in entries)
        origins = [(words, found[origin]) for origin, words in ORIGIN_WORDS.items() if found[origin]]
        lines.append((what, found.total(), origins))
    return lines


def roles_of_people(people: Iterable[User]) -> dict[int, list[str]]:
    """Each person's roles, by primary key: "Director at Cedar Fork Middle", "District auditor, whole district"."""
    found: dict[int, list[str]] = {}
    for role in roles_held(people):
        found.setdefault(role.user_id, []).append(role_words(role))
    return found


def role_words(held: StaffRole) -> str:
    role = held.get_role_display()
    if held.school is None:
        return gettext("%(role)s, whole district") % {"role": role}
    return gettext("%(role)s at %(school)s") % {"role": role, "school": held.school.name}
