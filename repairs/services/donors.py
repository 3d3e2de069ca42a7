"""Horns kept for their parts, and what is taken off them."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from core.acts import lock_row, service
from core.models import User
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError
from inventory.models import Instrument, Whereabouts
from inventory.services.event_log import log_event
from inventory.services.state import keep_for_parts, lock_instrument, lock_instruments
from repairs.exceptions import MatchedPartsError, PartTakenError
from repairs.models import Job, PartsHorn, ShopOrder, TakenPart
from repairs.rules.matched import places_of, set_of
from repairs.services.jobs import give_up_job


@service
def mark_parts_horn(*, instrument: Instrument, because: str, actor: User, at: datetime) -> PartsHorn:
    """Keep it for its parts: it stays in from now on. A job open on it ends with that reason.

    Refuses a horn that is with a student, at a shop, not found or gone, and one that is a parts horn already.
    """
    if not because.strip():
        raise RefusedError("Say why it is kept for parts.")
    fresh = lock_instrument(instrument)
    job = Job.objects.open().filter(instrument=fresh).first()
    if fresh.whereabouts not in {Whereabouts.IN_STORE, Whereabouts.ON_BENCH}:
        raise RefusedError(f"It is {fresh.get_whereabouts_display().lower()}. A parts horn has to be in the house.")
    if ShopOrder.objects.open().filter(instrument=instrument).exists():
        raise RefusedError("An outside shop is being asked about it. Call that off first.")
    if job is not None:
        give_up_job(job=job, because="Kept for parts.", actor=actor, at=at)
    keep_for_parts(instrument=fresh, is_parts_horn=True, actor=actor, at=at)
    horn = PartsHorn.objects.create(instrument=fresh, because=because.strip()[:200], marked_at=at, marked_by=actor)
    _log(horn, "kept_for_parts", instrument=fresh)
    return horn


@service
def unmark_parts_horn(*, parts_horn: PartsHorn, because: str, actor: User, at: datetime) -> None:
    """It is to play again after all. Its inspection then says what is missing."""
    if not because.strip():
        raise RefusedError("Say why it is no parts horn any more.")
    instrument = lock_instrument(parts_horn.instrument_id)
    ended = PartsHorn.objects.filter(pk=parts_horn.pk, ended_at=None).update(
        ended_at=at, ended_because=because.strip()[:200]
    )
    if not ended:
        raise RefusedError("It is no parts horn any more. Somebody else was faster.")
    keep_for_parts(instrument=instrument, is_parts_horn=False, actor=actor, at=at)
    _log(parts_horn, "no_parts_horn", instrument=instrument)


def _taken_before(_row: None, *, batch: UUID, **_posted: object) -> list[TakenPart]:
    """What the same form took when it was posted before."""
    return list(TakenPart.objects.filter(batch=batch))


@service(once="batch", again=_taken_before)
def take_part(
    *,
    parts_horn: PartsHorn,
    part: str,
    onto: Instrument,
    batch: UUID,
    actor: User,
    at: datetime,
    place: str = "",
    is_set: bool = False,
    note: str = "",
) -> list[TakenPart]:
    """Take a part off a parts horn for another horn, or with ``is_set`` everything fitted to it.

    Raises MatchedPartsError for one part of a set, PartTakenError for what is gone.
    """
    taker, _ = lock_instruments(onto, parts_horn.instrument_id)
    horn = lock_row(parts_horn, "instrument")
    if horn.ended_at is not None:
        raise RefusedError("It is no parts horn any more; nothing is taken off it.")
    if onto.pk == horn.instrument_id:
        raise RefusedError("Name the horn that the part goes onto.")
    if taker.whereabouts == Whereabouts.GONE:
        raise RefusedError(f"{onto.asset_number} has left the district.")
    members = _members(horn, part=part, place=place, is_set=is_set)
    gone = set(TakenPart.objects.filter(parts_horn=horn).values_list("part", "place"))
    if gone & set(members):
        raise PartTakenError(
            "That part was taken before." if len(members) == 1 else "Part of the set was taken before."
        )
    job = Job.objects.open().filter(instrument=onto).first()
    rows = [
        TakenPart(
            parts_horn=horn, part=code, place=where, onto=onto, job=job,
            batch=batch, note=note.strip()[:200], taken_at=at, taken_by=actor,
        )
        for code, where in members
    ]  # fmt: skip
    TakenPart.objects.bulk_create(rows)
    told = [f"{code} {where}".strip() for code, where in members]
    _log(horn, "part_taken", instrument=horn.instrument, parts=told, onto=onto.asset_number)
    _log(horn, "part_put_on", instrument=onto, parts=told, off=horn.instrument.asset_number)
    return rows


def _members(horn: PartsHorn, *, part: str, place: str, is_set: bool) -> tuple[tuple[str, str], ...]:
    parts = horn.instrument.parts
    found = next((one for one in parts if one.code == part), None)
    if found is None:
        raise RefusedError(f"A {horn.instrument.kind.name.lower()} has no such part.")
    matched = set_of(parts, part=part, sets=catalog().fitted_sets)
    if matched is not None:
        if not is_set:
            raise MatchedPartsError(f"The {matched.name} stay together: {matched.because}. Take the whole set.")
        return matched.members
    if (part, place) not in places_of(found):
        raise RefusedError(f"Say which {found.name}: " + ", ".join(one.name for one in found.places) + ".")
    return ((part, place),)


def _log(horn: PartsHorn, act: str, *, instrument: Instrument, **after: object) -> None:
    log_event(instrument=instrument, act=act, subject=horn, after=after)


@service
def note_fit(*, taken: TakenPart, fit: str, actor: User, at: datetime) -> None:
    """Say whether a part fitted; all that was taken with it counts alike. The shop remembers it by maker and model."""
    if fit not in {TakenPart.Fit.FITS, TakenPart.Fit.DOES_NOT}:
        raise RefusedError("Say whether it fits.")
    lock_instrument(taken.onto_id)
    TakenPart.objects.filter(batch=taken.batch).update(fit=fit)
    _log(taken.parts_horn, "part_fit_noted", instrument=taken.onto, part=taken.part, fit=str(fit))
