"""Who the rows of a list name."""

from __future__ import annotations

import pytest

from desk.selectors.listed import people_in
from tests.factories import make_school, make_student
from tests.inventory.services.importing.makers import make_judged

pytestmark = pytest.mark.django_db
LIST = (
    b"Instrument,Last Name,First Name,Grade\n"
    b"Tpt,Alder,Ben,6\nFlute,ALDER,ben,6\nFlute,Alder,Ben,8\nTuba,Storage,,\nTuba,,,\n"
)


def test_each_person_is_there_once_with_all_that_they_have(school):
    batch = make_judged(school=school, data=LIST)
    people = people_in(batch, user=batch.actor).people
    assert [(one.name, one.grade, [out.row for out in one.out]) for one in people] == [
        ("Ben Alder", "6", [2, 3]),
        ("Ben Alder", "8", [4]),
    ]


def test_students_of_other_schools_and_those_who_left_are_nobody_to_choose(school):
    make_student(school=make_school(), name="Ben Alder")
    mine = make_student(school=school, name="Ben Alder", grade="6")
    batch = make_judged(school=school, data=LIST)
    first, second = people_in(batch, user=batch.actor).people
    assert (first.students, first.match.is_asked) == ([mine], False)
    assert second.match.exact == (mine.pk,)
