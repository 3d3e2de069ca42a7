"""An entry that should not be there stays, and another one says so."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.models import Event, Revision
from desk.services.entered_in_error import call_entered_in_error
from inventory.exceptions import RefusedError
from inventory.models import Instrument
from inventory.services.registering import change_instrument
from inventory.services.state import move_instrument
from tests.contests import at_once
from tests.factories import NOW, make_director, make_instrument, make_user, new_nonce
from tests.opening import differences

LATER = NOW + timedelta(days=1)


@pytest.fixture
def event(school, director):
    row = make_instrument(school=school, serial="12345")
    change_instrument(instrument=row, actor=director, at=NOW, serial="12354")
    return Event.objects.get(act="corrected")


@pytest.mark.django_db
def test_it_is_an_entry_of_its_own_and_changes_no_row(event, director):
    before = Instrument.objects.values().get()
    assert call_entered_in_error(event=event, because=" read off\na case ", actor=director, at=LATER) == event
    strike = Event.objects.get(act="entered_in_error")
    assert strike.after == {"event": event.number, "act": "corrected", "typed": strike.after["typed"]}
    assert (strike.thread, strike.tenant, strike.subject_id) == (event.thread, event.tenant, str(event.pk))
    assert (strike.actor, strike.at) == (director, LATER)
    reason = Revision.objects.get(number=strike.number)
    assert (reason.column, reason.after, reason.before) == ("reason", "read off a case", "")
    assert "case" not in str(strike.after)
    assert Instrument.objects.values().get() == before
    assert Event.objects.get(pk=event.pk).after == event.after
    assert differences()[1] == []


@pytest.mark.django_db
def test_the_same_form_twice_is_one_entry_and_another_form_is_refused(event, director):
    nonce = new_nonce()
    for _ in range(2):
        call_entered_in_error(event=event, because="wrong", actor=director, at=LATER, nonce=nonce)
    assert Event.objects.filter(act="entered_in_error").count() == 1
    with pytest.raises(RefusedError, match="already marked"):
        call_entered_in_error(event=event, because="wrong", actor=director, at=LATER, nonce=new_nonce())
    assert Event.objects.filter(act="entered_in_error").count() == 1


@pytest.mark.django_db
@pytest.mark.parametrize("because", ["", "  \n "])
def test_a_reason_is_asked_for(event, director, because):
    with pytest.raises(RefusedError, match="Say why"):
        call_entered_in_error(event=event, because=because, actor=director, at=LATER)
    assert not Event.objects.filter(act="entered_in_error").exists()


@pytest.mark.django_db
def test_what_only_says_that_another_is_wrong_stays(event, director):
    call_entered_in_error(event=event, because="wrong", actor=director, at=LATER)
    strike = Event.objects.get(act="entered_in_error")
    with pytest.raises(RefusedError, match="It stays"):
        call_entered_in_error(event=strike, because="no", actor=director, at=LATER)


@pytest.mark.django_db
def test_a_tech_says_so_of_own_acts_and_a_director_of_all_of_the_school(event, school, tech, director):
    instrument = Instrument.objects.get()
    move_instrument(instrument=instrument, expected="in_store", to="not_found", actor=tech, at=NOW)
    own = Event.objects.get(act="moved")
    for who in (make_director(), make_user("auditor"), make_user()):
        for one in (event, own):
            with pytest.raises(RefusedError, match="Only the person who did it"):
                call_entered_in_error(event=one, because="wrong", actor=who, at=LATER)
    with pytest.raises(RefusedError, match="Only the person who did it"):
        call_entered_in_error(event=event, because="wrong", actor=tech, at=LATER)
    assert not Event.objects.filter(act="entered_in_error").exists()
    call_entered_in_error(event=own, because="it was there", actor=tech, at=LATER)
    call_entered_in_error(event=event, because="wrong", actor=director, at=LATER)
    assert Event.objects.filter(act="entered_in_error").count() == 2


@pytest.mark.django_db(transaction=True)
def test_of_two_at_once_one_is_told_who_was_faster(event, director):
    def strike():
        return call_entered_in_error(event=event, because="wrong", actor=director, at=LATER)

    ended = at_once(strike, strike)
    assert sorted(type(one).__name__ for one in ended) == ["Event", "RefusedError"]
    assert Event.objects.filter(act="entered_in_error").count() == 1
