"""The invented district's people and places."""

from __future__ import annotations

import pytest

from core.models import User
from desk.demo.cast import PASSWORD
from inventory.models import District, Role, School, StaffRole
from loans.models import AgreementTerms, Guardian, Student
from repairs.models import Bench
from tests.desk.demo.stages import make_stage


@pytest.fixture
def stage(db):
    return make_stage(peopled=True)


def test_there_are_four_schools_with_rooms_and_three_benches(stage):
    assert School.objects.count() == 4
    assert all(school.rooms.exists() for school in School.objects.all())
    assert Bench.objects.count() == 3
    assert District.objects.get().name == "Tamarack Valley Schools"


def test_every_role_is_held_by_somebody_who_can_log_in(stage, client):
    assert set(StaffRole.objects.values_list("role", flat=True)) == set(Role.values)
    for name in ("director", "tech", "auditor", "administrator"):
        assert User.objects.get(username=name).check_password(PASSWORD)


def test_one_director_directs_at_two_schools(stage):
    assert stage.people["director"].staff_roles.count() == 2
    assert stage.director_of(stage.schools["MILL"]) == stage.people["director"]
    assert stage.director_of(stage.schools["TVHS"]) == stage.people["director-high"]


def test_benches_differ_in_what_they_may_do(stage):
    assert {bench.has_torch for bench in Bench.objects.all()} == {True, False}


def test_students_have_a_grade_a_guardian_and_a_number_that_rings_nowhere(stage):
    """555-01xx is set aside for fiction by the numbering plan of North America."""
    students = Student.objects.all()
    assert students.count() == sum(stage.some(count) for count in (95, 70, 24, 85))
    assert all(student.grade and student.number and student.guardian.name for student in students)
    guardians = Guardian.objects.all()
    assert all(guardian.phone.startswith("(555) 010-") for guardian in guardians)
    assert {guardian.language for guardian in guardians} == {"en", "es"}
    assert {guardian.place for guardian in guardians} == {1, 2}
    assert {bool(guardian.email) for guardian in guardians} == {True, False}


def test_terms_are_in_force(stage):
    assert AgreementTerms.objects.count() == 1
