from __future__ import annotations

from datetime import date

import pytest

from core.events import TEXTS
from core.models import Event, Revision
from inventory.exceptions import NumberTakenError, RefusedError
from inventory.models import Accessory, Donation, Instrument, Tag
from inventory.rules.facts import Owed
from inventory.services.registering import (
    TOKEN_LENGTH,
    TOKEN_LETTERS,
    change_instrument,
    issue_tag,
    new_token,
    next_asset_number,
    options_of,
    record_donation,
    register_instrument,
    revoke_tag,
)
from tests.factories import NOW, make_district, make_instrument, make_room, make_school

pytestmark = pytest.mark.django_db


def test_a_token_is_sixteen_letters_that_nobody_mistakes():
    token = new_token()
    assert len(token) == TOKEN_LENGTH == 16
    assert set(token) <= set(TOKEN_LETTERS)
    assert not set("01OILU") & set(TOKEN_LETTERS)


def test_numbers_go_up_and_step_over_one_that_is_taken():
    make_district(asset_prefix="N-", asset_digits=3, next_asset_number=7)
    make_instrument(asset_number="N-008")
    assert [next_asset_number(), next_asset_number()] == ["N-007", "N-009"]


def test_an_instrument_comes_with_accessories_a_tag_and_a_place(school, director):
    instrument = register_instrument(kind_code="trumpet", school=school, actor=director, at=NOW, maker="Plain")
    assert [row.code for row in instrument.accessories.all()] == [spec.code for spec in instrument.kind.accessories]
    assert Tag.objects.live().get().instrument == instrument
    assert instrument.custodies.get().whereabouts == "in_store"
    assert instrument.readiness == "stays_in"
    assert Event.objects.filter(act="registered", thread=instrument.thread).count() == 1


@pytest.mark.parametrize(
    ("second", "error"),
    [
        ({"asset_number": "x-1"}, NumberTakenError),
        ({"maker": "plain", "serial": "77"}, NumberTakenError),
        ({"kind_code": "kazoo"}, RefusedError),
        ({"options": {"third_slide": "seven"}}, RefusedError),
        ({"year_made": 1066}, RefusedError),
    ],
    ids=["number taken", "serial taken within the maker", "no such kind", "no such choice", "year out of range"],
)
def test_a_refused_instrument_leaves_nothing_behind(school, second, error):
    make_instrument(school=school, asset_number="X-1", maker="Plain", serial="77")
    counts = [model.objects.count() for model in (Instrument, Accessory, Tag, Event)]
    with pytest.raises(error):
        register_instrument(**({"kind_code": "trumpet", "school": school, "actor": None, "at": NOW} | second))
    assert [model.objects.count() for model in (Instrument, Accessory, Tag, Event)] == counts


def test_a_room_of_another_school_is_refused(school, director):
    with pytest.raises(RefusedError, match="is not a room of"):
        make_instrument(school=school, room=make_room())
    instrument = make_instrument(school=school)
    with pytest.raises(RefusedError, match="is not a room of"):
        change_instrument(instrument=instrument, actor=director, at=NOW, room=make_room())


def test_a_new_room_of_a_refused_instrument_is_not_there(school):
    make_instrument(school=school, asset_number="X-1", new_room="Loft")
    with pytest.raises(NumberTakenError):
        make_instrument(school=school, asset_number="X-1", new_room="Cellar")
    assert [room.name for room in school.rooms.all()] == ["Loft"]


def test_many_instruments_without_a_serial_are_no_duplicates(school):
    for _ in range(2):
        make_instrument(school=school, maker="Plain", serial="")
    assert Instrument.objects.count() == 2


def test_the_same_form_twice_is_one_instrument(school):
    first, second = (make_instrument(school=school, serial="", once="form:a") for _ in range(2))
    other = make_instrument(school=school, serial="", once="form:b")
    assert first == second != other


def test_options_take_defaults_and_name_what_is_wrong():
    assert options_of(kind_code="trumpet", given={}) == {"third_slide": "ring"}
    with pytest.raises(RefusedError, match="choose one of ring, trigger, none"):
        options_of(kind_code="trumpet", given={"third_slide": "rope"})


