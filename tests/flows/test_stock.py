"""Stock through any sequence of acts: the record is what happened, a price was said, and all can be undone."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from core.exceptions import RefusedError
from core.money import cents
from repairs.models import StockItem, StockMove
from repairs.rules.bounds import MOST, MOST_ON_RECORD, MOST_PAID
from repairs.selectors.stock import stock_differences
from repairs.services.benches import bring_back_bench, retire_bench
from repairs.services.stock import (
    add_stock_item,
    bring_back_stock_item,
    change_stock_item,
    count_stock,
    move_stock,
    receive_stock,
    retire_stock_item,
    reverse_stock_move,
    use_free_part,
    use_stock_for,
)
from tests.factories import NOW, make_bench, make_school, make_user, new_nonce
from tests.repairs.money_makers import make_attempt, make_job, make_stuck_instrument

quantities = st.decimals(min_value=Decimal("-0.001"), max_value=9, places=3) | st.sampled_from([MOST, MOST + 1])
amounts = st.none() | st.decimals(min_value=0, max_value=99, places=2) | st.sampled_from([MOST_PAID, MOST_PAID + 1])
pick = st.integers(min_value=0, max_value=50)


class Stock(RuleBasedStateMachine):
    """Two benches, what they keep, and beside it what should be on record: quantities, and the prices said of each."""

    @initialize()
    def begin(self) -> None:
        school = make_school()
        self.actor, self.benches = make_user("tech", school=school), [make_bench(school=school) for _ in range(2)]
        job = make_job(instrument=make_stuck_instrument(school=school), bench=self.benches[0])
        self.job = job
        self.items: list[int] = []
        self.quantity: dict[int, Decimal] = {}
        self.said: dict[int, list[tuple[int, Decimal | None]]] = {}
        for fields in ({"code": "valve_oil"}, {"name": "Stop screw", "price_amount": Decimal("3.20")}):
            self.know(add_stock_item(bench=self.benches[0], **fields, **self.by()))

    def by(self) -> dict[str, Any]:
        return {"actor": self.actor, "at": NOW}

    def once(self) -> dict[str, Any]:
        return self.by() | {"nonce": new_nonce()}

    def know(self, item: StockItem) -> None:
        self.items.append(item.pk)
        self.quantity[item.pk] = item.quantity
        self.said[item.pk] = [(0, item.price_amount)]

    def item(self, number: int) -> StockItem:
        return StockItem.objects.select_related("bench").get(pk=self.items[number % len(self.items)])

    def rows(self) -> list[tuple[Any, ...]]:
        rows = StockItem.objects.filter(pk__in=self.items).order_by("pk")
        return list(rows.values_list("pk", "quantity", "price_amount", "retired_at"))

    def tried(self, act: Callable[[], Any]) -> Any:
        """Do it; a refusal changes nothing."""
        before, moves = self.rows(), StockMove.objects.count()
        try:
            return act()
        except RefusedError:
            assert (self.rows(), StockMove.objects.count()) == (before, moves)
            return None

    def took(self, item: StockItem, quantity: Decimal) -> None:
        self.quantity[item.pk] += quantity

    @rule(number=pick, quantity=quantities, amount=amounts, is_undone=st.booleans())
    def receive(self, number: int, quantity: Decimal, amount: Decimal | None, is_undone: bool) -> None:
        item, before = self.item(number), self.rows()
        move = self.tried(lambda: receive_stock(item=item, quantity=quantity, amount=amount, **self.once()))
        if move and is_undone:
            reverse_stock_move(move=move, because="Slip", **self.once())
            assert self.rows() == before
        elif move:
            self.took(item, quantity)
            if amount:
                self.said[item.pk].append((move.pk, cents(amount / quantity)))

    @rule(number=pick, quantity=quantities, is_undone=st.booleans())
    def count(self, number: int, quantity: Decimal, is_undone: bool) -> None:
        item, before = self.item(number), self.rows()
        difference = self.tried(lambda: count_stock(item=item, quantity=quantity, **self.once()))
        if difference is not None and is_undone:
            reverse_stock_move(move=item.moves.latest("pk"), because="Slip", **self.once())
            assert self.rows() == before
        elif difference is not None:
            assert self.quantity[item.pk] + difference == quantity
            self.quantity[item.pk] = quantity

    @rule(number=pick, quantity=quantities, is_undone=st.booleans())
    def use(self, number: int, quantity: Decimal, is_undone: bool) -> None:
        item, before = self.item(number), self.rows()
        attempt = make_attempt(job=self.job, parts=[(item.code, str(quantity))])
        if item.code:
            self.tried(lambda: use_stock_for(attempt=attempt, **self.by()))
        else:
            self.tried(lambda: use_free_part(item=item, attempt=attempt, quantity=quantity, **self.by()))
        for move in attempt.stock_moves.all():  # of what the bench of the job keeps
            if is_undone:
                reverse_stock_move(move=move, because="Slip", **self.once())
                assert self.rows() == before
            else:
                self.took(move.item, -quantity)

    @rule(number=pick, quantity=quantities, to=st.integers(0, 1), is_undone=st.booleans())
    def move(self, number: int, quantity: Decimal, to: int, is_undone: bool) -> None:
        item, before = self.item(number), self.rows()
        out = self.tried(lambda: move_stock(item=item, to=self.benches[to], quantity=quantity, **self.once()))
        if out is None:
            return
        there = out.moved_to.item
        if there.pk not in self.items:
            self.know(there)
            self.quantity[there.pk] = Decimal(0)
        if is_undone:
            move_stock(item=there, to=item.bench, quantity=quantity, **self.once())
            assert [row for row in self.rows() if row[0] in {one[0] for one in before}] == before
        else:
            self.took(item, -quantity)
            self.took(there, quantity)

    @rule(number=pick)
    def reverse(self, number: int) -> None:
        moves = StockMove.objects.filter(item__in=self.items).order_by("-pk")
        if not moves:
            return
        move = moves[number % len(moves)]
        if self.tried(lambda: reverse_stock_move(move=move, because="Slip", **self.once())):
            self.took(move.item, -move.quantity)
            self.said[move.item_id] = [one for one in self.said[move.item_id] if one[0] != move.pk]

    @rule(number=pick, price=st.none() | st.decimals(min_value=0, max_value=99, places=2))
    def type_price(self, number: int, price: Decimal | None) -> None:
        item = self.item(number)
        change_stock_item(item=item, price_amount=price, **self.by())
        if price != item.price_amount:
            self.said[item.pk] = [(0, price)]

    @rule(number=pick, is_undone=st.booleans())
    def retire(self, number: int, is_undone: bool) -> None:
        item, before = self.item(number), self.rows()
        if self.tried(lambda: retire_stock_item(item=item, **self.by())) and is_undone and item.retired_at is None:
            bring_back_stock_item(item=item, **self.by())
            assert self.rows() == before

    @rule(number=pick)
    def bring_back(self, number: int) -> None:
        self.tried(lambda: bring_back_stock_item(item=self.item(number), **self.by()))

    @rule()
    def retire_the_second_bench(self) -> None:
        self.tried(lambda: retire_bench(bench=self.benches[1], **self.by()))

    @rule()
    def bring_the_second_bench_back(self) -> None:
        bring_back_bench(bench=self.benches[1], **self.by())

    @invariant()
    def the_record_is_what_happened(self) -> None:
        for pk, quantity, price, retired_at in self.rows() if hasattr(self, "items") else ():
            assert (
                quantity
                == self.quantity[pk]
                == sum(StockMove.objects.filter(item=pk).values_list("quantity", flat=True))
            )
            assert price == self.said[pk][-1][1]
            assert abs(quantity) <= MOST_ON_RECORD
            assert not (retired_at and quantity)
        assert list(stock_differences()) == []


@pytest.mark.django_db
@pytest.mark.parametrize(("examples", "steps"), [(8, 12), pytest.param(150, 30, marks=pytest.mark.drill)])
def test_any_sequence_of_acts_leaves_a_record_that_does_not_lie(examples, steps):
    run_state_machine_as_test(Stock, settings=settings(max_examples=examples, stateful_step_count=steps, deadline=None))
