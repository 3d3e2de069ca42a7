"""Whose rows somebody reaches: by role, by school, and by what they mean to do."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.contrib.auth.models import AnonymousUser

from core.access import known_permissions
from inventory.models import Instrument, Photo, PlayTest, Role, School, SchoolRowsQuerySet, StaffRole
from tests.factories import make_instrument, make_school, make_user

pytestmark = pytest.mark.django_db

KINDS = [model for model in apps.get_models() if isinstance(model._default_manager.all(), SchoolRowsQuerySet)]


def school_at_the_end(model, way):
    """The model that a lookup leads to, field by field."""
    for name in way.split("__"):
        model = model if name == "pk" else model._meta.get_field(name).related_model
    return model


def test_rows_of_both_upper_rooms_and_of_this_one_are_meant():
    assert {model._meta.app_label for model in KINDS} == {"inventory", "repairs", "loans"}
    assert {School, Instrument, Photo, PlayTest} <= set(KINDS)


@pytest.mark.parametrize("model", KINDS, ids=lambda model: model.__name__)
def test_every_kind_says_its_way_to_a_school_and_who_may_look(model):
    rows = model.objects.all()
    assert school_at_the_end(model, rows.way_to_school) is School
    assert rows.view_permission in known_permissions()


@pytest.mark.parametrize("model", KINDS, ids=lambda model: model.__name__)
def test_nobody_reaches_nothing(model):
    make_instrument()
    assert not model.objects.visible_to(AnonymousUser()).exists()
    assert not model.objects.visible_to(make_user()).exists()


def test_a_right_at_one_school_is_none_at_the_next():
    """Who directs one school and audits another may look at both lists and correct one."""
    ours, next_door = make_school(), make_school()
    user = make_user(Role.DIRECTOR, school=ours)
    StaffRole.objects.create(user=user, role=Role.AUDITOR, school=next_door)
    horns = {make_instrument(school=school) for school in (ours, next_door)}
    make_instrument()
    assert set(Instrument.objects.visible_to(user)) == horns
    may_correct = Instrument.objects.visible_to(user, "inventory.change_instrument")
    assert [horn.school for horn in may_correct] == [ours]


def test_a_role_without_a_school_holds_everywhere():
    horns = {make_instrument(), make_instrument()}
    assert set(Instrument.objects.visible_to(make_user(Role.AUDITOR))) == horns


def test_a_permission_that_nobody_knows_is_an_error():
    with pytest.raises(KeyError, match="sing"):
        Instrument.objects.visible_to(make_user(Role.TECH), "inventory.sing")
