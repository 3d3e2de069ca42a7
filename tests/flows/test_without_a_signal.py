"""What was tapped without a signal, over HTTP; of two phones each tap counts once, and who was second is told.

That both may be in the storage room at once is common practice, no source.
"""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.html import escape

from core.models import Event
from inventory.models import Finding, Instrument, Role, Sighting
from inventory.services.counts import open_count
from repairs.models import Attempt, CautionRead, StepClock
from repairs.selectors.planning import plan_for_job
from tests.factories import NOW, make_instrument, make_user
from tests.opening import differences
from tests.repairs.makers import LEAKING_CORK, fresh, make_job, read_cautions
from tests.repairs.views.pages import address, answer, shown_cautions

pytestmark = pytest.mark.django_db
ARRIVED = NOW + timedelta(hours=5)
MINUTE_MS = 60_000


class Phone:
    """What one phone kept, sent in order; a lost answer is sent again."""

    def __init__(self, user):
        self.client, self.taps = Client(), []
        self.client.force_login(user, backend="core.access.RoleBackend")

    def tap(self, page: str, *, minutes_ago: int, **fields) -> None:
        self.taps.append((page, fields | {"key": str(uuid4())}, minutes_ago))

    def send(self) -> list[str]:
        """Return what each tap was told: "" where the server has it, else why not."""
        told = []
        for page, fields, minutes_ago in self.taps:
            headers = {"Accept": "application/json", "X-Queued": str(minutes_ago * MINUTE_MS)}
            answered = self.client.post(page, fields, headers=headers)
            is_taken = answered.status_code == 200 and answered.json()["ok"]
            told.append("" if is_taken else answered.content.decode())
        return told


@pytest.fixture
def phones(school, tech, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: ARRIVED)
    return Phone(tech), Phone(make_user(Role.TECH, school=school, name="Toni Tech"))


def test_at_one_job_the_second_phone_is_told_and_nothing_counts_twice(school, tech, phones):
    job = make_job(school=school, actor=tech)
    for minutes, phone in zip((90, 60), phones, strict=True):
        step = answer(job, outcome="freed")
        dent = {"part": "bell", "fault": "dent_small", "severity": "light", "nonce": str(uuid4())}
        phone.tap(address("start-step", job), minutes_ago=minutes, step=step["step"])
        phone.tap(address("do-step", job), minutes_ago=minutes - 20, **step)
        phone.tap(address("found", job), minutes_ago=minutes - 30, **dent)
    first, second = phones
    assert first.send() == ["", "", ""]
    assert first.send() == ["", "", ""], "the answers were lost"
    start, done, found = second.send()
    for refused in (start, done):
        assert "Not now" in refused or "no longer in the plan" in refused
    assert found == "" or "already" in found
    attempt = Attempt.objects.get()
    assert (attempt.actor, attempt.minutes) == (tech, 20), "its clock ran on the phone, not until the signal was back"
    assert not StepClock.objects.exists()
    assert Finding.objects.filter(instrument=job.instrument, fault="dent_small").standing().count() == 1
    event = Event.objects.get(act="step_done")
    assert event.at == ARRIVED
    assert event.after["tapped_at"] == (ARRIVED - timedelta(minutes=70)).isoformat()
    page = first.client.get(reverse("desk:history", args=[job.instrument.asset_number])).text
    assert "Tapped without a signal on" in page
    assert differences()[1] == []


def test_in_one_count_each_instrument_is_seen_once(school, director, phones):
    for number in ("TV-1", "TV-2", "TV-3"):
        make_instrument(school=school, asset_number=number)
    count = open_count(school=school, actor=director, at=NOW)
    page = reverse("desk:count", args=[count.pk])
    for phone, numbers in zip(phones, (("TV-1", "TV-2"), ("TV-2", "TV-3")), strict=True):
        for number in numbers:
            phone.tap(page, minutes_ago=30, text=number)
    first, second = phones
    assert first.send() == ["", ""]
    assert first.send() == ["", ""], "the answers were lost"
    twice, new = second.send()
    assert "already counted by" in twice
    assert new == ""
    seen = Sighting.objects.values_list("instrument__asset_number", flat=True)
    assert sorted(seen) == ["TV-1", "TV-2", "TV-3"]


def test_a_wait_that_began_without_a_signal_is_over_when_it_would_have_been(client, school, tech, phones):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=[("case", "odor_mold", "severe")])
    read_cautions(job, actor=tech)
    sent = {"step": answer(job)["step"], "key": str(uuid4())}
    client.post(address("wait", job), sent, headers={"X-Queued": str(2 * 3_600_000)})
    clock = StepClock.objects.get()
    assert clock.waiting_since == ARRIVED - timedelta(hours=2)
    assert clock.waits_until - clock.waiting_since == timedelta(
        hours=float(plan_for_job(fresh(job)).step(clock.step_key).wait_h)
    )


def test_a_phone_keeps_the_step_behind_one_as_if_that_were_done(client, school, tech):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=[("third_valve_slide", "slide_seized", "severe")])
    behind = next(step for step in plan_for_job(job).steps if step.waits_on)
    asked = {"step": behind.key}
    assert 'id="step"' not in client.get(address("job", job), asked).text
    kept = client.get(address("job", job), asked, headers={"X-Held": "1"}).text
    assert f'name="step" value="{escape(behind.key)}"' in kept
    assert "The plan may change when the signal is back." in kept


@pytest.mark.parametrize("away", ["at_shop", "trip"])
def test_a_kept_page_of_what_a_shop_has_or_gets_asks_for_that_and_not_for_cautions(
    client, school, tech, monkeypatch, away
):
    """Common practice, no source: nobody works on what is not at the bench."""
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    held = {"X-Held": "1"}
    assert "data-until-read" in client.get(address("job", job), headers=held).text
    if away == "trip":
        monkeypatch.setattr("repairs.pages.job.SHOP_TRIP", plan_for_job(job).next_step.method)
    else:
        Instrument.objects.filter(pk=job.instrument_id).update(whereabouts=away)
    kept = client.get(address("job", job), headers=held).text
    bar = kept[kept.index("answer-bar") :]
    assert {"at_shop": "It is back from the shop", "trip": "Go to the shop"}[away] in bar
    assert "data-until-read" not in kept
    assert "data-once-read" not in kept


def test_cautions_read_without_a_signal_count_as_read_then_and_the_step_behind_them_is_taken(
    client, school, tech, phones
):
    client.force_login(tech)
    job = make_job(school=school, actor=tech, findings=[LEAKING_CORK])
    with_a_signal = client.get(address("job", job)).text
    assert 'value="done"' not in with_a_signal
    kept = client.get(address("job", job), headers={"X-Held": "1"}).text
    assert 'value="done"' in kept
    shown = shown_cautions(kept)
    assert shown == shown_cautions(with_a_signal) != []
    late = {"X-Queued": str(2 * 3_600_000)}
    sent = answer(job)
    read = {"step": sent["step"], "shown": shown, "key": str(uuid4())}
    for _ in range(2):
        assert client.post(address("cautions", job), read, headers=late).json()["ok"]
    tapped = ARRIVED - timedelta(hours=2)
    assert {row.at for row in CautionRead.objects.all()} == {tapped}
    event = Event.objects.get(act="cautions_acknowledged")
    assert (event.at, event.after["tapped_at"]) == (ARRIVED, tapped.isoformat(timespec="seconds"))
    client.post(address("do-step", job), sent, headers=late)
    assert Attempt.objects.get().outcome == "done"
