"""A stuck instrument from the store to the bench and back, as a tech taps it: open, soak, free, find, prove."""

from __future__ import annotations

import re
from operator import attrgetter

import pytest
from django.urls import reverse

from core.models import Event
from inventory.models import Finding, Instrument, PlayTest
from repairs.models import Attempt, CautionRead, Job
from repairs.rules.plan import PlannedStep
from repairs.selectors.planning import PROVING, job_state
from tests.factories import make_inspection, make_instrument, new_nonce
from tests.repairs.makers import LEAKING_CORK, fresh, make_job, make_school_bench, work_to_the_proof
from tests.repairs.views.pages import address, shown_cautions

STUCK = ("main_tuning_slide", "slide_seized", "light")


@pytest.fixture
def instrument(school, tech):
    instrument = make_instrument(school=school, kind_code="trumpet")
    make_inspection(instrument=instrument, findings=[STUCK], actor=tech)
    return Instrument.objects.get(pk=instrument.pk)


def tap(client, job, **answer):
    """Answer the step on the page as the page's own form would; returns the page that follows, as text."""
    page = client.get(reverse("repairs:job", args=[job.pk])).text
    nonce = re.search(r'name="nonce" value="([0-9a-f-]{36})"', page)
    step = re.search(r'name="step" value="([^"]+)"', page)
    assert nonce is not None
    assert step is not None
    sent = {"nonce": nonce[1], "step": step[1], **answer}
    return client.post(reverse("repairs:do-step", args=[job.pk]), sent, follow=True).text


def next_step(job):
    return job_state(fresh(job)).plan.next_step


def read_cautions(client, job):
    step = next_step(job)
    shown = [one.key for one in step.acknowledgements]
    client.post(reverse("repairs:cautions", args=[job.pk]), {"step": step.key, "shown": shown})


def test_from_the_store_to_the_bench_and_back_ready(client, school, tech, instrument):
    make_school_bench(school)
    client.force_login(tech)

    # The plan beforehand, and one tap to start.
    opening = reverse("repairs:open-job", args=[instrument.asset_number])
    assert "then " in client.get(opening).text
    code = school.benches.get().code
    page = client.post(opening, {"bench": code, "because": "Slide will not move"}, follow=True).text
    assert "on the bench" in page
    job = Job.objects.get()
    read_cautions(client, job)

    # The first rung does not free it; the page names the next one.
    page = tap(client, job, outcome="still_stuck")
    assert "Still stuck. Next try:" in page

    # Take apart what a soak needs, then let it wait.
    for _ in range(8):
        step = next_step(job)
        if step.wait_h > 0 and step.rung:
            break
        read_cautions(client, job)
        page = tap(client, job, outcome="still_stuck" if step.rung else "done")
    step = next_step(job)
    assert step.wait_h > 0
    read_cautions(client, job)
    client.post(reverse("repairs:wait", args=[job.pk]), {"step": step.key})
    page = client.get(reverse("repairs:job", args=[job.pk])).text
    assert "waiting until" in page
    assert ">Waiting<" in client.get(reverse("repairs:jobs")).text

    # Freed early: the harder rungs are gone, and the page says what that saves.
    page = tap(client, job, outcome="freed")
    assert re.search(r"Freed early: saves [^<]*(min|h)", page)
    assert not any(one.rung for one in job_state(fresh(job)).plan.steps)

    # Something else is found and joins the plan.
    part, fault, severity = LEAKING_CORK
    found = {"part": part, "fault": fault, "severity": severity}
    page = client.post(reverse("repairs:found", args=[job.pk]), found, follow=True).text
    assert "Added to the plan" in page

    # The rest is done, step by step.
    for _ in range(20):
        step = next_step(job)
        if step is None or step.method == "play_test":
            break
        read_cautions(client, job)
        page = tap(client, job, outcome="freed" if step.rung else "done")
    assert "Only the play test is left." in page

    # Proved: back in store, ready to go out.
    prove = reverse("repairs:prove", args=[job.pk])
    page = client.get(prove).text
    assert "I looked at each of these" in page
    page = client.post(prove, {"is_looked_at": "on", "result": "pass", "tester_plays": "trumpet"}, follow=True).text
    assert "back in storage" in page

    instrument.refresh_from_db()
    job.refresh_from_db()
    assert job.closed_at is not None
    assert job.play_test == PlayTest.objects.get()
    assert not Finding.objects.filter(instrument=instrument).standing().exists()
    assert (instrument.whereabouts, instrument.verdict) == ("in_store", "plays")
    assert instrument.readiness in {"may_go_out", "may_go_out_with_limits"}
    assert Event.objects.filter(act="step_done").count() == Attempt.objects.count()


def test_a_form_sent_again_by_the_back_button_adds_nothing(client, school, tech, instrument):
    make_school_bench(school)
    client.force_login(tech)
    client.post(reverse("repairs:open-job", args=[instrument.asset_number]), {"bench": school.benches.get().code})
    job = Job.objects.get()
    read_cautions(client, job)
    page = client.get(reverse("repairs:job", args=[job.pk])).text
    nonce = re.search(r'name="nonce" value="([0-9a-f-]{36})"', page)[1]
    sent = {"nonce": nonce, "step": next_step(job).key, "outcome": "still_stuck"}
    client.post(reverse("repairs:do-step", args=[job.pk]), sent)
    again = client.post(reverse("repairs:do-step", args=[job.pk]), sent, follow=True).text
    assert "already noted" in again
    assert Attempt.objects.count() == 1


def test_the_bar_asks_for_the_cautions_of_a_play_test_before_it(client, school, tech, monkeypatch):
    """Where a district wants those of shared mouths read (common practice, no source)."""
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    work_to_the_proof(job)
    test_it = f'href="{address("prove", job)}"'
    assert test_it in client.get(address("job", job)).text
    monkeypatch.setattr(PlannedStep, "acknowledgements", property(attrgetter("cautions")))
    page = client.get(address("job", job)).text
    assert "I have read this and am trained for it" in page
    assert "Shared mouths" in page
    assert test_it not in page
    client.post(address("cautions", job), {"step": PROVING, "shown": shown_cautions(page), "key": str(new_nonce())})
    assert CautionRead.objects.filter(job=job, hazard="bio").exists()
    assert test_it in client.get(address("job", job)).text
