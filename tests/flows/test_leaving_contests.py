"""Two people at once over what leaves a school, a season's work, or a sample: one act counts, nobody meets a fault."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from core.exceptions import RefusedError
from core.models import User
from desk.forms.season_plan import StartSeasonForm
from desk.services.leaving import dispose, offer, settle_offer
from inventory.models import Disposal, Instrument, PurchaseRequest, Role, SampleItem, Transfer, Whereabouts
from inventory.services.samples import examine
from repairs.models import Job
from tests.contests import Act, at_once, went_well, wrong_after
from tests.factories import (
    NOW,
    TODAY,
    make_director,
    make_inspection,
    make_instrument,
    make_ready_instrument,
    make_school,
    make_user,
    new_nonce,
)
from tests.inventory.sample_makers import make_sample
from tests.repairs.makers import STUCK, make_school_bench

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.drill]
ROUNDS = 15


def give_up(instrument: Instrument, actor: User, approved_by: User) -> Act:
    said: dict[str, Any] = {
        "way": "scrapped",
        "on": TODAY,
        "because": "Past its life.",
        "is_confirmed": True,
        "at": NOW,
    }
    return lambda: dispose(instrument=instrument, approved_by=approved_by, actor=actor, nonce=new_nonce(), **said)


def hand_on(instrument: Instrument, actor: User) -> Act:
    place = make_school()
    return lambda: offer(instrument=instrument, to_school=place, accessories={}, actor=actor, at=NOW, nonce=new_nonce())


def two_dispose_of_one() -> None:
    instrument = make_ready_instrument()
    people = [make_director(instrument.school) for _ in range(2)]
    answers = at_once(*(give_up(instrument, one, other) for one, other in (people, people[::-1])))
    assert len(went_well(answers)) == 1
    assert Disposal.objects.get(instrument=instrument).actor in people


def two_offer_one() -> None:
    instrument = make_ready_instrument()
    answers = at_once(*(hand_on(instrument, make_director(instrument.school)) for _ in range(2)))
    assert len(went_well(answers)) == 1
    assert Transfer.objects.get(instrument=instrument).settled_at is None


def two_agree_to_one() -> None:
    instrument = make_ready_instrument()
    transfer = hand_on(instrument, make_director(instrument.school))()
    people = [make_director(transfer.to_school) for _ in range(2)]

    def answer(actor: User, *, is_agreed: bool) -> Act:
        return lambda: settle_offer(transfer=transfer, is_agreed=is_agreed, actor=actor, at=NOW, room_name="Band room")

    answers = at_once(*(answer(one, is_agreed=True) for one in people), answer(people[0], is_agreed=False))
    assert len(went_well(answers)) == 1
    now = Transfer.objects.get(pk=transfer.pk)
    here = transfer.to_school if now.is_agreed else transfer.from_school
    assert Instrument.objects.get(pk=instrument.pk).school == here


def dispose_and_offer() -> None:
    instrument = make_ready_instrument()
    one, other = (make_director(instrument.school) for _ in range(2))
    answers = at_once(give_up(instrument, one, other), hand_on(instrument, other))
    assert len(went_well(answers)) == 1
    is_gone = Instrument.objects.get(pk=instrument.pk).whereabouts == Whereabouts.GONE
    assert is_gone is not Transfer.objects.filter(instrument=instrument).exists()


def dispose_and_agree() -> None:
    instrument = make_ready_instrument()
    one, other = (make_director(instrument.school) for _ in range(2))
    transfer = hand_on(instrument, one)()
    there = make_director(transfer.to_school)
    answers = at_once(
        give_up(instrument, one, other), lambda: settle_offer(transfer=transfer, is_agreed=True, actor=there, at=NOW)
    )
    now = Instrument.objects.get(pk=instrument.pk)
    assert Transfer.objects.get(pk=transfer.pk).is_agreed
    assert now.school == transfer.to_school
    assert (now.whereabouts == Whereabouts.GONE) is (len(went_well(answers)) == 2)  # after it came to the other school


def two_examine_one_row() -> None:
    sample = make_sample()
    item = SampleItem.objects.filter(sample=sample).earliest("pk")
    people = [make_user(Role.AUDITOR) for _ in range(2)]

    def look(actor: User, result: str) -> Act:
        return lambda: examine(item=item, result=result, note="Seen", seen="", actor=actor, at=NOW)

    answers = at_once(look(people[0], "as_recorded"), look(people[1], "deviates"))
    assert sum(isinstance(answer, RefusedError) for answer in answers) == 1
    now = SampleItem.objects.get(pk=item.pk)
    assert (now.examined_by, now.result) in zip(people, ("as_recorded", "deviates"), strict=True)


def two_start_one_season() -> None:
    """Over HTTP, each in a browser of their own: each instrument is in one job, and one request is on file."""
    school = make_school()
    make_school_bench(school)
    rows = [make_instrument(school=school) for _ in range(3)]
    for row in rows:
        make_inspection(instrument=row, findings=[STUCK])
    line = {"kind": "tuba", "size": "", "make": "student", "count": 1, "each": "2000.00", "ready_on": None}
    asked = {"school": school.code, "lines": [line], "left": 1, "seated": 3, "wanted": 4, "for_whom": "Wind band"}
    page = {"to_start": [row.asset_number for row in rows], "to_request": [asked], "needed_by": None}

    def press(actor: User) -> Act:
        client = Client()
        client.force_login(actor)
        sealed = StartSeasonForm.of(page, words={}, today=timezone.localdate())["plan"].value()
        posted = {"plan": sealed, "nonce": new_nonce(), "jobs": "on", "purchases": "on"}
        return lambda: client.post(reverse("desk:start-season"), posted)

    answers = at_once(*(press(make_director(school)) for _ in range(2)))
    assert [answer.status_code for answer in answers] == [302, 302]
    assert sorted(answer["Location"].partition("?")[0] for answer in answers) == ["/season/", "/season/started/"]
    assert sorted(Job.objects.filter(instrument__in=rows).values_list("instrument", flat=True)) == [r.pk for r in rows]
    assert PurchaseRequest.objects.filter(school=school).count() == 1


CONTESTS = (
    two_dispose_of_one,
    two_offer_one,
    two_agree_to_one,
    dispose_and_offer,
    dispose_and_agree,
    two_examine_one_row,
    two_start_one_season,
)


@pytest.mark.parametrize("contest", CONTESTS, ids=lambda contest: contest.__name__)
def test_two_at_once_meet_no_fault_and_leave_nothing_to_verify(contest):
    assert wrong_after(contest, ROUNDS) == []
