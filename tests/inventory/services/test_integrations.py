"""Tokens of other programs: shown once, replaced by name, revoked, and logged once a day when they read."""

from __future__ import annotations

from datetime import timedelta

import pytest

from core.exceptions import RefusedError
from core.models import Event, User
from inventory.models import Integration, Scope
from inventory.services.integrations import integration_of, note_reading, revoke_integration
from tests.factories import NOW, TODAY
from tests.inventory.makers import make_integration_row, make_token

pytestmark = pytest.mark.django_db


def test_only_the_hash_of_a_token_is_kept():
    token = make_token()
    row = integration_of(token, today=TODAY)
    assert token not in str(Integration.objects.values())
    assert row.scopes == Scope.values
    assert integration_of(token[:-1], today=TODAY) is None


@pytest.mark.parametrize("closed", [True, False])
def test_it_stops_with_the_account_or_the_role_of_who_made_it(administrator, closed):
    """Common practice, no source: whoever leaves takes no way in along."""
    token, others = make_token(name="Own", actor=administrator), make_token(name="Other")
    assert integration_of(token, today=TODAY) is not None
    if closed:
        User.objects.filter(pk=administrator.pk).update(is_active=False)
    else:
        administrator.staff_roles.all().delete()
    assert integration_of(token, today=TODAY) is None
    assert integration_of(others, today=TODAY) is not None


def test_one_of_the_same_name_ends_the_one_before():
    first, other, second = make_token(name="Assets"), make_token(name="Finance"), make_token(name="assets")
    assert [integration_of(token, today=TODAY) is not None for token in (first, other, second)] == [False, True, True]


def test_revoked_twice_it_ended_at_the_first(administrator):
    token = make_token()
    row = integration_of(token, today=TODAY)
    for days in (1, 2):
        revoke_integration(integration=row, actor=administrator, at=NOW + timedelta(days=days))
    row.refresh_from_db()
    assert (row.revoked_at, integration_of(token, today=TODAY)) == (NOW + timedelta(days=1), None)
    assert Event.objects.filter(act="integration_revoked").count() == 1


@pytest.mark.parametrize("wrong", [{"expires_on": TODAY - timedelta(days=1)}, {"scopes": []}, {"scopes": ["students"]}])
def test_not_for_a_day_that_is_over_and_not_for_nothing(wrong):
    with pytest.raises(RefusedError):
        make_token(**wrong)
    assert not Integration.objects.exists()


def test_a_reading_is_logged_once_a_day():
    row = make_integration_row()
    for hours in (0, 1, 24):
        note_reading(integration=row, at=NOW + timedelta(hours=hours))
    assert Event.objects.filter(act="integration_read").count() == 2
    row.refresh_from_db()
    assert row.last_read_on == TODAY + timedelta(days=1)
