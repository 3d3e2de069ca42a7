"""Leaving the fleet, going to another school, being of another kind: where loans and jobs allow it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import service
from core.models import User
from core.photos import CleanScan
from desk.selectors.leaving import FIRST, holds_on, offer_of, value_now
from inventory.exceptions import RefusedError
from inventory.models import Disposal, Instrument, School, Transfer
from inventory.services.changing_kind import correct_kind
from inventory.services.disposing import keep_paper, leave_fleet
from inventory.services.state import lock_instrument
from inventory.services.transferring import offer_transfer, settle_transfer

OF_ITS_KIND = frozenset({"job", "order", "shared", "decision"})  # what hangs on the kind


def check_settled(instrument: Instrument, *, codes: frozenset[str] = frozenset(FIRST)) -> None:
    for hold in holds_on(instrument):
        if hold.code in codes:
            raise RefusedError(gettext(FIRST[hold.code]))


@service(once="nonce")
def dispose(
    *,
    instrument: Instrument,
    way: str,
    on: date,
    because: str,
    approved_by: User | None,
    actor: User,
    at: datetime,
    nonce: UUID | None = None,
    is_confirmed: bool = False,
    scan: CleanScan | None = None,
    scan_title: str = "",
    **fields: Any,
) -> Disposal:
    """Record how it left (``leave_fleet``), with its value as it is, and keep a paper; refused until all is settled."""
    row = lock_instrument(instrument)
    check_settled(row)
    if offer_of(row) is not None:
        raise RefusedError(gettext("It is offered to another school. Withdraw that first."))
    disposal = leave_fleet(
        instrument=row,
        way=way,
        on=on,
        because=because,
        value_amount=value_now(row, today=timezone.localdate(at)),
        approved_by=approved_by,
        is_confirmed=is_confirmed,
        actor=actor,
        at=at,
        **fields,
    )
    if scan is not None:
        title = scan_title or disposal.get_way_display()
        keep_paper(instrument=row, disposal=disposal, title=title, scan=scan, actor=actor, at=at)
    return disposal


@service(once="nonce")
def offer(
    *,
    instrument: Instrument,
    to_school: School,
    accessories: Mapping[str, int],
    actor: User,
    at: datetime,
    because: str = "",
    nonce: UUID | None = None,
) -> Transfer:
    """Offer it to another school (``offer_transfer``); refused until all is settled."""
    row = lock_instrument(instrument)
    check_settled(row)
    return offer_transfer(
        instrument=row, to_school=to_school, accessories=accessories, because=because, actor=actor, at=at
    )


@service
def settle_offer(
    *, transfer: Transfer, is_agreed: bool, actor: User, at: datetime, note: str = "", room_name: str = ""
) -> Transfer:
    """Agree to an offer or end it (``settle_transfer``); what came up since then is settled first."""
    row = lock_instrument(transfer.instrument_id)
    if is_agreed:
        check_settled(row)
    return settle_transfer(transfer=transfer, is_agreed=is_agreed, note=note, room_name=room_name, actor=actor, at=at)


@service(once="nonce")
def change_kind(
    *, instrument: Instrument, kind_code: str, actor: User, at: datetime, nonce: UUID | None = None
) -> Instrument:
    """Correct its kind (``correct_kind``); refused while a job, an order or a use in class hangs on the one it has."""
    row = lock_instrument(instrument)
    check_settled(row, codes=OF_ITS_KIND)
    return correct_kind(instrument=row, kind_code=kind_code, actor=actor, at=at)
