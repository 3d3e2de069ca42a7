from __future__ import annotations

import pytest

from inventory.catalog.load import catalog
from inventory.models import Instrument, Role, School, StaffRole, Whereabouts
from inventory.selectors.charts import chart_digest
from inventory.selectors.setup import (
    catalog_lines,
    role_words,
    roles_of_people,
    rooms_with_counts,
    schools_with_counts,
    unverified_kinds,
)
from inventory.services.charts import confirm_chart
from tests.factories import NOW, TODAY, make_instrument, make_room, make_school, make_user


def test_the_origins_of_each_line_add_up_to_its_count():
    for line in catalog_lines(catalog()):
        assert line.count == sum(number for _, number in line.origins)


def test_kinds_whose_fingerings_nobody_confirmed_are_named(director):
    assert "Trumpet" not in unverified_kinds()
    assert set(unverified_kinds()) <= {kind.name for kind in catalog().kinds.values()}
    assert {"Flute", "Piccolo"} <= set(unverified_kinds())
    confirm_chart(code="flute", digest=chart_digest("flute"), actor=director, on=TODAY, at=NOW)
    assert not {"Flute", "Piccolo"} & set(unverified_kinds())


@pytest.mark.django_db
def test_roles_are_told_in_words(school):
    person = make_user(Role.DIRECTOR, school=school)
    StaffRole.objects.create(user=person, role=Role.AUDITOR)
    assert roles_of_people([person]) == {person.pk: [f"Director at {school.name}", "District auditor, whole district"]}
    assert role_words(StaffRole.objects.get(role=Role.AUDITOR)) == "District auditor, whole district"


@pytest.mark.django_db
def test_schools_count_their_rooms_and_what_they_hold(school):
    room = make_room(school=school)
    make_room(school=school)
    for whereabouts in (Whereabouts.IN_STORE, Whereabouts.WITH_STUDENT, Whereabouts.GONE):
        horn = make_instrument(school=school, room=room)
        Instrument.objects.filter(pk=horn.pk).update(whereabouts=whereabouts)
    make_school(code="EMPTY")
    rows = {row.code: (row.room_count, row.instrument_count) for row in schools_with_counts()}
    assert rows == {school.code: (2, 2), "EMPTY": (0, 0)}
    assert School.objects.count() == 2
    assert {row.instrument_count for row in rooms_with_counts(school)} == {0, 2}
