from __future__ import annotations

import pytest
from django.contrib.auth import SESSION_KEY
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from zeal import zeal_ignore

from core.models import User
from core.runs import BACKUP, note_begun, note_run
from inventory.models import District, Role, Room, School, StaffRole
from tests.factories import NOW, make_school, make_user

pytestmark = pytest.mark.django_db
SETTINGS, SCHOOLS, PEOPLE = (reverse(f"inventory:{name}") for name in ("settings", "schools", "people"))
GOOD = "slide-grease-and-kindness"
ODD = "“odd” <b>name</b> \u202e"


def district(**typed):
    return {
        "name": "Alder Valley",
        "asset_prefix": "av-",
        "asset_digits": "5",
        "next_asset_number": "41",
        "return_words": "Bring it to any office.",
    } | typed


def person_page(person):
    return reverse("inventory:person", args=[person.pk])


def act(name, person):
    return reverse(f"inventory:{name}", args=[person.pk])


def test_the_scheme_is_saved_and_previewed(client, administrator):
    client.force_login(administrator)
    page = client.post(SETTINGS, district(), follow=True).text
    assert "AV-00041" in page
    assert District.objects.get().name == "Alder Valley"


def test_a_number_never_goes_back_and_nothing_typed_is_lost(client, administrator):
    District.objects.update(next_asset_number=50)
    client.force_login(administrator)
    answer = client.post(SETTINGS, district(name=ODD))
    assert answer.status_code == 422
    assert "never reused" in answer.text
    assert answer.context["form"]["name"].value() == ODD
    assert District.objects.get().next_asset_number == 50


@pytest.mark.parametrize(
    ("public", "says"),
    [
        ("", "HORNBOOK_PUBLIC_ADDRESS"),
        ("http://horns.example", "camera and microphone need HTTPS"),
        ("https://horns.example", "It uses HTTPS"),
    ],
)
def test_the_page_says_what_the_address_allows(client, administrator, settings, public, says):
    settings.PUBLIC_ADDRESS = public
    client.force_login(administrator)
    assert says in client.get(SETTINGS).text


def test_the_page_says_when_the_last_backup_was_and_whether_one_runs_or_failed(
    client, administrator, settings, tmp_path
):
    """Common practice, no source."""
    settings.RUNS_FILE = tmp_path / "runs.json"
    client.force_login(administrator)
    assert "None yet" in client.get(SETTINGS).text
    note_run(BACKUP, is_done=True, at=NOW)
    page = client.get(SETTINGS).text
    assert timezone.localtime(NOW).strftime("%b %-d, %Y, %-I:%M") in page
    assert "still running" not in page
    note_begun(BACKUP, at=timezone.now())
    assert "and is still running" in client.get(SETTINGS).text
    note_run(BACKUP, is_done=False, at=timezone.now())
    assert "failed. The server" in client.get(SETTINGS).text


def test_the_page_tells_where_figures_come_from(client, administrator):
    client.force_login(administrator)
    page = client.get(SETTINGS).text
    assert "common practice" in page
    assert "shop default" in page


def test_a_school_is_added_and_then_its_rooms(client, administrator):
    client.force_login(administrator)
    answer = client.post(SCHOOLS, {"code": "elm2", "name": "Elm Two"}, follow=True)
    assert answer.context["school"].code == "ELM2"
    room = reverse("inventory:school", args=["ELM2"])
    assert client.post(room, {"room": "Band room"}).status_code == 302
    assert client.post(room, {"room": " "}).status_code == 422
    assert [row.name for row in Room.objects.all()] == ["Band room"]
    client.post(room, {"name": "Elm the Second", "phone": "555 0100", "code": "HACK"})
    assert (School.objects.get(name="Elm the Second").code) == "ELM2"


@pytest.mark.parametrize("code", ["ELM", "elm", "no good", "x" * 9])
def test_a_code_that_does_not_hold_is_refused(client, administrator, code):
    client.force_login(administrator)
    answer = client.post(SCHOOLS, {"code": code, "name": ODD})
    assert answer.status_code == 422
    assert answer.context["form"]["name"].value() == ODD
    assert School.objects.count() == 1


