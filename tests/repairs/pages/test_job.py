from __future__ import annotations

from datetime import timedelta

from django.urls import reverse
from django.utils import timezone

from inventory.catalog.load import catalog
from repairs.models import StepClock
from repairs.pages.job import SHOWN_WATCH, attempt_lines, job_page, step_card, usual_parts
from repairs.rules.facts import Outcome
from repairs.selectors.planning import job_state
from repairs.services.orders import bring_back, send_to_shop
from tests.factories import NOW
from tests.repairs.makers import LEAKING_CORK, STUCK, do_next, fresh, make_job, work_to_the_proof
from tests.repairs.money_makers import finding_of, make_order

LATER = NOW + timedelta(hours=5)


def page_of(job, tech, **asked):
    return job_page(job_state(fresh(job)), user=tech, now=LATER, **asked)


def test_the_card_says_what_a_tech_needs(school, tech):
    job = make_job(school=school, actor=tech)
    card = page_of(job, tech)["card"]
    assert card.where == "Third valve slide"
    assert card.faults
    assert card.your_time.endswith("min")
    assert card.odds_note == "freed, by the starting guess"
    assert card.odds_head.endswith("%")
    assert len(card.watch) <= SHOWN_WATCH
    assert card.refusal == ""


def test_local_tries_take_the_place_of_the_guess(school, tech):
    job = make_job(school=school, actor=tech)
    do_next(make_job(school=school, actor=tech, bench=job.bench), "still_stuck")
    card = page_of(job, tech)["card"]
    assert card.odds_head == "0 of 1"
    assert card.odds_note.startswith("freed here; starting guess")


def test_another_step_is_shown_when_asked_for_with_why_it_waits(school, tech):
    job = make_job(school=school, actor=tech, findings=[STUCK, LEAKING_CORK])
    state = job_state(fresh(job))
    last = state.plan.steps[-1]
    page = page_of(job, tech, step_key=last.key)
    assert page["card"].step == last
    assert page["card"].refusal
    assert page["card"].first
    assert page_of(job, tech, step_key="no_such_step")["card"].step == state.plan.next_step


TWO_SLIDES = [STUCK, ("main_tuning_slide", "slide_seized", "light")]


def test_every_step_stands_once_large_to_be_done_now_or_later(school, tech):
    job = make_job(school=school, actor=tech, findings=[*TWO_SLIDES, LEAKING_CORK])
    page, plan = page_of(job, tech), job_state(fresh(job)).plan
    shown = [page["card"].step.key, *(line["key"] for line in page["ready"] + page["later"])]
    assert page["ready"]
    assert sorted(shown) == sorted(step.key for step in plan.steps)
    assert all(line["why"] for line in page["later"])


def test_a_step_asked_for_leaves_the_one_at_hand_among_what_can_be_done_now(school, tech):
    job = make_job(school=school, actor=tech, findings=TWO_SLIDES)
    first = page_of(job, tech)
    asked = page_of(job, tech, step_key=first["ready"][0]["key"])
    assert asked["card"].step.key == first["ready"][0]["key"]
    assert first["card"].step.key in {line["key"] for line in asked["ready"]}


def test_the_rest_of_the_ladder_stands_with_its_rung_large_or_in_the_list(school, tech):
    job = make_job(school=school, actor=tech, findings=TWO_SLIDES)
    page = page_of(job, tech)
    ladders = {one.ahead[0].step_key: one for one in job_state(fresh(job)).plan.ladders}
    shown = {page["card"].step.key: page["card"].rungs} | {line["key"]: line["rungs"] for line in page["ready"]}
    assert set(ladders) <= set(shown)
    for key, ladder in ladders.items():
        assert len(shown[key]) == len(ladder.rungs) - 1
        assert all(rung["note"] for rung in shown[key])


