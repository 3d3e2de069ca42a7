"""What becomes of a part that was taken: it fits, it goes back or on a shelf, or it was a slip."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid5

from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.acts import service
from core.days import short_day
from core.events import record_event
from core.models import User
from core.traces import as_left
from inventory.catalog.load.language import stored_language
from inventory.catalog.schema import MISSING_PART
from inventory.exceptions import RefusedError
from inventory.models import Closed, Finding, Instrument, Purpose, Whereabouts
from inventory.services.event_log import log_event
from inventory.services.inspecting import add_bench_findings, close_findings
from inventory.services.state import lock_instruments
from repairs.models import Bench, StockItem, StockMove, TakenPart
from repairs.rules.words import lower_first
from repairs.selectors.donors import taken_words
from repairs.selectors.stock import same_item
from repairs.services.stock import add_stock_item, receive_stock, reverse_stock_move

Went = TakenPart.Went
IN_THE_HOUSE = {Whereabouts.IN_STORE, Whereabouts.ON_BENCH}
ALREADY = {
    Went.BACK: _("%(who)s put it back on %(number)s on %(on)s."),
    Went.SHELF: _("%(who)s put it on a shelf on %(on)s."),
    Went.SLIP: _("%(who)s said on %(on)s that this was entered by mistake."),
}


@service
def part_fits(*, taken: TakenPart, actor: User, at: datetime) -> None:
    """Note that a part fits, and all that was taken with it; the district remembers it by maker and model."""
    rows = _locked(taken)
    _refuse_gone(rows, Went.BACK, Went.SHELF, Went.SLIP)
    _write(rows, fit=TakenPart.Fit.FITS)
    _log_both(rows, off="part_fit_noted", onto="part_fit_noted", fit="fits")


@service(once="nonce")
def part_does_not_fit(
    *,
    taken: TakenPart,
    goes: str,
    actor: User,
    at: datetime,
    nonce: UUID,
    bench: Bench | None = None,
    because: str = "",
) -> TakenPart:
    """Take it off again: back where it came from, or on the shelf of a bench as stock. From a shelf it may go back.

    What the part had repaired stands again where it was put on; back on, its instrument no longer lacks it.
    """
    rows = _locked(taken)
    was, donor, onto = rows[0].went, rows[0].parts_instrument.instrument, rows[0].onto
    _refuse_gone(rows, Went.BACK, Went.SLIP, *([Went.SHELF] if goes == Went.SHELF else []))
    if goes not in {Went.BACK, Went.SHELF}:
        raise RefusedError(gettext("Say where the part goes."))
    if goes == Went.SHELF and bench is None:
        raise RefusedError(gettext("Choose the bench whose shelf it goes on."))
    reason = because.strip()[:200] or rows[0].went_because
    columns: dict[str, Any] = {"fit": TakenPart.Fit.DOES_NOT, "went_because": reason}
    if goes == Went.BACK:
        _refuse_away(donor)
        if not _is_there_again(rows, because=Closed.PUT_BACK, actor=actor, at=at):
            words = gettext(
                "No finding says that %(number)s lacks just this. Put it on a shelf, or inspect %(number)s first."
            )
            raise RefusedError(words % {"number": donor.asset_number})
    if was == Went.NOWHERE:
        _refuse_away(onto)
        _stands_again(rows, actor=actor, at=at)
    item = rows[0].shelf_item
    if bench is not None and goes == Went.SHELF:
        item = columns["shelf_item"] = _item_at(bench, rows, actor=actor, at=at)
    _write(rows, went=goes, went_at=at, went_by=actor, **columns)
    _log_both(
        rows,
        off="part_back_on" if goes == Went.BACK else "part_on_shelf",
        onto="part_off_again" if was == Went.NOWHERE else "",
    )
    if item is not None and goes == Went.SHELF:
        _on_the_shelf(rows[0], item, actor=actor, at=at)
    elif item is not None:
        with stored_language():
            because = gettext("Back on %(number)s.") % {"number": donor.asset_number}
        _off_the_shelf(rows[0], item, because=because, actor=actor, at=at)
    return rows[0]


@service(once="nonce")
def withdraw_taken_part(*, taken: TakenPart, because: str, actor: User, at: datetime, nonce: UUID) -> TakenPart:
    """Say that it was never taken, or not this part, or not for this instrument. Both stand as if it had not been."""
    if not because.strip():
        raise RefusedError(gettext("Say what was wrong."))
    rows = _locked(taken)
    _refuse_gone(rows, Went.BACK, Went.SLIP)
    was = rows[0].went
    _is_there_again(rows, because=Closed.WITHDRAWN, actor=actor, at=at)
    if was != Went.SHELF:
        _stands_again(rows, actor=actor, at=at)
    _write(rows, went=Went.SLIP, went_at=at, went_by=actor, went_because=because.strip()[:200])
    _log_both(rows, off="part_slip", onto="part_slip")
    if (item := rows[0].shelf_item) is not None:
        _off_the_shelf(rows[0], item, because=because, actor=actor, at=at)
    return rows[0]


def _locked(taken: TakenPart) -> list[TakenPart]:
    """Everything taken with it as it is now, with both instruments locked."""
    onto, donor = lock_instruments(taken.onto_id, taken.parts_instrument.instrument_id)
    rows = list(TakenPart.objects.filter(batch=taken.batch).for_lines())
    for row in rows:
        row.onto, row.parts_instrument.instrument = onto, donor
    return rows


def _write(rows: Sequence[TakenPart], **columns: Any) -> None:
    TakenPart.objects.filter(pk__in=[row.pk for row in rows]).update(**columns)
    for row in rows:
        for name, value in columns.items():
            setattr(row, name, value)


def _refuse_gone(rows: Sequence[TakenPart], *places: str) -> None:
    """Refuse what somebody else has settled, saying who and when."""
    first = rows[0]
    if first.went not in places or first.went_at is None:
        return
    values = {"who": first.went_by, "number": first.parts_instrument.instrument.asset_number}
    values["on"] = short_day(timezone.localdate(first.went_at))
    raise RefusedError(ALREADY[Went(first.went)] % values)


def _refuse_away(instrument: Instrument) -> None:
    if instrument.whereabouts not in IN_THE_HOUSE:
        values = {"number": instrument.asset_number, "where": instrument.get_whereabouts_display().lower()}
        raise RefusedError(gettext("%(number)s is %(where)s. It must be in storage or on the bench.") % values)


def _is_there_again(rows: Sequence[TakenPart], *, because: Closed, actor: User, at: datetime) -> int:
    """Close what calls the parts missing where they came from; return how many findings that were."""
    donor = rows[0].parts_instrument.instrument
    back = {(row.part, row.place) for row in rows}
    whole = {part.code for part in donor.parts if part.places} - {
        part.code for part in donor.parts for place in part.places if (part.code, place.code) not in back
    }
    missing = Finding.objects.filter(instrument=donor, fault=MISSING_PART, part__in={part for part, _ in back})
    keys = [one.pk for one in missing.standing() if (one.part, one.place) in back or one.part in whole]
    return close_findings(
        instrument=donor, finding_ids=keys, because=because, reference=f"taken:{rows[0].pk}", actor=actor, at=at
    )


def _stands_again(rows: Sequence[TakenPart], *, actor: User, at: datetime) -> None:
    """Record again what was repaired at these places since the parts were put on: they are off again."""
    first, places = rows[0], {(row.part, row.place) for row in rows}
    repaired = Finding.objects.filter(
        instrument=first.onto, part__in={part for part, _ in places}, found_at__lte=first.taken_at,
        closed_because=Closed.REPAIRED, closed_at__gte=first.taken_at,
    )  # fmt: skip
    again = {
        (one.part, one.place, one.fault): {
            "part": one.part, "places": [one.place], "fault": one.fault, "severity": one.severity,
            "detail": one.detail, "note": one.note,
        }
        for one in repaired.order_by("closed_at", "pk")
        if not one.place or (one.part, one.place) in places
    }  # fmt: skip
    if again:
        found = list(again.values())
        add_bench_findings(instrument=first.onto, findings=found, purpose=Purpose.PART, actor=actor, at=at)


def _item_at(bench: Bench, rows: Sequence[TakenPart], *, actor: User, at: datetime) -> StockItem:
    """The stock item of a bench that the part is booked in as, with what it fits; a set is one."""
    donor = rows[0].parts_instrument.instrument
    with stored_language():
        words, unit = taken_words(rows), gettext("each")
    known: dict[str, Any] = {"name": capfirst(words)[:80]}
    known |= {"fits_maker": donor.maker, "fits_model": donor.model}
    there = same_item(StockItem(**known), bench=bench)
    return there or add_stock_item(bench=bench, unit=unit, actor=actor, at=at, **known)


def _on_the_shelf(taken: TakenPart, item: StockItem, *, actor: User, at: datetime) -> None:
    values = {"donor": taken.parts_instrument.instrument.asset_number, "number": taken.onto.asset_number}
    with stored_language():
        note = gettext("Off %(donor)s, did not fit %(number)s.") % values
    receive_stock(item=item, quantity=Decimal(1), nonce=_receipt_of(taken), note=note, actor=actor, at=at)


def _off_the_shelf(taken: TakenPart, item: StockItem, *, because: str, actor: User, at: datetime) -> None:
    """Reverse its receipt, unless somebody has; refused if none of it is left."""
    move = StockMove.objects.filter(nonce=_receipt_of(taken), reversed_by=None).first()
    if move is None:
        return
    key = uuid5(taken.batch, "off the shelf")
    reversal = reverse_stock_move(move=move, because=because, nonce=key, actor=actor, at=at, leaves_now=True)
    if reversal.after_quantity < 0:
        words = gettext("There is no %(item)s left at %(bench)s. Count it first if there is.")
        raise RefusedError(words % {"item": lower_first(str(item)), "bench": item.bench})


def _receipt_of(taken: TakenPart) -> UUID:
    """The key of the move by which it went into stock."""
    return uuid5(taken.batch, "on the shelf")


def _now(row: TakenPart) -> dict[str, Any]:
    return as_left(row, "fit", "went", "went_at", "shelf_item_id")


def _log_both(rows: Sequence[TakenPart], *, off: str, onto: str, **more: str) -> None:
    """Tell both histories, each with the part in words and the other instrument."""
    first = rows[0]
    donor, same = first.parts_instrument.instrument, {"named": taken_words(rows), **more}
    log_event(instrument=donor, act=off, subject=first, after={**same, "onto": first.onto.asset_number, **_now(first)})
    for row in rows[1:]:  # its history has said it once
        record_event(act=off, subject=row, tenant=donor.school_id, after=_now(row))
    if onto:
        log_event(instrument=first.onto, act=onto, subject=first, after={**same, "off": donor.asset_number})
