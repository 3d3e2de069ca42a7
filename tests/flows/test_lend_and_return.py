"""An instrument's year: lent, back with a dent and no mouthpiece, to the bench. Another is lent again once clean."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from core.events import broken_links
from core.models import Event
from inventory.models import Instrument, Purpose
from inventory.services.inspecting import (
    answer_safety,
    count_accessories,
    finish_inspection,
    look_at_rest,
    record_finding,
)
from loans.models import Loan
from repairs.models import Job
from tests.factories import NOW, make_bench, make_ready_instrument, make_student
from tests.loans.makers import make_lending_form


class Clock:
    def __init__(self):
        self.now = NOW

    def __call__(self):
        return self.now

    def later(self, client, user, **span):
        """Time goes by; the session has ended meanwhile."""
        self.now += timedelta(**span)
        client.force_login(user)


@pytest.fixture
def clock(monkeypatch):
    clock = Clock()
    monkeypatch.setattr("django.utils.timezone.now", clock)
    return clock


@pytest.fixture
def desk(client, director):
    client.force_login(director)
    return client


def lend(desk, instrument, student):
    return desk.post(
        reverse("desk:lend-this", args=[instrument.asset_number]),
        make_lending_form(student),
    )


def whereabouts(instrument):
    return Instrument.objects.get(pk=instrument.pk).whereabouts


def test_back_with_a_dent_and_without_its_mouthpiece_to_the_bench(desk, clock, school, director):
    instrument, bench = make_ready_instrument(school=school), make_bench(school=school)
    assert lend(desk, instrument, make_student(school=school, name="Robin Reed")).status_code == 302
    loan = Loan.objects.get()
    assert whereabouts(instrument) == "with_student"

    clock.later(desk, director, days=200)
    at = clock.now
    desk.post(reverse("desk:take-back-walk", args=[instrument.asset_number]))
    walk = instrument.inspections.get(purpose=Purpose.RETURN)
    answer_safety(inspection=walk, is_safe=True, actor=director, at=at)
    record_finding(inspection=walk, part="bell_bow", fault="dent_small", severity="severe", actor=director, at=at)
    look_at_rest(inspection=walk, actor=director, at=at)
    counts = {row["code"]: row["count"] for row in loan.accessories} | {"mouthpiece": 0}
    count_accessories(instrument=instrument, counts=counts, actor=director, at=at, inspection=walk)
    finish_inspection(inspection=walk, actor=director, at=at)

    page = desk.get(reverse("desk:take-back", args=[instrument.asset_number])).text
    assert "1 new." in page
    typed = {f"back_{code}": count for code, count in counts.items()}
    answer = desk.post(
        reverse("desk:take-back", args=[instrument.asset_number]),
        typed | {"found": "walked", "to": "bench", "bench": bench.pk, "because": "dent in the bow"},
        follow=True,
    )
    assert "0 of 1 back" in answer.text
    assert whereabouts(instrument) == "on_bench"
    assert Job.objects.get().because == "dent in the bow"
    reasons = {reason["code"] for reason in Instrument.objects.get(pk=instrument.pk).readiness_reasons}
    assert {"on_bench", "accessories", "hygiene"} <= reasons


def test_between_two_players_it_is_cleaned(desk, clock, school, director):
    instrument = make_ready_instrument(school=school)
    first, second = make_student(school=school), make_student(school=school)
    lend(desk, instrument, first)
    clock.later(desk, director, days=30)
    desk.post(
        reverse("desk:take-back", args=[instrument.asset_number]), {"found": "same", "all_here": "on", "to": "store"}
    )
    assert whereabouts(instrument) == "in_store"
    assert lend(desk, instrument, second).status_code == 422
    clock.later(desk, director, hours=1)
    washed = [code for code, _ in instrument.kind.between_players()]
    desk.post(
        reverse("inventory:hygiene", args=[instrument.asset_number]),
        {"done": washed, "product": "alcohol", "wet_minutes": "1"},
    )
    assert lend(desk, instrument, second).status_code == 302
    assert [loan.student for loan in Loan.objects.order_by("pk")] == [first, second]


def test_the_whole_story_stands_in_an_unbroken_log_without_a_name(desk, clock, school, director):
    instrument = make_ready_instrument(school=school)
    lend(desk, instrument, make_student(school=school, name="Robin Reed", guardian_contact="555-0123"))
    clock.later(desk, director, days=30)
    desk.post(
        reverse("desk:take-back", args=[instrument.asset_number]), {"found": "same", "all_here": "on", "to": "store"}
    )
    acts = list(Event.objects.filter(thread=instrument.thread).values_list("act", flat=True))
    for act in ("lent", "agreement_signed", "returned"):
        assert act in acts
    told = " ".join(f"{row.before}{row.after}" for row in Event.objects.all())
    assert not [word for word in ("Robin", "Gale", "555-0123") if word in told]
    assert list(broken_links()) == []
