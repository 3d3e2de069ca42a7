"""Damage and new findings from the bench."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Finding, Photo
from repairs.models import Attempt
from repairs.services.jobs import give_up_job
from tests.factories import NOW, new_nonce
from tests.repairs.makers import LEAKING_CORK, state_of_rows
from tests.repairs.views.pages import address, answer
from tests.repairs.views.test_working import picture

DAMAGE = {"part": "third_valve_slide", "fault": "solder_broken", "severity": "moderate"}


def standing(job):
    return {row.fault for row in Finding.objects.filter(instrument=job.instrument_id).standing()}


def test_first_comes_the_part_then_only_faults_that_fit_it(client, job):
    assert "Where did you find it?" in client.get(address("found", job)).text
    page = client.get(address("found", job), {"part": "third_valve_slide"}).text
    assert 'value="slide_seized"' in page
    assert 'value="pad_leak"' not in page


def test_something_found_joins_the_plan(client, job):
    part, fault, severity = LEAKING_CORK
    sent = {"part": part, "fault": fault, "severity": severity, "note": "dry"}
    page = client.post(address("found", job), sent, follow=True).text
    assert "Added to the plan" in page
    assert fault in standing(job)


def test_damage_proposes_the_part_of_the_step(client, job):
    page = client.get(address("damage", job), {"step": answer(job)["step"]}).text
    assert "Third valve slide" in page
    assert "What is it now?" in page


def test_damage_of_no_step_leads_to_the_job(client, job):
    assert client.get(address("damage", job)).headers["Location"] == reverse("repairs:job", args=[job.pk])
    assert client.get(address("damage", job), {"step": "none such"}).status_code == 404


@pytest.mark.parametrize("page", ["found", "damage"])
def test_a_phone_keeps_all_parts_on_one_page(client, job, page):
    kept = client.get(address(page, job), headers={"X-Held": "1"}).text
    for part in job.instrument.parts:
        assert f'data-keep="{part.code}"' in kept
    assert kept.count(" data-of-address") == len(job.instrument.parts), "the address says which step"


def test_damage_is_kept_as_outcome_and_as_finding(client, job):
    sent = {**DAMAGE, "step": answer(job)["step"], "nonce": str(new_nonce())}
    page = client.post(address("damage", job), sent, follow=True).text
    assert "joins the plan" in page
    assert Attempt.objects.get().outcome == "damaged"
    assert "solder_broken" in standing(job)


def test_damage_posted_twice_is_noted_once(client, job):
    sent = {**DAMAGE, "step": answer(job)["step"], "nonce": str(new_nonce())}
    client.post(address("damage", job), sent)
    before = state_of_rows()
    assert "already noted" in client.post(address("damage", job), sent, follow=True).text
    assert state_of_rows() == before


@pytest.mark.parametrize(
    "wrong",
    [
        {"part": "no_such_part"},
        {"fault": "pad_leak"},
        {"fault": ""},
        {"severity": "awful"},
        {"nonce": "not-a-nonce"},
        {"step": "no_such_step"},
        {"note": "x" * 10_000},
    ],
    ids=["part", "fault", "no fault", "severity", "nonce", "step", "long note"],
)
def test_what_does_not_fit_is_refused_and_nothing_written(client, job, wrong):
    sent = {**DAMAGE, "step": answer(job)["step"], "nonce": str(new_nonce())} | wrong
    before = state_of_rows()
    assert client.post(address("damage", job), sent).status_code == 422
    assert state_of_rows() == before


def test_a_step_that_is_gone_has_no_damage_page(client, job):
    assert client.get(address("damage", job), {"step": "no_such_step"}).status_code == 404


def test_a_closed_job_takes_no_finding(client, job, tech):
    give_up_job(job=job, because="Waits.", actor=tech, at=NOW + timedelta(hours=3))
    assert "this job is closed" in client.get(address("found", job)).text
    before = state_of_rows()
    response = client.post(address("found", job), DAMAGE)
    assert response.status_code == 422
    assert "Somebody else has closed this job" in response.text
    assert state_of_rows() == before


def test_the_list_of_parts_costs_few_queries(client, job):
    client.get(address("found", job))
    with CaptureQueriesContext(connection) as caught:
        client.get(address("found", job))
    assert len(caught) <= 7


@pytest.mark.parametrize("name", ["damage", "found"])
def test_a_photo_of_it_is_kept_with_the_part(client, job, name):
    sent = {**DAMAGE, "step": answer(job)["step"], "nonce": str(new_nonce()), "photo": picture()}
    assert client.post(address(name, job), sent).status_code == 302
    assert Photo.objects.get().part == "third_valve_slide"


def test_a_file_that_is_no_photo_is_refused_and_nothing_is_noted(client, job):
    file = io.BytesIO(b"%PDF-1.7")
    file.name = "damage.jpg"
    sent = {**DAMAGE, "step": answer(job)["step"], "nonce": str(new_nonce()), "photo": file, "note": "at the <crook>"}
    refused = client.post(address("damage", job), sent)
    assert refused.status_code == 422
    assert "at the &lt;crook&gt;" in refused.text
    assert not Attempt.objects.exists()
