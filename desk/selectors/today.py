"""Reads for each role's first page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from datetime import date, datetime, time, timedelta
from typing import Any

from django.conf import settings
from django.db.models import Count, Q
from django.utils import timezone

from core.events import head_of_log
from core.mail import mail_trouble
from core.models import Event, EventQuerySet, User
from core.traces import OPENING
from desk.selectors.history import numbers_by_thread, references_in_list
from desk.selectors.leaving import offers_to
from inventory.access import roles_of
from inventory.catalog.load import catalog
from inventory.models import District, Instrument, ProblemReport, Verdict, Whereabouts, roles_held, schools_of
from inventory.rules.readiness import AT_HAND
from inventory.selectors.charts import chart_lines
from inventory.selectors.fleet import (
    TO_REPAIR,
    Fleet,
    State,
    count_of,
    fleets_of,
    goes_with_limits,
    is_held,
    is_not_inspected,
    is_on_bench,
    is_with_student,
    may_go_out,
    states_of,
    stays_in,
    waits_for_repair,
)
from inventory.selectors.register import proposed_number
from loans.models import Loan, LoanQuerySet, Notice, SigningLink, open_loans_by
from loans.selectors.agreements import current_terms
from loans.selectors.ledger import owed_in_all
from loans.selectors.lending import schools_with_names
from loans.selectors.notices import still_true
from repairs.models import ShopOrder, ShopOrderQuerySet
from repairs.selectors.decisions import decisions_to_settle
from repairs.selectors.planning import jobs_with_next_step
from repairs.selectors.shops import back_unplayed, bills_to_come, late_orders, orders_to_approve

NEW_DAYS = 14
WAITING_SHOWN = 8
LINES_SHOWN = 8  # of what is late, to sign or to clean
APPROVALS_SHOWN = 5
LATEST_READ = 60  # events of the log; the same act many times in a minute is shown once


def counts_of(states: Counter[State]) -> dict[str, int]:
    """How many there are, may go out, with limits, stay in, were never inspected, are on the bench, with students."""
    return {
        "total": count_of(states, is_held),
        "ready": count_of(states, may_go_out),
        "limited": count_of(states, goes_with_limits),
        "kept_in": count_of(states, stays_in),
        "unseen": count_of(states, is_not_inspected),
        "bench": count_of(states, is_on_bench),
        "out": count_of(states, is_with_student),
    }


def kind_counts(fleets: Collection[Fleet]) -> list[dict[str, Any]]:
    """By kind, in the order of the catalog, how many there are in each state; last the kinds that it has lost."""
    held = {code for fleet in fleets for code in fleet.kinds}
    kinds = (*catalog().kinds.values(), *map(catalog().kind, sorted(held - catalog().kinds.keys())))
    counts = ({"code": kind.code, "name": kind.name, **counts_of(states_of(fleets, kind=kind.code))} for kind in kinds)
    return [count for count in counts if count["total"]]


def director_today(user: Any, *, today: date) -> dict[str, Any]:
    rows = Instrument.objects.visible_to(user)
    fleets = fleets_of(schools_of(user), today=today).values()
    loans = Loan.objects.visible_to(user).filter(school__in=schools_with_names(user)).order_by("due_on")
    overdue, overdue_count = first_of(loans.overdue(today=today), most=LINES_SHOWN)
    unsigned, unsigned_count = first_of(loans.unsigned().order_by("-lent_at"), most=LINES_SHOWN)
    soon = Loan.objects.visible_to(user).open().filter(due_on__range=(today, today + timedelta(days=14)))
    to_clean = rows.filter(whereabouts__in=AT_HAND, is_hygiene_due=True).order_by("asset_number")
    to_clean_count = sum(fleet.to_clean for fleet in fleets)
    return {
        "kinds": kind_counts(fleets),
        "arrived": list(
            rows.present()
            .filter(
                registered_at__gte=timezone.make_aware(datetime.combine(today - timedelta(days=NEW_DAYS - 1), time.min))
            )
            .order_by("-registered_at")[:8]
            .keys_first()
            .for_table()
        ),
        "overdue": overdue,
        "overdue_count": overdue_count,
        "due_soon_count": 0 if overdue else soon.count(),
        "unsigned": unsigned,
        "unsigned_count": unsigned_count,
        "denied": denied_links(user),
        "to_clean": list(to_clean[:LINES_SHOWN].keys_first().for_table()) if to_clean_count else [],
        "to_clean_count": to_clean_count,
        "to_inspect_count": sum(fleet.to_inspect for fleet in fleets),
        "owed": owed_in_all(user),
        "notices": notice_counts(user, today=today),
        "offers": list(offers_to(user).select_related("instrument", "from_school", "to_school", "actor")[:LINES_SHOWN]),
    }


def denied_links(user: Any) -> list[SigningLink]:
    """Links that reached somebody who knows nothing of the student, and nobody has done anything about it since."""
    rows = SigningLink.objects.visible_to(user).denied()
    return list(rows.select_related("loan__instrument", "loan__student")[:LINES_SHOWN])


def notice_counts(user: Any, *, today: date) -> dict[str, int]:
    """How many letters wait to be printed and hold today, and what came back of loans that are out. One query."""
    back = open_loans_by("loan__") & ~Q(came_back_at=None)
    to_print = Q(way=Notice.Way.LETTER, handed_at=None, came_back_at=None, dropped_at=None) & still_true(today=today)
    rows = Notice.objects.visible_to(user).filter(to_print | back)
    return rows.aggregate(to_print=Count("pk", filter=to_print), back=Count("pk", filter=back))


def first_of(rows: LoanQuerySet | ShopOrderQuerySet, *, most: int) -> tuple[list[Any], int]:
    """The first of them, and how many there are. One query, a second where there are more."""
    first = list(rows[: most + 1].keys_first().for_table())
    return first[:most], len(first) if len(first) <= most else rows.count()


def shop_orders(user: Any, *, today: date) -> dict[str, list[ShopOrder]]:
    """What should be back from a shop, what is back and was not played, and what is back without a bill."""
    return {
        "late": late_orders(user, today=today),
        "unplayed": back_unplayed(user),
        "unbilled": bills_to_come(user),
    }


def to_approve(user: Any) -> tuple[list[ShopOrder], int]:
    """The first orders that wait for this user's approval, and how many there are, with the decisions."""
    first, count = first_of(orders_to_approve(user), most=APPROVALS_SHOWN)
    return first, count + decisions_to_settle(user).count()


