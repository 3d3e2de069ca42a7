"""An act on an order taken back by a new act, with a reason; the act itself stays in the history."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext

from core.acts import service
from core.models import Event, User
from inventory.access import has_perm_at_school
from inventory.exceptions import RefusedError
from inventory.models import Custody, Inspection, PlayTest, Whereabouts
from inventory.services.checking import save_columns
from inventory.services.inspecting import reopen_findings
from repairs.exceptions import ApprovalNeededError
from repairs.models import Job, OrderUndo, ShopOrder
from repairs.rules.orders import BY_APPROVERS, COLUMNS, PROMISE, TAKEN_BACK
from repairs.selectors.orders import latest_to_undo, order_events
from repairs.services.orders.rows import (
    FIELDS,
    TYPED,
    as_now,
    carry,
    columns_of,
    day_words,
    here_since,
    locked_order,
    log_order,
    span_of,
)
from repairs.services.refusals import check_in_use

REOPENING = {"order_called_off", "back_from_shop"}  # once taken back, the order is open


@service(once="nonce")
def take_back(*, order: ShopOrder, number: int, because: str, nonce: UUID, actor: User, at: datetime) -> ShopOrder:
    """Take back the latest act on an order: its columns, and where the instrument is, become what they were before.

    ``number`` is the event that the person saw. Refused once something was done after it that stands on it.
    """
    if not because.strip():
        raise RefusedError(gettext("Enter a reason."))
    fresh = locked_order(order)
    event = latest_to_undo(order_events(fresh))
    if event is None or event.number != number:
        raise RefusedError(gettext("Something else was done with this order in the meantime. Look at its history."))
    _refuse_others_act(fresh, event, actor=actor)
    if event.act in REOPENING:
        _refuse_to_reopen(fresh)
    names = _columns_of(event)
    words = "\n".join(filter(None, (getattr(fresh, name) for name in names if name in TYPED)))
    if event.act == "back_from_shop":
        _refuse_used_since(fresh)
    before = columns_of(order=fresh, names=names)
    save_columns(fresh, **_columns_before(event, names))
    if undo := MOVES.get(event.act):
        undo(fresh, actor=actor, at=at)
    OrderUndo.objects.create(
        order=fresh, number=number, act=event.act, because=because.strip()[:200], words=words, undone_at=at,
        undone_by=actor,
    )  # fmt: skip
    after = {"number": number, "act": event.act, **as_now(order=fresh, names=names)}
    log_order(order=fresh, act=TAKEN_BACK, before=before, after=after)
    return fresh


def _refuse_others_act(order: ShopOrder, event: Event, *, actor: User) -> None:
    """An approval is taken back by who may approve, any other act by who may send out."""
    if event.act in BY_APPROVERS:
        if not has_perm_at_school(actor, "repairs.approve_cost", order.instrument.school_id):
            raise ApprovalNeededError(gettext("Only a director or an administrator can undo this."))
    elif not has_perm_at_school(actor, "repairs.send_out", order.instrument.school_id):
        raise RefusedError(gettext("Only a director or a tech can undo this."))


def _columns_of(event: Event) -> tuple[str, ...]:
    """The columns that its act is about, and what else it wrote: who pays may be said with an approval or a bill."""
    return tuple(dict.fromkeys((*COLUMNS[event.act], *(name for name in event.before if name in FIELDS))))


def _columns_before(event: Event, names: tuple[str, ...]) -> dict[str, Any]:
    """The columns as they were; events of old kept no columns: then they are empty, and a promise stays."""
    given: Mapping[str, Any] = event.before
    columns = {}
    for name in names:
        field = FIELDS[name]
        if name in given:
            columns[field.attname] = field.to_python(given[name])
        elif name not in PROMISE:
            columns[field.attname] = field.get_default()
    return columns


def _refuse_to_reopen(order: ShopOrder) -> None:
    """One that was called off or came back is not opened beside another, nor on what was given up since."""
    check_in_use(order.instrument)
    other = ShopOrder.objects.open().filter(instrument=order.instrument).select_related("asked_by").first()
    if other is not None:
        words = gettext("A shop was asked about it again on %(day)s by %(name)s. Cancel that order first.")
        raise RefusedError(words % {"day": day_words(other.asked_at), "name": other.asked_by})


def _refuse_used_since(order: ShopOrder) -> None:
    """What was played, looked over or moved here since it came back has been here."""
    here = here_since(order.instrument)
    if here.reference != span_of(order):
        words = gettext("%(number)s is %(place)s since %(when)s (%(name)s), so it cannot be at the shop.")
        place = here.get_whereabouts_display().lower()
        names = {"number": order.instrument.asset_number, "place": place, "name": here.actor or "-"}
        raise RefusedError(words % (names | {"when": date_format(timezone.localtime(here.since), gettext("F j, P"))}))
    played = PlayTest.objects.filter(instrument=order.instrument, played_at__gte=order.returned_at).last()
    if played is not None:
        words = gettext("It was played on %(day)s by %(name)s, so it is back.")
        raise RefusedError(words % {"day": day_words(played.played_at), "name": played.actor})
    looked = Inspection.objects.finished().filter(instrument=order.instrument, finished_at__gte=order.returned_at)
    seen = looked.last()
    if seen is not None and seen.finished_at is not None:
        words = gettext("It was inspected on %(day)s by %(name)s, so it is back.")
        raise RefusedError(words % {"day": day_words(seen.finished_at), "name": seen.actor})


def _unsend(order: ShopOrder, *, actor: User, at: datetime) -> None:
    """It never left: it is where its job or nobody's work has it, and no span at the shop counts."""
    has_job = Job.objects.open().filter(instrument=order.instrument).exists()
    to = Whereabouts.ON_BENCH if has_job else Whereabouts.IN_STORE
    away = Custody.objects.filter(reference=span_of(order), whereabouts=Whereabouts.AT_SHOP, undone_at=None)
    away.update(undone_at=at)
    here = here_since(order.instrument)
    carry(order=order, here=here, expected=Whereabouts.AT_SHOP, to=to, actor=actor, at=at)


def _bring_there_again(order: ShopOrder, *, actor: User, at: datetime) -> None:
    """It is still at the shop, with what it was sent for."""
    here = here_since(order.instrument)
    Custody.objects.filter(pk=here.pk).update(undone_at=at)
    carry(order=order, here=here, expected=here.whereabouts, to=Whereabouts.AT_SHOP, actor=actor, at=at)
    reopen_findings(instrument=order.instrument, reference=span_of(order), actor=actor, at=at)


MOVES: Mapping[str, Callable[..., None]] = {"sent_to_shop": _unsend, "back_from_shop": _bring_there_again}
