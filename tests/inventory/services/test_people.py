from __future__ import annotations

import pytest

from core.models import Event, User
from core.services.accounts import set_first_password
from inventory.exceptions import NumberTakenError, RefusedError
from inventory.models import District, Role, Room, School, StaffRole
from inventory.services.people import (
    add_person,
    add_room,
    add_school,
    change_person,
    change_school,
    give_role,
    remove_role,
    set_active,
    set_up_district,
)
from tests.factories import NOW, make_district, make_school, make_user

pytestmark = pytest.mark.django_db
GOOD = "slide-grease-and-kindness"


def test_a_district_is_named_once_and_changed_after(administrator):
    set_up_district(actor=None, at=NOW, name="Alder Valley", asset_prefix="AV-")
    set_up_district(actor=administrator, at=NOW, name="Alder Valley Schools")
    assert (District.objects.get().name, District.objects.get().asset_prefix) == ("Alder Valley Schools", "AV-")


@pytest.mark.parametrize("fields", [{"next_asset_number": 40}, {"asset_prefix": "av_"}, {"asset_digits": 2}], ids=str)
def test_a_scheme_that_does_not_hold_is_refused(administrator, fields):
    make_district(next_asset_number=41)
    District.objects.update(next_asset_number=41)
    with pytest.raises(RefusedError):
        set_up_district(actor=administrator, at=NOW, **fields)
    assert District.objects.get().next_asset_number == 41
    assert not Event.objects.exists()


def test_a_school_has_its_code_alone(administrator):
    add_school(code=" elm2 ", name="Elm", actor=administrator, at=NOW)
    with pytest.raises(NumberTakenError, match="ELM2"):
        add_school(code="ELM2", name="Other", actor=administrator, at=NOW)
    with pytest.raises(RefusedError):
        add_school(code="Elm Street", name="Other", actor=administrator, at=NOW)
    assert School.objects.filter(code="ELM2").count() == 1


def test_a_school_keeps_its_code_when_it_is_renamed(administrator):
    school = make_school(code="KEEP")
    reached = {"phone": "555 0100", "email": "band@elm.example", "address": " 12 Elm Street\nSpringfield "}
    changed = change_school(school=school, name=" New ", actor=administrator, at=NOW, **reached)
    assert (changed.code, changed.name, changed.phone) == ("KEEP", "New", "555 0100")
    assert (changed.email, changed.address) == ("band@elm.example", "12 Elm Street\nSpringfield")


def test_the_same_room_twice_is_one_room(school, administrator):
    first = add_room(school=school, name="Band  room", actor=administrator, at=NOW)
    assert add_room(school=school, name="band room", actor=administrator, at=NOW) == first
    assert Room.objects.get().name == "Band room"


def test_a_room_without_a_name_is_refused(school, administrator):
    with pytest.raises(RefusedError):
        add_room(school=school, name="  ", actor=administrator, at=NOW)
    assert not Room.objects.exists()


def test_a_person_comes_with_a_first_role_or_not_at_all(school, administrator):
    person = add_person(
        username="new",
        name="New Person",
        password=GOOD,
        actor=administrator,
        at=NOW,
        first_role={"role": Role.DIRECTOR, "school": school},
    )
    assert person.check_password(GOOD)
    assert StaffRole.objects.get(user=person).school == school
    with pytest.raises(RefusedError):
        add_person(username="b", name="B", actor=administrator, at=NOW, first_role={"role": "king", "school": None})
    assert not User.objects.filter(username="b").exists()


@pytest.mark.parametrize("password", ["short", "password1234", "999999999999999", "aaaaaaaaaaaa"])
def test_a_weak_password_is_refused(administrator, password):
    with pytest.raises(RefusedError):
        add_person(username="weak", name="Weak", password=password, actor=administrator, at=NOW)
    with pytest.raises(RefusedError):
        set_first_password(user=administrator, password=password, actor=administrator, at=NOW)
    assert not User.objects.filter(username="weak").exists()


def test_without_a_password_nobody_logs_in(administrator):
    assert not add_person(username="n", name="N", actor=administrator, at=NOW).has_usable_password()


def test_a_log_in_name_is_taken_in_any_case(administrator):
    add_person(username="dana", name="Dana", actor=administrator, at=NOW)
    with pytest.raises(NumberTakenError):
        add_person(username="DANA", name="Other", actor=administrator, at=NOW)


