"""The bath as a way for every stuck part that sits in it."""

from __future__ import annotations

import pytest
from django.urls import reverse

from core.models import Event
from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument
from repairs.exceptions import StepRefusedError
from repairs.models import Attempt
from repairs.pages.job import cleaners_for
from repairs.rules.facts import Outcome
from repairs.rules.plan import soaked_in
from repairs.selectors.learning import tries_of
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import acknowledge_cautions, do_step
from tests.factories import new_nonce
from tests.repairs.makers import LATER, LEAKING_CORK, do_next, fresh, make_job, next_step, read_cautions, refused
from tests.repairs.views.pages import address, answer


def to_the_bath(job):
    """Do what comes before the bath, and return what sits in it."""
    while (step := next_step(job)) is not None and step.method != "soap_bath_brass":
        do_next(job, Outcome.STILL_STUCK if step.rung else "")
    assert step is not None
    return {one.part: one for one in soaked_in(plan_for_job(fresh(job)), step.key)}


SAT_IN = [
    ("leadpipe", "lime_scale", "moderate"),
    ("main_tuning_slide", "slide_seized", "severe"),
    ("mouthpiece", "mouthpiece_stuck", "severe"),
    ("bottom_valve_cap", "cap_stuck", "severe", "2"),
    LEAKING_CORK,
]


def test_the_bath_ends_with_what_came_free_each_booked_to_its_own_way_of_it(school, tech):
    job = make_job(school=school, actor=tech, findings=SAT_IN)
    ways = to_the_bath(job)
    assert set(ways) == {"main_tuning_slide", "mouthpiece", "bottom_valve_cap"}
    freed, stuck = ways["mouthpiece"], [ways["main_tuning_slide"], ways["bottom_valve_cap"]]
    soaked = {freed.key: "freed"} | {one.key: "still_stuck" for one in stuck}
    nonce = new_nonce()
    acknowledge_cautions(job=job, step_key="soap_bath_brass", actor=tech, at=LATER)
    for _ in range(2):
        done = do_step(
            job=job, step_key="soap_bath_brass", outcome="done", actor=tech, at=LATER, nonce=nonce, soaked=soaked
        )
    assert done.was_known
    kept = {row.part: row for row in Attempt.objects.filter(job=job).exclude(rung="").filter(ended_at=LATER)}
    assert {part: (row.rung, row.outcome) for part, row in kept.items()} == {
        "mouthpiece": ("soak", "freed"),
        "main_tuning_slide": ("soak", "still_stuck"),
        "bottom_valve_cap": ("soak", "still_stuck"),
    }
    assert {(row.minutes, row.estimated_minutes) for row in kept.values()} == {(None, None)}
    standing = set(Finding.objects.filter(instrument=job.instrument).standing().values_list("part", flat=True))
    assert {"main_tuning_slide", "bottom_valve_cap"} <= standing
    assert "mouthpiece" not in standing
    assert not {one.key for one in ways.values()} & {step.key for step in plan_for_job(fresh(job)).steps}
    tries = {(one.ladder, one.rung): one.is_freed for one in tries_of(Attempt.objects.filter(ended_at=LATER))}
    assert tries == {("mouthpiece", "soak"): True, ("tuning_slide", "soak"): False, ("valve_cap", "soak"): False}


@pytest.mark.parametrize("outcome", ["done", "skipped"])
def test_a_part_that_did_not_sit_in_a_bath_takes_the_bath_back_too(school, tech, outcome):
    job = make_job(school=school, actor=tech, findings=SAT_IN)
    key = to_the_bath(job)["main_tuning_slide"].key
    acknowledge_cautions(job=job, step_key="soap_bath_brass", actor=tech, at=LATER)
    refused(
        StepRefusedError, do_step, job=job, step_key="soap_bath_brass", outcome=outcome, actor=tech, at=LATER,
        nonce=new_nonce(), soaked={key if outcome == "skipped" else "free_slide:case::soak": "freed"},
    )  # fmt: skip


