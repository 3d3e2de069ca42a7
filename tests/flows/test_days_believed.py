"""Every act that is given a day refuses one that cannot be meant, in words, and keeps what was typed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from core.models import Event
from inventory.exceptions import RefusedError
from inventory.services.registering import change_instrument, record_donation
from loans.services import note_student_left
from repairs.services.care import record_care
from repairs.services.jobs import open_job
from repairs.services.orders import bring_back, change_promise, note_estimate, note_invoice, send_to_shop
from tests.factories import NOW, TODAY, make_bench, make_instrument, make_ready_instrument, make_student, make_user
from tests.loans.makers import make_loan
from tests.repairs.money_makers import make_order, make_returned_order, make_sent_order

pytestmark = pytest.mark.django_db

PAST, SOON, FAR = date(2020, 3, 1), date(2031, 3, 1), date(2035, 3, 1)
FUTURE, GONE_BY, LONG_AGO, AWAY = "in the future", "in the past", "3 years ago", "years away"


def sent(act, **days):
    return act(order=make_sent_order(), actor=make_user(), at=NOW, **days)


def billed(on):
    return note_invoice(order=make_returned_order(), amount=Decimal(9), on=on, actor=make_user(), at=NOW)


def estimated(**days):
    return note_estimate(order=make_order(), amount=Decimal(9), actor=make_user(), at=NOW, **{"on": TODAY} | days)


def given(**days):
    said = {"donor_name": "A donor", "received_on": TODAY} | days
    return record_donation(instrument=make_instrument(), actor=make_user(), at=NOW, **said)


def opened(due_on):
    instrument = make_ready_instrument()
    bench = make_bench(school=instrument.school)
    return open_job(instrument=instrument, bench=bench, due_on=due_on, actor=make_user(), at=NOW)


def changed(**columns):
    return change_instrument(instrument=make_instrument(), actor=make_user(), at=NOW, **columns)


def cared(on):
    return record_care(instrument=make_ready_instrument(), code="piston_oil", done_on=on, actor=make_user(), at=NOW)


CASES = {
    "acquired": (lambda: make_instrument(acquired_on=SOON), f"Acquired on: .*{FUTURE}"),
    "acquired by an edit": (lambda: changed(acquired_on=SOON), f"Acquired on: .*{FUTURE}"),
    "made": (lambda: make_instrument(year_made=2035), "2035 is in the future"),
    "made by an edit": (lambda: changed(year_made=2028), "2028 is in the future"),
    "received": (lambda: given(received_on=SOON), f"Received on: .*{FUTURE}"),
    "thanked": (lambda: given(thanked_on=SOON), f"Thanked on: .*{FUTURE}"),
    "signed": (lambda: given(tax_form_signed_on=SOON), f"Tax form signed on: .*{FUTURE}"),
    "left": (lambda: note_student_left(student=make_student(), left_on=SOON, actor=make_user(), at=NOW), FUTURE),
    "left long ago": (
        lambda: note_student_left(student=make_student(), left_on=PAST, actor=make_user(), at=NOW),
        LONG_AGO,
    ),
    "lent": (lambda: make_loan(due_on=FAR), f"3 {AWAY}"),
    "needed": (lambda: opened(PAST), GONE_BY),
    "needed far off": (lambda: opened(FAR), f"2 {AWAY}"),
    "asked": (lambda: make_order(promised_on=FAR), f"Promised for: .*2 {AWAY}"),
    "asked for the past": (lambda: make_order(promised_on=PAST), f"Promised for: .*{GONE_BY}"),
    "estimate": (lambda: estimated(on=SOON), f"Date of the estimate: .*{FUTURE}"),
    "old estimate": (lambda: estimated(on=PAST), f"Date of the estimate: .*{LONG_AGO}"),
    "estimate with a promise": (lambda: estimated(promised_on=FAR), f"Promised for: .*2 {AWAY}"),
    "sent": (lambda: send_to_shop(order=make_order(), promised_on=FAR, actor=make_user(), at=NOW), f"2 {AWAY}"),
    "promised again": (lambda: sent(change_promise, promised_on=FAR), f"Promised for: .*2 {AWAY}"),
    "promised for the past": (lambda: sent(change_promise, promised_on=PAST), f"Promised for: .*{GONE_BY}"),
    "warranty": (lambda: sent(bring_back, what_was_done="Done", warranty_until=FAR), f"Warranty until: .*5 {AWAY}"),
    "bill": (lambda: billed(SOON), f"Date of the bill: .*{FUTURE}"),
    "old bill": (lambda: billed(PAST), f"Date of the bill: .*{LONG_AGO}"),
    "care": (lambda: cared(SOON), FUTURE),
    "care long ago": (lambda: cared(PAST), LONG_AGO),
}


@pytest.mark.parametrize("case", CASES)
def test_a_day_that_cannot_be_meant_is_refused(case):
    act, words = CASES[case]
    with pytest.raises(RefusedError, match=words):
        act()


def test_what_is_recorded_already_is_not_asked_again():
    """A list of long ago may hold anything; its other columns can still be corrected."""
    instrument = make_instrument()
    type(instrument).objects.filter(pk=instrument.pk).update(acquired_on=date(1860, 1, 1), year_made=2099)
    saved = change_instrument(
        instrument=instrument, acquired_on=date(1860, 1, 1), year_made=2099, model="Special", actor=make_user(), at=NOW
    )
    assert saved.model == "Special"


def test_the_page_says_it_and_keeps_what_was_typed(client, school, director):
    instrument = make_instrument(school=school)
    client.force_login(director)
    count = Event.objects.count()
    typed = {"school": school.pk, "maker": "Old Mill Horns", "acquired_by": "bought", "acquired_on": "2135-03-01"}
    answer = client.post(reverse("inventory:edit", args=[instrument.asset_number]), typed)
    assert answer.status_code == 422
    assert "That day is in the future." in answer.text
    assert 'value="Old Mill Horns"' in answer.text
    assert 'value="2135-03-01"' in answer.text
    assert Event.objects.count() == count
