"""Physical counts, from opening to two signatures. Common practice, no source."""

from __future__ import annotations

import pytest

from core.exceptions import RefusedError
from core.models import Event
from inventory.models import CountDifference, Instrument, Role, Sighting, Whereabouts
from inventory.rules.counting import Outcome, Reason
from inventory.selectors.counts import differences_of, progress_of, rooms_of
from inventory.services.counts import (
    Settled,
    count_again,
    drop_count,
    end_counting,
    open_count,
    sign_count,
    undo_sighting,
)
from inventory.services.state import move_instrument
from tests.factories import NOW, make_director, make_instrument, make_school, make_user
from tests.inventory.count_makers import LATER, see
from tests.inventory.leaving_makers import make_disposal
from tests.opening import differences

pytestmark = pytest.mark.django_db


def test_a_count_is_settled_in_one_act_and_changes_nothing_before(rooms, fleet, count, director, tech):
    band_room, closet = rooms
    here, moved, missing, closed = fleet
    move_instrument(instrument=closed, expected="in_store", to="not_found", actor=director, at=NOW)
    see(count, here, tech, room=band_room)
    see(count, moved, tech, room=closet)
    see(count, closed, director, room=closet)
    see(count, None, director, room=closet, text="OLD-77")
    before = list(Instrument.objects.order_by("pk").values_list("room", "whereabouts"))
    done = end_counting(count=count, actor=director, at=LATER)
    assert list(Instrument.objects.order_by("pk").values_list("room", "whereabouts")) == before
    found = {one.outcome: one for one in differences_of(done)}
    assert set(found) == {Outcome.NOT_FOUND, Outcome.OTHER_ROOM, Outcome.FOUND_AGAIN, Outcome.UNKNOWN}
    settled = {
        found[Outcome.NOT_FOUND].key: Settled(Reason.MISSING, "asked in  the office"),
        found[Outcome.OTHER_ROOM].key: Settled(Reason.MOVED_HERE),
        found[Outcome.FOUND_AGAIN].key: Settled(Reason.BACK),
        found[Outcome.UNKNOWN].key: Settled(Reason.NOT_OURS),
    }
    signed = sign_count(count=done, settled=settled, second=tech, actor=director, at=LATER)
    after = {row.asset_number: (row.room, row.whereabouts) for row in Instrument.objects.select_related("room")}
    assert after == {
        "A0": (band_room, "in_store"),
        "A1": (closet, "in_store"),
        "A2": (band_room, "not_found"),
        "A3": (closet, "in_store"),
    }
    assert (signed.signed_by, signed.second) == (director, tech)
    assert CountDifference.objects.get(line__instrument=missing).note == "asked in the office"
    assert Event.objects.get(act="count_signed").after["reasons"] == {
        "back": 1, "missing": 1, "moved_here": 1, "not_ours": 1,
    }  # fmt: skip
    assert differences()[1] == []


def test_seen_twice_is_one_sighting_and_says_who_was_first(count, fleet, rooms, director, tech):
    first = see(count, fleet[0], tech, room=rooms[0])
    second = see(count, fleet[0], director, room=rooms[1])
    assert (first.is_new, second.is_new) == (True, False)
    assert (second.sighting.actor, second.sighting.room) == (tech, rooms[0])
    assert see(count, None, tech, text="x-1").is_new
    assert not see(count, None, tech, text="X-1").is_new
    assert Sighting.objects.count() == 2
    assert progress_of(count).expected_seen == 1
    assert [(line.room, line.expected, line.seen) for line in rooms_of(count)] == [(rooms[0], 4, 1)]


def test_a_sighting_taken_back_leaves_when_it_was_last_seen_as_it_was(count, fleet, tech):
    seen = see(count, fleet[0], tech).sighting
    assert Instrument.objects.get(pk=fleet[0].pk).seen_at == LATER
    undo_sighting(sighting=seen, actor=tech, at=LATER)
    assert Instrument.objects.get(pk=fleet[0].pk).seen_at is None
    assert differences()[1] == []
    assert see(count, fleet[0], tech).is_new


def test_lent_instruments_are_not_missing_and_are_confirmed_when_shown(school, fleet, director, tech):
    for row in fleet[:2]:
        move_instrument(instrument=row, expected="in_store", to="with_student", actor=director, at=NOW)
    count = open_count(school=school, actor=director, at=NOW)
    assert count.expected == 2
    assert see(count, fleet[0], tech).sighting.outcome == Outcome.CONFIRMED
    for row in fleet[2:]:
        see(count, row, tech)
    done = end_counting(count=count, actor=director, at=LATER)
    assert differences_of(done) == []
    sign_count(count=done, settled={}, second=tech, actor=director, at=LATER)
    assert list(done.lines.exclude(outcome="").values_list("instrument", "outcome")) == [
        (fleet[1].pk, Outcome.BY_RECORD)
    ]


