"""Stock: what comes in, what work uses, what a count says; each refusal writes nothing."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.utils.translation import override

from core.exceptions import RefusedError, UsedFormError
from core.models import AppendOnlyError, Event
from repairs.models import RepairBudget, StockItem, StockMove
from repairs.rules.bounds import MOST, MOST_EACH, MOST_PAID
from repairs.selectors.stock import stock_differences
from repairs.services.stock import (
    add_stock_item,
    change_stock_item,
    count_stock,
    receive_stock,
    reverse_stock_move,
    use_free_part,
    use_stock_for,
)
from tests.factories import NOW, make_bench, make_school, make_user, new_nonce
from tests.repairs.money_makers import make_attempt, make_budget, make_item, make_job, on_hand

pytestmark = pytest.mark.django_db
D = Decimal


def test_a_thing_of_the_catalog_brings_its_name_and_unit():
    item = make_item(code="valve_oil")
    assert (item.name, item.unit, item.quantity) == ("valve oil", "bottle", 0)
    assert item.each_amount == D("6.50")
    assert Event.objects.filter(act="stock_item_added", subject_id=str(item.pk)).exists()


def test_its_name_is_stored_in_one_language_and_read_in_the_readers():
    with override("es-mx"):
        item = make_item(code="valve_oil")
        assert (str(item), item.shown_unit) == ("aceite para pistones", "botella")
    assert (item.name, item.unit, str(item)) == ("valve oil", "bottle", "valve oil")


def test_a_free_part_says_what_it_fits():
    item = make_item(name="Third slide stop", fits_maker="Plain Brass Works", fits_model="B2")
    assert item.fits == "Plain Brass Works B2"
    assert item.each_amount is None


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"code": "moon_dust"}, "nothing called moon_dust"),
        ({"name": "   "}, "name the part"),
        ({"name": "x" * 81}, "80"),
        ({"name": "Stop", "reorder_level": D(-1)}, "greater than or equal to 0"),
        ({"name": "Stop", "price_amount": D(-1)}, "greater than or equal to 0"),
    ],
)
def test_what_cannot_be_kept_is_refused(fields, sentence):
    bench = make_bench()
    with pytest.raises(RefusedError, match=sentence):
        add_stock_item(bench=bench, actor=make_user(), at=NOW, **fields)
    assert not StockItem.objects.exists()


def test_the_same_thing_is_on_a_bench_once():
    item = make_item(code="pad")
    part = make_item(bench=item.bench, name="Stop", fits_maker="A")
    for fields in ({"code": "pad"}, {"name": "stop", "fits_maker": "a"}):
        with pytest.raises(RefusedError):
            add_stock_item(bench=item.bench, actor=make_user(), at=NOW, **fields)
    assert {row.pk for row in StockItem.objects.all()} == {item.pk, part.pk}


def test_receiving_adds_and_learns_the_price():
    item = make_item()
    receive_stock(item=item, quantity=D(4), amount=D("22.00"), nonce=new_nonce(), actor=make_user(), at=NOW)
    item.refresh_from_db()
    assert (item.quantity, item.price_amount) == (4, D("5.50"))


def test_a_form_sent_twice_is_received_once():
    item, nonce, actor = make_item(), new_nonce(), make_user()
    for _ in range(2):
        receive_stock(item=item, quantity=D(4), nonce=nonce, actor=actor, at=NOW)
    assert on_hand(item) == 4
    assert StockMove.objects.count() == 1


@pytest.mark.parametrize("fields", [
    {"quantity": D(0)}, {"quantity": D(-2)}, {"quantity": D(1), "amount": D(-1)}, {"quantity": MOST + 1},
    {"quantity": D(100), "amount": MOST_PAID + D("0.01")}, {"quantity": D("0.001"), "amount": D(999_999)},
    {"quantity": D(1), "amount": MOST_EACH + D("0.01")},
])  # fmt: skip
def test_nothing_and_less_than_nothing_cannot_be_received(fields):
    item = make_item()
    with pytest.raises(RefusedError):
        receive_stock(item=item, nonce=new_nonce(), actor=make_user(), at=NOW, **fields)
    assert on_hand(item) == 0
    assert not StockMove.objects.exists()


def test_a_count_sets_what_is_there_and_keeps_the_difference():
    item = make_item(quantity="5")
    assert count_stock(item=item, quantity=D(3), nonce=new_nonce(), actor=make_user(), at=NOW) == -2
    assert on_hand(item) == 3
    move = StockMove.objects.filter(why="counted").get()
    assert (move.quantity, move.after_quantity) == (-2, 3)


def test_a_count_below_nothing_is_refused():
    item = make_item(quantity="5")
    with pytest.raises(RefusedError, match="Enter 0 or more"):
        count_stock(item=item, quantity=D(-1), nonce=new_nonce(), actor=make_user(), at=NOW)
    assert on_hand(item) == 5


def test_work_takes_what_it_used_from_its_own_bench_once():
    job = make_job()
    item, elsewhere = make_item(bench=job.bench, quantity="2"), make_item(quantity="2")
    attempt = make_attempt(job=job, parts=[("valve_oil", "0.15"), ("valve_oil", "0.1"), ("not_kept", "1")])
    assert use_stock_for(attempt=attempt, actor=job.opened_by, at=NOW) == 1
    assert use_stock_for(attempt=attempt, actor=job.opened_by, at=NOW) == 0
    assert on_hand(item) == D("1.75")
    assert on_hand(elsewhere) == 2


def test_work_never_waits_for_the_book_and_the_book_says_so():
    job = make_job()
    item = make_item(bench=job.bench)
    use_stock_for(attempt=make_attempt(job=job), actor=job.opened_by, at=NOW)
    assert on_hand(item) == D("-0.15")


@pytest.mark.parametrize("quantity", ["", "many", "NaN", "Infinity", "-1", "1e99", None])
def test_a_quantity_that_is_none_takes_nothing(quantity):
    job = make_job()
    item = make_item(bench=job.bench, quantity="2")
    attempt = make_attempt(job=job, parts=[("valve_oil", quantity)])
    assert use_stock_for(attempt=attempt, actor=job.opened_by, at=NOW) == 0
    assert on_hand(item) == 2


def test_a_free_part_is_used_for_an_attempt_once():
    job = make_job()
    item, attempt = make_item(bench=job.bench, name="Stop", quantity="2"), make_attempt(job=job)
    for _ in range(2):
        use_free_part(item=item, attempt=attempt, quantity=D(1), actor=job.opened_by, at=NOW)
    assert on_hand(item) == 1


def test_a_free_part_of_another_bench_or_none_at_all_is_refused():
    job = make_job()
    attempt, here, there = make_attempt(job=job), make_item(bench=job.bench, name="Stop"), make_item(name="Stop")
    for item, quantity in ((there, D(1)), (here, D(0))):
        with pytest.raises(RefusedError):
            use_free_part(item=item, attempt=attempt, quantity=quantity, actor=job.opened_by, at=NOW)
    assert not StockMove.objects.exists()


def test_a_form_of_one_item_is_no_form_of_another():
    item, other, nonce, actor = make_item(), make_item(code="valve_oil"), new_nonce(), make_user()
    receive_stock(item=item, quantity=D(4), nonce=nonce, actor=actor, at=NOW)
    with pytest.raises(UsedFormError):
        receive_stock(item=other, quantity=D(4), nonce=nonce, actor=actor, at=NOW)
    with pytest.raises(UsedFormError):
        count_stock(item=other, quantity=D(4), nonce=nonce, actor=actor, at=NOW)
    assert on_hand(other) == 0


def test_moves_are_never_changed():
    make_item(quantity="2")
    for act in (
        lambda: StockMove.objects.update(quantity=9),
        lambda: StockMove.objects.all().delete(),
        lambda: StockMove.objects.get().delete(),
    ):
        with pytest.raises(AppendOnlyError):
            act()
    assert StockMove.objects.get().quantity == 2


def test_a_changed_item_keeps_what_lies_there():
    item = make_item(name="Stop", quantity="2")
    change_stock_item(
        item=item, name="Slide stop", fits_maker="A", fits_model="", reorder_level=D(3), price_amount=D(4), place="Top",
        actor=make_user(), at=NOW,
    )  # fmt: skip
    item.refresh_from_db()
    assert (item.name, item.quantity, item.reorder_level, item.place) == ("Slide stop", 2, 3, "Top")
    with pytest.raises(RefusedError):
        change_stock_item(
            item=item, name="", reorder_level=D(0), price_amount=None, place="", actor=make_user(), at=NOW
        )


def test_the_book_is_the_sum_of_its_moves_and_a_difference_is_told():
    item = make_item(quantity="2")
    assert list(stock_differences()) == []
    StockItem.objects.filter(pk=item.pk).update(quantity=5)
    assert len(list(stock_differences())) == 1


def test_a_receipt_is_paid_from_a_budget_of_its_school_until_it_is_reversed():
    item = make_item()
    fields = {"item": item, "quantity": Decimal(2), "actor": make_user("tech", school=item.bench.school), "at": NOW}
    with pytest.raises(RefusedError, match="another school"):
        receive_stock(amount=Decimal(9), budget=make_budget(make_school()), nonce=new_nonce(), **fields)
    budget = make_budget(item.bench.school, amount=Decimal(100))
    move = receive_stock(amount=Decimal("9.50"), budget=budget, nonce=new_nonce(), **fields)
    assert RepairBudget.objects.with_sums().get(pk=budget.pk).left == Decimal("90.50")
    reverse_stock_move(move=move, because="Slip", nonce=new_nonce(), actor=fields["actor"], at=NOW)
    assert RepairBudget.objects.with_sums().get(pk=budget.pk).left == 100
