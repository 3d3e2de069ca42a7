"""A season plan starts: jobs are opened, shops are asked and what it buys is asked for, all in one act."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import NAMESPACE_OID, UUID, uuid5

from django.utils.dateparse import parse_date
from django.utils.translation import gettext

from core.acts import service
from core.models import PostedForm, User
from inventory.catalog.load.language import stored_language
from inventory.exceptions import RefusedError
from inventory.models import Finding, Instrument, School, Whereabouts
from inventory.services.purchasing import Wanted, not_requested, request_purchase
from inventory.services.state import lock_instruments
from repairs.models import Bench, Job, ShopOrder
from repairs.services.jobs import open_job
from repairs.services.orders import ask_shop
from repairs.services.refusals import check_allowed, check_in_use


@dataclass(frozen=True, slots=True)
class SeasonStart:
    """When a plan started, and what of it did not, with why: instruments by number, requests by school."""

    at: datetime
    stopped: dict[str, str]


# Each with what ask_shop takes; without a shop where none is known.
Orders = Sequence[tuple[Instrument, Mapping[str, Any]]]


def _started_before(
    _row: Any,
    *,
    instruments: Collection[Instrument],
    actor: User,
    nonce: UUID | None,
    orders: Orders = (),
    **_rest: Any,
) -> SeasonStart:
    at = PostedForm.objects.values_list("posted_at", flat=True).get(key=str(nonce))
    opened = set(Job.objects.filter(opened_at=at, opened_by=actor).values_list("instrument_id", flat=True))
    opened |= set(ShopOrder.objects.filter(asked_at=at, asked_by=actor).values_list("instrument_id", flat=True))
    rows, to_send = _locked(instruments, orders)
    stopped = reasons_not_to_start([row for row in rows if row.pk not in opened])
    return SeasonStart(at, stopped | _reasons_not_to_ask([one for one in to_send if one[0].pk not in opened]))


def _locked(instruments: Collection[Instrument], orders: Orders) -> tuple[list[Instrument], Orders]:
    rows = lock_instruments(*instruments, *(row for row, _ in orders))
    asked = [asked for _, asked in orders]
    return rows[: len(instruments)], list(zip(rows[len(instruments) :], asked, strict=True))


@service(once="nonce", again=_started_before)
def start_season(
    *,
    instruments: Collection[Instrument],
    requests: Sequence[tuple[School, Mapping[str, Any]]],
    needed_by: date | None,
    actor: User,
    at: datetime,
    orders: Orders = (),
    nonce: UUID | None = None,
) -> SeasonStart:
    """Open a job on each instrument at the first bench of its school, write the ``orders``, file what each school asks for.

    An order is written as a person writes it, and waits to be sent.
    ``requests`` are those of a page of the plan, less what is requested already. What cannot start now is skipped, and
    why is in the answer; refuses where nothing can.
    """
    rows, to_send = _locked(instruments, orders)
    wanted = [(school, not_requested(school=school, lines=_lines(page)), page) for school, page in requests]
    words = gettext("All of it has already been requested.")
    stopped = reasons_not_to_start(rows) | _reasons_not_to_ask(to_send)
    stopped |= {school.name: words for school, lines, _ in wanted if not lines}
    if len(stopped) == len(rows) + len(to_send) + len(wanted):
        whys = [f"{name}: {why}" for name, why in stopped.items()]
        raise RefusedError(" ".join([gettext("Nothing in this plan can start now. Run it again."), *whys]))
    first = _first_benches(rows)
    with stored_language():
        because = gettext("Season plan")
    for row in rows:
        if row.asset_number not in stopped:
            open_job(
                instrument=row, bench=first[row.school_id], because=because, due_on=needed_by,
                actor=actor, at=at,
            )  # fmt: skip
    for row, asks in to_send:
        if row.asset_number not in stopped:
            own = uuid5(nonce or NAMESPACE_OID, f"{row.pk} {at.isoformat()}")
            ask_shop(instrument=row, nonce=own, actor=actor, at=at, **asks)
    for school, lines, page in wanted:
        if lines:
            request_purchase(
                school=school, lines=lines, seated=page["seated"], wanted=page["wanted"], for_whom=page["for_whom"],
                needed_by=needed_by, actor=actor, at=at,
            )  # fmt: skip
    return SeasonStart(at, stopped)


def _lines(page: Mapping[str, Any]) -> list[Wanted]:
    return [
        Wanted(
            kind=line["kind"], size=line["size"], make=line["make"], count=line["count"], each=Decimal(line["each"]),
            ready_on=parse_date(line["ready_on"] or ""),
        )
        for line in page["lines"]
    ]  # fmt: skip


def _first_benches(rows: Collection[Instrument]) -> dict[int, Bench]:
    benches = Bench.objects.filter(school__in={row.school_id for row in rows}).in_use().order_by("-pk")
    return {bench.school_id: bench for bench in benches if bench.school_id is not None}


def reasons_not_to_start(rows: Collection[Instrument]) -> dict[str, str]:
    """Return why instruments cannot go to the bench now, by number; those that can are not in it."""
    first, ordered = _first_benches(rows), _ordered(rows)
    found = {
        row.asset_number: _why(row, is_ordered=row.pk in ordered, has_bench=row.school_id in first) for row in rows
    }
    return {number: why for number, why in found.items() if why}


def _reasons_not_to_ask(orders: Orders) -> dict[str, str]:
    """Return why no order can be written on instruments now, by number."""
    ordered = _ordered([row for row, _ in orders])
    named = {pk for _, asks in orders for pk in asks.get("findings", ())}
    standing = set(Finding.objects.filter(pk__in=named).standing().values_list("pk", flat=True))
    found = {}
    for row, asks in orders:
        why = _why(row, is_ordered=row.pk in ordered, has_bench=True)
        if not why and not asks.get("question"):
            why = gettext("Nothing is left to do.")
        if not why and not standing.issuperset(asks.get("findings", ())):
            why = gettext("One of the findings has been fixed in the meantime. Check what to ask for.")
        found[row.asset_number] = why or ("" if asks.get("shop") else gettext("Add a shop first."))
    return {number: why for number, why in found.items() if why}


def _ordered(rows: Collection[Instrument]) -> set[int]:
    return set(ShopOrder.objects.open().filter(instrument__in=rows).values_list("instrument_id", flat=True))


def _why(row: Instrument, *, is_ordered: bool, has_bench: bool) -> str:
    if row.whereabouts != Whereabouts.IN_STORE:
        return gettext("No longer in storage: now %(where)s.") % {"where": row.get_whereabouts_display().lower()}
    if is_ordered:
        return gettext("It has an open shop order.")
    if not has_bench:
        return gettext("Its school has no bench.")
    try:
        check_in_use(row)
        check_allowed(row)
    except RefusedError as error:
        return str(error)
    return ""
