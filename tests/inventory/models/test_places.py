"""Schools, rooms and roles: what the database refuses whoever asks, and whom a school is shown to."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import ValidationError

from core.access import TABLE
from inventory.models import District, Instrument, Photo, PlayTest, Role, Room, School, SchoolRowsQuerySet, StaffRole
from tests.database import refused
from tests.factories import make_district, make_instrument, make_room, make_school, make_user

pytestmark = pytest.mark.django_db


def test_there_is_one_district():
    make_district()
    refused(lambda: District.objects.create(pk=2, name="Another"))


@pytest.mark.parametrize(("code", "fits"), [("ELM", True), ("E2", True), ("E", False), ("elm", False), ("E-M", False)])
def test_a_school_has_a_code_of_capitals_and_digits(code, fits):
    school = School(code=code, name="Elm Street")
    if fits:
        school.full_clean()
    else:
        with pytest.raises(ValidationError, match="capitals or digits"):
            school.full_clean()


def test_a_school_is_shown_to_who_works_there_and_to_the_district(school, director, auditor, stranger):
    assert school in School.objects.visible_to(director)
    assert school in School.objects.visible_to(auditor)
    assert school not in School.objects.visible_to(stranger)


def test_a_room_has_its_name_once_in_a_school():
    room = make_room(name="Band room")
    refused(lambda: Room.objects.create(school=room.school, name="Band room"))
    Room.objects.create(school=make_school(), name="Band room")


def test_a_role_is_held_once_at_a_school_and_once_in_the_district():
    school = make_school()
    person = make_user(Role.TECH, school=school)
    refused(lambda: StaffRole.objects.create(user=person, role=Role.TECH, school=school))
    StaffRole.objects.create(user=person, role=Role.TECH)
    refused(lambda: StaffRole.objects.create(user=person, role=Role.TECH))


def test_a_director_directs_a_school():
    person = make_user()
    refused(lambda: StaffRole.objects.create(user=person, role=Role.DIRECTOR))


def test_rows_say_what_they_are():
    school = make_school(name="Elm Street")
    person = make_user(Role.DIRECTOR, Role.TECH, school=school)
    person.staff_roles.create(role=Role.AUDITOR)
    assert {str(role) for role in person.staff_roles.all()} == {
        "Director · Elm Street",
        "Repair tech · Elm Street",
        "District auditor · district",
    }
    assert str(make_district()) == "Test District"


KINDS = [model for model in apps.get_models() if isinstance(model._default_manager.all(), SchoolRowsQuerySet)]


def school_at_the_end(model, way):
    """The model that a lookup leads to, field by field."""
    for name in way.split("__"):
        model = model if name == "pk" else model._meta.get_field(name).related_model
    return model


def test_rows_of_both_upper_rooms_and_of_this_one_are_meant():
    assert {model._meta.app_label for model in KINDS} == {"inventory", "repairs", "loans"}
    assert {School, Instrument, Photo, PlayTest} <= set(KINDS)


@pytest.mark.parametrize("model", KINDS, ids=lambda model: model.__name__)
def test_every_kind_says_its_way_to_a_school_and_who_may_look(model):
    rows = model.objects.all()
    assert school_at_the_end(model, rows.way_to_school) is School
    assert rows.view_permission in TABLE


@pytest.mark.parametrize("model", KINDS, ids=lambda model: model.__name__)
def test_nobody_reaches_nothing(model):
    make_instrument()
    assert not model.objects.visible_to(AnonymousUser()).exists()
    assert not model.objects.visible_to(make_user()).exists()


def test_a_right_at_one_school_is_none_at_the_next():
    """Who directs one school and audits another may look at both lists and correct one."""
    ours, next_door = make_school(), make_school()
    user = make_user(Role.DIRECTOR, school=ours)
    StaffRole.objects.create(user=user, role=Role.AUDITOR, school=next_door)
    instruments = {make_instrument(school=school) for school in (ours, next_door)}
    make_instrument()
    assert set(Instrument.objects.visible_to(user)) == instruments
    may_correct = Instrument.objects.visible_to(user, "inventory.change_instrument")
    assert [instrument.school for instrument in may_correct] == [ours]


def test_a_role_without_a_school_holds_everywhere():
    instruments = {make_instrument(), make_instrument()}
    assert set(Instrument.objects.visible_to(make_user(Role.AUDITOR))) == instruments


def test_a_permission_that_nobody_knows_is_an_error():
    with pytest.raises(KeyError, match="sing"):
        Instrument.objects.visible_to(make_user(Role.TECH), "inventory.sing")


def test_the_first_rows_are_the_same_found_by_key_first(school):
    instruments = [make_instrument(school=school, asset_number=f"TV-{number}") for number in (1003, 1001, 1002)]
    first = Instrument.objects.order_by("-asset_number")[:2]
    assert list(first.keys_first().for_table()) == list(first) == [instruments[0], instruments[2]]
