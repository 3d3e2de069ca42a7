"""From one school to another: offered, agreed or not. Common practice, no source."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.exceptions import RefusedError
from inventory.models import Instrument, Whereabouts
from inventory.services.state import move_instrument
from inventory.services.transferring import settle_transfer
from tests.factories import NOW, make_director, make_instrument, make_ready_instrument
from tests.inventory.leaving_makers import make_disposal, make_transfer
from tests.opening import differences

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=3)


def test_it_moves_when_somebody_of_the_other_school_agrees(school, director, stranger):
    there = stranger.staff_roles.get().school
    horn = make_ready_instrument(school=school)
    code = horn.accessories.filter(is_essential=True).first().code
    offered = make_transfer(horn, to_school=there, accessories={code: 0}, actor=director)
    assert Instrument.objects.get(pk=horn.pk).school == school
    with pytest.raises(RefusedError, match="Oak Hill High has to agree"):
        settle_transfer(transfer=offered, is_agreed=True, actor=director, at=LATER)
    with pytest.raises(RefusedError, match="already offered to a school"):
        make_transfer(horn, to_school=there, actor=director)
    agreed = settle_transfer(transfer=offered, is_agreed=True, actor=stranger, at=LATER, room_name="Annex")
    moved = Instrument.objects.get(pk=horn.pk)
    assert (moved.school, moved.room.name, moved.whereabouts) == (there, "Annex", Whereabouts.IN_STORE)
    assert moved.accessories.get(code=code).present == 0
    assert any(reason["code"] == "accessories" for reason in moved.readiness_reasons)
    assert (agreed.is_agreed, agreed.settled_by) == (True, stranger)
    assert differences()[1] == []
    with pytest.raises(RefusedError, match="already settled"):
        settle_transfer(transfer=offered, is_agreed=False, actor=stranger, at=LATER)


@pytest.mark.parametrize("by", ["director", "stranger"])
def test_either_side_ends_an_offer_and_nothing_moves(by, school, director, stranger):
    horn = make_instrument(school=school)
    offered = make_transfer(horn, to_school=stranger.staff_roles.get().school, actor=director)
    who = {"director": director, "stranger": stranger}[by]
    ended = settle_transfer(transfer=offered, is_agreed=False, note="No room.", actor=who, at=LATER)
    assert (ended.is_agreed, ended.settled_note) == (False, "No room.")
    assert Instrument.objects.get(pk=horn.pk).school == school
    with pytest.raises(RefusedError):
        settle_transfer(transfer=make_transfer(horn), is_agreed=False, actor=make_director(), at=LATER)


def test_only_what_is_in_storage_goes_and_only_elsewhere(school, director, stranger):
    there, horn = stranger.staff_roles.get().school, make_instrument(school=school)
    for fields, words in (
        ({"to_school": school}, "at that school"),
        ({"to_school": there, "accessories": {"bicycle": 1}}, "belongs to"),
        ({"to_school": there, "accessories": {horn.accessories.first().code: -1}}, "belongs to"),
    ):
        with pytest.raises(RefusedError, match=words):
            make_transfer(horn, actor=director, **fields)
    offered = make_transfer(horn, to_school=there, actor=director)
    move_instrument(instrument=horn, expected=Whereabouts.IN_STORE, to=Whereabouts.WITH_STUDENT, actor=director, at=NOW)
    with pytest.raises(RefusedError, match="Only what is in storage"):
        settle_transfer(transfer=offered, is_agreed=True, actor=stranger, at=LATER)
    with pytest.raises(RefusedError, match="Only what is in storage"):
        make_transfer(make_disposal(make_instrument(school=school)).instrument, to_school=there)
