"""Horns kept for their parts, and what is taken off them."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from core.models import User
from inventory.catalog.load import catalog
from inventory.exceptions import RefusedError, UsedFormError
from inventory.models import Instrument, Whereabouts
from inventory.services.event_log import log_event
from inventory.services.state import keep_for_parts
from repairs.exceptions import MatchedPartsError, PartTakenError
from repairs.models import Job, PartsHorn, ShopOrder, TakenPart
from repairs.rules.matched import places_of, set_of
from repairs.services.jobs import give_up_job


@transaction.atomic
def mark_parts_horn(*, instrument: Instrument, because: str, actor: User, at: datetime) -> PartsHorn:
    """Keep it for its parts: it stays in from now on. A job open on it ends with that reason.

    Refuses a horn that is with a student, at a shop, not found or gone, and one that is a parts horn already.
    """
    if not because.strip():
        raise RefusedError("Say why it is kept for parts.")
    job = Job.objects.open().filter(instrument=instrument).first()
    fresh = Instrument.objects.get(pk=instrument.pk)
    if fresh.whereabouts not in {Whereabouts.IN_STORE, Whereabouts.ON_BENCH}:
        raise RefusedError(f"It is {fresh.get_whereabouts_display().lower()}. A parts horn has to be in the house.")
    if ShopOrder.objects.open().filter(instrument=instrument).exists():
        raise RefusedError("An outside shop is being asked about it. Call that off first.")
    if job is not None:
        give_up_job(job=job, because="Kept for parts.", actor=actor, at=at)
    keep_for_parts(instrument=instrument, is_parts_horn=True, actor=actor, at=at)
    horn = PartsHorn.objects.create(instrument=instrument, because=because.strip()[:200], marked_at=at, marked_by=actor)
    _tell(horn, "kept_for_parts", instrument=fresh, actor=actor, at=at)
    return horn


@transaction.atomic
def unmark_parts_horn(*, parts_horn: PartsHorn, because: str, actor: User, at: datetime) -> None:
    """It is to play again after all. Its inspection then says what is missing."""
    if not because.strip():
        raise RefusedError("Say why it is no parts horn any more.")
    ended = PartsHorn.objects.filter(pk=parts_horn.pk, ended_at=None).update(
        ended_at=at, ended_because=because.strip()[:200]
    )
    if not ended:
        raise RefusedError("It is no parts horn any more. Somebody else was faster.")
    instrument = parts_horn.instrument
    keep_for_parts(instrument=instrument, is_parts_horn=False, actor=actor, at=at)
    _tell(parts_horn, "no_parts_horn", instrument=instrument, actor=actor, at=at)


@transaction.atomic
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

    Raises MatchedPartsError for one part of a set, PartTakenError for what is gone. The same batch again takes nothing.
    """
    known = list(TakenPart.objects.filter(batch=batch))
    if any((row.parts_horn_id, row.onto_id) != (parts_horn.pk, onto.pk) for row in known):
        raise UsedFormError
    if known:
        return known
    horn = PartsHorn.objects.select_related("instrument").get(pk=parts_horn.pk)
    if horn.ended_at is not None:
        raise RefusedError("It is no parts horn any more; nothing is taken off it.")
    if onto.pk == horn.instrument_id:
        raise RefusedError("Name the horn that the part goes onto.")
    if onto.whereabouts == Whereabouts.GONE:
        raise RefusedError(f"{onto.asset_number} has left the district.")
    members = _members(horn, part=part, place=place, is_set=is_set)
    gone = set(TakenPart.objects.filter(parts_horn=horn).values_list("part", "place"))
    if gone & set(members):
        raise PartTakenError(
            "That part was taken before." if len(members) == 1 else "Part of the set was taken before."
        )
    rows = [
        TakenPart(
            parts_horn=horn, part=code, place=where, onto=onto, job=Job.objects.open().filter(instrument=onto).first(),
            batch=batch, note=note.strip()[:200], taken_at=at, taken_by=actor,
        )
        for code, where in members
    ]  # fmt: skip
    try:
        with transaction.atomic():
            TakenPart.objects.bulk_create(rows)
    except IntegrityError:
        raise PartTakenError("Somebody took that part at the same moment.") from None
    told = [f"{code} {where}".strip() for code, where in members]
    _tell(horn, "part_taken", instrument=horn.instrument, actor=actor, at=at, parts=told, onto=onto.asset_number)
    _tell(horn, "part_put_on", instrument=onto, actor=actor, at=at, parts=told, off=horn.instrument.asset_number)
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


def _tell(horn: PartsHorn, act: str, *, instrument: Instrument, actor: User, at: datetime, **after: object) -> None:
    log_event(
        instrument=instrument,
        act=act,
        subject=horn,
        actor=actor,
        at=at,
        after=after,
    )


@transaction.atomic
def note_fit(*, taken: TakenPart, fit: str, actor: User, at: datetime) -> None:
    """Say whether a part fitted; all that was taken with it counts alike. The shop remembers it by maker and model."""
    if fit not in {TakenPart.Fit.FITS, TakenPart.Fit.DOES_NOT}:
        raise RefusedError("Say whether it fits.")
    TakenPart.objects.filter(batch=taken.batch).update(fit=fit)
    _tell(taken.parts_horn, "part_fit_noted", instrument=taken.onto, actor=actor, at=at, part=taken.part, fit=str(fit))
