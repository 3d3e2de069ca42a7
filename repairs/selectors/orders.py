"""What happened to a shop order, as the event log has it."""

from __future__ import annotations

from collections.abc import Iterable

from core.models import Event, EventQuerySet
from repairs.models import ShopOrder
from repairs.rules.orders import Act, act_to_undo


def order_events(order: ShopOrder) -> EventQuerySet:
    """Return every act on the order, oldest first, with who did it."""
    rows = Event.objects.filter(subject_type=ShopOrder._meta.label_lower, subject_id=str(order.pk))
    return rows.order_by("number").select_related("actor")


def latest_to_undo(events: Iterable[Event]) -> Event | None:
    """Return the act that may be taken back now."""
    rows = {event.number: event for event in events}
    acts = [Act(event.number, event.act, event.after.get("number")) for event in rows.values()]
    latest = act_to_undo(acts)
    return rows[latest.number] if latest else None
