"""One order's money through any sequence of acts by anybody: none leaves unapproved, and every state has a way on."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from core.exceptions import RefusedError
from inventory.access import has_perm_at_school
from inventory.models import Role
from repairs.models import ShopOrder
from repairs.pages.approvals import acts_of
from repairs.selectors.orders import latest_to_undo, order_events
from repairs.selectors.shops import limits_today, order_differences
from repairs.services.orders import (
    approve_order,
    bring_back,
    call_off,
    note_estimate,
    note_invoice,
    order_work,
    refuse_order,
    send_to_shop,
    take_back,
)
from tests.factories import NOW, TODAY, make_director, make_school, make_user, new_nonce
from tests.repairs.money_makers import make_budget, make_order, make_stuck_instrument

D = Decimal
amounts = st.sampled_from([D(0), D(30), D(40), D(41), D(100), D(150), D(151), D(300)])
people = st.integers(min_value=0, max_value=3)


class OrderMoney(RuleBasedStateMachine):
    """An order of a school with a tech, two directors and an administrator, any of whom may have asked."""

    @initialize(
        asker=people, expected=st.none() | amounts, is_estimate_only=st.booleans(), trip=amounts,
        budget=st.none() | st.sampled_from([D(50), D(500)]),
    )  # fmt: skip
    def ask(self, asker: int, expected: Decimal | None, is_estimate_only: bool, trip: Decimal, budget: Any) -> None:
        school = make_school()
        self.people = [
            make_user(Role.TECH, school=school), make_director(school), make_director(school),
            make_user(Role.ADMINISTRATOR),
        ]  # fmt: skip
        self.order_key = make_order(
            instrument=make_stuck_instrument(school=school), actor=self.people[asker], expected_high_amount=expected,
            is_estimate_only=is_estimate_only, trip_amount=trip if is_estimate_only else None,
            budget=None if budget is None else make_budget(school, amount=budget),
        ).pk  # fmt: skip

    @property
    def order(self) -> ShopOrder:
        return ShopOrder.objects.select_related("instrument__school").get(pk=self.order_key)

    def tried(self, act: Callable[..., ShopOrder], who: int, **given: Any) -> ShopOrder | None:
        """Do it; a refusal changes nothing."""
        before = ShopOrder.objects.filter(pk=self.order_key).values().get()
        try:
            return act(order=self.order, actor=self.people[who], at=NOW, **given)
        except RefusedError:
            assert ShopOrder.objects.filter(pk=self.order_key).values().get() == before
            return None

    @rule(who=people, amount=amounts)
    def estimate(self, who: int, amount: Decimal) -> None:
        self.tried(note_estimate, who, amount=amount, on=TODAY)

    @rule(who=people, amount=st.none() | amounts)
    def approve(self, who: int, amount: Decimal | None) -> None:
        """Without an amount: what it waits for."""
        self.tried(approve_order, who, amount=(self.order.money.wanted or D(1)) if amount is None else amount)

    @rule(amount=amounts)
    def who_asked_approves(self, amount: Decimal) -> None:
        self.tried(note_estimate, 0, amount=amount, on=TODAY)
        asker = next(number for number, person in enumerate(self.people) if person.pk == self.order.asked_by_id)
        self.approve(asker, None)

    @rule(who=people)
    def refuse(self, who: int) -> None:
        self.tried(refuse_order, who, because="Too dear")

    @rule(who=people)
    def send(self, who: int) -> None:
        if sent := self.tried(send_to_shop, who):
            assert self.is_covered(self.order, sent.trip_amount if sent.is_estimate_only else None)

    @rule(who=people)
    def go_ahead(self, who: int) -> None:
        if self.tried(order_work, who):
            assert self.is_covered(self.order, None)

    def is_covered(self, order: ShopOrder, trip: Decimal | None) -> bool:
        """Whether what has just been ordered was within limit and budget, or approved by another person."""
        assert order.refused_at is None
        approved = order.approved_amount or D(0)
        cost = trip if trip is not None else order.estimate_amount
        if cost is None:
            cost = order.expected_high_amount
        if cost is None:
            return D(0) < approved <= limits_today().work
        most = limits_today().trip if trip is not None else limits_today().work
        if trip is None and cost > most and order.estimate_amount is None:
            return False
        fits = order.budget is None or cost <= order.budget.amount
        return cost <= approved or (cost <= most and fits)

    @rule(who=people)
    def back(self, who: int) -> None:
        self.tried(bring_back, who, what_was_done="Looked at.")

    @rule(who=people, amount=amounts)
    def bill(self, who: int, amount: Decimal) -> None:
        self.tried(note_invoice, who, amount=amount, on=TODAY)

    @rule(who=people)
    def drop(self, who: int) -> None:
        self.tried(call_off, who, because="Not needed")

    @rule(who=people)
    def undo(self, who: int) -> None:
        if event := latest_to_undo(order_events(self.order)):
            self.tried(take_back, who, number=event.number, because="Slip", nonce=new_nonce())

    @invariant()
    def nobody_approved_their_own_request_or_without_the_right(self) -> None:
        order = self.order
        for person in (order.approved_by, order.refused_by):
            if person is not None:
                assert person.pk != order.asked_by_id
                assert has_perm_at_school(person, "repairs.approve_cost", order.instrument.school_id)

    @invariant()
    def every_state_has_a_way_on_and_no_bill_is_accepted_above_what_was_allowed(self) -> None:
        order = self.order
        ways = [acts_of(order, may_send=True, may_approve=may) for may in (True, False)]
        if order.called_off_at is not None or any(ways):
            return
        assert order.invoice_amount is not None
        within = [order.approved_amount or D(0)]
        if order.is_estimate_only:
            assert order.trip_amount is not None
            within.append(min(order.trip_amount, max(limits_today().trip, within[0])))
            if order.approved_at is None or order.approved_at < order.returned_at:
                del within[0]
        else:
            known = order.estimate_amount if order.estimate_amount is not None else order.expected_high_amount
            within.append(min(known or D(0), limits_today().work))
        assert order.invoice_amount <= max(within)
        assert order_differences() == []


@pytest.mark.django_db
@pytest.mark.parametrize(("examples", "steps"), [(8, 15), pytest.param(150, 30, marks=pytest.mark.drill)])
def test_money_never_leaves_unapproved(examples, steps):
    run_state_machine_as_test(
        OrderMoney, settings=settings(max_examples=examples, stateful_step_count=steps, deadline=None)
    )
