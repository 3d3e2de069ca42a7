"""What the years leave behind in a large district besides: what left the fleet, a count of all, the ends of months."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from decimal import Decimal

from django.utils import timezone

from core.events import NewEvent
from core.revisions import kept_of
from core.traces import as_left
from inventory.models import (
    Count,
    CountDifference,
    CountLine,
    Custody,
    Disposal,
    FleetMonth,
    School,
    Sighting,
    Tag,
    Whereabouts,
)
from inventory.rules.counting import Outcome, Reason
from inventory.rules.leaving import Way
from inventory.services.counts import COLUMNS
from tests.bench.past import PastEvent
from tests.bench.rows import Big, Draft, insert

COUNTED_AT = 300  # days ago, when everything was back in storage
UNSEEN = 50  # one in so many
MONTHS = 60


def leave(big: Big, drafts: Sequence[Draft], *, generator: random.Random) -> Iterator[PastEvent]:
    """Disposals of what is gone, and its tags revoked."""
    gone = {draft.row.pk: draft for draft in drafts if draft.left_at}
    spans = {span.instrument_id: span for span in Custody.objects.filter(whereabouts=Whereabouts.GONE)}
    rows = insert(
        Disposal(
            instrument=draft.row, custody=spans[pk], way=generator.choice((Way.SOLD, Way.SCRAPPED, Way.TRADED_IN)),
            on=timezone.localdate(draft.left_at), because="Not worth the repair.", value_amount=Decimal(40),
            proceeds_amount=Decimal(generator.randrange(10, 200)), approved_by=big.people["administrator"],
            recorded_at=draft.left_at, actor=big.people["director"],
        )
        for pk, draft in gone.items()
    )  # fmt: skip
    for row in rows:
        draft, beginning = gone[row.instrument_id], kept_of(Disposal).beginning(row)
        yield PastEvent(row.recorded_at, _about(draft, "left_fleet", row, **beginning), "director")
    for tag in Tag.objects.live().filter(instrument__in=list(gone)):
        draft = gone[tag.instrument_id]
        tag.revoked_at, tag.revoked_because = draft.left_at, "left the fleet"
        tag.save(update_fields=["revoked_at", "revoked_because"])
        yield PastEvent(tag.revoked_at, _about(draft, "tag_revoked", tag), "director")
    School.objects.filter(pk=big.schools[0].pk).update(instrument_left_at=big.now - timedelta(days=100))


def _about(draft: Draft, act: str, subject: Disposal | Tag | Sighting, **event_of: object) -> NewEvent:
    row = draft.row
    return NewEvent(act, subject, row.thread, row.school_id, **event_of)  # type: ignore[arg-type]


def count_all(big: Big, drafts: Sequence[Draft]) -> Iterator[PastEvent]:
    """One count of every school, signed, in which one of fifty was not seen."""
    at = (big.now - timedelta(days=COUNTED_AT)).replace(microsecond=0)
    auditor, tech = big.people["auditor"], big.people["tech"]
    theirs: dict[int, list[Draft]] = defaultdict(list)
    for draft in drafts:
        theirs[draft.row.school_id].append(draft)
    counts = insert(
        Count(school=school, expected=len(theirs[school.pk]), opened_at=at, opened_by=tech, counted_at=at,
              signed_at=at, signed_by=tech, second=auditor)
        for school in big.schools
    )  # fmt: skip
    for count in counts:
        after = {"lines": len(theirs[count.school_id]), "rooms": [], "is_blind": False} | as_left(count, *COLUMNS)
        yield PastEvent(at, NewEvent("count_opened", count, "", count.school_id, after=after), "tech")
        yield from _sheet(count, theirs[count.school_id])


def _sheet(count: Count, drafts: Sequence[Draft]) -> Iterator[PastEvent]:
    lines = insert(
        CountLine(
            count=count, instrument=draft.row, room=draft.row.room, whereabouts=Whereabouts.IN_STORE,
            outcome="" if number % UNSEEN else Outcome.NOT_FOUND,
        )
        for number, draft in enumerate(drafts, start=1)
    )  # fmt: skip
    insert(CountDifference(count=count, line=line, reason=Reason.SEEN_LATER) for line in lines if line.outcome)
    seen = [draft for draft, line in zip(drafts, lines, strict=True) if not line.outcome]
    rows = insert(
        Sighting(
            count=count, instrument=draft.row, text=draft.row.asset_number, room=draft.row.room, outcome=Outcome.FOUND,
            seen_at=count.counted_at, actor=count.opened_by,
        )
        for draft in seen
    )  # fmt: skip
    for draft, row in zip(seen, rows, strict=True):
        after = {"count": count.pk, "room": draft.row.room_id, "outcome": str(Outcome.FOUND), "round": 1}
        yield PastEvent(row.seen_at, _about(draft, "sighted", row, after=after), "tech")


def keep_months(big: Big, drafts: Sequence[Draft]) -> None:
    """The last days of five years of months; the amounts are drawn near what the fleet comes to."""
    theirs: dict[int, list[date]] = defaultdict(list)
    for draft in drafts:
        theirs[draft.row.school_id].append(draft.row.registered_at.date())
    ends: list[date] = []
    day = timezone.localdate(big.now).replace(day=1) - timedelta(days=1)
    while len(ends) < MONTHS:
        ends.append(day)
        day = day.replace(day=1) - timedelta(days=1)
    insert(
        FleetMonth(school_id=pk, ends_on=end, instruments=there, repair_amount=Decimal(there * 40 + place),
                   replacement_amount=Decimal(there * 1500))
        for place, end in enumerate(ends)
        for pk, days in theirs.items()
        if (there := sum(day <= end for day in days))
    )  # fmt: skip
