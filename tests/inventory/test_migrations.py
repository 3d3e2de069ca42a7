"""What a migration carries over is there afterwards."""

from __future__ import annotations

import uuid

import pytest

from core.models import PostedForm
from tests.factories import NOW, make_inspection, make_instrument
from tests.migrating import migrate_to, newest_afterward

BEFORE = ("inventory", "0003_call_the_cost_of_a_row_as_its_column_is_called")
AFTER = ("inventory", "0004_taps_are_posted_forms")


@pytest.mark.django_db(transaction=True)
def test_taps_that_were_taken_stay_taken_when_they_become_posted_forms(request):
    newest = newest_afterward(request)
    walk, key = make_inspection(instrument=make_instrument(), finish=False), uuid.uuid4()
    old = migrate_to(BEFORE)
    old.get_model("inventory", "Tap").objects.create(inspection_id=walk.pk, key=key, taken_at=NOW)
    migrate_to(*newest)
    form = PostedForm.objects.get(service="take_tap")
    assert (form.key, form.about) == (str(key), f"inspection=inventory.inspection:{walk.pk}")
    assert [str(row.key) for row in migrate_to(BEFORE).get_model("inventory", "Tap").objects.all()] == [str(key)]
