"""Back to the same shop under its warranty."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext

from core.acts import service
from core.models import User
from inventory.catalog.load.language import stored_language
from inventory.exceptions import RefusedError
from inventory.models import Finding, PlayTest
from inventory.rules.notes import note_words
from repairs.models import ShopOrder
from repairs.selectors.shops import latest_test
from repairs.services.orders.asking import ask_shop
from repairs.services.orders.rows import day_words, fresh_order


@service(once="nonce")
def return_on_warranty(*, order: ShopOrder, nonce: UUID, actor: User, at: datetime) -> ShopOrder:
    """Ask the same shop to make its work good: the old question, what the play test said, and no charge.

    Refuses what is not back, work that was never ordered, and work whose warranty is over; and where no warranty was
    noted, work that has not failed.
    """
    fresh = fresh_order(order)
    if fresh.returned_at is None:
        raise RefusedError(gettext("It is not back yet."))
    if fresh.is_estimate_only:
        raise RefusedError(gettext("No work was ordered, so there is none to make good."))
    if fresh.warranty_until is not None and fresh.warranty_until < timezone.localdate(at):
        words = gettext("Its warranty ended on %(day)s.")
        raise RefusedError(words % {"day": date_format(fresh.warranty_until, gettext("F j, Y"))})
    test = latest_test(fresh)
    is_failed = test is not None and test.result == PlayTest.Result.FAIL
    if fresh.warranty_until is None and not is_failed:
        raise RefusedError(gettext("Nothing shows that the work did not hold. Play-test it first."))
    with stored_language():
        question = _question(fresh, back_at=fresh.returned_at, test=test if is_failed else None)
    return ask_shop(
        shop=fresh.shop, instrument=fresh.instrument, work=fresh.work, question=question,
        findings=_still_wrong(fresh), warranty_of=fresh, expected_low_amount=Decimal(0),
        expected_high_amount=Decimal(0), nonce=nonce, actor=actor, at=at,
    )  # fmt: skip


def _question(order: ShopOrder, *, back_at: datetime, test: PlayTest | None) -> str:
    """What was asked the first time, and what the play test said of the work."""
    text = gettext("Under warranty: it came back on %(day)s.") % {"day": day_words(back_at)}
    if test is not None:
        words = gettext("It failed its play test on %(day)s: %(what)s.")
        notes = note_words([*test.failed_notes, *test.weak_notes])
        what = "; ".join(filter(None, (notes, test.note.strip().rstrip(".")))) or gettext("see the instrument")
        text = f"{text} {words % {'day': day_words(test.played_at), 'what': what}}"
    return f"{text}\n\n{order.question}"[:2000]


def _still_wrong(order: ShopOrder) -> list[int]:
    """The findings that stand at the parts the shop was asked about."""
    parts = Finding.objects.filter(instrument=order.instrument, pk__in=order.findings).values_list("part", flat=True)
    rows = Finding.objects.filter(instrument=order.instrument, part__in=set(parts)).standing()
    return list(rows.values_list("pk", flat=True))