def test_somebody_is_added_with_a_first_role_and_a_password(client, administrator, school):
    client.force_login(administrator)
    typed = {"name": "New Person", "username": "newbie", "password": GOOD}
    client.post(PEOPLE, typed | {"role": Role.DIRECTOR, "school": school.pk})
    person = User.objects.get(username="newbie")
    assert StaffRole.objects.get(user=person).school == school
    assert person.check_password(GOOD)


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"username": "ADMINISTRATOR"}, "is taken"),
        ({"password": "short"}, "too short"),
        ({"role": Role.DIRECTOR}, "needs a school"),
        ({"name": ""}, "required"),
    ],
    ids=["name taken", "weak password", "director of nowhere", "no name"],
)
def test_a_person_refused_is_not_there(client, administrator, typed, says):
    client.force_login(administrator)
    given = {"name": "New", "username": "newbie", "password": GOOD, "role": Role.AUDITOR} | typed
    answer = client.post(PEOPLE, given)
    assert answer.status_code == 422
    assert says in answer.text
    assert not User.objects.filter(username="newbie").exists()
    assert GOOD not in answer.text


def test_people_cost_the_same_for_two_and_for_twenty(client, administrator):
    client.force_login(administrator)

    def cost():
        with CaptureQueriesContext(connection) as context:
            client.get(PEOPLE)
        return len(context)

    make_user(Role.TECH)
    first = cost()
    for _ in range(18):
        make_user(Role.TECH, school=make_school())
    assert cost() == first <= 9


def test_people_are_found_by_name(client, administrator):
    make_user(name="Zelda Zink")
    client.force_login(administrator)
    assert "Zelda" in client.get(f"{PEOPLE}?q=zink").text
    assert "Zelda" not in client.get(f"{PEOPLE}?q=nobody").text


def test_roles_are_given_and_taken(client, administrator, school):
    person = make_user(name=ODD)
    client.force_login(administrator)
    page = client.post(act("give-role", person), {"role": Role.TECH, "school": school.pk}, follow=True).text
    assert "Repair tech at Elm Street Middle" in page
    assert "<b>name" not in page
    held = StaffRole.objects.get(user=person)
    client.post(act("take-role", person), {"role": held.pk})
    assert not StaffRole.objects.filter(user=person).exists()
    assert client.post(act("give-role", person), {"role": Role.DIRECTOR}).status_code == 422


def test_the_last_administrator_stays(client, administrator):
    held = StaffRole.objects.get(user=administrator)
    client.force_login(administrator)
    answer = client.post(act("take-role", administrator), {"role": held.pk})
    assert answer.status_code == 422
    assert "Somebody must remain administrator" in answer.text


def test_a_role_of_somebody_else_is_not_taken_by_this_page(client, administrator, tech):
    client.force_login(administrator)
    theirs = StaffRole.objects.get(user=tech)
    assert client.post(act("take-role", administrator), {"role": theirs.pk}).status_code == 404


def test_a_new_password_ends_the_sessions_under_the_old(client, administrator, tech):
    other = type(client)()
    other.force_login(tech)
    client.force_login(administrator)
    assert client.post(act("password", tech), {"password": "short"}).status_code == 422
    assert client.post(act("password", tech), {"password": GOOD}).status_code == 302
    tech.refresh_from_db()
    assert tech.check_password(GOOD)
    with zeal_ignore():  # the session is read again when it is thrown away
        assert other.get(reverse("inventory:list")).status_code == 302
    assert SESSION_KEY not in other.session


def test_somebody_kept_out_is_out_at_once(client, administrator, tech):
    other = type(client)()
    other.force_login(tech)
    client.force_login(administrator)
    client.post(act("active", tech), {"active": "0"})
    assert other.get(reverse("inventory:list")).status_code == 302
    client.post(act("active", tech), {"active": "1"})
    tech.refresh_from_db()
    assert tech.is_active


def test_nobody_keeps_themself_out(client, administrator):
    client.force_login(administrator)
    assert client.post(act("active", administrator), {"active": "0"}).status_code == 422
    assert "Deactivate" not in client.get(person_page(administrator)).text


def test_a_name_is_corrected(client, administrator, tech):
    client.force_login(administrator)
    assert client.post(person_page(tech), {"name": "", "email": ""}).status_code == 422
    client.post(person_page(tech), {"name": "Terry T. Tech", "email": "t@school.example"})
    tech.refresh_from_db()
    assert tech.name == "Terry T. Tech"