def test_no_event_holds_a_name(administrator):
    person = add_person(username="quiet", name="Quiet Person", actor=administrator, at=NOW, email="q@school.example")
    change_person(user=person, name="Quieter Person", email="", actor=administrator, at=NOW)
    set_first_password(user=person, password=GOOD, actor=administrator, at=NOW)
    assert User.objects.get(username="quiet").name == "Quieter Person"
    told = str(list(Event.objects.values_list("before", "after")))
    assert "Quiet" not in told
    assert "example" not in told


def test_no_event_holds_free_words_about_places(school, administrator):
    make_district()
    set_up_district(actor=administrator, at=NOW, contact_phone="555 0142", return_words="Ask Quiet Person.")
    change_school(school=school, name="Elm", phone="555 0143", actor=administrator, at=NOW)
    add_room(school=school, name="Quiet Person's cabinet", actor=administrator, at=NOW)
    told = str(list(Event.objects.values_list("before", "after")))
    assert "Quiet" not in told
    assert "555" not in told


def test_an_administrator_is_for_the_whole_district(school, administrator):
    with pytest.raises(RefusedError, match="whole district"):
        give_role(user=administrator, role=Role.ADMINISTRATOR, school=school, actor=administrator, at=NOW)
    assert StaffRole.objects.filter(user=administrator).count() == 1


def test_a_deactivated_administrator_does_not_count_as_another(administrator):
    make_user(Role.ADMINISTRATOR, is_active=False)
    with pytest.raises(RefusedError, match="remain administrator"):
        remove_role(held=administrator.staff_roles.get(), actor=administrator, at=NOW)
    assert administrator.staff_roles.exists()


def test_an_administrator_without_a_password_does_not_count_as_another(administrator):
    other = add_person(username="n", name="N", actor=administrator, at=NOW)
    give_role(user=other, role=Role.ADMINISTRATOR, actor=administrator, at=NOW)
    with pytest.raises(RefusedError, match="remain administrator"):
        remove_role(held=administrator.staff_roles.get(), actor=administrator, at=NOW)


def test_the_last_administrator_is_not_deactivated_by_one_who_is_one_no_more(administrator):
    other = make_user(Role.ADMINISTRATOR)
    set_active(user=other, is_active=False, actor=administrator, at=NOW)
    with pytest.raises(RefusedError, match="remain administrator"):
        set_active(user=administrator, is_active=False, actor=other, at=NOW)
    assert User.objects.get(pk=administrator.pk).is_active


def test_who_is_no_administrator_is_deactivated_though_none_can_log_in(administrator, tech):
    User.objects.filter(pk=administrator.pk).update(password="!")
    set_active(user=tech, is_active=False, actor=administrator, at=NOW)
    tech.refresh_from_db()
    assert not tech.is_active


def test_nobody_locks_themself_out(administrator):
    with pytest.raises(RefusedError):
        set_active(user=administrator, is_active=False, actor=administrator, at=NOW)
    administrator.refresh_from_db()
    assert administrator.is_active


def test_somebody_kept_out_comes_back(administrator, tech):
    for is_active in (False, False, True):
        set_active(user=tech, is_active=is_active, actor=administrator, at=NOW)
        tech.refresh_from_db()
        assert tech.is_active is is_active
    assert list(Event.objects.values_list("act", flat=True)) == ["person_kept_out", "person_let_in"]


def test_a_role_is_given_once(school, administrator):
    person = make_user()
    for _ in range(2):
        give_role(user=person, role=Role.TECH, school=school, actor=administrator, at=NOW)
        give_role(user=person, role=Role.AUDITOR, actor=administrator, at=NOW)
    assert StaffRole.objects.filter(user=person).count() == 2
    assert Event.objects.filter(act="role_given").count() == 2


def test_a_director_directs_at_a_school(administrator):
    with pytest.raises(RefusedError, match="needs a school"):
        give_role(user=make_user(), role=Role.DIRECTOR, actor=administrator, at=NOW)


def test_the_last_administrator_stays_one(administrator):
    held = StaffRole.objects.get(user=administrator)
    with pytest.raises(RefusedError, match="administrator"):
        remove_role(held=held, actor=administrator, at=NOW)
    make_user(Role.ADMINISTRATOR)
    remove_role(held=held, actor=administrator, at=NOW)
    assert not StaffRole.objects.filter(user=administrator).exists()
