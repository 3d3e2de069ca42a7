"""Who may approve: at the school, and not the own request where the district says so."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.models import Role
from repairs.exceptions import ApprovalNeededError
from repairs.services.approving import check_may_approve
from tests.catalogs import using, with_setting
from tests.factories import make_director, make_school, make_user

pytestmark = pytest.mark.django_db


def test_only_who_may_at_this_school_and_did_not_ask(school):
    director, administrator = make_director(school), make_user(Role.ADMINISTRATOR)
    for actor in (director, administrator):
        check_may_approve(actor=actor, asker_id=0, school_id=school.pk)
    barred = [
        (make_user(Role.TECH, school=school), 0), (make_director(make_school()), 0), (make_user(Role.AUDITOR), 0),
        (director, director.pk), (administrator, administrator.pk),
    ]  # fmt: skip
    for actor, asker_id in barred:
        with pytest.raises(ApprovalNeededError):
            check_may_approve(actor=actor, asker_id=asker_id, school_id=school.pk)
    with using(with_setting(catalog(), "approver_is_another", 0)):
        check_may_approve(actor=director, asker_id=director.pk, school_id=school.pk)
