"""The event log as an auditor reads it: by person, act, day and instrument, the newest entry first."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import reduce
from operator import or_
from typing import Any

from django.db import connection
from django.db.models import CharField, Q
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Cast, TruncDate
from django.db.models.lookups import LessThan
from django.utils import timezone

from core.models import Event, EventQuerySet, User
from desk.selectors.history import ENTERED_IN_ERROR, numbers_by_thread, references_in_list, references_of
from desk.selectors.today import events_for
from inventory.access import has_perm_at_school
from inventory.models import Instrument, StaffRole
from inventory.models.places import school_keys
from inventory.pages.changes import References
from inventory.selectors.past import after

PER_PAGE = 50
AT_ONCE = 1000  # events read together for a file
VIEW = "desk.view_log"
WHOLE_DISTRICT = 0  # the key of no school: a role for the whole district alone holds there

# Key in ``after`` of the day on which it happened, by somebody's word -> the acts whose events hold it.
HAPPENED_ON: Mapping[str, tuple[str, ...]] = {
    "on": ("cleaned", "sent_to_shop", "back_from_shop", "estimate_given", "invoice_noted", "left_fleet"),
    "back_on": ("back_in_fleet",),
    "done_on": ("care_done",),
    "received_on": ("gift_recorded",),
    "noticed_on": ("loss_reported",),
    "found_on": ("loss_ended",),
    "left_on": ("student_left", "grades_went_up"),
}
KEY_OF = {act: key for key, acts in HAPPENED_ON.items() for act in acts}
CORRECTS = (
    "corrected", "gift_corrected", "text_redacted", ENTERED_IN_ERROR, "findings_reopened", "care_withdrawn",
    "order_act_undone", "return_undone", "return_recounted", "renewal_undone", "loan_undone", "loss_reopened",
    "unmerged", "unmerged_here", "part_slip", "student_unmerged", "disposal_corrected", "registered_in_error",
    "error_withdrawn", "sighting_undone",
)  # fmt: skip
EXPORTED = "exported"


def is_whole_district(user: Any) -> bool:
    """Whether somebody looks at the log by a role in the whole district."""
    return has_perm_at_school(user, VIEW, WHOLE_DISTRICT)


def people_in_log(user: Any) -> Any:
    """Those whom the log may be filtered by: everybody, or whoever works at the schools that the user sees."""
    keys = school_keys(user, VIEW)
    people = User.objects.order_by("name", "pk")
    return people if keys is None else people.filter(pk__in=StaffRole.objects.filter(school__in=keys).values("user"))


def acts_in_log() -> list[str]:
    """Every act that the log holds, each found by one step in the index, however long the log is."""
    statement = (
        "WITH RECURSIVE known(act) AS (SELECT MIN(act) FROM core_event UNION ALL"
        " SELECT (SELECT MIN(act) FROM core_event WHERE act > known.act) FROM known WHERE known.act IS NOT NULL)"
        " SELECT act FROM known WHERE act IS NOT NULL"
    )
    with connection.cursor() as cursor:
        cursor.execute(statement)
        return [row[0] for row in cursor.fetchall()]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogFilter:
    """What is asked of the log; what is empty does not narrow it."""

    person: User | None = None
    since: date | None = None
    until: date | None = None  # the last day
    act: str = ""
    number: str = ""  # an instrument's asset number
    show: str = ""

    def rows(self, user: Any) -> EventQuerySet:
        """The entries asked for, as far as the user sees them, the newest first.

        Between two days they are in the order of their moments, which an index holds: the same, but for a clock set back.
        """
        rows = events_for(user)
        rows = rows.newest_first() if self.since is self.until is None else rows.order_by("-at", "-number")
        if self.person is not None:
            rows = rows.filter(actor=self.person)
        if self.act:
            rows = rows.filter(act=self.act)
        if self.since is not None:
            rows = rows.filter(at__gte=after(self.since - timedelta(days=1)))
        if self.until is not None:
            rows = rows.filter(at__lt=after(self.until))
        if self.number:
            rows = rows.filter(thread__in=threads_of(self.number))
        narrower = SHOWN.get(self.show)
        return rows.filter(narrower()) if narrower else rows


def threads_of(asset_number: str) -> list[str]:
    """The threads of an instrument and of the records merged into it; none where nothing has the number."""
    found = Instrument.objects.filter(Q(asset_number=asset_number) | Q(merged_into__asset_number=asset_number))
    return [one.thread for one in found.only("pk")]


def after_the_fact() -> Q:
    """Entries about a day before the one on which they were entered."""
    entered = Cast(TruncDate("at"), CharField())
    late = (Q(LessThan(KeyTextTransform(key, "after"), entered), act__in=acts) for key, acts in HAPPENED_ON.items())
    return Q(act__in=list(KEY_OF)) & reduce(or_, late)


SHOWN: Mapping[str, Callable[[], Q]] = {
    "late": after_the_fact,
    "corrections": lambda: Q(act__in=CORRECTS),
    "exports": lambda: Q(act=EXPORTED),
}


def happened_on(event: Event) -> date | None:
    """The day that somebody said it happened on, where that is before the day on which it was entered."""
    stated = event.after.get(KEY_OF.get(event.act, ""))
    day = date.fromisoformat(stated) if stated else None
    return day if day is not None and day < timezone.localdate(event.at) else None


@dataclass(frozen=True, slots=True)
class Entries:
    """Entries with what is read besides them."""

    events: list[Event]
    refs: References
    numbers: Mapping[str, str]  # thread -> asset number
    struck: frozenset[int]  # numbers of those that were marked as entered in error
    schools: Mapping[int, str]
    has_more: bool = False


def entries(
    rows: EventQuerySet, *, user: Any, names: Mapping[int, str], before: int | None, most: int, is_file: bool = False
) -> Entries:
    """The first of the rows, or the first before an entry: as cheap at the end of a long log as at its beginning.

    A file says all of an entry that begins a record, a list does not.
    """
    rows = rows if before is None else rows_before(rows, before)
    found = list(rows.select_related("actor")[: most + 1])
    shown = found[:most]
    return Entries(
        events=shown,
        refs=(references_of if is_file else references_in_list)(shown, user=user, school=None),
        numbers=numbers_by_thread(shown),
        struck=struck_among(shown),
        schools=names,
        has_more=len(found) > most,
    )


def rows_before(rows: EventQuerySet, number: int) -> EventQuerySet:
    """Those of the rows that come after this entry, in the order in which they are read."""
    if rows.query.order_by[0] == "-number":
        return rows.filter(number__lt=number)
    at = Event.objects.filter(number=number).values_list("at", flat=True).first()
    return rows.none() if at is None else rows.filter(at__lte=at).exclude(at=at, number__gte=number)


def struck_among(events: Collection[Event]) -> frozenset[int]:
    """The numbers of those that somebody marked as entered in error. One query."""
    by_key = {str(event.pk): event.number for event in events}
    about = Event.objects.filter(act=ENTERED_IN_ERROR, subject_type=Event._meta.label_lower, subject_id__in=by_key)
    return frozenset(by_key[key] for key in about.values_list("subject_id", flat=True))


def all_entries(rows: EventQuerySet, *, user: Any, names: Mapping[int, str]) -> Iterator[Entries]:
    """All of the rows, some at a time, each time from the entry after the last."""
    before: int | None = None
    while True:
        some = entries(rows, user=user, names=names, before=before, most=AT_ONCE, is_file=True)
        yield some
        if not some.has_more:
            return
        before = some.events[-1].number
