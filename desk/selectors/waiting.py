"""Students waiting for an instrument, against the instruments that could go out."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import Count, IntegerField, OuterRef, Subquery, Value
from django.db.models.functions import Coalesce

from inventory.models import Instrument, Readiness, Whereabouts
from loans.models import Student, StudentQuerySet
from repairs.rules.waiting import Group

MAY_GO = (Readiness.MAY_GO_OUT, Readiness.WITH_LIMITS)


def students_waiting(groups: Collection[Group]) -> dict[Group, int]:
    """Count the current students waiting for each kind at each school; groups with none are left out. One query."""
    rows = _waiting(groups).values_list("school_id", "wants_kind").annotate(count=Count("pk")).order_by()
    return {(school, kind): count for school, kind, count in rows if (school, kind) in groups}


def short_of_instruments(groups: Collection[Group]) -> frozenset[Group]:
    """Return the groups with more students waiting than instruments in storage that may go out as stored. One query.

    Whether an inspection has expired since is not checked: this only weighs days of waiting, it decides no loan.
    """
    free = (
        Instrument.objects.filter(
            school=OuterRef("school"),
            kind_code=OuterRef("wants_kind"),
            whereabouts=Whereabouts.IN_STORE,
            readiness__in=MAY_GO,
        )
        .order_by()
        .values("school")
        .annotate(count=Count("pk"))
        .values("count")
    )
    rows = (
        _waiting(groups)
        .values("school_id", "wants_kind")
        .annotate(count=Count("pk"), free=Coalesce(Subquery(free, output_field=IntegerField()), Value(0)))
        .order_by()
    )
    short = {(row["school_id"], row["wants_kind"]) for row in rows if row["count"] > row["free"]}
    return frozenset(short.intersection(groups))


def _waiting(groups: Collection[Group]) -> StudentQuerySet:
    schools, kinds = {school for school, _ in groups}, {kind for _, kind in groups}
    return Student.objects.waiting().filter(school__in=schools, wants_kind__in=kinds)
