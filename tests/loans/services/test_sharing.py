"""One instrument, one student in each class period."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

import pytest
from django.db import IntegrityError, transaction

from inventory.models import Instrument
from loans.exceptions import SeatRefusedError, StaysInError
from loans.models import Seat, SharedUse
from loans.selectors.assigning import offers_of
from loans.selectors.seats import need_of
from loans.selectors.sharing import uses_of, without_shared
from loans.services import end_seats, lend_instrument, share_instrument
from tests.contests import at_once, went_well
from tests.factories import NOW, TODAY, make_director, make_ready_instrument, make_school, new_nonce
from tests.loans import makers
from tests.loans.makers import all_counts, make_hand_out, make_loan, make_period, make_seat
from tests.opening import differences

LATER = NOW + timedelta(days=1)
refused = partial(makers.refused, share_instrument)


@pytest.fixture
def school(db):
    return make_school()


@pytest.fixture
def tuba(school) -> Instrument:
    return make_ready_instrument(school=school, kind_code="tuba")


@pytest.fixture
def seats(school) -> list[Seat]:
    """Two in the first period, one in the second."""
    first = make_period(school=school)
    return [make_seat(place=place, kind_code="tuba") for place in (first, first, make_period(school=school))]


def test_two_use_it_in_different_periods_and_need_none_of_their_own(school, tuba, seats):
    act = {"actor": make_director(school), "at": NOW}
    own, other = seats[0].period_id, seats[2].period_id
    assert share_instrument(instrument=tuba, seats={own: seats[0].pk, other: seats[2].pk}, **act) == 2
    assert {use.seat for use in uses_of(tuba)} == {seats[0], seats[2]}
    assert list(Seat.objects.unmet()) == [seats[1]]
    (need,) = need_of(school, today=TODAY)
    assert (need.needed, need.playing, need.free, need.short) == (3, 2, 0, 1)
    assert offers_of(school, {"tuba"}, today=TODAY) == {}
    assert share_instrument(instrument=tuba, seats={own: seats[0].pk}, **act) == 0
    assert share_instrument(instrument=tuba, seats={own: seats[1].pk, other: None}, **act | {"at": LATER}) == 2
    assert [use.seat for use in uses_of(tuba)] == [seats[1]]
    end_seats(place=seats[1].period, seats=[seats[1].pk], **act | {"at": LATER})
    assert uses_of(tuba) == []  # who left the class uses it no more
    assert share_instrument(instrument=tuba, seats={own: seats[0].pk}, **act | {"at": LATER}) == 1
    assert differences()[1] == []


def test_refused_it_changes_nothing(school, tuba, seats):
    said = {"instrument": tuba, "actor": make_director(school), "at": NOW}
    flute = make_seat(place=seats[0].period, kind_code="flute")
    for seat in (flute, seats[2], make_seat(kind_code="tuba")):
        refused(SeatRefusedError, seats={seats[0].period_id: seat.pk}, **said)
    share_instrument(seats={seats[0].period_id: seats[0].pk}, **said)
    second = make_ready_instrument(school=school, kind_code="tuba")
    assert tuba.asset_number in refused(
        SeatRefusedError, seats={seats[0].period_id: seats[0].pk}, **said | {"instrument": second}
    )
    make_loan(instrument=second, actor=said["actor"])
    assert "stays in the room" in refused(
        SeatRefusedError, seats={seats[0].period_id: seats[1].pk}, **said | {"instrument": second}
    )


def test_what_is_shared_is_not_lent_by_itself(school, tuba, seats):
    act = {"actor": make_director(school), "at": NOW}
    hand_out = make_hand_out(tuba, actor=act["actor"])
    share_instrument(instrument=tuba, seats={seats[0].period_id: seats[0].pk}, **act)
    offer = {"instrument": tuba, "student": seats[1].student, "due_on": TODAY + timedelta(days=9), "nonce": new_nonce(),
             "accessories": all_counts(tuba), "hand_out": hand_out, **act}  # fmt: skip
    words = makers.refused(lend_instrument, StaysInError, **offer)
    assert f"it is shared in {seats[0].period.name}. Lend another, or end its sharing first." in words
    assert list(without_shared(Instrument.objects.all())) == []
    share_instrument(instrument=tuba, seats={seats[0].period_id: None}, **act)
    assert lend_instrument(**offer).is_open
    assert differences()[1] == []


def test_the_database_knows_one_student_a_period_and_one_instrument_a_seat(school, tuba, seats):
    use = {"instrument": tuba, "seat": seats[0], "period": seats[0].period, "since": TODAY}
    SharedUse.objects.create(**use)
    other = make_ready_instrument(school=school, kind_code="tuba")
    for change in ({"seat": seats[1]}, {"instrument": other}):
        with pytest.raises(IntegrityError), transaction.atomic():
            SharedUse.objects.create(**use | change)


@pytest.mark.django_db(transaction=True)
def test_two_instruments_at_once_for_one_seat():
    school = make_school()
    seat = make_seat(place=make_period(school=school), kind_code="tuba")
    both = [make_ready_instrument(school=school, kind_code="tuba") for _ in range(2)]
    said = {"seats": {seat.period_id: seat.pk}, "actor": make_director(school), "at": NOW}
    answers = at_once(*(partial(share_instrument, instrument=one, **said) for one in both))
    assert len(went_well(answers)) == SharedUse.objects.count() == 1
