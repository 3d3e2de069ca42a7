"""What the property record knows beyond the instrument's own row: its last maintenance, and how it left."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Max
from django.utils import timezone

from core.models import Event
from inventory.models import Disposal, Instrument
from repairs.models import CareDone, Job, ShopOrder

LABEL = Instrument._meta.label_lower


@dataclass(frozen=True, slots=True)
class PropertyFacts:
    """By instrument."""

    maintained_on: date | None = None  # the last care, job, shop work or cleaning
    disposal: Disposal | None = None


def property_facts(keys: Collection[int]) -> dict[int, PropertyFacts]:
    """Return them for these instruments. Five queries."""
    last: dict[int, date] = {}

    def note(pk: int, day: date | None) -> None:
        if day is not None and (pk not in last or day > last[pk]):
            last[pk] = day

    care = CareDone.objects.standing().filter(instrument__in=keys).order_by().values_list("instrument")
    for pk, day in care.annotate(day=Max("done_on")):
        note(pk, day)
    jobs = Job.objects.filter(instrument__in=keys, closed_at__isnull=False).order_by().values_list("instrument")
    for pk, at in jobs.annotate(at=Max("closed_at")):
        note(pk, timezone.localdate(at))
    shops = ShopOrder.objects.filter(instrument__in=keys, returned_at__isnull=False).order_by()
    for pk, at in shops.values_list("instrument").annotate(at=Max("returned_at")):
        note(pk, timezone.localdate(at))
    cleaned = Event.objects.filter(subject_type=LABEL, subject_id__in=[str(key) for key in keys], act="cleaned")
    for subject, at in cleaned.order_by().values_list("subject_id").annotate(last_at=Max("at")):
        note(int(subject), timezone.localdate(at))
    gone = {one.instrument_id: one for one in Disposal.objects.standing().filter(instrument__in=keys)}
    return {pk: PropertyFacts(last.get(pk), gone.get(pk)) for pk in keys}


@dataclass(frozen=True, slots=True, order=True)
class Maintenance:
    """Something that was done to keep an instrument working."""

    on: date
    sort: str
    what: str
    who: str


def maintenance_of(instrument: Instrument) -> list[Maintenance]:
    """Return what was done to keep it working, latest first. Five queries."""
    jobs = Job.objects.filter(instrument=instrument, closed_at__isnull=False).select_related("bench", "closed_by")
    orders = ShopOrder.objects.filter(instrument=instrument, returned_at__isnull=False).select_related("shop")
    cleaned = Event.objects.filter(thread=instrument.thread, act="cleaned").select_related("actor")
    lines = [
        *(
            Maintenance(one.done_on, "care", one.name, str(one.actor))
            for one in CareDone.objects.standing().filter(instrument=instrument).select_related("actor")
        ),
        *(
            Maintenance(_day(one.finished_at), "inspected", str(one.get_purpose_display()), str(one.actor))
            for one in instrument.inspections.finished().select_related("actor")
        ),
        *(Maintenance(_day(one.closed_at), "job", str(one.bench), str(one.closed_by or "")) for one in jobs),
        *(Maintenance(_day(one.returned_at), "shop", str(one.shop), "") for one in orders),
        *(
            Maintenance(_day(one.at), "cleaned", str(one.after.get("product", "")), str(one.actor or ""))
            for one in cleaned
        ),
    ]
    return sorted(lines, reverse=True)


def _day(at: datetime | None) -> date:
    if at is None:
        raise ValueError("it has not ended")
    return timezone.localdate(at)
