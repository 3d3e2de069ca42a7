"""Instruments kept for parts: what is wrong with them, what went where, and which parts were tried on what."""

from __future__ import annotations

from typing import Any

from django.db.models import Count, QuerySet

from inventory.models import Finding, Instrument
from inventory.rules.facts import FindingFact
from repairs.models import PartsInstrument, TakenPart


def standing_findings(instrument: Instrument) -> tuple[FindingFact, ...]:
    """Return what stands against an instrument. One query."""
    return tuple(Finding.objects.filter(instrument=instrument).standing().facts())


def taken_from(parts_instrument: PartsInstrument) -> QuerySet[TakenPart]:
    """Return what it gave, latest first."""
    return parts_instrument.taken.select_related("onto", "taken_by", "job").order_by("-taken_at", "pk")


def fits_noted(*, kind: str = "") -> QuerySet[TakenPart]:
    """Return the parts whose fit was noted, across the district, latest first."""
    # Prefetched: in a join SQLite would walk the instruments of the whole district first.
    rows = TakenPart.objects.exclude(fit="").prefetch_related("parts_instrument__instrument", "onto")
    return (rows.filter(onto__kind_code=kind) if kind else rows).order_by("-taken_at", "pk")


def parts_instruments_for_list(user: Any) -> list[PartsInstrument]:
    """Return the standing parts instruments the user may see, with how much each has given. One query."""
    rows = PartsInstrument.objects.visible_to(user).standing().keys_first().select_related("instrument__school")
    return list(rows.annotate(given=Count("taken")).order_by("instrument__kind_code", "instrument__asset_number"))
