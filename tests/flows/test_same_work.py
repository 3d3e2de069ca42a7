"""The same work at several parts, recorded as done with one tap."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import Finding
from repairs.exceptions import StepRefusedError
from repairs.models import Attempt, StepClock, StockMove
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import do_step, start_step
from repairs.services.stock import add_stock_item
from tests.factories import new_nonce
from tests.repairs.makers import LATER, do_next, fresh, make_job, read_cautions, refused

pytestmark = pytest.mark.page

PLACES = ("small_C_pad", "B_pad", "bis_pad", "A_pad")


def pads_to_replace(school, tech):
    """An alto saxophone with four torn pads, and the steps at them once they may be done."""
    pads = [("upper_stack", "pad_torn", "severe", place) for place in PLACES]
    job = make_job(school=school, kind_code="sax_alto", actor=tech, findings=pads)
    for _ in range(20):
        read_cautions(job, actor=tech)
        steps = [one for one in plan_for_job(fresh(job)).steps if one.method == "pad_replace_one" and not one.waits_on]
        if len(steps) == len(PLACES):
            return job, steps
        do_next(job)
    raise AssertionError([one.key for one in plan_for_job(fresh(job)).steps])


def tries_at(job):
    return {one.step_key: one for one in Attempt.objects.filter(job=job, method="pad_replace_one")}


def standing(job):
    return set(Finding.objects.filter(instrument=job.instrument).standing().values_list("place", flat=True))


@pytest.mark.parametrize("is_typed", [True, False])
def test_pads_done_together_are_tries_of_their_own_that_share_the_minutes(school, tech, is_typed):
    job, steps = pads_to_replace(school, tech)
    first, second, third, fourth = (step.key for step in steps)
    for need in steps[0].parts:
        add_stock_item(bench=job.bench, code=need.code, actor=tech, at=LATER)
    start_step(job=job, step_key=first, actor=tech, at=LATER)
    sent = {"job": job, "step_key": first, "outcome": "done", "actor": tech, "nonce": new_nonce()}
    sent |= {"at": LATER + timedelta(minutes=50), "soaked": {second: "done", third: "done"}}
    sent |= {"minutes": Decimal(50)} if is_typed else {}
    done = do_step(**sent)
    assert do_step(**sent).was_known
    tries = tries_at(job)
    assert tries.keys() == {first, second, third}
    assert [tries[key].minutes for key in (first, second, third)] == [Decimal("16.6"), Decimal("16.7"), Decimal("16.7")]
    assert {(one.outcome, one.estimated_minutes, len(one.findings)) for one in tries.values()} == {("done", None, 1)}
    assert all(one.parts_used == done.attempt.parts_used != [] for one in tries.values())
    moves = StockMove.objects.filter(attempt__in=tries.values())
    assert {moves.filter(attempt=one).count() for one in tries.values()} == {len(done.attempt.parts_used)}
    assert standing(job) == {steps[3].place}
    assert fourth in {one.key for one in plan_for_job(fresh(job)).steps}
    assert not StepClock.objects.filter(job=job).exists()


def test_minutes_that_nobody_knows_are_planned_for_each(school, tech):
    job, (first, second, *_) = pads_to_replace(school, tech)
    common = {"job": job, "step_key": first.key, "outcome": "done", "actor": tech, "at": LATER, "nonce": new_nonce()}
    do_step(soaked={second.key: "done"}, **common)
    assert [(one.minutes, one.estimated_minutes) for one in tries_at(job).values()] == [
        (None, Decimal(str(step.minutes.likely)).quantize(Decimal("0.1"))) for step in (first, second)
    ]


@pytest.mark.parametrize("outcome", ["not_right", "skipped", "stopped", "damaged"])
def test_no_other_outcome_takes_the_others_along(school, tech, outcome):
    job, (first, second, *_) = pads_to_replace(school, tech)
    common = {"job": job, "step_key": first.key, "actor": tech, "at": LATER, "nonce": new_nonce()}
    assert "Look again" in refused(StepRefusedError, do_step, outcome=outcome, soaked={second.key: "done"}, **common)


@pytest.mark.parametrize(("key", "outcome"), [("play_test", "done"), ("", "freed"), ("", "skipped")])
def test_nothing_else_goes_along(school, tech, key, outcome):
    job, (first, second, *_) = pads_to_replace(school, tech)
    common = {"job": job, "step_key": first.key, "actor": tech, "at": LATER, "nonce": new_nonce()}
    refused(StepRefusedError, do_step, outcome="done", soaked={key or second.key: outcome}, **common)


def test_the_page_lists_the_other_pads_and_leaves_open_what_is_not_ticked(client, school, tech):
    client.force_login(tech)
    job, steps = pads_to_replace(school, tech)
    first, second, third, fourth = (step.key for step in steps)
    url = reverse("repairs:job", args=[job.pk])
    start_step(job=job, step_key=fourth, actor=tech, at=LATER)
    page = client.get(f"{url}?step={first}").text
    assert page.count("The same at other parts: done too?") == 1
    assert [f'name="soaked_{key}"' in page for key in (first, second, third, fourth)] == [False, True, True, False]
    assert "checked" not in page
    sent = {"step": first, "nonce": str(new_nonce()), "outcome": "not_right", f"soaked_{third}": "done"}
    act = reverse("repairs:do-step", args=[job.pk])
    page = client.post(act, sent).text
    assert "The others selected can only be done." in page
    assert page.count("The same at other parts: done too?") == page.count("checked") == 1
    assert not tries_at(job)
    for said in ("2 recorded together.", "already noted"):
        assert said in client.post(act, sent | {"outcome": "done"}, follow=True).text
    assert tries_at(job).keys() == {first, third}
    assert standing(job) == {steps[1].place, steps[3].place}


def test_a_pad_alone_asks_about_no_other(client, school, tech):
    client.force_login(tech)
    job, steps = pads_to_replace(school, tech)
    for step in steps[1:]:
        common = {"job": job, "step_key": step.key, "outcome": "done", "actor": tech, "at": LATER}
        do_step(nonce=new_nonce(), **common)
    page = client.get(f"{reverse('repairs:job', args=[job.pk])}?step={steps[0].key}").text
    assert steps[0].say in page
    assert "done too?" not in page
