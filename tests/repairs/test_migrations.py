"""What older versions kept stays on record, or is put right."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.db.models import F

from inventory.models import Instrument
from repairs.models import Bench, CautionRead, ShopOrder, StockItem, WorthDecision
from repairs.selectors.decisions import retired_differences
from repairs.selectors.stock import stock_differences
from tests.factories import NOW, make_bench, make_ready_instrument, make_school, new_nonce
from tests.migrating import migrate_to, newest_afterward
from tests.repairs.makers import make_job
from tests.repairs.money_makers import make_returned_order

BOUNDS = ("repairs", "0015_parts_that_come_off_again")
DECIDED = ("repairs", "0019_decisions_carried_out")
BEFORE = ("repairs", "0008_clocks_of_steps")
ONE_BY_ONE = ("repairs", "0010_drop_cautions_of_jobs")


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_cautions_acknowledged_as_a_whole_are_kept_for_no_hazard(request, school, tech):
    newest = newest_afterward(request)
    read = make_job(school=school, actor=tech)
    unread = make_job(school=school, actor=tech, bench=read.bench)
    migrate_to(BEFORE).get_model("repairs", "Job").objects.filter(pk=read.pk).update(
        cautions_at=NOW, cautions_by_id=tech.pk
    )
    migrate_to(ONE_BY_ONE)
    jobs = migrate_to(BEFORE).get_model("repairs", "Job").objects
    assert dict(jobs.values_list("pk", "cautions_by")) == {read.pk: tech.pk, unread.pk: None}
    migrate_to(*newest)
    row = CautionRead.objects.get()
    assert (row.job_id, row.hazard, row.version, row.at, row.actor_id) == (read.pk, "", "", NOW, tech.pk)


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_a_bench_keeps_the_rate_that_it_had(request, school):
    newest = newest_afterward(request)
    old = migrate_to(("repairs", "0021_play_tests_of_orders")).get_model("repairs", "Bench")
    bench = old.objects.create(school_id=school.pk, code="old", name="Old", rate_amount="38.25")
    migrate_to(*newest)
    assert Bench.objects.get(pk=bench.pk).fact.rate_amount == Decimal("38.25")


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_what_nobody_can_have_meant_is_taken_back_and_prices_say_where_they_come_from(request, tech):
    newest = newest_afterward(request)
    bench = make_bench(school=make_school())
    old = migrate_to(BOUNDS)
    item, move = old.get_model("repairs", "StockItem"), old.get_model("repairs", "StockMove")
    kept = {
        name: item.objects.create(bench_id=bench.pk, name=name, price_amount=price).pk
        for name, price in (("received", "2.50"), ("typed", "4"), ("slip", None), ("many", None), ("level", None))
    }
    said = {"why": "received", "at": NOW, "actor_id": tech.pk}
    for name, quantity, amount in (
        ("received", 2, 5), ("typed", 2, 5), ("slip", "0.001", 999_999), ("slip", 1, "1000000"), ("many", 5, None),
    ):  # fmt: skip
        move.objects.create(
            item_id=kept[name], quantity=quantity, after_quantity=quantity, amount=amount, note="Box 7",
            nonce=new_nonce(), **said,
        )  # fmt: skip
        item.objects.filter(pk=kept[name]).update(quantity=F("quantity") + Decimal(quantity))
    item.objects.filter(pk=kept["level"]).update(reorder_level=900_000)
    item.objects.filter(pk=kept["many"]).update(quantity=900_000)
    move.objects.filter(item_id=kept["many"]).update(quantity=900_000)
    if connection.vendor == "sqlite":  # which kept what its column does not hold, and could not read it again
        item.objects.filter(pk=kept["slip"]).update(price_amount=999_999_000)
    migrate_to(*newest)
    rows = {row.name: row for row in StockItem.objects.all()}
    assert (rows["received"].price_amount, rows["received"].typed_amount) == (Decimal("2.5"), None)
    assert (rows["typed"].price_amount, rows["typed"].typed_amount) == (4, 4)
    assert rows["slip"].price_amount is None
    assert [(one.amount is None, one.note[-6:]) for one in rows["slip"].moves.order_by("pk")] == [
        (False, "Box 7"), (True, " Box 7"),
    ]  # fmt: skip
    assert rows["level"].reorder_level == 100_000
    assert rows["many"].quantity == 500_000
    assert list(stock_differences()) == []


@pytest.mark.drill
@pytest.mark.django_db(transaction=True)
def test_what_was_to_be_retired_is_and_play_tests_are_tied_to_the_order_before_them(request, school, tech):
    newest = newest_afterward(request)
    order = make_returned_order(instrument=make_ready_instrument(school=school), days=5)
    retired, repaired = make_ready_instrument(school=school), make_ready_instrument(school=school)
    said = {"is_approval_needed": True, "is_approved": True, "settled_by": tech, "settled_at": NOW, "decided_by": tech}
    figures = {"cost_p50_amount": 1, "cost_p80_amount": 1, "value_amount": 1, "advised": "retire", "decided_at": NOW}
    for instrument, answer in ((retired, "retire"), (repaired, "retire"), (repaired, "repair_here")):
        WorthDecision.objects.create(instrument=instrument, nonce=new_nonce(), answer=answer, **said, **figures)
    old = migrate_to(DECIDED)
    old.get_model("repairs", "ShopOrder").objects.update(play_test=None)
    test = old.get_model("inventory", "PlayTest").objects.create(
        instrument_id=order.instrument_id, played_at=NOW + timedelta(days=6), actor_id=tech.pk, result="pass"
    )
    migrate_to(*newest)
    assert ShopOrder.objects.get().play_test_id == test.pk
    assert list(Instrument.objects.filter(is_retired=True)) == [retired]
    assert not WorthDecision.objects.filter(answer_read_at=None).exists()
    assert list(retired_differences()) == []
