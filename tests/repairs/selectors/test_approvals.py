"""Whether a request is somebody's own, and whether anybody else is there to approve it."""

from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.models import Role
from repairs.selectors.approvals import has_other_approver, is_barred
from tests.catalogs import using, with_setting
from tests.factories import make_director, make_school, make_user

pytestmark = pytest.mark.django_db


def test_the_own_request_is_barred_unless_the_district_says_otherwise(school):
    director = make_director(school)
    assert is_barred(director, asker_id=director.pk)
    assert not is_barred(director, asker_id=director.pk + 1)
    with using(with_setting(catalog(), "approver_is_another", 0)):
        assert not is_barred(director, asker_id=director.pk)


def test_another_approver_is_a_director_here_or_an_administrator_who_still_logs_in(school):
    director = make_director(school)
    make_user(Role.TECH, school=school)
    make_user(Role.AUDITOR)
    make_director(make_school())
    gone = make_user(Role.ADMINISTRATOR)
    assert has_other_approver(director, school_id=school.pk)
    type(gone).objects.filter(pk=gone.pk).update(is_active=False)
    assert not has_other_approver(director, school_id=school.pk)
    make_director(school)
    assert has_other_approver(director, school_id=school.pk)
