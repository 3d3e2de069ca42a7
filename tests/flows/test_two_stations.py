"""Two stations take back the same instrument at once, on real connections: one does, the other is told."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from core.exceptions import RefusedError
from core.models import Event, User
from desk.services.lending import take_back_at_desk
from tests.contests import A_FEW, at_once, contests, went_well, wrong_after
from tests.factories import NOW, make_director
from tests.loans.makers import all_back, make_loan

pytestmark = pytest.mark.django_db(transaction=True)


def take_back_and_take_back() -> None:
    """One looks it over at the counter, one scans it in the line: the loan ends once, and the other hears of it."""
    loan = make_loan()
    said = {"loan": loan, "accessories_back": all_back(loan), "at": NOW + timedelta(days=2)}
    other = make_director(loan.school)
    answers = at_once(
        lambda: take_back_at_desk(**said, actor=loan.actor),
        lambda: take_back_at_desk(**said, actor=other, is_inspected_later=True),
    )
    assert len(went_well(answers)) == 1
    assert ["already been returned" in str(one) for one in answers if isinstance(one, RefusedError)] == [True]
    assert Event.objects.filter(act="returned", thread=loan.instrument.thread).count() == 1


@contests(take_back_and_take_back)
def test_the_loan_ends_once(contest, rounds):
    assert wrong_after(contest, rounds) == []


def browser_of(user: User) -> Client:
    browser = Client(raise_request_exception=False)
    browser.force_login(user)
    return browser


def stations_scan_it_back() -> None:
    """Two stations of give-back, each with its own log-in, scan the same instrument."""
    loan = make_loan()
    number = loan.instrument.asset_number
    stations = [browser_of(person) for person in (loan.actor, make_director(loan.school))]
    scan = reverse("desk:give-back")
    answers = at_once(*(lambda station=station: station.post(scan, {"text": number}) for station in stations))
    assert sorted(answer.status_code for answer in answers) == [302, 422]
    told = next(answer.text for answer in answers if answer.status_code == 422)
    assert "already been returned" in told or f"{number} was already taken back at" in told
    assert Event.objects.filter(act="returned", thread=loan.instrument.thread).count() == 1


def pages_take_back_and_scan() -> None:
    """The counter has its page open while the line scans it: whichever comes second changes nothing."""
    loan = make_loan()
    number = loan.instrument.asset_number
    counter, line = browser_of(loan.actor), browser_of(loan.actor)
    answers = at_once(
        lambda: counter.post(
            reverse("desk:take-back", args=[number]), {"found": "same", "all_here": "on", "to": "store"}
        ),
        lambda: line.post(reverse("desk:give-back"), {"text": number}),
    )
    assert [answer.status_code for answer in answers] in ([302, 302], [302, 422])
    told = counter.get(answers[0]["Location"]).text + answers[1].text
    assert ("Nothing was changed." in told) or (f"{number} was already taken back at" in told)
    assert Event.objects.filter(act="returned", thread=loan.instrument.thread).count() == 1


@pytest.mark.parametrize("contest", [stations_scan_it_back, pages_take_back_and_scan])
def test_pages_posted_at_once_end_the_loan_once(contest, monkeypatch):
    # The pages read the clock; the rows of these tests are made on NOW.
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW + timedelta(hours=1))
    assert wrong_after(contest, A_FEW) == []