def test_a_reason_is_said_once_behind_all_that_comes_first_for_it(school, tech):
    brace = ("braces_and_finger_hooks", "solder_broken", "moderate", "bow_brace")
    findings = [("leadpipe", "lime_scale", "moderate"), brace]
    findings += [(f"{part}_valve_slide", "slide_seized", "severe") for part in ("first", "third")]
    job = make_job(school=school, actor=tech, findings=findings, profile="full")
    plan = job_state(fresh(job)).plan
    step = next(one for one in plan.steps if one.method == "degrease_joint")
    assert len(step.waits_on) > len({one.because for one in step.waits_on}) == 1
    (why,) = {line["why"] for line in page_of(job, tech)["later"] if line["key"] == step.key}
    assert why.count(":") == why.count("right before the flame") == 1
    assert "(third valve slide; first valve slide)" in why
    card = page_of(job, tech, step_key=step.key)["card"]
    ((_, links),) = card.first
    assert [key for key, _ in links] == list(step.prerequisites)
    assert card.refusal.count("right before the flame") == 1


def test_a_wait_of_a_step_that_the_plan_no_longer_has_is_still_named(school, tech):
    job = make_job(school=school, actor=tech)
    key = "free_valve_slide:first_valve_slide::oil"  # not stuck, or no longer
    StepClock.objects.create(
        job=job, step_key=key, started_at=NOW, waiting_since=NOW, waits_until=LATER + timedelta(hours=9), actor=tech
    )
    (wait,) = page_of(job, tech)["waits"]
    assert (wait["where"], wait["is_planned"]) == ("First valve slide", False)
    assert wait["say"] == catalog().tried_name("free_valve_slide", "oil")


def test_what_was_tried_in_vain_is_offered_again_what_worked_is_not(school, tech):
    job = make_job(school=school, actor=tech)
    do_next(job, Outcome.STILL_STUCK)
    tried = page_of(job, tech)["done"]
    assert [line["is_offered_again"] for line in tried] == [True]
    do_next(make_job(school=school, actor=tech, bench=job.bench), Outcome.FREED)


def test_only_the_proof_is_left_after_the_last_step(school, tech):
    job = make_job(school=school, actor=tech)
    do_next(job, Outcome.FREED)
    assert page_of(job, tech)["is_only_proof_left"]


def test_parts_are_priced_from_the_key_alone(school, tech):
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    state = job_state(fresh(job))
    step = next(one for one in state.plan.steps if one.parts)
    assert usual_parts(step.key, kind=state.kind) == step_card(state, step, user=tech).parts
    assert usual_parts("no_such_method:x", kind=state.kind) == ()


def test_what_was_done_is_told_in_words(school, tech):
    job = make_job(school=school, actor=tech)
    do_next(job, Outcome.FREED, note="with a grin")
    ((attempt, name, where),) = attempt_lines(fresh(job))
    assert (where, attempt.note) == ("Third valve slide", "with a grin")
    assert name == next(one.name for one in catalog().ladders["valve_slide"].rungs if one.code == attempt.rung)


def test_the_cost_left_is_what_the_ways_come_to_on_average(school):
    """Half of such slides come free for $15; those that do not cost a shop's fee."""
    state = job_state(make_job(school=school, kind_code="trombone", findings=[("stocking", "slide_seized", "severe")]))
    cost = state.plan.taken.cost
    assert cost.mean > 2 * cost.p50
    page = job_page(state, user=state.job.opened_by, now=LATER)
    assert page["cost_left"] == round(cost.mean)


def test_work_that_only_a_shop_can_do_goes_there_before_the_play_test(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, kind_code="oboe", findings=[("body", "body_crack", "moderate")])
    job = work_to_the_proof(job)
    page = client.get(reverse("repairs:job", args=[job.pk])).text
    asking = reverse("repairs:ask-shop", args=[job.instrument.asset_number])
    bar = page[page.index("answer-bar") :]
    assert f'href="{asking}"' in bar
    assert "Test it as it is" in bar
    order = make_order(instrument=job.instrument, findings=[finding_of(job.instrument).pk], at=timezone.now())
    send_to_shop(order=order, actor=tech, at=timezone.now())
    page = client.get(reverse("repairs:job", args=[job.pk])).text
    assert "Pick it up from the shop" in page
    assert "Send it to the shop" not in page
    bring_back(order=order, what_was_done="Pinned", put_right=order.findings, actor=tech, at=timezone.now())
    page = client.get(reverse("repairs:job", args=[job.pk])).text
    assert "Test it as it is" not in page
    assert "Every step is done" in page
