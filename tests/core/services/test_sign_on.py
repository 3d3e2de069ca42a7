from __future__ import annotations

import pytest

from core.exceptions import RefusedError
from core.models import Event, SignOn, User
from core.services.sign_on import link_sign_on, person_signed_on, unlink_sign_on
from tests.factories import NOW, make_user

pytestmark = pytest.mark.django_db
ACCOUNT = {"issuer": "https://sign-on.district.example", "subject": "7"}


def test_a_link_holds_for_issuer_and_subject_together():
    person = make_user()
    link_sign_on(user=person, actor=person, at=NOW, **ACCOUNT)
    assert person_signed_on(**ACCOUNT) == person
    assert person_signed_on(**ACCOUNT | {"subject": "8"}) is None
    assert person_signed_on(**ACCOUNT | {"issuer": "https://elsewhere.example"}) is None
    User.objects.filter(pk=person.pk).update(is_active=False)
    assert person_signed_on(**ACCOUNT) is None


def test_linking_again_changes_nothing_and_writes_no_second_event():
    person = make_user()
    first = link_sign_on(user=person, actor=person, at=NOW, **ACCOUNT)
    assert link_sign_on(user=person, actor=person, at=NOW, **ACCOUNT) == first
    assert Event.objects.count() == 1


def test_one_account_for_one_person_and_one_person_for_one_account():
    person, other = make_user(), make_user()
    link_sign_on(user=person, actor=person, at=NOW, **ACCOUNT)
    with pytest.raises(RefusedError, match="somebody else"):
        link_sign_on(user=other, actor=other, at=NOW, **ACCOUNT)
    with pytest.raises(RefusedError, match="another account"):
        link_sign_on(user=person, actor=person, at=NOW, **ACCOUNT | {"subject": "8"})
    assert SignOn.objects.count() == 1


def test_no_event_holds_the_subject():
    person = make_user()
    link_sign_on(user=person, actor=person, at=NOW, issuer=ACCOUNT["issuer"], subject="dana@district.example")
    assert unlink_sign_on(user=person, actor=person, at=NOW)
    assert not unlink_sign_on(user=person, actor=person, at=NOW)
    assert "dana" not in str(list(Event.objects.values_list("before", "after")))
