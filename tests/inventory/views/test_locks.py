"""Who lends sees what opens the locker; no file, no log and nobody else does."""

from __future__ import annotations

import pytest
from django.urls import reverse

from core.models import Event, Revision
from core.revisions import row_differences, text_differences
from inventory.models import Lock
from inventory.services.registering import change_instrument, note_lock
from tests.factories import NOW, make_ready_instrument, make_room

pytestmark = pytest.mark.django_db
LIST = reverse("inventory:list")


def test_a_lock_is_seen_by_those_who_lend_and_stands_nowhere_else(client, director, tech, administrator, school):
    room = make_room(school=school, name="Loft")
    instrument = make_ready_instrument(school=school, room=room, place="Shelf B, locker 12")
    number = instrument.asset_number
    lock, page = reverse("inventory:lock", args=[number]), reverse("desk:instrument", args=[number])
    client.force_login(director)
    assert client.post(lock, {"combination": "31-07-22"}).status_code == 302
    shown = client.get(page).text
    assert "31-07-22" in shown
    assert "Shelf B, locker 12" in shown
    assert "31-07-22" in client.get(lock).text
    files = [client.get(reverse("inventory:export", args=["csv"])).getvalue().decode(), client.get(LIST).text]
    assert all("Shelf B, locker 12" in text for text in files)
    assert "31-07-22" not in "".join(files)
    told = Event.objects.order_by("number").values_list("before", "after")
    assert "31-07-22" not in str([*told, *Revision.objects.values_list("before", "after")])
    for user in (tech, administrator):
        client.force_login(user)
        assert client.get(lock).status_code == 403
        assert "31-07-22" not in client.get(page).text
    assert list(text_differences()) == list(row_differences()) == []


@pytest.mark.parametrize("moved", [{"place": "Shelf C"}, {"room": None}], ids=str)
def test_a_lock_stays_behind_when_it_is_kept_elsewhere(director, school, moved):
    instrument = make_ready_instrument(school=school, place="Shelf B", room=make_room(school=school))
    note_lock(instrument=instrument, combination="31-07-22", actor=director, at=NOW)
    change_instrument(instrument=instrument, maker="Vale", actor=director, at=NOW)
    assert Lock.objects.get().combination == "31-07-22"
    change_instrument(instrument=instrument, actor=director, at=NOW, **moved)
    assert Lock.objects.get().combination == ""
    assert Event.objects.filter(act="lock_noted").count() == 2
