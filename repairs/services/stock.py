"""What comes onto a bench, what is used up, what a count says; and how a mistake is taken back."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from uuid import UUID, uuid5

from django.utils import timezone
from django.utils.translation import gettext

from core.acts import lock_row, service
from core.events import record_event
from core.models import User
from core.money import dollars
from inventory.catalog.load.language import catalog_word, stored_language
from inventory.exceptions import RefusedError
from inventory.services.checking import check_row, save_columns
from repairs.models import Attempt, Bench, RepairBudget, StockItem, StockMove
from repairs.rules.bounds import MOST, MOST_ON_RECORD, MOST_PAID, is_quantity, price_each
from repairs.rules.quantities import stock_words
from repairs.rules.words import clock_time
from repairs.selectors.stock import known_codes, last_price, same_item

# What a bench says of a thing that the catalog names.
OWN = {"reorder_level", "price_amount", "place", "supplier", "part_number"}


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
    with stored_language():
        known = known_codes()
    columns = _stripped(columns)
    _refuse_retired(lock_row(bench), at=at)
    if code and code not in known:
        raise RefusedError(gettext("The catalog has nothing called %(code)s.") % {"code": code})
    if not code and not columns.get("name"):
        raise RefusedError(gettext("Choose something from the catalog, or name the part."))
    if code:
        if there := StockItem.objects.filter(bench=bench, code=code).first():
            _refuse_retired(there, at=at)
            words = gettext("%(name)s is already on this bench's list.")
            raise RefusedError(words % {"name": catalog_word(known[code].name, "consumables").capitalize()})
        columns |= {"name": known[code].name, "unit": known[code].unit, "fits_maker": "", "fits_model": ""}
    item = StockItem(bench=bench, code=code, typed_amount=columns.get("price_amount"), **columns)
    check_row(item)
    item.save(force_insert=True)
    _log(item, "stock_item_added", after={"bench": bench.code, "code": code})
    return item


@service
def change_stock_item(*, item: StockItem, actor: User, at: datetime, **columns: Any) -> StockItem:
    """Change when to buy it, its cost and its place; of a part outside the catalog also its name and what it fits."""
    fresh = lock_row(item, "bench")
    before = {"reorder_level": fresh.reorder_level, "price": fresh.price_amount}
    values = {name: value for name, value in _stripped(columns).items() if name in OWN or not fresh.code}
    if "price_amount" in values and values["price_amount"] != fresh.price_amount:
        latest = fresh.moves.order_by("-pk").values_list("pk", flat=True).first()
        values |= {"typed_amount": values["price_amount"], "typed_after": latest or 0}
    save_columns(fresh, **values)
    after = {"reorder_level": fresh.reorder_level, "price": fresh.price_amount}
    _log(fresh, "stock_item_changed", before=before, after=after)
    return fresh


def _refuse_retired(row: StockItem | Bench, *, at: datetime) -> None:
    if row.retired_at is not None:
        words = gettext("%(who)s retired %(name)s, %(when)s. Bring it back first.")
        raise RefusedError(words % {"name": row, "who": row.retired_by, "when": _when(row.retired_at, at=at)})


def _when(moment: datetime, *, at: datetime) -> str:
    return clock_time(timezone.localtime(moment), today=timezone.localdate(at))


def _refuse_quantity(quantity: Decimal) -> None:
    if not is_quantity(quantity):
        raise RefusedError(gettext("Enter a quantity above 0, up to %(most)s.") % {"most": f"{MOST:,}"})


def _moved(
    item: StockItem, *, why: str, quantity: Decimal, nonce: UUID, actor: User, at: datetime, note: str = "", **more: Any
) -> StockMove:
    """Add the move to an item that the act has locked, and to what is on hand."""
    after = item.quantity + quantity
    if abs(after) > MOST_ON_RECORD:
        words = gettext("That would leave %(quantity)s of %(item)s on record. Count it first.")
        raise RefusedError(words % {"quantity": stock_words(after, unit=item.shown_unit), "item": item})
    item.quantity = after
    item.save(update_fields=["quantity"])
    move = StockMove.objects.create(
        item=item, why=why, quantity=quantity, after_quantity=after, nonce=nonce, actor=actor, at=at,
        note=note.strip()[:200], **more,
    )  # fmt: skip
    facts = {"move": move.pk, "amount": move.amount, "budget": move.budget_id}
    _log(item, f"stock_{why}", after={"quantity": quantity, "on_hand": after, **facts})
    return move


def _set_price(item: StockItem) -> None:
    """Store what the last receipt said that was not reversed, else what somebody typed."""
    price = last_price(item, receipts=item.moves.that_say_a_price())
    if price != item.price_amount:
        item.price_amount = price
        item.save(update_fields=["price_amount"])


def _locked(item: StockItem, *, at: datetime) -> StockItem:
    """Return the item as it is now, locked; refuses a retired one."""
    fresh = lock_row(item, "bench")
    _refuse_retired(fresh, at=at)
    return fresh


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
    budget: RepairBudget | None = None,
) -> StockMove:
    """Book in what was bought or given; ``amount`` was paid for all of it, from a ``budget`` of the bench's school."""
    _refuse_quantity(quantity)
    if amount is not None and not 0 <= amount <= MOST_PAID:
        raise RefusedError(gettext("Enter $0 or more, up to %(most)s.") % {"most": dollars(MOST_PAID)})
    each = price_each(paid=amount, quantity=quantity) if amount else None
    if amount and each is None:
        words = gettext("%(paid)s for %(quantity)s is more apiece than anything here costs. Check both figures.")
        raise RefusedError(words % {"paid": dollars(amount), "quantity": f"{quantity.normalize():f}"})
    fresh = _locked(item, at=at)
    if budget is not None and budget.school_id != fresh.bench.school_id:
        raise RefusedError(gettext("That budget is another school's."))
    move = _moved(
        fresh, why=StockMove.Why.RECEIVED, quantity=quantity, amount=amount, budget=budget, note=note, nonce=nonce,
        actor=actor, at=at,
    )  # fmt: skip
    if each is not None:
        fresh.price_amount = each
        fresh.save(update_fields=["price_amount"])
    return move


