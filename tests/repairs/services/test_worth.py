"""Deciding and approving; each refusal writes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

import pytest
from django.utils.translation import override

from core.exceptions import RefusedError, UsedFormError
from core.models import Event
from inventory.catalog.load import catalog
from inventory.models import Instrument, Role, StaffRole
from repairs.exceptions import ApprovalNeededError
from repairs.models import Job, ShopOrder, WorthDecision
from repairs.selectors.decisions import decisions_to_settle
from repairs.services.worth import read_answer, settle_decision
from tests.catalogs import using, with_setting
from tests.factories import NOW, make_bench, make_school, make_user, new_nonce
from tests.loans.makers import make_loan
from tests.opening import differences
from tests.repairs.money_makers import (
    make_decision,
    make_job,
    make_order,
    make_parts_instrument,
    make_refusal,
    make_stuck_instrument,
    make_worth,
)

pytestmark = pytest.mark.django_db
D = Decimal


def director_of(instrument):
    return make_user(Role.DIRECTOR, school=instrument.school)


def test_the_arithmetic_of_the_day_is_kept_with_the_answer():
    decision = make_decision(make_stuck_instrument())
    assert decision.holds
    assert (decision.cost_p80_amount, decision.value_amount) == (40, 500)
    assert any(label == "Keeping, a year" for label, _, _ in decision.lines)
    assert Event.objects.filter(act="worth_decided").exists()


def test_the_same_form_twice_decides_once():
    instrument, nonce = make_stuck_instrument(), new_nonce()
    assert make_decision(instrument, nonce=nonce).pk == make_decision(instrument, nonce=nonce).pk


def test_a_form_of_one_instrument_decides_nothing_about_another():
    nonce = new_nonce()
    make_decision(make_stuck_instrument(), nonce=nonce)
    with pytest.raises(UsedFormError):
        make_decision(make_stuck_instrument(), nonce=nonce)
    assert WorthDecision.objects.count() == 1


@pytest.mark.parametrize(("answer", "sentence"), [("sell_it", "Choose what to do"), ("retire", "math says")])
def test_no_answer_and_another_answer_without_a_reason_are_refused(answer, sentence):
    with pytest.raises(RefusedError, match=sentence):
        make_decision(make_stuck_instrument(), answer)
    assert not WorthDecision.objects.exists()


def test_who_may_approve_elsewhere_approves_nothing_here():
    instrument = make_stuck_instrument()
    person = make_user(Role.TECH, school=instrument.school)
    StaffRole.objects.create(user=person, role=Role.DIRECTOR, school=make_school())
    decision = make_decision(instrument, worth=make_worth(cost=180.0), actor=person)
    assert not decision.holds
    with pytest.raises(ApprovalNeededError):
        settle_decision(decision=decision, is_approved=True, actor=person, at=NOW)
    assert not WorthDecision.objects.filter(settled_at__isnull=False).exists()


def test_above_the_limit_it_waits_for_somebody_who_may():
    instrument = make_stuck_instrument()
    decision = make_decision(instrument, worth=make_worth(cost=180.0))
    assert decision.is_approval_needed
    assert not decision.holds
    with pytest.raises(ApprovalNeededError):
        settle_decision(decision=decision, is_approved=True, actor=decision.decided_by, at=NOW)
    director = director_of(instrument)
    assert list(decisions_to_settle(director)) == [decision]
    assert settle_decision(decision=decision, is_approved=True, actor=director, at=NOW).holds
    assert Event.objects.get(act="worth_approved").actor == director
    assert list(decisions_to_settle(director)) == []


def test_nobody_approves_what_they_decided_themselves():
    instrument = make_stuck_instrument()
    director = director_of(instrument)
    decision = make_decision(instrument, worth=make_worth(cost=180.0), actor=director)
    assert not decision.holds
    for is_approved in (True, False):
        with pytest.raises(ApprovalNeededError, match=r"You asked for it\. Another director"):
            settle_decision(decision=decision, is_approved=is_approved, note="No", actor=director, at=NOW)
    assert settle_decision(decision=decision, is_approved=True, actor=make_user(Role.ADMINISTRATOR), at=NOW).holds


@pytest.mark.usefixtures("alone")
def test_in_a_district_of_one_person_who_may_approve_approves_by_deciding():
    instrument = make_stuck_instrument()
    assert make_decision(instrument, worth=make_worth(cost=180.0), actor=director_of(instrument)).holds


def test_a_refusal_says_why_and_settles():
    instrument = make_stuck_instrument()
    decision, director = make_decision(instrument, worth=make_worth(cost=180.0)), director_of(instrument)
    with pytest.raises(RefusedError, match="why not"):
        settle_decision(decision=decision, is_approved=False, actor=director, at=NOW)
    settle_decision(decision=decision, is_approved=False, note="Buy one", actor=director, at=NOW)
    with pytest.raises(RefusedError, match="no longer waiting"):
        settle_decision(decision=decision, is_approved=True, actor=director, at=NOW)
    assert WorthDecision.objects.get().is_approved is False


def test_a_newer_decision_takes_the_place_of_one_that_waits():
    instrument = make_stuck_instrument()
    old = make_decision(instrument, worth=make_worth(cost=180.0))
    make_decision(instrument)
    director = director_of(instrument)
    assert list(decisions_to_settle(director)) == []
    with pytest.raises(RefusedError, match="newer decision"):
        settle_decision(decision=old, is_approved=True, actor=director, at=NOW)


def test_keeping_for_parts_takes_effect_when_it_is_approved():
    job = make_job()
    instrument = job.instrument
    decision = make_decision(instrument, "keep_for_parts", worth=make_worth(cost=900.0))
    assert not Instrument.objects.get(pk=instrument.pk).is_parts_instrument
    settle_decision(decision=decision, is_approved=True, actor=director_of(instrument), at=NOW)
    instrument = Instrument.objects.get(pk=instrument.pk)
    assert (instrument.is_parts_instrument, instrument.whereabouts) == (True, "in_store")


def of(instrument):
    return Instrument.objects.get(pk=instrument.pk)


def test_a_repair_opens_its_job_at_the_bench_in_the_same_act():
    instrument = make_stuck_instrument()
    decision = make_decision(instrument, bench=make_bench(school=instrument.school), because="Quick one")
    job = Job.objects.get()
    assert (job.decision, job.because, of(instrument).whereabouts) == (decision, "Quick one", "on_bench")


def test_a_repair_goes_on_with_the_job_that_is_open():
    job = make_job()
    decision = make_decision(job.instrument, bench=make_bench(school=job.instrument.school))
    assert Job.objects.get().decision == decision


def test_a_repair_that_waits_or_is_with_a_student_opens_no_job():
    waits, lent = make_stuck_instrument(), make_loan().instrument
    make_decision(waits, worth=make_worth(cost=180.0), bench=make_bench(school=waits.school))
    make_decision(lent, bench=make_bench(school=lent.school))
    assert not Job.objects.exists()


def test_sending_out_takes_over_the_order_that_is_open():
    order = make_order()
    decision = make_decision(order.instrument, "send_out", because="No time")
    assert ShopOrder.objects.get().decision == decision


@pytest.fixture
def alone() -> Iterator[None]:
    """A district of one person: who may approve, approves by deciding."""
    with using(with_setting(catalog(), "approver_is_another", 0)):
        yield


@pytest.mark.usefixtures("alone")
def test_a_retired_instrument_stays_in_and_its_job_ends_until_a_new_decision():
    job = make_job()
    instrument, director = job.instrument, director_of(job.instrument)
    asked = make_decision(instrument, "retire", because="Rotten")
    assert not of(instrument).is_retired
    with override("es-mx"):
        settle_decision(decision=asked, is_approved=True, actor=director, at=NOW)
    assert (of(instrument).is_retired, of(instrument).whereabouts) == (True, "in_store")
    assert Job.objects.get().ended_because == "Retired."
    assert of(instrument).readiness_reasons[0]["code"] == "retired"
    for work in (make_job, make_order):
        with pytest.raises(RefusedError, match="is retired"):
            work(instrument=of(instrument))
    assert differences()[1] == []
    make_decision(instrument, bench=job.bench)
    assert (of(instrument).is_retired, of(instrument).whereabouts) == (False, "on_bench")
    assert differences()[1] == []


@pytest.mark.usefixtures("alone")
def test_what_a_student_has_is_not_retired():
    instrument = make_loan().instrument
    asked = make_decision(instrument, "retire", because="Old")
    with pytest.raises(RefusedError, match=r"It is with a student\. To be retired"):
        settle_decision(decision=asked, is_approved=True, actor=director_of(instrument), at=NOW)
    assert WorthDecision.objects.get().settled_at is None
    assert not of(instrument).is_retired


def test_what_is_kept_for_parts_is_put_back_before_it_is_repaired():
    instrument = make_parts_instrument().instrument
    with pytest.raises(RefusedError, match="kept for parts"):
        make_decision(of(instrument))
    assert not WorthDecision.objects.exists()


def test_whoever_asked_reads_the_answer_and_nobody_else():
    decision = make_refusal()
    with pytest.raises(RefusedError, match="reads the answer"):
        read_answer(decision=decision, actor=decision.settled_by, at=NOW)
    for _ in range(2):
        read_answer(decision=decision, actor=decision.decided_by, at=NOW)
    assert WorthDecision.objects.get().answer_read_at == NOW
    assert Event.objects.filter(act="worth_answer_read").count() == 1


def test_an_approval_that_cannot_take_effect_is_refused_whole():
    instrument = make_stuck_instrument()
    decision = make_decision(instrument, "keep_for_parts", worth=make_worth(cost=900.0))
    make_order(instrument=instrument)
    with pytest.raises(RefusedError, match="Cancel that"):
        settle_decision(decision=decision, is_approved=True, actor=director_of(instrument), at=NOW)
    assert WorthDecision.objects.get().settled_at is None
