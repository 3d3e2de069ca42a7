"""Each role's first page: the few questions it comes with every morning."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, Q

from core.models import Event, EventQuerySet, User
from desk.selectors.history import HistoryLine, folded, lines_of, numbers_by_thread
from inventory.access import roles_held, roles_of
from inventory.catalog.load import catalog
from inventory.models import (
    District,
    Instrument,
    ProblemReport,
    Readiness,
    School,
    Verdict,
    Whereabouts,
    fresh_on,
    schools_of,
)
from inventory.selectors.charts import chart_lines
from inventory.selectors.register import proposed_number
from loans.models import AgreementTerms, Loan
from loans.selectors import current_terms, schools_with_names
from repairs.models import Job, ShopOrder
from repairs.selectors.planning import JobLine, jobs_with_next_step
from repairs.selectors.shops import approval_limit, late_orders, orders_to_approve
from repairs.selectors.worth import decisions_to_settle

NEW_DAYS = 14
LATEST_READ, LATEST_SHOWN = 60, 10  # acts of the log; the same act many times in a minute is shown once


@dataclass(frozen=True, slots=True)
class KindCount:
    code: str
    name: str
    ready: int
    limited: int
    total: int


@dataclass(frozen=True, slots=True)
class DirectorToday:
    kinds: list[KindCount]
    arrived: list[Instrument]
    overdue: list[Loan]
    overdue_count: int
    due_soon_count: int
    reports: list[ProblemReport]
    jobs_open: int
    late: list[ShopOrder]
    to_approve: int
    counts: dict[str, int]


@dataclass(frozen=True, slots=True)
class TechToday:
    jobs: list[JobLine]
    late: list[ShopOrder]
    waiting: list[Instrument]
    waiting_count: int
    not_inspected: int
    reports: list[ProblemReport]


@dataclass(frozen=True, slots=True)
class SchoolLine:
    school: School
    total: int
    plays: int
    limits: int
    silent: int
    unseen: int
    out: int


@dataclass(frozen=True, slots=True)
class AuditorToday:
    schools: list[SchoolLine]
    counts: dict[str, int]
    untagged: int
    unserialed: int
    overdue_count: int
    events: list[HistoryLine]


@dataclass(frozen=True, slots=True)
class AdministratorToday:
    people: list[User]
    schools: list[School]
    people_count: int
    next_number: str  # "" before the district is named
    paper_years: int | None  # None: nobody has said how long signed papers are kept
    terms: AgreementTerms
    charts_open: int  # fingering charts that nobody has confirmed


def counts_of(rows: Any, *, today: date) -> dict[str, int]:
    """How many may go out, with limits, stay in, were never inspected. One query."""
    fresh = fresh_on(today)
    result: dict[str, int] = rows.present().aggregate(
        total=Count("pk"),
        ready=Count("pk", filter=fresh & Q(readiness=Readiness.MAY_GO_OUT)),
        limited=Count("pk", filter=fresh & Q(readiness=Readiness.WITH_LIMITS)),
        staying=Count("pk", filter=~fresh | Q(readiness=Readiness.STAYS_IN)),
        unseen=Count("pk", filter=Q(inspected_at=None)),
        out=Count("pk", filter=Q(whereabouts=Whereabouts.WITH_STUDENT)),
        bench=Count("pk", filter=Q(whereabouts__in=[Whereabouts.ON_BENCH, Whereabouts.AT_SHOP])),
    )
    return result


def kind_counts(user: Any, *, today: date) -> list[KindCount]:
    """By kind, what may go out now. One query."""
    fresh = fresh_on(today)
    rows = (
        Instrument.objects.visible_to(user)
        .present()
        .values("kind_code")
        .annotate(
            ready=Count("pk", filter=fresh & Q(readiness=Readiness.MAY_GO_OUT)),
            limited=Count("pk", filter=fresh & Q(readiness=Readiness.WITH_LIMITS)),
            total=Count("pk"),
        )
        .order_by("kind_code")
    )
    kinds = catalog().kinds
    order = {code: number for number, code in enumerate(kinds)}
    counts = [
        KindCount(row["kind_code"], kinds[row["kind_code"]].name, row["ready"], row["limited"], row["total"])
        for row in rows
        if row["kind_code"] in kinds
    ]
    return sorted(counts, key=lambda count: order[count.code])


def director_today(user: Any, *, today: date) -> DirectorToday:
    rows = Instrument.objects.visible_to(user)
    late = Loan.objects.visible_to(user).overdue(today=today)
    overdue = late.filter(instrument__school__in=schools_with_names(user)).for_table().order_by("due_on")
    soon = Loan.objects.visible_to(user).open().filter(due_on__range=(today, today + timedelta(days=14)))
    return DirectorToday(
        kinds=kind_counts(user, today=today),
        arrived=list(
            rows.for_table()
            .filter(registered_at__date__gt=today - timedelta(days=NEW_DAYS))
            .order_by("-registered_at")[:8]
        ),
        overdue=list(overdue[:8]),
        overdue_count=overdue.count(),
        due_soon_count=soon.count(),
        reports=reports_to_answer(user),
        jobs_open=Job.objects.visible_to(user).open().count(),
        late=late_orders(user, today=today),
        to_approve=len(orders_to_approve(user, limit=approval_limit())) + len(decisions_to_settle(user)),
        counts=counts_of(rows, today=today),
    )


def reports_to_answer(user: Any) -> list[ProblemReport]:
    rows = ProblemReport.objects.visible_to(user).unanswered()
    return list(rows.select_related("instrument", "instrument__school")[:8])


def tech_today(user: Any, *, today: date) -> TechToday:
    rows = Instrument.objects.visible_to(user)
    waiting = rows.for_table().filter(
        verdict__in=[Verdict.DOES_NOT_PLAY, Verdict.PLAYS_WITH_LIMITS], whereabouts=Whereabouts.IN_STORE
    )
    return TechToday(
        jobs=jobs_with_next_step(user, limit=12),
        late=late_orders(user, today=today),
        waiting=list(waiting.order_by("-inspected_at")[:8]),
        waiting_count=waiting.count(),
        not_inspected=rows.present().filter(inspected_at=None).count(),
        reports=reports_to_answer(user),
    )


def school_lines(user: Any) -> list[SchoolLine]:
    held = ~Q(instruments__whereabouts=Whereabouts.GONE)
    counted = School.objects.visible_to(user).annotate(
        total=Count("instruments", filter=held),
        plays=Count("instruments", filter=held & Q(instruments__verdict=Verdict.PLAYS)),
        limits=Count("instruments", filter=held & Q(instruments__verdict=Verdict.PLAYS_WITH_LIMITS)),
        silent=Count("instruments", filter=held & Q(instruments__verdict=Verdict.DOES_NOT_PLAY)),
        unseen=Count("instruments", filter=held & Q(instruments__verdict=Verdict.NOT_INSPECTED)),
        out=Count("instruments", filter=Q(instruments__whereabouts=Whereabouts.WITH_STUDENT)),
    )
    schools = School.objects.in_bulk()
    columns = ("total", "plays", "limits", "silent", "unseen", "out")
    return [SchoolLine(schools[pk], *sums) for pk, *sums in counted.values_list("pk", *columns)]


def auditor_today(user: Any, *, today: date) -> AuditorToday:
    rows = Instrument.objects.visible_to(user).present()
    tagged = rows.filter(tags__revoked_at=None, tags__accessory=None).values("pk")
    latest = events_for(user).newest_first().select_related("actor")[:LATEST_READ]
    events = sorted(latest, key=lambda event: event.at, reverse=True)
    return AuditorToday(
        schools=school_lines(user),
        counts=counts_of(Instrument.objects.visible_to(user), today=today),
        untagged=rows.exclude(pk__in=tagged).count(),
        unserialed=rows.filter(serial="").count(),
        overdue_count=Loan.objects.visible_to(user).overdue(today=today).count(),
        events=folded(lines_of(events, numbers=numbers_by_thread(events)))[:LATEST_SHOWN],
    )


def events_for(user: Any) -> EventQuerySet:
    """The log of the schools the user sees; with a role for the whole district, the district's own acts too."""
    if any(held.school_id is None for held in roles_held(user)):
        return Event.objects.all()
    return Event.objects.filter(tenant__in=schools_of(user).values("pk"))


def administrator_today(user: Any) -> AdministratorToday:
    people = User.objects.filter(is_active=True)
    district = District.objects.first()
    return AdministratorToday(
        people=list(people.order_by("-created_at")[:8]),
        schools=list(schools_of(user, "inventory.manage_settings").annotate(staff=Count("staff_roles", distinct=True))),
        people_count=people.count(),
        next_number=proposed_number(district),
        paper_years=district.keep_papers_years if district else None,
        terms=current_terms(),
        charts_open=sum(line.is_open for line in chart_lines()),
    )


def roles_at(user: Any) -> list[str]:
    """The user's roles, the one with the most daily work first."""
    order = ["director", "tech", "auditor", "administrator"]
    held = roles_of(user)
    return [role for role in order if role in held]
