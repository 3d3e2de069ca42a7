"""Which decision counts, which was refused, and what somebody has not read."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from inventory.catalog.load import catalog
from inventory.models import Instrument, Role
from repairs.models import WorthDecision
from repairs.rules.plan import SHOP_TRIP
from repairs.selectors.decisions import (
    in_force,
    is_begun,
    is_stopped,
    open_work,
    own_decisions,
    refusal_of,
    refusal_to_tell,
    retired_differences,
)
from repairs.selectors.planning import plan_for_job
from repairs.services.worth import read_answer, settle_decision
from tests.catalogs import using, with_setting
from tests.factories import NOW, make_user
from tests.repairs.makers import make_job as make_school_job
from tests.repairs.money_makers import (
    make_decision,
    make_job,
    make_order,
    make_refusal,
    make_stuck_instrument,
)

pytestmark = pytest.mark.django_db


def decide(instrument, answer="repair_here", **fields):
    return make_decision(instrument, answer, at=NOW + timedelta(hours=2), because="So be it", **fields)


def test_what_waits_changes_nothing_and_what_holds_lifts_a_refusal():
    refused = make_refusal()
    instrument = refused.instrument
    waiting = decide(instrument, cost=180.0)
    assert in_force(instrument) == refusal_of(instrument) == refusal_to_tell(instrument) == refused
    settle_decision(decision=waiting, is_approved=True, actor=refused.settled_by, at=NOW)
    assert in_force(instrument) == waiting
    assert refusal_of(instrument) is refusal_to_tell(instrument) is None


def test_a_refusal_to_give_it_up_leaves_what_held_and_is_told_until_it_is_read():
    held = decide(make_stuck_instrument())
    refused = make_refusal("retire", instrument=held.instrument)
    assert in_force(held.instrument) == held
    assert refusal_to_tell(held.instrument) == refused
    read_answer(decision=refused, actor=refused.decided_by, at=NOW)
    assert refusal_to_tell(held.instrument) is None


def test_nothing_decided_is_nothing_refused():
    instrument = make_stuck_instrument()
    assert in_force(instrument) is refusal_of(instrument) is refusal_to_tell(instrument) is None


def test_somebody_is_told_what_was_answered_and_what_waits_until_it_is_read_or_replaced(school, tech):
    refused = make_refusal(instrument=make_stuck_instrument(school=school), actor=tech)
    waiting = decide(make_stuck_instrument(school=school), cost=180.0, actor=tech)
    decide(make_stuck_instrument(school=school), actor=tech)  # held at once: nobody answers
    assert own_decisions(tech) == [refused, waiting]
    assert own_decisions(refused.settled_by) == []
    read_answer(decision=refused, actor=tech, at=NOW)
    decide(waiting.instrument, actor=tech)
    assert own_decisions(tech) == []


def test_what_one_decides_and_approves_is_no_answer_to_wait_for(school, director):
    with using(with_setting(catalog(), "approver_is_another", 0)):
        assert decide(make_stuck_instrument(school=school), cost=180.0, actor=director).holds
    assert own_decisions(director) == []


def test_a_decision_is_begun_by_a_job_or_an_order():
    job = make_job()
    decision = decide(job.instrument)
    assert is_begun(decision)
    order = make_order()
    sent = decide(order.instrument, "send_out")
    assert is_begun(sent)
    assert open_work(order.instrument) == (None, order)
    assert not is_begun(decide(make_stuck_instrument()))


def test_a_trip_to_a_shop_is_stopped_by_its_order_alone(school, monkeypatch):
    job = make_school_job(school=school)
    step = plan_for_job(job).steps[0]
    monkeypatch.setattr("repairs.selectors.decisions.approval_limit", lambda: 0)
    assert is_stopped(step, job=job)
    assert not is_stopped(replace(step, method=SHOP_TRIP), job=job)


def test_retired_without_a_decision_and_decided_without_being_retired_are_found():
    one, other = make_stuck_instrument(), make_stuck_instrument()
    Instrument.objects.filter(pk=one.pk).update(is_retired=True)
    director = make_user(Role.DIRECTOR, school=other.school)
    settle_decision(decision=decide(other, "retire"), is_approved=True, actor=director, at=NOW)
    Instrument.objects.filter(pk=other.pk).update(is_retired=False)
    assert list(retired_differences()) == [
        f"{one.asset_number}: is_retired is True, but no decision to retire it holds",
        f"{other.asset_number}: is_retired is False, but a decision to retire it holds",
    ]
    assert WorthDecision.objects.count() == 1


def test_an_approval_that_was_acted_on_is_no_news(school, tech):
    asked = decide(make_stuck_instrument(school=school), cost=180.0, actor=tech)
    director = make_user(Role.DIRECTOR, school=school)
    asked = settle_decision(decision=asked, is_approved=True, actor=director, at=NOW)
    assert own_decisions(tech) == [asked]
    make_job(instrument=asked.instrument)
    assert own_decisions(tech) == []
