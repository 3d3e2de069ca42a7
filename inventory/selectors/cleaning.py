"""Reads of what is to be cleaned, and what was."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q

from core.models import Event, User
from inventory.models import Instrument, InstrumentQuerySet, schools_of
from inventory.rules.readiness import AT_HAND

CLEAN = "inventory.clean_instrument"
READ = 400  # events: the same cleaning of many is one line


@dataclass(frozen=True, slots=True)
class Cleaned:
    """One act: when, by whom, with what, and of how many."""

    at: datetime
    by: User | None
    product: str
    count: int


def to_clean(user: Any) -> InstrumentQuerySet:
    """Return what is at hand and owes a cleaning, by kind and number."""
    rows = Instrument.objects.visible_to(user, CLEAN).filter(whereabouts__in=AT_HAND, merged_into=None)
    due = rows.filter(Q(is_hygiene_due=True) | Q(is_full_cleaning_due=True))
    return due.order_by("kind_code", "asset_number")


def cleaned_lately(user: Any, *, most: int) -> list[Cleaned]:
    """Return the latest acts of cleaning at the user's schools."""
    rows = Event.objects.filter(act="cleaned", tenant__in=schools_of(user, CLEAN).values("pk"))
    events = rows.newest_first().select_related("actor")[:READ]
    acts = Counter((event.at, event.actor, str(event.after.get("product", ""))) for event in events)
    return [Cleaned(at, by, product, count) for (at, by, product), count in list(acts.items())[:most]]
