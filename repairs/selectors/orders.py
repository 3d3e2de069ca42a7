"""What happened to a shop order, as the event log has it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django.db.models import Case, Exists, OuterRef, When

from core.models import Event, EventQuerySet
from core.traces import OPENING
from inventory.models import Finding, Instrument, InstrumentQuerySet, Photo, Whereabouts
from inventory.rules.facts import FindingFact
from inventory.selectors.standing import standings_of
from repairs.models import ShopOrder, ShopOrderQuerySet
from repairs.rules.orders import Act, act_to_undo
from repairs.rules.plan import SentOut, plan_work
from repairs.selectors.planning import bench_for

LOOKED_THROUGH = 20  # instruments that an order looks through for more work for the same trip


def order_events(order: ShopOrder) -> EventQuerySet:
    """Return every act on the order, oldest first, with who did it."""
    rows = Event.objects.filter(subject_type=ShopOrder._meta.label_lower, subject_id=str(order.pk))
    rows = rows.exclude(act=OPENING)
    return rows.order_by("number").select_related("actor")


def latest_to_undo(events: Iterable[Event]) -> Event | None:
    """Return the act that may be taken back now."""
    rows = {event.number: event for event in events}
    acts = [Act(event.number, event.act, event.after.get("number")) for event in rows.values()]
    latest = act_to_undo(acts)
    return rows[latest.number] if latest else None


def ordered_with(order: ShopOrder) -> ShopOrderQuerySet:
    """Return the orders asked on the same form, this one among them."""
    rows = (
        ShopOrder.objects.filter(together=order.together) if order.together else ShopOrder.objects.filter(pk=order.pk)
    )
    return rows.order_by("pk")


def out_of(instruments: Sequence[Instrument]) -> dict[int, tuple[tuple[FindingFact, ...], tuple[SentOut, ...]]]:
    """Return the standing findings of each and what its school's bench would send out, tries left out.

    Three queries for all of one school.
    """
    standings = standings_of(instruments)
    benches = {row.school_id: row for row in instruments}
    bench = {school: bench_for(row) for school, row in benches.items()}
    found = {}
    for row in instruments:
        one = standings[row.pk]
        plan = plan_work(kind=one.kind, catalog=one.catalog, findings=one.findings, bench=bench[row.school_id])
        found[row.pk] = one.findings, plan.send_out
    return found


def may_go_too(user: Any, instrument: Instrument) -> InstrumentQuerySet:
    """Return the other instruments that this user may send out."""
    rows = Instrument.objects.visible_to(user, "repairs.send_out")
    return rows.exclude(pk=instrument.pk).select_related("school")


def offered_too(rows: InstrumentQuerySet, instrument: Instrument) -> list[Instrument]:
    """Return the first faulty instruments of the school that are here and not asked about yet, of its kind first."""
    faulty = Finding.objects.standing().filter(instrument=OuterRef("pk"))
    same = Case(When(kind_code=instrument.kind_code, then=0), default=1)
    here = rows.filter(whereabouts__in=[Whereabouts.IN_STORE, Whereabouts.ON_BENCH], school=instrument.school_id)
    mine = here.in_use().filter(Exists(faulty)).exclude(pk__in=ShopOrder.objects.open().values("instrument"))
    return list(mine.order_by(same, "asset_number")[:LOOKED_THROUGH])


def order_findings(orders: Sequence[ShopOrder]) -> dict[int, list[Finding]]:
    """Return the findings that each order asks about. One query."""
    found = Finding.objects.in_bulk({key for order in orders for key in order.findings})
    return {order.pk: [found[key] for key in sorted(order.findings) if key in found] for order in orders}


def photos_of(orders: Sequence[ShopOrder]) -> dict[int, list[Photo]]:
    """Return the photos of parts of each order's instrument, newest first. One query."""
    photos: dict[int, list[Photo]] = {}
    rows = Photo.objects.filter(instrument__in=[order.instrument_id for order in orders]).exclude(part="")
    for photo in rows:
        photos.setdefault(photo.instrument_id, []).append(photo)
    return photos
