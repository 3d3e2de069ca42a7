"""Instruments kept for parts, and what is taken off them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import lock_row, service
from core.days import short_day
from core.events import already
from core.models import User
from core.traces import NOW
from inventory.catalog.load import catalog
from inventory.catalog.load.language import stored_language
from inventory.catalog.schema import MISSING_PART
from inventory.exceptions import RefusedError
from inventory.models import Instrument, Purpose, Severity, Whereabouts
from inventory.services.event_log import log_event
from inventory.services.inspecting import add_bench_findings
from inventory.services.state import keep_for_parts, lock_instrument, lock_instruments
from repairs.exceptions import MatchedPartsError, PartTakenError
from repairs.models import Job, PartsInstrument, ShopOrder, TakenPart
from repairs.rules.matched import Spot, lacking, missing_spots, places_of, set_of, spots_words, still_there
from repairs.rules.words import lower_first
from repairs.selectors.donors import out_of, standing_findings, taken_from, taken_words, unsaid_parts
from repairs.services.approving import check_may_approve
from repairs.services.jobs import give_up_job


@service
def mark_parts_instrument(*, instrument: Instrument, because: str, actor: User, at: datetime) -> PartsInstrument:
    """Keep it for its parts: it stays in from now on. A job open on it ends with that reason.

    Giving an instrument up is a decision (``decide_worth``), so whoever carries it out may approve it. Refuses an
    instrument that is with a student, at a shop, not found or gone, and one that is kept for parts already.
    """
    fresh = lock_instrument(instrument)
    check_may_approve(actor=actor, school_id=fresh.school_id)
    if not because.strip():
        raise RefusedError(gettext("Say why it is kept for parts."))
    with stored_language():
        ended = gettext("Kept for parts.")
    end_work(
        instrument=fresh, because=ended, actor=actor, at=at,
        elsewhere=gettext("It is %(where)s. To be kept for parts, it must be in storage or on the bench."),
    )  # fmt: skip
    keep_for_parts(instrument=fresh, is_parts_instrument=True, actor=actor, at=at)
    parts_instrument = PartsInstrument.objects.create(
        instrument=fresh, because=because.strip()[:200], marked_at=at, marked_by=actor
    )
    _log(parts_instrument, "kept_for_parts", instrument=fresh)
    return parts_instrument


def end_work(*, instrument: Instrument, because: str, elsewhere: str, actor: User, at: datetime) -> None:
    """End the job of a locked instrument that is given up; refuse one that is ``elsewhere``, or has an open order."""
    if instrument.whereabouts not in {Whereabouts.IN_STORE, Whereabouts.ON_BENCH}:
        raise RefusedError(elsewhere % {"where": instrument.get_whereabouts_display().lower()})
    if ShopOrder.objects.open().filter(instrument=instrument).exists():
        raise RefusedError(gettext("It has an open shop order. Cancel that first."))
    job = Job.objects.open().filter(instrument=instrument).first()
    if job is not None:
        give_up_job(job=job, because=because, actor=actor, at=at)


@service
def unmark_parts_instrument(*, parts_instrument: PartsInstrument, because: str, actor: User, at: datetime) -> None:
    """Put it back in service. Its inspection then says what is missing."""
    if not because.strip():
        raise RefusedError(gettext("Say why it goes back in service."))
    instrument = lock_instrument(parts_instrument.instrument_id)
    ended = PartsInstrument.objects.filter(pk=parts_instrument.pk, ended_at=None).update(
        ended_at=at, ended_because=because.strip()[:200]
    )
    if not ended:
        words = gettext("Somebody else has already put it back in service.")
        raise RefusedError(already(words, subject=parts_instrument, acts=["no_parts_horn"]))
    keep_for_parts(instrument=instrument, is_parts_instrument=False, actor=actor, at=at)
    _log(parts_instrument, "no_parts_horn", instrument=instrument)


def _taken_before(_row: None, *, batch: UUID, **_posted: object) -> list[TakenPart]:
    """What the same form took when it was posted before."""
    return list(TakenPart.objects.filter(batch=batch))


@service(once="batch", again=_taken_before)
def take_part(
    *,
    parts_instrument: PartsInstrument,
    part: str,
    onto: Instrument,
    batch: UUID,
    actor: User,
    at: datetime,
    place: str = "",
    is_set: bool = False,
    note: str = "",
) -> list[TakenPart]:
    """Take a part off for another instrument, or with ``is_set`` all that is left of its set; it is missing then.

    Raises MatchedPartsError for one part of a set, PartTakenError for what is gone.
    """
    taker, donor = lock_instruments(onto, parts_instrument.instrument_id)
    fresh = lock_row(parts_instrument)
    fresh.instrument = donor
    if fresh.ended_at is not None:
        raise RefusedError(gettext("It is back in service, so nothing can be taken off it."))
    if onto.pk == donor.pk:
        raise RefusedError(gettext("Choose another instrument for the part to go onto."))
    for one in (taker, donor):
        if one.whereabouts == Whereabouts.GONE:
            raise RefusedError(gettext("%(number)s has left the district.") % {"number": one.asset_number})
    members = _still_there(fresh, _members(fresh, part=part, place=place, is_set=is_set))
    _refuse_what_does_not_go_on(members, donor=donor, onto=taker, because=note)
    job = Job.objects.open().filter(instrument=onto).first()
    rows = [
        TakenPart(
            parts_instrument=fresh, part=code, place=where, onto=onto, job=job,
            batch=batch, note=note.strip()[:200], taken_at=at, taken_by=actor,
        )
        for code, where in members
    ]  # fmt: skip
    TakenPart.objects.bulk_create(rows)
    names = [f"{code} {where}".strip() for code, where in members]
    named: dict[str, Any] = {"parts": names, "named": taken_words(rows)}
    taken = {"taken": [row.pk for row in rows], NOW: {"onto_id": onto.pk, "fit": "", "went": "", "shelf_item_id": None}}
    _log(fresh, "part_taken", instrument=donor, onto=onto.asset_number, **named, **taken)
    _log(fresh, "part_put_on", instrument=taker, off=donor.asset_number, **named)
    _call_missing(rows, actor=actor, at=at)
    return rows


def _still_there(parts_instrument: PartsInstrument, members: tuple[Spot, ...]) -> tuple[Spot, ...]:
    """What of these it still has; refused if that is nothing, with who took it and when."""
    parts = parts_instrument.instrument.parts
    missing = missing_spots(standing_findings(parts_instrument.instrument))
    if left := still_there(members, missing=missing | out_of(parts_instrument)):
        return left
    words = spots_words(parts, members, sets=catalog().fitted_sets)
    gone = taken_from(parts_instrument).filter(part=members[0][0], place=members[0][1]).first()
    if gone is None:
        raise PartTakenError(gettext("It no longer has this: %(parts)s.") % {"parts": words})
    values = {"parts": words, "number": gone.onto.asset_number, "who": gone.taken_by.name}
    values["on"] = short_day(timezone.localdate(gone.taken_at))
    raise PartTakenError(gettext("Already taken for %(number)s by %(who)s on %(on)s: %(parts)s.") % values)


def _refuse_what_does_not_go_on(
    members: tuple[Spot, ...], *, donor: Instrument, onto: Instrument, because: str
) -> None:
    """Refuse a part for which the other instrument has no place; on another kind of the family it needs a reason.

    The catalog does not say which kinds share a part, and a piece of the same name may have another size.
    """
    lacks = lacking(members, parts=onto.parts)
    values = {"number": onto.asset_number, "kind": lower_first(onto.kind.name)}
    values |= {"donor": donor.asset_number, "of": lower_first(donor.kind.name)}
    if onto.kind.family != donor.kind.family or len(lacks) == len(members):
        values["parts"] = spots_words(donor.parts, members, sets=catalog().fitted_sets)
        words = gettext("%(number)s (%(kind)s) has no place for this part of %(donor)s (%(of)s): %(parts)s.")
        raise RefusedError(words % values)
    if (lacks or onto.kind_code != donor.kind_code) and not because.strip():
        words = gettext(
            "%(number)s (%(kind)s) is built differently from %(donor)s (%(of)s). Say in the note why it fits anyway."
        )
        raise RefusedError(words % values)


def _call_missing(rows: Sequence[TakenPart], *, actor: User, at: datetime) -> None:
    """Record what was taken off an instrument as missing there, as an inspection would."""
    places: dict[str, list[str]] = {}
    for row in rows:
        places.setdefault(row.part, []).append(row.place)
    fault: dict[str, Any] = {"fault": MISSING_PART, "severity": Severity.MODERATE}
    with stored_language():
        fault["note"] = gettext("Taken for %(number)s.") % {"number": rows[0].onto.asset_number}
    findings = [{"part": part, "places": where, **fault} for part, where in places.items()]
    donor = rows[0].parts_instrument.instrument
    add_bench_findings(instrument=donor, findings=findings, purpose=Purpose.PART, actor=actor, at=at)


@service
def call_taken_parts_missing(*, actor: User | None, at: datetime) -> int:
    """Record what was taken before such parts counted as missing; return how many parts."""
    by_batch: dict[UUID, list[TakenPart]] = {}
    for row in unsaid_parts():
        by_batch.setdefault(row.batch, []).append(row)
    lock_instruments(*{rows[0].parts_instrument.instrument_id for rows in by_batch.values()})
    for rows in by_batch.values():
        _call_missing(rows, actor=rows[0].taken_by, at=at)
    return sum(map(len, by_batch.values()))


def _members(parts_instrument: PartsInstrument, *, part: str, place: str, is_set: bool) -> tuple[Spot, ...]:
    parts = parts_instrument.instrument.parts
    found = next((one for one in parts if one.code == part), None)
    if found is None:
        number = parts_instrument.instrument.asset_number
        raise RefusedError(gettext("%(number)s has no such part.") % {"number": number})
    matched = set_of(parts, part=part, sets=catalog().fitted_sets)
    if matched is not None:
        if not is_set:
            words = gettext("The %(names)s stay together: %(because)s. Take the whole set.")
            raise MatchedPartsError(words % {"names": matched.name, "because": matched.because})
        return matched.members
    if (part, place) not in places_of(found):
        places = ", ".join(one.name for one in found.places)
        raise RefusedError(gettext("Say which %(part)s: %(places)s.") % {"part": found.name, "places": places})
    return ((part, place),)


def _log(parts_instrument: PartsInstrument, act: str, *, instrument: Instrument, **after: object) -> None:
    log_event(instrument=instrument, act=act, subject=parts_instrument, after=after)
