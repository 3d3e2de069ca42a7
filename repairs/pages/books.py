"""Orders as rows for whoever keeps the books."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime

from django.utils import timezone

from core.sheets import OutValue
from repairs.models import ShopOrder
from repairs.pages.shops import work_name
from repairs.rules.shops import wait_words
from repairs.selectors.shops import limits_today

# Column names stay as they are: another program may read them.
HEADER = (
    "number", "purchase_order", "fund", "school", "shop", "instrument", "work", "for_estimate_only", "asked_on",
    "asked_by", "expected", "trip_and_bench_fee", "estimate", "estimate_on", "approved", "approved_on", "approved_by",
    "refused_on", "refused_by", "canceled_on", "sent_on", "back_on", "bill_number", "bill_on", "bill", "waits_for",
)  # fmt: skip


def book_rows(orders: Iterable[ShopOrder]) -> Iterator[tuple[OutValue, ...]]:
    """Yield one row for each order, in the order of HEADER."""
    limits = limits_today()
    for one in orders:
        yield (
            one.pk, one.purchase_order, str(one.budget or ""), str(one.instrument.school), str(one.shop),
            one.instrument.asset_number, work_name(one.work), one.is_estimate_only, _day(one.asked_at),
            str(one.asked_by), one.expected_high_amount, one.trip_amount, one.estimate_amount, one.estimate_on,
            one.approved_amount, _day(one.approved_at), str(one.approved_by or ""), _day(one.refused_at),
            str(one.refused_by or ""), _day(one.called_off_at), _day(one.sent_at), _day(one.returned_at),
            one.invoice_number, one.invoice_on, one.invoice_amount, wait_words(one.money, limits),
        )  # fmt: skip


def _day(at: datetime | None) -> date | None:
    return None if at is None else timezone.localdate(at)