@service(once="nonce", again=lambda _row, **_posted: Decimal(0))
def count_stock(
    *, item: StockItem, quantity: Decimal, nonce: UUID, actor: User, at: datetime, note: str = ""
) -> Decimal:
    """Set what is in stock to what was counted, and return the difference. A count that agrees is kept too."""
    if not is_quantity(quantity, least=Decimal(0)):
        raise RefusedError(gettext("Enter 0 or more, up to %(most)s.") % {"most": f"{MOST:,}"})
    fresh = _locked(item, at=at)
    difference = quantity - fresh.quantity
    _moved(fresh, why=StockMove.Why.COUNTED, actor=actor, at=at, quantity=difference, nonce=nonce, note=note)
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
    kept = items.filter(bench=attempt.job.bench_id, code__in=[*filter(None, used)]).in_use().order_by("pk")
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
    _refuse_quantity(quantity)
    if item.bench_id != attempt.job.bench_id:
        raise RefusedError(gettext("That part belongs to another bench."))
    if StockMove.objects.filter(item=item, attempt=attempt).exists():
        return
    _moved(
        _locked(item, at=at), why=StockMove.Why.USED, actor=actor, at=at, quantity=-quantity, attempt=attempt,
        nonce=uuid5(attempt.nonce, f"part:{item.pk}"), note=note,
    )  # fmt: skip


