"""An instrument goes to another school: offered by one, agreed to by somebody of the other."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext

from core.acts import lock_row, service
from core.events import already
from core.models import User
from core.traces import as_left
from inventory.access import has_perm_at_school
from inventory.exceptions import RefusedError
from inventory.models import Instrument, School, Transfer, Whereabouts
from inventory.rules.leaving import TRANSFER
from inventory.services.event_log import log_event
from inventory.services.inspecting import count_accessories
from inventory.services.registering import change_instrument
from inventory.services.state import lock_instrument


@service(once="nonce")
def offer_transfer(
    *,
    instrument: Instrument,
    to_school: School,
    accessories: Mapping[str, int],
    actor: User,
    at: datetime,
    because: str = "",
    nonce: UUID | None = None,
) -> Transfer:
    """Offer an instrument to another school, with what goes along (accessory code -> how many)."""
    row = lock_instrument(instrument)
    check_in_storage(row)
    if to_school.pk == row.school_id:
        raise RefusedError(gettext("It is already at that school."))
    if Transfer.objects.open().filter(instrument=row).exists():
        raise RefusedError(gettext("It is already offered to a school. Withdraw that first."))
    known = {one.code for one in row.accessories.all()}
    if set(accessories) - known or any(count < 0 for count in accessories.values()):
        raise RefusedError(gettext("Count only what belongs to this instrument."))
    transfer = Transfer.objects.create(
        instrument=row,
        from_school=row.school,
        to_school=to_school,
        accessories=dict(accessories),
        because=" ".join(because.split())[:400],
        offered_at=at,
        actor=actor,
    )
    after = {"from": row.school_id, "to": to_school.pk, **as_left(transfer, "accessories")}
    log_event(instrument=row, act="transfer_offered", subject=transfer, after=after)
    return transfer


def check_in_storage(row: Instrument) -> None:
    """Refuse what cannot go to another school now."""
    if row.merged_into_id is not None or row.whereabouts != Whereabouts.IN_STORE:
        where = row.get_whereabouts_display().lower()
        raise RefusedError(
            gettext("It is %(where)s. Only what is in storage goes to another school.") % {"where": where}
        )


@service
def settle_transfer(
    *, transfer: Transfer, is_agreed: bool, actor: User, at: datetime, note: str = "", room_name: str = ""
) -> Transfer:
    """Agree to a transfer, as somebody of the other school, or decline it; whoever offered it may withdraw it.

    Agreed, the instrument belongs to the other school, in the room named if one is; what did not go along is missing.
    """
    row = lock_instrument(transfer.instrument_id)
    fresh = lock_row(transfer, "to_school", "from_school")
    fresh.instrument = row
    if fresh.settled_at is not None:
        words = gettext("This transfer is already settled. Nothing was changed.")
        raise RefusedError(already(words, subject=fresh, acts=["transfer_agreed", "transfer_declined"]))
    is_theirs = has_perm_at_school(actor, TRANSFER, fresh.to_school_id)
    if not is_theirs and (is_agreed or not has_perm_at_school(actor, TRANSFER, fresh.from_school_id)):
        raise RefusedError(gettext("Somebody at %(school)s has to agree to it.") % {"school": fresh.to_school})
    if is_agreed:
        check_in_storage(row)
        if row.school_id != fresh.from_school_id:
            raise RefusedError(gettext("It is no longer at %(school)s.") % {"school": fresh.from_school})
    fresh.settled_at, fresh.settled_by, fresh.is_agreed = at, actor, is_agreed
    fresh.settled_note = " ".join(note.split())[:200]
    fresh.save(update_fields=["settled_at", "settled_by", "is_agreed", "settled_note"])
    log_event(
        instrument=row, school=fresh.from_school_id, subject=fresh,
        act="transfer_agreed" if is_agreed else "transfer_declined", after={"to": fresh.to_school_id},
    )  # fmt: skip
    if is_agreed:
        change_instrument(
            instrument=row, school=fresh.to_school, room=None, place="", new_room=room_name, actor=actor, at=at
        )
        if fresh.accessories:
            count_accessories(instrument=row, counts=fresh.accessories, actor=actor, at=at)
    return fresh
