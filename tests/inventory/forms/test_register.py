from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.forms.register import DonationForm, InstrumentForm, RegisterFilterForm, kind_meant
from inventory.selectors.register import Wanted
from tests.factories import make_room, make_school


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        ({"kind": "tuba"}, "tuba"),
        ({"find": "TPT"}, "trumpet"),
        ({"kind": "clarinet_bass", "find": "clar"}, "clarinet_bass"),
        ({"kind": "tuba", "find": "bari sax"}, "sax_baritone"),
        ({"find": "drum"}, None),
        ({"kind": "kazoo"}, None),
        ({"kind": "tuba", "find": "kazoo"}, None),
        ({}, None),
    ],
    ids=str,
)
def test_the_kind_is_the_one_tapped_unless_later_words_mean_another(data, kind):
    found = kind_meant(data)
    assert (found.code if found else None) == kind


@pytest.mark.django_db
def test_a_filter_takes_what_it_knows_and_drops_the_rest(school):
    schools = [school, make_school()]
    form = RegisterFilterForm(
        {"q": " tuba ", "kind": "kazoo", "school": str(school.pk), "verdict": "x"}, schools=schools
    )
    assert form.wanted() == Wanted(q="tuba", school=school.pk)


@pytest.mark.django_db
def test_a_school_is_asked_for_only_where_there_are_several(school):
    one = InstrumentForm({}, schools=[school], kind=None)
    assert one.is_valid()
    assert one.columns()["school"] == school
    several = InstrumentForm({}, schools=[school, make_school()], kind=None)
    assert "school" in several.errors


@pytest.mark.django_db
def test_rooms_of_other_schools_are_no_choice(school):
    form = InstrumentForm({"room": make_room().pk}, schools=[school], kind=None)
    assert "room" in form.errors


@pytest.mark.django_db
def test_a_room_must_be_of_the_school_chosen(school):
    room = make_room()
    form = InstrumentForm({"school": school.pk, "room": room.pk}, schools=[school, room.school], kind=None)
    assert "is a room of" in form.errors["room"][0]


@pytest.mark.django_db
def test_options_follow_the_kind(school):
    kind = catalog().kinds["euphonium"]
    form = InstrumentForm({"option-valves": "3"}, schools=[school], kind=kind)
    assert [field.name for field in form.options] == [f"option-{option.code}" for option in kind.options]
    assert form.is_valid()
    assert form.columns()["options"] == {"valves": "3"}


@pytest.mark.django_db
def test_what_was_typed_under_more_shows_it_unfolded(school):
    assert not InstrumentForm({"maker": "Plain"}, schools=[school], kind=None).is_more_wanted
    assert InstrumentForm({"model": "4"}, schools=[school], kind=None).is_more_wanted


def test_a_gift_has_no_field_for_a_value():
    assert not [name for name in DonationForm.base_fields if "amount" in name or "value" in name]


def test_a_gift_needs_a_giver_and_a_day():
    assert set(DonationForm({}).errors) == {"donor_name", "received_on"}
