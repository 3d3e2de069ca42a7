"""Work on the bench on a phone whose signal is cut: steps, their cautions, and what is found at them.

What a person does in a storage room is common practice, no source.
"""

from __future__ import annotations

import re

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import expect

from inventory.catalog.load import catalog
from inventory.catalog.schema import Hazard
from inventory.models import Finding, Role
from repairs.models import Attempt, CautionRead
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import give_up_job
from tests.factories import NOW
from tests.plugins.browser import until
from tests.plugins.device import AGAIN_S, lose_each_answer_once
from tests.repairs.makers import LEAKING_CORK, make_job, read_cautions

MOST_FAULTS = 5  # static/js/tap-queue.js


def outcome(page) -> None:
    page.locator(".answer-bar:visible .btn-main").tap()


def make_two_jobs(*, school, actor):
    jobs = [make_job(school=school, actor=actor) for _ in range(2)]
    for job in jobs:
        read_cautions(job, actor=actor, at=NOW)
    return jobs


def record_without_a_signal(page, jobs) -> None:
    page.context.set_offline(True)
    for number, job in enumerate(jobs, start=1):
        page.goto(reverse("repairs:job", args=[job.pk]))
        expect(page.locator(".offline-note")).to_contain_text("No signal. Last updated")
        outcome(page)
        page.get_by_text(f"Saved on this phone: {number}").wait_for()


def test_a_step_recorded_without_a_signal_arrives_and_one_that_somebody_was_first_with_is_said(school, tech, phone):
    jobs = make_two_jobs(school=school, actor=tech)
    page = phone()
    record_without_a_signal(page, jobs)
    job = jobs[-1]
    give_up_job(job=job, because="Nobody needs it.", actor=tech, at=timezone.now())
    page.context.set_offline(False)
    page.get_by_text("1 needs your attention").wait_for()
    assert Attempt.objects.get().job == jobs[0]
    page.goto(reverse("desk:today"))
    page.get_by_text("1 needs your attention").tap()
    entry = page.locator("[data-sending-list] li").first
    expect(entry).to_contain_text(job.instrument.asset_number)
    expect(entry).to_contain_text("closed")
    entry.get_by_role("button", name="Seen").tap()
    expect(page.locator("[data-sending]")).to_be_hidden()


def test_an_error_holds_up_its_own_alone_a_new_log_in_sends_on_and_a_lost_role_is_said(school, tech, phone):
    jobs = make_two_jobs(school=school, actor=tech)
    page = phone()
    record_without_a_signal(page, jobs)
    tries = []
    page.context.route(
        f"**{reverse('repairs:job', args=[jobs[0].pk])}**",
        lambda route: (
            (tries.append(1), route.fulfill(status=500)) if route.request.method == "POST" else route.continue_()
        ),
    )
    page.context.clear_cookies(name="csrftoken")  # as another log-in does, these pages' token is the old one's
    page.context.set_offline(False)
    until(page, Attempt.objects.exists)
    assert Attempt.objects.get().job == jobs[1]

    def is_shown() -> bool:
        page.goto(reverse("desk:today"))
        page.wait_for_timeout(500)
        return page.get_by_text("1 needs your attention").is_visible()

    until(page, is_shown)
    assert len(tries) >= MOST_FAULTS
    page.get_by_text("1 needs your attention").tap()
    expect(page.locator("[data-sending-list] li")).to_contain_text("The server didn't accept this.")
    page.context.unroute_all()
    tech.staff_roles.update(role=Role.AUDITOR)
    page.goto(reverse("desk:today"))
    page.get_by_text("1 needs your attention").tap()
    expect(page.locator("[data-sending-list] li")).to_contain_text("your role does not allow this")
    assert Attempt.objects.count() == 1


def test_cautions_are_read_without_a_signal_before_the_step_and_both_arrive(school, tech, phone):
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    page = phone()
    page.context.set_offline(True)
    page.goto(reverse("repairs:job", args=[job.pk]))
    expect(page.locator(".answer-bar:visible .btn")).to_have_text("I have read this and am trained for it")
    outcome(page)
    page.get_by_text("Saved on this phone: 1").wait_for()
    page.reload()
    page.get_by_text("Cautions read at").wait_for()
    outcome(page)
    page.get_by_text("Saved on this phone: 2").wait_for()
    assert not CautionRead.objects.exists()
    page.context.set_offline(False)
    until(page, Attempt.objects.exists)
    assert CautionRead.objects.filter(job=job, actor=tech).exists()


