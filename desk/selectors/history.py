"""Reads of the event log."""

from __future__ import annotations

from collections.abc import Iterable

from core.models import Event
from inventory.models import Instrument


def latest_events(instrument: Instrument, *, limit: int = 40) -> list[Event]:
    """The newest events of an instrument with their actors, the latest act first. One query.

    An act that was recorded late comes at the time it happened.
    """
    rows = Event.objects.filter(thread=instrument.thread).newest_first().select_related("actor")[:limit]
    return sorted(rows, key=lambda event: event.at, reverse=True)


def numbers_by_thread(events: Iterable[Event]) -> dict[str, str]:
    """Thread -> asset number of the instruments that events belong to. One query."""
    keys = [event.thread.removeprefix("instrument:") for event in events if event.thread.startswith("instrument:")]
    rows = Instrument.objects.filter(pk__in=keys).values_list("pk", "asset_number")
    return {f"instrument:{pk}": number for pk, number in rows}
