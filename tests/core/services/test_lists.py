"""How somebody left a list. Common practice, no source."""

from __future__ import annotations

import pytest

from core.models import User
from core.services.lists import keep_list
from tests.factories import NOW, make_user

pytestmark = pytest.mark.django_db


def test_each_list_is_kept_for_itself_and_forgotten_for_itself():
    person, other = make_user(), make_user()
    keep_list(name="loans", kept={"asked": {"state": "overdue"}}, actor=person, at=NOW)
    keep_list(name="instruments", kept={"hidden": ["serial"]}, actor=User.objects.get(pk=person.pk), at=NOW)
    keep_list(name="loans", kept={}, actor=person, at=NOW)
    assert User.objects.get(pk=person.pk).lists == {"instruments": {"hidden": ["serial"]}}
    assert User.objects.get(pk=other.pk).lists == {}
