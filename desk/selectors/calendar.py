"""The days of a school that its staff keep in a calendar: what is due back, what a bench or a shop promised."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from core.icalendar import DayEntry
from core.models import Event
from inventory.access import has_perm_at_school
from inventory.models import CalendarLink
from loans.models import Loan
from repairs.models import Job, ShopOrder

SINCE = timedelta(days=180)  # what was due longer ago has left the calendar
NUMBERS_SHOWN = 200


def entries_of(link: CalendarLink, *, home: str, today: date) -> list[DayEntry]:
    """Return the entries of an address, as far as its owner may see them now. No name is in them.

    What is due back on one day is one entry: at the end of the year it is a hundred instruments. An entry counts as
    changed with the last event of its school, so a program that has seen it takes the new one and never an older one.
    """
    school = link.school
    latest = Event.objects.filter(tenant=school.pk).newest_first().values_list("number", "at").first()
    number, changed_at = latest or (0, link.made_at)
    host = home.partition("://")[2].partition("/")[0]
    made: list[tuple[str, date, str, str]] = []
    if has_perm_at_school(link.user, "loans.view_loan", school.pk):
        made += [
            (
                f"due-{school.pk}-{day:%Y%m%d}",
                day,
                due_words(numbers),
                ", ".join(numbers[:NUMBERS_SHOWN]) if len(numbers) > 1 else "",
            )
            for day, numbers in due_back(school.pk, since=today - SINCE).items()
        ]
    if has_perm_at_school(link.user, "repairs.view_job", school.pk):
        made += [
            (f"job-{job.pk}", job.due_on, _("Bench: %(number)s promised") % {"number": job.instrument.asset_number}, "")
            for job in Job.objects.open().filter(instrument__school=school).first_due().select_related("instrument")
            if job.due_on
        ]
    if has_perm_at_school(link.user, "repairs.view_shop", school.pk):
        away = ShopOrder.objects.away().filter(instrument__school=school, promised_on__isnull=False)
        made += [
            (f"order-{pk}", day, _("Shop: %(number)s promised") % {"number": number}, "")
            for pk, day, number in away.order_by("promised_on", "pk").values_list(
                "pk", "promised_on", "instrument__asset_number"
            )
            if day
        ]
    return [
        DayEntry(
            uid=f"{key}@{host}", on=day, summary=summary, changed_at=changed_at, sequence=number, description=below
        )
        for key, day, summary, below in made
    ]


def due_back(school: int, *, since: date) -> dict[date, list[str]]:
    """Return the asset numbers of what is due on each day. One query."""
    rows = Loan.objects.open().filter(school=school, due_on__gte=since)
    days: dict[date, list[str]] = defaultdict(list)
    for day, number in rows.order_by("due_on", "instrument__asset_number").values_list(
        "due_on", "instrument__asset_number"
    ):
        days[day].append(number)
    return days


def due_words(numbers: list[str]) -> str:
    if len(numbers) == 1:
        return _("Due back: %(number)s") % {"number": numbers[0]}
    words = ngettext("%(count)d instrument due back", "%(count)d instruments due back", len(numbers))
    return words % {"count": len(numbers)}
