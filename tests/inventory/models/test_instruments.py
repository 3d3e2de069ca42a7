"""Instruments, their tags, what goes with them and where they were: what the database refuses whoever asks."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from inventory.models import Accessory, Custody, Instrument, Photo, Readiness, Tag, Whereabouts
from inventory.models.instruments import photo_path
from tests.database import refused
from tests.factories import NOW, TODAY, make_instrument, make_ready_instrument, make_room

pytestmark = pytest.mark.django_db


def copy_of(instrument, **changes):
    fields = {
        "asset_number": "X-1",
        "kind_code": "trumpet",
        "school": instrument.school,
        "registered_at": NOW,
    } | changes
    return Instrument.objects.create(**fields)


def test_a_serial_number_is_once_in_a_maker_however_the_maker_is_written():
    instrument = make_instrument(maker="Vale", serial="77")
    refused(lambda: copy_of(instrument, maker="VALE", serial="77"))
    copy_of(instrument, maker="Other Works", serial="77")
    copy_of(instrument, asset_number="X-2", maker="Vale", serial="")
    copy_of(instrument, asset_number="X-3", maker="Vale", serial="")


def test_a_number_is_given_once_even_after_the_instrument_is_gone():
    instrument = make_instrument()
    Instrument.objects.filter(pk=instrument.pk).update(whereabouts=Whereabouts.GONE)
    refused(lambda: copy_of(instrument, asset_number=instrument.asset_number))
    assert not Instrument.objects.present().exists()


def test_nothing_costs_less_than_nothing():
    instrument = make_instrument()
    refused(lambda: copy_of(instrument, acquisition_cost_amount=Decimal(-1)))


def test_a_share_of_federal_money_is_a_percentage():
    instrument = make_instrument()
    instrument.federal_percent = Decimal(101)
    with pytest.raises(ValidationError, match="100"):
        instrument.full_clean()


def test_instruments_are_narrowed_as_far_as_something_is_named():
    room = make_room(name="Cage")
    instrument, flute = (
        make_instrument(school=room.school, room=room),
        make_instrument(school=room.school, kind_code="flute"),
    )
    other = make_instrument()
    rows = Instrument.objects.all()
    assert set(rows.of(school=None, room=None, kind_code="")) == {instrument, flute, other}
    assert set(rows.of(school=room.school_id, room=None, kind_code="")) == {instrument, flute}
    assert set(rows.of(school=None, room=None, kind_code="trumpet")) == {instrument, other}
    assert set(rows.of(school=room.school_id, room=room.pk, kind_code="trumpet")) == {instrument}
    assert not rows.of(school=room.school_id, room=room.pk, kind_code="flute").exists()


def test_what_is_ready_today_is_not_when_its_inspection_has_aged_out():
    instrument = make_ready_instrument()
    make_instrument()
    assert instrument.readiness == Readiness.MAY_GO_OUT
    last_day = instrument.ready_until
    assert last_day > TODAY
    assert list(Instrument.objects.ready(today=last_day)) == [instrument]
    after = last_day + timedelta(days=1)
    assert not Instrument.objects.ready(today=after).exists()


def test_an_instrument_has_one_live_tag_and_each_accessory_too():
    instrument = make_instrument()
    live = instrument.tags.live().filter(accessory=None)
    Tag.objects.filter(pk__in=live).update(revoked_at=NOW)
    first = Tag.objects.create(token="A", instrument=instrument, issued_at=NOW)
    refused(lambda: Tag.objects.create(token="B", instrument=instrument, issued_at=NOW))
    piece = Accessory.objects.create(instrument=instrument, code="spare", name="Spare mouthpiece")
    Tag.objects.create(token="C", instrument=instrument, accessory=piece, issued_at=NOW)
    refused(lambda: Tag.objects.create(token="D", instrument=instrument, accessory=piece, issued_at=NOW))
    Tag.objects.filter(pk=first.pk).update(revoked_at=NOW)
    Tag.objects.create(token="E", instrument=instrument, issued_at=NOW)


@pytest.mark.parametrize(("present", "is_short"), [(None, False), (2, False), (1, True), (0, True)])
def test_an_accessory_never_counted_is_not_short(present, is_short):
    assert Accessory(name="Cork grease", expected=2, present=present).is_short is is_short


def test_an_instrument_is_in_one_place_at_a_time():
    instrument = make_instrument()
    here = instrument.custodies.get(until=None)
    refused(lambda: Custody.objects.create(instrument=instrument, whereabouts=Whereabouts.ON_BENCH, since=NOW))
    refused(lambda: Custody.objects.filter(pk=here.pk).update(until=here.since - timedelta(seconds=1)))
    Custody.objects.filter(pk=here.pk).update(until=NOW)
    Custody.objects.create(instrument=instrument, whereabouts=Whereabouts.ON_BENCH, since=NOW)


def test_an_instrument_is_shown_to_its_school_only(school, director, stranger):
    instrument = make_instrument(school=school)
    assert instrument in Instrument.objects.visible_to(director)
    assert instrument not in Instrument.objects.visible_to(stranger)


def test_a_photo_is_kept_by_its_content_so_that_its_name_tells_nothing():
    photo = Photo(sha256="ab" + "0" * 62)
    assert photo_path(photo, "Riley in 6B.jpg") == f"photos/ab/ab{'0' * 62}.jpg"
    assert photo_path(photo, "small.jpg") == f"photos/ab/ab{'0' * 62}-small.jpg"
