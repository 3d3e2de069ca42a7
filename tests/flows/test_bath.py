"""The bath as a way for every stuck part that sits in it."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone

from core.models import Event
from inventory.catalog.load import catalog
from inventory.models import Finding, Instrument
from repairs.exceptions import StepRefusedError
from repairs.models import Attempt, StepClock
from repairs.rules.facts import Outcome, cleaners_for
from repairs.rules.plan import soaked_in
from repairs.selectors.learning import tries_of
from repairs.selectors.planning import plan_for_job
from repairs.services.jobs import acknowledge_cautions, do_step
from tests.factories import new_nonce
from tests.repairs.makers import LATER, LEAKING_CORK, do_next, fresh, make_job, next_step, read_cautions, refused
from tests.repairs.views.pages import address, answer

pytestmark = pytest.mark.page


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


def asked(page):
    """How many parts the page asks about, in a part of the card above all else that it says."""
    count = page.count('value="still_stuck"')
    assert not count or page.index("step-title") < page.index('value="still_stuck"') < page.index('<dl class="facts')
    return count


def test_the_page_asks_of_each_part_when_the_bath_is_said_to_be_done(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=SAT_IN)
    ways = to_the_bath(job)
    read_cautions(job, actor=tech)
    assert asked(client.get(address("job", job)).text) == 0
    sent = answer(job, note="water was brown")
    count = Attempt.objects.count()
    unsaid = client.post(address("do-step", job), sent)
    assert (unsaid.status_code, asked(unsaid.text)) == (422, len(ways))
    assert "How did each stuck part come out?" in unsaid.text
    assert "water was brown" in unsaid.text
    assert "notice-stop" not in unsaid.text
    assert "Parts used, photo, note" in unsaid.text
    assert '<details class="fold" open>' not in unsaid.text
    sent |= {f"soaked_{ways['mouthpiece'].key}": "freed"}
    half = client.post(address("do-step", job), sent)
    assert half.status_code == 422
    assert "Say how it came out of the bath: Main tuning slide." in half.text
    assert '<details class="fold" open>' not in half.text
    assert Attempt.objects.count() == count
    sent |= {f"soaked_{one.key}": "freed" if one.part == "mouthpiece" else "still_stuck" for one in ways.values()}
    page = client.post(address("do-step", job), sent, follow=True).text
    assert "1 of 3 came free in the bath." in page
    assert "already noted" in client.post(address("do-step", job), sent, follow=True).text
    assert Attempt.objects.count() == count + 1 + 3


def test_the_page_asks_of_each_part_when_the_soak_is_over_and_not_before(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=SAT_IN)
    ways = to_the_bath(job)
    read_cautions(job, actor=tech)
    client.post(address("wait", job), {"step": "soap_bath_brass"})
    assert asked(client.get(address("job", job), {"step": "soap_bath_brass"}).text) == 0
    StepClock.objects.update(waits_until=timezone.now())
    assert asked(client.get(address("job", job)).text) == len(ways)


def test_a_part_that_has_no_way_left_here_but_sits_in_the_bath_is_asked_about_too(school, tech):
    job = make_job(school=school, actor=tech, findings=SAT_IN[:2], profile="full")
    slide = Finding.objects.get(instrument=job.instrument, part="main_tuning_slide")
    about = {"job": job, "method": "free_slide", "part": slide.part, "findings": [slide.pk], "actor": tech}
    for rung in ("oil", "heat", "pliers", "cord"):
        key = f"free_slide:{slide.part}::{rung}"
        Attempt.objects.create(
            **about, step_key=key, rung=rung, outcome="still_stuck", ended_at=LATER, nonce=new_nonce()
        )
    plan = plan_for_job(fresh(job))
    assert [one.finding.part for one in plan.send_out] == ["main_tuning_slide"]
    (way,) = soaked_in(plan, "soap_bath_brass")
    assert (way.part, way.rung) == ("main_tuning_slide", "soak")
    to_the_bath(job)
    acknowledge_cautions(job=job, step_key="soap_bath_brass", actor=tech, at=LATER)
    do_step(
        job=job, step_key="soap_bath_brass", outcome="done", actor=tech, at=LATER, nonce=new_nonce(),
        soaked={way.key: "freed"},
    )  # fmt: skip
    assert not plan_for_job(fresh(job)).send_out
    assert not Finding.objects.filter(instrument=job.instrument, part="main_tuning_slide").standing().exists()


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
    key = next(
        step.key
        for step in plan_for_job(job).steps
        if cleaners_for(step.method, kind=instrument.kind, catalog=catalog())
    )
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
