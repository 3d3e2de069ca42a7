"""Physical counts: open, record what is seen, count differences again, settle and sign."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from django.db.models import Q
from django.utils.translation import gettext

from core.acts import lock_row, service
from core.events import already, record_event
from core.models import User
from core.traces import as_left
from inventory.access import people_who_may
from inventory.exceptions import RefusedError
from inventory.models import (
    Count,
    CountDifference,
    CountLine,
    Instrument,
    Room,
    School,
    Sighting,
    Whereabouts,
)
from inventory.rules.counting import REASONS, Outcome, Reason, outcome_of
from inventory.selectors.counts import (
    Difference,
    Seen,
    differences_of,
    instruments_to_count,
    progress_of,
    sightings_of,
    unseen_outcomes,
)
from inventory.services.event_log import log_event
from inventory.services.registering import change_instrument
from inventory.services.state import lock_instrument, lock_instruments, move_instruments, refresh_state, write

LONGEST_TEXT = 120
LONGEST_NOTE = 200
COLUMNS = ("counted_at", "dropped_at", "signed_at", "signed_by_id", "second_id", "round")


class Settled(NamedTuple):
    """How one difference is settled."""

    reason: Reason
    note: str = ""


@service(once="nonce")
def open_count(
    *,
    school: School,
    actor: User,
    at: datetime,
    rooms: Collection[Room] = (),
    is_blind: bool = False,
    nonce: UUID | None = None,
) -> Count:
    """Open a count of a school, or of some of its rooms. What is expected is fixed now, as the register has it."""
    if any(room.school_id != school.pk for room in rooms):
        raise RefusedError(gettext("Choose rooms of %(school)s.") % {"school": school})
    if there := Count.objects.open().filter(school=school).first():
        words = gettext("A count of %(school)s is under way. Finish or cancel it first.") % {"school": school}
        raise RefusedError(already(words, subject=there, acts=["count_opened"]))
    rows = list(instruments_to_count(school=school, rooms=rooms).values_list("pk", "room_id", "whereabouts"))
    if not rows:
        raise RefusedError(gettext("The register has no instrument there, so there is nothing to count."))
    count = Count.objects.create(
        school=school,
        is_whole=not rooms,
        is_blind=is_blind,
        expected=sum(where == Whereabouts.IN_STORE for _pk, _room, where in rows),
        opened_at=at,
        opened_by=actor,
    )
    if rooms:
        count.rooms.set(rooms)
    CountLine.objects.bulk_create(
        [CountLine(count=count, instrument_id=pk, room_id=room, whereabouts=where) for pk, room, where in rows],
        batch_size=1000,
    )
    record_event(
        act="count_opened",
        subject=count,
        tenant=school.pk,
        after={"lines": len(rows), "rooms": sorted(room.pk for room in rooms), "is_blind": is_blind}
        | as_left(count, *COLUMNS),
    )
    return count


@service(once="nonce")
def open_counts(
    *,
    schools: Sequence[School],
    actor: User,
    at: datetime,
    rooms: Collection[Room] = (),
    is_blind: bool = False,
    nonce: UUID | None = None,
) -> Count:
    """Open a count of each of these schools, all or none, and return the first; ``rooms`` are for a single one."""
    counts = [open_count(school=school, rooms=rooms, is_blind=is_blind, actor=actor, at=at) for school in schools]
    return counts[0]


def open_count_row(count: Count, *, is_counting: bool) -> Count:
    """The count, locked, where it is open and still counted, or counted and not yet signed."""
    fresh = lock_row(count, "school")
    if not fresh.is_open or fresh.is_counting != is_counting:
        words = gettext("This count has moved on in the meantime, so nothing was changed. Reload the page.")
        raise RefusedError(already(words, subject=fresh, acts=["counting_ended", "count_signed", "count_dropped"]))
    return fresh


@service
def record_sighting(
    *,
    count: Count,
    text: str,
    instrument: Instrument | None,
    actor: User,
    at: datetime,
    room: Room | None = None,
    is_typed: bool = True,
) -> Seen:
    """Record that something was seen. The same instrument, or the same unknown number, is recorded once.

    Of what was a difference in an earlier round the new sighting takes the place of the old one.
    """
    row = lock_instrument(instrument) if instrument is not None else None
    fresh = open_count_row(count, is_counting=True)
    if room is not None and room.school_id != fresh.school_id:
        raise RefusedError(gettext("Choose a room of %(school)s.") % {"school": fresh.school})
    text = text.strip()[:LONGEST_TEXT]
    same = Q(instrument=row) if row else Q(instrument=None, text__iexact=text)
    before = sightings_of(fresh).filter(same).select_related("actor", "room", "instrument").first()
    if before is not None:
        if before.round == fresh.round or before.outcome not in REASONS:
            return Seen(before, is_new=False)
        _undo(before, row, at=at)
    outcome = Outcome.UNKNOWN
    if row is not None:
        outcome = outcome_of(
            whereabouts=row.whereabouts,
            is_same_school=row.school_id == fresh.school_id,
            register_room=row.room_id,
            seen_room=room.pk if room else None,
            is_expected=CountLine.objects.filter(count=fresh, instrument=row).exists(),
        )
    sighting = Sighting.objects.create(
        count=fresh,
        round=fresh.round,
        instrument=row,
        text=text,
        is_typed=is_typed,
        room=room,
        outcome=outcome,
        seen_at=at,
        actor=actor,
    )
    after = {"count": fresh.pk, "room": room.pk if room else None, "outcome": str(outcome), "round": fresh.round}
    if row is None:
        record_event(act="sighted", subject=sighting, tenant=fresh.school_id, after=after)
    else:
        write(row, seen_at=at)
        log_event(instrument=row, act="sighted", subject=sighting, school=fresh.school_id, after=after)
    return Seen(sighting, is_new=True)


def _undo(sighting: Sighting, instrument: Instrument | None, *, at: datetime) -> None:
    sighting.undone_at = at
    sighting.save(update_fields=["undone_at"])
    record_event(
        act="sighting_undone",
        subject=sighting,
        thread=instrument.thread if instrument else "",
        tenant=sighting.count.school_id,
    )


@service
def undo_sighting(*, sighting: Sighting, actor: User, at: datetime) -> None:
    """Take back a sighting that was a mistake; when the instrument was last seen is as it was before."""
    row = lock_instrument(sighting.instrument_id) if sighting.instrument_id else None
    open_count_row(sighting.count, is_counting=True)
    fresh = lock_row(sighting, "count")
    if fresh.undone_at is not None:
        return
    _undo(fresh, row, at=at)
    if row is not None:
        refresh_state(instrument=row, actor=actor, at=at)


@service
def end_counting(*, count: Count, actor: User, at: datetime) -> Count:
    """Everything has been looked for: what differs is settled next, or counted again."""
    fresh = open_count_row(count, is_counting=True)
    if not sightings_of(fresh).exists():
        raise RefusedError(gettext("Nothing has been counted yet."))
    fresh.counted_at = at
    fresh.save(update_fields=["counted_at"])
    seen = {str(outcome): n for outcome, n in sorted(progress_of(fresh).seen.items())}
    record_event(
        act="counting_ended", subject=fresh, tenant=fresh.school_id, after={"seen": seen} | as_left(fresh, *COLUMNS)
    )
    return fresh


@service
def count_again(*, count: Count, actor: User, at: datetime) -> Count:
    """Count the differences again: a new sighting of one takes the place of the old."""
    fresh = open_count_row(count, is_counting=False)
    if not differences_of(fresh):
        raise RefusedError(gettext("Nothing differs, so there is nothing to count again."))
    fresh.counted_at, fresh.round = None, fresh.round + 1
    fresh.save(update_fields=["counted_at", "round"])
    record_event(act="count_again", subject=fresh, tenant=fresh.school_id, after=as_left(fresh, *COLUMNS))
    return fresh


@service
def drop_count(*, count: Count, actor: User, at: datetime) -> Count:
    """Cancel a count: the register stays as it is."""
    fresh = lock_row(count)
    if not fresh.is_open:
        words = gettext("This count is already signed or canceled. Nothing was changed.")
        raise RefusedError(already(words, subject=fresh, acts=["count_signed", "count_dropped"]))
    fresh.dropped_at = at
    fresh.save(update_fields=["dropped_at"])
    record_event(act="count_dropped", subject=fresh, tenant=fresh.school_id, after=as_left(fresh, *COLUMNS))
    return fresh


@service
def sign_count(*, count: Count, settled: Mapping[str, Settled], second: User, actor: User, at: datetime) -> Count:
    """Settle every difference with its reason and close the count, in one act. The register changes here alone.

    ``second`` is another person than ``actor`` who may count at the school; the page has asked for that person's
    password. What is missing is recorded as not found, what stays in another room gets that room, and what was not
    found before is in storage again.
    """
    if second.pk == actor.pk:
        raise RefusedError(gettext("The second signature must be somebody else's."))
    if not people_who_may("inventory.count_instruments", school_id=count.school_id).filter(pk=second.pk).exists():
        raise RefusedError(gettext("The second signature must be from somebody who may count at this school."))
    touched = [one.instrument for one in differences_of(count) if one.instrument is not None]
    lock_instruments(*touched)
    fresh = open_count_row(count, is_counting=False)
    differences, unseen = differences_of(fresh), unseen_outcomes(fresh)
    known = {row.pk for row in touched}
    if any(one.instrument is not None and one.instrument.pk not in known for one in differences):
        raise RefusedError(gettext("Something has changed in the meantime. Reload the page."))
    for one in differences:
        _check(one, settled.get(one.key))
    _act(differences, settled, reference=f"count:{fresh.pk}", actor=actor, at=at)
    by_outcome: dict[Outcome, list[int]] = {}
    for line, outcome in unseen:
        by_outcome.setdefault(outcome, []).append(line.pk)
    for outcome, keys in by_outcome.items():
        CountLine.objects.filter(pk__in=keys).update(outcome=outcome)
    CountDifference.objects.bulk_create(
        CountDifference(
            count=fresh,
            line=one.line,
            sighting=one.sighting,
            reason=settled[one.key].reason,
            note=" ".join(settled[one.key].note.split())[:LONGEST_NOTE],
        )
        for one in differences
    )
    fresh.signed_at, fresh.signed_by, fresh.second = at, actor, second
    fresh.save(update_fields=["signed_at", "signed_by", "second"])
    totals = {
        "expected": fresh.expected,
        "seen": {str(outcome): n for outcome, n in sorted(progress_of(fresh).seen.items())},
        "unseen": {str(outcome): len(keys) for outcome, keys in sorted(by_outcome.items())},
        "differences": len(differences),
        "reasons": dict(sorted(Counter(str(settled[one.key].reason) for one in differences).items())),
    }
    record_event(act="count_signed", subject=fresh, tenant=fresh.school_id, after=totals | as_left(fresh, *COLUMNS))
    return fresh


def _check(one: Difference, settled: Settled | None) -> None:
    if settled is None:
        raise RefusedError(gettext("Say what to do with %(number)s.") % {"number": one.number})
    if settled.reason not in one.reasons:
        raise RefusedError(gettext("%(number)s cannot be settled that way.") % {"number": one.number})


def _act(
    differences: Sequence[Difference], settled: Mapping[str, Settled], *, reference: str, actor: User, at: datetime
) -> None:
    """Change the register as the reasons say: three of them do, the others lead to acts of their own."""
    chosen = {one.key: settled[one.key].reason for one in differences}
    missing = {one.instrument: reference for one in differences if one.instrument and chosen[one.key] is Reason.MISSING}
    if missing:
        move_instruments(
            references=missing, expected=Whereabouts.IN_STORE, to=Whereabouts.NOT_FOUND, actor=actor, at=at
        )
    back = {one.instrument: reference for one in differences if one.instrument and chosen[one.key] is Reason.BACK}
    if back:
        move_instruments(references=back, expected=Whereabouts.NOT_FOUND, to=Whereabouts.IN_STORE, actor=actor, at=at)
    for one in differences:
        stays = chosen[one.key] in (Reason.MOVED_HERE, Reason.BACK)
        if stays and one.instrument and one.sighting and one.sighting.room:
            place = one.instrument.place if one.instrument.room_id == one.sighting.room_id else ""
            change_instrument(instrument=one.instrument, room=one.sighting.room, place=place, actor=actor, at=at)
