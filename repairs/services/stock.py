"""What comes onto a bench, what is used up, and what a count says."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from uuid import UUID, uuid5

from django.utils.translation import gettext

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from core.money import cents
from inventory.exceptions import RefusedError
from inventory.services.checking import check_row, save_columns
from repairs.models import Attempt, Bench, StockItem, StockMove
from repairs.selectors.stock import known_codes

MOST = Decimal(100_000)  # of anything; more is a slip of the finger
OWN = {"reorder_level", "price_amount", "place"}  # what a bench says of a thing that the catalog names


def _log(item: StockItem, act: str, *, before: Any = None, after: Any = None) -> None:
    record_event(act=act, subject=item, tenant=item.bench.school_id, before=before, after=after or {})


def _stripped(columns: dict[str, Any]) -> dict[str, Any]:
    return {name: value.strip() if isinstance(value, str) else value for name, value in columns.items()}


@service(once="nonce")
def add_stock_item(
    *, bench: Bench, actor: User, at: datetime, code: str = "", nonce: UUID | None = None, **columns: Any
) -> StockItem:
    """Begin to keep something on a bench: by its code in the catalog, or by name with what it fits.

    ``columns`` are those of StockItem; a thing of the catalog has its name and unit from there, and fits everywhere.
    """
    known, columns = known_codes(), _stripped(columns)
    if code and code not in known:
        raise RefusedError(gettext("The catalog has nothing called %(code)s.") % {"code": code})
    if not code and not columns.get("name"):
        raise RefusedError(gettext("Choose something from the catalog, or name the part."))
    if code:
        if StockItem.objects.filter(bench=bench, code=code).exists():
            words = gettext("%(name)s is already on this bench's list.")
            raise RefusedError(words % {"name": known[code].name.capitalize()})
        columns |= {"name": known[code].name, "unit": known[code].unit, "fits_maker": "", "fits_model": ""}
    item = StockItem(bench=bench, code=code, **columns)
    check_row(item)
    item.save(force_insert=True)
    _log(item, "stock_item_added", after={"bench": bench.code, "code": code})
    return item


@service
def change_stock_item(*, item: StockItem, actor: User, at: datetime, **columns: Any) -> StockItem:
    """Change when to buy it, its cost and its place; of a part outside the catalog also its name and what it fits."""
    fresh = lock_row(item, "bench")
    before = {"reorder_level": fresh.reorder_level, "price": fresh.price_amount}
    save_columns(fresh, **{name: value for name, value in _stripped(columns).items() if name in OWN or not fresh.code})
    after = {"reorder_level": fresh.reorder_level, "price": fresh.price_amount}
    _log(fresh, "stock_item_changed", before=before, after=after)
    return fresh


def _moved(
    item: StockItem, *, why: str, quantity: Decimal, nonce: UUID, actor: User, at: datetime, **more: Any
) -> None:
    """Add the move to an item that the act has locked, and to what is on hand."""
    item.quantity += quantity
    item.save(update_fields=["quantity"])
    StockMove.objects.create(
        item=item, why=why, quantity=quantity, after_quantity=item.quantity, nonce=nonce, actor=actor, at=at,
        **more,
    )  # fmt: skip
    _log(item, f"stock_{why}", after={"quantity": quantity, "on_hand": item.quantity})


@service(once="nonce")
def receive_stock(
    *,
    item: StockItem,
    quantity: Decimal,
    nonce: UUID,
    actor: User,
    at: datetime,
    amount: Decimal | None = None,
    note: str = "",
) -> None:
    """Book in what was bought or given; ``amount`` was paid for all of it."""
    if not 0 < quantity <= MOST:
        raise RefusedError(gettext("Enter how many came in, more than 0."))
    if amount is not None and amount < 0:
        raise RefusedError(gettext("Enter $0 or more."))
    fresh = lock_row(item, "bench")
    _moved(
        fresh, why=StockMove.Why.RECEIVED, quantity=quantity, amount=amount, note=note.strip()[:200],
        nonce=nonce, actor=actor, at=at,
    )  # fmt: skip
    if amount:
        fresh.price_amount = cents(amount / quantity)
        fresh.save(update_fields=["price_amount"])


@service(once="nonce", again=lambda _row, **_posted: Decimal(0))
def count_stock(
    *, item: StockItem, quantity: Decimal, nonce: UUID, actor: User, at: datetime, note: str = ""
) -> Decimal:
    """Set what is in stock to what was counted, and return the difference. A count that agrees is kept too."""
    if not 0 <= quantity <= MOST:
        raise RefusedError(gettext("Enter 0 or more."))
    fresh = lock_row(item, "bench")
    difference = quantity - fresh.quantity
    _moved(
        fresh, why=StockMove.Why.COUNTED, actor=actor, at=at, quantity=difference, nonce=nonce, note=note.strip()[:200]
    )
    return difference


@service
def use_stock_for(*, attempt: Attempt, actor: User, at: datetime) -> int:
    """Take what the attempt used from its bench's stock and return how many items that touched.

    What the bench does not keep a book of is passed over: work never waits for the book. An attempt counts once.
    """
    used: dict[str, Decimal] = defaultdict(Decimal)
    for row in attempt.parts_used:
        quantity = _quantity(row)
        if quantity > 0:
            used[str(row.get("code", ""))] += quantity
    if not any(used):  # only parts that have no code
        return 0
    items = StockItem.objects.select_for_update(of=("self",), no_key=True).select_related("bench")
    kept = items.filter(bench=attempt.job.bench_id, code__in=[*filter(None, used)]).order_by("pk")
    touched = [item for item in kept if item.pk not in set(attempt.stock_moves.values_list("item_id", flat=True))]
    for item in touched:
        _moved(
            item, why=StockMove.Why.USED, quantity=-used[item.code], attempt=attempt,
            nonce=uuid5(attempt.nonce, item.code), actor=actor, at=at,
        )  # fmt: skip
    return len(touched)


def _quantity(row: dict[str, Any]) -> Decimal:
    try:
        value = Decimal(str(row.get("quantity", 0)))
    except InvalidOperation:
        return Decimal(0)
    return value.quantize(Decimal("0.001")) if value.is_finite() and abs(value) <= MOST else Decimal(0)


@service
def use_free_part(
    *, item: StockItem, attempt: Attempt, quantity: Decimal, actor: User, at: datetime, note: str = ""
) -> None:
    """Take a part that has no code for an attempt; the bench learns which model it went onto."""
    if not 0 < quantity <= MOST:
        raise RefusedError(gettext("Enter how many were used, more than 0."))
    if item.bench_id != attempt.job.bench_id:
        raise RefusedError(gettext("That part belongs to another bench."))
    if StockMove.objects.filter(item=item, attempt=attempt).exists():
        return
    _moved(
        lock_row(item, "bench"), why=StockMove.Why.USED, actor=actor, at=at, quantity=-quantity, attempt=attempt,
        nonce=uuid5(attempt.nonce, f"part:{item.pk}"), note=note.strip()[:200],
    )  # fmt: skip
