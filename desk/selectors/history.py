"""Reads of the event log."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db.models import QuerySet

from core.models import Event, User, thread_key
from core.revisions import texts_of
from core.traces import OPENING
from inventory.access import has_perm_at_school
from inventory.kept import KEPT
from inventory.models import Instrument, Room, School
from inventory.pages.changes import References
from inventory.selectors.columns import columns_for

MERGED = "merged_here"
ENTERED_IN_ERROR = "entered_in_error"
BEGINS = {OPENING, *(act for kept in KEPT for act in kept.begins)}  # say all of a row: told on a page of their own


def events_of(instrument: Instrument) -> QuerySet[Event]:
    """All events of an instrument with their actors, the newest entry first; those of records merged into it too."""
    threads = [instrument.thread, *(one.thread for one in instrument.merged_from.only("pk"))]
    return Event.objects.filter(thread__in=threads).newest_first().select_related("actor")


def latest_events(instrument: Instrument, *, limit: int = 40) -> list[Event]:
    """The newest events of an instrument with their actors, the latest act first. One query, more where it was merged.

    An act that was recorded late comes at the time it happened.
    """
    events = list(Event.objects.filter(thread=instrument.thread).newest_first().select_related("actor")[:limit])
    if any(event.act == MERGED for event in events):
        events = list(events_of(instrument)[:limit])
    return sorted(events, key=lambda event: event.at, reverse=True)


def numbers_by_thread(events: Iterable[Event]) -> dict[str, str]:
    """Thread -> asset number of the instruments that events belong to. One query."""
    keys = [event.thread.removeprefix("instrument:") for event in events if event.thread.startswith("instrument:")]
    rows = Instrument.objects.filter(pk__in=keys).values_list("pk", "asset_number")
    return {f"instrument:{pk}": number for pk, number in rows}


def references_of(events: Iterable[Event], *, user: Any, school: int | None) -> References:
    """What events speak of, as far as the user may see it at the school (None: at every school they look at).

    A query each for texts, schools, rooms and who approved, where an event speaks of any. A list does not show what an
    event that begins a row says: give it without those.
    """
    rows = list(events)
    models: dict[str, Any] = {"school": School, "room": Room, "approved_by": User}
    places: dict[str, Mapping[int, str]] = {name: {} for name in models}
    for name, model in models.items():
        keys = {part[name] for event in rows for part in (event.before, event.after) if isinstance(part.get(name), int)}
        if keys:
            places[name] = dict(model.objects.filter(pk__in=keys).values_list("pk", "name"))
    may_see = school is not None and has_perm_at_school(user, "inventory.view_donor", school)
    return References(texts_of(rows), places, columns_for(user, school=school), shows_donor=may_see)


def references_in_list(events: Iterable[Event], *, user: Any, school: int | None) -> References:
    """What a list shows of events: what was corrected, and why one was entered in error."""
    return references_of((event for event in events if event.act not in BEGINS), user=user, school=school)


def strike_of(event: Event) -> Event | None:
    """The event that says this one was entered in error."""
    about = Event.objects.filter(act=ENTERED_IN_ERROR, subject_type=Event._meta.label_lower, subject_id=str(event.pk))
    return about.select_related("actor").first()


def instrument_of(event: Event) -> Instrument | None:
    """The instrument whose history the event is in, with its school."""
    key = thread_key(event.thread)
    return None if key is None else Instrument.objects.for_table().filter(pk=key).first()


def place_of(event: Event, instrument: Instrument | None) -> int:
    """The school whose event it is: where the instrument is now. 0 for the district's own acts."""
    return instrument.school_id if instrument else event.tenant or 0
