from __future__ import annotations

import pytest
from django.http import Http404

from inventory.models import Role, StaffRole
from inventory.views.rows import instrument_for
from tests.factories import make_director, make_instrument

pytestmark = pytest.mark.django_db
CORRECT = "inventory.change_instrument"


@pytest.fixture
def asked_by(rf):
    def ask(user):
        request = rf.get("/")
        request.user = user
        return request

    return ask


def test_it_is_found_by_its_number_in_small_letters(asked_by, school, director):
    instrument = make_instrument(school=school)
    assert instrument_for(asked_by(director), instrument.asset_number.lower(), CORRECT) == instrument


def test_one_query_brings_school_and_room(asked_by, school, director, django_assert_num_queries):
    instrument = make_instrument(school=school)
    request = asked_by(director)
    director.has_perm(CORRECT)
    with django_assert_num_queries(1):
        assert instrument_for(request, instrument.asset_number, CORRECT).school == school


@pytest.mark.parametrize("number", ["TD-9999", "", "x" * 300, "'; --"])
def test_a_number_nobody_has_is_not_found(asked_by, director, number):
    with pytest.raises(Http404):
        instrument_for(asked_by(director), number, CORRECT)


def test_a_right_held_at_another_school_finds_nothing_here(asked_by, school):
    instrument = make_instrument(school=school)
    person = make_director()
    StaffRole.objects.create(user=person, role=Role.TECH, school=school)
    assert instrument_for(asked_by(person), instrument.asset_number, "inventory.view_instrument") == instrument
    with pytest.raises(Http404):
        instrument_for(asked_by(person), instrument.asset_number, CORRECT)
