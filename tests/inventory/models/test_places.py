"""Schools, rooms and roles: what the database refuses whoever asks, and whom a school is shown to."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from inventory.models import District, Role, Room, School, StaffRole
from tests.factories import make_district, make_room, make_school, make_user

pytestmark = pytest.mark.django_db


def refused(act):
    with pytest.raises(IntegrityError), transaction.atomic():
        act()


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
