"""Reads of the set-up pages: kinds without a confirmed chart, roles, schools and rooms with their counts."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from core.models import User
from inventory.catalog.load import catalog
from inventory.models import District, Instrument, Room, School, StaffRole, Whereabouts
from inventory.selectors.charts import chart_lines, usual_chart


def unverified_kinds() -> tuple[str, ...]:
    """Names of the kinds whose fingering chart is neither published nor confirmed by the district. One query."""
    waiting = {line.chart.code for line in chart_lines() if line.is_open}
    charts = {kind.name: usual_chart(kind) for kind in catalog().kinds.values() if kind.chart}
    return tuple(sorted(name for name, chart in charts.items() if chart is not None and chart.code in waiting))


def district_name() -> str:
    return District.objects.values_list("name", flat=True).first() or ""


def place_names() -> list[str]:
    """Names of the district and its schools, which no password may lean on."""
    names = District.objects.order_by().values_list("name", flat=True)
    return list(names.union(School.objects.order_by().values_list("name", flat=True), all=True))


def roles_held(people: Iterable[User]) -> QuerySet[StaffRole]:
    """Roles of these people with their schools, in the order given."""
    return StaffRole.objects.filter(user__in=[person.pk for person in people]).select_related("school").order_by("pk")


def schools_with_counts() -> QuerySet[School]:
    """Schools with their rooms and the instruments they hold."""
    held = Instrument.objects.exclude(whereabouts=Whereabouts.GONE).filter(school=OuterRef("pk")).order_by()
    rooms = Room.objects.filter(school=OuterRef("pk")).order_by()
    return School.objects.annotate(
        instrument_count=Coalesce(Subquery(held.values("school").annotate(n=Count("pk")).values("n")), 0),
        room_count=Coalesce(Subquery(rooms.values("school").annotate(n=Count("pk")).values("n")), 0),
    )


def rooms_with_counts(school: School) -> QuerySet[Room]:
    return Room.objects.filter(school=school).annotate(
        instrument_count=Count("instruments", filter=~Q(instruments__whereabouts=Whereabouts.GONE))
    )
