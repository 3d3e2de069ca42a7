"""One roll of grades a school year, whatever goes around the service."""

from __future__ import annotations

import pytest
from django.db import IntegrityError

from loans.models import GradeRoll
from tests.factories import NOW, TODAY, make_director, make_school


@pytest.mark.django_db
def test_a_school_rolls_its_grades_once_a_year():
    school = make_school()
    said = {"school": school, "year": 2027, "rolled_at": NOW, "left_on": TODAY, "actor": make_director(school)}
    GradeRoll.objects.create(**said, undone_at=NOW)
    assert str(GradeRoll.objects.create(**said)) == "2026–27"
    with pytest.raises(IntegrityError):
        GradeRoll.objects.create(**said)
