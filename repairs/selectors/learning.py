"""What the district's own attempts teach: odds of each way, and how long methods really take."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django.db.models import Count, QuerySet

from inventory.catalog.load import catalog
from repairs.models import Attempt
from repairs.rules.effort import MethodTimes, Range, SetUp, TimeRecord, learn_times
from repairs.rules.facts import Outcome
from repairs.rules.odds import FINE_TRIES, PRIOR_WEIGHT, Odds, Try, tally_tries

TRIED = (Outcome.FREED, Outcome.STILL_STUCK, Outcome.DAMAGED)
TIMED = (Outcome.DONE, Outcome.FREED, Outcome.STILL_STUCK)
TRY = ("method", "rung", "part", "job__instrument__kind_code", "outcome", "is_after_all")  # columns of tries_in
RECENT = 2000  # timed attempts looked at; older ones are another bench's pace


def odds_of(tries: Iterable[Try]) -> Odds:
    """Tally tries with the district's own figures: what a starting guess weighs, and when a kind speaks for itself."""
    figures = catalog().settings
    return tally_tries(
        tries,
        prior_weight=float(figures.get("prior_weight", PRIOR_WEIGHT)),
        fine_tries=int(figures.get("own_rate_after", FINE_TRIES)),
    )


def learned_odds() -> Odds:
    """Tally every rung tried in the district. One query."""
    return odds_of(tries_of(Attempt.objects.all()))


def tries_of(attempts: QuerySet[Attempt]) -> list[Try]:
    """Return the rungs tried, those alike counted together. One query."""
    rows = attempts.exclude(rung="").filter(outcome__in=TRIED).values_list(*TRY).annotate(count=Count("pk")).order_by()
    return [one for *row, count in rows for one in tries_in(row, count=count)]


def tries_in(row: Sequence[Any], *, count: int = 1) -> list[Try]:
    """Return tries with one end as the odds take them; none if the catalog has their method or kind no more.

    A way that was given up and freed the part after all has freed it: its failure is taken back. Every other try
    counts.
    """
    method, rung, part, kind, outcome, is_after_all = row
    trade = catalog()
    if method not in trade.methods or kind not in trade.kinds:
        return []
    role = next((one.role for one in trade.kinds[kind].parts if one.code == part), "")
    ladder = trade.methods[method].ladder
    counts = {outcome == Outcome.FREED: count} | ({False: -count} if is_after_all else {})
    return [Try(ladder, rung, kind, role, is_freed=is_freed, count=number) for is_freed, number in counts.items()]


def learned_times() -> MethodTimes:
    """Compare recorded minutes with the starting estimates. One query."""
    return learn_times(times_of(Attempt.objects.all()))


def times_of(attempts: QuerySet[Attempt]) -> list[TimeRecord]:
    """Return the RECENT latest timed steps, the latest first. One query."""
    rows = attempts.filter(minutes__gt=0, outcome__in=TIMED).order_by("-ended_at", "pk")  # as SQLite's index has them
    columns = ("job_id", "method", "rung", "minutes", "job__instrument__kind_code", "actor_id")
    set_up = set[tuple[Any, ...]]()
    found = [record_of(*row, set_up=set_up) for row in reversed(rows.values_list(*columns)[:RECENT])]
    return [record for record in reversed(found) if record is not None]


def record_of(  # noqa: PLR0917 - a row
    job: int,
    method: str,
    rung: str,
    minutes: Decimal,
    kind: str,
    person: int | None,
    *,
    set_up: set[tuple[Any, ...]],
) -> TimeRecord | None:
    """Return the timed step as the times take it; None if the catalog has it no more.

    ``set_up`` holds what the jobs have done so far: the same work once more is compared with its minutes without
    set-up.
    """
    is_again = (job, method, rung) in set_up
    set_up.add((job, method, rung))
    name, likely = _likely(method, rung, kind=kind, is_again=is_again)
    if not likely:
        return None
    return TimeRecord(method=name, minutes=float(minutes), likely=likely, person=str(person or ""))


def _likely(method: str, rung: str, *, kind: str, is_again: bool) -> tuple[str, float]:
    """(key of the times, planned minutes) of a method or of one rung of its ladder; 0 if the catalog has it no more.

    The minutes are those of the kind's size, so that a tuba's bath teaches of baths, not of slow work.
    """
    trade = catalog().sized(catalog().kind(kind).size)
    known = trade.methods.get(method)
    found = trade.rung(method, rung) if rung else known
    name = f"{known.ladder}.{rung}" if known and rung else method
    if found is None:
        return name, 0.0
    low, likely, high = map(float, found.minutes)
    span = Range(low=low, likely=likely, high=high)
    return name, (SetUp.of(trade.settings).done_before(span) if is_again else span).likely
