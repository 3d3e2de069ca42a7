"""What came back from a shop, and the play test that proved it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import service
from core.day_bounds import WARRANTY
from core.events import already
from core.models import User
from inventory.exceptions import RefusedError
from inventory.models import Closed, PlayTest, Whereabouts
from inventory.services.inspecting import close_findings
from repairs.models import Job, ShopOrder
from repairs.services.orders.rows import (
    carry,
    change_order,
    day_words,
    fresh_order,
    here_since,
    moment_on,
    span_of,
)


@service
def bring_back(
    *,
    order: ShopOrder,
    what_was_done: str,
    actor: User,
    at: datetime,
    put_right: Sequence[int] = (),
    warranty_until: date | None = None,
    on: date | None = None,
) -> ShopOrder:
    """It is back: on the bench if its job is open, else in storage, where it stays until somebody has played it.

    ``put_right`` are the findings the shop has dealt with; they close. ``on`` is the day it came, today if not said.
    Refuses what is not at a shop.
    """
    fresh = fresh_order(order)
    if fresh.sent_at is None:
        raise RefusedError(gettext("It is not at the shop."))
    if fresh.returned_at is not None:
        raise RefusedError(already(gettext("It is already back."), subject=fresh, acts=["back_from_shop"]))
    early = gettext("It was sent on %(day)s; it cannot have come back before.")
    moment = moment_on(on=on, at=at, earliest=fresh.sent_at, too_early=early % {"day": day_words(fresh.sent_at)})
    if not what_was_done.strip():
        raise RefusedError(gettext("Say what the shop did, or that it did nothing."))
    if set(put_right) - set(fresh.findings):
        raise RefusedError(gettext("The shop was not asked about one of these findings."))
    if warranty_until is not None and warranty_until < timezone.localdate(moment):
        raise RefusedError(gettext("The warranty cannot end before the instrument is back."))
    WARRANTY.check(warranty_until, today=timezone.localdate(moment), label=gettext("Warranty until"))
    columns = {"returned_at": moment, "what_was_done": what_was_done.strip(), "warranty_until": warranty_until}
    after = {"shop": fresh.shop_id, "put_right": sorted(put_right), "on": timezone.localdate(moment)}
    change_order(order=fresh, act="back_from_shop", after=after, **columns)
    has_job = Job.objects.open().filter(instrument=fresh.instrument).exists()
    carry(
        order=fresh,
        here=here_since(fresh.instrument),
        expected=Whereabouts.AT_SHOP,
        to=Whereabouts.ON_BENCH if has_job else Whereabouts.IN_STORE,
        actor=actor,
        at=moment,
    )
    if put_right:
        close_findings(
            instrument=fresh.instrument, finding_ids=sorted(put_right), because=Closed.REPAIRED,
            reference=span_of(fresh), actor=actor, at=at,
        )  # fmt: skip
    return fresh


def tie_to_order(*, play_test: PlayTest, actor: User, at: datetime) -> None:
    """Tie a test just recorded, on whatever page, to the order that it is the first one after."""
    order = ShopOrder.objects.unplayed(play_test.instrument_id).first()
    if order is not None and order.returned_at is not None and order.returned_at <= play_test.played_at:
        tie_play_test(order=order, play_test=play_test, actor=actor, at=at)


@service
def tie_play_test(*, order: ShopOrder, play_test: PlayTest, actor: User, at: datetime) -> ShopOrder:
    """Say which play test proved the shop's work: the first one after it came back."""
    fresh = fresh_order(order)
    if fresh.returned_at is None or play_test.played_at < fresh.returned_at:
        raise RefusedError(gettext("That test was done before it came back."))
    if play_test.instrument_id != fresh.instrument_id:
        raise RefusedError(gettext("That test is for another instrument."))
    if fresh.play_test_id is None:
        after = {"result": play_test.result}
        change_order(order=fresh, act="shop_work_played", after=after, play_test=play_test)
    return fresh
