"""The database holds what the services promise."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from repairs.models import PartsInstrument, StockItem, StockMove, TakenPart
from tests.factories import NOW, make_ready_instrument, new_nonce
from tests.repairs.money_makers import make_item, make_parts_instrument

pytestmark = pytest.mark.django_db


def refused(act):
    with pytest.raises(IntegrityError), transaction.atomic():
        act()


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
