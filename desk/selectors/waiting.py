"""Students who need an instrument and have none, against the instruments that could go out."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import Count

from inventory.models import Instrument, Readiness, Whereabouts
from loans.selectors.seats import unmet_counts
from repairs.rules.waiting import Group

MAY_GO = (Readiness.MAY_GO_OUT, Readiness.WITH_LIMITS)


def students_waiting(groups: Collection[Group]) -> dict[Group, int]:
    """Count the current students who need each kind at each school; groups with none are left out. One query.

    They have a seat in which they play it, or wait for one outside ensembles.
    """
    return {group: count for group, count in unmet_counts(*_sides(groups)).items() if group in groups}


def short_of_instruments(groups: Collection[Group]) -> frozenset[Group]:
    """Return the groups with more students waiting than instruments in storage that may go out as stored.

    Whether an inspection has expired since is not checked: this only weighs days of waiting, it decides no loan. Two
    queries, one where nobody waits.
    """
    waiting = students_waiting(groups)
    if not waiting:
        return frozenset()
    schools, kinds = _sides(waiting)
    ready = Instrument.objects.filter(
        school__in=schools, kind_code__in=kinds, whereabouts=Whereabouts.IN_STORE, readiness__in=MAY_GO
    )
    rows = ready.values_list("school_id", "kind_code").annotate(count=Count("pk")).order_by()
    free = {(school, kind): count for school, kind, count in rows}
    return frozenset(group for group, count in waiting.items() if count > free.get(group, 0))


def _sides(groups: Collection[Group]) -> tuple[set[int], set[str]]:
    return {school for school, _ in groups}, {kind for _, kind in groups}
