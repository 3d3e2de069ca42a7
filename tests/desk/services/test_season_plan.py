"""A season plan starts: its jobs are opened and what it buys is asked for, once and together."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils.translation import override

from core.exceptions import RefusedError
from core.models import Event
from desk.services.season_plan import start_season
from inventory.models import Closed, Finding, Instrument, PurchaseRequest, Whereabouts
from repairs.models import Job, ShopOrder
from tests.factories import NOW, TODAY, make_director, make_inspection, make_instrument, make_school, new_nonce
from tests.inventory.leaving_makers import make_disposal
from tests.loans.makers import make_loan
from tests.repairs.makers import STUCK, make_school_bench
from tests.repairs.money_makers import make_order, make_shop

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)
ASKED = {
    "lines": [{"kind": "tuba", "size": "", "make": "student", "count": 2, "each": "2100.50", "ready_on": None}],
    "seated": 9, "wanted": 10, "for_whom": "Wind band",
}  # fmt: skip


def make_stuck(school) -> Instrument:
    instrument = make_instrument(school=school)
    make_inspection(instrument=instrument, findings=[STUCK])
    return Instrument.objects.get(pk=instrument.pk)


def start(actor, *instruments, requests=(), **more):
    fields = {"needed_by": None, "at": LATER, "nonce": None} | more
    return start_season(instruments=instruments, requests=requests, actor=actor, **fields)


def refused(actor, *instruments: Instrument, **more) -> str:
    """Return the refusal's words; fail unless nothing was written."""
    before = Job.objects.count(), PurchaseRequest.objects.count(), Event.objects.count()
    with pytest.raises(RefusedError) as refusal:
        start(actor, *instruments, **more)
    assert (Job.objects.count(), PurchaseRequest.objects.count(), Event.objects.count()) == before
    return str(refusal.value)


def test_each_goes_to_the_first_bench_of_its_school(school, director):
    other = make_school()
    benches = {place.pk: make_school_bench(place) for place in (school, other)}
    make_school_bench(school)
    rows = [make_stuck(school), make_stuck(other), make_stuck(school)]
    due = TODAY + timedelta(days=40)
    with override("es-mx"):
        started = start(director, *rows, needed_by=due)
    assert (started.at, started.stopped) == (LATER, {})
    found = {job.instrument_id: (job.bench, job.due_on, job.because) for job in Job.objects.select_related("bench")}
    assert found == {row.pk: (benches[row.school_id], due, "Season plan") for row in rows}
    assert set(Instrument.objects.values_list("whereabouts", flat=True)) == {Whereabouts.ON_BENCH}
    assert Event.objects.filter(act="job_opened").count() == 3


def test_what_is_bought_is_asked_for_in_the_same_act(school, director):
    make_school_bench(school)
    start(director, make_stuck(school), requests=[(school, ASKED)], needed_by=TODAY + timedelta(days=40))
    request = PurchaseRequest.objects.get()
    assert (request.total_amount, request.seated, request.wanted) == (Decimal(4201), 9, 10)
    assert (request.asked_at, request.asked_by, request.needed_by) == (LATER, director, TODAY + timedelta(days=40))
    assert Job.objects.get().opened_at == LATER
    assert Event.objects.filter(act="purchase_requested").count() == 1


def test_what_cannot_start_anymore_says_why_and_the_rest_starts(school, director):
    make_school_bench(school)
    fine, lent, parts, ordered = make_stuck(school), make_loan(school=school).instrument, *map(make_stuck, [school] * 2)
    sold, elsewhere = make_stuck(school), make_stuck(make_school())
    busy = make_stuck(school)
    start(director, busy)
    Instrument.objects.filter(pk=parts.pk).update(is_parts_instrument=True)
    make_order(instrument=ordered)
    make_disposal(sold)
    rows = [fine, lent, parts, ordered, sold, elsewhere, busy]
    assert start(director, *rows).stopped == {
        lent.asset_number: "No longer in storage: now with a student.",
        parts.asset_number: f"{parts.asset_number} is kept for parts. Put it back in service first.",
        ordered.asset_number: "It has an open shop order.",
        sold.asset_number: "No longer in storage: now gone.",
        elsewhere.asset_number: "Its school has no bench.",
        busy.asset_number: "No longer in storage: now on the bench.",
    }
    assert set(Job.objects.values_list("instrument", flat=True)) == {fine.pk, busy.pk}


def test_an_order_whose_finding_was_fixed_meanwhile_says_so_and_the_rest_is_written(school, director):
    fixed, fine = make_stuck(school), make_stuck(school)
    shop = make_shop()
    keys = {row: [one.pk for one in Finding.objects.filter(instrument=row)] for row in (fixed, fine)}
    orders = [(row, {"shop": shop, "question": "Free it.", "findings": found}) for row, found in keys.items()]
    Finding.objects.filter(instrument=fixed).update(closed_at=NOW, closed_because=Closed.REPAIRED)
    started = start(director, orders=orders)
    words = "One of the findings has been fixed in the meantime. Check what to ask for."
    assert started.stopped == {fixed.asset_number: words}
    assert [order.instrument for order in ShopOrder.objects.all()] == [fine]


def test_where_nothing_is_left_it_says_why_and_writes_nothing(school, director):
    make_school_bench(school)
    out = make_loan(school=school).instrument
    assert f"{out.asset_number}: No longer in storage" in refused(director, out)
    assert "Run it again" in refused(director)


def test_what_was_asked_for_on_another_day_is_not_asked_for_again(school, director):
    make_school_bench(school)
    start(make_director(school), requests=[(school, ASKED)])
    later = LATER + timedelta(days=1)
    words = "All of it has already been requested."
    assert start(director, make_stuck(school), requests=[(school, ASKED)], at=later).stopped == {school.name: words}
    assert words in refused(director, requests=[(school, ASKED)], at=later)
    assert PurchaseRequest.objects.count() == 1
    more = ASKED | {"lines": [ASKED["lines"][0] | {"count": 3}]}
    start(director, requests=[(school, more)], at=later)
    assert PurchaseRequest.objects.latest("pk").count == 1


def test_the_same_form_posted_again_starts_nothing_more_and_answers_alike(school, director):
    make_school_bench(school)
    rows, nonce = [make_stuck(school), make_loan(school=school).instrument], new_nonce()
    answers = [
        start(director, *rows, requests=[(school, ASKED)], nonce=nonce, at=LATER + timedelta(seconds=second))
        for second in range(2)
    ]
    assert answers[0] == answers[1]
    assert answers[0].at == LATER
    assert (Job.objects.count(), PurchaseRequest.objects.count()) == (1, 1)


def test_a_day_that_nobody_could_promise_is_refused_by_the_number(school, director):
    make_school_bench(school)
    assert "is in the past" in refused(director, make_stuck(school), needed_by=TODAY - timedelta(days=400))
