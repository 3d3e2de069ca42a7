"""What a migration carries over is there afterwards."""

from __future__ import annotations

import uuid

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from core.models import PostedForm
from tests.factories import NOW, make_inspection, make_instrument

BEFORE = ("inventory", "0003_call_the_cost_of_a_row_as_its_column_is_called")
AFTER = ("inventory", "0004_taps_are_posted_forms")


def at(*state):
    executor = MigrationExecutor(connection)
    executor.migrate(list(state))
    return executor.loader.project_state(list(state)).apps


@pytest.mark.django_db(transaction=True)
def test_taps_that_were_taken_stay_taken_when_they_become_posted_forms(request):
    newest = MigrationExecutor(connection).loader.graph.leaf_nodes()
    request.addfinalizer(lambda: MigrationExecutor(connection).migrate(newest))
    walk, key = make_inspection(instrument=make_instrument(), finish=False), uuid.uuid4()
    old = at(BEFORE)
    old.get_model("inventory", "Tap").objects.create(inspection_id=walk.pk, key=key, taken_at=NOW)
    at(*newest)
    form = PostedForm.objects.get(service="take_tap")
    assert (form.key, form.about) == (str(key), f"inspection=inventory.inspection:{walk.pk}")
    assert [str(row.key) for row in at(BEFORE).get_model("inventory", "Tap").objects.all()] == [str(key)]
