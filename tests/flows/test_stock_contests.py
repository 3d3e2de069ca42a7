"""Two people at the same stock at once: nothing is counted twice or lost, and nobody waits forever."""

from __future__ import annotations

import pytest

from repairs.models import Bench, StockItem
from repairs.services.benches import retire_bench
from repairs.services.jobs import open_job
from repairs.services.stock import (
    add_stock_item,
    change_stock_item,
    count_stock,
    move_stock,
    receive_stock,
    reverse_stock_move,
)
from tests.contests import at_once, contests, went_well, wrong_after
from tests.factories import NOW, make_bench, make_director, new_nonce
from tests.repairs.money_makers import make_stuck_instrument

pytestmark = pytest.mark.django_db(transaction=True)


def two_stock_changes() -> None:
    bench = make_bench()
    actor = make_director(bench.school)
    item = add_stock_item(bench=bench, name="Stop screw", unit="pieces", actor=actor, at=NOW)
    at_once(
        lambda: receive_stock(item=item, quantity=5, nonce=new_nonce(), actor=actor, at=NOW),
        lambda: receive_stock(item=item, quantity=2, nonce=new_nonce(), actor=actor, at=NOW),
        lambda: change_stock_item(
            item=item, reorder_level=1, price_amount=None, place="Drawer 3", name="Stop screw", actor=actor, at=NOW
        ),
    )
    now = StockItem.objects.get(pk=item.pk)
    assert (now.quantity, now.place) == (7, "Drawer 3")


def a_receipt_reversed_by_two() -> None:
    bench = make_bench()
    actor = make_director(bench.school)
    item = add_stock_item(bench=bench, code="pad", actor=actor, at=NOW)
    move = receive_stock(item=item, quantity=5, amount=10, nonce=new_nonce(), actor=actor, at=NOW)
    act = {"move": move, "because": "Slip", "actor": actor, "at": NOW}
    answers = at_once(*[lambda: reverse_stock_move(nonce=new_nonce(), **act)] * 3)
    assert len(went_well(answers)) == 1
    assert StockItem.objects.get(pk=item.pk).quantity == 0


def stock_moved_both_ways() -> None:
    here = make_bench()
    there, actor = make_bench(school=here.school), make_director(here.school)
    items = [add_stock_item(bench=bench, code="pad", actor=actor, at=NOW) for bench in (here, there)]
    for item in items:
        receive_stock(item=item, quantity=5, nonce=new_nonce(), actor=actor, at=NOW)
    said = {"quantity": 2, "actor": actor, "at": NOW}
    answers = at_once(
        lambda: move_stock(item=items[0], to=there, nonce=new_nonce(), **said),
        lambda: move_stock(item=items[1], to=here, nonce=new_nonce(), **said),
        lambda: move_stock(item=items[0], to=there, nonce=new_nonce(), **said),
        lambda: count_stock(item=items[1], quantity=9, nonce=new_nonce(), actor=actor, at=NOW),
    )
    assert len(went_well(answers)) == 4


def an_item_begun_elsewhere_by_two() -> None:
    here = make_bench()
    there, actor = make_bench(school=here.school), make_director(here.school)
    item = add_stock_item(bench=here, name="Stop screw", actor=actor, at=NOW)
    receive_stock(item=item, quantity=5, nonce=new_nonce(), actor=actor, at=NOW)
    said = {"quantity": 2, "actor": actor, "at": NOW}
    at_once(*[lambda: move_stock(item=item, to=there, nonce=new_nonce(), **said)] * 3)
    assert [
        row.quantity for row in StockItem.objects.filter(name="Stop screw", bench__in=[here, there]).order_by("pk")
    ] == [1, 4]


def a_bench_retired_while_work_comes() -> None:
    bench = make_bench()
    actor, instrument = make_director(bench.school), make_stuck_instrument(school=bench.school)
    item = add_stock_item(bench=bench, code="pad", actor=actor, at=NOW)
    at_once(
        lambda: retire_bench(bench=bench, actor=actor, at=NOW),
        lambda: open_job(instrument=instrument, bench=bench, actor=actor, at=NOW),
        lambda: receive_stock(item=item, quantity=1, nonce=new_nonce(), actor=actor, at=NOW),
        lambda: add_stock_item(bench=bench, code="valve_oil", actor=actor, at=NOW),
    )
    if Bench.objects.get(pk=bench.pk).retired_at:
        assert not bench.jobs.open().exists()
        assert not StockItem.objects.filter(bench=bench).in_use().exists()


@contests(
    two_stock_changes,
    a_receipt_reversed_by_two,
    stock_moved_both_ways,
    an_item_begun_elsewhere_by_two,
    a_bench_retired_while_work_comes,
)
def test_two_at_once_meet_no_fault_and_leave_nothing_to_verify(contest, rounds):
    assert wrong_after(contest, rounds) == []
