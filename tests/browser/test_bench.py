"""The tech's page on a phone: two taps a step, everything in reach, nothing that axe or the eye would trip over."""

from __future__ import annotations

import pytest
from django.urls import reverse

from repairs.models import Attempt
from tests.factories import NOW
from tests.repairs.makers import make_job, read_cautions

LEAST_TARGET = 44  # px, WCAG 2.5.5


@pytest.fixture
def job(live_server, school, tech):
    job = make_job(school=school, actor=tech)
    read_cautions(job, actor=tech, at=NOW)
    return job


def test_a_step_takes_two_taps_start_and_outcome(open_page, tech, job):
    page = open_page(user=tech)
    page.goto(reverse("repairs:job", args=[job.pk]))
    page.get_by_role("button", name="Start clock").tap()
    page.get_by_text("Started at").wait_for()
    page.locator(".answer-bar .btn-main").tap()
    page.get_by_text("Freed early: saves").wait_for()
    attempt = Attempt.objects.get()
    assert attempt.outcome == "freed"
    assert attempt.started_at is not None


def test_two_hasty_taps_are_one_outcome(open_page, tech, job):
    page = open_page(user=tech)
    page.goto(reverse("repairs:job", args=[job.pk]))
    page.locator(".answer-bar .btn-main").dblclick()
    page.get_by_text("Freed early").or_(page.get_by_text("already noted")).wait_for()
    assert Attempt.objects.count() == 1


@pytest.mark.parametrize("name", ["job", "found", "prove"])
def test_on_a_phone_nothing_overflows_and_every_target_fits_a_thumb(open_page, tech, job, name):
    page = open_page(user=tech)
    page.goto(reverse(f"repairs:{name}", args=[job.pk]))
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    small = page.evaluate(
        """least => [...document.querySelectorAll('.bar .btn, .bar .link, .plan-list a.line, .row-link, .tick')]
             .filter(one => one.offsetParent && one.getBoundingClientRect().height < least - 0.5)
             .map(one => one.textContent.trim())""",
        LEAST_TARGET,
    )
    assert small == []


def test_the_answers_stand_within_reach_of_the_thumb(open_page, tech, job):
    page = open_page(user=tech)
    page.goto(reverse("repairs:job", args=[job.pk]))
    box = page.locator(".answer-bar .btn-main").bounding_box()
    height = page.viewport_size["height"]
    assert box["y"] > height * 0.6
    assert box["y"] + box["height"] <= height
    assert page.get_by_role("heading", level=1).bounding_box()["y"] < height * 0.35


def test_it_works_without_script(open_page, tech, job):
    page = open_page(user=tech, java_script_enabled=False)
    page.goto(reverse("repairs:job", args=[job.pk]))
    page.locator(".answer-bar .btn-main").click()
    page.get_by_text("Freed early: saves").wait_for()
