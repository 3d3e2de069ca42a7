"""Triggers that refuse: put up, taken down, and told when one is not there. The log's own are in test_log_guard."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from core.triggers import Guard, Refusal
from inventory.models import School
from tests.factories import make_school

pytestmark = pytest.mark.django_db

TABLE = "inventory_school"
GUARD = Guard(
    about="the school called Fir is",
    function="refuse_for_test",
    refusals={"fir_stays_fir": Refusal(TABLE, "UPDATE", "OLD.name = 'Fir' AND NEW.name <> OLD.name", "Fir stays Fir")},
    emptied={"schools_not_emptied": (TABLE, "schools stay")},
)


@pytest.fixture
def fir():
    return make_school(name="Fir")


def test_it_refuses_where_its_condition_holds_and_nowhere_else(fir):
    GUARD.put_up()
    with pytest.raises(IntegrityError, match="Fir stays Fir"), transaction.atomic():
        School.objects.filter(pk=fir.pk).update(name="Elm")
    School.objects.filter(pk=fir.pk).update(code="FI2")
    other = make_school(name="Oak")
    School.objects.filter(pk=other.pk).update(name="Elm")
    assert School.objects.get(pk=fir.pk).name == "Fir"


def test_down_lets_it_be_done_and_puts_it_up_again(fir):
    GUARD.put_up()
    with GUARD.down():
        School.objects.filter(pk=fir.pk).update(name="Elm")
    assert School.objects.get(pk=fir.pk).name == "Elm"
    assert list(GUARD.missing()) == []


def test_what_is_not_there_is_named():
    assert next(GUARD.missing()) == (
        "the school called Fir is not guarded: the database's trigger fir_stays_fir is missing, changed or switched off"
    )
    GUARD.put_up()
    assert list(GUARD.missing()) == []
    GUARD.take_down()
    assert list(GUARD.missing())
