"""Rows of care: once a day, and seen by those who may."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from repairs.models import CareDone
from tests.factories import NOW, TODAY, make_ready_instrument
from tests.repairs.care_makers import make_care


def test_the_database_keeps_one_row_a_day(school, tech):
    row = make_care(instrument=make_ready_instrument(school=school))
    fields = {"instrument": row.instrument, "code": row.code, "done_on": TODAY, "recorded_at": NOW, "actor": tech}
    with pytest.raises(IntegrityError), transaction.atomic():
        CareDone.objects.create(**fields)
    CareDone.objects.filter(pk=row.pk).update(withdrawn_at=NOW)
    CareDone.objects.create(**fields)


def test_care_is_seen_at_ones_own_schools(school, tech, stranger):
    row = make_care(instrument=make_ready_instrument(school=school))
    assert list(CareDone.objects.visible_to(tech)) == [row]
    assert list(CareDone.objects.visible_to(stranger)) == []


def test_care_the_catalog_has_lost_keeps_its_code_as_a_name():
    assert CareDone(code="wax_the_bell").name == "wax the bell"
