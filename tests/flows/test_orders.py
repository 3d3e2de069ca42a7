"""A shop order through any sequence of acts by any role: where its instrument is never lies, all can be undone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test

from core.exceptions import RefusedError
from core.models import Event
from desk.selectors.verifying import whereabouts_differences
from inventory.models import Role
from inventory.services.care import record_play_test
from repairs.models import ShopOrder
from repairs.pages.order_story import story_of
from repairs.rules.orders import BY_APPROVERS
from repairs.selectors.orders import latest_to_undo, order_events
from repairs.selectors.shops import order_differences, play_test_since
from repairs.services.orders import (
    approve_order,
    ask_shop,
    bring_back,
    call_off,
    change_promise,
    note_estimate,
    note_invoice,
    order_work,
    refuse_order,
    send_to_shop,
    take_back,
)
from tests.contests import at_once
from tests.factories import NOW, TODAY, make_school, make_user, new_nonce
from tests.opening import differences
from tests.repairs.money_makers import finding_of, make_job, make_shop, make_stuck_instrument

amounts = st.sampled_from([Decimal(0), Decimal(40), Decimal(149), Decimal(200), Decimal(260)])
days = st.none() | st.integers(min_value=-2, max_value=12)
people = st.sampled_from(["tech", "director"])
COLUMNS = [
    field.attname
    for field in ShopOrder._meta.concrete_fields
    if field.name not in {"id", "play_test", "job", "refused_because"}
]


class Orders(RuleBasedStateMachine):
    """One instrument, the orders about it, and beside them what each column held before every act that holds."""

    @initialize(has_job=st.booleans())
    def begin(self, has_job: bool) -> None:
        school = make_school()
        self.instrument = make_stuck_instrument(school=school)
        self.finding = finding_of(self.instrument).pk
        self.shop, self.moment = make_shop(), 0
        self.people = {
            "tech": make_user(Role.TECH, school=school),
            "director": make_user(Role.DIRECTOR, school=school),
        }
        if has_job:
            make_job(instrument=self.instrument)
        self.before: list[tuple[str, dict[str, Any]]] = []
        self.told: dict[int, int] = {}
        self.number = 0

    def by(self, who: str) -> dict[str, Any]:
        self.moment += 1
        return {"actor": self.people[who], "at": NOW + timedelta(hours=6 * self.moment)}

    def order(self) -> ShopOrder:
        return ShopOrder.objects.get(pk=self.number)

    def columns(self) -> dict[str, Any]:
        return ShopOrder.objects.filter(pk=self.number).values(*COLUMNS).get()

    def tried(self, act: Callable[[], Any], *, is_undone_later: bool = True) -> Any:
        """Do it; a refusal changes nothing and writes nothing."""
        before = self.columns() if self.number else {}
        events = Event.objects.count()
        try:
            answer = act()
        except RefusedError:
            assert (self.columns() if self.number else {}) == before
            assert Event.objects.count() == events
            return None
        if is_undone_later and Event.objects.count() > events:
            self.before.append((order_events(self.order()).last().act, before))
        return answer

    @rule(who=people, promised=days)
    def ask(self, who: str, promised: int | None) -> None:
        on = TODAY + timedelta(days=promised) if promised is not None else None
        fields = {"shop": self.shop, "instrument": self.instrument, "question": "Free it", "findings": [self.finding]}
        order = self.tried(
            lambda: ask_shop(
                **fields, promised_on=on, expected_high_amount=Decimal(60), nonce=new_nonce(), **self.by(who)
            ),
            is_undone_later=False,
        )
        if order is not None:
            self.number, self.before = order.pk, []

    @rule(who=people, amount=amounts, promised=days)
    def estimate(self, who: str, amount: Decimal, promised: int | None) -> None:
        on = TODAY + timedelta(days=promised) if promised is not None else None
        if self.number:
            self.tried(
                lambda: note_estimate(order=self.order(), amount=amount, on=TODAY, promised_on=on, **self.by(who))
            )

    @rule(who=people, amount=amounts)
    def approve(self, who: str, amount: Decimal) -> None:
        if self.number:
            self.tried(lambda: approve_order(order=self.order(), amount=amount, **self.by(who)))

    @rule(who=people, act=st.sampled_from([refuse_order, call_off]))
    def say_no(self, who: str, act: Callable[..., Any]) -> None:
        if self.number:
            self.tried(lambda: act(order=self.order(), because="No", **self.by(who)))

    @rule(who=people)
    def go_ahead(self, who: str) -> None:
        if self.number:
            self.tried(lambda: order_work(order=self.order(), **self.by(who)))

    @rule(who=people, left=days)
    def send(self, who: str, left: int | None) -> None:
        on = TODAY + timedelta(days=left) if left is not None else None
        if self.number:
            self.tried(lambda: send_to_shop(order=self.order(), on=on, **self.by(who)))

    @rule(who=people, promised=st.integers(min_value=-2, max_value=30))
    def promise(self, who: str, promised: int) -> None:
        on = TODAY + timedelta(days=promised)
        if self.number:
            self.tried(lambda: change_promise(order=self.order(), promised_on=on, **self.by(who)))

    @rule(who=people, came=days, is_fixed=st.booleans())
    def back(self, who: str, came: int | None, is_fixed: bool) -> None:
        on = TODAY + timedelta(days=came) if came is not None else None
        fixed = [self.finding] if is_fixed else []
        if self.number:
            self.tried(
                lambda: bring_back(order=self.order(), what_was_done="Freed", put_right=fixed, on=on, **self.by(who))
            )

    @rule(who=people, amount=amounts)
    def bill(self, who: str, amount: Decimal) -> None:
        if self.number:
            self.tried(lambda: note_invoice(order=self.order(), amount=amount, on=TODAY, **self.by(who)))

    @rule()
    def play(self) -> None:
        by = self.by("tech")
        if self.number and self.order().returned_at and not self.instrument.jobs.filter(closed_at=None).exists():
            record_play_test(instrument=self.instrument, result="limits", limits_text="Low notes", **by)

    @rule(who=people)
    def undo(self, who: str) -> None:
        if not self.number:
            return
        event = latest_to_undo(order_events(self.order()))
        assert (event.act if event else None) == (self.before[-1][0] if self.before else None)
        if event is None:
            return
        done = self.tried(
            lambda: take_back(
                order=self.order(), number=event.number, because="Mistake", nonce=new_nonce(), **self.by(who)
            ),
            is_undone_later=False,
        )
        if done is not None:
            assert who == "director" or event.act not in BY_APPROVERS
            assert self.columns() == self.before.pop()[1]
        elif event.act not in {"back_from_shop", "order_called_off"} | BY_APPROVERS:
            raise AssertionError(f"{event.act} could not be taken back")

    @invariant()
    def nothing_lies(self) -> None:
        assert order_differences() == []
        assert list(whereabouts_differences()) == []

    @invariant()
    def the_story_loses_no_line(self) -> None:
        for order in ShopOrder.objects.all():
            events = list(order_events(order))
            lines = story_of(order, events, undos=order.undos.all(), played=play_test_since(order))
            assert [line.who for line in lines[: len(events)]] == [event.actor.name for event in events]
            assert len(lines) >= self.told.get(order.pk, 0)
            self.told[order.pk] = len(lines)

    def teardown(self) -> None:
        assert differences()[1] == []


@pytest.mark.django_db
@pytest.mark.parametrize(("examples", "steps"), [(8, 14), pytest.param(150, 30, marks=pytest.mark.drill)])
def test_any_sequence_of_acts_leaves_an_order_that_does_not_lie(examples, steps):
    run_state_machine_as_test(
        Orders, settings=settings(max_examples=examples, stateful_step_count=steps, deadline=None)
    )


@pytest.mark.django_db(transaction=True)
def test_two_people_do_the_same_to_one_order_and_one_does_it():
    school = make_school()
    tech, director = make_user(Role.TECH, school=school), make_user(Role.DIRECTOR, school=school)
    instrument, shop = make_stuck_instrument(school=school), make_shop()
    fields = {"shop": shop, "instrument": instrument, "question": "Free it", "expected_high_amount": Decimal(60)}

    def both(act: Callable[..., Any], **given: Any) -> None:
        answers = at_once(
            *(lambda by=by: act(actor=by, at=NOW + timedelta(hours=1), **given) for by in (tech, director))
        )
        assert sum(isinstance(answer, RefusedError) for answer in answers) == 1, answers

    answers = at_once(
        *(lambda by=by: ask_shop(**fields, nonce=new_nonce(), actor=by, at=NOW) for by in (tech, director))
    )
    order = next(answer for answer in answers if isinstance(answer, ShopOrder))
    assert ShopOrder.objects.count() == 1
    both(send_to_shop, order=order)
    number = order_events(order).last().number
    both(lambda **by: take_back(order=order, number=number, because="No", nonce=new_nonce(), **by))
    both(call_off, order=order, because="No")
    assert order_differences() == []
