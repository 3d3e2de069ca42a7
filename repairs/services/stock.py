"""What comes onto a bench, what is used up, and what a count says."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from uuid import UUID, uuid5

from django.db import IntegrityError, transaction
from django.db.models import F

from core.events import record_event
from core.models import User
from core.money import cents
from inventory.exceptions import RefusedError, UsedFormError
from inventory.services.checking import check_row
from repairs.models import Attempt, Bench, StockItem, StockMove
from repairs.selectors.stock import known_codes

MOST = Decimal(100_000)  # of anything; more is a slip of the finger


def _tell(item: StockItem, act: str, *, actor: User, at: datetime, before: Any = None, after: Any = None) -> None:
    record_event(
        actor=actor, act=act, subject=item, at=at, tenant=item.bench.school_id, before=before, after=after or {}
    )


@transaction.atomic
def add_stock_item(
    *,
    bench: Bench,
    actor: User,
    at: datetime,
    code: str = "",
    name: str = "",
    unit: str = "",
    fits_maker: str = "",
    fits_model: str = "",
    reorder_level: Decimal = Decimal(0),
    price_amount: Decimal | None = None,
    place: str = "",
) -> StockItem:
    """Begin to keep something on a bench: by its code in the catalog, or by name with what it fits."""
    known = known_codes()
    if code and code not in known:
        raise RefusedError(f"The catalog has nothing called {code}.")
    if not code and not name.strip():
        raise RefusedError("Choose something of the catalog, or say what the part is.")
    if code and StockItem.objects.filter(bench=bench, code=code).exists():
        raise RefusedError(f"{known[code].name.capitalize()} is on this bench's list already.")
    item = StockItem(
        bench=bench,
        code=code,
        name=known[code].name if code else name.strip(),
        unit=known[code].unit if code else unit.strip(),
        fits_maker="" if code else fits_maker.strip(),
        fits_model="" if code else fits_model.strip(),
        reorder_level=reorder_level,
        price_amount=price_amount,
        place=place.strip(),
    )
    check_row(item)
    item.save()
    _tell(item, "stock_item_added", actor=actor, at=at, after={"bench": bench.code, "code": code})
    return item


@transaction.atomic
def change_stock_item(
    *,
    item: StockItem,
    reorder_level: Decimal,
    price_amount: Decimal | None,
    place: str,
    actor: User,
    at: datetime,
    name: str = "",
    fits_maker: str = "",
    fits_model: str = "",
) -> StockItem:
    """Change when to buy, what it costs and where it lies; a free part also what it is called and fits."""
    fresh = StockItem.objects.select_related("bench").get(pk=item.pk)
    before = {"reorder_level": fresh.reorder_level, "price": fresh.price_amount}
    fresh.reorder_level, fresh.price_amount, fresh.place = reorder_level, price_amount, place.strip()
    if not fresh.code:
        fresh.name, fresh.fits_maker, fresh.fits_model = name.strip(), fits_maker.strip(), fits_model.strip()
    check_row(fresh)
    fresh.save()
    after = {"reorder_level": reorder_level, "price": price_amount}
    _tell(fresh, "stock_item_changed", actor=actor, at=at, before=before, after=after)
    return fresh


def _moved(
    item: StockItem, *, why: str, quantity: Decimal, nonce: UUID, actor: User, at: datetime, **more: Any
) -> bool:
    """Add the move, or return False where the same one has been added at the same moment.

    The update goes by what is in the row, so that two different moves at once both count.
    """
    try:
        with transaction.atomic():
            StockItem.objects.filter(pk=item.pk).update(quantity=F("quantity") + quantity)
            now = StockItem.objects.values_list("quantity", flat=True).get(pk=item.pk)
            StockMove.objects.create(
                item=item, why=why, quantity=quantity, after_quantity=now, nonce=nonce, actor=actor, at=at, **more
            )
    except IntegrityError:
        return False
    _tell(item, f"stock_{why}", actor=actor, at=at, after={"quantity": quantity, "on_hand": now})
    return True


def _is_known(nonce: UUID, item: StockItem) -> bool:
    """Whether the same form was posted before; refuses a form of another item."""
    known = StockMove.objects.filter(nonce=nonce).values_list("item_id", flat=True).first()
    if known is not None and known != item.pk:
        raise UsedFormError
    return known is not None


@transaction.atomic
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
    """Book in what was bought or given; ``amount`` was paid for all of it. The same nonce again changes nothing."""
    if _is_known(nonce, item):
        return
    if not 0 < quantity <= MOST:
        raise RefusedError("Say how many came in: more than nothing.")
    if amount is not None and amount < 0:
        raise RefusedError("What was paid cannot be less than nothing.")
    is_new = _moved(
        item, why=StockMove.Why.RECEIVED, quantity=quantity, nonce=nonce, actor=actor, at=at,
        amount=amount, note=note.strip()[:200],
    )  # fmt: skip
    if is_new and amount:
        StockItem.objects.filter(pk=item.pk).update(price_amount=cents(amount / quantity))


@transaction.atomic
def count_stock(
    *, item: StockItem, quantity: Decimal, nonce: UUID, actor: User, at: datetime, note: str = ""
) -> Decimal:
    """Set what lies there to what was counted, and return the difference. A count that agrees is kept too."""
    if _is_known(nonce, item):
        return Decimal(0)
    if not 0 <= quantity <= MOST:
        raise RefusedError("A count is nothing or more.")
    on_hand = StockItem.objects.select_for_update().values_list("quantity", flat=True).get(pk=item.pk)
    is_new = _moved(
        item, why=StockMove.Why.COUNTED, quantity=quantity - on_hand, nonce=nonce, actor=actor, at=at,
        note=note.strip()[:200],
    )  # fmt: skip
    return quantity - on_hand if is_new else Decimal(0)


@transaction.atomic
def use_stock_for(*, attempt: Attempt, actor: User, at: datetime) -> int:
    """Take what the attempt used from its bench's stock and return how many items that touched.

    What the bench does not keep a book of is passed over: work never waits for the book. An attempt counts once.
    """
    used: dict[str, Decimal] = defaultdict(Decimal)
    for row in attempt.parts_used:
        quantity = _quantity(row)
        if quantity > 0:
            used[str(row.get("code", ""))] += quantity
    items = StockItem.objects.select_related("bench").filter(bench=attempt.job.bench_id, code__in=[*filter(None, used)])
    touched = 0
    for item in items.exclude(moves__attempt=attempt).order_by("pk"):
        touched += _moved(
            item, why=StockMove.Why.USED, quantity=-used[item.code], attempt=attempt, actor=actor, at=at,
            nonce=uuid5(attempt.nonce, item.code),
        )  # fmt: skip
    return touched


def _quantity(row: dict[str, Any]) -> Decimal:
    try:
        value = Decimal(str(row.get("quantity", 0)))
    except InvalidOperation:
        return Decimal(0)
    return value.quantize(Decimal("0.001")) if value.is_finite() and abs(value) <= MOST else Decimal(0)


@transaction.atomic
def use_free_part(
    *, item: StockItem, attempt: Attempt, quantity: Decimal, actor: User, at: datetime, note: str = ""
) -> None:
    """Take a part that has no code for an attempt; the shop learns which model it went onto."""
    if not 0 < quantity <= MOST:
        raise RefusedError("Say how many were used: more than nothing.")
    if item.bench_id != attempt.job.bench_id:
        raise RefusedError("That part lies on another bench.")
    if StockMove.objects.filter(item=item, attempt=attempt).exists():
        return
    _moved(
        item, why=StockMove.Why.USED, quantity=-quantity, attempt=attempt, actor=actor, at=at,
        nonce=uuid5(attempt.nonce, f"part:{item.pk}"), note=note.strip()[:200],
    )  # fmt: skip
