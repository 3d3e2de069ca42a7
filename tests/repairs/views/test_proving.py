"""The end of a job in the browser."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from core.money import dollars
from inventory.models import Instrument
from repairs.selectors.worth import spent_on
from repairs.services.jobs import give_up_job
from repairs.services.orders import bring_back, note_invoice, send_to_shop
from tests.factories import NOW
from tests.repairs.makers import LEAKING_CORK, do_next, fresh, make_job, state_of_rows, work_to_the_proof
from tests.repairs.money_makers import make_order
from tests.repairs.views.pages import address

PASS = {"is_looked_at": "on", "result": "pass"}


@pytest.fixture
def proved(job):
    return work_to_the_proof(job)


def test_the_page_says_what_to_play_and_what_to_look_at_again(client, proved):
    page = client.get(address("prove", proved)).text
    assert "long tones" in page
    assert "Broken solder joint" in page or "broken solder joint" in page
    assert "D4" in page


def test_a_pass_closes_the_job(client, proved):
    assert "back in storage" in client.post(address("prove", proved), PASS, follow=True).text
    assert fresh(proved).closed_at is not None
    assert Instrument.objects.get(pk=proved.instrument_id).verdict == "plays"


def test_steps_that_are_left_are_named_and_keep_it_open(client, job):
    assert "1 step left" in client.get(address("prove", job)).text
    before = state_of_rows()
    response = client.post(address("prove", job), PASS)
    assert response.status_code == 422
    assert "Steps are left" in response.text
    assert state_of_rows() == before


def test_with_limits_in_words_it_closes_while_steps_are_left(client, job):
    sent = {"is_looked_at": "on", "result": "limits", "limits_text": "Low D is sharp <b>!</b>"}
    page = client.post(address("prove", job), sent, follow=True).text
    assert "Low D is sharp &lt;b&gt;" in page
    assert fresh(job).closed_at is not None


@pytest.mark.parametrize(
    "sent",
    [
        {"result": "pass"},
        {"is_looked_at": "on"},
        {"is_looked_at": "on", "result": "limits"},
        {"is_looked_at": "on", "result": "fail"},
        {"is_looked_at": "on", "result": "fail", "failed_notes": "Z9"},
        {"is_looked_at": "on", "result": "splendid"},
    ],
    ids=["not looked", "no result", "limits without words", "fail without notes", "no such note", "no such result"],
)
def test_what_is_not_said_keeps_the_job_open(client, proved, sent):
    before = state_of_rows()
    assert client.post(address("prove", proved), sent).status_code == 422
    assert state_of_rows() == before


def test_a_fail_with_its_notes_keeps_the_job_open(client, proved):
    sent = {"is_looked_at": "on", "result": "fail", "failed_notes": ["D4", "E4"]}
    client.post(address("prove", proved), sent)
    assert fresh(proved).closed_at is None
    assert proved.instrument.play_tests.get().failed_notes == ["D4", "E4"]


def test_a_weak_note_fails_it_too_and_its_suspects_are_shown(client, proved):
    page = client.get(address("prove", proved)).text
    assert "E♭4" in page
    assert "Eb4</label>" not in page.replace("\n", "")
    sent = {"is_looked_at": "on", "result": "fail", "weak_notes": ["D4"]}
    answer = client.post(address("prove", proved), sent, follow=True)
    assert "Suspects" in answer.text
    assert [one.level_tag for one in answer.context["messages"]] == ["warning"]
    test = proved.instrument.play_tests.get()
    assert (test.failed_notes, test.weak_notes) == ([], ["D4"])
    assert fresh(proved).closed_at is None
    client.post(address("prove", proved), PASS | {"weak_notes": ["D4"]})
    assert fresh(proved).closed_at is not None
    assert proved.instrument.play_tests.order_by("-pk").first().weak_notes == [], (
        "a note checked before a pass was chosen"
    )


def test_what_is_found_again_joins_the_plan(client, school, tech):
    client.force_login(tech)
    job = work_to_the_proof(make_job(school=school, actor=tech, findings=[LEAKING_CORK]))
    page = client.get(address("prove", job)).text
    code = next(part.split('"')[0] for part in page.split('name="again_')[1:])
    sent = {f"again_{code}": "on", f"bad_{code}": "severe", f"at_{code}": ""}
    page = client.post(address("prove", job), sent, follow=True).text
    assert "Found again" in page
    assert fresh(job).closed_at is None


def test_a_second_post_finds_the_job_closed(client, proved):
    client.post(address("prove", proved), PASS)
    before = state_of_rows()
    response = client.post(address("prove", proved), PASS | {"note": "typed in vain"})
    assert response.status_code == 422
    assert "already closed" in response.text
    assert "typed in vain" in response.text
    assert state_of_rows() == before


def test_a_closed_job_shows_its_minutes_and_which_of_them_are_estimated(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech)
    do_next(job, "still_stuck", minutes=Decimal(11))
    job = work_to_the_proof(job)
    planned = sum(one.estimated_minutes or 0 for one in job.attempts.all())
    client.post(address("prove", job), PASS)
    page = client.get(address("job", job)).text
    assert f"{planned:.0f} of the minutes are estimated" in page
    assert f"{11 + planned:.0f} min" in page
    assert "cost in all" in page
    assert "still to come" not in page
    amount = spent_on(fresh(job)).amount
    history = client.get(reverse("desk:instrument", args=[job.instrument.asset_number])).text
    assert f"{11 + planned:.0f} min, {dollars(amount)}" in history


def test_a_closed_job_says_that_a_shops_bill_is_still_to_come(client, proved, tech):
    now = timezone.now()
    order = make_order(instrument=proved.instrument, actor=tech, at=now)
    send_to_shop(order=order, actor=tech, at=now)
    order = bring_back(order=order, what_was_done="Soldered", actor=tech, at=now)
    client.post(address("prove", proved), PASS)
    assert "bill is still to come" in client.get(address("job", proved)).text
    note_invoice(order=order, amount=Decimal(40), on=timezone.localdate(now), actor=tech, at=now)
    page = client.get(address("job", proved)).text
    assert "still to come" not in page
    assert "$40" in page


def test_giving_up_asks_for_the_reason(client, job):
    before = state_of_rows()
    assert client.post(address("give-up", job), {"because": " "}).status_code == 422
    assert state_of_rows() == before
    client.post(address("give-up", job), {"because": "Waits for money."})
    assert fresh(job).ended_because == "Waits for money."


def test_giving_up_a_closed_job_is_refused(client, job, tech):
    give_up_job(job=job, because="First.", actor=tech, at=NOW + timedelta(hours=3))
    before = state_of_rows()
    response = client.post(address("give-up", job), {"because": "Second."})
    assert response.status_code == 422
    assert state_of_rows() == before
