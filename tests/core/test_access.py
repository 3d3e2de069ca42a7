import pytest
from django.contrib.auth.hashers import get_hasher, make_password

from core import access
from core.access import RoleBackend
from core.models import User
from inventory.models import Role
from tests.factories import PASSWORD, make_school, make_user


@pytest.mark.django_db
def test_a_role_brings_its_permissions_and_no_others():
    director = make_user(Role.DIRECTOR, school=make_school())
    assert director.has_perm("loans.lend_instrument")
    assert not director.has_perm("inventory.manage_people")


@pytest.mark.django_db
def test_somebody_without_a_role_may_nothing():
    assert not any(make_user().has_perm(permission) for permission in access.TABLE)


@pytest.mark.django_db
def test_somebody_switched_off_may_nothing():
    gone = make_user(Role.ADMINISTRATOR, is_active=False)
    assert not any(gone.has_perm(permission) for permission in access.TABLE)


@pytest.mark.django_db
def test_a_permission_nobody_registered_is_an_error_and_not_a_no():
    with pytest.raises(KeyError):
        make_user(Role.DIRECTOR, school=make_school()).has_perm("inventory.no_such_thing")


def test_the_same_permission_with_other_roles_is_refused():
    with pytest.raises(ValueError, match="twice"):
        access.register({"inventory.view_instrument": ("tech",)})


@pytest.mark.parametrize("name", ["tech", "Tech", " TECH ", "\uff34ech"])
def test_one_name_is_counted_once_however_it_is_written(name):
    assert access.plain_username(name) == "tech"


@pytest.mark.django_db
def test_somebody_is_found_by_name_in_any_case(director):
    assert access.person_named("DIRECTOR") == director
    assert access.person_named("") is None


@pytest.mark.django_db
@pytest.mark.parametrize("password", ["wrong-password-here", "wro\u0301ng-password"])
def test_a_name_that_does_not_exist_takes_as_long_as_a_wrong_password(director, monkeypatch, password):
    """Counted, not timed: every time a password is hashed."""
    hasher, hashed = get_hasher(), []
    plain = type(hasher).encode
    monkeypatch.setattr(type(hasher), "encode", lambda self, *args: (hashed.append(1), plain(self, *args))[1])
    counts = []
    User.objects.create(username="left", is_active=False, password=director.password)
    User.objects.create(username="new", password=make_password(None))
    for username in ("director", "nobody", "left", "new"):
        hashed.clear()
        assert RoleBackend().authenticate(None, username=username, password=password) is None
        counts.append(len(hashed))
    assert len(set(counts)) == 1
    assert counts[0] > 0


@pytest.mark.django_db
def test_name_and_password_are_both_asked_for(director):
    backend = RoleBackend()
    assert backend.authenticate(None, username="DIRECTOR", password=PASSWORD) == director
    assert backend.authenticate(None, username="director") is None
    assert backend.authenticate(None, password=PASSWORD) is None
