"""A wrong entry of stock is put right by a new act: reversed, moved, retired, brought back; refusals write nothing."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from core.exceptions import RefusedError
from core.models import Event
from inventory.models import Role
from repairs.models import StockItem, StockMove
from repairs.rules.bounds import MOST, MOST_EACH, MOST_ON_RECORD, MOST_PAID
from repairs.selectors.stock import stock_differences
from repairs.services.stock import (
    add_stock_item,
    bring_back_stock_item,
    change_stock_item,
    count_stock,
    move_stock,
    receive_stock,
    retire_stock_item,
    reverse_stock_move,
    use_stock_for,
)
from tests.factories import NOW, make_bench, make_user, new_nonce
from tests.repairs.money_makers import make_attempt, make_item, make_job, on_hand

pytestmark = pytest.mark.django_db
D = Decimal


def received(item: StockItem, quantity: str = "4", amount: str | None = None) -> StockMove:
    paid = D(amount) if amount else None
    return receive_stock(
        item=item, quantity=D(quantity), amount=paid, nonce=new_nonce(), actor=make_user(), at=NOW
    )  # fmt: skip


def reversed_(move: StockMove, **overrides) -> StockMove:
    fields = {"because": "Wrong box", "nonce": new_nonce(), "actor": make_user(), "at": NOW} | overrides
    return reverse_stock_move(move=move, **fields)


def price_of(item: StockItem) -> Decimal | None:
    return StockItem.objects.get(pk=item.pk).price_amount


def test_a_price_that_nothing_costs_refuses_the_receipt_kindly_and_the_greatest_is_kept():
    item = make_item()
    with pytest.raises(RefusedError, match=r"\$999,999 for 0.001 is more apiece than anything here costs"):
        received(item, "0.001", "999999")
    received(item, "1", str(MOST_EACH))
    received(item, str(MOST), str(MOST_PAID))
    item.refresh_from_db()
    assert (item.quantity, item.price_amount) == (MOST + 1, D("10.00"))


def test_no_act_brings_the_record_beyond_what_it_holds():
    item = make_item()
    StockItem.objects.filter(pk=item.pk).update(quantity=MOST_ON_RECORD)
    with pytest.raises(RefusedError, match="Count it first"):
        received(item)
    count_stock(item=item, quantity=MOST, nonce=new_nonce(), actor=make_user(), at=NOW)
    assert on_hand(item) == MOST


def test_a_wrong_receipt_is_reversed_with_its_reason_and_the_price_of_before():
    item = make_item(price_amount=D(3))
    received(item, "2", "8")
    wrong = received(item, "4", "400")
    back = reversed_(wrong, because="  400 was the whole order ")
    assert (back.quantity, back.why, back.reverses, back.note) == (-4, "reversed", wrong, "400 was the whole order")
    assert (on_hand(item), price_of(item)) == (2, 4)
    reversed_(StockMove.objects.get(amount=8))
    assert (on_hand(item), price_of(item)) == (0, 3)
    assert list(stock_differences()) == []


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_a_price_never_comes_back_from_a_receipt_that_was_itself_reversed(order):
    item = make_item(price_amount=D(3))
    receipts = [received(item, "1", "5"), received(item, "1", "7")]
    for number in order:
        reversed_(receipts[number])
    assert price_of(item) == 3


def test_a_price_said_later_stays_when_an_earlier_receipt_is_reversed():
    item, change = make_item(), {"actor": make_user(), "at": NOW}
    first, second = received(item, "1", "5"), received(item, "1", "7")
    reversed_(first)
    assert price_of(item) == 7
    change_stock_item(item=item, price_amount=D(7), place="Top", **change)  # the form as it was: nothing is said
    reversed_(second)
    assert price_of(item) is None
    third = received(item, "1", "9")
    change_stock_item(item=item, price_amount=D(2), **change)
    reversed_(third)
    assert price_of(item) == 2
    fourth, _fifth = received(item, "1", "4"), received(item, "1", "6")
    change_stock_item(item=item, price_amount=D(2), **change)
    reversed_(fourth)
    assert price_of(item) == 2, "what was typed after all receipts"
    assert list(stock_differences()) == []


def test_a_wrong_count_and_a_wrong_use_are_reversed_and_what_it_fitted_is_forgotten():
    job = make_job()
    item = make_item(bench=job.bench, quantity="5")
    use_stock_for(attempt=make_attempt(job=job), actor=job.opened_by, at=NOW)
    count_stock(item=item, quantity=D(1), nonce=new_nonce(), actor=job.opened_by, at=NOW)
    for why, left in (("counted", "4.85"), ("used", "5")):
        reversed_(StockMove.objects.get(why=why))
        assert on_hand(item) == D(left)
    use_stock_for(attempt=StockMove.objects.get(why="used").attempt, actor=job.opened_by, at=NOW)
    assert on_hand(item) == 5, "an attempt counts once, though its use was reversed"


def test_what_was_entered_before_a_count_is_reversed_only_with_the_count():
    item = make_item()
    move = received(item, "6", "12")
    counted = {"quantity": D(5), "actor": make_user(Role.TECH, name="Ann Alder"), "at": NOW}
    count_stock(item=item, nonce=new_nonce(), **counted)
    with pytest.raises(RefusedError, match=r"Ann Alder counted it after this, .*Reverse the count first"):
        reversed_(move)
    assert on_hand(item) == 5
    reversed_(StockMove.objects.get(why="counted"))
    reversed_(move)
    assert on_hand(item) == 0


def test_reversed_twice_is_refused_by_name_and_moment():
    item, ann = make_item(), make_user(username="ann", name="Ann Alder")
    move = received(item)
    nonce = new_nonce()
    first = reversed_(move, actor=ann, nonce=nonce)
    assert reversed_(move, actor=ann, nonce=nonce) == first, "the same form once more"
    with pytest.raises(RefusedError, match=r"Ann Alder reversed this already, .*: Wrong box"):
        reversed_(move)
    with pytest.raises(RefusedError, match="itself a reversal"):
        reversed_(first)
    assert on_hand(item) == 0


def test_a_reversal_without_a_reason_writes_nothing():
    item = make_item(quantity="4")
    with pytest.raises(RefusedError, match="what was wrong"):
        reversed_(StockMove.objects.get(), because="  ")
    assert (on_hand(item), StockMove.objects.count()) == (4, 1)


def moved(item: StockItem, to, quantity: str = "2", **overrides) -> StockMove:
    fields = {"nonce": new_nonce(), "actor": make_user(), "at": NOW} | overrides
    return move_stock(item=item, to=to, quantity=D(quantity), **fields)


@pytest.mark.parametrize("fields", [{"code": "pad"}, {"name": "Stop screw", "fits_maker": "Plain", "fits_model": "B2"}])
def test_stock_moves_to_another_bench_where_it_is_begun_and_found_again(fields):
    item = make_item(quantity="5", price_amount=D("1.10"), supplier="Mill Lane", part_number="S-9", **fields)
    to = make_bench(school=item.bench.school)
    nonce, actor = new_nonce(), make_user()
    out = moved(item, to, nonce=nonce, actor=actor)
    assert moved(item, to, nonce=nonce, actor=actor) == out, "the same form counts once"
    there = StockItem.objects.get(bench=to)
    assert (on_hand(item), there.quantity, there.price_amount) == (3, 2, D("1.10"))
    assert (there.code, there.name, there.fits, there.supplier, there.part_number) == (
        item.code, item.name, item.fits, "Mill Lane", "S-9",
    )  # fmt: skip
    assert out.moved_to.item == there
    moved(item, to, "3")
    moved(there, item.bench, "1")
    assert (on_hand(item), on_hand(there)) == (1, 4)
    assert StockItem.objects.count() == 2
    assert list(stock_differences()) == []
    with pytest.raises(RefusedError, match="Move it back"):
        reversed_(out)


def test_what_is_not_there_stays_or_is_retired_does_not_move():
    item, actor = make_item(quantity="2"), make_user()
    to, gone = make_bench(school=item.bench.school), make_item(bench=make_bench(school=item.bench.school))
    retire_stock_item(item=gone, actor=actor, at=NOW)
    for where, quantity, sentence in (
        (to, "3", "Only 2 bottles on record"), (item.bench, "1", "already on that bench"), (to, "0", "above 0"),
        (gone.bench, "1", "retired valve oil"),
    ):  # fmt: skip
        with pytest.raises(RefusedError, match=sentence):
            moved(item, where, quantity)
    assert StockMove.objects.count() == 1
    assert StockItem.objects.count() == 2


def test_an_item_is_retired_when_none_is_left_and_brought_back_with_its_history():
    item, ann = make_item(quantity="2", reorder_level=D(3)), make_user(username="ann", name="Ann Alder")
    with pytest.raises(RefusedError, match=r"2 bottles on record\. Count it to 0, or move it"):
        retire_stock_item(item=item, actor=ann, at=NOW)
    count_stock(item=item, quantity=D(0), nonce=new_nonce(), actor=ann, at=NOW)
    for _ in range(2):
        retire_stock_item(item=item, actor=ann, at=NOW)
    assert Event.objects.filter(act="stock_item_retired").count() == 1
    assert not StockItem.objects.under_level().exists()
    later = NOW + timedelta(days=2)
    for act in (
        lambda: receive_stock(item=item, quantity=D(1), nonce=new_nonce(), actor=ann, at=later),
        lambda: count_stock(item=item, quantity=D(1), nonce=new_nonce(), actor=ann, at=later),
        lambda: add_stock_item(bench=item.bench, code=item.code, actor=ann, at=later),
        lambda: reversed_(StockMove.objects.filter(why="received").get(), at=later),
    ):
        with pytest.raises(RefusedError, match=r"Ann Alder retired valve oil, .*Bring it back first"):
            act()
    for _ in range(2):
        bring_back_stock_item(item=item, actor=ann, at=later)
    received(item)
    assert (on_hand(item), item.moves.count()) == (4, 3)


def test_work_passes_over_what_the_bench_no_longer_keeps():
    job = make_job()
    item = make_item(bench=job.bench)
    retire_stock_item(item=item, actor=job.opened_by, at=NOW)
    assert use_stock_for(attempt=make_attempt(job=job), actor=job.opened_by, at=NOW) == 0
    assert on_hand(item) == 0


def test_a_price_nobody_said_a_pair_that_differs_and_a_lost_half_are_told():
    item = make_item(quantity="5")
    to = make_bench(school=item.bench.school)
    StockItem.objects.filter(pk=item.pk).update(price_amount=D(9))
    assert ["costs 9.00, what was said last is None" in one for one in stock_differences()] == [True]
    StockItem.objects.filter(pk=item.pk).update(price_amount=None)
    there = make_item(bench=to)
    said = {"item": item, "actor": make_user(Role.TECH), "at": NOW, "after_quantity": 0}
    out = StockMove.objects.create(why="moved", quantity=-2, nonce=new_nonce(), **said)
    assert any("came out on no bench" in one for one in stock_differences())
    StockMove.objects.create(
        why="moved", quantity=3, moved_from=out, nonce=new_nonce(), **said | {"item": there}
    )  # fmt: skip
    assert any("is 3.000, the one it answers is -2" in one for one in stock_differences())