def test_the_page_asks_of_each_part_in_the_bath_before_the_bath_is_done(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=SAT_IN)
    ways = to_the_bath(job)
    read_cautions(job, actor=tech)
    assert client.get(address("job", job)).text.count('value="still_stuck"') == len(ways) == 3
    sent = answer(job)
    count = Attempt.objects.count()
    unsaid = client.post(address("do-step", job), sent)
    assert unsaid.status_code == 422
    assert "Say how it came out of the bath: Main tuning slide." in unsaid.text
    assert Attempt.objects.count() == count
    sent |= {f"soaked_{one.key}": "freed" if one.part == "mouthpiece" else "still_stuck" for one in ways.values()}
    page = client.post(address("do-step", job), sent, follow=True).text
    assert "1 of 3 came free in the bath." in page
    assert "noted already" in client.post(address("do-step", job), sent, follow=True).text
    assert Attempt.objects.count() == count + 1 + 3


def test_a_new_mouthpiece_is_washed_before_it_is_played(school, tech):
    found = [("mouthpiece", "missing_part", "severe"), ("leadpipe", "lime_scale", "light")]
    job = make_job(school=school, actor=tech, findings=found)
    Instrument.objects.filter(pk=job.instrument_id).update(is_hygiene_due=True)
    assert "mouthpiece_sanitize" not in {step.method for step in plan_for_job(fresh(job)).steps}
    done = []
    while (step := next_step(job)) is not None and step.method != "play_test":
        done.append(step.method)
        do_next(job)
    assert done == ["mouthpiece_replace", "mouthpiece_sanitize"]
    assert not Instrument.objects.get(pk=job.instrument_id).is_hygiene_due
    standing = Finding.objects.filter(instrument=job.instrument).standing()
    assert set(standing.values_list("part", flat=True)) == {"leadpipe"}, "the mouthpiece's wash reaches no leadpipe"


@pytest.mark.parametrize("kind", ["oboe", "clarinet_bb", "sax_alto", "bassoon", "flute"])
def test_once_its_steps_are_done_no_cleaning_between_players_is_owed(school, tech, kind):
    job = make_job(school=school, actor=tech, kind_code=kind, findings=[])
    Instrument.objects.filter(pk=job.instrument_id).update(is_hygiene_due=True)
    asked = []
    while (step := next_step(job)) is not None and step.method != "play_test":
        left = [one.method for one in plan_for_job(fresh(job)).steps if "hygiene" in catalog().methods[one.method].tags]
        asked += left
        assert Instrument.objects.get(pk=job.instrument_id).is_hygiene_due is bool(left)
        do_next(job)
    assert asked
    assert not Instrument.objects.get(pk=job.instrument_id).is_hygiene_due


@pytest.mark.parametrize("kind", ["trumpet", "clarinet_bb", "flute", "bassoon"])
def test_a_wash_in_a_job_keeps_its_product_its_minutes_and_the_person(client, school, tech, kind):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, kind_code=kind, findings=[])
    instrument = job.instrument
    Instrument.objects.filter(pk=instrument.pk).update(is_hygiene_due=True)
    job = fresh(job)
    key = next(step.key for step in plan_for_job(job).steps if cleaners_for(step.key, kind=instrument.kind))
    read_cautions(job, actor=tech)
    while key not in {one.step_key for one in job.attempts.all()}:
        sent = answer(job)
        if sent["step"] == key:
            assert client.post(address("do-step", job), sent).status_code == 422
            sent |= {"product": "alcohol", "wet_minutes": "2"}
        assert client.post(address("do-step", job), sent).status_code == 302
    cleaned = Event.objects.get(act="cleaned", thread=instrument.thread)
    assert (cleaned.after["product"], cleaned.after["wet_minutes"], cleaned.actor) == ("alcohol", 2, tech)
    assert (
        "alcohol, 70% or stronger, after washing, wet for 2 min"
        in client.get(reverse("desk:instrument", args=[instrument.asset_number])).text
    )
