"""What every act on an order begins and ends with: the order as it is now, its instrument, its event."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, time
from typing import Any, cast

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext

from core.acts import current_act
from core.models import User
from core.traces import as_left
from inventory.exceptions import RefusedError
from inventory.models import Custody, Instrument, Whereabouts
from inventory.services.checking import save_columns
from inventory.services.event_log import log_event
from inventory.services.state import lock_instruments, move_instrument
from repairs.free_text import FREE_TEXT
from repairs.models import ShopOrder

FIELDS = {field.name: field for field in ShopOrder._meta.concrete_fields}
RELATED = ("shop", "job", "approved_by", "refused_by")
TYPED = {name for one in FREE_TEXT if one.model is ShopOrder for name in one.columns}  # never into the event log


def lock_orders(*orders: ShopOrder) -> list[ShopOrder]:
    """The orders as they are now, their instruments locked before them; one act has one object for each."""
    rows = current_act().rows
    instruments = lock_instruments(*(order.instrument_id for order in orders))
    if missing := [order.pk for order in orders if (ShopOrder, order.pk) not in rows]:
        locked = ShopOrder.objects.select_for_update(of=("self",), no_key=True).select_related(*RELATED)
        rows |= {(ShopOrder, row.pk): row for row in locked.filter(pk__in=missing).order_by("pk")}
    found = [cast("ShopOrder", rows[ShopOrder, order.pk]) for order in orders]
    for row, instrument in zip(found, instruments, strict=True):
        row.instrument = instrument
    return found


def locked_order(order: ShopOrder) -> ShopOrder:
    return lock_orders(order)[0]


def fresh_order(order: ShopOrder) -> ShopOrder:
    """The order as it is now, its instrument locked; refuses one that was canceled."""
    fresh = locked_order(order)
    if fresh.called_off_at is not None:
        raise RefusedError(gettext("This order was canceled. Nothing was changed."))
    return fresh


def log_order(
    *, order: ShopOrder, act: str, before: Mapping[str, Any] | None = None, after: Mapping[str, Any] | None = None
) -> None:
    log_event(instrument=order.instrument, act=act, subject=order, before=before, after=after)


def change_order(*, order: ShopOrder, act: str, after: Mapping[str, Any] | None = None, **columns: Any) -> None:
    """Write the columns and one event that keeps what they held before, so that the act can be taken back."""
    before = columns_of(order=order, names=columns)
    save_columns(order, **columns)
    log_order(order=order, act=act, before=before, after={**(after or {}), **as_now(order=order, names=columns)})


def columns_of(*, order: ShopOrder, names: Iterable[str]) -> dict[str, Any]:
    """What these columns hold, as an event may keep it: keys and values, none of what people typed."""
    return {name: getattr(order, FIELDS[name].attname) for name in names if name not in TYPED}


def as_now(*, order: ShopOrder, names: Iterable[str]) -> dict[str, Any]:
    """The same as they are now, by the names of the columns, for ``verify`` to hold the row against."""
    return as_left(order, *(FIELDS[name].attname for name in names if name not in TYPED))


def promise_columns(*, order: ShopOrder, on: date | None) -> dict[str, Any]:
    """The columns of a new promise: the first one stays, because lateness is counted from it."""
    latest = on or order.promised_on
    return {"promised_on": latest, "first_promised_on": order.first_promised_on or latest}


def moment_on(*, on: date | None, at: datetime, earliest: datetime, too_early: str) -> datetime:
    """The moment of what happened on a day that somebody says: now, or that day's noon. RefusedError outside."""
    today = timezone.localdate(at)
    if on is None or on == today:
        return at
    if on > today:
        raise RefusedError(gettext("That day is in the future."))
    if on < timezone.localdate(earliest):
        raise RefusedError(too_early)
    noon = timezone.make_aware(datetime.combine(on, time(12)))
    return max(noon, earliest)


def carry(*, order: ShopOrder, here: Custody, expected: str, to: Whereabouts, actor: User, at: datetime) -> None:
    """Move its instrument; what is said of an earlier day begins no earlier than where it is now, ``here``, began."""
    move_instrument(
        instrument=order.instrument, expected=expected, to=to, actor=actor, at=max(at, here.since),
        reference=span_of(order),
    )  # fmt: skip


def here_since(instrument: Instrument) -> Custody:
    """The span in which it is where it is."""
    spans = Custody.objects.filter(instrument=instrument, until=None).select_related("actor")
    return next(iter(spans))


def span_of(order: ShopOrder) -> str:
    """How a span of whereabouts names the order that began it."""
    return f"order:{order.pk}"


def day_words(moment: datetime) -> str:
    return date_format(timezone.localdate(moment), gettext("F j"))
