"""What every act on an order begins and ends with: the order as it is now, its instrument, its event."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext

from core.acts import lock_row
from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Whereabouts
from inventory.services.event_log import log_event
from inventory.services.state import lock_instrument, move_instrument
from repairs.models import ShopOrder


def fresh_order(order: ShopOrder) -> ShopOrder:
    """The order as it is now, its instrument locked; refuses one that was canceled."""
    instrument = lock_instrument(order.instrument_id)
    fresh = lock_row(order, "shop", "job")
    fresh.instrument = instrument
    if fresh.called_off_at is not None:
        raise RefusedError(gettext("This order was canceled. Nothing was changed."))
    return fresh


def log_order(*, order: ShopOrder, act: str, **after: Any) -> None:
    log_event(instrument=order.instrument, act=act, subject=order, after=after)


def promise_columns(*, order: ShopOrder, on: date | None) -> dict[str, Any]:
    """The columns of a new promise: the first one stays, because lateness is counted from it."""
    latest = on or order.promised_on
    return {"promised_on": latest, "first_promised_on": order.first_promised_on or latest}


def carry(*, order: ShopOrder, expected: Whereabouts, to: Whereabouts, actor: User, at: datetime) -> None:
    reference = f"order:{order.pk}"
    move_instrument(instrument=order.instrument, expected=expected, to=to, actor=actor, at=at, reference=reference)