@service(once="nonce")
def reverse_stock_move(
    *, move: StockMove, because: str, nonce: UUID, actor: User, at: datetime, leaves_now: bool = False
) -> StockMove:
    """Take back a wrong receipt, use or count by a move of its own; a price goes back to what was said before it.

    A count said what there is, whatever was entered before it: until it is reversed itself, nothing older can be,
    except where the piece that came in ``leaves_now``.
    """
    if not because.strip():
        raise RefusedError(gettext("Say what was wrong."))
    item = _locked(move.item, at=at)
    fresh = StockMove.objects.select_related("reversed_by__actor").get(pk=move.pk)
    if fresh.why == StockMove.Why.REVERSED:
        raise RefusedError(gettext("This is itself a reversal. Enter again what it reversed."))
    if fresh.why == StockMove.Why.MOVED:
        raise RefusedError(gettext("Move it back from the other bench instead."))
    if known := fresh.reversal:
        words = gettext("%(who)s reversed this already, %(when)s: %(because)s")
        values = {"who": known.actor, "when": _when(known.at, at=at), "because": known.note}
        raise RefusedError(words % values)
    later = item.moves.filter(why=StockMove.Why.COUNTED, pk__gt=fresh.pk, reversed_by=None)
    if not leaves_now and (counted := later.select_related("actor").first()):
        words = gettext("%(who)s counted it after this, %(when)s. Reverse the count first, then count again.")
        raise RefusedError(words % {"who": counted.actor, "when": _when(counted.at, at=at)})
    reversal = _moved(
        item, why=StockMove.Why.REVERSED, quantity=-fresh.quantity, reverses=fresh, note=because,
        nonce=nonce, actor=actor, at=at,
    )  # fmt: skip
    if fresh.amount:
        _set_price(item)
    return reversal


@service(once="nonce")
def move_stock(
    *, item: StockItem, to: Bench, quantity: Decimal, nonce: UUID, actor: User, at: datetime, note: str = ""
) -> StockMove:
    """Take so many from one bench's stock to another's, where the same item is found or begun; both in one act."""
    _refuse_quantity(quantity)
    if to.pk == item.bench_id:
        raise RefusedError(gettext("It is already on that bench."))
    bench = lock_row(to)
    _refuse_retired(bench, at=at)
    there = same_item(item, bench=bench) or _begun_at(bench, like=item)
    rows = StockItem.objects.select_for_update(of=("self",), no_key=True).select_related("bench")
    both = {row.pk: row for row in rows.filter(pk__in=[item.pk, there.pk]).order_by("pk")}
    for row in both.values():
        _refuse_retired(row, at=at)
    here, there = both[item.pk], both[there.pk]
    if quantity > here.quantity:
        words = gettext("Only %(quantity)s on record. Count it first if there is more.")
        raise RefusedError(words % {"quantity": stock_words(max(here.quantity, Decimal(0)), unit=here.shown_unit)})
    shared: dict[str, Any] = {"why": StockMove.Why.MOVED, "note": note, "actor": actor, "at": at}
    out = _moved(here, quantity=-quantity, nonce=nonce, **shared)
    _moved(there, quantity=quantity, nonce=uuid5(nonce, "there"), moved_from=out, **shared)
    return out


def _begun_at(bench: Bench, *, like: StockItem) -> StockItem:
    """Add the same item to another bench; its price there is the one it had here."""
    same = ("code", "name", "unit", "fits_maker", "fits_model", "supplier", "part_number", "price_amount")
    columns = {name: getattr(like, name) for name in same}
    item = StockItem.objects.create(bench=bench, typed_amount=like.price_amount, **columns)
    _log(item, "stock_item_added", after={"bench": bench.code, "code": like.code})
    return item


@service
def retire_stock_item(*, item: StockItem, actor: User, at: datetime) -> StockItem:
    """Stop keeping something: no list offers it now, its history stays. Refused while any is on record."""
    fresh = lock_row(item, "bench")
    if fresh.retired_at is None:
        if fresh.quantity:
            words = gettext("%(quantity)s on record. Count it to 0, or move it to another bench first.")
            raise RefusedError(words % {"quantity": stock_words(fresh.quantity, unit=fresh.shown_unit)})
        save_columns(fresh, retired_at=at, retired_by=actor)
        _log(fresh, "stock_item_retired")
    return fresh


@service
def bring_back_stock_item(*, item: StockItem, actor: User, at: datetime) -> StockItem:
    """Keep a retired item again, with all that is known of it."""
    _refuse_retired(lock_row(item.bench), at=at)
    fresh = lock_row(item, "bench")
    if fresh.retired_at is not None:
        save_columns(fresh, retired_at=None, retired_by=None)
        _log(fresh, "stock_item_brought_back")
    return fresh
