from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.models import Instrument, Role, School, StaffRole, Whereabouts
from inventory.selectors.charts import chart_digest
from inventory.selectors.setup import roles_held, rooms_with_counts, schools_with_counts, unverified_kinds
from inventory.services.charts import confirm_chart
from tests.factories import NOW, TODAY, make_instrument, make_room, make_school, make_user


def test_kinds_whose_fingerings_nobody_confirmed_are_named(director):
    assert "Trumpet" not in unverified_kinds()
    assert set(unverified_kinds()) <= {kind.name for kind in catalog().kinds.values()}
    assert {"Flute", "Piccolo"} <= set(unverified_kinds())
    confirm_chart(code="flute", digest=chart_digest("flute"), actor=director, on=TODAY, at=NOW)
    assert not {"Flute", "Piccolo"} & set(unverified_kinds())


@pytest.mark.django_db
def test_schools_count_their_rooms_and_what_they_hold(school):
    room = make_room(school=school)
    make_room(school=school)
    for whereabouts in (Whereabouts.IN_STORE, Whereabouts.WITH_STUDENT, Whereabouts.GONE):
        instrument = make_instrument(school=school, room=room)
        Instrument.objects.filter(pk=instrument.pk).update(whereabouts=whereabouts)
    make_school(code="EMPTY")
    rows = {row.code: (row.room_count, row.instrument_count) for row in schools_with_counts()}
    assert rows == {school.code: (2, 2), "EMPTY": (0, 0)}
    assert School.objects.count() == 2
    assert {row.instrument_count for row in rooms_with_counts(school)} == {0, 2}


@pytest.mark.django_db
def test_roles_of_the_people_asked_for_are_read_with_their_schools(school, django_assert_num_queries):
    person, other = make_user(Role.DIRECTOR, school=school), make_user(Role.TECH, school=school)
    StaffRole.objects.create(user=person, role=Role.AUDITOR)
    with django_assert_num_queries(1):
        held = [(role.user_id, role.role, role.school and role.school.name) for role in roles_held([person])]
    assert held == [(person.pk, "director", school.name), (person.pk, "auditor", None)]
    assert {role.user_id for role in roles_held([person, other])} == {person.pk, other.pk}
