from __future__ import annotations

import io

import pytest
from django.core.management import CommandError, call_command

from core.models import User
from inventory.models import District, Role, StaffRole
from tests.factories import make_district, make_user

pytestmark = pytest.mark.django_db
GOOD = "slide-grease-and-kindness"


@pytest.fixture
def run(monkeypatch):
    def start(password=GOOD, **options):
        monkeypatch.setattr("sys.stdin", io.StringIO(f"{password}\n"))
        out = io.StringIO()
        call_command("set_up", password_stdin=True, stdout=out, **options)
        return out.getvalue()

    return start


def test_an_empty_installation_gets_its_district_and_its_administrator(run):
    said = run(district="Alder Valley", administrator="adi", name="Adi Admin")
    person = User.objects.get()
    assert "adi administers Alder Valley" in said
    assert person.check_password(GOOD)
    assert StaffRole.objects.get(user=person).role == Role.ADMINISTRATOR
    assert District.objects.get().name == "Alder Valley"


def test_somebody_locked_out_gets_in_again(run):
    make_district(name="Alder Valley")
    person = make_user(username="adi", is_active=False)
    run(administrator="ADI")
    person.refresh_from_db()
    assert person.is_active
    assert person.check_password(GOOD)
    assert person.staff_roles.get().role == Role.ADMINISTRATOR
    assert District.objects.get().name == "Alder Valley"


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"administrator": "adi", "name": "Adi"}, "Name the district"),
        ({"administrator": "adi", "district": "Alder"}, "Name the person"),
        ({"administrator": "adi", "name": "Adi", "district": "Alder", "password": "short"}, "too short"),
        ({"administrator": "adi", "name": "Adi", "district": "Alder", "password": ""}, "Enter a password"),
    ],
    ids=["no district", "nobody's name", "weak password", "no password"],
)
def test_a_refusal_writes_nothing_and_ends_with_status_two(run, options, says):
    with pytest.raises(CommandError, match=says) as caught:
        run(**options)
    assert caught.value.returncode == 2
    assert not User.objects.exists()
    assert not District.objects.exists()


def test_two_passwords_that_differ_are_refused(monkeypatch):
    typed = iter([GOOD, "another-long-password"])
    monkeypatch.setattr("inventory.management.commands.set_up.getpass", lambda _: next(typed))
    with pytest.raises(CommandError, match="differ"):
        call_command("set_up", district="Alder", administrator="adi", name="Adi")
    assert not User.objects.exists()
