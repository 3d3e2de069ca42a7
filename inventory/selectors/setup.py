"""What the set-up pages show: the trade catalog by origin, people with their roles, schools with their counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from core.models import User
from inventory.catalog.load import catalog
from inventory.catalog.schema import Catalog, Origin
from inventory.models import Instrument, Room, School, StaffRole, Whereabouts
from inventory.selectors.charts import chart_lines, usual_chart

ORIGIN_WORDS = {
    Origin.PUBLISHED: "published",
    Origin.COMMON: "common practice",
    Origin.DEFAULT: "shop default",
}


@dataclass(frozen=True, slots=True)
class CatalogLine:
    """One sort of entry: how many there are, and how many of each origin (empty where entries carry none)."""

    what: str
    count: int
    origins: tuple[tuple[str, int], ...]


def catalog_lines(trade: Catalog) -> tuple[CatalogLine, ...]:
    rungs = [rung for ladder in trade.ladders.values() for rung in ladder.rungs]
    sorts: tuple[tuple[str, Iterable[object]], ...] = (
        ("kinds of instrument", trade.kinds.values()),
        ("faults", trade.faults.values()),
        ("bench methods", trade.methods.values()),
        ("rungs of ladders", rungs),
        ("cautions", trade.hazards.values()),
        ("consumables", trade.consumables.values()),
    )
    return tuple(_line(what, tuple(entries)) for what, entries in sorts)


def _line(what: str, entries: tuple[object, ...]) -> CatalogLine:
    found = Counter(getattr(entry, "origin", None) for entry in entries)
    return CatalogLine(
        what=what,
        count=len(entries),
        origins=tuple((words, found[origin]) for origin, words in ORIGIN_WORDS.items() if found[origin]),
    )


def unverified_kinds() -> tuple[str, ...]:
    """Names of the kinds whose fingering chart is neither published nor confirmed by the district. One query."""
    waiting = {line.code for line in chart_lines() if line.is_open}
    charts = {kind.name: usual_chart(kind) for kind in catalog().kinds.values() if kind.chart}
    return tuple(sorted(name for name, chart in charts.items() if chart is not None and chart.code in waiting))


def roles_of_people(people: Iterable[User]) -> dict[int, list[str]]:
    """Each person's roles in words: "Director at Cedar Fork Middle", "District auditor"."""
    found: dict[int, list[str]] = {}
    held = StaffRole.objects.filter(user__in=[person.pk for person in people]).select_related("school").order_by("pk")
    for role in held:
        found.setdefault(role.user_id, []).append(role_words(role))
    return found


def role_words(held: StaffRole) -> str:
    words = held.get_role_display()
    return f"{words} at {held.school.name}" if held.school else f"{words}, whole district"


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
