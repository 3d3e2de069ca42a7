"""What the district's own attempts teach: odds of the rungs, and how long methods really take."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from django.db.models import Count

from inventory.catalog.load import catalog
from repairs.models import Attempt, Outcome
from repairs.rules.effort import MethodTimes, TimeRecord, learn_times
from repairs.rules.odds import Odds, Try, tally_tries

RECENT = 2000  # timed attempts looked at; older ones are another bench's pace


def learned_odds() -> Odds:
    """Tally every rung tried in the district. One query."""
    return tally_tries(_tries())


def _tries() -> Iterator[Try]:
    trade = catalog()
    rows = (
        Attempt.objects.exclude(rung="")
        .filter(outcome__in=[Outcome.FREED, Outcome.STILL_STUCK, Outcome.DAMAGED])
        .values_list("method", "rung", "part", "job__instrument__kind_code", "outcome")
        .annotate(count=Count("pk"))
        .order_by()
    )
    for method, rung, part, kind, outcome, count in rows:
        if method not in trade.methods or kind not in trade.kinds:
            continue
        role = next((one.role for one in trade.kinds[kind].parts if one.code == part), "")
        ladder = trade.methods[method].ladder
        is_freed = outcome == Outcome.FREED
        yield Try(ladder=ladder, rung=rung, kind=kind, role=role, is_freed=is_freed, count=count)


def learned_times() -> MethodTimes:
    """Compare recorded minutes with the starting estimates. One query."""
    rows = (
        Attempt.objects.filter(minutes__gt=0, outcome__in=[Outcome.DONE, Outcome.FREED, Outcome.STILL_STUCK])
        .order_by("-ended_at")
        .values_list("method", "rung", "minutes")[:RECENT]
    )
    return learn_times(_records(rows))


def _records(rows: Iterable[tuple[str, str, Decimal | None]]) -> Iterator[TimeRecord]:
    for method, rung, minutes in rows:
        name, likely = _likely(method, rung)
        if likely and minutes is not None:
            yield TimeRecord(method=name, minutes=float(minutes), likely=likely)


def _likely(method: str, rung: str) -> tuple[str, float]:
    """(key of the times, planned minutes) of a method or of one rung of its ladder; 0 if the catalog has it no more."""
    trade = catalog()
    known = trade.methods.get(method)
    if known is None:
        return method, 0.0
    if not rung:
        return method, float(known.minutes[1])
    ladder = trade.ladders.get(known.ladder)
    found = next((one for one in ladder.rungs if one.code == rung), None) if ladder else None
    return f"{known.ladder}.{rung}", float(found.minutes[1]) if found else 0.0
