"""An event that should not be there stays, and another one says so."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext

from core.acts import service
from core.events import already, record_event
from core.models import Event, User
from desk.access import may_strike
from desk.selectors.history import ENTERED_IN_ERROR, instrument_of, place_of, strike_of
from inventory.exceptions import RefusedError
from inventory.services.state import lock_instrument

LONGEST = 400


@service(once="nonce")
def call_entered_in_error(*, event: Event, because: str, actor: User, at: datetime, nonce: UUID | None = None) -> Event:
    """Say that an event was entered in error, and why. Nothing else changes: whoever says so corrects the row too."""
    instrument = instrument_of(event)
    if instrument is not None:
        lock_instrument(instrument)
    if not may_strike(actor, event, school=place_of(event, instrument)):
        raise RefusedError(gettext("Only the person who did it, or a director, can mark it as entered in error."))
    if event.act == ENTERED_IN_ERROR:
        raise RefusedError(gettext("This entry only marks another one as wrong. It stays."))
    if strike_of(event) is not None:
        message = gettext("It is already marked as entered in error. Nothing was changed.")
        raise RefusedError(already(message, subject=event, acts=[ENTERED_IN_ERROR]))
    words = " ".join(because.split())
    if not words:
        raise RefusedError(gettext("Say why it is wrong."))
    record_event(
        act=ENTERED_IN_ERROR, subject=event, thread=event.thread, tenant=event.tenant,
        after={"event": event.number, "act": event.act}, texts={"reason": (None, words[:LONGEST])},
    )  # fmt: skip
    return event
