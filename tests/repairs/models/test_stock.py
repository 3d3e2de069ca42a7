"""The database holds what the services promise."""

from __future__ import annotations

import pytest

from repairs.models import Bench, PartsInstrument, StockItem, StockMove, TakenPart
from tests.database import refused
from tests.factories import NOW, make_ready_instrument, make_user, new_nonce
from tests.repairs.money_makers import make_item, make_parts_instrument

pytestmark = pytest.mark.django_db


def test_a_code_is_on_a_bench_once_and_so_is_a_free_part_that_fits_the_same():
    item, part = make_item(code="pad"), make_item(name="Stop", fits_maker="A")
    refused(lambda: StockItem.objects.create(bench=item.bench, code="pad", name="Pad"))
    refused(lambda: StockItem.objects.create(bench=part.bench, name="STOP", fits_maker="a"))
    StockItem.objects.create(bench=part.bench, name="Stop", fits_maker="B")


def test_what_is_received_adds_and_what_is_used_takes():
    item = make_item()
    for why, quantity in (("received", -1), ("received", 0), ("used", 1)):
        refused(
            lambda why=why, quantity=quantity: StockMove.objects.create(
                item=item, why=why, quantity=quantity, after_quantity=0, nonce=new_nonce(), at=NOW,
                actor=make_parts_instrument().marked_by,
            )
        )  # fmt: skip


def test_an_instrument_is_a_parts_instrument_once_at_a_time_and_a_part_is_taken_once():
    parts_instrument = make_parts_instrument()
    refused(
        lambda: PartsInstrument.objects.create(
            instrument=parts_instrument.instrument, because="x", marked_at=NOW, marked_by=parts_instrument.marked_by
        )
    )
    onto = make_ready_instrument()
    row = {
        "parts_instrument": parts_instrument,
        "part": "bell",
        "onto": onto,
        "taken_at": NOW,
        "taken_by": parts_instrument.marked_by,
    }
    first = TakenPart.objects.create(batch=new_nonce(), **row)
    refused(lambda: TakenPart.objects.create(batch=new_nonce(), **row))
    rows = TakenPart.objects.filter(pk=first.pk)
    went = {"went_at": NOW, "went_by": parts_instrument.marked_by}
    refused(lambda: rows.update(went="back"))
    refused(lambda: rows.update(went="shelf", **went))
    rows.update(went="back", **went)
    TakenPart.objects.create(batch=new_nonce(), **row)
    refused(lambda: rows.update(went="shelf", shelf_item=make_item()))


def test_rows_say_what_they_are():
    item = make_item(quantity="2")
    assert str(item) == "valve oil"
    assert str(StockMove.objects.get()) == "Received +2.000"


def test_no_row_holds_more_than_is_believed():
    item = make_item(quantity="2")
    for column, value in (
        ("price_amount", "100000"), ("price_amount", "-0.01"), ("quantity", "500000.001"), ("quantity", "-500000.001"),
        ("reorder_level", "100000.001"),
    ):  # fmt: skip
        refused(lambda column=column, value=value: StockItem.objects.filter(pk=item.pk).update(**{column: value}))
    move = {"item": item, "after_quantity": 0, "at": NOW, "actor": make_user()}
    refused(lambda: StockMove.objects.create(why="received", quantity=1, amount=1_000_000, nonce=new_nonce(), **move))


def test_a_retired_item_is_empty_and_a_reversal_reverses_one_move_once():
    item = make_item(quantity="2")
    move, said = StockMove.objects.get(), {"item": item, "after_quantity": 0, "at": NOW, "actor": make_user()}
    refused(lambda: StockItem.objects.filter(pk=item.pk).update(retired_at=NOW, retired_by=said["actor"]))
    refused(lambda: StockMove.objects.create(why="reversed", quantity=-2, nonce=new_nonce(), **said))
    refused(lambda: StockMove.objects.create(why="counted", quantity=-2, reverses=move, nonce=new_nonce(), **said))
    refused(lambda: StockMove.objects.create(why="moved", quantity=-2, moved_from=move, nonce=new_nonce(), **said))
    StockMove.objects.create(why="reversed", quantity=-2, reverses=move, nonce=new_nonce(), **said)
    refused(lambda: StockMove.objects.create(why="reversed", quantity=-2, reverses=move, nonce=new_nonce(), **said))
    refused(lambda: Bench.objects.filter(pk=item.bench_id).update(retired_at=NOW))
