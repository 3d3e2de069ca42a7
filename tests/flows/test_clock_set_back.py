"""The server's clock is set back by days: each act is done or refused in a sentence, and nothing is half done."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta

import pytest

from core.exceptions import RefusedError
from core.models import Event
from desk.services.lending import take_back_at_desk
from loans.services import erase_student
from repairs.services.orders import bring_back
from repairs.services.stock import receive_stock
from tests.factories import NOW, make_director, make_inspection, make_ready_instrument, make_school, new_nonce
from tests.loans.makers import all_back, make_loan
from tests.opening import differences
from tests.repairs.makers import do_next, make_job
from tests.repairs.money_makers import make_item, make_sent_order

pytestmark = pytest.mark.django_db

BACK = NOW - timedelta(days=3)
Act = Callable[[], object]


def taking_back() -> Act:
    loan = make_loan()
    return lambda: take_back_at_desk(loan=loan, accessories_back=all_back(loan), actor=loan.actor, at=BACK)


def bringing_back() -> Act:
    order = make_sent_order()
    return lambda: bring_back(order=order, what_was_done="Done", actor=order.asked_by, at=BACK)


def stepping() -> Act:
    job = make_job(school=make_school())
    return lambda: do_next(job, at=BACK)


def stocking() -> Act:
    item = make_item()
    director = make_director(item.bench.school)
    return lambda: receive_stock(item=item, quantity=5, nonce=new_nonce(), actor=director, at=BACK)


def erasing() -> Act:
    loan = make_loan()
    take_back_at_desk(loan=loan, accessories_back=all_back(loan), actor=loan.actor, at=NOW)
    return lambda: erase_student(student=loan.student, actor=loan.actor, at=BACK)


def inspecting() -> Act:
    instrument = make_ready_instrument()
    return lambda: make_inspection(instrument=instrument, at=BACK)


@pytest.mark.parametrize(
    "prepare", [taking_back, bringing_back, stepping, stocking, erasing, inspecting], ids=lambda act: act.__name__
)
def test_an_act_before_what_it_follows_is_done_or_refused_whole(prepare):
    act = prepare()
    events, done = Event.objects.count(), False
    with suppress(RefusedError):
        act()
        done = True
    assert done == (Event.objects.count() > events)
    assert differences()[1] == []
