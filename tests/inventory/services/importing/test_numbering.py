"""Numbers and rooms for what comes in."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from inventory.models import Instrument, Room
from inventory.services.importing.numbering import give_numbers, give_rooms
from tests.factories import make_instrument, make_room

pytestmark = pytest.mark.django_db


def coming(school, *, number="", room=""):
    return SimpleNamespace(instrument=Instrument(school=school, kind_code="flute"), number=number, room=room)


def test_a_number_that_is_taken_is_left_out_and_one_of_the_file_is_kept(school):
    make_instrument(school=school, asset_number="TD-0001")
    rows = [coming(school), coming(school, number="TD-0002"), coming(school)]
    give_numbers(rows)
    assert [row.instrument.asset_number for row in rows] == ["TD-0003", "TD-0002", "TD-0004"]


def test_a_room_is_found_by_any_spelling_and_made_once(school):
    there = make_room(school=school, name="Band Room")
    rows = [coming(school, room="band room"), coming(school, room="Loft"), coming(school, room="LOFT"), coming(school)]
    new = give_rooms(rows)
    assert [row.instrument.room for row in rows] == [there, *new, *new, None]
    assert Room.objects.count() == 2