def test_cautions_whose_words_change_before_they_arrive_are_read_again(school, tech, phone, monkeypatch):
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    page = phone()
    page.context.set_offline(True)
    page.goto(reverse("repairs:job", args=[job.pk]))
    outcome(page)
    page.get_by_text("Saved on this phone: 1").wait_for()
    monkeypatch.setattr(Hazard, "version", "another")
    page.context.set_offline(False)
    page.get_by_text("1 needs your attention").tap()
    expect(page.locator("[data-sending-list] li")).to_contain_text("The cautions of this step have changed.")
    assert not CautionRead.objects.exists()
    page.goto(reverse("repairs:job", args=[job.pk]))
    outcome(page)
    until(page, CautionRead.objects.filter(job=job, actor=tech).exists)


@pytest.mark.drill
def test_one_tab_alone_sends_what_waits(school, tech, phone):
    jobs = make_two_jobs(school=school, actor=tech)
    page = phone()
    other = page.context.new_page()
    other.goto(reverse("desk:offline"))
    record_without_a_signal(page, jobs)
    sent: list[str] = []
    at_once = [0, 0]  # now, and the most

    def slow(route) -> None:
        if route.request.method != "POST":
            route.continue_()
            return
        sent.append(re.search(r'name="key"\s+([0-9a-f-]{36})', route.request.post_data)[1])
        at_once[0] += 1
        at_once[1] = max(at_once)
        page.wait_for_timeout(1000)
        route.continue_()
        at_once[0] -= 1

    page.context.route("**/bench/**", slow)
    page.context.set_offline(False)
    for tab in (page, other, page, other):
        tab.evaluate("dispatchEvent(new Event('online'))")
    until(page, lambda: Attempt.objects.count() == 2)
    for tab in (page, other):
        expect(tab.locator("[data-sending]")).to_be_hidden(timeout=15_000)
    assert len(sent) == len(set(sent)) == 2, "each once"
    assert at_once[1] == 1


def say_found(page, *, part: str) -> None:
    """Open a part on the page that is kept of all of them, and say that it has a light dent."""
    form = page.locator(f'form[data-keep="{part}"]')
    page.locator("details", has=form).locator("summary").first.tap()
    dent = form.locator(".fault", has=page.locator('[value="dent_small"]'))
    dent.locator(".fault-name").tap()
    dent.locator('button[value="light"]').tap()


@pytest.mark.drill
def test_a_job_goes_on_to_the_step_behind_one_and_takes_what_is_found_without_a_signal(school, tech, phone):
    job = make_job(school=school, actor=tech, findings=[("third_valve_slide", "slide_seized", "severe")])
    read_cautions(job, actor=tech, at=NOW)
    first, second, third, *_ = plan_for_job(job).steps
    page = phone()
    lost = lose_each_answer_once(page, "**/bench/**")
    page.context.set_offline(True)
    page.goto(reverse("repairs:job", args=[job.pk]))
    title = page.locator("#step-title")
    expect(title).to_have_text(first.say)
    page.get_by_role("button", name="Start clock").tap()
    page.get_by_text("Saved on this phone: 1").wait_for()
    outcome(page)
    expect(title).to_have_text(second.say)
    outcome(page)
    expect(title).to_have_text(third.say)
    expect(page.get_by_text("The plan may change when the signal is back.")).to_be_visible()
    page.get_by_text("Saved on this phone: 3").wait_for()
    page.get_by_role("link", name="Found something else").tap()
    dented = [part.code for part in job.instrument.parts if "dent_small" in catalog().faults_at(part)]
    for count, part in enumerate(dented[:2], start=4):
        say_found(page, part=part)
        page.get_by_text(f"Saved on this phone: {count}").wait_for()
    page.context.set_offline(False)
    until(page, lambda: Finding.objects.filter(fault="dent_small").count() == 2, seconds=AGAIN_S * 5)
    assert list(Attempt.objects.values_list("step_key", "outcome")) == [(first.key, "done"), (second.key, "done")]
    expect(page.locator("[data-sending]")).to_be_hidden()
    assert len(lost) == 5, "each was sent again, and counted once"


@pytest.mark.drill
def test_damage_at_a_step_is_taken_without_a_signal_for_the_step_it_happened_at(school, tech, phone):
    job = make_job(school=school, actor=tech)
    read_cautions(job, actor=tech, at=NOW)
    step = plan_for_job(job).next_step
    page = phone()
    page.context.set_offline(True)
    page.goto(reverse("repairs:job", args=[job.pk]))
    page.get_by_role("link", name="Something was damaged").tap()
    say_found(page, part="bell")
    page.get_by_text("Saved on this phone: 1").wait_for()
    page.goto(reverse("repairs:job", args=[job.pk]))
    page.context.set_offline(False)
    until(page, Attempt.objects.exists)
    attempt = Attempt.objects.get()
    assert (attempt.step_key, attempt.outcome) == (step.key, "damaged")
    assert Finding.objects.filter(instrument=job.instrument, fault="dent_small").count() == 1
