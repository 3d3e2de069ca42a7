from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.models import Role, StaffRole
from inventory.pages.setup import catalog_lines, role_words, roles_of_people
from tests.factories import make_user


def test_the_origins_of_each_line_add_up_to_its_count():
    for _, count, origins in catalog_lines(catalog()):
        assert count == sum(number for _, number in origins)


@pytest.mark.django_db
def test_roles_are_told_in_words(school):
    person = make_user(Role.DIRECTOR, school=school)
    StaffRole.objects.create(user=person, role=Role.AUDITOR)
    assert roles_of_people([person]) == {person.pk: [f"Director at {school.name}", "District auditor, whole district"]}
    assert role_words(StaffRole.objects.get(role=Role.AUDITOR)) == "District auditor, whole district"