def reports_to_answer(user: Any) -> list[ProblemReport]:
    rows = ProblemReport.objects.visible_to(user).unanswered().order_by("-said_at", "-pk")
    return list(rows[:8].keys_first().select_related("instrument__school"))


def tech_today(user: Any, *, today: date) -> dict[str, Any]:
    rows = Instrument.objects.visible_to(user)
    fleets = fleets_of(schools_of(user), today=today).values()
    states = states_of(fleets)
    waiting = rows.in_use().filter(whereabouts=Whereabouts.IN_STORE, verdict__in=TO_REPAIR).order_by("-inspected_at")
    return {
        "jobs": jobs_with_next_step(user, limit=12),
        "waiting": list(waiting[:WAITING_SHOWN].keys_first().for_table()),
        "to_inspect_count": sum(fleet.to_inspect for fleet in fleets),
        "waiting_count": count_of(states, waits_for_repair) - sum(fleet.set_aside for fleet in fleets),
        "not_inspected": count_of(states, is_not_inspected),
    }


def school_lines(user: Any, fleets: Mapping[int, Fleet]) -> list[dict[str, Any]]:
    """A line for each school with the sums of its fleet. One query."""
    lines = []
    for school in schools_of(user):
        states = fleets[school.pk].states
        verdicts: Counter[str] = Counter()
        for state, count in states.items():
            verdicts[state.verdict] += count if state.is_held else 0
        lines.append(
            {
                "school": school,
                "total": verdicts.total(),
                "plays": verdicts[Verdict.PLAYS],
                "limits": verdicts[Verdict.PLAYS_WITH_LIMITS],
                "silent": verdicts[Verdict.DOES_NOT_PLAY],
                "unseen": verdicts[Verdict.NOT_INSPECTED],
                "out": count_of(states, is_with_student),
            }
        )
    return lines


def auditor_today(user: Any, *, today: date) -> dict[str, Any]:
    fleets = fleets_of(schools_of(user), today=today)
    latest = events_for(user).exclude(act=OPENING).newest_first().select_related("actor")[:LATEST_READ]
    events = sorted(latest, key=lambda event: event.at, reverse=True)
    return {
        "schools": school_lines(user, fleets),
        "counts": counts_of(states_of(fleets.values())),
        "untagged": sum(fleet.untagged for fleet in fleets.values()),
        "unserialed": sum(fleet.unserialed for fleet in fleets.values()),
        "overdue_count": Loan.objects.visible_to(user).overdue(today=today).count(),
        "events": events,
        "head": head_of_log(),
        "numbers": numbers_by_thread(events),  # thread -> asset number
        "refs": references_in_list(events, user=user, school=None),
    }


def events_for(user: Any) -> EventQuerySet:
    """The log of the schools the user sees; with a role for the whole district, the district's own acts too."""
    if any(held.school_id is None for held in roles_held(user)):
        return Event.objects.all()
    return Event.objects.filter(tenant__in=schools_of(user).values("pk"))


def administrator_today(user: Any, *, now: datetime) -> dict[str, Any]:
    people = User.objects.filter(is_active=True)
    district = District.objects.first()
    return {
        "people": list(people.order_by("-created_at")[:8]),
        "schools": list(
            schools_of(user, "inventory.manage_settings").annotate(staff=Count("staff_roles", distinct=True))
        ),
        "people_count": people.count(),
        "next_number": proposed_number(district),  # "" before the district is named
        # None: nobody has said how long signed papers are kept.
        "paper_years": district.keep_papers_years if district else None,
        "terms": current_terms(),
        "mail_trouble": mail_trouble(now=now) if settings.MAIL_IS_SET else None,
        "charts_open": sum(line.is_open for line in chart_lines()),  # fingering charts that nobody has confirmed
    }


def roles_at(user: Any) -> list[str]:
    """The user's roles, the one with the most daily work first."""
    order = ["director", "tech", "auditor", "administrator"]
    held = roles_of(user)
    return [role for role in order if role in held]