def test_a_correction_tells_which_columns_changed(school, director):
    instrument = make_instrument(school=school, maker="Plane")
    changed = change_instrument(instrument=instrument, actor=director, at=NOW, maker="Plain", notes="secret")
    event = Event.objects.get(act="corrected")
    assert (changed.maker, changed.notes) == ("Plain", "secret")
    assert (set(event.before[TEXTS]), set(event.after[TEXTS])) == ({"maker", "notes"}, {"maker", "notes"})
    texts = {row.column: (row.before, row.after) for row in Revision.objects.filter(number=event.number)}
    assert texts == {"maker": ("Plane", "Plain"), "notes": ("", "secret")}


def test_the_options_of_a_lost_kind_outlive_a_correction(school, director):
    instrument = make_instrument(school=school)
    Instrument.objects.update(kind_code="horn_alto", options={"key": "Eb"})
    changed = change_instrument(instrument=instrument, actor=director, at=NOW, maker="Plain", options={})
    assert (changed.maker, changed.options) == ("Plain", {"key": "Eb"})
    assert set(Event.objects.get(act="corrected").after[TEXTS]) == {"maker"}


def test_a_correction_to_a_taken_serial_is_refused(school, director):
    make_instrument(school=school, maker="Plain", serial="1")
    instrument = make_instrument(school=school, maker="Plain", serial="2")
    with pytest.raises(NumberTakenError):
        change_instrument(instrument=instrument, actor=director, at=NOW, serial="1")
    instrument.refresh_from_db()
    assert instrument.serial == "2"


def test_what_services_keep_cannot_be_typed_in(school, director):
    with pytest.raises(TypeError, match="whereabouts"):
        change_instrument(instrument=make_instrument(school=school), actor=director, at=NOW, whereabouts="gone")


def test_a_gift_is_kept_without_a_name_in_the_event(school, director):
    instrument = make_instrument(school=school)
    for name in ("A Giver", "B Giver"):
        record_donation(
            instrument=instrument,
            donor_name=name,
            received_on=date(2026, 9, 1),
            tax_form_signed_on=date(2026, 9, 9),
            actor=director,
            at=NOW,
        )
    assert Donation.objects.get().donor_name == "B Giver"
    assert "Giver" not in str(list(Event.objects.values_list("before", "after")))


def test_a_new_tag_revokes_the_one_before_and_leaves_the_mouthpiece_its_own(school, director):
    instrument = make_instrument(school=school)
    first, piece = Tag.objects.get(), instrument.accessories.first()
    own = issue_tag(instrument=instrument, accessory=piece, actor=director, at=NOW)
    second = issue_tag(instrument=instrument, actor=director, at=NOW, because="worn")
    first.refresh_from_db()
    assert (first.revoked_at, first.revoked_because) == (NOW, "worn")
    assert set(Tag.objects.live()) == {own, second}


def test_a_tag_for_somebody_elses_mouthpiece_is_refused(school, director):
    instrument, other = make_instrument(school=school), make_instrument(school=school)
    with pytest.raises(RefusedError, match="does not belong to"):
        issue_tag(instrument=instrument, accessory=other.accessories.first(), actor=director, at=NOW)
    assert Tag.objects.filter(accessory__isnull=False).count() == 0


def test_a_tag_is_revoked_once(school, director):
    make_instrument(school=school)
    for because in ("stolen", "again"):
        revoke_tag(tag=Tag.objects.get(), actor=director, at=NOW, because=because)
    assert Tag.objects.get().revoked_because == "stolen"
    assert Event.objects.filter(act="tag_revoked").count() == 1


def test_another_school_may_use_the_same_serial_of_another_maker():
    make_instrument(school=make_school(), maker="Plain", serial="5")
    assert make_instrument(school=make_school(), maker="Union", serial="5").serial == "5"


@pytest.mark.parametrize(
    ("acquired_by", "owed"),
    [("bought", set()), ("transfer", {Owed.HYGIENE}), ("gift", set(Owed)), ("unknown", set(Owed))],
)
def test_what_nobody_saw_cleaned_owes_its_cleaning_from_the_start(school, acquired_by, owed):
    assert make_instrument(school=school, acquired_by=acquired_by).owed == owed
    assert make_instrument(school=school, acquired_by=acquired_by, kind_code="bass_drum_concert").owed == set()