def test_only_differences_are_counted_again(count, fleet, rooms, director, tech):
    see(count, fleet[0], tech, room=rooms[0])
    elsewhere = see(count, fleet[1], tech, room=rooms[1]).sighting
    again = count_again(count=end_counting(count=count, actor=director, at=LATER), actor=director, at=LATER)
    assert again.round == 2
    assert not see(again, fleet[0], director, room=rooms[1]).is_new
    assert see(again, fleet[1], director, room=rooms[0]).sighting.outcome == Outcome.FOUND
    elsewhere.refresh_from_db()
    assert elsewhere.undone_at is not None
    assert see(again, fleet[2], director).is_new
    done = end_counting(count=again, actor=director, at=LATER)
    assert [one.instrument for one in differences_of(done)] == [fleet[3]]
    assert differences()[1] == []


def test_what_belongs_to_another_school_is_left_there(count, fleet, rooms, director, tech):
    other = make_instrument(school=make_school())
    assert see(count, other, tech, room=rooms[0]).sighting.outcome == Outcome.OTHER_SCHOOL
    for row in fleet:
        see(count, row, tech)
    done = end_counting(count=count, actor=director, at=LATER)
    (one,) = differences_of(done)
    sign_count(count=done, settled={one.key: Settled(Reason.RETURN_TO_SCHOOL)}, second=tech, actor=director, at=LATER)
    assert Instrument.objects.get(pk=other.pk).school == other.school


def test_what_another_school_sold_is_here_after_all_and_not_sent_back(count, fleet, rooms, director, tech):
    gone = make_disposal().instrument
    assert see(count, gone, tech, room=rooms[0]).sighting.outcome == Outcome.GONE_HERE
    for row in fleet:
        see(count, row, tech)
    (one,) = differences_of(end_counting(count=count, actor=director, at=LATER))
    assert one.reasons == (Reason.CORRECT, Reason.NOT_OURS)


def test_some_rooms_expect_only_what_is_kept_there(school, rooms, fleet, director, tech):
    kept = make_instrument(school=school, room=rooms[1])
    loose = make_instrument(school=school)
    count = open_count(school=school, rooms=[rooms[1]], actor=director, at=NOW)
    assert (count.expected, count.is_whole) == (1, False)
    assert see(count, fleet[0], tech, room=rooms[1]).sighting.outcome == Outcome.OTHER_ROOM
    assert see(count, loose, tech, room=rooms[1]).sighting.outcome == Outcome.OTHER_ROOM
    assert see(count, kept, tech, room=rooms[1]).sighting.outcome == Outcome.FOUND
    with pytest.raises(RefusedError, match="Choose rooms of"):
        open_count(school=make_school(), rooms=rooms, actor=director, at=NOW)


def test_the_second_signature_is_of_somebody_who_counts_at_the_school(school, count, fleet, director, tech):
    for row in fleet:
        see(count, row, tech)
    done = end_counting(count=count, actor=director, at=LATER)
    former = make_user(Role.TECH, school=school, is_active=False)
    for second in (make_director(), make_user(Role.ADMINISTRATOR), make_user(), former):
        with pytest.raises(RefusedError, match="may count at this school"):
            sign_count(count=done, settled={}, second=second, actor=director, at=LATER)
    assert sign_count(count=done, settled={}, second=tech, actor=director, at=LATER).second == tech


def test_what_cannot_be_is_refused(school, count, fleet, director, tech):
    with pytest.raises(RefusedError, match="under way"):
        open_count(school=school, actor=director, at=NOW)
    with pytest.raises(RefusedError, match="Nothing has been counted"):
        end_counting(count=count, actor=director, at=LATER)
    see(count, fleet[0], tech)
    with pytest.raises(RefusedError, match="moved on"):
        sign_count(count=count, settled={}, second=tech, actor=director, at=LATER)
    done = end_counting(count=count, actor=director, at=LATER)
    with pytest.raises(RefusedError, match="moved on"):
        see(done, fleet[1], tech)
    with pytest.raises(RefusedError, match="somebody else's"):
        sign_count(count=done, settled={}, second=director, actor=director, at=LATER)
    with pytest.raises(RefusedError, match="Say what to do with A1"):
        sign_count(count=done, settled={}, second=tech, actor=director, at=LATER)
    wrong = {one.key: Settled(Reason.MOVED_HERE) for one in differences_of(done)}
    with pytest.raises(RefusedError, match="cannot be settled"):
        sign_count(count=done, settled=wrong, second=tech, actor=director, at=LATER)
    assert not Instrument.objects.exclude(whereabouts=Whereabouts.IN_STORE).exists()
    drop_count(count=done, actor=director, at=LATER)
    with pytest.raises(RefusedError, match="already"):
        drop_count(count=done, actor=director, at=LATER)
    with pytest.raises(RefusedError, match="nothing to count"):
        open_count(school=make_school(), actor=director, at=NOW)
